package measure

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

// heatJob is the room of the published-style check values E3 to E8: 2.0 × 1.5 × 2.2 m, tile 8 mm on 4 mm of adhesive on
// 50 mm of XPS, 1.6 m² of 8 mm glass, 45 °C and 100 %.
func heatJob(t require.TestingT, change ...string) *jobfile.Job {
	text := `{use: steam_room, height_mm: 2200, heat_up_minutes: 20, floor: {fall_percent: 2}, ceiling: {shape: flat}, benches: [], walls: [{id: north, width_mm: 2000, behind: heated_room}, {id: east, width_mm: 1500, behind: plant_room}, {id: south, width_mm: 2000, behind: masonry}, {id: west, width_mm: 1500, behind: heated_room}]}
climate: {air_temperature_c: 45, relative_humidity_percent: 100}
panel: {material: xps, thickness_mm: 50}
build_up: [{layer: mesh}, {layer: tile_bed, thickness_mm: 4}, {layer: tile, thickness_mm: 8}]
circuits: [{id: steam, voltage_v: 230, breaker_a: 63}]
items:
  - {id: generator, kind: steam_generator, power_kw: 12, feed_temperature_c: 10, circuit: steam}
  - {id: door, kind: glazed_door, face: south, width_mm: 800, height_mm: 2000, glass_thickness_mm: 8}
`
	require.Zero(t, len(change)%2)
	for i := 0; i < len(change); i += 2 {
		require.Contains(t, text, change[i])
		text = strings.Replace(text, change[i], change[i+1], 1)
	}
	f, err := jobfile.Load("job.yaml", []byte("wetrule: 1\nreference: r\nstage: design\njudged_on: 2026-01-01\nroom: "+text))
	require.NoError(t, err)
	return f.Job
}

func plantValue(t require.TestingT, job *jobfile.Job, name string) Value {
	return steamValue(t, job, "steam_plant", "generator", name)
}

// Check values E1 to E8 (computed), the electrical power at an efficiency of 0.95.
func TestPlantVectors(t *testing.T) {
	job := heatJob(t)
	for _, c := range []struct {
		name      string
		want, tol float64
	}{
		{"air_heat_kwh", 1373.4 / 3600, 0.001},
		{"lining_heat_kwh", 11214.7 / 3600, 0.001},
		{"glass_heat_kwh", 309.6 / 3600, 0.001},
		{"lining_loss_w", 284.36, 0.02},
		{"cold_wall_loss_w", 0, 0},
		{"glass_loss_w", 149.25, 0.02},
		{"ventilation_loss_w", 381.5, 0.1},
		{"heat_up_minutes", 20, 0},
		{"heat_up_steam_kg_h", 16.147, 0.003},
		{"heat_up_power_kw", 11.812 / 0.95, 0.003},
		{"holding_steam_kg_h", 1.18, 0.001},
		{"holding_power_kw", 1.18 / 1.2986, 0.001},
		{"output_kg_h", 16.40, 0.005},
		{"plant_power_kw", 12, 0},
		{"power_ratio", 12 * 0.95 / 11.812, 0.001},
		{"specific_power_kw_m3", 12 / 6.6, 0.001},
		{"current_a", 52.174, 0.001},
		{"breaker_usual_max_a", 80, 0},
		{"breaker_load_percent", 82.816, 0.001},
	} {
		v := plantValue(t, job, c.name)
		require.Equal(t, Known, v.State, "%s: %s", c.name, v.Note())
		require.InDelta(t, c.want, v.Num, c.tol, c.name)
	}
	require.InDelta(t, 8.019/0.95, plantValue(t, heatJob(t, "heat_up_minutes: 20", "heat_up_minutes: 30"), "heat_up_power_kw").Num, 0.003)
	steps := strings.Join(plantValue(t, job, "heat_up_power_kw").Steps(), "\n")
	require.Contains(t, steps, "stored heat: air 1373 + linings 11215")
	require.Contains(t, steps, "2487.1 kJ/kg")
	require.NotContains(t, strings.Join(plantValue(t, job, "holding_power_kw").Steps(), "\n"), "stored heat")

	exact := heatJob(t, "power_kw: 12,", fmt.Sprintf("power_kw: %v,", plantValue(t, job, "heat_up_power_kw").Num))
	require.InDelta(t, 20, plantValue(t, exact, "heat_up_time_min").Num, 0.01, "the generator that is needed needs the time that is wanted")
}

