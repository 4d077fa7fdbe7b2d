package jobtest

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"io/fs"
	"slices"
	"strings"

	"wetrule/policies"
)

// Reference writes a job of n items: the base job of the examples in a larger room, and more items of the usual
// kinds, a few of them at fault.
func Reference(n int) []byte {
	fsys, _ := policies.Book("core")
	base, err := fs.ReadFile(fsys, "examples/base.yaml")
	if err != nil {
		panic(err) // embedded, so always there
	}
	head, tail, _ := strings.Cut(strings.NewReplacer("width_mm: 2400", "width_mm: 24000", "width_mm: 1800", "width_mm: 18000", "people: 3", "people: 30").Replace(string(base)), "\ntasks:")
	have := strings.Count(head, "kind: ")
	var b strings.Builder
	b.WriteString(head + "\n")
	kinds := []string{
		"{id: %[1]s, kind: steam_outlet, instructions_on_site: true, face: west, x_mm: %[2]d, y_mm: %[3]d, opening_diameter_mm: 64, guarded: true, collar: true, collar_flange_mm: 50, generator: generator, tube: {material: copper, od_mm: 22, wall_mm: 1, run_m: 3, fall_percent: 1.5, low_points: 0, valves_or_traps: 0, touchable: true, bends: 2, bends_made: bent, bend_radius_mm: 88, support_spacing_m: 1.5, expansion_room_mm: 6, insulation: {material: epdm, thickness_mm: 20, rated_temperature_c: 150, fitted_before_insertion: true}}}",
		"{id: %[1]s, kind: spotlight, instructions_on_site: true, face: south, x_mm: %[2]d, y_mm: 1500, opening_diameter_mm: 68, collar: true, collar_flange_mm: 50, depth_mm: 35, cable_ip_mark: IP65/IP67, circuit: lights, ip_mark: IPX5/IPX7, rated_ambient_c: 60}",
		"{id: %[1]s, kind: ventilation_outlet, instructions_on_site: true, face: south, x_mm: %[2]d, y_mm: 1950, flow: exhaust, air_flow_m3_h: 60, diameter_mm: 100, spigot_od_mm: 99, opening_diameter_mm: 102, collar: true, collar_flange_mm: 50, maker_sensor_distance_min_mm: 500, fan: false}",
		"{id: %[1]s, kind: fixing, instructions_on_site: true, face: east, inserts: [{x_mm: %[2]d, y_mm: 1200, diameter_mm: 19, depth_mm: 35}, {x_mm: %[2]d, y_mm: 1000, diameter_mm: 19, depth_mm: 35}], adhesive: polyurethane, profile_length_mm: 300, bracket_length_mm: 280, bracket_width_mm: 60, load_kg: 5, reach_mm: 80, screw_hole_sealed: true}",
		"{id: %[1]s, kind: led_strip, instructions_on_site: true, face: north, path: [[%[2]d, 1800], [%[4]d, 1800]], mounting: on_tile, cut: true, cut_marks: true, cut_end_sealed: true, cable_ip_mark: IP65/IP67, circuit: lights, ip_mark: IP65/IP67, rated_ambient_c: 60}",
		"{id: %[1]s, kind: fibre_lights, instructions_on_site: true, face: ceiling, points: [[%[2]d, 500], [%[2]d, 900]], opening_diameter_mm: 5, fibre_diameter_mm: 3, bend_radius_mm: 100, illuminator: illuminator}",
	}
	for i := range n - have {
		height := 250
		if i%14 == 0 {
			height = 310
		}
		x := 3000 + i*450%14000
		fmt.Fprintf(&b, "  - "+kinds[i%len(kinds)]+"\n", fmt.Sprintf("item_%d", i), x, height, x+400)
	}
	b.WriteString("\ntasks:" + strings.NewReplacer(", items: [steam_1]", "", ", items: [stars]", "").Replace(tail)) // of all items
	return []byte(b.String())
}

// Some draws n of the rules of the benchmarks by their ids, so that all subjects and ways of comparing have their share, and a new rule changes little: those with
// the least hashes.
func Some(ids []string, n int) []string {
	hash := func(id string) uint64 {
		h := fnv.New64a()
		_, _ = h.Write([]byte(id))
		return h.Sum64()
	}
	drawn := slices.Clone(ids)
	slices.SortFunc(drawn, func(a, b string) int { return cmp.Compare(hash(a), hash(b)) })
	return drawn[:min(n, len(drawn))]
}
