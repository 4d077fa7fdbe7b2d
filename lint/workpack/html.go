package workpack

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strconv"
	"strings"
	"sync"

	"wetrule/lint/draw"
	"wetrule/lint/report"
)

// The page is one file that needs nothing else and runs nothing: a policy in its head lets a browser use its own style sheet and nothing besides.
var (
	//go:embed page.html.tmpl
	pageText string
	//go:embed page.css
	pageCSS string
)

// pageTemplate is parsed when the first page is written; most runs write none.
var pageTemplate = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("page").Funcs(template.FuncMap{"percent": percent, "facts": findingFacts, "upper": strings.ToUpper}).Parse(pageText))
})

type (
	htmlPage struct {
		*Pack
		Policy   string
		Style    template.HTML
		Identity string
		Parts    []htmlPart
	}
	htmlPart struct {
		Number int
		Section
		Blocks []htmlBlock
		Banner string
	}
	// htmlBlock is a block with the name of its template.
	htmlBlock struct {
		Is string
		B  any
	}
	htmlSheet struct {
		ID, Title, Fit string
		Drawing        template.HTML
		Holes          []htmlHole
		Marks          []htmlMark
		Notes          []string
		Reference      string
		Number, Of     int
	}
	htmlHole struct{ Mark, What, X, Y, D, Depth, Tool string }
	htmlMark struct {
		Number         int
		Severity, Text string
	}
)

// percent is the share of a column.
func percent(mm float64) string {
	return "w" + strconv.Itoa(int(math.Round(mm/Width*50)*2))
}

// cssText writes a text as a string of CSS: every character but plain letters, digits and blanks as its code point.
//
// Source: CSS Syntax Module Level 3, 4.3.7 (from memory).
func cssText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		if r == ' ' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, `\%06x `, r) // the blank ends the code point
		}
	}
	return b.String() + `"`
}

// style is the style sheet; its margin boxes say on every printed page what it belongs to.
func (p *Pack) style() string {
	var b strings.Builder
	b.WriteString(draw.CSS(false) + "@media screen and (prefers-color-scheme:dark){\n" + draw.CSS(true) + "}\n" + pageCSS)
	for w := 2; w <= 100; w += 2 {
		fmt.Fprintf(&b, ".w%d{width:%d%%}\n", w, w)
	}
	head, top := "", "14mm"
	if p.Banner != "" {
		head, top = "@top-left{content:"+cssText(p.Banner)+";font:bold 10pt Arial,sans-serif;width:100%;border-bottom:.7mm solid #000;margin-bottom:4mm;padding-bottom:1mm;vertical-align:bottom}", "22mm"
	}
	fmt.Fprintf(&b, "@page{size:A4;margin:%s 12mm 16mm 20mm;%s@bottom-left{content:%s;font:7.5pt Arial,sans-serif;width:80%%}@bottom-right{content:\"page \" counter(page) \" of \" counter(pages);font:bold 8pt Arial,sans-serif;width:20%%}}\n",
		top, head, cssText(report.OneLine(p.identity())))
	return b.String()
}

// HTML writes the pack as one page that stands alone.
func (p *Pack) HTML(w io.Writer) error {
	style := p.style()
	page := htmlPage{Pack: p, Style: template.HTML("<style>" + style + "</style>"), Identity: p.identity(),
		Policy: "default-src 'none'; style-src " + report.HashOf(style) + "; base-uri 'none'; form-action 'none'"}
	for i := range p.Sections {
		s := &p.Sections[i]
		part := htmlPart{Number: i + 1, Section: *s, Banner: p.Banner}
		for _, b := range s.Blocks {
			x := htmlBlock{strings.ToLower(strings.TrimPrefix(fmt.Sprintf("%T", b), "workpack.")), b}
			switch b := b.(type) {
			case Sheets:
				list, err := p.htmlSheets(b.Sheets)
				if err != nil {
					return err
				}
				x.B = list
			case Drawing:
				svg, err := inline(b.Sheet, "drawing-"+strconv.Itoa(i+1)+"-"+strconv.Itoa(len(part.Blocks)+1), true)
				if err != nil {
					return err
				}
				x.B = htmlSheet{Title: b.Sheet.Title, Drawing: svg}
			}
			part.Blocks = append(part.Blocks, x)
		}
		page.Parts = append(page.Parts, part)
	}
	return report.Page(w, func(w io.Writer) error { return pageTemplate().ExecuteTemplate(w, "page", page) })
}

// inline draws a sheet without what the page writes itself as text; a plain one without a scale too.
func inline(s draw.Sheet, id string, plain bool) (template.HTML, error) {
	s.ID = id
	s.Holes, s.Marks, s.Notes = nil, nil, nil
	var b bytes.Buffer
	err := draw.SVG(&b, &s, draw.Style{Inline: true, Plain: plain})
	return template.HTML(b.String()), err
}

func (p *Pack) htmlSheets(list []draw.Sheet) ([]htmlSheet, error) {
	out := make([]htmlSheet, 0, len(list))
	for i := range list {
		s := &list[i]
		svg, err := inline(*s, "sheet-"+strconv.Itoa(i+1)+"-drawing", false)
		if err != nil {
			return nil, err
		}
		x := htmlSheet{ID: "sheet-" + s.ID, Title: s.Title, Drawing: svg, Notes: s.Notes, Reference: p.Reference, Number: i + 1, Of: len(list)}
		for k := range s.Holes {
			h := &s.Holes[k]
			t := h.Texts()
			x.Holes = append(x.Holes, htmlHole{h.Mark, h.What, t[0], t[1], t[2], t[3], t[4]})
		}
		seen := map[int]bool{}
		for _, m := range s.Marks {
			if !seen[m.Number] {
				seen[m.Number] = true
				x.Marks = append(x.Marks, htmlMark{m.Number, m.Severity, m.Text})
			}
		}
		// The more stands below the drawing, the lower it is on paper, so that a sheet is one page.
		room := 200 - 4.5*float64(len(x.Holes)+2) - 5*float64(len(x.Marks)+len(x.Notes))
		x.Fit = "fit-" + strconv.Itoa(int(max(80, math.Floor(room/20)*20)))
		out = append(out, x)
	}
	return out, nil
}
