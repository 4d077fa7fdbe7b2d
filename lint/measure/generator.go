package measure

import (
	"errors"
	"slices"
	"strings"

	"wetrule/lint/calc/steam"
	"wetrule/lint/jobfile"
)

// The heat that a room takes is worked out with these values. All of them are named in the note of the results.
const (
	heatStartC         = 20.0 // room, linings and supply air at the start, when the job does not say
	heatStartPercent   = 50.0
	heatAirChanges     = 1.0  // of the room's air in an hour at the least
	heatMinutes        = 30.0 // in which the room is to be warm, when the job does not say
	heatWarmBehindC    = 20.0
	heatUnheatedC      = 10.0
	heatGroundC        = 10.0
	heatOutsideC       = -5.0
	heatSurface        = 0.13 // resistance of a surface in a room, m²·K/W
	heatSurfaceOutside = 0.04
	heatSurfaceGround  = 0.0
	heatEfficiency     = 0.95 // of the generator
)

// heatLayer is what a layer of a build-up is taken to be made of.
//
// Source: ISO 10456 and common tables (tile and mortar read or from memory; waterproofing is an assumption).
var heatLayers = listed(map[string]steam.Layer{
	"cement":        {DensityKGM3: 1800, HeatJKGK: 1000, ConductivityWMK: 1.0},
	"waterproofing": {DensityKGM3: 1400, HeatJKGK: 1000, ConductivityWMK: 1.0},
	"tile_bed":      {DensityKGM3: 1800, HeatJKGK: 1000, ConductivityWMK: 1.0},
	"tile":          {DensityKGM3: 2300, HeatJKGK: 840, ConductivityWMK: 1.3},
	"lime_plaster":  {DensityKGM3: 1800, HeatJKGK: 1000, ConductivityWMK: 1.0},
})

var heatGlass = steam.Layer{DensityKGM3: 2500, HeatJKGK: 750, ConductivityWMK: 1.0}

// heatFoams are the conductivities of boards in W/(m·K).
//
// Source: EN 13164 and common declarations, design values (read for XPS, the others from memory, upper end).
var heatFoams = listed(map[string]float64{"xps": 0.034, "eps": 0.038, "pur": 0.028, "pir": 0.028})

// roomHeat is the heat balance of the room, worked out once.
type roomHeat struct {
	arises  bool   // in steam rooms of more than one wall
	lacks   string // what is missing, in plain words
	balance steam.Balance
	roomC   float64
	airM3   float64
	note    string

	feedC, yield float64 // what was asked for last
	yieldErr     error
	yielded      bool
}

// yieldOf is the steam for each kW with the losses of the generator.
func (h *roomHeat) yieldOf(feedC float64) (float64, error) {
	if !h.yielded || h.feedC != feedC {
		h.yielded, h.feedC = true, feedC
		h.yield, h.yieldErr = steam.YieldKGHPerKW(feedC, heatEfficiency)
	}
	return h.yield, h.yieldErr
}

// heatOfRoom works the balance out.
func (c *Context) heatOfRoom() *roomHeat {
	if c.heat == nil {
		c.heat = &roomHeat{}
		c.heat.fill(c)
	}
	return c.heat
}

