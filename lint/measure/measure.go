// Package measure works out quantities from a job, so that policies only have
// to compare them with limits.
//
// A quantity is a measure: a name with its unit, for one kind of subject (an
// item, a face, a pair of openings, the room, the job ...). Every measure says
// which facts of the job it needs. A measure that lacks a fact is Unknown and
// leads to an undetermined verdict; a measure that does not arise for a subject
// (the distance to a seat in a room without seats) is None and makes a rule not
// applicable. Nothing here decides what is allowed.
package measure

import (
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
	"wetrule/lint/spare"
)

// Type says what sort of value a measure has.
type Type string

// The types of measures.
const (
	Number Type = "number"
	Text   Type = "text"
	Flag   Type = "flag"
	Texts  Type = "texts"
)

// State says whether a value is there.
type State uint8

// The states of a value.
const (
	None    State = iota // does not arise for this subject
	Unknown              // the job does not say enough
	Known
)

// Value is one measured value. Columns of them are most of what measuring allocates, so it is kept small.
type Value struct {
	State State
	Flag  bool    // Flag
	Num   float64 // Number, in the unit of the measure, rounded to 0.001
	more  *more   // what few values have; never changed once a value has it
}

type more struct {
	texts    *[]string // Texts, and the one of a Text
	note, at string
	steps    func() []string
}

// Plain says that a value has neither texts nor remarks nor steps nor a place of its own.
func (v Value) Plain() bool { return v.more == nil }

// Texts are the texts of a value of the type Texts.
func (v Value) Texts() []string {
	if v.more == nil || v.more.texts == nil {
		return nil
	}
	return *v.more.texts
}

// Text is the text of a value of the type Text.
func (v Value) Text() string {
	if l := v.Texts(); len(l) > 0 {
		return l[0]
	}
	return ""
}

// WithText returns the value with another text.
func (v Value) WithText(s string) Value {
	m := v.copied()
	m.texts = &[]string{s}
	return v.having(m)
}

// Note is an assumption or remark that a reader must see.
func (v Value) Note() string {
	if v.more == nil {
		return ""
	}
	return v.more.note
}

// At is the JSON Pointer of the fact that decided, where the needs of the measure do not name it.
func (v Value) At() string {
	if v.more == nil {
		return ""
	}
	return v.more.at
}

// Steps say line by line how the value was worked out, with the figures of this job: "h_se = 1.25·(8.2/0.048)^0.25 + ...
// = 9.1 W/m²K". They are empty for facts that are as given.
func (v Value) Steps() []string {
	if v.more == nil || v.more.steps == nil {
		return nil
	}
	return v.more.steps()
}

// worked returns the value with the steps by which it was worked out. They are written only when somebody asks.
func (v Value) worked(steps func() []string) Value {
	m := v.copied()
	m.steps = steps
	return v.having(m)
}

// note and at return the value with a remark, or with the place of the fact that decided.
func (v Value) note(s string) Value {
	if s == "" && v.more == nil {
		return v
	}
	m := v.copied()
	m.note = s
	return v.having(m)
}

func (v Value) at(p string) Value {
	m := v.copied()
	m.at = p
	return v.having(m)
}

// explained is note and worked in one, and with is these and at.
func (v Value) explained(note string, steps func() []string) Value {
	return v.with(note, v.At(), steps)
}

func (v Value) with(note, at string, steps func() []string) Value {
	m := v.copied()
	m.note, m.at, m.steps = note, at, steps
	return v.having(m)
}

// note, worked, explained and with are those of values, in memory of the job. They are for what is measured often.
func (c *Context) note(v Value, s string) Value { return c.with(v, s, v.At(), v.stepsOf()) }

func (c *Context) worked(v Value, steps func() []string) Value {
	return c.with(v, v.Note(), v.At(), steps)
}

func (c *Context) explained(v Value, note string, steps func() []string) Value {
	return c.with(v, note, v.At(), steps)
}

func (c *Context) with(v Value, note, at string, steps func() []string) Value {
	var texts *[]string
	if v.more != nil {
		texts = v.more.texts
	}
	if note == "" && at == "" && steps == nil && texts == nil {
		v.more = nil
		return v
	}
	if len(c.mores) == 0 {
		c.mores = c.memory.mores.Cut(moresAtOnce)
	}
	v.more = &c.mores[0]
	c.mores = c.mores[1:]
	*v.more = more{texts: texts, note: note, at: at, steps: steps}
	return v
}

// moresAtOnce is for how many remarks memory is taken at once.
const moresAtOnce = 32

func (v Value) stepsOf() func() []string {
	if v.more == nil {
		return nil
	}
	return v.more.steps
}

