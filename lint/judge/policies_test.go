package judge

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/rulebook"
	"wetrule/policies"
)

// books opens every rulebook that comes with wetrule.
func books(t testing.TB) (out []*rulebook.Rulebook) {
	t.Helper()
	for _, name := range policies.Books() {
		fsys, ok := policies.Book(name)
		require.True(t, ok)
		b, err := rulebook.Open(fsys, "policies/"+name)
		require.NoError(t, err)
		out = append(out, b)
	}
	return out
}

func engineTests() rulebook.Module {
	file, text := policies.EngineTests()
	return rulebook.Module{File: file, Text: text}
}

// allModules lists all Rego that comes with wetrule; tests apart.
func allModules(t testing.TB) (modules, tests []rulebook.Module) {
	t.Helper()
	modules = []rulebook.Module{engineModule()}
	tests = []rulebook.Module{engineTests()}
	for _, b := range books(t) {
		modules = append(modules, b.Modules...)
		tests = append(tests, b.Tests...)
	}
	return modules, tests
}

func TestPoliciesCompileAgainstTheMeasures(t *testing.T) {
	modules, _ := allModules(t)
	require.NoError(t, Check(modules))
}

func TestPoliciesAreFormatted(t *testing.T) {
	modules, tests := allModules(t)
	require.Empty(t, Unformatted(append(modules, tests...)))
	m := engineModule()
	m.Text = strings.Replace(m.Text, "\tsome c in list\n", "  some c in list\n", 1)
	ps := Unformatted([]rulebook.Module{m})
	require.Len(t, ps, 1)
	require.Equal(t, "  some c in list", strings.Split(m.Text, "\n")[ps[0].Line-1])
}

// TestPolicyTests runs the Rego tests and demands that they cover every line.
func TestPolicyTests(t *testing.T) {
	modules, tests := allModules(t)
	got, err := Test(context.Background(), nil, modules, tests)
	require.NoError(t, err)
	require.Empty(t, got.Problems)
	require.Greater(t, got.Tests, 10, "hardly any Rego test was run")
	// A line that no test reaches, and a test that fails, are told.
	gap := rulebook.Module{File: "gap.rego", Text: "package wetrule.gap\n\nreached if 1 == 1\n\nunreached if {\n\t2 == 3\n\t1 == 1\n}\n"}
	test := rulebook.Module{File: "gap_test.rego", Text: "package wetrule.gap_test\n\nimport data.wetrule.gap\n\ntest_reached if gap.reached\n\ntest_wrong if not gap.reached\n"}
	got, err = Test(context.Background(), nil, []rulebook.Module{gap}, []rulebook.Module{test})
	require.NoError(t, err)
	require.Equal(t, 2, got.Tests)
	require.Contains(t, got.Problems.Error(), "gap.rego:5:1: no Rego test covers")
	require.Contains(t, got.Problems.Error(), "gap_test.rego:7:1: the Rego test test_wrong fails")
	got, err = Test(context.Background(), nil, []rulebook.Module{gap}, nil)
	require.NoError(t, err)
	require.Contains(t, got.Problems.Error(), "gap.rego:1:1: the Rego has no tests")
}

// TestBuiltInsAreAllowListed states exactly what policies may call.
func TestBuiltInsAreAllowListed(t *testing.T) {
	caps := Capabilities()
	require.Empty(t, caps.AllowNet)
	for _, b := range caps.Builtins {
		require.Contains(t, builtins, b.Name)
		require.False(t, b.IsNondeterministic(), b.Name)
	}
	for _, name := range []string{"http.send", "net.lookup_ip_addr", "opa.runtime", "time.now_ns", "rand.intn", "uuid.rfc4122", "io.jwt.decode_verify", "bits.lsh", "graph.reachable_paths", "strings.render_template", "yaml.unmarshal", "json.unmarshal", "rego.parse_module"} {
		require.NotContains(t, builtins, name)
		m := rulebook.Module{File: "own.rego", Text: "package wetrule.rules\n\nfindings contains [\"own\", \"x\", v] if v := " + name + "(1)\n"}
		err := Check([]rulebook.Module{m})
		require.ErrorContains(t, err, "own.rego:3", name)
	}
}
