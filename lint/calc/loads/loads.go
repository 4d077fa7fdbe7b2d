// Package loads works out what brackets, doors and tiles ask of a foam panel, and
// what bonded plugs, hinges and boards give.
//
// Units: mm, N, kg, kg/m², N/mm² and kPa (1 N/mm² = 1000 kPa), as the names say.
//
// Bad input is never worked out: a number that is not finite or lies outside its range gives an error that wraps
// [ErrRange] with the value and the range; a strength that nobody stated gives [ErrNoStrength]. Results are not rounded.
//
// The models are static. They know nothing of heat, damp or fatigue, which all weaken foam and bond; the factors
// and shares beside them are the only allowance for that.
package loads

import (
	"errors"
	"fmt"
	"math"
)

// Errors of this package; they come wrapped with detail.
var (
	ErrRange      = errors.New("loads: a value is out of range")
	ErrNoStrength = errors.New("loads: no strength is declared; it is not guessed")
	ErrNotListed  = errors.New("loads: there is no such entry in the list")
)

const (
	// StandardGravity is the acceleration of free fall in m/s² (standard value, defined).
	StandardGravity = 9.80665
	// SafetyFactor is the factor on the short-term strength of a plug in foam (common practice; it matches the proof load).
	SafetyFactor = 4.0
	// LongTermShare is the part of the short-term strength that a lasting load may use (common practice, worked out from
	// the ratio of long-term to short-term compressive levels in EN 13164 declarations, 0.29 to 0.43).
	LongTermShare = 0.25
	// ProofFactor times the mass of the equipment is the proof load of a mount, and ProofLeastKG the least. It is held for
	// ProofHeldMin minutes (mounting-means test of UL, read).
	ProofFactor  = 4.0
	ProofLeastKG = 4.5
	ProofHeldMin = 1.0
)

// smallest and largest keep products and quotients far from overflow.
const (
	smallest = 1e-9
	largest  = 1e9
)

// positive and notNegative check one input.
func positive(what string, v float64) error {
	if !(v >= smallest && v <= largest) {
		return fmt.Errorf("%w: %s is %g, %g to %g is wanted", ErrRange, what, v, smallest, largest)
	}
	return nil
}

func notNegative(what string, v float64) error {
	if !(v >= 0 && v <= largest) {
		return fmt.Errorf("%w: %s is %g, 0 to %g is wanted", ErrRange, what, v, largest)
	}
	return nil
}

func atLeastOne(what string, n int) error {
	if n < 1 {
		return fmt.Errorf("%w: %s is %d, at least 1 is wanted", ErrRange, what, n)
	}
	return nil
}

// Weight returns m·g in N of a mass in kg, 0 or more.
func Weight(kg float64) (float64, error) {
	if err := notNegative("mass in kg", kg); err != nil {
		return 0, err
	}
	return kg * StandardGravity, nil
}

// ProofMass returns the proof load of a mount in kg: max(4·m, 4.5), for equipment of m kg.
//
// Source: mounting-means test of UL, four times the weight, not less than 4.5 kg, held for one minute (read).
func ProofMass(kg float64) (float64, error) {
	if err := notNegative("mass in kg", kg); err != nil {
		return 0, err
	}
	return max(ProofFactor*kg, ProofLeastKG), nil
}

// DirectShear returns V = W/n in N per fixing, for a load W in N that n fixings share.
//
// Source: statics; Bhandari, Design of Machine Elements, example 7.5 (read).
func DirectShear(loadN float64, n int) (float64, error) {
	if err := errors.Join(notNegative("load in N", loadN), atLeastOne("number of fixings", n)); err != nil {
		return 0, err
	}
	return loadN / float64(n), nil
}

// ElasticPullOut returns the pull on each fixing in N of a stiff bracket that turns about its lower edge:
// Nᵢ = W·e·lᵢ / Σlⱼ², with the load W in N, its reach e in mm and the levers l in mm from the edge to each
// fixing, in the order given. At least one lever must be longer than 0.
//
// Source: Bhandari, Design of Machine Elements, examples 7.5 and 7.6 (read).
func ElasticPullOut(loadN, reachMM float64, leversMM []float64) ([]float64, error) {
	if err := errors.Join(notNegative("load in N", loadN), notNegative("reach in mm", reachMM), atLeastOne("number of fixings", len(leversMM))); err != nil {
		return nil, err
	}
	sum := 0.0
	for _, l := range leversMM {
		if err := notNegative("lever in mm", l); err != nil {
			return nil, err
		}
		sum += l * l
	}
	if !(sum >= smallest) {
		return nil, fmt.Errorf("%w: every lever is 0, at least one longer one is wanted", ErrRange)
	}
	out := make([]float64, len(leversMM))
	for i, l := range leversMM {
		out[i] = loadN * reachMM * l / sum
	}
	return out, nil
}

