package workpack

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
)

// handover is what the user of the room keeps: what was built, what was measured, what to do and what to leave.
func (b *builder) handover() []Block {
	job := b.r.Job
	out := []Block{Paragraph{Text: "This part stays with the user of the room. It says what the job file holds; what is not recorded there is to be written in by hand."}}
	out = append(out, b.installed()...)
	out = append(out, b.readings()...)
	out = append(out, b.dates()...)
	out = append(out, Heading{Text: "What the user has to do", Mark: true}, List{b.duties()})
	out = append(out, Heading{Text: "Do not drill", Mark: true}, Note{Sort: "warning", Title: "Do not drill, screw, nail or chisel into walls, floor, ceiling or seats", Lines: b.hidden()})
	if hot := b.hot(); len(hot) > 0 {
		out = append(out, Heading{Text: "Hot surfaces", Mark: true}, Note{Sort: "caution", Lines: hot})
	}
	out = append(out, Heading{Text: "In an emergency", Mark: true}, Note{Sort: "warning", Title: "Switch off, get out, get help", Lines: b.emergency()}, Form{[]string{"Distribution board is at", "Water is shut off at", "Who to call for repairs", "Telephone"}})
	if job.Note != "" {
		out = append(out, Heading{Text: "Note in the job"}, Paragraph{Text: job.Note})
	}
	return append(out, Heading{Text: "Handed over"}, Form{[]string{"Handed over by", "Signature", "Taken over by", "Signature", "Date", "Papers and keys handed over"}})
}

func mm(p *float64) string {
	if p == nil {
		return "?"
	}
	return measure.FormatNumber(*p)
}

// at says where an item is.
func (b *builder) at(it *jobfile.Item) string {
	s := b.faceWords(it.Face)
	if it.Face == "" {
		s = words(it.Place)
	}
	if it.XMM != nil && it.YMM != nil {
		s += ", x " + mm(it.XMM) + ", y " + mm(it.YMM)
	}
	return orDash(s)
}

// figures are the figures of an item that a user or somebody who repairs it asks for.
func figures(it *jobfile.Item) string {
	var out []string
	num := func(word string, p *float64, unit string) {
		if p != nil {
			out = append(out, strings.TrimSpace(word+" "+measure.WithUnit(measure.FormatNumber(*p), unit)))
		}
	}
	word := func(w, s string) {
		if s != "" {
			out = append(out, strings.TrimSpace(w+" "+words(s)))
		}
	}
	word("", it.Role)
	word("", it.Equipment)
	num("", it.PowerKW, "kW")
	num("", it.PowerW, "W")
	num("", it.WattsPerM, "W/m")
	length := it.InstalledLengthM
	if length == nil {
		length = it.SuppliedLengthM
	}
	num("", length, "m")
	num("", it.ResistanceOhm, "Ω on the plate")
	num("Ø", it.DiameterMM, "mm")
	word("", it.Flow)
	num("", it.AirFlowM3H, "m³/h")
	word("", it.Glass)
	num("glass", it.GlassThicknessMM, "mm")
	word("opens", it.Swing)
	num("load", it.LoadKG, "kg")
	word("circuit", it.Circuit)
	word("", it.IPMark)
	num("rated to", it.RatedAmbientC, "°C")
	return strings.Join(out, ", ")
}

func (b *builder) installed() []Block {
	job := b.r.Job
	t := Table{Caption: "What was installed", Columns: []Column{{Head: "Item", MM: 42}, {Head: "Where, mm", MM: 44}, {Head: "Product", MM: 38}, {Head: "Figures", MM: 54}}}
	for i := range job.Items {
		it := &job.Items[i]
		t.Rows = append(t.Rows, Row{Cells: []Cell{text(capital(named(it.Kind, it.ID))), text(b.at(it)), text(orDash(it.Product)), text(orDash(figures(it)))}})
	}
	out := []Block{t}
	c := Table{Caption: "Circuits", Columns: []Column{{Head: "Circuit", MM: 30}, {Head: "Voltage", MM: 34}, {Head: "Protection", MM: 58}, {Head: "Breaker", MM: 28}, {Head: "In the board as", MM: 28}}}
	for i := range job.Circuits {
		x := &job.Circuits[i]
		volts := "?"
		if x.VoltageV != nil {
			volts = measure.FormatNumber(*x.VoltageV) + " V " + strings.ToUpper(x.Current)
		}
		protection := strings.ToUpper(words(x.Protection))
		if x.RcdMA != nil {
			protection += ", RCD " + measure.FormatNumber(*x.RcdMA) + " mA"
		}
		breaker := "–"
		if x.BreakerA != nil {
			breaker = measure.FormatNumber(*x.BreakerA) + " A"
		}
		c.Rows = append(c.Rows, Row{Cells: []Cell{text(x.ID), text(strings.TrimSpace(volts)), text(orDash(protection)), text(breaker), {Write: []string{""}}}})
	}
	if len(c.Rows) > 0 {
		out = append(out, c)
	}
	var layers []Fact
	for i := range job.BuildUp {
		layers = append(layers, Fact{capital(words(job.BuildUp[i].Layer)), orDash(layerFigures(&job.BuildUp[i]))})
	}
	if j := job.Joints; j != nil {
		s := words(j.Grout)
		if j.JointWidthMM != nil {
			s += ", " + mm(j.JointWidthMM) + " mm wide"
		}
		if j.SealantClass != "" {
			s += "; at corners and edges sealant " + j.SealantClass
		}
		layers = append(layers, Fact{"Joints", orDash(strings.TrimPrefix(s, ", "))})
	}
	if len(layers) > 0 {
		out = append(out, Heading{Text: "Layers on the panels, from the panel to the room"}, Facts{layers})
	}
	return out
}

