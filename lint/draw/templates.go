package draw

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/measure"
)

// Templates are drawn at full size on A4. The window of a tile is what it shows of the face.
const (
	rulerMM    = 7
	windowLeft = margin + rulerMM
	windowWide = a4Short - 2*margin - rulerMM - 7 // right of it stands the second check bar
	windowTop  = a4Long - margin - 9
	windowHigh = 189
	footMM     = 30 // of the list of holes and the map below the window

	holePad     = 12 // least distance of a hole from the edge of its tile, where it can be kept
	leastPad    = 2
	nearMM      = 140  // holes whose edges are nearer to each other than this share a template
	templateMax = 1000 // larger holes are set out from the sheet
	mostHoles   = 5000 // of one face
	mostTiles   = 1000 // of one job
	datumStep   = 50   // datum lines lie at multiples of this
)

// tile is one page of templates.
type tile struct {
	name   string
	win    Box   // what it shows, mm on the sheet
	holes  []int // rows of the schedule that belong to it
	others []int // rows that it shows as well, whole or in part
	joins  []int // tiles that overlap with it
	group  int
}

// reference is a line that a tile is laid on: an edge, a joint, or a datum line that is drawn for the purpose.
type reference struct {
	at    float64 // x of an upright line, y of a level one, on the sheet
	words string  // "joint x 1800"
	datum bool
}

// Templates writes the holes of faces at full size, on tiles of A4 that are taped on the panel: near holes on one tile, larger
// groups on several that overlap. Before the tiles of a face stand a map and a list of its holes. Each tile has two check bars of 100 mm,
// rulers in the coordinates of the face, and the edges or joints of the panel that it is laid on, or else datum lines to draw on the panel.
// The error says so when a job has too many holes for templates. Of [Info] the paper has no meaning here.
func Templates(w io.Writer, sheets []Sheet, info Info) error {
	d := &document{info: info, kind: "templates at full size"}
	n := 0
	for i := range sheets {
		s := &sheets[i]
		if s.Face == "" || len(s.Holes) == 0 {
			continue
		}
		if err := finite(s); err != nil {
			return err
		}
		if len(s.Holes) > mostHoles {
			return fmt.Errorf("%s has %d holes; templates are made for %d at most", s.Title, len(s.Holes), mostHoles)
		}
		tiles, left := tilesOf(s)
		if n += len(tiles); n > mostTiles {
			return fmt.Errorf("the templates would take more than %d pages", mostTiles)
		}
		d.face(s, tiles, left)
	}
	if len(d.pages) == 0 {
		return fmt.Errorf("there are no holes on a face, so there are no templates")
	}
	return d.write(w)
}

// diameter of a hole; 0 when the job does not say it.
func (h *HoleRow) diameter() float64 {
	if h.D == nil || *h.D < 0 {
		return 0
	}
	return *h.D
}

// on is where a hole is on the sheet.
func (h *HoleRow) on(s *Sheet) Point {
	if s.Down {
		return Point{X: *h.X, Y: -*h.Y}
	}
	return Point{X: *h.X, Y: *h.Y}
}

// box is the area of a hole on the sheet, with room round it as far as the tile allows.
func (h *HoleRow) box(s *Sheet) Box {
	d := h.diameter()
	pad := func(window float64) float64 { return max(0, min(holePad, (window-1-d)/2)) }
	p := h.on(s)
	return boxAt(p, d+2*pad(windowWide), d+2*pad(windowHigh))
}

// Windows lie on whole millimetres, so the holes of a tile have a millimetre less than the window.

// span is an interval of one coordinate.
type span struct{ lo, hi float64 }

// cuts covers spans with windows of one size so that every span that fits in a window is whole in one; neighbours overlap by at least the overlap.
// It returns where the windows start, in
// whole millimetres.
func cuts(spans []span, size float64) []float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range spans {
		lo, hi = min(lo, s.lo), max(hi, s.hi)
	}
	size-- // so that the starts can be rounded down
	out := []float64{math.Floor(lo)}
	for at := lo; at+size < hi-1e-6; {
		next := at + size - overlap
		for _, s := range spans {
			// Cut by the end of the window: the next window begins before it. As it fits in a window it begins after this one, so each turn goes on.
			if s.lo < at+size && s.hi > at+size && s.hi-s.lo <= size && s.lo > at {
				next = min(next, s.lo)
			}
		}
		at = next
		out = append(out, math.Floor(at))
	}
	return out
}

// within says whether a box lies in another, but for rounding.
func (b Box) within(o Box) bool {
	const eps = 1e-6
	return b.MinX >= o.MinX-eps && b.MaxX <= o.MaxX+eps && b.MinY >= o.MinY-eps && b.MaxY <= o.MaxY+eps
}

