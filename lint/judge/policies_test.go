package judge

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/open-policy-agent/opa/v1/ast"
	"github.com/open-policy-agent/opa/v1/cover"
	"github.com/open-policy-agent/opa/v1/format"
	"github.com/open-policy-agent/opa/v1/storage/inmem"
	"github.com/open-policy-agent/opa/v1/tester"
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
	for _, m := range append(modules, tests...) {
		out, err := format.SourceWithOpts(m.File, []byte(m.Text), format.Opts{RegoVersion: ast.RegoV1})
		require.NoError(t, err, m.File)
		require.True(t, bytes.Equal(out, []byte(m.Text)), "%s is not formatted; it should read\n%s", m.File, out)
	}
}

// TestPolicyTests runs the Rego tests and demands that they cover every line.
func TestPolicyTests(t *testing.T) {
	modules, tests := allModules(t)
	parsed := map[string]*ast.Module{}
	subject := map[string]*ast.Module{}
	for i, m := range append(modules, tests...) {
		p, err := ast.ParseModuleWithOpts(m.File, m.Text, ast.ParserOptions{RegoVersion: ast.RegoV1})
		require.NoError(t, err)
		parsed[m.File] = p
		if i < len(modules) {
			subject[m.File] = p
		}
	}
	ctx := context.Background()
	store := inmem.New()
	txn, err := store.NewTransaction(ctx)
	require.NoError(t, err)
	c := cover.New()
	runner := tester.NewRunner().SetStore(store).SetModules(parsed).SetTimeout(time.Minute).CapturePrintOutput(true).SetCoverageQueryTracer(c)
	results, err := runner.RunTests(ctx, txn)
	require.NoError(t, err)
	n := 0
	for r := range results {
		n++
		require.NoError(t, r.Error, r.Name)
		require.True(t, r.Pass(), "%s: %s failed\n%s", r.Location, r.Name, r.Output)
	}
	require.Greater(t, n, 10, "hardly any Rego test was run")
	report := c.Report(subject)
	for file, f := range report.Files {
		var lines []string
		for _, r := range f.NotCovered {
			lines = append(lines, fmt.Sprintf("%d-%d %v", r.Start.Row, r.End.Row, r.Kinds))
		}
		require.Empty(t, lines, "%s has lines that no test covers: %s", file, strings.Join(lines, ", "))
	}
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