func TestPlantTakesWhatItSays(t *testing.T) {
	job := heatJob(t, ", heat_up_minutes: 20", "")
	v := plantValue(t, job, "heat_up_minutes")
	require.Equal(t, 30.0, v.Num)
	require.Contains(t, v.Note(), "taken: warm in 30 min")
	require.InDelta(t, 8.019/0.95, plantValue(t, job, "heat_up_power_kw").Num, 0.003)
	require.Contains(t, plantValue(t, job, "heat_up_power_kw").Note(), "warm in 30 min")
	require.Contains(t, plantValue(t, job, "heat_up_power_kw").Note(), "start at 20 °C")
	require.Contains(t, plantValue(t, job, "current_a").Note(), "one phase")

	warm := heatJob(t, "relative_humidity_percent: 100", "relative_humidity_percent: 100, resting_air_temperature_c: 35")
	require.Less(t, plantValue(t, warm, "heat_up_power_kw").Num, plantValue(t, heatJob(t), "heat_up_power_kw").Num)
	require.Contains(t, plantValue(t, warm, "heat_up_power_kw").Note(), "35 °C as given")
}

// Each term answers to its own cause and leaves the others as they are.
func TestPlantTermsAreApart(t *testing.T) {
	terms := []string{"air_heat_kwh", "lining_heat_kwh", "glass_heat_kwh", "lining_loss_w", "cold_wall_loss_w", "glass_loss_w", "ventilation_loss_w"}
	base := heatJob(t)
	for _, c := range []struct {
		name    string
		change  []string
		changed []string
	}{
		{"thicker tile", []string{"thickness_mm: 8}]", "thickness_mm: 20}]"}, []string{"lining_heat_kwh", "lining_loss_w"}},
		{"mortar bed", []string{"tile_bed, thickness_mm: 4", "tile_bed, thickness_mm: 30"}, []string{"lining_heat_kwh", "lining_loss_w"}},
		{"tile by mass", []string{"{layer: tile, thickness_mm: 8}", "{layer: tile, thickness_mm: 8, mass_kg_m2: 25}"}, []string{"lining_heat_kwh"}},
		{"thicker glass", []string{"glass_thickness_mm: 8", "glass_thickness_mm: 12"}, []string{"glass_heat_kwh", "glass_loss_w"}},
		{"outside wall", []string{"behind: plant_room", "behind: outside"}, []string{"lining_loss_w", "cold_wall_loss_w"}},
		{"ground", []string{"behind: plant_room", "behind: ground"}, []string{"lining_loss_w", "cold_wall_loss_w"}},
		{"unheated room", []string{"behind: plant_room", "behind: unheated_room"}, []string{"lining_loss_w", "cold_wall_loss_w"}},
		{"thicker foam", []string{"thickness_mm: 50", "thickness_mm: 100"}, []string{"lining_loss_w"}},
		{"door to the open air", []string{"behind: masonry", "behind: outside"}, []string{"glass_heat_kwh", "lining_loss_w", "cold_wall_loss_w", "glass_loss_w"}},
		{"window", []string{"benches: []", "benches: [], openings: [{id: window, face: north, x_mm: 500, y_mm: 900, width_mm: 500, height_mm: 500}]"}, []string{"lining_heat_kwh", "lining_loss_w", "glass_heat_kwh", "glass_loss_w"}},
		{"higher", []string{"height_mm: 2200", "height_mm: 2300"}, []string{"air_heat_kwh", "lining_heat_kwh", "lining_loss_w", "ventilation_loss_w"}},
	} {
		job := heatJob(t, c.change...)
		var changed []string
		for _, name := range terms {
			before, after := plantValue(t, base, name), plantValue(t, job, name)
			require.Equal(t, Known, after.State, "%s: %s", c.name, after.Note())
			if before.Num != after.Num {
				changed = append(changed, name)
			}
		}
		require.ElementsMatch(t, c.changed, changed, c.name)
	}
	// An outside wall of 1.5 × 2.2 m: U 0.6057 at −5 °C.
	u := 1 / (0.13 + 0.04 + 0.008/1.3 + 0.004 + 0.05/0.034)
	require.InDelta(t, u*3.3*50, plantValue(t, heatJob(t, "behind: plant_room", "behind: outside"), "cold_wall_loss_w").Num, 0.01)
	require.Contains(t, plantValue(t, heatJob(t, "behind: plant_room", "behind: outside"), "heat_up_power_kw").Note(), "-5 °C outside")
}

