package pipe

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// H9 and the table of interface temperatures (computed, radial only).
func TestInterface(t *testing.T) {
	for _, c := range []struct{ od, insulation, want, tol float64 }{
		{22, 9, 83.8, 0.05}, {22, 13, 78.6, 0.05}, {22, 19, 72.01, 0.01}, {22, 25, 66.5, 0.05}, {22, 30, 62.4, 0.05},
		{22, 0, 100, 1e-9},    // bare
		{22, 89, 32.5, 1e-9},  // the insulation fills the whole radius
		{40, 120, 32.5, 1e-9}, // and more than that
		{200, 10, 32.5, 1e-9}, // a tube as wide as that
		{18, 19, 70.90, 0.01},
		{28, 19, 73.23, 0.01},
		{35, 19, 74.17, 0.01}, // 19 mm keeps every usual tube below 75 °C
		{22, 18, 72.98, 0.05}, // nearly a kelvin for each millimetre
		{22, 16, 75.10, 0.05}, // the first millimetre that no longer does
		{22, 1, 97.73, 0.01},  // thin sleeves hardly help
	} {
		got, err := SteamTubeInFoam.InterfaceC(c.od, c.insulation)
		require.NoError(t, err)
		require.InDelta(t, c.want, got, c.tol, "%v × %v", c.od, c.insulation)
	}
}

func TestInterfaceFallsWithInsulation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		od := rapid.Float64Range(3, 200).Draw(t, "od")
		a := rapid.Float64Range(0, 200).Draw(t, "thin")
		b := a + rapid.Float64Range(0, 100).Draw(t, "more")
		thin, err := SteamTubeInFoam.InterfaceC(od, a)
		require.NoError(t, err)
		thick, err := SteamTubeInFoam.InterfaceC(od, b)
		require.NoError(t, err)
		require.LessOrEqual(t, thick, thin+1e-9)
		require.True(t, thin <= SteamTubeInFoam.TubeC && thick >= SteamTubeInFoam.FarC-1e-9, "%v %v", thin, thick)
	})
}

func TestInsulationForInterface(t *testing.T) {
	mm, err := SteamTubeInFoam.InsulationForInterface(22, 75)
	require.NoError(t, err)
	require.InDelta(t, 16.1, mm, 0.1)
	rapid.Check(t, func(t *rapid.T) {
		od, limit := rapid.Float64Range(3, 190).Draw(t, "od"), rapid.Float64Range(33, 99.9).Draw(t, "limit")
		mm, err := SteamTubeInFoam.InsulationForInterface(od, limit)
		require.NoError(t, err)
		got, err := SteamTubeInFoam.InterfaceC(od, mm)
		require.NoError(t, err)
		require.InDelta(t, limit, got, 1e-6)
	})
	mm, err = SteamTubeInFoam.InsulationForInterface(22, 100)
	require.NoError(t, err)
	require.Zero(t, mm)
	for _, x := range [][2]float64{{22, 32.5}, {22, 20}, {200, 75}} {
		_, err = SteamTubeInFoam.InsulationForInterface(x[0], x[1])
		require.ErrorIs(t, err, ErrUnreachable)
	}
	for _, x := range [][2]float64{{0, 75}, {math.NaN(), 75}, {22, math.NaN()}, {22, math.Inf(-1)}} {
		_, err = SteamTubeInFoam.InsulationForInterface(x[0], x[1])
		require.ErrorIs(t, err, ErrRange)
	}
	_, err = InFoam{}.InterfaceC(22, 9)
	require.ErrorIs(t, err, ErrRange)
	_, err = SteamTubeInFoam.InterfaceC(22, -1)
	require.ErrorIs(t, err, ErrRange)
}
