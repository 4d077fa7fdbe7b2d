package maturity

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// day is a profile of one day on site.
var day = []Step{{Hours: 6, TemperatureC: 18}, {Hours: 6, TemperatureC: 14}, {Hours: 12, TemperatureC: 10}}

func age(profile []Step, r Rate) func() (float64, error) {
	return func() (float64, error) { return EquivalentAgeH(profile, r) }
}

func timeAt(h, c, percent float64, r Rate) func() (float64, error) {
	return func() (float64, error) { return TimeH(h, c, percent, r) }
}

func rateAt(r Rate, c, percent float64) func() (float64, error) {
	return func() (float64, error) { return r(c, percent) }
}

func TestCheckValues(t *testing.T) {
	arr, arrK := ArrheniusRate(ActivationKJMol, 20), ArrheniusRateK(ActivationK, 20)
	ns0, ns10 := NurseSaulRate(0, 20), NurseSaulRate(-10, 20)
	q10, fhp := Q10Rate(20), LowTemperatureRate(20)
	week := func(c float64) []Step { return []Step{{Hours: 168, TemperatureC: c}} }
	days := func(f func() (float64, error)) func() (float64, error) {
		return func() (float64, error) { v, err := f(); return v / 24, err }
	}
	for _, v := range []struct {
		id        string
		published bool
		got       func() (float64, error)
		want, tol float64
	}{
		// Open teaching page: 28 days at 15 °C above a datum of −11 °C.
		{"V1 in °C·d", true, days(func() (float64, error) { return NurseSaul([]Step{{Hours: 28 * 24, TemperatureC: 15}}, -11) }), 728, 0},
		{"V3 in days", false, days(age(week(30), arr)), 11.02, 0.02},
		{"V4 in days", false, days(age(week(30), ModelCodeRate())), 10.96, 0.02},
		{"V5 M, datum 0", false, func() (float64, error) { return NurseSaul(day, 0) }, 312, 0.01},
		{"V5 te, datum 0", false, age(day, ns0), 15.60, 0.01},
		{"V5 M, datum −10", false, func() (float64, error) { return NurseSaul(day, -10) }, 552, 0.01},
		{"V5 te, datum −10", false, age(day, ns10), 18.40, 0.01},
		{"V5 Arrhenius 33.5", false, age(day, arr), 17.35, 0.01},
		{"V5 5000 K", false, age(day, arrK), 16.11, 0.01},
		{"V5 EC2", false, age(day, ModelCodeRate()), 17.35, 0.01},
		{"V5 Q10", false, age(day, q10), 15.18, 0.01},
		{"V7 datum −10", false, timeAt(24, 10, 0, ns10), 36.0, 0.1},
		{"V7 Arrhenius 33.5", false, timeAt(24, 10, 0, arr), 39.0, 0.1},
		{"V7 5000 K", false, timeAt(24, 10, 0, arrK), 43.8, 0.1},
		{"V7 Q10", false, timeAt(24, 10, 0, q10), 48.0, 0.1},
		{"V7 datum 0", false, timeAt(24, 10, 0, ns0), 48.0, 0.1},
		{"V7 low temperature", false, timeAt(24, 10, 0, fhp), 48.3, 0.1},
		{"V8 datum −10", false, timeAt(24, 5, 0, ns10), 48.0, 0.1},
		{"V8 Arrhenius 33.5", false, timeAt(24, 5, 0, arr), 50.4, 0.1},
		{"V8 5000 K", false, timeAt(24, 5, 0, arrK), 60.2, 0.1},
		{"V8 Q10", false, timeAt(24, 5, 0, q10), 67.9, 0.1},
		{"V8 datum 0", false, timeAt(24, 5, 0, ns0), 96.0, 0.1},
		{"V8 low temperature", false, timeAt(24, 5, 0, fhp), 82.0, 0.1},
		{"V9 Q10", false, timeAt(24, 8, 0, Q10Rate(23)), 67.9, 0.1},
		{"V9 Arrhenius 33.5", false, timeAt(24, 8, 0, ArrheniusRate(33.5, 23)), 49.6, 0.1},
		{"V9 datum −10", false, timeAt(24, 8, 0, NurseSaulRate(-10, 23)), 44.0, 0.1},
		{"V10 13 °C", false, timeAt(24, 13, 0, EightDegreeRate()), 48, 0.1},
		{"V10 10 °C", false, timeAt(24, 10, 0, EightDegreeRate()), 62.2, 0.1},
		{"V10 5 °C", false, timeAt(24, 5, 0, EightDegreeRate()), 96, 0.1},
		{"V10 29 °C", false, timeAt(24, 29, 0, EightDegreeRate()), 12, 0.1},
		{"V11", false, func() (float64, error) { return NurseSaul([]Step{{Hours: 5, TemperatureC: -3}}, 0) }, 0, 0},
		{"V14 Q10 in days", false, days(timeAt(14*24, 12, 0, Q10Rate(23))), 30.0, 0.1},
		{"V14 Arrhenius in days", false, days(timeAt(14*24, 12, 0, ArrheniusRate(33.5, 23))), 23.7, 0.1},
		{"V15", false, timeAt(2, 10, 80, DryingRate(23, 50)), 11.4, 0.1},
		{"V15 factor", false, func() (float64, error) { r, err := DryingRate(23, 50)(10, 80); return 1 / r, err }, 5.72, 0.005},
		{"V16 linear", false, func() (float64, error) { return SealantDaysLinear(6, 2) }, 3.0, 0.05},
		{"V16 root", false, func() (float64, error) { return SealantDays(6, 2.5) }, 5.8, 0.05},
		// Drying against 23 °C and 50 %.
		{"drying 20/65", false, timeAt(1, 20, 65, DryingRate(23, 50)), 1.72, 0.005},
		{"drying 15/70", false, timeAt(1, 15, 70, DryingRate(23, 50)), 2.75, 0.005},
		{"drying 20/85", false, timeAt(1, 20, 85, DryingRate(23, 50)), 4.00, 0.01},
		// ISO 13788 saturation pressures, table of check values.
		{"psat −10", false, func() (float64, error) { return SaturationPa(-10) }, 259.33, 0.01},
		{"psat 0", false, func() (float64, error) { return SaturationPa(0) }, 610.50, 0.01},
		{"psat 23", false, func() (float64, error) { return SaturationPa(23) }, 2807.81, 0.01},
		{"psat 45", false, func() (float64, error) { return SaturationPa(45) }, 9576.25, 0.01},
	} {
		got, err := v.got()
		require.NoError(t, err, v.id)
		require.InDelta(t, v.want, got, v.tol, v.id)
	}
}

