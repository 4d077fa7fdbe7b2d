package geometry

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestFilletVectors(t *testing.T) {
	for _, c := range [][3]float64{ // leg, interior, Rmax
		{60, 90, 60}, {40, 120, 69.28203230275507}, {100, 60, 57.735026918962575},
	} {
		require.InDelta(t, c[2], must(t)(FilletRadiusMax(c[0], c[1])), eps)
	}
	for _, c := range [][5]float64{ // R, turn, tangent, arc, saved
		{50, 90, 50, 78.53981633974483, 21.460183660255154},
		{30, 90, 30, 47.12388980384689, 12.8761101961531},
		{50, 60, 28.867513459481287, 52.35987755982988, 5.375149359132692},
		{50, 0, 0, 0, 0}, {0, 90, 0, 0, 0},
	} {
		tangent, arc, saved, err := FilletSaving(c[0], c[1])
		require.NoError(t, err)
		require.InDelta(t, c[2], tangent, eps)
		require.InDelta(t, c[3], arc, eps)
		require.InDelta(t, c[4], saved, eps)
	}
}

func TestCircumradiusVectors(t *testing.T) {
	require.InDelta(t, 72.5, must(t)(Circumradius(Point{0, 0}, Point{50, 20}, Point{100, 0})), eps)
	require.InDelta(t, 78.35106182362107, must(t)(Circumradius(Point{0, 0}, Point{40, 10}, Point{70, 40})), eps)
	for _, p := range [][3]Point{
		{{0, 0}, {50, 0}, {100, 0}}, {{0, 0}, {0.1, 0.3}, {0.3, 0.9}},
		{{1, 1}, {1, 1}, {5, 5}}, {{1, 1}, {5, 5}, {1, 1}}, {{2, 2}, {2, 2}, {2, 2}},
	} {
		require.True(t, math.IsInf(must(t)(Circumradius(p[0], p[1], p[2])), 1), "%v", p)
	}
	rapid.Check(t, func(t *rapid.T) { // three points of a known circle
		r, c := rapid.Float64Range(1, 5000).Draw(t, "r"), genPoint().Draw(t, "c")
		at := func(a float64) Point { return Point{c.X + r*math.Cos(a), c.Y + r*math.Sin(a)} }
		a := rapid.Float64Range(0, 6).Draw(t, "a")
		s, e := rapid.Float64Range(0.5, 2).Draw(t, "s"), rapid.Float64Range(0.5, 2).Draw(t, "e")
		require.InEpsilon(t, r, must(t)(Circumradius(at(a), at(a+s), at(a+s+e))), 1e-6)
	})
}

func TestBendRadius(t *testing.T) {
	for _, c := range []struct {
		name   string
		l      Polyline
		r      float64
		corner int
		ok     bool
	}{
		{"one right angle: the shorter leg", Polyline{{0, 0}, {300, 0}, {300, 60}}, 60, 1, true},
		{"U-turn: half the pitch", Polyline{{0, 0}, {1000, 0}, {1000, 75}, {0, 75}}, 37.5, 1, true},
		{"meander: half the least pitch", meander, 37.5, 3, true},
		// Turn 60°: interior 120°, free leg 40 (fillet vector 2).
		{"interior 120", Polyline{{0, 0}, {40, 0}, {40 + 250, 250 * math.Sqrt(3)}}, 69.28203230275507, 1, true},
		// Turn 120°: interior 60°, free leg 100 (fillet vector 3).
		{"interior 60", Polyline{{0, 0}, {100, 0}, {-150, 250 * math.Sqrt(3)}}, 57.735026918962575, 1, true},
		// The end leg of 30 is free as a whole; the middle leg of 80 gives 40 to each.
		{"short end leg", Polyline{{0, 0}, {500, 0}, {500, 80}, {530, 80}}, 30, 2, true},
		{"folded back", Polyline{{0, 0}, {100, 0}, {50, 0}}, 0, 1, true},
		{"straight", Polyline{{0, 0}, {100, 0}, {200, 0}}, 0, -1, false},
		{"turn of 0.99°", Polyline{{0, 0}, {100, 0}, {200, 100 * math.Tan(0.99*math.Pi/180)}}, 0, -1, false},
		{"turn of 1.01°", Polyline{{0, 0}, {100, 0}, {100 + 100*math.Cos(1.01*math.Pi/180), 100 * math.Sin(1.01*math.Pi/180)}}, 100 / math.Tan(0.505*math.Pi/180), 1, true},
		// A point 10 before the corner does not shorten the free leg.
		{"point on a straight", Polyline{{0, 0}, {290, 0}, {300, 0}, {300, 60}}, 60, 2, true},
		{"doubled corner", Polyline{{0, 0}, {300, 0}, {300, 0}, {300, 60}}, 60, 2, true},
		{"one point", Polyline{{0, 0}}, 0, -1, false},
		{"not a number", Polyline{{0, 0}, {nan, 0}, {1, 1}}, 0, -1, false},
	} {
		r, corner, ok := c.l.BendRadius()
		require.Equal(t, c.ok, ok, c.name)
		require.Equal(t, c.corner, corner, c.name)
		require.InDelta(t, c.r, r, 1e-8, c.name)
	}
}

