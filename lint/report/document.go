package report

import (
	"bufio"
	"fmt"
	"html/template"
	"io"
	"strings"
	"sync"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// Effective lists rules with what they allow, which rulebook set it, and what layers have changed.
func Effective(out io.Writer, format string, rules []*rulebook.Rule) error {
	switch format {
	case "json":
		return encodeRules(out, rules)
	case "text":
	default:
		return noFormat(format)
	}
	w := bufio.NewWriter(out)
	b := block{w, 4, 9}
	for _, r := range rules {
		fmt.Fprintf(w, "%s: %s, %s\n", r.ID, r.Severity, r.Title)
		b.line("allowed", r.AllowedText())
		b.line("set by", r.LimitBy())
		for _, c := range r.Changes {
			b.line("changed", c.String())
		}
		if r.InForce != nil {
			b.line("in force", period(r.InForce))
		}
	}
	fmt.Fprintf(w, "%s\n", count(len(rules), "rule", "rules"))
	return w.Flush()
}

// documented is a rule as the document shows it.
type documented struct {
	ID, Title string
	Lines     []detail
	Examples  []documentedExample
}

type documentedExample struct{ Sort, Changes string }

// Word and Text are what the template reads of a line.
func (d detail) Word() string { return d.word }

// Text is the text of a line.
func (d detail) Text() string { return d.text }

func document(r *rulebook.Rule, x *rulebook.Examples) documented {
	d := documented{ID: r.ID, Title: r.Title}
	add := func(word, text string) {
		if text = line(text); text != "" {
			d.Lines = append(d.Lines, detail{word, text})
		}
	}
	add("severity", r.Severity.String())
	add("asked from", measure.Words(r.From.String()))
	add("applies to", r.Kind.Meaning)
	add("when", strings.Join(conditions(r), "; "))
	add("measure", r.Def.Meaning+" ("+r.Measure+")")
	add("worked out", r.Def.How)
	add("allowed", r.AllowedText())
	add("why", r.Why)
	add("what to do", r.Remedy)
	add("source", r.Source.String())
	add("set by", r.LimitBy())
	for _, c := range r.Changes {
		add("changed", c.String())
	}
	if r.InForce != nil {
		add("in force", period(r.InForce))
	}
	add("once called", strings.Join(r.Aliases, ", "))
	if x != nil {
		for _, e := range x.List() {
			d.Examples = append(d.Examples, documentedExample{measure.Words(string(e.Sort)), line(e.String())})
		}
	}
	return d
}

// Document writes rules as a document for people: Markdown, or one HTML page that needs nothing else.
func Document(out io.Writer, format string, rules []*rulebook.Rule, examples map[string]*rulebook.Examples) error {
	bySubject := map[string][]documented{}
	for _, r := range rules {
		bySubject[r.Subject] = append(bySubject[r.Subject], document(r, examples[r.ID]))
	}
	type chapter struct {
		Subject string
		Rules   []documented
	}
	var chapters []chapter
	for _, s := range sortedKeys(bySubject) {
		chapters = append(chapters, chapter{s, bySubject[s]})
	}
	switch format {
	case "html":
		return documentPage().Execute(out, map[string]any{"Chapters": chapters, "Count": len(rules)})
	case "markdown":
	default:
		return fmt.Errorf("there is no format %q; known: markdown, html", format)
	}
	w := bufio.NewWriter(out)
	fmt.Fprintf(w, "# Rules\n\n%s. Generated from the rulebooks; do not edit.\n", count(len(rules), "rule", "rules"))
	for _, c := range chapters {
		fmt.Fprintf(w, "\n## %s\n", markdown(c.Subject))
		for _, r := range c.Rules {
			fmt.Fprintf(w, "\n### %s\n\n`%s`\n\n", markdown(r.Title), r.ID)
			for _, l := range r.Lines {
				fmt.Fprintf(w, "- **%s**: %s\n", l.word, markdown(l.text))
			}
			if len(r.Examples) > 0 {
				fmt.Fprintf(w, "\n| example | changes to the base job |\n|---|---|\n")
				for _, e := range r.Examples {
					fmt.Fprintf(w, "| %s | %s |\n", e.Sort, markdown(e.Changes))
				}
			}
		}
	}
	return w.Flush()
}

// markdown keeps text from being read as markup.
func markdown(s string) string { return markdownEscaper.Replace(clean(s)) }

var markdownEscaper = strings.NewReplacer(`\`, `\\`, "`", "\\`", "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "<", "&lt;", ">", "&gt;", "|", `\|`, "#", `\#`)

var documentPage = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("document").Parse(`<!DOCTYPE html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Rules</title>
<style>
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 60rem; margin: 0 auto; padding: 1rem; }
nav li { display: inline-block; margin-right: 1rem; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .2rem 1rem; }
dt { font-weight: 600; } dd { margin: 0; }
table { border-collapse: collapse; } td, th { text-align: left; padding: .2rem .6rem; border-bottom: 1px solid; vertical-align: top; }
article { break-inside: avoid; margin-bottom: 2rem; } code { overflow-wrap: anywhere; }
@media (max-width: 40rem) { dl { display: block; } dd { margin-bottom: .5rem; } }
</style>
<h1>Rules</h1>
<p>{{.Count}} rules. Generated from the rulebooks.</p>
<nav aria-label="Subjects"><ul>{{range .Chapters}}<li><a href="#{{.Subject}}">{{.Subject}}</a></li>{{end}}</ul></nav>
{{range .Chapters}}<section aria-labelledby="{{.Subject}}"><h2 id="{{.Subject}}">{{.Subject}}</h2>
{{range .Rules}}<article id="rule-{{.ID}}"><h3>{{.Title}}</h3><p><code>{{.ID}}</code></p>
<dl>{{range .Lines}}<dt>{{.Word}}</dt><dd>{{.Text}}</dd>{{end}}</dl>
{{if .Examples}}<details><summary>Examples</summary><table><tr><th scope="col">example</th><th scope="col">changes to the base job</th></tr>{{range .Examples}}<tr><td>{{.Sort}}</td><td><code>{{.Changes}}</code></td></tr>{{end}}</table></details>{{end}}
</article>
{{end}}</section>
{{end}}</html>
`))
})
