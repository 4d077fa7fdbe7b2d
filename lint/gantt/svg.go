package gantt

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"

	"wetrule/lint/draw/font"
)

// Style says how a chart is written.
type Style struct {
	Inline bool // leave out the style sheet, for a page that has one for all charts; see CSS
}

// CSS is the style sheet, all under the class gantt. A page may set the properties itself; they follow the reader's wish for a light or a dark
// ground. Hues are those of the palette of Okabe and Ito.
func CSS() string {
	return `.gantt{--g-paper:#fff;--g-ink:#000;--g-soft:#5a5a5a;--g-band:#f6f5f2;--g-shade:#dcdcdc;--g-grid:#c8c8c8;--g-work:#56b4e9;--g-line:#0072b2;--g-critical:#d55e00;--g-hatch:#fbe3d5;--g-wait:#fff;--g-done:#b4b4b4;--g-hold:#d55e00;--g-on:#000}
@media (prefers-color-scheme:dark){.gantt{--g-paper:#15181b;--g-ink:#f2f2f2;--g-soft:#b4b4b4;--g-band:#1c2024;--g-shade:#2d3238;--g-grid:#454b52;--g-work:#0072b2;--g-line:#56b4e9;--g-critical:#e8762c;--g-hatch:#3a2418;--g-wait:#15181b;--g-done:#6a6f75;--g-hold:#e8762c;--g-on:#fff}}
@media print{.gantt{--g-paper:#fff;--g-ink:#000;--g-soft:#5a5a5a;--g-band:#f6f5f2;--g-shade:#dcdcdc;--g-grid:#c8c8c8;--g-work:#56b4e9;--g-line:#0072b2;--g-critical:#d55e00;--g-hatch:#fbe3d5;--g-wait:#fff;--g-done:#b4b4b4;--g-hold:#d55e00;--g-on:#000}}
.gantt text{font-family:"Liberation Sans",Helvetica,sans-serif;fill:var(--g-ink)}
.gantt .bar,.gantt .over,.gantt .axis,.gantt .mark{stroke:var(--g-paper);stroke-width:3px;paint-order:stroke;stroke-linejoin:round}
.gantt .in{fill:var(--g-on)}
.gantt .strong{font-weight:bold}
.gantt .axis:not(.strong){fill:var(--g-soft)}
.gantt .paper{fill:var(--g-paper)}
.gantt .band{fill:var(--g-band)}
.gantt .head{fill:none;stroke:var(--g-grid)}
.gantt .shade{fill:var(--g-shade)}
.gantt .holiday{fill:var(--g-soft)}
.gantt .tick{stroke:var(--g-grid);fill:none}
.gantt .tick.hour{stroke-dasharray:1 5}
.gantt .tick.major{stroke:var(--g-soft)}
.gantt .mark-line{stroke:var(--g-ink);stroke-dasharray:6 3;fill:none;stroke-width:1.5}
.gantt .arrow{stroke:var(--g-soft);fill:none}
.gantt .tip{fill:var(--g-soft)}
.gantt .work{fill:var(--g-work);stroke:var(--g-line)}
.gantt .critical{stroke:var(--g-critical);stroke-width:2.5}
.gantt .hatch{fill:var(--g-hatch)}
.gantt .hatch-line{stroke:var(--g-critical);stroke-width:1.6}
.gantt .wait{fill:var(--g-wait);stroke:var(--g-line);stroke-width:2;stroke-dasharray:0.1 4;stroke-linecap:round}
.gantt .wait.critical{stroke:var(--g-critical);stroke-width:2.5}
.gantt .dot{fill:var(--g-line)}
.gantt .dot-critical{fill:var(--g-critical)}
.gantt .done{fill:var(--g-done);stroke:var(--g-soft)}
.gantt .check{stroke:var(--g-ink);stroke-width:1.8;fill:none}
.gantt .float{fill:var(--g-soft)}
.gantt .plan{fill:var(--g-grid);stroke:var(--g-soft);stroke-width:.6}
.gantt .hold{fill:var(--g-hold);stroke:var(--g-ink)}
.gantt .witness{fill:var(--g-paper);stroke:var(--g-ink);stroke-width:1.6}
.gantt .review{fill:var(--g-paper);stroke:var(--g-ink);stroke-width:1.6}
.gantt .milestone{fill:var(--g-ink)}
`
}

