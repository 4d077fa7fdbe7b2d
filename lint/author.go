package lint

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/judge"
	"wetrule/lint/measure"
	"wetrule/lint/methods"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
	"wetrule/schema"
)

// BookCheck is what the check of a rulebook found.
type BookCheck struct {
	Book     rulebook.Manifest
	Rules    int // of its own, and those that it amends
	Examples int
	Tests    int              // Rego tests
	Mutants  int              // slips that the examples were tried against
	Steps    int              // steps of methods of work that are its own
	Problems jobfile.Problems // what must be put right
	Notes    []string         // what is worth a look
}

// CheckRulebook checks one rulebook over core: rows against their schema and the measures, sources, layers and conflicts, Rego against the
// measures, its format, tests and their coverage, and every rule against its examples both ways, slips included. The error is for what cannot
// be checked at all.
func CheckRulebook(ctx context.Context, name string) (*BookCheck, error) {
	l, err := New(Options{Rulebooks: []string{name}})
	if err != nil {
		var ps jobfile.Problems
		if errors.As(err, &ps) {
			return &BookCheck{Problems: ps}, nil
		}
		return nil, err
	}
	book := l.Books[len(l.Books)-1]
	c := &BookCheck{Book: book.Manifest}
	layers, err := l.lay(nil)
	if err != nil {
		return nil, err
	}
	for _, day := range layers.Editions() {
		for _, x := range layers.Conflicts(day) {
			// Sources do conflict; the author must know, and a review says so too.
			if note := at(x.B.Pos, "conflict: %s", x.String()).Error(); !slices.Contains(c.Notes, note) {
				c.Notes = append(c.Notes, note)
			}
		}
	}
	if err := c.rego(ctx, book); err != nil {
		return nil, err
	}
	if err := c.examples(ctx, l, layers, book); err != nil {
		return nil, err
	}
	c.bounds(book)
	cited := map[string]bool{}
	for _, r := range book.Rules {
		cited[r.Source.ID] = true
	}
	for _, m := range book.Amends {
		if m.Source != nil {
			cited[m.Source.ID] = true
		}
	}
	if err := c.methods(layers, book, cited); err != nil {
		return nil, err
	}
	for _, s := range book.Sources {
		if !cited[s.ID] {
			c.Notes = append(c.Notes, fmt.Sprintf("the source %s is cited by no rule and no method", s.ID))
		}
	}
	c.Problems.Sort()
	c.Problems = slices.CompactFunc(c.Problems, func(a, b jobfile.Problem) bool { return a == b })
	return c, nil
}

// methods checks the methods of work of a rulebook, laid over those below, in every edition. Sources that they cite count as cited.
func (c *BookCheck) methods(layers *rulebook.Layers, book *rulebook.Rulebook, cited map[string]bool) error {
	if !book.HasMethods() {
		return nil
	}
	var ps jobfile.Problems
	days, err := layers.MethodEditions()
	if errors.As(err, &ps) {
		c.Problems = append(c.Problems, ps...)
		return nil
	}
	if err != nil {
		return err
	}
	for _, day := range days {
		set, err := layers.Methods(day)
		if errors.As(err, &ps) {
			c.Problems = append(c.Problems, ps...)
			return nil
		}
		if err != nil {
			return err
		}
		c.Steps = 0
		for _, m := range set.Methods {
			for _, s := range m.Steps {
				if s.Rulebook == book.Name {
					c.Steps++
					cited[s.Source.ID] = true
				}
			}
		}
		for _, x := range set.Cautions {
			cited[x.Source.ID] = true
		}
		for _, x := range set.Links {
			cited[x.Source.ID] = true
		}
		for _, x := range set.Changes {
			if x.Source != nil {
				cited[x.Source.ID] = true
			}
		}
		if _, err := methods.Order(set); err != nil {
			c.Problems = append(c.Problems, jobfile.Problem{File: book.Name, Message: err.Error()})
		}
	}
	return nil
}

func at(n *jobfile.Node, format string, args ...any) jobfile.Problem {
	p := jobfile.Problem{File: n.File(), Message: fmt.Sprintf(format, args...)}
	if n != nil {
		p.Line, p.Col = int(n.Line), int(n.Col)
	}
	return p
}

