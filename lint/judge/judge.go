// Package judge evaluates policies. It is the only package that imports the
// policy engine.
//
// The rows of the rulebooks become data of one generic evaluator in Rego; rules
// that a row cannot say bring Rego of their own. All of them add to one set
// of findings. Verdicts that conform and rules that do not apply are made here from the same rows, and every finding
// of a row is held against a plain reading of the row: when the two differ, the rule is not judged, which is
// never taken for conformity.
package judge

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/open-policy-agent/opa/v1/ast"
	"github.com/open-policy-agent/opa/v1/metrics"
	"github.com/open-policy-agent/opa/v1/storage"
	"github.com/open-policy-agent/opa/v1/topdown"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/spare"
	"wetrule/lint/verdict"
)

const (
	query  = "data.wetrule.rules.findings"
	answer = "answer"
	// Steps is how many expressions one job may cost. A job of 40 items against the core rulebook costs some
	// thousands.
	Steps = 2_000_000
	// Deadline bounds the time that one job may take, for work inside a single built-in, which no step counts.
	Deadline = 10 * time.Second
)

// Options say how to prepare.
type Options struct {
	Steps int64 // 0 means Steps
	// Deadline bounds the evaluation of one job; 0 means Deadline.
	Deadline time.Duration
	// Zones are the zones that items are looked for in.
	Zones []geometry.ZoneSet
	// Plain turns rule indexing and early exit of the engine off and evaluates every row, for tests that hold what
	// makes evaluation fast against the plain way.
	Plain bool
}

// Engine judges jobs by rulebooks. It is safe for use by many goroutines.
type Engine struct {
	Rules   []*rulebook.Rule // in order of id
	rows    []*row           // of the rules
	plan    *measure.Plan
	number  map[string]int // of a rule, by id
	names   names
	reads   reads     // what Rego of its own looks at
	marks   []columns // the same, by number of the kind
	engine  evaluator
	spare   sync.Pool         // of *work
	modules []rulebook.Module // of the rulebooks, for isolation
	opts    Options
	data    func() map[string]any // of the rows
}

// evaluator is one prepared query.
type evaluator struct {
	compiler *ast.Compiler
	query    ast.Body
	store    storage.Store
	txn      storage.Transaction
}

// New prepares an engine. The rules are those to be judged; the modules are all Rego of their rulebooks.
// The error is jobfile.Problems when Rego is at fault.
func New(engineFile, engineText string, rules []*rulebook.Rule, modules []rulebook.Module, opts Options) (*Engine, error) {
	if opts.Steps == 0 {
		opts.Steps = Steps
	}
	if opts.Deadline == 0 {
		opts.Deadline = Deadline
	}
	e := &Engine{Rules: slices.Clone(rules), number: map[string]int{}, names: names{}, opts: opts}
	sort.SliceStable(e.Rules, func(i, j int) bool { return e.Rules[i].ID < e.Rules[j].ID })
	e.data = sync.OnceValue(func() map[string]any { return Data(e.Rules) })
	e.modules = append([]rulebook.Module{{File: engineFile, Text: engineText}}, modules...)
	var ev evaluator
	var err error
	var compiling sync.WaitGroup
	compiling.Go(func() {
		defer func() {
			if p := recover(); p != nil {
				err = fmt.Errorf("the policy engine broke off: %v", p)
			}
		}()
		ev, err = e.prepare(e.modules)
	})
	compiling.Wait()
	if err != nil {
		return nil, err
	}
	e.engine = ev
	e.reads = readsOf(ev.compiler, engineFile)
	var waits []measure.Wait
	needed := readsOf(ev.compiler, engineFile)
	for i, r := range e.Rules {
		e.number[r.ID] = i
		for _, m := range r.Measures() {
			needed.put(r.AppliesTo, m)
			if w, ok := measure.ParseWait(m); ok {
				w.Kind = r.AppliesTo
				waits = append(waits, w)
			}
		}
	}
	options := []measure.Option{measure.WithZones(opts.Zones...)}
	if !e.reads.all {
		options = append(options, measure.Only(needed.measures))
	}
	e.plan = measure.NewPlan(waits, options...)
	e.marks = make([]columns, len(measure.Names()))
	for _, k := range measure.Names() {
		kind := measure.Lookup(k)
		e.marks[kind.Number()] = e.reads.of(kind, e.plan.Defs(kind))
		e.names.add(k)
		for _, d := range measure.Lookup(k).Defs {
			e.names.add(d.Name)
			for _, v := range d.Values {
				e.names.add(v)
			}
		}
	}
	for _, w := range waits {
		e.names.add(w.Name())
	}
	e.rows = make([]*row, len(e.Rules))
	for i, r := range e.Rules {
		if e.rows[i], err = newRow(r, e.names, e.plan.Defs(r.Kind)); err != nil {
			return nil, err
		}
	}
	e.spare.New = func() any {
		return &work{said: make([]map[string]found, len(e.Rules)), tallies: make([]rulebook.Tally, len(e.Rules))}
	}
	return e, nil
}

