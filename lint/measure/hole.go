package measure

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// HoleSort says what makes a hole.
type HoleSort uint8

// The sorts of holes.
const (
	ItemHole   HoleSort = iota // the opening of an item
	InsertHole                 // the hole for a bonded insert
	PointHole                  // the end of a fibre
)

// Hole is anything round that goes into or through a face. X and Y are those of
// its centre on the face, D is its diameter, all in mm; nil when the job does not say.
type Hole struct {
	ID      string // of the item, or item.insert_1, item.point_1
	Sort    HoleSort
	Item    *jobfile.Item
	Insert  *jobfile.Insert // of an insert
	X, Y, D *float64
	Pos     *jobfile.Node
	Pointer string
	ground  *ground
	n       int // place of the item in the job
}

// Placed says whether the job says where the hole is.
func (h *Hole) Placed() bool { return h.Item.Face != "" && h.X != nil && h.Y != nil }

// Sealed says whether the hole goes through the waterproofing and is sealed with a
// collar. A drain has a flange of its own.
func (h *Hole) Sealed() bool {
	if h.Sort == ItemHole {
		switch h.Item.Kind {
		case "steam_outlet", "ventilation_outlet", "temperature_sensor", "spotlight", "shower":
			return true
		}
	}
	return false
}

// circle returns the hole as a circle; ok is false when a dimension is missing.
func (h *Hole) circle() (c geometry.Circle, ok bool) {
	if h.X == nil || h.Y == nil || h.D == nil {
		return c, false
	}
	return geometry.Circle{Centre: geometry.Point{X: *h.X, Y: *h.Y}, R: *h.D / 2}, true
}

// Holes returns all holes of the job in the order of its items.
func (c *Context) Holes() []Hole {
	if c.holed {
		return c.holes
	}
	c.holed = true
	n := 0
	for i := range c.Job.Items {
		switch it := &c.Job.Items[i]; it.Kind {
		case "fixing", "glazed_door":
			n += len(it.Inserts)
		case "fibre_lights":
			n += len(it.Points)
		case "accessory", "steam_outlet", "ventilation_outlet", "temperature_sensor", "spotlight", "shower", "drain":
			n++
		}
	}
	c.holes = make([]Hole, 0, n)
	var grounds few[*ground]
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		from := len(c.holes)
		p := itemPointers.at(i)
		switch it.Kind {
		case "accessory":
			// Without an opening it sits on the face.
			if it.OpeningDiameterMM == nil || it.Place == "outside_room" {
				continue
			}
			fallthrough
		case "steam_outlet", "ventilation_outlet", "temperature_sensor", "spotlight", "shower", "drain":
			c.holes = append(c.holes, Hole{ID: it.ID, Item: it, X: it.XMM, Y: it.YMM, D: it.OpeningDiameterMM, Pos: it.Pos, Pointer: p})
		case "fixing", "glazed_door":
			for k := range it.Inserts {
				in := &it.Inserts[k]
				c.holes = append(c.holes, Hole{ID: c.spell(it.ID, ".insert_", smallNumber(k+1)), Sort: InsertHole, Item: it, Insert: in,
					X: in.XMM, Y: in.YMM, D: in.DiameterMM, Pos: in.Pos, Pointer: c.spell(p, "/inserts/", smallNumber(k))})
			}
		case "fibre_lights":
			list := it.Pos.Get("points")
			for k := range it.Points {
				h := Hole{ID: c.spell(it.ID, ".point_", smallNumber(k+1)), Sort: PointHole, Item: it, X: &it.Points[k][0], Y: &it.Points[k][1], D: it.OpeningDiameterMM, Pos: it.Pos, Pointer: p}
				if list != nil && k < len(list.Items()) {
					h.Pos, h.Pointer = list.Items()[k], c.spell(p, "/points/", smallNumber(k))
				}
				c.holes = append(c.holes, h)
			}
		}
		if len(c.holes) > from {
			g, known := grounds.find(it.Face)
			if !known {
				g = c.groundOf(it.Face)
				g.number = len(grounds.list)
				grounds.put(it.Face, g)
			}
			for k := from; k < len(c.holes); k++ {
				c.holes[k].ground, c.holes[k].n = g, i
			}
		}
	}
	return c.holes
}