func (h *roomHeat) fill(c *Context) {
	job := c.Job
	r := c.roomFigures()
	h.arises = job.Room.Use == "steam_room" && r.arises
	if !h.arises {
		return
	}
	air, lining := r.air(), r.liningTotal(c)
	cl := job.Climate
	for _, lacks := range []string{air.lacks, lining.lacks, r.glass.lacks} {
		if lacks != "" {
			h.lacks = lacks
			return
		}
	}
	if cl == nil || cl.AirTemperatureC == nil || cl.RelativeHumidityPercent == nil {
		h.lacks = "the rated climate is not given"
		return
	}
	h.roomC, h.airM3 = *cl.AirTemperatureC, air.total
	start := heatStartC
	startNote := FormatNumber(heatStartC) + " °C"
	if cl.RestingAirTemperatureC != nil {
		start = *cl.RestingAirTemperatureC
		startNote = FormatNumber(start) + " °C as given"
	}
	var errs [3]error
	room := steam.Room{VolumeM3: air.total, AirM3H: air.total * heatAirChanges}
	airNote := said("air changed %s time an hour through gaps", figure(heatAirChanges))
	if b, v := airflowBalance(c); v.State == Known && b.RenewedM3H > room.AirM3H {
		room.AirM3H = b.RenewedM3H
		airNote = said("the fans run with %s m³/h while people bathe", figure(b.RenewedM3H))
	} else if v.State != Known {
		airNote = said("air changed %s time an hour, as the air flow of the fans is not given", figure(heatAirChanges))
	}
	room.Start, errs[0] = steam.StateAt(start, heatStartPercent)
	room.End, errs[1] = steam.StateAt(h.roomC, *cl.RelativeHumidityPercent)
	room.Supply, errs[2] = steam.StateAt(heatStartC, heatStartPercent)
	if err := errors.Join(errs[:]...); err != nil {
		h.lacks = heatReason(err)
		return
	}
	assumed := map[string]bool{} // of the cold things, those whose temperature is taken
	room.Parts = make([]steam.Part, 0, len(c.Faces)+len(r.panes))
	for i, f := range c.Faces {
		side, lacks := heatBehind(c, f)
		if lacks == "" {
			var p steam.Part
			p, lacks = heatPart(f, side, r.lining[i].total, h.roomC-start)
			room.Parts = append(room.Parts, p)
		}
		if side.assumed {
			assumed[side.cold] = true
		}
		if lacks != "" {
			h.lacks = lacks
			return
		}
	}
	for _, g := range r.panes {
		if g.thicknessMM == nil {
			h.lacks = "the thickness of the glass of " + g.id + " is not given"
			return
		}
		side, lacks := heatBehind(c, c.Face(g.face))
		if lacks != "" {
			h.lacks = lacks
			return
		}
		p, err := heatPane(g, side, h.roomC, start)
		if err != nil {
			h.lacks = heatReason(err)
			return
		}
		room.Parts = append(room.Parts, p)
	}
	balance, err := room.Balance()
	if err != nil {
		h.lacks = heatReason(err)
		return
	}
	h.balance = balance
	parts := []string{said("taken: start at %s and %s %%, supply air %s °C and %s %%", startNote, figure(heatStartPercent), figure(heatStartC), figure(heatStartPercent)), airNote}
	for _, x := range []struct {
		cold  string
		c     float64
		words string
	}{{"", heatWarmBehindC, "behind floor, ceiling, benches and warm walls that do not say otherwise"}, {"outside", heatOutsideC, "outside"}, {"ground", heatGroundC, "in the ground"}, {"unheated_room", heatUnheatedC, "in the unheated room"}} {
		if assumed[x.cold] {
			parts = append(parts, FormatNumber(x.c)+" °C "+x.words)
		}
	}
	for _, n := range []string{r.glassNote(), r.slope} {
		if n != "" {
			parts = append(parts, n)
		}
	}
	h.note = strings.Join(parts, "; ")
}

// heatReason puts an error of the calculation in one line.
func heatReason(err error) string {
	return "outside what can be reckoned: " + strings.ReplaceAll(err.Error(), "\n", "; ")
}

// heatSide is what is on the other side of a face.
type heatSide struct {
	cold    string  // what cold thing it is, "" for a warm one
	c       float64 // its temperature, °C
	rse     float64 // resistance of the surface there, m²·K/W
	assumed bool    // the temperature is taken, not given
}

