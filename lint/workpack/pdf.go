package workpack

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"wetrule/lint/draw"
	"wetrule/lint/rulebook"
)

// Places on paper, mm. The left margin is wide enough to punch.
const (
	left      = 20
	right     = left + Width
	bottom    = 19
	bodySize  = 3.3
	tableSize = 2.9
	smallSize = 2.6
	lead      = 1.32 // distance of lines over their size
	cellPad   = 2.2
	rightPad  = 5 // behind figures that stand to the right
	boxSize   = 4.2
)

// piece is a part of the text that stands whole on one page.
type piece struct {
	h    float64
	draw func(l *draw.Leaf, top float64)
	keep bool     // not the last of a page
	head []*piece // come again at the top of a page that this piece begins
	mark *mark
}

type mark struct {
	text  string
	level int
}

// flow puts pieces on pages.
type flow struct {
	p       *Pack
	b       *draw.Booklet
	section *Section
	page    *[]func(*draw.Leaf)
	y, top  float64
	starts  map[string]int // page of a section
}

// PDF writes the pack as one document: text on A4, setting-out sheets at their scale on the paper of the pack.
func (p *Pack) PDF(w io.Writer) error {
	info := draw.Info{Job: p.Reference, Title: p.Title, File: p.File, On: p.On, Revision: p.Revision, Cautions: p.cautions, Paper: p.paper, Banner: p.Banner}
	f := &flow{p: p, b: draw.NewBooklet(info, "work pack"), starts: map[string]int{}}
	for i := range p.Sections {
		if err := f.sectionOf(&p.Sections[i]); err != nil {
			return err
		}
	}
	return f.b.Write(w)
}

func (f *flow) sectionOf(s *Section) error {
	f.section, f.page = s, nil
	f.fresh()
	f.starts[s.ID] = f.b.Pages()
	f.b.Mark(s.Title, 0, draw.PaperHigh-8)
	if _, cover := firstOf[Cover](s.Blocks); !cover {
		f.put(f.sized(s.Title, 5.4, true, 0, false)...)
		f.gap(2)
	}
	var text []*piece // so that a heading stays with what follows, whatever block that is
	for i, b := range s.Blocks {
		list, ok := b.(Sheets)
		if !ok {
			text = append(text, f.pieces(b)...)
			continue
		}
		f.put(text...)
		text = nil
		if err := f.b.Sheets(list.Sheets); err != nil {
			return err
		}
		if i+1 < len(s.Blocks) {
			f.fresh()
		}
	}
	f.put(text...)
	if f.section == &f.p.Sections[len(f.p.Sections)-1] {
		if lack := f.b.Lacking(); len(lack) > 0 {
			codes := make([]string, len(lack))
			for i, r := range lack {
				codes[i] = fmt.Sprintf("U+%04X", r)
			}
			f.put(f.sized("□ stands for a character that the font of this document lacks: "+strings.Join(codes, ", ")+".", smallSize, false, 0, false)...)
		}
	}
	return nil
}

func firstOf[T Block](list []Block) (T, bool) {
	for _, b := range list {
		if x, ok := b.(T); ok {
			return x, true
		}
	}
	var none T
	return none, false
}

// fresh begins a page.
func (f *flow) fresh() {
	var drawn []func(*draw.Leaf)
	f.page = &drawn
	page, title := f.page, f.section.Title
	banner := f.b.Wrap(f.p.Banner, 3.4, Width-6, true)
	f.top = draw.PaperHigh - 20
	if n := len(banner); n > 0 {
		f.top -= float64(n)*3.4*lead + 5
	}
	f.y = f.top
	f.b.Page(func(l *draw.Leaf) {
		f.furniture(l, title, banner)
		for _, d := range *page {
			d(l)
		}
	})
}

