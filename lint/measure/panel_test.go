package measure

import (
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

func TestCollarGeometry(t *testing.T) {
	// Two pipes of 32 mm whose collars have flanges of 50 mm: 132 mm between centres, 66 mm from the centre to a corner (computed).
	job := holeRoom(holeSpot("a", "north", 300, 300, 32), holeSpot("b", "north", 432, 300, 32))
	require.Equal(t, number(132), holeValue(t, job, "opening_pair", "a~b", "collar_distance_needed_mm"))
	require.Equal(t, number(132), holeValue(t, job, "opening_pair", "a~b", "centre_distance_mm"))
	require.Equal(t, number(66), holeValue(t, job, "penetration", "a", "corner_distance_needed_mm"))

	job.Items[1].CollarFlangeMM = nil
	require.Equal(t, Unknown, holeValue(t, job, "opening_pair", "a~b", "collar_distance_needed_mm").State)
	require.Equal(t, Unknown, holeValue(t, job, "penetration", "b", "corner_distance_needed_mm").State)
	no := false
	job.Items[1].Collar = &no
	require.Equal(t, None, holeValue(t, job, "opening_pair", "a~b", "collar_distance_needed_mm").State)
	require.Equal(t, None, holeValue(t, job, "penetration", "b", "corner_distance_needed_mm").State)
	require.Equal(t, None, holeValue(t, job, "penetration", "b", "collar_flange_mm").State)
}

func TestPairGaps(t *testing.T) {
	tests := []struct {
		name           string
		a, b           jobfile.Item
		gap, web, need Value
	}{
		{"small holes", holeSpot("a", "north", 300, 300, 24), holeSpot("b", "north", 374, 300, 24), number(50), number(50), number(50)},
		{"half the larger diameter counts from 100 mm", holeSpot("a", "north", 300, 300, 102), holeSpot("b", "north", 420, 300, 24), number(57), number(57), number(51)},
		{"touching", holeSpot("a", "north", 300, 300, 24), holeSpot("b", "north", 324, 300, 24), number(0), number(0), number(50)},
		// Vector G02: 60 mm apart, radii of 80 mm in all.
		{"G02: overlapping", holeSpot("a", "north", 0, 0, 100), holeSpot("b", "north", 60, 0, 60), number(-20), none(), number(50)},
		{"one in the other", holeSpot("a", "north", 300, 300, 100), holeSpot("b", "north", 300, 300, 20), number(-60), none(), number(50)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			job := holeRoom(tt.a, tt.b)
			require.True(t, tt.gap.Same(holeValue(t, job, "opening_pair", "a~b", "gap_mm")))
			require.True(t, tt.web.Same(holeValue(t, job, "opening_pair", "a~b", "web_mm")))
			require.True(t, tt.need.Same(holeValue(t, job, "opening_pair", "a~b", "web_needed_mm")))
		})
	}
	job := holeRoom(fixingRail("north", fixingInsert(300, 300, 19), fixingInsert(300, 350, 19)))
	require.Equal(t, number(31), holeValue(t, job, "opening_pair", "rail.insert_1~rail.insert_2", "gap_mm"))
	require.Equal(t, None, holeValue(t, job, "opening_pair", "rail.insert_1~rail.insert_2", "web_mm").State, "inserts of one item are looked at by themselves")
	require.Equal(t, None, holeValue(t, job, "opening_pair", "rail.insert_1~rail.insert_2", "collar_distance_needed_mm").State)
}

func TestJointGap(t *testing.T) {
	tests := []struct {
		name      string
		item      jobfile.Item
		gap, need Value
	}{
		{"small hole at the limit", holeSpot("a", "north", 1084, 300, 68), number(50), number(50)},
		{"a millimetre wider", holeSpot("a", "north", 1084, 300, 69), number(49.5), number(75)},
		{"75 mm up to 75 mm", holeSpot("a", "north", 1200, 300, 75), number(162.5), number(75)},
		{"its diameter beyond", holeSpot("a", "north", 1900, 300, 102), number(49), number(102)},
		{"on the joint", holeSpot("a", "north", 2000, 300, 20), number(-10), number(50)},
		{"a wall without joints", holeSpot("a", "east", 500, 300, 20), none(), number(50)},
		{"joints not given", holeSpot("a", "south", 500, 300, 20), unknown(), number(50)},
		{"ceiling", holeSpot("a", "ceiling", 500, 300, 20), none(), number(50)},
		{"no face", holeSpot("a", "", 500, 300, 20), unknown(), number(50)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			job := holeRoom(tt.item)
			require.True(t, tt.gap.Same(holeValue(t, job, "penetration", "a", "joint_gap_mm")))
			require.True(t, tt.need.Same(holeValue(t, job, "penetration", "a", "joint_gap_needed_mm")))
		})
	}
}

