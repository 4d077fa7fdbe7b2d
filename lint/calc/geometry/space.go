package geometry

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Errors of the room in three dimensions.
var (
	ErrFace     = errors.New("geometry: the room has no such face, or its place is not known")
	ErrAdjacent = errors.New("geometry: the faces share no edge")
	ErrNoWay    = errors.New("geometry: there is no way between the places")
)

const (
	// flushMM is how near a box must come to a wall to count as closed against it:
	// the tolerance to which plans close.
	flushMM = 5.0
	// thinMM stands for the thickness of a partition that is thinner or not given.
	thinMM = 1.0
)

// FaceSort says what sort of face of a room is meant.
type FaceSort uint8

// The sorts of faces. Walls are counted as in the plan; seats and risers as the solids of the room.
const (
	WallSide FaceSort = iota + 1
	FloorSide
	CeilingSide
	SeatSide
	RiserSide
)

// FaceRef names one face of a room.
type FaceRef struct {
	Sort  FaceSort
	Index int // of the wall, or of the solid for seats and risers
}

// RoomWall is one wall of a room.
type RoomWall struct {
	Name string
	Wall
	HeightMM float64 // 0 when not known
}

// CeilingForm says how a ceiling rises.
type CeilingForm uint8

// The forms of ceilings. A vault is simplified to a ridge: two planes that rise with the
// given slope from the low wall and from the far side, and meet halfway. A real vault lies higher than these planes near
// the walls or is rounder at the top; heights at the low wall are exact.
const (
	FlatCeiling CeilingForm = iota
	ShedCeiling
	RidgeCeiling
)

// RoomCeiling is the ceiling: HeightMM above the floor along the low wall, from where it rises.
type RoomCeiling struct {
	HeightMM     float64
	Form         CeilingForm
	SlopePercent float64
	LowWall      int
}

// RoomFloor is the finished floor. At the walls it is level at height 0. With a
// drain it falls in planes from each wall to the drain, the least steep of them
// by FallPercent. Without a drain, and where the drain is not in sight of every
// wall, it is taken as level everywhere.
type RoomFloor struct {
	FallPercent float64
	Drain       *Point // on the plan
	BuildUpMM   float64
}

// SolidSort says what stands in the room.
type SolidSort uint8

// The sorts of solids.
const (
	BenchSolid SolidSort = iota + 1
	PartitionSolid
)

// Solid is a box that stands on the floor against or before a wall, in the frame of that wall:
// x along it from the left, off its face into the room.
type Solid struct {
	Name             string
	Sort             SolidSort
	Wall             int
	X0MM, X1MM       float64
	Off0MM, Off1MM   float64
	TopMM            float64
	corners, blocked [4]Point // on the plan, in order; blocked is closed against walls
}

// Doorway is an opening in a wall.
type Doorway struct {
	Name string
	Wall int
	Rect Rect // on the face of the wall
}

// RoomSpec says what a room is made of.
type RoomSpec struct {
	Walls       []RoomWall
	ToleranceMM float64 // by how much the plan may fail to close
	Ceiling     *RoomCeiling
	Floor       RoomFloor
	Solids      []Solid
	Doorways    []Doorway
}

// Room is a room in three dimensions, in mm: X and Y as on the plan (see
// [Chain]), Z up from the finished floor at the walls. Make it with [NewRoom].
type Room struct {
	Plan     Plan
	Outline  Polygon // clockwise
	Walls    []RoomWall
	Ceiling  *RoomCeiling
	Floor    RoomFloor
	Solids   []Solid
	Doorways []Doorway

	convex       bool
	reflex       []Point // outside corners
	drainDepthMM float64
	ceilingSpan  float64 // from the low wall to the far side
}

// GapError says that the walls of a plan do not come back to their start.
type GapError struct {
	Wall    int // the last wall, whose right-hand end misses the first corner
	Name    string
	MissMM  float64
	MissDeg float64
	Fits    []WallFit // walls of which another width would close the plan
}

// WallFit is a change of one width that closes a plan.
type WallFit struct {
	Wall     int
	Name     string
	ChangeMM float64 // negative: the wall is shorter than given
}

// Error names the wall and the miss.
func (e *GapError) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "geometry: the plan does not close: wall %s ends %v mm from the first corner", e.Name, RoundMM(e.MissMM))
	if math.Abs(e.MissDeg) > closingTolDeg {
		fmt.Fprintf(&b, ", and the turns miss a full round by %v°", RoundMM(e.MissDeg))
	}
	for i, f := range e.Fits {
		if i > 0 {
			b.WriteString(", or")
		} else {
			b.WriteString("; it would close with")
		}
		fmt.Fprintf(&b, " wall %s %v mm %s", f.Name, RoundMM(math.Abs(f.ChangeMM)), map[bool]string{true: "longer", false: "shorter"}[f.ChangeMM > 0])
	}
	return b.String()
}

