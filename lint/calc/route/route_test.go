package route

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/calc/geometry"
)

type pt = geometry.Point

func rect(x0, y0, x1, y1 float64) geometry.Polygon {
	return geometry.Rect{Min: pt{X: x0, Y: y0}, Max: pt{X: x1, Y: y1}}.Polygon()
}

func ptr(v float64) *float64 { return &v }

// bench is the seat of 2200 × 500 mm that the worked examples are laid on.
var bench = rect(0, 0, 2200, 500)

var usual = Limits{PitchMin: 60, PitchMax: 120, BendMin: 40, EdgeMM: 60, ObstacleMM: 30}

// holds sees that a proposal keeps every limit, with the measures of package geometry alone.
func holds(t require.TestingT, r Route, area geometry.Polygon, obstacles []Obstacle, length float64, l Limits) {
	const tol = 1e-6
	runs := geometry.Runs{r.Line}
	require.NoError(t, runs.Check())
	require.False(t, runs.Crosses())
	if r.Rows > 1 {
		p, _, _, ok := runs.MinPitch()
		require.True(t, ok)
		require.GreaterOrEqual(t, p, l.PitchMin-tol)
		wide, _, ok := runs.WidestGap()
		require.True(t, ok)
		require.LessOrEqual(t, wide, l.PitchMax+tol)
		require.InDelta(t, r.PitchMM, wide, tol)
		bend, _, ok := runs.BendRadius()
		require.True(t, ok)
		require.GreaterOrEqual(t, bend, l.BendMin-tol)
		require.InDelta(t, r.BendMM, bend, tol)
	}
	sharp, err := runs.Length()
	require.NoError(t, err)
	require.InDelta(t, sharp, r.SharpMM, tol)
	saved := 0.0
	if r.Rows > 1 {
		_, _, one, err := geometry.FilletSaving(r.BendMM, 90)
		require.NoError(t, err)
		saved = float64(len(r.Line)-2) * one
	}
	tolerance := max(1, l.ToleranceMM)
	require.InDelta(t, length, sharp-saved, tolerance+tol)
	require.InDelta(t, r.LengthMM, sharp-saved, tol)
	require.Len(t, r.Line, 2*r.Rows)
	for i := 1; i < len(r.Line); i++ {
		a, b := r.Line[i-1], r.Line[i]
		require.Equal(t, geometry.Inside, geometry.PointInPolygon(a, area))
		require.Equal(t, geometry.Inside, geometry.PointInPolygon(b, area))
		for k := range area {
			d, err := geometry.SegmentSegment(a, b, area[k], area[(k+1)%len(area)])
			require.NoError(t, err)
			require.GreaterOrEqual(t, d, l.EdgeMM-tol)
			require.Positive(t, d)
		}
	}
	for _, o := range obstacles {
		clear := l.ObstacleMM
		if o.ClearMM != nil {
			clear = *o.ClearMM
		}
		d := 0.0
		switch {
		case o.Circle != nil:
			d, _, _ = geometry.PointPolyline(o.Circle.Centre, r.Line)
			d -= o.Circle.R
		case o.Ring != nil:
			d, err = geometry.PolygonPolyline(o.Ring, r.Line)
		default:
			d, err = geometry.PolylinePolyline(o.Line, r.Line)
		}
		require.NoError(t, err)
		require.GreaterOrEqual(t, d, clear-tol)
		require.Positive(t, d)
	}
	if l.Exit != nil {
		first, last := r.Line[0], r.Line[len(r.Line)-1]
		d := math.Hypot(first.X-l.Exit.X, first.Y-l.Exit.Y)
		require.InDelta(t, d, r.ExitMM, tol)
		require.LessOrEqual(t, d, math.Hypot(last.X-l.Exit.X, last.Y-l.Exit.Y)+tol)
	}
}

// TestWorkedByHand lays 10 m on the bench. Between edges of 60 mm there are 2080 × 380 mm. Four rows at 120 mm take no more than
// 4·2080 + 360 = 8680 mm. Five rows stand 380/4 = 95 mm apart; eight bends of 47.5 mm save 8·47.5·(2 − π/2) = 163.10 mm, so
// they take up to 5·2080 + 380 − 163.10 = 10616.90 mm. That is 616.90 too much: 61 mm off both ends of every row take 610, and the last row
// gives 7 more.
func TestWorkedByHand(t *testing.T) {
	r, err := Propose(bench, nil, 10000, usual)
	require.NoError(t, err)
	holds(t, r, bench, nil, 10000, usual)
	require.Equal(t, 5, r.Rows)
	require.InDelta(t, 95, r.PitchMM, 1e-9)
	require.False(t, r.Upright)
	require.InDelta(t, 10616.9026-610-7, r.LengthMM, 0.01)
	require.Equal(t, geometry.Polyline{{X: 121, Y: 60}, {X: 2079, Y: 60}, {X: 2079, Y: 155}, {X: 121, Y: 155}, {X: 121, Y: 250}, {X: 2079, Y: 250}, {X: 2079, Y: 345}, {X: 121, Y: 345}, {X: 121, Y: 440}, {X: 2072, Y: 440}}, r.Line)
}

