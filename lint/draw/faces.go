package draw

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
)

// title says what a face is and from where it is seen.
func title(f *measure.Face) (id, text string) {
	switch f.Kind {
	case measure.FloorFace:
		return "face-floor", "Floor, seen from above"
	case measure.CeilingFace:
		return "face-ceiling", "Ceiling, seen from below"
	case measure.SeatFace:
		return "seat-" + f.Bench.ID, "Seat of " + f.Bench.ID + ", seen from above"
	case measure.RiserFace:
		return "riser-" + f.Bench.ID, "Riser of " + f.Bench.ID + ", seen from the room"
	}
	return "face-" + f.ID, "Wall " + f.ID + ", seen from inside"
}

// faceSheet draws one face.
func (d *Drawer) faceSheet(fh *faceHoles, found []marked, zones []ZoneArea) Sheet {
	f := fh.face
	outline := f.Outline(d.ctx)
	known := len(outline) > 0
	if !known {
		outline = d.guess(fh).Polygon()
	}
	id, text := title(f)
	ext := boxOf(outline...)
	s := newSheet(id, fh.letter+"  "+text, f.ID, scaleFor(max(ext.MaxX-ext.MinX, ext.MaxY-ext.MinY)))
	s.Down = f.Kind == measure.FloorFace
	s.Holes = fh.rows
	ring := s.points(outline)
	b := boxOf(ring...)
	s.spots.may = func(o Box) bool {
		// Left of the face and along the edge y = 0 stand the dimensions.
		return o.MinX >= b.MinX && (s.Down && o.MaxY <= b.MaxY || !s.Down && o.MinY >= b.MinY)
	}
	if s.Down {
		s.spots.high = b.MaxY
	} else {
		s.spots.low = b.MinY
	}
	var xs, ys dims

	s.add(Shape{Layer: PanelLayer, Kind: Polygon, Points: ring, Fill: Tint, Weight: NoLine, Class: "ground"})
	s.zones(zones)
	d.joints(s, f, b, &xs)
	d.benches(s, f, &xs, &ys)
	edge := Shape{Layer: PanelLayer, Kind: Polygon, Points: ring, Weight: Bold, Class: "outline"}
	if !known {
		edge.Dash, edge.Class = Dashed, "outline guessed"
		s.Notes = append(s.Notes, "The job does not give the size of this face: its outline is not to scale.")
	}
	s.add(edge)
	s.occupy(append(ring, ring[0]), 2)
	if known {
		for _, p := range outline {
			xs.add(p.X, 0, edgeDim, "")
			ys.add(p.Y, 0, edgeDim, "")
		}
	}
	d.doorways(s, f, &xs, &ys)

	// First everything takes its place, then the names are written round it.
	var names []func()
	for i := range d.job.Items {
		if it := &d.job.Items[i]; it.Face == f.ID {
			switch it.Kind {
			case "heating_cable":
				names = append(names, d.cable(s, it, &xs, &ys))
			case "led_strip":
				names = append(names, d.strip(s, it, &xs, &ys))
			case "heating_sensor", "light_source", "accessory":
				if it.OpeningDiameterMM == nil || it.Kind != "accessory" {
					names = append(names, d.fixture(s, it, &xs, &ys))
				}
			}
		}
	}
	points := 0
	for _, h := range fh.holes {
		if h.Sort == measure.PointHole {
			points++
		}
	}
	// Of a field of fibre ends only the first is named. Where names would cover half of the face none is: the dimensions and the
	// schedule have them.
	const mostPoints, mostNames = 40, 40
	crowded := false
	if solid := len(fh.holes) - points; solid > mostNames {
		size := Shape{Text: fh.letter + "000 Ø000", Strong: true}.size(s.Scale)
		crowded = float64(solid)*size.X*size.Y > (b.MaxX-b.MinX)*(b.MaxY-b.MinY)/2
	}
	if crowded {
		s.Notes = append(s.Notes, "There are too many holes to write a mark beside each: the dimensions and the schedule have them.")
	}
	var first, last string
	for i, h := range fh.holes {
		row := &fh.rows[i]
		if !row.Drawn {
			s.Notes = append(s.Notes, fmt.Sprintf("%s, %s: the job does not say where it is.", row.Mark, row.What))
			continue
		}
		r := d.hole(s, h, row)
		rk := holeDim
		if h.Sort == measure.PointHole {
			rk = pointDim
			if last = row.Mark; first == "" {
				first = row.Mark
			}
		}
		xs.add(*h.X, *h.Y, rk, row.Mark)
		ys.add(*h.Y, *h.X, rk, row.Mark)
		t := row.Mark
		if row.D != nil {
			t += " Ø" + number(row.D)
		}
		if h.Sort == measure.PointHole {
			if t = row.Mark; points > mostPoints && row.Mark != first {
				continue
			}
		}
		if crowded {
			continue
		}
		names = append(names, func() {
			s.name(s.at(*h.X, *h.Y), r, Shape{Layer: TextLayer, Text: t, Class: "mark", Strong: true, Ref: row.Hole})
		})
	}
	if points > mostPoints {
		s.Notes = append(s.Notes, fmt.Sprintf("The %d fibre ends are marked from %s to %s in reading order; only the first is written beside its hole.", points, first, last))
	}
	s.dimensions(&xs, &ys, b)
	for _, name := range names {
		if name != nil {
			name()
		}
	}
	s.findings(found, b)
	s.Notes = append(s.Notes, d.toolNotes(fh)...)
	switch f.Kind {
	case measure.FloorFace, measure.CeilingFace:
		if walls := d.job.Room.Walls; len(walls) > 0 {
			side := "at the lower edge"
			if s.Down {
				side = "at the upper edge"
			}
			s.Notes = append(s.Notes, fmt.Sprintf("x runs along the wall %s, which is %s; y runs from it into the room.", clean(walls[0].ID, 40), side))
		}
	case measure.SeatFace:
		s.Notes = append(s.Notes, "The lower edge is the front of the seat; the wall is above.")
	}
	return s.finish()
}

