package programme

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wetrule/lint/calc/maturity"
	cpm "wetrule/lint/calc/programme"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/methods"
	"wetrule/lint/rulebook"
)

// edge is a link that is being made, between drafts by place.
type edge struct {
	Link
	cures bool          // a cure of the first task
	age   float64       // hours at the age's reference that the rules ask for, 0 for none
	most  float64       // longest wait that the rules allow, in hours; infinite for none
	base  time.Duration // lag of the methods of work
	other float64       // hours that the rules ask for before something else may follow
	stop  string        // why the wait never ends
	miss  bool          // what cures, or for how long, is not known
	why   []string
}

// waitsOf lists the rows of the rules on planned waits.
func waitsOf(rules []*rulebook.Rule) (rows []*rulebook.Rule, waits []measure.Wait) {
	for _, r := range rules {
		w, ok := measure.ParseWait(r.Measure)
		if !ok || w.Actual || r.Kind == nil {
			continue
		}
		w.Kind = r.Kind.Name
		rows, waits = append(rows, r), append(waits, w)
	}
	return rows, waits
}

// links ties the drafts: rows of the sequence and other rules on waits where they apply, cures, and the links of the methods of work. unsure are the rules
// of which the job does not say whether they apply; they are kept.
func links(job *jobfile.Job, rules []*rulebook.Rule, plan *methods.Plan, set *measure.Set) (out []*edge, unsure []string) {
	at := map[[3]int]*edge{}
	tie := func(from, to int, kind cpm.Kind) *edge {
		k := [3]int{from, to, int(kind)}
		if at[k] == nil {
			at[k] = &edge{Link: Link{From: from, To: to, Kind: kind, Elapsed: true}, most: math.Inf(1)}
			out = append(out, at[k])
		}
		return at[k]
	}
	order := set.Order()
	rows, waits := waitsOf(rules)
	for i, r := range rows {
		t := set.Table(r.Kind.Name)
		if t == nil {
			continue
		}
		reading := r.Read(t)
		for k := range t.Subjects {
			a := reading.Assess(k)
			if a.Applies == rulebook.False || r.Rego {
				continue
			}
			firsts, thens := order.Before(waits[i], &t.Subjects[k])
			if a.Applies == rulebook.Unsure && len(firsts) > 0 && len(thens) > 0 && !slices.Contains(unsure, r.ID) {
				unsure = append(unsure, r.ID)
			}
			for _, first := range firsts {
				for _, then := range thens {
					if first == then {
						continue
					}
					if lo := a.Lo; !math.IsInf(lo, -1) {
						e := tie(first, then, cpm.FS)
						e.rule(r.ID, max(lo, 0))
					}
					if !math.IsInf(a.Hi, 1) {
						e := tie(first, then, cpm.FS)
						e.most = min(e.most, a.Hi)
						e.name(r.ID)
					}
				}
			}
		}
	}
	cureRules := idsOf(rules, "cure", "planned_wait_h")
	for i := range job.Tasks {
		if !order.Cure(i).Arises {
			continue
		}
		for _, then := range order.Cured(i) {
			e := tie(i, then, cpm.FS)
			e.cures = true
			for _, id := range cureRules {
				e.name(id)
			}
		}
	}
	for _, r := range rules {
		// The age of the grout at first steam, counted at the temperature of data sheets.
		if r.Measure != "planned_steam_age_h" || r.Kind == nil {
			continue
		}
		t := set.Table(r.Kind.Name)
		if t == nil {
			continue
		}
		reading := r.Read(t)
		for k := range t.Subjects {
			a := reading.Assess(k)
			from := placeOf(job, t.Subjects[k].Task)
			if a.Applies == rulebook.False || math.IsInf(a.Lo, -1) || t.Subjects[k].Task == nil || from < 0 {
				continue
			}
			for _, then := range order.Cured(from) {
				if job.Tasks[then].Task == "first_steam" {
					e := tie(from, then, cpm.FS)
					e.age = max(e.age, a.Lo)
					e.name(r.ID)
				}
			}
		}
	}
	if plan != nil {
		for _, l := range plan.Links {
			kind, ok := cpm.ParseKind(l.Sort)
			if !ok {
				continue
			}
			for i := range job.Tasks {
				for k := range job.Tasks {
					if i == k || !named(job.Tasks[i].Task, l.From) || !named(job.Tasks[k].Task, l.To) || !order.Same(i, k) {
						continue
					}
					e := tie(i, k, kind)
					if lag := hoursOf(l.LagH); len(e.Rules) == 0 && len(e.why) == 0 || lag > e.Lag {
						e.Lag, e.base = max(e.Lag, lag), lag
						e.Elapsed = l.Elapsed || lag == 0 || kind == cpm.FS && len(e.Rules) > 0
					}
					e.why = append(e.why, l.Why)
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b *edge) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To), cmp.Compare(a.Kind, b.Kind))
	})
	for _, e := range out {
		slices.Sort(e.Rules)
		e.Why = strings.Join(slices.Compact(e.why), " ")
	}
	return out, unsure
}

