package geometry

import (
	"container/heap"
	"math"
	"slices"
)

// Shortest ways through a room, round walls and over what stands in it: the
// length of a string pulled tight (IEC 60364-7-701, 701.32.1, secondary).
//
// A tight string bends only at edges: upright ones at outside corners of the room and of solids,
// and the upper ones of solids. For a given row of edges the length is a convex function of where the
// string crosses each of them, so its least value is found by Newton steps. Rows of
// edges are tried in order of that least length, which never gets smaller when edges
// are added. The first row whose string passes through nothing is the shortest of all.

const (
	// skyMM is how far up and down walls and solids without a top go.
	skyMM = 1e6
	// nudgeMM is how far aside a stretch of a way is looked at when it lies on a surface.
	nudgeMM = 1e-3
	// insideTolMM is by how much a surface counts to its solid.
	insideTolMM = 1e-6
	// mostRows bounds the rows of edges that are tried.
	mostRows = 6000
)

// Obstacles says what a way must not pass through besides the walls.
type Obstacles struct {
	Partitions, Benches bool
	// NoHigherMM is the height up to which a way may rise. Solids as high as that
	// can only be gone round. 0 means no limit.
	NoHigherMM float64
	// MostMM ends the search: of a way longer than that only a length is given that the way does not fall below. 0 means no limit.
	MostMM float64
}

func (o Obstacles) most() float64 {
	if o.MostMM > 0 {
		return o.MostMM
	}
	return math.Inf(1)
}

// Way is a shortest way.
type Way struct {
	MM     float64
	Points []Point3 // from the start over every bend to the end
	// Exact is false when the room holds so many edges that not all rows of them were tried. The way can then be laid
	// as given, and a shorter one may exist.
	Exact bool
}

// Straight returns the length of the straight line between two points in mm, and the name of the first
// thing that it passes through: a solid, a wall, or nothing.
func (r *Room) Straight(a, b Point3, o Obstacles) (mm float64, through string, err error) {
	if mm, err = Distance3(a, b); err != nil {
		return 0, "", err
	}
	o.NoHigherMM = 0
	sc := r.scene(o)
	t, what := sc.firstHit(a, b)
	if t > 1 {
		return mm, "", nil
	}
	if what >= 0 {
		return mm, sc.prisms[what].name, nil
	}
	return mm, r.wallAt(Point{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y)}), nil
}

func (r *Room) wallAt(p Point) string {
	best, name := math.Inf(1), ""
	for i := range r.Outline {
		a, b := r.Outline.edge(i)
		if d := dist(p, nearest(p, a, b)); d < best {
			best, name = d, r.Walls[i].Name
		}
	}
	return name
}

// Way returns the shortest way between two points of the room.
func (r *Room) Way(a, b Point3, o Obstacles) (Way, error) {
	if !a.finite() || !b.finite() {
		return Way{}, ErrNotFinite
	}
	w, ok := r.scene(o).way(pointSite(a), pointSite(b), o.most())
	if !ok {
		return Way{}, ErrNoWay
	}
	return w, nil
}

// WaySegment returns the shortest way from a point to a straight stretch.
func (r *Room) WaySegment(a, p, q Point3, o Obstacles) (Way, error) {
	if !a.finite() || !p.finite() || !q.finite() {
		return Way{}, ErrNotFinite
	}
	sc := r.scene(o)
	best, found := Way{MM: math.Inf(1)}, false
	for _, piece := range sc.split(p, q) {
		if w, ok := sc.way(pointSite(a), segmentSite(piece[0], piece[1]), min(best.MM, o.most())); ok && w.MM < best.MM {
			best, found = w, true
		}
	}
	if !found {
		return Way{}, ErrNoWay
	}
	return best, nil
}

