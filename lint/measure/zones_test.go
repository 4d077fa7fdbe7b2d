package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

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
		zone, ok := zoneAt(x.r, x.z, x.outlet, false)
		require.True(t, ok)
		require.Equal(t, x.want, zone, "r %v, z %v, outlet %v", x.r, x.z, x.outlet)
	}
}

func TestZoneAtWithBasin(t *testing.T) {
	for _, r := range []float64{0, 600, 5000} {
		_, ok := zoneAt(r, 2250, 2100, true)
		require.False(t, ok, "the plan of the basin is not known")
		zone, ok := zoneAt(r, 2251, 2100, true)
		require.True(t, ok)
		require.Equal(t, zoneOutside, zone)
		_, ok = zoneAt(r, 2399, 2400, true)
		require.False(t, ok)
	}
}

func TestZoneAtRefusesWhatIsNoNumber(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for i := range 3 {
			in := []float64{100, 100, 2100}
			in[i] = v
			_, ok := zoneAt(in[0], in[1], in[2], false)
			require.False(t, ok)
		}
	}
}

// Nothing gets out of a zone by coming nearer or lower, or by a higher outlet.
func TestZoneAtIsMonotonic(t *testing.T) {
	rank := map[string]int{zone0: 0, zone1: 1, zoneOutside: 2}
	rapid.Check(t, func(t *rapid.T) {
		r, z, h := rapid.Float64Range(0, 3000).Draw(t, "r"), rapid.Float64Range(0, 3000).Draw(t, "z"), rapid.Float64Range(0, 3000).Draw(t, "h")
		k := rapid.Float64Range(0, 1).Draw(t, "k")
		zone := func(r, z, h float64) int {
			s, ok := zoneAt(r, z, h, false)
			require.True(t, ok)
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
			v := newContext(zoneJob(use)).zoneOf(&x.item)
			require.Equal(t, want, v.Text, "%s, %s", x.name, use)
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
		v := newContext(j).zoneOf(&x.item)
		require.Equal(t, x.want, v.Text, x.name)
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
		v := newContext(second(x.change)).zoneOf(&x.item)
		require.Equal(t, x.want, v.Text, x.name)
	}
}

func TestZoneNeedsAClosedPlan(t *testing.T) {
	j := zoneJob("wet_room")
	j.Room.Walls[2].WidthMM = zoneMM(3900)
	it := zoneSpot("north", 600, 1000)
	require.Equal(t, Unknown, newContext(j).zoneOf(&it).State)
	j = zoneJob("steam_room")
	j.Room.Walls[2].WidthMM = zoneMM(3900)
	j.Items = nil
	require.Equal(t, "steam", newContext(j).zoneOf(&it).Text)
}

func TestZoneClip(t *testing.T) {
	a, b := geometry.Point3{X: 0, Z: 0}, geometry.Point3{X: 400, Z: 400}
	for _, flip := range []bool{false, true} {
		p, q := a, b
		if flip {
			p, q = b, a
		}
		lo, hi, some := zoneClip(p, q, 100)
		require.True(t, some)
		require.Equal(t, a, lo)
		require.Equal(t, geometry.Point3{X: 100, Z: 100}, hi)
		_, _, some = zoneClip(p, q, -1)
		require.False(t, some)
		_, hi, some = zoneClip(p, q, 400)
		require.True(t, some)
		require.Equal(t, b, hi)
	}
	_, _, some := zoneClip(b, b, 400)
	require.True(t, some)
	_, _, some = zoneClip(b, b, 399.999)
	require.False(t, some)
}
