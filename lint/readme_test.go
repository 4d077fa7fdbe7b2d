package lint

import (
	"context"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// blocks returns the fenced blocks of a language in a Markdown file.
func blocks(t *testing.T, file, language string) (out []string) {
	t.Helper()
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	for i, part := range strings.Split(string(data), "\n```") {
		if body, ok := strings.CutPrefix(part, language+"\n"); ok && i%2 == 1 {
			out = append(out, body)
		}
	}
	return out
}

// TestReadmeShowsRealOutput holds every line of output in the README against the golden output.
func TestReadmeShowsRealOutput(t *testing.T) {
	golden, err := os.ReadFile("../fixtures/golden/faults.txt")
	require.NoError(t, err)
	lines := map[string]bool{}
	for _, line := range strings.Split(string(golden), "\n") {
		lines[line] = true
	}
	n := 0
	for _, b := range blocks(t, "../README.md", "text") {
		for _, line := range strings.Split(b, "\n") {
			require.True(t, lines[line], "the README shows a line that is not in the output: %s", line)
			n++
		}
	}
	require.Greater(t, n, 10)
}

// TestReadmeJobIsAJob keeps the job in the README one that can be reviewed.
func TestReadmeJobIsAJob(t *testing.T) {
	jobs := blocks(t, "../README.md", "yaml")
	require.NotEmpty(t, jobs)
	for _, job := range jobs {
		if strings.HasPrefix(job, "leaves:") {
			job = plainRoom + job
		}
		r, err := core(t).Review(context.Background(), "README.md", []byte(job))
		require.NoError(t, err)
		require.Empty(t, r.Problems)
		require.NotEmpty(t, r.Verdicts)
	}
}
