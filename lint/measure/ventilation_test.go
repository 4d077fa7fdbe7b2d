package measure

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

func ventP(v float64) *float64 { return &v }

// ventRoom is a room of 2400 × 1800 mm and 2250 mm height, with a bench at its first wall.
func ventRoom(items ...jobfile.Item) *jobfile.Job {
	return &jobfile.Job{
		Room: &jobfile.Room{
			HeightMM: ventP(2250),
			Walls:    []jobfile.Wall{{ID: "north", WidthMM: ventP(2400)}, {ID: "east", WidthMM: ventP(1800)}, {ID: "south", WidthMM: ventP(2400), HeightMM: ventP(2400)}, {ID: "west", WidthMM: ventP(1800)}},
			Floor:    &jobfile.Floor{},
			Ceiling:  &jobfile.Ceiling{Shape: "sloped", SlopePercent: ventP(10)},
			Benches:  []jobfile.Bench{{ID: "bench", Wall: "north", XMM: ventP(0), LengthMM: ventP(2400), DepthMM: ventP(450), HeightMM: ventP(430)}},
		},
		Panel:   &jobfile.Panel{ThicknessMM: ventP(50)},
		BuildUp: []jobfile.Layer{{Layer: "mesh"}, {Layer: "tile"}},
		Items:   items,
	}
}

func ventItem(id, kind, face string, x, y float64) jobfile.Item {
	return jobfile.Item{ID: id, Kind: kind, Face: face, XMM: &x, YMM: &y}
}

// ventTake measures one item of a job.
func ventTake(t *testing.T, job *jobfile.Job, kind, id, name string) Value {
	t.Helper()
	table := NewPlan(nil).Measure(job).Table(kind)
	require.NotNil(t, table)
	i := table.Find(id)
	require.GreaterOrEqual(t, i, 0)
	col := table.Column(name)
	require.NotNil(t, col, name)
	return col[i]
}

func TestVentSegment3(t *testing.T) {
	at := func(x, y, z float64) geometry.Point3 { return geometry.Point3{X: x, Y: y, Z: z} }
	for _, c := range []struct {
		p, a, b geometry.Point3
		want    float64
	}{
		{at(0, 0, 0), at(3, 4, 0), at(3, 4, 0), 5},                                     // a single point
		{at(0, 0, 0), at(-5, 3, 4), at(5, 3, 4), 5},                                    // foot inside
		{at(0, 0, 0), at(2, 3, 6), at(9, 3, 6), 7},                                     // nearest end
		{at(1, 1, 1), at(0, 0, 0), at(2, 2, 2), 0},                                     // on the segment
		{at(0, 0, 3), at(1, 0, 0), at(0, 1, 0), math.Sqrt(9 + 0.5)},                    // across the planes
		{at(300, 250, 0), at(100, 750, 0), at(1700, 750, 0), 500},                      // in one plane
		{at(2400, -300, 250), at(2000, 0, 250), at(100, 0, 250), 500},                  // round a corner, 300 and 400 mm from it
		{at(50000, 50000, 50000), at(0, 0, 0), at(0, 0, 0), 50000 * 1.732050807568877}, // the largest room
	} {
		d, err := ventSegment3(c.p, c.a, c.b)
		require.NoError(t, err)
		require.InDelta(t, c.want, d, 1e-9*math.Max(1, c.want))
	}
	_, err := ventSegment3(at(math.NaN(), 0, 0), at(0, 0, 0), at(1, 0, 0))
	require.Error(t, err)
}

// In a plane the distance is that of the plane geometry, and it changes by no more than a point is moved.
func TestVentSegment3AgreesWithThePlane(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Float64Range(-1000, 1000)
		draw := func(name string) geometry.Point3 {
			return geometry.Point3{X: n.Draw(t, name+" x"), Y: n.Draw(t, name+" y")}
		}
		p, a, b := draw("p"), draw("a"), draw("b")
		flat := func(q geometry.Point3) geometry.Point { return geometry.Point{X: q.X, Y: q.Y} }
		want, err := geometry.PointSegment(flat(p), flat(a), flat(b))
		require.NoError(t, err)
		got, err := ventSegment3(p, a, b)
		require.NoError(t, err)
		require.InDelta(t, want, got, 1e-6)
		turned, err := ventSegment3(p, b, a)
		require.NoError(t, err)
		require.InDelta(t, got, turned, 1e-6)
		dz := n.Draw(t, "dz")
		p.Z += dz
		lifted, err := ventSegment3(p, a, b)
		require.NoError(t, err)
		require.InDelta(t, math.Hypot(want, dz), lifted, 1e-6)
	})
}

