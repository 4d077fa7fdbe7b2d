package geometry

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestRunsJoined(t *testing.T) {
	// The meander in three polylines, joined end to start.
	r := Runs{meander[:3], meander[2:5], meander[4:]}
	require.NoError(t, r.Check())
	require.False(t, r.Crosses())
	d, a, b, ok := r.MinPitch()
	require.True(t, ok)
	require.InDelta(t, 75, d, eps)
	require.Equal(t, [2]LegRef{{1, 0}, {2, 0}}, [2]LegRef{a, b})
	d, at, ok := r.MaxPitch()
	require.True(t, ok)
	require.InDelta(t, 125, d, eps)
	require.Equal(t, LegRef{2, 2}, at)
	require.InDelta(t, 4300, must(t)(r.Length()), eps)
	d, at, ok = r.BendRadius()
	require.True(t, ok)
	require.InDelta(t, 37.5, d, eps)
	require.Equal(t, LegRef{1, 1}, at)

	// A join within 1e-6 counts; a corner at the join counts too.
	r = Runs{{{0, 0}, {100, 0}}, {{100, 5e-7}, {100, 40}}}
	require.False(t, r.Crosses())
	_, _, _, ok = r.MinPitch()
	require.False(t, ok)
	d, at, ok = r.BendRadius()
	require.True(t, ok)
	require.InDelta(t, 40, d, 1e-6)
	require.Equal(t, LegRef{1, 0}, at)

	// Start to start is no join, so the runs touch.
	r = Runs{{{0, 0}, {100, 0}}, {{0, 0}, {0, 40}}}
	require.True(t, r.Crosses())
	d, _, _, ok = r.MinPitch()
	require.True(t, ok)
	require.Zero(t, d)
}

func TestRunsApart(t *testing.T) {
	r := Runs{{{0, 0}, {1000, 0}}, {{0, 90}, {1000, 90}}, {{0, 210}, {400, 210}}}
	require.False(t, r.Crosses())
	d, a, b, ok := r.MinPitch()
	require.True(t, ok)
	require.InDelta(t, 90, d, eps)
	require.Equal(t, [2]LegRef{{0, 0}, {1, 0}}, [2]LegRef{a, b})
	d, at, ok := r.MaxPitch()
	require.True(t, ok)
	require.InDelta(t, 120, d, eps)
	require.Equal(t, LegRef{2, 0}, at)
	_, _, ok = r.BendRadius()
	require.False(t, ok)
	d, at, near, ok := r.PointDistance(Point{500, 230})
	require.True(t, ok)
	require.InDelta(t, 101.9803902718557, d, eps) // 100 along and 20 up from (400, 210)
	require.Equal(t, LegRef{2, 0}, at)
	require.Equal(t, Point{400, 210}, near)
	require.True(t, append(r, Polyline{{500, -10}, {500, 10}}).Crosses())
}

func TestRunsBadInput(t *testing.T) {
	for name, r := range map[string]Runs{
		"none": {}, "nil": nil, "an empty one": {meander, {}}, "one point": {{{0, 0}}}, "not a number": {meander, {{0, 0}, {0, nan}}},
	} {
		require.Error(t, r.Check(), name)
		require.True(t, r.Crosses(), name)
		_, err := r.Length()
		require.Error(t, err, name)
		_, a, b, ok := r.MinPitch()
		require.False(t, ok, name)
		require.Equal(t, [2]LegRef{noLeg, noLeg}, [2]LegRef{a, b}, name)
		_, a, ok = r.MaxPitch()
		require.False(t, ok, name)
		require.Equal(t, noLeg, a, name)
		_, _, ok = r.BendRadius()
		require.False(t, ok, name)
		_, _, _, ok = r.PointDistance(Point{})
		require.False(t, ok, name)
		_, _, ok = BetweenNeighbours(Point{}, r)
		require.False(t, ok, name)
	}
	_, _, _, ok := Runs{meander}.PointDistance(Point{nan, 0})
	require.False(t, ok)
}

func TestBetweenNeighbours(t *testing.T) {
	for _, c := range []struct {
		name      string
		p         Point
		near, far float64
		between   bool
	}{
		{"middle of the 75 strip", Point{500, 137.5}, 37.5, 37.5, true},
		{"off the middle", Point{500, 120}, 20, 55, true},
		{"in the 125 strip", Point{500, 200}, 25, 100, true},
		{"above all", Point{500, 350}, 50, 0, false},
		{"on an axis", Point{500, 100}, 0, 0, false},
		{"bad", Point{nan, 0}, 0, 0, false},
	} {
		near, far, between := BetweenNeighbours(c.p, Runs{meander})
		require.Equal(t, c.between, between, c.name)
		require.InDelta(t, c.near, near, eps, c.name)
		require.InDelta(t, c.far, far, eps, c.name)
	}
	// Two lines at a right angle: 90° between the directions is not between.
	near, _, between := BetweenNeighbours(Point{20, 30}, Runs{{{0, 0}, {900, 0}}, {{0, 0}, {0, 900}}})
	require.InDelta(t, 20, near, eps)
	require.False(t, between)
}

// One polyline alone, or cut in two at a point, gives the same answers.
func TestRunsLikeOneLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := genLine(8).Filter(func(l Polyline) bool { return len(l.Dedupe()) > 2 }).Draw(t, "l").Dedupe()
		cut := rapid.IntRange(1, len(l)-2).Draw(t, "cut")
		d1, _, _, ok1 := l.MinPitch()
		p1, _, pok1 := l.MaxPitch()
		b1, _, bok1 := l.BendRadius()
		for _, r := range []Runs{{l}, {l[:cut+1], l[cut:]}} {
			d2, _, _, ok2 := r.MinPitch()
			p2, _, pok2 := r.MaxPitch()
			b2, _, bok2 := r.BendRadius()
			require.Equal(t, []any{d1, ok1, p1, pok1, b1, bok1}, []any{d2, ok2, p2, pok2, b2, bok2})
			require.Equal(t, l.SelfCrosses(), r.Crosses())
			require.InDelta(t, must(t)(l.Length()), must(t)(r.Length()), 1e-8)
		}
	})
}

// The far neighbour is never nearer than the near one, and both stay when
// everything moves.
func TestBetweenNeighboursProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, p, m := genLine(6).Draw(t, "l"), genPoint().Draw(t, "p"), genMotion().Draw(t, "motion")
		near, far, between := BetweenNeighbours(p, Runs{l})
		d, _, _ := PointPolyline(p, l)
		require.InDelta(t, d, near, eps)
		if between {
			require.GreaterOrEqual(t, far, near)
		} else {
			require.Zero(t, far)
		}
		near2, _, _ := BetweenNeighbours(m.point(p), Runs{m.points(l)})
		require.InDelta(t, near, near2, 1e-7)
	})
}

func TestLaidSaysWhatTheOthersSay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coordinate := rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(0, 40).Draw(t, "mm")) * 25 })
		var r Runs
		for range rapid.IntRange(0, 3).Draw(t, "runs") {
			var l Polyline
			for range rapid.IntRange(0, 6).Draw(t, "points") {
				l = append(l, Point{coordinate.Draw(t, "x"), coordinate.Draw(t, "y")})
			}
			r = append(r, l)
		}
		var want Laid
		want.Crosses = r.Crosses()
		want.PitchMM, _, _, want.HasPitch = r.MinPitch()
		want.GapMM, _, want.HasGap = r.WidestGap()
		want.RadiusMM, _, want.HasBendRadius = r.BendRadius()
		require.Equal(t, want, r.Laid())
	})
}
