package air

import (
	"fmt"
	"math"
)

// Formula is a published form of the saturation pressure over water and, below 0 °C, over ice.
type Formula uint8

// The forms of the saturation pressure. Between −10 and 60 °C they differ by at most 0.3 %.
const (
	// ISO13788 is 610.5·exp(17.269·θ/(237.3 + θ)) from 0 °C on and 610.5·exp(21.875·θ/(265.5 + θ)) below, from −50 to 100 °C.
	// It is made for building components; at 100 °C it is 0.7 % high.
	//
	// Source: ISO 13788:2012, annex E (secondary).
	ISO13788 Formula = iota
	// Magnus is 611.2·exp(17.62·θ/(243.12 + θ)) from 0 °C on and 611.2·exp(22.46·θ/(272.62 + θ)) below, from −45 to 60 °C.
	//
	// Source: WMO guide No. 8, annex 4.B (memory).
	Magnus
	// ASHRAE is the form of Hyland and Wexler, from −100 to 200 °C.
	//
	// Source: ASHRAE Handbook Fundamentals 2017, chapter 1 (secondary); holds its table 3 to 300 ppm.
	ASHRAE
	// IF97 is region 4 of the industrial formulation, from 0 to 373.946 °C (the critical point). It knows no ice.
	//
	// Source: IAPWS R7-97(2012), equation 30 (read in its check tables).
	IF97
)

// CriticalC is the critical temperature of water in °C (647.096 K; IAPWS R7-97, read).
const CriticalC = 373.946

// String names the form.
func (f Formula) String() string {
	switch f {
	case ISO13788:
		return "ISO 13788"
	case Magnus:
		return "Magnus"
	case ASHRAE:
		return "ASHRAE"
	case IF97:
		return "IAPWS-IF97"
	}
	return fmt.Sprintf("Formula(%d)", uint8(f))
}

// Range returns the temperatures in °C that the form serves for.
func (f Formula) Range() (lowC, highC float64, err error) {
	switch f {
	case ISO13788:
		return -50, 100, nil
	case Magnus:
		return -45, 60, nil
	case ASHRAE:
		return -100, 200, nil
	case IF97:
		return 0, CriticalC, nil
	}
	return 0, 0, fmt.Errorf("%w: %d", ErrFormula, uint8(f))
}

// Saturation returns the saturation pressure in Pa at a temperature in °C.
func (f Formula) Saturation(tempC float64) (float64, error) {
	lo, hi, err := f.Range()
	if err != nil {
		return 0, err
	}
	if !(tempC >= lo && tempC <= hi) {
		return 0, within(ErrTemperature, tempC, lo, hi, "°C ("+f.String()+")")
	}
	return f.saturation(tempC), nil
}

func (f Formula) saturation(t float64) float64 {
	switch f {
	case ISO13788, Magnus:
		p0, a, b := f.exponential(t >= 0)
		return p0 * math.Exp(a*t/(b+t))
	case ASHRAE:
		return saturationASHRAE(t)
	}
	return saturationIF97(t+KelvinOffset) * 1e6
}

// exponential returns p0, a and b of the forms p0·exp(a·θ/(b + θ)).
func (f Formula) exponential(water bool) (p0, a, b float64) {
	switch {
	case f == ISO13788 && water:
		return 610.5, 17.269, 237.3
	case f == ISO13788:
		return 610.5, 21.875, 265.5
	case water:
		return 611.2, 17.62, 243.12
	}
	return 611.2, 22.46, 272.62
}

// DewPoint returns the temperature in °C at which a vapour pressure in Pa is the saturation pressure. Below 0 °C it is the frost
// point. ISO 13788 and Magnus are turned round, IF97 uses its backward equation, and ASHRAE is solved by halving the
// range, to 10⁻⁹ K.
func (f Formula) DewPoint(vapourPa float64) (float64, error) {
	lo, hi, err := f.Range()
	if err != nil {
		return 0, err
	}
	if err := within(ErrPressure, vapourPa, f.saturation(lo), f.saturation(hi), "Pa ("+f.String()+")"); err != nil {
		return 0, err
	}
	switch f {
	case ISO13788, Magnus:
		p0, a, b := f.exponential(true)
		if vapourPa < p0 {
			p0, a, b = f.exponential(false)
		}
		x := math.Log(vapourPa / p0)
		return b * x / (a - x), nil
	case IF97:
		return saturationTemperatureIF97(vapourPa/1e6) - KelvinOffset, nil
	}
	return solveDewPoint(f.saturation, vapourPa, lo, hi), nil
}

// solveDewPoint halves the range of a rising function until it is narrower than 10⁻⁹ K.
func solveDewPoint(p func(float64) float64, target, lo, hi float64) float64 {
	for hi-lo > 1e-9 {
		if mid := (lo + hi) / 2; p(mid) < target {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// saturationASHRAE takes °C and returns Pa: ln p is a row of powers of T and ln T, one row for ice and one for water.
func saturationASHRAE(tempC float64) float64 {
	t := tempC + KelvinOffset
	if tempC <= 0 {
		return math.Exp(-5.6745359e3/t + 6.3925247 + t*(-9.677843e-3+t*(6.2215701e-7+t*(2.0747825e-9-9.484024e-13*t))) + 4.1635019*math.Log(t))
	}
	return math.Exp(-5.8002206e3/t + 1.3914993 + t*(-4.8640239e-2+t*(4.1764768e-5-1.4452093e-8*t)) + 6.5459673*math.Log(t))
}
