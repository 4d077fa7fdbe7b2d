package measure

import (
	"fmt"
	"math"
	"slices"

	"wetrule/lint/calc/pipe"
	"wetrule/lint/jobfile"
)

// tubeOf calls f with the tube of a steam outlet; without a tube the value is Unknown.
func tubeOf(f func(*jobfile.Tube) Value) func(*Context, *Subject) Value {
	return func(_ *Context, s *Subject) Value {
		if s.Item.Tube == nil {
			return unknown()
		}
		return f(s.Item.Tube)
	}
}

func insulationOf(f func(*jobfile.TubeInsulation) Value) func(*Context, *Subject) Value {
	return tubeOf(func(t *jobfile.Tube) Value {
		if t.Insulation == nil {
			return unknown()
		}
		return f(t.Insulation)
	})
}

// wrapped is insulationOf for facts that do not arise on a bare tube, one whose
// insulation is given as 0 mm thick.
func wrapped(f func(*jobfile.TubeInsulation) Value) func(*Context, *Subject) Value {
	return insulationOf(func(i *jobfile.TubeInsulation) Value {
		if i.ThicknessMM != nil && *i.ThicknessMM == 0 {
			return none()
		}
		return f(i)
	})
}

// usualSaws are the hole saws that shops commonly hold, in mm.
//
// Source: trade series, inch sizes rounded (from memory); 45 mm is common
// practice for steam tubes.
var usualSaws = []float64{
	14, 16, 17, 19, 20, 21, 22, 24, 25, 27, 29, 30, 32, 35, 37, 38, 40, 41, 43, 44, 45, 46, 48, 51, 52, 54, 56, 57, 59, 60, 64, 65, 67, 68,
	70, 73, 76, 79, 83, 86, 89, 92, 95, 98, 102, 105, 108, 111, 114, 121, 127, 133, 140, 152, 160, 168, 177, 210,
}

// openingSaw says whether a hole saw of the opening's diameter is commonly sold.
// Beyond the largest saw an opening is cut by a template, and the question does not arise.
func openingSaw(d *float64) Value {
	if d == nil {
		return unknown()
	}
	i, found := slices.BinarySearch(usualSaws, *d)
	switch {
	case found:
		return yes(true)
	case i == len(usualSaws):
		return none()
	}
	return yes(false).note("the next larger saw is " + FormatNumber(usualSaws[i]) + " mm")
}

// tubeInFoam is the tube of an outlet in its board.
func tubeInFoam(t *jobfile.Tube) pipe.InFoam {
	in := pipe.SteamTubeInFoam
	if i := t.Insulation; i != nil && i.ConductivityWMK != nil {
		in.SleeveWMK = *i.ConductivityWMK
	}
	return in
}

// foamLike is what tubes round which the foam is equally warm have in common.
type foamLike struct {
	in     pipe.InFoam
	od, mm float64
	given  bool // the conductivity of the insulation
}

type foamFound struct {
	like foamLike
	v    Value
}

// foamTemperature returns the temperature of the foam that touches the insulation of a steam tube, with what was taken for it. It is
// worked out once for tubes that are alike.
func foamTemperature(c *Context, s *Subject) Value {
	t := s.Item.Tube
	if t == nil || t.ODMM == nil || t.Insulation == nil || t.Insulation.ThicknessMM == nil {
		return unknown()
	}
	like := foamLike{tubeInFoam(t), *t.ODMM, *t.Insulation.ThicknessMM, t.Insulation.ConductivityWMK != nil}
	for i := range c.foams {
		if c.foams[i].like == like {
			return c.foams[i].v
		}
	}
	v := like.temperature()
	if len(c.foams) < foamsKept {
		c.foams = append(c.foams, foamFound{like, v})
	}
	return v
}

// foamsKept bounds the search for tubes that are alike; a real room has one or two sorts.
const foamsKept = 16

func (l foamLike) temperature() Value {
	in, od, mm := l.in, l.od, l.mm
	c, err := in.InterfaceC(od, mm)
	if err != nil {
		return unknown().note(err.Error())
	}
	insulation := ""
	if !l.given {
		insulation = said("insulation %.3f W/mK, ", in.SleeveWMK)
	}
	return number(c).explained(said("taken: tube %s °C, %sfoam %.3f W/mK and %s °C at %s mm from the tube's axis", figure(in.TubeC), insulation, in.FoamWMK, figure(in.FarC), figure(in.FarRadiusMM)), func() []string {
		outer := od + 2*mm
		if outer/2 >= in.FarRadiusMM {
			return []string{said("the insulation reaches to %s mm from the axis, where the foam has %s °C", figure(outer/2), figure(in.FarC))}
		}
		s, f := math.Log(outer/od)/in.SleeveWMK, math.Log(2*in.FarRadiusMM/outer)/in.FoamWMK
		return []string{
			said("s = ln(%s/%s)/%s = %.2f, f = ln(%s/%s)/%s = %.2f", figure(outer), figure(od), figure(in.SleeveWMK), s, figure(2*in.FarRadiusMM), figure(outer), figure(in.FoamWMK), f),
			said("θ = %s − (%s − %s)·s/(s + f) = %.2f °C (ISO 12241, radial)", figure(in.TubeC), figure(in.TubeC), figure(in.FarC), c),
		}
	})
}