// Capabilities are the built-ins that policies may use: an allow-list, so that
// nothing reaches the network, the clock, files or the environment, and nothing runs that cannot be stopped.
func Capabilities() *ast.Capabilities {
	caps := ast.CapabilitiesForThisVersion()
	caps.Builtins = slices.DeleteFunc(slices.Clone(caps.Builtins), func(b *ast.Builtin) bool { return !slices.Contains(builtins, b.Name) })
	caps.AllowNet = []string{}
	caps.Features = slices.DeleteFunc(slices.Clone(caps.Features), func(f string) bool { return f == "template_strings" || f == ast.FeatureTemplateStrings })
	return caps
}

var builtins = []string{
	"abs", "all", "and", "any", "array.concat", "array.flatten", "array.reverse", "array.slice", "assign", "ceil", "concat", "contains", "count", "div", "endswith", "eq", "equal", "floor",
	"format_int", "gt", "gte", "indexof", "internal.member_2", "internal.member_3", "internal.print", "internal.test_case", "intersection", "is_array", "is_boolean", "is_null", "is_number",
	"is_object", "is_set", "is_string", "lower", "lt", "lte", "max", "min", "minus", "mul", "neq", "numbers.range", "object.filter", "object.get", "object.keys", "object.remove", "object.union",
	"or", "plus", "print", "regex.match", "rem", "round", "sort", "split", "sprintf", "startswith", "substring", "sum", "to_number", "trim", "trim_left", "trim_prefix",
	"trim_right", "trim_space", "trim_suffix", "type_name", "union", "upper", "walk",
}

// Parse parses Rego with the capabilities of policies.
func Parse(m rulebook.Module, annotations bool) (*ast.Module, error) {
	parsed, err := ast.ParseModuleWithOpts(m.File, m.Text, ast.ParserOptions{RegoVersion: ast.RegoV1, Capabilities: Capabilities(), ProcessAnnotation: annotations})
	if err != nil {
		return nil, problems(err)
	}
	if err := bounded(parsed); err != nil {
		return nil, err
	}
	return parsed, nil
}

// problems turns errors of the policy engine into problems with places.
func problems(err error) error {
	var es ast.Errors
	if !errors.As(err, &es) {
		return err
	}
	var ps jobfile.Problems
	for _, e := range es {
		p := jobfile.Problem{Message: e.Message}
		if e.Location != nil {
			p.File, p.Line, p.Col = e.Location.File, e.Location.Row, e.Location.Col
		}
		ps = append(ps, p)
	}
	ps.Sort()
	return ps
}

// prepare compiles modules and prepares the query.
func (e *Engine) prepare(modules []rulebook.Module) (evaluator, error) {
	if err := boundedText(modules); err != nil {
		return evaluator{}, err
	}
	parsed := make(map[string]*ast.Module, len(modules))
	for _, m := range modules {
		p, err := Parse(m, false)
		if err != nil {
			return evaluator{}, err
		}
		parsed[m.File] = p
	}
	compiler := ast.NewCompiler().WithCapabilities(Capabilities()).WithStrict(true)
	if err := compile(compiler, parsed); err != nil {
		return evaluator{}, err
	}
	store := newLateStore(e.data)
	txn, err := store.NewTransaction(context.Background())
	if err != nil {
		return evaluator{}, err
	}
	body, err := compiler.QueryCompiler().Compile(ast.MustParseBody(query + " = " + answer))
	if err != nil {
		return evaluator{}, problems(err)
	}
	return evaluator{compiler, body, store, txn}, nil
}

// fuel bounds the steps of one evaluation in a way that does not depend on the machine, and
// carries the deadline.
type fuel struct {
	left    atomic.Int64
	stopped atomic.Bool
}

// Cancel stops the evaluation.
func (f *fuel) Cancel() { f.stopped.Store(true) }

// Cancelled is asked once an expression.
func (f *fuel) Cancelled() bool { return f.stopped.Load() || f.left.Add(-1) < 0 }

// found is what the policies said of one rule and subject.
type found uint8

const (
	foundNothing found = iota
	foundNonconforming
	foundUndetermined
)

