package lint

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/report"
	"wetrule/lint/verdict"
	"wetrule/policies"
)

// writeBook writes a new rulebook, with some of its files changed.
func writeBook(t *testing.T, change map[string]func(string) string) string {
	t.Helper()
	files, err := NewRulebook("house-rules", "firm", "")
	require.NoError(t, err)
	dir := filepath.Join(t.TempDir(), "house-rules")
	for name, text := range files {
		if f := change[name]; f != nil {
			text = f(text)
		}
		file := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	}
	return dir
}

func replace(old, new string) func(string) string {
	return func(s string) string { return strings.Replace(s, old, new, 1) }
}

func TestNewRulebookPassesItsOwnCheck(t *testing.T) {
	c, err := CheckRulebook(context.Background(), writeBook(t, nil))
	require.NoError(t, err)
	require.Empty(t, c.Problems)
	require.Equal(t, 2, c.Rules)
	require.Equal(t, 12, c.Examples)
	require.Greater(t, c.Mutants, 6)
	for _, bad := range [][2]string{{"", "firm"}, {"House", "firm"}, {"house", "core"}, {"a b", "firm"}} {
		_, err := NewRulebook(bad[0], bad[1], "")
		require.Error(t, err)
	}
}

func TestCheckRulebookTellsWhatIsWrong(t *testing.T) {
	rules, examples := "rules/house.yaml", "examples/house.yaml"
	for name, tc := range map[string]struct {
		file   string
		change func(string) string
		says   string // with file and place
	}{
		"misspelt measure":        {rules, replace("clear_width_mm", "clear_widht_mm"), `rules/house.yaml:8:14: glazed_door has no measure "clear_widht_mm"; did you mean "clear_width_mm"?`},
		"unknown source":          {rules, replace("id: house-book, clause: page 1", "id: house-bok, clause: page 1"), `rules/house.yaml:12:18: unknown source "house-bok"; did you mean "house-book"?`},
		"no source":               {rules, replace("    source: {id: house-book, clause: page 1, basis: read}\n", ""), "rules/house.yaml:3:5: "},
		"example that passes":     {examples, replace("door.width_mm: 699", "door.width_mm: 701"), "examples/house.yaml:5:20: example nonconforming of house-rules-door-width: no verdict is nonconforming"},
		"limit not held":          {examples, replace("{steam_1.y_mm: 281}", "{steam_1.y_mm: 290}"), "no example notices that the upper limit is shifted by +1 mm"},
		"sort missing":            {examples, replace("    missing: {door.width_mm: null}\n", ""), "the rule has no example of the sort missing"},
		"no examples":             {examples, func(s string) string { return s[:strings.Index(s, "  - rule: steam")] }, "rules/house.yaml:14:5: the rule steam-outlet-height has no examples"},
		"example of no rule":      {examples, replace("rule: house-rules-door-width", "rule: house-rules-door-with"), `there is no rule "house-rules-door-with"; did you mean "house-rules-door-width"?`},
		"example makes no job":    {examples, replace("door.width_mm: 750", "door.widht_mm: 750"), "the example makes no job"},
		"limit no job can say":    {rules, replace("at_least: 700", "at_least: 6000"), "rules/house.yaml:9:14: the limit 6000 lies outside what a job can say of width_mm (100 to 5000)"},
		"id of core":              {rules, replace("id: house-rules-door-width", "id: door-glass"), `rule "door-glass" is in the rulebook core too`},
		"amendment that loosens":  {rules, replace("[220, 280]", "[100, 280]"), "this does not tighten steam-outlet-height"},
		"amendment of no rule":    {rules, replace("rule: steam-outlet-height", "rule: steam-outlet-hight"), `did you mean "steam-outlet-height"?`},
		"impossible range":        {rules, replace("[220, 280]", "[280, 220]"), "nothing is allowed"},
		"misspelt key":            {rules, replace("severity: minor", "severty: minor"), `unknown key "severty"; did you mean "severity"?`},
		"not YAML that is plain":  {rules, replace("at_least: 700", "at_least: 0700"), "write a plain number"},
		"manifest without a name": {"rulebook.yaml", replace("rulebook: house-rules\n", ""), `rulebook.yaml:1:1: `},
	} {
		t.Run(name, func(t *testing.T) {
			c, err := CheckRulebook(context.Background(), writeBook(t, map[string]func(string) string{tc.file: tc.change}))
			require.NoError(t, err)
			require.Contains(t, c.Problems.Error(), tc.says)
			for _, p := range c.Problems {
				require.NotEmpty(t, p.File, p.Message)
				require.Positive(t, p.Line, p.Message)
			}
		})
	}
}

func TestCheckRulebookNotesConflicts(t *testing.T) {
	c, err := CheckRulebook(context.Background(), writeBook(t, map[string]func(string) string{"rules/house.yaml": replace("rules:\n", "rules:\n  - {id: narrow, title: T, severity: minor, from: design, applies_to: glazed_door, measure: clear_width_mm, allowed: {at_most: 650}, why: w, remedy: r, source: {id: house-book, basis: read}}\n")}))
	require.NoError(t, err)
	require.Contains(t, strings.Join(c.Notes, "\n"), "rules/house.yaml:3:5: conflict: house-rules-door-width (house-rules) asks for at least 700 mm and narrow (house-rules) for at most 650 mm: nothing keeps both")
}

