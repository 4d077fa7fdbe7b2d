package report_test

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
)

func compared(t testing.TB, before, after string) (*lint.Comparison, string, string) {
	t.Helper()
	l, err := lint.New(lint.Options{})
	require.NoError(t, err)
	o := report.Options{Version: "test", FailAt: rulebook.Minor}
	x, err := l.Compare(context.Background(), lint.Input{Name: "before.yaml", Data: []byte(before)}, lint.Input{Name: "after.yaml", Data: []byte(after)}, o)
	require.NoError(t, err)
	var text, doc bytes.Buffer
	require.NoError(t, report.Comparison(&text, "text", x.Parts, x.Verdicts, x.Reviews, x.Status(), o))
	require.NoError(t, report.Comparison(&doc, "json", x.Parts, x.Verdicts, x.Reviews, x.Status(), o))
	valid(t, "comparison.schema.json", doc.Bytes())
	return x, text.String(), doc.String()
}

// TestComparisonOfTheDemos: a job with faults against the one without tells every planted fault as it goes.
func TestComparisonOfTheDemos(t *testing.T) {
	clean, err := os.ReadFile("../../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	faults, err := os.ReadFile("../../fixtures/demo/faults.yaml")
	require.NoError(t, err)
	x, text, doc := compared(t, string(faults), string(clean))
	require.Equal(t, report.StatusFindings, x.Status())
	require.Contains(t, text, "review    fails → passes\n")
	gone := 0
	for _, c := range x.Verdicts.Jobs[0].Changes {
		if v := c.Verdicts[0]; v != nil && v.Finding() {
			gone++
		}
	}
	require.GreaterOrEqual(t, gone, len(x.Reviews[0].Findings()))
	var d struct{ Verdicts []any }
	require.NoError(t, json.Unmarshal([]byte(doc), &d))
	require.Len(t, d.Verdicts, len(x.Verdicts.Jobs[0].Changes))

	same, text, _ := compared(t, string(clean), string(clean))
	require.Equal(t, report.StatusClean, same.Status())
	require.Contains(t, text, "result    nothing differs\n")

	broken, text, _ := compared(t, string(clean), "wetrule: one\n")
	require.Equal(t, report.StatusUnjudged, broken.Status())
	require.Contains(t, text, "after.yaml:1:10: error: ")
}

// TestComparisonShowsTextAsText: what would turn a line round or break it never reaches a terminal.
func TestComparisonShowsTextAsText(t *testing.T) {
	const job = "wetrule: 1\nreference: r\nstage: site\njudged_on: 2026-03-02\nroom: {use: steam_room, walls: [{id: n, width_mm: 2000}]}\nnote: %s\n"
	hostile := `"red\u202e\nsecond line"`
	_, text, _ := compared(t, strings.Replace(job, "%s", "plain", 1), strings.Replace(job, "%s", hostile, 1))
	require.NotContains(t, text, "\u202e")
	require.Contains(t, text, "changed   note plain → ")
	require.NotContains(t, text, "\nsecond line")
}
