package report_test

import (
	"bytes"
	"encoding/json"
	"io"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"wetrule/lint"
	"wetrule/lint/measure"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

func shown(t testing.TB, f func(w io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, f(&b))
	for _, line := range strings.Split(b.String(), "\n") {
		require.LessOrEqual(t, utf8.RuneCountInString(line), 100, line)
		require.Equal(t, strings.TrimRight(line, " "), line)
	}
	return b.String()
}

func TestExplain(t *testing.T) {
	l := linter(t)
	r, err := lint.FindRule(l.Rules(), "house-low-points")
	require.NoError(t, err)
	require.Equal(t, `house-low-points: The tube has no low points
    severity    critical
    asked from  design
    applies to  a steam outlet with its tube (steam_outlet)
    when        material of the steam tube: copper or stainless steel
    and when    least fall along the steam tube; a rise is negative: at least 0 % and at most 50 %
    measure     number of sags and low points in the steam tube (tube_low_points)
    worked out  as given
    allowed     at most 0
    why         Water stands in them.
    do          Lay the tube without sags.
    source      House book of an invented firm, second (worked out)
    in force    from 2030-01-01 until before 2040-01-01
    job fields  tube.low_points, tube.material, tube.fall_percent
    rulebook    house
`, shown(t, func(w io.Writer) error { return report.Explain(w, "text", r, nil) }))
	var x struct {
		Rule   struct{ ID, Allowed string }
		Fields []string
		When   []string
	}
	require.NoError(t, json.Unmarshal([]byte(shownLong(t, func(w io.Writer) error { return report.Explain(w, "json", r, nil) })), &x))
	require.Equal(t, "house-low-points", x.Rule.ID)
	require.Equal(t, []string{"tube.low_points", "tube.material", "tube.fall_percent"}, x.Fields)
	require.Len(t, x.When, 2)
}

// shownLong is for formats that programs read.
func shownLong(t testing.TB, f func(w io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, f(&b))
	return b.String()
}

// TestEveryRuleThatComesWithUsCanBeExplained explains them all with their examples.
func TestEveryRuleThatComesWithUsCanBeExplained(t *testing.T) {
	books, err := lint.OpenRulebooks(nil)
	require.NoError(t, err)
	for _, b := range books {
		examples, err := b.ReadExamples()
		require.NoError(t, err)
		for _, r := range b.Rules {
			out := shown(t, func(w io.Writer) error { return report.Explain(w, "text", r, examples[r.ID]) })
			require.True(t, strings.HasPrefix(out, r.ID+": "), out)
			require.NotContains(t, out, "<nil>")
			require.NotContains(t, out, "%!")
			if x := examples[r.ID]; x != nil {
				require.Contains(t, out, "    examples (changes to the base job)\n        conforming      ")
			}
		}
	}
}

func TestRules(t *testing.T) {
	l := linter(t)
	out := shown(t, func(w io.Writer) error { return report.Rules(w, "text", l.Rules()) })
	require.Equal(t, `house
    house-guard                 critical    The outlet is guarded
    house-insulate-first        major       The tube is insulated 12 h before it goes in
    house-insulate-first-actual major       The tube is insulated 12 h before it goes in (as
                                            recorded)
    house-layers                minor       Tile is the last layer
    house-low-points            critical    The tube has no low points
    house-material              observation The tube is of copper
    house-opening               minor       The opening lets the insulated tube through
    house-outlet-height         major       The outlet is 200 to 300 mm above the floor
8 rules
`, out)
	var x struct{ Rules []struct{ ID string } }
	require.NoError(t, json.Unmarshal([]byte(shownLong(t, func(w io.Writer) error { return report.Rules(w, "json", l.Rules()) })), &x))
	require.Len(t, x.Rules, 8)
	require.Equal(t, "0 rules\n", shown(t, func(w io.Writer) error { return report.Rules(w, "text", nil) }))
}

func TestMeasures(t *testing.T) {
	out := shown(t, func(w io.Writer) error { return report.Measures(w, "text") })
	var x struct {
		Measures []struct{ Kind, Measure string }
	}
	require.NoError(t, json.Unmarshal([]byte(shownLong(t, func(w io.Writer) error { return report.Measures(w, "json") })), &x))
	n := 0
	for _, k := range measure.Names() {
		for _, d := range measure.Lookup(k).Defs {
			require.Equal(t, d.Name, x.Measures[n].Measure)
			require.Contains(t, out, "\n    "+d.Name+" (")
			n++
		}
	}
	require.Len(t, x.Measures, n)
	require.Contains(t, out, "tasks: "+measure.Tasks[0])
	require.Error(t, report.Measures(io.Discard, "yaml"))
}

func TestMeasured(t *testing.T) {
	r := review(t, linter(t), "job.yaml", jobHead+goodOutlet+badOutlet+vagueOutlet)
	out := shown(t, func(w io.Writer) error { return report.Measured(w, "text", r) })
	require.Contains(t, out, "steam_outlet good\n")
	require.Regexp(t, `\n    outlet_height_mm +250 mm \(`, out)
	require.Regexp(t, `\n    tube_material +copper\n`, out)
	require.Regexp(t, `\n    guarded +yes`, out)
	require.Regexp(t, `\n    guarded +not known`, out)
	require.Regexp(t, `\n    layers +mesh, cement, tile \(`, out)
	require.NotRegexp(t, `\n    \w+ +does not arise`, out)
	var x struct {
		Measures map[string]map[string]map[string]struct {
			Value any
			State string
			Unit  string
		}
	}
	require.NoError(t, json.Unmarshal([]byte(shownLong(t, func(w io.Writer) error { return report.Measured(w, "json", r) })), &x))
	require.Equal(t, 250.0, x.Measures["steam_outlet"]["good"]["outlet_height_mm"].Value)
	require.Equal(t, "mm", x.Measures["steam_outlet"]["good"]["outlet_height_mm"].Unit)
	require.Equal(t, "unknown", x.Measures["steam_outlet"]["vague"]["guarded"].State)
	require.Nil(t, x.Measures["steam_outlet"]["vague"]["guarded"].Value)
	require.Equal(t, "none", x.Measures["steam_outlet"]["bad"]["tube_size_listed"].State)
	unread := review(t, linter(t), "job.yaml", "wetrule: 1\n")
	require.EqualError(t, report.Measured(io.Discard, "text", unread), "job.yaml: nothing was measured")
}

// many is a review of about a thousand verdicts.
func many(b *testing.B) []*verdict.Review {
	var job strings.Builder
	job.WriteString(jobHead)
	for i := range 150 {
		n := string([]byte{'a' + byte(i/26), 'a' + byte(i%26)})
		job.WriteString(strings.NewReplacer("id: good", "id: good_"+n, "id: bad", "id: bad_"+n, "id: vague", "id: vague_"+n).Replace([]string{goodOutlet, badOutlet, vagueOutlet}[i%3]))
	}
	r := review(b, linter(b), "job.yaml", job.String())
	require.Empty(b, r.Problems)
	require.InDelta(b, 1000, len(r.Verdicts), 250)
	return []*verdict.Review{r}
}

func benchmark(b *testing.B, format string) {
	reviews := many(b)
	o := report.Options{Version: "1.0.0", FailAt: rulebook.Minor}
	n := len(reviews[0].Verdicts)
	b.ReportAllocs()
	for b.Loop() {
		if err := report.Write(io.Discard, format, reviews, o); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*n), "ns/verdict")
}

func BenchmarkText(b *testing.B)  { benchmark(b, "text") }
func BenchmarkJSON(b *testing.B)  { benchmark(b, "json") }
func BenchmarkSARIF(b *testing.B) { benchmark(b, "sarif") }
func BenchmarkJUnit(b *testing.B) { benchmark(b, "junit") }
