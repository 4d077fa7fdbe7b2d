package lint

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
)

// houseRow is a row of a rulebook beside core.
func houseRow(id, more string) string {
	return "  - {id: " + id + ", title: T, severity: minor, from: design, applies_to: steam_outlet, " + more + ", why: w, remedy: r, source: {id: house, basis: read}}\n"
}

func ids(rules []*rulebook.Rule) (out []string) {
	for _, r := range rules {
		out = append(out, r.ID)
	}
	return out
}

func TestOpenRulebookByNameOrFolder(t *testing.T) {
	b, err := OpenRulebook("core")
	require.NoError(t, err)
	require.Equal(t, "core", b.Name)
	dir := book(t, "house", "firm", "rules:\n"+houseRow("low", "measure: outlet_height_mm, allowed: {at_most: 280}"))
	for _, name := range []string{dir, dir + "/", dir + "/."} {
		b, err := OpenRulebook(name)
		require.NoError(t, err, name)
		require.Equal(t, "house", b.Name)
		require.Equal(t, filepath.ToSlash(dir)+"/rules/a.yaml", b.Rules[0].Pos.File())
	}
	// Inside the working folder its files are called by their path from there.
	t.Chdir(filepath.Dir(dir))
	for _, name := range []string{dir, "./house", "../" + filepath.Base(filepath.Dir(dir)) + "/house/"} {
		b, err := OpenRulebook(name)
		require.NoError(t, err, name)
		require.Equal(t, "house/rules/a.yaml", b.Rules[0].Pos.File(), name)
	}

	require.NoError(t, os.WriteFile("plain.txt", nil, 0o600))
	require.NoError(t, os.Mkdir("empty", 0o755))
	for name, want := range map[string]string{
		"cor":             `there is no rulebook "cor"; did you mean "core"?`,
		"xxxxxxxxxxxx":    `there is no rulebook "xxxxxxxxxxxx"; known: ` + strings.Join(policies.Books(), ", "),
		"":                `there is no rulebook ""; known: ` + strings.Join(policies.Books(), ", "),
		"./nowhere":       "rulebook ./nowhere cannot be read: no such file or directory",
		"nowhere/at/all":  "rulebook nowhere/at/all cannot be read: no such file or directory",
		"plain.txt":       "rulebook plain.txt is not a folder",
		"plain.txt/inner": "rulebook plain.txt/inner cannot be read: not a directory",
		"empty":           "empty/rulebook.yaml: cannot be read: no such file or directory",
	} {
		_, err := OpenRulebook(name)
		require.EqualError(t, err, want, name)
	}
}

func TestOpenRulebooksOpensEachOnce(t *testing.T) {
	dir := book(t, "house", "firm", "rules:\n"+houseRow("low", "measure: outlet_height_mm, allowed: {at_most: 280}"))
	t.Chdir(filepath.Dir(dir))
	books, err := OpenRulebooks([]string{"house", dir, "core", "./house/", "core"})
	require.NoError(t, err)
	require.Len(t, books, 2)
	require.Equal(t, []string{"core", "house"}, []string{books[0].Name, books[1].Name})
	_, err = OpenRulebooks([]string{"house", "hous"})
	require.ErrorContains(t, err, `there is no rulebook "hous"`)

	// Two rulebooks of one name, and rules of one id, are refused.
	other := book(t, "house", "firm", "rules:\n"+houseRow("lower", "measure: outlet_height_mm, allowed: {at_most: 270}"))
	_, err = New(Options{Rulebooks: []string{dir, other}})
	require.ErrorContains(t, err, "the rulebook house is given twice")
	for _, row := range []string{houseRow("steam-outlet-height", "measure: outlet_height_mm, allowed: {at_most: 280}"),
		houseRow("low", "aliases: [steam-outlet-height], measure: outlet_height_mm, allowed: {at_most: 280}")} {
		_, err = New(Options{Rulebooks: []string{book(t, "house", "firm", "rules:\n"+row)}})
		require.ErrorContains(t, err, `rule "steam-outlet-height" is in the rulebook core too`)
	}
}

