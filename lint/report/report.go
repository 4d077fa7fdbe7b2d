// Package report writes reviews: as text and as a page with drawings for people, JSON, SARIF and JUnit XML.
//
// Text of a job is data in every format: it is escaped and never becomes a
// control sequence, markup or a command. Output depends on the reviews alone.
package report

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// Options say how reviews are written.
type Options struct {
	Version string            // of wetrule
	FailAt  rulebook.Severity // from which severity a finding fails
	// Tolerate keeps undetermined verdicts from failing a review.
	Tolerate bool
	// Suppressed adds conceded findings to SARIF, marked as suppressed, for readers that know suppressions.
	Suppressed bool
	// FindingsOnly leaves verdicts that nobody must deal with out of the JSON of formats json and lines. The counts stay.
	FindingsOnly bool
	Quiet        bool // text: one line a finding and nothing else
	Colour       bool // text: colours for a terminal
	// Empty says why there may be no job at all. Without it, nothing to review is no pass.
	Empty string
}

// format is one way to write reviews.
type format struct {
	name  string
	about string
	write func(io.Writer, []*verdict.Review, Options) error
}

var formats = []format{
	{"text", "for people", writeText},
	{"json", "every verdict with its margin (report.schema.json)", writeJSON},
	{Lines, "a JSON report a line, without the list of rules", writeLines},
	{"sarif", "SARIF 2.1.0 for code scanning and editors", writeSARIF},
	{"junit", "JUnit XML for CI systems", writeJUnit},
	{"html", "a page for people, with drawings", writeHTML},
}

// Formats lists the names of the formats.
func Formats() []string {
	out := make([]string, len(formats))
	for i, f := range formats {
		out[i] = f.name
	}
	return out
}

// About says in a few words what each format is for.
func About() string {
	parts := make([]string, len(formats))
	for i, f := range formats {
		parts[i] = f.name + " (" + f.about + ")"
	}
	return strings.Join(parts, ", ")
}

// Write writes reviews in a format.
func Write(w io.Writer, name string, reviews []*verdict.Review, o Options) error {
	f, err := find(name)
	if err != nil {
		return err
	}
	if o.FindingsOnly && (name == Lines || name == "json") {
		short := make([]*verdict.Review, len(reviews))
		for i, r := range reviews {
			short[i] = findingsOnly(r)
		}
		reviews = short
	}
	return f.write(w, reviews, o)
}

// findingsOnly is a review without verdicts that are no findings. Conceded ones and those of a snapshot stay, since somebody has
// decided on them.
func findingsOnly(r *verdict.Review) *verdict.Review {
	short := *r
	short.Verdicts = make([]verdict.Verdict, 0, 16)
	for i := range r.Verdicts {
		if v := &r.Verdicts[i]; v.Finding() || v.Leave() != nil || v.Known() != nil {
			short.Verdicts = append(short.Verdicts, *v)
		}
	}
	return &short
}

func find(name string) (format, error) {
	i := slices.IndexFunc(formats, func(f format) bool { return f.name == name })
	if i < 0 {
		return format{}, fmt.Errorf("there is no format %q; known: %s", name, strings.Join(Formats(), ", "))
	}
	return formats[i], nil
}

// Fails says whether a verdict is a finding that fails a review.
func (o Options) Fails(v *verdict.Verdict) bool {
	if v.Leave() != nil || v.Known() != nil {
		return false
	}
	switch v.Outcome {
	case verdict.Nonconforming:
		return v.Rule.Severity >= o.FailAt
	case verdict.Undetermined:
		return v.Rule.Severity >= o.FailAt && !o.Tolerate
	}
	return false
}

// Exit statuses.
const (
	StatusClean    = 0 // nothing at or above the threshold
	StatusFindings = 1
	StatusUnjudged = 2 // something could not be judged
)

// Status is the exit status for reviews: the same for every format.
func (o Options) Status(reviews []*verdict.Review) int {
	t := o.sum(reviews)
	return t.status(o)
}

// why says in words why the exit status is what it is.
func (o Options) why(reviews []*verdict.Review) string {
	t := o.sum(reviews)
	return t.why(o)
}

func (o Options) sum(reviews []*verdict.Review) totals {
	var t totals
	for _, r := range reviews {
		t.add(o.outcome(r))
	}
	return t
}

// none says that there is no review.
func (o Options) none() string {
	if o.Empty != "" {
		return o.Empty
	}
	return nothing
}

