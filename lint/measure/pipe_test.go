package measure

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

// lineJob has a line of 22 × 1 copper with 13 mm of insulation, 5 m from a generator of 6 kW.
func lineJob(t require.TestingT, change ...string) *jobfile.Job {
	rest := `panel: {material: xps, thickness_mm: 50, service_temperature_max_c: 75}
items:
  - {id: s, kind: steam_outlet, face: west, generator: g, tube: {material: copper, od_mm: 22, wall_mm: 1, run_m: 5, bends: 2, insulation: {material: epdm, thickness_mm: 13}}}
  - {id: g, kind: steam_generator, power_kw: 6, feed_temperature_c: 10}
`
	for i := 0; i < len(change); i += 2 {
		require.Contains(t, rest, change[i])
		rest = strings.Replace(rest, change[i], change[i+1], 1)
	}
	return steamJob(t, `{use: steam_room, height_mm: 2250, walls: [{id: west, width_mm: 1800}]}`, rest)
}

func lineValue(t require.TestingT, job *jobfile.Job, name string) Value {
	return steamValue(t, job, "steam_line", "s", name)
}

// Check values (computed): velocities, friction and least insulation of the tables beside the calculators.
func TestSteamLine(t *testing.T) {
	for _, c := range []struct {
		name      string
		change    []string
		measure   string
		want, tol float64
	}{
		{"bore", nil, "bore_mm", 20, 0},
		{"mass", nil, "tube_mass_kg", 5 * 0.589796, 0.001},
		{"output", nil, "flow_kg_h", 8.20, 0.005},
		{"6 kW in 22 × 1", nil, "velocity_m_s", 12.1, 0.05},
		{"9 kW in 22 × 1", []string{"power_kw: 6", "power_kw: 9"}, "velocity_m_s", 18.2, 0.05},
		{"9 kW in 28 × 1", []string{"power_kw: 6", "power_kw: 9", "od_mm: 22", "od_mm: 28"}, "velocity_m_s", 10.8, 0.05},
		{"18 kW in 28 × 1", []string{"power_kw: 6", "power_kw: 18", "od_mm: 22", "od_mm: 28"}, "velocity_m_s", 21.5, 0.05},
		{"18 kW in 35 × 1.2", []string{"power_kw: 6", "power_kw: 18", "od_mm: 22", "od_mm: 35", "wall_mm: 1", "wall_mm: 1.2"}, "velocity_m_s", 13.7, 0.05},
		{"two lines share", []string{"items:\n", "items:\n  - {id: s2, kind: steam_outlet, generator: g}\n"}, "velocity_m_s", 12.124 / 2, 0.001},
		{"expansion", []string{"run_m: 5", "run_m: 3"}, "expansion_mm", 3.984, 0},
		{"expansion of stainless steel", []string{"material: copper", "material: stainless_steel"}, "expansion_mm", 6.6, 1e-9},
		{"expansion of steel", []string{"material: copper", "material: galvanised_steel"}, "expansion_mm", 4.8, 1e-9},
		{"warm-up", nil, "warm_up_condensate_g", 5 * 7.946, 0.02},
		{"needed for 51 °C", []string{"material: xps", "material: pir"}, "insulation_needed_mm", 4.84, 0.005},
		{"needed for foam", nil, "insulation_needed_mm", 16.131, 0},
		{"needed out of reach", []string{"material: xps", "material: pir", "run_m: 5", "run_m: 5, touchable: false"}, "insulation_needed_mm", 2.89, 0.01},
		{"limit in reach", []string{"run_m: 5", "run_m: 5, touchable: true"}, "touch_limit_c", 51, 0},
		{"limit out of reach", []string{"run_m: 5", "run_m: 5, touchable: false"}, "touch_limit_c", 60, 0},
		{"limit when it is not said", nil, "touch_limit_c", 51, 0},
		{"bend", nil, "bend_radius_needed_mm", 77, 0},
		{"support", nil, "support_spacing_max_m", 1.8, 0},
		// Air at 25 °C, 5 K above the table's 20 °C: surface 33.23 + 5 less the smaller difference.
		{"surface", nil, "surface_temperature_c", 37.3, 0.15},
		{"bare", []string{"thickness_mm: 13", "thickness_mm: 0"}, "surface_temperature_c", 100, 0.01},
		{"friction of 10 kg/h over 5 m with two bends", []string{"power_kw: 6", "power_kw: 7.3155"}, "back_pressure_mbar", (5*94.3 + 2.1*65.3) / 100, 0.03},
	} {
		v := lineValue(t, lineJob(t, c.change...), c.measure)
		require.Equal(t, Known, v.State, "%s: %s", c.name, v.Note())
		require.InDelta(t, c.want, v.Num, c.tol, c.name)
	}
	job := lineJob(t)
	q, kgh, percent := lineValue(t, job, "heat_loss_w_m"), lineValue(t, job, "condensate_kg_h"), lineValue(t, job, "condensate_percent")
	require.InDelta(t, q.Num*5*3.6/2256.47, kgh.Num, 0.001)
	require.InDelta(t, kgh.Num/8.202*100, percent.Num, 0.02)
	require.Greater(t, lineValue(t, lineJob(t, "thickness_mm: 13", "thickness_mm: 0"), "heat_loss_w_m").Num, 2.5*q.Num)
	require.Contains(t, strings.Join(percent.Steps(), "\n"), "ISO 12241")
	require.Contains(t, percent.Note(), "insulation taken as 0.04 W/mK")
	require.NotContains(t, lineValue(t, lineJob(t, "thickness_mm: 13", "thickness_mm: 13, conductivity_w_mk: 0.036"), "heat_loss_w_m").Note(), "insulation taken")
	require.Contains(t, lineValue(t, lineJob(t, "items:\n", "items:\n  - {id: s2, kind: steam_outlet, generator: g}\n"), "velocity_m_s").Note(), "equal parts")
	require.Contains(t, lineValue(t, lineJob(t, "bends: 2, ", ""), "back_pressure_mbar").Note(), "bends are not given")

	// The insulation that is needed leads to the temperatures that it is needed for.
	enough := lineJob(t, "material: xps", "material: pir", "thickness_mm: 13", "thickness_mm: 4.8385")
	require.InDelta(t, 51, lineValue(t, enough, "surface_temperature_c").Num, 0.001)
	foam := lineJob(t, "thickness_mm: 13", "thickness_mm: 16.131")
	require.InDelta(t, 75, steamValue(t, foam, "steam_outlet", "s", "foam_temperature_c").Num, 0.001)
	better := lineJob(t, "thickness_mm: 13", "thickness_mm: 13, conductivity_w_mk: 0.03")
	require.Less(t, steamValue(t, better, "steam_outlet", "s", "foam_temperature_c").Num, 76.0)
	require.NotContains(t, steamValue(t, better, "steam_outlet", "s", "foam_temperature_c").Note(), "insulation")
}