// findings are what the policies said, by number of the rule and by subject.
type findings []map[string]found

// work is what judging one job needs and may be used again for the next one.
type work struct {
	reads    []rulebook.Read  // by rule and subject
	applying int              // how many of them are not absent
	limited  int              // how many of those have limits that are measures
	tallies  []rulebook.Tally // by rule; not set where there is no subject
	doubtful []doubt
	said     findings
	doubts   [ways][]*ast.Term
	terms    terms // of the input
}

// doubt is a row with a subject for which a finding is expected.
type doubt struct {
	rule, subject int
	read          rulebook.Read
}

// ErrTooLong says that policies took more time than they may, ErrTooManySteps that they took more steps.
var (
	ErrTooLong      = errors.New("the rules took too long")
	ErrTooManySteps = errors.New("the rules took too many steps")
)

// run evaluates the policies and adds what they say. It returns the steps that it took.
func (e *Engine) run(ctx context.Context, ev evaluator, input ast.Value, into findings) (steps int64, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the policy engine broke off: %v", p)
		}
	}()
	f := &fuel{}
	f.left.Store(e.opts.Steps)
	w := watched(e.opts.Deadline, f.Cancel, GiveUp)
	stop := context.AfterFunc(ctx, f.Cancel)
	defer stop()
	value, err := ev.evaluate(ctx, input, f, e.opts.Plain)
	why := w.done()
	steps = e.opts.Steps - f.left.Load()
	switch {
	case ctx.Err() != nil:
		return steps, ctx.Err()
	case err != nil && topdown.IsCancel(err) && why != nil:
		return steps, why
	case err != nil && topdown.IsCancel(err):
		return steps, ErrTooManySteps
	case err != nil:
		return steps, err
	case value == nil:
		return steps, errors.New("the policies gave no answer")
	}
	set, ok := value.(ast.Set)
	if !ok {
		return steps, errors.New("the policies gave something else than a set")
	}
	return steps, set.Iter(func(x *ast.Term) error { return e.take(x, into) })
}

// evaluate evaluates the prepared query on what policies see of a job, and nothing else. The value is nil when there is none.
func (ev evaluator) evaluate(ctx context.Context, input ast.Value, stop topdown.Cancel, plain bool) (value ast.Value, err error) {
	err = topdown.NewQuery(ev.query).WithCompiler(ev.compiler).WithStore(ev.store).WithTransaction(ev.txn).WithInput(ast.NewTerm(input)).
		WithCancel(stop).WithMetrics(metrics.NoOp()).WithStrictBuiltinErrors(true).WithIndexing(!plain).WithEarlyExit(!plain).
		Iter(ctx, func(r topdown.QueryResult) error {
			value = r[answer].Value
			return nil
		})
	return value, err
}

// take adds one finding of the policies.
func (e *Engine) take(x *ast.Term, into findings) error {
	tuple, _ := x.Value.(*ast.Array)
	if tuple == nil || tuple.Len() < 2 || tuple.Len() > 3 {
		return fmt.Errorf("a policy gave %v; expected [rule, subject, value] or [rule, subject]", x)
	}
	rule, ok1 := tuple.Elem(0).Value.(ast.String)
	subject, ok2 := tuple.Elem(1).Value.(ast.String)
	if !ok1 || !ok2 {
		return fmt.Errorf("a policy gave %v; expected texts for rule and subject", x)
	}
	what := foundUndetermined
	if tuple.Len() == 3 {
		what = foundNonconforming
	}
	n, known := e.number[string(rule)]
	if !known {
		return nil // a rule that is left out of this review
	}
	if into[n] == nil {
		into[n] = map[string]found{}
	}
	switch before := into[n][string(subject)]; {
	case before == foundNothing:
	case before != what && e.Rules[n].Rego:
		what = foundUndetermined // Rego of its own may have compared a value that is not there
	case before != what:
		what = foundNonconforming
	}
	into[n][string(subject)] = what
	return nil
}

// Judges says whether a rule is among those that are judged.
func (e *Engine) Judges(id string) bool { _, ok := e.number[id]; return ok }

// Memory is what reviews are made in, one at a time, by whatever engine.
type Memory struct {
	measured measure.Memory
	verdicts spare.Room[verdict.Verdict]
	limited  spare.Room[verdict.More]
}

// keptVerdicts bounds the memory that a large job leaves behind.
const keptVerdicts = 1 << 16

// Release takes back the memory of the review that was made in it. Neither its verdicts nor what was measured may be looked at any more.
func (m *Memory) Release() {
	m.measured.Release()
	m.verdicts.Clear(keptVerdicts)
	m.limited.Clear(keptVerdicts)
}

