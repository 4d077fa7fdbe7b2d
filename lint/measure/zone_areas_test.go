package measure

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wetrule/lint/calc/geometry"
)

// A tray-less shower 1500 mm from a corner, its outlet 2000 mm up, in a room of 3 m × 4 m: zone 1 has a radius of 1200 mm and
// reaches from 100 to 2250 mm (IEC 60364-7-701:2006, 701.30.3).
func TestZoneAreas(t *testing.T) {
	grid := newZoneGrid(0, 0, 3010, 2400, func(x, y float64) string {
		switch d := x - 1500; {
		case d < -1200 || d > 1200 || y > 2250:
			return ""
		case y <= 100:
			return "0"
		}
		return "1"
	})
	rings := grid.rings("1")
	require.Len(t, rings, 1)
	box := rings[0]
	require.Len(t, box, 4)
	assert.InDelta(t, 2400*2150, zoneRingArea(box)/2, 600)
	for _, p := range box {
		assert.Contains(t, []float64{300, 2700}, geometry.RoundMM(p.X))
		assert.InDelta(t, 0, min(abs(p.Y-100), abs(p.Y-2250)), 0.1)
	}

	// A round zone cut by a wall, found to a fraction of the cells.
	grid = newZoneGrid(0, 0, 3000, 3000, func(x, y float64) string {
		if (x-1500)*(x-1500)+y*y <= 1200*1200 {
			return "1"
		}
		return ""
	})
	rings = grid.rings("1")
	require.Len(t, rings, 1)
	for _, p := range rings[0] {
		r := (p.X-1500)*(p.X-1500) + p.Y*p.Y
		if p.Y > 1 {
			assert.InDelta(t, 1200*1200, r, 3*1200)
		}
	}
	assert.InDelta(t, 3.14159265/2*1200*1200, zoneRingArea(rings[0])/2, 12000)

	// A zone round another: the ring of the hole is left to the zone in it. Two that touch at a corner stay two.
	grid = newZoneGrid(0, 0, 500, 500, func(x, y float64) string {
		if x > 100 && x < 200 && y > 100 && y < 200 {
			return "0"
		}
		if x < 300 && y < 300 || x > 300 && y > 300 {
			return "1"
		}
		return ""
	})
	assert.Len(t, grid.rings("1"), 2)
	assert.Len(t, grid.rings("0"), 1)
	assert.Empty(t, grid.rings("2"))
}

func abs(v float64) float64 { return max(v, -v) }
