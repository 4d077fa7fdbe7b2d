package report

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"

	"wetrule/lint/measure"
	"wetrule/lint/methods"
	"wetrule/lint/rulebook"
)

// PlanHead says what a plan of the work is for.
type PlanHead struct {
	File, Reference, Title, On string
	Books                      []rulebook.Manifest
}

// Plan writes the plan of the work of a job.
func Plan(out io.Writer, format string, h PlanHead, p *methods.Plan) error {
	switch format {
	case "json":
		return encode(out, planJSON(h, p))
	case "text":
		return planText(out, h, p)
	}
	return noFormat(format)
}

// Minutes writes a working time: "45 min", "3 h 20 min".
func Minutes(v float64) string {
	n := int(math.Ceil(v - 1e-9))
	if n < 60 {
		return fmt.Sprintf("%d min", n)
	}
	if n%60 == 0 {
		return fmt.Sprintf("%d h", n/60)
	}
	return fmt.Sprintf("%d h %d min", n/60, n%60)
}

// stepNumbers lists steps as people count them, the first six of them.
func stepNumbers(steps []int) string {
	const most = 6
	var parts []string
	for i, s := range steps {
		if i == most {
			parts = append(parts, fmt.Sprintf("and %d more", len(steps)-most))
			break
		}
		parts = append(parts, fmt.Sprint(s+1))
	}
	if len(steps) == 1 {
		return "step " + parts[0]
	}
	return "steps " + strings.Join(parts, ", ")
}

func toolName(t *methods.Tool) string {
	switch {
	case t.Size > 0:
		return t.Name + " " + measure.WithUnit(measure.FormatNumber(t.Size), t.Unit)
	case t.Unit != "":
		return t.Name + ", size not known"
	}
	return t.Name
}

func needsText(needs []string) string {
	if len(needs) == 0 {
		return "the job does not say enough"
	}
	return "not known; fill in " + strings.Join(needs, ", ")
}