// heatBehind says what is on the other side of a face.
func heatBehind(c *Context, f *Face) (side heatSide, lacks string) {
	side = heatSide{c: heatWarmBehindC, rse: heatSurface, assumed: true}
	if f == nil || f.Kind != WallFace {
		return side, ""
	}
	behind, cold := behindCold(f, c.Job.Room.Walls)
	if behind == "" || behind == "unknown" {
		return side, "it is not known what is behind the wall " + f.ID
	}
	if cold {
		side.cold = behind
	}
	switch behind {
	case "outside":
		side.c, side.rse = heatOutsideC, heatSurfaceOutside
		if cl := c.Job.Climate; cl != nil && len(cl.OutsideMonthlyTemperatureC) > 0 {
			side.c, side.assumed = slices.Min(cl.OutsideMonthlyTemperatureC), false
		}
	case "ground":
		side.c, side.rse = heatGroundC, heatSurfaceGround
	case "unheated_room":
		side.c = heatUnheatedC
	}
	if t := c.Job.Room.Walls[f.Wall].BehindTemperatureC; t != nil {
		side.c, side.assumed = *t, false
	}
	return side, ""
}

// heatPart is one lined face.
func heatPart(f *Face, side heatSide, areaM2, riseK float64) (p steam.Part, lacks string) {
	if f.BuildUp == nil {
		return p, "the build-up of " + f.ID + " is not given"
	}
	foam := 0.0
	if f.Panel != nil && f.Panel.ThicknessMM != nil {
		foam, _ = heatFoams.find(f.Panel.Material)
	}
	if foam == 0 {
		return p, "material or thickness of the board of " + f.ID + " is not given"
	}
	p = steam.Part{Sort: steam.Lining, AreaM2: areaM2, RiseK: max(0, riseK)}
	var few [8]steam.Layer
	layers := few[:0]
	for i := range f.BuildUp {
		l := &f.BuildUp[i]
		if l.Layer == "mesh" {
			continue
		}
		made, ok := heatLayers.find(l.Layer)
		switch {
		case !ok:
			return p, "it is not known what the layer " + Words(l.Layer) + " of " + f.ID + " stores"
		case l.ThicknessMM != nil:
			made.ThicknessMM = *l.ThicknessMM
			if l.MassKGM2 != nil {
				made.DensityKGM3 = *l.MassKGM2 / *l.ThicknessMM * 1000
			}
		case l.MassKGM2 != nil:
			made.ThicknessMM = *l.MassKGM2 / made.DensityKGM3 * 1000
		default:
			return p, "thickness and mass of the layer " + Words(l.Layer) + " of " + f.ID + " are not given"
		}
		layers = append(layers, made)
	}
	var err error
	if p.StoreJM2K, err = steam.StoreJM2K(layers...); err != nil {
		return p, heatReason(err)
	}
	if p.BehindC = side.c; side.cold != "" {
		p.Sort = steam.Outside
	}
	if p.UWM2K, err = steam.Transmittance(heatSurface, side.rse, append(layers, steam.Layer{ThicknessMM: *f.Panel.ThicknessMM, ConductivityWMK: foam})...); err != nil {
		return p, heatReason(err)
	}
	return p, ""
}

// heatPane is one pane of glass. It is taken to warm up as far as its inner side, a little more than it does.
func heatPane(g glazing, side heatSide, roomC, startC float64) (steam.Part, error) {
	layer := heatGlass
	layer.ThicknessMM = *g.thicknessMM
	u, err := steam.Transmittance(heatSurface, side.rse, layer)
	if err != nil {
		return steam.Part{}, err
	}
	store, err := steam.StoreJM2K(layer)
	inner := roomC - heatSurface*u*(roomC-side.c)
	return steam.Part{Sort: steam.Glass, AreaM2: g.areaM2, StoreJM2K: store, RiseK: max(0, inner-startC), UWM2K: u, BehindC: side.c}, err
}

// plantHeat gives a measure of the room's heat; without a steam room it does not arise.
func plantHeat(get func(*Context, *Subject, *roomHeat) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		h := c.heatOfRoom()
		switch {
		case !h.arises:
			return none()
		case h.lacks != "":
			return unknown().note(h.lacks)
		}
		return get(c, s, h)
	}
}

