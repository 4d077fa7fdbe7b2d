package report_test

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"wetrule/lint"
	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/schema"
)

// linter judges by the rulebook of the tests alone.
func linter(t testing.TB, books ...string) *lint.Linter {
	t.Helper()
	o := lint.Options{Only: []string{"house"}}
	for _, b := range append([]string{"house"}, books...) {
		o.Rulebooks = append(o.Rulebooks, filepath.Join("testdata", b))
		if b != "house" {
			o.Only = append(o.Only, b)
		}
	}
	l, err := lint.New(o)
	require.NoError(t, err)
	return l
}

const jobHead = `wetrule: 1
reference: demo-1
title: A room
stage: design
judged_on: 2026-01-01
room:
  use: steam_room
  height_mm: 2250
  walls:
    - {id: north, width_mm: 2000}
    - {id: east, width_mm: 1500}
    - {id: south, width_mm: 2000}
    - {id: west, width_mm: 1500}
build_up: [{layer: mesh}, {layer: cement}, {layer: tile}]
tasks:
  - {task: insulate_tube, planned: {start: "2026-02-01T08:00:00Z", finish: "2026-02-01T10:00:00Z"}}
  - {task: insert_tube, planned: {start: "2026-02-02T08:00:00Z", finish: "2026-02-02T09:00:00Z"}}
items:
`

const (
	goodOutlet  = "  - {id: good, kind: steam_outlet, face: west, x_mm: 300, y_mm: 250, opening_diameter_mm: 64, guarded: true, tube: {material: copper, od_mm: 22, fall_percent: 1, low_points: 0, insulation: {thickness_mm: 20}}}\n"
	badOutlet   = "  - {id: bad, kind: steam_outlet, face: west, x_mm: 300, y_mm: 350.5, opening_diameter_mm: 60, guarded: false, tube: {material: plastic, od_mm: 22, insulation: {thickness_mm: 20}}}\n"
	vagueOutlet = "  - {id: vague, kind: steam_outlet, face: west, opening_diameter_mm: 50, tube: {od_mm: 22}}\n"
)

func review(t testing.TB, l *lint.Linter, name, job string) *verdict.Review {
	t.Helper()
	r, err := l.Review(context.Background(), name, []byte(job))
	require.NoError(t, err)
	return r
}

// write writes reviews; every JSON report that a test writes is held against the schema.
func write(t testing.TB, format string, o report.Options, reviews ...*verdict.Review) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, report.Write(&b, format, reviews, o))
	if format == "json" {
		requireValid(t, b.Bytes())
	}
	return b.String()
}

func reportSchema(t testing.TB) *jobfile.Schema {
	t.Helper()
	const name = "report.schema.json"
	s, err := jobfile.Compile(map[string][]byte{name: schema.Bytes(name)}, name)
	require.NoError(t, err)
	return s
}

var escapes = regexp.MustCompile(`\\(\\|[bf]|u00([01][0-9a-f]|7f|[89][0-9a-f]))`)

// tame puts a question mark in the place of escaped control characters: our reader refuses them even so, and a file name may hold them.
func tame(data []byte) []byte {
	return escapes.ReplaceAllFunc(data, func(e []byte) []byte {
		if string(e) == `\\` {
			return e
		}
		return []byte("?")
	})
}

func requireValid(t testing.TB, data []byte) {
	t.Helper()
	node, err := jobfile.Read("report.json", tame(data))
	require.NoError(t, err)
	require.NoError(t, reportSchema(t).Validate("report.json", node))
}

// verdictOf gives what a rule says of a subject.
func verdictOf(t testing.TB, r *verdict.Review, rule, subject string) *verdict.Verdict {
	t.Helper()
	for i := range r.Verdicts {
		if v := &r.Verdicts[i]; v.Rule.ID == rule && v.Subject.ID == subject {
			return v
		}
	}
	require.Fail(t, "no verdict", "%s of %s", rule, subject)
	return nil
}

