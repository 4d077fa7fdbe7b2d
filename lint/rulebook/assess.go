package rulebook

import (
	"math"
	"slices"

	"wetrule/lint/measure"
)

// Truth is three-valued: what the job does not say is Unsure.
type Truth uint8

// The truth values.
const (
	False Truth = iota
	Unsure
	True
)

// Assessment is what a row finds of one subject.
type Assessment struct {
	Applies Truth
	Kept    Truth   // whether the measure is allowed; for rules that Rego judges, whether all that it needs is known
	Lo, Hi  float64 // the limits of this subject, infinite where there is none
	Margin  float64 // how far inside the nearer limit; negative outside; NaN without limits
}

// Reading is a row laid against one table: the columns that it reads are found once.
type Reading struct {
	rule           *Rule
	Value          []measure.Value // what the rule measures, by subject
	when, needs    [][]measure.Value
	lower, upper   []measure.Value // limits that are measures; nil when there is none
	lo, hi         float64
	loOpen, hiOpen bool
}

// Columns are where a row finds what it reads in all tables of one plan.
type Columns struct {
	value, lower, upper int // -1 when there is none
	when, needs         []int
	lo, hi              float64
	loOpen, hiOpen      bool
}

// Columns finds the columns of the row among those of a plan. ok is false when one is not there.
func (r *Rule) Columns(defs []*measure.Def) (c Columns, ok bool) {
	ok = true
	find := func(name string) int {
		i := slices.IndexFunc(defs, func(d *measure.Def) bool { return d.Name == name })
		ok = ok && i >= 0
		return i
	}
	c = Columns{value: find(r.Measure), lower: -1, upper: -1, lo: math.Inf(-1), hi: math.Inf(1)}
	for i := range r.When {
		c.when = append(c.when, find(r.When[i].Measure))
	}
	for _, m := range r.Needs {
		c.needs = append(c.needs, find(m))
	}
	if a := r.Allowed; a != nil && len(a.Is) == 0 {
		c.lo, c.loOpen, c.hi, c.hiOpen = a.Range()
		if a.AtLeastMeasure != "" {
			c.lower = find(a.AtLeastMeasure)
		}
		if a.AtMostMeasure != "" {
			c.upper = find(a.AtMostMeasure)
		}
	}
	return c, ok
}

// LayBy is Lay for a table of the plan that the columns were found for, which takes all of them.
func (d *Reading) LayBy(r *Rule, c *Columns, t *measure.Table) {
	d.rule, d.Value, d.lower, d.upper = r, t.Columns[c.value], nil, nil
	d.when, d.needs = d.when[:0], d.needs[:0]
	d.lo, d.loOpen, d.hi, d.hiOpen = c.lo, c.loOpen, c.hi, c.hiOpen
	for _, i := range c.when {
		d.when = append(d.when, t.Columns[i])
	}
	for _, i := range c.needs {
		d.needs = append(d.needs, t.Columns[i])
	}
	if c.lower >= 0 {
		d.lower = t.Columns[c.lower]
	}
	if c.upper >= 0 {
		d.upper = t.Columns[c.upper]
	}
}

// Value is the column of what the rule measures.
func (c *Columns) Value() int { return c.value }

// Read lays the row against a table of the kind that it applies to.
func (r *Rule) Read(t *measure.Table) Reading {
	var d Reading
	d.Lay(r, t)
	return d
}

// Lay lays another row against a table.
func (d *Reading) Lay(r *Rule, t *measure.Table) {
	*d = Reading{rule: r, Value: t.Column(r.Measure), when: d.when[:0], needs: d.needs[:0], lo: math.Inf(-1), hi: math.Inf(1)}
	for i := range r.When {
		d.when = append(d.when, t.Column(r.When[i].Measure))
	}
	for _, m := range r.Needs {
		d.needs = append(d.needs, t.Column(m))
	}
	a := r.Allowed
	if a == nil || len(a.Is) > 0 {
		return
	}
	d.lo, d.loOpen, d.hi, d.hiOpen = a.Range()
	if a.AtLeastMeasure != "" {
		d.lower = t.Column(a.AtLeastMeasure)
	}
	if a.AtMostMeasure != "" {
		d.upper = t.Column(a.AtMostMeasure)
	}
}

// Assess is the plain reading of a row against one subject of its kind, from which conforming and
// not applicable verdicts are made; what is nonconforming or undetermined is said by the policies, and the two are checked
// against each other.
func (r *Rule) Assess(t *measure.Table, i int) Assessment {
	d := r.Read(t)
	return d.Assess(i)
}

// Assess reads the row against the subject with this index.
func (d *Reading) Assess(i int) (a Assessment) {
	d.AssessInto(&a, i)
	return a
}

// AssessInto is Assess into a place that is there.
func (d *Reading) AssessInto(a *Assessment, i int) {
	*a = Assessment{Applies: d.applies(i), Lo: math.Inf(-1), Hi: math.Inf(1), Margin: math.NaN()}
	value := &d.Value[i]
	if a.Applies == False || value.State == measure.None {
		a.Applies = False
		return
	}
	switch {
	case d.rule.Rego:
		a.Kept = True
		for _, c := range d.needs {
			if c[i].State == measure.Unknown {
				a.Kept = Unsure
			}
		}
		return
	case len(d.rule.Allowed.Is) > 0:
		switch {
		case value.State == measure.Unknown:
			a.Kept = Unsure
		case contains(d.rule.Allowed.Is, value):
			a.Kept = True
		}
		return
	}
	lo, loOpen, hi, hiOpen := d.lo, d.loOpen, d.hi, d.hiOpen
	unsure := value.State == measure.Unknown
	if d.lower != nil {
		switch v := &d.lower[i]; {
		case v.State == measure.None:
			a.Applies = False
			return
		case v.State == measure.Unknown:
			unsure = true
		case v.Num > lo:
			lo, loOpen = v.Num, false
		}
	}
	if d.upper != nil {
		switch v := &d.upper[i]; {
		case v.State == measure.None:
			a.Applies = False
			return
		case v.State == measure.Unknown:
			unsure = true
		case v.Num < hi:
			hi, hiOpen = v.Num, false
		}
	}
	a.Lo, a.Hi = lo, hi
	if value.State == measure.Known {
		v := value.Num
		a.Margin = min(v-lo, hi-v)
		if v < lo || loOpen && v == lo || v > hi || hiOpen && v == hi {
			return
		}
	}
	a.Kept = True
	if unsure {
		a.Kept = Unsure
	}
}

// applies says whether the conditions of the row hold for a subject.
func (d *Reading) applies(i int) Truth {
	out := True
	for k, col := range d.when {
		v := &col[i]
		switch {
		case v.State == measure.None, v.State == measure.Known && !d.rule.When[k].matches(v):
			return False
		case v.State == measure.Unknown:
			out = Unsure
		}
	}
	return out
}

func (c *Condition) matches(v *measure.Value) bool {
	if len(c.Is) > 0 && !contains(c.Is, v) {
		return false
	}
	return (c.AtLeast == nil || v.Num >= *c.AtLeast) && (c.AtMost == nil || v.Num <= *c.AtMost)
}

// contains says whether a known value is in a list. Which member of Value counts follows from the
// type of the listed value, which reading has checked against the measure.
func contains(list []any, v *measure.Value) bool {
	for _, x := range list {
		switch x := x.(type) {
		case string:
			if v.Text() == x {
				return true
			}
		case bool:
			if v.Flag == x {
				return true
			}
		case float64:
			if v.Num == x {
				return true
			}
		}
	}
	return false
}
