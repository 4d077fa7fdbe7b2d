package measure

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"wetrule/lint/jobfile"
)

// Tasks are the tasks that a wait can be measured between, in the words of the
// job format. The word finish stands for tile or plaster, whichever the job has.
var Tasks = []string{"assemble_panels", "cut_openings", "cut_grooves", "bond_inserts", "insulate_tube", "insert_tube", "lay_cable", "embed_cable", "mesh_and_cement", "fit_collars", "waterproof", "flood_test", "tile", "plaster", "finish", "joint", "seal", "fit", "cut_fibres", "drive_screws", "hang_door", "restart_heating", "first_steam"}

// Wait is the time from the end of one task to the start of another, in hours of
// elapsed time, for one kind of subject: from the latest finish to the earliest start of the tasks that count.
//
// For an item those tasks count that name the item; when there are none, those that name its face; when there are none
// either, those that name neither items nor faces (they are for the whole room). For a face those count that name it,
// else those for the whole room, and in both cases those that name an item on it. For the job every task counts.
//
// For a task the wait is that before the task itself, and arises only when it is the later one of the two. What must come
// first is looked up for each item and each face that the task is for, so that work may go on face by face: the north
// wall may be tiled before the south wall is waterproof. A task for the whole room is for every face that no other task of its
// name names. Where nothing is there to be done first (no groove without a heating cable), nothing is waited for.
//
// A wait is never taken for kept because a task or a time is missing: it is Unknown then. One thing can be told all the
// same: when what is given already shows the wrong order, the wait is below zero whatever the missing times are,
// and the value is the most that it can be.
type Wait struct {
	Kind   string
	First  string
	Then   string
	Actual bool // on recorded times; otherwise on planned times
}

// Name is the measure's name: planned_fit_after_tile_h.
func (w Wait) Name() string {
	return w.times() + "_" + w.Then + "_after_" + w.First + "_h"
}

func (w Wait) times() string {
	if w.Actual {
		return "actual"
	}
	return "planned"
}

// ParseWait reads the name of a wait. A task cannot wait for itself.
func ParseWait(name string) (Wait, bool) {
	var w Wait
	rest, ok := strings.CutSuffix(name, "_h")
	if !ok {
		return w, false
	}
	if rest, ok = strings.CutPrefix(rest, "actual_"); ok {
		w.Actual = true
	} else if rest, ok = strings.CutPrefix(rest, "planned_"); !ok {
		return w, false
	}
	w.Then, w.First, ok = strings.Cut(rest, "_after_")
	return w, ok && slices.Contains(Tasks, w.Then) && slices.Contains(Tasks, w.First) && !is(w.First, w.Then) && !is(w.Then, w.First)
}

// waits says whether tasks can be told for the subjects of a kind.
func (k *Kind) waits() bool {
	switch k.Name {
	case "job", "face", "task":
		return true
	}
	return slices.Contains(ItemKinds, k.Name)
}

// ItemKinds are the kinds of items that a job can hold.
var ItemKinds = []string{"accessory", "drain", "fibre_lights", "fixing", "glazed_door", "heating_cable", "heating_sensor", "led_strip", "light_source", "shower", "spotlight", "steam_generator", "steam_outlet", "temperature_sensor", "ventilation_outlet"}

func (w Wait) def() *Def {
	times := "planned"
	if w.Actual {
		times = "recorded"
	}
	needs := []string{"/tasks"}
	if w.Kind == "task" {
		needs = []string{w.times() + ".start", "/tasks"} // a reader is shown the start that comes too early
	}
	d := def(Number, w.Name(), "h", fmt.Sprintf("%s time from the end of the task %s to the start of the task %s", times, Words(w.First), Words(w.Then)),
		"earliest start of the one minus latest finish of the other, as elapsed time; negative when they are the wrong way round", "",
		needs, nil)
	k := 0
	if w.Actual {
		k = 1
	}
	in := &waitIn{first: taskNameOf(w.First), then: taskNameOf(w.Then), k: k, firstWords: Words(w.First), thenWords: Words(w.Then)}
	d.get, d.fill = in.get, in.fill
	d.Kind = w.Kind
	return d
}