func (c *BookCheck) rego(ctx context.Context, book *rulebook.Rulebook) error {
	c.Problems = append(c.Problems, judge.Unformatted(append(slices.Clone(book.Modules), book.Tests...))...)
	file, text := policies.Engine()
	tested, err := judge.Test(ctx, []rulebook.Module{{File: file, Text: text}}, book.Modules, book.Tests)
	if err != nil {
		var ps jobfile.Problems
		if errors.As(err, &ps) {
			c.Problems = append(c.Problems, ps...)
			return nil
		}
		return err
	}
	c.Tests = tested.Tests
	c.Problems = append(c.Problems, tested.Problems...)
	return nil
}

func (c *BookCheck) examples(ctx context.Context, l *Linter, layers *rulebook.Layers, book *rulebook.Rulebook) error {
	base, ok, err := book.BaseJob()
	if err == nil && !ok {
		base, _, err = l.Books[0].BaseJob()
	}
	var ps jobfile.Problems
	if errors.As(err, &ps) {
		c.Problems = append(c.Problems, ps...)
		return nil
	}
	if err != nil {
		return err
	}
	all, err := book.ReadExamples()
	if errors.As(err, &ps) {
		c.Problems = append(c.Problems, ps...)
		return nil
	}
	if err != nil {
		return err
	}
	for _, r := range layers.At(Latest) {
		own := r.Rulebook == book.Name
		amended := slices.ContainsFunc(book.Amends, func(m *rulebook.Amendment) bool { return m.RuleID == r.ID })
		if !own && !amended {
			continue
		}
		c.Rules++
		x := all[r.ID]
		if x == nil {
			c.Problems = append(c.Problems, at(place(r, book), "the rule %s has no examples", r.ID))
			continue
		}
		seen, reached := map[rulebook.Sort]int{}, map[string]bool{}
		var examples []rulebook.Example
		var sets []*measure.Set
		for _, e := range x.List() {
			seen[e.Sort]++
			c.Examples++
			rev, p := reviewExample(ctx, l, base, e, book.Name)
			if p != nil {
				c.Problems = append(c.Problems, *p)
				continue
			}
			if text := holds(r, e, rev, reached); text != "" {
				c.Problems = append(c.Problems, at(e.Pos, "example %s of %s: %s", e.Sort, r.ID, text))
			}
			examples, sets = append(examples, e), append(sets, rev.Set)
		}
		if text := lacks(r, seen, reached); text != "" {
			c.Problems = append(c.Problems, at(x.Pos, "%s: %s", r.ID, text))
		}
		alive, n := survivors(r, examples, sets)
		c.Mutants += n
		for _, what := range alive {
			c.Problems = append(c.Problems, at(x.Pos, "%s: no example notices that %s", r.ID, what))
		}
	}
	return nil
}

// place is where a rulebook speaks of a rule: in its row, or in its amendment.
func place(r *rulebook.Rule, book *rulebook.Rulebook) *jobfile.Node {
	if r.Rulebook == book.Name {
		return r.Pos
	}
	for _, m := range book.Amends {
		if m.RuleID == r.ID {
			return m.Pos
		}
	}
	return nil
}

// reviewExample reviews the job of an example by core and the rulebook that the example belongs to.
func reviewExample(ctx context.Context, l *Linter, base *jobfile.Node, e rulebook.Example, book string) (*verdict.Review, *jobfile.Problem) {
	fail := func(err error) *jobfile.Problem {
		p := at(e.Pos, "the example makes no job: %s", strings.ReplaceAll(err.Error(), "\n", "; "))
		return &p
	}
	root, err := e.Apply(base)
	if err != nil {
		return nil, fail(err)
	}
	root.SetMembers(slices.DeleteFunc(root.Members(), func(m jobfile.Member) bool { return m.Key == "rulebooks" }))
	root.SetMembers(append(root.Members(), jobfile.Member{Key: "rulebooks", Value: jobfile.NewList(jobfile.NewText(book))}))
	f, err := jobfile.FromNode(fmt.Sprintf("%s:%d", e.Pos.File(), e.Pos.Line), root)
	if err != nil {
		return nil, fail(err)
	}
	rev, err := l.ReviewFile(ctx, f)
	if err != nil {
		return nil, fail(err)
	}
	return rev, nil
}

