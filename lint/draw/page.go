package draw

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
)

// ptPerMM is a millimetre in the points of a PDF.
//
// Source: ISO 32000-1, 8.3.2.3: the default unit is 1/72 inch (memory).
const ptPerMM = 72 / 25.4

// canvas draws on the pages of a PDF. Places are mm on paper from the lower left corner, y up.
type canvas struct {
	f      *fpdf.Fpdf
	height float64 // of the page at hand
}

// family is the name of the embedded font. Its letters are as wide as those of the table of widths, or narrowly so; see text.
const family = "go"

func newCanvas() *canvas {
	f := fpdf.New("P", "mm", "A4", "")
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.AddUTF8FontFromBytes(family, "", goregular.TTF)
	f.AddUTF8FontFromBytes(family, "B", gobold.TTF)
	return &canvas{f: f}
}

func (c *canvas) page(w, h float64) {
	c.f.AddPageFormat("P", fpdf.SizeType{Wd: w, Ht: h})
	c.height = h
	c.op("1 J 1 j")
}

// op writes operators as they are.
func (c *canvas) op(format string, args ...any) { c.f.RawWriteStr(fmt.Sprintf(format, args...)) }

// pt writes lengths in mm as points, to 0.0001 mm.
func pt(mm ...float64) string {
	var b strings.Builder
	for i, v := range mm {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(strconv.FormatFloat(v*ptPerMM, 'f', 4, 64))
	}
	return b.String()
}

// ink is a colour from 0 to 1, or none.
type ink struct {
	r, g, b float64
	some    bool
}

var (
	black = ink{some: true}
	white = ink{1, 1, 1, true}
	grey  = ink{0.35, 0.35, 0.35, true}
)

func (i ink) op(operator string) string {
	return fmt.Sprintf("%.3f %.3f %.3f %s", i.r, i.g, i.b, operator)
}

// line sets colour, width and dashes of lines.
func (c *canvas) line(colour ink, widthMM float64, d Dash) {
	parts := make([]string, 0, 4)
	for _, v := range d.Pattern() {
		parts = append(parts, pt(v))
	}
	c.op("%s %s w [%s] 0 d", colour.op("RG"), pt(widthMM), strings.Join(parts, " "))
}

func (c *canvas) fill(colour ink) { c.op("%s", colour.op("rg")) }

// path draws a line through points; how is the painting operator: S strokes, f fills, B does both, and s, b close the line before.
func (c *canvas) path(how string, points ...Point) {
	var b strings.Builder
	for i, p := range points {
		fmt.Fprintf(&b, "%s %s ", pt(p.X, p.Y), [2]string{"l", "m"}[btoi(i == 0)])
	}
	c.op("%s%s", b.String(), how)
}

func (c *canvas) rect(how string, b Box) {
	c.op("%s re %s", pt(b.MinX, b.MinY, b.MaxX-b.MinX, b.MaxY-b.MinY), how)
}

// circle draws a circle of four curves, true to 0.03 % of its radius.
func (c *canvas) circle(how string, p Point, r float64) {
	k := r * 4 * (math.Sqrt2 - 1) / 3
	c.op("%s m %s c %s c %s c %s c h %s", pt(p.X+r, p.Y),
		pt(p.X+r, p.Y+k, p.X+k, p.Y+r, p.X, p.Y+r), pt(p.X-k, p.Y+r, p.X-r, p.Y+k, p.X-r, p.Y),
		pt(p.X-r, p.Y-k, p.X-k, p.Y-r, p.X, p.Y-r), pt(p.X+k, p.Y-r, p.X+r, p.Y-k, p.X+r, p.Y), how)
}

// clip keeps what f draws inside a box.
func (c *canvas) clip(b Box, f func()) {
	c.op("q %s re W n", pt(b.MinX, b.MinY, b.MaxX-b.MinX, b.MaxY-b.MinY))
	f()
	c.op("Q")
}

// words is a text on paper. Its point is the start, middle or end of its baseline.
type words struct {
	at     Point
	s      string
	size   float64 // mm
	anchor Anchor
	turn   float64 // degrees anticlockwise
	strong bool
	colour ink
	halo   bool    // a white edge, so that it can be read on lines
	fit    float64 // the width that it must not go beyond, mm; 0 is that of TextWidth
	as     bool    // as wide as its letters are: its place was reckoned with the widths of the font
}

