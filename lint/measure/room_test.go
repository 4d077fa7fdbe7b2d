package measure

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestRoomMeasures(t *testing.T) {
	const square = `walls: [{id: n, width_mm: 2400}, {id: e, width_mm: 1800}, {id: s, width_mm: 2400}, {id: w, width_mm: 1800}]`
	const single = `walls: [{id: n, width_mm: 2400}]`
	for _, c := range []struct {
		name, room, rest, measure string
		want                      Value
	}{
		{"closes", `{use: wet_room, ` + square + `}`, ``, "closing_miss_mm", number(0)},
		// 3 mm along and 4 mm across: √(3² + 4²) = 5.
		{"misses by 5", `{use: wet_room, walls: [{id: n, width_mm: 2400}, {id: e, width_mm: 1800}, {id: s, width_mm: 2403}, {id: w, width_mm: 1804}]}`, ``, "closing_miss_mm", number(5)},
		{"one wall has no plan", `{use: wet_room, ` + single + `}`, ``, "closing_miss_mm", none()},
		{"two walls are too few", `{use: wet_room, walls: [{id: n, width_mm: 2400}, {id: e, width_mm: 1800}]}`, ``, "closing_miss_mm", unknown()},
		{"open chain of three", `{use: wet_room, walls: [{id: n, width_mm: 2400}, {id: e, width_mm: 1800}, {id: s, width_mm: 2400}]}`, ``, "closing_miss_mm", number(1800)},
		{"full turn", `{use: wet_room, ` + square + `}`, ``, "closing_turn_miss_deg", number(0)},
		{"last corner left open", `{use: wet_room, walls: [{id: n, width_mm: 2400}, {id: e, width_mm: 1800}, {id: s, width_mm: 2400}, {id: w, width_mm: 1800, turn_deg: 0}]}`, ``, "closing_turn_miss_deg", number(90)},
		{"listed right to left", `{use: wet_room, walls: [{id: n, width_mm: 2400, turn_deg: -90}, {id: e, width_mm: 1800, turn_deg: -90}, {id: s, width_mm: 2400, turn_deg: -90}, {id: w, width_mm: 1800, turn_deg: -90}]}`, ``, "closing_turn_miss_deg", number(720)},

		{"one drain", `{use: wet_room, ` + square + `}`, `items: [{id: d, kind: drain}, {id: x, kind: shower}]`, "drain_count", number(1)},
		{"no drain", `{use: wet_room, ` + square + `}`, `items: []`, "drain_count", number(0)},
		{"items not listed", `{use: wet_room, ` + square + `}`, ``, "drain_count", unknown()},
		{"one wall, no floor", `{use: wet_room, ` + single + `}`, `items: []`, "drain_count", none()},
		{"one wall with a floor", `{use: wet_room, ` + single + `, floor: {fall_percent: 2}}`, `items: []`, "drain_count", number(0)},

		{"fall", `{use: wet_room, ` + square + `, floor: {fall_percent: 1.25}}`, ``, "floor_fall_percent", number(1.25)},
		{"fall not given", `{use: wet_room, ` + square + `, floor: {heated: true}}`, ``, "floor_fall_percent", unknown()},
		{"floor not given", `{use: wet_room, ` + square + `}`, ``, "floor_fall_percent", unknown()},
		{"floor not part of the job", `{use: wet_room, ` + single + `}`, ``, "floor_fall_percent", none()},

		{"step", `{use: wet_room, ` + square + `, floor: {threshold_step_mm: -5}}`, `items: []`, "threshold_step_mm", number(-5)},
		{"step with a door", `{use: wet_room, ` + square + `}`, `items: [{id: d, kind: glazed_door}]`, "threshold_step_mm", unknown()},
		{"step with an opening", `{use: wet_room, ` + square + `, openings: [{id: o, face: s, x_mm: 100, y_mm: 0, width_mm: 700, height_mm: 2000}]}`, `items: []`, "threshold_step_mm", unknown()},
		{"no way in", `{use: wet_room, ` + square + `, floor: {fall_percent: 2}}`, `items: [{id: d, kind: drain}]`, "threshold_step_mm", none()},
		{"items not listed, step not given", `{use: wet_room, ` + square + `}`, ``, "threshold_step_mm", unknown()},

		{"shape", `{use: steam_room, ` + square + `, ceiling: {shape: vaulted}}`, ``, "ceiling_shape", text("vaulted")},
		{"shape not given", `{use: steam_room, ` + square + `}`, ``, "ceiling_shape", unknown()},
		{"shape in a wet room", `{use: wet_room, ` + square + `, ceiling: {shape: flat}}`, ``, "ceiling_shape", none()},
		{"slope", `{use: steam_room, ` + square + `, ceiling: {shape: sloped, slope_percent: 16.667}}`, ``, "ceiling_slope_percent", number(16.667)},
		{"slope of a shape not given", `{use: steam_room, ` + square + `, ceiling: {slope_percent: 3}}`, ``, "ceiling_slope_percent", number(3)},
		{"slope not given", `{use: steam_room, ` + square + `, ceiling: {shape: sloped}}`, ``, "ceiling_slope_percent", unknown()},
		{"slope of a vault", `{use: steam_room, ` + square + `, ceiling: {shape: vaulted}}`, ``, "ceiling_slope_percent", none()},
		{"ceiling not given", `{use: steam_room, ` + square + `}`, ``, "ceiling_slope_percent", unknown()},

		{"height", `{use: steam_room, height_mm: 2250, ` + square + `}`, ``, "height_mm", number(2250)},
		{"height of a wet room", `{use: wet_room, height_mm: 2250, ` + square + `}`, ``, "height_mm", none()},
		{"climate not given", `{use: steam_room, ` + square + `}`, ``, "air_temperature_c", unknown()},
		{"climate", `{use: steam_room, ` + square + `}`, `climate: {air_temperature_c: 45}`, "air_temperature_c", number(45)},

		{"area", `{use: steam_room, people: 3, ` + square + `}`, ``, "area_per_person_m2", number(1.44)},
		// L-shaped: 3 × 1.2 + 2 × 0.8 = 5.2 m².
		{"area of an L", `{use: steam_room, people: 4, walls: [{id: a, width_mm: 3000}, {id: b, width_mm: 1200}, {id: c, width_mm: 1000, turn_deg: -90}, {id: d, width_mm: 800}, {id: e, width_mm: 2000}, {id: f, width_mm: 2000}]}`, ``, "area_per_person_m2", number(1.3)},
		{"area without people", `{use: steam_room, ` + square + `}`, ``, "area_per_person_m2", unknown()},
		{"area of an open plan", `{use: steam_room, people: 3, walls: [{id: n, width_mm: 2400}, {id: e, width_mm: 1800}, {id: s, width_mm: 2400}, {id: w, width_mm: 1790}]}`, ``, "area_per_person_m2", unknown()},
		{"area of a wet room", `{use: wet_room, people: 3, ` + square + `}`, ``, "area_per_person_m2", none()},
		// A pier as deep as the room reaches from the south to the north wall, so the outline closes but touches itself.
		{"area of a plan that touches itself", `{use: steam_room, people: 1, walls: [{id: a, width_mm: 3000}, {id: b, width_mm: 2000}, {id: c, width_mm: 1000}, {id: d, width_mm: 2000, turn_deg: -90}, {id: e, width_mm: 1000, turn_deg: -90}, {id: f, width_mm: 2000}, {id: g, width_mm: 1000}, {id: h, width_mm: 2000}]}`, ``, "area_per_person_m2", unknown()},
		{"area beside a shallower pier", `{use: steam_room, people: 1, walls: [{id: a, width_mm: 3000}, {id: b, width_mm: 2000}, {id: c, width_mm: 1000}, {id: d, width_mm: 1500, turn_deg: -90}, {id: e, width_mm: 1000, turn_deg: -90}, {id: f, width_mm: 1500}, {id: g, width_mm: 1000}, {id: h, width_mm: 2000}]}`, ``, "area_per_person_m2", number(4.5)},
	} {
		t.Run(c.name, func(t *testing.T) {
			job := steamJob(t, c.room, c.rest+"\n")
			require.Equal(t, c.want, steamValue(t, job, "room", "room", c.measure))
		})
	}
}