// furniture is the head and the foot of a page.
func (f *flow) furniture(l *draw.Leaf, title string, banner []string) {
	const y = draw.PaperHigh - 12
	small := draw.TextStyle{Size: smallSize}
	name := f.p.Reference
	if f.p.Title != "" {
		name += ", " + f.p.Title
	}
	end := small
	end.Anchor = draw.End
	l.Text(right, y, title, end)
	if lines := f.b.Wrap(name, smallSize, Width-f.b.Width(title, smallSize, false)-6, true); len(lines) > 0 {
		s := lines[0]
		if len(lines) > 1 {
			s += " …"
		}
		l.Text(left, y, s, draw.TextStyle{Size: smallSize, Strong: true})
	}
	l.Line(left, y-1.8, right, y-1.8, draw.Normal, draw.Solid)
	if n := len(banner); n > 0 {
		high := float64(n)*3.4*lead + 2.4
		l.Shade(draw.Box{MinX: left, MinY: y - 4 - high, MaxX: right, MaxY: y - 4}, 0)
		for i, s := range banner {
			l.Text(left+3, y-8-float64(i)*3.4*lead, s, draw.TextStyle{Size: 3.4, Strong: true, White: true})
		}
	}
	l.Line(left, 13.6, right, 13.6, draw.Thin, draw.Solid)
	page := fmt.Sprintf("page %d of %d", l.Number, l.Of)
	foot := f.b.Wrap(f.p.identity(), smallSize, Width-f.b.Width(page, smallSize, true)-6, false)
	for i, s := range foot[:min(len(foot), 2)] {
		l.Text(left, 10.4-float64(i)*3.2, s, small)
	}
	end.Strong = true
	l.Text(right, 10.4, page, end)
}

// identity says on every page which state of what the pack is of.
func (p *Pack) identity() string {
	return fmt.Sprintf("Work pack %s, revision %s, rules %s, judged for %s", p.Reference, p.Revision, p.RulesRevision, p.On)
}

// put places pieces one below the other.
func (f *flow) put(list ...*piece) {
	for i := range list {
		p := list[i]
		need := 0.0
		for k := i; k < len(list); k++ {
			need += list[k].h
			if !list[k].keep {
				break
			}
		}
		heads := 0.0
		for _, h := range p.head {
			heads += h.h
		}
		if need+heads > f.top-bottom {
			need = p.h // more than a page: as it comes
		}
		if f.y-need < bottom-1e-9 && f.y < f.top {
			f.fresh()
			for _, h := range p.head {
				f.place(h)
			}
		}
		f.place(p)
	}
}

func (f *flow) place(p *piece) {
	if p.mark != nil {
		f.b.Mark(p.mark.text, p.mark.level, f.y)
	}
	if p.draw != nil {
		top := f.y
		*f.page = append(*f.page, func(l *draw.Leaf) { p.draw(l, top) })
	}
	f.y -= p.h
}

func (f *flow) gap(h float64) {
	if f.y < f.top {
		f.y = max(f.y-h, bottom)
	}
}

func space(h float64) *piece { return &piece{h: h} }

// stick keeps all but the last of some pieces together with what follows.
func stick(list []*piece) []*piece {
	for i := range list {
		if i+1 < len(list) {
			list[i].keep = true
		}
	}
	return list
}

// sized are the lines of a text.
func (f *flow) sized(s string, size float64, strong bool, indent float64, keep bool) []*piece {
	return f.lines(f.b.Wrap(s, size, Width-indent, strong), size, strong, indent, keep)
}

func (f *flow) lines(lines []string, size float64, strong bool, indent float64, keep bool) (out []*piece) {
	for i, s := range lines {
		out = append(out, &piece{h: size * lead, keep: keep || i == 0 && len(lines) > 1 || i == len(lines)-2, draw: func(l *draw.Leaf, top float64) {
			l.Text(left+indent, top-size, s, draw.TextStyle{Size: size, Strong: strong})
		}})
	}
	return out
}

