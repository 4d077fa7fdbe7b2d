package measure

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

// steamJob loads a job with the given room and items, each written as YAML in one line or indented.
func steamJob(t require.TestingT, room, rest string) *jobfile.Job {
	f, err := jobfile.Load("job.yaml", []byte("wetrule: 1\nreference: r\nstage: design\njudged_on: 2026-01-01\nroom: "+room+"\n"+rest))
	require.NoError(t, err)
	return f.Job
}

// steamValue measures one measure of one subject.
func steamValue(t require.TestingT, job *jobfile.Job, kind, id, name string) Value {
	table := NewPlan(nil).Measure(job).Table(kind)
	require.NotNil(t, table, kind)
	i := table.Find(id)
	require.GreaterOrEqual(t, i, 0, id)
	column := table.Column(name)
	require.NotNil(t, column, name)
	return column[i]
}

// foamAssumption is what is taken when the job gives no conductivity of the insulation.
const foamAssumption = "taken: tube 100 °C, insulation 0.040 W/mK, foam 0.034 W/mK and 32.5 °C at 100 mm from the tube's axis"

// plain takes away the steps of a value, which tests read on their own.
func plain(v Value) Value { return v.worked(nil) }

const steamRoom = `{use: steam_room, height_mm: 2250, walls: [{id: north, width_mm: 2400}, {id: east, width_mm: 1800}, {id: south, width_mm: 2400}, {id: west, width_mm: 1800}], ceiling: {shape: flat}, benches: %s}`

const steamBench = `[{id: bench, wall: north, x_mm: 0, length_mm: 2400, depth_mm: 450, height_mm: 430}]`

func TestSteamOutletPlace(t *testing.T) {
	for _, c := range []struct {
		name, benches, outlet string
		height, seat          Value
	}{
		// Seat: 690 − 450 = 240 mm off the front edge and 180 mm below the seat; √(240² + 180²) = 300.
		{"beside the bench", steamBench, `face: west, x_mm: 1110, y_mm: 250`, number(250), number(300)},
		{"one millimetre nearer", steamBench, `face: west, x_mm: 1111, y_mm: 250`, number(250), number(299.201)},
		{"under the seat", steamBench, `face: north, x_mm: 1000, y_mm: 250`, number(250), number(180)},
		{"in the riser", steamBench, `face: bench.riser, x_mm: 1000, y_mm: 250`, number(250), number(180)},
		{"in the seat", steamBench, `face: bench.seat, x_mm: 1000, y_mm: 200`, number(430), number(0)},
		{"in the ceiling", steamBench, `face: ceiling, x_mm: 1000, y_mm: 200`, number(2250), number(1820)},
		{"no benches", `[]`, `face: west, x_mm: 1110, y_mm: 250`, number(250), none()},
		{"bench without a place", `[{id: bench, wall: north, length_mm: 2400, depth_mm: 450, height_mm: 430}]`, `face: west, x_mm: 1110, y_mm: 250`, number(250), unknown()},
		{"one of two benches without a place", `[{id: a, wall: north, x_mm: 0, length_mm: 2400, depth_mm: 450, height_mm: 430}, {id: b, wall: south, length_mm: 2400, depth_mm: 450, height_mm: 430}]`, `face: west, x_mm: 1110, y_mm: 250`, number(250), unknown()},
		{"bench on no wall", `[{id: bench, wall: ceiling, x_mm: 0, length_mm: 2400, depth_mm: 450, height_mm: 430}]`, `face: west, x_mm: 1110, y_mm: 250`, number(250), unknown()},
		{"no x", steamBench, `face: west, y_mm: 250`, number(250), unknown()},
		{"no y", steamBench, `face: west, x_mm: 1110`, unknown(), unknown()},
		{"no face", steamBench, `x_mm: 1110, y_mm: 250`, unknown(), unknown()},
	} {
		t.Run(c.name, func(t *testing.T) {
			job := steamJob(t, fmt.Sprintf(steamRoom, c.benches), "items: [{id: s, kind: steam_outlet, "+c.outlet+"}]\n")
			require.Equal(t, c.height, steamValue(t, job, "steam_outlet", "s", "outlet_height_mm"))
			require.Equal(t, c.seat, steamValue(t, job, "steam_outlet", "s", "seat_distance_mm"))
		})
	}

	job := steamJob(t, `{use: steam_room, height_mm: 2250, walls: [{id: north, width_mm: 2400}]}`, "items: [{id: s, kind: steam_outlet, face: north, x_mm: 1, y_mm: 250}]\n")
	require.Equal(t, unknown(), steamValue(t, job, "steam_outlet", "s", "seat_distance_mm"), "the job says nothing of benches")
}

