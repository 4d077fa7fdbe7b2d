package lint

import (
	"bytes"
	"context"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// outletJob is a job with a steam outlet at a height.
func outletJob(y string) string { return strings.Replace(heightJob, "230", y, 1) }

func jobs(texts map[string]string) (out []Input) {
	for _, n := range slices.Sorted(maps.Keys(texts)) {
		out = append(out, Input{Name: n, Data: []byte(texts[n])})
	}
	return out
}

// firmBook writes a firm's rulebook with amendments or rules.
func firmBook(t *testing.T, rules string) string { return book(t, "firm", "firm", rules) }

const tighter = "amendments:\n  - {rule: steam-outlet-height, change: tighten, title: F, allowed: {between: [240, 260]}, reason: r, source: {id: house, basis: read}}\n"

var strict = report.Options{FailAt: rulebook.Observation}

func impactOf(t *testing.T, c Change, texts map[string]string) *verdict.Impact {
	t.Helper()
	if c.Judged == (report.Options{}) {
		c.Judged = strict
	}
	x, err := Impact(context.Background(), c, jobs(texts), nil)
	require.NoError(t, err)
	return x
}

// changesOf writes changed verdicts in a line each.
func changesOf(x *verdict.Impact) (out []string) {
	for _, r := range x.Rules {
		for _, c := range r.Changes {
			out = append(out, strings.Join([]string{c.Job.File, c.Rule.ID, c.Subject.ID, c.Effect.String(), c.Outcome(verdict.Before), c.Outcome(verdict.After)}, " "))
		}
	}
	return out
}

func TestImpactOfEveryKindOfChange(t *testing.T) {
	const id = "steam-outlet-height"
	row := func(id, more string) string { return "rules:\n" + houseRow(id, more) }
	for name, tc := range map[string]struct {
		before, after string // rules of the firm's rulebook
		y             string
		change        string // of the rule
		differs       string // what differs in it
		want          []string
		status        int
	}{
		"tightened, and one job falls out":  {"amendments: []\n", tighter, "230", "changed", "title allowed source limit_by", []string{"a.yaml " + id + " s appears conforms nonconforming"}, 1},
		"tightened, still inside":           {"amendments: []\n", tighter, "240", "changed", "title allowed source limit_by", nil, 0},
		"tightened, one step outside":       {"amendments: []\n", tighter, "239", "changed", "title allowed source limit_by", []string{"a.yaml " + id + " s appears conforms nonconforming"}, 1},
		"tightened, outside before and now": {"amendments: []\n", tighter, "150", "changed", "title allowed source limit_by", nil, 0},
		"taken back":                        {tighter, "amendments: []\n", "230", "changed", "title allowed source limit_by", []string{"a.yaml " + id + " s goes nonconforming conforms"}, 1},
		"graver":                            {"amendments: []\n", "amendments: [{rule: " + id + ", change: severity, severity: critical, reason: r}]\n", "150", "changed", "severity", []string{"a.yaml " + id + " s graver nonconforming nonconforming"}, 1},
		"milder":                            {"amendments: []\n", "amendments: [{rule: " + id + ", change: severity, severity: minor, reason: r}]\n", "150", "changed", "severity", []string{"a.yaml " + id + " s milder nonconforming nonconforming"}, 1},
		"graver, and kept":                  {"amendments: []\n", "amendments: [{rule: " + id + ", change: severity, severity: critical, reason: r}]\n", "230", "changed", "severity", nil, 0},
		"switched off, with a finding":      {"amendments: []\n", "amendments: [{rule: " + id + ", change: 'off', reason: r}]\n", "150", "removed", "", []string{"a.yaml " + id + " s goes nonconforming no_rule"}, 1},
		"switched off, in order":            {"amendments: []\n", "amendments: [{rule: " + id + ", change: 'off', reason: r}]\n", "230", "removed", "", nil, 0},
		"added, with a finding":             {"amendments: []\n", row("low", "measure: outlet_height_mm, allowed: {at_most: 229}"), "230", "added", "", []string{"a.yaml low s appears no_rule nonconforming"}, 1},
		"added, in order":                   {"amendments: []\n", row("low", "measure: outlet_height_mm, allowed: {at_most: 230}"), "230", "added", "", nil, 0},
		"added, and the job is silent":      {"amendments: []\n", row("guard", "measure: guarded, allowed: {is: [true]}"), "230", "added", "", []string{"a.yaml guard s appears no_rule undetermined"}, 1},
		"removed, with a finding":           {row("low", "measure: outlet_height_mm, allowed: {at_most: 229}"), "amendments: []\n", "230", "removed", "", []string{"a.yaml low s goes nonconforming no_rule"}, 1},
		"condition narrowed": {row("low", "measure: outlet_height_mm, allowed: {at_most: 300}"), row("low", "when: [{measure: outlet_height_mm, at_least: 250}], measure: outlet_height_mm, allowed: {at_most: 300}"), "230",
			"changed", "when", []string{"a.yaml low s differs conforms not_applicable"}, 1},
		"out of force": {row("low", "measure: outlet_height_mm, allowed: {at_most: 229}"), row("low", "measure: outlet_height_mm, allowed: {at_most: 229}, in_force: {from: '2199-01-01'}"), "230",
			"changed", "in_force", []string{"a.yaml low s goes nonconforming not_in_force"}, 1},
		"no longer known": {row("low", "measure: outlet_height_mm, allowed: {at_most: 229}"), row("low", "measure: tube_od_mm, allowed: {at_most: 229}"), "230",
			"changed", "measure", []string{"a.yaml low s differs nonconforming undetermined"}, 1},
		"renamed": {row("low", "measure: outlet_height_mm, allowed: {at_most: 300}"), row("not-high", "aliases: [low], measure: outlet_height_mm, allowed: {at_most: 229}"), "230",
			"changed", "id allowed", []string{"a.yaml not-high s appears conforms nonconforming"}, 1},
		"words alone": {row("low", "measure: outlet_height_mm, allowed: {at_most: 229}"), strings.Replace(row("low", "measure: outlet_height_mm, allowed: {at_most: 229}"), "why: w", "why: other", 1), "230",
			"changed", "why", nil, 0},
		"nothing": {tighter, tighter, "230", "", "", nil, 0},
	} {
		t.Run(name, func(t *testing.T) {
			x := impactOf(t, Change{Before: Side{Rulebooks: []string{firmBook(t, tc.before)}}, After: Side{Rulebooks: []string{firmBook(t, tc.after)}}}, map[string]string{"a.yaml": outletJob(tc.y)})
			require.Equal(t, tc.want, changesOf(x))
			require.Equal(t, tc.status, ImpactStatus(x))
			if tc.change == "" {
				require.Empty(t, x.Rules)
				return
			}
			require.Len(t, x.Rules, 1)
			r := x.Rules[0]
			require.Equal(t, tc.change, r.Change())
			require.Equal(t, 1, r.Jobs)
			var what []string
			for _, d := range r.Differences {
				require.NotEqual(t, d.Before, d.After)
				what = append(what, d.What)
			}
			require.Equal(t, strings.Fields(tc.differs), append([]string{}, what...))
			changed, unjudged := x.Changed()
			require.Equal(t, tc.status, changed)
			require.Zero(t, unjudged)
			require.Equal(t, changed == 1, x.Jobs[0].Reviews[0] != nil, "reviews are kept only when needed")
		})
	}
}

func TestImpactNeedsTwoSides(t *testing.T) {
	firm := firmBook(t, tighter)
	for name, tc := range map[string]struct {
		c    Change
		says string
	}{
		"nothing given":             {Change{}, "both sides are the same"},
		"the same on both":          {Change{Before: Side{Rulebooks: []string{firm}}, After: Side{Rulebooks: []string{firm}}}, "both sides are the same"},
		"no such book":              {Change{After: Side{Rulebooks: []string{"frim"}}}, `there is no rulebook "frim"`},
		"no folder to look back":    {Change{Before: Side{Revision: "main"}, After: Side{Rulebooks: []string{"regions/gb"}}}, "the revision main is for a rulebook in a folder"},
		"two books of one name":     {Change{After: Side{Rulebooks: []string{firm, firmBook(t, tighter)}}}, "the rulebook firm is given twice"},
		"a word that is no rule":    {Change{Options: Options{Only: []string{"steam-outlet-hight"}}, After: Side{Rulebooks: []string{firm}}}, `did you mean "steam-outlet-height"`},
		"a revision like an option": {Change{Before: Side{Revision: "--output=x"}, After: Side{Rulebooks: []string{firm}}}, "is no revision"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Impact(context.Background(), tc.c, jobs(map[string]string{"a.yaml": heightJob}), nil)
			require.ErrorContains(t, err, tc.says)
		})
	}
	_, err := Impact(context.Background(), Change{After: Side{Rulebooks: []string{firm}}}, nil, nil)
	require.NoError(t, err)
	require.Equal(t, report.StatusUnjudged, ImpactStatus(&verdict.Impact{}), "no job is no pass")
}

