package programme

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"
)

// solver holds a network while it is worked out. Instants are nanoseconds since 1970; activities and links go by their index.
//
// Two instants with no working time between them, the end of a shift and the beginning of the next, count as the same amount of work done. A start
// is always the later of them, a finish the earlier, unless a link to the finish falls between them; then the finish is the later, too.
type solver struct {
	net   Network
	acts  []Activity
	links []Link
	from  []int // of each link
	to    []int
	moot  []bool // links that records have overtaken
	in    [][]int
	out   [][]int
	order []int // predecessors first
	index map[string]int

	start, asOf int64
	s, f        []int64 // early
	driver      []Driver
	ls, lf      []int64 // late
	xf          []int64 // until when links to the finish may wait
	tf, ff      []int64
	end         int64
}

const never = math.MaxInt64

// Solve works out all dates. Where an activity uses a resource, it waits until one is free: activities are placed by their late start, each in the first gap
// that is long enough. The waits become links of the result, so that its floats hold for the schedule with resources.
//
// Every activity takes its whole work, uninterrupted but for free time. Late dates are the latest that keep the end and every NotLater. Total float is what an
// activity can be late by without delaying these, free float without delaying any other. A negative lag counts back; nothing
// begins before the network's start for it.
//
// Errors are [*CycleError], and ErrInput, ErrNoWorkingTime, ErrHorizon to be told apart with errors.Is.
func (n Network) Solve() (*Schedule, error) {
	s, err := newSolver(n)
	if err != nil {
		return nil, err
	}
	if err := s.pass(); err != nil {
		return nil, err
	}
	if s.usesResources() {
		if err := s.level(); err != nil {
			return nil, err
		}
		if err := s.pass(); err != nil {
			return nil, err
		}
	}
	return s.schedule(), nil
}

func newSolver(n Network) (*solver, error) {
	if len(n.Activities) > MaxActivities || len(n.Links) > MaxLinks {
		return nil, fmt.Errorf("%w: %d activities and %d links; at most %d and %d", ErrInput, len(n.Activities), len(n.Links), MaxActivities, MaxLinks)
	}
	s := &solver{net: n, acts: n.Activities, links: slices.Clone(n.Links), index: make(map[string]int, len(n.Activities))}
	var err error
	instant := func(what string, t time.Time, none int64) int64 {
		if t.IsZero() {
			return none
		}
		v, e := (*Calendar)(nil).instant(t)
		if e != nil && err == nil {
			err = fmt.Errorf("%s: %w", what, e)
		}
		return v
	}
	if n.Start.IsZero() {
		return nil, fmt.Errorf("%w: a programme needs a start", ErrInput)
	}
	s.start = instant("start", n.Start, 0)
	s.asOf = instant("as of", n.AsOf, s.start)
	for i, a := range s.acts {
		if _, twice := s.index[a.ID]; twice || a.ID == "" {
			return nil, fmt.Errorf("%w: activity %d: the id %q is empty or taken", ErrInput, i+1, a.ID)
		}
		s.index[a.ID] = i
		if a.Work < 0 || a.Work > MaxWork {
			return nil, fmt.Errorf("%w: %s: %.0f h of work; it takes 0 to %.0f h", ErrInput, a.ID, a.Work.Hours(), MaxWork.Hours())
		}
		if a.Resource != "" && n.Resources[a.Resource] < 1 {
			return nil, fmt.Errorf("%w: %s: there is no %q", ErrInput, a.ID, a.Resource)
		}
		for _, t := range []time.Time{a.NotBefore, a.NotLater, a.Start, a.Finish} {
			instant(a.ID, t, 0)
		}
		if !a.Start.IsZero() && !a.Finish.IsZero() && a.Finish.Before(a.Start) {
			return nil, fmt.Errorf("%w: %s: recorded as finished before it was started", ErrInput, a.ID)
		}
	}
	if err != nil {
		return nil, err
	}
	for _, l := range s.links {
		if err := s.add(l); err != nil {
			return nil, err
		}
	}
	return s, s.sort(true)
}

