package measure

import (
	"errors"
	"slices"

	"wetrule/lint/calc/maturity"
	"wetrule/lint/jobfile"
)

// cureNext are the tasks that leave something behind that cures, and what has to wait for it, by the name of the task.
//
// Source: the usual order of work (common practice).
var cureNext = func(next map[string][]string) (out [256][]taskName) {
	for name, then := range next {
		for _, s := range then {
			n := taskNameOf(name)
			out[n] = append(out[n], taskNameOf(s))
		}
	}
	return out
}(map[string][]string{
	"assemble_panels": {"cut_openings", "cut_grooves", "mesh_and_cement"},
	"bond_inserts":    {"drive_screws", "hang_door"},
	"embed_cable":     {"mesh_and_cement"},
	"mesh_and_cement": {"fit_collars", "waterproof"},
	"waterproof":      {"flood_test", "tile", "plaster"},
	"tile":            {"joint"},
	"joint":           {"seal", "first_steam"},
	"seal":            {"first_steam"},
})

// cureSubjects are the tasks that cure, by the ids that they have among all tasks.
func cureSubjects(c *Context) []Subject {
	n := 0
	for _, name := range c.timetable().names {
		if cureNext[name] != nil {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	out := c.subjects(n)[:0]
	c.eachTask(func(i int, t *jobfile.Task, name taskName, id string) {
		if cureNext[name] != nil {
			out = append(out, Subject{Kind: "cure", ID: id, Pointer: taskPointers.at(i), Pos: t.Pos, Task: t, n: i})
		}
	})
	return out
}

// cured is what the measures of a task that cures share.
type cured struct {
	followers []cureFollower
	product   Value
	asked     bool // for the product
}

// cureFollower is a task that has to wait for another one to cure.
type cureFollower struct {
	index int
	name  taskName
}

// cureFaces are the faces that a task is for: those that it names, or, when it names neither faces nor items, all
// that no other task of its name names.
func (c *Context) cureFaces(task *jobfile.Task) []*Face {
	if len(task.Faces) == 0 && len(task.Items) == 0 {
		t, name := c.timetable(), taskNameOf(task.Task)
		if int(name) < len(t.rows) && (t.rows[name].named == nil || t.rows[name].named.face == nil) {
			return slices.Clip(c.Faces)
		}
		var out []*Face
		for _, f := range c.Faces {
			if !t.named(name, f) {
				out = append(out, f)
			}
		}
		return out
	}
	out := make([]*Face, 0, len(task.Faces))
	for _, id := range task.Faces {
		if f := c.Face(id); f != nil {
			out = append(out, f)
		}
	}
	return out
}

// cureItems are the items that a task is for: those that it names, or else those on its faces.
func (c *Context) cureItems(task *jobfile.Task) []*jobfile.Item {
	var out []*jobfile.Item
	for _, id := range task.Items {
		if it := c.items[id]; it != nil {
			out = append(out, it)
		}
	}
	for _, f := range c.cureFaces(task) {
		out = append(out, c.timetable().itemsOn(f)...)
	}
	return out
}

// cured finds for every task that cures the tasks that have to wait for it, on what both are for. It is nil for a task after which nothing cures.
func (c *Context) cured(task int) *cured {
	if c.curesOf == nil {
		c.findCures()
	}
	if i := c.curesOf[task]; i >= 0 {
		return &c.cures[i]
	}
	return nil
}

func (c *Context) findCures() {
	tasks, names := c.Job.Tasks, c.timetable().names
	c.curesOf = make([]int32, len(tasks))
	n := 0
	for i, name := range names {
		c.curesOf[i] = -1
		if cureNext[name] != nil {
			c.curesOf[i] = int32(n)
			n++
		}
	}
	c.cures = make([]cured, n)
	found := make([]cureFollower, 0, 2*n)
	for i := range tasks {
		if c.curesOf[i] < 0 {
			continue
		}
		t, from := &tasks[i], len(found)
		faces := c.cureFaces(t)
		for _, n := range cureNext[names[i]] {
			for k := range tasks {
				if names[k] == n && c.cureMeets(t, names[i], faces, &tasks[k], n) {
					found = append(found, cureFollower{k, n})
				}
			}
		}
		c.cures[c.curesOf[i]].followers = slices.Clip(found[from:])
	}
}

// cureMeets says whether a later task is for something that a task which cures is for. It reads the words of the job as waits do.
func (c *Context) cureMeets(task *jobfile.Task, cures taskName, faces []*Face, later *jobfile.Task, name taskName) bool {
	t := c.timetable()
	room := len(later.Items) == 0 && len(later.Faces) == 0
	if whole := len(task.Items) == 0 && len(task.Faces) == 0; whole && room {
		return true
	}
	for _, f := range faces {
		if len(task.Faces) == 0 && !c.dueOnFace(cures, f, f.ID) {
			continue // a task for the whole room is not for faces on which there is nothing for it to do
		}
		switch {
		case slices.Contains(later.Faces, f.ID), room && !t.named(name, f):
			return true
		case slices.ContainsFunc(later.Items, func(id string) bool { return c.items[id] != nil && c.items[id].Face == f.ID }):
			return true
		}
	}
	for _, id := range task.Items {
		face := ""
		if it := c.items[id]; it != nil {
			face = it.Face
		}
		named := !t.forItem(name, id).none()
		faced := face != "" && !t.forFace(name, face).none()
		switch {
		case slices.Contains(later.Items, id), !named && face != "" && slices.Contains(later.Faces, face), !named && !faced && room:
			return true
		}
	}
	return false
}

// cureDue says whether some task that has to wait is to be expected on what a task is for.
func (c *Context) cureDue(task *jobfile.Task, names []taskName) bool {
	return slices.ContainsFunc(names, func(name taskName) bool {
		if name == taskFirstSteam {
			return jobHasKind(c, "steam_outlet")
		}
		return slices.ContainsFunc(c.cureFaces(task), func(f *Face) bool { return c.dueOnFace(name, f, f.ID) }) ||
			slices.ContainsFunc(task.Items, func(id string) bool {
				it := c.items[id]
				return it == nil || taskDueOn(Tasks[name], it, nil, c.Face(it.Face))
			})
	})
}

var (
	taskFirstSteam = taskNameOf("first_steam")
	taskJoint      = taskNameOf("joint")
	cureSteam      = []taskName{taskFirstSteam}
)

// cureLeft is the time that is left from the finish of a task to the first of the tasks that have to wait for it, in hours; k is 0 by planned
// and 1 by recorded times. Where it is not Known, why says what is missing; else first is what comes first.
type cureLeft struct {
	state State
	hours float64
	why   string
	first cureFollower
}

// cureLeft finds the time that is left. Only what begins after the task has begun counts: what began before belongs to an earlier round, or
// stands in the wrong order, which other rules find.
func (c *Context) cureLeft(s *Subject, names []taskName, k int) cureLeft {
	t := c.timetable()
	own := &t.own(s.n).times[k]
	var first moment
	var firstOf, lacking *cureFollower
	some := false
	followers := c.cured(s.n).followers
	for i := range followers {
		f := &followers[i]
		if !slices.Contains(names, f.name) {
			continue
		}
		some = true
		begins := t.own(f.index).times[k].start
		switch {
		case begins == 0:
			lacking = f
		case begins < own.start:
		case first == 0 || begins < first:
			first, firstOf = begins, f
		}
	}
	switch {
	case !some && !c.cureDue(s.Task, names):
		return cureLeft{}
	case !some:
		return cureLeft{state: Unknown, why: "nothing that has to wait for it is in the programme"}
	case own.finish == 0:
		return cureLeft{state: Unknown, why: "the task has no finish"}
	case first == 0 && lacking == nil:
		return cureLeft{state: Unknown, why: "what has to wait for it begins before it"}
	case first == 0:
		return cureLeft{state: Unknown, why: cureNoStart(lacking.name)}
	}
	h := waitHours(first.sub(own.finish))
	if lacking != nil && h >= 0 {
		return cureLeft{state: Unknown, why: cureNoStart(lacking.name)}
	}
	return cureLeft{state: Known, hours: h, first: *firstOf}
}

func cureNoStart(task taskName) string { return "the task " + Words(Tasks[task]) + " has no start" }

// value is the time as a measure, by planned (0) or recorded (1) times.
func (l *cureLeft) value(c *Context, k int) Value {
	v := Value{State: l.state, Num: l.hours}
	if l.state != Known {
		return v.note(l.why)
	}
	return c.with(v, cureUntil[l.first.name], startOf(int32(l.first.index), k).at, nil)
}

var cureUntil = func() (out []string) {
	for _, name := range Tasks {
		out = append(out, "until the task "+Words(name))
	}
	return out
}()

func cureWaitOf(k int) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		l := c.cureLeft(s, cureNext[taskNameOf(s.Task.Task)], k)
		return l.value(c, k)
	}
}

