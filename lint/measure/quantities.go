package measure

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/calc/pipe"
	"wetrule/lint/jobfile"
)

// Quantities are measures for methods of work: areas, lengths, volumes and sizes of tools. They are worked out only when somebody asks
// (Set.Quantity), never for a review, so rules cannot use them.

// everyItem stands for the quantities that all kinds of items share.
const everyItem = "every item"

// extra holds the quantities by kind.
var extra = map[string][]*Def{}

func quantities(kind string, defs ...*Def) bool {
	for _, d := range defs {
		if slices.ContainsFunc(extra[kind], func(o *Def) bool { return o.Name == d.Name }) {
			panic("measure: the quantity " + kind + "." + d.Name + " is defined twice")
		}
		d.Kind = kind
		extra[kind] = append(extra[kind], d)
	}
	return true
}

// Quantities lists the quantities of the kind beside its measures, in order of name.
func (k *Kind) Quantities() []*Def {
	out := slices.Clone(extra[k.Name])
	if slices.Contains(ItemKinds, k.Name) {
		for _, d := range extra[everyItem] {
			if _, own := k.index[d.Name]; !own {
				out = append(out, d)
			}
		}
	}
	return byName(out)
}

// OwnQuantities lists the quantities that the kind does not share with every kind of item, in order of name.
func (k *Kind) OwnQuantities() []*Def { return byName(extra[k.Name]) }

// ItemQuantities lists the quantities that all kinds of items share, in order of name.
func ItemQuantities() []*Def { return byName(extra[everyItem]) }

