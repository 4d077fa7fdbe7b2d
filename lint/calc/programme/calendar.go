package programme

import (
	"fmt"
	"slices"
	"sort"
	"sync"
	"time"
	_ "time/tzdata" // time zones must be known on machines that have no zone files
)

// Years that a calendar reaches. A search that leaves them ends in an error.
const (
	FirstYear = 1971
	LastYear  = 2199
)

// Shift is a stretch of work by the clock on the wall. One that ends at or before its beginning ends on the day after.
type Shift struct {
	From, To Clock
}

// WeekShift is a shift of some days of the week.
type WeekShift struct {
	Days []time.Weekday
	Shift
}

// Exception replaces the shifts of one day, public holiday or not. Without shifts the day is free.
type Exception struct {
	Date   Date
	Shifts []Shift
	Why    string
}

// Pattern is what a [Calendar] is made from.
type Pattern struct {
	Location   *time.Location
	Week       []WeekShift
	Holidays   *HolidaySet // days without work; may be nil
	Exceptions []Exception
}

// Calendar says when work is done: shifts by the clock on the wall of a place, on days of the week, but for public holidays and other
// exceptions. A shift is as long as it really is: one over a change of the clocks is longer or shorter than the clocks say.
// A nil calendar works round the clock. A Calendar may be used by several goroutines.
type Calendar struct {
	loc        *time.Location
	week       [7][]Shift
	holidays   *HolidaySet
	exceptions map[Date]Exception

	mu    sync.Mutex
	spans []span // of the days from first up to, and not including, next
	first int
	next  int
}

// span is a stretch of working time; done is the working time before it, counted from an arbitrary instant.
type span struct{ from, to, done int64 }

// NewCalendar makes a calendar. It is an error to have no location, no working time in the week, times of day out of range, or
// shifts of the week that overlap.
func NewCalendar(p Pattern) (*Calendar, error) {
	if p.Location == nil {
		return nil, fmt.Errorf("%w: a calendar needs a time zone", ErrInput)
	}
	c := &Calendar{loc: p.Location, holidays: p.Holidays, exceptions: map[Date]Exception{}}
	works := false
	for _, w := range p.Week {
		if err := checkShift(w.Shift); err != nil {
			return nil, err
		}
		for _, d := range w.Days {
			if d < time.Sunday || d > time.Saturday {
				return nil, fmt.Errorf("%w: %d is not a day of the week", ErrInput, int(d))
			}
			c.week[d] = append(c.week[d], w.Shift)
			works = true
		}
	}
	if !works {
		return nil, fmt.Errorf("%w: the week has no shift", ErrNoWorkingTime)
	}
	type stretch struct {
		from, to int
		day      time.Weekday
	}
	var all []stretch
	for d := range c.week {
		sortShifts(c.week[d])
		for _, s := range c.week[d] {
			from := d*1440 + int(s.From)
			all = append(all, stretch{from, from + s.minutes(), time.Weekday(d)})
		}
	}
	for i, s := range all {
		next := all[(i+1)%len(all)]
		from := next.from
		if i == len(all)-1 {
			from += 7 * 1440
		}
		if s.to > from {
			return nil, fmt.Errorf("%w: shifts of %s and %s overlap", ErrInput, s.day, next.day)
		}
	}
	for _, e := range p.Exceptions {
		if _, twice := c.exceptions[e.Date]; twice {
			return nil, fmt.Errorf("%w: %s is given twice among the exceptions", ErrInput, e.Date)
		}
		if e.Date != DateOf(e.Date.utc()) {
			return nil, fmt.Errorf("%w: %s is no date", ErrInput, e.Date)
		}
		e.Shifts = slices.Clone(e.Shifts)
		for _, s := range e.Shifts {
			if err := checkShift(s); err != nil {
				return nil, err
			}
		}
		sortShifts(e.Shifts)
		c.exceptions[e.Date] = e
	}
	return c, nil
}