// pieces lays out a block.
func (f *flow) pieces(b Block) []*piece {
	switch b := b.(type) {
	case Cover:
		return f.cover(b)
	case Contents:
		return f.contents(b)
	case Heading:
		out := append([]*piece{{h: 3.5, keep: true}}, f.sized(b.Text, 4, true, 0, true)...)
		if b.Mark {
			out[0].mark = &mark{b.Text, 1}
		}
		return append(out, &piece{h: 1.2, keep: true})
	case Paragraph:
		return append(f.sized(b.Text, bodySize, b.Strong, 0, false), space(1.6))
	case List:
		var out []*piece
		for _, s := range b.Lines {
			lines := f.sized(s, bodySize, false, 4, false)
			if len(lines) > 0 {
				first := lines[0].draw
				lines[0].draw = func(l *draw.Leaf, top float64) {
					l.Text(left+0.6, top-bodySize, "–", draw.TextStyle{Size: bodySize})
					first(l, top)
				}
			}
			out = append(append(out, lines...), space(0.6))
		}
		return append(out, space(1))
	case Facts:
		return f.facts(b.Facts, 0, bodySize)
	case Table:
		return f.table(b)
	case Steps:
		var out []*piece
		for _, s := range b.Steps {
			out = append(out, f.step(s)...)
		}
		return out
	case Note:
		return f.note(b)
	case Finding:
		return f.finding(b)
	case Form:
		return f.form(b)
	case Drawing:
		return f.drawing(b)
	}
	return nil
}

func (f *flow) cover(c Cover) []*piece {
	out := []*piece{space(14)}
	out = append(out, f.sized("Work pack", 9, true, 0, true)...)
	out = append(out, space(4))
	out = append(out, f.sized(c.Reference, 6, true, 0, true)...)
	if c.Title != "" {
		out = append(out, f.sized(c.Title, 4.4, false, 0, true)...)
	}
	out = append(out, space(4))
	state := f.b.Wrap(c.State, bodySize, Width-8, true)
	h := float64(len(state))*bodySize*lead + 5
	out = append(out, &piece{h: h, draw: func(l *draw.Leaf, top float64) {
		l.Frame(draw.Box{MinX: left, MinY: top - h, MaxX: right, MaxY: top}, draw.Bold)
		for i, s := range state {
			l.Text(left+4, top-5.6-float64(i)*bodySize*lead, s, draw.TextStyle{Size: bodySize, Strong: true})
		}
	}}, space(5))
	return out
}

func (f *flow) contents(c Contents) (out []*piece) {
	for i, s := range c.Sections {
		out = append(out, &piece{h: 5, draw: func(l *draw.Leaf, top float64) {
			page := f.starts[s.ID]
			l.Text(left, top-3.6, strconv.Itoa(i+1), draw.TextStyle{Size: bodySize, Strong: true})
			l.Text(left+7, top-3.6, s.Title, draw.TextStyle{Size: bodySize})
			l.Text(right, top-3.6, fmt.Sprintf("page %d", page), draw.TextStyle{Size: bodySize, Anchor: draw.End})
			l.Line(left+9+f.b.Width(s.Title, bodySize, false), top-3.6, right-2-f.b.Width(fmt.Sprintf("page %d", page), bodySize, false), top-3.6, draw.Thin, draw.Dotted)
			l.Link(draw.Box{MinX: left, MinY: top - 5, MaxX: right, MaxY: top}, page)
		}})
	}
	return append(out, space(3))
}

// facts are words in a column with their texts beside them.
func (f *flow) facts(list []Fact, indent, size float64) (out []*piece) {
	word := 0.0
	for _, x := range list {
		word = max(word, f.b.Width(x.Word, size, false))
	}
	word = min(word, 42) + 4
	short := len(list) <= 12
	for k, x := range list {
		words := f.b.Wrap(x.Word, size, word-3, false)
		texts := f.b.Wrap(x.Text, size, Width-indent-word, false)
		n := max(len(words), len(texts))
		for i := range n {
			out = append(out, &piece{h: size * lead, keep: n < 12 && (i+1 < n || short && k+1 < len(list)), draw: func(l *draw.Leaf, top float64) {
				if i < len(words) {
					l.Text(left+indent, top-size, words[i], draw.TextStyle{Size: size, Grey: true})
				}
				if i < len(texts) {
					l.Text(left+indent+word, top-size, texts[i], draw.TextStyle{Size: size})
				}
			}})
		}
		out = append(out, &piece{h: 0.5, keep: short && k+1 < len(list)})
	}
	return append(out, space(1.5))
}

