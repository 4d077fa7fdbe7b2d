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
