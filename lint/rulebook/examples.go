package rulebook

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"wetrule/lint/jobfile"
)

// Examples are the examples of one rule: jobs made from a base job by changing a
// few facts.
type Examples struct {
	Rule          string        `json:"rule"`
	Subject       string        `json:"subject"` // the subject that is looked at; empty for all
	With          *jobfile.Node `json:"with"`
	Conforming    *jobfile.Node `json:"conforming"`
	Nonconforming *jobfile.Node `json:"nonconforming"`
	AtLimit       *jobfile.Node `json:"at_limit"`
	NotApplicable *jobfile.Node `json:"not_applicable"`
	Missing       *jobfile.Node `json:"missing"`

	Pos *jobfile.Node `json:"-"`
}

// Sort is a sort of example.
type Sort string

// The sorts of examples.
const (
	ExConforming    Sort = "conforming"
	ExNonconforming Sort = "nonconforming"
	ExAtLimit       Sort = "at_limit"
	ExNotApplicable Sort = "not_applicable"
	ExMissing       Sort = "missing"
)

// Sorts lists the sorts of examples in order.
func Sorts() []Sort {
	return []Sort{ExConforming, ExNonconforming, ExAtLimit, ExNotApplicable, ExMissing}
}

// Example is one job that shows what a rule does.
type Example struct {
	Sort    Sort
	Subject string
	Changes *jobfile.Node // what is changed for this example
	With    *jobfile.Node // what all examples of the rule change
	Pos     *jobfile.Node
}

// List returns the examples in order of their sorts.
func (x *Examples) List() []Example {
	var out []Example
	for _, s := range Sorts() {
		n := map[Sort]*jobfile.Node{ExConforming: x.Conforming, ExNonconforming: x.Nonconforming, ExAtLimit: x.AtLimit, ExNotApplicable: x.NotApplicable, ExMissing: x.Missing}[s]
		switch {
		case n == nil:
		case n.Kind == jobfile.List:
			for _, item := range n.Items() {
				out = append(out, x.one(s, item))
			}
		default:
			out = append(out, x.one(s, n))
		}
	}
	return out
}

// one makes an example. The key for stands for another subject than that of the other examples.
func (x *Examples) one(s Sort, changes *jobfile.Node) Example {
	e := Example{s, x.Subject, changes, x.With, changes}
	if v := changes.Get("for"); v != nil && v.Kind == jobfile.String {
		e.Subject = v.Text
		e.Changes = changes.Clone()
		e.Changes.SetMembers(slices.DeleteFunc(e.Changes.Members(), func(m jobfile.Member) bool { return m.Key == "for" }))
	}
	return e
}

// Changes writes the changes of an example in one line: "steam_1.y_mm: 250".
func (e Example) String() string {
	if e.Changes == nil || len(e.Changes.Members()) == 0 {
		return "the base job as it is"
	}
	parts := make([]string, len(e.Changes.Members()))
	for i, m := range e.Changes.Members() {
		parts[i] = m.Key + ": " + short(m.Value)
	}
	return strings.Join(parts, ", ")
}