// box draws a box to tick with its upper left corner at a place.
func box(l *draw.Leaf, x, top float64) {
	l.Frame(draw.Box{MinX: x, MinY: top - boxSize, MaxX: x + boxSize, MaxY: top}, draw.Normal)
}

// room is how wide the text of a column may be.
func (c Column) room() float64 {
	if c.Right {
		return c.MM - rightPad
	}
	return c.MM - cellPad
}

// cellLine is a line of a cell.
type cellLine struct {
	text   string
	strong bool
	boxes  []string
	write  bool
	h      float64
}

func (f *flow) cellLines(c Cell, width float64) (out []cellLine) {
	for _, s := range f.b.Wrap(c.Text, tableSize, width, c.Strong) {
		out = append(out, cellLine{text: s, strong: c.Strong, h: tableSize * lead})
	}
	for _, t := range c.Lines {
		for _, s := range f.b.Wrap(t, smallSize, width, false) {
			out = append(out, cellLine{text: s, h: smallSize * lead})
		}
	}
	if len(c.Boxes) > 0 {
		out = append(out, cellLine{boxes: c.Boxes, h: boxSize + 1})
	}
	for _, word := range c.Write {
		out = append(out, cellLine{text: word, write: true, h: 7})
	}
	return out
}

func (f *flow) table(t Table) (out []*piece) {
	xs := make([]float64, len(t.Columns)+1)
	for i, c := range t.Columns {
		xs[i+1] = xs[i] + c.MM
	}
	if t.Caption != "" {
		out = append(out, stick(f.sized(t.Caption, bodySize, true, 0, true))...)
		out = append(out, &piece{h: 0.8, keep: true})
	}
	heads := make([][]string, len(t.Columns))
	n := 1
	for i, c := range t.Columns {
		heads[i] = f.b.Wrap(c.Head, smallSize, c.room(), false)
		n = max(n, len(heads[i]))
	}
	head := &piece{h: float64(n)*smallSize*lead + 1.6, keep: true, draw: func(l *draw.Leaf, top float64) {
		for i, lines := range heads {
			for k, s := range lines {
				style := draw.TextStyle{Size: smallSize, Grey: true}
				x := left + xs[i]
				if t.Columns[i].Right {
					style.Anchor, x = draw.End, left+xs[i+1]-rightPad
				}
				l.Text(x, top-smallSize-float64(k)*smallSize*lead, s, style)
			}
		}
		y := top - float64(n)*smallSize*lead - 1.2
		l.Line(left, y, left+xs[len(xs)-1], y, draw.Normal, draw.Solid)
	}}
	out = append(out, head)
	const most = 190 // of a row; what is higher goes on in a row below
	for _, r := range t.Rows {
		cells := make([][]cellLine, len(t.Columns))
		for i := range t.Columns {
			if i < len(r.Cells) {
				cells[i] = f.cellLines(r.Cells[i], t.Columns[i].room())
			}
		}
		for more := true; more; {
			more = false
			now := make([][]cellLine, len(cells))
			high := r.Room
			for i, lines := range cells {
				h, k := 0.0, 0
				for k < len(lines) && h+lines[k].h <= most {
					h += lines[k].h
					k++
				}
				now[i], cells[i] = lines[:k], lines[k:]
				more = more || len(cells[i]) > 0
				high = max(high, h)
			}
			high += 2.2
			out = append(out, &piece{h: high, head: []*piece{head}, draw: func(l *draw.Leaf, top float64) {
				for i, lines := range now {
					y := top - 0.7
					for _, c := range lines {
						x := left + xs[i]
						switch {
						case len(c.boxes) > 0:
							for _, word := range c.boxes {
								box(l, x, y-0.3)
								l.Text(x+boxSize+1.4, y-3.6, word, draw.TextStyle{Size: tableSize})
								x += boxSize + 5 + f.b.Width(word, tableSize, false)
							}
						case c.write:
							l.Text(x, y-5.4, c.text, draw.TextStyle{Size: smallSize, Grey: true})
							l.Line(x+f.b.Width(c.text, smallSize, false)+1, y-5.9, left+xs[i+1]-cellPad, y-5.9, draw.Thin, draw.Solid)
						default:
							size := tableSize
							if c.h < tableSize*lead {
								size = smallSize
							}
							style := draw.TextStyle{Size: size, Strong: c.strong}
							if t.Columns[i].Right {
								style.Anchor, x = draw.End, left+xs[i+1]-rightPad
							}
							l.Text(x, y-size, c.text, style)
						}
						y -= c.h
					}
				}
				l.Line(left, top-high+0.3, left+xs[len(xs)-1], top-high+0.3, draw.Thin, draw.Solid)
			}})
		}
	}
	if len(t.Rows) > 0 { // the last row does not stand alone under a head on a new page for want of a line
		out[len(out)-1].keep = false
	}
	return append(out, space(3.5))
}

