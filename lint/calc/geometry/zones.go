package geometry

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrZone says that a set of zones cannot be used.
var ErrZone = errors.New("geometry: the zones are not well formed")

// Zone sets are data: which solids make up which zone, from the innermost zone
// to the outermost. Their figures and sources stand in rulebooks.

// ZoneShape says what a solid of a zone lies round.
type ZoneShape uint8

// The shapes.
const (
	RoundOutlet ZoneShape = iota + 1 // an upright cylinder round the fixed outlet
	RoundPlan                        // the plan of a basin, tub or heater and a strip beyond it
	WholeRoom                        // everywhere
)

// ZoneSolid is one solid of a zone. Its boundary belongs to it.
type ZoneSolid struct {
	Shape ZoneShape
	// ReachMM is the radius, or the width of the strip beyond the plan; along a string where barriers count.
	ReachMM float64
	// Basin limits the solid to showers with a basin (true) or without one (false); nil is both.
	Basin *bool
	// FromMM and ToMM are the heights between which the solid lies; nil has no end. They are measured from the
	// finished floor at the walls, or with AboveRim from the rim of the basin, tub or threshold.
	FromMM, ToMM *float64
	AboveRim     bool
	// OrOutlet raises the top to the outlet where the outlet is higher.
	OrOutlet bool
}

// Zone is one zone.
type Zone struct {
	Name   string
	Solids []ZoneSolid
}

// ZoneSet is the zones round one thing, the innermost first.
type ZoneSet struct {
	ID  string
	For string // what the zones lie round
	// Barriers says that walls and fixed partitions limit the zones, and that reach is measured
	// round and over their edges. Otherwise it is measured as the crow flies on the plan.
	Barriers bool
	Zones    []Zone
}

// ZoneCentre is what zones are measured from. What is not known is nil.
type ZoneCentre struct {
	Outlet *Point3
	Basin  *bool   // whether there is a basin or tub
	Plan   Polygon // of the basin, tub or heater; nil when not known
	RimMM  *float64
}

// Check reports why the set cannot be used.
func (s *ZoneSet) Check() error {
	if len(s.Zones) == 0 {
		return fmt.Errorf("%w: set %s has no zone", ErrZone, s.ID)
	}
	for _, z := range s.Zones {
		if z.Name == "" || len(z.Solids) == 0 {
			return fmt.Errorf("%w: a zone of set %s lacks a name or a solid", ErrZone, s.ID)
		}
		for _, d := range z.Solids {
			switch {
			case d.Shape < RoundOutlet || d.Shape > WholeRoom:
				return fmt.Errorf("%w: zone %s has a solid of no known shape", ErrZone, z.Name)
			case !finite(d.ReachMM) || d.ReachMM < 0 || d.Shape == RoundOutlet && d.ReachMM == 0:
				return fmt.Errorf("%w: zone %s has a reach of %v mm", ErrZone, z.Name, d.ReachMM)
			case d.FromMM != nil && !finite(*d.FromMM) || d.ToMM != nil && !finite(*d.ToMM):
				return fmt.Errorf("%w: zone %s: %w", ErrZone, z.Name, ErrNotFinite)
			case d.FromMM != nil && d.ToMM != nil && *d.FromMM > *d.ToMM && !d.OrOutlet:
				return fmt.Errorf("%w: zone %s ends below its beginning", ErrZone, z.Name)
			}
		}
	}
	return nil
}

// Rank returns the place of a zone in the set, the innermost 0; −1 when it is not one of them.
func (s *ZoneSet) Rank(zone string) int {
	return slices.IndexFunc(s.Zones, func(z Zone) bool { return z.Name == zone })
}

// TopMM returns the height of the top of a zone round an outlet at a height, in mm;
// ok is false when the zone has no top, or one that depends on a rim.
func (s *ZoneSet) TopMM(zone string, outletMM float64) (mm float64, ok bool) {
	i := s.Rank(zone)
	if i < 0 || !finite(outletMM) {
		return 0, false
	}
	mm = math.Inf(-1)
	for _, d := range s.Zones[i].Solids {
		if d.ToMM == nil || d.AboveRim {
			return 0, false
		}
		top := *d.ToMM
		if d.OrOutlet {
			top = max(top, outletMM)
		}
		mm = max(mm, top)
	}
	return mm, true
}

// truth is an answer that may be open.
type truth uint8

const (
	no truth = iota
	unsure
	yes
)

// At returns the innermost zone that a path of straight legs reaches; a leg of no length is a point. zone is
// empty outside all zones. ok is false when what is known of the centre leaves it open, and for a path that is not finite.
//
// The room gives the barriers; without one, reach is measured as the crow flies.
// Heights are compared after rounding to 0.001 mm, and so are distances.
func (s *ZoneSet) At(r *Room, c ZoneCentre, path [][2]Point3) (zone string, ok bool) {
	if s.Check() != nil || len(path) == 0 {
		return "", false
	}
	for _, leg := range path {
		if !leg[0].finite() || !leg[1].finite() {
			return "", false
		}
	}
	if c.Outlet != nil && !c.Outlet.finite() || c.Plan != nil && c.Plan.Check() != nil || c.RimMM != nil && !finite(*c.RimMM) {
		return "", false
	}
	for _, z := range s.Zones {
		found := no
		for i := range z.Solids {
			for _, leg := range path {
				found = max(found, s.in(&z.Solids[i], r, &c, leg))
				if found == yes {
					return z.Name, true
				}
			}
		}
		if found == unsure {
			return "", false
		}
	}
	return "", true
}

