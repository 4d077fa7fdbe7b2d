package measure

import (
	"math"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// ventHeight returns the height of an item's centre above finished floor, in mm.
// ok is false when the job does not place the item.
func ventHeight(c *Context, it *jobfile.Item) (mm float64, ok bool) {
	f := c.Face(it.Face)
	if f == nil {
		return 0, false
	}
	h := it.YMM
	switch f.Kind {
	case FloorFace:
		return 0, true
	case CeilingFace:
		h = c.Job.Room.HeightMM
	case SeatFace:
		h = f.Bench.HeightMM
	}
	if h == nil {
		return 0, false
	}
	return *h, true
}

// ventWallHeight returns the height of the wall that an item sits on, in mm; away
// from the walls it is the height of the room.
func ventWallHeight(c *Context, it *jobfile.Item) (mm float64, ok bool) {
	f := c.Face(it.Face)
	if f == nil {
		return 0, false
	}
	h := c.Job.Room.HeightMM
	if f.Kind == WallFace {
		h = f.Height
	}
	if h == nil {
		return 0, false
	}
	return *h, true
}

// ventThird returns where a third of the wall begins or ends, as a part of its height.
func ventThird(part float64) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		h, ok := ventWallHeight(c, s.Item)
		if !ok {
			return unknown()
		}
		return number(h * part)
	}
}

// ventRoomThird is where the upper third of the room's greatest height begins, under a ceiling that is known to rise from one wall.
func ventRoomThird(c *Context, _ *Subject) Value {
	k := c.Job.Room.Ceiling
	if k == nil || k.LowWall == "" || k.Shape == "flat" || k.SlopePercent != nil && *k.SlopePercent == 0 {
		return none()
	}
	r, err := c.Room()
	if err != nil {
		return unknown()
	}
	top, ok := r.CeilingTopZ()
	if !ok || r.Ceiling.Form == geometry.FlatCeiling {
		return unknown()
	}
	return number(top * 2 / 3).note(c.room3().flat)
}

// ventHeightInRoom is the height of an outlet's centre in the room, on the ceiling with its slope.
func ventHeightInRoom(c *Context, s *Subject) Value {
	if f := c.Face(s.Item.Face); f != nil && (f.Kind == WallFace || f.Kind == RiserFace) {
		return num(s.Item.YMM)
	}
	p, ok := c.place3(s.Item.Face, s.Item.XMM, s.Item.YMM)
	if !ok {
		return unknown()
	}
	return number(p.Z)
}

func ventCentreHeight(c *Context, s *Subject) Value {
	h, ok := ventHeight(c, s.Item)
	if !ok {
		return unknown()
	}
	return number(h)
}

// ventSegment3 returns the distance from p to the segment a b, in mm; a and b may be the
// same point.
func ventSegment3(p, a, b geometry.Point3) (float64, error) {
	ux, uy, uz := b.X-a.X, b.Y-a.Y, b.Z-a.Z
	t := 0.0
	if l2 := ux*ux + uy*uy + uz*uz; l2 > 0 {
		t = ((p.X-a.X)*ux + (p.Y-a.Y)*uy + (p.Z-a.Z)*uz) / l2
		t = min(max(t, 0), 1)
	}
	return geometry.Distance3(p, geometry.Point3{X: a.X + t*ux, Y: a.Y + t*uy, Z: a.Z + t*uz})
}

// nearThing is an item that distances are taken to.
type nearThing struct {
	it     *jobfile.Item
	face   *Face
	at     geometry.Point3 // in the room
	placed bool            // its place in the room is known
	to     [2]*more        // the remark of distances to it, and that the slope of the ceiling is not in them, once there is one
}

// nearThings are the items that distances are taken to, in the order of the job.
type nearThings struct {
	outlets, sensors []nearThing
	supplies, unsure []nearThing // ventilation outlets for fresh air, and those of which the flow is not given
}

func (c *Context) things() *nearThings {
	if c.near != nil {
		return c.near
	}
	c.near = &nearThings{}
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		var list *[]nearThing
		switch {
		case it.Kind == "steam_outlet":
			list = &c.near.outlets
		case it.Kind == "temperature_sensor":
			list = &c.near.sensors
		case it.Kind != "ventilation_outlet":
			continue
		case it.Flow == "supply":
			list = &c.near.supplies
		case it.Flow == "":
			list = &c.near.unsure
		default:
			continue
		}
		t := nearThing{it: it, face: c.Face(it.Face)}
		t.at, t.placed = c.placeOn(t.face, it.XMM, it.YMM)
		if *list == nil {
			*list = make([]nearThing, 0, 8)
		}
		*list = append(*list, t)
	}
	return c.near
}

