package measure

import (
	"wetrule/lint/calc/heating"
	"wetrule/lint/jobfile"
)

// heatSurfaceRestC is the air temperature of a room at rest, from which its heating warms it up, when the job gives none.
const heatSurfaceRestC = 20

const heatSurfaceSteady = "steady state, heating at full power, all heat through the surface"

// heatSurfaceFaces returns the faces that carry a heating cable or are said to be heated.
func heatSurfaceFaces(c *Context) []Subject {
	carries := map[string]bool{}
	for i := range c.Job.Items {
		if it := &c.Job.Items[i]; it.Kind == "heating_cable" {
			carries[it.Face] = true
		}
	}
	var out []Subject
	for _, f := range c.Faces {
		if carries[f.ID] || f.Heated != nil && *f.Heated {
			out = append(out, Subject{Kind: "heated_face", ID: f.ID, Pointer: f.Pointer, Pos: f.Pos, Face: f})
		}
	}
	return out
}

// heatedFace is what several measures of a heated face share, each worked out once.
type heatedFace struct {
	cables                        []*jobfile.Item
	field                         heatSurfaceField
	fieldV                        Value
	density, limit, rest, running Value
	has                           heatedFaceHas
}

type heatedFaceHas struct{ field, density, limit, rest, running bool }

func (c *Context) heatedFace(s *Subject) *heatedFace {
	if c.heated == nil {
		c.heated = make([]*heatedFace, len(c.Faces))
	}
	h := &c.heated[s.Face.number]
	if *h == nil {
		*h = &heatedFace{}
		for i := range c.Job.Items {
			if it := &c.Job.Items[i]; it.Kind == "heating_cable" && it.Face == s.Face.ID {
				(*h).cables = append((*h).cables, it)
			}
		}
	}
	return *h
}

func heatSurfaceCables(c *Context, s *Subject) []*jobfile.Item { return c.heatedFace(s).cables }

// once returns a value that is worked out the first time.
func once(has *bool, v *Value, work func() Value) Value {
	if !*has {
		*has, *v = true, work()
	}
	return *v
}

func heatSurfaceWay(f *Face) heating.Surface {
	switch f.Kind {
	case FloorFace, SeatFace:
		return heating.Upward
	case CeilingFace:
		return heating.Downward
	}
	return heating.Upright
}

// heatSurfacePitch is the range of pitches of a cable in mm.
func heatSurfacePitch(k *cable) (w heating.Window, ok bool) {
	switch {
	case k.pitchMin == nil && k.pitchMax == nil:
		return w, false
	case k.pitchMin == nil:
		return heating.Window{Lo: *k.pitchMax, Hi: *k.pitchMax}, true
	case k.pitchMax == nil:
		return heating.Window{Lo: *k.pitchMin, Hi: *k.pitchMin}, true
	}
	return heating.Window{Lo: min(*k.pitchMin, *k.pitchMax), Hi: max(*k.pitchMin, *k.pitchMax)}, true
}

// heatSurfaceField is what the cables of a face heat.
type heatSurfaceField struct {
	areaM2 float64
	runs   []heatSurfaceRun
}

type heatSurfaceRun struct {
	id              string
	pitchMM, areaM2 float64
}

// steps say how the field was worked out.
func (f heatSurfaceField) steps() []string {
	out := make([]string, len(f.runs))
	for i, r := range f.runs {
		out[i] = said("%s: hull of a run grown by half the mean pitch of %s mm = %s m²", r.id, figure(r.pitchMM), figure(r.areaM2))
	}
	return out
}

// heatSurfaceFieldOf adds up the fields of all runs of all cables of a face. v is what to return when they cannot be told.
func heatSurfaceFieldOf(c *Context, s *Subject) (heatSurfaceField, Value) {
	h := c.heatedFace(s)
	if !h.has.field {
		h.has.field = true
		h.field, h.fieldV = heatSurfaceFieldOver(c, h.cables)
	}
	return h.field, h.fieldV
}