func layerFigures(l *jobfile.Layer) string {
	var out []string
	for _, s := range []string{words(l.Product), words(l.Family), l.Class} {
		if s != "" {
			out = append(out, s)
		}
	}
	if l.LengthMM != nil && l.WidthMM != nil {
		out = append(out, mm(l.LengthMM)+" × "+mm(l.WidthMM)+" mm")
	}
	if l.ThicknessMM != nil {
		out = append(out, mm(l.ThicknessMM)+" mm thick")
	}
	if l.MassGM2 != nil {
		out = append(out, mm(l.MassGM2)+" g/m²")
	}
	if l.Coats != nil {
		out = append(out, count(int(*l.Coats), "coat", "coats"))
	}
	return strings.Join(out, ", ")
}

// readings are the records of the job, and lines for those that are still due.
func (b *builder) readings() []Block {
	job := b.r.Job
	given := func(p *float64, unit string) string {
		if p == nil {
			return "–"
		}
		return measure.WithUnit(measure.FormatNumber(*p), unit)
	}
	t := Table{Caption: "Readings and records", Columns: []Column{{Head: "Record", MM: 48}, {Head: "Reading", MM: 76}, {Head: "When", MM: 30}, {Head: "By", MM: 24}}}
	order := sortedBy(len(job.Records), func(i int) string { return fmt.Sprintf("%02d", slices.Index(recordWords, job.Records[i].Record)) })
	for _, i := range order {
		x := &job.Records[i]
		name, reading, when := words(x.Record), "–", moment(x.At)
		switch x.Record {
		case "cable_reading":
			name = "cable " + x.Item + ", " + map[string]string{"reel": "on the reel", "laid": "laid", "covered": "covered", "handover": "at handover"}[x.When]
			reading = given(x.ResistanceOhm, "Ω") + "; insulation " + given(x.InsulationMOhm, "MΩ")
			if x.TestVoltageV != nil {
				reading += " at " + given(x.TestVoltageV, "V")
			}
		case "flood_test":
			reading = given(x.DepthMM, "mm") + " of water; fell " + given(x.LevelLossMM, "mm") + ", control pan " + given(x.EvaporationMM, "mm")
			if x.Start != "" && x.Finish != "" {
				when = moment(x.Start) + " to " + moment(x.Finish)
			}
		case "film_thickness":
			name = "dry film, " + b.faceWords(x.Face)
			if n := len(x.ReadingsMM); n > 0 {
				sum := 0.0
				for _, v := range x.ReadingsMM {
					sum += v
				}
				reading = fmt.Sprintf("%s; least %s mm, mean %s mm", count(n, "reading", "readings"), measure.FormatNumber(slices.Min(x.ReadingsMM)), measure.FormatNumber(math.Round(sum/float64(n)*100)/100))
			}
		case "load_test":
			name = "load test " + x.Item
			reading = given(x.MassKG, "kg")
			if x.HeldMin != nil {
				reading += " for " + given(x.HeldMin, "min")
			}
		case "signature":
			name = "signed for " + x.For
		case "photo":
			reading = strings.TrimSpace(x.Name + " " + x.Item)
		}
		if x.Note != "" {
			reading += pick(reading == "–", "", " ") + "(" + x.Note + ")"
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{text(capital(name)), text(reading), text(orDash(when)), text(orDash(x.By))}})
	}
	for i := range b.in.Plan.Records {
		x := &b.in.Plan.Records[i]
		if len(x.Taken) > 0 || !slices.Contains(recordWords[:4], x.Record) {
			continue // photographs and signatures are for the site
		}
		t.Rows = append(t.Rows, Row{Room: 8, Cells: []Cell{text(capital(orDash(strings.TrimSuffix(x.What, "."))) + " – to be taken"), {Write: []string{""}}, {Write: []string{""}}, {Write: []string{""}}}})
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return []Block{t}
}

