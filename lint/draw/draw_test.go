package draw_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint"
	"wetrule/lint/calc/geometry"
	"wetrule/lint/draw"
	"wetrule/lint/jobfile"
	"wetrule/lint/verdict"
)

var linter *lint.Linter

func load(t testing.TB, name string) (*jobfile.Job, *verdict.Review) {
	t.Helper()
	data, err := os.ReadFile(filepath.FromSlash("../../" + name))
	require.NoError(t, err)
	f, err := jobfile.Load(name, data)
	require.NoError(t, err)
	if linter == nil {
		linter, err = lint.New(lint.Options{})
		require.NoError(t, err)
	}
	r, err := linter.ReviewFile(context.Background(), f)
	require.NoError(t, err)
	require.Empty(t, r.Problems)
	return f.Job, r
}

func sheets(t testing.TB, name string) []draw.Sheet {
	t.Helper()
	job, r := load(t, name)
	return draw.New(job, r.Set).Sheets(r.Groups(), nil)
}

func sheet(t testing.TB, list []draw.Sheet, id string) *draw.Sheet {
	t.Helper()
	for i := range list {
		if list[i].ID == id {
			return &list[i]
		}
	}
	require.Fail(t, "no sheet "+id)
	return nil
}

// noOverlap holds every text, and every badge, against every other.
func noOverlap(t require.TestingT, s *draw.Sheet) {
	shapes, all := draw.Furnish(s, draw.Style{})
	type boxed struct {
		what string
		box  draw.Box
	}
	var texts []boxed
	for i := range shapes {
		x := &shapes[i]
		switch {
		case x.Kind == draw.Text && x.Finding == 0: // the number of a finding stands in its badge
			texts = append(texts, boxed{x.Text, x.Box(s.Scale)})
		case x.Finding > 0 && x.Kind == draw.Polygon:
			texts = append(texts, boxed{fmt.Sprintf("finding %d", x.Finding), x.Box(s.Scale)})
		}
		b := x.Box(s.Scale)
		require.True(t, b.MinX >= all.MinX && b.MinY >= all.MinY && b.MaxX <= all.MaxX && b.MaxY <= all.MaxY, "%s: %q lies outside the sheet", s.ID, x.Text)
	}
	for i := range texts {
		for j := range i {
			if texts[i].box.Overlaps(texts[j].box) {
				require.Failf(t, "overlap", "%s: %q and %q", s.ID, texts[i].what, texts[j].what)
			}
		}
	}
}

var zones = []draw.ZoneArea{
	{Face: "left", Zone: "1", Poly: []geometry.Point{{X: 700}, {X: 1700}, {X: 1700, Y: 2250}, {X: 700, Y: 2250}}},
	{Face: "left", Zone: "2", Poly: []geometry.Point{{X: 100}, {X: 700}, {X: 700, Y: 2250}, {X: 100, Y: 2250}}},
	{Face: "floor", Zone: "1", Poly: []geometry.Point{{X: 300, Y: 700}, {X: 900, Y: 700}, {X: 900, Y: 1500}}},
}

func TestTextsDoNotOverlap(t *testing.T) {
	for _, name := range []string{"fixtures/demo/clean.yaml", "fixtures/demo/faults.yaml", "policies/core/examples/base.yaml", "schema/starter.yaml"} {
		if _, err := os.Stat("../../" + name); err != nil {
			continue
		}
		job, r := load(t, name)
		for _, s := range draw.New(job, r.Set).Sheets(r.Groups(), zones) {
			noOverlap(t, &s)
		}
	}
}

