package rulebook

import (
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"wetrule/lint/calc/geometry"
	"wetrule/policies"
)

func coreZones(t *testing.T) map[string]*ZoneSet {
	t.Helper()
	fsys, ok := policies.Book("core")
	require.True(t, ok)
	b, err := Open(fsys, "policies/core")
	require.NoError(t, err)
	out := map[string]*ZoneSet{}
	for _, s := range LayZones([]*Rulebook{b}) {
		out[s.For] = s
	}
	return out
}

const footMM = 304.8

func p3(x, y, z float64) geometry.Point3 { return geometry.Point3{X: x, Y: y, Z: z} }

func ptr[T any](v T) *T { return &v }

// The published rows of zones, one by one; lengths in mm. r is the distance on the plan from the outlet, from the edge of the
// basin, the heater or the tub, z the height above finished floor or above the rim.
func TestZonesOfTheCore(t *testing.T) {
	sets := coreZones(t)
	// A bath, tub or heater of 1700 × 750 mm with its right edge at X = 0.
	plan := geometry.Polygon{{X: -1700, Y: 0}, {X: 0, Y: 0}, {X: 0, Y: -750}, {X: -1700, Y: -750}}
	shower := func(outlet float64) geometry.ZoneCentre {
		o := p3(0, 0, outlet)
		return geometry.ZoneCentre{Outlet: &o, Basin: ptr(false)}
	}
	bath := func(outlet float64) geometry.ZoneCentre {
		o := p3(-1600, -300, outlet)
		return geometry.ZoneCentre{Outlet: &o, Basin: ptr(true), Plan: plan, RimMM: ptr(560.0)}
	}
	heater := geometry.ZoneCentre{Plan: plan}
	tub := geometry.ZoneCentre{Plan: plan, RimMM: ptr(500.0)}
	for _, x := range []struct {
		row, set string
		centre   geometry.ZoneCentre
		r, z     float64
		want     string
	}{
		// IEC 60364-7-701:2006, shower without basin, outlet 2100 high (secondary)
		{"r 0.50, z 0.09", "shower", shower(2100), 500, 90, "0"},
		{"r 0.50, z 0.11", "shower", shower(2100), 500, 110, "1"},
		{"r 1.19, z 1.00", "shower", shower(2100), 1190, 1000, "1"},
		{"r 1.21, z 1.00: there is no zone 2", "shower", shower(2100), 1210, 1000, ""},
		{"r 0.50, z 2.26", "shower", shower(2100), 500, 2260, ""},
		{"r 0.50, z 2.39 with the outlet at 2.40", "shower", shower(2400), 500, 2390, "1"},
		{"zone 0 is 0.10 m high, not 0.05", "shower", shower(2100), 500, 100, "0"},
		{"zone 0 has the plan of zone 1", "shower", shower(2100), 1200, 50, "0"},
		{"zone 3 is abolished", "shower", shower(2100), 2400, 1000, ""},
		{"under the floor", "shower", shower(2100), 500, -50, "0"},
		// with a bath
		{"in the bath", "shower", bath(2100), -800, 500, "0"},
		{"over the bath", "shower", bath(2100), -800, 561, "1"},
		{"over the bath, 2.25", "shower", bath(2100), -800, 2250, "1"},
		{"over the bath, above 2.25", "shower", bath(2100), -800, 2251, ""},
		{"over the bath, outlet at 2.40", "shower", bath(2400), -800, 2390, "1"},
		{"bath edge + 0.59, z 1.0", "shower", bath(2100), 590, 1000, "2"},
		{"bath edge + 0.60, z 1.0", "shower", bath(2100), 600, 1000, "2"},
		{"bath edge + 0.61, z 1.0", "shower", bath(2100), 610, 1000, ""},
		{"zone 2 is as high as zone 1", "shower", bath(2400), 590, 2390, "2"},
		// steam room (common practice)
		{"anywhere", "steam_room", geometry.ZoneCentre{}, 5000, 5000, "steam"},
		// IEC 60364-7-703:2004 (read)
		{"0.49 m from the heater, z 1.5", "sauna_heater", heater, 490, 1500, "1"},
		{"up to the ceiling", "sauna_heater", heater, 490, 2600, "1"},
		{"0.51 m, z 0.99", "sauna_heater", heater, 510, 990, "2"},
		{"0.51 m, z 1.00", "sauna_heater", heater, 510, 1000, "2"},
		{"0.51 m, z 1.01", "sauna_heater", heater, 510, 1010, "3"},
		{"0.5 m, not 0.3 under the ceiling: figures of edition 1", "sauna_heater", heater, 500, 200, "1"},
		// NFPA 70 410.10(D), pendant: feet out from the tub and feet above its rim
		{"2.9 ft out, 7.9 ft up", "luminaire_space_us", tub, 2.9 * footMM, 500 + 7.9*footMM, "kept_free"},
		{"3.1 ft out", "luminaire_space_us", tub, 3.1 * footMM, 500 + 7.9*footMM, ""},
		{"8.1 ft up", "luminaire_space_us", tub, 2.9 * footMM, 500 + 8.1*footMM, ""},
		{"3 ft out, 8 ft up", "luminaire_space_us", tub, 3 * footMM, 500 + 8*footMM, "kept_free"},
		{"straight above the tub", "luminaire_space_us", tub, -800, 500 + 7.9*footMM, "kept_free"},
		{"straight above the tub, higher", "luminaire_space_us", tub, -800, 500 + 8.1*footMM, ""},
		// BS 7671 701.512.3: a socket 2.60 m from zone 1
		{"2.60 m from zone 1, from 2022", "socket_distance_uk_2022", shower(2100), 1200 + 2600, 300, ""},
		{"2.60 m from zone 1, before", "socket_distance_uk_2008", shower(2100), 1200 + 2600, 300, "kept_free"},
		{"2.50 m from zone 1, from 2022", "socket_distance_uk_2022", shower(2100), 1200 + 2500, 300, "kept_free"},
		{"2.60 m from a bath, from 2022", "socket_distance_uk_2022", bath(2100), 2600, 300, ""},
		{"2.60 m from a bath, before", "socket_distance_uk_2008", bath(2100), 2600, 300, "kept_free"},
		{"3.01 m from a bath, before", "socket_distance_uk_2008", bath(2100), 3010, 300, ""},
	} {
		s := sets[x.set]
		require.NotNil(t, s, x.set)
		p := p3(x.r, -300, x.z)
		if len(x.centre.Plan) == 0 {
			p.Y = 0
		}
		got, ok := s.Geometry.At(nil, x.centre, [][2]geometry.Point3{{p, p}})
		require.True(t, ok, x.row)
		require.Equal(t, x.want, got, "%s, %s", x.set, x.row)
	}
	for _, s := range sets {
		require.NotNil(t, s.Source.Source)
		require.NotEmpty(t, s.Source.Basis)
		require.NoError(t, s.Geometry.Check())
	}
	require.Equal(t, "IEC 60364-7-701 Locations containing a bath or shower, 2006, 701.30.2 to 701.30.4 and 701.32.1 (as reported by others); Older texts print 50 mm for the height of zone 0, or give zone 2 to a shower without a basin; both are superseded.",
		sets["shower"].Source.String())
}

