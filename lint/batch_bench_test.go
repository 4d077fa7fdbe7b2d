package lint

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
)

// referenceLine is the reference job in JSON on one line.
func referenceLine(t testing.TB, n int) []byte {
	t.Helper()
	root, err := jobfile.Read("job.yaml", referenceJob(n))
	require.NoError(t, err)
	line, err := json.Marshal(root.Value())
	require.NoError(t, err)
	return line
}

// processor is the time that this process has spent on processors.
func processor() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkBatch is a stream of reference jobs of 40 items from bytes to bytes: JSON lines to report lines, or YAML files as text. One
// operation is one job. cpu-ms/job tells what a job costs on a machine that does other things too; busy is how many cores were at work.
func BenchmarkBatch(b *testing.B) {
	line, yaml := referenceLine(b, 40), referenceJob(40)
	for _, procs := range []int{1, 2} {
		for _, c := range []struct {
			name, format string
			in           Input
			findings     bool
		}{
			{"lines/every-verdict", report.Lines, Input{Name: "stdin", Line: 1, Data: line}, false},
			{"lines/findings-only", report.Lines, Input{Name: "stdin", Line: 1, Data: line}, true},
			{"yaml/text", "text", Input{Name: "job.yaml", Data: yaml}, false},
			{"yaml/lines/findings-only", report.Lines, Input{Name: "job.yaml", Data: yaml}, true},
		} {
			b.Run(fmt.Sprintf("procs=%d/%s", procs, c.name), func(b *testing.B) {
				asStream(b)
				old := runtime.GOMAXPROCS(procs)
				defer runtime.GOMAXPROCS(old)
				l := core(b)
				_, err := l.Review(context.Background(), "job.yaml", yaml) // prepared once
				require.NoError(b, err)
				var out byteCount
				s, err := report.NewStream(&out, c.format, report.Options{Version: "bench", FailAt: rulebook.Minor, FindingsOnly: c.findings})
				require.NoError(b, err)
				inputs := func(yield func(Input) bool) {
					for b.Loop() {
						if !yield(c.in) {
							return
						}
					}
				}
				b.ReportAllocs()
				start, cpu := time.Now(), processor()
				require.NoError(b, Each(context.Background(), l, inputs, Shard{}, func(r Result) (report.Part, error) {
					p, err := s.Part(r.Review)
					r.Release()
					return p, err
				}, s.Add))
				took, used := time.Since(start), processor()-cpu
				require.Positive(b, int(out))
				jobs := float64(s.Jobs())
				b.ReportMetric(jobs/took.Seconds(), "jobs/s")
				b.ReportMetric(used.Seconds()*1000/jobs, "cpu-ms/job")
				b.ReportMetric(used.Seconds()/took.Seconds(), "busy")
			})
		}
	}
}

type byteCount int

func (n *byteCount) Write(p []byte) (int, error) {
	*n += byteCount(len(p))
	return len(p), nil
}

// buildCommand builds the command as it is shipped.
func buildCommand(t testing.TB, dir string) string {
	t.Helper()
	command := filepath.Join(dir, "wetrule")
	out, err := exec.Command("go", "build", "-trimpath", "-ldflags", "-s -w", "-o", command, "wetrule/cmd/wetrule").CombinedOutput()
	require.NoError(t, err, string(out))
	return command
}

