package measure

import (
	"errors"
	"math"

	"wetrule/lint/calc/pipe"
	"wetrule/lint/calc/steam"
	"wetrule/lint/jobfile"
)

// The line outside the room is worked out with these values; each is named in the note of its results.
const (
	lineAirC          = 25.0  // still air round the line
	lineInsulationWMK = 0.040 // insulation whose conductivity is not given
	lineTouchC        = 51.0  // metal, touched for a minute (ISO 13732-1)
	lineOutOfReachC   = 60.0  // plastics and fibres, touched for a minute (ISO 13732-1)
	lineColdC         = 20.0  // the tube before steam comes
)

// lineConductivity is the conductivity of a tube in W/(m·K).
//
// Source: common tables (read); plastic from memory.
var lineConductivity = map[string]float64{"copper": pipe.CopperConductivity, "stainless_steel": 17, "galvanised_steel": 50, "plastic": 0.3}

// steamLines are the steam outlets with a tube.
func steamLines(c *Context) []Subject {
	all := itemsOf("steam_outlet")(c)
	out := all[:0]
	for _, s := range all {
		if s.Item.Tube != nil {
			s.Kind = "steam_line"
			out = append(out, s)
		}
	}
	return out
}

// lineSize is the size of the tube.
func lineSize(t *jobfile.Tube) (pipe.Size, bool) {
	if t.ODMM == nil || t.WallMM == nil {
		return pipe.Size{}, false
	}
	s := pipe.Size{ODMM: *t.ODMM, WallMM: *t.WallMM}
	return s, s.Check() == nil
}

var lineInsulationNote = "insulation taken as " + FormatNumber(lineInsulationWMK) + " W/mK"

// lineInsulation is the thickness in mm and the conductivity of the insulation, with what was taken for it.
func lineInsulation(t *jobfile.Tube) (mm, wmk float64, note string, ok bool) {
	if t.Insulation == nil || t.Insulation.ThicknessMM == nil {
		return 0, 0, "", false
	}
	mm, wmk = *t.Insulation.ThicknessMM, lineInsulationWMK
	switch given := t.Insulation.ConductivityWMK; {
	case mm == 0:
	case given != nil:
		wmk = *given
	default:
		note = lineInsulationNote
	}
	return mm, wmk, note, true
}

// lineHeat is the heat flow of a metre of the line in still air.
type lineHeat struct {
	flow pipe.HeatFlow
	tube pipe.Cylinder
	note string
	mm   float64
	wmk  float64
	size pipe.Size
	told *told
}

// lineLike is what lines of equal heat flow have in common.
type lineLike struct {
	material string
	size     pipe.Size
	mm, wmk  float64
	note     string
}

type lineHeatFound struct {
	like lineLike
	heat lineHeat
	v    Value
	ok   bool
}

// lineHeats are those that are found. As long as they are few they are looked at one after the other, which is quicker than a map.
type lineHeats struct {
	first []*lineHeatFound
	more  map[lineLike]*lineHeatFound
}

func (l *lineHeats) find(like lineLike) *lineHeatFound {
	for _, f := range l.first {
		if f.like == like {
			return f
		}
	}
	if f := l.more[like]; f != nil {
		return f
	}
	f := &lineHeatFound{like: like}
	f.heat, f.v, f.ok = like.heat()
	switch {
	case len(l.first) < fewest:
		l.first = append(l.first, f)
	case l.more == nil:
		l.more = map[lineLike]*lineHeatFound{like: f}
	default:
		l.more[like] = f
	}
	return f
}

// heatOfLine works it out, once for lines that are alike; with ok false the value says why it can't be.
func heatOfLine(c *Context, t *jobfile.Tube) (h *lineHeat, v Value, ok bool) {
	size, known := lineSize(t)
	mm, wmk, note, insulated := lineInsulation(t)
	if t.Material == "" || !known || !insulated {
		return nil, unknown(), false
	}
	like := lineLike{t.Material, size, mm, wmk, note}
	found := c.lines.find(like)
	return &found.heat, found.v, found.ok
}

var lineAirNote = said("taken: steam %s °C, still air %s °C", figure(steam.TemperatureC), figure(lineAirC))

