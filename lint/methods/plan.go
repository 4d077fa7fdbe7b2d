package methods

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// For makes the plan of a job. The set holds the measures of the same job, laid the methods of its rulebooks. The error is for rulebooks
// that give no plan: without methods, or with a sequence that runs in a ring.
func For(job *jobfile.Job, set *measure.Set, laid *rulebook.MethodSet) (*Plan, error) {
	if len(laid.Methods) == 0 {
		return nil, errors.New("the rulebooks hold no methods of work")
	}
	order, err := Order(laid)
	if err != nil {
		return nil, err
	}
	m := &maker{job: job, set: set, laid: laid, ctx: set.Context(), plan: &Plan{Links: laid.Links, Sequence: laid.Sequence, Changes: laid.Changes},
		rank: map[string]int{}, faces: map[string]int{}, tools: map[toolKey]int{}, materials: map[materialKey]int{}}
	for i, t := range order {
		m.rank[t] = i
	}
	for i, f := range m.ctx.Faces {
		m.faces[f.ID] = i
	}
	m.draft()
	m.finish()
	return m.plan, nil
}

// Order puts the tasks of the job format in order: by the sequence and by the links that tie a start to another task, and among those
// that are free by the order in which the job format lists them. The error names a ring.
func Order(laid *rulebook.MethodSet) ([]string, error) {
	words := rulebook.Words().Tasks
	before := map[string][]string{}
	tie := func(first, then string) {
		for _, a := range spread(first) {
			for _, b := range spread(then) {
				before[b] = append(before[b], a)
			}
		}
	}
	for _, r := range laid.Sequence {
		tie(r.First, r.Then)
	}
	for _, l := range laid.Links {
		if l.Sort == "FS" || l.Sort == "SS" {
			tie(l.From, l.To)
		}
	}
	var order []string
	for len(order) < len(words) {
		next := ""
		for _, w := range words {
			if !slices.Contains(order, w) && !slices.ContainsFunc(before[w], func(a string) bool { return !slices.Contains(order, a) }) {
				next = w
				break
			}
		}
		if next == "" {
			return nil, fmt.Errorf("the order of work runs in a ring: %s", strings.Join(ring(words, before, order), ", then "))
		}
		order = append(order, next)
	}
	return order, nil
}

// spread gives the tasks that a word of the sequence stands for.
func spread(word string) []string {
	if word == "finish" {
		return []string{"tile", "plaster"}
	}
	return []string{word}
}

// ring finds a ring among the tasks that cannot be put in order.
func ring(words []string, before map[string][]string, done []string) []string {
	var at string
	for _, w := range words {
		if !slices.Contains(done, w) {
			at = w
			break
		}
	}
	way := []string{at}
	for {
		for _, a := range before[at] {
			if !slices.Contains(done, a) {
				at = a
				break
			}
		}
		if i := slices.Index(way, at); i >= 0 {
			way = append(way[i:], at)
			slices.Reverse(way)
			return way
		}
		way = append(way, at)
	}
}

type toolKey struct {
	name string
	size float64
	unit string
	open bool // the size is not known
}

type materialKey struct{ name, unit string }

// maker makes one plan.
type maker struct {
	job       *jobfile.Job
	set       *measure.Set
	laid      *rulebook.MethodSet
	ctx       *measure.Context
	plan      *Plan
	rank      map[string]int
	faces     map[string]int
	drafts    []draft
	tools     map[toolKey]int
	materials map[materialKey]int
}

// draft is a step before the steps are put in order.
type draft struct {
	step    Step
	from    *rulebook.MethodStep
	subject *measure.Subject
	key     [5]int // task, face, place of the subject, method, step
	maybe   state
	arises  []string // fields that would tell whether the step arises, while that is unsure
	needs   *needs
}

// state is what is known of a condition.
type state uint8

const (
	no state = iota
	unsure
	yes
)

// needs gathers the fields that a step lacks.
type needs struct {
	m       *maker
	subject *measure.Subject
	fields  []string
}

