package draw

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Info is what the title block says besides the sheet. All of it is data.
type Info struct {
	Job      string    // reference of the job
	Title    string    // its title
	File     string    // name of the job file
	On       string    // date of judgement, 2006-01-02; it is the date of the document too, so that equal jobs give equal bytes
	Revision string    // see Revision
	Banner   string    // what no reader may miss, in heavy letters on every page; "" for nothing
	Cautions []string  // sentences that stand on every page
	Paper    PaperSize // the largest paper to use
}

// PaperSize is the largest paper that sheets are drawn on.
type PaperSize string

// The papers. Templates are always on A4.
const (
	A3 PaperSize = "a3" // A4, and A3 where a sheet needs it; also the meaning of an empty PaperSize
	A4 PaperSize = "a4" // A4 only; larger sheets are cut in parts
)

// Revision tells the states of a job file apart: the first twelve hexadecimal digits of its SHA-256.
func Revision(jobFile []byte) string {
	h := sha256.Sum256(jobFile)
	return hex.EncodeToString(h[:])[:12]
}

// Sizes on paper, mm.
//
// Source: ISO 216 sizes of paper, ISO 5457 frame (memory; the margin is our own: most printers leave no more than 6 mm blank).
const (
	a4Short, a4Long = 210, 297
	a3Short, a3Long = 297, 420
	margin          = 8
	gutter          = 4   // between the parts of a page
	overlap         = 15  // of the parts of a sheet
	checkMM         = 100 // length of the check bars
	stripWide       = 44  // of a title block that stands upright
	listSize        = 2.8 // text of lists
	smallSize       = 2.1
	mostParts       = 12 // of one sheet; a drawing that is larger is drawn smaller
)

// sheetPage is one page before its number is known.
type sheetPage struct {
	w, h   float64
	block  Box
	title  string
	scale  string // "1:10"
	k      float64
	mark   string // bookmark; "" for none
	level  int    // of the bookmark
	marks  []bookmark
	bare   bool // without a title block
	lacks  bool // whether boxes stand for characters
	upper  func(c *canvas)
	number int
}

// bookmark is an entry of the outline that leads to a height of a page.
type bookmark struct {
	text  string
	level int
	y     float64
}

// document is a PDF that is being laid out. All pages are planned before the first is drawn, so that each knows how many there are.
type document struct {
	info  Info
	kind  string
	pages []sheetPage
	under int     // level of the bookmarks of sheets
	c     *canvas // nil until somebody measures or draws
}

// PDF writes sheets as one document to be printed at full size: each at its own scale on A4, on A3 where it needs it, and in parts
// that overlap where it is larger; then its legend, hole schedule, findings and notes. Every page has a title block with a check bar of 100 mm.
// The bytes depend on the sheets and Info alone. Text that the embedded font lacks is shown as boxes, and a note lists the characters.
func PDF(w io.Writer, sheets []Sheet, info Info) error {
	d := &document{info: info, kind: "setting-out sheets"}
	for i := range sheets {
		if err := finite(&sheets[i]); err != nil {
			return err
		}
		d.sheet(&sheets[i])
	}
	return d.write(w)
}

// finite refuses sheets with numbers that no paper has.
func finite(s *Sheet) error {
	bad := func(v ...float64) bool {
		return slices.ContainsFunc(v, func(x float64) bool { return math.IsNaN(x) || math.Abs(x) > 1e12 })
	}
	wrong := bad(s.Scale)
	if len(s.Shapes) > 0 {
		wrong = wrong || bad(s.Bounds.MinX, s.Bounds.MinY, s.Bounds.MaxX, s.Bounds.MaxY)
	}
	for i := range s.Shapes {
		x := &s.Shapes[i]
		wrong = wrong || bad(x.Radius, x.Width, x.Size, x.Turn)
		for _, p := range x.Points {
			wrong = wrong || bad(p.X, p.Y)
		}
	}
	for i := range s.Holes {
		for _, p := range [...]*float64{s.Holes[i].X, s.Holes[i].Y, s.Holes[i].D} {
			wrong = wrong || p != nil && bad(*p)
		}
	}
	if wrong {
		return fmt.Errorf("sheet %s holds a number that cannot be drawn", clean(s.ID, 80))
	}
	return nil
}

