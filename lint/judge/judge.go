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
	"sync/atomic"
	"time"

	"github.com/open-policy-agent/opa/v1/ast"
	"github.com/open-policy-agent/opa/v1/metrics"
	"github.com/open-policy-agent/opa/v1/rego"
	"github.com/open-policy-agent/opa/v1/storage"
	"github.com/open-policy-agent/opa/v1/storage/inmem"
	"github.com/open-policy-agent/opa/v1/topdown"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

const (
	query = "data.wetrule.rules.findings"
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
	plan    *measure.Plan
	byID    map[string]*rulebook.Rule
	names   names
	checks  *checks
	engine  evaluator
	modules []rulebook.Module // of the rulebooks, for isolation
	opts    Options
	data    map[string]any
}

// evaluator is one prepared query.
type evaluator struct {
	q   rego.PreparedEvalQuery
	txn storage.Transaction
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
	e := &Engine{Rules: slices.Clone(rules), byID: map[string]*rulebook.Rule{}, names: names{}, opts: opts}
	sort.SliceStable(e.Rules, func(i, j int) bool { return e.Rules[i].ID < e.Rules[j].ID })
	var waits []measure.Wait
	for _, r := range e.Rules {
		e.byID[r.ID] = r
		for _, m := range r.Measures() {
			if w, ok := measure.ParseWait(m); ok {
				w.Kind = r.AppliesTo
				waits = append(waits, w)
			}
		}
	}
	e.plan = measure.NewPlan(waits, measure.WithZones(opts.Zones...))
	for _, k := range measure.Names() {
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
	for _, c := range comparisons {
		e.names.add(string(c))
	}
	e.checks = newChecks(e.Rules)
	e.data = Data(e.Rules)
	e.modules = append([]rulebook.Module{{File: engineFile, Text: engineText}}, modules...)
	ev, err := e.prepare(e.modules)
	if err != nil {
		return nil, err
	}
	e.engine = ev
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
	store := inmem.NewFromObjectWithOpts(e.data, inmem.OptRoundTripOnWrite(true), inmem.OptReturnASTValuesOnRead(true))
	ctx := context.Background()
	txn, err := store.NewTransaction(ctx)
	if err != nil {
		return evaluator{}, err
	}
	q, err := rego.New(rego.Query(query), rego.Compiler(compiler), rego.Store(store), rego.Transaction(txn), rego.StrictBuiltinErrors(true)).PrepareForEval(ctx)
	if err != nil {
		return evaluator{}, problems(err)
	}
	return evaluator{q, txn}, nil
}

// Data makes the data of the generic evaluator from rows: see policies/engine/engine.rego.
func Data(rules []*rulebook.Rule) map[string]any {
	checks := map[string]any{}
	needing := make([]any, len(rulebook.Stages())) // by stage, those that are asked for by then
	for i := range needing {
		needing[i] = map[string]any{}
	}
	list := func(m map[string]any, keys ...string) func(any) {
		for _, k := range keys[:len(keys)-1] {
			if m[k] == nil {
				m[k] = map[string]any{}
			}
			m = m[k].(map[string]any)
		}
		last := keys[len(keys)-1]
		return func(x any) {
			l, _ := m[last].([]any)
			m[last] = append(l, x)
		}
	}
	for _, c := range newChecks(rules).list {
		list(checks, string(c.comparison), c.kind)(c.data)
	}
	for _, r := range rules {
		when := conditions(r)
		arising := []any{r.Measure}
		need := map[string]any{"id": r.ID, "measure": r.Measure, "when": when, "decides": true}
		deciding := append([]string{r.Measure}, r.Needs...)
		inDoubt := map[string]any{"id": r.ID, "measure": r.Measure, "when": when, "decides": false}
		if a := r.Allowed; a != nil {
			lo, loOpen, hi, hiOpen := a.Range()
			if len(a.Is) > 0 {
				inDoubt["is"] = a.Is
			} else {
				inDoubt["low"], inDoubt["high"], inDoubt["low_open"], inDoubt["high_open"] = finite(lo), finite(hi), loOpen, hiOpen
				inDoubt["lowers"], inDoubt["uppers"] = named(a.AtLeastMeasure), named(a.AtMostMeasure)
			}
			arising = append(arising, limits(a)...)
			for _, m := range limits(a) {
				deciding = append(deciding, m.(string))
			}
		}
		need["arising"], inDoubt["arising"] = arising, arising
		seen := map[string]bool{}
		ask := func(m string, entry any) {
			if !seen[m] {
				seen[m] = true
				for stage := int(r.From); stage < len(needing); stage++ {
					list(needing[stage].(map[string]any), r.AppliesTo, m)(entry)
				}
			}
		}
		for _, m := range deciding {
			ask(m, need)
		}
		for _, c := range r.When {
			ask(c.Measure, inDoubt)
		}
	}
	return map[string]any{"wetrule": map[string]any{"checks": checks, "needing": needing}}
}

const farAway = 1e15 // stands for no limit; no measured value comes near it

func bound(p *float64, sign float64) float64 {
	if p == nil {
		return sign * farAway
	}
	return *p
}

func finite(v float64) float64 { return math.Max(-farAway, math.Min(farAway, v)) }

func limits(a *rulebook.Allowed) []any {
	return append(named(a.AtLeastMeasure), named(a.AtMostMeasure)...)
}

func named(m string) []any {
	if m == "" {
		return []any{}
	}
	return []any{m}
}

func pick[T any](c bool, a, b T) T {
	if c {
		return a
	}
	return b
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

// findings are what the policies said, by rule and subject.
type findings map[string]map[string]found

// ErrTooLong says that policies took more time than they may, ErrTooManySteps that they took more steps.
var (
	ErrTooLong      = errors.New("the rules took too long")
	ErrTooManySteps = errors.New("the rules took too many steps")
)

func (e *Engine) run(ctx context.Context, ev evaluator, input ast.Value, into findings) (err error) {
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
	rs, err := ev.q.Eval(ctx, rego.EvalParsedInput(input), rego.EvalTransaction(ev.txn), rego.EvalExternalCancel(f), rego.EvalMetrics(metrics.NoOp()),
		rego.EvalRuleIndexing(!e.opts.Plain), rego.EvalEarlyExit(!e.opts.Plain))
	why := w.done()
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case err != nil && topdown.IsCancel(err) && why != nil:
		return why
	case err != nil && topdown.IsCancel(err):
		return ErrTooManySteps
	case err != nil:
		return err
	case len(rs) == 0 || len(rs[0].Expressions) == 0:
		return errors.New("the policies gave no answer")
	}
	list, ok := rs[0].Expressions[0].Value.([]any)
	if !ok {
		return errors.New("the policies gave something else than a set")
	}
	for _, x := range list {
		tuple, _ := x.([]any)
		if len(tuple) < 2 || len(tuple) > 3 {
			return fmt.Errorf("a policy gave %v; expected [rule, subject, value] or [rule, subject]", x)
		}
		rule, ok1 := tuple[0].(string)
		subject, ok2 := tuple[1].(string)
		if !ok1 || !ok2 {
			return fmt.Errorf("a policy gave %v; expected texts for rule and subject", x)
		}
		what := foundUndetermined
		if len(tuple) == 3 {
			what = foundNonconforming
		}
		r := e.byID[rule]
		if r == nil {
			continue // a rule that is left out of this review
		}
		of := into[rule]
		if of == nil {
			of = map[string]found{}
			into[rule] = of
		}
		switch before := of[subject]; {
		case before == foundNothing:
			of[subject] = what
		case before != what && r.Rego:
			// Rego of its own may have compared a value that is not there.
			of[subject] = foundUndetermined
		case before != what:
			of[subject] = foundNonconforming
		}
	}
	return nil
}

// Judges says whether a rule is among those that are judged.
func (e *Engine) Judges(id string) bool { return e.byID[id] != nil }

// Judge reviews one job that has been read and checked.
func (e *Engine) Judge(ctx context.Context, r *verdict.Review, job *jobfile.Job) error {
	r.Rules = e.Rules
	r.Set = e.plan.Measure(job)
	doubts := e.checks
	if e.opts.Plain {
		doubts = nil
	}
	input := e.names.input(r.Set, r.Stage, doubts)
	said := findings{}
	broken := map[string]string{} // rulebook rule id -> why it was not judged
	if err := e.run(ctx, e.engine, input, said); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		e.isolate(ctx, input, said, broken, err)
	}
	e.assemble(r, said, broken)
	return nil
}

