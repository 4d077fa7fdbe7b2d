package judge

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/open-policy-agent/opa/v1/topdown"
	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/jobfile/jobtest"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// BenchmarkAgainstTheFloor holds judging against the policy engine alone, all in one run:
//
//	judge  what is made of a measured job: plain reading of the rows, index of cells, input, policies, verdicts
//	opa    the policy engine evaluating the same prepared query on the same input, which is there as values, and nothing else
//	plain  the same without the index: every row on every subject, as whoever gives measures and rules to the engine has it
//	measure  taking the measures of a job that has been read
//
// Each time is the least of many rounds, in microseconds. The ratios are those of these times.
func BenchmarkAgainstTheFloor(b *testing.B) {
	book, _ := coreBook(b)
	var ids []string
	for _, r := range book.Rules {
		ids = append(ids, r.ID)
	}
	for _, rules := range []int{120, len(ids)} {
		drawn := jobtest.Some(ids, rules)
		some := slices.DeleteFunc(slices.Clone(book.Rules), func(r *rulebook.Rule) bool { return !slices.Contains(drawn, r.ID) })
		for _, items := range []int{40, 400} {
			b.Run(fmt.Sprintf("rules=%d/items=%d", rules, items), func(b *testing.B) { againstTheFloor(b, book, some, items) })
		}
	}
}

func againstTheFloor(b *testing.B, book *rulebook.Rulebook, rules []*rulebook.Rule, items int) {
	ctx, m := context.Background(), engineModule()
	f, err := jobfile.Load("job.yaml", jobtest.Reference(items))
	require.NoError(b, err)
	o := Options{Zones: rulebook.ZoneGeometry(rulebook.LayZones([]*rulebook.Rulebook{book}))}
	e, err := New(m.File, m.Text, rules, book.Modules, o)
	require.NoError(b, err)
	stage, _ := rulebook.ParseStage(f.Job.Stage)
	review := func() *verdict.Review { return &verdict.Review{Stage: stage, On: f.Job.JudgedOn} }
	set := e.plan.Measure(f.Job)
	w, r := e.spare.Get().(*work), review()
	r.Set = set
	e.assess(w, set)
	input, every := e.input(w, r), e.names.input(&terms{}, set.Tables, stage, nil, nil)
	parts := []struct {
		name string
		run  func() error
		best time.Duration
	}{
		{"judge", func() error { return e.judge(ctx, &Memory{}, review(), set) }, time.Hour},
		{"opa", func() error { _, err := e.engine.evaluate(ctx, input, topdown.NewCancel(), false); return err }, time.Hour},
		{"measure", func() error { e.plan.Measure(f.Job); return nil }, time.Hour},
		{"plain", func() error { _, err := e.engine.evaluate(ctx, every, topdown.NewCancel(), false); return err }, time.Hour},
	}
	rounds := 0
	for b.Loop() {
		for i := range parts {
			p := &parts[i]
			if p.name == "plain" && rounds%20 > 0 {
				continue
			}
			start := time.Now()
			if err := p.run(); err != nil {
				b.Fatal(err)
			}
			p.best = min(p.best, time.Since(start))
		}
		rounds++
	}
	at := map[string]float64{}
	for _, p := range parts {
		at[p.name] = float64(p.best) / float64(time.Microsecond)
		b.ReportMetric(at[p.name], p.name+"-µs")
	}
	b.ReportMetric(0, "ns/op") // of all parts together, which says nothing
	b.ReportMetric(at["judge"]/at["opa"], "judge/opa")
	b.ReportMetric(at["judge"]/at["plain"], "judge/plain")
	b.ReportMetric((at["measure"]+at["judge"])/at["plain"], "measure+judge/plain")
}

// BenchmarkParts are the parts of judging a measured job, one a benchmark, so that instructions can be counted.
func BenchmarkParts(b *testing.B) {
	book, _ := coreBook(b)
	var ids []string
	for _, r := range book.Rules {
		ids = append(ids, r.ID)
	}
	ctx, m := context.Background(), engineModule()
	f, err := jobfile.Load("job.yaml", jobtest.Reference(40))
	require.NoError(b, err)
	o := Options{Zones: rulebook.ZoneGeometry(rulebook.LayZones([]*rulebook.Rulebook{book}))}
	stage, _ := rulebook.ParseStage(f.Job.Stage)
	for _, rules := range []int{120, len(ids)} {
		drawn := jobtest.Some(ids, rules)
		some := slices.DeleteFunc(slices.Clone(book.Rules), func(r *rulebook.Rule) bool { return !slices.Contains(drawn, r.ID) })
		e, err := New(m.File, m.Text, some, book.Modules, o)
		require.NoError(b, err)
		set := e.plan.Measure(f.Job)
		w, r := e.spare.Get().(*work), &verdict.Review{Stage: stage, On: f.Job.JudgedOn}
		r.Set = set
		e.assess(w, set)
		input := e.input(w, r)
		run := func(name string, f func()) {
			b.Run(fmt.Sprintf("%s/rules=%d", name, rules), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					f()
				}
			})
		}
		run("judge", func() {
			if err := e.judge(ctx, &Memory{}, &verdict.Review{Stage: stage, On: f.Job.JudgedOn}, set); err != nil {
				b.Fatal(err)
			}
		})
		run("assess", func() { e.assess(w, set) })
		run("input", func() { e.input(w, r) })
		run("opa", func() {
			if _, err := e.engine.evaluate(ctx, input, topdown.NewCancel(), false); err != nil {
				b.Fatal(err)
			}
		})
	}
}
