package lint

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
	"wetrule/lint/jobfile/jobtest"
	"wetrule/lint/methods"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/policies"
	"wetrule/schema"
)

func loadJob(t testing.TB, text string) *jobfile.File {
	t.Helper()
	f, err := jobfile.Load("job.yaml", []byte(text))
	require.NoError(t, err)
	return f
}

func demoPlan(t testing.TB) (*Planned, *jobfile.File) {
	t.Helper()
	data, err := os.ReadFile("../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	f, err := jobfile.Load("fixtures/demo/clean.yaml", data)
	require.NoError(t, err)
	p, err := core(t).Plan(f)
	require.NoError(t, err)
	return p, f
}

func planOf(t testing.TB, o Options, text string) *methods.Plan {
	t.Helper()
	l, err := New(o)
	require.NoError(t, err)
	p, err := l.Plan(loadJob(t, text))
	require.NoError(t, err)
	return p.Plan
}

// TestPlanOfTheDemoByHand holds quantities and times of the demo's plan against figures worked out by hand; the working stands in the fixture.
func TestPlanOfTheDemoByHand(t *testing.T) {
	data, err := os.ReadFile("../fixtures/working/methods.yaml")
	require.NoError(t, err)
	root, err := jobfile.Read("working", data)
	require.NoError(t, err)
	var f struct {
		Materials []struct {
			Material string  `json:"material"`
			Unit     string  `json:"unit"`
			Net      float64 `json:"net"`
			Exact    float64 `json:"exact"`
			Buy      float64 `json:"buy"`
			Working  string  `json:"working"`
		} `json:"materials"`
		Tasks []struct {
			Task    string  `json:"task"`
			By      string  `json:"by"`
			Minutes float64 `json:"minutes"`
			Working string  `json:"working"`
		} `json:"tasks"`
	}
	require.NoError(t, jobfile.Decode(root, &f))
	require.GreaterOrEqual(t, len(f.Materials), 20)
	p, _ := demoPlan(t)
	require.Empty(t, p.Plan.Missing)
	for _, x := range f.Materials {
		i := slices.IndexFunc(p.Plan.Materials, func(m methods.Material) bool { return m.Name == x.Material && m.Unit == x.Unit })
		require.GreaterOrEqual(t, i, 0, x.Material)
		m := p.Plan.Materials[i]
		require.True(t, m.Known, x.Material)
		// Measures are rounded to 0.001 before they are added up.
		require.InDelta(t, x.Net, m.Net, max(0.0005, x.Net*2e-4), "%s: %s", x.Material, x.Working)
		require.InDelta(t, x.Exact, m.Exact, max(0.0005, x.Exact*2e-4), "%s: %s", x.Material, x.Working)
		require.Equal(t, x.Buy, m.Buy, "%s: %s", x.Material, x.Working)
		require.GreaterOrEqual(t, m.Buy, m.Exact)
	}
	for _, x := range f.Tasks {
		i := slices.IndexFunc(p.Plan.Tasks, func(k methods.Task) bool { return k.Name == x.Task && k.By == x.By })
		require.GreaterOrEqual(t, i, 0, x.Task)
		require.InDelta(t, x.Minutes, p.Plan.Tasks[i].Minutes, 0.1, "%s: %s", x.Task, x.Working)
	}
}

// TestGoldenPlan holds the plan of the demo and the list of methods; with UPDATE=1 it writes them.
func TestGoldenPlan(t *testing.T) {
	p, f := demoPlan(t)
	for format, name := range map[string]string{"text": "clean.methods.txt", "json": "clean.methods.json"} {
		var b bytes.Buffer
		require.NoError(t, report.Plan(&b, format, report.PlanHead{File: f.Name, Reference: f.Job.Reference, Title: f.Job.Title, On: p.On, Books: p.Books}, p.Plan))
		golden(t, name, b.Bytes())
	}
	set, err := core(t).Methods()
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, report.MethodList(&b, "text", set))
	golden(t, "methods.txt", b.Bytes())
}

