package draw

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/verdict"
)

// sheet is a sheet that is being drawn.
type sheet struct {
	Sheet
	spots *placer
}

// newSheet starts a sheet. The scale is that of the paper: 10 for 1:10.
func newSheet(id, title, face string, scale float64) *sheet {
	return &sheet{Sheet: Sheet{ID: safeID(id), Title: clean(title, 120), Face: face, Scale: scale}, spots: newPlacer(2*textSize*scale, nil)}
}

// scaleFor is the scale at which a thing of a size fits on paper with its dimensions.
func scaleFor(mm float64) float64 {
	for _, s := range [...]float64{10, 20, 50, 100, 200, 500} {
		if mm <= 320*s {
			return s
		}
	}
	return 1000
}

func (s *sheet) add(shape Shape) { s.Shapes = append(s.Shapes, shape) }

// text adds a text and takes its place.
func (s *sheet) text(t Shape) {
	t.Kind = Text
	if t.Size == 0 {
		t.Size = textSize
	}
	if t.Text == "" {
		return
	}
	s.spots.take(t.Box(s.Scale))
	s.add(t)
}

// y turns the y of the face into that of the sheet, and the other way round.
func (s *sheet) y(y float64) float64 {
	if s.Down {
		return -y
	}
	return y
}

// at places a point of the face on the sheet.
func (s *sheet) at(x, y float64) Point { return Point{X: x, Y: s.y(y)} }

func (s *sheet) points(list []Point) []Point {
	out := make([]Point, len(list))
	for i, p := range list {
		out[i] = s.at(p.X, p.Y)
	}
	return out
}

// name writes a text near a place, with a leader when it has to stand away from it. clear is how far the text stays from the place; a
// negative one lets it stand on it.
func (s *sheet) name(at Point, clear float64, t Shape) {
	em := textSize * s.Scale
	if t.Size == 0 {
		t.Size = textSize
	}
	if t.Text == "" {
		return
	}
	t.Kind, t.Anchor = Text, Middle
	t.Points = []Point{{}}
	b := t.Box(s.Scale)
	pad := 0.15 * em
	w, h := b.MaxX-b.MinX+2*pad, b.MaxY-b.MinY+2*pad
	c, far := at, false
	if box := boxAt(at, w, h); clear < 0 && s.spots.free(box) {
		s.spots.take(box)
	} else {
		c, far = s.spots.place(at, max(clear, 0)+0.2*em, w, h, 0.7*em)
	}
	t.Points[0] = Point{X: c.X - (b.MaxX+b.MinX)/2, Y: c.Y - (b.MaxY+b.MinY)/2}
	if far {
		box := boxAt(c, b.MaxX-b.MinX+pad, b.MaxY-b.MinY+pad)
		to := Point{X: min(max(at.X, box.MinX), box.MaxX), Y: min(max(at.Y, box.MinY), box.MaxY)}
		s.add(Shape{Layer: t.Layer, Kind: Polyline, Points: []Point{toward(at, to, max(clear, 0)), to}, Class: "leader"})
	}
	s.add(t)
}

// toward is the point at a distance from a on the way to b, and b when it is nearer.
func toward(a, b Point, mm float64) Point {
	d := math.Hypot(b.X-a.X, b.Y-a.Y)
	if d <= mm || d == 0 {
		return a
	}
	return Point{X: a.X + (b.X-a.X)*mm/d, Y: a.Y + (b.Y-a.Y)*mm/d}
}

// finish closes a sheet.
func (s *sheet) finish() Sheet {
	b := newBox()
	for i := range s.Shapes {
		b = b.add(s.Shapes[i].Box(s.Scale))
	}
	if b.empty() {
		b = Box{0, 0, 100 * s.Scale, 20 * s.Scale}
	}
	s.Bounds = b.grow(0.5 * textSize * s.Scale)
	return s.Sheet
}

// spot is a place on a face that a finding points at.
type spot struct {
	face string
	at   Point // in the coordinates of the face
	ok   bool  // the job says where
	ref  string
}

// marked is a finding with the places that it points at.
type marked struct {
	mark  Mark
	spots []spot
}