// heatTerm is one term of the balance.
func heatTerm(get func(steam.Balance) float64) func(*Context, *Subject) Value {
	return plantHeat(func(_ *Context, _ *Subject, h *roomHeat) Value {
		return number(get(h.balance)).note("with what is taken for heat_up_power_kw")
	})
}

// plantMinutes is the time in which the room is to be warm.
func plantMinutes(c *Context) (minutes float64, note string) {
	if m := c.Job.Room.HeatUpMinutes; m != nil {
		return *m, ""
	}
	return heatMinutes, "taken: warm in " + FormatNumber(heatMinutes) + " min (give room.heat_up_minutes)"
}

// plantPower is the power of all generators in kW.
func plantPower(c *Context) sum {
	var s sum
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		if it.Kind != "steam_generator" {
			continue
		}
		if it.PowerKW == nil {
			s.lack("the power of " + it.ID + " is not given")
			continue
		}
		s.add(*it.PowerKW)
	}
	return s
}

// plantLoad is the electrical power for a load of the room, or its steam. stored says that stored heat is part of it.
func plantLoad(load func(*Context, steam.Balance) (steam.Load, string, error), power, stored bool) func(*Context, *Subject) Value {
	return plantHeat(func(c *Context, s *Subject, h *roomHeat) Value {
		l, note, err := load(c, h.balance)
		if err != nil {
			return unknown().note(heatReason(err))
		}
		if !power {
			return noted(number(l.KGH), note, h.note)
		}
		feed := s.Item.FeedTemperatureC
		if feed == nil {
			return unknown()
		}
		y, err := h.yieldOf(*feed)
		if err != nil {
			return unknown().note(heatReason(err))
		}
		kw := l.KGH / y
		return c.explained(number(kw), joined(note, "efficiency of the generator taken as "+FormatNumber(heatEfficiency), h.note), func() []string {
			b := h.balance
			steps := []string{
				said("stored heat: air %.0f + linings %.0f + linings of cold walls %.0f + glass %.0f = %.0f kJ (Σ A·Σ(d·ρ·c)·Δθ)", b.AirKJ, b.StoreKJ[steam.Lining], b.StoreKJ[steam.Outside], b.StoreKJ[steam.Glass], b.Stored()),
				said("losses once warm: linings %.0f + cold walls %.0f + glass %.0f + ventilation %.0f = %.0f W (Σ U·A·Δθ, ISO 6946; ventilation ṁ·Δh, ASHRAE)", b.LossW[steam.Lining], b.LossW[steam.Outside], b.LossW[steam.Glass], b.VentW, b.Losses()),
				said("the room takes %.3f kW, which is %.3f kg/h of steam at %.1f kJ/kg (energy balance, IAPWS-IF97)", l.RoomKW, l.KGH, b.SteamKJK),
				said("P = %.3f kg/h ÷ %.4f kg/h for each kW (feed water %s °C) = %.3f kW", l.KGH, y, figure(*feed), kw),
			}
			if !stored {
				return steps[1:]
			}
			return steps
		})
	})
}

func plantHeatUp(c *Context, b steam.Balance) (steam.Load, string, error) {
	minutes, note := plantMinutes(c)
	l, err := b.HeatUp(minutes)
	return l, note, err
}

func plantHold(_ *Context, b steam.Balance) (steam.Load, string, error) {
	l, err := b.Hold()
	return l, "", err
}

