package measure

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"wetrule/lint/jobfile"
)

// buildUpLayer returns the first layer of a name on a face. The state is Unknown when the
// job gives no build-up, and None when the build-up has no such layer. That a layer is there once only
// is for the rule on the order of layers.
func buildUpLayer(f *Face, name string) (*jobfile.Layer, State) {
	if f.BuildUp == nil {
		return nil, Unknown
	}
	for i := range f.BuildUp {
		if f.BuildUp[i].Layer == name {
			return &f.BuildUp[i], Known
		}
	}
	return nil, None
}

// alike says that some measures of faces look at nothing but the panel, the build-up and the joints of the face, which most faces take from
// the job. Then a face has the values of the one before.
func (k *Kind) alike(names ...string) *Kind {
	for _, name := range names {
		d := k.Defs[k.index[name]]
		d.fill = func(c *Context, subjects []Subject, out []Value) {
			for i := range subjects {
				if subjects[i].Face.asBefore { // the subjects are all faces
					out[i] = out[i-1]
				} else {
					out[i] = d.get(c, &subjects[i])
				}
			}
		}
	}
	return k
}

// madeAs says whether a face has panel, build-up and joints from the same place in the job as another one.
func (f *Face) madeAs(g *Face) bool {
	a, b := f.BuildUp, g.BuildUp
	return f.Panel == g.Panel && f.Joints == g.Joints && len(a) == len(b) && (a == nil) == (b == nil) && (len(a) == 0 || &a[0] == &b[0])
}

// buildUpHas says whether a face has one of the layers.
func buildUpHas(names ...string) func(*Context, *Subject) Value {
	return func(_ *Context, s *Subject) Value {
		for _, name := range names {
			switch _, state := buildUpLayer(s.Face, name); state {
			case Unknown:
				return unknown()
			case Known:
				return yes(true)
			}
		}
		return yes(false)
	}
}

// buildUpOf calls f with a layer of a face; without the layer the value does not arise.
func buildUpOf(name string, f func(*jobfile.Layer) Value) func(*Context, *Subject) Value {
	return func(_ *Context, s *Subject) Value {
		l, state := buildUpLayer(s.Face, name)
		if state != Known {
			return Value{State: state}
		}
		return f(l)
	}
}

// buildUpFamilyMinMM are the least dry thicknesses of liquid-applied waterproofing by family, in mm.
//
// Source: DIN 18534-3:2017-07 (secondary).
func buildUpFamilyMinMM(family string) (mm float64, liquid bool) {
	switch family {
	case "dispersion":
		return 0.5, true
	case "cement_slurry":
		return 2.0, true
	case "reaction_resin":
		return 1.0, true
	}
	return 0, false
}

// buildUpAllowance is the share on top of the least thickness that allows for scatter on site.
//
// Source: DIN 18534-3 with DIN 18195 supplement 2, at least 25 % where the maker states no allowance (secondary).
const buildUpAllowance = 0.25

// buildUpLiquid calls f with a waterproofing that is applied as a liquid and the least thickness of its family. For
// sheets and boards the value does not arise; while the family is not given it is Unknown.
func buildUpLiquid(f func(l *jobfile.Layer, familyMinMM float64) Value) func(*Context, *Subject) Value {
	return buildUpOf("waterproofing", func(l *jobfile.Layer) Value {
		least, liquid := buildUpFamilyMinMM(l.Family)
		switch {
		case l.Family == "":
			return unknown().note("the family of the waterproofing is not given")
		case !liquid:
			return none()
		}
		return f(l, least)
	})
}

// buildUpNeededMM is the least dry thickness of a liquid-applied waterproofing in mm: the larger of its
// family's figure and the maker's.
//
// Source: DIN 18534-3, the larger certified value governs (secondary).
func buildUpNeededMM(l *jobfile.Layer, familyMinMM float64) Value {
	if l.MakerThicknessMinMM == nil {
		return unknown().note("the maker's least thickness is not given; when it is larger, it governs")
	}
	return number(max(familyMinMM, *l.MakerThicknessMinMM))
}

// buildUpSteam calls f with the waterproofing of a steam room; in other rooms the value does not arise.
func buildUpSteam(f func(*jobfile.Layer) Value) func(*Context, *Subject) Value {
	in := buildUpOf("waterproofing", f)
	return func(c *Context, s *Subject) Value {
		if c.Job.Room.Use != "steam_room" {
			return none()
		}
		return in(c, s)
	}
}

