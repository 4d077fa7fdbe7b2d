package measure

import (
	"slices"

	"wetrule/lint/calc/maturity"
	"wetrule/lint/jobfile"
)

// Order tells which tasks of a job wait for which, as the waits and the cure times are measured, for those who make a programme.
type Order struct {
	c       *Context
	members map[taskScope][]int // places in the job's list of tasks
}

// Order gives the order of the tasks of the job that was measured.
func (s *Set) Order() *Order {
	s.ctx.timetable() // numbers faces and items
	o := &Order{c: s.ctx, members: map[taskScope][]int{}}
	for i := range s.ctx.Job.Tasks {
		for _, k := range s.ctx.appendScopes(nil, &s.ctx.Job.Tasks[i]) {
			if l := o.members[k]; len(l) == 0 || l[len(l)-1] != i {
				o.members[k] = append(l, i)
			}
		}
	}
	return o
}

// Before gives the tasks that a wait of a subject lies between, as places in the job's list of tasks: those that come first and those that come
// then, in order. Either list is empty where there is none.
func (o *Order) Before(w Wait, s *Subject) (first, then []int) {
	t := o.c.timetable()
	if s.Task == nil {
		return o.of(w.First, s), o.of(w.Then, s)
	}
	if !is(s.Task.Task, w.Then) {
		return nil, nil
	}
	for i := range o.c.Job.Tasks {
		if &o.c.Job.Tasks[i] == s.Task {
			then = []int{i}
		}
	}
	o.c.eachBefore(taskNameOf(w.First), taskNameOf(w.Then), s.Task, func(_ beforeWhat, scopes taskScopes) {
		for _, k := range scopes.list[:scopes.n] {
			if !t.at(k).none() {
				first = append(first, o.members[k]...)
			}
		}
	})
	slices.Sort(first)
	return slices.Compact(first), then
}

func (o *Order) of(name string, s *Subject) []int {
	t, n := o.c.timetable(), taskNameOf(name)
	switch {
	case s.Item != nil:
		return o.members[t.itemScope(n, s.Item)]
	case s.Face != nil:
		k := t.faceScopes(n, int32(s.Face.number))
		out := append(slices.Clone(o.members[k[0]]), o.members[k[1]]...)
		slices.Sort(out)
		return slices.Compact(out)
	}
	return o.members[taskScope{0, n, taskForAny}]
}

// Cured gives the tasks that have to wait for what a task leaves behind to cure, as places in the job's list of tasks, in order.
func (o *Order) Cured(task int) []int {
	var out []int
	if k := o.c.cured(task); k != nil {
		for _, f := range k.followers {
			out = append(out, f.index)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Same says whether two tasks are for something in common: a face, an item or the whole room.
func (o *Order) Same(task, later int) bool {
	t := &o.c.Job.Tasks[task]
	l := &o.c.Job.Tasks[later]
	return o.c.cureMeets(t, taskNameOf(t.Task), o.c.cureFaces(t), l, taskNameOf(l.Task))
}

// Cure is what cures after a task.
type Cure struct {
	Product    maturity.Product
	Known      bool    // what cures is known
	Arises     bool    // something cures
	Note       string  // why it is not known
	SheetH     float64 // by the data sheet, in hours; 0 when it is not given
	Given      bool    // the data sheet's time is given
	ReferenceC float64 // temperature of the data sheet
	Assumed    string  // what is assumed of it
}

// Cure tells what cures after a task and how long its data sheet asks for, as the measures of the kind cure do.
func (o *Order) Cure(task int) Cure {
	t := &o.c.Job.Tasks[task]
	if o.c.cured(task) == nil {
		return Cure{}
	}
	v := cureProduct(o.c, &Subject{Kind: "cure", Task: t, n: task})
	k := Cure{Known: v.State == Known, Arises: v.State != None, Note: v.Note(), Assumed: cureAssumed(t)}
	if k.Known {
		k.Product, _ = maturity.ParseProduct(v.Text())
	}
	k.ReferenceC, _ = cureReference(t)
	if t.CureH != nil {
		k.SheetH, k.Given = *t.CureH, true
	}
	return k
}

// Faces gives the faces that a task is for, as those of the job, in the order of the room.
func (o *Order) Faces(task int) []*Face { return o.c.cureFaces(&o.c.Job.Tasks[task]) }

// Due lists the tasks that the faces and items of the job call for, in the usual order, as far as the job tells.
func (o *Order) Due() []string {
	var out []string
	for _, name := range Tasks {
		if name != "finish" && o.c.jobCallsFor(name) {
			out = append(out, name)
		}
	}
	return out
}

// appendScopes appends the scopes that a task belongs to. It numbers the faces and items that the task names.
func (c *Context) appendScopes(out []taskScope, task *jobfile.Task) []taskScope {
	t := c.times
	put := func(name taskName) {
		out = append(out, taskScope{0, name, taskForAny})
		if len(task.Items) == 0 && len(task.Faces) == 0 {
			out = append(out, taskScope{0, name, taskForRoom})
		}
		for _, f := range task.Faces {
			out = append(out, taskScope{t.newFace(f), name, taskForFace})
		}
		for _, id := range task.Items {
			out = append(out, taskScope{t.newItem(id), name, taskForItem})
			if it := c.items[id]; it != nil {
				out = append(out, taskScope{t.newFace(it.Face), name, taskForItemOn})
			}
		}
	}
	put(taskNameOf(task.Task))
	if is(task.Task, "finish") && task.Task != "finish" {
		put(taskFinish)
	}
	return out
}