// ringIn says whether a box shows a part of the edge of a hole or its centre.
func ringIn(p Point, r float64, b Box) bool {
	nx, ny := min(max(p.X, b.MinX), b.MaxX), min(max(p.Y, b.MinY), b.MaxY)
	near := math.Hypot(nx-p.X, ny-p.Y)
	if near == 0 { // the centre
		return true
	}
	far := math.Hypot(max(p.X-b.MinX, b.MaxX-p.X), max(p.Y-b.MinY, b.MaxY-p.Y))
	return near <= r && far >= r
}

// tilesOf lays tiles over the holes of a face. left says of rows that no tile shows why.
func tilesOf(s *Sheet) (tiles []tile, left map[int]string) {
	left = map[int]string{}
	var groups [][]int
	var boxes []Box
	for i := range s.Holes {
		h := &s.Holes[i]
		switch {
		case !h.Drawn || h.X == nil || h.Y == nil:
			left[i] = "the job does not say where it is"
			continue
		case h.diameter() > templateMax:
			left[i] = "too large for a template"
			continue
		}
		// Groups that the hole is near to become one with it.
		group, box := []int{i}, h.box(s)
		p, r := h.on(s), h.diameter()/2
		var keep [][]int
		var keepBoxes []Box
		for k, g := range groups {
			near := slices.ContainsFunc(g, func(j int) bool {
				q := s.Holes[j].on(s)
				return math.Hypot(p.X-q.X, p.Y-q.Y)-r-s.Holes[j].diameter()/2 < nearMM
			})
			if near {
				group, box = append(group, g...), box.add(boxes[k])
				continue
			}
			keep, keepBoxes = append(keep, g), append(keepBoxes, boxes[k])
		}
		groups, boxes = append(keep, group), append(keepBoxes, box)
	}
	// Groups that fit on one tile together share it.
	fits := func(b Box) bool {
		return b.MaxX-b.MinX <= windowWide-1 && b.MaxY-b.MinY <= windowHigh-1
	}
	for i := 0; i < len(groups); i++ {
		for k := i + 1; k < len(groups); k++ {
			if both := boxes[i].add(boxes[k]); fits(both) {
				groups[i], boxes[i] = append(groups[i], groups[k]...), both
				groups, boxes = slices.Delete(groups, k, k+1), slices.Delete(boxes, k, k+1)
				k--
			}
		}
	}
	order := make([]int, len(groups))
	for i := range groups {
		slices.Sort(groups[i])
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(groups[a][0], groups[b][0]) })
	xs, ys := linesOf(s)
	for n, g := range order {
		rows, b := groups[g], boxes[g]
		if !fits(b) {
			// Rather less room round its holes than two tiles: two taps 150 mm apart stay together.
			tight := newBox()
			for _, i := range rows {
				d := s.Holes[i].diameter()
				tight = tight.add(boxAt(s.Holes[i].on(s), d+2*leastPad, d+2*leastPad))
			}
			if fits(tight) {
				b = tight
			}
		}
		if fits(b) {
			x := slide(span{b.MinX, b.MaxX}, windowWide, xs)
			y := slide(span{b.MinY, b.MaxY}, windowHigh, ys)
			tiles = append(tiles, tile{win: Box{x, y, x + windowWide, y + windowHigh}, holes: rows, group: n})
			continue
		}
		var spanX, spanY []span
		for _, i := range rows {
			hb := s.Holes[i].box(s)
			spanX, spanY = append(spanX, span{hb.MinX, hb.MaxX}), append(spanY, span{hb.MinY, hb.MaxY})
		}
		at := map[[2]int]int{} // column and row -> tile
		var cells [][2]int
		startX, startY := cuts(spanX, windowWide), cuts(spanY, windowHigh)
		win := func(c [2]int) Box {
			return Box{startX[c[0]], startY[c[1]], startX[c[0]] + windowWide, startY[c[1]] + windowHigh}
		}
		belongs := map[[2]int][]int{}
		put := func(c [2]int, i int) {
			if len(belongs[c]) == 0 {
				cells = append(cells, c)
			}
			belongs[c] = append(belongs[c], i)
		}
		for _, i := range rows {
			h := &s.Holes[i]
			hb, p, r := h.box(s), h.on(s), h.diameter()/2
			col := slices.IndexFunc(startX, func(v float64) bool { return hb.MinX >= v && hb.MaxX <= v+windowWide })
			row := slices.IndexFunc(startY, func(v float64) bool { return hb.MinY >= v && hb.MaxY <= v+windowHigh })
			if col >= 0 && row >= 0 {
				put([2]int{col, row}, i)
				continue
			}
			for row, y := range startY {
				if y > p.Y+r || y+windowHigh < p.Y-r {
					continue
				}
				for col := range startX {
					if c := [2]int{col, row}; ringIn(p, r, win(c)) {
						put(c, i)
					}
				}
			}
		}
		// From the top down and from left to right, as one reads.
		slices.SortFunc(cells, func(a, b [2]int) int { return cmp.Or(cmp.Compare(b[1], a[1]), cmp.Compare(a[0], b[0])) })
		for _, c := range cells {
			at[c] = len(tiles)
			tiles = append(tiles, tile{win: win(c), holes: belongs[c], group: n})
		}
		for _, c := range cells {
			for _, step := range [4][2]int{{-1, 0}, {1, 0}, {0, 1}, {0, -1}} {
				if k, ok := at[[2]int{c[0] + step[0], c[1] + step[1]}]; ok {
					tiles[at[c]].joins = append(tiles[at[c]].joins, k)
				}
			}
		}
	}
	letters := "T"
	if len(s.Holes) > 0 {
		letters = strings.TrimRight(s.Holes[0].Mark, "0123456789")
	}
	for i := range tiles {
		t := &tiles[i]
		t.name = fmt.Sprintf("%s-%d", letters, i+1)
		for k := range s.Holes {
			if _, out := left[k]; !out && !slices.Contains(t.holes, k) && ringIn(s.Holes[k].on(s), s.Holes[k].diameter()/2, t.win) {
				t.others = append(t.others, k)
			}
		}
	}
	return tiles, left
}