func (l lineLike) heat() (h lineHeat, v Value, ok bool) {
	mm, wmk := l.mm, l.wmk
	h = lineHeat{tube: pipe.Tube(l.size, lineConductivity[l.material]), mm: mm, wmk: wmk, size: l.size, told: &told{}, note: lineAirNote}
	if l.note != "" {
		h.note += "; " + l.note
	}
	c, out := h.tube, pipe.Outside{AirC: lineAirC, Emissivity: pipe.BareCopperEmissivity}
	if mm > 0 {
		c = c.With(pipe.Layer{ThicknessMM: mm, ConductivityWMK: wmk})
		out.Emissivity = pipe.InsulationEmissivity
	}
	var err error
	if h.flow, err = c.HeatFlow(steam.TemperatureC, out); err != nil {
		return h, unknown().note(heatReason(err)), false
	}
	return h, Value{}, true
}

func (h *lineHeat) steps() []string { return h.told.by(h.write) }

func (h *lineHeat) write() []string {
	outer := h.size.ODMM + 2*h.mm
	first := said("bare tube of %s mm", figure(h.size.ODMM))
	if h.mm > 0 {
		first = said("insulation: R = ln(%s/%s)/(2π·%s) = %.4f m·K/W", figure(outer), figure(h.size.ODMM), figure(h.wmk), h.flow.LayersMKW[len(h.flow.LayersMKW)-1])
	}
	return []string{
		first,
		said("surface: h_se = 1.25·(Δθ/D)^¼ + ε·σ·(T⁴ − T_a⁴)/Δθ = %.3f W/m²K found in %d rounds, R = 1/(h_se·π·D) = %.4f m·K/W", h.flow.FilmWM2K, h.flow.Iterations, h.flow.OuterMKW),
		said("q = (θ_i − θ_a)/ΣR = (%s − %s)/%.4f = %.2f W/m (ISO 12241)", figure(steam.TemperatureC), figure(lineAirC), (steam.TemperatureC-lineAirC)/h.flow.WPerM, h.flow.WPerM),
		said("θ_se = θ_a + q·R = %.2f °C", h.flow.SurfaceC),
	}
}

// ofLine calls f with the tube of a line.
func ofLine(f func(*Context, *Subject, *jobfile.Tube) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value { return f(c, s, s.Item.Tube) }
}

// lineOf is a fact of the tube as given.
func lineOf(f func(*jobfile.Tube) Value) func(*Context, *Subject) Value {
	return func(_ *Context, s *Subject) Value { return f(s.Item.Tube) }
}

// lineTouch is the surface temperature that is allowed.
func lineTouch(t *jobfile.Tube) Value {
	switch {
	case t.Touchable == nil:
		return number(lineTouchC).note("taken as in reach; with tube.touchable: false " + FormatNumber(lineOutOfReachC) + " °C would do")
	case *t.Touchable:
		return number(lineTouchC)
	}
	return number(lineOutOfReachC)
}

// lineNeedLike is what lines that need equal insulation have in common.
type lineNeedLike struct {
	heat       *lineHeat
	touchC, od float64
	given      bool // the conductivity of the insulation
	in         pipe.InFoam
	panel      *jobfile.Panel
}

// lineInsulationNeeded is the thickness that keeps both the surface and the foam cool enough, worked out once for lines that are alike.
func lineInsulationNeeded(c *Context, s *Subject, t *jobfile.Tube) Value {
	h, v, ok := heatOfLine(c, t)
	if !ok {
		return v
	}
	touch, p := lineTouch(t), outletPanel(c, s)
	like := lineNeedLike{heat: h, touchC: touch.Num, od: *t.ODMM, given: t.Insulation.ConductivityWMK != nil, in: tubeInFoam(t), panel: p}
	v, known := c.lineNeeds[like]
	if !known {
		v = lineNeed(h, t, touch, p)
		if c.lineNeeds == nil {
			c.lineNeeds = map[lineNeedLike]Value{}
		}
		c.lineNeeds[like] = v
	}
	return v
}