func (d *document) write(w io.Writer) error {
	if len(d.pages) == 0 {
		return fmt.Errorf("there is nothing to draw")
	}
	c := d.c
	if c == nil {
		c = newCanvas()
	}
	on, err := time.Parse(time.DateOnly, d.info.On)
	if err != nil {
		on = time.Unix(0, 0).UTC() // no date is never today
	}
	c.f.SetCreationDate(on)
	c.f.SetModificationDate(on)
	c.f.SetCatalogSort(true)
	c.f.SetCompression(true)
	c.f.SetProducer("wetrule", true)
	c.f.SetLang("en-GB")
	c.f.SetTitle(drawable(clean(d.name()+", "+d.kind, 200)), true)
	for i := range d.pages {
		p := &d.pages[i]
		c.page(p.w, p.h)
		p.number = i + 1
		if p.mark != "" {
			c.f.SetFont(family, "", 10)
			c.f.Bookmark(drawable(clean(p.mark, 120)), p.level, 0)
		}
		for _, m := range p.marks {
			c.f.SetFont(family, "", 10)
			c.f.Bookmark(drawable(clean(m.text, 120)), m.level, p.h-m.y)
		}
		p.upper(c)
		if !p.bare {
			d.block(c, p)
		}
	}
	var out bytes.Buffer
	if err := c.f.Output(&out); err != nil {
		return err
	}
	data, err := unscaled(out.Bytes())
	if err != nil {
		return err
	}
	_, err = w.Write(data)
	return err
}

// unscaled asks the viewer in the catalog of a document, its last object, to print at full size unless told otherwise.
//
// Source: ISO 32000-1, 12.2, PrintScaling (memory).
func unscaled(doc []byte) ([]byte, error) {
	catalog, start := []byte("/Type /Catalog\n"), []byte("startxref\n")
	i, j := bytes.LastIndex(doc, catalog), bytes.LastIndex(doc, start)
	if i < 0 || j < i {
		return nil, errors.New("the document has no catalog")
	}
	number, rest, ok := bytes.Cut(doc[j+len(start):], []byte("\n"))
	at, err := strconv.Atoi(string(number))
	if !ok || err != nil || at < i || at > j {
		return nil, errors.New("the document has no table of its objects")
	}
	const wish = "/ViewerPreferences <</PrintScaling /None>>\n"
	i += len(catalog)
	return slices.Concat(doc[:i], []byte(wish), doc[i:j], start, []byte(strconv.Itoa(at+len(wish))+"\n"), rest), nil
}

func (d *document) name() string {
	s := d.info.Job
	if d.info.Title != "" {
		s += ", " + d.info.Title
	}
	if s == "" {
		s = "job without a reference"
	}
	return s
}

// scaleText writes a scale.
func scaleText(scale float64) string {
	if scale < 1 {
		return num(1/scale) + ":1"
	}
	return "1:" + num(scale)
}

// cell is one field of the title block.
type cell struct {
	label string
	lines []string
	share float64 // of the width
}

// blockRows lays out the fields of a title block.
func (d *document) blockRows(p *sheetPage, width float64) (rows [][]cell, cautions []string) {
	strip := width < checkMM
	orDash := func(s string) string {
		if s == "" {
			return "–"
		}
		return s
	}
	page := fmt.Sprintf("%d of %d", p.number, len(d.pages))
	if p.number == 0 {
		page = "9999 of 9999"
	}
	fields := [][]cell{
		{{label: "Job", lines: []string{d.name()}, share: 0.5}, {label: "Drawing", lines: []string{p.title}, share: 0.5}},
		{{label: "Job file", lines: []string{orDash(d.info.File)}, share: 0.32}, {label: "Judged on", lines: []string{orDash(d.info.On)}, share: 0.15}, {label: "Revision", lines: []string{orDash(d.info.Revision)}, share: 0.2}, {label: "Scale", lines: []string{p.scale}, share: 0.15}, {label: "Page", lines: []string{page}, share: 0.18}},
	}
	for _, row := range fields {
		if strip {
			for _, f := range row {
				rows = append(rows, []cell{{label: f.label, lines: f.lines, share: 1}})
			}
			continue
		}
		rows = append(rows, row)
	}
	for _, row := range rows {
		for i := range row {
			const most = 4
			row[i].lines = wrapped(clean(row[i].lines[0], 400), listSize, row[i].share*width-2, true)
			if n := len(row[i].lines); n > most {
				row[i].lines = row[i].lines[:most]
				row[i].lines[most-1] += "…"
			}
		}
	}
	if len(d.info.Cautions) > 0 {
		cautions = wrapped(clean(strings.Join(d.info.Cautions, " "), 2000), smallSize, width-3, false)
	}
	return rows, cautions
}

const (
	rowPad   = 3.6 // of a row of the title block besides its lines
	lineStep = 3.5
	capStep  = 2.75
	barRow   = 10
)

func rowHeight(row []cell) float64 {
	n := 1
	for _, f := range row {
		n = max(n, len(f.lines))
	}
	return rowPad + float64(n)*lineStep
}

const bannerSize = 3.2

// bannerLines cuts the banner of a page to a width.
func (d *document) bannerLines(width float64) []string {
	return wrapped(clean(d.info.Banner, 400), bannerSize, width-3, true)
}

func (d *document) bannerHeight(width float64) float64 {
	n := len(d.bannerLines(width))
	if n == 0 {
		return 0
	}
	return float64(n)*bannerSize*1.25 + 2.2
}

