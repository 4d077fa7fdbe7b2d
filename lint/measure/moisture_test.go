package measure

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/calc/moisture"
	"wetrule/lint/jobfile"
	"wetrule/schema"
)

func moistureNum(v float64) *float64 { return &v }

// moistureJob is a steam room at 45 °C, saturated, whose only wall is foam of 50 mm on brick. What is behind, waterproofing and
// finish are for the tests to say.
func moistureJob(change ...func(*jobfile.Job, *jobfile.Wall)) *jobfile.Job {
	job := &jobfile.Job{
		Climate: &jobfile.Climate{AirTemperatureC: moistureNum(45), RelativeHumidityPercent: moistureNum(100)},
		Room: &jobfile.Room{Use: "steam_room", Walls: []jobfile.Wall{{
			ID: "north", Behind: "heated_room", BehindTemperatureC: moistureNum(20), BehindRelativeHumidityPercent: moistureNum(50),
			Host: []jobfile.HostLayer{{ConductivityWMK: moistureNum(0.77), Mu: moistureNum(10), ThicknessMM: moistureNum(115)}},
		}}},
		Panel:   &jobfile.Panel{ThicknessMM: moistureNum(50), ConductivityWMK: moistureNum(0.034), Mu: moistureNum(150)},
		BuildUp: []jobfile.Layer{},
	}
	for _, f := range change {
		f(job, &job.Room.Walls[0])
	}
	return job
}

func moistureOutsideWall(_ *jobfile.Job, w *jobfile.Wall) {
	w.Behind, w.BehindTemperatureC, w.BehindRelativeHumidityPercent = "outside", moistureNum(-5), moistureNum(80)
}

func moistureSealed(perm float64) func(*jobfile.Job, *jobfile.Wall) {
	return func(j *jobfile.Job, _ *jobfile.Wall) {
		j.BuildUp = []jobfile.Layer{{Layer: "waterproofing", PermeancePerm: moistureNum(perm)}}
	}
}

func moistureWetRoom(j *jobfile.Job, w *jobfile.Wall) {
	moistureOutsideWall(j, w)
	j.Room.Use = "wet_room"
	j.Climate = &jobfile.Climate{AirTemperatureC: moistureNum(24), RelativeHumidityPercent: moistureNum(60),
		OutsideMonthlyTemperatureC:            []float64{-2, 0, 4, 8, 13, 16, 18, 18, 14, 9, 4, 0},
		OutsideMonthlyRelativeHumidityPercent: []float64{85, 84, 80, 75, 70, 70, 71, 73, 78, 82, 85, 86}}
}

func moistureValue(t require.TestingT, job *jobfile.Job, name string) Value {
	table := NewPlan(nil).Measure(job).Table("wall_section")
	require.NotNil(t, table)
	col := table.Column(name)
	require.NotNil(t, col, name)
	return col[table.Find("north")]
}

// TestMoistureVectors carries check values of the calculators through whole jobs (computed).
func TestMoistureVectors(t *testing.T) {
	brick240 := func(_ *jobfile.Job, w *jobfile.Wall) { w.Host[0].ThicknessMM = moistureNum(240) }
	for _, c := range []struct {
		id, measure string
		job         *jobfile.Job
		want, tol   float64
	}{
		{"G7", "u_value_w_m2k", moistureJob(), 0.53193, 0.0005},
		{"G7", "condensate_g_m2_d", moistureJob(), 0.2081 * 24, 0.0024},
		{"G7", "waterproofing_sd_needed_m", moistureJob(moistureSealed(1)), 0.65, 0.001},
		{"G9", "u_value_w_m2k", moistureJob(moistureOutsideWall, brick240), 0.51222, 0.0005},
		{"G9", "waterproofing_sd_needed_m", moistureJob(moistureOutsideWall, brick240, moistureSealed(1)), 27.8, 0.01},
		{"G10", "waterproofing_sd_m", moistureJob(moistureSealed(0.5)), 6.991, 0.001},
		{"G10", "waterproofing_sd_m", moistureJob(moistureSealed(0.1)), 34.957, 0.001},
		{"metal foil", "waterproofing_sd_m", moistureJob(moistureSealed(0)), 1500, 0},
		{"30 mm on concrete", "waterproofing_sd_needed_m", moistureJob(moistureSealed(1), func(j *jobfile.Job, w *jobfile.Wall) {
			j.Panel.ThicknessMM, w.Host = moistureNum(30), []jobfile.HostLayer{{Material: "concrete", ThicknessMM: moistureNum(150)}}
		}), 51.5, 0.05},
	} {
		v := moistureValue(t, c.job, c.measure)
		require.Equal(t, Known, v.State, "%s %s: %s", c.id, c.measure, v.Note())
		require.InDelta(t, c.want, v.Num, c.tol, "%s %s", c.id, c.measure)
		require.NotEmpty(t, v.Steps(), "%s %s", c.id, c.measure)
	}
}

