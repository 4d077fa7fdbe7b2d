package measure

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

func clearMM(v float64) *float64 { return &v }

// clearRoom is a room of 3000 × 2000 mm, 2200 mm high, with a bench along its first wall, 450 deep and 430 high.
func clearRoom(items ...jobfile.Item) *jobfile.Job {
	return &jobfile.Job{
		Room: &jobfile.Room{
			HeightMM: clearMM(2200),
			Walls:    []jobfile.Wall{{ID: "north", WidthMM: clearMM(3000)}, {ID: "east", WidthMM: clearMM(2000)}, {ID: "south", WidthMM: clearMM(3000)}, {ID: "west", WidthMM: clearMM(2000)}},
			Floor:    &jobfile.Floor{FallPercent: clearMM(2)},
			Ceiling:  &jobfile.Ceiling{Shape: "sloped", SlopePercent: clearMM(10)},
			Benches:  []jobfile.Bench{{ID: "bench", Wall: "north", XMM: clearMM(0), LengthMM: clearMM(3000), DepthMM: clearMM(450), HeightMM: clearMM(430)}},
		},
		Panel:   &jobfile.Panel{ThicknessMM: clearMM(50)},
		BuildUp: []jobfile.Layer{{Layer: "mesh"}, {Layer: "cement", ThicknessMM: clearMM(3)}, {Layer: "tile_bed", ThicknessMM: clearMM(4)}, {Layer: "tile", ThicknessMM: clearMM(9)}},
		Items:   items,
	}
}

func clearItem(id, kind, face string, x, y float64) jobfile.Item {
	return jobfile.Item{ID: id, Kind: kind, Face: face, XMM: &x, YMM: &y, OpeningDiameterMM: clearMM(60)}
}

// clearTake returns the clearances of a job by id.
func clearTake(t testing.TB, job *jobfile.Job) map[string]*Clearance {
	t.Helper()
	out := map[string]*Clearance{}
	for _, s := range clearanceSubjects(newContext(job)) {
		require.Nil(t, out[s.ID], "%s is there twice", s.ID)
		out[s.ID] = s.Clearance
	}
	return out
}

// Worked by hand. The outlet is on the west wall, which runs up the plan from (0, −2000): x 300 is Y = −1700.
func TestClearancesOfAnOutlet(t *testing.T) {
	outlet := clearItem("out", "steam_outlet", "west", 300, 250)
	supply := clearItem("in", "ventilation_outlet", "south", 2500, 250) // X = 500
	supply.Flow = "supply"
	door := jobfile.Item{ID: "door", Kind: "glazed_door", Face: "south", XMM: clearMM(1500), YMM: clearMM(0), WidthMM: clearMM(800), HeightMM: clearMM(1950), Swing: "outward"}
	got := clearTake(t, clearRoom(outlet, supply, door, clearItem("sensor", "temperature_sensor", "west", 300, 1650)))
	// (0, −1700) to (500, −2000).
	require.Equal(t, number(math.Hypot(500, 300)), got["out~in"].straight)
	require.Equal(t, number(math.Hypot(500, 300)), got["out~in"].way)
	// Doorway from X = 1500 to X = 700: nearest at (700, −2000), at the outlet's height.
	require.Equal(t, number(math.Hypot(700, 300)), got["out~door"].straight)
	require.Equal(t, None, got["out~door"].way.State)
	require.Equal(t, number(1400), got["out~sensor"].straight)
	// The strip before the seat goes from Y = −450 to −950: 750 away on the plan, 250 up.
	require.Equal(t, number(math.Hypot(750, 250)).Num, got["out~bench.feet"].straight.Num)
	require.NotEmpty(t, got["out~bench.feet"].straight.Note(), "the depth of the strip is an assumption")
	require.Nil(t, got["in~sensor"], "too far to matter")

	// A tier in front takes the feet: they stand on it, and no more on the floor before it.
	job := clearRoom(outlet)
	job.Room.Benches = []jobfile.Bench{
		{ID: "upper", Wall: "north", XMM: clearMM(0), LengthMM: clearMM(3000), DepthMM: clearMM(450), HeightMM: clearMM(860)},
		{ID: "lower", Wall: "north", XMM: clearMM(0), LengthMM: clearMM(3000), DepthMM: clearMM(900), HeightMM: clearMM(430)},
	}
	got = clearTake(t, job)
	// Upper: strip at 430 from −450 to −950. Lower: strip at 0 from −900 to −1400.
	require.InDelta(t, math.Hypot(750, 180), got["out~upper.feet"].straight.Num, 1e-3)
	require.InDelta(t, math.Hypot(300, 250), got["out~lower.feet"].straight.Num, 1e-3)
}

