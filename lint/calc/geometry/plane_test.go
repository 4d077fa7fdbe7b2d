package geometry

import (
	"math"
	"testing"

	"github.com/peterstace/simplefeatures/geom"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Distances computed by three independent programs; agreed to 1e-9.
// off is taken from the distance to give the gap.
func TestDistanceVectors(t *testing.T) {
	const box = "POLYGON((100 100,300 100,300 200,100 200,100 100))"
	const elbow = "LINESTRING(0 0,400 300,800 300)"
	const ring = "LINESTRING(0 0,400 0,400 200,200 200,200 400,0 400,0 0)"
	for _, c := range []struct {
		id, a, b    string
		d, off, gap float64
	}{
		{"G01", "POINT(0 0)", "POINT(300 400)", 500, 80, 420},
		{"G02", "POINT(0 0)", "POINT(60 0)", 60, 80, -20},
		{"G03", "POINT(300 100)", elbow, 100, 42, 58},
		{"G04", "POINT(860 380)", elbow, 100, 28, 72},
		{"G05", box, "LINESTRING(320 260,420 160)", 56.568542494923804, 0, 56.568542494923804},
		{"G06", box, "LINESTRING(350 150,450 50)", 50, 0, 50},
		{"G07", box, "LINESTRING(50 50,350 250)", 0, 0, 0},
		{"G09", "POINT(150 150)", ring, 70.71067811865476, 40, 30.710678118654755},
		{"G10", "POINT(250 150)", ring, 50, 40, 10},
		{"G13", "LINESTRING(0 0,100 100)", "LINESTRING(0 100,100 0)", 0, 0, 0},
		{"G15", "POLYGON((0 0,600 0,600 1200,0 1200,0 0))", "POLYGON((735.8578643762691 229.28932188134524,820.7106781186548 314.1421356237309,764.1421356237309 370.71067811865476,679.2893218813452 285.8578643762691,735.8578643762691 229.28932188134524))", 79.2893218813452, 0, 79.2893218813452},
	} {
		t.Run(c.id, func(t *testing.T) {
			ga, err := geom.UnmarshalWKT(c.a)
			require.NoError(t, err)
			gb, err := geom.UnmarshalWKT(c.b)
			require.NoError(t, err)
			require.InDelta(t, c.d, sfDistance(t, ga, gb), eps)

			pts := func(g geom.Geometry) []Point {
				switch g.Type() {
				case geom.TypePoint:
					xy, ok := g.MustAsPoint().XY()
					require.True(t, ok)
					return []Point{{xy.X, xy.Y}}
				case geom.TypeLineString:
					return fromSequence(g.MustAsLineString().Coordinates())
				}
				ps := fromSequence(g.MustAsPolygon().ExteriorRing().Coordinates())
				return ps[:len(ps)-1]
			}
			a, b := pts(ga), pts(gb)
			var d float64
			switch {
			case len(a) == 1 && len(b) == 1:
				d = must(t)(PointDistance(a[0], b[0]))
				gap := must(t)(CircleGap(Circle{a[0], c.off / 4}, Circle{b[0], c.off * 3 / 4}))
				require.InDelta(t, c.gap, gap, eps)
			case len(a) == 1:
				d, _, _ = PointPolyline(a[0], b)
				// One part of off is the hole's radius, the rest half the groove.
				gap := must(t)(CirclePolylineGap(Circle{a[0], c.off / 4}, b, c.off*3/2))
				require.InDelta(t, c.gap, gap, eps)
				if b[0] == b[len(b)-1] {
					edge := must(t)(CirclePolygonEdgeGap(Circle{a[0], c.off}, b[:len(b)-1]))
					require.InDelta(t, c.gap, edge, eps)
				}
			case ga.Type() == geom.TypeLineString:
				d = must(t)(PolylinePolyline(a, b))
				require.InDelta(t, c.d, must(t)(SegmentSegment(a[0], a[1], b[0], b[1])), eps)
			case gb.Type() == geom.TypeLineString:
				d = must(t)(PolygonPolyline(a, b))
			default:
				d = must(t)(PolygonPolygon(a, b))
			}
			require.InDelta(t, c.d, d, eps)
			require.InDelta(t, c.gap, d-c.off, eps)
		})
	}
}

func TestPointInPolygonVectors(t *testing.T) {
	for _, c := range []struct {
		p    Point
		want Position
	}{
		{Point{100, 300}, Inside},
		{Point{300, 300}, Outside},
		{Point{200, 300}, Boundary},
		{Point{150, 150}, Inside},
		{Point{400, 0}, Boundary},
		{Point{399.999, 0.001}, Inside},
		// A ray at the height of corners and of a level edge counts once.
		{Point{-10, 200}, Outside}, {Point{100, 200}, Inside}, {Point{-10, 0}, Outside},
		{Point{500, 200}, Outside}, {Point{-10, 400}, Outside},
		{Point{200 + 2e-9, 300}, Outside}, {Point{200 + 1e-10, 300}, Boundary},
		{Point{nan, 0}, PositionUnknown}, {Point{0, inf}, PositionUnknown},
	} {
		require.Equal(t, c.want.String(), PointInPolygon(c.p, lPoly).String(), "%v", c.p)
	}
	require.Equal(t, PositionUnknown, PointInPolygon(Point{}, lPoly[:2]))
	require.Equal(t, "unknown", PositionUnknown.String())
}

func TestPointSegmentByHand(t *testing.T) {
	for _, c := range []struct {
		p, a, b Point
		want    float64
	}{
		{Point{5, 3}, Point{0, 0}, Point{10, 0}, 3},  // beside
		{Point{-3, 4}, Point{0, 0}, Point{10, 0}, 5}, // before the start
		{Point{13, 4}, Point{0, 0}, Point{10, 0}, 5}, // past the end
		{Point{3, 4}, Point{0, 0}, Point{0, 0}, 5},   // no length
		{Point{3, 4}, Point{0, 0}, Point{0, 1e-200}, 5},
	} {
		require.InDelta(t, c.want, must(t)(PointSegment(c.p, c.a, c.b)), eps)
	}
}

func TestSegmentSegmentCases(t *testing.T) {
	for name, c := range map[string]struct {
		s    [4]Point
		want float64
	}{
		"touch at an end":    {[4]Point{{0, 0}, {10, 0}, {5, 0}, {5, 9}}, 0},
		"overlap":            {[4]Point{{0, 0}, {10, 0}, {5, 0}, {20, 0}}, 0},
		"in line, apart":     {[4]Point{{0, 0}, {10, 0}, {14, 0}, {20, 0}}, 4},
		"slanting in line":   {[4]Point{{0, 0}, {1, 1. / 3}, {3, 1}, {6, 2}}, math.Hypot(2, 2./3)},
		"parallel":           {[4]Point{{0, 0}, {10, 0}, {20, 7}, {-5, 7}}, 7},
		"both points":        {[4]Point{{0, 0}, {0, 0}, {3, 4}, {3, 4}}, 5},
		"point on a segment": {[4]Point{{4, 0}, {4, 0}, {0, 0}, {9, 0}}, 0},
	} {
		require.InDelta(t, c.want, must(t)(SegmentSegment(c.s[0], c.s[1], c.s[2], c.s[3])), eps, name)
	}
}

func TestAreaInsideArea(t *testing.T) {
	outer, inner := Rect{Point{0, 0}, Point{100, 100}}.Polygon(), Rect{Point{40, 40}, Point{60, 60}}.Polygon()
	require.Zero(t, must(t)(PolygonPolygon(outer, inner)))
	require.Zero(t, must(t)(PolygonPolygon(inner, outer)))
	require.Zero(t, must(t)(PolygonPolyline(outer, Polyline{{40, 40}, {60, 60}})))
	require.InDelta(t, 20, must(t)(PolygonPolyline(outer, Polyline{{120, 0}, {120, 300}})), eps)
	require.InDelta(t, 120000, must(t)(lPoly.Area()), eps) // 400² − 200²
}

func TestPolygonSelfCrosses(t *testing.T) {
	require.False(t, lPoly.SelfCrosses())
	require.False(t, append(lPoly, lPoly[0]).SelfCrosses(), "a repeated end point does no harm")
	require.True(t, Polygon{{0, 0}, {100, 100}, {100, 0}, {0, 100}}.SelfCrosses(), "bow tie")
	require.True(t, Polygon{{0, 0}, {100, 0}, {100, 50}, {50, 0}, {0, 50}}.SelfCrosses(), "corner on an edge")
	require.True(t, Polygon{{0, 0}, {100, 0}, {50, 0}}.SelfCrosses(), "folded flat")
	require.True(t, Polygon{{50, 0}, {100, 0}, {100, 50}, {0, 50}, {0, 0}, {90, 0}}.SelfCrosses(), "fold at the closing corner")
	require.True(t, Polygon{{0, 0}, {1, 1}}.SelfCrosses(), "bad input")
}

func TestRoundMM(t *testing.T) {
	for _, c := range [][2]float64{
		{1.0004, 1}, {1.0005, 1.001}, {-1.0005, -1.001}, {2.0015, 2.002}, {0.00049, 0},
		{29.999499999999998, 30}, // noise under the half
		{74.99999999999999, 75}, {0.1 + 0.2, 0.3}, {1e300, 1e300}, {123456.7894999, 123456.789},
		{inf, inf}, {-inf, -inf}, {nan, inf},
	} {
		require.Equal(t, c[1], RoundMM(c[0]), "%v", c[0])
	}
	require.False(t, math.Signbit(RoundMM(-0.0001)), "no minus zero")
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "v")
		r := RoundMM(v)
		require.InDelta(t, v, r, 0.0005+2e-9)
		require.Equal(t, r, RoundMM(r))
		require.Equal(t, -r+0, RoundMM(-v)+0)
	})
}