// buildUpAirC is the hottest rated air that the face meets, in °C. Walls and the ceiling of a steam room reach
// into the hotter air above; there a missing figure is not made up from the one at seat height.
func buildUpAirC(c *Context, s *Subject) Value {
	cl := c.Job.Climate
	if cl == nil || cl.AirTemperatureC == nil {
		return unknown()
	}
	upper := s.Face.Kind == WallFace || s.Face.Kind == CeilingFace
	switch {
	case !upper:
		return number(*cl.AirTemperatureC)
	case cl.CeilingAirTemperatureC != nil:
		return number(max(*cl.AirTemperatureC, *cl.CeilingAirTemperatureC))
	case c.Job.Room.Use == "steam_room":
		return unknown().note("the air temperature under the ceiling is not given")
	}
	return number(*cl.AirTemperatureC)
}

// buildUpGroutKGM2 stands for the grout in the mass of a tiled finish, in kg/m². The job format holds no mass of grout.
//
// Source: common practice; the figure of 60 kg/m² in BS 5385-1:2018 includes adhesive and grout (read).
const buildUpGroutKGM2 = 0.5

// buildUpFinishMass adds up what hangs on the waterproofing, in kg/m².
func buildUpFinishMass(c *Context, s *Subject) Value {
	tile, state := buildUpLayer(s.Face, "tile")
	plaster, _ := buildUpLayer(s.Face, "lime_plaster")
	bed, _ := buildUpLayer(s.Face, "tile_bed")
	switch {
	case state == Unknown:
		return unknown()
	case tile == nil && plaster == nil:
		return none()
	case tile != nil && bed == nil:
		return unknown().note("the tile bed is not given")
	}
	sum := 0.0
	for _, l := range []*jobfile.Layer{bed, tile, plaster} {
		switch {
		case l == nil:
		case l.MassKGM2 == nil:
			return unknown().note("the mass of the layer " + Words(l.Layer) + " is not given")
		default:
			sum += *l.MassKGM2
		}
	}
	if tile == nil {
		return number(sum)
	}
	return c.note(number(sum+buildUpGroutKGM2), buildUpGroutNote)
}

var buildUpGroutNote = fmt.Sprintf("with %s kg/m² for the grout", FormatNumber(buildUpGroutKGM2))

// buildUpFiller takes away what stands between the parts of a printed class.
var buildUpFiller = strings.NewReplacer(" ", "", "-", "", ",", "", ".", "", "/", "", "\u00a0", "")

// buildUpClass writes a printed class without spaces and stops, in capitals.
func buildUpClass(printed string) string {
	return strings.ToUpper(buildUpFiller.Replace(printed))
}

func buildUpUnreadable(what, printed string) Value {
	return unknown().note(fmt.Sprintf("the %s class %q cannot be read", what, printed))
}

// Source: EN 12004-1 designation of adhesives (secondary): type C cement, D dispersion, R reaction resin; 1 normal, 2 improved; F fast,
// T reduced slip, E extended open time; S1, S2 deformable. The P of plywood is from memory.
var buildUpAdhesiveClass = regexp.MustCompile(`^([CDR][12])((?:[FTEL]|S[12]|P[12])*)$`)

// buildUpRead is a printed class as read; the same class stands on many faces.
type buildUpRead struct {
	form    *regexp.Regexp
	printed string
	parts   []string // as the form has them, nil when it cannot be read
}

func (c *Context) buildUpRead(form *regexp.Regexp, printed string) []string {
	for i := range c.classes {
		if r := &c.classes[i]; r.form == form && r.printed == printed {
			return r.parts
		}
	}
	parts := form.FindStringSubmatch(buildUpClass(printed))
	if len(c.classes) < 16 { // a job of many classes is read as it comes
		c.classes = append(c.classes, buildUpRead{form, printed, parts})
	}
	return parts
}

// buildUpAdhesive reads the printed class of a tile adhesive, such as C2TE S1.
func buildUpAdhesive(c *Context, printed string) (class string, deformable, ok bool) {
	m := c.buildUpRead(buildUpAdhesiveClass, printed)
	if m == nil {
		return "", false, false
	}
	return m[1], strings.Contains(m[2], "S"), true
}