func (s *solver) add(l Link) error {
	i, ok := s.index[l.From]
	if !ok {
		return fmt.Errorf("%w: a link from %q, which is no activity", ErrInput, l.From)
	}
	j, ok := s.index[l.To]
	if !ok {
		return fmt.Errorf("%w: a link to %q, which is no activity", ErrInput, l.To)
	}
	if int(l.Kind) >= len(kinds) {
		return fmt.Errorf("%w: the link from %s to %s has no kind", ErrInput, l.From, l.To)
	}
	if l.Lag > MaxWork || l.Lag < -MaxWork {
		return fmt.Errorf("%w: the link from %s to %s has a lag of %s", ErrInput, l.From, l.To, l.Lag)
	}
	s.from, s.to = append(s.from, i), append(s.to, j)
	// A record of the successor holds, whatever the link says.
	s.moot = append(s.moot, s.finished(j) || s.started(j) && (l.Kind == FS || l.Kind == SS))
	return nil
}

func (s *solver) finished(i int) bool { return !s.acts[i].Finish.IsZero() }
func (s *solver) started(i int) bool  { return !s.acts[i].Start.IsZero() || s.finished(i) }

// sort finds an order with predecessors first, or the ring that forbids one. Links that a record has overtaken order nothing, but while
// the links are still those that were given (all) they may not make a ring either.
func (s *solver) sort(all bool) error {
	n := len(s.acts)
	s.in, s.out = make([][]int, n), make([][]int, n)
	waits := make([]int, n)
	for k := range s.from {
		s.out[s.from[k]] = append(s.out[s.from[k]], k)
		s.in[s.to[k]] = append(s.in[s.to[k]], k)
		if all || !s.moot[k] {
			waits[s.to[k]]++
		}
	}
	s.order = s.order[:0]
	for i := range s.acts {
		if waits[i] == 0 {
			s.order = append(s.order, i)
		}
	}
	for k := 0; k < len(s.order); k++ {
		for _, l := range s.out[s.order[k]] {
			if !all && s.moot[l] {
				continue
			}
			if waits[s.to[l]]--; waits[s.to[l]] == 0 {
				s.order = append(s.order, s.to[l])
			}
		}
	}
	if len(s.order) == n {
		return nil
	}
	// Whatever still waits has a predecessor that still waits: going back must meet a ring.
	at := slices.IndexFunc(waits, func(w int) bool { return w > 0 })
	var back []int
	for seen := map[int]bool{}; !seen[at]; {
		seen[at] = true
		back = append(back, at)
		for _, l := range s.in[at] {
			if waits[s.from[l]] > 0 {
				at = s.from[l]
				break
			}
		}
	}
	ring := back[slices.Index(back, at):]
	slices.Reverse(ring)
	first := slices.Index(ring, slices.Min(ring))
	ring = append(slices.Clone(ring[first:]), ring[:first]...)
	ids := make([]string, len(ring))
	for i, a := range ring {
		ids[i] = s.acts[a].ID
	}
	return &CycleError{ids}
}

// pass works out early and late dates and floats.
func (s *solver) pass() error {
	n := len(s.acts)
	s.s, s.f, s.driver = make([]int64, n), make([]int64, n), make([]Driver, n)
	for _, i := range s.order {
		var err error
		if s.s[i], s.f[i], s.driver[i], err = s.early(i, math.MinInt64); err != nil {
			return fmt.Errorf("%s: %w", s.acts[i].ID, err)
		}
	}
	s.end = s.start
	for i, f := range s.f {
		if i == 0 || f > s.end {
			s.end = f
		}
	}
	s.ls, s.lf, s.xf = make([]int64, n), make([]int64, n), make([]int64, n)
	s.tf, s.ff = make([]int64, n), make([]int64, n)
	for _, i := range slices.Backward(s.order) {
		if err := s.late(i); err != nil {
			return fmt.Errorf("%s: %w", s.acts[i].ID, err)
		}
	}
	return nil
}

