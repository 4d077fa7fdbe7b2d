package programme

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/methods"
	"wetrule/lint/rulebook"
)

// unattended are the tasks that go on by themselves once they are begun: their planned times run round the clock.
var unattended = []string{"flood_test", "restart_heating"}

// draft is a task before it has dates.
type draft struct {
	task  *jobfile.Task // of the job that is planned, generated tasks among them
	steps []int         // of the plan
	Task
}

// drafts lists the tasks of a job: its own, and those that its methods of work and its faces and items call for beside them. The job that it returns holds all of them.
func drafts(job *jobfile.Job, plan *methods.Plan) (*jobfile.Job, []draft) {
	whole := *job
	whole.Tasks = slices.Clone(job.Tasks)
	steps := make([][]int, len(whole.Tasks))
	type rest struct {
		name  string
		steps []int
	}
	var rests []rest
	if plan != nil {
		for i := range plan.Steps {
			s := &plan.Steps[i]
			if k := taskOf(job.Tasks, s); k >= 0 {
				steps[k] = append(steps[k], i)
				continue
			}
			k := slices.IndexFunc(rests, func(r rest) bool { return r.name == s.Task })
			if k < 0 {
				k = len(rests)
				rests = append(rests, rest{name: s.Task})
			}
			rests[k].steps = append(rests[k].steps, i)
		}
	}
	due := measure.NewPlan(nil).Measure(job).Order().Due()
	for _, name := range due {
		listed := slices.ContainsFunc(job.Tasks, func(t jobfile.Task) bool { return t.Task == name })
		if !listed && !slices.ContainsFunc(rests, func(r rest) bool { return r.name == name }) {
			rests = append(rests, rest{name: name})
		}
	}
	slices.SortStableFunc(rests, func(a, b rest) int {
		return slices.Index(measure.Tasks, a.name) - slices.Index(measure.Tasks, b.name)
	})
	for _, r := range rests {
		t := jobfile.Task{Task: r.name}
		listed := slices.ContainsFunc(job.Tasks, func(t jobfile.Task) bool { return t.Task == r.name })
		t.Items, t.Faces = placesOf(plan, r.steps, listed)
		whole.Tasks = append(whole.Tasks, t)
		steps = append(steps, r.steps)
	}
	out := make([]draft, len(whole.Tasks))
	count := map[string]int{}
	for i := range whole.Tasks {
		t := &whole.Tasks[i]
		count[t.Task]++
		out[i] = draft{task: t, steps: steps[i], Task: Task{
			ID: fmt.Sprintf("%s_%d", t.Task, count[t.Task]), Name: t.Task, Label: label(t.Task, t.Items, t.Faces), Items: t.Items, Faces: t.Faces, InJob: -1, Driver: -1, order: i,
			Planned: timesOf(t.Planned), Recorded: timesOf(t.Actual),
		}}
		if i < len(job.Tasks) {
			out[i].InJob = i
		}
	}
	return &whole, out
}

// taskOf finds the task of the job that a step belongs to: the one that names its item, or else its face, or else the whole room.
func taskOf(tasks []jobfile.Task, s *methods.Step) int {
	best, rank := -1, 0
	for i := range tasks {
		t := &tasks[i]
		if t.Task != s.Task {
			continue
		}
		r := 0
		switch {
		case s.Subject != "" && slices.Contains(t.Items, s.Subject):
			r = 3
		case s.Face != "" && slices.Contains(t.Faces, s.Face), s.Subject != "" && slices.Contains(t.Faces, s.Subject):
			r = 2
		case len(t.Items) == 0 && len(t.Faces) == 0:
			r = 1
		}
		if r > rank {
			best, rank = i, r
		}
	}
	return best
}

// placesOf says what a generated task is for: the items of its steps, when all of them are for items, or else the whole room. Beside tasks of the
// same name that the job lists it is for no more than the places that they leave.
func placesOf(plan *methods.Plan, steps []int, listed bool) (items, faces []string) {
	for _, i := range steps {
		s := &plan.Steps[i]
		switch {
		case slices.Contains(measure.ItemKinds, s.Kind):
			if !slices.Contains(items, s.Subject) {
				items = append(items, s.Subject)
			}
		case !listed:
			return nil, nil
		case s.Face != "":
			if !slices.Contains(faces, s.Face) {
				faces = append(faces, s.Face)
			}
		}
	}
	return items, faces
}

