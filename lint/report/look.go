package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

func noFormat(name string) error {
	return fmt.Errorf("there is no format %q; known: text, json", name)
}

func encodeRules(out io.Writer, rules []*rulebook.Rule) error {
	list := make([]jsonRule, len(rules))
	for i, r := range rules {
		list[i] = describe(r)
	}
	return encode(out, map[string]any{"rules": list})
}

// Rules lists rules.
func Rules(out io.Writer, format string, rules []*rulebook.Rule) error {
	switch format {
	case "json":
		return encodeRules(out, rules)
	case "text":
	default:
		return noFormat(format)
	}
	w := bufio.NewWriter(out)
	bySubject := map[string][]*rulebook.Rule{}
	wide := 0
	for _, r := range rules {
		bySubject[r.Subject] = append(bySubject[r.Subject], r)
		wide = min(max(wide, len(r.ID)), widest)
	}
	b := block{w, 4, wide + 1 + len("observation")}
	for _, s := range sortedKeys(bySubject) {
		fmt.Fprintf(w, "%s\n", s)
		for _, r := range bySubject[s] {
			b.line(fmt.Sprintf("%-*s %s", wide, r.ID, r.Severity), r.Title)
		}
	}
	fmt.Fprintf(w, "%s\n", count(len(rules), "rule", "rules"))
	return w.Flush()
}

// widest is the widest column of names.
const widest = 44

// Explain explains one rule with its examples.
func Explain(out io.Writer, format string, r *rulebook.Rule, x *rulebook.Examples) error {
	type example struct {
		Sort    string `json:"sort"`
		Subject string `json:"subject,omitempty"`
		Changes string `json:"changes"`
	}
	var examples []example
	if x != nil {
		for _, e := range x.List() {
			examples = append(examples, example{string(e.Sort), e.Subject, e.String()})
		}
	}
	switch format {
	case "json":
		return encode(out, map[string]any{"rule": describe(r), "fields": r.Fields(), "when": conditions(r), "examples": examples})
	case "text":
	default:
		return noFormat(format)
	}
	w := bufio.NewWriter(out)
	b := block{w, 4, 11}
	paragraph(w, 0, r.ID+": "+r.Title)
	b.line("severity", r.Severity.String())
	b.line("asked from", measure.Words(r.From.String()))
	b.line("applies to", r.Kind.Meaning+" ("+r.AppliesTo+")")
	for i, c := range conditions(r) {
		b.line([]string{"when", "and when"}[min(i, 1)], c)
	}
	b.line("measure", r.Def.Meaning+" ("+r.Measure+")")
	b.line("worked out", r.Def.How)
	b.line("allowed", r.AllowedText())
	b.line("why", r.Why)
	b.line("do", r.Remedy)
	b.line("source", r.Source.String())
	if f := r.InForce; f != nil {
		b.line("in force", strings.TrimSpace(period(f)))
	}
	b.line("job fields", strings.Join(r.Fields(), ", "))
	b.line("once called", strings.Join(r.Aliases, ", "))
	b.line("rulebook", r.Rulebook)
	if len(examples) > 0 {
		fmt.Fprintf(w, "    examples (changes to the base job)\n")
		for _, e := range examples {
			block{w, 8, 15}.line(measure.Words(e.Sort), e.Changes)
		}
	}
	return w.Flush()
}

func period(p *rulebook.Period) string {
	s := ""
	if p.From != "" {
		s += "from " + p.From
	}
	if p.Until != "" {
		s += " until before " + p.Until
	}
	return s
}

// conditions writes the conditions of a rule in words.
func conditions(r *rulebook.Rule) []string {
	out := []string{}
	for _, c := range r.When {
		d := r.Kind.Def(c.Measure)
		var parts []string
		if len(c.Is) > 0 {
			words := make([]string, len(c.Is))
			for i, v := range c.Is {
				words[i] = measure.Words(fmt.Sprint(v))
				if b, ok := v.(bool); ok {
					words[i] = map[bool]string{true: "yes", false: "no"}[b]
				}
			}
			parts = append(parts, strings.Join(words, " or "))
		}
		if c.AtLeast != nil {
			parts = append(parts, "at least "+measure.WithUnit(measure.FormatNumber(*c.AtLeast), d.Unit))
		}
		if c.AtMost != nil {
			parts = append(parts, "at most "+measure.WithUnit(measure.FormatNumber(*c.AtMost), d.Unit))
		}
		out = append(out, d.Meaning+": "+strings.Join(parts, " and "))
	}
	return out
}