// TestImpactNarrowed tells only of some rules; a word may be known to one side alone.
func TestImpactNarrowed(t *testing.T) {
	firm := firmBook(t, tighter+"rules:\n"+houseRow("low", "measure: outlet_height_mm, allowed: {at_most: 229}"))
	for name, tc := range map[string]struct {
		o    Options
		want []string
	}{
		"all":         {Options{}, []string{"low", "steam-outlet-height"}},
		"new rule":    {Options{Only: []string{"low"}}, []string{"low"}},
		"subject":     {Options{Only: []string{"house"}}, []string{"low"}},
		"without":     {Options{Without: []string{"LOW"}}, []string{"steam-outlet-height"}},
		"another one": {Options{Only: []string{"door"}}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			x := impactOf(t, Change{Options: tc.o, After: Side{Rulebooks: []string{firm}}}, map[string]string{"a.yaml": heightJob})
			var got []string
			for _, r := range x.Rules {
				got = append(got, r.ID)
			}
			require.Equal(t, tc.want, got)
		})
	}
}

// TestImpactUnjudged keeps what a side can't judge from passing as unchanged.
func TestImpactUnjudged(t *testing.T) {
	firm := firmBook(t, tighter)
	x := impactOf(t, Change{After: Side{Rulebooks: []string{firm}}}, map[string]string{
		"bad.yaml":  "wetrule: x\n",
		"mine.yaml": "rulebooks: [firm]\n" + heightJob, // before does not have it
		"ok.yaml":   heightJob,
	})
	require.Equal(t, report.StatusUnjudged, ImpactStatus(x))
	require.Equal(t, []string{"ok.yaml steam-outlet-height s appears conforms nonconforming"}, changesOf(x))
	require.Equal(t, []bool{false, false, true}, []bool{x.Jobs[0].Judged, x.Jobs[1].Judged, x.Jobs[2].Judged})
	require.Equal(t, [2]int{report.StatusUnjudged, report.StatusFindings}, x.Jobs[1].Status)
	require.Contains(t, x.Jobs[1].Reviews[0].Problems.Error(), `the rulebook "firm" is not loaded`)

	broken := book(t, "firm", "firm", "rules:\n  - {id: own, title: T, severity: minor, from: design, applies_to: steam_outlet, measure: outlet_height_mm, rego: true, says: s, needs: [outlet_height_mm], why: w, remedy: r, source: {id: house, basis: read}}\n")
	require.NoError(t, os.Mkdir(filepath.Join(broken, "rego"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(broken, "rego", "own.rego"), []byte(`package wetrule.rules

findings contains ["own", input.steam_outlet.id[i], "x", "y"] if {
	some i, v in input.steam_outlet.outlet_height_mm
	v > 0
}
`), 0o600))
	x = impactOf(t, Change{After: Side{Rulebooks: []string{broken}}}, map[string]string{"a.yaml": heightJob})
	require.Equal(t, report.StatusUnjudged, ImpactStatus(x))
	require.Equal(t, []string{"a.yaml own s appears no_rule not_judged"}, changesOf(x))
}

// TestImpactOfLeaves tells of concessions that a change of the rulebook gives work or takes the ground from.
func TestImpactOfLeaves(t *testing.T) {
	job := strings.Replace(lowJob, "y_mm: 150", "y_mm: 230", 1) + leaveOf(strings.Replace(goodLeave, "down_to: 150", "down_to: 230", 1))
	x := impactOf(t, Change{After: Side{Rulebooks: []string{firmBook(t, tighter)}}}, map[string]string{"a.yaml": job})
	require.Equal(t, []string{"a.yaml steam-outlet-height s differs conforms nonconforming"}, changesOf(x), "conceded, so no finding")
	require.Equal(t, [2][]string{{"minor: leave for steam-outlet-height of s: it is not needed: the item conforms"}, nil}, x.Jobs[0].Faults)

	critical := firmBook(t, "amendments: [{rule: steam-outlet-height, change: severity, severity: critical, reason: r}]\n")
	x = impactOf(t, Change{After: Side{Rulebooks: []string{critical}}}, map[string]string{"a.yaml": lowJob + leaveOf(goodLeave)})
	require.Equal(t, []string{"a.yaml steam-outlet-height blank graver undetermined undetermined", "a.yaml steam-outlet-height s appears nonconforming nonconforming"}, changesOf(x))
	require.Equal(t, [2][]string{nil, {"critical: leave for steam-outlet-height of s: the rule is critical: two people must give it"}}, x.Jobs[0].Faults)
}

// TestImpactByCountryAndDate has a rule differ in two ways, as the jobs are of two dates, and tells of a change that no job meets yet.
func TestImpactByCountryAndDate(t *testing.T) {
	firm := firmBook(t, strings.Replace(tighter, "reason: r", "reason: r, in_force: {from: '2026-05-01'}", 1))
	later := strings.Replace(heightJob, "2026-01-01", "2026-05-01", 1)
	x := impactOf(t, Change{After: Side{Rulebooks: []string{firm}}}, map[string]string{"a.yaml": heightJob, "b.yaml": later})
	require.Equal(t, []string{"b.yaml steam-outlet-height s appears conforms nonconforming"}, changesOf(x))
	require.Len(t, x.Rules, 1)
	require.Equal(t, 1, x.Rules[0].Jobs)
	x = impactOf(t, Change{After: Side{Rulebooks: []string{firm}}}, map[string]string{"a.yaml": heightJob})
	require.Len(t, x.Rules, 1, "what comes later is told")
	require.Zero(t, x.Rules[0].Jobs)
	require.Equal(t, report.StatusClean, ImpactStatus(x))
}

// TestImpactInPlaceOfAShippedRulebook compares a folder of the name of a rulebook that comes with wetrule with it.
func TestImpactInPlaceOfAShippedRulebook(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("../policies/core")))
	x := impactOf(t, Change{After: Side{Rulebooks: []string{dir}}}, map[string]string{"a.yaml": outletJob("200")})
	require.Empty(t, x.Rules)
	file := filepath.Join(dir, "rules", "steam.yaml")
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	changed := strings.Replace(string(data), "[200, 300]", "[201, 300]", 1)
	require.NotEqual(t, string(data), changed)
	require.NoError(t, os.WriteFile(file, []byte(changed), 0o600))
	x = impactOf(t, Change{After: Side{Rulebooks: []string{dir}}}, map[string]string{"a.yaml": outletJob("200")})
	require.Equal(t, []string{"a.yaml steam-outlet-height s appears conforms nonconforming"}, changesOf(x))
	require.Equal(t, []verdict.Difference{{What: "allowed", Before: "200 to 300 mm", After: "201 to 300 mm"}}, x.Rules[0].Differences)
}

