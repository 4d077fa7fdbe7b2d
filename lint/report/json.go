package report

import (
	"errors"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode/utf16"
	"unicode/utf8"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// The JSON report; schema/report.schema.json says what everything means. Each rule and each verdict has a line of its
// own, which is cheaper than indenting and good to search and to compare.
//
// A report has a verdict for every rule and item, so it is written without reflection into one buffer, and what a rule says
// is written once and kept. The tests hold every byte against encoding/json.

type (
	jsonTool struct {
		Name    string `json:"name"`
		Version string `json:"version"`
	}
	jsonRule struct {
		ID       string       `json:"id"`
		Title    string       `json:"title"`
		Subject  string       `json:"subject"`
		Severity string       `json:"severity"`
		From     string       `json:"from"`
		Kind     string       `json:"applies_to"`
		Measure  string       `json:"measure"`
		Unit     string       `json:"unit,omitempty"`
		Allowed  string       `json:"allowed"`
		Why      string       `json:"why"`
		Remedy   string       `json:"remedy"`
		Source   jsonSource   `json:"source"`
		Rulebook string       `json:"rulebook"`
		LimitBy  string       `json:"limit_by"`
		Changes  []jsonChange `json:"changes,omitempty"`
	}
	jsonChange struct {
		Change string `json:"change"`
		By     string `json:"by"`
		Before string `json:"before"`
		Reason string `json:"reason"`
		Looser bool   `json:"looser"`
	}
	jsonSource struct {
		ID      string `json:"id"`
		Kind    string `json:"kind"`
		Title   string `json:"title"`
		Edition string `json:"edition,omitempty"`
		Clause  string `json:"clause,omitempty"`
		Basis   string `json:"basis"`
		Note    string `json:"note,omitempty"`
	}
	// jsonCounts has the members of verdict.Outcomes in their order.
	jsonCounts struct {
		Conforms      int `json:"conforms"`
		Nonconforming int `json:"nonconforming"`
		Undetermined  int `json:"undetermined"`
		NotInForce    int `json:"not_in_force"`
		NotJudged     int `json:"not_judged"`
		NotApplicable int `json:"not_applicable"`
	}
	jsonProblem struct {
		Line    int    `json:"line,omitempty"`
		Column  int    `json:"column,omitempty"`
		Pointer string `json:"pointer"`
		Message string `json:"message"`
	}
	jsonPlace struct {
		Pointer   string `json:"pointer"`
		Line      int    `json:"line,omitempty"`
		Column    int    `json:"column,omitempty"`
		EndColumn int    `json:"end_column,omitempty"`
	}
)

// ReportVersion is the version of the JSON report; a new one breaks readers of the old.
const ReportVersion = 1

func writeJSON(w io.Writer, reviews []*verdict.Review, o Options) error {
	e := encoders.Get().(*jsonEncoder)
	defer e.free()
	e.w, e.indent = w, true
	e.document(reviews, o, true)
	e.raw("\n")
	e.flush()
	return e.err
}

// Line adds the JSON report of one review to a buffer as a single line, with its line break. It is the document of the format
// json without the breaks and spaces between its parts. Without rules its list of rules is empty: they are the same for
// many jobs.
func Line(to []byte, r *verdict.Review, o Options, rules bool) ([]byte, error) {
	e := encoders.Get().(*jsonEncoder)
	defer e.free()
	own := e.b
	e.b = to
	e.document([]*verdict.Review{r}, o, rules)
	e.raw("\n")
	to, e.b = e.b, own
	return to, e.err
}

// jsonEncoder writes a report. It is used again and again for the sake of its buffer and of what it has written of rules.
type jsonEncoder struct {
	b      []byte
	w      io.Writer // nil when all of it stays in the buffer
	err    error     // the first one
	indent bool
	depth  int
	first  bool // nothing stands in the current object or list yet
	rules  map[*rulebook.Rule]*ruleText
	listed []*ruleText // of the rules in the list
	upTo   int         // how many of them the verdicts of the review have come to

	rows       []byte // the list of rules as it stands in the report
	rowsIndent bool   // each in a line of its own

	// Of the review being written:
	places   *verdict.Places
	subjects []subjectText // by kind
	from     []int         // by number of the kind: its first subject, -1 for a kind that no rule has asked for
	spelled  []byte        // the texts of the subjects
	placed   []span        // where places that several verdicts have stand in the buffer, by their number
	note     written       // the last one
	steps    []written     // of the last value that has some
}

// span is a part of the buffer; none when it is empty.
type span struct{ from, to int }

// written is a text that stands in the buffer as JSON.
type written struct {
	text string
	span
}

// ruleText is what the JSON report says of a rule, whatever the job.
type ruleText struct {
	rule   *rulebook.Rule
	number bool     // the measure is a number
	row    []byte   // in the list of rules
	head   []byte   // how a verdict begins, up to the kind of the subject
	usual  []byte   // the same, on to the id of the usual subject
	unit   []byte   // the unit of a verdict, with its name
	tails  [][]byte // by path: the end of a place of which the subject's text has the beginning, on to the line

	// The unit and the limits of the verdict before, on to the margin. Most rules have the same limits for all subjects.
	lo, hi float64
	limits []byte

	usualLo, usualHi float64 // the limits of the rule
}

// subjectText is what the JSON report says of a subject, whatever the rule.
type subjectText struct {
	usual    bool   // it is of the kind that the rules of its kind are for
	id       int    // how much of conforms is the id
	conforms []byte // the id, and on to the value of a verdict that conforms
	place    []byte // the place, on to the end of the subject's pointer
}

const (
	placeAt  = `,"place":{"pointer":`
	lineAt   = `,"line":`
	marginAt = `,"margin":`
)

// outcomeTexts are the members between the subject and the measured value, by outcome and by whether it fails.
var outcomeTexts = func() (texts [verdict.NotApplicable + 1][2]string) {
	for i, name := range verdict.Outcomes() {
		texts[i] = [2]string{`,"outcome":"` + name + `","fails":false,"measured":`, `,"outcome":"` + name + `","fails":true,"measured":`}
	}
	return texts
}()

var encoders = sync.Pool{New: func() any { return &jsonEncoder{rules: map[*rulebook.Rule]*ruleText{}, places: &verdict.Places{}} }}

// Limits of what an idle encoder keeps. Rules that are forgotten are written anew.
const (
	keepRules    = 4096
	keepSubjects = 1 << 14
	keepBytes    = 1 << 20
	flushAt      = 1 << 16
)

func (e *jsonEncoder) free() {
	if cap(e.b) > keepBytes {
		e.b = nil
	}
	if len(e.rules) > keepRules || cap(e.rows) > keepBytes {
		clear(e.rules)
		clear(e.listed)
		e.listed, e.rows = e.listed[:0], nil
	}
	if cap(e.subjects) > keepSubjects || cap(e.spelled) > keepBytes {
		e.subjects, e.spelled = nil, nil
	}
	e.places.Reset(nil)
	e.forget()
	*e = jsonEncoder{b: e.b[:0], rules: e.rules, listed: e.listed, rows: e.rows, rowsIndent: e.rowsIndent, places: e.places, subjects: e.subjects[:0], from: e.from[:0], spelled: e.spelled[:0], placed: e.placed[:0], steps: e.steps}
	encoders.Put(e)
}

func (e *jsonEncoder) flush() {
	if e.w == nil || len(e.b) == 0 {
		return
	}
	e.write(e.b)
	e.b = e.b[:0]
	e.forget()
}

func (e *jsonEncoder) write(b []byte) {
	if e.err == nil {
		_, e.err = e.w.Write(b)
	}
}

// forget forgets what has stood in the buffer.
func (e *jsonEncoder) forget() {
	clear(e.placed)
	clear(e.steps)
	e.note = written{}
}

func (e *jsonEncoder) raw(s string) { e.b = append(e.b, s...) }

// next begins a member or an item: a comma behind the one before, and a line of its own.
func (e *jsonEncoder) next() {
	if !e.first {
		e.b = append(e.b, ',')
	}
	e.first = false
	e.newLine()
}

func (e *jsonEncoder) newLine() {
	if e.indent {
		e.b = append(e.b, '\n')
		for range e.depth {
			e.b = append(e.b, ' ', ' ')
		}
	}
}

func (e *jsonEncoder) name(name string) {
	e.next()
	e.b = append(e.b, '"')
	e.b = append(e.b, name...)
	e.b = append(e.b, '"', ':')
	if e.indent {
		e.b = append(e.b, ' ')
	}
}

func (e *jsonEncoder) text(name, s string) {
	e.name(name)
	e.b = appendText(e.b, s)
}

// some writes a text unless it is empty.
func (e *jsonEncoder) some(name, s string) {
	if s != "" {
		e.text(name, s)
	}
}

func (e *jsonEncoder) number(name string, n int) {
	e.name(name)
	e.b = strconv.AppendInt(e.b, int64(n), 10)
}

// positive writes a number unless it is 0.
func (e *jsonEncoder) positive(name string, n int) {
	if n != 0 {
		e.number(name, n)
	}
}

func (e *jsonEncoder) flag(name string, v bool) {
	e.name(name)
	e.b = strconv.AppendBool(e.b, v)
}

func (e *jsonEncoder) open(bracket byte) {
	e.b = append(e.b, bracket)
	e.depth++
	e.first = true
}

func (e *jsonEncoder) close(bracket byte) {
	e.depth--
	if !e.first {
		e.newLine()
	}
	e.first = false
	e.b = append(e.b, bracket)
}

func (e *jsonEncoder) texts(name string, list []string) {
	e.name(name)
	e.open('[')
	for _, s := range list {
		e.next()
		e.b = appendText(e.b, s)
	}
	e.close(']')
}

// row begins a review in the list of them.
func (e *jsonEncoder) row(first bool) {
	if !first {
		e.b = append(e.b, ',')
	}
	if e.indent {
		e.b = append(e.b, '\n')
	}
	if e.w != nil && len(e.b) >= flushAt {
		e.flush()
	}
}

func (e *jsonEncoder) document(reviews []*verdict.Review, o Options, withRules bool) {
	e.open('{')
	e.number("report", ReportVersion)
	e.name("tool")
	e.open('{')
	e.text("name", "wetrule")
	e.text("version", o.Version)
	e.close('}')
	e.text("fail_at", o.FailAt.String())
	e.number("status", o.Status(reviews))
	e.name("rules")
	e.raw("[")
	if withRules {
		e.list(reviews)
	}
	e.raw("]")
	e.name("reviews")
	e.raw("[")
	for i, r := range reviews {
		e.row(i == 0)
		e.depth--
		e.review(r, o)
		e.depth++
		if e.err != nil {
			return
		}
	}
	e.raw("]}")
}

// list writes the list of rules. They are mostly those of the report before, so all of the list is kept.
func (e *jsonEncoder) list(reviews []*verdict.Review) {
	if e.rowsIndent != e.indent || len(reviews) != 1 || !e.lists(reviews[0].Verdicts) {
		e.rows, e.listed, e.rowsIndent = e.rows[:0], e.listed[:0], e.indent
		for i, rule := range rulesOf(reviews) {
			if i > 0 {
				e.rows = append(e.rows, ',')
			}
			if e.indent {
				e.rows = append(e.rows, '\n')
			}
			t := e.rule(rule)
			e.listed = append(e.listed, t)
			e.rows = append(e.rows, t.row...)
		}
	}
	if e.w == nil || len(e.b)+len(e.rows) < flushAt {
		e.b = append(e.b, e.rows...)
		return
	}
	e.flush()
	e.write(e.rows)
}

// lists says whether the list that is kept is that of the verdicts of a review.
func (e *jsonEncoder) lists(verdicts []verdict.Verdict) bool {
	n := 0
	var last *rulebook.Rule
	for i := range verdicts {
		rule := verdicts[i].Rule
		if rule == last {
			continue
		}
		if n == len(e.listed) || e.listed[n].rule != rule {
			return false
		}
		last = rule
		n++
	}
	return n == len(e.listed)
}

func (e *jsonEncoder) review(r *verdict.Review, o Options) {
	e.open('{')
	e.text("file", r.File)
	e.positive("line", r.Line)
	e.some("reference", r.Reference)
	e.some("title", r.Title)
	e.some("country", r.Country)
	if r.Root != nil {
		e.some("stage", r.Stage.String())
	}
	e.some("judged_on", r.On)
	e.name("rulebooks")
	e.open('[')
	for _, b := range r.Books {
		e.next()
		e.open('{')
		e.text("name", b.Name)
		e.text("edition", b.Edition)
		e.close('}')
	}
	e.close(']')
	e.name("problems")
	e.open('[')
	for _, p := range r.Problems {
		e.next()
		e.open('{')
		e.positive("line", p.Line)
		e.positive("column", p.Col)
		e.text("pointer", p.Pointer)
		e.text("message", p.Message)
		e.close('}')
	}
	e.close(']')
	e.name("counts")
	e.open('{')
	for i, n := range r.Counts {
		e.number(verdict.Outcome(i).String(), n)
	}
	e.close('}')
	e.name("leave_faults")
	e.open('[')
	for _, f := range r.Faults {
		e.next()
		e.open('{')
		e.text("severity", f.Severity.String())
		e.text("file", f.File)
		e.text("text", f.Text)
		e.name("place")
		e.open('{')
		e.text("pointer", f.Place.Pointer)
		e.positive("line", f.Place.Line)
		e.positive("column", f.Place.Col)
		e.positive("end_column", f.Place.EndCol)
		e.close('}')
		e.close('}')
	}
	e.close(']')
	e.texts("notices", r.Notices)
	e.texts("cautions", Cautions(r))
	e.name("verdicts")
	e.raw("[")
	if r.Root != nil {
		e.verdicts(r, o)
	}
	e.raw("]}")
	e.depth--
}

// verdicts writes a row a verdict. This is where the time goes, so names are written together with what stands around them, and what rules and
// subjects have in common for all their verdicts is put into text once.
func (e *jsonEncoder) verdicts(r *verdict.Review, o Options) {
	e.places.Reset(r.Root)
	e.subjects, e.from, e.spelled, e.placed, e.upTo = e.subjects[:0], e.from[:0], e.spelled[:0], e.placed[:0], 0
	var (
		rule     *rulebook.Rule
		t        *ruleText
		subjects []measure.Subject // of the rule's kind, in the order of its verdicts
		spelled  []subjectText
		at       int // in subjects
		odd      subjectText
	)
	b, verdicts := e.b, r.Verdicts
	for i := range verdicts {
		v := &verdicts[i]
		if i > 0 {
			b = append(b, ',')
		}
		if e.indent {
			b = append(b, '\n')
		}
		if e.w != nil && len(b) >= flushAt {
			e.b = b
			e.flush()
			b = e.b
		}
		if v.Rule != rule { // verdicts come in order of rule
			rule, t, at = v.Rule, e.rule(v.Rule), 0
			subjects, spelled = e.subjectsOf(r, rule)
		}
		for at < len(subjects) && &subjects[at] != v.Subject {
			at++
		}
		s := &odd
		if at < len(subjects) {
			s = &spelled[at]
			at++
		} else {
			odd = subjectText{}
		}
		if s.conforms == nil {
			e.spell(s, v.Subject)
			s.usual = v.Subject.Kind == rule.AppliesTo
		}
		if s.usual {
			b = append(b, t.usual...)
		} else {
			b = append(appendText(append(b, t.head...), v.Subject.Kind), `,"subject":`...)
		}
		if v.Outcome == verdict.Conforms {
			b = append(b, s.conforms...)
		} else {
			fails := 0
			if o.Fails(v) {
				fails = 1
			}
			b = append(append(b, s.conforms[:s.id]...), outcomeTexts[v.Outcome][fails]...)
		}
		if t.number && v.Value.State == measure.Known {
			b = appendFloat(b, v.Value.Num)
		} else {
			b = appendValue(b, rule.Def.Type, *v.Value)
		}
		lo, hi := t.usualLo, t.usualHi
		if !v.Usual() {
			lo, hi = v.Limits()
		}
		margin := v.MarginWithin(lo, hi)
		if !sameDigits(lo, t.lo) || !sameDigits(hi, t.hi) {
			t.limit(lo, hi)
		}
		limits := t.limits
		hasMargin := isFinite(margin) && v.Outcome != verdict.Undetermined // that lacks a limit or a condition, so its margin says nothing
		if !hasMargin {
			limits = limits[:len(limits)-len(marginAt)]
		}
		if v.Value.Plain() {
			b = append(b, limits...)
		} else {
			b = append(b, t.unit...)
			if note := v.Value.Note(); note != "" {
				b = e.note.append(append(b, `,"note":`...), note)
			}
			if steps := v.Value.Steps(); len(steps) > 0 {
				b = e.appendSteps(append(b, `,"steps":`...), steps)
			}
			b = append(b, limits[len(t.unit):]...)
		}
		if hasMargin {
			b = appendFloat(b, margin)
		} else if v.Outcome == verdict.Undetermined {
			if missing, _ := r.Missing(v); len(missing) > 0 {
				b = appendTexts(append(b, `,"missing":`...), missing)
			}
		}
		if reason := v.Reason(); reason != "" {
			b = appendText(append(b, `,"reason":`...), reason)
		}
		if l := v.Leave(); l != nil {
			b = appendLeave(b, l)
		}
		if k := v.Known(); k != nil {
			b = appendText(append(b, `,"known":{"measured":`...), k.Measured)
			if k.Margin != nil {
				if !isFinite(*k.Margin) && e.err == nil {
					e.err = errors.New("the margin of a known finding is not a number")
				}
				b = appendFloat(append(b, marginAt...), *k.Margin)
			}
			b = append(b, '}')
		}
		switch spot := e.places.Find(v); {
		case spot.Shared >= 0 && spot.Shared < len(e.placed) && e.placed[spot.Shared].to > 0:
			b = append(b, b[e.placed[spot.Shared].from:e.placed[spot.Shared].to]...)
		case spot.Path >= 0 && spot.Node.Line > 0:
			b = appendColumns(measure.AppendWhole(append(append(b, s.place...), t.tails[spot.Path]...), int64(spot.Node.Line)), spot.Node)
		default:
			start := len(b)
			if spot.Path >= 0 {
				spot.Pointer = append([]byte(v.Subject.Pointer), rule.Paths()[spot.Path].Tail...)
			}
			b = appendText(append(b, placeAt...), spot.Pointer)
			if spot.Node != nil {
				b = appendPositive(b, lineAt, int(spot.Node.Line))
			}
			b = appendColumns(b, spot.Node)
			if n := spot.Shared; n >= 0 {
				for len(e.placed) <= n {
					e.placed = append(e.placed, span{})
				}
				e.placed[n] = span{start, len(b)}
			}
		}
		if v.Outcome != verdict.Conforms && v.Finding() || v.Leave() != nil || v.Known() != nil {
			b = append(v.AppendFingerprint(append(b, `,"fingerprint":"`...), r.Name()), '"')
		}
		b = append(b, '}')
	}
	e.b = b
}

// append writes a text. What several subjects have in common is often said of each, so one that is as the last is copied as it was written.
func (w *written) append(b []byte, text string) []byte {
	if text == w.text && w.to > 0 {
		return append(b, b[w.from:w.to]...)
	}
	start := len(b)
	b = appendText(b, text)
	*w = written{text, span{start, len(b)}}
	return b
}

// appendSteps writes the steps of a value. Many of them are the same for the subject before.
func (e *jsonEncoder) appendSteps(b []byte, steps []string) []byte {
	for len(e.steps) < len(steps) {
		e.steps = append(e.steps, written{})
	}
	b = append(b, '[')
	for i, s := range steps {
		if i > 0 {
			b = append(b, ',')
		}
		b = e.steps[i].append(b, s)
	}
	return append(b, ']')
}

// appendColumns ends the place of a verdict behind its line.
func appendColumns(b []byte, node *jobfile.Node) []byte {
	if node != nil {
		b = appendPositive(b, `,"column":`, int(node.Col))
		b = appendPositive(b, `,"end_column":`, int(node.EndCol))
	}
	return append(b, '}')
}

func appendLeave(b []byte, l *jobfile.Leave) []byte {
	b = appendText(append(b, `,"conceded":{"leave":`...), l.Leave)
	b = appendText(append(b, `,"reason":`...), l.Reason)
	b = append(b, `,"by":`...)
	if l.By == nil {
		b = append(b, "null"...)
	} else {
		b = appendTexts(b, l.By)
	}
	b = appendText(append(b, `,"issued":`...), l.Issued)
	b = appendText(append(b, `,"until":`...), l.Until)
	return append(b, '}')
}

// sameDigits says whether two numbers are written alike.
func sameDigits(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) }

