package report_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

func requireAsReflected(t require.TestingT, reviews []*verdict.Review, o report.Options) {
	var want, got bytes.Buffer
	require.NoError(t, report.ReflectedJSON(&want, reviews, o))
	require.NoError(t, report.Write(&got, "json", reviews, o))
	require.Equal(t, want.String(), got.String())
	for _, r := range reviews {
		want.Reset()
		require.NoError(t, report.ReflectedJSON(&want, []*verdict.Review{r}, o))
		line, err := report.Line([]byte("before\n"), r, o, true)
		require.NoError(t, err)
		line, ok := bytes.CutPrefix(line, []byte("before\n"))
		require.True(t, ok)
		// The line is the document without the white space between its parts.
		var compact bytes.Buffer
		require.NoError(t, json.Compact(&compact, want.Bytes()))
		require.Equal(t, compact.String()+"\n", string(line))
	}
}

var tricky = []string{"", "plain", "\"quoted\\", "</script><b>&", "\x00\x1f\x7f\t\r\n\b\f\v", "m³/h °C ≤ …", "\u2028\u2029\ufeff\u202e\u00ad\u0085\u061c", "\xff\xc3(\xe2\x82", "\ufffd", "\U000e0001\U0001f600", "é\x1b[31m"}

func hostileText(t *rapid.T) string {
	if rapid.Bool().Draw(t, "tricky") {
		return rapid.SampledFrom(tricky).Draw(t, "text")
	}
	return rapid.String().Draw(t, "text")
}

func anyNumber(t *rapid.T) float64 {
	switch rapid.IntRange(0, 3).Draw(t, "sort of number") {
	case 0:
		return float64(rapid.Int64Range(-1e12, 1e12).Draw(t, "thousandths")) / 1000
	case 1:
		return rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1e-6, 9.99e-7, 1e21, 9.9e20, 1e-9, 1e-10, 5e-324, math.MaxFloat64, 99999999999.999, 1e11, 0.0005, 0.001, -0.1, 1 << 53}).Draw(t, "number")
	case 2:
		return rapid.SampledFrom([]float64{math.Inf(1), math.Inf(-1), math.NaN()}).Draw(t, "no number")
	}
	return rapid.Float64().Draw(t, "number")
}

func TestTextsAndNumbersAreAsReflected(t *testing.T) {
	for _, s := range tricky {
		require.Equal(t, report.ReflectedText(s), report.JSONText(s))
	}
	for c := range 256 {
		for at := range 17 {
			s := strings.Repeat("a", at) + string([]byte{byte(c)}) + strings.Repeat("~ ", (17-at)/2)
			if report.ReflectedText(s) != report.JSONText(s) {
				require.Equal(t, report.ReflectedText(s), report.JSONText(s))
			}
		}
	}
	for r := range rune(0x11000) {
		for _, s := range []string{string(r), "a·" + string(r) + "<\xe2\x88", "eight or " + string(r)[:1]} {
			if report.ReflectedText(s) != report.JSONText(s) { // require is slow
				require.Equal(t, report.ReflectedText(s), report.JSONText(s), "%U", r)
			}
		}
	}
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		require.Equal(t, "null", report.JSONNumber(v))
	}
	for n := range 200_000 {
		v := float64(n-100_000) / 1000
		for _, x := range []float64{v, math.Nextafter(v, 1e9)} {
			if report.ReflectedNumber(x) != report.JSONNumber(x) {
				require.Equal(t, report.ReflectedNumber(x), report.JSONNumber(x))
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		s := hostileText(t)
		require.Equal(t, report.ReflectedText(s), report.JSONText(s))
		v := anyNumber(t)
		require.Equal(t, report.ReflectedNumber(v), report.JSONNumber(v))
	})
}

func TestJSONIsAsReflected(t *testing.T) {
	reviews := everything(t)
	for _, o := range []report.Options{minor, {Version: "<x>", FailAt: rulebook.Critical, Tolerate: true}} {
		requireAsReflected(t, nil, o)
		requireAsReflected(t, reviews, o)
		requireAsReflected(t, []*verdict.Review{reviews[0], reviews[0]}, o)
	}
}

