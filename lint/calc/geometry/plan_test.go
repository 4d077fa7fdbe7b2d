package geometry

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func chain(t require.TestingT, walls ...Wall) Plan {
	p, err := Chain(walls)
	require.NoError(t, err)
	return p
}

func near(t require.TestingT, want, got Point) {
	require.InDelta(t, want.X, got.X, 1e-8)
	require.InDelta(t, want.Y, got.Y, 1e-8)
}

func TestRectangleCloses(t *testing.T) {
	p := chain(t, Wall{2400, 90}, Wall{1800, 90}, Wall{2400, 90}, Wall{1800, 90})
	require.Equal(t, []Point{{0, 0}, {2400, 0}, {2400, -1800}, {0, -1800}}, p.Corners)
	require.Equal(t, Point{0, 0}, p.End)
	require.Zero(t, p.ClosingMissMM)
	require.True(t, p.Closed(0))
	require.False(t, p.SelfCrosses())
	require.InDelta(t, 2400*1800, must(t)(p.Polygon().Area()), eps)
}

// L-shaped room, six walls, worked by hand. Heading in brackets.
//
//	wall 0 [→] 3000 from (0, 0)         to (3000, 0),      inside corner
//	wall 1 [↓] 1200 from (3000, 0)      to (3000, −1200),  inside corner
//	wall 2 [←] 1000 from (3000, −1200)  to (2000, −1200),  OUTSIDE corner
//	wall 3 [↓]  800 from (2000, −1200)  to (2000, −2000),  inside corner
//	wall 4 [←] 2000 from (2000, −2000)  to (0, −2000),     inside corner
//	wall 5 [↑] 2000 from (0, −2000)     to (0, 0),         inside corner
//
// Turns: 5 × 90 − 90 = 360. Area: 3000 × 1200 + 2000 × 800 = 5 200 000 mm².
func lRoom(t require.TestingT) Plan {
	return chain(t, Wall{3000, 90}, Wall{1200, 90}, Wall{1000, -90}, Wall{800, 90}, Wall{2000, 90}, Wall{2000, 90})
}

func TestLRoom(t *testing.T) {
	p := lRoom(t)
	require.Equal(t, []Point{{0, 0}, {3000, 0}, {3000, -1200}, {2000, -1200}, {2000, -2000}, {0, -2000}}, p.Corners)
	require.True(t, p.Closed(0))
	require.Zero(t, p.ClosingMissDeg)
	require.False(t, p.SelfCrosses())
	require.InDelta(t, 5.2e6, must(t)(p.Polygon().Area()), eps)

	for _, c := range []struct {
		wall   int
		x, off float64
		want   Point
	}{
		{0, 500, 100, Point{500, -100}},   // below the top wall
		{1, 200, 100, Point{2900, -200}},  // left of the right-hand wall
		{2, 300, 100, Point{2700, -1100}}, // above the step, which faces up the page
		{3, 300, 100, Point{1900, -1500}}, // left of the step's side
		{4, 500, 100, Point{1500, -1900}}, // above the bottom wall
		{5, 500, 100, Point{100, -1500}},  // right of the left-hand wall
		{0, 500, -20, Point{500, 20}},     // behind the face
	} {
		got, err := p.Place(c.wall, c.x, c.off)
		require.NoError(t, err)
		near(t, c.want, got)
		x, off, err := p.Local(c.wall, got)
		require.NoError(t, err)
		near(t, Point{c.x, c.off}, Point{x, off})
		want := Inside
		if c.off < 0 {
			want = Outside
		}
		require.Equal(t, want, PointInPolygon(got, p.Polygon()))
	}
}

