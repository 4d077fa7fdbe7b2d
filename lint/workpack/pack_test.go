package workpack_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"wetrule/lint"
	"wetrule/lint/jobfile"
	"wetrule/lint/methods"
	"wetrule/lint/programme"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/lint/workpack"
)

// linter is prepared once.
var linter = sync.OnceValues(func() (*lint.Linter, error) { return lint.New(lint.Options{}) })

// read reviews a job file.
func read(t testing.TB, file string) (*verdict.Review, []byte) {
	t.Helper()
	data, err := os.ReadFile(filepath.FromSlash(file))
	require.NoError(t, err)
	return review(t, file, data), data
}

func review(t testing.TB, file string, data []byte) *verdict.Review {
	t.Helper()
	l, err := linter()
	require.NoError(t, err)
	r, err := l.Review(context.Background(), file, data)
	require.NoError(t, err)
	return r
}

// handMade is a plan with one of everything.
func handMade() *methods.Plan {
	yes, no := true, false
	practice := rulebook.Citation{ID: "common-practice", Basis: "practice"}
	p := &methods.Plan{}
	step := func(s methods.Step) {
		s.Source = practice
		p.Steps = append(p.Steps, s)
	}
	step(methods.Step{ID: "opening.cut:steam_1", Method: "opening", Step: "cut", Title: "Openings", Task: "cut_openings", Kind: "steam_outlet", Subject: "steam_1", Face: "left", Text: "Cut the opening 64 mm wide at x 300 mm, y 260 mm, square to the face.", By: "fitter", ByTitle: "fitter", Minutes: 25, MinutesKnown: true, Known: true, Tools: []int{0, 1}, Cautions: []string{"dust"}})
	step(methods.Step{ID: "heating-cable.cut:heat", Method: "heating-cable", Step: "cut", Title: "Heating cable", Task: "cut_grooves", Kind: "heating_cable", Subject: "heat", Face: "bench.seat", Text: "Cut the grooves 20 mm wide and 16 mm deep along the marked lines.", By: "fitter", ByTitle: "fitter", Minutes: 61, Known: true, Tools: []int{2}, Cautions: []string{"dust"}})
	step(methods.Step{ID: "heating-cable.lay:heat", Method: "heating-cable", Step: "lay", Title: "Heating cable", Task: "lay_cable", Kind: "heating_cable", Subject: "heat", Face: "bench.seat", Text: "Lay the cable and read it before it is covered.", By: "electrician", ByTitle: "electrician", Licensed: true, Minutes: 45, Known: true, Cautions: []string{"electricity"},
		Record: &methods.RecordDue{Record: "cable_reading", When: "laid", What: "resistance and insulation of the cable when laid", Item: "heat", Step: 2, Task: "lay_cable"}})
	step(methods.Step{ID: "heating-cable.embed:heat", Method: "heating-cable", Step: "embed", Title: "Heating cable", Task: "embed_cable", Kind: "heating_cable", Subject: "heat", Face: "bench.seat", Text: "Fill the grooves with flexible tile cement.", By: "fitter", ByTitle: "fitter", Known: false, Needs: []string{"heat.groove_depth_mm"}, Materials: []methods.Use{{Material: 0, Net: 4.8, Exact: 5.28, Known: true}, {Material: 1}}})
	step(methods.Step{ID: "steam.first", Method: "steam", Step: "first", Title: "First steam", Task: "first_steam", Kind: "job", Text: "Raise steam slowly and look for drips.", By: "fitter", ByTitle: "fitter", Minutes: 120, Known: true, Cautions: []string{"steam"}})
	p.Points = []methods.Point{
		{Sort: "hold", Letter: "H", Check: "Resistance within 5 % below and 10 % above 529 Ω; insulation at least 20 MΩ at 500 V.", ReleasedBy: "licensed electrician", Step: 2, Task: "lay_cable", Subject: "heat", Face: "bench.seat", Known: true},
		{Sort: "witness", Letter: "W", Check: "Grooves are 16 mm deep at five places.", ReleasedBy: "site manager", Step: 1, Task: "cut_grooves", Subject: "heat", Face: "bench.seat", Known: true},
	}
	p.Tools = []methods.Tool{{Name: "hole saw", Size: 64, Unit: "mm", Known: true, Listed: &yes, Steps: []int{0}}, {Name: "vacuum of class M", Known: true, Steps: []int{0, 1}}, {Name: "groove cutter", Size: 20, Unit: "mm", Known: true, Listed: &no, Steps: []int{1}}}
	p.Materials = []methods.Material{{Name: "flexible tile cement", Unit: "kg", Net: 4.8, Exact: 5.28, Buy: 25, Known: true, Parts: []methods.Part{{Step: 3, Net: 4.8, Exact: 5.28, WastePercent: 10, Known: true}}}, {Name: "fibre mesh", Unit: "m²", Known: false, Needs: []string{"heat.groove_width_mm"}, Parts: []methods.Part{{Step: 3}}}}
	p.Cautions = []methods.Caution{
		{ID: "electricity", Title: "Electricity", Text: "Switch off, secure and prove dead before work.", Signs: []rulebook.Sign{{Code: "W012", Meaning: "electricity"}, {Code: "M021", Meaning: "disconnect before work"}}, Source: practice, Steps: []int{2}},
		{ID: "dust", Title: "Dust", Text: "Extract at the tool and wear a mask.", Signs: []rulebook.Sign{{Code: "M016", Meaning: "mask"}}, Source: practice, Steps: []int{0, 1}},
		{ID: "steam", Title: "Steam", Text: "Steam scalds.", Source: practice, Steps: []int{4}},
	}
	p.Instructions = []methods.Instruction{{Subject: "heat", Kind: "heating_cable", What: "Instructions of the heating cable", OnSite: &yes, Known: true}, {Subject: "door", Kind: "glazed_door", What: "Instructions of the hinges", OnSite: &no, Known: true}, {What: "Data sheet of the waterproofing", Known: true}}
	p.Tasks = []methods.Task{{Name: "cut_openings", By: "fitter", Items: []string{"steam_1"}, Faces: []string{"left"}, Minutes: 25, Known: true, Steps: []int{0}}, {Name: "embed_cable", By: "fitter", Faces: []string{"bench.seat"}, Steps: []int{3}}}
	p.Records = []methods.RecordDue{{Record: "cable_reading", When: "reel", What: "readings of the cable on the reel", Item: "heat", Taken: []int{0}, Step: 1, Task: "lay_cable"}, *p.Steps[2].Record}
	p.Missing = []methods.Missing{{Field: "heat.groove_width_mm", Steps: []int{3}}}
	return p
}