// buildUpBed calls f with the class of the tile adhesive.
func buildUpBed(f func(class string, deformable bool) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		l, state := buildUpLayer(s.Face, "tile_bed")
		switch {
		case state != Known:
			return Value{State: state}
		case l.Class == "":
			return unknown()
		}
		class, deformable, ok := buildUpAdhesive(c, l.Class)
		if !ok {
			return buildUpUnreadable("adhesive", l.Class)
		}
		return f(class, deformable)
	}
}

// Source: EN 13888 designation of grouts (memory): CG1, CG2, RG; F fast, W reduced water absorption, A abrasion resistance.
var buildUpGroutClass = regexp.MustCompile(`^(CG1|CG2|RG)[FWA]*$`)

// Source: EN 15651-3 classes of sanitary sealants S and XS, 1 to 3 (secondary).
var buildUpSealantClass = regexp.MustCompile(`^(XS|S)[1-3]?$`)

// buildUpPrinted gives the main class of a printed class, Unknown with a note when it cannot be read.
func buildUpPrinted(c *Context, what, printed string, form *regexp.Regexp) Value {
	if printed == "" {
		return unknown()
	}
	m := c.buildUpRead(form, printed)
	if m == nil {
		return buildUpUnreadable(what, printed)
	}
	return text(m[1])
}

// buildUpTileJoints calls f with the joints of a tiled face; on other faces the value does not arise.
func buildUpTileJoints(f func(*Context, *jobfile.Joints) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		_, state := buildUpLayer(s.Face, "tile")
		switch {
		case state != Known:
			return Value{State: state}
		case s.Face.Joints == nil:
			return unknown()
		}
		return f(c, s.Face.Joints)
	}
}

// buildUpJointNeeded is the least width of the joints between tiles of a size, in mm.
//
// Source: BS 5385-1:2018 (read): 2 mm for tiles under 0.1 m² with sides up to 600 mm, 3 mm for 0.1 to 1 m² with sides up to
// 1200 mm, about 5 mm for 3 m panels. Between 1200 mm and 3 m no figure was found.
func buildUpJointNeeded(l *jobfile.Layer) Value {
	if l.LengthMM == nil || l.WidthMM == nil {
		return unknown().note("the size of the tile is not given")
	}
	side, area := max(*l.LengthMM, *l.WidthMM), *l.LengthMM**l.WidthMM
	switch {
	case side >= 3000:
		return number(5)
	case side > 1200 || area > 1e6:
		return number(3).note("no figure was found between tiles of 1200 mm or 1 m² and panels of 3 m; the lower one is taken")
	case side > 600 || area >= 1e5:
		return number(3)
	}
	return number(2)
}

// buildUpFilm is the least dry film reading of a face, in mm; ok is false without a reading.
func buildUpFilm(c *Context, face string) (mm float64, ok bool) {
	for i := range c.Job.Records {
		if r := &c.Job.Records[i]; r.Record == "film_thickness" && r.Face == face {
			for _, reading := range r.ReadingsMM {
				if !ok || reading < mm {
					mm, ok = reading, true
				}
			}
		}
	}
	return mm, ok
}

// buildUpCovered says whether the finish of a face has been begun, by the recorded times: from then on
// the waterproofing can no longer be tested.
func buildUpCovered(c *Context, s *Subject) bool {
	var g taskGroup
	return c.timetable().of(taskFinish, s, &g).times[1].start != 0
}

// buildUpNames are the names of layers.
func buildUpNames(layers []jobfile.Layer) Value {
	names := make([]string, len(layers))
	for i := range layers {
		names[i] = layers[i].Layer
	}
	return texts(names)
}

// buildUpNeeds names fields of a layer, in the build-up of the face and in that of the job, then the build-ups themselves.
func buildUpNeeds(layer string, fields ...string) []string {
	var out []string
	for _, f := range fields {
		out = append(out, "build_up."+layer+"."+f, "/build_up/"+layer+"/"+f)
	}
	return append(out, "build_up", "/build_up")
}

const buildUpDIN18534 = "DIN 18534-3:2017-07 (secondary)"

