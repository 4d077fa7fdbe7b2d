package measure

import (
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// zoneCore reads the zones of the rulebook core, as far as measuring needs them.
func zoneCore(t testing.TB) []geometry.ZoneSet {
	t.Helper()
	const file = "../../policies/core/zones.yaml"
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	root, err := jobfile.Read(file, data)
	require.NoError(t, err)
	var f struct {
		Zones []struct {
			ID       string `json:"id"`
			For      string `json:"for"`
			Barriers bool   `json:"barriers"`
			Zones    []struct {
				Zone   string `json:"zone"`
				Solids []struct {
					Round    string   `json:"round"`
					ReachMM  float64  `json:"reach_mm"`
					Basin    *bool    `json:"basin"`
					Above    string   `json:"above"`
					FromMM   *float64 `json:"from_mm"`
					ToMM     *float64 `json:"to_mm"`
					OrOutlet bool     `json:"or_outlet"`
				} `json:"solids"`
			} `json:"zones"`
		} `json:"zones"`
	}
	require.NoError(t, jobfile.Decode(root, &f))
	shapes := map[string]geometry.ZoneShape{"outlet": geometry.RoundOutlet, "plan": geometry.RoundPlan, "room": geometry.WholeRoom}
	var out []geometry.ZoneSet
	for _, s := range f.Zones {
		set := geometry.ZoneSet{ID: s.ID, For: s.For, Barriers: s.Barriers}
		for _, z := range s.Zones {
			zone := geometry.Zone{Name: z.Zone}
			for _, d := range z.Solids {
				zone.Solids = append(zone.Solids, geometry.ZoneSolid{Shape: shapes[d.Round], ReachMM: d.ReachMM, Basin: d.Basin, FromMM: d.FromMM, ToMM: d.ToMM, AboveRim: d.Above == "rim", OrOutlet: d.OrOutlet})
			}
			set.Zones = append(set.Zones, zone)
		}
		out = append(out, set)
	}
	require.NotEmpty(t, out)
	return out
}

// zoneContext is the context of a job with the zones of the rulebook core.
func zoneContext(t testing.TB, job *jobfile.Job) *Context {
	t.Helper()
	c := newContext(job)
	c.zones = NewPlan(nil, WithZones(zoneCore(t)...)).zones
	return c
}

// zoneAt returns the zone of a point rMM away on the plan from the outlet of a shower, with the zones of the rulebook core.
func zoneAt(t testing.TB, rMM, zMM, outletMM float64, basin bool) (zone string, ok bool) {
	t.Helper()
	for _, s := range zoneCore(t) {
		if s.For == zoneSetShower {
			p := geometry.Point3{X: rMM, Z: zMM}
			zone, ok = s.At(nil, geometry.ZoneCentre{Outlet: &geometry.Point3{Z: outletMM}, Basin: &basin}, [][2]geometry.Point3{{p, p}})
		}
	}
	if ok && zone == "" {
		zone = zoneOutside
	}
	return zone, ok
}

// Rows of the geometry of IEC 60364-7-701:2006 for a shower without a basin, outlet 2100 mm high unless said (secondary).
func TestZoneAt(t *testing.T) {
	for _, x := range []struct {
		r, z, outlet float64
		want         string
	}{
		{500, 90, 2100, "0"},
		{500, 110, 2100, "1"},
		{1190, 1000, 2100, "1"},
		{1210, 1000, 2100, "outside"}, // there is no zone 2 without a basin
		{500, 2260, 2100, "outside"},
		{500, 2390, 2400, "1"},
		// exactly at the limits, and one step of 0.001 mm beyond
		{1200, 100, 2100, "0"},
		{1200, 100.001, 2100, "1"},
		{1200.0004, 100.0004, 2100, "0"}, // as near as a measure is rounded
		{1200.001, 100, 2100, "outside"},
		{1200, 2250, 2100, "1"},
		{1200, 2250.001, 2100, "outside"},
		{0, 2250, 2250, "1"},
		{0, 2400, 2400, "1"},
		{0, 2400.001, 2400, "outside"},
		{0, 0, 100, "0"},
		{0, -20, 2100, "0"}, // in the floor
		{1300, 50, 2100, "outside"},
	} {
		zone, ok := zoneAt(t, x.r, x.z, x.outlet, false)
		require.True(t, ok)
		require.Equal(t, x.want, zone, "r %v, z %v, outlet %v", x.r, x.z, x.outlet)
	}
}

func TestZoneAtWithBasin(t *testing.T) {
	for _, r := range []float64{0, 600, 5000} {
		_, ok := zoneAt(t, r, 2250, 2100, true)
		require.False(t, ok, "the plan of the basin is not known")
		zone, ok := zoneAt(t, r, 2251, 2100, true)
		require.True(t, ok)
		require.Equal(t, zoneOutside, zone)
		_, ok = zoneAt(t, r, 2399, 2400, true)
		require.False(t, ok)
	}
}

func TestZoneAtRefusesWhatIsNoNumber(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for i := range 3 {
			in := []float64{100, 100, 2100}
			in[i] = v
			_, ok := zoneAt(t, in[0], in[1], in[2], false)
			require.False(t, ok)
		}
	}
}

