package lint

import (
	"context"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/schema"
)

// The parts of BenchmarkReview beside measuring and judging (BenchmarkJudge), on the same job.

// BenchmarkRead is reading in whole: from bytes to a job whose names refer.
func BenchmarkRead(b *testing.B) {
	asCommand(b)
	text := referenceJob(40)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := jobfile.Load("job.yaml", text); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkReadLine is the same for a job in JSON on one line.
func BenchmarkReadLine(b *testing.B) {
	asCommand(b)
	line := referenceLine(b, 40)
	b.SetBytes(int64(len(line)))
	b.ReportAllocs()
	for b.Loop() {
		root, err := jobfile.ReadLine("jobs", 1, line)
		if err == nil {
			_, err = jobfile.FromNode("jobs", root)
		}
		if err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkTree is bytes to the tree with positions.
func BenchmarkTree(b *testing.B) {
	asCommand(b)
	text := referenceJob(40)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := jobfile.Read("job.yaml", text); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkAccept is the tree against the schema.
func BenchmarkAccept(b *testing.B) {
	root, s := referenceTree(b)
	b.ReportAllocs()
	for b.Loop() {
		if err := s.Validate("job.yaml", root); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkDecode is the tree to the job.
func BenchmarkDecode(b *testing.B) {
	asCommand(b)
	root, _ := referenceTree(b)
	b.ReportAllocs()
	for b.Loop() {
		var job jobfile.Job
		if err := jobfile.Decode(root, &job); err != nil {
			b.Fatal(err)
		}
	}
}

func referenceTree(b *testing.B) (*jobfile.Node, *jobfile.Schema) {
	b.Helper()
	root, err := jobfile.Read("job.yaml", referenceJob(40))
	require.NoError(b, err)
	const name = "job.schema.json"
	s, err := jobfile.Compile(map[string][]byte{name: schema.Bytes(name)}, name)
	require.NoError(b, err)
	return root, s
}

// BenchmarkJSON is the JSON report of the reference job.
func BenchmarkJSON(b *testing.B) {
	asCommand(b)
	r, err := core(b).Review(context.Background(), "job.yaml", referenceJob(40))
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		if err := report.Write(io.Discard, "json", []*verdict.Review{r}, report.Options{Version: "bench", FailAt: rulebook.Minor}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(r.Verdicts)), "verdicts")
}

// BenchmarkReports writes the reference job in each format of a review, and as one line. The review is a new one each time, so that nothing that
// it keeps of an earlier report helps; making it is not counted.
func BenchmarkReports(b *testing.B) {
	asCommand(b)
	l := core(b)
	f, err := jobfile.Load("job.yaml", referenceJob(40))
	require.NoError(b, err)
	o := report.Options{Version: "bench", FailAt: rulebook.Minor}
	for _, format := range []string{"json", "line", "text", "sarif", "junit"} {
		b.Run(format, func(b *testing.B) {
			b.ReportAllocs()
			var line []byte
			for range b.N {
				b.StopTimer()
				r, err := l.ReviewFile(context.Background(), f)
				require.NoError(b, err)
				b.StartTimer()
				if format == "line" {
					line, err = report.Line(line[:0], r, o, true)
				} else {
					err = report.Write(io.Discard, format, []*verdict.Review{r}, o)
				}
				if err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
