package lint

import (
	"context"
	"fmt"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/schema"
)

// What judging costs is held by counters, which are the same on every machine, so that a slower rule is seen when it is reviewed.

// counted are the jobs that are counted.
func counted(t testing.TB) (names []string, files map[string]*jobfile.File) {
	files = map[string]*jobfile.File{}
	add := func(name string, data []byte) {
		f, err := jobfile.Load(name, data)
		require.NoError(t, err)
		names, files[name] = append(names, name), f
	}
	add("starter", schema.Starter)
	for _, name := range []string{"clean", "faults"} {
		data, err := os.ReadFile("../fixtures/demo/" + name + ".yaml")
		require.NoError(t, err)
		add(name, data)
	}
	for _, n := range []int{40, 400} {
		add(fmt.Sprintf("reference %d", n), referenceJob(n))
	}
	return names, files
}

// TestGoldenStepsOfPolicies counts the expressions that the policies evaluate: for every job under every rule of core and under 120 of them.
func TestGoldenStepsOfPolicies(t *testing.T) {
	of := linters(t)
	names, files := counted(t)
	var b strings.Builder
	fmt.Fprintf(&b, "%-14s %5s %8s %8s %8s\n", "job", "rules", "verdicts", "findings", "steps")
	for _, rules := range []string{"120", "all"} {
		for _, name := range names {
			r, err := of[rules].ReviewFile(context.Background(), files[name])
			require.NoError(t, err)
			require.Empty(t, r.Problems)
			fmt.Fprintf(&b, "%-14s %5d %8d %8d %8d\n", name, len(r.Rules), len(r.Verdicts), len(r.Findings()), r.Steps)
		}
	}
	golden(t, "steps.txt", []byte(b.String()))
}

// TestCostGrowsNoFasterThanTheJob demands that ten times the items, most of which are alike, cost no more than twelve times as much, in steps of the policies and
// in allocations, and that two halves of the rules cost no less than all of them.
func TestCostGrowsNoFasterThanTheJob(t *testing.T) {
	ctx := context.Background()
	_, files := counted(t)
	cost := func(l *Linter, items int) (steps, allocs float64) {
		f := files[fmt.Sprintf("reference %d", items)]
		r, err := l.ReviewFile(ctx, f)
		require.NoError(t, err)
		return float64(r.Steps), testing.AllocsPerRun(3, func() { _, _ = l.ReviewFile(ctx, f) })
	}
	for name, l := range linters(t) {
		s40, a40 := cost(l, 40)
		s400, a400 := cost(l, 400)
		t.Logf("%s rules: steps %.0f and %.0f, %.1f times; allocations %.0f and %.0f, %.1f times", name, s40, s400, s400/s40, a40, a400, a400/a40)
		require.LessOrEqual(t, s400, 12*s40, name)
		require.LessOrEqual(t, a400, 12*a40, name)
	}
	all := core(t)
	var halves [2][]string
	for i, r := range all.Rules() {
		halves[i%2] = append(halves[i%2], r.ID)
	}
	for _, items := range []int{40, 400} {
		steps, allocs := cost(all, items)
		var sumSteps, sumAllocs float64
		for _, ids := range halves {
			l, err := New(Options{Only: ids})
			require.NoError(t, err)
			s, a := cost(l, items)
			sumSteps, sumAllocs = sumSteps+s, sumAllocs+a
		}
		t.Logf("%d items: steps %.0f, of the halves %.0f; allocations %.0f, of the halves %.0f", items, steps, sumSteps, allocs, sumAllocs)
		require.LessOrEqual(t, steps, sumSteps)
		require.LessOrEqual(t, allocs, sumAllocs*1.02)
	}
}

// TestAllocationBudgets holds what one review of the reference job may allocate. The budgets lie a tenth above what it takes; whoever makes it cheaper
// lowers them.
func TestAllocationBudgets(t *testing.T) {
	ctx := context.Background()
	of := linters(t)
	job := referenceJob(40)
	f, err := jobfile.Load("job.yaml", job)
	require.NoError(t, err)
	o := report.Options{Version: "test", FailAt: rulebook.Minor}
	reviewed, err := of["all"].ReviewFile(ctx, f)
	require.NoError(t, err)
	for _, c := range []struct {
		name   string
		budget float64
		run    func() error
	}{
		{"measure and judge, 120 rules", 790, func() error { _, err := of["120"].ReviewFile(ctx, f); return err }},
		{"measure and judge, all rules", 1150, func() error { _, err := of["all"].ReviewFile(ctx, f); return err }},
		{"JSON report once more", 430, func() error { return report.Write(io.Discard, "json", []*verdict.Review{reviewed}, o) }},
		{"whole review, all rules", 1820, func() error {
			r, err := of["all"].Review(ctx, "job.yaml", job)
			if err != nil {
				return err
			}
			return report.Write(io.Discard, "json", []*verdict.Review{r}, o)
		}},
	} {
		got := testing.AllocsPerRun(10, func() { require.NoError(t, c.run()) })
		t.Logf("%s: %.0f allocations, budget %.0f", c.name, got, c.budget)
		if underRace { // pools give things back at random then
			continue
		}
		require.LessOrEqual(t, got, c.budget, c.name)
		require.Greater(t, got, c.budget*0.7, "%s: the budget may be lowered", c.name)
	}
}
