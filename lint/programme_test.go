package lint

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
	"wetrule/lint/jobfile/jobtest"
	"wetrule/lint/measure"
	"wetrule/lint/programme"
	"wetrule/lint/report"
	"wetrule/lint/verdict"
	"wetrule/schema"
)

// siteJob is the demo with a section programme and tasks of its own, both as YAML; without tasks the methods of work make them.
func siteJob(t require.TestingT, section, tasks string, edits ...string) *jobfile.File {
	data, err := os.ReadFile("../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	text := string(data)
	i, j := strings.Index(text, "tasks: #"), strings.Index(text, "tools:")
	require.True(t, 0 < i && i < j)
	text = text[:i] + "programme: {" + section + "}\n" + text[j:]
	if tasks != "" {
		text += "tasks:\n" + tasks
	}
	for k := 0; k+1 < len(edits); k += 2 {
		require.Contains(t, text, edits[k])
		text = strings.Replace(text, edits[k], edits[k+1], 1)
	}
	f, err := jobfile.Load("room.yaml", []byte(text))
	require.NoError(t, err)
	return f
}

var plainLinter = sync.OnceValues(func() (*Linter, error) { return New(Options{}) })

func programmeOf(t require.TestingT, o Options, f *jobfile.File, start string) *programme.Programme {
	l, err := plainLinter()
	if o.Rulebooks != nil || o.Only != nil || o.Without != nil {
		l, err = New(o)
	}
	require.NoError(t, err)
	p, err := l.Programme(f, start)
	require.NoError(t, err)
	sound(t, p)
	return p
}

// sound holds what is so of every programme.
func sound(t require.TestingT, p *programme.Programme) {
	whole := len(p.Stops) == 0
	for i := range p.Tasks {
		k := &p.Tasks[i]
		if !k.Dated {
			require.True(t, k.EarlyStart.IsZero() && k.EarlyFinish.IsZero() && !k.Critical, k.ID)
			continue
		}
		require.False(t, k.EarlyFinish.Before(k.EarlyStart), k.ID)
		require.False(t, k.EarlyFinish.After(p.End), k.ID)
		require.NotEmpty(t, k.Why, k.ID)
		if k.State == programme.ToDo {
			require.False(t, k.EarlyStart.Before(p.AsOf), "%s lies in the past", k.ID)
			require.GreaterOrEqual(t, k.TotalFloat, k.FreeFloat, k.ID)
			require.Equal(t, k.TotalFloat <= 0, k.Critical, "%s %s", k.ID, k.TotalFloat)
			if k.Stands == 0 && k.Minutes > 0 {
				at, err := p.Calendar.Next(k.EarlyStart)
				require.NoError(t, err)
				require.True(t, at.Equal(k.EarlyStart), "%s begins outside of the working hours", k.ID)
			}
		}
		if !p.Recorded {
			require.GreaterOrEqual(t, k.TotalFloat, time.Duration(0), k.ID)
			require.GreaterOrEqual(t, k.FreeFloat, time.Duration(0), k.ID)
		}
	}
	if len(p.Missing) == 0 && whole {
		require.True(t, p.Whole)
	} else {
		require.False(t, p.Whole)
	}
	for i := range p.Links {
		l := &p.Links[i]
		a, b := &p.Tasks[l.From], &p.Tasks[l.To]
		if b.State == programme.ToDo && l.Resource == "" && a.Dated && b.Dated && l.Kind.String() == "FS" && l.Elapsed {
			require.False(t, b.EarlyStart.Before(a.EarlyFinish.Add(l.Lag)), "%s → %s", a.ID, b.ID)
		}
	}
}

func taskNamed(t require.TestingT, p *programme.Programme, id string) *programme.Task {
	i := slices.IndexFunc(p.Tasks, func(k programme.Task) bool { return k.ID == id })
	require.GreaterOrEqual(t, i, 0, id)
	return &p.Tasks[i]
}

func written(t require.TestingT, p *programme.Programme, format string) string {
	var b bytes.Buffer
	require.NoError(t, report.Programme(&b, format, p, report.Options{Version: "golden"}))
	if format == "json" {
		s, err := jobfile.Compile(map[string][]byte{"programme.schema.json": schema.Bytes("programme.schema.json")}, "programme.schema.json")
		require.NoError(t, err)
		node, err := jobfile.Read("out.json", b.Bytes())
		require.NoError(t, err)
		require.NoError(t, s.Validate("out.json", node))
	}
	return b.String()
}

// TestGoldenProgramme keeps the programme of the demo, by its plan and made by the methods of work alone.
func TestGoldenProgramme(t *testing.T) {
	data, err := os.ReadFile("../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	clean, err := jobfile.Load("fixtures/demo/clean.yaml", data)
	require.NoError(t, err)
	bare := siteJob(t, "start: 2026-03-02, site_temperature_c: 15, site_humidity_percent: 60", "")
	for name, p := range map[string]*programme.Programme{"clean": programmeOf(t, Options{}, clean, ""), "bare": programmeOf(t, Options{}, bare, "")} {
		for _, format := range report.ProgrammeFormats() {
			ext := format
			if format == "text" {
				ext = "txt"
			}
			once := written(t, p, format)
			require.Equal(t, once, written(t, p, format), format)
			golden(t, "programme/"+name+"."+ext, []byte(once))
			if format == "text" {
				for _, line := range strings.Split(once, "\n") {
					require.LessOrEqual(t, utf8.RuneCountInString(line), 100, line)
				}
			}
		}
	}
}

// TestExampleOfProgrammeIsValid holds the example in the schema against the schema.
func TestExampleOfProgrammeIsValid(t *testing.T) {
	var s struct{ Examples []json.RawMessage }
	require.NoError(t, json.Unmarshal(schema.Bytes("programme.schema.json"), &s))
	c, err := jobfile.Compile(map[string][]byte{"programme.schema.json": schema.Bytes("programme.schema.json")}, "programme.schema.json")
	require.NoError(t, err)
	require.Len(t, s.Examples, 1)
	node, err := jobfile.Read("example", s.Examples[0])
	require.NoError(t, err)
	require.NoError(t, c.Validate("example", node))
}

// TestDemoIsPlannedInOrder sees that the planned times of the demo agree with the order and the waits that are generated: the forecast moves nothing that is to do.
func TestDemoIsPlannedInOrder(t *testing.T) {
	data, err := os.ReadFile("../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	f, err := jobfile.Load("clean.yaml", data)
	require.NoError(t, err)
	p := programmeOf(t, Options{}, f, "")
	tied := 0
	for i := range p.Links {
		l := &p.Links[i]
		a, b := &p.Tasks[l.From], &p.Tasks[l.To]
		if l.Resource == "" && l.Kind.String() == "FS" && !a.Planned.Finish.IsZero() && !b.Planned.Start.IsZero() {
			tied++
			require.False(t, b.Planned.Start.Before(a.Planned.Finish.Add(l.Lag)), "%s is planned before %s allows", b.ID, a.ID)
		}
	}
	require.Greater(t, tied, 30)
	for i := range p.Tasks {
		if k := &p.Tasks[i]; k.State == programme.ToDo && k.InJob >= 0 {
			require.True(t, k.EarlyStart.Equal(k.Planned.Start), k.ID)
			require.True(t, k.EarlyFinish.Equal(k.Planned.Finish), "%s ends %s, planned %s", k.ID, k.EarlyFinish, k.Planned.Finish)
		}
	}
	require.Equal(t, "2026-04-20T08:00:00+01:00", p.FirstSteam.Format(time.RFC3339))
}

// asTasks writes the dates of a programme as planned tasks, with the facts of its weather.
func asTasks(p *programme.Programme, weather string) string {
	var b strings.Builder
	for i := range p.Tasks {
		k := &p.Tasks[i]
		fmt.Fprintf(&b, "  - {task: %s, planned: {start: %q, finish: %q}%s", k.Name, k.EarlyStart.Format(time.RFC3339), k.EarlyFinish.Format(time.RFC3339), weather)
		for what, list := range map[string][]string{"items": k.Items, "faces": k.Faces} {
			if len(list) > 0 {
				fmt.Fprintf(&b, ", %s: [%s]", what, strings.Join(list, ", "))
			}
		}
		b.WriteString("}\n")
	}
	return b.String()
}

// TestProgrammeKeepsTheRules plans by a programme and has the plan judged: no rule on the order of work, on waits or cures finds anything wrong with it.
func TestProgrammeKeepsTheRules(t *testing.T) {
	for name, c := range map[string]struct{ section, weather string }{
		"warm":      {"site_temperature_c: 23, site_humidity_percent: 50", ", site_temperature_c: 23, site_humidity_percent: 50"},
		"cold":      {"site_temperature_c: 9, site_humidity_percent: 70", ", site_temperature_c: 9, site_humidity_percent: 70"},
		"big crew":  {"site_temperature_c: 15, site_humidity_percent: 40, crew: {fitter: 9, tiler: 9}", ", site_temperature_c: 15, site_humidity_percent: 40"},
		"week ends": {"site_temperature_c: 15, site_humidity_percent: 40, shifts: [{days: [fr, sa, su], from: '06:00', to: '22:00'}]", ", site_temperature_c: 15, site_humidity_percent: 40"},
	} {
		p := programmeOf(t, Options{}, siteJob(t, c.section, ""), "")
		require.True(t, p.Whole, name)
		planned := siteJob(t, c.section, asTasks(p, c.weather+", cure_h: 24"))
		r, err := core(t).ReviewFile(context.Background(), planned)
		require.NoError(t, err)
		n := 0
		for i := range r.Verdicts {
			v := &r.Verdicts[i]
			wait := v.Rule.First != "" || v.Rule.Kind.Name == "cure" || v.Rule.ID == "heat-surface-ramp"
			if w, ok := measure.ParseWait(v.Rule.Measure); ok && w.Actual || !wait {
				continue
			}
			n++
			require.NotEqual(t, verdict.Nonconforming, v.Outcome, "%s: %s of %s: %s", name, v.Rule.ID, v.Subject.ID, v.Rule.Def.Format(*v.Value))
		}
		require.Greater(t, n, 60)
		// And the programme of that plan is that plan.
		again := programmeOf(t, Options{}, planned, "")
		for i := range again.Slips {
			t.Errorf("%s: %s", name, again.Slips[i].Text)
		}
		require.True(t, again.End.Equal(p.End), "%s: %s, %s", name, again.End, p.End)
	}
}

// TestColderIsNeverSooner sees that no task begins sooner on a colder site.
func TestColderIsNeverSooner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		warm := rapid.IntRange(5, 30).Draw(t, "warm")
		cold := rapid.IntRange(-5, warm).Draw(t, "cold")
		late := rapid.IntRange(5, 25).Draw(t, "later")
		day := rapid.IntRange(1, 28).Draw(t, "day")
		rh := rapid.IntRange(10, 95).Draw(t, "humidity")
		at := func(c int) *programme.Programme {
			return programmeOf(t, Options{}, siteJob(t, fmt.Sprintf("site_temperature_c: [{from: 2026-03-01, temperature_c: %d}, {from: 2026-03-%02d, temperature_c: %d}], site_humidity_percent: %d, crew: {plumber: 9}", c, day+1, min(late, c+30), rh), ""), "")
		}
		a, b := at(warm), at(cold)
		if late < warm && cold < warm { // the second stretch is the same for both
			require.Equal(t, len(a.Tasks), len(b.Tasks))
		}
		for i := range a.Tasks {
			x := &a.Tasks[i]
			y := taskNamed(t, b, x.ID)
			if y.Dated {
				require.True(t, x.Dated, x.ID)
				require.False(t, y.EarlyStart.Before(x.EarlyStart), "%s begins %s at %d °C, and %s at %d °C", x.ID, x.EarlyStart, warm, y.EarlyStart, cold)
			}
		}
	})
}

