package verdict

import (
	"slices"
	"strconv"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// Places finds the places of many verdicts of one job, quickest when they come in order of rule. What Verdict.Place says
// is the measure of it. It is not for use by several goroutines at once.
type Places struct {
	root  *jobfile.Node
	rule  *rulebook.Rule
	paths []rulebook.Path // of the rule
	ways  []way           // by path
	buf   []byte          // the pointer of one verdict

	shared []sharedPlace  // places that several verdicts may have
	text   []byte         // of their pointers
	leads  map[string]int // which of them a path from the root leads to for every subject, by its tail; or nowhere or bySubject
	named  map[string]int // which of them a value names; or nowhere
	last   string         // what a value has named last
	lastAt int            // and which that is

	only   map[step]int // elements of lists that are the same for every subject
	latest step         // the one of them that was asked for last
	latAt  int
	own    [64]ownParts // of faces, found by their place in the file

	near [256][rulebook.OwnSteps]int // by slot of a path: where its keys stood in the last subject
}

// sharedPlace is a node and where its pointer stands in the text.
type sharedPlace struct {
	node     *jobfile.Node
	from, to int
}

// step is the name of an element of a list.
type step struct {
	list *jobfile.Node
	name string
}

// ownParts are what a thing says for itself in place of the job.
type ownParts struct {
	of    *jobfile.Node
	parts [rulebook.FaceParts]*jobfile.Node
}

// way is what has been found of one path of a rule.
type way struct {
	walked bool
	to     int // the shared place that it leads to for every subject; or nowhere or bySubject
}

// Where a path may lead to in place of a shared place.
const (
	nowhere   = -1
	bySubject = -2 // elsewhere for each subject
)

// Spot is the place of a verdict: the node there, nil when there is none, and its pointer. That is the Pointer or, with a Path, the pointer of the
// subject and the tail of that path of the rule. Who writes many of them has both already.
type Spot struct {
	Node    *jobfile.Node
	Path    int    // -1 for none
	Pointer []byte // until the next place is found
	Shared  int    // the number of a place that other verdicts of the job may have too; -1 for none
}

// Reset makes it ready for a job.
func (p *Places) Reset(root *jobfile.Node) {
	clear(p.shared)
	clear(p.leads)
	clear(p.named)
	clear(p.only)
	clear(p.own[:])
	clear(p.near[:])
	p.root, p.rule, p.paths, p.ways = root, nil, nil, p.ways[:0]
	p.shared, p.text, p.last, p.latest = p.shared[:0], p.text[:0], "", step{}
	if p.named == nil {
		p.leads, p.named, p.only = map[string]int{}, map[string]int{}, map[step]int{}
	}
}

// Append adds the pointer of the verdict's place to b and gives the node there, nil when there is none.
func (p *Places) Append(b []byte, v *Verdict) ([]byte, *jobfile.Node) {
	s := p.Find(v)
	if s.Path >= 0 {
		return append(append(b, v.Subject.Pointer...), p.paths[s.Path].Tail...), s.Node
	}
	return append(b, s.Pointer...), s.Node
}

// Find finds the place of a verdict.
func (p *Places) Find(v *Verdict) Spot {
	if at := v.Value.At(); at != "" {
		if n := p.name(at); n >= 0 {
			return p.numbered(n)
		}
	}
	if v.Outcome == Undetermined {
		return p.alone(v.at(p.root))
	}
	if v.Rule != p.rule {
		p.rule, p.paths = v.Rule, v.Rule.Paths()
		p.ways = slices.Grow(p.ways[:0], len(p.paths))[:len(p.paths)]
		clear(p.ways)
	}
	s := v.Subject
	for i := range p.paths {
		f := &p.paths[i]
		if f.Own {
			n, k, near := s.Pos, 0, &p.near[f.Slot]
			for ; k < len(f.Steps) && n != nil && n.Kind == jobfile.Map; k++ {
				n = n.GetNear(f.Steps[k], &near[k])
			}
			if n == nil {
				continue
			}
			if k == len(f.Steps) {
				return Spot{Node: n, Path: i, Shared: -1}
			}
			// There is a list on the way.
		}
		b, node := p.buf[:0], s.Pos
		switch {
		case f.FaceMay && !f.Absolute && p.part(node, f) == nil:
			continue // the job says it
		case f.Absolute && !(f.FaceMay && s.Pointer != "" && p.part(node, f) != nil):
			w := &p.ways[i]
			if !w.walked {
				w.walked, w.to = true, p.lead(f, s)
			}
			if w.to >= 0 {
				return p.numbered(w.to)
			}
			if w.to == nowhere {
				continue
			}
			node = p.root
		default:
			b = append(b, s.Pointer...)
		}
		b, node, _ = p.walk(b, node, f, s)
		if p.buf = b[:0]; node != nil {
			return Spot{Node: node, Path: -1, Pointer: b, Shared: -1}
		}
	}
	return p.alone(s.Pointer, s.Pos)
}

func (p *Places) alone(pointer string, node *jobfile.Node) Spot {
	p.buf = append(p.buf[:0], pointer...)
	return Spot{Node: node, Path: -1, Pointer: p.buf, Shared: -1}
}

func (p *Places) numbered(n int) Spot {
	s := &p.shared[n]
	return Spot{Node: s.node, Path: -1, Pointer: p.text[s.from:s.to], Shared: n}
}

// share numbers the place whose pointer has been added to the text behind from.
func (p *Places) share(node *jobfile.Node, from int) int {
	p.shared = append(p.shared, sharedPlace{node, from, len(p.text)})
	return len(p.shared) - 1
}

// name gives the shared place that a value names: many verdicts are about one time of a task.
func (p *Places) name(at string) int {
	if at == p.last {
		return p.lastAt
	}
	n, known := p.named[at]
	if !known {
		n = nowhere
		if node := p.root.At(at); node != nil {
			from := len(p.text)
			p.text = append(p.text, at...)
			n = p.share(node, from)
		}
		p.named[at] = n
	}
	p.last, p.lastAt = at, n
	return n
}

// lead gives the shared place that a path from the root leads to. Many rules have the same ones.
func (p *Places) lead(f *rulebook.Path, s *measure.Subject) int {
	if !f.Straight {
		return bySubject
	}
	n, known := p.leads[f.Tail]
	if !known {
		from := len(p.text)
		text, node, same := p.walk(p.text, p.root, f, s)
		switch {
		case !same:
			n = bySubject
		case node == nil:
			n = nowhere
		default:
			p.text = text
			n = p.share(node, from)
		}
		p.leads[f.Tail] = n
	}
	return n
}

// part is what a subject says for itself of the part that a path begins with, or nil.
func (p *Places) part(node *jobfile.Node, f *rulebook.Path) *jobfile.Node {
	if node == nil {
		return nil
	}
	own := &p.own[int(node.Line+node.Col)%len(p.own)]
	if own.of != node {
		own.of = node
		for i := range own.parts {
			own.parts[i] = node.Get(rulebook.FacePart(i))
		}
	}
	return own.parts[f.Part]
}

// element finds an element of a list and says whether it is the same for every subject.
func (p *Places) element(list *jobfile.Node, name, subject string) (at int, only bool) {
	wanted := step{list, name}
	if p.latest == wanted {
		return p.latAt, true
	}
	at, only = p.only[wanted]
	if !only {
		if at, only = element(list, name, subject); !only {
			return at, false
		}
		p.only[wanted] = at
	}
	p.latest, p.latAt = wanted, at
	return at, true
}

// walk goes the steps of a path from a node and adds its pointer. The node is nil when the field is not there. same is false
// when the way may differ for another subject.
func (p *Places) walk(b []byte, n *jobfile.Node, f *rulebook.Path, s *measure.Subject) (pointer []byte, node *jobfile.Node, same bool) {
	same = true
	for i, step := range f.Steps {
		if key := f.Keys[i]; key != "" {
			same = false
			named := s.Pos.Get(key)
			if named == nil {
				return b, nil, same
			}
			step = named.Text
		}
		if n != nil && n.Kind == jobfile.List {
			k, only := p.element(n, step, s.ID)
			same = same && only
			if k < 0 {
				return b, nil, same
			}
			n = n.Items()[k]
			b = strconv.AppendInt(append(b, '/'), int64(k), 10)
		} else {
			n = n.Get(step)
			b = append(append(b, '/'), step...)
		}
		if n == nil {
			return b, nil, same
		}
	}
	return b, n, same
}