// TestScheduleOfTheDoorWall is worked out by hand from fixtures/demo/clean.yaml: two ventilation outlets and two inserts of the door in
// reading order, upper row first. The panel is 50 mm thick; saws of 19 and 102 mm are listed.
func TestScheduleOfTheDoorWall(t *testing.T) {
	s := sheet(t, sheets(t, "fixtures/demo/clean.yaml"), "face-door_wall")
	var got []string
	for i := range s.Holes {
		h := &s.Holes[i]
		require.True(t, h.Drawn)
		cells := h.Texts()
		got = append(got, strings.Join(append([]string{h.Mark, h.What, h.Item, h.Hole}, cells[:]...), " | "))
	}
	require.Equal(t, []string{
		"C1 | exhaust outlet exhaust | exhaust | exhaust | 2000 | 2000 | 102 | through 50 | hole saw 102",
		"C2 | insert 2 of door | door | door.insert_2 | 700 | 1650 | 19 | 35 | hole saw 19",
		"C3 | supply outlet inlet | inlet | inlet | 250 | 300 | 102 | through 50 | hole saw 102",
		"C4 | insert 1 of door | door | door.insert_1 | 700 | 300 | 19 | 35 | hole saw 19",
	}, got)
}

// TestDimensionsOfTheDoorWall is worked out by hand from fixtures/demo/clean.yaml: every distance once, with what it leads to.
func TestDimensionsOfTheDoorWall(t *testing.T) {
	s := sheet(t, sheets(t, "fixtures/demo/clean.yaml"), "face-door_wall")
	var xs, ys []string
	for i := range s.Shapes {
		x := &s.Shapes[i]
		if x.Layer != draw.DimensionLayer || x.Kind != draw.Text {
			continue
		}
		if x.Turn == 90 {
			xs = append(xs, x.Text)
		} else {
			ys = append(ys, x.Text)
		}
	}
	require.Equal(t, []string{"250 C3", "500 joint", "700 C2 C4", "750 door", "1500 door", "1700 joint", "2000 C1", "2200"}, xs)
	require.Equal(t, []string{"300 C3 C4", "1650 C2", "1950 door", "2000 C1", "2250", "0"}, ys)
}

// TestLeadersStartWhereTheyMeasure sees that each leader leaves the edge at the distance that its dimension says.
func TestLeadersStartWhereTheyMeasure(t *testing.T) {
	for _, s := range sheets(t, "fixtures/demo/clean.yaml") {
		if s.Face == "" {
			continue
		}
		for i := range s.Shapes {
			x := &s.Shapes[i]
			if x.Layer != draw.DimensionLayer || x.Class != "leader" {
				continue
			}
			label := s.Shapes[i+1]
			require.Equal(t, draw.Text, label.Kind)
			number, _, _ := strings.Cut(label.Text, " ")
			at := x.Points[0].X
			if label.Turn == 0 {
				at = x.Points[0].Y
				if s.Down {
					at = -at
				}
			}
			require.Equal(t, number, fmt.Sprint(at), s.ID)
		}
	}
}

// holesOnce sees that every hole of the job is once in a schedule, and once on a drawing when the job says where it is.
func holesOnce(t require.TestingT, job *jobfile.Job, list []draw.Sheet) {
	want := map[string]bool{} // id -> whether it can be drawn
	for i := range job.Items {
		it := &job.Items[i]
		placed := it.Face != "" && it.XMM != nil && it.YMM != nil
		switch it.Kind {
		case "steam_outlet", "ventilation_outlet", "temperature_sensor", "spotlight", "shower", "drain":
			want[it.ID] = placed
		case "accessory":
			if it.OpeningDiameterMM != nil && it.Place != "outside_room" {
				want[it.ID] = placed
			}
		case "fixing", "glazed_door":
			for k := range it.Inserts {
				want[fmt.Sprintf("%s.insert_%d", it.ID, k+1)] = it.Face != "" && it.Inserts[k].XMM != nil && it.Inserts[k].YMM != nil
			}
		case "fibre_lights":
			for k := range it.Points {
				want[fmt.Sprintf("%s.point_%d", it.ID, k+1)] = it.Face != ""
			}
		}
	}
	rows, circles, marks := map[string]int{}, map[string]int{}, map[string]int{}
	for i := range list {
		s := &list[i]
		for _, h := range s.Holes {
			rows[h.Hole]++
			marks[h.Mark]++
			require.Equal(t, want[h.Hole], h.Drawn, h.Hole)
		}
		for k := range s.Shapes {
			if x := &s.Shapes[k]; x.Kind == draw.Circle && x.Ref != "" && s.Face != "" {
				circles[x.Ref]++
			}
		}
	}
	require.Len(t, rows, len(want))
	for id, drawn := range want {
		require.Equal(t, 1, rows[id], "rows of %s", id)
		n := 0
		if drawn {
			n = 1
		}
		require.Equal(t, n, circles[id], "circles of %s", id)
	}
	for m, n := range marks {
		require.Equal(t, 1, n, "mark %s", m)
	}
}

