package electric

import (
	"fmt"
	"math"
)

// Method is a reference method of installation.
type Method string

// The reference methods.
//
// Source: IEC 60364-5-52 Annex A and B (secondary).
const (
	A1 Method = "A1" // single-core cables in conduit in a thermally insulated wall
	A2 Method = "A2" // multi-core cable in conduit in a thermally insulated wall
	B1 Method = "B1" // single-core cables in conduit on a wall
	B2 Method = "B2" // multi-core cable in conduit on a wall
	C  Method = "C"  // cable fixed direct to a wall
	E  Method = "E"  // multi-core cable in free air
)

// Methods returns the reference methods that the tables hold.
func Methods() []Method { return []Method{A1, A2, B1, B2, C, E} }

// Insulation is what the conductors are insulated with.
type Insulation string

// The insulations.
const (
	PVC  Insulation = "pvc"  // at most 70 °C at the conductor
	XLPE Insulation = "xlpe" // XLPE and EPR, at most 90 °C at the conductor
)

// MaxC is the highest conductor temperature in °C that the tables are made for; 0 for an unknown insulation.
//
// Source: IEC 60364-5-52 Table 52.1 (secondary).
func (i Insulation) MaxC() float64 {
	switch i {
	case PVC:
		return 70
	case XLPE:
		return 90
	}
	return 0
}

// capacitySizes are the rows of the tables below, in mm².
var capacitySizes = []float64{1, 1.5, 2.5, 4, 6, 10, 16}

// CapacitySizes returns the cross-sections of the tables of current-carrying capacity, in mm², smallest first.
func CapacitySizes() []float64 { return append([]float64(nil), capacitySizes...) }

type column struct {
	insulation Insulation
	loaded     int
	method     Method
}

// capacities are current-carrying capacities in A of copper conductors in air of 30 °C by
// cross-section, in the order of capacitySizes; 0 where the table has no figure.
//
// Source: IEC 60364-5-52:2009. PVC, two loaded: Table B.52.2 and B.52.10 (several transcriptions agree, read;
// the row of 1 mm² comes from national tables, read). PVC, three loaded, B2 and C: Table B.52.4 (read);
// A1, A2, B1 and E: B.52.4 and B.52.10 (from memory). XLPE: B.52.3, B.52.5 and B.52.12 (from memory; B2 with two
// loaded also seen in another transcription).
var capacities = map[column][7]float64{
	{PVC, 2, A1}: {11, 14.5, 19.5, 26, 34, 46, 61},
	{PVC, 2, A2}: {11, 14, 18.5, 25, 32, 43, 57},
	{PVC, 2, B1}: {14, 17.5, 24, 32, 41, 57, 76},
	{PVC, 2, B2}: {13, 16.5, 23, 30, 38, 52, 69},
	{PVC, 2, C}:  {15, 19.5, 27, 36, 46, 63, 85},
	{PVC, 2, E}:  {17, 22, 30, 40, 51, 70, 94},

	{PVC, 3, A1}: {0, 13.5, 18, 24, 31, 42, 56},
	{PVC, 3, A2}: {0, 13, 17.5, 23, 29, 39, 52},
	{PVC, 3, B1}: {0, 15.5, 21, 28, 36, 50, 68},
	{PVC, 3, B2}: {12, 15, 20, 27, 34, 46, 62},
	{PVC, 3, C}:  {14, 17.5, 24, 32, 41, 57, 76},
	{PVC, 3, E}:  {0, 18.5, 25, 34, 43, 60, 80},

	{XLPE, 2, A1}: {0, 19, 26, 35, 45, 61, 81},
	{XLPE, 2, A2}: {0, 18.5, 25, 33, 42, 57, 76},
	{XLPE, 2, B1}: {0, 23, 31, 42, 54, 75, 100},
	{XLPE, 2, B2}: {0, 22, 30, 40, 51, 69, 91},
	{XLPE, 2, C}:  {0, 24, 33, 45, 58, 80, 107},
	{XLPE, 2, E}:  {0, 26, 36, 49, 63, 86, 115},

	{XLPE, 3, A1}: {0, 17, 23, 31, 40, 54, 73},
	{XLPE, 3, A2}: {0, 16.5, 22, 30, 38, 51, 68},
	{XLPE, 3, B1}: {0, 20, 28, 37, 48, 66, 88},
	{XLPE, 3, B2}: {0, 19.5, 26, 35, 44, 60, 80},
	{XLPE, 3, C}:  {0, 22, 30, 40, 52, 71, 96},
	{XLPE, 3, E}:  {0, 23, 32, 42, 54, 75, 100},
}

// FromMemory says whether a column of the capacity tables stands here from memory.
func FromMemory(i Insulation, loaded int, m Method) bool {
	return i != PVC || loaded == 3 && m != B2 && m != C
}