func TestMoistureLayersOfAWall(t *testing.T) {
	job := moistureJob(func(j *jobfile.Job, w *jobfile.Wall) {
		j.BuildUp = []jobfile.Layer{
			{Layer: "mesh"}, {Layer: "cement", ThicknessMM: moistureNum(4)}, {Layer: "waterproofing", PermeancePerm: moistureNum(0.5)},
			{Layer: "tile_bed", ThicknessMM: moistureNum(5)}, {Layer: "tile", ThicknessMM: moistureNum(13)},
		}
		w.Host = []jobfile.HostLayer{{Material: "air_gap"}, {Material: "pe_foil"}, {Material: "gypsum_board", ThicknessMM: moistureNum(12.5)}}
	})
	c := newContext(job)
	w, err := moistureSection(c, &Subject{Face: c.Face("north")})
	require.NoError(t, err)
	require.InDelta(t, 0.015, w.finishR, 1e-12)
	require.InDelta(t, 0.145, w.section.RsiM2KW, 1e-12)
	require.True(t, w.membrane)
	var got []string
	for _, l := range w.section.Layers {
		got = append(got, l.Name+" "+FormatNumber(l.ResistanceM2KW)+" "+FormatNumber(l.SdM))
	}
	require.Equal(t, []string{"waterproofing 0 6.991", "cement 0.004 0.024", "panel 1.471 7.5", "air gap 0.18 0.01", "pe foil 0 50", "gypsum board 0.05 0.125"}, got)

	// A board's own face goes before the job's, and its thickness is asked for.
	job.Room.Walls[0].Panel = &jobfile.Panel{Material: "eps", ThicknessMM: moistureNum(20)}
	w, err = moistureSection(newContext(job), &Subject{Face: newContext(job).Face("north")})
	require.NoError(t, err)
	require.InDelta(t, 0.5, w.section.Layers[2].ResistanceM2KW, 1e-12)
	require.InDelta(t, 0.4, w.section.Layers[2].SdM, 1e-12, "the lower vapour factor for the panel")
}

func TestMoistureGap(t *testing.T) {
	tight := func(gap bool) *jobfile.Job {
		return moistureJob(moistureSealed(0.4), func(_ *jobfile.Job, w *jobfile.Wall) {
			w.Host = []jobfile.HostLayer{{Material: "concrete", ThicknessMM: moistureNum(150)}}
			if gap {
				w.Host = slices.Insert(w.Host, 0, jobfile.HostLayer{Material: "ventilated_gap"})
			}
		})
	}
	require.Greater(t, moistureValue(t, tight(false), "condensate_g_m2_d").Num, 0.0)
	v := moistureValue(t, tight(true), "condensate_g_m2_d")
	require.Zero(t, v.Num)
	require.Contains(t, v.Note(), "ventilated gap")
	require.Equal(t, None, moistureValue(t, tight(true), "relative_humidity_behind_panel_percent").State)
	// Towards a gap the block method has 0.08 m²K/W outside.
	gap := func(_ *jobfile.Job, w *jobfile.Wall) {
		w.Host = append(w.Host, jobfile.HostLayer{Material: "ventilated_gap"}, jobfile.HostLayer{Material: "steel", ThicknessMM: moistureNum(1)})
	}
	v = moistureValue(t, moistureJob(moistureOutsideWall, moistureSealed(0.4), gap), "block_condensate_g_m2")
	require.Contains(t, strings.Join(v.Steps(), "\n"), "R_se 0.08")
}

