package draw_test

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"math"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/draw"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
)

// What a page of a PDF shows, in mm from its lower left corner. The reader is independent of the writer: it knows the operators of ISO 32000-1 that
// drawings need, and fails on any other.
type (
	pdfText struct {
		s       string
		x, y    float64 // start of the baseline
		size    float64
		turn    float64
		clipped bool
	}
	pdfCircle struct{ x, y, r float64 }
	pdfLine   struct{ x1, y1, x2, y2 float64 }
	pdfPage   struct {
		w, h    float64
		texts   []pdfText
		circles []pdfCircle
		lines   []pdfLine      // paths of two points
		rings   [][][2]float64 // closed paths and rectangles that are stroked
	}
)

const ptPerMM = 72 / 25.4

type matrix [6]float64

func (m matrix) mul(n matrix) matrix { // n first, then m
	return matrix{
		n[0]*m[0] + n[1]*m[2], n[0]*m[1] + n[1]*m[3], n[2]*m[0] + n[3]*m[2], n[2]*m[1] + n[3]*m[3],
		n[4]*m[0] + n[5]*m[2] + m[4], n[4]*m[1] + n[5]*m[3] + m[5]}
}

func (m matrix) at(x, y float64) (float64, float64) {
	return (x*m[0] + y*m[2] + m[4]) / ptPerMM, (x*m[1] + y*m[3] + m[5]) / ptPerMM
}

