package rulebook

import (
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
)

// Method is one method of work: how one kind of item, face, or the job as a whole is made, step by step.
type Method struct {
	ID           string        `json:"id"`
	Title        string        `json:"title"`
	AppliesTo    string        `json:"applies_to"` // a kind of item, face, or job
	When         []Condition   `json:"when"`
	Instructions []MethodPaper `json:"instructions"`
	Steps        []*MethodStep `json:"steps"`
	Subject      string        `json:"-"` // what the file of methods is about
	Rulebook     string        `json:"-"`
	Kind         *measure.Kind `json:"-"`
	Pos          *jobfile.Node `json:"-"`
}

// MethodPaper is something written by a maker that has to be on site.
type MethodPaper struct {
	What string        `json:"what"` // with placeholders
	When []Condition   `json:"when"`
	Pos  *jobfile.Node `json:"-"`
}

// MethodStep is one action of a method. It belongs to one task of the programme.
type MethodStep struct {
	ID        string           `json:"id"`
	Task      string           `json:"task"` // a word of the job format's tasks
	When      []Condition      `json:"when"`
	Do        string           `json:"do"` // {measure} stands for the value of a measure of the subject, with its unit
	By        string           `json:"by"` // id of a trade
	Work      *MethodWork      `json:"work"`
	Tools     []MethodTool     `json:"tools"`
	Materials []MethodMaterial `json:"materials"`
	Cautions  []string         `json:"cautions"` // ids
	Point     *MethodPoint     `json:"point"`
	Record    *MethodRecord    `json:"record"`
	Source    Citation         `json:"source"`

	Rulebook string         `json:"-"` // that the step as it stands comes from
	Changes  []MethodChange `json:"-"` // what layers above have changed, in order
	Pos      *jobfile.Node  `json:"-"`
}

// Per is an amount for each unit of a measure.
type Per struct {
	Measure string        `json:"measure"`
	Amount  float64       `json:"amount"`
	Pos     *jobfile.Node `json:"-"`
}

// MethodWork is the attended working time of one person: a fixed part and parts that grow with a measure, in minutes.
type MethodWork struct {
	Min float64       `json:"min"`
	Per []Per         `json:"per"`
	Pos *jobfile.Node `json:"-"`
}

// MethodTool is a tool of a step.
type MethodTool struct {
	Tool string        `json:"tool"` // with placeholders
	Size string        `json:"size"` // a measure; empty for a tool without a size
	When []Condition   `json:"when"`
	Pos  *jobfile.Node `json:"-"`
}

// MethodMaterial is a material of a step: a fixed amount and amounts that grow with a measure.
type MethodMaterial struct {
	Material     string        `json:"material"` // with placeholders
	Unit         string        `json:"unit"`
	Amount       float64       `json:"amount"`
	Per          []Per         `json:"per"`
	WastePercent float64       `json:"waste_percent"`
	BuyBy        float64       `json:"buy_by"` // bought in multiples of this; 0 for what is usual with the unit
	When         []Condition   `json:"when"`
	Pos          *jobfile.Node `json:"-"`
}

// MethodPoint is an inspection at the end of a step.
type MethodPoint struct {
	Sort       string        `json:"sort"` // hold, witness, review
	Check      string        `json:"check"`
	ReleasedBy string        `json:"released_by"` // a trade or a person, in plain words
	Pos        *jobfile.Node `json:"-"`
}

// MethodRecord is a record that a step asks for, in the words of the job format's records.
type MethodRecord struct {
	Record string        `json:"record"`
	When   string        `json:"when"` // reel, laid, covered, handover: of a cable reading
	For    string        `json:"for"`  // of a signature
	What   string        `json:"what"` // in plain words, for people
	Pos    *jobfile.Node `json:"-"`
}

// Trade is somebody who does steps.
type Trade struct {
	ID       string        `json:"id"`
	Title    string        `json:"title"`
	Licensed bool          `json:"licensed"` // in many countries the law keeps the work to people with a licence
	Rulebook string        `json:"-"`
	Pos      *jobfile.Node `json:"-"`
}

// Sign is a safety sign.
type Sign struct {
	Code    string `json:"code"` // of ISO 7010
	Meaning string `json:"meaning"`
}

// Caution is a hazard and what to do about it.
type Caution struct {
	ID       string        `json:"id"`
	Title    string        `json:"title"`
	Text     string        `json:"text"`
	Signs    []Sign        `json:"signs"`
	Source   Citation      `json:"source"`
	Rulebook string        `json:"-"`
	Pos      *jobfile.Node `json:"-"`
}

// MethodLink ties two tasks beside the rows of the sequence.
type MethodLink struct {
	From     string        `json:"from"`
	To       string        `json:"to"`
	Sort     string        `json:"sort"` // FS, SS, FF, SF
	LagH     float64       `json:"lag_h"`
	Elapsed  bool          `json:"elapsed"` // the lag runs round the clock, not in working time
	Why      string        `json:"why"`
	Source   Citation      `json:"source"`
	Rulebook string        `json:"-"`
	Pos      *jobfile.Node `json:"-"`
}

// MethodAmendment is what a rulebook changes of a method of a layer below it.
type MethodAmendment struct {
	Method  string        `json:"method"`
	Step    string        `json:"step"`   // empty: the method as a whole, which can only be switched off
	What    string        `json:"change"` // off, replace, add
	After   string        `json:"after"`  // of add: the step behind which the new ones go; empty: behind the last
	Steps   []*MethodStep `json:"steps"`  // of replace and add
	Reason  string        `json:"reason"`
	Source  *Citation     `json:"source"`
	InForce *Period       `json:"in_force"`

	Rulebook string        `json:"-"`
	Pos      *jobfile.Node `json:"-"`
}

// MethodChange is what one layer has made of a step or a method.
type MethodChange struct {
	*MethodAmendment
	Before string // what the step said before
}

// MethodSet are the methods of rulebooks that are laid over one another.
type MethodSet struct {
	Methods  []*Method
	Cautions []*Caution
	Trades   []*Trade
	Links    []*MethodLink
	Sequence []*Rule        // the rows of the sequence on planned times: First, Then, WaitH, in order of id
	Changes  []MethodChange // what layers have changed, in order
}
