package geometry

import (
	"errors"
	"fmt"
	"math"
)

// CircleGap returns the clear gap in mm between two circles:
// √(Δx²+Δy²) − r₁ − r₂. A negative gap is the depth of the overlap.
func CircleGap(a, b Circle) (float64, error) {
	if err := errors.Join(a.Check(), b.Check()); err != nil {
		return 0, err
	}
	return dist(a.Centre, b.Centre) - a.R - b.R, nil
}

// CirclePolylineGap returns the clear gap in mm between a hole and a groove of
// the given width with round ends: d − r − w/2, where d is the distance from the
// centre to the axis of the groove. Negative: the hole cuts into the groove.
func CirclePolylineGap(c Circle, line Polyline, widthMM float64) (float64, error) {
	if err := errors.Join(c.Check(), line.Check(), checkWidth(widthMM)); err != nil {
		return 0, err
	}
	d, _, _ := PointPolyline(c.Centre, line)
	return d - c.R - widthMM/2, nil
}

// CirclePolygonEdgeGap returns the material left in mm between a hole and the
// edge of a panel: d − r, where d is the distance from the centre to the ring,
// taken as negative when the centre is outside. A centre on the boundary
// gives −r.
func CirclePolygonEdgeGap(c Circle, poly Polygon) (float64, error) {
	if err := errors.Join(c.Check(), poly.Check()); err != nil {
		return 0, err
	}
	d := ringDist(c.Centre, poly)
	if pointIn(c.Centre, poly) == Outside {
		d = -d
	}
	return d - c.R, nil
}

// RectGap returns the clear gap in mm between two axis-parallel rectangles:
// √(gx²+gy²) when they are apart in both directions, else the larger of gx and
// gy. Negative: the least shift along x or y that would free them.
func RectGap(a, b Rect) (float64, error) {
	if err := errors.Join(a.Check(), b.Check()); err != nil {
		return 0, err
	}
	gx := max(a.Min.X-b.Max.X, b.Min.X-a.Max.X)
	gy := max(a.Min.Y-b.Max.Y, b.Min.Y-a.Max.Y)
	if gx > 0 && gy > 0 {
		return math.Sqrt(gx*gx + gy*gy), nil
	}
	return max(gx, gy), nil
}

// RectCircleGap returns the clear gap in mm between a rectangle and a circle:
// d − r, where d is the distance from the centre to the nearest side, taken as
// negative when the centre is inside the rectangle.
func RectCircleGap(r Rect, c Circle) (float64, error) {
	if err := errors.Join(r.Check(), c.Check()); err != nil {
		return 0, err
	}
	d, err := RectGap(r, Rect{c.Centre, c.Centre})
	return d - c.R, err
}

// Check reports a centre or radius that cannot be measured.
func (c Circle) Check() error {
	if err := checkPoints(c.Centre); err != nil {
		return err
	}
	if !finite(c.R) {
		return fmt.Errorf("%w: radius", ErrNotFinite)
	}
	if c.R < 0 {
		return ErrRadius
	}
	return nil
}

// Check reports a corner that is not finite, or Min beyond Max. A rectangle of
// no width or height is allowed.
func (r Rect) Check() error {
	if err := checkPoints(r.Min, r.Max); err != nil {
		return err
	}
	if r.Min.X > r.Max.X || r.Min.Y > r.Max.Y {
		return ErrRect
	}
	return nil
}

// Polygon returns the four corners, anticlockwise from Min.
func (r Rect) Polygon() Polygon {
	return Polygon{r.Min, {r.Max.X, r.Min.Y}, r.Max, {r.Min.X, r.Max.Y}}
}

func checkWidth(w float64) error {
	if !finite(w) {
		return fmt.Errorf("%w: width", ErrNotFinite)
	}
	if w <= 0 {
		return ErrWidth
	}
	return nil
}