// CapacityA returns the tabulated current-carrying capacity in A of copper conductors of a
// cross-section in mm² (1 to 16, sizes of the table only) in air of 30 °C, with two or three loaded conductors, one circuit alone.
//
// Source: IEC 60364-5-52:2009 Tables B.52.2 to B.52.5, B.52.10 and B.52.12; see [FromMemory].
func CapacityA(mm2 float64, i Insulation, loaded int, m Method) (float64, error) {
	col, ok := capacities[column{i, loaded, m}]
	if !ok {
		return 0, fmt.Errorf("%w: %q insulation, %d loaded conductors, method %q", ErrTable, i, loaded, m)
	}
	for k, s := range capacitySizes {
		if s == mm2 && col[k] > 0 {
			return col[k], nil
		}
	}
	return 0, sizeError(mm2)
}

func sizeError(mm2 float64) error {
	return fmt.Errorf("%w: %v mm², the table holds 1 (in part 1.5) to 16 mm²", ErrSize, mm2)
}

// Bounds of the factors for the temperature of the air, in °C.
const (
	MinAmbientC     = 10.0
	MaxAmbientPVCC  = 60.0
	MaxAmbientXLPEC = 80.0
)

// AmbientFactor returns the factor for air of ambientC in °C, 10 to 60 for PVC and 10 to 80 for XLPE, where the
// tables of capacity are for 30 °C: √((θmax − θ)/(θmax − 30)), rounded to 0.01 as the tables are.
//
// Source: IEC 60364-5-52 Table B.52.14 (PVC up to 50 °C secondary, the rest from memory; the formula
// gives every figure of the table).
func AmbientFactor(i Insulation, ambientC float64) (float64, error) {
	top := MaxAmbientPVCC
	switch i {
	case PVC:
	case XLPE:
		top = MaxAmbientXLPEC
	default:
		return 0, fmt.Errorf("%w: %q insulation", ErrTable, i)
	}
	if err := within("air temperature in °C", ambientC, MinAmbientC, top, false); err != nil {
		return 0, err
	}
	return math.Round(100*math.Sqrt((i.MaxC()-ambientC)/(i.MaxC()-30))) / 100, nil
}

// InsulationFactor returns the factor for a cable that thermal insulation surrounds on all sides over lengthMM in
// mm. It counts on the capacity of method C. A length between those of the table takes the factor of the next longer one.
//
// Source: BS 7671, 523.9 and its table: 50 mm 0.88, 100 mm 0.78, 200 mm 0.63, 400 mm 0.51, beyond 500 mm 0.5 (from memory).
func InsulationFactor(lengthMM float64) (float64, error) {
	if err := within("length in insulation in mm", lengthMM, 0, 1e9, false); err != nil {
		return 0, err
	}
	if lengthMM == 0 {
		return 1, nil
	}
	for _, r := range []struct{ mm, factor float64 }{{50, 0.88}, {100, 0.78}, {200, 0.63}, {400, 0.51}} {
		if lengthMM <= r.mm {
			return r.factor, nil
		}
	}
	return 0.5, nil
}

// Run is how a cable is laid.
type Run struct {
	Insulation Insulation
	Loaded     int // conductors that carry current: 2 or 3
	Method     Method
	AmbientC   float64 // temperature of the air round the cable, °C
	// SurroundedMM is the longest stretch that thermal insulation surrounds on all sides, mm.
	SurroundedMM float64
}

// factor returns the factor for the air's temperature, and the capacity in A
// that it is taken of: the one of its method, or that of method C times the factor for thermal insulation where this is less.
func (r Run) factor(mm2 float64) (baseA, ambient float64, err error) {
	baseA, err = CapacityA(mm2, r.Insulation, r.Loaded, r.Method)
	if err != nil {
		return 0, 0, err
	}
	f, err := InsulationFactor(r.SurroundedMM)
	if err != nil {
		return 0, 0, err
	}
	if f < 1 {
		clipped, err := CapacityA(mm2, r.Insulation, r.Loaded, C)
		if err != nil {
			return 0, 0, err
		}
		baseA = min(baseA, f*clipped)
	}
	ambient, err = AmbientFactor(r.Insulation, r.AmbientC)
	return baseA, ambient, err
}

// IzA returns the current-carrying capacity in A of a copper cable of a cross-section in mm² as it is laid:
//
//	Iz = min(table of the method, f·table of method C)·k
//
// with f from [InsulationFactor] and k from [AmbientFactor]. Bunches of several circuits are not counted.
//
// Source: IEC 60364-5-52 clause 523 and Annex B (secondary); the factor f by BS 7671, 523.9 (from memory).
func (r Run) IzA(mm2 float64) (float64, error) {
	base, k, err := r.factor(mm2)
	if err != nil {
		return 0, err
	}
	return base * k, nil
}