// atLeast names a threshold.
func atLeast(s rulebook.Severity) string {
	switch s {
	case rulebook.Critical:
		return "the severity critical"
	case rulebook.Observation:
		return "any severity"
	}
	return "the severity " + s.String() + " or graver"
}

// tally counts findings by severity, the gravest first.
func tally(findings []*verdict.Verdict) (counts [4]int) {
	for _, v := range findings {
		counts[rulebook.Critical-v.Rule.Severity]++
	}
	return counts
}

// what says in a few words what is wrong.
func what(v *verdict.Verdict) string {
	switch v.Outcome {
	case verdict.Undetermined:
		return "can't be shown: "
	case verdict.NotJudged:
		return "not judged: "
	}
	return ""
}

// measured writes the measured value, what it is, and the remark that goes with it.
func measured(v *verdict.Verdict) string {
	s := v.Rule.Def.Format(*v.Value) + " (" + v.Rule.Def.Meaning + ")"
	if v.Value.Note() != "" {
		s += "; " + v.Value.Note()
	}
	return s
}

// allowed writes what is allowed; limits that are measures are written with their values.
func allowed(r *verdict.Review, v *verdict.Verdict) string {
	a := v.Rule.Allowed
	if a == nil || a.AtLeastMeasure == "" && a.AtMostMeasure == "" {
		return v.Rule.AllowedText()
	}
	var parts []string
	fixed := *a
	fixed.AtLeastMeasure, fixed.AtMostMeasure = "", ""
	rule := *v.Rule
	rule.Allowed = &fixed
	if text := rule.AllowedText(); text != "" {
		parts = append(parts, text)
	}
	limit := func(word, name string) {
		if name == "" {
			return
		}
		d := v.Rule.Kind.Def(name)
		if value := valueOf(r, v, name); value.State == measure.Known {
			parts = append(parts, fmt.Sprintf("%s %s (%s)", word, d.Format(value), d.Meaning))
		} else {
			parts = append(parts, fmt.Sprintf("%s a value that is not known (%s)", word, d.Meaning))
		}
	}
	limit("at least", a.AtLeastMeasure)
	limit("at most", a.AtMostMeasure)
	return strings.Join(parts, ", and ")
}

// valueOf looks up another measure of the subject of a verdict.
func valueOf(r *verdict.Review, v *verdict.Verdict, name string) measure.Value {
	if r.Set == nil {
		return measure.Value{}
	}
	t := r.Set.Table(v.Rule.AppliesTo)
	if t == nil {
		return measure.Value{}
	}
	i, c := t.Find(v.Subject.ID), t.Column(name)
	if i < 0 || i >= len(c) {
		return measure.Value{}
	}
	return c[i]
}

// missing writes what an undetermined verdict lacks, as a fitter would look for it: fields of the subject are
// named with it, others as paths from the top of the job. all says that every field is there, yet not enough is known from them.
func missing(r *verdict.Review, v *verdict.Verdict) (text string, all bool) {
	fields, absent := r.Missing(v)
	var own, others []string
	for _, f := range fields {
		if strings.HasPrefix(f, "/") {
			others = append(others, f)
		} else {
			own = append(own, f)
		}
	}
	if n := len(own); n > 0 {
		others = slices.Insert(others, 0, inWords(own)+" of "+v.Subject.ID)
	}
	return strings.Join(others, ", "), !absent
}

// inWords joins a list: "a", "a and b", "a, b and c".
func inWords(list []string) string {
	if n := len(list); n > 1 {
		return strings.Join(list[:n-1], ", ") + " and " + list[n-1]
	}
	return strings.Join(list, "")
}

// detail is one labelled line of a finding.
type detail struct{ word, text string }

// details says of a finding what was measured, what is allowed, why, and what to do, in the same
// words for every format that people read.
func details(r *verdict.Review, v *verdict.Verdict) []detail {
	var out []detail
	add := func(word, text string) {
		if text != "" {
			out = append(out, detail{word, text})
		}
	}
	remedy := v.Rule.Remedy
	switch v.Outcome {
	case verdict.NotJudged:
		add("because", v.Reason())
		remedy = "Have the rulebook " + v.Rule.Rulebook + " put right, then review again. Until then nobody has judged this."
	case verdict.Undetermined:
		add("measured", measured(v))
		if lack, all := missing(r, v); all {
			add("look at", lack)
		} else {
			add("missing", lack)
		}
		remedy = "Say in the job what is missing. If it then is not as allowed: " + remedy
	default:
		add("measured", measured(v))
	}
	for i, step := range v.Value.Steps() {
		add(pick(i == 0, "worked", ""), step)
	}
	add("allowed", allowed(r, v))
	for _, c := range v.Rule.Changes {
		add("changed", c.String())
	}
	if v.Outcome != verdict.Undetermined {
		add("margin", margin(v))
	}
	add("why", v.Rule.Why)
	add("do", remedy)
	add("source", v.Rule.Source.String())
	return out
}