// guess is the area of a face whose size the job does not give: round all that is on it.
func (d *Drawer) guess(fh *faceHoles) geometry.Rect {
	r := geometry.Rect{Max: Point{X: 1000, Y: 1000}}
	if f := fh.face; f.Width != nil {
		r.Max.X = *f.Width
	} else if f.Height != nil {
		r.Max.Y = *f.Height
	}
	grow := func(x, y float64) { r.Max.X, r.Max.Y = max(r.Max.X, x+100), max(r.Max.Y, y+100) }
	for _, h := range fh.holes {
		if h.Placed() {
			grow(*h.X, *h.Y)
		}
	}
	for i := range d.job.Items {
		it := &d.job.Items[i]
		if it.Face != fh.face.ID {
			continue
		}
		if it.XMM != nil && it.YMM != nil {
			grow(*it.XMM, *it.YMM)
			if it.WidthMM != nil && it.HeightMM != nil {
				grow(*it.XMM+*it.WidthMM, *it.YMM+*it.HeightMM)
			}
		}
		for _, l := range append(slices.Clone(it.Runs), it.Path) {
			for _, p := range l {
				grow(p[0], p[1])
			}
		}
	}
	return r
}

// zones hatches the zones of a sheet and says whether there are any. Each zone has a direction of its own, and its name stands in it.
func (s *sheet) zones(zones []ZoneArea) (any bool) {
	var names []string
	for _, z := range zones {
		if !slices.Contains(names, z.Zone) {
			names = append(names, z.Zone)
		}
	}
	slices.Sort(names)
	for _, z := range zones {
		if z.Face != s.Face || len(z.Poly) < 3 {
			continue
		}
		any = true
		k := slices.Index(names, z.Zone)
		deg := [...]float64{45, 135, 0, 90}[k%4]
		ring := s.points(z.Poly)
		name := clean(z.Zone, 20)
		s.add(Shape{Layer: ZoneLayer, Kind: Hatch, Points: ring, HatchDeg: deg, HatchMM: 3 + float64(k/4), Weight: Thin, Class: fmt.Sprintf("zone-%d", k+1), Title: "zone " + name})
		s.add(Shape{Layer: ZoneLayer, Kind: Polygon, Points: ring, Weight: Thin, Dash: DashDot, Class: fmt.Sprintf("zone-%d edge", k+1)})
		b := boxOf(ring...)
		em := textSize * s.Scale
		s.name(Point{X: b.MinX + 3*em, Y: b.MaxY - 1.5*em}, 0, Shape{Layer: ZoneLayer, Text: "zone " + name, Class: fmt.Sprintf("zone-%d", k+1)})
	}
	return any
}