func TestPlanIsTheSameEveryTime(t *testing.T) {
	var first []byte
	for range 5 {
		p, f := demoPlan(t)
		var b bytes.Buffer
		require.NoError(t, report.Plan(&b, "json", report.PlanHead{File: f.Name, Books: p.Books}, p.Plan))
		if first == nil {
			first = b.Bytes()
		}
		require.Equal(t, string(first), b.String())
	}
}

// TestPlanStandsTogether holds the lists of the plan of the demo against one another.
func TestPlanStandsTogether(t *testing.T) {
	p, _ := demoPlan(t)
	plan := p.Plan
	order, err := methods.Order(p.Methods)
	require.NoError(t, err)
	last, seen := 0, map[string]bool{}
	minutes, tasks := 0.0, 0.0
	for i, s := range plan.Steps {
		at := slices.Index(order, s.Task)
		require.GreaterOrEqual(t, at, last, "step %d, %s, comes too late", i, s.ID)
		last = at
		require.False(t, seen[s.ID], s.ID)
		seen[s.ID] = true
		require.True(t, s.Known, "%s lacks %v", s.ID, s.Needs)
		require.NotContains(t, s.Text, "{")
		require.NotContains(t, s.Text, "[")
		require.NotEmpty(t, s.ByTitle)
		minutes += s.Minutes
		for _, k := range s.Tools {
			require.Contains(t, plan.Tools[k].Steps, i)
		}
		for _, u := range s.Materials {
			require.True(t, slices.ContainsFunc(plan.Materials[u.Material].Parts, func(q methods.Part) bool { return q.Step == i && q.Exact == u.Exact }), s.ID)
		}
		for _, c := range s.Cautions {
			require.True(t, slices.ContainsFunc(plan.Cautions, func(x methods.Caution) bool { return x.ID == c && slices.Contains(x.Steps, i) }), c)
		}
	}
	for _, k := range plan.Tasks {
		tasks += k.Minutes
		require.True(t, k.Known)
	}
	require.InDelta(t, minutes, tasks, 1e-3)
	// The sequence is kept: every step of what must come first stands before every step of what follows.
	checked := 0
	for _, r := range plan.Sequence {
		for i, a := range plan.Steps {
			for j, b := range plan.Steps {
				if finishes(a.Task, r.First) && finishes(b.Task, r.Then) {
					checked++
					require.Less(t, i, j, "%s: %s before %s", r.ID, a.ID, b.ID)
				}
			}
		}
	}
	require.Greater(t, checked, 100)
	for _, m := range plan.Materials {
		sum := 0.0
		for _, q := range m.Parts {
			sum += q.Exact
		}
		require.InDelta(t, sum, m.Exact, 1e-5, m.Name)
		require.NotEmpty(t, m.Source, m.Name)
	}
	reel := slices.IndexFunc(plan.Records, func(r methods.RecordDue) bool { return r.When == "reel" })
	require.Equal(t, []int{0}, plan.Records[reel].Taken, "the reading on the reel has been taken")
	laid := slices.IndexFunc(plan.Records, func(r methods.RecordDue) bool { return r.When == "laid" })
	require.Empty(t, plan.Records[laid].Taken)
}

func finishes(task, word string) bool {
	return task == word || word == "finish" && (task == "tile" || task == "plaster")
}

