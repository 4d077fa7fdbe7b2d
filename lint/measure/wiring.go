package measure

import (
	"wetrule/lint/calc/electric"
	"wetrule/lint/jobfile"
)

// wiringTableC is the temperature of the air that the tables of current-carrying capacity are made for.
// A run that stays outside the room is taken to lie in air of this temperature when the job gives none.
const wiringTableC = 30

// wiringLoad is one item that draws current.
type wiringLoad struct {
	item      *jobfile.Item
	index     int
	watts     float64
	known     bool
	resistive bool // heating elements and heating cables: power factor 1
	lighting  bool
}

// wiringRun is a circuit with the items that name it.
type wiringRun struct {
	circuit *jobfile.Circuit
	items   []*jobfile.Item
	loads   []wiringLoad
	count   int          // items
	sisters []*wiringRun // circuits of the same source, this one too
	ambient *Value       // once asked for
	iz      *Value       // once asked for
}

// wiringRuns returns the circuits; each has its loads found once for all measures.
func wiringRuns(c *Context) []Subject {
	if len(c.Job.Circuits) == 0 {
		return nil
	}
	all := make([]wiringRun, len(c.Job.Circuits))
	out := c.subjects(len(c.Job.Circuits))[:0]
	for i := range c.Job.Circuits {
		k := &c.Job.Circuits[i]
		r := &all[i]
		r.circuit = k
		out = append(out, Subject{Kind: "circuit_run", ID: k.ID, Pointer: circuitPointers.at(i), Pos: k.Pos, Circuit: k, Run: r})
	}
	var bySource few[*[]*wiringRun]
	for i := range all {
		r := &all[i]
		if r.circuit.Source == "" {
			continue
		}
		list, known := bySource.find(r.circuit.Source)
		if !known {
			list = &[]*wiringRun{}
			bySource.put(r.circuit.Source, list)
		}
		*list = append(*list, r)
	}
	for i := range all {
		if list, known := bySource.find(all[i].circuit.Source); known {
			all[i].sisters = *list
		}
	}
	// The items and loads of all runs stand in one list each.
	items := make([]int32, 0, len(c.Job.Items))
	for i := range c.Job.Items {
		k := int32(-1)
		if id := c.Job.Items[i].Circuit; id != "" {
			if n, ok := c.circuits.find(id); ok {
				k = n
				all[n].count++
			}
		}
		items = append(items, k)
	}
	n := 0
	for i := range all {
		n += all[i].count
	}
	room, loads := make([]*jobfile.Item, n), make([]wiringLoad, n)
	for i := range all {
		r := &all[i]
		r.items, room = room[:0:r.count], room[r.count:]
		r.loads, loads = loads[:0:r.count], loads[r.count:]
	}
	for i, k := range items {
		if k < 0 {
			continue
		}
		it, r := &c.Job.Items[i], &all[k]
		r.items = append(r.items, it)
		if l, draws := wiringLoadOf(it); draws {
			l.index = i
			r.loads = append(r.loads, l)
		}
	}
	return out
}

// wiringLoadOf returns what an item draws. draws is false for items that draw next to nothing: sensors, switches, junction boxes
// and controls whose power is not given, and outlets without a fan.
func wiringLoadOf(it *jobfile.Item) (l wiringLoad, draws bool) {
	l.item = it
	given := func() (wiringLoad, bool) {
		if it.PowerW != nil {
			l.watts, l.known = *it.PowerW, true
		}
		return l, true
	}
	switch it.Kind {
	case "steam_generator":
		l.resistive = true
		if it.PowerKW != nil {
			l.watts, l.known = *it.PowerKW*1000, true
		}
		return l, true
	case "heating_cable":
		l.resistive = true
		l.watts, l.known = electricalHeatingPower(it)
		return l, true
	case "led_strip", "spotlight", "light_source":
		l.lighting = true
		return given()
	case "ventilation_outlet":
		if it.PowerW == nil && it.Fan != nil && !*it.Fan {
			return l, false
		}
		return given()
	case "accessory":
		if it.PowerW == nil && (it.Role == "switch" || it.Role == "junction_box" || it.Role == "control") {
			return l, false
		}
		return given()
	}
	return l, false
}

