package verdict

import (
	"strconv"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// Places finds the places of many verdicts of one job, quickest when they come in order of rule. What Verdict.Place says
// is the measure of it. It is not for use by several goroutines at once.
type Places struct {
	root   *jobfile.Node
	rule   *rulebook.Rule
	paths  []rulebook.Path // of the rule
	shared []shared        // by path: where it leads from the root, for every subject
	text   []byte          // of the pointers of shared
	at     string          // the last place that a value named, and the node there
	atNode *jobfile.Node
}

type shared struct {
	node     *jobfile.Node
	from, to int // of the pointer
	state    uint8
}

const (
	notWalked uint8 = iota
	leads
	leadsNowhere
	bySubject // it leads elsewhere for each subject
)

// Reset makes it ready for a job.
func (p *Places) Reset(root *jobfile.Node) {
	clear(p.shared[:cap(p.shared)])
	*p = Places{root: root, shared: p.shared[:0], text: p.text[:0]}
}

// Append adds the pointer of the verdict's place to b and gives the node there, nil when there is none.
func (p *Places) Append(b []byte, v *Verdict) ([]byte, *jobfile.Node) {
	if at := v.Value.At(); at != "" {
		if at != p.at { // many verdicts in a row are about one time of a task
			p.at, p.atNode = at, p.root.At(at)
		}
		if p.atNode != nil {
			return append(b, at...), p.atNode
		}
	}
	if v.Outcome == Undetermined {
		at, node := v.at(p.root)
		return append(b, at...), node
	}
	if v.Rule != p.rule {
		p.rule, p.paths = v.Rule, v.Rule.Paths()
		p.shared, p.text = p.shared[:0], p.text[:0]
		for range p.paths {
			p.shared = append(p.shared, shared{})
		}
	}
	s := v.Subject
	start := len(b)
	for i := range p.paths {
		f := &p.paths[i]
		node := s.Pos
		switch {
		case f.Plain && node != nil && node.Kind == jobfile.Map:
			if n := node.Get(f.Steps[0]); n != nil {
				return append(append(append(b, s.Pointer...), '/'), f.Steps[0]...), n
			}
			continue
		case f.FaceMay && !f.Absolute && node.Get(f.Steps[0]) == nil:
			continue // the job says it
		case f.Absolute && !(f.FaceMay && s.Pointer != "" && node.Get(f.Steps[0]) != nil):
			w := &p.shared[i]
			if w.state == notWalked {
				p.walkShared(w, f, s)
			}
			switch w.state {
			case leads:
				return append(b, p.text[w.from:w.to]...), w.node
			case leadsNowhere:
				continue
			}
			node = p.root
		default:
			b = append(b, s.Pointer...)
		}
		b, node, _ = walk(b, node, f.Steps, s)
		if node != nil {
			return b, node
		}
		b = b[:start]
	}
	return append(b, s.Pointer...), s.Pos
}

func (p *Places) walkShared(w *shared, f *rulebook.Path, s *measure.Subject) {
	from := len(p.text)
	text, node, same := walk(p.text, p.root, f.Steps, s)
	switch {
	case !same:
		w.state = bySubject
	case node == nil:
		w.state = leadsNowhere
	default:
		p.text = text
		*w = shared{node: node, from: from, to: len(text), state: leads}
	}
}

// walk goes the steps of a field from a node and adds its pointer. The node is nil when the field is not there. same is false
// when the way may differ for another subject.
func walk(b []byte, n *jobfile.Node, steps []string, s *measure.Subject) (pointer []byte, node *jobfile.Node, same bool) {
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
			k, only := element(n, step, s.ID)
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
