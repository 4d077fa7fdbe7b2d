// Package verdict holds what a review says: one verdict a rule and subject,
// and the review of one job. It knows nothing of how verdicts are reached or shown.
package verdict

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"math"
	"slices"
	"strconv"
	"strings"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// Outcome is what one rule finds of one subject.
type Outcome uint8

// The outcomes.
const (
	Conforms Outcome = iota
	Nonconforming
	Undetermined  // the job does not say enough
	NotInForce    // the rule does not apply on the date of judgement
	NotJudged     // the rule could not be carried out: a fault of the rulebook
	NotApplicable // counted, not listed
)

var outcomes = []string{"conforms", "nonconforming", "undetermined", "not_in_force", "not_judged", "not_applicable"}

// String names the outcome.
func (o Outcome) String() string { return outcomes[o] }

// Outcomes lists the names in the order in which they are counted.
func Outcomes() []string { return slices.Clone(outcomes) }

// Verdict is what one rule says of one subject.
type Verdict struct {
	Rule    *rulebook.Rule
	Subject *measure.Subject
	Value   *measure.Value // where it stands in its column
	Outcome Outcome
	more    *More // what few verdicts have
}

// More is what few verdicts have. A review has many verdicts, so that they are kept small.
type More struct {
	Lo, Hi float64        // the limits of this subject, infinite where there is none
	Reason string         // why a rule was not judged
	Leave  *jobfile.Leave // the leave by which a nonconforming verdict may stay
	Known  *Known         // the same finding in a snapshot of before, when it was no better
}

// SetMore gives a verdict what few have; without it, it has the limits of its rule.
func (v *Verdict) SetMore(m *More) { v.more = m }

// Change changes what few verdicts have. Copies of the verdict keep theirs.
func (v *Verdict) Change(f func(*More)) {
	m := More{}
	if v.more != nil {
		m = *v.more
	} else {
		m.Lo, m.Hi = v.Rule.Limits()
	}
	f(&m)
	v.more = &m
}

// Limits are the limits, infinite where there is none.
func (v *Verdict) Limits() (lo, hi float64) {
	if v.more != nil {
		return v.more.Lo, v.more.Hi
	}
	return v.Rule.Limits()
}

// Margin is how far inside the nearer limit the value lies, in the unit of the measure; negative outside; not a finite number without numeric limits.
func (v *Verdict) Margin() float64 {
	return v.MarginWithin(v.Limits())
}

// Usual says that a verdict has nothing that few have: its limits are those of its rule, and there is no reason, leave or snapshot.
func (v *Verdict) Usual() bool { return v.more == nil }

// MarginWithin is the margin for limits that are known to be those of the verdict.
func (v *Verdict) MarginWithin(lo, hi float64) float64 {
	if v.Value.State != measure.Known {
		return math.NaN()
	}
	margin := min(v.Value.Num-lo, hi-v.Value.Num)
	if isFinite(margin) {
		margin = geometry.RoundMM(margin)
	}
	return margin
}

// Reason says why a rule was not judged.
func (v *Verdict) Reason() string {
	if v.more == nil {
		return ""
	}
	return v.more.Reason
}

// Leave is the leave by which a nonconforming verdict may stay.
func (v *Verdict) Leave() *jobfile.Leave {
	if v.more == nil {
		return nil
	}
	return v.more.Leave
}

// Known is the same finding in a snapshot of before, when it was no better.
func (v *Verdict) Known() *Known {
	if v.more == nil {
		return nil
	}
	return v.more.Known
}

// Finding says whether somebody must deal with the verdict: not when a leave holds for it, or a snapshot knows it and it is no worse.
func (v *Verdict) Finding() bool {
	if v.more != nil && (v.more.Leave != nil || v.more.Known != nil) {
		return false
	}
	return v.Outcome == Nonconforming || v.Outcome == Undetermined || v.Outcome == NotJudged
}

// HasMargin says whether a margin can be told.
func (v *Verdict) HasMargin() bool { return isFinite(v.Margin()) }

func isFinite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// Place is where a verdict points in the job file.
type Place struct {
	Pointer           string
	Line, Col, EndCol int // 1-based; EndCol 0 when the value does not end on its line
}

// Place returns the position of the value that was judged. A value that is missing
// points at its nearest parent that exists.
func (v *Verdict) Place(root *jobfile.Node) Place {
	pointer, node := v.at(root)
	p := Place{Pointer: pointer}
	if node != nil {
		p.Line, p.Col, p.EndCol = int(node.Line), int(node.Col), int(node.EndCol)
	}
	return p
}

