package pipe

import (
	"errors"
	"fmt"
	"math"
)

// InFoam is a hot tube in a sleeve of insulation that goes through foam.
type InFoam struct {
	TubeC       float64 // temperature of the tube
	SleeveWMK   float64 // conductivity of the insulation
	FoamWMK     float64 // conductivity of the foam
	FarRadiusMM float64 // from the axis of the tube, where ...
	FarC        float64 // ... the foam has this temperature
}

// SteamTubeInFoam is the usual case, by assumption: steam without pressure,
// insulation of 0.040 and foam of 0.034 W/(m·K), and foam that at 100 mm from
// the axis has 32.5 °C, midway between a room at 45 °C and one at 20 °C.
var SteamTubeInFoam = InFoam{TubeC: 100, SleeveWMK: 0.040, FoamWMK: 0.034, FarRadiusMM: 100, FarC: 32.5}

func (f InFoam) check() error {
	return errors.Join(checkTemperature("temperature of the tube", f.TubeC), checkTemperature("temperature of the foam", f.FarC), checkConductivity(f.SleeveWMK),
		checkConductivity(f.FoamWMK), within("far radius", f.FarRadiusMM, 1, 10000, "mm"))
}

// InterfaceC returns the temperature in °C of the foam that touches the
// insulation, for an outside diameter of the tube and a thickness of insulation
// (0 is none) in mm. Heat flows radially through two rings, so each takes a part
// of the drop in temperature by its ln(outer/inner)/λ. Insulation that reaches
// the far radius gives its temperature.
//
// Source: ISO 12241, cylinder equation (computed). Check values for 22 mm tube
// and [SteamTubeInFoam], in mm of insulation: 9 gives 83.8, 13 gives 78.6, 19
// gives 72.01, 25 gives 66.5, 30 gives 62.4 °C.
func (f InFoam) InterfaceC(odMM, insulationMM float64) (float64, error) {
	if err := errors.Join(f.check(), checkDiameter("outside diameter", odMM), within("insulation", insulationMM, 0, MaxInsulationMM, "mm")); err != nil {
		return 0, err
	}
	inner, outer := odMM/2, odMM/2+insulationMM
	if outer >= f.FarRadiusMM {
		return f.FarC, nil
	}
	sleeve, foam := math.Log(outer/inner)/f.SleeveWMK, math.Log(f.FarRadiusMM/outer)/f.FoamWMK
	return f.TubeC - (f.TubeC-f.FarC)*sleeve/(sleeve+foam), nil
}

// InsulationForInterface returns the least thickness of insulation in mm that
// keeps the foam at or below a limit in °C. With k = (θ_tube − limit)/(θ_tube −
// θ_far), a = (1 − k)/λ_sleeve and b = k/λ_foam:
//
//	ln r_outer = (a·ln r_inner + b·ln r_far)/(a + b)
//
// It is 0 when the tube is no warmer than the limit. ErrUnreachable: the limit
// is not above the temperature of the foam far away, or the tube reaches there.
//
// Source: [InFoam.InterfaceC] solved for the thickness (computed).
func (f InFoam) InsulationForInterface(odMM, limitC float64) (float64, error) {
	if err := errors.Join(f.check(), checkDiameter("outside diameter", odMM), checkTemperature("limit", limitC)); err != nil {
		return 0, err
	}
	switch {
	case f.TubeC <= limitC:
		return 0, nil
	case limitC <= f.FarC:
		return 0, fmt.Errorf("%w: foam of %g °C, which is no warmer than the foam far away with %g °C", ErrUnreachable, limitC, f.FarC)
	case odMM/2 >= f.FarRadiusMM:
		return 0, fmt.Errorf("%w: the tube reaches to %g mm from its axis, where the foam begins to count", ErrUnreachable, odMM/2)
	}
	k := (f.TubeC - limitC) / (f.TubeC - f.FarC)
	a, b := (1-k)/f.SleeveWMK, k/f.FoamWMK
	return math.Exp((a*math.Log(odMM/2)+b*math.Log(f.FarRadiusMM))/(a+b)) - odMM/2, nil
}
