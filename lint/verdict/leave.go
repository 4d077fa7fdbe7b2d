package verdict

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// LeaveFault is what is wrong with a leave: it has run out, names nothing, or the work goes beyond it. It is a
// finding of its own, as grave as the rule that the leave is for.
type LeaveFault struct {
	Leave    *jobfile.Leave
	Severity rulebook.Severity
	File     string
	Place    Place
	Text     string
}

// ApplyLeaves lays concessions and deviation permits over the verdicts. A nonconforming verdict for which a leave holds is
// conceded: it stays nonconforming, and does not fail the review. Whatever is wrong with a leave is a fault, and never
// concedes anything. The file is that of the leaves; the rules are all of the edition by id and alias. Leaves for rules that this review
// does not judge are passed over.
func (r *Review) ApplyLeaves(file string, leaves []jobfile.Leave, rules map[string]*rulebook.Rule, judged func(id string) bool) {
	if len(leaves) == 0 {
		return
	}
	type key struct{ rule, subject string }
	index := map[key]*Verdict{}
	subjects := map[string][]string{} // by rule
	for i := range r.Verdicts {
		v := &r.Verdicts[i]
		index[key{v.Rule.ID, v.Subject.ID}] = v
		subjects[v.Rule.ID] = append(subjects[v.Rule.ID], v.Subject.ID)
	}
	for i := range leaves {
		l := &leaves[i]
		if l.Job != "" && l.Job != r.Reference {
			continue
		}
		fault := func(s rulebook.Severity, field, format string, args ...any) {
			n := l.Pos.Get(field)
			if n == nil {
				n, field = l.Pos, ""
			}
			p := Place{Pointer: fmt.Sprintf("/leaves/%d", i)}
			if field != "" {
				p.Pointer += "/" + field
			}
			if n != nil {
				p.Line, p.Col, p.EndCol = int(n.Line), int(n.Col), int(n.EndCol)
			}
			r.Faults = append(r.Faults, &LeaveFault{l, s, file, p, fmt.Sprintf("leave for %s of %s: ", l.Rule, l.Item) + fmt.Sprintf(format, args...)})
		}
		rule := rules[l.Rule]
		if rule == nil {
			known := make([]string, 0, len(rules))
			for id := range rules {
				known = append(known, id)
			}
			sort.Strings(known)
			fault(rulebook.Major, "rule", "there is no such rule%s", near(l.Rule, known))
			continue
		}
		if !judged(rule.ID) {
			continue
		}
		v := index[key{rule.ID, l.Item}]
		if v == nil {
			fault(rulebook.Minor, "item", "the rule finds no such item%s", near(l.Item, subjects[rule.ID]))
			continue
		}
		switch {
		case v.Outcome == Undetermined:
			fault(rule.Severity, "item", "what can't be shown can't be conceded")
		case v.Outcome != Nonconforming:
			fault(rulebook.Minor, "rule", "it is not needed: the item %s", map[Outcome]string{Conforms: "conforms", NotInForce: "is not judged by a rule in force", NotJudged: "was not judged"}[v.Outcome])
		case l.Until < l.Issued:
			fault(rule.Severity, "until", "it ends on %s, before it is given on %s", l.Until, l.Issued)
		case r.On < l.Issued:
			fault(rule.Severity, "issued", "it is given only on %s", l.Issued)
		case r.On > l.Until:
			fault(rule.Severity, "until", "it ended on %s", l.Until)
		case rule.Severity == rulebook.Critical && len(names(l.By)) < 2:
			fault(rule.Severity, "by", "the rule is critical: two people must give it")
		default:
			if text, field := beyond(l, v); text != "" {
				fault(rule.Severity, field, "%s", text)
				continue
			}
			v.Change(func(m *More) { m.Leave = l })
		}
	}
}

// names are the different people in a list, letter case and spaces aside.
func names(by []string) []string {
	var out []string
	for _, n := range by {
		if n = strings.ToLower(strings.Join(strings.Fields(n), " ")); n != "" && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

// beyond says how the measured value goes beyond a leave; an empty text when it does not.
func beyond(l *jobfile.Leave, v *Verdict) (text, field string) {
	d := v.Rule.Def
	if d.Type != measure.Number || v.Rule.Allowed != nil && len(v.Rule.Allowed.Is) > 0 {
		switch got := d.Format(*v.Value); {
		case l.Value == nil:
			return "say the value for which it holds; measured: " + got, "value"
		case d.Type == measure.Flag && (l.Value.Kind != jobfile.Bool || l.Value.Bool != v.Value.Flag),
			d.Type == measure.Text && l.Value.Text != v.Value.Text(),
			d.Type == measure.Number && l.Value.Text != measure.FormatNumber(v.Value.Num),
			d.Type == measure.Texts && l.Value.Text != strings.Join(v.Value.Texts(), ", "):
			return fmt.Sprintf("it holds for %s; measured: %s", l.Value.Text, got), "value"
		}
		return "", ""
	}
	n := func(x float64) string { return measure.WithUnit(measure.FormatNumber(x), d.Unit) }
	x := v.Value.Num
	lo, hi := v.Limits()
	switch {
	case x < lo && l.DownTo == nil, lo > hi && l.DownTo == nil:
		return "say down to which value it holds; measured: " + n(x), "down_to"
	case x > hi && l.UpTo == nil:
		return "say up to which value it holds; measured: " + n(x), "up_to"
	case l.DownTo == nil && l.UpTo == nil:
		return "say for which values it holds; measured: " + n(x), "down_to"
	case l.DownTo != nil && x < *l.DownTo:
		return fmt.Sprintf("it holds down to %s; measured: %s", n(*l.DownTo), n(x)), "down_to"
	case l.UpTo != nil && x > *l.UpTo:
		return fmt.Sprintf("it holds up to %s; measured: %s", n(*l.UpTo), n(x)), "up_to"
	}
	return "", ""
}

func near(word string, known []string) string {
	if s := jobfile.Suggest(word, known); s != "" {
		return fmt.Sprintf("; did you mean %q?", s)
	}
	return ""
}