func byName(defs []*Def) []*Def {
	out := slices.Clone(defs)
	sort.SliceStable(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}

// Quantity returns a quantity or a measure of the kind by name, nil when there is none. Waits between tasks are none.
func (k *Kind) Quantity(name string) *Def {
	if i, ok := k.index[name]; ok {
		return k.Defs[i]
	}
	for _, d := range k.Quantities() {
		if d.Name == name {
			return d
		}
	}
	return nil
}

// QuantityNames lists the names that Quantity knows, in order.
func (k *Kind) QuantityNames() []string {
	var out []string
	for _, d := range k.Defs {
		out = append(out, d.Name)
	}
	for _, d := range k.Quantities() {
		out = append(out, d.Name)
	}
	sort.Strings(out)
	return out
}

// Quantity works out one quantity or measure of a subject of the set's job. A measure that the kind does not have is Unknown.
func (s *Set) Quantity(sub *Subject, d *Def) Value {
	if d == nil || d.get == nil || s.ctx == nil {
		return unknown()
	}
	if t := s.Table(d.Kind); t != nil {
		if col := t.Column(d.Name); col != nil {
			if i := t.Find(sub.ID); i >= 0 {
				return col[i]
			}
		}
	}
	return d.get(s.ctx, sub)
}

// Context returns what the measures of the job share.
func (s *Set) Context() *Context { return s.ctx }

// quantityText and quantityNumber make quantities that are facts of the item as they stand.
func quantityText(name, meaning, field string, get func(*jobfile.Item) string) *Def {
	return given(Text, name, "", meaning, field, func(_ *Context, s *Subject) Value { return text(get(s.Item)) })
}

func quantityNumber(name, unit, meaning, field string, get func(*jobfile.Item) *float64) *Def {
	return given(Number, name, unit, meaning, field, func(_ *Context, s *Subject) Value { return num(get(s.Item)) })
}

// litres is a litre for each mm and m².
func litres(areaM2, thicknessMM float64) float64 { return areaM2 * thicknessMM }

// quantityTemplateMM is the largest hole that is cut with a hole saw; a larger one is cut along a template.
//
// Source: common practice; hole saws above 127 mm are seldom at hand (memory).
const quantityTemplateMM = 127

// quantityTools lists the sizes of one sort of tool that the holes of an item need: bits up to 16 mm, hole saws up to 127 mm, and templates
// above. Each size is named once, the smallest first.
func quantityTools(above, upTo float64) func(*Context, *Subject) Value {
	return func(_ *Context, s *Subject) Value {
		holes := jobHolesOf(s.Item)
		if len(holes) == 0 {
			return none()
		}
		var sizes []float64
		for _, h := range holes {
			if h.diameterMM == nil {
				return unknown().note("the diameter of a hole is not given")
			}
			if d := geometry.RoundMM(*h.diameterMM); d > above && d <= upTo && !slices.Contains(sizes, d) {
				sizes = append(sizes, d)
			}
		}
		if len(sizes) == 0 {
			return none()
		}
		sort.Float64s(sizes)
		words := make([]string, len(sizes))
		for i, v := range sizes {
			words[i] = FormatNumber(v)
		}
		return texts(words)
	}
}

// quantityHandSaw says whether a hole saw of the job does not reach through a hole of the item.
func quantityHandSaw(c *Context, s *Subject) Value {
	holes := jobHolesOf(s.Item)
	sawn, short, unsure := false, false, false
	var reach *float64
	if c.Job.Tools != nil {
		reach = c.Job.Tools.SawReachMM
	}
	for _, h := range holes {
		if h.diameterMM != nil && *h.diameterMM <= jobBitMaxMM {
			continue
		}
		sawn = true
		depth := h.depthMM
		if h.through {
			depth = nil
			if f := c.Face(h.face); f != nil && f.Panel != nil {
				depth = f.Panel.ThicknessMM
			}
		}
		switch {
		case depth == nil || reach == nil || h.diameterMM == nil:
			unsure = true
		case *reach < *depth:
			short = true
		}
	}
	switch {
	case !sawn:
		return none()
	case short:
		return yes(true)
	case unsure:
		return unknown()
	}
	return yes(false)
}

func quantityPanel(c *Context, face string) (*float64, State) {
	f := c.Face(face)
	if f == nil || f.Panel == nil || f.Panel.ThicknessMM == nil {
		return nil, Unknown
	}
	return f.Panel.ThicknessMM, Known
}

var openingNeeds = []string{"opening_diameter_mm", "inserts", "exit_diameter_mm"}

var _ = quantities(everyItem,
	quantityNumber("x_mm", "mm", "distance of its centre from the left edge of the face", "x_mm", func(it *jobfile.Item) *float64 { return it.XMM }),
	quantityNumber("y_mm", "mm", "height of its centre above the lower edge of the face", "y_mm", func(it *jobfile.Item) *float64 { return it.YMM }),
	quantityNumber("opening_diameter_mm", "mm", "diameter of its opening", "opening_diameter_mm", func(it *jobfile.Item) *float64 { return it.OpeningDiameterMM }),
	quantityText("on_face", "face that it is on", "face", func(it *jobfile.Item) string { return it.Face }),
	quantityText("circuit_id", "circuit that feeds it", "circuit", func(it *jobfile.Item) string { return it.Circuit }),
	def(Number, "circuit_voltage_v", "V", "voltage of its circuit", "as given for the circuit that it names", "", []string{"/circuits/{circuit}/voltage_v", "circuit"}, func(c *Context, s *Subject) Value {
		if k := c.circuit(s.Item.Circuit); k != nil {
			return num(k.VoltageV)
		}
		return unknown()
	}),
	def(Flag, "has_opening", "", "whether something is cut out of the panel for it", "the openings of its kind, and holes for inserts", "", []string{"opening_diameter_mm", "inserts"}, func(_ *Context, s *Subject) Value { return yes(jobIsOpening(s.Item)) }),
	def(Flag, "takes_collar", "", "whether a collar seals it", "as given; taken for sealed with a collar while the job says nothing; does not arise for kinds that no collar seals", "", []string{"collar"}, func(_ *Context, s *Subject) Value {
		switch {
		case !jobTakesCollar(s.Item):
			return none()
		case s.Item.Collar == nil:
			return unknown()
		}
		return flag(s.Item.Collar)
	}),
	def(Texts, "bits_mm", "mm", "bits for its holes up to 16 mm", "different diameters, the smallest first", "common practice; hole saws are commonly sold from 14 mm up (memory)", openingNeeds, quantityTools(0, jobBitMaxMM)),
	def(Texts, "hole_saws_mm", "mm", "hole saws for its holes above 16 up to 127 mm", "different diameters, the smallest first", "common practice (memory)", openingNeeds, quantityTools(jobBitMaxMM, quantityTemplateMM)),
	def(Texts, "templates_mm", "mm", "templates for its holes above 127 mm", "different diameters, the smallest first", "common practice (memory)", openingNeeds, quantityTools(quantityTemplateMM, math.Inf(1))),
	def(Flag, "saw_short", "", "whether the hole saws do not reach through", "reach of the hole saws < thickness of the panel, or depth of the hole; does not arise for holes up to 16 mm", "", append([]string{"/tools/saw_reach_mm", "/panel/thickness_mm", "face"}, openingNeeds...), quantityHandSaw),
	def(Number, "panel_thickness_mm", "mm", "thickness of the panel that it is in", "as given for the board of its face, else for all boards", "", []string{"/panel/thickness_mm", "face"}, func(c *Context, s *Subject) Value {
		p, _ := quantityPanel(c, s.Item.Face)
		return num(p)
	}),
	def(Number, "opening_ring_m", "m", "way round its opening, to be sealed", "π × diameter ÷ 1000; does not arise without an opening", planeGeometry, []string{"opening_diameter_mm"}, func(_ *Context, s *Subject) Value {
		switch {
		case !jobOpeningKind(s.Item.Kind) && s.Item.OpeningDiameterMM == nil:
			return none()
		case s.Item.OpeningDiameterMM == nil:
			return unknown()
		}
		d := *s.Item.OpeningDiameterMM
		return number(math.Pi * d / 1000).worked(func() []string {
			return []string{fmt.Sprintf("π × %s mm ÷ 1000 = %.3f m", FormatNumber(d), math.Pi*d/1000)}
		})
	}),
)

// tubeQuantity calls f with the tube of an outlet.
func tubeQuantity(f func(*jobfile.Tube) Value) func(*Context, *Subject) Value {
	return func(_ *Context, s *Subject) Value {
		if s.Item.Tube == nil {
			return unknown()
		}
		return f(s.Item.Tube)
	}
}

var _ = quantities("steam_outlet",
	given(Number, "tube_wall_mm", "mm", "wall of the steam tube", "tube.wall_mm", tubeQuantity(func(t *jobfile.Tube) Value { return num(t.WallMM) })),
	given(Number, "tube_length_m", "m", "length of the steam tube from the generator to the outlet", "tube.run_m", tubeQuantity(func(t *jobfile.Tube) Value { return num(t.RunM) })),
	given(Text, "insulation_material", "", "what the tube is insulated with", "tube.insulation.material", tubeQuantity(func(t *jobfile.Tube) Value {
		if t.Insulation == nil {
			return unknown()
		}
		return text(t.Insulation.Material)
	})).oneOf("mineral_wool", "epdm", "nbr", "silicone", "pe", "glass_fibre"),
	def(Number, "insulation_length_m", "m", "length of the insulation", "the whole run of the tube; does not arise for a bare tube", "common practice", []string{"tube.run_m", "tube.insulation.thickness_mm"}, tubeQuantity(func(t *jobfile.Tube) Value {
		switch {
		case t.Insulation == nil || t.Insulation.ThicknessMM == nil:
			return unknown()
		case *t.Insulation.ThicknessMM == 0:
			return none()
		}
		return num(t.RunM)
	})),
	def(Number, "insulated_od_mm", "mm", "outside diameter of the insulated tube", "outside diameter + 2 × insulation", planeGeometry, []string{"tube.od_mm", "tube.insulation.thickness_mm"}, tubeQuantity(func(t *jobfile.Tube) Value {
		if t.ODMM == nil || t.Insulation == nil || t.Insulation.ThicknessMM == nil {
			return unknown()
		}
		return number(*t.ODMM + 2**t.Insulation.ThicknessMM)
	})),
	def(Number, "tube_supports", "", "number of supports of the steam tube", "run ÷ largest distance between supports, rounded up, and one more", "distance as given, else copper trade guidance on level runs (secondary)", []string{"tube.run_m", "tube.od_mm", "tube.support_spacing_m"}, tubeQuantity(func(t *jobfile.Tube) Value {
		if t.RunM == nil {
			return unknown()
		}
		spacing, note := 0.0, ""
		if t.SupportSpacingM != nil {
			spacing = *t.SupportSpacingM
		} else if t.ODMM != nil && (t.Material == "copper" || t.Material == "stainless_steel") {
			if h, _, err := pipe.SupportSpacingM(*t.ODMM); err == nil {
				spacing, note = h, fmt.Sprintf("supports taken as %s m apart", FormatNumber(h))
			}
		}
		if spacing <= 0 {
			return unknown()
		}
		n := math.Ceil(*t.RunM/spacing-1e-9) + 1
		return noted(number(n), note).worked(func() []string {
			return []string{fmt.Sprintf("%s m ÷ %s m, rounded up, + 1 = %s", FormatNumber(*t.RunM), FormatNumber(spacing), FormatNumber(n))}
		})
	})),
	def(Number, "gap_volume_ml", "ml", "gap between the insulated tube and its opening, to be filled", "π ÷ 4 × (opening² − outside diameter²) × panel thickness", planeGeometry, []string{"opening_diameter_mm", "tube.od_mm", "tube.insulation.thickness_mm", "/panel/thickness_mm", "face"}, func(c *Context, s *Subject) Value {
		t := s.Item.Tube
		p, _ := quantityPanel(c, s.Item.Face)
		if t == nil || t.ODMM == nil || t.Insulation == nil || t.Insulation.ThicknessMM == nil || p == nil || s.Item.OpeningDiameterMM == nil {
			return unknown()
		}
		d := *t.ODMM + 2**t.Insulation.ThicknessMM
		return number(math.Max(0, math.Pi/4*(*s.Item.OpeningDiameterMM**s.Item.OpeningDiameterMM-d*d)**p/1e3))
	}),
)

var _ = quantities("steam_generator",
	quantityNumber("power_kw", "kW", "power of the generator", "power_kw", func(it *jobfile.Item) *float64 { return it.PowerKW }),
)

// grooveLength is the length of the runs of a heating cable along their axes, in m.
func grooveLength(c *Context, s *Subject) Value {
	k := c.cable(s.Item)
	switch {
	case k == nil:
		return unknown()
	case k.why != "":
		return unknown().note(k.why)
	}
	return number(k.lengthMM / 1000)
}

// grooveVolume is the volume of the grooves in litres, less the cable in them when filled.
func grooveVolume(filled bool) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		l := grooveLength(c, s)
		it := s.Item
		if l.State != Known || it.GrooveWidthMM == nil || it.GrooveDepthMM == nil || filled && it.CableODMM == nil {
			return Value{State: Unknown, more: l.more}
		}
		section := *it.GrooveWidthMM * *it.GrooveDepthMM
		how := fmt.Sprintf("%s mm × %s mm", FormatNumber(*it.GrooveWidthMM), FormatNumber(*it.GrooveDepthMM))
		if filled {
			section = math.Max(0, section-math.Pi/4**it.CableODMM**it.CableODMM)
			how = fmt.Sprintf("(%s − π ÷ 4 × (%s mm)²)", how, FormatNumber(*it.CableODMM))
		}
		v := section * l.Num / 1000
		return number(v).worked(func() []string {
			return []string{fmt.Sprintf("%s × %s m = %.3f l", how, FormatNumber(l.Num), v)}
		})
	}
}

