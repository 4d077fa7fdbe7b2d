package measure

import (
	"slices"
	"sort"
	"strings"
	"unicode"
	"unicode/utf8"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// jobBitMaxMM is the largest hole that is drilled with a bit; a larger one is cut with a hole saw.
//
// Source: common practice; hole saws are commonly sold from 14 mm up (memory).
const jobBitMaxMM = 16

// jobHole is one hole in a panel as the tools see it. A length that is not known is nil.
type jobHole struct {
	diameterMM *float64
	depthMM    *float64 // of a blind hole
	through    bool
	face       string
}

// jobOpeningKind says whether items of a kind sit in an opening of their own.
func jobOpeningKind(kind string) bool {
	switch kind {
	case "drain", "shower", "spotlight", "steam_outlet", "temperature_sensor", "ventilation_outlet":
		return true
	}
	return false
}

// jobIsOpening says whether something is cut out of the panel for an item before the mesh. The holes of fibre lights and
// of cables are drilled with other tasks.
func jobIsOpening(it *jobfile.Item) bool {
	return jobOpeningKind(it.Kind) || it.Kind == "accessory" && it.OpeningDiameterMM != nil || jobHasInserts(it)
}

// jobHasInserts says whether inserts are bonded in for an item. An empty list says that there are none; a
// list that is not given says nothing.
func jobHasInserts(it *jobfile.Item) bool {
	return (it.Kind == "fixing" || it.Kind == "glazed_door") && (it.Inserts == nil || len(it.Inserts) > 0)
}

// jobTakesCollar says whether an item is of a kind that a collar seals.
func jobTakesCollar(it *jobfile.Item) bool {
	return it.Kind != "drain" && jobOpeningKind(it.Kind)
}

// jobEachHole tells the holes of an item. An item without holes has none; holes that the job says nothing of count
// as one hole of unknown size.
func jobEachHole(it *jobfile.Item, on func(jobHole)) {
	switch {
	case jobOpeningKind(it.Kind), it.Kind == "fibre_lights", it.Kind == "accessory" && it.OpeningDiameterMM != nil:
		on(jobHole{diameterMM: it.OpeningDiameterMM, through: true, face: it.Face})
	case it.Kind == "heating_cable":
		on(jobHole{diameterMM: it.ExitDiameterMM, through: true, face: it.Face})
	case jobHasInserts(it) && len(it.Inserts) == 0:
		on(jobHole{face: it.Face})
	case jobHasInserts(it):
		for i := range it.Inserts {
			on(jobHole{diameterMM: it.Inserts[i].DiameterMM, depthMM: it.Inserts[i].DepthMM, face: it.Face})
		}
	}
}

// jobHolesOf lists them.
func jobHolesOf(it *jobfile.Item) (holes []jobHole) {
	jobEachHole(it, func(h jobHole) { holes = append(holes, h) })
	return holes
}

// jobMissingSizes counts the sizes that are needed and not listed, and names them. When a size that is needed
// is not known, the count is only given when it cannot be nought.
func jobMissingSizes(needed []float64, unsure bool, listed []float64) Value {
	switch {
	case len(needed) == 0 && !unsure:
		return none()
	case listed == nil:
		return unknown()
	}
	have := make([]float64, len(listed))
	for i, v := range listed {
		have[i] = geometry.RoundMM(v)
	}
	sort.Float64s(have)
	var lacking []float64
	for i, v := range needed {
		if i > 0 && v == needed[i-1] {
			continue
		}
		v = geometry.RoundMM(v)
		if _, there := slices.BinarySearch(have, v); !there {
			lacking = append(lacking, v)
		}
	}
	if len(lacking) == 0 {
		if unsure {
			return unknown().note("a size that is needed is not given")
		}
		return number(0)
	}
	sort.Float64s(lacking)
	lacking = slices.Compact(lacking) // named once
	words := make([]string, len(lacking))
	for i, v := range lacking {
		words[i] = FormatNumber(v) + " mm"
	}
	return number(float64(len(lacking))).note(strings.Join(words, ", "))
}

// jobMissingTools counts the diameters of holes, small ones or large ones, for which no tool is listed.
func jobMissingTools(large bool, listed func(*jobfile.Tools) []float64) func(*Context, *Subject) Value {
	return func(c *Context, _ *Subject) Value {
		var room [32]float64
		needed := room[:0] // each size once, as far as they stand side by side
		unsure := false
		for i := range c.Job.Items {
			jobEachHole(&c.Job.Items[i], func(h jobHole) {
				switch {
				case h.diameterMM == nil:
					unsure = true
				case (*h.diameterMM > jobBitMaxMM) == large && (len(needed) == 0 || needed[len(needed)-1] != *h.diameterMM):
					needed = append(needed, *h.diameterMM)
				}
			})
		}
		var have []float64
		if c.Job.Tools != nil {
			have = listed(c.Job.Tools)
		}
		return jobMissingSizes(needed, unsure, have)
	}
}

func jobMissingCutters(c *Context, _ *Subject) Value {
	var needed, have []float64
	unsure := false
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		switch {
		case it.Kind != "heating_cable":
		case it.GrooveWidthMM == nil:
			unsure = true
		default:
			needed = append(needed, *it.GrooveWidthMM)
		}
	}
	if c.Job.Tools != nil {
		have = c.Job.Tools.GrooveCuttersMM
	}
	return jobMissingSizes(needed, unsure, have)
}