// bounds finds limits that no job can reach, since the schema of the job does not let the field say so.
func (c *BookCheck) bounds(book *rulebook.Rulebook) {
	root, err := jobfile.Read("job.schema.json", schema.Bytes("job.schema.json"))
	if err != nil {
		return // embedded and tested
	}
	for _, r := range book.Rules {
		if r.Allowed == nil || r.Def.Type != measure.Number || r.Def.How != "as given" || len(r.Def.Needs) != 1 {
			continue
		}
		f := fieldSchema(root, r.AppliesTo, r.Def.Needs[0])
		lo, hi := f.Get("minimum"), f.Get("maximum")
		if lo == nil || hi == nil {
			continue
		}
		low, _, high, _ := r.Allowed.Range()
		for _, limit := range []float64{low, high} {
			if limit < lo.Num || limit > hi.Num {
				if limit > -1e300 && limit < 1e300 {
					c.Problems = append(c.Problems, at(r.Allowed.Pos, "the limit %s lies outside what a job can say of %s (%s to %s)", measure.FormatNumber(limit), r.Def.Needs[0], measure.FormatNumber(lo.Num), measure.FormatNumber(hi.Num)))
				}
			}
		}
	}
}

// fieldSchema finds the schema of a field that a measure of a kind needs; nil when it cannot be told.
func fieldSchema(root *jobfile.Node, kind, field string) *jobfile.Node {
	defs := root.Get("$defs")
	deref := func(n *jobfile.Node) *jobfile.Node {
		for n.Get("$ref") != nil {
			n = defs.Get(strings.TrimPrefix(n.Get("$ref").Text, "#/$defs/"))
		}
		return n
	}
	n := defs.Get("item_" + kind)
	if n == nil {
		n = defs.Get(kind)
	}
	sep := "."
	if rest, ok := strings.CutPrefix(field, "/"); ok {
		n, field, sep = root, rest, "/"
	}
	for _, step := range strings.Split(field, sep) {
		n = deref(n)
		if n.Get("type") != nil && n.Get("type").Text == "array" {
			n = n.Get("items")
			continue
		}
		n = n.Get("properties").Get(step)
	}
	return deref(n)
}

// Difference is what differs between two sets of rules, for one rule.
type Difference struct {
	Rule   string
	Before *rulebook.Rule // nil when it is new
	After  *rulebook.Rule // nil when it is gone
	Words  []string       // what differs, in words
}

// CompareRules says in words how two sets of rules differ, in order of id.
func CompareRules(before, after []*rulebook.Rule) []Difference {
	by := map[string]*Difference{}
	var ids []string
	get := func(id string) *Difference {
		if by[id] == nil {
			by[id] = &Difference{Rule: id}
			ids = append(ids, id)
		}
		return by[id]
	}
	for _, r := range before {
		get(r.ID).Before = r
	}
	for _, r := range after {
		get(r.ID).After = r
	}
	slices.Sort(ids)
	var out []Difference
	for _, id := range ids {
		d := by[id]
		switch a, b := d.Before, d.After; {
		case a == nil:
			d.Words = []string{fmt.Sprintf("new, %s: %s (%s)", b.Severity, b.Title, b.AllowedText())}
		case b == nil:
			d.Words = []string{fmt.Sprintf("gone: %s (%s)", a.Title, a.AllowedText())}
		default:
			say := func(what, x, y string) {
				if x != y {
					d.Words = append(d.Words, fmt.Sprintf("%s: %s → %s", what, orNothing(x), orNothing(y)))
				}
			}
			say("allowed", a.AllowedText(), b.AllowedText())
			say("severity", a.Severity.String(), b.Severity.String())
			say("asked from", a.From.String(), b.From.String())
			say("applies to", a.AppliesTo, b.AppliesTo)
			say("measure", a.Measure, b.Measure)
			say("when", conditionsText(a), conditionsText(b))
			say("in force", periodText(a.InForce), periodText(b.InForce))
			say("source", a.Source.String(), b.Source.String())
			say("title", a.Title, b.Title)
			say("why", a.Why, b.Why)
			say("what to do", a.Remedy, b.Remedy)
		}
		if len(d.Words) > 0 {
			out = append(out, *d)
		}
	}
	return out
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}