var _ = quantities("heating_cable",
	def(Number, "groove_length_m", "m", "length of the grooves", "length of the runs with sharp corners", planeGeometry, []string{"runs"}, grooveLength),
	def(Number, "groove_volume_l", "l", "volume that is cut out for the grooves", "width × depth × length", planeGeometry, []string{"groove_width_mm", "groove_depth_mm", "runs"}, grooveVolume(false)),
	def(Number, "groove_fill_l", "l", "volume of the cement that fills the grooves round the cable", "(width × depth − π ÷ 4 × cable²) × length", planeGeometry, []string{"groove_width_mm", "groove_depth_mm", "cable_od_mm", "runs"}, grooveVolume(true)),
	quantityNumber("supplied_length_m", "m", "length of the cable on the reel", "supplied_length_m", func(it *jobfile.Item) *float64 { return it.SuppliedLengthM }),
	quantityNumber("plate_resistance_ohm", "Ω", "resistance on the cable's plate", "resistance_ohm", func(it *jobfile.Item) *float64 { return it.ResistanceOhm }),
	quantityNumber("cable_od_mm", "mm", "outside diameter of the cable", "cable_od_mm", func(it *jobfile.Item) *float64 { return it.CableODMM }),
	def(Number, "ramp_h", "h", "time in which the heating is run up at 5 K a day", "as for the heated face that it lies on", "", heatSurfaceNeeds, func(c *Context, s *Subject) Value {
		k := kinds["heated_face"]
		for _, sub := range k.find(c) {
			if sub.ID == s.Item.Face {
				return k.Def("ramp_needed_h").get(c, &sub)
			}
		}
		return unknown()
	}),
	def(Number, "cable_clips", "", "number of clips that hold the cable in its grooves", "one every 0.3 m of groove, rounded up", "common practice (memory)", []string{"runs"}, func(c *Context, s *Subject) Value {
		l := grooveLength(c, s)
		if l.State != Known {
			return l
		}
		return number(math.Ceil(l.Num/0.3 - 1e-9))
	}),
	quantityText("cover_material_word", "what covers the cable", "cover.material", func(it *jobfile.Item) string {
		if it.Cover == nil {
			return ""
		}
		return it.Cover.Material
	}).oneOf("flexible_tile_cement", "tile_cement", "foam", "none"),
)

var _ = quantities("heating_sensor",
	quantityText("cable_id", "heating cable that it watches", "cable", func(it *jobfile.Item) string { return it.Cable }),
	quantityNumber("limit_c", "°C", "temperature at which it switches off", "limit_c", func(it *jobfile.Item) *float64 { return it.LimitC }),
)

var _ = quantities("ventilation_outlet",
	quantityNumber("spigot_od_mm", "mm", "outside diameter of the spigot", "spigot_od_mm", func(it *jobfile.Item) *float64 { return it.SpigotODMM }),
	quantityNumber("air_flow_m3_h", "m³/h", "air flow to set", "air_flow_m3_h", func(it *jobfile.Item) *float64 { return it.AirFlowM3H }),
	given(Flag, "has_fan", "", "whether it has a fan of its own", "fan", func(_ *Context, s *Subject) Value { return flag(s.Item.Fan) }),
)