// extraLow says whether a circuit is protected as SELV or PELV.
func (r *wiringRun) extraLow() Value {
	if r.circuit.Protection == "" {
		return unknown()
	}
	return yes(r.circuit.Protection == "selv" || r.circuit.Protection == "pelv")
}

const wiringPhaseNote = "taken as single-phase, as the phases are not given and the voltage is at most 250 V"

// wiringPhaseMaxV is the highest voltage that is taken as single-phase when the job does not give the phases.
const wiringPhaseMaxV = 250

func (r *wiringRun) system() (s electric.System, note string, ok bool) {
	k := r.circuit
	switch {
	case k.VoltageV == nil:
		return 0, "", false
	case k.Current == "dc":
		return electric.DC, "", true
	case k.Current == "":
		return 0, "", false
	case k.Phases != nil && *k.Phases == 3:
		return electric.ThreePhase, "", true
	case k.Phases != nil:
		return electric.SinglePhase, "", true
	case *k.VoltageV > wiringPhaseMaxV:
		return 0, "the number of phases is not given", false
	}
	return electric.SinglePhase, wiringPhaseNote, true
}

// cosPhi returns the power factor of a load and whether it was assumed.
func (r *wiringRun) cosPhi(s electric.System, l *wiringLoad) (v float64, assumed bool) {
	switch {
	case l.resistive || s == electric.DC:
		return 1, false
	case r.circuit.PowerFactor != nil:
		return *r.circuit.PowerFactor, false
	}
	return electric.CosPhiIfUnknown, true
}

const wiringCosNote = "power factor 0.8 taken for what is not a heating element (Annex G of IEC 60364-5-52; give circuit.power_factor)"

// wiringReady calls f with a circuit whose loads are all known. Without any load the value does not arise; a circuit that no item
// names, or an item without its power, makes it Unknown.
func wiringReady(f func(*Context, *wiringRun, electric.System) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		r := s.Run
		switch {
		case len(r.items) == 0:
			return unknown().note("no item of the job names this circuit")
		case len(r.loads) == 0:
			return none()
		}
		for i := range r.loads {
			if l := &r.loads[i]; !l.known {
				return unknown().note("the power of " + l.item.ID + " is not known").at(itemPointers.at(l.index))
			}
		}
		system, note, ok := r.system()
		if !ok {
			return unknown().note(note)
		}
		v := f(c, r, system)
		for i := range r.loads {
			if _, assumed := r.cosPhi(system, &r.loads[i]); assumed {
				note = joined(note, wiringCosNote)
				break
			}
		}
		if v.State == Known && note != "" {
			return v.note(joined(note, v.Note()))
		}
		return v
	}
}

// combined returns the power and power factor of all loads together.
func (r *wiringRun) combined(s electric.System) (electric.Load, error) {
	var room [16]electric.Load
	loads := room[:0]
	for i := range r.loads {
		cos, _ := r.cosPhi(s, &r.loads[i])
		loads = append(loads, electric.Load{PowerW: r.loads[i].watts, CosPhi: cos})
	}
	return electric.Combine(loads)
}

func wiringLoadW(_ *Context, r *wiringRun, s electric.System) Value {
	all, err := r.combined(s)
	if err != nil {
		return unknown().note(err.Error())
	}
	return number(all.PowerW)
}

func wiringDesignCurrent(c *Context, r *wiringRun, s electric.System) Value {
	all, err := r.combined(s)
	if err != nil {
		return unknown().note(err.Error())
	}
	u := *r.circuit.VoltageV
	a, err := electric.CurrentA(s, all.PowerW, u, all.CosPhi)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.worked(number(a), func() []string {
		out := make([]string, 0, len(r.loads)+1)
		for i := range r.loads {
			l := &r.loads[i]
			out = append(out, said("%s draws %s W", l.item.ID, figure(l.watts)))
		}
		p, v, cos, res := figure(all.PowerW), figure(u), figure(all.CosPhi), figure(a)
		switch s {
		case electric.DC:
			return append(out, said("IB = P/U = %s W / %s V = %s A", p, v, res))
		case electric.ThreePhase:
			return append(out, said("IB = P/(√3·U·cosφ) = %s W / (√3 · %s V · %s) = %s A", p, v, cos, res))
		}
		return append(out, said("IB = P/(U·cosφ) = %s W / (%s V · %s) = %s A", p, v, cos, res))
	})
}