// at is the pointer of a verdict's place and the node there.
func (v *Verdict) at(root *jobfile.Node) (pointer string, node *jobfile.Node) {
	if at := v.Value.At(); at != "" {
		if n := root.At(at); n != nil {
			return at, n
		}
	}
	pointer, node = v.Subject.Pointer, v.Subject.Pos
	fewest, want := math.MaxInt, ofFields
	if v.Outcome == Undetermined {
		want = ofParents
	}
	for _, field := range v.Rule.Fields() {
		if standIn(v.Subject, field) {
			continue
		}
		f := locate(root, v.Subject, field, want)
		if f.node != nil && (v.Outcome == Undetermined && f.left > 0 && f.left < fewest || v.Outcome != Undetermined && f.left == 0) {
			pointer, node, fewest = f.pointer, f.node, f.left
			if f.left == 0 {
				break
			}
		}
	}
	return pointer, node
}

// Missing lists the job fields that an undetermined verdict lacks, as a reader would look for them.
func (v *Verdict) Missing(root *jobfile.Node) []string {
	r := Review{Root: root}
	fields, _ := r.Missing(v)
	return fields
}

// Missing lists the job fields that an undetermined verdict lacks, as a reader would look for them: with dots from
// the subject, with slashes from the top of the job. They are the fields of those measures that are not known. absent is false
// when the job gives them all and still does not say enough, as when a task is missing from the list of tasks;
// then all of them are listed.
func (r *Review) Missing(v *Verdict) (fields []string, absent bool) {
	var t *measure.Table
	row := -1
	if r.Set != nil {
		if t = r.Set.Table(v.Rule.AppliesTo); t != nil {
			row = t.Find(v.Subject.ID)
		}
	}
	var room [16]string
	needs := room[:0]
	for _, m := range v.Rule.Measures() {
		if !determined(t, row, m) {
			needs = append(needs, v.Rule.Kind.Def(m).Needs...)
		}
	}
	return MissingOf(r.Root, v.Subject, needs)
}

// MissingOf lists those of the fields that a subject needs, written as measure.Def.Needs has them, that the job does not give. absent is
// false when it gives them all; then all of them are listed.
func MissingOf(root *jobfile.Node, subject *measure.Subject, needs []string) (fields []string, absent bool) {
	var room [8]found
	all, lacking, inList := make([]string, 0, len(needs)), room[:0], false
	for _, field := range needs {
		if standIn(subject, field) {
			continue
		}
		f := locate(root, subject, field, ofNothing)
		if slices.Contains(all, f.field) {
			continue
		}
		all = append(all, f.field)
		if f.left > 0 {
			lacking = append(lacking, f)
			inList = inList || f.element
		}
	}
	if inList && len(lacking) > 1 { // only then pointers are compared
		for i, f := range lacking {
			lacking[i] = locate(root, subject, f.need, ofParents)
		}
	}
	for _, f := range lacking {
		// Of a field and a part of it, the field says enough. Of the elements of a list, those that are there come before those
		// that are not, since which elements there should be is often a choice.
		if !slices.ContainsFunc(lacking, func(g found) bool {
			return below(f.field, g.field, "/.") || f.element && !g.element && below(g.pointer, f.pointer, "/")
		}) {
			fields = append(fields, f.field)
		}
	}
	if len(fields) == 0 {
		return all, false
	}
	return fields, true
}

// below says whether a path goes on from another with one of the separators.
func below(path, top, separators string) bool {
	return len(path) > len(top) && path[:len(top)] == top && strings.IndexByte(separators, path[len(top)]) >= 0
}

// determined says whether a measure of the subject in a row was measured or does not arise.
func determined(t *measure.Table, row int, name string) bool {
	if row < 0 {
		return false
	}
	c := t.Column(name)
	return row < len(c) && c[row].State != measure.Unknown
}

// standIn says whether a field is one that a face may give in place of the job's, and does not.
func standIn(s *measure.Subject, field string) bool {
	top, _, _ := strings.Cut(field, ".")
	return rulebook.FaceMay(top) && s.Pos.Get(top) == nil
}

// found is where a field is in a job, or how far the way to it goes.
type found struct {
	need    string // as the measure has it
	field   string // as a reader would look for it
	pointer string // of the node, when it is wanted
	node    *jobfile.Node
	left    int  // how many steps do not exist, 0 when the node is the field
	element bool // a list lacks the element that the field is in
}

// What locate gives pointers of, as they take memory.
const (
	ofNothing = iota
	ofFields  // that are there
	ofParents // of fields that are not there too
)

