// Package geometry measures a foam panel face and a plan of a room.
//
// Units: every length is in millimetres, every angle in degrees, every area in
// square millimetres. On a panel face x runs right and y runs up. A plan is
// seen from above; see [Chain] for its convention.
//
// Bad input is never measured. A number that is not finite or lies beyond
// [MaxCoordMM], a line with fewer than two points, a ring with fewer than three
// and a width of zero or less give an error. Where a function has no error
// result it has ok = false, a leg of -1, [PositionUnknown], or the answer that
// raises a finding; each comment says which. No result is ever NaN.
//
// Results are not rounded. Compare a length with a limit after [RoundMM].
//
// The formulas are elementary plane geometry (computed and cross-checked
// against an independent geometry library in the tests) unless a comment
// says otherwise.
package geometry

import (
	"errors"
	"fmt"
	"math"
)

const (
	// MaxCoordMM is the largest magnitude that a coordinate, radius or width may
	// have. It keeps squares and products far from overflow.
	MaxCoordMM = 1e9
	// BoundaryTolMM is how near a point must be to count as lying on a line.
	BoundaryTolMM = 1e-9
	// SameMM is how near two points must be to count as the same point, and how
	// near two legs of a run must be to count as touching.
	SameMM = 1e-6
)

// Errors of this package. Use errors.Is; most are wrapped with detail.
var (
	ErrNotFinite    = errors.New("geometry: a number is not finite or is out of range")
	ErrTooFewPoints = errors.New("geometry: too few points")
	ErrWidth        = errors.New("geometry: a width or length must be greater than zero")
	ErrRadius       = errors.New("geometry: a radius must not be negative")
	ErrRect         = errors.New("geometry: the minimum of a rectangle or box lies beyond its maximum")
	ErrAngle        = errors.New("geometry: the angle is out of range")
	ErrOverlap      = errors.New("geometry: the groove runs into itself")
	ErrWall         = errors.New("geometry: no such wall")
)

// Point is a place on a face or plan, in mm.
type Point struct{ X, Y float64 }

// Circle is a round hole or body, in mm. A radius of 0 is a point.
type Circle struct {
	Centre Point
	R      float64
}

// Rect is an axis-parallel rectangle, in mm. Min must not exceed Max.
type Rect struct{ Min, Max Point }

// Polygon is a ring of corners in order, in mm, without a repeated end point.
// Either sense of rotation is accepted. The boundary belongs to the polygon for
// distances, and is an answer of its own in [PointInPolygon].
type Polygon []Point

// Position says where a point lies relative to a polygon.
type Position int

// Positions. The zero value is the answer for bad input.
const (
	PositionUnknown Position = iota
	Outside
	Boundary
	Inside
)

// String returns the position in plain words.
func (p Position) String() string {
	switch p {
	case Outside:
		return "outside"
	case Boundary:
		return "boundary"
	case Inside:
		return "inside"
	}
	return "unknown"
}

// RoundMM rounds v to 0.001 mm, half away from zero. A value within 1e-9 mm
// below a half counts as a half, so that 1.0005 gives 1.001 although its binary
// form lies a little lower. The result is never -0. An infinity comes back
// unchanged; NaN becomes +Inf, which no report can carry, so the fault is seen.
func RoundMM(v float64) float64 {
	// Most lengths are whole millimetres.
	if n := int32(v); float64(n) == v {
		return float64(n)
	}
	return roundFraction(v)
}

func roundFraction(v float64) float64 {
	if math.IsNaN(v) {
		return math.Inf(1)
	}
	scaled := math.Abs(v) * 1000
	if scaled >= 1<<52 {
		return v // no fraction is left to round
	}
	r := math.Floor(scaled+0.5+1e-6) / 1000
	if r == 0 {
		return 0
	}
	return math.Copysign(r, v)
}

// PointDistance returns √(Δx²+Δy²) in mm.
func PointDistance(a, b Point) (float64, error) {
	if err := checkPoints(a, b); err != nil {
		return 0, err
	}
	return dist(a, b), nil
}

// PointSegment returns the distance in mm from p to the segment a–b:
// |p − (a + t(b−a))| with t = clamp((p−a)·(b−a)/|b−a|², 0, 1).
// For a segment of no length it is |p − a|.
func PointSegment(p, a, b Point) (float64, error) {
	if err := checkPoints(p, a, b); err != nil {
		return 0, err
	}
	return dist(p, nearest(p, a, b)), nil
}

// SegmentSegment returns the distance in mm between the segments a–b and c–d:
// 0 if they cross or touch (within BoundaryTolMM), else the least of the four
// distances from an end to the other segment.
func SegmentSegment(a, b, c, d Point) (float64, error) {
	if err := checkPoints(a, b, c, d); err != nil {
		return 0, err
	}
	return segSeg(a, b, c, d), nil
}

// PointInPolygon says whether p is inside, outside, or on the boundary (within
// BoundaryTolMM; tested first). The inside is found by the even–odd rule with a
// half-open ray cast, (y₁ > p.Y) ≠ (y₂ > p.Y), so a ray through a corner counts
// once. Bad input gives PositionUnknown.
func PointInPolygon(p Point, poly Polygon) Position {
	if checkPoints(p) != nil || poly.Check() != nil {
		return PositionUnknown
	}
	return pointIn(p, poly)
}

// PolygonPolyline returns the distance in mm between the area of poly and the
// axis of line: 0 if the line crosses, touches or lies inside, else the least
// distance to an edge.
func PolygonPolyline(poly Polygon, line Polyline) (float64, error) {
	if err := errors.Join(poly.Check(), line.Check()); err != nil {
		return 0, err
	}
	if pointIn(line[0], poly) != Outside {
		return 0, nil
	}
	best := math.Inf(1)
	for i := range poly {
		a, b := poly.edge(i)
		for j := 1; j < len(line); j++ {
			best = math.Min(best, segSeg(a, b, line[j-1], line[j]))
		}
	}
	return best, nil
}