func heatSurfaceFieldOver(c *Context, cables []*jobfile.Item) (field heatSurfaceField, v Value) {
	if len(cables) == 0 {
		return field, unknown().note("no heating cable names this face")
	}
	for _, it := range cables {
		k := c.cable(it)
		if k.why != "" {
			return field, unknown().note("the cable " + it.ID + ": " + k.why)
		}
		pitch, ok := heatSurfacePitch(k)
		if !ok {
			return field, none()
		}
		mean := (pitch.Lo + pitch.Hi) / 2
		for _, run := range it.Runs {
			a, err := heating.FieldAreaM2(run, mean)
			if err != nil {
				return field, unknown().note("the cable " + it.ID + ": " + err.Error())
			}
			field.areaM2 += a
			field.runs = append(field.runs, heatSurfaceRun{it.ID, mean, a})
		}
	}
	return field, number(field.areaM2)
}

// heatSurfacePower is the power in W of what is laid in the runs of a face's cables; surplus elsewhere does not count, and a cable that was
// cut gives more for each metre.
func heatSurfacePower(c *Context, s *Subject) (w float64, steps func() []string, ok bool) {
	type part struct {
		id                   string
		wattsPerM, laidM, pw float64
	}
	var parts []part
	for _, it := range heatSurfaceCables(c, s) {
		_, laid, known := heatingInstalled(c, it)
		if !known || it.WattsPerM == nil {
			return 0, nil, false
		}
		p := *it.WattsPerM
		if it.SurplusPlace == "cut_off" {
			if it.SuppliedLengthM == nil || it.SurplusLengthM == nil {
				return 0, nil, false
			}
			var err error
			if p, err = heating.CutWattsPerM(p, *it.SuppliedLengthM, *it.SuppliedLengthM-*it.SurplusLengthM); err != nil {
				return 0, nil, false
			}
		}
		x, err := heating.RatedPowerW(p, laid)
		if err != nil {
			return 0, nil, false
		}
		w += x
		parts = append(parts, part{it.ID, p, laid, x})
	}
	return w, func() []string {
		out := make([]string, len(parts))
		for i, p := range parts {
			out[i] = said("%s: %s W/m · %s m = %s W", p.id, figure(p.wattsPerM), figure(p.laidM), figure(p.pw))
		}
		return out
	}, true
}

// heatSurfaceDensity is the mean power in W/m² of the heated field of a face.
func heatSurfaceDensity(c *Context, s *Subject) Value {
	h := c.heatedFace(s)
	return once(&h.has.density, &h.density, func() Value { return heatSurfaceDensityOver(c, s) })
}

func heatSurfaceDensityOver(c *Context, s *Subject) Value {
	field, v := heatSurfaceFieldOf(c, s)
	if v.State != Known {
		return v
	}
	w, steps, ok := heatSurfacePower(c, s)
	if !ok {
		return unknown().note("the power of the cable is not known")
	}
	q := w / field.areaM2 // a field that could be told is never empty
	return c.worked(number(q), func() []string {
		out := append(steps(), field.steps()...)
		return append(out, said("q = P/A = %s W / %s m² = %s W/m²", figure(w), figure(field.areaM2), figure(q)))
	})
}

