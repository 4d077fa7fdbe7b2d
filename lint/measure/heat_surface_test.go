package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

// heatSurfaceJob is a bench of 1.92 m² whose seat carries 5 legs of 2.1 m at 80 mm of a cable of 10 W/m, in a steam room of 45 °C.
func heatSurfaceJob() *jobfile.Job {
	yes := true
	return &jobfile.Job{
		Room: &jobfile.Room{
			Walls: []jobfile.Wall{{ID: "north"}}, Floor: &jobfile.Floor{}, Ceiling: &jobfile.Ceiling{},
			Benches: []jobfile.Bench{{ID: "bench", Wall: "north", LengthMM: heatingPtr(2400.0), DepthMM: heatingPtr(450.0), HeightMM: heatingPtr(430.0), Heated: &yes}},
		},
		Climate: &jobfile.Climate{AirTemperatureC: heatingPtr(45.0), RestingAirTemperatureC: heatingPtr(20.0)},
		Items: []jobfile.Item{
			{ID: "heat", Kind: "heating_cable", Face: "bench.seat", Runs: cableMeander(5, 2100, 80), WattsPerM: heatingPtr(10.0), SuppliedLengthM: heatingPtr(12.0), SurplusLengthM: heatingPtr(1.18)},
			{ID: "sensor", Kind: "heating_sensor", Face: "bench.seat", Cable: "heat", LimitC: heatingPtr(40.0)},
		},
		Tasks: []jobfile.Task{{Task: "restart_heating", Planned: &jobfile.Span{Start: "2026-04-07T08:00:00Z", Finish: "2026-04-10T08:00:00Z"}}},
	}
}

func heatSurfaceValue(t *testing.T, job *jobfile.Job, face, name string) Value {
	t.Helper()
	table := NewPlan(nil).Measure(job).Table("heated_face")
	require.NotNil(t, table)
	i := table.Find(face)
	require.GreaterOrEqual(t, i, 0, "%s is no heated face", face)
	return table.Column(name)[i]
}

func TestHeatSurfaceOfBench(t *testing.T) {
	job := heatSurfaceJob()
	at := func(name string) Value { return heatSurfaceValue(t, job, "bench.seat", name) }
	field := (2100*320 + (2100+320)*80 + math.Pi*1600) / 1e6
	q := 10 * 10.82 / field
	for name, want := range map[string]float64{
		"field_area_m2": field, "mean_density_w_m2": q, "length_fit_percent": 100 * (0.08*10.82/field - 1),
		"surface_resting_c": 20 + math.Pow(q/8.92, 1/1.1), "surface_running_c": 45, "running_rise_k": 0, "ramp_needed_h": 72, "limit_c": 40, "planned_ramp_h": 72,
	} {
		v := at(name)
		require.Equal(t, Known, v.State, name)
		require.InDelta(t, want, v.Num, 0.001, name)
		if name != "limit_c" && name != "planned_ramp_h" {
			require.NotEmpty(t, v.Steps(), name)
			require.Equal(t, v.Steps(), v.Steps(), name)
		}
	}
	require.Contains(t, at("surface_resting_c").Note(), "steady state")
	require.NotContains(t, at("surface_resting_c").Note(), "taken")
	require.Equal(t, Unknown, at("actual_ramp_h").State)

	job.Climate.RestingAirTemperatureC = nil
	require.Contains(t, at("surface_resting_c").Note(), "taken: room at rest at 20 °C")

	job.Items[1].LimitC = heatingPtr(47.0)
	require.InDelta(t, 2, at("running_rise_k").Num, 1e-9)
	job.Items[1].LimitC = heatingPtr(90.0)
	require.InDelta(t, math.Pow(q/8.92, 1/1.1), at("running_rise_k").Num, 0.001)
	job.Items[1].LimitC = nil
	require.Equal(t, Unknown, at("running_rise_k").State)
	require.Equal(t, "/items/1", at("limit_c").At())
	require.Equal(t, 72.0, at("ramp_needed_h").Num, "without the limit the longest ramp counts")
	job.Items[1].Cable = ""
	require.Equal(t, Unknown, at("limit_c").State, "a sensor that names no cable may be the one")
	job.Items = job.Items[:1]
	require.Equal(t, None, at("limit_c").State)
	require.InDelta(t, math.Pow(q/8.92, 1/1.1), at("running_rise_k").Num, 0.001)
	require.Contains(t, at("surface_running_c").Note(), "no sensor controls")
	job.Climate = nil
	require.Equal(t, Unknown, at("surface_running_c").State)
	require.Equal(t, Unknown, at("room_air_c").State)
	require.Equal(t, Known, at("surface_resting_c").State)
}

