package measure

import (
	"fmt"
	"math"

	"wetrule/lint/jobfile"
)

// sum is a figure that is added up from facts; the first fact that is missing leaves it open.
type sum struct {
	total float64
	lacks string // what is missing, in plain words
}

func (s *sum) add(v float64) { s.total += v }
func (s *sum) lack(what string) {
	if s.lacks == "" {
		s.lacks = what
	}
}

// value is the figure, or Unknown with what is missing.
func (s sum) value() Value {
	if s.lacks != "" {
		return unknown().note(s.lacks)
	}
	return number(s.total)
}

// glazing is one pane that closes an opening of the room.
type glazing struct {
	id, face    string
	areaM2      float64
	thicknessMM *float64
}

// roomFigures are sizes of the room that many measures build on. A pointer that is nil was not asked for yet.
type roomFigures struct {
	arises bool // one wall alone has no room
	plan   sum  // area of the plan, m²
	round  sum  // length of the walls, m
	walls  sum  // gross area of the walls, m²
	seats  sum  // area of the seats, m²
	risers sum  // area of the risers, m²
	bench  sum  // volume in the benches, m³
	glass  sum  // area of glass, m²
	panes  []glazing
	taken  int // openings without an item that are taken as glass
	// lining is the area that is lined, m², of each face in the order of the context; walls without their openings and
	// without what benches cover, the floor without what benches cover.
	lining []sum
	slope  string // what is left out of the height, "" when nothing is
}

// roomFigures works the sizes out once.
func (c *Context) roomFigures() *roomFigures {
	if c.figures != nil {
		return c.figures
	}
	room := c.Job.Room
	r := &roomFigures{arises: len(room.Walls) > 1, lining: make([]sum, len(c.Faces))}
	c.figures = r
	if room.Ceiling == nil || room.Ceiling.Shape == "" {
		r.slope = "the form of the ceiling is not given; it is taken as flat"
	} else if room.Ceiling.Shape != "flat" {
		r.slope = "reckoned to the height at the walls; what the " + room.Ceiling.Shape + " ceiling adds is left out"
	}
	plan := c.soundPlan()
	if plan == nil {
		r.plan.lack("the walls do not close to a plan")
	} else if mm2, err := plan.Polygon().Area(); err != nil {
		r.plan.lack("the walls do not close to a plan")
	} else {
		r.plan.add(mm2 / 1e6)
	}
	index := make(map[string]int, len(c.Faces))
	for i, f := range c.Faces {
		index[f.ID] = i
		if f.Kind != WallFace {
			continue
		}
		switch {
		case f.Width == nil:
			r.round.lack("the width of the wall " + f.ID + " is not given")
			fallthrough
		case f.Height == nil:
			r.walls.lack("the size of the wall " + f.ID + " is not given")
			r.lining[i].lack("the size of the wall " + f.ID + " is not given")
		default:
			m2 := *f.Width * *f.Height / 1e6
			r.walls.add(m2)
			r.lining[i].add(m2)
		}
		if f.Width != nil {
			r.round.add(*f.Width / 1000)
		}
	}
	if i, ok := index["ceiling"]; ok {
		r.lining[i] = r.plan
	}
	floor, hasFloor := index["floor"]
	if hasFloor {
		r.lining[floor] = r.plan
	}
	take := func(face string, m2 float64) {
		if i, ok := index[face]; ok {
			r.lining[i].add(-m2)
		}
	}
	r.figureBenches(c, index, take)
	r.figureGlass(c, index, take)
	for i := range r.lining {
		if r.lining[i].total < 0 {
			r.lining[i].lack("openings and benches are larger than the face " + c.Faces[i].ID)
		}
	}
	return r
}

// figureBenches adds the benches. A seat takes as much of the floor as it offers; a riser takes as much of the wall.
func (r *roomFigures) figureBenches(c *Context, index map[string]int, take func(string, float64)) {
	benches := c.Job.Room.Benches
	lack := func(what string, faces ...string) {
		for _, s := range []*sum{&r.seats, &r.risers, &r.bench} {
			s.lack(what)
		}
		for _, f := range faces {
			if i, ok := index[f]; ok {
				r.lining[i].lack(what)
			}
		}
	}
	if benches == nil {
		all := []string{"floor"}
		for _, f := range c.Faces {
			if f.Kind == WallFace {
				all = append(all, f.ID)
			}
		}
		lack("the benches are not given", all...)
		return
	}
	for i := range benches {
		b := &benches[i]
		rise, depth := seatRise(c, b), seatDepth(c, b)
		if rise.State != Known || depth.State != Known || b.LengthMM == nil || b.HeightMM == nil || rise.Num < 0 || depth.Num < 0 {
			lack("the place or size of the bench "+b.ID+" is not given", "floor", b.Wall, b.ID+".seat", b.ID+".riser")
			continue
		}
		seat, riser := *b.LengthMM*depth.Num/1e6, *b.LengthMM*rise.Num/1e6
		r.seats.add(seat)
		r.risers.add(riser)
		r.bench.add(seat * *b.HeightMM / 1000)
		if i, ok := index[b.ID+".seat"]; ok {
			r.lining[i].add(seat)
		}
		if i, ok := index[b.ID+".riser"]; ok {
			r.lining[i].add(riser)
		}
		take("floor", seat)
		take(b.Wall, riser)
	}
}

