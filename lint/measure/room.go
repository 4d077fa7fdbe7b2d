package measure

import (
	"math"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// roomSubject is the room itself, one in every job.
func roomSubject(c *Context) []Subject {
	return []Subject{{Kind: "room", ID: "room", Pointer: "/room", Pos: c.Job.Room.Pos}}
}

// inSteamRoom limits a measure to steam rooms; elsewhere it does not arise.
func inSteamRoom(get func(*Context, *Subject) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		if c.Job.Room.Use != "steam_room" {
			return none()
		}
		return get(c, s)
	}
}

// withFloor limits a measure to jobs that have a floor. A job on one wall alone
// that says nothing of a floor has none.
func withFloor(get func(*Context, *jobfile.Floor) Value) func(*Context, *Subject) Value {
	return func(c *Context, _ *Subject) Value {
		r := c.Job.Room
		if r.Floor == nil && len(r.Walls) == 1 {
			return none()
		}
		return get(c, r.Floor)
	}
}

// roomDrains counts the floor drains among the items.
func roomDrains(c *Context, _ *jobfile.Floor) Value {
	if c.Job.Items == nil {
		return unknown()
	}
	n := 0
	for i := range c.Job.Items {
		if c.Job.Items[i].Kind == "drain" {
			n++
		}
	}
	return number(float64(n))
}

// roomThreshold is the step at the door. It does not arise when the job's items
// and openings are listed and none of them is a way in.
func roomThreshold(c *Context, f *jobfile.Floor) Value {
	if f != nil && f.ThresholdStepMM != nil {
		return num(f.ThresholdStepMM)
	}
	if c.Job.Items == nil || len(c.Job.Room.Openings) > 0 {
		return unknown()
	}
	for i := range c.Job.Items {
		if c.Job.Items[i].Kind == "glazed_door" {
			return unknown()
		}
	}
	return none()
}

// ofPlan gives a measure of the chain of walls, closed or not. One wall alone
// has no plan; of two walls the rest of the plan is not known.
func ofPlan(get func(*geometry.Plan) Value) func(*Context, *Subject) Value {
	return func(c *Context, _ *Subject) Value {
		if len(c.Job.Room.Walls) == 1 {
			return none()
		}
		c.Plan() // lays the walls, whether or not they close
		if len(c.plan.Corners) < 3 {
			return unknown()
		}
		return get(c.plan)
	}
}

// areaPerPerson is the floor area of a closed plan for each person, in m²; the
// floor under benches counts.
func areaPerPerson(c *Context, _ *Subject) Value {
	plan, people := c.soundPlan(), c.Job.Room.People
	if plan == nil || people == nil || *people <= 0 {
		return unknown()
	}
	mm2, err := plan.Polygon().Area()
	if err != nil {
		return unknown()
	}
	return number(mm2 / 1e6 / *people)
}

var _ = register("room", "the room as a whole", roomSubject,
	def(Number, "closing_miss_mm", "mm", "distance by which the walls miss their start on the plan", "walls laid one after another from their widths and turns; does not arise for one wall alone", "plane geometry (computed)", []string{"walls"}, ofPlan(func(p *geometry.Plan) Value { return number(p.ClosingMissMM) })),
	def(Number, "closing_turn_miss_deg", "°", "angle by which the turns of the walls miss a full round", "sum of the turns − 360, without sign; does not arise for one wall alone", "plane geometry (computed)", []string{"walls"}, ofPlan(func(p *geometry.Plan) Value { return number(math.Abs(p.ClosingMissDeg)) })),
	def(Number, "drain_count", "", "number of drains", "drains among the items; does not arise for one wall without a floor", "", []string{"/items"}, withFloor(roomDrains)),
	def(Number, "floor_fall_percent", "percent", "fall of the finished floor", "as given; does not arise for one wall without a floor", "", []string{"floor.fall_percent"}, withFloor(func(_ *Context, f *jobfile.Floor) Value {
		if f == nil {
			return unknown()
		}
		return num(f.FallPercent)
	})),
	def(Number, "threshold_step_mm", "mm", "height of the finished floor outside above the finished floor inside at the door", "as given; does not arise when the job lists no way in", "", []string{"floor.threshold_step_mm"}, withFloor(roomThreshold)),
	given(Text, "ceiling_shape", "", "form of the ceiling of a steam room", "ceiling.shape", inSteamRoom(func(c *Context, _ *Subject) Value {
		if c.Job.Room.Ceiling == nil {
			return unknown()
		}
		return text(c.Job.Room.Ceiling.Shape)
	})).oneOf("flat", "sloped", "vaulted"),
	def(Number, "ceiling_slope_percent", "percent", "slope of the sloped ceiling of a steam room", "as given; does not arise under a flat or vaulted ceiling", "", []string{"ceiling.slope_percent"}, inSteamRoom(func(c *Context, _ *Subject) Value {
		f := c.Job.Room.Ceiling
		switch {
		case f == nil:
			return unknown()
		case f.Shape == "flat" || f.Shape == "vaulted":
			return none()
		}
		return num(f.SlopePercent)
	})),
	given(Number, "height_mm", "mm", "height of a steam room at the walls", "height_mm", inSteamRoom(func(c *Context, _ *Subject) Value { return num(c.Job.Room.HeightMM) })),
	def(Number, "area_per_person_m2", "m²", "floor area of a steam room for each person", "area of the plan ÷ people; the floor under benches counts", "", []string{"people", "walls"}, inSteamRoom(areaPerPerson)),
	given(Number, "air_temperature_c", "°C", "rated air temperature of a steam room at seat height", "/climate/air_temperature_c", inSteamRoom(func(c *Context, _ *Subject) Value {
		if c.Job.Climate == nil {
			return unknown()
		}
		return num(c.Job.Climate.AirTemperatureC)
	})),
)