// panelLRoom is a room with an outside corner: 3000 × 2000 mm less 1000 × 1000 mm at the lower right of the plan.
func panelLRoom(items ...jobfile.Item) *jobfile.Job {
	job := holeRoom(items...)
	job.Room.Benches = nil
	job.Room.Walls = []jobfile.Wall{
		{ID: "north", WidthMM: holeMM(3000)}, {ID: "east", WidthMM: holeMM(1000)},
		{ID: "step", WidthMM: holeMM(1000), TurnDeg: holeMM(-90)}, {ID: "riser", WidthMM: holeMM(1000)},
		{ID: "south", WidthMM: holeMM(2000)}, {ID: "west", WidthMM: holeMM(2000)},
	}
	return job
}

func TestCornerDistance(t *testing.T) {
	open := holeRoom()
	open.Room.Walls = open.Room.Walls[:1]
	straight := holeRoom()
	straight.Room.Walls = append([]jobfile.Wall{{ID: "left", WidthMM: holeMM(1000), TurnDeg: holeMM(0)}, {ID: "north", WidthMM: holeMM(2000), PanelJointsXMM: []float64{}}}, straight.Room.Walls[1:]...)
	ring := holeRoom()
	ring.Room.Walls = append([]jobfile.Wall{{ID: "north", WidthMM: holeMM(2000), PanelJointsXMM: []float64{}}}, append(ring.Room.Walls[1:], jobfile.Wall{ID: "left", WidthMM: holeMM(1000), TurnDeg: holeMM(0)})...)
	tests := []struct {
		name string
		job  *jobfile.Job
		item jobfile.Item
		want Value
	}{
		{"left edge", holeRoom(), holeSpot("a", "north", 70, 300, 32), number(70)},
		{"right edge", holeRoom(), holeSpot("a", "north", 2940, 300, 32), number(60)},
		{"floor", holeRoom(), holeSpot("a", "north", 500, 50, 32), number(50)},
		{"ceiling", holeRoom(), holeSpot("a", "north", 500, 2190, 32), number(10)},
		{"outside the wall", holeRoom(), holeSpot("a", "north", 3010, 500, 32), number(-10)},
		{"floor by the plan", holeRoom(), holeSpot("a", "floor", 500, 1900, 32), number(100)},
		{"ceiling by the plan", holeRoom(), holeSpot("a", "ceiling", 2960, 1000, 32), number(40)},
		{"beyond the plan", holeRoom(), holeSpot("a", "ceiling", 3050, 1000, 32), number(-50)},
		{"outside corner", panelLRoom(), holeSpot("a", "floor", 1970, 960, 32), number(50)}, // 30 and 40 mm off it
		{"cut-out of the plan", panelLRoom(), holeSpot("a", "floor", 2500, 1500, 32), number(-500)},
		{"seat", holeRoom(), holeSpot("a", "bench.seat", 500, 400, 32), number(50)},
		{"riser", holeRoom(), holeSpot("a", "bench.riser", 500, 400, 32), number(30)},
		{"plan that does not close", open, holeSpot("a", "floor", 500, 500, 32), unknown()},
		{"wall of a plan that does not close", open, holeSpot("a", "north", 70, 500, 32), number(70)},
		{"wall that goes straight on, right", straight, holeSpot("a", "left", 990, 300, 32), number(300)},
		{"wall that goes straight on, left", straight, holeSpot("a", "north", 10, 300, 32), number(300)},
		{"last wall goes straight on into the first", ring, holeSpot("a", "north", 10, 300, 32), number(300)},
		{"no face", holeRoom(), holeSpot("a", "", 10, 300, 32), unknown()},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tt.job.Items = []jobfile.Item{tt.item}
			got := holeValue(t, tt.job, "penetration", "a", "corner_distance_mm")
			require.True(t, tt.want.Same(got), "got %+v, want %+v", got, tt.want)
		})
	}
	straight.Items = []jobfile.Item{holeSpot("a", "north", 60, 300, 32)}
	require.Equal(t, number(44), holeValue(t, straight, "penetration", "a", "joint_gap_mm"), "where a wall goes straight on there is a joint")
	ring.Items = straight.Items
	require.Equal(t, number(44), holeValue(t, ring, "penetration", "a", "joint_gap_mm"))
}

