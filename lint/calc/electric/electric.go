// Package electric sizes small low-voltage runs: resistance of copper conductors,
// voltage drop, current-carrying capacity, and the protection that goes with it.
//
// Units stand in the names: A, V, W, mm² (mm2), Ω/km (ohm per kilometre), m, °C.
// Lengths of a run are one-way. Input that is not finite or lies outside the
// stated range is an error that wraps [ErrRange], [ErrSize], [ErrTable] or [ErrRating]; no result
// is ever NaN or infinite.
//
// The standards were not opened in full. Beside each table and formula stands how
// its figures are known: read, secondary (as reported by others), from memory, or computed.
package electric

import (
	"errors"
	"fmt"
	"math"
)

// Errors of this package. Use errors.Is; all are wrapped with the value and what is wanted.
var (
	ErrRange  = errors.New("electric: a value is out of range")
	ErrSize   = errors.New("electric: the cross-section is not in the table")
	ErrTable  = errors.New("electric: the table has no such column")
	ErrRating = errors.New("electric: no listed cross-section or rating is large enough")
)

// Bounds of what this package works with. They are far beyond any room and keep
// every result finite.
const (
	MinVoltageV = 0.001
	MaxVoltageV = 1000.0
	MinCosPhi   = 0.01
	MaxPowerW   = 1e6
	MaxCurrentA = 1e6
	MaxRunM     = 1e5
)

// within is an error unless lo ≤ v ≤ hi; open leaves out lo itself. NaN is never within.
func within(what string, v, lo, hi float64, open bool) error {
	if v >= lo && v <= hi && !(open && v == lo) {
		return nil
	}
	from := "at least"
	if open {
		from = "above"
	}
	return fmt.Errorf("%w: %s is %v, wanted %s %v and at most %v", ErrRange, what, v, from, lo, hi)
}

func checkVoltage(v float64) error { return within("voltage in V", v, MinVoltageV, MaxVoltageV, false) }
func checkCurrent(a float64) error { return within("current in A", a, 0, MaxCurrentA, false) }
func checkLength(m float64) error  { return within("length in m", m, 0, MaxRunM, false) }
func checkCosPhi(c float64) error  { return within("power factor", c, MinCosPhi, 1, false) }

// System says how power comes to a load.
type System int

// The systems.
const (
	DC          System = iota // direct current, two wires
	SinglePhase               // alternating current, line and neutral
	ThreePhase                // alternating current, three lines, load taken as balanced
)

// Loaded is the number of conductors that carry current: two or three.
func (s System) Loaded() int {
	if s == ThreePhase {
		return 3
	}
	return 2
}

// CurrentA returns the current in A of a load of powerW in W:
//
//	DC            I = P/U
//	single phase  I = P/(U·cosφ)
//	three phase   I = P/(√3·U·cosφ)
//
// voltageV is the nominal voltage, between lines for three phases, [MinVoltageV] to
// [MaxVoltageV]; cosPhi is [MinCosPhi] to 1 and is not looked at for DC; powerW is 0 to [MaxPowerW].
//
// Source: definition of power (computed).
func CurrentA(s System, powerW, voltageV, cosPhi float64) (float64, error) {
	k, err := powerPerAmpere(s, voltageV, cosPhi)
	if err != nil {
		return 0, err
	}
	if err := within("power in W", powerW, 0, MaxPowerW, false); err != nil {
		return 0, err
	}
	return bounded(powerW / k)
}

// PowerW returns the power in W of a current in A, the inverse of [CurrentA].
func PowerW(s System, currentA, voltageV, cosPhi float64) (float64, error) {
	k, err := powerPerAmpere(s, voltageV, cosPhi)
	if err != nil {
		return 0, err
	}
	if err := checkCurrent(currentA); err != nil {
		return 0, err
	}
	return currentA * k, nil
}

func powerPerAmpere(s System, voltageV, cosPhi float64) (float64, error) {
	if err := checkVoltage(voltageV); err != nil {
		return 0, err
	}
	if s == DC {
		return voltageV, nil
	}
	if err := checkCosPhi(cosPhi); err != nil {
		return 0, err
	}
	k := voltageV * cosPhi
	if s == ThreePhase {
		k *= math.Sqrt(3)
	}
	return k, nil
}

// bounded gives a current only when it lies within what the other functions take.
func bounded(a float64) (float64, error) {
	if err := checkCurrent(a); err != nil {
		return 0, err
	}
	return a, nil
}

// SinPhi returns √(1 − cos²φ) for a power factor of [MinCosPhi] to 1.
func SinPhi(cosPhi float64) (float64, error) {
	if err := checkCosPhi(cosPhi); err != nil {
		return 0, err
	}
	return math.Sqrt(1 - cosPhi*cosPhi), nil
}

// Load is one consumer: its power in W and its power factor, 1 for heating elements.
type Load struct {
	PowerW float64
	CosPhi float64
}

// Combine returns the power in W and the power factor of loads in parallel: P = ΣP, Q = ΣP·tanφ, cosφ = P/√(P² + Q²).
// Without any power the power factor is 1. All loads are taken as inductive.
//
// Source: definition of active and reactive power (computed).
func Combine(loads []Load) (Load, error) {
	p, q := 0.0, 0.0
	for _, l := range loads {
		if err := within("power in W", l.PowerW, 0, MaxPowerW, false); err != nil {
			return Load{}, err
		}
		sin, err := SinPhi(l.CosPhi)
		if err != nil {
			return Load{}, err
		}
		p += l.PowerW
		q += l.PowerW * sin / l.CosPhi
	}
	if err := within("power in W", p, 0, MaxPowerW, false); err != nil {
		return Load{}, err
	}
	if p == 0 {
		return Load{0, 1}, nil
	}
	return Load{p, min(1, p/math.Hypot(p, q))}, nil
}