// target is the instant that a link demands for the start or finish of its successor.
func (s *solver) target(k int) (int64, error) {
	l := &s.links[k]
	base := s.f[s.from[k]]
	if l.Kind == SS || l.Kind == SF {
		base = s.s[s.from[k]]
	}
	return s.lagged(k, base, int64(l.Lag), false)
}

// allowed is the last instant of the start or finish of the predecessor of a link that keeps t for its successor.
func (s *solver) allowed(k int, t int64) (int64, error) {
	return s.lagged(k, t, -int64(s.links[k].Lag), true)
}

func (s *solver) lagged(k int, t, lag int64, last bool) (int64, error) {
	c := s.acts[s.to[k]].Calendar
	if s.links[k].Elapsed {
		c = nil
	}
	if lag == 0 {
		return t, nil
	}
	return c.shifted(t, lag, last)
}

// early works out the early dates of an activity whose predecessors have theirs. It begins at floor or later.
func (s *solver) early(i int, floor int64) (start, finish int64, d Driver, err error) {
	a := &s.acts[i]
	c, work := a.Calendar, int64(a.Work)
	toFinish := int64(math.MinInt64) // the latest demand on the finish
	for _, k := range s.in[i] {
		if kind := s.links[k].Kind; !s.moot[k] && (kind == FF || kind == SF) {
			t, err := s.target(k)
			if err != nil {
				return 0, 0, d, err
			}
			toFinish = max(toFinish, t)
		}
	}
	d = Driver{By: ByRecord, Link: -1}
	switch {
	case s.finished(i):
		finish = a.Finish.UnixNano()
		start = finish
		if !a.Start.IsZero() {
			start = a.Start.UnixNano()
		} else if work > 0 {
			if start, err = c.shifted(finish, -work, true); err != nil {
				return 0, 0, d, err
			}
			start = min(start, finish)
		}
		d.Ready = s.when(i, start)
		return start, finish, d, nil
	case s.started(i):
		start = a.Start.UnixNano()
		finish = start
		if work > 0 {
			if finish, err = c.shifted(start, work, false); err != nil {
				return 0, 0, d, err
			}
		}
		if wait := max(toFinish, s.asOf); wait > finish {
			if finish, err = c.openAt(wait); err != nil {
				return 0, 0, d, err
			}
		}
		d.Ready = s.when(i, start)
		return start, finish, d, nil
	}

	begin := c.startAt
	if work == 0 {
		begin = c.openAt
	}
	start, ready := int64(math.MinInt64), int64(math.MinInt64)
	demand := func(by Cause, link int, t int64, onFinish bool) error {
		var at int64
		var err error
		if onFinish && work > 0 {
			at, err = c.shifted(t, -work, true)
		} else {
			at, err = begin(t)
		}
		if err != nil {
			return err
		}
		weak := d.By == ByStart || d.By == ByAsOf
		if at > start || at == start && link >= 0 && (weak || !onFinish && t > ready) {
			start, ready = at, t
			d = Driver{By: by, Link: link, Ready: s.when(i, t), Calendar: !onFinish && at > t}
			if link >= 0 {
				d.From = s.links[link].From
			}
		}
		return nil
	}
	if err := demand(ByStart, -1, s.start, false); err != nil {
		return 0, 0, d, err
	}
	if s.asOf > s.start {
		if err := demand(ByAsOf, -1, s.asOf, false); err != nil {
			return 0, 0, d, err
		}
	}
	if !a.NotBefore.IsZero() {
		if err := demand(ByNotBefore, -1, a.NotBefore.UnixNano(), false); err != nil {
			return 0, 0, d, err
		}
	}
	if floor > math.MinInt64 {
		if err := demand(ByResource, -1, floor, false); err != nil {
			return 0, 0, d, err
		}
	}
	for _, k := range s.in[i] {
		if s.moot[k] {
			continue
		}
		t, err := s.target(k)
		if err != nil {
			return 0, 0, d, err
		}
		by := ByLink
		if s.links[k].Resource != "" {
			by = ByResource
		}
		if err := demand(by, k, t, s.links[k].Kind == FF || s.links[k].Kind == SF); err != nil {
			return 0, 0, d, err
		}
	}
	finish = start
	if work > 0 {
		if finish, err = c.shifted(start, work, false); err != nil {
			return 0, 0, d, err
		}
		if toFinish > finish {
			if finish, err = c.openAt(toFinish); err != nil {
				return 0, 0, d, err
			}
		}
	}
	return start, finish, d, nil
}

