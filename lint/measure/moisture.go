package measure

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wetrule/lint/calc/moisture"
	"wetrule/lint/jobfile"
)

// moistureFinishWMK is the conductivity of a finish in W/mK. Vapour passes it through its joints; what lies in front of the waterproofing is taken as wet
// through.
//
// Source: ISO 10456 (memory): tile 1.3, mortar and thin bed 1.0; plaster 1.0.
func moistureFinishWMK(layer string) (wmk float64, finish bool) {
	switch layer {
	case "tile":
		return 1.3, true
	case "tile_bed", "lime_plaster":
		return 1, true
	}
	return 0, false
}

const (
	moistureCementMaterial = "cement_mortar"
	moistureGapRseBlock    = 0.08 // m²K/W towards a ventilated gap, DIN 4108-3 (memory)
)

var moistureDays = [12]float64{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}

var moistureMonths = [12]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}

// moistureWall is the section through one wall from the warm face of its waterproofing, or of its panel without one, to what is behind.
type moistureWall struct {
	c         *Context
	section   moisture.Section // R_si holds the finish
	finishR   float64
	membrane  bool // the first layer is the waterproofing
	gap       bool // the section ends at a ventilated gap
	notes     []string
	materials []string // design values that were taken
	layers    told

	wall *jobfile.Wall // what it is made of, for walls that are alike
	face *Face
	heat bool  // without the permeance of the waterproofing, if need be
	err  error // why there is no section

	taken  string // all that is taken
	worded bool   // taken is written
}

// moistureLack is a fact that the job does not give.
type moistureLack string

func (l moistureLack) Error() string { return string(l) }

// moistureUnknown is a value that cannot be worked out, with the reason.
func moistureUnknown(err error) Value { return unknown().note(err.Error()) }

func moistureOf(s *Subject, c *Context) *jobfile.Wall { return &c.Job.Room.Walls[s.Face.Wall] }

// moistureSection returns the section of a wall. Walls that are alike share it, so it must not be changed.
func moistureSection(c *Context, s *Subject) (*moistureWall, error) {
	return c.moistureSection(s.Face, false)
}

// moistureSection looks a section up, or makes it. One for heat alone may lack the permeance of the waterproofing.
func (c *Context) moistureSection(f *Face, heat bool) (*moistureWall, error) {
	wall := &c.Job.Room.Walls[f.Wall]
	for _, w := range c.sections {
		if w.heat == heat && w.isOf(wall, f) {
			return w, w.err
		}
	}
	w := moistureMade(c, wall, f, heat)
	c.sections = append(c.sections, w)
	return w, w.err
}

// isOf says whether a wall is made as this one, by the same facts of the job or equal ones.
func (w *moistureWall) isOf(wall *jobfile.Wall, f *Face) bool {
	if w.wall == wall && w.face == f {
		return true
	}
	a, b := w.face.BuildUp, f.BuildUp
	if wall.Behind != w.wall.Behind || f.Panel != w.face.Panel || len(a) != len(b) || (a == nil) != (b == nil) || len(a) > 0 && &a[0] != &b[0] ||
		(wall.Host == nil) != (w.wall.Host == nil) {
		return false
	}
	return slices.EqualFunc(wall.Host, w.wall.Host, func(l, m jobfile.HostLayer) bool {
		return l.Material == m.Material && sameNumber(l.ThicknessMM, m.ThicknessMM) && sameNumber(l.ConductivityWMK, m.ConductivityWMK) && sameNumber(l.Mu, m.Mu)
	})
}

// sameNumber says whether two facts are the same number, or both not given.
func sameNumber(a, b *float64) bool { return a == b || a != nil && b != nil && *a == *b }

// moistureMade puts the layers of a wall together.
func moistureMade(c *Context, wall *jobfile.Wall, f *Face, heat bool) *moistureWall {
	w := &moistureWall{c: c, section: moisture.Section{RsiM2KW: moisture.InsideSurface}, wall: wall, face: f, heat: heat}
	w.err = w.fill()
	return w
}

