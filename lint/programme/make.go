package programme

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	cpm "wetrule/lint/calc/programme"
	"wetrule/lint/measure"
	"wetrule/lint/methods"
	"wetrule/lint/rulebook"
)

// CycleError says that tasks wait for one another in a ring, with the rules that ask for it.
type CycleError struct {
	Tasks []string   // labels; each waits for the one before it, the first for the last
	Rules [][]string // that tie each task to the one before it
}

func (e *CycleError) Error() string {
	var b strings.Builder
	b.WriteString("the order of work goes round in a ring, so nothing in it can begin: ")
	for i := range e.Tasks {
		if i > 0 {
			b.WriteString("; ")
		}
		before := e.Tasks[(i+len(e.Tasks)-1)%len(e.Tasks)]
		fmt.Fprintf(&b, "%s waits for %s", lower(e.Tasks[i]), lower(before))
		if ids := e.Rules[i]; len(ids) > 0 {
			fmt.Fprintf(&b, " (%s)", inWords(ids))
		}
	}
	return b.String()
}

// Make makes the programme of a job. The error is jobfile.Problems where the job is at fault, and *CycleError where the order of work cannot be kept.
func Make(in Input) (*Programme, error) {
	job := in.File.Job
	on := in.On
	if on == "" {
		on = job.JudgedOn
	}
	p := &Programme{File: in.File.Name, Reference: job.Reference, Title: job.Title, On: on, Books: in.Books}

	_, waits := waitsOf(in.Rules)
	measurer := measure.NewPlan(waits, measure.WithZones(in.Zones...))
	var plan *methods.Plan
	var trades []*rulebook.Trade
	if in.Methods != nil && len(in.Methods.Methods) > 0 {
		set, before := measurer.Measure(job), *in.Methods
		var err error
		if plan, err = methods.For(job, set, &before); err != nil {
			// Rows that run in a ring give no order of steps. Here they are needed only where they apply, and the ring is told by its rules.
			before.Sequence = nil
			var again error
			if plan, again = methods.For(job, set, &before); again != nil {
				return nil, err
			}
		}
		trades = in.Methods.Trades
	}
	whole, list := drafts(job, plan)
	set := measurer.Measure(whole)

	ids := make([]string, len(trades))
	for i, t := range trades {
		ids[i] = t.ID
	}
	slices.Sort(ids)
	fresh := in.Start != ""
	s, err := newSite(in.File, ids, plannedWork(list), fresh)
	if err != nil {
		return nil, err
	}
	m := &maker{job: whole, plan: plan, set: set, rules: in.Rules, site: s, fresh: fresh, trades: trades, assume: s.assumed, stood: map[string]bool{}}
	p.Zone, p.Calendar = s.zone, s.calendar
	for i := range list {
		if err := m.length(&list[i]); err != nil {
			return nil, fmt.Errorf("the times of %s cannot be reckoned: %w", lower(list[i].Label), err)
		}
	}
	if err := m.begin(p, list, in.Start, on); err != nil {
		return nil, err
	}
	edges, unsure := links(whole, in.Rules, plan, set)
	if len(unsure) > 0 {
		s.assumed("The job does not say whether these rules apply, and they are kept: %s.", inWords(unsure))
	}
	standIns(edges, list)
	m.bases(list)
	n := &network{maker: m, p: p, list: list, edges: edges, order: set.Order()}
	if err := n.solve(); err != nil {
		return nil, err
	}
	n.results()
	n.says()
	for _, g := range m.grouped {
		s.assumed(g.format, inWords(g.what))
	}
	p.Assumptions, p.Cautions = s.assume, s.cautions
	return p, nil
}

// once tells an assumption that several links may make.
func (m *maker) once(format string, args ...any) {
	if text := fmt.Sprintf(format, args...); !m.stood[text] {
		m.stood[text] = true
		m.site.assume = append(m.site.assume, text)
	}
}