// late works out the late dates and floats of an activity whose successors have theirs.
func (s *solver) late(i int) error {
	a := &s.acts[i]
	c, work := a.Calendar, int64(a.Work)
	if s.finished(i) {
		s.ls[i], s.lf[i], s.xf[i] = s.s[i], s.f[i], s.f[i]
		return nil
	}
	lastFinish, lastStart := s.end, int64(never)
	if !a.NotLater.IsZero() {
		lastFinish = min(lastFinish, a.NotLater.UnixNano())
	}
	free := int64(never)
	for _, k := range s.out[i] {
		if s.moot[k] {
			continue
		}
		j := s.to[k]
		onStart := s.links[k].Kind == SS || s.links[k].Kind == SF // of this activity
		if onStart && s.started(i) {
			continue
		}
		keepLate, keepEarly, mine := s.ls[j], s.s[j], s.f[i]
		if s.links[k].Kind == FF || s.links[k].Kind == SF {
			keepLate, keepEarly = s.xf[j], s.f[j]
		}
		t, err := s.allowed(k, keepLate)
		if err != nil {
			return err
		}
		if onStart {
			lastStart = min(lastStart, t)
			mine = s.s[i]
		} else {
			lastFinish = min(lastFinish, t)
		}
		if t, err = s.allowed(k, keepEarly); err != nil {
			return err
		}
		if t, err = c.between(mine, t); err != nil {
			return err
		}
		free = min(free, t)
	}

	var err error
	switch {
	case s.started(i):
		if s.xf[i], err = c.openBefore(lastFinish); err != nil {
			return err
		}
		s.ls[i], s.lf[i] = s.s[i], s.xf[i]
		s.tf[i], err = c.between(s.f[i], s.xf[i])
	case work == 0:
		if s.xf[i], err = c.openBefore(min(lastStart, lastFinish)); err != nil {
			return err
		}
		s.ls[i], s.lf[i] = s.xf[i], s.xf[i]
		s.tf[i], err = c.between(s.s[i], s.ls[i])
	default:
		ls, err := c.shifted(lastFinish, -work, true)
		if err != nil {
			return err
		}
		if lastStart != never {
			t, err := c.startBefore(lastStart)
			if err != nil {
				return err
			}
			ls = min(ls, t)
		}
		open, err := c.openBefore(lastFinish)
		if err != nil {
			return err
		}
		done, err := c.shifted(ls, work, true)
		if err != nil {
			return err
		}
		lf, err := c.shifted(ls, work, false)
		if err != nil {
			return err
		}
		s.ls[i], s.lf[i], s.xf[i] = ls, lf, min(open, done)
		if s.f[i] > lf && s.f[i] <= s.xf[i] {
			s.lf[i] = s.f[i]
		}
		if s.tf[i], err = c.between(s.s[i], ls); err != nil {
			return err
		}
	}
	if err != nil {
		return err
	}
	s.ff[i] = free
	if free == never {
		if s.ff[i], err = c.between(s.f[i], s.end); err != nil {
			return err
		}
	}
	if s.tf[i] >= 0 {
		s.ff[i] = min(s.ff[i], s.tf[i])
	}
	return nil
}

