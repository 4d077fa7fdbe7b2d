// Package jobtest makes odd jobs for tests: jobs that the schema accepts and nobody would write.
package jobtest

import (
	"math"
	"strconv"
	"sync"

	"wetrule/lint/jobfile"
	"wetrule/schema"
)

// MaxChanges is how many changes one spelling makes at most, so that a long one is no slower than a short one.
const MaxChanges = 24

// Hostile are texts that are markup, commands, control sequences or breaks somewhere. Every one of them is allowed in a job.
var Hostile = []string{
	`</title></style></script></svg><script>window.ran=1</script><img src=x onerror="window.ran=1">`,
	`"><a href="javascript:window.ran=1" onclick='x'>`, "]]> --> <![CDATA[ <!DOCTYPE x [<!ENTITY y SYSTEM \"file:///dev/null\">]> &y; &amp; &#x0;",
	"a\r\nb\n:1:1: critical: forged\tc\rd", "\u202eright\u2066 to left \u200b\u00ad\u2060\U000e0041", "endstream endobj\n>> (\\) Tj ET Q /JS /Launch %PDF-1.7 \\)",
	"$(touch x) `touch x` ; rm -rf . | & && ../../../etc/passwd \\\\share\\x C:\\x ~/x", "BEGIN:VEVENT\r\nEND:VCALENDAR\r\nDTSTART:;,\\n", "=1+1 @SUM(A1) +cmd|' /C x'!A0",
	"{{.}} {0} %s %n ${x} [words](target) *a* _b_ # c", "水 Душ Øß é\u0301 \U0001f6bf \ufffd \ue000", " ", "-", "null", "0", "\\", "\"", "'",
}

// numbers stand in place of a number when its limits allow them. They are ends of formats and what rounding is lost on.
var numbers = []float64{0, 1, -1, 0.001, 0.0005, 1e-9, 1.0005, 2.675, 1e6, 1e9, 1e15, -1e15, 49.999999, 50.000001, 1.0 / 3, 99.5, 100, 273.15, -273.15}

var jobSchema = sync.OnceValues(func() (*jobfile.Node, error) {
	return jobfile.Read("job.schema.json", schema.Bytes("job.schema.json"))
})

// Change makes changes to a copy of a job, four bytes of the spelling a change, and returns it when it is accepted as a job. A change after
// which it is not is taken back, so the result is the base itself at the least.
func Change(base *jobfile.Node, spelling []byte) (*jobfile.File, error) {
	root := base.Clone()
	f, err := jobfile.FromNode("job.yaml", root)
	if err != nil {
		return nil, err
	}
	s, err := jobSchema()
	if err != nil {
		return nil, err
	}
	for n := 0; len(spelling) >= 4 && n < MaxChanges; n++ {
		c := change{root: root, schema: s, what: spelling[2], with: spelling[3]}
		spelling0 := int(spelling[0])<<8 | int(spelling[1])
		spelling = spelling[4:]
		undo := c.at(spelling0)
		if undo == nil {
			continue
		}
		if next, err := jobfile.FromNode("job.yaml", root); err == nil {
			f = next
			continue
		}
		undo()
	}
	// Decoded jobs keep nodes of the tree, so the last one is made of the tree as it is now.
	if again, err := jobfile.FromNode("job.yaml", root); err == nil {
		return again, nil
	}
	return f, nil
}

// change is one change of a tree.
type change struct {
	root, schema *jobfile.Node
	what, with   byte
}

// place is one value of a tree with what holds it and the schema of it.
type place struct {
	parent *jobfile.Node
	index  int // among the members or items of the parent
	schema *jobfile.Node
}

func (p place) value() **jobfile.Node {
	if p.parent.Kind == jobfile.Map {
		return &p.parent.Members()[p.index].Value
	}
	return &p.parent.Items()[p.index]
}

// at changes the value with a number and returns how to take it back; nil when nothing is changed.
func (c *change) at(number int) (undo func()) {
	var places []place
	var walk func(n, s *jobfile.Node)
	walk = func(n, s *jobfile.Node) {
		s = c.resolve(n, s)
		for i := range n.Members() {
			p := place{n, i, s.Get("properties").Get(n.Members()[i].Key)}
			places = append(places, p)
			walk(n.Members()[i].Value, p.schema)
		}
		for i := range n.Items() {
			p := place{n, i, s.Get("items")}
			places = append(places, p)
			walk(n.Items()[i], p.schema)
		}
	}
	walk(c.root, c.schema)
	if len(places) == 0 {
		return nil
	}
	p := places[number%len(places)]
	old := *p.value()
	s := c.resolve(old, p.schema)
	switch c.what % 4 {
	case 0: // leave it out
		return c.drop(p)
	case 1: // more of it
		switch old.Kind {
		case jobfile.Map:
			return c.add(old, s)
		case jobfile.List:
			return c.repeat(old)
		}
	case 2: // another of its sort, from elsewhere in the job
		var same []*jobfile.Node
		for _, q := range places {
			if q.schema != nil && q.schema == p.schema && *q.value() != old {
				same = append(same, *q.value())
			}
		}
		if len(same) == 0 {
			return nil
		}
		*p.value() = same[int(c.with)%len(same)].Clone()
		return func() { *p.value() = old }
	}
	fresh := c.scalar(old, s)
	if fresh == nil {
		return nil
	}
	*p.value() = fresh
	return func() { *p.value() = old }
}