func (n *needs) add(d *measure.Def, v measure.Value) {
	fields := d.Needs
	if at := v.At(); at != "" {
		fields = []string{at} // the value knows better
	}
	lacking, _ := verdict.MissingOf(n.m.job.Pos, n.subject, fields)
	for _, f := range lacking {
		if !strings.HasPrefix(f, "/") && n.subject.Kind != "job" {
			f = n.subject.ID + "." + f
		}
		if !slices.Contains(n.fields, f) {
			n.fields = append(n.fields, f)
		}
	}
}

func (n *needs) take(o *needs) {
	for _, f := range o.fields {
		if !slices.Contains(n.fields, f) {
			n.fields = append(n.fields, f)
		}
	}
}

func (m *maker) lacking(s *measure.Subject) *needs { return &needs{m: m, subject: s} }

// value measures a subject.
func (m *maker) value(s *measure.Subject, name string) (measure.Value, *measure.Def) {
	d := measure.Lookup(s.Kind).Quantity(name)
	return m.set.Quantity(s, d), d
}

// holds says whether all conditions hold; what does not arise does not hold.
func (m *maker) holds(s *measure.Subject, when []rulebook.Condition, lack *needs) state {
	all := yes
	mine := m.lacking(s)
	for _, c := range when {
		v, d := m.value(s, c.Measure)
		switch v.State {
		case measure.None:
			return no
		case measure.Unknown:
			all = unsure
			mine.add(d, v)
		default:
			if !met(c, d, v) {
				return no
			}
		}
	}
	if all == unsure {
		lack.take(mine)
	}
	return all
}

func met(c rulebook.Condition, d *measure.Def, v measure.Value) bool {
	if len(c.Is) > 0 {
		var got any = v.Text()
		switch d.Type {
		case measure.Number:
			got = v.Num
		case measure.Flag:
			got = v.Flag
		}
		return slices.Contains(c.Is, got)
	}
	return (c.AtLeast == nil || v.Num >= *c.AtLeast) && (c.AtMost == nil || v.Num <= *c.AtMost)
}

// fill writes a text with the figures of the job. A figure that is not given is shown as its field in brackets.
func (m *maker) fill(s *measure.Subject, text string, lack *needs) (out string, known bool) {
	pieces, _ := rulebook.Pieces(text)
	known = true
	var b strings.Builder
	for _, p := range pieces {
		if p.Measure == "" {
			b.WriteString(p.Text)
			continue
		}
		if p.Measure == rulebook.SubjectPlaceholder {
			b.WriteString(s.ID)
			continue
		}
		v, d := m.value(s, p.Measure)
		switch v.State {
		case measure.None:
			b.WriteString("none")
		case measure.Unknown:
			known = false
			mine := m.lacking(s)
			mine.add(d, v)
			lack.take(mine)
			b.WriteString("[" + strings.Join(mine.fields[:min(1, len(mine.fields))], "") + "?]")
		default:
			b.WriteString(shown(d, v))
		}
	}
	return b.String(), known
}

// shown writes a value for people: whole numbers as they are, others with no more than three digits that count, unless they are facts.
func shown(d *measure.Def, v measure.Value) string {
	if d.Type == measure.Text && len(d.Values) == 0 {
		return v.Text() // a name, or words of the job's own
	}
	if d.Type != measure.Number || d.How == "as given" {
		return d.Format(v)
	}
	n := v.Num
	switch a := math.Abs(n); {
	case a >= 100, a >= 10 && d.Unit == "":
		n = math.Round(n)
	case a >= 10:
		n = math.Round(n*10) / 10
	case a >= 1:
		n = math.Round(n*100) / 100
	}
	return measure.WithUnit(measure.FormatNumber(n), d.Unit)
}

// total adds up a fixed amount and amounts that grow with measures. Measures that do not arise add nothing.
func (m *maker) total(s *measure.Subject, fixed float64, per []rulebook.Per, lack *needs) (sum float64, working string, known bool) {
	var terms []string
	if fixed > 0 {
		terms = append(terms, measure.FormatNumber(fixed))
	}
	sum, known = fixed, true
	for _, p := range per {
		v, d := m.value(s, p.Measure)
		switch v.State {
		case measure.Unknown:
			known = false
			lack.add(d, v)
		case measure.Known:
			sum += p.Amount * v.Num
			terms = append(terms, strconv.FormatFloat(p.Amount, 'f', -1, 64)+" × "+d.Format(v))
		}
	}
	return tidy(sum), strings.Join(terms, " + "), known
}