func planText(out io.Writer, h PlanHead, p *methods.Plan) error {
	w := bufio.NewWriter(out)
	paragraph(w, 0, clean(strings.Trim(h.Reference+": "+h.Title, ": ")))
	var books []string
	for _, b := range h.Books {
		books = append(books, b.Name+" "+b.Edition)
	}
	paragraph(w, 0, "Methods of work by "+clean(strings.Join(books, ", "))+". Times and consumption are common practice: the data sheet of the product goes first, and local code and licensed trades above all.")
	task := ""
	for i := range p.Steps {
		s := &p.Steps[i]
		if s.Task != task {
			task = s.Task
			fmt.Fprintf(w, "\n%s (%s)\n", strings.ToUpper(measure.Words(task)[:1])+measure.Words(task)[1:], taskText(p, task))
		}
		head := fmt.Sprintf("%d. ", i+1)
		if s.Subject != "" {
			head += s.Subject + ": "
		}
		paragraph(w, 4, clean(head+s.Text))
		b := block{w, 8, 9}
		by := s.ByTitle
		if s.Licensed {
			by += " (licensed trade)"
		}
		if s.Minutes > 0 || !s.MinutesKnown {
			by += ", " + pick(s.MinutesKnown, "", "at least ") + Minutes(s.Minutes)
		}
		if s.StandsH > 0 || !s.StandsKnown {
			by += ", goes on for " + pick(s.StandsKnown, "", "at least ") + measure.FormatNumber(s.StandsH) + " h"
		}
		b.line("by", clean(by))
		if s.Unsure {
			b.line("whether", "it is not known whether this step is called for")
		}
		if !s.Known {
			b.line("lacks", clean(needsText(s.Needs)))
		}
		var list []string
		for _, t := range s.Tools {
			list = append(list, toolName(&p.Tools[t]))
		}
		b.line("tools", clean(strings.Join(list, ", ")))
		list = nil
		for _, u := range s.Materials {
			m := &p.Materials[u.Material]
			amount := "quantity not known"
			if u.Known {
				amount = amountText(u.Net, m.Unit)
			}
			list = append(list, m.Name+" "+amount)
		}
		b.line("materials", clean(strings.Join(list, "; ")))
		b.line("beware", clean(measure.Words(strings.Join(s.Cautions, ", "))))
		if s.Point != nil {
			b.line(s.Point.Sort, clean(s.Point.Check+" ("+s.Point.ReleasedBy+")"))
		}
		if r := s.Record; r != nil {
			b.line("record", clean(measure.Words(strings.TrimSpace(r.Record+" "+r.When))+": "+r.What+pick(len(r.Taken) > 0, " (taken)", "")))
		}
		for _, c := range s.Changes {
			b.line("changed", clean(c.String()))
		}
	}
	fmt.Fprintf(w, "\nTools\n")
	for i := range p.Tools {
		t := &p.Tools[i]
		note := ""
		switch {
		case !t.Known:
			note = "; " + needsText(t.Needs)
		case t.Listed != nil && !*t.Listed:
			note = "; not on the job's list"
		}
		paragraph(w, 4, clean(fmt.Sprintf("%s (%s)%s", toolName(t), stepNumbers(t.Steps), note)))
	}
	fmt.Fprintf(w, "\nMaterials (to buy; with waste and as worked out)\n")
	for i := range p.Materials {
		m := &p.Materials[i]
		text := fmt.Sprintf("%s: %s (%s; net %s)", m.Name, amountText(m.Buy, m.Unit), amountText(m.Exact, m.Unit), amountText(m.Net, m.Unit))
		switch {
		case !m.Known && m.Exact == 0:
			text = m.Name + ": quantity " + needsText(m.Needs)
		case !m.Known:
			text = m.Name + ": at least" + strings.TrimPrefix(text, m.Name+":") + "; the rest is " + needsText(m.Needs)
		}
		paragraph(w, 4, clean(text))
	}
	fmt.Fprintf(w, "\nInspections\n")
	for i := range p.Points {
		x := &p.Points[i]
		where := x.Subject
		if where == "" {
			where = "room"
		}
		paragraph(w, 4, clean(fmt.Sprintf("%s step %d, %s: %s Released by: %s.", x.Letter, x.Step+1, where, sentence(x.Check), x.ReleasedBy)))
	}
	fmt.Fprintf(w, "\nInstructions to have on site\n")
	for i := range p.Instructions {
		x := &p.Instructions[i]
		text := x.What
		if x.Subject != "" {
			text = x.Subject + ": " + text
		}
		if x.Product != "" {
			text += " (" + x.Product + ")"
		}
		if x.OnSite != nil {
			text += pick(*x.OnSite, "; on site", "; not on site yet")
		}
		paragraph(w, 4, clean(text))
	}
	fmt.Fprintf(w, "\nCautions\n")
	for i := range p.Cautions {
		c := &p.Cautions[i]
		var signs []string
		for _, s := range c.Signs {
			signs = append(signs, s.Code+" "+s.Meaning)
		}
		text := c.Title + ": " + sentence(c.Text)
		if len(signs) > 0 {
			text += " ISO 7010: " + strings.Join(signs, ", ") + "."
		}
		paragraph(w, 4, clean(text))
	}
	if len(p.Missing) > 0 {
		fmt.Fprintf(w, "\nTo fill in\n")
		for _, x := range p.Missing {
			paragraph(w, 4, clean(x.Field+" ("+stepNumbers(x.Steps)+")"))
		}
	}
	if len(p.Changes) > 0 {
		fmt.Fprintf(w, "\nChanged by rulebooks\n")
		for _, c := range p.Changes {
			paragraph(w, 4, clean(c.String()))
		}
	}
	total, known := 0.0, true
	for i := range p.Tasks {
		total += p.Tasks[i].Minutes
		known = known && p.Tasks[i].Known
	}
	fmt.Fprintf(w, "\n%s in %s, %s%s of attended work; %s, %s, %s to take\n", count(len(p.Steps), "step", "steps"), count(len(p.Tasks), "task and trade", "tasks and trades"),
		pick(known, "", "at least "), Minutes(total), count(len(p.Materials), "material", "materials"), count(len(p.Points), "inspection", "inspections"), count(len(p.Records), "record", "records"))
	return w.Flush()
}

// taskText says who does a task and how long it takes them.
func taskText(p *methods.Plan, task string) string {
	var parts []string
	for i := range p.Tasks {
		if t := &p.Tasks[i]; t.Name == task {
			parts = append(parts, clean(measure.Words(t.By))+" "+pick(t.Known, "", "at least ")+Minutes(t.Minutes))
		}
	}
	return strings.Join(parts, ", ")
}

// amountText writes an amount: large ones with one decimal, small ones with three.
func amountText(v float64, unit string) string {
	switch {
	case v >= 100:
		v = math.Round(v*10) / 10
	case v >= 1:
		v = math.Round(v*100) / 100
	}
	if v == 1 {
		unit = map[string]string{"pieces": "piece", "cartridges": "cartridge", "rolls": "roll"}[unit] + pick(strings.HasSuffix(unit, "s"), "", unit)
	}
	return measure.WithUnit(measure.FormatNumber(v), unit)
}

type planTool struct {
	Tool   string   `json:"tool"`
	Size   *float64 `json:"size,omitempty"`
	Unit   string   `json:"unit,omitempty"`
	Known  bool     `json:"known"`
	Needs  []string `json:"needs,omitempty"`
	Listed *bool    `json:"listed,omitempty"`
	Steps  []string `json:"steps"`
}