// group is an assumption that is made of several tasks.
type group struct {
	format string // with a place for them
	what   []string
}

// each tells an assumption of one task of several.
func (m *maker) each(format, what string) {
	k := slices.IndexFunc(m.grouped, func(g group) bool { return g.format == format })
	if k < 0 {
		k = len(m.grouped)
		m.grouped = append(m.grouped, group{format: format})
	}
	if !slices.Contains(m.grouped[k].what, what) {
		m.grouped[k].what = append(m.grouped[k].what, what)
	}
}

// plannedWork lists the times at which the job plans work that somebody attends to, unless it is done.
func plannedWork(list []draft) []plannedAt {
	var out []plannedAt
	for i := range list {
		d := &list[i]
		if d.Planned.Start.IsZero() || !d.Recorded.Finish.IsZero() {
			continue
		}
		out = append(out, plannedAt{d.Planned.Start, d.Label})
		if !d.Planned.Finish.IsZero() && !slices.Contains(unattended, d.Name) {
			out = append(out, plannedAt{d.Planned.Finish, d.Label})
		}
	}
	slices.SortStableFunc(out, func(a, b plannedAt) int { return a.at.Compare(b.at) })
	return out
}

// begin settles from when on is planned.
func (m *maker) begin(p *Programme, list []draft, start, on string) error {
	s := m.site
	day := func(text string) (time.Time, error) {
		d, err := cpm.ParseDate(text)
		if err != nil {
			return time.Time{}, err
		}
		return d.In(s.zone), nil
	}
	judged, err := day(on)
	if err != nil {
		return fmt.Errorf("the day of judgement: %w", err)
	}
	d, err := cpm.ParseDate(on)
	if err != nil {
		return err
	}
	tomorrow := d.AddDays(1).In(s.zone)
	var last, first time.Time
	for i := range list {
		r := list[i].Recorded
		for _, t := range []time.Time{r.Start, r.Finish} {
			if t.IsZero() {
				continue
			}
			if !t.Before(tomorrow) {
				s.caution("%s has a recorded time on %s, after the day of judgement.", list[i].Label, DayOnly(t.In(s.zone)))
			}
			p.Recorded = true
			if t.After(last) {
				last = t
			}
		}
		if t := list[i].Planned.Start; !t.IsZero() && (first.IsZero() || t.Before(first)) {
			first = t
		}
	}
	given := ""
	if m.job.Programme != nil {
		given = m.job.Programme.Start
	}
	switch {
	case start != "":
		if p.Start, err = day(start); err != nil {
			return fmt.Errorf("--start: %q is not a date (YYYY-MM-DD)", start)
		}
		if slices.ContainsFunc(m.job.Tasks, func(t jobTask) bool { return t.Planned != nil }) {
			s.assumed("Planned anew from %s: the planned starts of the job do not hold, its planned lengths do.", DayOnly(p.Start))
		}
	case given != "":
		if p.Start, err = day(given); err != nil {
			return err
		}
	case !first.IsZero():
		p.Start = cpm.DateOf(first.In(s.zone)).In(s.zone)
		s.assumed("No start is given: the first planned day, %s, is taken.", DayOnly(p.Start))
	default:
		p.Start = judged
		s.assumed("No start is given: the day of judgement, %s, is taken.", DayOnly(p.Start))
	}
	switch {
	case p.Recorded:
		p.AsOf = judged
		if last.After(judged) {
			p.AsOf = last.In(s.zone)
		}
		if p.Start.After(p.AsOf) && start == "" {
			p.Start = p.AsOf // work has begun already
		}
	case p.Start.Before(judged) && start == "":
		s.assumed("Nothing is recorded by %s, the day of judgement: all is planned from then on.", DayOnly(judged))
		p.Start = judged
	}
	return nil
}