func short(n *jobfile.Node) string {
	switch n.Kind {
	case jobfile.Null:
		return "taken away"
	case jobfile.Map:
		parts := make([]string, len(n.Members()))
		for i, m := range n.Members() {
			parts[i] = m.Key + ": " + short(m.Value)
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case jobfile.List:
		parts := make([]string, len(n.Items()))
		for i, x := range n.Items() {
			parts[i] = short(x)
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	return n.Text
}

// ReadExamples reads the examples of the rulebook by rule: of its own rules, and of those that it amends.
func (b *Rulebook) ReadExamples() (map[string]*Examples, error) {
	names, err := b.list("examples", ".yaml")
	if err != nil {
		return nil, err
	}
	out := map[string]*Examples{}
	problems := b.unread("examples")
	known := map[string]bool{}
	ids := make([]string, len(b.Rules))
	for i, r := range b.Rules {
		known[r.ID], ids[i] = true, r.ID
	}
	for _, m := range b.Amends {
		known[m.RuleID], ids = true, append(ids, m.RuleID)
	}
	for _, name := range names {
		if path.Base(name) == "base.yaml" {
			continue
		}
		var f struct {
			Examples []*Examples `json:"examples"`
		}
		if err := b.readFile(name, "examples.schema.json", &f); err != nil {
			ps, ok := err.(jobfile.Problems)
			if !ok {
				return nil, err
			}
			problems = append(problems, ps...)
			continue
		}
		for _, x := range f.Examples {
			switch {
			case !known[x.Rule]:
				problems = append(problems, problem(x.Pos.Get("rule"), "there is no rule %q%s", x.Rule, didYouMean(x.Rule, ids)))
			case out[x.Rule] != nil:
				problems = append(problems, problem(x.Pos.Get("rule"), "examples of %q are given twice; first at %s:%d", x.Rule, out[x.Rule].Pos.File(), out[x.Rule].Pos.Line))
			default:
				out[x.Rule] = x
			}
			for _, e := range x.List() {
				if e.Changes.Kind != jobfile.Map {
					problems = append(problems, problem(e.Changes, "an example is a set of changes, not %s", e.Changes.Kind))
				}
			}
		}
	}
	if len(problems) > 0 {
		problems.Sort()
		return nil, problems
	}
	return out, nil
}

// BaseJob reads the job that the examples change. ok is false when the rulebook brings none.
func (b *Rulebook) BaseJob() (root *jobfile.Node, ok bool, err error) {
	file := path.Join(b.label, "examples/base.yaml")
	data, err := b.read("examples/base.yaml", jobfile.MaxFileBytes)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, false, nil
	case err != nil:
		return nil, false, jobfile.Problems{{File: file, Message: "cannot be read: " + reason(err)}}
	}
	root, err = jobfile.Read(file, data)
	return root, err == nil, err
}

// Apply returns a copy of a job with the example's changes made.
//
// A change is a path and a value. A path is a JSON Pointer in which an element
// of a list may also be named by its id, task, layer, record or rulebook name; a path that does not
// begin with a slash begins at an item's id and goes on with dots: steam_1.tube.od_mm. A null value takes away what the path names;
// a plus sign as the last step appends to a list. The key for names another subject to look at. With an item that is taken away goes whatever names it.
func (e Example) Apply(base *jobfile.Node) (*jobfile.Node, error) {
	root := base.Clone()
	for _, changes := range []*jobfile.Node{e.With, e.Changes} {
		if changes == nil {
			continue
		}
		for _, m := range changes.Members() {
			if err := change(root, m.Key, m.Value); err != nil {
				return nil, jobfile.Problems{{File: changes.File(), Line: int(m.KeyLine), Col: int(m.KeyCol), Message: err.Error()}}
			}
		}
	}
	return root, nil
}

// unescape undoes the escapes of a JSON Pointer (RFC 6901, section 4).
var unescape = strings.NewReplacer("~1", "/", "~0", "~")

func change(root *jobfile.Node, where string, value *jobfile.Node) error {
	p := where
	if !strings.HasPrefix(p, "/") {
		p = "/items/" + strings.ReplaceAll(p, ".", "/")
	}
	steps := strings.Split(p[1:], "/")
	for i, step := range steps {
		steps[i] = unescape.Replace(step)
	}
	at := root
	for i, step := range steps {
		last := i == len(steps)-1
		switch at.Kind {
		case jobfile.Map:
			k := memberIndex(at, step)
			switch {
			case last && value.Kind == jobfile.Null && k >= 0:
				at.SetMembers(append(at.Members()[:k], at.Members()[k+1:]...))
				return nil
			case last && value.Kind == jobfile.Null:
				return fmt.Errorf("%s: there is no %q to take away", where, step)
			case last && k >= 0:
				at.Members()[k].Value = value.Clone()
				return nil
			case last:
				at.SetMembers(append(at.Members(), jobfile.Member{Key: step, Value: value.Clone()}))
				return nil
			case k < 0:
				// A step that is missing is made, so that one change can fill an empty place.
				made := &jobfile.Node{Kind: jobfile.Map}
				if steps[i+1] == "+" {
					made.Kind = jobfile.List
				}
				at.SetMembers(append(at.Members(), jobfile.Member{Key: step, Value: made}))
				at = made
			default:
				at = at.Members()[k].Value
			}
		case jobfile.List:
			if step == "+" && last && value.Kind != jobfile.Null {
				at.SetItems(append(at.Items(), value.Clone()))
				return nil
			}
			k := at.Element(step)
			if k < 0 {
				return fmt.Errorf("%s: there is no element %q", where, step)
			}
			switch {
			case last && value.Kind == jobfile.Null:
				id := at.Items()[k].Get("id")
				at.SetItems(append(at.Items()[:k], at.Items()[k+1:]...))
				if i == 1 && steps[0] == "items" && id != nil {
					forget(root, id.Text)
				}
				return nil
			case last:
				at.Items()[k] = value.Clone()
				return nil
			}
			at = at.Items()[k]
		default:
			return fmt.Errorf("%s: %q lies inside a plain value", where, step)
		}
	}
	return nil
}

// forget takes away whatever else names an item that is no longer there.
func forget(root *jobfile.Node, id string) {
	names := func(n *jobfile.Node, keys ...string) bool {
		for _, k := range keys {
			if v := n.Get(k); v != nil && v.Text == id {
				return true
			}
		}
		return false
	}
	if list := root.Get("records"); list != nil {
		list.SetItems(slices.DeleteFunc(list.Items(), func(n *jobfile.Node) bool { return names(n, "item") }))
	}
	if list := root.Get("tasks"); list != nil {
		list.SetItems(slices.DeleteFunc(list.Items(), func(n *jobfile.Node) bool {
			items := n.Get("items")
			if items == nil {
				return false
			}
			items.SetItems(slices.DeleteFunc(items.Items(), func(x *jobfile.Node) bool { return x.Text == id }))
			return len(items.Items()) == 0
		}))
	}
	for _, list := range []string{"items", "circuits"} {
		if list := root.Get(list); list != nil {
			for _, n := range list.Items() {
				n.SetMembers(slices.DeleteFunc(n.Members(), func(m jobfile.Member) bool {
					return slices.Contains([]string{"source", "generator", "cable", "illuminator"}, m.Key) && m.Value.Text == id
				}))
			}
		}
	}
}

func memberIndex(n *jobfile.Node, key string) int {
	for i := range n.Members() {
		if n.Members()[i].Key == key {
			return i
		}
	}
	return -1
}
