package rulebook

import (
	"io/fs"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/calc/geometry"
	"wetrule/lint/jobfile"
	"wetrule/policies"
)

// FuzzOpenZones reads arbitrary bytes as a file of zones: it never panics, a refusal is told as problems of that file, and what is accepted gives
// a point no zone or one of its own, and finite outlines.
func FuzzOpenZones(f *testing.F) {
	core, _ := policies.Book("core")
	data, err := fs.ReadFile(core, "zones.yaml")
	require.NoError(f, err)
	f.Add(data)
	const head = "zones:\n  - {id: a, for: shower, title: A, barriers: true, source: {id: as-nzs-3000, basis: read}, zones: "
	for _, s := range []string{`[{zone: "1", solids: [{round: outlet, reach_mm: 1200, to_mm: 2500}]}]}`, `[{zone: "0", solids: [{round: outlet, reach_mm: 0, from_mm: 0, to_mm: 0, above: rim, or_outlet: true}]}, {zone: "1", solids: [{round: basin, reach_mm: 1e9}]}]}`,
		`[{zone: "1", solids: [{round: room, to_mm: -5, from_mm: -9}]}]}`} {
		f.Add([]byte(head + s))
	}
	outlet, rim := geometry.Point3{X: 100, Y: 50, Z: 2100}, 500.0
	plan := geometry.Polygon{{X: -1700, Y: 0}, {X: 0, Y: 0}, {X: 0, Y: -750}, {X: -1700, Y: -750}}
	centres := []geometry.ZoneCentre{{}, {Outlet: &outlet}, {Outlet: &outlet, Basin: ptr(true), Plan: plan, RimMM: &rim}, {Plan: plan}, {Outlet: &outlet, Basin: ptr(false)}}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) == 0 {
			return // a rulebook need not have zones
		}
		b, err := Open(bookOf(string(data)), "house")
		if err != nil {
			var ps jobfile.Problems
			require.ErrorAs(t, err, &ps)
			for _, p := range ps {
				require.Equal(t, "house/zones.yaml", p.File)
				require.NotEmpty(t, p.Message)
			}
			return
		}
		for _, g := range ZoneGeometry(LayZones([]*Rulebook{b})) {
			require.NoError(t, g.Check())
			for _, c := range centres {
				for _, p := range []geometry.Point3{{}, {X: 600, Z: 1000}, {X: -900, Y: -300, Z: 100}, {X: 1e6, Y: -1e6, Z: 1e6}} {
					name, known := g.At(nil, c, [][2]geometry.Point3{{p, {X: p.X + 10, Y: p.Y, Z: p.Z}}})
					require.True(t, name == "" || known && g.Rank(name) >= 0, "%q is none of its zones", name)
					if mm, ok := g.TopMM(name, p.Z); ok {
						require.False(t, math.IsNaN(mm))
					}
				}
			}
		}
	})
}