// joints draws the joints between the boards of a wall.
func (d *Drawer) joints(s *sheet, f *measure.Face, b Box, xs *dims) {
	for _, x := range f.JointsX {
		s.add(Shape{Layer: JointLayer, Kind: Line, Points: []Point{{X: x, Y: b.MinY}, {X: x, Y: b.MaxY}}, Dash: DashDot, Title: "joint between boards, x " + measure.FormatNumber(x)})
		s.occupy([]Point{{X: x, Y: b.MinY}, {X: x, Y: b.MaxY}}, 2)
		xs.add(x, 0, edgeDim, "joint")
	}
}

// benches shows the benches in front of a wall, and those that stand on the floor.
func (d *Drawer) benches(s *sheet, f *measure.Face, xs, ys *dims) {
	for i := range d.job.Room.Benches {
		bench := &d.job.Room.Benches[i]
		var ring []Point
		switch {
		case f.Kind == measure.WallFace && bench.Wall == f.ID && bench.LengthMM != nil && bench.HeightMM != nil:
			x := measure.BenchX(bench)
			ring = geometry.Rect{Min: Point{X: x}, Max: Point{X: x + *bench.LengthMM, Y: *bench.HeightMM}}.Polygon()
		case f.Kind == measure.FloorFace:
			ring = d.ctx.Footprint(bench)
		}
		if ring == nil {
			continue
		}
		for _, p := range ring {
			xs.add(p.X, 0, edgeDim, clean(bench.ID, 20))
			ys.add(p.Y, 0, edgeDim, clean(bench.ID, 20))
		}
		ring = s.points(ring)
		s.occupy(append(ring, ring[0]), 2)
		s.add(Shape{Layer: BenchLayer, Kind: Polygon, Points: ring, Dash: Dashed, Weight: Normal, Class: "outline", Ref: bench.ID, Title: "bench " + clean(bench.ID, 40)})
		b := boxOf(ring...)
		em := textSize * s.Scale
		s.name(Point{X: b.MaxX - 4*em, Y: b.MaxY - 1.2*em}, 0, Shape{Layer: BenchLayer, Text: clean(bench.ID, 30), Ref: bench.ID})
	}
}

// doorways draws doors, windows and hatches of a face.
func (d *Drawer) doorways(s *sheet, f *measure.Face, xs, ys *dims) {
	em := textSize * s.Scale
	draw := func(id, text string, x, y, w, h *float64) {
		if x == nil || y == nil || w == nil || h == nil {
			s.Notes = append(s.Notes, clean(id, 40)+": the job does not give its place and size, so it is not drawn.")
			return
		}
		ring := s.points(geometry.Rect{Min: Point{X: *x, Y: *y}, Max: Point{X: *x + *w, Y: *y + *h}}.Polygon())
		s.add(Shape{Layer: OpeningLayer, Kind: Polygon, Points: ring, Fill: Paper, Weight: Normal, Class: "doorway", Ref: id, Title: clean(text, 120)})
		s.add(Shape{Layer: OpeningLayer, Kind: Line, Points: []Point{ring[0], ring[2]}, Class: "doorway"})
		s.add(Shape{Layer: OpeningLayer, Kind: Line, Points: []Point{ring[1], ring[3]}, Class: "doorway"})
		name := clean(id, 20)
		s.occupy(append(ring, ring[0]), 2)
		xs.add(*x, 0, edgeDim, name)
		xs.add(*x+*w, 0, edgeDim, name)
		ys.add(*y, 0, edgeDim, name)
		ys.add(*y+*h, 0, edgeDim, name)
		at := s.at(*x+*w/2, *y+*h*0.75)
		for i, line := range strings.Split(text, "\n") {
			s.name(Point{X: at.X, Y: at.Y - float64(i)*1.4*em}, -1, Shape{Layer: OpeningLayer, Text: clean(line, 40), Ref: id})
		}
	}
	for i := range d.job.Room.Openings {
		if o := &d.job.Room.Openings[i]; o.Face == f.ID {
			draw(o.ID, fmt.Sprintf("%s\n%s × %s", o.ID, number(o.WidthMM), number(o.HeightMM)), o.XMM, o.YMM, o.WidthMM, o.HeightMM)
		}
	}
	for i := range d.job.Items {
		it := &d.job.Items[i]
		if it.Kind != "glazed_door" || it.Face != f.ID {
			continue
		}
		text := fmt.Sprintf("%s\n%s × %s", it.ID, number(it.WidthMM), number(it.HeightMM))
		if it.HingeSide != "" {
			text += "\nhinges " + it.HingeSide
		}
		if it.Swing != "" {
			text += "\nopens " + map[string]string{"both": "both ways"}[it.Swing]
			if it.Swing != "both" {
				text += it.Swing
			}
		}
		draw(it.ID, text, it.XMM, it.YMM, it.WidthMM, it.HeightMM)
	}
}

