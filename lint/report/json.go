package report

import (
	"errors"
	"io"
	"math"
	"math/bits"
	"slices"
	"strconv"
	"sync"
	"unicode/utf16"
	"unicode/utf8"

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
	places verdict.Places // of the review being written

	last     *rulebook.Rule
	lastText *ruleText
}

// ruleText is what the JSON report says of a rule, whatever the job.
type ruleText struct {
	row   []byte // in the list of rules
	head  []byte // how a verdict begins, up to the kind of the subject
	usual []byte // the same, on to the id of the usual subject
	unit  []byte // the unit of a verdict, with its name
}

// outcomeTexts are the members between the subject and the measured value, by outcome and by whether it fails.
var outcomeTexts = func() (texts [verdict.NotApplicable + 1][2]string) {
	for i, name := range verdict.Outcomes() {
		texts[i] = [2]string{`,"outcome":"` + name + `","fails":false,"measured":`, `,"outcome":"` + name + `","fails":true,"measured":`}
	}
	return texts
}()

var encoders = sync.Pool{New: func() any { return &jsonEncoder{rules: map[*rulebook.Rule]*ruleText{}} }}

// Limits of what an idle encoder keeps. Rules that are forgotten are written anew.
const (
	keepRules = 4096
	keepBytes = 1 << 20
	flushAt   = 1 << 16
)

func (e *jsonEncoder) free() {
	if cap(e.b) > keepBytes {
		e.b = nil
	}
	if len(e.rules) > keepRules {
		clear(e.rules)
	}
	e.places.Reset(nil)
	*e = jsonEncoder{b: e.b[:0], rules: e.rules, places: e.places}
	encoders.Put(e)
}

func (e *jsonEncoder) flush() {
	if e.w == nil || len(e.b) == 0 {
		return
	}
	if e.err == nil {
		_, e.err = e.w.Write(e.b)
	}
	e.b = e.b[:0]
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

// row begins a row of a list of rows.
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
		for i, rule := range rulesOf(reviews) {
			e.row(i == 0)
			e.b = append(e.b, e.rule(rule).row...)
		}
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
	e.places.Reset(r.Root)
	if r.Root != nil {
		for i := range r.Verdicts {
			e.row(i == 0)
			e.verdict(r, &r.Verdicts[i], o)
		}
	}
	e.raw("]}")
	e.depth--
}

// verdict writes a row. This is where the time goes, so names are written together with what stands around them.
func (e *jsonEncoder) verdict(r *verdict.Review, v *verdict.Verdict, o Options) {
	rule := e.rule(v.Rule)
	b := e.b
	if v.Subject.Kind == v.Rule.AppliesTo {
		b = append(b, rule.usual...)
	} else {
		b = append(appendText(append(b, rule.head...), v.Subject.Kind), `,"subject":`...)
	}
	b = appendText(b, v.Subject.ID)
	fails := 0
	if o.Fails(v) {
		fails = 1
	}
	b = append(b, outcomeTexts[v.Outcome][fails]...)
	b = appendValue(b, v.Rule.Def.Type, v.Value)
	b = append(b, rule.unit...)
	if note := v.Value.Note(); note != "" {
		b = appendText(append(b, `,"note":`...), note)
	}
	if steps := v.Value.Steps(); len(steps) > 0 {
		b = appendTexts(append(b, `,"steps":`...), steps)
	}
	if isFinite(v.Lo) {
		b = appendFloat(append(b, `,"lower":`...), v.Lo)
	}
	if isFinite(v.Hi) {
		b = appendFloat(append(b, `,"upper":`...), v.Hi)
	}
	if v.Outcome == verdict.Undetermined { // it lacks a limit or a condition, so its margin says nothing
		if missing, _ := r.Missing(v); len(missing) > 0 {
			b = appendTexts(append(b, `,"missing":`...), missing)
		}
	} else if v.HasMargin() {
		b = appendFloat(append(b, `,"margin":`...), v.Margin)
	}
	if v.Reason != "" {
		b = appendText(append(b, `,"reason":`...), v.Reason)
	}
	if l := v.Leave; l != nil {
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
		b = append(b, '}')
	}
	if k := v.Known; k != nil {
		b = appendText(append(b, `,"known":{"measured":`...), k.Measured)
		if k.Margin != nil {
			if !isFinite(*k.Margin) && e.err == nil {
				e.err = errors.New("the margin of a known finding is not a number")
			}
			b = appendFloat(append(b, `,"margin":`...), *k.Margin)
		}
		b = append(b, '}')
	}
	b = append(b, `,"place":{"pointer":"`...)
	start := len(b)
	b, node := e.places.Append(b, v)
	b = closeText(b, start)
	if node != nil {
		b = appendPositive(b, `,"line":`, int(node.Line))
		b = appendPositive(b, `,"column":`, int(node.Col))
		b = appendPositive(b, `,"end_column":`, int(node.EndCol))
	}
	b = append(b, '}')
	if v.Finding() || v.Leave != nil || v.Known != nil {
		b = appendText(append(b, `,"fingerprint":`...), v.Fingerprint(r.Name()))
	}
	e.b = append(b, '}')
}