// SurfaceWay returns the shortest way in mm from a point of one face to a point of
// another over the two faces: both are unfolded into one plane at the edge that they share. On
// one face it is the straight line. The fall of the floor is left out, which is less than 0.1 % at a fall of 4 %.
//
// The error is ErrAdjacent when the faces share no edge.
func (r *Room) SurfaceWay(fa FaceRef, xa, ya float64, fb FaceRef, xb, yb float64) (float64, error) {
	level := func(f FaceRef, x, y float64) (Point3, error) {
		p, err := r.Place(f, x, y)
		if f.Sort == FloorSide {
			p.Z = 0
		}
		return p, err
	}
	p, err := level(fa, xa, ya)
	if err != nil {
		return 0, err
	}
	q, err := level(fb, xb, yb)
	if err != nil {
		return 0, err
	}
	if fa == fb {
		return Distance3(p, q)
	}
	a, err := r.face(fa)
	if err != nil {
		return 0, err
	}
	b, err := r.face(fb)
	if err != nil {
		return 0, err
	}
	best := math.Inf(1)
	for _, h := range append(hinges(a, b), hinges(b, a)...) {
		_, mm := tighten([]site{pointSite(p), segmentSite(h[0], h[1]), pointSite(q)})
		best = min(best, mm)
	}
	if math.IsInf(best, 1) {
		return 0, ErrAdjacent
	}
	return best, nil
}

// hinges returns the edges of a, or parts of them, that lie in b.
func hinges(a, b []Point3) (out [][2]Point3) {
	u := b[1].minus(b[0]).unit()
	n := normal(b)
	v := n.crossed(u)
	flat := func(p Point3) Point { w := p.minus(b[0]); return Point{w.dot(u), w.dot(v)} }
	ring := make(Polygon, len(b))
	for i := range b {
		ring[i] = flat(b[i])
	}
	for i := range a {
		p, q := a[i], a[(i+1)%len(a)]
		if math.Abs(p.minus(b[0]).dot(n)) > flushMM || math.Abs(q.minus(b[0]).dot(n)) > flushMM || p.minus(q).norm() <= SameMM {
			continue
		}
		fp, fq := flat(p), flat(q)
		cuts := []float64{0, 1}
		for k := range ring {
			c, d := ring.edge(k)
			if x, ok := lineCrossing(fp, fq, c, d); ok {
				if l := dist(fp, fq); l > SameMM {
					cuts = append(cuts, dot(sub(x, fp), sub(fq, fp))/(l*l))
				}
			}
		}
		slices.Sort(cuts)
		at := func(t float64) Point3 { return p.plus(q.minus(p).times(t)) }
		for k := 1; k < len(cuts); k++ {
			lo, hi := max(cuts[k-1], 0), min(cuts[k], 1)
			if hi-lo <= 1e-9 {
				continue
			}
			m := flat(at((lo + hi) / 2))
			if pointIn(m, ring) == Inside || ringDist(m, ring) <= flushMM {
				out = append(out, [2]Point3{at(lo), at(hi)})
			}
		}
	}
	return out
}

func normal(b []Point3) Point3 {
	var n Point3 // Newell's sum, which holds for any plane polygon
	for i := range b {
		p, q := b[i].minus(b[0]), b[(i+1)%len(b)].minus(b[0])
		n = n.plus(p.crossed(q))
	}
	return n.unit()
}

// prism is a solid as an obstacle.
type prism struct {
	name     string
	foot     [4]Point
	top      float64
	noTop    bool
	min, max Point // of the foot
}

type scene struct {
	room   *Room
	prisms []prism
	edges  []edge
}

// edge is an edge that a way may bend at.
type edge struct {
	site
	solid  int // −1 for outside corners of the room
	corner int // of an upright edge; of an upper one the corner that it begins at
	upper  bool
}

// sees says whether a straight line can lead from one edge to the other. Between edges of one solid it can when they lie in one
// of its faces; of others it is taken for granted.
func (e *edge) sees(f *edge) bool {
	switch {
	case e.solid < 0 || e.solid != f.solid:
		return true
	case e.upper && f.upper:
		return e.corner != f.corner
	case e.upper:
		return f.sees(e)
	case f.upper:
		return f.corner == e.corner || f.corner == (e.corner+3)%4
	}
	return (e.corner+f.corner)%2 == 1
}