// cureOfWords tells the product from what the job calls it. Of several words the first of this order counts.
func cureOfWords(material string) (maturity.Product, bool) {
	if i := firstWord(material, cureWords); i >= 0 {
		return cureWordsFor[i], true
	}
	return 0, false
}

// cureWords are the words for products, in the order in which they count, and cureWordsFor are their products.
var cureWords, cureWordsFor = func() (words []string, products []maturity.Product) {
	put := func(p maturity.Product, w ...string) {
		for _, w := range w {
			words, products = append(words, w), append(products, p)
		}
	}
	put(maturity.Sealant, "sealant", "sealants", "silicone", "silicones")
	put(maturity.Resin, "epoxy", "epoxide", "resin", "resins")
	put(maturity.Polyurethane, "polyurethane", "polyurethanes", "pu", "pur", "foam")
	put(maturity.Cement, "cement", "cementitious", "slurry", "mortar")
	put(maturity.Film, "dispersion", "dispersions")
	return words, products
}()

// cureProductWords are the words of the job format for what cures; an empty product stands for one that does not cure by itself.
var cureProductWords = map[string]string{
	"cement_slurry": "cement", "dispersion": "film", "reaction_resin": "resin", // waterproofing
	"cement": "cement", "epoxy": "resin", // grout, adhesives
	"polyurethane": "polyurethane", "silicone": "sealant", "tile_cement": "cement", "flexible_tile_cement": "cement", "foam": "polyurethane",
	"none": "",
}