func TestNewRefusesBadOptions(t *testing.T) {
	for want, o := range map[string]Options{
		`there is no stage "as_build"; did you mean "as_built"?`:                                {Stage: "as_build"},
		`there is no stage "never"; known: design, site, as_built`:                              {Stage: "never"},
		`"2026-02-30" is not a date (YYYY-MM-DD)`:                                               {On: "2026-02-30"},
		`"yesterday" is not a date (YYYY-MM-DD)`:                                                {On: "yesterday"},
		`there is no rulebook "cores"; did you mean "core"?`:                                    {Rulebooks: []string{"cores"}},
		`there is no rule or subject "steam-outlet-hight"; did you mean "steam-outlet-height"?`: {Only: []string{"steam-outlet-hight"}},
		`there is no rule or subject "steem"; did you mean "steam"?`:                            {Without: []string{"steem"}},
		`there is no rule or subject ""`:                                                        {Only: []string{""}},
		"no rule is left to judge by":                                                           {Only: []string{"steam-outlet-height"}, Without: []string{"steam"}},
	} {
		_, err := New(o)
		require.EqualError(t, err, want)
	}
}

func TestChooseByIdAliasAndSubject(t *testing.T) {
	rules := []*rulebook.Rule{{ID: "a-one", Subject: "alpha", Aliases: []string{"was-one", "older"}}, {ID: "a-two", Subject: "alpha"}, {ID: "b-one", Subject: "beta"}}
	for _, tc := range []struct{ only, without, want []string }{
		{nil, nil, []string{"a-one", "a-two", "b-one"}},
		{[]string{"alpha"}, nil, []string{"a-one", "a-two"}},
		{[]string{"ALPHA"}, nil, []string{"a-one", "a-two"}},
		{[]string{"a-one"}, nil, []string{"a-one"}},
		{[]string{"A-One"}, nil, []string{"a-one"}},
		{[]string{"was-one"}, nil, []string{"a-one"}},
		{[]string{"Was-One"}, nil, []string{"a-one"}},
		{[]string{"older", "b-one"}, nil, []string{"a-one", "b-one"}},
		{[]string{"a-one", "a-one", "alpha"}, nil, []string{"a-one", "a-two"}},
		{nil, []string{"alpha"}, []string{"b-one"}},
		{nil, []string{"OLDER"}, []string{"a-two", "b-one"}},
		{[]string{"alpha"}, []string{"a-two"}, []string{"a-one"}},
		{[]string{"alpha", "beta"}, []string{"b-one", "was-one"}, []string{"a-two"}},
	} {
		got, err := choose(rules, tc.only, tc.without)
		require.NoError(t, err)
		require.Equal(t, tc.want, ids(got), "%v %v", tc.only, tc.without)
	}
	_, err := choose(rules, nil, []string{"alpha", "b-one"})
	require.EqualError(t, err, "no rule is left to judge by")
	_, err = choose(rules, []string{"alpha"}, []string{"a-tow"})
	require.EqualError(t, err, `there is no rule or subject "a-tow"; did you mean "a-two"?`)

	for _, word := range []string{"a-one", "A-ONE", "was-one", "WAS-ONE"} {
		r, err := FindRule(rules, word)
		require.NoError(t, err)
		require.Same(t, rules[0], r)
	}
	_, err = FindRule(rules, "alpha")
	require.EqualError(t, err, `there is no rule "alpha"; known: a-one, a-two, b-one`)
}

func TestOnlyNarrowsTheReview(t *testing.T) {
	l, err := New(Options{Only: []string{"Steam"}, Without: []string{"steam-outlet-height"}})
	require.NoError(t, err)
	require.NotContains(t, ids(l.Rules()), "steam-outlet-height")
	require.Contains(t, ids(l.Rules()), "steam-outlet-guarded")
	r, err := l.Review(context.Background(), "job.yaml", []byte(heightJob))
	require.NoError(t, err)
	for _, v := range r.Verdicts {
		require.Equal(t, "steam", v.Rule.Subject)
		require.NotEqual(t, "steam-outlet-height", v.Rule.ID)
	}
	require.NotEmpty(t, r.Verdicts)
}

