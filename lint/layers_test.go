package lint

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// book writes a rulebook into a folder and returns it.
func book(t *testing.T, name, layer, rules string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "rules"), 0o755))
	write := func(file, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, file), []byte(text), 0o600))
	}
	write("rulebook.yaml", "rulebook: "+name+"\ntitle: T\nedition: '1'\nlayer: "+layer+"\n")
	write("sources.yaml", "sources: [{id: house, kind: firm, title: House book}]\n")
	write("rules/a.yaml", "subject: house\n"+rules)
	return dir
}

const heightJob = plainRoom + "items: [{id: s, kind: steam_outlet, face: north, x_mm: 100, y_mm: 230}]\n"

func reviewWith(t *testing.T, o Options, job string) *verdict.Review {
	t.Helper()
	l, err := New(o)
	require.NoError(t, err)
	r, err := l.Review(context.Background(), "job.yaml", []byte(job))
	require.NoError(t, err)
	require.Empty(t, r.Problems)
	return r
}

func TestLayersTightenLoosenAndSwitchOff(t *testing.T) {
	tighten := book(t, "firm", "firm", `amendments:
  - {rule: steam-outlet-height, change: tighten, title: Steam enters 240 to 260 mm above the floor, allowed: {between: [240, 260]}, reason: Our outlets have a low jet., source: {id: house, basis: read}}
`)
	r := reviewWith(t, Options{Rulebooks: []string{tighten}}, heightJob)
	require.Equal(t, "nonconforming", outcomeOf(t, r, "steam-outlet-height", "s"))
	for _, v := range r.Verdicts {
		if v.Rule.ID == "steam-outlet-height" {
			require.Equal(t, -10.0, v.Margin())
			require.Equal(t, "firm", v.Rule.LimitBy())
			require.Equal(t, "200 to 300 mm", v.Rule.Changes[0].Before)
			require.Empty(t, v.Rule.Looser())
		}
	}
	require.Empty(t, r.Notices)

	loosen := book(t, "firm", "firm", `amendments:
  - {rule: steam-outlet-height, change: loosen, title: Steam enters 100 to 300 mm above the floor, allowed: {between: [100, 300]}, reason: Low benches., source: {id: house, basis: read}}
`)
	r = reviewWith(t, Options{Rulebooks: []string{loosen}}, strings.Replace(heightJob, "230", "150", 1))
	require.Equal(t, "conforms", outcomeOf(t, r, "steam-outlet-height", "s"))
	require.Contains(t, strings.Join(r.Notices, "\n"), "The base is looser here: the rule steam-outlet-height is loosened by firm, before: 200 to 300 mm; Low benches.")

	off := book(t, "firm", "firm", "amendments: [{rule: steam-outlet-height, change: off, reason: We set no outlets.}]\n")
	r = reviewWith(t, Options{Rulebooks: []string{off}}, strings.Replace(heightJob, "230", "150", 1))
	require.Equal(t, "not_applicable", outcomeOf(t, r, "steam-outlet-height", "s"))
	require.Contains(t, strings.Join(r.Notices, "\n"), "The rule steam-outlet-height is switched off by firm: We set no outlets.")

	grave := book(t, "firm", "firm", "amendments: [{rule: steam-outlet-height, change: severity, severity: critical, reason: Children use our rooms.}]\n")
	r = reviewWith(t, Options{Rulebooks: []string{grave}}, strings.Replace(heightJob, "230", "150", 1))
	for _, v := range r.Findings() {
		if v.Rule.ID == "steam-outlet-height" {
			require.Equal(t, rulebook.Critical, v.Rule.Severity)
		}
	}
}

func TestLayersLieInTheirOrder(t *testing.T) {
	firm := book(t, "firm", "firm", `amendments:
  - {rule: steam-outlet-height, change: tighten, title: F, allowed: {between: [240, 260]}, reason: firm}
`)
	region := book(t, "region", "region", `amendments:
  - {rule: steam-outlet-height, change: tighten, title: R, allowed: {between: [220, 280]}, reason: region}
`)
	for _, order := range [][]string{{firm, region}, {region, firm}} {
		r := reviewWith(t, Options{Rulebooks: order}, heightJob)
		for _, v := range r.Verdicts {
			if v.Rule.ID == "steam-outlet-height" {
				require.Equal(t, "F", v.Rule.Title)
				require.Len(t, v.Rule.Changes, 2)
				require.Equal(t, "220 to 280 mm", v.Rule.Changes[1].Before)
			}
		}
		require.Equal(t, []string{"core", "region", "firm"}, []string{r.Books[0].Name, r.Books[1].Name, r.Books[2].Name})
	}
}

