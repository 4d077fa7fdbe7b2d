package measure

import (
	"errors"
	"math"
	"strconv"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// Clearance is two things of the room, on one face or across faces, that are near enough to matter.
type Clearance struct {
	Pair string // what the two are to each other
	A, B string // ids; B begins with ? when it stands for all of a sort

	straight, way, above, foam, surface, needed, cable, uncovered, swing Value
}

// The pairs.
const (
	clearOutletSensor  = "outlet_sensor"
	clearOutletSupply  = "outlet_supply"
	clearOutletDoorway = "outlet_doorway"
	clearOutletFeet    = "outlet_feet"
	clearSupplySensor  = "supply_sensor"
	clearLampSeat      = "lamp_seat"
	clearCableBehind   = "insert_cable_behind"
	clearCableCorner   = "insert_cable_corner"
	clearCollars       = "collars_corner"
	clearOpeningBench  = "opening_bench"
	clearDoorBench     = "door_bench"
)

// How far apart things may be, straight, to count as near enough to matter, in mm. They must not be less than what
// rules ask for, and are about twice that.
const (
	clearSensorReachMM  = 2000
	clearSupplyReachMM  = 1000
	clearDoorwayReachMM = 1000
	clearFeetReachMM    = 1000
	clearCableReachMM   = 300
	clearBenchReachMM   = 100
)

const (
	// clearFeetDepthMM is how deep the strip of floor before a seat is on which feet stand: a foot of some 270 mm and a leg
	// that is stretched a little. Common practice, from memory.
	clearFeetDepthMM = 500
	clearFeetNote    = "feet are taken to stand on a strip of 500 mm before the seat (common practice, from memory)"
	// clearWorldMM keeps the faces of a room without a plan apart.
	clearWorldMM = 1e6
)

// clearThing is something that is looked for: where it is and what it is.
type clearThing struct {
	item *jobfile.Item
	n    int // its place in the job
	role clearRole
	box  geometry.Box3
	door int // doorway: its wall
	rect geometry.Rect
	at   geometry.Point3   // of a single place
	line []geometry.Point3 // of a cable, all runs after one another
	ends []int             // where its runs end in line
}

type clearRole uint8

const (
	roleSensor clearRole = 1 << iota
	roleSupply
	roleUnsureSupply // a ventilation outlet of which the flow is not given
	roleDoorway
	roleCable
)

// clearFinder finds the pairs of one job.
type clearFinder struct {
	c      *Context
	room   *geometry.Room // nil without a plan
	faces  []*Face        // of the items, by their place in the job; nil for an item on none
	things []clearThing
	grid   *geometry.Grid
	roles  clearRole    // of all things, placed or not
	placed clearRole    // of those in the grid
	lost   []clearThing // those that are not placed
	out    []Subject
	slab   []Clearance // room for more of them
	bent   int         // ways that were looked for because the straight line is not free
	found  []int       // what was found in a grid last
	points []geometry.Point3
}

// clearMostWays bounds the work on rooms that are full of obstacles; a real room needs a few.
const clearMostWays = 500

func clearanceSubjects(c *Context) []Subject {
	if len(c.Job.Items) == 0 {
		return nil
	}
	f := &clearFinder{c: c, faces: make([]*Face, len(c.Job.Items)), out: c.subjects(len(c.Job.Items))[:0]}
	f.room, _ = c.Room()
	for i := range c.Job.Items {
		f.faces[i] = c.Face(c.Job.Items[i].Face)
	}
	var err error
	if f.grid, err = geometry.NewGrid(clearSupplyReachMM); err != nil {
		return nil // the size is a constant
	}
	f.gather()
	f.outlets()
	f.supplies()
	f.seats()
	f.doors()
	f.openings()
	f.collars()
	f.inserts()
	return f.out
}

// place is placeOn, but without a plan of the room every face lies in a world of its own, so that
// things on one face can still be compared.
func (f *clearFinder) place(face *Face, x, y *float64) (geometry.Point3, bool) {
	switch {
	case f.room != nil:
		return f.c.placeOn(face, x, y)
	case face == nil || x == nil || y == nil:
		return geometry.Point3{}, false
	}
	return geometry.Point3{X: *x, Y: *y, Z: float64(face.number+1) * clearWorldMM}, true
}

// apart says whether the distance between two faces cannot be told.
func (f *clearFinder) apart(a, b string) bool { return f.room == nil && a != b }

// add adds a pair; n is the place in the job of the item that it stands at.
func (f *clearFinder) add(n int, id string, p Clearance) {
	if id == "" {
		id = f.c.spell(p.A, "~", p.B)
	}
	it := &f.c.Job.Items[n]
	f.out = append(f.out, Subject{Kind: "clearance", ID: id, Pointer: itemPointers.at(n), Pos: it.Pos, Item: it, Clearance: f.keep(p)})
}

// keep puts pairs into memory a few at a time.
func (f *clearFinder) keep(p Clearance) *Clearance {
	if len(f.slab) == cap(f.slab) {
		f.slab = make([]Clearance, 0, min(max(8, cap(f.slab)*2), 64))
	}
	f.slab = append(f.slab, p)
	return &f.slab[len(f.slab)-1]
}

// addBench adds a pair that stands at a bench.
func (f *clearFinder) addBench(b *jobfile.Bench, p Clearance) {
	s := Subject{Kind: "clearance", ID: f.c.spell(p.A, "~", p.B), Bench: b, Pos: b.Pos, Clearance: f.keep(p)}
	for i := range f.c.Job.Room.Benches {
		if &f.c.Job.Room.Benches[i] == b {
			s.Pointer = benchPointers.at(i)
		}
	}
	f.out = append(f.out, s)
}

// gather puts sensors, supplies, doorways and cables into the grid.
func (f *clearFinder) gather() {
	for i := range f.c.Job.Items {
		it := &f.c.Job.Items[i]
		t := clearThing{item: it, n: i}
		switch {
		case it.Kind == "temperature_sensor":
			t.role = roleSensor
		case it.Kind == "ventilation_outlet" && it.Flow == "supply":
			t.role = roleSupply
		case it.Kind == "ventilation_outlet" && it.Flow == "":
			t.role = roleUnsureSupply
		case it.Kind == "glazed_door":
			t.role = roleDoorway
		case it.Kind == "heating_cable":
			t.role = roleCable
		default:
			continue
		}
		f.roles |= t.role
		if !f.locate(&t) {
			f.lost = append(f.lost, t)
			continue
		}
		if _, err := f.grid.Add(t.box); err != nil {
			f.lost = append(f.lost, t)
			continue
		}
		f.placed |= t.role
		f.things = append(f.things, t)
	}
}

func (f *clearFinder) locate(t *clearThing) bool {
	it, face := t.item, f.faces[t.n]
	var err error
	switch t.role {
	case roleDoorway:
		rect, ok := doorwayRect(it.XMM, it.YMM, it.WidthMM, it.HeightMM)
		if !ok || face == nil || face.Kind != WallFace {
			return false
		}
		t.rect, t.door = rect, face.Wall
		p, ok1 := f.place(face, &rect.Min.X, &rect.Min.Y)
		q, ok2 := f.place(face, &rect.Max.X, &rect.Max.Y)
		t.box, err = geometry.BoxOf(p, q)
		return ok1 && ok2 && err == nil
	case roleCable:
		n := 0
		for _, run := range it.Runs {
			n += len(run)
		}
		t.line, t.ends = make([]geometry.Point3, 0, n), make([]int, 0, len(it.Runs))
		for _, run := range it.Runs {
			for k := range run {
				p, ok := f.place(face, &run[k][0], &run[k][1])
				if !ok {
					return false
				}
				t.line = append(t.line, p)
			}
			t.ends = append(t.ends, len(t.line))
		}
		t.box, err = geometry.BoxOf(t.line...)
		return err == nil
	}
	p, ok := f.place(face, it.XMM, it.YMM)
	t.at = p
	t.box, err = geometry.BoxOf(p)
	return ok && err == nil
}

// near returns the numbers of the things of the given sorts within reach of a point, in the order of the job. They hold until the next search.
func (f *clearFinder) near(p geometry.Point3, reachMM float64, roles clearRole) []int {
	if f.placed&roles == 0 {
		return nil
	}
	f.found = f.grid.AppendNear(f.found[:0], geometry.Box3{Min: p, Max: p}, reachMM)
	n := 0
	for _, i := range f.found {
		if f.things[i].role&roles != 0 {
			f.found[n] = i
			n++
		}
	}
	return f.found[:n]
}

// across says whether there is a thing of the sorts on another face, when the room has no plan.
func (f *clearFinder) across(face string, roles clearRole) bool {
	if f.room != nil || f.placed&roles == 0 {
		return false
	}
	for i := range f.things {
		if t := &f.things[i]; t.role&roles != 0 && f.apart(face, t.item.Face) {
			return true
		}
	}
	return false
}

// eachLost goes through the things of a sort that are not placed.
func (f *clearFinder) eachLost(role clearRole, do func(t *clearThing)) {
	for i := range f.lost {
		if f.lost[i].role == role {
			do(&f.lost[i])
		}
	}
}

// way is the length of the shortest way between two points round walls, benches and partitions.
func (f *clearFinder) way(a, b geometry.Point3) Value {
	if f.room == nil {
		if len(f.c.Job.Room.Benches) > 0 || len(f.c.Job.Room.Partitions) > 0 {
			return unknown().note(errPlan.Error())
		}
		return clearLength(geometry.Distance3(a, b))
	}
	o := geometry.Obstacles{Partitions: true, Benches: true}
	if mm, through, err := f.room.Straight(a, b, o); err != nil || through == "" {
		return clearLength(mm, err)
	}
	if f.bent++; f.bent > clearMostWays {
		return unknown().note("there are too many things in the way of each other to measure round them all")
	}
	w, err := f.room.Way(a, b, o)
	switch {
	case errors.Is(err, geometry.ErrNoWay):
		return none()
	case err != nil:
		return unknown()
	case !w.Exact:
		return unknown().note("there are too many edges in the way; a way of " + WithUnit(FormatNumber(w.MM), "mm") + " was found, and a shorter one may exist")
	}
	v := number(w.MM)
	if n := len(w.Points) - 2; n > 0 {
		v = v.note("round " + strconv.Itoa(n) + " edges; " + WithUnit(FormatNumber(w.MM), "mm") + " along a string")
		if n == 1 {
			v = v.note("round one edge")
		}
	}
	return v
}

func clearLength(mm float64, err error) Value {
	if err != nil {
		return unknown()
	}
	return number(mm)
}

// clearWants is what steam outlets are paired with.
var clearWants = [...]struct {
	pair, all string
	reachMM   float64
	roles     [2]clearRole
}{
	{clearOutletSensor, "?temperature_sensor", clearSensorReachMM, [2]clearRole{roleSensor}},
	{clearOutletSupply, "?fresh_air", clearSupplyReachMM, [2]clearRole{roleSupply, roleUnsureSupply}},
	{clearOutletDoorway, "?doorway", clearDoorwayReachMM, [2]clearRole{roleDoorway}},
}

// outlets pairs steam outlets with sensors, fresh air, doorways and feet.
func (f *clearFinder) outlets() {
	outlets, placed := 0, 0
	for i := range f.c.Job.Items {
		it := &f.c.Job.Items[i]
		if it.Kind != "steam_outlet" {
			continue
		}
		outlets++
		p, ok := f.place(f.faces[i], it.XMM, it.YMM)
		if ok {
			placed++
		}
		for k := range clearWants {
			w := &clearWants[k]
			roles := w.roles[0] | w.roles[1]
			if f.roles&roles == 0 {
				continue
			}
			if !ok || f.across(it.Face, roles) {
				f.add(i, "", Clearance{Pair: w.pair, A: it.ID, B: w.all, straight: unknown(), way: unknown()})
			}
			if !ok {
				continue
			}
			for _, n := range f.near(p, w.reachMM, roles) {
				t := &f.things[n]
				if f.apart(it.Face, t.item.Face) {
					continue
				}
				x := Clearance{Pair: w.pair, A: it.ID, B: t.item.ID}
				if t.role == roleDoorway {
					x.straight = f.toDoorway(p, t)
				} else {
					x.straight = clearLength(geometry.Distance3(p, t.at))
				}
				if x.straight.State == Known && x.straight.Num > w.reachMM {
					continue
				}
				switch t.role {
				case roleDoorway:
				case roleUnsureSupply:
					x.straight = unknown().note("the flow of " + t.item.ID + " is not known")
					x.way = x.straight
				default:
					x.way = f.way(p, t.at)
				}
				f.add(i, "", x)
			}
		}
		if ok {
			f.feet(i, it, p)
		}
	}
	if placed > 0 {
		for k := range clearWants {
			w := &clearWants[k]
			for _, role := range w.roles {
				f.eachLost(role, func(t *clearThing) {
					f.add(t.n, "", Clearance{Pair: w.pair, A: t.item.ID, B: "?steam_outlet", straight: unknown(), way: unknown()})
				})
			}
		}
	}
	if outlets == 0 {
		return
	}
	for i := range f.c.Job.Room.Benches {
		b := &f.c.Job.Room.Benches[i]
		if _, known := f.benchFrame(b); !known || placed < outlets {
			f.addBench(b, Clearance{Pair: clearOutletFeet, A: b.ID + ".feet", B: "?steam_outlet", straight: unknown()})
		}
	}
}

// toDoorway is the distance from a point of the room to the nearest point of a doorway.
func (f *clearFinder) toDoorway(p geometry.Point3, t *clearThing) Value {
	lo, hi := geometry.Point3{X: t.rect.Min.X, Y: 0, Z: t.rect.Min.Y}, geometry.Point3{X: t.rect.Max.X, Y: 0, Z: t.rect.Max.Y}
	if f.room == nil { // on the same face
		return clearLength(geometry.Box3{Min: lo, Max: hi}.DistanceBox3(geometry.Point3{X: p.X, Z: p.Y}))
	}
	x, off, err := f.room.Plan.Local(t.door, geometry.Point{X: p.X, Y: p.Y})
	if err != nil {
		return unknown()
	}
	return clearLength(geometry.Box3{Min: lo, Max: hi}.DistanceBox3(geometry.Point3{X: x, Y: off, Z: p.Z}))
}

// benchFrame returns the box of a bench in the frame of its wall; known is false when a size or the plan is missing.
func (f *clearFinder) benchFrame(b *jobfile.Bench) (s *geometry.Solid, known bool) {
	if f.room == nil {
		return nil, false
	}
	i, ok := f.c.room3().benches[b]
	if !ok {
		return nil, false
	}
	return &f.room.Solids[i], true
}

// feet pairs a steam outlet with the floor before each seat, or the tier before it.
func (f *clearFinder) feet(n int, it *jobfile.Item, p geometry.Point3) {
	for i := range f.c.Job.Room.Benches {
		b := &f.c.Job.Room.Benches[i]
		s, known := f.benchFrame(b)
		if !known {
			continue // said once at the bench
		}
		x, off, err := f.room.Plan.Local(s.Wall, geometry.Point{X: p.X, Y: p.Y})
		if err != nil {
			continue
		}
		rise := seatRise(f.c, b)
		if rise.State != Known {
			f.add(n, "", Clearance{Pair: clearOutletFeet, A: it.ID, B: b.ID + ".feet", straight: unknown()})
			continue
		}
		step := s.TopMM - rise.Num
		strip := geometry.Box3{Min: geometry.Point3{X: s.X0MM, Y: s.Off1MM, Z: step}, Max: geometry.Point3{X: s.X1MM, Y: s.Off1MM + clearFeetDepthMM, Z: step}}
		d, err := strip.DistanceBox3(geometry.Point3{X: x, Y: off, Z: p.Z})
		if err != nil || d > clearFeetReachMM {
			continue
		}
		f.add(n, "", Clearance{Pair: clearOutletFeet, A: it.ID, B: b.ID + ".feet", straight: number(d).note(clearFeetNote)})
	}
}

// supplies pairs fresh air with sensors.
func (f *clearFinder) supplies() {
	if f.roles&roleSensor == 0 {
		return
	}
	placed := false
	for i := range f.c.Job.Items {
		it := &f.c.Job.Items[i]
		if it.Kind != "ventilation_outlet" || it.Flow != "supply" && it.Flow != "" {
			continue
		}
		p, ok := f.place(f.faces[i], it.XMM, it.YMM)
		placed = placed || ok
		if !ok || f.across(it.Face, roleSensor) {
			f.add(i, "", Clearance{Pair: clearSupplySensor, A: it.ID, B: "?temperature_sensor", straight: unknown(), way: unknown()})
		}
		if !ok {
			continue
		}
		for _, n := range f.near(p, clearSupplyReachMM, roleSensor) {
			t := &f.things[n]
			if f.apart(it.Face, t.item.Face) {
				continue
			}
			x := Clearance{Pair: clearSupplySensor, A: it.ID, B: t.item.ID, straight: clearLength(geometry.Distance3(p, t.at)), way: f.way(p, t.at)}
			if it.Flow == "" {
				note := "the flow of " + it.ID + " is not known"
				x.straight, x.way = unknown().note(note), unknown().note(note)
			}
			f.add(i, "", x)
		}
	}
	if placed {
		f.eachLost(roleSensor, func(t *clearThing) {
			f.add(t.n, "", Clearance{Pair: clearSupplySensor, A: t.item.ID, B: "?fresh_air", straight: unknown(), way: unknown()})
		})
	}
}

// lampPoints returns where a lamp shines from, as points on its face: a line through them, or each by itself. arises is false for what is no lamp in the room.
func lampPoints(it *jobfile.Item) (points [][2]float64, line, arises bool) {
	switch it.Kind {
	case "spotlight":
		if it.XMM != nil && it.YMM != nil {
			points = [][2]float64{{*it.XMM, *it.YMM}}
		}
		return points, false, true
	case "fibre_lights":
		return it.Points, false, true
	case "led_strip":
		return it.Path, true, true
	}
	return nil, false, false
}

// seats pairs lamps with the seats that they are over.
func (f *clearFinder) seats() {
	lamps := 0
	for i := range f.c.Job.Items {
		it := &f.c.Job.Items[i]
		points, line, arises := lampPoints(it)
		if !arises {
			continue
		}
		lamps++
		if len(f.c.Job.Room.Benches) == 0 {
			continue
		}
		face := f.faces[i]
		if face != nil && (face.Kind == SeatFace || face.Kind == RiserFace || face.Kind == FloorFace) {
			continue
		}
		placed := f.points[:0]
		ok := len(points) > 0 && f.room != nil
		for k := 0; ok && k < len(points); k++ {
			var p geometry.Point3
			p, ok = f.place(face, &points[k][0], &points[k][1])
			placed = append(placed, p)
		}
		f.points = placed
		if !ok {
			f.add(i, "", Clearance{Pair: clearLampSeat, A: it.ID, B: "?seat", above: unknown()})
			continue
		}
		for k := range f.c.Job.Room.Benches {
			b := &f.c.Job.Room.Benches[k]
			s, known := f.benchFrame(b)
			if !known {
				continue
			}
			best := math.Inf(1)
			for n, q := range placed {
				p := q
				if line && n > 0 {
					p = placed[n-1]
				}
				best = min(best, f.aboveSeat(s, p, q))
			}
			if math.IsInf(best, 1) {
				continue
			}
			v := number(best)
			if why := f.c.room3().flat; why != "" && it.Face == "ceiling" {
				v = v.note(why)
			}
			f.add(i, "", Clearance{Pair: clearLampSeat, A: it.ID, B: b.ID + ".seat", above: v})
		}
	}
	if lamps == 0 {
		return
	}
	for k := range f.c.Job.Room.Benches {
		b := &f.c.Job.Room.Benches[k]
		if _, known := f.benchFrame(b); !known {
			f.addBench(b, Clearance{Pair: clearLampSeat, A: b.ID + ".seat", B: "?lamp", above: unknown()})
		}
	}
}

// aboveSeat is how low over the seat a stretch comes, in mm; infinite when no part of it is over the seat.
func (f *clearFinder) aboveSeat(s *geometry.Solid, p, q geometry.Point3) float64 {
	xa, oa, err1 := f.room.Plan.Local(s.Wall, geometry.Point{X: p.X, Y: p.Y})
	xb, ob, err2 := f.room.Plan.Local(s.Wall, geometry.Point{X: q.X, Y: q.Y})
	if err1 != nil || err2 != nil {
		return math.Inf(1)
	}
	lo, hi := 0.0, 1.0
	clip := func(a, b, from, to float64) {
		from, to = from-geometry.SameMM, to+geometry.SameMM
		if a == b {
			if a < from || a > to {
				hi = -1
			}
			return
		}
		t, u := (from-a)/(b-a), (to-a)/(b-a)
		lo, hi = max(lo, min(t, u)), min(hi, max(t, u))
	}
	clip(xa, xb, s.X0MM, s.X1MM)
	clip(oa, ob, s.Off0MM, s.Off1MM)
	if lo > hi {
		return math.Inf(1)
	}
	za, zb := p.Z+lo*(q.Z-p.Z), p.Z+hi*(q.Z-p.Z)
	if max(za, zb) < s.TopMM {
		return math.Inf(1)
	}
	return max(min(za, zb)-s.TopMM, 0)
}

// doors pairs door leaves that swing into the room with benches.
func (f *clearFinder) doors() {
	if len(f.c.Job.Room.Benches) == 0 {
		return
	}
	for i := range f.c.Job.Items {
		it := &f.c.Job.Items[i]
		if it.Kind != "glazed_door" || it.Swing == "outward" {
			continue
		}
		face := f.faces[i]
		rect, ok := doorwayRect(it.XMM, it.YMM, it.WidthMM, it.HeightMM)
		if !ok || face == nil || face.Kind != WallFace || f.room == nil || it.Swing == "" || it.HingeSide != "left" && it.HingeSide != "right" {
			f.add(i, "", Clearance{Pair: clearDoorBench, A: it.ID, B: "?bench", swing: unknown()})
			continue
		}
		for k := range f.c.Job.Room.Benches {
			b := &f.c.Job.Room.Benches[k]
			x := Clearance{Pair: clearDoorBench, A: it.ID, B: b.ID}
			s, known := f.benchFrame(b)
			switch {
			case !known:
				x.swing = unknown()
			case s.TopMM <= rect.Min.Y:
				continue // the leaf passes over it
			default:
				gap, meets := f.swingGap(face.Wall, rect, it.HingeSide == "left", s)
				if !meets {
					continue
				}
				x.swing = number(gap)
			}
			f.add(i, "", x)
		}
	}
}

// swingGap is how far the edge of a leaf passes a bench: the distance from the hinge to the nearest part of the
// bench in the quarter of a circle that the leaf sweeps, less its width. meets is false when no part lies in that quarter.
func (f *clearFinder) swingGap(wall int, door geometry.Rect, left bool, s *geometry.Solid) (mm float64, meets bool) {
	hinge, sign := door.Min.X, 1.0
	if !left {
		hinge, sign = door.Max.X, -1
	}
	var foot []geometry.Point // in the frame of the hinge: along the closed leaf and into the room
	for _, c := range []geometry.Point{{X: s.X0MM, Y: s.Off0MM}, {X: s.X1MM, Y: s.Off0MM}, {X: s.X1MM, Y: s.Off1MM}, {X: s.X0MM, Y: s.Off1MM}} {
		p, err := f.room.Plan.Place(s.Wall, c.X, c.Y)
		if err != nil {
			return 0, false
		}
		x, off, err := f.room.Plan.Local(wall, p)
		if err != nil {
			return 0, false
		}
		foot = append(foot, geometry.Point{X: sign * (x - hinge), Y: off})
	}
	foot = clearHalf(foot, func(p geometry.Point) float64 { return p.X })
	foot = clearHalf(foot, func(p geometry.Point) float64 { return p.Y })
	if len(foot) < 3 {
		return 0, false
	}
	ring := geometry.Polygon(foot)
	if geometry.PointInPolygon(geometry.Point{}, ring) != geometry.Outside {
		return -(door.Max.X - door.Min.X), true
	}
	d, _, _ := geometry.PointPolyline(geometry.Point{}, append(geometry.Polyline(ring), ring[0]))
	return d - (door.Max.X - door.Min.X), true
}

// clearHalf cuts a convex ring to where f is not negative.
func clearHalf(ring []geometry.Point, f func(geometry.Point) float64) (out []geometry.Point) {
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		a, b := f(p), f(q)
		if a >= 0 {
			out = append(out, p)
		}
		if a < 0 && b > 0 || a > 0 && b < 0 {
			t := a / (a - b)
			out = append(out, geometry.Point{X: p.X + t*(q.X-p.X), Y: p.Y + t*(q.Y-p.Y)})
		}
	}
	return out
}

