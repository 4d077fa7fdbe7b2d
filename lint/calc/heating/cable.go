package heating

// Pitch, length and area hang together by A = s·L/1000 with A in m², s in mm and L in m.
// Each of these functions takes 1e-6 to 1e9 of its units.
//
// Source: installation guides, s = 1000·A/L (secondary). Published check: 4.5 m² and 60 m give 75 mm.

// PitchMM returns the pitch in mm at which a length in m fills an area in m².
func PitchMM(areaM2, lengthM float64) (float64, error) {
	if err := positive2("area in m²", areaM2, "length in m", lengthM); err != nil {
		return 0, err
	}
	return 1000 * areaM2 / lengthM, nil
}

// AreaM2 returns the area in m² that a length in m fills at a pitch in mm.
func AreaM2(pitchMM, lengthM float64) (float64, error) {
	if err := positive2("pitch in mm", pitchMM, "length in m", lengthM); err != nil {
		return 0, err
	}
	return pitchMM * lengthM / 1000, nil
}

// LengthM returns the length in m that fills an area in m² at a pitch in mm.
func LengthM(areaM2, pitchMM float64) (float64, error) {
	if err := positive2("area in m²", areaM2, "pitch in mm", pitchMM); err != nil {
		return 0, err
	}
	return 1000 * areaM2 / pitchMM, nil
}

// DensityWM2 returns the power in W/m² of a cable of a linear power in W/m at a pitch in mm: q = p/(s/1000).
// Both are 1e-6 to 1e9.
//
// Source: installation guides (secondary).
func DensityWM2(wattsPerM, pitchMM float64) (float64, error) {
	if err := positive2("linear power in W/m", wattsPerM, "pitch in mm", pitchMM); err != nil {
		return 0, err
	}
	return wattsPerM / (pitchMM / 1000), nil
}

// RatedPowerW returns the power in W of a length in m of a linear power in W/m. Both are 1e-6 to 1e9.
func RatedPowerW(wattsPerM, lengthM float64) (float64, error) {
	if err := positive2("linear power in W/m", wattsPerM, "length in m", lengthM); err != nil {
		return 0, err
	}
	return wattsPerM * lengthM, nil
}

// PowerW returns the power in W of a resistance in Ω at a voltage in V: P = U²/R. Both are 1e-6 to 1e9.
//
// Source: Ohm's law (computed).
func PowerW(voltageV, ohm float64) (float64, error) {
	if err := positive2("voltage in V", voltageV, "resistance in Ω", ohm); err != nil {
		return 0, err
	}
	return voltageV * voltageV / ohm, nil
}

// ResistanceOhm returns the resistance in Ω that gives a power in W at a voltage in V: R = U²/P. Both are 1e-6 to 1e9.
//
// Source: Ohm's law (computed).
func ResistanceOhm(voltageV, powerW float64) (float64, error) {
	if err := positive2("voltage in V", voltageV, "power in W", powerW); err != nil {
		return 0, err
	}
	return voltageV * voltageV / powerW, nil
}

// CutPowerW returns the power in W of a series resistance cable that was shortened from suppliedM to leftM in m at the
// same voltage: P = P0·L0/L. leftM is above 0 (1e-6) to suppliedM. A self-limiting cable follows another law.
//
// Source: Ohm's law, R ∝ L (computed).
func CutPowerW(ratedW, suppliedM, leftM float64) (float64, error) {
	if err := checkCut(ratedW, "power in W", suppliedM, leftM); err != nil {
		return 0, err
	}
	return ratedW * suppliedM / leftM, nil
}

// CutWattsPerM returns the linear power in W/m of a series resistance cable shortened from suppliedM to leftM in m:
// p = p0·(L0/L)². Cut by a tenth it heats 23.5 % more for each metre.
//
// Source: Ohm's law (computed).
func CutWattsPerM(wattsPerM, suppliedM, leftM float64) (float64, error) {
	if err := checkCut(wattsPerM, "linear power in W/m", suppliedM, leftM); err != nil {
		return 0, err
	}
	k := suppliedM / leftM
	return wattsPerM * k * k, nil
}

func checkCut(v float64, what string, suppliedM, leftM float64) error {
	if err := positive2(what, v, "supplied length in m", suppliedM); err != nil {
		return err
	}
	return within("length left in m", leftM, small, suppliedM)
}

