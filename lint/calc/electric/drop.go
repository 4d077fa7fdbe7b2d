package electric

import "math"

// Values of IEC 60364-5-52 Annex G.
//
// Source: IEC 60364-5-52:2009 Annex G (secondary). The resistivities are 1.25 times those at 20 °C, so
// they lie up to 4 % above the resistance tables at working temperature.
const (
	Rho1Copper      = 0.0225  // Ω·mm²/m
	Rho1Aluminium   = 0.036   // Ω·mm²/m
	LambdaDefault   = 0.08e-3 // reactance of the conductors in Ω/m
	CosPhiIfUnknown = 0.8     // where the power factor is not known; sinφ is then 0.6
)

// Limits of the voltage drop from the origin of the installation to the load, in percent.
//
// Source: IEC 60364-5-52 Table G.52.1, informative; BS 7671 Appendix 4 (secondary).
const (
	DropLightingPublicPercent  = 3.0
	DropOtherPublicPercent     = 5.0
	DropLightingPrivatePercent = 6.0 // from a private low-voltage supply
	DropOtherPrivatePercent    = 8.0
)

// DropLimitPercent returns the recommended limit of the voltage drop in percent, with the
// allowance for long runs: 0.005 % for each metre beyond 100 m, at most 0.5 %.
//
// Source: IEC 60364-5-52 Table G.52.1 and its note, informative (secondary).
func DropLimitPercent(lighting, privateSupply bool, lengthM float64) (float64, error) {
	if err := checkLength(lengthM); err != nil {
		return 0, err
	}
	limit := DropOtherPublicPercent
	switch {
	case lighting && privateSupply:
		limit = DropLightingPrivatePercent
	case lighting:
		limit = DropLightingPublicPercent
	case privateSupply:
		limit = DropOtherPrivatePercent
	}
	return limit + min(0.5, 0.005*max(0, lengthM-100)), nil
}

// Tap is a load on a run: its current and how far from the source it leaves the run, one way.
type Tap struct {
	CurrentA  float64
	DistanceM float64
}

// MomentAM returns Σ I·x in A·m of loads along one run, which is what the voltage drop at
// its far end hangs on. Loads in parallel on one conductor add up whatever their order.
//
// Source: superposition (computed).
func MomentAM(taps []Tap) (float64, error) {
	sum := 0.0
	for _, t := range taps {
		if err := checkCurrent(t.CurrentA); err != nil {
			return 0, err
		}
		if err := checkLength(t.DistanceM); err != nil {
			return 0, err
		}
		sum += t.CurrentA * t.DistanceM
	}
	if err := within("sum of current times distance", sum, 0, MaxCurrentA*MaxRunM, false); err != nil {
		return 0, err
	}
	return sum, nil
}

// Conductor is what Annex G needs of a conductor.
type Conductor struct {
	MM2    float64 // cross-section, 0.01 to 1000 mm²
	Rho1   float64 // resistivity in use, Ω·mm²/m: [Rho1Copper] or [Rho1Aluminium]
	Lambda float64 // reactance, Ω/m: [LambdaDefault] where nothing better is known
}

// impedance is ρ1/S·cosφ + λ·sinφ in Ω/m.
func (c Conductor) impedance(cosPhi float64) (float64, error) {
	if err := within("cross-section in mm²", c.MM2, 0.01, 1000, false); err != nil {
		return 0, err
	}
	if err := within("resistivity in Ω·mm²/m", c.Rho1, 0, 1, true); err != nil {
		return 0, err
	}
	if err := within("reactance in Ω/m", c.Lambda, 0, 1, false); err != nil {
		return 0, err
	}
	sin, err := SinPhi(cosPhi)
	if err != nil {
		return 0, err
	}
	z := c.Rho1/c.MM2*cosPhi + c.Lambda*sin
	if err := within("impedance in Ω/m", z, 0, 1e9, true); err != nil {
		return 0, err
	}
	return z, nil
}

// factorB is b of Annex G: 2 for two wires, there and back, and 1 from line to neutral of three.
func (s System) factorB() float64 {
	if s == ThreePhase {
		return 1
	}
	return 2
}

// ACDropV returns the voltage drop in V at the far end of a run whose loads have the given
// moment Σ I·x in A·m ([MomentAM]; for one load at the end it is I·L):
//
//	u = b·(ρ1·(L/S)·cosφ + λ·L·sinφ)·I,  b = 2 single phase, 1 three phase (line to neutral)
//
// All loads have the power factor cosPhi. For DC use [DCDropV].
//
// Source: IEC 60364-5-52:2009 Annex G (secondary). Worked check: 16 A, 18 m, 2.5 mm² copper, cosφ 1: 5.184 V.
func ACDropV(s System, c Conductor, momentAM, cosPhi float64) (float64, error) {
	if s == DC {
		return 0, within("number of phases", 0, 1, 3, false)
	}
	z, err := c.impedance(cosPhi)
	if err != nil {
		return 0, err
	}
	if err := within("sum of current times distance", momentAM, 0, MaxCurrentA*MaxRunM, false); err != nil {
		return 0, err
	}
	return s.factorB() * z * momentAM, nil
}

