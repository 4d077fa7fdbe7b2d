package report

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"wetrule/lint/draw"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// The page is one file that needs nothing else: its style sheet and its script stand in it, and a policy in its head lets a browser
// run these two and nothing besides. Text of a job goes through html/template alone; the only ready-made markup is
// that of our own drawings.
var (
	//go:embed page.html.tmpl
	pageText string
	//go:embed page.css
	pageCSS string
	//go:embed page.js
	pageJS string
)

// pageTemplate is parsed when the first page is written; most runs write none.
var pageTemplate = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("page").Parse(pageText))
})

// pageStyle is the style sheet with that of the drawings, which are dark on a dark screen and never on paper.
var pageStyle = sync.OnceValue(func() string {
	return draw.CSS(false) + "@media screen and (prefers-color-scheme:dark){\n" + draw.CSS(true) + "}\n" + pageCSS
})

// hashOf names an inline style sheet or script in a Content-Security-Policy.
//
// Source: W3C Content Security Policy Level 3, 2.3.1 (from memory).
func hashOf(text string) string {
	h := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(h[:]) + "'"
}

type (
	htmlHead struct {
		Policy        string
		Style, Script template.HTML
		Title         string
		Version       string
		Many          bool
		Nothing       string
		Result        string
		State         string
		FailAt        string
		Jobs          []htmlJobHead
		Severities    []htmlCount
		Outcomes      []htmlOutcome
		Subjects      []string
	}
	// htmlJobHead is a job in the contents of the page.
	htmlJobHead struct {
		ID, Name, File, State, Result string
		Entries                       int
		Judged, Drawn                 bool
		Sheets                        []htmlLink
	}
	htmlLink  struct{ ID, Text string }
	htmlPair  struct{ Word, Text, More string }
	htmlCount struct {
		N    int
		Name string
	}
	htmlOutcome struct {
		N                int
		Key, Words, Sign string
	}
	htmlJob struct {
		htmlJobHead
		Reference, Title string
		Facts            []htmlPair
		Findings         string
		Severities       []htmlCount
		Outcomes         []htmlOutcome
		Notices          []string
		Cautions         []string
		Problems         []string
		Faults           []htmlFault
		Groups           []htmlEntry
		Conceded         []string
		Known            string
		Drawings         []htmlSheet
		Subjects         []htmlSubject
	}
	htmlFault struct{ Severity, Place, Text string }
	// htmlEntry is a group of findings that somebody deals with in one go.
	htmlEntry struct {
		ID, Severity, Outcome, Words, Title string
		Number                              int
		Subjects                            []string // subjects of rules
		Items                               string
		RuleIDs                             []string
		Figures                             []htmlPair // measured, allowed, margin
		Gauge                               *htmlGauge
		Do                                  string
		Rest                                []htmlPair
		Working                             []string
		Rules                               []htmlRuleName
		Place                               string
		Marks                               []htmlLink // places on the drawings
		Loose                               *htmlLink  // the sheet that lists it without a place
	}
	htmlRuleName struct{ ID, Title, Severity string }
	// htmlGauge is a scale with what is allowed and what was measured, in units of its own.
	htmlGauge struct {
		From, Width, Value float64 // the band of what is allowed, and the mark of what was measured
		Limits             []float64
		Outside            bool
	}
	htmlSheet struct {
		ID, Title, Fit string
		Number, Of     int
		Drawing        template.HTML
		Width, Height  string
		Hits           []htmlHit
		Holes          []htmlHole
		Found          []htmlFound
		Placed         bool
		Notes          []string
	}
	// htmlHit is a place on a drawing that leads to its finding.
	htmlHit struct {
		ID, To, Label string
		X, Y, W, H    string
	}
	htmlHole  struct{ Mark, What, X, Y, D, Depth, Tool string }
	htmlFound struct {
		Number                  int
		To, Severity, Text, Key string
	}
	// htmlSubject is one subject of rules in the compliance matrix.
	htmlSubject struct {
		ID, Name string
		Open     bool
		Tally    []htmlOutcome
		Rules    []htmlRule
		Idle     []htmlIdle
	}
	htmlRule struct {
		ID, Title, Severity, Measure, Source, LimitBy string
		Changes                                       []string
		Idle                                          int
		Rows                                          []htmlRow
	}
	// htmlRow is what a rule says of items in the same words.
	htmlRow struct {
		htmlSaid
		Items []string
	}
	htmlSaid struct {
		Measured, Note, Allowed, Margin, Words, Sign, Key, Remark string
		To                                                        string // the finding
		Number                                                    int
	}
	// htmlIdle is a rule that speaks of nothing in the job.
	htmlIdle struct {
		ID, Title string
		N         int
	}
)

