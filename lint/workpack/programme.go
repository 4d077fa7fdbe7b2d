package workpack

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"time"

	"wetrule/lint/draw"
	"wetrule/lint/draw/font"
	"wetrule/lint/methods"
	"wetrule/lint/programme"
	"wetrule/lint/report"
)

// programmeBlocks are the dates of the work: a chart, the tasks, cure times, and what the dates stand on.
func (b *builder) programmeBlocks() []Block {
	p := b.in.Programme
	end := "no task has a date"
	if !p.End.IsZero() {
		end = pick(p.Whole, "", "not before ") + programme.Day(p.End)
	}
	facts := []Fact{{"Begins", programme.Day(p.Start)}, {"Ends", end}}
	if p.Recorded {
		facts = append(facts, Fact{"Recorded up to", programme.Day(p.AsOf)})
	}
	if !p.FirstSteam.IsZero() {
		facts = append(facts, Fact{"First steam", pick(p.Whole, "", "not before ") + programme.Day(p.FirstSteam)})
	}
	out := []Block{Facts{append(facts, Fact{"Times", "by the clock of " + p.Zone.String()})}}
	if !p.Whole {
		var lines []string
		lines = append(lines, p.Stops...)
		for _, m := range p.Missing {
			lines = append(lines, m.Text)
		}
		if len(lines) > 0 {
			out = append(out, Note{Sort: "caution", Title: "Not everything has a date", Lines: lines})
		}
	}
	for _, s := range chart(p) {
		out = append(out, Drawing{s})
	}
	t := Table{Caption: "Tasks in the order in which they begin", Columns: []Column{{Head: "Task", MM: 46}, {Head: "By", MM: 22}, {Head: "Begins", MM: 28}, {Head: "Finished", MM: 28}, {Head: "May slip by", MM: 20}, {Head: "What sets its beginning", MM: 34}}}
	for i := range p.Tasks {
		x := &p.Tasks[i]
		var by []string
		for _, id := range x.By {
			if s := words(id); !slices.Contains(by, s) {
				by = append(by, s)
			}
		}
		begins, ends, slip := text("no date"), text("no date"), text("–")
		if x.Dated {
			begins, ends = text(clock(x.EarlyStart)), text(clock(x.EarlyFinish))
			slip = text(programme.Span(x.TotalFloat))
			switch {
			case x.State == programme.Done:
				slip = text("done")
			case x.Critical:
				slip = bold("nothing: critical")
			}
		}
		if x.Stands > 0 && x.State != programme.Done {
			ends.Lines = []string{"of which it stands " + programme.Span(x.Stands)}
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{bold(capital(x.Label)), text(capital(strings.Join(by, ", "))), begins, ends, slip, {Lines: []string{x.Why}}}})
	}
	out = append(out, t)
	cures := Table{Caption: "When it has cured: not before these times", Columns: []Column{{Head: "Not before", MM: 36}, {Head: "What", MM: 142}}}
	for _, c := range p.Cures {
		cures.Rows = append(cures.Rows, Row{Cells: []Cell{bold(clock(c.At)), text(capital(strings.TrimPrefix(c.What+": "+c.Text, ": ")))}})
	}
	if len(cures.Rows) > 0 {
		out = append(out, cures)
	}
	var slips []string
	for _, s := range p.Slips {
		slips = append(slips, s.Text)
	}
	if len(slips) > 0 {
		out = append(out, Heading{Text: "What does not go as planned, and why"}, List{slips})
	}
	if list := slices.Concat(p.Cautions, p.Assumptions); len(list) > 0 {
		out = append(out, Heading{Text: "What the dates stand on"}, List{list})
	}
	return out
}

// clock is a day and a time of day in the width of a column: "Mon 2 Mar 10:00".
func clock(t time.Time) string { return t.Format("Mon 2 Jan 15:04") }