// Five walls with a cut corner, worked by hand: → 2000, ↓ 1000, then two turns
// of 45° round a slant of 1000·√2 to (1000, −2000), ← 1000, ↑ 2000.
// Area: 2000² less half of 1000² = 3 500 000 mm².
func TestCutCornerRoom(t *testing.T) {
	p := chain(t, Wall{2000, 90}, Wall{1000, 45}, Wall{1000 * math.Sqrt2, 45}, Wall{1000, 90}, Wall{2000, 90})
	for i, want := range []Point{{0, 0}, {2000, 0}, {2000, -1000}, {1000, -2000}, {0, -2000}} {
		near(t, want, p.Corners[i])
	}
	require.True(t, p.Closed(1e-6))
	require.False(t, p.SelfCrosses())
	require.InDelta(t, 3.5e6, must(t)(p.Polygon().Area()), 1e-5)
	got, err := p.Place(2, 500*math.Sqrt2, 100*math.Sqrt2) // middle of the slant, towards the room
	require.NoError(t, err)
	near(t, Point{1400, -1400}, got)
}

func TestPlanMiss(t *testing.T) {
	p := chain(t, Wall{2400, 90}, Wall{1800, 90}, Wall{2403, 90}, Wall{1804, 90})
	require.InDelta(t, 5, p.ClosingMissMM, eps) // 3 and 4
	require.True(t, p.Closed(5))
	require.False(t, p.Closed(4.999))
	require.False(t, p.Closed(-1))
	require.False(t, p.Closed(nan))
	require.False(t, p.SelfCrosses(), "a small miss at the last corner is no crossing")

	p = chain(t, Wall{2400, 90}, Wall{1800, 90}, Wall{2400, 90}, Wall{1800, 0})
	require.Zero(t, p.ClosingMissMM)
	require.InDelta(t, -90, p.ClosingMissDeg, eps)
	require.False(t, p.Closed(10), "the last turn is wrong")

	p = chain(t, Wall{2400, -90}, Wall{1800, -90}, Wall{2400, -90}, Wall{1800, -90})
	require.False(t, p.Closed(10), "listed right to left")

	p = chain(t, Wall{1000, 90}, Wall{1000, 90}, Wall{500, 90}, Wall{1500, 90})
	require.True(t, p.SelfCrosses(), "the last wall runs through the first")
	require.False(t, p.Closed(10))

	// Eight: two loops, which meet the start but cross on the way.
	p = chain(t, Wall{1000, 90}, Wall{500, 90}, Wall{500, 90}, Wall{1000, -90}, Wall{500, -90}, Wall{500, 0})
	require.True(t, p.SelfCrosses())

	p = chain(t, Wall{2400, 90})
	require.False(t, p.Closed(1e6))
	require.False(t, p.SelfCrosses())
	p = chain(t, Wall{2400, 90}, Wall{1800, 90})
	require.False(t, p.SelfCrosses())
	require.False(t, p.Closed(1e6))
}

func TestPlanBadInput(t *testing.T) {
	for _, w := range []Wall{{0, 90}, {-1, 90}, {nan, 90}, {inf, 90}, {1000, 180}, {1000, -180}, {1000, nan}, {1000, inf}} {
		_, err := Chain([]Wall{{1000, 90}, w})
		require.ErrorContains(t, err, "wall 1", "%v", w)
	}
	_, err := Chain([]Wall{{MaxCoordMM, 0}, {MaxCoordMM, 0}})
	require.ErrorIs(t, err, ErrNotFinite)
	_, err = Chain(nil)
	require.ErrorIs(t, err, ErrTooFewPoints)
	p := lRoom(t)
	for _, i := range []int{-1, 6} {
		_, err = p.Place(i, 0, 0)
		require.ErrorIs(t, err, ErrWall)
		_, _, err = p.Local(i, Point{})
		require.ErrorIs(t, err, ErrWall)
	}
	_, err = p.Place(0, nan, 0)
	require.ErrorIs(t, err, ErrNotFinite)
	_, _, err = p.Local(0, Point{0, inf})
	require.ErrorIs(t, err, ErrNotFinite)
	_, err = (&Plan{Corners: []Point{{0, 0}}}).Place(0, 1, 1)
	require.ErrorIs(t, err, ErrWall)
	require.True(t, (&Plan{}).SelfCrosses())
	require.False(t, (&Plan{}).Closed(1))
	require.True(t, (&Plan{Corners: []Point{{0, 0}}, End: Point{nan, 0}}).SelfCrosses())
}

func TestPlaceLocalInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		walls := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Wall {
			return Wall{rapid.Float64Range(1, 5000).Draw(t, "w"), rapid.Float64Range(-179, 179).Draw(t, "turn")}
		}), 1, 8).Draw(t, "walls")
		p := chain(t, walls...)
		i := rapid.IntRange(0, len(walls)-1).Draw(t, "wall")
		x, off := rapid.Float64Range(-100, 5000).Draw(t, "x"), rapid.Float64Range(-100, 3000).Draw(t, "off")
		q, err := p.Place(i, x, off)
		require.NoError(t, err)
		x2, off2, err := p.Local(i, q)
		require.NoError(t, err)
		near(t, Point{x, off}, Point{x2, off2})

		// The ends of a wall are its own corner and the next one.
		q, err = p.Place(i, walls[i].WidthMM, 0)
		require.NoError(t, err)
		next := p.End
		if i+1 < len(walls) {
			next = p.Corners[i+1]
		}
		near(t, next, q)
		// Distances on one face are distances on the plan.
		a, err := p.Place(i, x, off)
		require.NoError(t, err)
		require.InDelta(t, math.Hypot(x-walls[i].WidthMM, off), must(t)(PointDistance(a, q)), 1e-7)
	})
}

// Any ring of corners, taken clockwise, comes back from its widths and turns.
func TestChainFollowsAnyRoom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ring := genPoly().Draw(t, "ring") // anticlockwise
		n := len(ring)
		at := func(i int) Point { return ring[n-1-(i%n)] }
		var walls []Wall
		for i := range n {
			u, v := sub(at(i+1), at(i)), sub(at(i+2), at(i+1))
			walls = append(walls, Wall{dist(at(i), at(i+1)), -math.Atan2(cross(u, v), dot(u, v)) * 180 / math.Pi})
			if math.Abs(walls[i].TurnDeg) > 179 {
				t.Skip("too sharp")
			}
		}
		p := chain(t, walls...)
		require.True(t, p.Closed(1e-6), "miss %v mm, %v°", p.ClosingMissMM, p.ClosingMissDeg)
		require.InDelta(t, must(t)(ring.Area()), must(t)(p.Polygon().Area()), 1e-4)
		for i := range n {
			q, err := p.Place(i, walls[i].WidthMM/2, 1e-3)
			require.NoError(t, err)
			require.Equal(t, Inside, PointInPolygon(q, p.Polygon()), "the room lies in front of wall %d", i)
		}
	})
}

func TestRoomDistances(t *testing.T) {
	require.InDelta(t, 7, must(t)(Distance3(Point3{1, 2, 3}, Point3{3, 5, 9})), eps) // 2, 3, 6
	b := Box3{Point3{0, 0, 0}, Point3{100, 50, 20}}
	for _, c := range []struct {
		p    Point3
		want float64
	}{
		{Point3{50, 25, 10}, 0}, {Point3{100, 50, 20}, 0}, {Point3{50, 25, 32}, 12},
		{Point3{102, 53, 26}, 7}, {Point3{-2, -3, -6}, 7}, {Point3{103, 25, 24}, 5},
	} {
		require.InDelta(t, c.want, must(t)(b.DistanceBox3(c.p)), eps)
	}
	for _, bad := range []Point3{{nan, 0, 0}, {0, inf, 0}, {0, 0, 2e9}} {
		_, err := Distance3(bad, Point3{})
		require.ErrorIs(t, err, ErrNotFinite)
		_, err = b.DistanceBox3(bad)
		require.ErrorIs(t, err, ErrNotFinite)
		_, err = Box3{bad, Point3{1, 1, 1}}.DistanceBox3(Point3{})
		require.ErrorIs(t, err, ErrNotFinite)
	}
	_, err := Box3{Point3{1, 0, 0}, Point3{0, 1, 1}}.DistanceBox3(Point3{})
	require.ErrorIs(t, err, ErrRect)
}