// linesOf are the upright and level lines of a panel that a tile can be laid on: its straight edges and its joints.
func linesOf(s *Sheet) (xs, ys []reference) {
	put := func(list []reference, at float64, words string) []reference {
		if slices.ContainsFunc(list, func(r reference) bool { return math.Abs(r.at-at) < 0.01 }) {
			return list
		}
		return append(list, reference{at: at, words: words})
	}
	guessed := false
	for i := range s.Shapes {
		x := &s.Shapes[i]
		if x.Layer == PanelLayer && strings.Contains(x.Class, "guessed") {
			guessed = true
		}
	}
	if ring := outlineOf(s); !guessed {
		for i := range ring {
			p, q := ring[i], ring[(i+1)%len(ring)]
			switch {
			case p.X == q.X && p.Y != q.Y:
				xs = put(xs, p.X, "edge of the panel")
			case p.Y == q.Y && p.X != q.X:
				ys = put(ys, p.Y, "edge of the panel")
			}
		}
	}
	for i := range s.Shapes {
		if x := &s.Shapes[i]; x.Layer == JointLayer && x.Kind == Line && len(x.Points) == 2 && x.Points[0].X == x.Points[1].X {
			xs = put(xs, x.Points[0].X, "joint")
		}
	}
	byPlace := func(a, b reference) int { return cmp.Compare(a.at, b.at) }
	slices.SortFunc(xs, byPlace)
	slices.SortFunc(ys, byPlace)
	return xs, ys
}

// slide places a window over a span that is at least a millimetre shorter, so that it shows the nearest edge or joint too, if it can. The window lies on whole millimetres.
func slide(s span, size float64, lines []reference) float64 {
	const pad = 5
	best := s
	dist := math.Inf(1)
	for _, l := range lines {
		with := span{min(s.lo, l.at-pad), max(s.hi, l.at+pad)}
		away := max(s.lo-l.at, l.at-s.hi, 0)
		if with.hi-with.lo <= size-1 && away < dist {
			best, dist = with, away
		}
	}
	return math.Round((best.lo+best.hi)/2 - size/2)
}

// references are the lines of a tile: those of the panel that it shows, or a datum line.
func references(lines []reference, s span, holes []float64) []reference {
	var out []reference
	for _, l := range lines {
		if l.at >= s.lo && l.at <= s.hi {
			out = append(out, l)
		}
	}
	if len(out) > 0 {
		return out
	}
	const inside, clear = 8, 6
	best, room := math.NaN(), -1.0
	for v := math.Ceil((s.lo+inside)/datumStep) * datumStep; v <= s.hi-inside; v += datumStep {
		near := clear + 0.0
		for _, h := range holes {
			near = min(near, math.Abs(h-v))
		}
		if near > room {
			best, room = v, near
		}
	}
	if math.IsNaN(best) {
		return nil
	}
	return []reference{{at: best, words: "datum line", datum: true}}
}