// sections are the parts of a pack in their order.
var sections = []string{"cover", "cautions", "findings", "tools", "materials", "steps", "sheets", "programme", "inspections", "instructions", "handover"}

// planOf makes the plan of a job of the demo.
func planOf(t testing.TB, name string) *methods.Plan {
	t.Helper()
	return plan(t, "../../fixtures/demo/"+name+".yaml", mustRead(t, "../../fixtures/demo/"+name+".yaml"))
}

func plan(t testing.TB, name string, data []byte) *methods.Plan {
	t.Helper()
	l, err := linter()
	require.NoError(t, err)
	f, err := jobfile.Load(name, data)
	require.NoError(t, err)
	p, err := l.Plan(f)
	require.NoError(t, err)
	return p.Plan
}

// datesOf makes the programme of a job.
func datesOf(t testing.TB, name string, data []byte) *programme.Programme {
	t.Helper()
	l, err := linter()
	require.NoError(t, err)
	f, err := jobfile.Load(name, data)
	require.NoError(t, err)
	p, err := l.Programme(f, "")
	require.NoError(t, err)
	return p
}

func pack(t testing.TB, name string, change func(*workpack.Input)) *workpack.Pack {
	t.Helper()
	r, data := read(t, "../../fixtures/demo/"+name+".yaml")
	in := workpack.Input{Review: r, Job: data, Plan: planOf(t, name), Programme: datesOf(t, name, data), Version: "test", Despite: true}
	if change != nil {
		change(&in)
	}
	p, err := workpack.New(in)
	require.NoError(t, err)
	return p
}

func markup(t testing.TB, p *workpack.Pack) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, p.HTML(&b))
	return b.String()
}

func pdf(t testing.TB, p *workpack.Pack) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, p.PDF(&b))
	return b.Bytes()
}