// PolygonPolygon returns the distance in mm between two areas: 0 if they
// overlap, touch, or one lies inside the other.
func PolygonPolygon(a, b Polygon) (float64, error) {
	if err := errors.Join(a.Check(), b.Check()); err != nil {
		return 0, err
	}
	if pointIn(a[0], b) != Outside || pointIn(b[0], a) != Outside {
		return 0, nil
	}
	best := math.Inf(1)
	for i := range a {
		p, q := a.edge(i)
		for j := range b {
			r, s := b.edge(j)
			best = math.Min(best, segSeg(p, q, r, s))
		}
	}
	return best, nil
}

// Check reports why the ring cannot be measured: fewer than three points, or a
// coordinate that is not finite.
func (poly Polygon) Check() error {
	if len(poly) < 3 {
		return fmt.Errorf("%w: a polygon needs 3, got %d", ErrTooFewPoints, len(poly))
	}
	return checkPoints(poly...)
}

// Area returns the area in mm² by the shoelace formula, never negative.
func (poly Polygon) Area() (float64, error) {
	if err := poly.Check(); err != nil {
		return 0, err
	}
	sum := 0.0
	for i := range poly {
		a, b := poly.edge(i)
		sum += cross(sub(a, poly[0]), sub(b, poly[0]))
	}
	return math.Abs(sum) / 2, nil
}

// SelfCrosses reports whether two edges that are not neighbours cross or touch
// (within SameMM), or two neighbours fold straight back over each other.
// Bad input gives true, so that no check passes on it; see Check.
func (poly Polygon) SelfCrosses() bool {
	if poly.Check() != nil {
		return true
	}
	ring := append(append(make(Polyline, 0, len(poly)+1), poly...), poly[0])
	return crosses(appendLegs(make([]leg, 0, len(poly)), ring, 0), true)
}

func (poly Polygon) edge(i int) (Point, Point) {
	if i+1 == len(poly) {
		return poly[i], poly[0]
	}
	return poly[i], poly[i+1]
}

// The helpers below take finite input for granted.

func finite(v float64) bool { return math.Abs(v) <= MaxCoordMM } // false for NaN

func (p Point) finite() bool { return finite(p.X) && finite(p.Y) }

func checkPoints(ps ...Point) error {
	for i, p := range ps {
		if !finite(p.X) || !finite(p.Y) {
			return fmt.Errorf("%w: point %d", ErrNotFinite, i)
		}
	}
	return nil
}

func sub(a, b Point) Point       { return Point{a.X - b.X, a.Y - b.Y} }
func dot(u, v Point) float64     { return u.X*v.X + u.Y*v.Y }
func cross(u, v Point) float64   { return u.X*v.Y - u.Y*v.X }
func dist(a, b Point) float64    { return math.Sqrt(dist2(a, b)) }
func dist2(a, b Point) float64   { d := sub(a, b); return dot(d, d) }
func turnRad(u, v Point) float64 { return math.Atan2(math.Abs(cross(u, v)), dot(u, v)) }

func nearest(p, a, b Point) Point {
	ab := sub(b, a)
	len2 := dot(ab, ab)
	if len2 == 0 {
		return a
	}
	switch t := dot(sub(p, a), ab) / len2; {
	case t <= 0:
		return a
	case t >= 1:
		return b
	default:
		return Point{a.X + t*ab.X, a.Y + t*ab.Y}
	}
}

func segSeg(a, b, c, d Point) float64 {
	if properlyCross(a, b, c, d) {
		return 0
	}
	m := min(
		dist2(a, nearest(a, c, d)), dist2(b, nearest(b, c, d)),
		dist2(c, nearest(c, a, b)), dist2(d, nearest(d, a, b)))
	if m <= BoundaryTolMM*BoundaryTolMM {
		return 0
	}
	return math.Sqrt(m)
}

// properlyCross first asks whether the boxes meet: for two stretches of one
// slanting line the signs below are rounding noise.
func properlyCross(a, b, c, d Point) bool {
	if boxGap(a, b, c, d) > 0 {
		return false
	}
	ab, cd := sub(b, a), sub(d, c)
	return opposite(cross(ab, sub(c, a)), cross(ab, sub(d, a))) &&
		opposite(cross(cd, sub(a, c)), cross(cd, sub(b, c)))
}

func opposite(u, v float64) bool { return u < 0 && v > 0 || u > 0 && v < 0 }

// boxGap is a lower bound of the distance between two segments.
func boxGap(a, b, c, d Point) float64 {
	gx := max(min(a.X, b.X)-max(c.X, d.X), min(c.X, d.X)-max(a.X, b.X))
	gy := max(min(a.Y, b.Y)-max(c.Y, d.Y), min(c.Y, d.Y)-max(a.Y, b.Y))
	return max(gx, gy, 0)
}

func pointIn(p Point, poly Polygon) Position {
	if ringDist(p, poly) <= BoundaryTolMM {
		return Boundary
	}
	in := false
	for i := range poly {
		a, b := poly.edge(i)
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(b.X-a.X)*(p.Y-a.Y)/(b.Y-a.Y) {
			in = !in
		}
	}
	if in {
		return Inside
	}
	return Outside
}

func ringDist(p Point, poly Polygon) float64 {
	best := math.Inf(1)
	for i := range poly {
		a, b := poly.edge(i)
		best = min(best, dist2(p, nearest(p, a, b)))
	}
	return math.Sqrt(best)
}