// hole draws one hole with the cross that marks its centre, and returns how far names must stay away.
func (d *Drawer) hole(s *sheet, h *measure.Hole, row *HoleRow) float64 {
	em := textSize * s.Scale
	c := s.at(*h.X, *h.Y)
	layer, class := OpeningLayer, "hole"
	switch h.Sort {
	case measure.InsertHole:
		layer, class = InsertLayer, "insert"
	case measure.PointHole:
		class = "fibre"
	}
	texts := row.Texts()
	tip := fmt.Sprintf("%s %s: x %s, y %s, Ø %s, %s, %s", row.Mark, row.What, texts[0], texts[1], texts[2], texts[3], texts[4])
	r := 0.0
	shape := Shape{Layer: layer, Kind: Circle, Points: []Point{c}, Fill: Paper, Weight: Normal, Class: class, Ref: row.Hole, Title: tip}
	if h.D != nil {
		r = *h.D / 2
	} else {
		shape.Dash, shape.Class = Dotted, class+" no-size"
	}
	shape.Radius = r
	if r == 0 {
		shape.Radius = 0.4 * em
	}
	if h.Sort == measure.InsertHole {
		shape.Fill = Tint
	}
	clear := shape.Radius
	flange := h.Item.CollarFlangeMM
	if h.Item.Kind == "drain" {
		flange = h.Item.FlangeMM
	} else if !h.Sealed() || h.Item.Collar == nil || !*h.Item.Collar {
		flange = nil
	}
	if flange != nil && h.Sort == measure.ItemHole && *flange > 0 {
		s.add(Shape{Layer: OpeningLayer, Kind: Circle, Points: []Point{c}, Radius: shape.Radius + *flange, Dash: Dashed, Class: "collar"})
	}
	s.add(shape)
	k := max(shape.Radius*1.3, 0.35*em)
	if h.Sort == measure.PointHole {
		k = max(shape.Radius*1.3, 0.25*em)
	}
	s.add(Shape{Layer: layer, Kind: Line, Points: []Point{{X: c.X - k, Y: c.Y}, {X: c.X + k, Y: c.Y}}, Class: "centre"})
	s.add(Shape{Layer: layer, Kind: Line, Points: []Point{{X: c.X, Y: c.Y - k}, {X: c.X, Y: c.Y + k}}, Class: "centre"})
	clear = max(clear, k)
	s.spots.take(boxAt(c, 2*clear, 2*clear))
	return clear
}

// lines turns the points of a run into points of the sheet.
func (s *sheet) line(run [][2]float64) []Point {
	out := make([]Point, len(run))
	for i, p := range run {
		out[i] = s.at(p[0], p[1])
	}
	return out
}

// rounded rounds the corners of a line at a radius, or as far as the legs allow.
func rounded(line []Point, radius float64) []Point {
	line = geometry.Polyline(line).Dedupe()
	if len(line) < 3 || !(radius > 0) {
		return line
	}
	out := []Point{line[0]}
	for i := 1; i+1 < len(line); i++ {
		a, b, c := line[i-1], line[i], line[i+1]
		u, v := Point{X: b.X - a.X, Y: b.Y - a.Y}, Point{X: c.X - b.X, Y: c.Y - b.Y}
		lu, lv := math.Hypot(u.X, u.Y), math.Hypot(v.X, v.Y)
		phi := math.Atan2(u.X*v.Y-u.Y*v.X, u.X*v.X+u.Y*v.Y)
		if turn := math.Abs(phi); turn < 0.02 || turn > 3.1 {
			out = append(out, b)
			continue
		}
		t := min(radius*math.Tan(math.Abs(phi)/2), lu/2, lv/2)
		r := t / math.Tan(math.Abs(phi)/2)
		sign := math.Copysign(1, phi)
		start := Point{X: b.X - u.X/lu*t, Y: b.Y - u.Y/lu*t}
		centre := Point{X: start.X - sign*u.Y/lu*r, Y: start.Y + sign*u.X/lu*r}
		const steps = 8
		for k := range steps + 1 {
			sin, cos := math.Sincos(phi * float64(k) / steps)
			dx, dy := start.X-centre.X, start.Y-centre.Y
			out = append(out, Point{X: centre.X + dx*cos - dy*sin, Y: centre.Y + dx*sin + dy*cos})
		}
	}
	return append(out, line[len(line)-1])
}

