package lint

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// mixedJobs are jobs of many sorts: few and many items, faults, another country, texts that are no jobs.
func mixedJobs(t testing.TB) (out []Input) {
	t.Helper()
	read := func(name string) []byte {
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		return data
	}
	add := func(data []byte) { out = append(out, Input{Name: fmt.Sprintf("%d.yaml", len(out)), Data: data}) }
	clean := string(read("../fixtures/demo/clean.yaml"))
	require.Contains(t, clean, "country:")
	add([]byte(clean))
	add(read("../fixtures/demo/faults.yaml"))
	add(referenceJob(1))
	add(referenceJob(40))
	add(referenceJob(150))
	add([]byte(heightJob))
	add([]byte(strings.Replace(clean, "wetrule: 1", "wetrule: 1\nrulebooks: [nowhere]", 1)))
	add([]byte(strings.Replace(clean, "wetrule: 1", "wetrule: 1\nrulebooks: []", 1)))
	add([]byte(strings.Replace(clean, "\nroom:", "\nrom:", 1)))
	add([]byte("wetrule: [1"))
	add(nil)
	for i, data := range [][]byte{referenceLine(t, 20), referenceLine(t, 60), []byte(jobLine(t, "small")), []byte(`{"wetrule": 1, }`)} {
		out = append(out, Input{Name: "stdin", Line: i + 1, Data: data})
	}
	// Jobs in YAML and on lines with slips.
	order := rand.New(rand.NewPCG(3, 4))
	for range 15 {
		lines := strings.SplitAfter(string(referenceJob(5+order.IntN(60))), "\n")
		for range 1 + order.IntN(3) {
			i := order.IntN(len(lines))
			lines[i] = strings.Replace(lines[i], "1", []string{"2", "", "x", "1e3", "1: 1"}[order.IntN(5)], 1)
		}
		add([]byte(strings.Join(lines, "")))
		line := string(referenceLine(t, 5+order.IntN(60)))
		line = strings.Replace(line, fmt.Sprintf(": %d", order.IntN(9)), ": 7", order.IntN(4))
		if order.IntN(3) == 0 {
			line = line[:order.IntN(len(line))]
		}
		out = append(out, Input{Name: "stdin", Line: len(out), Data: []byte(line)})
	}
	return out
}

// told is all that is written of a review.
func told(t testing.TB, r *verdict.Review) string {
	var b strings.Builder
	o := report.Options{Version: "test", FailAt: rulebook.Minor}
	for _, format := range []string{"json", "text", "sarif", "junit"} {
		require.NoError(t, report.Write(&b, format, []*verdict.Review{r}, o))
	}
	if r.Set != nil {
		for _, table := range r.Set.Full().Tables {
			for i, d := range table.Defs {
				for _, v := range table.Columns[i] {
					fmt.Fprintln(&b, d.Name, d.Format(v), v.Note(), v.At(), v.Steps())
				}
			}
		}
	}
	return b.String()
}

// A review that is made in the memory of those before is the same as one that is made in memory of its own, and one that is not given up stays
// as it is.
func TestMemoryIsUsedAgain(t *testing.T) {
	l := core(t)
	ctx := context.Background()
	jobs := mixedJobs(t)
	want := make([]string, len(jobs))
	for i, in := range jobs {
		r, err := l.reviewInput(ctx, &Memory{}, in, Shard{})
		require.NoError(t, err)
		want[i] = told(t, r.Review)
	}
	order := rand.New(rand.NewPCG(1, 2))
	var which []int
	for range 60 {
		which = append(which, order.IntN(len(jobs)))
	}
	for round := range 2 {
		kept := map[int]*verdict.Review{}
		m := &Memory{}
		for n, i := range which {
			r, err := l.reviewInput(ctx, m, jobs[i], Shard{})
			require.NoError(t, err)
			require.True(t, want[i] == told(t, r.Review), "job %d after others", i)
			if round == 1 && n%4 == 0 {
				kept[n] = r.Review
				m = &Memory{}
				continue
			}
			r.Release()
			require.Nil(t, r.Review)
			r.Release() // is no fault
		}
		for n, r := range kept {
			require.True(t, want[which[n]] == told(t, r), "job %d, which was kept", which[n])
		}
	}

	// The same on several cores.
	inputs := func(yield func(Input) bool) {
		for _, i := range which {
			if !yield(jobs[i]) {
				return
			}
		}
	}
	n := 0
	type part struct {
		text string
		kept *verdict.Review
	}
	var kept []*verdict.Review
	require.NoError(t, Each(ctx, l, inputs, Shard{}, func(r Result) (part, error) {
		if r.Review.Line%2 == 1 {
			return part{kept: r.Review}, nil
		}
		p := part{text: told(t, r.Review)}
		r.Release()
		return p, nil
	}, func(p part) error {
		if kept = append(kept, p.kept); p.kept == nil {
			require.True(t, want[which[n]] == p.text, "job %d of several at once", which[n])
		}
		n++
		return nil
	}))
	for k, r := range kept {
		if r != nil {
			require.True(t, want[which[k]] == told(t, r), "job %d, which was kept", which[k])
		}
	}
}

// What has been given up holds nothing of the job.
func TestMemoryHoldsNothing(t *testing.T) {
	l := core(t)
	m := &Memory{}
	for n := range 3 {
		r, err := l.reviewInput(context.Background(), m, Input{Name: "job.yaml", Data: referenceJob(40)}, Shard{})
		require.NoError(t, err)
		set, verdicts := r.Review.Set, r.Review.Verdicts
		table := set.Tables[0]
		require.NotEmpty(t, verdicts)
		r.Release()
		if n == 0 {
			continue // it had none yet
		}
		require.Empty(t, set.Tables)
		require.Empty(t, *table)
		for i := range verdicts {
			require.Empty(t, verdicts[i])
		}
	}
}

// TestMemoryThatIsTakenIsRefused: a review cannot be made where another one still is.
func TestMemoryThatIsTakenIsRefused(t *testing.T) {
	l := core(t)
	var m Memory
	_, err := l.ReviewIn(context.Background(), &m, "job.yaml", referenceJob(4))
	require.NoError(t, err)
	_, err = l.ReviewIn(context.Background(), &m, "job.yaml", referenceJob(4))
	require.EqualError(t, err, "the memory holds a review that has not been released")
	m.Release()
	again, err := l.ReviewIn(context.Background(), &m, "job.yaml", referenceJob(4))
	require.NoError(t, err)
	fresh, err := l.Review(context.Background(), "job.yaml", referenceJob(4))
	require.NoError(t, err)
	require.Equal(t, fresh.Counts, again.Counts)
}