// The independent library gives the same distances.
func TestDistancesAgainstLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, q := genPoint().Draw(t, "p"), genPoint().Draw(t, "q")
		l, m := distinct(t, "l"), distinct(t, "m")
		f, g := genPoly().Draw(t, "f"), genPoly().Draw(t, "g")

		d, leg, near := PointPolyline(p, l)
		require.InDelta(t, sfDistance(t, sfPoint(p), sfLine(l)), d, 1e-8)
		require.InDelta(t, d, must(t)(PointDistance(p, near)), eps)
		require.InDelta(t, d, must(t)(PointSegment(p, l[leg], l[leg+1])), eps)
		require.InDelta(t, sfDistance(t, sfPoint(p), sfPoint(q)), must(t)(PointDistance(p, q)), 1e-8)
		require.InDelta(t, sfDistance(t, sfLine(l), sfLine(m)), must(t)(PolylinePolyline(l, m)), 1e-8)
		require.InDelta(t, sfDistance(t, sfPoly(f), sfLine(l)), must(t)(PolygonPolyline(f, l)), 1e-8)
		require.InDelta(t, sfDistance(t, sfPoly(f), sfPoly(g)), must(t)(PolygonPolygon(f, g)), 1e-8)
		require.InDelta(t, sfPoly(f).Area(), must(t)(f.Area()), 1e-5)
	})
}