// PowerAtVoltageW returns the power in W of a cable of ratedW at ratedV when it is fed with voltageV: P = P0·(U/U0)².
// All are 1e-6 to 1e9.
//
// Source: Ohm's law (computed).
func PowerAtVoltageW(ratedW, ratedV, voltageV float64) (float64, error) {
	if err := positive2("power in W", ratedW, "rated voltage in V", ratedV); err != nil {
		return 0, err
	}
	if err := within("voltage in V", voltageV, small, large); err != nil {
		return 0, err
	}
	k := voltageV / ratedV
	return ratedW * k * k, nil
}

// Tolerance of the resistance of a heating cable at 20 °C, in percent of its plate.
//
// Source: typical of cables to European standards (from memory); installation guides say ±10 % (secondary).
const (
	ToleranceLowPercent  = -5.0
	ToleranceHighPercent = 10.0
)

// Window is a range from Lo to Hi, both allowed.
type Window struct{ Lo, Hi float64 }

// ResistanceWindow returns the resistances in Ω that a reading may have by the plate: −5 to +10 %.
func ResistanceWindow(plateOhm float64) (Window, error) {
	if err := within("resistance in Ω", plateOhm, small, large); err != nil {
		return Window{}, err
	}
	return Window{plateOhm * (1 + ToleranceLowPercent/100), plateOhm * (1 + ToleranceHighPercent/100)}, nil
}

// PowerWindow returns the powers in W that go with [ResistanceWindow]: the highest resistance gives the least power.
func PowerWindow(voltageV, plateOhm float64) (Window, error) {
	r, err := ResistanceWindow(plateOhm)
	if err != nil {
		return Window{}, err
	}
	lo, err := PowerW(voltageV, r.Hi)
	if err != nil {
		return Window{}, err
	}
	hi, err := PowerW(voltageV, r.Lo)
	return Window{lo, hi}, err
}

// DeviationPercent returns how far a figure lies from what it should be: 100·(value/nominal − 1). value is 0 to
// 1e9, nominal 1e-6 to 1e9, of the same unit.
func DeviationPercent(value, nominal float64) (float64, error) {
	if err := within("nominal value", nominal, small, large); err != nil {
		return 0, err
	}
	if err := within("value", value, 0, large); err != nil {
		return 0, err
	}
	return 100 * (value/nominal - 1), nil
}

// LengthDifferencePercent compares the length laid, known as a range from laid.Lo to laid.Hi in m, and the surplus in m
// with the supplied length in m, in percent of the supplied length; 0 when the supplied length lies within
// the range, below 0 when length is missing.
func LengthDifferencePercent(laid Window, surplusM, suppliedM float64) (float64, error) {
	if err := within("supplied length in m", suppliedM, small, large); err != nil {
		return 0, err
	}
	if err := within("surplus in m", surplusM, 0, large); err != nil {
		return 0, err
	}
	if err := within("length laid in m", laid.Hi, 0, large); err != nil {
		return 0, err
	}
	if err := within("length laid in m", laid.Lo, 0, laid.Hi); err != nil {
		return 0, err
	}
	d := 0.0
	switch lo, hi := laid.Lo+surplusM, laid.Hi+surplusM; {
	case lo > suppliedM:
		d = lo - suppliedM
	case hi < suppliedM:
		d = hi - suppliedM
	}
	return 100 * d / suppliedM, nil
}

// BendDiameters is how many outside diameters the bend radius of a heating cable is at least.
//
// Source: 6 × or 8 × in installation guides (secondary).
const BendDiameters = 6.0

// BendRadiusMM returns the least bend radius in mm of a cable of an outside diameter in mm, 0 to 1e9, for which
// its maker gives none.
func BendRadiusMM(odMM float64) (float64, error) {
	if err := within("outside diameter in mm", odMM, 0, large); err != nil {
		return 0, err
	}
	return BendDiameters * odMM, nil
}

// CoverDifferencePercent compares the area in m² that a length of cable covers at its pitch, known as a range, with the area in
// m² that it should fill (1e-6 to 1e9), in percent of the latter; 0 when that lies within the range.
//
// Source: A = s·L (secondary).
func CoverDifferencePercent(cover Window, areaM2 float64) (float64, error) {
	if err := within("area in m²", areaM2, small, large); err != nil {
		return 0, err
	}
	if err := within("covered area in m²", cover.Hi, 0, large); err != nil {
		return 0, err
	}
	if err := within("covered area in m²", cover.Lo, 0, cover.Hi); err != nil {
		return 0, err
	}
	return DeviationPercent(min(max(areaM2, cover.Lo), cover.Hi), areaM2)
}