// Measures lists every measure for authors of rules.
func Measures(out io.Writer, format string) error {
	type entry struct {
		Kind    string   `json:"kind"`
		Measure string   `json:"measure"`
		Type    string   `json:"type"`
		Unit    string   `json:"unit,omitempty"`
		Meaning string   `json:"meaning"`
		Values  []string `json:"values,omitempty"`
		Needs   []string `json:"needs"`
		How     string   `json:"how"`
		Source  string   `json:"source,omitempty"`
	}
	switch format {
	case "json":
		list := []entry{}
		for _, k := range measure.Names() {
			for _, d := range measure.Lookup(k).Defs {
				list = append(list, entry{k, d.Name, string(d.Type), d.Unit, d.Meaning, d.Values, d.Needs, d.How, d.Source})
			}
		}
		quantities := []entry{}
		for _, k := range measure.Names() {
			for _, d := range measure.Lookup(k).Quantities() {
				quantities = append(quantities, entry{k, d.Name, string(d.Type), d.Unit, d.Meaning, d.Values, d.Needs, d.How, d.Source})
			}
		}
		return encode(out, map[string]any{"measures": list, "quantities": quantities, "waits": map[string]any{"pattern": measure.WaitPattern, "tasks": measure.Tasks}})
	case "text":
	default:
		return noFormat(format)
	}
	w := bufio.NewWriter(out)
	tell := func(d *measure.Def) {
		unit := d.Unit
		if unit == "" {
			unit = string(d.Type)
		}
		fmt.Fprintf(w, "    %s (%s)\n", d.Name, unit)
		paragraph(w, 8, d.Meaning)
		if len(d.Values) > 0 {
			paragraph(w, 8, "one of "+strings.Join(d.Values, ", "))
		}
		paragraph(w, 8, "needs "+strings.Join(d.Needs, ", "))
		paragraph(w, 8, how(d))
	}
	for _, k := range measure.Names() {
		kind := measure.Lookup(k)
		fmt.Fprintf(w, "%s: %s\n", k, kind.Meaning)
		for _, d := range kind.Defs {
			tell(d)
		}
	}
	paragraph(w, 0, "Waits between tasks, for every kind of item, for faces and for the job: "+measure.WaitPattern)
	paragraph(w, 4, "tasks: "+strings.Join(measure.Tasks, ", "))
	paragraph(w, 0, "Quantities, for methods of work alone; methods can use all measures of their kind too.")
	fmt.Fprintf(w, "every kind of item\n")
	for _, d := range measure.ItemQuantities() {
		tell(d)
	}
	for _, k := range measure.Names() {
		if own := measure.Lookup(k).OwnQuantities(); len(own) > 0 {
			fmt.Fprintf(w, "%s\n", k)
			for _, d := range own {
				tell(d)
			}
		}
	}
	return w.Flush()
}

func how(d *measure.Def) string {
	if d.Source == "" {
		return d.How
	}
	return d.How + " [" + d.Source + "]"
}

var states = map[measure.State]string{measure.None: "none", measure.Unknown: "unknown", measure.Known: "known"}

// Measured shows what was measured of a job. It is an error when the job could not be read.
func Measured(out io.Writer, format string, r *verdict.Review) error {
	if r.Set == nil {
		return fmt.Errorf("%s: nothing was measured", clean(r.File))
	}
	switch format {
	case "json":
		type value struct {
			Value any      `json:"value"`
			State string   `json:"state"`
			Unit  string   `json:"unit,omitempty"`
			Note  string   `json:"note,omitempty"`
			Steps []string `json:"steps,omitempty"`
		}
		all := map[string]map[string]map[string]value{}
		for _, t := range r.Set.Full().Tables {
			all[t.Kind.Name] = map[string]map[string]value{}
			for i := range t.Subjects {
				values := map[string]value{}
				for j, d := range t.Defs {
					v := t.Columns[j][i]
					values[d.Name] = value{exact(d.Type, v), states[v.State], d.Unit, v.Note(), v.Steps()}
				}
				all[t.Kind.Name][t.Subjects[i].ID] = values
			}
		}
		return encode(out, map[string]any{"file": r.File, "reference": r.Reference, "measures": all})
	case "text":
	default:
		return noFormat(format)
	}
	w := bufio.NewWriter(out)
	for _, t := range r.Set.Full().Tables {
		wide := 0
		for _, d := range t.Defs {
			wide = min(max(wide, len(d.Name)), widest)
		}
		b := block{w, 4, wide}
		for i := range t.Subjects {
			fmt.Fprintf(w, "%s %s\n", t.Kind.Name, clean(t.Subjects[i].ID))
			for j, d := range t.Defs {
				v := t.Columns[j][i]
				if v.State == measure.None {
					continue
				}
				text := d.Format(v)
				if v.Note() != "" {
					text += "; " + v.Note()
				}
				if how := how(d); how != "as given" {
					text += " (" + how + ")"
				}
				b.line(d.Name, text)
				for _, step := range v.Steps() {
					b.line("", "  "+step)
				}
			}
		}
	}
	return w.Flush()
}
