package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"sync"
	"unicode/utf8"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// Colours of the Okabe–Ito palette (Okabe and Ito, 2008), which colour-blind
// people can tell apart. The words carry the meaning.
var colours = map[rulebook.Severity]string{
	rulebook.Critical:    "\x1b[1;38;2;213;94;0m",
	rulebook.Major:       "\x1b[38;2;230;159;0m",
	rulebook.Minor:       "\x1b[38;2;86;180;233m",
	rulebook.Observation: "\x1b[38;2;0;158;115m",
}

const plain = "\x1b[0m"

// columns is how wide text for people is at most. The first line of a finding is as long as it is, since programs read it.
const columns = 100

// block writes labelled lines with a hanging indent: the labels stand in a column of their own.
type block struct {
	w             io.Writer
	indent, label int
}

func (b block) line(word, text string) {
	if text == "" {
		return
	}
	hang := b.indent + b.label + 1
	for i, part := range wrap(text, columns-hang) {
		if i == 0 {
			fmt.Fprintf(b.w, "%*s%s%*s%s\n", b.indent, "", word, max(b.label-utf8.RuneCountInString(word), 0)+1, "", part)
		} else {
			fmt.Fprintf(b.w, "%*s%s\n", hang, "", part)
		}
	}
}

// paragraph writes text without a label.
func paragraph(w io.Writer, indent int, text string) {
	for i, part := range wrap(text, columns-indent-2) {
		fmt.Fprintf(w, "%*s%s\n", indent+2*min(i, 1), "", part)
	}
}

// units are the words that stay on the line of their number.
var units = sync.OnceValue(func() map[string]bool {
	out := map[string]bool{"%": true, "×": true}
	for _, k := range measure.Names() {
		for _, d := range measure.Lookup(k).Defs {
			if d.Unit != "" {
				out[d.Unit] = true
			}
		}
	}
	return out
})

// wrap cleans text and breaks it into lines of at most so many characters. A number stays with its unit; a word
// that is longer than a line has one to itself.
func wrap(text string, width int) []string {
	var lines []string
	var now strings.Builder
	length := 0
	words := strings.FieldsFunc(text, breaks)
	for i := 0; i < len(words); i++ {
		word := clean(words[i])
		if n := len(word) - 1; n >= 0 && word[n] >= '0' && word[n] <= '9' && i+1 < len(words) && units()[strings.TrimRight(words[i+1], ".,;:)")] {
			i++
			word += " " + clean(words[i])
		}
		n := utf8.RuneCountInString(word)
		if length > 0 && length+1+n > width {
			lines = append(lines, now.String())
			now.Reset()
			length = 0
		}
		if length > 0 {
			now.WriteByte(' ')
			length++
		}
		now.WriteString(word)
		length += n
	}
	if length > 0 {
		lines = append(lines, now.String())
	}
	return lines
}

func writeText(out io.Writer, reviews []*verdict.Review, o Options) error {
	w := bufio.NewWriter(out)
	var t totals
	for _, r := range reviews {
		Text(w, r, o)
		t.add(o.total(r))
	}
	textEnd(w, &t, o)
	return w.Flush()
}

// textEnd writes what stands behind all reviews.
func textEnd(w io.Writer, t *totals, o Options) {
	if t.jobs == 0 {
		fmt.Fprintln(w, o.none())
	}
	if t.jobs > 1 && !o.Quiet {
		textTotal(w, t, o)
	}
	if t.jobs > 0 && !o.Quiet {
		fmt.Fprintln(w, "Cautions")
		for _, c := range t.cautions {
			paragraph(w, 4, c)
		}
	}
}

// nothing is what every format says when there is no review: that is not the same as being in order.
const nothing = "error: no job was reviewed"

// Text writes one review for people: for each finding a line in the form file:line:column, then what was measured,
// what is allowed and what to do; then a summary.
func Text(w io.Writer, r *verdict.Review, o Options) {
	for _, p := range r.Problems {
		fmt.Fprintln(w, problemLine(r, p))
	}
	if len(r.Problems) > 0 {
		if !o.Quiet {
			fmt.Fprintf(w, "%s: not judged: the job file is at fault in %s\n\n", clean(r.File), count(len(r.Problems), "place", "places"))
		}
		return
	}
	groups := r.Groups()
	textGroups(w, r, groups, o)
	for _, f := range r.Faults {
		on, off := "", ""
		if o.Colour {
			on, off = colours[f.Severity], plain
		}
		fmt.Fprintf(w, "%s%s%s%s: %s\n", at(f.File, f.Place.Line, f.Place.Col), on, f.Severity, off, line(f.Text))
	}
	if len(r.Faults) > 0 && !o.Quiet {
		fmt.Fprintln(w)
	}
	if o.Quiet {
		return
	}
	fmt.Fprintf(w, "%s: %s\n", clean(r.File), clean(name(r)))
	books := make([]string, len(r.Books))
	for i, b := range r.Books {
		books[i] = b.Name + " " + b.Edition
	}
	b := block{w, 4, 9}
	b.line("stage", fmt.Sprintf("%s, judged for %s by %s", measure.Words(r.Stage.String()), r.On, strings.Join(books, ", ")))
	b.line("findings", severities(tally(r.Findings()), len(groups)))
	b.line("verdicts", outcomes(r))
	conceded, known := 0, 0
	for i := range r.Verdicts {
		if v := &r.Verdicts[i]; v.Leave() != nil {
			conceded++
			b.line(pick(conceded == 1, "conceded", ""), fmt.Sprintf("%s of %s, %s, until %s by %s: %s", v.Rule.ID, v.Subject.ID, v.Rule.Def.Format(*v.Value), v.Leave().Until, inWords(v.Leave().By), v.Leave().Reason))
		} else if v.Known() != nil {
			known++
		}
	}
	if known > 0 {
		b.line("known", fmt.Sprintf("%s of the snapshot, no worse than they were", count(known, "finding", "findings")))
	}
	b.line("result", o.why([]*verdict.Review{r}))
	for _, n := range r.Notices {
		b.line("note", n)
	}
	fmt.Fprintln(w)
}

