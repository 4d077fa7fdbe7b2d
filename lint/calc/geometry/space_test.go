package geometry

import (
	"errors"
	"fmt"
	"math"
	"math/rand"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func roomOf(t require.TestingT, s RoomSpec) *Room {
	r, err := NewRoom(s)
	require.NoError(t, err)
	return r
}

// lSpec is an L-shaped room with a shed ceiling, a bench along two walls and a floor that falls to a drain.
//
//	         north 3000
//	(0,0) ┌──────────────────────────┐ (3000,0)
//	      │ bench 1: x 0…3000        │
//	      │  450 deep, 430 high      │ east 1200
//	      │                          │
//	      │ b2        step 1000      │
//	      │      ┌───────────────────┘ (3000,−1200)
//	west  │      │ (2000,−1200)
//	2000  │      │ side 800
//	      └──────┘ (2000,−2000)
//	   (0,−2000) south 2000
//
// Bench 2 stands against the west wall, which runs up the page from (0,−2000): x
// from 400 to 1550, so from Y = −1600 to Y = −450, 450 deep. Both seats are 430 high.
func lSpec() RoomSpec {
	return RoomSpec{
		Walls: []RoomWall{
			{Name: "north", Wall: Wall{3000, 90}, HeightMM: 2200}, {Name: "east", Wall: Wall{1200, 90}, HeightMM: 2320}, {Name: "step", Wall: Wall{1000, -90}, HeightMM: 2320},
			{Name: "side", Wall: Wall{800, 90}, HeightMM: 2400}, {Name: "south", Wall: Wall{2000, 90}, HeightMM: 2400}, {Name: "west", Wall: Wall{2000, 90}, HeightMM: 2400},
		},
		Ceiling: &RoomCeiling{HeightMM: 2200, Form: ShedCeiling, SlopePercent: 10, LowWall: 0},
		Floor:   RoomFloor{FallPercent: 2, Drain: &Point{1000, -1000}, BuildUpMM: 18},
		Solids: []Solid{
			{Name: "bench_1", Sort: BenchSolid, Wall: 0, X0MM: 0, X1MM: 3000, Off1MM: 450, TopMM: 430},
			{Name: "bench_2", Sort: BenchSolid, Wall: 5, X0MM: 400, X1MM: 1550, Off1MM: 450, TopMM: 430},
		},
	}
}

// The L-shaped room, worked by hand.
func TestLRoomInThreeDimensions(t *testing.T) {
	r := roomOf(t, lSpec())
	at := func(f FaceRef, x, y float64) Point3 {
		p, err := r.Place(f, x, y)
		require.NoError(t, err)
		lx, ly, off, err := r.Local(f, p)
		require.NoError(t, err)
		require.InDelta(t, x, lx, 1e-9)
		require.InDelta(t, y, ly, 1e-9)
		require.InDelta(t, 0, off, 1e-9)
		return p
	}
	// Ceiling: 2200 at the north wall, 10 % up towards the south. At Y = −1200 it is 2200 + 120 = 2320 high, at
	// Y = −2000 it is 2400, which is its highest line.
	require.Equal(t, Point3{1500, -1200, 2320}, at(FaceRef{CeilingSide, 0}, 1500, 1200))
	top, ok := r.CeilingTopZ()
	require.True(t, ok)
	require.Equal(t, 2400.0, top)
	// Walls. East runs down the page from (3000, 0); west up the page from (0, −2000).
	require.Equal(t, Point3{3000, -200, 1500}, at(FaceRef{WallSide, 1}, 200, 1500))
	require.Equal(t, Point3{0, -1700, 250}, at(FaceRef{WallSide, 5}, 300, 250))
	// Seats: y runs from the front edge to the wall. Bench 2 from its left end, which is at Y = −1600.
	require.Equal(t, Point3{1000, -350, 430}, at(FaceRef{SeatSide, 0}, 1000, 100))
	require.Equal(t, Point3{350, -1400, 430}, at(FaceRef{SeatSide, 1}, 200, 100))
	require.Equal(t, Point3{450, -1400, 380}, at(FaceRef{RiserSide, 1}, 200, 380))

	// The drain at (1000, −1000) sees every wall, the step too, whose line Y = −1200 lies below it. Distances
	// to the lines of the walls: north 1000, east 2000, step 200, side 1000, south 1000, west 1000. The least
	// steep plane is the one from the east wall: 2 % of 2000 are 40 mm of depth.
	require.InDelta(t, -40, r.FloorZ(Point{1000, -1000}), 1e-9)
	// Halfway to the north wall: −20. At the walls: 0. A tenth of the way to the east wall: −36.
	require.InDelta(t, -20, r.FloorZ(Point{1000, -500}), 1e-9)
	require.InDelta(t, 0, r.FloorZ(Point{1000, 0}), 1e-9)
	require.InDelta(t, -36, r.FloorZ(Point{1200, -1000}), 1e-9)
	// An outlet in the ceiling over the drain: ceiling 2200 + 100 = 2300, floor −40, so 2340 above the finished floor,
	// and 18 mm more above the bare board.
	p := at(FaceRef{CeilingSide, 0}, 1000, 1000)
	require.InDelta(t, 2300, p.Z, 1e-9)
	require.InDelta(t, 2340, r.HeightAboveFloor(p), 1e-9)
	require.InDelta(t, 2358, r.HeightAboveBoard(p), 1e-9)
	// On a wall the floor is level, so y is the height above the finished floor.
	require.InDelta(t, 250, r.HeightAboveFloor(at(FaceRef{WallSide, 5}, 300, 250)), 1e-9)

	// Straight lines. From the west wall (0, −1700, 250) to the side wall (2000, −1600, 250): Δx 2000, Δy 100.
	west, side := Point3{0, -1700, 250}, at(FaceRef{WallSide, 3}, 400, 250)
	require.Equal(t, Point3{2000, -1600, 250}, side)
	d, through, err := r.Straight(west, side, Obstacles{Benches: true})
	require.NoError(t, err)
	require.InDelta(t, math.Hypot(2000, 100), d, 1e-9)
	require.Empty(t, through)
	// To a point of the east wall the corner of the step is in the way: at (3000, −1000, 250) from (1000, −1900, 250).
	// At X = 2000 the line is at Y = −1900 + 900/2 = −1450, below the step at −1200, so it runs through the wall there.
	a, b := Point3{1000, -1900, 250}, Point3{3000, -1000, 250}
	_, through, err = r.Straight(a, b, Obstacles{})
	require.NoError(t, err)
	require.Equal(t, "side", through)
	// The string goes round (2000, −1200): √(1000² + 700²) + √(1000² + 200²) = 1220.656 + 1019.804 = 2240.460.
	w, err := r.Way(a, b, Obstacles{})
	require.NoError(t, err)
	require.InDelta(t, 2240.4593, w.MM, 1e-3)
	require.True(t, w.Exact)
	require.Len(t, w.Points, 3)
	require.InDelta(t, 2000, w.Points[1].X, 1e-6)
	require.InDelta(t, -1200, w.Points[1].Y, 1e-6)
	// A string that rises 500 on the way is the hypotenuse of the unrolled triangle: √(2240.4593² + 500²) = 2295.573.
	b.Z = 750
	w, err = r.Way(a, b, Obstacles{})
	require.NoError(t, err)
	require.InDelta(t, math.Hypot(2240.4593, 500), w.MM, 1e-3)

	// From the floor in front of bench 1 (1000, −650, 0) to the north wall above it (1000, 0, 630): the string bends at the
	// front edge of the seat (Y −450, Z 430) and again nowhere: below the edge the line to the wall would cut the seat.
	// √(200² + 430²) + √(450² + 200²) = 474.236 + 492.443 = 966.679.
	w, err = r.Way(Point3{1000, -650, 0}, Point3{1000, 0, 630}, Obstacles{Benches: true})
	require.NoError(t, err)
	require.InDelta(t, 966.679, w.MM, 1e-3)
	// Straight through the bench: √(650² + 630²) = 905.207.
	d, through, err = r.Straight(Point3{1000, -650, 0}, Point3{1000, 0, 630}, Obstacles{Benches: true})
	require.NoError(t, err)
	require.InDelta(t, 905.207, d, 1e-3)
	require.Equal(t, "bench_1", through)

	// Over surfaces. Round the corner of north and east, 100 mm and 150 mm from it and 50 mm higher: √(250² + 50²) = 254.951.
	s, err := r.SurfaceWay(FaceRef{WallSide, 0}, 2900, 1000, FaceRef{WallSide, 1}, 150, 1050)
	require.NoError(t, err)
	require.InDelta(t, math.Hypot(250, 50), s, 1e-9)
	// Round the outside corner of step and side: step ends there at x = 1000.
	s, err = r.SurfaceWay(FaceRef{WallSide, 2}, 900, 1000, FaceRef{WallSide, 3}, 150, 1050)
	require.NoError(t, err)
	require.InDelta(t, math.Hypot(250, 50), s, 1e-9)
	// Wall to floor at the south wall, which runs left from (2000, −2000): x 500 is X = 1500. Floor point 200 in front.
	s, err = r.SurfaceWay(FaceRef{WallSide, 4}, 500, 120, FaceRef{FloorSide, 0}, 1600, 1800)
	require.NoError(t, err)
	require.InDelta(t, math.Hypot(320, 100), s, 1e-9)
	// Seat to the wall at its back, and riser to seat over the front edge.
	s, err = r.SurfaceWay(FaceRef{SeatSide, 0}, 1000, 400, FaceRef{WallSide, 0}, 1100, 530)
	require.NoError(t, err)
	require.InDelta(t, math.Hypot(150, 100), s, 1e-9)
	s, err = r.SurfaceWay(FaceRef{RiserSide, 0}, 1000, 380, FaceRef{SeatSide, 0}, 1100, 60)
	require.NoError(t, err)
	require.InDelta(t, math.Hypot(110, 100), s, 1e-9)
	// Ceiling to the north wall: the ceiling rises, so 100 mm on the plan are 100·√1.01 on the slope.
	s, err = r.SurfaceWay(FaceRef{WallSide, 0}, 1500, 2100, FaceRef{CeilingSide, 0}, 1500, 100)
	require.NoError(t, err)
	require.InDelta(t, 100+100*math.Sqrt(1.01), s, 1e-9)
	_, err = r.SurfaceWay(FaceRef{WallSide, 0}, 1500, 2100, FaceRef{WallSide, 4}, 100, 100)
	require.ErrorIs(t, err, ErrAdjacent)

	// Both benches lie inside the room; one that is 40 mm too long does not.
	for i := range r.Solids {
		mm, err := r.SolidInside(i)
		require.NoError(t, err)
		require.InDelta(t, 0, mm, 1e-9)
	}
	spec := lSpec()
	spec.Solids[0].X1MM = 3040
	long := roomOf(t, spec)
	mm, err := long.SolidInside(0)
	require.NoError(t, err)
	require.InDelta(t, -40, mm, 1e-9)
	// One that stands in the outside corner.
	spec.Solids[0] = Solid{Name: "b", Sort: BenchSolid, Wall: 0, X0MM: 1500, X1MM: 2500, Off1MM: 1300, TopMM: 400}
	mm, err = roomOf(t, spec).SolidInside(0)
	require.NoError(t, err)
	require.InDelta(t, -100, mm, 1e-9)
}

func TestFloorWithoutASightedDrainIsLevel(t *testing.T) {
	s := lSpec()
	s.Floor.Drain = &Point{2500, -600} // the side wall and the foot of the L are hidden
	require.Zero(t, roomOf(t, s).FloorZ(Point{2500, -600}))
	s.Floor.Drain = nil
	require.Zero(t, roomOf(t, s).FloorZ(Point{1000, -1000}))
}

func TestRidgeCeiling(t *testing.T) {
	s := lSpec()
	s.Ceiling = &RoomCeiling{HeightMM: 2200, Form: RidgeCeiling, SlopePercent: 20, LowWall: 0}
	r := roomOf(t, s)
	for off, want := range map[float64]float64{0: 2200, 500: 2300, 1000: 2400, 1500: 2300, 2000: 2200} {
		z, ok := r.CeilingZ(Point{1000, -off})
		require.True(t, ok)
		require.InDelta(t, want, z, 1e-9)
	}
	z, _ := r.CeilingTopZ()
	require.InDelta(t, 2400, z, 1e-9)
	s.Ceiling = nil
	r = roomOf(t, s)
	_, err := r.Place(FaceRef{CeilingSide, 0}, 100, 100)
	require.ErrorIs(t, err, ErrFace)
	_, ok := r.CeilingTopZ()
	require.False(t, ok)
}

func square(w, d float64) []RoomWall {
	return []RoomWall{{"north", Wall{w, 90}, 2400}, {"east", Wall{d, 90}, 2400}, {"south", Wall{w, 90}, 2400}, {"west", Wall{d, 90}, 2400}}
}

// Errors name the wall and the miss.
func TestRoomThatDoesNotFit(t *testing.T) {
	walls := square(2400, 1800)
	walls[2].WidthMM = 2360
	_, err := NewRoom(RoomSpec{Walls: walls, ToleranceMM: 5})
	var gap *GapError
	require.ErrorAs(t, err, &gap)
	require.InDelta(t, 40, gap.MissMM, eps)
	require.Equal(t, "west", gap.Name)
	require.Equal(t, []WallFit{{0, "north", -40}, {2, "south", 40}}, gap.Fits)
	require.EqualError(t, err, "geometry: the plan does not close: wall west ends 40 mm from the first corner; it would close with wall north 40 mm shorter, or wall south 40 mm longer")

	walls = square(2400, 1800)
	walls[1].TurnDeg = 80
	_, err = NewRoom(RoomSpec{Walls: walls})
	require.ErrorAs(t, err, &gap)
	require.Empty(t, gap.Fits)
	require.ErrorContains(t, err, "miss a full round by -10°")

	// A bow tie that closes: the last wall but one runs through the first.
	_, err = NewRoom(RoomSpec{ToleranceMM: 5, Walls: []RoomWall{
		{"a", Wall{2000, 90}, 0}, {"b", Wall{1000, 90}, 0}, {"c", Wall{500, 90}, 0}, {"d", Wall{1300, 90}, 0}, {"e", Wall{500, -90}, 0}, {"f", Wall{300, -90}, 0}, {"g", Wall{3000, -90}, 0}, {"h", Wall{1000, -90}, 0}, {"i", Wall{1000, 0}, 0}}})
	require.Error(t, err)
	var crossing *CrossingError
	walls = []RoomWall{{"a", Wall{1000, 90}, 0}, {"b", Wall{1000, 90}, 0}, {"c", Wall{600, 90}, 0}, {"d", Wall{1200, -90}, 0}, {"e", Wall{200, -90}, 0}, {"f", Wall{400, -90}, 0}, {"g", Wall{400, 90}, 0}, {"h", Wall{200, 90}, 0}, {"i", Wall{600, 0}, 0}}
	_, err = NewRoom(RoomSpec{Walls: walls, ToleranceMM: 1e6})
	if errors.As(err, &crossing) {
		require.Positive(t, crossing.BeyondMM)
	}

	for _, bad := range []RoomSpec{
		{},
		{Walls: square(2400, 1800), Ceiling: &RoomCeiling{HeightMM: -1}},
		{Walls: square(2400, 1800), Ceiling: &RoomCeiling{HeightMM: 2000, Form: ShedCeiling, LowWall: 4}},
		{Walls: square(2400, 1800), Ceiling: &RoomCeiling{HeightMM: 2000, Form: ShedCeiling, SlopePercent: nan}},
		{Walls: square(2400, 1800), Floor: RoomFloor{FallPercent: -1}},
		{Walls: square(2400, 1800), Floor: RoomFloor{Drain: &Point{nan, 0}}},
		{Walls: square(2400, 1800), Solids: []Solid{{Wall: 7, X1MM: 1, Off1MM: 1, TopMM: 1}}},
		{Walls: square(2400, 1800), Solids: []Solid{{X0MM: 2, X1MM: 1, Off1MM: 1, TopMM: 1}}},
		{Walls: square(2400, 1800), Solids: []Solid{{X1MM: 1, Off1MM: 1}}},
		{Walls: square(2400, 1800), Solids: []Solid{{X1MM: nan, Off1MM: 1, TopMM: 1}}},
		{Walls: square(2400, 1800), Doorways: []Doorway{{Wall: 9}}},
		{Walls: square(2400, 1800), Doorways: []Doorway{{Wall: 1, Rect: Rect{Point{1, 0}, Point{0, 1}}}}},
	} {
		_, err := NewRoom(bad)
		require.Error(t, err, "%+v", bad)
	}
}

// A wall that runs past another: in plan an 8 with its crossing 300 mm short of a corner.
func TestCrossingWallsAreNamed(t *testing.T) {
	// a → 2000, b ↓ 1000, c ← 800, d ↑ 1300 (300 past a), e ← 1200, f ↓ 300: back at the start of a from above.
	_, err := NewRoom(RoomSpec{ToleranceMM: 5, Walls: []RoomWall{
		{"a", Wall{2000, 90}, 0}, {"b", Wall{1000, 90}, 0}, {"c", Wall{800, 90}, 0}, {"d", Wall{1300, -90}, 0}, {"e", Wall{1200, -90}, 0}, {"f", Wall{300, 270 - 360 + 0}, 0}}})
	require.Error(t, err) // the turns of an 8 do not make a full round
	err = crossingError([]RoomWall{{Name: "a"}, {Name: "b"}, {Name: "c"}, {Name: "d"}, {Name: "e"}},
		Polygon{{0, 0}, {2000, 0}, {2000, -1000}, {1200, -1000}, {1200, 300}})
	var crossing *CrossingError
	require.ErrorAs(t, err, &crossing)
	require.Equal(t, "d", crossing.Name)
	require.Equal(t, "a", crossing.OtherName)
	require.InDelta(t, 300, crossing.BeyondMM, eps)
	require.EqualError(t, err, "geometry: wall d runs 300 mm past wall a")
}

// A partition in a plain room, worked by hand: 10 mm thick, 1000 mm long, from the
// north wall at x = 1500. Points lie at x = 1200 and x = 1800 of the north wall at 1000 mm height.
func TestRoundAndOverAPartition(t *testing.T) {
	with := func(top float64) *Room {
		return roomOf(t, RoomSpec{Walls: square(4000, 3000), Ceiling: &RoomCeiling{HeightMM: 2600},
			Solids: []Solid{{Name: "screen", Sort: PartitionSolid, Wall: 0, X0MM: 1500, X1MM: 1510, Off1MM: 1000, TopMM: top}}})
	}
	a, b := Point3{1200, 0, 1000}, Point3{1800, 0, 1000}
	o := Obstacles{Partitions: true}
	// Round the end: √(300² + 1000²) + 10 + √(290² + 1000²) = 1044.031 + 10 + 1041.201 = 2095.232.
	round := math.Hypot(300, 1000) + 10 + math.Hypot(290, 1000)
	w, err := with(2500).Way(a, b, Obstacles{Partitions: true, NoHigherMM: 2250})
	require.NoError(t, err)
	require.InDelta(t, round, w.MM, 1e-6)
	// Over the top at 1400: √(300² + 400²) + 10 + √(290² + 400²) = 500 + 10 + 494.065 = 1004.065.
	w, err = with(1400).Way(a, b, o)
	require.NoError(t, err)
	require.InDelta(t, 500+10+math.Hypot(290, 400), w.MM, 1e-6)
	require.True(t, w.Exact)
	// As tall as the ceiling there is no way over it.
	w, err = with(2600).Way(a, b, o)
	require.NoError(t, err)
	require.InDelta(t, round, w.MM, 1e-6)
	// With the other point 600 mm into the room the string crosses both upper edges slantwise: the edges are parallel, so
	// both are unfolded: 500 + 10 + √(290² + 400²) across, 600 along.
	w, err = with(1400).Way(a, Point3{1800, -600, 1000}, o)
	require.NoError(t, err)
	require.InDelta(t, math.Hypot(500+10+math.Hypot(290, 400), 600), w.MM, 1e-6)
	// Above the top the line is free.
	w, err = with(1400).Way(Point3{1200, 0, 1500}, Point3{1800, 0, 1500}, o)
	require.NoError(t, err)
	require.InDelta(t, 600, w.MM, 1e-9)
	// Along its face too.
	w, err = with(1400).Way(Point3{1500, -200, 500}, Point3{1500, -900, 500}, o)
	require.NoError(t, err)
	require.InDelta(t, 700, w.MM, 1e-9)
	// On the plan it is gone round whatever its height.
	w, err = with(1400).PlanWay(Point{1200, 0}, Point{1800, 0}, o)
	require.NoError(t, err)
	require.InDelta(t, round, w.MM, 1e-6)
	// To a stretch of the wall behind it: the nearest point is its near end.
	w, err = with(1400).WaySegment(a, Point3{1800, 0, 1000}, Point3{2500, 0, 1000}, o)
	require.NoError(t, err)
	require.InDelta(t, 500+10+math.Hypot(290, 400), w.MM, 1e-6)
	// A stretch on both sides of it is reached on the near side.
	w, err = with(1400).WaySegment(a, Point3{1400, 0, 1000}, Point3{2500, 0, 1000}, o)
	require.NoError(t, err)
	require.InDelta(t, 200, w.MM, 1e-6)

	// A partition across the whole room, up to the ceiling, leaves no way.
	shut := roomOf(t, RoomSpec{Walls: square(4000, 3000), Ceiling: &RoomCeiling{HeightMM: 2600},
		Solids: []Solid{{Name: "screen", Sort: PartitionSolid, Wall: 0, X0MM: 1500, X1MM: 1510, Off1MM: 3000, TopMM: 2600}}})
	_, err = shut.Way(a, b, o)
	require.ErrorIs(t, err, ErrNoWay)
	_, err = shut.Way(Point3{nan, 0, 0}, b, o)
	require.ErrorIs(t, err, ErrNotFinite)
}

// Two benches that meet in a corner, one against the end of the other, are tight: no string slips between them or behind them.
func TestNothingSlipsBetweenBenches(t *testing.T) {
	r := roomOf(t, lSpec())
	o := Obstacles{Benches: true}
	// From the floor before bench 2 to the north wall under the seat of bench 1 there is no air at all.
	_, through, err := r.Straight(Point3{600, -800, 100}, Point3{600, -100, 100}, o)
	require.NoError(t, err)
	require.Equal(t, "bench_1", through)
	// Along the plane where the two touch (Y = −450, X < 450, below the seat).
	_, through, err = r.Straight(Point3{600, -450, 100}, Point3{100, -450, 100}, o)
	require.NoError(t, err)
	require.NotEmpty(t, through)
	// Along the west wall through the end of bench 1.
	_, through, err = r.Straight(Point3{0, -100, 100}, Point3{0, -100, 400}, o)
	require.NoError(t, err)
	require.NotEmpty(t, through)
	// Along the free front of bench 1 and over its seat the way is open.
	for _, s := range [][2]Point3{{{600, -450, 100}, {2900, -450, 100}}, {{100, -10, 430}, {2900, -440, 430}}, {{0, -700, 430}, {0, -100, 430}}} {
		_, through, err = r.Straight(s[0], s[1], o)
		require.NoError(t, err)
		require.Empty(t, through, "%v", s)
	}
}

// genRoom draws a room of square corners with benches and partitions, and points in it.
func genRoom() *rapid.Generator[RoomSpec] {
	return rapid.Custom(func(t *rapid.T) RoomSpec {
		s := lSpec()
		s.Floor, s.Ceiling = RoomFloor{}, &RoomCeiling{HeightMM: 2600}
		if rapid.Bool().Draw(t, "plain") {
			s.Walls = square(3000, 2000)
		}
		s.Solids = nil
		n := rapid.IntRange(0, 3).Draw(t, "solids")
		for i := range n {
			wall := rapid.IntRange(0, len(s.Walls)-1).Draw(t, "wall")
			w := s.Walls[wall].WidthMM
			x := rapid.Float64Range(0, w-200).Draw(t, "x")
			b := Solid{Name: fmt.Sprint("s", i), Sort: PartitionSolid, Wall: wall, X0MM: x, X1MM: x + rapid.Float64Range(10, min(800, w-x)).Draw(t, "length"),
				Off1MM: rapid.Float64Range(50, 700).Draw(t, "depth"), TopMM: rapid.Float64Range(200, 2000).Draw(t, "top")}
			s.Solids = append(s.Solids, b)
		}
		return s
	})
}

func genPlace(r *Room) *rapid.Generator[Point3] {
	sc := r.scene(all)
	return rapid.Custom(func(t *rapid.T) Point3 {
		for range 50 {
			p := Point3{rapid.Float64Range(1, 2999).Draw(t, "X"), -rapid.Float64Range(1, 1999).Draw(t, "Y"), rapid.Float64Range(1, 2500).Draw(t, "Z")}
			if sc.air(p) {
				return p
			}
		}
		t.Skip("the room is full")
		return Point3{}
	})
}

var all = Obstacles{Partitions: true, Benches: true}

// spin turns the list of walls, so that another wall is the first: the room is the same, laid elsewhere on the plan.
func spin(s RoomSpec, by int) RoomSpec {
	n := len(s.Walls)
	out := s
	out.Walls, out.Solids = nil, nil
	for i := range n {
		out.Walls = append(out.Walls, s.Walls[(i+by)%n])
	}
	for _, b := range s.Solids {
		b.Wall = (b.Wall - by + n) % n
		out.Solids = append(out.Solids, b)
	}
	return out
}

// mirror lists the walls the other way round, as seen in a mirror.
func mirror(s RoomSpec) RoomSpec {
	n := len(s.Walls)
	out := s
	out.Walls, out.Solids = nil, nil
	for i := range n {
		w := s.Walls[n-1-i]
		w.TurnDeg = s.Walls[(2*n-2-i)%n].TurnDeg
		out.Walls = append(out.Walls, w)
	}
	for _, b := range s.Solids {
		w := s.Walls[b.Wall].WidthMM
		b.Wall = n - 1 - b.Wall
		b.X0MM, b.X1MM = w-b.X1MM, w-b.X0MM
		out.Solids = append(out.Solids, b)
	}
	return out
}

func TestWaysOfARoom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := genRoom().Draw(t, "room")
		r := roomOf(t, s)
		p, q := genPlace(r).Draw(t, "p"), genPlace(r).Draw(t, "q")
		w, err := r.Way(p, q, all)
		require.NoError(t, err)
		if !w.Exact {
			t.Skip("too many edges, as of partitions that stand in each other")
		}
		straight := must(t)(Distance3(p, q))
		require.GreaterOrEqual(t, w.MM, straight-1e-9, "a string is no shorter than the straight line")
		require.InDelta(t, stringLength(w.Points), w.MM, 1e-6)
		sc := r.scene(all)
		require.True(t, sc.clearAll(w.Points), "it passes through nothing")
		if flat, err := r.PlanWay(Point{p.X, p.Y}, Point{q.X, q.Y}, all); err == nil { // else a place lies over a solid
			require.LessOrEqual(t, w.MM, math.Hypot(flat.MM, p.Z-q.Z)+1e-6, "no longer than going round everything")
		}
		back, err := r.Way(q, p, all)
		require.NoError(t, err)
		if !back.Exact {
			t.Skip("too many edges")
		}
		require.InDelta(t, w.MM, back.MM, 1e-5, "there as far as back")
		d, through, err := r.Straight(p, q, all)
		require.NoError(t, err)
		require.InDelta(t, straight, d, 1e-9)
		if through == "" {
			require.InDelta(t, straight, w.MM, 1e-6)
		} else {
			require.Greater(t, w.MM, straight-1e-9)
		}

		// The same two places in the room turned and mirrored.
		wall := rapid.IntRange(0, len(s.Walls)-1).Draw(t, "wall")
		n := len(s.Walls)
		by := rapid.IntRange(0, n-1).Draw(t, "by")
		carry := func(to *Room, toWall int, flip bool) (out [2]Point3) {
			for i, x := range [2]Point3{p, q} {
				along, off, err := r.Plan.Local(wall, Point{x.X, x.Y})
				require.NoError(t, err)
				if flip {
					along = s.Walls[wall].WidthMM - along
				}
				pt, err := to.Plan.Place(toWall, along, off)
				require.NoError(t, err)
				out[i] = Point3{pt.X, pt.Y, x.Z}
			}
			return out
		}
		turned := roomOf(t, spin(s, by))
		c := carry(turned, (wall-by+n)%n, false)
		w2, err := turned.Way(c[0], c[1], all)
		require.NoError(t, err)
		require.InDelta(t, w.MM, w2.MM, 1e-5, "turned")
		seen := roomOf(t, mirror(s))
		c = carry(seen, n-1-wall, true)
		w3, err := seen.Way(c[0], c[1], all)
		require.NoError(t, err)
		require.InDelta(t, w.MM, w3.MM, 1e-5, "mirrored")
	})
}