func (r *Room) scene(o Obstacles) *scene {
	sc := &scene{room: r}
	for i := range r.Solids {
		s := &r.Solids[i]
		if s.Sort == BenchSolid && !o.Benches || s.Sort == PartitionSolid && !o.Partitions {
			continue
		}
		p := prism{name: s.Name, foot: s.blocked, top: s.TopMM}
		p.noTop = o.NoHigherMM > 0 && s.TopMM >= o.NoHigherMM
		if z, ok := r.CeilingTopZ(); ok && s.TopMM >= z-SameMM {
			p.noTop = true
		}
		if p.noTop {
			p.top = skyMM
		}
		p.min, p.max = p.foot[0], p.foot[0]
		for _, c := range p.foot {
			p.min, p.max = Point{min(p.min.X, c.X), min(p.min.Y, c.Y)}, Point{max(p.max.X, c.X), max(p.max.Y, c.Y)}
		}
		sc.prisms = append(sc.prisms, p)
	}
	return sc
}

// barred says whether anything but straight ways can arise.
func (sc *scene) barred() bool { return !sc.room.convex || len(sc.prisms) > 0 }

// bends lists the edges at which a way may bend.
func (sc *scene) bends() []edge {
	if sc.edges != nil {
		return sc.edges
	}
	sc.edges = []edge{}
	upright := func(p Point, top float64) site { return segmentSite(Point3{p.X, p.Y, -skyMM}, Point3{p.X, p.Y, top}) }
	for _, p := range sc.room.reflex {
		sc.edges = append(sc.edges, edge{site: upright(p, skyMM), solid: -1})
	}
	inside := func(p Point) bool { return pointIn(p, sc.room.Outline) == Inside }
	for i := range sc.prisms {
		p := &sc.prisms[i]
		for k := range p.foot {
			a, b := p.foot[k], p.foot[(k+1)%4]
			if inside(a) {
				sc.edges = append(sc.edges, edge{site: upright(a, p.top), solid: i, corner: k})
			}
			if !p.noTop && (inside(a) || inside(b) || inside(Point{(a.X + b.X) / 2, (a.Y + b.Y) / 2})) {
				sc.edges = append(sc.edges, edge{site: segmentSite(Point3{a.X, a.Y, p.top}, Point3{b.X, b.Y, p.top}), solid: i, corner: k, upper: true})
			}
		}
	}
	return sc.edges
}

// free says whether a way may pass at a point: there is air at it or right beside it.
func (sc *scene) free(p Point3) bool {
	if sc.air(p) {
		return true
	}
	for _, d := range beside {
		if sc.air(Point3{p.X + nudgeMM*d[0], p.Y + nudgeMM*d[1], p.Z + nudgeMM*d[2]}) {
			return true
		}
	}
	return false
}

var beside = func() (out [][3]float64) {
	const n = 16 // directions on the plan
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.25) / n)
		for _, up := range []float64{0, 1, -1} {
			out = append(out, [3]float64{c, s, up})
		}
	}
	return append(out, [3]float64{0, 0, 1})
}()

// air says whether a point lies inside the room and clear of every solid.
func (sc *scene) air(p Point3) bool {
	on := Point{p.X, p.Y}
	for i := range sc.prisms {
		q := &sc.prisms[i]
		if p.Z <= q.top+insideTolMM && p.X >= q.min.X-insideTolMM && p.X <= q.max.X+insideTolMM &&
			p.Y >= q.min.Y-insideTolMM && p.Y <= q.max.Y+insideTolMM && inQuad(on, q.foot, insideTolMM) {
			return false
		}
	}
	return pointIn(on, sc.room.Outline) == Inside
}

