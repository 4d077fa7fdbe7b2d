package measure

import (
	"errors"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// room3 is the room of a job in three dimensions, made when it is first asked for.
type room3 struct {
	made    bool
	room    *geometry.Room
	err     error
	benches map[*jobfile.Bench]int // solids of the room
	left    []string               // partitions and benches of which a size or place is missing
	flat    string                 // why a ceiling that is not flat is taken as flat
}

// errPlan says that the walls do not say enough for a plan.
var errPlan = errors.New("the plan of the room is not known: a width is missing, or the walls do not close")

// Room returns the model of the room. The error says why there is none: a width is missing, the walls do not
// close to 5 mm (*geometry.GapError), or cross (*geometry.CrossingError).
func (c *Context) Room() (*geometry.Room, error) {
	m := c.room3()
	return m.room, m.err
}

const planToleranceMM = 5

func (c *Context) room3() *room3 {
	m := &c.model
	if m.made {
		return m
	}
	m.made, m.benches, m.err = true, map[*jobfile.Bench]int{}, errPlan
	r := c.Job.Room
	var walls few[int]
	walls.makeRoom(len(r.Walls))
	spec := geometry.RoomSpec{ToleranceMM: planToleranceMM, Walls: make([]geometry.RoomWall, 0, len(r.Walls))}
	for i := range r.Walls {
		w := &r.Walls[i]
		walls.put(w.ID, i)
		if w.WidthMM == nil {
			return m
		}
		out := geometry.RoomWall{Name: w.ID, Wall: geometry.Wall{WidthMM: *w.WidthMM, TurnDeg: 90}}
		if w.TurnDeg != nil {
			out.TurnDeg = *w.TurnDeg
		}
		if h := c.Face(w.ID).Height; h != nil {
			out.HeightMM = *h
		}
		spec.Walls = append(spec.Walls, out)
	}
	spec.Ceiling, m.flat = roomCeiling(r, &walls)
	for i := range r.Benches {
		b := &r.Benches[i]
		wall, ok := walls.find(b.Wall)
		if !ok || b.XMM == nil || b.LengthMM == nil || b.DepthMM == nil || b.HeightMM == nil {
			m.left = append(m.left, b.ID)
			continue
		}
		m.benches[b] = len(spec.Solids)
		spec.Solids = append(spec.Solids, geometry.Solid{Name: b.ID, Sort: geometry.BenchSolid, Wall: wall, X0MM: *b.XMM, X1MM: *b.XMM + *b.LengthMM, Off1MM: *b.DepthMM, TopMM: *b.HeightMM})
	}
	for i := range r.Partitions {
		p := &r.Partitions[i]
		wall, ok := walls.find(p.Wall)
		if !ok || p.XMM == nil || p.LengthMM == nil || p.HeightMM == nil {
			m.left = append(m.left, p.ID)
			continue
		}
		s := geometry.Solid{Name: p.ID, Sort: geometry.PartitionSolid, Wall: wall, X0MM: *p.XMM, X1MM: *p.XMM, Off1MM: *p.LengthMM, TopMM: *p.HeightMM}
		if p.ThicknessMM != nil {
			s.X1MM += *p.ThicknessMM
		}
		spec.Solids = append(spec.Solids, s)
	}
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		if it.Kind != "glazed_door" {
			continue
		}
		if wall, ok := walls.find(it.Face); ok {
			if rect, ok := doorwayRect(it.XMM, it.YMM, it.WidthMM, it.HeightMM); ok {
				spec.Doorways = append(spec.Doorways, geometry.Doorway{Name: it.ID, Wall: wall, Rect: rect})
			}
		}
	}
	if f := r.Floor; f != nil {
		if f.FallPercent != nil {
			spec.Floor.FallPercent = *f.FallPercent
		}
		if mm, ok := finishMM(c.Face("floor")); ok {
			spec.Floor.BuildUpMM = mm
		}
	}
	if d, ok := c.onlyDrain(); ok {
		spec.Floor.Drain = &d
	}
	m.room, m.err = geometry.NewRoom(spec)
	return m
}

// roomCeiling makes the ceiling. One that slopes or is vaulted is taken as flat at the height of the walls as long
// as the job does not say from which wall it rises and how steeply; why says so.
func roomCeiling(r *jobfile.Room, walls *few[int]) (c *geometry.RoomCeiling, why string) {
	if r.HeightMM == nil {
		return nil, ""
	}
	c = &geometry.RoomCeiling{HeightMM: *r.HeightMM}
	k := r.Ceiling
	if k == nil || k.Shape == "flat" || k.SlopePercent != nil && *k.SlopePercent == 0 && k.Shape != "vaulted" {
		return c, ""
	}
	low, ok := walls.find(k.LowWall)
	if !ok || k.SlopePercent == nil || k.Shape == "" {
		return c, "the ceiling is taken as flat at the height of the walls"
	}
	c.Form, c.SlopePercent, c.LowWall = geometry.ShedCeiling, *k.SlopePercent, low
	if k.Shape == "vaulted" {
		c.Form = geometry.RidgeCeiling
		return c, "the vault is taken as two planes that meet in the middle"
	}
	return c, ""
}

