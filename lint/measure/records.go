package measure

import "strconv"

// Records of inspections: who signed for what and when, what was read at first steam, photographs.

// recordTask sums up the recorded times of a task: when it was begun first, when the last of it was over, and whether all of its tasks
// have both times. There is none without tasks of the name.
func recordTask(c *Context, names ...string) (begun, over moment, all, some bool) {
	t := c.timetable()
	var sum taskGroup
	for _, name := range names {
		sum.add(t.at(taskScope{0, taskNameOf(name), taskForAny}))
	}
	times := &sum.times[1]
	some = !sum.none()
	return times.start, times.finish, some && !times.noStart && !times.noFinish, some
}

// recordSigned looks for a signature that is for something. The judge of its time says what is wrong with it, or what is not known; both
// empty for a good one.
func recordSigned(c *Context, isFor func(text string) bool, judge func(at moment) (wrong, unsure string)) Value {
	wrong, unsure := "", ""
	for i := range c.Job.Records {
		r := &c.Job.Records[i]
		if r.Record != "signature" || !isFor(r.For) {
			continue
		}
		at := momentAt(r.At)
		if at == 0 {
			unsure = "the signature has no time"
			continue
		}
		w, u := judge(at)
		switch {
		case w != "":
			wrong = w
		case u != "":
			unsure = u
		default:
			return yes(true)
		}
	}
	return recordShort(wrong, unsure, "no such signature is recorded")
}

// recordShort is the value of a record that is not good: it may be after all, it is wrong, or there is none.
func recordShort(wrong, unsure, missing string) Value {
	switch {
	case unsure != "":
		return unknown().note(unsure)
	case wrong != "":
		return yes(false).note(wrong)
	}
	return unknown().note(missing)
}

// recordSteams says whether steam is ever raised in the room.
func recordSteams(c *Context) bool {
	if _, _, _, some := recordTask(c, "first_steam"); some || c.Job.Room != nil && c.Job.Room.Use == "steam_room" {
		return true
	}
	for i := range c.Job.Items {
		if k := c.Job.Items[i].Kind; k == "steam_outlet" || k == "steam_generator" {
			return true
		}
	}
	return false
}

var recordNeeds = []string{"/records/signature/for", "/records/signature/at", "/records", "/tasks"}

var firstSteamSigned = def(Flag, "first_steam_signed", "", "whether somebody signed for the first steam", "a signature for the first steam, not before it was begun by the recorded times; does not arise without steam", "",
	recordNeeds, func(c *Context, _ *Subject) Value {
		if !recordSteams(c) {
			return none()
		}
		begun, _, _, _ := recordTask(c, "first_steam")
		return recordSigned(c, func(s string) bool { return jobHasWord(s, "steam") }, func(at moment) (wrong, unsure string) {
			switch {
			case begun == 0:
				return "", "when steam was first raised is not given"
			case at < begun:
				return "signed before steam was first raised", ""
			}
			return "", ""
		})
	})

var handoverSigned = def(Flag, "handover_signed", "", "whether somebody signed for the handover", "a signature for the handover, not before the last recorded task was over; does not arise while the job names no work", "",
	recordNeeds, func(c *Context, _ *Subject) Value {
		if len(c.Job.Tasks) == 0 {
			return none()
		}
		var over moment
		for i := range c.Job.Tasks {
			over = max(over, c.timetable().own(i).times[1].finish)
		}
		return recordSigned(c, func(s string) bool {
			return jobHasWord(s, "handover")
		}, func(at moment) (wrong, unsure string) {
			switch {
			case over == 0:
				return "", "when the work was over is not given"
			case at < over:
				return "signed before the work was over", ""
			}
			return "", ""
		})
	})

var electricalTestsSigned = def(Flag, "electrical_tests_signed", "", "whether an electrician signed for the tests of the circuits", "a signature for electrical tests, not after heating or steam was first switched on by the recorded times; does not arise without circuits", "",
	recordNeeds, func(c *Context, _ *Subject) Value {
		if len(c.Job.Circuits) == 0 {
			return none()
		}
		begun, _, _, some := recordTask(c, "restart_heating", "first_steam")
		return recordSigned(c, func(s string) bool {
			return jobHasWord(s, "electrical", "electric") && jobHasWord(s, "test", "tests", "testing", "inspection")
		}, func(at moment) (wrong, unsure string) {
			switch {
			case some && begun == 0:
				return "", "when heating or steam was first switched on is not given"
			case some && at > begun:
				return "signed after heating or steam was switched on", ""
			}
			return "", ""
		})
	})

