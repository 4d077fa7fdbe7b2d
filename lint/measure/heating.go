package measure

import (
	"math"
	"slices"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/calc/heating"
	"wetrule/lint/jobfile"
)

// heatingRuns calls f with the geometry of a cable; runs that cannot be measured
// make the value Unknown.
func heatingRuns(f func(*cable, *jobfile.Item) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		k := c.cable(s.Item)
		switch {
		case k == nil:
			return unknown()
		case k.why != "":
			return unknown().note(k.why)
		}
		return f(k, s.Item)
	}
}

// heatingArises turns a length that the runs may not have into a value.
func heatingArises(p *float64) Value {
	if p == nil {
		return none()
	}
	return number(*p)
}

func heatingFaceKind(c *Context, s *Subject) Value {
	if f := c.Face(s.Item.Face); f != nil {
		return text(string(f.Kind))
	}
	return unknown()
}

func heatingCircuit(c *Context, s *Subject) *jobfile.Circuit { return c.circuit(s.Item.Circuit) }

func heatingProtection(c *Context, s *Subject) Value {
	if k := heatingCircuit(c, s); k != nil {
		return text(k.Protection)
	}
	return unknown()
}

// heatingBendNeeded is the least bend radius in mm: the maker's figure, else six
// times the outside diameter.
//
// Source: 6 × or 8 × the outside diameter in installation guides (secondary).
func heatingBendNeeded(it *jobfile.Item) Value {
	switch {
	case it.BendRadiusMinMM != nil:
		return number(*it.BendRadiusMinMM).note("by the maker")
	case it.CableODMM != nil:
		if r, err := heating.BendRadiusMM(*it.CableODMM); err == nil {
			return number(r).note("6 × outside diameter; the maker's figure is not given")
		}
	}
	return unknown()
}

// heatingInstalled is the length laid, in m, as a range: the length given, else
// the length of the runs with their bends rounded as far as they can be (lo) and
// with sharp corners (hi), since the job does not say which of them was drawn.
func heatingInstalled(c *Context, it *jobfile.Item) (lo, hi float64, ok bool) {
	if l := it.InstalledLengthM; l != nil {
		return *l, *l, true
	}
	k := c.cable(it)
	if k == nil || k.why != "" {
		return 0, 0, false
	}
	return k.roundedMM / 1000, k.lengthMM / 1000, true
}

func heatingInstalledNote(it *jobfile.Item, lo, hi float64) string {
	if it.InstalledLengthM != nil {
		return ""
	}
	return said("installed length taken from the runs: %s m with rounded bends, %s m with sharp corners", figure(lo), figure(hi))
}

// heatingLengthDifference compares what was laid and what is left over with what
// was supplied, in percent of the supplied length.
//
// Source: a series cable of resistance R gives U²/R, so a shorter one gives more
// power on less length (Ohm's law).
func heatingLengthDifference(c *Context, s *Subject) Value {
	it := s.Item
	lo, hi, ok := heatingInstalled(c, it)
	if !ok || it.SurplusLengthM == nil || it.SuppliedLengthM == nil {
		return unknown()
	}
	d, err := heating.LengthDifferencePercent(heating.Window{Lo: lo, Hi: hi}, *it.SurplusLengthM, *it.SuppliedLengthM)
	if err != nil {
		return unknown()
	}
	return c.note(number(d), heatingInstalledNote(it, lo, hi))
}

// heatingPlatePower compares the power by plate resistance and circuit voltage,
// U²/R, with the power by linear rating and supplied length, in percent.
//
// Source: Ohm's law (computed).
func heatingPlatePower(c *Context, s *Subject) Value {
	it, k := s.Item, heatingCircuit(c, s)
	if k == nil || k.VoltageV == nil || it.ResistanceOhm == nil || it.WattsPerM == nil || it.SuppliedLengthM == nil {
		return unknown()
	}
	rated, err1 := heating.RatedPowerW(*it.WattsPerM, *it.SuppliedLengthM)
	p, err2 := heating.PowerW(*k.VoltageV, *it.ResistanceOhm)
	if err1 != nil || err2 != nil {
		return unknown()
	}
	d, err := heating.DeviationPercent(p, rated)
	if err != nil {
		return unknown()
	}
	return c.note(number(d), said("%s W by resistance and voltage, %s W by linear power and length", heatingWatts(p), heatingWatts(rated)))
}

