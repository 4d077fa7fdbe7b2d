package loads

import (
	"errors"
	"fmt"
	"math"
)

// Strength is a strength in N/mm² that somebody stands for. The zero value is no strength, and nothing is worked
// out with it.
type Strength struct {
	NMM2 float64
	// Assumed says that the figure is the caller's assumption and not declared or tested. It goes through to
	// the result, so that a reader can be told.
	Assumed bool
}

// Declared is a strength in N/mm² that a maker declares or a test has shown.
func Declared(nmm2 float64) Strength { return Strength{NMM2: nmm2} }

// Assumed is a strength in N/mm² that the caller assumes.
func Assumed(nmm2 float64) Strength { return Strength{NMM2: nmm2, Assumed: true} }

func (s Strength) check() error {
	if s.NMM2 == 0 {
		return ErrNoStrength
	}
	return positive("strength in N/mm²", s.NMM2)
}

// Weakest returns the least of several strengths: foam, bond line, facing, screw in the plug. One that is not stated
// leaves the whole unknown.
//
// Source: statics, the weakest link (computed).
func Weakest(of ...Strength) (Strength, error) {
	if len(of) == 0 {
		return Strength{}, ErrNoStrength
	}
	least := of[0]
	for _, s := range of {
		if err := s.check(); err != nil {
			return Strength{}, err
		}
		if s.NMM2 < least.NMM2 || s.NMM2 == least.NMM2 && s.Assumed {
			least = s
		}
	}
	return least, nil
}

// Resistance is a force in N that a plug resists for a short time.
type Resistance struct {
	N       float64
	Assumed bool // as the strength that it was worked out with
}

func checkPlug(diameterMM, depthMM float64) error {
	return errors.Join(positive("diameter in mm", diameterMM), positive("bonded depth in mm", depthMM))
}

// PlugSurface returns π·d·L in mm², the bonded surface round a plug of a diameter and a bonded depth in mm.
func PlugSurface(diameterMM, depthMM float64) (float64, error) {
	if err := checkPlug(diameterMM, depthMM); err != nil {
		return 0, err
	}
	return math.Pi * diameterMM * depthMM, nil
}

// PlugPullOut returns the pull that shears a plug out of foam, N = π·d·L·τ, for a diameter and a bonded depth in mm.
// The shear strength is that of the weakest of foam and bond. The end of the plug counts for nothing; see [PlugEnd].
//
// Source: uniform bond model as for bonded anchors, EN 1992-4 (memory).
func PlugPullOut(diameterMM, depthMM float64, shear Strength) (Resistance, error) {
	area, err := PlugSurface(diameterMM, depthMM)
	if err = errors.Join(err, shear.check()); err != nil {
		return Resistance{}, err
	}
	return Resistance{area * shear.NMM2, shear.Assumed}, nil
}

// PlugEnd returns the pull in N that the bonded end of a plug resists by itself, (π/4)·d²·σ, for a diameter in mm and the
// tensile strength across the faces. It must not be added to [PlugPullOut] unless a test shows that both act at
// once: the side is stiffer and fails first.
//
// Source: statics (computed).
func PlugEnd(diameterMM float64, tensile Strength) (Resistance, error) {
	if err := errors.Join(positive("diameter in mm", diameterMM), tensile.check()); err != nil {
		return Resistance{}, err
	}
	return Resistance{math.Pi / 4 * diameterMM * diameterMM * tensile.NMM2, tensile.Assumed}, nil
}

// PlugDepth returns the bonded depth in mm that a pull in N needs: L = N·SF / (π·d·τ), for a factor SF of 1 or more.
//
// Source: solved from [PlugPullOut] (computed).
func PlugDepth(pullN, factor, diameterMM float64, shear Strength) (float64, error) {
	if !(factor >= 1 && factor <= 100) {
		return 0, fmt.Errorf("%w: the factor is %g, 1 to 100 is wanted", ErrRange, factor)
	}
	if err := errors.Join(notNegative("pull in N", pullN), positive("diameter in mm", diameterMM), shear.check()); err != nil {
		return 0, err
	}
	return pullN * factor / (math.Pi * diameterMM * shear.NMM2), nil
}

// PlugBearing returns the force in N across a plug at which it presses into the foam: V = d·L·f, for a diameter and a
// bonded depth in mm and a compressive stress f in kPa: the level CS for a short load, the level CC for a lasting one.
//
// Source: projected area with the levels of EN 13164 (computed).
func PlugBearing(diameterMM, depthMM, compressiveKPa float64) (float64, error) {
	if err := checkPlug(diameterMM, depthMM); err != nil {
		return 0, err
	}
	if compressiveKPa == 0 {
		return 0, ErrNoStrength
	}
	if err := positive("compressive stress in kPa", compressiveKPa); err != nil {
		return 0, err
	}
	return diameterMM * depthMM * compressiveKPa / 1000, nil
}

// Exponents of [Interaction].
const (
	Linear    = 1.0 // on the safe side
	MixedMode = 1.5 // EN 1992-4, 7.2.3 (memory)
)

// Interaction returns (N/N_R)ᵏ + (V/V_R)ᵏ of a pull and a shear with their resistances, all in N, for an exponent of 1 to 2.
// Up to 1 the plug holds.
//
// Source: EN 1992-4, 7.2.3 (memory); the exponent 1 is on the safe side.
func Interaction(pullN, pullResistanceN, shearN, shearResistanceN, exponent float64) (float64, error) {
	if !(exponent >= 1 && exponent <= 2) {
		return 0, fmt.Errorf("%w: the exponent is %g, 1 to 2 is wanted", ErrRange, exponent)
	}
	if err := errors.Join(notNegative("pull in N", pullN), positive("resistance to pull in N", pullResistanceN),
		notNegative("shear in N", shearN), positive("resistance to shear in N", shearResistanceN)); err != nil {
		return 0, err
	}
	return math.Pow(pullN/pullResistanceN, exponent) + math.Pow(shearN/shearResistanceN, exponent), nil
}

// Share returns √(N² + V²) / (π·d·L·τ), the part of the short-term strength that a pull and a shear in N use on the
// bonded surface of a plug. Hold it against [LongTermShare] for loads that last.
//
// Source: statics (computed).
func Share(pullN, shearN, diameterMM, depthMM float64, shear Strength) (float64, error) {
	r, err := PlugPullOut(diameterMM, depthMM, shear)
	if err = errors.Join(err, notNegative("pull in N", pullN), notNegative("shear in N", shearN)); err != nil {
		return 0, err
	}
	return math.Hypot(pullN, shearN) / r.N, nil
}