// everything is a review in which every outcome occurs, and one of a broken file.
func everything(t testing.TB) []*verdict.Review {
	t.Helper()
	l := linter(t, "broken")
	job := strings.Replace(jobHead, "{layer: cement}, {layer: tile}", "{layer: cement}", 1) + goodOutlet + badOutlet + vagueOutlet
	r := review(t, l, "jobs/all.yaml", job)
	for _, o := range []verdict.Outcome{verdict.Conforms, verdict.Nonconforming, verdict.Undetermined, verdict.NotInForce, verdict.NotJudged} {
		require.NotZero(t, r.Counts[o], o.String())
	}
	broken := review(t, l, "jobs/broken.yaml", strings.Replace(jobHead, "stage: design", "stage: begun", 1)+strings.Replace(goodOutlet, "face: west", "face: weest", 1))
	require.NotEmpty(t, broken.Problems)
	return []*verdict.Review{r, broken}
}

var minor = report.Options{Version: "1.2.3", FailAt: rulebook.Minor}

func TestJSONReport(t *testing.T) {
	reviews := everything(t)
	var rep struct {
		Report  int
		Status  int
		FailAt  string `json:"fail_at"`
		Rules   []struct{ ID string }
		Reviews []struct {
			Problems []struct {
				Line, Column int
				Message      string
			}
			Counts   map[string]int
			Verdicts []struct {
				Rule, Subject, Outcome, Unit, Note, Reason, Fingerprint string
				Fails                                                   bool
				Measured                                                any
				Lower, Upper, Margin                                    *float64
				Missing                                                 []string
				Place                                                   struct {
					Pointer                 string
					Line, Column, EndColumn int
				}
			}
		}
	}
	require.NoError(t, json.Unmarshal([]byte(write(t, "json", minor, reviews...)), &rep))
	require.Equal(t, report.ReportVersion, rep.Report)
	require.Equal(t, report.StatusUnjudged, rep.Status)
	require.Equal(t, "minor", rep.FailAt)
	require.Len(t, rep.Reviews[1].Problems, 1)
	require.Equal(t, 4, rep.Reviews[1].Problems[0].Line)
	n := 0
	for i, name := range verdict.Outcomes() {
		require.Equal(t, reviews[0].Counts[i], rep.Reviews[0].Counts[name], name)
		if name != "not_applicable" {
			n += reviews[0].Counts[i]
		}
	}
	require.Len(t, rep.Reviews[0].Verdicts, n)
	num := func(v float64) *float64 { return &v }
	tests := []struct {
		rule, subject, outcome string
		fails                  bool
		measured               any
		lower, upper, margin   *float64
		missing                []string
		pointer                string
	}{
		{"house-outlet-height", "good", "conforms", false, 250.0, num(200), num(300), num(50), nil, "/items/0/y_mm"},
		{"house-outlet-height", "bad", "nonconforming", true, 350.5, num(200), num(300), num(-50.5), nil, "/items/1/y_mm"},
		{"house-outlet-height", "vague", "undetermined", true, nil, num(200), num(300), nil, []string{"y_mm"}, "/items/2"},
		{"house-opening", "good", "conforms", false, 64.0, num(62), nil, num(2), nil, "/items/0/opening_diameter_mm"},
		{"house-opening", "bad", "nonconforming", true, 60.0, num(62), nil, num(-2), nil, "/items/1/opening_diameter_mm"},
		{"house-opening", "vague", "undetermined", true, 50.0, num(40), nil, nil, []string{"tube.insulation.thickness_mm"}, "/items/2/tube"},
		{"house-guard", "bad", "nonconforming", true, false, nil, nil, nil, nil, "/items/1/guarded"},
		{"house-material", "bad", "nonconforming", false, "plastic", nil, nil, nil, nil, "/items/1/tube/material"},
		{"house-low-points", "good", "not_in_force", false, 0.0, nil, num(0), num(0), nil, "/items/0/tube/low_points"},
		{"house-layers", "north", "nonconforming", true, []any{"mesh", "cement"}, nil, nil, nil, nil, "/build_up"},
		{"house-insulate-first", "good", "conforms", false, 22.0, num(12), nil, num(10), nil, "/tasks/1/planned/start"},
		{"broken-height", "good", "not_judged", false, 250.0, nil, nil, nil, nil, "/items/0/y_mm"},
	}
	for _, tt := range tests {
		seen := false
		for _, v := range rep.Reviews[0].Verdicts {
			if v.Rule != tt.rule || v.Subject != tt.subject {
				continue
			}
			seen = true
			require.Equal(t, tt.outcome, v.Outcome, tt)
			require.Equal(t, tt.fails, v.Fails, tt)
			require.Equal(t, tt.measured, v.Measured, tt)
			require.Equal(t, tt.lower, v.Lower, tt)
			require.Equal(t, tt.upper, v.Upper, tt)
			require.Equal(t, tt.margin, v.Margin, tt)
			require.Equal(t, tt.missing, v.Missing, tt)
			require.Equal(t, tt.pointer, v.Place.Pointer, tt)
			require.Equal(t, tt.outcome == "not_judged", v.Reason != "", tt)
			finding := tt.outcome == "nonconforming" || tt.outcome == "undetermined" || tt.outcome == "not_judged"
			require.Equal(t, finding, v.Fingerprint != "", tt)
			at := reviews[0].Root.At(v.Place.Pointer)
			require.NotNil(t, at, tt)
			require.Equal(t, [2]int{int(at.Line), int(at.Col)}, [2]int{v.Place.Line, v.Place.Column}, tt)
		}
		require.True(t, seen, "%s of %s", tt.rule, tt.subject)
	}
	for i := 1; i < len(rep.Rules); i++ {
		require.Less(t, rep.Rules[i-1].ID, rep.Rules[i].ID)
	}
}

