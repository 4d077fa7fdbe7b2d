package workpack_test

import (
	"bytes"
	"context"
	"errors"
	"os"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	cpm "wetrule/lint/calc/programme"
	"wetrule/lint/jobfile"
	"wetrule/lint/jobfile/jobtest"
	"wetrule/lint/programme"
	"wetrule/lint/workpack"
)

// FuzzPack makes packs of changed jobs with hostile texts: every one that is accepted as a job gives a pack, whose page is sound and whose document
// can be read back with the warning on every page, or a reason why not.
func FuzzPack(f *testing.F) {
	var bases []*jobfile.Node
	for _, name := range []string{"../../fixtures/demo/faults.yaml", "../../fixtures/demo/clean.yaml", "../../schema/starter.yaml"} {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		root, err := jobfile.Read(name, data)
		require.NoError(f, err)
		bases = append(bases, root)
	}
	l, err := linter()
	require.NoError(f, err)
	for i := range bases {
		f.Add(byte(i), []byte{}, "job.yaml", false)
		for k := range jobtest.Hostile {
			f.Add(byte(i), []byte{0, 1, 3, byte(k), 0, 2, 3, byte(k), 0, byte(40 + 7*k), 3, byte(k)}, jobtest.Hostile[k], k%2 == 0)
		}
	}
	f.Fuzz(func(t *testing.T, base byte, spelling []byte, name string, document bool) {
		file, err := jobtest.Change(bases[int(base)%len(bases)], spelling)
		require.NoError(t, err)
		file.Name = name
		r, err := l.ReviewFile(context.Background(), file)
		require.NoError(t, err)
		planned, err := l.Plan(file)
		if err != nil {
			var ps jobfile.Problems
			require.ErrorAs(t, err, &ps)
			return
		}
		dates, err := l.Programme(file, "")
		if err != nil {
			var ring *programme.CycleError
			var ps jobfile.Problems
			// What would take longer than the years that are reckoned is told as well.
			require.True(t, errors.As(err, &ring) || errors.As(err, &ps) || errors.Is(err, cpm.ErrInput) || errors.Is(err, cpm.ErrHorizon), "%v", err)
			return
		}
		in := workpack.Input{Review: r, Job: []byte(name), Plan: planned.Plan, Programme: dates, Version: "test"}
		p, err := workpack.New(in)
		if err != nil {
			var refusal *workpack.Refusal
			var ps jobfile.Problems
			if errors.Is(err, workpack.ErrUnjudged) || errors.As(err, &ps) {
				return
			}
			require.ErrorAs(t, err, &refusal)
			in.Despite = true
			p, err = workpack.New(in)
			require.NoError(t, err)
			require.NotEmpty(t, p.Banner)
		}
		if document {
			var b bytes.Buffer
			require.NoError(t, p.PDF(&b))
			require.Equal(t, b.Bytes(), pdf(t, p))
			for i, x := range readPDF(t, b.Bytes()) {
				require.Contains(t, x.all(), p.Banner, "page %d", i+1)
			}
			return
		}
		source := markup(t, p)
		require.Equal(t, source, markup(t, p))
		require.True(t, utf8.ValidString(source))
		for _, c := range source {
			if c != '\n' && unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) {
				t.Fatalf("%U raw", c)
			}
		}
		root, _ := page(t, source)
		require.Empty(t, all(root, func(n *html.Node) bool {
			for _, a := range n.Attr {
				if strings.HasPrefix(a.Key, "on") || a.Key == "src" {
					return true
				}
			}
			return n.Data == "script" || n.Data == "img" || n.Data == "iframe" || n.Data == "base" || n.Data == "form"
		}))
		require.Len(t, all(root, func(n *html.Node) bool { return n.Data == "style" }), 1)
		var b bytes.Buffer
		require.NoError(t, p.ToolsCSV(&b))
		require.NoError(t, p.MaterialsCSV(&b))
		for _, line := range strings.Split(b.String(), "\r\n") {
			require.False(t, line != "" && strings.Contains("=+-@", line[:1]), line)
		}
	})
}