// blockHeight is how high the title block of a page is at a width.
func (d *document) blockHeight(p *sheetPage, width float64) float64 {
	rows, cautions := d.blockRows(p, width)
	h := d.bannerHeight(width)
	for _, row := range rows {
		h += rowHeight(row)
	}
	if width < checkMM {
		h += checkMM + 10
	} else {
		h += barRow
	}
	h += 1.5 + float64(len(cautions))*capStep
	if p.lacks {
		h += capStep
	}
	return h
}

// block draws the title block.
func (d *document) block(c *canvas, p *sheetPage) {
	b := p.block
	width := b.MaxX - b.MinX
	rows, cautions := d.blockRows(p, width)
	y := b.MaxY
	if h := d.bannerHeight(width); h > 0 {
		for i, s := range d.bannerLines(width) {
			c.text(words{at: Point{X: b.MinX + 1.5, Y: y - 4 - float64(i)*bannerSize*1.25}, s: s, size: bannerSize, strong: true})
		}
		y -= h
		c.line(black, Bold.MM(), Solid)
		c.path("S", Point{X: b.MinX, Y: y}, Point{X: b.MaxX, Y: y})
	}
	c.line(black, Thin.MM(), Solid)
	for _, row := range rows {
		h := rowHeight(row)
		x := b.MinX
		for _, f := range row {
			w := f.share * width
			c.path("S", Point{X: x, Y: y}, Point{X: x, Y: y - h})
			c.text(words{at: Point{X: x + 1, Y: y - 2.6}, s: f.label, size: smallSize, colour: grey})
			for i, s := range f.lines {
				c.text(words{at: Point{X: x + 1, Y: y - 5.8 - float64(i)*lineStep}, s: s, size: listSize, strong: true})
			}
			x += w
		}
		y -= h
		c.line(black, Thin.MM(), Solid)
		c.path("S", Point{X: b.MinX, Y: y}, Point{X: b.MaxX, Y: y})
	}
	real := ""
	if p.k != 1 {
		real = " It stands for " + num(checkMM/p.k) + " mm of the real thing."
	}
	says := "Check bar: 100 mm. If it measures anything else, print again at full size (100 %, not “fit to page”)." + real
	if width < checkMM {
		checkBar(c, Point{X: b.MinX + 8, Y: y - checkMM - 5}, true)
		for i, s := range wrapped(says, smallSize+0.2, width-22, false) {
			c.text(words{at: Point{X: b.MinX + 16, Y: y - 9 - float64(i)*3.2}, s: s, size: smallSize + 0.2})
		}
		y -= checkMM + 10
	} else {
		checkBar(c, Point{X: b.MinX + 5, Y: y - 6}, false)
		for i, s := range wrapped(says, smallSize, width-checkMM-14, false) {
			c.text(words{at: Point{X: b.MinX + checkMM + 11, Y: y - 3 - float64(i)*capStep}, s: s, size: smallSize})
		}
		y -= barRow
	}
	c.line(black, Thin.MM(), Solid)
	c.path("S", Point{X: b.MinX, Y: y}, Point{X: b.MaxX, Y: y})
	y -= 0.8
	for _, s := range cautions {
		y -= capStep
		c.text(words{at: Point{X: b.MinX + 1.5, Y: y + 0.6}, s: s, size: smallSize})
	}
	if p.lacks {
		y -= capStep
		c.text(words{at: Point{X: b.MinX + 1.5, Y: y + 0.6}, s: string(boxRune) + " stands for a character that the font lacks: see the notes.", size: smallSize, strong: true, fit: width - 3})
	}
	c.line(black, Normal.MM(), Solid)
	c.rect("S", b)
}

// checkBar draws a bar of 100 mm with a mark each 10 mm, from the middle of its first mark to the middle of its last.
func checkBar(c *canvas, p Point, upright bool) {
	at := func(along, across float64) Point {
		if upright {
			return Point{X: p.X + across, Y: p.Y + along}
		}
		return Point{X: p.X + along, Y: p.Y + across}
	}
	c.line(black, Thin.MM(), Solid)
	c.op("0 J")
	c.path("S", at(0, 0), at(checkMM, 0))
	for i := range 11 {
		long := 1.8
		if i%10 == 0 {
			long = 3.5
		} else if i%5 == 0 {
			long = 2.6
		}
		c.path("S", at(float64(i)*10, 0), at(float64(i)*10, long))
	}
	c.op("1 J")
	turn := 0.0
	if upright {
		turn = 90
	}
	off := [2]float64{-3, -0.9}[btoi(upright)] // turned text stands left of its baseline
	c.text(words{at: at(0, off), s: "0", size: smallSize, anchor: Middle, turn: turn})
	c.text(words{at: at(50, off), s: "check 100 mm", size: smallSize, anchor: Middle, turn: turn, strong: true})
	c.text(words{at: at(100, off), s: "100", size: smallSize, anchor: Middle, turn: turn})
}

