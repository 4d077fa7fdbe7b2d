package judge

import (
	"context"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

const smallJob = `
wetrule: 1
reference: t
stage: as_built
judged_on: 2026-01-01
room: {use: steam_room, walls: [{id: north, width_mm: 2400, height_mm: 2200}]}
items:
  - {id: s1, kind: steam_outlet, face: north, x_mm: 100, y_mm: 250}
  - {id: s2, kind: steam_outlet, face: north, x_mm: 300, y_mm: 150}
  - {id: s3, kind: steam_outlet, face: north, x_mm: 500}
`

func testBook(t *testing.T, rules string, rego ...string) *rulebook.Rulebook {
	t.Helper()
	fsys := fstest.MapFS{
		"rulebook.yaml": {Data: []byte("rulebook: test\ntitle: Test\nedition: '1'\n")},
		"sources.yaml":  {Data: []byte("sources: [{id: common-practice, kind: common_practice, title: Practice}]\n")},
		"rules/a.yaml":  {Data: []byte("subject: test\nrules:\n" + rules)},
	}
	for i, text := range rego {
		fsys["rego/"+string(rune('a'+i))+".rego"] = &fstest.MapFile{Data: []byte(text)}
	}
	b, err := rulebook.Open(fsys, "test")
	require.NoError(t, err)
	return b
}

const heightRow = `  - {id: height, title: Height, severity: major, from: design, applies_to: steam_outlet, measure: outlet_height_mm, allowed: {at_least: 200}, why: w, remedy: r, source: {id: common-practice, basis: practice}}
`

func ownRow(id string) string {
	return "  - {id: " + id + ", title: Own, severity: minor, from: design, applies_to: steam_outlet, measure: outlet_height_mm, rego: true, says: so, needs: [outlet_height_mm], why: w, remedy: r, source: {id: common-practice, basis: practice}}\n"
}

func review(t *testing.T, b *rulebook.Rulebook, o Options) *verdict.Review {
	t.Helper()
	m := engineModule()
	e, err := New(m.File, m.Text, b.Rules, b.Modules, o)
	require.NoError(t, err)
	f, err := jobfile.Load("job.yaml", []byte(smallJob))
	require.NoError(t, err)
	r := &verdict.Review{File: f.Name, Root: f.Root, Stage: rulebook.AsBuilt, On: f.Job.JudgedOn}
	require.NoError(t, e.Judge(context.Background(), r, f.Job))
	return r
}

func outcomes(r *verdict.Review) map[string]string {
	out := map[string]string{}
	for _, v := range r.Verdicts {
		out[v.Rule.ID+" "+v.Subject.ID] = v.Outcome.String()
	}
	return out
}

func TestRowsAndOwnRegoTogether(t *testing.T) {
	own := `package wetrule.rules

findings contains ["own", input.steam_outlet.id[i], v] if {
	some i, v in input.steam_outlet.outlet_height_mm
	v != null
	v > 200
}
`
	for _, plain := range []bool{false, true} {
		r := review(t, testBook(t, heightRow+ownRow("own"), own), Options{Plain: plain})
		require.Equal(t, map[string]string{
			"height s1": "conforms", "height s2": "nonconforming", "height s3": "undetermined",
			"own s1": "nonconforming", "own s2": "conforms", "own s3": "undetermined",
		}, outcomes(r))
		require.Equal(t, 50.0, r.Verdicts[0].Margin())
		require.Equal(t, -50.0, r.Verdicts[1].Margin())
	}
}

// A comparison with a value that is not there must not become a finding nor a pass: null sorts before numbers.
func TestOwnRegoThatForgetsMissingValues(t *testing.T) {
	own := `package wetrule.rules

findings contains ["own", input.steam_outlet.id[i], v] if {
	some i, v in input.steam_outlet.outlet_height_mm
	v < 200
}
`
	r := review(t, testBook(t, ownRow("own"), own), Options{})
	require.Equal(t, map[string]string{"own s1": "conforms", "own s2": "nonconforming", "own s3": "undetermined"}, outcomes(r))
}

func TestRuleThatBreaksOffDoesNotTakeOthersDown(t *testing.T) {
	crash := `package wetrule.rules

findings contains ["crash", input.steam_outlet.id[i], v] if {
	some i, v in input.steam_outlet.outlet_height_mm
	to_number("no number") > v
}
`
	good := `package wetrule.rules

findings contains ["good", input.steam_outlet.id[i], v] if {
	some i, v in input.steam_outlet.outlet_height_mm
	v != null
	v < 200
}
`
	r := review(t, testBook(t, heightRow+ownRow("crash")+ownRow("good"), crash, good), Options{})
	require.Equal(t, map[string]string{
		"height s1": "conforms", "height s2": "nonconforming", "height s3": "undetermined",
		"crash s1": "not_judged", "crash s2": "not_judged", "crash s3": "not_judged",
		"good s1": "conforms", "good s2": "nonconforming", "good s3": "undetermined",
	}, outcomes(r))
	require.False(t, r.Judged())
	for _, v := range r.Verdicts {
		if v.Outcome == verdict.NotJudged {
			require.Contains(t, v.Reason(), "to_number")
		}
	}
}

func TestRunawayRuleIsStoppedByItsSteps(t *testing.T) {
	loop := `package wetrule.rules

findings contains ["loop", input.steam_outlet.id[i], v] if {
	some i, v in input.steam_outlet.outlet_height_mm
	some a in numbers.range(1, 2000)
	some b in numbers.range(1, 2000)
	a * b == -1
}
`
	start := time.Now()
	r := review(t, testBook(t, heightRow+ownRow("loop"), loop), Options{Steps: 100_000})
	require.Less(t, time.Since(start), 2*time.Minute)
	out := outcomes(r)
	require.Equal(t, "not_judged", out["loop s1"])
	require.Equal(t, "nonconforming", out["height s2"])
	for _, v := range r.Verdicts {
		if v.Rule.ID == "loop" {
			require.Contains(t, v.Reason(), "too many steps")
		}
	}
}

func TestRunawayBuiltInIsStoppedByTheDeadline(t *testing.T) {
	wide := `package wetrule.rules

findings contains ["wide", input.steam_outlet.id[i], v] if {
	some i, v in input.steam_outlet.outlet_height_mm
	count(numbers.range(1, 100000000)) < 0
}
`
	r := review(t, testBook(t, heightRow+ownRow("wide"), wide), Options{Deadline: 200 * time.Millisecond})
	require.Equal(t, "not_judged", outcomes(r)["wide s1"])
	require.Equal(t, "conforms", outcomes(r)["height s1"])
}

func TestCalledOff(t *testing.T) {
	m := engineModule()
	b := testBook(t, heightRow)
	e, err := New(m.File, m.Text, b.Rules, b.Modules, Options{})
	require.NoError(t, err)
	f, err := jobfile.Load("job.yaml", []byte(smallJob))
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	require.ErrorIs(t, e.Judge(ctx, &verdict.Review{Root: f.Root}, f.Job), context.Canceled)
}

func TestWrongAnswersAreErrors(t *testing.T) {
	for name, head := range map[string]string{
		"too short": `["own"]`, "too long": `["own", "s1", 1, 2]`, "no texts": `[1, 2, 3]`, "no list": `"own"`,
	} {
		t.Run(name, func(t *testing.T) {
			own := "package wetrule.rules\n\nfindings contains " + head + " if count(input.steam_outlet.id) > 0\n\n# own: \"own\"\n"
			r := review(t, testBook(t, ownRow("own"), own), Options{})
			for k, o := range outcomes(r) {
				require.Equal(t, "not_judged", o, k)
			}
			require.False(t, r.Judged())
		})
	}
}

func TestRegoThatDoesNotCompile(t *testing.T) {
	m := engineModule()
	for name, text := range map[string]string{
		"syntax":  "package wetrule.rules\n\nfindings contains x if {\n",
		"builtin": "package wetrule.rules\n\nfindings contains [\"own\", \"s1\", v] if v := http.send({})\n",
		"strict":  "package wetrule.rules\n\nfindings contains [\"own\", \"s1\", 1] if {\n\tunused := 1\n}\n",
	} {
		t.Run(name, func(t *testing.T) {
			b := testBook(t, ownRow("own"), text)
			_, err := New(m.File, m.Text, b.Rules, b.Modules, Options{})
			var ps jobfile.Problems
			require.ErrorAs(t, err, &ps)
			require.Equal(t, "test/rego/a.rego", ps[0].File)
			require.Positive(t, ps[0].Line)
			require.NotContains(t, strings.ToLower(err.Error()), "bundle")
		})
	}
}