// What is given takes the place of what is taken.
func TestPlantTakesGivenSurroundings(t *testing.T) {
	heat := func(change ...string) Value { return plantValue(t, heatJob(t, change...), "heat_up_power_kw") }
	u := 1 / (0.13 + 0.04 + 0.008/1.3 + 0.004 + 0.05/0.034)
	outside := []string{"behind: plant_room", "behind: outside, behind_temperature_c: -12"}
	require.InDelta(t, u*3.3*57, plantValue(t, heatJob(t, outside...), "cold_wall_loss_w").Num, 0.01)
	require.NotContains(t, heat(outside...).Note(), "°C outside")
	monthly := []string{"behind: plant_room", "behind: outside", "relative_humidity_percent: 100", "relative_humidity_percent: 100, outside_monthly_temperature_c: [2, 3, 6, 9, 13, 16, 18, 17, 14, 10, 5, -1]"}
	require.InDelta(t, u*3.3*46, plantValue(t, heatJob(t, monthly...), "cold_wall_loss_w").Num, 0.01, "the coldest month")
	require.Less(t, plantValue(t, heatJob(t, "behind: plant_room", "behind: plant_room, behind_temperature_c: 30"), "lining_loss_w").Num, 284.36)

	// E6: 20 m³/h take 1156.1 W.
	fans := func(flow string) []string {
		return []string{"items:\n", "items:\n  - {id: fan, kind: ventilation_outlet, face: north, flow: exhaust" + flow + "}\n"}
	}
	require.InDelta(t, 1156.1, plantValue(t, heatJob(t, fans(", air_flow_m3_h: 20")...), "ventilation_loss_w").Num, 0.2)
	require.Contains(t, heat(fans(", air_flow_m3_h: 20")...).Note(), "the fans run with 20 m³/h")
	require.InDelta(t, 381.5, plantValue(t, heatJob(t, fans(", air_flow_m3_h: 2")...), "ventilation_loss_w").Num, 0.1, "gaps let in more")
	require.InDelta(t, 381.5, plantValue(t, heatJob(t, fans("")...), "ventilation_loss_w").Num, 0.1)
	require.Contains(t, heat(fans("")...).Note(), "the air flow of the fans is not given")
}