// TestToolsOfTheDemo: the hole saws of 45 mm reach do not get through panels of 50 mm, but do through holes of 35 mm for inserts.
func TestToolsOfTheDemo(t *testing.T) {
	p, f := demoPlan(t)
	sizes := map[string][]float64{}
	for _, x := range p.Plan.Tools {
		if x.Size > 0 {
			sizes[x.Name] = append(sizes[x.Name], x.Size)
			if x.Listed != nil {
				require.True(t, *x.Listed, "%s %v", x.Name, x.Size)
			}
		}
	}
	require.Equal(t, f.Job.Tools.HoleSawsMM, sizes["hole saw"])
	require.Equal(t, f.Job.Tools.BitsMM, sizes["drill bit"])
	require.Equal(t, f.Job.Tools.GrooveCuttersMM, sizes["groove cutter"])
	hand := p.Plan.Tools[slices.IndexFunc(p.Plan.Tools, func(x methods.Tool) bool { return x.Name == "hand saw" })]
	var with []string
	for _, i := range hand.Steps {
		with = append(with, p.Plan.Steps[i].ID)
	}
	require.Contains(t, with, "steam-outlet.saw-opening:steam_1")
	require.NotContains(t, with, "fixing.holes:shelf")

	data, err := os.ReadFile("../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	long := strings.Replace(string(data), "saw_reach_mm: 45", "saw_reach_mm: 50", 1)
	plan := planOf(t, Options{}, long)
	for _, x := range plan.Tools {
		if x.Name == "hand saw" {
			for _, i := range x.Steps {
				require.NotContains(t, plan.Steps[i].ID, "saw-opening", "a reach of 50 mm is enough for 50 mm")
			}
		}
	}
}

// TestMethodsReachEverything: every kind of item has a method, and every task of the job format has a step or says why not.
func TestMethodsReachEverything(t *testing.T) {
	set, err := core(t).Methods()
	require.NoError(t, err)
	reached := map[string]bool{}
	kinds := map[string]bool{}
	for _, m := range set.Methods {
		kinds[m.AppliesTo] = true
		for _, s := range m.Steps {
			reached[s.Task] = true
			require.Contains(t, []string{"practice", "memory", "read", "secondary", "computed"}, s.Source.Basis)
			require.NotNil(t, s.Source.Source, "%s.%s", m.ID, s.ID)
			if s.Work != nil {
				require.True(t, s.Source.Basis == "memory" || strings.Contains(s.Source.Note, "memory"), "%s.%s does not say that its time is from memory", m.ID, s.ID)
			}
		}
	}
	for _, k := range rulebook.MethodKinds() {
		require.True(t, kinds[k], "no method is for %s", k)
	}
	for _, u := range set.NotTasks {
		require.False(t, reached[u.Task], "%s has steps", u.Task)
		reached[u.Task] = true
	}
	for _, w := range rulebook.Words().Tasks {
		require.True(t, reached[w], "no step belongs to the task %s", w)
	}
}

// TestEveryRegionHasItsMethods: methods and their amendments go together in every country.
func TestEveryRegionHasItsMethods(t *testing.T) {
	for _, name := range policies.Books() {
		l, err := New(Options{Rulebooks: []string{name}})
		require.NoError(t, err)
		set, err := l.Methods()
		require.NoError(t, err, name)
		_, err = methods.Order(set)
		require.NoError(t, err, name)
		if name == "regions/au" {
			require.Len(t, set.Changes, 1)
			require.Contains(t, set.Changes[0].String(), "one step added by regions/au to the method mesh-and-cement")
		}
	}
	p := planOf(t, Options{}, strings.Replace(demoText(t), "country: GB", "country: AU", 1))
	i := slices.IndexFunc(p.Steps, func(s methods.Step) bool { return s.ID == "mesh-and-cement.au-look-before-coat:left" })
	j := slices.IndexFunc(p.Steps, func(s methods.Step) bool { return s.ID == "waterproofing.coats:left" })
	require.GreaterOrEqual(t, i, 0)
	require.Less(t, i, j)
	require.Equal(t, "H", p.Steps[i].Point.Letter)
}

func demoText(t testing.TB) string {
	t.Helper()
	data, err := os.ReadFile("../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	return string(data)
}

// TestPlanWithoutFacts: what the job does not say is asked for, and nothing that depends on it is taken for known.
func TestPlanWithoutFacts(t *testing.T) {
	all := func(p *methods.Plan) (fields []string) {
		for _, x := range p.Missing {
			fields = append(fields, x.Field)
		}
		return fields
	}
	step := func(p *methods.Plan, id string) methods.Step {
		i := slices.IndexFunc(p.Steps, func(s methods.Step) bool { return s.ID == id })
		require.GreaterOrEqual(t, i, 0, id)
		return p.Steps[i]
	}
	material := func(p *methods.Plan, name string) methods.Material {
		i := slices.IndexFunc(p.Materials, func(m methods.Material) bool { return m.Name == name })
		require.GreaterOrEqual(t, i, 0, name)
		return p.Materials[i]
	}
	for _, c := range []struct{ cut, field, step, material string }{
		{"groove_width_mm: 20", "heat.groove_width_mm", "heating-cable.cut-grooves:heat", ""},
		{"groove_depth_mm: 16", "heat.groove_depth_mm", "heating-cable.embed:heat", "flexible tile cement"},
		{"joint_width_mm: 3, ", "/joints/joint_width_mm", "tiling.joint:left", "epoxy grout"},
		{"saw_reach_mm: 45", "/tools/saw_reach_mm", "steam-outlet.saw-opening:steam_1", ""},
		{"run_m: 2.8, ", "steam_1.tube.run_m", "steam-outlet.lay-tube:steam_1", "copper tube 22 mm × 1 mm"},
		{"perimeter: sealant, ", "/joints/perimeter", "sealing.seal:left", "backer rod"},
		{"family: cement_slurry, ", "/build_up/waterproofing/family", "waterproofing.coats:left", "cement slurry waterproofing"},
		{"points: [[400, 500], [800, 850], [1400, 450], [1800, 900]], ", "stars.points", "fibre-lights.drill:stars", ""},
	} {
		text := demoText(t)
		require.Contains(t, text, c.cut)
		p := planOf(t, Options{}, strings.Replace(text, c.cut, "", 1))
		require.Contains(t, all(p), c.field, c.cut)
		s := step(p, c.step)
		require.False(t, s.Known, c.step)
		require.Contains(t, s.Needs, c.field)
		if c.material != "" {
			m := material(p, c.material)
			require.False(t, m.Known, c.material)
			require.Contains(t, m.Needs, c.field)
			require.True(t, slices.ContainsFunc(m.Parts, func(q methods.Part) bool { return !q.Known && q.Exact == 0 }))
		}
		var b bytes.Buffer
		require.NoError(t, report.Plan(&b, "text", report.PlanHead{}, p))
		require.Contains(t, b.String(), "To fill in")
		require.Contains(t, b.String(), c.field)
	}
	// A bare room: whether faces are meshed, waterproofed and tiled is not known, so the steps are there, in doubt, and nothing is bought.
	p := planOf(t, Options{}, plainRoom)
	s := step(p, "waterproofing.coats:north")
	require.True(t, s.Unsure)
	require.False(t, s.Known)
	require.NotEmpty(t, s.Needs)
	for _, m := range p.Materials {
		if !m.Known {
			require.NotEmpty(t, m.Needs, m.Name)
		}
	}
	for _, k := range p.Tasks {
		if k.Name == "waterproof" || k.Name == "tile" {
			require.False(t, k.Known)
		}
	}
	for _, x := range p.Steps {
		require.True(t, x.Known || len(x.Needs) > 0, "%s is not known and does not say why", x.ID)
	}
}

const house = `methods:
  - id: house-check
    title: The firm's own look round
    applies_to: job
    steps:
      - {id: look, task: first_steam, do: Look round., by: apprentice, work: {min: 5}, source: {id: house, basis: practice}}
trades: [{id: apprentice, title: apprentice}]
method_amendments:
  - {method: fixing, step: load-test, change: off, reason: Our fixings are tested at the works.}
  - method: steam-outlet
    step: collar
    change: replace
    reason: We use collars with a clamp.
    source: {id: house, clause: page 3, basis: read}
    steps:
      - {id: collar, task: fit_collars, do: "Clamp the collar of {id} over {insulated_od_mm}.", by: tiler, materials: [{material: clamped collar, unit: pieces, amount: 1}], work: {min: 10}, source: {id: house, basis: read}}
  - method: flood-test
    step: stand
    change: add
    reason: We want a witness.
    steps:
      - {id: house-witness, task: flood_test, do: Let the client see the level., by: apprentice, work: {min: 5}, source: {id: house, basis: practice}}
`

// methodBook writes a firm's rulebook with methods and returns its folder.
func methodBook(t *testing.T, methods string) string {
	t.Helper()
	dir := book(t, "house", "firm", "rules: []\n")
	require.NoError(t, os.Mkdir(filepath.Join(dir, "methods"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "methods", "a.yaml"), []byte("subject: house\n"+methods), 0o600))
	return dir
}

func TestFirmAmendsMethods(t *testing.T) {
	dir := methodBook(t, house)
	p := planOf(t, Options{Rulebooks: []string{dir}}, demoText(t))
	ids := map[string]int{}
	for i, s := range p.Steps {
		ids[s.ID] = i
	}
	require.NotContains(t, ids, "fixing.load-test:shelf")
	i, ok := ids["steam-outlet.collar:steam_1"]
	require.True(t, ok)
	require.Equal(t, "Clamp the collar of steam_1 over 60 mm.", p.Steps[i].Text)
	require.Len(t, p.Steps[i].Changes, 1)
	require.Contains(t, p.Steps[i].Changes[0].String(), "is replaced by house, before: Bond the collar to the insulation")
	require.Equal(t, ids["flood-test.stand"]+1, ids["flood-test.house-witness"])
	require.Contains(t, ids, "house-check.look")
	require.Len(t, p.Changes, 3)
	var b bytes.Buffer
	require.NoError(t, report.Plan(&b, "text", report.PlanHead{}, p))
	require.Contains(t, strings.Join(strings.Fields(b.String()), " "), "the step load-test of the method fixing is left out by house; Our fixings are tested at the works.")

	check, err := CheckRulebook(t.Context(), dir)
	require.NoError(t, err)
	require.Empty(t, check.Problems)
	require.Equal(t, 3, check.Steps)
	require.Empty(t, check.Notes, "the source is cited by steps")

	// An amendment that is not in force yet changes nothing.
	later := methodBook(t, "method_amendments: [{method: fixing, change: off, reason: From next year., in_force: {from: '2027-01-01'}}]\n")
	require.Empty(t, planOf(t, Options{Rulebooks: []string{later}}, demoText(t)).Changes)
	require.Len(t, planOf(t, Options{Rulebooks: []string{later}, On: "2027-01-01"}, demoText(t)).Changes, 1)
}

// TestFaultsOfMethodsAreTold: each slip of an author is found with its place and the nearest word, by the check and by the plan, and
// a review of a job does not read methods at all.
func TestFaultsOfMethodsAreTold(t *testing.T) {
	step := func(s string) string {
		return "methods: [{id: m, title: T, applies_to: heating_cable, steps: [{id: s, task: cut_grooves, do: Do., by: fitter, work: {min: 5}, source: {id: house, basis: practice}" + s + "}]}]\n"
	}
	for _, c := range []struct{ name, text, want string }{
		{"placeholder", strings.Replace(step(""), "do: Do.", "do: 'Cut {groove_widht_mm}.'", 1), `heating_cable has no measure "groove_widht_mm"; did you mean "groove_width_mm"?`},
		{"brace", strings.Replace(step(""), "do: Do.", "do: 'Cut {groove_width_mm.'", 1), "a brace has no partner"},
		{"task", strings.Replace(step(""), "cut_grooves", "cut_groves", 1), `unknown task "cut_groves"; did you mean "cut_grooves"?`},
		{"trade", strings.Replace(step(""), "fitter", "filter", 1), `unknown trade "filter"; did you mean "fitter"?`},
		{"caution", step(", cautions: [dsut]"), `unknown caution "dsut"; did you mean "dust"?`},
		{"record", step(", record: {record: cable_readign, what: W.}"), `unknown record "cable_readign"; did you mean "cable_reading"?`},
		{"reading", step(", record: {record: cable_reading, when: lade, what: W.}"), `did you mean "laid"?`},
		{"signature", step(", record: {record: signature, what: W.}"), "a signature says what it is for"},
		{"no work", strings.Replace(step(""), "work: {min: 5}, ", "", 1), "work"},
		{"unit", step(", materials: [{material: M, unit: gallons, amount: 1}]"), "unit"},
		{"no quantity", step(", materials: [{material: M, unit: kg}]"), "the material has no quantity"},
		{"text as quantity", step(", stands: {per: [{measure: face_kind, h: 1}]}"), "face_kind is text and gives no quantity"},
		{"size without unit", step(", tools: [{tool: T, size: cable_clips}]"), "cable_clips has no unit and is no size"},
		{"condition", step(", when: [{measure: surplus_place, is: [in_grove]}]"), `surplus_place is never "in_grove"; did you mean "in_groove"?`},
		{"kind", strings.Replace(step(""), "heating_cable", "heating_cabel", 1), `not for "heating_cabel"; did you mean "heating_cable"?`},
		{"kind without methods", strings.Replace(step(""), "heating_cable", "room", 1), `a method is for a kind of item, circuit, face or job, not for "room"`},
		{"source", strings.Replace(step(""), "id: house, basis", "id: hose, basis", 1), `unknown source "hose"; did you mean "house"?`},
		{"twice", "methods: [{id: fixing, title: T, applies_to: fixing, steps: [{id: s, task: fit, do: Do., by: fitter, work: {min: 5}, source: {id: house, basis: practice}}]}]\n", `method "fixing" is in the rulebook core already`},
		{"method", "method_amendments: [{method: fixign, change: off, reason: R.}]\n", `no layer below house has the method "fixign"; did you mean "fixing"?`},
		{"step", "method_amendments: [{method: fixing, step: bnod, change: off, reason: R.}]\n", `the method fixing has no step "bnod"; did you mean "bond"?`},
		{"nothing to add", "method_amendments: [{method: fixing, change: add, reason: R.}]\n", "to add give the steps"},
		{"two of one name", "method_amendments: [{method: fixing, change: add, reason: R., steps: [{id: bond, task: fit, do: Do., by: fitter, work: {min: 5}, source: {id: house, basis: practice}}]}]\n", `the method fixing has two steps "bond" then`},
		{"placeholder of an added step", "method_amendments: [{method: fixing, change: add, reason: R., steps: [{id: new, task: fit, do: '{lod_kg}', by: fitter, work: {min: 5}, source: {id: house, basis: practice}}]}]\n", `fixing has no measure "lod_kg"; did you mean "load_kg"?`},
		{"link", "links: [{from: tile, to: tlie, sort: FS, why: W., source: {id: house, basis: practice}}]\n", `unknown task "tlie"; did you mean "tile"?`},
		{"ring", "links: [{from: first_steam, to: assemble_panels, sort: FS, why: W., source: {id: house, basis: practice}}]\n", "the order of work runs in a ring: "},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := methodBook(t, c.text)
			check, err := CheckRulebook(t.Context(), dir)
			require.NoError(t, err)
			require.NotEmpty(t, check.Problems)
			require.Contains(t, check.Problems.Error(), c.want)
			l, err := New(Options{Rulebooks: []string{dir}})
			require.NoError(t, err, "rules do not stand on methods")
			_, err = l.Plan(loadJob(t, demoText(t)))
			require.ErrorContains(t, err, c.want)
			reviewWith(t, Options{Rulebooks: []string{dir}}, plainRoom)
		})
	}
}