// outletPanel is the board that the tube of an outlet goes through, or nil.
func outletPanel(c *Context, s *Subject) *jobfile.Panel {
	if f := c.Face(s.Item.Face); f != nil {
		return f.Panel
	}
	return nil
}

// outletSeat is the shortest distance from an outlet to a bench. One bench
// without a known place leaves the whole answer open.
func outletSeat(c *Context, s *Subject) Value {
	benches := c.Job.Room.Benches
	switch {
	case benches == nil:
		return unknown()
	case len(benches) == 0:
		return none()
	}
	for i := range benches {
		b := &benches[i]
		if b.XMM == nil || b.LengthMM == nil || b.DepthMM == nil || b.HeightMM == nil {
			return unknown()
		}
		if f := c.Face(b.Wall); f == nil || f.Kind != WallFace {
			return unknown()
		}
	}
	p, ok := c.place3(s.Item.Face, s.Item.XMM, s.Item.YMM)
	if !ok {
		return unknown()
	}
	d, ok := c.seatDistance(p)
	if !ok {
		return unknown()
	}
	return number(d)
}

func openingNeeded(s *Subject) Value {
	t := s.Item.Tube
	if t == nil || t.ODMM == nil || t.Insulation == nil || t.Insulation.ThicknessMM == nil {
		return unknown()
	}
	return number(*t.ODMM + 2**t.Insulation.ThicknessMM)
}