// locate numbers the findings and finds what they point at.
func (d *Drawer) locate(groups []*verdict.Group) []marked {
	out := make([]marked, 0, len(groups))
	for i, g := range groups {
		if len(g.Findings) == 0 {
			continue
		}
		v := g.Findings[0]
		m := marked{mark: Mark{Number: i + 1, Severity: v.Rule.Severity.String(), Text: d.says(g), Key: v.Rule.ID + " " + v.Subject.ID, Ref: v.Subject.ID}}
		for _, f := range g.Findings {
			for _, p := range d.spotsOf(f.Subject) {
				if !slices.ContainsFunc(m.spots, func(q spot) bool { return q.face == p.face && q.at == p.at }) {
					m.spots = append(m.spots, p)
				}
			}
		}
		out = append(out, m)
	}
	return out
}

// says puts a group of findings in one line.
func (d *Drawer) says(g *verdict.Group) string {
	v := g.Findings[0]
	subjects := g.Subjects()
	who := clean(subjects[0], 80)
	if n := len(subjects); n > 1 {
		who += fmt.Sprintf(" and %d more", n-1)
	}
	s := clean(v.Rule.Title, 160) + ": " + who
	if rules := len(g.Rules()); rules > 1 {
		s += fmt.Sprintf(" (and %d more rules)", rules-1)
	}
	switch v.Outcome {
	case verdict.Undetermined:
		return s + "; the job does not say enough"
	case verdict.NotJudged:
		return s + "; could not be judged"
	}
	if v.Rule.Def != nil && v.Value.State == measure.Known {
		s += ": " + clean(v.Rule.Def.Format(*v.Value), 80)
	}
	return s
}

func (d *Drawer) spotsOf(s *measure.Subject) []spot {
	switch {
	case s.Hole != nil:
		return []spot{d.holeSpot(s.Hole, s.ID)}
	case s.Pair != nil:
		a, b := d.holeSpot(s.Pair.A, s.ID), d.holeSpot(s.Pair.B, s.ID)
		if a.ok && b.ok && a.face == b.face {
			a.at = Point{X: (a.at.X + b.at.X) / 2, Y: (a.at.Y + b.at.Y) / 2}
			return []spot{a}
		}
		return []spot{a, b}
	case s.Item != nil:
		return []spot{d.itemSpot(s.Item)}
	case s.Face != nil:
		return []spot{d.faceSpot(s.Face, s.ID)}
	case s.Bench != nil:
		if f := d.ctx.Face(s.Bench.ID + ".seat"); f != nil {
			return []spot{d.faceSpot(f, s.ID)}
		}
	case s.Task != nil:
		var out []spot
		for _, id := range s.Task.Items {
			for i := range d.job.Items {
				if it := &d.job.Items[i]; it.ID == id && it.Face != "" {
					out = append(out, d.itemSpot(it))
				}
			}
		}
		for _, id := range s.Task.Faces {
			if f := d.ctx.Face(id); f != nil {
				out = append(out, d.faceSpot(f, id))
			}
		}
		return out
	}
	return nil
}

func (d *Drawer) holeSpot(h *measure.Hole, ref string) spot {
	if h.Placed() {
		return spot{face: h.Item.Face, at: Point{X: *h.X, Y: *h.Y}, ok: true, ref: ref}
	}
	return spot{face: h.Item.Face, ref: ref}
}

// faceSpot points at the middle of a face, a little above it.
func (d *Drawer) faceSpot(f *measure.Face, ref string) spot {
	o := f.Outline(d.ctx)
	if len(o) == 0 {
		return spot{face: f.ID, ref: ref}
	}
	b := boxOf(o...)
	return spot{face: f.ID, at: Point{X: (b.MinX + b.MaxX) / 2, Y: b.MinY + 0.55*(b.MaxY-b.MinY)}, ok: true, ref: ref}
}

