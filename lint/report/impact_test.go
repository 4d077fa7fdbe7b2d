package report_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint"
	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/schema"
)

// folder writes a rulebook into a folder.
func folder(t testing.TB, name, layer, edition, rules string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "rules"), 0o755))
	for file, text := range map[string]string{
		"rulebook.yaml": "rulebook: " + name + "\ntitle: T\nedition: '" + edition + "'\nlayer: " + layer + "\n",
		"sources.yaml":  "sources: [{id: house, kind: firm, title: House book}]\n",
		"rules/a.yaml":  "subject: house\n" + rules,
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, file), []byte(text), 0o600))
	}
	return dir
}

const (
	limit = "  - {rule: steam-outlet-height, change: tighten, title: Steam enters 240 to 260 mm above the floor, allowed: {between: [240, 260]}, reason: r, source: {id: house, basis: read}}\n"
	fresh = "rules:\n  - {id: tube-large, title: The tube is large, severity: minor, from: design, applies_to: steam_outlet, measure: tube_od_mm, allowed: {at_least: 22}, why: w, remedy: r, source: {id: house, basis: read}}\n"
)

const smallJob = "wetrule: 1\nreference: small\nstage: design\njudged_on: 2026-01-01\nroom: {use: wet_room, walls: [{id: n, width_mm: 2000}]}\nitems:\n"

func outlet(id, more string) string {
	return "  - {id: " + id + ", kind: steam_outlet, face: n, x_mm: 500, " + more + "}\n"
}

var house = report.Options{Version: "1.2.3", FailAt: rulebook.Minor}

func impact(t testing.TB, c lint.Change, texts ...string) *verdict.Impact {
	t.Helper()
	var inputs []lint.Input
	for i, text := range texts {
		inputs = append(inputs, lint.Input{Name: "jobs/" + string(rune('a'+i)) + ".yaml", Data: []byte(text)})
	}
	c.Judged = house
	x, err := lint.Impact(context.Background(), c, inputs, nil)
	require.NoError(t, err)
	return x
}

// valid holds JSON against one of our schemas.
func valid(t testing.TB, name string, data []byte) {
	t.Helper()
	s, err := jobfile.Compile(map[string][]byte{name: schema.Bytes(name)}, name)
	require.NoError(t, err)
	node, err := jobfile.Read("out.json", tame(data))
	require.NoError(t, err)
	require.NoError(t, s.Validate("out.json", node))
}

func impactText(t testing.TB, x *verdict.Impact, o report.Options) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, report.Impact(&b, "json", x, lint.ImpactStatus(x), o))
	valid(t, "impact.schema.json", b.Bytes())
	b.Reset()
	require.NoError(t, report.Impact(&b, "text", x, lint.ImpactStatus(x), o))
	return b.String()
}

// TestExamplesOfComparisonsAreValid holds the examples in the schemas against the schemas.
func TestExamplesOfComparisonsAreValid(t *testing.T) {
	for _, name := range []string{"impact.schema.json", "regions.schema.json"} {
		var s struct{ Examples []json.RawMessage }
		require.NoError(t, json.Unmarshal(schema.Bytes(name), &s))
		require.Len(t, s.Examples, 1)
		valid(t, name, s.Examples[0])
	}
}