func lineNeed(h *lineHeat, t *jobfile.Tube, touch Value, p *jobfile.Panel) Value {
	wmk := lineInsulationWMK
	if t.Insulation.ConductivityWMK != nil {
		wmk = *t.Insulation.ConductivityWMK
	}
	surface, err := pipe.InsulationForSurface(h.tube, wmk, steam.TemperatureC, touch.Num, pipe.Outside{AirC: lineAirC, Emissivity: pipe.InsulationEmissivity})
	if err != nil {
		return unknown().note(heatReason(err))
	}
	need, foam := surface, 0.0
	steps := func() []string {
		return []string{said("for a surface of %s °C in still air of %s °C: %.2f mm of %s W/mK (ISO 12241, solved for the thickness)", figure(touch.Num), figure(lineAirC), surface, figure(wmk))}
	}
	note := said("taken: insulation %s W/mK, still air %s °C", figure(wmk), figure(lineAirC))
	switch {
	case p == nil || p.Material == "":
		return unknown().note("the board that the tube goes through is not given")
	case p.Material != "xps" && p.Material != "eps":
	case p.ServiceTemperatureMaxC == nil:
		return unknown().note("the board's temperature limit is not given")
	default:
		in := tubeInFoam(t)
		foam, err = in.InsulationForInterface(*t.ODMM, *p.ServiceTemperatureMaxC)
		if err != nil {
			return unknown().note(heatReason(err))
		}
		need = math.Max(need, foam)
		atSurface, mm := steps, foam
		steps = func() []string {
			return append(atSurface(), said("for foam of %s °C: %.2f mm (ISO 12241, radial)", figure(*p.ServiceTemperatureMaxC), mm))
		}
		note += said(", foam %s W/mK and %s °C at %s mm from the tube's axis", figure(in.FoamWMK), figure(in.FarC), figure(in.FarRadiusMM))
	}
	return number(need).explained(note, func() []string {
		return append(steps(), said("the larger counts: %.2f mm", need))
	})
}

// lineFlowFound is the steam in each line of a generator.
type lineFlowFound struct {
	kgh   float64
	steps func() []string
	v     Value
}

// lineFlow is the steam in one line at full output of its generator, which is shared in equal parts.
func lineFlow(c *Context, s *Subject) *lineFlowFound {
	found, known := c.flows.find(s.Item.Generator)
	if !known {
		found = c.flowOfLines(s.Item.Generator)
		c.flows.put(s.Item.Generator, found)
	}
	return found
}

func (c *Context) flowOfLines(generator string) *lineFlowFound {
	none := func() []string { return nil }
	g := c.items[generator]
	if generator == "" || g == nil || g.Kind != "steam_generator" {
		return &lineFlowFound{0, none, unknown()}
	}
	kgh, v := generatorOutput(g)
	if v.State != Known {
		return &lineFlowFound{0, none, v}
	}
	n := 0
	for i := range c.Job.Items {
		if it := &c.Job.Items[i]; it.Kind == "steam_outlet" && it.Generator == generator {
			n++
		}
	}
	made := v.Steps
	kgh /= float64(n)
	v = number(kgh)
	if n > 1 {
		one := made
		made = func() []string { return append(one(), said("÷ %d lines = %.3f kg/h", n, kgh)) }
	}
	once, write := &told{}, made
	made = func() []string { return once.by(write) }
	if n > 1 {
		v = c.note(v, said("taken: the generator's steam is shared by its %d lines in equal parts", n))
	}
	return &lineFlowFound{kgh, made, c.worked(v, made)}
}

// lineTube is the flow in the tube.
func lineTube(c *Context, s *Subject, t *jobfile.Tube) (f pipe.Flow, steps func() []string, v Value) {
	flow := lineFlow(c, s)
	if flow.v.State != Known {
		return f, nil, flow.v
	}
	size, ok := lineSize(t)
	if !ok {
		return f, nil, unknown()
	}
	return pipe.Flow{KGH: flow.kgh, VolumeM3KG: steam.VolumeM3KG, BoreMM: size.BoreMM()}, flow.steps, flow.v
}

func lineVelocity(c *Context, s *Subject, t *jobfile.Tube) Value {
	f, steps, v := lineTube(c, s, t)
	if v.State != Known {
		return v
	}
	w, err := f.VelocityMS()
	if err != nil {
		return unknown().note(heatReason(err))
	}
	return c.explained(number(w), v.Note(), func() []string {
		return append(steps(), said("w = ṁ·v/(π/4·d²) = %.3f kg/h × %.4f m³/kg ÷ 3600 ÷ %.1f mm² = %.2f m/s", f.KGH, steam.VolumeM3KG, math.Pi/4*f.BoreMM*f.BoreMM, w))
	})
}

