package geometry

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func mm(v float64) *float64 { return &v }
func flag(b bool) *bool     { return &b }

// showerZones are zones in the manner of IEC 60364-7-701:2006, 701.30.2 to 701.30.4 (secondary). The rulebook
// holds the figures that jobs are judged by; these serve to test how solids are read.
func showerZones() *ZoneSet {
	return &ZoneSet{ID: "shower", For: "shower", Barriers: true, Zones: []Zone{
		{"0", []ZoneSolid{{Shape: RoundOutlet, ReachMM: 1200, Basin: flag(false), ToMM: mm(100)}, {Shape: RoundPlan, Basin: flag(true), ToMM: mm(0), AboveRim: true}}},
		{"1", []ZoneSolid{{Shape: RoundOutlet, ReachMM: 1200, Basin: flag(false), ToMM: mm(2250), OrOutlet: true}, {Shape: RoundPlan, Basin: flag(true), ToMM: mm(2250), OrOutlet: true}}},
		{"2", []ZoneSolid{{Shape: RoundPlan, ReachMM: 600, Basin: flag(true), ToMM: mm(2250), OrOutlet: true}}},
	}}
}

func spot(x, y, z float64) [][2]Point3 { p := Point3{x, y, z}; return [][2]Point3{{p, p}} }

func zoneIs(t *testing.T, want string, s *ZoneSet, r *Room, c ZoneCentre, path [][2]Point3, msg ...any) {
	t.Helper()
	got, ok := s.At(r, c, path)
	require.True(t, ok, msg...)
	require.Equal(t, want, got, msg...)
}

func TestZonesRoundABasin(t *testing.T) {
	tub := Polygon{{0, 0}, {1700, 0}, {1700, -750}, {0, -750}}
	c := ZoneCentre{Outlet: &Point3{300, 0, 2100}, Basin: flag(true), Plan: tub, RimMM: mm(560)}
	s := showerZones()
	for _, x := range []struct {
		want    string
		x, y, z float64
	}{
		{"0", 800, -400, 559}, {"0", 800, -400, 560}, {"1", 800, -400, 561}, {"1", 800, -400, 2250}, {"", 800, -400, 2250.001},
		{"1", 1700, -400, 1000}, // on the edge
		{"2", 1700.001, -400, 1000}, {"2", 2290, -400, 1000}, {"2", 2300, -400, 1000}, {"", 2310, -400, 1000}, {"", 2300.001, -400, 1000},
		{"2", 1700 + 360, -750 - 480, 1000}, {"", 1700 + 361, -750 - 481, 1000}, // 3-4-5 at the corner
	} {
		zoneIs(t, x.want, s, nil, c, spot(x.x, x.y, x.z), x)
	}
	// What is not known leaves open only what hangs on it.
	c.RimMM = nil
	_, ok := s.At(nil, c, spot(800, -400, 400))
	require.False(t, ok, "zone 0 or 1")
	zoneIs(t, "2", s, nil, c, spot(2290, -400, 400))
	c.Plan = nil
	_, ok = s.At(nil, c, spot(2290, -400, 400))
	require.False(t, ok)
	zoneIs(t, "", s, nil, c, spot(2290, -400, 2251))
	// Whether there is a basin is not known: zone 1 either way inside 1200 mm and over the tub.
	c = ZoneCentre{Outlet: &Point3{300, 0, 2100}, Plan: tub, RimMM: mm(560)}
	_, ok = s.At(nil, c, spot(800, -400, 1000))
	require.False(t, ok)
	zoneIs(t, "", s, nil, c, spot(5000, -400, 1000))
}