func (w *moistureWall) fill() error {
	wall, f := w.wall, w.face
	switch wall.Behind {
	case "", "unknown":
		return moistureLack("it is not said what is behind the wall")
	case "outside":
		w.section.RseM2KW = moisture.OutsideSurface
	case "masonry":
		w.section.RseM2KW = moisture.OutsideSurface
		w.notes = append(w.notes, "what lies beyond the masonry is not said; it is taken as outside air with R_se 0.04 m²K/W")
	case "ground":
	default:
		w.section.RseM2KW = moisture.InsideSurface
	}
	if f.BuildUp == nil {
		return moistureLack("the build-up is not given")
	}
	w.section.Layers = make([]moisture.Layer, 0, len(f.BuildUp)+1+len(wall.Host))
	if err := w.buildUp(f.BuildUp); err != nil {
		return err
	}
	if err := w.panel(f.Panel); err != nil {
		return err
	}
	if wall.Host == nil {
		return moistureLack("the layers behind the panel are not given")
	}
	for i := range wall.Host {
		if w.gap {
			break
		}
		if err := w.host(&wall.Host[i]); err != nil {
			return err
		}
	}
	return nil
}

// buildUp adds the layers between the air and the panel.
func (w *moistureWall) buildUp(layers []jobfile.Layer) error {
	// Of the layers in front of the waterproofing heat alone counts, without one that holds for all.
	inFront := 0
	for i := range layers {
		if layers[i].Layer == "waterproofing" {
			inFront = i + 1
			break
		}
	}
	for i := len(layers) - 1; i >= 0; i-- {
		l := &layers[i]
		conductivity, finish := moistureFinishWMK(l.Layer)
		switch {
		case l.Layer == "waterproofing" && i == inFront-1:
			film, err := moistureMembrane(l)
			if w.heat && l.PermeancePerm == nil {
				film, err = moisture.Film("waterproofing", moisture.VapourTightSdM), nil
			}
			if err != nil {
				return err
			}
			w.section.Layers, w.membrane = append(w.section.Layers, film), true
		case !finish && l.Layer != "cement":
		case l.ThicknessMM == nil:
			w.notes = append(w.notes, "the "+Words(l.Layer)+" without a thickness is left out")
		case finish || i >= inFront:
			if !finish {
				conductivity = 1
			}
			w.finishR += *l.ThicknessMM / 1000 / conductivity
		default:
			m, _ := moisture.MaterialNamed(moistureCementMaterial)
			layer, err := moisture.Homogeneous("cement", *l.ThicknessMM, m.LambdaWMK, m.MuLow)
			if err != nil {
				return err
			}
			w.section.Layers = append(w.section.Layers, layer)
		}
	}
	w.section.RsiM2KW += w.finishR
	return nil
}

// moistureMembrane is the waterproofing as a film.
func moistureMembrane(l *jobfile.Layer) (moisture.Layer, error) {
	switch {
	case l.PermeancePerm == nil:
		return moisture.Layer{}, moistureLack("the permeance of the waterproofing is not given")
	case *l.PermeancePerm <= 1e-6: // 0 is a metal foil
		return moisture.Film("waterproofing", moisture.VapourTightSdM), nil
	}
	sd, err := moisture.SdOfPerm(*l.PermeancePerm)
	if err != nil {
		return moisture.Layer{}, err
	}
	return moisture.Film("waterproofing", min(sd, moisture.VapourTightSdM)), nil
}

func (w *moistureWall) panel(p *jobfile.Panel) error {
	switch {
	case p == nil || p.ThicknessMM == nil:
		return moistureLack("the thickness of the panel is not given")
	case p.Material == "" && (p.ConductivityWMK == nil || p.Mu == nil):
		return moistureLack("the foam of the panel is not given")
	}
	m, _ := moisture.MaterialNamed(p.Material)
	lambda, mu := m.LambdaWMK, m.MuLow
	if p.ConductivityWMK != nil {
		lambda = *p.ConductivityWMK
	}
	if p.Mu != nil {
		mu = *p.Mu
	}
	if p.ConductivityWMK == nil || p.Mu == nil {
		w.materials = append(w.materials, p.Material+" "+FormatNumber(lambda)+" W/mK and μ "+FormatNumber(mu))
	}
	return w.add("panel", *p.ThicknessMM, lambda, mu)
}