// BenchmarkColdStart runs the command as a process of its own on one job: the time on the clock from start to end, the
// fastest and the mean, the time on processors, and how many pages had to be fetched.
func BenchmarkColdStart(b *testing.B) {
	dir := b.TempDir()
	command := buildCommand(b, dir)
	job := filepath.Join(dir, "job.yaml")
	require.NoError(b, os.WriteFile(job, referenceJob(40), 0o600))
	for _, args := range [][]string{{"review", "-q", job}, {"--version"}} {
		b.Run(strings.Trim(args[0], "-"), func(b *testing.B) {
			var walls, cpus []time.Duration
			var faults []int64
			for b.Loop() {
				c := exec.Command(command, args...)
				start := time.Now()
				out, err := c.CombinedOutput()
				walls = append(walls, time.Since(start))
				if e, ok := err.(*exec.ExitError); err != nil && (!ok || e.ExitCode() != report.StatusFindings) {
					b.Fatal(err, string(out))
				}
				cpus = append(cpus, c.ProcessState.UserTime()+c.ProcessState.SystemTime())
				faults = append(faults, c.ProcessState.SysUsage().(*syscall.Rusage).Minflt)
			}
			mean := time.Duration(0)
			for _, w := range walls {
				mean += w / time.Duration(len(walls))
			}
			b.ReportMetric(ms(slices.Min(walls)), "wall-ms-min")
			b.ReportMetric(ms(mean), "wall-ms-mean")
			b.ReportMetric(ms(slices.Min(cpus)), "cpu-ms-min")
			b.ReportMetric(float64(slices.Min(faults)), "page-faults")
			b.ReportMetric(0, "ns/op")
		})
	}
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// BenchmarkAgainstPlainProgram holds a batch against the policy engine's own program, which evaluates the same rules, sealed, on the
// measures of the same job, one process a job. The program is built from its module, which takes minutes, so it is
// for WETRULE_NO_SKIP=1 alone. The batch does more: it reads, validates and measures the jobs and writes reports.
func BenchmarkAgainstPlainProgram(b *testing.B) {
	if os.Getenv("WETRULE_NO_SKIP") != "1" {
		b.Skip("SKIPPED: the policy engine's own program takes minutes to build; set WETRULE_NO_SKIP=1")
	}
	dir := b.TempDir()
	run := func(name string, args ...string) (out []byte, cpu time.Duration) {
		c := exec.Command(name, args...)
		c.Dir = dir
		c.Env = append(os.Environ(), "GOFLAGS=-mod=mod", "GOWORK=off")
		var errs bytes.Buffer
		c.Stderr = &errs
		out, err := c.Output()
		if e, ok := err.(*exec.ExitError); err != nil && (!ok || e.ExitCode() != report.StatusFindings || errs.Len() > 0) {
			b.Fatalf("%s %s: %v\n%s%s", name, strings.Join(args, " "), err, out, errs.Bytes())
		}
		return out, c.ProcessState.UserTime() + c.ProcessState.SystemTime()
	}
	const module = "github.com/open-policy-agent/opa"
	version, err := exec.Command("go", "list", "-m", "-f", "{{.Version}}", module).Output()
	require.NoError(b, err)
	run("go", "mod", "init", "plain")
	run("go", "get", module+"@"+strings.TrimSpace(string(version)))
	run("go", "build", "-trimpath", "-ldflags", "-s -w", "-o", "opa", module)
	opa := filepath.Join(dir, "opa")
	job := referenceJob(40)
	l := core(b)
	r, err := l.Review(context.Background(), "job.yaml", job)
	require.NoError(b, err)
	facts, err := Facts(r)
	require.NoError(b, err)
	bundle, _, _, err := SealRulebook("regions/"+strings.ToLower(r.Country), SealOptions{On: r.On})
	require.NoError(b, err)
	require.NoError(b, os.WriteFile(filepath.Join(dir, "core.tar.gz"), bundle, 0o600))
	require.NoError(b, os.WriteFile(filepath.Join(dir, "facts.json"), facts, 0o600))
	command := buildCommand(b, dir)
	const jobs, runs = 4000, 40 // a turn of either takes about two seconds, so that both meet the same moods of the machine
	line := append(referenceLine(b, 40), '\n')
	require.NoError(b, os.WriteFile(filepath.Join(dir, "jobs.ndjson"), bytes.Repeat(line, jobs), 0o600))
	plain := func() (clock, cpu time.Duration) {
		start := time.Now()
		out, cpu := run(opa, "eval", "-b", "core.tar.gz", "-i", "facts.json", "--format", "raw", "data.wetrule.sealed.findings")
		clock = time.Since(start)
		var findings []any
		require.NoError(b, json.Unmarshal(out, &findings))
		require.Len(b, findings, len(r.Findings()))
		return clock, cpu
	}
	batch := func() (clock, cpu time.Duration) {
		start := time.Now()
		_, cpu = run(command, "review", "--lines", "jobs.ndjson", "--findings-only", "-o", "reports.ndjson")
		clock = time.Since(start)
		out, err := os.ReadFile(filepath.Join(dir, "reports.ndjson"))
		require.NoError(b, err)
		require.Equal(b, jobs, bytes.Count(out, []byte("\n")))
		return clock / jobs, cpu / jobs
	}
	plain() // from a warm disk
	var clocks, cpus [2][]time.Duration
	note := func(side int, clock, cpu time.Duration) {
		clocks[side], cpus[side] = append(clocks[side], clock), append(cpus[side], cpu)
	}
	for b.Loop() {
		for range runs {
			clock, cpu := plain()
			note(0, clock, cpu)
		}
		clock, cpu := batch()
		note(1, clock, cpu)
	}
	middle := func(d []time.Duration) time.Duration {
		slices.Sort(d)
		return (d[(len(d)-1)/2] + d[len(d)/2]) / 2
	}
	for i, side := range []string{"program", "batch"} {
		b.ReportMetric(ms(middle(clocks[i])), side+"-ms/job")
		b.ReportMetric(ms(middle(cpus[i])), side+"-cpu-ms/job")
		b.ReportMetric(ms(slices.Min(clocks[i])), side+"-least-ms/job")
	}
	b.ReportMetric(float64(middle(clocks[0]))/float64(middle(clocks[1])), "times")
	b.ReportMetric(float64(middle(cpus[0]))/float64(middle(cpus[1])), "times-cpu")
	b.ReportMetric(0, "ns/op")
}