// tidy takes the noise of binary fractions off a sum.
func tidy(v float64) float64 { return math.Round(v*1e6) / 1e6 }

// subjects lists what a method is for.
func (m *maker) subjects(kind string) []measure.Subject {
	if t := m.set.Table(kind); t != nil {
		return t.Subjects
	}
	return nil
}

// place says where a subject comes among others: face by face, then what is on no face, then circuits, then the job.
func (m *maker) place(s *measure.Subject, i int) (face string, key [2]int) {
	last := len(m.faces)
	switch {
	case s.Face != nil:
		return s.ID, [2]int{m.faces[s.ID], -1}
	case s.Item != nil:
		at, ok := m.faces[s.Item.Face]
		if !ok {
			return "", [2]int{last, m.item(s.ID)}
		}
		return s.Item.Face, [2]int{at, m.item(s.ID)}
	case s.Circuit != nil:
		return "", [2]int{last + 1, i}
	}
	return "", [2]int{last + 2, i}
}

func (m *maker) item(id string) int {
	return slices.IndexFunc(m.job.Items, func(it jobfile.Item) bool { return it.ID == id })
}

// draft lists the steps that arise, and puts them in order.
func (m *maker) draft() {
	for mi, method := range m.laid.Methods {
		list := m.subjects(method.AppliesTo)
		for si := range list {
			s := &list[si]
			common := m.lacking(s)
			of := m.holds(s, method.When, common)
			if of == no {
				continue
			}
			for k, p := range method.Instructions {
				m.instruction(s, p, of, common, k == 0)
			}
			face, at := m.place(s, si)
			for ki, st := range method.Steps {
				lack := m.lacking(s)
				lack.take(common)
				arises := min(of, m.holds(s, st.When, lack))
				if arises == no {
					continue
				}
				d := draft{from: st, subject: s, key: [5]int{m.rank[st.Task], at[0], at[1], mi, ki}, maybe: arises, needs: lack}
				if arises == unsure {
					d.arises = slices.Clone(lack.fields)
				}
				d.step = Step{Method: method.ID, Step: st.ID, Title: method.Title, Task: st.Task, Kind: s.Kind, Face: face, By: st.By, ByTitle: st.By, Source: st.Source, Changes: st.Changes, Unsure: arises == unsure}
				d.step.ID = method.ID + "." + st.ID
				if s.Kind != "job" {
					d.step.Subject = s.ID
					d.step.ID += ":" + s.ID
				}
				if t := m.laid.Trade(st.By); t != nil {
					d.step.ByTitle, d.step.Licensed = t.Title, t.Licensed
				}
				m.drafts = append(m.drafts, d)
			}
		}
	}
	sort.SliceStable(m.drafts, func(i, j int) bool { return slices.Compare(m.drafts[i].key[:], m.drafts[j].key[:]) < 0 })
}

func (m *maker) instruction(s *measure.Subject, p rulebook.MethodPaper, of state, common *needs, first bool) {
	lack := m.lacking(s)
	lack.take(common)
	arises := min(of, m.holds(s, p.When, lack))
	if arises == no {
		return
	}
	what, known := m.fill(s, p.What, lack)
	x := Instruction{Kind: s.Kind, What: what, Known: known && arises == yes, Needs: lack.fields}
	if s.Kind != "job" {
		x.Subject = s.ID
	}
	if s.Item != nil {
		x.Product = s.Item.Product
		if first { // the job format speaks of the maker's instructions alone
			x.OnSite = s.Item.InstructionsOnSite
		}
	}
	if s.Face != nil {
		// The data sheet of a layer is wanted once, however many faces have the layer.
		x.Subject = ""
		if i := slices.IndexFunc(m.plan.Instructions, func(o Instruction) bool { return o.Kind == x.Kind && o.What == x.What }); i >= 0 {
			o := &m.plan.Instructions[i]
			o.Known = o.Known || x.Known
			return
		}
	}
	m.plan.Instructions = append(m.plan.Instructions, x)
}

