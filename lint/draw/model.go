// Package draw turns a job into setting-out sheets: one for each face, a plan of the room, and a list of the holes
// that no face can show. A sheet is a list of shapes in millimetres of the real thing, from which SVG and other
// formats are written; nothing in a sheet depends on the format.
//
// A fitter marks a face with one tape from its lower left corner, so every place is given as a running dimension from x = 0 and from
// y = 0. The floor is seen from above and must not be mirrored: its y runs down the sheet, and the tape starts at the upper left corner.
//
// Text of the job is data: it is cleaned here and escaped by the writers.
package draw

import (
	"fmt"
	"math"
	"strings"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/draw/font"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/verdict"
)

// Point is a place on a sheet in mm of the real thing: x runs right, y up.
type Point = geometry.Point

// Box is an upright rectangle in mm. The zero value is empty only to Grow: see newBox.
type Box struct{ MinX, MinY, MaxX, MaxY float64 }

func newBox() Box {
	return Box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
}

func (b Box) empty() bool { return b.MinX > b.MaxX }

// add returns the box grown round another.
func (b Box) add(o Box) Box {
	return Box{min(b.MinX, o.MinX), min(b.MinY, o.MinY), max(b.MaxX, o.MaxX), max(b.MaxY, o.MaxY)}
}

func (b Box) grow(mm float64) Box {
	return Box{b.MinX - mm, b.MinY - mm, b.MaxX + mm, b.MaxY + mm}
}

// Overlaps says whether two boxes share more than an edge.
func (b Box) Overlaps(o Box) bool {
	const eps = 1e-6
	return b.MinX < o.MaxX-eps && o.MinX < b.MaxX-eps && b.MinY < o.MaxY-eps && o.MinY < b.MaxY-eps
}

func boxAt(p Point, w, h float64) Box { return Box{p.X - w/2, p.Y - h/2, p.X + w/2, p.Y + h/2} }

func boxOf(points ...Point) Box {
	b := newBox()
	for _, p := range points {
		b = b.add(Box{p.X, p.Y, p.X, p.Y})
	}
	return b
}

// Layer says what a shape belongs to.
type Layer string

// The layers. A page can show, hide and colour each on its own.
const (
	PanelLayer     Layer = "panel"     // the board: outline and ground
	JointLayer     Layer = "joint"     // joints between boards
	OpeningLayer   Layer = "opening"   // holes of items, doorways, windows
	GrooveLayer    Layer = "groove"    // grooves to scale
	CableLayer     Layer = "cable"     // axes of heating cables and LED strips, with their direction
	InsertLayer    Layer = "insert"    // holes for bonded inserts
	ZoneLayer      Layer = "zone"      // electrical zones
	DimensionLayer Layer = "dimension" // running dimensions
	FindingLayer   Layer = "finding"   // numbered findings
	TextLayer      Layer = "text"      // names and marks
	BenchLayer     Layer = "bench"
	FixtureLayer   Layer = "fixture" // what sits on a face without a hole, door leaves, sensors
	TitleLayer     Layer = "title"   // title, schedule, legend, scale bar
)

// Kind says what a shape is.
type Kind uint8

// The kinds of shapes. A Hatch is a polygon that is filled with lines; see HatchLines.
const (
	Line Kind = iota
	Polyline
	Polygon
	Circle
	Text
	Hatch
)

// Anchor says which part of a text stands at its point.
type Anchor uint8

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// Weight is a width of line on paper.
type Weight uint8

// The weights; see MM.
const (
	Thin Weight = iota
	Normal
	Bold
	NoLine
)

// MM is the width on paper.
//
// Source: ISO 128-2 line widths 0.18, 0.35 and 0.7 mm (from memory).
func (w Weight) MM() float64 { return [...]float64{0.18, 0.35, 0.7, 0}[w] }

// Dash is a style of line.
type Dash uint8

// The styles; see Pattern.
const (
	Solid Dash = iota
	Dashed
	Dotted
	DashDot
)

// Pattern lists lengths of dashes and gaps on paper in mm; nil is a solid line.
func (d Dash) Pattern() []float64 {
	return [...][]float64{nil, {2.4, 1.2}, {0.4, 1.2}, {4, 1, 0.6, 1}}[d]
}

// Fill says how the inside of a shape is filled.
type Fill uint8

// The fills. Paper hides what lies below.
const (
	NoFill Fill = iota
	Paper
	Tint // the light colour of the layer
	Full // the full colour of the layer
)