func (w *moistureWall) add(name string, thicknessMM, lambda, mu float64) error {
	l, err := moisture.Homogeneous(name, thicknessMM, lambda, mu)
	if err != nil {
		return err
	}
	w.section.Layers = append(w.section.Layers, l)
	return nil
}

// host adds one layer behind the panel.
func (w *moistureWall) host(l *jobfile.HostLayer) error {
	switch l.Material {
	case "air_gap":
		w.section.Layers = append(w.section.Layers, moisture.AirLayer("air gap"))
		return nil
	case "ventilated_gap":
		w.gap, w.section.RseM2KW = true, moisture.InsideSurface
		w.notes = append(w.notes, "the air of the ventilated gap is taken as the air behind the wall")
		return nil
	}
	m, listed := moisture.MaterialNamed(l.Material)
	switch {
	case listed && m.SdM > 0:
		w.section.Layers = append(w.section.Layers, moisture.Film(Words(m.Name), m.SdM))
		return nil
	case !listed && (l.ConductivityWMK == nil || l.Mu == nil):
		return moistureLack("a layer behind the panel has neither a material nor its conductivity and vapour factor")
	case l.ThicknessMM == nil:
		return moistureLack("a layer behind the panel has no thickness")
	}
	lambda, mu := m.LambdaWMK, m.MuHigh
	if l.ConductivityWMK != nil {
		lambda = *l.ConductivityWMK
	}
	if l.Mu != nil {
		mu = *l.Mu
	}
	name := "layer"
	if listed {
		name = Words(m.Name)
	}
	if l.ConductivityWMK == nil || l.Mu == nil {
		w.materials = append(w.materials, name+" "+FormatNumber(lambda)+" W/mK and μ "+FormatNumber(mu))
	}
	return w.add(name, *l.ThicknessMM, lambda, mu)
}

// strips cuts the section as ISO 13788 asks and returns the interface at the cold side of the panel.
func (w *moistureWall) strips() (s moisture.Section, behindPanel int, err error) {
	if s, err = w.section.Divided(moisture.StripResistance); err != nil {
		return s, 0, err
	}
	for i := range s.Layers {
		if s.Layers[i].Name == "panel" {
			behindPanel = i + 1
		}
	}
	return s, behindPanel, nil
}

// moistureColdest returns the coldest month of the climate outside.
func moistureColdest(cl *jobfile.Climate) (month int, ok bool) {
	if cl == nil || len(cl.OutsideMonthlyTemperatureC) != 12 {
		return 0, false
	}
	for i, t := range cl.OutsideMonthlyTemperatureC {
		if t < cl.OutsideMonthlyTemperatureC[month] {
			month = i
		}
	}
	return month, true
}

// moistureBehind is the air behind a wall in °C and percent; pc is nil when the humidity is not known.
func moistureBehind(c *Context, wall *jobfile.Wall) (t, pc *float64, note string) {
	t, pc = wall.BehindTemperatureC, wall.BehindRelativeHumidityPercent
	if wall.Behind != "outside" || t != nil && pc != nil {
		return t, pc, ""
	}
	cl := c.Job.Climate
	month, ok := moistureColdest(cl)
	if !ok {
		return t, pc, ""
	}
	if t == nil {
		t, note = &cl.OutsideMonthlyTemperatureC[month], "outside air as in "+moistureMonths[month]
	}
	if pc == nil && len(cl.OutsideMonthlyRelativeHumidityPercent) == 12 {
		pc, note = &cl.OutsideMonthlyRelativeHumidityPercent[month], "outside air as in "+moistureMonths[month]
	}
	return t, pc, note
}

// moistureState is a wall with the room in use. Walls that are alike share it, and the values that follow from it.
type moistureState struct {
	*moistureWall
	cut         moisture.Section
	climate     moisture.Climate
	profile     *moisture.Profile
	behindPanel int
	air         string // what is taken for the air behind it
	t, pc       float64
	err         error  // why there is none of it
	inUse       string // all that is taken, the room in use too
	told        told
	values      []Value // by measure
	have        []bool  // which of them are worked out
}

