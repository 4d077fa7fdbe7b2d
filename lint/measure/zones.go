package measure

import (
	"math"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// Electrical zones round a shower without a basin, in mm.
//
// Source: IEC 60364-7-701:2006, 701.30.2 to 701.30.4 (secondary). Older texts
// print 50 mm for the height of zone 0 and give zone 2 to such a shower; both are superseded.
const (
	zone0HeightMM = 100.0
	zone1RadiusMM = 1200.0
	zone1TopMM    = 2250.0
)

// The zones of electrical items. Zone 2 arises only beside a basin or tub, whose plan the job format does not hold,
// so it is named for rulebooks but not found yet.
const (
	zone0       = "0"
	zone1       = "1"
	zone2       = "2"
	zoneSteam   = "steam"
	zoneOutside = "outside"
	zoneBehind  = "behind"
)

const zoneHow = "distance on the plan and height of the item's centre or path from the outlet of the nearest shower, as the crow flies: " +
	"partitions are left out of account, which is on the safe side; without a basin zone 0 reaches 100 mm above the floor and zone 1 to " +
	"2250 mm or to the outlet, whichever is higher, both within 1200 mm; " +
	"the rest of a steam room is one wet zone, steam; a hand-held hose makes zones round the outlet it hangs on in a wet room, " +
	"and none beyond the steam zone in a steam room"

const zoneSource = "IEC 60364-7-701:2006, 701.30.2 to 701.30.4 (secondary); the steam zone is common practice (from memory)"

const (
	zoneSteamNote    = "the whole interior of a steam room is treated as one wet zone up to the ceiling (common practice, from memory; no standard covers steam rooms)"
	zoneBehindNote   = "behind a fixed panel: outside the zones, though the 2019 edition of IEC 60364-7-701 counts 60 mm into walls to the location"
	zoneBasinNote    = "a shower over a basin or tub: the job format does not hold its plan, so no zone can be told"
	zoneNoShowerNote = "the job names no shower, from whose outlet the zones are measured"
)

var zoneNeeds = []string{"place", "face", "x_mm", "y_mm", "path", "runs", "/items", "/room/height_mm", "/room/walls"}

// zoneAt returns the zone of a point rMM away on the plan from the fixed water
// outlet of a shower and zMM above finished floor, with the outlet at
// outletMM above the floor: "0", "1" or "outside". The boundary belongs to the inner zone.
// With a basin only a point above all zones can be told, since zones 0 to 2 are
// measured from the basin; ok is false for the others and for input that is not finite.
func zoneAt(rMM, zMM, outletMM float64, basin bool) (zone string, ok bool) {
	for _, v := range []float64{rMM, zMM, outletMM} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return "", false
		}
	}
	r, z := geometry.RoundMM(rMM), geometry.RoundMM(zMM)
	switch {
	case z > geometry.RoundMM(zoneTop(outletMM)):
		return zoneOutside, true
	case basin:
		return "", false
	case r > zone1RadiusMM:
		return zoneOutside, true
	case z <= zone0HeightMM:
		return zone0, true
	}
	return zone1, true
}

// zoneTop is the height of zones 1 and 2 above finished floor, in mm.
func zoneTop(outletMM float64) float64 { return max(zone1TopMM, outletMM) }

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
		return text(zoneBehind).note(zoneBehindNote)
	case "":
		return unknown()
	}
	var rest Value
	steam := false
	switch c.Job.Room.Use {
	case "steam_room":
		steam, rest = true, text(zoneSteam).note(zoneSteamNote)
	case "wet_room":
		rest = text(zoneOutside)
	default:
		return unknown()
	}
	found, inDoubt, note, showers := "", false, "", 0
	for i := range c.Job.Items {
		sh := &c.Job.Items[i]
		if sh.Kind != "shower" {
			continue
		}
		showers++
		if steam && sh.Outlet == "hand_held" {
			continue
		}
		zone, ok := c.zoneByShower(it, sh)
		switch {
		case !ok:
			inDoubt = true
			if sh.Basin != nil && *sh.Basin {
				note = zoneBasinNote
			}
		case zone == zoneOutside:
		case steam && sh.Outlet == "": // it may be hand-held
			inDoubt = true
		case found != zone0:
			found = zone
		}
	}
	switch {
	case found == zone0:
		return text(zone0)
	case inDoubt:
		return unknown().note(note)
	case found != "":
		return text(found)
	case showers == 0 && !steam:
		return unknown().note(zoneNoShowerNote)
	}
	return rest
}

// zoneByShower returns the innermost zone of one shower that the item reaches.
func (c *Context) zoneByShower(it, shower *jobfile.Item) (zone string, ok bool) {
	outlet, ok := c.place3(shower.Face, shower.XMM, shower.YMM)
	if !ok {
		return "", false
	}
	path, ok := c.zonePath(it)
	if !ok {
		return "", false
	}
	basin := shower.Basin == nil || *shower.Basin
	zone = zoneOutside
	for _, below := range []float64{zone0HeightMM, zoneTop(outlet.Z)} {
		for _, leg := range path {
			a, b, some := zoneClip(leg[0], leg[1], below)
			if !some {
				continue
			}
			r, err := geometry.PointSegment(geometry.Point{X: outlet.X, Y: outlet.Y}, geometry.Point{X: a.X, Y: a.Y}, geometry.Point{X: b.X, Y: b.Y})
			if err != nil {
				return "", false
			}
			switch z, ok := zoneAt(r, below, outlet.Z, basin); {
			case !ok:
				return "", false
			case z != zoneOutside:
				return z, true
			}
		}
	}
	return zone, true
}

// zonePath returns the legs of an item's path in the room; a leg of no length for an item
// that is a point. ok is false when the job does not say where it is.
func (c *Context) zonePath(it *jobfile.Item) (legs [][2]geometry.Point3, ok bool) {
	switch it.Kind {
	case "heating_cable":
		for _, run := range it.Runs {
			more, ok := c.zoneLegs(it.Face, run)
			if !ok {
				return nil, false
			}
			legs = append(legs, more...)
		}
		return legs, len(legs) > 0
	case "led_strip":
		return c.zoneLegs(it.Face, it.Path)
	}
	p, ok := c.place3(it.Face, it.XMM, it.YMM)
	return [][2]geometry.Point3{{p, p}}, ok
}

func (c *Context) zoneLegs(face string, points [][2]float64) (legs [][2]geometry.Point3, ok bool) {
	var last geometry.Point3
	for i := range points {
		p, ok := c.place3(face, &points[i][0], &points[i][1])
		if !ok {
			return nil, false
		}
		if i > 0 {
			legs = append(legs, [2]geometry.Point3{last, p})
		}
		last = p
	}
	return legs, len(legs) > 0
}

// zoneClip returns the part of the leg a–b that lies no higher than z, in mm; some is false when there is none.
func zoneClip(a, b geometry.Point3, z float64) (p, q geometry.Point3, some bool) {
	z = geometry.RoundMM(z)
	if a.Z > b.Z {
		a, b = b, a
	}
	switch {
	case geometry.RoundMM(a.Z) > z:
		return a, b, false
	case geometry.RoundMM(b.Z) <= z:
		return a, b, true
	}
	t := min(max((z-a.Z)/(b.Z-a.Z), 0), 1)
	return a, geometry.Point3{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y), Z: z}, true
}