// TestRateTable holds the models against the table of rates relative to 20 °C (worked out, four decimals).
func TestRateTable(t *testing.T) {
	models := []Rate{NurseSaulRate(0, 20), NurseSaulRate(-10, 20), ArrheniusRate(33.5, 20), ArrheniusRateK(5000, 20), ModelCodeRate(), LowTemperatureRate(20), Q10Rate(20)}
	for _, row := range []struct {
		c    float64
		want [7]float64
	}{
		{5, [7]float64{0.250, 0.500, 0.4765, 0.3986, 0.4778, 0.2926, 0.3536}},
		{8, [7]float64{0.400, 0.600, 0.5562, 0.4829, 0.5572, 0.4084, 0.4353}},
		{10, [7]float64{0.500, 0.667, 0.6154, 0.5475, 0.6161, 0.4974, 0.5000}},
		{15, [7]float64{0.750, 0.833, 0.7878, 0.7438, 0.7875, 0.7477, 0.7071}},
		{20, [7]float64{1.000, 1.000, 1.0000, 1.0000, 0.9981, 1.0000, 1.0000}},
		{23, [7]float64{1.150, 1.100, 1.1494, 1.1886, 1.1462, 1.1494, 1.2311}},
		{25, [7]float64{1.250, 1.167, 1.2592, 1.3311, 1.2551, 1.2592, 1.4142}},
		{30, [7]float64{1.500, 1.333, 1.5736, 1.7553, 1.5662, 1.5736, 2.0000}},
	} {
		for i, m := range models {
			got, err := m(row.c, 0)
			require.NoError(t, err)
			tol := 0.00005
			if i < 2 {
				tol = 0.0005
			}
			require.InDelta(t, row.want[i], got, tol, "model %d at %g °C", i, row.c)
		}
	}
}

