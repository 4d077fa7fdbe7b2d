package draw

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
)

func TestToolFor(t *testing.T) {
	listed := &jobfile.Tools{HoleSawsMM: []float64{19, 68, 102}, BitsMM: []float64{5, 14}}
	for _, c := range []struct {
		d     float64
		tools *jobfile.Tools
		want  string
	}{
		{68, listed, "hole saw 68"},
		{67, listed, "hole saw 68 (+1)"},
		{66.5, listed, "hole saw 68 (+1.5)"},
		{66.4, listed, "not listed: hole saw 67 (+0.6)"},
		{64, listed, "not listed: hole saw 64"},
		{61, nil, "hole saw 64 (+3)"},
		{127, nil, "hole saw 127"},
		{127.5, nil, "template, knife or router"},
		{5, listed, "bit 5"},
		{6, listed, "not listed: bit 6"},
		{16, nil, "bit 16"},
		{16.5, nil, "hole saw 17 (+0.5)"},
		{300, &jobfile.Tools{HoleSawsMM: []float64{300}}, "hole saw 300"},
	} {
		require.Equal(t, c.want, toolFor(&c.d, c.tools), "%v", c.d)
	}
	require.Equal(t, "–", toolFor(nil, listed))
	require.True(t, slices.IsSorted(usualSaws))
}

func TestLetter(t *testing.T) {
	require.Equal(t, []string{"A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"}, []string{letter(0), letter(25), letter(26), letter(51), letter(52), letter(701), letter(702)})
}

func TestTextWidth(t *testing.T) {
	require.InDelta(t, 5.56, TextWidth("0", 10, false), 1e-9)
	require.InDelta(t, 10*(0.944+0.222+0.222+0.278), TextWidth("Wil ", 10, false), 1e-9)
	require.InDelta(t, 10.15, TextWidth("水", 10, false), 1e-9)
	require.Greater(t, TextWidth("A", 10, true), TextWidth("A", 10, false))
}

func TestSpread(t *testing.T) {
	require.Equal(t, []float64{100, 200, 300}, spread([]float64{100, 200, 300}, 50, 0))
	// Two at one place: half the pitch to either side.
	require.Equal(t, []float64{75, 125}, spread([]float64{100, 100}, 50, 0))
	// 10 would go to −15 and stays at the bound.
	require.Equal(t, []float64{0, 50}, spread([]float64{10, 10}, 50, 0))
	// The block of 100, 110, 120 is centred on 110.
	require.Equal(t, []float64{60, 110, 160, 400}, spread([]float64{100, 110, 120, 400}, 50, 0))
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOf(rapid.Float64Range(0, 5000)).Draw(t, "want")
		slices.Sort(want)
		got := spread(want, 40, 0)
		require.Len(t, got, len(want))
		for i := range got {
			require.GreaterOrEqual(t, got[i], -1e-9)
			if i > 0 {
				require.GreaterOrEqual(t, got[i]-got[i-1], 40-1e-6)
			}
		}
	})
}

// TestHatchLines: the lines of a hatch times their distance are the area, to within an edge.
func TestHatchLines(t *testing.T) {
	for _, deg := range []float64{0, 45, 90, 135} {
		s := Shape{Kind: Hatch, HatchDeg: deg, HatchMM: 1, Points: []Point{{X: 0, Y: 0}, {X: 1000, Y: 0}, {X: 1000, Y: 400}, {X: 500, Y: 400}, {X: 500, Y: 900}, {X: 0, Y: 900}}}
		sum := 0.0
		for _, l := range s.HatchLines(10) {
			sum += math.Hypot(l[1].X-l[0].X, l[1].Y-l[0].Y)
		}
		require.InEpsilon(t, 1000*400+500*500, sum*10, 0.03, "%v", deg)
	}
	require.Empty(t, (&Shape{Kind: Hatch, HatchMM: 1}).HatchLines(10))
}