// figureGlass adds the doors, and openings without an item as panes of unknown make.
func (r *roomFigures) figureGlass(c *Context, index map[string]int, take func(string, float64)) {
	pane := func(id, face string, w, h, thickness *float64) {
		if w == nil || h == nil {
			what := "the size of the opening " + id + " is not given"
			r.glass.lack(what)
			if i, ok := index[face]; ok {
				r.lining[i].lack(what)
			}
			return
		}
		m2 := *w * *h / 1e6
		r.glass.add(m2)
		r.panes = append(r.panes, glazing{id, face, m2, thickness})
		take(face, m2)
	}
	if c.Job.Items == nil {
		r.glass.lack("the items are not given, so it is not known what doors there are")
	}
	for i := range c.Job.Items {
		if it := &c.Job.Items[i]; it.Kind == "glazed_door" {
			pane(it.ID, it.Face, it.WidthMM, it.HeightMM, it.GlassThicknessMM)
		}
	}
	thickness := roomGlassMM
	for i := range c.Job.Room.Openings {
		o := &c.Job.Room.Openings[i]
		pane(o.ID, o.Face, o.WidthMM, o.HeightMM, &thickness)
		r.taken++
	}
}

// roomGlassMM is the thickness of glass that openings without an item are taken to have.
const roomGlassMM = 8.0

// glassNote names the openings that are taken as glass.
func (r *roomFigures) glassNote() string {
	if r.taken == 0 {
		return ""
	}
	return fmt.Sprintf("openings without an item (%d) are taken as %s mm glass", r.taken, FormatNumber(roomGlassMM))
}

// liningTotal adds up the lined faces.
func (r *roomFigures) liningTotal(c *Context) sum {
	var out sum
	for i, s := range r.lining {
		if s.lacks != "" {
			out.lack(s.lacks)
		}
		out.add(s.total)
		if f := c.Faces[i]; f.Kind == SeatFace && r.seats.lacks != "" {
			out.lack(r.seats.lacks)
		}
	}
	for _, id := range []string{"floor", "ceiling"} {
		if c.Face(id) == nil {
			out.lack("the " + id + " is not given")
		}
	}
	return out
}

// height is the mean height of the walls in m, each counted by its width.
func (r *roomFigures) height() sum {
	s := sum{lacks: r.walls.lacks}
	if r.round.lacks != "" {
		s.lack(r.round.lacks)
	}
	if s.lacks == "" && r.round.total > 0 {
		s.add(r.walls.total / r.round.total)
	}
	return s
}

// volume is the volume inside the walls in m³; air is that less the benches.
func (r *roomFigures) volume() sum {
	s, h := r.plan, r.height()
	if h.lacks != "" {
		s.lack(h.lacks)
	}
	s.total *= h.total
	return s
}

func (r *roomFigures) air() sum {
	s := r.volume()
	if r.bench.lacks != "" {
		s.lack(r.bench.lacks)
	}
	s.total = math.Max(0, s.total-r.bench.total)
	return s
}

// figureOf makes a measure of the room's sizes. One wall alone has none.
func figureOf(get func(*Context, *roomFigures) Value) func(*Context, *Subject) Value {
	return func(c *Context, _ *Subject) Value {
		r := c.roomFigures()
		if !r.arises {
			return none()
		}
		return get(c, r)
	}
}

// joined puts remarks together.
func joined(notes ...string) string {
	var room [512]byte
	b, only, some := room[:0], "", 0
	for _, n := range notes {
		if n == "" {
			continue
		}
		if some++; some > 1 {
			b = append(b, "; "...)
		}
		b, only = append(b, n...), n
	}
	if some < 2 {
		return only
	}
	return string(b)
}

// noted puts remarks to a value, those that are not empty, and leaves what it has.
func noted(v Value, remarks ...string) Value {
	if v.State == None {
		return v
	}
	if all := joined(v.Note(), joined(remarks...)); all != "" {
		return v.note(all)
	}
	return v
}