// text writes a text. Places were reckoned with TextWidth: where the letters of the font are wider, they are squeezed to it.
// Characters that the font does not have are shown as a box; lacking lists them.
func (c *canvas) text(t words) {
	s := drawable(clean(t.s, 400))
	if s == "" || !(t.size > 0) {
		return
	}
	style := ""
	if t.strong {
		style = "B"
	}
	c.f.SetFont(family, style, t.size*ptPerMM)
	wide, may := c.f.GetStringWidth(s), TextWidth(s, t.size, t.strong)
	if t.as {
		may = wide
	}
	if t.fit > 0 {
		may = min(may, t.fit)
	}
	squeeze := 1.0
	if wide > may {
		squeeze, wide = may/wide, may
	}
	sin, cos := math.Sincos(t.turn * math.Pi / 180)
	back := [...]float64{0, wide / 2, wide}[t.anchor]
	x, y := t.at.X-back*cos, t.at.Y-back*sin
	c.op("q %.5f %.5f %.5f %.5f %s cm %.3f Tz", cos, sin, -sin, cos, pt(x, y), squeeze*100)
	put := func() { c.f.Text(0, c.height, s) }
	if t.halo {
		// The halo is no text to a reader: it stands for nothing.
		c.op("/Span <</ActualText (\\376\\377)>> BDC [] 0 d %s %s w 1 Tr", white.op("RG"), pt(0.24*t.size))
		put()
		c.op("EMC 0 Tr")
	}
	c.fill(t.colour)
	put()
	c.op("Q")
}

// boxRune stands for characters that the font lacks.
const boxRune = '□'

// glyphs are the characters that both faces of the font have.
var glyphs = sync.OnceValue(func() map[rune]bool {
	both := characters(goregular.TTF)
	bold := characters(gobold.TTF)
	for r := range both {
		if !bold[r] {
			delete(both, r)
		}
	}
	return both
})

// characters reads which characters a TrueType font has. A font that cannot be read has none.
//
// Source: OpenType 1.9, cmap table, format 4 (memory).
func characters(font []byte) map[rune]bool {
	out := map[rune]bool{}
	defer func() { _ = recover() }() // the font is embedded; should it ever be cut short, all is shown as boxes
	u16 := func(at int) int { return int(binary.BigEndian.Uint16(font[at:])) }
	u32 := func(at int) int { return int(binary.BigEndian.Uint32(font[at:])) }
	for i := range u16(4) {
		record := 12 + 16*i
		if string(font[record:record+4]) != "cmap" {
			continue
		}
		cmap := u32(record + 8)
		for k := range u16(cmap + 2) {
			sub := cmap + 4 + 8*k
			t := cmap + u32(sub+4)
			if u16(sub) != 3 || u16(sub+2) != 1 || u16(t) != 4 {
				continue
			}
			segments := u16(t+6) / 2
			for s := range segments {
				ends, starts := t+14+2*s, t+16+2*segments+2*s
				deltas, offsets := starts+2*segments, starts+4*segments
				for r := u16(starts); r <= u16(ends) && r < 0xffff; r++ {
					glyph := r
					if o := u16(offsets); o != 0 {
						glyph = u16(offsets + o + 2*(r-u16(starts)))
						if glyph == 0 {
							continue
						}
					}
					if (glyph+u16(deltas))&0xffff != 0 {
						out[rune(r)] = true
					}
				}
			}
		}
	}
	return out
}

// drawable replaces what the font lacks.
func drawable(s string) string {
	have := glyphs()
	return strings.Map(func(r rune) rune {
		if have[r] {
			return r
		}
		return boxRune
	}, s)
}

// lacking lists the characters of texts that the font lacks, in order, each once.
func lacking(texts ...string) (out []rune) {
	have := glyphs()
	for _, s := range texts {
		for _, r := range clean(s, 400) {
			if !have[r] && !slices.Contains(out, r) {
				out = append(out, r)
			}
		}
	}
	slices.Sort(out)
	return out
}