// Rego of rules that are left out neither gives verdicts nor takes others down when it breaks off.
func TestRegoOfRulesThatAreLeftOut(t *testing.T) {
	rows := "rules:\n"
	for _, id := range []string{"crash", "own"} {
		rows += houseRow(id, "measure: outlet_height_mm, rego: true, says: so, needs: [outlet_height_mm]")
	}
	dir := book(t, "house", "firm", rows)
	require.NoError(t, os.Mkdir(filepath.Join(dir, "rego"), 0o755))
	for id, body := range map[string]string{"crash": `to_number("no number") > v`, "own": "v != null\n\tv > 200"} {
		text := "package wetrule.rules\n\nfindings contains [\"" + id + "\", input.steam_outlet.id[i], v] if {\n\tsome i, v in input.steam_outlet.outlet_height_mm\n\t" + body + "\n}\n"
		require.NoError(t, os.WriteFile(filepath.Join(dir, "rego", id+".rego"), []byte(text), 0o600))
	}
	for _, tc := range []struct {
		o    Options
		want map[string]string
	}{
		{Options{}, map[string]string{"crash": "not_judged", "own": "nonconforming", "steam-outlet-height": "conforms"}},
		{Options{Without: []string{"crash"}}, map[string]string{"crash": "not_applicable", "own": "nonconforming", "steam-outlet-height": "conforms"}},
		{Options{Only: []string{"own"}}, map[string]string{"crash": "not_applicable", "own": "nonconforming", "steam-outlet-height": "not_applicable"}},
		{Options{Only: []string{"steam-outlet-height"}}, map[string]string{"crash": "not_applicable", "own": "not_applicable", "steam-outlet-height": "conforms"}},
	} {
		tc.o.Rulebooks = []string{dir}
		r := reviewWith(t, tc.o, heightJob)
		for rule, want := range tc.want {
			require.Equal(t, want, outcomeOf(t, r, rule, "s"), "%v %s", tc.o, rule)
		}
		require.Equal(t, tc.want["crash"] != "not_judged", r.Judged())
	}
}

func TestStageAndDateOfTheOptionsStandInPlaceOfTheJobs(t *testing.T) {
	dir := book(t, "house", "firm", "rules:\n"+houseRow("old", "in_force: {from: 2020-01-01, until: 2026-01-01}, measure: outlet_height_mm, allowed: {at_most: 100}")+
		strings.Replace(houseRow("late", "measure: guarded, allowed: {is: [true]}"), "from: design", "from: as_built", 1))
	for _, tc := range []struct {
		stage, on         string
		old, late, stayed string
		wantStage         rulebook.Stage
		wantOn            string
	}{
		{"", "", "not_in_force", "undetermined", "conforms", rulebook.AsBuilt, "2026-01-01"},
		{"design", "", "not_in_force", "not_applicable", "conforms", rulebook.Design, "2026-01-01"},
		{"as-built", "2025-12-31", "nonconforming", "undetermined", "conforms", rulebook.AsBuilt, "2025-12-31"},
		{"site", "2019-12-31", "not_in_force", "not_applicable", "conforms", rulebook.Site, "2019-12-31"},
	} {
		r := reviewWith(t, Options{Rulebooks: []string{dir}, Stage: tc.stage, On: tc.on}, heightJob)
		require.Equal(t, []string{tc.old, tc.late, tc.stayed}, []string{outcomeOf(t, r, "old", "s"), outcomeOf(t, r, "late", "s"), outcomeOf(t, r, "steam-outlet-height", "s")}, tc)
		require.Equal(t, tc.wantStage, r.Stage)
		require.Equal(t, tc.wantOn, r.On)
	}
}