func TestEditionsGoByTheDateOfJudgement(t *testing.T) {
	firm := book(t, "firm", "firm", `amendments:
  - {rule: steam-outlet-height, change: tighten, title: F, allowed: {between: [240, 260]}, reason: firm, in_force: {from: "2026-05-01", until: "2027-01-01"}}
`)
	for day, want := range map[string]string{"2026-04-30": "conforms", "2026-05-01": "nonconforming", "2026-12-31": "nonconforming", "2027-01-01": "conforms"} {
		r := reviewWith(t, Options{Rulebooks: []string{firm}, On: day}, heightJob)
		require.Equal(t, want, outcomeOf(t, r, "steam-outlet-height", "s"), day)
	}
}

func TestAmendmentsMustBeWhatTheySay(t *testing.T) {
	for name, tc := range map[string]struct{ rules, says string }{
		"not tighter":         {`[{rule: steam-outlet-height, change: tighten, title: T, allowed: {between: [100, 260]}, reason: r}]`, "this does not tighten steam-outlet-height"},
		"not looser":          {`[{rule: steam-outlet-height, change: loosen, title: T, allowed: {between: [240, 260]}, reason: r, source: {id: house, basis: read}}]`, "this tightens steam-outlet-height"},
		"nothing changed":     {`[{rule: steam-outlet-height, change: tighten, title: T, allowed: {between: [200, 300]}, reason: r}]`, "this changes nothing"},
		"loosen sourceless":   {`[{rule: steam-outlet-height, change: loosen, title: T, allowed: {between: [100, 300]}, reason: r}]`, "name a source"},
		"no reason":           {`[{rule: steam-outlet-height, change: off}]`, `"reason"`},
		"critical quietly":    {`[{rule: steam-outlet-guarded, change: off, reason: r}]`, "accepts_risk"},
		"unknown rule":        {`[{rule: steam-outlet-hight, change: off, reason: r}]`, `did you mean "steam-outlet-height"`},
		"limits with off":     {`[{rule: steam-outlet-height, change: off, allowed: {at_least: 1}, reason: r}]`, "not with off"},
		"severity missing":    {`[{rule: steam-outlet-height, change: severity, reason: r}]`, "give the new severity"},
		"judged by Rego":      {`[{rule: build-up-order, change: tighten, title: T, allowed: {is: [a]}, reason: r}]`, "judged by Rego"},
		"never in force":      {`[{rule: steam-outlet-height, change: off, reason: r, in_force: {from: "2026-02-01", until: "2026-01-01"}}]`, "never in force"},
		"without a new title": {`[{rule: steam-outlet-height, change: tighten, allowed: {between: [240, 260]}, reason: r}]`, "title"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := New(Options{Rulebooks: []string{book(t, "firm", "firm", "amendments: "+tc.rules+"\n")}})
			require.ErrorContains(t, err, tc.says)
			require.Regexp(t, `rules/a\.yaml:2:[0-9]+: `, err.Error())
		})
	}
}

func TestConflictsAreReportedNotResolved(t *testing.T) {
	rule := func(id, allowed string) string {
		return `  - {id: ` + id + `, title: T, severity: major, from: design, applies_to: room, measure: floor_fall_percent, allowed: ` + allowed + `, why: w, remedy: r, source: {id: house, basis: read}}` + "\n"
	}
	firm := book(t, "firm", "firm", "rules:\n"+rule("steep", "{at_least: 3}")+rule("flat", "{at_most: 2.08}"))
	r := reviewWith(t, Options{Rulebooks: []string{firm}}, heightJob)
	require.Contains(t, strings.Join(r.Notices, "\n"), "Conflict between rules: flat (firm) asks for at most 2.08 % and steep (firm) for at least 3 %: nothing keeps both.")
	at := book(t, "firm", "firm", "rules:\n"+rule("steep", "{at_least: 2.08}")+rule("flat", "{at_most: 2.08}"))
	require.NotContains(t, strings.Join(reviewWith(t, Options{Rulebooks: []string{at}}, heightJob).Notices, "\n"), "Conflict")
}

func TestCountryChoosesItsRulebook(t *testing.T) {
	books := func(r *verdict.Review) (out []string) {
		for _, b := range r.Books {
			out = append(out, b.Name)
		}
		return out
	}
	r := reviewWith(t, Options{}, "country: GB\n"+heightJob)
	require.Equal(t, []string{"core", "regions/gb"}, books(r))
	require.NotContains(t, strings.Join(r.Notices, "\n"), "No rulebook for the country")
	r = reviewWith(t, Options{}, "country: GB\nrulebooks: [core]\n"+heightJob)
	require.Equal(t, []string{"core"}, books(r))
	require.Contains(t, strings.Join(r.Notices, "\n"), "No rulebook for the country GB is applied")
	r = reviewWith(t, Options{}, "country: ZZ\n"+heightJob)
	require.Contains(t, strings.Join(r.Notices, "\n"), "No rulebook for the country ZZ is applied")
}