// TestFewerRulesAreNeverLater sees that without a row of the sequence the end comes no later.
func TestFewerRulesAreNeverLater(t *testing.T) {
	f := siteJob(t, "site_temperature_c: 15, site_humidity_percent: 60, crew: {plumber: 9}", "")
	all := programmeOf(t, Options{}, f, "")
	n := 0
	for _, r := range core(t).Rules() {
		if w, ok := measure.ParseWait(r.Measure); !ok || w.Actual {
			continue
		}
		n++
		p := programmeOf(t, Options{Without: []string{r.ID}}, f, "")
		require.False(t, p.End.After(all.End), r.ID)
		for i := range p.Tasks {
			k := &p.Tasks[i]
			require.False(t, k.EarlyStart.After(taskNamed(t, all, k.ID).EarlyStart), "%s without %s", k.ID, r.ID)
		}
	}
	require.Greater(t, n, 30)
}

// TestCureOverAChangeOfTheClocks: 24 h over the night in which London's clocks go on are 24 h, and an hour later by the clock.
func TestCureOverAChangeOfTheClocks(t *testing.T) {
	const week = "shifts: [{days: [mo, tu, we, th, fr, sa, su], from: '00:00', to: '24:00'}], time_zone: Europe/London, crew: {plumber: 9}"
	tasks := `  - {task: bond_inserts, material: polyurethane adhesive, cure_h: 24, cure_at_c: 20, site_temperature_c: 20, planned: {start: "2026-03-28T12:00:00Z", finish: "2026-03-28T13:00:00Z"}}` + "\n" +
		`  - {task: drive_screws, planned: {start: "2026-03-29T09:00:00+01:00", finish: "2026-03-29T10:00:00+01:00"}}` + "\n"
	p := programmeOf(t, Options{Only: []string{"fixing-screws-after-bond", "cure-data-sheet"}}, siteJob(t, week, tasks), "")
	k := taskNamed(t, p, "drive_screws_1")
	require.Equal(t, "2026-03-29T14:00:00+01:00", k.EarlyStart.Format(time.RFC3339))
	require.Contains(t, written(t, p, "ics"), "DTSTART:20260329T130000Z")
}