// finish works out the steps in their order.
func (m *maker) finish() {
	for i := range m.drafts {
		d := &m.drafts[i]
		m.plan.Steps = append(m.plan.Steps, m.work(d, i))
	}
	m.tidyTools()
	m.tidyMaterials()
	m.gatherTasks()
	m.gatherCautions()
	at := map[string]int{}
	for i := range m.plan.Steps {
		for _, f := range m.plan.Steps[i].Needs {
			k, ok := at[f]
			if !ok {
				k = len(m.plan.Missing)
				at[f] = k
				m.plan.Missing = append(m.plan.Missing, Missing{Field: f})
			}
			m.plan.Missing[k].Steps = append(m.plan.Missing[k].Steps, i)
		}
	}
}

func (m *maker) work(d *draft, i int) Step {
	s, st, lack, sub := &d.step, d.from, d.needs, d.subject
	var known bool
	s.Text, known = m.fill(sub, st.Do, lack)
	sure := d.maybe == yes
	s.MinutesKnown, s.StandsKnown = sure, sure
	if st.Work != nil {
		n, _, ok := m.total(sub, st.Work.Min, st.Work.Per, lack)
		s.Minutes, s.MinutesKnown = n, ok && sure
	}
	if st.Stands != nil {
		n, _, ok := m.total(sub, st.Stands.H, st.Stands.Per, lack)
		s.StandsH, s.StandsKnown = n, ok && sure
	}
	known = known && s.MinutesKnown && s.StandsKnown
	for _, t := range st.Tools {
		known = m.tool(d, t, i) && known
	}
	for _, x := range st.Materials {
		known = m.material(d, x, i) && known
	}
	s.Cautions = slices.Clone(st.Cautions)
	for _, c := range st.CautionsIf {
		// A caution that may be called for is given.
		if m.holds(sub, c.When, m.lacking(sub)) != no && !slices.Contains(s.Cautions, c.Caution) {
			s.Cautions = append(s.Cautions, c.Caution)
		}
	}
	if p := st.Point; p != nil {
		mine := &needs{m: m, subject: sub, fields: slices.Clone(d.arises)}
		check, ok := m.fill(sub, p.Check, mine)
		lack.take(mine)
		point := Point{Sort: p.Sort, Letter: strings.ToUpper(p.Sort[:1]), Check: check, ReleasedBy: p.ReleasedBy, Step: i, Task: s.Task, Subject: s.Subject, Face: s.Face, Known: ok && sure, Needs: mine.fields}
		known = known && ok
		m.plan.Points = append(m.plan.Points, point)
		s.Point = &point
	}
	if r := st.Record; r != nil {
		mine := m.lacking(sub)
		what, ok := m.fill(sub, r.What, mine)
		lack.take(mine)
		known = known && ok
		due := RecordDue{Record: r.Record, When: r.When, For: r.For, What: what, Step: i, Task: s.Task, Face: s.Face}
		if sub.Item != nil {
			due.Item = sub.ID
		}
		due.Taken = m.taken(due, s.Subject)
		m.plan.Records = append(m.plan.Records, due)
		s.Record = &due
	}
	s.Needs = lack.fields
	s.Known = known && sure && len(lack.fields) == 0
	return *s
}

// tool adds a tool of a step, and says whether all of it is known.
func (m *maker) tool(d *draft, t rulebook.MethodTool, step int) bool {
	lack := &needs{m: m, subject: d.subject, fields: slices.Clone(d.arises)}
	needed := m.holds(d.subject, t.When, lack)
	if needed == no {
		return true
	}
	name, known := m.fill(d.subject, t.Tool, lack)
	keys := []toolKey{{name: name}}
	if t.Size != "" {
		v, def := m.value(d.subject, t.Size)
		switch v.State {
		case measure.None:
			return true
		case measure.Unknown:
			lack.add(def, v)
			known = false
			keys[0].open, keys[0].unit = true, def.Unit
		default:
			keys = keys[:0]
			sizes := v.Sizes()
			if def.Type == measure.Number {
				sizes = []float64{v.Num}
			}
			for _, n := range sizes {
				keys = append(keys, toolKey{name: name, size: n, unit: def.Unit})
			}
		}
	}
	known = known && needed == yes && d.maybe == yes
	for _, k := range keys {
		at, ok := m.tools[k]
		if !ok {
			at = len(m.plan.Tools)
			m.tools[k] = at
			m.plan.Tools = append(m.plan.Tools, Tool{Name: k.name, Size: k.size, Unit: k.unit, Listed: m.listed(k)})
		}
		x := &m.plan.Tools[at]
		x.Known = x.Known || known // one step that needs it for sure is enough
		if !slices.Contains(x.Steps, step) {
			x.Steps = append(x.Steps, step)
			d.step.Tools = append(d.step.Tools, at)
		}
		if !known {
			for _, f := range lack.fields {
				if !slices.Contains(x.Needs, f) {
					x.Needs = append(x.Needs, f)
				}
			}
		}
	}
	d.needs.take(lack)
	return known
}