var _ = register("face", "a face: a wall, the floor, the ceiling, or the seat or riser of a bench",
	func(c *Context) []Subject {
		out := c.subjects(len(c.Faces))[:0]
		for _, f := range c.Faces {
			out = append(out, Subject{Kind: "face", ID: f.ID, Pointer: f.Pointer, Pos: f.Pos, Face: f})
		}
		return out
	},
	def(Text, "face_kind", "", "what sort of face it is", "", "", []string{"/room"}, func(_ *Context, s *Subject) Value { return text(string(s.Face.Kind)) }).oneOf("wall", "floor", "ceiling", "seat", "riser"),
	given(Text, "room_duty", "", "who uses the room", "/room/duty", func(c *Context, _ *Subject) Value { return text(c.Job.Room.Duty) }).oneOf("private", "commercial"),
	def(Number, "air_temperature_max_c", "°C", "hottest rated air that the face meets", "air temperature at seat height; for walls and the ceiling the larger of that and the one under the ceiling", "",
		[]string{"/climate/ceiling_air_temperature_c", "/climate/air_temperature_c"}, buildUpAirC),

	def(Text, "panel_material", "", "foam of the panel", "", "", []string{"panel.material", "/panel/material"}, func(_ *Context, s *Subject) Value {
		if s.Face.Panel == nil {
			return unknown()
		}
		return text(s.Face.Panel.Material)
	}).oneOf("xps", "eps", "pur", "pir"),
	def(Number, "panel_service_temperature_max_c", "°C", "highest temperature in use that the maker of the panel declares", "", "", []string{"panel.service_temperature_max_c", "/panel/service_temperature_max_c"}, func(_ *Context, s *Subject) Value {
		if s.Face.Panel == nil {
			return unknown()
		}
		return num(s.Face.Panel.ServiceTemperatureMaxC)
	}),

	def(Texts, "layers", "", "layers from the foam to the finish", "names of the layers in order", "", []string{"build_up", "/build_up"}, func(c *Context, s *Subject) Value {
		if s.Face.BuildUp == nil {
			return unknown()
		}
		if common := c.Job.BuildUp; len(common) > 0 && len(s.Face.BuildUp) == len(common) && &s.Face.BuildUp[0] == &common[0] {
			if c.layers.State == None { // of all faces without a build-up of their own
				c.layers = buildUpNames(common)
			}
			return c.layers
		}
		return buildUpNames(s.Face.BuildUp)
	}),
	def(Flag, "mesh_present", "", "whether the foam is covered with fibre mesh", "layer looked up in the build-up", "", []string{"build_up", "/build_up"}, buildUpHas("mesh")),
	def(Flag, "cement_present", "", "whether the mesh is embedded in tile cement", "layer looked up in the build-up", "", []string{"build_up", "/build_up"}, buildUpHas("cement")),
	def(Flag, "waterproofing_present", "", "whether there is waterproofing", "layer looked up in the build-up", "", []string{"build_up", "/build_up"}, buildUpHas("waterproofing")),
	def(Flag, "finish_present", "", "whether there is a finish of tile or lime plaster", "layers looked up in the build-up", "", []string{"build_up", "/build_up"}, buildUpHas("tile", "lime_plaster")),
	def(Flag, "cement_flexible", "", "whether the tile cement on the mesh is flexible", "", "", buildUpNeeds("cement", "flexible"), buildUpOf("cement", func(l *jobfile.Layer) Value { return flag(l.Flexible) })),
	def(Flag, "plaster_polished", "", "whether the lime plaster is polished", "", "", buildUpNeeds("lime_plaster", "polished"), buildUpOf("lime_plaster", func(l *jobfile.Layer) Value { return flag(l.Polished) })),

	def(Text, "waterproofing_family", "", "what the waterproofing is", "", "", buildUpNeeds("waterproofing", "family"), buildUpOf("waterproofing", func(l *jobfile.Layer) Value { return text(l.Family) })).oneOf("dispersion", "cement_slurry", "reaction_resin", "sheet", "board"),
	def(Number, "waterproofing_thickness_mm", "mm", "dry thickness of the waterproofing", "", "", buildUpNeeds("waterproofing", "thickness_mm"), buildUpOf("waterproofing", func(l *jobfile.Layer) Value { return num(l.ThicknessMM) })),
	def(Number, "maker_thickness_min_mm", "mm", "least dry thickness of the waterproofing that its maker asks for", "as given; does not arise where the family's figure is as large, nor for sheets and boards whose maker gives none", "", buildUpNeeds("waterproofing", "maker_thickness_min_mm", "family"), buildUpOf("waterproofing", func(l *jobfile.Layer) Value {
		least, liquid := buildUpFamilyMinMM(l.Family)
		switch given := l.MakerThicknessMinMM; {
		case given == nil && l.Family != "" && !liquid, given != nil && liquid && *given <= least:
			return none()
		}
		return num(l.MakerThicknessMinMM)
	})),
	def(Number, "thickness_with_allowance_mm", "mm", "least dry thickness of the waterproofing with the allowance for scatter on site", "1.25 × the larger of the family's and the maker's least thickness; does not arise for sheets and boards, nor where even the least thickness is not reached", buildUpDIN18534, buildUpNeeds("waterproofing", "maker_thickness_min_mm", "family"), buildUpLiquid(func(l *jobfile.Layer, least float64) Value {
		v := buildUpNeededMM(l, least)
		switch {
		case v.State != Known:
			return v
		case l.ThicknessMM != nil && *l.ThicknessMM < v.Num:
			return none()
		}
		return number(v.Num * (1 + buildUpAllowance))
	})),
	def(Number, "waterproofing_coats", "", "number of coats of waterproofing", "as given; does not arise for sheets and boards", "", buildUpNeeds("waterproofing", "coats", "family"), buildUpLiquid(func(l *jobfile.Layer, _ float64) Value { return num(l.Coats) })),
	def(Flag, "coats_in_two_colours", "", "whether neighbouring coats of a dispersion differ in colour", "as given; does not arise for other families", "", buildUpNeeds("waterproofing", "two_colours", "family"), buildUpLiquid(func(l *jobfile.Layer, _ float64) Value {
		if l.Family != "dispersion" {
			return none()
		}
		return flag(l.TwoColours)
	})),
	def(Flag, "declared_for_steam_rooms", "", "whether the maker declares the waterproofing for steam rooms", "as given; does not arise in other rooms", "", append(buildUpNeeds("waterproofing", "steam_room_declared"), "/room/use"), buildUpSteam(func(l *jobfile.Layer) Value { return flag(l.SteamRoomDeclared) })),
	def(Number, "permeance_perm", "perm", "declared water vapour permeance of the waterproofing", "as given, by ASTM E96 procedure E; does not arise outside steam rooms", "", append(buildUpNeeds("waterproofing", "permeance_perm"), "/room/use"), buildUpSteam(func(l *jobfile.Layer) Value { return num(l.PermeancePerm) })),
	def(Number, "waterproofing_service_temperature_max_c", "°C", "highest temperature in use that the maker of the waterproofing declares", "", "", buildUpNeeds("waterproofing", "service_temperature_max_c"), buildUpOf("waterproofing", func(l *jobfile.Layer) Value { return num(l.ServiceTemperatureMaxC) })),

	def(Number, "finish_mass_kg_m2", "kg/m²", "mass of the finish with its bed", "bed + tile + 0.5 for grout, or the plaster", "what counts: BS 5385-1:2018 (read); mass of grout: common practice", append([]string{"/build_up/tile/mass_kg_m2", "/build_up/tile_bed/mass_kg_m2"}, buildUpNeeds("lime_plaster", "mass_kg_m2")...), buildUpFinishMass),
	def(Text, "adhesive_class", "", "type and strength of the tile adhesive", "read from the printed class: C cement, D dispersion, R reaction resin; 1 normal, 2 improved", "EN 12004-1 (secondary)", buildUpNeeds("tile_bed", "class"), buildUpBed(func(class string, _ bool) Value { return text(class) })).oneOf("C1", "C2", "D1", "D2", "R1", "R2"),
	def(Flag, "adhesive_deformable", "", "whether the cement tile adhesive is deformable", "S1 or S2 in the printed class; does not arise for adhesives of types D and R, which have no such mark", "EN 12004-1 (secondary)", buildUpNeeds("tile_bed", "class"), buildUpBed(func(class string, deformable bool) Value {
		if class[0] != 'C' {
			return none()
		}
		return yes(deformable)
	})),
	def(Number, "bed_coverage_percent", "percent", "share of the tile back that is bedded", "", "", buildUpNeeds("tile_bed", "coverage_percent"), buildUpOf("tile_bed", func(l *jobfile.Layer) Value { return num(l.CoveragePercent) })),
	def(Text, "barefoot_class", "", "slip class of the floor's tile for wet bare feet", "as given; does not arise on other faces", "", append(buildUpNeeds("tile", "barefoot_class"), "/room/floor"), func(_ *Context, s *Subject) Value {
		if s.Face.Kind != FloorFace {
			return none()
		}
		tile, state := buildUpLayer(s.Face, "tile")
		if state != Known {
			plaster, _ := buildUpLayer(s.Face, "lime_plaster")
			if plaster != nil {
				return unknown().note("the floor is plaster, whose slip class the job cannot give")
			}
			return Value{State: state}
		}
		return text(tile.BarefootClass)
	}).oneOf("none", "A", "B", "C"),

	def(Number, "joint_width_mm", "mm", "width of the joints between tiles", "as given; does not arise without tiles", "", []string{"joints.joint_width_mm", "/joints/joint_width_mm"}, buildUpTileJoints(func(_ *Context, j *jobfile.Joints) Value { return num(j.JointWidthMM) })),
	def(Number, "joint_width_needed_mm", "mm", "least width of the joints for the size of the tile", "2 for tiles under 0.1 m² with sides up to 600 mm, 3 for larger ones, 5 from 3 m on", "BS 5385-1:2018 (read)", buildUpNeeds("tile", "length_mm", "width_mm"), buildUpOf("tile", buildUpJointNeeded)),
	def(Number, "movement_joint_spacing_mm", "mm", "largest distance between movement joints", "as given; does not arise without tiles", "", []string{"joints.movement_joint_spacing_mm", "/joints/movement_joint_spacing_mm"}, buildUpTileJoints(func(_ *Context, j *jobfile.Joints) Value { return num(j.MovementJointSpacingMM) })),
	def(Text, "plane_change", "", "what closes corners and edges of the tiles", "as given; does not arise without tiles", "", []string{"joints.perimeter", "/joints/perimeter"}, buildUpTileJoints(func(_ *Context, j *jobfile.Joints) Value { return text(j.Perimeter) })).oneOf("sealant", "grout", "profile", "open"),
	def(Text, "sealant_class", "", "class of the sealant at corners and edges", "read from the printed class; does not arise where something else closes them", "EN 15651-3 (secondary)", []string{"joints.sealant_class", "/joints/sealant_class"}, buildUpTileJoints(func(c *Context, j *jobfile.Joints) Value {
		if j.Perimeter != "" && j.Perimeter != "sealant" {
			return none()
		}
		return buildUpPrinted(c, "sealant", j.SealantClass, buildUpSealantClass)
	})).oneOf("S", "XS"),
	def(Text, "grout_class", "", "class of the grout", "read from the printed class; does not arise without tiles", "EN 13888 (memory)", []string{"joints.grout_class", "/joints/grout_class"}, buildUpTileJoints(func(c *Context, j *jobfile.Joints) Value {
		return buildUpPrinted(c, "grout", j.GroutClass, buildUpGroutClass)
	})).oneOf("CG1", "CG2", "RG"),

	def(Number, "film_needed_mm", "mm", "least dry film of the waterproofing", "the larger of the family's and the maker's least thickness; does not arise for sheets and boards", buildUpDIN18534, buildUpNeeds("waterproofing", "maker_thickness_min_mm", "family"), buildUpLiquid(buildUpNeededMM)),
	def(Number, "film_least_mm", "mm", "least dry film reading of the face", "least of all readings of all records of the face; does not arise without a reading", "", []string{"/records/film_thickness/readings_mm", "/records"}, func(c *Context, s *Subject) Value {
		mm, ok := buildUpFilm(c, s.Face.ID)
		if !ok {
			return none()
		}
		return number(mm)
	}),
	def(Flag, "film_recorded", "", "whether dry film readings of the face are recorded", "no, when the finish was begun without one; not known until then; does not arise for sheets and boards", "", append([]string{"/records/film_thickness", "/records"}, buildUpNeeds("waterproofing", "family")...), func(c *Context, s *Subject) Value {
		return buildUpLiquid(func(*jobfile.Layer, float64) Value {
			if _, ok := buildUpFilm(c, s.Face.ID); ok {
				return yes(true)
			}
			if buildUpCovered(c, s) {
				return yes(false)
			}
			return unknown()
		})(c, s)
	}),
).alike(
	"panel_material", "panel_service_temperature_max_c", "layers", "mesh_present", "cement_present", "waterproofing_present", "finish_present", "cement_flexible", "plaster_polished",
	"waterproofing_family", "waterproofing_thickness_mm", "maker_thickness_min_mm", "thickness_with_allowance_mm", "waterproofing_coats", "coats_in_two_colours", "declared_for_steam_rooms", "permeance_perm", "waterproofing_service_temperature_max_c",
	"finish_mass_kg_m2", "adhesive_class", "adhesive_deformable", "bed_coverage_percent",
	"joint_width_mm", "joint_width_needed_mm", "movement_joint_spacing_mm", "plane_change", "sealant_class", "grout_class", "film_needed_mm",
)

