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

// Assess reads a row against one subject of its kind. It is the plain reading
// of the row from which conforming and not applicable verdicts are made; what is nonconforming or
// undetermined is said by the policies, and the two are checked against each other.
func (r *Rule) Assess(t *measure.Table, i int) Assessment {
	a := Assessment{Applies: True, Value: t.Column(r.Measure)[i], Lo: math.Inf(-1), Hi: math.Inf(1), Margin: math.NaN()}
	if a.Applies = r.applies(t, i); a.Applies == False {
		return a
	}
	if a.Value.State == measure.None {
		a.Applies = False
		return a
	}
	if r.Rego {
		a.Kept = True
		for _, m := range r.Needs {
			if t.Column(m)[i].State == measure.Unknown {
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
	for _, m := range []struct {
		name  string
		upper bool
	}{{al.AtLeastMeasure, false}, {al.AtMostMeasure, true}} {
		if m.name == "" {
			continue
		}
		v := t.Column(m.name)[i]
		switch {
		case v.State == measure.None:
			a.Applies = False
			return a
		case v.State == measure.Unknown:
			unsure = true
		case m.upper && v.Num < hi:
			hi, hiOpen = v.Num, false
		case !m.upper && v.Num > lo:
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

// applies says whether the conditions of a row hold for a subject.
func (r *Rule) applies(t *measure.Table, i int) Truth {
	out := True
	for k := range r.When {
		c := &r.When[k]
		v := &t.Column(c.Measure)[i]
		switch {
		case v.State == measure.None, v.State == measure.Known && !c.matches(*v):
			return False
		case v.State == measure.Unknown:
			out = Unsure
		}
	}
	return out
}

// MayApply says whether no condition of the row is known not to hold for a subject.
func (r *Rule) MayApply(t *measure.Table, i int) bool { return r.applies(t, i) != False }

// Has says whether a known value is among the listed values.
func (a *Allowed) Has(v measure.Value) bool { return contains(a.Is, v) }

func (c *Condition) matches(v measure.Value) bool {
	if len(c.Is) > 0 && !contains(c.Is, v) {
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