func TestPlantWithoutFacts(t *testing.T) {
	for _, c := range []struct{ what, from, to string }{
		{"climate", "climate: {air_temperature_c: 45, relative_humidity_percent: 100}\n", ""},
		{"humidity", ", relative_humidity_percent: 100", ""},
		{"build-up", "build_up: [{layer: mesh}, {layer: tile_bed, thickness_mm: 4}, {layer: tile, thickness_mm: 8}]\n", ""},
		{"thickness of a layer", "tile_bed, thickness_mm: 4", "tile_bed"},
		{"board", "panel: {material: xps, thickness_mm: 50}\n", ""},
		{"thickness of the board", "xps, thickness_mm: 50", "xps"},
		{"height", ", height_mm: 2200", ""},
		{"benches", ", benches: []", ""},
		{"floor", ", floor: {fall_percent: 2}", ""},
		{"ceiling", ", ceiling: {shape: flat}", ""},
		{"behind", "behind: plant_room", "behind: unknown"},
		{"size of the door", "width_mm: 800, ", ""},
		{"glass", ", glass_thickness_mm: 8", ""},
		{"too hot to reckon", "air_temperature_c: 45", "air_temperature_c: 100"},
		{"door larger than its wall", "width_mm: 800, height_mm: 2000", "width_mm: 5000, height_mm: 5000"},
	} {
		job := heatJob(t, c.from, c.to)
		for _, name := range []string{"heat_up_power_kw", "holding_power_kw", "lining_heat_kwh", "power_ratio", "heat_up_time_min"} {
			v := plantValue(t, job, name)
			require.Equal(t, Unknown, v.State, "%s without %s", name, c.what)
			require.NotEmpty(t, v.Note(), c.what)
		}
	}
	feed := heatJob(t, ", feed_temperature_c: 10", "")
	for _, name := range []string{"heat_up_power_kw", "holding_power_kw", "output_kg_h", "heat_up_time_min", "power_ratio"} {
		require.Equal(t, Unknown, plantValue(t, feed, name).State, name)
	}
	require.Equal(t, Known, plantValue(t, feed, "holding_steam_kg_h").State)
	power := heatJob(t, "power_kw: 12, ", "")
	for _, name := range []string{"power_kw", "plant_power_kw", "output_kg_h", "heat_up_time_min", "power_ratio", "current_a", "breaker_usual_max_a", "breaker_load_percent", "specific_power_kw_m3"} {
		require.Equal(t, Unknown, plantValue(t, power, name).State, name)
	}
	for _, job := range []*jobfile.Job{heatJob(t, "use: steam_room", "use: wet_room"), steamJob(t, `{use: steam_room, walls: [{id: north, width_mm: 2000}]}`, "items: [{id: generator, kind: steam_generator}]\n")} {
		for _, name := range []string{"heat_up_power_kw", "holding_power_kw", "lining_heat_kwh", "power_ratio", "heat_up_time_min", "specific_power_kw_m3"} {
			require.Equal(t, None, plantValue(t, job, name).State, name)
		}
	}
	require.Equal(t, None, plantValue(t, heatJob(t, "power_kw: 12", "power_kw: 0.5", "behind: masonry", "behind: outside"), "heat_up_time_min").State, "half of the losses takes all of it")
}

func TestPlantOfTwoGenerators(t *testing.T) {
	job := heatJob(t, "items:\n", "items:\n  - {id: second, kind: steam_generator, power_kw: 6, feed_temperature_c: 20, circuit: steam}\n")
	require.Equal(t, 18.0, plantValue(t, job, "plant_power_kw").Num)
	require.InDelta(t, 78.261, plantValue(t, job, "current_a").Num, 0.001)
	require.Less(t, steamValue(t, job, "steam_plant", "second", "heat_up_power_kw").Num, plantValue(t, job, "heat_up_power_kw").Num, "warmer feed")
	other := heatJob(t, "items:\n", "items:\n  - {id: second, kind: steam_generator, circuit: steam}\n")
	require.Equal(t, Unknown, plantValue(t, other, "current_a").State)
	require.Equal(t, unknown().note("the power of second is not given"), plantValue(t, other, "plant_power_kw"))
}