// floodRecord returns the flood test that counts: the last one by its times. It is nil without one. sure is false when
// there are several and not all say when.
func floodRecord(c *Context) (r *jobfile.Record, index int, sure bool) {
	n, untimed := 0, 0
	var last time.Time
	for i := range c.Job.Records {
		x := &c.Job.Records[i]
		if x.Record != "flood_test" {
			continue
		}
		n++
		at := floodTime(x)
		if at.IsZero() {
			untimed++
		}
		if r == nil || !at.Before(last) {
			r, index, last = x, i, at
		}
	}
	return r, index, n < 2 || untimed == 0
}

// floodTime is when a flood test ended, else when it began, else when it was noted; zero when the record says nothing.
func floodTime(r *jobfile.Record) time.Time {
	for _, s := range []string{r.Finish, r.Start, r.At} {
		if t, err := time.Parse(time.RFC3339, s); err == nil {
			return t
		}
	}
	return time.Time{}
}

// floodOf calls f with the flood test that counts; without a test the value does not arise.
func floodOf(f func(*jobfile.Record) Value) func(*Context, *Subject) Value {
	return func(c *Context, _ *Subject) Value {
		r, _, sure := floodRecord(c)
		switch {
		case r == nil:
			return none()
		case !sure:
			return unknown().note("there are several flood tests, and not all of them say when")
		}
		return f(r)
	}
}