// when gives an instant by the clocks of an activity's place.
func (s *solver) when(i int, t int64) time.Time {
	loc := s.net.Start.Location()
	if c := s.acts[i].Calendar; c != nil {
		loc = c.Location()
	}
	return time.Unix(0, t).In(loc)
}

func (s *solver) schedule() *Schedule {
	out := &Schedule{Links: s.links, End: time.Unix(0, s.end).In(s.net.Start.Location()), index: s.index}
	last := -1
	for i, a := range s.acts {
		out.Dates = append(out.Dates, Dates{
			ID:         a.ID,
			EarlyStart: s.when(i, s.s[i]), EarlyFinish: s.when(i, s.f[i]), LateStart: s.when(i, s.ls[i]), LateFinish: s.when(i, s.lf[i]),
			TotalFloat: time.Duration(s.tf[i]), FreeFloat: time.Duration(s.ff[i]),
			Critical: s.tf[i] <= 0 && !s.finished(i), Started: s.started(i), Finished: s.finished(i),
			Driver: s.driver[i],
		})
		if last < 0 || s.f[i] > s.f[last] || s.f[i] == s.f[last] && s.tf[i] < s.tf[last] {
			last = i
		}
	}
	for ; last >= 0; last = s.from[s.driver[last].Link] {
		out.Path = append(out.Path, s.acts[last].ID)
		if s.driver[last].Link < 0 {
			break
		}
	}
	slices.Reverse(out.Path)
	return out
}

func (s *solver) usesResources() bool {
	return slices.ContainsFunc(s.acts, func(a Activity) bool { return a.Resource != "" && a.Work > 0 })
}

// unit is one of a resource: the activities that it serves, by their start.
type unit []int

// level places the activities one after another, and adds the links that keep each unit to one activity at a time.
func (s *solver) level() error {
	n := len(s.acts)
	units := map[string][]unit{}
	for i, a := range s.acts {
		if a.Resource != "" && a.Work > 0 && units[a.Resource] == nil {
			// More units than activities are of no use.
			units[a.Resource] = make([]unit, min(s.net.Resources[a.Resource], n-i))
		}
	}
	uses := func(i int) bool { return s.acts[i].Resource != "" && s.acts[i].Work > 0 }

	// What is recorded comes first and stays where it is, even if it takes more than there is.
	var recorded []int
	for i := range s.acts {
		if s.started(i) && uses(i) {
			recorded = append(recorded, i)
		}
	}
	slices.SortStableFunc(recorded, func(a, b int) int { return cmp.Compare(s.s[a], s.s[b]) })
	for _, i := range recorded {
		us := units[s.acts[i].Resource]
		best := 0
		for u := range us {
			if s.freeFrom(us[u]) < s.freeFrom(us[best]) {
				best = u
			}
		}
		us[best] = append(us[best], i)
	}

	priority := slices.Clone(s.ls)
	loose := false // a successor might begin before its predecessor
	for k, l := range s.links {
		loose = loose || !s.moot[k] && (l.Lag < 0 || l.Kind == FF || l.Kind == SF)
	}
	waits := make([]int, n)
	for i := range s.acts {
		waits[i] = len(s.in[i])
	}
	var ready []int
	for i := range s.acts {
		if waits[i] == 0 {
			ready = append(ready, i)
		}
	}
	for len(ready) > 0 {
		pick := 0
		for k := range ready {
			if c := cmp.Compare(priority[ready[k]], priority[ready[pick]]); c < 0 || c == 0 && ready[k] < ready[pick] {
				pick = k
			}
		}
		i := ready[pick]
		ready = slices.Delete(ready, pick, pick+1)
		var err error
		if s.s[i], s.f[i], _, err = s.early(i, math.MinInt64); err == nil && uses(i) && !s.started(i) {
			err = s.place(i, units, loose)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", s.acts[i].ID, err)
		}
		for _, k := range s.out[i] {
			if waits[s.to[k]]--; waits[s.to[k]] == 0 {
				ready = append(ready, s.to[k])
			}
		}
	}
	return s.chain(units)
}

