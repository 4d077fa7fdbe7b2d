package verdict

import (
	"slices"
	"strconv"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// Places finds the places of many verdicts of one job, quickest when they come in order of rule. What Verdict.Place says
// is the measure of it. It is not for use by several goroutines at once.
type Places struct {
	root  *jobfile.Node
	rule  *rulebook.Rule
	paths []rulebook.Path          // of the rule
	ways  []way                    // by path
	text  []byte                   // of the pointers of ways that are shared
	buf   []byte                   // the pointer of one verdict
	named map[string]*jobfile.Node // places that values name
	only  map[step]int             // elements of lists that are the same for every subject
	own   [64]ownParts             // of faces, found by their place in the file
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
	state    uint8
	node     *jobfile.Node // to which the path leads from the root, for every subject
	from, to int           // of its pointer
	near     [3]int        // where the keys stood in the last subject
}

const (
	notWalked uint8 = iota
	leads
	leadsNowhere
	bySubject // it leads elsewhere for each subject
)

// Spot is the place of a verdict: the node there, nil when there is none, and its pointer. That is the Pointer or, with a Path, the pointer of the
// subject and the tail of that path of the rule. Who writes many of them has both already.
type Spot struct {
	Node    *jobfile.Node
	Path    int    // -1 for none
	Pointer []byte // until the next place is found
	Shared  int    // which path of the rule leads here for every subject; -1 when it is not known
}

// Reset makes it ready for a job.
func (p *Places) Reset(root *jobfile.Node) {
	clear(p.ways[:cap(p.ways)])
	clear(p.named)
	clear(p.only)
	*p = Places{root: root, ways: p.ways[:0], text: p.text[:0], buf: p.buf[:0], named: p.named, only: p.only}
	if p.named == nil {
		p.named, p.only = map[string]*jobfile.Node{}, map[step]int{}
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
		node, known := p.named[at] // many verdicts are about one time of a task
		if !known {
			node = p.root.At(at)
			p.named[at] = node
		}
		if node != nil {
			return p.alone(at, node)
		}
	}
	if v.Outcome == Undetermined {
		return p.alone(v.at(p.root))
	}
	if v.Rule != p.rule {
		p.rule, p.paths = v.Rule, v.Rule.Paths()
		p.ways, p.text = slices.Grow(p.ways[:0], len(p.paths))[:len(p.paths)], p.text[:0]
		clear(p.ways)
	}
	s := v.Subject
	for i := range p.paths {
		f, w := &p.paths[i], &p.ways[i]
		b, node := p.buf[:0], s.Pos
		switch {
		case f.FaceMay && !f.Absolute && p.part(node, f) == nil:
			continue // the job says it
		case f.Absolute && !(f.FaceMay && s.Pointer != "" && p.part(node, f) != nil):
			if w.state == notWalked {
				p.walkShared(w, f, s)
			}
			switch w.state {
			case leads:
				return Spot{Node: w.node, Path: -1, Pointer: p.text[w.from:w.to], Shared: i}
			case leadsNowhere:
				continue
			}
			node = p.root
		case f.Straight:
			k := 0
			for k < len(f.Steps) && k < len(w.near) && node != nil && node.Kind == jobfile.Map {
				node = node.GetNear(f.Steps[k], &w.near[k])
				k++
			}
			if node == nil {
				continue
			}
			if k == len(f.Steps) {
				return Spot{Node: node, Path: i, Shared: -1}
			}
			b, node = append(b, s.Pointer...), s.Pos // there is a list on the way
		default:
			b = append(b, s.Pointer...)
		}
		b, node, _ = p.walk(b, node, f.Steps, s)
		if p.buf = b[:0]; node != nil {
			return Spot{Node: node, Path: -1, Pointer: b, Shared: -1}
		}
	}
	return p.alone(s.Pointer, s.Pos)
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
	if k, known := p.only[step{list, name}]; known {
		return k, true
	}
	if at, only = element(list, name, subject); only {
		p.only[step{list, name}] = at
	}
	return at, only
}

func (p *Places) alone(pointer string, node *jobfile.Node) Spot {
	p.buf = append(p.buf[:0], pointer...)
	return Spot{Node: node, Path: -1, Pointer: p.buf, Shared: -1}
}

func (p *Places) walkShared(w *way, f *rulebook.Path, s *measure.Subject) {
	from := len(p.text)
	text, node, same := p.walk(p.text, p.root, f.Steps, s)
	switch {
	case !same:
		w.state = bySubject
	case node == nil:
		w.state = leadsNowhere
	default:
		p.text = text
		*w = way{node: node, from: from, to: len(text), state: leads}
	}
}

// walk goes the steps of a field from a node and adds its pointer. The node is nil when the field is not there. same is false
// when the way may differ for another subject.
func (p *Places) walk(b []byte, n *jobfile.Node, steps []string, s *measure.Subject) (pointer []byte, node *jobfile.Node, same bool) {
	same = true
	for _, step := range steps {
		if strings.HasPrefix(step, "{") && strings.HasSuffix(step, "}") {
			same = false
			named := s.Pos.Get(step[1 : len(step)-1])
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