// CrossingError says that two walls of a plan run through each other.
type CrossingError struct {
	Wall, Other     int
	Name, OtherName string
	BeyondMM        float64 // by how much the wall runs past the other
}

// Error names the walls and the miss.
func (e *CrossingError) Error() string {
	return fmt.Sprintf("geometry: wall %s runs %v mm past wall %s", e.Name, RoundMM(e.BeyondMM), e.OtherName)
}

// NewRoom makes a room. The walls must close to the tolerance and must not cross:
// the errors are *GapError and *CrossingError. Solids may overlap each other and
// may reach beyond the room; see [Room.SolidInside].
func NewRoom(s RoomSpec) (*Room, error) {
	walls := make([]Wall, len(s.Walls))
	for i := range s.Walls {
		walls[i] = s.Walls[i].Wall
	}
	plan, err := Chain(walls)
	if err != nil {
		return nil, err
	}
	if !plan.Closed(s.ToleranceMM) {
		return nil, gapError(s.Walls, plan)
	}
	r := &Room{Plan: plan, Outline: plan.Polygon(), Walls: append([]RoomWall(nil), s.Walls...), Floor: s.Floor, Doorways: append([]Doorway(nil), s.Doorways...)}
	if err := crossingError(s.Walls, r.Outline); err != nil {
		return nil, err
	}
	n := len(r.Outline)
	r.convex = true
	for i, c := range r.Outline {
		before, after := r.Outline[(i+n-1)%n], r.Outline[(i+1)%n]
		// Clockwise, so that a turn to the left is an outside corner.
		if turn := cross(sub(c, before), sub(after, c)); turn > 1e-6*dist(before, c)*dist(c, after) {
			r.convex = false
			r.reflex = append(r.reflex, c)
		}
	}
	if err := r.setCeiling(s.Ceiling); err != nil {
		return nil, err
	}
	if err := r.setFloor(); err != nil {
		return nil, err
	}
	for i := range s.Solids {
		if err := r.addSolid(s.Solids[i]); err != nil {
			return nil, err
		}
	}
	for i := range r.Solids {
		r.close(i)
	}
	for _, d := range r.Doorways {
		if d.Wall < 0 || d.Wall >= n {
			return nil, fmt.Errorf("doorway %s: %w: %d", d.Name, ErrWall, d.Wall)
		}
		if err := d.Rect.Check(); err != nil {
			return nil, fmt.Errorf("doorway %s: %w", d.Name, err)
		}
	}
	return r, nil
}

func gapError(walls []RoomWall, p Plan) error {
	last := len(walls) - 1
	e := &GapError{Wall: last, Name: walls[last].Name, MissMM: p.ClosingMissMM, MissDeg: p.ClosingMissDeg}
	miss := sub(p.Corners[0], p.End)
	if math.Abs(p.ClosingMissDeg) > closingTolDeg || e.MissMM <= SameMM {
		return e
	}
	for i, u := range p.dirs {
		along := dot(miss, u)
		// Only a wall that lies along the miss (within 1°) can close it alone.
		if math.Abs(cross(miss, u)) <= e.MissMM*math.Sin(closingTolDeg*math.Pi/180) && walls[i].WidthMM+along > 0 {
			e.Fits = append(e.Fits, WallFit{i, walls[i].Name, along})
		}
	}
	return e
}

// crossingError looks for two walls that are not neighbours and cross or touch, or neighbours that fold back.
func crossingError(walls []RoomWall, ring Polygon) error {
	n := len(ring)
	for i := range n {
		a, b := ring.edge(i)
		for j := i + 1; j < n; j++ {
			c, d := ring.edge(j)
			next, wrap := j == i+1, i == 0 && j == n-1
			switch {
			case next || wrap:
				u, v := sub(b, a), sub(d, c)
				if math.Abs(cross(u, v)) <= 1e-9*dist(a, b)*dist(c, d) && dot(u, v) < 0 {
					return &CrossingError{Wall: j, Other: i, Name: walls[j].Name, OtherName: walls[i].Name, BeyondMM: min(dist(a, b), dist(c, d))}
				}
			case segSeg(a, b, c, d) <= SameMM:
				e := &CrossingError{Wall: j, Other: i, Name: walls[j].Name, OtherName: walls[i].Name}
				if x, ok := lineCrossing(a, b, c, d); ok {
					e.BeyondMM = min(dist(x, c), dist(x, d))
					if over := min(dist(x, a), dist(x, b)); over < e.BeyondMM {
						e.Wall, e.Other, e.Name, e.OtherName, e.BeyondMM = i, j, walls[i].Name, walls[j].Name, over
					}
				}
				return e
			}
		}
	}
	return nil
}