// TestWayAgainstManySteps holds ways against a net of points on all edges with straight lines between them, which
// knows nothing of folding: the net is never shorter, and longer by little.
func TestWayAgainstManySteps(t *testing.T) {
	rng := rand.New(rand.NewSource(7))
	checked := 0
	for checked < 40 {
		s := RoomSpec{Walls: square(3000, 2000), Ceiling: &RoomCeiling{HeightMM: 2600}}
		for k := range 2 {
			x := rng.Float64() * 2000
			s.Solids = append(s.Solids, Solid{Name: fmt.Sprint(k), Sort: PartitionSolid, Wall: rng.Intn(4), X0MM: x / 2, X1MM: x/2 + 10 + rng.Float64()*500, Off1MM: 600 + rng.Float64()*900, TopMM: 600 + rng.Float64()*1400})
		}
		r := roomOf(t, s)
		sc := r.scene(all)
		place := func() Point3 {
			for {
				if p := (Point3{1 + rng.Float64()*2998, -1 - rng.Float64()*1998, 1 + rng.Float64()*1500}); sc.air(p) {
					return p
				}
			}
		}
		p, q := place(), place()
		w, err := r.Way(p, q, all)
		require.NoError(t, err)
		if sc.clear(p, q) {
			continue
		}
		checked++
		nodes := []Point3{p, q}
		for _, e := range sc.bends() {
			lo, hi := e.o, e.at(e.lu, 0)
			lo.Z, hi.Z = max(lo.Z, 0), min(hi.Z, 2600)
			for i := range 41 {
				nodes = append(nodes, lo.plus(hi.minus(lo).times(float64(i)/40)))
			}
		}
		far := make([]float64, len(nodes))
		done := make([]bool, len(nodes))
		for i := range far {
			far[i] = math.Inf(1)
		}
		far[0] = 0
		for {
			at := -1
			for i := range nodes {
				if !done[i] && (at < 0 || far[i] < far[at]) {
					at = i
				}
			}
			if at == 1 {
				break
			}
			done[at] = true
			for i := range nodes {
				if !done[i] {
					if d := far[at] + nodes[at].minus(nodes[i]).norm(); d < far[i] && d < far[1] && sc.clear(nodes[at], nodes[i]) {
						far[i] = d
					}
				}
			}
		}
		require.LessOrEqual(t, w.MM, far[1]+1e-6)
		require.InEpsilon(t, w.MM, far[1], 0.004)
	}
}