// TestHostileJSONIsAsReflected puts any text and any number wherever there is one.
func TestHostileJSONIsAsReflected(t *testing.T) {
	real := everything(t)
	rapid.Check(t, func(t *rapid.T) {
		text := func() string { return hostileText(t) }
		number := func() float64 { return anyNumber(t) }
		texts := func() []string { return rapid.SliceOfN(rapid.Custom(hostileText), 0, 3).Draw(t, "texts") }
		var reviews []*verdict.Review
		for range rapid.IntRange(0, 2).Draw(t, "reviews") {
			r := *rapid.SampledFrom(real).Draw(t, "review")
			r.File, r.Title, r.Reference, r.Country, r.On, r.Notices = text(), text(), text(), text(), text(), texts()
			r.Books = []rulebook.Manifest{{Name: text(), Edition: text()}}
			if rapid.Bool().Draw(t, "problem") {
				r.Problems = jobfile.Problems{{Line: 3, Col: 4, Pointer: text(), Message: text()}, {Message: text()}}
			}
			if rapid.Bool().Draw(t, "fault") {
				r.Faults = []*verdict.LeaveFault{{Severity: rulebook.Minor, File: text(), Text: text(), Place: verdict.Place{Pointer: text(), Line: 2}}}
			}
			verdicts := r.Verdicts
			r.Verdicts = nil
			for range rapid.IntRange(0, min(len(verdicts), 4)).Draw(t, "verdicts") {
				v := rapid.SampledFrom(verdicts).Draw(t, "verdict")
				rule, subject, def := *v.Rule, *v.Subject, *v.Rule.Def
				rule.Title, rule.Why, rule.Remedy, rule.Rulebook = text(), text(), text(), text()
				rule.Source.Clause, rule.Source.Note = text(), text()
				if rapid.Bool().Draw(t, "changed") {
					rule.Changes = []rulebook.Change{{Amendment: &rulebook.Amendment{What: text(), Rulebook: text(), Reason: text()}, Before: text(), Looser: true}}
				}
				def.Unit = text()
				rule.Def = &def
				subject.ID, subject.Kind = text(), rapid.SampledFrom([]string{subject.Kind, text()}).Draw(t, "kind")
				v.Rule, v.Subject = &rule, &subject
				v.Outcome = verdict.Outcome(rapid.IntRange(0, int(verdict.NotJudged)).Draw(t, "outcome"))
				value, more := *v.Value, verdict.More{Lo: number(), Hi: number(), Reason: text()}
				if def.Type == measure.Text {
					value = value.WithText(text())
				}
				value.Num = number()
				v.Value = &value
				v.SetMore(&more)
				if rapid.Bool().Draw(t, "leave") {
					more.Leave = &jobfile.Leave{Leave: text(), Reason: text(), Issued: text(), Until: text()}
					if rapid.Bool().Draw(t, "by") {
						more.Leave.By = texts()
					}
				}
				if rapid.Bool().Draw(t, "known") {
					more.Known = &verdict.Known{Measured: text()}
					if m := number(); !math.IsNaN(m) && !math.IsInf(m, 0) {
						more.Known.Margin = &m
					}
				}
				r.Verdicts = append(r.Verdicts, v)
			}
			reviews = append(reviews, &r)
		}
		requireAsReflected(t, reviews, report.Options{Version: text(), FailAt: rulebook.Severity(rapid.IntRange(0, 3).Draw(t, "fail at"))})
	})
}

func TestLineWithoutRules(t *testing.T) {
	line, err := report.Line(nil, everything(t)[0], minor, false)
	require.NoError(t, err)
	require.Equal(t, 1, bytes.Count(line, []byte("\n")))
	requireValid(t, line)
	require.Contains(t, string(line), `"rules":[],"reviews":[{"file":"jobs/all.yaml",`)
}

// breaks fails when so many bytes have been written.
type breaks struct{ after int }

var errBroken = errors.New("the pipe is broken")

func (b *breaks) Write(p []byte) (int, error) {
	if b.after -= len(p); b.after < 0 {
		return 0, errBroken
	}
	return len(p), nil
}

func TestJSONTellsWriteErrors(t *testing.T) {
	reviews := everything(t)
	var whole bytes.Buffer
	require.NoError(t, report.Write(&whole, "json", reviews, minor))
	for _, after := range []int{0, 10, whole.Len() / 2, whole.Len() - 1} {
		require.ErrorIs(t, report.Write(&breaks{after}, "json", reviews, minor), errBroken)
	}
	require.NoError(t, report.Write(&breaks{whole.Len()}, "json", reviews, minor))
}

// TestJSONIsWrittenInPieces keeps the memory of a long report bounded.
func TestJSONIsWrittenInPieces(t *testing.T) {
	r := everything(t)[0]
	var reviews []*verdict.Review
	for range 100 {
		reviews = append(reviews, r)
	}
	largest, total := 0, 0
	require.NoError(t, report.Write(writes(func(p []byte) { largest, total = max(largest, len(p)), total+len(p) }), "json", reviews, minor))
	require.Greater(t, total, 400_000)
	require.Less(t, largest, 100_000)
}

type writes func([]byte)

func (w writes) Write(p []byte) (int, error) {
	w(p)
	return len(p), nil
}

// TestJSONAllocatesLittle is a budget: a verdict costs nothing unless it has steps or lacks something.
func TestJSONAllocatesLittle(t *testing.T) {
	l := linter(t)
	r := review(t, l, "job.yaml", jobHead+strings.Repeat(goodOutlet, 1))
	require.Empty(t, r.Problems)
	one := testing.AllocsPerRun(20, func() { require.NoError(t, report.Write(io.Discard, "json", []*verdict.Review{r}, minor)) })
	if !underRace { // pools give things back at random then
		require.LessOrEqual(t, one, 5+0.1*float64(len(r.Verdicts)))
	}
}
