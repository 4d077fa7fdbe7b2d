// Package ventilation works with the air that a room changes: velocities in
// ducts and gaps, air changes, free areas, the balance of air in and out, and fresh air per person.
//
// Units: air flow in m³/h, areas in mm², lengths in mm, velocities in m/s, pressures in Pa, volumes in m³.
// Numbers outside the ranges that a function names give an error that wraps [ErrRange]; no result is ever NaN
// or infinite. Results are not rounded.
package ventilation

import (
	"errors"
	"fmt"
	"math"
)

// ErrRange says that a number is not finite or lies outside the range of a function. The wrapping error names both.
var ErrRange = errors.New("ventilation: out of range")

// MaxFlowM3H is the largest air flow that the package works with.
const MaxFlowM3H = 1e6

// Usual constants of openings: the discharge coefficient of a sharp-edged opening, and the density of air at 20 °C in kg/m³.
//
// Source: orifice equation in textbooks (secondary).
const (
	SharpEdgedCd   = 0.61
	AirDensityKGM3 = 1.2
)

// FreshAirPerPersonM3H is what the trade gives each person in a steam room.
//
// Source: trade figure; no standard was found.
const FreshAirPerPersonM3H = 20

// DoorUndercutMM2 is the free area under a door that lets air pass between the rooms of a dwelling.
//
// Source: Approved Document F, England: 10 mm over the finished floor at a door of 760 mm (read).
const DoorUndercutMM2 = 7600

// LitresPerSecondPerCFM is one cubic foot a minute in l/s, exact by definition of the foot.
const LitresPerSecondPerCFM = 0.3048 * 0.3048 * 0.3048 * 1000 / 60

func inRange(what string, v, lo, hi float64) error {
	if v >= lo && v <= hi {
		return nil
	}
	return fmt.Errorf("%w: %s is %g, wanted %g to %g", ErrRange, what, v, lo, hi)
}

