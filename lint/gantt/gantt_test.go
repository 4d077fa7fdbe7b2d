package gantt

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/calc/programme"
)

// sample is a programme of some length, made of the same work over and over.
func sample(t require.TestingT, rounds int, hours float64) Chart {
	loc, err := time.LoadLocation("Europe/Oslo")
	require.NoError(t, err)
	set, err := programme.PublicHolidays("NO", "")
	require.NoError(t, err)
	at := time.Date(2026, 3, 23, 8, 0, 0, 0, loc)
	c := Chart{ID: "sample", Title: "Steam room, ground floor: programme", Location: loc}
	step := func(h float64) time.Time { return at.Add(time.Duration(h * hours * float64(time.Hour))) }
	for i := range rounds {
		id := func(s string) string { return fmt.Sprintf("%s%d", s, i) }
		c.Rows = append(c.Rows,
			Row{Label: fmt.Sprintf("Face %d", i+1), Head: true},
			Row{ID: id("cut"), Label: "Cut grooves and openings", Bars: []Bar{{Sort: Done, From: at, To: step(3), Label: "done", Note: "Mon 08:00 to 11:00"}, {Sort: Plan, From: at, To: step(2)}}},
			Row{ID: id("seal"), Label: "Waterproofing, two coats", Bars: []Bar{{From: step(3), To: step(6), Critical: true, Label: "tiler"}}, Points: []Point{{Shape: Witness, At: step(3), Label: "W1"}}},
			Row{ID: id("cure"), Label: "Waterproofing cures", Bars: []Bar{{Sort: Wait, From: step(6), To: step(30), Critical: true, Label: "24 h at 23 °C became 41 h at 12 °C"}}, Points: []Point{{At: step(30), Label: "H1 flood test", Note: "not before Tue 14:10"}}},
			Row{ID: id("tile"), Label: "Tile walls and bench with the long name of its covering and its layout", Bars: []Bar{{From: step(30), To: step(36), Critical: true, Label: "tiler"}}},
			Row{ID: id("light"), Label: "Lights, sensor", Bars: []Bar{{From: step(31), To: step(33), Label: "electrician"}, {Sort: Float, From: step(33), To: step(36)}}, Points: []Point{{Shape: Review, At: step(33), Label: "R1"}}},
			Row{ID: id("dry"), Label: "Grout dries", Bars: []Bar{{Sort: Wait, From: step(36), To: step(40), Label: "4 h"}}, Points: []Point{{Shape: Milestone, At: step(40), Label: "ready"}}})
		c.Links = append(c.Links, Link{From: id("cut"), To: id("seal")}, Link{From: id("seal"), To: id("cure")}, Link{From: id("cure"), To: id("tile")}, Link{From: id("tile"), To: id("dry"), Kind: programme.FF}, Link{From: id("cure"), To: id("light")})
		at = step(40)
	}
	c.Marks = []Mark{{At: time.Date(2026, 3, 24, 12, 0, 0, 0, loc), Label: "as of Tue 24 Mar 12:00"}, {At: at, Label: "steam may be raised"}}
	for d := programme.DateOf(time.Date(2026, 3, 16, 0, 0, 0, 0, loc)); d.In(loc).Before(at); d = d.AddDays(1) {
		name, holiday := set.On(d)
		if holiday || d.Weekday() == time.Saturday || d.Weekday() == time.Sunday {
			c.Shades = append(c.Shades, Shade{From: d.In(loc), To: d.AddDays(1).In(loc), Note: name, Holiday: holiday})
		}
	}
	return c
}

var samples = map[string]struct {
	rounds int
	hours  float64
}{"days": {1, 2.6}, "weeks": {2, 16}, "months": {4, 27}}

func svg(t require.TestingT, c Chart, s Style) string {
	var b bytes.Buffer
	require.NoError(t, SVG(&b, c, s))
	return b.String()
}