// limit writes the unit and the limits of a verdict.
func (t *ruleText) limit(lo, hi float64) {
	t.lo, t.hi, t.limits = lo, hi, append(t.limits[:0], t.unit...)
	if isFinite(lo) {
		t.limits = appendFloat(append(t.limits, `,"lower":`...), lo)
	}
	if isFinite(hi) {
		t.limits = appendFloat(append(t.limits, `,"upper":`...), hi)
	}
	t.limits = append(t.limits, marginAt...)
}

// subjectsOf gives the subjects of a rule's kind with room for their texts, which are written when a verdict comes to them.
func (e *jsonEncoder) subjectsOf(r *verdict.Review, rule *rulebook.Rule) ([]measure.Subject, []subjectText) {
	if r.Set == nil || rule.Kind == nil {
		return nil, nil
	}
	table, k := r.Set.Of(rule.Kind), rule.Kind.Number()
	if table == nil {
		return nil, nil
	}
	for len(e.from) <= k {
		e.from = append(e.from, -1)
	}
	n := len(table.Subjects)
	if e.from[k] < 0 {
		e.from[k] = len(e.subjects)
		e.subjects = slices.Grow(e.subjects, n)[:len(e.subjects)+n]
		clear(e.subjects[e.from[k]:])
	}
	return table.Subjects, e.subjects[e.from[k]:][:n]
}

