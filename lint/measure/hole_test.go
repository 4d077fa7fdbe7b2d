package measure

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
)

func holeMM(v float64) *float64 { return &v }

// holeRoom is a closed room of 3000 × 2000 mm, 2200 mm high, with panel joints.
func holeRoom(items ...jobfile.Item) *jobfile.Job {
	return &jobfile.Job{
		Room: &jobfile.Room{
			HeightMM: holeMM(2200),
			Walls: []jobfile.Wall{
				{ID: "north", WidthMM: holeMM(3000), PanelJointsXMM: []float64{1000, 2000}},
				{ID: "east", WidthMM: holeMM(2000), PanelJointsXMM: []float64{}},
				{ID: "south", WidthMM: holeMM(3000)},
				{ID: "west", WidthMM: holeMM(2000)},
			},
			Floor: &jobfile.Floor{}, Ceiling: &jobfile.Ceiling{},
			Benches: []jobfile.Bench{{ID: "bench", Wall: "north", LengthMM: holeMM(2000), DepthMM: holeMM(450), HeightMM: holeMM(430)}},
		},
		Panel: &jobfile.Panel{ThicknessMM: holeMM(50)},
		Items: items,
	}
}

func holeSpot(id, face string, x, y, d float64) jobfile.Item {
	yes := true
	return jobfile.Item{ID: id, Kind: "spotlight", Face: face, XMM: holeMM(x), YMM: holeMM(y), OpeningDiameterMM: holeMM(d), Collar: &yes, CollarFlangeMM: holeMM(50)}
}

// holeValue measures a job and returns one value.
func holeValue(t testing.TB, job *jobfile.Job, kind, id, name string) Value {
	t.Helper()
	table := NewPlan(nil).Measure(job).Table(kind)
	require.NotNil(t, table, "no %s", kind)
	row := table.Find(id)
	require.GreaterOrEqual(t, row, 0, "no %s %s", kind, id)
	col := table.Column(name)
	require.NotNil(t, col, "no measure %s", name)
	return col[row]
}

func TestHolesOfAJob(t *testing.T) {
	in := []jobfile.Insert{{XMM: holeMM(1), YMM: holeMM(2), DiameterMM: holeMM(19)}, {}}
	job := holeRoom(
		holeSpot("spot", "ceiling", 500, 500, 68),
		jobfile.Item{ID: "generator", Kind: "steam_generator"},
		jobfile.Item{ID: "switch", Kind: "accessory", Place: "outside_room", OpeningDiameterMM: holeMM(60)},
		jobfile.Item{ID: "panel", Kind: "accessory", Place: "in_room", Face: "north"},
		jobfile.Item{ID: "socket", Kind: "accessory", Place: "in_room", Face: "north", OpeningDiameterMM: holeMM(60)},
		jobfile.Item{ID: "rail", Kind: "fixing", Face: "east", Inserts: in},
		jobfile.Item{ID: "stars", Kind: "fibre_lights", Face: "ceiling", Points: [][2]float64{{1, 2}, {3, 4}}, OpeningDiameterMM: holeMM(5)},
		jobfile.Item{ID: "drain", Kind: "drain", Face: "floor"},
	)
	c := newContext(job)
	var ids []string
	sealed := 0
	for i := range c.Holes() {
		h := &c.Holes()[i]
		ids = append(ids, h.ID)
		if h.Sealed() {
			sealed++
		}
	}
	require.Equal(t, []string{"spot", "socket", "rail.insert_1", "rail.insert_2", "stars.point_1", "stars.point_2", "drain"}, ids)
	require.Equal(t, 1, sealed, "a drain has a flange of its own, and nothing but the spotlight has a collar")
	require.Equal(t, 4.0, *c.Holes()[5].Y)
	require.True(t, c.Holes()[2].Placed())
	require.False(t, c.Holes()[3].Placed())
}

func TestHolesStandWhereTheyAreWritten(t *testing.T) {
	f, err := jobfile.Load("job.yaml", []byte(`wetrule: 1
reference: holes
stage: design
judged_on: 2026-06-30
room: {use: steam_room, walls: [{id: north, width_mm: 2000}], ceiling: {}}
items:
  - {id: stars, kind: fibre_lights, face: ceiling, points: [[1, 2], [3, 4]]}
  - {id: rail, kind: fixing, face: north, inserts: [{x_mm: 1, y_mm: 2}]}
`))
	require.NoError(t, err)
	for _, h := range newContext(f.Job).Holes() {
		require.NotNil(t, h.Pos, h.ID)
		require.Same(t, f.Root.At(h.Pointer), h.Pos, h.ID)
	}
}