// nearLines are lines of points on a face: one through all of them, or each point by itself, or the centre of an item alone.
type nearLines struct {
	points [][2]float64
	line   bool
	centre *jobfile.Item
}

func (l *nearLines) count() int {
	if l.centre != nil {
		return 1
	}
	return len(l.points)
}

func (l *nearLines) at(i int) (x, y *float64) {
	if l.centre != nil {
		return l.centre.XMM, l.centre.YMM
	}
	return &l.points[i][0], &l.points[i][1]
}

// ventNearest returns the shortest distance from lines on a face to the nearest of some things. On one face it is taken in the plane
// of the face and needs no plan of the room; across faces it is the straight line through the room. It does not arise without things, and
// it is Unknown as soon as one distance is: the item that has no place might be the nearest.
func ventNearest(c *Context, face string, lines nearLines, things []nearThing) Value {
	if len(things) == 0 {
		return none()
	}
	n := lines.count()
	if n == 0 {
		return unknown()
	}
	here := c.Face(face)
	flat := c.flatPoints[:0] // on the face
	for i := range n {
		x, y := lines.at(i)
		flat = append(flat, geometry.Point3{X: *x, Y: *y})
	}
	c.flatPoints = flat
	var room []geometry.Point3 // in the room, as soon as they are asked for
	best, to := math.Inf(1), -1
	for k := range things {
		t := &things[k]
		ok := here != nil && t.face != nil
		points, at := flat, geometry.Point3{}
		switch {
		case !ok:
		case here == t.face:
			if ok = t.it.XMM != nil && t.it.YMM != nil; ok {
				at = geometry.Point3{X: *t.it.XMM, Y: *t.it.YMM}
			}
		case !t.placed:
			ok = false
		default:
			if room == nil {
				room = c.roomPoints[:0]
				for i := 0; ok && i < n; i++ {
					var p geometry.Point3
					x, y := lines.at(i)
					p, ok = c.placeOn(here, x, y)
					room = append(room, p)
				}
				c.roomPoints = room
			}
			points, at = room, t.at
		}
		for i := 0; ok && i < len(points); i++ {
			from := i
			if lines.line && i > 0 {
				from--
			}
			d, err := ventSegment3(at, points[from], points[i])
			ok = err == nil
			if d < best {
				best, to = d, k
			}
		}
		if !ok {
			return unknown().note("the distance to " + t.it.ID + " cannot be told")
		}
	}
	v := number(best)
	if to < 0 {
		return v
	}
	t := &things[to]
	why, k := ventSlopeNote(c, face, t.it.Face), 0
	if why != "" {
		k = 1
	}
	if t.to[k] == nil {
		note := c.spell("to ", t.it.ID)
		if why != "" {
			note = c.spell(note, "; ", why)
		}
		t.to[k] = c.with(v, note, "", nil).more
	}
	return v.having(t.to[k])
}

// ventSlopeNote says when the slope of the ceiling is not in a distance.
func ventSlopeNote(c *Context, a, b string) string {
	if why := c.room3().flat; a != b && (a == "ceiling" || b == "ceiling") {
		return why
	}
	return ""
}

// ventCentre is the point at the item's centre; there is none without it.
func ventCentre(it *jobfile.Item) nearLines {
	if it.XMM == nil || it.YMM == nil {
		return nearLines{}
	}
	return nearLines{centre: it}
}

// ventSupplyDistance is the distance from an exhaust to the nearest supply.
func ventSupplyDistance(c *Context, s *Subject) Value {
	if s.Item.Flow == "supply" {
		return none()
	}
	supplies, unsure := c.things().supplies, ""
	for _, t := range c.things().unsure {
		if t.it != s.Item {
			unsure = t.it.ID
			break
		}
	}
	switch {
	case len(supplies) == 0 && unsure == "":
		return none()
	case unsure != "":
		return unknown().note("the flow of " + unsure + " is not known")
	case s.Item.Flow == "":
		return unknown()
	}
	return ventNearest(c, s.Item.Face, ventCentre(s.Item), supplies)
}

func ventPlay(_ *Context, s *Subject) Value {
	spigot, note := s.Item.SpigotODMM, ""
	if spigot == nil {
		// The job format lets the spigot be left out when it is the nominal diameter.
		spigot, note = s.Item.DiameterMM, "outside diameter of the spigot taken as the nominal diameter"
	}
	if spigot == nil || s.Item.OpeningDiameterMM == nil {
		return unknown()
	}
	return number(*s.Item.OpeningDiameterMM - *spigot).note(note)
}

