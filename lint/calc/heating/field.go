package heating

import (
	"cmp"
	"math"
	"slices"
)

// maxFieldMM bounds the coordinates of runs, in mm.
const maxFieldMM = 1e7

// FieldAreaM2 returns the area in m² that a run of cable heats: the convex hull of its points, in mm, grown by half the
// pitch in mm on all sides. By Steiner's formula that is A + P·s/2 + π·s²/4 with the hull's area A and girth P.
//
// A field that is not convex, such as an L, counts with its notch. Coordinates are within ±1e7 mm, the pitch is
// above 0 (1e-6) to 1e7 mm, and at least one point is needed.
//
// Source: plane geometry, Steiner's formula for parallel bodies (computed).
func FieldAreaM2(pointsMM [][2]float64, pitchMM float64) (float64, error) {
	if err := within("pitch in mm", pitchMM, small, maxFieldMM); err != nil {
		return 0, err
	}
	if err := within("number of points", float64(len(pointsMM)), 1, large); err != nil {
		return 0, err
	}
	for _, p := range pointsMM {
		for _, v := range p {
			if err := within("coordinate in mm", v, -maxFieldMM, maxFieldMM); err != nil {
				return 0, err
			}
		}
	}
	hull := convexHull(pointsMM)
	area, girth := 0.0, 0.0
	for i, p := range hull {
		q := hull[(i+1)%len(hull)]
		area += (p[0]-hull[0][0])*(q[1]-hull[0][1]) - (q[0]-hull[0][0])*(p[1]-hull[0][1])
		girth += math.Hypot(q[0]-p[0], q[1]-p[1])
	}
	return (math.Abs(area)/2 + girth*pitchMM/2 + math.Pi*pitchMM*pitchMM/4) / 1e6, nil
}

// convexHull returns the corners of the convex hull, anticlockwise, by Andrew's monotone chains.
func convexHull(points [][2]float64) [][2]float64 {
	ps := slices.Clone(points)
	slices.SortFunc(ps, func(a, b [2]float64) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	ps = slices.Compact(ps)
	if len(ps) < 3 {
		return ps
	}
	chain := func(ps [][2]float64) [][2]float64 {
		var out [][2]float64
		for _, p := range ps {
			for len(out) >= 2 && cross(out[len(out)-2], out[len(out)-1], p) <= 0 {
				out = out[:len(out)-1]
			}
			out = append(out, p)
		}
		return out[:len(out)-1]
	}
	lower := chain(ps)
	slices.Reverse(ps)
	return append(lower, chain(ps)...)
}

func cross(a, b, c [2]float64) float64 {
	return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0])
}