func (f *flow) step(s StepEntry) []*piece {
	const indent = 17
	var out []*piece
	out = append(out, &piece{h: 1.2, keep: true, draw: func(l *draw.Leaf, top float64) {
		l.Line(left, top, right, top, draw.Thin, draw.Solid)
	}})
	lines := f.sized(s.Text, bodySize, false, indent, true)
	if len(lines) == 0 {
		lines = []*piece{space(bodySize * lead)}
	}
	first := lines[0].draw
	lines[0].draw = func(l *draw.Leaf, top float64) {
		box(l, left, top-0.2)
		l.Text(left+boxSize+2, top-bodySize, strconv.Itoa(s.Number), draw.TextStyle{Size: bodySize, Strong: true})
		if first != nil {
			first(l, top)
		}
	}
	out = append(out, lines...)
	if len(lines) == 1 {
		out = append(out, &piece{h: 0.6, keep: true})
	}
	for _, m := range s.Meta {
		for _, p := range f.sized(m.Word+": "+m.Text, smallSize, false, indent, true) {
			out = append(out, p)
		}
	}
	if len(s.Cautions) > 0 {
		out = append(out, f.sized("Caution: "+strings.Join(s.Cautions, "; "), smallSize, true, indent, true)...)
	}
	if s.Point != nil {
		out = append(out, f.point(*s.Point, indent)...)
	}
	out = append(out, space(1.4))
	stick(out)
	return out
}

// point is an inspection in a frame: hold points in heavy lines with room for the release. The others are signed for in the plan of inspections.
func (f *flow) point(p PointEntry, indent float64) []*piece {
	w := Width - indent
	head := f.b.Wrap(p.Mark+" "+p.Sort+": "+p.Means, tableSize, w-6, true)
	text := f.b.Wrap("Check: "+p.Check, tableSize, w-6, false)
	released := f.b.Wrap(p.Released, tableSize, w-6, false)
	n := float64(len(head) + len(text) + len(released))
	h := n*tableSize*lead + 2.8
	weight := draw.Normal
	if p.Hold {
		weight = draw.Bold
		h += 8.6
	}
	return []*piece{{h: 1.2}, {h: h, draw: func(l *draw.Leaf, top float64) {
		l.Frame(draw.Box{MinX: left + indent, MinY: top - h, MaxX: right, MaxY: top}, weight)
		y := top - 1.2
		write := func(lines []string, strong bool) {
			for _, s := range lines {
				l.Text(left+indent+3, y-tableSize, s, draw.TextStyle{Size: tableSize, Strong: strong})
				y -= tableSize * lead
			}
		}
		write(head, true)
		write(text, false)
		write(released, false)
		if p.Hold {
			f.writeLine(l, left+indent+3, right-3, top-h+2.6, []string{"Name", "Signature", "Date, time"})
		}
	}}}
}