// wrapped cuts a text into lines of a width on paper. Words that are wider than a line are cut.
func wrapped(s string, size, width float64, strong bool) (out []string) {
	width += 1e-9 // a column that is as wide as its text takes it
	line := ""
	for _, word := range strings.Fields(s) {
		longer := strings.TrimSpace(line + " " + word)
		if TextWidth(longer, size, strong) <= width {
			line = longer
			continue
		}
		if line != "" {
			out = append(out, line)
		}
		line = ""
		for _, r := range word {
			if line != "" && TextWidth(line+string(r), size, strong) > width {
				out = append(out, line)
				line = ""
			}
			line += string(r)
		}
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}

// cut shortens a text to a width on paper.
func cut(s string, size, width float64, strong bool) string {
	if TextWidth(s, size, strong) <= width {
		return s
	}
	runes := []rune(s)
	for len(runes) > 0 && TextWidth(string(runes)+"…", size, strong) > width {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// style is one rule of the style sheet of the drawings.
type style struct {
	layer, element string
	classes        []string
	weight         int
	props          map[string]string
}

// styles are the rules of CSS for a light ground, the weightier ones last, so that a PDF has the colours of the SVG.
var styles = sync.OnceValue(func() []style {
	var out []style
	for _, rule := range strings.Split(CSS(false), "\n") {
		selectors, body, ok := strings.Cut(strings.TrimSuffix(rule, "}"), "{")
		if !ok {
			continue
		}
		props := map[string]string{}
		for _, p := range strings.Split(body, ";") {
			if name, value, ok := strings.Cut(p, ":"); ok {
				props[name] = value
			}
		}
		for _, selector := range strings.Split(selectors, ",") {
			st := style{props: props}
			for _, part := range strings.Fields(selector)[1:] {
				names := strings.Split(part, ".")
				if len(names) == 2 && strings.HasPrefix(names[1], "dr-") {
					st.layer = strings.TrimPrefix(names[1], "dr-")
					st.weight += 100
					continue
				}
				st.element, st.classes = names[0], names[1:]
				st.weight += 100*len(st.classes) + btoi(names[0] != "")
			}
			out = append(out, st)
		}
	}
	slices.SortStableFunc(out, func(a, b style) int { return cmp.Compare(a.weight, b.weight) })
	return out
})

// colours are the colours of a shape; opacity is mixed with the white of the paper.
func colours(s *Shape) (stroke, fill ink) {
	element := "path"
	classes := strings.Fields(s.Class)
	switch s.Kind {
	case Text:
		element = "text"
	case Circle:
		element = "circle"
	}
	if s.Kind != Text {
		classes = append(classes, [...]string{"f-none", "f-paper", "f-tint", "f-full"}[s.Fill])
		if s.Weight == NoLine && !s.ToScale {
			classes = append(classes, "no-line")
		}
	}
	values := map[string]string{}
	for _, st := range styles() {
		if st.layer != "" && st.layer != string(s.Layer) || st.element != "" && st.element != element {
			continue
		}
		if slices.ContainsFunc(st.classes, func(c string) bool { return !slices.Contains(classes, c) }) {
			continue
		}
		for _, name := range [...]string{"fill", "stroke", "opacity"} {
			if v, ok := st.props[name]; ok {
				values[name] = v
			}
		}
	}
	opacity := 1.0
	if v, err := strconv.ParseFloat(values["opacity"], 64); err == nil {
		opacity = v
	}
	get := func(name string) ink {
		v, err := strconv.ParseUint(strings.TrimPrefix(values[name], "#"), 16, 32)
		if err != nil {
			return ink{}
		}
		mix := func(b uint64) float64 { return 1 - opacity*(1-float64(b&255)/255) }
		return ink{mix(v >> 16), mix(v >> 8), mix(v), true}
	}
	return get("stroke"), get("fill")
}

// view says how shapes come to paper.
type view struct {
	scale  float64           // that the shapes were laid out for
	k, em  float64           // mm on paper for one mm of the real thing, and for one mm of text
	at     func(Point) Point // the place on paper
	window Box               // mm of the real thing; what lies wholly outside is left away
}

// shapes draws shapes as the SVG does.
func (c *canvas) shapes(list []Shape, v view) {
	for i := range list {
		s := &list[i]
		if len(s.Points) == 0 {
			continue
		}
		pad := max(s.Width, s.Weight.MM()*v.scale)
		if b := s.Box(v.scale).grow(pad); b.MinX > v.window.MaxX || b.MaxX < v.window.MinX || b.MinY > v.window.MaxY || b.MaxY < v.window.MinY {
			continue
		}
		stroke, fill := colours(s)
		if s.Kind == Text {
			c.text(words{at: v.at(s.Baseline(v.scale)), s: s.Text, size: s.Size * v.em, anchor: s.Anchor, turn: s.Turn, strong: s.Strong, colour: fill, halo: stroke.some})
			continue
		}
		width := s.Weight.MM()
		if s.ToScale {
			width = s.Width * v.k
		} else if s.Weight == NoLine {
			stroke.some = false
		}
		how := ""
		switch {
		case stroke.some && fill.some && s.Fill != NoFill:
			how = "B"
		case stroke.some:
			how = "S"
		case fill.some && s.Fill != NoFill:
			how = "f"
		default:
			continue
		}
		if stroke.some {
			c.line(stroke, width, s.Dash)
		}
		if how != "S" {
			c.fill(fill)
		}
		switch s.Kind {
		case Circle:
			c.circle(how, v.at(s.Points[0]), s.Radius*v.k)
		case Hatch:
			for _, l := range s.HatchLines(v.scale) {
				c.path("S", v.at(l[0]), v.at(l[1]))
			}
		default:
			points := make([]Point, len(s.Points))
			for j, p := range s.Points {
				points[j] = v.at(p)
			}
			if s.Kind == Polygon {
				how = map[string]string{"B": "b", "S": "s", "f": "f"}[how]
				if s.ToScale {
					c.op("0 j")
				}
			}
			c.path(how, points...)
			if s.Kind == Polygon && s.ToScale {
				c.op("1 j")
			}
		}
	}
}
