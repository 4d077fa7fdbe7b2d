package gantt

import (
	"fmt"
	"math"
	"slices"
	"time"

	"wetrule/lint/calc/programme"
	"wetrule/lint/draw/font"
)

// Measures of the drawing in px.
const (
	textPx   = 12.0
	smallPx  = 11.0
	titlePx  = 16.0
	rowPx    = 24.0
	barPx    = 13.0
	linePx   = 17.0 // of a line of the header
	pad      = 6.0
	leastBar = 3.0 // shorter bars are drawn this long
	pointPx  = 6.5 // half of a point
	indent   = 12.0
)

// box is a rectangle, y down.
type box struct{ x, y, w, h float64 }

func (a box) meets(b box) bool {
	const eps = 1e-9
	return a.x < b.x+b.w-eps && b.x < a.x+a.w-eps && a.y < b.y+b.h-eps && b.y < a.y+a.h-eps
}

// label is a text and the room that it takes.
type label struct {
	box
	text, full string // full: what stood there before it was cut
	size       float64
	strong     bool
	class      string
}

func newLabel(x, middle, width float64, text string, size float64, strong bool, class string) (label, bool) {
	full := font.Clean(text, 400)
	cut := font.Cut(full, size, width, strong)
	if cut == "" {
		return label{}, false
	}
	return label{box{x, middle - size*0.6, font.Width(cut, size, strong), size * 1.2}, cut, full, size, strong, class}, true
}

func (l label) baseline() float64 { return l.y + l.h/2 + l.size*0.36 }

type drawnBar struct {
	box
	sort     Sort
	critical bool
	title    string
	row      int
}

type drawnPoint struct {
	x, y  float64
	shape Shape
	title string
}

type drawnShade struct {
	box
	title   string
	holiday bool
}

type tick struct {
	x      float64
	strong bool
}

// layout is a chart with places for everything.
type layout struct {
	width, height float64
	plot          box // the area of the bars
	from, to      time.Time
	loc           *time.Location

	title            label
	labels           []label // all others
	bars             []drawnBar
	points           []drawnPoint
	shades           []drawnShade
	ticks            []tick
	hourTicks        []float64
	marks            []float64
	bands            []box // of rows, for every second row
	heads            []box
	arrows           [][]pt
	legend           []legendItem
	headTop, headEnd float64
}

type pt struct{ x, y float64 }

type legendItem struct {
	box
	bar   *drawnBar
	point *drawnPoint
	shade bool
}

// lay works out the places.
func lay(c *Chart) (*layout, error) {
	if err := check(c); err != nil {
		return nil, err
	}
	l := &layout{width: c.Width, loc: c.Location}
	if l.width == 0 {
		l.width = DefaultWidth
	}
	if l.loc == nil {
		l.loc = time.UTC
	}
	if err := l.span(c); err != nil {
		return nil, err
	}

	// The column of names.
	grouped := slices.ContainsFunc(c.Rows, func(r Row) bool { return r.Head })
	names := 60.0
	for _, r := range c.Rows {
		w := font.Width(font.Clean(r.Label, 400), textPx, r.Head)
		if grouped && !r.Head {
			w += indent
		}
		names = max(names, w)
	}
	names = min(names, l.width*0.36) + 2*pad
	l.plot = box{x: names, w: l.width - names - pad}
	y := pad
	if t, ok := newLabel(pad, y+titlePx*0.7, l.width-2*pad, c.Title, titlePx, true, "title"); ok {
		l.title = t
		y += titlePx * 1.6
	}
	l.headTop = y
	l.headEnd = l.header(y)
	y = l.layMarks(c, l.headEnd)
	l.plot.y, l.plot.h = y, rowPx*float64(len(c.Rows))

	for _, s := range c.Shades {
		if a, b := l.clip(s.From), l.clip(s.To); b > a {
			l.shades = append(l.shades, drawnShade{box{a, y, b - a, l.plot.h}, font.Clean(s.Note, 400), s.Holiday})
		}
	}
	first := map[string]int{} // the first bar of a row, by the row's id
	for i := range c.Rows {
		l.row(&c.Rows[i], i, grouped, first)
	}
	for _, a := range c.Links {
		l.arrow(a, first)
	}
	l.layLegend(y + l.plot.h + 2*pad)
	return l, nil
}

