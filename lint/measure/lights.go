package measure

import "wetrule/lint/jobfile"

// lightsBendFactor is the least bend radius of a lighting fibre as a multiple of its
// outside diameter, where the maker gives none.
//
// Source: rule of thumb 8 to 10 × outside diameter (memory); the cautious end is taken.
// A published bound for the core alone is wider: 32.5 × core diameter for less than 10 % of
// light lost (Achenbach and Cobb 2002, read).
const lightsBendFactor = 10

// lightsSteamDistance returns the shortest distance from lines on the item's face to a steam outlet.
func lightsSteamDistance(lines func(*jobfile.Item) nearLines) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		return ventNearest(c, s.Item.Face, lines(s.Item), c.things().outlets)
	}
}

func lightsSteamDef(meaning, how string, needs []string, lines func(*jobfile.Item) nearLines) *Def {
	return def(Number, "steam_outlet_distance_mm", "mm", meaning, how+"; does not arise without a steam outlet", "", append(needs, "/items"), lightsSteamDistance(lines))
}

// lightsFibreEnds takes each fibre end by itself.
func lightsFibreEnds(it *jobfile.Item) nearLines { return nearLines{points: it.Points} }

func lightsPath(it *jobfile.Item) nearLines { return nearLines{points: it.Path, line: true} }

// lightsIlluminator says what the light source that a fibre group names is.
func lightsIlluminator(c *Context, s *Subject) Value {
	it := c.items[s.Item.Illuminator]
	switch {
	case it == nil:
		return unknown()
	case it.Kind != "light_source":
		return text("no_light_source").note(it.ID + " is a " + Words(it.Kind))
	case it.Role == "":
		return unknown().note("the role of " + it.ID + " is not known")
	}
	return text(it.Role)
}

// lightsCut passes a fact on that only arises for a strip that is cut.
func lightsCut(fact func(*jobfile.Item) *bool) func(*Context, *Subject) Value {
	return func(_ *Context, s *Subject) Value {
		switch {
		case s.Item.Cut == nil:
			return unknown()
		case !*s.Item.Cut:
			return none()
		}
		return flag(fact(s.Item))
	}
}

// lightsRemainder is what is left of the panel behind a spotlight.
func lightsRemainder(c *Context, s *Subject) Value {
	f := c.Face(s.Item.Face)
	if f == nil || f.Panel == nil || f.Panel.ThicknessMM == nil || s.Item.DepthMM == nil {
		return unknown()
	}
	return number(*f.Panel.ThicknessMM - *s.Item.DepthMM)
}

var _ = register("fibre_lights", "a group of fibre lights", itemsOf("fibre_lights"),
	given(Number, "opening_diameter_mm", "mm", "diameter of the openings for the fibres", "opening_diameter_mm", func(_ *Context, s *Subject) Value { return num(s.Item.OpeningDiameterMM) }),
	given(Number, "fibre_diameter_mm", "mm", "outside diameter of a fibre", "fibre_diameter_mm", func(_ *Context, s *Subject) Value { return num(s.Item.FibreDiameterMM) }),
	given(Number, "bend_radius_mm", "mm", "tightest bend of the fibres", "bend_radius_mm", func(_ *Context, s *Subject) Value { return num(s.Item.BendRadiusMM) }),
	def(Number, "bend_radius_needed_mm", "mm", "tightest bend that the fibres are given by the rule of thumb", "10 × outside diameter of the fibre", "rule of thumb 8 to 10 × outside diameter (memory)", []string{"fibre_diameter_mm"}, func(_ *Context, s *Subject) Value {
		if s.Item.FibreDiameterMM == nil {
			return unknown()
		}
		return number(lightsBendFactor * *s.Item.FibreDiameterMM)
	}),
	def(Text, "illuminator_role", "", "what the light source is that the fibres name", "role of the item named as illuminator", "", []string{"illuminator"}, lightsIlluminator).oneOf("driver", "illuminator", "no_light_source"),
	lightsSteamDef("shortest distance from a fibre end to a steam outlet", "straight line from the nearest fibre end to the outlet's centre", []string{"face", "points"}, lightsFibreEnds),
	ventTiledDef(),
)

var _ = register("led_strip", "an LED strip", itemsOf("led_strip"),
	given(Text, "mounting", "", "what the strip is glued to", "mounting", func(_ *Context, s *Subject) Value { return text(s.Item.Mounting) }).oneOf("on_tile", "in_tiled_groove", "in_untiled_groove", "on_plaster"),
	def(Flag, "cut_at_marks", "", "whether the strip is cut only where the maker marks it", "as given; does not arise for a strip that is not cut", "", []string{"cut", "cut_marks"}, lightsCut(func(it *jobfile.Item) *bool { return it.CutMarks })),
	def(Flag, "cut_end_sealed", "", "whether cut ends are sealed as the maker says", "as given; does not arise for a strip that is not cut", "", []string{"cut", "cut_end_sealed"}, lightsCut(func(it *jobfile.Item) *bool { return it.CutEndSealed })),
	lightsSteamDef("shortest distance from the strip to a steam outlet", "straight line from the nearest point of the path to the outlet's centre", []string{"face", "path"}, lightsPath),
	ventTiledDef(),
)

var _ = register("spotlight", "a spotlight in a panel", itemsOf("spotlight"),
	def(Number, "panel_remainder_mm", "mm", "foam left behind the spotlight", "panel thickness − depth of the spotlight; the finish in front of the panel is not counted", "", []string{"depth_mm", "face", "/panel/thickness_mm"}, lightsRemainder),
	lightsSteamDef("shortest distance from the spotlight to a steam outlet", "straight line from centre to centre", []string{"face", "x_mm", "y_mm"}, ventCentre),
	ventTiledDef(),
)

var _ = register("light_source", "a driver or an illuminator", itemsOf("light_source"),
	given(Text, "role", "", "whether it is a driver for LEDs or an illuminator for fibres", "role", func(_ *Context, s *Subject) Value { return text(s.Item.Role) }).oneOf("driver", "illuminator"),
	given(Text, "place", "", "where it is", "place", func(_ *Context, s *Subject) Value { return text(s.Item.Place) }).oneOf("outside_room", "in_room", "behind_panel"),
	given(Flag, "dry", "", "whether its place is dry", "dry", func(_ *Context, s *Subject) Value { return flag(s.Item.Dry) }),
	given(Flag, "ventilated", "", "whether its place is ventilated", "ventilated", func(_ *Context, s *Subject) Value { return flag(s.Item.Ventilated) }),
	given(Flag, "accessible", "", "whether it can be reached for service", "accessible", func(_ *Context, s *Subject) Value { return flag(s.Item.Accessible) }),
	given(Flag, "safety_isolating", "", "whether its output is SELV from a safety isolating source", "safety_isolating", func(_ *Context, s *Subject) Value { return flag(s.Item.SafetyIsolating) }),
)