// cuts returns the places along a–b, as parts of its length, at which it meets a wall or a plane of a solid.
func (sc *scene) cuts(a, b Point3) []float64 {
	out := []float64{0, 1}
	pa, pb := Point{a.X, a.Y}, Point{b.X, b.Y}
	add := func(da, db float64) {
		if den := da - db; den != 0 {
			if t := da / den; t > 0 && t < 1 {
				out = append(out, t)
			}
		}
	}
	if !sc.room.convex {
		for i := range sc.room.Outline {
			c, d := sc.room.Outline.edge(i)
			add(cross(sub(d, c), sub(pa, c)), cross(sub(d, c), sub(pb, c)))
		}
	}
	for i := range sc.prisms {
		q := &sc.prisms[i]
		if max(pa.X, pb.X) < q.min.X-1 || min(pa.X, pb.X) > q.max.X+1 || max(pa.Y, pb.Y) < q.min.Y-1 || min(pa.Y, pb.Y) > q.max.Y+1 || min(a.Z, b.Z) > q.top+1 {
			continue
		}
		for k := range q.foot {
			c, d := q.foot[k], q.foot[(k+1)%4]
			add(cross(sub(d, c), sub(pa, c)), cross(sub(d, c), sub(pb, c)))
		}
		add(a.Z-q.top, b.Z-q.top)
	}
	slices.Sort(out)
	return out
}

// clear says whether the straight line a–b passes through nothing.
func (sc *scene) clear(a, b Point3) bool {
	if !sc.barred() {
		return true
	}
	t, _ := sc.firstHit(a, b)
	return t > 1
}

// firstHit returns where a–b first passes through something, as a part of its length, and the solid; −1 is a wall.
// It is 2 when nothing is in the way.
func (sc *scene) firstHit(a, b Point3) (t float64, what int) {
	cuts := sc.cuts(a, b)
	length := b.minus(a).norm()
	for i := 1; i < len(cuts); i++ {
		if (cuts[i]-cuts[i-1])*length <= 1e-6 {
			continue
		}
		m := a.plus(b.minus(a).times((cuts[i-1] + cuts[i]) / 2))
		if sc.free(m) {
			continue
		}
		for k := range sc.prisms {
			q := &sc.prisms[k]
			if m.Z <= q.top+insideTolMM && inQuad(Point{m.X, m.Y}, q.foot, insideTolMM) {
				return cuts[i-1], k
			}
		}
		return cuts[i-1], -1
	}
	return 2, -1
}

// split cuts a stretch at walls and solids, and leaves out what lies in them.
func (sc *scene) split(p, q Point3) (out [][2]Point3) {
	cuts := sc.cuts(p, q)
	at := func(t float64) Point3 { return p.plus(q.minus(p).times(t)) }
	if len(cuts) == 2 {
		return [][2]Point3{{p, q}}
	}
	for i := 1; i < len(cuts); i++ {
		if cuts[i]-cuts[i-1] > 1e-12 && sc.free(at((cuts[i-1]+cuts[i])/2)) {
			out = append(out, [2]Point3{at(cuts[i-1]), at(cuts[i])})
		}
	}
	return out
}

// row is a row of edges that a string is laid over.
type row struct {
	mm    float64
	edges []int
	order int
	pts   []Point3
}

type rows []*row

func (h rows) Len() int { return len(h) }
func (h rows) Less(i, j int) bool {
	if h[i].mm != h[j].mm {
		return h[i].mm < h[j].mm
	}
	return h[i].order < h[j].order
}
func (h rows) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h *rows) Push(x any)   { *h = append(*h, x.(*row)) }
func (h *rows) Pop() any {
	old := *h
	x := old[len(old)-1]
	*h = old[:len(old)-1]
	return x
}

