package judge

import (
	"math"

	"github.com/open-policy-agent/opa/v1/ast"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// comparison is one way in which a row compares, by its name in the data of the evaluator.
type comparison string

const (
	atLeast        comparison = "at_least"
	above          comparison = "above"
	atMost         comparison = "at_most"
	below          comparison = "below"
	oneOf          comparison = "is"
	atLeastMeasure comparison = "at_least_measure"
	atMostMeasure  comparison = "at_most_measure"
)

var comparisons = []comparison{atLeast, above, atMost, below, oneOf, atLeastMeasure, atMostMeasure}

// check is one comparison of one row.
type check struct {
	comparison comparison
	kind       string
	rule       *rulebook.Rule
	data       map[string]any
	term       *ast.Term
}

// checks are all comparisons of the rows, by comparison and kind.
type checks struct {
	list   []*check
	rules  []*rulebook.Rule // those that have comparisons
	byKind map[comparison]map[string][]*check
}

func newChecks(rules []*rulebook.Rule) *checks {
	cs := &checks{byKind: map[comparison]map[string][]*check{}}
	for _, r := range rules {
		a := r.Allowed
		if a == nil {
			continue
		}
		cs.rules = append(cs.rules, r)
		add := func(c comparison, limit any) {
			key := "limit"
			if c == oneOf {
				key = "is"
			}
			cs.list = append(cs.list, &check{comparison: c, kind: r.AppliesTo, rule: r,
				data: map[string]any{"id": r.ID, "measure": r.Measure, key: limit, "when": conditions(r), "arising": limits(a)}})
		}
		if len(a.Is) > 0 {
			add(oneOf, a.Is)
			continue
		}
		lo, loOpen, hi, hiOpen := a.Range()
		if !math.IsInf(lo, 0) {
			add(pick(loOpen, above, atLeast), lo)
		}
		if !math.IsInf(hi, 0) {
			add(pick(hiOpen, below, atMost), hi)
		}
		if a.AtLeastMeasure != "" {
			add(atLeastMeasure, a.AtLeastMeasure)
		}
		if a.AtMostMeasure != "" {
			add(atMostMeasure, a.AtMostMeasure)
		}
	}
	for _, c := range cs.list {
		if cs.byKind[c.comparison] == nil {
			cs.byKind[c.comparison] = map[string][]*check{}
		}
		cs.byKind[c.comparison][c.kind] = append(cs.byKind[c.comparison][c.kind], c)
		c.term = ast.NewTerm(ast.MustInterfaceToValue(c.data))
	}
	return cs
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

// inDoubt picks the comparisons that a job leaves in doubt: those for which some value lies outside the limit and no
// condition is known not to hold. It is an index into the rows, made from the rows, as a database makes one; what the picked
// rows find is said by the policies. Without it the policies look at every row, and tests demand the same findings.
func (cs *checks) inDoubt(n names, set *measure.Set) *ast.Term {
	doubtful := map[*rulebook.Rule]bool{}
	for _, r := range cs.rules {
		t := set.Table(r.AppliesTo)
		if t == nil {
			continue
		}
		d := r.Read(t)
		for i := range t.Subjects {
			if d.InDoubt(i) {
				doubtful[r] = true
				break
			}
		}
	}
	picked := make([][2]*ast.Term, 0, len(comparisons))
	for _, comparison := range comparisons {
		if len(doubtful) == 0 {
			break
		}
		var kinds [][2]*ast.Term
		for _, t := range set.Tables {
			var terms []*ast.Term
			for _, c := range cs.byKind[comparison][t.Kind.Name] {
				if doubtful[c.rule] {
					terms = append(terms, c.term)
				}
			}
			if len(terms) > 0 {
				kinds = append(kinds, [2]*ast.Term{n.term(t.Kind.Name), ast.ArrayTerm(terms...)})
			}
		}
		if len(kinds) > 0 {
			picked = append(picked, [2]*ast.Term{n.term(string(comparison)), ast.ObjectTerm(kinds...)})
		}
	}
	return ast.ObjectTerm(picked...)
}