// TestMissingAndPlaces looks at what undetermined verdicts lack, and where verdicts point.
func TestMissingAndPlaces(t *testing.T) {
	l := linter(t)
	without := func(cut string) string {
		require.Contains(t, jobHead, cut)
		return strings.Replace(jobHead, cut, "", 1)
	}
	tests := []struct {
		name, job, rule, subject string
		missing                  []string
		absent                   bool
		pointer                  string
	}{
		{"a condition and the measure", jobHead + "  - {id: o, kind: steam_outlet, tube: {od_mm: 22}}\n", "house-material", "o", []string{"tube.material"}, true, "/items/0/tube"},
		{"no tube at all", jobHead + "  - {id: o, kind: steam_outlet}\n", "house-opening", "o", []string{"opening_diameter_mm", "tube.od_mm", "tube.insulation.thickness_mm"}, true, "/items/0"},
		{"no build-up", without("build_up: [{layer: mesh}, {layer: cement}, {layer: tile}]\n") + goodOutlet, "house-layers", "north", []string{"/build_up"}, true, ""},
		{"no tasks", without("tasks:\n  - {task: insulate_tube, planned: {start: \"2026-02-01T08:00:00Z\", finish: \"2026-02-01T10:00:00Z\"}}\n  - {task: insert_tube, planned: {start: \"2026-02-02T08:00:00Z\", finish: \"2026-02-02T09:00:00Z\"}}\n") + goodOutlet, "house-insulate-first", "good", []string{"/tasks"}, true, ""},
		{"one task is missing", without("  - {task: insert_tube, planned: {start: \"2026-02-02T08:00:00Z\", finish: \"2026-02-02T09:00:00Z\"}}\n") + goodOutlet, "house-insulate-first", "good", []string{"/tasks"}, false, "/items/0"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := review(t, l, "job.yaml", tt.job)
			require.Empty(t, r.Problems)
			v := verdictOf(t, r, tt.rule, tt.subject)
			require.Equal(t, "undetermined", v.Outcome.String())
			fields, absent := r.Missing(v)
			require.Equal(t, tt.missing, fields)
			require.Equal(t, tt.absent, absent)
			require.Equal(t, tt.pointer, v.Place(r.Root).Pointer)
			label := map[bool]string{true: "missing", false: "look at"}[absent]
			require.Contains(t, write(t, "text", minor, r), "\n    "+label+"   "+tt.missing[0])
			write(t, "json", minor, r)
		})
	}
	t.Run("a face of its own", func(t *testing.T) {
		r := review(t, l, "job.yaml", strings.Replace(jobHead, "{id: north, ", "{id: north, build_up: [{layer: mesh}], ", 1)+goodOutlet)
		require.Equal(t, "/room/walls/0/build_up", verdictOf(t, r, "house-layers", "north").Place(r.Root).Pointer)
		require.Equal(t, "/build_up", verdictOf(t, r, "house-layers", "east").Place(r.Root).Pointer)
	})
	t.Run("the task that names the item", func(t *testing.T) {
		r := review(t, l, "job.yaml", strings.Replace(jobHead, "items:\n", "  - {task: insert_tube, items: [good], planned: {start: \"2026-02-01T11:00:00Z\", finish: \"2026-02-01T12:00:00Z\"}}\nitems:\n", 1)+goodOutlet)
		v := verdictOf(t, r, "house-insulate-first", "good")
		require.Equal(t, "nonconforming", v.Outcome.String())
		require.Equal(t, "/tasks/2/planned/start", v.Place(r.Root).Pointer)
	})
}