func TestImpactInText(t *testing.T) {
	before := folder(t, "firm", "firm", "1", "amendments: []\n")
	after := folder(t, "firm", "firm", "2", "amendments:\n"+limit+fresh)
	t.Chdir(filepath.Dir(after))
	x := impact(t, lint.Change{Options: lint.Options{Only: []string{"steam-outlet-height", "house"}}, Before: lint.Side{Rulebooks: []string{before}}, After: lint.Side{Rulebooks: []string{"firm"}}},
		smallJob+outlet("s", "y_mm: 230, tube: {od_mm: 22}"), smallJob+outlet("s", "y_mm: 250"), "wetrule: x\n")
	got := strings.ReplaceAll(impactText(t, x, house), filepath.ToSlash(before), "old/firm")
	// The folder of before is long, so its line may be broken.
	got = got[strings.Index(got, "\n\n")+2:]
	require.Equal(t, `steam-outlet-height: Steam enters 240 to 260 mm above the floor
    rule        changed, in 2 jobs
    title       Steam enters 200 to 300 mm above the floor → Steam enters 240 to 260 mm above the
                floor
    allowed     200 to 300 mm → 240 to 260 mm
    source      common practice; no standard was found; German planning guidance asks for the lower
                third of the room → House book
    limit by    core → firm
    verdicts    2 conform → 1 conforms, 1 nonconforming
jobs/a.yaml:7:59: new major: s: conforms → nonconforming [steam-outlet-height]
    measured  230 mm
    allowed   200 to 300 mm → 240 to 260 mm
    margin    30 mm inside → 10 mm outside

tube-large: The tube is large
    rule        added, in 2 jobs
    severity    minor
    allowed     at least 22 mm
    source      House book
    verdicts    none → 1 conforms, 1 undetermined
jobs/b.yaml:7:5: new minor: s: no rule → undetermined [tube-large]
    measured  not known
    allowed   at least 22 mm
    margin    not known
    missing   tube.od_mm of s

jobs/c.yaml:1:1: error: `, got[:strings.Index(got, "jobs/c.yaml:1:1: error: ")+len("jobs/c.yaml:1:1: error: ")])
	require.Contains(t, got, "\nJobs that change or could not be judged\n    jobs/a.yaml (small): fails, 1 verdict changes\n    jobs/b.yaml (small): fails, 1 verdict changes\n    jobs/c.yaml: not judged\n")
	require.Contains(t, got, "3 jobs: 2 change, 1 not judged\n    rules     1 added, 0 removed, 1 changed\n    findings  2 appear, 0 get graver, 0 get milder, 0 go\n    jobs      2 fail as before, 1 not judged\n")
	require.Contains(t, got, "    result    not everything could be judged\n")

	quiet := house
	quiet.Quiet = true
	lines := strings.Split(impactText(t, x, quiet), "\n")
	require.Equal(t, "jobs/a.yaml:7:59: new major: s: conforms → nonconforming [steam-outlet-height]", lines[0])
	require.Equal(t, "jobs/b.yaml:7:5: new minor: s: no rule → undetermined [tube-large]", lines[1])
	require.True(t, strings.HasPrefix(lines[2], "jobs/c.yaml:1:"), lines[2])

	colour := house
	colour.Colour = true
	require.Contains(t, impactText(t, x, colour), "jobs/a.yaml:7:59: \x1b[38;2;230;159;0mnew major\x1b[0m: s: ")

	var b bytes.Buffer
	require.ErrorContains(t, report.Impact(&b, "sarif", x, 0, house), `there is no format "sarif"`)
	require.Empty(t, b.String())
}

// TestImpactInJSON looks at the figures; the schema is held by every test that writes.
func TestImpactInJSON(t *testing.T) {
	after := folder(t, "firm", "firm", "2", "amendments:\n"+limit)
	x := impact(t, lint.Change{After: lint.Side{Rulebooks: []string{after}}}, smallJob+outlet("s", "y_mm: 230"))
	var b bytes.Buffer
	require.NoError(t, report.Impact(&b, "json", x, lint.ImpactStatus(x), house))
	var out struct {
		Impact, Status int
		Counts         map[string]int
		Rules          []struct {
			ID, Change string
			Before     map[string]int `json:"verdicts_before"`
			After      map[string]int `json:"verdicts_after"`
		}
		Jobs    []struct{ Before, After string }
		Changes []struct {
			Effect        string
			Before, After struct {
				Outcome, Allowed        string
				Measured, Lower, Margin float64
			}
			Place struct{ Line int }
		}
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &out))
	require.Equal(t, []int{1, 1}, []int{out.Impact, out.Status})
	require.Equal(t, map[string]int{"jobs": 1, "changed": 1, "not_judged": 0, "rules_added": 0, "rules_removed": 0, "rules_changed": 1, "appears": 1, "graver": 0, "milder": 0, "goes": 0, "differs": 0}, out.Counts)
	require.Equal(t, 1, out.Rules[0].Before["conforms"])
	require.Equal(t, 1, out.Rules[0].After["nonconforming"])
	c := out.Changes[0]
	require.Equal(t, []any{"appears", "conforms", "nonconforming", 7}, []any{c.Effect, c.Before.Outcome, c.After.Outcome, c.Place.Line})
	require.Equal(t, []float64{230, 200, 30, 230, 240, -10}, []float64{c.Before.Measured, c.Before.Lower, c.Before.Margin, c.After.Measured, c.After.Lower, c.After.Margin})
}

