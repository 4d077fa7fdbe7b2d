package measure

import (
	"wetrule/lint/calc/electric"
	"wetrule/lint/calc/heating"
	"wetrule/lint/calc/ipcode"
	"wetrule/lint/jobfile"
)

// electricalKinds are the kinds of items that carry electricity. A ventilation
// outlet does when it holds a fan, or names a circuit and does not say that it holds none.
var electricalKinds = []string{"steam_generator", "heating_cable", "heating_sensor", "temperature_sensor", "ventilation_outlet", "led_strip", "spotlight", "light_source", "accessory"}

func electricalCarries(it *jobfile.Item) bool {
	switch it.Kind {
	case "steam_generator", "heating_cable", "heating_sensor", "temperature_sensor", "led_strip", "spotlight", "light_source", "accessory":
		return true
	case "ventilation_outlet":
		if it.Fan != nil {
			return *it.Fan
		}
		return it.Circuit != ""
	}
	return false
}

func electricalItems(c *Context) []Subject {
	n := 0
	for i := range c.Job.Items {
		if electricalCarries(&c.Job.Items[i]) {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	out := c.subjects(n)[:0]
	for i := range c.Job.Items {
		if it := &c.Job.Items[i]; electricalCarries(it) {
			out = append(out, Subject{Kind: "electrical_item", ID: it.ID, Pointer: itemPointers.at(i), Pos: it.Pos, Item: it})
		}
	}
	return out
}

func electricalCircuits(c *Context) []Subject {
	var out []Subject
	for i := range c.Job.Circuits {
		k := &c.Job.Circuits[i]
		out = append(out, Subject{Kind: "circuit", ID: k.ID, Pointer: circuitPointers.at(i), Pos: k.Pos, Circuit: k})
	}
	return out
}

// electricalCircuit calls f with the circuit that an item names; without one the value is Unknown.
func electricalCircuit(f func(*jobfile.Circuit) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		k := c.circuit(s.Item.Circuit)
		if s.Item.Circuit == "" || k == nil {
			return unknown()
		}
		return f(k)
	}
}

// electricalRCD is the RCD of a circuit; it does not arise for SELV and PELV.
func electricalRCD(k *jobfile.Circuit) Value {
	if k.Protection == "selv" || k.Protection == "pelv" {
		return none()
	}
	return num(k.RcdMA)
}

// electricalEmbedded says whether an item lies embedded under the finish.
func electricalEmbedded(it *jobfile.Item) bool {
	return it.Kind == "heating_cable" || it.Kind == "heating_sensor"
}

// electricalInLocation says whether an item is in the room or in and behind its panels.
func electricalInLocation(it *jobfile.Item) Value {
	switch zonePlace(it) {
	case "":
		return unknown()
	case "outside_room":
		return yes(false)
	}
	return yes(true)
}

// electricalHosed says whether a cleaning jet can meet an item.
func electricalHosed(c *Context, it *jobfile.Item) Value {
	hosed := c.Job.Room.HosedDown
	switch place := zonePlace(it); {
	case electricalEmbedded(it), place == "outside_room", place == "behind_panel", hosed != nil && !*hosed:
		return yes(false)
	case place == "", hosed == nil:
		return unknown()
	}
	return yes(true)
}

// electricalHasCableMark says whether the job format asks for a mark of the item's own cable.
func electricalHasCableMark(it *jobfile.Item) bool {
	return it.Kind == "led_strip" || it.Kind == "spotlight"
}

// electricalMark returns the IP mark of an item; arises is false for kinds of items that carry none.
func electricalMark(it *jobfile.Item) (mark string, arises bool) {
	return it.IPMark, it.Kind != "heating_sensor"
}

func electricalCableMark(it *jobfile.Item) (mark string, arises bool) {
	return it.CableIPMark, electricalHasCableMark(it)
}

// ipMark is a mark as read; the same mark stands on many items.
type ipMark struct {
	code  ipcode.Code
	notes string
	err   error
	open  *more // the remark that something is left open, once there is one
}

func (c *Context) ipMark(mark string) *ipMark {
	ip, known := c.marks.find(mark)
	if !known {
		ip = &ipMark{}
		if ip.code, ip.err = ipcode.Parse(mark); ip.err == nil {
			ip.notes = ip.code.Notes()
		}
		c.marks.put(mark, ip)
	}
	return ip
}

// electricalIPDigit takes one digit of a mark. It is Unknown when there is no mark, when the mark cannot be read, and when the mark
// leaves the digit open.
func electricalIPDigit(mark func(*jobfile.Item) (string, bool), proof func(ipcode.Code) (int, bool)) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		m, arises := mark(s.Item)
		switch {
		case !arises:
			return none()
		case m == "":
			return unknown()
		}
		ip := c.ipMark(m)
		if ip.err != nil {
			return unknown().note(ip.err.Error())
		}
		d, ok := proof(ip.code)
		if !ok {
			if ip.open == nil {
				ip.open = &more{note: "the mark " + ip.code.String() + " leaves this open"}
			}
			return unknown().having(ip.open)
		}
		return number(float64(d)).note(ip.notes)
	}
}