var _ = register("steam_outlet", "a steam outlet with its tube", itemsOf("steam_outlet"),
	def(Number, "outlet_height_mm", "mm", "height of the outlet's centre above finished floor", "y on a wall; worked out from the place of the face elsewhere", "", []string{"y_mm", "face"}, func(c *Context, s *Subject) Value {
		f := c.Face(s.Item.Face)
		switch {
		case f == nil:
			return unknown()
		case f.Kind == WallFace:
			return num(s.Item.YMM)
		}
		p, ok := c.place3(s.Item.Face, s.Item.XMM, s.Item.YMM)
		if !ok {
			return unknown()
		}
		return number(c.heightAbove(s.Item.Face, p))
	}),
	given(Text, "tube_material", "", "material of the steam tube", "tube.material", tubeOf(func(t *jobfile.Tube) Value { return text(t.Material) })).oneOf("copper", "stainless_steel", "plastic", "galvanised_steel"),
	given(Number, "tube_od_mm", "mm", "outside diameter of the steam tube", "tube.od_mm", tubeOf(func(t *jobfile.Tube) Value { return num(t.ODMM) })),
	def(Flag, "tube_size_listed", "", "whether outside diameter and wall are a listed copper tube size", "pair of diameter and wall looked up in the list; does not arise for other materials than copper", "EN 1057 (secondary; wall pairs partly from memory)", []string{"tube.od_mm", "tube.wall_mm", "tube.material"}, tubeOf(func(t *jobfile.Tube) Value {
		switch {
		case t.Material != "" && t.Material != "copper":
			return none()
		case t.Material == "" || t.ODMM == nil || t.WallMM == nil:
			return unknown()
		}
		if (pipe.Size{ODMM: *t.ODMM, WallMM: *t.WallMM}).Listed() {
			return yes(true)
		}
		return yes(false).note(fmt.Sprintf("%s × %s mm", FormatNumber(*t.ODMM), FormatNumber(*t.WallMM)))
	})),
	given(Number, "tube_fall_percent", "percent", "least fall along the steam tube; a rise is negative", "tube.fall_percent", tubeOf(func(t *jobfile.Tube) Value { return num(t.FallPercent) })),
	given(Number, "tube_low_points", "", "number of sags and low points in the steam tube", "tube.low_points", tubeOf(func(t *jobfile.Tube) Value { return num(t.LowPoints) })),
	given(Number, "tube_valves_or_traps", "", "number of valves, traps and other closures in the steam tube", "tube.valves_or_traps", tubeOf(func(t *jobfile.Tube) Value { return num(t.ValvesOrTraps) })),
	given(Number, "insulation_rated_temperature_c", "°C", "highest tube temperature that the maker of the insulation allows", "tube.insulation.rated_temperature_c", wrapped(func(t *jobfile.TubeInsulation) Value { return num(t.RatedTemperatureC) })),
	given(Number, "insulation_thickness_mm", "mm", "wall thickness of the tube insulation; 0 is a bare tube", "tube.insulation.thickness_mm", insulationOf(func(t *jobfile.TubeInsulation) Value { return num(t.ThicknessMM) })),
	def(Number, "insulation_in_foam_mm", "mm", "wall thickness of the insulation where the tube crosses polystyrene foam", "thickness of the insulation; does not arise in other boards", "", []string{"tube.insulation.thickness_mm", "/panel/material"}, func(c *Context, s *Subject) Value {
		p := outletPanel(c, s)
		switch {
		case p == nil || p.Material == "":
			return unknown()
		case p.Material != "xps" && p.Material != "eps":
			return none()
		case s.Item.Tube == nil || s.Item.Tube.Insulation == nil:
			return unknown()
		}
		return num(s.Item.Tube.Insulation.ThicknessMM)
	}),
	def(Number, "foam_temperature_c", "°C", "temperature of the foam round the insulated tube", "100 − 67.5 × s ÷ (s + f) with s = ln(outside ÷ inside of the insulation) ÷ 0.040 and f = ln(100 mm ÷ outside of the insulation) ÷ 0.034", "ISO 12241, cylinder equation (computed)", []string{"tube.insulation.thickness_mm", "tube.od_mm"}, foamTemperature),
	def(Number, "panel_service_temperature_max_c", "°C", "highest temperature that the board stands for good", "as given for the board of the outlet's face, else for all boards", "", []string{"/panel/service_temperature_max_c"}, func(c *Context, s *Subject) Value {
		p := outletPanel(c, s)
		if p == nil {
			return unknown()
		}
		return num(p.ServiceTemperatureMaxC)
	}),
	given(Flag, "insulated_before_insertion", "", "whether the tube is insulated before it goes through the opening", "tube.insulation.fitted_before_insertion", wrapped(func(t *jobfile.TubeInsulation) Value { return flag(t.FittedBeforeInsertion) })),
	given(Number, "opening_diameter_mm", "mm", "diameter of the opening for the tube", "opening_diameter_mm", func(_ *Context, s *Subject) Value { return num(s.Item.OpeningDiameterMM) }),
	def(Flag, "opening_saw_usual", "", "whether the opening is the size of a commonly sold hole saw", "diameter looked up in the list; does not arise above the largest saw of 210 mm", "trade series (from memory)", []string{"opening_diameter_mm"}, func(_ *Context, s *Subject) Value { return openingSaw(s.Item.OpeningDiameterMM) }),
	def(Number, "opening_needed_mm", "mm", "least opening that the insulated tube goes through", "outside diameter + 2 × insulation", "", []string{"tube.od_mm", "tube.insulation.thickness_mm"}, func(_ *Context, s *Subject) Value { return openingNeeded(s) }),
	def(Number, "opening_play_mm", "mm", "play of the insulated tube in its opening", "opening − (outside diameter + 2 × insulation)", "", []string{"opening_diameter_mm", "tube.od_mm", "tube.insulation.thickness_mm"}, func(_ *Context, s *Subject) Value {
		need := openingNeeded(s)
		if need.State != Known || s.Item.OpeningDiameterMM == nil {
			return unknown()
		}
		return number(*s.Item.OpeningDiameterMM - need.Num)
	}),
	given(Flag, "guarded", "", "whether a guard keeps skin from the outlet and its jet", "guarded", func(_ *Context, s *Subject) Value { return flag(s.Item.Guarded) }),
	def(Number, "seat_distance_mm", "mm", "shortest distance from the outlet to a seat", "straight line from the outlet's centre to the nearest point of the nearest seat; does not arise without benches", "", []string{"x_mm", "y_mm", "/room/benches"}, outletSeat),
)

var _ = register("steam_generator", "a steam generator", itemsOf("steam_generator"),
	given(Text, "place", "", "where the generator stands", "place", func(_ *Context, s *Subject) Value { return text(s.Item.Place) }).oneOf("outside_room", "in_room", "behind_panel"),
	given(Flag, "service_access", "", "whether the generator can be reached for service", "service_access", func(_ *Context, s *Subject) Value { return flag(s.Item.ServiceAccess) }),
	given(Number, "water_hardness_mmol_l", "mmol/l", "total hardness of the feed water before any softener", "water_hardness_mmol_l", func(_ *Context, s *Subject) Value { return num(s.Item.WaterHardnessMmolL) }),
	given(Flag, "softener", "", "whether a softener is fitted", "softener", func(_ *Context, s *Subject) Value { return flag(s.Item.Softener) }),
)