func heatingWatts(w float64) string { return FormatNumber(math.Round(w*10) / 10) }

// heatingDensity is the power for each square metre where the runs lie closest:
// q = p/s, linear power over pitch.
//
// Source: installation guides, s = 1000·A/L and so q = p/s (secondary).
func heatingDensity(k *cable, it *jobfile.Item) Value {
	switch {
	case k.pitchMin == nil:
		return none()
	case it.WattsPerM == nil:
		return unknown()
	case *k.pitchMin <= geometry.SameMM:
		return unknown().note("the runs touch, so there is no pitch")
	}
	q, err := heating.DensityWM2(*it.WattsPerM, *k.pitchMin)
	if err != nil {
		return unknown()
	}
	return number(q).note("at the least pitch, " + FormatNumber(*k.pitchMin) + " mm")
}

// heatingReadOf says whether a record is a reading of a cable.
func heatingReadOf(r *jobfile.Record, id string) bool {
	return r.Record == "cable_reading" && r.Item == id
}

// heatingStages are the points at which a cable is read, in order of work.
var heatingStages = []string{"reel", "laid", "covered", "handover"}

// heatingReading says whether a reading of a cable is on record with resistance
// and insulation. A reading that is missing is a fact only once a later one was
// taken; before that the job just does not say.
func heatingReading(when string) func(*Context, *Subject) Value {
	after := heatingStages[slices.Index(heatingStages, when)+1:]
	return func(c *Context, s *Subject) Value {
		there, later := false, false
		for i := range c.Job.Records {
			r := &c.Job.Records[i]
			if !heatingReadOf(r, s.Item.ID) {
				continue
			}
			if r.When == when {
				there = true
				if r.ResistanceOhm != nil && r.InsulationMOhm != nil {
					return yes(true)
				}
			}
			later = later || slices.Contains(after, r.When)
		}
		switch {
		case there:
			return unknown().note("the reading lacks the resistance or the insulation resistance")
		case later:
			return yes(false).note("a later reading was taken")
		}
		return unknown().note("no such reading is on record")
	}
}

// heatingExtreme picks the lowest (sign 1) or highest (sign −1) figure among the
// readings of a cable. A reading for which f has no figure is passed over; strict
// makes it Unknown instead.
func heatingExtreme(sign float64, strict bool, f func(*jobfile.Item, *jobfile.Record) *float64) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		var best *jobfile.Record
		value := math.Inf(1)
		for i := range c.Job.Records {
			r := &c.Job.Records[i]
			if !heatingReadOf(r, s.Item.ID) {
				continue
			}
			p := f(s.Item, r)
			switch {
			case p == nil && strict:
				return unknown().note("a reading lacks it")
			case p != nil && sign**p < value:
				value, best = sign**p, r
			}
		}
		if best == nil {
			return unknown()
		}
		return c.note(number(sign*value), "reading "+Words(best.When))
	}
}

// heatingDeviation is how far a reading lies from the plate, in percent of the plate.
func heatingDeviation(it *jobfile.Item, r *jobfile.Record) *float64 {
	if it.ResistanceOhm == nil || r.ResistanceOhm == nil {
		return nil
	}
	d, err := heating.DeviationPercent(*r.ResistanceOhm, *it.ResistanceOhm)
	if err != nil {
		return nil
	}
	return &d
}

// heatingInsulationFloor returns the least insulation resistance in MΩ and the
// least test voltage in V DC for a circuit.
//
// Source: IEC 60364-6:2016 Table 6.1 (read).
func heatingInsulationFloor(k *jobfile.Circuit) (mohm, volts float64, ok bool) {
	if k == nil || k.Protection == "" {
		return 0, 0, false
	}
	extraLow, voltage := k.Protection == "selv" || k.Protection == "pelv", 0.0
	if k.VoltageV != nil {
		voltage = *k.VoltageV
	}
	need, err := heating.InsulationFor(extraLow, voltage)
	return need.MOhm, need.TestVolts, err == nil
}