func conditionsText(r *rulebook.Rule) string {
	var parts []string
	for _, c := range r.When {
		p := c.Measure
		if len(c.Is) > 0 {
			p += fmt.Sprintf(" is %v", c.Is)
		}
		if c.AtLeast != nil {
			p += " at least " + measure.FormatNumber(*c.AtLeast)
		}
		if c.AtMost != nil {
			p += " at most " + measure.FormatNumber(*c.AtMost)
		}
		parts = append(parts, p)
	}
	return strings.Join(parts, " and ")
}

func periodText(p *rulebook.Period) string {
	if p == nil {
		return ""
	}
	return strings.TrimSpace("from " + orNothing(p.From) + " until before " + orNothing(p.Until))
}

// EffectiveRules returns the rules of core and the named rulebooks laid over one another, on a day; the latest edition for an empty day.
func EffectiveRules(names []string, day string) ([]*rulebook.Rule, error) {
	l, err := New(Options{Rulebooks: names, On: day})
	if err != nil {
		return nil, err
	}
	return l.Rules(), nil
}

// NewRulebook returns the files of a new rulebook that passes its own check: a manifest, a source, one amendment with its examples, and one rule with
// its examples, to be replaced by what the author needs.
func NewRulebook(name, layer, country string) (map[string]string, error) {
	if !slices.Contains([]string{"region", "firm", "job"}, layer) {
		return nil, fmt.Errorf("a rulebook lies in the layer region, firm or job, not %q", layer)
	}
	if name == "" || strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789/_-") != "" || name[0] < 'a' || name[0] > 'z' {
		return nil, fmt.Errorf("%q is no name for a rulebook; use small letters, digits and hyphens, such as house-rules", name)
	}
	head := "rulebook: " + name + "\ntitle: Rules of " + name + "\nedition: \"1\"\nlayer: " + layer + "\n"
	if country != "" {
		head += "country: " + country + "\n"
	}
	prefix := strings.Trim(strings.NewReplacer("/", "-", "_", "-").Replace(name), "-")
	return map[string]string{
		"rulebook.yaml": head + "description: Say here what the rulebook is for.\n",
		"sources.yaml":  "sources:\n  - {id: house-book, kind: firm, title: \"The firm's own standard\", edition: \"1\"}\n",
		"rules/house.yaml": `subject: house
rules:
  - id: ` + prefix + `-door-width
    title: Doors are at least 700 mm wide
    severity: minor
    from: design
    applies_to: glazed_door
    measure: clear_width_mm
    allowed: {at_least: 700}
    why: Say what goes wrong otherwise.
    remedy: Plan a wider opening.
    source: {id: house-book, clause: page 1, basis: read}
amendments:
  - rule: steam-outlet-height
    change: tighten
    title: Steam enters 220 to 280 mm above the floor
    allowed: {between: [220, 280]}
    reason: Say why the limit is another one here.
    source: {id: house-book, clause: page 2, basis: read}
`,
		"examples/house.yaml": `examples:
  - rule: ` + prefix + `-door-width
    subject: door
    conforming: {door.width_mm: 750}
    nonconforming: {door.width_mm: 699}
    at_limit: {door.width_mm: 700}
    not_applicable: {door: null}
    missing: {door.width_mm: null}
  - rule: steam-outlet-height
    subject: steam_1
    conforming: {steam_1.y_mm: 250}
    nonconforming: [{steam_1.y_mm: 219}, {steam_1.y_mm: 281}]
    at_limit: [{steam_1.y_mm: 220}, {steam_1.y_mm: 280}]
    not_applicable: {steam_1: null}
    missing: {steam_1.y_mm: null}
`,
	}, nil
}

// AllExamples reads the examples of core and the named rulebooks by rule; those of a layer above stand in place of those below.
func AllExamples(names []string) (map[string]*rulebook.Examples, error) {
	books, err := OpenRulebooks(names)
	if err != nil {
		return nil, err
	}
	out := map[string]*rulebook.Examples{}
	for _, b := range books {
		examples, err := b.ReadExamples()
		if err != nil {
			return nil, err
		}
		for id, x := range examples {
			out[id] = x
		}
	}
	return out, nil
}