// span finds the days that are drawn: whole ones.
func (l *layout) span(c *Chart) error {
	from, to := c.From, c.To
	grow := func(t time.Time) {
		if c.From.IsZero() && (from.IsZero() || t.Before(from)) {
			from = t
		}
		if c.To.IsZero() && (to.IsZero() || t.After(to)) {
			to = t
		}
	}
	for _, r := range c.Rows {
		for _, b := range r.Bars {
			grow(b.From)
			grow(b.To)
		}
		for _, p := range r.Points {
			grow(p.At)
		}
	}
	for _, m := range c.Marks {
		grow(m.At)
	}
	if from.IsZero() || to.IsZero() || to.Before(from) {
		return fmt.Errorf("%w: there is nothing to show, or the chart ends before it begins", ErrInput)
	}
	if y0, y1 := from.Year(), to.Year(); y0 < programme.FirstYear || y1 > programme.LastYear {
		return fmt.Errorf("%w: the years %d to %d", ErrInput, y0, y1)
	}
	first := programme.DateOf(from.In(l.loc))
	last := programme.DateOf(to.In(l.loc))
	l.from = first.In(l.loc)
	l.to = last.In(l.loc)
	if l.to.Before(to) || !l.to.After(l.from) {
		l.to = last.AddDays(1).In(l.loc)
	}
	if l.to.Sub(l.from) > MaxDays*24*time.Hour {
		return fmt.Errorf("%w: %s to %s is too long", ErrInput, first, last)
	}
	return nil
}

func (l *layout) x(t time.Time) float64 {
	return l.plot.x + l.plot.w*float64(t.Sub(l.from))/float64(l.to.Sub(l.from))
}

func (l *layout) clip(t time.Time) float64 {
	return min(max(l.x(t), l.plot.x), l.plot.x+l.plot.w)
}

// layMarks puts the names of marks between the header and the bars, on as many lines as keep them apart.
func (l *layout) layMarks(c *Chart, top float64) float64 {
	marks := slices.Clone(c.Marks)
	slices.SortStableFunc(marks, func(a, b Mark) int { return a.At.Compare(b.At) })
	var ends []float64 // of the lines
	for _, m := range marks {
		if m.At.Before(l.from) || m.At.After(l.to) {
			continue
		}
		x := l.x(m.At)
		l.marks = append(l.marks, x)
		t, ok := newLabel(0, 0, l.plot.w, m.Label, smallPx, true, "mark")
		if !ok {
			continue
		}
		t.x = min(max(x-t.w/2, l.plot.x), l.plot.x+l.plot.w-t.w)
		line := slices.IndexFunc(ends, func(end float64) bool { return end+pad <= t.x })
		if line < 0 {
			line = len(ends)
			ends = append(ends, 0)
		}
		ends[line] = t.x + t.w
		t.y = top + float64(line)*linePx + (linePx-t.h)/2
		l.labels = append(l.labels, t)
	}
	return top + float64(len(ends))*linePx
}

// A grain is how the time axis may be divided.
type grain struct {
	name  string
	next  func(d programme.Date) programme.Date // the next border after d
	first func(d programme.Date) programme.Date // the border at or before d
	words []string                              // formats, the longest first
}