// distance returns how far from the source a load is, in m; end says that it is taken to be at the far end.
func (r *wiringRun) distance(l *wiringLoad) (m float64, end, ok bool) {
	switch {
	case l.item.CableRunM != nil:
		return *l.item.CableRunM, false, true
	case r.circuit.LengthM != nil:
		return *r.circuit.LengthM, true, true
	}
	return 0, false, false
}

// wiringResistance returns the resistance of a DC run's conductor in Ω/km at the temperature round it.
func wiringResistance(c *Context, r *wiringRun) (r20, ohm, atC float64, note string, ok bool) {
	k := r.circuit
	class := electric.Flexible
	if k.ConductorClass != nil {
		var err error
		if class, err = electric.ClassOf(int(*k.ConductorClass)); err != nil {
			return 0, 0, 0, err.Error(), false
		}
	} else {
		note = "conductor class not given: taken as flexible, which has the higher resistance"
	}
	ambient := wiringAmbient(c, r)
	if ambient.State != Known {
		return 0, 0, 0, "the temperature round the cable is not known", false
	}
	r20, err := electric.ResistanceOhmPerKM(*k.ConductorMM2, class, false)
	if err != nil {
		return 0, 0, 0, err.Error(), false
	}
	ohm, err = electric.ResistanceAtC(r20, ambient.Num)
	if err != nil {
		return 0, 0, 0, err.Error(), false
	}
	return r20, ohm, ambient.Num, joined(note, "conductor as warm as what is round it, "+FormatNumber(ambient.Num)+" °C, and not metal-coated"), true
}

func wiringDrop(c *Context, r *wiringRun, s electric.System) Value {
	k := r.circuit
	if k.ConductorMM2 == nil {
		return unknown().note("the cross-section is not given")
	}
	note, volts, farthest, atEnd := "", 0.0, 0.0, false
	r20, ohm, atC := 0.0, 0.0, 0.0
	if s == electric.DC {
		var ok bool
		if r20, ohm, atC, note, ok = wiringResistance(c, r); !ok {
			return unknown().note(note)
		}
	}
	type part struct {
		id             string
		a, m, cos, vol float64
	}
	parts := make([]part, 0, len(r.loads))
	for i := range r.loads {
		l := &r.loads[i]
		m, end, ok := r.distance(l)
		if !ok {
			return unknown().note("the length of the run is not given")
		}
		atEnd, farthest = atEnd || end, max(farthest, m)
		cos, _ := r.cosPhi(s, l)
		a, err := electric.CurrentA(s, l.watts, *k.VoltageV, cos)
		if err != nil {
			return unknown().note(err.Error())
		}
		moment, err := electric.MomentAM([]electric.Tap{{CurrentA: a, DistanceM: m}})
		if err != nil {
			return unknown().note(err.Error())
		}
		var u float64
		if s == electric.DC {
			u, err = electric.DCDropV(ohm, moment)
		} else {
			u, err = electric.ACDropV(s, electric.Conductor{MM2: *k.ConductorMM2, Rho1: electric.Rho1Copper, Lambda: electric.LambdaDefault}, moment, cos)
		}
		if err != nil {
			return unknown().note(err.Error())
		}
		volts += u
		parts = append(parts, part{l.item.ID, a, m, cos, u})
	}
	percent, err := electric.DropPercent(s, volts, *k.VoltageV)
	if err != nil {
		return unknown().note(err.Error())
	}
	if atEnd {
		note = joined(note, "loads without cable_run_m are taken to be at the far end")
	}
	if s == electric.ThreePhase {
		note = joined(note, "loads taken as balanced over the three phases")
	}
	return c.explained(number(percent), note, func() []string {
		var steps []string
		if s == electric.DC {
			steps = append(steps, said("R = R20·(1 + 0.00393·(t − 20)) = %s · (1 + 0.00393·(%s − 20)) = %s Ω/km (IEC 60228, IEC 60028)", figure(r20), figure(atC), figure(ohm)))
		}
		for _, p := range parts {
			switch s {
			case electric.DC:
				steps = append(steps, said("%s: u = 2·L·I·R/1000 = 2 · %s m · %s A · %s Ω/km / 1000 = %s V", p.id, figure(p.m), figure(p.a), figure(ohm), figure(p.vol)))
			default:
				b := "2"
				if s == electric.ThreePhase {
					b = "1"
				}
				steps = append(steps, said("%s: u = b·(ρ1·L/S·cosφ + λ·L·sinφ)·I with b %s, ρ1 0.0225 Ω·mm²/m, L %s m, S %s mm², cosφ %s, λ 0.00008 Ω/m, I %s A = %s V (IEC 60364-5-52 Annex G)", p.id, b, figure(p.m), figure(*k.ConductorMM2), figure(p.cos), figure(p.a), figure(p.vol)))
			}
		}
		u0, _ := electric.NominalToDropV(s, *k.VoltageV) // the percentage above has checked it
		steps = append(steps, said("Δu = 100·u/U0 = 100 · %s V / %s V = %s %%", figure(volts), figure(u0), figure(percent)))
		for _, limit := range []float64{electric.DropLightingPublicPercent, electric.DropOtherPublicPercent} {
			if l, err := electric.MaxLengthM(farthest, percent, limit); err == nil {
				steps = append(steps, said("with all lengths in proportion %s %% would be reached at %s m", figure(limit), figure(l)))
			}
		}
		return steps
	})
}