// Partitions are walked round and climbed over as long as they end below the zone.
func TestZonesBehindAPartition(t *testing.T) {
	s := showerZones()
	room := func(top, length float64) *Room {
		return roomOf(t, RoomSpec{Walls: square(4000, 3000), Ceiling: &RoomCeiling{HeightMM: 2600},
			Solids: []Solid{{Name: "screen", Sort: PartitionSolid, Wall: 0, X0MM: 1500, X1MM: 1510, Off1MM: length, TopMM: top}, {Name: "bench", Sort: BenchSolid, Wall: 0, X0MM: 1100, X1MM: 1490, Off1MM: 3000, TopMM: 2300}}})
	}
	c := ZoneCentre{Outlet: &Point3{1000, 0, 2100}, Basin: flag(false)}
	// Straight along the wall x = 2200 is the end of zone 1; benches do not limit zones.
	zoneIs(t, "1", s, nil, c, spot(2200, 0, 1000))
	zoneIs(t, "", s, nil, c, spot(2201, 0, 1000))
	// A partition up to the top of the zone, 400 long: round its end √(500² + 400²) + 10 + √(290² + 400²) = 640.312 + 10 +
	// 494.065 = 1144.377 to x = 1800; to x = 1900, √(390² + 400²) = 558.659, it is 1208.972.
	zoneIs(t, "1", s, room(2250, 400), c, spot(1800, 0, 1000))
	zoneIs(t, "", s, room(2250, 400), c, spot(1900, 0, 1000))
	// The string of exactly 1200: √(x² + 400²) = 1200 − 650.312 = 549.688, x = 377.029; one step further is outside.
	edge := 1510 + math.Sqrt(math.Pow(1200-10-math.Hypot(500, 400), 2)-400*400)
	zoneIs(t, "1", s, room(2250, 400), c, spot(edge, 0, 1000))
	zoneIs(t, "", s, room(2250, 400), c, spot(edge+1, 0, 1000))
	// Zone 0 behind it in the same way.
	zoneIs(t, "0", s, room(2250, 400), c, spot(1800, 0, 100))
	// 1 mm lower the string may go over it, level to the top edge: 500 + 10 and down to the place: at 1000 mm height
	// √(x² + 1249²) is more than round the end, just under the top it is nearer: 510 + √(600² + 49²) = 1111.998.
	zoneIs(t, "1", s, room(2249, 2500), c, spot(2110, 0, 2200))
	zoneIs(t, "", s, room(2250, 2500), c, spot(2110, 0, 2200))
	zoneIs(t, "", s, room(2249, 2500), c, spot(2110, 0, 1000))
	// Above a low one the zone is not limited.
	zoneIs(t, "1", s, room(1500, 2500), c, spot(2200, 0, 1501))
	// With the figures measured as the crow flies it does not count.
	s.Barriers = false
	zoneIs(t, "1", s, room(2250, 400), c, spot(1900, 0, 1000))
}

// In an L-shaped room the outside corner limits zones too.
func TestZonesRoundAnOutsideCorner(t *testing.T) {
	r := roomOf(t, lSpec())
	c := ZoneCentre{Outlet: &Point3{2600, -1200, 2100}, Basin: flag(false)} // on the step, 600 from the corner
	s := showerZones()
	// Down the side wall: 600 to the corner and 600 along it.
	zoneIs(t, "1", s, r, c, spot(2000, -1800, 1000))
	zoneIs(t, "", s, r, c, spot(2000, -1801, 1000))
	zoneIs(t, "1", s, nil, c, spot(2000, -1801, 1000), "as the crow flies it is 848 mm")
	// A strip that comes round the corner counts by its nearest point.
	zoneIs(t, "1", s, r, c, [][2]Point3{{{2000, -1950, 1000}, {2000, -1800, 1000}}})
	zoneIs(t, "", s, r, c, [][2]Point3{{{2000, -1950, 1000}, {2000, -1801, 1000}}})
	zoneIs(t, "0", s, r, c, [][2]Point3{{{2000, -1700, 1000}, {2000, -1700, 90}}})
}