// piece is a part of a list that stands whole on one page.
type piece struct {
	height func(w float64) float64
	draw   func(c *canvas, x, top, w float64)
	keep   bool   // not the last of a page
	head   *piece // comes again at the top of a page that this piece begins
}

// placedPiece is where a piece stands.
type placedPiece struct {
	*piece
	x, top, w float64
}

// pour puts pieces into areas, one after the other, and makes more areas as it needs them.
func pour(pieces []*piece, areas []Box, more func() Box) [][]placedPiece {
	var out [][]placedPiece
	next := 0 // area
	var b Box
	y := 0.0
	open := func() {
		if next < len(areas) {
			b = areas[next]
		} else {
			b = more()
		}
		next++
		y = b.MaxY
		out = append(out, nil)
	}
	open()
	for i := 0; i < len(pieces); i++ {
		w := b.MaxX - b.MinX
		need := 0.0
		for k := i; k < len(pieces); k++ {
			need += pieces[k].height(w)
			if !pieces[k].keep {
				break
			}
		}
		fresh := y == b.MaxY
		if fresh && pieces[i].head != nil {
			need += pieces[i].head.height(w)
		}
		if y-need < b.MinY-1e-9 && (!fresh || next <= len(areas)) {
			open()
			i--
			continue
		}
		p := pieces[i]
		at := len(out) - 1
		if fresh && p.head != nil {
			out[at] = append(out[at], placedPiece{p.head, b.MinX, y, w})
			y -= p.head.height(w)
		}
		out[at] = append(out[at], placedPiece{p, b.MinX, y, w})
		y -= p.height(w)
	}
	return out
}

// heading is the title of a list.
func heading(s string) *piece {
	return &piece{keep: true, height: func(float64) float64 { return 7 }, draw: func(c *canvas, x, top, w float64) {
		c.text(words{at: Point{X: x, Y: top - 5}, s: s, size: 3.4, strong: true, fit: w})
	}}
}

// paragraph is a text with an optional hanging number.
func paragraph(s string, size float64, strong bool, indent float64, sign func(c *canvas, p Point)) *piece {
	step := size * 1.3
	lines := func(w float64) []string { return wrapped(s, size, w-indent, strong) }
	return &piece{
		height: func(w float64) float64 { return float64(max(1, len(lines(w))))*step + 1 },
		draw: func(c *canvas, x, top, w float64) {
			if sign != nil {
				sign(c, Point{X: x, Y: top - size})
			}
			for i, l := range lines(w) {
				c.text(words{at: Point{X: x + indent, Y: top - size - float64(i)*step}, s: l, size: size, strong: strong})
			}
		},
	}
}

// column is one column of a table.
type column struct {
	head   string
	fixed  bool // never wrapped
	right  bool // stands to the right
	strong bool
}

// table lays out rows of cells. Columns of words give way where there is no room.
func table(columns []column, rows [][]string) []*piece {
	const size, pad, step = listSize, 3.0, listSize * 1.25
	natural := make([]float64, len(columns))
	for i, col := range columns {
		natural[i] = TextWidth(col.head, size, true) + pad
		for _, r := range rows {
			natural[i] = max(natural[i], TextWidth(r[i], size, col.strong)+pad)
		}
	}
	widthsFor := func(w float64) []float64 {
		out := slices.Clone(natural)
		sum, soft := 0.0, 0.0
		for i, v := range natural {
			sum += v
			if !columns[i].fixed {
				soft += v
			}
		}
		if sum <= w {
			return out
		}
		for i := range out {
			if !columns[i].fixed {
				out[i] = max(8, out[i]*max(0, w-(sum-soft))/soft)
			}
		}
		return out
	}
	row := func(cells []string, head bool) *piece {
		split := func(ws []float64) (lines [][]string, n int) {
			n = 1
			for i, s := range cells {
				l := []string{s}
				if !columns[i].fixed {
					l = wrapped(s, size, ws[i]-pad, head || columns[i].strong)
				}
				lines = append(lines, l)
				n = max(n, len(l))
			}
			return lines, n
		}
		return &piece{keep: head,
			height: func(w float64) float64 {
				_, n := split(widthsFor(w))
				return float64(n)*step + 1.2
			},
			draw: func(c *canvas, x, top, w float64) {
				ws := widthsFor(w)
				lines, n := split(ws)
				at := x
				for i, cellLines := range lines {
					for k, s := range cellLines {
						t := words{at: Point{X: at, Y: top - size - float64(k)*step}, s: s, size: size, strong: head || columns[i].strong}
						if columns[i].right {
							t.at.X, t.anchor = at+ws[i]-pad, End
						}
						c.text(t)
					}
					at += ws[i]
				}
				y := top - float64(n)*step - 0.7
				c.line([2]ink{grey, black}[btoi(head)], Thin.MM(), Solid)
				c.path("S", Point{X: x, Y: y}, Point{X: min(at, x+w), Y: y})
			}}
	}
	heads := make([]string, len(columns))
	for i := range columns {
		heads[i] = columns[i].head
	}
	head := row(heads, true)
	out := []*piece{head}
	for _, r := range rows {
		p := row(r, false)
		p.head = head
		out = append(out, p)
	}
	return out
}

