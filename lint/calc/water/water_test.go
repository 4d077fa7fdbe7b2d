package water

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// vector is a check value; published ones were printed by others, the rest are worked out.
type vector struct {
	id        string
	published bool
	got       func() (float64, error)
	want, tol float64
}

func convert(v float64, from, to Unit) func() (float64, error) {
	return func() (float64, error) { return Convert(v, from, to) }
}

func TestCheckValues(t *testing.T) {
	resin := Softener{ResinL: 5, CapacityEqL: OperatingCapacityEqL}
	german := func(d float64) float64 { v, _ := Convert(d, GermanDegree, MmolL); return v }
	for _, v := range []vector{
		{"W1 mg/l", false, convert(1, MmolL, MgLCaCO3), 100.09, 0.005},
		{"W1 °dH", false, convert(1, MmolL, GermanDegree), 5.608, 0.001},
		{"W1 °fH", false, convert(1, MmolL, FrenchDegree), 10.009, 0.001},
		{"W1 °e", false, convert(1, MmolL, EnglishDegree), 7.022, 0.001},
		{"W1 gpg", false, convert(1, MmolL, GrainPerUSGallon), 5.847, 0.001},
		{"W1 meq", false, convert(1, MmolL, MeqL), 2, 0},
		{"W2 °dH in mmol/l", false, convert(1, GermanDegree, MmolL), 0.1783, 0.0001},
		{"W2 °dH in mg/l", false, convert(1, GermanDegree, MgLCaCO3), 17.848, 0.001},
		{"W2 gpg in mg/l", false, convert(1, GrainPerUSGallon, MgLCaCO3), 17.118, 0.001},
		{"W2 °e in mg/l", false, convert(1, EnglishDegree, MgLCaCO3), 14.254, 0.001},
		// WRMG § 9 prints both units.
		{"W3 1.5 mmol/l", true, convert(1.5, MmolL, GermanDegree), 8.4, 0.05},
		{"W3 2.5 mmol/l", true, convert(2.5, MmolL, GermanDegree), 14, 0.05},
		// The table of units, row by row (published values confirmed by pages).
		{"°dH in °fH", true, convert(1, GermanDegree, FrenchDegree), 1.785, 0.0005},
		{"°dH in °e", true, convert(1, GermanDegree, EnglishDegree), 1.252, 0.0005},
		{"°dH in gpg", true, convert(1, GermanDegree, GrainPerUSGallon), 1.043, 0.0005},
		{"°fH in °dH", true, convert(1, FrenchDegree, GermanDegree), 0.560, 0.0005},
		{"°fH in °e", true, convert(1, FrenchDegree, EnglishDegree), 0.702, 0.0005},
		{"°fH in gpg", true, convert(1, FrenchDegree, GrainPerUSGallon), 0.584, 0.0005},
		{"°fH in mmol/l", true, convert(1, FrenchDegree, MmolL), 0.0999, 0.00005},
		{"°e in °dH", true, convert(1, EnglishDegree, GermanDegree), 0.799, 0.0005},
		{"°e in °fH", true, convert(1, EnglishDegree, FrenchDegree), 1.425, 0.0005},
		{"°e in gpg", true, convert(1, EnglishDegree, GrainPerUSGallon), 0.833, 0.0005},
		{"°e in mmol/l", true, convert(1, EnglishDegree, MmolL), 0.1424, 0.00005},
		{"gpg in °dH", true, convert(1, GrainPerUSGallon, GermanDegree), 0.959, 0.0005},
		{"gpg in °fH", true, convert(1, GrainPerUSGallon, FrenchDegree), 1.712, 0.0005},
		{"gpg in °e", true, convert(1, GrainPerUSGallon, EnglishDegree), 1.201, 0.0005},
		{"gpg in mmol/l", true, convert(1, GrainPerUSGallon, MmolL), 0.1710, 0.00005},
		// CaCO3 = 2.497·Ca + 4.118·Mg (published factors).
		{"calcium", true, func() (float64, error) {
			v, _ := FromCaMg(100, 0)
			return Convert(v, MmolL, MgLCaCO3)
		}, 249.7, 0.05},
		{"magnesium", true, func() (float64, error) {
			v, _ := FromCaMg(0, 100)
			return Convert(v, MmolL, MgLCaCO3)
		}, 411.8, 0.05},
		{"W4 g/m³", false, func() (float64, error) { v, err := ScaleKG(1, german(14)); return v * 1000, err }, 249.9, 0.1},
		{"W4 kg a year", false, func() (float64, error) { return ScaleKG(4.8, german(14)) }, 1.199, 0.001},
		{"W4 bulk volume in l", false, func() (float64, error) { v, err := ScaleKG(4.8, german(14)); return v / ScaleDensityKGL, err }, 0.44, 0.005},
		{"W5 m³", false, func() (float64, error) { return resin.VolumeM3(german(20)) }, 0.701, 0.0002},
		{"W5 days", false, func() (float64, error) { return resin.IntervalDays(german(20), 0.0352, 0) }, 19.91, 0.02},
		{"W5 days with reserve", false, func() (float64, error) { return resin.IntervalDays(german(20), 0.0352, ReservePart) }, 15.93, 0.02},
		// A litre of resin at 1 eq/l takes 50 g CaCO3, or 2.80 m³·°dH.
		{"capacity", false, func() (float64, error) {
			return Softener{ResinL: 1, CapacityEqL: 1}.VolumeM3(german(1))
		}, 2.80, 0.005},
		{"W7 bypass", false, func() (float64, error) { return BypassPart(245, 100) }, 0.4082, 0.0001},
		// 25 kg CaCO3 per m³ of resin is 25/50 eq/l; the blend spares the resin what goes round it.
		{"W7 days", false, func() (float64, error) {
			part, _ := BypassPart(245, 100)
			h, _ := Convert(245, MgLCaCO3, MmolL)
			return Softener{ResinL: 200, CapacityEqL: 25 / (MolarMassCaCO3 / 2)}.IntervalDays(h, 1.2*(1-part), 0)
		}, 28.74, 0.01},
		{"E1 10 °C", false, func() (float64, error) { return SteamKGPerKWh(10) }, 1.367, 0.0002},
		{"E1 20 °C", false, func() (float64, error) { return SteamKGPerKWh(20) }, 1.3891, 0.0002},
		{"E1 60 °C", false, func() (float64, error) { return SteamKGPerKWh(60) }, 1.4849, 0.0002},
		{"E1 100 °C", false, func() (float64, error) { return SteamKGPerKWh(100) }, 1.5954, 0.0002},
		{"E2 10 °C, 95 %", false, func() (float64, error) { v, err := SteamKGPerKWh(10); return 0.95 * v, err }, 1.2986, 0.0002},
		{"blow-down", false, func() (float64, error) { b, err := BlowDown(9, 500, 2000); return b.BlowDownKGH, err }, 3, 1e-12},
		{"feed", false, func() (float64, error) { b, err := BlowDown(9, 500, 2000); return b.FeedKGH, err }, 12, 1e-12},
		{"cycles", false, func() (float64, error) { b, err := BlowDown(9, 500, 2000); return b.Cycles, err }, 4, 1e-12},
		{"blow-down part", false, func() (float64, error) { b, err := BlowDown(9, 500, 2000); return b.BlowDownPart, err }, 0.25, 1e-12},
		{"salt", false, func() (float64, error) { return resin.SaltKG(SaltGPerEq[1]) }, 1, 1e-12},
	} {
		got, err := v.got()
		require.NoError(t, err, v.id)
		require.InDelta(t, v.want, got, v.tol, v.id)
	}
}