// TestSamples writes the drawings to a folder if GANTT_OUT names one, for looking at them.
func TestSamples(t *testing.T) {
	for name, s := range samples {
		c := sample(t, s.rounds, s.hours)
		got := svg(t, c, Style{})
		require.Equal(t, got, svg(t, c, Style{}))
		wellFormed(t, got)
		l, err := lay(&c)
		require.NoError(t, err)
		sound(t, l)
		names := 0
		for _, x := range l.labels {
			if x.class == "name" {
				names++
			}
		}
		require.Equal(t, len(c.Rows), names)
		axis := 0
		for _, x := range l.labels {
			if x.class == "axis" {
				axis++
			}
		}
		require.Greater(t, axis, 4)
		for _, words := range []string{"critical work", "critical wait", "hold point", "witness point", "review", "milestone", "float", "as planned before", "steam may be raised"} {
			require.Contains(t, got, words, name)
		}
		require.Equal(t, name != "days", strings.Contains(got, ">no work<"), "the five days are all worked on")
		require.True(t, slices.ContainsFunc(l.labels, func(a label) bool { return a.class == "over" && strings.Contains(a.text, "became 41 h") }) || name == "months", name)
		if out := os.Getenv("GANTT_OUT"); out != "" {
			require.NoError(t, os.WriteFile(filepath.Join(out, name+".svg"), []byte(got), 0o644))
		}
	}
}

func wellFormed(t require.TestingT, s string) {
	d := xml.NewDecoder(strings.NewReader(s))
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		require.NoError(t, err, s)
		if e, ok := tok.(xml.StartElement); ok {
			require.Contains(t, []string{"svg", "title", "style", "defs", "pattern", "rect", "path", "circle", "g", "text"}, e.Name.Local)
			for _, a := range e.Attr {
				require.False(t, strings.HasPrefix(strings.ToLower(a.Name.Local), "on"), a)
				require.False(t, strings.Contains(a.Name.Local, "href"))
			}
		}
	}
}

// sound: no two labels overlap, none leaves the drawing, none but those within bars lies on a bar or point, and all bars lie within the chart.
func sound(t require.TestingT, l *layout) {
	all := append([]label{l.title}, l.labels...)
	all = slices.DeleteFunc(all, func(a label) bool { return a.text == "" })
	whole := box{0, 0, l.width, l.height}
	inside := func(a, b box) bool {
		const eps = 1e-6
		return a.x >= b.x-eps && a.y >= b.y-eps && a.x+a.w <= b.x+b.w+eps && a.y+a.h <= b.y+b.h+eps
	}
	for i, a := range all {
		require.True(t, inside(a.box, whole), "%q leaves the drawing", a.text)
		for _, b := range all[i+1:] {
			require.False(t, a.meets(b.box), "%q lies on %q", a.text, b.text)
		}
		for _, b := range l.bars {
			require.True(t, !a.meets(b.box) || (a.class == "in" || a.class == "over") && inside(box{a.x, b.y, a.w, b.h}, b.box), "%q lies on a bar", a.text)
		}
		for _, p := range l.points {
			require.False(t, a.meets(box{p.x - pointPx, p.y - pointPx, 2 * pointPx, 2 * pointPx}), "%q lies on a point", a.text)
		}
	}
	for _, b := range l.bars {
		require.True(t, inside(b.box, l.plot), "%v leaves %v", b.box, l.plot)
		require.GreaterOrEqual(t, b.w, leastBar-1e-6)
	}
	for _, p := range l.points {
		require.True(t, inside(box{p.x - pointPx, p.y - pointPx, 2 * pointPx, 2 * pointPx}, l.plot))
	}
	for _, s := range l.shades {
		require.True(t, inside(s.box, l.plot))
	}
	for _, a := range l.arrows {
		for _, p := range a {
			require.True(t, inside(box{p.x, p.y, 0, 0}, l.plot), "an arrow leaves the chart")
		}
	}
	for i, a := range l.legend {
		require.True(t, inside(a.box, whole))
		for _, b := range l.legend[i+1:] {
			require.False(t, a.meets(b.box))
		}
		for _, b := range all {
			require.False(t, a.meets(b.box))
		}
	}
}

