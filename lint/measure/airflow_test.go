package measure

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

// airflowJob is a steam room of 3 m by 2 m by 2.5 m for three with a door, an exhaust and a supply.
func airflowJob(change func(*jobfile.Job)) *jobfile.Job {
	f := func(v float64) *float64 { return &v }
	j := &jobfile.Job{
		Room: &jobfile.Room{Use: "steam_room", People: f(3), HeightMM: f(2500), Floor: &jobfile.Floor{},
			Walls: []jobfile.Wall{{ID: "n", WidthMM: f(3000)}, {ID: "e", WidthMM: f(2000)}, {ID: "s", WidthMM: f(3000)}, {ID: "w", WidthMM: f(2000)}}},
		Items: []jobfile.Item{
			{ID: "out", Kind: "ventilation_outlet", Flow: "exhaust", AirFlowM3H: f(60), DiameterMM: f(100)},
			{ID: "in", Kind: "ventilation_outlet", Flow: "supply", AirFlowM3H: f(33), DiameterMM: f(125)},
			{ID: "door", Kind: "glazed_door", WidthMM: f(750), GapFloorMM: f(10)},
		},
	}
	change(j)
	return j
}

func TestAirflowMeasures(t *testing.T) {
	f := func(v float64) *float64 { return &v }
	as := func(*jobfile.Job) {}
	for _, c := range []struct {
		name, measure string
		change        func(*jobfile.Job)
		want          Value
	}{
		{"exhaust", "exhaust_m3_h", as, number(60)},
		{"two exhausts", "exhaust_m3_h", func(j *jobfile.Job) { j.Items[1].Flow = "exhaust" }, number(93)},
		{"no outlets", "exhaust_m3_h", func(j *jobfile.Job) { j.Items = j.Items[2:] }, number(0)},
		{"items not listed", "exhaust_m3_h", func(j *jobfile.Job) { j.Items = nil }, unknown()},
		{"exhaust without a flow", "exhaust_m3_h", func(j *jobfile.Job) { j.Items[0].AirFlowM3H = nil }, unknown()},
		{"direction not known", "exhaust_m3_h", func(j *jobfile.Job) { j.Items[1].Flow = "" }, unknown()},
		{"one wall alone", "exhaust_m3_h", func(j *jobfile.Job) { j.Room.Walls, j.Room.Floor = j.Room.Walls[:1], nil }, none()},
		{"supply that is drawn in", "supply_m3_h", func(j *jobfile.Job) { j.Items[1].AirFlowM3H = nil }, number(0)},
		{"each", "per_person_m3_h", as, number(20)},
		{"each, by the supply", "per_person_m3_h", func(j *jobfile.Job) { j.Items[1].AirFlowM3H = f(90) }, number(30)},
		{"people not known", "per_person_m3_h", func(j *jobfile.Job) { j.Room.People = nil }, unknown()},
		{"no people", "per_person_m3_h", func(j *jobfile.Job) { j.Room.People = f(0) }, unknown()},
		{"changes", "changes_per_h", as, number(4)}, // 60 m³/h ÷ 15 m³
		{"height not known", "changes_per_h", func(j *jobfile.Job) { j.Room.HeightMM = nil }, unknown()},
		{"plan not closed", "changes_per_h", func(j *jobfile.Job) { j.Room.Walls[0].WidthMM = f(1000) }, unknown()},
		{"make-up", "make_up_m3_h", as, number(27)},
		{"nothing to make up", "make_up_m3_h", func(j *jobfile.Job) { j.Items[1].AirFlowM3H = f(60) }, none()},
		{"area needed", "make_up_area_needed_mm2", as, number(15000)},
		// A1: four people at 20 m³/h want 444 cm² at 0.5 m/s.
		{"A1", "make_up_area_needed_mm2", func(j *jobfile.Job) { j.Items[0].AirFlowM3H, j.Items[1].AirFlowM3H = f(80), nil }, number(44444.444)},
		{"under the door", "make_up_area_mm2", as, number(7500)},
		{"inlet without a fan", "make_up_area_mm2", func(j *jobfile.Job) { j.Items[1].AirFlowM3H, j.Items[1].FreeAreaMM2 = nil, f(5000) }, number(12500)},
		{"inlet without an area", "make_up_area_mm2", func(j *jobfile.Job) { j.Items[1].AirFlowM3H = nil }, unknown()},
		{"gap not known, the inlet does", "make_up_area_mm2", func(j *jobfile.Job) {
			j.Items[1].AirFlowM3H, j.Items[1].FreeAreaMM2, j.Items[2].GapFloorMM = nil, f(33333.334), nil
		}, number(33333.334)},
		{"gap not known, the inlet is too small", "make_up_area_mm2", func(j *jobfile.Job) {
			j.Items[1].AirFlowM3H, j.Items[1].FreeAreaMM2, j.Items[2].GapFloorMM = nil, f(33333), nil
		}, unknown()},
		{"undercut", "door_undercut_mm2", as, number(7500)},
		{"undercut of the tighter door", "door_undercut_mm2", func(j *jobfile.Job) {
			j.Items = append(j.Items, jobfile.Item{ID: "other", Kind: "glazed_door", WidthMM: f(700), GapFloorMM: f(9)})
		}, number(6300)},
		{"one gap not known", "door_undercut_mm2", func(j *jobfile.Job) {
			j.Items = append(j.Items, jobfile.Item{ID: "other", Kind: "glazed_door"})
		}, unknown()},
		{"no door", "door_undercut_mm2", func(j *jobfile.Job) { j.Items = j.Items[:2] }, none()},
	} {
		set := NewPlan(nil).Measure(airflowJob(c.change))
		got := set.Table("airflow").Column(c.measure)[0]
		require.True(t, got.Same(c.want), "%s: %+v", c.name, got)
	}
}

