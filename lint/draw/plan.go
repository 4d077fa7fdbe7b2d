package draw

import (
	"fmt"
	"math"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
)

// planSheet draws the room from above: walls, benches, door leaves with their swing, drains, and where the openings of the walls and
// the ceiling are. Its coordinates are those of geometry.Chain: the first wall runs along the top.
func (d *Drawer) planSheet(found []marked, zones []ZoneArea) Sheet {
	plan := d.ctx.Plan()
	scale := 10.0
	if plan != nil {
		b := boxOf(plan.Corners...)
		scale = scaleFor(max(b.MaxX-b.MinX, b.MaxY-b.MinY))
	}
	s := newSheet("plan", "Plan of the room", "", scale)
	d.loosely(s, found)
	if plan == nil {
		s.Notes = append(s.Notes, "The walls of the job do not close, so there is no plan.")
		return s.finish()
	}
	thick := 50.0
	if p := d.job.Panel; p != nil && p.ThicknessMM != nil {
		thick = *p.ThicknessMM
	} else {
		s.Notes = append(s.Notes, "The thickness of the panels is not given: walls are drawn 50 mm thick.")
	}
	em := textSize * s.Scale
	ring := append([]Point(nil), plan.Corners...)
	s.add(Shape{Layer: PanelLayer, Kind: Polygon, Points: ring, ToScale: true, Width: 2 * thick, Class: "wall"})
	s.add(Shape{Layer: PanelLayer, Kind: Polygon, Points: ring, Fill: Paper, Weight: Normal, Class: "room"})
	place := func(wall int, x, off float64) Point {
		p, err := plan.Place(wall, x, off)
		if err != nil {
			return plan.Corners[0] // cannot be: the wall exists and the job's lengths are finite
		}
		return p
	}
	for i := range d.job.Room.Benches {
		d.planBench(s, &d.job.Room.Benches[i], place)
	}
	if s.zones(zones) {
		s.Notes = append(s.Notes, fmt.Sprintf("Zones are those at %d mm above the floor.", measure.ZonePlanMM))
	}
	for i := range d.job.Room.Openings {
		o := &d.job.Room.Openings[i]
		if f := d.ctx.Face(o.Face); f != nil && f.Kind == measure.WallFace && o.XMM != nil && o.WidthMM != nil {
			gap(s, o.ID, f.Wall, *o.XMM, *o.WidthMM, thick, place)
			s.name(place(f.Wall, *o.XMM+*o.WidthMM/2, -thick), 0.3*em, Shape{Layer: OpeningLayer, Text: clean(o.ID, 30), Ref: o.ID})
		}
	}
	for i := range d.job.Items {
		if it := &d.job.Items[i]; it.Kind == "glazed_door" {
			d.planDoor(s, it, thick, place)
		}
	}
	var names []func()
	for i, w := range d.job.Room.Walls {
		if w.WidthMM == nil {
			continue
		}
		in, out := place(i, *w.WidthMM/2, 0), place(i, *w.WidthMM/2, -thick-0.4*em)
		n := Point{X: out.X - in.X, Y: out.Y - in.Y}
		text := Shape{Layer: TextLayer, Text: fmt.Sprintf("%s  %s  %s", letter(i), clean(w.ID, 30), number(w.WidthMM)), Class: "wall", Ref: w.ID, Strong: true}
		l := math.Hypot(n.X, n.Y)
		size := text.size(s.Scale)
		// Half the text beyond the wall, so that it just clears it.
		reach := (math.Abs(n.X)*size.X + math.Abs(n.Y)*size.Y) / 2 / l
		at := Point{X: out.X + n.X/l*(reach+0.2*em), Y: out.Y + n.Y/l*(reach+0.2*em)}
		if b := boxAt(at, size.X, size.Y); s.spots.free(b) {
			text.Points, text.Anchor = []Point{at}, Middle
			s.text(text)
		} else {
			names = append(names, func() { s.name(out, 0.5*em, text) })
		}
	}
	for _, fh := range d.faces {
		names = append(names, d.planHoles(s, fh, thick, place)...)
	}
	for _, name := range names {
		name()
	}
	s.Notes = append(s.Notes, "Solid circles are in the floor, dashed ones in the ceiling; strokes in the walls are openings. Marks are those of the sheets of the faces.")
	return s.finish()
}