// Nothing gets out of a zone by coming nearer or lower, or by a higher outlet.
func TestZoneAtIsMonotonic(t *testing.T) {
	rank := map[string]int{zone0: 0, zone1: 1, zoneOutside: 2}
	sets := zoneCore(t)
	require.Equal(t, zoneSetShower, sets[0].For)
	rapid.Check(t, func(t *rapid.T) {
		r, z, h := rapid.Float64Range(0, 3000).Draw(t, "r"), rapid.Float64Range(0, 3000).Draw(t, "z"), rapid.Float64Range(0, 3000).Draw(t, "h")
		k := rapid.Float64Range(0, 1).Draw(t, "k")
		zone := func(r, z, h float64) int {
			p, basin := geometry.Point3{X: r, Z: z}, false
			s, ok := sets[0].At(nil, geometry.ZoneCentre{Outlet: &geometry.Point3{Z: h}, Basin: &basin}, [][2]geometry.Point3{{p, p}})
			require.True(t, ok)
			if s == "" {
				s = zoneOutside
			}
			return rank[s]
		}
		at := zone(r, z, h)
		require.LessOrEqual(t, zone(r*k, z, h), at)
		require.LessOrEqual(t, zone(r, z*k, h), at)
		require.LessOrEqual(t, zone(r, z, h+1000*k), at)
	})
}

func zoneMM(v float64) *float64 { return &v }
func zoneFlag(b bool) *bool     { return &b }

// zoneJob is a room of 4000 × 3000 mm with a shower whose outlet is 2100 mm up the north wall, 500 mm from the west
// wall. North runs along x of the plan, and y of the plan is negative inside the room.
func zoneJob(use string) *jobfile.Job {
	return &jobfile.Job{
		Room: &jobfile.Room{
			Use:      use,
			HeightMM: zoneMM(2600),
			Walls: []jobfile.Wall{
				{ID: "north", WidthMM: zoneMM(4000)}, {ID: "east", WidthMM: zoneMM(3000)}, {ID: "south", WidthMM: zoneMM(4000)}, {ID: "west", WidthMM: zoneMM(3000)},
			},
			Floor:   &jobfile.Floor{},
			Ceiling: &jobfile.Ceiling{},
			Benches: []jobfile.Bench{{ID: "bench", Wall: "west", XMM: zoneMM(0), LengthMM: zoneMM(1500), DepthMM: zoneMM(450), HeightMM: zoneMM(430)}},
		},
		Items: []jobfile.Item{{ID: "shower", Kind: "shower", Face: "north", XMM: zoneMM(500), YMM: zoneMM(2100), Outlet: "fixed", Basin: zoneFlag(false)}},
	}
}