func TestRulebookThatAJobNamesMustBeThere(t *testing.T) {
	job := strings.Replace(heightJob, "room:", "rulebooks: [core, hous,\n  firms/none]\nroom:", 1)
	l, err := New(Options{Rulebooks: []string{book(t, "house", "firm", "rules:\n"+houseRow("low", "measure: outlet_height_mm, allowed: {at_most: 280}"))}})
	require.NoError(t, err)
	r, err := l.Review(context.Background(), "job.yaml", []byte(job))
	require.NoError(t, err)
	require.Len(t, r.Problems, 2)
	require.Contains(t, r.Problems[0].Error(), `job.yaml:5:19: the rulebook "hous" is not loaded; did you mean "house"?`)
	require.Contains(t, r.Problems[1].Error(), `job.yaml:6:3: the rulebook "firms/none" is not loaded`)
	require.Equal(t, "/rulebooks/1", r.Problems[1-1].Pointer)
	require.Empty(t, r.Verdicts)
	require.False(t, r.Judged())
	require.Equal(t, report.StatusUnjudged, report.Options{}.Status([]*verdict.Review{r}))

	r, err = l.Review(context.Background(), "job.yaml", []byte(strings.Replace(heightJob, "room:", "rulebooks: [house]\nroom:", 1)))
	require.NoError(t, err)
	require.Empty(t, r.Problems)
	require.Equal(t, "conforms", outcomeOf(t, r, "low", "s"))
}

func TestNoticeWhenTheCountryHasNoRulebook(t *testing.T) {
	for country, want := range map[string]bool{"": false, "ZZ": true} {
		job := heightJob
		if country != "" {
			job = "country: " + country + "\n" + job
		}
		r := reviewText(t, job)
		require.Equal(t, want, slices.Contains(r.Notices, "No rulebook for the country "+country+" is applied: its law and codes are not covered by this review."), country)
	}
}

// Rulebooks of one job that leave nothing of what was chosen do not keep other jobs from being judged.
func TestRuleThatALayerSwitchesOffIsTold(t *testing.T) {
	off := book(t, "firm", "firm", "amendments: [{rule: steam-outlet-height, change: off, reason: We set no outlets., in_force: {from: 2026-01-01}}]\n")
	l, err := New(Options{Rulebooks: []string{off}, Only: []string{"steam-outlet-height"}})
	require.NoError(t, err)
	early := strings.Replace(heightJob, "2026-01-01", "2025-12-31", 1)
	b, err := l.ReviewAll(context.Background(), []Input{{Name: "a.yaml", Data: []byte(heightJob)}, {Name: "b.yaml", Data: []byte(early)}}, nil)
	require.NoError(t, err)
	require.Len(t, b.Reviews, 2)
	require.Contains(t, b.Reviews[0].Problems.Error(), `a.yaml: cannot be judged: there is no rule or subject "steam-outlet-height"`)
	require.Equal(t, "conforms", outcomeOf(t, b.Reviews[1], "steam-outlet-height", "s"))
}

// tree writes files into a new working folder; the name of a folder ends in a slash, and what is linked follows an arrow.
func tree(t *testing.T, names ...string) string {
	t.Helper()
	dir := t.TempDir()
	t.Chdir(dir)
	for _, name := range names {
		if name, to, link := strings.Cut(name, " -> "); link {
			require.NoError(t, os.Symlink(to, name))
			continue
		}
		require.NoError(t, os.MkdirAll(filepath.Dir(name), 0o755))
		if !strings.HasSuffix(name, "/") {
			require.NoError(t, os.WriteFile(name, []byte("title: "+name+"\n"), 0o600))
		}
	}
	return dir
}

// collected writes inputs as names; a star marks those that were found in a folder.
func collected(t *testing.T, args ...string) string {
	t.Helper()
	inputs, err := Collect(args, strings.NewReader("from stdin"))
	require.NoError(t, err)
	var out []string
	for _, in := range inputs {
		if in.FromFolder {
			in.Name = "*" + in.Name
		}
		if in.Data != nil {
			in.Name += "=" + string(in.Data)
		}
		out = append(out, in.Name)
	}
	return strings.Join(out, " ")
}

