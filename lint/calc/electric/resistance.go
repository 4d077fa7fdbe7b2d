package electric

import "fmt"

// Class groups the conductor classes that share a column: solid and stranded
// conductors (classes 1 and 2), and flexible ones (classes 5 and 6).
type Class int

// The groups of classes.
const (
	Rigid    Class = iota // classes 1 and 2
	Flexible              // classes 5 and 6
)

// ClassOf returns the group of an IEC 60228 class: 1, 2, 5 or 6.
func ClassOf(iec int) (Class, error) {
	switch iec {
	case 1, 2:
		return Rigid, nil
	case 5, 6:
		return Flexible, nil
	}
	return 0, fmt.Errorf("%w: conductor class %d, wanted 1, 2, 5 or 6", ErrTable, iec)
}

// row is one cross-section of the resistance table, in Ω/km at 20 °C.
type row struct {
	mm2                                               float64
	rigid, rigidCoated, flexiblePlain, flexibleCoated float64
}

// iec60228 is the largest DC resistance of copper conductors at 20 °C, in Ω/km.
//
// Source: IEC 60228, tables for classes 1, 2, 5 and 6 (read).
var iec60228 = []row{
	{0.5, 36.0, 36.7, 39.0, 40.1},
	{0.75, 24.5, 24.8, 26.0, 26.7},
	{1, 18.1, 18.2, 19.5, 20.0},
	{1.5, 12.1, 12.2, 13.3, 13.7},
	{2.5, 7.41, 7.56, 7.98, 8.21},
	{4, 4.61, 4.70, 4.95, 5.09},
	{6, 3.08, 3.11, 3.30, 3.39},
	{10, 1.83, 1.84, 1.91, 1.95},
	{16, 1.15, 1.16, 1.21, 1.24},
}

// Sizes returns the cross-sections of the resistance table, in mm², smallest first.
func Sizes() []float64 {
	out := make([]float64, len(iec60228))
	for i, r := range iec60228 {
		out[i] = r.mm2
	}
	return out
}

// ResistanceOhmPerKM returns the largest DC resistance of a copper conductor at
// 20 °C in Ω/km by its nominal cross-section in mm² (0.5 to 16), its class, and
// whether its wires are coated with metal. Sizes between those of the table are errors.
//
// Source: IEC 60228 (read).
func ResistanceOhmPerKM(mm2 float64, c Class, coated bool) (float64, error) {
	for _, r := range iec60228 {
		if r.mm2 != mm2 {
			continue
		}
		switch {
		case c == Rigid && !coated:
			return r.rigid, nil
		case c == Rigid:
			return r.rigidCoated, nil
		case c == Flexible && !coated:
			return r.flexiblePlain, nil
		case c == Flexible:
			return r.flexibleCoated, nil
		}
		return 0, fmt.Errorf("%w: conductor class group %d", ErrTable, c)
	}
	return 0, fmt.Errorf("%w: %v mm², the resistance table holds 0.5 to 16 mm²", ErrSize, mm2)
}

// Temperature coefficients of copper, in 1/K at 20 °C.
const (
	// Alpha20 is the physical one. Source: IEC 60028 (secondary). Some school texts print 0.0039;
	// 0.0043 is the coefficient at 0 °C.
	Alpha20 = 0.00393
	// AlphaTable is the one in the measuring table of IEC 60228, which the other
	// functions do not use. Source: IEC 60228 annex, inferred from its table (read).
	AlphaTable = 0.004
)

// Temperatures that resistance is worked out for, in °C.
const (
	MinConductorC = -50.0
	MaxConductorC = 250.0
)

// ResistanceAtC returns a resistance at temperatureC in °C (−50 to 250) from that at
// 20 °C, in the same unit: R = R20·(1 + 0.00393·(t − 20)).
//
// Source: IEC 60028, α20 of copper (secondary). At 70 °C this is 1.1965 × R20; the
// measuring table of IEC 60228 gives 1.200 ([TableFactorK]). The two are 0.3 % apart.
func ResistanceAtC(r20, temperatureC float64) (float64, error) {
	if err := within("resistance", r20, 0, 1e9, false); err != nil {
		return 0, err
	}
	if err := within("conductor temperature in °C", temperatureC, MinConductorC, MaxConductorC, false); err != nil {
		return 0, err
	}
	return r20 * (1 + Alpha20*(temperatureC-20)), nil
}

// TableFactorK returns the factor kt by which a resistance measured at temperatureC in °C
// (−50 to 250) is multiplied to compare it with the table at 20 °C: kt = 1/(1 + 0.004·(t − 20)).
//
// Source: IEC 60228 annex, correction of measured resistance (table read, formula inferred from it).
func TableFactorK(temperatureC float64) (float64, error) {
	if err := within("conductor temperature in °C", temperatureC, MinConductorC, MaxConductorC, false); err != nil {
		return 0, err
	}
	return 1 / (1 + AlphaTable*(temperatureC-20)), nil
}
