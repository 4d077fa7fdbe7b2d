package heating

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// check is a value to hold a result against, with where it comes from.
type check struct {
	id        string
	source    string
	published bool // printed by the source; otherwise computed from it
	got       func() (float64, error)
	want, tol float64
}

func TestVectors(t *testing.T) {
	window := func(w Window, err error, hi bool) (float64, error) {
		if hi {
			return w.Hi, err
		}
		return w.Lo, err
	}
	r60, err := ResistanceOhm(230, 600)
	require.NoError(t, err)
	for _, c := range []check{
		{"V-12 pitch", "trade guide", true, func() (float64, error) { return PitchMM(5-0.5, 60) }, 75, 1e-9},
		{"V-12 power", "trade guide", true, func() (float64, error) { return RatedPowerW(10, 60) }, 600, 1e-9},
		{"V-14 resistance", "U²/P", false, func() (float64, error) { return ResistanceOhm(230, 600) }, 88.17, 0.01},
		{"V-14 lowest resistance", "−5 %", false, func() (float64, error) { w, err := ResistanceWindow(r60); return window(w, err, false) }, 83.76, 0.01},
		{"V-14 highest resistance", "+10 %", false, func() (float64, error) { w, err := ResistanceWindow(r60); return window(w, err, true) }, 96.98, 0.01},
		{"V-14 least power", "U²/R", false, func() (float64, error) { w, err := PowerWindow(230, r60); return window(w, err, false) }, 545.5, 0.1},
		{"V-14 most power", "U²/R", false, func() (float64, error) { w, err := PowerWindow(230, r60); return window(w, err, true) }, 631.6, 0.1},
		{"V-14 density", "q = p/s", false, func() (float64, error) { return DensityWM2(10, 75) }, 133.3, 0.05},
		{"V-15 54 m", "P0·L0/L", false, func() (float64, error) { return CutPowerW(600, 60, 54) }, 666.7, 0.1},
		{"V-15 50 m", "P0·L0/L", false, func() (float64, error) { return CutPowerW(600, 60, 50) }, 720, 0.1},
		{"V-15 30 m", "P0·L0/L", false, func() (float64, error) { return CutPowerW(600, 60, 30) }, 1200, 0.1},
		{"V-15 54 m, each metre", "p0·(L0/L)²", false, func() (float64, error) { return CutWattsPerM(10, 60, 54) }, 12.35, 0.1},
		{"V-15 50 m, each metre", "p0·(L0/L)²", false, func() (float64, error) { return CutWattsPerM(10, 60, 50) }, 14.40, 0.1},
		{"V-15 30 m, each metre", "p0·(L0/L)²", false, func() (float64, error) { return CutWattsPerM(10, 60, 30) }, 40, 0.1},
		{"cut by a tenth, power", "+11 %", false, func() (float64, error) { return CutPowerW(100, 10, 9) }, 111.1, 0.05},
		{"cut by a tenth, each metre", "+23.5 %", false, func() (float64, error) { return CutWattsPerM(100, 10, 9) }, 123.5, 0.05},
		{"V-16 240 V", "U²", false, func() (float64, error) { return PowerAtVoltageW(600, 230, 240) }, 653.3, 0.1},
		{"V-16 253 V", "U²", false, func() (float64, error) { return PowerAtVoltageW(600, 230, 253) }, 726.0, 0.1},
		{"V-16 207 V", "U²", false, func() (float64, error) { return PowerAtVoltageW(600, 230, 207) }, 486.0, 0.1},
		{"V-17 length", "1000·A/s", false, func() (float64, error) { return LengthM(2.40*(0.45+0.35), 60) }, 32.0, 1e-9},
		{"V-17 power", "p·L", false, func() (float64, error) { return RatedPowerW(10, 32) }, 320, 1e-9},
		{"V-17 density", "q = p/s", false, func() (float64, error) { return DensityWM2(10, 60) }, 166.7, 0.1},
		{"V-17 resistance", "U²/P", false, func() (float64, error) { return ResistanceOhm(230, 320) }, 165.3, 0.1},
		{"V-17 lowest resistance", "−5 %", false, func() (float64, error) { w, err := ResistanceWindow(230 * 230 / 320.0); return window(w, err, false) }, 157.0, 0.1},
		{"V-17 highest resistance", "+10 %", false, func() (float64, error) { w, err := ResistanceWindow(230 * 230 / 320.0); return window(w, err, true) }, 181.8, 0.1},
		{"V-23 29/20", "EN 1264-2", true, func() (float64, error) { return FluxWM2(Upward, 29-20) }, 100.0, 0.1},
		{"V-23 33/24", "EN 1264-2", true, func() (float64, error) { return FluxWM2(Upward, 33-24) }, 100.0, 0.1},
		{"V-23 35/20", "EN 1264-2", true, func() (float64, error) { return FluxWM2(Upward, 35-20) }, 175.4, 0.1},
		{"V-23 33/20", "EN 1264-2", false, func() (float64, error) { return FluxWM2(Upward, 33-20) }, 149.9, 0.1},
		{"F1 5 K", "EN 1264-2", false, func() (float64, error) { return FluxWM2(Upward, 5) }, 52.39, 0.01},
		{"F1 9 K", "EN 1264-2, 100 W/m²", true, func() (float64, error) { return FluxWM2(Upward, 9) }, 100.01, 0.01},
		{"F1 15 K", "EN 1264-2, 175 W/m²", true, func() (float64, error) { return FluxWM2(Upward, 15) }, 175.41, 0.01},
		{"F1 20 K", "EN 1264-2", false, func() (float64, error) { return FluxWM2(Upward, 20) }, 240.71, 0.01},
		{"F2 100 W/m²", "inverse", false, func() (float64, error) { return RiseK(Upward, 100) }, 9.0, 0.01},
		{"F2 150 W/m²", "inverse", false, func() (float64, error) { return RiseK(Upward, 150) }, 13.01, 0.01},
		{"F2 175 W/m²", "inverse", false, func() (float64, error) { return RiseK(Upward, 175) }, 14.97, 0.01},
		{"wall", "8·Δθ", true, func() (float64, error) { return FluxWM2(Upright, 10) }, 80, 1e-9},
		{"ceiling", "6·Δθ", true, func() (float64, error) { return FluxWM2(Downward, 10) }, 60, 1e-9},
		{"surface", "20 °C and 150 W/m²", false, func() (float64, error) { return SurfaceC(Upward, 20, 150) }, 33.01, 0.01},
		{"bend", "6 × outside diameter", true, func() (float64, error) { return BendRadiusMM(6) }, 36, 1e-9},
		{"deviation", "100·(90/88.17 − 1)", false, func() (float64, error) { return DeviationPercent(90, 88.17) }, 2.0755, 1e-3},
	} {
		t.Run(c.id, func(t *testing.T) {
			got, err := c.got()
			require.NoError(t, err)
			require.InDelta(t, c.want, got, c.tol, "%s (published: %v)", c.source, c.published)
		})
	}
}

