package ventilation

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// ls is a flow in l/s as m³/h.
func ls(v float64) float64 { f, _ := M3HFromLS(v); return f }

func TestCheckValues(t *testing.T) {
	o := SharpEdged()
	for _, v := range []struct {
		id        string
		published bool
		got       func() (float64, error)
		want, tol float64
	}{
		{"V1 15 l/s, 100 mm", false, func() (float64, error) { return DuctVelocityMS(ls(15), 100) }, 1.91, 0.001},
		{"V1 25 l/s, 100 mm", false, func() (float64, error) { return DuctVelocityMS(ls(25), 100) }, 3.183, 0.001},
		{"V1 15 l/s, 125 mm", false, func() (float64, error) { return DuctVelocityMS(ls(15), 125) }, 1.222, 0.001},
		{"V1 25 l/s, 125 mm", false, func() (float64, error) { return DuctVelocityMS(ls(25), 125) }, 2.037, 0.001},
		{"60 m³/h, 100 mm", false, func() (float64, error) { return DuctVelocityMS(60, 100) }, 2.12, 0.005},
		{"40 m³/h, 125 mm", false, func() (float64, error) { return DuctVelocityMS(40, 125) }, 0.91, 0.005},
		{"V2 15 l/s", false, func() (float64, error) { return AirChangesPerH(ls(15), 6.6) }, 8.182, 0.001},
		{"V2 25 l/s", false, func() (float64, error) { return AirChangesPerH(ls(25), 6.6) }, 13.636, 0.001},
		{"V3 2 Pa", false, func() (float64, error) { return o.FreeAreaMM2(ls(15), 2) }, 13469, 1},
		{"V3 5 Pa", false, func() (float64, error) { return o.FreeAreaMM2(ls(15), 5) }, 8518, 1},
		{"V3 10 Pa", false, func() (float64, error) { return o.FreeAreaMM2(ls(15), 10) }, 6023, 1},
		{"V4 50 cfm in l/s", false, func() (float64, error) { v, err := M3HFromCFM(50); return v / 3.6, err }, 23.6, 0.01},
		{"V4 20 cfm in l/s", false, func() (float64, error) { v, err := M3HFromCFM(20); return v / 3.6, err }, 9.44, 0.01},
		{"A1 area in cm²", false, func() (float64, error) {
			f, _ := FreshAirM3H(4, FreshAirPerPersonM3H)
			v, err := AreaAtVelocityMM2(f, 0.5)
			return v / 100, err
		}, 444, 4.44},
		{"A1 gap under 0.70 m", false, func() (float64, error) {
			f, _ := FreshAirM3H(4, FreshAirPerPersonM3H)
			a, _ := AreaAtVelocityMM2(f, 0.5)
			return UndercutMM(a, 700)
		}, 63, 0.63},
		// Approved Document F prints 10 mm at a door of 760 mm.
		{"T22 762 mm", true, func() (float64, error) { return UndercutMM(DoorUndercutMM2, 762) }, 9.974, 0.0005},
		{"T22 926 mm", true, func() (float64, error) { return UndercutMM(DoorUndercutMM2, 926) }, 8.207, 0.0005},
		{"T22 700 mm", true, func() (float64, error) { return UndercutMM(DoorUndercutMM2, 700) }, 10.857, 0.0005},
		{"10 mm at 760 mm", true, func() (float64, error) { return UndercutAreaMM2(760, 10) }, 7600, 0},
		{"two people, half an hour", false, func() (float64, error) { return CO2RisePercent(2, 18, 6.6, 0, 0.5) }, 0.27, 0.005},
		{"per person", false, func() (float64, error) { return PerPersonM3H(60, 3) }, 20, 0},
	} {
		got, err := v.got()
		require.NoError(t, err, v.id)
		require.InDelta(t, v.want, got, v.tol, v.id)
	}
}

func TestBalance(t *testing.T) {
	for _, c := range []struct {
		exhaust, supply float64
		want            Balanced
	}{
		{60, 60, Balanced{60, 0, 0}},
		{60, 40, Balanced{60, 20, 0}},
		{40, 60, Balanced{60, 0, 20}},
		{0, 0, Balanced{}},
	} {
		got, err := Balance(c.exhaust, c.supply)
		require.NoError(t, err)
		require.Equal(t, c.want, got)
	}
}