// signs stand beside the words of the outcomes, so that neither colour nor place alone tells them.
var signs = [...]string{"✓", "✕", "?", "–", "!", "·"}

// labels are the words for the outcomes.
var labels = [...]string{"conforms", "nonconforming", "undetermined", "not in force", "not judged", "not applicable"}

// counted words a number of verdicts.
func counted(o verdict.Outcome, n int) htmlOutcome {
	x := htmlOutcome{n, o.String(), labels[o], signs[o]}
	if o == verdict.Conforms && n != 1 {
		x.Words = "conform"
	}
	return x
}

func writeHTML(out io.Writer, reviews []*verdict.Review, o Options) error {
	b := bufio.NewWriterSize(out, 1<<16)
	w := htmlWriter{b}
	if err := pageTemplate().ExecuteTemplate(w, "head", headOf(reviews, o)); err != nil {
		return err
	}
	for i, r := range reviews {
		job, err := jobOf(r, i, o)
		if err != nil {
			return err
		}
		if err := pageTemplate().ExecuteTemplate(w, "job", job); err != nil {
			return err
		}
	}
	if err := pageTemplate().ExecuteTemplate(w, "foot", headOf(nil, o)); err != nil {
		return err
	}
	return b.Flush()
}

// htmlWriter shows what clean takes for hostile as code points, wherever it comes from. A template writes whole texts.
type htmlWriter struct{ w *bufio.Writer }

func (h htmlWriter) Write(p []byte) (int, error) {
	done := 0
	for i := 0; i < len(p); {
		if p[i] >= ' ' && p[i] < 0x7f || p[i] == '\n' {
			i++
			continue
		}
		r, size := utf8.DecodeRune(p[i:])
		if hostile(r) {
			h.w.Write(p[done:i]) // a bufio.Writer keeps its first error
			h.w.WriteString(clean(string(r)))
			done = i + size
		}
		i += size
	}
	if _, err := h.w.Write(p[done:]); err != nil {
		return done, err
	}
	return len(p), nil
}

func headOf(reviews []*verdict.Review, o Options) htmlHead {
	h := htmlHead{
		Policy:  "default-src 'none'; style-src " + hashOf(pageStyle()) + "; script-src " + hashOf(pageJS) + "; base-uri 'none'; form-action 'none'",
		Style:   template.HTML("<style>" + pageStyle() + "</style>"),
		Script:  template.HTML("<script>" + pageJS + "</script>"),
		Version: o.Version, Many: len(reviews) != 1, FailAt: o.FailAt.String(),
	}
	var severities [4]int
	var outcomes [verdict.NotApplicable]int
	for i, r := range reviews {
		h.Jobs = append(h.Jobs, jobHead(r, i, o))
		for j := range r.Verdicts {
			v := &r.Verdicts[j]
			severities[rulebook.Critical-v.Rule.Severity]++
			outcomes[v.Outcome]++
			if !slices.Contains(h.Subjects, v.Rule.Subject) {
				h.Subjects = append(h.Subjects, v.Rule.Subject)
			}
		}
	}
	if len(reviews) == 1 && h.Jobs[0].Drawn {
		for _, s := range draw.New(reviews[0].Job, reviews[0].Set).Sheets(nil, nil) {
			h.Jobs[0].Sheets = append(h.Jobs[0].Sheets, htmlLink{h.Jobs[0].ID + "-d-" + s.ID, short(s.Title)})
		}
	}
	slices.Sort(h.Subjects)
	for i, n := range severities {
		h.Severities = append(h.Severities, htmlCount{n, rulebook.Severities()[i]})
	}
	for i, n := range outcomes {
		if n > 0 {
			h.Outcomes = append(h.Outcomes, htmlOutcome{n, verdict.Outcome(i).String(), labels[i], signs[i]})
		}
	}
	switch len(reviews) {
	case 0:
		h.Nothing = sentence(strings.TrimPrefix(o.none(), "error: "))
		h.Title = "Review of no job"
	case 1:
		h.Title = "Review of " + h.Jobs[0].Name
	default:
		h.Title = "Review of " + count(len(reviews), "job", "jobs")
	}
	h.Result, h.State = o.why(reviews), state(o.Status(reviews))
	return h
}

