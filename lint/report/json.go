package report

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"unicode/utf16"
	"unicode/utf8"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// The JSON report; schema/report.schema.json says what everything means. Each rule and each verdict has a line of its
// own, which is cheaper than indenting and good to search and to compare.
type (
	// jsonReport goes on with rules and reviews.
	jsonReport struct {
		Report int      `json:"report"`
		Tool   jsonTool `json:"tool"`
		FailAt string   `json:"fail_at"`
		Status int      `json:"status"`
	}
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
	// jsonReview goes on with verdicts.
	jsonReview struct {
		File      string        `json:"file"`
		Reference string        `json:"reference,omitempty"`
		Title     string        `json:"title,omitempty"`
		Country   string        `json:"country,omitempty"`
		Stage     string        `json:"stage,omitempty"`
		JudgedOn  string        `json:"judged_on,omitempty"`
		Rulebooks []jsonBook    `json:"rulebooks"`
		Problems  []jsonProblem `json:"problems"`
		Counts    jsonCounts    `json:"counts"`
		Faults    []jsonFault   `json:"leave_faults"`
		Notices   []string      `json:"notices"`
		Cautions  []string      `json:"cautions"`
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
	jsonBook struct {
		Name    string `json:"name"`
		Edition string `json:"edition"`
	}
	jsonProblem struct {
		Line    int    `json:"line,omitempty"`
		Column  int    `json:"column,omitempty"`
		Pointer string `json:"pointer"`
		Message string `json:"message"`
	}
	jsonVerdict struct {
		Rule        string     `json:"rule"`
		Severity    string     `json:"severity"`
		Kind        string     `json:"kind"`
		Subject     string     `json:"subject"`
		Outcome     string     `json:"outcome"`
		Fails       bool       `json:"fails"`
		Measured    any        `json:"measured"`
		Unit        string     `json:"unit,omitempty"`
		Note        string     `json:"note,omitempty"`
		Steps       []string   `json:"steps,omitempty"`
		Lower       *float64   `json:"lower,omitempty"`
		Upper       *float64   `json:"upper,omitempty"`
		Margin      *float64   `json:"margin,omitempty"`
		Missing     []string   `json:"missing,omitempty"`
		Reason      string     `json:"reason,omitempty"`
		Conceded    *jsonLeave `json:"conceded,omitempty"`
		Known       *jsonKnown `json:"known,omitempty"`
		Place       jsonPlace  `json:"place"`
		Fingerprint string     `json:"fingerprint,omitempty"`
	}
	jsonLeave struct {
		Leave  string   `json:"leave"`
		Reason string   `json:"reason"`
		By     []string `json:"by"`
		Issued string   `json:"issued"`
		Until  string   `json:"until"`
	}
	jsonKnown struct {
		Measured string   `json:"measured"`
		Margin   *float64 `json:"margin,omitempty"`
	}
	jsonFault struct {
		Severity string    `json:"severity"`
		File     string    `json:"file"`
		Text     string    `json:"text"`
		Place    jsonPlace `json:"place"`
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
	out := newRows(w)
	out.raw("{")
	out.members(jsonReport{ReportVersion, jsonTool{"wetrule", o.Version}, o.FailAt.String(), o.Status(reviews)})
	rules := rulesOf(reviews)
	out.raw(",\n  \"rules\": ")
	out.list(len(rules), func(i int) any { return describe(rules[i]) })
	out.raw(",\n  \"reviews\": [")
	for i, r := range reviews {
		if i > 0 {
			out.raw(",")
		}
		out.raw("\n{")
		out.members(jsonReviewOf(r))
		out.raw(",\n  \"verdicts\": ")
		n := len(r.Verdicts)
		if r.Root == nil {
			n = 0
		}
		var j jsonVerdict
		out.list(n, func(i int) any {
			j = jsonVerdictOf(r, &r.Verdicts[i], o)
			return &j
		})
		out.raw("}")
	}
	out.raw("]}\n")
	return out.flush()
}

// rows writes JSON with a line a row of a list. The first error stays.
type rows struct {
	w   *bufio.Writer
	buf bytes.Buffer
	enc *json.Encoder
	err error
}

func newRows(w io.Writer) *rows {
	r := &rows{w: bufio.NewWriterSize(w, 1<<15)}
	r.enc = json.NewEncoder(&r.buf)
	r.enc.SetEscapeHTML(true)
	return r
}

func (r *rows) value(x any) []byte {
	r.buf.Reset()
	if err := r.enc.Encode(x); err != nil && r.err == nil {
		r.err = err
	}
	return bytes.TrimSuffix(r.buf.Bytes(), []byte{'\n'})
}

func (r *rows) raw(s string) { r.w.WriteString(s) } // a bufio.Writer keeps its first error for flush

// members writes the members of an object, indented, without its braces, so that more can follow.
func (r *rows) members(x any) {
	var b bytes.Buffer
	if err := json.Indent(&b, r.value(x), "", "  "); err != nil || b.Len() < 4 {
		r.err = cmp.Or(r.err, err, errors.New("an object without members"))
		return
	}
	escaper{r.w}.Write(b.Bytes()[1 : b.Len()-2])
}

func (r *rows) list(n int, row func(i int) any) {
	r.raw("[")
	for i := range n {
		if i > 0 {
			r.raw(",")
		}
		r.raw("\n")
		escaper{r.w}.Write(r.value(row(i)))
	}
	r.raw("]")
}

func (r *rows) flush() error {
	if err := r.w.Flush(); err != nil {
		return err
	}
	return r.err
}

// encode writes indented JSON in which nothing can drive a terminal, a browser or a viewer.
func encode(w io.Writer, x any) error {
	e := json.NewEncoder(escaper{w})
	e.SetEscapeHTML(true)
	e.SetIndent("", "  ")
	return e.Encode(x)
}

// escaper writes what clean takes for hostile as JSON escapes, so that readers of the JSON still get the exact
// text. The encoder hands it whole texts; outside texts JSON is plain ASCII.
type escaper struct{ w io.Writer }

func (e escaper) Write(p []byte) (int, error) {
	done := 0
	for i := 0; i < len(p); {
		if p[i] >= ' ' && p[i] < 0x7f || p[i] == '\n' {
			i++
			continue
		}
		r, size := utf8.DecodeRune(p[i:])
		if !hostile(r) {
			i += size
			continue
		}
		if _, err := e.w.Write(p[done:i]); err != nil {
			return done, err
		}
		s := fmt.Sprintf("\\u%04x", r)
		if hi, lo := utf16.EncodeRune(r); r > 0xffff {
			s = fmt.Sprintf("\\u%04x\\u%04x", hi, lo)
		}
		if _, err := io.WriteString(e.w, s); err != nil {
			return done, err
		}
		i += size
		done = i
	}
	if _, err := e.w.Write(p[done:]); err != nil {
		return done, err
	}
	return len(p), nil
}

// rulesOf lists the rules that say something in the reviews, in order of id.
func rulesOf(reviews []*verdict.Review) []*rulebook.Rule {
	seen := map[*rulebook.Rule]bool{}
	var out []*rulebook.Rule
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

func jsonReviewOf(r *verdict.Review) jsonReview {
	out := jsonReview{File: r.File, Reference: r.Reference, Title: r.Title, Country: r.Country, JudgedOn: r.On, Rulebooks: []jsonBook{}, Problems: []jsonProblem{},
		Counts: countsOf(r), Faults: []jsonFault{}, Notices: append([]string{}, r.Notices...), Cautions: Cautions(r)}
	for _, b := range r.Books {
		out.Rulebooks = append(out.Rulebooks, jsonBook{b.Name, b.Edition})
	}
	for _, p := range r.Problems {
		out.Problems = append(out.Problems, jsonProblem{p.Line, p.Col, p.Pointer, p.Message})
	}
	for _, f := range r.Faults {
		out.Faults = append(out.Faults, jsonFault{f.Severity.String(), f.File, f.Text, jsonPlace{f.Place.Pointer, f.Place.Line, f.Place.Col, f.Place.EndCol}})
	}
	if r.Root != nil {
		out.Stage = r.Stage.String()
	}
	return out
}

func jsonVerdictOf(r *verdict.Review, v *verdict.Verdict, o Options) jsonVerdict {
	p := v.Place(r.Root)
	j := jsonVerdict{Rule: v.Rule.ID, Severity: v.Rule.Severity.String(), Kind: v.Subject.Kind, Subject: v.Subject.ID, Outcome: v.Outcome.String(), Fails: o.Fails(v),
		Measured: exact(v.Rule.Def.Type, v.Value), Unit: v.Rule.Def.Unit, Note: v.Value.Note(), Steps: v.Value.Steps(), Lower: finite(v.Lo), Upper: finite(v.Hi), Reason: v.Reason,
		Place: jsonPlace{p.Pointer, p.Line, p.Col, p.EndCol}}
	if v.Finding() || v.Leave != nil || v.Known != nil {
		j.Fingerprint = v.Fingerprint(r.File)
	}
	if l := v.Leave; l != nil {
		j.Conceded = &jsonLeave{l.Leave, l.Reason, l.By, l.Issued, l.Until}
	}
	if k := v.Known; k != nil {
		j.Known = &jsonKnown{k.Measured, k.Margin}
	}
	if v.Outcome == verdict.Undetermined {
		j.Missing, _ = r.Missing(v)
	} else if v.HasMargin() { // an undetermined verdict lacks a limit or a condition, so its margin says nothing
		j.Margin = &v.Margin
	}
	return j
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
	return v.Text
}

func finite(v float64) *float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return nil
	}
	return &v
}