// Moving two places together along a wall keeps what is between them.
func TestGapsMoveAlong(t *testing.T) {
	r := roomOf(t, RoomSpec{Walls: square(3000, 2000), Ceiling: &RoomCeiling{HeightMM: 2200, Form: ShedCeiling, SlopePercent: 10, LowWall: 0}})
	rapid.Check(t, func(t *rapid.T) {
		f := FaceRef{rapid.SampledFrom([]FaceSort{WallSide, FloorSide}).Draw(t, "face"), 0}
		if f.Sort == WallSide {
			f.Index = rapid.IntRange(0, 3).Draw(t, "wall")
		}
		draw := func(name string) float64 { return rapid.Float64Range(0, 900).Draw(t, name) }
		xa, ya, xb, yb, dx, dy := draw("xa"), draw("ya"), draw("xb"), draw("yb"), draw("dx"), draw("dy")
		gap := func(xa, ya, xb, yb float64) float64 {
			p, err := r.Place(f, xa, ya)
			require.NoError(t, err)
			q, err := r.Place(f, xb, yb)
			require.NoError(t, err)
			w, err := r.Way(p, q, all)
			require.NoError(t, err)
			return w.MM
		}
		require.InDelta(t, gap(xa, ya, xb, yb), gap(xa+dx, ya+dy, xb+dx, yb+dy), 1e-6)
	})
}

