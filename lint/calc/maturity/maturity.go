// Package maturity says how far cement, resin, films and sealants have cured
// after a time at a temperature, and how long they take on a cold or damp site.
//
// Units: temperatures in °C, times in hours unless a name says days, relative humidity in percent, activation energies in kJ/mol.
// Numbers outside the ranges that a function names give an error that wraps [ErrRange]; no result is ever NaN or infinite. Results are not rounded.
//
// No model here is calibrated for a product. Results are estimates: the data sheet goes first, and [CureTime] never
// falls below it.
package maturity

import (
	"errors"
	"fmt"
	"math"
)

// ErrRange says that a number is not finite or lies outside the range of a function. The wrapping error names both.
var ErrRange = errors.New("maturity: out of range")

// ErrNoProgress says that nothing cures in these conditions, so that no time is long enough.
var ErrNoProgress = errors.New("maturity: nothing cures")

const (
	// GasConstant is R in J/(mol·K) (CODATA).
	GasConstant = 8.314462618
	// ZeroCelsiusK is 0 °C in kelvin.
	ZeroCelsiusK = 273.15
	// MinC and MaxC are the temperatures that the package works with.
	MinC, MaxC = -50.0, 100.0
)

// Constants of the models.
const (
	// DatumC1074C is the datum of Nurse and Saul that ASTM C1074 takes by default (secondary); the classical ones are −10 and −11 °C.
	DatumC1074C = 0.0
	// ActivationKJMol is the usual activation energy of cement (ASTM C1074, secondary). Measured values run from 35 to 42 kJ/mol.
	ActivationKJMol = 33.5
	// ActivationK is E/R in kelvin as ASTM C1074 also gives it, about 41.6 kJ/mol (memory).
	ActivationK = 5000.0
	// LowTemperatureKJMolPerK is by how much the activation energy grows for each kelvin below 20 °C (Freiesleben Hansen and Pedersen, memory).
	LowTemperatureKJMolPerK = 1.47
	// ModelCodeExponent and ModelCodeK are the constants of CEB-FIP Model Code 1990 and EN 1992-1-1, B.1(3) (secondary; the exponent from memory).
	ModelCodeExponent, ModelCodeK = 13.65, 4000.0
	// ModelCodeZeroK is what these texts add to °C.
	ModelCodeZeroK = 273.0
	// Q10Doubling is the factor of the rate for 10 K (coatings practice, trade).
	Q10Doubling = 2.0
	// EightDegreeReferenceC and EightDegreeStepC are those of the rule of tile work that 8 °C halve or double the time from 21 °C on (trade;
	// probably a wrong conversion of 18 °F, which are 10 K).
	EightDegreeReferenceC, EightDegreeStepC = 21.0, 8.0
)

func inRange(what string, v, lo, hi float64) error {
	if v >= lo && v <= hi {
		return nil
	}
	return fmt.Errorf("%w: %s is %g, wanted %g to %g", ErrRange, what, v, lo, hi)
}

func temperatures(cs ...float64) error {
	for _, c := range cs {
		if err := inRange("temperature in °C", c, MinC, MaxC); err != nil {
			return err
		}
	}
	return nil
}

func humidity(percent float64) error { return inRange("relative humidity in percent", percent, 0, 100) }

// Step is a stretch of time at one temperature and humidity. The humidity counts only in models that ask for it.
type Step struct {
	Hours, TemperatureC, HumidityPercent float64
}

// MaxHours is the longest stretch of time that the package works with, about 114 years.
const MaxHours = 1e6

// Rate gives how fast a material cures in some conditions, as a part of its rate at the reference.
type Rate func(temperatureC, humidityPercent float64) (float64, error)

