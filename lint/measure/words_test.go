package measure

import (
	"fmt"
	"go/ast"
	"go/build"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func anyFigure(t *rapid.T) float64 {
	switch rapid.IntRange(0, 3).Draw(t, "sort of number") {
	case 0:
		return float64(rapid.Int64Range(-1e12, 1e12).Draw(t, "part")) / rapid.SampledFrom([]float64{1, 2, 8, 10, 100, 1e3, 2e3, 1e4, 2e4, 1e5}).Draw(t, "of")
	case 1:
		return rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 0.5, 1.5, 2.5, 0.125, 0.375, 0.0005, 0.00005, 2.675, 1.005, 9.9995, 999999999.5, 1e9, -1e9, 1e15, math.Inf(1), math.Inf(-1), math.NaN(), 5e-324, math.MaxFloat64, -0.0001}).Draw(t, "number")
	case 2: // beside the middle of two that can be written
		v := (float64(rapid.Int64Range(-1e7, 1e7).Draw(t, "n")) + 0.5) / math.Pow10(rapid.IntRange(0, 4).Draw(t, "decimals"))
		return rapid.SampledFrom([]float64{v, math.Nextafter(v, 1e300), math.Nextafter(v, -1e300)}).Draw(t, "beside")
	}
	return rapid.Float64().Draw(t, "any number")
}

// TestSaid holds what is said against fmt.
func TestSaid(t *testing.T) {
	type word string
	require.Equal(t, "100 % of a, b, 3, 2.50 and 7.125, %", said("%d %% of %s, %s, %s, %.2f and %s, %%", 100, "a", word("b"), figure(3), 2.5, figure(7.1251)))
	require.Equal(t, "", said(""))
	require.Equal(t, "√", said("√"))
	require.Equal(t, strings.Repeat("long ", 300), said("%s", strings.Repeat("long ", 300)))
	rapid.Check(t, func(t *rapid.T) {
		format, args := "", []any{}
		for range rapid.IntRange(0, 6).Draw(t, "parts") {
			switch rapid.IntRange(0, 5).Draw(t, "part") {
			case 0:
				format += rapid.SampledFrom([]string{"%%", "text", " · ", "√(%%)"}).Draw(t, "text")
			case 1:
				format, args = format+"%s", append(args, rapid.String().Draw(t, "string"))
			case 2:
				format, args = format+"%s", append(args, figure(anyFigure(t)))
			case 3:
				format, args = format+"%d", append(args, rapid.Int().Draw(t, "int"))
			default:
				format, args = format+"%."+strconv.Itoa(rapid.IntRange(0, 5).Draw(t, "decimals"))+"f", append(args, anyFigure(t))
			}
		}
		require.Equal(t, fmt.Sprintf(format, args...), said(format, args...))
		v := anyFigure(t)
		require.Equal(t, FormatNumber(v), string(appendFigure(nil, v)))
	})
	allocs := testing.AllocsPerRun(100, func() { sink = said("%s: %.3f m, %s mm and %d", "north", math.Pi, figure(250), 70000) })
	require.LessOrEqual(t, allocs, 1.0)
}

var sink string

// TestSaidIsGivenWhatItKnows looks at every call: its verbs, and the types of its arguments.
func TestSaidIsGivenWhatItKnows(t *testing.T) {
	pkg, err := build.ImportDir(".", 0)
	require.NoError(t, err)
	fset := token.NewFileSet()
	var files []*ast.File
	for _, name := range pkg.GoFiles {
		f, err := parser.ParseFile(fset, name, nil, 0)
		require.NoError(t, err)
		files = append(files, f)
	}
	info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}}
	conf := types.Config{Importer: importer.ForCompiler(fset, "source", nil)}
	_, err = conf.Check("wetrule/lint/measure", fset, files, info)
	require.NoError(t, err)
	verb := regexp.MustCompile(`%(\.?)(.)`)
	calls := 0
	for _, f := range files {
		ast.Inspect(f, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			if id, ok := call.Fun.(*ast.Ident); !ok || id.Name != "said" {
				return true
			}
			calls++
			at := fset.Position(call.Pos()).String()
			require.NotNil(t, info.Types[call.Args[0]].Value, "%s: the format is no constant", at)
			format := info.Types[call.Args[0]].Value.ExactString()
			rest := call.Args[1:]
			for _, v := range verb.FindAllString(format, -1) {
				if v == "%%" {
					continue
				}
				require.NotEmpty(t, rest, at)
				of := info.Types[rest[0]].Type
				rest = rest[1:]
				switch {
				case types.Identical(of, types.Typ[types.Float64]):
					require.Equal(t, "%.", v[:2], "%s: a number without decimals", at)
				case types.Identical(of, types.Typ[types.Int]), types.Identical(of, types.Typ[types.UntypedInt]):
					require.Equal(t, "%d", v, at)
				case strings.HasSuffix(of.String(), ".figure"):
					require.Equal(t, "%s", v, at)
				default:
					basic, ok := of.Underlying().(*types.Basic)
					require.True(t, ok && basic.Kind() == types.String && v == "%s", "%s: said does not know %s as %s", at, of, v)
					require.Zero(t, types.NewMethodSet(of).Len(), "%s: %s may have a way of its own to be written", at, of)
				}
			}
			require.Empty(t, rest, at)
			return true
		})
	}
	require.Greater(t, calls, 80)
}