// TestImpactSameInputsSameBytes holds the output against the number of cores and the size of the batch.
func TestImpactSameInputsSameBytes(t *testing.T) {
	texts := map[string]string{}
	for i := range 150 {
		texts[fmt.Sprintf("jobs/%03d.yaml", i)] = outletJob(fmt.Sprint(190 + i))
	}
	firm := firmBook(t, tighter)
	write := func(format string, done func(int)) string {
		x, err := Impact(context.Background(), Change{Judged: strict, After: Side{Rulebooks: []string{firm}}}, jobs(texts), done)
		require.NoError(t, err)
		require.Len(t, x.Jobs, 150)
		var b bytes.Buffer
		require.NoError(t, report.Impact(&b, format, x, ImpactStatus(x), strict))
		return b.String()
	}
	for _, format := range []string{"text", "json"} {
		want := write(format, nil)
		before := runtime.GOMAXPROCS(1)
		got := write(format, nil)
		runtime.GOMAXPROCS(before)
		require.Equal(t, want, got)
	}
	most := make(chan int, 300)
	write("text", func(n int) { most <- n })
	close(most)
	top, n := 0, 0
	for v := range most {
		top = max(top, v)
		n++
	}
	require.Equal(t, 300, top)
	require.Equal(t, 300, n)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Impact(ctx, Change{After: Side{Rulebooks: []string{firm}}}, jobs(texts), nil)
	require.ErrorIs(t, err, context.Canceled)
}