// face plans the map, the list and the tiles of one face.
func (d *document) face(s *Sheet, tiles []tile, left map[int]string) {
	lack := d.lackNote(s)
	proto := sheetPage{w: a4Short, h: a4Long, title: s.Title + ": templates", scale: "–", k: 1, lacks: lack != ""}
	room := d.blockOn(&proto, false)
	first := len(d.pages)

	where := make([][]string, len(s.Holes))
	for _, t := range tiles {
		for _, i := range t.holes {
			where[i] = append(where[i], t.name)
		}
	}
	var pieces []*piece
	pieces = append(pieces, heading("How to use the templates"))
	corner := "lower left"
	if s.Down {
		corner = "upper left"
	}
	for i, step := range []string{
		"Print at full size. Measure both check bars of every tile: 100 mm each, or the tile is waste paper.",
		"Cut along the frame. Where tiles overlap, lay the slanted crosses on each other and tape them.",
		"Lay the tile with its thick lines on the edge or joint that they name. Where it names a datum line, first draw that line on the panel with tape and level, from the " + corner + " corner of the face.",
		"Before the cut, measure x and y of each centre with the tape. The figures count, not the paper.",
	} {
		pieces = append(pieces, paragraph(step, listSize, false, 5, func(c *canvas, p Point) {
			c.text(words{at: p, s: fmt.Sprintf("%d", i+1), size: listSize, strong: true})
		}))
	}
	if len(tiles) > 0 {
		names := make([]string, len(tiles))
		wins := make([]Box, len(tiles))
		for i, t := range tiles {
			names[i], wins[i] = t.name, t.win
		}
		pieces = append(pieces, heading("Where the tiles lie"), &piece{
			height: func(float64) float64 { return 100 },
			draw: func(c *canvas, x, top, w float64) {
				tileMap(c, Box{x, top - 98, x + w, top}, s, wins, -1, names)
			}})
	}
	rows := make([][]string, len(s.Holes))
	for i := range s.Holes {
		h := &s.Holes[i]
		t := h.Texts()
		on := strings.Join(where[i], ", ")
		if why, ok := left[i]; ok {
			on = "none: " + why
		}
		rows[i] = append([]string{h.Mark, h.What}, append(t[:], on)...)
	}
	columns := append(slices.Clone(holeColumns), column{head: "Tile", strong: true})
	pieces = append(pieces, heading("Holes of this face (mm)"))
	pieces = append(pieces, table(columns, rows)...)
	var notes []string
	if len(tiles) == 0 {
		notes = append(notes, "This face has no templates.")
	}
	if len(outlineOf(s)) == 0 || guessed(s) {
		notes = append(notes, "The job does not give the size of this face, so its tiles show no edges of the panel.")
	}
	if lack != "" {
		notes = append(notes, lack)
	}
	if len(notes) > 0 {
		pieces = append(pieces, heading("Notes"))
		for _, n := range notes {
			pieces = append(pieces, paragraph(n, listSize, false, 0, nil))
		}
	}
	for _, list := range pour(pieces, nil, func() Box { return room }) {
		p := proto
		p.upper = func(c *canvas) {
			for _, q := range list {
				q.draw(c, q.x, q.top, q.w)
			}
		}
		d.pages = append(d.pages, p)
	}
	d.pages[first].mark = s.Title

	xs, ys := linesOf(s)
	for i := range tiles {
		p := proto
		p.title = fmt.Sprintf("%s: tile %s, one of %d", s.Title, tiles[i].name, len(tiles))
		p.scale = "1:1"
		d.blockOn(&p, false)
		p.upper = func(c *canvas) { d.tile(c, &p, s, tiles, i, xs, ys) }
		d.pages = append(d.pages, p)
	}
}

func guessed(s *Sheet) bool {
	return slices.ContainsFunc(s.Shapes, func(x Shape) bool { return x.Layer == PanelLayer && strings.Contains(x.Class, "guessed") })
}

// faceY is the y of the face for one of the sheet.
func (s *Sheet) faceY(y float64) float64 {
	if s.Down {
		return 0 - y
	}
	return y
}

// templateInk says which shapes of a sheet a template shows, all as lines.
func templateInk(x *Shape) (Shape, bool) {
	y := *x
	y.Fill, y.Title = NoFill, ""
	switch x.Layer {
	case PanelLayer:
		return y, x.Kind == Polygon && strings.Contains(x.Class, "outline")
	case JointLayer, BenchLayer:
		return y, x.Kind == Line || x.Kind == Polygon
	case OpeningLayer:
		return y, x.Class == "doorway" || x.Class == "collar"
	case GrooveLayer:
		return y, true
	case CableLayer:
		return y, x.Kind == Polyline && x.Class != "leader"
	}
	return y, false
}