func zoneSpot(face string, x, y float64) jobfile.Item {
	return jobfile.Item{ID: "it", Kind: "spotlight", Face: face, XMM: zoneMM(x), YMM: zoneMM(y)}
}

func TestZoneOfAnItem(t *testing.T) {
	for _, x := range []struct {
		name       string
		item       jobfile.Item
		wet, steam string
	}{
		{"on the shower's wall, at the edge", zoneSpot("north", 1700, 1000), "1", "1"},
		{"on the shower's wall, 1 mm beyond the edge", zoneSpot("north", 1701, 1000), "outside", "steam"},
		{"on the shower's wall, at the top of zone 0", zoneSpot("north", 1700, 100), "0", "0"},
		{"on the shower's wall, 1 mm above zone 0", zoneSpot("north", 1700, 101), "1", "1"},
		{"on the shower's wall, at the top of zone 1", zoneSpot("north", 500, 2250), "1", "1"},
		{"on the shower's wall, 1 mm above zone 1", zoneSpot("north", 500, 2251), "outside", "steam"},
		{"round the corner, 3-4-5 triangle", zoneSpot("west", 3000-1090.871, 1000), "1", "1"}, // √(500² + 1090.871²) = 1200.000
		{"round the corner, 1 mm further", zoneSpot("west", 3000-1091.9, 1000), "outside", "steam"},
		{"on the floor under the outlet", zoneSpot("floor", 500, 0), "0", "0"},
		{"on the floor, at the edge", zoneSpot("floor", 500, 1200), "0", "0"},
		{"on the floor, 1 mm beyond", zoneSpot("floor", 500, 1201), "outside", "steam"},
		{"on the ceiling above zone 1", zoneSpot("ceiling", 500, 300), "outside", "steam"},
		{"on the far wall", zoneSpot("south", 2000, 1000), "outside", "steam"},
		{"a strip that dips into zone 0", jobfile.Item{Kind: "led_strip", Face: "north", Path: [][2]float64{{3000, 50}, {1700, 50}}}, "0", "0"},
		{"a strip that ends 1 mm before it", jobfile.Item{Kind: "led_strip", Face: "north", Path: [][2]float64{{3000, 50}, {1701, 50}}}, "outside", "steam"},
		{"a strip through the zones with both ends outside", jobfile.Item{Kind: "led_strip", Face: "floor", Path: [][2]float64{{500, 2900}, {500, 1201}, {2500, 100}, {2500, 2900}}}, "0", "0"},
		{"a slanting strip whose low end is far out", jobfile.Item{Kind: "led_strip", Face: "north", Path: [][2]float64{{600, 2600}, {3000, 2200}}}, "outside", "steam"},
		{"a slanting strip whose low end is near", jobfile.Item{Kind: "led_strip", Face: "north", Path: [][2]float64{{3000, 2600}, {600, 2200}}}, "1", "1"},
		{"a cable in a floor run", jobfile.Item{Kind: "heating_cable", Face: "floor", Runs: [][][2]float64{{{2000, 2000}, {3000, 2000}}, {{1500, 300}, {3000, 300}}}}, "0", "0"},
		{"a cable far away", jobfile.Item{Kind: "heating_cable", Face: "floor", Runs: [][][2]float64{{{2000, 2000}, {3000, 2000}}}}, "outside", "steam"},
		{"outside the room", jobfile.Item{Kind: "light_source", Place: "outside_room", Face: "north", XMM: zoneMM(500), YMM: zoneMM(50)}, "outside", "outside"},
		{"behind a panel", jobfile.Item{Kind: "accessory", Place: "behind_panel"}, "behind", "behind"},
		{"in the room", jobfile.Item{Kind: "accessory", Place: "in_room", Face: "north", XMM: zoneMM(600), YMM: zoneMM(1200)}, "1", "1"},
		{"place not given", jobfile.Item{Kind: "accessory", Face: "north", XMM: zoneMM(600), YMM: zoneMM(1200)}, "", ""},
		{"height not given", jobfile.Item{Kind: "spotlight", Face: "north", XMM: zoneMM(600)}, "", ""},
		{"face not given", jobfile.Item{Kind: "spotlight", XMM: zoneMM(600), YMM: zoneMM(100)}, "", ""},
		{"path not given", jobfile.Item{Kind: "led_strip", Face: "north"}, "", ""},
		{"runs not given", jobfile.Item{Kind: "heating_cable", Face: "floor"}, "", ""},
	} {
		for use, want := range map[string]string{"wet_room": x.wet, "steam_room": x.steam, "": ""} {
			if use == "" && (x.item.Place == "outside_room" || x.item.Place == "behind_panel") {
				continue
			}
			v := zoneContext(t, zoneJob(use)).zoneOf(&x.item)
			require.Equal(t, want, v.Text(), "%s, %s", x.name, use)
			require.Equal(t, want != "", v.State == Known, "%s, %s", x.name, use)
			if want == "steam" || want == "behind" {
				require.NotEmpty(t, v.Note(), "an assumption is named")
			}
		}
	}
}

