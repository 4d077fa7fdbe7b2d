package report_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/report"
	"wetrule/lint/verdict"
)

// stream writes reviews one after another, the last one made ready first.
func stream(t testing.TB, format string, o report.Options, reviews ...*verdict.Review) (string, int) {
	t.Helper()
	var b bytes.Buffer
	s, err := report.NewStream(&b, format, o)
	require.NoError(t, err)
	parts := make([]report.Part, len(reviews))
	for i := len(reviews) - 1; i >= 0; i-- {
		parts[i], err = s.Part(reviews[i])
		require.NoError(t, err)
	}
	for i, p := range parts {
		before := b.Len()
		require.NoError(t, s.Add(p))
		if report.Streams(format) {
			require.Equal(t, o.Quiet && format == "text" && reviews[i].Judged() && len(reviews[i].Findings()) == 0, b.Len() == before)
		} else {
			require.Equal(t, before, b.Len())
		}
		require.Equal(t, i+1, s.Jobs())
	}
	require.NoError(t, s.Close())
	return b.String(), s.Status()
}

// Job by job or all at once: the same bytes and the same status.
func TestStreamWritesTheSame(t *testing.T) {
	all := everything(t)
	l := linter(t)
	good := review(t, l, "jobs/good.yaml", jobHead+goodOutlet)
	bad := review(t, l, "jobs/bad.yaml", jobHead+badOutlet)
	for _, format := range report.Formats() {
		for _, reviews := range [][]*verdict.Review{nil, {good}, {bad}, all[1:], {good, bad}, {bad, good, all[0], all[1], good}} {
			for _, o := range []report.Options{minor, {Version: "1", Quiet: true}, {FailAt: 3, Tolerate: true, Colour: true}, {FindingsOnly: true}, {Empty: "this part holds no job"}} {
				got, status := stream(t, format, o, reviews...)
				require.Equal(t, write(t, format, o, reviews...), got)
				require.Equal(t, o.Status(reviews), status)
			}
		}
	}
	_, err := report.NewStream(nil, "poem", minor)
	require.ErrorContains(t, err, `there is no format "poem"`)
}

// Each line is a report by itself that keeps to the schema and says what the document of the one job says.
func TestLinesAreReports(t *testing.T) {
	reviews := everything(t)
	lines := strings.SplitAfter(write(t, report.Lines, minor, reviews...), "\n")
	require.Len(t, lines, len(reviews)+1)
	for i, r := range reviews {
		requireValid(t, []byte(lines[i]))
		var line, document map[string]any
		require.NoError(t, json.Unmarshal([]byte(lines[i]), &line))
		require.NoError(t, json.Unmarshal([]byte(write(t, "json", minor, r)), &document))
		require.Empty(t, line["rules"])
		delete(line, "rules")
		delete(document, "rules")
		require.Equal(t, document, line)
	}
	with, err := report.Line([]byte("> "), reviews[0], minor, true)
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(string(with), "> {"))
	require.Equal(t, 1, strings.Count(string(with), "\n"))
	require.Contains(t, string(with), `"rules":[{"id":`)
}

// Findings alone: nothing that somebody must deal with is left out, and counts and status stay.
func TestFindingsOnly(t *testing.T) {
	for i, r := range everything(t) {
		short := minor
		short.FindingsOnly = true
		for _, format := range []string{"json", report.Lines} {
			var all, few struct {
				Status  int
				Reviews []struct {
					Counts   map[string]int
					Verdicts []map[string]any
				}
			}
			require.NoError(t, json.Unmarshal([]byte(write(t, format, minor, r)), &all))
			text := write(t, format, short, r)
			requireValid(t, []byte(text))
			require.NoError(t, json.Unmarshal([]byte(text), &few))
			require.Equal(t, all.Status, few.Status)
			require.Equal(t, all.Reviews[0].Counts, few.Reviews[0].Counts)
			var want []map[string]any
			for _, v := range all.Reviews[0].Verdicts {
				if o := v["outcome"]; o != "conforms" && o != "not_in_force" {
					want = append(want, v)
				}
			}
			require.ElementsMatch(t, want, few.Reviews[0].Verdicts)
			require.Equal(t, i == 0, len(want) > 0)
		}
		require.Equal(t, write(t, "text", minor, r), write(t, "text", short, r))
	}
}

// A part without a job is told as such and is no failure; without that word for it, no job is never a pass.
func TestNoJobInAPart(t *testing.T) {
	empty := report.Options{Empty: "shard 2/3 holds none of the jobs"}
	require.Equal(t, report.StatusClean, empty.Status(nil))
	require.Equal(t, report.StatusUnjudged, report.Options{}.Status(nil))
	require.Equal(t, "shard 2/3 holds none of the jobs\n", write(t, "text", empty))
	require.Contains(t, write(t, "json", empty), `"status": 0`)
	require.Empty(t, write(t, report.Lines, empty))
	require.NotContains(t, write(t, "junit", empty), "<error")
	require.Contains(t, write(t, "junit", minor), "<error")
	require.Contains(t, write(t, "sarif", empty), "shard 2/3 holds none")
	require.NotContains(t, write(t, "sarif", empty), `"error"`)
	page := write(t, "html", empty)
	require.True(t, strings.Contains(page, `<p class="state s-passes"><strong>shard 2/3 holds none of the jobs.</strong>`))
	require.True(t, strings.Contains(write(t, "html", minor), `<p class="state s-unjudged"><strong>`))
	// An unread job is unjudged all the same.
	require.Equal(t, report.StatusUnjudged, empty.Status(everything(t)))
}

type fullDisk struct{ after int }

var errFull = errors.New("no space left on device")

func (f *fullDisk) Write(p []byte) (int, error) {
	if f.after--; f.after < 0 {
		return 0, errFull
	}
	return len(p), nil
}

// Once a review could not be written, the stream says so ever after and writes nothing more.
func TestStreamThatCannotBeWritten(t *testing.T) {
	r := everything(t)[0]
	for _, format := range report.Formats() {
		w := &fullDisk{after: 0}
		s, err := report.NewStream(w, format, minor)
		require.NoError(t, err)
		p, err := s.Part(r)
		require.NoError(t, err)
		if report.Streams(format) {
			require.ErrorIs(t, s.Add(p), errFull)
			w.after = 100
			require.ErrorIs(t, s.Add(p), errFull)
			require.Equal(t, 100, w.after)
		} else {
			require.NoError(t, s.Add(p))
		}
		require.ErrorIs(t, s.Close(), errFull, format)
	}
}

// Jobs of one file are told apart in fingerprints by their references, whatever their lines.
func TestFingerprintsInLines(t *testing.T) {
	r := review(t, linter(t), "jobs.ndjson", jobHead+badOutlet)
	prints := func(line int, reference string) string {
		job := *r
		job.Line, job.Reference = line, reference
		var out struct {
			Reviews []struct {
				Verdicts []struct{ Fingerprint string }
			}
		}
		require.NoError(t, json.Unmarshal([]byte(write(t, report.Lines, report.Options{FindingsOnly: true}, &job)), &out))
		print := out.Reviews[0].Verdicts[0].Fingerprint
		require.NotEmpty(t, print)
		require.Contains(t, write(t, "sarif", report.Options{}, &job), print)
		return print
	}
	require.Equal(t, prints(1, "a"), prints(2, "a"))
	require.NotEqual(t, prints(1, "a"), prints(1, "b"))
	require.NotEqual(t, prints(0, "a"), prints(1, "a"))
	require.Equal(t, prints(0, "a"), prints(0, "b"))
}