// Shape is one thing that is drawn.
type Shape struct {
	Layer  Layer
	Kind   Kind
	Points []Point
	Radius float64 // of a Circle, mm of the real thing

	Text   string
	Size   float64 // of a Text: height of the font on paper at the scale of the sheet, mm
	Anchor Anchor
	Turn   float64 // of a Text: degrees anticlockwise
	Strong bool    // of a Text: bold face

	Width   float64 // of a line to scale, mm of the real thing
	ToScale bool
	Weight  Weight // of any other line
	Dash    Dash
	Fill    Fill

	HatchDeg, HatchMM float64 // direction and distance of the lines of a Hatch, mm on paper

	Class   string // variant of the layer for styles: "collar", "critical" ...
	Ref     string // id of the item or hole, for links
	Finding int    // number of the finding, 0 for none
	Title   string // what a reader sees when pointing at it
}

// HoleRow is one line of the hole schedule. Lengths are mm on the face; nil is not given.
type HoleRow struct {
	Mark    string // A1
	What    string // "steam outlet steam_1"
	X, Y, D *float64
	Through bool
	Depth   *float64
	Tool    string
	Item    string // id of the item
	Hole    string // id of the hole: the item's, or item.insert_1, item.point_1
	Drawn   bool   // whether the job says where it is, so that the sheet shows it
}

// Mark is one numbered finding on a sheet.
type Mark struct {
	Number   int // place of the group among verdict groups, from 1
	X, Y     float64
	AtX, AtY float64 // what it points at, on the sheet
	Placed   bool    // false when the finding has no place on a face: it is only listed
	Severity string
	Text     string
	Key      string // rule and subject, "steam-outlet-height steam_1"
	Ref      string // id of the subject
}

// Sheet is one drawing. Coordinates are mm of the real thing, x right and y up the sheet.
type Sheet struct {
	ID, Title string
	Face      string // face id, "" for plans and lists
	Down      bool   // the y of the face runs down the sheet: y on the sheet is −y on the face
	Scale     float64
	Bounds    Box // all shapes
	Shapes    []Shape
	Holes     []HoleRow
	Marks     []Mark
	Notes     []string
}

// ZoneArea is one area of a face that lies in an electrical zone.
type ZoneArea = measure.ZoneArea

// sizes of text on paper, mm. At 1:10 a wall of 2.3 m fits on A4 at two thirds of that, which leaves 7 points.
const (
	textSize  = 3.5
	titleSize = 5
)

// ascent and descent of the font over the size: digits and capitals are 0.72 high.
const (
	capHeight = 0.72
	ascent    = 0.78
	descent   = 0.22
)

// TextWidth is the width of a text at a size; see [font.Width].
func TextWidth(s string, size float64, strong bool) float64 { return font.Width(s, size, strong) }

// Box is the area that the shape covers on a sheet of the given scale, mm of the real thing.
func (s *Shape) Box(scale float64) Box {
	if len(s.Points) == 0 {
		return newBox()
	}
	p := s.Points[0]
	switch s.Kind {
	case Circle:
		return boxAt(p, 2*s.Radius, 2*s.Radius)
	case Text:
		w, em := TextWidth(s.Text, s.Size, s.Strong)*scale, s.Size*scale
		left := [...]float64{0, -w / 2, -w}[s.Anchor]
		low, high := -(capHeight/2+descent)*em, (ascent-capHeight/2)*em
		sin, cos := math.Sincos(s.Turn * math.Pi / 180)
		var corners [4]Point
		for i, c := range [4]Point{{X: left, Y: low}, {X: left + w, Y: low}, {X: left + w, Y: high}, {X: left, Y: high}} {
			corners[i] = Point{X: p.X + c.X*cos - c.Y*sin, Y: p.Y + c.X*sin + c.Y*cos}
		}
		return boxOf(corners[:]...)
	}
	b := boxOf(s.Points...)
	if s.ToScale {
		b = b.grow(s.Width / 2)
	}
	return b
}

// Baseline is where a text's baseline starts, given its anchor: the point of a text is at half the height of its capitals.
func (s *Shape) Baseline(scale float64) Point {
	d := capHeight / 2 * s.Size * scale
	sin, cos := math.Sincos(s.Turn * math.Pi / 180)
	return Point{X: s.Points[0].X + d*sin, Y: s.Points[0].Y - d*cos}
}

// HatchLines returns the lines that fill the polygon of a Hatch, as pairs of points, by the even–odd rule. They are cut from one set of
// lines through the origin, so that neighbouring areas of one zone meet.
func (s *Shape) HatchLines(scale float64) [][2]Point {
	step := s.HatchMM * scale
	if s.Kind != Hatch || len(s.Points) < 3 || !(step > 0) {
		return nil
	}
	sin, cos := math.Sincos(s.HatchDeg * math.Pi / 180)
	turned := make([]Point, len(s.Points)) // turned so that the lines lie level
	for i, p := range s.Points {
		turned[i] = Point{X: p.X*cos + p.Y*sin, Y: -p.X*sin + p.Y*cos}
	}
	b := boxOf(turned...)
	const most = 4000
	if (b.MaxY-b.MinY)/step > most {
		step = (b.MaxY - b.MinY) / most
	}
	var out [][2]Point
	for k := math.Ceil(b.MinY / step); k*step <= b.MaxY; k++ {
		y := k * step
		var xs []float64
		for i := range turned {
			p, q := turned[i], turned[(i+1)%len(turned)]
			if (p.Y > y) != (q.Y > y) {
				xs = append(xs, p.X+(y-p.Y)/(q.Y-p.Y)*(q.X-p.X))
			}
		}
		sortFloats(xs)
		for i := 0; i+1 < len(xs); i += 2 {
			back := func(x float64) Point { return Point{X: x*cos - y*sin, Y: x*sin + y*cos} }
			out = append(out, [2]Point{back(xs[i]), back(xs[i+1])})
		}
	}
	return out
}