func TestZoneBySortOfShower(t *testing.T) {
	near, far, high := zoneSpot("north", 600, 1000), zoneSpot("south", 1000, 1000), zoneSpot("ceiling", 600, 100)
	nowhere := jobfile.Item{ID: "it", Kind: "spotlight"}
	base := func(*jobfile.Item) {}
	for _, x := range []struct {
		name   string
		use    string
		change func(shower *jobfile.Item)
		item   jobfile.Item
		want   string // empty for unknown
	}{
		{"hand-held in a steam room makes no zone", "steam_room", func(s *jobfile.Item) { s.Outlet = "hand_held" }, near, "steam"},
		{"nor asks where anything is", "steam_room", func(s *jobfile.Item) { s.Outlet, s.XMM = "hand_held", nil }, nowhere, "steam"},
		{"hand-held in a wet room counts from its outlet", "wet_room", func(s *jobfile.Item) { s.Outlet = "hand_held" }, near, "1"},
		{"sort not given in a wet room", "wet_room", func(s *jobfile.Item) { s.Outlet = "" }, near, "1"},
		{"sort not given in a steam room, near", "steam_room", func(s *jobfile.Item) { s.Outlet = "" }, near, ""},
		{"sort not given in a steam room, far", "steam_room", func(s *jobfile.Item) { s.Outlet = "" }, far, "steam"},
		{"basin", "wet_room", func(s *jobfile.Item) { s.Basin = zoneFlag(true) }, far, ""},
		{"basin not given", "wet_room", func(s *jobfile.Item) { s.Basin = nil }, far, ""},
		{"basin, above all zones", "wet_room", func(s *jobfile.Item) { s.Basin = zoneFlag(true) }, high, "outside"},
		{"basin in a steam room", "steam_room", func(s *jobfile.Item) { s.Basin = zoneFlag(true) }, near, ""},
		{"basin in a steam room, above all zones", "steam_room", func(s *jobfile.Item) { s.Basin = zoneFlag(true) }, high, "steam"},
		{"outlet not placed", "wet_room", func(s *jobfile.Item) { s.YMM = nil }, near, ""},
		{"outlet on the ceiling carries zone 1 up", "wet_room", func(s *jobfile.Item) { s.Face, s.YMM = "ceiling", zoneMM(100) }, high, "1"},
		{"outlet at 2400 carries zone 1 up", "wet_room", func(s *jobfile.Item) { s.YMM = zoneMM(2400) }, zoneSpot("north", 500, 2390), "1"},
		{"no shower", "wet_room", func(s *jobfile.Item) { s.Kind = "drain" }, near, ""},
		{"no shower in a steam room", "steam_room", func(s *jobfile.Item) { s.Kind = "drain" }, nowhere, "steam"},
		{"as given", "wet_room", base, far, "outside"},
	} {
		j := zoneJob(x.use)
		x.change(&j.Items[0])
		v := zoneContext(t, j).zoneOf(&x.item)
		require.Equal(t, x.want, v.Text(), x.name)
		require.Equal(t, x.want != "", v.State == Known, x.name)
	}
}