// way returns the shortest way between two sites unless it is longer than mostMM; then
// it gives a length beyond that. ok is false when there is no way.
func (sc *scene) way(from, to site, mostMM float64) (w Way, ok bool) {
	pts, mm := tighten([]site{from, to})
	if mm >= mostMM || sc.clear(pts[0], pts[1]) {
		return Way{MM: mm, Points: pts, Exact: true}, true
	}
	// Some way that can be laid, which the shortest cannot be longer than.
	some, ok := sc.upright(pts[0], pts[1])
	if over, up := sc.over(pts[0], pts[1]); up && (!ok || over.MM < some.MM) {
		some, ok = over, true
	}
	if !ok {
		return Way{Exact: true}, false
	}
	bound := min(some.MM, mostMM)
	// A row is never shorter than the same string over one of its edges alone, so edges that are too far aside are left out.
	edges := slices.DeleteFunc(slices.Clone(sc.bends()), func(e edge) bool {
		_, mm := tighten([]site{from, e.site, to})
		return mm > bound
	})
	open := &rows{{mm: mm, pts: pts}}
	made := 0
	var sites []site
	for open.Len() > 0 && made < mostRows {
		h := heap.Pop(open).(*row)
		if len(h.edges) > 0 && sc.clearAll(h.pts) {
			return Way{MM: h.mm, Points: h.pts, Exact: true}, true
		}
		for e := range edges {
			if n := len(h.edges); slices.Contains(h.edges, e) || n > 0 && !edges[h.edges[n-1]].sees(&edges[e]) {
				continue
			}
			sites = append(sites[:0], from)
			for _, k := range h.edges {
				sites = append(sites, edges[k].site)
			}
			sites = append(sites, edges[e].site, to)
			pts, mm := tighten(sites)
			made++
			if mm <= bound {
				heap.Push(open, &row{mm: mm, edges: append(slices.Clone(h.edges), e), order: made, pts: pts})
			}
		}
	}
	// When all rows up to the bound are tried, the way that set it is the shortest.
	some.Exact = open.Len() == 0
	return some, true
}

// over returns the way straight up, level over everything that has a top, and straight down again.
func (sc *scene) over(a, b Point3) (Way, bool) {
	tall := *sc
	tall.edges, tall.prisms = nil, nil
	top := max(a.Z, b.Z)
	for _, p := range sc.prisms {
		if p.noTop {
			tall.prisms = append(tall.prisms, p)
		} else {
			top = max(top, p.top)
		}
	}
	w, ok := tall.upright(Point3{a.X, a.Y, top}, Point3{b.X, b.Y, top})
	if !ok {
		return Way{}, false
	}
	w.MM += top - a.Z + top - b.Z
	w.Points = append(append([]Point3{a}, w.Points...), b)
	return w, true
}

func (sc *scene) clearAll(pts []Point3) bool {
	for i := 1; i < len(pts); i++ {
		if !sc.clear(pts[i-1], pts[i]) {
			return false
		}
	}
	return true
}

// upright returns the shortest way on the plan with every solid gone round, its length in the room as if unrolled.
func (sc *scene) upright(a, b Point3) (Way, bool) {
	flat := *sc
	flat.edges = nil
	flat.prisms = slices.Clone(sc.prisms)
	for i := range flat.prisms {
		flat.prisms[i].top, flat.prisms[i].noTop = skyMM, true
	}
	nodes := []Point{{a.X, a.Y}, {b.X, b.Y}}
	for _, e := range flat.bends() {
		if !e.upper {
			nodes = append(nodes, Point{e.o.X, e.o.Y})
		}
	}
	far := make([]float64, len(nodes))
	last := make([]int, len(nodes))
	done := make([]bool, len(nodes))
	for i := range far {
		far[i], last[i] = math.Inf(1), -1
	}
	far[0] = 0
	for {
		at := -1
		for i := range nodes {
			if !done[i] && !math.IsInf(far[i], 1) && (at < 0 || far[i] < far[at]) {
				at = i
			}
		}
		if at < 0 {
			return Way{}, false
		}
		if at == 1 {
			break
		}
		done[at] = true
		p := nodes[at]
		for i, q := range nodes {
			if d := far[at] + dist(p, q); !done[i] && d < far[i] && flat.clear(Point3{p.X, p.Y, 0}, Point3{q.X, q.Y, 0}) {
				far[i], last[i] = d, at
			}
		}
	}
	rise := b.Z - a.Z
	w := Way{MM: math.Hypot(far[1], rise)}
	for i := 1; i >= 0; i = last[i] {
		z := b.Z
		if far[1] > 0 {
			z = a.Z + rise*far[i]/far[1]
		}
		w.Points = append(w.Points, Point3{nodes[i].X, nodes[i].Y, z})
	}
	slices.Reverse(w.Points)
	return w, true
}

// PlanWay returns the shortest way on the plan between two places with partitions and benches gone
// round, however low they are.
func (r *Room) PlanWay(a, b Point, o Obstacles) (Way, error) {
	if err := checkPoints(a, b); err != nil {
		return Way{}, err
	}
	w, ok := r.scene(o).upright(Point3{a.X, a.Y, 0}, Point3{b.X, b.Y, 0})
	if !ok {
		return Way{}, ErrNoWay
	}
	w.Exact = true
	return w, nil
}

