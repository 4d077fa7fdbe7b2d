package moisture

import "sort"

// Material is a row of the table of design values.
type Material struct {
	Name      string
	LambdaWMK float64 // W/(m·K); 0 for films
	// MuLow and MuHigh are the two published vapour factors (wet and dry, or the ends of a range). Take the low one on the warm side of
	// the plane that is looked at and the high one on its cold side: so more condenses.
	MuLow, MuHigh float64
	SdM           float64 // films only
	Source        string
}

const (
	iso10456      = "ISO 10456 / EN 12524"
	din41084      = "DIN V 4108-4"
	fromMemory    = " (memory)"
	asReported    = " (secondary)"
	vapourTightMu = 1e6
)

// materials is in alphabetical order. λ is the higher value where a range is published. Design values only: a data sheet goes before
// them.
var materials = []Material{
	{"anhydrite_screed", 1.20, 15, 35, 0, din41084 + asReported},
	{"calcium_silicate_masonry", 0.99, 15, 25, 0, din41084 + asReported},
	{"cement_mortar", 1.00, 6, 10, 0, iso10456 + fromMemory},
	{"cement_screed", 1.40, 15, 35, 0, din41084 + asReported},
	{"clay_brick", 0.77, 10, 16, 0, "CIBSE guide A, outer leaf" + asReported},
	{"concrete", 2.00, 80, 130, 0, iso10456 + fromMemory},
	{"eps", 0.040, 20, 70, 0, iso10456 + fromMemory},
	{"glass", 1.00, vapourTightMu, vapourTightMu, 0, iso10456 + asReported},
	{"granite", 2.80, 10000, 10000, 0, iso10456 + fromMemory},
	{"gypsum_board", 0.25, 4, 10, 0, iso10456 + asReported},
	{"gypsum_plaster", 0.51, 10, 10, 0, din41084 + asReported},
	{"hardwood", 0.18, 50, 200, 0, iso10456 + asReported},
	{"lime_cement_plaster", 1.00, 15, 35, 0, din41084 + asReported},
	{"limestone", 1.70, 200, 200, 0, iso10456 + fromMemory},
	{"marble", 3.50, 10000, 10000, 0, iso10456 + fromMemory},
	{"mineral_wool", 0.040, 1, 1, 0, iso10456 + fromMemory},
	{"osb", 0.13, 30, 50, 0, iso10456 + fromMemory},
	{"pe_foil", 0, 0, 0, 50, "Danish SBI 178" + asReported},
	{"pir", 0.028, 60, 60, 0, iso10456 + fromMemory},
	{"pur", 0.028, 60, 60, 0, iso10456 + fromMemory},
	{"reinforced_concrete", 2.30, 80, 130, 0, iso10456 + fromMemory},
	{"roofing_felt", 0, 0, 0, 100, "Danish SBI 178" + asReported},
	{"slate", 2.20, 1000, 1000, 0, iso10456 + fromMemory},
	{"softwood", 0.13, 20, 50, 0, iso10456 + asReported},
	{"steel", 50, vapourTightMu, vapourTightMu, 0, iso10456 + asReported},
	{"tile", 1.30, vapourTightMu, vapourTightMu, 0, iso10456 + fromMemory},
	{"xps", 0.035, 100, 150, 0, "declarations under EN 13164" + asReported},
}

// MaterialNamed returns a material of the table.
func MaterialNamed(name string) (Material, bool) {
	i := sort.Search(len(materials), func(i int) bool { return materials[i].Name >= name })
	if i < len(materials) && materials[i].Name == name {
		return materials[i], true
	}
	return Material{}, false
}

// MaterialNames lists the table in alphabetical order.
func MaterialNames() []string {
	names := make([]string, len(materials))
	for i, m := range materials {
		names[i] = m.Name
	}
	return names
}