// openings pairs openings with benches that stand before them or on them.
func (f *clearFinder) openings() {
	holes := f.c.Holes()
	if f.room == nil || len(f.c.Job.Room.Benches) == 0 {
		return
	}
	some := false
	covers := make([][]clearCover, len(f.c.Faces)) // nil where it is not looked up yet
	for i := range holes {
		h := &holes[i]
		face := f.faces[h.n]
		if h.Sort != ItemHole || face == nil || face.Kind != WallFace && face.Kind != FloorFace {
			continue
		}
		some = true
		if !h.Placed() {
			continue
		}
		r := widestHoleMM / 2.0
		if h.D != nil {
			r = *h.D / 2
		}
		cover := covers[face.number]
		if cover == nil {
			cover = f.coverOf(face)
			covers[face.number] = cover
		}
		for k := range cover {
			if cover[k].beyond(*h.X, *h.Y, clearBenchReachMM+r) {
				continue
			}
			x := Clearance{Pair: clearOpeningBench, A: h.ID, B: cover[k].bench.ID, uncovered: unknown()}
			d, err := geometry.CirclePolygonEdgeGap(geometry.Circle{Centre: geometry.Point{X: *h.X, Y: *h.Y}}, cover[k].ring)
			if err != nil || -d-r >= clearBenchReachMM {
				continue
			}
			if h.D != nil {
				x.uncovered = number(-d - r)
			}
			f.add(h.n, "", x)
		}
	}
	if !some {
		return
	}
	for k := range f.c.Job.Room.Benches {
		b := &f.c.Job.Room.Benches[k]
		if _, known := f.benchFrame(b); !known {
			f.addBench(b, Clearance{Pair: clearOpeningBench, A: b.ID, B: "?opening", uncovered: unknown()})
		}
	}
}

