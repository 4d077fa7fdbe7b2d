package geometry

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestSelfClearanceVectorG12(t *testing.T) {
	d, i, j, ok := meander.MinPitch()
	require.True(t, ok)
	require.InDelta(t, 75, d, eps)
	require.Equal(t, [2]int{2, 4}, [2]int{i, j})
	require.InDelta(t, 63, d-12, eps, "web beside a 12 mm groove")
	require.InDelta(t, 4300, must(t)(meander.Length()), eps)

	d, leg, ok := meander.MaxPitch()
	require.True(t, ok)
	require.InDelta(t, 125, d, eps)
	require.Equal(t, 6, leg, "the last run has its only neighbour 125 off")
	require.False(t, meander.SelfCrosses())
}

func TestMinPitchPassesOverEmptyAndStraightLegs(t *testing.T) {
	// The same meander with a doubled point and an extra point on a straight.
	l := Polyline{{0, 0}, {500, 0}, {510, 0}, {1000, 0}, {1000, 0}, {1000, 100}, {0, 100}, {0, 175}, {1000, 175}, {1000, 300}, {0, 300}}
	d, i, j, ok := l.MinPitch()
	require.True(t, ok)
	require.InDelta(t, 75, d, eps)
	require.Equal(t, [2]int{5, 7}, [2]int{i, j}, "legs are numbered as given")
	d, _, ok = l.MaxPitch()
	require.True(t, ok)
	require.InDelta(t, 125, d, eps)

	for name, l := range map[string]Polyline{
		"two legs":      {{0, 0}, {10, 0}, {10, 10}},
		"straight":      {{0, 0}, {10, 0}, {20, 0}, {30, 0}},
		"nearly so":     {{0, 0}, {1000, 0}, {2000, 15}, {3000, 15}},
		"one place":     {{1, 1}, {1, 1}, {1, 1}},
		"one point":     {{1, 1}},
		"not a number":  {{0, 0}, {nan, 0}, {0, 1}, {0, 0}},
		"out of bounds": {{0, 0}, {2e9, 0}, {0, 1}, {9, 9}},
	} {
		_, i, j, ok := l.MinPitch()
		require.False(t, ok, name)
		require.Equal(t, [2]int{-1, -1}, [2]int{i, j}, name)
		_, _, ok = l.MaxPitch()
		require.False(t, ok, name)
	}

	// A bend made of many small turns must still be seen as a U-turn.
	u := Polyline{{0, 0}, {1000, 0}}
	for k := 1; k < 360; k++ {
		s, c := math.Sincos(float64(k) * math.Pi / 360)
		u = append(u, Point{1000 + 50*s, 50 - 50*c})
	}
	u = append(u, Point{1000, 100}, Point{0, 100})
	d, _, ok = u.MaxPitch()
	require.True(t, ok)
	require.InDelta(t, 100, d, eps)
	r, _, ok := u.BendRadius()
	require.True(t, ok)
	require.True(t, r > 30 && r < 50+eps, "short chords never read larger than the arc: %v", r)
}

func TestMaxPitch(t *testing.T) {
	for _, c := range []struct {
		name          string
		l             Polyline
		pitch, widest float64
		ok            bool
	}{
		{"U", Polyline{{0, 0}, {500, 0}, {500, 120}, {0, 120}}, 120, 120, true},
		{"L", Polyline{{0, 0}, {500, 0}, {500, 500}}, 0, 0, false},
		{"Z without overlap", Polyline{{0, 0}, {500, 0}, {500, 120}, {1000, 120}}, 0, 0, false},
		// Short first run: longer than half the turn after it, so a run leg.
		{"short start", Polyline{{700, 0}, {1000, 0}, {1000, 100}, {0, 100}, {0, 250}, {1000, 250}}, 150, 150, true},
		// End legs of 40 are ends of turns, not runs.
		{"tails", Polyline{{0, -40}, {0, 0}, {900, 0}, {900, 90}, {0, 90}, {0, 130}}, 90, 90, true},
		// A strip of 300 is left free between two pairs at 100.
		{"free strip", Polyline{{0, 0}, {1000, 0}, {1000, 100}, {0, 100}, {0, 400}, {1000, 400}, {1000, 500}, {0, 500}}, 100, 300, true},
		// A square spiral at 80 with a free middle of 340 × 260.
		{"spiral", Polyline{{0, 0}, {500, 0}, {500, 500}, {0, 500}, {0, 80}, {420, 80}, {420, 420}, {80, 420}, {80, 160}, {340, 160}}, 80, 340, true},
		// A V folded within 15° of straight back is measured at its open end.
		{"fan", Polyline{{0, 0}, {1000, 0}, {0, 200}}, 1000 * math.Sin(math.Atan(0.2)), 1000 * math.Sin(math.Atan(0.2)), true},
	} {
		d, leg, ok := c.l.MaxPitch()
		w, _, wok := c.l.WidestGap()
		require.Equal(t, c.ok, ok, c.name)
		require.Equal(t, c.ok, wok, c.name)
		if !ok {
			require.Equal(t, -1, leg, c.name)
			continue
		}
		require.InDelta(t, c.pitch, d, eps, c.name)
		require.InDelta(t, c.widest, w, eps, c.name)
	}
}