// cureProduct tells the kind of product of a task: from its material, else from what the job says of its faces and items.
func cureProduct(c *Context, s *Subject) Value {
	k := c.cured(s.n)
	if !k.asked {
		k.product, k.asked = c.cureProduct(s), true
	}
	return k.product
}

func (c *Context) cureProduct(s *Subject) Value {
	task := s.Task
	if p, ok := cureOfWords(task.Material); ok {
		return text(p.String())
	}
	var words []string // what the job says, one for each face or item; an empty word is not known
	layers := func(layer string, get func(*jobfile.Layer) string) {
		for _, f := range c.cureFaces(task) {
			for i := range f.BuildUp {
				if f.BuildUp[i].Layer == layer {
					words = append(words, get(&f.BuildUp[i]))
				}
			}
		}
	}
	switch task.Task {
	case "mesh_and_cement":
		return text("cement")
	case "seal":
		return text("sealant")
	case "waterproof":
		layers("waterproofing", func(l *jobfile.Layer) string { return l.Family })
	case "tile":
		layers("tile_bed", func(l *jobfile.Layer) string {
			if l.Class == "" {
				return ""
			}
			return map[byte]string{'C': "cement", 'D': "dispersion", 'R': "reaction_resin"}[l.Class[0]]
		})
	case "joint":
		if g := taskGrout(c, s); g.State == Known {
			words = append(words, g.Text())
		}
	case "embed_cable", "bond_inserts":
		for _, it := range c.cureItems(task) {
			switch {
			case task.Task == "embed_cable" && it.Kind == "heating_cable":
				if it.Cover == nil {
					words = append(words, "")
				} else {
					words = append(words, it.Cover.Material)
				}
			case task.Task == "bond_inserts" && jobHasInserts(it):
				words = append(words, it.Adhesive)
			}
		}
	}
	product := ""
	for i, w := range words {
		p, known := cureProductWords[w]
		switch {
		case !known:
			return unknown().note("what cures is not told by the material of the task, nor by its faces and items")
		case i > 0 && p != product:
			return unknown().note("products of different kinds are used; give each a task with its material")
		}
		product = p
	}
	switch {
	case len(words) == 0:
		return unknown().note("what cures is not told by the material of the task, nor by its faces and items")
	case product == "":
		return none()
	}
	return text(product)
}