// clearCover is what a bench covers of a face, in the coordinates of the face.
type clearCover struct {
	bench *jobfile.Bench
	ring  geometry.Polygon
	box   geometry.Rect
}

// coverOf returns what the benches cover of a face.
func (f *clearFinder) coverOf(face *Face) []clearCover {
	out := make([]clearCover, 0, len(f.c.Job.Room.Benches))
	for k := range f.c.Job.Room.Benches {
		b := &f.c.Job.Room.Benches[k]
		s, known := f.benchFrame(b)
		if !known {
			continue
		}
		ring, ok := f.benchOn(s, face)
		if !ok {
			continue
		}
		box := geometry.Rect{Min: ring[0], Max: ring[0]}
		for _, p := range ring {
			box.Min = geometry.Point{X: min(box.Min.X, p.X), Y: min(box.Min.Y, p.Y)}
			box.Max = geometry.Point{X: max(box.Max.X, p.X), Y: max(box.Max.Y, p.Y)}
		}
		out = append(out, clearCover{b, ring, box})
	}
	return out // never nil
}

// beyond says whether a point is surely farther away than a distance, so that it need not be measured; a millimetre is left for rounding.
func (c *clearCover) beyond(x, y, mm float64) bool {
	return max(c.box.Min.X-x, x-c.box.Max.X, c.box.Min.Y-y, y-c.box.Max.Y) > mm+1
}

