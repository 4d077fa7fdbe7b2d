package draw

import (
	"io"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"
)

// Booklet is a PDF of pages that somebody else lays out, with sheets between them. All pages are planned before the first is drawn, so
// that each knows its number and how many there are. A Booklet is for one goroutine.
type Booklet struct {
	d      document
	widths [2]map[rune]float64 // of the letters, plain and bold, over the size
	lacks  map[rune]bool
}

// Leaf is an upright page of A4 that is being drawn. Places are mm from its lower left corner, y up.
type Leaf struct {
	Number, Of int // of the page
	b          *Booklet
	c          *canvas
}

// Size of the pages of a booklet, mm.
//
// Source: ISO 216, A4 (memory).
const (
	PaperWide = a4Short
	PaperHigh = a4Long
)

// NewBooklet begins a booklet. Kind says in a few words what it is: "work pack".
func NewBooklet(info Info, kind string) *Booklet {
	return &Booklet{d: document{info: info, kind: kind, under: 1, c: newCanvas()}, widths: [2]map[rune]float64{{}, {}}, lacks: map[rune]bool{}}
}

// Width is how wide a text is in the font of the booklet, mm.
func (b *Booklet) Width(s string, size float64, strong bool) float64 {
	sum := 0.0
	m := b.widths[btoi(strong)]
	for _, r := range drawable(s) {
		w, ok := m[r]
		if !ok {
			b.d.c.f.SetFont(family, [2]string{"", "B"}[btoi(strong)], 1000)
			w = b.d.c.f.GetStringWidth(string(r)) / (1000 / ptPerMM)
			m[r] = w
		}
		sum += w
	}
	return sum * size
}

// Wrap cuts a text into lines of a width. Words that are wider than a line are cut. A text without words is no line.
func (b *Booklet) Wrap(s string, size, width float64, strong bool) (out []string) {
	s = clean(s, 20_000)
	for _, r := range s {
		if !glyphs()[r] {
			b.lacks[r] = true
		}
	}
	width += 1e-9
	space := b.Width(" ", size, strong)
	var line strings.Builder
	at := 0.0
	flush := func() {
		if line.Len() > 0 {
			out = append(out, line.String())
		}
		line.Reset()
		at = 0
	}
	for _, word := range strings.Fields(s) {
		w := b.Width(word, size, strong)
		if line.Len() > 0 && at+space+w > width {
			flush()
		}
		if line.Len() > 0 {
			line.WriteByte(' ')
			at += space
		}
		if at+w <= width {
			line.WriteString(word)
			at += w
			continue
		}
		for _, r := range word {
			v := b.Width(string(r), size, strong)
			if line.Len() > 0 && at+v > width {
				flush()
			}
			line.WriteRune(r)
			at += v
		}
	}
	flush()
	return out
}

// Lacking lists the characters of the texts so far that the font lacks; they are shown as boxes.
func (b *Booklet) Lacking() []rune {
	return slices.Sorted(maps.Keys(b.lacks))
}

// Pages is how many pages there are so far.
func (b *Booklet) Pages() int { return len(b.d.pages) }

// Mark puts a height of the last page into the outline of the document, at the top level 0 or below the mark before it.
func (b *Booklet) Mark(text string, level int, y float64) {
	p := &b.d.pages[len(b.d.pages)-1]
	p.marks = append(p.marks, bookmark{text, level, y})
}

// Page adds an upright page of A4.
func (b *Booklet) Page(draw func(*Leaf)) {
	n := len(b.d.pages) + 1
	b.d.pages = append(b.d.pages, sheetPage{w: a4Short, h: a4Long, bare: true, upper: func(c *canvas) {
		draw(&Leaf{Number: n, Of: len(b.d.pages), b: b, c: c})
	}})
}

// Sheets adds sheets, each on pages with a title block as PDF makes them, and puts them into the outline below the mark before them.
func (b *Booklet) Sheets(sheets []Sheet) error {
	for i := range sheets {
		if err := finite(&sheets[i]); err != nil {
			return err
		}
		b.d.sheet(&sheets[i])
	}
	return nil
}

// Write writes the booklet. The bytes depend on what was put in alone.
func (b *Booklet) Write(w io.Writer) error { return b.d.write(w) }

// TextStyle says how a text is written.
type TextStyle struct {
	Size   float64 // mm
	Strong bool
	Grey   bool
	White  bool
	Anchor Anchor
}

// Text writes a text with its baseline at a place.
func (p *Leaf) Text(x, y float64, s string, t TextStyle) {
	colour := black
	switch {
	case t.Grey:
		colour = grey
	case t.White:
		colour = white
	}
	if !utf8.ValidString(s) {
		s = strings.ToValidUTF8(s, string(utf8.RuneError))
	}
	p.c.text(words{at: Point{X: x, Y: y}, s: s, size: t.Size, strong: t.Strong, anchor: t.Anchor, colour: colour, as: true})
}

// Line draws a line.
func (p *Leaf) Line(x1, y1, x2, y2 float64, w Weight, d Dash) {
	p.c.line(black, w.MM(), d)
	p.c.path("S", Point{X: x1, Y: y1}, Point{X: x2, Y: y2})
}

// Frame draws an upright rectangle.
func (p *Leaf) Frame(b Box, w Weight) {
	p.c.line(black, w.MM(), Solid)
	p.c.rect("S", b)
}

// Shade fills an upright rectangle with a grey from 0, black, to 1, white.
func (p *Leaf) Shade(b Box, grey float64) {
	p.c.fill(ink{grey, grey, grey, true})
	p.c.rect("f", b)
}

// Shapes draws shapes of a sheet with the upper left corner of what they cover at a place, k mm on paper for a mm on the paper of the sheet.
func (p *Leaf) Shapes(list []Shape, scale float64, bounds Box, x, top, k float64) {
	p.c.shapes(list, view{scale: scale, k: k / scale, em: k, window: Box{-1e9, -1e9, 1e9, 1e9}, at: func(q Point) Point {
		return Point{X: x + (q.X-bounds.MinX)*k/scale, Y: top + (q.Y-bounds.MaxY)*k/scale}
	}})
}

// Link makes a box on the page lead to a page by its number.
func (p *Leaf) Link(b Box, page int) {
	if page < 1 || page > p.Of {
		return
	}
	id := p.c.f.AddLink()
	p.c.f.SetLink(id, 0, page)
	p.c.f.Link(b.MinX, p.c.height-b.MaxY, b.MaxX-b.MinX, b.MaxY-b.MinY, id)
}
