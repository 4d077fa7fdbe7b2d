package measure

import (
	"math"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// ventHeight returns the height of an item's centre above finished floor, in mm.
// ok is false when the job does not place the item.
func ventHeight(c *Context, it *jobfile.Item) (mm float64, ok bool) {
	f := c.faces[it.Face]
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
	f := c.faces[it.Face]
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
	if f := c.faces[s.Item.Face]; f != nil && (f.Kind == WallFace || f.Kind == RiserFace) {
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
		t = math.Min(math.Max(t, 0), 1)
	}
	return geometry.Distance3(p, geometry.Point3{X: a.X + t*ux, Y: a.Y + t*uy, Z: a.Z + t*uz})
}

// ventLineDistance returns the shortest distance from a line on a face, or from a single point, to
// the centre of an item, in mm. On one face it is taken in the plane of the face and needs no plan of the room;
// across faces it is the straight line through the room. ok is false when a place or the plan is not known.
func ventLineDistance(c *Context, face string, line [][2]float64, it *jobfile.Item) (mm float64, ok bool) {
	if len(line) == 0 || c.faces[face] == nil || c.faces[it.Face] == nil {
		return 0, false
	}
	place := c.place3
	if face == it.Face {
		place = func(_ string, x, y *float64) (geometry.Point3, bool) {
			if x == nil || y == nil {
				return geometry.Point3{}, false
			}
			return geometry.Point3{X: *x, Y: *y}, true
		}
	}
	to, ok := place(it.Face, it.XMM, it.YMM)
	if !ok {
		return 0, false
	}
	mm = math.Inf(1)
	var last geometry.Point3
	for i := range line {
		p, ok := place(face, &line[i][0], &line[i][1])
		if !ok {
			return 0, false
		}
		if i == 0 {
			last = p
		}
		d, err := ventSegment3(to, last, p)
		if err != nil {
			return 0, false
		}
		mm, last = math.Min(mm, d), p
	}
	return mm, true
}

// ventNearest returns the shortest distance from any of some lines on a face to the nearest of some
// items. It does not arise without items, and it is Unknown as soon as one distance is: the item that has no
// place might be the nearest.
func ventNearest(c *Context, face string, lines [][][2]float64, items []*jobfile.Item) Value {
	if len(items) == 0 {
		return none()
	}
	if len(lines) == 0 {
		return unknown()
	}
	best, note := math.Inf(1), ""
	for _, it := range items {
		for _, line := range lines {
			d, ok := ventLineDistance(c, face, line, it)
			if !ok {
				return unknown().note("the distance to " + it.ID + " cannot be told")
			}
			if d < best {
				best, note = d, "to "+it.ID+ventSlopeNote(c, face, it.Face)
			}
		}
	}
	return number(best).note(note)
}

// ventSlopeNote says when the slope of the ceiling is not in a distance.
func ventSlopeNote(c *Context, a, b string) string {
	if why := c.room3().flat; why != "" && a != b && (a == "ceiling" || b == "ceiling") {
		return "; " + why
	}
	return ""
}

// ventItems returns the items of a kind in the order of the job, all or those that keep lets through.
func ventItems(c *Context, kind string, keep func(*jobfile.Item) bool) (out []*jobfile.Item) {
	for i := range c.Job.Items {
		if it := &c.Job.Items[i]; it.Kind == kind && (keep == nil || keep(it)) {
			out = append(out, it)
		}
	}
	return out
}

// ventCentre is the line of a single point at the item's centre; nil without one.
func ventCentre(it *jobfile.Item) [][][2]float64 {
	if it.XMM == nil || it.YMM == nil {
		return nil
	}
	return [][][2]float64{{{*it.XMM, *it.YMM}}}
}

// ventSupplyDistance is the distance from an exhaust to the nearest supply.
func ventSupplyDistance(c *Context, s *Subject) Value {
	if s.Item.Flow == "supply" {
		return none()
	}
	unsure := ventItems(c, "ventilation_outlet", func(it *jobfile.Item) bool { return it.Flow == "" && it != s.Item })
	supplies := ventItems(c, "ventilation_outlet", func(it *jobfile.Item) bool { return it.Flow == "supply" })
	switch {
	case len(supplies) == 0 && len(unsure) == 0:
		return none()
	case len(unsure) > 0:
		return unknown().note("the flow of " + unsure[0].ID + " is not known")
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
	f := c.faces[s.Item.Face]
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
			return ventNearest(c, s.Item.Face, ventCentre(s.Item), ventItems(c, "temperature_sensor", nil))
		}),
	given(Number, "maker_sensor_distance_min_mm", "mm", "least distance to the air temperature sensor that the maker asks for", "maker_sensor_distance_min_mm", func(_ *Context, s *Subject) Value { return num(s.Item.MakerSensorDistanceMinMM) }),
	ventTiledDef(),
)

var _ = register("temperature_sensor", "an air temperature sensor", itemsOf("temperature_sensor"),
	def(Number, "sensor_height_mm", "mm", "height of the sensor's centre above finished floor", "y on a wall or a riser; the height of the room on the ceiling; 0 on the floor", "",
		[]string{"face", "y_mm"}, ventCentreHeight),
)
