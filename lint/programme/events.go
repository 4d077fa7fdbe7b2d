package programme

import (
	"fmt"
	"strings"

	cpm "wetrule/lint/calc/programme"
	"wetrule/lint/ical"
)

// Events gives the programme as a calendar: an event a task, and points in time with a reminder where something has cured and where the work
// is held. Its stamp is the day of judgement, so that the same programme gives the same file.
func (p *Programme) Events() (ical.Calendar, error) {
	day, err := cpm.ParseDate(p.On)
	if err != nil {
		return ical.Calendar{}, err
	}
	name := p.Reference
	if p.Title != "" {
		name += ", " + p.Title
	}
	c := ical.Calendar{Key: p.Reference, Name: name, Stamp: day.In(p.Zone)}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		if !t.Dated {
			continue
		}
		var text []string
		say := func(what, s string) {
			if s != "" {
				text = append(text, what+s)
			}
		}
		say("By: ", inWords(t.By))
		say("For: ", inWords(append(append([]string{}, t.Items...), t.Faces...)))
		switch {
		case t.State == Done:
			say("", "Done, by record.")
		case t.Critical:
			say("", "Critical: when it is late, the end is.")
		default:
			say("Float: ", Span(t.TotalFloat)+" of working time")
		}
		if t.State != Done {
			say("Why then: ", t.Why)
		}
		if t.Basis == Unknown {
			say("", "How long it takes is not known; what it hangs on: "+strings.Join(t.Needs, ", "))
		}
		for k := range p.Points {
			if x := &p.Points[k]; x.Task == i {
				say(x.Letter+" ("+x.Sort+"): ", x.Check)
			}
		}
		c.Events = append(c.Events, ical.Event{
			Key: t.ID, Start: t.EarlyStart, Finish: t.EarlyFinish, Summary: t.Label, Description: strings.Join(text, "\n"), Categories: []string{"task"},
			Busy: t.State != Done && t.Stands == 0,
		})
	}
	for _, x := range p.Cures {
		if !x.At.After(p.AsOf) {
			continue
		}
		var then, ids []string
		for _, i := range x.For {
			then, ids = append(then, lower(p.Tasks[i].Label)), append(ids, p.Tasks[i].ID)
		}
		summary := title(x.What) + ": cured"
		c.Events = append(c.Events, ical.Event{
			Key: "cured/" + p.Tasks[x.Task].ID + "/" + strings.Join(ids, "/"), Start: x.At, Summary: summary,
			Description: "May begin from now on, as far as this cure goes: " + inWords(then) + ".\n" + title(x.Text) + ". An estimate; the data sheet goes first.", Categories: []string{"cure"},
			Alarms: []ical.Alarm{{Text: summary}},
		})
	}
	count := map[string]int{}
	for _, x := range p.Points {
		t := &p.Tasks[x.Task]
		if x.Sort != "hold" || !x.Dated || t.State == Done {
			continue
		}
		count[t.ID]++
		text := x.Check
		if x.ReleasedBy != "" {
			text += "\nReleased by: " + x.ReleasedBy
		}
		if len(x.Subjects) > 0 {
			text += "\nOf: " + inWords(x.Subjects)
		}
		summary := "Hold point: " + lower(t.Label)
		c.Events = append(c.Events, ical.Event{
			Key: fmt.Sprintf("hold/%s/%d", t.ID, count[t.ID]), Start: x.At, Summary: summary, Description: "The work does not go on without release.\n" + text, Categories: []string{"hold point"},
			Alarms: []ical.Alarm{{Text: summary}},
		})
	}
	return c, nil
}
