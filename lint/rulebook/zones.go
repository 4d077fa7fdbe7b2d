package rulebook

import (
	"errors"
	"io/fs"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// ZoneSet is the zones round one sort of thing, as a rulebook gives them.
type ZoneSet struct {
	ID       string   `json:"id"`
	For      string   `json:"for"`
	Title    string   `json:"title"`
	Barriers bool     `json:"barriers"`
	Source   Citation `json:"source"`
	Zones    []Zone   `json:"zones"`

	Pos      *jobfile.Node    `json:"-"`
	Rulebook string           `json:"-"`
	Geometry geometry.ZoneSet `json:"-"` // the same for measuring
}

// Zone is one zone of a set.
type Zone struct {
	Zone   string      `json:"zone"`
	Clause string      `json:"clause"`
	Solids []ZoneSolid `json:"solids"`

	Pos *jobfile.Node `json:"-"`
}

// ZoneSolid is one solid of a zone; see schema/zones.schema.json.
type ZoneSolid struct {
	Round    string   `json:"round"`
	ReachMM  float64  `json:"reach_mm"`
	Basin    *bool    `json:"basin"`
	Above    string   `json:"above"`
	FromMM   *float64 `json:"from_mm"`
	ToMM     *float64 `json:"to_mm"`
	OrOutlet bool     `json:"or_outlet"`

	Pos *jobfile.Node `json:"-"`
}

const zonesFile = "zones.yaml"

// readZones reads the zones of a rulebook, which may have none.
func (b *Rulebook) readZones(sources map[string]*Source) error {
	if _, err := fs.Stat(b.fsys, zonesFile); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	var f struct {
		Zones []*ZoneSet `json:"zones"`
	}
	if err := b.readFile(zonesFile, "zones.schema.json", &f); err != nil {
		return err
	}
	var ps jobfile.Problems
	ids, things := map[string]bool{}, map[string]bool{}
	for _, s := range f.Zones {
		s.Rulebook = b.Name
		if ids[s.ID] {
			ps = append(ps, problem(s.Pos.Get("id"), "zone set %q is given twice", s.ID))
		}
		if things[s.For] {
			ps = append(ps, problem(s.Pos.Get("for"), "there is another zone set for %q", s.For))
		}
		ids[s.ID], things[s.For] = true, true
		ps = append(ps, s.Source.resolve(sources)...)
		ps = append(ps, s.resolve()...)
	}
	if len(ps) > 0 {
		ps.Sort()
		return ps
	}
	b.Zones = f.Zones
	return nil
}

var zoneShapes = map[string]geometry.ZoneShape{"outlet": geometry.RoundOutlet, "plan": geometry.RoundPlan, "room": geometry.WholeRoom}

// resolve makes the zones that jobs are measured by and checks them.
func (s *ZoneSet) resolve() (ps jobfile.Problems) {
	g := geometry.ZoneSet{ID: s.ID, For: s.For, Barriers: s.Barriers}
	names := map[string]bool{}
	for _, z := range s.Zones {
		if names[z.Zone] {
			ps = append(ps, problem(z.Pos.Get("zone"), "zone %q is given twice", z.Zone))
		}
		names[z.Zone] = true
		out := geometry.Zone{Name: z.Zone}
		for _, d := range z.Solids {
			switch {
			case d.Round == "room" && d.Pos.Get("reach_mm") != nil:
				ps = append(ps, problem(d.Pos.Get("reach_mm"), "the whole room has no reach"))
			case d.Round != "room" && d.Pos.Get("reach_mm") == nil:
				ps = append(ps, problem(d.Pos, "give reach_mm; 0 is the plan itself"))
			case d.Above == "rim" && d.FromMM == nil && d.ToMM == nil:
				ps = append(ps, problem(d.Pos.Get("above"), "above the rim needs from_mm or to_mm"))
			case d.OrOutlet && (d.ToMM == nil || d.Above == "rim"):
				ps = append(ps, problem(d.Pos.Get("or_outlet"), "or_outlet raises to_mm above the floor, which is not given"))
			}
			out.Solids = append(out.Solids, geometry.ZoneSolid{Shape: zoneShapes[d.Round], ReachMM: d.ReachMM, Basin: d.Basin,
				FromMM: d.FromMM, ToMM: d.ToMM, AboveRim: d.Above == "rim", OrOutlet: d.OrOutlet})
		}
		g.Zones = append(g.Zones, out)
	}
	if len(ps) > 0 {
		return ps
	}
	if err := g.Check(); err != nil {
		return jobfile.Problems{problem(s.Pos, "%v", err)}
	}
	s.Geometry = g
	return nil
}

// LayZones lays the zones of rulebooks over one another, from the bottom up: of several sets for one thing the last one
// holds. They come in the order in which their things are first named.
func LayZones(books []*Rulebook) []*ZoneSet {
	var out []*ZoneSet
	at := map[string]int{}
	for _, b := range books {
		for _, s := range b.Zones {
			if i, ok := at[s.For]; ok {
				out[i] = s
				continue
			}
			at[s.For] = len(out)
			out = append(out, s)
		}
	}
	return out
}

// ZoneGeometry returns the zones for measuring.
func ZoneGeometry(sets []*ZoneSet) []geometry.ZoneSet {
	out := make([]geometry.ZoneSet, len(sets))
	for i, s := range sets {
		out[i] = s.Geometry
	}
	return out
}