// heatSurfaceFit compares the area that the length of cable covers at its pitch with the field that its runs enclose.
func heatSurfaceFit(c *Context, s *Subject) Value {
	field, v := heatSurfaceFieldOf(c, s)
	if v.State != Known {
		return v
	}
	type part struct {
		id              string
		pitch           heating.Window
		lengthM, lo, hi float64
	}
	var cover heating.Window
	var parts []part
	for _, it := range heatSurfaceCables(c, s) {
		length := 0.0
		switch {
		case it.InstalledLengthM != nil:
			length = *it.InstalledLengthM
		case it.SuppliedLengthM != nil && it.SurplusLengthM != nil:
			length = *it.SuppliedLengthM - *it.SurplusLengthM
		default:
			return unknown().note("the length laid of " + it.ID + " is not given; the runs do not prove it")
		}
		pitch, _ := heatSurfacePitch(c.cable(it)) // the field has checked it
		lo, err1 := heating.AreaM2(pitch.Lo, length)
		hi, err2 := heating.AreaM2(pitch.Hi, length)
		if err1 != nil || err2 != nil {
			return unknown().note("the length laid of " + it.ID + " is not above zero")
		}
		cover.Lo, cover.Hi = cover.Lo+lo, cover.Hi+hi
		parts = append(parts, part{it.ID, pitch, length, lo, hi})
	}
	d, err := heating.CoverDifferencePercent(cover, field.areaM2)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.worked(number(d), func() []string {
		out := field.steps()
		for _, p := range parts {
			out = append(out, said("%s: s·L = %s to %s mm · %s m = %s to %s m²", p.id, figure(p.pitch.Lo), figure(p.pitch.Hi), figure(p.lengthM), figure(p.lo), figure(p.hi)))
		}
		return append(out, said("covered %s to %s m² against a field of %s m²: %s %%", figure(cover.Lo), figure(cover.Hi), figure(field.areaM2), figure(d)))
	})
}

// heatSurfaceRest is the air temperature at rest and the remark that goes with it.
func heatSurfaceRest(c *Context) (airC float64, note string) {
	if k := c.Job.Climate; k != nil && k.RestingAirTemperatureC != nil {
		return *k.RestingAirTemperatureC, ""
	}
	return heatSurfaceRestC, "taken: room at rest at 20 °C (give climate.resting_air_temperature_c)"
}

func heatSurfaceAir(c *Context) Value {
	if c.Job.Climate == nil {
		return unknown()
	}
	return num(c.Job.Climate.AirTemperatureC)
}

// heatSurfaceFree is the temperature in °C that a surface reaches without control in a room of roomC.
func heatSurfaceFree(c *Context, s *Subject, roomC float64) Value {
	q := heatSurfaceDensity(c, s)
	if q.State != Known {
		return q
	}
	t, err := heating.SurfaceC(heatSurfaceWay(s.Face), roomC, q.Num)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.explained(number(t), heatSurfaceSteady, func() []string {
		form := "θF = θi + (q/8.92)^(1/1.1)"
		switch heatSurfaceWay(s.Face) {
		case heating.Upright:
			form = "θF = θi + q/8"
		case heating.Downward:
			form = "θF = θi + q/6"
		}
		return append(q.Steps(), said("%s with θi %s °C, q %s W/m² = %s °C (EN 1264-2)", form, figure(roomC), figure(q.Num), figure(t)))
	})
}

// heatSurfaceFreeAtRest is heatSurfaceFree in the room at rest.
func heatSurfaceFreeAtRest(c *Context, s *Subject) Value {
	h := c.heatedFace(s)
	return once(&h.has.rest, &h.rest, func() Value {
		air, _ := heatSurfaceRest(c)
		return heatSurfaceFree(c, s, air)
	})
}

func heatSurfaceResting(c *Context, s *Subject) Value {
	_, note := heatSurfaceRest(c)
	v := heatSurfaceFreeAtRest(c, s)
	if v.State == Known {
		return c.note(v, joined(v.Note()+", without control", note))
	}
	return v
}

// heatSurfaceLimit is the highest temperature in °C at which a control switches the heating of a face off. It does not arise when no sensor
// controls its cables.
func heatSurfaceLimit(c *Context, s *Subject) Value {
	h := c.heatedFace(s)
	return once(&h.has.limit, &h.limit, func() Value { return heatSurfaceLimitOf(c, s) })
}

