package measure

import (
	"math"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// holeSubjects returns the holes that are wanted, each a subject.
func holeSubjects(c *Context, kind string, wanted func(*Hole) bool) []Subject {
	n, holes := 0, c.Holes()
	for i := range holes {
		if wanted(&holes[i]) {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	out := c.subjects(n)[:0]
	for i := range holes {
		if h := &holes[i]; wanted(h) {
			out = append(out, Subject{Kind: kind, ID: h.ID, Pointer: h.Pointer, Pos: h.Pos, Item: h.Item, Hole: h})
		}
	}
	return out
}

// panelCollarFlange is the width of the collar's flange; it does not arise when there is no collar.
func panelCollarFlange(it *jobfile.Item) Value {
	if it.Collar != nil && !*it.Collar {
		return none()
	}
	return num(it.CollarFlangeMM)
}

// panelJointGap is the gap from the edge of a hole to the nearest vertical panel joint of its
// wall. It does not arise on other faces, whose joints the job format does not hold, nor on a wall without joints.
func panelJointGap(h *Hole) Value {
	g := h.ground
	switch {
	case g.face == nil:
		return unknown()
	case g.face.Kind != WallFace:
		return none()
	case g.face.JointsX == nil:
		return unknown()
	}
	nearest := math.Inf(1)
	if h.X != nil {
		for _, x := range g.face.JointsX {
			nearest = min(nearest, math.Abs(*h.X-x))
		}
		if g.left {
			nearest = min(nearest, math.Abs(*h.X))
		}
		if g.right && g.face.Width != nil {
			nearest = min(nearest, math.Abs(*g.face.Width-*h.X))
		}
	}
	switch {
	case len(g.face.JointsX) == 0 && !g.left && !g.right:
		return none()
	case h.X == nil || h.D == nil:
		return unknown()
	}
	return number(nearest - *h.D/2)
}

// panelJointGapNeeded is the gap that a hole wants to a joint: 50 mm up to a diameter of
// 68 mm, beyond that its diameter and at least 75 mm.
//
// Source: common practice for foam panels (from memory).
func panelJointGapNeeded(d *float64) Value {
	switch {
	case d == nil:
		return unknown()
	case *d <= 68:
		return number(50)
	}
	return number(max(75, *d))
}

// panelCornerDistance is the distance from the centre of a hole to the nearest edge of its
// face at which the waterproofing turns a corner.
func panelCornerDistance(h *Hole) Value {
	if h.X == nil || h.Y == nil {
		return unknown()
	}
	d, ok := h.ground.distance(*h.X, *h.Y, true)
	if !ok {
		return unknown()
	}
	return number(d)
}

// panelCornerDistanceNeeded lets the collar lie flat: half the diameter + the flange.
//
// Source: geometry of the collar (computed).
func panelCornerDistanceNeeded(h *Hole) Value {
	f := panelCollarFlange(h.Item)
	switch {
	case f.State == None:
		return none()
	case f.State == Unknown || h.D == nil:
		return unknown()
	}
	return number(*h.D/2 + f.Num)
}

// panelOpeningGap is the gap from the edge of a hole to the nearest doorway, window or hatch in
// its face, negative inside it; it does not arise when there is none.
func panelOpeningGap(h *Hole) Value {
	g := h.ground
	if g.face == nil {
		return unknown()
	}
	if len(g.openings) == 0 {
		return none()
	}
	hole, ok := h.circle()
	if !ok {
		return unknown()
	}
	nearest := math.Inf(1)
	for _, o := range g.openings {
		if !o.known {
			return unknown().note("the size or place of a doorway or other opening is not given")
		}
		gap, err := geometry.RectCircleGap(o.rect, hole)
		if err != nil {
			return unknown()
		}
		nearest = min(nearest, gap)
	}
	return number(nearest)
}

var _ = register("penetration", "a hole through the waterproofing that a collar seals", func(c *Context) []Subject { return holeSubjects(c, "penetration", (*Hole).Sealed) },
	given(Flag, "collar", "", "whether a waterproofing collar seals the opening", "collar", func(_ *Context, s *Subject) Value { return flag(s.Item.Collar) }),
	def(Number, "collar_flange_mm", "mm", "width of the collar's flange round the opening", "as given; does not arise without a collar", "", []string{"collar_flange_mm"}, func(_ *Context, s *Subject) Value { return panelCollarFlange(s.Item) }),
	def(Number, "joint_gap_mm", "mm", "gap from the edge of the hole to the nearest vertical panel joint of the wall",
		"distance in x − half the diameter; does not arise on other faces than walls, nor without joints", "", []string{"x_mm", "opening_diameter_mm", "face", "/room/walls"}, func(_ *Context, s *Subject) Value { return panelJointGap(s.Hole) }),
	def(Number, "joint_gap_needed_mm", "mm", "the gap that a hole of this size wants to a joint", "50 up to a diameter of 68; beyond that the diameter, and at least 75", "common practice for foam panels (from memory)",
		[]string{"opening_diameter_mm"}, func(_ *Context, s *Subject) Value { return panelJointGapNeeded(s.Hole.D) }),
	def(Number, "corner_distance_mm", "mm", "distance from the centre of the hole to the nearest corner or edge of the face",
		"straight line, negative outside the face; floor and ceiling by the plan of the walls; an edge at which the next wall goes straight on is left out", "plane geometry (computed)",
		[]string{"x_mm", "y_mm", "face", "/room/walls"}, func(_ *Context, s *Subject) Value { return panelCornerDistance(s.Hole) }),
	def(Number, "corner_distance_needed_mm", "mm", "half the diameter plus the flange of the collar", "diameter / 2 + flange; does not arise without a collar", "geometry of the collar (computed)",
		[]string{"opening_diameter_mm", "collar_flange_mm"}, func(_ *Context, s *Subject) Value { return panelCornerDistanceNeeded(s.Hole) }),
	def(Number, "opening_gap_mm", "mm", "gap from the edge of the hole to the nearest doorway, window or hatch in the same face",
		"distance from the centre to the opening − half the diameter, negative inside it; does not arise without such an opening", "plane geometry (computed)",
		[]string{"x_mm", "y_mm", "opening_diameter_mm", "/items", "/room/openings"}, func(_ *Context, s *Subject) Value { return panelOpeningGap(s.Hole) }),
)

// pairSubjects returns the pairs of holes, each a subject. It stands where the first of the two is
// written, or the second when only that lacks its diameter.
func pairSubjects(c *Context) []Subject {
	pairs := c.Pairs()
	out := c.subjects(len(pairs))
	for i := range pairs {
		p := &pairs[i]
		at := p.A
		if p.A.D != nil && p.B.D == nil {
			at = p.B
		}
		out[i] = Subject{Kind: "opening_pair", ID: c.spell(p.A.ID, "~", p.B.ID), Pointer: at.Pointer, Pos: at.Pos, Pair: p}
	}
	return out
}

// pairGap is the gap between the edges of two holes, negative when they overlap.
//
// Source: plane geometry (computed).
func pairGap(p *Pair) Value {
	a, ok1 := p.A.circle()
	b, ok2 := p.B.circle()
	if !ok1 || !ok2 {
		return unknown()
	}
	gap, err := geometry.CircleGap(a, b)
	if err != nil {
		return unknown()
	}
	return number(gap)
}

// pairWeb is the foam that stays between two holes. Holes that overlap leave none, and the
// inserts of one item are looked at by themselves: for both it does not arise.
func pairWeb(p *Pair) Value {
	if p.A.Sort == InsertHole && p.B.Sort == InsertHole && p.A.Item == p.B.Item {
		return none()
	}
	gap := pairGap(p)
	if gap.State == Known && gap.Num < 0 {
		return none()
	}
	return gap
}

// webNeeded is the web that two holes want: half the larger diameter, at least 50 mm.
//
// Source: common practice for foam panels (from memory).
func webNeeded(p *Pair) Value {
	if p.A.D == nil || p.B.D == nil {
		return unknown()
	}
	return number(max(50, *p.A.D/2, *p.B.D/2))
}

// collarsNeeded is the distance between two centres at which the flanges of the collars
// do not lap: (d₁ + d₂)/2 + f₁ + f₂. It does not arise when one of the holes has no collar.
//
// Source: geometry of the collar (computed); two holes of 32 mm with flanges of 50 mm want 132 mm.
func collarsNeeded(p *Pair) Value {
	if !p.A.Sealed() || !p.B.Sealed() {
		return none()
	}
	f, g := panelCollarFlange(p.A.Item), panelCollarFlange(p.B.Item)
	switch {
	case f.State == None || g.State == None:
		return none()
	case f.State == Unknown || g.State == Unknown || p.A.D == nil || p.B.D == nil:
		return unknown()
	}
	return number((*p.A.D+*p.B.D)/2 + f.Num + g.Num)
}

var pairNeeds = []string{"x_mm", "y_mm", "opening_diameter_mm", "diameter_mm"}

var _ = register("opening_pair", "two holes of one face that are near enough to matter", pairSubjects,
	def(Number, "gap_mm", "mm", "gap between the edges of two holes", "distance between centres − half of both diameters, negative when they overlap", "plane geometry (computed)", pairNeeds, func(_ *Context, s *Subject) Value { return pairGap(s.Pair) }),
	def(Number, "web_mm", "mm", "foam that stays between two holes", "as the gap; does not arise when the holes overlap, nor between inserts of one item", "plane geometry (computed)", pairNeeds, func(_ *Context, s *Subject) Value { return pairWeb(s.Pair) }),
	def(Number, "web_needed_mm", "mm", "half the larger diameter, and no less than 50 mm", "largest of 50 and half of each diameter", "common practice for foam panels (from memory)", pairNeeds, func(_ *Context, s *Subject) Value { return webNeeded(s.Pair) }),
	def(Number, "centre_distance_mm", "mm", "distance between the centres of two holes", "straight line on the face", "plane geometry (computed)", []string{"x_mm", "y_mm"}, func(_ *Context, s *Subject) Value { return number(s.Pair.CentreMM) }),
	def(Number, "collar_distance_needed_mm", "mm", "half of both diameters plus both flanges", "(diameter + diameter) / 2 + flange + flange; does not arise unless both have a collar", "geometry of the collar (computed)",
		append([]string{"collar_flange_mm"}, pairNeeds...), func(_ *Context, s *Subject) Value { return collarsNeeded(s.Pair) }),
)

// insideFace is how far inside the edge of its face an item lies at its worst point, in mm,
// negative outside: the edges of its holes and of its doorway, the axes of cables and strips, the centre of
// anything else. It does not arise for what is on no face.
func (c *Context) insideFace(it *jobfile.Item) Value {
	centreOnly := false
	switch it.Kind {
	case "steam_generator":
		return none()
	case "accessory", "light_source":
		centreOnly = it.OpeningDiameterMM == nil
		if it.Place == "outside_room" || centreOnly && it.XMM == nil && it.YMM == nil {
			return none()
		}
	case "heating_sensor":
		centreOnly = true
	}
	o := c.knownOutline(it.Face)
	worst, complete, some := math.Inf(1), true, false
	add := func(x, y, d *float64) {
		some = true
		if x == nil || y == nil || d == nil {
			complete = false
			return
		}
		mm, ok := o.distance(*x, *y, false)
		complete = complete && ok
		worst = min(worst, mm-*d/2)
	}
	zero := 0.0
	lines := func(given bool, list ...[][2]float64) {
		complete = complete && given
		for _, l := range list {
			for i := range l {
				add(&l[i][0], &l[i][1], &zero)
			}
		}
	}
	switch it.Kind {
	case "fixing":
		complete = it.Inserts != nil
	case "glazed_door":
		add(it.XMM, it.YMM, &zero)
		if it.XMM == nil || it.YMM == nil || it.WidthMM == nil || it.HeightMM == nil {
			return unknown()
		}
		x, y := *it.XMM+*it.WidthMM, *it.YMM+*it.HeightMM
		add(&x, &y, &zero)
		add(it.XMM, &y, &zero)
		add(&x, it.YMM, &zero)
	case "heating_cable":
		lines(len(it.Runs) > 0, it.Runs...)
	case "led_strip":
		lines(len(it.Path) > 0, it.Path)
	case "fibre_lights":
		complete = it.Points != nil
		for i := range it.Points {
			add(&it.Points[i][0], &it.Points[i][1], it.OpeningDiameterMM)
		}
	default:
		d := it.OpeningDiameterMM
		if centreOnly {
			d = &zero
		}
		add(it.XMM, it.YMM, d)
	}
	for i := range it.Inserts {
		in := &it.Inserts[i]
		add(in.XMM, in.YMM, in.DiameterMM)
	}
	switch {
	case !complete:
		return unknown()
	case !some:
		return none()
	}
	return number(worst)
}

func panelItems(c *Context) []Subject {
	out := c.subjects(len(c.Job.Items))
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		out[i] = Subject{Kind: "item", ID: it.ID, Pointer: itemPointers.at(i), Pos: it.Pos, Item: it}
	}
	return out
}

var _ = register("item", "anything in or on a panel, and what belongs to it", panelItems,
	given(Flag, "instructions_on_site", "", "whether the maker's instructions are at hand where the work is done", "instructions_on_site", func(_ *Context, s *Subject) Value { return flag(s.Item.InstructionsOnSite) }),
	def(Number, "inside_face_mm", "mm", "least distance that the item lies inside the edge of its face",
		"from the edges of holes and doorways, the axes of cables and strips, the centre of anything else; negative outside; floor and ceiling by the plan of the walls; does not arise for what is on no face",
		"plane geometry (computed)", []string{"face", "x_mm", "y_mm", "opening_diameter_mm", "width_mm", "height_mm", "inserts", "points", "runs", "path", "/room/walls"}, func(c *Context, s *Subject) Value { return c.insideFace(s.Item) }),
)