func TestEveryHoleOnceInDemos(t *testing.T) {
	for _, name := range []string{"fixtures/demo/clean.yaml", "fixtures/demo/faults.yaml", "policies/core/examples/base.yaml"} {
		job, r := load(t, name)
		holesOnce(t, job, draw.New(job, r.Set).Sheets(r.Groups(), nil))
	}
}

func ptr(v float64) *float64 { return &v }

// randomJob makes a job with holes anywhere, some without face, place or size.
func randomJob(t *rapid.T) *jobfile.Job {
	maybe := func(lo, hi float64, name string) *float64 {
		if rapid.IntRange(0, 9).Draw(t, name+"?") == 0 {
			return nil
		}
		return ptr(float64(rapid.IntRange(int(lo), int(hi)).Draw(t, name)))
	}
	w, l, h := float64(rapid.IntRange(300, 9000).Draw(t, "w")), float64(rapid.IntRange(300, 9000).Draw(t, "l")), maybe(300, 4000, "h")
	job := &jobfile.Job{Room: &jobfile.Room{HeightMM: h, Walls: []jobfile.Wall{
		{ID: "a", WidthMM: &w, PanelJointsXMM: []float64{w / 2}}, {ID: "b", WidthMM: &l}, {ID: "c", WidthMM: &w}, {ID: "d", WidthMM: maybe(l, l, "d")}},
		Floor: &jobfile.Floor{}, Ceiling: &jobfile.Ceiling{},
		Benches: []jobfile.Bench{{ID: "bench", Wall: "a", LengthMM: &w, DepthMM: maybe(100, 600, "depth"), HeightMM: maybe(200, 600, "height")}}}}
	faces := []string{"a", "b", "c", "d", "floor", "ceiling", "bench.seat", "bench.riser", ""}
	kinds := []string{"steam_outlet", "ventilation_outlet", "temperature_sensor", "spotlight", "shower", "drain", "accessory", "fixing", "glazed_door", "fibre_lights", "heating_sensor", "led_strip", "heating_cable", "light_source"}
	near := rapid.Bool().Draw(t, "near") // all in one corner, so that names must move apart
	most := 10000.0
	if near {
		most = 120
	}
	point := func() [2]float64 { return [2]float64{*maybeNot(t, most), *maybeNot(t, most)} }
	for i := range rapid.IntRange(0, 25).Draw(t, "items") {
		it := jobfile.Item{ID: fmt.Sprintf("item_%d", i), Kind: rapid.SampledFrom(kinds).Draw(t, "kind"), Face: rapid.SampledFrom(faces).Draw(t, "face"),
			XMM: maybe(0, most, "x"), YMM: maybe(0, most, "y"), OpeningDiameterMM: maybe(1, 500, "diameter")}
		switch it.Kind {
		case "fixing", "glazed_door":
			it.OpeningDiameterMM = nil
			for range rapid.IntRange(0, 4).Draw(t, "inserts") {
				it.Inserts = append(it.Inserts, jobfile.Insert{XMM: maybe(0, most, "ix"), YMM: maybe(0, most, "iy"), DiameterMM: maybe(2, 200, "id")})
			}
			if it.Kind == "glazed_door" {
				it.WidthMM, it.HeightMM, it.Swing, it.HingeSide = maybe(100, 2000, "dw"), maybe(100, 2000, "dh"), rapid.SampledFrom([]string{"", "inward", "outward", "both"}).Draw(t, "swing"), rapid.SampledFrom([]string{"", "left", "right"}).Draw(t, "side")
			}
		case "fibre_lights":
			for range rapid.IntRange(0, 60).Draw(t, "points") {
				it.Points = append(it.Points, point())
			}
		case "led_strip":
			for range rapid.IntRange(0, 4).Draw(t, "path") {
				it.Path = append(it.Path, point())
			}
		case "heating_cable":
			it.OpeningDiameterMM, it.GrooveWidthMM, it.BendRadiusMinMM = nil, maybe(10, 30, "groove"), maybe(10, 60, "bend")
			it.Runs = [][][2]float64{{point(), point(), point()}}
		}
		job.Items = append(job.Items, it)
	}
	return job
}

