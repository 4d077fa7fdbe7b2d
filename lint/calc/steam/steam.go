// Package steam works out what a steam generator without pressure gives, and
// what a steam room takes: heat to warm up in a wanted time and heat to stay
// warm, as power, as steam and as electrical current.
//
// The model is one well mixed room whose linings follow the air. It is meant to
// size a generator, not to follow the temperatures of a real room.
package steam

import (
	"errors"
	"fmt"
	"math"

	"wetrule/lint/calc/air"
)

// ErrRange is the error for input out of range; what is wrong, and the range, stand in the message.
var ErrRange = errors.New("out of range")

func within(what string, v, lo, hi float64, unit string) error {
	if v >= lo && v <= hi {
		return nil
	}
	return fmt.Errorf("%w: %s is %g %s, must be from %g to %g", ErrRange, what, v, unit, lo, hi)
}

// Saturated steam at 100 °C, as a generator without pressure gives it.
//
// Source: IAPWS R7-97(2012) (computed). At 101 325 Pa, which is 99.974 °C, the
// figures differ by less than 0.1 %. Viscosity: common tables (secondary).
const (
	TemperatureC    = 100.0
	EnthalpyKJKG    = 2675.57 // h_g
	EvaporationKJKG = 2256.47 // h_fg
	VolumeM3KG      = 1.67186 // v_g
	ViscosityPaS    = 1.227e-5
)

// YieldKGHPerKW returns the steam that one kW makes, in kg/h:
//
//	3600·η/(h_g(100 °C) − h_f(feed))
//
// for feed water of 0 to 100 °C and an efficiency above 0 up to 1.
//
// Source: energy balance with IAPWS R7-97(2012) (computed). Check values: 10 °C
// gives 1.367, 100 °C gives 1.5954; with an efficiency of 0.95 10 °C gives 1.2986.
func YieldKGHPerKW(feedC, efficiency float64) (float64, error) {
	if err := errors.Join(within("feed temperature", feedC, 0, 100, "°C"), within("efficiency", efficiency, 0.01, 1, "")); err != nil {
		return 0, err
	}
	water, err := air.SaturatedWaterAt(feedC)
	if err != nil {
		return 0, fmt.Errorf("%w: %w", ErrRange, err)
	}
	return 3600 * efficiency / (EnthalpyKJKG - water.EnthalpyKJKG), nil
}

// HeatKJKG returns the heat that a kg of steam of 100 °C gives to a room of 0 to
// 95 °C where it ends as water: h_g(100 °C) − h_f(room), in kJ/kg.
//
// Source: energy balance with IAPWS R7-97(2012) (computed). Check value: a room of 45 °C takes 2487.1 kJ/kg.
func HeatKJKG(roomC float64) (float64, error) {
	if err := within("room temperature", roomC, 0, 95, "°C"); err != nil {
		return 0, err
	}
	water, err := air.SaturatedWaterAt(roomC)
	if err != nil {
		return 0, fmt.Errorf("%w: %w", ErrRange, err)
	}
	return EnthalpyKJKG - water.EnthalpyKJKG, nil
}

// CurrentA returns the current in each line of an ohmic load of 0 to 1000 kW:
// P/U on one phase, P/(√3·U) on three, with U between the lines, of 1 to 1000 V.
//
// Source: electrical engineering (computed). Check values: 6 kW give 26.09 A at
// 230 V, and 8.66 A at 400 V on three phases.
func CurrentA(powerKW, voltageV float64, phases int) (float64, error) {
	if err := errors.Join(within("power", powerKW, 0, 1000, "kW"), within("voltage", voltageV, 1, 1000, "V")); err != nil {
		return 0, err
	}
	switch phases {
	case 1:
		return powerKW * 1000 / voltageV, nil
	case 3:
		return powerKW * 1000 / (math.Sqrt(3) * voltageV), nil
	}
	return 0, fmt.Errorf("%w: %d phases, must be 1 or 3", ErrRange, phases)
}

// breakers are the usual rated currents of circuit breakers in A.
//
// Source: IEC 60898-1, preferred values (memory).
var breakers = []float64{6, 10, 13, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125}

// Breakers returns the usual rated currents of circuit breakers in A, in rising order.
func Breakers() []float64 { return append([]float64(nil), breakers...) }

// BreakerA returns the least usual rating in A that carries a load of 0 to 125 A,
// and the one above it (the same for the last).
//
// Source: IEC 60364-4-43, I_b ≤ I_n (secondary), with IEC 60898-1's ratings (memory).
func BreakerA(loadA float64) (least, next float64, err error) {
	if err := within("load", loadA, 0, breakers[len(breakers)-1], "A"); err != nil {
		return 0, 0, err
	}
	for i, b := range breakers {
		if b >= loadA {
			return b, breakers[min(i+1, len(breakers)-1)], nil
		}
	}
	return 0, 0, fmt.Errorf("%w: no usual breaker carries %g A", ErrRange, loadA)
}
