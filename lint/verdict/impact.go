package verdict

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// The two sides of a comparison.
const (
	Before = 0
	After  = 1
)

// Effect is what a changed verdict does to the findings of a job.
type Effect uint8

// The effects.
const (
	Appears Effect = iota // a finding that was not there
	Graver                // a finding that was there, of a graver severity now
	Milder                // a finding that was there, of a milder severity now
	Goes                  // a finding that is there no longer
	Differs               // another outcome, with a finding on both sides or on none
)

var effects = []string{"appears", "graver", "milder", "goes", "differs"}

// String names the effect.
func (e Effect) String() string { return effects[e] }

// Effects lists the names in order.
func Effects() []string { return slices.Clone(effects) }

// NoRule stands for an outcome where a side does not have the rule.
const NoRule = "no_rule"

// Origin is a rulebook of one side and where it was read.
type Origin struct {
	rulebook.Manifest
	Folder   string // empty for a rulebook that comes with wetrule
	Revision string // as asked for; empty for the files as they stand
	Commit   string // the commit that the revision names
}

// Impact is what another set of rulebooks makes of jobs.
type Impact struct {
	Books      [2][]Origin
	Jobs       []*JobImpact  // every job, in order of name
	Rules      []*RuleImpact // those that differ and those with changed verdicts, in order of id
	PassedOver []string      // files of folders that are no jobs

	variants map[string]*RuleImpact
}

// JobImpact is what becomes of one job.
type JobImpact struct {
	File, Reference, Title string

	Judged  bool        // whether both sides could judge it in full
	Status  [2]int      // the exit status of a review of the job by each side
	Reviews [2]*Review  // kept for jobs that change or were not judged, else nil
	Changes []*Changed  // in order of rule and subject
	Faults  [2][]string // faults of leaves that only this side finds
}

// Changed says whether anything becomes of the job.
func (j *JobImpact) Changed() bool {
	return len(j.Changes)+len(j.Faults[Before])+len(j.Faults[After]) > 0
}

// RuleImpact is one rule on both sides. A rule that differs in several ways between jobs, since they are of several countries
// or dates, is there once for each way.
type RuleImpact struct {
	ID          string
	Rules       [2]*rulebook.Rule // nil on a side that does not have it
	Differences []Difference
	Jobs        int                       // how many jobs of those judged have the rule in this way
	Counts      [2][NotApplicable + 1]int // verdicts on those jobs; not applicable ones are not counted
	Changes     []*Changed                // in order of job and subject
}

// Rule is the rule as it is after, or before when it is gone.
func (r *RuleImpact) Rule() *rulebook.Rule {
	if r.Rules[After] != nil {
		return r.Rules[After]
	}
	return r.Rules[Before]
}

// Change names what has become of the rule: added, removed, changed or same.
func (r *RuleImpact) Change() string {
	switch {
	case r.Rules[Before] == nil:
		return "added"
	case r.Rules[After] == nil:
		return "removed"
	case len(r.Differences) > 0:
		return "changed"
	}
	return "same"
}

// Changed is one verdict that is another after.
type Changed struct {
	Job      *JobImpact
	Rule     *RuleImpact
	Subject  *measure.Subject
	Verdicts [2]*Verdict // nil where the rule says nothing of the subject, or is not there
	Effect   Effect
}

// Outcome names the outcome on a side: one of Outcomes, or NoRule.
func (c *Changed) Outcome(side int) string {
	switch {
	case c.Verdicts[side] != nil:
		return c.Verdicts[side].Outcome.String()
	case c.Rule.Rules[side] == nil:
		return NoRule
	}
	return NotApplicable.String()
}

// Severity is that of the rule on the side where the finding is, the later side first.
func (c *Changed) Severity() rulebook.Severity {
	for _, v := range []*Verdict{c.Verdicts[After], c.Verdicts[Before]} {
		if v != nil && v.Finding() {
			return v.Rule.Severity
		}
	}
	return c.Rule.Rule().Severity
}

// Difference is one part of a rule that is another after.
type Difference struct{ What, Before, After string }

// Rego is what the rules of a side say in Rego, by name of the rulebook: a mark that is another when the Rego is.
type Rego map[string]string

// Pair holds the rules of the two sides against each other, for jobs of one edition of each.
type Pair struct {
	all   []*RuleImpact
	by    [2]map[string]*RuleImpact // by the id on that side
	names map[string]bool           // ids and aliases of both sides
}