// SVG writes the chart as one SVG document. It holds no script, no link and no reference to anything outside itself.
func SVG(w io.Writer, c Chart, style Style) error {
	l, err := lay(&c)
	if err != nil {
		return err
	}
	id := safe(c.ID)
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" id="%s" class="gantt" role="img" aria-labelledby="%s-title" width="%s" height="%s" viewBox="0 0 %s %s">`+"\n",
		id, id, num(l.width), num(l.height), num(l.width), num(l.height))
	title := font.Clean(c.Title, 400)
	if title == "" {
		title = "Programme"
	}
	fmt.Fprintf(&b, "<title id=\"%s-title\">%s</title>\n", id, escape(title))
	if !style.Inline {
		fmt.Fprintf(&b, "<style>\n%s</style>\n", CSS())
	}
	fmt.Fprintf(&b, `<defs><pattern id="%s-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect class="hatch" width="6" height="6"/><path class="hatch-line" d="M1.5 0V6"/></pattern>`, id)
	for _, s := range []string{"dot", "dot-critical"} {
		fmt.Fprintf(&b, `<pattern id="%s-%s" width="5" height="5" patternUnits="userSpaceOnUse"><circle class="%s" cx="2.5" cy="2.5" r="0.9"/></pattern>`, id, s, s)
	}
	b.WriteString("</defs>\n")
	rect := func(r box, attributes string) {
		fmt.Fprintf(&b, `<rect x="%s" y="%s" width="%s" height="%s"%s/>`+"\n", num(r.x), num(r.y), num(r.w), num(r.h), attributes)
	}
	rect(box{0, 0, l.width, l.height}, ` class="paper"`)
	for _, r := range l.bands {
		rect(r, ` class="band"`)
	}
	for _, s := range l.shades {
		shade(&b, s)
		if s.holiday {
			rect(box{s.x, s.y, s.w, 3}, ` class="holiday"`)
		}
	}
	for _, t := range l.ticks {
		class, top := "tick", l.headTop+linePx
		if t.strong {
			class, top = "tick major", l.headTop
		}
		fmt.Fprintf(&b, `<path class="%s" d="M%s %sV%s"/>`+"\n", class, num(t.x), num(top), num(l.plot.y+l.plot.h))
	}
	for _, x := range l.hourTicks {
		fmt.Fprintf(&b, `<path class="tick hour" d="M%s %sv-3M%s %sV%s"/>`+"\n", num(x), num(l.headEnd), num(x), num(l.plot.y), num(l.plot.y+l.plot.h))
	}
	fmt.Fprintf(&b, `<path class="tick major" d="M%s %sH%sM0 %sH%s"/>`+"\n", num(l.plot.x), num(l.headEnd), num(l.plot.x+l.plot.w), num(l.plot.y), num(l.plot.x+l.plot.w))
	for _, r := range l.heads {
		fmt.Fprintf(&b, `<path class="head" d="M%s %sH%s"/>`+"\n", num(r.x), num(r.y+r.h), num(r.x+r.w))
	}
	for _, a := range l.arrows {
		fmt.Fprintf(&b, `<path class="arrow" d="%s"/>`, line(a))
		end, before := a[len(a)-1], a[len(a)-2]
		dx := 5.0
		if before.x > end.x {
			dx = -5
		}
		fmt.Fprintf(&b, `<path class="tip" d="M%s %sl%s -3v6z"/>`+"\n", num(end.x), num(end.y), num(-dx))
	}
	for _, x := range l.marks {
		fmt.Fprintf(&b, `<path class="mark-line" d="M%s %sV%s"/>`+"\n", num(x), num(l.plot.y), num(l.plot.y+l.plot.h))
	}
	for i := range l.bars {
		ref := c.Rows[l.bars[i].row].ID
		bar(&b, &l.bars[i], id, ref)
	}
	for i := range l.points {
		point(&b, &l.points[i])
	}
	for _, item := range l.legend {
		switch {
		case item.bar != nil:
			bar(&b, item.bar, id, "")
		case item.point != nil:
			point(&b, item.point)
		default:
			rect(item.box, ` class="shade"`)
		}
	}
	for _, t := range append([]label{l.title}, l.labels...) {
		if t.text == "" {
			continue
		}
		class := t.class
		if t.strong {
			class += " strong"
		}
		fmt.Fprintf(&b, `<text class="%s" x="%s" y="%s" font-size="%s">`, class, num(t.x), num(t.baseline()), num(t.size))
		if t.text != t.full {
			fmt.Fprintf(&b, "<title>%s</title>", escape(t.full))
		}
		fmt.Fprintf(&b, "%s</text>\n", escape(t.text))
	}
	b.WriteString("</svg>\n")
	_, err = w.Write(b.Bytes())
	return err
}