func heatSurfaceLimitOf(c *Context, s *Subject) Value {
	cables := heatSurfaceCables(c, s)
	if len(cables) == 0 {
		return unknown().note("no heating cable names this face")
	}
	highest, found := 0.0, false
	for _, it := range cables {
		sensors := heatingSensors(c, &Subject{Item: it})
		switch {
		case sensors.State != Known:
			return sensors
		case sensors.Num == 0:
			return none()
		}
		for i := range c.Job.Items {
			x := &c.Job.Items[i]
			if x.Kind != "heating_sensor" || x.Cable != it.ID {
				continue
			}
			if x.LimitC == nil {
				return unknown().note("the switch-off temperature of " + x.ID + " is not given").at(itemPointers.at(i))
			}
			if !found || *x.LimitC > highest {
				highest, found = *x.LimitC, true
			}
		}
	}
	return number(highest)
}

// heatSurfaceHeld lays a control over a temperature that is reached without one.
func heatSurfaceHeld(c *Context, s *Subject, roomC float64, free Value) Value {
	limit := heatSurfaceLimit(c, s)
	switch {
	case free.State != Known:
		return free
	case limit.State == Unknown:
		return limit
	case limit.State == None:
		return free.note(free.Note() + ", without control, as no sensor controls the cable")
	}
	t, err := heating.ControlledC(roomC, free.Num, limit.Num)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.with(number(t), heatSurfaceSteady, limit.At(), func() []string {
		return append(free.Steps(), said("switched off at %s °C, no colder than the room at %s °C: %s °C", figure(limit.Num), figure(roomC), figure(t)))
	})
}

func heatSurfaceRunning(c *Context, s *Subject) Value {
	h := c.heatedFace(s)
	return once(&h.has.running, &h.running, func() Value {
		air := heatSurfaceAir(c)
		if air.State != Known {
			return air
		}
		return heatSurfaceHeld(c, s, air.Num, heatSurfaceFree(c, s, air.Num))
	})
}

func heatSurfaceRise(c *Context, s *Subject) Value {
	v := heatSurfaceRunning(c, s)
	if v.State != Known {
		return v
	}
	air := heatSurfaceAir(c).Num // known, since the temperature is
	return c.explained(number(v.Num-air), v.Note(), func() []string {
		return append(v.Steps(), said("%s °C − %s °C of the air = %s K", figure(v.Num), figure(air), figure(v.Num-air)))
	})
}

// heatSurfaceRampNeeded is the time in h that the first heat-up takes at 5 K a day, from the room at rest to the warmest that the heating
// makes the surface then.
func heatSurfaceRampNeeded(c *Context, s *Subject) Value {
	air, note := heatSurfaceRest(c)
	v := heatSurfaceFreeAtRest(c, s)
	if v.State != Known {
		return v
	}
	if limit := heatSurfaceLimit(c, s); limit.State == Known {
		v = heatSurfaceHeld(c, s, air, v)
	} else {
		note = joined(note, "warmest surface without control") // which needs the longest ramp
	}
	if v.State != Known {
		return v
	}
	days, err := heating.RampDays(air, v.Num, heating.RampKPerDay)
	if err != nil {
		return unknown().note(err.Error())
	}
	out := c.worked(number(float64(24*days)), func() []string {
		return append(v.Steps(), said("(%s − %s) K at 5 K a day: %d days (BS 5385-3)", figure(v.Num), figure(air), days))
	})
	if note != "" {
		out = out.note(note)
	}
	return out
}

// heatSurfaceRamp is how long the restart of the heating of a face takes, in h, by planned (0) or recorded (1) times.
func heatSurfaceRamp(times int) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		g := c.timetable().ofFace(taskNameOf("restart_heating"), int32(s.Face.number))
		t := g.times[times]
		switch {
		case g.none():
			return unknown().note("the task restart heating is missing")
		case t.noStart || t.noFinish:
			return unknown().note("the task restart heating lacks its start or finish")
		}
		v := number(waitHours(t.finish.sub(t.start)))
		if t.start != 0 {
			v = v.at(startOf(t.startOf, times).at)
		}
		return v
	}
}

