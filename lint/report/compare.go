package report

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"wetrule/lint/compare"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/verdict"
)

// ComparisonVersion is the version of the JSON of two revisions of a job; a new one breaks readers of the old.
const ComparisonVersion = 1

// Comparison writes what differs between two revisions of a job, and which verdicts change.
func Comparison(w io.Writer, format string, parts []*compare.Part, x *verdict.Impact, reviews [2]*verdict.Review, status int, o Options) error {
	switch format {
	case "json":
		return comparisonJSON(w, parts, x, reviews, status, o)
	case "text":
		return comparisonText(w, parts, x, reviews, status, o)
	}
	return noFormat(format)
}

func comparisonText(out io.Writer, parts []*compare.Part, x *verdict.Impact, reviews [2]*verdict.Review, status int, o Options) error {
	w := bufio.NewWriter(out)
	if !o.Quiet {
		for side, word := range sideWords {
			block{w, 0, 9}.line(word, revision(reviews[side]))
		}
		fmt.Fprintln(w)
	}
	for _, p := range parts {
		comparedPart(w, p, reviews)
	}
	if len(parts) > 0 {
		fmt.Fprintln(w)
	}
	j := x.Jobs[0]
	for side, r := range reviews {
		for _, p := range r.Problems {
			if side == verdict.After && reviews[0].File == r.File && same(reviews[0], p.Error()) {
				continue
			}
			fmt.Fprintln(w, problemLine(r, p))
		}
		for i := range r.Verdicts {
			if v := &r.Verdicts[i]; v.Outcome == verdict.NotJudged {
				fmt.Fprintf(w, "%s: error: not judged: %s of %s: %s\n", clean(r.File), v.Rule.ID, clean(v.Subject.ID), line(v.Reason()))
			}
		}
	}
	if len(j.Changes) > 0 && !o.Quiet {
		fmt.Fprintln(w, "Verdicts that change")
	}
	for _, like := range changesAlike(j.Changes) {
		impactChanges(w, like, o)
	}
	for side, faults := range j.Faults {
		for _, f := range faults {
			paragraph(w, 0, []string{"no longer: ", "new: "}[side]+f)
		}
	}
	if o.Quiet {
		return w.Flush()
	}
	if len(j.Changes) > 0 {
		fmt.Fprintln(w)
	}
	counts := countSorts(parts)
	var told []string
	for i, n := range counts {
		if n > 0 {
			told = append(told, fmt.Sprintf("%d %s", n, measure.Words(compare.Sort(i).String())))
		}
	}
	b := block{w, 0, 9}
	b.line("facts", orNone(strings.Join(told, ", ")))
	e := x.Effects()
	b.line("findings", fmt.Sprintf("%d appear, %d get graver, %d get milder, %d go", e[verdict.Appears], e[verdict.Graver], e[verdict.Milder], e[verdict.Goes]))
	if n := e[verdict.Differs]; n > 0 {
		b.line("others", count(n, "verdict has", "verdicts have")+" another outcome")
	}
	if len(reviews[0].Problems)+len(reviews[1].Problems) == 0 {
		b.line("review", arrow(results[j.Status[verdict.Before]], results[j.Status[verdict.After]]))
	}
	b.line("result", []string{"nothing differs", "the revisions differ", "not everything could be read and judged"}[status])
	return w.Flush()
}

// changesAlike puts changed verdicts together that say the same of several subjects from the same place.
func changesAlike(changes []*verdict.Changed) (out [][]*verdict.Changed) {
	index := map[string]int{}
	for _, c := range changes {
		var b strings.Builder
		p := c.Verdicts[last(c)].Place(c.Job.Reviews[last(c)].Root)
		fmt.Fprintf(&b, "%s %s %s %s %d %d ", c.Rule.ID, c.Rule.Change(), outcomeChange(c), changeWord(c), p.Line, p.Col)
		impactBlock(&b, c)
		k, ok := index[b.String()]
		if !ok {
			k = len(out)
			index[b.String()] = k
			out = append(out, nil)
		}
		out[k] = append(out[k], c)
	}
	return out
}

func revision(r *verdict.Review) string {
	s := clean(r.File)
	if r.Reference != "" {
		s += " (" + clean(r.Reference) + ")"
	}
	return s
}

func countSorts(parts []*compare.Part) [compare.Reordered + 1]int {
	var n [compare.Reordered + 1]int
	for _, p := range parts {
		for _, c := range p.Changes {
			n[c.Sort]++
		}
	}
	return n
}

// comparedPart writes what differs in one part, with the place of the first change.
func comparedPart(w io.Writer, p *compare.Part, reviews [2]*verdict.Review) {
	file, n := reviews[1].File, p.At[1]
	if n == nil {
		file, n = reviews[0].File, p.At[0]
	}
	head := clean(p.Name())
	if n != nil {
		head = at(file, int(n.Line), int(n.Col)) + head
	}
	fmt.Fprintln(w, head)
	b := block{w, 4, 9}
	for _, c := range p.Changes {
		b.line(measure.Words(c.Sort.String()), changeText(c))
	}
}

// changeText says of one fact what it was and what it is.
func changeText(c compare.Change) string {
	name, unit := compare.Field(c.Field)
	before, after := compare.Text(c.Before), compare.Text(c.After)
	withUnit := func(s string) string {
		if s == "" {
			return s
		}
		return measure.WithUnit(s, unit)
	}
	var s string
	switch c.Sort {
	case compare.Added:
		return after
	case compare.Removed:
		return before
	case compare.Reordered:
		return name + ": " + c.By
	case compare.FilledIn:
		s = name + " " + withUnit(after)
	case compare.TakenOut:
		s = name + ", it was " + withUnit(before)
	default:
		s = name + " " + before + " → " + withUnit(after)
	}
	if c.By != "" {
		s += " (" + c.By + ")"
	}
	return s
}