func name(r *verdict.Review) string {
	if r.Title == "" {
		return r.Reference
	}
	return r.Reference + ", " + r.Title
}

// textGroups writes findings. Those that somebody deals with in one go share an entry; a rule that has been explained
// is not explained again.
func textGroups(w io.Writer, r *verdict.Review, groups []*verdict.Group, o Options) {
	told := map[*rulebook.Rule]string{} // the subject for which a rule has been explained
	for _, g := range groups {
		on, off := "", ""
		severity := g.Findings[0].Rule.Severity
		if o.Colour {
			on, off = colours[severity], plain
		}
		fmt.Fprintf(w, "%s%s%s%s: %s\n", at(r.File, g.Place.Line, g.Place.Col), on, severity, off, groupHead(r, g))
		if !o.Quiet {
			textBlock(w, r, g, told)
		}
	}
}

// groupHead is the first line of an entry behind its place and severity.
func groupHead(r *verdict.Review, g *verdict.Group) string {
	v := g.Findings[0]
	subjects := clean(some(g.Subjects()))
	if n := len(g.Rules()); n > 1 {
		lack, _ := missing(r, v)
		return fmt.Sprintf("%s: can't be shown %s %s [%s]", subjects, pick(g.Absent, "without", "from"), line(lack), count(n, "rule", "rules"))
	}
	return subjects + ": " + what(v) + line(v.Rule.Title) + " [" + v.Rule.ID + "]"
}

// some writes a list that may be long in a few words: "a, b, c and 5 more".
func some(list []string) string {
	const few = 4
	if len(list) <= few {
		return inWords(list)
	}
	return fmt.Sprintf("%s and %d more", strings.Join(list[:few-1], ", "), len(list)-few+1)
}

func textBlock(w io.Writer, r *verdict.Review, g *verdict.Group, told map[*rulebook.Rule]string) {
	b := block{w, 4, 9}
	v := g.Findings[0]
	if s := g.Subjects(); some(s) != inWords(s) {
		b.line("concerns", inWords(s))
	}
	if rules := g.Rules(); len(rules) > 1 {
		ids := make([]string, len(rules))
		for i, r := range rules {
			ids[i] = r.ID
		}
		lack, _ := missing(r, v)
		b.line(pick(g.Absent, "missing", "look at"), lack)
		b.line("rules", strings.Join(ids, ", "))
		b.line("do", "Say in the job what is missing; wetrule explain RULE tells what a rule asks.")
		fmt.Fprintln(w)
		return
	}
	before, again := told[v.Rule]
	for _, d := range details(r, v) {
		switch {
		case again && d.word == "why":
			d.text = "as for " + before + " above"
		case again && d.word == "source":
			continue
		}
		b.line(d.word, d.text)
	}
	if !again {
		told[v.Rule] = v.Subject.ID
	}
	fmt.Fprintln(w)
}

func pick(c bool, a, b string) string {
	if c {
		return a
	}
	return b
}

// problemLine writes a fault of a job file in the form of a finding.
func problemLine(r *verdict.Review, p jobfile.Problem) string {
	file := p.File
	if file == "" {
		file = r.File
	}
	return at(file, p.Line, p.Col) + "error: " + line(p.Message)
}

// severities writes how many findings there are of each severity, and of entries that they are told in where these are fewer.
func severities(counts [4]int, entries int) string {
	findings := 0
	parts := make([]string, 0, 4)
	for i, name := range rulebook.Severities() {
		if findings += counts[i]; counts[i] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", counts[i], name))
		}
	}
	if findings == 0 {
		return "none"
	}
	in := ""
	if entries < findings {
		in = " in " + count(entries, "entry", "entries")
	}
	return fmt.Sprintf("%d%s: %s", findings, in, strings.Join(parts, ", "))
}

func outcomes(r *verdict.Review) string {
	c := r.Counts
	return fmt.Sprintf("%s, %d nonconforming, %d undetermined, %d not in force, %d not judged, %d not applicable",
		count(c[verdict.Conforms], "conforms", "conform"), c[verdict.Nonconforming], c[verdict.Undetermined], c[verdict.NotInForce], c[verdict.NotJudged], c[verdict.NotApplicable])
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func textTotal(w io.Writer, t *totals, o Options) {
	fmt.Fprintf(w, "%s: %d with findings that fail, %d not judged in full\n", count(t.jobs, "job", "jobs"), t.failed, t.unjudged)
	b := block{w, 4, 9}
	b.line("findings", severities(t.severities, t.entries))
	b.line("result", t.why(o))
	fmt.Fprintln(w)
}