// size is how wide and high a text is.
func (s Shape) size(scale float64) Point {
	s.Kind, s.Points, s.Size = Text, []Point{{}}, max(s.Size, textSize)
	b := s.Box(scale)
	return Point{X: b.MaxX - b.MinX, Y: b.MaxY - b.MinY}
}

// loosely lists the findings that have no place on a face.
func (d *Drawer) loosely(s *sheet, found []marked) {
	for _, m := range found {
		shown := false
		for _, p := range m.spots {
			shown = shown || d.ctx.Face(p.face) != nil
		}
		if !shown {
			s.Marks = append(s.Marks, m.mark)
		}
	}
}

func (d *Drawer) planBench(s *sheet, b *jobfile.Bench, place func(int, float64, float64) Point) {
	f := d.ctx.Face(b.ID + ".seat")
	if f == nil || f.Wall < 0 || b.LengthMM == nil || b.DepthMM == nil {
		s.Notes = append(s.Notes, clean(b.ID, 40)+": the job does not give its place and size, so it is not drawn.")
		return
	}
	x, l, w := measure.BenchX(b), *b.LengthMM, *b.DepthMM
	s.add(Shape{Layer: BenchLayer, Kind: Polygon, Fill: Tint, Weight: Normal, Ref: b.ID, Points: []Point{place(f.Wall, x, 0), place(f.Wall, x+l, 0), place(f.Wall, x+l, w), place(f.Wall, x, w)}, Title: "bench " + clean(b.ID, 40)})
	for i := range d.job.Items {
		it := &d.job.Items[i]
		if it.Face != f.ID || it.Kind != "heating_cable" {
			continue
		}
		for _, run := range it.Runs {
			line := make([]Point, len(run))
			for k, p := range run {
				line[k] = place(f.Wall, x+p[0], w-p[1])
			}
			s.add(Shape{Layer: CableLayer, Kind: Polyline, Points: line, Class: "heating", Ref: it.ID})
			s.occupy(line, 2)
		}
	}
	text := fmt.Sprintf("%s  %s × %s", clean(b.ID, 30), number(b.LengthMM), number(b.DepthMM))
	if b.HeightMM != nil {
		text += ", " + number(b.HeightMM) + " high"
	}
	s.name(place(f.Wall, x+l/2, w/2), -1, Shape{Layer: BenchLayer, Text: text, Ref: b.ID})
}

// gap draws an opening in a wall.
func gap(s *sheet, id string, wall int, x, w, thick float64, place func(int, float64, float64) Point) {
	s.add(Shape{Layer: OpeningLayer, Kind: Polygon, Fill: Paper, Weight: NoLine, Class: "doorway", Ref: id, Points: []Point{place(wall, x, 0), place(wall, x+w, 0), place(wall, x+w, -thick), place(wall, x, -thick)}})
	for _, x := range [2]float64{x, x + w} {
		s.add(Shape{Layer: OpeningLayer, Kind: Line, Weight: Normal, Points: []Point{place(wall, x, 0), place(wall, x, -thick)}, Class: "doorway"})
	}
	s.add(Shape{Layer: OpeningLayer, Kind: Line, Dash: Dashed, Points: []Point{place(wall, x, 0), place(wall, x+w, 0)}, Class: "doorway"})
}

