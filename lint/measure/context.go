package measure

import (
	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// FaceKind says what sort of face it is.
type FaceKind string

// The sorts of faces.
const (
	WallFace    FaceKind = "wall"
	FloorFace   FaceKind = "floor"
	CeilingFace FaceKind = "ceiling"
	SeatFace    FaceKind = "seat"
	RiserFace   FaceKind = "riser"
)

// Face is one side of a board that people see, with what the job says of it
// once the job's defaults are laid under it.
type Face struct {
	ID       string
	Kind     FaceKind
	Wall     int // index of the wall for walls and benches, -1 otherwise
	Width    *float64
	Height   *float64
	Panel    *jobfile.Panel
	BuildUp  []jobfile.Layer
	Joints   *jobfile.Joints
	Bench    *jobfile.Bench
	Heated   *bool
	Fall     *float64
	Pos      *jobfile.Node
	Pointer  string
	JointsX  []float64
	number   int  // place among the faces of the context
	asBefore bool // made as the face before it
}

// fewFaces are found quicker one after the other than in a map.
const fewFaces = 16

func newContext(job *jobfile.Job) *Context { return newContextIn(&Memory{}, job) }

func newContextIn(m *Memory, job *jobfile.Job) *Context {
	faces := make([]Face, 0, len(job.Room.Walls)+2+2*len(job.Room.Benches))
	c := &Context{Job: job, memory: m, Faces: make([]*Face, 0, cap(faces)), items: make(map[string]*jobfile.Item, len(job.Items))}
	for i := range job.Items {
		c.items[job.Items[i].ID] = &job.Items[i]
	}
	c.circuits.makeRoom(len(job.Circuits))
	for i := range job.Circuits {
		c.circuits.put(job.Circuits[i].ID, int32(i))
	}
	if cap(faces) > fewFaces {
		c.faces = make(map[string]*Face, cap(faces))
	}
	room := job.Room
	add := func(face Face, panel *jobfile.Panel, build []jobfile.Layer, joints *jobfile.Joints) {
		faces = append(faces, face)
		f := &faces[len(faces)-1]
		f.Panel, f.BuildUp, f.Joints = job.Panel, job.BuildUp, job.Joints
		if panel != nil {
			f.Panel = panel
		}
		if build != nil {
			f.BuildUp = build
		}
		if joints != nil {
			f.Joints = joints
		}
		if f.number = len(c.Faces); f.number > 0 {
			f.asBefore = f.madeAs(c.Faces[f.number-1])
		}
		c.Faces = append(c.Faces, f)
		if c.faces != nil {
			c.faces[f.ID] = f
		}
	}
	for i := range room.Walls {
		w := &room.Walls[i]
		h := w.HeightMM
		if h == nil {
			h = room.HeightMM
		}
		add(Face{ID: w.ID, Kind: WallFace, Wall: i, Width: w.WidthMM, Height: h, Pos: w.Pos, Pointer: wallPointers.at(i), JointsX: w.PanelJointsXMM}, w.Panel, w.BuildUp, w.Joints)
	}
	if f := room.Floor; f != nil {
		add(Face{ID: "floor", Kind: FloorFace, Wall: -1, Pos: f.Pos, Pointer: "/room/floor", Heated: f.Heated, Fall: f.FallPercent}, f.Panel, f.BuildUp, f.Joints)
	}
	if f := room.Ceiling; f != nil {
		add(Face{ID: "ceiling", Kind: CeilingFace, Wall: -1, Pos: f.Pos, Pointer: "/room/ceiling"}, f.Panel, f.BuildUp, f.Joints)
	}
	for i := range room.Benches {
		b := &room.Benches[i]
		wall := -1
		for j := range room.Walls {
			if room.Walls[j].ID == b.Wall {
				wall = j
			}
		}
		p := benchPointers.at(i)
		add(Face{ID: b.ID + ".seat", Kind: SeatFace, Wall: wall, Width: b.LengthMM, Height: b.DepthMM, Bench: b, Pos: b.Pos, Pointer: p, Heated: b.Heated, Fall: b.FallPercent}, b.Panel, b.BuildUp, b.Joints)
		add(Face{ID: b.ID + ".riser", Kind: RiserFace, Wall: wall, Width: b.LengthMM, Height: b.HeightMM, Bench: b, Pos: b.Pos, Pointer: p}, b.Panel, b.BuildUp, b.Joints)
	}
	return c
}

// subjects is room for subjects, in memory of the job.
func (c *Context) subjects(n int) []Subject { return c.memory.subjects.Cut(n) }

// circuit returns a circuit by id, or nil.
func (c *Context) circuit(id string) *jobfile.Circuit {
	if i, ok := c.circuits.find(id); ok {
		return &c.Job.Circuits[i]
	}
	return nil
}

// Plan returns the plan of the room, or nil when the walls do not close to
// 5 mm: then no distance across faces can be told.
func (c *Context) Plan() *geometry.Plan {
	if c.plan == nil {
		c.plan = &geometry.Plan{}
		walls := make([]geometry.Wall, len(c.Job.Room.Walls))
		for i, w := range c.Job.Room.Walls {
			walls[i] = geometry.Wall{TurnDeg: 90}
			if w.WidthMM != nil {
				walls[i].WidthMM = *w.WidthMM
			}
			if w.TurnDeg != nil {
				walls[i].TurnDeg = *w.TurnDeg
			}
		}
		if p, err := geometry.Chain(walls); err == nil {
			c.plan = &p
		}
	}
	if len(c.plan.Corners) < 3 || !c.plan.Closed(5) {
		return nil
	}
	return c.plan
}

// soundPlan is the plan of the room, or nil when the walls do not close or cross each other.
func (c *Context) soundPlan() *geometry.Plan {
	if !c.sounded {
		c.sounded = true
		if p := c.Plan(); p != nil && !p.SelfCrosses() {
			c.sound = p
		}
	}
	return c.sound
}

// itemKinds numbers the kinds of items that itemsOf was asked for, at start-up.
var itemKinds wordList[int]

// itemsOf returns the subjects of one kind of item.
func itemsOf(kind string) func(*Context) []Subject {
	n, known := itemKinds.find(kind)
	if !known {
		n = itemKinds.n
		itemKinds.put(kind, n)
	}
	return func(c *Context) []Subject {
		list := c.itemsOfKinds()[n]
		if len(list) == 0 {
			return nil
		}
		out := c.subjects(len(list))
		for k, i := range list {
			it := &c.Job.Items[i]
			out[k] = Subject{Kind: kind, ID: it.ID, Pointer: itemPointers.at(int(i)), Pos: it.Pos, Item: it}
		}
		return out
	}
}

// itemsOfKinds lists the places of the items in the job by kind, each kind in the order of the job.
func (c *Context) itemsOfKinds() [][]int32 {
	if c.ofKinds != nil {
		return c.ofKinds
	}
	c.ofKinds = make([][]int32, itemKinds.n)
	kinds, count := make([]int32, 2*len(c.Job.Items)), make([]int32, itemKinds.n)
	lists := kinds[len(c.Job.Items):]
	kinds = kinds[:len(c.Job.Items)]
	for i := range c.Job.Items {
		kinds[i] = -1
		if k, ok := itemKinds.find(c.Job.Items[i].Kind); ok {
			kinds[i] = int32(k)
			count[k]++
		}
	}
	for k, n := range count {
		c.ofKinds[k], lists = lists[:0:n], lists[n:]
	}
	for i, k := range kinds {
		if k >= 0 {
			c.ofKinds[k] = append(c.ofKinds[k], int32(i))
		}
	}
	return c.ofKinds
}

func benchX(b *jobfile.Bench) float64 {
	if b.XMM == nil {
		return 0
	}
	return *b.XMM
}

// seatDistance returns the shortest distance from a point of the room to a
// seat (the upper side of a bench), in mm. ok is false when no bench has a known place.
func (c *Context) seatDistance(p geometry.Point3) (mm float64, ok bool) {
	plan := c.Plan()
	if plan == nil {
		return 0, false
	}
	for _, f := range c.Faces {
		if f.Kind != SeatFace || f.Wall < 0 || f.Bench.LengthMM == nil || f.Bench.DepthMM == nil || f.Bench.HeightMM == nil {
			continue
		}
		x, off, err := plan.Local(f.Wall, geometry.Point{X: p.X, Y: p.Y})
		if err != nil {
			continue
		}
		x0 := benchX(f.Bench)
		box := geometry.Box3{Min: geometry.Point3{X: x0, Y: 0, Z: *f.Bench.HeightMM}, Max: geometry.Point3{X: x0 + *f.Bench.LengthMM, Y: *f.Bench.DepthMM, Z: *f.Bench.HeightMM}}
		if d, err := box.DistanceBox3(geometry.Point3{X: x, Y: off, Z: p.Z}); err == nil && (!ok || d < mm) {
			mm, ok = d, true
		}
	}
	return mm, ok
}
