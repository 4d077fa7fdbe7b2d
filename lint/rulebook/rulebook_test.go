package rulebook

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/policies"
)

const (
	manifestText = "rulebook: house\ntitle: House\nedition: '1'\n"
	sourcesText  = "sources:\n  - {id: common-practice, kind: common_practice, title: Practice}\n  - {id: en-1057, kind: standard, title: EN 1057, edition: '2006'}\n"
	goodRow      = `{id: height, title: T, severity: major, from: design, applies_to: steam_outlet, measure: outlet_height_mm, allowed: {at_least: 200}, why: w, remedy: r, source: {id: common-practice, basis: practice}}`
	goodOrder    = `{id: order, title: T, severity: minor, from: site, applies_to: task, first: tile, then: joint, wait_h: 24, why: w, remedy: r, source: {id: common-practice, basis: practice}}`
)

// book is a rulebook of the given files; rules/a.yaml holds the rows when it is not given whole.
func book(files map[string]string) fstest.MapFS {
	out := fstest.MapFS{}
	for name, text := range map[string]string{"rulebook.yaml": manifestText, "sources.yaml": sourcesText, "rules/a.yaml": rules(goodRow)} {
		out[name] = &fstest.MapFile{Data: []byte(text)}
	}
	for name, text := range files {
		if text == "" {
			delete(out, name)
			continue
		}
		out[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return out
}

// rules is a file of rules, a row a line from line 3 on, behind a dash in column 3.
func rules(rows ...string) string {
	return "subject: test\nrules:\n  - " + strings.Join(rows, "\n  - ") + "\n"
}

func sequence(rows ...string) string {
	return "subject: order\nsequence:\n  - " + strings.Join(rows, "\n  - ") + "\n"
}

func swap(text string, pairs ...string) string {
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(text, pairs[i]) {
			panic("nothing to swap: " + pairs[i])
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

func open(t testing.TB, files map[string]string) *Rulebook {
	t.Helper()
	b, err := Open(book(files), "house")
	require.NoError(t, err)
	return b
}

// at gives the column of a text in a row of rules, which begin in column 5.
func at(row, text string) int { return 5 + strings.Index(row, text) }

func TestOpenReportsEveryProblemWithItsPlace(t *testing.T) {
	type problemCase struct {
		files map[string]string
		want  string // all problems, a line each
	}
	cases := map[string]problemCase{}
	// row changes the good row; the problem is expected at the given text of it.
	row := func(name, old, new, where, message string) {
		text := swap(goodRow, old, new)
		require.Contains(t, text, where, name)
		cases[name] = problemCase{map[string]string{"rules/a.yaml": rules(text)}, fmt.Sprintf("house/rules/a.yaml:3:%d: %s", at(text, where), message)}
	}
	order := func(name, old, new, where, message string) {
		text := swap(goodOrder, old, new)
		require.Contains(t, text, where, name)
		cases[name] = problemCase{map[string]string{"rules/a.yaml": sequence(text)}, fmt.Sprintf("house/rules/a.yaml:3:%d: %s", at(text, where), message)}
	}
	row("unknown kind", "applies_to: steam_outlet", "applies_to: steam_outlett", "steam_outlett", `unknown kind "steam_outlett"; did you mean "steam_outlet"?`)
	row("kind far from any", "applies_to: steam_outlet", "applies_to: xxxxxxxx", "xxxxxxxx", `unknown kind "xxxxxxxx"`)
	row("unknown measure", "measure: outlet_height_mm", "measure: outlet_hieght_mm", "outlet_hieght_mm", `steam_outlet has no measure "outlet_hieght_mm"; did you mean "outlet_height_mm"?`)
	row("unknown source", "id: common-practice", "id: comon-practice", "comon-practice", `unknown source "comon-practice"; did you mean "common-practice"?`)
	row("unknown measure of a condition", "measure: out", "when: [{measure: tube_materiel, is: [copper]}], measure: out", "tube_materiel", `steam_outlet has no measure "tube_materiel"; did you mean "tube_material"?`)
	row("value that never is, in a condition", "measure: out", "when: [{measure: tube_material, is: [coper]}], measure: out", "coper]", `tube_material is never "coper"; did you mean "copper"?`)
	row("condition that says nothing", "measure: out", "when: [{measure: tube_material}], measure: out", "{measure: tube_material}", "the condition says nothing: give is, at_least or at_most")
	row("condition on a text with a limit", "measure: out", "when: [{measure: tube_material, at_least: 1}], measure: out", "{measure: tube_m", "tube_material is no number and cannot be compared with one")
	row("condition with a list and a limit", "measure: out", "when: [{measure: tube_od_mm, is: [22], at_least: 1}], measure: out", "{measure: tube_od", "give either a list of values or limits, not both")
	row("condition that never holds", "measure: out", "when: [{measure: tube_od_mm, at_least: 22.5, at_most: 22}], measure: out", "{measure: tube_od", "the condition never holds: the lower limit 22.5 is not below the upper limit 22")
	row("condition on a flag with a text", "measure: out", "when: [{measure: guarded, is: ['yes']}], measure: out", "'yes'", `guarded is flag; "yes" cannot be compared with it`)
	row("value that never is", "measure: outlet_height_mm, allowed: {at_least: 200}", "measure: tube_material, allowed: {is: [copper, brass]}", "brass", `tube_material is never "brass"`)
	row("number where a text is measured", "measure: outlet_height_mm, allowed: {at_least: 200}", "measure: tube_material, allowed: {is: [3]}", "3]", `tube_material is text; "3" cannot be compared with it`)
	row("text where a number is measured", "{at_least: 200}", "{is: [low]}", "low]", `outlet_height_mm is number; "low" cannot be compared with it`)
	row("flag where a number is measured", "{at_least: 200}", "{is: [true]}", "true", `outlet_height_mm is number; "true" cannot be compared with it`)
	row("limit of a text", "measure: outlet_height_mm", "measure: tube_material", "{at_least", "tube_material is text and cannot have limits; give is")
	row("limit of a flag", "measure: outlet_height_mm", "measure: guarded", "{at_least", "guarded is flag and cannot have limits; give is")
	row("limit that is a measure, of a flag", "measure: outlet_height_mm, allowed: {at_least: 200}", "measure: guarded, allowed: {at_least_measure: tube_od_mm}", "{at_least", "guarded is flag and cannot have limits; give is")
	row("list and limit", "{at_least: 200}", "{at_least: 200, is: [250]}", "{at_least", "give either a list of values or limits, not both")
	row("between and at_least", "{at_least: 200}", "{between: [200, 300], at_least: 210}", "{between", "give either between or at_least and at_most, not both")
	row("between and at_most", "{at_least: 200}", "{between: [200, 300], at_most: 290}", "{between", "give either between or at_least and at_most, not both")
	row("limits the wrong way round", "{at_least: 200}", "{at_least: 300, at_most: 200}", "{at_least", "nothing is allowed: the lower limit 300 is not below the upper limit 200")
	row("between the wrong way round", "{at_least: 200}", "{between: [300, 200]}", "{between", "nothing is allowed: the lower limit 300 is not below the upper limit 200")
	row("open limit on a closed one", "{at_least: 200}", "{at_least: 200, below: 200}", "{at_least", "nothing is allowed: the lower limit 200 is not below the upper limit 200")
	row("two open limits on one figure", "{at_least: 200}", "{above: 0.5, below: 0.5}", "{above", "nothing is allowed: the lower limit 0.5 is not below the upper limit 0.5")
	row("unknown measure as lower limit", "{at_least: 200}", "{at_least_measure: tube_od}", "tube_od}", `steam_outlet has no measure "tube_od"; did you mean "tube_od_mm"?`)
	row("unknown measure as upper limit", "{at_least: 200}", "{at_most_measure: tube_od}", "tube_od}", `steam_outlet has no measure "tube_od"; did you mean "tube_od_mm"?`)
	row("text as a limit", "{at_least: 200}", "{at_most_measure: tube_material}", "tube_material", "tube_material is no number and cannot be a limit")
	row("measure as a limit of itself", "{at_least: 200}", "{at_least_measure: outlet_height_mm}", "outlet_height_mm}", "outlet_height_mm cannot be a limit of itself")
	row("never in force", "why: w", "in_force: {from: 2030-01-01, until: 2029-01-01}, why: w", "{from: 2030", "the rule is never in force: it ends on 2029-01-01 and begins on 2030-01-01")
	row("ends on the day it begins", "why: w", "in_force: {from: 2030-01-01, until: 2030-01-01}, why: w", "{from: 2030", "the rule is never in force: it ends on 2030-01-01 and begins on 2030-01-01")
	row("no day", "why: w", "in_force: {from: 2030-02-30}, why: w", "2030-02-30", `rules[0].in_force.from: "2030-02-30" is not a date (YYYY-MM-DD)`)
	row("Rego without says", "allowed: {at_least: 200}", "rego: true, needs: [outlet_height_mm]", "{id: height", "a rule that Rego judges gives says and needs, and no allowed")
	row("Rego without needs", "allowed: {at_least: 200}", "rego: true, says: so", "{id: height", "a rule that Rego judges gives says and needs, and no allowed")
	row("Rego with allowed", "allowed: {at_least: 200}", "rego: true, says: so, needs: [outlet_height_mm], allowed: {at_least: 1}", "{id: height", "a rule that Rego judges gives says and needs, and no allowed")
	row("Rego that does not need its measure", "allowed: {at_least: 200}", "rego: true, says: so, needs: [tube_od_mm]", "[tube_od_mm]", "needs must name the measure outlet_height_mm too")
	row("Rego that needs what is not there", "allowed: {at_least: 200}", "rego: true, says: so, needs: [outlet_height_mm, tube_of_mm]", "tube_of_mm", `steam_outlet has no measure "tube_of_mm"; did you mean "tube_od_mm"?`)
	row("row without allowed", "allowed: {at_least: 200}, ", "", "{id: height", "a rule gives allowed; says and needs are for rules that Rego judges (rego: true)")
	row("row with says", "why: w", "says: so, why: w", "{id: height", "a rule gives allowed; says and needs are for rules that Rego judges (rego: true)")
	row("row with needs", "why: w", "needs: [tube_od_mm], why: w", "{id: height", "a rule gives allowed; says and needs are for rules that Rego judges (rego: true)")
	row("alias that is the id", "why: w", "aliases: [other, height], why: w", "height], why", `rule id "height" is taken by the rule at house/rules/a.yaml:3`)
	order("unknown first task", "first: tile", "first: tille", "tille", `unknown task "tille"; did you mean "tile"?`)
	order("unknown later task", "then: joint", "then: joints", "joints", `unknown task "joints"; did you mean "joint"?`)
	order("task that waits for itself", "then: joint", "then: tile", "tile, wait", `the task "tile" cannot wait for "tile": they are the same`)
	order("finish that waits for tiles", "then: joint", "then: finish", "finish", `the task "finish" cannot wait for "tile": they are the same`)
	order("kind without tasks", "applies_to: task", "applies_to: room", "room", "room has no tasks to wait for")
	order("source of a row of the sequence, once", "id: common-practice", "id: nobody", "nobody", `unknown source "nobody"`)
	order("condition of a row of the sequence, once", "first: tile", "when: [{measure: nothing_like_it, is: [a]}], first: tile", "nothing_like_it", `task has no measure "nothing_like_it"`)

	second := swap(goodRow, "title: T", "aliases: [tall], title: T", "id: height", "id: second")
	cases["same id in two files"] = problemCase{map[string]string{"rules/b.yaml": rules(goodRow)}, `house/rules/b.yaml:3:10: rule id "height" is taken by the rule at house/rules/a.yaml:3`}
	cases["same id in one file"] = problemCase{map[string]string{"rules/a.yaml": rules(goodRow, goodRow)}, `house/rules/a.yaml:4:10: rule id "height" is taken by the rule at house/rules/a.yaml:3`}
	cases["alias that is an id"] = problemCase{map[string]string{"rules/b.yaml": rules(swap(second, "tall", "height"))},
		fmt.Sprintf(`house/rules/b.yaml:3:%d: rule id "height" is taken by the rule at house/rules/a.yaml:3`, at(second, "tall"))}
	cases["same alias twice"] = problemCase{map[string]string{"rules/b.yaml": rules(second, swap(second, "second", "third"))},
		fmt.Sprintf(`house/rules/b.yaml:4:%d: rule id "tall" is taken by the rule at house/rules/b.yaml:3`, at(swap(second, "second", "third"), "tall"))}
	cases["id of a twin"] = problemCase{map[string]string{"rules/b.yaml": sequence(swap(goodOrder, "id: order", "id: twin")), "rules/c.yaml": rules(swap(goodRow, "id: height", "id: twin-actual"))},
		`house/rules/c.yaml:3:10: rule id "twin-actual" is taken by the rule at house/rules/b.yaml:3`}
	cases["source given twice"] = problemCase{map[string]string{"sources.yaml": sourcesText + "  - {id: en-1057, kind: standard, title: Again}\n"}, `house/sources.yaml:4:5: source "en-1057" is given twice`}
	cases["no manifest"] = problemCase{map[string]string{"rulebook.yaml": ""}, "house/rulebook.yaml: cannot be read: file does not exist"}
	cases["no sources"] = problemCase{map[string]string{"sources.yaml": ""}, "house/sources.yaml: cannot be read: file does not exist"}
	cases["rules in files that are not read"] = problemCase{map[string]string{"rules/b.yml": rules(goodRow), "rules/c.JSON": "{}", "rules/d.rego": "x", "rego/e.yaml": "x: 1", "rules/.f.yml": "x", "rules/notes.txt": "x"},
		"house/rego/e.yaml: is not read: the files in rego end in .rego\nhouse/rules/b.yml: is not read: the files in rules end in .yaml\nhouse/rules/c.JSON: is not read: the files in rules end in .yaml\nhouse/rules/d.rego: is not read: the files in rules end in .yaml"}
	cases["bad YAML in the manifest"] = problemCase{map[string]string{"rulebook.yaml": "rulebook: house\nrulebook: two\n"}, `house/rulebook.yaml:2:1: key "rulebook" is already used at 1:1`}
	cases["bad YAML in the sources"] = problemCase{map[string]string{"sources.yaml": "sources: [{id: a"}, "house/sources.yaml:1:"}
	cases["bad YAML in the rules"] = problemCase{map[string]string{"rules/a.yaml": "subject: *x\n"}, "house/rules/a.yaml:1:10:"}
	cases["empty file of rules"] = problemCase{map[string]string{"rules/a.yaml": "\n"}, "house/rules/a.yaml: the file is empty"}
	cases["manifest that lacks its name"] = problemCase{map[string]string{"rulebook.yaml": "title: House\nedition: '1'\n"}, `house/rulebook.yaml:1:1: missing key "rulebook"`}
	cases["source of an unknown sort"] = problemCase{map[string]string{"sources.yaml": "sources: [{id: a, kind: standart, title: T}]\n"}, `house/sources.yaml:1:25: sources[0].kind: "standart" is not one of`}
	cases["misspelt key of a row"] = problemCase{map[string]string{"rules/a.yaml": rules(swap(goodRow, "severity", "severty"))}, fmt.Sprintf("house/rules/a.yaml:3:5: rules[0]: missing key \"severity\"\nhouse/rules/a.yaml:3:%d: rules[0]: unknown key \"severty\"; did you mean \"severity\"?", at(goodRow, "severity"))}
	cases["allowed that says nothing"] = problemCase{map[string]string{"rules/a.yaml": rules(swap(goodRow, "{at_least: 200}", "{}"))}, fmt.Sprintf("house/rules/a.yaml:3:%d:", at(goodRow, "{at_least"))}
	cases["limit in quotes"] = problemCase{map[string]string{"rules/a.yaml": rules(swap(goodRow, "200", "'200'"))}, fmt.Sprintf("house/rules/a.yaml:3:%d: rules[0].allowed.at_least: expected a number, found text \"200\"; write the number without quotes", at(goodRow, "200"))}
	cases["between with one figure"] = problemCase{map[string]string{"rules/a.yaml": rules(swap(goodRow, "at_least: 200", "between: [200]"))}, fmt.Sprintf("house/rules/a.yaml:3:%d:", at(goodRow, "at_least")+len("between: "))}
	cases["problems of several files together"] = problemCase{map[string]string{"rules/a.yaml": "subject: 3\n", "rules/b.yaml": rules(swap(goodRow, "200", "x"), goodRow), "rules/c.yaml": rules(swap(goodRow, "id: common-practice", "id: nobody"))},
		"house/rules/a.yaml:1:10: subject: expected text, found the number 3\n" + fmt.Sprintf("house/rules/b.yaml:3:%d: rules[0].allowed.at_least: expected a number, found text \"x\"\n", at(goodRow, "200")) + fmt.Sprintf(`house/rules/c.yaml:3:%d: unknown source "nobody"`, at(goodRow, "common-practice"))}

	amendment := func(name, text, where, message string) {
		require.Contains(t, text, where, name)
		cases[name] = problemCase{map[string]string{"rules/b.yaml": "subject: test\namendments:\n  - " + text + "\n"}, fmt.Sprintf("house/rules/b.yaml:3:%d: %s", at(text, where), message)}
	}
	amendment("tighten without allowed", "{rule: a, change: tighten, title: T, reason: r}", "tighten", "to tighten a rule give allowed")
	amendment("loosen without a title", "{rule: a, change: loosen, allowed: {at_least: 1}, source: {id: en-1057, basis: read}, reason: r}", "loosen", "to loosen a rule give a title that says what is required now")
	amendment("loosen without a source", "{rule: a, change: loosen, title: T, allowed: {at_least: 1}, reason: r}", "loosen", "to loosen a rule name a source")
	amendment("off with allowed", "{rule: a, change: off, allowed: {at_least: 1}, reason: r}", "{at_least", "allowed goes with tighten and loosen, not with off")
	amendment("severity that is missing", "{rule: a, change: severity, reason: r}", "severity", "give the new severity")
	amendment("severity with another change", "{rule: a, change: off, severity: minor, reason: r}", "minor", "severity goes with the change severity, not with off")
	amendment("amendment with an unknown source", "{rule: a, change: off, source: {id: en-1058, basis: read}, reason: r}", "en-1058", `unknown source "en-1058"; did you mean "en-1057"?`)
	amendment("amendment that is never in force", "{rule: a, change: off, in_force: {from: 2026-01-01, until: 2026-01-01}, reason: r}", "{from", "the amendment is never in force: it ends on 2026-01-01 and begins on 2026-01-01")

	for name, tc := range cases {
		t.Run(name, func(t *testing.T) {
			b, err := Open(book(tc.files), "house")
			require.Nil(t, b)
			var ps jobfile.Problems
			require.ErrorAs(t, err, &ps)
			got, want := strings.Split(ps.Error(), "\n"), strings.Split(tc.want, "\n")
			require.Len(t, got, len(want), ps.Error())
			for i := range want {
				require.True(t, strings.HasPrefix(got[i], want[i]), "got  %s\nwant %s", got[i], want[i])
			}
		})
	}
}

// brokenFS refuses to read one file that it lists.
type brokenFS struct {
	fstest.MapFS
	bad string
}

func (b brokenFS) Open(name string) (fs.File, error) {
	f, err := b.MapFS.Open(name)
	if name == b.bad {
		return brokenFile{f, name}, err
	}
	return f, err
}

type brokenFile struct {
	fs.File
	name string
}

func (f brokenFile) Read([]byte) (int, error) {
	return 0, &fs.PathError{Op: "read", Path: f.name, Err: errors.New("the disk is broken")}
}

func TestFilesThatCannotBeRead(t *testing.T) {
	for _, name := range []string{"rulebook.yaml", "sources.yaml", "rules/a.yaml", "rego/a.rego"} {
		_, err := Open(brokenFS{book(map[string]string{"rego/a.rego": "package wetrule.rules\n"}), name}, "house")
		require.EqualError(t, err, "house/"+name+": cannot be read: the disk is broken")
	}
	b, err := Open(brokenFS{book(map[string]string{"examples/a.yaml": "examples: []\n"}), "examples/a.yaml"}, "house")
	require.NoError(t, err)
	_, err = b.ReadExamples()
	require.EqualError(t, err, "house/examples/a.yaml: cannot be read: the disk is broken")
}

func TestOpenReadsAllOfARulebook(t *testing.T) {
	b := open(t, map[string]string{
		"rulebook.yaml":    manifestText + "description: What it is for\n",
		"rules/a.yaml":     rules(swap(goodRow, "id: height", "id: zz-last")),
		"rules/b.yaml":     rules(swap(goodRow, "id: height", "id: aa-first", "allowed: {at_least: 200}", "rego: true, says: so, needs: [outlet_height_mm, tube_od_mm]", "measure: out", "when: [{measure: guarded, is: [true]}, {measure: tube_material, is: [copper]}], measure: out")),
		"rego/a.rego":      "package wetrule.rules\n",
		"rego/a_test.rego": "package wetrule.rules_test\n",
		"notes.txt":        "not read",
	})
	require.Equal(t, Manifest{Name: "house", Title: "House", Edition: "1", Description: "What it is for"}, b.Manifest)
	require.Len(t, b.Sources, 2)
	require.Equal(t, "2006", b.Sources[1].Edition)
	require.Equal(t, []Module{{"house/rego/a.rego", "package wetrule.rules\n"}}, b.Modules)
	require.Equal(t, []Module{{"house/rego/a_test.rego", "package wetrule.rules_test\n"}}, b.Tests)
	require.Len(t, b.Rules, 2)
	first, last := b.Rules[0], b.Rules[1]
	require.Equal(t, []string{"aa-first", "zz-last"}, []string{first.ID, last.ID})
	require.Equal(t, []string{"outlet_height_mm", "tube_od_mm", "guarded", "tube_material"}, first.Measures())
	require.Equal(t, []string{"y_mm", "face", "tube.od_mm", "guarded", "tube.material"}, trimmed(first.Fields()))
	require.Equal(t, "so", first.AllowedText())
	require.Equal(t, Major, last.Severity)
	require.Equal(t, Design, last.From)
	require.Equal(t, "test", last.Subject)
	require.Equal(t, "house", last.Rulebook)
	require.Same(t, measure.Lookup("steam_outlet"), last.Kind)
	require.Equal(t, "outlet_height_mm", last.Def.Name)
	require.Same(t, b.Sources[0], last.Source.Source)
	require.Equal(t, "house/rules/a.yaml", last.Pos.File())
	require.Equal(t, [2]int{3, 5}, [2]int{int(last.Pos.Line), int(last.Pos.Col)})
}

// trimmed leaves out the fields from the top of the job.
func trimmed(fields []string) (out []string) {
	for _, f := range fields {
		if !strings.HasPrefix(f, "/") {
			out = append(out, f)
		}
	}
	return out
}

// A row of the sequence is two rules: on planned times, and on recorded times from the stage as built on.
func TestSequenceRowsBecomeTwoRules(t *testing.T) {
	b := open(t, map[string]string{"rules/a.yaml": sequence(
		swap(goodOrder, "why: w", "aliases: [older, oldest], in_force: {from: 2026-01-01}, why: w"),
		swap(goodOrder, "id: order", "id: item-order", "applies_to: task", "applies_to: steam_outlet", "first: tile", "when: [{measure: guarded, is: [true]}], first: finish", "then: joint", "then: fit", "wait_h: 24", "wait_h: 0"))})
	var lines []string
	for _, r := range b.Rules {
		lines = append(lines, strings.Join([]string{r.ID, r.Title, r.From.String(), r.AppliesTo, r.Measure, r.AllowedText(), strings.Join(r.Aliases, " "), fmt.Sprint(len(r.When)), fmt.Sprint(r.InForce != nil)}, " | "))
		require.Equal(t, "order", r.Subject)
		require.Equal(t, r.Pos.Get("wait_h"), r.Allowed.Pos)
		require.NotNil(t, r.Def)
	}
	require.Equal(t, []string{
		"item-order | T | site | steam_outlet | planned_fit_after_finish_h | at least 0 h |  | 1 | false",
		"item-order-actual | T (as recorded) | as_built | steam_outlet | actual_fit_after_finish_h | at least 0 h |  | 1 | false",
		"order | T | site | task | planned_joint_after_tile_h | at least 24 h | older oldest | 0 | true",
		"order-actual | T (as recorded) | as_built | task | actual_joint_after_tile_h | at least 24 h | older-actual oldest-actual | 0 | true",
	}, lines)
}

func TestPeriodIsHalfOpen(t *testing.T) {
	for _, tc := range []struct {
		p    Period
		day  string
		want bool
	}{
		{Period{}, "1900-01-01", true},
		{Period{From: "2024-01-01"}, "2023-12-31", false},
		{Period{From: "2024-01-01"}, "2024-01-01", true},
		{Period{From: "2024-01-01"}, "9999-12-31", true},
		{Period{Until: "2024-01-01"}, "2023-12-31", true},
		{Period{Until: "2024-01-01"}, "2024-01-01", false},
		{Period{"2024-01-01", "2024-01-02"}, "2024-01-01", true},
		{Period{"2024-01-01", "2024-01-02"}, "2024-01-02", false},
		{Period{"2024-09-30", "2024-10-01"}, "2024-09-30", true},
	} {
		require.Equal(t, tc.want, tc.p.Contains(tc.day), "%v %s", tc.p, tc.day)
	}
}

func TestCitationInOneLine(t *testing.T) {
	standard := &Source{ID: "en-1057", Kind: "standard", Title: "EN 1057", Edition: "2006"}
	maker := &Source{ID: "maker", Kind: "maker", Title: "The maker's instructions"}
	practice := &Source{ID: "common-practice", Kind: "common_practice", Title: "Common practice of the trade"}
	for want, c := range map[string]Citation{
		"EN 1057, 2006":                                   {ID: "en-1057", Basis: "read", Source: standard},
		"EN 1057, 2006, table 3":                          {ID: "en-1057", Clause: "table 3", Basis: "read", Source: standard},
		"EN 1057, 2006 (from memory)":                     {ID: "en-1057", Basis: "memory", Source: standard},
		"EN 1057, 2006, 4.2 (as reported by others)":      {ID: "en-1057", Clause: "4.2", Basis: "secondary", Source: standard},
		"EN 1057, 2006 (worked out); a note":              {ID: "en-1057", Basis: "computed", Note: "a note", Source: standard},
		"The maker's instructions":                        {ID: "maker", Basis: "read", Source: maker},
		"common practice":                                 {ID: "common-practice", Basis: "practice", Source: practice},
		"common practice, saws; no standard was found":    {ID: "common-practice", Clause: "saws", Basis: "practice", Note: "no standard was found", Source: practice},
		"not-linked (from memory); what a reader is told": {ID: "not-linked", Basis: "memory", Note: "what a reader is told"},
	} {
		require.Equal(t, want, c.String())
	}
}

func TestAllowedTextOfEveryForm(t *testing.T) {
	kind := measure.Lookup("steam_outlet")
	for _, tc := range []struct{ measure, allowed, want string }{
		{"outlet_height_mm", "{at_least: 30}", "at least 30 mm"},
		{"outlet_height_mm", "{at_most: 30.5}", "at most 30.5 mm"},
		{"outlet_height_mm", "{above: 0}", "more than 0 mm"},
		{"outlet_height_mm", "{below: 90}", "less than 90 mm"},
		{"outlet_height_mm", "{between: [200, 300]}", "200 to 300 mm"},
		{"outlet_height_mm", "{at_least: 200, at_most: 300}", "200 to 300 mm"},
		{"outlet_height_mm", "{between: [200, 200]}", "exactly 200 mm"},
		{"outlet_height_mm", "{above: 200, at_most: 300}", "more than 200 mm, at most 300 mm"},
		{"outlet_height_mm", "{at_least: 200, below: 300}", "at least 200 mm, less than 300 mm"},
		{"outlet_height_mm", "{above: 200, below: 300}", "more than 200 mm, less than 300 mm"},
		{"outlet_height_mm", "{at_least: 200, above: 200}", "more than 200 mm"},
		{"outlet_height_mm", "{at_least: 200, above: 199}", "at least 200 mm"},
		{"outlet_height_mm", "{at_most: 200, below: 200}", "less than 200 mm"},
		{"outlet_height_mm", "{at_most: 200, below: 201}", "at most 200 mm"},
		{"outlet_height_mm", "{between: [200, 300], above: 250}", "more than 250 mm, at most 300 mm"},
		{"outlet_height_mm", "{is: [200, 250.5]}", "200 mm or 250.5 mm"},
		{"outlet_height_mm", "{at_least: -1}", "at least -1 mm"},
		{"tube_fall_percent", "{at_least: 1}", "at least 1 %"},
		{"tube_low_points", "{at_most: 0}", "at most 0"},
		{"tube_material", "{is: [copper, stainless_steel]}", "copper or stainless steel"},
		{"guarded", "{is: [true]}", "yes"},
		{"guarded", "{is: [false]}", "no"},
		{"guarded", "{is: [false, true]}", "no or yes"},
		{"opening_diameter_mm", "{at_least_measure: opening_needed_mm}", "at least " + the(kind.Def("opening_needed_mm").Meaning)},
		{"opening_diameter_mm", "{at_least: 10, at_most_measure: tube_od_mm}", "at least 10 mm, at most the " + kind.Def("tube_od_mm").Meaning},
		{"opening_diameter_mm", "{between: [10, 90], at_least_measure: opening_needed_mm, at_most_measure: tube_od_mm}",
			"10 to 90 mm, at least " + the(kind.Def("opening_needed_mm").Meaning) + ", at most " + the(kind.Def("tube_od_mm").Meaning)},
	} {
		b := open(t, map[string]string{"rules/a.yaml": rules(swap(goodRow, "measure: outlet_height_mm", "measure: "+tc.measure, "{at_least: 200}", tc.allowed))})
		require.Equal(t, tc.want, b.Rules[0].AllowedText(), tc.allowed)
	}
}

func TestOneArticleBeforeAMeasureThatIsALimit(t *testing.T) {
	for phrase, want := range map[string]string{"width of it": "the width of it", "the width": "the width", "a width": "a width", "an arm": "an arm", "half the width": "half the width", "theft": "the theft"} {
		require.Equal(t, want, the(phrase))
	}
}

func TestRangeTakesTheStricterLimit(t *testing.T) {
	p := func(v float64) *float64 { return &v }
	for name, tc := range map[string]struct {
		a              Allowed
		lo, hi         float64
		loOpen, hiOpen bool
	}{
		"above is stricter":          {Allowed{AtLeast: p(1), Above: p(2), AtMost: p(9)}, 2, 9, true, false},
		"above on the same figure":   {Allowed{AtLeast: p(2), Above: p(2), AtMost: p(9)}, 2, 9, true, false},
		"at_least is stricter":       {Allowed{AtLeast: p(3), Above: p(2), AtMost: p(9)}, 3, 9, false, false},
		"below is stricter":          {Allowed{AtLeast: p(1), Below: p(8), AtMost: p(9)}, 1, 8, false, true},
		"at_most is stricter":        {Allowed{AtLeast: p(1), Below: p(9), AtMost: p(8)}, 1, 8, false, false},
		"between with an open limit": {Allowed{Between: []float64{1, 9}, Below: p(5)}, 1, 5, false, true},
	} {
		lo, loOpen, hi, hiOpen := tc.a.Range()
		require.Equal(t, []any{tc.lo, tc.loOpen, tc.hi, tc.hiOpen}, []any{lo, loOpen, hi, hiOpen}, name)
	}
}

func TestNamesOfSeveritiesAndStages(t *testing.T) {
	require.Equal(t, []string{"critical", "major", "minor", "observation"}, Severities())
	for i, name := range []string{"observation", "minor", "major", "critical"} {
		s, ok := ParseSeverity(name)
		require.True(t, ok)
		require.Equal(t, Severity(i), s)
		require.Equal(t, name, s.String())
	}
	_, ok := ParseSeverity("Major")
	require.False(t, ok)
	require.Equal(t, []string{"design", "site", "as_built"}, Stages())
	for i, name := range Stages() {
		s, ok := ParseStage(name)
		require.True(t, ok)
		require.Equal(t, Stage(i), s)
		require.Equal(t, name, s.String())
	}
	s, ok := ParseStage("as-built")
	require.True(t, ok)
	require.Equal(t, AsBuilt, s)
	_, ok = ParseStage("")
	require.False(t, ok)
	Stages()[0], Severities()[0] = "spoilt", "spoilt"
	require.Equal(t, "design", Design.String())
	require.Equal(t, "critical", Critical.String())
}

func TestSchemasCompile(t *testing.T) {
	for _, name := range []string{"rulebook.schema.json", "sources.schema.json", "rules.schema.json", "examples.schema.json"} {
		s, err := Schema(name)
		require.NoError(t, err)
		require.NoError(t, s.Check())
		again, err := Schema(name)
		require.NoError(t, err)
		require.Same(t, s, again)
	}
}

// FuzzOpenRules reads arbitrary bytes as a file of rules: it never panics, a refusal is told as problems of that
// file, and what is accepted can be shown and read against an empty table.
func FuzzOpenRules(f *testing.F) {
	core, _ := policies.Book("core")
	names, err := fs.Glob(core, "rules/*.yaml")
	require.NoError(f, err)
	for _, name := range names {
		data, err := fs.ReadFile(core, name)
		require.NoError(f, err)
		f.Add(data)
	}
	for _, allowed := range []string{"{at_least: 1}", "{between: [1, 2], below: 2}", "{is: [1, 2]}", "{at_most_measure: tube_od_mm}"} {
		f.Add([]byte(rules(swap(goodRow, "{at_least: 200}", allowed, "measure: out", "when: [{measure: guarded, is: [true]}, {measure: tube_od_mm, at_least: 1}], measure: out"))))
	}
	f.Add([]byte(rules(swap(goodRow, "allowed: {at_least: 200}", "rego: true, says: so, needs: [outlet_height_mm]", "why: w", "aliases: [a, b], in_force: {from: 2024-01-01, until: 2025-01-01}, why: w"))))
	f.Add([]byte(sequence(goodOrder)))
	sources, err := fs.ReadFile(core, "sources.yaml")
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := Open(fstest.MapFS{"rulebook.yaml": {Data: []byte(manifestText)}, "sources.yaml": {Data: sources}, "rules/a.yaml": {Data: data}}, "house")
		if err != nil {
			var ps jobfile.Problems
			require.ErrorAs(t, err, &ps)
			require.NotEmpty(t, ps)
			for _, p := range ps {
				require.Equal(t, "house/rules/a.yaml", p.File)
				require.NotEmpty(t, p.Message)
			}
			return
		}
		for _, r := range b.Rules {
			require.NotEmpty(t, r.AllowedText())
			require.NotEmpty(t, r.Source.String())
			require.NotEmpty(t, r.Measures())
			require.NotEmpty(t, r.Fields())
			if r.First != "" || slices.ContainsFunc(r.Measures(), func(m string) bool { _, wait := measure.ParseWait(m); return wait }) {
				continue // tables have such columns when they are asked for
			}
			a := r.Assess(tableOf(r.Kind, nil), 0)
			require.Equal(t, Unsure, a.Kept, "%s says something where nothing is known", r.ID)
			require.NotEqual(t, False, a.Applies, r.ID)
		}
	})
}
