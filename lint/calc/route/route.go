// Package route lays a heating cable as a meander on a face: rows of one pitch, joined by turns at alternate ends.
//
// A cable must not be cut, so the meander must take the whole of it: pitch, number of rows and their length are chosen
// so that it does. Units are millimetres. Rows, turns and the pitch come out in whole millimetres where the limits
// leave room for that, so that a fitter can mark them.
//
// The method is plane geometry (computed): every row and every turn is held against the edge of the area and the obstacles
// exactly, by cutting each of them with what is kept clear round every edge.
package route

import (
	"errors"
	"fmt"
	"math"

	"wetrule/lint/calc/geometry"
)

// Errors say why no proposal exists. The message of the error says by how much.
var (
	ErrInput     = errors.New("route: bad input")
	ErrTooLong   = errors.New("the cable is too long for the area")
	ErrTooShort  = errors.New("the cable is too short for a meander")
	ErrBend      = errors.New("the bend radius forbids the pitch")
	ErrObstacles = errors.New("obstacles split the area")
	ErrNoRoom    = errors.New("the area has no room for a row")
	ErrTooMuch   = errors.New("the area is too large or too intricate for a proposal")
)

// Obstacle is something to keep clear of: a circle, the area of a ring, or a line such as another cable. One of them is given.
type Obstacle struct {
	Circle *geometry.Circle
	Ring   geometry.Polygon
	Line   geometry.Polyline
	// ClearMM, when given, stands in place of Limits.ObstacleMM.
	ClearMM *float64
}

// Limits are what a proposal keeps, in mm. Distances are those of the cable's axis.
type Limits struct {
	PitchMin, PitchMax float64
	BendMin            float64 // least bend radius; a turn of two right angles has half the pitch
	EdgeMM             float64 // to the edge of the area
	ObstacleMM         float64 // to obstacles
	ToleranceMM        float64 // of the length; 0 takes 1 mm
	// Exit, when given, is where the cable leaves the face: the start is laid as near to it as can be.
	Exit *geometry.Point
}

// Route is a proposal.
type Route struct {
	Line     geometry.Polyline // the axis with sharp corners, from the end that is nearer to the exit
	Rows     int
	PitchMM  float64 // 0 for a single row
	BendMM   float64 // the radius that the bends are laid with, half the pitch; 0 for a single row
	LengthMM float64 // with bends of that radius
	SharpMM  float64 // with sharp corners
	Upright  bool    // rows run along y
	Share    float64 // how much of the area is within half the pitch of the cable, about: length × pitch / area
	ExitMM   float64 // from the exit to the start; 0 without an exit
}

const (
	mostParts  = 4000 // edges of the area and of obstacles
	mostRows   = 2000
	mostEffort = 30e6 // parts times rows looked at
	turnSaving = 2 - math.Pi/2
	eps        = 1e-9
)

// Propose lays a cable of a length on an area. The length is that of the cable with its bends rounded.
//
// The widest pitch that takes the whole cable wins, since it spreads the heat most evenly; between pitches alike to 10 mm fewer bends win, then rows
// along x. The error is one of those above.
func Propose(area geometry.Polygon, obstacles []Obstacle, lengthMM float64, limits Limits) (Route, error) {
	if err := check(area, obstacles, lengthMM, &limits); err != nil {
		return Route{}, err
	}
	least := max(limits.PitchMin, 2*limits.BendMin)
	switch {
	case limits.PitchMin > limits.PitchMax:
		return Route{}, fmt.Errorf("%w: the least pitch of %s is more than the widest of %s", ErrInput, mm(limits.PitchMin), mm(limits.PitchMax))
	case least > limits.PitchMax:
		return Route{}, fmt.Errorf("%w: a turn of radius %s takes a pitch of %s, and the widest is %s", ErrBend, mm(limits.BendMin), mm(least), mm(limits.PitchMax))
	}
	r, longest, err := propose(area, obstacles, lengthMM, limits, least)
	if err == nil || len(obstacles) == 0 || errors.Is(err, ErrTooMuch) || errors.Is(err, ErrTooShort) {
		return r, err
	}
	if _, _, without := propose(area, nil, lengthMM, limits, least); without == nil {
		return Route{}, fmt.Errorf("%w: between them a meander takes at most %s of the %s; without them it would fit", ErrObstacles, metres(longest), metres(lengthMM))
	}
	return Route{}, err
}

