package workpack_test

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/require"

	"wetrule/lint/draw"
	"wetrule/lint/methods"
	"wetrule/lint/workpack"
)

// sheetOfPaper is what a page of a PDF says, and its size in points.
type sheetOfPaper struct {
	w, h  float64
	texts []string
	at    [][2]float64 // lower left of each text, points
}

func (p sheetOfPaper) all() string { return strings.Join(p.texts, " ") }

// readPDF reads the texts of all pages back, independently of the writer.
func readPDF(t testing.TB, data []byte) (out []sheetOfPaper) {
	t.Helper()
	require.True(t, bytes.HasPrefix(data, []byte("%PDF-")))
	object := func(n int) []byte {
		i := bytes.Index(data, fmt.Appendf(nil, "\n%d 0 obj\n", n))
		require.Positive(t, i)
		return data[i:]
	}
	kids := regexp.MustCompile(`/Kids \[([^\]]*)\]`).FindSubmatch(object(1))
	require.NotNil(t, kids)
	for _, kid := range regexp.MustCompile(`(\d+) 0 R`).FindAllSubmatch(kids[1], -1) {
		n, _ := strconv.Atoi(string(kid[1]))
		head, _, _ := bytes.Cut(object(n), []byte("endobj"))
		p := sheetOfPaper{w: 595.28, h: 841.89}
		if m := regexp.MustCompile(`/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]`).FindSubmatch(head); m != nil {
			p.w, _ = strconv.ParseFloat(string(m[1]), 64)
			p.h, _ = strconv.ParseFloat(string(m[2]), 64)
		}
		c := regexp.MustCompile(`/Contents (\d+) 0 R`).FindSubmatch(head)
		require.NotNil(t, c)
		n, _ = strconv.Atoi(string(c[1]))
		_, stream, ok := bytes.Cut(object(n), []byte("stream\n"))
		require.True(t, ok)
		z, err := zlib.NewReader(bytes.NewReader(stream))
		require.NoError(t, err)
		content, err := io.ReadAll(z)
		require.NoError(t, err)
		for _, m := range regexp.MustCompile(`(?s)([\d.-]+) ([\d.-]+) cm [\d.]+ Tz.*?\(((?:\\.|[^\\)])*)\) Tj`).FindAllSubmatch(content, -1) {
			raw := m[3]
			var b []byte
			for i := 0; i < len(raw); i++ {
				if raw[i] == '\\' {
					i++
					switch {
					case raw[i] == 'r':
						b = append(b, '\r')
						continue
					case raw[i] >= '0' && raw[i] <= '7':
						v, err := strconv.ParseUint(string(raw[i:i+3]), 8, 8)
						require.NoError(t, err)
						b = append(b, byte(v))
						i += 2
						continue
					}
				}
				b = append(b, raw[i])
			}
			units := make([]uint16, len(b)/2)
			for i := range units {
				units[i] = uint16(b[2*i])<<8 | uint16(b[2*i+1])
			}
			x, _ := strconv.ParseFloat(string(m[1]), 64)
			y, _ := strconv.ParseFloat(string(m[2]), 64)
			p.texts = append(p.texts, string(utf16.Decode(units)))
			p.at = append(p.at, [2]float64{x, y})
		}
		out = append(out, p)
	}
	return out
}

func TestPagesOfTheDocument(t *testing.T) {
	for _, name := range []string{"clean", "faults"} {
		p := pack(t, name, nil)
		pages := readPDF(t, pdf(t, p))
		require.Greater(t, len(pages), 15)
		starts := map[string]int{}
		for i, x := range pages {
			all := x.all()
			require.Contains(t, all, p.Revision, "page %d", i+1)
			require.Contains(t, all, p.On, "page %d", i+1)
			require.Contains(t, all, p.Reference, "page %d", i+1)
			of := fmt.Sprintf("page %d of %d", i+1, len(pages))
			if !strings.Contains(all, of) { // sheets have it in their title block
				require.Contains(t, all, fmt.Sprintf("Page %d of %d", i+1, len(pages)))
			}
			if p.Banner == "" {
				require.NotContains(t, all, "NOT CLEARED", "page %d", i+1)
			} else {
				require.Contains(t, all, p.Banner, "page %d says that it is not cleared", i+1)
			}
			for k, at := range x.at {
				require.True(t, at[0] > 15 && at[1] > 15 && at[0] < x.w-10 && at[1] < x.h-10, "page %d: %q stands at the edge", i+1, x.texts[k])
			}
			for _, s := range p.Sections {
				if starts[s.ID] == 0 && (len(x.texts) > 0 && x.texts[0] == s.Title) {
					starts[s.ID] = i + 1
				}
			}
		}
		require.Equal(t, name == "faults", p.Banner != "")
		// The list of parts on the cover leads to the pages where they begin.
		for _, s := range p.Sections {
			require.Positive(t, starts[s.ID], s.Title)
			require.Contains(t, pages[0].all(), fmt.Sprintf("%s page %d", s.Title, starts[s.ID]))
		}
		require.Equal(t, 1, starts["cover"])
	}
}

func TestTableHeadsComeAgain(t *testing.T) {
	p := pack(t, "clean", func(in *workpack.Input) {
		var tools []methods.Tool
		for i := range 150 {
			tools = append(tools, methods.Tool{Name: fmt.Sprintf("chisel number %d", i), Known: true})
		}
		in.Plan.Tools, in.Plan.Steps = tools, nil
		in.Plan.Points, in.Plan.Records, in.Plan.Cautions, in.Plan.Tasks, in.Plan.Missing, in.Plan.Materials = nil, nil, nil, nil, nil, nil
	})
	pages, seen := 0, 0
	for _, x := range readPDF(t, pdf(t, p)) {
		n := strings.Count(x.all(), "Chisel number")
		if n == 0 {
			continue
		}
		pages++
		seen += n
		require.Contains(t, x.texts, "In the job's list", "the head stands on every page of the table")
	}
	require.Greater(t, pages, 3)
	require.Equal(t, 150, seen)
}

func TestLongTextsStayOnThePaper(t *testing.T) {
	long := strings.Repeat("drawn out ", 2000)
	p := pack(t, "clean", func(in *workpack.Input) {
		in.Plan = handMade()
		in.Plan.Steps[0].Text = long + strings.Repeat("w", 500)
		in.Plan.Tools[0].Name = long
		in.Plan.Cautions[0].Text = long
		in.Plan.Points[0].Check = strings.Repeat("check ", 300)
	})
	words := 0
	for i, x := range readPDF(t, pdf(t, p)) {
		words += strings.Count(x.all(), "drawn out") + strings.Count(x.all(), "Drawn out")
		for k, at := range x.at {
			require.True(t, at[1] > 15, "page %d: %q stands below the paper", i+1, x.texts[k])
		}
	}
	require.Greater(t, words, 5000, "nothing is cut")
}

func TestPaperOfSheets(t *testing.T) {
	large := func(size draw.PaperSize) (n int) {
		for _, x := range readPDF(t, pdf(t, pack(t, "clean", func(in *workpack.Input) { in.Paper = size }))) {
			if max(x.w, x.h) > 850 {
				n++
			}
		}
		return n
	}
	require.Positive(t, large(draw.A3))
	require.Zero(t, large(draw.A4))
}
