package air

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func value(t testing.TB) func(float64, error) float64 {
	return func(v float64, err error) float64 {
		t.Helper()
		require.NoError(t, err)
		return v
	}
}

// row is one check value; published ones come from the named table, the others were worked out with a second program.
type row struct {
	id, source string
	published  bool
	in, want   float64
	tol        float64
}

const r797 = "IAPWS R7-97(2012) "

func TestSaturationVectors(t *testing.T) {
	for _, c := range []struct {
		f    Formula
		rows []row
	}{
		{IF97, []row{
			{"S1", r797 + "table 35", true, 300 - 273.15, 3536.58941, 1e-5},
			{"S1", r797 + "table 35", true, 500 - 273.15, 2638897.76, 1e-2},
			{"S1", r797 + "table 35", true, 600 - 273.15, 12344314.6, 1e-1},
			{"S5", "computed", false, 100, 101418, 1},
		}},
		{ASHRAE, []row{
			{"P1", "ASHRAE Fundamentals 2017, chapter 1, table 3", true, -20, 103.24, 0.03},
			{"P1", "ASHRAE Fundamentals 2017, chapter 1, table 3", true, -5, 401.74, 0.1},
			{"P1", "ASHRAE Fundamentals 2017, chapter 1, table 3", true, 5, 872.6, 0.3},
			{"P1", "ASHRAE Fundamentals 2017, chapter 1, table 3", true, 25, 3169.7, 1},
			{"P1", "ASHRAE Fundamentals 2017, chapter 1, table 3", true, 50, 12351.3, 4},
			{"P1", "ASHRAE Fundamentals 2017, chapter 1, table 3", true, 100, 101418, 30},
			{"P1", "ASHRAE Fundamentals 2017, chapter 1, table 3", true, 150, 476101.4, 100},
		}},
		{ISO13788, []row{
			{"P2", "formula of ISO 13788:2012, annex E", false, -10, 259.33, 0.01},
			{"P2", "formula of ISO 13788:2012, annex E", false, 0, 610.5, 0.01},
			{"P2", "formula of ISO 13788:2012, annex E", false, 10, 1227.31, 0.01},
			{"P2", "formula of ISO 13788:2012, annex E", false, 20, 2336.95, 0.01},
			{"P2", "formula of ISO 13788:2012, annex E", false, 23, 2807.81, 0.01},
			{"P2", "formula of ISO 13788:2012, annex E", false, 30, 4240.51, 0.01},
			{"P2", "formula of ISO 13788:2012, annex E", false, 40, 7370.93, 0.01},
			{"P2", "formula of ISO 13788:2012, annex E", false, 45, 9576.25, 0.01},
			{"P2", "formula of ISO 13788:2012, annex E", false, 50, 12328.55, 0.01},
			{"H1", "wet-room figures, computed", false, 45, 9576, 10},
		}},
		{Magnus, []row{ // hand calculation of the printed formula
			{"M1", "computed", false, 20, 611.2 * math.Exp(17.62*20/263.12), 1e-9},
			{"M2", "computed", false, -10, 611.2 * math.Exp(-22.46*10/262.62), 1e-9},
		}},
	} {
		for _, r := range c.rows {
			require.InDelta(t, r.want, value(t)(c.f.Saturation(r.in)), r.tol, "%s %v at %g °C (%s)", r.id, c.f, r.in, r.source)
		}
	}
}

// TestSaturationTable holds the three main forms side by side (computed).
func TestSaturationTable(t *testing.T) {
	for _, c := range [][4]float64{ // °C, ISO 13788, ASHRAE, IF97; 0 where there is none
		{-10, 259.33, 259.90, 0}, {-5, 401.18, 401.76, 0}, {0, 610.50, 611.15, 611.21}, {10, 1227.31, 1228.00, 1228.18},
		{20, 2336.95, 2338.80, 2339.21}, {23, 2807.81, 2810.44, 2810.92}, {30, 4240.51, 4246.03, 4246.69}, {40, 7370.93, 7383.46, 7384.43},
		{43, 8634.01, 8649.18, 8650.26}, {45, 9576.25, 9593.22, 9594.39}, {50, 12328.55, 12349.86, 12351.27}, {60, 19919.31, 19943.76, 19945.80},
		{100, 102135.2, 101418.7, 101418.0},
	} {
		for i, f := range []Formula{ISO13788, ASHRAE, IF97} {
			if want := c[i+1]; want != 0 {
				tol := 0.005 + 1e-9
				if want > 1e5 {
					tol = 0.05 + 1e-9
				}
				require.InDelta(t, want, value(t)(f.Saturation(c[0])), tol, "%v at %g °C", f, c[0])
			}
		}
	}
}

