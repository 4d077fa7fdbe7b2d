// Package rulebook reads rulebooks: folders of rules as rows of data, with
// their sources, their examples and, where a row cannot say it, their Rego.
//
// A rulebook folder holds
//
//	rulebook.yaml     the manifest
//	sources.yaml      what the rules cite
//	rules/*.yaml      rows: rules, and the order of work (sequence)
//	rego/*.rego       rules that a row cannot say, and their tests
//	zones.yaml        zones as data, where it has any
//	methods/*.yaml    methods of work, read only when somebody asks for them
//	examples/*.yaml   five sorts of examples for every rule
//
// Reading checks everything that can be checked without a job: the rows against
// their schemas, measures and kinds against the registry of package measure, sources,
// duplicate ids, limits that leave nothing allowed. Every problem has its file, line and column.
package rulebook

import (
	"fmt"
	"io/fs"
	"math"
	"path"
	"runtime"
	"slices"
	"sort"
	"strings"
	"sync"
	"sync/atomic"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/schema"
)

// Severity says how grave it is when a rule is not kept.
type Severity uint8

// The severities, the gravest last.
const (
	Observation Severity = iota // advice
	Minor
	Major    // the room fails or must be opened up
	Critical // a person can be hurt
)

var severities = []string{"observation", "minor", "major", "critical"}

// String names the severity.
func (s Severity) String() string { return severities[s] }

// Severities lists the names, the gravest first.
func Severities() []string {
	out := slices.Clone(severities)
	slices.Reverse(out)
	return out
}

// ParseSeverity reads a name.
func ParseSeverity(name string) (Severity, bool) {
	i := slices.Index(severities, name)
	return Severity(max(i, 0)), i >= 0
}

// Stage says what can be asked of a job by now.
type Stage uint8

// The stages in order.
const (
	Design Stage = iota
	Site
	AsBuilt
)

var stages = []string{"design", "site", "as_built"}

// String names the stage.
func (s Stage) String() string { return stages[s] }

// Stages lists the names in order.
func Stages() []string { return slices.Clone(stages) }

// ParseStage reads a name.
func ParseStage(name string) (Stage, bool) {
	i := slices.Index(stages, strings.ReplaceAll(name, "-", "_"))
	return Stage(max(i, 0)), i >= 0
}

// Source is one published text, or what stands for it.
type Source struct {
	ID      string `json:"id"`
	Kind    string `json:"kind"`
	Title   string `json:"title"`
	Edition string `json:"edition"`
	Note    string `json:"note"`

	Pos *jobfile.Node `json:"-"`
}

// Citation says where a rule comes from and how surely.
type Citation struct {
	ID     string `json:"id"`
	Clause string `json:"clause"`
	Basis  string `json:"basis"`
	Note   string `json:"note"`

	Source *Source       `json:"-"`
	Pos    *jobfile.Node `json:"-"`
}

// String writes the citation in one line for people.
func (c Citation) String() string {
	var b strings.Builder
	if c.Source == nil {
		b.WriteString(c.ID)
	} else if c.Source.Kind == "common_practice" {
		b.WriteString("common practice")
	} else {
		b.WriteString(c.Source.Title)
		if c.Source.Edition != "" {
			b.WriteString(", " + c.Source.Edition)
		}
	}
	if c.Clause != "" {
		b.WriteString(", " + c.Clause)
	}
	switch c.Basis {
	case "memory":
		b.WriteString(" (from memory)")
	case "secondary":
		b.WriteString(" (as reported by others)")
	case "computed":
		b.WriteString(" (worked out)")
	}
	if c.Note != "" {
		b.WriteString("; " + c.Note)
	}
	return b.String()
}

// Condition is one condition on a measure.
type Condition struct {
	Measure string          `json:"measure"`
	IsNodes []*jobfile.Node `json:"is"`
	AtLeast *float64        `json:"at_least"`
	AtMost  *float64        `json:"at_most"`

	Is  []any         `json:"-"` // string, bool or float64
	Pos *jobfile.Node `json:"-"`
}