var grains = []grain{
	{"day", func(d programme.Date) programme.Date { return d.AddDays(1) }, func(d programme.Date) programme.Date { return d }, []string{"Monday 2 January", "Mon 2 Jan", "Mon 2", "2"}},
	{"week", func(d programme.Date) programme.Date { return d.AddDays(7) }, func(d programme.Date) programme.Date { return d.AddDays(-(int(d.Weekday()) + 6) % 7) }, []string{"Mon 2 Jan", "2 Jan", "2"}},
	{"month", func(d programme.Date) programme.Date {
		return programme.DateOf(time.Date(d.Year, d.Month+1, 1, 0, 0, 0, 0, time.UTC))
	}, func(d programme.Date) programme.Date { return programme.Date{Year: d.Year, Month: d.Month, Day: 1} }, []string{"January 2006", "Jan 2006", "Jan"}},
	{"year", func(d programme.Date) programme.Date { return programme.Date{Year: d.Year + 1, Month: 1, Day: 1} }, func(d programme.Date) programme.Date { return programme.Date{Year: d.Year, Month: 1, Day: 1} }, []string{"2006"}},
}

// cells divides the axis: the borders, and the longest form of words that fits into every whole cell; "" if none does.
func (l *layout) cells(g grain) (dates []programme.Date, format string) {
	end := programme.DateOf(l.to)
	for d := g.first(programme.DateOf(l.from)); d.Compare(end) < 0; d = g.next(d) {
		dates = append(dates, d)
		if len(dates) > MaxDays {
			break
		}
	}
	for _, f := range g.words {
		fits := true
		for _, d := range dates {
			x0, x1 := l.x(d.In(l.loc)), l.x(g.next(d).In(l.loc))
			if font.Width(format2(d, f), smallPx, false)+pad > x1-x0 {
				fits = false
				break
			}
		}
		if fits {
			return dates, f
		}
	}
	return dates, ""
}

func format2(d programme.Date, f string) string {
	return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC).Format(f)
}

// header draws two lines: the finest division whose words fit, and the next coarser one.
func (l *layout) header(top float64) float64 {
	lower := len(grains) - 1
	for i, g := range grains {
		if _, f := l.cells(g); f != "" {
			lower = i
			break
		}
	}
	upper := lower + 1
	if lower == 0 { // a line of weeks above days tells nothing that days do not
		upper = 2
	}
	for line, i := range []int{upper, lower} {
		if i >= len(grains) {
			continue
		}
		g := grains[i]
		dates, format := l.cells(g)
		if line == 0 {
			format = g.words[0]
		}
		for _, d := range dates {
			x0, x1 := l.clip(d.In(l.loc)), l.clip(g.next(d).In(l.loc))
			l.ticks = append(l.ticks, tick{x0, line == 0})
			// The upper line has cells that begin outside the chart, or are short.
			for k := slices.Index(g.words, format); k >= 0 && k < len(g.words); k++ {
				words := format2(d, g.words[k])
				if l.x(d.In(l.loc)) < x0 && i < 2 {
					break // a day or week that began before is not named by its first day
				}
				if font.Width(words, smallPx, line == 0)+pad <= x1-x0 {
					t, _ := newLabel(x0+pad/2, top+linePx*(float64(line)+0.5), x1-x0, words, smallPx, line == 0, "axis")
					l.labels = append(l.labels, t)
					break
				}
			}
		}
	}
	top += 2 * linePx
	if lower == 0 {
		top = l.hours(top)
	}
	return top
}

// hours adds a line with the hours 6, 12 and 18 where days are wide enough.
func (l *layout) hours(top float64) float64 {
	days, _ := l.cells(grains[0])
	if l.plot.w/float64(len(days)) < 96 {
		return top
	}
	for _, d := range days {
		midnight := d.In(l.loc)
		for h := 6; h < 24; h += 6 {
			at := time.Date(d.Year, d.Month, d.Day, h, 0, 0, 0, l.loc)
			if !at.After(midnight) {
				continue
			}
			x := l.x(at)
			t, _ := newLabel(0, top+linePx/2, math.Inf(1), fmt.Sprintf("%02d", h), smallPx, false, "axis")
			t.x = x - t.w/2
			l.labels = append(l.labels, t)
			l.hourTicks = append(l.hourTicks, x)
		}
	}
	return top + linePx
}