func TestAlongsideAngle(t *testing.T) {
	for deg, want := range map[float64]bool{0: true, 14.9: true, 15: true, 15.1: false, 90: false} {
		s, c := math.Sincos(deg * math.Pi / 180)
		r := Runs{{{0, 0}, {1000, 0}}, {{100, 100}, {100 + 500*c, 100 + 500*s}}}
		_, _, ok := r.MaxPitch()
		require.Equal(t, want, ok, "%v°", deg)
	}
}

func TestSelfCrosses(t *testing.T) {
	for name, c := range map[string]struct {
		l    Polyline
		want bool
	}{
		"straight on":         {Polyline{{0, 0}, {10, 0}, {20, 0}}, false},
		"right angle":         {Polyline{{0, 0}, {10, 0}, {10, 10}}, false},
		"loop crosses":        {Polyline{{0, 0}, {100, 0}, {100, 50}, {50, 50}, {50, -50}}, true},
		"end touches a leg":   {Polyline{{0, 0}, {100, 0}, {100, 50}, {50, 50}, {50, 0}}, true},
		"end just short":      {Polyline{{0, 0}, {100, 0}, {100, 50}, {50, 50}, {50, 0.001}}, false},
		"end within 1e-6":     {Polyline{{0, 0}, {100, 0}, {100, 50}, {50, 50}, {50, 5e-7}}, true},
		"folds straight back": {Polyline{{0, 0}, {100, 0}, {40, 0}}, true},
		"folds past start":    {Polyline{{0, 0}, {100, 0}, {-40, 0}}, true},
		"folds over a point":  {Polyline{{0, 0}, {100, 0}, {100, 0}, {40, 0}}, true},
		"sharp but open":      {Polyline{{0, 0}, {100, 0}, {0, 1}}, false},
		"closed on its start": {Polyline{{0, 0}, {100, 0}, {100, 100}, {0, 0}}, true},
		"doubled points":      {Polyline{{0, 0}, {0, 0}, {10, 0}, {10, 0}, {10, 0}, {10, 10}}, false},
		"one place":           {Polyline{{1, 1}, {1, 1}}, false},
		"one point":           {Polyline{{1, 1}}, true},
		"not a number":        {Polyline{{1, 1}, {nan, 2}}, true},
	} {
		require.Equal(t, c.want, c.l.SelfCrosses(), name)
	}
}

func TestDedupe(t *testing.T) {
	l := Polyline{{0, 0}, {0, 5e-7}, {0, 9e-7}, {0, 1.8e-6}, {5, 5}, {5, 5}, {0, 0}}
	require.Equal(t, Polyline{{0, 0}, {0, 1.8e-6}, {5, 5}, {0, 0}}, l.Dedupe())
	require.Empty(t, Polyline(nil).Dedupe())
	require.Error(t, Polyline{{0, 0}, {nan, 0}}.Dedupe().Check())
	rapid.Check(t, func(t *rapid.T) {
		l := genLine(8).Draw(t, "l")
		d := l.Dedupe()
		require.Equal(t, d, d.Dedupe())
		if len(d) > 1 {
			require.InDelta(t, must(t)(l.Length()), must(t)(d.Length()), 1e-4)
			require.Equal(t, l.SelfCrosses(), d.SelfCrosses())
		}
	})
}

// The plain double loop over all pairs with |i−j| ≥ 2 gives the same.
func TestMinPitchAgainstPlainLoop(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := genLine(9).Draw(t, "l").Dedupe()
		for k := 2; k < len(l); k++ {
			if isStraight(sub(l[k-1], l[k-2]), sub(l[k], l[k-1])) {
				t.Skip("a point on a straight is merged")
			}
		}
		want := math.Inf(1)
		for i := 0; i+1 < len(l); i++ {
			for j := i + 2; j+1 < len(l); j++ {
				want = min(want, must(t)(SegmentSegment(l[i], l[i+1], l[j], l[j+1])))
			}
		}
		d, i, j, ok := l.MinPitch()
		require.Equal(t, !math.IsInf(want, 1), ok)
		if ok {
			require.InDelta(t, want, d, eps)
			require.GreaterOrEqual(t, j-i, 2)
			require.InDelta(t, d, must(t)(SegmentSegment(l[i], l[i+1], l[j], l[j+1])), 2*eps)
			require.Equal(t, d <= SameMM, d <= SameMM && l.SelfCrosses())
		}
	})
}