// benchOn returns what a bench covers of a face, in the coordinates of the face.
func (f *clearFinder) benchOn(s *geometry.Solid, face *Face) (ring geometry.Polygon, ok bool) {
	lo, hi, flush := math.Inf(1), math.Inf(-1), 0
	wall := 0
	if face.Kind == WallFace {
		wall = face.Wall
	}
	var floor [4]geometry.Point
	for i, c := range [4]geometry.Point{{X: s.X0MM, Y: s.Off0MM}, {X: s.X1MM, Y: s.Off0MM}, {X: s.X1MM, Y: s.Off1MM}, {X: s.X0MM, Y: s.Off1MM}} {
		p, err := f.room.Plan.Place(s.Wall, c.X, c.Y)
		if err != nil {
			return nil, false
		}
		x, off, err := f.room.Plan.Local(wall, p)
		if err != nil {
			return nil, false
		}
		floor[i] = geometry.Point{X: x, Y: off}
		if math.Abs(off) <= planToleranceMM {
			lo, hi = min(lo, x), max(hi, x)
			flush++
		}
	}
	switch {
	case face.Kind == FloorFace:
		return floor[:], true
	case flush < 2 || hi-lo <= geometry.SameMM:
		return nil, false
	}
	return geometry.Rect{Min: geometry.Point{X: lo, Y: 0}, Max: geometry.Point{X: hi, Y: s.TopMM}}.Polygon(), true
}