// Barriers never let a zone grow, and a centre nearer by never lets it shrink.
func TestBarriersOnlyLimit(t *testing.T) {
	s := showerZones()
	rank := func(z string) int {
		if i := s.Rank(z); i >= 0 {
			return i
		}
		return len(s.Zones)
	}
	rapid.Check(t, func(t *rapid.T) {
		r := roomOf(t, genRoom().Draw(t, "room"))
		p, o := genPlace(r).Draw(t, "p"), genPlace(r).Draw(t, "outlet")
		c := ZoneCentre{Outlet: &o, Basin: flag(false)}
		path := spot(p.X, p.Y, p.Z)
		with, ok := s.At(r, c, path)
		if !ok {
			t.Skip("too many edges, as of partitions that stand in each other")
		}
		without, ok := s.At(nil, c, path)
		require.True(t, ok)
		require.GreaterOrEqual(t, rank(with), rank(without))
		if len(r.Solids) == 0 && r.convex {
			require.Equal(t, without, with)
		}
	})
}

func TestZonesThatCannotBeUsed(t *testing.T) {
	for _, s := range []ZoneSet{
		{},
		{Zones: []Zone{{"", []ZoneSolid{{Shape: WholeRoom}}}}},
		{Zones: []Zone{{"0", nil}}},
		{Zones: []Zone{{"0", []ZoneSolid{{}}}}},
		{Zones: []Zone{{"0", []ZoneSolid{{Shape: RoundOutlet}}}}},
		{Zones: []Zone{{"0", []ZoneSolid{{Shape: RoundPlan, ReachMM: nan}}}}},
		{Zones: []Zone{{"0", []ZoneSolid{{Shape: RoundPlan, ReachMM: -1}}}}},
		{Zones: []Zone{{"0", []ZoneSolid{{Shape: WholeRoom, ToMM: mm(inf)}}}}},
		{Zones: []Zone{{"0", []ZoneSolid{{Shape: WholeRoom, FromMM: mm(2), ToMM: mm(1)}}}}},
	} {
		require.ErrorIs(t, s.Check(), ErrZone)
		_, ok := s.At(nil, ZoneCentre{}, spot(0, 0, 0))
		require.False(t, ok)
	}
	s := showerZones()
	require.NoError(t, s.Check())
	o := Point3{0, 0, 2100}
	for _, bad := range []struct {
		c    ZoneCentre
		path [][2]Point3
	}{
		{ZoneCentre{Outlet: &o, Basin: flag(false)}, nil},
		{ZoneCentre{Outlet: &o, Basin: flag(false)}, spot(nan, 0, 0)},
		{ZoneCentre{Outlet: &Point3{0, 0, inf}, Basin: flag(false)}, spot(0, 0, 0)},
		{ZoneCentre{Outlet: &o, Basin: flag(true), Plan: Polygon{{0, 0}}}, spot(0, 0, 0)},
		{ZoneCentre{Outlet: &o, Basin: flag(true), RimMM: mm(nan)}, spot(0, 0, 0)},
		{ZoneCentre{}, spot(0, 0, 0)},
	} {
		_, ok := s.At(nil, bad.c, bad.path)
		require.False(t, ok)
	}
	top, ok := s.TopMM("1", 2400)
	require.True(t, ok)
	require.Equal(t, 2400.0, top)
	top, _ = s.TopMM("1", 2100)
	require.Equal(t, 2250.0, top)
	_, ok = s.TopMM("0", 2100)
	require.False(t, ok, "over a basin it depends on the rim")
	_, ok = s.TopMM("9", 2100)
	require.False(t, ok)
}

func TestClipZ(t *testing.T) {
	a, b := Point3{0, 0, 0}, Point3{400, 0, 400}
	for _, flip := range []bool{false, true} {
		p, q := a, b
		if flip {
			p, q = b, a
		}
		lo, hi, some := clipZ(p, q, 50, 100)
		require.True(t, some)
		require.Equal(t, Point3{50, 0, 50}, lo)
		require.Equal(t, Point3{100, 0, 100}, hi)
		_, _, some = clipZ(p, q, math.Inf(-1), -1)
		require.False(t, some)
		_, _, some = clipZ(p, q, 401, math.Inf(1))
		require.False(t, some)
		_, hi, some = clipZ(p, q, math.Inf(-1), 400)
		require.True(t, some)
		require.Equal(t, b, hi)
	}
}
