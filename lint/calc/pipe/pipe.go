// Package pipe works out what concerns the tube that carries steam without
// pressure from a generator to a room: heat loss and surface temperature with
// and without insulation, the temperature of foam beside it, condensate,
// growth in length, sizes, velocity of the steam and the pressure it takes.
//
// All models are steady: nothing is said of the first minutes, when the tube warms up.
package pipe

import (
	"errors"
	"fmt"
	"math"
)

// The errors of this package; what is wrong, and the range, stand in the message.
var (
	ErrRange       = errors.New("out of range")
	ErrUnreachable = errors.New("cannot be reached")
)

// within reports a number that is not in its range; NaN never is.
func within(what string, v, lo, hi float64, unit string) error {
	if v >= lo && v <= hi {
		return nil
	}
	return fmt.Errorf("%w: %s is %g %s, must be from %g to %g", ErrRange, what, v, unit, lo, hi)
}

func checkDiameter(what string, mm float64) error { return within(what, mm, 0.5, 2000, "mm") }
func checkTemperature(what string, c float64) error {
	return within(what, c, -200, 1000, "°C")
}
func checkConductivity(wmk float64) error {
	return within("conductivity", wmk, 0.005, 500, "W/(m·K)")
}

// Size is one size of tube.
type Size struct{ ODMM, WallMM float64 }

// CopperDensity is the density of copper tube in kg/dm³.
//
// Source: EN 1057 data (secondary).
const CopperDensity = 8.94

// en1057 lists the sizes by diameter, then wall.
var en1057 = []Size{
	{10, 0.6}, {10, 0.7},
	{12, 0.6}, {12, 0.8}, {12, 1.0},
	{15, 0.7}, {15, 0.8}, {15, 1.0},
	{18, 0.8}, {18, 1.0},
	{22, 0.9}, {22, 1.0}, {22, 1.2},
	{28, 0.9}, {28, 1.0}, {28, 1.2}, {28, 1.5},
	{35, 1.0}, {35, 1.2}, {35, 1.5},
	{42, 1.0}, {42, 1.2}, {42, 1.5},
	{54, 1.0}, {54, 1.2}, {54, 1.5}, {54, 2.0},
}

// EN1057 returns the usual sizes of copper tube, by diameter and then by wall.
//
// Source: EN 1057, nominal sizes (secondary; which pairs of diameter and wall
// are usual is partly from memory).
func EN1057() []Size { return append([]Size(nil), en1057...) }

// Listed says whether a size is one of [EN1057].
func (s Size) Listed() bool {
	for _, x := range en1057 {
		if x == s {
			return true
		}
	}
	return false
}

// Check reports a size that is no tube.
func (s Size) Check() error {
	if err := checkDiameter("outside diameter", s.ODMM); err != nil {
		return err
	}
	if !(s.WallMM > 0 && s.WallMM < s.ODMM/2) {
		return fmt.Errorf("%w: wall is %g mm, must be above 0 and below half the diameter of %g mm", ErrRange, s.WallMM, s.ODMM)
	}
	return nil
}

// BoreMM returns the inside diameter in mm, OD − 2·wall, which may come out at
// or below 0 for a size that fails Check.
func (s Size) BoreMM() float64 { return s.ODMM - 2*s.WallMM }

// MassKGPerM returns the mass of a copper tube in kg/m:
//
//	π·(OD − wall)·wall·ρ/1000, in mm and kg/dm³
//
// Source: geometry and [CopperDensity] (computed). Check value: 22 × 1.0 gives 0.589796 kg/m.
func (s Size) MassKGPerM() (float64, error) {
	if err := s.Check(); err != nil {
		return 0, err
	}
	return math.Pi * (s.ODMM - s.WallMM) * s.WallMM * CopperDensity / 1000, nil
}

// VolumeLPerM returns what the tube holds in l/m: π/4·bore²/1000.
//
// Source: geometry (computed). Check value: 22 × 1.0 gives 0.314 l/m.
func (s Size) VolumeLPerM() (float64, error) {
	if err := s.Check(); err != nil {
		return 0, err
	}
	b := s.BoreMM()
	return math.Pi / 4 * b * b / 1000, nil
}

// Coefficients of linear expansion in 1/K.
//
// Source: copper tube 16.6e-6 to 17e-6 between 20 and 100 °C, EN 1057 data and
// copper trade guidance (read); stainless steel from memory.
const (
	CopperExpansion         = 16.6e-6
	CopperExpansionGuidance = 16.8e-6 // the figure behind the guidance's table
	StainlessExpansion      = 16.5e-6
)

// GrowthMM returns by how much a straight run grows in mm: α·L·Δθ, for a length
// in m, from 0 to 1000, a coefficient in 1/K, from 0 to 1e-3, and a rise in K,
// from −500 to 1000.
//
// Source: physics. Check values: 10 m, 60 K, 16.8e-6 give 10.08 mm (copper
// trade guidance, read); 3 m, 80 K, 16.6e-6 give 3.984 mm (computed).
func GrowthMM(lengthM, coefficient, riseK float64) (float64, error) {
	if err := errors.Join(within("length", lengthM, 0, 1000, "m"), within("coefficient of expansion", coefficient, 0, 1e-3, "1/K"), within("rise", riseK, -500, 1000, "K")); err != nil {
		return 0, err
	}
	return lengthM * 1000 * coefficient * riseK, nil
}

// MinBendRadiusMM returns the least radius to the centre line, in mm, to which
// copper tube of an outside diameter of 6 to 35 mm is bent without kinks: 4·OD
// up to 18 mm and 3.5·OD above.
//
// Source: drawn from the radii of mechanical benders in copper trade guidance
// (read): 64 mm for 15.9 mm tube, 76 for 22.2, 102 for 28.6; bending springs
// give 4·OD (read). The rule itself is computed from these.
func MinBendRadiusMM(odMM float64) (float64, error) {
	if err := within("outside diameter", odMM, 6, 35, "mm"); err != nil {
		return 0, err
	}
	if odMM <= 18 {
		return 4 * odMM, nil
	}
	return 3.5 * odMM, nil
}

type spacing struct{ odMM, horizontalM, verticalM float64 }

var spacings = []spacing{{12, 1.2, 1.8}, {15, 1.2, 1.8}, {16, 1.5, 2.1}, {22, 1.8, 2.4}, {28, 1.8, 2.4}, {35, 2.4, 3.0}}

// SupportSpacingM returns the greatest distance between supports of copper and
// stainless steel tube in m, for runs that lie and runs that stand. Between two
// rows of the table the smaller diameter counts; above 35 mm its row does. The
// diameter is from 12 to 200 mm.
//
// Source: pipework table of water-mist practice to ISO 6182-11 (read); the row
// of 15 mm, EN 806-4 practice, is from memory.
func SupportSpacingM(odMM float64) (horizontalM, verticalM float64, err error) {
	if err := within("outside diameter", odMM, 12, 200, "mm"); err != nil {
		return 0, 0, err
	}
	for _, s := range spacings {
		if s.odMM <= odMM {
			horizontalM, verticalM = s.horizontalM, s.verticalM
		}
	}
	return horizontalM, verticalM, nil
}