// TestMissingNamesElementsOfLists looks at fields whose way goes through a list by the name of an element.
func TestMissingNamesElementsOfLists(t *testing.T) {
	l, err := lint.New(lint.Options{Only: []string{"bed-coverage", "finish-mass"}})
	require.NoError(t, err)
	at := func(buildUp, rule string) (*verdict.Review, *verdict.Verdict) {
		job := strings.Replace(jobHead, "[{layer: mesh}, {layer: cement}, {layer: tile}]", buildUp, 1)
		job = strings.Replace(job, "stage: design", "stage: as_built", 1) + goodOutlet
		r := review(t, l, "job.yaml", job)
		require.Empty(t, r.Problems)
		return r, verdictOf(t, r, rule, "east")
	}
	r, v := at("[{layer: tile_bed}, {layer: tile}]", "bed-coverage")
	fields, absent := r.Missing(v)
	require.Equal(t, []string{"/build_up/tile_bed/coverage_percent"}, fields)
	require.True(t, absent)
	require.Equal(t, "/build_up/0", v.Place(r.Root).Pointer)
	r, v = at("[{layer: tile_bed, coverage_percent: 50}, {layer: tile}]", "bed-coverage")
	require.Equal(t, "nonconforming", v.Outcome.String())
	require.Equal(t, "/build_up/0/coverage_percent", v.Place(r.Root).Pointer)
	r, v = at("[{layer: tile_bed}, {layer: tile}]", "finish-mass")
	fields, _ = r.Missing(v)
	require.Equal(t, []string{"/build_up/tile/mass_kg_m2", "/build_up/tile_bed/mass_kg_m2"}, fields, "plaster is not asked for where there is tile")
}

var findingLine = regexp.MustCompile(`^[^ :][^:]*:[1-9][0-9]*:[1-9][0-9]*: (critical|major|minor|observation): [a-z0-9_., -]+: .* \[([a-z0-9-]+|[1-9][0-9]* rules)\]$`)