// moistureMeasures counts the measures of a wall in use.
var moistureMeasures int

// moistureInUse works with a wall with the room in use and the air behind it as in the coldest month.
func moistureInUse(f func(*moistureState) Value) func(*Context, *Subject) Value {
	n := moistureMeasures
	moistureMeasures++
	return func(c *Context, s *Subject) Value {
		if c.walls == nil {
			c.walls = make([]*moistureState, len(c.Faces))
		}
		st := c.walls[s.Face.number]
		if st == nil {
			st = c.moistureState(s)
			c.walls[s.Face.number] = st
		}
		if st.err != nil {
			return moistureUnknown(st.err)
		}
		if st.have[n] {
			return st.values[n]
		}
		v := f(st)
		if v.State == Known {
			v = st.remark(v)
		}
		st.values[n], st.have[n] = v, true
		return v
	}
}

// moistureState looks the state of a wall up, or works it out.
func (c *Context) moistureState(s *Subject) *moistureState {
	w, err := c.moistureSection(s.Face, false)
	if err != nil {
		return &moistureState{err: err}
	}
	cl := c.Job.Climate
	t, pc, note := moistureBehind(c, moistureOf(s, c))
	switch {
	case t == nil:
		return &moistureState{err: moistureLack("the temperature behind the wall is not given")}
	case pc == nil:
		return &moistureState{err: moistureLack("the humidity behind the wall is not given")}
	case cl == nil || cl.AirTemperatureC == nil || cl.RelativeHumidityPercent == nil:
		return &moistureState{err: moistureLack("the rated climate of the room is not given")}
	}
	for _, st := range c.walls {
		if st != nil && st.moistureWall == w && st.t == *t && st.pc == *pc && st.air == note {
			return st
		}
	}
	st := &moistureState{moistureWall: w, t: *t, pc: *pc, air: note, values: make([]Value, moistureMeasures), have: make([]bool, moistureMeasures)}
	st.err = st.workOut(c)
	return st
}

func (st *moistureState) workOut(c *Context) (err error) {
	cl := c.Job.Climate
	if st.climate, err = moisture.ClimateOf(*cl.AirTemperatureC, *cl.RelativeHumidityPercent, st.t, st.pc); err != nil {
		return err
	}
	if st.cut, st.behindPanel, err = st.strips(); err != nil {
		return err
	}
	if st.profile, err = st.cut.Profile(st.climate); err != nil {
		return err
	}
	var more []string
	if st.air != "" {
		more = append(more, st.air)
	}
	if c.Job.Room.Use == "steam_room" {
		more = append(more, "steady state, as if the room were in use without end; steam rooms lie outside the scope of ISO 13788")
	}
	st.inUse = st.assumptions(more...)
	return nil
}

// remark puts the assumptions of a wall in use beside a value.
func (st *moistureState) remark(v Value) Value { return moistureRemark(st.c, v, st.inUse) }

// remark puts the assumptions of the wall beside a value.
func (w *moistureWall) remark(v Value) Value {
	if !w.worded {
		w.taken, w.worded = w.assumptions(), true
	}
	return moistureRemark(w.c, v, w.taken)
}

// assumptions are what is taken for a wall, with more of it behind what the section takes.
func (w *moistureWall) assumptions(more ...string) string {
	all := slices.Concat(w.notes, more)
	if len(w.materials) > 0 {
		all = append(all, "design values: "+strings.Join(w.materials, ", "))
	}
	return strings.Join(all, "; ")
}

// moistureRemark puts assumptions after the remark that a value has.
func moistureRemark(c *Context, v Value, assumed string) Value {
	if assumed == "" {
		return v
	}
	return c.note(v, joined(v.Note(), assumed))
}

// lines writes the section, one line a layer.
func (w *moistureWall) lines() []string { return w.layers.by(w.write) }