// TestHolidayMovesWork: public holidays and days off put work off, and are named.
func TestHolidayMovesWork(t *testing.T) {
	tasks := "  - {task: waterproof, planned: {start: \"2026-04-02T08:00:00+01:00\", finish: \"2026-04-02T16:30:00+01:00\"}}\n  - {task: tile, planned: {start: \"2026-04-09T08:00:00+01:00\", finish: \"2026-04-09T10:00:00+01:00\"}}\n  - {task: joint}\n"
	for section, want := range map[string]string{
		"holidays: {country: GB}":                                               "Fri 10 April 10:00",
		"holidays: {country: GB, days_off: [2026-04-10]}":                       "Mon 13 April 08:00",
		"holidays: [2026-04-10, 2026-04-13]":                                    "Tue 14 April 08:00",
		"holidays: [2026-04-10], time_zone: Europe/Berlin":                      "Mon 13 April 08:00",
		"holidays: {days_off: [2026-04-10], country: NO, worked: [2026-04-06]}": "Mon 13 April 08:00",
	} {
		p := programmeOf(t, Options{}, siteJob(t, "start: 2026-03-02, crew: {plumber: 9}, "+section, tasks), "")
		require.Equal(t, want, programme.ShortDay(taskNamed(t, p, "joint_1").EarlyStart), section)
	}
	first := "  - {task: assemble_panels, planned: {start: \"2026-04-02T08:00:00+01:00\", finish: \"2026-04-02T16:30:00+01:00\"}}\n"
	p := programmeOf(t, Options{}, siteJob(t, "start: 2026-04-02, holidays: {country: GB}, shifts: [{days: [mo, tu, we, th, fr], from: '08:00', to: '16:30'}]", first), "")
	k := taskNamed(t, p, "cut_openings_1")
	require.Equal(t, "Tue 7 April 08:00", programme.ShortDay(k.EarlyStart))
	require.Contains(t, k.Why, "then Good Friday, the weekend and Easter Monday")
}