// row draws the bars and points of a row and its labels: a label stands in its bar, to the right of it, to the left, or is left to the title.
func (l *layout) row(r *Row, i int, grouped bool, first map[string]int) {
	y := l.plot.y + rowPx*float64(i)
	middle := y + rowPx/2
	if i%2 == 1 {
		l.bands = append(l.bands, box{0, y, l.width, rowPx})
	}
	x := pad
	if grouped && !r.Head {
		x += indent
	}
	if t, ok := newLabel(x, middle, l.plot.x-pad-x, r.Label, textPx, r.Head, "name"); ok {
		l.labels = append(l.labels, t)
	}
	if r.Head {
		l.heads = append(l.heads, box{0, y, l.width, rowPx})
	}
	const seam = 3 * pad // room for the tick of what is done
	type wish struct {
		text   string
		around box
		inside string // class of a label inside the bar
	}
	var wishes []wish
	var taken []box
	right := l.plot.x + l.plot.w
	for _, b := range r.Bars {
		if b.To.Before(l.from) || b.From.After(l.to) {
			continue
		}
		x0, x1 := l.clip(b.From), l.clip(b.To)
		if x1-x0 < leastBar {
			x1 = min(x0+leastBar, right)
			x0 = x1 - leastBar
		}
		d := drawnBar{box: box{x0, middle - barPx/2, x1 - x0, barPx}, sort: b.Sort, critical: b.Critical && (b.Sort == Work || b.Sort == Wait), row: i}
		switch b.Sort {
		case Float:
			d.y, d.h = middle-1.5, 3
		case Plan:
			d.y, d.h = middle+barPx/2+1, 3
		}
		d.title = joined(b.Label, b.Note)
		if _, known := first[r.ID]; !known && (b.Sort == Work || b.Sort == Wait || b.Sort == Done) {
			first[r.ID] = len(l.bars)
		}
		l.bars = append(l.bars, d)
		full := box{d.x, y, d.w, rowPx}
		taken = append(taken, full)
		if b.Label != "" {
			class := ""
			switch {
			case b.Sort == Work && !b.Critical:
				class = "in"
			case b.Sort <= Done:
				class = "over" // has a seam around it
			}
			wishes = append(wishes, wish{b.Label, full, class})
		}
	}
	for _, p := range r.Points {
		if p.At.Before(l.from) || p.At.After(l.to) {
			continue
		}
		px := min(max(l.x(p.At), l.plot.x+pointPx), right-pointPx)
		l.points = append(l.points, drawnPoint{px, middle, p.Shape, joined(p.Label, p.Note)})
		full := box{px - pointPx, y, 2 * pointPx, rowPx}
		taken = append(taken, full)
		if p.Label != "" {
			wishes = append(wishes, wish{p.Label, full, ""})
		}
	}
	free := func(b box) bool {
		return b.x >= l.plot.x && b.x+b.w <= right && !slices.ContainsFunc(taken, b.meets)
	}
	for _, w := range wishes {
		t, ok := newLabel(0, middle, math.Inf(1), w.text, smallPx, false, "bar")
		if !ok {
			continue
		}
		room := box{0, y, t.w + pad, rowPx}
		switch {
		case w.inside != "" && t.w+seam <= w.around.w && !slices.ContainsFunc(taken, func(b box) bool { return b != w.around && b.meets(box{w.around.x, y, t.w + pad, rowPx}) }):
			t.x, t.class = w.around.x+pad/2, w.inside
		case free(box{w.around.x + w.around.w, y, room.w, rowPx}):
			t.x = w.around.x + w.around.w + pad/2
		case free(box{w.around.x - room.w, y, room.w, rowPx}):
			t.x = w.around.x - room.w + pad/2
		default:
			continue
		}
		taken = append(taken, box{t.x, y, t.w, rowPx})
		l.labels = append(l.labels, t)
	}
}

