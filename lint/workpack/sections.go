package workpack

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/methods"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// builder writes the sections of a pack.
type builder struct {
	*Pack
	in      Input
	r       *verdict.Review
	entries []report.Entry
	marks   map[*methods.Point]string // H1, W1 ...
}

func (b *builder) build() {
	b.number()
	add := func(id, title string, blocks ...Block) {
		b.Sections = append(b.Sections, Section{ID: id, Title: title, Blocks: blocks})
	}
	add("cover", "Cover")
	add("cautions", "Cautions", b.cautionBlocks()...)
	add("findings", "Open findings", b.findings()...)
	add("tools", "Tools", b.toolBlocks()...)
	add("materials", "Materials", b.materialBlocks()...)
	add("steps", "Steps by face", b.steps()...)
	add("sheets", "Setting-out sheets", Paragraph{Text: "Faces are seen from inside the room, the floor from above. Mark by the written figures: x runs from the left edge, y from the lower edge of the finished face. Check the bar of 100 mm before you measure on a print."}, Sheets{b.sheets})
	add("programme", "Programme", b.programmeBlocks()...)
	add("inspections", "Inspection and test plan", b.inspections()...)
	add("instructions", "Makers' instructions on site", b.instructions()...)
	add("handover", "Handover", b.handover()...)
	b.Sections[0].Blocks = b.cover()
}

// number gives each inspection its mark, in the order of the work.
func (b *builder) number() {
	b.marks = map[*methods.Point]string{}
	n := map[string]int{}
	for i := range b.in.Plan.Points {
		p := &b.in.Plan.Points[i]
		n[p.Letter]++
		b.marks[p] = p.Letter + strconv.Itoa(n[p.Letter])
	}
}

// pointOf finds the inspections at the end of a step.
func (b *builder) pointOf(step int) *methods.Point {
	for i := range b.in.Plan.Points {
		if b.in.Plan.Points[i].Step == step {
			return &b.in.Plan.Points[i]
		}
	}
	return nil
}

// words make a word of the job format plain.
func words(s string) string { return measure.Words(s) }