var holeColumns = []column{{head: "Mark", strong: true, fixed: true}, {head: "Hole"}, {head: "x", fixed: true, right: true}, {head: "y", fixed: true, right: true}, {head: "Ø", fixed: true, right: true}, {head: "Depth"}, {head: "Tool"}}

// lists are what stands beside or behind a drawing.
func (d *document) lists(s *Sheet, notes []string) (out []*piece) {
	const q = 0.8 // the legend is made for text of 3.5 mm
	lay := func(w float64) *furniture {
		f := &furniture{em: textSize, scale: 1, width: w / q}
		f.legend(s)
		return f
	}
	if f := lay(a4Short - 2*margin); len(f.shapes) > 0 {
		out = append(out, heading("Signs"), &piece{
			height: func(w float64) float64 { return -lay(w).y*q + 1 },
			draw: func(c *canvas, x, top, w float64) {
				c.shapes(lay(w).shapes, view{scale: 1, k: q, em: q, window: Box{-1e9, -1e9, 1e9, 1e9}, at: func(p Point) Point { return Point{X: x + p.X*q, Y: top + p.Y*q} }})
			}})
	}
	if len(s.Holes) > 0 {
		out = append(out, heading("Hole schedule (mm)"))
		rows := make([][]string, len(s.Holes))
		for i := range s.Holes {
			t := s.Holes[i].Texts()
			rows[i] = append([]string{s.Holes[i].Mark, s.Holes[i].What}, t[:]...)
		}
		out = append(out, table(holeColumns, rows)...)
	}
	if len(s.Marks) > 0 {
		head := "Findings that have no place on a sheet"
		if slices.ContainsFunc(s.Marks, func(m Mark) bool { return m.Placed }) {
			head = "Findings on this sheet"
		}
		out = append(out, heading(head))
		seen := map[int]bool{}
		for _, m := range s.Marks {
			if seen[m.Number] {
				continue // one finding with several places
			}
			seen[m.Number] = true
			out = append(out, paragraph(m.Severity+": "+m.Text, listSize, false, 9, func(c *canvas, p Point) {
				sign := badge(m, Point{X: 3.5, Y: listSize * 0.36}, 6.4, 3.6)
				c.shapes([]Shape{sign, {Layer: FindingLayer, Kind: Text, Points: []Point{{X: 3.5, Y: listSize * 0.36}}, Text: strconv.Itoa(m.Number), Size: 2.4, Anchor: Middle, Strong: true, Class: m.Severity}},
					view{scale: 1, k: 1, em: 1, window: Box{-1e9, -1e9, 1e9, 1e9}, at: func(q Point) Point { return Point{X: p.X + q.X, Y: p.Y + q.Y} }})
			}))
		}
	}
	if len(notes) > 0 {
		out = append(out, heading("Notes"))
		for _, n := range notes {
			out = append(out, paragraph(n, listSize, false, 0, nil))
		}
	}
	return out
}

// lackNote says what the boxes stand for.
func (d *document) lackNote(s *Sheet) string {
	texts := []string{d.name(), d.info.File, d.info.On, d.info.Revision, s.Title, d.info.Banner, strings.Join(d.info.Cautions, " ")}
	for i := range s.Shapes {
		texts = append(texts, s.Shapes[i].Text)
	}
	for i := range s.Holes {
		texts = append(texts, s.Holes[i].What, s.Holes[i].Tool, s.Holes[i].Mark)
	}
	for i := range s.Marks {
		texts = append(texts, s.Marks[i].Text)
	}
	texts = append(texts, s.Notes...)
	runes := lacking(texts...)
	if len(runes) == 0 {
		return ""
	}
	codes := make([]string, len(runes))
	for i, r := range runes {
		codes[i] = fmt.Sprintf("U+%04X", r)
	}
	return string(boxRune) + " stands for a character that the font of this document lacks. On this sheet: " + strings.Join(codes, ", ") + "."
}

// placing is how a drawing lies on paper.
type placing struct {
	w, h  float64
	strip bool
	at    Box   // the drawing on paper
	areas []Box // room for lists beside it
}

