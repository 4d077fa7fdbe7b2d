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
	rule        *Rule
	Value       []measure.Value // what the rule measures, by subject
	when, needs [][]measure.Value
	bounds
}

// bounds are the limits of a row.
type bounds struct {
	lo, hi         float64
	loOpen, hiOpen bool
	lower, upper   []measure.Value // limits that are measures; nil when there is none
}

// Columns are where a row finds what it reads in all tables of one plan, with what is asked of the row once and not for every subject.
type Columns struct {
	Value        int   // what the rule measures
	Lower, Upper int   // limits that are measures; -1 when there is none
	Needs        []int // what Rego needs
	When         []int // the measures of the conditions

	rule        *Rule
	asks        []asks  // by condition
	flag        *bool   // the only allowed value
	fixed       bounds  // what the row itself says
	least, most float64 // the same, when limits that are not allowed themselves are moved to the numbers beside them
}

// onlyFlag is the flag that a list of values is, or nil.
func onlyFlag(list []any) *bool {
	if len(list) == 1 {
		if flag, ok := list[0].(bool); ok {
			return &flag
		}
	}
	return nil
}

// Columns finds the columns of the row among those of a plan. ok is false when one is not there.
func (r *Rule) Columns(defs []*measure.Def) (c Columns, ok bool) {
	ok = true
	find := func(name string) int {
		i := slices.IndexFunc(defs, func(d *measure.Def) bool { return d.Name == name })
		ok = ok && i >= 0
		return i
	}
	c = Columns{Value: find(r.Measure), Lower: -1, Upper: -1, rule: r, fixed: bounds{lo: math.Inf(-1), hi: math.Inf(1)}}
	for i := range r.When {
		c.When, c.asks = append(c.When, find(r.When[i].Measure)), append(c.asks, asksOf(&r.When[i]))
	}
	for _, m := range r.Needs {
		c.Needs = append(c.Needs, find(m))
	}
	if a := r.Allowed; a != nil && len(a.Is) > 0 {
		c.flag = onlyFlag(a.Is)
	} else if a != nil {
		c.fixed.lo, c.fixed.loOpen, c.fixed.hi, c.fixed.hiOpen = a.Range()
		if a.AtLeastMeasure != "" {
			c.Lower = find(a.AtLeastMeasure)
		}
		if a.AtMostMeasure != "" {
			c.Upper = find(a.AtMostMeasure)
		}
	}
	if c.least, c.most = c.fixed.lo, c.fixed.hi; c.fixed.loOpen {
		c.least = math.Nextafter(c.least, math.Inf(1))
	}
	if c.fixed.hiOpen {
		c.most = math.Nextafter(c.most, math.Inf(-1))
	}
	return c, ok
}

// Read lays the row against a table of the kind that it applies to.
func (r *Rule) Read(t *measure.Table) Reading {
	var d Reading
	d.Lay(r, t)
	return d
}

// Lay lays another row against a table.
func (d *Reading) Lay(r *Rule, t *measure.Table) {
	*d = Reading{rule: r, Value: t.Column(r.Measure), when: d.when[:0], needs: d.needs[:0], bounds: bounds{lo: math.Inf(-1), hi: math.Inf(1)}}
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
	lo, loOpen, hi, hiOpen, known := d.at(i)
	if known == False {
		a.Applies = False
		return
	}
	a.Lo, a.Hi = lo, hi
	if value.State == measure.Known {
		v := value.Num
		a.Margin = min(v-lo, hi-v)
		if outside(v, lo, loOpen, hi, hiOpen) {
			return
		}
	}
	a.Kept = known
	if value.State == measure.Unknown {
		a.Kept = Unsure
	}
}

// outside says whether a number lies outside limits.
func outside(v, lo float64, loOpen bool, hi float64, hiOpen bool) bool {
	return v < lo || v > hi || loOpen && v == lo || hiOpen && v == hi
}

// at are the limits of a subject. Limits that are measures may not be known, or not arise, so that the row does not apply.
func (b *bounds) at(i int) (lo float64, loOpen bool, hi float64, hiOpen bool, known Truth) {
	lo, loOpen, hi, hiOpen, known = b.lo, b.loOpen, b.hi, b.hiOpen, True
	if b.lower != nil {
		switch v := &b.lower[i]; {
		case v.State == measure.None:
			known = False
		case v.State == measure.Unknown:
			known = min(known, Unsure)
		case v.Num > lo:
			lo, loOpen = v.Num, false
		}
	}
	if b.upper != nil {
		switch v := &b.upper[i]; {
		case v.State == measure.None:
			known = False
		case v.State == measure.Unknown:
			known = min(known, Unsure)
		case v.Num < hi:
			hi, hiOpen = v.Num, false
		}
	}
	return lo, loOpen, hi, hiOpen, known
}

// Read is what the plain reading of a row makes of one subject.
type Read uint8

// What a reading makes of a subject. The first three are what the state of the value alone tells (byState).
const (
	Absent  = Read(measure.None)    // the row does not apply
	Unclear = Read(measure.Unknown) // the job does not say enough
	Keeps   = Read(measure.Known)   // what the row allows
	Breaks  = Keeps + 1             // what it does not allow
	Own     = Keeps + 2             // the row applies; what is allowed, only its Rego knows
)

