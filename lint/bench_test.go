package lint

import (
	"context"
	"fmt"
	"io"
	"runtime/debug"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/jobfile/jobtest"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

func referenceJob(n int) []byte { return jobtest.Reference(n) }

// asCommand sets the heap as the command does.
func asCommand(b *testing.B) {
	old := debug.SetGCPercent(400)
	b.Cleanup(func() { debug.SetGCPercent(old) })
}

// asStream sets the heap as the command does for jobs that are written as they are judged.
func asStream(b *testing.B) {
	percent, limit := debug.SetGCPercent(1600), debug.SetMemoryLimit(224<<20)
	b.Cleanup(func() {
		debug.SetGCPercent(percent)
		debug.SetMemoryLimit(limit)
	})
}

// BenchmarkReview is the whole review of a YAML job, prepared: read, validate, measure, judge, JSON report. Jobs come one after the other in the same
// memory, as the command does with many, or each in memory of its own.
func BenchmarkReview(b *testing.B) {
	asCommand(b)
	of := linters(b)
	for _, rules := range []string{"120", "all"} {
		for _, n := range []int{40, 400} {
			for _, own := range []bool{false, true} {
				name := fmt.Sprintf("rules=%s/items=%d", rules, n)
				if own {
					name += "/own-memory"
				}
				b.Run(name, func(b *testing.B) {
					l, m := of[rules], &Memory{}
					job := referenceJob(n)
					o := report.Options{Version: "bench", FailAt: rulebook.Minor}
					b.SetBytes(int64(len(job)))
					b.ReportAllocs()
					for b.Loop() {
						if own {
							m = &Memory{}
						}
						r, err := l.ReviewIn(context.Background(), m, "job.yaml", job)
						if err != nil || len(r.Problems) > 0 {
							b.Fatal(err, r.Problems)
						}
						if err := report.Write(io.Discard, "json", []*verdict.Review{r}, o); err != nil {
							b.Fatal(err)
						}
						if !own {
							m.Release()
						}
					}
					b.ReportMetric(float64(len(l.Rules())), "rules")
				})
			}
		}
	}
}

// linters are those that are measured: with every rule of core, and with 120 of them (jobtest.Some).
func linters(t testing.TB) map[string]*Linter {
	all := core(t)
	var ids []string
	for _, r := range all.Rules() {
		ids = append(ids, r.ID)
	}
	some, err := New(Options{Only: jobtest.Some(ids, 120)})
	require.NoError(t, err)
	require.Len(t, some.Rules(), 120)
	return map[string]*Linter{"120": some, "all": all}
}

// BenchmarkJudge is measuring and judging: measures in Go, the plain reading of the rows, policies, verdicts. Reading the job and
// writing a report are not in it.
func BenchmarkJudge(b *testing.B) {
	asCommand(b)
	of := linters(b)
	for _, rules := range []string{"120", "all"} {
		for _, n := range []int{40, 400} {
			b.Run(fmt.Sprintf("rules=%s/items=%d", rules, n), func(b *testing.B) {
				l := of[rules]
				f, err := jobfile.Load("job.yaml", referenceJob(n))
				require.NoError(b, err)
				b.ReportAllocs()
				for b.Loop() {
					if _, err := l.ReviewFile(context.Background(), f); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(len(l.Rules())), "rules")
			})
		}
	}
}

// BenchmarkByHand is the physical floor: twenty limits of core on the same 40 items, written out in Go on the job as read. There are no rows, no
// notes, no margins, and nothing is undetermined: a value that is missing is passed over.
func BenchmarkByHand(b *testing.B) {
	f, err := jobfile.Load("job.yaml", referenceJob(40))
	require.NoError(b, err)
	b.ReportAllocs()
	found := 0
	for b.Loop() {
		found = byHand(f.Job)
	}
	b.ReportMetric(float64(found), "findings")
}

// byHand counts what lies outside twenty limits.
func byHand(job *jobfile.Job) (found int) {
	least := func(v *float64, limit float64) {
		if v != nil && *v < limit {
			found++
		}
	}
	most := func(v *float64, limit float64) {
		if v != nil && *v > limit {
			found++
		}
	}
	must := func(v *bool) {
		if v != nil && !*v {
			found++
		}
	}
	for i := range job.Items {
		it := &job.Items[i]
		must(it.InstructionsOnSite) // 1
		switch it.Kind {
		case "steam_outlet":
			least(it.YMM, 200)           // 2
			most(it.YMM, 300)            // 3
			must(it.Guarded)             // 4
			must(it.Collar)              // 5
			least(it.CollarFlangeMM, 50) // 6
			if t := it.Tube; t != nil {
				least(t.FallPercent, 1)      // 7
				most(t.LowPoints, 0)         // 8
				most(t.ValvesOrTraps, 0)     // 9
				most(t.Bends, 4)             // 10
				most(t.SupportSpacingM, 1.8) // 11
				if in := t.Insulation; in != nil {
					least(in.ThicknessMM, 13)        // 12
					least(in.RatedTemperatureC, 120) // 13
					must(in.FittedBeforeInsertion)   // 14
				}
			}
		case "spotlight":
			least(it.RatedAmbientC, 50)    // 15
			most(it.OpeningDiameterMM, 90) // 16
		case "ventilation_outlet":
			least(it.AirFlowM3H, 15) // 17
		case "fixing":
			most(it.LoadKG, 25)      // 18
			must(it.ScrewHoleSealed) // 19
		case "fibre_lights":
			least(it.BendRadiusMM, 30) // 20
		}
	}
	return found
}

// BenchmarkPrepare is making a linter: opening rulebooks and compiling policies.
func BenchmarkPrepare(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := New(Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func TestReferenceJobIsAJob(t *testing.T) {
	r, err := core(t).Review(context.Background(), "job.yaml", referenceJob(40))
	require.NoError(t, err)
	require.Empty(t, r.Problems)
	require.NotEmpty(t, r.Findings())
	require.Less(t, len(r.Findings()), 100)
}