// TestPlanOfHostileText: the texts of a job come into the plan as data.
func TestPlanOfHostileText(t *testing.T) {
	text := strings.Replace(demoText(t), "equipment: shelf for oils", `equipment: "{load_kg} \u202e<script> ${x} \r\n1. drill"`, 1)
	p := planOf(t, Options{}, text)
	for _, format := range []string{"text", "json"} {
		var b bytes.Buffer
		require.NoError(t, report.Plan(&b, format, report.PlanHead{Title: "\x1b[2J"}, p))
		require.Contains(t, b.String(), "{load_kg}", "a placeholder in a job's text is not filled in")
		require.NotContains(t, b.String(), "\x1b")
		require.NotContains(t, b.String(), "\u202e")
		require.NotContains(t, b.String(), "\r")
	}
}

// TestSealedRulebookKeepsItsMethods: a sealed rulebook amends the work as its folder does.
func TestSealedRulebookKeepsItsMethods(t *testing.T) {
	dir := methodBook(t, house)
	data, _, leftOut, err := SealRulebook(dir, SealOptions{})
	require.NoError(t, err)
	require.Empty(t, leftOut)
	file := filepath.Join(t.TempDir(), "house.tar.gz")
	require.NoError(t, os.WriteFile(file, data, 0o600))
	want, got := planOf(t, Options{Rulebooks: []string{dir}}, demoText(t)), planOf(t, Options{Rulebooks: []string{file}}, demoText(t))
	require.Len(t, got.Changes, 3)
	require.Equal(t, len(want.Steps), len(got.Steps))
	for i := range want.Steps {
		require.Equal(t, want.Steps[i].Text, got.Steps[i].Text)
	}
}