func timesOf(s *jobfile.Span) (t Times) {
	if s == nil {
		return
	}
	t.Start, _ = time.Parse(time.RFC3339, s.Start)
	t.Finish, _ = time.Parse(time.RFC3339, s.Finish)
	return
}

// trade is somebody's work within a task.
type trade struct {
	by      string // id
	title   string
	minutes float64
}

// byTrade adds up the work of a task by trade, in the order in which the steps name them.
func byTrade(plan *methods.Plan, steps []int) (out []trade, known bool, needs []string) {
	known = true
	for _, i := range steps {
		s := &plan.Steps[i]
		k := slices.IndexFunc(out, func(t trade) bool { return t.by == s.By })
		if k < 0 {
			k = len(out)
			out = append(out, trade{by: s.By, title: s.ByTitle})
		}
		out[k].minutes += s.Minutes
		if !s.Known {
			known = false
			for _, n := range s.Needs {
				if !slices.Contains(needs, n) {
					needs = append(needs, n)
				}
			}
		}
	}
	return out, known, needs
}

// maker works out the lengths of tasks.
type maker struct {
	job     *jobfile.Job // with the generated tasks
	plan    *methods.Plan
	set     *measure.Set
	rules   []*rulebook.Rule
	site    *site
	fresh   bool // planned starts do not hold
	trades  []*rulebook.Trade
	assume  func(format string, args ...any)
	stood   map[string]bool // assumptions that have been told
	grouped []group
}

// length settles how long a task takes and who does it.
func (m *maker) length(d *draft) error {
	var list []trade
	known, needs := len(d.steps) > 0, []string(nil)
	if m.plan != nil && len(d.steps) > 0 {
		list, known, needs = byTrade(m.plan, d.steps)
	}
	d.State = ToDo
	switch r := d.Recorded; {
	case !r.Finish.IsZero():
		d.State = Done
	case !r.Start.IsZero():
		d.State = Begun
	}
	for _, t := range list {
		d.By = append(d.By, strings.ToLower(t.title))
		d.Minutes += t.minutes
	}
	if by := d.task.By; by != "" {
		d.By = []string{by}
	}
	main := m.resource(d.task.By, list)
	planned := !d.Planned.Start.IsZero() && d.Planned.Finish.After(d.Planned.Start)
	runs := slices.Contains(unattended, d.Name)
	d.Basis = ByMethods
	switch {
	case d.State == Done:
		d.Basis = ByRecord
		start := d.Recorded.Start
		if start.IsZero() { // only the finish is recorded
			start = d.Recorded.Finish
		}
		work, err := m.site.calendar.Between(start, d.Recorded.Finish)
		if err != nil {
			return err
		}
		d.Minutes = work.Minutes()
		d.parts = []part{{id: d.ID, work: work, resource: main}}
	case planned && runs:
		d.Basis, d.Minutes = ByPlan, 0
		d.Stands = d.Planned.Finish.Sub(d.Planned.Start)
		d.parts = []part{{id: d.ID}, {id: d.ID + "/stands", work: d.Stands, clock: true}}
	case planned:
		work, err := m.site.lengths.Between(d.Planned.Start, d.Planned.Finish)
		if err != nil {
			return err
		}
		if work == 0 {
			work = d.Planned.Finish.Sub(d.Planned.Start)
			m.site.caution("%s is planned outside of the working hours, %s to %s; the time between is taken as working time.", d.Label, ShortDay(d.Planned.Start.In(m.site.zone)), ShortDay(d.Planned.Finish.In(m.site.zone)))
		}
		d.Basis, d.Minutes = ByPlan, work.Minutes()
		d.parts = []part{{id: d.ID, work: work, resource: main}}
	default:
		if !known {
			d.Basis, d.Needs = Unknown, needs
		}
		for i, t := range list {
			p := part{id: d.ID, work: roundedUp(minutesOf(t.minutes)), resource: m.limited(t.by)}
			if i > 0 {
				p.id = fmt.Sprintf("%s/%d", d.ID, i+1)
			}
			d.parts = append(d.parts, p)
		}
		if len(d.parts) == 0 {
			d.parts = []part{{id: d.ID, resource: main}}
		}
		if runs {
			h, told := m.standing(d)
			if told != "" {
				d.Basis, d.Needs = Unknown, append(d.Needs, told)
			}
			if d.Stands = hoursOf(h); d.Stands > 0 {
				d.parts = append(d.parts, part{id: d.ID + "/stands", work: d.Stands, clock: true})
			}
		}
	}
	if d.State == Begun && len(d.parts) > 1 {
		// What is left of a task that has begun is not divided among its trades.
		p := part{id: d.ID, resource: main}
		for _, x := range d.parts {
			p.work += x.work
			p.clock = p.clock || x.clock
		}
		d.parts = []part{p}
	}
	return nil
}