// when finds when an inspection of the plan comes in the programme.
func (b *builder) when(p *methods.Point) string {
	for i := range b.in.Programme.Points {
		x := &b.in.Programme.Points[i]
		if x.Dated && b.in.Programme.Tasks[x.Task].State != programme.Done && x.Letter == p.Letter && (p.Subject == "" || slices.Contains(x.Subjects, p.Subject)) && x.Check == p.Check && b.in.Programme.Tasks[x.Task].Name == p.Task {
			return clock(x.At)
		}
	}
	return ""
}

// calendarOf writes the programme as a calendar.
func calendarOf(p *programme.Programme) ([]byte, error) {
	var out bytes.Buffer
	err := report.Programme(&out, "ics", p, report.Options{})
	return out.Bytes(), err
}

// Sizes of the chart on paper, mm.
const (
	chartNames = 52  // for the names of tasks
	chartRow   = 4.8 // from one task to the next
	chartText  = 2.6
	chartRows  = 38 // of one drawing, so that it fits on a page
)

// chart draws the tasks as bars over days: critical ones full, what is done hatched, dotted lines for how far one may slip.
func chart(p *programme.Programme) (out []draw.Sheet) {
	var tasks []*programme.Task
	from, to := p.Start, p.End
	for i := range p.Tasks {
		if x := &p.Tasks[i]; x.Dated {
			tasks = append(tasks, x)
			if x.EarlyStart.Before(from) {
				from = x.EarlyStart
			}
			if x.EarlyFinish.After(to) {
				to = x.EarlyFinish
			}
		}
	}
	if len(tasks) == 0 {
		return nil
	}
	midnight := func(t time.Time) time.Time {
		t = t.In(p.Zone)
		return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, p.Zone)
	}
	from, to = midnight(from), midnight(to).AddDate(0, 0, 1)
	// Times far apart would make a chart that shows nothing; the table has them.
	if to.Sub(from) > 3*366*24*time.Hour {
		return nil
	}
	const wide = Width - chartNames - 2
	at := func(t time.Time) float64 {
		return chartNames + wide*float64(t.Sub(from))/float64(to.Sub(from))
	}
	for n := 0; n < len(tasks); n += chartRows {
		part := tasks[n:min(n+chartRows, len(tasks))]
		title := "Programme"
		if len(tasks) > chartRows {
			title = fmt.Sprintf("Programme, tasks %d to %d", n+1, n+len(part))
		}
		s := draw.Sheet{ID: fmt.Sprintf("programme-%d", n/chartRows+1), Title: title, Scale: 1}
		low := -chartRow * float64(len(part))
		words := func(x, y float64, text string, strong bool, a draw.Anchor) {
			s.Shapes = append(s.Shapes, draw.Shape{Layer: draw.TextLayer, Kind: draw.Text, Points: []draw.Point{{X: x, Y: y}}, Text: text, Size: chartText, Anchor: a, Strong: strong})
		}
		line := func(x1, y1, x2, y2 float64, w draw.Weight, d draw.Dash, class string) {
			s.Shapes = append(s.Shapes, draw.Shape{Layer: draw.DimensionLayer, Kind: draw.Line, Points: []draw.Point{{X: x1, Y: y1}, {X: x2, Y: y2}}, Weight: w, Dash: d, Class: class})
		}
		box := func(layer draw.Layer, x1, x2, y1, y2 float64, fill draw.Fill, w draw.Weight) {
			s.Shapes = append(s.Shapes, draw.Shape{Layer: layer, Kind: draw.Polygon, Points: []draw.Point{{X: x1, Y: y1}, {X: x2, Y: y1}, {X: x2, Y: y2}, {X: x1, Y: y2}}, Fill: fill, Weight: w})
		}
		// Saturdays and Sundays lie in grey; Mondays have their date, as often as there is room.
		last := -1e9
		for day := from; day.Before(to); day = day.AddDate(0, 0, 1) {
			next := day.AddDate(0, 0, 1)
			if w := day.Weekday(); w == time.Saturday || w == time.Sunday {
				box(draw.PanelLayer, at(day), at(next), low, 0, draw.Tint, draw.NoLine)
			}
			if day.Weekday() == time.Monday {
				line(at(day), low, at(day), 1, draw.Thin, draw.Solid, "witness")
				label := fmt.Sprintf("%d %s", day.Day(), day.Month().String()[:3])
				if half := draw.TextWidth(label, chartText, false)/2 + 0.8; at(day)-half > last && at(day)+half < Width {
					words(at(day), 2.6, label, false, draw.Middle)
					last = at(day) + half
				}
			}
		}
		line(chartNames, 0, chartNames+wide, 0, draw.Thin, draw.Solid, "")
		for i, x := range part {
			y := -chartRow * (float64(i) + 0.5)
			words(0, y, font.Cut(font.Clean(capital(x.Label), 200), chartText, chartNames-2, x.Critical), x.Critical, draw.Start)
			start, finish := at(x.EarlyStart), max(at(x.EarlyFinish), at(x.EarlyStart)+1.2)
			if x.State != programme.Done && x.LateFinish.After(x.EarlyFinish) && x.LateFinish.Before(to) {
				line(finish, y, at(x.LateFinish), y, draw.Normal, draw.Dotted, "")
			}
			const half = 1.35
			switch {
			case x.State == programme.Done:
				box(draw.FixtureLayer, start, finish, y-half, y+half, draw.Paper, draw.Thin)
				s.Shapes = append(s.Shapes, draw.Shape{Layer: draw.FixtureLayer, Kind: draw.Hatch, Points: []draw.Point{{X: start, Y: y - half}, {X: finish, Y: y - half}, {X: finish, Y: y + half}, {X: start, Y: y + half}}, HatchDeg: 45, HatchMM: 0.9, Weight: draw.Thin})
			case x.Critical:
				box(draw.FixtureLayer, start, finish, y-half, y+half, draw.Full, draw.Thin)
			default:
				weight := draw.Normal
				if finish-start < 2 { // else nothing of its inside is seen, and it looks critical
					weight = draw.Thin
				}
				box(draw.FixtureLayer, start, finish, y-half, y+half, draw.Paper, weight)
			}
		}
		// What the bars mean.
		y := low - 4
		x := chartNames
		sign := func(text string, d func(x float64)) {
			d(float64(x))
			words(float64(x)+8, y, text, false, draw.Start)
			x += 11 + int(draw.TextWidth(text, chartText, false)+1)
		}
		sign("critical", func(x float64) { box(draw.FixtureLayer, x, x+6, y-1.2, y+1.2, draw.Full, draw.Thin) })
		sign("other", func(x float64) { box(draw.FixtureLayer, x, x+6, y-1.2, y+1.2, draw.Paper, draw.Normal) })
		sign("done", func(x float64) {
			box(draw.FixtureLayer, x, x+6, y-1.2, y+1.2, draw.Paper, draw.Thin)
			s.Shapes = append(s.Shapes, draw.Shape{Layer: draw.FixtureLayer, Kind: draw.Hatch, Points: []draw.Point{{X: x, Y: y - 1.2}, {X: x + 6, Y: y - 1.2}, {X: x + 6, Y: y + 1.2}, {X: x, Y: y + 1.2}}, HatchDeg: 45, HatchMM: 0.9, Weight: draw.Thin})
		})
		sign("may slip", func(x float64) { line(x, y, x+6, y, draw.Normal, draw.Dotted, "") })
		sign("Saturday, Sunday", func(x float64) { box(draw.PanelLayer, x, x+6, y-1.2, y+1.2, draw.Tint, draw.NoLine) })
		s.Bounds = draw.Box{MinX: 0, MinY: y - 3, MaxX: Width, MaxY: 5}
		out = append(out, s)
	}
	return out
}
