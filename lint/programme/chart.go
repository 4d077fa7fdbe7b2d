package programme

import (
	"fmt"
	"strings"
	"time"

	cpm "wetrule/lint/calc/programme"
	"wetrule/lint/gantt"
)

// Chart gives the programme as bars over days: a row a task, with its cure, its float, what was planned, and inspections. The id begins the ids in the drawing.
func (p *Programme) Chart(id string) gantt.Chart {
	name := p.Reference
	if p.Title != "" {
		name += ", " + p.Title
	}
	c := gantt.Chart{ID: id, Title: "Programme of " + name, Location: p.Zone}
	cured := map[int]CureEnd{}
	for _, x := range p.Cures {
		// The cure that the next task waits for; that for the first steam is too long to tell anything.
		steam := len(x.For) > 0
		for _, i := range x.For {
			steam = steam && p.Tasks[i].Name == "first_steam"
		}
		if !steam {
			cured[x.Task] = x
		}
	}
	var from, to time.Time
	reach := func(a, b time.Time) {
		if from.IsZero() || a.Before(from) {
			from = a
		}
		if b.After(to) {
			to = b
		}
	}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		r := gantt.Row{ID: t.ID, Label: t.Label}
		if !t.Dated {
			r.Label += " (no date)"
			c.Rows = append(c.Rows, r)
			continue
		}
		note := fmt.Sprintf("%s to %s; %s", ShortDay(t.EarlyStart), ShortDay(t.EarlyFinish), t.Why)
		add := func(b gantt.Bar) {
			if b.To.After(b.From) {
				r.Bars = append(r.Bars, b)
				reach(b.From, b.To)
			}
		}
		switch {
		case t.State == Done:
			add(gantt.Bar{Sort: gantt.Done, From: t.EarlyStart, To: t.EarlyFinish, Label: "done", Note: note})
		case t.Stands > 0:
			stands := t.EarlyFinish.Add(-t.Stands)
			if stands.Before(t.EarlyStart) {
				stands = t.EarlyStart
			}
			add(gantt.Bar{Sort: gantt.Work, From: t.EarlyStart, To: stands, Critical: t.Critical, Note: note})
			add(gantt.Bar{Sort: gantt.Wait, From: stands, To: t.EarlyFinish, Critical: t.Critical, Note: "runs by itself for " + Span(t.Stands)})
		default:
			label := strings.Join(t.By, ", ")
			if t.Basis == Unknown {
				label = "time not known"
			}
			add(gantt.Bar{Sort: gantt.Work, From: t.EarlyStart, To: t.EarlyFinish, Critical: t.Critical, Label: label, Note: note})
		}
		if x, ok := cured[i]; ok && x.At.After(p.AsOf) {
			add(gantt.Bar{Sort: gantt.Wait, From: t.EarlyFinish, To: x.At, Label: x.Text, Note: title(x.What) + " cures: " + x.Text})
		}
		if t.State != Done && t.TotalFloat > 0 {
			add(gantt.Bar{Sort: gantt.Float, From: t.EarlyFinish, To: t.LateFinish, Note: "float: " + Span(t.TotalFloat) + " of working time"})
		}
		if !t.Planned.Start.IsZero() && !t.Planned.Finish.IsZero() {
			add(gantt.Bar{Sort: gantt.Plan, From: t.Planned.Start, To: t.Planned.Finish, Note: "planned: " + ShortDay(t.Planned.Start) + " to " + ShortDay(t.Planned.Finish)})
		}
		for _, kind := range []struct {
			sort  string
			shape gantt.Shape
		}{{"hold", gantt.Hold}, {"witness", gantt.Witness}, {"review", gantt.Review}} {
			// All of one sort stand at the end of the task.
			var checks []string
			for k := range p.Points {
				if x := &p.Points[k]; x.Task == i && x.Sort == kind.sort {
					checks = append(checks, x.Check)
				}
			}
			if len(checks) > 0 {
				r.Points = append(r.Points, gantt.Point{Shape: kind.shape, At: t.EarlyFinish, Note: title(kind.sort) + " point: " + strings.Join(checks, " ")})
			}
		}
		if t.Name == "first_steam" {
			r.Points = append(r.Points, gantt.Point{Shape: gantt.Milestone, At: t.EarlyStart, Note: "Steam may first be raised"})
		}
		reach(t.EarlyStart, t.EarlyFinish)
		c.Rows = append(c.Rows, r)
		if t.Driver >= 0 && p.Links[t.Driver].Resource == "" && t.State != Done {
			l := &p.Links[t.Driver]
			c.Links = append(c.Links, gantt.Link{From: p.Tasks[l.From].ID, To: t.ID, Kind: l.Kind})
		}
	}
	if from.IsZero() {
		from, to = p.Start, p.Start.Add(24*time.Hour)
	}
	c.Shades = p.shades(from, to)
	if p.Recorded {
		c.Marks = append(c.Marks, gantt.Mark{At: p.AsOf, Label: "recorded up to here"})
	}
	if !p.FirstSteam.IsZero() {
		c.Marks = append(c.Marks, gantt.Mark{At: p.FirstSteam, Label: "first steam"})
	}
	return c
}

// shades are the days on which nobody works.
func (p *Programme) shades(from, to time.Time) []gantt.Shade {
	var out []gantt.Shade
	last := cpm.DateOf(to.In(p.Zone))
	for d, n := cpm.DateOf(from.In(p.Zone)), 0; n < gantt.MaxDays && d.Compare(last) <= 0; d, n = d.AddDays(1), n+1 {
		if why, free := p.Calendar.Free(d); free {
			out = append(out, gantt.Shade{From: d.In(p.Zone), To: d.AddDays(1).In(p.Zone), Note: why, Holiday: why != d.Weekday().String()})
		}
	}
	return out
}