// locate finds the node of a field, or its nearest existing parent. Fields are those of measure.Def.Needs: relative
// to the subject with dots, or from the root with slashes; elements of lists are named as in jobfile.Node.Element, and
// a step in braces stands for the value of that key of the subject.
func locate(root *jobfile.Node, s *measure.Subject, field string, pointers int) found {
	if s.Pos != nil && s.Pos.Kind == jobfile.Map && strings.IndexByte(field, '.') < 0 && strings.IndexByte(field, '/') < 0 && strings.IndexByte(field, '{') < 0 {
		// Most fields are keys of the subject itself.
		if n := s.Pos.Get(field); n != nil {
			f := found{need: field, field: field, node: n}
			if pointers != ofNothing {
				f.pointer = s.Pointer + "/" + field
			}
			return f
		}
		return found{need: field, field: field, pointer: s.Pointer, node: s.Pos, left: 1}
	}
	rest, absolute := strings.CutPrefix(field, "/")
	f := found{need: field, field: field, node: s.Pos}
	sep := "."
	pointer := make([]byte, 0, 96)
	if absolute {
		sep = "/"
	}
	if top, _, _ := strings.Cut(rest, sep); absolute && s.Pointer != "" && rulebook.FaceMay(top) && s.Pos.Get(top) != nil {
		f.field = strings.ReplaceAll(rest, "/", ".") // the face says it for itself
		pointer = append(pointer, s.Pointer...)
	} else if absolute {
		f.node = root
	} else {
		pointer = append(pointer, s.Pointer...)
	}
	f.left = 1 + strings.Count(rest, sep)
	for more := true; more; {
		var step string
		step, rest, more = strings.Cut(rest, sep)
		if strings.HasPrefix(step, "{") && strings.HasSuffix(step, "}") {
			key := step[1 : len(step)-1]
			named := s.Pos.Get(key)
			if named == nil {
				return found{need: field, field: key, pointer: s.Pointer, node: s.Pos, left: f.left}
			}
			f.field = strings.Replace(f.field, step, named.Text, 1)
			step = named.Text
		}
		next := f.node.Get(step)
		if f.node != nil && f.node.Kind == jobfile.List {
			k, _ := element(f.node, step, s.ID)
			if k < 0 {
				f.element = true
				break
			}
			next, step = f.node.Items()[k], strconv.Itoa(k)
		}
		if next == nil {
			break
		}
		f.node = next
		f.left--
		pointer = append(append(pointer, '/'), step...)
	}
	if pointers == ofParents || pointers == ofFields && f.left == 0 {
		f.pointer = string(pointer)
	}
	return f
}

// element finds an element of a list as jobfile.Node.Element does; of several with one name, the one that is about the subject.
// only says that the name has no second one, so that it is the same for every subject.
func element(list *jobfile.Node, step, subject string) (at int, only bool) {
	if step != "" && step[0] <= '9' { // may be a number
		if at = list.Element(step); at < 0 || strconv.Itoa(at) == step {
			return at, true
		}
	}
	at, only = -1, true
	for i, n := range list.Items() {
		if !named(n, step) {
			continue
		}
		if at < 0 {
			at = i
		} else {
			only = false
		}
		members := n.Members()
		for j := range members {
			m := &members[j]
			if m.Value == nil {
				continue
			}
			switch m.Key {
			case "item", "face":
				if m.Value.Text == subject {
					return i, false
				}
			case "items", "faces":
				if slices.ContainsFunc(m.Value.Items(), func(x *jobfile.Node) bool { return x.Text == subject }) {
					return i, false
				}
			}
		}
	}
	return at, only
}

// named says whether an element of a list has a name, as jobfile.Node.Element knows them.
func named(n *jobfile.Node, name string) bool {
	if n == nil || n.Kind != jobfile.Map {
		return false
	}
	members := n.Members()
	for i := range members {
		switch m := &members[i]; m.Key {
		case "id", "task", "layer", "record":
			if m.Value != nil && m.Value.Text == name {
				return true
			}
		}
	}
	return false
}

// Fingerprint names the verdict across runs and edits of the file: it stands on the rule, the file, and the
// subject, not on the line or the measured value.
func (v *Verdict) Fingerprint(file string) string {
	var room [2 * fingerprintBytes]byte
	return string(v.AppendFingerprint(room[:0], file))
}

const fingerprintBytes = 16

// AppendFingerprint writes the fingerprint behind b.
func (v *Verdict) AppendFingerprint(b []byte, file string) []byte {
	var room [256]byte
	names := append(append(room[:0], v.Rule.ID...), 0)
	names = append(append(names, file...), 0)
	names = append(append(names, v.Subject.Kind...), 0)
	h := sha256.Sum256(append(names, v.Subject.ID...))
	return hex.AppendEncode(b, h[:fingerprintBytes])
}