// TestComparisonsKeepHostileTextAsData keeps text of jobs and rulebooks from driving a terminal.
func TestComparisonsKeepHostileTextAsData(t *testing.T) {
	after := folder(t, "firm", "firm", "2", "amendments:\n"+strings.Replace(limit, "title: Steam enters 240 to 260 mm above the floor", `title: "Steam\u202e enters 240 to 260 mm"`, 1))
	job := strings.Replace(smallJob, "reference: small", "reference: small\ntitle: \"a\u202eb\"", 1) + outlet("s", "y_mm: 230")
	f, err := jobfile.Load("job.yaml", []byte(job))
	if err != nil {
		// Readers that refuse such characters need no escaping; then the file name is the only way in.
		job = smallJob + outlet("s", "y_mm: 230")
		f, err = jobfile.Load("job.yaml", []byte(job))
	}
	require.NoError(t, err)
	x, err := lint.Impact(context.Background(), lint.Change{Judged: house, After: lint.Side{Rulebooks: []string{after}}}, []lint.Input{{Name: "a\x1b]0;x\a\u202e.yaml", Data: []byte(job)}}, nil)
	require.NoError(t, err)
	y, err := lint.Regions(context.Background(), lint.Options{}, f, []string{after})
	require.NoError(t, err)
	for _, format := range []string{"text", "json"} {
		var b bytes.Buffer
		require.NoError(t, report.Impact(&b, format, x, lint.ImpactStatus(x), house))
		require.NoError(t, report.Regions(&b, format, y, true, house))
		require.NotContains(t, b.String(), "\u202e")
		require.NotContains(t, b.String(), "\x1b")
		require.NotContains(t, b.String(), "\a")
	}
}

func TestRegionsInTextAndJSON(t *testing.T) {
	north := folder(t, "north", "region", "1", "amendments:\n"+limit+fresh)
	f, err := jobfile.Load("job.yaml", []byte(smallJob+outlet("s", "y_mm: 230, tube: {od_mm: 22}")+outlet("r", "y_mm: 235, tube: {od_mm: 28}")+outlet("high", "y_mm: 310, tube: {od_mm: 28}")))
	require.NoError(t, err)
	x, err := lint.Regions(context.Background(), lint.Options{}, f, []string{north})
	require.NoError(t, err)
	out := shown(t, func(w io.Writer) error { return report.Regions(w, "text", x, false, house) })
	require.Contains(t, out, `steam-outlet-height: high
    nonconforming core: 200 to 300 mm; major; common practice; no standard was found; German
                  planning guidance asks for the lower third of the room
    nonconforming north: 240 to 260 mm; major; House book
steam-outlet-height: r and s
    conforms      core: 200 to 300 mm; major; common practice; no standard was found; German
                  planning guidance asks for the lower third of the room
    nonconforming north: 240 to 260 mm; major; House book
tube-large: high, r and s
    no rule       core
    conforms      north: at least 22 mm; minor; House book
`)
	require.Contains(t, out, "\n6 of ")
	require.NotContains(t, out, "everywhere")
	all := shown(t, func(w io.Writer) error { return report.Regions(w, "text", x, true, house) })
	require.Contains(t, all, "everywhere: ")
	require.Greater(t, len(all), len(out))
	south, east, west := folder(t, "south", "region", "1", "amendments: []\n"), folder(t, "east", "region", "1", "amendments: []\n"), folder(t, "west", "region", "1", "amendments: []\n")
	many, err := lint.Regions(context.Background(), lint.Options{}, f, []string{south, north, east, west})
	require.NoError(t, err)
	require.Contains(t, shown(t, func(w io.Writer) error { return report.Regions(w, "text", many, false, house) }), `tube-large: high, r and s
    conforms      north: at least 22 mm; minor; House book
    no rule       all others
`)
	rows := func(all bool) int {
		data := []byte(shownLong(t, func(w io.Writer) error { return report.Regions(w, "json", x, all, house) }))
		valid(t, "regions.schema.json", data)
		var got struct {
			Differ int
			Rows   []struct {
				Rule    string
				Differs bool
				Cells   []struct {
					Region, Outcome string
					Margin          *float64
				}
			}
		}
		require.NoError(t, json.Unmarshal(data, &got))
		require.Equal(t, 6, got.Differ)
		for _, r := range got.Rows {
			require.Len(t, r.Cells, 2)
			require.True(t, all || r.Differs)
		}
		return len(got.Rows)
	}
	require.Equal(t, 6, rows(false))
	require.Equal(t, len(x.Rows), rows(true))
	require.ErrorContains(t, report.Regions(io.Discard, "junit", x, false, house), `there is no format "junit"`)

	// What can't be judged is said, and is valid JSON too.
	g, err := jobfile.Load("job.yaml", []byte("rulebooks: [firm]\n"+smallJob+outlet("s", "y_mm: 230")))
	require.NoError(t, err)
	x, err = lint.Regions(context.Background(), lint.Options{}, g, []string{north})
	require.NoError(t, err)
	require.False(t, x.Judged())
	require.Contains(t, shownLong(t, func(w io.Writer) error { return report.Regions(w, "text", x, false, house) }), "core: job.yaml:1:13: error: the rulebook")
	valid(t, "regions.schema.json", []byte(shownLong(t, func(w io.Writer) error { return report.Regions(w, "json", x, false, house) })))
}