// clearFlange is the width of what is bonded round a hole: of its collar, or of the flange of a drain.
func clearFlange(it *jobfile.Item) Value {
	if it.Kind == "drain" {
		return num(it.FlangeMM)
	}
	return panelCollarFlange(it)
}

// collars pairs holes with collars on neighbouring faces, round the corner.
func (f *clearFinder) collars() {
	if f.room == nil {
		return
	}
	type spot struct {
		hole  *Hole
		face  *Face
		ref   geometry.FaceRef
		at    geometry.Box3
		reach float64
	}
	holes := f.c.Holes()
	n := 0
	for i := range holes {
		if clearHasFlange(&holes[i]) {
			n++
		}
	}
	spots, widest := make([]spot, 0, n), 0.0
	around := make([]clearAround, len(f.c.Faces))
	for i := range holes {
		h := &holes[i]
		if !clearHasFlange(h) {
			continue
		}
		face := f.faces[h.n]
		ref, ok := f.c.faceRef(face)
		p, placed := f.place(face, h.X, h.Y)
		if !ok || !placed {
			continue
		}
		at, err := geometry.BoxOf(p)
		if err != nil {
			continue
		}
		spots = append(spots, spot{h, face, ref, at, clearHoleReach(h)})
		around[face.number].add(p)
		widest = max(widest, spots[len(spots)-1].reach)
	}
	var grid *geometry.Grid
	for i := range spots {
		a := &spots[i]
		// Few holes are near another face, so most need not be compared with others.
		near := false
		for n := range around {
			near = near || n != a.face.number && around[n].some && around[n].box.Near(&a.at, a.reach+widest)
		}
		if !near {
			continue
		}
		if grid == nil {
			if grid, _ = geometry.NewGrid(clearCableReachMM); grid == nil {
				return // the size is a constant
			}
			for k := range spots {
				_, _ = grid.Add(spots[k].at) // a box that is checked
			}
		}
		f.found = grid.AppendNear(f.found[:0], a.at, a.reach+widest)
		for _, k := range f.found {
			b := &spots[k]
			reach := a.reach + b.reach
			if k <= i || a.ref == b.ref {
				continue
			}
			mm, err := f.room.SurfaceWay(a.ref, *a.hole.X, *a.hole.Y, b.ref, *b.hole.X, *b.hole.Y)
			if err != nil || mm >= reach {
				continue
			}
			x := Clearance{Pair: clearCollars, A: a.hole.ID, B: b.hole.ID, surface: number(mm), needed: unknown()}
			fa, fb := clearFlange(a.hole.Item), clearFlange(b.hole.Item)
			if fa.State == Known && fb.State == Known && a.hole.D != nil && b.hole.D != nil {
				x.needed = number((*a.hole.D+*b.hole.D)/2 + fa.Num + fb.Num)
			}
			f.add(a.hole.n, a.hole.ID+".collar~"+b.hole.ID+".collar", x)
		}
	}
}