func TestText(t *testing.T) {
	reviews := everything(t)
	out := write(t, "text", minor, reviews...)
	n := 0
	for _, line := range strings.Split(strings.TrimSuffix(out, "\n"), "\n") {
		require.Equal(t, strings.TrimRight(line, " "), line)
		for _, c := range line {
			require.False(t, unicode.IsControl(c), "%q", line)
		}
		if findingLine.MatchString(line) {
			n++
			continue
		}
		require.LessOrEqual(t, utf8.RuneCountInString(line), 100, line)
	}
	require.Equal(t, len(reviews[0].Groups()), n, out)
	require.Contains(t, out, `
    measured  350.5 mm (height of the outlet's centre above finished floor)
    allowed   200 to 300 mm
    margin    50.5 mm outside
    why       Higher up, the feet stay cold; lower down, splash water and dirt reach the outlet.
              This sentence is only here so that the reason fills more than one line of 100 mm.
    do        Move the outlet.
    source    House book of an invented firm, second, page 3
`)
	require.Contains(t, out, "jobs/all.yaml:20:64: major: bad: The outlet is 200 to 300 mm above the floor [house-outlet-height]\n")
	require.Contains(t, out, "\n    missing   tube.insulation.thickness_mm of vague\n")
	require.Contains(t, out, "allowed   at least 40 mm, and at least 62 mm (least opening that the insulated tube goes\n              through)\n")
	require.Contains(t, out, "at least 40 mm, and at least a value that is not known (least opening that the\n              insulated tube goes through)\n")
	require.Contains(t, out, "    why       as for bad above\n")
	require.Contains(t, out, "    measured  no (whether a guard keeps skin from the outlet and its jet)\n    allowed   yes\n")
	require.Contains(t, out, "    because   ")
	require.Contains(t, out, "jobs/broken.yaml:4:8: error: ")
	require.Contains(t, out, "jobs/broken.yaml: not judged: the job file is at fault in 1 place\n")
	require.Contains(t, out, "2 jobs: 1 with findings that fail, 2 not judged in full\n")
	require.Contains(t, out, "result    fails: not everything could be judged in 2 jobs; ")
	require.Contains(t, out, "\nCautions\n    Steam and hot surfaces scald")
}

// TestTextSharesWhatIsTheSame looks at one fault that concerns four faces.
func TestTextSharesWhatIsTheSame(t *testing.T) {
	out := write(t, "text", minor, review(t, linter(t), "job.yaml", strings.Replace(jobHead, ", {layer: tile}", "", 1)+goodOutlet))
	require.True(t, strings.HasPrefix(out, `job.yaml:14:11: minor: east, north, south and west: Tile is the last layer [house-layers]
    measured  mesh, cement (layers from the foam to the finish)
    allowed   tile is the last layer
    why       What lies on tile lets go.
    do        Build the layers in order.
    source    common practice

job.yaml: demo-1, A room
`), out)
}

func TestTextOfCleanAndEmpty(t *testing.T) {
	l := linter(t)
	clean := review(t, l, "clean.yaml", jobHead+goodOutlet)
	out := write(t, "text", minor, clean)
	require.True(t, strings.HasPrefix(out, "clean.yaml: demo-1, A room\n    stage     design, judged for 2026-01-01 by core "), out)
	require.Contains(t, out, "    findings  none\n")
	require.Contains(t, out, "    result    passes: no finding\n")
	require.Empty(t, write(t, "text", report.Options{FailAt: rulebook.Minor, Quiet: true}, clean))
	require.Equal(t, "error: no job was reviewed\n", write(t, "text", minor))
	soft := review(t, l, "soft.yaml", jobHead+strings.Replace(goodOutlet, "copper", "plastic", 1))
	require.Contains(t, write(t, "text", minor, soft), "    result    passes: no finding of the severity minor or graver, 1 below it\n")
	vague := review(t, l, "vague.yaml", jobHead+strings.Replace(goodOutlet, "guarded: true, ", "", 1))
	require.Contains(t, write(t, "text", minor, vague), "    result    fails: 1 finding of the severity minor or graver\n")
	tolerant := minor
	tolerant.Tolerate = true
	require.Contains(t, write(t, "text", tolerant, vague), "    result    passes: 1 undetermined and tolerated\n")
}