// plantHeatUpTime is the time in which the generators of the job warm the room.
func plantHeatUpTime(c *Context, s *Subject, h *roomHeat) Value {
	power := plantPower(c)
	feed := s.Item.FeedTemperatureC
	switch {
	case power.lacks != "":
		return unknown().note(power.lacks)
	case feed == nil:
		return unknown()
	}
	y, err := h.yieldOf(*feed)
	if err != nil {
		return unknown().note(heatReason(err))
	}
	room := power.total * y * h.balance.SteamKJK / 3600
	minutes, ok, err := h.balance.HeatUpMinutes(room)
	switch {
	case err != nil:
		return unknown().note(heatReason(err))
	case !ok:
		return none()
	}
	return number(minutes).explained(h.note, func() []string {
		b := h.balance
		return []string{said("t = %.0f kJ ÷ (%.3f kW − half of %.0f W) = %.1f min (energy balance)", b.Stored(), room, b.Losses(), minutes)}
	})
}

// generatorOutput is the steam of one generator at full power without losses, in kg/h.
func generatorOutput(it *jobfile.Item) (kgh float64, v Value) {
	if it.PowerKW == nil || it.FeedTemperatureC == nil {
		return 0, unknown()
	}
	y, err := steam.YieldKGHPerKW(*it.FeedTemperatureC, 1)
	if err != nil {
		return 0, unknown().note(heatReason(err))
	}
	kgh = *it.PowerKW * y
	return kgh, number(kgh).worked(func() []string {
		return []string{said("ṁ = P·3600/(h_g − h_f) = %s kW × %.4f kg/h for each kW (feed water %s °C) = %.3f kg/h (IAPWS-IF97)", figure(*it.PowerKW), y, figure(*it.FeedTemperatureC), kgh)}
	})
}

// plantCurrent is the current of all generators on the circuit of one of them, in A.
func plantCurrent(c *Context, s *Subject) Value {
	k := c.circuit(s.Item.Circuit)
	if s.Item.Circuit == "" || k == nil || k.VoltageV == nil {
		return unknown()
	}
	phases, note := 1, ""
	switch {
	case k.Phases != nil:
		phases = int(*k.Phases)
	case k.Current == "dc":
	case *k.VoltageV > 250:
		return unknown().note("the phases of the circuit are not given")
	default:
		note = "taken: one phase"
	}
	kw := 0.0
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		if it.Kind != "steam_generator" || it.Circuit != s.Item.Circuit {
			continue
		}
		if it.PowerKW == nil {
			return unknown()
		}
		kw += *it.PowerKW
	}
	a, err := steam.CurrentA(kw, *k.VoltageV, phases)
	if err != nil {
		return unknown().note(heatReason(err))
	}
	return c.explained(number(a), note, func() []string {
		if phases == 3 {
			return []string{said("I = P/(√3·U) = %s kW ÷ (1.732 × %s V) = %.2f A", figure(kw), figure(*k.VoltageV), a)}
		}
		return []string{said("I = P/U = %s kW ÷ %s V = %.2f A", figure(kw), figure(*k.VoltageV), a)}
	})
}

func plantBreaker(c *Context, s *Subject) Value {
	k := c.circuit(s.Item.Circuit)
	if s.Item.Circuit == "" || k == nil {
		return unknown()
	}
	return num(k.BreakerA)
}

// plantSubjects are the generators.
func plantSubjects(c *Context) []Subject {
	out := itemsOf("steam_generator")(c)
	for i := range out {
		out[i].Kind = "steam_plant"
	}
	return out
}

const (
	heatSource   = "energy balance with ASHRAE's moist air, ISO 6946 and IAPWS-IF97 (computed); steam rooms lie outside the scope of standards for heat load"
	plantHow     = "(stored heat ÷ time + half of the losses) ÷ heat of steam ÷ yield; linings follow the air, foam stores nothing; does not arise outside steam rooms"
	plantHoldHow = "losses once warm ÷ heat of steam ÷ yield; does not arise outside steam rooms"
)

var (
	heatNeeds    = []string{"/climate/air_temperature_c", "/climate/relative_humidity_percent", "/build_up", "/panel", "/room/walls", "/room/height_mm", "/room/benches", "/room/floor", "/room/ceiling", "/items"}
	heatUpNeeds  = append([]string{"feed_temperature_c", "/room/heat_up_minutes"}, heatNeeds...)
	holdNeeds    = append([]string{"feed_temperature_c"}, heatNeeds...)
	currentNeeds = []string{"power_kw", "/circuits/{circuit}/voltage_v", "/circuits/{circuit}/phases", "circuit"}
)