func heatingPanelThickness(c *Context, s *Subject) (mm float64, ok bool) {
	f := c.Face(s.Item.Face)
	if f == nil || f.Panel == nil || f.Panel.ThicknessMM == nil {
		return 0, false
	}
	return *f.Panel.ThicknessMM, true
}

// heatingPanelShare is a share of the thickness of the panel behind a cable.
func heatingPanelShare(parts float64) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		t, ok := heatingPanelThickness(c, s)
		if !ok {
			return unknown()
		}
		return number(t / parts)
	}
}

// heatingSensors counts the sensors that name a cable. While a sensor names no
// cable, a cable without one is not known to lack it.
func heatingSensors(c *Context, s *Subject) Value {
	n, open := 0, false
	for i := range c.Job.Items {
		if it := &c.Job.Items[i]; it.Kind == "heating_sensor" {
			open = open || it.Cable == ""
			if it.Cable == s.Item.ID {
				n++
			}
		}
	}
	if n == 0 && open {
		return unknown().note("a heating sensor does not say which cable it controls")
	}
	return number(float64(n))
}

func heatingCover(f func(*jobfile.GrooveCover) Value) func(*Context, *Subject) Value {
	return func(_ *Context, s *Subject) Value {
		if s.Item.Cover == nil {
			return unknown()
		}
		return f(s.Item.Cover)
	}
}

var heatingPanelNeeds = []string{"face", "/panel/thickness_mm"}