func TestOpeningGap(t *testing.T) {
	door := jobfile.Item{ID: "door", Kind: "glazed_door", Face: "south", XMM: holeMM(900), YMM: holeMM(0), WidthMM: holeMM(750), HeightMM: holeMM(1950), Inserts: []jobfile.Insert{}}
	hatch := jobfile.Opening{ID: "hatch", Face: "south", XMM: holeMM(2000), YMM: holeMM(500), WidthMM: holeMM(300), HeightMM: holeMM(300)}
	gap := func(a jobfile.Item, door jobfile.Item, openings ...jobfile.Opening) Value {
		job := holeRoom(a, door)
		job.Room.Openings = openings
		return holeValue(t, job, "penetration", "a", "opening_gap_mm")
	}
	require.Equal(t, number(50), gap(holeSpot("a", "south", 838, 1100, 24), door))
	require.Equal(t, number(38), gap(holeSpot("a", "south", 870, 1990, 24), door), "at the corner: 30 and 40 mm off it")
	require.Equal(t, number(-112), gap(holeSpot("a", "south", 1000, 1000, 24), door))
	require.Equal(t, number(88), gap(holeSpot("a", "south", 1900, 600, 24), door, hatch))
	require.Equal(t, None, gap(holeSpot("a", "north", 838, 1100, 24), door, hatch).State)
	lost := door
	lost.Face = ""
	require.Equal(t, Unknown, gap(holeSpot("a", "south", 838, 1100, 24), lost).State, "the door may be in any wall")
	require.Equal(t, None, gap(holeSpot("a", "ceiling", 838, 1100, 24), lost).State, "and in no ceiling")
	lost = door
	lost.WidthMM = nil
	require.Equal(t, Unknown, gap(holeSpot("a", "south", 838, 1100, 24), lost).State)
}

func TestInsideFace(t *testing.T) {
	tests := []struct {
		name string
		item jobfile.Item
		want Value
	}{
		{"hole at the edge", holeSpot("a", "north", 32, 500, 64), number(0)},
		{"hole beyond the edge", holeSpot("a", "north", 31, 500, 64), number(-1)},
		{"hole on the floor", holeSpot("a", "floor", 1500, 1990, 24), number(-2)},
		{"sensor without a hole", jobfile.Item{ID: "a", Kind: "heating_sensor", Face: "bench.seat", XMM: holeMM(1990), YMM: holeMM(225)}, number(10)},
		{"worst insert counts", jobfile.Item{ID: "a", Kind: "fixing", Face: "north", Inserts: []jobfile.Insert{fixingInsert(500, 500, 20), fixingInsert(5, 500, 20)}}, number(-5)},
		{"fixing without inserts", jobfile.Item{ID: "a", Kind: "fixing", Face: "north", Inserts: []jobfile.Insert{}}, none()},
		{"inserts not given", jobfile.Item{ID: "a", Kind: "fixing", Face: "north"}, unknown()},
		{"doorway on the floor", jobfile.Item{ID: "a", Kind: "glazed_door", Face: "south", XMM: holeMM(900), YMM: holeMM(0), WidthMM: holeMM(750), HeightMM: holeMM(1950)}, number(0)},
		{"doorway too high", jobfile.Item{ID: "a", Kind: "glazed_door", Face: "south", XMM: holeMM(900), YMM: holeMM(0), WidthMM: holeMM(750), HeightMM: holeMM(2210)}, number(-10)},
		{"doorway without a width", jobfile.Item{ID: "a", Kind: "glazed_door", Face: "south", XMM: holeMM(900), YMM: holeMM(0), HeightMM: holeMM(1950)}, unknown()},
		{"insert of a door", jobfile.Item{ID: "a", Kind: "glazed_door", Face: "south", XMM: holeMM(100), YMM: holeMM(0), WidthMM: holeMM(750), HeightMM: holeMM(1950), Inserts: []jobfile.Insert{fixingInsert(5, 500, 20)}}, number(-5)},
		{"cable", fixingCable("a", "bench.seat", nil, [][2]float64{{100, 100}, {2010, 100}}), number(-10)},
		{"cable without runs", fixingCable("a", "bench.seat", nil), unknown()},
		{"strip", jobfile.Item{ID: "a", Kind: "led_strip", Face: "bench.riser", Path: [][2]float64{{100, 380}, {1900, 380}}}, number(50)},
		{"fibre ends", jobfile.Item{ID: "a", Kind: "fibre_lights", Face: "ceiling", OpeningDiameterMM: holeMM(6), Points: [][2]float64{{500, 500}, {2, 500}}}, number(-1)},
		{"no fibre ends", jobfile.Item{ID: "a", Kind: "fibre_lights", Face: "ceiling", Points: [][2]float64{}}, none()},
		{"generator", jobfile.Item{ID: "a", Kind: "steam_generator"}, none()},
		{"outside the room", jobfile.Item{ID: "a", Kind: "accessory", Place: "outside_room", XMM: holeMM(1), YMM: holeMM(1)}, none()},
		{"on the face without a hole", jobfile.Item{ID: "a", Kind: "accessory", Place: "in_room", Face: "north", XMM: holeMM(1), YMM: holeMM(1)}, number(1)},
		{"driver behind a panel", jobfile.Item{ID: "a", Kind: "light_source", Place: "behind_panel"}, none()},
		{"no face", holeSpot("a", "", 300, 500, 64), unknown()},
		{"no diameter", jobfile.Item{ID: "a", Kind: "shower", Face: "north", XMM: holeMM(300), YMM: holeMM(500)}, unknown()},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := holeValue(t, holeRoom(tt.item), "item", "a", "inside_face_mm")
			require.True(t, tt.want.Same(got), "got %+v, want %+v", got, tt.want)
		})
	}
}