// itemSpot points at the place that stands for an item.
func (d *Drawer) itemSpot(it *jobfile.Item) spot {
	s := spot{face: it.Face, ref: it.ID}
	along := func(lines ...[][2]float64) {
		best := 0.0
		for _, l := range lines {
			for i := 1; i < len(l); i++ {
				if n := math.Hypot(l[i][0]-l[i-1][0], l[i][1]-l[i-1][1]); n > best {
					// A third along the longest leg: the middle is where sensors sit.
					best, s.ok = n, true
					s.at = Point{X: l[i-1][0] + (l[i][0]-l[i-1][0])/3, Y: l[i-1][1] + (l[i][1]-l[i-1][1])/3}
				}
			}
		}
	}
	switch {
	case it.Kind == "heating_cable":
		along(it.Runs...)
	case it.Kind == "led_strip":
		along(it.Path)
	case it.Kind == "fibre_lights" && len(it.Points) > 0:
		s.at, s.ok = Point{X: it.Points[0][0], Y: it.Points[0][1]}, true
	case it.Kind == "glazed_door" && it.XMM != nil && it.YMM != nil && it.WidthMM != nil && it.HeightMM != nil:
		s.at, s.ok = Point{X: *it.XMM + *it.WidthMM/2, Y: *it.YMM + *it.HeightMM*0.6}, true
	case it.XMM != nil && it.YMM != nil:
		s.at, s.ok = Point{X: *it.XMM, Y: *it.YMM}, true
	case len(it.Inserts) > 0 && it.Inserts[0].XMM != nil && it.Inserts[0].YMM != nil:
		s.at, s.ok = Point{X: *it.Inserts[0].XMM, Y: *it.Inserts[0].YMM}, true
	}
	return s
}

// findings draws the marks of a face.
func (s *sheet) findings(all []marked, b Box) {
	em := textSize * s.Scale
	var badges []Shape // above all leaders
	for _, m := range all {
		for _, p := range m.spots {
			if p.face != s.Face || s.Face == "" {
				continue
			}
			at := s.at(p.at.X, p.at.Y)
			if !p.ok {
				at = Point{X: (b.MinX + b.MaxX) / 2, Y: (b.MinY + b.MaxY) / 2}
			}
			mk := m.mark
			mk.Ref, mk.Placed, mk.AtX, mk.AtY = p.ref, true, at.X, at.Y
			num := Shape{Layer: FindingLayer, Kind: Text, Points: []Point{{}}, Text: strconv.Itoa(mk.Number), Anchor: Middle, Size: textSize, Strong: true, Class: mk.Severity, Ref: mk.Ref, Finding: mk.Number}
			w := max(1.9*em, TextWidth(num.Text, num.Size, true)*s.Scale+0.9*em)
			h := 1.9 * em
			if mk.Severity == "critical" {
				w, h = w*1.35, h*1.35
			}
			c, _ := s.spots.place(at, 0.9*em, w, h, 0.7*em)
			mk.X, mk.Y = c.X, c.Y
			s.add(Shape{Layer: FindingLayer, Kind: Polyline, Points: []Point{at, c}, Class: "leader " + mk.Severity, Weight: Normal})
			s.add(Shape{Layer: FindingLayer, Kind: Circle, Points: []Point{at}, Radius: 0.2 * em, Fill: Full, Weight: NoLine, Class: "end " + mk.Severity})
			num.Points[0] = c
			badges = append(badges, badge(mk, c, w, h), num)
			s.Marks = append(s.Marks, mk)
		}
	}
	s.Shapes = append(s.Shapes, badges...)
}

// badge is the outline of a mark: its form says the severity, so that colour alone does not. A critical finding has a lozenge, a
// major one a rectangle, a minor one a hexagon, an observation a dashed rectangle.
func badge(m Mark, c Point, w, h float64) Shape {
	b := Shape{Layer: FindingLayer, Kind: Polygon, Fill: Full, Weight: Normal, Class: "badge " + m.Severity, Ref: m.Ref, Finding: m.Number, Title: strconv.Itoa(m.Number) + ", " + m.Severity + ": " + m.Text}
	x, y := w/2, h/2
	switch m.Severity {
	case "critical":
		b.Points = []Point{{X: c.X - x, Y: c.Y}, {X: c.X, Y: c.Y + y}, {X: c.X + x, Y: c.Y}, {X: c.X, Y: c.Y - y}}
	case "minor":
		k := y * 0.55
		b.Points = []Point{{X: c.X - x, Y: c.Y}, {X: c.X - x + k, Y: c.Y + y}, {X: c.X + x - k, Y: c.Y + y}, {X: c.X + x, Y: c.Y}, {X: c.X + x - k, Y: c.Y - y}, {X: c.X - x + k, Y: c.Y - y}}
	default:
		b.Points = geometry.Rect{Min: Point{X: c.X - x, Y: c.Y - y}, Max: Point{X: c.X + x, Y: c.Y + y}}.Polygon()
	}
	if m.Severity == "observation" {
		b.Dash, b.Fill = Dashed, Paper
	}
	return b
}