func TestProtectionDays(t *testing.T) {
	for _, c := range []struct {
		id   string
		c    float64
		s    Strength
		want int
	}{
		{"V12 slow", 12, Slow, 7},
		{"V12 medium", 12, MediumGain, 4},
		{"V12 very slow", 8, VerySlow, 15},
		{"25 °C", 25, Rapid, 1},
		{"25 °C", 25, VerySlow, 3},
		{"just below 25 °C", 24.99, VerySlow, 5},
		{"15 °C", 15, Slow, 4},
		{"just below 15 °C", 14.99, Slow, 7},
		{"10 °C", 10, Rapid, 2},
		{"just below 10 °C", 9.99, Rapid, 3},
		{"5 °C", 5, MediumGain, 6},
	} {
		got, err := ProtectionDays(c.c, c.s)
		require.NoError(t, err, c.id)
		require.Equal(t, c.want, got, c.id)
	}
	_, err := ProtectionDays(4.99, Rapid)
	require.ErrorIs(t, err, ErrNoProgress)
	_, err = ProtectionDays(20, Strength(9))
	require.ErrorIs(t, err, ErrRange)
	for _, c := range []struct {
		ratio float64
		want  Strength
	}{{1, Rapid}, {0.5, Rapid}, {0.499, MediumGain}, {0.3, MediumGain}, {0.299, Slow}, {0.15, Slow}, {0.149, VerySlow}, {0, VerySlow}} {
		s, err := StrengthOf(c.ratio)
		require.NoError(t, err)
		require.Equal(t, c.want, s, "%g", c.ratio)
	}
}

func TestCureTime(t *testing.T) {
	for _, c := range []struct {
		name                 string
		p                    Product
		h, ref, site, rh     float64
		want                 float64
		tol                  float64
		formulaBelowTheSheet bool
	}{
		{"at the reference", Cement, 24, 23, 23, 50, 24, 1e-9, false},
		{"V9 cement", Cement, 24, 23, 8, 50, 67.9, 0.1, false},
		{"resin like cement", Resin, 24, 23, 13, 50, 48, 1e-9, false},
		{"polyurethane like cement", Polyurethane, 24, 23, 13, 5, 48, 1e-9, false},
		{"V14 grout", Cement, 14 * 24, 23, 12, 50, 30.0 * 24, 2.4, false},
		{"at 5 °C", Cement, 24, 20, 5, 50, 67.9, 0.1, false},
		{"above the reference the data sheet holds", Cement, 24, 20, 30, 50, 24, 1e-9, true},
		{"in the heat too", Cement, 24, 20, 45, 50, 24, 1e-9, true},
		{"V15 film", Film, 2, 23, 10, 80, 11.4, 0.1, false},
		{"film in dry air", Film, 2, 23, 23, 20, 2, 1e-9, true},
		{"warm film in damp air", Film, 2, 23, 30, 90, 2 * 2807.81 * 0.5 / (4240.51 * 0.1), 0.01, false},
		{"no more than 30 °C counts for the film", Film, 2, 23, 45, 90, 2 * 2807.81 * 0.5 / (4240.51 * 0.1), 0.01, false},
		{"sealant in dry air", Sealant, 24, 23, 23, 25, 48, 1e-9, false},
		{"sealant in damp air", Sealant, 24, 23, 23, 80, 24, 1e-9, true},
		{"cold sealant", Sealant, 24, 23, 10, 50, 24 * 2807.81 / 1227.31, 0.01, false},
		{"nothing to cure", Cement, 0, 23, 10, 50, 0, 0, false},
	} {
		got, err := CureTime(c.p, c.h, c.ref, c.site, c.rh)
		require.NoError(t, err, c.name)
		require.InDelta(t, c.want, got, c.tol, c.name)
		plain, err := TimeH(c.h, c.site, c.rh, FormulaRate(c.p, c.ref))
		require.NoError(t, err, c.name)
		require.Equal(t, c.formulaBelowTheSheet, plain < got, c.name)
	}
	for _, c := range []struct {
		name     string
		p        Product
		site, rh float64
	}{
		{"cement at 4.9 °C", Cement, 4.9, 50},
		{"film at 4.9 °C", Film, 4.9, 20},
		{"sealant at 4.9 °C", Sealant, 4.9, 80},
		{"film in saturated air", Film, 20, 100},
		{"sealant in dry air", Sealant, 20, 0},
	} {
		_, err := CureTime(c.p, 24, 23, c.site, c.rh)
		require.ErrorIs(t, err, ErrNoProgress, c.name)
	}
	// A night below 5 °C adds nothing to the age.
	got, err := EquivalentAgeH([]Step{{12, 23, 50}, {12, 3, 50}, {10, 13, 50}}, CautiousRate(Cement, 23))
	require.NoError(t, err)
	require.InDelta(t, 12+5, got, 1e-9)
	require.Equal(t, []string{"cement", "resin", "polyurethane", "film", "sealant"}, Products())
	for _, n := range Products() {
		p, ok := ParseProduct(n)
		require.True(t, ok)
		require.Equal(t, n, p.String())
	}
	_, ok := ParseProduct("lime")
	require.False(t, ok)
	require.Equal(t, "product 77", Product(77).String())
}