// network is the programme while it is worked out.
type network struct {
	*maker
	p     *Programme
	list  []draft
	edges []*edge
	order *measure.Order

	schedule *cpm.Schedule
	tied     []int  // edge of each link of the schedule, -1 for links within a task
	out      []bool // tasks without dates
}

// solve works out dates. How long something cures hangs on when it begins to, where the weather changes; so it goes round until nothing moves any more.
func (n *network) solve() error {
	for i := range n.edges {
		if e := n.edges[i]; e.cures {
			e.cure(n.maker, n.order, n.list, n.endOf(e.From))
		}
	}
	for round := 0; ; round++ {
		n.drop()
		if err := n.reckon(); err != nil {
			return err
		}
		moved := false
		for _, e := range n.edges {
			if !e.cures {
				continue
			}
			lag, stop := e.Lag, e.stop
			if n.out[e.From] {
				continue
			}
			e.cure(n.maker, n.order, n.list, n.endOf(e.From))
			if round > len(n.list) && e.stop == "" && stop == "" && e.Lag < lag {
				e.Lag = lag // weather and order chase one another: the longer time is taken
			}
			moved = moved || e.Lag != lag || (e.stop == "") != (stop == "")
		}
		if !moved || round > 2*len(n.list)+4 {
			return nil
		}
	}
}

// endOf is when a task ends as far as is known by now.
func (n *network) endOf(i int) time.Time {
	d := &n.list[i]
	if !d.Recorded.Finish.IsZero() {
		return d.Recorded.Finish
	}
	if n.schedule != nil {
		if x, ok := n.schedule.Of(d.parts[len(d.parts)-1].id); ok {
			return x.EarlyFinish
		}
	}
	if n.p.AsOf.After(n.p.Start) {
		return n.p.AsOf
	}
	return n.p.Start
}

// drop marks the tasks that get no date, since they, or what they follow, wait for something that never cures.
func (n *network) drop() {
	n.out = make([]bool, len(n.list))
	for changed := true; changed; {
		changed = false
		for _, e := range n.edges {
			to := &n.list[e.To]
			if n.out[e.To] || to.State != ToDo {
				continue
			}
			if e.stop != "" || n.out[e.From] {
				n.out[e.To], changed = true, true
			}
		}
	}
}

// asIs is the network with the waits as they are now.
func (n *network) asIs() cpm.Network {
	net := cpm.Network{Start: n.p.Start, AsOf: n.p.AsOf, Resources: n.site.crew}
	n.tied = n.tied[:0]
	for i := range n.list {
		d := &n.list[i]
		if n.out[i] {
			continue
		}
		for k, x := range d.parts {
			a := cpm.Activity{ID: x.id, Work: x.work, Calendar: n.site.calendar, Resource: x.resource}
			if x.clock {
				a.Calendar = nil
			}
			if k == 0 {
				if !n.fresh {
					a.NotBefore = d.Planned.Start
				}
				a.Start = d.Recorded.Start
				if d.State == Done {
					a.Finish = d.Recorded.Finish
					if a.Start.IsZero() {
						a.Start = a.Finish
					}
				}
			} else {
				net.Links = append(net.Links, cpm.Link{From: d.parts[k-1].id, To: x.id, Kind: cpm.FS, Elapsed: true})
				n.tied = append(n.tied, -1)
			}
			net.Activities = append(net.Activities, a)
		}
	}
	for i, e := range n.edges {
		if n.out[e.From] || n.out[e.To] {
			continue
		}
		from, to := n.list[e.From].parts, n.list[e.To].parts
		l := cpm.Link{From: from[len(from)-1].id, To: to[0].id, Kind: e.Kind, Lag: e.Lag, Elapsed: e.Elapsed}
		if e.Kind == cpm.SS || e.Kind == cpm.SF {
			l.From = from[0].id
		}
		if e.Kind == cpm.FF || e.Kind == cpm.SF {
			l.To = to[len(to)-1].id
		}
		net.Links = append(net.Links, l)
		n.tied = append(n.tied, i)
	}
	return net
}