// Read sums an assessment up. A value that a row allows is allowed whether the row applies or not.
func (a *Assessment) Read(r *Rule) Read {
	switch {
	case a.Applies == False:
		return Absent
	case a.Kept == True && !r.Rego:
		return Keeps
	case a.Applies == Unsure || a.Kept == Unsure:
		return Unclear
	case r.Rego:
		return Own
	}
	return Breaks
}

// bounds are the limits of the subjects of a table.
func (c *Columns) bounds(t *measure.Table) bounds {
	b := c.fixed
	if c.Lower >= 0 {
		b.lower = t.Columns[c.Lower]
	}
	if c.Upper >= 0 {
		b.upper = t.Columns[c.Upper]
	}
	return b
}

// Limits are the limits of the subjects of one table.
type Limits struct{ bounds }

// Limits are those of a table of the plan.
func (c *Columns) Limits(t *measure.Table) Limits { return Limits{c.bounds(t)} }

// Of are the limits of a subject, infinite where there is none.
func (l *Limits) Of(i int) (lo, hi float64) {
	lo, _, hi, _, _ = l.at(i)
	return lo, hi
}

// Tally is how often each reading was made.
type Tally [Own + 1]int

// Read sums up every subject of a table of the plan, as Assess does one by one.
func (c *Columns) Read(t *measure.Table, out []Read) (n Tally) {
	values := t.Columns[c.Value][:len(out)]
	switch {
	case c.rule.Rego:
		for i := range out {
			out[i] = Own
			if values[i].State == measure.None {
				out[i] = Absent
			}
		}
		for _, k := range c.Needs {
			for i, v := range t.Columns[k] {
				if out[i] == Own && v.State == measure.Unknown {
					out[i] = Unclear
				}
			}
		}
	case c.flag != nil:
		flag := *c.flag
		for i := range out {
			v := &values[i]
			out[i] = byState(v.State)
			if v.State == measure.Known && v.Flag != flag {
				out[i] = Breaks
			}
		}
	case len(c.rule.Allowed.Is) > 0:
		for i := range out {
			v := &values[i]
			out[i] = byState(v.State)
			if v.State == measure.Known && !contains(c.rule.Allowed.Is, v) {
				out[i] = Breaks
			}
		}
	case c.Lower < 0 && c.Upper < 0:
		least, most := c.least, c.most
		for i := range out {
			v := &values[i]
			out[i] = byState(v.State)
			if v.State == measure.Known && (v.Num < least || v.Num > most) {
				out[i] = Breaks
			}
		}
	default:
		limits := c.bounds(t)
		for i := range out {
			lo, loOpen, hi, hiOpen, known := limits.at(i)
			v := &values[i]
			out[i] = byState(v.State)
			switch {
			case out[i] == Absent || known == False:
				out[i] = Absent
			case out[i] == Keeps && outside(v.Num, lo, loOpen, hi, hiOpen):
				out[i] = Breaks
			case known == Unsure:
				out[i] = Unclear
			}
		}
	}
	for k := range c.asks {
		c.asks[k].narrow(t.Columns[c.When[k]], out)
	}
	for _, r := range out {
		n[r]++
	}
	return n
}

// asks is what a condition of a row asks of its measure.
type asks struct {
	condition *Condition
	flag      *bool   // the only one that it asks for, as most do
	text      *string // the only one that it asks for
}

func asksOf(c *Condition) asks {
	a := asks{condition: c, flag: onlyFlag(c.Is)}
	if len(c.Is) == 1 && c.AtLeast == nil && c.AtMost == nil {
		if text, ok := c.Is[0].(string); ok {
			a.text = &text
		}
	}
	return a
}

// narrow takes those subjects out that do not meet the condition.
func (a *asks) narrow(column []measure.Value, out []Read) {
	column = column[:len(out)]
	for i := range out {
		if out[i] == Absent {
			continue
		}
		switch v := &column[i]; v.State {
		case measure.None:
			out[i] = Absent
		case measure.Unknown:
			if out[i] != Keeps {
				out[i] = Unclear
			}
		default:
			met := false
			switch {
			case a.flag != nil:
				met = v.Flag == *a.flag
			case a.text != nil:
				met = v.Text() == *a.text
			default:
				met = a.condition.Meets(v)
			}
			if !met {
				out[i] = Absent
			}
		}
	}
}

// byState says what the state of a value alone tells: a known one may be allowed.
func byState(s measure.State) Read { return Read(s) }

// applies says whether the conditions of the row hold for a subject.
func (d *Reading) applies(i int) Truth {
	out := True
	for k, col := range d.when {
		v := &col[i]
		switch {
		case v.State == measure.None, v.State == measure.Known && !d.rule.When[k].Meets(v):
			return False
		case v.State == measure.Unknown:
			out = Unsure
		}
	}
	return out
}

// Meets says whether a known value meets the condition.
func (c *Condition) Meets(v *measure.Value) bool {
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