func TestPlantCurrent(t *testing.T) {
	for _, c := range []struct {
		circuit string
		want    Value
	}{
		{"voltage_v: 230, breaker_a: 63", number(52.174).note("taken: one phase")},
		{"voltage_v: 230, phases: 1, breaker_a: 63", number(52.174)},
		{"voltage_v: 400, phases: 3, breaker_a: 63", number(17.321)},
		{"voltage_v: 400, breaker_a: 63", unknown().note("the phases of the circuit are not given")},
		{"voltage_v: 400, current: dc, breaker_a: 63", number(30)},
		{"breaker_a: 63", unknown()},
	} {
		require.Equal(t, c.want, plain(plantValue(t, heatJob(t, "voltage_v: 230, breaker_a: 63", c.circuit), "current_a")), c.circuit)
	}
	require.Equal(t, Unknown, plantValue(t, heatJob(t, ", circuit: steam}", "}"), "current_a").State)
	require.Equal(t, Unknown, plantValue(t, heatJob(t, ", breaker_a: 63", ""), "breaker_load_percent").State)
	require.Equal(t, none(), plantValue(t, heatJob(t, "power_kw: 12", "power_kw: 40"), "breaker_usual_max_a"), "no usual breaker carries it")
}

func TestRoomFigures(t *testing.T) {
	figure := func(room, rest, name string) Value {
		return plain(steamValue(t, steamJob(t, room, rest), "room_figures", "room", name))
	}
	const four = `[{id: north, width_mm: 2400, behind: outside}, {id: east, width_mm: 1800, behind: heated_room}, {id: south, width_mm: 2400, behind: heated_room}, {id: west, width_mm: 1800, behind: ground}]`
	const door = "items: [{id: door, kind: glazed_door, face: south, width_mm: 800, height_mm: 2000}]\n"
	const faces = "floor: {fall_percent: 2}, ceiling: {shape: flat}, "
	tiers := `[{id: low, wall: north, x_mm: 0, length_mm: 2400, depth_mm: 900, height_mm: 450}, {id: high, wall: north, x_mm: 0, length_mm: 2400, depth_mm: 450, height_mm: 900}]`
	room := func(extra, benches string) string {
		return "{use: steam_room, height_mm: 2250, " + extra + "walls: " + four + ", benches: " + benches + "}"
	}
	for _, c := range []struct {
		name, room, rest, measure string
		want                      Value
	}{
		{"plan", room("", "[]"), door, "plan_area_m2", number(4.32)},
		{"perimeter", room("", "[]"), door, "perimeter_m", number(8.4)},
		{"walls", room("", "[]"), door, "wall_area_m2", number(18.9)},
		{"volume", room(faces, "[]"), door, "volume_m3", number(9.72)},
		{"volume under a sloped ceiling", room("ceiling: {shape: sloped}, ", "[]"), door, "volume_m3", number(9.72).note("reckoned to the height at the walls; what the sloped ceiling adds is left out")},
		{"volume under a ceiling of no known form", room("", "[]"), door, "volume_m3", number(9.72).note("the form of the ceiling is not given; it is taken as flat")},
		{"air without benches", room(faces, "[]"), door, "air_volume_m3", number(9.72)},
		{"air beside tiers", room(faces, tiers), door, "air_volume_m3", number(9.72 - 2.4*0.45*0.45 - 2.4*0.45*0.9)},
		{"seats of tiers", room(faces, tiers), door, "seat_area_m2", number(2.16)},
		{"lining", room(faces, "[]"), door, "lining_area_m2", number(2*4.32 + 18.9 - 1.6)},
		{"lining with tiers", room(faces, tiers), door, "lining_area_m2", number(2*4.32 + 18.9 - 1.6)},
		{"glass", room(faces, "[]"), door, "glass_area_m2", number(1.6)},
		{"glass and a window", room(faces+"openings: [{id: w, face: east, x_mm: 500, y_mm: 900, width_mm: 500, height_mm: 400}], ", "[]"), door, "glass_area_m2", number(1.8).note("openings without an item (1) are taken as 8 mm glass")},
		{"lining and a window", room(faces+"openings: [{id: w, face: east, x_mm: 500, y_mm: 900, width_mm: 500, height_mm: 400}], ", "[]"), door, "lining_area_m2", number(2*4.32 + 18.9 - 1.8)},
		{"cold walls", room(faces, "[]"), door, "cold_wall_area_m2", number(2.25 * 4.2)},
		{"cold wall behind tiers", room(faces, tiers), door, "cold_wall_area_m2", number(2.25*4.2 - 2.4*0.9)},
		{"no items", room(faces, "[]"), "", "glass_area_m2", unknown().note("the items are not given, so it is not known what doors there are")},
		{"no benches given", strings.Replace(room(faces, "[]"), ", benches: []", "", 1), door, "air_volume_m3", unknown().note("the benches are not given")},
		{"no benches given, volume", strings.Replace(room(faces, "[]"), ", benches: []", "", 1), door, "volume_m3", number(9.72)},
		{"bench without a depth", room(faces, `[{id: b, wall: north, x_mm: 0, length_mm: 2400, height_mm: 450}]`), door, "lining_area_m2", unknown().note("the place or size of the bench b is not given")},
		{"no floor", room("ceiling: {shape: flat}, ", "[]"), door, "lining_area_m2", unknown().note("the floor is not given")},
		{"no height", strings.Replace(room(faces, "[]"), "height_mm: 2250, ", "", 1), door, "volume_m3", unknown().note("the size of the wall north is not given")},
		{"one wall", `{use: steam_room, walls: [{id: south, width_mm: 2400}]}`, door, "volume_m3", none()},
		{"walls that do not close", strings.Replace(room(faces, "[]"), "south, width_mm: 2400", "south, width_mm: 2300", 1), door, "plan_area_m2", unknown().note("the walls do not close to a plan")},
		{"door higher than its wall", room(faces, "[]"), strings.Replace(door, "height_mm: 2000", "height_mm: 5000", 1), "lining_area_m2", number(2*4.32 + 18.9 - 4)},
		{"door larger than its wall", room(faces, "[]"), strings.Replace(strings.Replace(door, "height_mm: 2000", "height_mm: 5000", 1), "width_mm: 800", "width_mm: 5000", 1), "lining_area_m2", unknown().note("openings and benches are larger than the face south")},
		{"not known what is behind", strings.Replace(room(faces, "[]"), "behind: ground", "behind: unknown", 1), door, "cold_wall_area_m2", unknown().note("it is not known what is behind the wall west")},
	} {
		got := figure(c.room, c.rest, c.measure)
		require.Equal(t, c.want.State, got.State, "%s: %s", c.name, got.Note())
		require.InDelta(t, c.want.Num, got.Num, 1e-9, c.name)
		require.Equal(t, c.want.Note(), got.Note(), c.name)
	}
	// Walls of two heights count by their width.
	mixed := strings.Replace(room(faces, "[]"), "north, width_mm: 2400", "north, width_mm: 2400, height_mm: 2670", 1)
	require.InDelta(t, 2.37, figure(mixed, door, "height_m").Num, 1e-9)
	require.InDelta(t, 4.32*2.37, figure(mixed, door, "volume_m3").Num, 1e-3)
	// An L: 2400 × 1800 less 800 × 600.
	ell := `{use: steam_room, height_mm: 2000, ceiling: {shape: flat}, benches: [], walls: [{id: south, width_mm: 2400}, {id: b, width_mm: 1200}, {id: c, width_mm: 800, turn_deg: -90}, {id: d, width_mm: 600}, {id: e, width_mm: 1600}, {id: f, width_mm: 1800}]}`
	require.Equal(t, number(4.32-0.48), figure(ell, door, "plan_area_m2"))
	require.Equal(t, number(2*(4.32-0.48)), figure(ell, door, "volume_m3"))
}