// With the radius found, no leg is asked for more than it has; with a little
// more, one is.
func TestBendRadiusFits(t *testing.T) {
	fits := func(l Polyline, r float64) bool {
		for i := 1; i < len(l); i++ {
			used := 0.0
			for _, k := range []int{i - 1, i} {
				if k > 0 && k < len(l)-1 {
					used += r * math.Tan(turnRad(sub(l[k], l[k-1]), sub(l[k+1], l[k]))/2)
				}
			}
			if used > dist(l[i-1], l[i])*(1+1e-9) {
				return false
			}
		}
		return true
	}
	rapid.Check(t, func(t *rapid.T) {
		l := genLine(7).Draw(t, "l").Dedupe()
		r, _, ok := l.BendRadius()
		for k := 2; k < len(l); k++ {
			if isStraight(sub(l[k-1], l[k-2]), sub(l[k], l[k-1])) {
				t.Skip("a point on a straight is merged")
			}
		}
		require.Equal(t, len(l) > 2, ok)
		if ok {
			require.True(t, fits(l, r))
		}
	})
	require.False(t, fits(meander, 38))
}

func TestBandAreaVectors(t *testing.T) {
	require.InDelta(t, 16201.061929829746, must(t)(BandArea(Polyline{{0, 0}, {1000, 0}}, 16)), 1e-6)
	require.InDelta(t, 11387.327412287183, must(t)(BandArea(Polyline{{0, 0}, {400, 0}, {400, 300}}, 16)), 1e-6)
	// A point on the straight and a doubled one change nothing.
	require.InDelta(t, 16201.061929829746, must(t)(BandArea(Polyline{{0, 0}, {3, 0}, {3, 0}, {1000, 0}}, 16)), 1e-6)

	for name, l := range map[string]Polyline{
		"legs closer than the width":  {{0, 0}, {100, 0}, {100, 15}, {0, 15}},
		"crossing":                    {{0, 0}, {100, 0}, {100, 50}, {50, 50}, {50, -50}},
		"folded back":                 {{0, 0}, {100, 0}, {40, 0}},
		"leg shorter than the corner": {{0, 0}, {100, 0}, {100, 7}},
		"sharp corner, short leg":     {{0, 0}, {100, 0}, {80, 10}},
	} {
		_, err := BandArea(l, 16)
		require.ErrorIs(t, err, ErrOverlap, name)
	}
}

// The formula against counting the points of a fine grid that lie within w/2 of
// the axis.
func TestBandAreaAgainstGrid(t *testing.T) {
	for name, c := range map[string]struct {
		l Polyline
		w float64
	}{
		"meander":      {Polyline{{0, 0}, {200, 0}, {200, 30}, {0, 30}, {0, 60}, {200, 60}}, 20},
		"sharp":        {Polyline{{0, 0}, {100, 0}, {20, 40}}, 20},
		"blunt":        {Polyline{{0, 0}, {100, 0}, {160, 40}, {160, 90}}, 20},
		"sharp zigzag": {Polyline{{0, 0}, {100, 0}, {20, 70}, {120, 90}}, 24},
	} {
		// Turned, so that no edge runs along the grid.
		sin, cos := math.Sincos(0.3)
		l := motion{sin, cos, 1, Point{}}.points(c.l)
		const step = 0.25
		n := 0
		for x := -60.0; x < 260; x += step {
			for y := -60.0; y < 220; y += step {
				if d, _, _ := PointPolyline(Point{x, y}, l); d <= c.w/2 {
					n++
				}
			}
		}
		require.InEpsilon(t, float64(n)*step*step, must(t)(BandArea(c.l, c.w)), 0.001, name)
	}
}