// onlyDrain returns the place on the plan of the drain in the floor, when there is just one and it is placed. To
// several drains the floor falls in ways that the job does not say; it is taken as level then.
func (c *Context) onlyDrain() (at geometry.Point, ok bool) {
	plan := c.Plan()
	if plan == nil {
		return at, false
	}
	n := 0
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		if it.Kind != "drain" || it.Face != "floor" && it.Face != "" {
			continue
		}
		if n++; n > 1 || it.Face == "" || it.XMM == nil || it.YMM == nil {
			return at, false
		}
		var err error
		if at, err = plan.Place(0, *it.XMM, *it.YMM); err != nil {
			return at, false
		}
	}
	return at, n == 1
}

// finishMM is the thickness of the finish of a face in mm: of all layers but the mesh, which lies in the cement. ok is false
// when there is no layer or one of unknown thickness.
func finishMM(f *Face) (mm float64, ok bool) {
	if f == nil || len(f.BuildUp) == 0 {
		return 0, false
	}
	for i := range f.BuildUp {
		l := &f.BuildUp[i]
		if l.Layer == "mesh" {
			continue
		}
		if l.ThicknessMM == nil {
			return 0, false
		}
		mm += *l.ThicknessMM
	}
	return mm, true
}

func doorwayRect(x, y, w, h *float64) (r geometry.Rect, ok bool) {
	if x == nil || y == nil || w == nil || h == nil || *w < 0 || *h < 0 {
		return r, false
	}
	return geometry.Rect{Min: geometry.Point{X: *x, Y: *y}, Max: geometry.Point{X: *x + *w, Y: *y + *h}}, true
}

// faceRef names a face of the model. ok is false when the model does not hold it.
func (c *Context) faceRef(f *Face) (ref geometry.FaceRef, ok bool) {
	if f == nil {
		return ref, false
	}
	switch f.Kind {
	case WallFace:
		return geometry.FaceRef{Sort: geometry.WallSide, Index: f.Wall}, true
	case FloorFace:
		return geometry.FaceRef{Sort: geometry.FloorSide}, true
	case CeilingFace:
		return geometry.FaceRef{Sort: geometry.CeilingSide}, true
	case SeatFace, RiserFace:
		i, ok := c.room3().benches[f.Bench]
		if f.Kind == SeatFace {
			return geometry.FaceRef{Sort: geometry.SeatSide, Index: i}, ok
		}
		return geometry.FaceRef{Sort: geometry.RiserSide, Index: i}, ok
	}
	return ref, false
}

// place3 returns where a point of a face is in the room: x and y in plan, z above
// the finished floor at the walls, in mm; see [geometry.Room]. On the floor and the ceiling x runs along the
// first wall and y from it into the room.
func (c *Context) place3(face string, x, y *float64) (geometry.Point3, bool) {
	return c.placeOn(c.Face(face), x, y)
}

// placeOn is place3 of a face that is looked up.
func (c *Context) placeOn(f *Face, x, y *float64) (geometry.Point3, bool) {
	r, err := c.Room()
	if f == nil || err != nil || x == nil || y == nil {
		return geometry.Point3{}, false
	}
	if ref, ok := c.faceRef(f); ok {
		p, err := r.Place(ref, *x, *y)
		return p, err == nil
	}
	// A bench of which the model lacks a size may still have a known face; without x it begins at the left edge of its wall.
	b := f.Bench
	if b == nil || f.Wall < 0 || b.DepthMM == nil || f.Kind == SeatFace && b.HeightMM == nil {
		return geometry.Point3{}, false
	}
	off, z := *b.DepthMM, *y
	if f.Kind == SeatFace {
		off, z = *b.DepthMM-*y, *b.HeightMM
	}
	p, err := r.Plan.Place(f.Wall, benchX(b)+*x, off)
	return geometry.Point3{X: p.X, Y: p.Y, Z: z}, err == nil
}

// heightAbove is the height of a point of a face above finished floor, in mm. Walls, seats and risers are measured from the floor
// at the walls, which is level; under the ceiling the floor straight below counts.
func (c *Context) heightAbove(face string, p geometry.Point3) float64 {
	if f, r := c.Face(face), c.room3().room; f != nil && r != nil && (f.Kind == FloorFace || f.Kind == CeilingFace) {
		return r.HeightAboveFloor(p)
	}
	return p.Z
}