// lineBackPressure is what the run puts against the generator.
func lineBackPressure(c *Context, s *Subject, t *jobfile.Tube) Value {
	f, steps, v := lineTube(c, s, t)
	switch {
	case v.State != Known:
		return v
	case t.RunM == nil:
		return unknown()
	}
	zeta, note := pipe.EntryLoss+pipe.OutletLoss, "bends are not given and left out"
	if t.Bends != nil {
		zeta, note = zeta+*t.Bends*pipe.BendLoss, ""
	}
	r, err := f.Friction(steam.ViscosityPaS)
	if err != nil {
		return unknown().note(heatReason(err))
	}
	pa, err := f.BackPressurePa(*t.RunM, zeta, steam.ViscosityPaS)
	if err != nil {
		return unknown().note(heatReason(err))
	}
	return c.explained(number(pa/100), joined(v.Note(), note), func() []string {
		return append(steps(),
			said("w = %.2f m/s, Re = %.0f, f = 0.3164·Re^-¼ = %.4f (Blasius), Δp/L = f·ρ·w²/(2·d) = %.1f Pa/m", r.VelocityMS, r.Reynolds, r.Factor, r.PaPerM),
			said("Δp = %.1f Pa/m × %s m + Σζ·ρ·w²/2 with Σζ = %s: %.0f Pa", r.PaPerM, figure(*t.RunM), figure(zeta), pa))
	})
}

// lineCondensate is the steam that is lost along the run, in kg/h.
func lineCondensate(c *Context, t *jobfile.Tube) (kgh float64, v Value) {
	h, v, ok := heatOfLine(c, t)
	switch {
	case !ok:
		return 0, v
	case t.RunM == nil:
		return 0, unknown()
	}
	kgh, err := pipe.CondensateKGH(h.flow.WPerM, *t.RunM, steam.EvaporationKJKG)
	if err != nil {
		return 0, unknown().note(heatReason(err))
	}
	return kgh, c.explained(number(kgh), h.note, func() []string {
		return append(h.steps(), said("ṁ = q·L·3.6/h_fg = %.2f W/m × %s m × 3.6 ÷ %s kJ/kg = %.3f kg/h", h.flow.WPerM, figure(*t.RunM), figure(steam.EvaporationKJKG), kgh))
	})
}

var lineGrowthNote = said("taken: from %s to %s °C, the whole run in one line", figure(lineColdC), figure(steam.TemperatureC))

// lineGrowth is by how much the run grows. The job format does not say how plastic grows.
func lineGrowth(t *jobfile.Tube) Value {
	alpha := 0.0
	switch t.Material {
	case "copper":
		alpha = pipe.CopperExpansion
	case "stainless_steel":
		alpha = pipe.StainlessExpansion
	case "galvanised_steel":
		alpha = lineSteelExpansion
	case "plastic":
		return none()
	}
	if alpha == 0 || t.RunM == nil {
		return unknown()
	}
	mm, err := pipe.GrowthMM(*t.RunM, alpha, steam.TemperatureC-lineColdC)
	if err != nil {
		return unknown().note(heatReason(err))
	}
	return number(mm).explained(lineGrowthNote, func() []string {
		return []string{said("ΔL = α·L·Δθ = %.1f·10⁻⁶ × %s m × %s K = %.3f mm", alpha*1e6, figure(*t.RunM), figure(steam.TemperatureC-lineColdC), mm)}
	})
}

// lineSteelExpansion is the expansion of carbon steel in 1/K (memory).
const lineSteelExpansion = 12e-6

// lineBend is about bends that are bent from the tube; without any it does not arise.
func lineBend(t *jobfile.Tube, get func() Value) Value {
	if t.Bends != nil && *t.Bends == 0 || t.BendsMade == "fittings" {
		return none()
	}
	return get()
}

const (
	lineSteam   = "steam at 100 °C, IAPWS-IF97 (computed)"
	lineISO     = "ISO 12241, cylinder equation (read), coefficients of convection from memory"
	lineFlowHow = "at full output of the generator, shared by its lines in equal parts"
)

var (
	lineSizeNeeds = []string{"tube.od_mm", "tube.wall_mm"}
	lineHeatNeeds = []string{"tube.insulation.thickness_mm", "tube.od_mm", "tube.wall_mm", "tube.material"}
	lineFlowNeeds = []string{"tube.wall_mm", "tube.od_mm", "generator", "/items/{generator}/power_kw", "/items/{generator}/feed_temperature_c"}
)