func TestVentHeights(t *testing.T) {
	for _, c := range []struct {
		face           string
		y              float64
		height, lo, up float64
	}{
		{"north", 1500, 1500, 750, 1500}, // 2250 mm high
		{"south", 1600, 1600, 800, 1600}, // a wall with a height of its own
		{"ceiling", 900, 2250, 750, 1500},
		{"floor", 900, 0, 750, 1500},
		{"bench.seat", 200, 430, 750, 1500},
		{"bench.riser", 200, 200, 750, 1500},
	} {
		job := ventRoom(ventItem("vent", "ventilation_outlet", c.face, 600, c.y), ventItem("sensor", "temperature_sensor", c.face, 600, c.y))
		require.Equal(t, number(c.height), ventTake(t, job, "ventilation_outlet", "vent", "outlet_height_mm"), c.face)
		require.Equal(t, number(c.lo), ventTake(t, job, "ventilation_outlet", "vent", "lower_third_mm"), c.face)
		require.Equal(t, number(c.up), ventTake(t, job, "ventilation_outlet", "vent", "upper_third_mm"), c.face)
		require.Equal(t, number(c.height), ventTake(t, job, "temperature_sensor", "sensor", "sensor_height_mm"), c.face)
	}
	job := ventRoom(jobfile.Item{ID: "vent", Kind: "ventilation_outlet", YMM: ventP(250)}, ventItem("up", "ventilation_outlet", "ceiling", 1, 1), jobfile.Item{ID: "bare", Kind: "ventilation_outlet", Face: "north"})
	job.Room.HeightMM = nil
	for _, id := range []string{"vent", "up", "bare"} {
		require.Equal(t, Unknown, ventTake(t, job, "ventilation_outlet", id, "outlet_height_mm").State, id)
		require.Equal(t, Unknown, ventTake(t, job, "ventilation_outlet", id, "upper_third_mm").State, id)
	}
}

// EN 1506:2007 (as given in a national draft of the same scheme): fittings up to 125 mm are 0.7 to 1.2 mm
// smaller outside than the nominal size.
func TestVentPlay(t *testing.T) {
	for _, c := range []struct {
		nominal, spigot, opening *float64
		want                     Value
		note                     bool
	}{
		{ventP(100), ventP(99.3), ventP(102), number(2.7), false},
		{ventP(100), ventP(98.8), ventP(102), number(3.2), false},
		{ventP(125), ventP(124.3), ventP(127), number(2.7), false},
		{ventP(100), nil, ventP(102), number(2), true},
		{nil, ventP(99), ventP(98), number(-1), false},
		{ventP(100), ventP(99), nil, unknown(), false},
		{nil, nil, ventP(102), unknown(), false},
	} {
		job := ventRoom(jobfile.Item{ID: "vent", Kind: "ventilation_outlet", DiameterMM: c.nominal, SpigotODMM: c.spigot, OpeningDiameterMM: c.opening})
		got := ventTake(t, job, "ventilation_outlet", "vent", "opening_play_mm")
		require.True(t, c.want.Same(got), "%+v: %+v", c, got)
		require.Equal(t, c.note, got.Note() != "")
	}
}

func TestVentSensorDistance(t *testing.T) {
	const kind, name = "ventilation_outlet", "sensor_distance_mm"
	sensor := func(face string, x, y float64) jobfile.Item {
		return ventItem("sensor", "temperature_sensor", face, x, y)
	}
	vent := ventItem("vent", kind, "south", 300, 1600)
	for _, c := range []struct {
		sensor jobfile.Item
		want   Value
	}{
		{sensor("south", 600, 2000), number(500)},                       // 300 and 400 in the plane
		{sensor("east", 1400, 1600), number(500)},                       // 300 and 400 from the corner
		{sensor("east", 1400, 400), number(1300)},                       // 500 in plan and 1200 in height
		{sensor("north", 2100, 1600), number(1800)},                     // straight across the room
		{sensor("floor", 2100, 1800), number(1600)},                     // straight below
		{sensor("bench.seat", 2100, 0), number(math.Hypot(1350, 1170))}, // 1350 in plan and 1170 in height
		{jobfile.Item{ID: "sensor", Kind: "temperature_sensor", Face: "east", XMM: ventP(1)}, unknown()},
		{jobfile.Item{ID: "sensor", Kind: "temperature_sensor", XMM: ventP(1), YMM: ventP(1)}, unknown()},
	} {
		got := ventTake(t, ventRoom(vent, c.sensor), kind, "vent", name)
		require.True(t, c.want.Same(got), "%+v: %+v", c.sensor, got)
	}
	require.Equal(t, none(), ventTake(t, ventRoom(vent), kind, "vent", name))

	t.Run("the nearest of several counts, and one without a place leaves it open", func(t *testing.T) {
		far, near := sensor("south", 300, 2200), sensor("south", 300, 2000)
		near.ID = "near"
		got := ventTake(t, ventRoom(vent, far, near), kind, "vent", name)
		require.Equal(t, number(400).note("to near"), got)
		near.YMM = nil
		got = ventTake(t, ventRoom(vent, far, near), kind, "vent", name)
		require.Equal(t, Unknown, got.State)
		require.Contains(t, got.Note(), "near")
	})
	t.Run("only distances across faces need a plan that closes", func(t *testing.T) {
		job := ventRoom(vent, sensor("south", 600, 2000))
		job.Room.Walls[0].WidthMM = ventP(1000)
		require.Equal(t, 500.0, ventTake(t, job, kind, "vent", name).Num)
		job = ventRoom(vent, sensor("east", 1400, 1600))
		job.Room.Walls[0].WidthMM = ventP(1000)
		require.Equal(t, Unknown, ventTake(t, job, kind, "vent", name).State)
	})
	t.Run("a sloped ceiling is told", func(t *testing.T) {
		job := ventRoom(vent, sensor("ceiling", 2100, 1800))
		got := ventTake(t, job, kind, "vent", name)
		require.Equal(t, 650.0, got.Num)
		require.Contains(t, got.Note(), "ceiling is taken as flat")
		job.Room.Ceiling.Shape = "flat"
		require.NotContains(t, ventTake(t, job, kind, "vent", name).Note(), "ceiling")
	})
}

