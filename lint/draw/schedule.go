package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
)

// usualSaws are the diameters of hole saws that the trade commonly sells, in mm.
//
// Source: trade series, inch sizes rounded (memory); BS 8416:2002 Table 1 has a series of its own, which was not seen.
var usualSaws = []float64{14, 16, 17, 19, 20, 21, 22, 24, 25, 27, 29, 30, 32, 35, 37, 38, 40, 41, 43, 44, 46, 48, 51, 52, 54, 56, 57, 59, 60, 64, 65, 67, 68, 70, 73, 76, 79, 83, 86, 89, 92, 95, 98, 102, 105, 108, 111, 114, 121, 127}

const (
	bitMaxMM   = 16  // a larger hole is cut with a hole saw (common practice)
	sawMaxMM   = 127 // a larger hole is cut round a template (common practice)
	allowMM    = 1.5 // how much wider than wanted a listed tool may be: the run-out of a saw in foam (common practice, from memory)
	sameToolMM = 1e-6
)

// toolFor names the tool for a hole of a diameter: a listed tool of that diameter or up to 1.5 mm more, else the smallest usual one
// that is wide enough, with the surplus.
func toolFor(d *float64, tools *jobfile.Tools) string {
	if d == nil {
		return "–"
	}
	var listed []float64
	given := false
	word := "hole saw "
	if *d <= bitMaxMM {
		word = "bit "
		if tools != nil {
			listed, given = tools.BitsMM, tools.BitsMM != nil
		}
	} else if tools != nil {
		listed, given = tools.HoleSawsMM, tools.HoleSawsMM != nil
	}
	name := func(size float64) string {
		s := word + measure.FormatNumber(size)
		if over := size - *d; over > sameToolMM {
			s += " (+" + measure.FormatNumber(over) + ")"
		}
		return s
	}
	if size := smallest(listed, *d); size-*d <= allowMM {
		return name(size)
	}
	if given {
		word = "not listed: " + word
	}
	switch {
	case *d > sawMaxMM:
		return "template, knife or router"
	case *d <= bitMaxMM:
		return name(*d)
	}
	return name(smallest(usualSaws, *d))
}

// smallest returns the smallest size that is wide enough, +Inf when there is none.
func smallest(sizes []float64, d float64) float64 {
	best := math.Inf(1)
	for _, s := range sizes {
		if s >= d-sameToolMM && s < best {
			best = s
		}
	}
	return best
}

// schedule puts the holes of a face in reading order as they lie on the sheet, from the top row down and each row from left to
// right, and numbers them. Holes without a place come last, in the order of the job.
func (d *Drawer) schedule(fh *faceHoles) {
	up := -1.0
	if fh.face != nil && fh.face.Kind == measure.FloorFace {
		up = 1
	}
	slices.SortStableFunc(fh.holes, func(a, b *measure.Hole) int {
		switch pa, pb := a.Placed(), b.Placed(); {
		case pa != pb && pa:
			return -1
		case pa != pb:
			return 1
		case !pa:
			return 0
		}
		return cmp.Or(cmp.Compare(up**a.Y, up**b.Y), cmp.Compare(*a.X, *b.X))
	})
	fh.marks = make(map[string]string, len(fh.holes))
	fh.rows = make([]HoleRow, len(fh.holes))
	for i, h := range fh.holes {
		mark := fmt.Sprintf("%s%d", fh.letter, i+1)
		fh.marks[h.ID] = mark
		row := HoleRow{Mark: mark, What: what(h), X: h.X, Y: h.Y, D: h.D, Tool: toolFor(h.D, d.job.Tools), Item: h.Item.ID, Hole: h.ID, Drawn: fh.face != nil && h.Placed()}
		switch {
		case h.Sort == measure.InsertHole:
			row.Depth = h.Insert.DepthMM
		case h.Item.Kind == "spotlight" || h.Item.Kind == "accessory":
			// The opening goes into the panel or through it; a spotlight says how much room it needs behind the face.
			row.Depth = h.Item.DepthMM
		default:
			row.Through = true
			if fh.face != nil && fh.face.Panel != nil {
				row.Depth = fh.face.Panel.ThicknessMM
			}
		}
		fh.rows[i] = row
	}
}

// what says in words what a hole is for.
func what(h *measure.Hole) string {
	id := clean(h.Item.ID, 40)
	_, part, _ := strings.Cut(h.ID, h.Item.ID+".")
	switch h.Sort {
	case measure.InsertHole:
		return "insert " + strings.TrimPrefix(part, "insert_") + " of " + id
	case measure.PointHole:
		return "fibre end " + strings.TrimPrefix(part, "point_") + " of " + id
	}
	kind := clean(measure.Words(h.Item.Kind), 40)
	switch {
	case h.Item.Flow != "":
		kind = clean(measure.Words(h.Item.Flow), 20) + " outlet"
	case h.Item.Role != "":
		kind = clean(measure.Words(h.Item.Role), 40)
	}
	if kind == id {
		return id
	}
	return kind + " " + id
}

// toolNotes says what the tools of the job mean for the holes of a face.
func (d *Drawer) toolNotes(fh *faceHoles) (out []string) {
	t := d.job.Tools
	if t == nil || t.SawReachMM == nil {
		return nil
	}
	for i := range fh.rows {
		r := &fh.rows[i]
		if r.D != nil && *r.D > bitMaxMM && *r.D <= sawMaxMM && r.Depth != nil && *r.Depth > *t.SawReachMM {
			return []string{fmt.Sprintf("The deepest hole saw cuts %s mm: cut deeper holes through from the back, or finish them by hand saw.", measure.FormatNumber(*t.SawReachMM))}
		}
	}
	return nil
}