type planPart struct {
	Step         string   `json:"step"`
	Net          float64  `json:"net"`
	Exact        float64  `json:"exact"`
	WastePercent float64  `json:"waste_percent"`
	Working      string   `json:"working"`
	Known        bool     `json:"known"`
	Needs        []string `json:"needs,omitempty"`
}

type planMaterial struct {
	Material string     `json:"material"`
	Unit     string     `json:"unit"`
	Net      float64    `json:"net"`
	Exact    float64    `json:"exact"`
	Buy      float64    `json:"buy"`
	Known    bool       `json:"known"`
	Needs    []string   `json:"needs,omitempty"`
	Sources  []string   `json:"sources"`
	Parts    []planPart `json:"parts"`
}

type planUse struct {
	Material string  `json:"material"`
	Unit     string  `json:"unit"`
	Net      float64 `json:"net"`
	Exact    float64 `json:"exact"`
	Known    bool    `json:"known"`
}

type planPoint struct {
	Sort       string   `json:"sort"`
	Letter     string   `json:"letter"`
	Check      string   `json:"check"`
	ReleasedBy string   `json:"released_by"`
	Step       string   `json:"step"`
	Known      bool     `json:"known"`
	Needs      []string `json:"needs,omitempty"`
}

type planRecord struct {
	Record string `json:"record"`
	When   string `json:"when,omitempty"`
	For    string `json:"for,omitempty"`
	What   string `json:"what"`
	Item   string `json:"item,omitempty"`
	Face   string `json:"face,omitempty"`
	Step   string `json:"step"`
	Taken  []int  `json:"taken"`
}

type planStep struct {
	ID           string      `json:"id"`
	Method       string      `json:"method"`
	Title        string      `json:"title"`
	Task         string      `json:"task"`
	Kind         string      `json:"kind"`
	Subject      string      `json:"subject,omitempty"`
	Face         string      `json:"face,omitempty"`
	Text         string      `json:"text"`
	By           string      `json:"by"`
	Licensed     bool        `json:"licensed"`
	Minutes      float64     `json:"minutes"`
	MinutesKnown bool        `json:"minutes_known"`
	StandsH      float64     `json:"stands_h"`
	Known        bool        `json:"known"`
	Unsure       bool        `json:"unsure"`
	Needs        []string    `json:"needs,omitempty"`
	Tools        []string    `json:"tools,omitempty"`
	Materials    []planUse   `json:"materials,omitempty"`
	Cautions     []string    `json:"cautions,omitempty"`
	Point        *planPoint  `json:"point,omitempty"`
	Record       *planRecord `json:"record,omitempty"`
	Source       string      `json:"source"`
	Changes      []string    `json:"changes,omitempty"`
}