// Turning, mirroring, shifting or walking the line the other way changes neither
// its pitch nor its bend.
func TestLineMeasuresKeepUnderMotion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// A meander with drawn pitches: the answer is known.
		n := rapid.IntRange(2, 8).Draw(t, "runs")
		l, y, least, most := Polyline{}, 0.0, inf, 0.0
		for k := range n {
			xs := [2]float64{0, 1000}
			l = append(l, Point{xs[k%2], y}, Point{xs[(k+1)%2], y})
			p := rapid.Float64Range(40, 300).Draw(t, "pitch")
			if k+1 < n {
				least, most = min(least, p), max(most, p)
			}
			y += p
		}
		back := Polyline{}
		for k := range l {
			back = append(back, l[len(l)-1-k])
		}
		for _, v := range []Polyline{l, back, genMotion().Draw(t, "motion").points(l)} {
			d, _, _, ok := v.MinPitch()
			require.True(t, ok)
			require.InDelta(t, least, d, 1e-7)
			wide, _, ok := v.WidestGap()
			require.True(t, ok)
			require.InDelta(t, most, wide, 1e-7)
			d, _, ok = v.MaxPitch()
			require.True(t, ok)
			require.LessOrEqual(t, d, most+1e-7)
			require.GreaterOrEqual(t, d, least-1e-7)
			r, _, ok := v.BendRadius()
			require.True(t, ok)
			require.InDelta(t, least/2, r, 1e-7)
			require.False(t, v.SelfCrosses())
		}
	})
}

// Whatever comes in, nothing panics and nothing is NaN.
func TestNoNaNFromAnything(t *testing.T) {
	coord := rapid.OneOf(genCoord(), rapid.Float64(), rapid.SampledFrom([]float64{nan, inf, -inf, 0, 1e9, -1e9, 1e-300, 5e-324}))
	rapid.Check(t, func(t *rapid.T) {
		pt := rapid.Custom(func(t *rapid.T) Point { return Point{coord.Draw(t, "x"), coord.Draw(t, "y")} })
		l := Polyline(rapid.SliceOfN(pt, 0, 6).Draw(t, "l"))
		k := Polyline(rapid.SliceOfN(pt, 0, 4).Draw(t, "k"))
		p, w := pt.Draw(t, "p"), coord.Draw(t, "w")
		keep := func(v float64, _ error) { noNaN(t, v) }
		keep(PolylinePolyline(l, k))
		keep(PolygonPolyline(Polygon(l), k))
		keep(PolygonPolygon(Polygon(l), Polygon(k)))
		keep(CirclePolylineGap(Circle{p, w}, l, w))
		keep(CirclePolygonEdgeGap(Circle{p, w}, Polygon(l)))
		keep(BandArea(l, w))
		keep(FilletRadiusMax(w, w))
		keep(l.Length())
		if len(l) > 2 {
			keep(Circumradius(l[0], l[1], l[2]))
			keep(RectCircleGap(Rect{l[0], l[1]}, Circle{p, w}))
		}
		noNaN(t, RoundMM(w))
		PointInPolygon(p, Polygon(l))
		a, b, c, err := FilletSaving(w, w)
		noNaN(t, a, b, c)
		_ = err
		for _, r := range []Runs{{l}, {l, k}, {k, l}, {}} {
			a, _, _, _ := r.MinPitch()
			b, _, _ := r.MaxPitch()
			c, _, _ := r.BendRadius()
			d, _, q, _ := r.PointDistance(p)
			e, f, _ := BetweenNeighbours(p, r)
			g, _, _ := r.WidestGap()
			noNaN(t, a, b, c, d, e, f, g, q.X, q.Y)
			r.Crosses()
		}
		plan, err := Chain([]Wall{{w, p.X}, {p.Y, w}, {w, w}})
		if err == nil {
			noNaN(t, plan.ClosingMissMM, plan.ClosingMissDeg, plan.End.X, plan.End.Y)
			q, _ := plan.Place(1, p.X, p.Y)
			x, off, _ := plan.Local(2, p)
			noNaN(t, q.X, q.Y, x, off)
		}
		plan.SelfCrosses()
	})
}

func bigMeander(legs int) Polyline {
	l := Polyline{{0, 0}}
	for k := range legs {
		p := l[len(l)-1]
		switch k % 4 {
		case 0:
			p.X = 1000
		case 2:
			p.X = 0
		default:
			p.Y += 75
		}
		l = append(l, p)
	}
	return l
}

func TestMinPitchAllocatesNothing(t *testing.T) {
	for _, n := range []int{10, 100} {
		l := bigMeander(n)
		require.Zero(t, testing.AllocsPerRun(20, func() { l.MinPitch() }), n)
	}
}

func BenchmarkMinPitch(b *testing.B) {
	for _, n := range []int{10, 100} {
		l := bigMeander(n)
		b.Run(fmt.Sprintf("legs=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, _, _, ok := l.MinPitch(); !ok {
					b.Fatal("no pitch")
				}
			}
		})
	}
}