var _ = quantities("fibre_lights",
	def(Number, "fibre_count", "", "number of fibre ends", "points counted", "", []string{"points"}, func(_ *Context, s *Subject) Value {
		if s.Item.Points == nil {
			return unknown()
		}
		return number(float64(len(s.Item.Points)))
	}),
	quantityText("illuminator_id", "light source of the fibres", "illuminator", func(it *jobfile.Item) string { return it.Illuminator }),
)

var _ = quantities("led_strip",
	def(Number, "strip_length_m", "m", "length of the strip", "length of its path", planeGeometry, []string{"path"}, func(_ *Context, s *Subject) Value {
		if len(s.Item.Path) < 2 {
			return unknown()
		}
		line := make(geometry.Polyline, len(s.Item.Path))
		for i, p := range s.Item.Path {
			line[i] = geometry.Point{X: p[0], Y: p[1]}
		}
		mm, err := line.Length()
		if err != nil {
			return unknown()
		}
		return number(mm / 1000)
	}),
	given(Flag, "is_cut", "", "whether the strip is cut to length", "cut", func(_ *Context, s *Subject) Value { return flag(s.Item.Cut) }),
	quantityNumber("power_w", "W", "power of the strip", "power_w", func(it *jobfile.Item) *float64 { return it.PowerW }),
)

var _ = quantities("spotlight",
	quantityNumber("depth_mm", "mm", "depth of the spotlight behind the face of the panel", "depth_mm", func(it *jobfile.Item) *float64 { return it.DepthMM }),
	quantityNumber("power_w", "W", "power of the spotlight", "power_w", func(it *jobfile.Item) *float64 { return it.PowerW }),
)

var _ = quantities("light_source",
	quantityNumber("output_w", "W", "rated output", "output_w", func(it *jobfile.Item) *float64 { return it.OutputW }),
)

// insertVolume is the volume of the holes for the inserts of an item, in ml.
func insertVolume(_ *Context, s *Subject) Value {
	if s.Item.Inserts == nil {
		return unknown()
	}
	v := 0.0
	for _, in := range s.Item.Inserts {
		if in.DiameterMM == nil || in.DepthMM == nil {
			return unknown()
		}
		v += math.Pi / 4 * *in.DiameterMM * *in.DiameterMM * *in.DepthMM / 1e3
	}
	if len(s.Item.Inserts) == 0 {
		return none()
	}
	return number(v)
}

func insertDepth(_ *Context, s *Subject) Value {
	if s.Item.Inserts == nil {
		return unknown()
	}
	deepest := 0.0
	for _, in := range s.Item.Inserts {
		if in.DepthMM == nil {
			return unknown()
		}
		deepest = max(deepest, *in.DepthMM)
	}
	if len(s.Item.Inserts) == 0 {
		return none()
	}
	return number(deepest)
}

func insertQuantities() []*Def {
	return []*Def{
		def(Number, "insert_holes_ml", "ml", "volume of the holes for the inserts", "sum of π ÷ 4 × diameter² × depth; does not arise without inserts", planeGeometry, []string{"inserts", "inserts.0.diameter_mm", "inserts.0.depth_mm"}, insertVolume),
		def(Number, "insert_depth_mm", "mm", "depth of the deepest hole for an insert", "largest depth; does not arise without inserts", "", []string{"inserts", "inserts.0.depth_mm"}, insertDepth),
		def(Number, "profile_bead_ml", "ml", "adhesive under the profile", "length of the profile × a bead of 6 mm × 6 mm", "common practice (memory)", []string{"profile_length_mm"}, func(_ *Context, s *Subject) Value {
			if s.Item.ProfileLengthMM == nil {
				return unknown()
			}
			return number(*s.Item.ProfileLengthMM * 36 / 1e3)
		}),
		quantityText("adhesive_word", "what bonds the inserts", "adhesive", func(it *jobfile.Item) string { return it.Adhesive }).oneOf("polyurethane", "epoxy", "silicone", "tile_cement"),
	}
}

var _ = quantities("fixing", append(insertQuantities(),
	quantityText("equipment_word", "what is fixed", "equipment", func(it *jobfile.Item) string { return it.Equipment }),
)...)

// doorLeafMass is the mass of the leaf in kg: as given, else glass of 2.5 kg for each m² and mm.
//
// Source: EN 572-1, density of glass 2500 kg/m³ (read).
func doorLeafMass(_ *Context, s *Subject) Value {
	it := s.Item
	if it.LeafMassKG != nil {
		return number(*it.LeafMassKG)
	}
	if it.LeafWidthMM == nil || it.LeafHeightMM == nil || it.GlassThicknessMM == nil {
		return unknown()
	}
	kg := *it.LeafWidthMM * *it.LeafHeightMM / 1e6 * *it.GlassThicknessMM * 2.5
	return number(kg).explained("worked out from the glass, without hinges and handles", func() []string {
		return []string{fmt.Sprintf("%s m × %s m × %s mm × 2.5 kg/(m²·mm) = %.3f kg", FormatNumber(*it.LeafWidthMM/1000), FormatNumber(*it.LeafHeightMM/1000), FormatNumber(*it.GlassThicknessMM), kg)}
	})
}

var _ = quantities("glazed_door", append(insertQuantities(),
	def(Number, "leaf_mass_kg", "kg", "mass of the leaf", "as given, else width × height × thickness × 2500 kg/m³", "EN 572-1 density (read)", []string{"leaf_mass_kg", "leaf_width_mm", "leaf_height_mm", "glass_thickness_mm"}, doorLeafMass),
	quantityNumber("leaf_width_mm", "mm", "width of the leaf", "leaf_width_mm", func(it *jobfile.Item) *float64 { return it.LeafWidthMM }),
	quantityNumber("leaf_height_mm", "mm", "height of the leaf", "leaf_height_mm", func(it *jobfile.Item) *float64 { return it.LeafHeightMM }),
	quantityNumber("hinge_count", "", "number of hinges", "hinges", func(it *jobfile.Item) *float64 { return it.Hinges }),
	def(Number, "door_seal_m", "m", "length of the seals of the door", "2 × height + width of the leaf", planeGeometry, []string{"leaf_width_mm", "leaf_height_mm"}, func(_ *Context, s *Subject) Value {
		if s.Item.LeafWidthMM == nil || s.Item.LeafHeightMM == nil {
			return unknown()
		}
		return number((2**s.Item.LeafHeightMM + *s.Item.LeafWidthMM) / 1000)
	}),
)...)

