package measure

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

// softenerJob is a job with one generator; change takes away or sets its facts.
func softenerJob(change func(*jobfile.Item)) *jobfile.Job {
	f := func(v float64) *float64 { return &v }
	yes := true
	it := jobfile.Item{ID: "g", Kind: "steam_generator", Softener: &yes, PowerKW: f(6), FeedTemperatureC: f(10), SteamHPerWeek: f(7), WaterHardnessMmolL: f(2.5),
		SoftenerResinL: f(5), RegenerationDays: f(4), WaterHeating: "elements", ConductivityUSCM: f(500), BoilerMaxUSCM: f(2000)}
	change(&it)
	return &jobfile.Job{Room: &jobfile.Room{}, Items: []jobfile.Item{it}}
}

func TestSoftenerMeasures(t *testing.T) {
	f := func(v float64) *float64 { return &v }
	no := false
	as := func(*jobfile.Item) {}
	for _, c := range []struct {
		name, measure string
		change        func(*jobfile.Item)
		want          Value
	}{
		// Steam: 6 kW · 3600/(2675.57 − 42.02) kg/kWh · 364 h = 2985.476 kg; feed with blow-down × 2000/1500.
		{"feed with blow-down", "feed_water_m3_year", as, number(3.981)},
		{"feed without conductivities", "feed_water_m3_year", func(it *jobfile.Item) { it.ConductivityUSCM = nil }, number(2.985)},
		{"feed at the boiler's limit", "feed_water_m3_year", func(it *jobfile.Item) { it.BoilerMaxUSCM = f(500) }, unknown()},
		{"feed without hours", "feed_water_m3_year", func(it *jobfile.Item) { it.SteamHPerWeek = nil }, unknown()},
		{"feed beyond the tables", "feed_water_m3_year", func(it *jobfile.Item) { it.FeedTemperatureC = f(101) }, unknown()},
		// Scale: 2.9855 m³ · 2.5 mol/m³ · 0.1000869 kg/mol.
		{"scale", "scale_kg_year", as, number(0.747)},
		{"scale without hardness", "scale_kg_year", func(it *jobfile.Item) { it.WaterHardnessMmolL = nil }, unknown()},
		{"scale with absurd hardness", "scale_kg_year", func(it *jobfile.Item) { it.WaterHardnessMmolL = f(1e9) }, unknown()},
		// 5 eq ÷ 5 eq/m³ = 1 m³; 0.8 m³ ÷ (3.9807 m³ ÷ 364 d).
		{"capacity", "capacity_days", as, number(73.154)},
		{"capacity, no flow", "capacity_days", func(it *jobfile.Item) { it.SteamHPerWeek = f(0) }, none()},
		{"capacity, no hardness", "capacity_days", func(it *jobfile.Item) { it.WaterHardnessMmolL = f(0) }, none()},
		{"capacity, no softener", "capacity_days", func(it *jobfile.Item) { it.Softener = &no }, none()},
		{"capacity, softener not known", "capacity_days", func(it *jobfile.Item) { it.Softener = nil }, unknown()},
		{"capacity, resin not known", "capacity_days", func(it *jobfile.Item) { it.SoftenerResinL = nil }, unknown()},
		{"capacity, resin out of range", "capacity_days", func(it *jobfile.Item) { it.SoftenerResinL = f(-1) }, unknown()},
		{"salt", "salt_kg_regeneration", as, number(1)},
		{"range soft", "hardness_range", func(it *jobfile.Item) { it.WaterHardnessMmolL = f(1.499) }, text("soft")},
		{"range medium", "hardness_range", func(it *jobfile.Item) { it.WaterHardnessMmolL = f(1.5) }, text("medium")},
		{"range medium to the end", "hardness_range", as, text("medium")},
		{"range hard", "hardness_range", func(it *jobfile.Item) { it.WaterHardnessMmolL = f(2.501) }, text("hard")},
		{"range not known", "hardness_range", func(it *jobfile.Item) { it.WaterHardnessMmolL = nil }, unknown()},
		{"range out of range", "hardness_range", func(it *jobfile.Item) { it.WaterHardnessMmolL = f(-1) }, unknown()},
		{"degrees", "hardness_dh", as, number(14.019)},
		{"cycles", "cycles", as, number(4)},
		{"cycles of water without salt", "cycles", func(it *jobfile.Item) { it.ConductivityUSCM = f(0) }, none()},
		{"cycles not known", "cycles", func(it *jobfile.Item) { it.BoilerMaxUSCM = nil }, unknown()},
	} {
		set := NewPlan(nil).Measure(softenerJob(c.change))
		got := set.Table("softener").Column(c.measure)[0]
		require.True(t, got.Same(c.want), "%s: %+v", c.name, got)
		if got.State == Unknown {
			require.Empty(t, got.Steps(), c.name)
		}
	}
	require.Nil(t, NewPlan(nil).Measure(&jobfile.Job{Room: &jobfile.Room{}}).Table("softener"))
}

func TestSoftenerStepsShowTheFigures(t *testing.T) {
	table := NewPlan(nil).Measure(softenerJob(func(*jobfile.Item) {})).Table("softener")
	for measure, want := range map[string][]string{
		"capacity_days":  {"6 kW · 1.367 kg/kWh · 7 h", "2000/(2000 − 500)", "5 l · 1 eq/l ÷ (2 · 2.5 mmol/l) = 1.000 m³", "= 73.2 days"},
		"scale_kg_year":  {"2.985 m³ · 2.5 mol/m³ · 0.1001 = 0.747 kg", "0.28 l"},
		"cycles":         {"2000 ÷ 500", "25.0 %"},
		"hardness_range": {"2.5 mmol/l = 14.02 °dH", "250.22 mg/l CaCO3"},
	} {
		steps := strings.Join(table.Column(measure)[0].Steps(), "\n")
		for _, w := range want {
			require.Contains(t, steps, w, measure)
		}
	}
	require.Equal(t, "very hard by the WHO", table.Column("hardness_range")[0].Note())
}
