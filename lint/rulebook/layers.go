package rulebook

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"wetrule/lint/jobfile"
)

// Amendment is what a rulebook changes of a rule of a layer below it.
type Amendment struct {
	RuleID      string    `json:"rule"`
	What        string    `json:"change"` // tighten, loosen, off, severity
	Title       string    `json:"title"`
	Allowed     *Allowed  `json:"allowed"`
	SevName     string    `json:"severity"`
	Why         string    `json:"why"`
	Remedy      string    `json:"remedy"`
	Reason      string    `json:"reason"`
	Source      *Citation `json:"source"`
	AcceptsRisk bool      `json:"accepts_risk"`
	InForce     *Period   `json:"in_force"`

	Rulebook string        `json:"-"`
	Pos      *jobfile.Node `json:"-"`
}

// Change is what one layer has made of a rule.
type Change struct {
	*Amendment
	Before string // what was allowed before, or the severity before
	Looser bool   // the base asks for more than the rule does now
}

// String says the change in one line.
func (c Change) String() string {
	verb := map[string]string{"tighten": "tightened", "loosen": "loosened", "off": "switched off", "severity": "graded anew"}[c.What]
	s := fmt.Sprintf("%s by %s, before: %s; %s", verb, c.Rulebook, c.Before, c.Reason)
	if c.Source != nil {
		s += " [" + c.Source.String() + "]"
	}
	return s
}

func (m *Amendment) resolve(book string, sources map[string]*Source) (ps jobfile.Problems) {
	m.Rulebook = book
	bad := func(key, format string, args ...any) {
		at := m.Pos.Get(key)
		if at == nil {
			at = m.Pos
		}
		ps = append(ps, problem(at, format, args...))
	}
	if m.Source != nil {
		ps = append(ps, m.Source.resolve(sources)...)
	}
	limits := m.What == "tighten" || m.What == "loosen"
	switch {
	case limits && m.Allowed == nil:
		bad("change", "to %s a rule give allowed", m.What)
	case limits && m.Title == "":
		bad("change", "to %s a rule give a title that says what is required now", m.What)
	case !limits && m.Allowed != nil:
		bad("allowed", "allowed goes with tighten and loosen, not with %s", m.What)
	case m.What == "severity" && m.SevName == "":
		bad("change", "give the new severity")
	case m.What != "severity" && m.SevName != "":
		bad("severity", "severity goes with the change severity, not with %s", m.What)
	case m.What == "loosen" && m.Source == nil:
		bad("change", "to loosen a rule name a source")
	}
	if p := m.InForce; p != nil && p.From != "" && p.Until != "" && p.Until <= p.From {
		bad("in_force", "the amendment is never in force: it ends on %s and begins on %s", p.Until, p.From)
	}
	return ps
}

// Conflict is two rules that nothing can keep both.
type Conflict struct {
	A, B *Rule
}

// String says the conflict in one line.
func (c Conflict) String() string {
	return fmt.Sprintf("%s (%s) asks for %s and %s (%s) for %s: nothing keeps both", c.A.ID, c.A.LimitBy(), c.A.AllowedText(), c.B.ID, c.B.LimitBy(), c.B.AllowedText())
}

// Layers are rulebooks laid over one another.
type Layers struct {
	Books []*Rulebook // from the bottom up
}

// ranks orders the layers from the bottom up.
var ranks = []string{"core", "region", "firm", "job"}

func (m Manifest) rank() int {
	if m.Layer == "" {
		return slices.Index(ranks, "firm")
	}
	return slices.Index(ranks, m.Layer)
}

// Lay lays rulebooks over one another: by their layer, and within a layer in the order given. It sees that ids are used
// once, that amendments name rules of a layer below, and that each change is what it says it is.
func Lay(books []*Rulebook) (*Layers, error) {
	l := &Layers{Books: slices.Clone(books)}
	sort.SliceStable(l.Books, func(i, j int) bool { return l.Books[i].rank() < l.Books[j].rank() })
	var problems jobfile.Problems
	owner := map[string]*Rule{}
	names := map[string]bool{}
	for _, b := range l.Books {
		if names[b.Name] {
			return nil, fmt.Errorf("the rulebook %s is given twice", b.Name)
		}
		names[b.Name] = true
		for _, m := range b.Amends {
			if owner[m.RuleID] == nil {
				ids := make([]string, 0, len(owner))
				for id := range owner {
					ids = append(ids, id)
				}
				sort.Strings(ids)
				problems = append(problems, problem(m.Pos.Get("rule"), "no layer below %s has the rule %q%s", b.Name, m.RuleID, didYouMean(m.RuleID, ids)))
			}
		}
		for _, r := range b.Rules {
			for _, id := range append([]string{r.ID}, r.Aliases...) {
				if other := owner[id]; other != nil {
					problems = append(problems, problem(r.Pos.Get("id"), "rule %q is in the rulebook %s too; amend it there", id, other.Rulebook))
				}
				owner[id] = r
			}
		}
	}
	if len(problems) == 0 {
		// Each edition is worked out once, so that a fault of an amendment shows whatever the date.
		for _, day := range l.Editions() {
			_, ps := l.at(day)
			problems = append(problems, ps...)
		}
	}
	if len(problems) > 0 {
		problems.Sort()
		return nil, slices.Compact(problems)
	}
	return l, nil
}