// The floor of the trade guide: 4.5 m², 60 m, 10 W/m (V-12, V-14). Its drawn field is 2 % larger, as the last half pitch lies beyond the runs.
func TestHeatSurfaceOfFloor(t *testing.T) {
	c := heatingFloor(t)
	c.Job.Room.Floor = &jobfile.Floor{}
	c.Job.Items[0].Face = "floor"
	c = newContext(c.Job)
	s := heatSurfaceFaces(c)
	require.Len(t, s, 1)
	require.InDelta(t, 133.3, heatSurfaceDensity(c, &s[0]).Num, 0.025*133.3)
	fit := heatSurfaceFit(c, &s[0])
	require.InDelta(t, 0, fit.Num, 2.5)
	// V-15: cut to 50 m it gives 14.4 W/m.
	whole := heatSurfaceDensity(c, &s[0]).Num
	c.Job.Items[0].SurplusPlace, c.Job.Items[0].SurplusLengthM, c.Job.Items[0].InstalledLengthM = "cut_off", heatingPtr(10.0), heatingPtr(50.0)
	c = newContext(c.Job)
	require.InDelta(t, whole*1.44*50/60, heatSurfaceDensity(c, &s[0]).Num, 0.01)
}

func TestHeatSurfaceStates(t *testing.T) {
	for name, x := range map[string]struct {
		change  func(*jobfile.Job)
		measure string
		want    State
	}{
		"heated without a cable":       {func(j *jobfile.Job) { j.Items = nil }, "mean_density_w_m2", Unknown},
		"heated without a cable, end":  {func(j *jobfile.Job) { j.Items = nil }, "limit_c", Unknown},
		"no runs":                      {func(j *jobfile.Job) { j.Items[0].Runs = nil }, "field_area_m2", Unknown},
		"one straight run":             {func(j *jobfile.Job) { j.Items[0].Runs = cableMeander(1, 2100, 80) }, "surface_resting_c", None},
		"power not said":               {func(j *jobfile.Job) { j.Items[0].WattsPerM = nil }, "surface_resting_c", Unknown},
		"cut by an unknown length":     {func(j *jobfile.Job) { j.Items[0].SurplusPlace, j.Items[0].SurplusLengthM = "cut_off", nil }, "mean_density_w_m2", Unknown},
		"cut to nothing":               {func(j *jobfile.Job) { j.Items[0].SurplusPlace, j.Items[0].SurplusLengthM = "cut_off", heatingPtr(12.0) }, "mean_density_w_m2", Unknown},
		"length only by the runs":      {func(j *jobfile.Job) { j.Items[0].SurplusLengthM = nil }, "length_fit_percent", Unknown},
		"more surplus than supplied":   {func(j *jobfile.Job) { j.Items[0].SurplusLengthM = heatingPtr(13.0) }, "length_fit_percent", Unknown},
		"runs that touch":              {func(j *jobfile.Job) { j.Items[0].Runs = cableMeander(2, 2100, 0) }, "field_area_m2", Unknown},
		"no restart":                   {func(j *jobfile.Job) { j.Tasks = nil }, "planned_ramp_h", Unknown},
		"restart without a finish":     {func(j *jobfile.Job) { j.Tasks[0].Planned.Finish = "" }, "planned_ramp_h", Unknown},
		"restart of another face":      {func(j *jobfile.Job) { j.Tasks[0].Faces = []string{"floor"} }, "planned_ramp_h", Unknown},
		"ramp with the power not said": {func(j *jobfile.Job) { j.Items[0].WattsPerM = nil }, "ramp_needed_h", Unknown},
	} {
		job := heatSurfaceJob()
		x.change(job)
		require.Equal(t, x.want, heatSurfaceValue(t, job, "bench.seat", x.measure).State, name)
	}
}

// An upright face and a ceiling give off less heat, so the same cable makes them hotter.
func TestHeatSurfaceByWay(t *testing.T) {
	at := map[string]float64{}
	for _, face := range []string{"bench.seat", "bench.riser", "north", "floor", "ceiling"} {
		job := heatSurfaceJob()
		job.Items[0].Face = face
		at[face] = heatSurfaceValue(t, job, face, "surface_resting_c").Num
	}
	require.Equal(t, at["floor"], at["bench.seat"])
	require.Equal(t, at["north"], at["bench.riser"])
	require.Greater(t, at["north"], at["floor"])
	require.Greater(t, at["ceiling"], at["north"])
	q := heatSurfaceValue(t, heatSurfaceJob(), "bench.seat", "mean_density_w_m2").Num
	require.InDelta(t, 20+q/8, at["north"], 0.001)
	require.InDelta(t, 20+q/6, at["ceiling"], 0.001)
}
