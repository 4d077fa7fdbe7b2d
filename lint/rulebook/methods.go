package rulebook

import (
	"cmp"
	"fmt"
	"slices"
	"sort"
	"strings"
	"sync"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/schema"
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
	ID         string           `json:"id"`
	Task       string           `json:"task"` // a word of the job format's tasks
	When       []Condition      `json:"when"`
	Do         string           `json:"do"` // {measure} stands for the value of a measure of the subject, with its unit
	By         string           `json:"by"` // id of a trade
	Work       *MethodWork      `json:"work"`
	Stands     *MethodStands    `json:"stands"`
	Tools      []MethodTool     `json:"tools"`
	Materials  []MethodMaterial `json:"materials"`
	Cautions   []string         `json:"cautions"` // ids
	CautionsIf []MethodCaution  `json:"cautions_when"`
	Point      *MethodPoint     `json:"point"`
	Record     *MethodRecord    `json:"record"`
	Source     Citation         `json:"source"`

	Rulebook string         `json:"-"` // that the step as it stands comes from
	Changes  []MethodChange `json:"-"` // what layers above have changed, in order
	Pos      *jobfile.Node  `json:"-"`
}

// Per is an amount for each unit of a measure.
type Per struct {
	Measure string        `json:"measure"`
	Amount  float64       `json:"amount"` // of materials; minutes of work, hours of standing
	Min     float64       `json:"min"`    // as written for work
	H       float64       `json:"h"`      // as written for standing
	Pos     *jobfile.Node `json:"-"`
}

// MethodWork is the attended working time of one person: a fixed part and parts that grow with a measure, in minutes.
type MethodWork struct {
	Min float64       `json:"min"`
	Per []Per         `json:"per"`
	Pos *jobfile.Node `json:"-"`
}

