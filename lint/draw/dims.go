package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/measure"
)

// rank says which dimensions go first where there is no room for all.
type rank uint8

const (
	holeDim  rank = iota // holes and what sits on the face
	edgeDim              // joints, doorways, edges
	lineDim              // corners of grooves and strips
	pointDim             // fibre ends
)

// dim is one running dimension: a distance from the origin, what it leads to, and how far its witness line reaches into the face.
type dim struct {
	at    float64
	refs  []string
	rank  rank
	reach float64 // in the other coordinate of the face
}

// dims collects the running dimensions of one axis, each distance once.
type dims struct {
	list  []dim
	index map[float64]int
}

func (ds *dims) add(at, reach float64, r rank, ref string) {
	at = geometry.RoundMM(at)
	if at == 0 {
		return // the origin itself
	}
	if i, ok := ds.index[at]; ok {
		e := &ds.list[i]
		if !slices.Contains(e.refs, ref) && ref != "" {
			e.refs = append(e.refs, ref)
		}
		e.rank, e.reach = min(e.rank, r), max(e.reach, reach)
		return
	}
	if ds.index == nil {
		ds.index = map[float64]int{}
	}
	ds.index[at] = len(ds.list)
	e := dim{at: at, rank: r, reach: reach}
	if ref != "" {
		e.refs = []string{ref}
	}
	ds.list = append(ds.list, e)
}

// take returns the dimensions in order, without those that there is no room for: of the last ranks first, and each rank as a whole.
func (ds *dims) take(most int) (list []dim, left int) {
	list = slices.Clone(ds.list)
	for r := pointDim; len(list) > most; r-- {
		list = slices.DeleteFunc(list, func(e dim) bool { return e.rank == r })
		if r == holeDim {
			break
		}
	}
	slices.SortFunc(list, func(a, b dim) int { return cmp.Compare(a.at, b.at) })
	return list, len(ds.list) - len(list)
}

// label writes the distance and up to three things it leads to.
func (e *dim) label() string {
	const most = 3
	refs := e.refs
	more := ""
	if len(refs) > most {
		more = fmt.Sprintf(" +%d", len(refs)-most)
		refs = refs[:most]
	}
	return strings.TrimSpace(measure.FormatNumber(e.at)+" "+strings.Join(refs, " ")) + more
}

// spread moves places apart so that neighbours are at least pitch from each other and none lies below lo, and moves them as little as can be:
// places that would overlap form a block about their mean. The places must be in order.
//
// Source: pooling of adjacent violators, the least squares fit of a rising sequence (computed).
func spread(want []float64, pitch, lo float64) []float64 {
	type block struct {
		sum float64 // of want − i·pitch
		n   int
	}
	var blocks []block
	for i, w := range want {
		blocks = append(blocks, block{w - float64(i)*pitch, 1})
		for len(blocks) > 1 {
			a, b := blocks[len(blocks)-2], blocks[len(blocks)-1]
			if a.sum/float64(a.n) <= b.sum/float64(b.n) {
				break
			}
			blocks = append(blocks[:len(blocks)-2], block{a.sum + b.sum, a.n + b.n})
		}
	}
	out := make([]float64, 0, len(want))
	for _, b := range blocks {
		for range b.n {
			out = append(out, max(b.sum/float64(b.n), lo)+float64(len(out))*pitch)
		}
	}
	return out
}

// most is how many labels an axis takes: three times as long as the face, and never fewer than sixty.
func mostDims(length, pitch float64) int { return max(60, int(3*length/pitch)) }

// dimensions draws the running dimensions of a face along the edge y = 0 and the edge x = 0. b is the outline of the face on the sheet.
func (s *sheet) dimensions(xs, ys *dims, b Box) {
	em := textSize * s.Scale
	pitch := 1.25 * em
	edge, out := b.MinY, -1.0 // where the labels of x stand: below the face, or above the floor
	if s.Down {
		edge, out = b.MaxY, 1
	}
	listX, leftX := xs.take(mostDims(b.MaxX-b.MinX, pitch))
	listY, leftY := ys.take(mostDims(b.MaxY-b.MinY, pitch))
	if leftX+leftY > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("There is no room for %d of the dimensions: take them from the schedule.", leftX+leftY))
	}
	line := func(d Dash, class string, p ...Point) {
		s.add(Shape{Layer: DimensionLayer, Kind: Polyline, Points: p, Dash: d, Class: class})
	}
	text := func(p Point, turn float64, a Anchor, e *dim) {
		s.text(Shape{Layer: DimensionLayer, Points: []Point{p}, Text: e.label(), Turn: turn, Anchor: a, Strong: e.rank == holeDim})
	}
	witness := len(listX)+len(listY) <= 80
	at := make([]float64, len(listX))
	for i, e := range listX {
		at[i] = e.at
	}
	for i, slot := range spread(at, pitch, b.MinX) {
		e := &listX[i]
		if witness && e.reach > 0 {
			line(Dotted, "witness", Point{X: e.at, Y: edge}, Point{X: e.at, Y: s.y(e.reach)})
		}
		line(Solid, "leader", Point{X: e.at, Y: edge}, Point{X: e.at, Y: edge + out*0.6*em}, Point{X: slot, Y: edge + out*1.8*em}, Point{X: slot, Y: edge + out*2.2*em})
		anchor := End
		if s.Down {
			anchor = Start
		}
		text(Point{X: slot, Y: edge + out*2.5*em}, 90, anchor, e)
	}
	at = at[:0]
	for _, e := range listY {
		at = append(at, e.at)
	}
	for i, slot := range spread(at, pitch, 0) {
		e := &listY[i]
		y, to := s.y(e.at), s.y(slot)
		if witness && e.reach > 0 {
			line(Dotted, "witness", Point{X: b.MinX, Y: y}, Point{X: e.reach, Y: y})
		}
		line(Solid, "leader", Point{X: b.MinX, Y: y}, Point{X: b.MinX - 0.6*em, Y: y}, Point{X: b.MinX - 1.8*em, Y: to}, Point{X: b.MinX - 2.2*em, Y: to})
		text(Point{X: b.MinX - 2.5*em, Y: to}, 0, End, e)
	}
	// The origin: where the tape is hooked.
	o := Point{}
	q := 0.5 * em
	s.add(Shape{Layer: DimensionLayer, Kind: Polygon, Fill: Full, Class: "origin", Points: []Point{o, {X: o.X - q, Y: o.Y + out*2*q}, {X: o.X - 2*q, Y: o.Y + out*q}}, Title: "origin: x = 0, y = 0"})
	s.text(Shape{Layer: DimensionLayer, Points: []Point{{X: o.X - 1.3*em, Y: o.Y + out*1.3*em}}, Text: "0", Anchor: End, Strong: true})
}