// waitIn is a wait as it is looked for in a job.
type waitIn struct {
	first, then           taskName
	k                     int // planned (0) or recorded (1)
	firstWords, thenWords string
}

// timetable holds the times of the tasks of a job, read and gathered once by what they are for.
type timetable struct {
	c       *Context
	names   []taskName  // of the tasks
	rows    []taskRow   // by name
	groups  []taskGroup // what the rows point into: the empty one, then that of each task alone, then those that are added up
	items   map[string]int32
	strange map[string]int32  // numbers of faces that the room lacks
	onFace  [][]*jobfile.Item // items by number of the face; made when it is asked for
	due     []taskDue         // by name and number of the face
}

// taskRow holds the places of the groups of one name; zero is that of the empty group.
type taskRow struct {
	any, room int32
	named     *taskPlaces // nil while no task of the name names anything
}

// taskPlaces hold the places of groups by number of the face or item. Past the end the group is empty.
type taskPlaces struct{ face, item, on []int32 }

type taskDue uint8

const (
	dueNotAsked taskDue = iota
	dueNo
	dueYes
)

// taskScope is what tasks of one name are for.
type taskScope struct {
	n    int32 // number of the face or item in the timetable
	name taskName
	sort taskScopeSort
}

// taskName is the place of a task among Tasks.
type taskName uint8

var taskNames = func() (out wordList[taskName]) {
	for i, name := range Tasks {
		out.put(name, taskName(i))
	}
	return out
}()

// noTask is the place of a word that is no task.
const noTask taskName = 255

func taskNameOf(name string) taskName {
	if n, ok := taskNames.find(name); ok {
		return n
	}
	return noTask
}

var taskFinish, taskTile, taskPlaster = taskNameOf("finish"), taskNameOf("tile"), taskNameOf("plaster")

type taskScopeSort uint8

const (
	taskForAny    taskScopeSort = iota // every task of the name
	taskForRoom                        // those that name neither items nor faces
	taskForFace                        // those that name the face
	taskForItem                        // those that name the item
	taskForItemOn                      // those that name an item on the face; the empty face stands for items without one
)

// moment is a time as nanoseconds, so that times are compared quickly; 0 is a time that is missing. The years of jobs, 1900 to 2199, fit.
type moment uint64

const momentUnix = 1 << 63 // the moment of the Unix epoch

func momentOf(t time.Time) moment {
	switch y := t.Year(); {
	case t.IsZero():
		return 0
	case y < 1679:
		return 1
	case y > 2261:
		return math.MaxUint64
	}
	return moment(uint64(t.UnixNano()) + momentUnix)
}

func momentAt(s string) moment {
	if s == "" {
		return 0
	}
	if m, ok := plainMoment(s); ok {
		return m
	}
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return 0 // the schema has checked how it is written
	}
	return momentOf(t)
}