// A screen lengthens the way and not the straight line.
func TestWayRoundAScreen(t *testing.T) {
	job := clearRoom(clearItem("out", "steam_outlet", "west", 300, 250), clearItem("sensor", "temperature_sensor", "west", 700, 250))
	job.Room.Partitions = []jobfile.Partition{{ID: "screen", Wall: "west", XMM: clearMM(500), LengthMM: clearMM(600), ThicknessMM: clearMM(10), HeightMM: clearMM(2200)}}
	got := clearTake(t, job)["out~sensor"]
	require.Equal(t, number(400), got.straight)
	require.InDelta(t, math.Hypot(200, 600)+10+math.Hypot(190, 600), got.way.Num, 1e-3)
	require.NotEmpty(t, got.way.Note())
	job.Room.Partitions[0].HeightMM = nil // left out: the way is shorter, which is on the safe side
	require.Equal(t, number(400).Num, clearTake(t, job)["out~sensor"].way.Num)
}

// What is not placed is never passed over in silence, and never paired with everything.
func TestClearancesOfWhatIsNotPlaced(t *testing.T) {
	outlet := clearItem("out", "steam_outlet", "west", 300, 250)
	lost := outlet
	lost.XMM = nil
	sensor := clearItem("sensor", "temperature_sensor", "west", 300, 1000)
	sensor2 := clearItem("sensor_2", "temperature_sensor", "west", 300, 1100)
	lostSensor := sensor
	lostSensor.Face = ""
	vent := clearItem("vent", "ventilation_outlet", "west", 700, 250)
	for _, x := range []struct {
		name    string
		items   []jobfile.Item
		unknown []string
	}{
		{"outlet not placed", []jobfile.Item{lost, sensor, sensor2}, []string{"bench.feet~?steam_outlet", "out~?temperature_sensor"}},
		{"sensor not placed", []jobfile.Item{outlet, lostSensor}, []string{"sensor~?steam_outlet"}},
		{"neither placed", []jobfile.Item{lost, lostSensor}, []string{"bench.feet~?steam_outlet", "out~?temperature_sensor"}},
		{"no sensor", []jobfile.Item{lost}, []string{"bench.feet~?steam_outlet"}},
		{"flow not given", []jobfile.Item{outlet, vent}, []string{"out~vent"}},
		{"lamp not placed", []jobfile.Item{{ID: "lamp", Kind: "spotlight"}}, []string{"lamp~?seat"}},
		{"lamp of no length", []jobfile.Item{{ID: "lamp", Kind: "led_strip", Face: "north"}}, []string{"lamp~?seat"}},
		{"door that opens some way", []jobfile.Item{{ID: "door", Kind: "glazed_door", Face: "south"}}, []string{"door~?bench"}},
	} {
		var got []string
		for _, s := range clearanceSubjects(newContext(clearRoom(x.items...))) {
			v := s.Clearance
			for _, y := range []Value{v.straight, v.way, v.above, v.foam, v.surface, v.cable, v.uncovered, v.swing} {
				if y.State == Unknown {
					got = append(got, s.ID)
					break
				}
			}
			require.NotNil(t, s.Clearance)
			require.NotEmpty(t, s.Pointer)
		}
		require.ElementsMatch(t, x.unknown, got, x.name)
	}
	// A bench without a size leaves open what could be near it.
	job := clearRoom(outlet, clearItem("lamp", "spotlight", "north", 1000, 1500))
	job.Room.Benches[0].DepthMM = nil
	got := clearTake(t, job)
	for _, id := range []string{"bench.feet~?steam_outlet", "bench.seat~?lamp", "bench~?opening"} {
		require.NotNil(t, got[id], id)
	}
	require.Len(t, got, 3)
}

// Without a plan of the room things on one face are still compared, and across faces nothing is told.
func TestClearancesWithoutAPlan(t *testing.T) {
	job := clearRoom(clearItem("out", "steam_outlet", "west", 300, 250), clearItem("near", "temperature_sensor", "west", 300, 1000), clearItem("far", "temperature_sensor", "east", 300, 1000))
	job.Room.Walls = job.Room.Walls[:2]
	job.Room.Walls[1].ID = "west"
	job.Room.Walls = append(job.Room.Walls, jobfile.Wall{ID: "east", WidthMM: clearMM(500)})
	job.Room.Benches = nil
	got := clearTake(t, job)
	require.Equal(t, number(750), got["out~near"].straight)
	require.Equal(t, number(750), got["out~near"].way)
	require.Equal(t, Unknown, got["out~?temperature_sensor"].way.State)
	require.Nil(t, got["out~far"])
}

