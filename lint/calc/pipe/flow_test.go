package pipe

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const (
	vg = 1.67186  // m³/kg, steam at 100 °C
	mu = 1.227e-5 // Pa·s
)

// The table of velocities (computed): bore, m/s for each kg/h, and kg/h at 15, 20 and 25 m/s.
func TestVelocity(t *testing.T) {
	for _, c := range []struct {
		size    Size
		bore, w float64
		kgh     [3]float64
	}{
		{Size{12, 1}, 10, 5.913, [3]float64{2.5, 3.4, 4.2}},
		{Size{15, 1}, 13, 3.499, [3]float64{4.3, 5.7, 7.1}},
		{Size{18, 1}, 16, 2.310, [3]float64{6.5, 8.7, 10.8}},
		{Size{22, 1}, 20, 1.478, [3]float64{10.1, 13.5, 16.9}},
		{Size{28, 1}, 26, 0.875, [3]float64{17.1, 22.9, 28.6}},
		{Size{28, 1.5}, 25, 0.946, [3]float64{15.9, 21.1, 26.4}},
		{Size{35, 1.2}, 32.6, 0.556, [3]float64{27.0, 36.0, 44.9}},
		{Size{42, 1.2}, 39.6, 0.377, [3]float64{39.8, 53.0, 66.3}},
	} {
		require.InDelta(t, c.bore, c.size.BoreMM(), 1e-9)
		w, err := Flow{1, vg, c.size.BoreMM()}.VelocityMS()
		require.NoError(t, err)
		require.InDelta(t, c.w, w, 6e-4, "%v", c.size)
		for i, at := range []float64{15, 20, 25} {
			kgh, err := Flow{0, vg, c.size.BoreMM()}.KGHAt(at)
			require.NoError(t, err)
			require.InDelta(t, c.kgh[i], kgh, 0.06, "%v at %v m/s", c.size, at)
		}
	}
	// kW to velocity with 1.367 kg/h for each kW (computed).
	for _, c := range []struct{ kw, bore, w float64 }{{6, 20, 12.1}, {9, 20, 18.2}, {9, 26, 10.8}, {18, 26, 21.5}, {18, 32.6, 13.7}} {
		w, err := Flow{c.kw * 1.367, vg, c.bore}.VelocityMS()
		require.NoError(t, err)
		require.InDelta(t, c.w, w, 0.06)
	}
	rapid.Check(t, func(t *rapid.T) {
		f := Flow{rapid.Float64Range(0, 100).Draw(t, "kg/h"), vg, rapid.Float64Range(5, 100).Draw(t, "bore")}
		w, err := f.VelocityMS()
		require.NoError(t, err)
		if w > 1000 {
			return
		}
		back, err := f.KGHAt(w)
		require.NoError(t, err)
		require.InDelta(t, f.KGH, back, 1e-9*(1+f.KGH))
	})
}

// Check values: 94 Pa/m and 91 Pa/m (computed).
func TestFriction(t *testing.T) {
	for _, c := range []struct{ kgh, bore, pa float64 }{{10, 20, 94}, {20, 26, 91}} {
		f, err := Flow{c.kgh, vg, c.bore}.Friction(mu)
		require.NoError(t, err)
		require.InDelta(t, c.pa, f.PaPerM, 0.5)
	}
	f, err := Flow{0, vg, 20}.Friction(mu)
	require.NoError(t, err)
	require.Zero(t, f.PaPerM)
	// Hagen and Poiseuille: 32·μ·w/d² in laminar flow.
	f, err = Flow{0.5, vg, 20}.Friction(mu)
	require.NoError(t, err)
	require.Less(t, f.Reynolds, 1187.0)
	require.InEpsilon(t, 32*mu*f.VelocityMS/0.02/0.02, f.PaPerM, 1e-12)
	_, err = Flow{200, vg, 20}.Friction(mu)
	require.ErrorIs(t, err, ErrRange, "beyond Blasius")
	rapid.Check(t, func(t *rapid.T) {
		bore := rapid.Float64Range(5, 100).Draw(t, "bore")
		top := BlasiusMax * mu * math.Pi / 4 * bore / 1000 * 3600
		a := rapid.Float64Range(0, 1).Draw(t, "a") * top * 0.999
		b := a + rapid.Float64Range(0, 1).Draw(t, "b")*(top*0.999-a)
		fa, err := Flow{a, vg, bore}.Friction(mu)
		require.NoError(t, err)
		fb, err := Flow{b, vg, bore}.Friction(mu)
		require.NoError(t, err)
		require.GreaterOrEqual(t, fb.PaPerM, fa.PaPerM-1e-9*fa.PaPerM)
	})
}

func TestBackPressure(t *testing.T) {
	f := Flow{10, vg, 20}
	r, err := f.Friction(mu)
	require.NoError(t, err)
	p, err := f.BackPressurePa(5, EntryLoss+OutletLoss, mu)
	require.NoError(t, err)
	w := r.VelocityMS
	require.InDelta(t, 5*r.PaPerM+1.5*w*w/2/vg, p, 1e-9)
	require.InDelta(t, 5*94+98, p, 3)
	for _, x := range [][3]float64{{-1, 1, mu}, {1, -1, mu}, {1, 1, 0}, {math.NaN(), 1, mu}, {1, math.NaN(), mu}, {1, 1, math.NaN()}} {
		_, err := f.BackPressurePa(x[0], x[1], x[2])
		require.ErrorIs(t, err, ErrRange)
	}
	for _, bad := range []Flow{{-1, vg, 20}, {1, 0, 20}, {1, vg, 0}, {math.NaN(), vg, 20}} {
		_, err := bad.VelocityMS()
		require.ErrorIs(t, err, ErrRange)
		_, err = bad.BackPressurePa(1, 1, mu)
		require.ErrorIs(t, err, ErrRange)
	}
	_, err = Flow{0, vg, 20}.KGHAt(-1)
	require.ErrorIs(t, err, ErrRange)
}

func TestCondensate(t *testing.T) {
	// 5 m of 22 × 1 with 13 mm: 0.17 kg/h (computed).
	kgh, err := CondensateKGH(21.51, 5, hfg)
	require.NoError(t, err)
	require.InDelta(t, 0.17, kgh, 0.005)
	// 22 × 1 warms up by 80 K: 8 g/m (computed).
	mass, err := Size{22, 1}.MassKGPerM()
	require.NoError(t, err)
	g, err := WarmUpGPerM(mass, CopperHeat, 80, hfg)
	require.NoError(t, err)
	require.InDelta(t, 8, g, 0.1)
	for _, x := range [][3]float64{{-1, 1, hfg}, {1, -1, hfg}, {1, 1, 0}, {math.NaN(), 1, hfg}} {
		_, err := CondensateKGH(x[0], x[1], x[2])
		require.ErrorIs(t, err, ErrRange)
	}
	for _, x := range [][4]float64{{-1, 380, 80, hfg}, {1, 0, 80, hfg}, {1, 380, -1, hfg}, {1, 380, 80, math.Inf(1)}} {
		_, err := WarmUpGPerM(x[0], x[1], x[2], x[3])
		require.ErrorIs(t, err, ErrRange)
	}
	rapid.Check(t, func(t *rapid.T) {
		q, run := rapid.Float64Range(0, 500).Draw(t, "q"), rapid.Float64Range(0, 100).Draw(t, "run")
		kgh, err := CondensateKGH(q, run, hfg)
		require.NoError(t, err)
		require.InDelta(t, q*run, kgh*hfg/3.6, 1e-9*(1+q*run), "what condenses carries what is lost")
	})
}