// tile draws one tile.
func (d *document) tile(c *canvas, p *sheetPage, s *Sheet, tiles []tile, n int, xs, ys []reference) {
	t := &tiles[n]
	bottom := p.block.MaxY + gutter/2 + footMM + rulerMM
	corner := Point{X: windowLeft, Y: windowTop - windowHigh}
	if corner.Y < bottom {
		corner.Y = bottom // a title block with many lines: the head of the page gives way
	}
	window := Box{corner.X, corner.Y, corner.X + windowWide, corner.Y + windowHigh}
	at := func(q Point) Point { return Point{X: corner.X + q.X - t.win.MinX, Y: corner.Y + q.Y - t.win.MinY} }
	join := ""
	for k, j := range t.joins {
		join += [2]string{", ", "; joins "}[btoi(k == 0)] + tiles[j].name
	}
	y0, y1 := s.faceY(t.win.MinY), s.faceY(t.win.MaxY)
	c.text(words{at: Point{X: margin, Y: window.MaxY + 3.2}, s: "Tile " + t.name, size: 5, strong: true})
	c.text(words{at: Point{X: margin + 8 + TextWidth("Tile "+t.name, 5, true), Y: window.MaxY + 3.2}, size: listSize, fit: a4Short - 2*margin - 8 - TextWidth("Tile "+t.name, 5, true),
		s: fmt.Sprintf("shows x %s to %s, y %s to %s%s", num3(t.win.MinX), num3(t.win.MaxX), num3(min(y0, y1)), num3(max(y0, y1)), join)})

	shown := append(slices.Clone(t.holes), t.others...)
	slices.Sort(shown)
	var holeX, holeY []float64
	for _, i := range shown {
		q := s.Holes[i].on(s)
		holeX, holeY = append(holeX, q.X), append(holeY, q.Y)
	}
	upright := references(xs, span{t.win.MinX, t.win.MaxX}, holeX)
	level := references(ys, span{t.win.MinY, t.win.MaxY}, holeY)

	spots := newPlacer(20, func(b Box) bool { return b.grow(1).within(window) })
	c.clip(window, func() {
		var list []Shape
		for i := range s.Shapes {
			if x, ok := templateInk(&s.Shapes[i]); ok {
				list = append(list, x)
			}
		}
		c.shapes(list, view{scale: 1, k: 1, em: 1, window: t.win, at: at})
		for _, j := range t.joins {
			o := tiles[j].win
			a, b := at(Point{X: o.MinX, Y: o.MinY}), at(Point{X: o.MaxX, Y: o.MaxY})
			overlapMarks(c, window, Box{a.X, a.Y, b.X, b.Y})
			both := Box{max(window.MinX, a.X), max(window.MinY, a.Y), min(window.MaxX, b.X), min(window.MaxY, b.Y)}
			for _, q := range registers(both) {
				spots.take(boxAt(q, 7, 7))
			}
		}
		for _, l := range upright {
			x := at(Point{X: l.at}).X
			spots.take(Box{x - 1, window.MinY, x + 1, window.MaxY})
			refLine(c, l, Point{X: x, Y: window.MinY}, Point{X: x, Y: window.MaxY})
		}
		for _, l := range level {
			y := at(Point{Y: l.at}).Y
			spots.take(Box{window.MinX, y - 1, window.MaxX, y + 1})
			refLine(c, l, Point{X: window.MinX, Y: y}, Point{X: window.MaxX, Y: y})
		}
		for _, i := range shown {
			h := &s.Holes[i]
			q, r := at(h.on(s)), h.diameter()/2
			if r > 0 {
				c.line(black, Thin.MM(), Solid)
				c.circle("S", q, r)
			}
			arm := max(r+6, 9)
			if len(shown) > 12 {
				arm = max(r+2, 4)
			}
			cross(c, q, arm)
			c.circle("S", q, 0.8)
			takeRing(spots, q, r)
			spots.take(boxAt(q, 2*arm, 1))
			spots.take(boxAt(q, 1, 2*arm))
		}
	})
	for i := range s.Shapes { // edges that are no reference, as they may not be cut yet
		x := &s.Shapes[i]
		if x.Layer != OpeningLayer || x.Kind != Polygon || x.Class != "doorway" || len(x.Points) != 4 {
			continue
		}
		b := boxOf(x.Points...)
		if !b.Overlaps(t.win) {
			continue
		}
		for _, v := range [2]float64{b.MinX, b.MaxX} {
			if v > t.win.MinX && v < t.win.MaxX {
				px := at(Point{X: v}).X
				spots.take(Box{px - 0.5, window.MinY, px + 0.5, window.MaxY})
				label(c, spots, words{s: cut(clean(x.Ref, 40), 2.8, 60, false) + "  x " + num3(v), size: 2.8, turn: 90}, Point{X: px - 2.4, Y: window.MaxY - 3}, Point{X: px + 2.4, Y: window.MaxY - 3}, Point{X: px - 2.4, Y: window.MinY + 3}, Point{X: px + 2.4, Y: window.MinY + 3})
			}
		}
		for _, v := range [2]float64{b.MinY, b.MaxY} {
			if v > t.win.MinY && v < t.win.MaxY {
				py := at(Point{Y: v}).Y
				spots.take(Box{window.MinX, py - 0.5, window.MaxX, py + 0.5})
				label(c, spots, words{s: cut(clean(x.Ref, 40), 2.8, 60, false) + "  y " + num3(s.faceY(v)), size: 2.8}, Point{X: window.MaxX - 3, Y: py + 2.4}, Point{X: window.MaxX - 3, Y: py - 2.4}, Point{X: window.MinX + 3, Y: py + 2.4}, Point{X: window.MinX + 3, Y: py - 2.4})
			}
		}
	}
	// Names of the lines, then distances, then what each hole is.
	for _, l := range upright {
		name := fmt.Sprintf("%s  x %s", l.words, num3(l.at))
		x := at(Point{X: l.at}).X
		label(c, spots, words{s: name, size: 2.8, turn: 90, strong: true}, Point{X: x - 2.6, Y: window.MaxY - 3}, Point{X: x + 2.6, Y: window.MaxY - 3}, Point{X: x - 2.6, Y: window.MinY + 3}, Point{X: x + 2.6, Y: window.MinY + 3})
	}
	for _, l := range level {
		name := fmt.Sprintf("%s  y %s", l.words, num3(s.faceY(l.at)))
		y := at(Point{Y: l.at}).Y
		label(c, spots, words{s: name, size: 2.8, strong: true}, Point{X: window.MaxX - 3, Y: y + 2.4}, Point{X: window.MaxX - 3, Y: y - 2.4}, Point{X: window.MinX + 3, Y: y + 2.4}, Point{X: window.MinX + 3, Y: y - 2.4})
	}
	if len(shown) <= 6 {
		for _, i := range shown {
			q := s.Holes[i].on(s)
			if l := nearest(upright, q.X); l != nil {
				distance(c, spots, at(q), at(Point{X: l.at, Y: q.Y}), window)
			}
			if l := nearest(level, q.Y); l != nil {
				distance(c, spots, at(q), at(Point{X: q.X, Y: l.at}), window)
			}
		}
	}
	unnamed := 0
	for _, i := range shown {
		if !d.holeLabel(c, spots, s, i, at(s.Holes[i].on(s)), window, len(shown)) {
			unnamed++
		}
	}
	c.line(black, Normal.MM(), Solid)
	c.rect("S", window)
	rulers(c, window, t.win, s)
	checkBar(c, Point{X: window.MaxX + 3, Y: window.MinY + 40}, true)
	d.tileFoot(c, s, tiles, n, upright, level, Box{margin, p.block.MaxY + gutter/2, a4Short - margin, p.block.MaxY + gutter/2 + footMM}, unnamed)
}