func (n *network) reckon() error {
	s, err := n.asIs().Solve()
	var ring *cpm.CycleError
	if errors.As(err, &ring) {
		return n.ring(ring.IDs)
	}
	n.schedule = s
	return err
}

// taskOfPart finds the task of an activity.
func (n *network) taskOfPart(id string) int {
	id, _, _ = strings.Cut(id, "/")
	return slices.IndexFunc(n.list, func(d draft) bool { return d.ID == id })
}

func (n *network) ring(ids []string) error {
	var at []int
	for _, id := range ids {
		if i := n.taskOfPart(id); len(at) == 0 || at[len(at)-1] != i {
			at = append(at, i)
		}
	}
	if len(at) > 1 && at[0] == at[len(at)-1] {
		at = at[:len(at)-1]
	}
	c := &CycleError{}
	for k, i := range at {
		before := at[(k+len(at)-1)%len(at)]
		var rules []string
		for _, e := range n.edges {
			if e.From == before && e.To == i {
				rules = append(rules, e.Rules...)
			}
		}
		c.Tasks, c.Rules = append(c.Tasks, n.list[i].Label), append(c.Rules, rules)
	}
	return c
}

// results puts the dates into the programme.
func (n *network) results() {
	p, z := n.p, n.site.zone
	p.Whole = true
	p.End = n.schedule.End.In(z)
	if n.schedule.End.IsZero() { // there is nothing to do
		p.End = p.Start
	}
	place := make([]int, len(n.list))
	var seq []int
	for i := range n.list {
		d := &n.list[i]
		t := &d.Task
		if d.Basis == Unknown || n.out[i] {
			p.Whole = false
		}
		t.Planned, t.Recorded = inZone(t.Planned, z), inZone(t.Recorded, z)
		t.Dated = !n.out[i]
		if t.Dated {
			first, _ := n.schedule.Of(d.parts[0].id)
			last, _ := n.schedule.Of(d.parts[len(d.parts)-1].id)
			t.EarlyStart, t.EarlyFinish = first.EarlyStart.In(z), last.EarlyFinish.In(z)
			t.LateStart, t.LateFinish = first.LateStart.In(z), last.LateFinish.In(z)
			t.TotalFloat, t.FreeFloat = first.TotalFloat, last.FreeFloat
			for _, x := range d.parts {
				y, _ := n.schedule.Of(x.id)
				t.TotalFloat = min(t.TotalFloat, y.TotalFloat)
				t.Critical = t.Critical || y.Critical
			}
			t.FreeFloat = min(t.FreeFloat, t.TotalFloat)
		}
		seq = append(seq, i)
	}
	slices.SortStableFunc(seq, func(a, b int) int {
		x, y := &n.list[a].Task, &n.list[b].Task
		if x.Dated != y.Dated {
			return choose(x.Dated, -1, 1)
		}
		return cmp.Or(x.EarlyStart.Compare(y.EarlyStart), x.EarlyFinish.Compare(y.EarlyFinish), cmp.Compare(slices.Index(measure.Tasks, x.Name), slices.Index(measure.Tasks, y.Name)), cmp.Compare(a, b))
	})
	for k, i := range seq {
		place[i] = k
	}
	linkAt := make([]int, len(n.edges))
	for i, e := range n.edges {
		l := e.Link
		l.From, l.To = place[e.From], place[e.To]
		linkAt[i] = len(p.Links)
		p.Links = append(p.Links, l)
	}
	// Waits for people, that levelling found.
	resource := map[int]int{}
	for k := len(n.tied); k < len(n.schedule.Links); k++ {
		l := n.schedule.Links[k]
		from, to := n.taskOfPart(l.From), n.taskOfPart(l.To)
		if from == to || from < 0 || to < 0 || n.list[from].State == Done {
			continue
		}
		resource[k] = len(p.Links)
		p.Links = append(p.Links, Link{From: place[from], To: place[to], Kind: cpm.FS, Elapsed: true, Resource: l.Resource})
	}
	for _, i := range seq {
		d := &n.list[i]
		t := d.Task
		t.parts = d.parts
		if t.Dated {
			x, _ := n.schedule.Of(d.parts[0].id)
			if k := x.Driver.Link; k >= 0 && k < len(n.tied) && n.tied[k] >= 0 {
				t.Driver = linkAt[n.tied[k]]
			} else if at, ok := resource[k]; k >= 0 && ok {
				t.Driver = at
			}
			t.Why = n.why(d, x.Driver, &t)
		} else {
			t.Why = "has no date: what it waits for does not cure"
		}
		p.Tasks = append(p.Tasks, t)
	}
	for i := range n.list {
		if t := &p.Tasks[place[i]]; t.Name == "first_steam" && t.Dated && (p.FirstSteam.IsZero() || t.EarlyStart.Before(p.FirstSteam)) {
			p.FirstSteam = t.EarlyStart
		}
	}
	n.points(place)
	n.cures(place)
}

