package judge

import (
	"bytes"
	"context"
	"fmt"
	"time"

	"github.com/open-policy-agent/opa/v1/ast"
	"github.com/open-policy-agent/opa/v1/cover"
	"github.com/open-policy-agent/opa/v1/format"
	"github.com/open-policy-agent/opa/v1/storage/inmem"
	"github.com/open-policy-agent/opa/v1/tester"

	"wetrule/lint/jobfile"
	"wetrule/lint/rulebook"
)

// Formatted returns Rego as it should be written.
func Formatted(m rulebook.Module) (string, error) {
	out, err := format.SourceWithOpts(m.File, []byte(m.Text), format.Opts{RegoVersion: ast.RegoV1})
	if err != nil {
		return "", problems(err)
	}
	return string(out), nil
}

// Unformatted lists the files of Rego that are not written as they should be.
func Unformatted(modules []rulebook.Module) (ps jobfile.Problems) {
	for _, m := range modules {
		out, err := Formatted(m)
		if err != nil {
			continue // parsing it says so
		}
		if out != m.Text {
			line := 1
			a, b := []byte(m.Text), []byte(out)
			for i := 0; i < min(len(a), len(b)) && a[i] == b[i]; i++ {
				if a[i] == '\n' {
					line++
				}
			}
			ps = append(ps, jobfile.Problem{File: m.File, Line: line, Col: 1, Message: "the Rego is not formatted from here on (tabs, spaces, blank lines)"})
		}
	}
	return ps
}

// Tested says how the Rego tests of a rulebook went.
type Tested struct {
	Tests    int
	Problems jobfile.Problems // tests that fail, and lines of the modules under test that no test covers
}

// testsDeadline bounds the time of all Rego tests of a rulebook.
const testsDeadline = 2 * time.Minute

// Test runs the Rego tests of modules. Every line of the modules under test must be covered. Tests may use no more built-ins than rules, and are
// bounded in time and memory as they are.
func Test(ctx context.Context, support, modules, tests []rulebook.Module) (*Tested, error) {
	parsed, under := map[string]*ast.Module{}, map[string]*ast.Module{}
	for i, list := range [][]rulebook.Module{support, modules, tests} {
		if err := boundedText(list); err != nil {
			return nil, err
		}
		for _, m := range list {
			p, err := Parse(m, false)
			if err != nil {
				return nil, err
			}
			parsed[m.File] = p
			if i == 1 {
				under[m.File] = p
			}
		}
	}
	out := &Tested{}
	if len(tests) > 0 {
		store := inmem.New()
		txn, err := store.NewTransaction(ctx)
		if err != nil {
			return nil, err
		}
		ctx, cancel := context.WithCancel(ctx)
		defer cancel()
		hung := make(chan struct{})
		w := watched(testsDeadline, cancel, func(error) { close(hung) })
		c := cover.New()
		runner := tester.NewRunner().SetStore(store).SetModules(parsed).SetTimeout(Deadline).CapturePrintOutput(true).SetCoverageQueryTracer(c).
			SetCompiler(ast.NewCompiler().WithCapabilities(Capabilities()).WithEnablePrintStatements(true))
		var results chan *tester.Result
		if err := within(CompileDeadline, func() (err error) { results, err = runner.RunTests(ctx, txn); return err }); err != nil {
			_ = w.done()
			return nil, problems(err)
		}
		for {
			var r *tester.Result
			select {
			case r = <-results:
			case <-hung:
				return nil, jobfile.Problems{{File: tests[0].File, Message: "the Rego tests cannot be stopped: " + w.done().Error()}}
			}
			if r == nil {
				break // all have run
			}
			out.Tests++
			if r.Error == nil && r.Pass() {
				continue
			}
			p := jobfile.Problem{Message: fmt.Sprintf("the Rego test %s fails", r.Name)}
			if r.Error != nil {
				p.Message += ": " + r.Error.Error()
			}
			if len(r.Output) > 0 {
				p.Message += ": " + string(bytes.TrimSpace(r.Output))
			}
			if l := r.Location; l != nil {
				p.File, p.Line, p.Col = l.File, l.Row, l.Col
			}
			out.Problems = append(out.Problems, p)
		}
		if why := w.done(); why != nil {
			out.Problems = append(out.Problems, jobfile.Problem{File: tests[0].File, Message: "the Rego tests were stopped: " + why.Error()})
		}
		for file, f := range c.Report(under).Files {
			for _, r := range f.NotCovered {
				why := ""
				if len(r.Kinds) > 0 {
					why = fmt.Sprintf(" (%v)", r.Kinds)
				}
				out.Problems = append(out.Problems, jobfile.Problem{File: file, Line: r.Start.Row, Col: 1, Message: fmt.Sprintf("no Rego test covers line %d to %d%s", r.Start.Row, r.End.Row, why)})
			}
		}
	} else {
		for _, m := range modules {
			out.Problems = append(out.Problems, jobfile.Problem{File: m.File, Line: 1, Col: 1, Message: "the Rego has no tests; write them in a file that ends in _test.rego"})
		}
	}
	out.Problems.Sort()
	return out, nil
}