// distinct draws a line without legs of no length, which the library does not
// take (it gives NaN for a leg so short that its square is 0).
func distinct(t *rapid.T, name string) Polyline {
	return genLine(6).Filter(func(l Polyline) bool { return len(l.Dedupe()) > 1 }).Draw(t, name).Dedupe()
}

func TestPointInPolygonAgainstLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := genPoly().Draw(t, "f")
		p := rapid.OneOf(genPoint(), rapid.SampledFrom(f), rapid.Custom(func(t *rapid.T) Point {
			// As high as a corner: where a careless ray counts a corner twice.
			return Point{genCoord().Draw(t, "x"), rapid.SampledFrom(f).Draw(t, "corner").Y}
		})).Draw(t, "p")
		if ringDist(p, f) <= BoundaryTolMM {
			require.Equal(t, Boundary, PointInPolygon(p, f))
			return
		}
		in, err := geom.Contains(sfPoly(f), sfPoint(p))
		require.NoError(t, err)
		require.Equal(t, in, PointInPolygon(p, f) == Inside)
		require.Equal(t, !in, PointInPolygon(p, f) == Outside)
	})
}

// Turning, mirroring and shifting everything changes no distance; changing the
// order of the arguments or of the points changes none either.
func TestDistancesKeepUnderMotion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := genMotion().Draw(t, "motion")
		p := genPoint().Draw(t, "p")
		l, k := genLine(5).Draw(t, "l"), genLine(5).Draw(t, "k")
		f, g := genPoly().Draw(t, "f"), genPoly().Draw(t, "g")
		r, w := rapid.Float64Range(0, 80).Draw(t, "r"), rapid.Float64Range(1, 80).Draw(t, "w")
		same := func(a, b float64) { t.Helper(); require.InDelta(t, a, b, 1e-7) }

		same(must(t)(PolylinePolyline(l, k)), must(t)(PolylinePolyline(m.points(l), m.points(k))))
		same(must(t)(PolylinePolyline(l, k)), must(t)(PolylinePolyline(k, l)))
		same(must(t)(PolygonPolygon(f, g)), must(t)(PolygonPolygon(m.points(f), m.points(g))))
		same(must(t)(PolygonPolygon(f, g)), must(t)(PolygonPolygon(g, f)))
		same(must(t)(PolygonPolyline(f, l)), must(t)(PolygonPolyline(m.points(f), m.points(l))))
		same(must(t)(CirclePolylineGap(Circle{p, r}, l, w)), must(t)(CirclePolylineGap(Circle{m.point(p), r}, m.points(l), w)))
		same(must(t)(CirclePolygonEdgeGap(Circle{p, r}, f)), must(t)(CirclePolygonEdgeGap(Circle{m.point(p), r}, m.points(f))))
		same(must(t)(l.Length()), must(t)(Polyline(m.points(l)).Length()))
		if ringDist(p, f) > 1e-6 {
			require.Equal(t, PointInPolygon(p, f), PointInPolygon(m.point(p), m.points(f)))
		}
	})
}