func propose(area geometry.Polygon, obstacles []Obstacle, length float64, limits Limits, least float64) (Route, float64, error) {
	var best *Route
	longest, shortest := 0.0, math.Inf(1)
	effort := mostEffort
	for _, upright := range [2]bool{false, true} {
		f := newFrame(area, obstacles, limits, upright)
		f.effort = &effort
		r := f.search(length, least, &longest, &shortest)
		if effort < 0 {
			return Route{}, longest, ErrTooMuch
		}
		if r == nil {
			continue
		}
		a, err := area.Area()
		if err != nil {
			return Route{}, longest, fmt.Errorf("%w: %w", ErrInput, err)
		}
		r.Share = min(1, r.LengthMM*r.PitchMM/a)
		if best == nil || better(r, best) {
			best = r
		}
	}
	switch {
	case best != nil:
		return *best, longest, nil
	case longest == 0:
		return Route{}, 0, fmt.Errorf("%w: %s to the edge leave none", ErrNoRoom, mm(limits.EdgeMM))
	case longest < length:
		return Route{}, longest, fmt.Errorf("%w by %s: at a pitch of no less than %s the area takes %s of the %s", ErrTooLong, metres(length-longest), mm(least), metres(longest), metres(length))
	}
	return Route{}, longest, fmt.Errorf("%w by %s: the shortest meander is %s", ErrTooShort, metres(max(0, shortest-length)), metres(shortest))
}

// better says whether a is better than b, which has its rows along x.
func better(a, b *Route) bool {
	if p, q := math.Floor(a.PitchMM/10), math.Floor(b.PitchMM/10); p != q {
		return p > q
	}
	return a.Rows < b.Rows
}

func mm(v float64) string { return fmt.Sprintf("%s mm", trim(v, 1)) }

func metres(v float64) string { return fmt.Sprintf("%s m", trim(v/1000, 3)) }

func trim(v float64, digits int) string {
	k := math.Pow(10, float64(digits))
	return fmt.Sprintf("%v", math.Round(v*k)/k)
}

func check(area geometry.Polygon, obstacles []Obstacle, length float64, limits *Limits) error {
	if err := area.Check(); err != nil {
		return fmt.Errorf("%w: %w", ErrInput, err)
	}
	parts := len(area)
	for _, v := range [...]float64{length, limits.PitchMin, limits.PitchMax, limits.BendMin, limits.EdgeMM, limits.ObstacleMM, limits.ToleranceMM} {
		if !(v >= 0 && v <= geometry.MaxCoordMM) {
			return fmt.Errorf("%w: lengths must not be negative", ErrInput)
		}
	}
	if length == 0 || limits.PitchMax == 0 || limits.PitchMin == 0 && limits.BendMin == 0 {
		return fmt.Errorf("%w: length and pitch must be more than nothing", ErrInput)
	}
	if limits.ToleranceMM == 0 {
		limits.ToleranceMM = 1
	}
	if e := limits.Exit; e != nil {
		if err := (geometry.Circle{Centre: *e}).Check(); err != nil {
			return fmt.Errorf("%w: %w", ErrInput, err)
		}
	}
	for i, o := range obstacles {
		given := 0
		var err error
		if o.Circle != nil {
			given, err = given+1, errors.Join(err, o.Circle.Check())
		}
		if o.Ring != nil {
			given, err = given+1, errors.Join(err, o.Ring.Check())
		}
		if o.Line != nil {
			given, err = given+1, errors.Join(err, o.Line.Check())
		}
		if c := o.ClearMM; c != nil && !(*c >= 0 && *c <= geometry.MaxCoordMM) {
			err = errors.Join(err, errors.New("its distance must not be negative"))
		}
		switch {
		case given != 1:
			return fmt.Errorf("%w: obstacle %d must be a circle, a ring or a line", ErrInput, i)
		case err != nil:
			return fmt.Errorf("%w: obstacle %d: %w", ErrInput, i, err)
		}
		parts += 1 + len(o.Ring) + len(o.Line)
	}
	if parts > mostParts {
		return ErrTooMuch
	}
	if area.SelfCrosses() {
		return fmt.Errorf("%w: the edge of the area crosses itself", ErrInput)
	}
	return nil
}