// needGit skips loudly without the program git, and fails where nothing may be skipped.
func needGit(t *testing.T) {
	t.Helper()
	if _, err := exec.LookPath("git"); err != nil {
		if os.Getenv("WETRULE_NO_SKIP") == "1" {
			t.Fatal("the program git is not found, and WETRULE_NO_SKIP=1 forbids to skip")
		}
		t.Skip("SKIPPED: the program git is not found; nothing of revisions is tested")
	}
}

// checkout makes a git checkout and returns a function that runs git in it.
func checkout(t *testing.T) (dir string, run func(args ...string) string) {
	t.Helper()
	needGit(t)
	dir = t.TempDir()
	for _, v := range local {
		if old, ok := os.LookupEnv(v); ok { // as inside a hook
			require.NoError(t, os.Unsetenv(v))
			t.Cleanup(func() { os.Setenv(v, old) })
		}
	}
	t.Setenv("GIT_CONFIG_GLOBAL", os.DevNull)
	t.Setenv("GIT_CONFIG_NOSYSTEM", "1")
	run = func(args ...string) string {
		t.Helper()
		c := exec.Command("git", append([]string{"-c", "user.name=t", "-c", "user.email=t@t.test", "-c", "core.autocrlf=false"}, args...)...)
		c.Dir = dir
		out, err := c.CombinedOutput()
		require.NoError(t, err, "%s", out)
		return strings.TrimSpace(string(out))
	}
	run("init", "-q", "-b", "main")
	return dir, run
}