// electricalIPReadable says whether a mark is a proper IP code. It does not arise for an item outside the room
// for which no mark is given.
func electricalIPReadable(mark func(*jobfile.Item) (string, bool)) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		m, arises := mark(s.Item)
		switch {
		case !arises, m == "" && zonePlace(s.Item) == "outside_room":
			return none()
		case m == "":
			return unknown()
		}
		ip := c.ipMark(m)
		if ip.err != nil {
			return yes(false).note(ip.err.Error())
		}
		return yes(true).note(ip.notes)
	}
}

// electricalCeilingRiseK is how much warmer the air under the ceiling is taken to be than the air at seat height when the
// job does not give it. It is an assumption of this project.
const electricalCeilingRiseK = 5

const electricalCeilingNote = "the air under the ceiling is taken to be 5 K warmer than at seat height (assumption; give climate.ceiling_air_temperature_c)"

// electricalLocalAir is the air temperature round an item in the room, in °C.
func electricalLocalAir(c *Context, it *jobfile.Item) Value {
	switch zonePlace(it) {
	case "":
		return unknown()
	case "outside_room", "behind_panel":
		return none()
	}
	climate := c.Job.Climate
	face := c.Face(it.Face)
	switch {
	case climate == nil, face == nil && it.Kind != "steam_generator":
		return unknown()
	case face == nil || face.Kind != CeilingFace:
		return num(climate.AirTemperatureC)
	case climate.CeilingAirTemperatureC != nil:
		return num(climate.CeilingAirTemperatureC)
	case climate.AirTemperatureC == nil:
		return unknown()
	}
	return number(*climate.AirTemperatureC + electricalCeilingRiseK).note(electricalCeilingNote)
}

// electricalHeatingPower is the power of a heating cable in W. A series resistance cable
// that is cut has less resistance: P = P0·L0/(L0 − cut).
//
// Source: Ohm's law (computed). Check values: 60 m of 10 W/m give 600 W; cut to 54, 50 and 30 m
// they give 666.7, 720 and 1200 W.
func electricalHeatingPower(it *jobfile.Item) (w float64, ok bool) {
	if it.WattsPerM == nil || it.SuppliedLengthM == nil {
		return 0, false
	}
	w, err := heating.RatedPowerW(*it.WattsPerM, *it.SuppliedLengthM)
	if err == nil && it.SurplusPlace == "cut_off" {
		if it.SurplusLengthM == nil {
			return 0, false
		}
		w, err = heating.CutPowerW(w, *it.SuppliedLengthM, *it.SuppliedLengthM-*it.SurplusLengthM)
	}
	return w, err == nil
}

// electricalHeatingCurrent is the current of all heating cables of a circuit, in A.
func electricalHeatingCurrent(c *Context, k *jobfile.Circuit) Value {
	sum, cables := 0.0, 0
	known := true
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		if it.Kind != "heating_cable" || it.Circuit != k.ID {
			continue
		}
		cables++
		w, ok := electricalHeatingPower(it)
		known = known && ok
		sum += w
	}
	switch {
	case cables == 0:
		return none()
	case !known || k.VoltageV == nil:
		return unknown()
	}
	system := electric.SinglePhase
	if k.Phases != nil && *k.Phases == 3 {
		system = electric.ThreePhase
	}
	a, err := electric.CurrentA(system, sum, *k.VoltageV, 1)
	if err != nil {
		return unknown()
	}
	return number(a)
}

// showerOutletHeight is the height of a shower's outlet above finished floor, in mm.
func showerOutletHeight(c *Context, s *Subject) Value {
	if f := c.Face(s.Item.Face); f != nil && f.Kind == WallFace {
		return num(s.Item.YMM)
	}
	p, ok := c.place3(s.Item.Face, s.Item.XMM, s.Item.YMM)
	if !ok {
		return unknown()
	}
	return number(c.heightAbove(s.Item.Face, p))
}

const (
	electricalIPHow    = "second digits of the mark; 5 and 6 prove the lower ones, 7, 8 and 9 prove no jets"
	electricalIPSource = "IEC 60529, clauses 4 to 6 (digits read; 7 and 8 secondary; 9 from memory)"
)

func electricalRoomUse(c *Context, _ *Subject) Value { return text(c.Job.Room.Use) }

