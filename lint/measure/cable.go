package measure

import (
	"fmt"
	"math"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
)

// maxCablePoints is the largest number of points that the heating cables of one
// job are measured with. Pitch and crossings compare every leg with every other,
// so the work grows with the square; a real room needs a few hundred points.
const maxCablePoints = 4000

// cable is the geometry of one heating cable in its runs, in mm. The lengths and
// the flag hold only when why is empty; a nil pointer is a quantity that does not
// arise for these runs.
type cable struct {
	runs      geometry.Runs
	why       string   // why the runs cannot be measured
	lengthMM  float64  // along the axes, corners sharp
	roundedMM float64  // the same with every bend rounded at bendMM
	pitchMin  *float64 // least axis distance, to neighbouring cables too
	nearest   string   // the cable that pitchMin is measured to, empty for its own runs
	pitchMax  *float64 // widest strip between runs alongside
	bendMM    *float64 // tightest bend
	crosses   bool     // crosses or touches itself or another cable of the face
}

// cable returns the geometry of a heating cable; nil for any other item. The
// geometry of all cables is worked out once a job, when it is first asked for.
func (c *Context) cable(it *jobfile.Item) *cable {
	if c.cables == nil {
		c.cables = map[*jobfile.Item]*cable{}
		var laid []*jobfile.Item
		points := 0
		for i := range c.Job.Items {
			if x := &c.Job.Items[i]; x.Kind == "heating_cable" {
				laid = append(laid, x)
				for _, run := range x.Runs {
					points += len(run)
				}
			}
		}
		for _, x := range laid {
			c.cables[x] = newCable(x, points)
		}
		for _, x := range laid {
			c.cables[x].measure(c, x, laid)
		}
	}
	return c.cables[it]
}

// newCable takes over the runs of an item. points is the number of points of all
// cables of the job.
func newCable(it *jobfile.Item, points int) *cable {
	k := &cable{}
	switch {
	case len(it.Runs) == 0:
		k.why = "the runs are not given"
		return k
	case points > maxCablePoints:
		k.why = fmt.Sprintf("the heating cables of the job have more than %d points in all", maxCablePoints)
		return k
	}
	k.runs = make(geometry.Runs, len(it.Runs))
	for i, run := range it.Runs {
		k.runs[i] = make(geometry.Polyline, len(run))
		for j, p := range run {
			k.runs[i][j] = geometry.Point{X: p[0], Y: p[1]}
		}
	}
	n, err := k.runs.Length()
	switch {
	case err != nil:
		k.why = "the runs cannot be measured"
	case n <= geometry.SameMM:
		k.why = "the runs have no length"
	}
	k.lengthMM = n
	return k
}

func (k *cable) measure(c *Context, it *jobfile.Item, laid []*jobfile.Item) {
	if k.why != "" {
		return
	}
	own := k.runs.Laid()
	k.crosses, k.roundedMM = own.Crosses, k.lengthMM
	if own.HasPitch {
		k.pitchMin = &own.PitchMM
	}
	if own.HasGap {
		k.pitchMax = &own.GapMM
	}
	if own.HasBendRadius {
		k.bendMM = &own.RadiusMM
		k.roundedMM -= cableBendSaving(k.runs, own.RadiusMM)
	}
	for _, x := range laid {
		other := c.cables[x]
		if x == it || it.Face == "" || x.Face != it.Face || panelSide(x) != panelSide(it) || other.why != "" {
			continue
		}
		if d, ok := k.distance(other); ok {
			k.crosses = k.crosses || d <= geometry.SameMM
			if k.pitchMin == nil || d < *k.pitchMin {
				k.pitchMin, k.nearest = &d, x.ID
			}
		}
	}
}

// distance is the least distance in mm between the axes of two cables of one face.
func (k *cable) distance(other *cable) (mm float64, ok bool) {
	mm = math.Inf(1)
	for _, a := range k.runs {
		for _, b := range other.runs {
			if d, err := geometry.PolylinePolyline(a, b); err == nil && d < mm {
				mm, ok = d, true
			}
		}
	}
	return mm, ok
}

// cableBendSaving is the length in mm that rounding saves when every corner is
// rounded at the given radius: Σ (2R·tan(φ/2) − R·φ).
func cableBendSaving(runs geometry.Runs, radiusMM float64) (mm float64) {
	for _, run := range runs {
		line := run.Dedupe()
		for i := 2; i < len(line); i++ {
			a, b, d := line[i-2], line[i-1], line[i]
			u, v := geometry.Point{X: b.X - a.X, Y: b.Y - a.Y}, geometry.Point{X: d.X - b.X, Y: d.Y - b.Y}
			turn := math.Abs(math.Atan2(u.X*v.Y-u.Y*v.X, u.X*v.X+u.Y*v.Y)) * 180 / math.Pi
			// A corner that folds back has no fillet; it is found as a crossing.
			if _, _, saved, err := geometry.FilletSaving(radiusMM, turn); err == nil && turn < 179 {
				mm += saved
			}
		}
	}
	return mm
}