// clearHasFlange says whether a hole that is placed has a collar, or is a drain with its flange.
func clearHasFlange(h *Hole) bool {
	return h.Placed() && (h.Sealed() || h.Sort == ItemHole && h.Item.Kind == "drain") && clearFlange(h.Item).State != None
}

// clearAround is the box round the holes with flanges of one face.
type clearAround struct {
	some bool
	box  geometry.Box3
}

func (o *clearAround) add(p geometry.Point3) {
	if !o.some {
		o.some, o.box = true, geometry.Box3{Min: p, Max: p}
	}
	lo, hi := &o.box.Min, &o.box.Max
	*lo = geometry.Point3{X: min(lo.X, p.X), Y: min(lo.Y, p.Y), Z: min(lo.Z, p.Z)}
	*hi = geometry.Point3{X: max(hi.X, p.X), Y: max(hi.Y, p.Y), Z: max(hi.Z, p.Z)}
}

// clearHoleReach is the reach of a hole, with the flange of a drain.
func clearHoleReach(h *Hole) float64 {
	r := h.reach()
	if h.Item.Kind == "drain" && h.Item.FlangeMM != nil {
		d := widestHoleMM / 2.0
		if h.D != nil {
			d = *h.D / 2
		}
		r = max(r, d+*h.Item.FlangeMM)
	}
	return r
}

