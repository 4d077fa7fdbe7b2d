package measure

import (
	"strings"

	"wetrule/lint/calc/ventilation"
	"wetrule/lint/jobfile"
)

// airflowMakeUpMS is the velocity at which air that is only drawn in may enter before it is felt as a draught.
//
// Source: common practice; no published figure was found for steam rooms.
const airflowMakeUpMS = 0.5

// airflowWhole limits a measure to jobs for a whole room. A job on one wall alone says nothing of the air of its room.
func airflowWhole(get func(*Context, *Subject) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		if r := c.Job.Room; r.Floor == nil && len(r.Walls) == 1 {
			return none()
		}
		return get(c, s)
	}
}

// airflowState is what the measures of the air share, each worked out once.
type airflowState struct {
	out, in, balance          Value
	balanced                  ventilation.Balanced
	hasOut, hasIn, hasBalance bool
}

// airflowLed adds up the air that fans lead out of the room or into it, in m³/h.
func airflowLed(c *Context, flow string) Value {
	a := &c.airflow
	if flow == "exhaust" {
		return once(&a.hasOut, &a.out, func() Value { return airflowSum(c, flow) })
	}
	return once(&a.hasIn, &a.in, func() Value { return airflowSum(c, flow) })
}

func airflowSum(c *Context, flow string) Value {
	if c.Job.Items == nil {
		return unknown()
	}
	sum, names := 0.0, []string(nil)
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		switch {
		case it.Kind != "ventilation_outlet":
		case it.Flow == "":
			return unknown().note("the flow of " + it.ID + " is not known").at(itemPointers.at(i))
		case it.Flow != flow:
		case it.AirFlowM3H != nil:
			sum += *it.AirFlowM3H
			names = append(names, it.ID)
		case flow == "exhaust":
			return unknown().note("the air flow of " + it.ID + " is not given").at(itemPointers.at(i))
		}
	}
	if names == nil {
		return number(sum)
	}
	return c.note(number(sum), "of "+strings.Join(names, ", "))
}

// airflowBalance compares what is led out with what is led in.
func airflowBalance(c *Context) (ventilation.Balanced, Value) {
	a := &c.airflow
	if !a.hasBalance {
		a.hasBalance = true
		a.balanced, a.balance = airflowBalanced(c)
	}
	return a.balanced, a.balance
}

func airflowBalanced(c *Context) (ventilation.Balanced, Value) {
	out, in := airflowLed(c, "exhaust"), airflowLed(c, "supply")
	for _, v := range []Value{out, in} {
		if v.State != Known {
			return ventilation.Balanced{}, v
		}
	}
	b, err := ventilation.Balance(out.Num, in.Num)
	if err != nil {
		return b, unknown().note(err.Error())
	}
	return b, c.worked(number(b.RenewedM3H), func() []string {
		return []string{said("renewed = the larger of %s m³/h led out and %s m³/h led in = %s m³/h; the rest passes through gaps (conservation of mass)", figure(out.Num), figure(in.Num), figure(b.RenewedM3H))}
	})
}

func airflowPerPerson(c *Context, _ *Subject) Value {
	b, v := airflowBalance(c)
	switch {
	case v.State != Known:
		return v
	case c.Job.Room.People == nil:
		return unknown()
	}
	each, err := ventilation.PerPersonM3H(b.RenewedM3H, *c.Job.Room.People)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.worked(number(each), func() []string {
		return append(v.Steps(), said("each = %s m³/h ÷ %s people = %.2f m³/h", figure(b.RenewedM3H), figure(*c.Job.Room.People), each))
	})
}

