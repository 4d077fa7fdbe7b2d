package report

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"wetrule/lint/gantt"
	"wetrule/lint/ical"
	"wetrule/lint/programme"
)

// ProgrammeFormats lists the formats of a programme.
func ProgrammeFormats() []string { return []string{"text", "json", "svg", "html", "ics"} }

// Programme writes the programme of a job in a format.
func Programme(w io.Writer, format string, p *programme.Programme, o Options) error {
	switch format {
	case "text":
		return programmeText(w, p)
	case "json":
		return programmeJSON(w, p, o)
	case "svg":
		err := gantt.SVG(w, p.Chart("programme"), gantt.Style{})
		if errors.Is(err, gantt.ErrInput) {
			return fmt.Errorf("the programme cannot be drawn: %w", err)
		}
		return err
	case "html":
		return programmeHTML(w, p)
	case "ics":
		c, err := p.Events()
		if err != nil {
			return err
		}
		return ical.Write(w, c)
	}
	return fmt.Errorf("there is no format %q; known: %s", format, strings.Join(ProgrammeFormats(), ", "))
}

// programmeText writes a programme for people: a table, then why, inspections, what slipped, and what it stands on.
func programmeText(out io.Writer, p *programme.Programme) error {
	w := bufio.NewWriter(out)
	paragraph(w, 0, "Programme of "+programmeName(p))
	b := block{w, 4, 11}
	for _, h := range programmeHead(p) {
		b.line(h.Name, h.Value)
	}
	fmt.Fprintln(w)

	programmeTable(w, p)
	for _, s := range p.Stops {
		fmt.Fprintln(w)
		paragraph(w, 0, s)
	}
	for _, l := range programmeLists(p) {
		fmt.Fprintf(w, "\n%s\n", l.Name)
		for _, line := range l.Lines {
			paragraph(w, 4, line)
		}
	}
	return w.Flush()
}

// programmeList is a list of sentences under a heading.
type programmeList struct {
	Name  string
	Lines []string
}

// programmeLists are what stands below the dates, in the text and on the page.
func programmeLists(p *programme.Programme) (out []programmeList) {
	add := func(name string, lines []string) {
		if len(lines) > 0 {
			out = append(out, programmeList{name, lines})
		}
	}
	var lines []string
	for _, s := range p.Slips {
		lines = append(lines, s.Text+".")
	}
	add("Against the plan", lines)
	lines = nil
	for _, m := range p.Missing {
		lines = append(lines, upper(m.Text)+": "+strings.Join(m.Fields, ", "))
	}
	add("Not known", lines)
	lines = nil
	var planned []string
	for i := range p.Tasks {
		switch t := &p.Tasks[i]; {
		case t.State == programme.Done || t.Why == "":
		case t.Why == programme.AsPlanned:
			planned = append(planned, lowerFirst(t.Label))
		default:
			lines = append(lines, t.Label+": "+t.Why+".")
		}
	}
	if len(planned) > 0 {
		lines = append(lines, "As planned, and no sooner: "+inWords(planned)+".")
	}
	add("Why", lines)
	lines = nil
	for _, c := range programmeCures(p) {
		lines = append(lines, programmeCure(p, c)+".")
	}
	add("Cured", lines)
	lines = nil
	for _, x := range p.Points {
		when := "no date"
		if x.Dated {
			when = programme.ShortDay(x.At)
		}
		text := fmt.Sprintf("%s %s, %s%s: %s", x.Letter, when, lowerFirst(p.Tasks[x.Task].Label), programmeOf(&p.Tasks[x.Task], x.Subjects), x.Check)
		if x.ReleasedBy != "" {
			text += " Released by: " + x.ReleasedBy + "."
		}
		lines = append(lines, text)
	}
	add("Inspections (H hold: do not go on without release; W witness; R review)", lines)
	add("Assumed", notNil(p.Assumptions))
	add("Cautions", append(notNil(p.Cautions), programmeCaution))
	return out
}

func programmeName(p *programme.Programme) string {
	if p.Title == "" {
		return p.Reference
	}
	return p.Reference + ", " + p.Title
}

// programmeFact is a line of the head.
type programmeFact struct{ Name, Value string }