// placer finds free places for names and marks. It keeps the boxes that are taken in a grid.
type placer struct {
	cell float64
	grid map[[2]int][]Box
	may  func(Box) bool // whether a place is allowed at all; nil allows all
	last float64        // how far right places went that were found nowhere else
	// low and high keep places to the right off the side on which the dimensions stand.
	low, high float64
}

func newPlacer(cell float64, allowed func(Box) bool) *placer {
	return &placer{cell: cell, grid: map[[2]int][]Box{}, may: allowed, low: math.Inf(-1), high: math.Inf(1)}
}

func (p *placer) cells(b Box, f func([2]int) bool) {
	// A box is never wider than a few hundred cells: sheets are scaled to that.
	x0, x1 := int(math.Floor(b.MinX/p.cell)), int(math.Floor(b.MaxX/p.cell))
	y0, y1 := int(math.Floor(b.MinY/p.cell)), int(math.Floor(b.MaxY/p.cell))
	for x := x0; x <= x1; x++ {
		for y := y0; y <= y1; y++ {
			if !f([2]int{x, y}) {
				return
			}
		}
	}
}

// sane says whether a box lies where things of the job format can lie; anything else takes no part in the search for places.
func (b Box) sane() bool {
	return b.MinX >= -geometry.MaxCoordMM && b.MaxX <= geometry.MaxCoordMM && b.MinY >= -geometry.MaxCoordMM && b.MaxY <= geometry.MaxCoordMM
}

func (p *placer) take(b Box) {
	if b.empty() || !b.sane() {
		return
	}
	p.cells(b, func(c [2]int) bool { p.grid[c] = append(p.grid[c], b); return true })
}

func (p *placer) free(b Box) bool {
	if p.may != nil && !p.may(b) {
		return false
	}
	if !b.sane() {
		return true
	}
	ok := true
	p.cells(b, func(c [2]int) bool {
		for _, o := range p.grid[c] {
			if b.Overlaps(o) {
				ok = false
				return false
			}
		}
		return true
	})
	return ok
}

// directions are tried in this order: right, upper right, lower right, left and so on, then the ones in between.
var directions = func() (out [16]Point) {
	for i, deg := range [16]float64{0, 45, -45, 180, 90, -90, 135, -135, 22.5, -22.5, 67.5, -67.5, 157.5, -157.5, 112.5, -112.5} {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		out[i] = Point{X: math.Round(cos*1e6) / 1e6, Y: math.Round(sin*1e6) / 1e6}
	}
	return out
}()

// place finds a free box of a size near a place and takes it. clear is how far the box stays from the place, step how much further each try goes.
// far is true when the box is not the nearest and wants a leader.
func (p *placer) place(at Point, clear, w, h, step float64) (centre Point, far bool) {
	if !boxAt(at, w, h).sane() {
		return at, true
	}
	const rings = 60
	for ring := range rings {
		r := clear + float64(ring)*step
		for i, dir := range directions {
			if ring == 0 && i >= 8 {
				break
			}
			c := Point{X: at.X + dir.X*(r+w/2), Y: at.Y + dir.Y*(r+h/2)}
			if b := boxAt(c, w, h); p.free(b) {
				p.take(b)
				return c, ring > 0
			}
		}
	}
	// Out to the right, beyond all that went there before, there is always a place.
	for x := max(p.last, at.X) + w + step; ; x += w + step {
		b := boxAt(Point{X: x, Y: at.Y}, w, h)
		if b.MinY < p.low {
			b.MinY, b.MaxY = p.low, p.low+h
		}
		if b.MaxY > p.high {
			b.MinY, b.MaxY = p.high-h, p.high
		}
		if p.free(b) {
			p.take(b)
			p.last = x
			return Point{X: (b.MinX + b.MaxX) / 2, Y: (b.MinY + b.MaxY) / 2}, true
		}
	}
}