// site is a point, a stretch or a rectangle that a string starts at, ends at or crosses: o + s·u + t·v
// with 0 ≤ s ≤ lu and 0 ≤ t ≤ lv; u and v are unit vectors at right angles.
type site struct {
	o, u, v Point3
	lu, lv  float64
}

func pointSite(p Point3) site { return site{o: p} }

func segmentSite(a, b Point3) site {
	d := b.minus(a)
	l := d.norm()
	if l <= SameMM {
		return pointSite(a)
	}
	return site{o: a, u: d.times(1 / l), lu: l}
}

func (s site) at(p, q float64) Point3 { return s.o.plus(s.u.times(p)).plus(s.v.times(q)) }

// toward returns the parameters of the point of the site nearest to p.
func (s site) toward(p Point3) (a, b float64) {
	w := p.minus(s.o)
	return min(max(w.dot(s.u), 0), s.lu), min(max(w.dot(s.v), 0), s.lv)
}

// tighten pulls a string tight over sites in their order and returns its points and length in mm.
func tighten(sites []site) ([]Point3, float64) {
	n := len(sites)
	par := make([][2]float64, n)
	pts := make([]Point3, n)
	set := func(i int, a, b float64) { par[i] = [2]float64{a, b}; pts[i] = sites[i].at(a, b) }
	// A start near the straight line between the ends, in a few rounds of pulling one point at a time.
	a, b := sites[0].toward(sites[n-1].o)
	set(0, a, b)
	for i := 1; i < n; i++ {
		a, b := sites[i].toward(pts[i-1])
		set(i, a, b)
	}
	for range 6 {
		for i := range sites {
			switch {
			case i == 0:
				a, b := sites[0].toward(pts[1])
				set(0, a, b)
			case i == n-1:
				a, b := sites[i].toward(pts[i-1])
				set(i, a, b)
			default:
				set(i, sites[i].fold(pts[i-1], pts[i+1]), 0)
			}
		}
	}
	if n == 2 && sites[0].lu == 0 || n == 2 && sites[1].lu == 0 {
		return pts, pts[0].minus(pts[1]).norm()
	}
	newton(sites, par, pts)
	return pts, stringLength(pts)
}

// fold returns where the shortest way from p over a straight edge to q crosses it: both are unfolded into one plane.
func (s site) fold(p, q Point3) float64 {
	w, x := p.minus(s.o), q.minus(s.o)
	sp, sq := w.dot(s.u), x.dot(s.u)
	dp, dq := w.minus(s.u.times(sp)).norm(), x.minus(s.u.times(sq)).norm()
	t := (sp + sq) / 2
	if dp+dq > 0 {
		t = sp + (sq-sp)*dp/(dp+dq)
	}
	return min(max(t, 0), s.lu)
}

func stringLength(pts []Point3) (mm float64) {
	for i := 1; i < len(pts); i++ {
		mm += pts[i].minus(pts[i-1]).norm()
	}
	return mm
}