func TestCollect(t *testing.T) {
	dir := tree(t, "a.yaml", "b.txt", "jobs/c.yml", "jobs/d.JSON", "jobs/e.txt", "jobs/deep/er/f.yaml", "jobs/.hidden.yaml", "jobs/.git/g.yaml", ".h/i.yaml", "none/",
		"jobs/link.yaml -> c.yml", "jobs/linked -> deep", "tojobs -> jobs", "tofile.yaml -> jobs/c.yml", "jobs/broken.yaml -> nowhere")
	outside := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(outside, "z.yaml"), nil, 0o600))
	base := filepath.Base(dir)
	for _, tc := range []struct {
		args []string
		want string
	}{
		{nil, ""},
		{[]string{"a.yaml"}, "a.yaml"},
		{[]string{"b.txt"}, "b.txt"}, // whatever is named is read
		{[]string{"./a.yaml", "a.yaml", "jobs/../a.yaml"}, "a.yaml"},
		{[]string{filepath.Join(dir, "a.yaml"), "a.yaml"}, "a.yaml"},
		{[]string{"../" + base + "/a.yaml"}, "a.yaml"},
		{[]string{"jobs"}, "*jobs/c.yml *jobs/d.JSON *jobs/deep/er/f.yaml"},
		{[]string{"jobs/"}, "*jobs/c.yml *jobs/d.JSON *jobs/deep/er/f.yaml"},
		{[]string{dir + "/jobs"}, "*jobs/c.yml *jobs/d.JSON *jobs/deep/er/f.yaml"},
		{[]string{"."}, "*a.yaml *jobs/c.yml *jobs/d.JSON *jobs/deep/er/f.yaml"},
		{[]string{dir}, "*a.yaml *jobs/c.yml *jobs/d.JSON *jobs/deep/er/f.yaml"},
		{[]string{"jobs", "jobs/c.yml"}, "jobs/c.yml *jobs/d.JSON *jobs/deep/er/f.yaml"},
		{[]string{"jobs/c.yml", "jobs"}, "jobs/c.yml *jobs/d.JSON *jobs/deep/er/f.yaml"},
		{[]string{"jobs/deep", "jobs"}, "*jobs/c.yml *jobs/d.JSON *jobs/deep/er/f.yaml"},
		{[]string{"jobs/.hidden.yaml"}, "jobs/.hidden.yaml"}, // named, so it is meant
		{[]string{"jobs/.git"}, "*jobs/.git/g.yaml"},
		{[]string{".h"}, "*.h/i.yaml"},
		{[]string{"tofile.yaml"}, "tofile.yaml"},
		{[]string{"tojobs"}, "*tojobs/c.yml *tojobs/d.JSON *tojobs/deep/er/f.yaml"},
		{[]string{"tojobs/"}, "*tojobs/c.yml *tojobs/d.JSON *tojobs/deep/er/f.yaml"},
		{[]string{"none"}, ""},
		{[]string{"-"}, "stdin=from stdin"},
		{[]string{"-", "a.yaml", "-"}, "a.yaml stdin=from stdin"},
		{[]string{filepath.Join(outside, "z.yaml")}, filepath.ToSlash(outside) + "/z.yaml"},
		{[]string{outside + "/"}, "*" + filepath.ToSlash(outside) + "/z.yaml"},
		{[]string{"../" + filepath.Base(outside)}, "*../" + filepath.Base(outside) + "/z.yaml"},
	} {
		require.Equal(t, tc.want, collected(t, tc.args...), tc.args)
	}
	for arg, want := range map[string]string{
		"missing.yaml":     "missing.yaml cannot be read: no such file or directory",
		"jobs/broken.yaml": "jobs/broken.yaml cannot be read: no such file or directory",
		"a.yaml/b":         "a.yaml/b cannot be read: not a directory",
	} {
		_, err := Collect([]string{"a.yaml", arg}, nil)
		require.EqualError(t, err, want)
	}
	_, err := Collect([]string{"-"}, iotest.ErrReader(errors.New("broken pipe")))
	require.EqualError(t, err, "standard input cannot be read: broken pipe")
	inputs, err := Collect([]string{"-"}, bytes.NewReader(make([]byte, 3*jobfile.MaxFileBytes)))
	require.NoError(t, err)
	require.Len(t, inputs[0].Data, jobfile.MaxFileBytes+1, "no more is read than shows that it is too much")
	inputs, err = Collect([]string{"-"}, strings.NewReader(""))
	require.NoError(t, err)
	require.NotNil(t, inputs[0].Data, "empty standard input is not read as a file of that name")
}

