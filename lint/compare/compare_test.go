package compare_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/compare"
	"wetrule/lint/jobfile"
)

// clean is the job of the demo, which has everything that a job can hold.
func clean(t testing.TB) string {
	t.Helper()
	data, err := os.ReadFile("../../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	return string(data)
}

func load(t testing.TB, name, text string) *jobfile.File {
	t.Helper()
	f, err := jobfile.Load(name, []byte(text))
	require.NoError(t, err)
	return f
}

// with replaces text that must be there.
func with(t testing.TB, text string, pairs ...string) string {
	t.Helper()
	for i := 0; i < len(pairs); i += 2 {
		require.True(t, strings.Contains(text, pairs[i]), pairs[i])
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

// told writes differences one a line.
func told(parts []*compare.Part) []string {
	out := []string{}
	for _, p := range parts {
		for _, c := range p.Changes {
			s := fmt.Sprintf("%s: %s %s: %s → %s", p.Name(), c.Sort, c.Field, compare.Text(c.Before), compare.Text(c.After))
			if c.By != "" {
				s += " (" + c.By + ")"
			}
			out = append(out, s)
		}
	}
	return out
}

const (
	outlet = "y_mm: 260"
	spot   = "face: ceiling, x_mm: 600, y_mm: 1250"
	tile   = `planned: {start: "2026-03-13T08:00:00+00:00", finish: "2026-03-17T16:00:00+00:00"}`
)

func TestJobs(t *testing.T) {
	base := clean(t)
	for name, tc := range map[string]struct {
		edit []string
		want []string
	}{
		"nothing": {nil, []string{}},
		"moved along one axis": {[]string{outlet, "y_mm: 300"},
			[]string{"steam_1, steam outlet: moved y_mm: 260 → 300 (+40 mm)"}},
		"moved both ways: 30 and 40 are 50": {[]string{spot, "face: ceiling, x_mm: 630, y_mm: 1210"},
			[]string{"spot_left, spotlight: moved x_mm: 600 → 630 (+30 mm)", "spot_left, spotlight: moved y_mm: 1250 → 1210 (−40 mm, 50 mm in all)"}},
		"to another face": {[]string{spot, "face: left, x_mm: 630, y_mm: 1250"},
			[]string{"spot_left, spotlight: moved face: ceiling → left", "spot_left, spotlight: moved x_mm: 600 → 630 (on another face)"}},
		"points of a fibre field": {[]string{"[1800, 900]", "[1800, 930]"},
			[]string{"stars, fibre lights: moved points: [[400, 500], [800, 850], [1400, 450], [1800, 900]] → [[400, 500], [800, 850], [1400, 450], [1800, 930]] (1 of 4 points, by up to 30 mm)"}},
		"one point more": {[]string{"[1800, 900]]", "[1800, 900], [900, 300]]"},
			[]string{"stars, fibre lights: moved points: [[400, 500], [800, 850], [1400, 450], [1800, 900]] → [[400, 500], [800, 850], [1400, 450], [1800, 900], [900, 300… (4 → 5 points)"}},
		"resized": {[]string{"opening_diameter_mm: 64", "opening_diameter_mm: 68"},
			[]string{"steam_1, steam outlet: resized opening_diameter_mm: 64 → 68 (+4 mm)"}},
		"inside a part of an item": {[]string{"tube: {material: copper, od_mm: 22", "tube: {material: stainless_steel, od_mm: 18"},
			[]string{"steam_1, steam outlet: replaced tube.material: copper → stainless_steel", "steam_1, steam outlet: resized tube.od_mm: 22 → 18 (−4 mm)"}},
		"replaced": {[]string{"product: guarded outlet, stainless", "product: guarded outlet, brass"},
			[]string{"steam_1, steam outlet: replaced product: guarded outlet, stainless → guarded outlet, brass"}},
		"retimed over days": {[]string{tile, `planned: {start: "2026-03-16T09:30:00+00:00", finish: "2026-03-17T16:00:00+00:00"}`},
			[]string{"task tile: retimed planned.start: 2026-03-13T08:00:00+00:00 → 2026-03-16T09:30:00+00:00 (3 days 1 h 30 min later)"}},
		"the same moment in another zone": {[]string{tile, `planned: {start: "2026-03-13T09:00:00+01:00", finish: "2026-03-17T16:00:00+00:00"}`},
			[]string{"task tile: retimed planned.start: 2026-03-13T08:00:00+00:00 → 2026-03-13T09:00:00+01:00 (the same moment, written otherwise)"}},
		"filled in": {[]string{tile, tile + `, actual: {start: "2026-03-13T08:00:00+00:00"}`},
			[]string{"task tile: filled_in actual.start:  → 2026-03-13T08:00:00+00:00"}},
		"taken out":         {[]string{"people: 4", ""}, []string{"room: taken_out people: 4 → "}},
		"another fact":      {[]string{"people: 4", "people: 5"}, []string{"room: changed people: 4 → 5 (+1)"}},
		"of the job itself": {[]string{"stage: site", "stage: as_built"}, []string{"the job: changed stage: site → as_built"}},
		"a layer": {[]string{"family: cement_slurry, thickness_mm: 2.5", "family: reaction_resin, thickness_mm: 2.5"},
			[]string{"layer waterproofing: replaced family: cement_slurry → reaction_resin"}},
		"a list of words": {[]string{"ppe: [gloves, eye_protection, respirator", "ppe: [eye_protection, gloves, safety_shoes"},
			[]string{"safety: changed ppe: [gloves, eye_protection, respirator, hearing_protection] → [eye_protection, gloves, safety_shoes, hearing_protection] (with safety_shoes; without respirator)"}},
		"an insert": {[]string{"{x_mm: 300, y_mm: 1100, diameter_mm: 19, depth_mm: 35}]", "{x_mm: 300, y_mm: 1110, diameter_mm: 19, depth_mm: 35}, {x_mm: 310, y_mm: 900, diameter_mm: 19, depth_mm: 35}]"},
			[]string{"shelf, fixing: moved inserts[2].y_mm: 1100 → 1110 (+10 mm)", "shelf, fixing: filled_in inserts[3]:  → {x_mm: 310, y_mm: 900, diameter_mm: 19, depth_mm: 35}"}},
		"a record more": {[]string{"\nrecords:\n", "\nrecords:\n  - {record: photo, name: groove.jpg, item: heat}\n"},
			[]string{"record photo (heat, groove.jpg): added :  → {record: photo, name: groove.jpg, item: heat}"}},
		"a circuit less": {[]string{"  - {id: mains, voltage_v: 230", "  - {id: other, voltage_v: 230", "circuit: mains", "circuit: other", "circuit: mains", "circuit: other", "circuit: mains", "circuit: other"},
			[]string{
				"circuit other: added :  → {id: other, voltage_v: 230, current: ac, protection: ads, rc…",
				"circuit mains: removed : {id: mains, voltage_v: 230, current: ac, protection: ads, rc… → ",
				"driver, light source: changed circuit: mains → other",
				"illuminator, light source: changed circuit: mains → other",
				"switch, accessory: changed circuit: mains → other",
			}},
	} {
		t.Run(name, func(t *testing.T) {
			after := with(t, base, tc.edit...)
			require.Equal(t, tc.want, told(compare.Jobs(load(t, "a.yaml", base).Root, load(t, "b.yaml", after).Root)))
		})
	}
}

func lines(t testing.TB, text, from string) (line string) {
	t.Helper()
	i := strings.Index(text, from)
	require.GreaterOrEqual(t, i, 0, from)
	return text[i : i+strings.IndexByte(text[i:], '\n')+1]
}

// TestOrder: walls and layers stand in an order that means something; items, tasks and keys do not.
func TestOrder(t *testing.T) {
	base := clean(t)
	swap := func(a, b string) string {
		x, y := lines(t, base, a), lines(t, base, b)
		s := strings.Replace(base, x, "@@\n", 1)
		s = strings.Replace(s, y, x, 1)
		return strings.Replace(s, "@@\n", y, 1)
	}
	diff := func(after string) []string {
		return told(compare.Jobs(load(t, "a.yaml", base).Root, load(t, "b.yaml", after).Root))
	}
	require.Empty(t, diff(swap("  - {id: spot_left,", "  - {id: drain,")))
	require.Empty(t, diff(swap("  - {task: fit,", "  - {task: seal,")))
	require.Empty(t, diff(strings.Replace(base, "{id: drain, kind: drain,", "{kind: drain, id: drain,", 1)))
	got := diff(swap("    - {id: right,", "    - {id: left,"))
	require.Len(t, got, 1)
	require.Contains(t, got[0], "room: reordered walls: ")
	require.Contains(t, got[0], "(bench_wall, right, door_wall, left → bench_wall, left, door_wall, right)")
	got = diff(swap("  - {layer: mesh,", "  - {layer: cement,"))
	require.Len(t, got, 1)
	require.Contains(t, got[0], "(mesh, cement, waterproofing, tile_bed, tile → cement, mesh, waterproofing, tile_bed, tile)")
}

func TestField(t *testing.T) {
	for path, want := range map[string][2]string{
		"opening_diameter_mm": {"opening diameter", "mm"}, "tube.od_mm": {"tube od", "mm"}, "x_mm": {"x", "mm"}, "length_m": {"length", "m"}, "site_temperature_c": {"site temperature", "°C"},
		"shear_n_mm2": {"shear", "N/mm²"}, "conductor_mm2": {"conductor", "mm²"}, "insulation_mohm": {"insulation", "MΩ"}, "power_kw": {"power", "kW"}, "product": {"product", ""},
		"planned.start": {"planned start", ""}, "heat_up_minutes": {"heat up", "min"}, "inserts[2].y_mm": {"inserts[2] y", "mm"}, "slope_percent": {"slope", "percent"},
	} {
		name, unit := compare.Field(path)
		require.Equal(t, want, [2]string{name, unit}, path)
	}
}

// TestNothingDiffersFromItself: no job differs from itself or from itself in another order of keys, and a fact changed is a fact told,
// from whichever side it is looked at.
func TestNothingDiffersFromItself(t *testing.T) {
	root := load(t, "a.yaml", clean(t)).Root
	var leaves []string
	var walk func(n *jobfile.Node, at string)
	walk = func(n *jobfile.Node, at string) {
		switch n.Kind {
		case jobfile.Map:
			for _, m := range n.Members() {
				walk(m.Value, at+"/"+m.Key)
			}
		case jobfile.List:
			for i, x := range n.Items() {
				walk(x, fmt.Sprintf("%s/%d", at, i))
			}
		case jobfile.Number, jobfile.Bool:
			leaves = append(leaves, at)
		}
	}
	walk(root, "")
	require.Greater(t, len(leaves), 200)
	require.Empty(t, compare.Jobs(root, root))
	rapid.Check(t, func(t *rapid.T) {
		other := root.Clone()
		at := rapid.SampledFrom(leaves).Draw(t, "at")
		n := other.At(at)
		n.Num, n.Bool = n.Num+1, !n.Bool
		there, back := compare.Jobs(root, other), compare.Jobs(other, root)
		require.Len(t, there, 1, at)
		require.Len(t, there[0].Changes, 1, at)
		require.Len(t, back, 1, at)
		require.Equal(t, there[0].Changes[0].Field, back[0].Changes[0].Field)
		require.NotEmpty(t, there[0].Name())
	})
}