// TestRecordedSlip: the inserts were bonded late on a cold site, so that the screws have to wait, with the date, the zone and the hours.
func TestRecordedSlip(t *testing.T) {
	tasks := `  - {task: bond_inserts, material: polyurethane adhesive, cure_h: 24, cure_at_c: 20, site_temperature_c: 12, planned: {start: "2026-03-02T08:00:00Z", finish: "2026-03-02T10:00:00Z"}, actual: {start: "2026-03-02T12:30:00Z", finish: "2026-03-02T14:30:00Z"}}
  - {task: drive_screws, items: [shelf], planned: {start: "2026-03-03T14:00:00Z", finish: "2026-03-03T15:00:00Z"}, by: fitter}
`
	f := siteJob(t, "crew: {plumber: 9}", tasks, "judged_on: 2026-03-02", "judged_on: 2026-03-03")
	p := programmeOf(t, Options{Only: []string{"fixing-screws-after-bond", "cure-data-sheet", "cure-on-cold-site"}}, f, "")
	// 24 h · 2^(8/10) = 41.79 h after Monday 14:30 is Wednesday 08:17.
	k := taskNamed(t, p, "drive_screws_1")
	require.Equal(t, "2026-03-04T08:18:00Z", k.EarlyStart.Format(time.RFC3339))
	var slips []string
	for _, s := range p.Slips {
		slips = append(slips, s.Text)
	}
	require.Equal(t, []string{
		"Bond inserts ended on Mon 2 March 14:30, 4 h 30 min late",
		"Drive screws (shelf) not before Wed 4 March 08:18, planned for Tue 3 March 14:00 (18 h 18 min late): waits for the cure of the bond of the inserts: 24 h at 20 °C became 42 h at 12 °C (cure-data-sheet, cure-on-cold-site)",
	}, slips)
	require.Contains(t, written(t, p, "text"), "Against the plan")

	// What has begun goes on from the day of judgement, and does not end in the past.
	begun := strings.Replace(tasks, `, finish: "2026-03-02T14:30:00Z"}}`, "}}", 1)
	p = programmeOf(t, Options{Only: []string{"fixing-screws-after-bond"}}, siteJob(t, "", begun, "judged_on: 2026-03-02", "judged_on: 2026-03-05"), "")
	b := taskNamed(t, p, "bond_inserts_1")
	require.Equal(t, programme.Begun, b.State)
	require.False(t, b.EarlyFinish.Before(p.AsOf))
	require.False(t, taskNamed(t, p, "drive_screws_1").EarlyStart.Before(p.AsOf))
}

