package draw

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// Style says how a sheet is written.
type Style struct {
	// Bare leaves out the schedule, the list of findings, the notes and the legend, for a page that has its own.
	Bare bool
	// Plain draws the shapes alone, without title and scale bar too, for a drawing that is not of a room.
	Plain bool
	// Inline leaves out the style sheet, for a page that has one for all drawings; see CSS.
	Inline bool
	// Dark takes the colours for a dark ground.
	Dark bool
}

// SVG writes a sheet as one SVG document, to scale when printed: its width and height are those of the paper, its user unit is 1 mm of
// the real thing. It holds no script, no link and no reference to anything outside itself.
//
// What a page may style, all under the class dr-sheet of the svg element:
//
//	dr-panel dr-joint dr-opening dr-groove dr-cable dr-insert dr-zone dr-dimension dr-finding dr-text dr-bench dr-fixture dr-title
//	                      one group for each stretch of shapes of a layer
//	f-none f-paper f-tint f-full
//	                      how a shape is filled
//	outline guessed ground wall room (panel); hole fibre collar no-size doorway through above centre (opening); heating strip arrow
//	start end (cable); zone-1, zone-2 ... edge (zone); witness leader origin (dimension); badge leader end with
//	critical major minor observation (finding); box sensor leaf swing (fixture); outline (bench); mark wall (text); head strong rule bar (title)
//	                      variants of a layer
//
// data-ref holds the id of an item, hole, bench, wall or opening; data-finding the number of a finding.
func SVG(out io.Writer, sheet *Sheet, style Style) error {
	shapes, b := Furnish(sheet, style)
	w := bufio.NewWriter(out)
	k := sheet.Scale
	id := safeID(sheet.ID)
	fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" id="%s" class="dr-sheet" role="img" aria-labelledby="%s-title" width="%smm" height="%smm" viewBox="0 0 %s %s" fill="none" stroke-linecap="round" stroke-linejoin="round">`+"\n",
		id, id, num((b.MaxX-b.MinX)/k), num((b.MaxY-b.MinY)/k), num(b.MaxX-b.MinX), num(b.MaxY-b.MinY))
	fmt.Fprintf(w, "<title id=\"%s-title\">%s</title>\n", id, escape(sheet.Title))
	if !style.Inline {
		fmt.Fprintf(w, "<style>\n%s</style>\n", CSS(style.Dark))
		fmt.Fprintf(w, "<rect class=\"paper\" width=\"%s\" height=\"%s\"/>\n", num(b.MaxX-b.MinX), num(b.MaxY-b.MinY))
	}
	pen := pen{w, b, k}
	layer := Layer("")
	for i := range shapes {
		s := &shapes[i]
		if s.Layer != layer {
			if layer != "" {
				w.WriteString("</g>\n")
			}
			layer = s.Layer
			fmt.Fprintf(w, "<g class=\"dr-%s\">\n", layer)
		}
		pen.shape(s)
	}
	if layer != "" {
		w.WriteString("</g>\n")
	}
	w.WriteString("</svg>\n")
	return w.Flush()
}

// pen writes shapes.
type pen struct {
	w     *bufio.Writer
	b     Box
	scale float64
}

// num writes a number of user units to 0.01 mm.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 2, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

// escape makes text safe in an element or a quoted attribute.
func escape(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;", "'", "&#39;").Replace(clean(s, 400))
}

func (p *pen) xy(q Point) (x, y string) { return num(q.X - p.b.MinX), num(p.b.MaxY - q.Y) }