var _ = quantities("accessory",
	quantityText("role_word", "what it is", "role", func(it *jobfile.Item) string { return it.Role }).oneOf("switch", "socket", "junction_box", "control"),
)

var _ = quantities("circuit",
	given(Number, "length_m", "m", "length of the run of the circuit", "length_m", func(_ *Context, s *Subject) Value { return num(s.Circuit.LengthM) }),
	given(Number, "conductor_mm2", "mm²", "cross-section of the conductors", "conductor_mm2", func(_ *Context, s *Subject) Value { return num(s.Circuit.ConductorMM2) }),
	given(Number, "voltage_v", "V", "voltage of the circuit", "voltage_v", func(_ *Context, s *Subject) Value { return num(s.Circuit.VoltageV) }),
	given(Text, "protection", "", "how people are protected on the circuit", "protection", func(_ *Context, s *Subject) Value { return text(s.Circuit.Protection) }).oneOf("ads", "selv", "pelv", "felv", "separation"),
)

// lined is the area of a face that is lined, in m².
func (c *Context) lined(f *Face) Value {
	r := c.roomFigures()
	for i, g := range c.Faces {
		if g != f {
			continue
		}
		if r.lining[i].lacks != "" {
			return unknown().note(r.lining[i].lacks)
		}
		note := "openings of items are not taken off"
		if f.Kind == CeilingFace && r.slope != "" {
			note += "; the area of the plan: what a slope or vault adds is left out"
		}
		return number(r.lining[i].total).note(note)
	}
	return unknown()
}

var linedNeeds = []string{"/room/walls", "/room/height_mm", "/room/benches", "/items"}

// timesArea multiplies the lined area of a face with a figure of a layer.
func timesArea(layer string, figure func(*jobfile.Layer) *float64) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		l, state := buildUpLayer(s.Face, layer)
		if state != Known {
			return Value{State: state}
		}
		a, t := c.lined(s.Face), figure(l)
		if a.State != Known || t == nil {
			return Value{State: Unknown, more: a.more}
		}
		return number(litres(a.Num, *t)).explained(a.Note(), func() []string {
			return []string{fmt.Sprintf("%s m² × %s mm = %.3f l", FormatNumber(a.Num), FormatNumber(*t), a.Num**t)}
		})
	}
}

func thickness(l *jobfile.Layer) *float64 { return l.ThicknessMM }

// areaOf is the lined area of a face that has a layer.
func areaOf(layer string) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		if _, state := buildUpLayer(s.Face, layer); state != Known {
			return Value{State: state}
		}
		return c.lined(s.Face)
	}
}

// ofTile calls f with the tiles of a face, its lined area and the joint.
func ofTile(f func(areaM2, lengthMM, widthMM, thicknessMM, jointMM float64) (float64, string)) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		l, state := buildUpLayer(s.Face, "tile")
		if state != Known {
			return Value{State: state}
		}
		a := c.lined(s.Face)
		j := s.Face.Joints
		if a.State != Known || l.LengthMM == nil || l.WidthMM == nil || l.ThicknessMM == nil || j == nil || j.JointWidthMM == nil || *l.LengthMM <= 0 || *l.WidthMM <= 0 {
			return Value{State: Unknown, more: a.more}
		}
		v, how := f(a.Num, *l.LengthMM, *l.WidthMM, *l.ThicknessMM, *j.JointWidthMM)
		return number(v).explained(a.Note(), func() []string { return []string{how} })
	}
}

var tileNeeds = append([]string{"build_up.tile.length_mm", "/build_up/tile/length_mm", "/build_up/tile/width_mm", "/build_up/tile/thickness_mm", "/joints/joint_width_mm", "/build_up"}, linedNeeds...)

// tileFact is a figure of the tiles of a face.
func tileFact(get func(*jobfile.Layer) *float64) func(*Context, *Subject) Value {
	return buildUpOf("tile", func(l *jobfile.Layer) Value { return num(get(l)) })
}

// sealantSection is the width and depth of a sealed joint, in mm: as wide as the tile joints and at least 5, as deep as
// half its width and at least 6.
//
// Source: common practice (from memory): two to one, and not below 6 mm deep.
func sealantSection(jointMM float64) (width, depth float64) {
	width = max(jointMM, 5)
	return width, max(width/2, 6)
}

// cornerTouches says whether the ends of a bench lie at a corner of the room, left and right, seen from inside.
func (c *Context) cornerTouches(b *jobfile.Bench, wall int) (n int, ok bool) {
	walls := c.Job.Room.Walls
	if wall < 0 || wall >= len(walls) || walls[wall].WidthMM == nil || b.LengthMM == nil {
		return 0, false
	}
	x := benchX(b)
	if x <= 5 {
		n++
	}
	if x+*b.LengthMM >= *walls[wall].WidthMM-5 {
		n++
	}
	return n, true
}