// wiringAmbient is the temperature round a cable along its run, in °C: as given, else the hottest place of the items that it feeds.
func wiringAmbient(c *Context, r *wiringRun) Value {
	if r.ambient == nil {
		v := wiringHottest(c, r)
		r.ambient = &v
	}
	return *r.ambient
}

func wiringHottest(c *Context, r *wiringRun) Value {
	if r.circuit.AmbientC != nil {
		return number(*r.circuit.AmbientC)
	}
	hottest := float64(wiringTableC)
	var at *jobfile.Item
	for _, it := range r.items {
		air := electricalLocalAir(c, it)
		if zonePlace(it) == "behind_panel" { // heat gets through the panel; how much, the job does not say
			air = unknown()
			if c.Job.Climate != nil {
				air = num(c.Job.Climate.AirTemperatureC)
			}
		}
		switch {
		case air.State == Unknown:
			return unknown().note("the temperature round " + it.ID + " is not known")
		case air.State == Known && air.Num > hottest:
			hottest, at = air.Num, it
		}
	}
	if at == nil {
		return c.note(number(hottest), "taken: 30 °C outside the room (give circuit.ambient_c)")
	}
	return c.note(number(hottest), "taken: the room's air at "+at.ID+" (give circuit.ambient_c)")
}

// wiringLaid returns how the cable of a circuit is laid; why says what is missing.
func wiringLaid(c *Context, r *wiringRun) (run electric.Run, note, why string) {
	k := r.circuit
	system, systemNote, ok := r.system()
	ambient := wiringAmbient(c, r)
	switch {
	case k.Method == "":
		return run, "", "the method of installation is not given"
	case k.Insulation == "":
		return run, "", "the insulation of the conductors is not given"
	case !ok:
		return run, "", joined("voltage, current or phases are not given", systemNote)
	case ambient.State != Known:
		return run, "", ambient.Note()
	}
	run = electric.Run{Insulation: electric.Insulation(k.Insulation), Loaded: system.Loaded(), Method: electric.Method(k.Method), AmbientC: ambient.Num}
	cold, clear, memory := "", "", ""
	if run.AmbientC < electric.MinAmbientC {
		run.AmbientC = electric.MinAmbientC
		cold = "colder air than 10 °C is counted as 10 °C"
	}
	if k.InInsulationMM != nil {
		run.SurroundedMM = *k.InInsulationMM
	} else {
		clear = "no stretch surrounded by foam or other insulation is counted, as none is given"
	}
	if electric.FromMemory(run.Insulation, run.Loaded, run.Method) {
		memory = "the column of the table is from memory"
	}
	return run, joined(systemNote, ambient.Note(), cold, clear, memory, "no other loaded circuit in the same conduit or bunch is counted"), ""
}