// state is the word for an exit status.
func state(status int) string { return [...]string{"passes", "fails", "unjudged"}[status] }

// unlessBlank gives a text, or another when there is nothing in it to see: a heading needs words.
func unlessBlank(text, other string) string {
	if strings.TrimSpace(text) == "" {
		return other
	}
	return text
}

func jobHead(r *verdict.Review, i int, o Options) htmlJobHead {
	one := []*verdict.Review{r}
	h := htmlJobHead{ID: "j" + strconv.Itoa(i+1), Name: unlessBlank(name(r), ""), File: unlessBlank(r.File, "job "+strconv.Itoa(i+1)), State: state(o.Status(one)), Result: o.why(one), Judged: len(r.Problems) == 0}
	if h.Name == "" {
		h.Name = h.File
	}
	if !h.Judged {
		h.Result = "not judged: the job file is at fault in " + count(len(r.Problems), "place", "places")
		return h
	}
	h.Entries = len(r.Groups())
	h.Drawn = r.Job != nil
	return h
}

func jobOf(r *verdict.Review, i int, o Options) (*htmlJob, error) {
	j := &htmlJob{htmlJobHead: jobHead(r, i, o), Reference: unlessBlank(r.Reference, ""), Title: unlessBlank(r.Title, "")}
	fact := func(word, text string) {
		if text != "" {
			j.Facts = append(j.Facts, htmlPair{word, text, ""})
		}
	}
	fact("File", r.File)
	if !j.Judged {
		for _, p := range r.Problems {
			j.Problems = append(j.Problems, problemLine(r, p))
		}
		return j, nil
	}
	books := make([]string, len(r.Books))
	for i, b := range r.Books {
		books[i] = b.Name + " " + b.Edition
	}
	fact("Stage", measure.Words(r.Stage.String()))
	fact("Judged for", r.On)
	fact("Country", r.Country)
	fact("Rulebooks", strings.Join(books, ", "))
	findings, groups := r.Findings(), r.Groups()
	j.Findings = severities(tally(findings), len(groups))
	for i, n := range tally(findings) {
		j.Severities = append(j.Severities, htmlCount{n, rulebook.Severities()[i]})
	}
	for i, n := range r.Counts {
		j.Outcomes = append(j.Outcomes, counted(verdict.Outcome(i), n))
	}
	j.Notices, j.Cautions = r.Notices, Cautions(r)
	for _, f := range r.Faults {
		j.Faults = append(j.Faults, htmlFault{f.Severity.String(), strings.TrimSuffix(at(f.File, f.Place.Line, f.Place.Col), ": "), line(f.Text)})
	}
	number := map[*verdict.Verdict]int{}
	for i, g := range groups {
		j.Groups = append(j.Groups, entryOf(r, g, j.ID, i+1))
		for _, v := range g.Findings {
			number[v] = i + 1
		}
	}
	known := 0
	for i := range r.Verdicts {
		if v := &r.Verdicts[i]; v.Leave() != nil {
			j.Conceded = append(j.Conceded, fmt.Sprintf("%s of %s, %s: %s", v.Rule.ID, v.Subject.ID, v.Rule.Def.Format(*v.Value), leaveText(v)))
		} else if v.Known() != nil {
			known++
		}
	}
	if known > 0 {
		j.Known = count(known, "finding", "findings") + " of the snapshot, no worse than before"
	}
	if err := j.draw(r, groups); err != nil {
		return nil, err
	}
	j.Subjects = matrix(r, j.ID, number)
	return j, nil
}

