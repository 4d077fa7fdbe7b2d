package measure

import (
	"math"
	"slices"

	"wetrule/lint/calc/geometry"
)

// ZoneArea is one area of a face that lies in an electrical zone. Points are in the coordinates of the face, in mm; with
// an empty face they are in those of the plan.
type ZoneArea struct {
	Face string
	Poly []geometry.Point
	Zone string
}

// ZonePlanMM is the height above the floor, in mm, at which the plan is cut to show zones.
const ZonePlanMM = 1000

// zoneCellMM is the size of the cells in which zones are looked for, in mm. Edges are then found to a tenth of a millimetre; only parts
// of a zone that are smaller than a cell are missed.
const zoneCellMM = 50

// ZoneAreas returns where the zones that lie round the showers of the job meet the walls, the floor, the ceiling and the plan. The zone of
// a whole steam room is not among them, nor are those of a shower of which the job does not say enough.
func (s *Set) ZoneAreas() []ZoneArea {
	c := s.ctx
	set := c.zones[zoneSetShower]
	room, err := c.Room()
	if set == nil || err != nil {
		return nil
	}
	steam := c.Job.Room.Use == "steam_room"
	var centres []geometry.ZoneCentre
	for i := range c.Job.Items {
		sh := &c.Job.Items[i]
		if sh.Kind != "shower" || steam && (sh.Outlet == "" || sh.Outlet == "hand_held") {
			continue
		}
		if centre, ok := c.zoneCentre(room, sh); ok {
			centres = append(centres, centre)
		}
	}
	if len(centres) == 0 {
		return nil
	}
	at := func(p geometry.Point3) string {
		best := ""
		for _, centre := range centres {
			zone, ok := set.At(room, centre, [][2]geometry.Point3{{p, p}})
			if ok && zone != "" && (best == "" || set.Rank(zone) < set.Rank(best)) {
				best = zone
			}
		}
		return best
	}
	var out []ZoneArea
	collect := func(face string, a zoneGrid) {
		for _, z := range set.Zones {
			for _, ring := range a.rings(z.Name) {
				out = append(out, ZoneArea{Face: face, Poly: ring, Zone: z.Name})
			}
		}
	}
	corners := room.Plan.Polygon()
	local := make([]geometry.Point, 0, len(corners)) // as the floor and the ceiling have them
	for _, k := range corners {
		x, off, err := room.Plan.Local(0, k)
		if err != nil {
			return nil
		}
		local = append(local, geometry.Point{X: x, Y: off})
	}
	for _, f := range c.Faces {
		var lo, hi geometry.Point
		switch {
		case f.Kind == FloorFace || f.Kind == CeilingFace:
			lo, hi = zoneBounds(local)
		case f.Kind == WallFace && f.Width != nil && f.Height != nil:
			hi = geometry.Point{X: *f.Width, Y: *f.Height}
		default:
			continue
		}
		flat := f.Kind != WallFace
		collect(f.ID, newZoneGrid(lo.X, lo.Y, hi.X, hi.Y, func(x, y float64) string {
			p, ok := c.place3(f.ID, &x, &y)
			if !ok || flat && geometry.PointInPolygon(geometry.Point{X: p.X, Y: p.Y}, corners) == geometry.Outside {
				return ""
			}
			return at(p)
		}))
	}
	lo, hi := zoneBounds(corners)
	collect("", newZoneGrid(lo.X, lo.Y, hi.X, hi.Y, func(x, y float64) string {
		if geometry.PointInPolygon(geometry.Point{X: x, Y: y}, corners) == geometry.Outside {
			return ""
		}
		return at(geometry.Point3{X: x, Y: y, Z: ZonePlanMM})
	}))
	return out
}

func zoneBounds(ring []geometry.Point) (lo, hi geometry.Point) {
	lo, hi = ring[0], ring[0]
	for _, k := range ring {
		lo = geometry.Point{X: min(lo.X, k.X), Y: min(lo.Y, k.Y)}
		hi = geometry.Point{X: max(hi.X, k.X), Y: max(hi.Y, k.Y)}
	}
	return lo, hi
}