func TestBadInputIsAnError(t *testing.T) {
	o := SharpEdged()
	calls := map[string]func(float64) error{
		"M3HFromLS":          func(v float64) error { _, err := M3HFromLS(v); return err },
		"M3HFromCFM":         func(v float64) error { _, err := M3HFromCFM(v); return err },
		"DuctAreaMM2":        func(v float64) error { _, err := DuctAreaMM2(v); return err },
		"VelocityMS flow":    func(v float64) error { _, err := VelocityMS(v, 100); return err },
		"VelocityMS area":    func(v float64) error { _, err := VelocityMS(1, v); return err },
		"DuctVelocityMS":     func(v float64) error { _, err := DuctVelocityMS(1, v); return err },
		"AreaAtVelocity":     func(v float64) error { _, err := AreaAtVelocityMM2(v, 1); return err },
		"AreaAtVelocity v":   func(v float64) error { _, err := AreaAtVelocityMM2(1, v); return err },
		"AirChanges":         func(v float64) error { _, err := AirChangesPerH(v, 1); return err },
		"AirChanges volume":  func(v float64) error { _, err := AirChangesPerH(1, v); return err },
		"Cd":                 func(v float64) error { _, err := Orifice{v, 1.2}.FreeAreaMM2(1, 1); return err },
		"density":            func(v float64) error { _, err := Orifice{0.6, v}.PressurePa(1, 100); return err },
		"FreeArea":           func(v float64) error { _, err := o.FreeAreaMM2(v, 1); return err },
		"FreeArea pressure":  func(v float64) error { _, err := o.FreeAreaMM2(1, v); return err },
		"Pressure flow":      func(v float64) error { _, err := o.PressurePa(v, 100); return err },
		"Pressure area":      func(v float64) error { _, err := o.PressurePa(1, v); return err },
		"UndercutArea width": func(v float64) error { _, err := UndercutAreaMM2(v, 1); return err },
		"UndercutArea gap":   func(v float64) error { _, err := UndercutAreaMM2(700, v); return err },
		"Undercut area":      func(v float64) error { _, err := UndercutMM(v, 700); return err },
		"Undercut width":     func(v float64) error { _, err := UndercutMM(1, v); return err },
		"FreshAir people":    func(v float64) error { _, err := FreshAirM3H(v, 20); return err },
		"FreshAir":           func(v float64) error { _, err := FreshAirM3H(1, v); return err },
		"PerPerson":          func(v float64) error { _, err := PerPersonM3H(v, 1); return err },
		"PerPerson people":   func(v float64) error { _, err := PerPersonM3H(1, v); return err },
		"Balance exhaust":    func(v float64) error { _, err := Balance(v, 1); return err },
		"Balance supply":     func(v float64) error { _, err := Balance(1, v); return err },
		"CO2 people":         func(v float64) error { _, err := CO2RisePercent(v, 18, 6, 1, 1); return err },
		"CO2 litres":         func(v float64) error { _, err := CO2RisePercent(1, v, 6, 1, 1); return err },
		"CO2 volume":         func(v float64) error { _, err := CO2RisePercent(1, 18, v, 1, 1); return err },
		"CO2 flow":           func(v float64) error { _, err := CO2RisePercent(1, 18, 6, v, 1); return err },
		"CO2 hours":          func(v float64) error { _, err := CO2RisePercent(1, 18, 6, 1, v); return err },
	}
	for name, call := range calls {
		for _, v := range []float64{-1, math.NaN(), math.Inf(1), math.Inf(-1), 1e300} {
			require.ErrorIs(t, call(v), ErrRange, "%s of %g", name, v)
		}
	}
	_, err := o.PressurePa(MaxFlowM3H, 1)
	require.ErrorIs(t, err, ErrRange)
}

func TestAreaAndPressureAreInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.Float64Range(1, 500).Draw(t, "m³/h")
		p := rapid.Float64Range(0.5, 100).Draw(t, "Pa")
		a, err := SharpEdged().FreeAreaMM2(f, p)
		require.NoError(t, err)
		back, err := SharpEdged().PressurePa(f, a)
		require.NoError(t, err)
		require.InEpsilon(t, p, back, 1e-9)
		// Without contraction and losses the area at a velocity is that at its dynamic pressure.
		v := math.Sqrt(2 * p / AirDensityKGM3)
		ideal, err := Orifice{1, AirDensityKGM3}.FreeAreaMM2(f, p)
		require.NoError(t, err)
		plain, err := AreaAtVelocityMM2(f, v)
		require.NoError(t, err)
		require.InEpsilon(t, plain, ideal, 1e-9)
	})
}

func TestMoreAirMeansLessCO2(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.Float64Range(0, 200).Draw(t, "m³/h")
		h := rapid.Float64Range(0.1, 5).Draw(t, "h")
		more := f + rapid.Float64Range(1, 100).Draw(t, "more")
		a, err := CO2RisePercent(2, 18, 6.6, f, h)
		require.NoError(t, err)
		b, err := CO2RisePercent(2, 18, 6.6, more, h)
		require.NoError(t, err)
		require.Less(t, b, a)
		still, _ := CO2RisePercent(2, 18, 6.6, 0, h)
		nearly, _ := CO2RisePercent(2, 18, 6.6, 1e-6, h)
		require.InEpsilon(t, still, nearly, 1e-5)
	})
}

func TestBalanceAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		out, in := rapid.Float64Range(0, 500).Draw(t, "out"), rapid.Float64Range(0, 500).Draw(t, "in")
		b, err := Balance(out, in)
		require.NoError(t, err)
		require.InDelta(t, out+b.PushedM3H, in+b.MakeUpM3H, 1e-9)
		require.InDelta(t, b.RenewedM3H, in+b.MakeUpM3H, 1e-9)
	})
}