// each checks several numbers.
func each(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func flow(v float64) error { return inRange("air flow in m³/h", v, 0, MaxFlowM3H) }
func area(v float64) error { return inRange("area in mm²", v, 1, 1e10) }

// M3HFromLS turns l/s into m³/h, 0 to 1e6/3.6 l/s: × 3.6.
func M3HFromLS(ls float64) (float64, error) {
	if err := inRange("air flow in l/s", ls, 0, MaxFlowM3H/3.6); err != nil {
		return 0, err
	}
	return ls * 3.6, nil
}

// M3HFromCFM turns cubic feet a minute into m³/h.
func M3HFromCFM(cfm float64) (float64, error) {
	if err := inRange("air flow in cfm", cfm, 0, MaxFlowM3H/3.6/LitresPerSecondPerCFM); err != nil {
		return 0, err
	}
	return cfm * LitresPerSecondPerCFM * 3.6, nil
}

// DuctAreaMM2 gives the area of a round duct from its inside diameter, 1 to 5000 mm: π/4·d².
//
// Source: geometry. Nominal diameters of EN 1506 are inside diameters (read).
func DuctAreaMM2(diameterMM float64) (float64, error) {
	if err := inRange("diameter in mm", diameterMM, 1, 5000); err != nil {
		return 0, err
	}
	return math.Pi / 4 * diameterMM * diameterMM, nil
}

// VelocityMS gives the mean velocity of an air flow through an area, 1 to 1e10 mm²: V/A.
//
// Source: continuity.
func VelocityMS(flowM3H, areaMM2 float64) (float64, error) {
	if err := each(flow(flowM3H), area(areaMM2)); err != nil {
		return 0, err
	}
	return flowM3H / 3600 / (areaMM2 * 1e-6), nil
}

// DuctVelocityMS gives the mean velocity in a round duct.
func DuctVelocityMS(flowM3H, diameterMM float64) (float64, error) {
	a, err := DuctAreaMM2(diameterMM)
	if err != nil {
		return 0, err
	}
	return VelocityMS(flowM3H, a)
}

// AreaAtVelocityMM2 gives the area that an air flow needs at a mean velocity of 0.01 to 100 m/s: V/v.
//
// Source: continuity.
func AreaAtVelocityMM2(flowM3H, velocityMS float64) (float64, error) {
	if err := each(flow(flowM3H), inRange("velocity in m/s", velocityMS, 0.01, 100)); err != nil {
		return 0, err
	}
	return flowM3H / 3600 / velocityMS * 1e6, nil
}

// AirChangesPerH gives how often an hour an air flow renews a volume of 0.01 to 1e6 m³: V/volume.
func AirChangesPerH(flowM3H, volumeM3 float64) (float64, error) {
	if err := each(flow(flowM3H), inRange("volume in m³", volumeM3, 0.01, 1e6)); err != nil {
		return 0, err
	}
	return flowM3H / volumeM3, nil
}

// Orifice is how an opening lets air through.
type Orifice struct {
	Cd          float64 // discharge coefficient, 0.1 to 1; see SharpEdgedCd
	DensityKGM3 float64 // of the air, 0.5 to 2; see AirDensityKGM3
}

// SharpEdged is an opening with sharp edges in air of 20 °C.
func SharpEdged() Orifice { return Orifice{SharpEdgedCd, AirDensityKGM3} }

func (o Orifice) check() error {
	return each(inRange("discharge coefficient", o.Cd, 0.1, 1), inRange("density in kg/m³", o.DensityKGM3, 0.5, 2))
}

// FreeAreaMM2 gives the area that lets an air flow through at a pressure difference of 0.1 to 5000 Pa: A = V / (Cd·√(2Δp/ρ)).
// The geometric area of a grille is larger: its equivalent area is about 0.6 to 0.7 of its free area.
//
// Source: orifice equation (secondary).
func (o Orifice) FreeAreaMM2(flowM3H, pressurePa float64) (float64, error) {
	if err := each(o.check(), flow(flowM3H), inRange("pressure difference in Pa", pressurePa, 0.1, 5000)); err != nil {
		return 0, err
	}
	return flowM3H / 3600 / (o.Cd * math.Sqrt(2*pressurePa/o.DensityKGM3)) * 1e6, nil
}

// PressurePa gives the pressure difference that drives an air flow through an area: Δp = ρ/2·(V/(Cd·A))². It is the inverse of
// [Orifice.FreeAreaMM2]. A flow that would need more than 1e5 Pa is an error.
//
// Source: orifice equation (secondary).
func (o Orifice) PressurePa(flowM3H, areaMM2 float64) (float64, error) {
	if err := o.check(); err != nil {
		return 0, err
	}
	v, err := VelocityMS(flowM3H, areaMM2)
	if err != nil {
		return 0, err
	}
	p := o.DensityKGM3 / 2 * (v / o.Cd) * (v / o.Cd)
	if err := inRange("pressure difference in Pa", p, 0, 1e5); err != nil {
		return 0, err
	}
	return p, nil
}

// UndercutAreaMM2 gives the area of the gap under a door: width · gap, 100 to 5000 mm and 0 to 500 mm.
func UndercutAreaMM2(widthMM, gapMM float64) (float64, error) {
	if err := each(inRange("width in mm", widthMM, 100, 5000), inRange("gap in mm", gapMM, 0, 500)); err != nil {
		return 0, err
	}
	return widthMM * gapMM, nil
}

// UndercutMM gives the gap under a door of a width that has an area, 0 to 1e7 mm²: A/width.
func UndercutMM(areaMM2, widthMM float64) (float64, error) {
	if err := each(inRange("area in mm²", areaMM2, 0, 1e7), inRange("width in mm", widthMM, 100, 5000)); err != nil {
		return 0, err
	}
	return areaMM2 / widthMM, nil
}

// FreshAirM3H gives the air flow that a number of people, 0 to 1000, wants at so much for each, 0 to 200 m³/h.
func FreshAirM3H(people, perPersonM3H float64) (float64, error) {
	if err := each(inRange("people", people, 0, 1000), inRange("air flow per person in m³/h", perPersonM3H, 0, 200)); err != nil {
		return 0, err
	}
	return people * perPersonM3H, nil
}

// PerPersonM3H gives the air flow per person; people 1 to 1000.
func PerPersonM3H(flowM3H, people float64) (float64, error) {
	if err := each(flow(flowM3H), inRange("people", people, 1, 1000)); err != nil {
		return 0, err
	}
	return flowM3H / people, nil
}

// Balanced is the air of a room that is led in and out by fans and ducts, and what gaps have to make up.
type Balanced struct {
	RenewedM3H float64 // the larger of the two: what the one lacks comes or goes through gaps
	MakeUpM3H  float64 // drawn in through gaps and inlets without a fan; the room lies under suction
	PushedM3H  float64 // pushed out through gaps; the room lies under pressure
}

// Balance compares the air led out with the air led in. When they are equal no gap has anything to do, and the room has the pressure of its neighbours.
//
// Source: conservation of mass at equal density.
func Balance(exhaustM3H, supplyM3H float64) (Balanced, error) {
	if err := each(flow(exhaustM3H), flow(supplyM3H)); err != nil {
		return Balanced{}, err
	}
	return Balanced{RenewedM3H: max(exhaustM3H, supplyM3H), MakeUpM3H: max(exhaustM3H-supplyM3H, 0), PushedM3H: max(supplyM3H-exhaustM3H, 0)}, nil
}

// CO2RisePercent gives by how many percent by volume the carbon dioxide in a well-mixed room rises above that of the fresh air: with G = people · litres an hour and
// n air changes, G/V·(1 − e^(−n·t)), and G·t/volume without ventilation. People 0 to 1000, 5 to 100 l/h each, 0.1 to 1e6 m³, 0 to 1000 h.
//
// Source: mass balance of a mixed room (computed); a person at rest gives about 18 l/h (memory).
func CO2RisePercent(people, litresPerH, volumeM3, flowM3H, hours float64) (float64, error) {
	if err := each(inRange("people", people, 0, 1000), inRange("carbon dioxide in l/h", litresPerH, 5, 100), inRange("volume in m³", volumeM3, 0.1, 1e6), flow(flowM3H), inRange("hours", hours, 0, 1000)); err != nil {
		return 0, err
	}
	g := people * litresPerH / 1000 // m³/h
	nt := flowM3H / volumeM3 * hours
	if nt < 1e-9 {
		return 100 * g * hours / volumeM3, nil
	}
	return 100 * g / flowM3H * -math.Expm1(-nt), nil
}