// Judge reviews one job that has been read and checked.
func (e *Engine) Judge(ctx context.Context, r *verdict.Review, job *jobfile.Job) error {
	return e.JudgeIn(ctx, &Memory{}, r, job)
}

// JudgeIn is Judge in memory that no other review is in.
func (e *Engine) JudgeIn(ctx context.Context, m *Memory, r *verdict.Review, job *jobfile.Job) error {
	return e.judge(ctx, m, r, e.plan.MeasureIn(&m.measured, job))
}

// judge reviews a job that has been measured.
func (e *Engine) judge(ctx context.Context, m *Memory, r *verdict.Review, set *measure.Set) error {
	w := e.spare.Get().(*work)
	defer e.spare.Put(w)
	for _, said := range w.said {
		clear(said)
	}
	r.Rules, r.Set = e.Rules, set
	e.assess(w, set)
	input := e.input(w, r)
	var broken map[string]string // rule id -> why it was not judged
	var err error
	if r.Steps, err = e.run(ctx, e.engine, input, w.said); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		broken = e.isolate(ctx, input, w.said, err)
	}
	e.assemble(w, m, r, broken)
	return nil
}

// assess reads every row against every subject of its kind.
func (e *Engine) assess(w *work, set *measure.Set) {
	w.reads, w.doubtful, w.applying, w.limited = w.reads[:0], w.doubtful[:0], 0, 0
	for k, row := range e.rows {
		t := set.Of(row.kind)
		if t == nil {
			continue
		}
		from, n := len(w.reads), len(t.Subjects)
		w.reads = slices.Grow(w.reads, n)[:from+n]
		reads := w.reads[from:]
		tally := row.Read(t, reads)
		w.tallies[k] = tally
		n -= tally[rulebook.Absent]
		w.applying += n
		if row.limited() {
			w.limited += n
		}
		if tally[rulebook.Breaks]+tally[rulebook.Unclear] == 0 {
			continue
		}
		for i, read := range reads {
			if read == rulebook.Breaks || read == rulebook.Unclear {
				w.doubtful = append(w.doubtful, doubt{k, i, read})
			}
		}
	}
}

// isolate evaluates the rows, and then the Rego of each module, apart, so that a rule
// that breaks off does not take the others down.
func (e *Engine) isolate(ctx context.Context, input ast.Value, said findings, whole error) map[string]string {
	clear(said)
	broken := map[string]string{}
	own := map[string]bool{}
	for _, r := range e.Rules {
		if r.Rego {
			own[r.ID] = true
		}
	}
	blame := func(ids map[string]bool, err error) {
		for id := range ids {
			broken[id] = err.Error()
		}
	}
	// Each of many files may run away; together they get no more time than two jobs.
	spent := after(2 * e.opts.Deadline)
	try := func(modules []rulebook.Module, ids map[string]bool) {
		if spent() {
			blame(ids, ErrTooLong)
			return
		}
		ev, err := e.prepare(modules)
		if err == nil {
			_, err = e.run(ctx, ev, input, said)
		}
		if err != nil {
			blame(ids, err)
		}
	}
	rows := map[string]bool{}
	for _, r := range e.Rules {
		if !r.Rego {
			rows[r.ID] = true
		}
	}
	try(e.modules[:1], rows)
	if len(e.modules) == 1 {
		return broken
	}
	// Rego of its own is laid beside the rows one file at a time; a rule is blamed when a file that names it breaks off.
	claimed := map[string]bool{}
	for _, m := range e.modules[1:] {
		ids := map[string]bool{}
		for id := range own {
			if strings.Contains(m.Text, `"`+id+`"`) {
				ids[id], claimed[id] = true, true
			}
		}
		if len(ids) > 0 {
			try([]rulebook.Module{e.modules[0], m}, ids)
		}
	}
	for id := range own {
		if !claimed[id] {
			broken[id] = whole.Error()
		}
	}
	return broken
}