func (e *jsonEncoder) spell(t *subjectText, s *measure.Subject) {
	start := len(e.spelled)
	e.spelled = appendText(e.spelled, s.ID)
	t.id = len(e.spelled) - start
	e.spelled = append(e.spelled, outcomeTexts[verdict.Conforms][0]...)
	middle := len(e.spelled)
	e.spelled = append(e.spelled, placeAt...)
	e.spelled = appendText(e.spelled, s.Pointer)
	t.conforms, t.place = e.spelled[start:middle], e.spelled[middle:len(e.spelled)-1]
}

// rule gives what is written of a rule. Rules do not change once jobs are judged by them.
func (e *jsonEncoder) rule(r *rulebook.Rule) *ruleText {
	if e.upTo < len(e.listed) && e.listed[e.upTo].rule == r {
		e.upTo++
		return e.listed[e.upTo-1]
	}
	if t := e.rules[r]; t != nil {
		return t
	}
	j := describe(r)
	row := jsonEncoder{b: make([]byte, 0, 1024)}
	row.describe(&j)
	t := &ruleText{rule: r, number: r.Def.Type == measure.Number, row: row.b}
	t.head = appendText([]byte(`{"rule":`), j.ID)
	t.head = appendText(append(t.head, `,"severity":`...), j.Severity)
	t.head = append(t.head, `,"kind":`...)
	t.usual = append(appendText(slices.Clone(t.head), j.Kind), `,"subject":`...)
	if j.Unit != "" {
		t.unit = appendText([]byte(`,"unit":`), j.Unit)
	}
	t.usualLo, t.usualHi = r.Limits()
	t.limit(t.usualLo, t.usualHi)
	for _, path := range r.Paths() {
		tail := appendText(nil, path.Tail)
		t.tails = append(t.tails, append(tail[1:], lineAt...))
	}
	e.rules[r] = t
	return t
}

