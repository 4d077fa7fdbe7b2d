package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

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
	head := p.Reference
	if p.Title != "" {
		head += ", " + p.Title
	}
	paragraph(w, 0, "Programme of "+head)
	b := block{w, 4, 11}
	if p.Recorded {
		b.line("recorded", "up to "+programme.Day(p.AsOf))
	} else {
		b.line("start", programme.Day(p.Start))
	}
	b.line("end", programmeEnd(p))
	if !p.FirstSteam.IsZero() {
		b.line("first steam", pick(p.Whole, "", "not before ")+programme.Day(p.FirstSteam))
	}
	b.line("times", "by the clock of "+p.Zone.String())
	fmt.Fprintln(w)

	programmeTable(w, p)
	for _, s := range p.Stops {
		fmt.Fprintln(w)
		paragraph(w, 0, s)
	}
	section := func(title string, n int) bool {
		if n > 0 {
			fmt.Fprintf(w, "\n%s\n", title)
		}
		return n > 0
	}
	if section("Against the plan", len(p.Slips)) {
		for _, s := range p.Slips {
			paragraph(w, 4, s.Text+".")
		}
	}
	if section("Not known", len(p.Missing)) {
		for _, m := range p.Missing {
			paragraph(w, 4, upper(m.Text)+": "+strings.Join(m.Fields, ", "))
		}
	}
	if section("Why", len(p.Tasks)) {
		var planned []string
		for i := range p.Tasks {
			switch t := &p.Tasks[i]; {
			case t.State == programme.Done || t.Why == "":
			case t.Why == programme.AsPlanned:
				planned = append(planned, lowerFirst(t.Label))
			default:
				paragraph(w, 4, t.Label+": "+t.Why+".")
			}
		}
		if len(planned) > 0 {
			paragraph(w, 4, "As planned, and no sooner: "+inWords(planned)+".")
		}
	}
	if cures := programmeCures(p); section("Cured", len(cures)) {
		for _, c := range cures {
			paragraph(w, 4, programmeCure(p, c)+".")
		}
	}
	if section("Inspections (H hold: do not go on without release; W witness; R review)", len(p.Points)) {
		for _, x := range p.Points {
			when := "no date"
			if x.Dated {
				when = programme.ShortDay(x.At)
			}
			text := fmt.Sprintf("%s %s, %s%s: %s", x.Letter, when, lowerFirst(p.Tasks[x.Task].Label), programmeOf(&p.Tasks[x.Task], x.Subjects), x.Check)
			if x.ReleasedBy != "" {
				text += " Released by: " + x.ReleasedBy + "."
			}
			paragraph(w, 4, text)
		}
	}
	if section("Assumed", len(p.Assumptions)) {
		for _, s := range p.Assumptions {
			paragraph(w, 4, s)
		}
	}
	if section("Cautions", len(p.Cautions)+1) {
		for _, s := range p.Cautions {
			paragraph(w, 4, s)
		}
		paragraph(w, 4, programmeCaution)
	}
	return w.Flush()
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
	for i := range p.Tasks {
		t := &p.Tasks[i]
		from, to, float := "no date", "", ""
		if t.Dated {
			from, to = stamp(t.EarlyStart), stamp(t.EarlyFinish)
			float = programme.Span(t.TotalFloat)
		}
		switch {
		case t.State == programme.Done:
			float = "done"
		case t.Critical:
			float = "critical"
		}
		if t.State == programme.Begun {
			from = stamp(t.EarlyStart)
		}
		name := t.Label
		switch {
		case t.Basis == programme.Unknown:
			name += ", time not known"
		case t.State == programme.Begun:
			name += ", begun"
		}
		by := strings.Join(t.By, ", ")
		hang := 16 + 2 + 16 + 2 + 12 + 2
		lines := wrap(name, task)
		people := wrap(by, columns-hang-task-2)
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
				row = fmt.Sprintf("%-16s  %-16s  %-12s  ", from, to, float)
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