// entryOf makes the entry of a group, with the words of the text report.
func entryOf(r *verdict.Review, g *verdict.Group, job string, n int) htmlEntry {
	v := g.Findings[0]
	rules := g.Rules()
	e := htmlEntry{ID: fmt.Sprintf("%s-f%d", job, n), Number: n, Severity: v.Rule.Severity.String(), Outcome: v.Outcome.String(), Words: labels[v.Outcome], Title: line(v.Rule.Title), Items: inWords(g.Subjects()),
		Place: strings.TrimSuffix(at(r.File, g.Place.Line, g.Place.Col), ": ")}
	for _, rule := range rules {
		e.RuleIDs = append(e.RuleIDs, rule.ID)
		if !slices.Contains(e.Subjects, rule.Subject) {
			e.Subjects = append(e.Subjects, rule.Subject)
		}
	}
	if len(rules) > 1 {
		lack, _ := missing(r, v)
		e.Title = fmt.Sprintf("Not shown %s %s", pick(g.Absent, "without", "from"), line(lack))
		e.Figures = []htmlPair{{pick(g.Absent, "missing", "look at"), lack, ""}}
		e.Do = "Say in the job what is missing."
		for _, rule := range rules {
			e.Rules = append(e.Rules, htmlRuleName{rule.ID, line(rule.Title), rule.Severity.String()})
		}
		return e
	}
	working := false
	for _, d := range details(r, v) {
		switch d.word {
		case "measured":
			e.Figures = append(e.Figures, htmlPair{d.word, v.Rule.Def.Format(*v.Value), strings.Join(slices.DeleteFunc([]string{v.Rule.Def.Meaning, v.Value.Note()}, func(s string) bool { return s == "" }), "; ")})
		case "missing", "look at", "allowed", "margin", "because":
			e.Figures = append(e.Figures, htmlPair{d.word, d.text, ""})
			working = false
		case "worked":
			working = true
			e.Working = append(e.Working, d.text)
		case "":
			if working {
				e.Working = append(e.Working, d.text)
			}
		case "do":
			e.Do = d.text
		default:
			e.Rest = append(e.Rest, htmlPair{d.word, d.text, ""})
		}
	}
	e.Gauge = gaugeOf(v)
	return e
}

// gaugeWidth is the length of the scale of a gauge in its own units.
const gaugeWidth = 200.0

// gaugeOf sets the measured value beside what is allowed, or is nil where there is no number on both sides.
func gaugeOf(v *verdict.Verdict) *htmlGauge {
	if v.Rule.Def == nil || v.Rule.Def.Type != measure.Number || v.Value.State != measure.Known || !v.HasMargin() || v.Outcome == verdict.Undetermined {
		return nil
	}
	lower, upper := v.Limits()
	lo, hi := finite(lower), finite(upper)
	from, to := v.Value.Num, v.Value.Num
	var limits []float64
	for _, l := range []*float64{lo, hi} {
		if l != nil {
			limits = append(limits, *l)
			from, to = min(from, *l), max(to, *l)
		}
	}
	if len(limits) == 0 || math.IsInf(from, 0) || math.IsInf(to, 0) || math.IsNaN(from) {
		return nil
	}
	span := to - from
	if !(span > 0) {
		span = max(math.Abs(to), 1)
	}
	from, to = from-0.2*span, to+0.2*span
	if !(to > from) || math.IsInf(to-from, 0) {
		return nil
	}
	tenths := func(x float64) float64 { return math.Round(x*10) / 10 }
	place := func(x float64) float64 { return tenths((x - from) / (to - from) * gaugeWidth) }
	g := &htmlGauge{Value: place(v.Value.Num), Width: gaugeWidth, Outside: v.Outcome == verdict.Nonconforming}
	if lo != nil {
		g.From = place(*lo)
		g.Width = tenths(gaugeWidth - g.From)
	}
	if hi != nil {
		g.Width = tenths(place(*hi) - g.From)
	}
	g.Width = max(g.Width, 0)
	for _, l := range limits {
		g.Limits = append(g.Limits, place(l))
	}
	return g
}