// TestPlannedAnew: with --start the planned starts do not hold, and the planned lengths do.
func TestPlannedAnew(t *testing.T) {
	data, err := os.ReadFile("../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	f, err := jobfile.Load("clean.yaml", data)
	require.NoError(t, err)
	p := programmeOf(t, Options{}, f, "2026-03-09")
	require.Equal(t, "2026-03-09T08:00:00Z", taskNamed(t, p, "insulate_tube_1").EarlyStart.Format(time.RFC3339))
	// The Saturday of the plan counts for the length of the waterproofing: 5 h on Friday and 5 h 30 min on Saturday.
	require.Equal(t, 630.0, taskNamed(t, p, "waterproof_1").Minutes)
	for i := range p.Tasks {
		if k := &p.Tasks[i]; k.State == programme.ToDo {
			require.False(t, k.EarlyStart.Before(p.Start), k.ID)
			require.NotEqual(t, time.Saturday, k.EarlyStart.Weekday(), k.ID)
		}
	}
	l, err := New(Options{})
	require.NoError(t, err)
	_, err = l.Programme(f, "2026-02-30")
	require.ErrorContains(t, err, `"2026-02-30" is not a date (YYYY-MM-DD)`)
}

// TestMissingFactsAreNamed: a length that hangs on a missing fact is no zero in silence.
func TestMissingFactsAreNamed(t *testing.T) {
	data, err := os.ReadFile("../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	text := string(data)
	runs := text[strings.Index(text, "    runs: ["):]
	runs = runs[:strings.Index(runs, "\n")+1]
	p := programmeOf(t, Options{}, siteJob(t, "site_temperature_c: 20", "", runs, ""), "")
	require.False(t, p.Whole)
	k := taskNamed(t, p, "cut_grooves_1")
	require.Equal(t, programme.Unknown, k.Basis)
	require.Contains(t, k.Needs, "heat.runs")
	out := written(t, p, "text")
	require.Contains(t, out, "Cut grooves, time not known")
	require.Contains(t, out, "not before ")
	require.Contains(t, strings.Join(strings.Fields(out), " "), "heat.runs")

	// A rule of which the job does not say whether it applies is kept, and named.
	p = programmeOf(t, Options{}, siteJob(t, "site_temperature_c: 20", "", "grout: epoxy, grout_class: RG, ", ""), "")
	require.Contains(t, strings.Join(p.Assumptions, "\n"), "The job does not say whether these rules apply, and they are kept: steam-after-cement-grout and steam-after-epoxy-grout.")
	require.GreaterOrEqual(t, p.FirstSteam.Sub(taskNamed(t, p, "joint_1").EarlyFinish), 672*time.Hour)

	// A cure time that neither the job nor a rule gives.
	p = programmeOf(t, Options{Without: []string{"openings-after-panels"}}, siteJob(t, "site_temperature_c: 20", "  - {task: assemble_panels, planned: {start: \"2026-03-02T08:00:00Z\", finish: \"2026-03-03T16:00:00Z\"}}\n"), "")
	require.False(t, p.Whole)
	require.Equal(t, []string{"tasks[0].cure_h"}, p.Missing[0].Fields)
}

// TestNothingCuresInFrost: below 5 °C nothing has a date that waits for a cure; once it is warm again it has.
func TestNothingCuresInFrost(t *testing.T) {
	p := programmeOf(t, Options{}, siteJob(t, "site_temperature_c: 4.9", ""), "")
	require.False(t, p.Whole)
	require.False(t, taskNamed(t, p, "cut_openings_1").Dated)
	require.True(t, taskNamed(t, p, "assemble_panels_1").Dated)
	require.True(t, p.FirstSteam.IsZero())
	require.Contains(t, p.Stops[0], "No date can be given for cut openings (11 items), cut grooves and mesh and cement, nor for what follows: each waits for the joints of the panels, and nothing cures at 4.9 °C.")
	for _, format := range report.ProgrammeFormats() {
		written(t, p, format)
	}
	p = programmeOf(t, Options{}, siteJob(t, "site_temperature_c: [{from: 2026-01-01, temperature_c: -5}, {from: 2026-06-01, temperature_c: 20}], site_humidity_percent: 50", ""), "")
	require.True(t, p.Whole)
	require.Equal(t, time.June, taskNamed(t, p, "cut_openings_1").EarlyStart.Month())
	// Frost for good that sets in later stops what cures by then.
	p = programmeOf(t, Options{}, siteJob(t, "site_temperature_c: [{from: 2026-01-01, temperature_c: 20}, {from: 2026-03-20, temperature_c: 0}], site_humidity_percent: 50", ""), "")
	require.True(t, taskNamed(t, p, "tile_1").Dated)
	require.False(t, taskNamed(t, p, "joint_1").Dated)
}

// TestRingIsNamed: a layer that turns the order round is told by its tasks and rules, and nothing loops.
func TestRingIsNamed(t *testing.T) {
	dir := writeSequence(t, "  - {id: tiles-first, title: The waterproofing follows the tiles, severity: minor, from: site, applies_to: task, first: tile, then: waterproof, wait_h: 1, why: w, remedy: r, source: {id: house, basis: read}}\n")
	l, err := New(Options{Rulebooks: []string{dir}})
	require.NoError(t, err)
	_, err = l.Programme(siteJob(t, "", ""), "")
	var ring *programme.CycleError
	require.True(t, errors.As(err, &ring), "%v", err)
	require.Contains(t, ring.Tasks, "Tile")
	require.Contains(t, ring.Tasks, "Waterproof")
	require.ErrorContains(t, err, "the order of work goes round in a ring")
	require.ErrorContains(t, err, "waterproof waits for tile (tiles-first)")
}

// TestAmendedWaitHolds: an amended wait is the one that holds.
func TestAmendedWaitHolds(t *testing.T) {
	amend := "amendments: [{rule: joint-after-finish, change: tighten, title: Joints wait, allowed: {at_least: 100}, reason: r, source: {id: house, basis: read}}]\n"
	dir := writeSequence(t, "")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "rules", "b.yaml"), []byte("subject: house\n"+amend), 0o600))
	f := siteJob(t, "site_temperature_c: 23", "")
	a, b := programmeOf(t, Options{}, f, ""), programmeOf(t, Options{Rulebooks: []string{dir}}, f, "")
	require.True(t, taskNamed(t, b, "joint_1").EarlyStart.After(taskNamed(t, a, "joint_1").EarlyStart))
	require.Contains(t, taskNamed(t, b, "joint_1").Why, "100 h by the rules")
}