// planDoor draws a door: the gap, the leaf standing open at a right angle, and the way of its edge.
func (d *Drawer) planDoor(s *sheet, it *jobfile.Item, thick float64, place func(int, float64, float64) Point) {
	f := d.ctx.Face(it.Face)
	name := clean(it.ID, 40)
	if f == nil || f.Kind != measure.WallFace || it.XMM == nil || it.WidthMM == nil {
		s.Notes = append(s.Notes, name+": the job does not give its place and width, so it is not drawn.")
		return
	}
	x, w := *it.XMM, *it.WidthMM
	em := textSize * s.Scale
	gap(s, it.ID, f.Wall, x, w, thick, place)
	label := place(f.Wall, x+w/2, -thick/2)
	side := -1.0
	if it.Swing == "inward" {
		side = 1
	}
	if it.HingeSide == "" || it.Swing == "" {
		s.Notes = append(s.Notes, name+": the job does not say on which side it hangs and which way it opens, so no leaf is drawn.")
	} else {
		ways := map[string][]float64{"outward": {-1}, "inward": {1}, "both": {-1, 1}}[it.Swing]
		hinge, shut := x, x+w
		if it.HingeSide == "right" {
			hinge, shut = x+w, x
		}
		for k, way := range ways {
			from := 0.0
			if way < 0 {
				from = -thick
			}
			style := Solid
			if k > 0 {
				style = Dashed
			}
			s.add(Shape{Layer: FixtureLayer, Kind: Line, Weight: Bold, Dash: style, Class: "leaf", Ref: it.ID, Points: []Point{place(f.Wall, hinge, from), place(f.Wall, hinge, from+way*w)}, Title: "leaf of " + name})
			arc := make([]Point, 0, 17)
			for i := range 17 {
				sin, cos := math.Sincos(float64(i) / 16 * math.Pi / 2)
				arc = append(arc, place(f.Wall, hinge+(shut-hinge)*cos, from+way*w*sin))
			}
			s.add(Shape{Layer: FixtureLayer, Kind: Polyline, Dash: Dashed, Class: "swing", Points: arc})
			s.occupy([]Point{place(f.Wall, hinge, from), place(f.Wall, hinge, from+way*w)}, 0.5*em)
		}
		label = place(f.Wall, x+w/2, -thick/2+side*(w/3+thick/2))
	}
	text := []string{name + "  " + number(it.WidthMM)}
	if it.Swing != "" {
		text = append(text, "opens "+strings.Replace(clean(it.Swing, 20), "both", "both ways", 1))
	}
	for i, t := range text {
		s.name(Point{X: label.X, Y: label.Y - float64(i)*1.4*em}, -1, Shape{Layer: FixtureLayer, Text: t, Ref: it.ID})
	}
}

// planHoles shows the openings of a face on the plan. Inserts and fibre ends are left to the sheets of the faces.
func (d *Drawer) planHoles(s *sheet, fh *faceHoles, thick float64, place func(int, float64, float64) Point) (names []func()) {
	em := textSize * s.Scale
	f := fh.face
	n := 0
	for i, h := range fh.holes {
		if h.Sort != measure.ItemHole || !h.Placed() {
			continue
		}
		const most = 30
		if n++; n > most {
			s.Notes = append(s.Notes, fmt.Sprintf("Face %s has more than %d openings: see its sheet for the rest.", clean(f.ID, 40), most))
			return names
		}
		mark := fh.rows[i].Mark
		var at Point
		clear := 0.0
		switch f.Kind {
		case measure.WallFace:
			r := 0.3 * em
			if h.D != nil {
				r = *h.D / 2
			}
			ring := []Point{place(f.Wall, *h.X-r, 0), place(f.Wall, *h.X+r, 0), place(f.Wall, *h.X+r, -thick), place(f.Wall, *h.X-r, -thick)}
			s.add(Shape{Layer: OpeningLayer, Kind: Polygon, Points: ring, Fill: Full, Weight: Thin, Class: "through", Ref: h.ID, Title: mark + " " + fh.rows[i].What + ", " + number(h.Y) + " above the floor"})
			s.spots.take(boxOf(ring...))
			at = place(f.Wall, *h.X, 0.6*em)
		case measure.FloorFace, measure.CeilingFace:
			at = place(0, *h.X, *h.Y)
			c := Shape{Layer: OpeningLayer, Kind: Circle, Points: []Point{at}, Radius: 0.3 * em, Weight: Normal, Class: "hole", Ref: h.ID, Title: mark + " " + fh.rows[i].What}
			if h.D != nil {
				c.Radius = *h.D / 2
			}
			if f.Kind == measure.CeilingFace {
				c.Dash, c.Class = Dashed, "above"
			}
			clear = c.Radius
			s.add(c)
			s.spots.take(boxAt(at, 2*clear, 2*clear))
		default:
			continue
		}
		names = append(names, func() {
			s.name(at, clear, Shape{Layer: TextLayer, Text: mark, Strong: true, Class: "mark", Ref: h.ID})
		})
	}
	return names
}