// rule gives what is written of a rule. Rules do not change once jobs are judged by them.
func (e *jsonEncoder) rule(r *rulebook.Rule) *ruleText {
	if r == e.last {
		return e.lastText // verdicts come in order of rule
	}
	e.last, e.lastText = r, e.ruleText(r)
	return e.lastText
}

func (e *jsonEncoder) ruleText(r *rulebook.Rule) *ruleText {
	if t := e.rules[r]; t != nil {
		return t
	}
	j := describe(r)
	row := jsonEncoder{b: make([]byte, 0, 1024)}
	row.describe(&j)
	t := &ruleText{row: row.b}
	t.head = appendText([]byte(`{"rule":`), j.ID)
	t.head = appendText(append(t.head, `,"severity":`...), j.Severity)
	t.head = append(t.head, `,"kind":`...)
	t.usual = append(appendText(slices.Clone(t.head), j.Kind), `,"subject":`...)
	if j.Unit != "" {
		t.unit = appendText([]byte(`,"unit":`), j.Unit)
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
		var last *rulebook.Rule
		for i := range reviews[0].Verdicts {
			rule := reviews[0].Verdicts[i].Rule
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
	b = append(b, name...)
	switch {
	case n < 0 || n >= 1000:
		return strconv.AppendInt(b, int64(n), 10)
	case n < 10:
		return append(b, byte('0'+n))
	case n < 100:
		return append(b, byte('0'+n/10), byte('0'+n%10))
	}
	return append(b, byte('0'+n/100), byte('0'+n/10%10), byte('0'+n%10))
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

// safeText marks the ASCII characters that stand in a JSON text as they are. Those of HTML do not, since a report may be put
// into a page.
var safeText = func() (safe [256]bool) {
	for c := ' '; c < 0x7f; c++ {
		safe[c] = c != '"' && c != '\\' && c != '<' && c != '>' && c != '&'
	}
	return safe
}()

// unescaped gives how many characters at the start of a text stand as they are. Eight at a time: a byte of t is 0 where one of the text is the
// character, and taking 1 from it then sets its highest bit. Only bits above the first such byte may be wrong, so the lowest one that is set tells
// where it is.
func unescaped[T string | []byte](s T) int {
	const ones, highs = 0x0101010101010101, 0x8080808080808080
	i := 0
	for ; len(s)-i >= 8; i += 8 {
		p := s[i : i+8]
		x := uint64(p[0]) | uint64(p[1])<<8 | uint64(p[2])<<16 | uint64(p[3])<<24 | uint64(p[4])<<32 | uint64(p[5])<<40 | uint64(p[6])<<48 | uint64(p[7])<<56
		bad := x | (x - ones*' ') | (x + ones) // not ASCII, control characters, DEL
		bad |= (x ^ ones*'"') - ones
		bad |= (x ^ ones*'\\') - ones
		bad |= (x ^ ones*'&') - ones
		bad |= (x&^(ones*2) ^ ones*'<') - ones // < and > differ in one bit
		if bad &= highs; bad != 0 {
			return i + bits.TrailingZeros64(bad)/8
		}
	}
	for i < len(s) && safeText[s[i]] {
		i++
	}
	return i
}

// harmless gives the length of a character of two or three bytes at the start of a text that is surely not hostile, or 0: those that
// units, formulas and most languages are written with.
func harmless(s string) int {
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
func appendText(b []byte, s string) []byte {
	b = append(b, '"')
	done := 0
	for i := unescaped(s); i < len(s); {
		c := s[i]
		if safeText[c] {
			i++
			continue
		}
		if n := harmless(s[i:]); n > 0 {
			i += n
			continue
		}
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
		r, size := utf8.DecodeRuneInString(s[i:])
		if !hostile(r) {
			i += size
			continue
		}
		b = append(b, s[done:i]...)
		if hi, lo := utf16.EncodeRune(r); r > 0xffff {
			b = appendEscape(appendEscape(b, hi), lo)
		} else {
			b = appendEscape(b, r)
		}
		i += size
		done = i
	}
	b = append(b, s[done:]...)
	return append(b, '"')
}

// closeText ends a JSON text of which the quotation mark and the text as it is stand at the end of b already, the text from start on.
func closeText(b []byte, start int) []byte {
	if unescaped(b[start:]) == len(b)-start {
		return append(b, '"')
	}
	s := string(b[start:])
	return appendText(b[:start-1], s)
}

func appendEscape(b []byte, r rune) []byte {
	return append(b, '\\', 'u', hexDigits[r>>12&15], hexDigits[r>>8&15], hexDigits[r>>4&15], hexDigits[r&15])
}
