package lint

import (
	"context"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/verdict"
)

// routed loads a demo job with changes (old, new, old, new ...) and proposes a route.
func routed(t *testing.T, cable string, changes ...string) (data, text string, err error) {
	t.Helper()
	raw, err := os.ReadFile("../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	data = string(raw)
	for i := 0; i < len(changes); i += 2 {
		require.Contains(t, data, changes[i])
		data = strings.Replace(data, changes[i], changes[i+1], 1)
	}
	f, err := jobfile.Load("job.yaml", []byte(data))
	require.NoError(t, err)
	text, err = ProposeRoute(f, cable)
	return data, text, err
}

var (
	runsInJob  = regexp.MustCompile(`(?m)^    runs: .*$`)
	runsInText = regexp.MustCompile(`(?m)^runs: .*$`)
)

// pasted reviews the job with the proposed runs in place of its own.
func pasted(t *testing.T, data, text string) *verdict.Review {
	t.Helper()
	runs := runsInText.FindString(text)
	require.NotEmpty(t, runs, text)
	require.Regexp(t, runsInJob, data)
	data = runsInJob.ReplaceAllLiteralString(data, "    "+runs)
	r, err := core(t).Review(context.Background(), "job.yaml", []byte(data))
	require.NoError(t, err)
	require.Empty(t, r.Problems)
	return r
}

// heating lists the findings of the heating and the inserts.
func heating(r *verdict.Review) (out []string) {
	for _, v := range r.Findings() {
		if strings.HasPrefix(v.Rule.ID, "heating-") || v.Rule.ID == "insert-cable-web" {
			out = append(out, v.Rule.ID+" "+v.Rule.Def.Format(*v.Value))
		}
	}
	return out
}

// TestProposedRouteOfTheDemo: 10 m less 0.64 m on 2200 × 500 mm. 60 mm to the axis leave 2080 × 380 mm; four rows at 120 mm take
// 4·2080 + 360 − 6·60·0.4292 = 8525 mm at most, so there are five, 380/4 = 95 mm apart, and 10616.9 − 9360 = 1256.9 is shared out: 125 mm off each
// end of each row, and 7 mm off the last.
func TestProposedRouteOfTheDemo(t *testing.T) {
	data, text, err := routed(t, "heat")
	require.NoError(t, err)
	require.Equal(t, `# heat on bench.seat: 5 rows along x, pitch 95 mm, bends of 47.5 mm.
# Length 9.36 m with rounded bends, 9.523 m with sharp corners; supplied 10 m less a surplus of 0.64 m.
# It heats about 81 % of the face.
# Kept: pitch 60 to 120 mm (heating-pitch-min, heating-pitch-max).
# Kept: bends no tighter than 40 mm, by the maker.
# Kept: foam beside the groove: 50 mm to the edge (common practice, from memory), 20 mm to holes (insert-cable-web).
# The sensor heat_sensor lies between two runs.
runs: [[[185, 60], [2015, 60], [2015, 155], [185, 155], [185, 250], [2015, 250], [2015, 345], [185, 345], [185, 440], [2008, 440]]]
`, text)
	require.Empty(t, heating(pasted(t, data, text)))
}

// TestProposedRoutesPassTheReview pastes proposals into the job and sees that no rule on heating objects.
func TestProposedRoutesPassTheReview(t *testing.T) {
	for name, changes := range map[string][]string{
		"longer":       {"supplied_length_m: 10\n", "supplied_length_m: 11\n", "resistance_ohm: 529\n    bend", "resistance_ohm: 480.9\n    bend"},
		"wide groove":  {"groove_width_mm: 20\n", "groove_width_mm: 22\n"},
		"strong cable": {"watts_per_m: 10\n", "watts_per_m: 17\n", "resistance_ohm: 529\n    bend", "resistance_ohm: 311\n    bend"},
		"insert beside": {"  - id: shelf\n", "  - {id: rail, kind: fixing, instructions_on_site: true, face: bench.seat, equipment: rail, inserts: [{x_mm: 1900, y_mm: 250, diameter_mm: 19, depth_mm: 30}], adhesive: polyurethane, profile_length_mm: 100, bracket_length_mm: 90, load_kg: 2, reach_mm: 50, screw_hole_sealed: true}\n  - id: shelf\n",
			"surplus_length_m: 0.64", "surplus_length_m: 2.5"},
	} {
		t.Run(name, func(t *testing.T) {
			data, text, err := routed(t, "heat", changes...)
			require.NoError(t, err)
			var mine []string
			for _, f := range heating(pasted(t, data, text)) {
				// The density of a strong cable and what hangs on the reading of the reel are not the route's.
				if !strings.HasPrefix(f, "heating-resistance") && !strings.HasPrefix(f, "heating-sensor") {
					mine = append(mine, f)
				}
			}
			require.Empty(t, mine, text)
		})
	}
}

// TestProposedRouteOnTheFloor keeps off the drain and the bench.
func TestProposedRouteOnTheFloor(t *testing.T) {
	_, text, err := routed(t, "heat", "face: bench.seat\n    runs", "face: floor\n    runs", "face: bench.seat, x_mm: 1100", "face: floor, x_mm: 1100")
	require.NoError(t, err)
	require.Contains(t, text, "# heat on floor: ")
	require.Contains(t, text, "The sensor heat_sensor does not lie midway between two runs; x_mm: ")
}

func TestWhyNoRouteIsProposed(t *testing.T) {
	for _, c := range []struct {
		changes []string
		cable   string
		want    string
	}{
		{nil, "heet", `there is no heating cable "heet"; did you mean "heat"?`},
		{[]string{"kind: heating_cable", "kind: led_strip"}, "heat", "the job has no heating cable"},
		{[]string{"supplied_length_m: 10\n", "supplied_length_m: 40\n"}, "heat", "no route for heat on bench.seat: the cable is too long for the area by 27.913 m: at a pitch of no less than 80 mm the area takes 11.447 m of the 39.36 m"},
		{[]string{"    supplied_length_m: 10\n", ""}, "heat", "supplied_length_m of heat is not given; a route cannot be proposed without it"},
		{[]string{"    groove_width_mm: 20\n", ""}, "heat", "groove_width_mm of heat is not given; a route cannot be proposed without it"},
		{[]string{"    cable_od_mm: 6\n", "", "    bend_radius_min_mm: 40\n", ""}, "heat", "bend_radius_min_mm of heat is not given; a route cannot be proposed without it"},
		{[]string{"bend_radius_min_mm: 40", "bend_radius_min_mm: 70"}, "heat", "no route for heat on bench.seat: the bend radius forbids the pitch: a turn of radius 70 mm takes a pitch of 140 mm, and the widest is 120 mm"},
		{[]string{"depth_mm: 500, height_mm", "height_mm"}, "heat", "the size of bench.seat is not given; a route cannot be proposed without it"},
		{[]string{"surplus_length_m: 0.64", "surplus_length_m: 10"}, "heat", "the surplus of heat is as long as the cable"},
		{[]string{"    watts_per_m: 10\n", ""}, "heat", "watts_per_m of heat is not given; a route cannot be proposed without it"},
		{[]string{"face: right, x_mm: 900, y_mm: 1600", "face: bench.seat"}, "heat", "air_sensor is on bench.seat too, and the job does not give its place; a route past it cannot be proposed"},
	} {
		changes := c.changes
		if len(changes) > 0 && changes[1] == "kind: led_strip" {
			// An item of another kind has other fields: leave the cable and its sensor out altogether.
			raw, err := os.ReadFile("../fixtures/demo/clean.yaml")
			require.NoError(t, err)
			text := string(raw)
			i, j := strings.Index(text, "  - id: heat\n"), strings.Index(text, "  - {id: air_sensor")
			f := jobWithout(t, text[:i]+text[j:])
			_, err = ProposeRoute(f, c.cable)
			require.EqualError(t, err, c.want)
			continue
		}
		_, _, err := routed(t, c.cable, changes...)
		require.EqualError(t, err, c.want)
	}
}

// jobWithout loads a job from which the heating has been cut, with what refers to it.
func jobWithout(t *testing.T, text string) *jobfile.File {
	t.Helper()
	var lines []string
	for _, l := range strings.Split(text, "\n") {
		if !strings.Contains(l, "items: [heat]") && !strings.Contains(l, "item: heat,") {
			lines = append(lines, l)
		}
	}
	f, err := jobfile.Load("job.yaml", []byte(strings.Replace(strings.Join(lines, "\n"), "records:\n", "records: []\n", 1)))
	require.NoError(t, err)
	return f
}