// EquivalentAgeH gives the age in hours at the reference that a profile of temperatures stands for: Σ rate·Δt.
//
// Source: ASTM C1074, equivalent age (memory for the form with a datum; secondary for Arrhenius).
func EquivalentAgeH(profile []Step, rate Rate) (float64, error) {
	sum := 0.0
	for i, s := range profile {
		if err := inRange("hours", s.Hours, 0, MaxHours); err != nil {
			return 0, fmt.Errorf("step %d: %w", i+1, err)
		}
		r, err := rate(s.TemperatureC, s.HumidityPercent)
		if err != nil {
			return 0, fmt.Errorf("step %d: %w", i+1, err)
		}
		sum += r * s.Hours
	}
	return sum, nil
}

// TimeH gives the hours that a material takes in some conditions for what takes it the given hours at the reference. Where
// the rate is nought it is [ErrNoProgress].
func TimeH(hoursAtReference, temperatureC, humidityPercent float64, rate Rate) (float64, error) {
	if err := inRange("hours", hoursAtReference, 0, MaxHours); err != nil {
		return 0, err
	}
	r, err := rate(temperatureC, humidityPercent)
	if err != nil {
		return 0, err
	}
	if r < 1e-6 {
		return 0, fmt.Errorf("%w at %g °C", ErrNoProgress, temperatureC)
	}
	return hoursAtReference / r, nil
}

// NurseSaul gives the maturity in °C·h of a profile: Σ (T − datum)·Δt, nought for each step at the datum or below.
//
// Source: ASTM C1074 (secondary).
func NurseSaul(profile []Step, datumC float64) (float64, error) {
	if err := temperatures(datumC); err != nil {
		return 0, err
	}
	return EquivalentAgeH(profile, func(c, _ float64) (float64, error) {
		if err := temperatures(c); err != nil {
			return 0, err
		}
		return max(c-datumC, 0), nil
	})
}

// NurseSaulRate is the rate (T − datum)/(reference − datum), nought at the datum or below. The reference lies at least 1 K above the datum.
//
// Source: ASTM C1074 (memory).
func NurseSaulRate(datumC, referenceC float64) Rate {
	return func(c, _ float64) (float64, error) {
		if err := temperatures(c, datumC, referenceC); err != nil {
			return 0, err
		}
		if err := inRange("reference above the datum in K", referenceC-datumC, 1, MaxC-MinC); err != nil {
			return 0, err
		}
		return max(c-datumC, 0) / (referenceC - datumC), nil
	}
}

// ArrheniusRate is exp(−E/R·(1/T − 1/Tr)) in kelvin, E from 10 to 150 kJ/mol.
//
// Source: ASTM C1074 (secondary).
func ArrheniusRate(energyKJMol, referenceC float64) Rate {
	return func(c, _ float64) (float64, error) {
		if err := inRange("activation energy in kJ/mol", energyKJMol, 10, 150); err != nil {
			return 0, err
		}
		return arrhenius(energyKJMol*1000/GasConstant, c, referenceC)
	}
}

// ArrheniusRateK is [ArrheniusRate] with E/R in kelvin, 1000 to 20 000 K.
func ArrheniusRateK(kelvin, referenceC float64) Rate {
	return func(c, _ float64) (float64, error) {
		if err := inRange("E/R in K", kelvin, 1000, 20000); err != nil {
			return 0, err
		}
		return arrhenius(kelvin, c, referenceC)
	}
}

func arrhenius(kelvin, c, referenceC float64) (float64, error) {
	if err := temperatures(c, referenceC); err != nil {
		return 0, err
	}
	return math.Exp(-kelvin * (1/(c+ZeroCelsiusK) - 1/(referenceC+ZeroCelsiusK))), nil
}

// LowTemperatureEnergyKJMol gives the activation energy of cement that grows in the cold: 33.5 from 20 °C up, 33.5 + 1.47·(20 − T) below.
//
// Source: Freiesleben Hansen and Pedersen (memory).
func LowTemperatureEnergyKJMol(temperatureC float64) (float64, error) {
	if err := temperatures(temperatureC); err != nil {
		return 0, err
	}
	return ActivationKJMol + LowTemperatureKJMolPerK*max(20-temperatureC, 0), nil
}

