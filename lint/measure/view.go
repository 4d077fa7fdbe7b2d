package measure

import (
	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// NewContext prepares a job for those who look at it without measuring it, such as drawings.
func NewContext(job *jobfile.Job) *Context { return newContext(job) }

// Face returns a face by id, or nil.
func (c *Context) Face(id string) *Face {
	if c.faces != nil {
		return c.faces[id]
	}
	for i := len(c.Faces) - 1; i >= 0; i-- {
		if f := c.Faces[i]; f.ID == id {
			return f
		}
	}
	return nil
}

// Outline returns the edge of a face in the coordinates of the face, in mm: the rectangle of walls and benches, the plan of the
// walls for floor and ceiling. It is nil when the job does not say enough or the walls do not close.
func (f *Face) Outline(c *Context) geometry.Polygon {
	switch f.Kind {
	case FloorFace, CeilingFace:
		plan := c.Plan()
		if plan == nil {
			return nil
		}
		out := make(geometry.Polygon, len(plan.Corners))
		for i, p := range plan.Corners {
			x, y, err := plan.Local(0, p)
			if err != nil {
				return nil
			}
			out[i] = geometry.Point{X: geometry.RoundMM(x), Y: geometry.RoundMM(y)}
		}
		return out
	}
	if f.Width == nil || f.Height == nil {
		return nil
	}
	return geometry.Rect{Max: geometry.Point{X: *f.Width, Y: *f.Height}}.Polygon()
}

// BenchX returns the distance of the left end of a bench from the left edge of its wall, in mm; 0 when it is not given.
func BenchX(b *jobfile.Bench) float64 { return benchX(b) }

// Footprint returns where a bench stands, in the coordinates of the floor, in mm; nil when the job does not say enough or the walls do not close.
func (c *Context) Footprint(b *jobfile.Bench) geometry.Polygon {
	plan, f := c.Plan(), c.Face(b.ID+".seat")
	if plan == nil || f == nil || f.Wall < 0 || b.LengthMM == nil || b.DepthMM == nil {
		return nil
	}
	x := benchX(b)
	ring := geometry.Rect{Min: geometry.Point{X: x}, Max: geometry.Point{X: x + *b.LengthMM, Y: *b.DepthMM}}.Polygon()
	for i, p := range ring {
		at, err := plan.Place(f.Wall, p.X, p.Y)
		if err != nil {
			return nil
		}
		u, v, err := plan.Local(0, at)
		if err != nil {
			return nil
		}
		ring[i] = geometry.Point{X: geometry.RoundMM(u), Y: geometry.RoundMM(v)}
	}
	return ring
}
