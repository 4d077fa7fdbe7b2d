package pipe

import (
	"errors"
	"fmt"
	"math"
)

func checkEvaporation(kJKg float64) error {
	return within("heat of evaporation", kJKg, 100, 2600, "kJ/kg")
}

// CondensateGPerMH returns the steam that turns to water in one metre of pipe,
// in g/(m·h): q·3600/h_fg, for a heat flow of 0 to 1e6 W/m and a heat of
// evaporation in kJ/kg.
//
// Source: energy balance (computed). Check value: 20.828 W/m and 2256.47 kJ/kg give 33.23 g/(m·h).
func CondensateGPerMH(wPerM, evaporationKJKg float64) (float64, error) {
	if err := errors.Join(within("heat flow", wPerM, 0, 1e6, "W/m"), checkEvaporation(evaporationKJKg)); err != nil {
		return 0, err
	}
	return wPerM * 3600 / evaporationKJKg, nil
}

// CondensateKGH returns the steam that turns to water in a whole run of 0 to
// 1000 m, in kg/h: see [CondensateGPerMH].
func CondensateKGH(wPerM, runM, evaporationKJKg float64) (float64, error) {
	g, err := CondensateGPerMH(wPerM, evaporationKJKg)
	if err := errors.Join(err, within("run", runM, 0, 1000, "m")); err != nil {
		return 0, err
	}
	return g * runM / 1000, nil
}

// CopperHeat is the specific heat of copper in J/(kg·K).
//
// Source: common tables (read).
const CopperHeat = 380.0

// WarmUpGPerM returns the steam that turns to water while one metre of tube
// warms up once, in g/m: m·c·Δθ/h_fg, for a mass in kg/m, a specific heat in
// J/(kg·K), a rise in K and a heat of evaporation in kJ/kg.
//
// Source: energy balance (computed). Check value: 22 × 1 copper, 80 K, gives 8 g/m.
func WarmUpGPerM(massKGPerM, heatJKgK, riseK, evaporationKJKg float64) (float64, error) {
	if err := errors.Join(within("mass", massKGPerM, 0, 1000, "kg/m"), within("specific heat", heatJKgK, 50, 5000, "J/(kg·K)"), within("rise", riseK, 0, 1000, "K"), checkEvaporation(evaporationKJKg)); err != nil {
		return 0, err
	}
	return massKGPerM * heatJKgK * riseK / evaporationKJKg, nil
}

// Flow is a flow of steam (or of any gas) in a tube.
type Flow struct {
	KGH        float64 // 0 to 1e5
	VolumeM3KG float64 // specific volume, 1e-4 to 1000
	BoreMM     float64
}

// Check reports what makes the flow unusable.
func (f Flow) Check() error {
	return errors.Join(within("flow", f.KGH, 0, 1e5, "kg/h"), within("specific volume", f.VolumeM3KG, 1e-4, 1000, "m³/kg"), checkDiameter("bore", f.BoreMM))
}

// VelocityMS returns the mean velocity in m/s: ṁ/3600·v/(π/4·d²).
//
// Source: continuity (computed). Check value: 10 kg/h at 1.67186 m³/kg in 20 mm give 14.78 m/s.
func (f Flow) VelocityMS() (float64, error) {
	if err := f.Check(); err != nil {
		return 0, err
	}
	d := f.BoreMM / 1000
	return f.KGH / 3600 * f.VolumeM3KG / (math.Pi / 4 * d * d), nil
}

// KGHAt returns the flow in kg/h that has a velocity of 0 to 1000 m/s in the
// tube, the inverse of [Flow.VelocityMS]; the flow's own KGH is not looked at.
func (f Flow) KGHAt(velocityMS float64) (float64, error) {
	f.KGH = 0
	if err := errors.Join(f.Check(), within("velocity", velocityMS, 0, 1000, "m/s")); err != nil {
		return 0, err
	}
	d := f.BoreMM / 1000
	return velocityMS * 3600 / f.VolumeM3KG * (math.Pi / 4 * d * d), nil
}

// BlasiusMax is the Reynolds number up to which the friction factor of Blasius holds.
const BlasiusMax = 1e5

// Friction is the loss of a flow along its tube.
type Friction struct {
	VelocityMS float64
	Reynolds   float64
	Factor     float64 // of Darcy and Weisbach
	PaPerM     float64
}

// Friction returns the loss of pressure along a smooth tube for a dynamic
// viscosity of 1e-6 to 1 Pa·s:
//
//	Δp/L = f·ρ·w²/(2·d), f = 0.3164·Re^-¼ (Blasius)
//
// Below Re 1187 the laminar factor 64/Re is the larger one and counts; between
// there and 4000 the flow may be either, and Blasius is on the safe side. Above
// [BlasiusMax] the error is ErrRange.
//
// Source: Blasius, textbook (computed). Check values at 1.227e-5 Pa·s: 10 kg/h
// of steam in 20 mm lose 94 Pa/m, 20 kg/h in 26 mm 91 Pa/m.
func (f Flow) Friction(viscosityPaS float64) (Friction, error) {
	w, err := f.VelocityMS()
	if err := errors.Join(err, within("viscosity", viscosityPaS, 1e-6, 1, "Pa·s")); err != nil {
		return Friction{}, err
	}
	if w == 0 {
		return Friction{}, nil
	}
	d := f.BoreMM / 1000
	out := Friction{VelocityMS: w, Reynolds: w * d / f.VolumeM3KG / viscosityPaS}
	if out.Reynolds > BlasiusMax {
		return Friction{}, fmt.Errorf("%w: the Reynolds number is %.0f, must be up to %.0f", ErrRange, out.Reynolds, BlasiusMax)
	}
	out.Factor = math.Max(64/out.Reynolds, 0.3164*math.Pow(out.Reynolds, -0.25))
	out.PaPerM = out.Factor * w * w / (2 * d * f.VolumeM3KG)
	return out, nil
}

// Loss coefficients ζ of single places, in dynamic pressures.
//
// Source: textbook values for sharp entry and free outlet (memory); bend of a
// radius of 3 diameters and more, rounded up (memory).
const (
	EntryLoss  = 0.5
	OutletLoss = 1.0
	BendLoss   = 0.3
)

// BackPressurePa returns the pressure in Pa that a run of 0 to 1000 m puts
// against the generator: friction along the run and Σζ·ρ·w²/2 at single places,
// with Σζ from 0 to 1000.
//
// Source: Darcy and Weisbach with Blasius' factor (computed).
func (f Flow) BackPressurePa(runM, lossCoefficients, viscosityPaS float64) (float64, error) {
	r, err := f.Friction(viscosityPaS)
	if err := errors.Join(err, within("run", runM, 0, 1000, "m"), within("sum of loss coefficients", lossCoefficients, 0, 1000, "")); err != nil {
		return 0, err
	}
	return r.PaPerM*runM + lossCoefficients*r.VelocityMS*r.VelocityMS/(2*f.VolumeM3KG), nil
}
