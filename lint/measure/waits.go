package measure

import (
	"fmt"
	"slices"
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
		needs, func(c *Context, s *Subject) Value { return c.wait(w, s) })
	d.Kind = w.Kind
	return d
}

// timetable holds the times of the tasks of a job, gathered once by what they are for.
type timetable struct {
	groups map[taskScope]taskGroup
	onFace map[string][]*jobfile.Item // items by face
	due    map[[2]string]bool         // by task and face
}

// taskScope is what tasks of one name are for.
type taskScope struct {
	id   string
	name taskName
	sort taskScopeSort
}

// taskName is the place of a task among Tasks; such keys are cheap to look up.
type taskName uint8

func taskNameOf(name string) taskName { return taskName(slices.Index(Tasks, name)) }

type taskScopeSort uint8

const (
	taskForAny    taskScopeSort = iota // every task of the name
	taskForRoom                        // those that name neither items nor faces
	taskForFace                        // those that name the face
	taskForItem                        // those that name the item
	taskForItemOn                      // those that name an item on the face; the empty face stands for items without one
)

// taskGroup sums up the times of some tasks, those of planned times first and then those of recorded times.
type taskGroup struct {
	tasks int
	times [2]taskGroupTimes
}

type taskGroupTimes struct {
	finish   time.Time // latest finish that is given
	begun    time.Time // latest start of a task without a finish
	start    time.Time // earliest start that is given
	startAt  *more     // where that start stands in the job
	noFinish bool      // some task has no finish
	noStart  bool      // some task has no start
}

// add lays two groups together.
func (g taskGroup) add(h taskGroup) taskGroup {
	g.tasks += h.tasks
	for i := range g.times {
		a, b := &g.times[i], &h.times[i]
		a.finish, a.begun = laterTime(a.finish, b.finish), laterTime(a.begun, b.begun)
		if a.start.IsZero() || !b.start.IsZero() && b.start.Before(a.start) {
			a.start, a.startAt = b.start, b.startAt
		}
		a.noFinish, a.noStart = a.noFinish || b.noFinish, a.noStart || b.noStart
	}
	return g
}

// laterTime returns the later time; a time that is missing is zero.
func laterTime(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

func taskGroupOf(task *jobfile.Task) taskGroup {
	g := taskGroup{tasks: 1}
	for i, s := range []*jobfile.Span{task.Planned, task.Actual} {
		t := &g.times[i]
		t.start, t.finish = span(s)
		t.noStart, t.noFinish = t.start.IsZero(), t.finish.IsZero()
		if t.noFinish {
			t.begun = t.start
		}
	}
	return g
}

// span reads the times of a span; a time that is missing is zero. The schema has
// checked how they are written.
func span(s *jobfile.Span) (start, finish time.Time) {
	if s == nil {
		return
	}
	start, _ = time.Parse(time.RFC3339, s.Start)
	finish, _ = time.Parse(time.RFC3339, s.Finish)
	return
}

// is says whether a task goes by a name; finish stands for tile or plaster.
func is(task, name string) bool {
	return task == name || name == "finish" && (task == "tile" || task == "plaster")
}

func (c *Context) timetable() *timetable {
	if c.times != nil {
		return c.times
	}
	t := &timetable{groups: make(map[taskScope]taskGroup, 4*len(c.Job.Tasks)), onFace: map[string][]*jobfile.Item{}, due: make(map[[2]string]bool, 4*len(c.Faces))}
	starts := make([]more, 2*len(c.Job.Tasks)) // where the starts stand
	c.times = t
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		t.onFace[it.Face] = append(t.onFace[it.Face], it)
	}
	for i := range c.Job.Tasks {
		task := &c.Job.Tasks[i]
		g := taskGroupOf(task)
		for k := range g.times {
			if !g.times[k].noStart {
				at := &starts[2*i+k]
				at.at = startPointer(i, k)
				g.times[k].startAt = at
			}
		}
		for _, k := range c.scopesOf(task) {
			t.groups[k] = t.groups[k].add(g)
		}
	}
	return t
}

// startPointer is the JSON Pointer of the planned (0) or recorded (1) start of a task.
func startPointer(task, k int) string {
	return madeOnce(&startPointers[k], task, func() string { return pointer("tasks", task) + [2]string{"/planned", "/actual"}[k] + "/start" })
}

var startPointers [2]manyPointers

func (t *timetable) group(name taskName, sort taskScopeSort, id string) taskGroup {
	return t.groups[taskScope{id, name, sort}]
}

// taskScopes are a few scopes, without a list on the heap.
type taskScopes struct {
	list [2]taskScope
	n    int
}

func oneScope(s taskScope) taskScopes { return taskScopes{[2]taskScope{s}, 1} }

// faceScopes are the scopes of the tasks of a name that count for a face.
func (t *timetable) faceScopes(name taskName, face string) [2]taskScope {
	s := taskScope{face, name, taskForFace}
	if t.groups[s].tasks == 0 {
		s = taskScope{"", name, taskForRoom}
	}
	return [2]taskScope{s, {face, name, taskForItemOn}}
}

// itemScope is the scope of the tasks of a name that count for an item.
func (t *timetable) itemScope(name taskName, it *jobfile.Item) taskScope {
	s := taskScope{it.ID, name, taskForItem}
	if t.groups[s].tasks == 0 && it.Face != "" {
		s = taskScope{it.Face, name, taskForFace}
	}
	if t.groups[s].tasks == 0 {
		s = taskScope{"", name, taskForRoom}
	}
	return s
}

// ofFace gathers the tasks of a name that count for a face.
func (t *timetable) ofFace(name taskName, face string) taskGroup {
	s := t.faceScopes(name, face)
	return t.groups[s[0]].add(t.groups[s[1]])
}