func (e *jsonEncoder) describe(r *jsonRule) {
	e.open('{')
	e.text("id", r.ID)
	e.text("title", r.Title)
	e.text("subject", r.Subject)
	e.text("severity", r.Severity)
	e.text("from", r.From)
	e.text("applies_to", r.Kind)
	e.text("measure", r.Measure)
	e.some("unit", r.Unit)
	e.text("allowed", r.Allowed)
	e.text("why", r.Why)
	e.text("remedy", r.Remedy)
	e.name("source")
	e.open('{')
	e.text("id", r.Source.ID)
	e.text("kind", r.Source.Kind)
	e.text("title", r.Source.Title)
	e.some("edition", r.Source.Edition)
	e.some("clause", r.Source.Clause)
	e.text("basis", r.Source.Basis)
	e.some("note", r.Source.Note)
	e.close('}')
	e.text("rulebook", r.Rulebook)
	e.text("limit_by", r.LimitBy)
	if len(r.Changes) > 0 {
		e.name("changes")
		e.open('[')
		for _, c := range r.Changes {
			e.next()
			e.open('{')
			e.text("change", c.Change)
			e.text("by", c.By)
			e.text("before", c.Before)
			e.text("reason", c.Reason)
			e.flag("looser", c.Looser)
			e.close('}')
		}
		e.close(']')
	}
	e.close('}')
}