// panelSide is the side of its panel that an item is worked into.
func panelSide(it *jobfile.Item) string {
	if it.Side == "" {
		return "front"
	}
	return it.Side
}

// inserts pairs inserts with heating cables in the back of the same panel, and with those of other faces.
func (f *clearFinder) inserts() {
	holes := f.c.Holes()
	some := false
	for i := range holes {
		h := &holes[i]
		if h.Sort != InsertHole {
			continue
		}
		some = true
		p, ok := f.place(f.faces[h.n], h.X, h.Y)
		if !ok {
			continue
		}
		r := widestHoleMM / 2.0
		if h.D != nil {
			r = *h.D / 2
		}
		for _, n := range f.near(p, clearCableReachMM+widestHoleMM, roleCable) {
			t := &f.things[n]
			same := t.item.Face == h.Item.Face
			if same && panelSide(t.item) == panelSide(h.Item) {
				continue // the web of the insert on its own side
			}
			axis, from := math.Inf(1), 0
			for _, end := range t.ends {
				for k := from; k < end; k++ {
					if d, err := ventSegment3(p, t.line[max(k-1, from)], t.line[k]); err == nil {
						axis = min(axis, d)
					}
				}
				from = end
			}
			groove := 0.0
			if t.item.GrooveWidthMM != nil {
				groove = *t.item.GrooveWidthMM
			}
			gap := axis - r - groove/2
			if gap >= clearCableReachMM {
				continue
			}
			sure := h.D != nil && t.item.GrooveWidthMM != nil
			x := Clearance{A: h.ID, B: t.item.ID}
			switch {
			case same:
				x.Pair, x.foam = clearCableBehind, f.foamLeft(h, t.item, gap, sure)
			case sure:
				x.Pair, x.cable = clearCableCorner, number(gap)
			default:
				x.Pair, x.cable = clearCableCorner, unknown()
			}
			f.add(h.n, "", x)
		}
	}
	if some {
		f.eachLost(roleCable, func(t *clearThing) {
			f.add(t.n, "", Clearance{Pair: clearCableCorner, A: t.item.ID, B: "?insert", cable: unknown()})
		})
	}
}