// TestColours holds that colours come when asked for only, and that the words say the same without them.
func TestColours(t *testing.T) {
	reviews := everything(t)
	bare := write(t, "text", minor, reviews...)
	require.NotContains(t, bare, "\x1b")
	o := minor
	o.Colour = true
	coloured := write(t, "text", o, reviews...)
	require.NotEqual(t, bare, coloured)
	require.Equal(t, bare, regexp.MustCompile("\x1b\\[[0-9;]*m").ReplaceAllString(coloured, ""))
	for _, format := range []string{"json", "sarif", "junit"} {
		require.Equal(t, write(t, format, minor, reviews...), write(t, format, o, reviews...), "colours are for text alone")
	}
	o.Quiet = true
	for _, line := range strings.Split(strings.TrimSpace(write(t, "text", o, reviews[0])), "\n") {
		require.Regexp(t, "^[^\x1b]+: \x1b\\[[0-9;]+m(critical|major|minor|observation)\x1b\\[0m: ", line)
	}
}

func TestSameBytesAgain(t *testing.T) {
	for _, format := range report.Formats() {
		want := write(t, format, minor, everything(t)...)
		for range 5 {
			require.Equal(t, want, write(t, format, minor, everything(t)...))
		}
	}
}

const (
	hostileTitle = "\u202eroom\u2066 <script>alert(1)</script> ]]> {0} [words](target) \u200b\u00ad\U000e0041 a\nb.yaml:1:1: critical: forged"
	hostileFile  = "jobs/\x1b[2J\u202e<script>]]>\n\x7f\u009b%41 {0}.yaml"
)

// hostileLinter judges by a rulebook whose words are hostile.
func hostileLinter(t testing.TB) *lint.Linter {
	t.Helper()
	dir := t.TempDir()
	quoted := func(s string) string { b, _ := json.Marshal(s); return string(b) }
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/house")))
	change := func(name, old, new string) {
		data, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		require.Contains(t, string(data), old)
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(strings.Replace(string(data), old, new, 1)), 0o644))
	}
	change("rulebook.yaml", `edition: "1"`, "edition: "+quoted("\u202e<script>]]>"))
	change("sources.yaml", "title: House book of an invented firm", "title: "+quoted(hostileTitle))
	change("rules/house.yaml", "title: The outlet is 200 to 300 mm above the floor", "title: "+quoted("\u202e<script>]]> {0} [words](target)\nx.yaml:1:1: critical: forged"))
	change("rules/house.yaml", "why: The jet scalds.", "why: "+quoted(hostileTitle))
	change("rules/house.yaml", "remedy: Move the outlet.", "remedy: "+quoted(hostileTitle))
	change("rules/house.yaml", "says: tile is the last layer", "says: "+quoted(hostileTitle))
	l, err := lint.New(lint.Options{Rulebooks: []string{dir}, Only: []string{"house"}})
	require.NoError(t, err)
	return l
}