// TestPlanOfOddJobs: whatever a job says, its plan stands: no figure below nought or without end, nothing in doubt without the fields to fill in, and no order
// of work broken.
func TestPlanOfOddJobs(t *testing.T) {
	base := loadJob(t, demoText(t)).Root
	l := core(t)
	set, err := l.Methods()
	require.NoError(t, err)
	order, err := methods.Order(set)
	require.NoError(t, err)
	known := 0
	rapid.Check(t, func(t *rapid.T) {
		f, err := jobtest.Change(base, rapid.SliceOfN(rapid.Byte(), 4, 80).Draw(t, "changes"))
		if err != nil {
			return
		}
		p, err := l.Plan(f)
		if err != nil {
			require.ErrorAs(t, err, new(jobfile.Problems)) // it names rulebooks that there are not
			return
		}
		plan := p.Plan
		fine := func(v float64) bool { return v >= 0 && !math.IsInf(v, 0) && !math.IsNaN(v) }
		last := 0
		for i, s := range plan.Steps {
			at := slices.Index(order, s.Task)
			require.GreaterOrEqual(t, at, last, s.ID)
			last = at
			require.True(t, fine(s.Minutes) && fine(s.StandsH), s.ID)
			require.True(t, s.Known || len(s.Needs) > 0, "%s is not known and does not say why", s.ID)
			require.True(t, !s.Known || s.MinutesKnown && s.StandsKnown && !s.Unsure, s.ID)
			require.False(t, s.Known && strings.Contains(s.Text, "?]"), s.Text)
			if s.Point != nil {
				require.Equal(t, i, s.Point.Step)
			}
			if s.Known {
				known++
			}
		}
		for _, m := range plan.Materials {
			require.True(t, fine(m.Net) && fine(m.Exact) && fine(m.Buy), m.Name)
			require.GreaterOrEqual(t, m.Buy+1e-6, m.Exact, m.Name)
			require.GreaterOrEqual(t, m.Exact, m.Net, m.Name)
			require.Equal(t, m.Known, len(m.Needs) == 0, "%s", m.Name)
		}
		for _, x := range plan.Tools {
			require.True(t, fine(x.Size) && (x.Known || len(x.Needs) > 0), x.Name)
			require.NotEmpty(t, x.Steps)
		}
		for _, format := range []string{"text", "json"} {
			var b bytes.Buffer
			require.NoError(t, report.Plan(&b, format, report.PlanHead{File: f.Name, Title: f.Job.Title, Reference: f.Job.Reference, Books: p.Books}, plan))
			for _, bad := range jobtest.Hostile {
				if strings.ContainsAny(bad, "\x1b\u202e\u2028") {
					require.NotContains(t, b.String(), bad)
				}
			}
		}
	})
	require.Greater(t, known, 1000)
}

// TestPlanKeepsItsSchema holds JSON of plans, of whole and of bare jobs, against schema/plan.schema.json.
func TestPlanKeepsItsSchema(t *testing.T) {
	s, err := rulebook.Schema("plan.schema.json")
	require.NoError(t, err)
	for _, text := range []string{demoText(t), plainRoom, string(schema.Starter)} {
		f := loadJob(t, text)
		p, err := core(t).Plan(f)
		require.NoError(t, err)
		var b bytes.Buffer
		require.NoError(t, report.Plan(&b, "json", report.PlanHead{File: f.Name, Reference: f.Job.Reference, Title: f.Job.Title, On: p.On, Books: p.Books}, p.Plan))
		node, err := jobfile.Read("plan.json", b.Bytes())
		require.NoError(t, err)
		require.NoError(t, s.Validate("plan.json", node))
	}
}