// LowTemperatureRate is the rate of Arrhenius with [LowTemperatureEnergyKJMol].
func LowTemperatureRate(referenceC float64) Rate {
	return func(c, _ float64) (float64, error) {
		e, err := LowTemperatureEnergyKJMol(c)
		if err != nil {
			return 0, err
		}
		return arrhenius(e*1000/GasConstant, c, referenceC)
	}
}

// ModelCodeRate is exp(13.65 − 4000/(273 + T)), from 0 to 80 °C, relative to 20 °C (at which it is 0.998).
//
// Source: CEB-FIP Model Code 1990; EN 1992-1-1, B.1(3) (secondary; the exponent from memory).
func ModelCodeRate() Rate {
	return func(c, _ float64) (float64, error) {
		if err := inRange("temperature in °C", c, 0, 80); err != nil {
			return 0, err
		}
		return math.Exp(ModelCodeExponent - ModelCodeK/(ModelCodeZeroK+c)), nil
	}
}

// Q10Rate is 2^((T − reference)/10).
//
// Source: coatings practice (trade).
func Q10Rate(referenceC float64) Rate {
	return func(c, _ float64) (float64, error) {
		if err := temperatures(c, referenceC); err != nil {
			return 0, err
		}
		return math.Pow(Q10Doubling, (c-referenceC)/10), nil
	}
}

// EightDegreeRate is 2^((T − 21)/8), the rule of tile work. It is stricter than [Q10Rate] in the cold and too generous in the heat.
//
// Source: tile trade.
func EightDegreeRate() Rate {
	return func(c, _ float64) (float64, error) {
		if err := temperatures(c); err != nil {
			return 0, err
		}
		return math.Pow(2, (c-EightDegreeReferenceC)/EightDegreeStepC), nil
	}
}

// SaturationPa gives the saturation pressure over water from −50 to 100 °C: 610.5·exp(17.269·T/(237.3 + T)), over ice below 0 °C
// 610.5·exp(21.875·T/(265.5 + T)).
//
// Source: ISO 13788:2012, annex E (read).
func SaturationPa(temperatureC float64) (float64, error) {
	if err := temperatures(temperatureC); err != nil {
		return 0, err
	}
	if temperatureC < 0 {
		return 610.5 * math.Exp(21.875*temperatureC/(265.5+temperatureC)), nil
	}
	return 610.5 * math.Exp(17.269*temperatureC/(237.3+temperatureC)), nil
}

// DryingRate is how fast a film of water-based product dries in still air: psat(T)·(1 − φ) as a part of that at the reference. It is nought in saturated air.
// The humidity of the reference is at most 99 percent.
//
// Source: Dalton's law of evaporation (computed).
func DryingRate(referenceC, referencePercent float64) Rate {
	return vapourRate(referenceC, referencePercent, func(percent float64) float64 { return 1 - percent/100 }, 0, 99)
}

// MoistureCureRate is how fast a silicone or a one-part polyurethane draws the moisture that it cures with: psat(T)·φ as a part of that at the
// reference. With depth ∝ √t the time for a depth is inverse to it. It is nought in dry air. The humidity of the reference is at least 1 percent.
//
// Source: a cure front that moisture has to reach through what is cured (computed); that cold and dry air slow it is from memory.
func MoistureCureRate(referenceC, referencePercent float64) Rate {
	return vapourRate(referenceC, referencePercent, func(percent float64) float64 { return percent / 100 }, 1, 100)
}

func vapourRate(referenceC, referencePercent float64, part func(percent float64) float64, lo, hi float64) Rate {
	return func(c, percent float64) (float64, error) {
		if err := humidity(percent); err != nil {
			return 0, err
		}
		if err := inRange("relative humidity of the reference in percent", referencePercent, lo, hi); err != nil {
			return 0, err
		}
		p, err := SaturationPa(c)
		if err != nil {
			return 0, err
		}
		ref, err := SaturationPa(referenceC)
		if err != nil {
			return 0, err
		}
		return p * part(percent) / (ref * part(referencePercent)), nil
	}
}