func lineCrossing(a, b, c, d Point) (Point, bool) {
	u, v := sub(b, a), sub(d, c)
	den := cross(u, v)
	if den == 0 {
		return Point{}, false
	}
	t := cross(sub(c, a), v) / den
	return Point{a.X + t*u.X, a.Y + t*u.Y}, true
}

func (r *Room) setCeiling(c *RoomCeiling) error {
	if c == nil {
		return nil
	}
	if err := checkWidth(c.HeightMM); err != nil {
		return fmt.Errorf("ceiling: %w", err)
	}
	if c.Form != FlatCeiling {
		if c.LowWall < 0 || c.LowWall >= len(r.Outline) {
			return fmt.Errorf("ceiling: %w: %d", ErrWall, c.LowWall)
		}
		if !finite(c.SlopePercent) || c.SlopePercent < 0 {
			return fmt.Errorf("ceiling: %w: slope", ErrNotFinite)
		}
		for _, p := range r.Outline {
			_, off, err := r.Plan.Local(c.LowWall, p)
			if err != nil {
				return err
			}
			r.ceilingSpan = max(r.ceilingSpan, off)
		}
	}
	own := *c
	r.Ceiling = &own
	return nil
}

func (r *Room) setFloor() error {
	f := r.Floor
	if !finite(f.FallPercent) || f.FallPercent < 0 || !finite(f.BuildUpMM) || f.BuildUpMM < 0 {
		return fmt.Errorf("floor: %w", ErrNotFinite)
	}
	if f.Drain == nil {
		return nil
	}
	if err := checkPoints(*f.Drain); err != nil {
		return fmt.Errorf("drain: %w", err)
	}
	far := 0.0
	for i := range r.Outline {
		a, b := r.Outline.edge(i)
		// In sight when the drain lies on the room's side of every wall.
		off := -cross(sub(b, a), sub(*f.Drain, a)) / dist(a, b)
		if off <= SameMM {
			return nil
		}
		far = max(far, off)
	}
	r.drainDepthMM = f.FallPercent / 100 * far
	return nil
}

func (r *Room) addSolid(s Solid) error {
	name := func(err error) error { return fmt.Errorf("solid %s: %w", s.Name, err) }
	if s.X1MM < s.X0MM || s.Off1MM < s.Off0MM {
		return name(ErrRect)
	}
	if err := checkWidth(s.TopMM); err != nil {
		return name(err)
	}
	if s.Sort == PartitionSolid {
		if t := s.X1MM - s.X0MM; t < thinMM {
			s.X0MM, s.X1MM = s.X0MM-(thinMM-t)/2, s.X1MM+(thinMM-t)/2
		}
	}
	if s.X1MM-s.X0MM <= SameMM || s.Off1MM-s.Off0MM <= SameMM {
		return name(ErrWidth)
	}
	var err error
	if s.corners, err = r.foot(s.Wall, s.X0MM, s.X1MM, s.Off0MM, s.Off1MM); err != nil {
		return name(err)
	}
	s.blocked = s.corners
	r.Solids = append(r.Solids, s)
	return nil
}

func (r *Room) foot(wall int, x0, x1, off0, off1 float64) (out [4]Point, err error) {
	for i, c := range [4]Point{{x0, off0}, {x1, off0}, {x1, off1}, {x0, off1}} {
		if out[i], err = r.Plan.Place(wall, c.X, c.Y); err != nil {
			return out, err
		}
	}
	return out, nil
}

// close stretches a solid, as something that is in the way, over each gap to a wall that is too narrow to count.
func (r *Room) close(i int) {
	s := &r.Solids[i]
	// The gap of a side is that of its farther corner; a side that only points at a wall is not closed.
	gap := func(a, b Point) float64 {
		most := 0.0
		for _, p := range [2]Point{a, b} {
			if pointIn(p, r.Outline) == Inside {
				most = max(most, ringDist(p, r.Outline))
			}
		}
		if most > flushMM || pointIn(Point{(a.X + b.X) / 2, (a.Y + b.Y) / 2}, r.Outline) == Inside && ringDist(Point{(a.X + b.X) / 2, (a.Y + b.Y) / 2}, r.Outline) > flushMM {
			return 0
		}
		return most
	}
	c := s.corners
	q, err := r.foot(s.Wall, s.X0MM-gap(c[0], c[3]), s.X1MM+gap(c[1], c[2]), s.Off0MM-gap(c[0], c[1]), s.Off1MM+gap(c[2], c[3]))
	if err == nil {
		s.blocked = q
	}
}

