package workpack_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"wetrule/lint"
	"wetrule/lint/jobfile"
	"wetrule/lint/jobfile/jobtest"
	"wetrule/lint/workpack"
)

// FuzzPack makes the pack of changed jobs with hostile texts and reads it back: the page holds no markup but its own, the lists are CSV in
// which nothing is a formula, the PDF is whole.
func FuzzPack(f *testing.F) {
	var bases []*jobfile.Node
	for _, name := range []string{"../../fixtures/demo/clean.yaml", "../../schema/starter.yaml"} {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		root, err := jobfile.Read(name, data)
		require.NoError(f, err)
		bases = append(bases, root)
	}
	l, err := lint.New(lint.Options{})
	require.NoError(f, err)
	for i := range bases {
		for k := range 6 {
			f.Add(byte(i), []byte{0, byte(60 * k), 3, byte(k), 0, 1, 3, byte(3 * k), 0, 2, 3, byte(k)}, byte(k))
		}
	}
	f.Fuzz(func(t *testing.T, base byte, spelling []byte, how byte) {
		file, err := jobtest.Change(bases[int(base)%len(bases)], spelling)
		require.NoError(t, err)
		r, err := l.ReviewFile(context.Background(), file)
		require.NoError(t, err)
		require.Empty(t, r.Problems)
		planned, err := l.Plan(file)
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		dates, err := l.Programme(file, "")
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		p, err := workpack.New(workpack.Input{Review: r, Job: []byte("job"), Plan: planned.Plan, Programme: dates, Version: "test", Paper: "a4", Despite: true})
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		var b, again bytes.Buffer
		switch how % 3 {
		case 0:
			require.NoError(t, p.HTML(&b))
			require.NoError(t, p.HTML(&again))
			require.True(t, utf8.Valid(b.Bytes()))
			doc, err := html.Parse(bytes.NewReader(b.Bytes()))
			require.NoError(t, err)
			for n := range doc.Descendants() {
				if n.Type != html.ElementNode {
					continue
				}
				require.NotContains(t, []string{"script", "img", "iframe", "object", "embed", "base", "link", "form"}, n.Data)
				for _, a := range n.Attr {
					require.False(t, strings.HasPrefix(a.Key, "on"), a.Key)
					require.False(t, a.Key == "href" && !strings.HasPrefix(a.Val, "#"), a.Val)
				}
			}
		case 1:
			require.NoError(t, p.PDF(&b))
			require.NoError(t, p.PDF(&again))
			require.True(t, bytes.HasPrefix(b.Bytes(), []byte("%PDF-")))
			require.True(t, bytes.HasSuffix(b.Bytes(), []byte("%%EOF\n")))
		default:
			for _, write := range []func() error{func() error { return p.ToolsCSV(&b) }, func() error { return p.MaterialsCSV(&b) }} {
				b.Reset()
				require.NoError(t, write())
				rows, err := csv.NewReader(&b).ReadAll()
				require.NoError(t, err)
				for _, row := range rows {
					for _, cell := range row {
						require.False(t, cell != "" && strings.ContainsAny(cell[:1], "=+@\t\r"), "%q is a formula to a spreadsheet", cell)
					}
				}
			}
			return
		}
		require.Equal(t, b.String(), again.String())
	})
}