// plainMoment reads a time as people write it, 2026-03-02T08:00:00+01:00 or with a Z, in the years of jobs. It leaves all else to package time.
func plainMoment(s string) (m moment, ok bool) {
	if len(s) != len("2026-03-02T08:00:00Z") && len(s) != len("2026-03-02T08:00:00+01:00") {
		return 0, false
	}
	ok = s[4] == '-' && s[7] == '-' && s[10] == 'T' && s[13] == ':' && s[16] == ':'
	two := func(at int) int {
		a, b := s[at]-'0', s[at+1]-'0'
		ok = ok && a <= 9 && b <= 9
		return int(a)*10 + int(b)
	}
	year, month, day, hour, minute, second, ahead := two(0)*100+two(2), two(5), two(8), two(11), two(14), two(17), 0
	if sign := s[19]; sign == '+' || sign == '-' {
		if len(s) != len("2026-03-02T08:00:00+01:00") || s[22] != ':' {
			return 0, false
		}
		h, m := two(20), two(23)
		ok = ok && h < 24 && m < 60
		if ahead = h*3600 + m*60; sign == '-' {
			ahead = -ahead
		}
	} else if sign != 'Z' || len(s) != len("2026-03-02T08:00:00Z") {
		return 0, false
	}
	if !ok || year < 1700 || year > 2200 || month < 1 || month > 12 || day < 1 || day > 28 && day > daysIn(year, month) || hour > 23 || minute > 59 || second > 59 {
		return 0, false
	}
	// Days since 1 March of the year 0: February comes last, so that a leap day ends its year.
	if month -= 3; month < 0 {
		month, year = month+12, year-1
	}
	days := year*365 + year/4 - year/100 + year/400 + (153*month+2)/5 + day - 1
	const daysToUnix = 719468
	return moment(uint64((days-daysToUnix)*86400+hour*3600+minute*60+second-ahead)*uint64(time.Second) + momentUnix), true
}

// timeReader reads the times of a job, of which most are of one month with the same offset.
type timeReader struct {
	month, offset string // of the time read last: 2026-03- and +01:00
	begins        moment // the first of the month there
}

// moment is momentAt.
func (r *timeReader) moment(s string) moment {
	const month, day, clock = len("2026-03-"), len("2026-03-02"), len("2026-03-02T08:00:00")
	if r.month != "" && len(s) == clock+len(r.offset) && s[:month] == r.month && s[clock:] == r.offset {
		d := int(s[month]-'0')*10 + int(s[month+1]-'0')
		second, ok := clockSeconds(s[day:clock])
		if ok && s[month]-'0' <= 9 && s[month+1]-'0' <= 9 && d >= 1 && d <= 28 { // every month has these
			return r.begins + moment((d-1)*86400+second)*moment(time.Second)
		}
	}
	m, ok := plainMoment(s)
	if !ok {
		return momentAt(s)
	}
	d := int(s[month]-'0')*10 + int(s[month+1]-'0')
	second, _ := clockSeconds(s[day:clock])
	r.month, r.offset, r.begins = s[:month], s[clock:], m-moment((d-1)*86400+second)*moment(time.Second)
	return m
}

// clockSeconds reads T08:00:00 as seconds since the day began.
func clockSeconds(s string) (second int, ok bool) {
	_ = s[8]
	a, b, c, d, e, f := s[1]-'0', s[2]-'0', s[4]-'0', s[5]-'0', s[7]-'0', s[8]-'0'
	hour, minute := int(a)*10+int(b), int(c)*10+int(d)
	ok = s[0] == 'T' && s[3] == ':' && s[6] == ':' && a <= 2 && b <= 9 && hour <= 23 && c <= 5 && d <= 9 && e <= 5 && f <= 9
	return hour*3600 + minute*60 + int(e)*10 + int(f), ok
}