func airflowChanges(c *Context, _ *Subject) Value {
	b, v := airflowBalance(c)
	plan, h := c.Plan(), c.Job.Room.HeightMM
	switch {
	case v.State != Known:
		return v
	case plan == nil || h == nil:
		return unknown()
	}
	mm2, err := plan.Polygon().Area()
	if err != nil {
		return unknown().note(err.Error())
	}
	m3 := mm2 * *h / 1e9
	n, err := ventilation.AirChangesPerH(b.RenewedM3H, m3)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.explained(number(n), "benches and the slope of the ceiling are left out of the volume", func() []string {
		return append(v.Steps(), said("changes = %s m³/h ÷ (%.2f m² · %s m) = %.2f an hour", figure(b.RenewedM3H), mm2/1e6, figure(*h/1000), n))
	})
}

// airflowMakeUp is the air that gaps and inlets without a fan have to let in; none when there is nothing to make up.
func airflowMakeUp(c *Context, _ *Subject) Value {
	b, v := airflowBalance(c)
	switch {
	case v.State != Known:
		return v
	case b.MakeUpM3H == 0:
		return none()
	}
	return number(b.MakeUpM3H)
}

func airflowMakeUpNeeded(c *Context, s *Subject) Value {
	v := airflowMakeUp(c, s)
	if v.State != Known {
		return v
	}
	mm2, err := ventilation.AreaAtVelocityMM2(v.Num, airflowMakeUpMS)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.worked(number(mm2), func() []string {
		return []string{said("area = V ÷ v = %s m³/h ÷ 3600 ÷ 0.5 m/s = %.0f mm² (continuity)", figure(v.Num), mm2)}
	})
}

// airflowUndercut is the area of the gap under a door, in mm².
func airflowUndercut(it *jobfile.Item) (mm2 float64, ok bool) {
	if it.WidthMM == nil || it.GapFloorMM == nil {
		return 0, false
	}
	mm2, err := ventilation.UndercutAreaMM2(*it.WidthMM, *it.GapFloorMM)
	return mm2, err == nil
}

// airflowMakeUpArea is the area through which air is drawn in: gaps under doors, and supplies without a fan. Where an area is missing,
// what is given may do already.
func airflowMakeUpArea(c *Context, s *Subject) Value {
	need := airflowMakeUpNeeded(c, s)
	if need.State != Known {
		return need
	}
	sum, parts, lacking := 0.0, []string(nil), ""
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		mm2, ok := 0.0, true
		switch {
		case it.Kind == "glazed_door":
			mm2, ok = airflowUndercut(it)
		case it.Kind == "ventilation_outlet" && it.Flow == "supply" && it.AirFlowM3H == nil:
			if ok = it.FreeAreaMM2 != nil; ok {
				mm2 = *it.FreeAreaMM2
			}
		default:
			continue
		}
		if !ok {
			lacking = it.ID
			continue
		}
		sum += mm2
		parts = append(parts, said("%s: %s mm²", it.ID, figure(mm2)))
	}
	note := ""
	if lacking != "" {
		if note = "the area of " + lacking + " is not given"; number(sum).Num < need.Num {
			return unknown().note(note)
		}
		note = "at the least, as " + note
	}
	v := number(sum).note(note)
	return c.worked(v, func() []string {
		if p, err := ventilation.SharpEdged().PressurePa(airflowMakeUp(c, s).Num, sum); err == nil {
			return append(parts[:len(parts):len(parts)], said("the room lies %.2f Pa below its neighbour: Δp = ρ/2·(V/(0.61·A))² (orifice equation)", p))
		}
		return parts
	})
}

// airflowDoor is the smallest gap area under the doors of the room.
func airflowDoor(c *Context, _ *Subject) Value {
	v := none()
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		if it.Kind != "glazed_door" {
			continue
		}
		mm2, ok := airflowUndercut(it)
		switch {
		case !ok:
			return unknown().at(itemPointers.at(i))
		case v.State == None || mm2 < v.Num:
			v = c.with(number(mm2), "", itemPointers.at(i), func() []string {
				return []string{said("area = width · gap = %s · %s mm = %s mm²", figure(*it.WidthMM), figure(*it.GapFloorMM), figure(mm2))}
			})
		}
	}
	return v
}