func TestLengthDifference(t *testing.T) {
	for _, c := range []struct {
		lo, hi, surplus, supplied, want float64
	}{{10, 10, 2, 12, 0}, {10, 11, 1.5, 12, 0}, {10, 10, 1.88, 12, -1}, {10, 10, 2.12, 12, 1}, {54, 54, 0, 60, -10}} {
		got, err := LengthDifferencePercent(Window{c.lo, c.hi}, c.surplus, c.supplied)
		require.NoError(t, err)
		require.InDelta(t, c.want, got, 1e-9)
	}
	for _, c := range []struct{ lo, hi, surplus, supplied float64 }{{2, 1, 0, 12}, {1, 1, 0, 0}, {1, 1, -1, 12}, {-1, 1, 0, 12}, {1, math.NaN(), 0, 12}} {
		_, err := LengthDifferencePercent(Window{c.lo, c.hi}, c.surplus, c.supplied)
		require.ErrorIs(t, err, ErrRange)
	}
}

func meander(legs int, lengthMM, pitchMM float64) (out [][2]float64) {
	for i := range legs {
		y, a, b := float64(i)*pitchMM, 0.0, lengthMM
		if i%2 == 1 {
			a, b = b, a
		}
		out = append(out, [2]float64{a, y}, [2]float64{b, y})
	}
	return out
}

func TestFieldArea(t *testing.T) {
	s := 75.0
	for name, c := range map[string]struct {
		points [][2]float64
		want   float64
	}{
		"a point":                {[][2]float64{{5, 5}}, math.Pi * s * s / 4},
		"the same point twice":   {[][2]float64{{5, 5}, {5, 5}}, math.Pi * s * s / 4},
		"one leg":                {[][2]float64{{0, 0}, {3000, 0}}, 3000*s + math.Pi*s*s/4},
		"a leg there and back":   {[][2]float64{{0, 0}, {3000, 0}, {0, 0}}, 3000*s + math.Pi*s*s/4},
		"20 legs of 3 m (V-12)":  {meander(20, 3000, s), 3000*1425 + (3000+1425)*s + math.Pi*s*s/4},
		"an L counts its notch":  {[][2]float64{{0, 0}, {1000, 0}, {1000, 1000}}, 500000 + (2000+math.Sqrt2*1000)*s/2 + math.Pi*s*s/4},
		"points inside the hull": {[][2]float64{{0, 0}, {1000, 0}, {500, 200}, {1000, 1000}, {500, 500}, {0, 1000}}, 1e6 + 4000*s/2 + math.Pi*s*s/4},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := FieldAreaM2(c.points, s)
			require.NoError(t, err)
			require.InDelta(t, c.want/1e6, got, 1e-9)
		})
	}
	// 61.425 m of cable at 75 mm are 4.607 m², and so is the field, to 0.2 %.
	got, err := FieldAreaM2(meander(20, 3000, s), s)
	require.NoError(t, err)
	require.InDelta(t, 61.425*0.075, got, 0.002*4.607)
	for _, bad := range [][][2]float64{nil, {{math.NaN(), 0}}, {{0, 2e7}}} {
		_, err := FieldAreaM2(bad, s)
		require.ErrorIs(t, err, ErrRange)
	}
	_, err = FieldAreaM2([][2]float64{{0, 0}}, 0)
	require.ErrorIs(t, err, ErrRange)
}