// A step up behind a link leads elsewhere than the letters say; the file that was named is the one that is read.
func TestCollectFollowsStepsUpBehindLinks(t *testing.T) {
	tree(t, "x.yaml", "real/deep/y.yaml", "real/x.yaml", "link -> real/deep")
	require.Equal(t, "link/../x.yaml", collected(t, "link/../x.yaml"))
	data, err := os.ReadFile(filepath.FromSlash("link/../x.yaml"))
	require.NoError(t, err)
	require.Equal(t, "title: real/x.yaml\n", string(data))
	require.Equal(t, "*link/../deep/y.yaml *link/../x.yaml", collected(t, "link/.."))
}

// A working folder that is reached by a link is the same folder.
func TestCollectFromALinkedWorkingFolder(t *testing.T) {
	dir := tree(t, "real/a.yaml", "link -> real")
	real, err := filepath.EvalSymlinks(dir)
	require.NoError(t, err)
	t.Chdir(filepath.Join(dir, "link"))
	require.Equal(t, "a.yaml", collected(t, filepath.Join(dir, "link", "a.yaml")))
	require.Equal(t, "a.yaml", collected(t, filepath.Join(real, "real", "a.yaml")))
}

// Files with the names that stand for standard input are files all the same.
func TestFilesNamedLikeStandardInput(t *testing.T) {
	tree(t, "stdin", "-")
	require.Equal(t, "./- ./stdin stdin=from stdin", collected(t, "stdin", "./-", "-"))
	l := core(t)
	inputs, err := Collect([]string{"stdin", "./-"}, nil)
	require.NoError(t, err)
	b, err := l.ReviewAll(context.Background(), inputs, nil)
	require.NoError(t, err)
	require.Len(t, b.Reviews, 2)
	for _, r := range b.Reviews {
		require.NotContains(t, r.Problems.Error(), "cannot be read")
	}
}

// Reviews of two copies of a tree are the same, however their files are named.
func TestReviewsOfTwoCopiesAreEqual(t *testing.T) {
	render := func(arg func(dir string) string) string {
		dir := tree(t, "jobs/")
		require.NoError(t, os.WriteFile("jobs/low.yaml", []byte(strings.Replace(heightJob, "230", "150", 1)), 0o600))
		inputs, err := Collect([]string{arg(dir)}, nil)
		require.NoError(t, err)
		b, err := core(t).ReviewAll(context.Background(), inputs, nil)
		require.NoError(t, err)
		var out bytes.Buffer
		for _, format := range report.Formats() {
			require.NoError(t, report.Write(&out, format, b.Reviews, report.Options{Version: "test", FailAt: rulebook.Minor}))
		}
		return out.String()
	}
	want := render(func(string) string { return "jobs" })
	require.Contains(t, want, "jobs/low.yaml:6:")
	require.Equal(t, want, render(func(dir string) string { return filepath.Join(dir, "jobs", "low.yaml") }))
	require.Equal(t, want, render(func(dir string) string { return dir }))
	require.Equal(t, want, render(func(dir string) string { return "../" + filepath.Base(dir) + "/jobs/" }))
}