// TestImpactOfARevision reads the rulebook of before from the objects of git, and leaves the checkout as it is.
func TestImpactOfARevision(t *testing.T) {
	dir, run := checkout(t)
	put := func(rules string) {
		require.NoError(t, os.RemoveAll(filepath.Join(dir, "books")))
		require.NoError(t, os.CopyFS(filepath.Join(dir, "books", "firm"), os.DirFS(firmBook(t, rules))))
		// Attributes that would keep files out of an archive, or change them, do not matter.
		require.NoError(t, os.WriteFile(filepath.Join(dir, "books", "firm", ".gitattributes"), []byte("rules/* export-ignore\n*.yaml export-subst\n"), 0o600))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "books", "firm", "notes.txt"), []byte(rules), 0o600))
	}
	put("amendments: []\n")
	run("add", "-A")
	run("commit", "-q", "-m", "one")
	one := run("rev-parse", "HEAD")
	put(tighter)
	run("add", "-A")
	run("commit", "-q", "-m", "two")
	run("tag", "second")
	firm := filepath.Join(dir, "books", "firm")
	state := func() string {
		return run("status", "--porcelain") + run("rev-parse", "HEAD") + run("count-objects", "-v")
	}
	clean := state()

	texts := map[string]string{"a.yaml": heightJob}
	appears := []string{"a.yaml steam-outlet-height s appears conforms nonconforming"}
	goes := []string{"a.yaml steam-outlet-height s goes nonconforming conforms"}
	x := impactOf(t, Change{Before: Side{Revision: "HEAD~1"}, After: Side{Rulebooks: []string{firm}}}, texts)
	require.Equal(t, appears, changesOf(x))
	b := x.Books[verdict.Before][1]
	require.Equal(t, []string{"firm", "HEAD~1", one}, []string{b.Name, b.Revision, b.Commit})
	require.Equal(t, verdict.Origin{Manifest: b.Manifest, Folder: shown(firm)}, x.Books[verdict.After][1])
	require.Equal(t, goes, changesOf(impactOf(t, Change{Before: Side{Rulebooks: []string{firm}}, After: Side{Revision: one[:12]}}, texts)))
	require.Equal(t, appears, changesOf(impactOf(t, Change{Options: Options{Rulebooks: []string{firm}}, Before: Side{Revision: "main~1"}, After: Side{Revision: "second"}}, texts)))
	require.Empty(t, changesOf(impactOf(t, Change{Before: Side{Rulebooks: []string{firm}, Revision: "second"}, After: Side{Rulebooks: []string{firm}}}, texts)))
	require.Equal(t, clean, state(), "nothing is written into the checkout")

	// As inside a hook, where variables tie git to another folder.
	t.Setenv("GIT_DIR", filepath.Join(dir, "nowhere"))
	t.Setenv("GIT_WORK_TREE", filepath.Join(dir, "nowhere"))
	require.Equal(t, appears, changesOf(impactOf(t, Change{Before: Side{Revision: one}, After: Side{Rulebooks: []string{firm}}}, texts)))
	os.Unsetenv("GIT_DIR")
	os.Unsetenv("GIT_WORK_TREE")

	// The folder need not be there any more, and its files are read as they were.
	require.NoError(t, os.RemoveAll(filepath.Join(dir, "books")))
	x = impactOf(t, Change{Options: Options{Rulebooks: []string{firm}}, Before: Side{Revision: one}, After: Side{Revision: "second"}}, texts)
	require.Equal(t, appears, changesOf(x))

	read := func(folder, revision string) error {
		_, err := ReadRevision(context.Background(), folder, revision)
		return err
	}
	require.NoError(t, read(firm, "main"))
	require.ErrorContains(t, read(firm, "mian"), `there is no revision "mian"`)
	require.ErrorContains(t, read(filepath.Join(dir, "books", "frim"), "main"), "does not exist in the revision main")
	require.ErrorContains(t, read(t.TempDir(), "main"), "is not in a git checkout")
	for _, bad := range []string{"", "-h", "main:books", "a\nb"} {
		require.ErrorContains(t, read(firm, bad), "is no revision")
	}

	// A fault of the rulebook has its place as git names it.
	put("amendments: [{rule: steam-outlet-hight, change: 'off', reason: r}]\n")
	run("add", "-A")
	run("commit", "-q", "-m", "three")
	_, err := Impact(context.Background(), Change{Judged: strict, Options: Options{Rulebooks: []string{firm}}, Before: Side{Revision: "HEAD"}}, jobs(texts), nil)
	require.ErrorContains(t, err, `HEAD:books/firm/rules/a.yaml:2:`)

	// Links are no files of a rulebook.
	put(tighter)
	require.NoError(t, os.WriteFile(filepath.Join(firm, "zones.yaml"), []byte("zones: 1\n"), 0o600))
	run("add", "-A")
	run("commit", "-q", "-m", "zones")
	_, _, err = OpenRevision(context.Background(), firm, "HEAD")
	require.ErrorContains(t, err, "HEAD:books/firm/zones.yaml:1:", "no file that a rulebook may have is left out")
	require.NoError(t, os.Remove(filepath.Join(firm, "zones.yaml")))
	require.NoError(t, os.Remove(filepath.Join(firm, "rules", "a.yaml")))
	require.NoError(t, os.Symlink("../notes.txt", filepath.Join(firm, "rules", "a.yaml")))
	run("add", "-A")
	run("commit", "-q", "-m", "four")
	require.ErrorContains(t, read(firm, "HEAD"), "rules/a.yaml is no plain file")

	t.Setenv("PATH", t.TempDir())
	require.ErrorContains(t, read(firm, "main"), "the program git reads rulebooks of a revision, and it is not found")
}