// CouplePullOut returns the pull on each fixing of the top row in N when only that row holds the bracket:
// N = W·e / (h·n), with the load W in N, its reach e in mm, the distance h in mm from the top row to the line of
// compression, and n fixings in the row. With h taken to the bottom row it is on the safe side.
//
// Source: statics (computed).
func CouplePullOut(loadN, reachMM, armMM float64, topRow int) (float64, error) {
	if err := errors.Join(notNegative("load in N", loadN), notNegative("reach in mm", reachMM), positive("arm in mm", armMM), atLeastOne("number of fixings in the top row", topRow)); err != nil {
		return 0, err
	}
	return loadN * reachMM / armMM / float64(topRow), nil
}

// PlateBearing returns the pressure in kPa under the lower part of a bracket's foot: the force C in N, which equals the pull
// of the whole top row, over the width and a quarter of the height of the foot in mm.
//
// Source: statics; the quarter is common practice (computed).
func PlateBearing(forceN, widthMM, heightMM float64) (float64, error) {
	if err := errors.Join(notNegative("force in N", forceN), positive("width in mm", widthMM), positive("height in mm", heightMM)); err != nil {
		return 0, err
	}
	return 1000 * forceN / (widthMM * heightMM / 4), nil
}

// PrincipalStress returns the larger principal stress and the largest shear stress of a tension and a shear that act
// together, in the unit of the inputs: σ₁ = σ/2 + √((σ/2)² + τ²), τmax = √((σ/2)² + τ²).
//
// Source: Bhandari, Design of Machine Elements, example 7.5 (read).
func PrincipalStress(tension, shear float64) (principal, shearMax float64, err error) {
	if err := errors.Join(notNegative("tension", tension), notNegative("shear", shear)); err != nil {
		return 0, 0, err
	}
	shearMax = math.Hypot(tension/2, shear)
	return tension/2 + shearMax, shearMax, nil
}

// ScrewCoreArea returns the core area in mm² that a steel screw needs under a tension and a shear in N, by the largest
// shear stress: A = √((N/2)² + V²) / (0.5·S_yt/fs), with the yield strength S_yt in N/mm² and the factor fs ≥ 1.
//
// Source: Bhandari, Design of Machine Elements, example 7.5 (read).
func ScrewCoreArea(tensionN, shearN, yieldNMM2, factor float64) (float64, error) {
	if !(factor >= 1 && factor <= 100) {
		return 0, fmt.Errorf("%w: the factor is %g, 1 to 100 is wanted", ErrRange, factor)
	}
	if err := positive("yield strength in N/mm²", yieldNMM2); err != nil {
		return 0, err
	}
	_, force, err := PrincipalStress(tensionN, shearN)
	if err != nil {
		return 0, err
	}
	return force / (0.5 * yieldNMM2 / factor), nil
}

// ScreenMount is a part of the flat display mounting interface (FDMI).
type ScreenMount string

// The parts of the interface.
const (
	FDMIB ScreenMount = "fdmi_b"
	FDMIC ScreenMount = "fdmi_c"
	FDMID ScreenMount = "fdmi_d"
	FDMIE ScreenMount = "fdmi_e"
	FDMIF ScreenMount = "fdmi_f"
)

// ScreenMassMax returns the heaviest screen in kg that a part of the interface is meant for.
//
// Source: FDMI 2006, parts B to E (read), part F (memory). Part E is given as 50 lb.
func ScreenMassMax(part ScreenMount) (float64, error) {
	switch part {
	case FDMIB:
		return 2, nil
	case FDMIC:
		return 4.5, nil
	case FDMID:
		return 14, nil
	case FDMIE:
		return 22.7, nil
	case FDMIF:
		return 113.6, nil
	}
	return 0, fmt.Errorf("%w: screen mount %q", ErrNotListed, part)
}