func TestSteamTube(t *testing.T) {
	for _, c := range []struct {
		name, rest, measure string
		want                Value
	}{
		{"insulation in XPS", `panel: {material: xps}`, "insulation_in_foam_mm", number(13)},
		{"insulation in EPS", `panel: {material: eps}`, "insulation_in_foam_mm", number(13)},
		{"insulation in PIR", `panel: {material: pir}`, "insulation_in_foam_mm", none()},
		{"board of no known foam", `panel: {thickness_mm: 50}`, "insulation_in_foam_mm", unknown()},
		{"no board", ``, "insulation_in_foam_mm", unknown()},
		{"limit of the board", `panel: {service_temperature_max_c: 75}`, "panel_service_temperature_max_c", number(75)},
		{"limit not known", `panel: {material: xps}`, "panel_service_temperature_max_c", unknown()},
		{"no board, no limit", ``, "panel_service_temperature_max_c", unknown()},
		{"foam", ``, "foam_temperature_c", number(78.586).note(foamAssumption)},
		{"opening needed", ``, "opening_needed_mm", number(48)},
		{"opening to spare", ``, "opening_play_mm", number(3)},
		{"saw of 51", ``, "opening_saw_usual", yes(true)},
		{"size", ``, "tube_size_listed", yes(true)},
		{"rating", ``, "insulation_rated_temperature_c", number(150)},
	} {
		t.Run(c.name, func(t *testing.T) {
			job := steamJob(t, fmt.Sprintf(steamRoom, steamBench), "items: [{id: s, kind: steam_outlet, face: west, opening_diameter_mm: 51, tube: {material: copper, od_mm: 22, wall_mm: 1, insulation: {thickness_mm: 13, rated_temperature_c: 150}}}]\n"+c.rest+"\n")
			require.Equal(t, c.want, plain(steamValue(t, job, "steam_outlet", "s", c.measure)))
		})
	}

	bare := steamJob(t, fmt.Sprintf(steamRoom, steamBench), "items: [{id: s, kind: steam_outlet, face: west, tube: {material: copper, od_mm: 22, wall_mm: 1.1, insulation: {thickness_mm: 0}}}]\n")
	for name, want := range map[string]Value{
		"insulation_thickness_mm":        number(0),
		"insulation_rated_temperature_c": none(),
		"insulated_before_insertion":     none(),
		"foam_temperature_c":             number(100).note(foamAssumption),
		"opening_play_mm":                unknown(),
		"opening_saw_usual":              unknown(),
		"tube_size_listed":               yes(false).note("22 × 1.1 mm"),
	} {
		require.Equal(t, want, plain(steamValue(t, bare, "steam_outlet", "s", name)), name)
	}

	wall := steamJob(t, `{use: steam_room, walls: [{id: west, width_mm: 1800, panel: {material: pur, service_temperature_max_c: 100}}]}`, "items: [{id: s, kind: steam_outlet, face: west}]\npanel: {material: xps, service_temperature_max_c: 75}\n")
	require.Equal(t, number(100), steamValue(t, wall, "steam_outlet", "s", "panel_service_temperature_max_c"), "the wall's own board counts")
	for _, name := range []string{"tube_material", "tube_od_mm", "tube_size_listed", "insulation_thickness_mm", "insulation_rated_temperature_c", "insulated_before_insertion", "foam_temperature_c", "opening_needed_mm", "opening_play_mm", "tube_fall_percent", "tube_low_points", "tube_valves_or_traps", "guarded"} {
		require.Equal(t, unknown(), steamValue(t, wall, "steam_outlet", "s", name), name)
	}
}

func TestOpeningSaw(t *testing.T) {
	mm := func(v float64) *float64 { return &v }
	require.IsIncreasing(t, usualSaws)
	require.Equal(t, unknown(), openingSaw(nil))
	for _, d := range []float64{14, 45, 57, 64, 210} {
		require.Equal(t, yes(true), openingSaw(mm(d)), "%v", d)
	}
	require.Equal(t, yes(false).note("the next larger saw is 64 mm"), openingSaw(mm(63)))
	require.Equal(t, yes(false).note("the next larger saw is 14 mm"), openingSaw(mm(13.9)))
	require.Equal(t, none(), openingSaw(mm(210.1)))
}