func maybeNot(t *rapid.T, most float64) *float64 {
	return ptr(float64(rapid.IntRange(0, int(most)).Draw(t, "p")))
}

func TestAnyJobIsDrawnWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		job := randomJob(t)
		list := draw.New(job, nil).Sheets(nil, nil)
		holesOnce(t, job, list)
		ids := map[string]bool{}
		for i := range list {
			noOverlap(t, &list[i])
			require.False(t, ids[list[i].ID])
			ids[list[i].ID] = true
			var b bytes.Buffer
			require.NoError(t, draw.SVG(&b, &list[i], draw.Style{}))
			wellFormed(t, b.Bytes())
		}
	})
}

// wellFormed reads a drawing as XML and sees that it holds nothing but drawing elements, no reference to the outside, and no number that is none.
func wellFormed(t require.TestingT, data []byte) {
	known := map[string]bool{"svg": true, "title": true, "style": true, "rect": true, "g": true, "path": true, "circle": true, "text": true}
	d := xml.NewDecoder(bytes.NewReader(data))
	ids := map[string]bool{}
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		require.True(t, known[e.Name.Local], "element %s", e.Name.Local)
		for _, a := range e.Attr {
			name := a.Name.Local
			require.NotContains(t, []string{"href", "src", "style"}, name)
			require.False(t, strings.HasPrefix(name, "on"), name)
			require.NotContains(t, a.Value, "NaN")
			require.NotContains(t, a.Value, "url(")
			if name == "id" {
				require.Regexp(t, `^[A-Za-z][A-Za-z0-9_-]*$`, a.Value)
				require.False(t, ids[a.Value])
				ids[a.Value] = true
			}
			if name != "data-ref" {
				require.NotContains(t, a.Value, "Inf")
			}
		}
	}
}

func TestHostileText(t *testing.T) {
	bad := "</text><script>alert(1)</script>\" onload='x' &amp; \u202e\x01\ufffe ]]>"
	job := &jobfile.Job{Room: &jobfile.Room{HeightMM: ptr(2000), Walls: []jobfile.Wall{{ID: bad, WidthMM: ptr(2000)}, {ID: "b", WidthMM: ptr(2000)}, {ID: "c", WidthMM: ptr(2000)}, {ID: "d", WidthMM: ptr(2000)}},
		Benches: []jobfile.Bench{{ID: bad, Wall: bad, LengthMM: ptr(1000), DepthMM: ptr(400), HeightMM: ptr(400)}}, Floor: &jobfile.Floor{},
		Openings: []jobfile.Opening{{ID: bad, Face: bad, XMM: ptr(100), YMM: ptr(100), WidthMM: ptr(300), HeightMM: ptr(300)}}}}
	for _, kind := range []string{"steam_outlet", "glazed_door", "heating_sensor", "accessory"} {
		job.Items = append(job.Items, jobfile.Item{ID: bad, Kind: kind, Face: bad, XMM: ptr(700), YMM: ptr(900), Role: bad, Flow: bad, Swing: bad, HingeSide: bad, WidthMM: ptr(300), HeightMM: ptr(500), Mounting: bad})
	}
	job.Items = append(job.Items, jobfile.Item{ID: bad, Kind: "led_strip", Face: bad, Path: [][2]float64{{100, 100}, {900, 100}}, Mounting: bad},
		jobfile.Item{ID: bad, Kind: "heating_cable", Face: bad, Runs: [][][2]float64{{{100, 100}, {900, 100}}}, GrooveWidthMM: ptr(20)})
	n := 0
	for _, s := range draw.New(job, nil).Sheets(nil, []draw.ZoneArea{{Face: bad, Zone: bad, Poly: []geometry.Point{{}, {X: 900}, {X: 900, Y: 900}}}}) {
		var b bytes.Buffer
		require.NoError(t, draw.SVG(&b, &s, draw.Style{}))
		wellFormed(t, b.Bytes())
		require.NotContains(t, b.String(), "<script")
		require.NotContains(t, b.String(), "\u202e")
		n += strings.Count(b.String(), "&lt;script&gt;")
		require.Regexp(t, `^[A-Za-z0-9_-]+$`, s.ID)
	}
	require.Positive(t, n, "the text is shown, as text")
}

