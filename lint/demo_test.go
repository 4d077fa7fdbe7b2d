package lint

import (
	"bytes"
	"context"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/schema"
)

func demo(t testing.TB, name string) (*verdict.Review, []byte) {
	t.Helper()
	data, err := os.ReadFile("../fixtures/demo/" + name)
	require.NoError(t, err)
	r, err := core(t).Review(context.Background(), "fixtures/demo/"+name, data)
	require.NoError(t, err)
	require.Empty(t, r.Problems)
	return r, data
}

func TestCleanDemoIsClean(t *testing.T) {
	r, _ := demo(t, "clean.yaml")
	require.Empty(t, r.Findings())
	require.Equal(t, report.StatusClean, report.Options{FailAt: rulebook.Observation}.Status([]*verdict.Review{r}))
}

// TestFaultyDemoHasItsFaultsAndNothingElse holds the findings against the comments of the file, line by line, both ways.
func TestFaultyDemoHasItsFaultsAndNothingElse(t *testing.T) {
	r, data := demo(t, "faults.yaml")
	want := map[string]bool{}
	for i, line := range strings.Split(string(data), "\n") {
		if _, rules, ok := strings.Cut(line, "# fault: "); ok {
			for _, rule := range strings.Split(rules, ", ") {
				want[fmt.Sprintf("%d %s", i+1, rule)] = true
			}
		}
	}
	got := map[string]bool{}
	for _, v := range r.Findings() {
		got[fmt.Sprintf("%d %s", v.Place(r.Root).Line, v.Rule.ID)] = true
	}
	require.Equal(t, sorted(want), sorted(got))
	require.GreaterOrEqual(t, len(want), 15)
	require.Equal(t, report.StatusFindings, report.Options{FailAt: rulebook.Minor}.Status([]*verdict.Review{r}))
}

func sorted(m map[string]bool) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}

// golden holds output against fixtures/golden; with UPDATE=1 it writes it.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("../fixtures/golden", name)
	if os.Getenv("UPDATE") != "" {
		require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
		require.NoError(t, os.WriteFile(file, got, 0o644))
		return
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err, "write it with UPDATE=1 go test ./...")
	require.Equal(t, string(want), string(got), "%s differs; if it should, write it with UPDATE=1 go test ./... and read the difference", file)
}

func TestGoldenReports(t *testing.T) {
	for _, name := range []string{"clean", "faults"} {
		r, _ := demo(t, name+".yaml")
		for _, format := range report.Formats() {
			if format == "html" {
				continue // package report holds its outline
			}
			var b bytes.Buffer
			require.NoError(t, report.Write(&b, format, []*verdict.Review{r}, report.Options{Version: "golden", FailAt: rulebook.Minor}))
			golden(t, name+"."+map[string]string{"text": "txt", "json": "json", "sarif": "sarif", "junit": "junit.xml", "lines": "jsonl"}[format], b.Bytes())
		}
	}
}

func TestGoldenLists(t *testing.T) {
	var b bytes.Buffer
	for _, r := range core(t).Rules() {
		fmt.Fprintf(&b, "%s\n    %s, from %s, %s.%s: %s\n    %s [%s]\n", r.ID, r.Severity, r.From, r.AppliesTo, r.Measure, r.AllowedText(), r.Source, r.Source.Basis)
	}
	golden(t, "rules.txt", b.Bytes())
	b.Reset()
	require.NoError(t, report.Measures(&b, "text"))
	golden(t, "measures.txt", b.Bytes())
	b.Reset()
	r, _ := demo(t, "clean.yaml")
	require.NoError(t, report.Measured(&b, "text", r))
	golden(t, "clean.measures.txt", b.Bytes())
}

// TestSchemaOfMeasuresIsCurrent keeps schema/measures.schema.json what the registry says.
func TestSchemaOfMeasuresIsCurrent(t *testing.T) {
	golden(t, "../../schema/measures.schema.json", measure.SchemaJSON())
}

// TestStarterJobIsInOrder keeps the starter valid and free of findings.
func TestStarterJobIsInOrder(t *testing.T) {
	r, err := core(t).Review(context.Background(), "starter.yaml", schema.Starter)
	require.NoError(t, err)
	require.Empty(t, r.Problems)
	for _, v := range r.Findings() {
		t.Errorf("%s of %s is %s: %s", v.Rule.ID, v.Subject.ID, v.Outcome, v.Rule.Def.Format(*v.Value))
	}
}

// TestEveryFieldOfTheJobIsExplained keeps title, description and example at every field of the schema.
func TestEveryFieldOfTheJobIsExplained(t *testing.T) {
	entries, err := schema.Files.ReadDir(".")
	require.NoError(t, err)
	for _, e := range entries {
		root, err := jobfile.Read(e.Name(), schema.Bytes(e.Name()))
		if e.Name() == "measures.schema.json" {
			continue // generated; no person writes it
		}
		require.NoError(t, err)
		n := 0
		var walk func(where string, s *jobfile.Node, field bool)
		walk = func(where string, s *jobfile.Node, field bool) {
			if s == nil || s.Kind != jobfile.Map {
				return
			}
			if field && s.Get("$ref") == nil {
				n++
				require.NotEmpty(t, s.Get("title").Value(), "%s%s has no title", e.Name(), where)
				require.NotEmpty(t, s.Get("description").Value(), "%s%s has no description", e.Name(), where)
				if s.Get("properties") == nil && s.Get("type").Value() != "object" && s.Get("const") == nil {
					require.NotNil(t, s.Get("examples"), "%s%s has no example", e.Name(), where)
				}
				if e.Name() == "job.schema.json" && s.Get("type").Value() == "number" {
					require.NotNil(t, s.Get("minimum"), "%s%s has no lower bound", e.Name(), where)
					require.NotNil(t, s.Get("maximum"), "%s%s has no upper bound", e.Name(), where)
				}
			}
			for _, m := range s.Members() {
				switch m.Key {
				case "properties", "$defs":
					for _, p := range m.Value.Members() {
						walk(where+"/"+m.Key+"/"+p.Key, p.Value, m.Key == "properties")
					}
				case "items":
					walk(where+"/items", m.Value, false)
				}
			}
		}
		walk("", root, false)
		require.Positive(t, n)
	}
}

// TestNothingIsJudgedByTheClock sees that the library never asks what time it is.
func TestNothingIsJudgedByTheClock(t *testing.T) {
	n := 0
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		n++
		if filepath.ToSlash(path) == "judge/bounds.go" {
			return nil // how long an evaluation lasts decides whether it is stopped and not judged, never what is judged
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(f, func(x ast.Node) bool {
			if sel, ok := x.(*ast.SelectorExpr); ok {
				if pkg, ok := sel.X.(*ast.Ident); ok && pkg.Name == "time" {
					require.NotContains(t, []string{"Now", "Since", "Until"}, sel.Sel.Name, path)
				}
			}
			return true
		})
		return nil
	})
	require.NoError(t, err)
	require.Greater(t, n, 20)
}
