package judge

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sync"

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
	conditional
	deciding
	decidingPerhaps
	applying
	ways
)

var wayNames = [ways]string{"at_least", "above", "at_most", "below", "is", "conditional", "deciding", "deciding_perhaps", "applying"}

// row is a rule with the places of what it reads among the columns of the plan.
type row struct {
	rule    *rulebook.Rule
	kind    *measure.Kind
	inForce *rulebook.Period
	rulebook.Columns
	decide  []int // the measures that decide: the value, what Rego needs, the limits
	arising []int // those of them that must arise: the value and the limits
	terms   func() *rowTerms
}

// limited says whether limits of the row are measures.
func (r *row) limited() bool { return r.Lower >= 0 || r.Upper >= 0 }

// rowTerms are the terms of a row, which jobs share. They are made when a job first leaves the row in doubt.
type rowTerms struct {
	id         *ast.Term
	low, high  *ast.Term   // the limits that the row itself says
	allowed    *ast.Term   // the list of allowed values
	asked      *ast.Term   // what the conditions ask for; nil when one allows more than one value
	conditions []*ast.Term // each for itself
	itself     *ast.Term   // what it says of the value
}

// newRow finds the columns of a row among those of a plan.
func newRow(r *rulebook.Rule, n names, defs []*measure.Def) (*row, error) {
	out := &row{rule: r, kind: r.Kind, inForce: r.InForce}
	var ok bool
	if out.Columns, ok = r.Columns(defs); !ok {
		return nil, fmt.Errorf("the rule %s reads a measure that is not taken", r.ID)
	}
	out.arising = []int{out.Value}
	for _, limit := range [...]int{out.Lower, out.Upper} {
		if limit >= 0 {
			out.arising = append(out.arising, limit)
		}
	}
	out.decide = slices.Concat(out.arising[:1], out.Needs, out.arising[1:])
	out.terms = sync.OnceValue(func() *rowTerms { return newTerms(r, n) })
	return out, nil
}

func newTerms(r *rulebook.Rule, n names) *rowTerms {
	t := &rowTerms{id: ast.StringTerm(r.ID), itself: ast.NewTerm(ast.MustInterfaceToValue(saysOf(r)))}
	if a := r.Allowed; a != nil && len(a.Is) > 0 {
		t.allowed = n.list(a.Is)
	} else if a != nil {
		lo, _, hi, _ := a.Range()
		t.low, t.high = numberTerm(finite(lo)), numberTerm(finite(hi))
	}
	var asked []any
	for _, c := range r.When {
		asked = append(asked, c.Is...)
	}
	if !slices.ContainsFunc(r.When, func(c rulebook.Condition) bool { return len(c.Is) != 1 }) {
		t.asked = n.list(asked)
	}
	for _, c := range conditions(r) {
		t.conditions = append(t.conditions, ast.NewTerm(ast.MustInterfaceToValue(c)))
	}
	return t
}

// check is a row in the data of the evaluator, by a name: of a comparison, or of a measure that may not be known.
type check struct {
	name string
	data map[string]any
}

// checksOf are the comparisons of a row, and the row for each measure that decides and for each other measure, those of conditions alone.
func checksOf(r *rulebook.Rule) (compares, decide, when []check) {
	var limits []string
	add := func(to *[]check, name string, more map[string]any, arising []any) {
		more["id"], more["kind"], more["measure"], more["when"], more["arising"] = r.ID, r.AppliesTo, r.Measure, conditions(r), arising
		if len(r.When) == 0 && len(arising) == 0 {
			more["always"] = true
		}
		*to = append(*to, check{name, more})
	}
	ask := saysOf(r)
	ask["from"] = int(r.From)
	if a := r.Allowed; a != nil {
		for _, m := range []string{a.AtLeastMeasure, a.AtMostMeasure} {
			if m != "" {
				limits = append(limits, m)
			}
		}
		compare := func(name, key string, limit any) {
			add(&compares, name, map[string]any{key: limit}, givenNames(limits...))
		}
		if lo, loOpen, hi, hiOpen := a.Range(); len(a.Is) > 0 {
			compare("is", "is", a.Is)
		} else {
			ask["lowers"], ask["uppers"] = givenNames(a.AtLeastMeasure), givenNames(a.AtMostMeasure)
			if !math.IsInf(lo, 0) {
				compare(pick(loOpen, "above", "at_least"), "limit", lo)
			}
			if !math.IsInf(hi, 0) {
				compare(pick(hiOpen, "below", "at_most"), "limit", hi)
			}
			if a.AtLeastMeasure != "" {
				compare("at_least_measure", "limit", a.AtLeastMeasure)
			}
			if a.AtMostMeasure != "" {
				compare("at_most_measure", "limit", a.AtMostMeasure)
			}
		}
	}
	has := func(list []check, m string) bool {
		return slices.ContainsFunc(list, func(c check) bool { return c.name == m })
	}
	arising := append([]string{r.Measure}, limits...)
	for _, m := range append(slices.Concat(arising[:1], r.Needs), limits...) {
		if !has(decide, m) {
			// What is not known arises.
			others := slices.DeleteFunc(slices.Clone(arising), func(o string) bool { return o == m })
			add(&decide, m, maps.Clone(ask), givenNames(others...))
		}
	}
	for _, m := range r.Measures() {
		if !has(decide, m) {
			add(&when, m, maps.Clone(ask), givenNames(arising...))
		}
	}
	return compares, decide, when
}

// saysOf is what a row itself says of the value.
func saysOf(r *rulebook.Rule) map[string]any {
	a := r.Allowed
	if a == nil {
		return map[string]any{}
	}
	if len(a.Is) > 0 {
		return map[string]any{"is": a.Is}
	}
	lo, loOpen, hi, hiOpen := a.Range()
	return map[string]any{"low": finite(lo), "high": finite(hi), "low_open": loOpen, "high_open": hiOpen}
}

// Data makes the data of the generic evaluator from rows: see policies/engine/engine.rego.
func Data(rules []*rulebook.Rule) map[string]any {
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
	for _, r := range rules {
		compares, decide, when := checksOf(r)
		for _, c := range compares {
			put(checks, c.name, r.AppliesTo, c.data)
		}
		for _, c := range decide {
			put(decides, r.AppliesTo, c.name, c.data)
		}
		for _, c := range when {
			put(applies, r.AppliesTo, c.name, c.data)
		}
	}
	return map[string]any{"wetrule": map[string]any{"checks": checks, "needing": map[string]any{"deciding": decides, "applying": applies}}}
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
