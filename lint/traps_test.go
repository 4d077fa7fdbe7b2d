package lint

import (
	"bytes"
	"context"
	"fmt"
	"math/rand"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/judge"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
)

// The hazards of judging YAML by Rego, each with a test of its own. Those of reading have more
// in package jobfile, those of the policy engine in package judge.

const plainRoom = `wetrule: 1
reference: t
stage: as_built
judged_on: 2026-01-01
room: {use: steam_room, walls: [{id: north, width_mm: 2400, height_mm: 2200}]}
`

func reviewText(t *testing.T, text string) *verdict.Review {
	t.Helper()
	r, err := core(t).Review(context.Background(), "job.yaml", []byte(text))
	require.NoError(t, err)
	return r
}

func outcomeOf(t *testing.T, r *verdict.Review, rule, subject string) string {
	t.Helper()
	for _, v := range r.Verdicts {
		if v.Rule.ID == rule && v.Subject.ID == subject {
			return v.Outcome.String()
		}
	}
	return verdict.NotApplicable.String()
}

// T1: a field that is missing makes a rule in Rego vanish.
func TestMissingFactIsUndetermined(t *testing.T) {
	r := reviewText(t, plainRoom+"items: [{id: s, kind: steam_outlet, face: north, x_mm: 100}]\n")
	require.Equal(t, "undetermined", outcomeOf(t, r, "steam-outlet-height", "s"))
	o := report.Options{FailAt: rulebook.Minor}
	require.Equal(t, report.StatusFindings, o.Status([]*verdict.Review{r}))
}

// T2: a lookup with a default is undefined when the object itself is missing.
// T4c: text is made in Go, since the engine's formatting of whole numbers is wrong.
func TestPoliciesOnlyCompare(t *testing.T) {
	file, text := policies.Engine()
	modules := []rulebook.Module{{File: file, Text: text}}
	for _, b := range core(t).Books {
		modules = append(modules, b.Modules...)
	}
	for _, m := range modules {
		for _, word := range []string{"object.get(", "sprintf(", "concat(", "format_int(", " * ", " / ", " + "} {
			for i, line := range strings.Split(m.Text, "\n") {
				if !strings.HasPrefix(strings.TrimSpace(line), "#") {
					require.NotContains(t, line, word, "%s:%d", m.File, i+1)
				}
			}
		}
	}
}

// T3: a misspelt measure compiles and never matches; compiled against the schema of the measures it is an error.
func TestMisspeltMeasureIsRefused(t *testing.T) {
	file, text := policies.Engine()
	err := judge.Check([]rulebook.Module{{File: file, Text: text}, {File: "own.rego", Text: "package wetrule.rules\n\nfindings contains [\"own\", \"x\", v] if {\n\tsome v in input.spotlight.depht_mm\n}\n"}})
	require.ErrorContains(t, err, "own.rego:4")
}

// T4: built-in errors are swallowed unless the engine is strict; see also package judge.
// T4b: text compares with numbers; the schema types every quantity.
func TestQuantityInQuotesIsRefused(t *testing.T) {
	r := reviewText(t, strings.Replace(plainRoom, "width_mm: 2400", `width_mm: "2400"`, 1))
	require.Len(t, r.Problems, 1)
	require.Equal(t, 5, r.Problems[0].Line)
	require.Contains(t, r.Problems[0].Message, "expected a number")
}

