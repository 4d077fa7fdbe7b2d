package geometry

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestCirclePolygonEdgeGapByHand(t *testing.T) {
	for _, c := range []struct {
		c    Circle
		want float64
	}{
		{Circle{Point{100, 300}, 40}, 60},
		{Circle{Point{100, 300}, 120}, -20}, // breaks through the edge
		{Circle{Point{200, 300}, 40}, -40},  // centre on the edge
		{Circle{Point{300, 300}, 40}, -140}, // centre 100 outside
		{Circle{Point{150, 150}, 0}, 70.71067811865476},
	} {
		require.InDelta(t, c.want, must(t)(CirclePolygonEdgeGap(c.c, lPoly)), eps)
	}
}

func TestRectGaps(t *testing.T) {
	r := Rect{Point{0, 0}, Point{100, 50}}
	for _, c := range []struct {
		b    Rect
		want float64
	}{
		{Rect{Point{130, 90}, Point{200, 200}}, 50},   // 30 and 40 off the corner
		{Rect{Point{130, 10}, Point{200, 20}}, 30},    // beside
		{Rect{Point{0, 50}, Point{100, 60}}, 0},       // touching
		{Rect{Point{90, 30}, Point{200, 200}}, -10},   // 10 in x, 20 in y
		{Rect{Point{40, 10}, Point{60, 20}}, -20},     // inside; frees downwards
		{Rect{Point{-10, -10}, Point{110, 60}}, -60},  // outside all round
		{Rect{Point{120, 25}, Point{120, 25}}, 20},    // a point
		{Rect{Point{-50, -40}, Point{-30, -40}}, 50},  // a line
		{Rect{Point{100, 50}, Point{130, 90}}, 0},     // corner to corner
		{Rect{Point{100, 80}, Point{130, 90}}, 30},    // flush in x
		{Rect{Point{99.5, 80}, Point{130, 90}}, 30},   // overlapping in x only
		{Rect{Point{-200, 20}, Point{-0.5, 30}}, 0.5}, // left
	} {
		require.InDelta(t, c.want, must(t)(RectGap(r, c.b)), eps, "%v", c.b)
		require.InDelta(t, c.want, must(t)(RectGap(c.b, r)), eps, "%v", c.b)
	}
	require.InDelta(t, 40, must(t)(RectCircleGap(r, Circle{Point{130, 90}, 10})), eps)
	require.InDelta(t, -25, must(t)(RectCircleGap(r, Circle{Point{50, 30}, 5})), eps, "20 inside the top and r 5")
	require.InDelta(t, -5, must(t)(RectCircleGap(r, Circle{Point{100, 25}, 5})), eps)
}

// A rectangle or circle that is apart is as far as its outline; a negative gap
// is just what must be shifted to touch.
func TestGapProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rect := func(name string) Rect {
			p := genPoint().Draw(t, name)
			return Rect{p, Point{p.X + rapid.Float64Range(0, 500).Draw(t, "w"), p.Y + rapid.Float64Range(0, 500).Draw(t, "h")}}
		}
		a, b := rect("a"), rect("b")
		gap := must(t)(RectGap(a, b))
		require.InDelta(t, gap, must(t)(RectGap(b, a)), eps)
		require.InDelta(t, max(gap, 0), must(t)(PolygonPolygon(a.Polygon(), b.Polygon())), 1e-8)

		s := genPoint().Draw(t, "shift")
		move := func(r Rect) Rect {
			return Rect{Point{r.Min.X + s.X, r.Min.Y + s.Y}, Point{r.Max.X + s.X, r.Max.Y + s.Y}}
		}
		require.InDelta(t, gap, must(t)(RectGap(move(a), move(b))), 1e-8)

		c := Circle{genPoint().Draw(t, "c"), rapid.Float64Range(0, 90).Draw(t, "r")}
		require.InDelta(t, -must(t)(CirclePolygonEdgeGap(Circle{Centre: c.Centre}, a.Polygon())),
			must(t)(RectCircleGap(a, c))+c.R, 1e-8)

		d := Circle{genPoint().Draw(t, "d"), rapid.Float64Range(0, 90).Draw(t, "r")}
		g := must(t)(CircleGap(c, d))
		require.InDelta(t, g, must(t)(CircleGap(d, c)), eps)
		require.InDelta(t, g-7, must(t)(CircleGap(Circle{c.Centre, c.R + 7}, d)), 1e-8)
	})
}

func TestBadInputGivesErrors(t *testing.T) {
	ok, far := Point{1, 2}, Point{0, 2 * MaxCoordMM}
	badP := []Point{{nan, 0}, {0, inf}, {-inf, 0}, far}
	line, c, r := Polyline{{0, 0}, {1, 1}}, Circle{ok, 1}, Rect{Point{0, 0}, Point{1, 1}}
	fails := func(v float64, err error) {
		t.Helper()
		require.Error(t, err)
		require.Zero(t, v)
	}
	for _, b := range badP {
		fails(PointDistance(b, ok))
		fails(PointSegment(ok, b, ok))
		fails(SegmentSegment(ok, ok, ok, b))
		fails(PolylinePolyline(line, Polyline{ok, b}))
		fails(PolygonPolyline(Polygon{ok, b, ok}, line))
		fails(PolygonPolyline(lPoly, Polyline{b, ok}))
		fails(PolygonPolygon(lPoly, Polygon{ok, ok, b}))
		fails(Polygon{ok, ok, b}.Area())
		fails(CircleGap(c, Circle{b, 1}))
		fails(CirclePolylineGap(Circle{b, 1}, line, 1))
		fails(CirclePolygonEdgeGap(c, Polygon{b, ok, ok}))
		fails(RectGap(r, Rect{b, ok}))
		fails(RectCircleGap(r, Circle{b, 1}))
		fails(Polyline{ok, b}.Length())
		fails(Circumradius(ok, b, ok))
		fails(BandArea(Polyline{ok, b}, 1))
		d, leg, near := PointPolyline(b, line)
		require.Equal(t, -1, leg)
		require.Zero(t, d)
		require.Zero(t, near)
	}
	for _, w := range []float64{0, -1, nan, inf, 2 * MaxCoordMM} {
		fails(CirclePolylineGap(c, line, w))
		fails(BandArea(line, w))
		fails(FilletRadiusMax(w, 90))
	}
	for _, a := range []float64{0, -1, 180, nan, inf} {
		fails(FilletRadiusMax(10, a))
	}
	for _, a := range []float64{-1, 180, nan, inf} {
		_, _, _, err := FilletSaving(10, a)
		require.ErrorIs(t, err, ErrAngle)
	}
	_, _, _, err := FilletSaving(-1, 90)
	require.ErrorIs(t, err, ErrRadius)
	_, err = CircleGap(c, Circle{ok, -1})
	require.ErrorIs(t, err, ErrRadius)
	_, err = CircleGap(c, Circle{ok, nan})
	require.ErrorIs(t, err, ErrNotFinite)
	_, err = RectGap(r, Rect{Point{2, 0}, Point{1, 0}})
	require.ErrorIs(t, err, ErrRect)
	_, err = PolylinePolyline(line, line[:1])
	require.ErrorIs(t, err, ErrTooFewPoints)
	_, err = PolylinePolyline(nil, line)
	require.ErrorIs(t, err, ErrTooFewPoints)
	_, err = PolygonPolygon(lPoly, lPoly[:2])
	require.ErrorIs(t, err, ErrTooFewPoints)
	_, err = BandArea(line, -2)
	require.ErrorIs(t, err, ErrWidth)
}