func TestSteamLineWithoutFacts(t *testing.T) {
	heat := []string{"heat_loss_w_m", "surface_temperature_c", "insulation_needed_mm", "condensate_kg_h", "condensate_percent"}
	flow := []string{"flow_kg_h", "velocity_m_s", "back_pressure_mbar", "condensate_percent"}
	for _, c := range []struct {
		change  []string
		unknown []string
	}{
		{[]string{"od_mm: 22, ", ""}, append([]string{"bore_mm", "velocity_m_s", "back_pressure_mbar", "bend_radius_needed_mm", "support_spacing_max_m"}, heat...)},
		{[]string{"wall_mm: 1, ", ""}, append([]string{"bore_mm", "velocity_m_s", "back_pressure_mbar", "tube_mass_kg", "warm_up_condensate_g"}, heat...)},
		{[]string{"wall_mm: 1", "wall_mm: 11"}, append([]string{"bore_mm", "velocity_m_s"}, heat...)},
		{[]string{"run_m: 5, ", ""}, []string{"run_m", "back_pressure_mbar", "condensate_kg_h", "condensate_percent", "expansion_mm", "tube_mass_kg", "warm_up_condensate_g"}},
		{[]string{"material: copper, ", ""}, append([]string{"expansion_mm", "tube_mass_kg", "bend_radius_needed_mm", "support_spacing_max_m"}, heat...)},
		{[]string{", thickness_mm: 13", ""}, heat},
		{[]string{"generator: g, ", ""}, flow},
		{[]string{"power_kw: 6, ", ""}, flow},
		{[]string{", feed_temperature_c: 10", ""}, flow},
		{[]string{"power_kw: 6", "power_kw: 100"}, []string{"back_pressure_mbar"}}, // beyond Blasius
		{[]string{", service_temperature_max_c: 75", ""}, []string{"insulation_needed_mm"}},
		{[]string{"service_temperature_max_c: 75", "service_temperature_max_c: 30"}, []string{"insulation_needed_mm"}}, // no thickness will do
		{nil, []string{"bend_radius_mm", "support_spacing_m", "expansion_room_mm"}},
	} {
		job := lineJob(t, c.change...)
		for _, name := range c.unknown {
			require.Equal(t, Unknown, lineValue(t, job, name).State, "%s: %v", name, c.change)
		}
	}
	plastic := lineJob(t, "material: copper", "material: plastic")
	for _, name := range []string{"expansion_mm", "tube_mass_kg", "warm_up_condensate_g", "bend_radius_needed_mm", "support_spacing_max_m"} {
		require.Equal(t, none(), lineValue(t, plastic, name), name)
	}
	for _, bends := range []string{"bends: 0", "bends: 2, bends_made: fittings, bend_radius_mm: 20"} {
		job := lineJob(t, "bends: 2", bends)
		require.Equal(t, none(), lineValue(t, job, "bend_radius_mm"), bends)
		require.Equal(t, none(), lineValue(t, job, "bend_radius_needed_mm"), bends)
	}
	none := steamJob(t, `{use: steam_room, walls: [{id: west, width_mm: 1800}]}`, "items: [{id: s, kind: steam_outlet, face: west}]\n")
	require.Nil(t, NewPlan(nil).Measure(none).Table("steam_line"), "an outlet without a tube has no line")
}

// A generator that is named but is no generator gives no steam.
func TestSteamLineOfAnotherItem(t *testing.T) {
	require.Equal(t, Unknown, lineValue(t, lineJob(t, "generator: g", "generator: s"), "velocity_m_s").State)
}