func (v Value) copied() *more {
	if v.more == nil {
		return &more{}
	}
	m := *v.more
	return &m
}

func (v Value) having(m *more) Value {
	v.more = m
	if m.note == "" && m.at == "" && m.texts == nil && m.steps == nil {
		v.more = nil
	}
	return v
}

// Same says whether two values are equal, remarks aside.
func (v Value) Same(w Value) bool {
	return v.State == w.State && v.Num == w.Num && v.Flag == w.Flag && slices.Equal(v.Texts(), w.Texts())
}

// Def describes one measure of one kind of subject.
type Def struct {
	Kind    string
	Name    string
	Type    Type
	Unit    string   // mm, percent, °C ...; empty for texts, flags and plain numbers
	Meaning string   // one sentence
	Needs   []string // job fields: relative to the subject, or from the root with a leading slash
	How     string   // formula, or "as given"
	Source  string   // where the formula comes from; empty when it is as given
	Values  []string // the possible texts, when they are a closed list
	get     func(*Context, *Subject) Value
	fill    func(*Context, []Subject, []Value) // get for all subjects at once, where that is quicker; the values are none before
}

// Subject is one thing that measures are taken of.
type Subject struct {
	Kind      string
	ID        string
	Pointer   string        // JSON Pointer of the thing in the job
	Pos       *jobfile.Node // its node, for positions
	Item      *jobfile.Item // items, and the parts of items
	Face      *Face         // faces
	Bench     *jobfile.Bench
	Circuit   *jobfile.Circuit
	Task      *jobfile.Task
	Record    *jobfile.Record
	Hole      *Hole      // penetrations and inserts
	Run       *wiringRun // runs of circuits
	Pair      *Pair      // pairs of holes
	Clearance *Clearance // pairs across faces
	n         int        // place of the task in the job
}

// Kind is one kind of subject with its measures in order.
type Kind struct {
	Name    string
	Meaning string
	Defs    []*Def
	find    func(*Context) []Subject
	index   map[string]int
	number  int // among all kinds
}

var kinds = map[string]*Kind{}

// words has what the texts of closed lists share.
var words wordList[*more]

// register adds a kind at start-up. A mistake in a definition stops the
// program at once, so that no test can miss it.
func register(name, meaning string, find func(*Context) []Subject, defs ...*Def) *Kind {
	if _, twice := kinds[name]; twice {
		panic("measure: kind " + name + " is registered twice")
	}
	k := &Kind{Name: name, Meaning: meaning, Defs: defs, find: find, index: map[string]int{}, number: len(kinds)}
	for i, d := range defs {
		if _, twice := k.index[d.Name]; twice || d.Name == "id" {
			panic("measure: " + name + "." + d.Name + " is defined twice")
		}
		d.Kind = name
		k.index[d.Name] = i
		for _, w := range d.Values {
			if _, known := words.find(w); !known {
				words.put(w, &more{texts: &[]string{w}})
			}
		}
	}
	kinds[name] = k
	return k
}

// def makes a definition; the helpers below are what the kinds use.
func def(t Type, name, unit, meaning, how, source string, needs []string, get func(*Context, *Subject) Value) *Def {
	if how == "" {
		how = "as given"
	}
	return &Def{Name: name, Type: t, Unit: unit, Meaning: meaning, How: how, Source: source, Needs: needs, get: get}
}

// given defines a measure that is a fact of the job as it stands.
func given(t Type, name, unit, meaning, field string, get func(*Context, *Subject) Value) *Def {
	return def(t, name, unit, meaning, "as given", "", []string{field}, get)
}

// oneOf closes the list of texts that a measure can have.
func (d *Def) oneOf(values ...string) *Def { d.Values = values; return d }

// num, text and flag turn facts of the job into values; a fact that is not
// given is Unknown.
func num(p *float64) Value {
	if p == nil {
		return unknown()
	}
	return number(*p)
}

func number(v float64) Value { return Value{State: Known, Num: geometry.RoundMM(v)} }

func text(s string) Value {
	if s == "" {
		return unknown()
	}
	if m, ok := words.find(s); ok {
		return Value{State: Known, more: m}
	}
	return Value{State: Known, more: &more{texts: &[]string{s}}}
}

func flag(p *bool) Value {
	if p == nil {
		return unknown()
	}
	return Value{State: Known, Flag: *p}
}

func yes(b bool) Value       { return Value{State: Known, Flag: b} }
func texts(s []string) Value { return Value{State: Known, more: &more{texts: &s}} }
func unknown() Value         { return Value{State: Unknown} }
func none() Value            { return Value{State: None} }