func TestFormsAgree(t *testing.T) {
	for c := -10.0; c <= 60; c += 0.5 {
		want := value(t)(ASHRAE.Saturation(c))
		require.InEpsilon(t, want, value(t)(ISO13788.Saturation(c)), 0.0023, "%g °C", c) // the larger of the two differences is 0.22 %
		require.InEpsilon(t, want, value(t)(Magnus.Saturation(c)), 0.005, "%g °C", c)
		if c >= 0 {
			require.InEpsilon(t, want, value(t)(IF97.Saturation(c)), 0.0002, "%g °C", c)
		}
	}
}

func TestDewPointVectors(t *testing.T) {
	for _, c := range []struct {
		id                     string
		tempC, humidity        float64
		iso, ashrae, tolerance float64
	}{
		{"P3", 20, 50, 9.269, 9.272, 0.001}, {"P3", 20, 65, 13.224, 13.227, 0.001}, {"P3", 25, 60, 16.695, 16.701, 0.001},
		{"P3", 40, 90, 38.037, 38.038, 0.001}, {"P3", 45, 95, 44.006, 44.006, 0.001},
		{"table of moist air", 23, 50, math.NaN(), 12.028, 0.001}, {"table of moist air", 24, 60, math.NaN(), 15.763, 0.001},
		{"more dew points", 20, 80, math.NaN(), 16.447, 0.001}, {"more dew points", 30, 80, math.NaN(), 26.169, 0.001},
		{"H1 wet-room figures", 20, 50, 9.3, 9.3, 0.1},
	} {
		if !math.IsNaN(c.iso) {
			require.InDelta(t, c.iso, value(t)(DewPoint(ISO13788, c.tempC, c.humidity)), c.tolerance, c.id)
		}
		require.InDelta(t, c.ashrae, value(t)(DewPoint(ASHRAE, c.tempC, c.humidity)), c.tolerance, c.id)
	}
	require.InDelta(t, 1168, value(t)(VapourPressure(ISO13788, 20, 50)), 10, "H1")
}

// TestMoistAirTable was worked out with a reference library for moist air, at 101 325 Pa.
func TestMoistAirTable(t *testing.T) {
	for _, c := range []struct {
		id                             string
		tempC, humidity                float64
		vapour, ratio, enthalpy, volum float64
	}{
		{"table", -5, 80, 321.4, 0.001979, -0.099, 0.76206},
		{"P4", 20, 50, 1169.4, 0.007262, 38.552, 0.84016},
		{"table", 23, 50, 1405.2, 0.008747, 45.388, 0.85076},
		{"table", 24, 60, 1791.1, 0.011192, 52.634, 0.85694},
		{"table", 30, 100, 4246.0, 0.027203, 99.732, 0.89635},
		{"table", 40, 100, 7383.5, 0.048883, 166.132, 0.95684},
		{"table", 42, 100, 8208.0, 0.054822, 183.646, 0.97148},
		{"table", 43, 100, 8649.2, 0.058044, 193.069, 0.97920},
		{"table", 45, 95, 9113.6, 0.061469, 204.149, 0.99036},
		{"P4", 45, 100, 9593.2, 0.065042, 213.385, 0.99554},
		{"table", 50, 100, 12349.9, 0.086327, 274.231, 1.04251},
		{"table", 60, 100, 19943.8, 0.152417, 458.566, 1.17506},
	} {
		p := value(t)(VapourPressure(ASHRAE, c.tempC, c.humidity))
		w := value(t)(HumidityRatio(p, StandardPressurePa))
		require.InDelta(t, c.vapour, p, 0.051, "%s %g °C", c.id, c.tempC)
		require.InDelta(t, c.ratio, w, 6e-7, "%s %g °C", c.id, c.tempC)
		require.InDelta(t, c.enthalpy, value(t)(Enthalpy(c.tempC, w)), 6e-4, "%s %g °C", c.id, c.tempC)
		require.InDelta(t, c.volum, value(t)(SpecificVolume(c.tempC, w, StandardPressurePa)), 6e-6, "%s %g °C", c.id, c.tempC)
		require.InDelta(t, (1+w)/c.volum, value(t)(Density(c.tempC, w, StandardPressurePa)), 2e-5)
		require.InDelta(t, p, value(t)(VapourPressureOfRatio(w, StandardPressurePa)), 1e-8)
		require.InDelta(t, c.humidity, value(t)(RelativeHumidity(ASHRAE, c.tempC, p)), 1e-9)
	}
}