func choose(cond bool, a, b int) int {
	if cond {
		return a
	}
	return b
}

func inZone(t Times, z *time.Location) Times {
	if !t.Start.IsZero() {
		t.Start = t.Start.In(z)
	}
	if !t.Finish.IsZero() {
		t.Finish = t.Finish.In(z)
	}
	return t
}

// points places the inspections of the methods at the end of their tasks.
func (n *network) points(place []int) {
	if n.plan == nil {
		return
	}
	of := map[int]int{}
	for i := range n.list {
		for _, s := range n.list[i].steps {
			of[s] = i
		}
	}
	for i := range n.plan.Points {
		x := &n.plan.Points[i]
		at, ok := of[x.Step]
		if !ok {
			continue
		}
		t := &n.p.Tasks[place[at]]
		y := Point{Sort: x.Sort, Letter: x.Letter, Task: place[at], At: t.EarlyFinish, Dated: t.Dated, Check: x.Check, ReleasedBy: x.ReleasedBy}
		// The same inspection of several faces or items is one.
		k := slices.IndexFunc(n.p.Points, func(o Point) bool {
			return o.Task == y.Task && o.Sort == y.Sort && o.Check == y.Check && o.ReleasedBy == y.ReleasedBy
		})
		if k < 0 {
			k = len(n.p.Points)
			n.p.Points = append(n.p.Points, y)
		}
		if x.Subject != "" && !slices.Contains(n.p.Points[k].Subjects, x.Subject) {
			n.p.Points[k].Subjects = append(n.p.Points[k].Subjects, x.Subject)
		}
	}
	slices.SortStableFunc(n.p.Points, func(a, b Point) int {
		if a.Dated != b.Dated {
			return choose(a.Dated, -1, 1)
		}
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Task, b.Task))
	})
}

// cures lists when what was laid has cured and what may begin then.
func (n *network) cures(place []int) {
	for _, e := range n.edges {
		if !e.cures || e.miss || e.stop != "" || e.Lag <= 0 || n.out[e.From] {
			continue
		}
		from := &n.p.Tasks[place[e.From]]
		at := from.EarlyFinish.Add(e.Lag)
		k := slices.IndexFunc(n.p.Cures, func(c CureEnd) bool { return c.Task == place[e.From] && c.At.Equal(at) })
		if k < 0 {
			k = len(n.p.Cures)
			n.p.Cures = append(n.p.Cures, CureEnd{Task: place[e.From], At: at, What: from.leaves(), Text: e.waitText()})
		}
		n.p.Cures[k].For = append(n.p.Cures[k].For, place[e.To])
	}
	slices.SortStableFunc(n.p.Cures, func(a, b CureEnd) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Task, b.Task)) })
}
