package report_test

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"io"
	"os"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/jobfile/jobtest"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// FuzzWriters writes reviews of changed jobs with hostile texts in one of the formats and reads them back: HTML, SARIF, JUnit and JSON are well formed
// and keep their own rules, nothing in any of them drives a terminal, and the text has a line for a finding and no forged one.
func FuzzWriters(f *testing.F) {
	var bases []*jobfile.Node
	for _, name := range []string{"../../fixtures/demo/faults.yaml", "../../schema/starter.yaml"} {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		root, err := jobfile.Read(name, data)
		require.NoError(f, err)
		bases = append(bases, root)
	}
	l, err := coreLinter()
	require.NoError(f, err)
	for i := range bases {
		for k := range jobtest.Hostile {
			// Title, reference, note and whatever comes third and fourth.
			f.Add(byte(i), []byte{0, 1, 3, byte(k), 0, 2, 3, byte(k), 0, byte(40 + 7*k), 3, byte(k)}, jobtest.Hostile[k], byte(k), byte(k+i))
		}
	}
	f.Add(byte(0), []byte("0"), "form\f feed\b and \\back.yaml", byte(3), byte(1)) // escapes of JSON that have a letter
	// What is made once is made before the clock of a run ticks.
	file, err := jobfile.FromNode("job.yaml", bases[0])
	require.NoError(f, err)
	first, err := l.ReviewFile(context.Background(), file)
	require.NoError(f, err)
	for _, format := range report.Formats() {
		write(f, format, report.Options{FailAt: rulebook.Minor}, first)
	}
	f.Fuzz(func(t *testing.T, base byte, spelling []byte, name string, how, pick byte) {
		file, err := jobtest.Change(bases[int(base)%len(bases)], spelling)
		require.NoError(t, err)
		file.Name = name
		r, err := l.ReviewFile(context.Background(), file)
		require.NoError(t, err)
		broken := &verdict.Review{File: name + "2", Problems: jobfile.Problems{{File: name + "2", Line: 3, Col: 1, Message: "it says " + name}}}
		reviews := []*verdict.Review{r}
		if how&1 != 0 {
			reviews = append(reviews, broken)
		}
		r.Notices = append(r.Notices, name)
		o := report.Options{Version: "test", FailAt: rulebook.Severity(how >> 1 & 3), Tolerate: how&8 != 0, Suppressed: how&16 != 0, Quiet: how&32 != 0}
		for i, format := range report.Formats() {
			if i != int(pick)%len(report.Formats()) {
				continue // one at a time: the fuzzer learns more from many runs
			}
			var b, again bytes.Buffer
			require.NoError(t, report.Write(&b, format, reviews, o))
			require.NoError(t, report.Write(&again, format, reviews, o))
			require.Equal(t, b.String(), again.String(), format)
			require.True(t, utf8.Valid(b.Bytes()), format)
			for _, c := range b.String() {
				if c != '\n' && unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) {
					t.Fatalf("%s has %U raw", format, c)
				}
			}
			switch format {
			case "html":
				requireSound(t, b.String())
			case "sarif":
				var f sarifFile
				require.NoError(t, json.Unmarshal(b.Bytes(), &f))
				checkSARIF(t, f)
			case "junit":
				junitOf(t, o, reviews...)
			case "json":
				requireValid(t, b.Bytes())
			case "text":
				if how&32 == 0 {
					continue
				}
				// Quiet: as many lines as findings, faults and problems, none begun by the job's own line breaks.
				want := 0
				for _, r := range reviews {
					want += len(r.Problems) + len(r.Faults)
					want += len(r.Findings())
				}
				require.LessOrEqual(t, strings.Count(b.String(), "\n"), want+2)
			}
		}
	})
}

// FuzzProgramme plans changed jobs and writes the programme in one of its formats: well formed, valid text, nothing that drives a terminal, twice the same.
func FuzzProgramme(f *testing.F) {
	var bases []*jobfile.Node
	for _, name := range []string{"../../fixtures/demo/clean.yaml", "../../policies/core/examples/base.yaml", "../../schema/starter.yaml"} {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		root, err := jobfile.Read(name, data)
		require.NoError(f, err)
		bases = append(bases, root)
	}
	l, err := coreLinter()
	require.NoError(f, err)
	formats := report.ProgrammeFormats()
	for i := range bases {
		for k := range formats {
			f.Add(byte(i), []byte{0, byte(90 + 31*k), byte(k), 3, 0, 1, 3, byte(3 * k), 0, byte(50 * k), 1, 1}, byte(k), k%2 == 0)
		}
	}
	f.Fuzz(func(t *testing.T, base byte, spelling []byte, pick byte, anew bool) {
		file, err := jobtest.Change(bases[int(base)%len(bases)], spelling)
		require.NoError(t, err)
		start := ""
		if anew {
			start = "2026-03-02"
		}
		p, err := l.Programme(file, start)
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		format := formats[int(pick)%len(formats)]
		var b, again bytes.Buffer
		require.NoError(t, report.Programme(&b, format, p, report.Options{Version: "test"}))
		require.NoError(t, report.Programme(&again, format, p, report.Options{Version: "test"}))
		require.Equal(t, b.String(), again.String())
		require.True(t, utf8.Valid(b.Bytes()))
		switch format {
		case "json":
			require.True(t, json.Valid(b.Bytes()))
		case "html":
			doc := parse(t, b.String())
			for _, e := range doc.all(func(element) bool { return true }) {
				for _, a := range e.Attr {
					require.False(t, strings.HasPrefix(a.Key, "on"), a.Key)
					require.NotContains(t, []string{"src", "srcset", "action"}, a.Key)
				}
			}
			require.LessOrEqual(t, len(doc.tags("script")), 1)
		case "svg":
			d := xml.NewDecoder(&b)
			for {
				if _, err := d.Token(); err == io.EOF {
					break
				} else {
					require.NoError(t, err)
				}
			}
			return
		case "ics":
			text := b.String()
			require.Equal(t, strings.Count(text, "\n"), strings.Count(text, "\r\n"))
			require.Equal(t, strings.Count(text, "\r"), strings.Count(text, "\r\n"))
			begun := strings.Count("\r\n"+text, "\r\nBEGIN:")
			require.Equal(t, begun, strings.Count("\r\n"+text, "\r\nEND:"))
			require.True(t, strings.HasPrefix(text, "BEGIN:VCALENDAR\r\n"))
			for _, line := range strings.Split(text, "\r\n") {
				require.LessOrEqual(t, len(line), 75)
			}
			return
		}
		for _, c := range b.String() {
			if c != '\n' && unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) {
				t.Fatalf("%s has %U raw", format, c)
			}
		}
	})
}