// TestPublishedMoistAir holds rows of the handbook's real-gas table; the ideal-gas equations differ by up to 1 %, at 85 °C by 2 %.
func TestPublishedMoistAir(t *testing.T) {
	for _, c := range []struct {
		id              string
		tempC, ratio    float64
		ratioTol        float64
		enthalpy, enTol float64
	}{
		{"P5", 5, 0.005425, 3e-5, 0, 0}, {"P5", 25, 0.020173, 1e-4, 76.504, 0.8}, {"P5", 50, 0.086863, 9e-4, 275.353, 3},
		{"table 2", 85, 0.838105, 0.0168, 0, 0},
	} {
		w := value(t)(HumidityRatio(value(t)(ASHRAE.Saturation(c.tempC)), StandardPressurePa))
		require.InDelta(t, c.ratio, w, c.ratioTol, c.id)
		if c.enthalpy != 0 {
			require.InDelta(t, c.enthalpy, value(t)(Enthalpy(c.tempC, w)), c.enTol, c.id)
		}
	}
	// Handbook example 1: 40 °C dry bulb, 20 °C wet bulb; its figures are read from a chart.
	w := value(t)(HumidityRatioOfWetBulb(40, 20, StandardPressurePa))
	require.InDelta(t, 0.0065, w, 1.5e-4)
	p := value(t)(VapourPressureOfRatio(w, StandardPressurePa))
	require.InDelta(t, 7, value(t)(ASHRAE.DewPoint(p)), 0.5)
	require.InDelta(t, 14, value(t)(RelativeHumidity(ASHRAE, 40, p)), 0.5)
	require.InDelta(t, 56.7, value(t)(Enthalpy(40, w)), 0.1)
	require.InDelta(t, 0.896, value(t)(SpecificVolume(40, w, StandardPressurePa)), 5e-4)
	require.Zero(t, value(t)(HumidityRatioOfWetBulb(60, 5, StandardPressurePa)), "drier than dry is dry")
}

func TestAbsoluteHumidityVectors(t *testing.T) {
	for _, r := range []row{
		{"P6", "computed", false, 20, 17.27, 0.01}, {"P6", "computed", false, 40, 51, 0.01},
		{"P6", "computed", false, 45, 65.22, 0.01}, {"P6", "computed", false, 50, 82.67, 0.01},
	} {
		p := value(t)(ISO13788.Saturation(r.in))
		g := value(t)(AbsoluteHumidity(r.in, p))
		require.InDelta(t, r.want, g, r.tol, r.id)
		require.InEpsilon(t, p, value(t)(VapourPressureOfMass(r.in, g)), 1e-12)
	}
}

func TestBoilingPointFallsWithAltitude(t *testing.T) {
	for _, c := range [][2]float64{{0, 99.974}, {500, 98.3}, {1000, 96.6}} { // computed
		p := value(t)(PressureAtAltitude(c[0]))
		require.InDelta(t, c[1], value(t)(IF97.DewPoint(p)), 0.05)
	}
}