func TestClasses(t *testing.T) {
	mg := func(v float64) float64 { h, _ := Convert(v, MgLCaCO3, MmolL); return h }
	dh := func(v float64) float64 { h, _ := Convert(v, GermanDegree, MmolL); return h }
	for _, c := range []struct {
		mmolL     float64
		who, wrmg Class
		before    int
	}{
		{0, Soft, Soft, 1},
		{mg(59.9), Soft, Soft, 1},
		{mg(60.1), ModeratelyHard, Soft, 1},
		{mg(119.9), ModeratelyHard, Soft, 1},
		{mg(120.1), Hard, Soft, 1},
		{dh(7.1), Hard, Soft, 2},
		{1.499, Hard, Soft, 2},
		{1.5, Hard, Medium, 2},
		{mg(180.1), VeryHard, Medium, 2},
		{2.5, VeryHard, Medium, 3}, // 2.5 mmol/l is 14.02 °dH; the act rounds
		{2.501, VeryHard, Hard, 3},
		{dh(21.1), VeryHard, Hard, 4},
	} {
		who, err := ClassWHO(c.mmolL)
		require.NoError(t, err)
		require.Equal(t, c.who, who, "WHO at %g mmol/l", c.mmolL)
		wrmg, err := ClassWRMG(c.mmolL)
		require.NoError(t, err)
		require.Equal(t, c.wrmg, wrmg, "WRMG at %g mmol/l", c.mmolL)
		before, err := RangeBefore2007(c.mmolL)
		require.NoError(t, err)
		require.Equal(t, c.before, before, "before 2007 at %g mmol/l", c.mmolL)
	}
}

func TestWindows(t *testing.T) {
	for _, c := range []struct {
		us                 float64
		electrode, element bool
	}{{0, false, true}, {124.9, false, true}, {125, true, true}, {1250, true, true}, {1250.1, false, false}} {
		require.Equal(t, c.electrode, ElectrodeWindow.Contains(c.us), "%g", c.us)
		require.Equal(t, c.element, ElementWindow.Contains(c.us), "%g", c.us)
	}
}