// Review is what was found of one job.
type Review struct {
	File      string
	Line      int // of the file that holds this job and others; 0 for a file of its own
	Reference string
	Title     string
	Country   string
	Stage     rulebook.Stage
	On        string // date of judgement
	Books     []rulebook.Manifest
	Root      *jobfile.Node    // the job as read, for positions; nil when it could not be read
	Job       *jobfile.Job     // the job; nil when it could not be read
	Set       *measure.Set     // what was measured
	Steps     int64            // expressions that the policies evaluated
	Rules     []*rulebook.Rule // what the job was judged by, in order of id
	Verdicts  []Verdict        // all but not applicable ones, in order of rule and subject
	Counts    [NotApplicable + 1]int
	Problems  jobfile.Problems // why the job could not be judged
	Notices   []string         // what a reader should know of the review as a whole
	Faults    []*LeaveFault    // what is wrong with concessions and deviation permits
}

// Name names the job across runs: by its file or, in a file that holds many, by its reference there, since lines move.
func (r *Review) Name() string {
	if r.Line > 0 {
		return r.File + "#" + r.Reference
	}
	return r.File
}

// Findings returns the verdicts that somebody must deal with, in order of place in the file, rule and subject.
func (r *Review) Findings() []*Verdict {
	type placed struct {
		v    *Verdict
		l, c int
	}
	var ps []placed
	var places Places
	places.Reset(r.Root)
	var pointer []byte
	for i := range r.Verdicts {
		if v := &r.Verdicts[i]; v.Finding() {
			p := placed{v: v}
			var node *jobfile.Node
			if pointer, node = places.Append(pointer[:0], v); node != nil {
				p.l, p.c = int(node.Line), int(node.Col)
			}
			ps = append(ps, p)
		}
	}
	slices.SortStableFunc(ps, func(a, b placed) int {
		return cmp.Or(cmp.Compare(a.l, b.l), cmp.Compare(a.c, b.c), cmp.Compare(a.v.Rule.ID, b.v.Rule.ID), cmp.Compare(a.v.Subject.ID, b.v.Subject.ID))
	})
	out := make([]*Verdict, len(ps))
	for i := range ps {
		out[i] = ps[i].v
	}
	return out
}

// Group is one or more findings that somebody deals with in one go: one rule that finds the same value at the same place for several
// subjects (a default of the job that many faces share), or one gap in the job that leaves several rules open.
type Group struct {
	Findings []*Verdict // of one rule together, the rule of the gravest finding first
	Place    Place
	Missing  []string // what is missing, for findings that are undetermined; see Review.Missing
	Absent   bool     // see Review.Missing
}

// Rules lists the rules of a group, each once.
func (g *Group) Rules() []*rulebook.Rule {
	var out []*rulebook.Rule
	for _, v := range g.Findings {
		if !slices.Contains(out, v.Rule) {
			out = append(out, v.Rule)
		}
	}
	return out
}

// Subjects lists the ids of the subjects of a group, each once.
func (g *Group) Subjects() []string {
	var out []string
	for _, v := range g.Findings {
		if !slices.Contains(out, v.Subject.ID) {
			out = append(out, v.Subject.ID)
		}
	}
	return out
}

// Groups returns the findings in groups, in order of place in the file, rule and subject.
func (r *Review) Groups() []*Group {
	type sameness struct {
		outcome Outcome
		place   Place
		what    string
		lo, hi  float64
	}
	var out []*Group
	index := map[sameness]*Group{}
	for _, v := range r.Findings() {
		g := &Group{Findings: []*Verdict{v}, Place: v.Place(r.Root)}
		k := sameness{outcome: v.Outcome, place: g.Place, what: v.Rule.ID}
		switch v.Outcome {
		case Undetermined:
			g.Missing, g.Absent = r.Missing(v)
			var b strings.Builder
			for _, f := range g.Missing {
				b.WriteString(f)
				if !strings.HasPrefix(f, "/") {
					b.WriteString(" of " + v.Subject.ID)
				}
				b.WriteByte('\n')
			}
			k.what = b.String()
		case Nonconforming:
			k.what += "\n" + v.Rule.Def.Format(*v.Value) + "\n" + v.Value.Note()
			k.lo, k.hi = v.Limits()
		}
		if have := index[k]; have != nil {
			have.Findings = append(have.Findings, v)
			continue
		}
		index[k] = g
		out = append(out, g)
	}
	for _, g := range out {
		gravest := map[*rulebook.Rule]int{}
		for i, rule := range g.Rules() {
			gravest[rule] = int(rule.Severity)*len(r.Verdicts) - i
		}
		slices.SortStableFunc(g.Findings, func(a, b *Verdict) int { return cmp.Compare(gravest[b.Rule], gravest[a.Rule]) })
	}
	return out
}

// Judged says whether every rule could be carried out on a job that could be read.
func (r *Review) Judged() bool { return len(r.Problems) == 0 && r.Counts[NotJudged] == 0 }