// capital begins a text with a capital letter.
func capital(s string) string {
	for i, r := range s {
		return strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}

// kindWords names a kind of item.
func kindWords(kind string) string {
	if kind == "led_strip" {
		return "LED strip"
	}
	return words(kind)
}

// faceWords names a face: "wall left", "seat of bench".
func (b *builder) faceWords(id string) string {
	if bench, part, ok := strings.Cut(id, "."); ok {
		return part + " of " + bench
	}
	if id == "floor" || id == "ceiling" || id == "" {
		return id
	}
	return "wall " + id
}

// faces are the ids of the faces in the order of the room.
func (b *builder) faces() (out []string) {
	if t := b.r.Set.Table("face"); t != nil {
		for i := range t.Subjects {
			out = append(out, t.Subjects[i].ID)
		}
	}
	return out
}

// subjectWords names what a step or an inspection is about.
func (b *builder) subjectWords(kind, id string) string {
	switch {
	case id == "":
		return "the whole room"
	case kind == "face":
		return b.faceWords(id)
	}
	return named(kind, id)
}

// named names an item: "steam outlet steam_1"; "glazed door" where its id says no more.
func named(kind, id string) string {
	s := kindWords(kind)
	if s == id || strings.HasSuffix(s, " "+id) {
		return s
	}
	return s + " " + id
}

// fieldWords names a field of the job as somebody who fills it in looks for it: "groove_width_mm of heat", "/room/benches".
func (b *builder) fieldWords(field string) string {
	if strings.HasPrefix(field, "/") {
		return field
	}
	for at := len(field); at > 0; at = strings.LastIndexByte(field[:at], '.') {
		if id := field[:at]; at < len(field) && (b.item(id) != nil || b.circuit(id) != nil || slices.Contains(b.faces(), id)) {
			return field[at+1:] + " of " + id
		}
	}
	return field
}

func (b *builder) fieldList(fields []string) string {
	var out []string
	for _, p := range fields {
		if s := b.fieldWords(p); !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return strings.Join(out, ", ")
}

// amount writes a quantity to a precision that somebody can weigh out.
func amount(v float64) string {
	digits := 2
	switch {
	case math.Abs(v) >= 100:
		digits = 0
	case math.Abs(v) >= 10:
		digits = 1
	}
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// unitFor is the unit of a quantity: one piece, two pieces.
func unitFor(quantity, unit string) string {
	if quantity == "1" && (unit == "pieces" || unit == "cartridges") {
		return strings.TrimSuffix(unit, "s")
	}
	return unit
}

// duration writes minutes as hours and minutes.
func duration(minutes float64) string {
	n := int(math.Ceil(minutes - 1e-9))
	switch h, m := n/60, n%60; {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	default:
		return fmt.Sprintf("%d h %d min", h, m)
	}
}

// stepNumbers writes which steps: "3, 5 to 8".
func stepNumbers(steps []int) string {
	list := slices.Compact(slices.Sorted(slices.Values(steps)))
	var out []string
	for i := 0; i < len(list); {
		k := i
		for k+1 < len(list) && list[k+1] == list[k]+1 {
			k++
		}
		switch k - i {
		case 0:
			out = append(out, strconv.Itoa(list[i]+1))
		case 1:
			out = append(out, strconv.Itoa(list[i]+1), strconv.Itoa(list[k]+1))
		default:
			out = append(out, fmt.Sprintf("%d to %d", list[i]+1, list[k]+1))
		}
		i = k + 1
	}
	return strings.Join(out, ", ")
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

func (b *builder) state() string {
	if b.Banner != "" {
		return b.Banner
	}
	n := len(b.entries)
	if n == 0 {
		return "No finding is open."
	}
	return "No critical finding is open. " + capital(count(n, "other finding is open: see part 3.", "other findings are open: see part 3."))
}

func (b *builder) cover() []Block {
	r, job := b.r, b.r.Job
	facts := []Fact{{"Country", strings.TrimSpace(job.Country + " " + job.Region)}, {"Stage", words(r.Stage.String())}}
	if room := job.Room; room != nil {
		s := words(room.Use)
		if room.Duty != "" {
			s += ", " + words(room.Duty)
		}
		if room.People != nil {
			s += ", for " + count(int(*room.People), "person", "people")
		}
		if room.HeightMM != nil {
			s += ", " + measure.FormatNumber(*room.HeightMM) + " mm high"
		}
		facts = append(facts, Fact{"Room", s})
	}
	var faces []string
	if t := r.Set.Table("face"); t != nil {
		for i := range t.Subjects {
			x := t.Subjects[i].Face
			s := b.faceWords(x.ID)
			if x.Width != nil && x.Height != nil {
				s += " " + measure.FormatNumber(*x.Width) + " × " + measure.FormatNumber(*x.Height)
			}
			faces = append(faces, s)
		}
	}
	facts = append(facts, Fact{fmt.Sprintf("Faces (%d), mm", len(faces)), strings.Join(faces, ", ")},
		Fact{fmt.Sprintf("Items (%d)", len(job.Items)), b.counted()},
		Fact{"Job file", b.File}, Fact{"Revision of the job", b.Revision}, Fact{"Rulebooks", books(r)}, Fact{"Revision of the rules", b.RulesRevision + fmt.Sprintf(", %s", count(len(r.Rules), "rule", "rules"))},
		Fact{"Judged for", r.On})
	facts = slices.DeleteFunc(facts, func(f Fact) bool { return f.Text == "" })
	var parts []Link
	for _, s := range b.Sections {
		parts = append(parts, Link{s.ID, s.Title})
	}
	out := []Block{Cover{b.Reference, b.Title, b.state()}, Facts{facts}, Contents{parts}}
	if len(r.Notices) > 0 {
		out = append(out, Note{Sort: "plain", Title: "Notes on the review", Lines: r.Notices})
	}
	return append(out, Paragraph{Text: "Work by the latest revision only: when the job file changes, its revision changes, and this pack is to be replaced."},
		Form{[]string{"Issued by", "Date", "Received on site by", "Date"}})
}

// counted counts items by kind in the order in which the kinds appear.
func (b *builder) counted() string {
	var order []string
	n := map[string]int{}
	for i := range b.r.Job.Items {
		k := b.r.Job.Items[i].Kind
		if n[k]++; n[k] == 1 {
			order = append(order, k)
		}
	}
	for i, k := range order {
		order[i] = count(n[k], kindWords(k), kinds(k))
	}
	return strings.Join(order, ", ")
}

// kinds is the plural of a kind.
func kinds(kind string) string {
	s := kindWords(kind)
	switch {
	case strings.HasSuffix(s, "y"):
		return strings.TrimSuffix(s, "y") + "ies"
	case strings.HasSuffix(s, "s"):
		return "sets of " + s
	}
	return s + "s"
}

func (b *builder) cautionBlocks() []Block {
	out := []Block{
		Note{Sort: "warning", Title: "Before all else", Lines: []string{
			"Law, local codes, the makers' instructions and licensed practice come first. Where they ask for more than this pack, do more.",
			"Electrical work and work on pressurised water or gas is for people with the licence that the place asks for.",
			"When something on site is not as drawn, stop and ask before you cut.",
		}},
	}
	for _, c := range b.in.Plan.Cautions {
		var signs []string
		for _, s := range c.Signs {
			signs = append(signs, strings.TrimSpace(s.Code+" "+s.Meaning))
		}
		n := Note{Sort: "caution", Title: c.Title, Lines: []string{c.Text}}
		if len(signs) > 0 {
			n.Code = "ISO 7010: " + strings.Join(signs, ", ")
		}
		if len(c.Steps) > 0 {
			n.Lines = append(n.Lines, capital(pick(len(c.Steps) == 1, "step ", "steps "))+stepNumbers(c.Steps)+".")
		}
		out = append(out, n)
	}
	s := b.r.Job.Safety
	var facts []Fact
	if s != nil {
		if len(s.PPE) > 0 {
			list := make([]string, len(s.PPE))
			for i, p := range s.PPE {
				list[i] = words(p)
			}
			facts = append(facts, Fact{"Protective equipment", strings.Join(list, ", ")})
		}
		if s.DustControl != "" {
			facts = append(facts, Fact{"Dust control", words(s.DustControl)})
		}
		facts = append(facts, Fact{"Isocyanate training", yesNo(s.IsocyanateTraining)}, Fact{"Plan for switching off and proving dead", yesNo(s.IsolationPlan)})
	}
	if len(facts) > 0 {
		out = append(out, Heading{Text: "What the job plans for"}, Facts{facts})
	}
	return append(out, Heading{Text: "Before work begins"}, Table{Columns: []Column{{Head: "Check", MM: 138}, {Head: "Done", MM: 40}}, Rows: []Row{
		{Cells: []Cell{text("Everybody on site has read these cautions."), {Boxes: []string{"yes"}}}},
		{Cells: []Cell{text("First aid, running water and a way out are known to everybody."), {Boxes: []string{"yes"}}}},
		{Cells: []Cell{text("It is known where electricity and water are switched off."), {Boxes: []string{"yes"}}}},
	}})
}

func pick(cond bool, a, b string) string {
	if cond {
		return a
	}
	return b
}

// yesNo writes a fact that the job may leave open.
func yesNo(p *bool) string {
	if p == nil {
		return "the job does not say"
	}
	return pick(*p, "yes", "no")
}

func (b *builder) findings() []Block {
	var out []Block
	if b.critical.open > 0 {
		out = append(out, Note{Sort: "warning", Title: "Critical findings are open", Lines: []string{
			capital(says(b.critical.open, b.critical.unsure)) + ". A person can be hurt.",
			"Do not begin what they concern before each is put right or conceded in writing by the person who may do so."}})
	}
	for _, f := range b.r.Faults {
		out = append(out, Note{Sort: pick(f.Severity == rulebook.Critical, "warning", "plain"), Title: capital(f.Severity.String()) + ": a leave is at fault", Lines: []string{f.Text}})
	}
	if len(b.entries) == 0 {
		out = append(out, Paragraph{Text: "There is no finding: nobody has to deal with anything."})
	} else {
		out = append(out, Paragraph{Text: "The gravest come first. The numbers are those on the setting-out sheets. Undetermined means that the job does not say enough to tell."})
	}
	for _, e := range gravest(b.entries) {
		// The place in the file as the site knows it: where it lay when it was judged is nobody's business there.
		e.Place = b.File + strings.TrimPrefix(e.Place, b.r.File)
		out = append(out, Finding{e})
	}
	if list := report.Conceded(b.r); len(list) > 0 {
		out = append(out, Heading{Text: "Conceded in writing"}, List{list})
	}
	return out
}

func (b *builder) toolBlocks() []Block {
	out := []Block{Paragraph{Text: "Pack by this list. The job names the tools that are at hand; what it does not name is marked “to get”."}}
	t := Table{Caption: "Tools", Columns: []Column{{Head: "Packed", MM: 16}, {Head: "Tool", MM: 62}, {Head: "Size", MM: 22, Right: true}, {Head: "In the job's list", MM: 34}, {Head: "For steps", MM: 44}}}
	b.tools = [][]string{{"tool", "size", "unit", "in the job's list", "steps", "to fill in"}}
	for _, x := range b.in.Plan.Tools {
		size := "–"
		if x.Size > 0 {
			size = measure.WithUnit(measure.FormatNumber(x.Size), x.Unit)
		}
		name := text(capital(x.Name))
		if !x.Known {
			size = pick(x.Size > 0, size, "?")
			name.Lines = []string{"To fill in: " + b.fieldList(x.Needs)}
		}
		listed, word := text("–"), ""
		if x.Listed != nil {
			word = pick(*x.Listed, "yes", "no")
			listed = text("yes")
			if !*x.Listed {
				listed = bold("no: to get")
			}
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Boxes: []string{""}}, name, text(size), listed, text(stepNumbers(x.Steps))}})
		row := []string{x.Name, "", x.Unit, word, stepNumbers(x.Steps), b.fieldList(x.Needs)}
		if x.Size > 0 {
			row[1] = exact(x.Size)
		}
		b.tools = append(b.tools, row)
	}
	if len(t.Rows) == 0 {
		return append(out, Paragraph{Text: "The plan of the work names no tool."})
	}
	return append(append(out, t), b.missing(func(s *methods.Step) bool { return len(s.Tools) > 0 })...)
}

func exact(v float64) string {
	return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64)
}