// arrows draws the direction of a run on its longer legs.
func (s *sheet) arrows(line []Point, class string) {
	em := textSize * s.Scale
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		n := math.Hypot(b.X-a.X, b.Y-a.Y)
		if n < 6*em {
			continue
		}
		u := Point{X: (b.X - a.X) / n, Y: (b.Y - a.Y) / n}
		m := Point{X: a.X + u.X*(n/2+0.5*em), Y: a.Y + u.Y*(n/2+0.5*em)}
		s.add(Shape{Layer: CableLayer, Kind: Polygon, Fill: Full, Weight: NoLine, Class: "arrow " + class, Points: []Point{
			m, {X: m.X - u.X*em - u.Y*0.4*em, Y: m.Y - u.Y*em + u.X*0.4*em}, {X: m.X - u.X*em + u.Y*0.4*em, Y: m.Y - u.Y*em - u.X*0.4*em}}})
	}
}

// occupy keeps names off the level and upright legs of a line, where there is room elsewhere.
func (s *sheet) occupy(line []Point, width float64) {
	for i := 1; i < len(line); i++ {
		if a, b := line[i-1], line[i]; a.X == b.X || a.Y == b.Y {
			s.spots.take(boxOf(a, b).grow(width / 2))
		}
	}
}

// cable draws the grooves and the axis of a heating cable, and returns what writes its names.
func (d *Drawer) cable(s *sheet, it *jobfile.Item, xs, ys *dims) func() {
	if len(it.Runs) == 0 {
		s.Notes = append(s.Notes, clean(it.ID, 40)+": the job does not give its runs.")
		return nil
	}
	em := textSize * s.Scale
	points := 0
	for _, run := range it.Runs {
		points += len(run)
	}
	const mostPoints = 4000
	plain := points > mostPoints // no arrows and dimensions then: nobody could read them
	radius := 0.0
	switch {
	case it.BendRadiusMinMM != nil:
		radius = *it.BendRadiusMinMM
	case it.CableODMM != nil:
		radius = 6 * *it.CableODMM
	}
	name := clean(it.ID, 20)
	width := 0.3 * em
	for _, run := range it.Runs {
		line := rounded(s.line(run), radius)
		if it.GrooveWidthMM != nil {
			width = *it.GrooveWidthMM
			s.add(Shape{Layer: GrooveLayer, Kind: Polyline, Points: line, ToScale: true, Width: width, Ref: it.ID, Title: fmt.Sprintf("groove of %s, %s wide, %s deep", name, number(it.GrooveWidthMM), number(it.GrooveDepthMM))})
		}
		s.add(Shape{Layer: CableLayer, Kind: Polyline, Points: line, Weight: Normal, Class: "heating", Ref: it.ID, Title: "heating cable " + name})
		if plain {
			continue
		}
		sharp := s.line(run)
		s.arrows(sharp, "heating")
		s.occupy(sharp, width)
		for _, p := range run {
			xs.add(p[0], 0, lineDim, name)
			ys.add(p[1], 0, lineDim, name)
		}
	}
	d.cableNotes(s, it)
	return func() {
		first, last := s.line(it.Runs[0]), s.line(it.Runs[len(it.Runs)-1])
		a, b := first[0], last[len(last)-1]
		s.add(Shape{Layer: CableLayer, Kind: Circle, Points: []Point{a}, Radius: 0.3 * em, Fill: Full, Weight: NoLine, Class: "start heating"})
		s.add(Shape{Layer: CableLayer, Kind: Circle, Points: []Point{b}, Radius: 0.3 * em, Fill: Paper, Weight: Normal, Class: "end heating"})
		s.name(a, 0.3*em, Shape{Layer: CableLayer, Text: name + " starts", Class: "heating", Ref: it.ID})
		s.name(b, 0.3*em, Shape{Layer: CableLayer, Text: name + " ends", Class: "heating"})
	}
}