// ofItem gathers the tasks of a name that count for an item.
func (t *timetable) ofItem(name taskName, it *jobfile.Item) taskGroup {
	return t.groups[t.itemScope(name, it)]
}

// of gathers the tasks of a name that count for an item, a face or the job.
func (t *timetable) of(name taskName, s *Subject) taskGroup {
	switch {
	case s.Item != nil:
		return t.ofItem(name, s.Item)
	case s.Face != nil:
		return t.ofFace(name, s.Face.ID)
	}
	return t.group(name, taskForAny, "")
}

// taskTimes are the earliest starts of some tasks; a time that is not given is zero.
type taskTimes struct {
	plannedStart, actualStart time.Time
}

// matching gives the earliest starts of the tasks of a name that count for a subject, as
// a list that is empty when there is no such task.
func (t *timetable) matching(name string, s *Subject) []taskTimes {
	g := t.of(taskNameOf(name), s)
	if g.tasks == 0 {
		return nil
	}
	return []taskTimes{{g.times[0].start, g.times[1].start}}
}

// wait works out a wait in hours.
func (c *Context) wait(w Wait, s *Subject) Value {
	if s.Task != nil {
		return c.waitOfTask(w, s.Task)
	}
	t := c.timetable()
	then := t.of(taskNameOf(w.Then), s)
	v := w.between(t.of(taskNameOf(w.First), s), then, "")
	k := 0
	if w.Actual {
		k = 1
	}
	if at := then.times[k].startAt; v.State == Known && at != nil {
		if v.more == nil {
			v.more = at // shared by all values that this start decides
		} else {
			v = v.at(at.at)
		}
	}
	return v
}

// waitOfTask works out how long a task waits for what must come first on all that the task is for.
func (c *Context) waitOfTask(w Wait, task *jobfile.Task) Value {
	if !is(task.Task, w.Then) {
		return none()
	}
	t := c.timetable()
	var first taskGroup
	lacking, due := "", false
	c.eachBefore(w, task, func(where string, must bool, scopes taskScopes) {
		n := 0
		for _, s := range scopes.list[:scopes.n] {
			g := t.groups[s]
			first = first.add(g)
			n += g.tasks
		}
		if must && n == 0 {
			due = true
			if lacking == "" {
				lacking = where
			}
		}
	})
	if first.tasks == 0 && !due {
		return none()
	}
	return w.between(first, taskGroupOf(task), lacking)
}

// eachBefore tells for each item and face that a task is for, or as a whole, which tasks have to come before it, and whether there must be some.
func (c *Context) eachBefore(w Wait, task *jobfile.Task, on func(where string, must bool, scopes taskScopes)) {
	t := c.timetable()
	first, then := taskNameOf(w.First), taskNameOf(w.Then)
	for _, id := range task.Items {
		it := c.items[id]
		if it == nil {
			on(id, true, taskScopes{})
			continue
		}
		on(id, taskDueOn(w.First, it, nil, c.faces[it.Face]), oneScope(t.itemScope(first, it)))
	}
	face := func(id string) {
		on(id, c.dueOnFace(w.First, id), taskScopes{t.faceScopes(first, id), 2})
	}
	for _, f := range task.Faces {
		face(f)
	}
	if len(task.Items) == 0 && len(task.Faces) == 0 {
		alone := true
		for _, f := range c.Faces {
			if t.group(then, taskForFace, f.ID).tasks == 0 {
				alone = false
				face(f.ID)
			}
		}
		on("", false, oneScope(taskScope{"", first, taskForItemOn}))
		if alone {
			on("", true, oneScope(taskScope{"", first, taskForAny}))
		}
	}
}

// between is the time from the latest finish of the first tasks to the earliest start of the later ones.
// lacking names a face or an item for which the first task is missing though it is due there.
func (w Wait) between(first, then taskGroup, lacking string) Value {
	k := 0
	if w.Actual {
		k = 1
	}
	f, b := first.times[k], then.times[k]
	why := ""
	switch {
	case first.tasks == 0:
		return unknown().note("the task " + Words(w.First) + " is missing")
	case then.tasks == 0:
		return unknown().note("the task " + Words(w.Then) + " is missing")
	case lacking != "":
		why = "the task " + Words(w.First) + " is missing for " + lacking
	case f.noFinish:
		why = "the task " + Words(w.First) + " has no finish"
	case b.noStart:
		why = "the task " + Words(w.Then) + " has no start"
	}
	done := f.finish
	if why != "" {
		done = laterTime(done, f.begun) // no task ends before it begins
	}
	if done.IsZero() || b.start.IsZero() {
		return unknown().note(why)
	}
	v := Value{State: Known, Num: waitHours(b.start.Sub(done))}
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

// dueOnFace says whether a task has to be done on a face.
func (c *Context) dueOnFace(name, face string) bool {
	t := c.timetable()
	k := [2]string{name, face}
	due, known := t.due[k]
	if !known {
		f := c.faces[face]
		due = taskDueOn(name, nil, t.onFace[face], f)
		if name == "flood_test" {
			// Water stands on the floor. A floor that is not described may be anywhere.
			due = f == nil || f.Kind == FloorFace || c.Job.Room.Floor == nil
		}
		t.due[k] = due
	}
	return due
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
	return len(f.BuildUp) == 0 || slices.ContainsFunc(f.BuildUp, func(l jobfile.Layer) bool { return l.Layer == layer })
}

// WaitPattern is how the measures of waits are named.
const WaitPattern = "(planned|actual)_THEN_after_FIRST_h"