func (b *builder) materialBlocks() []Block {
	out := []Block{Paragraph{Text: "Worked out from the figures of the job. “Needed” has the usual waste in it; “buy” is rounded up to what is sold. What is not known is never counted as nothing: such lines say what to fill in, and more is needed than they show."}}
	t := Table{Caption: "Materials", Columns: []Column{{Head: "On site", MM: 14}, {Head: "Material", MM: 62}, {Head: "Net", MM: 19, Right: true}, {Head: "Needed", MM: 20, Right: true}, {Head: "Buy", MM: 19, Right: true}, {Head: "Unit", MM: 20}, {Head: "For steps", MM: 24}}}
	b.materials = [][]string{{"material", "unit", "net", "needed with waste", "buy", "known", "steps", "to fill in"}}
	for _, m := range b.in.Plan.Materials {
		var steps []int
		for _, p := range m.Parts {
			steps = append(steps, p.Step)
		}
		name := text(capital(m.Name))
		net, need, buy := amount(m.Net), amount(m.Exact), amount(m.Buy)
		row := []string{m.Name, m.Unit, exact(m.Net), exact(m.Exact), exact(m.Buy), "yes", stepNumbers(steps), b.fieldList(m.Needs)}
		cells := []Cell{text(net), text(need), bold(buy)}
		if !m.Known {
			row[2], row[3], row[4], row[5] = "", "", "", "no"
			for i, s := range []string{net, need, buy} {
				cells[i] = text("over " + s)
				if s == "0" {
					cells[i] = text("not known")
				}
			}
			name.Lines = []string{"To fill in: " + b.fieldList(m.Needs)}
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{{Boxes: []string{""}}, name, cells[0], cells[1], cells[2], text(unitFor(buy, m.Unit)), text(stepNumbers(steps))}})
		b.materials = append(b.materials, row)
	}
	if len(t.Rows) == 0 {
		return append(out, Paragraph{Text: "The plan of the work names no material."})
	}
	return append(append(out, t), b.missing(func(s *methods.Step) bool { return len(s.Materials) > 0 })...)
}

