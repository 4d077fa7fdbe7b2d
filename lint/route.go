package lint

import (
	"fmt"
	"strings"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/calc/route"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// routeEdgeMM is the foam that stays between a groove and the edge of its face, in mm.
//
// Source: common practice for small openings in foam panels (from memory); no published figure for grooves was found.
const routeEdgeMM = 50

// ProposeRoute proposes the runs of a heating cable: a meander on its face that takes the whole cable and keeps the rules of the rulebook core on pitch,
// bends, power, and foam between grooves and holes. The text is YAML to paste over the runs of the item, with what was reckoned with in
// comments. The error says which fact of the job is missing, or why no meander fits.
func ProposeRoute(f *jobfile.File, cable string) (string, error) {
	job := f.Job
	var it *jobfile.Item
	var known []string
	for i := range job.Items {
		if x := &job.Items[i]; x.Kind == "heating_cable" {
			known = append(known, x.ID)
			if x.ID == cable {
				it = x
			}
		}
	}
	switch {
	case len(known) == 0:
		return "", fmt.Errorf("the job has no heating cable")
	case it == nil:
		return "", fmt.Errorf("there is no heating cable %q%s", cable, suggestion(cable, known))
	}
	missing := func(field string) (string, error) {
		return "", fmt.Errorf("%s of %s is not given; a route cannot be proposed without it", field, cable)
	}
	c := measure.NewContext(job)
	face := c.Face(it.Face)
	if face == nil {
		return missing("face")
	}
	area := face.Outline(c)
	switch {
	case area == nil && (face.Kind == measure.FloorFace || face.Kind == measure.CeilingFace):
		return "", fmt.Errorf("the walls of the room do not close, so the area of %s is not known", face.ID)
	case area == nil:
		return "", fmt.Errorf("the size of %s is not given; a route cannot be proposed without it", face.ID)
	case it.SuppliedLengthM == nil:
		return missing("supplied_length_m")
	case it.BendRadiusMinMM == nil && it.CableODMM == nil:
		return missing("bend_radius_min_mm")
	case it.WattsPerM == nil && (face.Kind != measure.WallFace && face.Kind != measure.CeilingFace):
		return missing("watts_per_m")
	case it.GrooveWidthMM == nil:
		return missing("groove_width_mm")
	}
	limits, notes, err := routeLimits(it, face)
	if err != nil {
		return "", err
	}
	obstacles, err := routeObstacles(c, it, face, limits)
	if err != nil {
		return "", err
	}
	length := *it.SuppliedLengthM * 1000
	from := fmt.Sprintf("supplied %s m", measure.FormatNumber(*it.SuppliedLengthM))
	if s := it.SurplusLengthM; s != nil && *s > 0 {
		length -= *s * 1000
		from += fmt.Sprintf(" less a surplus of %s m", measure.FormatNumber(*s))
	}
	if length <= 0 {
		return "", fmt.Errorf("the surplus of %s is as long as the cable", cable)
	}
	r, err := route.Propose(area, obstacles, length, limits)
	if err != nil {
		return "", fmt.Errorf("no route for %s on %s: %w", cable, face.ID, err)
	}
	return routeText(job, it, face, &r, limits, from, notes), nil
}

// routeLimits gathers the limits of a cable from the rules and from the cable's own data, with what they come from.
func routeLimits(it *jobfile.Item, face *measure.Face) (l route.Limits, notes []string, err error) {
	book, err := OpenRulebook("core")
	if err != nil {
		return l, nil, err
	}
	limit := func(id string, get func(*rulebook.Allowed) *float64) float64 {
		r, e := FindRule(book.Rules, id)
		if e != nil || r.Allowed == nil || get(r.Allowed) == nil {
			err = fmt.Errorf("the rulebook core does not say what %s allows", id)
			return 0
		}
		return *get(r.Allowed)
	}
	least := func(a *rulebook.Allowed) *float64 { return a.AtLeast }
	most := func(a *rulebook.Allowed) *float64 { return a.AtMost }
	n := measure.FormatNumber
	l.PitchMin, l.PitchMax = limit("heating-pitch-min", least), limit("heating-pitch-max", most)
	notes = append(notes, fmt.Sprintf("pitch %s to %s mm (heating-pitch-min, heating-pitch-max)", n(l.PitchMin), n(l.PitchMax)))
	atLeast := func(mm float64, why string) {
		if mm > l.PitchMin {
			l.PitchMin = mm
			notes = append(notes, fmt.Sprintf("pitch no less than %s mm: %s", n(mm), why))
		}
	}
	web := limit("heating-groove-web", least)
	atLeast(*it.GrooveWidthMM+web, fmt.Sprintf("%s mm of foam between grooves (heating-groove-web)", n(web)))
	density := ""
	switch face.Kind {
	case measure.SeatFace, measure.RiserFace:
		density = "heating-density-bench"
	case measure.FloorFace:
		density = "heating-density-floor"
	}
	if density != "" && it.WattsPerM != nil {
		q := limit(density, most)
		if q > 0 {
			// q = p/s, so s = p/q; rounded up to 0.001 mm, so that the density never comes out above the limit.
			atLeast(geometry.RoundMM(*it.WattsPerM/q*1000+0.0005), fmt.Sprintf("%s W/m at no more than %s W/m² (%s)", n(*it.WattsPerM), n(q), density))
		}
	}
	if it.BendRadiusMinMM != nil {
		l.BendMin = *it.BendRadiusMinMM
		notes = append(notes, fmt.Sprintf("bends no tighter than %s mm, by the maker", n(l.BendMin)))
	} else {
		l.BendMin = 6 * *it.CableODMM
		notes = append(notes, fmt.Sprintf("bends no tighter than %s mm, 6 × the outside diameter; the maker's figure is not given", n(l.BendMin)))
	}
	half := *it.GrooveWidthMM / 2
	l.EdgeMM = routeEdgeMM + half
	hole := limit("insert-cable-web", least)
	l.ObstacleMM = hole + half
	notes = append(notes, fmt.Sprintf("foam beside the groove: %d mm to the edge (common practice, from memory), %s mm to holes (insert-cable-web)", routeEdgeMM, n(hole)))
	return l, notes, err
}

// routeObstacles gathers what lies in the way on the face of a cable. Something whose place or size the job does not give is an error: a route past it cannot be promised.
func routeObstacles(c *measure.Context, it *jobfile.Item, face *measure.Face, l route.Limits) (out []route.Obstacle, err error) {
	lacking := func(id, what string) error {
		return fmt.Errorf("%s is on %s too, and the job does not give its %s; a route past it cannot be proposed", id, face.ID, what)
	}
	holes := c.Holes()
	for i := range holes {
		h := &holes[i]
		switch {
		case h.Item.Face != face.ID:
		case h.X == nil || h.Y == nil:
			return nil, lacking(h.ID, "place")
		case h.D == nil:
			return nil, lacking(h.ID, "diameter")
		default:
			out = append(out, route.Obstacle{Circle: &geometry.Circle{Centre: geometry.Point{X: *h.X, Y: *h.Y}, R: *h.D / 2}})
		}
	}
	opening := func(id, on string, x, y, w, h *float64) error {
		switch {
		case on != face.ID:
		case x == nil || y == nil || w == nil || h == nil:
			return lacking(id, "place and size")
		default:
			out = append(out, route.Obstacle{Ring: geometry.Rect{Min: geometry.Point{X: *x, Y: *y}, Max: geometry.Point{X: *x + *w, Y: *y + *h}}.Polygon(), ClearMM: &l.EdgeMM})
		}
		return nil
	}
	line := func(runs [][][2]float64, clear *float64) {
		for _, run := range runs {
			if len(run) < 2 {
				continue
			}
			p := make(geometry.Polyline, len(run))
			for k := range run {
				p[k] = geometry.Point{X: run[k][0], Y: run[k][1]}
			}
			out = append(out, route.Obstacle{Line: p, ClearMM: clear})
		}
	}
	for i := range c.Job.Room.Openings {
		o := &c.Job.Room.Openings[i]
		if err := opening(o.ID, o.Face, o.XMM, o.YMM, o.WidthMM, o.HeightMM); err != nil {
			return nil, err
		}
	}
	for i := range c.Job.Items {
		x := &c.Job.Items[i]
		switch {
		case x == it || x.Face != face.ID:
		case x.Kind == "glazed_door":
			if err := opening(x.ID, x.Face, x.XMM, x.YMM, x.WidthMM, x.HeightMM); err != nil {
				return nil, err
			}
		case x.Kind == "heating_cable":
			if len(x.Runs) == 0 {
				return nil, lacking(x.ID, "runs")
			}
			line(x.Runs, &l.PitchMin)
		case x.Kind == "led_strip":
			if len(x.Path) < 2 {
				return nil, lacking(x.ID, "path")
			}
			line([][][2]float64{x.Path}, nil)
		}
	}
	if face.Kind == measure.FloorFace {
		// What stands on a floor keeps its heat in.
		for i := range c.Job.Room.Benches {
			b := &c.Job.Room.Benches[i]
			ring := c.Footprint(b)
			if ring == nil {
				return nil, lacking(b.ID, "place and size")
			}
			out = append(out, route.Obstacle{Ring: ring, ClearMM: &l.EdgeMM})
		}
	}
	return out, nil
}

// routeText writes a proposal.
func routeText(job *jobfile.Job, it *jobfile.Item, face *measure.Face, r *route.Route, l route.Limits, from string, notes []string) string {
	n := measure.FormatNumber
	m := func(mm float64) string { return n(mm/1000) + " m" }
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, "# "+format+"\n", args...) }
	along := "along x"
	if r.Upright {
		along = "along y"
	}
	if r.Rows == 1 {
		say("%s on %s: one row %s.", it.ID, face.ID, along)
	} else {
		say("%s on %s: %d rows %s, pitch %s mm, bends of %s mm.", it.ID, face.ID, r.Rows, along, n(r.PitchMM), n(r.BendMM))
	}
	say("Length %s with rounded bends, %s with sharp corners; %s.", m(r.LengthMM), m(r.SharpMM), from)
	if r.Rows > 1 {
		say("It heats about %.0f %% of the face.", r.Share*100)
	}
	for _, s := range notes {
		say("Kept: %s.", s)
	}
	runs := geometry.Runs{r.Line}
	for i := range job.Items {
		s := &job.Items[i]
		if s.Kind != "heating_sensor" || s.Cable != it.ID || s.Face != it.Face || s.XMM == nil || s.YMM == nil || r.Rows < 2 {
			continue
		}
		at := geometry.Point{X: *s.XMM, Y: *s.YMM}
		near, far, between := geometry.BetweenNeighbours(at, runs)
		if between && near >= 0.4*r.PitchMM && far <= l.PitchMax {
			say("The sensor %s lies between two runs.", s.ID)
			continue
		}
		k := 2 * ((r.Rows - 1) / 2) // the first point of the row in the middle, and the row after it
		if k+3 < len(r.Line) {
			a, c, d := r.Line[k], r.Line[k+1], r.Line[k+3]
			// Where both rows run, midway.
			p := geometry.Point{X: (max(min(a.X, c.X), min(c.X, d.X)) + min(max(a.X, c.X), max(c.X, d.X))) / 2, Y: (a.Y + d.Y) / 2}
			if r.Upright {
				p = geometry.Point{X: (a.X + d.X) / 2, Y: (max(min(a.Y, c.Y), min(c.Y, d.Y)) + min(max(a.Y, c.Y), max(c.Y, d.Y))) / 2}
			}
			say("The sensor %s does not lie midway between two runs; x_mm: %s, y_mm: %s would.", s.ID, n(p.X), n(p.Y))
		}
	}
	points := make([]string, len(r.Line))
	for i, p := range r.Line {
		points[i] = "[" + n(p.X) + ", " + n(p.Y) + "]"
	}
	fmt.Fprintf(&b, "runs: [[%s]]\n", strings.Join(points, ", "))
	return b.String()
}