// ceiling is the height of the highest solid that is not measured from a rim; infinite when there is none, or one has no top.
func (s *ZoneSet) ceiling(c *ZoneCentre) float64 {
	top := math.Inf(-1)
	for _, z := range s.Zones {
		for _, d := range z.Solids {
			switch {
			case d.AboveRim:
			case d.ToMM == nil, d.OrOutlet && c.Outlet == nil:
				return math.Inf(1)
			case d.OrOutlet:
				top = max(top, *d.ToMM, c.Outlet.Z)
			default:
				top = max(top, *d.ToMM)
			}
		}
	}
	if math.IsInf(top, -1) {
		return math.Inf(1)
	}
	return top
}

// in says whether a leg reaches into a solid.
func (s *ZoneSet) in(d *ZoneSolid, r *Room, c *ZoneCentre, leg [2]Point3) truth {
	most := yes
	if d.Basin != nil {
		switch {
		case c.Basin == nil:
			most = unsure
		case *c.Basin != *d.Basin:
			return no
		}
	}
	lo, hi := math.Inf(-1), math.Inf(1)
	if d.FromMM != nil {
		lo = *d.FromMM
	}
	if d.ToMM != nil {
		hi = *d.ToMM
	}
	if d.AboveRim && (d.FromMM != nil || d.ToMM != nil) {
		if c.RimMM == nil {
			// How high the solid lies is open; where the plan is out of reach, it does not matter. A basin does not
			// rise out of the zones over it.
			most, lo, hi = unsure, math.Inf(-1), s.ceiling(c)
		} else {
			lo, hi = lo+*c.RimMM, hi+*c.RimMM
		}
	}
	if d.OrOutlet {
		switch {
		case c.Outlet != nil:
			hi = max(hi, c.Outlet.Z)
		default:
			most, hi = unsure, math.Inf(1)
		}
	}
	a, b, some := clipZ(leg[0], leg[1], RoundMM(lo), RoundMM(hi))
	if !some {
		return no
	}
	switch d.Shape {
	case RoundOutlet:
		if c.Outlet == nil {
			return unsure
		}
		return min(most, s.reaches(d, r, Polygon{{c.Outlet.X, c.Outlet.Y}}, a, b, hi))
	case RoundPlan:
		if c.Plan == nil {
			return unsure
		}
		return min(most, s.reaches(d, r, c.Plan, a, b, hi))
	}
	return most
}

// clipZ returns the part of the leg a–b between two heights, which are rounded like the heights of its ends.
func clipZ(a, b Point3, lo, hi float64) (p, q Point3, some bool) {
	if a.Z > b.Z {
		a, b = b, a
	}
	if RoundMM(b.Z) < lo || RoundMM(a.Z) > hi {
		return a, b, false
	}
	at := func(z float64) Point3 {
		t := min(max((z-a.Z)/(b.Z-a.Z), 0), 1)
		return Point3{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y), z}
	}
	p, q = a, b
	if RoundMM(a.Z) < lo {
		p = at(lo)
	}
	if RoundMM(b.Z) > hi {
		q = at(hi)
	}
	return p, q, true
}

// reaches says whether the leg a–b comes within the reach of a plan: one point, or an area with its edges.
func (s *ZoneSet) reaches(d *ZoneSolid, r *Room, from Polygon, a, b Point3, top float64) truth {
	pa, pb := Point{a.X, a.Y}, Point{b.X, b.Y}
	flat := math.Inf(1)
	if len(from) == 1 {
		flat = dist(from[0], nearest(from[0], pa, pb))
	} else {
		if pointIn(pa, from) != Outside || pointIn(pb, from) != Outside {
			return yes
		}
		for i := range from {
			c, e := from.edge(i)
			flat = min(flat, segSeg(c, e, pa, pb))
		}
	}
	within := func(mm float64) bool { return RoundMM(mm) <= RoundMM(d.ReachMM) }
	if !within(flat) {
		return no // a string is never shorter
	}
	if !s.Barriers || r == nil {
		return yes
	}
	o := Obstacles{Partitions: true}
	if !math.IsInf(top, 0) {
		o.NoHigherMM = top
	}
	sc := r.scene(o)
	// What is further away than the string is long does not lie in its way.
	sc.prisms = slices.DeleteFunc(sc.prisms, func(p prism) bool {
		away := math.Inf(1)
		for i := range from {
			c, e := from.edge(i)
			away = min(away, max(boxGap(c, e, p.min, p.max), 0))
		}
		return away+boxGap(pa, pb, p.min, p.max) > d.ReachMM+1
	})
	if !sc.barred() {
		return yes
	}
	if math.IsInf(top, 0) {
		top = skyMM
	}
	// The string starts at the upright line through the outlet, or at the upright sides of the plan, at any height of the zone.
	low := min(a.Z, b.Z, 0)
	var starts []site
	if len(from) == 1 {
		starts = []site{segmentSite(Point3{from[0].X, from[0].Y, low}, Point3{from[0].X, from[0].Y, top})}
	} else {
		for i := range from {
			c, e := from.edge(i)
			side := segmentSite(Point3{c.X, c.Y, low}, Point3{e.X, e.Y, low})
			if side.lu > 0 {
				side.v, side.lv = Point3{0, 0, 1}, top-low
				starts = append(starts, side)
			}
		}
	}
	for _, piece := range sc.split(a, b) {
		for _, start := range starts {
			// A string that is only within reach after rounding counts too.
			w, ok := sc.way(start, segmentSite(piece[0], piece[1]), d.ReachMM+0.01)
			switch {
			case ok && within(w.MM):
				return yes
			case !w.Exact:
				return unsure
			}
		}
	}
	return no
}
