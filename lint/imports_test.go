package lint

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// layer orders the packages: a package imports only packages of lower layers.
// lint/calc packages import each other only where a calculator builds on another's basic quantities.
var layer = map[string]int{
	"lint/calc":            0,
	"lint/draw/font":       0,
	"lint/ical":            0,
	"lint/spare":           0,
	"policies":             0,
	"schema":               0,
	"lint/gantt":           1,
	"lint/jobfile":         1,
	"lint/jobfile/jobtest": 2,
	"lint/measure":         2,
	"lint/compare":         3,
	"lint/rulebook":        3,
	"lint/verdict":         4,
	"lint/draw":            5,
	"lint/judge":           5,
	"lint/methods":         5,
	"lint/programme":       6,
	"lint/report":          7,
	"lint/workpack":        8,
	"lint":                 9,
	"cmd/wetrule":          10,
}

func layerOf(pkg string) (int, bool) {
	for p := pkg; ; p = p[:strings.LastIndex(p, "/")] {
		if n, ok := layer[p]; ok {
			return n, true
		}
		if !strings.Contains(p, "/") {
			return 0, false
		}
	}
}

// TestImportsRunDownwards keeps the direction of imports, and the policy engine behind one package.
func TestImportsRunDownwards(t *testing.T) {
	checked := 0
	for _, top := range []string{"schema", "policies", "lint", "cmd"} {
		err := filepath.WalkDir(filepath.Join("..", top), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			pkg := strings.TrimPrefix(filepath.ToSlash(filepath.Dir(path)), "../")
			mine, ok := layerOf(pkg)
			require.True(t, ok, "%s has no layer", pkg)
			f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
			if err != nil {
				return err
			}
			for _, imp := range f.Imports {
				name, err := strconv.Unquote(imp.Path.Value)
				if err != nil {
					return err
				}
				if strings.HasPrefix(name, "github.com/open-policy-agent/") {
					require.Equal(t, "lint/judge", pkg, "%s imports the policy engine", path)
				}
				if !strings.HasPrefix(name, "wetrule/") {
					continue
				}
				name = strings.TrimPrefix(name, "wetrule/")
				theirs, ok := layerOf(name)
				require.True(t, ok, "%s has no layer", name)
				bothCalc := strings.HasPrefix(pkg, "lint/calc/") && strings.HasPrefix(name, "lint/calc/")
				require.True(t, theirs < mine || bothCalc, "%s imports %s, which lies no lower", path, name)
				checked++
			}
			return nil
		})
		require.NoError(t, err)
	}
	require.Greater(t, checked, 10)
}

// TestTopLevelIsAsAgreed keeps the top level of the tree.
func TestTopLevelIsAsAgreed(t *testing.T) {
	entries, err := filepath.Glob("../*")
	require.NoError(t, err)
	allowed := []string{"cmd", "fixtures", "lint", "policies", "schema", "go.mod", "go.sum", "README.md", "DEVELOPERS.md"}
	for _, e := range entries {
		if name := filepath.Base(e); !strings.HasPrefix(name, ".") {
			require.Contains(t, allowed, name)
		}
	}
}