var _ = register("electrical_item", "an item that carries electricity", electricalItems,
	def(Text, "item_kind", "", "kind of the item", "", "", []string{"kind"}, func(_ *Context, s *Subject) Value { return text(s.Item.Kind) }).oneOf(electricalKinds...),
	given(Text, "role", "", "what an accessory or a light source serves as", "role", func(_ *Context, s *Subject) Value {
		if s.Item.Kind != "accessory" && s.Item.Kind != "light_source" {
			return none()
		}
		return text(s.Item.Role)
	}).oneOf("driver", "illuminator", "switch", "socket", "junction_box", "control"),
	given(Text, "room_use", "", "what the room is for", "/room/use", electricalRoomUse).oneOf("steam_room", "wet_room"),
	def(Text, "zone", "", "electrical zone of the item", zoneHow, zoneSource, zoneNeeds, func(c *Context, s *Subject) Value { return c.zoneOf(s.Item) }).oneOf(zone0, zone1, zone2, zoneSteam, zoneOutside, zoneBehind),
	def(Flag, "in_location", "", "whether the item is in the room, or in or behind its panels", "place of the item; items that are always fitted to a face are in the room", "", []string{"place"}, func(_ *Context, s *Subject) Value { return electricalInLocation(s.Item) }),
	def(Flag, "embedded", "", "whether the item lies embedded under the finish", "heating cables and their sensors are; nothing else is", "", []string{"kind"}, func(_ *Context, s *Subject) Value { return yes(electricalEmbedded(s.Item)) }),
	def(Flag, "hosed", "", "whether a cleaning jet can meet the item", "the room is hosed down and the item is in it, neither embedded nor behind a panel", "", []string{"/room/hosed_down", "place"}, func(c *Context, s *Subject) Value { return electricalHosed(c, s.Item) }),
	def(Text, "face_kind", "", "sort of face that the item is on", "of the face it names", "", []string{"face"}, func(c *Context, s *Subject) Value {
		f := c.Face(s.Item.Face)
		if f == nil {
			return unknown()
		}
		return text(string(f.Kind))
	}).oneOf(string(WallFace), string(FloorFace), string(CeilingFace), string(SeatFace), string(RiserFace)),

	def(Text, "protection", "", "how people are protected on the circuit", "as given for the circuit that the item names", "", []string{"/circuits/{circuit}/protection", "circuit"}, electricalCircuit(func(k *jobfile.Circuit) Value { return text(k.Protection) })).oneOf("ads", "selv", "pelv", "felv", "separation"),
	def(Text, "current", "", "alternating or direct current of the circuit", "as given for the circuit that the item names", "", []string{"/circuits/{circuit}/current", "circuit"}, electricalCircuit(func(k *jobfile.Circuit) Value { return text(k.Current) })).oneOf("ac", "dc"),
	def(Number, "voltage_v", "V", "nominal voltage of the circuit", "as given for the circuit that the item names", "", []string{"/circuits/{circuit}/voltage_v", "circuit"}, electricalCircuit(func(k *jobfile.Circuit) Value { return num(k.VoltageV) })),
	def(Number, "rcd_ma", "mA", "rated residual operating current of the circuit's RCD, 0 when there is none", "as given for the circuit that the item names; does not arise for SELV and PELV", "", []string{"/circuits/{circuit}/rcd_ma", "circuit"}, electricalCircuit(electricalRCD)),

	def(Flag, "ip_mark_readable", "", "whether the IP mark is a proper IP code", "read as printed; does not arise for a heating sensor, nor outside the room when no mark is given", electricalIPSource, []string{"ip_mark"}, electricalIPReadable(electricalMark)),
	def(Number, "ip_solids_digit", "", "highest first digit that the IP mark proves", "first digits of the mark; X states nothing", electricalIPSource, []string{"ip_mark"}, electricalIPDigit(electricalMark, ipcode.Code.Solids)),
	def(Number, "ip_splash_digit", "", "highest of the water digits 0 to 4 that the IP mark proves", electricalIPHow+"; a mark with 7, 8 or 9 alone leaves it open", electricalIPSource, []string{"ip_mark"}, electricalIPDigit(electricalMark, ipcode.Code.Splash)),
	def(Number, "ip_jets_digit", "", "water digit 5 or 6 that the IP mark proves, 0 when it proves no jets", electricalIPHow, electricalIPSource, []string{"ip_mark"}, electricalIPDigit(electricalMark, ipcode.Code.Jets)),
	def(Number, "ip_immersion_digit", "", "water digit 7 or 8 that the IP mark proves, 0 when it proves no immersion", electricalIPHow, electricalIPSource, []string{"ip_mark"}, electricalIPDigit(electricalMark, ipcode.Code.Immersion)),
	def(Flag, "cable_ip_mark_readable", "", "whether the IP mark of the lamp's cable is a proper IP code", "read as printed; for LED strips and spotlights", electricalIPSource, []string{"cable_ip_mark"}, electricalIPReadable(electricalCableMark)),
	def(Number, "cable_ip_solids_digit", "", "highest first digit that the IP mark of the lamp's cable proves", "first digits of the mark; X states nothing; for LED strips and spotlights", electricalIPSource, []string{"cable_ip_mark"}, electricalIPDigit(electricalCableMark, ipcode.Code.Solids)),
	def(Number, "cable_ip_immersion_digit", "", "water digit 7 or 8 that the IP mark of the lamp's cable proves, 0 when it proves no immersion", electricalIPHow+"; for LED strips and spotlights", electricalIPSource, []string{"cable_ip_mark"}, electricalIPDigit(electricalCableMark, ipcode.Code.Immersion)),

	def(Number, "rated_ambient_c", "°C", "highest air temperature that the maker allows round the item", "as given; does not arise for a heating sensor", "", []string{"rated_ambient_c"}, func(_ *Context, s *Subject) Value {
		if s.Item.Kind == "heating_sensor" {
			return none()
		}
		return num(s.Item.RatedAmbientC)
	}),
	def(Number, "local_air_c", "°C", "air temperature round the item", "rated climate; on the ceiling the air under it, or 5 K more than at seat height when that is not given; does not arise outside the room and behind panels", "", []string{"/climate/air_temperature_c", "/climate/ceiling_air_temperature_c", "face", "place"}, func(c *Context, s *Subject) Value { return electricalLocalAir(c, s.Item) }),
)