// Round a corner the way over the surfaces is never shorter than the straight line, and the same from either end.
func TestSurfaceWays(t *testing.T) {
	r := roomOf(t, lSpec())
	faces := []FaceRef{{WallSide, 0}, {WallSide, 1}, {WallSide, 2}, {WallSide, 3}, {WallSide, 4}, {WallSide, 5}, {FloorSide, 0}, {CeilingSide, 0}, {SeatSide, 0}, {RiserSide, 0}, {SeatSide, 1}, {RiserSide, 1}}
	met := 0
	rapid.Check(t, func(t *rapid.T) {
		fa, fb := rapid.SampledFrom(faces).Draw(t, "a"), rapid.SampledFrom(faces).Draw(t, "b")
		draw := func(name string) float64 { return rapid.Float64Range(0, 400).Draw(t, name) }
		xa, ya, xb, yb := draw("xa"), draw("ya"), draw("xb"), draw("yb")
		s, err := r.SurfaceWay(fa, xa, ya, fb, xb, yb)
		back, err2 := r.SurfaceWay(fb, xb, yb, fa, xa, ya)
		require.Equal(t, err == nil, err2 == nil)
		if err != nil {
			require.ErrorIs(t, err, ErrAdjacent)
			return
		}
		met++
		require.InDelta(t, s, back, 1e-6)
		p, err := r.Place(fa, xa, ya)
		require.NoError(t, err)
		q, err := r.Place(fb, xb, yb)
		require.NoError(t, err)
		require.GreaterOrEqual(t, s, must(t)(Distance3(p, q))-41, "the floor lies up to 40 mm lower than it is unfolded")
	})
	require.Positive(t, met)
}