// cureReference is the temperature of the data sheet. ok is false when it is assumed.
func cureReference(task *jobfile.Task) (c float64, ok bool) {
	if task.CureAtC != nil {
		return *task.CureAtC, true
	}
	return maturity.DataSheetC, false
}

// cureSite are the conditions of a task: product, temperature and humidity; what is missing makes the value that is not Known.
func cureSite(c *Context, s *Subject) (p maturity.Product, siteC, percent float64, v Value) {
	v = cureProduct(c, s)
	if v.State != Known {
		return
	}
	p, _ = maturity.ParseProduct(v.Text())
	if s.Task.SiteTemperatureC == nil {
		return p, 0, 0, unknown()
	}
	if p.NeedsHumidity() {
		if s.Task.SiteHumidityPercent == nil {
			return p, 0, 0, unknown().note("a " + p.String() + " cures by the humidity of the site, which is not given")
		}
		percent = *s.Task.SiteHumidityPercent
	}
	return p, *s.Task.SiteTemperatureC, percent, v
}

// cureFormula says in plain words what a kind of product follows.
func cureFormula(p maturity.Product) string {
	switch p {
	case maturity.Film:
		return "drying after Dalton: psat(T)·(1 − φ) against psat(ref)·0.5"
	case maturity.Sealant:
		return "moisture cure: psat(T)·φ against psat(ref)·0.5"
	}
	return "2^((ref − T)/10) below the reference, the data sheet above it"
}

func cureAssumed(task *jobfile.Task) string {
	if _, ok := cureReference(task); !ok {
		return "the data sheet's time is taken as at 23 °C"
	}
	return ""
}

// cureNeeded is the cure time at the temperature and humidity of the site, in hours.
func cureNeeded(c *Context, s *Subject) Value {
	p, siteC, percent, v := cureSite(c, s)
	switch {
	case v.State != Known:
		return v
	case s.Task.CureH == nil:
		return unknown()
	}
	ref, _ := cureReference(s.Task)
	h, err := maturity.CureTime(p, *s.Task.CureH, ref, siteC, percent)
	switch {
	case errors.Is(err, maturity.ErrNoProgress):
		return unknown().note("nothing cures at " + FormatNumber(siteC) + " °C and the humidity of the site, so no time is long enough")
	case err != nil:
		return unknown().note(err.Error())
	}
	return c.explained(number(h), cureAssumed(s.Task), func() []string {
		at := FormatNumber(siteC) + " °C"
		if p.NeedsHumidity() {
			at += ", " + FormatNumber(percent) + " %"
		}
		return []string{
			said("%s at %s: %s (computed; no model is calibrated for the product)", p.String(), at, cureFormula(p)),
			said("time = %s h at %s °C × %.3f = %.1f h; never less than the data sheet, no progress below 5 °C, no more credit than at 30 °C", figure(*s.Task.CureH), figure(ref), cureFactor(h, *s.Task.CureH), h),
		}
	})
}

func cureFactor(h, sheet float64) float64 {
	if sheet == 0 {
		return 1
	}
	return h / sheet
}

// cureSheetKept says by planned (0) or recorded (1) times whether the wait is as long as the data sheet asks for. It does not arise while either is unknown; the
// rule for the data sheet tells that.
func cureSheetKept(k int) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		if s.Task.CureH == nil {
			return none()
		}
		l := c.cureLeft(s, cureNext[taskNameOf(s.Task.Task)], k)
		if l.state != Known {
			return none()
		}
		return yes(l.hours >= num(s.Task.CureH).Num)
	}
}

// cureSteamAge is the age of a grout at first steam, in hours at 23 °C.
func cureSteamAge(k int) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		if taskNameOf(s.Task.Task) != taskJoint || !jobHasKind(c, "steam_outlet") {
			return none()
		}
		l := c.cureLeft(s, cureSteam, k)
		if l.state != Known {
			return l.value(c, k)
		}
		p, siteC, percent, v := cureSite(c, s)
		if v.State != Known {
			return v
		}
		age, err := maturity.EquivalentAgeH([]maturity.Step{{Hours: max(l.hours, 0), TemperatureC: siteC, HumidityPercent: percent}}, maturity.CautiousRate(p, maturity.DataSheetC))
		if err != nil {
			return unknown().note(err.Error())
		}
		hours := l.hours
		return c.with(number(age), "the site temperature of the jointing is taken for the whole time", startOf(int32(l.first.index), k).at, func() []string {
			return []string{said("age = wait × rate = %s h × rate at %s °C = %.1f h at 23 °C; rate: %s (computed)", figure(hours), figure(siteC), age, cureFormula(p))}
		})
	}
}