func kwh(kj float64) float64 { return kj / 3600 }

var _ = register("steam_plant", "a steam generator as the source of heat for the room", plantSubjects,
	given(Text, "room_duty", "", "who uses the room", "/room/duty", func(c *Context, _ *Subject) Value { return text(c.Job.Room.Duty) }).oneOf("private", "commercial"),
	given(Number, "power_kw", "kW", "rated power of the generator", "power_kw", func(_ *Context, s *Subject) Value { return num(s.Item.PowerKW) }),
	def(Number, "plant_power_kw", "kW", "rated power of all generators of the room", "sum of the generators of the job", "", []string{"power_kw", "/items"}, func(c *Context, _ *Subject) Value { return plantPower(c).value() }),
	def(Number, "output_kg_h", "kg/h", "steam that the generator gives at full power", "power × 3600 ÷ (enthalpy of steam at 100 °C − enthalpy of the feed water), without losses", "IAPWS-IF97 (computed)", []string{"power_kw", "feed_temperature_c"}, func(_ *Context, s *Subject) Value {
		_, v := generatorOutput(s.Item)
		return v
	}),
	def(Number, "specific_power_kw_m3", "kW/m³", "power of all generators for each cubic metre of air", "power ÷ volume of the air; does not arise outside steam rooms", "", append([]string{"power_kw"}, figureNeeds...), plantHeat(func(c *Context, _ *Subject, h *roomHeat) Value {
		p := plantPower(c)
		if p.lacks != "" {
			return p.value()
		}
		return number(p.total / h.airM3)
	})),
	def(Number, "air_heat_kwh", "kWh", "heat to warm and moisten the air of the room once", "dry air × rise of its enthalpy; does not arise outside steam rooms", heatSource, heatNeeds, heatTerm(func(b steam.Balance) float64 { return kwh(b.AirKJ) })),
	def(Number, "lining_heat_kwh", "kWh", "heat to warm the linings before the foam once", "Σ area × mass × specific heat × rise, walls against cold places with them; does not arise outside steam rooms", heatSource, heatNeeds, heatTerm(func(b steam.Balance) float64 {
		return kwh(b.StoreKJ[steam.Lining] + b.StoreKJ[steam.Outside])
	})),
	def(Number, "glass_heat_kwh", "kWh", "heat to warm the glass once", "area × mass × specific heat × rise of the inner side; does not arise outside steam rooms", heatSource, heatNeeds, heatTerm(func(b steam.Balance) float64 { return kwh(b.StoreKJ[steam.Glass]) })),
	def(Number, "lining_loss_w", "W", "steady loss through lined faces against warm places", "Σ U × area × difference; does not arise outside steam rooms", heatSource, heatNeeds, heatTerm(func(b steam.Balance) float64 { return b.LossW[steam.Lining] })),
	def(Number, "cold_wall_loss_w", "W", "steady loss through lined walls against the open air, the ground or an unheated room", "Σ U × area × difference; does not arise outside steam rooms", heatSource, heatNeeds, heatTerm(func(b steam.Balance) float64 { return b.LossW[steam.Outside] })),
	def(Number, "glass_loss_w", "W", "steady loss through glass", "Σ U × area × difference; does not arise outside steam rooms", heatSource, heatNeeds, heatTerm(func(b steam.Balance) float64 { return b.LossW[steam.Glass] })),
	def(Number, "ventilation_loss_w", "W", "steady loss with the air that is changed while people bathe", "air led through by fans, at least one change an hour, × rise of its enthalpy; does not arise outside steam rooms", heatSource, heatNeeds, heatTerm(func(b steam.Balance) float64 { return b.VentW })),
	def(Number, "heat_up_minutes", "min", "time in which the room is to be warm", "as given, else 30 min", "", []string{"/room/heat_up_minutes"}, func(c *Context, _ *Subject) Value {
		m, note := plantMinutes(c)
		return noted(number(m), note)
	}),
	def(Number, "heat_up_power_kw", "kW", "power that warms the room in the wanted time", plantHow, heatSource, heatUpNeeds, plantLoad(plantHeatUp, true, true)),
	def(Number, "heat_up_steam_kg_h", "kg/h", "steam that warms the room in the wanted time", "(stored heat ÷ time + half of the losses) ÷ heat of steam; does not arise outside steam rooms", heatSource, append([]string{"/room/heat_up_minutes"}, heatNeeds...), plantLoad(plantHeatUp, false, true)),
	def(Number, "heat_up_time_min", "min", "time in which the generators warm the room", "stored heat ÷ (power into the room − half of the losses); does not arise when the losses take all of it, nor outside steam rooms", heatSource, append([]string{"power_kw"}, holdNeeds...), plantHeat(plantHeatUpTime)),
	def(Number, "holding_power_kw", "kW", "power that keeps the room warm", plantHoldHow, heatSource, holdNeeds, plantLoad(plantHold, true, false)),
	def(Number, "holding_steam_kg_h", "kg/h", "steam that keeps the room warm", "losses once warm ÷ heat of steam; does not arise outside steam rooms", heatSource, heatNeeds, plantLoad(plantHold, false, false)),
	def(Number, "power_ratio", "", "power of the generators over the power that warms the room in the wanted time", "power of all generators ÷ heat-up power; does not arise outside steam rooms", heatSource, append([]string{"power_kw"}, heatUpNeeds...), func(c *Context, s *Subject) Value {
		need, have := plantLoad(plantHeatUp, true, true)(c, s), plantPower(c)
		switch {
		case need.State != Known:
			return need
		case have.lacks != "":
			return have.value()
		case need.Num <= 0:
			return none()
		}
		return c.explained(number(have.total/need.Num), need.Note(), func() []string {
			return append(need.Steps(), said("%s kW ÷ %s kW = %.2f", figure(have.total), figure(need.Num), have.total/need.Num))
		})
	}),
	def(Number, "current_a", "A", "current of the generators on the circuit, in each line", "P/U on one phase, P/(√3·U) on three", "electrical engineering (computed)", currentNeeds, plantCurrent),
	given(Number, "breaker_a", "A", "rated current of the overcurrent device of the generator's circuit", "/circuits/{circuit}/breaker_a", plantBreaker),
	def(Number, "breaker_usual_max_a", "A", "largest breaker that is usual for the current", "the second of the usual ratings from the current on", "IEC 60898-1 ratings (memory)", currentNeeds, func(c *Context, s *Subject) Value {
		i := plantCurrent(c, s)
		if i.State != Known {
			return i
		}
		least, next, err := steam.BreakerA(i.Num)
		if err != nil {
			return none()
		}
		return c.worked(number(next), func() []string {
			return append(i.Steps(), said("the least usual rating from %s A on is %s A, the one above it %s A", figure(i.Num), figure(least), figure(next)))
		})
	}),
	def(Number, "breaker_load_percent", "percent", "current of the generators as a share of the breaker's", "current ÷ rated current of the breaker", "", append([]string{"/circuits/{circuit}/breaker_a"}, currentNeeds...), func(c *Context, s *Subject) Value {
		i, b := plantCurrent(c, s), plantBreaker(c, s)
		switch {
		case i.State != Known:
			return i
		case b.State != Known || b.Num <= 0:
			return unknown()
		}
		return c.explained(number(i.Num/b.Num*100), i.Note(), func() []string {
			return append(i.Steps(), said("%s A ÷ %s A = %.1f %%", figure(i.Num), figure(b.Num), i.Num/b.Num*100))
		})
	}),
)