// readPDF checks the table of objects of a PDF and reads its pages.
func readPDF(t require.TestingT, data []byte) []pdfPage {
	require.True(t, bytes.HasPrefix(data, []byte("%PDF-")))
	m := regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`).FindSubmatch(data)
	require.NotNil(t, m)
	at, _ := strconv.Atoi(string(m[1]))
	table := string(data[at:])
	require.True(t, strings.HasPrefix(table, "xref\n"))
	offsets := map[int]int{}
	for i, e := range regexp.MustCompile(`(?m)^(\d{10}) 00000 n `).FindAllStringSubmatch(table, -1) {
		offsets[i+1], _ = strconv.Atoi(e[1])
		require.True(t, bytes.HasPrefix(data[offsets[i+1]:], fmt.Appendf(nil, "%d 0 obj", i+1)))
	}
	var pages []pdfPage
	kids := regexp.MustCompile(`/Kids \[([^\]]*)\]`).FindSubmatch(data[offsets[1]:])
	require.NotNil(t, kids)
	for _, kid := range regexp.MustCompile(`(\d+) 0 R`).FindAllStringSubmatch(string(kids[1]), -1) {
		n, _ := strconv.Atoi(kid[1])
		o := regexp.MustCompile(`(?s)^\d+ 0 obj\n<</Type /Page\n/Parent 1 0 R\n(?:/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]\n)?/Resources 2 0 R\n/Contents (\d+) 0 R>>`).FindSubmatch(data[offsets[n]:])
		require.NotNil(t, o)
		p := pdfPage{w: 595.28 / ptPerMM, h: 841.89 / ptPerMM}
		if len(o[1]) > 0 {
			p.w, _ = strconv.ParseFloat(string(o[1]), 64)
			p.h, _ = strconv.ParseFloat(string(o[2]), 64)
			p.w, p.h = p.w/ptPerMM, p.h/ptPerMM
		}
		c, _ := strconv.Atoi(string(o[3]))
		head := regexp.MustCompile(`^\d+ 0 obj\n<</Filter /FlateDecode /Length (\d+)>>\nstream\n`).FindSubmatch(data[offsets[c]:])
		require.NotNil(t, head)
		length, _ := strconv.Atoi(string(head[1]))
		start := offsets[c] + len(head[0])
		z, err := zlib.NewReader(bytes.NewReader(data[start : start+length]))
		require.NoError(t, err)
		content, err := io.ReadAll(z)
		require.NoError(t, err)
		p.read(t, content)
		pages = append(pages, p)
	}
	return pages
}

// tokens cuts a content stream into numbers, names, strings and operators; brackets are left out.
func tokens(t require.TestingT, b []byte) (out []string) {
	for i := 0; i < len(b); {
		switch ch := b[i]; {
		case strings.IndexByte(" \n\r\t[]", ch) >= 0:
			i++
		case ch == '(':
			var s []byte
			for i++; b[i] != ')'; i++ {
				if b[i] == '\\' {
					i++
					switch {
					case b[i] == 'r':
						s = append(s, '\r')
						continue
					case b[i] >= '0' && b[i] <= '7':
						n, err := strconv.ParseUint(string(b[i:i+3]), 8, 8)
						require.NoError(t, err)
						s = append(s, byte(n))
						i += 2
						continue
					}
				}
				s = append(s, b[i])
			}
			i++
			out = append(out, "("+string(s))
		case ch == '<' || ch == '>':
			i += 2
		default:
			j := i
			for j < len(b) && strings.IndexByte(" \n\r\t[]()<>", b[j]) < 0 {
				j++
			}
			out = append(out, string(b[i:j]))
			i = j
		}
	}
	return out
}

type state struct {
	m       matrix
	size    float64
	mode    int
	clipped bool
}

func (p *pdfPage) read(t require.TestingT, content []byte) {
	s := state{m: matrix{1, 0, 0, 1, 0, 0}}
	var stack []state
	var args []string
	num := func(i int) float64 {
		if i < len(args) {
			if v, err := strconv.ParseFloat(args[i], 64); err == nil {
				return v
			}
		}
		require.Failf(t, "no number", "%d of %q", i, args)
		return 0
	}
	var path [][2]float64
	kinds := ""
	var line matrix
	clip := false
	finish := func(stroke, closed bool) {
		box := func() (lo, hi [2]float64) {
			lo, hi = path[0], path[0]
			for _, q := range path {
				lo, hi = [2]float64{min(lo[0], q[0]), min(lo[1], q[1])}, [2]float64{max(hi[0], q[0]), max(hi[1], q[1])}
			}
			return lo, hi
		}
		switch {
		case len(path) == 0 || !stroke:
		case kinds == "mcccc":
			lo, hi := box()
			require.InDelta(t, hi[0]-lo[0], hi[1]-lo[1], 1e-3)
			p.circles = append(p.circles, pdfCircle{(lo[0] + hi[0]) / 2, (lo[1] + hi[1]) / 2, (hi[0] - lo[0]) / 2})
		case kinds == "ml" && !closed:
			p.lines = append(p.lines, pdfLine{path[0][0], path[0][1], path[1][0], path[1][1]})
		case closed:
			p.rings = append(p.rings, path)
		}
		if clip {
			s.clipped, clip = true, false
		}
		path, kinds = nil, ""
	}
	add := func(x, y float64) {
		a, b := s.m.at(x, y)
		path = append(path, [2]float64{a, b})
	}
	for _, tok := range tokens(t, content) {
		if tok[0] == '(' || tok[0] == '/' || tok[0] == '-' || tok[0] == '.' || tok[0] >= '0' && tok[0] <= '9' {
			args = append(args, tok)
			continue
		}
		switch tok {
		case "q":
			stack = append(stack, s)
		case "Q":
			require.NotEmpty(t, stack)
			s, stack = stack[len(stack)-1], stack[:len(stack)-1]
		case "cm":
			s.m = s.m.mul(matrix{num(0), num(1), num(2), num(3), num(4), num(5)})
		case "m", "l":
			add(num(0), num(1))
			kinds += tok
		case "c":
			add(num(0), num(1))
			add(num(2), num(3))
			add(num(4), num(5))
			kinds += tok
		case "re":
			x, y, w, h := num(0), num(1), num(2), num(3)
			add(x, y)
			add(x+w, y)
			add(x+w, y+h)
			add(x, y+h)
			kinds += "r"
		case "h":
		case "W":
			clip = true
		case "S", "B":
			finish(true, strings.Contains(kinds, "r"))
		case "s", "b":
			finish(true, true)
		case "f", "n":
			finish(false, false)
		case "BT", "ET", "BDC", "EMC", "J", "j", "w", "d", "RG", "rg", "G", "g", "Tz":
		case "Tf":
			s.size = num(1)
		case "Tr":
			s.mode = int(num(0))
		case "Td":
			line = matrix{1, 0, 0, 1, num(0), num(1)}
		case "Tj":
			if s.mode == 1 {
				break // a halo
			}
			raw := []byte(args[len(args)-1][1:])
			units := make([]uint16, len(raw)/2)
			for i := range units {
				units[i] = uint16(raw[2*i])<<8 | uint16(raw[2*i+1])
			}
			m := s.m.mul(line)
			x, y := m.at(0, 0)
			text := pdfText{s: string(utf16.Decode(units)), x: x, y: y, size: s.size / ptPerMM, turn: math.Atan2(m[1], m[0]) * 180 / math.Pi, clipped: s.clipped}
			p.texts = append(p.texts, text)
		default:
			require.Failf(t, "unknown operator", "%q", tok)
		}
		args = args[:0]
	}
	require.Empty(t, stack)
}

func (p *pdfPage) has(s string) bool {
	return slices.ContainsFunc(p.texts, func(t pdfText) bool { return strings.Contains(t.s, s) })
}

func (p *pdfPage) all() string {
	var b strings.Builder
	for _, t := range p.texts {
		b.WriteString(t.s + "\n")
	}
	return b.String()
}

// checkBars are the lengths of the check bars in points: the long lines beside the words of one.
func (p *pdfPage) checkBars(t require.TestingT) (level, upright []float64) {
	for _, x := range p.texts {
		if x.s != "check 100 mm" {
			continue
		}
		n := 0
		for _, l := range p.lines {
			dx, dy := math.Abs(l.x2-l.x1), math.Abs(l.y2-l.y1)
			midX, midY := (l.x1+l.x2)/2, (l.y1+l.y2)/2
			if math.Hypot(dx, dy) < 50 || math.Abs(x.turn) < 1 && (dy > 1e-6 || math.Abs(midY-x.y) > 4 || math.Abs(midX-x.x) > 20) ||
				math.Abs(x.turn) > 1 && (dx > 1e-6 || math.Abs(midX-x.x) > 2 || math.Abs(midY-x.y) > 20) {
				continue
			}
			n++
			if dy == 0 {
				level = append(level, dx*ptPerMM)
			} else {
				upright = append(upright, dy*ptPerMM)
			}
		}
		require.Equal(t, 1, n, "one line beside the words of the check bar")
	}
	return level, upright
}

// box of a text as it is laid out. Bold letters are up to a tenth wider than plain ones; as a text may be centred, the box takes the plain width.
func (x *pdfText) box() draw.Box {
	sin, cos := math.Sincos(x.turn * math.Pi / 180)
	s := draw.Shape{Kind: draw.Text, Text: x.s, Size: x.size, Turn: x.turn, Points: []draw.Point{{X: x.x - 0.36*x.size*sin, Y: x.y + 0.36*x.size*cos}}}
	return s.Box(1)
}

// textsApart sees that the texts of each page keep apart, and on the paper.
func textsApart(t require.TestingT, pages []pdfPage) {
	for n, p := range pages {
		boxes := make([]draw.Box, len(p.texts))
		for i := range p.texts {
			x := &p.texts[i]
			boxes[i] = x.box()
			if !x.clipped {
				require.True(t, boxes[i].MinX > 5 && boxes[i].MinY > 5 && boxes[i].MaxX < p.w-5 && boxes[i].MaxY < p.h-4, "page %d: %q stands at the edge of the paper: %v", n+1, x.s, boxes[i])
			}
			for j := range i {
				// What is clipped to a window ends there, and cannot reach what stands outside.
				if x.clipped == p.texts[j].clipped && boxes[i].Overlaps(boxes[j]) {
					require.Failf(t, "overlap", "page %d: %+v and %+v", n+1, *x, p.texts[j])
				}
			}
		}
	}
}

func infoOf(t testing.TB, name string) draw.Info {
	_, r := load(t, name)
	return draw.Info{Job: r.Reference, Title: r.Title, File: "job.yaml", On: r.On, Revision: draw.Revision([]byte(name)), Cautions: []string{"Electricity: only licensed electricians connect and test.", "Steam scalds."}}
}

func pdf(t require.TestingT, list []draw.Sheet, info draw.Info) []byte {
	var b bytes.Buffer
	require.NoError(t, draw.PDF(&b, list, info))
	return b.Bytes()
}

func templates(t require.TestingT, list []draw.Sheet, info draw.Info) []byte {
	var b bytes.Buffer
	require.NoError(t, draw.Templates(&b, list, info))
	return b.Bytes()
}

const demo = "fixtures/demo/clean.yaml"

// pageOf returns the page whose title block names a drawing.
func pageOf(t require.TestingT, pages []pdfPage, title string) *pdfPage {
	for i := range pages {
		if slices.ContainsFunc(pages[i].texts, func(x pdfText) bool { return x.s == title }) {
			return &pages[i]
		}
	}
	require.Fail(t, "no page "+title)
	return nil
}

// TestCheckBars measures the check bars: 100 mm are 283.4646 points.
func TestCheckBars(t *testing.T) {
	list, info := sheets(t, demo), infoOf(t, demo)
	for _, paper := range []draw.PaperSize{draw.A3, draw.A4} {
		info.Paper = paper
		for i, p := range readPDF(t, pdf(t, list, info)) {
			level, upright := p.checkBars(t)
			require.Len(t, append(level, upright...), 1, "page %d", i+1)
			require.InDelta(t, 283.4646, append(level, upright...)[0], 0.05)
		}
	}
	tiles := 0
	for i, p := range readPDF(t, templates(t, list, info)) {
		level, upright := p.checkBars(t)
		require.Len(t, level, 1)
		require.InDelta(t, 283.4646, level[0], 0.05)
		if p.has("shows x") {
			tiles++
			require.Len(t, upright, 1, "page %d", i+1)
			require.InDelta(t, 283.4646, upright[0], 0.05)
		}
	}
	require.Positive(t, tiles)
}

// outlineRing finds the outline of a panel of a size on paper.
func (p *pdfPage) outlineRing(t require.TestingT, w, h float64) (x, y float64) {
	for _, r := range p.rings {
		lo, hi := r[0], r[0]
		for _, q := range r {
			lo, hi = [2]float64{min(lo[0], q[0]), min(lo[1], q[1])}, [2]float64{max(hi[0], q[0]), max(hi[1], q[1])}
		}
		if math.Abs(hi[0]-lo[0]-w) < 0.01 && math.Abs(hi[1]-lo[1]-h) < 0.01 {
			return lo[0], lo[1]
		}
	}
	require.Failf(t, "no outline", "of %v by %v mm", w, h)
	return 0, 0
}

// TestHolesLieWhereTheyShould is worked out by hand: the door wall is 2200 by 2250 mm, at 1:10 it is 220 by 225 mm, and the exhaust at 2000, 2000 of
// Ø 102 lies 200 mm right of its lower left corner and 200 mm above it. The floor is 2200 by 1700 with the drain at 1100, 1000: y runs down from the top.
func TestHolesLieWhereTheyShould(t *testing.T) {
	pages := readPDF(t, pdf(t, sheets(t, demo), infoOf(t, demo)))
	for _, c := range []struct {
		title      string
		w, h       float64
		x, y, d    float64
		fromTheTop bool
	}{
		{"C Wall door_wall, seen from inside", 220, 225, 200, 200, 10.2, false},
		{"C Wall door_wall, seen from inside", 220, 225, 25, 30, 10.2, false},
		{"C Wall door_wall, seen from inside", 220, 225, 70, 165, 1.9, false},
		{"D Wall left, seen from inside", 170, 225, 30, 26, 6.4, false},
		{"E Floor, seen from above", 220, 170, 110, 100, 11, true},
	} {
		p := pageOf(t, pages, c.title)
		x, y := p.outlineRing(t, c.w, c.h)
		y += c.y
		if c.fromTheTop {
			y += c.h - 2*c.y
		}
		require.True(t, slices.ContainsFunc(p.circles, func(o pdfCircle) bool {
			return math.Abs(o.x-x-c.x) < 0.1 && math.Abs(o.y-y) < 0.1 && math.Abs(o.r-c.d/2) < 0.02
		}), "%s: no hole at %v, %v", c.title, c.x, c.y)
	}
}

func TestPagesOfSheets(t *testing.T) {
	list, info := sheets(t, demo), infoOf(t, demo)
	pages := readPDF(t, pdf(t, list, info))
	textsApart(t, pages)
	require.Len(t, pages, 10) // nine sheets, and the list of the plan
	for i, p := range pages {
		long, short := max(p.w, p.h), min(p.w, p.h)
		require.True(t, math.Abs(long-297) < 0.01 && math.Abs(short-210) < 0.01 || math.Abs(long-420) < 0.01 && math.Abs(short-297) < 0.01, "%v by %v", p.w, p.h)
		for _, s := range []string{"demo-clean, Steam room in the garden level", "2026-03-02", info.Revision, fmt.Sprintf("%d of 10", i+1), "licensed electricians", "job.yaml"} {
			require.Contains(t, strings.ReplaceAll(p.all(), "\n", " "), s, "page %d", i+1)
		}
	}
	all := ""
	for _, p := range pages {
		all += p.all()
	}
	for _, s := range list {
		require.Contains(t, all, s.Title)
		for i := range s.Holes {
			require.Contains(t, all, "\n"+s.Holes[i].Mark+"\n"+s.Holes[i].What+"\n", "schedule")
		}
		for _, x := range s.Shapes {
			if x.Text != "" {
				require.Contains(t, all, strings.Join(strings.Fields(x.Text), " "))
			}
		}
	}
	info.Paper = draw.A4
	pages = readPDF(t, pdf(t, list, info))
	textsApart(t, pages)
	for _, p := range pages {
		require.InDelta(t, 297, max(p.w, p.h), 0.01)
		require.InDelta(t, 210, min(p.w, p.h), 0.01)
	}
}

// TestFindingsAreListed sees that each finding of a sheet is written out with its severity.
func TestFindingsAreListed(t *testing.T) {
	const name = "fixtures/demo/faults.yaml"
	list := sheets(t, name)
	pages := readPDF(t, pdf(t, list, infoOf(t, name)))
	textsApart(t, pages)
	all := ""
	for _, p := range pages {
		all += strings.ReplaceAll(p.all(), "\n", " ")
	}
	n := 0
	for _, s := range list {
		for _, m := range s.Marks {
			require.Contains(t, all, strings.Join(strings.Fields(m.Severity+": "+m.Text), " "))
			n++
		}
	}
	require.Positive(t, n)
}

func TestSameBytes(t *testing.T) {
	for _, name := range []string{demo, "fixtures/demo/faults.yaml"} {
		list, info := sheets(t, name), infoOf(t, name)
		a, b := pdf(t, list, info), templates(t, list, info)
		for range 4 {
			require.Equal(t, a, pdf(t, list, info))
			require.Equal(t, b, templates(t, list, info))
		}
		require.Contains(t, string(a), "/CreationDate (D:20260302000000")
		require.Contains(t, string(a), "/ViewerPreferences <</PrintScaling /None>>")
		info.On = "soon"
		require.Contains(t, string(pdf(t, list, info)), "/CreationDate (D:19700101000000", "never the time of day")
	}
	require.Len(t, draw.Revision(nil), 12)
	require.NotEqual(t, draw.Revision([]byte("a")), draw.Revision([]byte("b")))
}

// shownAt reads the head of a tile, and finds its frame: what x and y its lower left corner has.
func shownAt(t require.TestingT, p *pdfPage) (frameX, frameY, x, y float64, down bool, ok bool) {
	for _, l := range p.texts {
		m := regexp.MustCompile(`^shows x (-?[\d.]+) to (-?[\d.]+), y (-?[\d.]+) to (-?[\d.]+)`).FindStringSubmatch(l.s)
		if m == nil {
			continue
		}
		v := make([]float64, 4)
		for i := range v {
			v[i], _ = strconv.ParseFloat(m[i+1], 64)
		}
		frameX, frameY = p.outlineRing(t, v[1]-v[0], v[3]-v[2])
		down = strings.Contains(p.all(), "seen from above: tile E-") // only the floor of the demo
		return frameX, frameY, v[0], v[2], down, true
	}
	return 0, 0, 0, 0, false, false
}

// seenOnTiles lists by face which circles the tiles show whole or in part, in the coordinates of the sheet.
func seenOnTiles(t require.TestingT, list []draw.Sheet, pages []pdfPage) map[string][]pdfCircle {
	out := map[string][]pdfCircle{}
	for i := range pages {
		p := &pages[i]
		fx, fy, x, y, _, ok := shownAt(t, p)
		if !ok {
			continue
		}
		for _, s := range list {
			if s.Face == "" || !strings.Contains(strings.ReplaceAll(p.all(), "\n", " "), s.Title+": tile ") {
				continue
			}
			if s.Down { // the frame shows y from its upper side
				y = -(y + 189)
			}
			for _, c := range p.circles {
				out[s.ID] = append(out[s.ID], pdfCircle{c.x - fx + x, c.y - fy + y, c.r})
			}
		}
	}
	return out
}

// everyHoleOnATile sees that each hole that a job places is drawn at its place at full size on at least one tile, to 0.1 mm.
func everyHoleOnATile(t require.TestingT, list []draw.Sheet, pages []pdfPage) (n int) {
	seen := seenOnTiles(t, list, pages)
	for _, s := range list {
		for _, h := range s.Holes {
			if !h.Drawn || s.Face == "" {
				continue
			}
			r := 0.8 // the ring round each centre
			if h.D != nil {
				if r = *h.D / 2; *h.D > 1000 {
					continue
				}
			}
			y := *h.Y
			if s.Down {
				y = -y
			}
			require.True(t, slices.ContainsFunc(seen[s.ID], func(c pdfCircle) bool {
				return math.Abs(c.x-*h.X) < 0.1 && math.Abs(c.y-y) < 0.1 && math.Abs(c.r-r) < 0.05
			}), "%s %s at %v, %v", s.ID, h.Mark, *h.X, *h.Y)
			n++
		}
	}
	return n
}

func TestTemplatesShowEveryHole(t *testing.T) {
	for _, name := range []string{demo, "fixtures/demo/faults.yaml"} {
		list := sheets(t, name)
		pages := readPDF(t, templates(t, list, infoOf(t, name)))
		textsApart(t, pages)
		require.Positive(t, everyHoleOnATile(t, list, pages))
		for _, p := range pages {
			require.InDelta(t, 210, p.w, 0.01)
			require.InDelta(t, 297, p.h, 0.01)
		}
	}
}

// TestTileOfTheExhaust is worked out by hand from fixtures/demo/clean.yaml: the exhaust lies at 2000, 2000 on a wall of 2200 by 2250 with a joint at 1700. A
// tile of 180 by 189 mm that holds Ø 102 with 12 mm round it cannot reach the edge at 2200 nor that at 2250, so both of its lines are datum lines.
// The inlet at 250, 300 likewise. The steam outlet of Ø 64 at 300, 260 of the left wall has no edge near enough either.
func TestTileOfTheExhaust(t *testing.T) {
	p := pageOf(t, readPDF(t, templates(t, sheets(t, demo), infoOf(t, demo))), "C Wall door_wall, seen from inside: tile C-1, one of 4")
	require.True(t, p.has("shows x 1910 to 2090, y 1906 to 2095"))
	require.True(t, p.has("datum line x 1950"))
	require.True(t, p.has("datum line y 1950"))
	require.True(t, p.has("C1 Ø102"))
	require.True(t, p.has("x 2000, y 2000"))
	require.True(t, p.has("through 50, hole saw 102"))
	require.True(t, p.has("50 right of the datum line"))
	require.True(t, p.has("50 above the datum line"))
	// The datum line and the centre are 50 mm apart on paper.
	for _, l := range p.lines {
		if math.Abs(l.y2-l.y1-189) < 0.01 {
			require.True(t, slices.ContainsFunc(p.circles, func(c pdfCircle) bool { return math.Abs(c.x-l.x1-50) < 0.01 && math.Abs(c.r-51) < 0.01 }))
			return
		}
	}
	require.Fail(t, "no datum line across the tile")
}

// holeSheet is a face with holes at places of given diameters.
func holeSheet(scale, w, h float64, holes ...[3]float64) draw.Sheet {
	s := draw.Sheet{ID: "face-a", Title: "A Wall a", Face: "a", Scale: scale, Bounds: draw.Box{MinX: -10 * scale, MinY: -10 * scale, MaxX: w + scale, MaxY: h + scale}}
	s.Shapes = append(s.Shapes, draw.Shape{Layer: draw.PanelLayer, Kind: draw.Polygon, Class: "outline", Weight: draw.Bold, Points: []draw.Point{{}, {X: w}, {X: w, Y: h}, {Y: h}}})
	for i, o := range holes {
		s.Shapes = append(s.Shapes, draw.Shape{Layer: draw.OpeningLayer, Kind: draw.Circle, Class: "hole", Weight: draw.Normal, Fill: draw.Paper, Points: []draw.Point{{X: o[0], Y: o[1]}}, Radius: o[2] / 2})
		s.Holes = append(s.Holes, draw.HoleRow{Mark: fmt.Sprintf("A%d", i+1), What: "hole", X: &holes[i][0], Y: &holes[i][1], D: &holes[i][2], Tool: "bit", Item: "i", Hole: "i", Drawn: true})
	}
	return s
}

// TestTruthOfScale: whatever the scale, distances on paper times the scale are those of the real thing, and the check bar is 100 mm.
func TestTruthOfScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		scale := rapid.SampledFrom([]float64{1, 2, 5, 10, 20, 50, 100, 7.5}).Draw(t, "scale")
		w, h := rapid.Float64Range(20, 500).Draw(t, "w")*scale, rapid.Float64Range(20, 500).Draw(t, "h")*scale
		a := [3]float64{rapid.Float64Range(0, 1).Draw(t, "ax") * w, rapid.Float64Range(0, 1).Draw(t, "ay") * h, 4 * scale}
		b := [3]float64{rapid.Float64Range(0, 1).Draw(t, "bx") * w, rapid.Float64Range(0, 1).Draw(t, "by") * h, 6 * scale}
		s := holeSheet(scale, w, h, a, b)
		paper := rapid.SampledFrom([]draw.PaperSize{draw.A3, draw.A4}).Draw(t, "paper")
		pages := readPDF(t, pdf(t, []draw.Sheet{s}, draw.Info{Job: "j", On: "2026-01-02", Paper: paper}))
		measured, drawn := 0, 0
		for _, p := range pages {
			level, upright := p.checkBars(t)
			require.InDelta(t, 283.4646, append(level, upright...)[0], 0.05)
			var m []string
			for _, x := range p.texts {
				if m = regexp.MustCompile(`^1:([\d.]+)$`).FindStringSubmatch(x.s); m != nil {
					break
				}
			}
			if m == nil {
				continue // a page of lists
			}
			drawn++
			on, err := strconv.ParseFloat(m[1], 64)
			require.NoError(t, err)
			require.Equal(t, scale, on)
			find := func(r float64) *pdfCircle {
				for i := range p.circles {
					if math.Abs(p.circles[i].r-r) < 0.01 {
						return &p.circles[i]
					}
				}
				return nil
			}
			if ca, cb := find(2), find(3); ca != nil && cb != nil {
				measured++
				require.InDelta(t, (b[0]-a[0])/scale, cb.x-ca.x, 0.1)
				require.InDelta(t, (b[1]-a[1])/scale, cb.y-ca.y, 0.1)
			}
		}
		if drawn == 1 {
			require.Equal(t, 1, measured)
		}
	})
}

// TestPartsOverlapAtTheSamePlace: a face of 600 by 500 mm at 1:1 is larger than A3, and comes in parts. Two parts that join show the same crosses at the same places:
// from part to part they lie as far apart as the parts do.
func TestPartsOverlapAtTheSamePlace(t *testing.T) {
	holes := [][3]float64{}
	for x := 10.0; x < 600; x += 20 {
		for y := 10.0; y < 500; y += 20 {
			holes = append(holes, [3]float64{x, y, 3 + x/200 + y/20000}) // each of another diameter
		}
	}
	s := holeSheet(1, 600, 500, holes...)
	pages := readPDF(t, pdf(t, []draw.Sheet{s}, draw.Info{Job: "j"}))
	var parts []*pdfPage
	for i := range pages {
		if strings.Contains(strings.ReplaceAll(pages[i].all(), "\n", " "), "A Wall a, part ") {
			parts = append(parts, &pages[i])
		}
	}
	require.Greater(t, len(parts), 1)
	// Holes say where a part lies on the face.
	places := map[[2]int]int{}
	for _, p := range parts {
		var dx, dy float64
		n := 0
		for _, h := range holes {
			for _, c := range p.circles {
				if math.Abs(c.r-h[2]/2) < 1e-4 {
					x, y := c.x-h[0], c.y-h[1]
					if n > 0 {
						require.InDelta(t, dx, x, 0.01)
						require.InDelta(t, dy, y, 0.01)
					}
					dx, dy, n = x, y, n+1
				}
			}
		}
		require.Positive(t, n)
		for _, c := range p.circles {
			if math.Abs(c.r-1.5) < 1e-3 {
				places[[2]int{int(math.Round((c.x - dx) * 100)), int(math.Round((c.y - dy) * 100))}]++
			}
		}
	}
	require.NotEmpty(t, places)
	for at, n := range places {
		require.Equal(t, 2, n, "the cross at %v", at)
	}
}

// TestLargeHoleOnSeveralTiles: a hole of Ø 420 needs tiles that join. Their crosses lie at the same places of the face.
func TestLargeHoleOnSeveralTiles(t *testing.T) {
	s := holeSheet(10, 2000, 2000, [3]float64{1000, 1200, 420}, [3]float64{1000, 1500, 10})
	list := []draw.Sheet{s}
	pages := readPDF(t, templates(t, list, draw.Info{Job: "j"}))
	textsApart(t, pages)
	require.Equal(t, 2, everyHoleOnATile(t, list, pages))
	places := map[[2]int]int{}
	tiles := 0
	for i := range pages {
		fx, fy, x, y, _, ok := shownAt(t, &pages[i])
		if !ok {
			continue
		}
		tiles++
		for _, c := range pages[i].circles {
			if math.Abs(c.r-1.5) < 1e-3 {
				places[[2]int{int(math.Round((c.x - fx + x) * 100)), int(math.Round((c.y - fy + y) * 100))}]++
			}
		}
	}
	require.GreaterOrEqual(t, tiles, 9)
	require.NotEmpty(t, places)
	for at, n := range places {
		require.Equal(t, 2, n, "the cross at %v", at)
	}
}

// TestNearHolesShareATile: two taps 150 mm apart between centres, a usual distance, stand on one tile; one that is 600 mm away does not.
func TestNearHolesShareATile(t *testing.T) {
	s := holeSheet(10, 2000, 2000, [3]float64{900, 1100, 24}, [3]float64{1050, 1100, 24}, [3]float64{1650, 1100, 24})
	pages := readPDF(t, templates(t, []draw.Sheet{s}, draw.Info{Job: "j"}))
	p := pageOf(t, pages, "A Wall a: tile A-1, one of 2")
	require.True(t, p.has("A1 Ø24"))
	require.True(t, p.has("A2 Ø24"))
	require.False(t, p.has("A3 Ø24"))
}

// TestEdgeIsThereToLayTheTileOn: a hole 60 mm from the corner of the panel shows both edges, and the way to them.
func TestEdgeIsThereToLayTheTileOn(t *testing.T) {
	s := holeSheet(10, 2000, 2000, [3]float64{60, 1950, 30})
	p := pageOf(t, readPDF(t, templates(t, []draw.Sheet{s}, draw.Info{Job: "j"})), "A Wall a: tile A-1, one of 1")
	require.True(t, p.has("edge of the panel x 0"))
	require.True(t, p.has("edge of the panel y 2000"))
	require.True(t, p.has("60 right of the edge"))
	require.True(t, p.has("50 below the edge"))
	require.False(t, p.has("datum"))
}

func TestHolesThatHaveNoTile(t *testing.T) {
	s := holeSheet(10, 4000, 2000, [3]float64{60, 1950, 30}, [3]float64{2000, 1000, 1200}, [3]float64{100, 100, 10})
	s.Holes[2].X, s.Holes[2].Drawn = nil, false
	pages := readPDF(t, templates(t, []draw.Sheet{s}, draw.Info{Job: "j"}))
	all := strings.ReplaceAll(pages[0].all(), "\n", " ")
	require.Contains(t, all, "none: too large for a template")
	require.Contains(t, all, "none: the job does not say where it is")
}

func TestHostileTextInPDF(t *testing.T) {
	bad := "a) Tj ET Q (\\) endstream endobj /JS (x) \r\n\x00 \u202e <script> 水 Душ Øß\U0001f6bf %PDF"
	s := holeSheet(10, 1000, 1000, [3]float64{500, 500, 68})
	s.Title, s.Notes = bad, []string{bad}
	s.Holes[0].What, s.Holes[0].Tool = bad, bad
	s.Marks = []draw.Mark{{Number: 1, Severity: "critical", Text: bad, Placed: true, Ref: "i"}}
	s.Shapes = append(s.Shapes, draw.Shape{Layer: draw.TextLayer, Kind: draw.Text, Text: bad, Size: 3.5, Points: []draw.Point{{X: 100, Y: 100}}})
	info := draw.Info{Job: bad, Title: bad, File: bad, On: bad, Revision: bad, Cautions: []string{bad}}
	for _, data := range [][]byte{pdf(t, []draw.Sheet{s}, info), templates(t, []draw.Sheet{s}, info)} {
		for _, p := range readPDF(t, data) {
			all := strings.ReplaceAll(p.all(), "\n", " ")
			require.Contains(t, all, `endstream endobj /JS`)
			require.Contains(t, all, "Душ Øß")
			require.Contains(t, all, `\u202e`)
			require.Contains(t, all, "□", "what the font lacks is shown as a box")
			require.Contains(t, all, "□ stands for a character that the font lacks")
			require.NotContains(t, all, "水")
		}
		require.Contains(t, func() (s string) {
			for _, p := range readPDF(t, data) {
				s += strings.ReplaceAll(p.all(), "\n", " ")
			}
			return s
		}(), "U+6C34, U+1F6BF.")
		require.NotRegexp(t, `/(JavaScript|URI|Launch|EmbeddedFile)\b`, regexp.MustCompile(`(?s)stream\n.*?endstream`).ReplaceAllString(string(data), ""))
		if _, err := exec.LookPath("pdftotext"); err == nil { // a second opinion
			c := exec.Command("pdftotext", "-", "-")
			c.Stdin = bytes.NewReader(data)
			var errs bytes.Buffer
			c.Stderr = &errs
			text, err := c.Output()
			require.NoError(t, err)
			require.Empty(t, errs.String())
			require.Contains(t, string(text), "Душ Øß")
		}
	}
}

func TestAnyJobAsPDF(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		job := randomJob(t)
		list := draw.New(job, nil).Sheets(nil, nil)
		info := draw.Info{Job: "any", On: "2026-01-02", Cautions: []string{"Steam scalds."}, Paper: rapid.SampledFrom([]draw.PaperSize{draw.A3, draw.A4}).Draw(t, "paper")}
		pages := readPDF(t, pdf(t, list, info))
		textsApart(t, pages)
		for i := range list {
			pageText := ""
			for _, p := range pages {
				pageText += p.all()
			}
			for _, h := range list[i].Holes {
				require.Contains(t, pageText, "\n"+h.Mark+"\n")
			}
		}
		var b bytes.Buffer
		if err := draw.Templates(&b, list, info); err != nil {
			require.ErrorContains(t, err, "no holes on a face")
			return
		}
		pages = readPDF(t, b.Bytes())
		textsApart(t, pages)
		everyHoleOnATile(t, list, pages)
	})
}

func TestWhatCannotBeDrawn(t *testing.T) {
	var b bytes.Buffer
	require.ErrorContains(t, draw.PDF(&b, nil, draw.Info{}), "nothing to draw")
	require.ErrorContains(t, draw.Templates(&b, []draw.Sheet{{Face: "a"}}, draw.Info{}), "no holes")
	for _, v := range []float64{math.NaN(), math.Inf(1), 1e300} {
		s := holeSheet(10, 1000, 1000, [3]float64{v, 500, 68})
		require.ErrorContains(t, draw.PDF(&b, []draw.Sheet{s}, draw.Info{}), "cannot be drawn")
		require.ErrorContains(t, draw.Templates(&b, []draw.Sheet{s}, draw.Info{}), "cannot be drawn")
	}
	many := make([][3]float64, 5001)
	require.ErrorContains(t, draw.Templates(&b, []draw.Sheet{holeSheet(10, 1000, 1000, many...)}, draw.Info{}), "5000 at most")
	apart := make([][3]float64, 1001)
	for i := range apart {
		apart[i] = [3]float64{float64(i) * 1000, 0, 10}
	}
	require.ErrorContains(t, draw.Templates(&b, []draw.Sheet{holeSheet(10, 1000, 1000, apart...)}, draw.Info{}), "more than 1000 pages")
	require.Zero(t, b.Len(), "nothing is written before it is whole")
	// Far away and huge is drawn smaller, and said.
	far := holeSheet(10, 1000, 1000, [3]float64{1e9, 1e9, 10})
	far.Bounds.MaxX, far.Bounds.MaxY = 1e9, 1e9
	pages := readPDF(t, pdf(t, []draw.Sheet{far}, draw.Info{}))
	require.LessOrEqual(t, len(pages), 20)
	require.Contains(t, strings.ReplaceAll(pages[len(pages)-1].all(), "\n", " "), "The drawing reaches far beyond the face")
}

// TestChainOfHoles keeps the time in bounds for the worst group: near holes in a long slope, which a grid of tiles would cover with millions.
func TestChainOfHoles(t *testing.T) {
	chain := make([][3]float64, 900)
	for i := range chain {
		chain[i] = [3]float64{float64(i) * 55, float64(i) * 55, 10}
	}
	list := []draw.Sheet{holeSheet(10, 1000, 1000, chain...)}
	pages := readPDF(t, templates(t, list, draw.Info{Job: "j"}))
	require.Equal(t, len(chain), everyHoleOnATile(t, list, pages))
}

func TestJobWithoutSizes(t *testing.T) {
	w := 2000.0
	job := &jobfile.Job{Room: &jobfile.Room{Walls: []jobfile.Wall{{ID: "a", WidthMM: &w}}}, Items: []jobfile.Item{{ID: "s", Kind: "shower", Face: "a", XMM: ptr(500), YMM: ptr(900)}}}
	list := draw.New(job, (*measure.Set)(nil)).Sheets(nil, nil)
	pages := readPDF(t, templates(t, list, draw.Info{}))
	require.True(t, pages[0].has("its tiles show no edges of the panel"))
	require.Equal(t, 1, everyHoleOnATile(t, list, pages))
	require.NotEmpty(t, readPDF(t, pdf(t, list, draw.Info{})))
}