// foamLeft is the foam between an insert and a groove in the other side of the same panel: the gap as seen from the front,
// or through the thickness what neither takes away; beside and behind each other it is the straight line
// between their nearest edges.
//
// Source: plane geometry (computed).
func (f *clearFinder) foamLeft(h *Hole, cable *jobfile.Item, gapMM float64, sure bool) Value {
	face := f.faces[h.n]
	if !sure || face == nil || face.Panel == nil || face.Panel.ThicknessMM == nil || h.Insert.DepthMM == nil || cable.GrooveDepthMM == nil {
		return unknown()
	}
	through := *face.Panel.ThicknessMM - *h.Insert.DepthMM - *cable.GrooveDepthMM
	if gapMM > 0 && through > 0 {
		return number(math.Hypot(gapMM, through))
	}
	return number(max(gapMM, through))
}

func clearOf(get func(*Clearance) Value) func(*Context, *Subject) Value {
	return func(_ *Context, s *Subject) Value { return get(s.Clearance) }
}

var clearNeeds = []string{"face", "x_mm", "y_mm", "/items", "/room/walls", "/room/benches"}

var _ = register("clearance", "two things of the room, across faces too, that are near enough to matter", clearanceSubjects,
	def(Text, "pair", "", "what the two things are to each other",
		"outlets and sensors up to 2000 mm apart; outlets, fresh air, doorways and feet up to 1000; lamps over a seat; inserts and cables up to 300; collars whose flanges may meet; openings up to 100 beside a bench; leaves that swing towards a bench", "",
		[]string{"kind"}, func(_ *Context, s *Subject) Value { return text(s.Clearance.Pair) }).
		oneOf(clearOutletSensor, clearOutletSupply, clearOutletDoorway, clearOutletFeet, clearSupplySensor, clearLampSeat, clearCableBehind, clearCableCorner, clearCollars, clearOpeningBench, clearDoorBench),
	def(Number, "straight_mm", "mm", "straight line between the nearest points of the two",
		"from the centres of outlets to the centre of a sensor, the nearest point of a doorway, or of the strip of floor of 500 mm before a seat; does not arise for other pairs", "geometry of the room (computed)", clearNeeds,
		clearOf(func(x *Clearance) Value { return x.straight })),
	def(Number, "way_mm", "mm", "shortest way between the two round walls, benches and partitions",
		"length of a string pulled tight between the centres; does not arise for pairs with a doorway, a seat, an insert or a bench, nor where no way leads", "geometry of the room (computed)", append([]string{"flow"}, clearNeeds...),
		clearOf(func(x *Clearance) Value { return x.way })),
	def(Number, "above_seat_mm", "mm", "height of a lamp above the seat that it is over",
		"of the lowest part that lies over the seat as seen on the plan, the wall at its back counted in; does not arise for lamps that are over no seat", "geometry of the room (computed)", []string{"face", "x_mm", "y_mm", "points", "path", "/room/walls", "/room/benches", "/room/height_mm"},
		clearOf(func(x *Clearance) Value { return x.above })),
	def(Number, "foam_left_mm", "mm", "foam between an insert and the groove of a heating cable in the other side of the panel",
		"gap as seen from the front, or thickness of the panel − depth of the hole − depth of the groove, or the slant between both; negative when they meet", "plane geometry (computed)", []string{"inserts", "/panel/thickness_mm", "/items"},
		clearOf(func(x *Clearance) Value { return x.foam })),
	def(Number, "cable_gap_mm", "mm", "gap between an insert and the groove of a heating cable of another face",
		"straight line from the insert's centre to the cable's axis − half the hole's diameter − half the groove's width", "geometry of the room (computed)", []string{"inserts", "runs", "face", "/items", "/room/walls"},
		clearOf(func(x *Clearance) Value { return x.cable })),
	def(Number, "surface_mm", "mm", "distance between the centres of two holes over the faces round the corner",
		"both faces unfolded into one plane at the edge that they share", "geometry of the room (computed)", clearNeeds,
		clearOf(func(x *Clearance) Value { return x.surface })),
	def(Number, "flange_distance_needed_mm", "mm", "half of both diameters plus both flanges", "(diameter + diameter) / 2 + flange + flange; does not arise unless both have a collar or a drain's flange", "geometry of the collar (computed)",
		[]string{"opening_diameter_mm", "collar_flange_mm", "flange_mm", "/items"}, clearOf(func(x *Clearance) Value { return x.needed })),
	def(Number, "uncovered_mm", "mm", "gap between the edge of an opening and a bench on the same wall or floor", "negative when the bench covers it, in part or whole", "plane geometry (computed)",
		append([]string{"opening_diameter_mm"}, clearNeeds...), clearOf(func(x *Clearance) Value { return x.uncovered })),
	def(Number, "swing_gap_mm", "mm", "gap between the edge of an opening door leaf and a bench", "distance from the hinge to the nearest part of the bench in the quarter of a circle that the leaf sweeps − width of the doorway", "plane geometry (computed)",
		[]string{"swing", "hinge_side", "x_mm", "y_mm", "width_mm", "height_mm", "face", "/room/walls", "/room/benches"}, clearOf(func(x *Clearance) Value { return x.swing })),
)
