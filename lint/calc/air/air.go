// Package air works out moist air and steam: saturation pressure in four published forms, dew point, humidity ratio,
// enthalpy, volume, and the properties of water and steam at saturation.
//
// Temperatures are in °C, pressures in Pa (absolute), relative humidities in percent, enthalpies in kJ/kg, volumes in
// m³/kg. Use ISO 13788 for walls, ASHRAE for air, IAPWS-IF97 for steam. What lies outside the range of a formula is an
// error, never a number.
package air

import (
	"errors"
	"fmt"
	"math"
)

// The errors of this package; they come wrapped with the value and the range.
var (
	ErrTemperature = errors.New("temperature out of range")
	ErrPressure    = errors.New("pressure out of range")
	ErrHumidity    = errors.New("humidity out of range")
	ErrFormula     = errors.New("no such formula of saturation pressure")
	ErrAltitude    = errors.New("altitude out of range")
)

const (
	// StandardPressurePa is the standard atmosphere at sea level (ISO 2533, secondary).
	StandardPressurePa = 101325.0
	// VapourGasConstant is the gas constant of water vapour in J/(kg·K) as ISO 13788 rounds it (read).
	VapourGasConstant = 461.5
	// KelvinOffset is 0 °C in K, by definition.
	KelvinOffset = 273.15
)

// The constants of moist air.
//
// Source: ASHRAE Handbook Fundamentals 2017, chapter 1 (secondary).
const (
	massRatio      = 0.621945 // molar mass of water over that of dry air
	airGasConstant = 287.042  // J/(kg·K)
	volumeFactor   = 1.607858 // 1 ÷ massRatio
	airHeat        = 1.006    // kJ/(kg·K)
	vapourHeat     = 1.86     // kJ/(kg·K)
	evaporation0   = 2501.0   // kJ/kg at 0 °C
)

// within checks a value against a closed range. NaN lies in no range.
func within(sentinel error, v, lo, hi float64, unit string) error {
	if v >= lo && v <= hi {
		return nil
	}
	return fmt.Errorf("%w: %g %s, allowed %g to %g", sentinel, v, unit, lo, hi)
}

const (
	airLowC, airHighC   = -100.0, 200.0
	maxTotalPa          = 1e7
	maxRatio            = 10.0
	maxVapourShare      = 0.999 // of the total pressure; nearer to pure vapour the ratio has no meaning
	maxRelativeHumidity = 100.0
)

// VapourPressure returns the partial pressure of water vapour in Pa of air at a temperature (range of the formula) and a
// relative humidity of 0 to 100 %: φ·p_sat.
func VapourPressure(f Formula, tempC, humidityPercent float64) (float64, error) {
	if err := within(ErrHumidity, humidityPercent, 0, maxRelativeHumidity, "%"); err != nil {
		return 0, err
	}
	p, err := f.Saturation(tempC)
	return p * humidityPercent / 100, err
}

// RelativeHumidity returns 100·p_v/p_sat in percent. A vapour pressure above saturation is an error.
func RelativeHumidity(f Formula, tempC, vapourPa float64) (float64, error) {
	p, err := f.Saturation(tempC)
	if err != nil {
		return 0, err
	}
	// A hair above saturation is rounding of a saturated state.
	if err := within(ErrPressure, vapourPa, 0, p*(1+1e-9), "Pa of vapour"); err != nil {
		return 0, err
	}
	return min(100*vapourPa/p, maxRelativeHumidity), nil
}

// DewPoint returns the dew point in °C of air at a temperature and a relative humidity above 0 up to 100 %.
func DewPoint(f Formula, tempC, humidityPercent float64) (float64, error) {
	p, err := VapourPressure(f, tempC, humidityPercent)
	if err != nil {
		return 0, err
	}
	return f.DewPoint(p)
}

// HumidityRatio returns W = 0.621945·p_v/(p − p_v) in kg of water per kg of dry air, for a vapour pressure from 0 to
// 99.9 % of the total pressure (1 Pa to 10 MPa).
//
// Source: ASHRAE Handbook Fundamentals 2017, chapter 1, ideal gas (secondary). Published real-gas tables differ by up to 1 %
// at 50 °C and 2 % at 85 °C.
func HumidityRatio(vapourPa, totalPa float64) (float64, error) {
	if err := within(ErrPressure, totalPa, 1, maxTotalPa, "Pa"); err != nil {
		return 0, err
	}
	if err := within(ErrPressure, vapourPa, 0, maxVapourShare*totalPa, "Pa of vapour"); err != nil {
		return 0, err
	}
	return massRatio * vapourPa / (totalPa - vapourPa), nil
}

// VapourPressureOfRatio is the inverse of HumidityRatio: p_v = p·W/(0.621945 + W) in Pa, for 0 to 10 kg/kg.
func VapourPressureOfRatio(ratio, totalPa float64) (float64, error) {
	if err := within(ErrPressure, totalPa, 1, maxTotalPa, "Pa"); err != nil {
		return 0, err
	}
	if err := within(ErrHumidity, ratio, 0, maxRatio, "kg/kg"); err != nil {
		return 0, err
	}
	return totalPa * ratio / (massRatio + ratio), nil
}

