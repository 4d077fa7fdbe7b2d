package judge

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sync/atomic"

	"github.com/open-policy-agent/opa/v1/ast"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// The ways in which a cell, a row with one subject, can be in doubt, by their names in policies/engine/engine.rego: by what it compares, or because
// a measure that decides, or a measure of a condition, is not known.
const (
	atLeast = iota
	above
	atMost
	below
	oneOf
	atLeastMeasure
	atMostMeasure
	deciding
	applying
	ways
)

var wayNames = [ways]string{"at_least", "above", "at_most", "below", "is", "at_least_measure", "at_most_measure", "deciding", "applying"}

// row is a rule as the evaluator takes it.
type row struct {
	rule     *rulebook.Rule
	compares []*rowData
	decide   []asks   // the measures that decide
	when     []asks   // the other measures, those of conditions alone
	measures []string // all of them
	looked   []string // those that a comparison looks up in the columns beside the value

	// where they stand among the columns of the plan
	columns              rulebook.Columns
	atMeasures, atLooked []int
}

// place finds the columns of the row among those of a plan.
func (r *row) place(defs []*measure.Def) error {
	var ok bool
	if r.columns, ok = r.rule.Columns(defs); !ok {
		return fmt.Errorf("the rule %s reads a measure that is not taken", r.rule.ID)
	}
	at := func(name string) int {
		return slices.IndexFunc(defs, func(d *measure.Def) bool { return d.Name == name })
	}
	for _, m := range r.measures {
		r.atMeasures = append(r.atMeasures, at(m))
	}
	for _, m := range r.looked {
		r.atLooked = append(r.atLooked, at(m))
	}
	for _, asked := range [][]asks{r.decide, r.when} {
		for i := range asked {
			asked[i].at = at(asked[i].measure)
		}
	}
	return nil
}

// asks is a row as it is looked at when a measure is not known.
type asks struct {
	measure string
	at      int // its column
	*rowData
}

// rowData is a row in the data of the evaluator.
type rowData struct {
	way  int // that of a comparison
	data map[string]any
	made atomic.Pointer[ast.Term]
}

// term makes the term when a job first leaves its row in doubt; jobs share it.
func (d *rowData) term() *ast.Term {
	if t := d.made.Load(); t != nil {
		return t
	}
	t := ast.NewTerm(ast.MustInterfaceToValue(d.data))
	d.made.Store(t)
	return t
}

func newRows(rules []*rulebook.Rule) []*row {
	rows := make([]*row, len(rules))
	for i, r := range rules {
		rows[i] = newRow(r)
	}
	return rows
}

func newRow(r *rulebook.Rule) *row {
	out := &row{rule: r}
	var limits []string
	add := func(more map[string]any, arising []any) *rowData {
		more["id"], more["kind"], more["measure"], more["when"], more["arising"] = r.ID, r.AppliesTo, r.Measure, conditions(r), arising
		if len(r.When) == 0 && len(arising) == 0 {
			more["always"] = true
		}
		return &rowData{data: more}
	}
	ask := map[string]any{"from": int(r.From)}
	if a := r.Allowed; a != nil {
		for _, m := range []string{a.AtLeastMeasure, a.AtMostMeasure} {
			if m != "" {
				limits = append(limits, m)
			}
		}
		compare := func(way int, key string, limit any) {
			d := add(map[string]any{key: limit}, givenNames(limits...))
			d.way = way
			out.compares = append(out.compares, d)
		}
		if lo, loOpen, hi, hiOpen := a.Range(); len(a.Is) > 0 {
			ask["is"] = a.Is
			compare(oneOf, "is", a.Is)
		} else {
			ask["low"], ask["high"], ask["low_open"], ask["high_open"] = finite(lo), finite(hi), loOpen, hiOpen
			ask["lowers"], ask["uppers"] = givenNames(a.AtLeastMeasure), givenNames(a.AtMostMeasure)
			if !math.IsInf(lo, 0) {
				compare(pick(loOpen, above, atLeast), "limit", lo)
			}
			if !math.IsInf(hi, 0) {
				compare(pick(hiOpen, below, atMost), "limit", hi)
			}
			if a.AtLeastMeasure != "" {
				compare(atLeastMeasure, "limit", a.AtLeastMeasure)
			}
			if a.AtMostMeasure != "" {
				compare(atMostMeasure, "limit", a.AtMostMeasure)
			}
		}
	}
	arising := append([]string{r.Measure}, limits...)
	for _, m := range append(slices.Concat(arising[:1], r.Needs), limits...) {
		if !slices.ContainsFunc(out.decide, func(a asks) bool { return a.measure == m }) {
			// What is not known arises.
			others := slices.DeleteFunc(slices.Clone(arising), func(o string) bool { return o == m })
			out.decide = append(out.decide, asks{m, -1, add(maps.Clone(ask), givenNames(others...))})
		}
	}
	for _, m := range r.Measures() {
		if !slices.ContainsFunc(out.decide, func(a asks) bool { return a.measure == m }) {
			out.when = append(out.when, asks{m, -1, add(maps.Clone(ask), givenNames(arising...))})
		}
	}
	out.measures, out.looked = r.Measures(), slices.Clone(limits)
	for _, c := range r.When {
		out.looked = append(out.looked, c.Measure)
	}
	return out
}

// Data makes the data of the generic evaluator from rows: see policies/engine/engine.rego.
func Data(rules []*rulebook.Rule) map[string]any { return dataOf(newRows(rules)) }

func dataOf(rows []*row) map[string]any {
	checks, decides, applies := map[string]any{}, map[string]any{}, map[string]any{}
	put := func(m map[string]any, a, b string, x any) {
		inner, _ := m[a].(map[string]any)
		if inner == nil {
			inner = map[string]any{}
			m[a] = inner
		}
		l, _ := inner[b].([]any)
		inner[b] = append(l, x)
	}
	for _, row := range rows {
		kind := row.rule.AppliesTo
		for _, c := range row.compares {
			put(checks, wayNames[c.way], kind, c.data)
		}
		for _, a := range row.decide {
			put(decides, kind, a.measure, a.data)
		}
		for _, a := range row.when {
			put(applies, kind, a.measure, a.data)
		}
	}
	return map[string]any{"wetrule": map[string]any{"checks": checks, "needing": map[string]any{wayNames[deciding]: decides, wayNames[applying]: applies}}}
}

// conditions are the conditions of a row as the evaluator takes them.
func conditions(r *rulebook.Rule) []any {
	out := []any{}
	for _, c := range r.When {
		w := map[string]any{"measure": c.Measure}
		if len(c.Is) > 0 {
			w["is"] = c.Is
		} else {
			w["low"], w["high"] = bound(c.AtLeast, -1), bound(c.AtMost, 1)
		}
		out = append(out, w)
	}
	return out
}

const farAway = 1e15 // stands for no limit; no measured value comes near it

func bound(p *float64, sign float64) float64 {
	if p == nil {
		return sign * farAway
	}
	return *p
}

func finite(v float64) float64 { return math.Max(-farAway, math.Min(farAway, v)) }

// givenNames is a list of those names that are given.
func givenNames(names ...string) []any {
	out := []any{}
	for _, n := range names {
		if n != "" {
			out = append(out, n)
		}
	}
	return out
}

func pick[T any](c bool, a, b T) T {
	if c {
		return a
	}
	return b
}
