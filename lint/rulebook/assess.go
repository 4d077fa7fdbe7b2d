package rulebook

import (
	"math"

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
	Kept    Truth         // whether the measure is allowed; for rules that Rego judges, whether all that it needs is known
	Value   measure.Value // what was measured
	Lo, Hi  float64       // the limits of this subject, infinite where there is none
	Margin  float64       // how far inside the nearer limit; negative outside; NaN without limits
}

// Reading is a row laid against one table: the columns that it reads are found once.
type Reading struct {
	rule         *Rule
	value        []measure.Value
	when, needs  [][]measure.Value
	lower, upper []measure.Value // limits that are measures; nil when there is none
}

// Read lays the row against a table of the kind that it applies to.
func (r *Rule) Read(t *measure.Table) Reading {
	d := Reading{rule: r, value: t.Column(r.Measure)}
	for i := range r.When {
		d.when = append(d.when, t.Column(r.When[i].Measure))
	}
	for _, m := range r.Needs {
		d.needs = append(d.needs, t.Column(m))
	}
	if a := r.Allowed; a != nil && a.AtLeastMeasure != "" {
		d.lower = t.Column(a.AtLeastMeasure)
	}
	if a := r.Allowed; a != nil && a.AtMostMeasure != "" {
		d.upper = t.Column(a.AtMostMeasure)
	}
	return d
}

// Assess is the plain reading of a row against one subject of its kind, from which conforming and
// not applicable verdicts are made; what is nonconforming or undetermined is said by the policies, and the two are checked
// against each other.
func (r *Rule) Assess(t *measure.Table, i int) Assessment {
	d := r.Read(t)
	return d.Assess(i)
}

// Assess reads the row against the subject with this index.
func (d *Reading) Assess(i int) Assessment {
	r := d.rule
	a := Assessment{Applies: True, Value: d.value[i], Lo: math.Inf(-1), Hi: math.Inf(1), Margin: math.NaN()}
	if a.Applies = d.applies(i); a.Applies == False {
		return a
	}
	if a.Value.State == measure.None {
		a.Applies = False
		return a
	}
	if r.Rego {
		a.Kept = True
		for _, c := range d.needs {
			if c[i].State == measure.Unknown {
				a.Kept = Unsure
			}
		}
		return a
	}
	al := r.Allowed
	if len(al.Is) > 0 {
		switch {
		case a.Value.State == measure.Unknown:
			a.Kept = Unsure
		case al.Has(a.Value):
			a.Kept = True
		}
		return a
	}
	lo, loOpen, hi, hiOpen := al.Range()
	unsure := a.Value.State == measure.Unknown
	for k, col := range [2][]measure.Value{d.lower, d.upper} {
		if col == nil {
			continue
		}
		v := &col[i]
		switch {
		case v.State == measure.None:
			a.Applies = False
			return a
		case v.State == measure.Unknown:
			unsure = true
		case k == 1 && v.Num < hi:
			hi, hiOpen = v.Num, false
		case k == 0 && v.Num > lo:
			lo, loOpen = v.Num, false
		}
	}
	a.Lo, a.Hi = lo, hi
	if a.Value.State == measure.Known {
		v := a.Value.Num
		a.Margin = math.Min(v-lo, hi-v)
		if v < lo || loOpen && v == lo || v > hi || hiOpen && v == hi {
			a.Kept = False
			return a
		}
	}
	a.Kept = True
	if unsure {
		a.Kept = Unsure
	}
	return a
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

// InDoubt says whether the value of a subject lies outside the limits while no condition of the row is known not to hold. It is
// how the index of rows that need a closer look is made.
func (d *Reading) InDoubt(i int) bool {
	a := d.Assess(i)
	return a.Applies != False && a.Kept == False
}

// Has says whether a known value is among the listed values.
func (a *Allowed) Has(v measure.Value) bool { return contains(a.Is, v) }

func (c *Condition) matches(v *measure.Value) bool {
	if len(c.Is) > 0 && !contains(c.Is, *v) {
		return false
	}
	return (c.AtLeast == nil || v.Num >= *c.AtLeast) && (c.AtMost == nil || v.Num <= *c.AtMost)
}

// contains says whether a known value is in a list. Which member of Value counts follows from the
// type of the listed value, which reading has checked against the measure.
func contains(list []any, v measure.Value) bool {
	for _, x := range list {
		switch x := x.(type) {
		case string:
			if v.Text == x {
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