// listed says whether the job's list of tools has a tool, nil for tools that the job format does not list or of which the job says nothing.
func (m *maker) listed(k toolKey) *bool {
	t := m.job.Tools
	if t == nil || k.open {
		return nil
	}
	in := func(sizes []float64) *bool {
		if sizes == nil {
			return nil
		}
		has := slices.Contains(sizes, k.size)
		return &has
	}
	switch k.name {
	case "hole saw":
		return in(t.HoleSawsMM)
	case "drill bit":
		return in(t.BitsMM)
	case "groove cutter":
		return in(t.GrooveCuttersMM)
	case "hand saw":
		return t.HandSaw
	case "insulation tester":
		return t.InsulationTester
	}
	return nil
}

// material adds a material of a step, and says whether all of it is known.
func (m *maker) material(d *draft, x rulebook.MethodMaterial, step int) bool {
	lack := &needs{m: m, subject: d.subject, fields: slices.Clone(d.arises)}
	needed := m.holds(d.subject, x.When, lack)
	if needed == no {
		return true
	}
	name, known := m.fill(d.subject, x.Material, lack)
	net, working, ok := m.total(d.subject, x.Amount, x.Per, lack)
	known = known && ok && needed == yes && d.maybe == yes
	d.needs.take(lack)
	if known && net == 0 {
		return true // nothing of it is needed here
	}
	k := materialKey{name, x.Unit}
	at, have := m.materials[k]
	if !have {
		at = len(m.plan.Materials)
		m.materials[k] = at
		m.plan.Materials = append(m.plan.Materials, Material{Name: name, Unit: x.Unit, Known: true})
	}
	mat := &m.plan.Materials[at]
	part := Part{Step: step, WastePercent: x.WastePercent, Working: working, Known: known, Needs: lack.fields}
	if known {
		part.Net, part.Exact = net, tidy(net*(1+x.WastePercent/100))
	}
	mat.Parts = append(mat.Parts, part)
	mat.Buy = max(mat.Buy, x.BuyBy) // until the sum is known, what it is bought by
	mat.Known = mat.Known && known
	for _, f := range lack.fields {
		if !slices.Contains(mat.Needs, f) {
			mat.Needs = append(mat.Needs, f)
		}
	}
	if !slices.ContainsFunc(mat.Source, func(c rulebook.Citation) bool { return c.String() == d.from.Source.String() }) {
		mat.Source = append(mat.Source, d.from.Source)
	}
	d.step.Materials = append(d.step.Materials, Use{Material: at, Net: part.Net, Exact: part.Exact, Known: known})
	return known
}

// buyBy is what a quantity is rounded up to, by its unit.
//
// Source: common practice.
func buyBy(unit string, exact float64) float64 {
	switch unit {
	case "pieces", "cartridges", "rolls":
		return 1
	case "kg", "l":
		if exact < 1 {
			return 0.1
		}
		return 1
	}
	return 0.5 // m, m²
}

func (m *maker) tidyMaterials() {
	old := m.plan.Materials
	order := make([]int, len(old))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool {
		x, y := &old[order[a]], &old[order[b]]
		return cmp.Or(cmp.Compare(x.Name, y.Name), cmp.Compare(x.Unit, y.Unit)) < 0
	})
	at := make([]int, len(old))
	out := make([]Material, len(old))
	for i, k := range order {
		at[k] = i
		x := old[k]
		for _, p := range x.Parts {
			x.Net, x.Exact = x.Net+p.Net, x.Exact+p.Exact
		}
		x.Net, x.Exact = tidy(x.Net), tidy(x.Exact)
		by := x.Buy
		if by == 0 {
			by = buyBy(x.Unit, x.Exact)
		}
		x.Buy = tidy(math.Ceil(x.Exact/by-1e-9) * by)
		out[i] = x
	}
	m.plan.Materials = out
	for i := range m.plan.Steps {
		for k := range m.plan.Steps[i].Materials {
			u := &m.plan.Steps[i].Materials[k]
			u.Material = at[u.Material]
		}
	}
}