// TestRounded: a right angle rounded at 40 mm keeps its legs up to 40 mm from the corner, and its arc is 40·π/2 long.
func TestRounded(t *testing.T) {
	line := rounded([]Point{{X: 0, Y: 0}, {X: 500, Y: 0}, {X: 500, Y: 300}}, 40)
	require.InDelta(t, 460, line[1].X, 1e-9)
	last := line[len(line)-2]
	require.InDelta(t, 500, last.X, 1e-9)
	require.InDelta(t, 40, last.Y, 1e-9)
	arc := 0.0
	for i := 2; i < len(line)-1; i++ {
		arc += math.Hypot(line[i].X-line[i-1].X, line[i].Y-line[i-1].Y)
	}
	require.InEpsilon(t, 40*math.Pi/2, arc, 0.002)
	// A turn of 90 mm across takes no more than 45 mm.
	line = rounded([]Point{{X: 0, Y: 0}, {X: 500, Y: 0}, {X: 500, Y: 90}, {X: 0, Y: 90}}, 60)
	for _, p := range line {
		require.LessOrEqual(t, p.X, 500+1e-9)
		require.False(t, math.IsNaN(p.X+p.Y))
	}
}

// TestCharacters: the Go fonts have Latin, Greek and Cyrillic letters and the box, and no Chinese ones (https://go.dev/blog/go-fonts, memory: WGL4).
func TestCharacters(t *testing.T) {
	for _, r := range "Az09Øß±°žЖβ−…□”" {
		require.True(t, glyphs()[r], "%c", r)
	}
	for _, r := range "水א\U0001f6bf\u0301" {
		require.False(t, glyphs()[r], "%c", r)
	}
	require.Empty(t, characters([]byte("no font")))
	require.Empty(t, characters(nil))
	require.Equal(t, "a□b", drawable("a水b"))
	require.Equal(t, []rune{'א', '水'}, lacking("水a", "א水"))
}

// TestColoursAreThoseOfTheStyleSheet: a PDF reads its colours from CSS.
func TestColoursAreThoseOfTheStyleSheet(t *testing.T) {
	heat := ink{0xd5 / 255.0, 0x5e / 255.0, 0, true}
	stroke, fill := colours(&Shape{Layer: CableLayer, Kind: Polyline, Class: "heating"})
	require.Equal(t, heat, stroke)
	require.False(t, fill.some)
	_, fill = colours(&Shape{Layer: FindingLayer, Kind: Polygon, Fill: Full, Class: "badge critical"})
	require.Equal(t, heat, fill)
	stroke, fill = colours(&Shape{Layer: FindingLayer, Kind: Text, Class: "critical"})
	require.False(t, stroke.some)
	require.Equal(t, black, fill)
	stroke, fill = colours(&Shape{Layer: TextLayer, Kind: Text})
	require.Equal(t, white, stroke)
	require.Equal(t, black, fill)
	stroke, fill = colours(&Shape{Layer: OpeningLayer, Kind: Circle, Fill: Paper, Class: "hole"})
	require.Equal(t, black, stroke)
	require.Equal(t, white, fill)
}

func TestWrapped(t *testing.T) {
	require.Equal(t, []string{"one two", "three"}, wrapped("one  two three", 10, TextWidth("one two", 10, false), false))
	require.Equal(t, []string{"00", "00", "0"}, wrapped("00000", 10, 2.5*5.56, false))
	require.Empty(t, wrapped(" ", 10, 20, false))
	require.Equal(t, "ab…", cut("abcdef", 10, TextWidth("ab…", 10, false), false))
}

// TestCuts: each span that is no longer than a window less its millimetre is whole in one.
func TestCuts(t *testing.T) {
	require.Equal(t, []float64{0}, cuts([]span{{0, 50}}, 100))
	// The second window begins before the span that the first would cut, and no later than 15 mm before the end of the first.
	require.Equal(t, []float64{0, 70}, cuts([]span{{0, 10}, {70, 110}}, 100))
	require.Equal(t, []float64{0, 84}, cuts([]span{{0, 10}, {110, 150}}, 100))
	rapid.Check(t, func(t *rapid.T) {
		var spans []span
		for range rapid.IntRange(1, 40).Draw(t, "n") {
			lo := rapid.Float64Range(-1000, 1000).Draw(t, "lo")
			spans = append(spans, span{lo, lo + rapid.Float64Range(0, 120).Draw(t, "length")})
		}
		starts := cuts(spans, 100)
		require.True(t, slices.IsSorted(starts))
		for i, v := range starts {
			require.Equal(t, math.Floor(v), v)
			if i > 0 {
				require.LessOrEqual(t, v, starts[i-1]+100-overlap)
			}
		}
		for _, s := range spans {
			if s.hi-s.lo <= 99 {
				require.True(t, slices.ContainsFunc(starts, func(v float64) bool { return s.lo >= v && s.hi <= v+100 }), "%v in %v", s, starts)
			}
		}
	})
}