func TestBenchTiers(t *testing.T) {
	const walls = `height_mm: 2250, walls: [{id: n, width_mm: 2400}, {id: e, width_mm: 1800, height_mm: 2300}, {id: s, width_mm: 2400}, {id: w, width_mm: 1800}]`
	bench := func(id, rest string) string { return "{id: " + id + ", " + rest + "}" }
	lower := bench("lower", "wall: n, x_mm: 0, length_mm: 2400, depth_mm: 900, height_mm: 430, fall_percent: 1")
	upper := bench("upper", "wall: n, x_mm: 0, length_mm: 2400, depth_mm: 450, height_mm: 870")
	for _, c := range []struct {
		name, benches, id     string
		rise, depth, headroom Value
	}{
		{"alone", lower, "lower", number(430), number(900), number(1820)},
		{"lower of two", lower + ", " + upper, "lower", number(430), number(450), number(1820)},
		{"upper of two", lower + ", " + upper, "upper", number(440), number(450), number(1380)},
		{"upper of three", lower + ", " + upper + ", " + bench("top", "wall: n, x_mm: 0, length_mm: 2400, depth_mm: 200, height_mm: 1300"), "top", number(430), number(200), number(950)},
		{"beside, not in front", upper + ", " + bench("side", "wall: n, x_mm: 2400, length_mm: 600, depth_mm: 900, height_mm: 430"), "upper", number(870), number(450), number(1380)},
		{"overlaps by a millimetre", upper + ", " + bench("side", "wall: n, x_mm: 2399, length_mm: 600, depth_mm: 900, height_mm: 430"), "upper", number(440), number(450), number(1380)},
		{"another wall", upper + ", " + bench("side", "wall: e, x_mm: 0, length_mm: 600, depth_mm: 900, height_mm: 430"), "upper", number(870), number(450), number(1380)},
		{"shallower and lower is no step", upper + ", " + bench("shelf", "wall: n, x_mm: 0, length_mm: 2400, depth_mm: 300, height_mm: 430"), "upper", number(870), number(450), number(1380)},
		{"place of the other not given", upper + ", " + bench("side", "wall: n, length_mm: 600, depth_mm: 900, height_mm: 430"), "upper", unknown(), unknown(), number(1380)},
		{"depth of the other not given", upper + ", " + bench("side", "wall: n, x_mm: 0, length_mm: 600, height_mm: 430"), "upper", unknown(), unknown(), number(1380)},
		{"height not given", bench("b", "wall: n, x_mm: 0, length_mm: 600, depth_mm: 450"), "b", unknown(), number(450), unknown()},
		{"depth not given", bench("b", "wall: e, x_mm: 0, length_mm: 600, height_mm: 430"), "b", number(430), unknown(), number(1870)},
		{"on no wall", bench("b", "wall: floor, length_mm: 600, depth_mm: 450, height_mm: 430"), "b", number(430), number(450), unknown()},
	} {
		t.Run(c.name, func(t *testing.T) {
			job := steamJob(t, "{use: steam_room, floor: {}, "+walls+", benches: ["+c.benches+"]}", "")
			require.Equal(t, c.rise, steamValue(t, job, "bench", c.id, "seat_rise_mm"))
			require.Equal(t, c.depth, steamValue(t, job, "bench", c.id, "seat_depth_mm"))
			require.Equal(t, c.headroom, steamValue(t, job, "bench", c.id, "headroom_mm"))
		})
	}
	wet := steamJob(t, "{use: wet_room, "+walls+", benches: ["+lower+"]}", "")
	for _, name := range []string{"seat_rise_mm", "seat_depth_mm", "headroom_mm"} {
		require.Equal(t, none(), steamValue(t, wet, "bench", "lower", name), name)
	}
	require.Equal(t, number(1), steamValue(t, wet, "bench", "lower", "seat_fall_percent"))
}
