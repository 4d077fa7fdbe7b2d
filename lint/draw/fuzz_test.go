package draw_test

import (
	"bytes"
	"context"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/draw"
	"wetrule/lint/jobfile"
	"wetrule/lint/jobfile/jobtest"
	"wetrule/lint/report"
)

// FuzzDraw draws changed jobs with hostile texts as SVG, as PDF and as templates and reads them back.
func FuzzDraw(f *testing.F) {
	var bases []*jobfile.Node
	for _, name := range []string{"../../fixtures/demo/faults.yaml", "../../policies/core/examples/base.yaml", "../../schema/starter.yaml"} {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		root, err := jobfile.Read(name, data)
		require.NoError(f, err)
		bases = append(bases, root)
	}
	load(f, "fixtures/demo/clean.yaml") // makes the linter
	for i := range bases {
		for k := range 4 {
			f.Add(byte(i), []byte{0, byte(30 * k), byte(k), 3, 1, byte(50 * k), 3, byte(k), 0, 1, 3, byte(k)}, byte(k))
		}
	}
	f.Fuzz(func(t *testing.T, base byte, spelling []byte, how byte) {
		file, err := jobtest.Change(bases[int(base)%len(bases)], spelling)
		require.NoError(t, err)
		r, err := linter.ReviewFile(context.Background(), file)
		require.NoError(t, err)
		require.Empty(t, r.Problems)
		list := draw.New(r.Job, r.Set).Sheets(r.Groups(), nil)
		info := draw.Info{Job: r.Reference, Title: r.Title, File: "job.yaml", On: r.On, Cautions: report.Cautions(r), Paper: []draw.PaperSize{draw.A3, draw.A4}[how&1]}
		switch how >> 1 % 3 {
		case 0:
			ids := map[string]bool{}
			for i := range list {
				require.Regexp(t, `^[A-Za-z0-9_-]+$`, list[i].ID)
				require.False(t, ids[list[i].ID], "two sheets are called %s", list[i].ID)
				ids[list[i].ID] = true
				var b, again bytes.Buffer
				require.NoError(t, draw.SVG(&b, &list[i], draw.Style{Bare: how&8 != 0, Inline: how&16 != 0}))
				require.NoError(t, draw.SVG(&again, &list[i], draw.Style{Bare: how&8 != 0, Inline: how&16 != 0}))
				require.Equal(t, b.String(), again.String())
				wellFormed(t, b.Bytes())
			}
		case 1:
			var b bytes.Buffer
			if err := draw.PDF(&b, list, info); err != nil {
				require.Zero(t, b.Len())
				return
			}
			require.NotEmpty(t, readPDF(t, b.Bytes()))
		default:
			var b bytes.Buffer
			if err := draw.Templates(&b, list, info); err != nil {
				require.Zero(t, b.Len())
				return
			}
			everyHoleOnATile(t, list, readPDF(t, b.Bytes()))
		}
	})
}