func wiringIz(c *Context, s *Subject) Value {
	if s.Run.iz == nil {
		v := wiringCarries(c, s)
		s.Run.iz = &v
	}
	return *s.Run.iz
}

func wiringCarries(c *Context, s *Subject) Value {
	k := s.Circuit
	if k.ConductorMM2 == nil {
		return unknown().note("the cross-section is not given")
	}
	run, note, why := wiringLaid(c, s.Run)
	if why != "" {
		return c.note(unknown(), why)
	}
	iz, err := run.IzA(*k.ConductorMM2)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.explained(number(iz), note, func() []string {
		var out []string
		table, err1 := electric.CapacityA(*k.ConductorMM2, run.Insulation, run.Loaded, run.Method)
		factor, err2 := electric.AmbientFactor(run.Insulation, run.AmbientC)
		if err1 != nil || err2 != nil {
			return nil
		}
		out = append(out, said("%s mm², %s, %d loaded conductors, method %s: %s A (IEC 60364-5-52 Annex B)", figure(*k.ConductorMM2), k.Insulation, run.Loaded, run.Method, figure(table)))
		if f, err := electric.InsulationFactor(run.SurroundedMM); err == nil && f < 1 {
			if clipped, err := electric.CapacityA(*k.ConductorMM2, run.Insulation, run.Loaded, electric.C); err == nil {
				out = append(out, said("%s mm in insulation: %s · %s A of method C = %s A; the lesser of the two counts (BS 7671 523.9, from memory)", figure(run.SurroundedMM), figure(f), figure(clipped), figure(f*clipped)))
				table = min(table, f*clipped)
			}
		}
		out = append(out, said("Iz = %s A · %s for %s °C = %s A (Table B.52.14)", figure(table), figure(factor), figure(run.AmbientC), figure(iz)))
		if k.BreakerA != nil {
			if mm2, least, err := run.SmallestMM2(*k.BreakerA); err == nil {
				out = append(out, said("the smallest cross-section that carries %s A as laid is %s mm² with %s A", figure(*k.BreakerA), figure(mm2), figure(least)))
			}
		}
		return out
	})
}

// wiringInsulated says whether a stretch of the run is surrounded by insulation. A circuit that feeds nothing in the room has none unless it
// is given.
func wiringInsulated(_ *Context, s *Subject) Value {
	if mm := s.Circuit.InInsulationMM; mm != nil {
		return yes(*mm > 0)
	}
	unsure := len(s.Run.items) == 0
	for _, it := range s.Run.items {
		unsure = unsure || zonePlace(it) != "outside_room"
	}
	if unsure {
		return unknown()
	}
	return none()
}

// wiringBreaker is the rated current of the overcurrent device. It does not arise for SELV and PELV without one, whose source limits the current.
func wiringBreaker(_ *Context, s *Subject) Value {
	if s.Circuit.BreakerA == nil {
		if low := s.Run.extraLow(); low.State == Known && low.Flag {
			return none()
		}
	}
	return num(s.Circuit.BreakerA)
}

func wiringTrip(_ *Context, s *Subject) Value {
	k := s.Circuit
	if k.BreakerA == nil || k.Device == "" {
		return unknown()
	}
	i2, err := electric.ConventionalTripA(electric.Device(k.Device), *k.BreakerA)
	if err != nil {
		return unknown().note(err.Error())
	}
	return number(i2)
}

// wiringFed is the power in W of all lamps on the driver that feeds a circuit, over all circuits that it feeds.
func wiringFed(c *Context, s *Subject) Value {
	driver := wiringSource(c, s)
	if driver.State != Known {
		return driver
	}
	sum := 0.0
	for _, r := range s.Run.sisters {
		for i := range r.loads {
			if l := &r.loads[i]; !l.known {
				return unknown().note("the power of " + l.item.ID + " is not known").at(itemPointers.at(l.index))
			}
			sum += r.loads[i].watts
		}
	}
	return number(sum)
}