// jobHandSaw says whether a hand saw is listed. It does not arise when the hole saws reach through every hole
// that they cut.
func jobHandSaw(c *Context, _ *Subject) Value {
	var tools jobfile.Tools
	if c.Job.Tools != nil {
		tools = *c.Job.Tools
	}
	sawn, unsure, deepest := false, tools.SawReachMM == nil, 0.0
	for i := range c.Job.Items {
		jobEachHole(&c.Job.Items[i], func(h jobHole) {
			if h.diameterMM != nil && *h.diameterMM <= jobBitMaxMM {
				return
			}
			sawn = true
			depth := h.depthMM
			if h.through {
				depth = nil
				if f := c.Face(h.face); f != nil && f.Panel != nil {
					depth = f.Panel.ThicknessMM
				}
			}
			if depth == nil || h.diameterMM == nil {
				unsure = true
			} else {
				deepest = max(deepest, *depth)
			}
		})
	}
	short := tools.SawReachMM != nil && *tools.SawReachMM < deepest
	switch {
	case !sawn || !short && !unsure:
		return none()
	case tools.HandSaw != nil && (short || *tools.HandSaw):
		// A hand saw that is listed will do whatever the reach is.
		return flag(tools.HandSaw)
	}
	return unknown()
}

// jobHasKind says whether the job has an item of a kind.
func jobHasKind(c *Context, kind string) bool {
	for i := range c.Job.Items { // an item is too large to be passed by value
		if c.Job.Items[i].Kind == kind {
			return true
		}
	}
	return false
}

// jobNamesWork says whether the job names any work: items, tasks or a build-up.
func jobNamesWork(c *Context) bool {
	return len(c.Job.Items) > 0 || len(c.Job.Tasks) > 0 || slices.ContainsFunc(c.Faces, func(f *Face) bool { return len(f.BuildUp) > 0 })
}

// jobMissingTasks counts the tasks that the faces and items of the job call for and that are not listed.
func jobMissingTasks(c *Context, _ *Subject) Value {
	switch {
	case !jobNamesWork(c):
		return none()
	case len(c.Job.Tasks) == 0:
		return unknown().note("no tasks are listed")
	}
	t := c.timetable()
	var lacking []string
	for _, name := range Tasks {
		if c.jobCallsFor(name) && t.at(taskScope{0, taskNameOf(name), taskForAny}).none() {
			lacking = append(lacking, Words(name))
		}
	}
	return number(float64(len(lacking))).note(strings.Join(lacking, ", "))
}

