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

// cableMeander is one run of n parallel legs, in mm.
func cableMeander(n int, length, pitch float64) [][][2]float64 {
	var run [][2]float64
	for i := range n {
		y, a, b := float64(i)*pitch, 0.0, length
		if i%2 == 1 {
			a, b = b, a
		}
		run = append(run, [2]float64{a, y}, [2]float64{b, y})
	}
	return [][][2]float64{run}
}

// cableContext makes a context with heating cables on one face.
func cableContext(items ...jobfile.Item) *Context {
	for i := range items {
		items[i].Kind = "heating_cable"
		if items[i].ID == "" {
			items[i].ID = fmt.Sprintf("cable_%d", i)
		}
		if items[i].Face == "" {
			items[i].Face = "floor"
		}
	}
	return newContext(&jobfile.Job{Room: &jobfile.Room{Floor: &jobfile.Floor{}}, Items: items})
}

func TestCableGeometry(t *testing.T) {
	c := cableContext(jobfile.Item{Runs: cableMeander(5, 2100, 80)})
	k := c.cable(&c.Job.Items[0])
	require.Empty(t, k.why)
	require.InDelta(t, 5*2100+4*80, k.lengthMM, 1e-9)
	// Four U-turns of two right angles at R = 40, each corner saves 2R − Rπ/2 (computed).
	require.InDelta(t, k.lengthMM-8*(2*40-40*math.Pi/2), k.roundedMM, 1e-9)
	require.InDelta(t, 80, *k.pitchMin, 1e-9)
	require.InDelta(t, 80, *k.pitchMax, 1e-9)
	require.InDelta(t, 40, *k.bendMM, 1e-9)
	require.False(t, k.crosses)
	require.Same(t, k, c.cable(&c.Job.Items[0]), "worked out once")
}

func TestCableSingleRun(t *testing.T) {
	c := cableContext(jobfile.Item{Runs: [][][2]float64{{{0, 0}, {1000, 0}}}})
	k := c.cable(&c.Job.Items[0])
	require.Empty(t, k.why)
	require.Nil(t, k.pitchMin)
	require.Nil(t, k.pitchMax)
	require.Nil(t, k.bendMM)
	require.InDelta(t, 1000, k.roundedMM, 1e-9)
}

func TestCableColdStripIsSeen(t *testing.T) {
	c := cableContext(jobfile.Item{Runs: [][][2]float64{{{0, 0}, {2000, 0}, {2000, 60}, {0, 60}, {0, 260}, {2000, 260}, {2000, 320}, {0, 320}}}})
	k := c.cable(&c.Job.Items[0])
	require.InDelta(t, 60, *k.pitchMin, 1e-9)
	require.InDelta(t, 200, *k.pitchMax, 1e-9)
}

func TestCableNeighbours(t *testing.T) {
	straight := func(y float64) [][][2]float64 { return [][][2]float64{{{0, y}, {1000, y}}} }
	c := cableContext(
		jobfile.Item{ID: "a", Runs: straight(0)},
		jobfile.Item{ID: "b", Runs: straight(70)},
		jobfile.Item{ID: "c", Runs: [][][2]float64{{{500, 70}, {500, 300}}}},
		jobfile.Item{ID: "d", Face: "ceiling", Runs: straight(10)},
		jobfile.Item{ID: "e"},
	)
	get := func(i int) *cable { return c.cable(&c.Job.Items[i]) }
	require.InDelta(t, 70, *get(0).pitchMin, 1e-9)
	require.Equal(t, "b", get(0).nearest)
	require.False(t, get(0).crosses)
	require.True(t, get(1).crosses, "b touches c")
	require.True(t, get(2).crosses)
	require.Nil(t, get(3).pitchMin, "another face")
	require.NotEmpty(t, get(4).why)
	require.Nil(t, c.cable(&jobfile.Item{Kind: "drain"}))
}

func TestCableThatCannotBeMeasured(t *testing.T) {
	for name, runs := range map[string][][][2]float64{
		"no runs":      nil,
		"empty list":   {},
		"one point":    {{{1, 1}}},
		"empty run":    {{}},
		"no length":    {{{1, 1}, {1, 1}}},
		"not finite":   {{{1, 1}, {math.Inf(1), 1}}},
		"not a number": {{{1, 1}, {math.NaN(), 1}}},
	} {
		t.Run(name, func(t *testing.T) {
			c := cableContext(jobfile.Item{Runs: runs})
			k := c.cable(&c.Job.Items[0])
			require.NotEmpty(t, k.why)
			for _, m := range []string{"pitch_min_mm", "pitch_max_mm", "bend_radius_mm", "crosses", "power_density_w_m2", "installed_length_m", "groove_web_mm"} {
				require.Equal(t, Unknown, heatingValue(t, c, 0, m).State, m)
			}
		})
	}
}

func TestCablePointsAreBounded(t *testing.T) {
	make2 := func(points int) *Context {
		run := make([][2]float64, points)
		for i := range run {
			run[i] = [2]float64{float64(i), 0}
		}
		return cableContext(jobfile.Item{Runs: [][][2]float64{run}}, jobfile.Item{Runs: cableMeander(2, 1000, 80)})
	}
	c := make2(maxCablePoints - 4)
	require.Empty(t, c.cable(&c.Job.Items[0]).why)
	c = make2(maxCablePoints - 3)
	require.Contains(t, c.cable(&c.Job.Items[0]).why, "4000 points")
	require.Contains(t, c.cable(&c.Job.Items[1]).why, "4000 points")
}

// The rounded length of any meander is known in closed form, and it never
// depends on where the meander lies or which way it runs.
func TestCableMeanderProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 12).Draw(t, "legs")
		pitch := float64(rapid.IntRange(20, 200).Draw(t, "pitch"))
		length := pitch * (1 + float64(rapid.IntRange(1, 20).Draw(t, "length")))
		dx, dy := rapid.Float64Range(-900, 900).Draw(t, "dx"), rapid.Float64Range(-900, 900).Draw(t, "dy")
		runs := cableMeander(n, length, pitch)
		for _, run := range runs {
			for i := range run {
				run[i][0] += dx
				run[i][1] += dy
			}
		}
		c := cableContext(jobfile.Item{Runs: runs})
		k := c.cable(&c.Job.Items[0])
		require.Empty(t, k.why)
		require.False(t, k.crosses)
		require.InDelta(t, pitch, *k.pitchMin, 1e-6)
		require.InDelta(t, pitch, *k.pitchMax, 1e-6)
		require.InDelta(t, pitch/2, *k.bendMM, 1e-6)
		// Each U-turn is half a circle in place of two half pitches out, one pitch across.
		want := float64(n)*length + float64(n-1)*(math.Pi*pitch/2-pitch)
		require.InDelta(t, want, k.roundedMM, 1e-6)
	})
}

func TestCableBendSavingLeavesFoldsAlone(t *testing.T) {
	fold := geometry.Runs{{{X: 0}, {X: 100}, {X: 0}}}
	require.Zero(t, cableBendSaving(fold, 40))
	require.Zero(t, cableBendSaving(geometry.Runs{{{X: 0}, {X: 100}, {X: 200}}}, 40))
}