// TestFindingsAreNumberedAsTheGroups sees that each group of findings has its number on a face, or is listed on the plan.
func TestFindingsAreNumberedAsTheGroups(t *testing.T) {
	job, r := load(t, "fixtures/demo/faults.yaml")
	groups := r.Groups()
	require.NotEmpty(t, groups)
	list := draw.New(job, r.Set).Sheets(groups, nil)
	seen := map[int]bool{}
	for i := range list {
		for _, m := range list[i].Marks {
			seen[m.Number] = true
			v := groups[m.Number-1].Findings[0]
			require.Equal(t, v.Rule.ID+" "+v.Subject.ID, m.Key)
			require.Equal(t, v.Rule.Severity.String(), m.Severity)
			require.Equal(t, m.Placed, list[i].Face != "")
		}
	}
	require.Len(t, seen, len(groups))
	s := sheet(t, list, "face-left")
	var b bytes.Buffer
	require.NoError(t, draw.SVG(&b, s, draw.Style{Bare: true, Inline: true}))
	require.Regexp(t, regexp.MustCompile(`data-ref="steam_1" data-finding="\d+"`), b.String())
	require.NotContains(t, b.String(), "<style")
	require.NotContains(t, b.String(), "Hole schedule")
	for _, m := range s.Marks {
		if strings.HasPrefix(m.Key, "steam-outlet-height ") {
			require.Equal(t, [2]float64{300, 150}, [2]float64{m.AtX, m.AtY})
			return
		}
	}
	require.Fail(t, "the height of the outlet is not marked")
}

// TestReadableOnA4 sees that text is no smaller than 2 mm, and the drawing to scale, when a sheet is fitted on A4 with 10 mm of margin.
func TestReadableOnA4(t *testing.T) {
	for _, s := range sheets(t, "fixtures/demo/faults.yaml") {
		_, b := draw.Furnish(&s, draw.Style{})
		w, h := (b.MaxX-b.MinX)/s.Scale, (b.MaxY-b.MinY)/s.Scale
		fit := max(min(190/w, 277/h), min(277/w, 190/h))
		for _, x := range s.Shapes {
			if x.Kind == draw.Text {
				require.GreaterOrEqual(t, x.Size*min(fit, 1), 2.0, s.ID)
			}
		}
	}
}

// TestGoldenDrawings holds the drawings of the demo jobs against fixtures/golden/draw; with UPDATE=1 it writes them.
func TestGoldenDrawings(t *testing.T) {
	for _, name := range []string{"clean", "faults"} {
		list := sheets(t, "fixtures/demo/"+name+".yaml")
		require.Len(t, list, 9)
		for i := range list {
			var b, again bytes.Buffer
			require.NoError(t, draw.SVG(&b, &list[i], draw.Style{}))
			require.NoError(t, draw.SVG(&again, &sheets(t, "fixtures/demo/"+name+".yaml")[i], draw.Style{}))
			require.Equal(t, b.String(), again.String())
			wellFormed(t, b.Bytes())
			file := filepath.Join("../../fixtures/golden/draw", name+"-"+list[i].ID+".svg")
			if os.Getenv("UPDATE") != "" {
				require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
				require.NoError(t, os.WriteFile(file, b.Bytes(), 0o644))
				continue
			}
			want, err := os.ReadFile(file)
			require.NoError(t, err, "write it with UPDATE=1 go test ./...")
			require.Equal(t, string(want), b.String(), "%s differs; if it should, write it with UPDATE=1 go test ./... and read the difference", file)
		}
	}
}
