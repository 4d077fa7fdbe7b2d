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
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

const lowJob = `wetrule: 1
reference: t
stage: as_built
judged_on: 2026-06-15
room: {use: steam_room, walls: [{id: north, width_mm: 2400, height_mm: 2200}]}
items:
  - {id: s, kind: steam_outlet, face: north, x_mm: 100, y_mm: 150, guarded: false}
  - {id: blank, kind: steam_outlet, face: north, x_mm: 900}
`

func leaveOf(fields string) string { return "leaves:\n  - {" + fields + "}\n" }

const goodLeave = "rule: steam-outlet-height, item: s, leave: concession, reason: out of the way, by: [desk], issued: 2026-06-01, until: 2026-06-30, down_to: 150"

func TestLeaves(t *testing.T) {
	change := func(old, new string) string { return strings.Replace(goodLeave, old, new, 1) }
	guard := "rule: steam-outlet-guarded, item: s, leave: concession, reason: r, issued: 2026-06-01, until: 2026-06-30"
	for name, tc := range map[string]struct {
		leave, rule string
		conceded    bool
		says        string // of the fault; empty when there is none
		severity    rulebook.Severity
	}{
		"holds":                       {goodLeave, "steam-outlet-height", true, "", 0},
		"holds on its last day":       {change("until: 2026-06-30", "until: 2026-06-15"), "steam-outlet-height", true, "", 0},
		"ended the day before":        {change("until: 2026-06-30", "until: 2026-06-14"), "steam-outlet-height", false, "it ended on 2026-06-14", rulebook.Major},
		"holds from its first day":    {change("issued: 2026-06-01", "issued: 2026-06-15"), "steam-outlet-height", true, "", 0},
		"not yet given":               {change("issued: 2026-06-01", "issued: 2026-06-16"), "steam-outlet-height", false, "it is given only on 2026-06-16", rulebook.Major},
		"ends before it is given":     {change("until: 2026-06-30", "until: 2026-05-31"), "steam-outlet-height", false, "before it is given", rulebook.Major},
		"work goes beyond it":         {change("down_to: 150", "down_to: 151"), "steam-outlet-height", false, "it holds down to 151 mm; measured: 150 mm", rulebook.Major},
		"says no value":               {change(", down_to: 150", ""), "steam-outlet-height", false, "say down to which value it holds; measured: 150 mm", rulebook.Major},
		"says the wrong side":         {change("down_to: 150", "up_to: 400"), "steam-outlet-height", false, "say down to which value", rulebook.Major},
		"unknown rule":                {change("steam-outlet-height", "steam-outlet-hight"), "steam-outlet-height", false, `did you mean "steam-outlet-height"`, rulebook.Major},
		"unknown item":                {change("item: s", "item: blan"), "steam-outlet-height", false, `did you mean "blank"`, rulebook.Minor},
		"what can't be shown":         {change("item: s", "item: blank"), "steam-outlet-height", false, "what can't be shown can't be conceded", rulebook.Major},
		"not needed":                  {change("steam-outlet-height, item: s", "room-plan-closes, item: room"), "room-plan-closes", false, "no such item", rulebook.Minor},
		"critical by one":             {guard + ", by: [desk], value: false", "steam-outlet-guarded", false, "two people must give it", rulebook.Critical},
		"critical by one twice":       {guard + ", by: [desk, ' Desk'], value: false", "steam-outlet-guarded", false, "two people must give it", rulebook.Critical},
		"critical by two":             {guard + ", by: [desk, owner], value: false", "steam-outlet-guarded", true, "", 0},
		"critical for another value":  {guard + ", by: [desk, owner], value: true", "steam-outlet-guarded", false, "it holds for true; measured: no", rulebook.Critical},
		"critical without a value":    {guard + ", by: [desk, owner]", "steam-outlet-guarded", false, "say the value for which it holds", rulebook.Critical},
		"of another job, in one file": {goodLeave + ", job: other", "steam-outlet-height", false, "", 0},
	} {
		t.Run(name, func(t *testing.T) {
			check := func(r *verdict.Review) {
				require.Empty(t, r.Problems)
				conceded := false
				for i := range r.Verdicts {
					v := &r.Verdicts[i]
					if v.Rule.ID == tc.rule && v.Subject.ID == "s" {
						conceded = v.Leave() != nil
						require.Equal(t, conceded, !v.Finding() && v.Outcome == verdict.Nonconforming)
					}
				}
				require.Equal(t, tc.conceded, conceded)
				if tc.says == "" {
					require.Empty(t, r.Faults)
					return
				}
				require.Len(t, r.Faults, 1)
				require.Contains(t, r.Faults[0].Text, tc.says)
				require.Equal(t, tc.severity, r.Faults[0].Severity)
				require.Positive(t, r.Faults[0].Place.Line)
			}
			check(reviewWith(t, Options{}, lowJob+leaveOf(tc.leave)))
			side := filepath.Join(t.TempDir(), "leaves.yaml")
			require.NoError(t, os.WriteFile(side, []byte(leaveOf(tc.leave)), 0o600))
			check(reviewWith(t, Options{Leaves: []string{side}}, lowJob))
		})
	}
}