func TestBadInputIsAnError(t *testing.T) {
	resin := Softener{ResinL: 5, CapacityEqL: 1}
	calls := map[string]func(float64) error{
		"Convert":          func(v float64) error { _, err := Convert(v, GermanDegree, MmolL); return err },
		"FromCaMg Ca":      func(v float64) error { _, err := FromCaMg(v, 1); return err },
		"FromCaMg Mg":      func(v float64) error { _, err := FromCaMg(1, v); return err },
		"ClassWHO":         func(v float64) error { _, err := ClassWHO(v); return err },
		"ClassWRMG":        func(v float64) error { _, err := ClassWRMG(v); return err },
		"RangeBefore2007":  func(v float64) error { _, err := RangeBefore2007(v); return err },
		"ScaleKG volume":   func(v float64) error { _, err := ScaleKG(v, 1); return err },
		"ScaleKG hardness": func(v float64) error { _, err := ScaleKG(1, v); return err },
		"SteamKGPerKWh":    func(v float64) error { _, err := SteamKGPerKWh(v); return err },
		"resin":            func(v float64) error { _, err := Softener{v, 1}.VolumeM3(1); return err },
		"capacity":         func(v float64) error { _, err := Softener{1, v}.VolumeM3(1); return err },
		"VolumeM3":         func(v float64) error { _, err := resin.VolumeM3(v); return err },
		"IntervalDays":     func(v float64) error { _, err := resin.IntervalDays(1, v, 0); return err },
		"reserve":          func(v float64) error { _, err := resin.IntervalDays(1, 1, v); return err },
		"SaltKG":           func(v float64) error { _, err := resin.SaltKG(v); return err },
		"SaltKG resin":     func(v float64) error { _, err := Softener{v, 1}.SaltKG(100); return err },
		"BypassPart raw":   func(v float64) error { _, err := BypassPart(v, 0); return err },
		"BypassPart":       func(v float64) error { _, err := BypassPart(200, v); return err },
		"BlowDown steam":   func(v float64) error { _, err := BlowDown(v, 1, 2); return err },
		"BlowDown feed":    func(v float64) error { _, err := BlowDown(1, v, 2); return err },
		"BlowDown boiler":  func(v float64) error { _, err := BlowDown(1, 1, v); return err },
	}
	for name, call := range calls {
		for _, v := range []float64{-1, math.NaN(), math.Inf(1), math.Inf(-1), 1e300} {
			require.ErrorIs(t, call(v), ErrRange, "%s of %g", name, v)
		}
	}
	_, err := Convert(1, MmolL, Unit(99))
	require.ErrorIs(t, err, ErrRange)
	_, err = resin.VolumeM3(0)
	require.ErrorIs(t, err, ErrNeverSpent)
	_, err = resin.IntervalDays(1, 0, 0)
	require.ErrorIs(t, err, ErrNeverSpent)
	for _, b := range []float64{499, 500} {
		_, err = BlowDown(1, 500, b)
		require.ErrorIs(t, err, ErrNoBlowDown)
	}
	require.Equal(t, "unit 99", Unit(99).String())
}

func TestUnitsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(0, MaxHardnessMmolL*0.999).Draw(t, "mmol/l")
		a, b := rapid.SampledFrom(Units()).Draw(t, "a"), rapid.SampledFrom(Units()).Draw(t, "b")
		x, err := Convert(v, MmolL, a)
		require.NoError(t, err)
		y, err := Convert(x, a, b)
		require.NoError(t, err)
		back, err := Convert(y, b, MmolL)
		require.NoError(t, err)
		require.InDelta(t, v, back, 1e-9)
	})
}

func TestHarderWaterIsWorse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := rapid.Float64Range(0.1, 20).Draw(t, "mmol/l")
		more := h + rapid.Float64Range(0.01, 20).Draw(t, "more")
		s := Softener{ResinL: rapid.Float64Range(0.1, 100).Draw(t, "l"), CapacityEqL: 1}
		a, err := s.IntervalDays(h, 0.1, ReservePart)
		require.NoError(t, err)
		b, err := s.IntervalDays(more, 0.1, ReservePart)
		require.NoError(t, err)
		require.Less(t, b, a)
		// What the resin takes up is what the water would leave as scale: 50 g CaCO3 for each eq.
		v, _ := s.VolumeM3(h)
		kg, _ := ScaleKG(v, h)
		require.InDelta(t, s.ResinL*MolarMassCaCO3/2000, kg, 1e-9)
		feed := rapid.Float64Range(0, 99).Draw(t, "feed")
		cold, _ := SteamKGPerKWh(feed)
		warm, _ := SteamKGPerKWh(feed + 1)
		require.Greater(t, warm, cold)
	})
}

func TestBlowDownBalances(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Float64Range(0, 100).Draw(t, "steam")
		f := rapid.Float64Range(10, 1000).Draw(t, "feed")
		b := f + rapid.Float64Range(1, 5000).Draw(t, "above")
		r, err := BlowDown(s, f, b)
		require.NoError(t, err)
		require.InDelta(t, r.FeedKGH*f, r.BlowDownKGH*b, 1e-6*(1+r.FeedKGH*f)) // salt in is salt out
		require.InDelta(t, r.BlowDownKGH, r.FeedKGH*r.BlowDownPart, 1e-9*(1+r.FeedKGH))
		require.InDelta(t, 1, r.Cycles*r.BlowDownPart, 1e-12)
	})
}
