package route

import (
	"cmp"
	"math"
	"slices"

	"wetrule/lint/calc/geometry"
)

// frame is the area with its obstacles, turned so that rows run along x.
type frame struct {
	limits                 Limits
	upright                bool
	edge                   float64
	area                   geometry.Polygon
	rings                  []geometry.Polygon // areas to keep out of
	parts                  []part
	minX, maxX, minY, maxY float64
	effort                 *float64
}

// part is a stretch with what is kept clear round it: all within r of the segment a–b. A circle has one point.
type part struct {
	a, b geometry.Point
	r    float64
}

// span is a stretch of x.
type span struct{ lo, hi float64 }

// leastClear keeps an axis off an edge that wants no distance, so that a row never runs along or across it.
const leastClear = 1e-3

// touch is how much nearer than its distance an axis may come, so that what just touches is clear in spite of rounding.
const touch = 1e-7

func newFrame(area geometry.Polygon, obstacles []Obstacle, limits Limits, upright bool) *frame {
	f := &frame{limits: limits, upright: upright, edge: max(limits.EdgeMM, leastClear)}
	f.minX, f.maxX, f.minY, f.maxY = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	f.area = f.turn(area)
	for i, p := range f.area {
		f.minX, f.maxX, f.minY, f.maxY = min(f.minX, p.X), max(f.maxX, p.X), min(f.minY, p.Y), max(f.maxY, p.Y)
		f.parts = append(f.parts, part{p, f.area[(i+1)%len(f.area)], f.edge})
	}
	for _, o := range obstacles {
		clear := limits.ObstacleMM
		if o.ClearMM != nil {
			clear = *o.ClearMM
		}
		clear = max(clear, leastClear)
		switch {
		case o.Circle != nil:
			c := f.out(o.Circle.Centre)
			f.parts = append(f.parts, part{c, c, o.Circle.R + clear})
		case o.Ring != nil:
			ring := f.turn(o.Ring)
			f.rings = append(f.rings, ring)
			for i, p := range ring {
				f.parts = append(f.parts, part{p, ring[(i+1)%len(ring)], clear})
			}
		default:
			line := f.turn(o.Line)
			for i := 1; i < len(line); i++ {
				f.parts = append(f.parts, part{line[i-1], line[i], clear})
			}
		}
	}
	return f
}

// out turns a point of the frame into one of the face, and back.
func (f *frame) out(p geometry.Point) geometry.Point {
	if f.upright {
		return geometry.Point{X: p.Y, Y: p.X}
	}
	return p
}

func (f *frame) turn(list []geometry.Point) []geometry.Point {
	out := make([]geometry.Point, len(list))
	for i, p := range list {
		out[i] = f.out(p)
	}
	return out
}

// across is the stretch of the line at y that lies within r of the segment.
func (t part) across(y float64) (s span, ok bool) {
	s = span{math.Inf(1), math.Inf(-1)}
	t.r -= touch
	take := func(lo, hi float64) { s.lo, s.hi, ok = min(s.lo, lo), max(s.hi, hi), true }
	for _, c := range [2]geometry.Point{t.a, t.b} {
		if d := math.Abs(y - c.Y); d < t.r {
			h := math.Sqrt(t.r*t.r - d*d)
			take(c.X-h, c.X+h)
		}
	}
	if l := math.Hypot(t.b.X-t.a.X, t.b.Y-t.a.Y); l > eps {
		n := geometry.Point{X: -(t.b.Y - t.a.Y) / l * t.r, Y: (t.b.X - t.a.X) / l * t.r}
		quad := [4]geometry.Point{{X: t.a.X + n.X, Y: t.a.Y + n.Y}, {X: t.b.X + n.X, Y: t.b.Y + n.Y}, {X: t.b.X - n.X, Y: t.b.Y - n.Y}, {X: t.a.X - n.X, Y: t.a.Y - n.Y}}
		for i, p := range quad {
			q := quad[(i+1)%4]
			if (p.Y > y) != (q.Y > y) {
				x := p.X + (y-p.Y)/(q.Y-p.Y)*(q.X-p.X)
				take(x, x)
			}
		}
	}
	return s, ok
}

// between is the stretch of x that the part covers somewhere from y0 to y1. What lies within r of a segment is convex, so the widest place is the
// rightmost (or leftmost) point, or the nearest to it in the strip.
func (t part) between(y0, y1 float64) (s span, ok bool) {
	lo, hi := min(t.a.Y, t.b.Y)-t.r, max(t.a.Y, t.b.Y)+t.r
	if hi <= y0+2*touch || lo >= y1-2*touch {
		return s, false
	}
	left, right := t.a, t.b
	if left.X > right.X {
		left, right = right, left
	}
	at := func(c geometry.Point) (span, bool) {
		y := c.Y
		if t.a.X == t.b.X { // upright: any height of it will do
			y = min(max((y0+y1)/2, min(t.a.Y, t.b.Y)), max(t.a.Y, t.b.Y))
		}
		return t.across(min(max(y, y0), y1))
	}
	l, ok1 := at(left)
	r, ok2 := at(right)
	if !ok1 || !ok2 {
		// The part only grazes the strip.
		y := min(max((lo+hi)/2, y0), y1)
		s, ok = t.across(y)
		return s, ok
	}
	return span{l.lo, r.hi}, true
}