// TestMoistureBlock holds the measures against the calculator.
func TestMoistureBlock(t *testing.T) {
	steel := func(_ *jobfile.Job, w *jobfile.Wall) {
		w.Host = append(w.Host, jobfile.HostLayer{Material: "steel", ThicknessMM: moistureNum(1)})
	}
	job := moistureJob(moistureOutsideWall, moistureSealed(0.5), steel, func(j *jobfile.Job, _ *jobfile.Wall) {
		j.BuildUp = append(j.BuildUp, jobfile.Layer{Layer: "lime_plaster", ThicknessMM: moistureNum(10)})
	})
	foam, err := moisture.Homogeneous("panel", 50, 0.034, 150)
	require.NoError(t, err)
	brick, err := moisture.Homogeneous("brick", 115, 0.77, 10)
	require.NoError(t, err)
	sd, err := moisture.SdOfPerm(0.5)
	require.NoError(t, err)
	s := moisture.Section{RseM2KW: 0.04, Layers: []moisture.Layer{moisture.Film("w", sd), foam, brick, {Name: "steel", ResistanceM2KW: 0.001 / 50, SdM: 1000}}}
	block := moisture.BlockWall
	block.RsiM2KW += 0.01
	want, err := s.BlockMethod(block)
	require.NoError(t, err)
	require.Positive(t, want.TotalKGM2)
	require.InDelta(t, want.TotalKGM2*1000, moistureValue(t, job, "block_condensate_g_m2").Num, 0.001)
	require.InDelta(t, want.EvaporationKGM2*1000, moistureValue(t, job, "block_evaporation_g_m2").Num, 0.001)

	dry := moistureJob(moistureOutsideWall, moistureSealed(0.5))
	require.Zero(t, moistureValue(t, dry, "block_condensate_g_m2").Num)
	require.Equal(t, None, moistureValue(t, dry, "block_evaporation_g_m2").State)
	inner := moistureJob(moistureSealed(0.5))
	require.Equal(t, None, moistureValue(t, inner, "block_condensate_g_m2").State)
}

func TestMoistureYear(t *testing.T) {
	tight := func(_ *jobfile.Job, w *jobfile.Wall) {
		w.Host = append(w.Host, jobfile.HostLayer{Material: "steel", ThicknessMM: moistureNum(1)})
	}
	job := moistureJob(moistureWetRoom, moistureSealed(1), tight)
	peak, residue := moistureValue(t, job, "annual_peak_g_m2"), moistureValue(t, job, "annual_residue_g_m2")
	require.Greater(t, residue.Num, 0.0)
	require.GreaterOrEqual(t, peak.Num, residue.Num)
	require.Contains(t, peak.Note(), "wettest at the end of")
	steps := strings.Join(peak.Steps(), "\n")
	for _, m := range moistureMonths {
		require.Contains(t, steps, m+": ")
	}
	dry := moistureJob(moistureWetRoom, moistureSealed(0.1))
	require.Zero(t, moistureValue(t, dry, "annual_peak_g_m2").Num)
	require.Zero(t, moistureValue(t, dry, "annual_residue_g_m2").Num)
	job.Room.Use = "steam_room"
	require.Equal(t, None, moistureValue(t, job, "annual_peak_g_m2").State)
}

func TestMoistureColdestMonthStandsIn(t *testing.T) {
	job := moistureJob(moistureWetRoom, moistureSealed(1))
	job.Room.Walls[0].BehindTemperatureC, job.Room.Walls[0].BehindRelativeHumidityPercent = nil, nil
	months := moistureValue(t, job, "vapour_flow_g_m2_d")
	require.Contains(t, months.Note(), "outside air as in January")
	job.Room.Walls[0].BehindTemperatureC, job.Room.Walls[0].BehindRelativeHumidityPercent = moistureNum(-2), moistureNum(85)
	stated := moistureValue(t, job, "vapour_flow_g_m2_d")
	require.Equal(t, stated.Num, months.Num)
	require.NotContains(t, stated.Note(), "January")
	// For other walls the months outside say nothing.
	job.Room.Walls[0].BehindTemperatureC, job.Room.Walls[0].Behind = nil, "unheated_room"
	require.Equal(t, Unknown, moistureValue(t, job, "vapour_flow_g_m2_d").State)
}