func TestStartsNearTheExit(t *testing.T) {
	for _, c := range []struct{ exit, start pt }{
		{pt{X: 0, Y: 0}, pt{X: 121, Y: 60}},
		{pt{X: 2200, Y: 0}, pt{X: 2079, Y: 60}},
		{pt{X: 0, Y: 500}, pt{X: 128, Y: 440}},
		{pt{X: 2200, Y: 500}, pt{X: 2072, Y: 440}},
	} {
		l := usual
		l.Exit = &c.exit
		r, err := Propose(bench, nil, 10000, l)
		require.NoError(t, err)
		holds(t, r, bench, nil, 10000, l)
		require.Equal(t, c.start, r.Line[0])
	}
}

// TestErrors: with turns of 40 mm the least pitch is 80 mm, so five rows of 80 mm are the most across 380 mm: 5·2080 + 320 − 8·40·0.4292 = 10582.65.
// At 95 mm they take 10616.90 (see TestWorkedByHand). Upright, 27 columns of 380 mm at 80 mm take 27·380 + 26·80 − 52·40·0.4292 = 11447.26 mm.
func TestErrors(t *testing.T) {
	r, err := Propose(bench, nil, 11447, usual)
	require.NoError(t, err)
	require.True(t, r.Upright)
	holds(t, r, bench, nil, 11447, usual)
	_, err = Propose(bench, nil, 12000, usual)
	require.ErrorIs(t, err, ErrTooLong)
	require.EqualError(t, err, "the cable is too long for the area by 0.553 m: at a pitch of no less than 80 mm the area takes 11.447 m of the 12 m")

	_, err = Propose(bench, nil, 150, usual)
	require.ErrorIs(t, err, ErrTooShort)

	l := usual
	l.BendMin = 61
	_, err = Propose(bench, nil, 10000, l)
	require.ErrorIs(t, err, ErrBend)
	require.EqualError(t, err, "the bend radius forbids the pitch: a turn of radius 61 mm takes a pitch of 122 mm, and the widest is 120 mm")
	l.BendMin = 60
	_, err = Propose(bench, nil, 8000, l)
	require.NoError(t, err, "exactly at the limit")

	l = usual
	l.EdgeMM = 251
	_, err = Propose(bench, nil, 10000, l)
	require.ErrorIs(t, err, ErrNoRoom)

	// A bar across the bench leaves two halves of 1000 mm; each takes about half of the cable.
	bar := []Obstacle{{Ring: rect(1050, 0, 1150, 500)}}
	_, err = Propose(bench, bar, 10000, usual)
	require.ErrorIs(t, err, ErrObstacles)
	r, err = Propose(bench, bar, 4000, usual)
	require.NoError(t, err)
	holds(t, r, bench, bar, 4000, usual)

	for _, bad := range []func() error{
		func() error { _, err := Propose(bench[:2], nil, 1000, usual); return err },
		func() error {
			_, err := Propose(geometry.Polygon{{}, {X: 1000, Y: 1000}, {X: 1000}, {Y: 1000}}, nil, 1000, usual)
			return err
		},
		func() error { _, err := Propose(bench, nil, math.NaN(), usual); return err },
		func() error { _, err := Propose(bench, nil, 0, usual); return err },
		func() error { _, err := Propose(bench, []Obstacle{{}}, 1000, usual); return err },
		func() error {
			_, err := Propose(bench, []Obstacle{{Circle: &geometry.Circle{R: -1}}}, 1000, usual)
			return err
		},
		func() error { _, err := Propose(bench, nil, 1000, Limits{PitchMin: 100, PitchMax: 90}); return err },
		func() error { _, err := Propose(bench, nil, 1000, Limits{PitchMax: 90}); return err },
		func() error { _, err := Propose(bench, nil, 1000, Limits{PitchMin: -1, PitchMax: 90}); return err },
	} {
		require.ErrorIs(t, bad(), ErrInput)
	}
	_, err = Propose(bench, make([]Obstacle, 5000), 1000, usual)
	require.ErrorIs(t, err, ErrInput)
	many := make([]Obstacle, 5000)
	for i := range many {
		many[i].Circle = &geometry.Circle{R: 1}
	}
	_, err = Propose(bench, many, 1000, usual)
	require.ErrorIs(t, err, ErrTooMuch)
}

// TestSingleRow: a strip of 150 mm between edges of 60 mm has room for one row of 2080 mm and no turn.
func TestSingleRow(t *testing.T) {
	strip := rect(0, 0, 2200, 150)
	r, err := Propose(strip, nil, 1500, usual)
	require.NoError(t, err)
	holds(t, r, strip, nil, 1500, usual)
	require.Equal(t, 1, r.Rows)
	require.Zero(t, r.PitchMM)
	_, err = Propose(strip, nil, 2082, usual)
	require.ErrorIs(t, err, ErrTooLong)
}