// HumidityRatioOfWetBulb returns the humidity ratio in kg/kg from a dry bulb above 0 °C and a wet bulb between 0 °C and the dry
// bulb: W = [(2501 − 2.326·t*)·W_s* − 1.006·(t − t*)]/(2501 + 1.86·t − 4.186·t*), never below 0.
//
// Source: ASHRAE Handbook Fundamentals 2017, chapter 1 (secondary); its example 1, 40 °C with wet bulb 20 °C, gives 0.0065.
func HumidityRatioOfWetBulb(dryC, wetC, totalPa float64) (float64, error) {
	if err := within(ErrTemperature, dryC, 0, airHighC, "°C"); err != nil {
		return 0, err
	}
	if err := within(ErrTemperature, wetC, 0, dryC, "°C wet bulb"); err != nil {
		return 0, err
	}
	sat, err := ASHRAE.Saturation(wetC)
	if err != nil {
		return 0, err
	}
	w, err := HumidityRatio(sat, totalPa)
	if err != nil {
		return 0, err
	}
	return max(0, ((evaporation0-2.326*wetC)*w-airHeat*(dryC-wetC))/(evaporation0+vapourHeat*dryC-4.186*wetC)), nil
}

// Enthalpy returns h = 1.006·t + W·(2501 + 1.86·t) in kJ per kg of dry air, zero for dry air at 0 °C, from −100 to 200 °C.
//
// Source: ASHRAE Handbook Fundamentals 2017, chapter 1 (secondary).
func Enthalpy(tempC, ratio float64) (float64, error) {
	if err := checkMoist(tempC, ratio); err != nil {
		return 0, err
	}
	return airHeat*tempC + ratio*(evaporation0+vapourHeat*tempC), nil
}

// SpecificVolume returns v = 287.042·T·(1 + 1.607858·W)/p in m³ per kg of dry air, from −100 to 200 °C.
//
// Source: ASHRAE Handbook Fundamentals 2017, chapter 1 (secondary).
func SpecificVolume(tempC, ratio, totalPa float64) (float64, error) {
	if err := checkMoist(tempC, ratio); err != nil {
		return 0, err
	}
	if err := within(ErrPressure, totalPa, 1, maxTotalPa, "Pa"); err != nil {
		return 0, err
	}
	return airGasConstant * (tempC + KelvinOffset) * (1 + volumeFactor*ratio) / totalPa, nil
}

// Density returns the density of the moist air, (1 + W)/v in kg/m³.
func Density(tempC, ratio, totalPa float64) (float64, error) {
	v, err := SpecificVolume(tempC, ratio, totalPa)
	if err != nil {
		return 0, err
	}
	return (1 + ratio) / v, nil
}

func checkMoist(tempC, ratio float64) error {
	if err := within(ErrTemperature, tempC, airLowC, airHighC, "°C"); err != nil {
		return err
	}
	return within(ErrHumidity, ratio, 0, maxRatio, "kg/kg")
}

// AbsoluteHumidity returns 1000·p_v/(461.5·T) in g of vapour per m³, from −100 to 200 °C.
//
// Source: ISO 13788:2012, conversion between pressure and mass by volume (read).
func AbsoluteHumidity(tempC, vapourPa float64) (float64, error) {
	if err := within(ErrTemperature, tempC, airLowC, airHighC, "°C"); err != nil {
		return 0, err
	}
	if err := within(ErrPressure, vapourPa, 0, maxTotalPa, "Pa of vapour"); err != nil {
		return 0, err
	}
	return 1000 * vapourPa / (VapourGasConstant * (tempC + KelvinOffset)), nil
}

// VapourPressureOfMass is the inverse of AbsoluteHumidity: g/m³ to Pa.
func VapourPressureOfMass(tempC, gramsPerM3 float64) (float64, error) {
	if err := within(ErrTemperature, tempC, airLowC, airHighC, "°C"); err != nil {
		return 0, err
	}
	if err := within(ErrHumidity, gramsPerM3, 0, 50000, "g/m³"); err != nil {
		return 0, err
	}
	return gramsPerM3 / 1000 * VapourGasConstant * (tempC + KelvinOffset), nil
}

// PressureAtAltitude returns the pressure of the standard atmosphere in Pa from −500 to 11 000 m:
// 101325·(1 − 2.25577·10⁻⁵·z)^5.2559.
//
// Source: ASHRAE Handbook Fundamentals 2017, chapter 1 (secondary).
func PressureAtAltitude(metres float64) (float64, error) {
	if err := within(ErrAltitude, metres, -500, 11000, "m"); err != nil {
		return 0, err
	}
	return StandardPressurePa * math.Pow(1-2.25577e-5*metres, 5.2559), nil
}
