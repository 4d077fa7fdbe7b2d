package measure

import (
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

func lightsSteam(x, y *float64) jobfile.Item {
	return jobfile.Item{ID: "steam", Kind: "steam_outlet", Face: "west", XMM: x, YMM: y}
}

func TestLightsSteamDistance(t *testing.T) {
	const name = "steam_outlet_distance_mm"
	here := lightsSteam(ventP(300), ventP(250))
	fibres := func(face string, at ...[2]float64) jobfile.Item {
		return jobfile.Item{ID: "light", Kind: "fibre_lights", Face: face, Points: at}
	}
	strip := func(face string, at ...[2]float64) jobfile.Item {
		return jobfile.Item{ID: "light", Kind: "led_strip", Face: face, Path: at}
	}
	for i, c := range []struct {
		light jobfile.Item
		steam []jobfile.Item
		want  Value
	}{
		{fibres("west", [2]float64{1500, 1000}, [2]float64{300, 750}), []jobfile.Item{here}, number(500)},
		// fibre ends are single points: what lies between two of them is no fibre end
		{fibres("west", [2]float64{0, 650}, [2]float64{600, 650}), []jobfile.Item{here}, number(500)},
		// a strip has every point between
		{strip("west", [2]float64{0, 650}, [2]float64{600, 650}), []jobfile.Item{here}, number(400)},
		{strip("west", [2]float64{1000, 1000}, [2]float64{1000, 650}, [2]float64{600, 650}), []jobfile.Item{here}, number(500)},
		// across the corner of south and west: 400 along the south wall, 300 along the west wall
		{strip("south", [2]float64{100, 250}, [2]float64{2000, 250}), []jobfile.Item{here}, number(500)},
		{fibres("south", [2]float64{2000, 1450}), []jobfile.Item{here}, number(1300)},
		{ventItem("light", "spotlight", "west", 600, 650), []jobfile.Item{here}, number(500)},
		{ventItem("light", "spotlight", "west", 600, 650), nil, none()},
		{fibres("west", [2]float64{1500, 1000}), nil, none()},
		{fibres("west"), []jobfile.Item{here}, unknown()},
		{strip("west"), []jobfile.Item{here}, unknown()},
		{strip("", [2]float64{0, 650}, [2]float64{600, 650}), []jobfile.Item{here}, unknown()},
		{jobfile.Item{ID: "light", Kind: "spotlight", Face: "west", XMM: ventP(1)}, []jobfile.Item{here}, unknown()},
		{fibres("west", [2]float64{1500, 1000}), []jobfile.Item{here, lightsSteam(nil, ventP(250))}, unknown()},
	} {
		got := ventTake(t, ventRoom(append(c.steam, c.light)...), c.light.Kind, "light", name)
		require.True(t, c.want.Same(got), "case %d: %+v", i, got)
	}
}

func TestLightsIlluminator(t *testing.T) {
	for i, c := range []struct {
		named string
		other jobfile.Item
		want  Value
	}{
		{"box", jobfile.Item{ID: "box", Kind: "light_source", Role: "illuminator"}, text("illuminator")},
		{"box", jobfile.Item{ID: "box", Kind: "light_source", Role: "driver"}, text("driver")},
		{"box", jobfile.Item{ID: "box", Kind: "light_source"}, unknown()},
		{"box", jobfile.Item{ID: "box", Kind: "spotlight"}, text("no_light_source")},
		{"", jobfile.Item{ID: "box", Kind: "light_source", Role: "illuminator"}, unknown()},
		{"lost", jobfile.Item{ID: "box", Kind: "light_source", Role: "illuminator"}, unknown()},
	} {
		job := ventRoom(jobfile.Item{ID: "stars", Kind: "fibre_lights", Illuminator: c.named}, c.other)
		got := ventTake(t, job, "fibre_lights", "stars", "illuminator_role")
		require.True(t, c.want.Same(got), "case %d: %+v", i, got)
		if got.State == Known {
			require.Contains(t, kinds["fibre_lights"].Def("illuminator_role").Values, got.Text())
		}
	}
}

func TestLightsBendRadius(t *testing.T) {
	for _, c := range []struct{ fibre, want float64 }{{0.75, 7.5}, {1, 10}, {2.2, 22}, {3, 30}} {
		job := ventRoom(jobfile.Item{ID: "stars", Kind: "fibre_lights", FibreDiameterMM: &c.fibre})
		require.Equal(t, number(c.want), ventTake(t, job, "fibre_lights", "stars", "bend_radius_needed_mm"))
	}
}

func TestLightsCut(t *testing.T) {
	yesP, noP := new(true), new(false)
	for i, c := range []struct {
		cut, fact *bool
		want      Value
	}{
		{yesP, yesP, yes(true)},
		{yesP, noP, yes(false)},
		{yesP, nil, unknown()},
		{noP, nil, none()},
		{noP, noP, none()},
		{nil, yesP, unknown()},
	} {
		job := ventRoom(jobfile.Item{ID: "strip", Kind: "led_strip", Cut: c.cut, CutMarks: c.fact, CutEndSealed: c.fact})
		require.Equal(t, c.want, ventTake(t, job, "led_strip", "strip", "cut_at_marks"), "case %d", i)
		require.Equal(t, c.want, ventTake(t, job, "led_strip", "strip", "cut_end_sealed"), "case %d", i)
	}
}

func TestLightsRemainder(t *testing.T) {
	for i, c := range []struct {
		face       string
		own, depth *float64
		want       Value
	}{
		{"north", nil, ventP(40), number(10)},
		{"north", nil, ventP(60), number(-10)}, // deeper than the panel
		{"north", ventP(80), ventP(70), number(10)},
		{"north", nil, nil, unknown()},
		{"", nil, ventP(40), unknown()},
	} {
		job := ventRoom(jobfile.Item{ID: "spot", Kind: "spotlight", Face: c.face, DepthMM: c.depth})
		if c.own != nil {
			job.Room.Walls[0].Panel = &jobfile.Panel{ThicknessMM: c.own}
		}
		got := ventTake(t, job, "spotlight", "spot", "panel_remainder_mm")
		require.True(t, c.want.Same(got), "case %d: %+v", i, got)
	}
	job := ventRoom(jobfile.Item{ID: "spot", Kind: "spotlight", Face: "north", DepthMM: ventP(40)})
	job.Panel = nil
	require.Equal(t, Unknown, ventTake(t, job, "spotlight", "spot", "panel_remainder_mm").State)
}
