package geometry

import (
	"errors"
	"fmt"
	"math"
)

// Polyline is the axis of a groove or cable as a row of points, in mm. Leg i
// runs from point i to point i+1.
//
// Give a bend by its corner point, not as an arc cut into short chords: chords
// two places apart are nearly touching, so MinPitch reports them, and BendRadius
// may read too small.
type Polyline []Point

// Check reports why the line cannot be measured: fewer than two points, or a
// coordinate that is not finite.
func (l Polyline) Check() error {
	if len(l) < 2 {
		return fmt.Errorf("%w: a line needs 2, got %d", ErrTooFewPoints, len(l))
	}
	return checkPoints(l...)
}

// Length returns the sum of the legs in mm, corners left sharp.
func (l Polyline) Length() (float64, error) {
	if err := l.Check(); err != nil {
		return 0, err
	}
	sum := 0.0
	for i := 1; i < len(l); i++ {
		sum += dist(l[i-1], l[i])
	}
	return sum, nil
}

// Dedupe returns a copy without legs of no length: a point within SameMM of the
// last one kept is dropped. The result may have a single point. Points that are
// not finite are kept, so that Check still finds them.
func (l Polyline) Dedupe() Polyline {
	out := make(Polyline, 0, len(l))
	for _, p := range l {
		if n := len(out); n > 0 && dist(out[n-1], p) <= SameMM {
			continue
		}
		out = append(out, p)
	}
	return out
}

// SelfCrosses reports whether two legs that are not neighbours cross or touch
// (within SameMM), or two neighbours fold straight back over each other. Legs of
// no length are passed over. A line that ends on its own start touches itself.
// Bad input gives true, so that no check passes on it; see Check.
func (l Polyline) SelfCrosses() bool {
	if l.Check() != nil {
		return true
	}
	return crosses(appendLegs(make([]leg, 0, len(l)), l, 0), false)
}

// MinPitch returns the least axis distance in mm between two legs that are not
// neighbours (segment to segment, |i−j| ≥ 2) and the numbers of these legs.
// Where several pairs are equally near, the pair closest in the row is named.
// Legs of no length are passed over, and a leg that goes straight on (under 1°)
// belongs to the leg before it, so an extra point on a straight does not count.
// ok is false when there is no such pair or the input is bad.
func (l Polyline) MinPitch() (pitchMM float64, i, j int, ok bool) {
	if l.Check() != nil {
		return 0, -1, -1, false
	}
	var buf [stackLegs]leg
	legs := appendLegs(buf[:0], l, 0)
	d, i, j, ok := minPitch(legs)
	if !ok {
		return 0, -1, -1, false
	}
	return d, legs[i].index, legs[j].index, true
}

// MaxPitch returns the widest pitch in mm of a meander or spiral, and the leg it
// was found at. For each run leg the distance to the nearest other run leg
// alongside is taken; the largest of these is the result.
//
// A turn is a leg shorter than both its neighbours, or an end leg shorter than
// half its one neighbour; every other leg is a run leg. Two legs lie alongside
// when they are within 15° of parallel and their projections overlap. The
// distance is the widest one over that overlap; for parallel legs this is the
// plain distance. ok is false when no two run legs lie alongside or the input
// is bad. The rule is common practice put into numbers (computed).
//
// A strip left free between two groups of legs is not a pitch here, because the
// legs on both its sides have a nearer neighbour; see WidestGap.
func (l Polyline) MaxPitch() (pitchMM float64, leg int, ok bool) {
	near, _ := l.pitches()
	return near.mm, near.index, near.ok
}

// WidestGap is like MaxPitch, but looks from each run leg to its nearest
// neighbour on either side on its own, and so finds the widest strip in mm
// between two legs alongside.
func (l Polyline) WidestGap() (gapMM float64, leg int, ok bool) {
	_, wide := l.pitches()
	return wide.mm, wide.index, wide.ok
}

func (l Polyline) pitches() (near, wide pitch) {
	if l.Check() != nil {
		return noPitch, noPitch
	}
	return pitches(appendLegs(make([]leg, 0, len(l)), l, 0))
}

// PointPolyline returns the distance in mm from p to the line, the leg it was
// found at (the first of several) and the nearest point. Bad input gives
// leg −1 with distance 0, which a check for a least distance does not pass.
func PointPolyline(p Point, line Polyline) (distance float64, leg int, near Point) {
	if checkPoints(p) != nil || line.Check() != nil {
		return 0, -1, Point{}
	}
	best := math.Inf(1)
	for i := 1; i < len(line); i++ {
		q := nearest(p, line[i-1], line[i])
		if d := dist2(p, q); d < best {
			best, leg, near = d, i-1, q
		}
	}
	return math.Sqrt(best), leg, near
}

// PolylinePolyline returns the distance in mm between two axes; 0 if they cross
// or touch.
func PolylinePolyline(a, b Polyline) (float64, error) {
	if err := errors.Join(a.Check(), b.Check()); err != nil {
		return 0, err
	}
	best := math.Inf(1)
	for i := 1; i < len(a); i++ {
		for j := 1; j < len(b); j++ {
			if boxGap(a[i-1], a[i], b[j-1], b[j]) < best {
				best = math.Min(best, segSeg(a[i-1], a[i], b[j-1], b[j]))
			}
		}
	}
	return best, nil
}