// standIns finds, for cures of which no rule gives the time before what follows, the shortest that one gives before something else.
// First steam does not count: it waits for more than the first hardness.
func standIns(edges []*edge, list []draft) {
	for _, e := range edges {
		if !e.cures || e.Cure != nil {
			continue
		}
		for _, o := range edges {
			if o.From == e.From && o.cures && list[o.To].Name != "first_steam" && o.Cure != nil && o.Cure.RuleH > 0 && (e.other == 0 || o.Cure.RuleH < e.other) {
				e.other = o.Cure.RuleH
			}
		}
	}
}

// placeOf finds a task in the list of the job, -1 if it is not there.
func placeOf(job *jobfile.Job, task *jobfile.Task) int {
	for i := range job.Tasks {
		if &job.Tasks[i] == task {
			return i
		}
	}
	return -1
}

func named(task, word string) bool {
	return task == word || word == "finish" && (task == "tile" || task == "plaster")
}

func idsOf(rules []*rulebook.Rule, kind, name string) (ids []string) {
	for _, r := range rules {
		if r.Measure == name && r.Kind != nil && r.Kind.Name == kind {
			ids = append(ids, r.ID)
		}
	}
	return ids
}

// rule adds what a rule asks for.
func (e *edge) rule(id string, h float64) {
	e.name(id)
	if e.Cure == nil {
		e.Cure = &Cure{}
	}
	e.Cure.RuleH = max(e.Cure.RuleH, h)
	e.Lag = max(e.Lag, hoursOf(h))
	e.Elapsed = true
}

func (e *edge) name(id string) {
	if !slices.Contains(e.Rules, id) {
		e.Rules = append(e.Rules, id)
	}
}