func TestInsulation(t *testing.T) {
	for _, c := range []struct {
		extraLow    bool
		volts       float64
		mohm, testV float64
	}{{true, 12, 0.5, 250}, {false, 24, 1, 500}, {false, 230, 1, 500}, {false, 500, 1, 500}, {false, 501, 1, 1000}} {
		got, err := InsulationFor(c.extraLow, c.volts)
		require.NoError(t, err)
		require.Equal(t, InsulationNeed{c.mohm, c.testV}, got)
	}
	_, err := InsulationFor(false, 0)
	require.ErrorIs(t, err, ErrRange)
	mains := InsulationNeed{1, 500}
	for _, c := range []struct {
		mohm, volts float64
		want        Insulation
	}{{0.999, 500, InsulationFailed}, {0.999, 1000, InsulationFailed}, {1, 499, InsulationUnproven}, {1, 500, InsulationLow}, {19.9, 500, InsulationLow}, {20, 500, InsulationSound}, {900, 250, InsulationUnproven}} {
		got, err := JudgeInsulation(mains, c.mohm, c.volts)
		require.NoError(t, err)
		require.Equal(t, c.want, got, "%v MΩ at %v V", c.mohm, c.volts)
	}
	for _, c := range [][2]float64{{-1, 500}, {1, -1}, {math.NaN(), 500}, {1, math.Inf(1)}} {
		got, err := JudgeInsulation(mains, c[0], c[1])
		require.ErrorIs(t, err, ErrRange)
		require.Equal(t, InsulationFailed, got)
	}
}

func TestRampAndControl(t *testing.T) {
	for _, c := range []struct {
		from, to, ramp float64
		want           int
	}{{20, 45, 5, 5}, {20, 45.1, 5, 6}, {20, 42, 5, 5}, {20, 20, 5, 0}, {30, 20, 5, 0}, {20, 20.3, 0.1, 3}, {20, 21, 5, 1}} {
		got, err := RampDays(c.from, c.to, c.ramp)
		require.NoError(t, err)
		require.Equal(t, c.want, got, "%v to %v °C", c.from, c.to)
	}
	_, err := RampDays(20, 45, 0)
	require.ErrorIs(t, err, ErrRange)
	_, err = RampDays(math.NaN(), 45, 5)
	require.ErrorIs(t, err, ErrRange)
	for _, c := range []struct{ room, free, limit, want float64 }{{20, 31, 42, 31}, {20, 50, 42, 42}, {45, 56, 42, 45}, {45, 56, 50, 50}} {
		got, err := ControlledC(c.room, c.free, c.limit)
		require.NoError(t, err)
		require.Equal(t, c.want, got)
	}
	_, err = ControlledC(20, 30, math.Inf(1))
	require.ErrorIs(t, err, ErrRange)
}

