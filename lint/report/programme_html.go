package report

import (
	"bytes"
	_ "embed"
	"errors"
	"html/template"
	"io"
	"strings"
	"sync"

	"wetrule/lint/gantt"
	"wetrule/lint/programme"
)

//go:embed programme.html.tmpl
var programmePage string

var programmeTemplate = sync.OnceValue(func() *template.Template { return template.Must(template.New("programme").Parse(programmePage)) })

// programmeHTML writes a programme as a page that stands alone: no script, nothing from elsewhere.
func programmeHTML(w io.Writer, p *programme.Programme) error {
	var chart, out bytes.Buffer
	switch err := gantt.SVG(&chart, p.Chart("programme"), gantt.Style{Inline: true}); {
	case errors.Is(err, gantt.ErrInput):
		chart.Reset()
		chart.WriteString("<p>The programme cannot be drawn: " + template.HTMLEscapeString(line(strings.TrimPrefix(err.Error(), gantt.ErrInput.Error()+": "))) + ".</p>\n")
	case err != nil:
		return err
	}
	rows := programmeRows(p)
	for i := range rows {
		r := &rows[i]
		r.Label, r.By, r.Why = line(r.Label), line(r.By), line(r.Why)
	}
	lists := programmeLists(p)
	kept := lists[:0]
	for _, l := range lists {
		if l.Name == "Why" {
			continue // it stands in the table
		}
		for i := range l.Lines {
			l.Lines[i] = line(l.Lines[i])
		}
		kept = append(kept, l)
	}
	stops := make([]string, len(p.Stops))
	for i := range p.Stops {
		stops[i] = line(p.Stops[i])
	}
	err := programmeTemplate().Execute(&out, map[string]any{
		"Name": line(programmeName(p)), "Head": programmeHead(p), "Stops": stops, "Tasks": rows, "Lists": kept,
		"CSS": template.CSS(gantt.CSS()), "Chart": template.HTML(chart.String()),
	})
	if err != nil {
		return err
	}
	_, err = w.Write(out.Bytes())
	return err
}