func describe(r *rulebook.Rule) jsonRule {
	c := r.Source
	var changes []jsonChange
	for _, x := range r.Changes {
		changes = append(changes, jsonChange{x.What, x.Rulebook, x.Before, x.Reason, x.Looser})
	}
	return jsonRule{ID: r.ID, Title: r.Title, Subject: r.Subject, Severity: r.Severity.String(), From: r.From.String(), Kind: r.AppliesTo, Measure: r.Measure, Unit: r.Def.Unit,
		Allowed: r.AllowedText(), Why: r.Why, Remedy: r.Remedy, Rulebook: r.Rulebook, LimitBy: r.LimitBy(), Changes: changes,
		Source: jsonSource{ID: c.ID, Kind: c.Source.Kind, Title: c.Source.Title, Edition: c.Source.Edition, Clause: c.Clause, Basis: c.Basis, Note: c.Note}}
}

// rulesOf lists the rules that say something in the reviews, in order of id.
func rulesOf(reviews []*verdict.Review) []*rulebook.Rule {
	var out []*rulebook.Rule
	if len(reviews) == 1 {
		// The verdicts of one review come in order of rule.
		sorted := true
		out = make([]*rulebook.Rule, 0, len(reviews[0].Rules))
		var last *rulebook.Rule
		verdicts := reviews[0].Verdicts
		for i := range verdicts {
			rule := verdicts[i].Rule
			if rule == last {
				continue
			}
			if sorted = last == nil || last.ID < rule.ID; !sorted {
				break
			}
			last = rule
			out = append(out, rule)
		}
		if sorted {
			return out
		}
		out = nil
	}
	seen := map[*rulebook.Rule]bool{}
	for _, r := range reviews {
		for i := range r.Verdicts {
			if rule := r.Verdicts[i].Rule; !seen[rule] {
				seen[rule] = true
				out = append(out, rule)
			}
		}
	}
	sortRules(out)
	return out
}

