package programme

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	cpm "wetrule/lint/calc/programme"
	"wetrule/lint/jobfile"
)

type jobTask = jobfile.Task

// AsPlanned is why a task begins when the job plans it to.
const AsPlanned = "as planned"

// why says in plain words what sets the start of a task.
func (n *network) why(d *draft, x cpm.Driver, t *Task) string {
	z := n.site.zone
	switch d.State {
	case Done:
		return "recorded"
	case Begun:
		return "has begun; the rest of its time follows"
	}
	text := ""
	switch x.By {
	case cpm.ByLink:
		k := x.Link
		if k < 0 || k >= len(n.tied) || n.tied[k] < 0 {
			break
		}
		text = n.linkText(n.edges[n.tied[k]])
	case cpm.ByResource:
		busy := n.taskOfPart(x.From)
		who := d.parts[0].resource
		if busy >= 0 {
			text = fmt.Sprintf("waits for the %s, who is at %s", who, lower(n.list[busy].Label))
		} else {
			text = "waits for the " + who
		}
	case cpm.ByNotBefore:
		text = AsPlanned
	case cpm.ByAsOf:
		text = "not recorded yet, so not before " + DayOnly(n.p.AsOf.In(z))
	case cpm.ByStart:
		text = "the programme begins"
	}
	if x.Calendar {
		if free := freeBetween(n.site.calendar, x.Ready, t.EarlyStart, z); free != "" {
			text += ", then " + free
		} else if x.By == cpm.ByLink && n.lagged(x.Link) {
			text += ", until " + ShortDay(x.Ready.In(z)) + ", then the next shift"
		}
	}
	return text
}

func (n *network) lagged(link int) bool {
	return link >= 0 && link < len(n.tied) && n.tied[link] >= 0 && n.edges[n.tied[link]].Lag > 0
}

// linkText says what a link makes wait.
func (n *network) linkText(e *edge) string {
	from := lower(n.list[e.From].Label)
	wait := e.waitText()
	cites := ""
	if rules := e.cited(); len(rules) > 0 {
		cites = " (" + strings.Join(rules, ", ") + ")"
	}
	switch e.Kind {
	case cpm.SS:
		if wait == "" {
			return "begins with " + from + cites
		}
		return "begins " + wait + " after the beginning of " + from + cites
	case cpm.FF:
		return strings.TrimSpace("ends "+wait) + " after the end of " + from + cites
	case cpm.SF:
		return strings.TrimSpace("ends "+wait) + " after the beginning of " + from + cites
	}
	switch {
	case wait == "":
		return "follows " + from + cites
	case e.cures && e.Cure != nil && e.Cure.NeededH > 0:
		return "waits for the cure of " + n.list[e.From].leaves() + ": " + wait + cites
	}
	return "waits for " + from + ": " + wait + cites
}

// cited are the rules that decide a link: those of a cure only where the cure does.
func (e *edge) cited() []string {
	c := e.Cure
	cure := e.cures && c != nil && c.NeededH > c.RuleH
	var out []string
	for _, id := range e.Rules {
		if strings.HasPrefix(id, "cure-") || strings.HasPrefix(id, "steam-age-") {
			if !cure {
				continue
			}
		} else if cure {
			continue
		}
		out = append(out, id)
	}
	if len(out) == 0 && !cure {
		return nil
	}
	return out
}