// DCDropV returns the voltage drop in V at the far end of a two-wire DC run from the
// resistance of one conductor in Ω/km and the moment Σ I·x in A·m: u = 2·R·Σ I·x/1000. Currents are taken as
// constant, as those of lamps with a driver of their own are.
//
// Source: Ohm's law (computed).
func DCDropV(ohmPerKM, momentAM float64) (float64, error) {
	if err := within("resistance in Ω/km", ohmPerKM, 0, 1e6, false); err != nil {
		return 0, err
	}
	if err := within("sum of current times distance", momentAM, 0, MaxCurrentA*MaxRunM, false); err != nil {
		return 0, err
	}
	return 2 * ohmPerKM * momentAM / 1000, nil
}

// SpreadDropV returns the voltage drop in V at the end of a two-wire run along which a
// current in A is taken off evenly over the whole length in m, as by an LED strip: u = R·I·L/1000, half of what
// the same current gives at the end.
//
// Source: integral of Ohm's law along the run (computed).
func SpreadDropV(ohmPerKM, currentA, lengthM float64) (float64, error) {
	if err := checkCurrent(currentA); err != nil {
		return 0, err
	}
	if err := checkLength(lengthM); err != nil {
		return 0, err
	}
	return DCDropV(ohmPerKM, currentA*lengthM/2)
}

// MillivoltDropV returns the voltage drop in V by the tabulated figure in mV/A/m: mV·I·L/1000.
//
// Source: BS 7671 Appendix 4, method of the tables (secondary).
func MillivoltDropV(mvPerAM, currentA, lengthM float64) (float64, error) {
	if err := within("tabulated drop in mV/A/m", mvPerAM, 0, 1e6, false); err != nil {
		return 0, err
	}
	if err := checkCurrent(currentA); err != nil {
		return 0, err
	}
	if err := checkLength(lengthM); err != nil {
		return 0, err
	}
	return mvPerAM * currentA * lengthM / 1000, nil
}

// bsMillivolts is the voltage drop of two-core copper cables with 70 °C PVC, in mV/A/m.
//
// Source: BS 7671 Tables 4D2B and 4D5 (read).
var bsMillivolts = []struct{ mm2, mv float64 }{{1, 44}, {1.5, 29}, {2.5, 18}, {4, 11}, {6, 7.3}, {10, 4.4}, {16, 2.8}}

// Millivolts returns the tabulated drop in mV/A/m of a two-core copper cable with 70 °C PVC, 1 to 16 mm².
//
// Source: BS 7671 Tables 4D2B and 4D5 (read).
func Millivolts(mm2 float64) (float64, error) {
	for _, r := range bsMillivolts {
		if r.mm2 == mm2 {
			return r.mv, nil
		}
	}
	return 0, sizeError(mm2)
}

// NominalToDropV returns the voltage in V that a drop is given in percent of: line to neutral for three
// phases (U/√3), the nominal voltage otherwise.
//
// Source: IEC 60364-5-52 Annex G, Δu = 100·u/U0 (secondary).
func NominalToDropV(s System, voltageV float64) (float64, error) {
	if err := checkVoltage(voltageV); err != nil {
		return 0, err
	}
	if s == ThreePhase {
		return voltageV / math.Sqrt(3), nil
	}
	return voltageV, nil
}

// DropPercent returns a drop in V in percent of the nominal voltage in V; see [NominalToDropV].
func DropPercent(s System, dropV, voltageV float64) (float64, error) {
	u0, err := NominalToDropV(s, voltageV)
	if err != nil {
		return 0, err
	}
	if err := within("voltage drop in V", dropV, 0, 1e12, false); err != nil {
		return 0, err
	}
	return 100 * dropV / u0, nil
}

// MaxLengthM returns the longest run in m at whose end one load stays within a limit in percent, when a run
// of lengthM in m drops by dropPercent: the drop grows with the length.
//
// Source: proportion (computed). lengthM and dropPercent are above 0; the limit is above 0 to 100.
func MaxLengthM(lengthM, dropPercent, limitPercent float64) (float64, error) {
	if err := within("length in m", lengthM, 0, MaxRunM, true); err != nil {
		return 0, err
	}
	if err := within("voltage drop in percent", dropPercent, 1e-9, 1e9, false); err != nil {
		return 0, err
	}
	if err := within("limit in percent", limitPercent, 0, 100, true); err != nil {
		return 0, err
	}
	return lengthM * limitPercent / dropPercent, nil
}