// TestHostileText holds that text of jobs, rulebooks and file names is data in every format.
func TestHostileText(t *testing.T) {
	l := hostileLinter(t)
	quoted, err := json.Marshal(hostileTitle)
	require.NoError(t, err)
	job := strings.Replace(jobHead, "title: A room", "title: "+string(quoted), 1)
	job = strings.Replace(job, "reference: demo-1", `reference: "\u202e<script>]]>{0}"`, 1)
	reviews := []*verdict.Review{
		review(t, l, hostileFile, job+goodOutlet+badOutlet+vagueOutlet),
		review(t, l, hostileFile+"2", strings.Replace(job, "stage: design", `"st\u202eage<script>]]>": design`, 1)),
	}
	require.NotEmpty(t, reviews[1].Problems)
	require.NotEmpty(t, reviews[0].Findings())
	for _, format := range report.Formats() {
		out := write(t, format, minor, reviews...)
		require.True(t, utf8.ValidString(out), format)
		for _, c := range out {
			bad := c != '\n' && unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
			require.False(t, bad, "%s has %U raw", format, c)
		}
		if format == "text" {
			for _, line := range strings.Split(out, "\n") {
				require.NotRegexp(t, `^\s*(b|x)\.yaml:1:1:`, line)
			}
			continue
		}
		if format == "html" {
			out = strings.Replace(out, "<script>", "", 1) // its own
		}
		require.NotContains(t, out, "<script>", format)
		require.NotContains(t, out, "]]>", format)
	}
	// Readers of JSON get the exact text back.
	var rep struct {
		Reviews []struct{ File, Title string }
	}
	require.NoError(t, json.Unmarshal([]byte(write(t, "json", minor, reviews...)), &rep))
	require.Equal(t, hostileTitle, rep.Reviews[0].Title)
	require.Equal(t, hostileFile, rep.Reviews[0].File)
	for _, format := range []string{"text", "json"} {
		var b bytes.Buffer
		require.NoError(t, report.Rules(&b, format, l.Rules()))
		require.NoError(t, report.Measured(&b, format, reviews[0]))
		for _, r := range l.Rules() {
			require.NoError(t, report.Explain(&b, format, r, nil))
		}
		for _, c := range b.String() {
			require.False(t, c != '\n' && unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp), "%s has %U raw", format, c)
		}
	}
}

func TestStatus(t *testing.T) {
	l := linter(t)
	clean := review(t, l, "clean.yaml", jobHead+goodOutlet)
	soft := review(t, l, "soft.yaml", jobHead+strings.Replace(goodOutlet, "copper", "plastic", 1))                                      // an observation
	narrow := review(t, l, "narrow.yaml", jobHead+strings.Replace(goodOutlet, "opening_diameter_mm: 64", "opening_diameter_mm: 61", 1)) // minor
	high := review(t, l, "high.yaml", jobHead+strings.Replace(goodOutlet, "y_mm: 250", "y_mm: 400", 1))                                 // major
	bare := review(t, l, "bare.yaml", jobHead+strings.Replace(goodOutlet, "guarded: true", "guarded: false", 1))                        // critical
	vague := review(t, l, "vague.yaml", jobHead+strings.Replace(goodOutlet, "guarded: true, ", "", 1))                                  // critical, undetermined
	unread := review(t, l, "unread.yaml", "wetrule: 1\n")
	unjudged := review(t, linter(t, "broken"), "unjudged.yaml", jobHead+goodOutlet)
	type reviews = []*verdict.Review
	tests := []struct {
		name     string
		reviews  reviews
		failAt   rulebook.Severity
		tolerate bool
		want     int
	}{
		{"no reviews", nil, rulebook.Observation, false, 2},
		{"clean", reviews{clean}, rulebook.Observation, false, 0},
		{"an observation at the threshold", reviews{soft}, rulebook.Observation, false, 1},
		{"an observation below it", reviews{soft}, rulebook.Minor, false, 0},
		{"minor at the threshold", reviews{narrow}, rulebook.Minor, false, 1},
		{"minor below it", reviews{narrow}, rulebook.Major, false, 0},
		{"major at the threshold", reviews{high}, rulebook.Major, false, 1},
		{"major below it", reviews{high}, rulebook.Critical, false, 0},
		{"critical", reviews{bare}, rulebook.Critical, false, 1},
		{"undetermined counts", reviews{vague}, rulebook.Critical, false, 1},
		{"undetermined tolerated", reviews{vague}, rulebook.Minor, true, 0},
		{"nonconforming is never tolerated", reviews{bare}, rulebook.Minor, true, 1},
		{"not judged", reviews{unjudged}, rulebook.Critical, true, 2},
		{"unread", reviews{unread}, rulebook.Critical, true, 2},
		{"one of three fails", reviews{clean, bare, soft}, rulebook.Minor, false, 1},
		{"unread beats findings", reviews{bare, unread}, rulebook.Minor, false, 2},
		{"findings do not hide unread", reviews{unread, bare}, rulebook.Minor, false, 2},
		{"not judged beats clean", reviews{clean, unjudged}, rulebook.Minor, false, 2},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			o := report.Options{Version: "1.0.0", FailAt: tt.failAt, Tolerate: tt.tolerate}
			require.Equal(t, tt.want, o.Status(tt.reviews))
			// Every format says the same.
			var j struct{ Status int }
			require.NoError(t, json.Unmarshal([]byte(write(t, "json", o, tt.reviews...)), &j))
			require.Equal(t, tt.want, j.Status)
			inv := sarifOf(t, o, tt.reviews...).Runs[0].Invocations[0]
			require.Equal(t, tt.want, inv.ExitCode)
			require.Equal(t, tt.want != 2, inv.ExecutionSuccessful)
			ju := junitOf(t, o, tt.reviews...)
			require.Equal(t, tt.want != 0, ju.Failures+ju.Errors > 0)
			require.Equal(t, tt.want == 2, ju.Errors > 0)
			text := write(t, "text", o, tt.reviews...)
			require.Equal(t, tt.want == 0, strings.Contains(text, "passes: ") && !strings.Contains(text, "fails: "), text)
			quiet := o
			quiet.Quiet = true
			require.Equal(t, tt.want, quiet.Status(tt.reviews))
		})
	}
}