// blockOn places the title block of a page and returns the room that it leaves.
func (d *document) blockOn(p *sheetPage, strip bool) (room Box) {
	frame := Box{margin, margin, p.w - margin, p.h - margin}
	if strip {
		h := d.blockHeight(p, stripWide)
		p.block = Box{frame.MaxX - stripWide, frame.MinY, frame.MaxX, frame.MinY + h}
		frame.MaxX -= stripWide + gutter
		return frame
	}
	w := min(frame.MaxX-frame.MinX, a4Short-2*margin)
	h := d.blockHeight(p, w)
	p.block = Box{frame.MaxX - w, frame.MinY, frame.MaxX, frame.MinY + h}
	frame.MinY += h + gutter
	return frame
}

// papers are the papers that may be used, smallest first.
func (d *document) papers() [][2]float64 {
	out := [][2]float64{{a4Short, a4Long}, {a4Long, a4Short}}
	if d.info.Paper != A4 {
		out = append(out, [2]float64{a3Short, a3Long}, [2]float64{a3Long, a3Short})
	}
	return out
}

// sheet plans the pages of one sheet.
func (d *document) sheet(s *Sheet) {
	notes := s.Notes
	lack := d.lackNote(s)
	scale := s.Scale
	if !(scale > 0) {
		scale = 10
	}
	proto := sheetPage{title: s.Title, lacks: lack != ""}
	b := s.Bounds
	var areas []Box
	first := len(d.pages)
	if len(s.Shapes) > 0 && b.MaxX > b.MinX && b.MaxY > b.MinY {
		drawn, fits := scale, false
		for step := 0; ; step++ {
			w, h := (b.MaxX-b.MinX)/drawn, (b.MaxY-b.MinY)/drawn
			if areas, fits = d.onOne(proto, s, drawn, w, h); fits || d.inParts(proto, s, drawn, w, h) {
				break
			}
			drawn *= [...]float64{2, 2.5, 2}[step%3] // 1:10, 1:20, 1:50, 1:100 ...
		}
		if drawn != scale {
			notes = append(slices.Clip(notes), fmt.Sprintf("The drawing reaches far beyond the face, so it is drawn at %s and its texts are small: take the figures from the schedule.", scaleText(drawn)))
		}
	}
	if lack != "" {
		notes = append(slices.Clip(notes), lack)
	}
	d.pourLists(d.lists(s, notes), proto, areas, len(d.pages) > first)
	if len(d.pages) > first {
		d.pages[first].mark, d.pages[first].level = s.Title, d.under
	}
}

// pourLists puts lists into the areas of the page before and on pages of their own.
func (d *document) pourLists(pieces []*piece, proto sheetPage, areas []Box, after bool) {
	if len(pieces) == 0 && after {
		return
	}
	if after {
		proto.title += ": lists"
	}
	proto.w, proto.h, proto.scale, proto.k = a4Short, a4Long, "–", 1
	room := d.blockOn(&proto, false)
	before := len(d.pages) - 1
	n := 0
	poured := pour(pieces, areas, func() Box {
		n++
		return room
	})
	for i, list := range poured {
		put := func(c *canvas) {
			for _, p := range list {
				p.draw(c, p.x, p.top, p.w)
			}
		}
		if i < len(areas) {
			under := d.pages[before].upper
			d.pages[before].upper = func(c *canvas) { under(c); put(c) }
			continue
		}
		p := proto
		p.upper = put
		d.pages = append(d.pages, p)
	}
}

// onOne draws a sheet on one page, on the smallest paper that takes it, and returns the room beside it.
func (d *document) onOne(p sheetPage, s *Sheet, scale, w, h float64) ([]Box, bool) {
	p.scale, p.k = scaleText(scale), 1/scale
	for _, paper := range d.papers() {
		for _, strip := range [2]bool{false, true} {
			p.w, p.h = paper[0], paper[1]
			room := d.blockOn(&p, strip)
			if strip && p.block.MaxY > p.h-margin || w > room.MaxX-room.MinX || h > room.MaxY-room.MinY {
				continue
			}
			corner := Point{X: room.MinX, Y: room.MaxY - h} // lower left of the drawing
			var areas []Box
			below := Box{room.MinX, room.MinY, room.MaxX, corner.Y - gutter}
			const leastWide, leastHigh = 95, 30
			if right := (Box{room.MinX + w + gutter, room.MinY, room.MaxX, room.MaxY}); right.MaxX-right.MinX >= leastWide {
				areas = append(areas, right)
				below.MaxX = room.MinX + w
			}
			if below.MaxX-below.MinX >= leastWide && below.MaxY-below.MinY >= leastHigh {
				areas = append(areas, below)
			}
			if left := (Box{margin, margin, p.block.MinX - gutter, p.block.MaxY}); !strip && left.MaxX-left.MinX >= 75 {
				areas = append(areas, left)
			}
			p.upper = func(c *canvas) { d.drawing(c, s, scale, corner, s.Bounds) }
			d.pages = append(d.pages, p)
			return areas, true
		}
	}
	return nil, false
}

