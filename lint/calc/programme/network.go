// Package programme works out when the activities of a job can be done: the critical path method with four kinds of links, working
// calendars, waits that run round the clock, resources, and dates that are recorded or fixed.
//
// Formulas: C. Hendrickson, Project Management for Construction, chapter 10 (read). Cures run round the clock, work only in its shifts
// (scheduling texts, read). Levelling is serial, by late start (common practice).
package programme

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Errors that can be told apart with errors.Is.
var (
	// ErrInput: an input that makes no sense by itself.
	ErrInput = errors.New("programme: not possible")
	// ErrNoWorkingTime: a calendar in which nobody ever works.
	ErrNoWorkingTime = errors.New("programme: no working time")
	// ErrHorizon: a date outside the years FirstYear to LastYear.
	ErrHorizon = errors.New("programme: outside the years that are reckoned")
	// ErrUnknownRegion: a country or region without a list of public holidays.
	ErrUnknownRegion = errors.New("programme: no public holidays known")
)

// Limits of a network.
const (
	MaxActivities = 2000
	MaxLinks      = 20000
	MaxWork       = 10 * 365 * 24 * time.Hour // of an activity or of a lag either way
)

// Kind says which ends of two activities a link ties.
type Kind uint8

// Kinds of links: the successor may start, or finish, a lag after the predecessor starts, or finishes.
const (
	FS Kind = iota // finish to start
	SS             // start to start
	FF             // finish to finish
	SF             // start to finish
)

var kinds = [...]string{"FS", "SS", "FF", "SF"}

func (k Kind) String() string {
	if int(k) < len(kinds) {
		return kinds[k]
	}
	return fmt.Sprintf("Kind(%d)", uint8(k))
}

// ParseKind reads FS, SS, FF or SF.
func ParseKind(s string) (Kind, bool) {
	for i, k := range kinds {
		if s == k {
			return Kind(i), true
		}
	}
	return 0, false
}

// Link ties two activities.
type Link struct {
	From, To string
	Kind     Kind
	Lag      time.Duration // negative: a lead
	Elapsed  bool          // the lag runs round the clock, as a cure does; else in the working time of the successor's calendar

	// Resource is set on the links of a [Schedule] that levelling added: To waits for From to set free this resource.
	Resource string
}

// Activity is a piece of work, a wait, or, without any work, a point in time.
type Activity struct {
	ID       string
	Work     time.Duration // working time of its calendar; nothing interrupts it but free time
	Calendar *Calendar     // nil: round the clock
	Resource string        // what it occupies one of from start to finish; "" for nothing

	NotBefore time.Time // earliest start; zero if none
	NotLater  time.Time // latest finish; it delays nothing, but makes floats negative when it can't be kept

	// Recorded instants; zero if not recorded. They hold whatever the links say, and need not lie in working time.
	// Without a recorded finish, the work left is that which does not fit between the start and [Network.AsOf], at least none.
	Start, Finish time.Time
}

// Network is what is to be done.
type Network struct {
	Start      time.Time // nothing that is not recorded begins before
	AsOf       time.Time // what is not recorded lies after; zero if nothing has been recorded
	Activities []Activity
	Links      []Link
	Resources  map[string]int // how many there are of each resource
}

// Cause says what sets the start of an activity.
type Cause uint8

// Causes.
const (
	ByStart     Cause = iota // the start of the programme
	ByAsOf                   // the date up to which work is recorded
	ByNotBefore              // its own earliest start
	ByRecord                 // it has been started
	ByLink                   // a link
	ByResource               // the resource is busy until then
)

var causes = [...]string{"start", "as of", "not before", "record", "link", "resource"}

func (c Cause) String() string {
	if int(c) < len(causes) {
		return causes[c]
	}
	return fmt.Sprintf("Cause(%d)", uint8(c))
}

// Driver is what an activity waited for longest.
type Driver struct {
	By   Cause
	From string // the activity waited for, if any
	Link int    // index into [Schedule.Links], -1 if none
	// Ready is the instant that the cause allows: for links to the start and all else the earliest start; for links to the finish the earliest finish.
	Ready time.Time
	// Calendar: then it had to wait on for working time.
	Calendar bool
}

// Dates are the results of one activity. Times are in the location of its calendar, or that of the network's start.
type Dates struct {
	ID                      string
	EarlyStart, EarlyFinish time.Time
	LateStart, LateFinish   time.Time
	TotalFloat, FreeFloat   time.Duration // working time of its own calendar
	Critical                bool          // no total float left, and not finished
	Started, Finished       bool          // by record
	Driver                  Driver
}

// Schedule is a network with dates.
type Schedule struct {
	Dates []Dates   // in the order of the activities
	Links []Link    // those given, in their order, and the waits for resources
	End   time.Time // when everything is finished
	// Path leads to the end: each activity is driven by the one before. Unlike Critical it includes waits that end in free time.
	Path []string

	index map[string]int
}

// Of finds the dates of an activity.
func (s *Schedule) Of(id string) (Dates, bool) {
	i, ok := s.index[id]
	if !ok {
		return Dates{}, false
	}
	return s.Dates[i], true
}

// CycleError: activities that wait for one another.
type CycleError struct {
	IDs []string // each waits for the one before it, the first for the last
}

func (e *CycleError) Error() string {
	return "programme: a ring of links: " + strings.Join(e.IDs, " → ") + " → " + e.IDs[0]
}