// zoneGrid is what is found in the cells of a rectangle, whose edges at are those of the face.
type zoneGrid struct {
	x0, y0, dx, dy float64
	nx, ny         int
	cells          []string
	at             func(x, y float64) string
}

func newZoneGrid(x0, y0, x1, y1 float64, at func(x, y float64) string) zoneGrid {
	g := zoneGrid{x0: x0, y0: y0, at: at, nx: max(1, int(math.Ceil((x1-x0)/zoneCellMM))), ny: max(1, int(math.Ceil((y1-y0)/zoneCellMM)))}
	g.dx, g.dy = (x1-x0)/float64(g.nx), (y1-y0)/float64(g.ny)
	g.cells = make([]string, g.nx*g.ny)
	for j := range g.ny {
		for i := range g.nx {
			x, y := g.centre(i, j)
			g.cells[j*g.nx+i] = at(x, y)
		}
	}
	return g
}

func (g *zoneGrid) centre(i, j int) (x, y float64) {
	return g.x0 + (float64(i)+0.5)*g.dx, g.y0 + (float64(j)+0.5)*g.dy
}

func (g *zoneGrid) is(zone string, i, j int) bool {
	return i >= 0 && j >= 0 && i < g.nx && j < g.ny && g.cells[j*g.nx+i] == zone
}

// zoneStep is one side of a cell on the edge of an area, which lies to the left of it.
type zoneStep struct {
	i, j int // corner of the grid at which it begins
	d    int // 0 to the right, 1 up, 2 to the left, 3 down
	c    float64
}

var zoneSteps = [4][2]int{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}

// rings returns the outlines of the areas of a zone, anticlockwise.
func (g *zoneGrid) rings(zone string) [][]geometry.Point {
	// sides of cells with the zone on one hand and none on the other, by the corner at which they begin
	next := map[[2]int][]int{}
	var starts [][2]int
	put := func(i, j, d int) {
		k := [2]int{i, j}
		if len(next[k]) == 0 {
			starts = append(starts, k)
		}
		next[k] = append(next[k], d)
	}
	for j := range g.ny {
		for i := range g.nx {
			if !g.is(zone, i, j) {
				continue
			}
			if !g.is(zone, i, j-1) {
				put(i, j, 0)
			}
			if !g.is(zone, i+1, j) {
				put(i+1, j, 1)
			}
			if !g.is(zone, i, j+1) {
				put(i+1, j+1, 2)
			}
			if !g.is(zone, i-1, j) {
				put(i, j+1, 3)
			}
		}
	}
	var out [][]geometry.Point
	for _, k := range starts {
		for len(next[k]) > 0 {
			steps := g.walk(zone, next, k)
			if ring := g.outline(steps); zoneRingArea(ring) > 0 { // holes run the other way; the area in them is drawn by its own zone
				out = append(out, ring)
			}
		}
	}
	return out
}

// walk takes one closed way out of next. Where two areas touch at a corner it turns to the left, so that they stay apart.
func (g *zoneGrid) walk(zone string, next map[[2]int][]int, k [2]int) (steps []zoneStep) {
	last, from := -1, k
	for {
		ways := next[k]
		if len(ways) == 0 {
			return steps
		}
		pick := 0
		for n, d := range ways {
			if last >= 0 && d == (last+1)%4 {
				pick = n
			}
		}
		d := ways[pick]
		next[k] = slices.Delete(ways, pick, pick+1)
		steps = append(steps, zoneStep{i: k[0], j: k[1], d: d, c: g.edge(zone, k[0], k[1], d)})
		last, k = d, [2]int{k[0] + zoneSteps[d][0], k[1] + zoneSteps[d][1]}
		if k == from {
			return steps
		}
	}
}