var _ = register("heating_cable", "a heating cable in grooves of a face", itemsOf("heating_cable"),
	def(Text, "face_kind", "", "sort of face that the cable heats", "looked up by the face", "", []string{"face"}, heatingFaceKind).oneOf("wall", "floor", "ceiling", "seat", "riser"),
	def(Number, "pitch_min_mm", "mm", "least distance between neighbouring runs", "least axis distance between legs that are not next to each other, other heating cables of the face included; does not arise for a single straight run", "plane geometry (computed)", []string{"runs"}, heatingRuns(func(k *cable, _ *jobfile.Item) Value {
		v := heatingArises(k.pitchMin)
		if k.nearest != "" {
			v = v.note("to the cable " + k.nearest)
		}
		return v
	})),
	def(Number, "pitch_max_mm", "mm", "widest strip between neighbouring runs", "from each run to its neighbour on either side on its own, so that a strip left out is seen; does not arise without runs alongside", "plane geometry (computed)", []string{"runs"}, heatingRuns(func(k *cable, _ *jobfile.Item) Value { return heatingArises(k.pitchMax) })),
	def(Number, "bend_radius_mm", "mm", "radius of the tightest bend", "largest radius that fits the corners of the runs, two bends on one leg sharing it; half the pitch at a U-turn; does not arise without bends", "plane geometry (computed)", []string{"runs"}, heatingRuns(func(k *cable, _ *jobfile.Item) Value { return heatingArises(k.bendMM) })),
	def(Number, "bend_radius_needed_mm", "mm", "the least bend radius of the cable", "the maker's figure, else 6 × outside diameter", "installation guides, 6 × or 8 × the diameter (secondary)", []string{"bend_radius_min_mm", "cable_od_mm"}, func(_ *Context, s *Subject) Value { return heatingBendNeeded(s.Item) }),
	def(Flag, "crosses", "", "whether the cable crosses or touches itself or another heating cable of the face", "axes compared leg by leg", "plane geometry (computed)", []string{"runs"}, heatingRuns(func(k *cable, _ *jobfile.Item) Value { return yes(k.crosses) })),
	def(Number, "installed_length_m", "m", "length laid in the grooves", "as given, else the length of the runs with sharp corners", "plane geometry (computed)", []string{"installed_length_m", "runs"}, func(c *Context, s *Subject) Value {
		lo, hi, ok := heatingInstalled(c, s.Item)
		if !ok {
			return unknown()
		}
		return number(hi).note(heatingInstalledNote(s.Item, lo, hi))
	}),
	def(Number, "length_difference_percent", "percent", "installed and surplus length against the supplied length", "100 × (installed + surplus − supplied) / supplied; without an installed length the runs count from rounded bends to sharp corners, and a supplied length within that range gives 0", "Ohm's law: a shortened cable gives more power for each metre (computed)", []string{"surplus_length_m", "supplied_length_m", "runs"}, heatingLengthDifference),
	def(Text, "surplus_place", "", "where the surplus lies", "as given; does not arise when nothing is left over", "", []string{"surplus_place", "surplus_length_m"}, func(_ *Context, s *Subject) Value {
		if l := s.Item.SurplusLengthM; l != nil && *l == 0 {
			return none()
		}
		return text(s.Item.SurplusPlace)
	}).oneOf("in_groove", "in_panel_coiled", "outside_panel", "cut_off"),
	def(Number, "resistance_lowest_percent", "percent", "lowest resistance reading against the plate", "100 × (reading / plate − 1) of the lowest reading", "", []string{"/records", "resistance_ohm"}, heatingExtreme(1, false, heatingDeviation)),
	def(Number, "resistance_highest_percent", "percent", "highest resistance reading against the plate", "100 × (reading / plate − 1) of the highest reading", "", []string{"/records", "resistance_ohm"}, heatingExtreme(-1, false, heatingDeviation)),
	def(Number, "plate_power_difference_percent", "percent", "power by plate resistance and voltage against power by linear rating and length", "100 × (U²/R / (W/m × supplied length) − 1)", "Ohm's law (computed)", []string{"resistance_ohm", "watts_per_m", "supplied_length_m", "circuit", "/circuits/{circuit}/voltage_v"}, heatingPlatePower),
	given(Number, "watts_per_m", "W/m", "rated power for each metre", "watts_per_m", func(_ *Context, s *Subject) Value { return num(s.Item.WattsPerM) }),
	def(Number, "power_density_w_m2", "W/m²", "power for each square metre where the runs lie closest", "linear power / least pitch; does not arise for a single straight run", "installation guides, q = p/s (secondary)", []string{"watts_per_m", "runs"}, heatingRuns(heatingDensity)),
	given(Number, "exit_diameter_mm", "mm", "diameter of the hole by which the cable leaves the face", "exit_diameter_mm", func(_ *Context, s *Subject) Value { return num(s.Item.ExitDiameterMM) }),
	given(Number, "groove_width_mm", "mm", "width of the groove", "groove_width_mm", func(_ *Context, s *Subject) Value { return num(s.Item.GrooveWidthMM) }),
	given(Number, "groove_depth_mm", "mm", "depth of the groove", "groove_depth_mm", func(_ *Context, s *Subject) Value { return num(s.Item.GrooveDepthMM) }),
	def(Number, "groove_depth_needed_mm", "mm", "the depth that the cable and its cover take up", "outside diameter + cover over the cable", "", []string{"cable_od_mm", "cover.thickness_mm"}, func(_ *Context, s *Subject) Value {
		it := s.Item
		if it.CableODMM == nil || it.Cover == nil || it.Cover.ThicknessMM == nil {
			return unknown()
		}
		return number(*it.CableODMM + *it.Cover.ThicknessMM)
	}),
	def(Number, "panel_left_mm", "mm", "foam left behind the groove", "thickness of the panel − depth of the groove", "", append([]string{"groove_depth_mm"}, heatingPanelNeeds...), func(c *Context, s *Subject) Value {
		t, ok := heatingPanelThickness(c, s)
		if !ok || s.Item.GrooveDepthMM == nil {
			return unknown()
		}
		return number(t - *s.Item.GrooveDepthMM)
	}),
	def(Number, "panel_half_mm", "mm", "half the thickness of the panel", "thickness / 2", "", heatingPanelNeeds, heatingPanelShare(2)),
	def(Number, "panel_third_mm", "mm", "a third of the thickness of the panel", "thickness / 3", "", heatingPanelNeeds, heatingPanelShare(3)),
	def(Number, "groove_web_mm", "mm", "foam left standing between neighbouring grooves", "least pitch − width of the groove; does not arise for a single straight run", "plane geometry (computed)", []string{"runs", "groove_width_mm"}, heatingRuns(func(k *cable, it *jobfile.Item) Value {
		switch {
		case k.pitchMin == nil:
			return none()
		case it.GrooveWidthMM == nil:
			return unknown()
		}
		return number(*k.pitchMin - *it.GrooveWidthMM)
	})),
	given(Text, "cover_material", "", "what fills and covers the groove", "cover.material", heatingCover(func(v *jobfile.GrooveCover) Value { return text(v.Material) })).oneOf("flexible_tile_cement", "tile_cement", "foam", "none"),
	given(Flag, "cover_full", "", "whether the cable is covered over its whole length", "cover.full", heatingCover(func(v *jobfile.GrooveCover) Value { return flag(v.Full) })),
	given(Flag, "sheath_earthed", "", "whether the metal sheath or screen is connected to the protective conductor", "sheath_earthed", func(_ *Context, s *Subject) Value { return flag(s.Item.SheathEarthed) }),
	def(Text, "circuit_protection", "", "protective measure of the circuit", "looked up by the circuit", "", []string{"/circuits/{circuit}/protection", "circuit"}, heatingProtection).oneOf("ads", "selv", "pelv", "felv", "separation"),
	def(Flag, "reading_reel", "", "whether the cable was read on the reel", heatingReadingHow, "", []string{"/records"}, heatingReading("reel")),
	def(Flag, "reading_laid", "", "whether the cable was read after laying", heatingReadingHow, "", []string{"/records"}, heatingReading("laid")),
	def(Flag, "reading_covered", "", "whether the cable was read after covering", heatingReadingHow, "", []string{"/records"}, heatingReading("covered")),
	def(Flag, "photo_before_cover", "", "whether the laid cable was photographed before it was covered", "a photograph of the cable, taken between the start of its laying and the start of its embedding by the recorded times; no only when the only ones were taken at another time", "",
		[]string{"/records/photo/item", "/records/photo/at", "/tasks"}, heatingPhoto),
	def(Number, "insulation_lowest_mohm", "MΩ", "lowest insulation reading of the cable", "least of all readings", "", []string{"/records"}, heatingExtreme(1, false, func(_ *jobfile.Item, r *jobfile.Record) *float64 { return r.InsulationMOhm })),
	def(Number, "insulation_needed_mohm", "MΩ", "the insulation resistance that the verification of the circuit asks for", "0.5 MΩ for SELV and PELV, else 1.0 MΩ", "IEC 60364-6:2016 Table 6.1 (read)", []string{"/circuits/{circuit}/protection", "circuit"}, func(c *Context, s *Subject) Value {
		if m, _, ok := heatingInsulationFloor(heatingCircuit(c, s)); ok {
			return number(m)
		}
		return unknown()
	}),
	def(Number, "test_voltage_lowest_v", "V", "lowest test voltage of the insulation readings", "least of all readings; every reading must give it", "", []string{"/records"}, heatingExtreme(1, true, func(_ *jobfile.Item, r *jobfile.Record) *float64 { return r.TestVoltageV })),
	def(Number, "test_voltage_needed_v", "V", "the test voltage that the verification of the circuit asks for", "250 V for SELV and PELV, 500 V up to 500 V, 1000 V above", "IEC 60364-6:2016 Table 6.1 (read)", []string{"/circuits/{circuit}/protection", "circuit"}, func(c *Context, s *Subject) Value {
		if _, v, ok := heatingInsulationFloor(heatingCircuit(c, s)); ok {
			return number(v)
		}
		return unknown()
	}),
	given(Number, "room_air_c", "°C", "rated air temperature of the room", "/climate/air_temperature_c", func(c *Context, _ *Subject) Value {
		if c.Job.Climate == nil {
			return unknown()
		}
		return num(c.Job.Climate.AirTemperatureC)
	}),
	def(Number, "sensors", "", "number of sensors that control the cable", "heating sensors that name the cable", "", []string{"/items"}, heatingSensors),
)