// recordHottest is the highest temperature on record that was read while steam was first raised.
func recordHottest(of string, optional bool) func(*Context, *Subject) Value {
	return func(c *Context, _ *Subject) Value {
		if !recordSteams(c) {
			return none()
		}
		begun, over, all, _ := recordTask(c, "first_steam")
		var best *float64
		there, untimed := false, false
		for i := range c.Job.Records {
			r := &c.Job.Records[i]
			if r.Record != "temperature" || r.Of != of || r.TemperatureC == nil {
				continue
			}
			there = true
			switch at := momentAt(r.At); {
			case at == 0 || !all:
				untimed = true
			case at < begun || at > over:
			case best == nil || *r.TemperatureC > *best:
				best = r.TemperatureC
			}
		}
		switch {
		case untimed: // it might be the highest
			return unknown().note("when it was read, or when steam was first raised, is not given")
		case best != nil:
			return number(*best)
		case optional && !there:
			return none()
		}
		return unknown().note("no temperature was read while steam was first raised")
	}
}

var recordTemperatureNeeds = []string{"/records/temperature/temperature_c", "/records/temperature/at", "/records", "/tasks/first_steam/actual"}

var (
	firstSteamAir = def(Number, "first_steam_air_c", "°C", "highest temperature of the air at the seats that was read at the first steam", "highest reading of the air between start and finish of the first steam; does not arise without steam", "",
		recordTemperatureNeeds, recordHottest("air", false))
	firstSteamCeilingAir = def(Number, "first_steam_ceiling_air_c", "°C", "highest temperature of the air under the ceiling that was read at the first steam", "highest reading under the ceiling between start and finish of the first steam; does not arise without such a reading", "",
		recordTemperatureNeeds, recordHottest("ceiling_air", true))
	ratedAir = def(Number, "rated_air_c", "°C", "temperature of the air that the room is rated for", "", "", []string{"/climate/air_temperature_c"}, func(c *Context, _ *Subject) Value {
		if c.Job.Climate == nil {
			return unknown()
		}
		return num(c.Job.Climate.AirTemperatureC)
	})
	ratedCeilingAir = def(Number, "rated_ceiling_air_c", "°C", "temperature of the air under the ceiling that the room is rated for", "", "", []string{"/climate/ceiling_air_temperature_c"}, func(c *Context, _ *Subject) Value {
		if c.Job.Climate == nil {
			return unknown()
		}
		return num(c.Job.Climate.CeilingAirTemperatureC)
	})
)

// heatingPhoto says whether a laid cable was photographed while it could be seen.
func heatingPhoto(c *Context, s *Subject) Value {
	of := func(name string) (begun moment) {
		for i := range c.Job.Tasks {
			t := &c.Job.Tasks[i]
			if t.Task != name {
				continue
			}
			for _, it := range c.cureItems(t) {
				if start := c.timetable().own(i).times[1].start; it == s.Item && start != 0 && (begun == 0 || start < begun) {
					begun = start
				}
			}
		}
		return begun
	}
	laid, covered := of("lay_cable"), of("embed_cable")
	wrong, unsure := "", ""
	for i := range c.Job.Records {
		r := &c.Job.Records[i]
		if r.Record != "photo" || r.Item != s.Item.ID {
			continue
		}
		switch at := momentAt(r.At); {
		case at == 0:
			unsure = "the photograph has no time"
		case laid == 0 || covered == 0:
			unsure = "when the cable was laid and covered is not given"
		case at < laid:
			wrong = "taken before the cable was laid"
		case at > covered:
			wrong = "taken after the cable was covered"
		default:
			return yes(true)
		}
	}
	return recordShort(wrong, unsure, "no photograph of the cable is on record")
}

var _ = register("photo", "a photograph on record", func(c *Context) []Subject {
	var out []Subject
	for i := range c.Job.Records {
		if r := &c.Job.Records[i]; r.Record == "photo" {
			out = append(out, Subject{Kind: "photo", ID: "photo_" + strconv.Itoa(len(out)+1), Pointer: recordPointers.at(i), Pos: r.Pos, Record: r})
		}
	}
	return out
},
	def(Flag, "own_picture", "", "whether the picture is one of its own", "no when another photograph on record of another thing has the same SHA-256; not known without it", "",
		[]string{"sha256"}, func(c *Context, s *Subject) Value {
			r := s.Record
			if r.SHA256 == "" {
				return unknown()
			}
			for i := range c.Job.Records {
				o := &c.Job.Records[i]
				if o != r && o.Record == "photo" && o.SHA256 == r.SHA256 && (o.Item != r.Item || o.Face != r.Face) {
					return yes(false).note("the same picture as " + o.Name)
				}
			}
			return yes(true)
		}),
)