func TestAirflowDuctVelocity(t *testing.T) {
	f := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		name   string
		change func(*jobfile.Item)
		want   Value
	}{
		{"V1 15 l/s in 100 mm", func(it *jobfile.Item) { it.AirFlowM3H = f(54) }, number(1.91)},
		{"V1 25 l/s in 125 mm", func(it *jobfile.Item) { it.AirFlowM3H, it.DiameterMM = f(90), f(125) }, number(2.037)},
		{"no diameter", func(it *jobfile.Item) { it.DiameterMM = nil }, unknown()},
		{"diameter out of range", func(it *jobfile.Item) { it.DiameterMM = f(0) }, unknown()},
		{"no flow", func(it *jobfile.Item) { it.AirFlowM3H = nil }, unknown()},
		{"supply, neither flow nor area", func(it *jobfile.Item) { it.AirFlowM3H, it.Flow = nil, "supply" }, unknown()},
		{"supply that is drawn in", func(it *jobfile.Item) { it.AirFlowM3H, it.Flow, it.FreeAreaMM2 = nil, "supply", f(7000) }, none()},
	} {
		set := NewPlan(nil).Measure(airflowJob(func(j *jobfile.Job) { c.change(&j.Items[0]) }))
		got := set.Table("duct").Column("duct_velocity_m_s")[0]
		require.True(t, got.Same(c.want), "%s: %+v", c.name, got)
	}
}

func TestAirflowStepsShowTheFigures(t *testing.T) {
	set := NewPlan(nil).Measure(airflowJob(func(*jobfile.Job) {}))
	for measure, want := range map[string][]string{
		"per_person_m3_h":         {"60 m³/h led out and 33 m³/h led in = 60 m³/h", "60 m³/h ÷ 3 people = 20.00"},
		"changes_per_h":           {"60 m³/h ÷ (6.00 m² · 2.5 m) = 4.00"},
		"make_up_area_needed_mm2": {"27 m³/h ÷ 3600 ÷ 0.5 m/s = 15000 mm²"},
		"make_up_area_mm2":        {"door: 7500 mm²", "1.61 Pa"}, // 1.2/2 · (0.0075 m³/s ÷ 0.61 ÷ 0.0075 m²)²
	} {
		steps := strings.Join(set.Table("airflow").Column(measure)[0].Steps(), "\n")
		for _, w := range want {
			require.Contains(t, steps, w, measure)
		}
	}
}