func bookOf(zones string) fs.FS {
	m := fstest.MapFS{
		"rulebook.yaml": {Data: []byte("rulebook: own\ntitle: Own\nedition: \"1\"\n")},
		"sources.yaml":  {Data: []byte("sources: [{id: as-nzs-3000, kind: standard, title: \"AS/NZS 3000\", edition: \"2018\"}]\n")},
	}
	if zones != "" {
		m["zones.yaml"] = &fstest.MapFile{Data: []byte(zones)}
	}
	return m
}

// Another rulebook puts its own zones in place of those of the core: AS/NZS 3000:2018, section 6, has zone 1 up to 2.5 m (secondary).
func TestZonesAreLaidOver(t *testing.T) {
	own, err := Open(bookOf(`zones:
  - id: shower-au
    for: shower
    title: Zones of a shower
    barriers: true
    source: {id: as-nzs-3000, clause: section 6, basis: secondary}
    zones: [{zone: "1", solids: [{round: outlet, reach_mm: 1200, to_mm: 2500}]}]
`), "own")
	require.NoError(t, err)
	fsys, _ := policies.Book("core")
	core, err := Open(fsys, "policies/core")
	require.NoError(t, err)
	sets := ZoneGeometry(LayZones([]*Rulebook{core, own}))
	require.Len(t, sets, len(core.Zones))
	o, p := p3(0, 0, 2100), p3(500, 0, 2400)
	for i, want := range map[int]string{0: "1"} {
		require.Equal(t, "shower-au", sets[i].ID)
		got, ok := sets[i].At(nil, geometry.ZoneCentre{Outlet: &o, Basin: ptr(false)}, [][2]geometry.Point3{{p, p}})
		require.True(t, ok)
		require.Equal(t, want, got)
	}
	none, err := Open(bookOf(""), "none")
	require.NoError(t, err)
	require.Empty(t, none.Zones)
}

func TestFaultyZonesAreNamed(t *testing.T) {
	const head = "zones:\n  - {id: a, for: shower, title: A, barriers: true, source: {id: as-nzs-3000, basis: read}, zones: "
	for text, want := range map[string]string{
		head + `[{zone: "1", solids: [{round: outlet}]}]}`:                                                                                         "own/zones.yaml:2:121: give reach_mm",
		head + `[{zone: "1", solids: [{round: room, reach_mm: 1}]}]}`:                                                                              "has no reach",
		head + `[{zone: "1", solids: [{round: outlet, reach_mm: 0}]}]}`:                                                                            "a reach of 0 mm",
		head + `[{zone: "1", solids: [{round: plan, reach_mm: 1, above: rim}]}]}`:                                                                  "needs from_mm or to_mm",
		head + `[{zone: "1", solids: [{round: plan, reach_mm: 1, or_outlet: true}]}]}`:                                                             "or_outlet raises to_mm",
		head + `[{zone: "1", solids: [{round: room, from_mm: 2, to_mm: 1}]}]}`:                                                                     "ends below its beginning",
		head + `[{zone: "1", solids: [{round: room}]}, {zone: "1", solids: [{round: room}]}]}`:                                                     `zone "1" is given twice`,
		head + `[{zone: "1", solids: [{round: heater}]}]}`:                                                                                         "round",
		head + `[{zone: "1", solids: []}]}`:                                                                                                        "solids",
		strings.Replace(head, "as-nzs-3000", "as-nzs", 1) + `[{zone: "1", solids: [{round: room}]}]}`:                                              `unknown source "as-nzs"`,
		head + `[{zone: "1", solids: [{round: room}]}]}` + "\n" + strings.TrimPrefix(head, "zones:\n") + `[{zone: "1", solids: [{round: room}]}]}`: `there is another zone set for "shower"`,
	} {
		_, err := Open(bookOf(text+"\n"), "own")
		require.ErrorContains(t, err, want, text)
	}
}