func TestVentSupplyDistance(t *testing.T) {
	const kind, name = "ventilation_outlet", "supply_distance_mm"
	flow := func(f string, it jobfile.Item) jobfile.Item { it.Flow = f; return it }
	out, in := ventItem("out", kind, "north", 400, 2000), ventItem("in", kind, "north", 400, 300)
	for i, c := range []struct {
		items []jobfile.Item
		want  Value
	}{
		{[]jobfile.Item{flow("exhaust", out), flow("supply", in)}, number(1700)},
		{[]jobfile.Item{flow("exhaust", out)}, none()},
		{[]jobfile.Item{flow("exhaust", out), flow("exhaust", in)}, none()},
		{[]jobfile.Item{flow("supply", out), flow("supply", in)}, none()},
		{[]jobfile.Item{flow("supply", out), in}, none()},
		{[]jobfile.Item{flow("exhaust", out), in}, unknown()},
		{[]jobfile.Item{out, flow("supply", in)}, unknown()},
		{[]jobfile.Item{out}, none()}, // whatever its flow is, there is no pair
		{[]jobfile.Item{flow("exhaust", out), flow("supply", jobfile.Item{ID: "in", Kind: kind, Face: "north"})}, unknown()},
	} {
		got := ventTake(t, ventRoom(c.items...), kind, "out", name)
		require.True(t, c.want.Same(got), "case %d: %+v", i, got)
	}
}

func TestVentTiled(t *testing.T) {
	for i, c := range []struct {
		face string
		own  []jobfile.Layer
		want Value
	}{
		{"north", nil, yes(true)},
		{"north", []jobfile.Layer{{Layer: "mesh"}, {Layer: "lime_plaster"}}, yes(false)},
		{"north", []jobfile.Layer{{Layer: "lime_plaster"}, {Layer: "tile"}}, yes(true)},
		{"north", []jobfile.Layer{{Layer: "mesh"}}, unknown()},
		{"north", []jobfile.Layer{}, unknown()},
		{"", nil, unknown()},
	} {
		job := ventRoom(ventItem("vent", "ventilation_outlet", c.face, 1, 1))
		job.Room.Walls[0].BuildUp = c.own
		got := ventTake(t, job, "ventilation_outlet", "vent", "face_tiled")
		require.True(t, c.want.Same(got), "case %d: %+v", i, got)
	}
	job := ventRoom(ventItem("vent", "ventilation_outlet", "north", 1, 1))
	job.BuildUp = nil
	require.Equal(t, Unknown, ventTake(t, job, "ventilation_outlet", "vent", "face_tiled").State)
}

// A job without facts must leave every measure open, and must not stop the program.
func TestVentWithoutFacts(t *testing.T) {
	for _, kind := range []string{"ventilation_outlet", "temperature_sensor", "fibre_lights", "led_strip", "spotlight", "light_source"} {
		job := &jobfile.Job{Room: &jobfile.Room{}, Items: []jobfile.Item{{ID: "it", Kind: kind}}}
		table := NewPlan(nil).Measure(job).Table(kind)
		require.NotNil(t, table)
		for j, d := range table.Defs {
			v := table.Columns[j][0]
			require.NotEqual(t, Known, v.State, fmt.Sprintf("%s.%s", kind, d.Name))
		}
	}
}