// drawing draws a part of a sheet with the lower left corner of the part at a place on paper.
func (d *document) drawing(c *canvas, s *Sheet, scale float64, corner Point, part Box) {
	natural := s.Scale
	if !(natural > 0) {
		natural = scale
	}
	c.shapes(s.Shapes, view{scale: natural, k: 1 / scale, em: natural / scale, window: part, at: func(p Point) Point {
		return Point{X: corner.X + (p.X-part.MinX)/scale, Y: corner.Y + (p.Y-part.MinY)/scale}
	}})
}

// inParts draws a sheet on several pages that overlap; false when they would be too many.
func (d *document) inParts(p sheetPage, s *Sheet, scale, w, h float64) bool {
	p.scale, p.k = scaleText(scale), 1/scale
	count := func(size, room float64) int { return max(1, int(math.Ceil((size-overlap)/(room-overlap)-1e-9))) }
	papers := d.papers()
	papers = papers[len(papers)-2:]
	best, nx, ny := -1, 0, 0
	p.title = s.Title + ", part 99 of 99 (joins part 99 on the left, part 99 on the right, part 99 above, part 99 below)"
	for i, paper := range papers {
		p.w, p.h = paper[0], paper[1]
		room := d.blockOn(&p, false)
		x, y := count(w, room.MaxX-room.MinX), count(h, room.MaxY-room.MinY)
		if best < 0 || x*y < nx*ny {
			best, nx, ny = i, x, y
		}
	}
	if nx*ny > mostParts || nx > mostParts || ny > mostParts {
		return false
	}
	p.w, p.h = papers[best][0], papers[best][1]
	room := d.blockOn(&p, false)
	rw, rh := room.MaxX-room.MinX, room.MaxY-room.MinY
	part := func(col, row int) Box { // row 0 is the top one
		x := s.Bounds.MinX + float64(col)*(rw-overlap)*scale
		top := s.Bounds.MaxY - float64(row)*(rh-overlap)*scale
		return Box{x, top - rh*scale, x + rw*scale, top}
	}
	// Parts that show nothing are left away.
	var all []Box
	number := map[[2]int]int{}
	var cells [][2]int
	for row := range ny {
		for col := range nx {
			b := part(col, row)
			if !slices.ContainsFunc(s.Shapes, func(x Shape) bool {
				return x.Box(s.Scale).Overlaps(b) || x.Kind == Line && boxOf(x.Points...).grow(1e-3).Overlaps(b)
			}) {
				continue
			}
			number[[2]int{col, row}] = len(all)
			cells = append(cells, [2]int{col, row})
			all = append(all, b)
		}
	}
	for n, at := range cells {
		q := p
		var joins []string
		var sides []int
		for _, side := range [4]struct {
			words  string
			dx, dy int
		}{{"on the left", -1, 0}, {"on the right", 1, 0}, {"above", 0, -1}, {"below", 0, 1}} {
			if k, ok := number[[2]int{at[0] + side.dx, at[1] + side.dy}]; ok {
				sides = append(sides, k)
				joins = append(joins, fmt.Sprintf("part %d %s", k+1, side.words))
			}
		}
		q.title = fmt.Sprintf("%s, part %d of %d", s.Title, n+1, len(all))
		if len(joins) > 0 {
			q.title += " (joins " + strings.Join(joins, ", ") + ")"
		}
		q.upper = func(c *canvas) {
			c.clip(room, func() { d.drawing(c, s, scale, Point{X: room.MinX, Y: room.MinY}, all[n]) })
			onPaper := func(b Box) Box {
				at := func(v, lo, corner float64) float64 { return corner + (v-lo)/scale }
				return Box{at(b.MinX, all[n].MinX, room.MinX), at(b.MinY, all[n].MinY, room.MinY), at(b.MaxX, all[n].MinX, room.MinX), at(b.MaxY, all[n].MinY, room.MinY)}
			}
			for _, k := range sides {
				overlapMarks(c, room, onPaper(all[k]))
			}
			// The map of the parts stands left of the title block when there is room, else it is left to the words.
			if p.block.MinX-margin > 30 {
				tileMap(c, Box{margin, margin, p.block.MinX - gutter, p.block.MaxY}, s, all, n, nil)
			}
		}
		d.pages = append(d.pages, q)
	}
	return true
}