func countsOf(r *verdict.Review) jsonCounts {
	c := r.Counts
	return jsonCounts{c[verdict.Conforms], c[verdict.Nonconforming], c[verdict.Undetermined], c[verdict.NotInForce], c[verdict.NotJudged], c[verdict.NotApplicable]}
}

// exact gives a value as JSON shows it; null when it is not known.
func exact(t measure.Type, v measure.Value) any {
	if v.State != measure.Known {
		return nil
	}
	switch t {
	case measure.Number:
		return finite(v.Num)
	case measure.Flag:
		return v.Flag
	case measure.Texts:
		return append([]string{}, v.Texts()...)
	}
	return v.Text()
}

// appendValue writes what exact gives.
func appendValue(b []byte, t measure.Type, v measure.Value) []byte {
	switch {
	case v.State != measure.Known || t == measure.Number && !isFinite(v.Num):
		return append(b, "null"...)
	case t == measure.Number:
		return appendFloat(b, v.Num)
	case t == measure.Flag:
		return strconv.AppendBool(b, v.Flag)
	case t == measure.Texts:
		return appendTexts(b, v.Texts())
	}
	return appendText(b, v.Text())
}

func isFinite(v float64) bool { return v-v == 0 }

func finite(v float64) *float64 {
	if !isFinite(v) {
		return nil
	}
	return &v
}

