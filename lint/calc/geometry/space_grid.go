package geometry

import (
	"math"
	"slices"
)

// Grid finds boxes that are near to each other without comparing all with all:
// each box stands in the cells of a grid that it reaches into. Few boxes are looked through one by one, which is
// quicker, so the cells are filled when a search first needs them. A Grid is for one goroutine.
type Grid struct {
	cell   float64
	boxes  []Box3
	cells  map[[3]int32][]int32
	wide   []int32 // boxes over so many cells that they are looked at every time
	filled int     // how many boxes stand in the cells or are wide
}

const (
	wideCells = 256
	gridLimit = 1 << 30
	// cellCost is how many boxes are looked at in the time that it takes to look up a cell.
	cellCost = 6
)

// NewGrid makes a grid with cells of a size in mm; about the distance that is asked for serves best.
func NewGrid(cellMM float64) (*Grid, error) {
	if err := checkWidth(cellMM); err != nil {
		return nil, err
	}
	return &Grid{cell: cellMM}, nil
}

// Add puts a box in and returns its number, counted from 0.
func (g *Grid) Add(b Box3) (int, error) {
	if !b.Min.finite() || !b.Max.finite() {
		return 0, ErrNotFinite
	}
	if b.Min.X > b.Max.X || b.Min.Y > b.Max.Y || b.Min.Z > b.Max.Z {
		return 0, ErrRect
	}
	g.boxes = append(g.boxes, b)
	return len(g.boxes) - 1, nil
}

// fill puts the boxes that were added into the cells.
func (g *Grid) fill() {
	if g.cells == nil {
		g.cells = map[[3]int32][]int32{}
	}
	for ; g.filled < len(g.boxes); g.filled++ {
		i := int32(g.filled)
		if lo, hi, cells := g.span(g.boxes[i], 0); cells <= wideCells {
			each(lo, hi, func(k [3]int32) { g.cells[k] = append(g.cells[k], i) })
		} else {
			g.wide = append(g.wide, i)
		}
	}
}

// Near returns the numbers of the boxes within reachMM of a box, in ascending order.
func (g *Grid) Near(b Box3, reachMM float64) []int { return g.AppendNear(nil, b, reachMM) }

// AppendNear appends what Near returns to out.
func (g *Grid) AppendNear(out []int, b Box3, reachMM float64) []int {
	if len(g.boxes) < 2*cellCost {
		return g.appendOfAll(out, &b, reachMM)
	}
	lo, hi, cells := g.span(b, reachMM+SameMM)
	if cells > wideCells || cells*cellCost > float64(len(g.boxes)) {
		return g.appendOfAll(out, &b, reachMM)
	}
	g.fill()
	from := len(out)
	try := func(i int32) {
		if g.boxes[i].Near(&b, reachMM) {
			out = append(out, int(i))
		}
	}
	each(lo, hi, func(k [3]int32) {
		for _, i := range g.cells[k] {
			try(i)
		}
	})
	for _, i := range g.wide {
		try(i)
	}
	found := out[from:]
	slices.Sort(found)
	return out[:from+len(slices.Compact(found))]
}

// appendOfAll looks through all boxes.
func (g *Grid) appendOfAll(out []int, b *Box3, reachMM float64) []int {
	for i := range g.boxes {
		if g.boxes[i].Near(b, reachMM) {
			out = append(out, i)
		}
	}
	return out
}

// span returns the cells that a box reaches into, and how many they are; infinitely many where they cannot be numbered.
func (g *Grid) span(b Box3, by float64) (lo, hi [3]int32, n float64) {
	n = 1
	for i, v := range [3][2]float64{{b.Min.X, b.Max.X}, {b.Min.Y, b.Max.Y}, {b.Min.Z, b.Max.Z}} {
		l, h := math.Floor((v[0]-by)/g.cell), math.Floor((v[1]+by)/g.cell)
		if !(l > -gridLimit && h < gridLimit) {
			return lo, hi, math.Inf(1)
		}
		n *= h - l + 1
		lo[i], hi[i] = int32(l), int32(h)
	}
	return lo, hi, n
}

func each(lo, hi [3]int32, f func([3]int32)) {
	for x := lo[0]; x <= hi[0]; x++ {
		for y := lo[1]; y <= hi[1]; y++ {
			for z := lo[2]; z <= hi[2]; z++ {
				f([3]int32{x, y, z})
			}
		}
	}
}

// Near says whether two boxes lie within a distance of each other. Most boxes of a room are farther away in one direction already.
func (b *Box3) Near(a *Box3, reachMM float64) bool {
	if a.Min.X-b.Max.X > reachMM || b.Min.X-a.Max.X > reachMM || a.Min.Y-b.Max.Y > reachMM || b.Min.Y-a.Max.Y > reachMM ||
		a.Min.Z-b.Max.Z > reachMM || b.Min.Z-a.Max.Z > reachMM {
		return false
	}
	return boxDistance(a, b) <= reachMM
}

func boxDistance(a, b *Box3) float64 {
	x := max(a.Min.X-b.Max.X, b.Min.X-a.Max.X, 0)
	y := max(a.Min.Y-b.Max.Y, b.Min.Y-a.Max.Y, 0)
	z := max(a.Min.Z-b.Max.Z, b.Min.Z-a.Max.Z, 0)
	return math.Sqrt(x*x + y*y + z*z)
}

// BoxOf returns the box round points; of none it is an error.
func BoxOf(ps ...Point3) (Box3, error) {
	if len(ps) == 0 {
		return Box3{}, ErrTooFewPoints
	}
	b := Box3{ps[0], ps[0]}
	for _, p := range ps {
		if !p.finite() {
			return Box3{}, ErrNotFinite
		}
		b.Min = Point3{min(b.Min.X, p.X), min(b.Min.Y, p.Y), min(b.Min.Z, p.Z)}
		b.Max = Point3{max(b.Max.X, p.X), max(b.Max.Y, p.Y), max(b.Max.Z, p.Z)}
	}
	return b, nil
}
