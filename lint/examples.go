package lint

import (
	"fmt"
	"math"
	"strings"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// holds says what is wrong with an example of a rule, given the review of its job; an empty text when it shows what it says. It notes
// in reached on which limits and allowed values examples stand.
func holds(r *rulebook.Rule, e rulebook.Example, rev *verdict.Review, reached map[string]bool) string {
	if len(rev.Problems) > 0 {
		return "the job of the example cannot be judged: " + rev.Problems.Error()
	}
	var mine []verdict.Verdict
	for _, v := range rev.Verdicts {
		if v.Outcome == verdict.NotJudged {
			return fmt.Sprintf("%s of %s was not judged: %s", v.Rule.ID, v.Subject.ID, v.Reason())
		}
		if v.Rule.ID == r.ID && (e.Subject == "" || v.Subject.ID == e.Subject) {
			mine = append(mine, v)
		}
	}
	say := func(format string, args ...any) string {
		var b strings.Builder
		fmt.Fprintf(&b, format, args...)
		for _, v := range mine {
			fmt.Fprintf(&b, "; %s %s: measured %s, allowed %s", v.Subject.ID, measure.Words(v.Outcome.String()), r.Def.Format(*v.Value), r.AllowedText())
		}
		return b.String()
	}
	want := map[rulebook.Sort]verdict.Outcome{rulebook.ExConforming: verdict.Conforms, rulebook.ExAtLimit: verdict.Conforms, rulebook.ExNonconforming: verdict.Nonconforming, rulebook.ExMissing: verdict.Undetermined}
	switch e.Sort {
	case rulebook.ExNotApplicable:
		if len(mine) > 0 {
			return say("the rule speaks where it should not apply")
		}
		return ""
	case rulebook.ExConforming, rulebook.ExAtLimit:
		if len(mine) == 0 {
			return "the rule says nothing"
		}
		for _, v := range mine {
			if v.Outcome != verdict.Conforms {
				return say("the rule should find it in order")
			}
		}
	default:
		some := false
		for _, v := range mine {
			some = some || v.Outcome == want[e.Sort]
		}
		if !some {
			return say("no verdict is %s", measure.Words(want[e.Sort].String()))
		}
	}
	if e.Sort != rulebook.ExAtLimit || r.Rego {
		return ""
	}
	on := false
	for _, v := range mine {
		if len(r.Allowed.Is) > 0 {
			reached[valueName(r.Def.Type, *v.Value)] = true
			on = true
			continue
		}
		_, loOpen, _, hiOpen := r.Allowed.Range()
		lo, hi := v.Limits()
		near := Step(r.Def.Unit)
		if v.Value.Num == lo || loOpen && v.Value.Num-lo <= near {
			reached["the lower limit"], on = true, true
		}
		if v.Value.Num == hi || hiOpen && hi-v.Value.Num <= near {
			reached["the upper limit"], on = true, true
		}
	}
	if !on {
		return say("no subject is at the limit")
	}
	return ""
}

func valueName(t measure.Type, v measure.Value) string {
	switch t {
	case measure.Number:
		return fmt.Sprint(v.Num)
	case measure.Flag:
		return fmt.Sprint(v.Flag)
	}
	return v.Text()
}

// lacks says what the examples of a rule lack as a whole; an empty text when they are complete.
func lacks(r *rulebook.Rule, seen map[rulebook.Sort]int, reached map[string]bool) string {
	for _, s := range rulebook.Sorts() {
		if seen[s] == 0 {
			return "the rule has no example of the sort " + string(s)
		}
	}
	if r.Allowed == nil {
		return ""
	}
	for _, want := range edges(r.Allowed) {
		if !reached[want] {
			return "no example at_limit stands on " + want
		}
	}
	return ""
}

// edges lists what examples at the limit must stand on: each limit, or each allowed value.
func edges(a *rulebook.Allowed) (out []string) {
	for _, v := range a.Is {
		out = append(out, fmt.Sprint(v))
	}
	lo, _, hi, _ := a.Range()
	if !math.IsInf(lo, 0) || a.AtLeastMeasure != "" {
		out = append(out, "the lower limit")
	}
	if !math.IsInf(hi, 0) || a.AtMostMeasure != "" {
		out = append(out, "the upper limit")
	}
	return out
}

// Step is the change of a limit of a unit that some example must notice.
func Step(unit string) float64 {
	switch unit {
	case "percent", "mmol/l", "m²", "mm²", "N/mm²", "perm", "g/(m²·d)":
		return 0.1
	case "W/m²K":
		return 0.01
	}
	return 1
}

// mutant is a rule with one thing changed, as a slip of an author might.
type mutant struct {
	what string
	rule *rulebook.Rule
}

// mutants lists what a slip could make of a rule that is a row: limits shifted by one step, comparisons turned round, allowed values taken away,
// conditions dropped.
func mutants(r *rulebook.Rule) (out []mutant) {
	with := func(what string, change func(*rulebook.Rule)) {
		a := *r.Allowed
		if a.Between != nil {
			lo, hi := a.Between[0], a.Between[1]
			a.AtLeast, a.AtMost, a.Between = &lo, &hi, nil
		}
		a.Is = append([]any{}, a.Is...)
		c := *r
		c.Allowed = &a
		c.When = append([]rulebook.Condition{}, r.When...)
		change(&c)
		out = append(out, mutant{what, &c})
	}
	shift := func(p *float64, by float64) *float64 { v := *p + by; return &v }
	al, by := r.Allowed, Step(r.Def.Unit)
	for _, d := range []float64{-by, by} {
		name := fmt.Sprintf("%+g %s", d, r.Def.Unit)
		if al.AtLeast != nil || al.Between != nil {
			with("the lower limit is shifted by "+name, func(c *rulebook.Rule) { c.Allowed.AtLeast = shift(c.Allowed.AtLeast, d) })
		}
		if al.AtMost != nil || al.Between != nil {
			with("the upper limit is shifted by "+name, func(c *rulebook.Rule) { c.Allowed.AtMost = shift(c.Allowed.AtMost, d) })
		}
		if al.Above != nil {
			with("the open lower limit is shifted by "+name, func(c *rulebook.Rule) { c.Allowed.Above = shift(c.Allowed.Above, d) })
		}
		if al.Below != nil {
			with("the open upper limit is shifted by "+name, func(c *rulebook.Rule) { c.Allowed.Below = shift(c.Allowed.Below, d) })
		}
	}
	if al.AtLeast != nil || al.AtMost != nil || al.Between != nil {
		with("at least and at most are exchanged", func(c *rulebook.Rule) {
			c.Allowed.AtLeast, c.Allowed.AtMost = c.Allowed.AtMost, c.Allowed.AtLeast
		})
	}
	if al.Above != nil || al.Below != nil {
		with("above and below are exchanged", func(c *rulebook.Rule) { c.Allowed.Above, c.Allowed.Below = c.Allowed.Below, c.Allowed.Above })
	}
	if al.Above != nil {
		with("the open lower limit is closed", func(c *rulebook.Rule) { c.Allowed.AtLeast, c.Allowed.Above = c.Allowed.Above, nil })
	}
	if al.Below != nil {
		with("the open upper limit is closed", func(c *rulebook.Rule) { c.Allowed.AtMost, c.Allowed.Below = c.Allowed.Below, nil })
	}
	if al.AtLeastMeasure != "" || al.AtMostMeasure != "" {
		with("the limits that are measures are exchanged", func(c *rulebook.Rule) {
			c.Allowed.AtLeastMeasure, c.Allowed.AtMostMeasure = c.Allowed.AtMostMeasure, c.Allowed.AtLeastMeasure
		})
	}
	for i := range al.Is {
		with(fmt.Sprintf("the value %v is taken away", al.Is[i]), func(c *rulebook.Rule) {
			c.Allowed.Is = append(c.Allowed.Is[:i:i], c.Allowed.Is[i+1:]...)
			if len(c.Allowed.Is) == 0 {
				c.Allowed.Is = []any{"no value at all"}
			}
		})
	}
	for i := range r.When {
		with("the condition on "+r.When[i].Measure+" is dropped", func(c *rulebook.Rule) { c.When = append(c.When[:i:i], c.When[i+1:]...) })
	}
	return out
}

// fits says whether a row finds of an example what the example says.
func fits(r *rulebook.Rule, e rulebook.Example, set *measure.Set) bool {
	t := set.Table(r.AppliesTo)
	bad, ok, unsure := 0, 0, 0
	if t != nil {
		for i := range t.Subjects {
			if e.Subject != "" && t.Subjects[i].ID != e.Subject {
				continue
			}
			switch a := r.Assess(t, i); {
			case a.Applies == rulebook.False:
			case a.Applies == rulebook.True && a.Kept == rulebook.False:
				bad++
			case a.Kept != rulebook.True:
				unsure++
			default:
				ok++
			}
		}
	}
	switch e.Sort {
	case rulebook.ExConforming, rulebook.ExAtLimit:
		return bad+unsure == 0 && ok > 0
	case rulebook.ExNonconforming:
		return bad > 0
	case rulebook.ExMissing:
		return unsure > 0
	}
	return bad+ok+unsure == 0
}

// survivors lists the mutants of a rule that no example notices, and how many there were.
func survivors(r *rulebook.Rule, examples []rulebook.Example, sets []*measure.Set) (alive []string, all int) {
	if r.Allowed == nil {
		return nil, 0
	}
	for _, m := range mutants(r) {
		all++
		noticed := false
		for i := range examples {
			noticed = noticed || !fits(m.rule, examples[i], sets[i])
		}
		if !noticed {
			alive = append(alive, m.what)
		}
	}
	return alive, all
}