// search tries more and more rows until the cable fits, since fewer rows stand wider apart.
func (f *frame) search(length, least float64, longest, shortest *float64) *Route {
	lo, hi := f.minY+f.edge, f.maxY-f.edge
	if hi < lo || f.maxX-f.minX < 2*f.edge {
		return nil
	}
	height := hi - lo
	most := int(math.Min(mostRows, math.Floor(height/least+eps)+1))
	first := max(1, int(length/(f.maxX-f.minX+f.limits.PitchMax)))
	if most > 1 {
		first = max(first, 2) // a single row only where there is no room for two
	}
	if first > most {
		first = most // to learn how much fits
	}
	for n := first; n <= most; n++ {
		for _, p := range pitches(n, height, least, f.limits.PitchMax) {
			free := height - float64(n-1)*p
			var best *Route
			for _, y0 := range [3]float64{math.Round(lo + free/2), math.Ceil(lo - eps), math.Floor(lo + free + eps)} {
				if y0 < lo-eps || y0 > lo+free+eps {
					y0 = lo + free/2
				}
				for _, right := range [2]bool{true, false} {
					r := f.lay(n, p, y0, right, length, longest, shortest)
					if *f.effort < 0 {
						return nil
					}
					if r != nil && (best == nil || r.ExitMM < best.ExitMM) {
						best = r
					}
				}
				if best != nil {
					return best
				}
			}
		}
	}
	return nil
}

// pitches lists the pitches to try with n rows, the widest first.
func pitches(n int, height, least, widest float64) []float64 {
	if n == 1 {
		return []float64{0}
	}
	top := min(widest, height/float64(n-1))
	if top < least-eps {
		return nil
	}
	whole := func(p float64) float64 {
		if w := math.Floor(p + eps); w >= least {
			return w
		}
		return p
	}
	out := []float64{whole(top)}
	for k := 4; k >= 0; k-- {
		p := least + (top-least)*float64(k)/5
		if w := math.Ceil(p - eps); w <= top {
			p = w
		}
		if p < out[len(out)-1]-eps {
			out = append(out, p)
		}
	}
	return out
}

// lay lays n rows of a pitch from y0 upwards, the first turn at the right or the left, so that they take the whole cable; nil when they
// cannot. It notes the longest and the shortest that they could take.
func (f *frame) lay(n int, p, y0 float64, right bool, length float64, longest, shortest *float64) *Route {
	shortRow := max(p+1, 2*f.limits.BendMin, 1)
	turns, ok := f.chain(n, p, y0, right, shortRow)
	if !ok {
		return nil
	}
	// turns[0] is the start, turns[n] the end; between them a turn for each pair of rows.
	saved := float64(2*(n-1)) * turnSaving * p / 2
	fixed := float64(n-1)*p - saved
	total, give := fixed, math.Inf(1)
	for i := 1; i <= n; i++ {
		row := math.Abs(turns[i].at - turns[i-1].at)
		total += row
		give = min(give, math.Floor((row-shortRow)/2+eps))
	}
	for _, t := range turns {
		give = min(give, math.Floor(t.room+eps))
	}
	*longest = max(*longest, total)
	lastRow := math.Abs(turns[n].at - turns[n-1].at)
	*shortest = min(*shortest, total-2*float64(n)*give-max(0, min(lastRow-2*give-shortRow, turns[n].room-give)))
	over := total - length
	if over < -f.limits.ToleranceMM {
		return nil
	}
	// All rows are shortened alike at both ends, and the last one by what is left.
	in := max(0, min(math.Floor(over/(2*float64(n))), give))
	rest := max(0, math.Round(over-2*float64(n)*in))
	if lastRow-2*in-rest < shortRow-eps || turns[n].room < in+rest-eps {
		return nil
	}
	line := make(geometry.Polyline, 0, 2*n)
	side := -1.0 // of the start
	if !right {
		side = 1
	}
	for i, t := range turns {
		x := t.at - side*in
		if i == n {
			x -= side * rest
		}
		if i > 0 {
			line = append(line, f.out(geometry.Point{X: x, Y: y0 + float64(i-1)*p}))
		}
		if i < n {
			line = append(line, f.out(geometry.Point{X: x, Y: y0 + float64(i)*p}))
		}
		side = -side
	}
	r := &Route{Rows: n, PitchMM: p, BendMM: p / 2, Upright: f.upright}
	sharp, err := line.Length()
	if err != nil {
		return nil
	}
	r.SharpMM, r.LengthMM = sharp, sharp-saved
	if math.Abs(r.LengthMM-length) > f.limits.ToleranceMM+eps {
		return nil
	}
	if e := f.limits.Exit; e != nil {
		a, b := line[0], line[len(line)-1]
		da, db := math.Hypot(a.X-e.X, a.Y-e.Y), math.Hypot(b.X-e.X, b.Y-e.Y)
		if db < da {
			for i, j := 0, len(line)-1; i < j; i, j = i+1, j-1 {
				line[i], line[j] = line[j], line[i]
			}
			da = db
		}
		r.ExitMM = da
	}
	r.Line = line
	return r
}
