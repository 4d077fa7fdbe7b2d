package measure

import (
	"slices"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// The zones of electrical items. Zones 0 to 2 and steam come from the zones of
// the rulebook; see policies/core/zones.yaml.
const (
	zone0       = "0"
	zone1       = "1"
	zone2       = "2"
	zoneSteam   = "steam"
	zoneOutside = "outside"
	zoneBehind  = "behind"
)

// What the sets of zones are for.
const (
	zoneSetShower = "shower"
	zoneSetSteam  = "steam_room"
)

const zoneHow = "by the zones of the rulebook, from the plan and height of the item's centre or path. Without a basin they lie round the outlet of the nearest " +
	"shower, zone 0 up to 100 mm above the floor and zone 1 up to 2250 mm or to the outlet, whichever is higher, both within 1200 mm; with a basin " +
	"zone 0 is in it, zone 1 over it and zone 2 up to 600 mm beside it. Walls and fixed partitions limit zones: the distance is that of a string laid round their edges, and " +
	"over those that are lower than the zone; partitions of which a size is missing are left out, which is on the safe side; " +
	"the rest of a steam room is one wet zone, steam; a hand-held hose makes zones round the outlet it hangs on in a wet room, " +
	"and none beyond the steam zone in a steam room"

const zoneSource = "IEC 60364-7-701:2006, 701.30.2 to 701.30.4 and 701.32.1 (secondary); the steam zone is common practice (from memory)"

const (
	zoneSteamNote    = "the whole interior of a steam room is treated as one wet zone up to the ceiling (common practice, from memory; no standard covers steam rooms)"
	zoneBehindNote   = "behind a fixed panel: outside the zones, though the 2019 edition of IEC 60364-7-701 counts 60 mm into walls to the location"
	zoneBasinNote    = "the zones of a shower over a basin or tub are measured from the basin: give basin_x_mm, basin_off_mm, basin_width_mm and basin_length_mm, and basin_rim_mm for what lies in or over it"
	zoneNoShowerNote = "the job names no shower, from whose outlet the zones are measured"
	zoneNoSetNote    = "no zones are loaded"
)

var zoneBehindValue = text(zoneBehind).note(zoneBehindNote)

var zoneNeeds = []string{"place", "face", "x_mm", "y_mm", "path", "runs", "/items", "/room/height_mm", "/room/walls"}

// zonePlace says where an item is: as given for kinds of items that say it, and in the room for
// those that are always fitted there. Empty when it is not given.
func zonePlace(it *jobfile.Item) string {
	switch it.Kind {
	case "steam_generator", "light_source", "accessory":
		return it.Place
	}
	return "in_room"
}

// zoneOf returns the zone of an item.
func (c *Context) zoneOf(it *jobfile.Item) Value {
	switch zonePlace(it) {
	case "outside_room":
		return text(zoneOutside)
	case "behind_panel":
		return zoneBehindValue
	case "":
		return unknown()
	}
	set := c.zones[zoneSetShower]
	if set == nil {
		return unknown().note(zoneNoSetNote)
	}
	var rest Value
	steam := false
	switch c.Job.Room.Use {
	case "steam_room":
		steam, rest = true, c.zoneOfSteam()
	case "wet_room":
		rest = text(zoneOutside)
	default:
		return unknown()
	}
	found, doubt, note := -1, false, ""
	showers := c.zoneShowers()
	room, err := c.Room()
	var path [][2]geometry.Point3
	placed := false
	if err == nil && len(showers) > 0 {
		path, placed = c.zonePath(it)
	}
	for i := range showers {
		sh := showers[i].it
		if steam && sh.Outlet == "hand_held" {
			continue
		}
		zone, ok := "", placed && showers[i].placed
		if ok {
			zone, ok = set.At(room, showers[i].centre, path)
		}
		switch {
		case !ok:
			doubt = true
			if sh.Basin != nil && *sh.Basin {
				note = zoneBasinNote
			}
		case zone == "":
		case steam && sh.Outlet == "": // it may be hand-held
			doubt = true
		case found < 0 || set.Rank(zone) < found:
			found = set.Rank(zone)
		}
	}
	switch {
	case found == 0: // nothing lies further in
		return text(set.Zones[0].Name)
	case doubt:
		return unknown().note(note)
	case found > 0:
		return text(set.Zones[found].Name)
	case len(showers) == 0 && !steam:
		return unknown().note(zoneNoShowerNote)
	}
	return rest
}

// zoneOfSteam is the zone of all that is in a steam room and in no zone of a shower.
func (c *Context) zoneOfSteam() Value {
	if c.steamZone.State == None {
		c.steamZone = text(zoneOutside)
		if room := c.zones[zoneSetSteam]; room != nil {
			// All of it is one zone, wherever the item is.
			if z, ok := room.At(nil, geometry.ZoneCentre{}, [][2]geometry.Point3{{}}); ok && z != "" {
				c.steamZone = text(z).note(zoneSteamNote)
			}
		}
	}
	return c.steamZone
}

// zoneShower is a shower and what its zones are measured from.
type zoneShower struct {
	it     *jobfile.Item
	centre geometry.ZoneCentre
	placed bool
}

// zoneShowers returns the showers of the job; without a plan of the room none is placed.
func (c *Context) zoneShowers() []zoneShower {
	if c.showered {
		return c.showers
	}
	c.showered = true
	room, err := c.Room()
	for i := range c.Job.Items {
		it := &c.Job.Items[i]
		if it.Kind != "shower" {
			continue
		}
		s := zoneShower{it: it}
		if err == nil {
			s.centre, s.placed = c.zoneCentre(room, it)
		}
		c.showers = append(c.showers, s)
	}
	return c.showers
}

// zoneCentre is what the zones of a shower are measured from. ok is false when the job does not say where its outlet is.
func (c *Context) zoneCentre(room *geometry.Room, sh *jobfile.Item) (centre geometry.ZoneCentre, ok bool) {
	outlet, ok := c.place3(sh.Face, sh.XMM, sh.YMM)
	return geometry.ZoneCentre{Outlet: &outlet, Basin: sh.Basin, Plan: c.zoneBasin(room, sh), RimMM: sh.BasinRimMM}, ok
}

// zoneBasin is the plan of the basin under a shower; nil when the job does not give it.
func (c *Context) zoneBasin(room *geometry.Room, sh *jobfile.Item) geometry.Polygon {
	for _, v := range []*float64{sh.BasinXMM, sh.BasinOffMM, sh.BasinWidthMM, sh.BasinLengthMM} {
		if v == nil {
			return nil
		}
	}
	wall := 0
	if f := c.Face(sh.Face); f != nil && f.Kind == WallFace {
		wall = f.Wall
	}
	x, off := *sh.BasinXMM, *sh.BasinOffMM
	var out geometry.Polygon
	for _, k := range []geometry.Point{{X: x, Y: off}, {X: x + *sh.BasinWidthMM, Y: off}, {X: x + *sh.BasinWidthMM, Y: off + *sh.BasinLengthMM}, {X: x, Y: off + *sh.BasinLengthMM}} {
		p, err := room.Plan.Place(wall, k.X, k.Y)
		if err != nil {
			return nil
		}
		out = append(out, p)
	}
	return slices.Clip(out)
}

// zonePath returns the legs of an item's path in the room, in memory that the next one takes; a leg of no length for an item
// that is a point. ok is false when the job does not say where it is.
func (c *Context) zonePath(it *jobfile.Item) (legs [][2]geometry.Point3, ok bool) {
	face := c.Face(it.Face)
	if legs = c.legs[:0]; legs == nil {
		legs = make([][2]geometry.Point3, 0, 16)
	}
	switch it.Kind {
	case "heating_cable":
		ok = true
		for i := 0; ok && i < len(it.Runs); i++ {
			from := len(legs)
			legs, ok = c.appendZoneLegs(legs, face, it.Runs[i])
			ok = ok && len(legs) > from
		}
		ok = ok && len(legs) > 0
	case "led_strip":
		legs, ok = c.appendZoneLegs(legs, face, it.Path)
		ok = ok && len(legs) > 0
	default:
		var p geometry.Point3
		p, ok = c.placeOn(face, it.XMM, it.YMM)
		legs = append(legs, [2]geometry.Point3{p, p})
	}
	c.legs = legs
	return legs, ok
}

func (c *Context) appendZoneLegs(legs [][2]geometry.Point3, face *Face, points [][2]float64) (longer [][2]geometry.Point3, ok bool) {
	var last geometry.Point3
	for i := range points {
		p, ok := c.placeOn(face, &points[i][0], &points[i][1])
		if !ok {
			return legs, false
		}
		if i > 0 {
			legs = append(legs, [2]geometry.Point3{last, p})
		}
		last = p
	}
	return legs, true
}
