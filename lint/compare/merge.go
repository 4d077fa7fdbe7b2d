package compare

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wetrule/lint/jobfile"
)

// Prefer says which side wins where office and site say different things.
type Prefer uint8

// The sides.
const (
	Neither Prefer = iota // it is a conflict
	Office
	Site
)

// Taken is one fact that the site changed, and what became of it.
type Taken struct {
	Part *Part // as it differs between issue and site
	Change
	// Office is what the office's revision says.
	Office *jobfile.Node
	// Why says why it was not taken over; empty for a fact that was.
	Why string
	// Agreed is set when the office says the same already.
	Agreed bool
}

// Merged is a job with what the site filled in.
type Merged struct {
	Data      []byte // the text; nil while there are conflicts
	Taken     []*Taken
	Conflicts []*Taken
	Left      []*Taken // what the site says otherwise and the side that is preferred does not
}

// Merge brings what the site changed since the issue into the revision of the office: facts that were filled in, changed, added or
// taken away. Where the office changed the same fact otherwise meanwhile, it is a conflict, unless a side is preferred. Without an
// issue (nil) nobody can tell who changed a fact: what only the site says is taken over, what only the office says is kept, and what
// both say differently is a conflict. An office that changed nothing since the issue gets the site's text as it is.
func Merge(office, site, issue *jobfile.File, officeText, siteText []byte, prefer Prefer) (*Merged, error) {
	base := office.Root
	if issue != nil {
		base = issue.Root
	}
	m := &Merged{}
	var edits []jobfile.Edit
	for _, p := range Jobs(base, site.Root) {
		for _, ch := range p.Changes {
			t := &Taken{Part: p, Change: ch}
			edit := t.carry(office.Root, issue != nil, prefer)
			switch {
			case t.Why != "" && (prefer == Neither || ch.Sort == Reordered):
				m.Conflicts = append(m.Conflicts, t)
			case t.Why != "":
				m.Left = append(m.Left, t)
			default:
				m.Taken = append(m.Taken, t)
				edits = append(edits, edit...)
			}
		}
	}
	if len(m.Conflicts) > 0 {
		return m, nil
	}
	if issue != nil && len(Jobs(issue.Root, office.Root)) == 0 && len(m.Left) == 0 {
		m.Data = bytes.Clone(siteText)
		return m, nil
	}
	// What is taken out of a list moves what stands behind it: from the end to the beginning, and after all other edits.
	slices.SortStableFunc(edits, func(a, b jobfile.Edit) int {
		switch {
		case a.Value != nil && b.Value != nil:
			return 0
		case a.Value != nil:
			return -1
		case b.Value != nil:
			return 1
		}
		return backwards(a.Pointer, b.Pointer)
	})
	data := officeText
	if len(edits) > 0 {
		var err error
		if data, err = jobfile.Rewrite(office.Name, officeText, edits); err != nil {
			return nil, err
		}
	}
	// The text is read again: it must say what was to be said, and nothing else.
	root, err := jobfile.Read(office.Name, data)
	if err != nil {
		return nil, fmt.Errorf("the merged job cannot be read again: %w", err)
	}
	for _, t := range m.Taken {
		if v, _ := t.find(root); !Same(v, t.After) {
			return nil, fmt.Errorf("%s of %s could not be brought into %s", t.Field, t.Part.Name(), office.Name)
		}
	}
	m.Data = data
	return m, nil
}

// backwards compares pointers so that later elements come first.
func backwards(a, b string) int {
	x, y := strings.Split(a, "/"), strings.Split(b, "/")
	for i := range min(len(x), len(y)) {
		n, err := strconv.Atoi(x[i])
		k, err2 := strconv.Atoi(y[i])
		if err == nil && err2 == nil && n != k {
			return k - n
		}
		if c := strings.Compare(y[i], x[i]); c != 0 {
			return c
		}
	}
	return len(y) - len(x)
}