func planJSON(h PlanHead, p *methods.Plan) any {
	ids := func(steps []int) []string {
		out := make([]string, len(steps))
		for i, s := range steps {
			out[i] = p.Steps[s].ID
		}
		return out
	}
	point := func(x *methods.Point) planPoint {
		return planPoint{x.Sort, x.Letter, x.Check, x.ReleasedBy, p.Steps[x.Step].ID, x.Known, x.Needs}
	}
	record := func(r *methods.RecordDue) planRecord {
		taken := r.Taken
		if taken == nil {
			taken = []int{}
		}
		return planRecord{r.Record, r.When, r.For, r.What, r.Item, r.Face, p.Steps[r.Step].ID, taken}
	}
	changes := func(list []rulebook.MethodChange) []string {
		out := []string{}
		for _, c := range list {
			out = append(out, c.String())
		}
		return out
	}
	steps := make([]planStep, len(p.Steps))
	for i := range p.Steps {
		s := &p.Steps[i]
		x := planStep{ID: s.ID, Method: s.Method, Title: s.Title, Task: s.Task, Kind: s.Kind, Subject: s.Subject, Face: s.Face, Text: s.Text, By: s.By, Licensed: s.Licensed, Minutes: s.Minutes, MinutesKnown: s.MinutesKnown,
			StandsH: s.StandsH, Known: s.Known, Unsure: s.Unsure, Needs: s.Needs, Cautions: s.Cautions, Source: s.Source.String(), Changes: changes(s.Changes)}
		for _, t := range s.Tools {
			x.Tools = append(x.Tools, toolName(&p.Tools[t]))
		}
		for _, u := range s.Materials {
			m := &p.Materials[u.Material]
			x.Materials = append(x.Materials, planUse{m.Name, m.Unit, u.Net, u.Exact, u.Known})
		}
		if s.Point != nil {
			pt := point(s.Point)
			x.Point = &pt
		}
		if s.Record != nil {
			r := record(s.Record)
			x.Record = &r
		}
		steps[i] = x
	}
	tools := make([]planTool, len(p.Tools))
	for i := range p.Tools {
		t := &p.Tools[i]
		tools[i] = planTool{Tool: t.Name, Unit: t.Unit, Known: t.Known, Needs: t.Needs, Listed: t.Listed, Steps: ids(t.Steps)}
		if t.Size > 0 {
			tools[i].Size = &t.Size
		}
	}
	materials := make([]planMaterial, len(p.Materials))
	for i := range p.Materials {
		m := &p.Materials[i]
		x := planMaterial{Material: m.Name, Unit: m.Unit, Net: m.Net, Exact: m.Exact, Buy: m.Buy, Known: m.Known, Needs: m.Needs, Sources: []string{}, Parts: []planPart{}}
		for _, c := range m.Source {
			x.Sources = append(x.Sources, c.String())
		}
		for _, q := range m.Parts {
			x.Parts = append(x.Parts, planPart{p.Steps[q.Step].ID, q.Net, q.Exact, q.WastePercent, q.Working, q.Known, q.Needs})
		}
		materials[i] = x
	}
	points := []planPoint{}
	for i := range p.Points {
		points = append(points, point(&p.Points[i]))
	}
	records := []planRecord{}
	for i := range p.Records {
		records = append(records, record(&p.Records[i]))
	}
	tasks := []any{}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		tasks = append(tasks, map[string]any{"task": t.Name, "by": t.By, "items": list(t.Items), "faces": list(t.Faces), "minutes": t.Minutes, "known": t.Known, "stands_h": t.StandsH, "licensed": t.Licensed, "steps": ids(t.Steps)})
	}
	cautions := []any{}
	for i := range p.Cautions {
		c := &p.Cautions[i]
		signs := c.Signs
		if signs == nil {
			signs = []rulebook.Sign{}
		}
		cautions = append(cautions, map[string]any{"id": c.ID, "title": c.Title, "text": c.Text, "signs": signs, "source": c.Source.String(), "steps": ids(c.Steps)})
	}
	papers := []any{}
	for i := range p.Instructions {
		x := &p.Instructions[i]
		papers = append(papers, map[string]any{"subject": x.Subject, "kind": x.Kind, "what": x.What, "product": x.Product, "on_site": x.OnSite, "known": x.Known, "needs": list(x.Needs)})
	}
	lacking := []any{}
	for _, x := range p.Missing {
		lacking = append(lacking, map[string]any{"field": x.Field, "steps": ids(x.Steps)})
	}
	books := []any{}
	for _, b := range h.Books {
		books = append(books, map[string]any{"rulebook": b.Name, "edition": b.Edition})
	}
	return map[string]any{"file": h.File, "reference": h.Reference, "title": h.Title, "on": h.On, "rulebooks": books, "steps": steps, "tasks": tasks, "tools": tools, "materials": materials,
		"points": points, "records": records, "cautions": cautions, "instructions": papers, "missing": lacking, "changes": changes(p.Changes)}
}

func list(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

// MethodList lists methods of work with their steps.
func MethodList(out io.Writer, format string, set *rulebook.MethodSet) error {
	switch format {
	case "json":
		type step struct {
			Step   string `json:"step"`
			Task   string `json:"task"`
			Do     string `json:"do"`
			By     string `json:"by"`
			Source string `json:"source"`
			Book   string `json:"rulebook"`
		}
		type method struct {
			Method    string `json:"method"`
			Title     string `json:"title"`
			AppliesTo string `json:"applies_to"`
			Book      string `json:"rulebook"`
			Steps     []step `json:"steps"`
		}
		all := []method{}
		for _, m := range set.Methods {
			x := method{m.ID, m.Title, m.AppliesTo, m.Rulebook, []step{}}
			for _, s := range m.Steps {
				x.Steps = append(x.Steps, step{s.ID, s.Task, s.Do, s.By, s.Source.String(), s.Rulebook})
			}
			all = append(all, x)
		}
		changes := []string{}
		for _, c := range set.Changes {
			changes = append(changes, c.String())
		}
		return encode(out, map[string]any{"methods": all, "changes": changes})
	case "text":
	default:
		return noFormat(format)
	}
	w := bufio.NewWriter(out)
	steps := 0
	for _, m := range set.Methods {
		paragraph(w, 0, clean(m.ID+" ("+measure.Words(m.AppliesTo)+"): "+m.Title))
		b := block{w, 4, 15}
		for _, s := range m.Steps {
			b.line(clean(s.ID), clean(measure.Words(s.Task)+", "+s.By+": "+s.Do))
			steps++
		}
	}
	for _, c := range set.Changes {
		paragraph(w, 0, clean("Changed: "+c.String()))
	}
	fmt.Fprintf(w, "%s, %s\n", count(len(set.Methods), "method", "methods"), count(steps, "step", "steps"))
	return w.Flush()
}