// jobCallsFor says whether the faces and items of the job call for a task.
func (c *Context) jobCallsFor(name string) bool {
	switch name {
	case "tile", "plaster", "fit": // finish stands for the first two; what is fitted last is told by the items' own rules
		return false
	case "first_steam":
		return jobHasKind(c, "steam_outlet")
	}
	task := taskNameOf(name)
	return slices.ContainsFunc(c.Faces, func(f *Face) bool { return c.dueOnFace(task, f, f.ID) })
}

// jobPPE says whether a kind of personal protective equipment is in the plan. It does not arise while the
// job names no work.
func jobPPE(what string) func(*Context, *Subject) Value {
	return func(c *Context, _ *Subject) Value {
		if !jobNamesWork(c) {
			return none()
		}
		if c.Job.Safety == nil || c.Job.Safety.PPE == nil {
			return unknown()
		}
		return yes(slices.Contains(c.Job.Safety.PPE, what))
	}
}

// jobSafety calls f with the safety plan; without a plan the value is Unknown.
func jobSafety(f func(*jobfile.Safety) Value) func(*Context, *Subject) Value {
	return func(c *Context, _ *Subject) Value {
		if c.Job.Safety == nil {
			return unknown()
		}
		return f(c.Job.Safety)
	}
}

// jobHasWord says whether a text holds one of the words, in any letter case. Words are unbroken letters.
func jobHasWord(text string, words ...string) bool {
	return firstWord(text, words) >= 0
}

// firstWord is the place of the first of the words that a text holds, or -1.
func firstWord(text string, words []string) int {
	first := len(words)
	look := func(word string) {
		for i, w := range words[:first] {
			if len(w) == len(word) && sameLetters(word, w) {
				first = i
				return
			}
		}
	}
	from := -1 // where a word began
	for i := 0; i < len(text); i++ {
		switch b := text[i]; {
		case b >= utf8.RuneSelf:
			first = len(words)
			for _, w := range strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) }) {
				look(w)
			}
			return pick(first < len(words), first, -1)
		case 'a' <= b|0x20 && b|0x20 <= 'z':
			if from < 0 {
				from = i
			}
		case from >= 0:
			look(text[from:i])
			from = -1
		}
	}
	if from >= 0 {
		look(text[from:])
	}
	return pick(first < len(words), first, -1)
}

// sameLetters says whether a word is another one in small letters; both are of one length.
func sameLetters(word, small string) bool {
	for i := range len(word) {
		if b := word[i]; b != small[i] && b|0x20 != small[i] {
			return false
		}
	}
	return true
}

// jobIsocyanateTraining says whether the people who use polyurethane are trained for it. It
// does not arise when no polyurethane is used.
func jobIsocyanateTraining(c *Context, _ *Subject) Value {
	used, unsure := false, false
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		used = used || it.Adhesive == "polyurethane"
		unsure = unsure || jobHasInserts(it) && it.Adhesive == ""
	}
	for i := range c.Job.Tasks {
		used = used || jobHasWord(c.Job.Tasks[i].Material, "polyurethane", "polyurethanes", "pu", "pur", "isocyanate", "isocyanates", "diisocyanate", "diisocyanates")
	}
	var trained *bool
	if c.Job.Safety != nil {
		trained = c.Job.Safety.IsocyanateTraining
	}
	switch {
	case used:
		return flag(trained)
	case !unsure:
		return none()
	case trained != nil && *trained:
		return yes(true)
	}
	return unknown().note("which adhesive holds the inserts is not given")
}