func TestLeavesNotNeededAndNotJudged(t *testing.T) {
	r := reviewWith(t, Options{}, strings.Replace(lowJob, "y_mm: 150", "y_mm: 250", 1)+leaveOf(goodLeave))
	require.Len(t, r.Faults, 1)
	require.Contains(t, r.Faults[0].Text, "it is not needed: the item conforms")
	// A rule that this review does not judge says nothing of its leaves.
	r = reviewWith(t, Options{Only: []string{"steam-outlet-guarded"}}, lowJob+leaveOf(goodLeave))
	require.Empty(t, r.Faults)
}

func TestMalformedLeavesAreRefused(t *testing.T) {
	for _, bad := range []string{
		strings.Replace(goodLeave, ", reason: out of the way", "", 1), strings.Replace(goodLeave, "until: 2026-06-30", "until: never", 1),
		strings.Replace(goodLeave, ", until: 2026-06-30", "", 1), strings.Replace(goodLeave, "by: [desk]", "by: []", 1), strings.Replace(goodLeave, "leave: concession", "leave: waiver", 1),
	} {
		l, err := New(Options{})
		require.NoError(t, err)
		r, err := l.Review(context.Background(), "job.yaml", []byte(lowJob+leaveOf(bad)))
		require.NoError(t, err)
		require.NotEmpty(t, r.Problems, bad)
	}
	_, err := New(Options{Leaves: []string{"no/such.yaml"}})
	require.ErrorContains(t, err, "no/such.yaml cannot be read")
}

func TestLeavesInReports(t *testing.T) {
	r := reviewWith(t, Options{Only: []string{"steam-outlet-height"}}, strings.Replace(lowJob, "  - {id: blank, kind: steam_outlet, face: north, x_mm: 900}\n", "", 1)+leaveOf(goodLeave))
	reviews := []*verdict.Review{r}
	o := report.Options{FailAt: rulebook.Minor}
	require.Equal(t, report.StatusClean, o.Status(reviews))
	render := func(format string, o report.Options) string {
		var b bytes.Buffer
		require.NoError(t, report.Write(&b, format, reviews, o))
		return b.String()
	}
	require.Contains(t, render("text", o), "conceded  steam-outlet-height of s, 150 mm, until 2026-06-30 by desk: out of the way")
	require.Contains(t, render("json", o), `"conceded"`)
	require.NotContains(t, render("sarif", o), "suppressions")
	o.Suppressed = true
	require.Contains(t, render("sarif", o), `"justification":"concession until 2026-06-30 by desk: out of the way"`)
	require.Contains(t, render("junit", o), "concession until 2026-06-30")

	r = reviewWith(t, Options{Only: []string{"steam-outlet-height"}}, lowJob+leaveOf(strings.Replace(goodLeave, "until: 2026-06-30", "until: 2026-06-02", 1)))
	reviews = []*verdict.Review{r}
	require.Equal(t, report.StatusFindings, report.Options{FailAt: rulebook.Major, Tolerate: true}.Status(reviews))
	require.Contains(t, render("text", o), "major: leave for steam-outlet-height of s: it ended on 2026-06-02\n")
	require.Contains(t, render("sarif", o), "leave-at-fault")
	require.Contains(t, render("junit", o), "it ended on 2026-06-02")
}