// Allowed says what is allowed of a measure.
type Allowed struct {
	AtLeast        *float64        `json:"at_least"`
	AtMost         *float64        `json:"at_most"`
	Above          *float64        `json:"above"`
	Below          *float64        `json:"below"`
	Between        []float64       `json:"between"`
	AtLeastMeasure string          `json:"at_least_measure"`
	AtMostMeasure  string          `json:"at_most_measure"`
	IsNodes        []*jobfile.Node `json:"is"`

	Is  []any         `json:"-"` // string, bool or float64
	Pos *jobfile.Node `json:"-"`
}

// Period is a time in which a rule applies: From counts, Until no longer does.
// Dates are ISO 8601 days, so they compare as text.
type Period struct {
	From  string `json:"from"`
	Until string `json:"until"`
}

// Contains says whether a day lies in the period.
func (p Period) Contains(day string) bool {
	return (p.From == "" || p.From <= day) && (p.Until == "" || day < p.Until)
}

// Rule is one requirement.
type Rule struct {
	ID        string      `json:"id"`
	Title     string      `json:"title"`
	SevName   string      `json:"severity"`
	FromName  string      `json:"from"`
	AppliesTo string      `json:"applies_to"`
	When      []Condition `json:"when"`
	Measure   string      `json:"measure"`
	Allowed   *Allowed    `json:"allowed"`
	Rego      bool        `json:"rego"`
	Says      string      `json:"says"`
	Needs     []string    `json:"needs"`
	Why       string      `json:"why"`
	Remedy    string      `json:"remedy"`
	Source    Citation    `json:"source"`
	InForce   *Period     `json:"in_force"`
	Aliases   []string    `json:"aliases"`

	First string  `json:"first"`  // rows of the sequence
	Then  string  `json:"then"`   // rows of the sequence
	WaitH float64 `json:"wait_h"` // rows of the sequence

	Pos *jobfile.Node `json:"-"`

	Severity Severity      `json:"-"`
	From     Stage         `json:"-"`
	Subject  string        `json:"-"` // what the file of rules is about
	Rulebook string        `json:"-"`
	Kind     *measure.Kind `json:"-"`
	Def      *measure.Def  `json:"-"`
	Changes  []Change      `json:"-"` // what layers above the rule's own have changed, in order
	fields   []string
	paths    []Path // of fields
}

// Actual is added to the id of a sequence row for the twin that judges recorded times.
const Actual = "-actual"

// Manifest is the head of a rulebook.
type Manifest struct {
	Name        string `json:"rulebook"`
	Title       string `json:"title"`
	Edition     string `json:"edition"`
	Description string `json:"description"`
	Layer       string `json:"layer"`
	Country     string `json:"country"`
}

// Module is one file of Rego.
type Module struct {
	File string
	Text string
}

// Rulebook is one rulebook as read.
type Rulebook struct {
	Manifest
	Rules   []*Rule
	Amends  []*Amendment
	Sources []*Source
	Zones   []*ZoneSet
	Modules []Module // without tests
	Tests   []Module
	Shipped bool // it came with wetrule; a folder may bear the same name
	fsys    fs.FS
	label   string

	methodsOnce sync.Once // methods of work are read when they are asked for
	methods     *methodsPart
	methodsErr  error
}

type rowsFile struct {
	Subject  string  `json:"subject"`
	Rules    []*Rule `json:"rules"`
	Sequence []*Rule `json:"sequence"`

	Amendments []*Amendment `json:"amendments"`
}

var schemas sync.Map // name -> func() (*jobfile.Schema, error)

// Schema returns one of wetrule's schemas, compiled once, whoever asks first.
func Schema(name string) (*jobfile.Schema, error) {
	get, _ := schemas.LoadOrStore(name, sync.OnceValues(func() (*jobfile.Schema, error) {
		s, err := jobfile.Compile(map[string][]byte{name: schema.Bytes(name)}, name)
		if err != nil {
			return nil, fmt.Errorf("schema %s: %w", name, err)
		}
		return s, nil
	}))
	return get.(func() (*jobfile.Schema, error))()
}

