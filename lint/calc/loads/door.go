package loads

import (
	"errors"
	"fmt"
	"math"
)

// GlassDensity is the density of soda lime glass in kg/m³ (EN 572-1, read).
const GlassDensity = 2500.0

// GlassMass returns the mass in kg of a pane, 2500 kg/m³ · width · height · thickness, for sizes in mm.
//
// Source: EN 572-1 density (read).
func GlassMass(widthMM, heightMM, thicknessMM float64) (float64, error) {
	if err := errors.Join(positive("width in mm", widthMM), positive("height in mm", heightMM), positive("thickness in mm", thicknessMM)); err != nil {
		return 0, err
	}
	return GlassDensity * widthMM * heightMM * thicknessMM / 1e9, nil
}

// Hinges are the forces of a leaf on its two outer hinges, in N.
type Hinges struct {
	Pull        float64 // H: at the top hinge away from the wall, at the bottom one against it
	SharedDown  float64 // V of each hinge when both carry alike
	SharedTotal float64 // √(H² + V²) with the weight shared
	AloneTotal  float64 // √(H² + W²) with the whole weight on one hinge, for which each is designed
}

// HingeForces returns the forces of a leaf on its hinges, H = W·b / (2·h), for its weight W in N, its width b in mm with the
// centre of mass at half of it, and the distance h in mm between the outer hinges.
//
// Source: statics; Halliday, Resnick and Walker, chapter 12, problem 31 (read). One hinge for the whole weight: common practice.
func HingeForces(weightN, widthMM, apartMM float64) (Hinges, error) {
	if err := errors.Join(notNegative("weight in N", weightN), positive("width in mm", widthMM), positive("distance between hinges in mm", apartMM)); err != nil {
		return Hinges{}, err
	}
	h := weightN * widthMM / (2 * apartMM)
	return Hinges{Pull: h, SharedDown: weightN / 2, SharedTotal: math.Hypot(h, weightN/2), AloneTotal: math.Hypot(h, weightN)}, nil
}

// Closer says what closes a door.
type Closer int

// Closers, with what they add to the mass that hinges are chosen for.
const (
	NoCloser    Closer = iota // nothing
	PlainCloser               // 20 %
	BackCheck                 // 75 %, back-check or hold-open
)

// Use says how a door is used.
type Use int

// Uses, with what they add to the mass that hinges are chosen for.
const (
	OrdinaryUse   Use = iota // nothing
	LightUse                 // takes away 10 %
	ExtraHeavyUse            // 10 %
)

// WidthCorrection returns the part of its mass that is added for a wide leaf: max(0, 2 − height/width), sizes in mm.
//
// Source: guidance in an annex of EN 1935 (read). Published percentages are rounded.
func WidthCorrection(heightMM, widthMM float64) (float64, error) {
	if err := errors.Join(positive("height in mm", heightMM), positive("width in mm", widthMM)); err != nil {
		return 0, err
	}
	return max(0, 2-heightMM/widthMM), nil
}

// HingeMass returns the mass in kg that hinges are chosen for: m·(1 + width correction + closer + use), sizes in mm.
//
// Source: guidance to EN 1935 (read).
func HingeMass(massKG, heightMM, widthMM float64, closer Closer, use Use) (float64, error) {
	add, err := WidthCorrection(heightMM, widthMM)
	if err = errors.Join(err, positive("mass in kg", massKG)); err != nil {
		return 0, err
	}
	switch closer {
	case NoCloser:
	case PlainCloser:
		add += 0.20
	case BackCheck:
		add += 0.75
	default:
		return 0, fmt.Errorf("%w: closer %d", ErrNotListed, closer)
	}
	switch use {
	case OrdinaryUse:
	case LightUse:
		add -= 0.10
	case ExtraHeavyUse:
		add += 0.10
	default:
		return 0, fmt.Errorf("%w: use %d", ErrNotListed, use)
	}
	return massKG * (1 + add), nil
}

// en1935KG are the door masses in kg of the digits 0 to 7.
//
// Source: EN 1935:2002, table of door mass (read).
var en1935KG = [...]float64{10, 20, 40, 60, 80, 100, 120, 160}

// HingeDigit returns the third digit of the EN 1935 code that hinges need for a mass in kg, 0 to 7; above 160 kg there is none.
// Hinges between glass and wall lie outside the standard: for them the maker's own rating counts.
//
// Source: EN 1935:2002, table of door mass (read).
func HingeDigit(massKG float64) (int, error) {
	if err := positive("mass in kg", massKG); err != nil {
		return 0, err
	}
	for digit, kg := range en1935KG {
		if massKG <= kg {
			return digit, nil
		}
	}
	return 0, fmt.Errorf("%w: the mass is %g kg, at most 160 is wanted", ErrRange, massKG)
}

// TwoHingesKG is the mass of leaf up to which two hinges are usual (common practice).
const TwoHingesKG = 40.0

// HingeCount returns the usual number of hinges of a leaf of a mass in kg: 2 up to 40 kg, 3 above.
//
// Source: common practice; the grade tests of EN 1935 use three hinges (read).
func HingeCount(massKG float64) (int, error) {
	if err := positive("mass in kg", massKG); err != nil {
		return 0, err
	}
	if massKG <= TwoHingesKG {
		return 2, nil
	}
	return 3, nil
}

// GlassHoleGaps are clear distances of holes in toughened glass, in mm, all from the edge of the hole.
type GlassHoleGaps struct {
	Edge    float64 // to the edge of the glass
	Between float64 // to the next hole
	Corner  float64 // to the corner of the glass
}

// GlassHoleLimits returns the distances that holes in toughened glass of a thickness in mm must exceed: 2, 2 and 6 times the
// thickness. Exactly these are not enough. Under 35 mm from the edge the maker may want the hole unevenly far from the two
// edges of a corner.
//
// Source: EN 12150-1:2015+A1:2019, clause 7 (read).
func GlassHoleLimits(thicknessMM float64) (GlassHoleGaps, error) {
	if err := positive("thickness in mm", thicknessMM); err != nil {
		return GlassHoleGaps{}, err
	}
	return GlassHoleGaps{Edge: 2 * thicknessMM, Between: 2 * thicknessMM, Corner: 6 * thicknessMM}, nil
}

// GlassHoleMin returns the least diameter in mm of a hole in toughened glass: its thickness in mm.
//
// Source: EN 12150-1 and glass trade guidance (read in the trade; the clause from memory).
func GlassHoleMin(thicknessMM float64) (float64, error) {
	return thicknessMM, positive("thickness in mm", thicknessMM)
}