func TestBadInputIsAnError(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1} {
		for name, f := range map[string]func() (float64, error){
			"area":       func() (float64, error) { return PitchMM(v, 1) },
			"length":     func() (float64, error) { return PitchMM(1, v) },
			"pitch":      func() (float64, error) { return AreaM2(v, 1) },
			"pitch 2":    func() (float64, error) { return LengthM(1, v) },
			"density":    func() (float64, error) { return DensityWM2(10, v) },
			"power":      func() (float64, error) { return RatedPowerW(v, 1) },
			"ohm":        func() (float64, error) { return PowerW(230, v) },
			"volts":      func() (float64, error) { return ResistanceOhm(v, 1) },
			"left":       func() (float64, error) { return CutPowerW(600, 60, v) },
			"left 2":     func() (float64, error) { return CutWattsPerM(10, 60, v) },
			"supplied":   func() (float64, error) { return CutPowerW(600, v, 1) },
			"voltage":    func() (float64, error) { return PowerAtVoltageW(600, 230, v) },
			"rated":      func() (float64, error) { return PowerAtVoltageW(600, v, 230) },
			"nominal":    func() (float64, error) { return DeviationPercent(1, v) },
			"value":      func() (float64, error) { return DeviationPercent(v, 1) },
			"diameter":   func() (float64, error) { return BendRadiusMM(v) },
			"rise":       func() (float64, error) { return FluxWM2(Upward, v) },
			"flow":       func() (float64, error) { return RiseK(Upright, v) },
			"flow 2":     func() (float64, error) { return SurfaceC(Downward, 20, v) },
			"plate":      func() (float64, error) { w, err := PowerWindow(230, v); return w.Lo, err },
			"the plates": func() (float64, error) { w, err := ResistanceWindow(v); return w.Lo, err },
		} {
			_, err := f()
			require.ErrorIs(t, err, ErrRange, "%s %v", name, v)
		}
	}
	_, err := CutPowerW(600, 60, 61)
	require.ErrorIs(t, err, ErrRange, "a cable is not cut longer")
	_, err = FluxWM2(Surface(9), 1)
	require.ErrorIs(t, err, ErrRange)
	_, err = RiseK(Surface(-1), 1)
	require.ErrorIs(t, err, ErrRange)
	_, err = SurfaceC(Upward, math.NaN(), 1)
	require.ErrorIs(t, err, ErrRange)
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ok := func(v float64, err error) float64 {
			if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%v, %v", v, err)
			}
			return v
		}
		near := func(a, b float64) {
			if math.Abs(a-b) > 1e-9*(1+math.Abs(a)) {
				t.Fatalf("%v is not %v", a, b)
			}
		}
		area, length := rapid.Float64Range(0.1, 100).Draw(t, "m²"), rapid.Float64Range(1, 1000).Draw(t, "m")
		pitch := ok(PitchMM(area, length))
		near(area, ok(AreaM2(pitch, length)))
		near(length, ok(LengthM(area, pitch)))

		volts, watts := rapid.Float64Range(6, 690).Draw(t, "V"), rapid.Float64Range(1, 5000).Draw(t, "W")
		near(watts, ok(PowerW(volts, ok(ResistanceOhm(volts, watts)))))

		// What is cut off raises the power, and the power of each metre faster still.
		left := length * rapid.Float64Range(0.1, 1).Draw(t, "left")
		p := ok(CutPowerW(watts, length, left))
		if p < watts*(1-1e-12) {
			t.Fatalf("cut to %v of %v m: %v W", left, length, p)
		}
		near(p/left, ok(CutWattsPerM(watts/length, length, left)))

		s := rapid.SampledFrom([]Surface{Upward, Upright, Downward}).Draw(t, "surface")
		rise := rapid.Float64Range(0, 100).Draw(t, "K")
		q := ok(FluxWM2(s, rise))
		near(rise, ok(RiseK(s, q)))
		if more := ok(FluxWM2(s, rise+0.1)); more <= q {
			t.Fatalf("%v W/m² at %v K, %v at 0.1 K more", q, rise, more)
		}

		// The field of one meander is its length times its pitch, but for its rounded rim.
		legs, leg := rapid.IntRange(2, 20).Draw(t, "legs"), rapid.Float64Range(500, 5000).Draw(t, "leg")
		step := rapid.Float64Range(50, 150).Draw(t, "step")
		field := ok(FieldAreaM2(meander(legs, leg, step), step))
		laid := (float64(legs)*leg + float64(legs-1)*step) / 1000
		if a := ok(AreaM2(step, laid)); math.Abs(field-a) > 2*step*step/1e6 {
			t.Fatalf("field %v m², pitch × length %v m²", field, a)
		}
	})
}

func BenchmarkFieldArea(b *testing.B) {
	points := meander(200, 3000, 75)
	for b.Loop() {
		if _, err := FieldAreaM2(points, 75); err != nil {
			b.Fatal(err)
		}
	}
}

func TestCoverDifference(t *testing.T) {
	for _, c := range []struct{ lo, hi, area, want float64 }{{4.5, 4.5, 4.5, 0}, {4, 5, 4.5, 0}, {4.95, 5.5, 4.5, 10}, {3, 4.05, 4.5, -10}, {0, 0, 4.5, -100}} {
		got, err := CoverDifferencePercent(Window{c.lo, c.hi}, c.area)
		require.NoError(t, err)
		require.InDelta(t, c.want, got, 1e-9)
	}
	for _, c := range [][3]float64{{1, 1, 0}, {2, 1, 1}, {-1, 1, 1}, {1, math.NaN(), 1}} {
		_, err := CoverDifferencePercent(Window{c[0], c[1]}, c[2])
		require.ErrorIs(t, err, ErrRange)
	}
}