// readFile reads one file of the rulebook, checks it against a schema and decodes it.
func (b *Rulebook) readFile(name, schemaName string, into any) error {
	data, err := b.read(name, jobfile.MaxFileBytes)
	if err != nil {
		return jobfile.Problems{{File: path.Join(b.label, name), Message: "cannot be read: " + reason(err)}}
	}
	file := path.Join(b.label, name)
	node, err := jobfile.Read(file, data)
	if err != nil {
		return err
	}
	s, err := Schema(schemaName)
	if err != nil {
		return err
	}
	if err := s.Validate(file, node); err != nil {
		return err
	}
	return jobfile.Decode(node, into)
}

// reason is the bare reason of a file error, without the path, which the problem names already.
func reason(err error) string {
	if e, ok := err.(*fs.PathError); ok {
		return e.Err.Error()
	}
	return err.Error()
}

// Open reads a rulebook from a folder. The label stands for the folder in
// messages. The error is jobfile.Problems whenever the rulebook is at fault.
func Open(fsys fs.FS, label string) (*Rulebook, error) {
	b := &Rulebook{fsys: fsys, label: label}
	names, err := b.list("rules", ".yaml")
	if err != nil {
		return nil, err
	}
	reading := b.readRules(names)
	if err := b.readFile("rulebook.yaml", "rulebook.schema.json", &b.Manifest); err != nil {
		return nil, err
	}
	var src struct {
		Sources []*Source `json:"sources"`
	}
	if err := b.readFile("sources.yaml", "sources.schema.json", &src); err != nil {
		return nil, err
	}
	b.Sources = src.Sources
	var problems jobfile.Problems
	sources := map[string]*Source{}
	for _, s := range b.Sources {
		if sources[s.ID] != nil {
			problems = append(problems, problem(s.Pos, "source %q is given twice", s.ID))
		}
		sources[s.ID] = s
	}
	if err := b.readZones(sources); err != nil {
		ps, ok := err.(jobfile.Problems)
		if !ok {
			return nil, err
		}
		problems = append(problems, ps...)
	}
	for i, rules := range reading() {
		if rules.err != nil {
			if ps, ok := rules.err.(jobfile.Problems); ok {
				problems = append(problems, ps...)
				continue
			}
			return nil, fmt.Errorf("%s: %w", path.Join(label, names[i]), rules.err)
		}
		f := rules.rowsFile
		for _, r := range f.Rules {
			r.Subject = f.Subject
			b.Rules = append(b.Rules, r)
		}
		for _, r := range f.Sequence {
			r.Subject = f.Subject
			b.Rules = append(b.Rules, expand(r)...)
		}
		for _, m := range f.Amendments {
			problems = append(problems, m.resolve(b.Name, sources)...)
			b.Amends = append(b.Amends, m)
		}
	}
	for _, folder := range []string{"rules", "rego"} {
		problems = append(problems, b.unread(folder)...)
	}
	if err := b.readModules(); err != nil {
		return nil, err
	}
	if len(b.Rules) > MaxRules {
		return nil, jobfile.Problems{{File: b.label, Message: fmt.Sprintf("the rulebook holds %d rules; at most %d are allowed", len(b.Rules), MaxRules)}}
	}
	seen := map[string]*Rule{}
	for _, r := range b.Rules {
		r.Rulebook = b.Name
		problems = append(problems, r.resolve(sources)...)
		for i, id := range append([]string{r.ID}, r.Aliases...) {
			at := r.Pos.Get("id")
			if i > 0 {
				at = r.Pos.Get("aliases").Items()[i-1]
			}
			if other := seen[id]; other != nil {
				problems = append(problems, problem(at, "rule id %q is taken by the rule at %s:%d", id, other.Pos.File(), other.Pos.Line))
				continue
			}
			seen[id] = r
		}
	}
	if len(problems) > 0 {
		problems.Sort()
		return nil, slices.Compact(problems) // both rules of a row of the sequence have its problems
	}
	for _, r := range b.Rules {
		r.fields = r.Fields()
		r.paths = r.Paths()
	}
	sort.SliceStable(b.Rules, func(i, j int) bool { return b.Rules[i].ID < b.Rules[j].ID })
	return b, nil
}