// cross marks a centre.
func cross(c *canvas, p Point, arm float64) {
	c.line(black, Thin.MM(), Solid)
	c.path("S", Point{X: p.X - arm, Y: p.Y}, Point{X: p.X + arm, Y: p.Y})
	c.path("S", Point{X: p.X, Y: p.Y - arm}, Point{X: p.X, Y: p.Y + arm})
}

// takeRing keeps texts off the edge of a hole, and out of a small one.
func takeRing(spots *placer, q Point, r float64) {
	if r < 30 {
		spots.take(boxAt(q, 2*r+1, 2*r+1))
		return
	}
	const parts = 48
	for i := range parts {
		at := func(i int) Point {
			sin, cos := math.Sincos(float64(i) * 2 * math.Pi / parts)
			return Point{X: q.X + r*cos, Y: q.Y + r*sin}
		}
		spots.take(boxOf(at(i), at(i+1)).grow(0.5 + r*0.003))
	}
}

// num3 writes a coordinate.
func num3(v float64) string { return measure.FormatNumber(v) }

// refLine draws a line that the tile is laid on.
func refLine(c *canvas, l reference, a, b Point) {
	if l.datum {
		c.line(black, Normal.MM(), DashDot)
	} else {
		c.line(black, Bold.MM(), Solid)
	}
	c.path("S", a, b)
}

// label writes a text at the first of some places that is free. Texts that stand at the far end of a line end there.
func label(c *canvas, spots *placer, t words, places ...Point) bool {
	for i, p := range places {
		s := Shape{Kind: Text, Text: t.s, Size: t.size, Turn: t.turn, Strong: t.strong, Points: []Point{p}, Anchor: End}
		if i >= len(places)/2 && len(places) > 1 {
			s.Anchor = Start
		}
		b := s.Box(1)
		if !spots.free(b) {
			continue
		}
		spots.take(b)
		t.at, t.anchor, t.halo = s.Baseline(1), s.Anchor, true
		c.text(t)
		return true
	}
	return false
}

// nearest line to a place.
func nearest(lines []reference, v float64) *reference {
	var best *reference
	for i := range lines {
		if best == nil || math.Abs(lines[i].at-v) < math.Abs(best.at-v) {
			best = &lines[i]
		}
	}
	return best
}