// Editions lists the days on which something comes into force or ceases, the earliest first; the empty day stands for
// the time before all of them.
func (l *Layers) Editions() []string {
	days := []string{""}
	add := func(p *Period) {
		if p != nil {
			days = append(days, p.From, p.Until)
		}
	}
	for _, b := range l.Books {
		for _, r := range b.Rules {
			add(r.InForce)
		}
		for _, m := range b.Amends {
			add(m.InForce)
		}
	}
	slices.Sort(days)
	return slices.Compact(days)
}

// Edition is the day of Editions from which the rules of a day hold.
func (l *Layers) Edition(day string) string {
	days := l.Editions()
	i := sort.SearchStrings(days, day)
	if i < len(days) && days[i] == day {
		return day
	}
	return days[i-1]
}

// At returns the rules as they are on a day, in order of id. Rules that are not in force on that day are among them. Rules that a
// layer switches off are not.
func (l *Layers) At(day string) []*Rule {
	rules, _ := l.at(day)
	return rules
}

func (l *Layers) at(day string) (rules []*Rule, ps jobfile.Problems) {
	byID := map[string]*Rule{}
	for _, b := range l.Books {
		for _, m := range b.Amends {
			if m.InForce != nil && !m.InForce.Contains(day) {
				continue
			}
			base := byID[m.RuleID]
			if base == nil {
				if !l.declares(m.RuleID) {
					continue // Lay has said so
				}
				ps = append(ps, problem(m.Pos, "the rule %s is switched off below %s; there is nothing to change", m.RuleID, b.Name))
				continue
			}
			r, p := m.apply(base)
			ps = append(ps, p...)
			byID[m.RuleID] = r
		}
		for _, r := range b.Rules {
			byID[r.ID] = r
		}
	}
	for _, r := range byID {
		if r != nil {
			rules = append(rules, r)
		}
	}
	sort.Slice(rules, func(i, j int) bool { return rules[i].ID < rules[j].ID })
	return rules, ps
}

func (l *Layers) declares(id string) bool {
	for _, b := range l.Books {
		for _, r := range b.Rules {
			if r.ID == id {
				return true
			}
		}
	}
	return false
}

// apply makes the changed rule; nil for one that is switched off.
func (m *Amendment) apply(base *Rule) (*Rule, jobfile.Problems) {
	var ps jobfile.Problems
	bad := func(key, format string, args ...any) {
		at := m.Pos.Get(key)
		if at == nil {
			at = m.Pos
		}
		ps = append(ps, problem(at, format, args...))
	}
	r := *base
	c := Change{Amendment: m, Before: base.AllowedText()}
	switch m.What {
	case "off":
		c.Looser = true
	case "severity":
		c.Before = base.Severity.String()
		r.Severity, _ = ParseSeverity(m.SevName)
		r.SevName = m.SevName
		c.Looser = r.Severity < base.Severity
	default:
		if base.Rego {
			bad("rule", "the rule %s is judged by Rego and has no limits to change", base.ID)
			return base, ps
		}
		allowed := *m.Allowed // editions are made at the same time
		r.Allowed = &allowed
		r.checkAllowed(&ps)
		if len(ps) > 0 {
			return base, ps
		}
		switch inside, same := r.Allowed.inside(base.Allowed), r.Allowed.inside(base.Allowed) && base.Allowed.inside(r.Allowed); {
		case same:
			bad("allowed", "this changes nothing: %s allows %s already", base.ID, base.AllowedText())
		case m.What == "tighten" && !inside:
			bad("allowed", "this does not tighten %s, which allows %s; say loosen, with a source", base.ID, base.AllowedText())
		case m.What == "loosen" && inside:
			bad("allowed", "this tightens %s, which allows %s; say tighten", base.ID, base.AllowedText())
		}
		c.Looser = m.What == "loosen"
		if m.Source != nil {
			r.Source = *m.Source
		}
		r.Title = m.Title
	}
	if c.Looser && base.Severity == Critical && !m.AcceptsRisk {
		bad("change", "%s is critical: a person can be hurt; say accepts_risk: true to make it less strict", base.ID)
	}
	if m.Why != "" {
		r.Why = m.Why
	}
	if m.Remedy != "" {
		r.Remedy = m.Remedy
	}
	r.Changes = append(slices.Clone(base.Changes), c)
	r.fields, r.paths = nil, nil
	r.fields = r.Fields()
	r.paths = r.Paths()
	if m.What == "off" {
		return nil, ps
	}
	return &r, ps
}

