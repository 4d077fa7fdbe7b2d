package jobfile

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
	"sync"
	"time"

	"wetrule/schema"
)

// File is one job file as read: its tree with positions, and the job.
type File struct {
	Name string
	Root *Node
	Job  *Job
}

var jobSchema = sync.OnceValues(func() (*Schema, error) {
	const name = "job.schema.json"
	return Compile(map[string][]byte{name: schema.Bytes(name)}, name)
})

// Prepare compiles the schema of jobs, which otherwise happens with the first job. It may run beside other preparations.
func Prepare() error {
	_, err := jobSchema()
	return err
}

// Load reads a job: bytes to tree, tree against the schema, tree to job, and names that one
// part of the job uses for another. The error is Problems when the file is at fault.
func Load(name string, data []byte) (*File, error) {
	m := new(Memory)
	root, err := m.Read(name, data)
	if err != nil {
		return nil, err
	}
	return m.FromNode(name, root)
}

// FromNode does what Load does from a tree that has been read.
func FromNode(name string, root *Node) (*File, error) { return new(Memory).FromNode(name, root) }

// FromNode does what the function FromNode does, into this memory. The tree may be of this memory too.
func (m *Memory) FromNode(name string, root *Node) (*File, error) {
	m.inUse = true
	s, err := jobSchema()
	if err != nil {
		return nil, err
	}
	if err := s.Validate(name, root); err != nil {
		return nil, err
	}
	f := m.files.one()
	f.Name, f.Root, f.Job = name, root, m.jobs.one()
	if err := m.decode(root, f.Job); err != nil {
		return nil, err
	}
	c := &crossCheck{file: name, ids: &m.ids}
	c.job(f.Job)
	if len(c.problems) > 0 {
		return nil, c.problems.finish()
	}
	return f, nil
}

// crossCheck sees that the names which one part of a job uses for another exist, that
// ids are not used twice, and that nothing ends before it begins. Pointers and messages are only written when something is wrong.
type crossCheck struct {
	file     string
	problems Problems
	ids      *[declared]map[string]*Node // where an id stands
}

// declares is what carries an id.
type declares uint8

const (
	face declares = iota
	opening
	partition
	circuit
	item
	declared // how many there are
)

func (d declares) String() string {
	return [...]string{"face", "opening", "partition", "circuit", "item"}[d]
}

// spot is a JSON Pointer in parts: a list, an index in it unless that is negative, and what follows.
type spot struct {
	list  string
	index int
	rest  string
}

// to writes the pointer of something there.
func (s spot) to(rest string) string {
	if s.index < 0 {
		return s.list + s.rest + rest
	}
	return s.list + "/" + strconv.Itoa(s.index) + s.rest + rest
}

func (c *crossCheck) bad(n *Node, pointer, format string, args ...any) {
	p := Problem{File: c.file, Pointer: pointer, Message: fmt.Sprintf(format, args...)}
	if n != nil {
		p.Line, p.Col = int(n.Line), int(n.Col)
	}
	c.problems = append(c.problems, p)
}

// declare notes an id.
func (c *crossCheck) declare(what declares, id string, n *Node, at spot) {
	if first, twice := c.ids[what][id]; twice {
		c.bad(n.Get("id"), at.to("/id"), "%s id %q is used twice; first at %d:%d", what, id, first.Line, first.Col)
		return
	}
	if own := n.Get("id"); own != nil {
		n = own
	}
	c.ids[what][id] = n
}

// refer sees that the id exists to which a key of a node refers. An empty id refers to nothing.
func (c *crossCheck) refer(what declares, id string, n *Node, key string, at spot) {
	if !c.has(what, id) {
		c.unknown(what, id, n.Get(key), at.to("/"+key))
	}
}

func (c *crossCheck) has(what declares, id string) bool {
	if id == "" {
		return true
	}
	_, ok := c.ids[what][id]
	return ok
}

func (c *crossCheck) unknown(what declares, id string, n *Node, pointer string) {
	c.bad(n, pointer, "there is no %s %q%s", what, id, refWords(id, sortedKeys(c.ids[what])))
}