func TestSnapshotRatchet(t *testing.T) {
	only := Options{Only: []string{"steam-outlet-height", "steam-outlet-guarded"}}
	take := func(job string) []*verdict.Review { return []*verdict.Review{reviewWith(t, only, job)} }
	before := verdict.Take(take(lowJob))
	require.Len(t, before.Findings, 4)
	var b bytes.Buffer
	require.NoError(t, before.Write(&b))
	read := func() *verdict.Snapshot {
		s, err := verdict.ReadSnapshot("snapshot.json", b.Bytes())
		require.NoError(t, err)
		return s
	}
	require.Equal(t, before, read())
	fails := func(reviews []*verdict.Review) int { return report.Options{FailAt: rulebook.Minor}.Status(reviews) }

	same := take("# a line that moves all others\n" + lowJob)
	p := read().Compare(same)
	require.Equal(t, []int{4, 0, 0, 0}, []int{p.Known, len(p.Worse), len(p.Better), len(p.Gone)})
	require.Equal(t, report.StatusClean, fails(same))

	worse := take(strings.Replace(lowJob, "y_mm: 150", "y_mm: 149", 1))
	p = read().Compare(worse)
	require.Equal(t, []string{"job.yaml: steam-outlet-height of s: was 150 mm, is 149 mm"}, p.Worse)
	require.Equal(t, report.StatusFindings, fails(worse))

	better := take(strings.Replace(lowJob, "y_mm: 150", "y_mm: 180", 1))
	p = read().Compare(better)
	require.Len(t, p.Better, 1)
	require.Equal(t, report.StatusClean, fails(better))
	tightened := read().Tighten(p)
	require.Equal(t, -20.0, *tightened.Findings[slicesIndex(tightened, "steam-outlet-height", "s")].Margin)
	require.Equal(t, report.StatusFindings, fails(func() []*verdict.Review { r := take(lowJob); tightened.Compare(r); return r }()), "what got better must stay so")

	gone := take(strings.Replace(lowJob, "y_mm: 150", "y_mm: 250", 1))
	p = read().Compare(gone)
	require.Len(t, p.Gone, 1)
	require.Len(t, read().Tighten(p).Findings, 3)

	added := take(lowJob + "  - {id: new, kind: steam_outlet, face: north, x_mm: 1500, y_mm: 150, guarded: true}\n")
	read().Compare(added)
	require.Equal(t, report.StatusFindings, fails(added))

	shown := take(strings.Replace(lowJob, "x_mm: 900}", "x_mm: 900, y_mm: 150}", 1)) // could not be shown before, is shown not to conform now
	p = read().Compare(shown)
	require.Len(t, p.Worse, 1)
	require.Equal(t, report.StatusFindings, fails(shown))

	for _, bad := range []string{"", "[]", "{}", `{"snapshot":2,"findings":[]}`, `{"snapshot":1,"findings":[{}]}`, `{"snapshot":1,"findings":[null]}`, `{"snapshot":1,"more":1}`} {
		_, err := verdict.ReadSnapshot("s.json", []byte(bad))
		require.ErrorContains(t, err, "s.json", bad)
	}
}

func slicesIndex(s *verdict.Snapshot, rule, subject string) int {
	for i, k := range s.Findings {
		if k.Rule == rule && k.Subject == subject {
			return i
		}
	}
	return -1
}
