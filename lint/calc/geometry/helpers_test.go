package geometry

import (
	"math"
	"testing"

	"github.com/peterstace/simplefeatures/geom"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const eps = 1e-9

var (
	nan = math.NaN()
	inf = math.Inf(1)
)

// must returns a check that the call gave no error and passes its value on.
func must(t require.TestingT) func(float64, error) float64 {
	return func(v float64, err error) float64 {
		require.NoError(t, err)
		return v
	}
}

// lPoly is an L-shaped panel: 400 × 400 less its upper
// right quarter.
var lPoly = Polygon{{0, 0}, {400, 0}, {400, 200}, {200, 200}, {200, 400}, {0, 400}}

// meander is a groove with runs at y = 0, 100, 175 and 300.
var meander = Polyline{{0, 0}, {1000, 0}, {1000, 100}, {0, 100}, {0, 175}, {1000, 175}, {1000, 300}, {0, 300}}

func flat(ps []Point) (xy []float64) {
	for _, p := range ps {
		xy = append(xy, p.X, p.Y)
	}
	return xy
}

// The three functions below hand our shapes to the independent library.

func sfPoint(p Point) geom.Geometry {
	return geom.NewPoint(geom.Coordinates{XY: geom.XY{X: p.X, Y: p.Y}}).AsGeometry()
}

func sfLine(l []Point) geom.Geometry {
	return geom.NewLineString(geom.NewSequence(flat(l), geom.DimXY)).AsGeometry()
}

func sfPoly(p Polygon) geom.Geometry {
	ring := append(append([]Point{}, p...), p[0])
	return geom.NewPolygon([]geom.LineString{sfLine(ring).MustAsLineString()}).AsGeometry()
}

func sfDistance(t require.TestingT, a, b geom.Geometry) float64 {
	d, ok := geom.Distance(a, b)
	require.True(t, ok)
	return d
}

func fromSequence(s geom.Sequence) (ps []Point) {
	for i := range s.Length() {
		xy := s.GetXY(i)
		ps = append(ps, Point{xy.X, xy.Y})
	}
	return ps
}

// Generators. Half of the coordinates stand on a coarse grid, so that touching,
// collinear and equal points come up often.

func genCoord() *rapid.Generator[float64] {
	return rapid.OneOf(
		rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(-6, 6).Draw(t, "grid")) * 100 }),
		rapid.Float64Range(-2000, 2000))
}

func genPoint() *rapid.Generator[Point] {
	return rapid.Custom(func(t *rapid.T) Point {
		return Point{genCoord().Draw(t, "x"), genCoord().Draw(t, "y")}
	})
}

func genLine(most int) *rapid.Generator[Polyline] {
	return rapid.Custom(func(t *rapid.T) Polyline {
		return rapid.SliceOfN(genPoint(), 2, most).Draw(t, "points")
	})
}

// genPoly draws a simple ring: corners in order of angle round a centre.
func genPoly() *rapid.Generator[Polygon] {
	return rapid.Custom(func(t *rapid.T) Polygon {
		n := rapid.IntRange(3, 9).Draw(t, "n")
		c := genPoint().Draw(t, "centre")
		var p Polygon
		for i := range n {
			r := rapid.Float64Range(50, 900).Draw(t, "r")
			s, co := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			p = append(p, Point{c.X + r*co, c.Y + r*s})
		}
		return p
	})
}

// motion is a rotation, an optional mirroring and a shift.
type motion struct {
	sin, cos, mirror float64
	shift            Point
}

func genMotion() *rapid.Generator[motion] {
	return rapid.Custom(func(t *rapid.T) motion {
		s, c := math.Sincos(rapid.Float64Range(0, 2*math.Pi).Draw(t, "angle"))
		return motion{s, c, rapid.SampledFrom([]float64{1, -1}).Draw(t, "mirror"), genPoint().Draw(t, "shift")}
	})
}

func (m motion) point(p Point) Point {
	x := p.X * m.mirror
	return Point{m.cos*x - m.sin*p.Y + m.shift.X, m.sin*x + m.cos*p.Y + m.shift.Y}
}

func (m motion) points(ps []Point) (out []Point) {
	for _, p := range ps {
		out = append(out, m.point(p))
	}
	return out
}

func noNaN(t require.TestingT, vs ...float64) {
	for _, v := range vs {
		require.False(t, math.IsNaN(v))
	}
}

func TestErrorsSpeakPlainly(t *testing.T) {
	_, err := PointDistance(Point{nan, 0}, Point{})
	require.ErrorIs(t, err, ErrNotFinite)
	require.ErrorContains(t, err, "point 0")
	_, err = Runs{meander, {{1, 2}}}.Length()
	require.ErrorIs(t, err, ErrTooFewPoints)
	require.ErrorContains(t, err, "run 1")
}