// jobReleaseSigned says whether somebody released the waterproofing for the finish in
// writing: not before the last flood test was over, and not after the last piece of finish was begun.
func jobReleaseSigned(c *Context, _ *Subject) Value {
	finished := false
	var tested, begun moment
	for i := range c.Job.Tasks {
		name, times := c.Job.Tasks[i].Task, &c.timetable().own(i).times[1]
		switch {
		case is(name, "finish"):
			finished = true
			begun = max(begun, times.start)
		case name == "flood_test":
			tested = max(tested, times.finish)
		}
	}
	for _, f := range c.Faces {
		finished = finished || f.mayHave("tile") || f.mayHave("lime_plaster")
	}
	if !finished {
		return none()
	}
	for i := range c.Job.Records {
		if r := &c.Job.Records[i]; r.Record == "flood_test" {
			tested = max(tested, momentAt(r.Finish))
		}
	}
	return recordSigned(c, func(text string) bool {
		return jobHasWord(text, "tiling", "plastering") || jobHasWord(text, "release") && jobHasWord(text, "tile", "tiles", "plaster", "finish")
	}, func(at moment) (wrong, unsure string) {
		switch {
		case tested == 0:
			return "", "when the flood test was over is not given"
		case at < tested:
			return "signed before the flood test was over", ""
		case begun != 0 && at > begun:
			return "signed after the finish was begun", ""
		}
		return "", ""
	})
}

var _ = register("job", "the job as a whole", func(c *Context) []Subject {
	return []Subject{{Kind: "job", ID: "job", Pos: c.Job.Pos}}
},
	firstSteamSigned, handoverSigned, electricalTestsSigned, firstSteamAir, ratedAir, firstSteamCeilingAir, ratedCeilingAir,
	def(Number, "missing_saws", "", "number of diameters above 16 mm for which no hole saw is listed", "different diameters of openings and inserts above 16 mm without a hole saw of the same diameter; does not arise without such holes", "",
		[]string{"/tools/hole_saws_mm", "/items"}, jobMissingTools(true, func(t *jobfile.Tools) []float64 { return t.HoleSawsMM })),
	def(Number, "missing_bits", "", "number of diameters up to 16 mm for which no bit is listed", "different diameters of holes up to 16 mm without a bit of the same diameter; does not arise without such holes", "",
		[]string{"/tools/bits_mm", "/items"}, jobMissingTools(false, func(t *jobfile.Tools) []float64 { return t.BitsMM })),
	def(Number, "missing_cutters", "", "number of groove widths for which no groove cutter is listed", "different groove widths of heating cables without a cutter of the same width; does not arise without heating cables", "",
		[]string{"/tools/groove_cutters_mm", "/items"}, jobMissingCutters),
	def(Flag, "hand_saw", "", "whether a hand saw is listed to finish holes that the hole saws do not cut through", "as given; does not arise when the reach of the hole saws is at least the panel thickness, and the depth of every insert", "",
		[]string{"/tools/hand_saw", "/tools/saw_reach_mm", "/panel/thickness_mm", "/items"}, jobHandSaw),
	def(Flag, "insulation_tester", "", "whether an insulation tester is listed", "as given; does not arise without heating cables", "", []string{"/tools/insulation_tester"}, func(c *Context, _ *Subject) Value {
		switch {
		case !jobHasKind(c, "heating_cable"):
			return none()
		case c.Job.Tools == nil:
			return unknown()
		}
		return flag(c.Job.Tools.InsulationTester)
	}),
	def(Flag, "gloves", "", "whether protective gloves are in the plan", "as given; does not arise while the job names no work", "", []string{"/safety/ppe"}, jobPPE("gloves")),
	def(Flag, "eye_protection", "", "whether eye protection is in the plan", "as given; does not arise while the job names no work", "", []string{"/safety/ppe"}, jobPPE("eye_protection")),
	def(Text, "dust_control", "", "how dust of tile and cement is held down", "as given; does not arise when no face has tile or cement", "", []string{"/safety/dust_control"}, func(c *Context, s *Subject) Value {
		dusty := func(f *Face) bool { return f.mayHave("tile") || f.mayHave("cement") || f.mayHave("tile_bed") }
		if !slices.ContainsFunc(c.Faces, dusty) {
			return none()
		}
		return jobSafety(func(s *jobfile.Safety) Value { return text(s.DustControl) })(c, s)
	}).oneOf("none", "wet_cutting", "extraction"),
	def(Flag, "isocyanate_training", "", "whether everyone who uses polyurethane has had the training", "as given; does not arise when no adhesive and no task's material is polyurethane", "",
		[]string{"/safety/isocyanate_training", "/items", "/tasks"}, jobIsocyanateTraining),
	def(Flag, "isolation_plan", "", "whether the plan says how supplies are switched off, secured and proved dead", "as given; does not arise without circuits", "", []string{"/safety/isolation_plan"}, func(c *Context, s *Subject) Value {
		if len(c.Job.Circuits) == 0 {
			return none()
		}
		return jobSafety(func(s *jobfile.Safety) Value { return flag(s.IsolationPlan) })(c, s)
	}),
	def(Number, "missing_tasks", "", "number of tasks that the job calls for and does not list", "tasks that some face or item calls for and that the programme lacks; does not arise while the job names no work", "",
		[]string{"/tasks", "/items"}, jobMissingTasks),
	def(Flag, "release_for_tiling_signed", "", "whether the waterproofing was released for tiling or plastering in writing", "a signature for tiling or plastering, not before the last flood test is over and not after the last piece of finish is begun; does not arise without a finish", "",
		[]string{"/records"}, jobReleaseSigned),
)