// overlapMarks shows on a page where a neighbour begins: a dashed line, and in the middle of the overlap two crosses that lie at the same
// places on both pages. They are slanted, so that nobody takes them for the centre of a hole. Boxes are on paper.
func overlapMarks(c *canvas, mine, theirs Box) {
	both := Box{max(mine.MinX, theirs.MinX), max(mine.MinY, theirs.MinY), min(mine.MaxX, theirs.MaxX), min(mine.MaxY, theirs.MaxY)}
	if both.MaxX <= both.MinX || both.MaxY <= both.MinY {
		return
	}
	c.line(grey, Thin.MM(), Dashed)
	inner := func(v, lo, hi float64) bool { return v > lo+1e-6 && v < hi-1e-6 }
	for _, x := range [2]float64{theirs.MinX, theirs.MaxX} {
		if inner(x, mine.MinX, mine.MaxX) {
			c.path("S", Point{X: x, Y: both.MinY}, Point{X: x, Y: both.MaxY})
		}
	}
	for _, y := range [2]float64{theirs.MinY, theirs.MaxY} {
		if inner(y, mine.MinY, mine.MaxY) {
			c.path("S", Point{X: both.MinX, Y: y}, Point{X: both.MaxX, Y: y})
		}
	}
	for _, p := range registers(both) {
		c.line(black, Thin.MM(), Solid)
		for _, turn := range [2]float64{1, -1} {
			c.path("S", Point{X: p.X - 2.4, Y: p.Y - 2.4*turn}, Point{X: p.X + 2.4, Y: p.Y + 2.4*turn})
		}
		c.circle("S", p, 1.5)
	}
}

// registers are the places of the crosses in an overlap.
func registers(b Box) [2]Point {
	x, y := (b.MinX+b.MaxX)/2, (b.MinY+b.MaxY)/2
	if b.MaxX-b.MinX > b.MaxY-b.MinY {
		q := (b.MaxX - b.MinX) / 4
		return [2]Point{{X: x - q, Y: y}, {X: x + q, Y: y}}
	}
	q := (b.MaxY - b.MinY) / 4
	return [2]Point{{X: x, Y: y - q}, {X: x, Y: y + q}}
}

// tileMap draws in a box on paper where the parts of a sheet lie; the part at hand is grey. Parts have their numbers, or names, where there is room.
func tileMap(c *canvas, box Box, s *Sheet, parts []Box, current int, names []string) {
	all := newBox()
	for _, p := range parts {
		all = all.add(p)
	}
	outline := outlineOf(s)
	if len(outline) > 0 {
		all = all.add(boxOf(outline...))
	}
	w, h := all.MaxX-all.MinX, all.MaxY-all.MinY
	if !(w > 0 && h > 0) || !(box.MaxX > box.MinX && box.MaxY > box.MinY) {
		return
	}
	k := min((box.MaxX-box.MinX)/w, (box.MaxY-box.MinY)/h)
	dx, dy := box.MinX+(box.MaxX-box.MinX-w*k)/2, box.MinY+(box.MaxY-box.MinY-h*k)/2
	at := func(p Point) Point { return Point{X: dx + (p.X-all.MinX)*k, Y: dy + (p.Y-all.MinY)*k} }
	on := func(b Box) Box {
		p, q := at(Point{X: b.MinX, Y: b.MinY}), at(Point{X: b.MaxX, Y: b.MaxY})
		return Box{p.X, p.Y, q.X, q.Y}
	}
	if current >= 0 {
		c.fill(ink{0.75, 0.75, 0.75, true})
		c.rect("f", on(parts[current]))
	}
	if len(outline) > 2 {
		ring := make([]Point, len(outline))
		for i, p := range outline {
			ring[i] = at(p)
		}
		c.line(black, Normal.MM(), Solid)
		c.path("s", ring...)
	}
	c.line(black, Thin.MM(), Solid)
	for _, p := range parts {
		c.rect("S", on(p))
	}
	var taken []Box
	write := func(i int) {
		b := on(parts[i])
		name := strconv.Itoa(i + 1)
		if names != nil {
			name = names[i]
		}
		size := min(4, max(1.8, (b.MaxY-b.MinY)*0.4))
		label := boxAt(Point{X: (b.MinX + b.MaxX) / 2, Y: (b.MinY + b.MaxY) / 2}, TextWidth(name, size, true)+0.4, size)
		if i != current && label.MaxX-label.MinX > b.MaxX-b.MinX || slices.ContainsFunc(taken, label.Overlaps) {
			return
		}
		// The name of a part at the edge of the map stays inside it.
		wide := label.MaxX - label.MinX
		label.MinX = min(max(label.MinX, box.MinX), box.MaxX-wide)
		label.MaxX = label.MinX + wide
		taken = append(taken, label)
		c.text(words{at: Point{X: label.MinX + 0.2, Y: (b.MinY+b.MaxY)/2 - size*capHeight/2}, s: name, size: size, strong: true, halo: i != current})
	}
	if current >= 0 {
		write(current) // it has its name whatever the others have
	}
	for i := range parts {
		if i != current {
			write(i)
		}
	}
}

// outlineOf is the outline of the panel on a sheet.
func outlineOf(s *Sheet) []Point {
	for i := range s.Shapes {
		x := &s.Shapes[i]
		if x.Layer == PanelLayer && x.Kind == Polygon && (strings.Contains(x.Class, "outline") || x.Class == "room") {
			return x.Points
		}
	}
	return nil
}