func TestAnyChartIsSound(t *testing.T) {
	zones := []string{"UTC", "Europe/London", "Australia/Sydney", "Asia/Beirut"}
	rapid.Check(t, func(t *rapid.T) {
		loc, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
		require.NoError(t, err)
		start := time.Date(2026, 3, 20, 0, 0, 0, 0, loc)
		days := rapid.SampledFrom([]int{1, 5, 20, 60, 200, 900, 5000}).Draw(t, "days")
		at := func(label string) time.Time {
			return start.Add(time.Duration(rapid.IntRange(0, days*1440).Draw(t, label)) * time.Minute)
		}
		words := rapid.SampledFrom([]string{"", "x", "tiler", "24 h at 23 °C became 41 h", strings.Repeat("long ", 40), "<&\"'>\x00\u202e", "湯気の部屋"})
		c := Chart{ID: words.Draw(t, "id"), Title: words.Draw(t, "title"), Location: loc, Width: rapid.SampledFrom([]float64{0, MinWidth, 700, 2000}).Draw(t, "width")}
		if rapid.Bool().Draw(t, "window") {
			c.From, c.To = at("from"), time.Time{}
			c.To = c.From.Add(time.Duration(rapid.IntRange(0, days*1440).Draw(t, "to")) * time.Minute)
		}
		c.Marks = append(c.Marks, Mark{at("mark"), words.Draw(t, "words")})
		for i := range rapid.IntRange(0, 8).Draw(t, "rows") {
			r := Row{ID: fmt.Sprint(i), Label: words.Draw(t, "words"), Head: rapid.Bool().Draw(t, "head")}
			for range rapid.IntRange(0, 4).Draw(t, "bars") {
				from := at("from")
				to := from.Add(time.Duration(rapid.IntRange(0, days*300).Draw(t, "long")) * time.Minute)
				r.Bars = append(r.Bars, Bar{Sort: Sort(rapid.IntRange(0, int(Plan)).Draw(t, "sort")), From: from, To: to, Critical: rapid.Bool().Draw(t, "critical"), Label: words.Draw(t, "words"), Note: words.Draw(t, "words")})
			}
			for range rapid.IntRange(0, 3).Draw(t, "points") {
				r.Points = append(r.Points, Point{Shape: Shape(rapid.IntRange(0, int(Milestone)).Draw(t, "shape")), At: at("at"), Label: words.Draw(t, "words")})
			}
			c.Rows = append(c.Rows, r)
			c.Links = append(c.Links, Link{From: fmt.Sprint(rapid.IntRange(0, 8).Draw(t, "a")), To: fmt.Sprint(i), Kind: programme.Kind(rapid.IntRange(0, 3).Draw(t, "kind"))})
			a := at("shade")
			c.Shades = append(c.Shades, Shade{From: a, To: a.Add(24 * time.Hour), Note: words.Draw(t, "words"), Holiday: rapid.Bool().Draw(t, "holiday")})
			c.Marks = append(c.Marks, Mark{at("mark"), words.Draw(t, "words")})
		}
		l, err := lay(&c)
		require.NoError(t, err)
		sound(t, l)
		wellFormed(t, svg(t, c, Style{}))
	})
}