func TestReviewAll(t *testing.T) {
	tree(t, "jobs/notes.yaml", "jobs/list.yaml")
	write := func(name, text string) { require.NoError(t, os.WriteFile(name, []byte(text), 0o600)) }
	write("jobs/a.yaml", heightJob)
	write("jobs/broken.yaml", "wetrule: [\n")
	write("jobs/keyless.yaml", strings.Replace(heightJob, "wetrule: 1\n", "", 1)) // a job without the one key is not passed over
	write("jobs/list.yaml", "- a\n")
	write("jobs/z.yaml", heightJob)
	inputs, err := Collect([]string{"jobs"}, nil)
	require.NoError(t, err)
	inputs = append(inputs, Input{Name: "gone.yaml"}, Input{Name: "jobs"}, Input{Name: "notes", Data: []byte("title: x\n")}, Input{Name: "empty", Data: []byte{}})
	var calls atomic.Int64
	var mu sync.Mutex
	told := map[int]int{}
	b, err := core(t).ReviewAll(context.Background(), inputs, func(n int) {
		calls.Add(1)
		mu.Lock()
		told[n]++
		mu.Unlock()
	})
	require.NoError(t, err)
	require.Equal(t, []string{"jobs/list.yaml", "jobs/notes.yaml"}, b.PassedOver)
	var got []string
	for _, r := range b.Reviews {
		line := r.File
		if len(r.Problems) > 0 {
			line += ": " + strings.SplitN(r.Problems[0].Message, "\n", 2)[0]
			require.Equal(t, r.File, r.Problems[0].File)
			require.False(t, r.Judged())
			require.NotEmpty(t, r.Books)
		} else {
			require.NotEmpty(t, r.Verdicts)
			require.True(t, r.Judged())
		}
		got = append(got, line)
	}
	require.Len(t, got, 8)
	for i, want := range []string{"jobs/a.yaml", "jobs/broken.yaml: ", `jobs/keyless.yaml: missing key "wetrule"`, "jobs/z.yaml",
		"gone.yaml: cannot be read: no such file or directory", "jobs: cannot be read: is a directory", "notes: ", "empty: the file is empty"} {
		require.True(t, strings.HasPrefix(got[i], want), "got %s, want %s", got[i], want)
	}
	require.EqualValues(t, len(inputs), calls.Load())
	for n := range inputs {
		require.Equal(t, 1, told[n+1])
	}
	require.Equal(t, report.StatusUnjudged, report.Options{}.Status(b.Reviews))

	b, err = core(t).ReviewAll(context.Background(), nil, nil)
	require.NoError(t, err)
	require.Empty(t, b.Reviews)
}

// No more of a file is read than shows that it is too large.
func TestFileWithoutEnd(t *testing.T) {
	if _, err := os.Stat("/dev/zero"); err != nil {
		t.Skip("there is no /dev/zero here")
	}
	b, err := core(t).ReviewAll(context.Background(), []Input{{Name: "/dev/zero"}}, nil)
	require.NoError(t, err)
	require.Equal(t, fmt.Sprintf("/dev/zero: the file is larger than %d bytes", jobfile.MaxFileBytes), b.Reviews[0].Problems.Error())
}