// SealantSpeedMMPerRootDay is how deep a moisture-curing sealant cures in the first day at 23 °C and 50 %, in mm: from slow to fast.
//
// Source: from memory.
var SealantSpeedMMPerRootDay = [2]float64{2, 3}

// SealantDays gives the days in which a bead of a depth, 0 to 100 mm, cures through: (depth/k)², with k from 0.1 to 20 mm/√day.
//
// Source: diffusion through the cured skin (computed).
func SealantDays(depthMM, speedMMPerRootDay float64) (float64, error) {
	if err := inRange("depth in mm", depthMM, 0, 100); err != nil {
		return 0, err
	}
	if err := inRange("speed in mm/√day", speedMMPerRootDay, 0.1, 20); err != nil {
		return 0, err
	}
	return math.Pow(depthMM/speedMMPerRootDay, 2), nil
}

// SealantDepthMM gives the depth in mm to which a bead has cured after some days, 0 to 10 000: k·√days.
//
// Source: diffusion through the cured skin (computed).
func SealantDepthMM(days, speedMMPerRootDay float64) (float64, error) {
	if err := inRange("days", days, 0, 10000); err != nil {
		return 0, err
	}
	if err := inRange("speed in mm/√day", speedMMPerRootDay, 0.1, 20); err != nil {
		return 0, err
	}
	return speedMMPerRootDay * math.Sqrt(days), nil
}

// SealantDaysLinear gives the days of a bead when a data sheet gives mm a day: depth/speed. Real beads are slower below the first day's depth.
//
// Source: trade rule.
func SealantDaysLinear(depthMM, speedMMPerDay float64) (float64, error) {
	if err := inRange("depth in mm", depthMM, 0, 100); err != nil {
		return 0, err
	}
	if err := inRange("speed in mm/day", speedMMPerDay, 0.1, 50); err != nil {
		return 0, err
	}
	return depthMM / speedMMPerDay, nil
}

// Strength is how fast concrete gains strength, by the ratio of its mean strength at 2 and at 28 days.
type Strength uint8

// The classes of strength gain: r ≥ 0.50, ≥ 0.30, ≥ 0.15, below.
const (
	Rapid Strength = iota
	MediumGain
	Slow
	VerySlow
)

// StrengthOf gives the class of a ratio fcm2/fcm28, 0 to 1.
//
// Source: DIN 1045-3 (secondary; the bound 0.50 from memory).
func StrengthOf(ratio float64) (Strength, error) {
	if err := inRange("ratio of strengths", ratio, 0, 1); err != nil {
		return 0, err
	}
	switch {
	case ratio >= 0.5:
		return Rapid, nil
	case ratio >= 0.3:
		return MediumGain, nil
	case ratio >= 0.15:
		return Slow, nil
	}
	return VerySlow, nil
}

// protection are the least days by surface temperature and class.
//
// Source: DIN 1045-3, least curing of concrete, all exposure classes but X0 and XC1 (secondary).
var protection = []struct {
	fromC float64
	days  [4]int
}{{25, [4]int{1, 2, 2, 3}}, {15, [4]int{1, 2, 4, 5}}, {10, [4]int{2, 4, 7, 10}}, {5, [4]int{3, 6, 10, 15}}}

// ProtectionDays gives the least days for which fresh concrete is to be kept damp and guarded at a surface temperature from 5 to 100 °C. Below 5 °C the
// table has no figure, as the time below 5 °C is added: [ErrNoProgress]. It is for concrete; mortar beds and grouts are like it only by analogy.
//
// Source: DIN 1045-3 (secondary).
func ProtectionDays(surfaceC float64, s Strength) (int, error) {
	if err := temperatures(surfaceC); err != nil {
		return 0, err
	}
	if s > VerySlow {
		return 0, fmt.Errorf("%w: there is no class of strength gain %d", ErrRange, s)
	}
	for _, row := range protection {
		if surfaceC >= row.fromC {
			return row.days[s], nil
		}
	}
	return 0, fmt.Errorf("%w at %g °C: the time below 5 °C does not count", ErrNoProgress, surfaceC)
}