// recordWords are the words of records in the order in which they are shown.
var recordWords = []string{"cable_reading", "flood_test", "film_thickness", "load_test", "signature", "photo"}

func (b *builder) dates() []Block {
	t := Table{Caption: "When it was done", Columns: []Column{{Head: "Task", MM: 50}, {Head: "Begun", MM: 36}, {Head: "Finished", MM: 36}, {Head: "Material", MM: 38}, {Head: "By", MM: 18}}}
	for i := range b.r.Job.Tasks {
		x := &b.r.Job.Tasks[i]
		name := capital(words(x.Task))
		if len(x.Items) > 0 {
			name += ", " + strings.Join(x.Items, ", ")
		}
		row := Row{Cells: []Cell{text(name), {Write: []string{""}}, {Write: []string{""}}, text(orDash(x.Material)), text(orDash(x.By))}}
		if x.Actual != nil {
			if x.Actual.Start != "" {
				row.Cells[1] = text(moment(x.Actual.Start))
			}
			if x.Actual.Finish != "" {
				row.Cells[2] = text(moment(x.Actual.Finish))
			}
		}
		t.Rows = append(t.Rows, row)
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return []Block{t}
}

// of lists the items of a kind.
func (b *builder) of(kind string) (out []*jobfile.Item) {
	for i := range b.r.Job.Items {
		if b.r.Job.Items[i].Kind == kind {
			out = append(out, &b.r.Job.Items[i])
		}
	}
	return out
}

func is(p *bool) bool { return p != nil && *p }

// duties are what the user does to keep the room. Intervals are said only where the job gives them.
func (b *builder) duties() (out []string) {
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	for _, g := range b.of("steam_generator") {
		name, hard := named(g.Kind, g.ID), ""
		if g.WaterHardnessMmolL != nil {
			hard = fmt.Sprintf(" The water has a hardness of %s mmol/l.", measure.FormatNumber(*g.WaterHardnessMmolL))
		}
		switch {
		case is(g.Softener):
			s := "as its maker says; the job gives no interval"
			if g.RegenerationDays != nil {
				s = "every " + count(int(*g.RegenerationDays), "day", "days")
			}
			add("Softener of the %s: keep it filled with salt and look at it regularly. Regeneration: %s.%s", name, s, hard)
		case g.Softener != nil:
			add("The %s has no softener.%s Limescale builds up in it: descale it as its maker says.", name, hard)
		default:
			add("The job does not say whether the %s has a softener. Ask before first use.%s", name, hard)
		}
		add("Descaling and service of the %s: as its maker says; the job gives no interval. Switch it off and let it cool before anybody opens it.", name)
	}
	if len(b.of("ventilation_outlet")) > 0 {
		add("After use leave the ventilation running, or the openings free, until all surfaces are dry. Never cover or close inlet and outlet.")
	} else {
		add("After use open the door until all surfaces are dry.")
	}
	add("After use rinse seats and floor with clean water. Clean with a mild, neutral cleaner and a soft brush. No scouring powder or steel wool; acid and chlorine only where the makers of tiles, joints and metal parts all allow them.")
	if len(b.of("drain")) > 0 {
		add("Keep the drain free of hair and leaves, and its trap filled with water.")
	}
	add("Look at the elastic joints in corners and edges when you clean. Have them renewed when they come loose, crack or turn black: water behind them does damage that nobody sees.")
	for _, d := range b.of("glazed_door") {
		s := "%s: keep the way in front of it free, and never lock or wedge it."
		if d.Swing == "outward" {
			s = "%s opens outward so that nobody can be trapped: keep the way in front of it free, and never lock or wedge it."
		}
		add(s+" Have it looked at when it drags or its edge is chipped; chipped glass may burst.", capital(named(d.Kind, d.ID)))
	}
	for _, x := range b.of("fixing") {
		if x.LoadKG != nil {
			add("%s (%s) carries %s kg and no more. Do not lean or hang on it.", capital(orDash(words(x.Equipment))), x.ID, measure.FormatNumber(*x.LoadKG))
		}
	}
	if len(b.of("heating_cable")) > 0 {
		add("Test the RCD of the heating and of the other mains circuits by its test button as its maker says. When it trips again, leave it off and call a licensed electrician.")
	}
	add("Keep this pack. Give it to whoever works in the room later.")
	return out
}

// extent writes between which places a line lies.
func extent(points [][2]float64) string {
	if len(points) == 0 {
		return ""
	}
	lo, hi := points[0], points[0]
	for _, p := range points {
		for i := range p {
			lo[i], hi[i] = min(lo[i], p[i]), max(hi[i], p[i])
		}
	}
	span := func(i int) string {
		if lo[i] == hi[i] {
			return measure.FormatNumber(lo[i])
		}
		return measure.FormatNumber(lo[i]) + " to " + measure.FormatNumber(hi[i])
	}
	return "x " + span(0) + ", y " + span(1) + " mm"
}

// hidden says what lies behind the finish and where.
func (b *builder) hidden() []string {
	out := []string{"The waterproofing lies right behind the finish on every face, and one hole lets water into the panel. Hang things on the fixings that are there, or by glue that the maker of the finish allows."}
	for _, c := range b.of("heating_cable") {
		s := capital(named(c.Kind, c.ID)) + " lies in " + b.faceWords(c.Face)
		var all [][2]float64
		for _, run := range c.Runs {
			all = append(all, run...)
		}
		if e := extent(all); e != "" {
			s += ", " + e
		}
		s += ". It carries mains voltage."
		if circuit := b.circuit(c.Circuit); circuit == nil || circuit.VoltageV == nil {
			s = strings.TrimSuffix(s, " It carries mains voltage.") + " It is live while the heating is on."
		} else if *circuit.VoltageV <= 50 {
			s = strings.TrimSuffix(s, " It carries mains voltage.") + fmt.Sprintf(" It carries %s V.", measure.FormatNumber(*circuit.VoltageV))
		}
		out = append(out, s)
	}
	for _, c := range b.of("led_strip") {
		s := capital(named(c.Kind, c.ID)) + " lies in " + b.faceWords(c.Face)
		if e := extent(c.Path); e != "" {
			s += ", " + e
		}
		out = append(out, s+".")
	}
	for _, c := range b.of("fibre_lights") {
		s := "Light fibres of " + c.ID + " end in " + b.faceWords(c.Face)
		if e := extent(c.Points); e != "" {
			s += ", " + e
		}
		out = append(out, s+".")
	}
	for _, c := range b.of("steam_outlet") {
		out = append(out, "The steam tube of "+c.ID+" passes through "+b.at(c)+" mm.")
	}
	if len(b.r.Job.Circuits) > 0 {
		out = append(out, "Cables run to every light, sensor and switch. Where each is can be seen on the setting-out sheets of this pack.")
	}
	return out
}

func (b *builder) circuit(id string) *jobfile.Circuit {
	for i := range b.r.Job.Circuits {
		if b.r.Job.Circuits[i].ID == id {
			return &b.r.Job.Circuits[i]
		}
	}
	return nil
}

func (b *builder) hot() (out []string) {
	for _, x := range b.of("steam_outlet") {
		s := capital(named(x.Kind, x.ID)) + ", " + b.at(x) + " mm: steam scalds within arm's reach."
		if is(x.Guarded) {
			s += " Leave its guard in place."
		}
		out = append(out, s)
		if x.Tube != nil && is(x.Tube.Touchable) {
			out = append(out, "Its tube can be touched and is as hot as the steam.")
		}
	}
	for _, x := range b.of("heating_cable") {
		out = append(out, capital(b.faceWords(x.Face))+" is heated. When it feels hotter than warm, switch the heating off and call for repair.")
	}
	for _, x := range b.of("steam_generator") {
		out = append(out, capital(named(x.Kind, x.ID))+" and its tubes stay hot long after they are switched off.")
	}
	return out
}

// emergency says what to do first.
//
// Source: first aid for burns, running cool water for 20 minutes (from memory).
func (b *builder) emergency() []string {
	off := "Switch off at the distribution board."
	var mains []string
	for i := range b.r.Job.Circuits {
		c := &b.r.Job.Circuits[i]
		if c.VoltageV == nil || *c.VoltageV > 50 {
			mains = append(mains, c.ID)
		}
	}
	if len(mains) > 0 {
		off = "Switch off at the distribution board: " + strings.Join(mains, ", ") + "."
	}
	out := []string{off, "Get everybody out and leave the door open. Do not go back into steam that you cannot see through."}
	if len(b.of("steam_outlet"))+len(b.of("steam_generator")) > 0 {
		out = append(out, "Scald: cool it under running cool water for 20 minutes, take off wet clothes that do not stick, and call for help.")
	}
	if len(mains) > 0 {
		out = append(out, "Electric shock: do not touch the person before the current is off. Call for help.")
	}
	return append(out, "Water runs where it should not: shut the water off.", "Do not switch on again before a licensed person has found the cause.")
}