func TestMoistureTemperatures(t *testing.T) {
	job := moistureJob(moistureOutsideWall)
	rt := 0.13 + 0.05/0.034 + 0.115/0.77 + 0.04
	require.InDelta(t, 20-25*(0.13+0.05/0.034)/rt, moistureValue(t, job, "temperature_behind_panel_c").Num, 0.001)
	require.InDelta(t, 1-0.25/(rt+0.12), moistureValue(t, job, "surface_factor").Num, 0.001)
	job.Climate.AirTemperatureC = moistureNum(15)
	require.InDelta(t, 15-20*(0.13+0.05/0.034)/rt, moistureValue(t, job, "temperature_behind_panel_c").Num, 0.001, "no warmer than the room is rated for")
	job.Room.Walls[0].Behind = "ground"
	require.InDelta(t, 1/(rt-0.04), moistureValue(t, job, "u_value_w_m2k").Num, 0.001)
	require.Equal(t, None, moistureValue(t, job, "surface_factor").State)
	job.Room.Walls[0].Behind = "masonry"
	v := moistureValue(t, job, "u_value_w_m2k")
	require.InDelta(t, 1/rt, v.Num, 0.001)
	require.Contains(t, v.Note(), "masonry")
	// Heat does not ask for the permeance.
	job.BuildUp = []jobfile.Layer{{Layer: "waterproofing"}, {Layer: "tile"}}
	v = moistureValue(t, job, "u_value_w_m2k")
	require.Equal(t, Known, v.State)
	require.Contains(t, v.Note(), "the tile without a thickness is left out")
	require.Nil(t, job.BuildUp[0].PermeancePerm, "the job is left as it is")
}

func TestMoistureMissingFacts(t *testing.T) {
	all := []string{"u_value_w_m2k", "relative_humidity_behind_panel_percent", "condensate_g_m2_d", "vapour_flow_g_m2_d", "waterproofing_sd_needed_m"}
	vapour := all[1:]
	for _, c := range []struct {
		what     string
		change   func(*jobfile.Job, *jobfile.Wall)
		measures []string
		note     string
	}{
		{"behind", func(_ *jobfile.Job, w *jobfile.Wall) { w.Behind = "" }, all, "what is behind"},
		{"behind unknown", func(_ *jobfile.Job, w *jobfile.Wall) { w.Behind = "unknown" }, all, "what is behind"},
		{"build-up", func(j *jobfile.Job, _ *jobfile.Wall) { j.BuildUp = nil }, all, "build-up"},
		{"panel", func(j *jobfile.Job, _ *jobfile.Wall) { j.Panel = nil }, all, "thickness of the panel"},
		{"panel thickness", func(j *jobfile.Job, _ *jobfile.Wall) { j.Panel.ThicknessMM = nil }, all, "thickness of the panel"},
		{"foam", func(j *jobfile.Job, _ *jobfile.Wall) { j.Panel.Mu = nil }, all, "foam"},
		{"host", func(_ *jobfile.Job, w *jobfile.Wall) { w.Host = nil }, all, "layers behind"},
		{"host material", func(_ *jobfile.Job, w *jobfile.Wall) { w.Host[0].Mu = nil }, all, "neither a material"},
		{"host thickness", func(_ *jobfile.Job, w *jobfile.Wall) { w.Host[0].ThicknessMM = nil }, all, "no thickness"},
		{"temperature behind", func(_ *jobfile.Job, w *jobfile.Wall) { w.BehindTemperatureC = nil }, vapour, "temperature behind"},
		{"humidity behind", func(_ *jobfile.Job, w *jobfile.Wall) { w.BehindRelativeHumidityPercent = nil }, vapour, "humidity behind"},
		{"climate", func(j *jobfile.Job, _ *jobfile.Wall) { j.Climate = nil }, vapour, "rated climate"},
		{"humidity", func(j *jobfile.Job, _ *jobfile.Wall) { j.Climate.RelativeHumidityPercent = nil }, vapour, "rated climate"},
		{"permeance", func(j *jobfile.Job, _ *jobfile.Wall) { j.BuildUp[0].PermeancePerm = nil }, vapour, "permeance"},
		{"out of range", func(j *jobfile.Job, _ *jobfile.Wall) { j.Climate.AirTemperatureC = moistureNum(120) }, vapour, "120 °C"},
		{"out of range", func(j *jobfile.Job, _ *jobfile.Wall) { j.Panel.ThicknessMM = moistureNum(0) }, all, "thickness in mm of panel is 0"},
	} {
		job := moistureJob(moistureSealed(0.5), c.change)
		for _, m := range c.measures {
			v := moistureValue(t, job, m)
			require.Equal(t, Unknown, v.State, "%s: %s", c.what, m)
			require.Contains(t, v.Note(), c.note, "%s: %s", c.what, m)
		}
	}
	require.Equal(t, None, moistureValue(t, moistureJob(), "waterproofing_sd_m").State)
	require.Equal(t, None, moistureValue(t, moistureJob(), "waterproofing_sd_needed_m").State)
	fromBehind := moistureJob(moistureSealed(1), func(j *jobfile.Job, w *jobfile.Wall) {
		j.Climate.AirTemperatureC, j.Climate.RelativeHumidityPercent = moistureNum(20), moistureNum(50)
		w.BehindTemperatureC, w.BehindRelativeHumidityPercent = moistureNum(35), moistureNum(100)
	})
	require.Equal(t, None, moistureValue(t, fromBehind, "waterproofing_sd_needed_m").State, "no waterproofing helps against vapour from behind")
	require.Greater(t, moistureValue(t, fromBehind, "condensate_g_m2_d").Num, 0.0)
	year := moistureJob(moistureWetRoom, moistureSealed(1))
	year.Climate.OutsideMonthlyRelativeHumidityPercent = nil
	require.Equal(t, Unknown, moistureValue(t, year, "annual_residue_g_m2").State)
}