func TestZoneOfSeveralShowers(t *testing.T) {
	second := func(change func(*jobfile.Item)) *jobfile.Job {
		j := zoneJob("wet_room")
		sh := jobfile.Item{ID: "second", Kind: "shower", Face: "south", XMM: zoneMM(500), YMM: zoneMM(2100), Outlet: "fixed", Basin: zoneFlag(false)}
		change(&sh)
		j.Items = append(j.Items, sh)
		return j
	}
	as := func(*jobfile.Item) {}
	lost := func(s *jobfile.Item) { s.XMM = nil }
	for _, x := range []struct {
		name   string
		change func(*jobfile.Item)
		item   jobfile.Item
		want   string
	}{
		{"near the second", as, zoneSpot("south", 500, 1000), "1"},
		{"near neither", as, zoneSpot("east", 1500, 1000), "outside"},
		{"zone 0 of the first outweighs all", lost, zoneSpot("north", 500, 50), "0"},
		{"zone 1 of the first may be zone 0 of the second", lost, zoneSpot("north", 500, 1000), ""},
	} {
		v := zoneContext(t, second(x.change)).zoneOf(&x.item)
		require.Equal(t, x.want, v.Text(), x.name)
	}
}

func TestZoneNeedsAClosedPlan(t *testing.T) {
	j := zoneJob("wet_room")
	j.Room.Walls[2].WidthMM = zoneMM(3900)
	it := zoneSpot("north", 600, 1000)
	require.Equal(t, Unknown, zoneContext(t, j).zoneOf(&it).State)
	j = zoneJob("steam_room")
	j.Room.Walls[2].WidthMM = zoneMM(3900)
	j.Items = nil
	require.Equal(t, "steam", zoneContext(t, j).zoneOf(&it).Text())
}

// With the plan of the basin the zones are measured from it. The tub is 1700 × 750 mm against the north wall, from x = 200, its
// rim 560 mm high.
func TestZoneBesideABasin(t *testing.T) {
	tub := func(change func(*jobfile.Item)) *jobfile.Job {
		j := zoneJob("wet_room")
		s := &j.Items[0]
		s.Basin, s.BasinXMM, s.BasinOffMM, s.BasinWidthMM, s.BasinLengthMM, s.BasinRimMM = zoneFlag(true), zoneMM(200), zoneMM(0), zoneMM(1700), zoneMM(750), zoneMM(560)
		change(s)
		return j
	}
	as := func(*jobfile.Item) {}
	for _, x := range []struct {
		name   string
		change func(*jobfile.Item)
		item   jobfile.Item
		want   string
	}{
		{"on the wall inside the tub", as, zoneSpot("north", 1000, 500), "0"},
		{"on the wall over the tub", as, zoneSpot("north", 1000, 1000), "1"},
		{"590 mm beside it", as, zoneSpot("north", 2490, 1000), "2"},
		{"600 mm beside it", as, zoneSpot("north", 2500, 1000), "2"},
		{"610 mm beside it", as, zoneSpot("north", 2510, 1000), "outside"},
		{"above it all", as, zoneSpot("north", 1000, 2251), "outside"},
		{"on the floor in front", as, zoneSpot("floor", 1000, 1350), "2"},
		{"on the floor further off", as, zoneSpot("floor", 1000, 1351), "outside"},
		{"on the west wall beside it", as, zoneSpot("west", 3000-1000, 1000), "2"}, // √(200² + 250²) = 320 from its corner
		{"rim not given, over the tub", func(s *jobfile.Item) { s.BasinRimMM = nil }, zoneSpot("north", 1000, 1000), ""},
		{"rim not given, beside it", func(s *jobfile.Item) { s.BasinRimMM = nil }, zoneSpot("north", 2490, 1000), "2"},
		{"width not given", func(s *jobfile.Item) { s.BasinWidthMM = nil }, zoneSpot("north", 2490, 1000), ""},
		{"gap to the wall not given", func(s *jobfile.Item) { s.BasinOffMM = nil }, zoneSpot("north", 2490, 1000), ""},
		{"shower on the ceiling: along the first wall", func(s *jobfile.Item) { s.Face, s.YMM = "ceiling", zoneMM(400) }, zoneSpot("north", 2490, 1000), "2"},
	} {
		v := zoneContext(t, tub(x.change)).zoneOf(&x.item)
		require.Equal(t, x.want, v.Text(), x.name)
		require.Equal(t, x.want != "", v.State == Known, x.name)
	}
}