// T4d: indexing and early exit of the engine must not change a verdict.
func TestPlainEvaluationAgrees(t *testing.T) {
	l := core(t)
	file, text := policies.Engine()
	for _, name := range policies.Books() {
		layers, err := l.lay([]string{name})
		require.NoError(t, err)
		var modules []rulebook.Module
		for _, b := range layers.Books {
			modules = append(modules, b.Modules...)
		}
		engines := map[string]*judge.Engine{} // by edition
		type look struct {
			key   string
			w     worked
			plain *judge.Engine
		}
		var looks []look
		for key, list := range workedExamples(t) {
			if !strings.HasPrefix(key, name+" ") {
				continue
			}
			for i, w := range list {
				if underRace && i%4 != 0 {
					continue // the race detector asks for the same code once, not for every example
				}
				edition := layers.Edition(w.review.On)
				if engines[edition] == nil {
					engines[edition], err = judge.New(file, text, layers.At(edition), modules, judge.Options{Plain: true, Zones: rulebook.ZoneGeometry(rulebook.LayZones(layers.Books))})
					require.NoError(t, err)
				}
				looks = append(looks, look{key, w, engines[edition]})
			}
		}
		work := make(chan look)
		var wg sync.WaitGroup
		for range runtime.GOMAXPROCS(0) {
			wg.Go(func() {
				for x := range work {
					want := x.w.review
					got := &verdict.Review{File: x.w.file.Name, Root: x.w.file.Root, Stage: want.Stage, On: want.On}
					if err := x.plain.Judge(context.Background(), got, x.w.file.Job); !assert.NoError(t, err) || !assert.Equal(t, want.Counts, got.Counts, "%s: %s", x.key, x.w.Example) {
						continue
					}
					for i := range want.Verdicts {
						if want.Verdicts[i].Outcome != got.Verdicts[i].Outcome {
							t.Errorf("%s of %s is %s in an example of %s, and %s evaluated plainly", want.Verdicts[i].Rule.ID, want.Verdicts[i].Subject.ID, want.Verdicts[i].Outcome, x.key, got.Verdicts[i].Outcome)
						}
					}
				}
			})
		}
		for _, x := range looks {
			work <- x
		}
		close(work)
		wg.Wait()
	}
}

// T5, T6, T9: what YAML would guess at is refused with its place.
func TestYAMLHazardsAreRefused(t *testing.T) {
	for name, tc := range map[string]struct {
		old, new string
		line     int
		says     string
	}{
		"not a number":      {"width_mm: 2400", "width_mm: .nan", 5, "number"},
		"infinite":          {"width_mm: 2400", "width_mm: .inf", 5, "number"},
		"leading zero":      {"width_mm: 2400", "width_mm: 012", 5, "plain number"},
		"hexadecimal":       {"width_mm: 2400", "width_mm: 0x10", 5, "plain number"},
		"underscore":        {"width_mm: 2400", "width_mm: 2_400", 5, "plain number"},
		"second document":   {"stage: as_built", "stage: as_built\n---\nx: 1", 4, "document"},
		"duplicate key":     {"stage: as_built", "stage: as_built\nstage: site", 4, "already used at 3:1"},
		"anchor":            {"reference: t", "reference: &a t", 2, "anchor"},
		"number as a key":   {"reference: t", "1: t", 2, "key"},
		"capital true":      {"use: steam_room", "use: steam_room, hosed_down: TRUE", 5, "true"},
		"misspelt key":      {"width_mm: 2400", "widht_mm: 2400", 5, `did you mean "width_mm"`},
		"misspelt kind":     {"judged_on: 2026-01-01", "judged_on: 2026-01-01\nitems: [{id: a, kind: steam_outlett}]", 5, `did you mean "steam_outlet"`},
		"unit in the value": {"width_mm: 2400", "width_mm: 2400 mm", 5, "the unit is in the name"},
	} {
		t.Run(name, func(t *testing.T) {
			r := reviewText(t, strings.Replace(plainRoom, tc.old, tc.new, 1))
			require.NotEmpty(t, r.Problems)
			require.Equal(t, tc.line, r.Problems[0].Line, r.Problems.Error())
			require.Positive(t, r.Problems[0].Col)
			require.Contains(t, r.Problems.Error(), tc.says)
			require.Equal(t, report.StatusUnjudged, report.Options{}.Status([]*verdict.Review{r}))
		})
	}
}

// T6: an unquoted date stays a date as written.
func TestUnquotedDateIsKept(t *testing.T) {
	r := reviewText(t, plainRoom)
	require.Empty(t, r.Problems)
	require.Equal(t, "2026-01-01", r.On)
}