// innerCorner is the length of the inner corners that are counted with a face, in m, so that each corner of the room is counted once:
// with a wall its right-hand corner, with the floor its edge (less doorways, round the benches), with the ceiling its edge, with a seat its back
// and those ends that meet a wall.
func (c *Context) innerCorner(f *Face) Value {
	r := c.roomFigures()
	if !r.arises {
		return none()
	}
	if r.round.lacks != "" {
		return unknown().note(r.round.lacks)
	}
	if c.Plan() == nil {
		return unknown().note("the walls do not close to a plan")
	}
	switch f.Kind {
	case WallFace:
		if t := c.Job.Room.Walls[f.Wall].TurnDeg; t != nil && *t <= 0 {
			return number(0).note("the next wall goes straight on or turns away: there is no inner corner")
		}
		if f.Height == nil {
			return unknown()
		}
		return number(*f.Height / 1000)
	case CeilingFace:
		return number(r.round.total).note("taken as flat")
	case FloorFace:
		if c.Job.Room.Benches == nil {
			return unknown().note("the benches are not given")
		}
		m, how := r.round.total, fmt.Sprintf("walls %s m", FormatNumber(r.round.total))
		door := func(face string, y, w *float64) {
			if g := c.Face(face); g != nil && g.Kind == WallFace && w != nil && (y == nil || *y <= 5) {
				m -= *w / 1000
				how += fmt.Sprintf(" − doorway %s m", FormatNumber(*w/1000))
			}
		}
		for i := range c.Job.Items {
			if it := &c.Job.Items[i]; it.Kind == "glazed_door" {
				door(it.Face, it.YMM, it.WidthMM)
			}
		}
		for i := range c.Job.Room.Openings {
			o := &c.Job.Room.Openings[i]
			door(o.Face, o.YMM, o.WidthMM)
		}
		for i := range c.Job.Room.Benches {
			b := &c.Job.Room.Benches[i]
			d := seatDepth(c, b)
			n, ok := c.cornerTouches(b, c.wallIndex(b.Wall))
			if !ok || d.State != Known {
				return unknown().note("the place or size of the bench " + b.ID + " is not given")
			}
			// The front stands in for the wall behind; an end at a corner takes its depth off the next wall, a free end adds it.
			m += float64(2-2*n) * d.Num / 1000
			how += fmt.Sprintf(" + %d × %s m at the ends of %s", 2-2*n, FormatNumber(d.Num/1000), b.ID)
		}
		return number(m).worked(func() []string { return []string{fmt.Sprintf("%s = %.3f m", how, m)} })
	case SeatFace:
		d := seatDepth(c, f.Bench)
		n, ok := c.cornerTouches(f.Bench, f.Wall)
		if !ok || d.State != Known {
			return unknown()
		}
		m := (*f.Bench.LengthMM + float64(n)*d.Num) / 1000
		return number(m).worked(func() []string {
			return []string{fmt.Sprintf("back %s m + %d × %s m = %.3f m", FormatNumber(*f.Bench.LengthMM/1000), n, FormatNumber(d.Num/1000), m)}
		})
	}
	return number(0).note("the corners of a riser are counted with the floor and the walls")
}

func (c *Context) wallIndex(id string) int {
	return slices.IndexFunc(c.Job.Room.Walls, func(w jobfile.Wall) bool { return w.ID == id })
}

// movementJoints is the length of the movement joints within a face, in m: so many that no field is longer than the distance that the job gives.
func movementJoints(c *Context, s *Subject) Value {
	f := s.Face
	if _, state := buildUpLayer(f, "tile"); state != Known {
		return Value{State: state}
	}
	w, h := f.Width, f.Height
	if f.Kind == FloorFace || f.Kind == CeilingFace {
		ring := f.Outline(c)
		if len(ring) == 0 {
			return unknown()
		}
		lo, hi := ring[0], ring[0]
		for _, p := range ring {
			lo.X, lo.Y, hi.X, hi.Y = min(lo.X, p.X), min(lo.Y, p.Y), max(hi.X, p.X), max(hi.Y, p.Y)
		}
		dx, dy := hi.X-lo.X, hi.Y-lo.Y
		w, h = &dx, &dy
	}
	if f.Joints == nil || f.Joints.MovementJointSpacingMM == nil || *f.Joints.MovementJointSpacingMM <= 0 || w == nil || h == nil {
		return unknown()
	}
	by := *f.Joints.MovementJointSpacingMM
	across, up := math.Max(0, math.Ceil(*w/by-1e-9)-1), math.Max(0, math.Ceil(*h/by-1e-9)-1)
	m := (across**h + up**w) / 1000
	return number(m).worked(func() []string {
		return []string{fmt.Sprintf("%s × %s m + %s × %s m = %.3f m", FormatNumber(across), FormatNumber(*h/1000), FormatNumber(up), FormatNumber(*w/1000), m)}
	})
}

// sealedJoints is the length of the joints that are sealed with sealant on a face, in m.
func sealedJoints(c *Context, s *Subject) Value {
	f := s.Face
	switch {
	case f.Joints == nil || f.Joints.Perimeter == "":
		return unknown()
	case f.Joints.Perimeter != "sealant":
		return none()
	}
	corner := c.innerCorner(f)
	move := movementJoints(c, s)
	switch {
	case corner.State == None:
		return none()
	case corner.State != Known:
		return corner
	case move.State == Unknown:
		return move
	}
	m := corner.Num + move.Num
	return noted(number(m), corner.Note()).worked(func() []string {
		return []string{fmt.Sprintf("inner corners %s m + movement joints %s m = %.3f m", FormatNumber(corner.Num), FormatNumber(move.Num), m)}
	})
}

var cornerNeeds = []string{"/room/walls", "/room/height_mm", "/room/benches"}