// What is critical, waits or holds can be told without colours.
func TestNothingIsToldByColourAlone(t *testing.T) {
	at := time.Date(2026, 3, 23, 8, 0, 0, 0, time.UTC)
	looks := map[string]string{}
	add := func(name string, r Row) {
		s := svg(t, Chart{ID: "a", Rows: []Row{r}, To: at.Add(48 * time.Hour)}, Style{Inline: true})
		s = s[strings.Index(s, "</defs>"):]
		s = s[strings.Index(s, "<g>"):]
		s = s[:strings.Index(s, "</g>")]
		for other, look := range looks {
			require.NotEqual(t, look, s, "%s looks like %s", name, other)
		}
		looks[name] = s
	}
	for sort := Work; sort <= Plan; sort++ {
		add(fmt.Sprint("bar ", sort), Row{Bars: []Bar{{Sort: sort, From: at, To: at.Add(24 * time.Hour)}}})
	}
	for shape := Hold; shape <= Milestone; shape++ {
		add(fmt.Sprint("point ", shape), Row{Points: []Point{{Shape: shape, At: at}}})
	}
	add("critical work", Row{Bars: []Bar{{Critical: true, From: at, To: at.Add(24 * time.Hour)}}})
	require.Contains(t, looks["critical work"], "url(#a-hatch)")
	require.Contains(t, looks["bar 1"], "url(#a-dot)")
	require.Contains(t, CSS(), ".gantt .critical{stroke:var(--g-critical);stroke-width:2.5}")
	require.Contains(t, CSS(), "prefers-color-scheme:dark")
}

func TestTextIsData(t *testing.T) {
	at := time.Date(2026, 3, 23, 8, 0, 0, 0, time.UTC)
	bad := `</text></title></style><script>alert(1)</script>&"' onload="x" ]]>`
	c := Chart{ID: bad, Title: bad, Marks: []Mark{{at, bad}}, Shades: []Shade{{at, at.Add(time.Hour), bad, true}},
		Rows: []Row{{ID: bad, Label: bad, Bars: []Bar{{From: at, To: at.Add(time.Hour), Label: bad, Note: bad}}, Points: []Point{{At: at, Label: bad, Note: bad}}}}}
	s := svg(t, c, Style{})
	wellFormed(t, s)
	require.NotContains(t, s, "<script")
	require.NotContains(t, s, `onload="x"`)
}

// A day of a change of the clocks is as wide as it is long.
func TestDaysOfAChange(t *testing.T) {
	loc, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	c := Chart{Location: loc, From: time.Date(2026, 3, 28, 0, 0, 0, 0, loc), To: time.Date(2026, 3, 31, 0, 0, 0, 0, loc)}
	l, err := lay(&c)
	require.NoError(t, err)
	var xs []float64
	for _, k := range l.ticks {
		if !k.strong {
			xs = append(xs, k.x)
		}
	}
	require.Len(t, xs, 3)
	require.InDelta(t, 23.0/24, (xs[2]-xs[1])/(xs[1]-xs[0]), 1e-9)
}

func TestChartsThatCannotBe(t *testing.T) {
	at := time.Date(2026, 3, 23, 8, 0, 0, 0, time.UTC)
	for name, c := range map[string]Chart{
		"nothing":        {},
		"ends before":    {From: at, To: at.Add(-time.Hour)},
		"too long":       {From: at, To: at.AddDate(30, 0, 0)},
		"out of years":   {From: time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC), To: time.Date(1900, 1, 2, 0, 0, 0, 0, time.UTC)},
		"narrow":         {From: at, To: at, Width: 10},
		"bar backwards":  {Rows: []Row{{Bars: []Bar{{From: at, To: at.Add(-1)}}}}},
		"bar of no sort": {Rows: []Row{{Bars: []Bar{{From: at, To: at, Sort: 9}}}}},
		"bar without":    {Rows: []Row{{Bars: []Bar{{To: at}}}}},
		"point without":  {From: at, To: at, Rows: []Row{{Points: []Point{{}}}}},
		"shade":          {From: at, To: at, Shades: []Shade{{From: at, To: at.Add(-1)}}},
		"rows":           {From: at, To: at, Rows: make([]Row, MaxRows+1)},
		"bars":           {From: at, To: at, Rows: []Row{{Bars: make([]Bar, MaxRow+1)}}},
	} {
		require.ErrorIs(t, SVG(io.Discard, c, Style{}), ErrInput, name)
	}
}