func TestReviewAllIsCalledOff(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	inputs := make([]Input, 50)
	for i := range inputs {
		inputs[i] = Input{Name: fmt.Sprintf("%02d.yaml", i), Data: []byte(heightJob)}
	}
	b, err := core(t).ReviewAll(ctx, inputs, nil)
	require.ErrorIs(t, err, context.Canceled)
	require.Nil(t, b)

	// In the middle: what is finished by then is not given out as if it were all.
	ctx, cancel = context.WithCancel(context.Background())
	b, err = core(t).ReviewAll(ctx, inputs, func(n int) {
		if n == 3 {
			cancel()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
	require.Nil(t, b)
	_, err = core(t).Review(ctx, "job.yaml", []byte(heightJob))
	require.ErrorIs(t, err, context.Canceled)
}

// A fault of ours in one job neither ends the batch nor looks like conformity.
func TestPanicInOneReviewIsAProblemOfThatReview(t *testing.T) {
	l, err := New(Options{})
	require.NoError(t, err)
	i := slices.IndexFunc(l.Books[0].Rules, func(r *rulebook.Rule) bool { return r.ID == "steam-outlet-height" })
	l.Books[0].Rules[i].Allowed = nil
	inputs := []Input{{Name: "a.yaml", Data: []byte(plainRoom)}, {Name: "b.yaml", Data: []byte(heightJob)}, {Name: "c.yaml", Data: []byte(plainRoom)}}
	b, err := l.ReviewAll(context.Background(), inputs, nil)
	require.NoError(t, err)
	require.Len(t, b.Reviews, 3)
	require.Empty(t, b.Reviews[0].Problems)
	require.Contains(t, b.Reviews[1].Problems.Error(), "b.yaml: the review broke off: ")
	require.Empty(t, b.Reviews[1].Verdicts)
	require.False(t, b.Reviews[1].Judged())
	require.Empty(t, b.Reviews[2].Problems)
	require.NotEmpty(t, b.Reviews[2].Verdicts)
	require.Equal(t, report.StatusUnjudged, report.Options{}.Status(b.Reviews))
}

// Editions of layers are made by whichever review asks first.
func TestReviewsOfSeveralEditionsAtOnce(t *testing.T) {
	firm := book(t, "firm", "firm", `amendments:
  - {rule: steam-outlet-height, change: tighten, title: F, allowed: {between: [240, 260]}, reason: r, in_force: {from: 2025-01-01}}
  - {rule: steam-tube-material, change: tighten, title: F, allowed: {is: [copper]}, reason: r, in_force: {from: 2026-01-01}}
`)
	l, err := New(Options{Rulebooks: []string{firm}})
	require.NoError(t, err)
	var inputs []Input
	for i := range 40 {
		inputs = append(inputs, Input{Name: fmt.Sprintf("%02d.yaml", i), Data: []byte(strings.Replace(heightJob, "2026-01-01", fmt.Sprintf("%d-06-01", 2023+i%4), 1))})
	}
	b, err := l.ReviewAll(context.Background(), inputs, nil)
	require.NoError(t, err)
	for i, r := range b.Reviews {
		want := "conforms"
		if i%4 >= 2 {
			want = "nonconforming"
		}
		require.Equal(t, want, outcomeOf(t, r, "steam-outlet-height", "s"), r.On)
	}
}

// FuzzReview reviews arbitrary bytes: it never panics, and a job that can be read is judged by every rule, the policies and the plain reading
// of the rows in agreement.
func FuzzReview(f *testing.F) {
	l := core(f)
	for _, name := range demos(f) {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(data)
	}
	fsys, _ := policies.Book("core")
	base, err := fs.ReadFile(fsys, "examples/base.yaml")
	require.NoError(f, err)
	f.Add(base)
	f.Add([]byte(heightJob))
	// Small jobs change more with every byte.
	for _, item := range []string{
		"{id: s, kind: steam_outlet, face: north, x_mm: 100, y_mm: 230, opening_diameter_mm: 64, tube: {material: copper, od_mm: 22, wall_mm: 1, run_m: 3, fall_percent: 1}}",
		"{id: s, kind: spotlight, face: north, x_mm: 100, y_mm: 230, depth_mm: 35, circuit: c, ip_mark: IPX5/IPX7}",
		"{id: s, kind: heating_cable, face: north, runs: [[[150, 60], [2250, 60], [2250, 140]]], cable_od_mm: 6, watts_per_m: 10, supplied_length_m: 12}",
		"{id: s, kind: fixing, face: north, inserts: [{x_mm: 1, y_mm: 2, diameter_mm: 19, depth_mm: 35}], load_kg: 5, reach_mm: 80}",
		"{id: s, kind: ventilation_outlet, face: north, flow: exhaust, diameter_mm: 100}",
		"{id: s, kind: led_strip, face: north, path: [[0, 0], [9, 9]], mounting: on_tile}",
		"{id: s, kind: glazed_door, face: north, x_mm: 900, y_mm: 0, width_mm: 750, height_mm: 1950, hinges: 2}",
		"{id: s, kind: shower, face: north, outlet: hand_held, basin: false}",
	} {
		f.Add([]byte(plainRoom + "build_up: [{layer: mesh}, {layer: tile, thickness_mm: 9}]\ncircuits: [{id: c, voltage_v: 12}]\nitems: [" + item + "]\ntasks: [{task: tile, planned: {start: \"2026-03-02T08:00:00+00:00\"}}, {task: fit, items: [s]}]\nrecords: [{record: film_thickness, face: north, readings_mm: [2]}]\n"))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := l.Review(context.Background(), "job.yaml", data)
		require.NoError(t, err)
		if len(r.Problems) > 0 {
			for _, p := range r.Problems {
				require.Equal(t, "job.yaml", p.File)
				require.NotEmpty(t, p.Message)
			}
			return
		}
		for i := range r.Verdicts {
			v := &r.Verdicts[i]
			require.NotEqual(t, verdict.NotJudged, v.Outcome, "%s of %s: %s", v.Rule.ID, v.Subject.ID, v.Reason())
			if v.Finding() {
				require.Positive(t, v.Place(r.Root).Line)
			}
		}
		for _, format := range report.Formats() {
			require.NoError(t, report.Write(&bytes.Buffer{}, format, []*verdict.Review{r}, report.Options{FailAt: rulebook.Minor}))
		}
	})
}