// draw adds the drawings, and leads from findings to their places and back.
func (j *htmlJob) draw(r *verdict.Review, groups []*verdict.Group) error {
	if r.Job == nil {
		return nil
	}
	sheets := draw.New(r.Job, r.Set).Sheets(groups, nil)
	for i := range sheets {
		// What the page writes itself, as text that can be read aloud and fits a phone, is left out of the drawing.
		s := sheets[i]
		plain := s
		plain.ID = fmt.Sprintf("%s-s%d", j.ID, i+1)
		plain.Holes, plain.Marks, plain.Notes = nil, nil, nil
		style := draw.Style{Inline: true}
		var b bytes.Buffer
		if err := draw.SVG(&b, &plain, style); err != nil {
			return err
		}
		_, box := draw.Furnish(&plain, style)
		x := htmlSheet{ID: j.ID + "-d-" + s.ID, Title: s.Title, Number: i + 1, Of: len(sheets), Drawing: template.HTML(b.String()), Notes: s.Notes,
			Width: units1(box.MaxX - box.MinX), Height: units1(box.MaxY - box.MinY)}
		for k := range s.Holes {
			h := &s.Holes[k]
			t := h.Texts()
			x.Holes = append(x.Holes, htmlHole{h.Mark, h.What, t[0], t[1], t[2], t[3], t[4]})
		}
		places := map[int]int{}
		for _, m := range s.Marks {
			if m.Number < 1 || m.Number > len(j.Groups) {
				continue
			}
			e := &j.Groups[m.Number-1]
			places[m.Number]++
			if places[m.Number] == 1 {
				x.Found = append(x.Found, htmlFound{m.Number, e.ID, m.Severity, e.Title, e.Items})
				x.Placed = x.Placed || m.Placed
			}
			if !m.Placed {
				e.Loose = &htmlLink{x.ID, short(x.Title)}
				continue
			}
			id := fmt.Sprintf("%s-m%d", j.ID, m.Number)
			if n := places[m.Number]; n > 1 {
				id += "_" + strconv.Itoa(n)
			}
			id += "-" + s.ID
			const half = 40 // mm at 1:10: a little more than the mark, for fingers
			k := half * s.Scale / 10
			x.Hits = append(x.Hits, htmlHit{ID: id, To: e.ID, Label: fmt.Sprintf("Finding %d, %s: %s", m.Number, m.Severity, e.Title),
				X: units1(m.X - k - box.MinX), Y: units1(box.MaxY - m.Y - k), W: units1(2 * k), H: units1(2 * k)})
			if places[m.Number] == 1 {
				e.Marks = append(e.Marks, htmlLink{id, short(x.Title)})
			}
		}
		x.Fit = fit(len(x.Holes), len(x.Found), len(x.Notes))
		j.Drawings = append(j.Drawings, x)
	}
	return nil
}

// short is the title of a sheet without how it is seen.
func short(title string) string {
	s, _, _ := strings.Cut(title, ", seen ")
	return s
}

