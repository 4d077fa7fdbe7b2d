package air

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestSaturationTemperatureVectors(t *testing.T) {
	for _, c := range []struct { // S2: IAPWS R7-97(2012), table 36, published
		mpa, k float64
	}{{0.1, 372.755919}, {1, 453.035632}, {10, 584.149488}} {
		require.InDelta(t, c.k, value(t)(IF97.DewPoint(c.mpa*1e6))+KelvinOffset, 1e-6)
	}
}

func TestRegionVectors(t *testing.T) {
	for _, c := range []struct {
		id         string // S3: table 5, S4: table 15 of IAPWS R7-97(2012); published
		of         func(float64, float64) (State, error)
		k, mpa     float64
		v, h, cp   float64 // cp 0: not in the list
		dv, dh, dc float64
	}{
		{"S3", Water, 300, 3, 0.00100215168, 115.331273, 4.17301218, 1e-11, 1e-6, 1e-8},
		{"S3", Water, 300, 80, 0.000971180894, 184.142828, 4.01008987, 1e-12, 1e-6, 1e-8},
		{"S3", Water, 500, 3, 0.001202418, 975.542239, 4.65580682, 1e-11, 1e-6, 1e-8},
		{"S4", Steam, 300, 0.0035, 39.4913866, 2549.91145, 0, 1e-7, 1e-5, 0},
		{"S4", Steam, 700, 0.0035, 92.3015898, 3335.68375, 0, 1e-7, 1e-5, 0},
		{"S4", Steam, 700, 30, 0.00542946619, 2631.49474, 0, 1e-11, 1e-5, 0},
	} {
		s, err := c.of(c.k-KelvinOffset, c.mpa*1e6)
		require.NoError(t, err)
		require.InDelta(t, c.v, s.VolumeM3KG, c.dv, "%s %g K %g MPa", c.id, c.k, c.mpa)
		require.InDelta(t, c.h, s.EnthalpyKJKG, c.dh, "%s %g K %g MPa", c.id, c.k, c.mpa)
		if c.cp != 0 {
			require.InDelta(t, c.cp, s.HeatCapacityKJKGK, c.dc, "%s %g K %g MPa", c.id, c.k, c.mpa)
		}
	}
}

// TestSteamHeatCapacity holds the slope of the enthalpy against the heat capacity of steam.
func TestSteamHeatCapacity(t *testing.T) {
	for _, c := range [][2]float64{{26.85, 3500}, {426.85, 3500}, {426.85, 30e6}, {120, 101325}} {
		a, err := Steam(c[0]-0.001, c[1])
		require.NoError(t, err)
		b, err := Steam(c[0]+0.001, c[1])
		require.NoError(t, err)
		s, err := Steam(c[0], c[1])
		require.NoError(t, err)
		require.InEpsilon(t, (b.EnthalpyKJKG-a.EnthalpyKJKG)/0.002, s.HeatCapacityKJKGK, 1e-5)
	}
}

