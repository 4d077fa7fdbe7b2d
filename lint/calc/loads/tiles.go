package loads

import (
	"errors"
	"fmt"
)

// Background is what tiles, or panels with tiles, are glued to.
type Background string

// The backgrounds that have a figure.
const (
	GypsumPlaster    Background = "gypsum_plaster"
	Plasterboard     Background = "plasterboard" // 12.5 mm, without a skim
	GypsumFibreboard Background = "gypsum_fibreboard"
	CementBoard      Background = "cement_board" // glass-reinforced
	FoamPanel        Background = "foam_panel"   // foam-cored tile backer; the maker may allow more
)

// SolidBedShare is the part of what the background carries above which a tile is laid in a solid bed
// (BS 5385-1:2018, read).
const SolidBedShare = 0.70

// TilingMax returns the greatest mass of tile, bed and grout in kg/m² that backgrounds carry when they lie
// behind one another; the weakest governs.
//
// Source: BS 5385-1:2018, guide figures (read).
func TilingMax(layers ...Background) (float64, error) {
	if len(layers) == 0 {
		return 0, fmt.Errorf("%w: no background is given", ErrNotListed)
	}
	least := 0.0
	for i, b := range layers {
		kg := 0.0
		switch b {
		case GypsumPlaster:
			kg = 20
		case Plasterboard:
			kg = 32
		case GypsumFibreboard:
			kg = 40
		case CementBoard:
			kg = 50
		case FoamPanel:
			kg = 60
		default:
			return 0, fmt.Errorf("%w: background %q", ErrNotListed, b)
		}
		if i == 0 || kg < least {
			least = kg
		}
	}
	return least, nil
}

// TilingMass returns the sum of tile, bed and grout in kg/m².
//
// Source: BS 5385-1:2018, what counts (read).
func TilingMass(tile, bed, grout float64) (float64, error) {
	if err := errors.Join(positive("tile in kg/m²", tile), notNegative("bed in kg/m²", bed), notNegative("grout in kg/m²", grout)); err != nil {
		return 0, err
	}
	return tile + bed + grout, nil
}

// TileShare returns the mass of a tile as a part of what its background carries, both in kg/m². Above
// [SolidBedShare] the tile wants a solid bed even when it is smaller than 0.1 m².
//
// Source: BS 5385-1:2018 (read).
func TileShare(tile, most float64) (float64, error) {
	if err := errors.Join(positive("tile in kg/m²", tile), positive("limit in kg/m²", most)); err != nil {
		return 0, err
	}
	return tile / most, nil
}

// TilingShear returns the shear stress in kPa between a wall and a finish of a mass in kg/m²: τ = g·m. It is small
// against the strength of foam; creep, heat and peeling are what brings tiles down.
//
// Source: statics (computed).
func TilingShear(mass float64) (float64, error) {
	n, err := Weight(mass)
	return n / 1000, err
}

// PanelMass returns the mass in kg/m² of a foam board of a thickness in mm and a density in kg/m³ with facings in kg/m².
//
// Source: computed.
func PanelMass(thicknessMM, density float64, facings ...float64) (float64, error) {
	if err := errors.Join(positive("thickness in mm", thicknessMM), positive("density in kg/m³", density)); err != nil {
		return 0, err
	}
	sum := thicknessMM / 1000 * density
	for _, f := range facings {
		if err := notNegative("facing in kg/m²", f); err != nil {
			return 0, err
		}
		sum += f
	}
	return sum, nil
}

// Groove is what a groove leaves of a solid board.
type Groove struct {
	LeftMM    float64 // r = t − depth
	Strength  float64 // (r/t)², the part of the bending strength across the groove
	Stiffness float64 // (r/t)³, the part of the bending stiffness there
}

// GrooveLeft returns what a groove of a depth leaves of a board of a thickness, both in mm. The depth lies from 0 to the
// thickness.
//
// Source: bending of a rectangular section (computed).
func GrooveLeft(thicknessMM, depthMM float64) (Groove, error) {
	if err := positive("thickness in mm", thicknessMM); err != nil {
		return Groove{}, err
	}
	if !(depthMM >= 0 && depthMM <= thicknessMM) {
		return Groove{}, fmt.Errorf("%w: the depth is %g mm, 0 to %g is wanted", ErrRange, depthMM, thicknessMM)
	}
	r := (thicknessMM - depthMM) / thicknessMM
	return Groove{thicknessMM - depthMM, r * r, r * r * r}, nil
}

// MasonryChase returns the deepest vertical and horizontal chase in mm in a masonry leaf of a thickness in mm: a third and a
// sixth of it. For foam it is no more than an analogy.
//
// Source: UK Approved Document A, section 2C (read).
func MasonryChase(leafMM float64) (vertical, horizontal float64, err error) {
	return leafMM / 3, leafMM / 6, positive("thickness in mm", leafMM)
}