func TestBadInputIsAnError(t *testing.T) {
	step := func(c float64) []Step { return []Step{{Hours: 1, TemperatureC: c}} }
	calls := map[string]func(float64) error{
		"NurseSaul":         func(v float64) error { _, err := NurseSaul(step(v), 0); return err },
		"NurseSaul datum":   func(v float64) error { _, err := NurseSaul(step(10), v); return err },
		"NurseSaul hours":   func(v float64) error { _, err := NurseSaul([]Step{{Hours: v}}, 0); return err },
		"NurseSaulRate":     func(v float64) error { _, err := NurseSaulRate(0, 20)(v, 0); return err },
		"NurseSaulRate ref": func(v float64) error { _, err := NurseSaulRate(0, v)(10, 0); return err },
		"ArrheniusRate":     func(v float64) error { _, err := ArrheniusRate(33.5, 20)(v, 0); return err },
		"ArrheniusRate E":   func(v float64) error { _, err := ArrheniusRate(v, 20)(10, 0); return err },
		"ArrheniusRateK":    func(v float64) error { _, err := ArrheniusRateK(v, 20)(10, 0); return err },
		"LowTemperature":    func(v float64) error { _, err := LowTemperatureRate(20)(v, 0); return err },
		"LowTemperatureE":   func(v float64) error { _, err := LowTemperatureEnergyKJMol(v); return err },
		"ModelCodeRate":     func(v float64) error { _, err := ModelCodeRate()(v, 0); return err },
		"Q10Rate":           func(v float64) error { _, err := Q10Rate(20)(v, 0); return err },
		"Q10Rate ref":       func(v float64) error { _, err := Q10Rate(v)(20, 0); return err },
		"EightDegreeRate":   func(v float64) error { _, err := EightDegreeRate()(v, 0); return err },
		"SaturationPa":      func(v float64) error { _, err := SaturationPa(v); return err },
		"DryingRate":        func(v float64) error { _, err := DryingRate(23, 50)(v, 50); return err },
		"DryingRate rh":     func(v float64) error { _, err := DryingRate(23, 50)(20, v); return err },
		"DryingRate ref":    func(v float64) error { _, err := DryingRate(v, 50)(20, 50); return err },
		"DryingRate ref rh": func(v float64) error { _, err := DryingRate(23, v)(20, 50); return err },
		"MoistureCure rh":   func(v float64) error { _, err := MoistureCureRate(23, v)(20, 50); return err },
		"SealantDays":       func(v float64) error { _, err := SealantDays(v, 2); return err },
		"SealantDays k":     func(v float64) error { _, err := SealantDays(6, v); return err },
		"SealantDepth":      func(v float64) error { _, err := SealantDepthMM(v, 2); return err },
		"SealantDepth k":    func(v float64) error { _, err := SealantDepthMM(1, v); return err },
		"SealantLinear":     func(v float64) error { _, err := SealantDaysLinear(v, 2); return err },
		"SealantLinear v":   func(v float64) error { _, err := SealantDaysLinear(6, v); return err },
		"StrengthOf":        func(v float64) error { _, err := StrengthOf(v); return err },
		"ProtectionDays":    func(v float64) error { _, err := ProtectionDays(v, Slow); return err },
		"CureTime hours":    func(v float64) error { _, err := CureTime(Cement, v, 23, 20, 50); return err },
		"CureTime ref":      func(v float64) error { _, err := CureTime(Cement, 24, v, 20, 50); return err },
		"CureTime site":     func(v float64) error { _, err := CureTime(Cement, 24, 23, v, 50); return err },
		"CureTime rh":       func(v float64) error { _, err := CureTime(Film, 24, 23, 20, v); return err },
	}
	for name, call := range calls {
		for _, v := range []float64{-400, math.NaN(), math.Inf(1), math.Inf(-1), 1e300} {
			require.ErrorIs(t, call(v), ErrRange, "%s of %g", name, v)
		}
	}
	_, err := CureTime(Product(9), 24, 23, 20, 50)
	require.ErrorIs(t, err, ErrRange)
	_, err = CureTime(Cement, 24, 23, 20, math.NaN())
	require.NoError(t, err, "the humidity does not count for cement")
	_, err = TimeH(5, -3, 0, NurseSaulRate(0, 20))
	require.ErrorIs(t, err, ErrNoProgress)
}

func TestCureTimeProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, _ := ParseProduct(rapid.SampledFrom(Products()).Draw(t, "product"))
		h := rapid.Float64Range(0.1, 2000).Draw(t, "h")
		ref := rapid.Float64Range(18, 25).Draw(t, "reference")
		c := rapid.Float64Range(NoProgressBelowC, 60).Draw(t, "°C")
		rh := rapid.Float64Range(5, 95).Draw(t, "percent")
		got, err := CureTime(p, h, ref, c, rh)
		require.NoError(t, err)
		require.GreaterOrEqual(t, got, h, "never below the data sheet")
		warmer, err := CureTime(p, h, ref, c+rapid.Float64Range(0, 20).Draw(t, "warmer"), rh)
		require.NoError(t, err)
		require.LessOrEqual(t, warmer, got*(1+1e-12), "warmth never slows")
		hot, err := CureTime(p, h, ref, max(c, NoCreditAboveC), rh)
		require.NoError(t, err)
		at30, err := CureTime(p, h, ref, NoCreditAboveC, rh)
		require.NoError(t, err)
		require.Equal(t, at30, hot, "no more credit than at 30 °C")
		// Time and equivalent age undo each other.
		back, err := EquivalentAgeH([]Step{{got, c, rh}}, CautiousRate(p, ref))
		if got <= MaxHours {
			require.NoError(t, err)
			require.InEpsilon(t, h, back, 1e-9)
		}
		damp, err := CureTime(p, h, ref, c, min(rh+5, 99))
		require.NoError(t, err)
		switch p {
		case Film:
			require.GreaterOrEqual(t, damp, got)
		case Sealant:
			require.LessOrEqual(t, damp, got)
		default:
			require.Equal(t, got, damp)
		}
	})
}

func TestSealantDepthAndDaysAreInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		depth, k := rapid.Float64Range(0.1, 30).Draw(t, "mm"), rapid.Float64Range(1, 5).Draw(t, "k")
		d, err := SealantDays(depth, k)
		require.NoError(t, err)
		back, err := SealantDepthMM(d, k)
		require.NoError(t, err)
		require.InEpsilon(t, depth, back, 1e-9)
	})
}

func TestSplittingAStepChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, c := rapid.Float64Range(0, 500).Draw(t, "h"), rapid.Float64Range(0, 60).Draw(t, "°C")
		part := rapid.Float64Range(0, 1).Draw(t, "part")
		for i, r := range []Rate{NurseSaulRate(0, 20), ArrheniusRate(40, 20), LowTemperatureRate(20), ModelCodeRate(), Q10Rate(20), CautiousRate(Cement, 23)} {
			whole, err := EquivalentAgeH([]Step{{h, c, 50}}, r)
			require.NoError(t, err)
			cut, err := EquivalentAgeH([]Step{{h * part, c, 50}, {h * (1 - part), c, 50}}, r)
			require.NoError(t, err)
			require.InDelta(t, whole, cut, 1e-9*(1+whole), "model %d", i)
		}
	})
}

func BenchmarkEquivalentAge(b *testing.B) {
	profile := make([]Step, 28*24)
	for i := range profile {
		profile[i] = Step{1, 12 + 6*math.Sin(float64(i)*math.Pi/12), 60}
	}
	r := CautiousRate(Cement, DataSheetC)
	for b.Loop() {
		if _, err := EquivalentAgeH(profile, r); err != nil {
			b.Fatal(err)
		}
	}
}

// TestTimeOver holds times over changing conditions against working by hand and against EquivalentAgeH.
func TestTimeOver(t *testing.T) {
	rate := CautiousRate(Cement, 23)
	for name, c := range map[string]struct {
		hours   float64
		profile []Step
		want    float64
	}{
		"one step is TimeH":          {24, []Step{{TemperatureC: 13}}, 48},                                                 // 2^(10/10)
		"the last lasts":             {24, []Step{{Hours: 10, TemperatureC: 23}, {Hours: 1, TemperatureC: 13}}, 10 + 14*2}, // 24 − 10 h at half speed
		"within the first":           {24, []Step{{Hours: 30, TemperatureC: 23}, {TemperatureC: 13}}, 24},                  //
		"frost only puts it off":     {24, []Step{{Hours: 12, TemperatureC: 2}, {TemperatureC: 23}}, 36},                   //
		"frost after it is too late": {24, []Step{{Hours: 24, TemperatureC: 23}, {TemperatureC: 2}}, 24},                   //
		"nothing to cure":            {0, []Step{{Hours: 12, TemperatureC: 2}, {TemperatureC: 23}}, 0},                     //
		"three steps":                {48, []Step{{Hours: 12, TemperatureC: 13}, {Hours: 12, TemperatureC: 3}, {Hours: 1, TemperatureC: 23}}, 24 + 42},
	} {
		got, err := TimeOverH(c.hours, c.profile, rate)
		require.NoError(t, err, name)
		require.InDelta(t, c.want, got, 1e-9, name)
	}
	_, err := TimeOverH(24, []Step{{Hours: 12, TemperatureC: 23}, {TemperatureC: 4.9}}, rate)
	require.ErrorIs(t, err, ErrNoProgress)
	_, err = TimeOverH(24, nil, rate)
	require.ErrorIs(t, err, ErrRange)
	_, err = TimeOverH(24, []Step{{Hours: -1}, {}}, rate)
	require.ErrorIs(t, err, ErrRange)

	// What cures in the time that it gives has the age that was asked for, and no colder site is quicker.
	rapid.Check(t, func(t *rapid.T) {
		p := Product(rapid.IntRange(0, 4).Draw(t, "product"))
		hours := rapid.Float64Range(0.1, 500).Draw(t, "hours")
		profile := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Step {
			return Step{rapid.Float64Range(0, 100).Draw(t, "h"), rapid.Float64Range(5, 40).Draw(t, "c"), rapid.Float64Range(5, 95).Draw(t, "rh")}
		}), 1, 6).Draw(t, "profile")
		took, err := TimeOverH(hours, profile, CautiousRate(p, 23))
		require.NoError(t, err)
		require.GreaterOrEqual(t, took, hours)
		left := took
		var cut []Step
		for i, s := range profile {
			if i == len(profile)-1 || s.Hours > left {
				s.Hours = left
			}
			cut = append(cut, s)
			left -= s.Hours
		}
		age, err := EquivalentAgeH(cut, CautiousRate(p, 23))
		require.NoError(t, err)
		require.InDelta(t, hours, age, 1e-6*hours)
	})
}