// cableNotes says what is known of a cable and its groove.
func (d *Drawer) cableNotes(s *sheet, it *jobfile.Item) {
	note := fmt.Sprintf("%s: groove %s wide and %s deep", clean(it.ID, 40), number(it.GrooveWidthMM), number(it.GrooveDepthMM))
	if d.set != nil {
		if t := d.set.Table("heating_cable"); t != nil {
			if row := t.Find(it.ID); row >= 0 {
				for _, m := range [...]struct{ name, words string }{{"pitch_min_mm", "least pitch"}, {"pitch_max_mm", "widest pitch"}, {"bend_radius_mm", "tightest bend"}} {
					if col := t.Column(m.name); col != nil && col[row].State == measure.Known {
						note += ", " + m.words + " " + measure.WithUnit(measure.FormatNumber(col[row].Num), "mm")
					}
				}
			}
		}
	}
	if it.ExitDiameterMM != nil {
		note += ", exit hole Ø" + number(it.ExitDiameterMM) + " (" + toolFor(it.ExitDiameterMM, d.job.Tools) + "), its place is not in the job"
	}
	s.Notes = append(s.Notes, note+".")
}

// strip draws an LED strip.
func (d *Drawer) strip(s *sheet, it *jobfile.Item, xs, ys *dims) func() {
	name := clean(it.ID, 20)
	if len(it.Path) < 2 {
		s.Notes = append(s.Notes, clean(it.ID, 40)+": the job does not give its path.")
		return nil
	}
	em := textSize * s.Scale
	line := s.line(it.Path)
	const mostPoints = 4000
	s.add(Shape{Layer: CableLayer, Kind: Polyline, Points: line, Weight: Bold, Dash: DashDot, Class: "strip", Ref: it.ID, Title: "LED strip " + name + ", " + clean(measure.Words(it.Mounting), 40)})
	short := it.Path
	if len(short) > mostPoints {
		short = nil
	} else {
		s.arrows(line, "strip")
		s.occupy(line, 0.4*em)
	}
	for _, p := range short {
		xs.add(p[0], p[1], lineDim, name)
		ys.add(p[1], p[0], lineDim, name)
	}
	return func() {
		a := line[0]
		t := "LED strip " + name
		if it.Mounting != "" {
			t += ", " + clean(measure.Words(it.Mounting), 40)
		}
		s.name(Point{X: a.X, Y: a.Y}, 0.3*em, Shape{Layer: CableLayer, Text: t, Class: "strip", Ref: it.ID})
	}
}

// fixture draws what sits on a face without a hole of its own: a sensor in its sleeve, a switch, a driver.
func (d *Drawer) fixture(s *sheet, it *jobfile.Item, xs, ys *dims) func() {
	name := clean(it.ID, 30)
	if it.XMM == nil || it.YMM == nil {
		if it.Place != "outside_room" {
			s.Notes = append(s.Notes, name+": the job does not say where it is.")
		}
		return nil
	}
	em := textSize * s.Scale
	c := s.at(*it.XMM, *it.YMM)
	k := 0.55 * em
	ring := []Point{{X: c.X - k, Y: c.Y - k}, {X: c.X + k, Y: c.Y - k}, {X: c.X + k, Y: c.Y + k}, {X: c.X - k, Y: c.Y + k}}
	class := "box"
	if it.Kind == "heating_sensor" {
		ring = []Point{{X: c.X - k, Y: c.Y}, {X: c.X, Y: c.Y - k}, {X: c.X + k, Y: c.Y}, {X: c.X, Y: c.Y + k}}
		class = "sensor"
	}
	s.add(Shape{Layer: FixtureLayer, Kind: Polygon, Points: ring, Fill: Paper, Weight: Normal, Class: class, Ref: it.ID, Title: clean(measure.Words(it.Kind), 40) + " " + name})
	s.add(Shape{Layer: FixtureLayer, Kind: Line, Points: []Point{{X: c.X - k, Y: c.Y}, {X: c.X + k, Y: c.Y}}, Class: "centre"})
	s.add(Shape{Layer: FixtureLayer, Kind: Line, Points: []Point{{X: c.X, Y: c.Y - k}, {X: c.X, Y: c.Y + k}}, Class: "centre"})
	s.spots.take(boxAt(c, 2*k, 2*k))
	xs.add(*it.XMM, *it.YMM, holeDim, name)
	ys.add(*it.YMM, *it.XMM, holeDim, name)
	return func() { s.name(c, k, Shape{Layer: FixtureLayer, Text: name, Ref: it.ID}) }
}