func daysIn(year, month int) int {
	return time.Date(year, time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day()
}

// sub is the time from one moment to another, as [time.Time.Sub] has it.
func (m moment) sub(from moment) time.Duration {
	switch {
	case m >= from && m-from > math.MaxInt64:
		return math.MaxInt64
	case m < from && from-m > math.MaxInt64:
		return math.MinInt64
	}
	return time.Duration(m - from)
}

// taskGroup sums up the times of some tasks, those of planned times first and then those of recorded times.
type taskGroup struct{ times [2]taskGroupTimes }

type taskGroupTimes struct {
	finish   moment // latest finish that is given
	begun    moment // latest start of a task without a finish
	start    moment // earliest start that is given
	startOf  int32  // the task that has that start
	noFinish bool   // some task has no finish
	noStart  bool   // some task has no start
}

// none says whether there is no task in the group.
func (g *taskGroup) none() bool { return g.times[0].start == 0 && !g.times[0].noStart }

// add lays another group on.
func (g *taskGroup) add(h *taskGroup) {
	for i := range g.times {
		a, b := &g.times[i], &h.times[i]
		a.finish, a.begun = max(a.finish, b.finish), max(a.begun, b.begun)
		if a.start == 0 || b.start != 0 && b.start < a.start {
			a.start, a.startOf = b.start, b.startOf
		}
		a.noFinish, a.noStart = a.noFinish || b.noFinish, a.noStart || b.noStart
	}
}

// read reads the times of the task with this number.
func (g *taskGroup) read(task *jobfile.Task, n int, r *timeReader) {
	for i, s := range [...]*jobfile.Span{task.Planned, task.Actual} {
		t := &g.times[i]
		if s != nil {
			t.start, t.finish = r.moment(s.Start), r.moment(s.Finish)
		}
		t.startOf, t.noStart, t.noFinish = int32(n), t.start == 0, t.finish == 0
		if t.noFinish {
			t.begun = t.start
		}
	}
}

// is says whether a task goes by a name; finish stands for tile or plaster.
func is(task, name string) bool {
	return task == name || name == "finish" && (task == "tile" || task == "plaster")
}

func (c *Context) timetable() *timetable {
	if c.times != nil {
		return c.times
	}
	tasks := c.Job.Tasks
	t := &timetable{c: c, names: make([]taskName, len(tasks)), rows: make([]taskRow, len(Tasks)), groups: make([]taskGroup, 1+len(tasks))}
	c.times = t
	var room [16]taskScope
	var r timeReader
	for i := range tasks {
		t.groups[1+i].read(&tasks[i], i, &r)
		t.names[i] = taskNameOf(tasks[i].Task)
		for _, s := range c.appendScopes(room[:0], &tasks[i]) {
			t.put(s, int32(1+i))
		}
	}
	return t
}

// of a task alone.
func (t *timetable) own(task int) *taskGroup { return &t.groups[1+task] }

// list is the list of places that a scope of the row stands in.
func (p *taskPlaces) list(sort taskScopeSort) *[]int32 {
	switch sort {
	case taskForItem:
		return &p.item
	case taskForItemOn:
		return &p.on
	}
	return &p.face
}

// place is where the group of a scope stands among the groups; nil when nothing stands there.
func (t *timetable) place(s taskScope) *int32 {
	if int(s.name) >= len(t.rows) {
		return nil
	}
	row := &t.rows[s.name]
	switch {
	case s.sort == taskForAny:
		return &row.any
	case s.sort == taskForRoom:
		return &row.room
	case row.named == nil:
		return nil
	}
	list := *row.named.list(s.sort)
	if s.n < 0 || int(s.n) >= len(list) {
		return nil
	}
	return &list[s.n]
}

// put adds the group of a task to that of a scope. What is for one task alone has the group of the task.
func (t *timetable) put(s taskScope, task int32) {
	if int(s.name) >= len(t.rows) {
		return
	}
	p := t.place(s)
	if p == nil {
		row := &t.rows[s.name]
		if row.named == nil {
			row.named = &taskPlaces{}
		}
		n := len(t.c.Faces) + 1
		if s.sort == taskForItem {
			n = len(t.items)
		}
		list := row.named.list(s.sort)
		longer := make([]int32, max(n, int(s.n)+1))
		copy(longer, *list)
		*list = longer
		p = &longer[s.n]
	}
	switch {
	case *p == 0:
		*p = task
		return
	case int(*p) <= len(t.names):
		t.groups = append(t.groups, t.groups[*p])
		*p = int32(len(t.groups) - 1)
	}
	t.groups[*p].add(&t.groups[task])
}

// at returns the group of a scope, which is empty when there are no such tasks.
func (t *timetable) at(s taskScope) *taskGroup {
	if p := t.place(s); p != nil {
		return &t.groups[*p]
	}
	return &t.groups[0]
}

// face is the number of a face: its place in the room, and behind them no face, and those that the room lacks. It is negative for a face that no task speaks of.
func (t *timetable) face(id string) int32 {
	if f := t.c.Face(id); f != nil {
		return int32(f.number)
	}
	if id == "" {
		return int32(len(t.c.Faces))
	}
	if n, ok := t.strange[id]; ok {
		return n
	}
	return -1
}

// newFace and newItem number what tasks speak of.
func (t *timetable) newFace(id string) int32 {
	n := t.face(id)
	if n < 0 {
		if t.strange == nil {
			t.strange = map[string]int32{}
		}
		n = int32(len(t.c.Faces) + 1 + len(t.strange))
		t.strange[id] = n
	}
	return n
}

func (t *timetable) newItem(id string) int32 {
	n, ok := t.items[id]
	if !ok {
		if t.items == nil {
			t.items = map[string]int32{}
		}
		n = int32(len(t.items))
		t.items[id] = n
	}
	return n
}

// itemsOn returns the items on a face of the room, in the order of the job.
func (t *timetable) itemsOn(f *Face) []*jobfile.Item {
	if t.onFace == nil {
		items := t.c.Job.Items
		n := len(t.c.Faces)
		faces, count := make([]int32, len(items)), make([]int32, n)
		for i := range items {
			faces[i] = -1
			if f := t.c.Face(items[i].Face); f != nil {
				faces[i] = int32(f.number)
				count[f.number]++
			}
		}
		t.onFace = make([][]*jobfile.Item, n)
		room := make([]*jobfile.Item, len(items))
		for k, n := range count {
			t.onFace[k], room = room[:0:n], room[n:]
		}
		for i, k := range faces {
			if k >= 0 {
				t.onFace[k] = append(t.onFace[k], &items[i])
			}
		}
	}
	return t.onFace[f.number]
}

// itemsOnStrange returns the items on a face that the room lacks, or on none.
func (c *Context) itemsOnStrange(face string) (out []*jobfile.Item) {
	for i := range c.Job.Items {
		if it := &c.Job.Items[i]; it.Face == face {
			out = append(out, it)
		}
	}
	return out
}

// startOf has the place of the planned (0) or recorded (1) start of a task, for all values that it decides.
func startOf(task int32, k int) *more {
	return madeOnce(startsOf[k], int(task), func() more {
		return more{at: taskPointers.at(int(task)) + [2]string{"/planned", "/actual"}[k] + "/start"}
	})
}

var startsOf = [2]many[more]{make(many[more], 1024), make(many[more], 1024)}

// eachTask tells the tasks of the job with the ids that they have: the name, and how many of the name there have been.
func (c *Context) eachTask(on func(i int, t *jobfile.Task, name taskName, id string)) {
	var count [256]int
	names := c.timetable().names
	for i := range c.Job.Tasks {
		t := &c.Job.Tasks[i]
		name := names[i]
		n := count[name]
		count[name]++
		if int(name) < len(taskIDs) {
			on(i, t, name, *madeOnce(taskIDs[name], n, func() string { return t.Task + "_" + strconv.Itoa(n+1) }))
		} else {
			on(i, t, name, t.Task+"_"+strconv.Itoa(n+1))
		}
	}
}

var taskIDs = func() []many[string] {
	out := make([]many[string], len(Tasks))
	for i := range out {
		out[i] = make(many[string], 16)
	}
	return out
}()

// named says whether tasks of a name name a face.
func (t *timetable) named(name taskName, f *Face) bool {
	return !t.at(taskScope{int32(f.number), name, taskForFace}).none()
}

// forItem and forFace gather the tasks of a name that name an item, or a face.
func (t *timetable) forItem(name taskName, id string) *taskGroup {
	if int(name) >= len(t.rows) || t.rows[name].named == nil || t.rows[name].named.item == nil {
		return &t.groups[0]
	}
	n, ok := t.items[id]
	if !ok {
		return &t.groups[0]
	}
	return t.at(taskScope{n, name, taskForItem})
}

func (t *timetable) forFace(name taskName, id string) *taskGroup {
	return t.at(taskScope{t.face(id), name, taskForFace})
}

// taskScopes are a few scopes, without a list on the heap.
type taskScopes struct {
	list [2]taskScope
	n    int
}

func oneScope(s taskScope) taskScopes { return taskScopes{[2]taskScope{s}, 1} }

// faceScopes are the scopes of the tasks of a name that count for a face.
func (t *timetable) faceScopes(name taskName, face int32) [2]taskScope {
	s := taskScope{face, name, taskForFace}
	if t.at(s).none() {
		s = taskScope{0, name, taskForRoom}
	}
	return [2]taskScope{s, {face, name, taskForItemOn}}
}

// itemScope is the scope of the tasks of a name that count for an item.
func (t *timetable) itemScope(name taskName, it *jobfile.Item) taskScope {
	if int(name) >= len(t.rows) || t.rows[name].named == nil {
		return taskScope{0, name, taskForRoom}
	}
	if !t.forItem(name, it.ID).none() {
		return taskScope{t.items[it.ID], name, taskForItem}
	}
	if it.Face != "" && t.rows[name].named.face != nil {
		if s := (taskScope{t.face(it.Face), name, taskForFace}); !t.at(s).none() {
			return s
		}
	}
	return taskScope{0, name, taskForRoom}
}

// ofFace gathers the tasks of a name that count for a face.
func (t *timetable) ofFace(name taskName, face int32) taskGroup {
	s := t.faceScopes(name, face)
	g := *t.at(s[0])
	if on := t.at(s[1]); !on.none() {
		g.add(on)
	}
	return g
}

// of gathers the tasks of a name that count for an item, a face or the job; there is room for what is added up.
func (t *timetable) of(name taskName, s *Subject, room *taskGroup) *taskGroup {
	switch {
	case s.Item != nil:
		return t.at(t.itemScope(name, s.Item))
	case s.Face != nil:
		*room = t.ofFace(name, int32(s.Face.number))
		return room
	}
	return t.at(taskScope{0, name, taskForAny})
}

// get works out a wait in hours.
func (w *waitIn) get(c *Context, s *Subject) Value {
	if s.Task != nil {
		if name := taskNameOf(s.Task.Task); name != w.then && (w.then != taskFinish || !is(s.Task.Task, "finish")) {
			return none()
		}
		return w.ofTask(c, s)
	}
	t := c.timetable()
	var a, b taskGroup
	later := t.of(w.then, s, &b)
	v := w.between(t.of(w.first, s, &a), later, "")
	if times := &later.times[w.k]; v.State == Known && times.start != 0 {
		if at := startOf(times.startOf, w.k); v.more == nil {
			v.more = at
		} else {
			v = v.at(at.at)
		}
	}
	return v
}

// fill works out the waits of all subjects of a kind. Most tasks do not go by the name of the later one, so nothing arises for them.
func (w *waitIn) fill(c *Context, subjects []Subject, out []Value) {
	t := c.timetable()
	if subjects[0].Task == nil {
		if subjects[0].Item != nil && t.forRoom(w.first) && t.forRoom(w.then) {
			// The tasks are for the whole room, so that one wait is that of all items.
			v := w.get(c, &subjects[0])
			for i := range subjects {
				out[i] = v
			}
			return
		}
		for i := range subjects {
			out[i] = w.get(c, &subjects[i])
		}
		return
	}
	if int(w.then) < len(t.rows) && t.rows[w.then].any == 0 {
		return // there is no such task
	}
	for i, name := range t.names { // the subjects are all tasks, in the order of the job
		if name == w.then || w.then == taskFinish && (name == taskTile || name == taskPlaster) {
			out[i] = w.ofTask(c, &subjects[i])
		}
	}
}

// forRoom says whether no task of a name names anything.
func (t *timetable) forRoom(name taskName) bool {
	return int(name) < len(t.rows) && t.rows[name].named == nil
}

// ofTask works out how long a task of the later name waits for what must come first on all that the task is for.
func (w *waitIn) ofTask(c *Context, s *Subject) Value {
	task, t := s.Task, c.timetable()
	if len(task.Items) == 0 && len(task.Faces) == 0 && int(w.first) < len(t.rows) {
		if first := &t.rows[w.first]; first.named == nil && first.any != 0 {
			return w.between(&t.groups[first.any], t.ownOf(s), "") // all of it is for the whole room
		}
	}
	var before taskGroup
	lacking, due := "", false
	c.eachBefore(w.first, w.then, task, func(where beforeWhat, scopes taskScopes) {
		some := false
		for _, s := range scopes.list[:scopes.n] {
			if g := t.at(s); !g.none() {
				before.add(g)
				some = true
			}
		}
		if !some && (!due || lacking == "") && c.mustComeFirst(w.first, where) {
			due = true
			if lacking == "" {
				lacking = where.id
			}
		}
	})
	if before.none() && !due {
		return none()
	}
	return w.between(&before, t.ownOf(s), lacking)
}

// ownOf returns the times of the task that a subject is.
func (t *timetable) ownOf(s *Subject) *taskGroup {
	if s.n < len(t.names) && &t.c.Job.Tasks[s.n] == s.Task {
		return t.own(s.n)
	}
	g := &taskGroup{}
	g.read(s.Task, s.n, &timeReader{})
	return g
}

// beforeWhat is what a task is for that something has to come first on: an item, a face, or by its sort all that has no place and the whole room.
type beforeWhat struct {
	id   string
	sort taskScopeSort
}

// mustComeFirst says whether there must be a task of a name on something.
func (c *Context) mustComeFirst(name taskName, on beforeWhat) bool {
	switch on.sort {
	case taskForFace:
		return c.dueOnFace(name, c.Face(on.id), on.id)
	case taskForItem:
		it := c.items[on.id]
		return it == nil || taskDueOn(Tasks[name], it, nil, c.Face(it.Face))
	}
	return on.sort == taskForAny
}

// eachBefore tells for each item and face that a task is for, or as a whole, which tasks have to come before it.
func (c *Context) eachBefore(first, then taskName, task *jobfile.Task, on func(what beforeWhat, scopes taskScopes)) {
	t := c.timetable()
	for _, id := range task.Items {
		if it := c.items[id]; it != nil {
			on(beforeWhat{id, taskForItem}, oneScope(t.itemScope(first, it)))
		} else {
			on(beforeWhat{id, taskForItem}, taskScopes{})
		}
	}
	for _, id := range task.Faces {
		on(beforeWhat{id, taskForFace}, taskScopes{t.faceScopes(first, t.face(id)), 2})
	}
	if len(task.Items) == 0 && len(task.Faces) == 0 {
		alone := true
		for _, f := range c.Faces {
			if !t.named(then, f) {
				alone = false
				on(beforeWhat{f.ID, taskForFace}, taskScopes{t.faceScopes(first, int32(f.number)), 2})
			}
		}
		on(beforeWhat{"", taskForItemOn}, oneScope(taskScope{t.face(""), first, taskForItemOn}))
		if alone {
			on(beforeWhat{"", taskForAny}, oneScope(taskScope{0, first, taskForAny}))
		}
	}
}

// between is the time from the latest finish of the first tasks to the earliest start of the later ones.
// lacking names a face or an item for which the first task is missing though it is due there.
func (w *waitIn) between(first, then *taskGroup, lacking string) Value {
	f, b := &first.times[w.k], &then.times[w.k]
	why := ""
	switch {
	case first.none():
		return unknown().note("the task " + w.firstWords + " is missing")
	case then.none():
		return unknown().note("the task " + w.thenWords + " is missing")
	case lacking != "":
		why = "the task " + w.firstWords + " is missing for " + lacking
	case f.noFinish:
		why = "the task " + w.firstWords + " has no finish"
	case b.noStart:
		why = "the task " + w.thenWords + " has no start"
	}
	done := f.finish
	if why != "" {
		done = max(done, f.begun) // no task ends before it begins
	}
	if done == 0 || b.start == 0 {
		return unknown().note(why)
	}
	v := Value{State: Known, Num: waitHours(b.start.sub(done))}
	switch {
	case why == "":
		return v
	case v.Num < 0:
		return v.note("at the most, as " + why)
	}
	return unknown().note(why)
}

// waitHours gives a time in hours, rounded down to 0.001 h, so that a wait that is a second short
// never counts as kept.
func waitHours(d time.Duration) float64 {
	const step = time.Hour / 1000
	q := d / step
	if d%step < 0 {
		q--
	}
	return float64(q) / 1000
}

// dueOnFace says whether a task has to be done on a face; there is none for an id that the room lacks.
func (c *Context) dueOnFace(task taskName, f *Face, face string) bool {
	t := c.timetable()
	if int(task) >= len(Tasks) {
		return true // what is not known is due
	}
	var known *taskDue
	if f != nil {
		if t.due == nil {
			t.due = make([]taskDue, len(Tasks)*len(c.Faces))
		}
		if known = &t.due[int(task)*len(c.Faces)+f.number]; *known != dueNotAsked {
			return *known == dueYes
		}
	}
	name := Tasks[task]
	var items []*jobfile.Item
	if f != nil {
		items = t.itemsOn(f)
	} else {
		items = c.itemsOnStrange(face)
	}
	due := taskDueOn(name, nil, items, f)
	if name == "flood_test" {
		// Water stands on the floor. A floor that is not described may be anywhere.
		due = f == nil || f.Kind == FloorFace || c.Job.Room.Floor == nil
	}
	if known != nil {
		*known = pick(due, dueYes, dueNo)
	}
	return due
}

func pick[T any](c bool, a, b T) T {
	if c {
		return a
	}
	return b
}

// taskDueOn says whether a task has to be done on an item, or on a face with its items. What is not known is due.
func taskDueOn(name string, item *jobfile.Item, items []*jobfile.Item, f *Face) bool {
	some := func(due func(*jobfile.Item) bool) bool {
		if item != nil {
			return due(item)
		}
		return slices.ContainsFunc(items, due)
	}
	kind := func(kinds ...string) bool {
		return some(func(it *jobfile.Item) bool { return slices.Contains(kinds, it.Kind) })
	}
	switch name {
	case "cut_openings":
		return some(func(it *jobfile.Item) bool { return jobIsOpening(it) })
	case "bond_inserts", "drive_screws":
		return some(jobHasInserts)
	case "fit_collars":
		return some(func(it *jobfile.Item) bool { return jobTakesCollar(it) && (it.Collar == nil || *it.Collar) })
	case "cut_grooves", "lay_cable", "embed_cable", "restart_heating":
		return kind("heating_cable")
	case "insulate_tube", "insert_tube":
		return kind("steam_outlet")
	case "cut_fibres":
		return kind("fibre_lights")
	case "hang_door":
		return kind("glazed_door")
	case "tile", "joint":
		return f == nil || f.mayHave("tile")
	case "plaster":
		return f == nil || f.mayHave("lime_plaster")
	case "seal":
		return f == nil || f.Joints == nil || f.Joints.Perimeter == "" || f.Joints.Perimeter == "sealant"
	}
	return true
}

// mayHave says whether the build-up of a face has a layer, or is not known.
func (f *Face) mayHave(layer string) bool {
	for i := range f.BuildUp { // a layer is too large to be passed by value
		if f.BuildUp[i].Layer == layer {
			return true
		}
	}
	return len(f.BuildUp) == 0
}

// WaitPattern is how the measures of waits are named.
const WaitPattern = "(planned|actual)_THEN_after_FIRST_h"