func writeSequence(t *testing.T, rows string) string {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "rules"), 0o755))
	files := map[string]string{"rulebook.yaml": "rulebook: house\ntitle: House\nedition: '1'\nlayer: firm\n", "sources.yaml": "sources: [{id: house, kind: firm, title: House book}]\n"}
	if rows != "" {
		files["rules/a.yaml"] = "subject: house\nsequence:\n" + rows
	}
	for name, text := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	return dir
}

// TestCrew: people that are there once do one thing at a time, and a trade that no method knows is told.
func TestCrew(t *testing.T) {
	one := programmeOf(t, Options{}, siteJob(t, "crew: {fitter: 1, tiler: 1}", ""), "")
	two := programmeOf(t, Options{}, siteJob(t, "crew: {fitter: 2, tiler: 2}", ""), "")
	a, b := taskNamed(t, one, "drive_screws_1"), taskNamed(t, one, "cut_fibres_1")
	require.False(t, a.EarlyStart.Before(b.EarlyFinish) && b.EarlyStart.Before(a.EarlyFinish), "one fitter is at two places")
	require.Contains(t, a.Why+b.Why, "waits for the fitter, who is at ")
	a, b = taskNamed(t, two, "drive_screws_1"), taskNamed(t, two, "cut_fibres_1")
	require.True(t, a.EarlyStart.Equal(b.EarlyStart))
	l, err := New(Options{})
	require.NoError(t, err)
	_, err = l.Programme(siteJob(t, "crew: {fiter: 1}", ""), "")
	require.ErrorContains(t, err, `the methods of work know no trade "fiter"; did you mean "fitter"?`)
	require.ErrorContains(t, err, "room.yaml:")
}