func appendTexts(b []byte, list []string) []byte {
	b = append(b, '[')
	for i, s := range list {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendText(b, s)
	}
	return append(b, ']')
}

func appendPositive(b []byte, name string, n int) []byte {
	if n == 0 {
		return b
	}
	return measure.AppendWhole(append(b, name...), int64(n))
}

// appendFloat writes a number with the fewest digits that tell it apart, as encoding/json does.
func appendFloat(b []byte, v float64) []byte {
	if b, ok := measure.AppendThousandths(b, v); ok && v != 0 { // zero may be negative
		return b
	}
	return appendAnyFloat(b, v)
}

func appendAnyFloat(b []byte, v float64) []byte {
	if !isFinite(v) {
		return append(b, "null"...)
	}
	format := byte('f')
	if abs := math.Abs(v); abs != 0 && (abs < 1e-6 || abs >= 1e21) {
		format = 'e'
	}
	b = strconv.AppendFloat(b, v, format, -1, 64)
	if n := len(b); format == 'e' && n >= 4 && b[n-4] == 'e' && (b[n-3] == '-' || b[n-3] == '+') && b[n-2] == '0' {
		b[n-2] = b[n-1] // 1e-09 is written 1e-9
		b = b[:n-1]
	}
	return b
}

// special marks the bytes that do not stand in a JSON text as they are, or may not: all but the ASCII characters that have no meaning in JSON or HTML,
// since a report may be put into a page.
var special = func() (marks [256]uint8) {
	for c := range marks {
		if c < ' ' || c >= 0x7f || strings.IndexByte(`"\<>&`, byte(c)) >= 0 {
			marks[c] = 1
		}
	}
	return marks
}()