const heatingReadingHow = "a reading with resistance and insulation resistance is on record; no only once a later reading was taken without it"

// heatingControlled calls f with the cable that a sensor controls and the place of
// the sensor on the same face. The value does not arise on another face.
func heatingControlled(f func(geometry.Runs, geometry.Point, *jobfile.Item) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		same := heatingSameFace(c, s)
		switch {
		case same.State != Known:
			return unknown()
		case !same.Flag:
			return none()
		case s.Item.XMM == nil || s.Item.YMM == nil:
			return unknown()
		}
		it := c.items[s.Item.Cable]
		k := c.cable(it)
		if k == nil || k.why != "" {
			return unknown().note("the runs of the cable " + it.ID + " cannot be measured")
		}
		return f(k.runs, geometry.Point{X: *s.Item.XMM, Y: *s.Item.YMM}, it)
	}
}

func heatingSameFace(c *Context, s *Subject) Value {
	it := c.items[s.Item.Cable]
	switch {
	case it == nil:
		return unknown()
	case it.Kind != "heating_cable":
		return yes(false).note(it.ID + " is no heating cable")
	case it.Face == "" || s.Item.Face == "":
		return unknown()
	}
	return yes(it.Face == s.Item.Face)
}

var _ = register("heating_sensor", "the sensor that controls a heating cable", itemsOf("heating_sensor"),
	given(Flag, "in_sleeve", "", "whether it lies in a sleeve from which it can be drawn", "in_sleeve", func(_ *Context, s *Subject) Value { return flag(s.Item.InSleeve) }),
	given(Flag, "ends_sealed", "", "whether its ends are insulated and taped", "ends_sealed", func(_ *Context, s *Subject) Value { return flag(s.Item.EndsSealed) }),
	def(Flag, "on_face_of_cable", "", "whether it lies on the face of the heating cable that it controls", "faces of sensor and cable compared; no when it names something else than a heating cable", "", []string{"cable", "face"}, heatingSameFace),
	def(Flag, "between_runs", "", "whether it lies between two runs of its cable", "the nearest axis and an axis on the other side of it, more than 120° apart as seen from the sensor; does not arise on another face", "plane geometry (computed)", []string{"x_mm", "y_mm", "cable", "face"}, heatingControlled(func(runs geometry.Runs, p geometry.Point, _ *jobfile.Item) Value {
		_, _, between := geometry.BetweenNeighbours(p, runs)
		return yes(between)
	})),
	def(Number, "cable_gap_mm", "mm", "gap between the sensor's axis and the cable's surface", "distance to the nearest axis of the cable − half the outside diameter of the cable; does not arise on another face", "plane geometry (computed)", []string{"x_mm", "y_mm", "cable", "face", "/items"}, heatingControlled(func(runs geometry.Runs, p geometry.Point, it *jobfile.Item) Value {
		d, _, _, ok := runs.PointDistance(p)
		if !ok || it.CableODMM == nil {
			return unknown()
		}
		return number(d - *it.CableODMM/2)
	})),
	def(Number, "wall_distance_mm", "mm", "distance from a floor sensor to the nearest wall", "to the nearest wall in plan, 0 or less outside the room; does not arise on other faces than the floor", "plane geometry (computed)", []string{"x_mm", "y_mm", "face", "/room/walls"}, func(c *Context, s *Subject) Value {
		switch f := c.Face(s.Item.Face); {
		case f == nil:
			return unknown()
		case f.Kind != FloorFace:
			return none()
		}
		p, ok := c.place3(s.Item.Face, s.Item.XMM, s.Item.YMM)
		if !ok {
			return unknown()
		}
		d, err := geometry.CirclePolygonEdgeGap(geometry.Circle{Centre: geometry.Point{X: p.X, Y: p.Y}}, c.Plan().Polygon())
		if err != nil {
			return unknown()
		}
		return number(d)
	}),
)