// TestAssumptionsAreNamed: what the job does not say is said by the programme, and what it says is not.
func TestAssumptionsAreNamed(t *testing.T) {
	silent := strings.Join(programmeOf(t, Options{}, siteJob(t, "", ""), "").Assumptions, "\n")
	told := strings.Join(programmeOf(t, Options{}, siteJob(t, "start: 2026-03-09, time_zone: Europe/London, shifts: [{days: [mo, tu, we, th], from: '07:00', to: '17:00'}], holidays: {country: GB, region: SCT}, site_temperature_c: 18, site_humidity_percent: 55, crew: {fitter: 1, tiler: 2}", ""), "").Assumptions, "\n")
	for _, s := range []string{"No time zone is given: Europe/London", "No shifts are given: Monday to Friday 08:00 to 16:30 with half an hour's break", "No holidays are given: the public holidays of the United Kingdom", "No crew is given: one fitter and one tiler", "No start is given", "No temperature of the site is given nor forecast", "No humidity of the site"} {
		require.Contains(t, silent, s)
		require.NotContains(t, told, s)
	}
	f := siteJob(t, "", "", "country: GB\n", "")
	require.Contains(t, strings.Join(programmeOf(t, Options{}, f, "").Assumptions, "\n"), "Neither a time zone nor a country is given: UTC is taken.")
	f = siteJob(t, "", "", "country: GB\n", "country: JP\n")
	require.Contains(t, strings.Join(programmeOf(t, Options{}, f, "").Assumptions, "\n"), "No public holidays are known for JP: none are kept.")
}