func cureColdest(c *Context, s *Subject) Value {
	mean, low := s.Task.SiteTemperatureC, s.Task.SiteTemperatureMinC
	switch {
	case low == nil && mean == nil:
		return unknown()
	case low == nil:
		return c.note(num(mean), "the lowest temperature is not given; the site temperature is taken")
	case mean != nil && *mean < *low:
		return num(mean)
	}
	return num(low)
}

var _ = register("cure", "what cures after a task", cureSubjects,
	def(Text, "product", "", "kind of product that cures", "from the task's material, else from the waterproofing, bed, grout, cover or adhesive of what the task is for; does not arise for a cable that is not covered", "",
		[]string{"material"}, cureProduct).oneOf(maturity.Products()...),
	given(Number, "data_sheet_h", "h", "cure time by the data sheet", "cure_h", func(_ *Context, s *Subject) Value { return num(s.Task.CureH) }),
	def(Number, "needed_h", "h", "cure time at the temperature and humidity of the site", "the longer of the data sheet and the formula of the product: twice the time for 10 K below the data sheet's temperature for cement, resin and polyurethane; drying for films; moisture for sealants", "ISO 13788 for vapour pressures; coatings practice (computed)",
		[]string{"site_temperature_c", "site_humidity_percent", "cure_h", "material"}, cureNeeded),
	def(Number, "planned_wait_h", "h", "planned time that is left for it until what has to wait begins", "earliest start of what has to wait − finish, as elapsed time; does not arise when nothing has to wait", "",
		[]string{"planned.finish", "/tasks"}, cureWaitOf(0)),
	def(Number, "actual_wait_h", "h", "recorded time that was left for it until what has to wait began", "earliest start of what has to wait − finish, as elapsed time; does not arise when nothing has to wait", "",
		[]string{"actual.finish", "/tasks"}, cureWaitOf(1)),
	def(Flag, "planned_data_sheet_kept", "", "whether the planned time is as long as the data sheet asks for", "planned wait against data sheet; does not arise while one of them is not known", "",
		[]string{"planned.finish", "cure_h", "/tasks"}, cureSheetKept(0)),
	def(Flag, "actual_data_sheet_kept", "", "whether the recorded time was as long as the data sheet asks for", "recorded wait against data sheet; does not arise while one of them is not known", "",
		[]string{"actual.finish", "cure_h", "/tasks"}, cureSheetKept(1)),
	def(Number, "planned_steam_age_h", "h", "age of the grout at the planned first steam, counted at 23 °C", "wait × rate of the grout at the site temperature; does not arise for other tasks than jointing", "coatings practice, twice the time for 10 K (computed)",
		[]string{"site_temperature_c", "planned.finish", "material", "/tasks"}, cureSteamAge(0)),
	def(Number, "actual_steam_age_h", "h", "age of the grout at the recorded first steam, counted at 23 °C", "wait × rate of the grout at the site temperature; does not arise for other tasks than jointing", "coatings practice, twice the time for 10 K (computed)",
		[]string{"site_temperature_c", "actual.finish", "material", "/tasks"}, cureSteamAge(1)),
	def(Number, "coldest_c", "°C", "lowest temperature of air and panels until it has cured", "the lower of the site temperature and the lowest temperature; the site temperature when only that is given", "",
		[]string{"site_temperature_min_c", "site_temperature_c"}, cureColdest),
	def(Number, "film_humidity_percent", "percent", "relative humidity of the site while a film dries", "as given; does not arise for other products", "",
		[]string{"site_humidity_percent", "material"}, func(c *Context, s *Subject) Value {
			p := cureProduct(c, s)
			switch {
			case p.State != Known:
				return p
			case p.Text() != maturity.Film.String():
				return none()
			}
			return num(s.Task.SiteHumidityPercent)
		}),
)
