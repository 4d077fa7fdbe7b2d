package electric

import "fmt"

// ratings are the rated currents of breakers, in A.
//
// Source: IEC 60898-1, preferred values of the rated current (from memory; 13 A is not in every range).
var ratings = []float64{6, 10, 13, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125}

// Ratings returns the rated currents of breakers in A, smallest first. with13 keeps the 13 A rating.
//
// Source: IEC 60898-1 (from memory).
func Ratings(with13 bool) []float64 {
	out := make([]float64, 0, len(ratings))
	for _, r := range ratings {
		if r != 13 || with13 {
			out = append(out, r)
		}
	}
	return out
}

// IsRating says whether a current in A is a preferred rating of a breaker.
func IsRating(a float64) bool {
	for _, r := range ratings {
		if r == a {
			return true
		}
	}
	return false
}

// RatingFor returns the smallest of the ratings in A, given smallest first, that carries a design current in A.
//
// Source: IEC 60364-4-43, 433.1: IB ≤ In (secondary).
func RatingFor(designA float64, ratings []float64) (float64, error) {
	if err := checkCurrent(designA); err != nil {
		return 0, err
	}
	for _, r := range ratings {
		if designA <= r {
			return r, nil
		}
	}
	return 0, fmt.Errorf("%w: design current %v A", ErrRating, designA)
}

// SmallestMM2 returns the smallest cross-section in mm² of the capacity tables that carries a rated current in A, and its
// capacity Iz in A.
//
// Source: IEC 60364-4-43, 433.1: In ≤ Iz (secondary).
func (r Run) SmallestMM2(ratedA float64) (mm2, izA float64, err error) {
	if err := checkCurrent(ratedA); err != nil {
		return 0, 0, err
	}
	for _, s := range capacitySizes {
		iz, err := r.IzA(s)
		switch {
		case err != nil && s == capacitySizes[0]:
			continue // some columns begin at 1.5 mm²
		case err != nil:
			return 0, 0, err
		case ratedA <= iz:
			return s, iz, nil
		}
	}
	return 0, 0, fmt.Errorf("%w: rated current %v A", ErrRating, ratedA)
}

// Device is the sort of overcurrent device.
type Device string

// The sorts.
const (
	Breaker Device = "breaker" // to IEC 60898-1
	FuseGG  Device = "fuse"    // gG to IEC 60269
)

// ConventionalTripA returns I2 in A, the current that surely operates a device of a rated current in A
// within its conventional time: 1.45·In for a breaker; for a gG fuse 1.6·In from 16 A, 1.9·In above 4 A and 2.1·In
// up to 4 A.
//
// Source: breaker and fuse from 16 A as reported by others (secondary); smaller fuses from memory.
func ConventionalTripA(d Device, ratedA float64) (float64, error) {
	if err := within("rated current in A", ratedA, 0, MaxCurrentA, true); err != nil {
		return 0, err
	}
	switch {
	case d == Breaker:
		return 1.45 * ratedA, nil
	case d != FuseGG:
		return 0, fmt.Errorf("%w: device %q", ErrTable, d)
	case ratedA >= 16:
		return 1.6 * ratedA, nil
	case ratedA > 4:
		return 1.9 * ratedA, nil
	}
	return 2.1 * ratedA, nil
}

// OverloadFactor is how far above its capacity Iz a conductor may be loaded until the device operates: I2 ≤ 1.45·Iz.
//
// Source: IEC 60364-4-43, 433.1 (from memory in the text; stated for breakers, secondary).
const OverloadFactor = 1.45

// Coordination is the outcome of the three tests of overload protection.
type Coordination struct {
	DesignKept  bool // IB ≤ In
	CarriedKept bool // In ≤ Iz
	TripKept    bool // I2 ≤ 1.45·Iz
}

// OK says whether all tests are passed.
func (c Coordination) OK() bool { return c.DesignKept && c.CarriedKept && c.TripKept }

// Coordinate tests a design current, a rated current and a capacity in A against each other:
// IB ≤ In ≤ Iz and I2 ≤ 1.45·Iz. With a breaker the last test follows from the second.
//
// Source: IEC 60364-4-43, 433.1 (secondary).
func Coordinate(d Device, designA, ratedA, izA float64) (Coordination, error) {
	i2, err := ConventionalTripA(d, ratedA)
	if err != nil {
		return Coordination{}, err
	}
	for _, a := range []float64{designA, izA} {
		if err := checkCurrent(a); err != nil {
			return Coordination{}, err
		}
	}
	c := Coordination{DesignKept: designA <= ratedA, CarriedKept: ratedA <= izA, TripKept: i2 <= OverloadFactor*izA}
	c.TripKept = c.TripKept || d == Breaker && c.CarriedKept // the same test, whatever the rounding
	return c, nil
}

// TripBand returns the limits of the instantaneous tripping of a breaker of type B, C or D in multiples of its rated
// current: B 3 to 5, C 5 to 10, D 10 to 20.
//
// Source: IEC 60898-1 (from memory).
func TripBand(kind byte) (lo, hi float64, err error) {
	switch kind {
	case 'B':
		return 3, 5, nil
	case 'C':
		return 5, 10, nil
	case 'D':
		return 10, 20, nil
	}
	return 0, 0, fmt.Errorf("%w: breaker type %q, wanted B, C or D", ErrTable, string(rune(kind)))
}

// TouchVoltageV is the touch voltage in V that supplementary bonding is checked against.
//
// Source: BS 7671, 415.2.2 (secondary).
const TouchVoltageV = 50.0

// BondingMaxOhm returns the largest resistance in Ω between parts that are touched together, where an RCD of
// residualMA in mA (0.1 to 1000) protects: R ≤ 50 V / IΔn.
//
// Source: BS 7671, 415.2.2 (secondary). 30 mA gives 1667 Ω.
func BondingMaxOhm(residualMA float64) (float64, error) {
	if err := within("rated residual current in mA", residualMA, 0.1, 1000, false); err != nil {
		return 0, err
	}
	return TouchVoltageV / (residualMA / 1000), nil
}