// inQuad reports whether p lies in the rectangle or within tol of it.
func inQuad(p Point, q [4]Point, tol float64) bool {
	u, v, w := sub(q[1], q[0]), sub(q[3], q[0]), sub(p, q[0])
	lu, lv := math.Sqrt(dot(u, u)), math.Sqrt(dot(v, v))
	a, b := dot(w, u)/lu, dot(w, v)/lv
	return a >= -tol && a <= lu+tol && b >= -tol && b <= lv+tol
}

// SolidInside returns how far a solid lies inside the plan at its worst corner, in mm;
// negative outside.
func (r *Room) SolidInside(i int) (mm float64, err error) {
	if i < 0 || i >= len(r.Solids) {
		return 0, fmt.Errorf("%w: solid %d", ErrFace, i)
	}
	mm = math.Inf(1)
	for _, c := range r.Solids[i].corners {
		d := ringDist(c, r.Outline)
		if pointIn(c, r.Outline) == Outside {
			d = -d
		}
		mm = min(mm, d)
	}
	// An outside corner of the room may stick into the solid although all its own corners are inside.
	for _, p := range r.reflex {
		if c := r.Solids[i].corners; inQuad(p, c, -SameMM) {
			mm = min(mm, -ringDist(p, c[:]))
		}
	}
	return mm, nil
}

// FloorZ returns the height of the finished floor at a place on the plan; 0 at the walls, negative towards the drain.
func (r *Room) FloorZ(p Point) float64 {
	if r.drainDepthMM == 0 || checkPoints(p) != nil {
		return 0
	}
	d := *r.Floor.Drain
	v := sub(p, d)
	for i := range r.Outline {
		a, b := r.Outline.edge(i)
		ea, eb := sub(a, d), sub(b, d)
		den := cross(ea, eb)
		if den == 0 {
			continue
		}
		s, t := cross(v, eb)/den, cross(ea, v)/den
		if s >= -1e-12 && t >= -1e-12 {
			return min(0, -r.drainDepthMM*(1-s-t))
		}
	}
	return 0
}

// CeilingZ returns the height of the ceiling at a place on the plan; ok is false when it is not known.
func (r *Room) CeilingZ(p Point) (z float64, ok bool) {
	c := r.Ceiling
	if c == nil || checkPoints(p) != nil {
		return 0, false
	}
	if c.Form == FlatCeiling {
		return c.HeightMM, true
	}
	_, off, err := r.Plan.Local(c.LowWall, p)
	if err != nil {
		return 0, false
	}
	off = min(max(off, 0), r.ceilingSpan)
	if c.Form == RidgeCeiling {
		off = min(off, r.ceilingSpan-off)
	}
	return c.HeightMM + c.SlopePercent/100*off, true
}

// CeilingTopZ returns the height of the highest line of the ceiling.
func (r *Room) CeilingTopZ() (z float64, ok bool) {
	c := r.Ceiling
	switch {
	case c == nil:
		return 0, false
	case c.Form == ShedCeiling:
		return c.HeightMM + c.SlopePercent/100*r.ceilingSpan, true
	case c.Form == RidgeCeiling:
		return c.HeightMM + c.SlopePercent/100*r.ceilingSpan/2, true
	}
	return c.HeightMM, true
}

// HeightAboveFloor returns how high a point lies above the finished floor straight below it, in mm.
func (r *Room) HeightAboveFloor(p Point3) float64 { return p.Z - r.FloorZ(Point{p.X, p.Y}) }

// HeightAboveBoard returns how high a point lies above the bare board of the
// floor straight below it: above the finished floor, and the build-up of the floor more.
// It is what a fitter measures before the floor is finished.
func (r *Room) HeightAboveBoard(p Point3) float64 {
	return r.HeightAboveFloor(p) + r.Floor.BuildUpMM
}

