package geometry

import (
	"errors"
	"fmt"
	"math"
)

// BendRadius returns the tightest, over all corners, of the largest radius in
// mm that still fits the corner, and the number of that corner's point.
//
// A fillet of radius R at a corner that turns by φ takes T = R·tan(φ/2) of both
// legs. A leg with a bend at each end gives half its length to each; otherwise
// the whole leg is free. Turns under 1° are no bends. A U-turn of two right
// angles joined by a leg p therefore gives p/2. A corner that folds straight
// back gives 0. ok is false when there is no corner or the input is bad.
func (l Polyline) BendRadius() (radiusMM float64, corner int, ok bool) {
	if l.Check() != nil {
		return 0, -1, false
	}
	r, at, ok := bendRadius(appendLegs(nil, l, 0))
	return r, at.Leg, ok
}

// bendRadius names a corner by the leg that starts there.
func bendRadius(ls []leg) (radius float64, at LegRef, ok bool) {
	gs := groupLegs(ls)
	at, radius = noLeg, math.Inf(1)
	for i := 1; i < len(gs); i++ {
		if !sameChain(gs, i-1, i) {
			continue
		}
		before, after := gs[i-1].length, gs[i].length
		if sameChain(gs, i-2, i-1) {
			before /= 2
		}
		if sameChain(gs, i, i+1) {
			after /= 2
		}
		r := 0.0
		if phi := turnRad(gs[i-1].dir(), gs[i].dir()); phi < math.Pi-1e-9 {
			r = min(before, after) / math.Tan(phi/2)
		}
		if r < radius-BoundaryTolMM {
			first := ls[gs[i].first]
			at, ok = LegRef{first.run, first.index}, true
		}
		radius = min(radius, r)
	}
	if !ok {
		return 0, noLeg, false
	}
	return radius, at, true
}

// FilletRadiusMax returns the largest fillet radius in mm for a free leg length
// and the inside angle of the corner: leg·tan(interior/2), 0 < interior < 180.
func FilletRadiusMax(legMM, interiorDeg float64) (float64, error) {
	if err := checkWidth(legMM); err != nil {
		return 0, err
	}
	if !(interiorDeg > 0 && interiorDeg < 180) {
		return 0, fmt.Errorf("%w: interior angle must be between 0 and 180", ErrAngle)
	}
	return legMM * math.Tan(interiorDeg*math.Pi/360), nil
}

// FilletSaving returns, for a fillet of radius R at a corner that turns by φ
// (0 ≤ φ < 180), the tangent length R·tan(φ/2), the arc length R·φ and the
// length saved against the sharp corner, 2R·tan(φ/2) − R·φ, all in mm.
func FilletSaving(radiusMM, turnDeg float64) (tangent, arc, saved float64, err error) {
	if err := (Circle{R: radiusMM}).Check(); err != nil {
		return 0, 0, 0, err
	}
	if !(turnDeg >= 0 && turnDeg < 180) {
		return 0, 0, 0, fmt.Errorf("%w: turn must be from 0 to under 180", ErrAngle)
	}
	phi := turnDeg * math.Pi / 180
	tangent, arc = radiusMM*math.Tan(phi/2), radiusMM*phi
	return tangent, arc, 2*tangent - arc, nil
}

// Circumradius returns the radius in mm of the circle through three points,
// R = abc/(4·area). It is +Inf when they lie on a line (area under 1e-12 of the
// longest side squared) or two of them fall together.
func Circumradius(a, b, c Point) (float64, error) {
	if err := checkPoints(a, b, c); err != nil {
		return 0, err
	}
	ab, bc, ca := dist(a, b), dist(b, c), dist(c, a)
	twice := math.Abs(cross(sub(b, a), sub(c, a)))
	if longest := max(ab, bc, ca); twice <= 1e-12*longest*longest {
		return math.Inf(1), nil
	}
	return ab * bc * ca / (2 * twice), nil
}

// BandArea returns the plan area in mm² of a groove of width w with round ends
// and round outer corners, r = w/2:
//
//	w·ΣL + Σ(r²·φ/2 − r²·tan(φ/2)) + π·r²
//
// summed over the corners turning by φ; for a right angle the corner term is
// πr²/4 − r². The sum holds while the groove does not run into itself, so legs
// that are not neighbours must be at least w apart, each leg must be as long as
// r·tan(φ/2), and the far end of a leg must be w from its neighbour at a corner
// sharper than a right angle. Otherwise the error is ErrOverlap.
func BandArea(line Polyline, widthMM float64) (float64, error) {
	if err := errors.Join(line.Check(), checkWidth(widthMM)); err != nil {
		return 0, err
	}
	ls := appendLegs(nil, line, 0)
	r := widthMM / 2
	area := math.Pi * r * r
	for i := range ls {
		area += widthMM * ls[i].length
		if i == 0 {
			continue
		}
		a, b := &ls[i-1], &ls[i]
		phi := turnRad(sub(a.b, a.a), sub(b.b, b.a))
		inner := r * math.Tan(phi/2)
		if inner > min(a.length, b.length)+SameMM || phi > math.Pi/2+1e-9 &&
			min(dist(a.a, nearest(a.a, b.a, b.b)), dist(b.b, nearest(b.b, a.a, a.b))) < widthMM-SameMM {
			return 0, fmt.Errorf("%w: sharp corner at point %d", ErrOverlap, b.index)
		}
		area += r*r*phi/2 - r*inner
	}
	if d, i, j, ok := minPitch(ls); ok && d < widthMM-SameMM {
		return 0, fmt.Errorf("%w: legs %d and %d", ErrOverlap, ls[i].index, ls[j].index)
	}
	return area, nil
}