// TestMoistureNeverPanics draws jobs of all sorts.
func TestMoistureNeverPanics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		maybe := func(lo, hi float64, label string) *float64 {
			if rapid.IntRange(0, 5).Draw(t, label+" given") == 0 {
				return nil
			}
			v := rapid.Float64Range(lo, hi).Draw(t, label)
			return &v
		}
		job := moistureJob(func(j *jobfile.Job, w *jobfile.Wall) {
			j.Room.Use = rapid.SampledFrom([]string{"steam_room", "wet_room", ""}).Draw(t, "use")
			w.Behind = rapid.SampledFrom([]string{"outside", "ground", "masonry", "heated_room", ""}).Draw(t, "behind")
			w.BehindTemperatureC, w.BehindRelativeHumidityPercent = maybe(-40, 60, "te"), maybe(0, 100, "he")
			j.Climate.AirTemperatureC, j.Climate.RelativeHumidityPercent = maybe(0, 120, "ti"), maybe(0, 100, "hi")
			j.BuildUp = nil
			for range rapid.IntRange(0, 4).Draw(t, "layers") {
				j.BuildUp = append(j.BuildUp, jobfile.Layer{Layer: rapid.SampledFrom([]string{"mesh", "cement", "waterproofing", "tile_bed", "tile"}).Draw(t, "layer"), ThicknessMM: maybe(0.05, 60, "d"), PermeancePerm: maybe(0, 100, "perm")})
			}
			w.Host = nil
			for range rapid.IntRange(0, 4).Draw(t, "host") {
				w.Host = append(w.Host, jobfile.HostLayer{Material: rapid.SampledFrom(append(moisture.MaterialNames(), "air_gap", "ventilated_gap", "")).Draw(t, "material"), ThicknessMM: maybe(0.05, 3000, "dh"), ConductivityWMK: maybe(0.01, 500, "lambda"), Mu: maybe(1, 1e6, "mu")})
			}
			if rapid.Bool().Draw(t, "months") {
				j.Climate.OutsideMonthlyTemperatureC = slices.Repeat([]float64{rapid.Float64Range(-40, 50).Draw(t, "month")}, 12)
				j.Climate.OutsideMonthlyRelativeHumidityPercent = slices.Repeat([]float64{80.0}, 12)
			}
		})
		for _, d := range Lookup("wall_section").Defs {
			v := moistureValue(t, job, d.Name)
			v.Steps()
			if d.Type == Number && v.State == Known {
				require.False(t, v.Num != v.Num || v.Num > 1e9 || v.Num < -1e9, "%s %g", d.Name, v.Num)
			}
		}
	})
}

// TestHostMaterialsAreThoseOfTheTable holds the job format against the table of design values.
func TestHostMaterialsAreThoseOfTheTable(t *testing.T) {
	var s struct {
		Defs struct {
			HostLayer struct {
				Properties struct {
					Material struct{ Enum []string }
				}
			} `json:"host_layer"`
			Panel struct {
				Properties struct {
					Material struct{ Enum []string }
				}
			}
		} `json:"$defs"`
	}
	require.NoError(t, json.Unmarshal(schema.Bytes("job.schema.json"), &s))
	want := append(moisture.MaterialNames(), "air_gap", "ventilated_gap")
	slices.Sort(want)
	require.Equal(t, want, s.Defs.HostLayer.Properties.Material.Enum)
	for _, foam := range s.Defs.Panel.Properties.Material.Enum {
		_, ok := moisture.MaterialNamed(foam)
		require.True(t, ok, foam)
	}
}