func (w *moistureWall) write() []string {
	r := w.section.RsiM2KW + w.section.RseM2KW
	out := make([]string, 0, len(w.section.Layers)+2)
	out = append(out, said("R_si %.2f and finish %.3f m²K/W", moisture.InsideSurface, w.finishR))
	for _, l := range w.section.Layers {
		r += l.ResistanceM2KW
		out = append(out, said("%s: R = %.3f m²K/W, s_d = %.3f m", l.Name, l.ResistanceM2KW, l.SdM))
	}
	return append(out, said("R_se %.2f m²K/W; R_T = %.3f m²K/W (ISO 6946)", w.section.RseM2KW, r))
}

// lines writes the state, one line an interface that matters.
func (s *moistureState) lines() []string { return s.told.by(s.write) }

func (s *moistureState) write() []string {
	p, last := s.profile, len(s.profile.SdM)-1
	out := append(s.moistureWall.lines(), said("room %.1f °C with %.0f Pa, behind %.1f °C with %.0f Pa (p_sat by ISO 13788)", s.climate.InsideC, s.climate.InsidePa, s.climate.OutsideC, s.climate.OutsidePa),
		said("layers cut to R ≤ %.2f m²K/W: %d strips", moisture.StripResistance, last))
	for _, k := range []int{0, s.behindPanel, last} {
		where := "warm face"
		switch k {
		case last:
			where = "cold face"
		case s.behindPanel:
			where = "behind the panel"
		}
		out = append(out, said("%s: θ = %.2f °C, p_sat = %.0f Pa, p = %.0f Pa", where, p.TemperatureC[k], p.SaturationPa[k], p.PressurePa[k]))
	}
	for _, c := range p.Planes {
		out = append(out, said("condensation behind strip %d (%s): %.3f g/(m²·d)", c.Interface, s.cut.Layers[c.Interface-1].Name, moisture.GramsPerDay(c.RateKGM2S)))
	}
	return out
}

// moistureOutside calls f for walls against the outside air; for others the value does not arise.
func moistureOutside(f func(*Context, *Subject) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		switch moistureOf(s, c).Behind {
		case "outside":
			return f(c, s)
		case "", "unknown":
			return moistureUnknown(moistureLack("it is not said what is behind the wall"))
		}
		return none()
	}
}

// moistureHeat works out something of a wall that depends on heat alone. The permeance of the waterproofing and vapour factors do not matter to it.
func moistureHeat(f func(w *moistureWall, r float64) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		w, err := c.moistureSection(s.Face, false)
		if err != nil {
			w, err = c.moistureSection(s.Face, true)
		}
		if err != nil {
			return moistureUnknown(err)
		}
		r, err := w.section.Resistance()
		if err != nil {
			return moistureUnknown(err)
		}
		return w.remark(f(w, r))
	}
}

// moistureBlock works out a wall by the block method, with the room out of use.
func moistureBlock(f func(*moistureWall, *moisture.BlockResult) Value) func(*Context, *Subject) Value {
	return moistureOutside(func(c *Context, s *Subject) Value {
		w, err := moistureSection(c, s)
		if err != nil {
			return moistureUnknown(err)
		}
		block := moisture.BlockWall
		block.RsiM2KW += w.finishR
		if w.gap { // of its own, as the section is another one then
			w = moistureMade(c, moistureOf(s, c), s.Face, false)
			w.section.RseM2KW = moistureGapRseBlock
		}
		r, err := w.section.BlockMethod(block)
		if err != nil {
			return moistureUnknown(err)
		}
		v := f(w, r)
		if v.State != Known {
			return v
		}
		return w.remark(w.c.worked(v, func() []string {
			out := append(w.lines(), "block method: 20 °C with 1168 Pa, −5 °C with 321 Pa for 90 days; R_si 0.25 m²K/W")
			for i, p := range r.Profile.Planes {
				k := p.Interface
				out = append(out, said("condensation behind %s: θ = %.2f °C, p_sat = %.1f Pa, M_c = %.4f kg/m²", w.section.Layers[k-1].Name, r.Profile.TemperatureC[k], r.Profile.SaturationPa[k], r.CondensateKGM2[i]))
			}
			return append(out, said("M_c = %.4f kg/m², M_ev = %.4f kg/m² in 90 days with 1200 Pa on both sides and 1700 Pa at the plane (DIN 4108-3)", r.TotalKGM2, r.EvaporationKGM2))
		}))
	})
}