// newton brings the string to its least length by projected Newton steps.
func newton(sites []site, par [][2]float64, pts []Point3) {
	type variable struct{ site, axis int }
	var vars []variable
	for i, s := range sites {
		if s.lu > 0 {
			vars = append(vars, variable{i, 0})
		}
		if s.lv > 0 {
			vars = append(vars, variable{i, 1})
		}
	}
	if len(vars) == 0 {
		return
	}
	axis := func(v variable) (Point3, float64) {
		if v.axis == 0 {
			return sites[v.site].u, sites[v.site].lu
		}
		return sites[v.site].v, sites[v.site].lv
	}
	m := len(vars)
	g := make([]float64, m)
	hess := make([][]float64, m)
	for i := range hess {
		hess[i] = make([]float64, m+1)
	}
	trial, moved := make([][2]float64, len(par)), make([]Point3, len(pts))
	length := stringLength(pts)
	for range 60 {
		for i := range m {
			g[i] = 0
			clear(hess[i])
		}
		for k := 1; k < len(pts); k++ {
			w := pts[k].minus(pts[k-1])
			d := w.norm()
			if d <= 1e-12 {
				continue
			}
			w = w.times(1 / d)
			for i, vi := range vars {
				si := float64(b2i(vi.site == k) - b2i(vi.site == k-1))
				if si == 0 {
					continue
				}
				ui, _ := axis(vi)
				wi := w.dot(ui) * si
				g[i] += wi
				for j, vj := range vars {
					sj := float64(b2i(vj.site == k) - b2i(vj.site == k-1))
					if sj == 0 {
						continue
					}
					uj, _ := axis(vj)
					hess[i][j] += (ui.dot(uj)*si*sj - wi*w.dot(uj)*sj) / d
				}
			}
		}
		// A variable at its end that would be pushed out stays there.
		active := make([]int, 0, m)
		worst := 0.0
		for i, v := range vars {
			p := par[v.site][v.axis]
			_, l := axis(v)
			if p <= 0 && g[i] > 0 || p >= l && g[i] < 0 {
				continue
			}
			active = append(active, i)
			worst = max(worst, math.Abs(g[i]))
		}
		if worst <= 1e-12 {
			return
		}
		step, ok := solve(hess, g, active)
		if !ok {
			return
		}
		better := false
		for scale := 1.0; scale > 1e-12; scale /= 4 {
			copy(trial, par)
			for k, i := range active {
				v := vars[i]
				_, l := axis(v)
				trial[v.site][v.axis] = min(max(par[v.site][v.axis]+scale*step[k], 0), l)
			}
			for i := range sites {
				moved[i] = sites[i].at(trial[i][0], trial[i][1])
			}
			if l := stringLength(moved); l < length {
				better = length-l > 1e-13*length
				length = l
				copy(par, trial)
				copy(pts, moved)
				break
			}
		}
		if !better {
			return
		}
	}
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// solve returns −H⁻¹g over the active variables, with a little added on the diagonal so that flat directions do no harm.
func solve(hess [][]float64, g []float64, active []int) ([]float64, bool) {
	n := len(active)
	a := make([][]float64, n)
	for i, x := range active {
		a[i] = make([]float64, n+1)
		for j, y := range active {
			a[i][j] = hess[x][y]
		}
		a[i][i] += 1e-9 + 1e-9*hess[x][x]
		a[i][n] = -g[x]
	}
	for i := range n {
		p := i
		for k := i + 1; k < n; k++ {
			if math.Abs(a[k][i]) > math.Abs(a[p][i]) {
				p = k
			}
		}
		a[i], a[p] = a[p], a[i]
		if a[i][i] == 0 {
			return nil, false
		}
		for k := i + 1; k < n; k++ {
			f := a[k][i] / a[i][i]
			for j := i; j <= n; j++ {
				a[k][j] -= f * a[i][j]
			}
		}
	}
	x := make([]float64, n)
	for i := n - 1; i >= 0; i-- {
		x[i] = a[i][n]
		for j := i + 1; j < n; j++ {
			x[i] -= a[i][j] * x[j]
		}
		x[i] /= a[i][i]
	}
	return x, true
}

func (p Point3) plus(q Point3) Point3   { return Point3{p.X + q.X, p.Y + q.Y, p.Z + q.Z} }
func (p Point3) minus(q Point3) Point3  { return Point3{p.X - q.X, p.Y - q.Y, p.Z - q.Z} }
func (p Point3) times(f float64) Point3 { return Point3{p.X * f, p.Y * f, p.Z * f} }
func (p Point3) dot(q Point3) float64   { return p.X*q.X + p.Y*q.Y + p.Z*q.Z }
func (p Point3) norm() float64          { return math.Sqrt(p.dot(p)) }
func (p Point3) crossed(q Point3) Point3 {
	return Point3{p.Y*q.Z - p.Z*q.Y, p.Z*q.X - p.X*q.Z, p.X*q.Y - p.Y*q.X}
}
func (p Point3) unit() Point3 {
	if l := p.norm(); l > 0 {
		return p.times(1 / l)
	}
	return p
}