// taskTempered are the tasks whose materials set by a reaction with water or air, and want a temperature for it.
var taskTempered = []string{"bond_inserts", "embed_cable", "joint", "mesh_and_cement", "plaster", "seal", "tile", "waterproof"}

// taskGrout says what fills the joints of the faces that a task is for. Cement tells when both
// occur, as it takes the longer.
func taskGrout(c *Context, s *Subject) Value {
	if len(s.Task.Items) == 0 && len(s.Task.Faces) == 0 {
		if c.grout == nil {
			v := c.groutOn(nil, nil)
			c.grout = &v
		}
		return *c.grout
	}
	var room [16]string
	named := room[:0] // the faces of the items
	for _, id := range s.Task.Items {
		if it := c.items[id]; it != nil {
			named = append(named, it.Face)
		}
	}
	return c.groutOn(s.Task.Faces, named)
}

// groutOn looks at the faces that are named in one list or the other, or at all when there is no list.
func (c *Context) groutOn(faces, named []string) Value {
	epoxy, unsure := false, false
	for _, f := range c.Faces {
		if (faces != nil || named != nil) && !slices.Contains(faces, f.ID) && !slices.Contains(named, f.ID) || !f.mayHave("tile") {
			continue
		}
		switch {
		case f.Joints == nil || f.Joints.Grout == "":
			unsure = true
		case f.Joints.Grout == "cement":
			return text("cement")
		default:
			epoxy = true
		}
	}
	switch {
	case unsure:
		return unknown()
	case epoxy:
		return text("epoxy")
	}
	return none()
}

var _ = register("task", "a task of the programme", func(c *Context) []Subject {
	if len(c.Job.Tasks) == 0 {
		return nil
	}
	out := c.subjects(len(c.Job.Tasks))
	c.eachTask(func(i int, t *jobfile.Task, _ taskName, id string) {
		out[i] = Subject{Kind: "task", ID: id, Pointer: taskPointers.at(i), Pos: t.Pos, Task: t, n: i}
	})
	return out
},
	def(Number, "site_temperature_c", "°C", "temperature of air and panels while the task is done and cures", "as given; does not arise for tasks without cement, waterproofing, adhesive or sealant", "", []string{"site_temperature_c"}, func(_ *Context, s *Subject) Value {
		if !slices.Contains(taskTempered, s.Task.Task) {
			return none()
		}
		return num(s.Task.SiteTemperatureC)
	}),
	def(Text, "grout", "", "grout of the joints on the faces that the task is for", "cement when any of these faces has cement joints, else epoxy; does not arise without tiles", "", []string{"/joints/grout"}, taskGrout).oneOf("cement", "epoxy"),
)