// T7: formats are asserted although the schema is of draft 2020-12.
func TestFormatsAreAsserted(t *testing.T) {
	r := reviewText(t, strings.Replace(plainRoom, "2026-01-01", "2026-13-01", 1))
	require.Contains(t, r.Problems.Error(), "job.yaml:4:12")
	r = reviewText(t, plainRoom+"tasks: [{task: tile, planned: {start: 2026-01-05 08:00}}]\n")
	require.Contains(t, r.Problems.Error(), "job.yaml:6:")
}

// T8: problems and findings share one map of positions, and point at the value itself.
func TestPlacesAreOfTheValue(t *testing.T) {
	r := reviewText(t, plainRoom+"items:\n  - {id: s, kind: steam_outlet, face: north, x_mm: 100, y_mm: 150}\n")
	for _, v := range r.Findings() {
		p := v.Place(r.Root)
		require.Positive(t, p.Line, v.Rule.ID)
		if v.Rule.ID == "steam-outlet-height" {
			require.Equal(t, verdict.Place{Pointer: "/items/0/y_mm", Line: 7, Col: 63, EndCol: 66}, p)
		}
	}
}

// T10: an empty file or one of the wrong type never passes.
func TestNothingToJudgeIsNoPass(t *testing.T) {
	for _, text := range []string{"", "\n", "# nothing\n", "[]", "{}", "just text", "3", "null", "- a\n- b\n", "wetrule: 1\n"} {
		r := reviewText(t, text)
		require.NotEmpty(t, r.Problems, "%q", text)
		require.Equal(t, report.StatusUnjudged, report.Options{}.Status([]*verdict.Review{r}), "%q", text)
	}
}

// demos are the jobs of the fixtures.
func demos(t testing.TB) []string {
	t.Helper()
	files, err := filepath.Glob("../fixtures/demo/*.yaml")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 2)
	return files
}

// TestSameInputsSameBytes keeps output independent of the order of files, the number of cores and the run.
func TestSameInputsSameBytes(t *testing.T) {
	files := demos(t)
	render := func(args []string) string {
		inputs, err := Collect(args, nil)
		require.NoError(t, err)
		l, err := New(Options{})
		require.NoError(t, err)
		b, err := l.ReviewAll(context.Background(), inputs, nil)
		require.NoError(t, err)
		var out bytes.Buffer
		for _, format := range report.Formats() {
			require.NoError(t, report.Write(&out, format, b.Reviews, report.Options{Version: "test", FailAt: rulebook.Minor}))
		}
		return out.String()
	}
	want := render(files)
	old := runtime.GOMAXPROCS(0)
	defer runtime.GOMAXPROCS(old)
	rng := rand.New(rand.NewSource(1))
	for run := range 20 {
		runtime.GOMAXPROCS(1 + run%2)
		args := append([]string{}, files...)
		rng.Shuffle(len(args), func(i, j int) { args[i], args[j] = args[j], args[i] })
		require.Equal(t, want, render(args), "run %d", run)
	}
}

// TestOrderOfItemsDoesNotMatter shuffles the items of a job: the verdicts stay.
func TestOrderOfItemsDoesNotMatter(t *testing.T) {
	l := core(t)
	data, err := os.ReadFile("../fixtures/demo/faults.yaml")
	require.NoError(t, err)
	root, err := jobfile.Read("faults.yaml", data)
	require.NoError(t, err)
	list := func() string {
		f, err := jobfile.FromNode("faults.yaml", root)
		require.NoError(t, err)
		r, err := l.ReviewFile(context.Background(), f)
		require.NoError(t, err)
		var lines []string
		for _, v := range r.Findings() {
			lines = append(lines, fmt.Sprint(v.Rule.ID, v.Subject.ID, v.Outcome, v.Value.Num))
		}
		// Places in the file stay with the items, so the order of the findings does too.
		return strings.Join(lines, "\n")
	}
	want := list()
	rng := rand.New(rand.NewSource(2))
	items := root.Get("items").Items()
	for range 5 {
		rng.Shuffle(len(items), func(i, j int) { items[i], items[j] = items[j], items[i] })
		require.Equal(t, want, list())
	}
}