var _ = quantities("face",
	def(Number, "lined_area_m2", "m²", "area of the face that is lined", "width × height less doors and other openings and what benches cover; openings of items are not taken off, as is usual when measuring", "plane geometry (computed); small openings by common practice (memory)", linedNeeds, func(c *Context, s *Subject) Value { return c.lined(s.Face) }),
	def(Number, "panel_thickness_mm", "mm", "thickness of the panel", "as given for the face, else for all boards", "", []string{"panel.thickness_mm", "/panel/thickness_mm"}, func(_ *Context, s *Subject) Value {
		if s.Face.Panel == nil {
			return unknown()
		}
		return num(s.Face.Panel.ThicknessMM)
	}),
	def(Number, "panel_joint_m", "m", "length of the joints between the panels of a wall", "number of joints × height; does not arise for other faces, whose joints the job format does not hold", planeGeometry, []string{"panel_joints_x_mm", "/room/height_mm"}, func(_ *Context, s *Subject) Value {
		switch {
		case s.Face.Kind != WallFace:
			return none()
		case s.Face.JointsX == nil || s.Face.Height == nil:
			return unknown()
		}
		return number(float64(len(s.Face.JointsX)) * *s.Face.Height / 1000)
	}),
	def(Number, "inner_corner_m", "m", "length of the inner corners that are counted with the face, each corner of the room once", "with a wall its right-hand corner, with the floor its edge without doorways and round the benches, with the ceiling its edge, with a seat its back and the ends that meet a wall; does not arise for one wall alone", planeGeometry, cornerNeeds, func(c *Context, s *Subject) Value { return c.innerCorner(s.Face) }),
	def(Number, "mesh_area_m2", "m²", "area that is covered with mesh", "lined area; does not arise without mesh", "", append([]string{"/build_up"}, linedNeeds...), areaOf("mesh")),
	def(Number, "cement_volume_l", "l", "volume of the cement coat over the mesh", "lined area × thickness; 1 mm on 1 m² is 1 l", planeGeometry, append([]string{"build_up.cement.thickness_mm", "/build_up/cement/thickness_mm"}, linedNeeds...), timesArea("cement", thickness)),
	def(Number, "cement_thickness_mm", "mm", "thickness of the cement coat", "as given; does not arise without one", "", []string{"build_up.cement.thickness_mm", "/build_up/cement/thickness_mm"}, buildUpOf("cement", func(l *jobfile.Layer) Value { return num(l.ThicknessMM) })),
	def(Number, "film_area_m2", "m²", "area that is waterproofed", "lined area; does not arise without waterproofing", "", append([]string{"/build_up"}, linedNeeds...), areaOf("waterproofing")),
	def(Number, "film_volume_l", "l", "volume of the dry waterproofing", "lined area × planned thickness; 1 mm on 1 m² is 1 l", planeGeometry, append([]string{"build_up.waterproofing.thickness_mm", "/build_up/waterproofing/thickness_mm"}, linedNeeds...), timesArea("waterproofing", thickness)),
	def(Flag, "film_liquid", "", "whether the waterproofing is applied as a liquid", "by its family; does not arise without waterproofing", "", []string{"build_up.waterproofing.family", "/build_up/waterproofing/family"}, buildUpOf("waterproofing", func(l *jobfile.Layer) Value {
		if l.Family == "" {
			return unknown()
		}
		_, liquid := buildUpFamilyMinMM(l.Family)
		return yes(liquid)
	})),
	def(Number, "bed_volume_l", "l", "volume of the tile bed", "lined area × thickness; 1 mm on 1 m² is 1 l", planeGeometry, append([]string{"build_up.tile_bed.thickness_mm", "/build_up/tile_bed/thickness_mm"}, linedNeeds...), timesArea("tile_bed", thickness)),
	def(Number, "tile_area_m2", "m²", "area that is tiled", "lined area; does not arise without tiles", "", append([]string{"/build_up"}, linedNeeds...), areaOf("tile")),
	def(Number, "tile_length_mm", "mm", "length of a tile", "as given; does not arise without tiles", "", []string{"build_up.tile.length_mm", "/build_up/tile/length_mm"}, tileFact(func(l *jobfile.Layer) *float64 { return l.LengthMM })),
	def(Number, "tile_width_mm", "mm", "width of a tile", "as given; does not arise without tiles", "", []string{"build_up.tile.width_mm", "/build_up/tile/width_mm"}, tileFact(func(l *jobfile.Layer) *float64 { return l.WidthMM })),
	def(Number, "tile_thickness_mm", "mm", "thickness of a tile", "as given; does not arise without tiles", "", []string{"build_up.tile.thickness_mm", "/build_up/tile/thickness_mm"}, tileFact(thickness)),
	def(Number, "tile_count", "", "number of tiles, without what is cut away", "lined area ÷ ((length + joint) × (width + joint))", planeGeometry, tileNeeds, ofTile(func(a, l, w, _, j float64) (float64, string) {
		n := a * 1e6 / ((l + j) * (w + j))
		return n, fmt.Sprintf("%s m² × 10⁶ ÷ ((%s + %s) × (%s + %s)) = %.3f", FormatNumber(a), FormatNumber(l), FormatNumber(j), FormatNumber(w), FormatNumber(j), n)
	})),
	def(Number, "grout_volume_l", "l", "volume of the tile joints", "(length + width) ÷ (length × width) × joint × tile thickness × lined area", "common practice (from memory)", tileNeeds, ofTile(func(a, l, w, t, j float64) (float64, string) {
		v := (l + w) / (l * w) * j * t * a
		return v, fmt.Sprintf("(%s + %s) ÷ (%s × %s) × %s × %s × %s m² = %.3f l", FormatNumber(l), FormatNumber(w), FormatNumber(l), FormatNumber(w), FormatNumber(j), FormatNumber(t), FormatNumber(a), v)
	})),
	def(Text, "grout_word", "", "grout of the joints", "as given; does not arise without tiles", "", []string{"joints.grout", "/joints/grout", "/build_up"}, func(_ *Context, s *Subject) Value {
		if _, state := buildUpLayer(s.Face, "tile"); state != Known {
			return Value{State: state}
		}
		if s.Face.Joints == nil {
			return unknown()
		}
		return text(s.Face.Joints.Grout)
	}).oneOf("cement", "epoxy"),
	def(Number, "plaster_volume_l", "l", "volume of the lime plaster", "lined area × thickness; 1 mm on 1 m² is 1 l", planeGeometry, append([]string{"build_up.lime_plaster.thickness_mm", "/build_up/lime_plaster/thickness_mm"}, linedNeeds...), timesArea("lime_plaster", thickness)),
	def(Number, "plaster_area_m2", "m²", "area that is plastered", "lined area; does not arise without lime plaster", "", append([]string{"/build_up"}, linedNeeds...), areaOf("lime_plaster")),
	def(Number, "plaster_thickness_mm", "mm", "thickness of the lime plaster", "as given; does not arise without it", "", []string{"build_up.lime_plaster.thickness_mm", "/build_up/lime_plaster/thickness_mm"}, buildUpOf("lime_plaster", func(l *jobfile.Layer) Value { return num(l.ThicknessMM) })),
	def(Flag, "tiled", "", "whether the face is tiled", "layer looked up in the build-up", "", []string{"build_up", "/build_up"}, buildUpHas("tile")),
	def(Flag, "plastered", "", "whether the face is finished with lime plaster", "layer looked up in the build-up", "", []string{"build_up", "/build_up"}, buildUpHas("lime_plaster")),
	def(Number, "movement_joint_m", "m", "length of the movement joints within the face", "so many that no field is longer than their distance, in both directions; does not arise without tiles", planeGeometry, []string{"/joints/movement_joint_spacing_mm", "/room/walls", "/room/height_mm", "/build_up"}, movementJoints),
	def(Number, "sealant_length_m", "m", "length of the joints that are sealed with sealant", "inner corners and movement joints that are counted with the face; does not arise where corners are not sealed with sealant, nor for one wall alone", planeGeometry, append([]string{"/joints/perimeter", "/joints/movement_joint_spacing_mm"}, cornerNeeds...), sealedJoints),
	def(Number, "sealant_volume_ml", "ml", "volume of these joints", "length × width × depth; as wide as the tile joints and at least 5 mm, half as deep and at least 6 mm", "common practice (from memory)", append([]string{"/joints/joint_width_mm", "/joints/perimeter", "/joints/movement_joint_spacing_mm"}, cornerNeeds...), func(c *Context, s *Subject) Value {
		l := sealedJoints(c, s)
		if l.State != Known {
			return l
		}
		if s.Face.Joints.JointWidthMM == nil {
			return unknown()
		}
		w, d := sealantSection(*s.Face.Joints.JointWidthMM)
		return number(l.Num * w * d).note(fmt.Sprintf("joints taken as %s mm wide and %s mm deep", FormatNumber(w), FormatNumber(d))).worked(func() []string {
			return []string{fmt.Sprintf("%s m × %s mm × %s mm = %.3f ml", FormatNumber(l.Num), FormatNumber(w), FormatNumber(d), l.Num*w*d)}
		})
	}),
)