var _ = register("flood_test", "the flood test of the floor's waterproofing",
	func(c *Context) []Subject {
		floor := c.Face("floor")
		if floor == nil {
			return nil
		}
		s := Subject{Kind: "flood_test", ID: "flood_test", Pointer: floor.Pointer, Pos: floor.Pos, Face: floor}
		if r, i, _ := floodRecord(c); r != nil {
			s.Pointer, s.Pos = recordPointers.at(i), r.Pos
		}
		return []Subject{s}
	},
	def(Flag, "performed", "", "whether a flood test is recorded", "no, when the finish of the floor was begun without one; not known until then", "", []string{"/records/flood_test", "/records"}, func(c *Context, s *Subject) Value {
		switch r, _, _ := floodRecord(c); {
		case r != nil:
			return yes(true)
		case buildUpCovered(c, s):
			return yes(false)
		}
		return unknown()
	}),
	given(Number, "depth_mm", "mm", "depth of the water", "depth_mm", floodOf(func(r *jobfile.Record) Value { return num(r.DepthMM) })),
	def(Number, "held_h", "h", "how long the water stood", "finish − start, as elapsed time", "", []string{"finish", "start"}, floodOf(func(r *jobfile.Record) Value {
		start, err1 := time.Parse(time.RFC3339, r.Start)
		finish, err2 := time.Parse(time.RFC3339, r.Finish)
		if err1 != nil || err2 != nil {
			return unknown()
		}
		return number(finish.Sub(start).Hours())
	})),
	def(Number, "leak_loss_mm", "mm", "fall of the level by leaking", "level loss − evaporation in a control pan", "level difference less control pan (computed)", []string{"level_loss_mm", "evaporation_mm"}, floodOf(func(r *jobfile.Record) Value {
		if r.LevelLossMM == nil || r.EvaporationMM == nil {
			return unknown()
		}
		return number(*r.LevelLossMM - *r.EvaporationMM)
	})),
)