// unescaped gives how many characters at the start of a text surely stand as they are.
func unescaped[T string | []byte](s T) int {
	i := 0
	for ; i < len(s)-7; i += 8 {
		p := s[i : i+8]
		if special[p[0]]|special[p[1]]|special[p[2]]|special[p[3]]|special[p[4]]|special[p[5]]|special[p[6]]|special[p[7]] != 0 {
			break
		}
	}
	for i < len(s) && special[s[i]] == 0 {
		i++
	}
	return i
}

// harmless gives the length of a character of two or three bytes at the start of a text that is surely not hostile, or 0: those that
// units, formulas and most languages are written with.
func harmless[T string | []byte](s T) int {
	if len(s) >= 3 && s[1]&0xc0 == 0x80 {
		switch c := s[0]; {
		case c >= 0xc3 && c < 0xd8, c == 0xc2 && s[1] >= 0xa0 && s[1] != 0xad: // U+00A0 to U+05FF without the soft hyphen
			return 2
		case c == 0xe2 && s[2]&0xc0 == 0x80 && (s[1] >= 0x82 || s[1] == 0x81 && s[2] >= 0xb0 || s[1] == 0x80 && s[2] >= 0x90 && s[2] < 0xa8):
			return 3 // U+2070 to U+2FFF; dashes, quotation marks and dots
		}
	}
	return 0
}

const hexDigits = "0123456789abcdef"

// appendText writes a JSON text in which nothing can drive a terminal, a browser or a viewer; readers of the JSON get the exact
// text. Bytes that are not UTF-8 become U+FFFD.
func appendText[T string | []byte](b []byte, s T) []byte {
	b = append(b, '"')
	if n := unescaped(s); n < len(s) {
		return appendEscaped(b, s, n)
	}
	b = append(b, s...)
	return append(b, '"')
}

// appendEscaped ends a JSON text of which the first characters stand as they are.
func appendEscaped[T string | []byte](b []byte, s T, i int) []byte {
	done := 0
	for ; i < len(s); i += unescaped(s[i:]) {
		if n := harmless(s[i:]); n > 0 {
			i += n
			continue
		}
		c := s[i]
		if c < utf8.RuneSelf {
			b = append(b, s[done:i]...)
			switch c {
			case '"', '\\':
				b = append(b, '\\', c)
			case '\b':
				b = append(b, '\\', 'b')
			case '\f':
				b = append(b, '\\', 'f')
			case '\n':
				b = append(b, '\\', 'n')
			case '\r':
				b = append(b, '\\', 'r')
			case '\t':
				b = append(b, '\\', 't')
			default:
				b = appendEscape(b, rune(c))
			}
			i++
			done = i
			continue
		}
		r, size := utf8.DecodeRuneInString(string(s[i:min(i+utf8.UTFMax, len(s))]))
		if hostile(r) {
			b = append(b, s[done:i]...)
			if hi, lo := utf16.EncodeRune(r); r > 0xffff {
				b = appendEscape(appendEscape(b, hi), lo)
			} else {
				b = appendEscape(b, r)
			}
			done = i + size
		}
		i += size
	}
	b = append(b, s[done:]...)
	return append(b, '"')
}

func appendEscape(b []byte, r rune) []byte {
	return append(b, '\\', 'u', hexDigits[r>>12&15], hexDigits[r>>8&15], hexDigits[r>>4&15], hexDigits[r&15])
}