// floodDepthMM is the depth of water in a flood test.
//
// Source: UFGS 07 14 00, 3.4.3 (read).
const floodDepthMM = 50

// jobItems counts the items of a kind.
func jobItems(kind string) func(*Context, *Subject) Value {
	return func(c *Context, _ *Subject) Value {
		if c.Job.Items == nil {
			return unknown()
		}
		n := 0
		for i := range c.Job.Items {
			if c.Job.Items[i].Kind == kind {
				n++
			}
		}
		return number(float64(n))
	}
}

// floorFree is the area of the floor in front of the benches, in m².
func floorFree(c *Context, _ *Subject) Value {
	if f := c.Face("floor"); f != nil {
		return c.lined(f)
	}
	return unknown().note("the floor is not given")
}

// anyFace says whether some face may have a layer, as a flag.
func anyFace(layer string) func(*Context, *Subject) Value {
	return func(c *Context, _ *Subject) Value {
		unsure := false
		for _, f := range c.Faces {
			switch _, state := buildUpLayer(f, layer); state {
			case Known:
				return yes(true)
			case Unknown:
				unsure = true
			}
		}
		if unsure {
			return unknown()
		}
		return yes(false)
	}
}

var _ = quantities("job",
	def(Number, "lining_area_m2", "m²", "area that is lined", "sum over the faces", planeGeometry, append([]string{"/room/floor", "/room/ceiling"}, linedNeeds...), func(c *Context, _ *Subject) Value {
		r := c.roomFigures()
		if r.arises {
			return r.liningTotal(c).value()
		}
		var s sum
		for _, f := range c.Faces {
			v := c.lined(f)
			if v.State != Known {
				return v
			}
			s.add(v.Num)
		}
		return s.value()
	}),
	def(Number, "plan_edge_m", "m", "length of the walls together", "sum of their widths; does not arise for one wall alone", "", []string{"/room/walls"}, figureOf(func(_ *Context, r *roomFigures) Value { return r.round.value() })),
	def(Number, "panel_edge_m", "m", "length of the joints between panels and of the edges at which faces meet", "joints of the walls + inner corners of all faces", planeGeometry, append([]string{"/room/walls"}, cornerNeeds...), func(c *Context, _ *Subject) Value {
		m := 0.0
		for _, f := range c.Faces {
			v := c.innerCorner(f)
			if v.State == Unknown {
				return v
			}
			m += v.Num // nought where one wall alone has no corners
			if f.Kind == WallFace {
				if f.JointsX == nil || f.Height == nil {
					return unknown().note("the panel joints of the wall " + f.ID + " are not given").at(f.Pointer + "/panel_joints_x_mm")
				}
				m += float64(len(f.JointsX)) * *f.Height / 1000
			}
		}
		return number(m)
	}),
	def(Number, "floor_free_m2", "m²", "area of the floor in front of the benches", "area of the plan − benches", planeGeometry, linedNeeds, floorFree),
	def(Number, "flood_water_l", "l", "water for the flood test", "free floor × 50 mm, without what the fall adds", "depth by UFGS 07 14 00, 3.4.3 (read)", linedNeeds, func(c *Context, s *Subject) Value {
		a := floorFree(c, s)
		if a.State != Known {
			return a
		}
		return number(a.Num * floodDepthMM).worked(func() []string {
			return []string{fmt.Sprintf("%s m² × %d mm = %.3f l", FormatNumber(a.Num), floodDepthMM, a.Num*floodDepthMM)}
		})
	}),
	def(Flag, "has_waterproofing", "", "whether some face is waterproofed", "looked up in the build-ups", "", []string{"/build_up"}, anyFace("waterproofing")),
	def(Flag, "has_finish", "", "whether some face has a finish", "tile or lime plaster looked up in the build-ups", "", []string{"/build_up"}, func(c *Context, s *Subject) Value {
		tile, plaster := anyFace("tile")(c, s), anyFace("lime_plaster")(c, s)
		switch {
		case tile.Flag || plaster.Flag:
			return yes(true)
		case tile.State == Unknown || plaster.State == Unknown:
			return unknown()
		}
		return yes(false)
	}),
	def(Number, "steam_outlets", "", "number of steam outlets", "items counted", "", []string{"/items"}, jobItems("steam_outlet")),
	def(Number, "heating_cables", "", "number of heating cables", "items counted", "", []string{"/items"}, jobItems("heating_cable")),
	def(Number, "drains", "", "number of drains", "items counted", "", []string{"/items"}, jobItems("drain")),
	def(Number, "air_temperature_c", "°C", "rated air temperature", "as given", "", []string{"/climate/air_temperature_c"}, func(c *Context, _ *Subject) Value {
		if c.Job.Climate == nil {
			return unknown()
		}
		return num(c.Job.Climate.AirTemperatureC)
	}),
)

// Sizes are the numbers of a value of several sizes, such as hole_saws_mm.
func (v Value) Sizes() []float64 {
	var out []float64
	for _, t := range v.Texts() {
		if n, err := strconv.ParseFloat(t, 64); err == nil {
			out = append(out, n)
		}
	}
	return out
}