// Names returns the kinds in alphabetical order.
func Names() []string {
	names := make([]string, 0, len(kinds))
	for n := range kinds {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}

// Lookup returns a kind, or nil.
func Lookup(kind string) *Kind { return kinds[kind] }

// Number is the place of the kind among all kinds, from 0 to less than their count.
func (k *Kind) Number() int { return k.number }

// Def returns a measure of the kind by name, nil when there is none. Besides
// the listed measures every kind of item knows the waits between tasks; see
// ParseWait.
func (k *Kind) Def(name string) *Def {
	if i, ok := k.index[name]; ok {
		return k.Defs[i]
	}
	if w, ok := ParseWait(name); ok && k.waits() {
		w.Kind = k.Name
		return w.def()
	}
	return nil
}

// Table holds the values of all subjects of one kind, a column a measure.
type Table struct {
	Kind     *Kind
	Subjects []Subject
	Defs     []*Def    // of the columns: those of the kind, then the waits asked for, without what the plan leaves out
	Columns  [][]Value // [column][subject]
	index    map[string]int
	set      *Set
}

// Index returns the place of a measure among the columns, or -1.
func (t *Table) Index(name string) int {
	index := t.index
	if t.set == nil {
		index = t.Kind.index
	}
	if i, ok := index[name]; ok {
		return i
	}
	return -1
}

// Column returns the values of a measure, or nil when there is no such measure. One that the plan leaves out is taken now.
func (t *Table) Column(name string) []Value {
	if i := t.Index(name); i >= 0 {
		return t.Columns[i]
	}
	if t.set == nil || t.set.plan.full == nil {
		return nil
	}
	return t.set.Full().Of(t.Kind).Column(name)
}

// Find returns the row of a subject by id, or -1.
func (t *Table) Find(id string) int {
	for i := range t.Subjects {
		if t.Subjects[i].ID == id {
			return i
		}
	}
	return -1
}

// Set holds the tables of one job; a kind without a subject has no table. What the plan leaves out is taken when somebody asks for it.
type Set struct {
	Tables []*Table // those of the plan, in alphabetical order of the kinds
	of     []*Table // by number of the kind
	ctx    *Context
	plan   *Plan
	once   sync.Once
	full   *Set
}

// Of returns the table of a kind that the plan holds, or nil when no subject is of that kind.
func (s *Set) Of(k *Kind) *Table { return s.of[k.number] }

// Table returns the table of a kind, or nil when no subject is of that kind.
func (s *Set) Table(kind string) *Table {
	k := kinds[kind]
	switch {
	case k == nil:
		return nil
	case !s.plan.holds(k):
		return s.Full().Of(k)
	}
	return s.Of(k)
}

// Full returns the set with all measures of all kinds.
func (s *Set) Full() *Set {
	if s.plan.full == nil {
		return s
	}
	s.once.Do(func() { s.full = s.plan.full.Measure(s.ctx.Job) })
	return s.full
}

// Plan says what is to be measured; it is made once and serves many jobs.
type Plan struct {
	kinds []planned // in alphabetical order
	zones map[string]*geometry.ZoneSet
	only  map[string]map[string]bool // by kind and measure; nil for everything
	full  *Plan                      // the plan of everything, when this one is of less
}

// planned is one kind with the columns to be taken.
type planned struct {
	kind  *Kind
	defs  []*Def
	index map[string]int // of the columns by name
}

// Option changes how jobs are measured.
type Option func(*Plan)

// WithZones gives the zones that items are looked for in. Of several sets for one thing the last one holds. Without a set for
// what a measure asks for, that measure is not known.
func WithZones(sets ...geometry.ZoneSet) Option {
	return func(p *Plan) {
		for i := range sets {
			p.zones[sets[i].For] = &sets[i]
		}
	}
}

// Only leaves out what is not in a list of measures by kind.
func Only(measures map[string]map[string]bool) Option {
	return func(p *Plan) { p.only = measures }
}

// NewPlan prepares to measure, besides the measures of each kind, the given waits.
func NewPlan(waits []Wait, options ...Option) *Plan {
	p := &Plan{zones: map[string]*geometry.ZoneSet{}}
	for _, o := range options {
		o(p)
	}
	for _, name := range Names() {
		k := kinds[name]
		if !p.holds(k) {
			continue
		}
		in := planned{kind: k, index: map[string]int{}}
		take := func(name string, def func() *Def) {
			if _, twice := in.index[name]; !twice && (p.only == nil || p.only[k.Name][name]) {
				in.index[name] = len(in.defs)
				in.defs = append(in.defs, def())
			}
		}
		for _, d := range k.Defs {
			take(d.Name, func() *Def { return d })
		}
		for _, w := range waits {
			if w.Kind == name {
				take(w.Name(), w.def)
			}
		}
		p.kinds = append(p.kinds, in)
	}
	if p.only != nil {
		p.full = NewPlan(waits, append(slices.Clone(options), Only(nil))...)
	}
	return p
}

func (p *Plan) holds(k *Kind) bool { return p.only == nil || len(p.only[k.Name]) > 0 }

// Defs returns the columns of the tables of a kind: its measures, then the waits asked for, without what the plan leaves out.
func (p *Plan) Defs(k *Kind) []*Def {
	for i := range p.kinds {
		if p.kinds[i].kind == k {
			return p.kinds[i].defs
		}
	}
	return nil
}

func (p *Plan) context(m *Memory, job *jobfile.Job) *Context {
	c := newContextIn(m, job)
	c.zones = p.zones
	return c
}

// Memory is what sets are made in, one at a time.
type Memory struct {
	set     Set
	tables  spare.Room[Table]
	listed  spare.Room[*Table]
	columns spare.Room[[]Value]
	cells   spare.Room[Value]

	subjects spare.Room[Subject]
	mores    spare.Room[more]
}

// keptCells and keptSubjects, which are larger, bound the memory that a large job leaves behind.
const (
	keptCells    = 1 << 17
	keptSubjects = 1 << 14
)

// Release takes back the memory of the set that was made in it. Neither the set nor a value of it may be looked at any more.
func (m *Memory) Release() {
	m.set = Set{}
	m.tables.Clear(keptCells)
	m.listed.Clear(keptCells)
	m.columns.Clear(keptCells)
	m.cells.Clear(keptCells)
	m.subjects.Clear(keptSubjects)
	m.mores.Clear(keptSubjects)
}

// Measure takes the measures of a job.
func (p *Plan) Measure(job *jobfile.Job) *Set { return p.MeasureIn(&Memory{}, job) }

// MeasureIn is Measure in memory that no other set is in.
func (p *Plan) MeasureIn(m *Memory, job *jobfile.Job) *Set {
	c := p.context(m, job)
	s := &m.set
	*s = Set{Tables: m.listed.Cut(len(p.kinds))[:0], of: m.listed.Cut(len(kinds)), ctx: c, plan: p}
	tables := m.tables.Cut(len(p.kinds))
	for i := range p.kinds {
		in := &p.kinds[i]
		subjects := in.kind.find(c)
		n := len(subjects)
		if n == 0 {
			continue
		}
		t := &tables[i]
		*t = Table{Kind: in.kind, Subjects: subjects, Defs: in.defs, Columns: m.columns.Cut(len(in.defs)), index: in.index, set: s}
		cells := m.cells.Cut(len(in.defs) * n)
		for j, d := range in.defs {
			column := cells[:n:n]
			cells = cells[n:]
			if d.fill != nil {
				d.fill(c, subjects, column)
			} else {
				for i := range subjects {
					column[i] = d.get(c, &subjects[i])
				}
			}
			t.Columns[j] = column
		}
		s.Tables = append(s.Tables, t)
		s.of[in.kind.number] = t
	}
	return s
}

// Format writes a value for people, with its unit.
func (d *Def) Format(v Value) string {
	switch v.State {
	case None:
		return "does not arise"
	case Unknown:
		return "not known"
	}
	switch d.Type {
	case Number:
		return WithUnit(FormatNumber(v.Num), d.Unit)
	case Flag:
		if v.Flag {
			return "yes"
		}
		return "no"
	case Texts:
		return strings.Join(v.Texts(), ", ")
	}
	return Words(v.Text())
}

// FormatNumber writes a number with at most three decimals and no needless zeros.
func FormatNumber(v float64) string {
	v = geometry.RoundMM(v)
	var room [24]byte
	if b, ok := AppendThousandths(room[:0], v); ok {
		return string(b)
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// AppendThousandths writes a number that has no more than three decimals, with as few of them as it takes. ok is false, and nothing is
// written, for any other number and from 1e11 on. The digits are those of strconv: a decimal of at most 15 digits is the only one so short
// for its float64.
func AppendThousandths(b []byte, v float64) (out []byte, ok bool) {
	if !(math.Abs(v) < 1e11) {
		return b, false
	}
	if whole := int64(v); float64(whole) == v {
		return AppendWhole(b, whole), true
	}
	n := int64(v*1000 + math.Copysign(0.5, v)) // when there are no more decimals, the product is off by less than that
	if float64(n)/1000 != v {
		return b, false
	}
	return appendMillis(b, n), true
}

// appendMillis writes a number of thousandths.
func appendMillis(b []byte, n int64) []byte {
	if n < 0 {
		b = append(b, '-')
		n = -n
	}
	whole, part := n/1000, n%1000
	b = AppendWhole(b, whole)
	if part == 0 {
		return b
	}
	d := &digits[part]
	switch {
	case d[2] != '0':
		return append(b, '.', d[0], d[1], d[2])
	case d[1] != '0':
		return append(b, '.', d[0], d[1])
	}
	return append(b, '.', d[0])
}

// digits are those of the numbers below a thousand.
var digits = func() (all [1000][3]byte) {
	for n := range all {
		all[n] = [3]byte{byte('0' + n/100), byte('0' + n/10%10), byte('0' + n%10)}
	}
	return all
}()

// AppendWhole is strconv.AppendInt for decimals, with a short way for the small numbers that jobs are made of.
func AppendWhole(b []byte, n int64) []byte {
	switch {
	case uint64(n) < 10:
		return append(b, byte('0'+n))
	case uint64(n) < 100:
		d := &digits[n]
		return append(b, d[1], d[2])
	case uint64(n) < 1000:
		d := &digits[n]
		return append(b, d[0], d[1], d[2])
	case uint64(n) < 1_000_000:
		d := &digits[n%1000]
		return append(AppendWhole(b, n/1000), d[0], d[1], d[2])
	}
	return strconv.AppendInt(b, n, 10)
}

// WithUnit puts the unit behind a number: "250 mm", "2.5 %".
func WithUnit(number, unit string) string {
	switch unit {
	case "":
		return number
	case "percent":
		return number + " %"
	}
	return number + " " + unit
}

// Words turns an identifier of the job format into plain words.
func Words(s string) string { return strings.ReplaceAll(s, "_", " ") }

// Context is what the measures of one job share.
type Context struct {
	Job                    *jobfile.Job
	spelled                strings.Builder // see spell
	memory                 *Memory
	mores                  []more // not yet used
	Faces                  []*Face
	faces                  map[string]*Face
	items                  map[string]*jobfile.Item
	circuits               few[int32] // places in the job
	plan, sound            *geometry.Plan
	sounded                bool
	ofKinds                [][]int32 // items by number of the kind, see itemsOf
	airflow                airflowState
	foams                  []foamFound
	model                  room3
	zones                  map[string]*geometry.ZoneSet // by what they lie round
	holes                  []Hole
	holed                  bool
	outlines               []outline // by number of the face; those without a face are not found yet
	near                   *nearThings
	showers                []zoneShower
	showered               bool
	steamZone              Value             // see zoneOfSteam
	flatPoints, roomPoints []geometry.Point3 // to be used again
	legs                   [][2]geometry.Point3
	cables                 map[*jobfile.Item]*cable
	sections               []*moistureWall
	walls                  []*moistureState // by number of the face
	cures                  []cured
	classes                []buildUpRead
	layers                 Value   // of the build-up of the job
	grout                  *Value  // of the tasks for the whole room
	curesOf                []int32 // by number of the task: what cures after it among cures, or -1
	times                  *timetable
	figures                *roomFigures
	heat                   *roomHeat
	heated                 []*heatedFace // by number of the face
	lines                  lineHeats
	lineNeeds              map[lineNeedLike]Value
	marks                  few[*ipMark]
	brackets               map[*jobfile.Item]*loadsBracket
	shearNote              loadsShearRemark
	flows                  few[*lineFlowFound] // by generator
}

// pointers are the JSON Pointers of the elements of a list of the job.
type pointers struct {
	list string
	made many[string]
}

var (
	itemPointers    = pointers{"/items/", make(many[string], 1024)}
	taskPointers    = pointers{"/tasks/", make(many[string], 1024)}
	wallPointers    = pointers{"/room/walls/", make(many[string], 64)}
	benchPointers   = pointers{"/room/benches/", make(many[string], 64)}
	circuitPointers = pointers{"/circuits/", make(many[string], 64)}
	recordPointers  = pointers{"/records/", make(many[string], 64)}
)

func (p *pointers) at(i int) string {
	if i < len(p.made) {
		if s := p.made[i].Load(); s != nil {
			return *s
		}
	}
	return *madeOnce(p.made, i, func() string { return p.list + strconv.Itoa(i) })
}

// many are things that jobs use over and over, so they are made once for all.
type many[T any] []atomic.Pointer[T]

func madeOnce[T any](known many[T], i int, create func() T) *T {
	if i < len(known) {
		if p := known[i].Load(); p != nil {
			return p
		}
	}
	made := create()
	if i < len(known) {
		known[i].Store(&made)
	}
	return &made
}