// orders says whether a link keeps its successor until its predecessor is finished.
func (s *solver) orders(k int) bool {
	return !s.moot[k] && s.links[k].Kind == FS && s.links[k].Lag >= 0
}

func (s *solver) freeFrom(u unit) int64 {
	free := int64(math.MinInt64)
	for _, i := range u {
		free = max(free, s.f[i])
	}
	return free
}

// place finds the earliest time at which a unit is free long enough. Of several units it takes one whose work before is waited for
// anyway, so that the unit adds no link, or else the one that was idle for the shortest time.
func (s *solver) place(i int, units map[string][]unit, loose bool) error {
	us := units[s.acts[i].Resource]
	best, bestAt, bestFree, bestTied := -1, 0, int64(0), false
	var bestStart, bestFinish int64
	for u := range us {
		start, finish := s.s[i], s.f[i]
		at, free := 0, int64(math.MinInt64)
		for ; at < len(us[u]); at++ {
			if other := us[u][at]; s.f[other] > start {
				if s.s[other] >= finish && !(loose && s.reaches(other, i, units)) {
					break
				}
				var err error
				if start, finish, _, err = s.early(i, s.f[other]); err != nil {
					return err
				}
			}
			free = max(free, s.f[us[u][at]])
		}
		tied := at > 0 && slices.ContainsFunc(s.in[i], func(k int) bool { return s.from[k] == us[u][at-1] && s.orders(k) })
		if best < 0 || start < bestStart || start == bestStart && (tied && !bestTied || tied == bestTied && free > bestFree) {
			best, bestAt, bestFree, bestTied, bestStart, bestFinish = u, at, free, tied, start, finish
		}
	}
	s.s[i], s.f[i] = bestStart, bestFinish
	us[best] = slices.Insert(us[best], bestAt, i)
	return nil
}

// reaches says whether one activity comes before another by links and by the order of the units.
func (s *solver) reaches(from, to int, units map[string][]unit) bool {
	seen := make([]bool, len(s.acts))
	stack := []int{from}
	seen[from] = true
	visit := func(i int) {
		if !seen[i] {
			seen[i] = true
			stack = append(stack, i)
		}
	}
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if i == to {
			return true
		}
		for _, k := range s.out[i] {
			visit(s.to[k])
		}
		for _, u := range units[s.acts[i].Resource] {
			if at := slices.Index(u, i); at >= 0 && at+1 < len(u) {
				visit(u[at+1])
			}
		}
	}
	return false
}

// chain adds links between the activities that a unit serves one after another.
func (s *solver) chain(units map[string][]unit) error {
	names := make([]string, 0, len(units))
	for name := range units {
		names = append(names, name)
	}
	slices.Sort(names)
	given := map[[2]int]bool{}
	for k := range s.links {
		if s.orders(k) {
			given[[2]int{s.from[k], s.to[k]}] = true
		}
	}
	for _, name := range names {
		for _, u := range units[name] {
			for at, i := range u {
				if s.started(i) {
					continue
				}
				// Records may overlap, so that the one before need not be the last to finish.
				for b := at - 1; b >= 0; b-- {
					before := u[b]
					pair := [2]int{before, i}
					if !given[pair] && !(s.started(before) && s.reaches(i, before, units)) {
						given[pair] = true
						l := Link{From: s.acts[before].ID, To: s.acts[i].ID, Resource: name}
						s.links = append(s.links, l)
						if err := s.add(l); err != nil {
							return err
						}
					}
					if !s.started(before) {
						break
					}
				}
			}
		}
	}
	return s.sort(false)
}