func TestErrors(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, f := range []Formula{ISO13788, Magnus, ASHRAE, IF97} {
		lo, hi, err := f.Range()
		require.NoError(t, err)
		for _, bad := range []float64{lo - 0.001, hi + 0.001, nan, inf, -inf} {
			_, err := f.Saturation(bad)
			require.ErrorIs(t, err, ErrTemperature, "%v %g", f, bad)
		}
		for _, bad := range []float64{-1, 0, nan, inf, 1e9} {
			_, err := f.DewPoint(bad)
			require.ErrorIs(t, err, ErrPressure, "%v %g", f, bad)
		}
	}
	_, err := Formula(9).Saturation(20)
	require.ErrorIs(t, err, ErrFormula)
	_, err = Formula(9).DewPoint(20)
	require.ErrorIs(t, err, ErrFormula)
	require.Equal(t, "Formula(9)", Formula(9).String())
	for what, c := range map[string]struct {
		want error
		f    func() (float64, error)
	}{
		"humidity above 100":      {ErrHumidity, func() (float64, error) { return VapourPressure(ASHRAE, 20, 100.1) }},
		"humidity below 0":        {ErrHumidity, func() (float64, error) { return DewPoint(ASHRAE, 20, -1) }},
		"dry air has no dew":      {ErrPressure, func() (float64, error) { return DewPoint(ASHRAE, 20, 0) }},
		"more than saturated":     {ErrPressure, func() (float64, error) { return RelativeHumidity(ASHRAE, 20, 2400) }},
		"boiling":                 {ErrPressure, func() (float64, error) { return HumidityRatio(101325, 101325) }},
		"no total pressure":       {ErrPressure, func() (float64, error) { return HumidityRatio(0, 0) }},
		"negative ratio":          {ErrHumidity, func() (float64, error) { return VapourPressureOfRatio(-0.1, 101325) }},
		"ratio not a number":      {ErrHumidity, func() (float64, error) { return Enthalpy(20, nan) }},
		"too hot":                 {ErrTemperature, func() (float64, error) { return Enthalpy(201, 0) }},
		"volume without pressure": {ErrPressure, func() (float64, error) { return SpecificVolume(20, 0, 0) }},
		"density too cold":        {ErrTemperature, func() (float64, error) { return Density(-101, 0, 101325) }},
		"negative vapour":         {ErrPressure, func() (float64, error) { return AbsoluteHumidity(20, -1) }},
		"negative mass":           {ErrHumidity, func() (float64, error) { return VapourPressureOfMass(20, -1) }},
		"wet bulb above dry bulb": {ErrTemperature, func() (float64, error) { return HumidityRatioOfWetBulb(20, 21, 101325) }},
		"wet bulb boils":          {ErrPressure, func() (float64, error) { return HumidityRatioOfWetBulb(150, 120, 101325) }},
		"space":                   {ErrAltitude, func() (float64, error) { return PressureAtAltitude(11001) }},
	} {
		_, err := c.f()
		require.True(t, errors.Is(err, c.want), "%s: %v", what, err)
	}
}

func TestSaturationRisesAndTurnsRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := Formula(rapid.IntRange(0, 3).Draw(t, "form"))
		lo, hi, _ := f.Range()
		c := rapid.Float64Range(lo, hi-0.01).Draw(t, "c")
		p, err := f.Saturation(c)
		require.NoError(t, err)
		q, err := f.Saturation(c + 0.01)
		require.NoError(t, err)
		require.Greater(t, q, p)
		back, err := f.DewPoint(p)
		require.NoError(t, err)
		require.InDelta(t, c, back, 1e-6)
	})
}

func TestMoistAirProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(-50, 90).Draw(t, "c")
		h := rapid.Float64Range(0.1, 99).Draw(t, "humidity")
		p, err := VapourPressure(ASHRAE, c, h)
		require.NoError(t, err)
		w, err := HumidityRatio(p, StandardPressurePa)
		require.NoError(t, err)
		back, err := VapourPressureOfRatio(w, StandardPressurePa)
		require.NoError(t, err)
		require.InEpsilon(t, p, back, 1e-9)
		dew, err := DewPoint(ASHRAE, c, h)
		require.NoError(t, err)
		require.Less(t, dew, c)
		wetter, err := VapourPressure(ASHRAE, c, h+1)
		require.NoError(t, err)
		w2, err := HumidityRatio(wetter, StandardPressurePa)
		require.NoError(t, err)
		e, err := Enthalpy(c, w)
		require.NoError(t, err)
		e2, err := Enthalpy(c, w2)
		require.NoError(t, err)
		require.Greater(t, e2, e, "wetter air holds more heat")
	})
}

func BenchmarkDewPointASHRAE(b *testing.B) {
	for b.Loop() {
		if _, err := ASHRAE.DewPoint(1169.4); err != nil {
			b.Fatal(err)
		}
	}
}
