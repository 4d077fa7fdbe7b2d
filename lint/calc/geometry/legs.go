package geometry

import "math"

const (
	stackLegs = 128 // legs held without a heap allocation

	straightDeg  = 1.0  // a corner that turns less is no bend
	alongsideDeg = 15.0 // legs further from parallel are not alongside
)

var sinAlongside = math.Sin(alongsideDeg * math.Pi / 180)

// leg is one leg of a run that has a length. Runs joined end to start form one
// chain; legs of a chain that go straight on form one group.
type leg struct {
	a, b       Point
	length     float64
	run, index int // where it stands in the input
	chain      int
	pos        int // place in the chain
	group      int // counts on over all chains
	head       int // first leg of its group, as an index of the list
}

// appendLegs adds the legs of line to ls. The line goes on with the last chain
// when it starts where that chain ends.
func appendLegs(ls []leg, line Polyline, run int) []leg {
	started := false
	for i := 1; i < len(line); i++ {
		g := leg{a: line[i-1], b: line[i], run: run, index: i - 1, head: len(ls)}
		if g.length = dist(g.a, g.b); g.length <= SameMM {
			continue
		}
		if n := len(ls); n > 0 {
			prev := &ls[n-1]
			g.chain, g.group = prev.chain, prev.group+1
			if started || dist(prev.b, g.a) <= SameMM {
				g.pos = prev.pos + 1
				// Compared with the head of the group, so that many small turns add up.
				if h := &ls[prev.head]; isStraight(sub(h.b, h.a), sub(g.b, g.a)) {
					g.group, g.head = prev.group, prev.head
				}
			} else {
				g.chain++
			}
		}
		ls, started = append(ls, g), true
	}
	return ls
}

func isStraight(u, v Point) bool { return turnRad(u, v)*180/math.Pi < straightDeg-1e-9 }

// crosses tests every pair of legs. In a ring the last leg is a neighbour of
// the first.
func crosses(ls []leg, ring bool) bool {
	for i := range ls {
		for j := i + 1; j < len(ls); j++ {
			a, b := &ls[i], &ls[j]
			next := a.chain == b.chain && b.pos-a.pos == 1
			wrap := ring && i == 0 && j == len(ls)-1
			switch {
			case next && foldsBack(a, b), wrap && foldsBack(b, a):
				return true
			case !next && !wrap && boxGap(a.a, a.b, b.a, b.b) <= SameMM &&
				segSeg(a.a, a.b, b.a, b.b) <= SameMM:
				return true
			}
		}
	}
	return false
}

// foldsBack reports whether b, which starts where a ends, lies on a.
func foldsBack(a, b *leg) bool {
	if dot(sub(a.b, a.a), sub(b.b, b.a)) >= 0 {
		return false
	}
	if b.length <= a.length {
		return dist(b.b, nearest(b.b, a.a, a.b)) <= SameMM
	}
	return dist(a.a, nearest(a.a, b.a, b.b)) <= SameMM
}

func minPitch(ls []leg) (best float64, bi, bj int, ok bool) {
	best = math.Inf(1)
	for i := range ls {
		for j := i + 1; j < len(ls); j++ {
			a, b := &ls[i], &ls[j]
			if a.chain == b.chain && b.group-a.group < 2 ||
				boxGap(a.a, a.b, b.a, b.b) > best+BoundaryTolMM {
				continue
			}
			d := segSeg(a.a, a.b, b.a, b.b)
			// On a tie the nearer pair in the row: the two run legs, not a leg and a turn.
			if !ok || d < best-BoundaryTolMM || d <= best+BoundaryTolMM && j-i < bj-bi {
				bi, bj = i, j
			}
			best, ok = math.Min(best, d), true
		}
	}
	return best, bi, bj, ok
}

// pitch is a width in mm and the leg it was found at.
type pitch struct {
	mm         float64
	run, index int
	ok         bool
}

var noPitch = pitch{run: -1, index: -1}

func (p *pitch) widen(mm float64, g *leg) {
	if !p.ok || mm > p.mm+BoundaryTolMM {
		p.run, p.index, p.ok = g.run, g.index, true
	}
	p.mm = max(p.mm, mm)
}

// pitches returns the largest distance of a run leg to its nearest neighbour,
// and the largest when each side of a leg is looked at on its own.
func pitches(ls []leg) (near, wide pitch) {
	near, wide = noPitch, noPitch
	turns := findTurns(groupLegs(ls))
	for i := range ls {
		a := &ls[i]
		if turns[a.group] {
			continue
		}
		left, right := math.Inf(1), math.Inf(1)
		for j := range ls {
			b := &ls[j]
			if a.group == b.group || turns[b.group] {
				continue
			}
			d, onLeft, ok := alongside(a, b)
			switch {
			case !ok:
			case onLeft:
				left = math.Min(left, d)
			default:
				right = math.Min(right, d)
			}
		}
		if d := math.Min(left, right); !math.IsInf(d, 1) {
			near.widen(d, a)
		}
		for _, d := range [2]float64{left, right} {
			if !math.IsInf(d, 1) {
				wide.widen(d, a)
			}
		}
	}
	return near, wide
}

// alongside returns the widest distance from a to b over the stretch of a that
// b lies beside. The distance to a segment is convex along a line, so the
// widest place is an end of the stretch.
func alongside(a, b *leg) (d float64, left, ok bool) {
	u := sub(a.b, a.a)
	u = Point{u.X / a.length, u.Y / a.length}
	if math.Abs(cross(u, sub(b.b, b.a))) > (sinAlongside+1e-12)*b.length {
		return 0, false, false
	}
	s, e := dot(sub(b.a, a.a), u), dot(sub(b.b, a.a), u)
	lo, hi := max(0, min(s, e)), min(a.length, max(s, e))
	if hi-lo <= SameMM {
		return 0, false, false
	}
	at := func(t float64) Point { return Point{a.a.X + t*u.X, a.a.Y + t*u.Y} }
	for _, p := range [2]Point{at(lo), at(hi)} {
		d = math.Max(d, dist(p, nearest(p, b.a, b.b)))
	}
	m := at((lo + hi) / 2)
	return d, cross(u, sub(nearest(m, b.a, b.b), m)) > 0, true
}

// group is a stretch of legs that go straight on.
type group struct {
	from, to Point
	length   float64
	chain    int
	first    int // its first leg, as an index of the list
}

func groupLegs(ls []leg) []group {
	gs := make([]group, 0, len(ls))
	for i := range ls {
		g := &ls[i]
		if g.head == i {
			gs = append(gs, group{from: g.a, chain: g.chain, first: i})
		}
		last := &gs[len(gs)-1]
		last.to, last.length = g.b, last.length+g.length
	}
	return gs
}

func (g group) dir() Point { return sub(g.to, g.from) }

func sameChain(gs []group, i, j int) bool {
	return i >= 0 && j < len(gs) && gs[i].chain == gs[j].chain
}

func findTurns(gs []group) []bool {
	turns := make([]bool, len(gs))
	for i, g := range gs {
		before, after := sameChain(gs, i-1, i), sameChain(gs, i, i+1)
		limit := 0.0
		switch {
		case before && after:
			limit = min(gs[i-1].length, gs[i+1].length)
		case before:
			limit = gs[i-1].length / 2
		case after:
			limit = gs[i+1].length / 2
		}
		turns[i] = g.length < limit-SameMM
	}
	return turns
}