// A screen beside the shower limits the zones: a string is laid round its edge. Outlet at x = 500; screen at x = 900, 10 mm
// thick and 700 mm long: √(400² + 700²) + 10 + √(200² + 700²) = 806.226 + 10 + 728.011 is far more than 1200.
func TestZoneBehindAScreen(t *testing.T) {
	screen := func(change func(*jobfile.Partition)) *jobfile.Job {
		j := zoneJob("wet_room")
		p := jobfile.Partition{ID: "screen", Wall: "north", XMM: zoneMM(900), LengthMM: zoneMM(700), ThicknessMM: zoneMM(10), HeightMM: zoneMM(2300)}
		change(&p)
		j.Room.Partitions = []jobfile.Partition{p}
		return j
	}
	as := func(*jobfile.Partition) {}
	low := func(p *jobfile.Partition) { p.HeightMM = zoneMM(1500) }
	for _, x := range []struct {
		name   string
		change func(*jobfile.Partition)
		item   jobfile.Item
		want   string
	}{
		{"before it", as, zoneSpot("north", 890, 1000), "1"},
		{"behind it", as, zoneSpot("north", 1110, 1000), "outside"},
		{"behind it at the floor", as, zoneSpot("north", 1110, 50), "outside"},
		{"out in the room in sight of the outlet", as, zoneSpot("floor", 800, 1100), "0"},
		{"behind a low one: level over it and down, 410 + √(200² + 500²) = 948.5", low, zoneSpot("north", 1110, 1000), "1"},
		{"behind a low one, near the floor: 410 + √(200² + 900²) = 1332", low, zoneSpot("north", 1110, 600), "outside"},
		{"above a low one", low, zoneSpot("north", 1700, 1600), "1"},
		{"its length is not given: it is left out", func(p *jobfile.Partition) { p.LengthMM = nil }, zoneSpot("north", 1110, 1000), "1"},
		{"its height is not given: it is left out", func(p *jobfile.Partition) { p.HeightMM = nil }, zoneSpot("north", 1110, 1000), "1"},
		{"its thickness is not given: it is as good as thin", func(p *jobfile.Partition) { p.ThicknessMM = nil }, zoneSpot("north", 1110, 1000), "outside"},
		{"a strip that begins behind it and ends before it", as, jobfile.Item{Kind: "led_strip", Face: "floor", Path: [][2]float64{{1500, 100}, {1500, 1150}, {600, 1150}}}, "0"},
	} {
		v := zoneContext(t, screen(x.change)).zoneOf(&x.item)
		require.Equal(t, x.want, v.Text(), x.name)
	}
}

func TestWithoutZonesNothingIsTold(t *testing.T) {
	j := zoneJob("wet_room")
	it := zoneSpot("north", 600, 1000)
	v := newContext(j).zoneOf(&it)
	require.Equal(t, Unknown, v.State)
	require.Equal(t, zoneNoSetNote, v.Note())
	it.Kind, it.Place = "accessory", "outside_room"
	require.Equal(t, zoneOutside, newContext(j).zoneOf(&it).Text())
}