func TestGridFindsWhatIsNear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, err := NewGrid(rapid.Float64Range(10, 2000).Draw(t, "cell"))
		require.NoError(t, err)
		genBox := rapid.Custom(func(t *rapid.T) Box3 {
			v := func(n string) float64 { return rapid.Float64Range(-3000, 3000).Draw(t, n) }
			b, err := BoxOf(Point3{v("x"), v("y"), v("z")})
			require.NoError(t, err)
			if rapid.Bool().Draw(t, "wide") {
				b, err = BoxOf(b.Min, Point3{v("x"), v("y"), v("z")})
				require.NoError(t, err)
			}
			return b
		})
		boxes := rapid.SliceOfN(genBox, 0, 40).Draw(t, "boxes")
		boxes = slices.Repeat(boxes, rapid.SampledFrom([]int{1, 30}).Draw(t, "times")) // many make it worth looking into the cells
		for i, b := range boxes {
			k, err := g.Add(b)
			require.NoError(t, err)
			require.Equal(t, i, k)
		}
		at, reach := genBox.Draw(t, "at"), rapid.Float64Range(0, 1500).Draw(t, "reach")
		var want []int
		for i, b := range boxes {
			if boxDistance(&b, &at) <= reach {
				want = append(want, i)
			}
		}
		require.Equal(t, want, g.Near(at, reach))
	})
	_, err := NewGrid(0)
	require.ErrorIs(t, err, ErrWidth)
	g, _ := NewGrid(1)
	_, err = g.Add(Box3{Min: Point3{nan, 0, 0}})
	require.ErrorIs(t, err, ErrNotFinite)
	_, err = g.Add(Box3{Min: Point3{1, 0, 0}})
	require.ErrorIs(t, err, ErrRect)
	_, err = BoxOf()
	require.ErrorIs(t, err, ErrTooFewPoints)
}