// Switched lists what layers have switched off on a day.
func (l *Layers) Switched(day string) []*Amendment {
	var out []*Amendment
	for _, b := range l.Books {
		for _, m := range b.Amends {
			if m.What == "off" && (m.InForce == nil || m.InForce.Contains(day)) {
				out = append(out, m)
			}
		}
	}
	return out
}

// inside says whether all that a allows b allows too. Limits that are measures count as inside only when they are the same.
func (a *Allowed) inside(b *Allowed) bool {
	if (len(a.Is) > 0) != (len(b.Is) > 0) {
		return false
	}
	if len(a.Is) > 0 {
		for _, v := range a.Is {
			if !slices.Contains(b.Is, v) {
				return false
			}
		}
		return true
	}
	lo, loOpen, hi, hiOpen := a.Range()
	blo, bloOpen, bhi, bhiOpen := b.Range()
	if lo < blo || lo == blo && bloOpen && !loOpen || hi > bhi || hi == bhi && bhiOpen && !hiOpen {
		return false
	}
	return (b.AtLeastMeasure == "" || a.AtLeastMeasure == b.AtLeastMeasure) && (b.AtMostMeasure == "" || a.AtMostMeasure == b.AtMostMeasure)
}

// LimitBy names the rulebook that set what the rule allows now.
func (r *Rule) LimitBy() string {
	for i := len(r.Changes) - 1; i >= 0; i-- {
		if w := r.Changes[i].What; w == "tighten" || w == "loosen" {
			return r.Changes[i].Rulebook
		}
	}
	return r.Rulebook
}

// Looser lists the changes by which the rule asks for less than a layer below.
func (r *Rule) Looser() []Change {
	var out []Change
	for _, c := range r.Changes {
		if c.Looser {
			out = append(out, c)
		}
	}
	return out
}

// Conflicts lists the pairs of rules on a day of which no value of their measure keeps both, though both can apply to
// one subject. It looks at limits that are fixed and at lists of values.
func (l *Layers) Conflicts(day string) []Conflict {
	type place struct{ kind, measure string }
	by := map[place][]*Rule{}
	var out []Conflict
	for _, r := range l.At(day) {
		if r.Allowed == nil || r.InForce != nil && !r.InForce.Contains(day) {
			continue
		}
		p := place{r.AppliesTo, r.Measure}
		for _, other := range by[p] {
			if !meet(other.Allowed, r.Allowed) && !apart(other, r) {
				out = append(out, Conflict{other, r})
			}
		}
		by[p] = append(by[p], r)
	}
	return out
}

// meet says whether some value is allowed by both.
func meet(a, b *Allowed) bool {
	if len(a.Is) > 0 && len(b.Is) > 0 {
		return slices.ContainsFunc(a.Is, func(v any) bool { return slices.Contains(b.Is, v) })
	}
	if len(a.Is) > 0 || len(b.Is) > 0 {
		list, limits := a, b
		if len(b.Is) > 0 {
			list, limits = b, a
		}
		lo, loOpen, hi, hiOpen := limits.Range()
		return slices.ContainsFunc(list.Is, func(v any) bool {
			n, ok := v.(float64)
			return !ok || n >= lo && !(loOpen && n == lo) && n <= hi && !(hiOpen && n == hi)
		})
	}
	alo, aloOpen, ahi, ahiOpen := a.Range()
	blo, bloOpen, bhi, bhiOpen := b.Range()
	lo, hi := math.Max(alo, blo), math.Min(ahi, bhi)
	open := aloOpen && alo == lo || bloOpen && blo == lo || ahiOpen && ahi == hi || bhiOpen && bhi == hi
	return lo < hi || lo == hi && !open
}

// apart says whether two rules never apply to one subject, since their conditions on one measure exclude each other.
func apart(a, b *Rule) bool {
	for i := range a.When {
		for j := range b.When {
			x, y := &a.When[i], &b.When[j]
			if x.Measure != y.Measure {
				continue
			}
			if len(x.Is) > 0 && len(y.Is) > 0 && !slices.ContainsFunc(x.Is, func(v any) bool { return slices.Contains(y.Is, v) }) {
				return true
			}
			if len(x.Is) == 0 && len(y.Is) == 0 && (limit(x.AtLeast, -1) > limit(y.AtMost, 1) || limit(y.AtLeast, -1) > limit(x.AtMost, 1)) {
				return true
			}
		}
	}
	return false
}

func limit(p *float64, sign int) float64 {
	if p == nil {
		return math.Inf(sign)
	}
	return *p
}