// missing lists the job fields that steps lack.
func (b *builder) missing(of func(*methods.Step) bool) []Block {
	t := Table{Caption: "To fill in before these can be worked out", Columns: []Column{{Head: "Field of the job", MM: 110}, {Head: "For steps", MM: 68}}}
	for _, m := range b.in.Plan.Missing {
		var steps []int
		for _, s := range m.Steps {
			if of(&b.in.Plan.Steps[s]) {
				steps = append(steps, s)
			}
		}
		if len(steps) > 0 {
			t.Rows = append(t.Rows, Row{Cells: []Cell{text(b.fieldWords(m.Field)), text(stepNumbers(steps))}})
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return []Block{t}
}

func (b *builder) steps() []Block {
	plan := b.in.Plan
	out := []Block{Paragraph{Text: "Steps are numbered in the order of the whole work and stand here by face. Work by the numbers: a face waits until the numbers before are ticked. Heavy frames are hold points: the work stops there until somebody signs."}}
	order := Table{Caption: "Order of the work", Columns: []Column{{Head: "Task", MM: 42}, {Head: "By", MM: 28}, {Head: "Where", MM: 52}, {Head: "Steps", MM: 34}, {Head: "Hands-on time", MM: 22, Right: true}}}
	for _, t := range plan.Tasks {
		time := duration(t.Minutes)
		if !t.Known {
			time = pick(t.Minutes > 0, "over "+time, "not known")
		}
		var where []string
		for _, f := range t.Faces {
			where = append(where, b.faceWords(f))
		}
		order.Rows = append(order.Rows, Row{Cells: []Cell{bold(capital(words(t.Name))), text(b.trade(t.By, t.Licensed)), text(orDash(strings.Join(where, ", "))), text(stepNumbers(t.Steps)), text(time)}})
	}
	if len(order.Rows) > 0 {
		out = append(out, order)
	}
	groups := map[string][]int{}
	var odd []string // faces that the room does not have
	known := b.faces()
	for i := range plan.Steps {
		f := plan.Steps[i].Face
		if f != "" && !slices.Contains(known, f) && !slices.Contains(odd, f) {
			odd = append(odd, f)
		}
		groups[f] = append(groups[f], i)
	}
	for _, f := range append(append(append([]string{}, known...), odd...), "") {
		list := groups[f]
		if len(list) == 0 {
			continue
		}
		title := "The room as a whole, and outside it"
		if f != "" {
			title = capital(b.faceWords(f))
			for k := range b.sheets {
				if b.sheets[k].Face == f { // with the letter of its sheet and its holes
					title, _, _ = strings.Cut(b.sheets[k].Title, ",")
				}
			}
		}
		steps := Steps{}
		for _, i := range list {
			steps.Steps = append(steps.Steps, b.step(i))
		}
		out = append(out, Heading{ID: "face-" + strconv.Itoa(len(out)), Text: title, Mark: true}, steps)
	}
	return out
}

// trade names who does a step.
func (b *builder) trade(id string, licensed bool) string {
	s := words(id)
	for i := range b.in.Plan.Steps {
		if st := &b.in.Plan.Steps[i]; st.By == id && st.ByTitle != "" {
			s = st.ByTitle
			break
		}
	}
	if licensed {
		s += " (licensed)"
	}
	return capital(s)
}

func (b *builder) step(i int) StepEntry {
	plan := b.in.Plan
	s := &plan.Steps[i]
	e := StepEntry{Number: i + 1, ID: s.ID, Text: s.Text}
	who := b.trade(s.By, s.Licensed)
	switch {
	case s.MinutesKnown && s.Minutes > 0:
		who += ", " + duration(s.Minutes)
	case s.Minutes > 0:
		who += ", over " + duration(s.Minutes)
	}
	if s.StandsH > 0 {
		who += ", then stands " + pick(s.StandsKnown, "", "over ") + duration(s.StandsH*60)
	}
	e.Meta = append(e.Meta, Fact{capital(words(s.Task)), who + pick(s.Subject != "" && s.Kind != "face", ", "+b.subjectWords(s.Kind, s.Subject), "")})
	var tools []string
	for _, t := range s.Tools {
		x := plan.Tools[t]
		n := x.Name
		if x.Size > 0 {
			n += " " + measure.WithUnit(measure.FormatNumber(x.Size), x.Unit)
		}
		tools = append(tools, n)
	}
	if len(tools) > 0 {
		e.Meta = append(e.Meta, Fact{"Tools", strings.Join(tools, ", ")})
	}
	var materials []string
	for _, u := range s.Materials {
		m := plan.Materials[u.Material]
		n := m.Name
		if u.Known {
			n += " (" + measure.WithUnit(amount(u.Net), unitFor(amount(u.Net), m.Unit)) + ")"
		} else {
			n += " (how much is not known)"
		}
		materials = append(materials, n)
	}
	if len(materials) > 0 {
		e.Meta = append(e.Meta, Fact{"Materials", strings.Join(materials, ", ")})
	}
	if s.Unsure {
		e.Meta = append(e.Meta, Fact{"Not sure", "the job does not say enough to tell whether this step is needed"})
	}
	if len(s.Needs) > 0 {
		e.Meta = append(e.Meta, Fact{"To fill in", b.fieldList(s.Needs)})
	}
	if s.Record != nil {
		e.Meta = append(e.Meta, Fact{"Record", orDash(strings.TrimSuffix(s.Record.What, ".")) + pick(len(s.Record.Taken) > 0, " (taken)", " (to be taken)")})
	}
	for _, c := range s.Changes {
		if c.MethodAmendment != nil {
			e.Meta = append(e.Meta, Fact{"Changed by " + c.Rulebook, c.Reason})
		}
	}
	for _, id := range s.Cautions {
		k := slices.IndexFunc(plan.Cautions, func(c methods.Caution) bool { return c.ID == id })
		if k < 0 {
			e.Cautions = append(e.Cautions, words(id))
			continue
		}
		c := plan.Cautions[k].Title
		var codes []string
		for _, sign := range plan.Cautions[k].Signs {
			codes = append(codes, sign.Code)
		}
		if len(codes) > 0 {
			c += " (" + strings.Join(codes, ", ") + ")"
		}
		e.Cautions = append(e.Cautions, c)
	}
	if p := b.pointOf(i); p != nil {
		e.Point = &PointEntry{Mark: b.marks[p], Sort: strings.ToUpper(p.Sort) + " POINT", Means: means(p.Sort), Check: p.Check, Hold: p.Sort == "hold"}
		if p.Sort == "review" {
			e.Point.Sort = "REVIEW"
		}
		if p.ReleasedBy != "" {
			e.Point.Released = pick(p.Sort == "hold", "Released by: ", "Looked at by: ") + p.ReleasedBy
		}
	}
	return e
}

// means says what a sort of inspection means for the work.
//
// Source: trade usage as in ISO 10005 quality plans (as reported by others).
func means(sort string) string {
	switch sort {
	case "hold":
		return "stop. Do not go on without a written release."
	case "witness":
		return "call the person named; the work may go on if nobody comes."
	}
	return "papers are looked at."
}

func (b *builder) inspections() []Block {
	out := []Block{Paragraph{Text: "H is a hold point: the work stops until the person named signs. W is a witness point: that person is called, and the work may go on if nobody comes. R is a review of papers."}}
	t := Table{Caption: "Inspections and tests", Columns: []Column{{Head: "Point", MM: 11}, {Head: "When and where", MM: 32}, {Head: "What is checked, against what", MM: 59}, {Head: "By", MM: 20}, {Head: "Reading", MM: 27}, {Head: "Release", MM: 29}}}
	for i := range b.in.Plan.Points {
		p := &b.in.Plan.Points[i]
		s := &b.in.Plan.Steps[p.Step]
		where := text(capital(words(p.Task)))
		where.Lines = []string{"after step " + strconv.Itoa(p.Step+1), b.subjectWords(s.Kind, p.Subject)}
		if p.Face != "" && p.Face != p.Subject {
			where.Lines = append(where.Lines, b.faceWords(p.Face))
		}
		if s := b.when(p); s != "" {
			where.Lines = append(where.Lines, "planned "+s)
		}
		check := text(p.Check)
		check.Lines = b.against(s)
		if s.Record != nil {
			check.Lines = append(check.Lines, "Record: "+strings.TrimSuffix(s.Record.What, ".")+pick(len(s.Record.Taken) > 0, " (taken)", ""))
		}
		if len(p.Needs) > 0 {
			check.Lines = append(check.Lines, "To fill in: "+b.fieldList(p.Needs))
		}
		release := []string{"Signed", "Date"}
		if p.Sort == "hold" {
			release = []string{"Name", "Signed", "Date, time"}
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{bold(b.marks[p]), where, check, text(capital(p.ReleasedBy)), {Write: toRead(s.Record)}, {Write: release}}})
	}
	if len(t.Rows) == 0 {
		out = append(out, Paragraph{Text: "The plan of the work names no inspection."})
	} else {
		out = append(out, t)
	}
	due := Table{Caption: "Further records to take", Columns: []Column{{Head: "Record", MM: 72}, {Head: "At step", MM: 18}, {Head: "Of", MM: 46}, {Head: "State", MM: 42}}}
	for i := range b.in.Plan.Records {
		x := &b.in.Plan.Records[i]
		if b.pointOf(x.Step) != nil && b.in.Plan.Steps[x.Step].Record != nil {
			continue // above, with its inspection
		}
		of := x.Item
		if of == "" && x.Face != "" {
			of = b.faceWords(x.Face)
		}
		state := Cell{Boxes: []string{"taken"}}
		if len(x.Taken) > 0 {
			state = text("in the job: " + b.taken(x.Taken))
		}
		due.Rows = append(due.Rows, Row{Cells: []Cell{text(capital(orDash(strings.TrimSuffix(x.What, ".")))), text(strconv.Itoa(x.Step + 1)), text(orDash(of)), state}})
	}
	if len(due.Rows) > 0 {
		out = append(out, due)
	}
	return out
}

// toRead are the words for what a record asks to be read.
func toRead(x *methods.RecordDue) []string {
	if x != nil {
		switch x.Record {
		case "cable_reading":
			return []string{"Cable Ω", "Insul. MΩ", "At V DC"}
		case "flood_test":
			return []string{"Depth mm", "Fall mm", "Pan mm"}
		case "film_thickness":
			return []string{"mm", "mm", "Least mm"}
		case "load_test":
			return []string{"Mass kg", "Held min"}
		}
	}
	return []string{"Reading"}
}

// taken says when records were taken.
func (b *builder) taken(list []int) string {
	var out []string
	for _, i := range list {
		if i >= 0 && i < len(b.r.Job.Records) {
			out = append(out, orDash(day(b.r.Job.Records[i].At)))
		}
	}
	return strings.Join(out, ", ")
}

// against names the rules that judge the records of a step: what is read is held against them.
func (b *builder) against(s *methods.Step) (out []string) {
	if s.Record == nil {
		return nil
	}
	for i := range b.r.Verdicts {
		v := &b.r.Verdicts[i]
		if v.Subject.Kind != s.Kind || s.Subject != "" && v.Subject.ID != s.Subject || v.Rule.Def == nil || !slices.ContainsFunc(v.Rule.Def.Needs, func(f string) bool {
			return f == "/records" && s.Record.Record == "cable_reading" || f == "/records/"+s.Record.Record || strings.HasPrefix(f, "/records/"+s.Record.Record+"/")
		}) {
			continue
		}
		if line := "Limit: " + report.AllowedBy(b.r, v) + " – " + v.Rule.Def.Meaning + " (" + v.Rule.ID + ")"; !slices.Contains(out, line) && v.Rule.Def.Type == measure.Number {
			out = append(out, line)
		}
	}
	return out
}

func (b *builder) instructions() []Block {
	out := []Block{Paragraph{Text: "The makers' instructions have to be on site while the work is done. They come before this pack where they differ."}}
	t := Table{Caption: "Makers' instructions", Columns: []Column{{Head: "For", MM: 48}, {Head: "What", MM: 62}, {Head: "The job says", MM: 34}, {Head: "On site", MM: 34}}}
	absent := 0
	row := func(of, what string, on *bool, needs []string) {
		says := text("on site")
		if on == nil || !*on {
			absent++
			says = bold(pick(on == nil, "NOT SAID", "NOT ON SITE"))
		}
		x := text(what)
		if len(needs) > 0 {
			x.Lines = []string{"To fill in: " + b.fieldList(needs)}
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{text(of), x, says, {Boxes: []string{"yes", "no"}}}})
	}
	for _, x := range b.in.Plan.Instructions {
		of := capital(b.subjectWords(x.Kind, x.Subject))
		if x.Product != "" {
			of += ", " + x.Product
		}
		row(of, x.What, x.OnSite, x.Needs)
	}
	if len(t.Rows) == 0 {
		return append(out, Paragraph{Text: "The plan of the work names no maker's instruction."})
	}
	if absent > 0 {
		out = append(out, Note{Sort: "caution", Title: capital(count(absent, "instruction is", "instructions are")) + " not on site, or the job does not say so", Lines: []string{"Get them before the work that they are for."}})
	}
	return append(out, t)
}

func (b *builder) item(id string) *jobfile.Item {
	for i := range b.r.Job.Items {
		if b.r.Job.Items[i].ID == id {
			return &b.r.Job.Items[i]
		}
	}
	return nil
}

// day is the date of a time of the job format, which begins with it.
func day(at string) string {
	if len(at) > 10 {
		return at[:10]
	}
	return at
}

// moment is a time of the job format for people: "2026-02-27 11:00".
func moment(at string) string {
	if len(at) < 16 {
		return at
	}
	return at[:10] + " " + at[11:16]
}

// sortedBy returns indices in an order.
func sortedBy(n int, key func(int) string) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	slices.SortStableFunc(out, func(a, b int) int { return cmp.Compare(key(a), key(b)) })
	return out
}