// page reads the text of a page in HTML, with a line for each block.
func page(t testing.TB, source string) (*html.Node, string) {
	t.Helper()
	root, err := html.Parse(strings.NewReader(source))
	require.NoError(t, err)
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		switch {
		case n.Type == html.TextNode:
			b.WriteString(n.Data)
		case n.Data == "style" || n.Data == "svg" || n.Data == "head":
			return
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
		switch n.Data {
		case "th", "td", "dt", "span", "b":
			b.WriteString(" ")
		case "p", "li", "h1", "h2", "h3", "h4", "tr", "dd", "caption", "div", "section":
			b.WriteString("\n")
		}
	}
	walk(root)
	var out []string
	for _, l := range strings.Split(b.String(), "\n") {
		if l = strings.Join(strings.Fields(l), " "); l != "" {
			out = append(out, l)
		}
	}
	return root, strings.Join(out, "\n") + "\n"
}

// all finds the elements that a test asks for.
func all(n *html.Node, is func(*html.Node) bool) (out []*html.Node) {
	if n.Type == html.ElementNode && is(n) {
		out = append(out, n)
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		out = append(out, all(c, is)...)
	}
	return out
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func TestEveryStepStandsOnceInBoth(t *testing.T) {
	p := pack(t, "clean", nil)
	plan := planOf(t, "clean")
	root, _ := page(t, markup(t, p))
	steps := all(root, func(n *html.Node) bool { return attr(n, "class") == "step" })
	require.Len(t, steps, len(plan.Steps))
	seen := map[string]bool{}
	for _, s := range steps {
		require.False(t, seen[attr(s, "id")], attr(s, "id"))
		seen[attr(s, "id")] = true
	}
	for i := range plan.Steps {
		require.True(t, seen[fmt.Sprintf("step-%d", i+1)])
	}
	numbers := map[string]int{}
	for _, s := range p.Sections {
		for _, b := range s.Blocks {
			if list, ok := b.(workpack.Steps); ok {
				for _, x := range list.Steps {
					numbers[x.ID]++
					require.Equal(t, plan.Steps[x.Number-1].ID, x.ID)
					require.Len(t, x.Cautions, len(plan.Steps[x.Number-1].Cautions), x.ID)
				}
			}
		}
	}
	require.Len(t, numbers, len(plan.Steps))
	text := ""
	for _, x := range readPDF(t, pdf(t, p)) {
		text += " " + x.all()
	}
	for i := range plan.Steps {
		require.Equal(t, 1, numbers[plan.Steps[i].ID])
		require.Contains(t, text, strings.Join(strings.Fields(plan.Steps[i].Text), " "))
	}
}

// TestGoldenPack holds the words of the pack of the demo against fixtures/golden/workpack; with UPDATE=1 it writes them.
func TestGoldenPack(t *testing.T) {
	p := pack(t, "clean", nil)
	_, got := page(t, markup(t, p))
	var b bytes.Buffer
	require.NoError(t, p.ToolsCSV(&b))
	require.NoError(t, p.MaterialsCSV(&b))
	got += strings.NewReplacer("\r\n", "\n", "\ufeff", "").Replace(b.String())
	// The revision of the rules changes with every rule; that it does has its own test.
	got = strings.ReplaceAll(got, p.RulesRevision, "RULES")
	got = regexp.MustCompile(`RULES, \d+ rules`).ReplaceAllString(got, "RULES, N rules")
	file := filepath.Join("../../fixtures/golden/workpack", "clean.txt")
	if os.Getenv("UPDATE") != "" {
		require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
		require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err, "write it with UPDATE=1 go test ./...")
	require.Equal(t, string(want), got, "%s differs; if it should, write it with UPDATE=1 go test ./... and read the difference", file)
}

func TestTheOrderOfThePack(t *testing.T) {
	var order []string
	for _, s := range pack(t, "clean", nil).Sections {
		order = append(order, s.ID)
	}
	require.Equal(t, sections, order)
}

func TestOpenCriticalFindingsAreNotIssued(t *testing.T) {
	r, data := read(t, "../../fixtures/demo/faults.yaml")
	_, err := workpack.New(workpack.Input{Review: r, Job: data, Plan: planOf(t, "faults"), Programme: datesOf(t, "faults", data)})
	var refusal *workpack.Refusal
	require.ErrorAs(t, err, &refusal)
	require.Equal(t, 4, refusal.Open)
	require.Zero(t, refusal.Unsure)
	require.Len(t, refusal.Findings, 4)
	for _, id := range []string{"electrical-rcd", "electrical-jets", "door-glass", "electrical-accessory-place"} {
		require.ErrorContains(t, err, "["+id+"]")
	}
	require.ErrorContains(t, err, "faults.yaml:110:12: door: The leaf is toughened or laminated safety glass [door-glass]")
	require.ErrorContains(t, err, "--with-critical")

	// What cannot be shown counts as open.
	text := strings.Replace(string(mustRead(t, "../../fixtures/demo/clean.yaml")), "    glass: toughened\n", "", 1)
	unsure := review(t, "job.yaml", []byte(text))
	require.Empty(t, unsure.Problems)
	in := workpack.Input{Review: unsure, Job: []byte(text), Plan: plan(t, "job.yaml", []byte(text)), Programme: datesOf(t, "job.yaml", []byte(text))}
	_, err = workpack.New(in)
	require.ErrorAs(t, err, &refusal)
	require.Positive(t, refusal.Unsure)
	require.Equal(t, refusal.Open, refusal.Unsure)
	require.ErrorContains(t, err, "cannot be shown")
	in.Despite = true
	p, err := workpack.New(in)
	require.NoError(t, err)
	require.Contains(t, p.Banner, "NOT CLEARED")
	require.Contains(t, p.Banner, "cannot be shown")

	// Where not every rule could be judged, nobody can say so; nor of a job that cannot be read.
	r.Counts[verdict.NotJudged]++
	_, err = workpack.New(workpack.Input{Review: r, Job: data, Plan: planOf(t, "faults"), Programme: datesOf(t, "faults", data), Despite: true})
	require.ErrorIs(t, err, workpack.ErrUnjudged)
	broken := review(t, "job.yaml", []byte("wetrule: 1\n"))
	_, err = workpack.New(workpack.Input{Review: broken, Plan: planOf(t, "clean"), Despite: true})
	require.ErrorContains(t, err, "reference")
}

func mustRead(t testing.TB, file string) []byte {
	t.Helper()
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	return data
}

func TestTheWarningIsText(t *testing.T) {
	p := pack(t, "faults", nil)
	root, text := page(t, markup(t, p))
	require.GreaterOrEqual(t, strings.Count(text, p.Banner), len(p.Sections), "on the screen, and before each part")
	style := all(root, func(n *html.Node) bool { return n.Data == "style" })
	require.Len(t, style, 1)
	require.Contains(t, style[0].FirstChild.Data, "@top-left{content:\"NOT CLEARED", "each printed page")
	require.NotContains(t, markup(t, pack(t, "clean", nil)), "NOT CLEARED")
}

func TestSameInputsSameBytes(t *testing.T) {
	one, two := pack(t, "faults", nil), pack(t, "faults", nil)
	require.Equal(t, markup(t, one), markup(t, two))
	require.Equal(t, pdf(t, one), pdf(t, two))
	require.Equal(t, pdf(t, one), pdf(t, one), "writing changes nothing")
	// A byte of the job file is another revision.
	r, data := read(t, "../../fixtures/demo/faults.yaml")
	other, err := workpack.New(workpack.Input{Review: r, Job: append(data, '\n'), Plan: planOf(t, "faults"), Programme: datesOf(t, "faults", data), Despite: true})
	require.NoError(t, err)
	require.NotEqual(t, one.Revision, other.Revision)
	require.Equal(t, one.RulesRevision, other.RulesRevision)
	r.Rules = r.Rules[1:]
	other, err = workpack.New(workpack.Input{Review: r, Job: data, Plan: planOf(t, "faults"), Programme: datesOf(t, "faults", data), Despite: true})
	require.NoError(t, err)
	require.NotEqual(t, one.RulesRevision, other.RulesRevision)
}

// evil is text that would like to be markup, style, a path or another direction of writing.
const evil = `</style><script>window.ran=1</script><img src=x onerror=window.ran=1>"'}*{display:none}\ {{.}} ../../etc`

// hostile is a job whose texts are hostile.
func hostile(t testing.TB) (*verdict.Review, []byte) {
	t.Helper()
	quoted := `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(evil) + `\u202e\u2028 =1+1"`
	text := string(mustRead(t, "../../fixtures/demo/faults.yaml"))
	for _, pair := range [][2]string{{"reference: demo-faults", "reference: " + quoted[:80] + `"`}, {"title: Steam room in the garden level", "title: " + quoted}, {"product: guarded outlet, stainless", "product: " + quoted}, {"equipment: shelf for oils", "equipment: " + quoted},
		{"material: mounting foam", "material: " + quoted}, {"when: reel", "note: " + quoted + ", when: reel"}, {"by: electrician}", "by: " + quoted + "}"}, {"materials:", "note: " + quoted + "\nmaterials:"}} {
		require.Contains(t, text, pair[0])
		text = strings.Replace(text, pair[0], pair[1], 1)
	}
	r := review(t, "job.yaml", []byte(text))
	require.Empty(t, r.Problems)
	return r, []byte(text)
}

func hostilePack(t testing.TB) *workpack.Pack {
	t.Helper()
	r, data := hostile(t)
	plan := handMade()
	for i := range plan.Steps {
		plan.Steps[i].Text = evil + "\u202e"
	}
	plan.Tools[0].Name, plan.Materials[0].Name = "=cmd|' /C calc'!A0", "@"+evil
	plan.Cautions[0].Text, plan.Points[0].Check = evil, evil
	p, err := workpack.New(workpack.Input{Review: r, Job: data, Plan: plan, Programme: datesOf(t, "job.yaml", data), Version: "test", Despite: true})
	require.NoError(t, err)
	return p
}

func TestTextOfAJobIsData(t *testing.T) {
	p := hostilePack(t)
	source := markup(t, p)
	root, text := page(t, source)
	require.Empty(t, all(root, func(n *html.Node) bool {
		return n.Data == "script" || n.Data == "img" || n.Data == "iframe" || n.Data == "object" || n.Data == "form" || n.Data == "base" || n.Data == "link"
	}))
	require.Len(t, all(root, func(n *html.Node) bool { return n.Data == "style" }), 1)
	require.Contains(t, text, "<img src=x onerror=window.ran=1>", "shown as it is")
	for _, r := range []string{"\u202e", "\x00", "\u2028"} {
		require.NotContains(t, source, r)
	}
	require.Contains(t, source, `\u202e`)
	for i, x := range readPDF(t, pdf(t, p)) {
		for _, s := range x.texts {
			require.NotContains(t, s, "\u202e", "page %d", i+1)
		}
	}
	dir := filepath.Join(t.TempDir(), "pack")
	require.NoError(t, p.Folder(dir))
	for name, data := range tree(t, dir) {
		require.NotContains(t, name, "..")
		if strings.HasSuffix(name, ".csv") {
			require.NotContains(t, data, "\n=")
			require.NotContains(t, data, "\n@")
		}
	}
	require.Contains(t, tree(t, dir)["tools.csv"], "'=cmd|' /C calc'!A0")
}

func TestPageIsMarkedUpForAllReaders(t *testing.T) {
	root, _ := page(t, markup(t, pack(t, "faults", nil)))
	require.Len(t, all(root, func(n *html.Node) bool { return n.Data == "h1" }), 1)
	level := 0
	for _, h := range all(root, func(n *html.Node) bool {
		return len(n.Data) == 2 && n.Data[0] == 'h' && n.Data[1] >= '1' && n.Data[1] <= '6'
	}) {
		now := int(h.Data[1] - '0')
		require.LessOrEqual(t, now, level+2, "no heading skips more than the title of a note")
		level = now
	}
	for _, x := range all(root, func(n *html.Node) bool { return n.Data == "th" }) {
		require.Contains(t, []string{"col", "row"}, attr(x, "scope"))
	}
	for _, x := range all(root, func(n *html.Node) bool { return n.Data == "table" }) {
		if len(all(x, func(n *html.Node) bool { return n.Data == "caption" })) == 0 {
			require.NotEmpty(t, attr(x.Parent, "aria-label"))
		}
	}
	ids := map[string]bool{}
	for _, x := range all(root, func(n *html.Node) bool { return attr(n, "id") != "" }) {
		require.False(t, ids[attr(x, "id")], attr(x, "id"))
		ids[attr(x, "id")] = true
	}
	for _, x := range all(root, func(n *html.Node) bool { return n.Data == "a" }) {
		require.True(t, ids[strings.TrimPrefix(attr(x, "href"), "#")], attr(x, "href"))
	}
	for _, key := range []string{"aria-labelledby"} {
		for _, x := range all(root, func(n *html.Node) bool { return attr(n, key) != "" }) {
			require.True(t, ids[attr(x, key)], attr(x, key))
		}
	}
}

func TestColumnsFitThePaper(t *testing.T) {
	for _, name := range []string{"clean", "faults"} {
		for _, s := range pack(t, name, nil).Sections {
			for _, b := range s.Blocks {
				if x, ok := b.(workpack.Table); ok {
					sum := 0.0
					for _, c := range x.Columns {
						sum += c.MM
					}
					require.LessOrEqual(t, sum, float64(workpack.Width), x.Caption)
					for _, row := range x.Rows {
						require.Len(t, row.Cells, len(x.Columns), x.Caption)
					}
				}
			}
		}
	}
}

// built makes the pack of a job that is given as text, in words.
func built(t testing.TB, job string) (*workpack.Pack, string) {
	t.Helper()
	r := review(t, "job.yaml", []byte(job))
	require.Empty(t, r.Problems)
	p, err := workpack.New(workpack.Input{Review: r, Job: []byte(job), Plan: plan(t, "job.yaml", []byte(job)), Programme: datesOf(t, "job.yaml", []byte(job)), Version: "test", Despite: true})
	require.NoError(t, err)
	_, words := page(t, markup(t, p))
	return p, words
}

func TestWhatIsConcededIsShownAndNotOpen(t *testing.T) {
	job := string(mustRead(t, "../../fixtures/demo/faults.yaml")) + `
leaves:
  - {rule: door-glass, item: door, leave: concession, reason: the leaf is exchanged before handover, by: [technical desk, site manager], issued: "2026-02-20", until: "2026-04-01", value: float}
`
	before, _ := built(t, string(mustRead(t, "../../fixtures/demo/faults.yaml")))
	p, words := built(t, job)
	require.Contains(t, before.Banner, "4 critical findings are open")
	require.Contains(t, p.Banner, "3 critical findings are open")
	require.Contains(t, words, "Conceded in writing")
	require.Contains(t, words, "(door-glass) of door, float: concession until 2026-04-01 by technical desk and site manager: the leaf is exchanged before handover")
}

// TestGapsAreNamed holds that what the job does not say is asked for and never counted as nothing.
func TestGapsAreNamed(t *testing.T) {
	job := string(mustRead(t, "../../fixtures/demo/clean.yaml"))
	for _, pair := range [][2]string{{"    groove_depth_mm: 16\n", ""}, {"    instructions_on_site: true\n    face: bench.seat\n", "    instructions_on_site: false\n    face: bench.seat\n"}} {
		require.Contains(t, job, pair[0])
		job = strings.Replace(job, pair[0], pair[1], 1)
	}
	p, words := built(t, job)
	require.Contains(t, words, "To fill in: groove_depth_mm of heat")
	require.Contains(t, words, "Flexible tile cement To fill in: groove_depth_mm of heat")
	require.Contains(t, words, "flexible tile cement (how much is not known)")
	require.Contains(t, words, "NOT ON SITE")
	var b bytes.Buffer
	require.NoError(t, p.MaterialsCSV(&b))
	require.Regexp(t, `(?m)^flexible tile cement,kg,,,,no,.*,groove_depth_mm of heat\r$`, b.String())
}

func TestHandoverSaysWhatWasMeasuredAndWhereNotToDrill(t *testing.T) {
	job := string(mustRead(t, "../../fixtures/demo/clean.yaml"))
	job = strings.Replace(job, "softener: true", "softener: true, regeneration_days: 12", 1)
	job = strings.Replace(job, "\ntools:\n", `
  - {record: film_thickness, face: left, readings_mm: [2.6, 2.5, 2.7], at: "2026-03-01T10:00:00+00:00", by: tiler}
  - {record: flood_test, depth_mm: 50, level_loss_mm: 1.8, evaporation_mm: 1.7, start: "2026-02-28T09:00:00+00:00", finish: "2026-03-01T09:00:00+00:00"}

tools:
`, 1)
	_, words := built(t, job)
	_, handover, ok := strings.Cut(words, "This part stays with the user")
	require.True(t, ok)
	for _, s := range []string{
		"Cable heat, on the reel 530 Ω; insulation 950 MΩ at 500 V 2026-02-27 11:00 electrician",
		"Dry film, wall left 3 readings; least 2.5 mm, mean 2.6 mm 2026-03-01 10:00 tiler",
		"Flood test 50 mm of water; fell 1.8 mm, control pan 1.7 mm 2026-02-28 09:00 to 2026-03-01 09:00",
		"Regeneration: every 12 days. The water has a hardness of 3.1 mmol/l.",
		"Heating cable heat lies in seat of bench, x 200 to 2000, y 60 to 420 mm. It carries mains voltage.",
		"Switch off at the distribution board: steam, heating, mains.",
		"Steam generator outside room",
		"opens outward so that nobody can be trapped",
	} {
		require.Contains(t, handover, s)
	}
	require.NotContains(t, handover, "generator generator")
}