// resolve follows references and picks the schema of a kind.
func (c *change) resolve(n, s *jobfile.Node) *jobfile.Node {
	for range 8 {
		switch {
		case s.Get("$ref") != nil:
			s = c.schema.At(s.Get("$ref").Text[1:])
		case s.Get("x-kinds") != nil:
			kinds := s.Get("x-kinds")
			kind := n.Get(kinds.Get("property").Text)
			if kind == nil {
				return nil
			}
			s = kinds.Get("schemas").Get(kind.Text)
		default:
			return s
		}
	}
	return s
}

func (c *change) drop(p place) func() {
	if p.parent.Kind == jobfile.Map {
		old := p.parent.Members()
		p.parent.SetMembers(append(append([]jobfile.Member{}, old[:p.index]...), old[p.index+1:]...))
		return func() { p.parent.SetMembers(old) }
	}
	old := p.parent.Items()
	p.parent.SetItems(append(append([]*jobfile.Node{}, old[:p.index]...), old[p.index+1:]...))
	return func() { p.parent.SetItems(old) }
}

// add adds a key that is not there, with the example of the schema.
func (c *change) add(n, s *jobfile.Node) func() {
	var more []jobfile.Member
	properties := s.Get("properties")
	if properties == nil {
		return nil
	}
	for _, m := range properties.Members() {
		if n.Get(m.Key) != nil {
			continue
		}
		examples := m.Value.Get("examples")
		if r := c.resolve(nil, m.Value); examples == nil {
			examples = r.Get("examples")
		}
		if examples != nil && len(examples.Items()) > 0 {
			x := examples.Items()[0].Clone()
			standAt(x, n)
			more = append(more, jobfile.Member{Key: m.Key, KeyLine: n.Line, KeyCol: n.Col, Value: x})
		}
	}
	if len(more) == 0 {
		return nil
	}
	old := n.Members()
	n.SetMembers(append(append([]jobfile.Member{}, old...), more[int(c.with)%len(more)]))
	return func() { n.SetMembers(old) }
}

// standAt gives a tree from elsewhere the place of a node of the job.
func standAt(x, at *jobfile.Node) {
	x.Line, x.Col, x.EndCol = at.Line, at.Col, 0
	for i := range x.Members() {
		x.Members()[i].KeyLine, x.Members()[i].KeyCol = at.Line, at.Col
		standAt(x.Members()[i].Value, at)
	}
	for _, y := range x.Items() {
		standAt(y, at)
	}
}

// repeat doubles one element of a list, under another id when it has one.
func (c *change) repeat(n *jobfile.Node) func() {
	if len(n.Items()) == 0 {
		return nil
	}
	x := n.Items()[int(c.with)%len(n.Items())].Clone()
	if id := x.Get("id"); id != nil {
		id.Text = "n" + strconv.Itoa(len(n.Items())) + "_" + strconv.Itoa(int(c.with))
	}
	old := n.Items()
	n.SetItems(append(append([]*jobfile.Node{}, old...), x))
	return func() { n.SetItems(old) }
}

// scalar makes another value of the sort that the schema asks for.
func (c *change) scalar(old, s *jobfile.Node) *jobfile.Node {
	n := *old
	switch old.Kind {
	case jobfile.Bool:
		n.Bool = !n.Bool
		n.Text = strconv.FormatBool(n.Bool)
	case jobfile.Number:
		low, high := -math.MaxFloat64, math.MaxFloat64
		if v := s.Get("minimum"); v != nil {
			low = v.Num
		}
		if v := s.Get("maximum"); v != nil {
			high = v.Num
		}
		choice := append([]float64{low, high, (low + high) / 2, old.Num / 2, old.Num * 2, old.Num + 0.001, old.Num - 1, old.Num + 1, old.Num / 10, old.Num * 10}, numbers...)
		n.Num = min(max(choice[int(c.with)%len(choice)], low), high)
		if t := s.Get("type"); t != nil && t.Text == "integer" {
			n.Num = math.Trunc(n.Num)
		}
		n.Text = strconv.FormatFloat(n.Num, 'g', -1, 64)
	case jobfile.String:
		if words := s.Get("enum"); words != nil && len(words.Items()) > 0 {
			n.Text = words.Items()[int(c.with)%len(words.Items())].Text
			break
		}
		if f := s.Get("format"); f != nil {
			dates := []string{"2024-02-29", "1999-12-31", "2100-03-01", "2026-03-29", "2026-10-25", "2026-06-30"}
			n.Text = dates[int(c.with)%len(dates)]
			if f.Text == "date-time" {
				n.Text += []string{"T00:00:00Z", "T23:59:59+14:00", "T02:30:00-12:00", "T12:00:00.5+05:45"}[int(c.with)/len(dates)%4]
			}
			break
		}
		n.Text = Hostile[int(c.with)%len(Hostile)]
		if most := s.Get("maxLength"); most != nil {
			if r := []rune(n.Text); len(r) > int(most.Num) {
				n.Text = string(r[:int(most.Num)])
			}
		}
	default:
		return nil
	}
	n.EndCol = 0
	return &n
}