type rulesRead struct {
	rowsFile
	err error
}

// readRules begins to read the files of rules, on all cores: they are most of a rulebook, and reading them is much of the time that a review
// of one job takes. The returned function waits for them.
func (b *Rulebook) readRules(names []string) func() []rulesRead {
	out := make([]rulesRead, len(names))
	var next atomic.Int64
	var wg sync.WaitGroup
	read := func(r *rulesRead, name string) {
		defer func() {
			if p := recover(); p != nil {
				r.err = fmt.Errorf("reading broke off: %v", p)
			}
		}()
		r.err = b.readFile(name, "rules.schema.json", &r.rowsFile)
	}
	for range min(runtime.GOMAXPROCS(0), len(names)) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(names); i = int(next.Add(1)) - 1 {
				read(&out[i], names[i])
			}
		})
	}
	return func() []rulesRead {
		wg.Wait()
		return out
	}
}

// unread tells of files that a person would take for a part of the rulebook and that are not read.
func (b *Rulebook) unread(folder string) (ps jobfile.Problems) {
	ext := map[string]string{"rules": ".yaml", "examples": ".yaml", "methods": ".yaml", "rego": ".rego"}[folder]
	entries, err := fs.ReadDir(b.fsys, folder)
	if err != nil {
		return nil // there need not be such a folder
	}
	for _, e := range entries {
		switch lower := strings.ToLower(e.Name()); {
		case e.IsDir() || strings.HasPrefix(lower, ".") || path.Ext(e.Name()) == ext:
		case slices.Contains([]string{".yaml", ".yml", ".json", ".rego"}, path.Ext(lower)):
			ps = append(ps, jobfile.Problem{File: path.Join(b.label, folder, e.Name()), Message: "is not read: the files in " + folder + " end in " + ext})
		}
	}
	return ps
}

func (b *Rulebook) readModules() error {
	names, err := b.list("rego", ".rego")
	if err != nil {
		return err
	}
	for _, name := range names {
		data, err := b.read(name, MaxRegoFile)
		if err != nil {
			return jobfile.Problems{{File: path.Join(b.label, name), Message: "cannot be read: " + reason(err)}}
		}
		if len(data) > MaxRegoFile {
			return jobfile.Problems{{File: path.Join(b.label, name), Message: fmt.Sprintf("the file is larger than %d bytes", MaxRegoFile)}}
		}
		m := Module{File: path.Join(b.label, name)}
		if m.Text, err = jobfile.Text(m.File, data); err != nil {
			return err
		}
		if strings.HasSuffix(name, "_test.rego") {
			b.Tests = append(b.Tests, m)
		} else {
			b.Modules = append(b.Modules, m)
		}
	}
	return nil
}

// expand makes the two rules of a row of the sequence: on planned times, and on recorded times.
func expand(row *Rule) []*Rule {
	planned := *row
	planned.Measure = measure.Wait{First: row.First, Then: row.Then}.Name()
	wait := row.WaitH
	planned.Allowed = &Allowed{AtLeast: &wait, Pos: row.Pos.Get("wait_h")}
	actual := planned
	actual.ID += Actual
	actual.Title += " (as recorded)"
	actual.FromName = AsBuilt.String()
	actual.Measure = measure.Wait{First: row.First, Then: row.Then, Actual: true}.Name()
	actual.Aliases = nil
	for _, a := range row.Aliases {
		actual.Aliases = append(actual.Aliases, a+Actual)
	}
	return []*Rule{&planned, &actual}
}

func problem(at *jobfile.Node, format string, args ...any) jobfile.Problem {
	p := jobfile.Problem{File: at.File(), Message: fmt.Sprintf(format, args...)}
	if at != nil {
		p.Line, p.Col = int(at.Line), int(at.Col)
	}
	return p
}