// step is what lengths by productivity are rounded up to.
const step = 5 * time.Minute

func roundedUp(d time.Duration) time.Duration { return (d + step - 1) / step * step }

// bases says where the lengths of the tasks come from, and which tasks the job does not list.
func (m *maker) bases(list []draft) {
	of := map[Basis][]string{}
	var added []string
	listed := 0
	for i := range list {
		d := &list[i]
		of[d.Basis] = append(of[d.Basis], lower(d.Label))
		if d.InJob < 0 {
			added = append(added, lower(d.Label))
		} else {
			listed++
		}
	}
	switch {
	case len(added) == 0:
	case listed == 0:
		m.assume("The job lists no tasks: they come from its methods of work.")
	default:
		m.assume("Not in the job's list of tasks, and added as its methods of work ask for: %s.", inWords(added))
	}
	rounded := "with one person of each trade, rounded up to 5 minutes"
	switch by := of[ByMethods]; {
	case len(by) == 0:
	case len(by) == len(list):
		m.assume("All lengths come from the productivity of the methods of work, %s.", rounded)
	default:
		m.assume("By the productivity of the methods of work, %s, lasts %s; all else by recorded and planned times.", rounded, inWords(by))
	}
}

// resource finds the trade that a task takes, among those of which there are so many only.
func (m *maker) resource(by string, list []trade) string {
	if by != "" {
		for _, t := range m.trades {
			if strings.EqualFold(by, t.ID) || strings.EqualFold(by, t.Title) {
				return m.limited(t.ID)
			}
		}
		if r := m.limited(strings.ToLower(by)); r != "" {
			return r
		}
	}
	most := -1
	for i := range list {
		if most < 0 || list[i].minutes > list[most].minutes {
			most = i
		}
	}
	if most >= 0 {
		return m.limited(list[most].by)
	}
	return ""
}

// limited gives the trade when there are only so many of it.
func (m *maker) limited(trade string) string {
	if _, ok := m.site.crew[trade]; ok {
		return trade
	}
	return ""
}

// standing gives the hours that a task runs by itself. told names the job field that is missing.
func (m *maker) standing(d *draft) (h float64, told string) {
	switch d.Name {
	case "flood_test":
		for _, r := range m.rules {
			if r.Measure == "held_h" && r.Allowed != nil && r.Allowed.AtLeast != nil {
				return *r.Allowed.AtLeast, ""
			}
		}
		m.assume("No rule says how long the water of the flood test stands: 24 h are taken.")
		return 24, ""
	case "restart_heating":
		t := m.set.Table("heated_face")
		if t == nil {
			return 0, "items"
		}
		most := 0.0
		for i, v := range t.Column("ramp_needed_h") {
			switch {
			case v.State == measure.Known:
				most = max(most, v.Num)
			case v.State == measure.Unknown && told == "":
				told = t.Subjects[i].ID
			}
		}
		return most, told
	}
	return 0, ""
}