// moistureYear works out the balance of a year. Steam rooms are in use for hours only and cannot be balanced by months.
func moistureYear(f func(*moisture.Annual) Value) func(*Context, *Subject) Value {
	return moistureOutside(func(c *Context, s *Subject) Value {
		cl := c.Job.Climate
		switch {
		case c.Job.Room.Use == "steam_room":
			return none()
		case cl == nil || cl.AirTemperatureC == nil || cl.RelativeHumidityPercent == nil:
			return moistureUnknown(moistureLack("the rated climate of the room is not given"))
		case len(cl.OutsideMonthlyTemperatureC) != 12 || len(cl.OutsideMonthlyRelativeHumidityPercent) != 12:
			return moistureUnknown(moistureLack("the months outside are not given"))
		}
		w, err := moistureSection(c, s)
		if err != nil {
			return moistureUnknown(err)
		}
		months := make([]moisture.Month, 12)
		for i := range months {
			climate, err := moisture.ClimateOf(*cl.AirTemperatureC, *cl.RelativeHumidityPercent, cl.OutsideMonthlyTemperatureC[i], cl.OutsideMonthlyRelativeHumidityPercent[i])
			if err != nil {
				return moistureUnknown(err)
			}
			months[i] = moisture.Month{Name: moistureMonths[i], Days: moistureDays[i], Climate: climate}
		}
		cut, _, err := w.strips()
		if err != nil {
			return moistureUnknown(err)
		}
		a, err := cut.Balance(months)
		if err != nil {
			return moistureUnknown(err)
		}
		v := f(a)
		if a.PeakMonth != "" {
			v = v.note("wettest at the end of " + a.PeakMonth)
		}
		return w.remark(w.c.worked(v, func() []string {
			out := w.lines()
			for _, m := range a.Months {
				out = append(out, fmt.Sprintf("%s: %+.1f g/m², content %.1f g/m²", m.Name, m.ChangeKGM2*1000, m.StoredKGM2*1000))
			}
			return append(out, "monthly balance with 28 days in February (ISO 13788)")
		}))
	})
}

// moistureSectionNeeds names what a section is made of.
var moistureSectionNeeds = []string{
	"host", "behind", "panel.thickness_mm", "/panel/thickness_mm", "panel.material", "/panel/material", "build_up", "/build_up",
}

func moistureNeeds(more ...string) []string {
	return append(append([]string{"host"}, more...), moistureSectionNeeds[1:]...)
}

var moisturePermNeeds = []string{"build_up.waterproofing.permeance_perm", "/build_up/waterproofing/permeance_perm"}

var moistureInUseNeeds = moistureNeeds(append([]string{"behind_temperature_c", "behind_relative_humidity_percent", "/climate/air_temperature_c", "/climate/relative_humidity_percent"}, moisturePermNeeds...)...)

var moistureYearNeeds = moistureNeeds(append([]string{"/climate/outside_monthly_temperature_c", "/climate/outside_monthly_relative_humidity_percent", "/climate/air_temperature_c", "/climate/relative_humidity_percent"}, moisturePermNeeds...)...)

const (
	moistureISO6946  = "ISO 6946 (read)"
	moistureISO13788 = "ISO 13788:2012 (secondary)"
	moistureDIN4108  = "DIN 4108-3:2014 (read; 1700 Pa from memory)"
	moistureUse      = "taut string under the saturation pressures in strips of R ≤ 0.25 m²K/W, from the warm face of the waterproofing, which is taken as wet"
)

