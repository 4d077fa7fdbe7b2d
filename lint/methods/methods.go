// Package methods makes the plan of the work for one job out of methods of work: the steps with the job's figures, tools and
// materials, inspections and records.
//
// A figure that the job does not give never becomes a zero: what depends on it is not Known, and Needs names the job fields to fill in.
package methods

import "wetrule/lint/rulebook"

// Plan is the work of one job. Steps are in the order in which they are done; all other lists refer to them by index.
type Plan struct {
	Steps        []Step
	Tasks        []Task
	Tools        []Tool
	Materials    []Material
	Cautions     []Caution
	Instructions []Instruction
	Points       []Point
	Records      []RecordDue
	Missing      []Missing
	Links        []*rulebook.MethodLink // between tasks of the plan, beside the rows of the sequence
	Sequence     []*rulebook.Rule       // rows of the sequence on planned times
	Changes      []rulebook.MethodChange
}

// Step is one action on one subject.
type Step struct {
	ID       string // method.step, and the subject behind a colon: "heating-cable.cut-grooves:heat"
	Method   string // id
	Step     string // id within the method
	Title    string // of the method
	Task     string // task word of the job format
	Kind     string // kind of the subject: a kind of item, face, job
	Subject  string // id of the item or face, "" for the job
	Face     string // face that the work is on, "" where it is on none
	Text     string // what to do, with the job's figures; a figure that is not given is shown as its job field in brackets
	By       string // trade
	ByTitle  string // the trade in plain words
	Licensed bool   // the law of many countries keeps the work to people with a licence

	Minutes      float64  // attended work of one person; what is known of it
	MinutesKnown bool     // false: more may be needed
	StandsH      float64  // hours round the clock in which it goes on without anybody
	StandsKnown  bool     // false: it may take longer
	Known        bool     // all that the step stands on is given: whether it arises, its figures, minutes, tools, materials
	Needs        []string // job fields to fill in otherwise: "heat.groove_width_mm" for those of an item, "/room/benches" for others
	Unsure       bool     // the job does not say enough to tell whether the step arises at all

	Tools     []int // into Plan.Tools
	Materials []Use
	Cautions  []string   // ids
	Point     *Point     // inspection at the end of the step
	Record    *RecordDue // record to take
	Source    rulebook.Citation
	Changes   []rulebook.MethodChange // what rulebooks have changed of the step
}

// Use is the share of one material that a step takes.
type Use struct {
	Material int     // into Plan.Materials
	Net      float64 // in the unit of the material
	Exact    float64 // with waste
	Known    bool
}

// Task is all the work of one task word by one trade. Tasks of one word belong together: what waits for the word waits for all of them.
type Task struct {
	Name     string   // task word of the job format
	By       string   // trade
	Items    []string // ids of the items that it is for, in the order of the job
	Faces    []string // ids of the faces that it is on, in the order of the room
	Minutes  float64  // sum over the steps
	Known    bool     // all minutes are known; false: more may be needed
	StandsH  float64  // longest time that something stands, over what it is done for
	Steps    []int    // into Plan.Steps
	Licensed bool
}

// Tool is one tool, named once however many steps use it.
type Tool struct {
	Name   string
	Size   float64 // 0 for a tool without a size
	Unit   string  // of the size
	Known  bool    // its size and whether it is needed are known
	Needs  []string
	Listed *bool // whether the job's list of tools has it; nil for tools that the job format does not list
	Steps  []int // into Plan.Steps
}

// Material is one material, added up over all steps.
type Material struct {
	Name   string
	Unit   string
	Net    float64 // without waste
	Exact  float64 // with waste
	Buy    float64 // rounded up to what is bought
	Known  bool    // false: more is needed than the figures say, by what Needs names
	Needs  []string
	Parts  []Part
	Source []rulebook.Citation // where the consumption comes from, without repeats
}

// Part is one term of a material's sum.
type Part struct {
	Step         int     // into Plan.Steps
	Net, Exact   float64 // in the material's unit
	WastePercent float64
	Working      string // "1.6 × 3.024 l", for people who check
	Known        bool
	Needs        []string
}

// Caution is a hazard of the plan.
type Caution struct {
	ID, Title, Text string
	Signs           []rulebook.Sign
	Source          rulebook.Citation
	Steps           []int // into Plan.Steps
}

// Instruction is something written by a maker that has to be on site.
type Instruction struct {
	Subject string // id of the item or face, "" for the job
	Kind    string
	What    string
	Product string // what the job says that it is, "" when it says nothing
	OnSite  *bool  // what the job says of it; nil when it says nothing
	Known   bool
	Needs   []string
}

// Point is an inspection.
type Point struct {
	Sort       string // hold, witness, review
	Letter     string // H, W, R
	Check      string // what is checked, with the job's figures
	ReleasedBy string
	Step       int // into Plan.Steps
	Task       string
	Subject    string
	Face       string
	Known      bool
	Needs      []string
}

// RecordDue is a record that has to be taken.
type RecordDue struct {
	Record string // word of the job format's records
	When   string // of a cable reading
	For    string // of a signature
	What   string // in plain words
	Item   string // of records that name an item
	Face   string // of records that name a face
	Taken  []int  // records of the job that answer it, by index; empty when it is still to be taken
	Step   int    // into Plan.Steps
	Task   string
}

// Missing is a job field that the plan lacks.
type Missing struct {
	Field string // as in Step.Needs
	Steps []int  // into Plan.Steps: what stands on it
}