// Pair holds the rules of two editions against each other. Rules that chosen refuses are left out.
func (x *Impact) Pair(before, after []*rulebook.Rule, regoBefore, regoAfter Rego, chosen func(*rulebook.Rule) bool) *Pair {
	if x.variants == nil {
		x.variants = map[string]*RuleImpact{}
	}
	p := &Pair{by: [2]map[string]*RuleImpact{{}, {}}, names: map[string]bool{}}
	index := func(rules []*rulebook.Rule) map[string]*rulebook.Rule {
		out := make(map[string]*rulebook.Rule, len(rules))
		for _, r := range rules {
			out[r.ID] = r
		}
		return out
	}
	was, is := index(before), index(after)
	renamed := map[string]string{} // id before -> id after
	for _, r := range after {
		for _, a := range r.Aliases {
			if was[r.ID] == nil && was[a] != nil && is[a] == nil && renamed[a] == "" {
				renamed[a] = r.ID
				break
			}
		}
	}
	add := func(a, b *rulebook.Rule) {
		if !(a != nil && chosen(a)) && !(b != nil && chosen(b)) {
			return
		}
		r := &RuleImpact{Rules: [2]*rulebook.Rule{a, b}}
		r.ID = r.Rule().ID
		if a != nil && b != nil {
			r.Differences = differences(a, b, regoBefore, regoAfter)
		}
		// The same difference in two editions is one.
		sign := fmt.Sprintf("%s\n%s\n%q", r.ID, r.Change(), r.Differences)
		if have := x.variants[sign]; have != nil {
			r = have
		} else {
			x.variants[sign] = r
		}
		p.all = append(p.all, r)
		for side, rule := range [2]*rulebook.Rule{a, b} {
			if rule == nil {
				continue
			}
			p.by[side][rule.ID] = r
			for _, id := range append([]string{rule.ID}, rule.Aliases...) {
				p.names[id] = true
			}
		}
	}
	paired := map[string]bool{}
	for _, a := range before {
		id := a.ID
		if to := renamed[id]; to != "" {
			id = to
		}
		paired[id] = true
		add(a, is[id])
	}
	for _, b := range after {
		if !paired[b.ID] {
			add(nil, b)
		}
	}
	return p
}

// differences lists what is another in a rule, in the order of a row.
func differences(a, b *rulebook.Rule, regoA, regoB Rego) (out []Difference) {
	add := func(what, before, after string) {
		if before != after {
			out = append(out, Difference{what, before, after})
		}
	}
	add("id", a.ID, b.ID)
	add("title", a.Title, b.Title)
	add("severity", a.Severity.String(), b.Severity.String())
	add("from", a.From.String(), b.From.String())
	add("applies_to", a.AppliesTo, b.AppliesTo)
	add("when", conditions(a), conditions(b))
	add("measure", a.Measure, b.Measure)
	add("allowed", a.AllowedText(), b.AllowedText())
	if a.Allowed != nil && b.Allowed != nil {
		// Two measures may have the same meaning in words.
		add("at_least_measure", a.Allowed.AtLeastMeasure, b.Allowed.AtLeastMeasure)
		add("at_most_measure", a.Allowed.AtMostMeasure, b.Allowed.AtMostMeasure)
	}
	add("needs", strings.Join(a.Needs, ", "), strings.Join(b.Needs, ", "))
	if a.Rego && b.Rego {
		add("rego", regoA[a.Rulebook], regoB[b.Rulebook])
	}
	add("in_force", period(a.InForce), period(b.InForce))
	add("why", a.Why, b.Why)
	add("remedy", a.Remedy, b.Remedy)
	add("source", a.Source.String(), b.Source.String())
	add("rulebook", a.Rulebook, b.Rulebook)
	add("limit_by", a.LimitBy(), b.LimitBy())
	return out
}

func period(p *rulebook.Period) string {
	if p == nil {
		return ""
	}
	var parts []string
	if p.From != "" {
		parts = append(parts, "from "+p.From)
	}
	if p.Until != "" {
		parts = append(parts, "until before "+p.Until)
	}
	return strings.Join(parts, " ")
}

// conditions writes the conditions of a rule as its row does.
func conditions(r *rulebook.Rule) string {
	var out []string
	for i := range r.When {
		c := &r.When[i]
		s := c.Measure
		if len(c.Is) > 0 {
			words := make([]string, len(c.Is))
			for k, v := range c.Is {
				words[k] = fmt.Sprint(v)
			}
			s += " is " + strings.Join(words, " or ")
		}
		if c.AtLeast != nil {
			s += " at least " + measure.FormatNumber(*c.AtLeast)
		}
		if c.AtMost != nil {
			s += " at most " + measure.FormatNumber(*c.AtMost)
		}
		out = append(out, s)
	}
	return strings.Join(out, ", and ")
}