// Place returns the place in the room of a point of a face. On walls and risers x runs along and y up from the floor at
// the walls. On the floor and the ceiling x runs along the first wall and y from
// it into the room, as seen on the plan. On a seat y runs from the front edge to the wall.
func (r *Room) Place(f FaceRef, x, y float64) (Point3, error) {
	wall, off := f.Index, 0.0
	var s *Solid
	switch f.Sort {
	case WallSide:
	case FloorSide, CeilingSide:
		wall, off = 0, y
	case SeatSide, RiserSide:
		if f.Index < 0 || f.Index >= len(r.Solids) {
			return Point3{}, ErrFace
		}
		s = &r.Solids[f.Index]
		wall, x, off = s.Wall, s.X0MM+x, s.Off1MM
		if f.Sort == SeatSide {
			off -= y
		}
	default:
		return Point3{}, ErrFace
	}
	p, err := r.Plan.Place(wall, x, off)
	if err != nil {
		return Point3{}, err
	}
	z, ok := y, true
	switch f.Sort {
	case FloorSide:
		z = r.FloorZ(p)
	case CeilingSide:
		z, ok = r.CeilingZ(p)
	case SeatSide:
		z = s.TopMM
	}
	if !ok || !finite(z) {
		return Point3{}, ErrFace
	}
	return Point3{p.X, p.Y, z}, nil
}

// Local is the inverse of Place: x and y on the face, and how far off the face the point lies, in mm. Off the floor and
// the ceiling is measured straight up and down.
func (r *Room) Local(f FaceRef, p Point3) (x, y, offMM float64, err error) {
	if !p.finite() {
		return 0, 0, 0, ErrNotFinite
	}
	on := Point{p.X, p.Y}
	switch f.Sort {
	case WallSide:
		x, offMM, err = r.Plan.Local(f.Index, on)
		return x, p.Z, offMM, err
	case FloorSide:
		x, y, err = r.Plan.Local(0, on)
		return x, y, p.Z - r.FloorZ(on), err
	case CeilingSide:
		z, ok := r.CeilingZ(on)
		if !ok {
			return 0, 0, 0, ErrFace
		}
		x, y, err = r.Plan.Local(0, on)
		return x, y, z - p.Z, err
	case SeatSide, RiserSide:
		if f.Index < 0 || f.Index >= len(r.Solids) {
			return 0, 0, 0, ErrFace
		}
		s := &r.Solids[f.Index]
		along, off, err := r.Plan.Local(s.Wall, on)
		if f.Sort == SeatSide {
			return along - s.X0MM, s.Off1MM - off, p.Z - s.TopMM, err
		}
		return along - s.X0MM, p.Z, off - s.Off1MM, err
	}
	return 0, 0, 0, ErrFace
}

// face returns the corners of a face in the room, in order. The floor is taken as level for this.
func (r *Room) face(f FaceRef) ([]Point3, error) {
	quad := func(wall int, x0, x1, off0, off1, z0, z1 float64) ([]Point3, error) {
		a, err := r.Plan.Place(wall, x0, off0)
		if err != nil {
			return nil, err
		}
		b, err := r.Plan.Place(wall, x1, off0)
		if err != nil {
			return nil, err
		}
		c, err := r.Plan.Place(wall, x1, off1)
		if err != nil {
			return nil, err
		}
		d, err := r.Plan.Place(wall, x0, off1)
		if err != nil {
			return nil, err
		}
		return []Point3{{a.X, a.Y, z0}, {b.X, b.Y, z0}, {c.X, c.Y, z1}, {d.X, d.Y, z1}}, nil
	}
	switch f.Sort {
	case WallSide:
		if f.Index < 0 || f.Index >= len(r.Walls) || r.Walls[f.Index].HeightMM <= 0 {
			return nil, ErrFace
		}
		w := r.Walls[f.Index]
		return quad(f.Index, 0, w.WidthMM, 0, 0, 0, w.HeightMM)
	case FloorSide, CeilingSide:
		out := make([]Point3, len(r.Outline))
		for i, p := range r.Outline {
			out[i] = Point3{p.X, p.Y, 0}
			if f.Sort == CeilingSide {
				// Two planes cannot be unfolded as one face.
				z, ok := r.CeilingZ(p)
				if !ok || r.Ceiling.Form == RidgeCeiling {
					return nil, ErrFace
				}
				out[i].Z = z
			}
		}
		return out, nil
	case SeatSide, RiserSide:
		if f.Index < 0 || f.Index >= len(r.Solids) {
			return nil, ErrFace
		}
		s := &r.Solids[f.Index]
		if f.Sort == SeatSide {
			return quad(s.Wall, s.X0MM, s.X1MM, s.Off1MM, s.Off0MM, s.TopMM, s.TopMM)
		}
		return quad(s.Wall, s.X0MM, s.X1MM, s.Off1MM, s.Off1MM, 0, s.TopMM)
	}
	return nil, ErrFace
}