// outline is the edge of a face.
type outline struct {
	face        *Face
	plan        *geometry.Plan // floor and ceiling; nil when the walls do not close, or cross each other
	left, right bool           // the wall next to it goes straight on
}

// knownOutline is outlineOf, found once for each face of the room.
func (c *Context) knownOutline(face string) *outline {
	f := c.Face(face)
	if f == nil {
		return &outline{}
	}
	if c.outlines == nil {
		c.outlines = make([]outline, len(c.Faces))
	}
	o := &c.outlines[f.number]
	if o.face == nil {
		*o = c.outlineOf(face)
	}
	return o
}

func (c *Context) outlineOf(face string) outline {
	o := outline{face: c.Face(face)}
	if o.face == nil {
		return o
	}
	switch o.face.Kind {
	case FloorFace, CeilingFace:
		o.plan = c.soundPlan()
	case WallFace:
		walls := c.Job.Room.Walls
		straight := func(i int) bool { t := walls[i].TurnDeg; return t != nil && *t == 0 }
		last := len(walls) - 1
		ring := last > 0 && c.Plan() != nil
		o.right = straight(o.face.Wall) && (o.face.Wall < last || ring)
		o.left = o.face.Wall > 0 && straight(o.face.Wall-1) || o.face.Wall == 0 && ring && straight(last)
	}
	return o
}

// distance returns how far inside the edge of the face a point lies, in mm, negative
// outside it. ok is false when the edge is not known. With corners, an edge at which the
// next wall goes straight on is no edge.
func (o *outline) distance(x, y float64, corners bool) (mm float64, ok bool) {
	f := o.face
	switch {
	case f == nil:
		return 0, false
	case f.Kind == FloorFace || f.Kind == CeilingFace:
		if o.plan == nil {
			return 0, false
		}
		p, err := o.plan.Place(0, x, y)
		if err != nil {
			return 0, false
		}
		mm, err = geometry.CirclePolygonEdgeGap(geometry.Circle{Centre: p}, o.plan.Corners)
		return mm, err == nil
	case f.Width == nil || f.Height == nil:
		return 0, false
	}
	mm = min(y, *f.Height-y)
	if !(corners && o.left) {
		mm = min(mm, x)
	}
	if !(corners && o.right) {
		mm = min(mm, *f.Width-x)
	}
	return mm, true
}

// ground is what the holes of one face are measured against.
type ground struct {
	outline
	number   int             // among those of the holes
	cables   []*jobfile.Item // heating cables on the face, and those whose face is not given
	openings []clearOpening
}

// clearOpening is a doorway, window or hatch.
type clearOpening struct {
	rect  geometry.Rect
	known bool
}

func (c *Context) groundOf(face string) *ground {
	g := &ground{outline: c.outlineOf(face)}
	if g.face == nil {
		return g
	}
	opening := func(on string, x, y, w, h *float64) {
		switch {
		case on != face && (on != "" || g.face.Kind != WallFace):
		case on == "" || x == nil || y == nil || w == nil || h == nil:
			g.openings = append(g.openings, clearOpening{})
		default:
			g.openings = append(g.openings, clearOpening{geometry.Rect{Min: geometry.Point{X: *x, Y: *y}, Max: geometry.Point{X: *x + *w, Y: *y + *h}}, true})
		}
	}
	for i := range c.Job.Room.Openings {
		o := &c.Job.Room.Openings[i]
		opening(o.Face, o.XMM, o.YMM, o.WidthMM, o.HeightMM)
	}
	for i := range c.Job.Items {
		switch it := &c.Job.Items[i]; it.Kind {
		case "glazed_door":
			opening(it.Face, it.XMM, it.YMM, it.WidthMM, it.HeightMM)
		case "heating_cable":
			if it.Face == face || it.Face == "" {
				g.cables = append(g.cables, it)
			}
		}
	}
	return g
}

// Pair is two holes of one face that are near enough to matter.
type Pair struct {
	A, B     *Hole // in alphabetical order of their ids
	CentreMM float64
}

