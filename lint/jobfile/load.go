package jobfile

import (
	"fmt"
	"sort"
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

// Load reads a job: bytes to tree, tree against the schema, tree to job, and names that one
// part of the job uses for another. The error is Problems when the file is at fault.
func Load(name string, data []byte) (*File, error) {
	root, err := Read(name, data)
	if err != nil {
		return nil, err
	}
	return FromNode(name, root)
}

// FromNode does what Load does from a tree that has been read.
func FromNode(name string, root *Node) (*File, error) {
	s, err := jobSchema()
	if err != nil {
		return nil, err
	}
	if err := s.Validate(name, root); err != nil {
		return nil, err
	}
	f := &File{Name: name, Root: root, Job: &Job{}}
	if err := Decode(root, f.Job); err != nil {
		return nil, err
	}
	c := &crossCheck{file: name, ids: map[string]map[string]string{}}
	c.job(f.Job)
	if len(c.problems) > 0 {
		return nil, c.problems.finish()
	}
	return f, nil
}

// crossCheck sees that the names which one part of a job uses for another exist, that
// ids are not used twice, and that nothing ends before it begins.
type crossCheck struct {
	file     string
	problems Problems
	ids      map[string]map[string]string // list -> id -> where it stands
}

func (c *crossCheck) bad(n *Node, pointer, format string, args ...any) {
	p := Problem{File: c.file, Pointer: pointer, Message: fmt.Sprintf(format, args...)}
	if n != nil {
		p.Line, p.Col = n.Line, n.Col
	}
	c.problems = append(c.problems, p)
}

// declare notes an id.
func (c *crossCheck) declare(list, id string, n *Node, pointer string) {
	if c.ids[list] == nil {
		c.ids[list] = map[string]string{}
	}
	if first, twice := c.ids[list][id]; twice {
		c.bad(n.Get("id"), pointer+"/id", "%s id %q is used twice; first at %s", list, id, first)
		return
	}
	at := n.Get("id")
	if at == nil {
		at = n
	}
	c.ids[list][id] = fmt.Sprintf("%d:%d", at.Line, at.Col)
}

// refer sees that an id exists. An empty id refers to nothing.
func (c *crossCheck) refer(list, id string, n *Node, pointer string) {
	if id == "" {
		return
	}
	if _, ok := c.ids[list][id]; ok {
		return
	}
	known := make([]string, 0, len(c.ids[list]))
	for k := range c.ids[list] {
		known = append(known, k)
	}
	c.bad(n, pointer, "there is no %s %q%s", list, id, refWords(id, known))
}

func (c *crossCheck) job(j *Job) {
	r := j.Room
	for i := range r.Walls {
		w := &r.Walls[i]
		p := fmt.Sprintf("/room/walls/%d", i)
		if w.ID == "floor" || w.ID == "ceiling" {
			c.bad(w.Pos.Get("id"), p+"/id", "%q is the name of another face; a wall needs an id of its own", w.ID)
		}
		c.declare("face", w.ID, w.Pos, p)
	}
	if r.Floor != nil {
		c.declare("face", "floor", r.Floor.Pos, "/room/floor")
	}
	if r.Ceiling != nil {
		c.declare("face", "ceiling", r.Ceiling.Pos, "/room/ceiling")
	}
	for i := range r.Benches {
		b := &r.Benches[i]
		p := fmt.Sprintf("/room/benches/%d", i)
		c.declare("face", b.ID+".seat", b.Pos, p)
		c.declare("face", b.ID+".riser", b.Pos, p)
		c.refer("face", b.Wall, b.Pos.Get("wall"), p+"/wall")
	}
	for i := range r.Openings {
		o := &r.Openings[i]
		p := fmt.Sprintf("/room/openings/%d", i)
		c.declare("opening", o.ID, o.Pos, p)
		c.refer("face", o.Face, o.Pos.Get("face"), p+"/face")
	}
	if k := r.Ceiling; k != nil {
		c.refer("face", k.LowWall, k.Pos.Get("low_wall"), "/room/ceiling/low_wall")
	}
	for i := range r.Partitions {
		k := &r.Partitions[i]
		p := fmt.Sprintf("/room/partitions/%d", i)
		c.declare("partition", k.ID, k.Pos, p)
		c.refer("face", k.Wall, k.Pos.Get("wall"), p+"/wall")
	}
	for i := range j.Circuits {
		c.declare("circuit", j.Circuits[i].ID, j.Circuits[i].Pos, fmt.Sprintf("/circuits/%d", i))
	}
	for i := range j.Items {
		c.declare("item", j.Items[i].ID, j.Items[i].Pos, fmt.Sprintf("/items/%d", i))
	}
	for i := range j.Circuits {
		k := &j.Circuits[i]
		c.refer("item", k.Source, k.Pos.Get("source"), fmt.Sprintf("/circuits/%d/source", i))
	}
	for i := range j.Items {
		it := &j.Items[i]
		p := fmt.Sprintf("/items/%d/", i)
		for _, ref := range []struct{ list, id, key string }{{"face", it.Face, "face"}, {"circuit", it.Circuit, "circuit"}, {"item", it.Generator, "generator"}, {"item", it.Cable, "cable"}, {"item", it.Illuminator, "illuminator"}} {
			if ref.id != "" {
				c.refer(ref.list, ref.id, it.Pos.Get(ref.key), p+ref.key)
			}
		}
	}
	for i := range j.Tasks {
		t := &j.Tasks[i]
		p := fmt.Sprintf("/tasks/%d/", i)
		for k, id := range t.Items {
			c.refer("item", id, t.Pos.Get("items").Items[k], fmt.Sprintf("%sitems/%d", p, k))
		}
		for k, id := range t.Faces {
			c.refer("face", id, t.Pos.Get("faces").Items[k], fmt.Sprintf("%sfaces/%d", p, k))
		}
		c.span(t.Planned, p+"planned")
		c.span(t.Actual, p+"actual")
	}
	c.programme(j)
	for i := range j.Records {
		rec := &j.Records[i]
		p := fmt.Sprintf("/records/%d/", i)
		c.refer("item", rec.Item, rec.Pos.Get("item"), p+"item")
		c.refer("face", rec.Face, rec.Pos.Get("face"), p+"face")
		c.times(rec.Start, rec.Finish, rec.Pos, p)
	}
}

func (c *crossCheck) span(s *Span, pointer string) {
	if s != nil {
		c.times(s.Start, s.Finish, s.Pos, pointer+"/")
	}
}

func (c *crossCheck) times(start, finish string, n *Node, pointer string) {
	if start == "" || finish == "" {
		return
	}
	a, err1 := time.Parse(time.RFC3339, start)
	b, err2 := time.Parse(time.RFC3339, finish)
	if err1 == nil && err2 == nil && b.Before(a) {
		c.bad(n.Get("finish"), pointer+"finish", "finish %s lies before start %s", finish, start)
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