var _ = register("airflow", "the air that the room changes", func(c *Context) []Subject {
	return []Subject{{Kind: "airflow", ID: "room", Pointer: "/room", Pos: c.Job.Room.Pos}}
},
	given(Text, "use", "", "what the room is for", "/room/use", func(c *Context, _ *Subject) Value { return text(c.Job.Room.Use) }).oneOf("steam_room", "wet_room"),
	def(Number, "exhaust_m3_h", "m³/h", "air that fans lead out of the room", "sum over the exhausts; 0 without one; does not arise for a job on one wall alone", "",
		[]string{"/items"}, airflowWhole(func(c *Context, _ *Subject) Value { return airflowLed(c, "exhaust") })),
	def(Number, "supply_m3_h", "m³/h", "air that fans lead into the room", "sum over the supplies with an air flow; does not arise for a job on one wall alone", "",
		[]string{"/items"}, airflowWhole(func(c *Context, _ *Subject) Value { return airflowLed(c, "supply") })),
	def(Number, "per_person_m3_h", "m³/h", "air renewed for each person", "the larger of exhaust and supply ÷ people", "conservation of mass (computed)",
		[]string{"/room/people", "/items"}, airflowWhole(airflowPerPerson)),
	def(Number, "changes_per_h", "1/h", "how often an hour the air of the room is renewed", "the larger of exhaust and supply ÷ (area × height of the room)", "",
		[]string{"/room/height_mm", "/room/walls", "/items"}, airflowWhole(airflowChanges)),
	def(Number, "make_up_m3_h", "m³/h", "air that gaps and inlets without a fan have to let in", "exhaust − supply; does not arise when the supply does it all", "conservation of mass (computed)",
		[]string{"/items"}, airflowWhole(airflowMakeUp)),
	def(Number, "make_up_area_needed_mm2", "mm²", "area that this air needs at 0.5 m/s", "air ÷ 0.5 m/s", "continuity (computed)",
		[]string{"/items"}, airflowWhole(airflowMakeUpNeeded)),
	def(Number, "make_up_area_mm2", "mm²", "area through which this air comes in", "gaps under glazed doors, and free areas of the supplies without an air flow", "",
		[]string{"/items"}, airflowWhole(airflowMakeUpArea)),
	def(Number, "door_undercut_mm2", "mm²", "area of the gap under the door", "width × gap; the smallest where there are several glazed doors; does not arise without one", "",
		[]string{"/items"}, airflowWhole(airflowDoor)),
)

var _ = register("duct", "the duct of a ventilation outlet", func(c *Context) []Subject {
	out := itemsOf("ventilation_outlet")(c)
	for i := range out {
		out[i].Kind = "duct"
	}
	return out
},
	def(Number, "duct_velocity_m_s", "m/s", "mean velocity of the air in the duct", "air flow ÷ (π/4 × nominal diameter²); does not arise for a supply through which air is only drawn in", "continuity; EN 1506 (computed)",
		[]string{"air_flow_m3_h", "diameter_mm"}, func(c *Context, s *Subject) Value {
			it := s.Item
			switch {
			case it.AirFlowM3H == nil && it.Flow == "supply" && it.FreeAreaMM2 != nil:
				return none()
			case it.AirFlowM3H == nil || it.DiameterMM == nil:
				return unknown()
			}
			v, err := ventilation.DuctVelocityMS(*it.AirFlowM3H, *it.DiameterMM)
			if err != nil {
				return unknown().note(err.Error())
			}
			return c.worked(number(v), func() []string {
				return []string{said("v = V ÷ (π/4 · d²) = %s m³/h ÷ 3600 ÷ (0.785 · (%s mm)²) = %.2f m/s (continuity)", figure(*it.AirFlowM3H), figure(*it.DiameterMM), v)}
			})
		}),
)