func TestSaturatedTable(t *testing.T) {
	for _, c := range []struct {
		tempC, p, vf, vg, hf, hg, hfg float64 // computed; S5 and S6 are in it
	}{
		{10, 1228.2, 0.00100035, 106.309, 42.02, 2519.2, 2477.2}, {20, 2339.2, 0.00100184, 57.7615, 83.92, 2537.5, 2453.6},
		{40, 7384.4, 0.00100788, 19.5170, 167.54, 2573.5, 2406.0}, {45, 9594.4, 0.00100991, 15.2534, 188.44, 2582.5, 2394.0},
		{60, 19945.8, 0.00101711, 7.66766, 251.15, 2608.85, 2357.7}, {80, 47414.7, 0.00102904, 3.40527, 334.95, 2643.0, 2308.1},
		{100, 101418, 0.00104346, 1.67186, 419.10, 2675.57, 2256.47},
		{105, 120902, 0.00104744, 1.41848, 440.21, 2683.4, 2243.2}, {110, 143376, 0.00105158, 1.20939, 461.36, 2691.1, 2229.7},
	} {
		s, err := SaturatedAt(c.tempC)
		require.NoError(t, err)
		require.InDelta(t, c.p, s.Pa, math.Max(0.06, c.p*5.1e-6), "%g °C", c.tempC)
		require.InDelta(t, c.vf, s.WaterM3KG, 6e-9, "%g °C", c.tempC)
		require.InEpsilon(t, c.vg, s.SteamM3KG, 5e-6, "%g °C", c.tempC)
		require.InDelta(t, c.hf, s.WaterKJKG, 0.0051, "%g °C", c.tempC)
		require.InDelta(t, c.hg, s.SteamKJKG, 0.051, "%g °C", c.tempC)
		require.InDelta(t, c.hfg, s.EvaporationKJKG, 0.051, "%g °C", c.tempC)
	}
	s, err := SaturatedAt(100) // S5
	require.NoError(t, err)
	require.InDelta(t, 2675.57, s.SteamKJKG, 0.01)
	require.InDelta(t, 2256.47, s.EvaporationKJKG, 0.01)
	require.InDelta(t, 1.67186, s.SteamM3KG, 1e-5)
	s, err = SaturatedAtPressure(StandardPressurePa) // S6
	require.NoError(t, err)
	require.InDelta(t, 99.9743, s.TemperatureC, 1e-4)
	require.InDelta(t, 1.6733, s.SteamM3KG, 1e-5)
	require.InDelta(t, 2256.54, s.EvaporationKJKG, 0.01)
	require.InDelta(t, 0.00104344, s.WaterM3KG, 6e-9)
	require.InDelta(t, 418.99, s.WaterKJKG, 0.0051)
	require.InDelta(t, 2675.53, s.SteamKJKG, 0.0051)
	// A litre of water at 10 °C makes 1.67 m³ of steam, 1671 times as much.
	cold, err := SaturatedAt(10)
	require.NoError(t, err)
	hot, err := SaturatedAt(100)
	require.NoError(t, err)
	require.InDelta(t, 1671, hot.SteamM3KG/cold.WaterM3KG, 0.5)
	// Heat that steam of 100 °C leaves in a room of 45 °C.
	room, err := SaturatedAt(45)
	require.NoError(t, err)
	require.InDelta(t, 2487.1, hot.SteamKJKG-room.WaterKJKG, 0.05)
}

func TestSteamErrors(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		of     func(float64, float64) (State, error)
		c, pa  float64
		reason error
	}{
		{Water, -1, 1e5, ErrTemperature}, {Water, 351, 1e8, ErrTemperature}, {Water, 20, 2000, ErrPressure}, {Water, 20, 101e6, ErrPressure},
		{Water, nan, 1e5, ErrTemperature}, {Water, 20, nan, ErrPressure},
		{Steam, -1, 500, ErrTemperature}, {Steam, 801, 1e5, ErrTemperature}, {Steam, 20, 2500, ErrPressure}, {Steam, 100, 0, ErrPressure},
		{Steam, 360, 25e6, ErrPressure}, {Steam, 700, 101e6, ErrPressure}, {Steam, nan, 1e5, ErrTemperature}, {Steam, 100, nan, ErrPressure},
	} {
		_, err := c.of(c.c, c.pa)
		require.ErrorIs(t, err, c.reason, "%g °C %g Pa", c.c, c.pa)
	}
	for _, bad := range []float64{-0.1, 350.1, nan, math.Inf(1)} {
		_, err := SaturatedAt(bad)
		require.ErrorIs(t, err, ErrTemperature)
	}
	for _, bad := range []float64{0, 500, 30e6, nan} {
		_, err := SaturatedAtPressure(bad)
		require.ErrorIs(t, err, ErrPressure)
	}
	_, err := SaturatedAtPressure(20e6) // saturated, but hotter than 350 °C
	require.ErrorIs(t, err, ErrTemperature)
	_, err = SaturatedAtPressure(611.2127) // 0 °C
	require.NoError(t, err)
}

func TestSaturatedIsOrdered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(0, 349).Draw(t, "c")
		a, err := SaturatedAt(c)
		require.NoError(t, err)
		b, err := SaturatedAt(c + 1)
		require.NoError(t, err)
		require.Greater(t, b.Pa, a.Pa)
		require.Less(t, b.SteamM3KG, a.SteamM3KG)
		require.Less(t, b.EvaporationKJKG, a.EvaporationKJKG)
		require.Greater(t, a.SteamM3KG, a.WaterM3KG)
		back, err := SaturatedAtPressure(a.Pa)
		require.NoError(t, err)
		require.InDelta(t, c, back.TemperatureC, 1e-6)
	})
}

func BenchmarkSaturatedAt(b *testing.B) {
	for b.Loop() {
		if _, err := SaturatedAt(45); err != nil {
			b.Fatal(err)
		}
	}
}

func TestPowersAreThoseBySquaring(t *testing.T) {
	for _, x := range []float64{0.3, -1.7, 7.1, 1e-3, 5.099} {
		var p [64]float64
		powers(p[:], x)
		for n, v := range p {
			require.Equal(t, pow(x, n), v, "%v to %d", x, n)
		}
	}
}
