// Package programme makes the dated programme of one job: its tasks in the order that the rulebooks ask for, with the time that the methods of
// work or the job itself give them, cure times on the site as it is or is forecast, working hours and holidays, and the crew. Held against
// recorded times it forecasts anew and says what slipped and why.
//
// Nothing that is not known becomes a zero in silence: a task of unknown length is named in Missing, and the end is then no more than the earliest.
package programme

import (
	"time"

	"wetrule/lint/calc/geometry"
	cpm "wetrule/lint/calc/programme"
	"wetrule/lint/jobfile"
	"wetrule/lint/rulebook"
)

// Input is what a programme is made from.
type Input struct {
	File    *jobfile.File
	On      string              // day of judgement; that of the job when it is empty
	Start   string              // plan anew from this day: planned starts of the job do not hold; may be empty
	Rules   []*rulebook.Rule    // of the edition that applies
	Methods *rulebook.MethodSet // nil when the rulebooks hold none
	Zones   []geometry.ZoneSet
	Books   []rulebook.Manifest // for the head
}

// Programme is a job in dates.
type Programme struct {
	File, Reference, Title string
	On                     string // day of judgement
	Books                  []rulebook.Manifest
	Zone                   *time.Location
	Start                  time.Time // nothing that is not recorded begins before
	Recorded               bool      // some task has recorded times
	AsOf                   time.Time // what is not recorded lies after; zero when nothing is recorded
	Tasks                  []Task    // in order of early start
	Links                  []Link    // between tasks, by index
	Points                 []Point   // inspections, in order of time
	Cures                  []CureEnd // in order of time
	End                    time.Time // when the last task that has dates is finished
	Whole                  bool      // every task has dates and a length that is known; else the end is the earliest that can be
	FirstSteam             time.Time // when steam may first be raised; zero when the job has none or it has no date
	Slips                  []Slip
	Missing                []Missing
	Stops                  []string // why some tasks have no date
	Assumptions, Cautions  []string
	Calendar               *cpm.Calendar
}

// State says how far a task is by its recorded times.
type State string

// The states.
const (
	ToDo  State = "to_do"
	Begun State = "begun"
	Done  State = "done"
)

// Basis says where the time that a task takes comes from.
type Basis string

// The bases.
const (
	ByRecord  Basis = "recorded" // both ends are recorded
	ByPlan    Basis = "planned"  // the job's planned times
	ByMethods Basis = "methods"  // the productivity of the methods of work
	Unknown   Basis = "unknown"  // some of it is not known
)

// Task is one task with its dates.
type Task struct {
	ID       string // as in the measures: word of the job format and number, "tile_1"
	Name     string // word of the job format
	Label    string // for people, with what it is for
	Items    []string
	Faces    []string
	By       []string // trades, or what the job says
	InJob    int      // place in the job's list of tasks; -1 when it was generated
	State    State
	Basis    Basis
	Minutes  float64       // attended work; with Basis Unknown the part that is known
	Stands   time.Duration // time round the clock after the work or, without any, in its place
	Needs    []string      // job fields to fill in, with Basis Unknown
	Planned  Times
	Recorded Times

	Dated                   bool
	EarlyStart, EarlyFinish time.Time
	LateStart, LateFinish   time.Time
	TotalFloat, FreeFloat   time.Duration // working time; of what runs by itself, time round the clock
	Critical                bool
	Why                     string // what sets its start, in plain words
	Driver                  int    // the link that sets its start, -1 if none does
	parts                   []part
	order                   int // place among all tasks before they were sorted
}

// Times are a start and a finish; a time that is not given is zero.
type Times struct{ Start, Finish time.Time }

// Link ties two tasks.
type Link struct {
	From, To int // places in Tasks
	Kind     cpm.Kind
	Lag      time.Duration
	Elapsed  bool     // the lag runs round the clock
	Rules    []string // ids of the rows, or none for a link of the methods
	Why      string
	Resource string // a wait for somebody of a trade; then there are no rules
	Cure     *Cure
}

// Cure is a wait for something to cure.
type Cure struct {
	Product            string  // kind of product; empty while it is not known
	SheetH             float64 // hours that are asked for at ReferenceC, by the data sheet or in its place by the rule
	Given              bool    // by the data sheet
	ReferenceC         float64
	SiteMinC, SiteMaxC float64 // that it cures at
	NeededH            float64 // hours on this site
	RuleH              float64 // hours that the rules ask for whatever the weather
	Assumed            bool    // no temperature is given for the site; that of the data sheet is taken
}

// CureEnd is when something has cured.
type CureEnd struct {
	Task int // place in Tasks
	At   time.Time
	For  []int  // tasks that may begin then, by place
	What string // what has cured
	Text string
}

// Point is an inspection.
type Point struct {
	Sort, Letter      string // hold, witness, review; H, W, R
	Task              int    // place in Tasks; it comes at its end
	At                time.Time
	Dated             bool
	Check, ReleasedBy string
	Subjects          []string // items, faces or circuits that it is of
}

// Slip is a task that does not go as the job plans it.
type Slip struct {
	Task          int
	Start, Finish time.Duration // by how much; negative when it is earlier
	Text          string
}

// Missing is a fact without which a time is not known.
type Missing struct {
	Task   int
	Fields []string // of the job, to fill in
	Text   string
}

// part is one activity of a task.
type part struct {
	id       string
	work     time.Duration
	clock    bool // round the clock
	resource string
}