// head is the first line of a finding behind its place: "major: steam_1: Steam enters ... [steam-outlet-height]".
func head(v *verdict.Verdict) string {
	return clean(v.Subject.ID) + ": " + what(v) + line(v.Rule.Title) + " [" + v.Rule.ID + "]"
}

// at writes a place as compilers do, which editors and terminals turn into a link. A place without a line is the whole file.
func at(file string, line, col int) string {
	if line == 0 {
		return clean(file) + ": "
	}
	return fmt.Sprintf("%s:%d:%d: ", clean(file), line, max(col, 1))
}

// leaveText says in one line by what leave a finding may stay.
func leaveText(v *verdict.Verdict) string {
	l := v.Leave()
	return line(fmt.Sprintf("%s until %s by %s: %s", measure.Words(l.Leave), l.Until, inWords(l.By), l.Reason))
}

// margin writes how far inside or outside the limit the value lies.
func margin(v *verdict.Verdict) string {
	m := v.Margin()
	if !isFinite(m) {
		return ""
	}
	size := measure.WithUnit(measure.FormatNumber(abs(m)), v.Rule.Def.Unit)
	switch {
	case m < 0:
		return size + " outside"
	case m == 0 && v.Outcome == verdict.Nonconforming:
		return "on the limit, which is not allowed"
	case m == 0:
		return "exactly on the limit"
	}
	return size + " inside"
}

func abs(v float64) float64 {
	if v < 0 {
		return -v
	}
	return v
}

// clean keeps text of a job from driving a terminal or a viewer: control characters, line separators and invisible
// formatting characters (which can turn the direction of writing) are shown as code points.
func clean(s string) string {
	if !strings.ContainsFunc(s, hostile) {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		switch {
		case !hostile(r):
			b.WriteRune(r)
		case r > 0xffff:
			fmt.Fprintf(&b, "\\U%08x", r)
		default:
			fmt.Fprintf(&b, "\\u%04x", r)
		}
	}
	return b.String()
}

func hostile(r rune) bool {
	switch {
	case r < 0x7f:
		return r < ' '
	case r < 0x600: // the same as below, and quicker for what units and formulas are written with
		return r < 0xa0 || r == 0xad
	case r >= 0x2010 && r < 0x2028, r >= 0x2030 && r < 0x2060:
		return false
	}
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) || r == unicode.ReplacementChar
}

// line puts text that may be broken into lines, as rulebooks hold it, on one line and cleans it.
func line(s string) string { return clean(strings.Join(strings.FieldsFunc(s, breaks), " ")) }

func breaks(r rune) bool { return r == ' ' || r == '\n' || r == '\t' || r == '\r' }

// sentence ends text with a full stop.
func sentence(s string) string {
	s = line(s)
	if s == "" || strings.ContainsAny(s[len(s)-1:], ".!?:") {
		return s
	}
	return s + "."
}

// Cautions are the usual cautions for what a job holds. They stand at the foot of every output that people work from.
func Cautions(r *verdict.Review) []string {
	has := func(kinds ...string) bool {
		return r.Set != nil && slices.ContainsFunc(kinds, func(k string) bool { return r.Set.Table(k) != nil })
	}
	var out []string
	if r.Job != nil && len(r.Job.Circuits) > 0 || has("electrical_item", "heating_cable", "led_strip", "spotlight", "light_source", "steam_generator") {
		out = append(out, "Electricity: only licensed electricians connect and test; switch off, secure and prove dead before work.")
	}
	if has("steam_outlet", "steam_generator") {
		out = append(out, "Steam and hot surfaces scald: keep the line open and drained, let it cool, and guard what can be touched.")
	}
	if has("glazed_door") {
		out = append(out, "Glass: two people lift, with gloves and eye protection; never work its edges.")
	}
	out = append(out, "Dust of tile, cement and foam, and polyurethane with isocyanates: extract or wet-cut, protect breath, skin and eyes, train first.",
		"This review does not take the place of law, local codes, the makers' instructions or licensed practice; where they ask for more, they apply.")
	return out
}