// cure works out how long a link waits when its first task ends at an instant.
func (e *edge) cure(m *maker, order *measure.Order, drafts []draft, end time.Time) {
	rule := 0.0
	if e.Cure != nil {
		rule = e.Cure.RuleH
	}
	e.stop, e.miss = "", false
	if !e.cures || e.Kind != cpm.FS {
		return
	}
	d := &drafts[e.From]
	k := order.Cure(e.From)
	c := &Cure{RuleH: rule, SheetH: k.SheetH, Given: k.Given, ReferenceC: k.ReferenceC}
	e.Cure = c
	e.Lag = max(e.base, hoursOf(rule))
	what := d.leaves()
	switch {
	case !k.Given && rule == 0 && e.other == 0 && e.age == 0:
		e.miss = true
		return
	case !k.Given:
		c.SheetH = rule
		if rule == 0 {
			c.SheetH = e.other
		}
		m.each("The data sheets' cure times of %s are not given (cure_h): the waits that the rules ask for stand in for them.", what)
	case k.Assumed != "":
		m.each("The data sheets' cure times of %s are taken as at "+measure.FormatNumber(k.ReferenceC)+" °C, as the temperature is not given (cure_at_c).", what)
	}
	if k.Known {
		c.Product = k.Product.String()
	} else {
		// Cement, resin and polyurethane follow one formula in the cold.
		k.Product = maturity.Polyurethane
		m.each("What kind of product makes %s is not known (material of the task): it is reckoned like cement, resin and polyurethane, which take twice the time for 10 K.", what)
	}
	w := m.site.weatherFrom(d.task, k.Product, k.ReferenceC, end)
	c.Assumed = w.assumed
	if w.assumed {
		m.once("No temperature of the site is given nor forecast: that of the data sheets, %s, is taken, so that nothing is lengthened for cold. Give programme.site_temperature_c.", measure.FormatNumber(k.ReferenceC)+" °C")
	}
	if w.humidity {
		m.once("No humidity of the site is given nor forecast: the 50 %% of data sheets are taken for what dries or cures by the air. Give programme.site_humidity_percent.")
	}
	needed, lo, hi, err := w.cureTime(k.Product, c.SheetH, k.ReferenceC)
	c.NeededH, c.SiteMinC, c.SiteMaxC = needed, lo, hi
	if err == nil && e.age > 0 {
		var h float64
		if h, lo, hi, err = w.cureTime(k.Product, e.age, dataSheetC); err == nil && h > max(needed, rule) {
			c.SheetH, c.ReferenceC, c.Given = e.age, dataSheetC, false
			c.NeededH, c.SiteMinC, c.SiteMaxC = h, lo, hi
		}
	}
	switch {
	case stands(err):
		e.stop = fmt.Sprintf("nothing cures at %s. Heat the room to 10 °C or more (5 °C is the least), and say so in site_temperature_c", degrees(lo, hi))
	case err != nil:
		e.stop = fmt.Sprintf("its cure cannot be reckoned: %v", err)
	default:
		e.Lag = max(e.base, hoursOf(max(rule, c.NeededH)))
	}
}

// waitText says what a wait is made of: "48 h at 20 °C became 61 h at 15 °C".
func (l *Link) waitText() string {
	c := l.Cure
	switch {
	case c == nil:
		if l.Lag != 0 {
			return Span(l.Lag) + pick(l.Elapsed, "", " of working time")
		}
		return ""
	case c.NeededH > c.RuleH && c.NeededH > c.SheetH*(1+1e-9):
		return fmt.Sprintf("%s at %s became %s at %s", hoursText(c.SheetH), degrees(c.ReferenceC, c.ReferenceC), ceilHours(c.NeededH), degrees(c.SiteMinC, c.SiteMaxC))
	case c.NeededH > c.RuleH:
		return hoursText(c.SheetH) + pick(c.Given, " by the data sheet", " by the rules")
	case c.RuleH > 0:
		return hoursText(c.RuleH) + " by the rules"
	}
	return ""
}

// leftBehind is what a task leaves behind that cures.
var leftBehind = map[string]string{
	"assemble_panels": "the joints of the panels", "bond_inserts": "the bond of the inserts", "embed_cable": "the cover of the cable", "mesh_and_cement": "the cement over the mesh",
	"waterproof": "the waterproofing", "tile": "the bed of the tiles", "joint": "the grout", "seal": "the sealant",
}

// leaves names what a task leaves behind that cures, with what the task is for.
func (t *Task) leaves() string {
	s := leftBehind[t.Name]
	if s == "" {
		return lower(t.Label)
	}
	if _, places, ok := strings.Cut(t.Label, " ("); ok {
		s += " (" + places
	}
	return s
}

func pick(cond bool, a, b string) string {
	if cond {
		return a
	}
	return b
}

const dataSheetC = maturity.DataSheetC