func checkShift(s Shift) error {
	if s.From < 0 || s.From >= At(24, 0) || s.To < 0 || s.To > At(24, 0) {
		return fmt.Errorf("%w: a shift from %s to %s", ErrInput, s.From, s.To)
	}
	return nil
}

func sortShifts(s []Shift) { sort.Slice(s, func(i, j int) bool { return s[i].From < s[j].From }) }

// minutes is the length of a shift where the clocks are not changed.
func (s Shift) minutes() int {
	n := int(s.To) - int(s.From)
	if n <= 0 {
		n += 1440
	}
	return n
}

// Location is the place whose clocks the shifts go by; UTC for a nil calendar.
func (c *Calendar) Location() *time.Location {
	if c == nil || c.loc == nil {
		return time.UTC
	}
	return c.loc
}

// Free says whether no shift begins on a day, and why: the name of the public holiday, the reason of the exception, or the day of the week.
func (c *Calendar) Free(d Date) (why string, free bool) {
	if c == nil {
		return "", false
	}
	if e, ok := c.exceptions[d]; ok {
		return e.Why, len(e.Shifts) == 0
	}
	if name, ok := c.holidays.On(d); ok {
		return name, true
	}
	if len(c.week[d.Weekday()]) == 0 {
		return d.Weekday().String(), true
	}
	return "", false
}

// shifts are those that begin on a day.
func (c *Calendar) shifts(d Date) []Shift {
	if e, ok := c.exceptions[d]; ok {
		return e.Shifts
	}
	if _, ok := c.holidays.On(d); ok {
		return nil
	}
	return c.week[d.Weekday()]
}

var (
	firstDay = Date{FirstYear, time.January, 1}.number()
	lastDay  = Date{LastYear, time.December, 31}.number()
)

// day appends the working time that begins on a day to spans that end before it. Working time is never counted twice.
func (c *Calendar) day(spans []span, n int) []span {
	for _, s := range c.shifts(dateOfNumber(n)) {
		from := wallInstant(n, int(s.From), c.loc)
		to := wallInstant(n, int(s.From)+s.minutes(), c.loc)
		var done int64
		if k := len(spans) - 1; k >= 0 {
			from = max(from, spans[k].to)
			done = spans[k].done + spans[k].to - spans[k].from
		}
		if to > from {
			spans = append(spans, span{from, to, done})
		}
	}
	return spans
}

// chunk is how many days are worked out at a time.
const chunk = 120

// later works out more days after those known; false at the end of the years.
func (c *Calendar) later() bool {
	if c.next > lastDay {
		return false
	}
	end := min(c.next+max(chunk, (c.next-c.first)/2), lastDay+1)
	for ; c.next < end; c.next++ {
		c.spans = c.day(c.spans, c.next)
	}
	return true
}

// earlier works out more days before those known; false at the beginning of the years. All known days are worked out
// anew, since a night shift may run into them.
func (c *Calendar) earlier() bool {
	if c.first <= firstDay {
		return false
	}
	next := c.next
	c.first = max(c.first-max(chunk, (c.next-c.first)/2), firstDay)
	c.spans, c.next = c.spans[:0], c.first
	for ; c.next < next; c.next++ {
		c.spans = c.day(c.spans, c.next)
	}
	return true
}

// reach makes sure that spans[i], the last one that begins at or before t, and its two neighbours on either side are known.
func (c *Calendar) reach(t int64) (i int, err error) {
	if c.loc == nil {
		return 0, fmt.Errorf("%w: the calendar was not made by NewCalendar", ErrNoWorkingTime)
	}
	at := int(t / 86400e9)
	if at < firstDay || at > lastDay {
		return 0, fmt.Errorf("%w: %s", ErrHorizon, time.Unix(0, t).UTC().Format(time.DateOnly))
	}
	if c.next == 0 {
		c.first, c.next = max(at-chunk/2, firstDay), max(at-chunk/2, firstDay)
	}
	for {
		i = sort.Search(len(c.spans), func(k int) bool { return c.spans[k].from > t }) - 1
		switch {
		case i < 2:
			if !c.earlier() {
				return 0, fmt.Errorf("%w: no working time before %s", ErrHorizon, time.Unix(0, t).In(c.loc).Format(time.DateOnly))
			}
		case i+3 > len(c.spans):
			if !c.later() {
				return 0, fmt.Errorf("%w: no working time after %s", ErrHorizon, time.Unix(0, t).In(c.loc).Format(time.DateOnly))
			}
		default:
			return i, nil
		}
	}
}