var _ = register("steam_line", "the tube from the generator to a steam outlet", steamLines,
	given(Number, "run_m", "m", "length of the run from the generator to the outlet", "tube.run_m", lineOf(func(t *jobfile.Tube) Value { return num(t.RunM) })),
	def(Number, "bore_mm", "mm", "inside diameter of the tube", "outside diameter − 2 × wall", "", lineSizeNeeds, lineOf(func(t *jobfile.Tube) Value {
		s, ok := lineSize(t)
		if !ok {
			return unknown()
		}
		return number(s.BoreMM())
	})),
	def(Number, "tube_mass_kg", "kg", "mass of the copper tube of the run", "π × (outside diameter − wall) × wall × 8.94 kg/dm³ × run; does not arise for other materials", "EN 1057 data (secondary)", []string{"tube.run_m", "tube.od_mm", "tube.wall_mm", "tube.material"}, lineOf(func(t *jobfile.Tube) Value {
		s, ok := lineSize(t)
		switch {
		case t.Material != "" && t.Material != "copper":
			return none()
		case t.Material == "" || !ok || t.RunM == nil:
			return unknown()
		}
		m, err := s.MassKGPerM()
		if err != nil {
			return unknown()
		}
		return number(m * *t.RunM)
	})),
	given(Number, "insulation_thickness_mm", "mm", "wall thickness of the insulation", "tube.insulation.thickness_mm", lineOf(func(t *jobfile.Tube) Value {
		if t.Insulation == nil {
			return unknown()
		}
		return num(t.Insulation.ThicknessMM)
	})),
	def(Number, "heat_loss_w_m", "W/m", "heat that a metre of the line gives to the air", "(100 − air) ÷ resistances of tube, insulation and surface, the surface's found by repetition", lineISO, lineHeatNeeds, ofLine(func(c *Context, _ *Subject, t *jobfile.Tube) Value {
		h, v, ok := heatOfLine(c, t)
		if !ok {
			return v
		}
		return number(h.flow.WPerM).explained(h.note, h.steps)
	})),
	def(Number, "surface_temperature_c", "°C", "temperature of the outside of the line while steam flows", "air + heat loss × resistance of the surface, found by repetition", lineISO, lineHeatNeeds, ofLine(func(c *Context, _ *Subject, t *jobfile.Tube) Value {
		h, v, ok := heatOfLine(c, t)
		if !ok {
			return v
		}
		return c.explained(number(h.flow.SurfaceC), h.note, h.steps)
	})),
	def(Number, "touch_limit_c", "°C", "highest surface temperature that skin stands for a minute", "51 °C in reach, which is that of metal; 60 °C out of reach, which is that of plastics", "ISO 13732-1:2006 (read)", []string{"tube.touchable"}, lineOf(lineTouch)),
	def(Number, "insulation_needed_mm", "mm", "least insulation for a surface that can be touched and for foam that stands it", "the larger of the thickness for the touch limit and, in polystyrene foam, for the board's limit", "ISO 12241, solved for the thickness (computed)", append([]string{"/panel/service_temperature_max_c", "/panel/material", "tube.touchable"}, lineHeatNeeds...), ofLine(lineInsulationNeeded)),
	def(Number, "flow_kg_h", "kg/h", "steam in the line", lineFlowHow, lineSteam, []string{"generator", "/items/{generator}/power_kw", "/items/{generator}/feed_temperature_c"}, func(c *Context, s *Subject) Value {
		return lineFlow(c, s).v
	}),
	def(Number, "velocity_m_s", "m/s", "velocity of the steam in the tube", "flow × volume of steam ÷ area of the bore, "+lineFlowHow, lineSteam, lineFlowNeeds, ofLine(lineVelocity)),
	def(Number, "back_pressure_mbar", "mbar", "pressure that the line puts against the generator", "friction along the run by Blasius, with 0.5 for the entry, 1 for the outlet and 0.3 for each bend, "+lineFlowHow, "Darcy and Weisbach, Blasius (computed)", append([]string{"tube.run_m"}, lineFlowNeeds...), ofLine(lineBackPressure)),
	def(Number, "condensate_kg_h", "kg/h", "steam that turns to water along the run", "heat loss × run ÷ 2256.47 kJ/kg", "ISO 12241 and IAPWS-IF97 (computed)", append([]string{"tube.run_m"}, lineHeatNeeds...), ofLine(func(c *Context, _ *Subject, t *jobfile.Tube) Value {
		_, v := lineCondensate(c, t)
		return v
	})),
	def(Number, "condensate_percent", "percent", "share of the steam in the line that turns to water along the run", "condensate ÷ steam in the line", "ISO 12241 and IAPWS-IF97 (computed)", append([]string{"tube.run_m", "generator", "/items/{generator}/power_kw", "/items/{generator}/feed_temperature_c"}, lineHeatNeeds...), func(c *Context, s *Subject) Value {
		line := lineFlow(c, s)
		kgh, flow := line.kgh, line.v
		water, lost := lineCondensate(c, s.Item.Tube)
		switch {
		case flow.State != Known:
			return flow
		case lost.State != Known:
			return lost
		case kgh <= 0:
			return none()
		}
		return c.explained(number(water/kgh*100), joined(lost.Note(), flow.Note()), func() []string {
			return append(append(line.steps(), lost.Steps()...), said("%.3f kg/h ÷ %.3f kg/h = %.2f %%", water, kgh, water/kgh*100))
		})
	}),
	def(Number, "warm_up_condensate_g", "g", "water that the copper tube of the run makes each time it warms up", "mass × 380 J/kgK × 80 K ÷ 2256.47 kJ/kg; does not arise for other materials", "energy balance (computed)", []string{"tube.run_m", "tube.od_mm", "tube.wall_mm", "tube.material"}, lineOf(func(t *jobfile.Tube) Value {
		s, ok := lineSize(t)
		switch {
		case t.Material != "" && t.Material != "copper":
			return none()
		case t.Material == "" || !ok || t.RunM == nil:
			return unknown()
		}
		m, err := s.MassKGPerM()
		g, err2 := pipe.WarmUpGPerM(m, pipe.CopperHeat, steam.TemperatureC-lineColdC, steam.EvaporationKJKG)
		if err = errors.Join(err, err2); err != nil {
			return unknown().note(heatReason(err))
		}
		return number(g * *t.RunM)
	})),
	def(Number, "expansion_mm", "mm", "growth of the run as it warms up", "coefficient × run × 80 K: 16.6·10⁻⁶ copper, 16.5·10⁻⁶ stainless steel, 12·10⁻⁶ galvanised steel; does not arise for plastic", "EN 1057 data (read), steels from memory", []string{"tube.run_m", "tube.material"}, lineOf(lineGrowth)),
	given(Number, "expansion_room_mm", "mm", "room that the run has to grow", "tube.expansion_room_mm", lineOf(func(t *jobfile.Tube) Value { return num(t.ExpansionRoomMM) })),
	def(Number, "bend_radius_mm", "mm", "smallest radius of a bent tube to its centre line", "as given; does not arise without bends, nor when they are fittings", "", []string{"tube.bend_radius_mm", "tube.bends_made", "tube.bends"}, lineOf(func(t *jobfile.Tube) Value {
		return lineBend(t, func() Value { return num(t.BendRadiusMM) })
	})),
	def(Number, "bend_radius_needed_mm", "mm", "least radius to which copper tube is bent without kinks", "4 × outside diameter up to 18 mm, 3.5 × above; does not arise for other materials, above 35 mm, without bends and when they are fittings", "radii of mechanical benders in copper trade guidance (read), the rule drawn from them (computed)", []string{"tube.od_mm", "tube.material", "tube.bends_made", "tube.bends"}, lineOf(func(t *jobfile.Tube) Value {
		return lineBend(t, func() Value {
			switch {
			case t.Material != "" && t.Material != "copper":
				return none()
			case t.Material == "" || t.ODMM == nil:
				return unknown()
			}
			r, err := pipe.MinBendRadiusMM(*t.ODMM)
			if err != nil {
				return none()
			}
			return number(r)
		})
	})),
	given(Number, "support_spacing_m", "m", "largest distance between two supports of the tube", "tube.support_spacing_m", lineOf(func(t *jobfile.Tube) Value { return num(t.SupportSpacingM) })),
	def(Number, "support_spacing_max_m", "m", "largest distance between supports for the size of the tube", "row of the table for a tube that lies, the next smaller size between two rows; does not arise for plastic and below 12 mm", "water-mist pipework practice to ISO 6182-11 (read; 15 mm from memory)", []string{"tube.od_mm", "tube.material"}, lineOf(func(t *jobfile.Tube) Value {
		switch {
		case t.Material == "plastic":
			return none()
		case t.Material == "" || t.ODMM == nil:
			return unknown()
		}
		m, _, err := pipe.SupportSpacingM(*t.ODMM)
		if err != nil {
			return none()
		}
		return number(m)
	})),
)