// TestAroundObstacles lays cables past holes, beside another cable, and in an L.
func TestAroundObstacles(t *testing.T) {
	drain := []Obstacle{{Circle: &geometry.Circle{Centre: pt{X: 300, Y: 250}, R: 55}}}
	r, err := Propose(bench, drain, 8000, usual)
	require.NoError(t, err)
	holds(t, r, bench, drain, 8000, usual)

	other := []Obstacle{{Line: geometry.Polyline{{X: 60, Y: 60}, {X: 60, Y: 440}}, ClearMM: ptr(100)}}
	r, err = Propose(bench, other, 9000, usual)
	require.NoError(t, err)
	holds(t, r, bench, other, 9000, usual)

	el := geometry.Polygon{{X: 0, Y: 0}, {X: 2000, Y: 0}, {X: 2000, Y: 500}, {X: 500, Y: 500}, {X: 500, Y: 2000}, {X: 0, Y: 2000}}
	r, err = Propose(el, nil, 14000, usual)
	require.NoError(t, err)
	holds(t, r, el, nil, 14000, usual)
}

// TestWhatFitsIsFound builds a meander of whole millimetres in a rectangle that it just fits, and sees that a proposal of its length exists.
func TestWhatFitsIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 12).Draw(t, "rows")
		p := float64(rapid.IntRange(60, 120).Draw(t, "pitch"))
		w := float64(rapid.IntRange(int(p)+10, 4000).Draw(t, "row"))
		l := Limits{PitchMin: 60, PitchMax: 120, BendMin: 30, EdgeMM: float64(rapid.IntRange(0, 80).Draw(t, "edge"))}
		e := max(l.EdgeMM, 1)
		area := rect(0, 0, w+2*e, float64(n-1)*p+2*e)
		length := float64(n)*w + float64(n-1)*(p-p*turnSaving)
		r, err := Propose(area, nil, length, l)
		require.NoError(t, err)
		holds(t, r, area, nil, length, l)
		if !r.Upright {
			require.LessOrEqual(t, r.Rows, n)
		}
	})
}

func TestEveryProposalKeepsEveryLimit(t *testing.T) {
	found := 0
	rapid.Check(t, func(t *rapid.T) {
		in := func(lo, hi int, name string) float64 { return float64(rapid.IntRange(lo, hi).Draw(t, name)) }
		w, h := in(200, 4000, "w"), in(200, 3000, "h")
		var area geometry.Polygon
		switch rapid.IntRange(0, 2).Draw(t, "form") {
		case 0:
			area = rect(0, 0, w, h)
		case 1: // an L
			x, y := math.Floor(w*in(30, 70, "cut x")/100), math.Floor(h*in(30, 70, "cut y")/100)
			area = geometry.Polygon{{}, {X: w}, {X: w, Y: y}, {X: x, Y: y}, {X: x, Y: h}, {Y: h}}
		default: // a slanted quadrilateral
			area = geometry.Polygon{{X: in(0, 100, "a")}, {X: w, Y: in(0, 100, "b")}, {X: w - in(0, 100, "c"), Y: h}, {Y: h - in(0, 100, "d")}}
		}
		l := Limits{PitchMin: in(40, 80, "least"), PitchMax: in(80, 150, "widest"), BendMin: in(0, 60, "bend"), EdgeMM: in(0, 100, "edge"), ObstacleMM: in(0, 60, "clear")}
		if rapid.Bool().Draw(t, "exit?") {
			l.Exit = &pt{X: in(0, 4000, "exit x"), Y: in(0, 3000, "exit y")}
		}
		var obstacles []Obstacle
		for range rapid.IntRange(0, 3).Draw(t, "obstacles") {
			x, y := in(-50, int(w), "x"), in(-50, int(h), "y")
			var o Obstacle
			switch rapid.IntRange(0, 2).Draw(t, "sort") {
			case 0:
				o.Circle = &geometry.Circle{Centre: pt{X: x, Y: y}, R: in(0, 150, "r")}
			case 1:
				o.Ring = rect(x, y, x+in(1, 400, "ow"), y+in(1, 400, "oh"))
			default:
				o.Line = geometry.Polyline{{X: x, Y: y}, {X: x + in(-300, 300, "dx"), Y: y + in(1, 300, "dy")}}
			}
			if rapid.Bool().Draw(t, "own") {
				o.ClearMM = ptr(in(0, 100, "own clear"))
			}
			obstacles = append(obstacles, o)
		}
		length := in(300, 60000, "length")
		r, err := Propose(area, obstacles, length, l)
		if err != nil {
			for _, known := range []error{ErrTooLong, ErrTooShort, ErrBend, ErrObstacles, ErrNoRoom} {
				if errors.Is(err, known) {
					return
				}
			}
			require.NoError(t, err)
		}
		found++
		holds(t, r, area, obstacles, length, l)
	})
	require.Greater(t, found, 10)
}