// benchSubjects are the benches in the order of the job.
func benchSubjects(c *Context) []Subject {
	benches := c.Job.Room.Benches
	out := c.subjects(len(benches))
	for i := range benches {
		b := &benches[i]
		out[i] = Subject{Kind: "bench", ID: b.ID, Pointer: benchPointers.at(i), Pos: b.Pos, Bench: b}
	}
	return out
}

// benchTiers returns the other benches of the same wall that share a stretch of
// it with b. ok is false when a place or size is missing, so that this cannot be told.
func benchTiers(c *Context, b *jobfile.Bench) (tiers []*jobfile.Bench, ok bool) {
	for i := range c.Job.Room.Benches {
		o := &c.Job.Room.Benches[i]
		if o == b || o.Wall != b.Wall {
			continue
		}
		for _, x := range []*jobfile.Bench{b, o} {
			if x.XMM == nil || x.LengthMM == nil || x.DepthMM == nil || x.HeightMM == nil {
				return nil, false
			}
		}
		if math.Min(*b.XMM+*b.LengthMM, *o.XMM+*o.LengthMM)-math.Max(*b.XMM, *o.XMM) > geometry.SameMM {
			tiers = append(tiers, o)
		}
	}
	return tiers, true
}

// seatRise is the height of a seat above what one steps on in front of it: the
// highest lower tier that reaches further into the room, else the floor.
func seatRise(c *Context, b *jobfile.Bench) Value {
	tiers, ok := benchTiers(c, b)
	if !ok || b.HeightMM == nil {
		return unknown()
	}
	step := 0.0
	for _, o := range tiers {
		if *o.DepthMM > *b.DepthMM && *o.HeightMM < *b.HeightMM {
			step = math.Max(step, *o.HeightMM)
		}
	}
	return number(*b.HeightMM - step)
}

// seatDepth is the depth of a seat that no higher tier stands on.
func seatDepth(c *Context, b *jobfile.Bench) Value {
	tiers, ok := benchTiers(c, b)
	if !ok || b.DepthMM == nil {
		return unknown()
	}
	taken := 0.0
	for _, o := range tiers {
		if *o.DepthMM < *b.DepthMM && *o.HeightMM > *b.HeightMM {
			taken = math.Max(taken, *o.DepthMM)
		}
	}
	return number(*b.DepthMM - taken)
}

// headroom is the height from a seat to the ceiling at its wall; the slope of
// the ceiling is left out of account.
func headroom(c *Context, b *jobfile.Bench) Value {
	f := c.Face(b.Wall)
	if f == nil || f.Kind != WallFace || f.Height == nil || b.HeightMM == nil {
		return unknown()
	}
	return number(*f.Height - *b.HeightMM)
}

// benchInside is how far a bench lies inside the plan at its worst corner.
func benchInside(c *Context, b *jobfile.Bench) Value {
	r, err := c.Room()
	if err != nil {
		return unknown().note(err.Error())
	}
	i, ok := c.room3().benches[b]
	if !ok {
		return unknown()
	}
	return clearLength(r.SolidInside(i))
}

func ofBench(get func(*Context, *jobfile.Bench) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value { return get(c, s.Bench) }
}

var _ = register("bench", "a bench", benchSubjects,
	def(Number, "seat_rise_mm", "mm", "height of a steam room's seat above the floor or above the tier in front of it", "height of the seat − height of the highest lower tier of the same wall that reaches further into the room", "", []string{"height_mm", "x_mm", "depth_mm", "/room/benches"}, inSteamRoom(ofBench(seatRise))),
	def(Number, "seat_depth_mm", "mm", "depth of a steam room's seat in front of the wall or of the tier above it", "depth of the bench − depth of the deepest higher tier that stands on it", "", []string{"depth_mm", "x_mm", "height_mm", "/room/benches"}, inSteamRoom(ofBench(seatDepth))),
	def(Number, "headroom_mm", "mm", "height from a steam room's seat to the ceiling at the wall", "height of the wall − height of the seat; the slope of the ceiling is left out", "", []string{"height_mm", "/room/height_mm"}, inSteamRoom(ofBench(headroom))),
	def(Number, "inside_room_mm", "mm", "least distance that the bench lies inside the walls", "at its worst corner on the plan; negative outside", "plane geometry (computed)", []string{"wall", "x_mm", "length_mm", "depth_mm", "height_mm", "/room/walls"}, ofBench(benchInside)),
	given(Number, "seat_fall_percent", "percent", "fall of the seat to the front", "fall_percent", ofBench(func(_ *Context, b *jobfile.Bench) Value { return num(b.FallPercent) })),
)

var _ = register("drain", "a drain", itemsOf("drain"),
	given(Flag, "odour_trap", "", "whether the drain holds a water seal", "odour_trap", func(_ *Context, s *Subject) Value { return flag(s.Item.OdourTrap) }),
	given(Number, "flange_mm", "mm", "width of the flange that the waterproofing bonds to", "flange_mm", func(_ *Context, s *Subject) Value { return num(s.Item.FlangeMM) }),
)