// units1 writes a length of a drawing to 0.1 mm.
func units1(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

// fit names how high a drawing may be on paper, so that it stays on one page of A4 with its lists: rows of the schedule and of the findings, notes.
func fit(rows, found, notes int) string {
	left := 215.0
	if rows > 0 {
		left -= 14 + 5*float64(rows)
	}
	if found > 0 {
		left -= 10 + 9*float64(found)
	}
	left -= 10 * float64(notes)
	for _, h := range [...]int{200, 180, 160, 140, 120, 100} {
		if left >= float64(h) {
			return "fit-" + strconv.Itoa(h)
		}
	}
	return "fit-80"
}

// matrix sets every rule beside every item that it speaks of; items of which it says the same share a line.
func matrix(r *verdict.Review, job string, number map[*verdict.Verdict]int) []htmlSubject {
	byRule := map[*rulebook.Rule][]*verdict.Verdict{}
	rules := slices.Clone(r.Rules)
	for i := range r.Verdicts {
		v := &r.Verdicts[i]
		if byRule[v.Rule] == nil && !slices.Contains(rules, v.Rule) {
			rules = append(rules, v.Rule)
		}
		byRule[v.Rule] = append(byRule[v.Rule], v)
	}
	sortRules(rules)
	var names []string
	for _, rule := range rules {
		if !slices.Contains(names, rule.Subject) {
			names = append(names, rule.Subject)
		}
	}
	slices.Sort(names)
	var out []htmlSubject
	for _, name := range names {
		s := htmlSubject{ID: job + "-c-" + name, Name: name}
		var counts [verdict.NotApplicable + 1]int
		for _, rule := range rules {
			if rule.Subject != name {
				continue
			}
			verdicts := byRule[rule]
			idle := notApplicable(r, rule, len(verdicts))
			counts[verdict.NotApplicable] += idle
			if len(verdicts) == 0 {
				s.Idle = append(s.Idle, htmlIdle{rule.ID, line(rule.Title), idle})
				continue
			}
			x := htmlRule{ID: rule.ID, Title: line(rule.Title), Severity: rule.Severity.String(), Measure: rule.Def.Meaning, Source: rule.Source.String(), LimitBy: rule.LimitBy(), Idle: idle}
			for _, c := range rule.Changes {
				x.Changes = append(x.Changes, c.String())
			}
			for _, v := range verdicts {
				counts[v.Outcome]++
				row := htmlSaid{Measured: rule.Def.Format(*v.Value), Note: v.Value.Note(), Allowed: allowed(r, v), Words: labels[v.Outcome], Sign: signs[v.Outcome], Key: v.Outcome.String()}
				switch {
				case v.Leave() != nil:
					row.Remark = "conceded, " + leaveText(v)
				case v.Known() != nil:
					row.Remark = "known from the snapshot"
				case v.Outcome == verdict.NotJudged:
					row.Remark = v.Reason()
				}
				if v.Outcome == verdict.Undetermined {
					row.Remark, _ = missing(r, v)
				} else {
					row.Margin = margin(v)
				}
				if n := number[v]; n > 0 {
					row.Number, row.To = n, fmt.Sprintf("%s-f%d", job, n)
				}
				if k := slices.IndexFunc(x.Rows, func(r htmlRow) bool { return r.htmlSaid == row }); k >= 0 {
					x.Rows[k].Items = append(x.Rows[k].Items, v.Subject.ID)
				} else {
					x.Rows = append(x.Rows, htmlRow{row, []string{v.Subject.ID}})
				}
			}
			s.Rules = append(s.Rules, x)
		}
		for i, n := range counts {
			if n > 0 {
				s.Tally = append(s.Tally, counted(verdict.Outcome(i), n))
			}
		}
		s.Open = counts[verdict.Nonconforming]+counts[verdict.Undetermined]+counts[verdict.NotJudged] > 0
		out = append(out, s)
	}
	return out
}

// notApplicable counts the things that a rule is for and does not speak of; a rule for which the job has nothing counts once, as in the counts of a review.
func notApplicable(r *verdict.Review, rule *rulebook.Rule, spoken int) int {
	if r.Set == nil {
		return 0
	}
	t := r.Set.Table(rule.AppliesTo)
	if t == nil {
		return 1
	}
	return len(t.Subjects) - spoken
}