// TestHostileTextInProgrammes: text of a job is data in every output.
func TestHostileTextInProgrammes(t *testing.T) {
	const hostile = `</title><script>alert(1)</script>]]>"'&\x1b[31m` + "\u202e\u2028 BEGIN:VEVENT"
	data, err := os.ReadFile("../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	f, err := jobfile.Load("x.yaml", data)
	require.NoError(t, err)
	text := hostile + "\x1b]0;x\x07\r\nBEGIN:VEVENT\r\nSUMMARY:owned"
	f.Job.Title, f.Job.Reference, f.Name = text, text, text
	for i := range f.Job.Tasks {
		f.Job.Tasks[i].By, f.Job.Tasks[i].Material, f.Job.Tasks[i].Note = text, text, text
	}
	p := programmeOf(t, Options{}, f, "")
	for _, format := range report.ProgrammeFormats() {
		var b bytes.Buffer
		require.NoError(t, report.Programme(&b, format, p, report.Options{Version: "1"}))
		out := b.String()
		require.NotContains(t, out, "\x1b", format)
		if format != "json" && format != "ics" { // programs read what was written
			require.NotContains(t, out, "\u202e", format)
		}
		switch format {
		case "svg", "html":
			require.NotContains(t, out, "<script>alert", format)
		case "ics":
			for _, line := range strings.Split(out, "\r\n") {
				require.False(t, strings.HasPrefix(line, "SUMMARY:owned"), line)
			}
		case "json":
			require.True(t, json.Valid(b.Bytes()))
		}
	}
}

// FuzzProgramme makes programmes of odd jobs: each is sound, or the error says what is wrong, and every format can be written.
func FuzzProgramme(f *testing.F) {
	roots := bases(f)
	roots = append(roots, siteJob(f, "start: 2026-03-23, time_zone: Europe/London, shifts: [{days: [mo, we, fr, su], from: '06:00', to: '10:00'}, {days: [mo], from: '22:00', to: '24:00'}], holidays: {country: GB, region: SCT, days_off: [2026-03-27], worked: [2026-04-03]}, site_temperature_c: [{from: 2026-03-01, temperature_c: 3}, {from: 2026-03-29, temperature_c: 12, humidity_percent: 80}], crew: {tiler: 1}", "").Root)
	for i := range roots {
		f.Add(byte(i), []byte("0123456789abcdefghijklmnopqrstuvwxyz"))
	}
	l := core(f)
	f.Fuzz(func(t *testing.T, base byte, spelling []byte) {
		file, err := jobtest.Change(roots[int(base)%len(roots)], spelling)
		require.NoError(t, err)
		p, err := l.Programme(file, "")
		if err != nil {
			require.NotContains(t, err.Error(), "runtime")
			return
		}
		sound(t, p)
		for _, format := range report.ProgrammeFormats() {
			var b bytes.Buffer
			if err := report.Programme(&b, format, p, report.Options{}); format == "svg" && err != nil {
				require.ErrorContains(t, err, "the programme cannot be drawn") // it is too long
				continue
			}
			require.NotEmpty(t, written(t, p, format))
		}
	})
}