func shade(b *bytes.Buffer, s drawnShade) {
	fmt.Fprintf(b, `<rect class="shade" x="%s" y="%s" width="%s" height="%s">%s</rect>`+"\n", num(s.x), num(s.y), num(s.w), num(s.h), titled(s.title))
}

func titled(s string) string {
	if s == "" {
		return ""
	}
	return "<title>" + escape(s) + "</title>"
}

func bar(b *bytes.Buffer, d *drawnBar, id, ref string) {
	b.WriteString("<g")
	if ref = font.Clean(ref, 400); ref != "" {
		fmt.Fprintf(b, ` data-ref="%s"`, escape(ref))
	}
	b.WriteString(">" + titled(d.title))
	class := [...]string{"work", "wait", "done", "float", "plan"}[d.sort]
	style := ""
	if d.critical {
		class += " critical"
		if d.sort == Work {
			style = fmt.Sprintf(` style="fill:url(#%s-hatch)"`, id)
		}
	}
	inner := box{d.x + 0.75, d.y + 0.75, max(d.w-1.5, 0.5), max(d.h-1.5, 0.5)} // the outline stays inside
	if d.sort == Float || d.sort == Plan {
		inner = d.box
	}
	fmt.Fprintf(b, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"%s/>`, class, num(inner.x), num(inner.y), num(inner.w), num(inner.h), style)
	switch {
	case d.sort == Wait:
		dots := "dot"
		if d.critical {
			dots = "dot-critical"
		}
		fmt.Fprintf(b, `<rect x="%s" y="%s" width="%s" height="%s" fill="url(#%s-%s)"/>`, num(inner.x), num(inner.y), num(inner.w), num(inner.h), id, dots)
	case d.sort == Done && d.w >= 14:
		fmt.Fprintf(b, `<path class="check" d="M%s %sl2.5 3 4.5 -6"/>`, num(d.x+d.w-11), num(d.y+d.h/2+0.5))
	case d.sort == Float:
		fmt.Fprintf(b, `<path class="check" d="M%s %sv9"/>`, num(d.x+d.w-0.9), num(d.y+d.h/2-4.5))
	}
	b.WriteString("</g>\n")
}

func point(b *bytes.Buffer, p *drawnPoint) {
	b.WriteString("<g>" + titled(p.title))
	r := pointPx - 1
	switch p.shape {
	case Hold, Witness:
		class := [...]string{"hold", "witness"}[p.shape]
		fmt.Fprintf(b, `<path class="%s" d="%sz"/>`, class, line([]pt{{p.x, p.y - r}, {p.x + r, p.y}, {p.x, p.y + r}, {p.x - r, p.y}}))
	case Review:
		fmt.Fprintf(b, `<circle class="review" cx="%s" cy="%s" r="%s"/>`, num(p.x), num(p.y), num(r-0.5))
	default:
		fmt.Fprintf(b, `<path class="milestone" d="%sz"/>`, line([]pt{{p.x, p.y - r}, {p.x + r, p.y + r}, {p.x - r, p.y + r}}))
	}
	b.WriteString("</g>\n")
}

func line(ps []pt) string {
	var b strings.Builder
	for i, p := range ps {
		b.WriteString([2]string{"L", "M"}[btoi(i == 0)] + num(p.x) + " " + num(p.y))
	}
	return b.String()
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// num writes px to a hundredth.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 2, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;", "'", "&#39;")

func escape(s string) string { return escaper.Replace(s) }

// safe keeps the letters, digits, - and _ of an id.
func safe(s string) string {
	out := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_' {
			return r
		}
		return -1
	}, s)
	if out == "" || out[0] == '-' || out[0] >= '0' && out[0] <= '9' {
		out = "gantt" + out
	}
	return out
}