func (c *crossCheck) job(j *Job) {
	r := j.Room
	for what, count := range [declared]int{face: len(r.Walls) + 2 + 2*len(r.Benches), opening: len(r.Openings), partition: len(r.Partitions),
		circuit: len(j.Circuits), item: len(j.Items)} {
		if c.ids[what] == nil {
			c.ids[what] = make(map[string]*Node, count)
		}
		clear(c.ids[what]) // a job may have been found at fault before
	}
	for i := range r.Walls {
		w := &r.Walls[i]
		at := spot{"/room/walls", i, ""}
		if w.ID == "floor" || w.ID == "ceiling" {
			c.bad(w.Pos.Get("id"), at.to("/id"), "%q is the name of another face; a wall needs an id of its own", w.ID)
		}
		c.declare(face, w.ID, w.Pos, at)
	}
	if r.Floor != nil {
		c.declare(face, "floor", r.Floor.Pos, spot{"/room/floor", -1, ""})
	}
	if r.Ceiling != nil {
		c.declare(face, "ceiling", r.Ceiling.Pos, spot{"/room/ceiling", -1, ""})
	}
	for i := range r.Benches {
		b := &r.Benches[i]
		at := spot{"/room/benches", i, ""}
		c.declare(face, b.ID+".seat", b.Pos, at)
		c.declare(face, b.ID+".riser", b.Pos, at)
		c.refer(face, b.Wall, b.Pos, "wall", at)
	}
	for i := range r.Openings {
		o := &r.Openings[i]
		at := spot{"/room/openings", i, ""}
		c.declare(opening, o.ID, o.Pos, at)
		c.refer(face, o.Face, o.Pos, "face", at)
	}
	if k := r.Ceiling; k != nil {
		c.refer(face, k.LowWall, k.Pos, "low_wall", spot{"/room/ceiling", -1, ""})
	}
	for i := range r.Partitions {
		k := &r.Partitions[i]
		at := spot{"/room/partitions", i, ""}
		c.declare(partition, k.ID, k.Pos, at)
		c.refer(face, k.Wall, k.Pos, "wall", at)
	}
	for i := range j.Circuits {
		c.declare(circuit, j.Circuits[i].ID, j.Circuits[i].Pos, spot{"/circuits", i, ""})
	}
	for i := range j.Items {
		c.declare(item, j.Items[i].ID, j.Items[i].Pos, spot{"/items", i, ""})
	}
	for i := range j.Circuits {
		k := &j.Circuits[i]
		c.refer(item, k.Source, k.Pos, "source", spot{"/circuits", i, ""})
	}
	for i := range j.Items {
		it := &j.Items[i]
		at := spot{"/items", i, ""}
		c.refer(face, it.Face, it.Pos, "face", at)
		c.refer(circuit, it.Circuit, it.Pos, "circuit", at)
		c.refer(item, it.Generator, it.Pos, "generator", at)
		c.refer(item, it.Cable, it.Pos, "cable", at)
		c.refer(item, it.Illuminator, it.Pos, "illuminator", at)
	}
	for i := range j.Tasks {
		t := &j.Tasks[i]
		at := spot{"/tasks", i, ""}
		c.referAll(item, t.Items, t.Pos, "items", at)
		c.referAll(face, t.Faces, t.Pos, "faces", at)
		c.span(t.Planned, spot{"/tasks", i, "/planned"})
		c.span(t.Actual, spot{"/tasks", i, "/actual"})
	}
	c.programme(j)
	for i := range j.Records {
		rec := &j.Records[i]
		at := spot{"/records", i, ""}
		c.refer(item, rec.Item, rec.Pos, "item", at)
		c.refer(face, rec.Face, rec.Pos, "face", at)
		c.times(rec.Start, rec.Finish, rec.Pos, at)
	}
}

// referAll does for a list of ids what refer does for one.
func (c *crossCheck) referAll(what declares, ids []string, n *Node, key string, at spot) {
	for k, id := range ids {
		if !c.has(what, id) {
			c.unknown(what, id, n.Get(key).Items()[k], at.to(fmt.Sprintf("/%s/%d", key, k)))
		}
	}
}

func (c *crossCheck) span(s *Span, at spot) {
	if s != nil {
		c.times(s.Start, s.Finish, s.Pos, at)
	}
}

func (c *crossCheck) times(start, finish string, n *Node, at spot) {
	if start == "" || finish == "" {
		return
	}
	// Times with the same offset, and the same part of a second, come in the order of their texts. Nearly all do.
	const second = len("2006-01-02T15:04:05")
	if isDateTime(start) && isDateTime(finish) && start[second:] == finish[second:] && start <= finish {
		return
	}
	a, err1 := time.Parse(time.RFC3339, start)
	b, err2 := time.Parse(time.RFC3339, finish)
	if err1 == nil && err2 == nil && b.Before(a) {
		c.bad(n.Get("finish"), at.to("/finish"), "finish %s lies before start %s", finish, start)
	}
}

// refWords ends a message with the nearest known word, or with the known words.
func refWords(word string, known []string) string {
	if s := Suggest(word, known); s != "" {
		return fmt.Sprintf("; did you mean %q?", s)
	}
	return refList(known)
}

func refList(known []string) string {
	const most = 12
	switch {
	case len(known) == 0:
		return "; the job has none"
	case len(known) > most:
		return fmt.Sprintf("; there are %d", len(known))
	}
	sort.Strings(known)
	return "; known: " + strings.Join(known, ", ")
}
