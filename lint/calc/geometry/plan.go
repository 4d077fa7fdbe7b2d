package geometry

import (
	"fmt"
	"math"
	"slices"
)

// closingTolDeg is how far the turns of a closed plan may be from 360° in all.
// A convention of this package that leaves room for angles taken on site.
const closingTolDeg = 1.0

// Wall is one wall face of a room as seen from inside, with x running right.
type Wall struct {
	WidthMM float64
	// TurnDeg is the turn at the right-hand corner: 90 for an ordinary inside
	// corner, −90 for an outside corner, 0 where the next wall goes straight on.
	TurnDeg float64
}

// Plan is a chain of walls seen from above, in mm. Make it with [Chain].
type Plan struct {
	// Corners holds the left-hand corner of each wall; the first is (0, 0).
	Corners []Point
	// End is the right-hand corner of the last wall.
	End Point
	// ClosingMissMM is the distance from End back to the first corner.
	ClosingMissMM float64
	// ClosingMissDeg is the sum of the turns less 360.
	ClosingMissDeg float64

	dirs []Point // unit vector along each wall, left to right
	last float64 // width of the last wall
}

// Chain lays the walls one after another on the plan.
//
// Stand in the room and face a wall: its x runs to the right, and the next wall
// in the list starts at its right-hand end. Following the walls left to right
// goes clockwise round the room as seen from above, with the wall on the left
// hand and the room on the right. The plan has X to the right and Y up the page.
// The first wall starts at (0, 0) and runs along +X, so the room lies below it,
// at negative Y. An inside corner (TurnDeg 90) turns the heading clockwise, from
// +X to −Y; an outside corner (−90) turns it back.
//
// A plan that does not close, or has only one wall, is no error; see Closed.
// Errors: no wall, a width of zero or less, a number that is not finite, a turn
// of 180° or more either way.
func Chain(walls []Wall) (Plan, error) {
	if len(walls) == 0 {
		return Plan{}, fmt.Errorf("%w: a plan needs a wall", ErrTooFewPoints)
	}
	p := Plan{Corners: make([]Point, 0, len(walls)), dirs: make([]Point, 0, len(walls))}
	heading, turned := 0.0, 0.0
	for i, w := range walls {
		if err := checkWidth(w.WidthMM); err != nil {
			return Plan{}, fmt.Errorf("wall %d: %w", i, err)
		}
		if !(math.Abs(w.TurnDeg) < 180) {
			return Plan{}, fmt.Errorf("wall %d: %w: turn must be under 180 either way", i, ErrAngle)
		}
		u := unit(heading)
		p.Corners, p.dirs = append(p.Corners, p.End), append(p.dirs, u)
		p.End = Point{p.End.X + w.WidthMM*u.X, p.End.Y + w.WidthMM*u.Y}
		if err := checkPoints(p.End); err != nil {
			return Plan{}, fmt.Errorf("wall %d: %w", i, err)
		}
		heading = math.Mod(heading-w.TurnDeg, 360)
		turned += w.TurnDeg
		p.last = w.WidthMM
	}
	p.ClosingMissMM = dist(p.End, p.Corners[0])
	p.ClosingMissDeg = turned - 360
	return p, nil
}

// Closed reports whether the walls come back to their start: at least three
// walls, End within tolMM of the first corner, and turns that add up to 360°
// within 1°. Walls listed right to left add up to −360° and are not closed.
func (p *Plan) Closed(tolMM float64) bool {
	return len(p.dirs) >= 3 && finite(tolMM) && p.ClosingMissMM <= tolMM+BoundaryTolMM &&
		math.Abs(p.ClosingMissDeg) <= closingTolDeg+1e-9
}