// distance dimensions the way from the centre of a hole to a line, level or upright, with an arrow and the figure. Where the figure has no room it is
// left to the list below.
func distance(c *canvas, spots *placer, a, b Point, window Box) {
	d := math.Hypot(b.X-a.X, b.Y-a.Y)
	if d < 6 {
		return
	}
	turn := 0.0
	if a.X == b.X {
		turn = 90
	}
	text := num3(d)
	for _, share := range [...]float64{0.5, 0.65, 0.35, 0.8} {
		m := Point{X: a.X + (b.X-a.X)*share, Y: a.Y + (b.Y-a.Y)*share}
		for _, side := range [2]float64{2.4, -2.4} {
			p := Point{X: m.X, Y: m.Y + side}
			if turn != 0 {
				p = Point{X: m.X - side, Y: m.Y}
			}
			s := Shape{Kind: Text, Text: text, Size: 3.4, Turn: turn, Strong: true, Points: []Point{p}, Anchor: Middle}
			box := s.Box(1)
			if !spots.free(box) {
				continue
			}
			spots.take(box)
			spots.take(boxOf(a, b).grow(0.4))
			c.clip(window, func() {
				c.line(grey, Thin.MM(), Solid)
				c.path("S", a, b)
				c.fill(grey)
				u := Point{X: (b.X - a.X) / d, Y: (b.Y - a.Y) / d}
				q := Point{X: b.X - u.X*2.2, Y: b.Y - u.Y*2.2}
				c.path("f", b, Point{X: q.X - u.Y*0.5, Y: q.Y + u.X*0.5}, Point{X: q.X + u.Y*0.5, Y: q.Y - u.X*0.5})
			})
			c.text(words{at: s.Baseline(1), s: text, size: s.Size, turn: turn, strong: true, anchor: Middle, halo: true})
			return
		}
	}
}

// warnings are the findings that point at a hole.
func warnings(s *Sheet, h *HoleRow) string {
	var out []string
	for _, m := range s.Marks {
		if m.Placed && (m.Ref == h.Hole || m.Ref == h.Item) {
			out = append(out, fmt.Sprintf("%d %s", m.Number, m.Severity))
		}
	}
	if len(out) == 0 {
		return ""
	}
	const most = 3
	if n := len(out) - most; n > 0 {
		out = append(out[:most], fmt.Sprintf("%d more", n))
	}
	return "findings on the sheet: " + strings.Join(out, ", ")
}

// holeLabel says beside a hole what it is: all of it where there are few holes, else its mark and diameter, else its mark. It reports whether there was room.
func (d *document) holeLabel(c *canvas, spots *placer, s *Sheet, i int, q Point, window Box, crowd int) bool {
	h := &s.Holes[i]
	cells := h.Texts()
	short := h.Mark
	if h.D != nil {
		short += " Ø" + cells[2]
	}
	type line struct {
		s      string
		size   float64
		strong bool
	}
	full := []line{{short, 4.2, true}}
	more := func(text string, strong bool) {
		for _, l := range wrapped(text, 2.8, 46, strong) {
			full = append(full, line{l, 2.8, strong})
		}
	}
	more(h.What, false)
	more("x "+cells[0]+", y "+cells[1], true)
	if strings.HasPrefix(cells[3], "through") {
		more(cells[3]+", "+cells[4], false)
	} else {
		more("depth "+cells[3]+", "+cells[4], false)
	}
	more(warnings(s, h), true)
	tries := [][]line{full, {{short, 2.8, true}}, {{h.Mark, 2.3, true}}}
	switch {
	case crowd > 40:
		tries = tries[2:]
	case crowd > 6:
		tries = tries[1:]
	}
	r := h.diameter() / 2
	for _, lines := range tries {
		w, high := 0.0, 0.0
		for _, l := range lines {
			w = max(w, TextWidth(l.s, l.size, l.strong))
			high += l.size * 1.3
		}
		put := func(centre Point) {
			b := boxAt(centre, w, high)
			spots.take(b)
			y := b.MaxY
			for _, l := range lines {
				y -= l.size * 1.3
				c.text(words{at: Point{X: b.MinX, Y: y + l.size*0.3}, s: l.s, size: l.size, strong: l.strong, halo: true})
			}
		}
		steps := 24
		if crowd > 40 {
			steps = 4
		}
		inner := 0
		if r >= 30 { // inside, when there is no room outside
			inner = int(r / 2.5)
		}
		for ring := range steps + inner {
			away := r + 1.5 + float64(ring)*2.5
			if ring >= steps {
				away = 2 + float64(ring-steps)*2.5
			}
			for _, dir := range directions {
				// The corner of the label that is nearest to the hole lies on the ring.
				centre := Point{X: q.X + dir.X*away + sign(dir.X)*w/2, Y: q.Y + dir.Y*away + sign(dir.Y)*high/2}
				b := boxAt(centre, w+1, high+1)
				if !spots.free(b) {
					continue
				}
				put(centre)
				if ring > 3 && ring < steps {
					to := Point{X: min(max(q.X, b.MinX), b.MaxX), Y: min(max(q.Y, b.MinY), b.MaxY)}
					c.clip(window, func() {
						c.line(grey, Thin.MM(), Solid)
						c.path("S", toward(q, to, r), to)
					})
				}
				return true
			}
		}
	}
	return false
}

