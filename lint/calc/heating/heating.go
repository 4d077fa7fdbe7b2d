// Package heating works out electric heating cables in floors and benches: length,
// pitch and area, power, what cutting and a wrong voltage do, readings of resistance and
// insulation, the temperature of the heated surface, and the ramp of the first heat-up.
//
// Units stand in the names: mm, m, m², W, W/m, W/m², V, Ω (ohm), MΩ (mohm), °C, K.
// Input that is not finite or lies outside the stated range is an error that wraps
// [ErrRange]; no result is ever NaN or infinite. All surface temperatures are those of a steady state.
package heating

import (
	"errors"
	"fmt"
)

// ErrRange says that a value is out of range. It is wrapped with the value and what is wanted.
var ErrRange = errors.New("heating: a value is out of range")

// Bounds of what this package works with. They are far beyond any room and keep every result finite.
const (
	small = 1e-6
	large = 1e9
)

// within is an error unless lo ≤ v ≤ hi. NaN is never within.
func within(what string, v, lo, hi float64) error {
	if v >= lo && v <= hi {
		return nil
	}
	return fmt.Errorf("%w: %s is %v, wanted %v to %v", ErrRange, what, v, lo, hi)
}

// positive2 checks two values for 1e-6 to 1e9.
func positive2(nameA string, a float64, nameB string, b float64) error {
	if err := within(nameA, a, small, large); err != nil {
		return err
	}
	return within(nameB, b, small, large)
}