// free returns what the covered stretches leave, in order, where the middle is inside the area and outside all obstacles.
func (f *frame) free(covered []span, y float64) []span {
	slices.SortFunc(covered, func(a, b span) int { return cmp.Or(cmp.Compare(a.lo, b.lo), cmp.Compare(a.hi, b.hi)) })
	var out []span
	x := f.minX
	take := func(lo, hi float64) {
		if hi-lo < 1 {
			return // too short for anything
		}
		m := geometry.Point{X: (lo + hi) / 2, Y: y}
		if geometry.PointInPolygon(m, f.area) != geometry.Inside {
			return
		}
		for _, r := range f.rings {
			if geometry.PointInPolygon(m, r) != geometry.Outside {
				return
			}
		}
		out = append(out, span{lo, hi})
	}
	for _, c := range covered {
		take(x, c.lo)
		x = max(x, c.hi)
	}
	take(x, f.maxX)
	return out
}

// row returns where a row at y can run.
func (f *frame) row(y float64) []span {
	*f.effort -= float64(len(f.parts))
	var covered []span
	for _, t := range f.parts {
		if s, ok := t.across(y); ok {
			covered = append(covered, s)
		}
	}
	return f.free(covered, y)
}

// strip returns where a turn from y0 to y1 can stand.
func (f *frame) strip(y0, y1 float64) []span {
	*f.effort -= float64(len(f.parts))
	var covered []span
	for _, t := range f.parts {
		if s, ok := t.between(y0, y1); ok {
			covered = append(covered, s)
		}
	}
	return f.free(covered, (y0+y1)/2)
}

// turnAt is a turn, or an end, at its outermost place; room is how far it can move inwards.
type turnAt struct{ at, room float64 }

// place is one way to stand at a turn: the best length up to it, and from which place before.
type place struct {
	turnAt
	comp   span
	length float64
	from   int
}

// chain finds the turns of the longest meander of n rows. Each row is one unbroken stretch, and each turn stands clear over its whole height.
// It returns the start, the n−1 turns and the end.
func (f *frame) chain(n int, p, y0 float64, right bool, shortRow float64) ([]turnAt, bool) {
	outer := func(s span, right bool) turnAt {
		// Whole millimetres, as far out as they lie inside.
		lo, hi := math.Ceil(s.lo-eps), math.Floor(s.hi+eps)
		if lo > hi {
			lo, hi = s.lo, s.hi
		}
		if right {
			return turnAt{hi, hi - lo}
		}
		return turnAt{lo, hi - lo}
	}
	within := func(inner, outer span) bool { return inner.lo >= outer.lo-1e-6 && inner.hi <= outer.hi+1e-6 }
	levels := make([][]place, n+1)
	for _, s := range f.row(y0) {
		levels[0] = append(levels[0], place{turnAt: outer(s, !right), comp: s, from: -1})
	}
	for i := 1; i <= n; i++ {
		y := y0 + float64(i-1)*p
		row := f.row(y)
		var stand []span
		if i < n {
			stand = f.strip(y, y+p)
		} else {
			stand = row
		}
		goesRight := (i%2 == 1) == right
		for _, s := range stand {
			here := place{turnAt: outer(s, goesRight), comp: s, from: -1}
			for k, before := range levels[i-1] {
				l := here.at - before.at
				if !goesRight {
					l = -l
				}
				if l < shortRow-eps || here.from >= 0 && before.length+l <= here.length {
					continue
				}
				// Both ends must stand in one stretch of the row.
				if slices.ContainsFunc(row, func(r span) bool { return within(before.comp, r) && within(s, r) }) {
					here.from, here.length = k, before.length+l
				}
			}
			if here.from >= 0 {
				levels[i] = append(levels[i], here)
			}
		}
		if len(levels[i]) == 0 || *f.effort < 0 {
			return nil, false
		}
	}
	best := 0
	for k := range levels[n] {
		if levels[n][k].length > levels[n][best].length {
			best = k
		}
	}
	out := make([]turnAt, n+1)
	for i, k := n, best; i >= 0; i-- {
		out[i] = levels[i][k].turnAt
		k = levels[i][k].from
	}
	return out, true
}