// isolate evaluates the rows, and then the Rego of each module, apart, so that a rule
// that breaks off does not take the others down.
func (e *Engine) isolate(ctx context.Context, input ast.Value, said findings, broken map[string]string, whole error) {
	clear(said)
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
	until := time.Now().Add(2 * e.opts.Deadline)
	try := func(modules []rulebook.Module, ids map[string]bool) {
		if time.Now().After(until) {
			blame(ids, ErrTooLong)
			return
		}
		ev, err := e.prepare(modules)
		if err == nil {
			err = e.run(ctx, ev, input, said)
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
		return
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
}

// assemble makes the verdicts from what the policies said and from the rows.
func (e *Engine) assemble(r *verdict.Review, said findings, broken map[string]string) {
	n := 0
	for _, rule := range e.Rules {
		if t := r.Set.Table(rule.AppliesTo); t != nil {
			n += len(t.Subjects)
		}
	}
	r.Verdicts = make([]verdict.Verdict, 0, n/2)
	for _, rule := range e.Rules {
		t := r.Set.Table(rule.AppliesTo)
		if t == nil {
			r.Counts[verdict.NotApplicable]++
			continue
		}
		inForce := rule.InForce == nil || rule.InForce.Contains(r.On)
		reading, of := rule.Read(t), said[rule.ID]
		why, bad := broken[rule.ID]
		for i := range t.Subjects {
			a := reading.Assess(i)
			f := foundNothing
			if of != nil {
				f = of[t.Subjects[i].ID]
			}
			v := verdict.Verdict{Rule: rule, Subject: &t.Subjects[i], Value: a.Value, Lo: a.Lo, Hi: a.Hi, Margin: a.Margin}
			if v.HasMargin() {
				v.Margin = geometry.RoundMM(v.Margin)
			}
			v.Outcome, v.Reason = outcome(rule, a, f, rule.From <= r.Stage)
			switch {
			case v.Outcome == verdict.NotApplicable:
			case !inForce:
				v.Outcome, v.Reason = verdict.NotInForce, ""
			case bad:
				v.Outcome, v.Reason = verdict.NotJudged, why
			}
			r.Counts[v.Outcome]++
			if v.Outcome != verdict.NotApplicable {
				r.Verdicts = append(r.Verdicts, v)
			}
		}
	}
}

// outcome joins what the policies said with the plain reading of the row. Before the
// stage from which a rule asks for facts, it does not apply where they are missing.
func outcome(rule *rulebook.Rule, a rulebook.Assessment, f found, asked bool) (verdict.Outcome, string) {
	var plain found
	switch {
	case a.Applies == rulebook.False:
	case rule.Rego && (a.Applies == rulebook.Unsure || a.Kept == rulebook.Unsure):
		plain = foundUndetermined
	case rule.Rego:
		// The row says whether the rule applies; what it finds, only Rego knows.
		plain = f
	case a.Applies == rulebook.True && a.Kept == rulebook.False:
		plain = foundNonconforming
	case a.Kept != rulebook.True:
		plain = foundUndetermined
	}
	if plain == foundUndetermined && !asked {
		// Rego of its own may have compared what is not there.
		return verdict.NotApplicable, ""
	}
	switch {
	case plain != f:
		return verdict.NotJudged, "the policies and the row do not agree"
	case f == foundNonconforming:
		return verdict.Nonconforming, ""
	case f == foundUndetermined:
		return verdict.Undetermined, ""
	case a.Applies == rulebook.False:
		return verdict.NotApplicable, ""
	}
	return verdict.Conforms, ""
}