var _ = register("wall_section", "the section through a wall: finish, waterproofing, panel and what is behind",
	func(c *Context) []Subject {
		out := c.subjects(len(c.Job.Room.Walls))[:0]
		for _, f := range c.Faces {
			if f.Kind == WallFace {
				out = append(out, Subject{Kind: "wall_section", ID: f.ID, Pointer: f.Pointer, Pos: f.Pos, Face: f})
			}
		}
		return out
	},
	def(Text, "behind", "", "what is behind the wall", "", "", []string{"behind"}, func(c *Context, s *Subject) Value {
		if b := moistureOf(s, c).Behind; b != "unknown" {
			return text(b)
		}
		return unknown()
	}).oneOf("heated_room", "unheated_room", "outside", "masonry", "ground", "plant_room"),
	def(Number, "panel_thickness_mm", "mm", "thickness of the panel", "", "", []string{"panel.thickness_mm", "/panel/thickness_mm"}, func(c *Context, s *Subject) Value {
		if s.Face.Panel == nil {
			return unknown()
		}
		return num(s.Face.Panel.ThicknessMM)
	}),
	def(Number, "u_value_w_m2k", "W/m²K", "thermal transmittance of the wall", "1 ÷ (R_si + Σ d/λ + R_se)", moistureISO6946, moistureNeeds(), moistureHeat(func(w *moistureWall, r float64) Value {
		return w.c.worked(number(1/r), func() []string {
			return append(w.lines(), said("U = 1/R_T = 1/%.3f = %.3f W/m²K (ISO 6946)", r, 1/r))
		})
	})),
	def(Number, "surface_factor", "", "temperature factor of the inner surface of an outside wall", "1 − 0.25 ÷ R_T with R_si 0.25 m²K/W; does not arise for other walls", "ISO 13788 (read)", moistureNeeds(), moistureOutside(moistureHeat(func(w *moistureWall, r float64) Value {
		r += moisture.MouldSurface - moisture.InsideSurface
		return number(1 - moisture.MouldSurface/r).worked(func() []string {
			return append(w.lines(), said("with R_si 0.25: f_Rsi = 1 − 0.25/%.3f = %.3f (ISO 13788)", r, 1-moisture.MouldSurface/r))
		})
	}))),
	def(Number, "temperature_behind_panel_c", "°C", "temperature at the cold side of the panel with the room at rest at 20 °C", "θ_i − (θ_i − θ_e) × R up to there ÷ R_T, from 20 °C or the rated temperature when that is lower", moistureISO13788,
		moistureNeeds("behind_temperature_c"), func(c *Context, s *Subject) Value {
			t, _, note := moistureBehind(c, moistureOf(s, c))
			if t == nil {
				return moistureUnknown(moistureLack("the temperature behind the wall is not given"))
			}
			room := moisture.BlockWall.Damp.InsideC
			if cl := c.Job.Climate; cl != nil && cl.AirTemperatureC != nil {
				room = min(room, *cl.AirTemperatureC)
			}
			return moistureHeat(func(w *moistureWall, r float64) Value {
				temps, err := w.section.Temperatures(room, *t)
				if err != nil {
					return moistureUnknown(err)
				}
				k := 1 + slices.IndexFunc(w.section.Layers, func(l moisture.Layer) bool { return l.Name == "panel" })
				return c.explained(number(temps[k]), note, func() []string {
					return append(w.lines(), said("room %.1f °C, behind %.1f °C: θ behind the panel = %.2f °C (ISO 13788)", room, *t, temps[k]))
				})
			})(c, s)
		}),
	def(Number, "relative_humidity_behind_panel_percent", "percent", "relative humidity at the cold side of the panel with the room in use", "vapour pressure ÷ saturation pressure there; "+moistureUse+"; does not arise where the back of the panel is open to the air", moistureISO13788, moistureInUseNeeds,
		moistureInUse(func(s *moistureState) Value {
			if s.behindPanel == len(s.cut.Layers) {
				return none()
			}
			return s.c.worked(number(s.profile.HumidityPercent(s.behindPanel)), s.lines)
		})),
	def(Number, "condensate_g_m2_d", "g/(m²·d)", "vapour that condenses inside the wall with the room in use", "sum over all planes of δ0 × (slope before − slope behind); "+moistureUse, moistureISO13788, moistureInUseNeeds,
		moistureInUse(func(s *moistureState) Value {
			return s.c.worked(number(moisture.GramsPerDay(s.profile.CondensateKGM2S())), s.lines)
		})),
	def(Number, "vapour_flow_g_m2_d", "g/(m²·d)", "vapour that enters the wall through the waterproofing with the room in use", "δ0 × (p_i − p at the first plane, or behind) ÷ s_d up to there; "+moistureUse, moistureISO13788, moistureInUseNeeds,
		moistureInUse(func(s *moistureState) Value {
			return s.c.worked(number(moisture.GramsPerDay(s.profile.InKGM2S)), s.lines)
		})),
	def(Number, "waterproofing_sd_m", "m", "vapour resistance s_d of the waterproofing", "2·10⁻¹⁰ ÷ (perm × 5.72135·10⁻¹¹), at most 1500", "ASTM E96 and ISO 13788 (read)", append(slices.Clone(moisturePermNeeds), "build_up", "/build_up"),
		buildUpOf("waterproofing", func(l *jobfile.Layer) Value {
			film, err := moistureMembrane(l)
			if err != nil {
				return moistureUnknown(err)
			}
			v := number(film.SdM).worked(func() []string {
				return []string{said("s_d = 2·10⁻¹⁰/(%s · 5.72135·10⁻¹¹) = %.3f m, at most %.0f m", figure(*l.PermeancePerm), film.SdM, moisture.VapourTightSdM)}
			})
			if film.SdM == moisture.VapourTightSdM {
				return v.note("as tight as a metal foil: taken as 1500 m")
			}
			return v
		})),
	def(Number, "waterproofing_sd_needed_m", "m", "vapour resistance s_d of the waterproofing from which nothing condenses behind it", "largest over all interfaces of s_d,out × (p_i − p_sat) ÷ (p_sat − p_e), less the s_d of the layers between; does not arise without waterproofing, nor where vapour from behind condenses", "ISO 13788, turned round (computed)", moistureInUseNeeds,
		moistureInUse(func(s *moistureState) Value {
			if !s.membrane {
				return none()
			}
			sd, err := s.cut.NeededSdOf(s.profile, 0)
			switch {
			case errors.Is(err, moisture.ErrMembrane):
				return none()
			case err != nil:
				return moistureUnknown(err)
			}
			return s.c.worked(number(sd), func() []string {
				return append(s.lines(), said("s_d needed = max of s_d,out·(%.0f − p_sat)/(p_sat − %.0f) less the layers between = %.3f m", s.profile.PressurePa[0], s.profile.PressurePa[len(s.profile.PressurePa)-1], sd))
			})
		})),
	def(Number, "block_condensate_g_m2", "g/m²", "what condenses in an outside wall in a cold spell with the room out of use", "block method: 20 °C with 50 % and −5 °C with 80 % for 90 days; does not arise for other walls", moistureDIN4108, moistureNeeds(moisturePermNeeds...),
		moistureBlock(func(_ *moistureWall, r *moisture.BlockResult) Value { return number(r.TotalKGM2 * 1000) })),
	def(Number, "block_evaporation_g_m2", "g/m²", "what can dry out of an outside wall in summer with the room out of use", "block method: 1700 Pa at the plane and 1200 Pa on both sides for 90 days; does not arise for other walls, nor where nothing condenses", moistureDIN4108, moistureNeeds(moisturePermNeeds...),
		moistureBlock(func(_ *moistureWall, r *moisture.BlockResult) Value {
			if r.TotalKGM2 == 0 {
				return none()
			}
			return number(r.EvaporationKGM2 * 1000)
		})),
	def(Number, "annual_peak_g_m2", "g/m²", "most condensate in an outside wall over a year", "monthly balance with the rated climate inside; does not arise for other walls, nor in steam rooms, which are in use for hours only", moistureISO13788, moistureYearNeeds,
		moistureYear(func(a *moisture.Annual) Value { return number(a.PeakKGM2 * 1000) })),
	def(Number, "annual_residue_g_m2", "g/m²", "condensate that is left in an outside wall after a year", "monthly balance with the rated climate inside; does not arise for other walls, nor in steam rooms, which are in use for hours only", moistureISO13788, moistureYearNeeds,
		moistureYear(func(a *moisture.Annual) Value { return number(a.ResidueKGM2 * 1000) })),
)