// carry says how a change of the site is made in the office's revision, or why it is not.
func (t *Taken) carry(office *jobfile.Node, issued bool, prefer Prefer) []jobfile.Edit {
	list, owner := t.Part.locate(office)
	v, pointer := t.find(office)
	t.Office = v
	if Same(v, t.After) && t.Sort != Reordered {
		t.Agreed = true
		return nil
	}
	switch t.Sort {
	case Reordered:
		t.Why = "the order is another on site; put it right by hand"
		return nil
	case Added:
		if v != nil && prefer != Site {
			t.Why = "the office has one of this name that is another"
			return nil
		}
		if list == "" || !owner {
			t.Why = "what it belongs to is not there in the office's revision"
			return nil
		}
		if v == nil {
			pointer = list + "/-"
		}
		return []jobfile.Edit{{Pointer: pointer, Value: t.After}}
	case Removed:
		switch {
		case !issued:
			t.Why = ""
			t.Agreed = true // only the office has it: it is kept
			t.After = v
			return nil
		case !Same(v, t.Before) && prefer != Site:
			t.Why = "the office changed what the site took away"
			return nil
		}
		return []jobfile.Edit{{Pointer: pointer}}
	}
	if !t.Part.there(office) {
		t.Why = "the office took it away"
		return nil
	}
	if absent(t.After) {
		if !issued {
			t.Agreed, t.After = true, v
			return nil
		}
		if !Same(v, t.Before) && prefer != Site {
			t.Why = "the office says something else meanwhile"
			return nil
		}
		return []jobfile.Edit{{Pointer: pointer}}
	}
	if (issued && !Same(v, t.Before) || !issued && !absent(v)) && prefer != Site {
		t.Why = "the office says something else"
		if issued {
			t.Why += " meanwhile"
		}
		return nil
	}
	return []jobfile.Edit{{Pointer: pointer, Value: t.After}}
}

// locate gives the pointer of the list that a part belongs to, and whether what the list belongs to is there.
func (p *Part) locate(root *jobfile.Node) (pointer string, owner bool) {
	if p.List == "" {
		return "", true
	}
	at, n := "", root
	for i, step := range strings.Split(p.List, "/") {
		if i%2 == 1 { // a thing of the list before
			k := slices.Index(names(n), step)
			if k < 0 {
				return "", false
			}
			at, n = at+"/"+strconv.Itoa(k), n.Items()[k]
			continue
		}
		for _, key := range strings.Split(step, ".") {
			at += "/" + key
			n = n.Get(key)
		}
	}
	return at, true
}

// self gives the pointer of the part and the part itself, nil when it is not there.
func (p *Part) self(root *jobfile.Node) (string, *jobfile.Node) {
	at, ok := p.locate(root)
	if !ok {
		return "", nil
	}
	n := root.At(at)
	if p.ID == "" {
		return at, n
	}
	k := slices.Index(names(n), p.ID)
	if k < 0 {
		return "", nil
	}
	return at + "/" + strconv.Itoa(k), n.Items()[k]
}

// there says whether a fact of the part can be given: a part without a name is made where it is missing.
func (p *Part) there(root *jobfile.Node) bool {
	_, n := p.self(root)
	return n != nil || p.ID == ""
}

// find gives what a revision says of the changed fact, and its pointer.
func (t *Taken) find(root *jobfile.Node) (*jobfile.Node, string) {
	at, n := t.Part.self(root)
	if t.Field == "" {
		return n, at
	}
	for _, key := range strings.Split(t.Field, ".") {
		key, index, numbered := strings.Cut(strings.TrimSuffix(key, "]"), "[")
		at += "/" + key
		n = n.Get(key)
		if numbered {
			k, _ := strconv.Atoi(index)
			if k-1 >= count(n) {
				// one more than there is: behind the last
				at += "/-"
				n = nil
				continue
			}
			at += "/" + strconv.Itoa(k-1)
			n = n.Items()[k-1]
		}
	}
	return n, at
}