func (m *maker) tidyTools() {
	old := m.plan.Tools
	order := make([]int, len(old))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool {
		x, y := &old[order[a]], &old[order[b]]
		return cmp.Or(cmp.Compare(x.Name, y.Name), cmp.Compare(x.Size, y.Size), cmp.Compare(x.Unit, y.Unit)) < 0
	})
	at := make([]int, len(old))
	out := make([]Tool, len(old))
	for i, k := range order {
		at[k] = i
		out[i] = old[k]
		if out[i].Known {
			out[i].Needs = nil
		}
	}
	m.plan.Tools = out
	for i := range m.plan.Steps {
		for k, t := range m.plan.Steps[i].Tools {
			m.plan.Steps[i].Tools[k] = at[t]
		}
		slices.Sort(m.plan.Steps[i].Tools)
	}
}

func (m *maker) gatherTasks() {
	type key struct{ name, by string }
	at := map[key]int{}
	stands := map[int]map[string]float64{}
	for i := range m.plan.Steps {
		s := &m.plan.Steps[i]
		k, ok := at[key{s.Task, s.By}]
		if !ok {
			k = len(m.plan.Tasks)
			at[key{s.Task, s.By}] = k
			m.plan.Tasks = append(m.plan.Tasks, Task{Name: s.Task, By: s.By, Known: true, Licensed: s.Licensed})
			stands[k] = map[string]float64{}
		}
		t := &m.plan.Tasks[k]
		t.Steps = append(t.Steps, i)
		t.Minutes = tidy(t.Minutes + s.Minutes)
		t.Known = t.Known && s.MinutesKnown && s.StandsKnown
		stands[k][s.Subject] += s.StandsH
		t.StandsH = max(t.StandsH, stands[k][s.Subject])
		if s.Face != "" && !slices.Contains(t.Faces, s.Face) {
			t.Faces = append(t.Faces, s.Face)
		}
		if m.item(s.Subject) >= 0 && s.Kind != "face" && s.Kind != "circuit" && !slices.Contains(t.Items, s.Subject) {
			t.Items = append(t.Items, s.Subject)
		}
	}
	for i := range m.plan.Tasks {
		t := &m.plan.Tasks[i]
		slices.SortFunc(t.Items, func(a, b string) int { return m.item(a) - m.item(b) })
		slices.SortFunc(t.Faces, func(a, b string) int { return m.faces[a] - m.faces[b] })
	}
}

func (m *maker) gatherCautions() {
	for _, c := range m.laid.Cautions {
		x := Caution{ID: c.ID, Title: c.Title, Text: c.Text, Signs: c.Signs, Source: c.Source}
		for i := range m.plan.Steps {
			if slices.Contains(m.plan.Steps[i].Cautions, c.ID) {
				x.Steps = append(x.Steps, i)
			}
		}
		if len(x.Steps) > 0 {
			m.plan.Cautions = append(m.plan.Cautions, x)
		}
	}
}

// taken lists the records of the job that answer a record that is due. A photograph answers when it names the item; a signature when it
// is for the same, and names the subject where it is one of several.
func (m *maker) taken(due RecordDue, subject string) (out []int) {
	for i := range m.job.Records {
		r := &m.job.Records[i]
		if r.Record != due.Record {
			continue
		}
		var ok bool
		switch r.Record {
		case "cable_reading":
			ok = r.Item == due.Item && r.When == due.When
		case "film_thickness":
			ok = r.Face == due.Face
		case "signature":
			says := strings.ToLower(r.For + " " + r.Note)
			ok = strings.Contains(says, strings.ToLower(due.For)) && (subject == "" || strings.Contains(says, strings.ToLower(subject)))
		case "load_test", "photo":
			ok = due.Item != "" && r.Item == due.Item
		case "flood_test":
			ok = true
		}
		if ok {
			out = append(out, i)
		}
	}
	return out
}