// writeLine draws words with lines to write on behind them.
func (f *flow) writeLine(l *draw.Leaf, from, to, y float64, words []string) {
	w := (to - from) / float64(len(words))
	for i, s := range words {
		x := from + float64(i)*w
		l.Text(x, y, s, draw.TextStyle{Size: smallSize, Grey: true})
		l.Line(x+f.b.Width(s, smallSize, false)+1.2, y-0.6, x+w-3, y-0.6, draw.Thin, draw.Solid)
	}
}

// bar gives pieces a bar on their left, heavy for what can hurt.
func bar(list []*piece, wide float64) []*piece {
	for _, p := range list {
		under := p.draw
		h := p.h
		p.draw = func(l *draw.Leaf, top float64) {
			l.Shade(draw.Box{MinX: left, MinY: top - h, MaxX: left + wide, MaxY: top}, 0)
			if under != nil {
				under(l, top)
			}
		}
	}
	return list
}

func (f *flow) note(n Note) []*piece {
	const indent = 5
	title := n.Title
	if n.Code != "" {
		title += "  (" + n.Code + ")"
	}
	var out []*piece
	if title != "" {
		out = append(out, f.sized(title, bodySize, true, indent, true)...)
	}
	for _, s := range n.Lines {
		out = append(out, f.sized(s, bodySize, false, indent, false)...)
	}
	wide := 0.5
	if n.Sort == "warning" {
		wide = 2
	} else if n.Sort == "caution" {
		wide = 1.2
	}
	return append(bar(stick(out), wide), space(2.6))
}

func (f *flow) finding(e Finding) []*piece {
	const indent = 5
	head := fmt.Sprintf("%d  %s", e.Number, strings.ToUpper(e.Severity.String()))
	if e.Words != "nonconforming" {
		head += ", " + e.Words
	}
	var out []*piece
	out = append(out, f.sized(head+": "+e.Title, bodySize, true, indent, true)...)
	out = append(out, f.facts(findingFacts(e), indent, tableSize)...)
	for _, p := range out {
		p.keep = true
	}
	out[len(out)-1].keep = false
	wide := 0.5
	if e.Severity == rulebook.Critical {
		wide = 2
	} else if e.Severity == rulebook.Major {
		wide = 1.2
	}
	return append(bar(out, wide), space(2.2))
}

// findingFacts are the facts of a finding in their order.
func findingFacts(e Finding) []Fact {
	out := []Fact{{"concerns", e.Items}}
	for _, p := range e.Figures {
		s := p.Text
		if p.More != "" {
			s += " (" + p.More + ")"
		}
		out = append(out, Fact{p.Word, s})
	}
	out = append(out, Fact{"do", e.Do})
	for _, w := range e.Waiting {
		out = append(out, Fact{"waits", w})
	}
	for _, p := range e.Rest {
		out = append(out, Fact{p.Word, p.Text})
	}
	return append(out, Fact{"job file", e.Place + ", " + strings.Join(e.Rules, ", ")})
}

func (f *flow) form(b Form) (out []*piece) {
	for i := 0; i < len(b.Fields); i += 2 {
		pair := b.Fields[i:min(i+2, len(b.Fields))]
		out = append(out, &piece{h: 10, draw: func(l *draw.Leaf, top float64) {
			f.writeLine(l, left, left+float64(len(pair))*Width/2, top-7.5, pair)
		}})
	}
	return append(out, space(2))
}

// drawing draws a sheet as large as the width and the page allow, and never larger than it is.
func (f *flow) drawing(b Drawing) []*piece {
	s := &b.Sheet
	w, h := (s.Bounds.MaxX-s.Bounds.MinX)/s.Scale, (s.Bounds.MaxY-s.Bounds.MinY)/s.Scale
	if !(w > 0 && h > 0) {
		return nil
	}
	k := min(1, Width/w, (f.top-bottom-12)/h)
	return []*piece{{h: h * k, draw: func(l *draw.Leaf, top float64) { l.Shapes(s.Shapes, s.Scale, s.Bounds, left, top, k) }}, space(3)}
}
