package measure

import (
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

func heatingPtr[T any](v T) *T { return &v }

// heatingOf takes one measure of one item.
func heatingOf(t *testing.T, c *Context, kind string, item int, name string) Value {
	t.Helper()
	d := Lookup(kind).Def(name)
	require.NotNil(t, d, name)
	return d.get(c, &Subject{Kind: kind, ID: c.Job.Items[item].ID, Item: &c.Job.Items[item]})
}

func heatingValue(t *testing.T, c *Context, item int, name string) Value {
	t.Helper()
	return heatingOf(t, c, "heating_cable", item, name)
}

func heatingNum(t *testing.T, c *Context, name string) float64 {
	t.Helper()
	v := heatingValue(t, c, 0, name)
	require.Equal(t, Known, v.State, name)
	return v.Num
}

// heatingFloor is a heated area of 4.5 m² laid with 60 m of cable of 10 W/m: 20
// legs of 3 m at 75 mm fill 3 m × 1.5 m. Its plate says 88.17 ohm at 230 V.
//
// Source: pitch = 1000·A/L = 75 mm and 600 W from a trade guide's worked example
// (secondary); 88.17 ohm, 133.3 W/m² by Ohm's law and q = p/s (computed).
func heatingFloor(t *testing.T) *Context {
	t.Helper()
	c := cableContext(jobfile.Item{
		ID: "mat", Runs: cableMeander(20, 3000, 75), CableODMM: heatingPtr(5.0), WattsPerM: heatingPtr(10.0), Circuit: "h",
		SuppliedLengthM: heatingPtr(60.0), InstalledLengthM: heatingPtr(60.0), SurplusLengthM: heatingPtr(0.0), ResistanceOhm: heatingPtr(230.0 * 230 / 600),
	})
	c.Job.Circuits = []jobfile.Circuit{{ID: "h", VoltageV: heatingPtr(230.0), Protection: "ads"}}
	return newContext(c.Job)
}

func TestHeatingFloorVector(t *testing.T) {
	c := heatingFloor(t)
	require.InDelta(t, 75, heatingNum(t, c, "pitch_min_mm"), 0.001)
	require.InDelta(t, 133.333, heatingNum(t, c, "power_density_w_m2"), 0.001)
	require.Zero(t, heatingNum(t, c, "length_difference_percent"))
	require.InDelta(t, 0, heatingNum(t, c, "plate_power_difference_percent"), 0.001)
	require.InDelta(t, 88.17, *c.Job.Items[0].ResistanceOhm, 0.005)
}

// A bench of 1.92 m² with 10 W/m at 60 mm has 166.7 W/m² and 32.0 m, 320 W and 165.3 ohm
// at 230 V (computed).
func TestHeatingBenchVector(t *testing.T) {
	c := heatingFloor(t)
	it := &c.Job.Items[0]
	it.Runs, it.SuppliedLengthM, it.ResistanceOhm = cableMeander(14, 2285, 60), heatingPtr(32.0), heatingPtr(165.3)
	c = newContext(c.Job)
	require.InDelta(t, 166.667, heatingNum(t, c, "power_density_w_m2"), 0.001)
	require.InDelta(t, 0, heatingNum(t, c, "plate_power_difference_percent"), 0.02)
}

// The cable of 60 m cut to 54, 50 and 30 m: 666.7, 720 and 1200 W, since the
// resistance falls with the length (Ohm's law, computed). Each must show.
func TestHeatingCutCable(t *testing.T) {
	for _, x := range []struct{ leftM, differencePercent, watts float64 }{{54, -10, 666.667}, {50, -16.667, 720}, {30, -50, 1200}} {
		c := heatingFloor(t)
		it := &c.Job.Items[0]
		full := *it.ResistanceOhm
		it.InstalledLengthM = heatingPtr(x.leftM)
		require.InDelta(t, x.differencePercent, heatingNum(t, c, "length_difference_percent"), 0.001)

		// Who writes down the shortened length as supplied is found by the readings.
		it.SuppliedLengthM = heatingPtr(x.leftM)
		cut := full * x.leftM / 60
		require.InDelta(t, x.watts, 230*230/cut, 0.001)
		c.Job.Records = []jobfile.Record{{Record: "cable_reading", Item: "mat", When: "laid", ResistanceOhm: &cut}}
		require.Zero(t, heatingNum(t, c, "length_difference_percent"))
		require.InDelta(t, x.differencePercent, heatingNum(t, c, "resistance_lowest_percent"), 0.001)
	}
}

// The same cable at 240, 253 and 207 V: 653.3, 726.0 and 486.0 W (computed).
func TestHeatingOtherVoltages(t *testing.T) {
	for _, x := range []struct{ volts, percent float64 }{{240, 8.885}, {253, 21}, {207, -19}} {
		c := heatingFloor(t)
		c.Job.Circuits[0].VoltageV = heatingPtr(x.volts)
		require.InDelta(t, x.percent, heatingNum(t, c, "plate_power_difference_percent"), 0.001)
	}
}

func TestHeatingLengthDifference(t *testing.T) {
	for name, x := range map[string]struct {
		installed, surplus, supplied *float64
		runs                         bool
		want                         Value
	}{
		"exact":                      {heatingPtr(10.82), heatingPtr(1.18), heatingPtr(12.0), false, number(0)},
		"one percent short":          {heatingPtr(10.82), heatingPtr(1.06), heatingPtr(12.0), false, number(-1)},
		"one percent long":           {heatingPtr(10.82), heatingPtr(1.3), heatingPtr(12.0), false, number(1)},
		"runs, sharp corners":        {nil, heatingPtr(1.18), heatingPtr(12.0), true, number(0)},
		"runs, rounded bends":        {nil, heatingPtr(1.317), heatingPtr(12.0), true, number(0)},
		"runs, longer than supplied": {nil, heatingPtr(1.43734), heatingPtr(12.0), true, number(1)},
		"runs, cut":                  {nil, heatingPtr(1.06), heatingPtr(12.0), true, number(-1)},
		"no surplus given":           {heatingPtr(12.0), nil, heatingPtr(12.0), false, unknown()},
		"no supplied length":         {heatingPtr(12.0), heatingPtr(0.0), nil, false, unknown()},
		"nothing laid":               {nil, heatingPtr(0.0), heatingPtr(12.0), false, unknown()},
		"supplied length of nothing": {heatingPtr(1.0), heatingPtr(0.0), heatingPtr(0.0), false, unknown()},
	} {
		t.Run(name, func(t *testing.T) {
			it := jobfile.Item{InstalledLengthM: x.installed, SurplusLengthM: x.surplus, SuppliedLengthM: x.supplied}
			if x.runs {
				it.Runs = cableMeander(5, 2100, 80)
			}
			v := heatingValue(t, cableContext(it), 0, "length_difference_percent")
			require.Equal(t, x.want.State, v.State)
			require.InDelta(t, x.want.Num, v.Num, 0.001)
			require.Equal(t, x.runs, v.Note() != "")
		})
	}
}

func TestHeatingExtremesSeeEveryReading(t *testing.T) {
	c := cableContext(jobfile.Item{ID: "mat", ResistanceOhm: heatingPtr(100.0)}, jobfile.Item{ID: "other", ResistanceOhm: heatingPtr(1.0)})
	reading := func(item, when string, ohm *float64) jobfile.Record {
		return jobfile.Record{Record: "cable_reading", Item: item, When: when, ResistanceOhm: ohm}
	}
	c.Job.Records = []jobfile.Record{
		reading("mat", "reel", heatingPtr(108.0)), reading("mat", "laid", heatingPtr(94.0)), reading("mat", "covered", nil),
		reading("other", "reel", heatingPtr(1.0)), {Record: "photo", Item: "mat"},
	}
	low, high := heatingValue(t, c, 0, "resistance_lowest_percent"), heatingValue(t, c, 0, "resistance_highest_percent")
	require.InDelta(t, -6, low.Num, 1e-9)
	require.Equal(t, "reading laid", low.Note())
	require.InDelta(t, 8, high.Num, 1e-9)
	require.Equal(t, "reading reel", high.Note())
	require.Equal(t, Unknown, heatingValue(t, c, 0, "insulation_lowest_mohm").State)
	c.Job.Items[0].ResistanceOhm = nil
	require.Equal(t, Unknown, heatingValue(t, c, 0, "resistance_lowest_percent").State)
}

func TestHeatingTestVoltageNeedsEveryReading(t *testing.T) {
	c := cableContext(jobfile.Item{ID: "mat"})
	c.Job.Records = []jobfile.Record{
		{Record: "cable_reading", Item: "mat", When: "reel", TestVoltageV: heatingPtr(500.0)},
		{Record: "cable_reading", Item: "mat", When: "laid", TestVoltageV: heatingPtr(1000.0)},
	}
	require.Equal(t, 500.0, heatingNum(t, c, "test_voltage_lowest_v"))
	c.Job.Records[1].TestVoltageV = nil
	require.Equal(t, Unknown, heatingValue(t, c, 0, "test_voltage_lowest_v").State)
}

func TestHeatingReadingsByStage(t *testing.T) {
	full := func(when string) jobfile.Record {
		return jobfile.Record{Record: "cable_reading", Item: "mat", When: when, ResistanceOhm: heatingPtr(1.0), InsulationMOhm: heatingPtr(1.0)}
	}
	bare := func(when string) jobfile.Record {
		return jobfile.Record{Record: "cable_reading", Item: "mat", When: when}
	}
	for name, x := range map[string]struct {
		records             []jobfile.Record
		reel, laid, covered Value
	}{
		"none":                       {nil, unknown(), unknown(), unknown()},
		"on the reel only":           {[]jobfile.Record{full("reel")}, yes(true), unknown(), unknown()},
		"laid without reel":          {[]jobfile.Record{full("laid")}, yes(false), yes(true), unknown()},
		"handover only":              {[]jobfile.Record{bare("handover")}, yes(false), yes(false), yes(false)},
		"an empty one":               {[]jobfile.Record{bare("reel"), full("covered")}, unknown(), yes(false), yes(true)},
		"an empty one, then a whole": {[]jobfile.Record{bare("reel"), full("reel")}, yes(true), unknown(), unknown()},
		"another cable's":            {[]jobfile.Record{{Record: "cable_reading", Item: "x", When: "covered"}}, unknown(), unknown(), unknown()},
	} {
		t.Run(name, func(t *testing.T) {
			c := cableContext(jobfile.Item{ID: "mat"})
			c.Job.Records = x.records
			for m, want := range map[string]Value{"reading_reel": x.reel, "reading_laid": x.laid, "reading_covered": x.covered} {
				require.True(t, want.Same(heatingValue(t, c, 0, m)), m)
			}
		})
	}
}

// IEC 60364-6:2016 Table 6.1 (read).
func TestHeatingInsulationFloor(t *testing.T) {
	for name, x := range map[string]struct {
		circuit     *jobfile.Circuit
		mohm, volts float64
		ok          bool
	}{
		"230 V":           {&jobfile.Circuit{Protection: "ads", VoltageV: heatingPtr(230.0)}, 1, 500, true},
		"500 V":           {&jobfile.Circuit{Protection: "ads", VoltageV: heatingPtr(500.0)}, 1, 500, true},
		"690 V":           {&jobfile.Circuit{Protection: "ads", VoltageV: heatingPtr(690.0)}, 1, 1000, true},
		"FELV":            {&jobfile.Circuit{Protection: "felv", VoltageV: heatingPtr(24.0)}, 1, 500, true},
		"SELV":            {&jobfile.Circuit{Protection: "selv"}, 0.5, 250, true},
		"PELV":            {&jobfile.Circuit{Protection: "pelv"}, 0.5, 250, true},
		"no voltage":      {&jobfile.Circuit{Protection: "ads"}, 0, 0, false},
		"no protection":   {&jobfile.Circuit{VoltageV: heatingPtr(24.0)}, 0, 0, false},
		"no such circuit": {nil, 0, 0, false},
	} {
		t.Run(name, func(t *testing.T) {
			m, v, ok := heatingInsulationFloor(x.circuit)
			require.Equal(t, x.ok, ok)
			require.Equal(t, x.mohm, m)
			require.Equal(t, x.volts, v)
		})
	}
}

func TestHeatingBendNeeded(t *testing.T) {
	v := heatingBendNeeded(&jobfile.Item{CableODMM: heatingPtr(6.0)})
	require.Equal(t, 36.0, v.Num)
	require.Contains(t, v.Note(), "6 ×")
	v = heatingBendNeeded(&jobfile.Item{CableODMM: heatingPtr(6.0), BendRadiusMinMM: heatingPtr(30.0)})
	require.Equal(t, 30.0, v.Num)
	require.Equal(t, "by the maker", v.Note())
	require.Equal(t, Unknown, heatingBendNeeded(&jobfile.Item{}).State)
}

func TestHeatingSensor(t *testing.T) {
	const cable, sensor = 0, 1
	setup := func(x, y float64, change func(cable, sensor *jobfile.Item)) *Context {
		wall := func(w float64) jobfile.Wall { return jobfile.Wall{WidthMM: &w} }
		job := &jobfile.Job{
			Room: &jobfile.Room{Floor: &jobfile.Floor{}, Ceiling: &jobfile.Ceiling{}, Walls: []jobfile.Wall{wall(2400), wall(1800), wall(2400), wall(1800)}},
			Items: []jobfile.Item{
				{ID: "mat", Kind: "heating_cable", Face: "floor", Runs: cableMeander(4, 2000, 80), CableODMM: heatingPtr(6.0)},
				{ID: "probe", Kind: "heating_sensor", Face: "floor", Cable: "mat", XMM: &x, YMM: &y},
			},
		}
		if change != nil {
			change(&job.Items[cable], &job.Items[sensor])
		}
		return newContext(job)
	}
	get := func(c *Context, name string) Value { return heatingOf(t, c, "heating_sensor", sensor, name) }

	c := setup(1000, 40, nil)
	require.True(t, get(c, "on_face_of_cable").Flag)
	require.True(t, get(c, "between_runs").Flag)
	require.Equal(t, 37.0, get(c, "cable_gap_mm").Num, "half the pitch less half the cable")
	require.Equal(t, 40.0, get(c, "wall_distance_mm").Num)

	c = setup(1000, 280, nil)
	require.False(t, get(c, "between_runs").Flag, "beyond the last run")
	c = setup(1000, 80, nil)
	require.Equal(t, -3.0, get(c, "cable_gap_mm").Num, "on the cable")
	require.False(t, get(c, "between_runs").Flag)

	c = setup(1000, 40, func(_, s *jobfile.Item) { s.Face = "ceiling" })
	require.Equal(t, Known, get(c, "on_face_of_cable").State)
	require.False(t, get(c, "on_face_of_cable").Flag)
	for _, m := range []string{"between_runs", "cable_gap_mm", "wall_distance_mm"} {
		require.Equal(t, None, get(c, m).State, m)
	}
	for name, change := range map[string]func(k, s *jobfile.Item){
		"no cable named": func(_, s *jobfile.Item) { s.Cable = "" },
		"no face":        func(_, s *jobfile.Item) { s.Face = "" },
		"no runs":        func(k, _ *jobfile.Item) { k.Runs = nil },
		"no place":       func(_, s *jobfile.Item) { s.XMM = nil },
	} {
		c = setup(1000, 40, change)
		require.Equal(t, Unknown, get(c, "between_runs").State, name)
		require.Equal(t, Unknown, get(c, "cable_gap_mm").State, name)
	}
	c = setup(1000, 40, func(_, s *jobfile.Item) { s.Cable = "probe" })
	require.False(t, get(c, "on_face_of_cable").Flag, "a sensor is no heating cable")

	sensors := func(c *Context) Value { return heatingOf(t, c, "heating_cable", cable, "sensors") }
	require.Equal(t, 1.0, sensors(setup(1000, 40, nil)).Num)
	require.Equal(t, Unknown, sensors(setup(1000, 40, func(_, s *jobfile.Item) { s.Cable = "" })).State)
	v := sensors(setup(1000, 40, func(_, s *jobfile.Item) { s.Cable = "probe" }))
	require.Equal(t, Known, v.State)
	require.Zero(t, v.Num)
}

func TestHeatingPanelBehindGroove(t *testing.T) {
	c := cableContext(jobfile.Item{GrooveDepthMM: heatingPtr(16.0)})
	require.Equal(t, Unknown, heatingValue(t, c, 0, "panel_left_mm").State)
	c.Job.Panel = &jobfile.Panel{ThicknessMM: heatingPtr(50.0)}
	c = newContext(c.Job)
	require.Equal(t, 34.0, heatingNum(t, c, "panel_left_mm"))
	require.Equal(t, 25.0, heatingNum(t, c, "panel_half_mm"))
	require.Equal(t, 16.667, heatingNum(t, c, "panel_third_mm"))
	c.Job.Room.Floor.Panel = &jobfile.Panel{ThicknessMM: heatingPtr(30.0)}
	require.Equal(t, 14.0, heatingNum(t, newContext(c.Job), "panel_left_mm"), "the face's own panel counts")
}