// MethodStands is time that a step takes round the clock without anybody's work, such as water that stands for a test.
type MethodStands struct {
	H   float64       `json:"h"`
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

// MethodCaution is a caution that holds under conditions.
type MethodCaution struct {
	Caution string        `json:"caution"` // id
	When    []Condition   `json:"when"`
	Pos     *jobfile.Node `json:"-"`
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
	Step    string        `json:"step"`   // of add: the step behind which the new ones go; empty: the method as a whole, or behind the last step
	What    string        `json:"change"` // off, replace, add
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

// String says the change in one line.
func (c MethodChange) String() string {
	what := "the method " + c.Method
	if c.Step != "" {
		what = "the step " + c.Step + " of the method " + c.Method
	}
	var s string
	switch c.What {
	case "off":
		s = what + " is left out by " + c.Rulebook
	case "replace":
		s = what + " is replaced by " + c.Rulebook + ", before: " + strings.TrimSuffix(c.Before, ".")
	default:
		s = count(len(c.Steps), "step") + " added by " + c.Rulebook + " to " + what
	}
	s += "; " + c.Reason
	if c.Source != nil {
		s += " [" + c.Source.String() + "]"
	}
	return s
}

func count(n int, what string) string {
	if n == 1 {
		return "one " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// MethodSet are the methods of rulebooks that are laid over one another.
type MethodSet struct {
	Methods  []*Method
	Cautions []*Caution
	Trades   []*Trade
	Links    []*MethodLink
	Sequence []*Rule        // the rows of the sequence on planned times: First, Then, WaitH, in order of id
	Changes  []MethodChange // what layers have changed, in order
	NotTasks []*UnusedTask  // tasks of the job format without steps, and why
}

// methodsPart is what the files in methods/ of one rulebook hold.
type methodsPart struct {
	Methods    []*Method          `json:"methods"`
	Cautions   []*Caution         `json:"cautions"`
	Trades     []*Trade           `json:"trades"`
	Links      []*MethodLink      `json:"links"`
	Amendments []*MethodAmendment `json:"method_amendments"`

	NotTasks []*UnusedTask `json:"tasks_without_steps"`
}

// UnusedTask is a task of the job format that no step belongs to, and why.
type UnusedTask struct {
	Task string        `json:"task"`
	Why  string        `json:"why"`
	Pos  *jobfile.Node `json:"-"`
}

type methodsFile struct {
	Subject string `json:"subject"`
	methodsPart
}

// JobWords are words of the job format that methods of work use.
type JobWords struct {
	Tasks, Records, Readings []string
}

// Words returns the words of the job format: tasks, records, and the times of a cable reading.
var Words = sync.OnceValue(func() (w JobWords) {
	root, err := jobfile.Read("job.schema.json", schema.Bytes("job.schema.json"))
	if err != nil {
		panic(err) // embedded, so always readable
	}
	list := func(n *jobfile.Node) (out []string) {
		if n == nil {
			panic("rulebook: the job format has no list of words")
		}
		for _, x := range n.Items() {
			out = append(out, x.Text)
		}
		return out
	}
	defs := root.Get("$defs")
	w.Tasks = list(defs.Get("task").Get("properties").Get("task").Get("enum"))
	for _, m := range defs.Get("record").Get("x-kinds").Get("schemas").Members() {
		w.Records = append(w.Records, m.Key)
	}
	w.Readings = list(defs.Get("record_cable_reading").Get("properties").Get("when").Get("enum"))
	sort.Strings(w.Records)
	return w
})

// MethodKinds are the kinds that a method of work can be for.
func MethodKinds() []string {
	return append(slices.Clone(measure.ItemKinds), "circuit", "face", "job")
}

// readMethods reads the files in methods/ once, when somebody asks for the first time.
func (b *Rulebook) readMethods() (*methodsPart, error) {
	b.methodsOnce.Do(func() { b.methods, b.methodsErr = b.openMethods() })
	return b.methods, b.methodsErr
}

func (b *Rulebook) openMethods() (*methodsPart, error) {
	names, err := b.list("methods", ".yaml")
	if err != nil {
		return nil, err
	}
	problems := b.unread("methods")
	sources := map[string]*Source{}
	for _, s := range b.Sources {
		sources[s.ID] = s
	}
	all := &methodsPart{}
	for _, name := range names {
		var f methodsFile
		if err := b.readFile(name, "methods.schema.json", &f); err != nil {
			ps, ok := err.(jobfile.Problems)
			if !ok {
				return nil, err
			}
			problems = append(problems, ps...)
			continue
		}
		for _, m := range f.Methods {
			m.Subject, m.Rulebook = f.Subject, b.Name
			problems = append(problems, m.resolve(b.Name, sources)...)
		}
		for _, c := range f.Cautions {
			c.Rulebook = b.Name
			problems = append(problems, c.Source.resolve(sources)...)
		}
		for _, t := range f.Trades {
			t.Rulebook = b.Name
		}
		for _, l := range f.Links {
			l.Rulebook = b.Name
			problems = append(problems, l.Source.resolve(sources)...)
			problems = append(problems, knownWord("task", l.From, Words().Tasks, l.Pos.Get("from"))...)
			problems = append(problems, knownWord("task", l.To, Words().Tasks, l.Pos.Get("to"))...)
			if l.From == l.To {
				problems = append(problems, problem(l.Pos.Get("to"), "the task %q cannot be linked to itself", l.To))
			}
		}
		for _, a := range f.Amendments {
			problems = append(problems, a.resolve(b.Name, sources)...)
		}
		for _, n := range f.NotTasks {
			problems = append(problems, knownWord("task", n.Task, Words().Tasks, n.Pos.Get("task"))...)
		}
		all.Methods = append(all.Methods, f.Methods...)
		all.Cautions = append(all.Cautions, f.Cautions...)
		all.Trades = append(all.Trades, f.Trades...)
		all.Links = append(all.Links, f.Links...)
		all.Amendments = append(all.Amendments, f.Amendments...)
		all.NotTasks = append(all.NotTasks, f.NotTasks...)
	}
	if len(problems) > 0 {
		problems.Sort()
		return nil, slices.Compact(problems)
	}
	return all, nil
}

func knownWord(what, word string, words []string, at *jobfile.Node) jobfile.Problems {
	if slices.Contains(words, word) {
		return nil
	}
	return jobfile.Problems{problem(at, "unknown %s %q%s", what, word, didYouMean(word, words))}
}

func (m *Method) resolve(book string, sources map[string]*Source) (ps jobfile.Problems) {
	if m.Kind = measure.Lookup(m.AppliesTo); m.Kind == nil || !slices.Contains(MethodKinds(), m.AppliesTo) {
		return jobfile.Problems{problem(m.Pos.Get("applies_to"), "a method is for a kind of item, circuit, face or job, not for %q%s", m.AppliesTo, didYouMean(m.AppliesTo, MethodKinds()))}
	}
	for i := range m.When {
		m.When[i].Is = scalars(m.When[i].IsNodes)
	}
	ps = append(ps, methodConditions(m.Kind, m.When)...)
	for i := range m.Instructions {
		p := &m.Instructions[i]
		for k := range p.When {
			p.When[k].Is = scalars(p.When[k].IsNodes)
		}
		ps = append(ps, placeholders(m.Kind, p.What, p.Pos.Get("what"))...)
		ps = append(ps, methodConditions(m.Kind, p.When)...)
	}
	for _, s := range m.Steps {
		ps = append(ps, s.link(book, sources)...)
		ps = append(ps, s.check(m.Kind)...)
	}
	return ps
}

// link ties a step as read to its source and its rulebook.
func (s *MethodStep) link(book string, sources map[string]*Source) jobfile.Problems {
	s.Rulebook = book
	listed := func(when []Condition) {
		for i := range when {
			when[i].Is = scalars(when[i].IsNodes)
		}
	}
	listed(s.When)
	for i := range s.Tools {
		listed(s.Tools[i].When)
	}
	for i := range s.Materials {
		listed(s.Materials[i].When)
	}
	for i := range s.CautionsIf {
		listed(s.CautionsIf[i].When)
	}
	if s.Work != nil {
		for i := range s.Work.Per {
			s.Work.Per[i].Amount = s.Work.Per[i].Min
		}
	}
	if s.Stands != nil {
		for i := range s.Stands.Per {
			s.Stands.Per[i].Amount = s.Stands.Per[i].H
		}
	}
	return s.Source.resolve(sources)
}

// check holds a step against the measures of the kind that its method is for. It changes nothing: steps of amendments are checked each time
// that rulebooks are laid over one another.
func (s *MethodStep) check(k *measure.Kind) (ps jobfile.Problems) {
	ps = append(ps, knownWord("task", s.Task, Words().Tasks, s.Pos.Get("task"))...)
	ps = append(ps, methodConditions(k, s.When)...)
	ps = append(ps, placeholders(k, s.Do, s.Pos.Get("do"))...)
	if s.Work != nil {
		for i := range s.Work.Per {
			p := &s.Work.Per[i]
			ps = append(ps, methodMeasure(k, p.Measure, p.Pos.Get("measure"), measure.Number)...)
		}
	}
	if s.Stands != nil {
		for i := range s.Stands.Per {
			p := &s.Stands.Per[i]
			ps = append(ps, methodMeasure(k, p.Measure, p.Pos.Get("measure"), measure.Number)...)
		}
	}
	for i := range s.Tools {
		t := &s.Tools[i]
		ps = append(ps, placeholders(k, t.Tool, t.Pos.Get("tool"))...)
		ps = append(ps, methodConditions(k, t.When)...)
		if t.Size != "" {
			ps = append(ps, methodMeasure(k, t.Size, t.Pos.Get("size"), measure.Number, measure.Texts)...)
			if d := k.Quantity(t.Size); d != nil && d.Unit == "" {
				ps = append(ps, problem(t.Pos.Get("size"), "%s has no unit and is no size", t.Size))
			}
		}
	}
	for i := range s.Materials {
		m := &s.Materials[i]
		ps = append(ps, placeholders(k, m.Material, m.Pos.Get("material"))...)
		ps = append(ps, methodConditions(k, m.When)...)
		for j := range m.Per {
			ps = append(ps, methodMeasure(k, m.Per[j].Measure, m.Per[j].Pos.Get("measure"), measure.Number)...)
		}
		if m.Amount == 0 && len(m.Per) == 0 {
			ps = append(ps, problem(m.Pos, "the material has no quantity: give amount or per"))
		}
	}
	for i := range s.CautionsIf {
		ps = append(ps, methodConditions(k, s.CautionsIf[i].When)...)
	}
	if s.Point != nil {
		ps = append(ps, placeholders(k, s.Point.Check, s.Point.Pos.Get("check"))...)
	}
	if r := s.Record; r != nil {
		ps = append(ps, knownWord("record", r.Record, Words().Records, r.Pos.Get("record"))...)
		ps = append(ps, placeholders(k, r.What, r.Pos.Get("what"))...)
		switch {
		case r.Record == "cable_reading" && r.When == "":
			ps = append(ps, problem(r.Pos, "a cable reading says when: one of %s", strings.Join(Words().Readings, ", ")))
		case r.Record == "cable_reading":
			ps = append(ps, knownWord("time of a cable reading", r.When, Words().Readings, r.Pos.Get("when"))...)
		case r.When != "":
			ps = append(ps, problem(r.Pos.Get("when"), "only a cable reading says when"))
		}
		if (r.Record == "signature") != (r.For != "") {
			ps = append(ps, problem(r.Pos, "a signature says what it is for, and nothing else does"))
		}
	}
	return ps
}

// methodMeasure sees that a measure is one of the kind, and of a type that can be used here.
func methodMeasure(k *measure.Kind, name string, at *jobfile.Node, types ...measure.Type) jobfile.Problems {
	d := k.Quantity(name)
	switch {
	case d == nil:
		return jobfile.Problems{problem(at, "%s has no measure %q%s", k.Name, name, didYouMean(name, k.QuantityNames()))}
	case len(types) > 0 && !slices.Contains(types, d.Type):
		return jobfile.Problems{problem(at, "%s is %s and gives no quantity", name, d.Type)}
	}
	return nil
}

func methodConditions(k *measure.Kind, when []Condition) (ps jobfile.Problems) {
	for i := range when {
		c := &when[i]
		ps = append(ps, methodMeasure(k, c.Measure, c.Pos.Get("measure"))...)
		d := k.Quantity(c.Measure)
		switch {
		case d == nil:
		case len(c.Is) == 0 && c.AtLeast == nil && c.AtMost == nil:
			ps = append(ps, problem(c.Pos, "the condition says nothing: give is, at_least or at_most"))
		case len(c.Is) > 0 && (c.AtLeast != nil || c.AtMost != nil):
			ps = append(ps, problem(c.Pos, "give either a list of values or limits, not both"))
		case len(c.Is) > 0:
			checkValues(d, c.IsNodes, &ps)
		case d.Type != measure.Number:
			ps = append(ps, problem(c.Pos, "%s is no number and cannot be compared with one", c.Measure))
		}
	}
	return ps
}

// SubjectPlaceholder stands for the id of the subject.
const SubjectPlaceholder = "id"

// Piece is a part of a text with placeholders: plain text, or the name of a measure.
type Piece struct {
	Text, Measure string
}

// Pieces takes a text with placeholders apart. ok is false when a brace has no partner.
func Pieces(text string) (out []Piece, ok bool) {
	for text != "" {
		i := strings.IndexAny(text, "{}")
		if i < 0 {
			return append(out, Piece{Text: text}), true
		}
		if i > 0 {
			out = append(out, Piece{Text: text[:i]})
		}
		if text[i] == '}' {
			return nil, false
		}
		j := strings.IndexAny(text[i+1:], "{}")
		if j <= 0 || text[i+1+j] != '}' {
			return nil, false
		}
		out = append(out, Piece{Measure: text[i+1 : i+1+j]})
		text = text[i+j+2:]
	}
	return out, true
}

func placeholders(k *measure.Kind, text string, at *jobfile.Node) (ps jobfile.Problems) {
	pieces, ok := Pieces(text)
	if !ok {
		return jobfile.Problems{problem(at, "a placeholder is {measure}; a brace has no partner")}
	}
	for _, p := range pieces {
		if p.Measure != "" && p.Measure != SubjectPlaceholder {
			ps = append(ps, methodMeasure(k, p.Measure, at)...)
		}
	}
	return ps
}

func (a *MethodAmendment) resolve(book string, sources map[string]*Source) (ps jobfile.Problems) {
	a.Rulebook = book
	if a.Source != nil {
		ps = append(ps, a.Source.resolve(sources)...)
	}
	for _, s := range a.Steps {
		ps = append(ps, s.link(book, sources)...)
	}
	at := a.Pos.Get("change")
	switch {
	case a.What == "off" && len(a.Steps) > 0:
		ps = append(ps, problem(a.Pos.Get("steps"), "steps go with replace and add, not with off"))
	case a.What != "off" && len(a.Steps) == 0:
		ps = append(ps, problem(at, "to %s give the steps", a.What))
	case a.What == "replace" && a.Step == "":
		ps = append(ps, problem(at, "to replace name the step; to replace a method leave it out and give another"))
	}
	if p := a.InForce; p != nil && p.From != "" && p.Until != "" && p.Until <= p.From {
		ps = append(ps, problem(a.Pos.Get("in_force"), "the amendment is never in force: it ends on %s and begins on %s", p.Until, p.From))
	}
	return ps
}

// Methods lays the methods of work of the rulebooks over one another, in the edition of a day. They are read when they are asked for; a
// review does not. The error is jobfile.Problems when the rulebooks are at fault.
func (l *Layers) Methods(day string) (*MethodSet, error) {
	set := &MethodSet{}
	var problems jobfile.Problems
	taken := map[string]string{}
	own := func(what, id, book string, at *jobfile.Node) bool {
		key := what + " " + id
		if other, twice := taken[key]; twice {
			problems = append(problems, problem(at, "%s %q is in the rulebook %s already", what, id, other))
			return false
		}
		taken[key] = book
		return true
	}
	for _, b := range l.Books {
		part, err := b.readMethods()
		if err != nil {
			ps, ok := err.(jobfile.Problems)
			if !ok {
				return nil, err
			}
			problems = append(problems, ps...)
			continue
		}
		for _, a := range part.Amendments {
			if a.InForce == nil || a.InForce.Contains(day) {
				problems = append(problems, set.amend(a)...)
			}
		}
		for _, m := range part.Methods {
			if !own("method", m.ID, b.Name, m.Pos.Get("id")) {
				continue
			}
			c := *m // amendments change the copy
			c.Steps = nil
			seen := map[string]bool{}
			for _, s := range m.Steps {
				if seen[s.ID] {
					problems = append(problems, problem(s.Pos.Get("id"), "step %q is given twice in the method %s", s.ID, m.ID))
				}
				seen[s.ID] = true
				c.Steps = append(c.Steps, s)
			}
			set.Methods = append(set.Methods, &c)
		}
		for _, c := range part.Cautions {
			if own("caution", c.ID, b.Name, c.Pos.Get("id")) {
				set.Cautions = append(set.Cautions, c)
			}
		}
		for _, t := range part.Trades {
			if own("trade", t.ID, b.Name, t.Pos.Get("id")) {
				set.Trades = append(set.Trades, t)
			}
		}
		set.Links = append(set.Links, part.Links...)
		set.NotTasks = append(set.NotTasks, part.NotTasks...)
	}
	problems = append(problems, set.refer()...)
	if len(problems) > 0 {
		problems.Sort()
		return nil, slices.Compact(problems)
	}
	for _, r := range l.At(day) {
		if r.First != "" && r.Allowed != nil && !strings.HasPrefix(r.Measure, "actual_") && (r.InForce == nil || r.InForce.Contains(day)) {
			c := *r
			if r.Allowed.AtLeast != nil {
				c.WaitH = *r.Allowed.AtLeast // as amendments have it
			}
			set.Sequence = append(set.Sequence, &c)
		}
	}
	return set, nil
}

// MethodEditions lists the days on which some amendment of a method or some rule comes into force or ceases, the earliest first; the empty day
// stands for the time before all of them.
func (l *Layers) MethodEditions() ([]string, error) {
	days := l.Editions()
	for _, b := range l.Books {
		part, err := b.readMethods()
		if err != nil {
			return nil, err
		}
		for _, a := range part.Amendments {
			if a.InForce != nil {
				days = append(days, a.InForce.From, a.InForce.Until)
			}
		}
	}
	slices.Sort(days)
	return slices.Compact(days), nil
}

// refer sees that steps name trades and cautions that there are.
func (s *MethodSet) refer() (ps jobfile.Problems) {
	trades, cautions := make([]string, len(s.Trades)), make([]string, len(s.Cautions))
	for i, t := range s.Trades {
		trades[i] = t.ID
	}
	for i, c := range s.Cautions {
		cautions[i] = c.ID
	}
	for _, m := range s.Methods {
		for _, step := range m.Steps {
			ps = append(ps, knownWord("trade", step.By, trades, cmp.Or(step.Pos.Get("by"), step.Pos))...)
			for i, c := range step.Cautions {
				ps = append(ps, knownWord("caution", c, cautions, step.Pos.Get("cautions").Items()[i])...)
			}
			for _, c := range step.CautionsIf {
				ps = append(ps, knownWord("caution", c.Caution, cautions, c.Pos.Get("caution"))...)
			}
		}
	}
	return ps
}

// amend changes the methods laid so far.
func (s *MethodSet) amend(a *MethodAmendment) (ps jobfile.Problems) {
	ids := make([]string, len(s.Methods))
	for i, m := range s.Methods {
		ids[i] = m.ID
	}
	i := slices.Index(ids, a.Method)
	if i < 0 {
		return jobfile.Problems{problem(a.Pos.Get("method"), "no layer below %s has the method %q%s", a.Rulebook, a.Method, didYouMean(a.Method, ids))}
	}
	m := s.Methods[i]
	c := MethodChange{MethodAmendment: a, Before: m.Title}
	at := len(m.Steps) - 1
	if a.Step != "" {
		names := make([]string, len(m.Steps))
		for k, step := range m.Steps {
			names[k] = step.ID
		}
		if at = slices.Index(names, a.Step); at < 0 {
			return jobfile.Problems{problem(a.Pos.Get("step"), "the method %s has no step %q%s", m.ID, a.Step, didYouMean(a.Step, names))}
		}
		c.Before = m.Steps[at].Do
	}
	var fresh []*MethodStep
	for _, step := range a.Steps {
		n := *step // the amendment may be laid over others again
		ps = append(ps, n.check(m.Kind)...)
		n.Changes = []MethodChange{c}
		if a.What == "replace" {
			n.Changes = append(slices.Clone(m.Steps[at].Changes), c)
		}
		fresh = append(fresh, &n)
	}
	switch {
	case a.What == "off" && a.Step == "":
		s.Methods = slices.Delete(s.Methods, i, i+1)
	case a.What == "off":
		m.Steps = slices.Delete(slices.Clone(m.Steps), at, at+1)
	case a.What == "replace":
		m.Steps = slices.Concat(m.Steps[:at], fresh, m.Steps[at+1:])
	default:
		m.Steps = slices.Concat(m.Steps[:at+1], fresh, m.Steps[at+1:])
	}
	seen := map[string]bool{}
	for _, step := range m.Steps {
		if seen[step.ID] {
			ps = append(ps, problem(a.Pos.Get("steps"), "the method %s has two steps %q then; name the new one otherwise", m.ID, step.ID))
		}
		seen[step.ID] = true
	}
	s.Changes = append(s.Changes, c)
	return ps
}

// Caution returns a caution by id, nil when there is none.
func (s *MethodSet) Caution(id string) *Caution {
	for _, c := range s.Cautions {
		if c.ID == id {
			return c
		}
	}
	return nil
}

// Trade returns a trade by id, nil when there is none.
func (s *MethodSet) Trade(id string) *Trade {
	for _, t := range s.Trades {
		if t.ID == id {
			return t
		}
	}
	return nil
}

// HasMethods says whether the rulebook has files of methods of work, without reading them.
func (b *Rulebook) HasMethods() bool {
	names, err := b.list("methods", ".yaml")
	return err == nil && len(names) > 0
}
