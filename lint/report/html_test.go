package report_test

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
	"golang.org/x/net/html"

	"wetrule/lint"
	"wetrule/lint/draw"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

var coreLinter = sync.OnceValues(func() (*lint.Linter, error) { return lint.New(lint.Options{}) })

func demo(t testing.TB, name string) *verdict.Review {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("../../fixtures/demo", name+".yaml"))
	require.NoError(t, err)
	return judged(t, "fixtures/demo/"+name+".yaml", data)
}

func judged(t testing.TB, name string, data []byte) *verdict.Review {
	t.Helper()
	l, err := coreLinter()
	require.NoError(t, err)
	r, err := l.Review(context.Background(), name, data)
	require.NoError(t, err)
	require.Empty(t, r.Problems)
	return r
}

// element finds what a test asks for in a page.
type element struct{ *html.Node }

func parse(t testing.TB, page string) element {
	t.Helper()
	n, err := html.Parse(strings.NewReader(page))
	require.NoError(t, err)
	return element{n}
}

func (e element) attr(name string) string {
	for _, a := range e.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func (e element) has(name string) bool {
	return slices.ContainsFunc(e.Attr, func(a html.Attribute) bool { return a.Key == name })
}

func (e element) is(class string) bool {
	return slices.Contains(strings.Fields(e.attr("class")), class)
}

func (e element) text() string {
	var b strings.Builder
	for n := range e.Descendants() {
		if n.Type == html.TextNode {
			b.WriteString(n.Data)
		} else if n.Type == html.ElementNode && slices.Contains([]string{"td", "th", "dt", "dd", "li", "p", "h4", "div"}, n.Data) {
			b.WriteByte(' ')
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

func (e element) all(keep func(element) bool) []element {
	var out []element
	for n := range e.Descendants() {
		if n.Type == html.ElementNode && keep(element{n}) {
			out = append(out, element{n})
		}
	}
	return out
}

func (e element) tags(names ...string) []element {
	return e.all(func(x element) bool { return slices.Contains(names, x.Data) })
}

func (e element) classes(name string) []element {
	return e.all(func(x element) bool { return x.is(name) })
}

// elements are all that a page is made of.
var elements = strings.Fields("html head meta title style body a header h1 h2 h3 h4 h5 p div aside nav ul ol li span b strong form label input select option fieldset legend button " +
	"main section dl dt dd article details summary figure figcaption table caption thead tbody tr th td footer script svg g path circle rect text")

// requireSound holds a page against what every page must keep: nothing but our own markup, nothing that reaches out, and links, labels and
// headings that lead somewhere.
func requireSound(t testing.TB, page string) element {
	t.Helper()
	doc := parse(t, page)
	ids := map[string]bool{}
	for _, e := range doc.all(func(element) bool { return true }) {
		require.Contains(t, elements, e.Data)
		for _, a := range e.Attr {
			require.False(t, strings.HasPrefix(a.Key, "on"), "%s has the attribute %s", e.Data, a.Key)
			require.NotContains(t, []string{"style", "src", "srcset", "srcdoc", "action", "formaction", "background", "poster", "data", "ping"}, a.Key, e.Data)
			if a.Key == "href" {
				require.True(t, strings.HasPrefix(a.Val, "#"), "%s leads to %s", e.Data, a.Val)
			}
		}
		if id := e.attr("id"); id != "" {
			require.False(t, ids[id], "the id %s stands twice", id)
			ids[id] = true
		}
	}
	for _, e := range doc.all(func(element) bool { return true }) {
		for _, name := range []string{"href", "for", "aria-labelledby"} {
			if v := strings.TrimPrefix(e.attr(name), "#"); v != "" {
				require.True(t, ids[v], "%s %s of %s leads nowhere", name, v, e.Data)
			}
		}
	}
	hash := func(e element) string {
		h := sha256.Sum256([]byte(e.FirstChild.Data))
		return "'sha256-" + base64.StdEncoding.EncodeToString(h[:]) + "'"
	}
	styles, scripts := doc.tags("style"), doc.tags("script")
	require.Len(t, styles, 1)
	require.Len(t, scripts, 1)
	policy := ""
	for _, m := range doc.tags("meta") {
		if m.attr("http-equiv") == "Content-Security-Policy" {
			policy = m.attr("content")
		}
	}
	require.Equal(t, "default-src 'none'; style-src "+hash(styles[0])+"; script-src "+hash(scripts[0])+"; base-uri 'none'; form-action 'none'", policy)
	require.NotRegexp(t, `(?i)url\(|@import|https?://`, styles[0].FirstChild.Data)
	require.NotRegexp(t, `(?i)https?://|fetch|XMLHttp|innerHTML|eval|document\.write`, scripts[0].FirstChild.Data)

	require.Equal(t, "en", doc.tags("html")[0].attr("lang"))
	require.Len(t, doc.tags("h1"), 1)
	require.Len(t, doc.tags("main"), 1)
	require.Equal(t, "#main", doc.tags("a")[0].attr("href"), "the first link skips to the review")
	depth := 0
	for _, h := range doc.tags("h1", "h2", "h3", "h4", "h5") {
		d := int(h.Data[1] - '0')
		require.LessOrEqual(t, d, depth+1, "the heading %q skips a level", h.text())
		require.NotEmpty(t, h.text())
		depth = d
	}
	for _, th := range doc.tags("th") {
		require.Contains(t, []string{"col", "row", "rowgroup"}, th.attr("scope"), th.text())
	}
	for _, table := range doc.tags("table") {
		require.True(t, len(table.tags("caption")) == 1 || element{table.Parent}.attr("aria-label") != "", "a table without a name")
	}
	for _, svg := range doc.tags("svg") {
		require.True(t, svg.attr("aria-hidden") == "true" || svg.attr("role") == "img" || svg.is("hits"), "a drawing that is neither named nor hidden")
	}
	for _, s := range doc.classes("sign") {
		require.NotEmpty(t, element{s.Parent}.text(), "a sign stands beside a word")
	}
	return doc
}

func TestPageHoldsTheReview(t *testing.T) {
	for _, name := range []string{"clean", "faults"} {
		r := demo(t, name)
		doc := requireSound(t, write(t, "html", minor, r))
		groups := r.Groups()

		entries := doc.tags("article")
		require.Len(t, entries, len(groups))
		for i, g := range groups {
			v, text := g.Findings[0], entries[i].text()
			require.Equal(t, v.Rule.Severity.String(), entries[i].attr("data-severity"))
			require.Contains(t, text, strings.Join(strings.Fields(v.Rule.Title), " "))
			require.Contains(t, text, strings.Join(strings.Fields(v.Rule.Remedy), " "))
			require.Contains(t, text, strings.Join(strings.Fields(v.Rule.Source.String()), " "))
			require.Contains(t, text, fmt.Sprintf("%s:%d:%d", r.File, g.Place.Line, g.Place.Col))
			for _, id := range g.Subjects() {
				require.Contains(t, text, id)
			}
			require.NotEmpty(t, element{entries[i].Parent}.all(func(e element) bool { return e.Data == "a" }), "an entry without a way to a drawing: %s", text)
		}

		// The matrix has each verdict once, with its figures, and counts what does not apply.
		type cell struct{ rule, subject, outcome string }
		want, got := map[cell]int{}, map[cell]int{}
		for i := range r.Verdicts {
			v := &r.Verdicts[i]
			want[cell{v.Rule.ID, v.Subject.ID, v.Outcome.String()}]++
		}
		idle := 0
		number := regexp.MustCompile(`not applicable to (\d+)$`)
		for _, body := range doc.classes("matrix")[0].tags("tbody") {
			id := body.classes("rule")[0].classes("id")[0].text()
			for _, row := range body.tags("tr")[1:] {
				for _, item := range row.tags("th")[0].tags("span") {
					got[cell{id, item.text(), row.attr("data-outcome")}]++
				}
			}
			if m := number.FindStringSubmatch(body.classes("basis")[0].text()); m != nil {
				n := 0
				fmt.Sscan(m[1], &n)
				idle += n
			}
		}
		for _, p := range doc.classes("idle") {
			for _, m := range regexp.MustCompile(`\((\d+)\)(?:;|$)`).FindAllStringSubmatch(p.text(), -1) {
				n := 0
				fmt.Sscan(m[1], &n)
				idle += n
			}
		}
		require.Equal(t, want, got)
		require.Equal(t, r.Counts[verdict.NotApplicable], idle)
		v := verdictOf(t, r, "steam-opening-size", "steam_1")
		require.Contains(t, doc.classes("matrix")[0].text(), v.Rule.Def.Format(*v.Value)+" at least 60 mm (least opening that the insulated tube goes through)")

		// From each finding to its place, and back.
		hits := map[string]string{}
		for _, a := range doc.classes("hits") {
			for _, link := range a.tags("a") {
				hits[link.attr("id")] = link.attr("href")
				require.NotEmpty(t, link.attr("aria-label"))
			}
		}
		led := 0
		for _, e := range entries {
			for _, a := range e.tags("a") {
				to := strings.TrimPrefix(a.attr("href"), "#")
				if back, ok := hits[to]; ok {
					require.Equal(t, "#"+e.attr("id"), back)
					led++
				}
			}
		}
		require.Equal(t, len(hits), led)
		require.Equal(t, name == "faults", led > 10)
		// Each drawing has its schedule, its findings and its notes as text.
		sheets := draw.New(r.Job, r.Set).Sheets(groups, nil)
		figures := doc.tags("figure")
		require.Len(t, figures, len(sheets))
		for i, s := range sheets {
			text := figures[i].text()
			require.Contains(t, text, s.Title)
			require.Contains(t, text, fmt.Sprintf("sheet %d of %d", i+1, len(sheets)))
			for _, note := range s.Notes {
				require.Contains(t, text, note)
			}
			for k := range s.Holes {
				h := &s.Holes[k]
				columns := h.Texts()
				require.Contains(t, text, strings.Join(append([]string{h.Mark, h.What}, columns[:]...), " "))
			}
			found := map[int]bool{}
			for _, m := range s.Marks {
				found[m.Number] = true
			}
			n := 0
			for _, list := range figures[i].classes("found") {
				n += len(list.tags("li"))
			}
			require.Equal(t, len(found), n)
		}
		for _, c := range report.Cautions(r) {
			require.Contains(t, doc.classes("cautions")[0].text(), c)
		}
		for _, n := range r.Notices {
			require.Contains(t, doc.text(), n)
		}
		require.Contains(t, doc.tags("title")[0].text(), r.Title)
	}
}

// outline writes the landmarks, headings and tables of a page.
func outline(doc element) string {
	var b strings.Builder
	for _, e := range doc.all(func(element) bool { return true }) {
		text := e.text()
		if r := []rune(text); len(r) > 100 {
			text = string(r[:100]) + "…"
		}
		switch e.Data {
		case "header", "nav", "aside", "main", "section", "article", "figure", "footer", "form":
			fmt.Fprintf(&b, "%s %s%s\n", e.Data, e.attr("id"), e.attr("aria-label"))
		case "h1", "h2", "h3", "h4", "h5", "summary", "caption":
			fmt.Fprintf(&b, "  %s %s\n", e.Data, text)
		case "dt", "dd":
			fmt.Fprintf(&b, "    %s %s\n", e.Data, text)
		}
		if e.is("do") || e.is("where") || e.is("state") {
			fmt.Fprintf(&b, "    %s\n", text)
		}
		if e.is("hits") {
			fmt.Fprintf(&b, "    places %d\n", len(e.tags("a")))
		}
	}
	return b.String()
}

func TestGoldenOutline(t *testing.T) {
	for _, name := range []string{"clean", "faults"} {
		file := filepath.Join("../../fixtures/golden", name+".outline.txt")
		got := outline(parse(t, write(t, "html", report.Options{Version: "golden", FailAt: rulebook.Minor}, demo(t, name))))
		if os.Getenv("UPDATE") != "" {
			require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
			continue
		}
		want, err := os.ReadFile(file)
		require.NoError(t, err, "write it with UPDATE=1 go test ./...")
		require.Equal(t, string(want), got, "%s differs; if it should, write it with UPDATE=1 go test ./... and read the difference", file)
	}
}

func TestPageOfEveryOutcomeAndSeveralJobs(t *testing.T) {
	reviews := append(everything(t), demo(t, "faults"), demo(t, "faults"))
	page := write(t, "html", minor, reviews...)
	doc := requireSound(t, page)
	require.Len(t, doc.classes("job"), 4)
	rows := doc.classes("overview")[0].tags("tbody")[0].tags("tr")
	require.Len(t, rows, 4)
	require.Contains(t, rows[1].text(), "not judged: the job file is at fault in 1 place")
	require.Contains(t, doc.classes("job")[1].classes("problems")[0].text(), "jobs/broken.yaml:4:8: error:")
	require.Empty(t, doc.classes("job")[1].classes("matrix"), "what was not judged has no matrix that looks as if")
	seen := map[string]bool{}
	for _, e := range doc.classes("job")[0].classes("matrix")[0].tags("tr") {
		seen[e.attr("data-outcome")] = true
	}
	for _, o := range verdict.Outcomes()[:verdict.NotApplicable] {
		require.True(t, seen[o], o)
	}
	require.Equal(t, page, write(t, "html", minor, reviews...), "the same bytes each time")

	doc = requireSound(t, write(t, "html", minor))
	require.Contains(t, doc.text(), "no job was reviewed")
}

func TestPageShowsLeavesSnapshotsAndChanges(t *testing.T) {
	r := demo(t, "faults")
	leave := &jobfile.Leave{Leave: "concession", Rule: "steam-outlet-height", Item: "steam_1", Reason: "the wall has a beam", By: []string{"A", "B"}, Until: "2026-12-31"}
	verdictOf(t, r, "steam-outlet-height", "steam_1").Change(func(m *verdict.More) { m.Leave = leave })
	verdictOf(t, r, "door-glass", "door").Change(func(m *verdict.More) { m.Known = &verdict.Known{} })
	v := verdictOf(t, r, "electrical-jets", "spot_left")
	rule := *v.Rule
	rule.Changes = []rulebook.Change{{Amendment: &rulebook.Amendment{What: "tighten", Reason: "our own way", Rulebook: "our-firm"}, Before: "anything", Looser: true}}
	v.Rule = &rule
	r.Faults = []*verdict.LeaveFault{{Severity: rulebook.Major, File: "leaves.yaml", Place: verdict.Place{Line: 3, Col: 7}, Text: "leave for x of y: it ran out"}}
	doc := requireSound(t, write(t, "html", minor, r))
	require.Contains(t, doc.classes("conceded")[0].text(), "steam-outlet-height of steam_1, 150 mm: concession until 2026-12-31 by A and B: the wall has a beam")
	require.Contains(t, doc.classes("findings")[0].text(), "besides 1 finding of the snapshot")
	require.Contains(t, doc.classes("fault")[0].text(), "major: leave for x of y: it ran out leaves.yaml:3:7")
	changed := slices.DeleteFunc(doc.classes("changed"), func(e element) bool { return !strings.Contains(e.text(), "our-firm") })
	require.Len(t, changed, 1)
	require.Equal(t, "tightened by our-firm, before: anything; our own way", changed[0].text())
	require.Contains(t, element{changed[0].Parent}.text(), "limit set by our-firm")
	require.Contains(t, doc.classes("matrix")[0].text(), "conceded, concession until")
	require.Contains(t, doc.classes("matrix")[0].text(), "known from the snapshot")
}

// hostiles are texts that would run, or change the page, if they were markup. They set window.ran.
var hostiles = []string{
	`</title></style></script></svg><script>window.ran=1</script><style>*{display:none}</style><img src=x onerror="window.ran=1"><svg onload="window.ran=1"><a href="javascript:window.ran=1">x</a>" onclick="window.ran=1" x='{{.}}' --><base href=//x/>`,
	`"><script>window.ran=1</script>`,
	`javascript:window.ran=1`,
	`<b onclick=ran=1>`,
}

// hostileJob is the demo in which every text that may be anything is hostile.
func hostileJob(t testing.TB) *verdict.Review {
	t.Helper()
	data, err := os.ReadFile("../../fixtures/demo/faults.yaml")
	require.NoError(t, err)
	var doc yaml.Node
	require.NoError(t, yaml.Unmarshal(data, &doc))
	var texts []*yaml.Node
	var collect func(n *yaml.Node)
	collect = func(n *yaml.Node) {
		for i, c := range n.Content {
			if n.Kind == yaml.MappingNode && i%2 == 0 {
				continue
			}
			collect(c)
		}
		if n.Kind == yaml.ScalarNode && n.Tag == "!!str" {
			texts = append(texts, n)
		}
	}
	collect(&doc)
	whole := func() []byte {
		out, err := yaml.Marshal(&doc)
		require.NoError(t, err)
		return out
	}
	// A field takes hostile text when the whole job is still valid with it.
	changed := 0
	for _, n := range texts {
		old, style := n.Value, n.Style
		taken := false
		for _, h := range hostiles {
			n.Value, n.Style = h, yaml.DoubleQuotedStyle
			if _, err := jobfile.Load("job.yaml", whole()); err == nil {
				taken = true
				changed++
				break
			}
		}
		if !taken {
			n.Value, n.Style = old, style
		}
	}
	require.Greater(t, changed, 40)
	r := judged(t, `jobs/<script>window.ran=1</script>"onload=ran=1.yaml`, whole())
	require.Contains(t, r.Title, "<script>")

	// Texts of a rulebook, of leaves and of notices are no safer.
	h := hostiles[0]
	def := measure.Def{}
	rules := map[*rulebook.Rule]*rulebook.Rule{}
	for i := range r.Verdicts {
		v := &r.Verdicts[i]
		if rules[v.Rule] == nil {
			c := *v.Rule
			def = *c.Def
			c.Title, c.Why, c.Remedy, c.Rulebook, c.Source.Note, c.Source.Clause = h, h, h, h, h, h
			def.Meaning = h
			c.Def = &def
			c.Changes = []rulebook.Change{{Amendment: &rulebook.Amendment{What: "tighten", Reason: h, Rulebook: h}, Before: h}}
			rules[v.Rule] = &c
		}
		v.Rule = rules[v.Rule]
		if v.Outcome == verdict.Conforms && i%50 == 0 {
			v.Outcome = verdict.NotJudged
			v.Change(func(m *verdict.More) { m.Reason = h })
		}
		if v.Outcome == verdict.Nonconforming && i%2 == 0 {
			v.Change(func(m *verdict.More) { m.Leave = &jobfile.Leave{Leave: h, Reason: h, By: []string{h}, Until: h} })
		}
	}
	r.Notices = append(r.Notices, h)
	r.Faults = append(r.Faults, &verdict.LeaveFault{File: h, Text: h})
	r.Books = append(r.Books, rulebook.Manifest{Name: h, Edition: h})
	return r
}

func TestHostileTextStaysText(t *testing.T) {
	r := hostileJob(t)
	broken := &verdict.Review{File: hostiles[0], Reference: hostiles[0], Title: hostiles[0], Problems: jobfile.Problems{{File: hostiles[0], Message: hostiles[0]}}}
	page := write(t, "html", report.Options{Version: hostiles[0], FailAt: rulebook.Minor}, r, broken)
	doc := requireSound(t, page)
	require.Greater(t, strings.Count(doc.text(), "<script>window.ran=1</script>"), 300, "the text is shown as it is")
	require.Equal(t, 1, strings.Count(page, "<script"))
	require.Equal(t, 1, strings.Count(page, "</style"))
	for _, d := range doc.classes("dr-sheet") {
		require.NotEmpty(t, d.tags("path"))
	}

	control := &verdict.Review{File: "a\u202eb\x1b[2J\x00\u2028c\xff.yaml", Problems: jobfile.Problems{{Message: "x\u200by"}}}
	page = write(t, "html", minor, control)
	require.Contains(t, page, `a\u202eb\u001b[2J`)
	require.NotContains(t, page, "\u202e")
	require.NotContains(t, page, "\x1b")
	require.NotContains(t, page, "\u200b")
	require.NotContains(t, page, "\x00")
	requireSound(t, page)
}
