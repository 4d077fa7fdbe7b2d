package geometry

import (
	"fmt"
	"math"
)

// Runs are the polylines of one cable, pipe or groove, in mm, in order. A
// polyline that starts where the one before it ends (within SameMM) goes on with
// it: both count as one line. Otherwise the polylines are measured against each
// other without leaving anything out.
type Runs []Polyline

// LegRef names a leg: polyline Run, leg Leg. For a corner it names the leg that
// starts there, so Leg is also the number of the corner's point.
type LegRef struct{ Run, Leg int }

var noLeg = LegRef{-1, -1}

// Check reports why the runs cannot be measured: no polyline, or a bad one.
func (r Runs) Check() error {
	if len(r) == 0 {
		return fmt.Errorf("%w: no polyline", ErrTooFewPoints)
	}
	for i, l := range r {
		if err := l.Check(); err != nil {
			return fmt.Errorf("run %d: %w", i, err)
		}
	}
	return nil
}

func (r Runs) legs() []leg {
	n := 0
	for _, l := range r {
		n += len(l)
	}
	ls := make([]leg, 0, n)
	for i, l := range r {
		ls = appendLegs(ls, l, i)
	}
	return ls
}

// Length returns the length of all legs in mm, corners left sharp.
func (r Runs) Length() (float64, error) {
	if err := r.Check(); err != nil {
		return 0, err
	}
	sum := 0.0
	for _, l := range r {
		n, err := l.Length()
		if err != nil {
			return 0, err
		}
		sum += n
	}
	return sum, nil
}

// Crosses reports whether legs cross, touch or fold back, as
// [Polyline.SelfCrosses] does, over all polylines. Bad input gives true.
func (r Runs) Crosses() bool {
	return r.Check() != nil || crosses(r.legs(), false)
}

// MinPitch is [Polyline.MinPitch] over all polylines. Legs of different
// polylines that are not joined are always a pair.
func (r Runs) MinPitch() (pitchMM float64, a, b LegRef, ok bool) {
	if r.Check() != nil {
		return 0, noLeg, noLeg, false
	}
	ls := r.legs()
	d, i, j, ok := minPitch(ls)
	if !ok {
		return 0, noLeg, noLeg, false
	}
	return d, LegRef{ls[i].run, ls[i].index}, LegRef{ls[j].run, ls[j].index}, true
}

// MaxPitch is [Polyline.MaxPitch] over all polylines.
func (r Runs) MaxPitch() (pitchMM float64, at LegRef, ok bool) {
	near, _ := r.pitches()
	return near.mm, LegRef{near.run, near.index}, near.ok
}

// WidestGap is [Polyline.WidestGap] over all polylines.
func (r Runs) WidestGap() (gapMM float64, at LegRef, ok bool) {
	_, wide := r.pitches()
	return wide.mm, LegRef{wide.run, wide.index}, wide.ok
}

func (r Runs) pitches() (near, wide pitch) {
	if r.Check() != nil {
		return noPitch, noPitch
	}
	return pitches(r.legs())
}

// BendRadius is [Polyline.BendRadius] over all polylines; a corner where two
// polylines are joined counts.
func (r Runs) BendRadius() (radiusMM float64, corner LegRef, ok bool) {
	if r.Check() != nil {
		return 0, noLeg, false
	}
	return bendRadius(r.legs())
}

// Laid is what [Runs.Crosses], [Runs.MinPitch], [Runs.WidestGap] and [Runs.BendRadius] say, without the places.
type Laid struct {
	Crosses                         bool
	PitchMM, GapMM, RadiusMM        float64
	HasPitch, HasGap, HasBendRadius bool
}

// Laid asks all of them at once.
func (r Runs) Laid() Laid {
	if r.Check() != nil {
		return Laid{Crosses: true}
	}
	ls := r.legs()
	out := Laid{Crosses: crosses(ls, false)}
	if d, _, _, ok := minPitch(ls); ok {
		out.PitchMM, out.HasPitch = d, true
	}
	_, wide := pitches(ls)
	out.GapMM, out.HasGap = wide.mm, wide.ok
	out.RadiusMM, _, out.HasBendRadius = bendRadius(ls)
	return out
}

// PointDistance returns the distance in mm from p to the nearest axis, the leg
// and the nearest point. ok is false for bad input.
func (r Runs) PointDistance(p Point) (distance float64, at LegRef, near Point, ok bool) {
	if checkPoints(p) != nil || r.Check() != nil {
		return 0, noLeg, Point{}, false
	}
	distance = math.Inf(1)
	for i, l := range r {
		if d, leg, q := PointPolyline(p, l); d < distance {
			distance, at, near = d, LegRef{i, leg}, q
		}
	}
	return distance, at, near, true
}

// BetweenNeighbours says whether p lies between two stretches of the runs.
// gapNear is the distance in mm from p to the nearest axis. gapFar is the
// distance to the nearest leg on the other side: the direction from p to the
// nearest point on that leg differs by more than 120° from the first direction.
// between is true when there is one; otherwise gapFar is 0. A point on an axis
// (within BoundaryTolMM) has no direction and lies between nothing. Bad input
// gives 0, 0, false.
func BetweenNeighbours(p Point, runs Runs) (gapNear, gapFar float64, between bool) {
	gapNear, _, q, ok := runs.PointDistance(p)
	if !ok || gapNear <= BoundaryTolMM {
		return gapNear, 0, false
	}
	u := sub(q, p)
	gapFar = math.Inf(1)
	for _, l := range runs {
		for i := 1; i < len(l); i++ {
			n := nearest(p, l[i-1], l[i])
			v, d := sub(n, p), dist(n, p)
			if d < gapFar && turnRad(u, v) > 2*math.Pi/3+1e-9 {
				gapFar, between = d, true
			}
		}
	}
	if !between {
		return gapNear, 0, false
	}
	return gapNear, gapFar, true
}