// says writes what people have to know: missing facts, stops, slips, cautions.
func (n *network) says() {
	p := n.p
	for k := range p.Tasks {
		t := &p.Tasks[k]
		if t.Basis != Unknown {
			continue
		}
		m := Missing{Task: k, Fields: slices.Clone(t.Needs)}
		switch {
		case len(m.Fields) > 0 && t.Minutes > 0:
			m.Text = fmt.Sprintf("%s takes %s at least; its whole length hangs on", lower(t.Label), Span(minutesOf(t.Minutes)))
		case len(m.Fields) > 0:
			m.Text = fmt.Sprintf("how long %s takes is not known; it hangs on", lower(t.Label))
		default:
			m.Text = fmt.Sprintf("no method of work tells how long %s takes; give its planned start and finish", lower(t.Label))
		}
		at := "tasks"
		if t.InJob >= 0 {
			at = fmt.Sprintf("tasks[%d].planned", t.InJob)
		}
		if len(m.Fields) == 0 {
			m.Fields = append(m.Fields, at)
		}
		p.Missing = append(p.Missing, m)
	}
	where := map[int]int{}
	for k := range p.Tasks {
		where[p.Tasks[k].order] = k
	}
	for _, e := range n.edges {
		from, to := &n.list[e.From], &n.list[e.To]
		if to.State != ToDo {
			continue
		}
		if e.stop != "" {
			continue // below
		}
		if e.miss {
			p.Whole = false
			field := "tasks"
			if from.InJob >= 0 {
				field = fmt.Sprintf("tasks[%d].cure_h", from.InJob)
			}
			if !slices.ContainsFunc(p.Missing, func(m Missing) bool { return m.Task == where[e.From] && slices.Contains(m.Fields, field) }) {
				p.Missing = append(p.Missing, Missing{Task: where[e.From], Fields: []string{field}, Text: fmt.Sprintf("how long %s has to cure before %s is not known; give its cure time by the data sheet", lower(from.Label), lower(to.Label))})
			}
		}
		if math.IsInf(e.most, 1) || n.out[e.To] || n.out[e.From] {
			continue
		}
		if wait := p.Tasks[where[e.To]].EarlyStart.Sub(p.Tasks[where[e.From]].EarlyFinish); wait > hoursOf(e.most) {
			n.site.caution("%s begins %s after %s, and the rules allow %s at most (%s).", to.Label, Span(wait), lower(from.Label), hoursText(e.most), strings.Join(e.Rules, ", "))
		}
	}
	for i := range n.list {
		// What never cures holds up several tasks at once.
		var then []string
		why := ""
		for _, e := range n.edges {
			if e.From == i && e.stop != "" && !n.out[i] && n.list[e.To].State == ToDo {
				then, why = append(then, lower(n.list[e.To].Label)), e.stop
			}
		}
		if len(then) > 0 {
			p.Stops = append(p.Stops, fmt.Sprintf("No date can be given for %s, nor for what follows: %s waits for %s, and %s.", inWords(then), pick(len(then) == 1, "it", "each"), n.list[i].leaves(), why))
		}
	}
	for k := range p.Tasks {
		n.slip(k)
	}
	// What was begun before it might.
	for _, e := range n.edges {
		from, to := &n.p.Tasks[where[e.From]], &n.p.Tasks[where[e.To]]
		if e.Kind != cpm.FS || to.State == ToDo || to.Recorded.Start.IsZero() || !from.Dated || e.stop != "" {
			continue
		}
		if ready := from.EarlyFinish.Add(e.Lag); to.Recorded.Start.Before(ready) {
			n.site.caution("%s began on %s, and might not before %s: %s.", to.Label, ShortDay(to.Recorded.Start), ShortDay(ready), n.linkText(e))
		}
	}
}

// slip holds a task against the planned times of the job.
func (n *network) slip(k int) {
	t := &n.p.Tasks[k]
	if !t.Dated || t.Planned.Start.IsZero() || n.fresh && t.State == ToDo {
		return
	}
	s := Slip{Task: k, Start: t.EarlyStart.Sub(t.Planned.Start).Round(time.Second)}
	if !t.Planned.Finish.IsZero() && (t.State == Done || t.Basis != Unknown) {
		s.Finish = t.EarlyFinish.Sub(t.Planned.Finish).Round(time.Second)
	}
	if s.Start == 0 && s.Finish == 0 {
		return
	}
	late := func(d time.Duration) string { return pick(d < 0, days(-d)+" early", days(d)+" late") }
	switch {
	case t.State == Done && s.Finish == 0:
		s.Text = fmt.Sprintf("%s began %s and ended as planned", t.Label, late(s.Start))
	case t.State == Done:
		s.Text = fmt.Sprintf("%s ended on %s, %s", t.Label, ShortDay(t.EarlyFinish), late(s.Finish))
	case t.State == Begun:
		s.Text = fmt.Sprintf("%s began %s and will end on %s, %s", t.Label, pick(s.Start == 0, "as planned", late(s.Start)), ShortDay(t.EarlyFinish), pick(s.Finish == 0, "as planned", late(s.Finish)))
	case s.Start > 0:
		s.Text = fmt.Sprintf("%s not before %s, planned for %s (%s): %s", t.Label, ShortDay(t.EarlyStart), ShortDay(t.Planned.Start), late(s.Start), t.Why)
	default:
		s.Text = fmt.Sprintf("%s will end on %s, planned for %s (%s)", t.Label, ShortDay(t.EarlyFinish), ShortDay(t.Planned.Finish), late(s.Finish))
	}
	n.p.Slips = append(n.p.Slips, s)
}