func (p *pen) shape(s *Shape) {
	if len(s.Points) == 0 {
		return
	}
	element, rest := "", ""
	x, y := p.xy(s.Points[0])
	switch s.Kind {
	case Text:
		x, y := p.xy(s.Baseline(p.scale))
		element, rest = "text", fmt.Sprintf(` x="%s" y="%s" font-size="%s"`, x, y, num(s.Size*p.scale))
		if s.Anchor != Start {
			rest += ` text-anchor="` + [...]string{"", "middle", "end"}[s.Anchor] + `"`
		}
		if s.Turn != 0 {
			rest += fmt.Sprintf(` transform="rotate(%s %s %s)"`, num(-s.Turn), x, y)
		}
	case Circle:
		element, rest = "circle", fmt.Sprintf(` cx="%s" cy="%s" r="%s"`, x, y, num(s.Radius))
	case Hatch:
		var d strings.Builder
		for _, l := range s.HatchLines(p.scale) {
			x1, y1 := p.xy(l[0])
			x2, y2 := p.xy(l[1])
			fmt.Fprintf(&d, "M%s %sL%s %s", x1, y1, x2, y2)
		}
		element, rest = "path", ` d="`+d.String()+`"`
	default:
		var d strings.Builder
		for i, q := range s.Points {
			x, y := p.xy(q)
			d.WriteString([2]string{"L", "M"}[btoi(i == 0)] + x + " " + y)
		}
		if s.Kind == Polygon {
			d.WriteString("Z")
		}
		element, rest = "path", ` d="`+d.String()+`"`
	}
	class := strings.TrimSpace(s.Class)
	if s.Kind == Text {
		if s.Strong {
			class = strings.TrimSpace(class + " strong")
		}
	} else {
		fill := [...]string{"", "f-paper", "f-tint", "f-full"}[s.Fill]
		class = strings.TrimSpace(fill + " " + class)
		switch {
		case s.ToScale:
			rest += fmt.Sprintf(` stroke-width="%s"`, num(s.Width))
			if s.Kind == Polygon {
				rest += ` stroke-linejoin="miter"`
			}
		case s.Weight == NoLine:
			rest += ` stroke="none"`
			class = strings.TrimSpace(class + " no-line")
		default:
			rest += fmt.Sprintf(` stroke-width="%s"`, num(s.Weight.MM()*p.scale))
		}
		if pattern := s.Dash.Pattern(); pattern != nil {
			parts := make([]string, len(pattern))
			for i, v := range pattern {
				parts[i] = num(v * p.scale)
			}
			rest += ` stroke-dasharray="` + strings.Join(parts, " ") + `"`
		}
	}
	fmt.Fprintf(p.w, "<%s", element)
	if class != "" {
		fmt.Fprintf(p.w, ` class="%s"`, escape(class))
	}
	p.w.WriteString(rest)
	if s.Ref != "" {
		fmt.Fprintf(p.w, ` data-ref="%s"`, escape(s.Ref))
	}
	if s.Finding > 0 {
		fmt.Fprintf(p.w, ` data-finding="%d"`, s.Finding)
	}
	inside := ""
	if s.Kind == Text {
		inside = escape(s.Text)
	}
	if s.Title != "" {
		inside = "<title>" + escape(s.Title) + "</title>" + inside
	}
	if inside == "" {
		p.w.WriteString("/>\n")
		return
	}
	fmt.Fprintf(p.w, ">%s</%s>\n", inside, element)
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// CSS is the style sheet of the drawings for a light or a dark ground. Colours are those of Okabe and Ito; lines, hatches and forms say the same
// without them. Grounds and tints are greys, or those colours made lighter or darker.
func CSS(dark bool) string {
	c := map[string]string{"paper": "#ffffff", "ink": "#000000", "soft": "#5a5a5a", "ground": "#f4f2ee", "tint": "#e6e6e6", "groove": "#cfe6f5", "insert": "#f3d9e8", "heat": "#d55e00", "strip": "#0072b2", "zone": "#009e73", "purple": "#cc79a7",
		"critical": "#d55e00", "major": "#e69f00", "minor": "#0072b2", "onMajor": "#000000", "onCritical": "#000000"}
	if dark {
		c = map[string]string{"paper": "#15181b", "ink": "#f2f2f2", "soft": "#b4b4b4", "ground": "#20252a", "tint": "#32383e", "groove": "#1f4a66", "insert": "#5a2f4a", "heat": "#d55e00", "strip": "#56b4e9", "zone": "#009e73", "purple": "#cc79a7",
			"critical": "#d55e00", "major": "#e69f00", "minor": "#56b4e9", "onMajor": "#000000", "onCritical": "#000000"}
		c["onMinor"] = "#000000"
	} else {
		c["onMinor"] = "#ffffff"
	}
	var b strings.Builder
	for _, rule := range [...]string{
		".paper{fill:$paper}",
		"text{font-family:\"Liberation Sans\",Helvetica,sans-serif;fill:$ink;stroke:$paper;stroke-width:.24em;paint-order:stroke}",
		".strong{font-weight:bold}",
		".f-paper{fill:$paper}",
		".f-full{fill:$ink}",
		".f-tint{fill:$tint}",
		"path,circle{stroke:$ink}",
		".no-line{stroke:none}",
		".dr-panel .ground{fill:$ground}",
		".dr-panel .wall{stroke:$tint}",
		".dr-joint path{stroke:$soft}",
		".dr-opening .doorway,.dr-opening .centre,.dr-opening .collar{stroke:$soft}",
		".dr-opening .f-paper.doorway.no-line{stroke:none}",
		".dr-insert .f-tint{fill:$insert}",
		".dr-insert path,.dr-insert circle{stroke:$purple}",
		".dr-groove path{stroke:$groove}",
		".dr-cable .heating{stroke:$heat}",
		".dr-cable .strip{stroke:$strip}",
		".dr-cable .f-full.heating{fill:$heat;stroke:none}",
		".dr-cable .f-full.strip{fill:$strip;stroke:none}",
		".dr-cable text.heating{fill:$ink;stroke:$paper}",
		".dr-cable text.strip{fill:$ink;stroke:$paper}",
		".dr-zone path{stroke:$zone}",
		".dr-zone text{fill:$ink}",
		".dr-dimension path{stroke:$soft}",
		".dr-dimension .witness{stroke:$soft;opacity:.55}",
		".dr-dimension .origin{fill:$ink;stroke:$ink}",
		".dr-bench path{stroke:$soft}",
		".dr-bench text{fill:$soft}",
		".dr-finding .critical{stroke:$critical}",
		".dr-finding .major{stroke:$major}",
		".dr-finding .minor{stroke:$minor}",
		".dr-finding .f-full.critical{fill:$critical}",
		".dr-finding .f-full.major{fill:$major}",
		".dr-finding .f-full.minor{fill:$minor}",
		".dr-finding .f-full.observation{fill:$ink}",
		".dr-finding .end{stroke:none}",
		".dr-finding text{stroke:none}",
		".dr-finding text.critical{fill:$onCritical;stroke:none}",
		".dr-finding text.major{fill:$onMajor;stroke:none}",
		".dr-finding text.minor{fill:$onMinor;stroke:none}",
		".dr-finding text.observation{fill:$ink;stroke:none}",
		".dr-title text{stroke:none}",
		".dr-title .rule{stroke:$soft}",
	} {
		selectors, body, _ := strings.Cut(rule, "{")
		for i, s := range strings.Split(selectors, ",") {
			if i > 0 {
				b.WriteString(",")
			}
			b.WriteString(".dr-sheet " + s)
		}
		for _, name := range [...]string{"onMajor", "onMinor", "onCritical", "paper", "ink", "soft", "ground", "groove", "tint", "insert", "heat", "strip", "zone", "purple", "critical", "major", "minor"} {
			body = strings.ReplaceAll(body, "$"+name, c[name])
		}
		b.WriteString("{" + body + "\n")
	}
	return b.String()
}

// Furnish adds to a drawing what stands round it: title and scale bar, and unless the style is bare the hole schedule, the findings, the notes
// and a legend. A plain style adds nothing. It returns all shapes and what they cover.
func Furnish(sheet *Sheet, style Style) ([]Shape, Box) {
	if style.Plain {
		return sheet.Shapes, sheet.Bounds
	}
	k := sheet.Scale
	f := &furniture{em: textSize * k, scale: k, shapes: append([]Shape(nil), sheet.Shapes...), b: sheet.Bounds}
	em := f.em
	left := f.b.MinX + 0.5*em
	// The title and the scale bar stand above.
	top := f.b.MaxY
	f.text(Point{X: left, Y: top + 4.4*em}, sheet.Title, titleSize, Start, true, "head")
	how := "Millimetres. 1:" + num(k) + " when printed at full size."
	if sheet.Face != "" {
		how = "Millimetres, running from the arrow at 0. 1:" + num(k) + " when printed at full size."
	}
	f.text(Point{X: left, Y: top + 2.2*em}, how, textSize, Start, false, "")
	f.bar(Point{X: left, Y: top + 0.7*em})
	f.b.MaxY = max(f.b.MaxY, top+6*em)
	f.width = max(f.b.MaxX-f.b.MinX, 150*k) - em
	f.b.MaxX = max(f.b.MaxX, f.b.MinX+f.width+em)
	f.y = f.b.MinY - em
	if !style.Bare {
		f.left = left
		f.legend(sheet)
		f.schedule(sheet)
		f.findings(sheet)
		f.notes(sheet)
	}
	f.b.MinY = min(f.b.MinY, f.y)
	for i := range f.shapes {
		f.b = f.b.add(f.shapes[i].Box(k).grow(0.3 * em))
	}
	return f.shapes, f.b
}

// furniture is what stands round a drawing, written from y downwards.
type furniture struct {
	em, scale      float64
	shapes         []Shape
	b              Box
	left, y, width float64
}

func (f *furniture) text(p Point, s string, size float64, a Anchor, strong bool, class string) {
	if s != "" {
		f.shapes = append(f.shapes, Shape{Layer: TitleLayer, Kind: Text, Points: []Point{p}, Text: s, Size: size, Anchor: a, Strong: strong, Class: class})
	}
}

// bar is a scale bar of 500 mm in five parts.
func (f *furniture) bar(p Point) {
	h := 0.35 * f.em
	for i := range 5 {
		x := p.X + float64(i)*100
		s := Shape{Layer: TitleLayer, Kind: Polygon, Class: "bar", Points: []Point{{X: x, Y: p.Y}, {X: x + 100, Y: p.Y}, {X: x + 100, Y: p.Y + h}, {X: x, Y: p.Y + h}}, Fill: Paper}
		if i%2 == 0 {
			s.Fill = Full
		}
		f.shapes = append(f.shapes, s)
	}
	f.text(Point{X: p.X + 500 + 0.4*f.em, Y: p.Y + h/2}, "500 mm", textSize, Start, false, "")
}

func (f *furniture) head(s string) {
	f.y -= 1.0 * f.em
	f.text(Point{X: f.left, Y: f.y - 0.5*f.em}, s, textSize, Start, true, "head")
	f.y -= 1.5 * f.em
}

// schedule writes the holes as a table, in as many columns as there is room for.
func (f *furniture) schedule(sheet *Sheet) {
	if len(sheet.Holes) == 0 {
		return
	}
	heads := [7]string{"Mark", "Hole", "x", "y", "Ø", "Depth", "Tool"}
	cells := make([][7]string, len(sheet.Holes))
	var wide [7]float64
	measureCell := func(i int, s string, strong bool) {
		wide[i] = max(wide[i], TextWidth(s, textSize, strong)*f.scale+0.9*f.em)
	}
	for i, h := range heads {
		measureCell(i, h, true)
	}
	for i := range sheet.Holes {
		h := &sheet.Holes[i]
		t := h.Texts()
		cells[i] = [7]string{h.Mark, h.What, t[0], t[1], t[2], t[3], t[4]}
		for c, s := range cells[i] {
			measureCell(c, s, c == 0)
		}
	}
	total := 0.0
	for _, w := range wide {
		total += w
	}
	columns := 1
	if len(cells) > 12 {
		columns = max(1, int((f.width+f.em)/(total+f.em)))
	}
	rows := (len(cells) + columns - 1) / columns
	f.head("Hole schedule (mm)")
	top := f.y
	line := 1.35 * f.em
	for c := range columns {
		x0 := f.left + float64(c)*(total+f.em)
		put := func(y float64, row [7]string, head bool) {
			x := x0
			for i, s := range row {
				if i >= 2 && i <= 4 { // numbers stand to the right
					f.text(Point{X: x + wide[i] - 0.9*f.em, Y: y}, s, textSize, End, head, "")
				} else {
					f.text(Point{X: x, Y: y}, s, textSize, Start, head || i == 0, "")
				}
				x += wide[i]
			}
			f.shapes = append(f.shapes, Shape{Layer: TitleLayer, Kind: Line, Points: []Point{{X: x0, Y: y - 0.65*f.em}, {X: x0 + total - 0.5*f.em, Y: y - 0.65*f.em}}, Class: "rule"})
		}
		if c*rows >= len(cells) {
			break
		}
		put(top-0.5*f.em, heads, true)
		for i := c * rows; i < min(len(cells), (c+1)*rows); i++ {
			put(top-0.5*f.em-float64(i-c*rows+1)*line, cells[i], false)
		}
	}
	f.y = top - float64(rows+1)*line
}

// wrap writes a text in lines of the width at hand, at an indent.
func (f *furniture) wrap(indent float64, s string) {
	line := ""
	flush := func() {
		f.text(Point{X: f.left + indent, Y: f.y - 0.5*f.em}, line, textSize, Start, false, "")
		f.y -= 1.35 * f.em
	}
	for _, word := range strings.Fields(s) {
		longer := strings.TrimSpace(line + " " + word)
		if line != "" && TextWidth(longer, textSize, false)*f.scale > f.width-indent {
			flush()
			longer = word
		}
		line = longer
	}
	if line != "" {
		flush()
	}
}

func (f *furniture) findings(sheet *Sheet) {
	if len(sheet.Marks) == 0 {
		return
	}
	placed := false
	for _, m := range sheet.Marks {
		placed = placed || m.Placed
	}
	if placed {
		f.head("Findings on this sheet")
	} else {
		f.head("Findings that have no place on a sheet")
	}
	last := 0
	for _, m := range sheet.Marks {
		if m.Number == last {
			continue // one finding with several places
		}
		last = m.Number
		f.text(Point{X: f.left + 1.8*f.em, Y: f.y - 0.5*f.em}, strconv.Itoa(m.Number), textSize, End, true, "")
		f.wrap(2.6*f.em, m.Severity+": "+m.Text)
	}
}

func (f *furniture) notes(sheet *Sheet) {
	if len(sheet.Notes) == 0 {
		return
	}
	f.head("Notes")
	for _, n := range sheet.Notes {
		f.wrap(0, n)
	}
}

// legend explains the signs that the sheet uses.
func (f *furniture) legend(sheet *Sheet) {
	has := map[string]bool{}
	for i := range sheet.Shapes {
		s := &sheet.Shapes[i]
		if s.Kind == Text {
			continue
		}
		for _, c := range append(strings.Fields(s.Class), string(s.Layer)) {
			has[string(s.Layer)+" "+c] = true
		}
	}
	em := f.em
	x, y := f.left, f.y-0.7*em
	first := true
	entry := func(key, words string, w float64, sign func(Point)) {
		if !has[key] {
			return
		}
		need := w + 0.5*em + TextWidth(words, textSize, false)*f.scale + 1.4*em
		if !first && x+need > f.left+f.width {
			x, y = f.left, y-1.9*em
		}
		first = false
		sign(Point{X: x, Y: y})
		f.text(Point{X: x + w + 0.5*em, Y: y}, words, textSize, Start, false, "")
		x += need
	}
	shape := func(s Shape) { f.shapes = append(f.shapes, s) }
	line := func(l Layer, class string, d Dash, w Weight) func(Point) {
		return func(p Point) {
			shape(Shape{Layer: l, Kind: Line, Points: []Point{p, {X: p.X + 2*em, Y: p.Y}}, Dash: d, Weight: w, Class: class})
		}
	}
	circle := func(l Layer, class string, d Dash, fill Fill, r float64) func(Point) {
		return func(p Point) {
			shape(Shape{Layer: l, Kind: Circle, Points: []Point{{X: p.X + 0.6*em, Y: p.Y}}, Radius: r * em, Dash: d, Weight: Normal, Fill: fill, Class: class})
		}
	}
	entry("opening hole", "opening", 1.2*em, circle(OpeningLayer, "hole", Solid, Paper, 0.5))
	entry("opening above", "in the ceiling", 1.2*em, circle(OpeningLayer, "above", Dashed, NoFill, 0.5))
	entry("opening collar", "flange of collar or drain", 1.2*em, circle(OpeningLayer, "collar", Dashed, NoFill, 0.6))
	entry("opening fibre", "fibre end", 1.2*em, circle(OpeningLayer, "fibre", Solid, Paper, 0.2))
	entry("insert insert", "hole for an insert", 1.2*em, circle(InsertLayer, "insert", Solid, Tint, 0.4))
	entry("joint joint", "joint between boards", 2*em, line(JointLayer, "", DashDot, Thin))
	entry("groove groove", "groove, to scale", 2*em, func(p Point) {
		shape(Shape{Layer: GrooveLayer, Kind: Line, Points: []Point{p, {X: p.X + 2*em, Y: p.Y}}, ToScale: true, Width: 0.6 * em})
	})
	entry("cable heating", "heating cable", 2*em, line(CableLayer, "heating", Solid, Normal))
	entry("cable strip", "LED strip", 2*em, line(CableLayer, "strip", DashDot, Bold))
	entry("fixture sensor", "sensor in its sleeve", 1.2*em, func(p Point) {
		k, c := 0.5*em, Point{X: p.X + 0.6*em, Y: p.Y}
		shape(Shape{Layer: FixtureLayer, Kind: Polygon, Points: []Point{{X: c.X - k, Y: c.Y}, {X: c.X, Y: c.Y - k}, {X: c.X + k, Y: c.Y}, {X: c.X, Y: c.Y + k}}, Fill: Paper, Weight: Normal, Class: "sensor"})
	})
	entry("fixture box", "switch, socket or device", 1.2*em, func(p Point) {
		shape(Shape{Layer: FixtureLayer, Kind: Polygon, Points: []Point{{X: p.X, Y: p.Y - 0.5*em}, {X: p.X + em, Y: p.Y - 0.5*em}, {X: p.X + em, Y: p.Y + 0.5*em}, {X: p.X, Y: p.Y + 0.5*em}}, Fill: Paper, Weight: Normal, Class: "box"})
	})
	entry("zone zone", "electrical zone", 2*em, func(p Point) {
		ring := []Point{{X: p.X, Y: p.Y - 0.5*em}, {X: p.X + 2*em, Y: p.Y - 0.5*em}, {X: p.X + 2*em, Y: p.Y + 0.5*em}, {X: p.X, Y: p.Y + 0.5*em}}
		shape(Shape{Layer: ZoneLayer, Kind: Hatch, Points: ring, HatchDeg: 45, HatchMM: 1.2, Weight: Thin})
		shape(Shape{Layer: ZoneLayer, Kind: Polygon, Points: ring, Weight: Thin, Dash: DashDot})
	})
	entry("bench outline", "bench", 2*em, line(BenchLayer, "", Dashed, Normal))
	for _, severity := range [...]string{"critical", "major", "minor", "observation"} {
		entry("finding "+severity, severity, 2*em, func(p Point) {
			shape(badge(Mark{Severity: severity}, Point{X: p.X + em, Y: p.Y}, 1.9*em, 1.4*em))
			shapeLast := &f.shapes[len(f.shapes)-1]
			shapeLast.Title = ""
		})
	}
	if !first {
		f.y = y - 1.2*em
	}
}