// at is the node of a key of the row, or the row itself when the key is missing.
func (r *Rule) at(key string) *jobfile.Node {
	if n := r.Pos.Get(key); n != nil {
		return n
	}
	return r.Pos
}

// resolve links a row to its source and its measures and checks it.
func (r *Rule) resolve(sources map[string]*Source) (ps jobfile.Problems) {
	bad := func(at *jobfile.Node, format string, args ...any) { ps = append(ps, problem(at, format, args...)) }
	r.Severity, _ = ParseSeverity(r.SevName)
	r.From, _ = ParseStage(r.FromName)
	ps = append(ps, r.Source.resolve(sources)...)
	if r.Kind = measure.Lookup(r.AppliesTo); r.Kind == nil {
		bad(r.at("applies_to"), "unknown kind %q%s", r.AppliesTo, didYouMean(r.AppliesTo, measure.Names()))
		return ps
	}
	if r.First == "" {
		r.Def = r.lookup(r.Measure, r.at("measure"), &ps)
	} else {
		r.Def = r.lookupWait(&ps)
	}
	for i := range r.When {
		c := &r.When[i]
		c.Is = scalars(c.IsNodes)
		d := r.lookup(c.Measure, c.Pos.Get("measure"), &ps)
		if d == nil {
			continue
		}
		switch {
		case len(c.Is) == 0 && c.AtLeast == nil && c.AtMost == nil:
			bad(c.Pos, "the condition says nothing: give is, at_least or at_most")
		case len(c.Is) > 0 && (c.AtLeast != nil || c.AtMost != nil):
			bad(c.Pos, "give either a list of values or limits, not both")
		case len(c.Is) > 0:
			checkValues(d, c.IsNodes, &ps)
		case d.Type != measure.Number:
			bad(c.Pos, "%s is no number and cannot be compared with one", c.Measure)
		case c.AtLeast != nil && c.AtMost != nil && *c.AtLeast > *c.AtMost:
			bad(c.Pos, "the condition never holds: the lower limit %s is not below the upper limit %s", measure.FormatNumber(*c.AtLeast), measure.FormatNumber(*c.AtMost))
		}
	}
	for i, n := range r.Needs {
		r.lookup(n, r.at("needs").Items()[i], &ps)
	}
	switch {
	case r.Rego && (r.Allowed != nil || r.Says == "" || len(r.Needs) == 0):
		bad(r.Pos, "a rule that Rego judges gives says and needs, and no allowed")
	case !r.Rego && (r.Allowed == nil || r.Says != "" || len(r.Needs) > 0):
		bad(r.Pos, "a rule gives allowed; says and needs are for rules that Rego judges (rego: true)")
	case r.Rego && !slices.Contains(r.Needs, r.Measure):
		bad(r.at("needs"), "needs must name the measure %s too", r.Measure)
	case r.Allowed != nil && r.Def != nil:
		r.checkAllowed(&ps)
	}
	if p := r.InForce; p != nil && p.From != "" && p.Until != "" && p.Until <= p.From {
		bad(r.at("in_force"), "the rule is never in force: it ends on %s and begins on %s", p.Until, p.From)
	}
	return ps
}

// resolve links a citation to its source.
func (c *Citation) resolve(sources map[string]*Source) jobfile.Problems {
	if c.Source = sources[c.ID]; c.Source != nil {
		return nil
	}
	known := make([]string, 0, len(sources))
	for id := range sources {
		known = append(known, id)
	}
	sort.Strings(known)
	return jobfile.Problems{problem(c.Pos.Get("id"), "unknown source %q%s", c.ID, didYouMean(c.ID, known))}
}

func (r *Rule) lookup(name string, at *jobfile.Node, ps *jobfile.Problems) *measure.Def {
	d := r.Kind.Def(name)
	if d == nil {
		known := make([]string, len(r.Kind.Defs))
		for i, d := range r.Kind.Defs {
			known[i] = d.Name
		}
		*ps = append(*ps, problem(at, "%s has no measure %q%s", r.AppliesTo, name, didYouMean(name, known)))
	}
	return d
}