const heatSurfaceSource = "EN 1264-2 and ISO 11855-2, basic characteristic (secondary; made for water systems)"

var heatSurfaceNeeds = []string{"/items"}

var _ = register("heated_face", "a face that carries a heating cable or is said to be heated", heatSurfaceFaces,
	def(Text, "face_kind", "", "sort of face", "by its place", "", nil, func(_ *Context, s *Subject) Value { return text(string(s.Face.Kind)) }).oneOf("wall", "floor", "ceiling", "seat", "riser"),
	def(Number, "field_area_m2", "m²", "area of the field that the runs heat", "convex hull of each run, grown by half the mean pitch; does not arise for a single straight run", "plane geometry (computed)", heatSurfaceNeeds, func(c *Context, s *Subject) Value {
		field, v := heatSurfaceFieldOf(c, s)
		if v.State != Known {
			return v
		}
		return v.worked(field.steps)
	}),
	def(Number, "mean_density_w_m2", "W/m²", "mean power of the heated field for each square metre", "linear power × length laid, of all cables of the face, over the area of the field; a cable that was cut counts with (L0/L)² of its W/m", "installation guides (secondary); Ohm's law (computed)", heatSurfaceNeeds, heatSurfaceDensity),
	def(Number, "length_fit_percent", "percent", "area that the length laid covers at its pitch, against the field of the runs", "100 × (pitch × length / field − 1), 0 when the field lies between the least and the widest pitch; the length is installed_length_m, else supplied less surplus", "installation guides, A = s·L/1000 (secondary)", heatSurfaceNeeds, heatSurfaceFit),
	def(Number, "room_air_c", "°C", "rated air temperature of the room", "as given", "", []string{"/climate/air_temperature_c"}, func(c *Context, _ *Subject) Value { return heatSurfaceAir(c) }),
	def(Number, "limit_c", "°C", "temperature at which the control switches the heating off", "highest limit_c of the sensors that name a cable of the face; does not arise without a sensor", "", heatSurfaceNeeds, heatSurfaceLimit),
	def(Number, "surface_resting_c", "°C", "temperature of the surface when the heating warms the room at rest, without control", "θi + (q/8.92)^(1/1.1) for floors and seats, θi + q/8 for upright faces, θi + q/6 for ceilings; θi as given for the room at rest, else 20 °C", heatSurfaceSource, append([]string{"/climate/resting_air_temperature_c"}, heatSurfaceNeeds...), heatSurfaceResting),
	def(Number, "surface_running_c", "°C", "temperature of the surface in the running room, with its control", "the same with the room's rated air temperature, no warmer than the switch-off temperature and no colder than the room", heatSurfaceSource, append([]string{"/climate/air_temperature_c"}, heatSurfaceNeeds...), heatSurfaceRunning),
	def(Number, "running_rise_k", "K", "by how much the heating keeps the surface warmer than the air of the running room", "surface in the running room − rated air temperature", heatSurfaceSource, append([]string{"/climate/air_temperature_c"}, heatSurfaceNeeds...), heatSurfaceRise),
	def(Number, "ramp_needed_h", "h", "time that the first heat-up takes at 5 K a day", "whole days from the room at rest to the warmest that the heating makes the surface", "BS 5385-3 (secondary)", heatSurfaceNeeds, heatSurfaceRampNeeded),
	def(Number, "planned_ramp_h", "h", "planned time of the restart of the heating", "from the earliest start to the latest finish of the tasks restart_heating that count for the face", "", []string{"/tasks"}, heatSurfaceRamp(0)),
	def(Number, "actual_ramp_h", "h", "recorded time of the restart of the heating", "from the earliest start to the latest finish of the tasks restart_heating that count for the face", "", []string{"/tasks"}, heatSurfaceRamp(1)),
)