func TestRegions(t *testing.T) {
	strictBook := book(t, "strict", "region", tighter)
	grave := book(t, "grave", "region", "amendments: [{rule: steam-outlet-height, change: severity, severity: critical, reason: r}]\nrules:\n"+houseRow("low", "measure: outlet_height_mm, allowed: {at_most: 229}"))
	off := book(t, "off", "region", "amendments: [{rule: steam-outlet-height, change: 'off', reason: r}]\n")
	for name, text := range map[string]string{
		"no country":         heightJob,
		"a country":          "country: GB\n" + heightJob,
		"a country unknown":  "country: ZZ\n" + heightJob,
		"a region by name":   "rulebooks: [core, regions/gb]\n" + heightJob,
		"no rulebook at all": "rulebooks: [core]\n" + heightJob,
	} {
		t.Run(name, func(t *testing.T) {
			x := regionsOf(t, Options{}, text, strictBook, grave, off)
			require.True(t, x.Judged())
			var got []string
			for _, row := range x.Rows {
				if row.Differs {
					s := row.RuleID + " " + row.Subject.ID
					for _, c := range row.Cells {
						s += " " + c.Outcome()
					}
					got = append(got, s)
				}
			}
			require.Equal(t, []string{"low s no_rule no_rule nonconforming no_rule", "steam-outlet-height s conforms nonconforming conforms no_rule"}, got)
			require.Equal(t, "strict", x.Rows[slices.IndexFunc(x.Rows, func(r *verdict.RegionRow) bool { return r.RuleID == "steam-outlet-height" })].Cells[1].Rule.LimitBy())
			for _, c := range x.Columns {
				require.NotContains(t, strings.Join(c.Review.Notices, "\n"), "No rulebook for the country")
			}
		})
	}
	x := regionsOf(t, Options{}, heightJob, ShippedRegions()...)
	require.Len(t, x.Columns, 1+len(ShippedRegions()))
	require.True(t, x.Judged())

	// A firm's rulebook lies over each region; one that the job names and nobody loads is a problem with its place.
	firm := firmBook(t, "rules:\n"+houseRow("own", "measure: outlet_height_mm, allowed: {at_most: 229}"))
	x = regionsOf(t, Options{Rulebooks: []string{firm}}, "rulebooks: [regions/gb, firm]\n"+heightJob, strictBook)
	for _, c := range x.Columns {
		require.NotNil(t, c.Rules["own"])
	}
	x = regionsOf(t, Options{}, "rulebooks: [regions/gb, firm]\n"+heightJob, strictBook)
	require.False(t, x.Judged())
	require.Equal(t, 25, x.Columns[0].Review.Problems[0].Col)
	_, err := Regions(context.Background(), Options{}, jobOf(t, heightJob), []string{strictBook, strictBook})
	require.ErrorContains(t, err, "the rulebook strict is given twice")
	_, err = Regions(context.Background(), Options{}, jobOf(t, heightJob), []string{"regions/zz"})
	require.Error(t, err)
}

func jobOf(t *testing.T, text string) *jobfile.File {
	t.Helper()
	f, err := jobfile.Load("job.yaml", []byte(text))
	require.NoError(t, err)
	return f
}

func regionsOf(t *testing.T, o Options, text string, names ...string) *verdict.Regions {
	t.Helper()
	x, err := Regions(context.Background(), o, jobOf(t, text), names)
	require.NoError(t, err)
	return x
}