func TestCheckRulebookLooksAtRego(t *testing.T) {
	row := "rules:\n  - {id: own, title: T, severity: minor, from: design, applies_to: glazed_door, measure: clear_width_mm, rego: true, says: so, needs: [clear_width_mm], why: w, remedy: r, source: {id: house-book, basis: read}}\n"
	with := func(rego, test string) string {
		dir := writeBook(t, map[string]func(string) string{"rules/house.yaml": replace("rules:\n", row), "examples/house.yaml": replace("examples:\n", `examples:
  - rule: own
    subject: door
    conforming: {}
    nonconforming: {door.width_mm: 699}
    at_limit: {door.width_mm: 700}
    not_applicable: {door: null}
    missing: {door.width_mm: null}
`)})
		require.NoError(t, os.MkdirAll(filepath.Join(dir, "rego"), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "rego", "own.rego"), []byte(rego), 0o600))
		if test != "" {
			require.NoError(t, os.WriteFile(filepath.Join(dir, "rego", "own_test.rego"), []byte(test), 0o600))
		}
		return dir
	}
	good := "package wetrule.rules\n\nfindings contains [\"own\", input.glazed_door.id[i], v] if {\n\tsome i, v in input.glazed_door.clear_width_mm\n\tv < 700\n\tv != null\n}\n"
	test := "package wetrule.rules_test\n\nimport data.wetrule.rules\n\ntest_own if {\n\tfound := rules.findings with input as {\"glazed_door\": {\"id\": [\"a\", \"b\"], \"clear_width_mm\": [699, 700]}} with data.wetrule.checks as {} with data.wetrule.needing as []\n\t[\"own\", \"a\", 699] in found\n}\n"
	check := func(rego, test string) string {
		c, err := CheckRulebook(context.Background(), with(rego, test))
		require.NoError(t, err)
		return c.Problems.Error()
	}
	require.Empty(t, check(good, test))
	require.Contains(t, check(good, ""), "own.rego:1:1: the Rego has no tests")
	require.Contains(t, check(strings.Replace(good, "clear_width_mm\n", "clear_widht_mm\n", 1), test), "own.rego:4")
	require.Contains(t, check(strings.Replace(good, "\tv < 700", "  v < 700", 1), test), "own.rego:5:1: the Rego is not formatted")
	require.Contains(t, check(good+"\nunused_helper := 1 if 1 == 2\n", test), "no Rego test covers")
	require.Contains(t, check(good, strings.Replace(test, "[\"own\", \"a\", 699]", "[\"own\", \"b\", 700]", 1)), "the Rego test test_own fails")
	require.Contains(t, check(strings.Replace(good, "v < 700", "v < http.send({})", 1), test), "own.rego:5")
}

func TestShippedRulebooksPassTheCheck(t *testing.T) {
	for _, name := range policies.Books() {
		if name == "core" {
			continue // its rules are held one by one elsewhere
		}
		c, err := CheckRulebook(context.Background(), name)
		require.NoError(t, err)
		require.Empty(t, c.Problems, name)
	}
}

// TestRegionalRuleNeedsNoGoAndNoRego adds a rule to a copy of a rulebook by one row, its source and examples, and
// finds it in a review, in the lists, in the document, in SARIF, in the comparison of rulebooks and in its impact on a job.
func TestRegionalRuleNeedsNoGoAndNoRego(t *testing.T) {
	dir := writeBook(t, nil)
	job := lowJob + "  - {id: d, kind: glazed_door, face: north, x_mm: 200, y_mm: 0, width_mm: 650, height_mm: 1950}\n"
	r := reviewWith(t, Options{Rulebooks: []string{dir}}, job)
	require.Equal(t, "nonconforming", outcomeOf(t, r, "house-rules-door-width", "d"))
	before, err := EffectiveRules(nil, "")
	require.NoError(t, err)
	after, err := EffectiveRules([]string{dir}, "")
	require.NoError(t, err)
	diff := CompareRules(before, after)
	require.Len(t, diff, 2)
	require.Equal(t, "new, minor: Doors are at least 700 mm wide (at least 700 mm)", diff[0].Words[0])
	require.Equal(t, "allowed: 200 to 300 mm → 220 to 280 mm", diff[1].Words[0])
	require.Empty(t, CompareRules(after, after))
	require.Equal(t, "gone: Doors are at least 700 mm wide (at least 700 mm)", CompareRules(after, before)[0].Words[0])

	examples, err := AllExamples([]string{dir})
	require.NoError(t, err)
	var page, sarif bytes.Buffer
	require.NoError(t, report.Document(&page, "markdown", after, examples))
	require.Contains(t, page.String(), "Doors are at least 700 mm wide")
	require.NoError(t, report.Write(&sarif, "sarif", []*verdict.Review{r}, report.Options{}))
	require.Contains(t, sarif.String(), `"house-rules-door-width"`)

	x := impactOf(t, Change{After: Side{Rulebooks: []string{dir}}}, map[string]string{"a.yaml": job})
	require.Contains(t, changesOf(x), "a.yaml house-rules-door-width d appears no_rule nonconforming")
}
