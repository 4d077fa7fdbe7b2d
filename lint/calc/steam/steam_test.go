package steam

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/calc/air"
)

func TestConstantsAreThoseOfSaturation(t *testing.T) {
	s, err := air.SaturatedAt(TemperatureC)
	require.NoError(t, err)
	require.InDelta(t, EnthalpyKJKG, s.SteamKJKG, 0.005)
	require.InDelta(t, EvaporationKJKG, s.EvaporationKJKG, 0.005)
	require.InDelta(t, VolumeM3KG, s.SteamM3KG, 5e-6)
}

func TestYield(t *testing.T) {
	for _, c := range []struct {
		id                   string
		feed, eff, want, tol float64
	}{
		{"E1", 10, 1, 1.367, 0.0002}, {"E1", 20, 1, 1.3891, 0.0002}, {"E1", 60, 1, 1.4849, 0.0002}, {"E1", 100, 1, 1.5954, 0.0002},
		{"E2", 10, 0.95, 1.2986, 0.0002},
		{"table", 5, 1, 1.356, 0.0005}, {"table", 15, 1, 1.378, 0.0005}, {"table", 10, 0.90, 1.230, 0.0005},
	} {
		got, err := YieldKGHPerKW(c.feed, c.eff)
		require.NoError(t, err)
		require.InDelta(t, c.want, got, c.tol, "%s: %v °C", c.id, c.feed)
	}
	y, err := YieldKGHPerKW(10, 1)
	require.NoError(t, err)
	require.InDelta(t, 0.732, 1/y, 0.0005, "kWh for each kg")
	for kw, kgh := range map[float64]float64{3: 4.10, 6: 8.20, 9: 12.30, 12: 16.40, 18: 24.61} {
		require.InDelta(t, kgh, kw*y, 0.006)
	}
	for _, x := range [][2]float64{{-1, 1}, {101, 1}, {10, 0}, {10, 1.1}, {math.NaN(), 1}, {10, math.NaN()}} {
		_, err := YieldKGHPerKW(x[0], x[1])
		require.ErrorIs(t, err, ErrRange)
	}
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0, 100).Draw(t, "a")
		b := rapid.Float64Range(a, 100).Draw(t, "b")
		ya, err := YieldKGHPerKW(a, 1)
		require.NoError(t, err)
		yb, err := YieldKGHPerKW(b, 1)
		require.NoError(t, err)
		require.GreaterOrEqual(t, yb, ya, "warmer feed, more steam")
	})
}

func TestHeatOfSteam(t *testing.T) {
	h, err := HeatKJKG(45)
	require.NoError(t, err)
	require.InDelta(t, 2487.1, h, 0.05)
	for _, c := range []float64{-1, 96, math.NaN()} {
		_, err := HeatKJKG(c)
		require.ErrorIs(t, err, ErrRange)
	}
}

func TestCurrent(t *testing.T) {
	for _, c := range []struct {
		kw, v  float64
		phases int
		want   float64
	}{{6, 230, 1, 26.087}, {6, 400, 3, 8.660}, {9, 400, 3, 12.990}, {18, 400, 3, 25.981}, {3, 230, 1, 13.043}, {0, 230, 1, 0}} {
		got, err := CurrentA(c.kw, c.v, c.phases)
		require.NoError(t, err)
		require.InDelta(t, c.want, got, 5e-4)
	}
	// Three phases of 230 V to the neutral share the load in equal parts.
	three, err := CurrentA(9, 230*math.Sqrt(3), 3)
	require.NoError(t, err)
	one, err := CurrentA(3, 230, 1)
	require.NoError(t, err)
	require.InDelta(t, one, three, 1e-9)
	for _, phases := range []int{0, 2, 4, -1} {
		_, err := CurrentA(6, 230, phases)
		require.ErrorIs(t, err, ErrRange)
	}
	for _, x := range [][2]float64{{-1, 230}, {6, 0}, {math.NaN(), 230}, {6, math.NaN()}, {6, math.Inf(1)}} {
		_, err := CurrentA(x[0], x[1], 1)
		require.ErrorIs(t, err, ErrRange)
	}
}

func TestBreaker(t *testing.T) {
	require.IsIncreasing(t, Breakers())
	for _, c := range [][3]float64{{0, 6, 10}, {6, 6, 10}, {6.001, 10, 13}, {26.09, 32, 40}, {32, 32, 40}, {12.99, 13, 16}, {101, 125, 125}, {125, 125, 125}} {
		least, next, err := BreakerA(c[0])
		require.NoError(t, err)
		require.Equal(t, [2]float64{c[1], c[2]}, [2]float64{least, next}, "%v A", c[0])
	}
	for _, a := range []float64{-1, 125.1, math.NaN()} {
		_, _, err := BreakerA(a)
		require.ErrorIs(t, err, ErrRange)
	}
}