func TestPairsAreNearOnes(t *testing.T) {
	job := holeRoom(
		holeSpot("b", "north", 500, 500, 20),
		holeSpot("a", "north", 719, 500, 20),   // 219 between centres, 199 between edges
		holeSpot("far", "north", 500, 720, 20), // 220 between centres, 200 between edges
		holeSpot("other_face", "south", 500, 500, 20),
		jobfile.Item{ID: "lost", Kind: "drain", XMM: holeMM(500), YMM: holeMM(500), OpeningDiameterMM: holeMM(20)},
		jobfile.Item{ID: "stars", Kind: "fibre_lights", Face: "north", Points: [][2]float64{{500, 450}, {505, 450}}, OpeningDiameterMM: holeMM(5)},
	)
	var got []string
	for _, p := range newContext(job).Pairs() {
		got = append(got, fmt.Sprintf("%s~%s %.0f", p.A.ID, p.B.ID, p.CentreMM))
	}
	require.Equal(t, []string{"a~b 219", "b~stars.point_1 50", "b~stars.point_2 50"}, got)
}

// A hole without a diameter could be as wide as the job format allows.
func TestPairsOfUnknownDiameterAreNotMissed(t *testing.T) {
	wide := holeSpot("wide", "north", 1000, 500, 0)
	wide.OpeningDiameterMM = nil
	job := holeRoom(holeSpot("b", "north", 400, 500, 20), wide)
	require.Equal(t, Unknown, holeValue(t, job, "opening_pair", "b~wide", "gap_mm").State)
	require.Equal(t, Unknown, holeValue(t, job, "opening_pair", "b~wide", "web_needed_mm").State)
}

// Every pair that lacks foam between its holes, or whose collars lap, is among those found, and none is found twice.
func TestPairsMissNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		faces := []string{"north", "east", "ceiling"}
		var items []jobfile.Item
		for i := range rapid.IntRange(0, 25).Draw(t, "items") {
			it := holeSpot(fmt.Sprintf("i%d", i), rapid.SampledFrom(faces).Draw(t, "face"), rapid.Float64Range(0, 3000).Draw(t, "x"), rapid.Float64Range(0, 2000).Draw(t, "y"), rapid.Float64Range(1, 500).Draw(t, "d"))
			it.CollarFlangeMM = holeMM(rapid.Float64Range(0, 300).Draw(t, "flange"))
			if rapid.IntRange(0, 4).Draw(t, "points") == 0 {
				it = jobfile.Item{ID: it.ID, Kind: "fibre_lights", Face: it.Face, OpeningDiameterMM: holeMM(5), Points: [][2]float64{{*it.XMM, *it.YMM}, {*it.XMM + 10, *it.YMM}}}
			}
			items = append(items, it)
		}
		c := newContext(holeRoom(items...))
		found := map[[2]string]bool{}
		for _, p := range c.Pairs() {
			key := [2]string{p.A.ID, p.B.ID}
			require.Less(t, p.A.ID, p.B.ID)
			require.False(t, found[key], "%v is found twice", key)
			require.False(t, p.A.Sort == PointHole && p.B.Sort == PointHole)
			found[key] = true
		}
		holes := c.Holes()
		for i := range holes {
			for j := range holes {
				a, b := &holes[i], &holes[j]
				if a.ID >= b.ID || a.Item.Face != b.Item.Face || a.Sort == PointHole && b.Sort == PointHole {
					continue
				}
				p := &Pair{a, b, math.Hypot(*a.X-*b.X, *a.Y-*b.Y)}
				gap, need := pairGap(p), collarsNeeded(p)
				matters := gap.Num < webNeeded(p).Num || gap.Num < 2*pairReachMM || need.State == Known && p.CentreMM < need.Num
				if matters && !found[[2]string{a.ID, b.ID}] {
					t.Fatalf("%s and %s are %v mm apart and not among the pairs", a.ID, b.ID, gap.Num)
				}
			}
		}
	})
}

func BenchmarkPairs(b *testing.B) {
	for _, n := range []int{50, 200, 1000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			// Holes at an even density, so that the number of pairs grows as the number of holes.
			across := int(math.Ceil(math.Sqrt(float64(n))))
			items := make([]jobfile.Item, n)
			for i := range items {
				items[i] = holeSpot(fmt.Sprintf("i%d", i), []string{"north", "south", "ceiling"}[i%3], float64(i%across)*170, float64(i/across)*170, 60)
			}
			job := holeRoom(items...)
			b.ReportAllocs()
			for b.Loop() {
				newContext(job).Pairs()
			}
		})
	}
}

func BenchmarkPairsOfFibreField(b *testing.B) {
	stars := jobfile.Item{ID: "stars", Kind: "fibre_lights", Face: "ceiling", OpeningDiameterMM: holeMM(5)}
	for i := range 2000 {
		stars.Points = append(stars.Points, [2]float64{float64(i % 50 * 60), float64(i / 50 * 50)})
	}
	job := holeRoom(stars, holeSpot("spot", "ceiling", 1500, 1000, 68))
	b.ReportAllocs()
	for b.Loop() {
		newContext(job).Pairs()
	}
}