// lookupWait finds the measure of a row of the sequence.
func (r *Rule) lookupWait(ps *jobfile.Problems) *measure.Def {
	known := true
	for _, k := range []struct{ key, task string }{{"first", r.First}, {"then", r.Then}} {
		if !slices.Contains(measure.Tasks, k.task) {
			known = false
			*ps = append(*ps, problem(r.at(k.key), "unknown task %q%s", k.task, didYouMean(k.task, measure.Tasks)))
		}
	}
	if !known {
		return nil
	}
	if _, ok := measure.ParseWait(r.Measure); !ok {
		*ps = append(*ps, problem(r.at("then"), "the task %q cannot wait for %q: they are the same", r.Then, r.First))
		return nil
	}
	d := r.Kind.Def(r.Measure)
	if d == nil {
		*ps = append(*ps, problem(r.at("applies_to"), "%s has no tasks to wait for", r.AppliesTo))
	}
	return d
}

func (r *Rule) checkAllowed(ps *jobfile.Problems) {
	a := r.Allowed
	a.Is = scalars(a.IsNodes)
	numeric := a.AtLeast != nil || a.AtMost != nil || a.Above != nil || a.Below != nil || a.Between != nil || a.AtLeastMeasure != "" || a.AtMostMeasure != ""
	switch {
	case len(a.Is) > 0 && numeric:
		*ps = append(*ps, problem(a.Pos, "give either a list of values or limits, not both"))
	case len(a.Is) > 0:
		checkValues(r.Def, a.IsNodes, ps)
	case r.Def.Type != measure.Number:
		*ps = append(*ps, problem(a.Pos, "%s is %s and cannot have limits; give is", r.Measure, r.Def.Type))
	}
	if a.Between != nil && (a.AtLeast != nil || a.AtMost != nil) {
		*ps = append(*ps, problem(a.Pos, "give either between or at_least and at_most, not both"))
	}
	for _, limit := range []struct{ key, name string }{{"at_least_measure", a.AtLeastMeasure}, {"at_most_measure", a.AtMostMeasure}} {
		if limit.name == "" {
			continue
		}
		at := a.Pos.Get(limit.key)
		switch d := r.lookup(limit.name, at, ps); {
		case d == nil:
		case d.Type != measure.Number:
			*ps = append(*ps, problem(at, "%s is no number and cannot be a limit", limit.name))
		case d.Name == r.Measure:
			*ps = append(*ps, problem(at, "%s cannot be a limit of itself", limit.name))
		}
	}
	lo, loOpen, hi, hiOpen := a.Range()
	if lo > hi || lo == hi && (loOpen || hiOpen) {
		*ps = append(*ps, problem(a.Pos, "nothing is allowed: the lower limit %s is not below the upper limit %s", measure.FormatNumber(lo), measure.FormatNumber(hi)))
	}
}

// Range returns the fixed limits, infinite where there is none, and whether each is open
// (itself not allowed).
func (a *Allowed) Range() (lo float64, loOpen bool, hi float64, hiOpen bool) {
	lo, hi = math.Inf(-1), math.Inf(1)
	if a.AtLeast != nil {
		lo = *a.AtLeast
	}
	if a.AtMost != nil {
		hi = *a.AtMost
	}
	if len(a.Between) == 2 {
		lo, hi = a.Between[0], a.Between[1]
	}
	if a.Above != nil && *a.Above >= lo {
		lo, loOpen = *a.Above, true
	}
	if a.Below != nil && *a.Below <= hi {
		hi, hiOpen = *a.Below, true
	}
	return lo, loOpen, hi, hiOpen
}

// Limits are the limits that the row itself says, infinite where there is none.
func (r *Rule) Limits() (lo, hi float64) {
	if r.Allowed == nil || len(r.Allowed.Is) > 0 {
		return math.Inf(-1), math.Inf(1)
	}
	lo, _, hi, _ = r.Allowed.Range()
	return lo, hi
}

func scalars(nodes []*jobfile.Node) []any {
	out := make([]any, len(nodes))
	for i, n := range nodes {
		out[i] = n.Value()
	}
	return out
}