// The foam between an insert and a groove in the back: beside each other, behind each other, and both.
func TestFoamToACableInTheBack(t *testing.T) {
	cable := jobfile.Item{ID: "heat", Kind: "heating_cable", Face: "east", Side: "back", Runs: [][][2]float64{{{200, 1000}, {1800, 1000}}}, GrooveWidthMM: clearMM(20), GrooveDepthMM: clearMM(16)}
	for _, x := range []struct {
		y, depth, want float64
	}{
		{1000, 14, 20},     // 50 − 14 − 16 behind each other
		{1000, 40, -6},     // they meet
		{1040, 40, 20},     // 40 − 10 − 10 beside each other
		{1036, 22, 20},     // 16 beside, 12 through
		{1040, 14, 28.284}, // 20 and 20
	} {
		rail := jobfile.Item{ID: "rail", Kind: "fixing", Face: "east", Inserts: []jobfile.Insert{{XMM: clearMM(1000), YMM: clearMM(x.y), DiameterMM: clearMM(20), DepthMM: clearMM(x.depth)}}}
		job := clearRoom(cable, rail)
		require.InDelta(t, x.want, clearTake(t, job)["rail.insert_1~heat"].foam.Num, 1e-3, "%v", x)
		require.Equal(t, None, holeValue(t, job, "insert", "rail.insert_1", "cable_web_mm").State, "it is not in its own side")
		job.Items[1].Side = "back"
		require.Empty(t, clearTake(t, job))
		require.Equal(t, Known, holeValue(t, job, "insert", "rail.insert_1", "cable_web_mm").State)
	}
}

// A leaf of 800 mm hung at X = 1500 of the south wall sweeps a quarter towards the west.
func TestSwingOfALeaf(t *testing.T) {
	door := jobfile.Item{ID: "door", Kind: "glazed_door", Face: "south", XMM: clearMM(1500), YMM: clearMM(0), WidthMM: clearMM(800), HeightMM: clearMM(1950), Swing: "inward", HingeSide: "left"}
	gap := func(change func(*jobfile.Job)) Value {
		job := clearRoom(door)
		change(job)
		if x := clearTake(t, job)["door~bench"]; x != nil {
			return x.swing
		}
		return none()
	}
	west := func(x, length, depth float64) func(*jobfile.Job) {
		return func(j *jobfile.Job) {
			j.Room.Benches[0] = jobfile.Bench{ID: "bench", Wall: "west", XMM: &x, LengthMM: &length, DepthMM: &depth, HeightMM: clearMM(430)}
		}
	}
	require.Equal(t, number(2000-450-800), gap(func(*jobfile.Job) {}))
	// A bench along the west wall from the south wall on, 900 deep: X 0 to 900, hinge at X = 1500: 600 along the wall.
	require.Equal(t, number(600-800), gap(west(0, 1000, 900)))
	// From 480 on: nearest corner 600 along and 480 into the room: 768.375.
	require.InDelta(t, math.Hypot(600, 480)-800, gap(west(480, 1000, 900)).Num, 1e-3)
	// Hung on the other side, at X = 700, the leaf sweeps away from it.
	require.Equal(t, None, gap(func(j *jobfile.Job) { west(0, 1000, 600)(j); j.Items[0].HingeSide = "right" }).State)
	// It stands in the doorway.
	require.Equal(t, number(-800), gap(west(0, 1000, 1600)))
	require.Equal(t, None, gap(func(j *jobfile.Job) { j.Items[0].YMM = clearMM(500) }).State, "the leaf passes over the bench")
}