var _ = register("circuit", "an electrical circuit", electricalCircuits,
	given(Number, "breaker_a", "A", "rated current of the overcurrent device", "breaker_a", func(_ *Context, s *Subject) Value { return num(s.Circuit.BreakerA) }),
	def(Number, "heating_current_a", "A", "current of the heating cables on the circuit", "sum of rated W/m × supplied length, divided by the voltage (three phases: by √3 times the voltage); a cable counts as cut only when its surplus is given as cut off, and then P = P0·L0/(L0 − cut); does not arise without heating cables", "Ohm's law (computed)", []string{"voltage_v", "/items"}, func(c *Context, s *Subject) Value { return electricalHeatingCurrent(c, s.Circuit) }),
)

var _ = register("accessory", "a switch, socket, junction box or control", itemsOf("accessory"),
	given(Text, "room_use", "", "what the room is for", "/room/use", electricalRoomUse).oneOf("steam_room", "wet_room"),
	given(Text, "place", "", "where the accessory is", "place", func(_ *Context, s *Subject) Value { return text(s.Item.Place) }).oneOf("outside_room", "in_room", "behind_panel"),
	def(Text, "zone", "", "electrical zone of the accessory", zoneHow, zoneSource, zoneNeeds, func(c *Context, s *Subject) Value { return c.zoneOf(s.Item) }).oneOf(zone0, zone1, zone2, zoneSteam, zoneOutside, zoneBehind),
	def(Text, "protection", "", "how people are protected on the circuit", "as given for the circuit that the accessory names", "", []string{"/circuits/{circuit}/protection", "circuit"}, electricalCircuit(func(k *jobfile.Circuit) Value { return text(k.Protection) })).oneOf("ads", "selv", "pelv", "felv", "separation"),
)

var _ = register("shower", "a shower", itemsOf("shower"),
	given(Text, "outlet", "", "fixed outlet or hand-held hose", "outlet", func(_ *Context, s *Subject) Value { return text(s.Item.Outlet) }).oneOf("fixed", "hand_held"),
	def(Number, "outlet_height_mm", "mm", "height of the water outlet above finished floor", "y on the wall, or the height of the face it is on", "", []string{"face", "y_mm", "x_mm", "/room/height_mm"}, showerOutletHeight),
	def(Number, "zone_1_top_mm", "mm", "height of electrical zone 1 above finished floor", "as the zones of the rulebook say: 2250 mm, or the outlet when it is higher", "IEC 60364-7-701:2006, 701.30.3 (secondary)", []string{"face", "y_mm", "x_mm", "/room/height_mm"}, func(c *Context, s *Subject) Value {
		h := showerOutletHeight(c, s)
		if h.State != Known {
			return unknown()
		}
		set := c.zones[zoneSetShower]
		if set == nil {
			return unknown().note(zoneNoSetNote)
		}
		top, ok := set.TopMM(zone1, h.Num)
		if !ok {
			return unknown()
		}
		return number(top)
	}),
)