// worked is the working time up to t, which lies in or after span i, counted from an instant that changes when earlier days are worked out:
// two counts may be compared only if both instants were reached before.
func (c *Calendar) worked(t int64, i int) int64 {
	s := c.spans[i]
	return s.done + min(t, s.to) - s.from
}

// near asks pick for an instant beside t, given the spans and the one that reach finds. Round the clock it is t itself.
func (c *Calendar) near(t int64, pick func(spans []span, i int) int64) (int64, error) {
	if c == nil {
		return t, nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	i, err := c.reach(t)
	if err != nil {
		return 0, err
	}
	return pick(c.spans, i), nil
}

// startAt is the first instant at or after t at which work can begin.
func (c *Calendar) startAt(t int64) (int64, error) {
	return c.near(t, func(spans []span, i int) int64 {
		if t < spans[i].to {
			return t
		}
		return spans[i+1].from
	})
}

// openAt is the first instant at or after t that lies in working time, its end included: when something that takes no time can be done.
func (c *Calendar) openAt(t int64) (int64, error) {
	return c.near(t, func(spans []span, i int) int64 {
		if t <= spans[i].to {
			return t
		}
		return spans[i+1].from
	})
}

// openBefore is the last instant at or before t that lies in working time, its ends included.
func (c *Calendar) openBefore(t int64) (int64, error) {
	return c.near(t, func(spans []span, i int) int64 {
		return min(t, spans[i].to)
	})
}

// finishBefore is the last instant at or before t at which work can end.
func (c *Calendar) finishBefore(t int64) (int64, error) {
	return c.near(t, func(spans []span, i int) int64 {
		if t == spans[i].from {
			return spans[i-1].to
		}
		return min(t, spans[i].to)
	})
}

// startBefore is the last instant at or before t at which work can begin. Work cannot begin at the end of a shift, but a nanosecond before.
func (c *Calendar) startBefore(t int64) (int64, error) {
	return c.near(t, func(spans []span, i int) int64 {
		return min(t, spans[i].to-1)
	})
}

// shifted counts work of working time on from t, back if it is negative. The result is the first instant with that much working time
// before it, or the last one. For no work it is the first or last instant of the gap that t lies in, or t itself within working time.
func (c *Calendar) shifted(t, work int64, last bool) (int64, error) {
	if c == nil {
		u := t + work
		if day := u / 86400e9; int(day) < firstDay || int(day) > lastDay {
			return 0, fmt.Errorf("%w: %s after %s", ErrHorizon, time.Duration(work), time.Unix(0, t).UTC().Format(time.DateOnly))
		}
		return u, nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
again:
	i, err := c.reach(t)
	if err != nil {
		return 0, err
	}
	need := work + min(t, c.spans[i].to) - c.spans[i].from // counted from the beginning of span i
	for need < 0 || !last && need == 0 {
		if i < 2 { // the day before the first known may run into it
			if !c.earlier() {
				return 0, fmt.Errorf("%w: %s of working time before %s", ErrHorizon, time.Duration(-work), time.Unix(0, t).In(c.loc).Format(time.DateOnly))
			}
			goto again
		}
		i--
		need += c.spans[i].to - c.spans[i].from
	}
	for {
		for i+1 >= len(c.spans) {
			if !c.later() {
				return 0, fmt.Errorf("%w: %s of working time after %s", ErrHorizon, time.Duration(work), time.Unix(0, t).In(c.loc).Format(time.DateOnly))
			}
		}
		if long := c.spans[i].to - c.spans[i].from; need < long || !last && need == long {
			return c.spans[i].from + need, nil
		}
		need -= c.spans[i].to - c.spans[i].from
		i++
	}
}

// between is the working time from a to b, negative if b comes first.
func (c *Calendar) between(a, b int64) (int64, error) {
	if c == nil {
		return b - a, nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	i, err := c.reach(a)
	if err != nil {
		return 0, err
	}
	j, err := c.reach(b)
	if err != nil {
		return 0, err
	}
	if i, err = c.reach(a); err != nil { // again: the spans may have moved
		return 0, err
	}
	return c.worked(b, j) - c.worked(a, i), nil
}

func (c *Calendar) instant(t time.Time) (int64, error) {
	if y := t.Year(); y < FirstYear || y > LastYear {
		return 0, fmt.Errorf("%w: %s", ErrHorizon, t.Format(time.DateOnly))
	}
	return t.UnixNano(), nil
}

func (c *Calendar) moved(t time.Time, f func(int64) (int64, error)) (time.Time, error) {
	n, err := c.instant(t)
	if err != nil {
		return time.Time{}, err
	}
	if n, err = f(n); err != nil {
		return time.Time{}, err
	}
	loc := t.Location()
	if c != nil {
		loc = c.loc
	}
	return time.Unix(0, n).In(loc), nil
}

// Add counts working time on from t: the instant at which work that begins at t, or when work can next begin, is finished. For no work it is t.
// Negative work counts back, as [Calendar.Sub] does. An error means that the years of a calendar were left, or that there is no working time.
func (c *Calendar) Add(t time.Time, work time.Duration) (time.Time, error) {
	return c.moved(t, func(n int64) (int64, error) {
		switch {
		case work == 0:
			return n, nil
		case work < 0:
			return c.shifted(n, int64(work), true)
		}
		return c.shifted(n, int64(work), false)
	})
}

// Sub counts working time back from t: the last instant at which work may begin that must be finished by t.
func (c *Calendar) Sub(t time.Time, work time.Duration) (time.Time, error) { return c.Add(t, -work) }

// Next is the first instant at or after t at which work can begin.
func (c *Calendar) Next(t time.Time) (time.Time, error) { return c.moved(t, c.startAt) }

// Previous is the last instant at or before t at which work can end.
func (c *Calendar) Previous(t time.Time) (time.Time, error) { return c.moved(t, c.finishBefore) }

// Between is the working time from a to b; negative if b comes first.
func (c *Calendar) Between(a, b time.Time) (time.Duration, error) {
	x, err := c.instant(a)
	if err != nil {
		return 0, err
	}
	y, err := c.instant(b)
	if err != nil {
		return 0, err
	}
	w, err := c.between(x, y)
	return time.Duration(w), err
}

// Interval is a stretch of time; To does not belong to it.
type Interval struct{ From, To time.Time }

// Working lists the stretches of working time between two instants, in order. For a nil calendar it is the whole.
func (c *Calendar) Working(from, to time.Time) ([]Interval, error) {
	a, err := c.instant(from)
	if err != nil {
		return nil, err
	}
	b, err := c.instant(to)
	if err != nil || b <= a {
		return nil, err
	}
	if c == nil {
		return []Interval{{from, to}}, nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if _, err = c.reach(a); err != nil {
		return nil, err
	}
	if _, err = c.reach(b); err != nil {
		return nil, err
	}
	i, err := c.reach(a)
	if err != nil {
		return nil, err
	}
	var out []Interval
	for ; i < len(c.spans) && c.spans[i].from < b; i++ {
		f, t := max(a, c.spans[i].from), min(b, c.spans[i].to)
		if f < t {
			out = append(out, Interval{time.Unix(0, f).In(c.loc), time.Unix(0, t).In(c.loc)})
		}
	}
	return out, nil
}