// Place returns the plan position of a point xMM along a wall from its
// left-hand corner and offMM away from its face into the room. A negative offMM
// lies behind the face; xMM may lie beyond the wall.
func (p *Plan) Place(wall int, xMM, offMM float64) (Point, error) {
	if wall < 0 || wall >= len(p.dirs) || wall >= len(p.Corners) {
		return Point{}, fmt.Errorf("%w: %d", ErrWall, wall)
	}
	c, u := p.Corners[wall], p.dirs[wall]
	if !finite(xMM) || !finite(offMM) || !c.finite() {
		return Point{}, checkPoints(Point{xMM, offMM}, c)
	}
	n := Point{u.Y, -u.X} // right of the walk: into the room
	return Point{c.X + xMM*u.X + offMM*n.X, c.Y + xMM*u.Y + offMM*n.Y}, nil
}

// Local is the inverse of Place: how far along the wall and how far off its face
// the plan position lies, in mm.
func (p *Plan) Local(wall int, at Point) (xMM, offMM float64, err error) {
	if wall < 0 || wall >= len(p.dirs) || wall >= len(p.Corners) {
		return 0, 0, fmt.Errorf("%w: %d", ErrWall, wall)
	}
	c, u := p.Corners[wall], p.dirs[wall]
	if !at.finite() || !c.finite() {
		return 0, 0, checkPoints(at, c)
	}
	v := sub(at, c)
	return dot(v, u), dot(v, Point{u.Y, -u.X}), nil
}

// Polygon returns the room's outline, clockwise: the left-hand corners of the
// walls. It is an outline only when the plan is closed. The corners belong to the plan and must not be changed.
func (p *Plan) Polygon() Polygon { return slices.Clip(Polygon(p.Corners)) }

// SelfCrosses reports whether walls that are not neighbours cross or touch, or
// neighbours fold back. A plan of three or more walls whose closing miss is no
// more than half its first and last wall is taken as a ring, with the last wall
// brought to the first corner; else as an open line. An empty plan gives true.
func (p *Plan) SelfCrosses() bool {
	n := len(p.Corners)
	if n == 0 {
		return true
	}
	if n >= 3 && p.ClosingMissMM <= min(dist(p.Corners[0], p.Corners[1]), p.last)/2 {
		return p.Polygon().SelfCrosses()
	}
	return append(Polyline(p.Polygon()), p.End).SelfCrosses()
}

// unit is exact on the four main headings (within 1e-9°), so that square rooms
// close exactly.
func unit(deg float64) Point {
	if q := math.Round(deg / 90); math.Abs(deg-90*q) <= 1e-9 {
		return [4]Point{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}[(int(q)%4+4)%4]
	}
	s, c := math.Sincos(deg * math.Pi / 180)
	return Point{c, s}
}

// Point3 is a place in the room, in mm: X and Y on the plan, Z up.
type Point3 struct{ X, Y, Z float64 }

// Box3 is an axis-parallel box in the room, in mm.
type Box3 struct{ Min, Max Point3 }

// Distance3 returns √(Δx²+Δy²+Δz²) in mm.
func Distance3(a, b Point3) (float64, error) {
	if !a.finite() || !b.finite() {
		return 0, ErrNotFinite
	}
	x, y, z := a.X-b.X, a.Y-b.Y, a.Z-b.Z
	return math.Sqrt(x*x + y*y + z*z), nil
}

// DistanceBox3 returns the distance in mm from p to the box; 0 inside and on the
// surface. A box without thickness is allowed.
func (b Box3) DistanceBox3(p Point3) (float64, error) {
	if !b.Min.finite() || !b.Max.finite() || !p.finite() {
		return 0, ErrNotFinite
	}
	if b.Min.X > b.Max.X || b.Min.Y > b.Max.Y || b.Min.Z > b.Max.Z {
		return 0, ErrRect
	}
	return Distance3(p, Point3{
		min(max(p.X, b.Min.X), b.Max.X),
		min(max(p.Y, b.Min.Y), b.Max.Y),
		min(max(p.Z, b.Min.Z), b.Max.Z),
	})
}

func (p Point3) finite() bool { return finite(p.X) && finite(p.Y) && finite(p.Z) }