func programmeHead(p *programme.Programme) []programmeFact {
	head := []programmeFact{{"start", programme.Day(p.Start)}}
	if p.Recorded {
		head[0] = programmeFact{"recorded", "up to " + programme.Day(p.AsOf)}
	}
	head = append(head, programmeFact{"end", programmeEnd(p)})
	if !p.FirstSteam.IsZero() {
		head = append(head, programmeFact{"first steam", pick(p.Whole, "", "not before ") + programme.Day(p.FirstSteam)})
	}
	return append(head, programmeFact{"times", "by the clock of " + p.Zone.String()})
}

// programmeRow is one row of the table of tasks, in words.
type programmeRow struct {
	From, To, Float, Label, By, Why string
	Critical                        bool
}

func programmeRows(p *programme.Programme) []programmeRow {
	out := make([]programmeRow, len(p.Tasks))
	for i := range p.Tasks {
		t := &p.Tasks[i]
		r := programmeRow{From: "no date", Label: t.Label, By: strings.Join(t.By, ", "), Why: t.Why, Critical: t.Critical}
		if t.Dated {
			r.From, r.To, r.Float = stamp(t.EarlyStart), stamp(t.EarlyFinish), programme.Span(t.TotalFloat)
		}
		switch {
		case t.State == programme.Done:
			r.Float = "done"
		case t.Critical:
			r.Float = "critical"
		}
		switch {
		case t.Basis == programme.Unknown:
			r.Label += ", time not known"
		case t.State == programme.Begun:
			r.Label += ", begun"
		}
		out[i] = r
	}
	return out
}

// programmeCaution stands under every programme.
const programmeCaution = "Cure times are estimates, and no model is calibrated for a product: the data sheets, the law, local codes and licensed trades go first."

func programmeEnd(p *programme.Programme) string {
	if p.Whole {
		return programme.Day(p.End)
	}
	return "not before " + programme.Day(p.End) + ": not every time is known"
}

// programmeTable writes the dates of the tasks.
func programmeTable(w io.Writer, p *programme.Programme) {
	const task = 36
	fmt.Fprintf(w, "%-16s  %-16s  %-12s  %-*s  %s\n", "from", "to", "float", task, "task", "by")
	for _, t := range programmeRows(p) {
		hang := 16 + 2 + 16 + 2 + 12 + 2
		lines := wrap(t.Label, task)
		people := wrap(t.By, columns-hang-task-2)
		for k := 0; k < max(len(lines), len(people), 1); k++ {
			a, c := "", ""
			if k < len(lines) {
				a = lines[k]
			}
			if k < len(people) {
				c = people[k]
			}
			row := strings.Repeat(" ", hang)
			if k == 0 {
				row = fmt.Sprintf("%-16s  %-16s  %-12s  ", t.From, t.To, t.Float)
			}
			row += a + strings.Repeat(" ", max(task-utf8.RuneCountInString(a), 0)) + "  " + c
			fmt.Fprintln(w, strings.TrimRight(row, " "))
		}
	}
	paragraph(w, 0, "Float is the working time that a task may be late by before the end is; what is critical has none.")
}

func stamp(t time.Time) string {
	return t.Format("Mon ") + fmt.Sprintf("%2d", t.Day()) + t.Format(" Jan 15:04")
}

// programmeOf names what an inspection is of, where the task is for more than that.
func programmeOf(t *programme.Task, subjects []string) string {
	if len(subjects) == 0 || len(subjects) == len(t.Items)+len(t.Faces) {
		return ""
	}
	return ", " + some(subjects)
}

// programmeCures are the cures that are still to come.
func programmeCures(p *programme.Programme) (out []programme.CureEnd) {
	for _, c := range p.Cures {
		if c.At.After(p.AsOf) {
			out = append(out, c)
		}
	}
	return out
}

// programmeCure says when something has cured and what for.
func programmeCure(p *programme.Programme, c programme.CureEnd) string {
	var then []string
	for _, i := range c.For {
		then = append(then, lowerFirst(p.Tasks[i].Label))
	}
	return fmt.Sprintf("%s, %s has cured for %s: %s", programme.ShortDay(c.At), c.What, inWords(then), c.Text)
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	_, n := utf8.DecodeRuneInString(s)
	return strings.ToLower(s[:n]) + s[n:]
}

func upper(s string) string {
	if s == "" {
		return s
	}
	_, n := utf8.DecodeRuneInString(s)
	return strings.ToUpper(s[:n]) + s[n:]
}