// assemble makes the verdicts from what the policies said and from the rows.
func (e *Engine) assemble(w *work, m *Memory, r *verdict.Review, broken map[string]string) {
	out := verdicts{list: m.verdicts.Cut(w.applying)[:0], more: m.limited.Cut(w.limited)[:0]}
	rest := w.reads
	for n, row := range e.rows {
		t := r.Set.Of(row.kind)
		if t == nil {
			out.counts[verdict.NotApplicable]++
			continue
		}
		reads := rest[:len(t.Subjects)]
		rest = rest[len(reads):]
		said, tally := w.said[n], &w.tallies[n]
		inForce := row.inForce == nil || row.inForce.Contains(r.On)
		why, bad := "", false
		if len(broken) > 0 {
			why, bad = broken[row.rule.ID]
		}
		if len(said) == 0 && inForce && !bad && tally[rulebook.Breaks]+tally[rulebook.Unclear] == 0 {
			// As most rules are: nothing is found, so that the reading of the row tells.
			absent := tally[rulebook.Absent]
			if n := len(reads) - absent; n > 0 {
				out.conforming(row, t, reads, n)
			}
			out.counts[verdict.NotApplicable] += absent
			continue
		}
		limits := row.Limits(t)
		for i, read := range reads {
			f := foundNothing
			if len(said) > 0 {
				f = said[t.Subjects[i].ID]
			}
			result, reason := outcome(read, f, row.rule.From <= r.Stage)
			switch {
			case result == verdict.NotApplicable:
			case !inForce:
				result, reason = verdict.NotInForce, ""
			case bad:
				result, reason = verdict.NotJudged, why
			}
			out.counts[result]++
			if result == verdict.NotApplicable {
				continue
			}
			v := out.add(row, t, i)
			if v.Outcome = result; reason != "" || row.limited() {
				out.limit(v, reason, &limits, i, read != rulebook.Absent)
			}
		}
	}
	r.Verdicts = out.list
	for i, n := range out.counts {
		r.Counts[i] += n
	}
}

// verdicts are those of a review that is being judged.
type verdicts struct {
	list   []verdict.Verdict
	more   []verdict.More // what few of them have
	counts [verdict.NotApplicable + 1]int
}

// add adds the verdict of a subject. It conforms until somebody says otherwise.
func (vs *verdicts) add(row *row, t *measure.Table, i int) *verdict.Verdict {
	vs.list = append(vs.list, verdict.Verdict{Rule: row.rule, Subject: &t.Subjects[i], Value: &t.Columns[row.Value][i]})
	return &vs.list[len(vs.list)-1]
}

// limit gives a verdict limits of its own, and the reason why it is not judged.
func (vs *verdicts) limit(v *verdict.Verdict, reason string, limits *rulebook.Limits, i int, applies bool) {
	more := verdict.More{Reason: reason, Lo: math.Inf(-1), Hi: math.Inf(1)}
	if applies {
		more.Lo, more.Hi = limits.Of(i)
	}
	vs.more = append(vs.more, more)
	v.SetMore(&vs.more[len(vs.more)-1])
}

// conforming adds the verdicts of a row that all its subjects conform to, but for those that it does not apply to: n of them.
func (vs *verdicts) conforming(row *row, t *measure.Table, reads []rulebook.Read, n int) {
	from := len(vs.list)
	vs.list = slices.Grow(vs.list, n)[:from+n]
	vs.counts[verdict.Conforms] += n
	list := vs.list[from:]
	rule, subjects, values := row.rule, t.Subjects[:len(reads)], t.Columns[row.Value][:len(reads)]
	if n == len(reads) {
		for i := range list {
			list[i] = verdict.Verdict{Rule: rule, Subject: &subjects[i], Value: &values[i]}
		}
	} else {
		rest := list
		for i, read := range reads {
			if read != rulebook.Absent {
				rest[0] = verdict.Verdict{Rule: rule, Subject: &subjects[i], Value: &values[i]}
				rest = rest[1:]
			}
		}
	}
	if !row.limited() {
		return
	}
	limits := row.Limits(t)
	for i, read := range reads {
		if read != rulebook.Absent {
			vs.limit(&list[0], "", &limits, i, true)
			list = list[1:]
		}
	}
}

// outcome joins what the policies said with the plain reading of the row. Before the
// stage from which a rule asks for facts, it does not apply where they are missing.
func outcome(read rulebook.Read, f found, asked bool) (verdict.Outcome, string) {
	expected := foundNothing
	switch read {
	case rulebook.Breaks:
		expected = foundNonconforming
	case rulebook.Unclear:
		expected = foundUndetermined
	case rulebook.Own:
		// The row says whether the rule applies; what it finds, only Rego knows.
		expected = f
	}
	if expected == foundUndetermined && !asked {
		// Rego of its own may have compared what is not there.
		return verdict.NotApplicable, ""
	}
	switch {
	case expected != f:
		return verdict.NotJudged, "the policies and the row do not agree"
	case f == foundNonconforming:
		return verdict.Nonconforming, ""
	case f == foundUndetermined:
		return verdict.Undetermined, ""
	case read == rulebook.Absent:
		return verdict.NotApplicable, ""
	}
	return verdict.Conforms, ""
}