// The JSON of two revisions; schema/comparison.schema.json says what everything means.
type (
	comparisonDoc struct {
		Comparison int              `json:"comparison"`
		Tool       jsonTool         `json:"tool"`
		Status     int              `json:"status"`
		Before     comparedSide     `json:"before"`
		After      comparedSide     `json:"after"`
		Parts      []comparedPartOf `json:"parts"`
		Verdicts   []impactRow      `json:"verdicts"`
		Gone       []string         `json:"leave_faults_gone"`
		New        []string         `json:"leave_faults_new"`
	}
	comparedSide struct {
		File      string        `json:"file"`
		Reference string        `json:"reference,omitempty"`
		Result    string        `json:"result"`
		Problems  []jsonProblem `json:"problems"`
	}
	comparedPartOf struct {
		List    string           `json:"list"`
		ID      string           `json:"id,omitempty"`
		Kind    string           `json:"kind,omitempty"`
		Changes []comparedChange `json:"changes"`
	}
	comparedChange struct {
		Sort   string `json:"sort"`
		Field  string `json:"field,omitempty"`
		Unit   string `json:"unit,omitempty"`
		Before any    `json:"before"`
		After  any    `json:"after"`
		By     string `json:"by,omitempty"`
	}
)

func comparisonJSON(w io.Writer, parts []*compare.Part, x *verdict.Impact, reviews [2]*verdict.Review, status int, o Options) error {
	j := x.Jobs[0]
	side := func(i int) comparedSide {
		r := reviews[i]
		s := comparedSide{File: r.File, Reference: r.Reference, Result: results[j.Status[i]], Problems: []jsonProblem{}}
		for _, p := range r.Problems {
			s.Problems = append(s.Problems, jsonProblem{p.Line, p.Col, p.Pointer, p.Message})
		}
		return s
	}
	doc := comparisonDoc{Comparison: ComparisonVersion, Tool: jsonTool{"wetrule", o.Version}, Status: status, Before: side(0), After: side(1), Parts: []comparedPartOf{}, Verdicts: []impactRow{},
		Gone: append([]string{}, j.Faults[verdict.Before]...), New: append([]string{}, j.Faults[verdict.After]...)}
	value := func(n *jobfile.Node) any { return n.Value() }
	for _, p := range parts {
		row := comparedPartOf{List: p.List, ID: p.ID, Kind: p.Kind}
		for _, c := range p.Changes {
			_, unit := compare.Field(c.Field)
			row.Changes = append(row.Changes, comparedChange{Sort: c.Sort.String(), Field: c.Field, Unit: unit, Before: value(c.Before), After: value(c.After), By: c.By})
		}
		doc.Parts = append(doc.Parts, row)
	}
	for _, c := range j.Changes {
		doc.Verdicts = append(doc.Verdicts, impactRowOf(c))
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	enc.SetEscapeHTML(false)
	return enc.Encode(doc)
}

// Merged writes what became of what the site filled in.
func Merged(out io.Writer, m *compare.Merged, office, site string) error {
	w := bufio.NewWriter(out)
	tell := func(head string, list []*compare.Taken, why bool) {
		if len(list) == 0 {
			return
		}
		fmt.Fprintln(w, head)
		for _, t := range list {
			s := measure.Words(t.Sort.String()) + ": " + changeText(t.Change)
			if t.Sort == compare.Added || t.Sort == compare.Removed {
				s = measure.Words(t.Sort.String())
			}
			paragraph(w, 4, t.Part.Name()+": "+s)
			if why {
				paragraph(w, 8, t.Why+": the office says "+orNothing(compare.Text(t.Office))+", the site "+orNothing(compare.Text(t.After)))
			}
		}
	}
	var taken []*compare.Taken
	agreed := 0
	for _, t := range m.Taken {
		if t.Agreed {
			agreed++
		} else {
			taken = append(taken, t)
		}
	}
	head := "Taken over from "
	if len(m.Conflicts) > 0 {
		head = "Could be taken over from "
	}
	tell(head+clean(site), taken, false)
	tell("Left as "+clean(office)+" has it", m.Left, true)
	tell("Conflicts", m.Conflicts, true)
	if n := len(m.Conflicts); n > 0 {
		fmt.Fprintf(w, "%s; nothing is written. Put one of the files right, or choose a side with --prefer.\n", count(n, "conflict", "conflicts"))
		return w.Flush()
	}
	fmt.Fprintf(w, "%s taken over, %d said already, %d left as the office has them\n", count(len(taken), "fact", "facts"), agreed, len(m.Left))
	return w.Flush()
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}

// Photos writes what became of the photographs on record, one a line.
func Photos(out io.Writer, file string, photos []*verdict.Photo) error {
	w := bufio.NewWriter(out)
	var n [4]int
	for _, p := range photos {
		s := clean(p.Name) + ": "
		switch p.State {
		case verdict.PhotoSame:
			n[0]++
			s += "the same"
		case verdict.PhotoNew:
			n[1]++
			s += "new, SHA-256 " + p.File
		case verdict.PhotoDiffers:
			n[2]++
			s += "another picture: SHA-256 " + p.File + ", on record " + p.Record
		default:
			n[3]++
			s += "absent: " + clean(p.Why)
		}
		fmt.Fprintln(w, at(file, p.Line, p.Col)+s)
	}
	fmt.Fprintf(w, "%s on record: %d the same, %d new, %d another, %d absent\n", count(len(photos), "photograph", "photographs"), n[0], n[1], n[2], n[3])
	return w.Flush()
}