// behindCold returns what is behind a wall, and whether that is cold.
func behindCold(f *Face, walls []jobfile.Wall) (behind string, cold bool) {
	if f.Kind != WallFace || f.Wall < 0 {
		return "", false
	}
	behind = walls[f.Wall].Behind
	switch behind {
	case "outside", "ground", "unheated_room":
		return behind, true
	}
	return behind, false
}

const planeGeometry = "plane geometry (computed)"

var figureNeeds = []string{"walls", "height_mm", "benches", "/items"}

var _ = register("room_figures", "the sizes of the room", func(c *Context) []Subject {
	return []Subject{{Kind: "room_figures", ID: "room", Pointer: "/room", Pos: c.Job.Room.Pos}}
},
	def(Number, "plan_area_m2", "m²", "area of the plan, with the floor under benches", "area that the walls enclose; does not arise for one wall alone", planeGeometry, []string{"walls"}, figureOf(func(_ *Context, r *roomFigures) Value { return r.plan.value() })),
	def(Number, "perimeter_m", "m", "length of the walls together", "sum of their widths; does not arise for one wall alone", "", []string{"walls"}, figureOf(func(_ *Context, r *roomFigures) Value { return r.round.value() })),
	def(Number, "height_m", "m", "mean height of the walls", "area of the walls ÷ their length; does not arise for one wall alone", planeGeometry, []string{"height_mm", "walls"}, figureOf(func(_ *Context, r *roomFigures) Value { return noted(r.height().value(), r.slope) })),
	def(Number, "volume_m3", "m³", "volume inside the walls", "area of the plan × mean height of the walls; does not arise for one wall alone", planeGeometry, []string{"height_mm", "walls"}, figureOf(func(_ *Context, r *roomFigures) Value {
		return noted(r.volume().value(), r.slope).worked(func() []string {
			return []string{said("V = A × h = %.3f m² × %.3f m = %.3f m³", r.plan.total, r.height().total, r.volume().total)}
		})
	})),
	def(Number, "air_volume_m3", "m³", "volume of the air in the room", "volume inside the walls − volume of the benches, which are closed below; does not arise for one wall alone", planeGeometry, figureNeeds, figureOf(func(_ *Context, r *roomFigures) Value {
		return noted(r.air().value(), r.slope).worked(func() []string {
			return []string{said("V = %.3f m³ − benches %.3f m³ = %.3f m³", r.volume().total, r.bench.total, r.air().total)}
		})
	})),
	def(Number, "wall_area_m2", "m²", "area of the walls with their openings", "sum of width × height; does not arise for one wall alone", planeGeometry, []string{"height_mm", "walls"}, figureOf(func(_ *Context, r *roomFigures) Value { return r.walls.value() })),
	def(Number, "seat_area_m2", "m²", "area of the seats", "sum of length × depth in front of the tier above; does not arise for one wall alone", planeGeometry, []string{"benches"}, figureOf(func(_ *Context, r *roomFigures) Value { return r.seats.value() })),
	def(Number, "glass_area_m2", "m²", "area of doors and other openings", "sum of width × height; does not arise for one wall alone", planeGeometry, []string{"/items", "openings"}, figureOf(func(_ *Context, r *roomFigures) Value { return noted(r.glass.value(), r.glassNote()) })),
	def(Number, "lining_area_m2", "m²", "area that is lined: walls without openings, floor, ceiling and benches", "a seat replaces the floor under it and a riser the wall behind it; open ends of benches and the slope of the ceiling are left out; does not arise for one wall alone", planeGeometry, append([]string{"floor", "ceiling"}, figureNeeds...), figureOf(func(c *Context, r *roomFigures) Value { return r.liningTotal(c).value() })),
	def(Number, "cold_wall_area_m2", "m²", "area of lined walls against the open air, the ground or an unheated room", "walls without openings and benches by what is behind them; does not arise for one wall alone", planeGeometry, figureNeeds, figureOf(func(c *Context, r *roomFigures) Value {
		var s sum
		for i, f := range c.Faces {
			if f.Kind != WallFace {
				continue
			}
			behind, cold := behindCold(f, c.Job.Room.Walls)
			switch {
			case behind == "" || behind == "unknown":
				s.lack("it is not known what is behind the wall " + f.ID)
			case cold && r.lining[i].lacks != "":
				s.lack(r.lining[i].lacks)
			case cold:
				s.add(r.lining[i].total)
			}
		}
		return s.value()
	})),
)