// Add holds the reviews of a job by the two sides against each other. The pair is that of the editions by which the job was
// judged; nil when one of the sides could not judge it at all. The caller has given the statuses.
func (x *Impact) Add(before, after *Review, pair *Pair, status [2]int) *JobImpact {
	j := &JobImpact{File: before.File, Reference: before.Reference, Title: before.Title, Judged: before.Judged() && after.Judged(), Status: status, Reviews: [2]*Review{before, after}}
	x.Jobs = append(x.Jobs, j)
	if pair == nil || len(before.Problems)+len(after.Problems) > 0 {
		j.Judged = false
		return j
	}
	for _, r := range pair.all {
		r.Jobs++
	}
	type key struct {
		rule          *RuleImpact
		kind, subject string
	}
	index := map[key]*Verdict{}
	for i := range after.Verdicts {
		v := &after.Verdicts[i]
		if r := pair.by[After][v.Rule.ID]; r != nil {
			r.Counts[After][v.Outcome]++
			index[key{r, v.Subject.Kind, v.Subject.ID}] = v
		}
	}
	for i := range before.Verdicts {
		v := &before.Verdicts[i]
		r := pair.by[Before][v.Rule.ID]
		if r == nil {
			continue
		}
		r.Counts[Before][v.Outcome]++
		k := key{r, v.Subject.Kind, v.Subject.ID}
		j.compare(r, v, index[k])
		delete(index, k)
	}
	for i := range after.Verdicts {
		v := &after.Verdicts[i]
		r := pair.by[After][v.Rule.ID]
		if r != nil && index[key{r, v.Subject.Kind, v.Subject.ID}] == v {
			j.compare(r, nil, v)
		}
	}
	slices.SortStableFunc(j.Changes, func(a, b *Changed) int {
		return cmp.Or(cmp.Compare(a.Rule.ID, b.Rule.ID), cmp.Compare(a.Subject.Kind, b.Subject.Kind), cmp.Compare(a.Subject.ID, b.Subject.ID))
	})
	for _, c := range j.Changes {
		c.Rule.Changes = append(c.Rule.Changes, c)
	}
	for side, r := range j.Reviews {
		for _, f := range r.Faults {
			other := j.Reviews[1-side].Faults
			if pair.names[f.Leave.Rule] && !slices.ContainsFunc(other, func(o *LeaveFault) bool { return o.Text == f.Text && o.Severity == f.Severity }) {
				j.Faults[side] = append(j.Faults[side], f.Severity.String()+": "+f.Text)
			}
		}
	}
	if j.Judged && !j.Changed() {
		j.Reviews = [2]*Review{} // nobody needs them any more
	}
	return j
}

// compare notes a verdict that is another after. A rule that only one side has changes a job by its findings alone: what it
// finds in order is counted with the rule.
func (j *JobImpact) compare(r *RuleImpact, a, b *Verdict) {
	finds := func(v *Verdict) bool { return v != nil && v.Finding() }
	c := &Changed{Job: j, Rule: r, Verdicts: [2]*Verdict{a, b}}
	fa, fb := finds(a), finds(b)
	switch {
	case !fa && fb:
		c.Effect = Appears
	case fa && !fb:
		c.Effect = Goes
	case fa && fb && a.Rule.Severity != b.Rule.Severity:
		c.Effect = Milder
		if b.Rule.Severity > a.Rule.Severity {
			c.Effect = Graver
		}
	case (r.Rules[Before] == nil || r.Rules[After] == nil) && !fa, c.Outcome(Before) == c.Outcome(After):
		return
	default:
		c.Effect = Differs
	}
	c.Subject = cmp.Or(b, a).Subject
	j.Changes = append(j.Changes, c)
}

// Finish puts everything in order once all jobs are in. Rules that are the same and change nothing are left out.
func (x *Impact) Finish() {
	slices.SortStableFunc(x.Jobs, func(a, b *JobImpact) int { return cmp.Compare(a.File, b.File) })
	type signed struct {
		sign string
		rule *RuleImpact
	}
	var list []signed
	for sign, r := range x.variants {
		if r.Change() != "same" || len(r.Changes) > 0 {
			list = append(list, signed{sign, r})
		}
	}
	slices.SortFunc(list, func(a, b signed) int {
		return cmp.Or(cmp.Compare(a.rule.ID, b.rule.ID), cmp.Compare(a.sign, b.sign))
	})
	x.Rules = nil
	for _, s := range list {
		x.Rules = append(x.Rules, s.rule)
	}
}

// Changed counts the jobs that change, and those that a side could not judge.
func (x *Impact) Changed() (changed, unjudged int) {
	for _, j := range x.Jobs {
		if j.Changed() {
			changed++
		}
		if !j.Judged {
			unjudged++
		}
	}
	return changed, unjudged
}

// Effects counts the changed verdicts by effect.
func (x *Impact) Effects() (counts [Differs + 1]int) {
	for _, r := range x.Rules {
		for _, c := range r.Changes {
			counts[c.Effect]++
		}
	}
	return counts
}