func sortFloats(xs []float64) {
	for i := 1; i < len(xs); i++ {
		for j := i; j > 0 && xs[j] < xs[j-1]; j-- {
			xs[j], xs[j-1] = xs[j-1], xs[j]
		}
	}
}

// clean shows control characters and invisible formatting characters as code points, puts text on one line, and cuts it at most runes.
func clean(s string, most int) string { return font.Clean(s, most) }

// number writes a length, or a dash when it is not given.
func number(p *float64) string {
	if p == nil {
		return "–"
	}
	return measure.FormatNumber(*p)
}

// Texts are the columns of a row of the schedule after its mark and what it is: x, y, Ø, depth, tool.
func (h *HoleRow) Texts() [5]string {
	depth := number(h.Depth)
	switch {
	case h.Through && h.Depth != nil:
		depth = "through " + depth
	case h.Through:
		depth = "through"
	}
	return [5]string{number(h.X), number(h.Y), number(h.D), depth, h.Tool}
}

// Drawer draws the sheets of one job.
type Drawer struct {
	job   *jobfile.Job
	set   *measure.Set
	ctx   *measure.Context
	faces []*faceHoles
	loose faceHoles // holes whose face is not given
}

// faceHoles is a face with its holes in the order of their marks.
type faceHoles struct {
	face   *measure.Face
	letter string
	holes  []*measure.Hole
	rows   []HoleRow
	marks  map[string]string // hole id -> mark
}

// New prepares the drawings of a job. The set of measures may be nil; with it, sheets say what was measured of cables.
func New(job *jobfile.Job, set *measure.Set) *Drawer {
	d := &Drawer{job: job, set: set, ctx: measure.NewContext(job)}
	byFace := map[string]*faceHoles{}
	for i, f := range d.ctx.Faces {
		fh := &faceHoles{face: f, letter: letter(i)}
		d.faces = append(d.faces, fh)
		if byFace[f.ID] == nil {
			byFace[f.ID] = fh
		}
	}
	holes := d.ctx.Holes()
	for i := range holes {
		fh := byFace[holes[i].Item.Face]
		if fh == nil {
			fh = &d.loose
		}
		fh.holes = append(fh.holes, &holes[i])
	}
	d.loose.letter = "no face "
	for _, fh := range append([]*faceHoles{&d.loose}, d.faces...) {
		d.schedule(fh)
	}
	return d
}

// letter counts A, B ... Z, AA, AB ...
func letter(i int) string {
	s := ""
	for i++; i > 0; i = (i - 1) / 26 {
		s = string(rune('A'+(i-1)%26)) + s
	}
	return s
}

// Sheets draws the job: the plan of the room, every face in the order of the job, and a list of the holes that have no face. Groups are those
// of the review and may be empty. Zones are those to hatch; nil means those of the set of measures.
func (d *Drawer) Sheets(groups []*verdict.Group, zones []ZoneArea) []Sheet {
	if zones == nil && d.set != nil {
		zones = d.set.ZoneAreas()
	}
	m := d.locate(groups)
	out := []Sheet{d.planSheet(m, zones)}
	for _, fh := range d.faces {
		out = append(out, d.faceSheet(fh, m, zones))
	}
	if len(d.loose.rows) > 0 {
		s := newSheet("list-no-face", "Holes whose face the job does not give", "", 10)
		s.Holes = d.loose.rows
		s.Notes = append(s.Notes, "The job does not say on which face these holes are, so no drawing shows them.")
		out = append(out, s.finish())
	}
	used := map[string]bool{}
	for i := range out {
		for n, id := 2, out[i].ID; used[out[i].ID]; n++ {
			out[i].ID = fmt.Sprintf("%s-%d", id, n)
		}
		used[out[i].ID] = true
	}
	return out
}

// safeID makes an id that is safe in SVG, HTML, selectors and file names. Names that the job format takes, a dot aside, stay as they are.
func safeID(s string) string {
	var b strings.Builder
	for _, r := range s {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_' {
			b.WriteRune(r)
			continue
		}
		fmt.Fprintf(&b, "_%x", r)
	}
	return b.String()
}