// BenchmarkNear is finding all pairs within 500 mm among items spread over a room that grows with them.
func BenchmarkNear(b *testing.B) {
	for _, n := range []int{50, 200, 1000} {
		b.Run(fmt.Sprintf("items=%d", n), func(b *testing.B) {
			rng := rand.New(rand.NewSource(1))
			side := 1000 * math.Sqrt(float64(n))
			boxes := make([]Box3, n)
			for i := range boxes {
				p := Point3{rng.Float64() * side, rng.Float64() * side, rng.Float64() * 2200}
				boxes[i] = Box3{p, p}
			}
			b.ReportAllocs()
			for b.Loop() {
				g, _ := NewGrid(500)
				for _, x := range boxes {
					if _, err := g.Add(x); err != nil {
						b.Fatal(err)
					}
				}
				for _, x := range boxes {
					g.Near(x, 500)
				}
			}
		})
	}
}

// A room that is full of screens: the work stays bounded, and what is found is a way that can be laid.
func TestWayThroughManyScreens(t *testing.T) {
	rng := rand.New(rand.NewSource(3))
	s := RoomSpec{Walls: square(12000, 8000), Ceiling: &RoomCeiling{HeightMM: 2600}}
	for k := range 40 {
		x, off := rng.Float64()*11000, rng.Float64()*6000
		s.Solids = append(s.Solids, Solid{Name: fmt.Sprint(k), Sort: PartitionSolid, X0MM: x, X1MM: x + 10 + rng.Float64()*900, Off0MM: off, Off1MM: off + 100 + rng.Float64()*1500, TopMM: 1000 + rng.Float64()*1500})
	}
	r := roomOf(t, s)
	sc := r.scene(all)
	exact := 0
	for range 12 {
		var p, q Point3
		for p = (Point3{}); !sc.air(p); p = (Point3{rng.Float64() * 12000, -rng.Float64() * 8000, rng.Float64() * 1500}) {
		}
		for q = (Point3{}); !sc.air(q); q = (Point3{rng.Float64() * 12000, -rng.Float64() * 8000, rng.Float64() * 1500}) {
		}
		w, err := r.Way(p, q, all)
		require.NoError(t, err)
		require.True(t, sc.clearAll(w.Points))
		require.GreaterOrEqual(t, w.MM, must(t)(Distance3(p, q))-1e-9)
		exact += b2i(w.Exact)
	}
	t.Logf("%d of 12 ways are exact", exact)
	require.Positive(t, exact)
}

func BenchmarkWay(b *testing.B) {
	r := roomOf(b, lSpec())
	b.ReportAllocs()
	for b.Loop() {
		// Under the seat's edge of bench 1, so that it bends there.
		if w, err := r.Way(Point3{600, -1900, 100}, Point3{1500, 0, 500}, all); err != nil || len(w.Points) < 3 {
			b.Fatal(w, err)
		}
	}
}