const (
	// pairReachMM is how far beyond its edge each hole of a pair is looked round, so that
	// holes up to twice as far apart are compared. It must not be less than half of any gap asked for.
	pairReachMM = 100
	// widestHoleMM stands for the diameter of a hole that the job does not give: the
	// widest that the job format takes, so that no pair is missed.
	widestHoleMM = 500
)

// reach is how far from its centre a hole may want other holes to stay away: at least
// its radius again (see webNeeded), and the width of its collar.
func (h *Hole) reach() float64 {
	r := widestHoleMM / 2.0
	if h.D != nil {
		r = *h.D / 2
	}
	beyond := max(pairReachMM, r)
	if h.Sealed() && h.Item.CollarFlangeMM != nil {
		beyond = max(beyond, *h.Item.CollarFlangeMM)
	}
	return r + beyond
}

// Pairs returns the pairs of holes that are near enough to matter, in the order of the
// job. Fibre ends are compared with other holes, and not with each other: they come in fields.
//
// On each face the holes are swept along its longer side, so that only neighbours are compared.
func (c *Context) Pairs() []Pair {
	holes := c.Holes()
	type spot struct {
		index      int
		at, across float64 // along the sweep and across it
		reach      float64
	}
	// The holes of each face stand in one list, first those that are no fibre ends.
	grounds := 0
	for i := range holes {
		grounds = max(grounds, holes[i].ground.number+1)
	}
	solid, points := make([][]spot, 2*grounds), [][]spot(nil)
	solid, points = solid[:grounds], solid[grounds:]
	count := make([]int32, 2*grounds)
	for i := range holes {
		h := &holes[i]
		if k := h.ground.number; h.Sort == PointHole {
			count[grounds+k]++
		} else {
			count[k]++
		}
	}
	room := make([]spot, len(holes))
	for k, n := range count[:grounds] {
		m := count[grounds+k]
		solid[k], points[k], room = room[:0:n], room[n:n:n+m], room[n+m:]
	}
	for i := range holes {
		h := &holes[i]
		if !h.Placed() {
			continue
		}
		k := h.ground.number
		s := spot{index: i, at: *h.X, across: *h.Y, reach: h.reach()}
		if h.Sort == PointHole {
			points[k] = append(points[k], s)
		} else {
			solid[k] = append(solid[k], s)
		}
	}
	type found struct {
		a, b int
		mm   float64
	}
	var all []found
	for k, list := range solid {
		if len(list) == 0 {
			continue
		}
		x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		widest := 0.0
		for _, s := range list {
			x0, x1, y0, y1 = min(x0, s.at), max(x1, s.at), min(y0, s.across), max(y1, s.across)
			widest = max(widest, s.reach)
		}
		if y1-y0 > x1-x0 {
			for _, l := range [][]spot{list, points[k]} {
				for i := range l {
					l[i].at, l[i].across = l[i].across, l[i].at
				}
			}
		}
		slices.SortFunc(list, func(a, b spot) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.index, b.index)) })
		compare := func(s, t *spot) {
			near := s.reach + t.reach
			if math.Abs(s.across-t.across) >= near {
				return
			}
			if d := math.Hypot(s.at-t.at, s.across-t.across); d < near {
				all = append(all, found{min(s.index, t.index), max(s.index, t.index), d})
			}
		}
		for i := range list {
			s := &list[i]
			for j := i + 1; j < len(list) && list[j].at-s.at < s.reach+widest; j++ {
				compare(s, &list[j])
			}
		}
		for i := range points[k] {
			s := &points[k][i]
			from := sort.Search(len(list), func(j int) bool { return list[j].at > s.at-s.reach-widest })
			for j := from; j < len(list) && list[j].at-s.at < s.reach+widest; j++ {
				compare(s, &list[j])
			}
		}
	}
	slices.SortFunc(all, func(p, q found) int { return cmp.Or(cmp.Compare(p.a, q.a), cmp.Compare(p.b, q.b)) })
	out := make([]Pair, len(all))
	for i, f := range all {
		a, b := &holes[f.a], &holes[f.b]
		if b.ID < a.ID {
			a, b = b, a
		}
		out[i] = Pair{a, b, f.mm}
	}
	return out
}