// edge finds where the zone really ends across a side: its y when the side lies flat, its x when it stands.
func (g *zoneGrid) edge(zone string, i, j, d int) float64 {
	// cells on the left and on the right of the side
	cells := [4][2][2]int{{{i, j}, {i, j - 1}}, {{i - 1, j}, {i, j}}, {{i - 1, j - 1}, {i - 1, j}}, {{i, j - 1}, {i - 1, j - 1}}}[d]
	xi, yi := g.centre(cells[0][0], cells[0][1])
	xo, yo := g.centre(cells[1][0], cells[1][1])
	flat := d%2 == 0
	in, out := xi, xo
	if flat {
		in, out = yi, yo
	}
	if o := cells[1]; o[0] < 0 || o[1] < 0 || o[0] >= g.nx || o[1] >= g.ny { // the edge of the face, or short of it
		out = (in + out) / 2
		x, y := out, yi
		if flat {
			x, y = xi, out
		}
		if g.at(x, y) == zone {
			return out
		}
	}
	for math.Abs(out-in) > 0.05 {
		m := (in + out) / 2
		x, y := m, yi
		if flat {
			x, y = xi, m
		}
		if g.at(x, y) == zone {
			in = m
		} else {
			out = m
		}
	}
	return math.Round(10*(in+out)/2) / 10
}

// outline makes points of steps: straight sides become two corners, steps along a curve one point on it each.
func (g *zoneGrid) outline(steps []zoneStep) []geometry.Point {
	// Begin where the direction changes, so that no side is cut in two.
	n := len(steps)
	begin := 0
	for k := range steps {
		if steps[k].d != steps[(k+n-1)%n].d {
			begin = k
			break
		}
	}
	type side struct {
		d        int
		c        float64
		steps    []zoneStep
		straight bool
	}
	var sides []side
	for k := range n {
		s := steps[(begin+k)%n]
		if k == 0 || sides[len(sides)-1].d != s.d {
			sides = append(sides, side{d: s.d, c: s.c, straight: true})
		}
		last := &sides[len(sides)-1]
		last.steps = append(last.steps, s)
		last.straight = last.straight && math.Abs(s.c-last.c) <= 0.2
	}
	for k := range sides {
		sides[k].straight = sides[k].straight && len(sides[k].steps) > 1
	}
	point := func(d int, c, along float64) geometry.Point {
		if d%2 == 0 {
			return geometry.Point{X: along, Y: c}
		}
		return geometry.Point{X: c, Y: along}
	}
	var out []geometry.Point
	add := func(p geometry.Point) {
		if len(out) == 0 || out[len(out)-1] != p {
			out = append(out, p)
		}
	}
	for k, s := range sides {
		if !s.straight {
			for _, st := range s.steps {
				along := g.x0 + (float64(st.i)+0.5*float64(zoneSteps[st.d][0]))*g.dx
				if st.d%2 == 1 {
					along = g.y0 + (float64(st.j)+0.5*float64(zoneSteps[st.d][1]))*g.dy
				}
				add(point(s.d, st.c, along))
			}
			continue
		}
		first, last := s.steps[0], s.steps[len(s.steps)-1]
		ends := [2]float64{g.x0 + float64(first.i)*g.dx, g.x0 + float64(last.i+zoneSteps[last.d][0])*g.dx}
		if s.d%2 == 1 {
			ends = [2]float64{g.y0 + float64(first.j)*g.dy, g.y0 + float64(last.j+zoneSteps[last.d][1])*g.dy}
		}
		if before := sides[(k+len(sides)-1)%len(sides)]; before.straight {
			ends[0] = before.c
		}
		if after := sides[(k+1)%len(sides)]; after.straight {
			ends[1] = after.c
		}
		add(point(s.d, s.c, ends[0]))
		add(point(s.d, s.c, ends[1]))
	}
	if len(out) > 1 && out[0] == out[len(out)-1] {
		out = out[:len(out)-1]
	}
	return out
}

// zoneRingArea is twice the area of a ring, negative when it runs clockwise.
func zoneRingArea(ring []geometry.Point) float64 {
	sum := 0.0
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		sum += p.X*q.Y - q.X*p.Y
	}
	return sum
}