// ventTiled says whether the face that an item sits on is tiled. Items on plastered faces
// wait for no jointing.
func ventTiled(c *Context, s *Subject) Value {
	f := c.Face(s.Item.Face)
	if f == nil {
		return unknown()
	}
	plastered := false
	for i := range f.BuildUp {
		switch f.BuildUp[i].Layer {
		case "tile":
			return yes(true)
		case "lime_plaster":
			plastered = true
		}
	}
	if plastered {
		return yes(false)
	}
	return unknown().note("the build-up has no finish")
}

// ventTiledDef defines the measure face_tiled, for the kinds whose fitting waits for the jointing.
func ventTiledDef() *Def {
	return def(Flag, "face_tiled", "", "whether the face that it sits on is tiled", "a layer of tile in the build-up of the face; not known when there is neither tile nor plaster", "",
		[]string{"face", "/build_up"}, ventTiled)
}

var _ = register("ventilation_outlet", "a ventilation outlet", itemsOf("ventilation_outlet"),
	given(Text, "flow", "", "whether air leaves or enters", "flow", func(_ *Context, s *Subject) Value { return text(s.Item.Flow) }).oneOf("exhaust", "supply"),
	given(Number, "nominal_diameter_mm", "mm", "nominal diameter of the outlet", "diameter_mm", func(_ *Context, s *Subject) Value { return num(s.Item.DiameterMM) }),
	def(Number, "opening_play_mm", "mm", "play of the spigot in its opening", "opening − outside diameter of the spigot; the spigot is the nominal diameter when only that is given", "",
		[]string{"opening_diameter_mm", "spigot_od_mm", "diameter_mm"}, ventPlay),
	def(Number, "outlet_height_mm", "mm", "height of the outlet's centre above finished floor", "y on a wall or a riser; the height of the room on the ceiling; 0 on the floor", "",
		[]string{"face", "y_mm"}, ventCentreHeight),
	def(Number, "upper_third_mm", "mm", "height at which the upper third of the wall begins", "2/3 × height of the wall; of the room when it is not on a wall", "",
		[]string{"face", "/room/height_mm"}, ventThird(2.0/3)),
	def(Number, "lower_third_mm", "mm", "height at which the lower third of the wall ends", "1/3 × height of the wall; of the room when it is not on a wall", "",
		[]string{"face", "/room/height_mm"}, ventThird(1.0/3)),
	def(Number, "height_in_room_mm", "mm", "height of the outlet's centre above the finished floor at the walls", "y on a wall or a riser; elsewhere worked out from the place of the face, on the ceiling with its slope", "geometry of the room (computed)",
		[]string{"face", "x_mm", "y_mm", "/room/height_mm"}, ventHeightInRoom),
	def(Number, "room_upper_third_mm", "mm", "height at which the upper third of the room begins, taken at its highest line", "2/3 × height of the highest line of the ceiling; does not arise unless the ceiling rises from a wall that the job names", "geometry of the room (computed)",
		[]string{"/room/height_mm", "/room/ceiling/slope_percent", "/room/walls"}, ventRoomThird),
	def(Number, "supply_distance_mm", "mm", "shortest distance from the exhaust to a supply", "straight line from centre to centre; does not arise for a supply, nor without one", "",
		[]string{"flow", "face", "x_mm", "y_mm", "/items"}, ventSupplyDistance),
	def(Number, "sensor_distance_mm", "mm", "shortest distance to an air temperature sensor", "straight line from centre to centre; does not arise without a sensor", "",
		[]string{"face", "x_mm", "y_mm", "/items"}, func(c *Context, s *Subject) Value {
			return ventNearest(c, s.Item.Face, ventCentre(s.Item), c.things().sensors)
		}),
	given(Number, "maker_sensor_distance_min_mm", "mm", "least distance to the air temperature sensor that the maker asks for", "maker_sensor_distance_min_mm", func(_ *Context, s *Subject) Value { return num(s.Item.MakerSensorDistanceMinMM) }),
	ventTiledDef(),
)

var _ = register("temperature_sensor", "an air temperature sensor", itemsOf("temperature_sensor"),
	def(Number, "sensor_height_mm", "mm", "height of the sensor's centre above finished floor", "y on a wall or a riser; the height of the room on the ceiling; 0 on the floor", "",
		[]string{"face", "y_mm"}, ventCentreHeight),
)