func TestRoomOfAJob(t *testing.T) {
	drain := clearItem("drain", "drain", "floor", 1500, 1000)
	job := clearRoom(drain)
	job.Room.Ceiling.LowWall = "south"
	c := newContext(job)
	r, err := c.Room()
	require.NoError(t, err)
	// 2 % of the 1500 mm from the east and the west wall to the drain.
	p, ok := c.place3("floor", clearMM(1500), clearMM(1000))
	require.True(t, ok)
	require.InDelta(t, -30, p.Z, 1e-9)
	require.InDelta(t, 0, c.heightAbove("floor", p), 1e-9)
	// The ceiling rises from the south wall: over the drain by 10 % of 1000.
	p, ok = c.place3("ceiling", clearMM(1500), clearMM(1000))
	require.True(t, ok)
	require.InDelta(t, 2300, p.Z, 1e-9)
	require.InDelta(t, 2330, c.heightAbove("ceiling", p), 1e-9)
	require.InDelta(t, 2346, r.HeightAboveBoard(p), 1e-9, "3 + 4 + 9 of finish")
	require.Empty(t, c.room3().flat)

	job.Room.Ceiling.LowWall = ""
	c = newContext(job)
	p, _ = c.place3("ceiling", clearMM(1500), clearMM(1000))
	require.InDelta(t, 2200, p.Z, 1e-9)
	require.NotEmpty(t, c.room3().flat)

	job.Items = append(job.Items, clearItem("drain_2", "drain", "floor", 500, 1000))
	p, _ = newContext(job).place3("floor", clearMM(1500), clearMM(1000))
	require.Zero(t, p.Z, "two drains: level")

	job.Room.Walls[2].WidthMM = clearMM(2900)
	_, err = newContext(job).Room()
	var gap *geometry.GapError
	require.ErrorAs(t, err, &gap)
	require.InDelta(t, 100, gap.MissMM, 1e-9)
	job.Room.Walls[2].WidthMM = nil
	_, err = newContext(job).Room()
	require.ErrorIs(t, err, errPlan)
}

// A bench that is longer than its wall reaches out of the room.
func TestBenchInsideTheRoom(t *testing.T) {
	job := clearRoom()
	job.Room.Benches[0].LengthMM = clearMM(3040)
	require.Equal(t, number(-40), holeValue(t, job, "bench", "bench", "inside_room_mm"))
	job.Room.Benches[0].XMM = nil
	require.Equal(t, Unknown, holeValue(t, job, "bench", "bench", "inside_room_mm").State)
}

// Each kind of pair has an id of its own, so that two things may be paired more than once.
func TestClearanceIDsAreUnique(t *testing.T) {
	job := clearBench(200)
	seen := map[string]bool{}
	for _, s := range clearanceSubjects(newContext(job)) {
		require.False(t, seen[s.ID], s.ID)
		seen[s.ID] = true
	}
	require.NotEmpty(t, seen)
}

// clearBench is a long room with n items along its walls, as many in each stretch whatever n is.
func clearBench(n int) *jobfile.Job {
	job := clearRoom()
	width := float64(n) * 120
	for _, i := range []int{0, 2} {
		job.Room.Walls[i].WidthMM = &width
	}
	job.Room.Benches[0].LengthMM = &width
	for i := range n {
		x := 100 + float64(i)*110
		id := fmt.Sprint("i", i)
		var it jobfile.Item
		switch i % 8 {
		case 0:
			it = clearItem(id, "steam_outlet", "south", x, 250)
		case 1:
			it = clearItem(id, "temperature_sensor", "north", x, 1600)
		case 2:
			it = clearItem(id, "ventilation_outlet", "south", x, 400)
			it.Flow = "supply"
		case 3:
			it = clearItem(id, "spotlight", "ceiling", x, 300)
		case 4:
			it = jobfile.Item{ID: id, Kind: "fixing", Face: "south", Inserts: []jobfile.Insert{{XMM: clearMM(x), YMM: clearMM(900), DiameterMM: clearMM(19), DepthMM: clearMM(35)}}}
		case 5:
			it = clearItem(id, "drain", "floor", x, 1900)
			it.FlangeMM = clearMM(50)
		case 6:
			it = jobfile.Item{ID: id, Kind: "heating_cable", Face: "south", Side: "back", GrooveWidthMM: clearMM(16), GrooveDepthMM: clearMM(16), Runs: [][][2]float64{{{x - 300, 800}, {x - 20, 800}}}}
		case 7:
			it = clearItem(id, "shower", "south", x, 60)
		}
		yes := true
		it.Collar, it.CollarFlangeMM = &yes, clearMM(50)
		job.Items = append(job.Items, it)
	}
	return job
}

// BenchmarkClearances is finding and measuring all pairs of a job.
func BenchmarkClearances(b *testing.B) {
	for _, n := range []int{50, 200, 1000} {
		b.Run(fmt.Sprintf("items=%d", n), func(b *testing.B) {
			job := clearBench(n)
			pairs := 0
			b.ReportAllocs()
			for b.Loop() {
				pairs = len(clearanceSubjects(newContext(job)))
			}
			b.ReportMetric(float64(pairs), "pairs")
		})
	}
}