// wiringSource says whether a circuit is fed by a driver of the job. It does not arise for circuits that name no source, save for
// extra-low circuits with lamps, which must have one.
func wiringSource(c *Context, s *Subject) Value {
	if s.Circuit.Source == "" {
		low, lamps := s.Run.extraLow(), false
		for i := range s.Run.loads {
			lamps = lamps || s.Run.loads[i].lighting
		}
		if lamps && (low.State != Known || low.Flag) {
			return unknown().note("the source of the circuit is not given")
		}
		return none()
	}
	switch it := c.items[s.Circuit.Source]; {
	case it == nil:
		return unknown().note("the source " + s.Circuit.Source + " is no item of the job")
	case it.Kind != "light_source":
		return none()
	}
	return yes(true)
}

var wiringLoadNeeds = []string{"voltage_v", "current", "phases", "/items"}

var _ = register("circuit_run", "the run of an electrical circuit with the items on it", wiringRuns,
	def(Text, "use", "", "whether lamps are on the circuit", "lighting when a strip, a spotlight or a light source is on it, else power; does not arise when nothing on it draws current", "", []string{"/items"}, func(_ *Context, s *Subject) Value {
		switch {
		case len(s.Run.items) == 0:
			return unknown()
		case len(s.Run.loads) == 0:
			return none()
		}
		for i := range s.Run.loads {
			if s.Run.loads[i].lighting {
				return text("lighting")
			}
		}
		return text("power")
	}).oneOf("lighting", "power"),
	def(Flag, "extra_low", "", "whether the circuit is SELV or PELV", "by the protective measure", "", []string{"protection"}, func(_ *Context, s *Subject) Value { return s.Run.extraLow() }),
	def(Number, "load_w", "W", "power of all items on the circuit", "sum of what the items draw: power_w, the generator's kW, heating cables by W/m × supplied length; sensors, switches, boxes, controls and outlets without a fan count nothing; does not arise without a load", "", wiringLoadNeeds, wiringReady(wiringLoadW)),
	def(Number, "design_current_a", "A", "current of all items on the circuit at once, IB", "P/U for DC, P/(U·cosφ) single-phase, P/(√3·U·cosφ) three-phase, all loads on together; does not arise without a load", "definition of power (computed); power factor 0.8 where unknown by IEC 60364-5-52 Annex G (secondary)", wiringLoadNeeds, wiringReady(wiringDesignCurrent)),
	def(Number, "drop_percent", "percent", "voltage drop at the far end of the run", "Σ b·(ρ1/S·cosφ + λ·sinφ)·I·L of the loads for AC, Σ 2·R·I·L/1000 for DC, in percent of the voltage (three phases: line to neutral); loads without cable_run_m at the far end; only this circuit, not what lies before it", "IEC 60364-5-52:2009 Annex G (secondary); IEC 60228 (read) and Ohm's law for DC", append([]string{"conductor_mm2", "length_m"}, wiringLoadNeeds...), wiringReady(wiringDrop)),
	def(Number, "ambient_c", "°C", "temperature round the cable along its run", "as given, else the hottest of 30 °C and the room's air at the items on it", "", []string{"ambient_c", "/climate/air_temperature_c", "/items"}, func(c *Context, s *Subject) Value { return wiringAmbient(c, s.Run) }),
	given(Number, "conductor_mm2", "mm²", "cross-section of the conductors", "conductor_mm2", func(_ *Context, s *Subject) Value { return num(s.Circuit.ConductorMM2) }),
	given(Text, "method", "", "reference method of installation", "method", func(_ *Context, s *Subject) Value { return text(s.Circuit.Method) }).oneOf("A1", "A2", "B1", "B2", "C", "E"),
	def(Flag, "insulated", "", "whether foam or other insulation surrounds a stretch of the run", "by the stretch that is given; does not arise when none is given and nothing on the circuit is in the room", "", []string{"in_insulation_mm"}, wiringInsulated),
	def(Number, "iz_a", "A", "current that the conductors carry as they are laid, Iz", "the lesser of the table of the method and the factor for insulation × the table of method C, times the factor for the air's temperature; one circuit alone", "IEC 60364-5-52:2009 Annex B and Table B.52.14 (read, secondary and from memory); insulation by BS 7671 523.9 (from memory)", []string{"conductor_mm2", "method", "insulation", "ambient_c", "voltage_v", "current", "/climate/air_temperature_c"}, wiringIz),
	def(Number, "breaker_a", "A", "rated current of the overcurrent device, In", "as given; does not arise for SELV and PELV without one, whose source limits the current", "", []string{"breaker_a", "protection"}, wiringBreaker),
	given(Text, "device", "", "sort of overcurrent device", "device", func(_ *Context, s *Subject) Value {
		if v := wiringBreaker(nil, s); v.State == None {
			return none()
		}
		return text(s.Circuit.Device)
	}).oneOf("breaker", "fuse"),
	def(Flag, "breaker_listed", "", "whether the rating is a preferred one of breakers", "looked up in the list 6, 10, 13, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125 A; does not arise for fuses", "IEC 60898-1 (from memory)", []string{"breaker_a", "device"}, func(c *Context, s *Subject) Value {
		v := wiringBreaker(c, s)
		switch {
		case v.State != Known:
			return v
		case s.Circuit.Device == "fuse":
			return none()
		case electric.IsRating(v.Num):
			return yes(true)
		case s.Circuit.Device == "":
			return unknown()
		}
		return yes(false)
	}),
	def(Number, "trip_a", "A", "current that surely operates the overcurrent device, I2", "1.45 × In for a breaker; for a gG fuse 1.6 × In from 16 A, 1.9 × above 4 A, 2.1 × up to 4 A", "breaker and large fuses secondary, small fuses from memory", []string{"breaker_a", "device"}, wiringTrip),
	def(Number, "trip_allowed_a", "A", "1.45 times what the conductors carry", "1.45 × Iz", "IEC 60364-4-43, 433.1 (secondary)", []string{"conductor_mm2", "method", "insulation", "ambient_c", "voltage_v", "current"}, func(c *Context, s *Subject) Value {
		iz := wiringIz(c, s)
		if iz.State != Known {
			return iz
		}
		return c.note(number(electric.OverloadFactor*iz.Num), iz.Note())
	}),
	def(Number, "bonding_ohm", "Ω", "measured resistance of the supplementary bonding", "as given; does not arise when none is given", "", []string{"bonding_ohm"}, func(_ *Context, s *Subject) Value {
		if s.Circuit.BondingOhm == nil {
			return none()
		}
		return num(s.Circuit.BondingOhm)
	}),
	def(Number, "bonding_allowed_ohm", "Ω", "highest resistance at which the RCD keeps the touch voltage under 50 V", "50 V / rated residual current; does not arise without an RCD", "BS 7671, 415.2.2 (secondary)", []string{"rcd_ma"}, func(c *Context, s *Subject) Value {
		switch v := electricalRCD(s.Circuit); {
		case v.State != Known:
			return v
		case v.Num == 0:
			return none()
		default:
			r, err := electric.BondingMaxOhm(v.Num)
			if err != nil {
				return unknown().note(err.Error())
			}
			return c.worked(number(r), func() []string {
				return []string{said("R = 50 V / IΔn = 50 V / %s mA = %s Ω (BS 7671, 415.2.2)", figure(v.Num), figure(r))}
			})
		}
	}),
	def(Number, "fed_w", "W", "power of everything on the driver that feeds the circuit", "sum over all circuits that name the same source; does not arise for circuits that no driver feeds", "", []string{"source", "/items"}, wiringFed),
	def(Number, "driver_output_w", "W", "rated output of the driver that feeds the circuit", "as given for the item that the circuit names as its source", "", []string{"source", "/items"}, func(c *Context, s *Subject) Value {
		if v := wiringSource(c, s); v.State != Known {
			return v
		}
		return num(c.items[s.Circuit.Source].OutputW)
	}),
)