// checkValues sees that listed values can occur at all.
func checkValues(d *measure.Def, nodes []*jobfile.Node, ps *jobfile.Problems) {
	for _, n := range nodes {
		ok := false
		switch d.Type {
		case measure.Text:
			ok = n.Kind == jobfile.String
			if ok && len(d.Values) > 0 && !slices.Contains(d.Values, n.Text) {
				*ps = append(*ps, problem(n, "%s is never %q%s", d.Name, n.Text, didYouMean(n.Text, d.Values)))
				continue
			}
		case measure.Flag:
			ok = n.Kind == jobfile.Bool
		case measure.Number:
			ok = n.Kind == jobfile.Number
		}
		if !ok {
			*ps = append(*ps, problem(n, "%s is %s; %q cannot be compared with it", d.Name, d.Type, n.Text))
		}
	}
}

func didYouMean(word string, known []string) string {
	if s := jobfile.Suggest(word, known); s != "" {
		return fmt.Sprintf("; did you mean %q?", s)
	}
	return ""
}

// Measures lists every measure that the rule reads, without repeats.
func (r *Rule) Measures() []string {
	out := make([]string, 0, 8)
	add := func(names ...string) {
		for _, n := range names {
			if n != "" && !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	add(r.Measure)
	add(r.Needs...)
	if r.Allowed != nil {
		add(r.Allowed.AtLeastMeasure, r.Allowed.AtMostMeasure)
	}
	for _, c := range r.When {
		add(c.Measure)
	}
	return out
}

// Fields lists the job fields that the rule's measure and its limits stand on.
func (r *Rule) Fields() []string {
	if r.fields != nil {
		return r.fields
	}
	var out []string
	for _, m := range r.Measures() {
		for _, f := range r.Kind.Def(m).Needs {
			if !slices.Contains(out, f) {
				out = append(out, f)
			}
		}
	}
	return out
}

// AllowedText writes what is allowed in words: "200 to 300 mm", "at least 30 mm".
func (r *Rule) AllowedText() string {
	if r.Allowed == nil {
		return r.Says
	}
	a, unit := r.Allowed, r.Def.Unit
	n := func(v float64) string { return measure.WithUnit(measure.FormatNumber(v), unit) }
	if len(a.Is) > 0 {
		words := make([]string, len(a.Is))
		for i, v := range a.Is {
			switch v := v.(type) {
			case bool:
				words[i] = "no"
				if v {
					words[i] = "yes"
				}
			case float64:
				words[i] = n(v)
			case string:
				words[i] = measure.Words(v)
			}
		}
		return strings.Join(words, " or ")
	}
	var parts []string
	lo, loOpen, hi, hiOpen := a.Range()
	switch {
	case lo == hi:
		parts = append(parts, "exactly "+n(lo))
	case !math.IsInf(lo, 0) && !math.IsInf(hi, 0) && !loOpen && !hiOpen:
		parts = append(parts, measure.FormatNumber(lo)+" to "+n(hi))
	default:
		if !math.IsInf(lo, 0) {
			parts = append(parts, pick(loOpen, "more than ", "at least ")+n(lo))
		}
		if !math.IsInf(hi, 0) {
			parts = append(parts, pick(hiOpen, "less than ", "at most ")+n(hi))
		}
	}
	if a.AtLeastMeasure != "" {
		parts = append(parts, "at least "+the(r.Kind.Def(a.AtLeastMeasure).Meaning))
	}
	if a.AtMostMeasure != "" {
		parts = append(parts, "at most "+the(r.Kind.Def(a.AtMostMeasure).Meaning))
	}
	return strings.Join(parts, ", ")
}

// the puts the article before a noun phrase that has none.
func the(phrase string) string {
	for _, article := range []string{"the ", "a ", "an ", "half "} {
		if strings.HasPrefix(phrase, article) {
			return phrase
		}
	}
	return "the " + phrase
}

func pick(c bool, a, b string) string {
	if c {
		return a
	}
	return b
}