func TestNoSuchFormat(t *testing.T) {
	require.EqualError(t, report.Write(&bytes.Buffer{}, "poem", nil, minor), `there is no format "poem"; known: text, json, lines, sarif, junit, html`)
	require.Equal(t, []string{"text", "json", "lines", "sarif", "junit", "html"}, report.Formats())
	for _, f := range report.Formats() {
		require.Contains(t, report.About(), f+" (")
	}
	require.EqualError(t, report.Rules(&bytes.Buffer{}, "sarif", nil), `there is no format "sarif"; known: text, json`)
}

type failing struct{ after int }

func (f *failing) Write(p []byte) (int, error) {
	if f.after -= len(p); f.after < 0 {
		return 0, os.ErrClosed
	}
	return len(p), nil
}

func TestErrorsOfTheWriterAreTold(t *testing.T) {
	reviews := everything(t)
	for _, format := range report.Formats() {
		for _, after := range []int{0, 50} {
			require.ErrorIs(t, report.Write(&failing{after}, format, reviews, minor), os.ErrClosed, format)
		}
	}
}

// TestReportSchemaExplainsEveryField holds the schema to its own examples, and every object closed.
func TestReportSchemaExplainsEveryField(t *testing.T) {
	require.NoError(t, reportSchema(t).Check())
	var s map[string]any
	require.NoError(t, json.Unmarshal(schema.Bytes("report.schema.json"), &s))
	example, err := json.Marshal(s["examples"].([]any)[0])
	require.NoError(t, err)
	requireValid(t, example)
	require.ErrorContains(t, reportSchema(t).Validate("r", mustRead(t, strings.Replace(string(example), `"report":1`, `"report":2`, 1))), "1")
	fields := 0
	var walk func(where string, x any)
	walk = func(where string, x any) {
		m, ok := x.(map[string]any)
		if !ok {
			return
		}
		if _, ok := m["$ref"]; !ok && where != "" {
			for _, key := range []string{"title", "description", "examples"} {
				require.NotEmpty(t, m[key], "%s has no %s", where, key)
			}
			fields++
		}
		if m["type"] == "object" {
			require.Equal(t, false, m["additionalProperties"], where)
			require.NotEmpty(t, m["required"], where)
		}
		for _, key := range []string{"properties", "$defs"} {
			if list, ok := m[key].(map[string]any); ok {
				for name, sub := range list {
					walk(where+"/"+name, sub)
				}
			}
		}
		walk(where+"/items", m["items"])
	}
	walk("", s)
	require.Greater(t, fields, 50)
}

func mustRead(t testing.TB, text string) *jobfile.Node {
	n, err := jobfile.Read("r", []byte(text))
	require.NoError(t, err)
	return n
}