func joined(label, note string) string {
	switch {
	case label == "":
		return font.Clean(note, 400)
	case note == "":
		return font.Clean(label, 400)
	}
	return font.Clean(label+": "+note, 400)
}

// arrow leaves a bar sideways and enters the other from the side.
func (l *layout) arrow(a Link, first map[string]int) {
	i, ok := first[a.From]
	j, known := first[a.To]
	if !ok || !known || i == j {
		return
	}
	p, q := l.bars[i], l.bars[j]
	fromStart := a.Kind == programme.SS || a.Kind == programme.SF
	toStart := a.Kind == programme.FS || a.Kind == programme.SS
	const out = 5.0
	left, right := l.plot.x, l.plot.x+l.plot.w
	from := pt{p.x + p.w, p.y + p.h/2}
	leave := min(from.x+out, right)
	if fromStart {
		from.x = p.x
		leave = max(from.x-out, left)
	}
	to := pt{q.x + q.w, q.y + q.h/2}
	enter := min(to.x+out, right)
	if toStart {
		to.x = q.x
		enter = max(to.x-out, left)
	}
	between := to.y - rowPx/2 // the line between two rows
	if to.y < from.y {
		between = to.y + rowPx/2
	}
	path := []pt{from, {leave, from.y}}
	if toStart && leave <= enter {
		path = append(path, pt{leave, to.y}, to)
	} else {
		path = append(path, pt{leave, between}, pt{enter, between}, pt{enter, to.y}, to)
	}
	l.arrows = append(l.arrows, path)
}

// layLegend explains what the chart holds, and nothing else.
func (l *layout) layLegend(top float64) {
	type entry struct {
		words string
		item  legendItem
	}
	var entries []entry
	for _, s := range []struct {
		sort     Sort
		critical bool
		words    string
	}{{Work, false, "work"}, {Work, true, "critical work"}, {Wait, false, "wait"}, {Wait, true, "critical wait"}, {Done, false, "done"}, {Float, false, "float"}, {Plan, false, "as planned before"}} {
		if slices.ContainsFunc(l.bars, func(b drawnBar) bool { return b.sort == s.sort && b.critical == s.critical }) {
			entries = append(entries, entry{s.words, legendItem{bar: &drawnBar{sort: s.sort, critical: s.critical}}})
		}
	}
	for i, words := range []string{"hold point", "witness point", "review", "milestone"} {
		if slices.ContainsFunc(l.points, func(p drawnPoint) bool { return p.shape == Shape(i) }) {
			entries = append(entries, entry{words, legendItem{point: &drawnPoint{shape: Shape(i)}}})
		}
	}
	if len(l.shades) > 0 {
		entries = append(entries, entry{"no work", legendItem{shade: true}})
	}
	const swatch, line = 26.0, 20.0
	x, y := pad, top
	for _, e := range entries {
		w := swatch + pad + font.Width(e.words, smallPx, false) + 3*pad
		if x > pad && x+w > l.width-pad {
			x, y = pad, y+line
		}
		e.item.box = box{x, y + line/2 - barPx/2, swatch, barPx}
		if b := e.item.bar; b != nil {
			b.box = e.item.box
			if b.sort == Float || b.sort == Plan {
				b.y, b.h = y+line/2-1.5, 3
			}
		}
		if p := e.item.point; p != nil {
			p.x, p.y = x+swatch/2, y+line/2
		}
		l.legend = append(l.legend, e.item)
		t, _ := newLabel(x+swatch+pad, y+line/2, math.Inf(1), e.words, smallPx, false, "legend")
		l.labels = append(l.labels, t)
		x += w
	}
	l.height = y + pad
	if len(entries) > 0 {
		l.height += line
	}
}