// sign is −1, 0 or 1; what is nearly nought counts as nought.
func sign(v float64) float64 {
	switch {
	case v > 0.01:
		return 1
	case v < -0.01:
		return -1
	}
	return 0
}

// rulers are scales along the left and lower side of a tile in the coordinates of the face.
func rulers(c *canvas, window, win Box, s *Sheet) {
	c.line(black, Thin.MM(), Solid)
	tick := func(v float64) float64 {
		switch r := math.Mod(math.Abs(v), 50); {
		case r == 0:
			return 3
		case math.Mod(math.Abs(v), 10) == 0:
			return 1.6
		}
		return 0.8
	}
	for x := math.Ceil(win.MinX/5) * 5; x <= win.MaxX; x += 5 {
		px := window.MinX + x - win.MinX
		c.path("S", Point{X: px, Y: window.MinY}, Point{X: px, Y: window.MinY - tick(x)})
		if tick(x) == 3 && px > window.MinX+6 && px < window.MaxX-6 {
			c.text(words{at: Point{X: px, Y: window.MinY - 5.6}, s: "x " + num3(x), size: 2.3, anchor: Middle})
		}
	}
	for y := math.Ceil(win.MinY/5) * 5; y <= win.MaxY; y += 5 {
		py := window.MinY + y - win.MinY
		c.path("S", Point{X: window.MinX, Y: py}, Point{X: window.MinX - tick(y), Y: py})
		if tick(y) == 3 && py > window.MinY+6 && py < window.MaxY-6 {
			c.text(words{at: Point{X: window.MinX - 3.8, Y: py}, s: "y " + num3(s.faceY(y)), size: 2.3, anchor: Middle, turn: 90})
		}
	}
}

// tileFoot lists the holes of a tile with their distances to the lines that it shows, and shows where on the face it lies.
func (d *document) tileFoot(c *canvas, s *Sheet, tiles []tile, n int, upright, level []reference, b Box, unnamed int) {
	t := &tiles[n]
	const mapWide = 42
	wins := make([]Box, len(tiles))
	names := make([]string, len(tiles))
	for i := range tiles {
		wins[i], names[i] = tiles[i].win, tiles[i].name
	}
	tileMap(c, Box{b.MaxX - mapWide, b.MinY, b.MaxX, b.MaxY - 1}, s, wins, n, names)
	wide := [...]float64{14, 12, 18, 18, 44, 44}
	y := b.MaxY - 3.4
	row := func(strong bool, cells ...string) {
		x := b.MinX
		for i, v := range cells {
			c.text(words{at: Point{X: x, Y: y}, s: cut(v, 2.5, wide[i]-1, strong || i == 0), size: 2.5, strong: strong || i == 0})
			x += wide[i]
		}
		y -= 3.6
	}
	row(true, "Hole", "Ø", "x", "y", "across", "up and down")
	most := 6
	if unnamed > 0 {
		most--
	}
	for k, i := range t.holes {
		if k == most-1 && len(t.holes) > most {
			c.text(words{at: Point{X: b.MinX, Y: y}, s: fmt.Sprintf("and %d more: see the list of this face", len(t.holes)-k), size: 2.5})
			y -= 3.6
			break
		}
		h := &s.Holes[i]
		cells := h.Texts()
		q := h.on(s)
		row(false, h.Mark, cells[2], cells[0], cells[1], away(q.X, nearest(upright, q.X), "left of", "right of"), away(q.Y, nearest(level, q.Y), "below", "above"))
	}
	if unnamed > 0 {
		c.text(words{at: Point{X: b.MinX, Y: y}, s: fmt.Sprintf("No room for %d marks: find these holes by x and y in the list of this face.", unnamed), size: 2.5, strong: true})
	}
}

// away says how far a place lies from a line.
func away(v float64, l *reference, less, more string) string {
	if l == nil {
		return "–"
	}
	d := geometry.RoundMM(v - l.at)
	words := strings.TrimSuffix(l.words, " of the panel")
	switch {
	case d < 0:
		return num3(-d) + " " + less + " the " + words
	case d > 0:
		return num3(d) + " " + more + " the " + words
	}
	return "on the " + words
}

// HasTemplates says whether sheets have holes that Templates can show.
func HasTemplates(sheets []Sheet) bool {
	return slices.ContainsFunc(sheets, func(s Sheet) bool { return s.Face != "" && len(s.Holes) > 0 })
}
