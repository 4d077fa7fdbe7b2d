package measure

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
)

func quantitySet(t require.TestingT, text string) *Set {
	f, err := jobfile.Load("job.yaml", []byte(text))
	require.NoError(t, err)
	return NewPlan(nil).Measure(f.Job)
}

func quantityOf(t require.TestingT, s *Set, kind, id, name string) Value {
	table := s.Table(kind)
	require.NotNil(t, table, kind)
	i := table.Find(id)
	require.GreaterOrEqual(t, i, 0, "%s %s", kind, id)
	d := Lookup(kind).Quantity(name)
	require.NotNil(t, d, "%s.%s", kind, name)
	return s.Quantity(&table.Subjects[i], d)
}

func cleanJob(t testing.TB) string {
	data, err := os.ReadFile("../../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	return string(data)
}

// TestQuantitiesByHand holds quantities of the demo against figures worked out by hand, with the working beside them. What is worked out says how.
func TestQuantitiesByHand(t *testing.T) {
	s := quantitySet(t, cleanJob(t))
	for _, c := range []struct {
		kind, id, name string
		want           float64
		working        string
	}{
		{"face", "bench_wall", "lined_area_m2", 3.982, "2.20 × 2.25 − riser 2.20 × 0.44"},
		{"face", "door_wall", "lined_area_m2", 3.488, "2.20 × 2.25 − door 0.75 × 1.95 = 3.4875"},
		{"face", "floor", "lined_area_m2", 2.64, "2.20 × 1.70 − bench 2.20 × 0.50"},
		{"face", "bench.seat", "lined_area_m2", 1.1, "2.20 × 0.50"},
		{"face", "bench.riser", "lined_area_m2", 0.968, "2.20 × 0.44"},
		{"face", "left", "inner_corner_m", 2.25, "right-hand corner of the wall"},
		{"face", "floor", "inner_corner_m", 6.05, "7.80 − 0.75 − 2 × 0.50"},
		{"face", "bench.seat", "inner_corner_m", 3.2, "2.20 + 2 × 0.50"},
		{"face", "bench.riser", "inner_corner_m", 0, "counted with floor and walls"},
		{"face", "left", "cement_volume_l", 11.475, "3.825 m² × 3 mm"},
		{"face", "left", "film_volume_l", 9.563, "3.825 m² × 2.5 mm = 9.5625"},
		{"face", "left", "bed_volume_l", 15.3, "3.825 m² × 4 mm"},
		{"face", "left", "tile_count", 92.820, "3.825 × 10⁶ ÷ (203 × 203)"},
		{"face", "left", "grout_volume_l", 0.918, "(200 + 200) ÷ (200 × 200) × 3 × 8 = 0.24 l/m² × 3.825"},
		{"face", "left", "movement_joint_m", 1.7, "one joint across 1.70 m, as 2.25 m is above 2.20 m"},
		{"face", "ceiling", "movement_joint_m", 0, "2.20 × 1.70 m, at most 2.20 m apart"},
		{"face", "left", "sealant_length_m", 3.95, "2.25 + 1.70"},
		{"face", "left", "sealant_volume_ml", 118.5, "3.95 m × 5 mm × 6 mm"},
		{"face", "left", "panel_joint_m", 2.25, "one joint of 2.25 m"},
		{"face", "right", "panel_joint_m", 4.5, "two joints"},
		{"heating_cable", "heat", "groove_length_m", 9.36, "5 × 1.80 + 4 × 0.09"},
		{"heating_cable", "heat", "groove_volume_l", 2.995, "20 × 16 mm² × 9.36 m = 2.9952"},
		{"heating_cable", "heat", "groove_fill_l", 2.731, "(320 − 28.274) mm² × 9.36 m = 2.7306"},
		{"heating_cable", "heat", "cable_clips", 32, "9.36 ÷ 0.3 = 31.2"},
		{"steam_outlet", "steam_1", "insulated_od_mm", 60, "22 + 2 × 19"},
		{"steam_outlet", "steam_1", "insulation_length_m", 2.8, "the whole run"},
		{"steam_outlet", "steam_1", "tube_supports", 3, "2.8 ÷ 1.8 rounded up, and one more"},
		{"steam_outlet", "steam_1", "gap_volume_ml", 19.478, "π/4 × (64² − 60²) × 50 mm = 19 478 mm³"},
		{"steam_outlet", "steam_1", "opening_ring_m", 0.201, "π × 64 mm"},
		{"fixing", "shelf", "insert_holes_ml", 19.847, "2 × π/4 × 19² × 35 = 19 847 mm³"},
		{"fixing", "shelf", "insert_depth_mm", 35, "both 35"},
		{"fixing", "shelf", "profile_bead_ml", 10.8, "300 × 36 mm²"},
		{"glazed_door", "door", "leaf_mass_kg", 28.638, "0.740 × 1.935 × 8 × 2.5"},
		{"glazed_door", "door", "door_seal_m", 4.61, "2 × 1.935 + 0.740"},
		{"led_strip", "strip", "strip_length_m", 2, "x 100 to 2100"},
		{"fibre_lights", "stars", "fibre_count", 4, "four points"},
		{"job", "job", "panel_edge_m", 44.05, "8 joints × 2.25 + 26.05 of corners"},
		{"job", "job", "lining_area_m2", 23.568, "23.5675"},
		{"job", "job", "flood_water_l", 132, "2.64 m² × 50 mm"},
		{"job", "job", "heating_cables", 1, "one"},
	} {
		v := quantityOf(t, s, c.kind, c.id, c.name)
		require.Equal(t, Known, v.State, "%s.%s", c.kind, c.name)
		require.InDelta(t, c.want, v.Num, 0.00101, "%s.%s of %s: %s", c.kind, c.name, c.id, c.working)
	}
	require.Equal(t, []float64{64}, quantityOf(t, s, "steam_outlet", "steam_1", "hole_saws_mm").Sizes())
	require.Equal(t, []float64{14}, quantityOf(t, s, "heating_cable", "heat", "bits_mm").Sizes())
	require.Equal(t, None, quantityOf(t, s, "heating_cable", "heat", "hole_saws_mm").State)
	require.True(t, quantityOf(t, s, "steam_outlet", "steam_1", "saw_short").Flag, "a reach of 45 mm, a panel of 50 mm")
	require.False(t, quantityOf(t, s, "fixing", "shelf", "saw_short").Flag, "holes of 35 mm")
	require.Equal(t, []string{"(20 mm × 16 mm − π ÷ 4 × (6 mm)²) × 9.36 m = 2.731 l"}, quantityOf(t, s, "heating_cable", "heat", "groove_fill_l").Steps())
	require.NotEmpty(t, quantityOf(t, s, "face", "ceiling", "lined_area_m2").Note(), "the slope is left out, and said so")
}

// TestQuantitySizes: tools by size at the edges of their ranges; several inserts of one size need one saw.
func TestQuantitySizes(t *testing.T) {
	for d, want := range map[string]string{"16": "bits_mm", "16.001": "hole_saws_mm", "127": "hole_saws_mm", "127.001": "templates_mm"} {
		s := quantitySet(t, strings.Replace(cleanJob(t), "opening_diameter_mm: 110", "opening_diameter_mm: "+d, 1))
		for _, name := range []string{"bits_mm", "hole_saws_mm", "templates_mm"} {
			require.Equal(t, name == want, quantityOf(t, s, "drain", "drain", name).State == Known, "%s for %s mm", name, d)
		}
	}
	text := strings.Replace(cleanJob(t), "{x_mm: 300, y_mm: 1100, diameter_mm: 19,", "{x_mm: 300, y_mm: 1100, diameter_mm: 12,", 1)
	s := quantitySet(t, text)
	require.Equal(t, []float64{19}, quantityOf(t, s, "fixing", "shelf", "hole_saws_mm").Sizes())
	require.Equal(t, []float64{12}, quantityOf(t, s, "fixing", "shelf", "bits_mm").Sizes())
}

// TestQuantitiesWithoutFacts: what is missing makes the quantity unknown, never a figure.
func TestQuantitiesWithoutFacts(t *testing.T) {
	for _, c := range []struct{ cut, kind, id, name string }{
		{"groove_width_mm: 20", "heating_cable", "heat", "groove_fill_l"},
		{"cable_od_mm: 6", "heating_cable", "heat", "groove_fill_l"},
		{"joint_width_mm: 3, ", "face", "left", "tile_count"},
		{"joint_width_mm: 3, ", "face", "left", "grout_volume_l"},
		{"joint_width_mm: 3, ", "face", "left", "sealant_volume_ml"},
		{", movement_joint_spacing_mm: 2200", "face", "left", "sealant_length_m"},
		{", length_mm: 200, width_mm: 200", "face", "left", "tile_count"},
		{"  height_mm: 2250\n", "face", "left", "lined_area_m2"},
		{"od_mm: 22, ", "steam_outlet", "steam_1", "tube_supports"},
		{"od_mm: 22, ", "steam_outlet", "steam_1", "gap_volume_ml"},
		{", thickness_mm: 50", "steam_outlet", "steam_1", "gap_volume_ml"},
		{", thickness_mm: 50", "steam_outlet", "steam_1", "saw_short"},
		{"saw_reach_mm: 45", "steam_outlet", "steam_1", "saw_short"},
		{"panel_joints_x_mm: [850]", "job", "job", "panel_edge_m"},
		{"glass_thickness_mm: 8", "glazed_door", "door", "leaf_mass_kg"},
		{"perimeter: sealant, ", "face", "left", "sealant_length_m"},
		{", depth_mm: 35}, {x_mm: 300, y_mm: 1100", "fixing", "shelf", "insert_holes_ml"},
	} {
		text := cleanJob(t)
		require.Contains(t, text, c.cut)
		with := ""
		if strings.Contains(c.cut, "x_mm: 300") {
			with = "}, {x_mm: 300, y_mm: 1100"
		}
		s := quantitySet(t, strings.Replace(text, c.cut, with, 1))
		v := quantityOf(t, s, c.kind, c.id, c.name)
		require.Equal(t, Unknown, v.State, "%s.%s without %q", c.kind, c.name, c.cut)
		require.Zero(t, v.Num)
		require.NotEmpty(t, Lookup(c.kind).Quantity(c.name).Needs)
	}
}

// TestInnerCorners counts each corner of the room once: with a bench whose ends stand free, with two tiers, and in a room with a step in its plan.
func TestInnerCorners(t *testing.T) {
	total := func(text string) float64 {
		s := quantitySet(t, text)
		sum := 0.0
		for _, f := range s.Table("face").Subjects {
			v := quantityOf(t, s, "face", f.ID, "inner_corner_m")
			require.Equal(t, Known, v.State, f.ID)
			sum += v.Num
		}
		return sum
	}
	room := func(benches string) string {
		return "wetrule: 1\nreference: r\ntitle: T\nstage: design\njudged_on: 2026-01-01\nroom:\n  use: steam_room\n  height_mm: 2000\n  walls: [{id: a, width_mm: 3000}, {id: b, width_mm: 2000}, {id: c, width_mm: 3000}, {id: d, width_mm: 2000}]\n  floor: {}\n  ceiling: {}\n  benches: " + benches + "\nitems: []\n"
	}
	require.InDelta(t, 4*2+10+10, total(room("[]")), 1e-9, "four corners of 2 m, and the edges of floor and ceiling")
	// Free ends: the floor runs round three sides of the bench, 10 + 2 × 0.5; the seat meets the wall over 1 m.
	require.InDelta(t, 8+10+11+1, total(room("[{id: s, wall: a, x_mm: 1000, length_mm: 1000, depth_mm: 500, height_mm: 400}]")), 1e-9)
	// From wall to wall: the floor loses 0.5 at both ends, and the seat gains them.
	require.InDelta(t, 8+10+9+4, total(room("[{id: s, wall: a, x_mm: 0, length_mm: 3000, depth_mm: 500, height_mm: 400}]")), 1e-9)
	// Two tiers from wall to wall: 0.4 m of the lower seat is seen in front of the upper one, 0.5 m of that; both backs count.
	require.InDelta(t, 8+10+(10-0.9*2)+(3+0.8)+(3+1), total(room("[{id: low, wall: a, x_mm: 0, length_mm: 3000, depth_mm: 900, height_mm: 400}, {id: top, wall: a, x_mm: 0, length_mm: 3000, depth_mm: 500, height_mm: 800}]")), 1e-9)
	one := quantitySet(t, "wetrule: 1\nreference: r\ntitle: T\nstage: design\njudged_on: 2026-01-01\nroom:\n  use: wet_room\n  height_mm: 2000\n  walls: [{id: a, width_mm: 3000}]\nitems: []\n")
	require.Equal(t, None, quantityOf(t, one, "face", "a", "inner_corner_m").State, "one wall alone has no corners")
}

// TestQuantitiesAreTold: every quantity has its meaning and needs, and no name that the kind has as a measure already.
func TestQuantitiesAreTold(t *testing.T) {
	seen := 0
	for kind, defs := range extra {
		for _, d := range defs {
			require.NotEmpty(t, d.Meaning, d.Name)
			require.NotEmpty(t, d.Needs, "%s.%s", kind, d.Name)
			if d.Type == Number && d.How != "as given" {
				require.NotEmpty(t, d.How, d.Name)
			}
			if kind != everyItem {
				_, twice := Lookup(kind).index[d.Name]
				require.False(t, twice, "%s.%s is a measure too", kind, d.Name)
			}
			seen++
		}
	}
	require.Greater(t, seen, 60)
	for _, k := range ItemKinds {
		names := Lookup(k).QuantityNames()
		require.Contains(t, names, "x_mm")
		sorted := slices.Clone(names)
		slices.Sort(sorted)
		require.Equal(t, slices.Compact(sorted), names, "each name once")
	}
	require.Nil(t, Lookup("face").Quantity("lined_aera_m2"))
	require.Nil(t, Lookup("face").Quantity("planned_tile_after_mesh_and_cement_h"), "waits are no quantities")
}

// TestReviewMeasuresNoQuantities: what methods ask for costs a review nothing.
func TestReviewMeasuresNoQuantities(t *testing.T) {
	s := quantitySet(t, cleanJob(t))
	for _, table := range s.Tables {
		for _, d := range table.Defs {
			require.False(t, slices.ContainsFunc(extra[table.Kind.Name], func(q *Def) bool { return q == d }))
		}
	}
}

// TestGroutGrowsAsItShould: wider joints and thicker tiles take more grout, larger tiles take less, and all tiles with their joints fill the area.
func TestGroutGrowsAsItShould(t *testing.T) {
	text := cleanJob(t)
	rapid.Check(t, func(t *rapid.T) {
		l, w := rapid.Float64Range(20, 900).Draw(t, "length"), rapid.Float64Range(20, 900).Draw(t, "width")
		j := rapid.Float64Range(1, 10).Draw(t, "joint")
		at := func(l, w, j float64) (grout, tiles float64) {
			f := func(v float64) string { return FormatNumber(v) }
			job := strings.Replace(strings.Replace(text, "length_mm: 200, width_mm: 200", "length_mm: "+f(l)+", width_mm: "+f(w), 1), "joint_width_mm: 3", "joint_width_mm: "+f(j), 1)
			s := quantitySet(t, job)
			return quantityOf(t, s, "face", "left", "grout_volume_l").Num, quantityOf(t, s, "face", "left", "tile_count").Num
		}
		g, n := at(l, w, j)
		wider, fewer := at(l, w, j+1)
		larger, _ := at(l*1.5, w, j)
		require.GreaterOrEqual(t, wider, g)
		require.LessOrEqual(t, fewer, n)
		require.LessOrEqual(t, larger, g)
		l, w, j = round3(l), round3(w), round3(j)
		require.InDelta(t, 3.825e6, n*(l+j)*(w+j), 1+0.001*(l+j)*(w+j))
	})
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }
