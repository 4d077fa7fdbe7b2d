package measure

import (
	"math"
	"slices"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// insertList calls f with the inserts of a fixing or door; without a list of inserts the value is Unknown.
func insertList(f func([]jobfile.Insert) Value) func(*Context, *Subject) Value {
	return func(_ *Context, s *Subject) Value {
		if s.Item.Inserts == nil {
			return unknown()
		}
		return f(s.Item.Inserts)
	}
}

func insertCount(list []jobfile.Insert) Value { return number(float64(len(list))) }

// insertAdhesive is what bonds the inserts of a fixing or door; it does not arise when there are none.
func insertAdhesive(_ *Context, s *Subject) Value {
	if s.Item.Inserts != nil && len(s.Item.Inserts) == 0 {
		return none()
	}
	return text(s.Item.Adhesive)
}

var insertAdhesives = []string{"polyurethane", "epoxy", "silicone", "tile_cement"}

var _ = register("fixing", "a bracket or fitting held by bonded inserts", itemsOf("fixing"),
	def(Number, "insert_count", "", "number of bonded inserts", "inserts counted", "", []string{"inserts"}, insertList(insertCount)),
	def(Text, "insert_adhesive", "", "what bonds the inserts", "as given; does not arise without inserts", "", []string{"adhesive", "inserts"}, insertAdhesive).oneOf(insertAdhesives...),
	given(Number, "profile_length_mm", "mm", "length of the profile that spreads the load", "profile_length_mm", func(_ *Context, s *Subject) Value { return num(s.Item.ProfileLengthMM) }),
	given(Number, "bracket_length_mm", "mm", "length of the bracket's foot", "bracket_length_mm", func(_ *Context, s *Subject) Value { return num(s.Item.BracketLengthMM) }),
	given(Number, "load_kg", "kg", "mass that the fixing carries", "load_kg", func(_ *Context, s *Subject) Value { return num(s.Item.LoadKG) }),
	given(Flag, "screw_holes_sealed", "", "whether screw holes through the finish are sealed", "screw_hole_sealed", func(_ *Context, s *Subject) Value { return flag(s.Item.ScrewHoleSealed) }),
)

// insertSubjects returns the holes for inserts, each a subject.
func insertSubjects(c *Context) []Subject {
	return holeSubjects(c, "insert", func(h *Hole) bool { return h.Sort == InsertHole })
}

// panelLeft is what stays of the panel behind the hole for an insert.
func panelLeft(s *Subject) Value {
	f := s.Hole.ground.face
	if f == nil || f.Panel == nil || f.Panel.ThicknessMM == nil || s.Hole.Insert.DepthMM == nil {
		return unknown()
	}
	return number(*f.Panel.ThicknessMM - *s.Hole.Insert.DepthMM)
}

// insertCableWeb is the web of foam between a hole and the nearest groove of a heating
// cable on its face: distance to the axis − radius − half the groove's width.
//
// Source: plane geometry (computed).
func insertCableWeb(h *Hole) Value {
	g := h.ground
	if g.face == nil {
		return unknown()
	}
	own := slices.DeleteFunc(slices.Clone(g.cables), func(it *jobfile.Item) bool { return panelSide(it) != panelSide(h.Item) })
	if len(own) == 0 {
		return none()
	}
	hole, ok := h.circle()
	if !ok {
		return unknown()
	}
	nearest, missing := math.Inf(1), ""
	lacks := func(id string) {
		if missing == "" || id < missing { // whatever the order of the items
			missing = id
		}
	}
	for _, it := range own {
		if it.Face == "" || len(it.Runs) == 0 || it.GrooveWidthMM == nil {
			lacks(it.ID)
			continue
		}
		for _, run := range it.Runs {
			gap, err := geometry.CirclePolylineGap(hole, insertAxis(run), *it.GrooveWidthMM)
			if err != nil {
				lacks(it.ID)
				continue
			}
			nearest = min(nearest, gap)
		}
	}
	switch {
	case missing == "":
		return number(nearest)
	case math.IsInf(nearest, 0):
		return unknown().note("the groove of " + missing + " is not fully described")
	}
	return unknown().note("the groove of " + missing + " is not fully described; the nearest of the others is " + WithUnit(FormatNumber(nearest), "mm") + " away")
}

func insertAxis(run [][2]float64) geometry.Polyline {
	line := make(geometry.Polyline, len(run))
	for i, p := range run {
		line[i] = geometry.Point{X: p[0], Y: p[1]}
	}
	return line
}

// insertWeb is the web of foam between the hole for an insert and the nearest
// other one of the same fixing or door; it does not arise for a single insert.
func insertWeb(h *Hole) Value {
	list := h.Item.Inserts
	if len(list) < 2 {
		return none()
	}
	hole, ok := h.circle()
	if !ok {
		return unknown()
	}
	nearest := math.Inf(1)
	for i := range list {
		if &list[i] == h.Insert {
			continue
		}
		other := Hole{X: list[i].XMM, Y: list[i].YMM, D: list[i].DiameterMM}
		o, ok := other.circle()
		if !ok {
			return unknown()
		}
		gap, err := geometry.CircleGap(hole, o)
		if err != nil {
			return unknown()
		}
		nearest = min(nearest, gap)
	}
	return number(nearest)
}

var _ = register("insert", "the hole for one bonded insert of a fixing or door", insertSubjects,
	given(Number, "hole_diameter_mm", "mm", "diameter of the hole for the insert", "diameter_mm", func(_ *Context, s *Subject) Value { return num(s.Hole.D) }),
	def(Number, "panel_left_mm", "mm", "panel that stays behind the hole", "panel thickness − depth of the hole", "", []string{"depth_mm", "/panel/thickness_mm"}, func(_ *Context, s *Subject) Value { return panelLeft(s) }),
	def(Number, "cable_web_mm", "mm", "foam between the hole and the nearest groove of a heating cable on the same side of the panel",
		"distance from centre to cable axis − half the hole's diameter − half the groove's width; does not arise without a heating cable on that side of the face",
		"plane geometry (computed)", []string{"x_mm", "y_mm", "diameter_mm", "/items"}, func(_ *Context, s *Subject) Value { return insertCableWeb(s.Hole) }),
	def(Number, "insert_web_mm", "mm", "foam between the hole and the nearest other insert of the same item",
		"distance between centres − half of both diameters; does not arise for a single insert",
		"plane geometry (computed)", []string{"x_mm", "y_mm", "diameter_mm"}, func(_ *Context, s *Subject) Value { return insertWeb(s.Hole) }),
)
