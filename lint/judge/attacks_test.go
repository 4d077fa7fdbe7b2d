package judge

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// attack is Rego of a rule that means no good; the line is its only condition.
func attack(line string) string {
	return "package wetrule.rules\n\nfindings contains [\"own\", input.steam_outlet.id[0], 1] if {\n\t" + strings.ReplaceAll(line, "\n", "\n\t") + "\n}\n"
}

// doubled makes n lines of which each one doubles the one before.
func doubled(n int, first, each string) string {
	var b strings.Builder
	b.WriteString("x0 := " + first + "\n")
	for i := 1; i <= n; i++ {
		fmt.Fprintf(&b, each+"\n", i, i-1, i-1)
	}
	fmt.Fprintf(&b, "count(x%d) < 0", n)
	return b.String()
}

// TestAttacks says what becomes of Rego that reaches for more than it may have, or for too much of it: what stops it, and that the rows beside it are
// judged all the same.
func TestAttacks(t *testing.T) {
	// What is not on the list of built-ins is refused before it runs.
	for _, call := range []string{
		`http.send({"method": "get", "url": "http://127.0.0.1/"})`, `net.lookup_ip_addr("localhost")`, `opa.runtime()`, `time.now_ns()`, `rand.intn("a", 10)`, `uuid.rfc4122("a")`,
		`io.jwt.decode("a.b.c")`, `crypto.sha256("a")`, `json.match_schema({}, {})`, `yaml.unmarshal("a: 1")`, `json.unmarshal("1")`, `base64.decode("aGk=")`, `rego.parse_module("a", "package a")`,
		`bits.lsh(1, 1000000000)`, `graph.reachable_paths({"a": ["b"]}, ["a"])`, `strings.render_template("{{.}}", {})`, `graphql.parse("a", "b")`, `regex.replace("aaa", "a", "aa")`, `regex.globs_match("a*", "b*")`,
		`glob.match("*", [], "a")`, `replace("aaa", "a", "aaaa")`, `strings.replace_n({"a": "aa"}, "aaa")`, `units.parse("1K")`, `object.subset({}, {})`, `trace("x")`, `time.parse_rfc3339_ns("2026-01-01T00:00:00Z")`,
		`strings.repeat("a", 1000000000)`, `product([1])`,
	} {
		name, _, _ := strings.Cut(call, "(")
		t.Run("refused "+name, func(t *testing.T) {
			refusedRego(t, attack("x := "+call+"\nx == x"), "undefined function "+name, 4)
		})
	}
	for name, c := range map[string]struct {
		text, says string
		line       int
	}{
		"template string":          {attack("x := $\"{input.stage}\"\nx == \"\""), "not supported by current capabilities", 4},
		"recursion":                {"package wetrule.rules\n\nf(x) := f(x)\n\nfindings contains [\"own\", \"s1\", 1] if f(1)\n", "recursive", 3},
		"mutual recursion":         {"package wetrule.rules\n\nf(x) := g(x)\n\ng(x) := f(x)\n\nfindings contains [\"own\", \"s1\", 1] if f(1)\n", "recursive", 3},
		"nested comprehensions":    {attack("x := " + strings.Repeat("[y | y := ", 30) + "1" + strings.Repeat("]", 30) + "\ncount(x) < 0"), "more than 8 deep", 4},
		"nested every":             {attack(strings.Repeat("every x in [1] {\nx > 0\n", 9) + strings.Repeat("}\n", 9)), "more than 8 deep", 20},
		"a long chain of else":     {"package wetrule.rules\n\na := 1 if { 1 == 2 }" + strings.Repeat(" else := 2 if { 1 == 2 }", 3000) + "\n\nfindings contains [\"own\", \"s1\", 1] if a > 2\n", "more than 100 else branches", 3},
		"brackets without end":     {attack("x := " + strings.Repeat("[", 100_000)), "max parsing recursion depth exceeded", 4},
		"a foreign package's data": {"package system\n\nmain := 1\n\nfindings contains [\"own\", \"s1\", x] if x := data.system.main\n# own: \"own\"\n", "", 0},
	} {
		t.Run("refused "+name, func(t *testing.T) {
			if c.says == "" {
				// It is Rego as any other, and changes nothing outside its package.
				r := review(t, testBook(t, heightRow+ownRow("own"), c.text), Options{})
				require.True(t, r.Judged())
				require.Equal(t, "conforms", outcomes(r)["height s1"])
				return
			}
			refusedRego(t, c.text, c.says, c.line)
		})
	}

	// The rest runs, and is stopped: by its steps, which are the same on every machine, by the time or by the memory that it takes.
	const endless = "numbers.range(1, 1000000000)"
	usual := Options{Steps: 300_000, Deadline: 3 * time.Second}
	for name, c := range map[string]struct {
		text string
		by   []error // any of them, since machines differ; none: it is harmless
	}{
		"loops in loops":            {attack("some a in numbers.range(1, 2000)\nsome b in numbers.range(1, 2000)\nsome c in numbers.range(1, 2000)\na + b + c == -1"), bySteps},
		"comprehension of a square": {attack("x := [a | some a in numbers.range(1, 3000); some b in numbers.range(1, 3000); b > 0]\ncount(x) < 0"), bySteps},
		"pairs of pairs":            {attack("x := {[a, b] | some a in numbers.range(1, 5000); some b in numbers.range(1, 5000)}\ncount(x) < 0"), []error{ErrTooManySteps, ErrTooLong, ErrTooMuchMemory}},
		"range":                     {attack("count(" + endless + ") < 0"), bySteps},
		"sum of a range":            {attack("sum(" + endless + ") < 0"), bySteps},
		"squares of squares":        {attack("x0 := 123456789\n" + steps(40, "x%d := x%d * x%d") + "x40 < 0"), byTime},
		"text doubled":              {attack(doubled(40, `"0123456789"`, `x%d := concat("", [x%d, x%d])`)), byMemory},
		"text doubled by format":    {attack(doubled(40, `"0123456789"`, `x%d := sprintf("%%s%%s", [x%d, x%d])`)), byMemory},
		"arrays doubled":            {attack(doubled(40, "[1]", "x%d := array.concat(x%d, x%d)")), byMemory},
		"backtracking expression":   {attack("x := concat(\"\", [\"a\" | some _ in numbers.range(1, 5000)])\nregex.match(\"^(a+)+$\", concat(\"\", [x, \"!\"]))"), nil},
		"repeats in an expression":  {attack("regex.match(\"((a{1,100}){1,100}){1,100}\", \"aaaa\")"), byItself},
		"wide format":               {attack("x := sprintf(\"%1000000000d\", [1])\ncount(x) < 0"), nil},
		"division by nothing":       {attack("1 / (count(input.steam_outlet.id) - 3) > 0"), byItself},
		"number without end":        {attack("to_number(\"1e999999999\") > 0"), byItself},
	} {
		t.Run("stopped "+name, func(t *testing.T) {
			start := time.Now()
			o := usual
			if len(c.by) > 0 && c.by[0] == ErrTooManySteps {
				o.Deadline = time.Minute // steps are the same on a slow machine, and with the race detector
			}
			r := review(t, testBook(t, heightRow+ownRow("own"), c.text), o)
			t.Logf("%v", time.Since(start))
			out := outcomes(r)
			require.Equal(t, "conforms", out["height s1"], "the rows are judged")
			require.Equal(t, "nonconforming", out["height s2"])
			if c.by == nil {
				require.True(t, r.Judged())
				require.Equal(t, "conforms", out["own s1"])
				return
			}
			require.False(t, r.Judged(), "which makes the exit status 2")
			var known []string
			for _, err := range c.by {
				known = append(known, err.Error())
			}
			for _, v := range r.Verdicts {
				if v.Rule.ID == "own" {
					require.Equal(t, verdict.NotJudged, v.Outcome)
					if len(known) > 0 {
						require.Contains(t, known, v.Reason())
					}
				}
			}
		})
	}
}

var (
	bySteps  = []error{ErrTooManySteps}
	byTime   = []error{ErrTooLong}
	byMemory = []error{ErrTooMuchMemory, ErrTooLong} // a slow machine may not get that far
	byItself = []error{}                             // a built-in breaks off with words of its own
)

func steps(n int, each string) string {
	var b strings.Builder
	for i := 1; i <= n; i++ {
		fmt.Fprintf(&b, each+"\n", i, i-1, i-1)
	}
	return b.String()
}

func refusedRego(t *testing.T, text, says string, line int) {
	t.Helper()
	m := engineModule()
	b := testBook(t, ownRow("own"), text)
	for what, f := range map[string]func() error{
		"prepare": func() error { _, err := New(m.File, m.Text, b.Rules, b.Modules, Options{}); return err },
		"check":   func() error { return Check(append([]rulebook.Module{m}, b.Modules...)) },
		"test":    func() error { _, err := Test(context.Background(), []rulebook.Module{m}, nil, b.Modules); return err },
	} {
		start := time.Now()
		err := f()
		require.Less(t, time.Since(start), time.Minute, what)
		var ps jobfile.Problems
		require.ErrorAs(t, err, &ps, what)
		require.Contains(t, ps.Error(), says, what)
		require.Equal(t, "test/rego/a.rego", ps[0].File, what)
		require.Equal(t, line, ps[0].Line, what)
	}
}

// TestTestsReachNothing: the Rego tests of a rulebook are as little trusted as its rules.
func TestTestsReachNothing(t *testing.T) {
	var asked atomic.Int32
	server := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { asked.Add(1) }))
	defer server.Close()
	m := engineModule()
	for name, c := range map[string]struct{ line, says string }{
		"network":     {`http.send({"method": "get", "url": "` + server.URL + `"}).status_code == 200`, "undefined function http.send"},
		"environment": {`opa.runtime().env.HOME != ""`, "undefined function opa.runtime"},
		"clock":       {`time.now_ns() > 0`, "undefined function time.now_ns"},
	} {
		t.Run(name, func(t *testing.T) {
			test := rulebook.Module{File: "house/rego/own_test.rego", Text: "package wetrule.rules_test\n\ntest_own if {\n\t" + c.line + "\n}\n"}
			_, err := Test(context.Background(), []rulebook.Module{m}, nil, []rulebook.Module{test})
			require.ErrorContains(t, err, c.says)
			require.ErrorContains(t, err, "house/rego/own_test.rego:4")
		})
	}
	require.Zero(t, asked.Load())

	bomb := rulebook.Module{File: "house/rego/own_test.rego", Text: "package wetrule.rules_test\n\ntest_own if {\n\tcount(numbers.range(1, 1000000000)) > 0\n}\n"}
	got, err := Test(context.Background(), []rulebook.Module{m}, nil, []rulebook.Module{bomb})
	require.NoError(t, err)
	require.NotEmpty(t, got.Problems)
	require.Contains(t, got.Problems.Error(), "the Rego test test_own fails")
}

// TestManyRunawayFiles: many files that run away take no more time together than a few.
func TestManyRunawayFiles(t *testing.T) {
	var rows strings.Builder
	var rego []string
	for i := range 12 {
		id := fmt.Sprintf("own-%c", 'a'+i)
		rows.WriteString(ownRow(id))
		rego = append(rego, strings.ReplaceAll(attack("count(numbers.range(1, 100000000)) < 0"), `"own"`, `"`+id+`"`))
	}
	start := time.Now()
	r := review(t, testBook(t, heightRow+rows.String(), rego...), Options{Deadline: 200 * time.Millisecond})
	require.Less(t, time.Since(start), time.Minute)
	out := outcomes(r)
	require.Equal(t, "conforms", out["height s1"])
	for i := range 12 {
		require.Equal(t, "not_judged", out[fmt.Sprintf("own-%c s1", 'a'+i)])
	}
}

// TestCompilingIsBounded: what takes too long is left, with an error that says so.
func TestCompilingIsBounded(t *testing.T) {
	m := engineModule()
	comment := func(n int) rulebook.Module {
		return rulebook.Module{File: fmt.Sprintf("own%d.rego", n), Text: "package own\n#" + strings.Repeat("x", n-len("package own\n#"))}
	}
	require.NoError(t, Check([]rulebook.Module{m, comment(MaxRegoFile)}))
	require.EqualError(t, Check([]rulebook.Module{m, comment(MaxRegoFile + 1)}), "own262145.rego: the file has 262145 bytes; at most 262144 are allowed in a file of Rego")
	many := []rulebook.Module{m}
	for i := range MaxRego / MaxRegoFile {
		many = append(many, comment(MaxRegoFile-i))
	}
	require.ErrorContains(t, Check(many), "with this file the Rego of the rulebooks has more than 2097152 bytes")

	quit := make(chan struct{})
	defer close(quit)
	runtime.GC()
	start := time.Now()
	err := within(50*time.Millisecond, func() error { <-quit; return nil })
	require.Equal(t, errCompileTooLong, err)
	require.Less(t, time.Since(start), time.Minute)
	require.NoError(t, within(time.Minute, func() error { return nil }))
	require.EqualError(t, within(time.Minute, func() error { panic("x") }), "the policy engine broke off: x")
	var hold [][]byte
	err = within(time.Minute, func() error {
		for range 64 {
			hold = append(hold, make([]byte, MaxHeap/16))
			time.Sleep(10 * time.Millisecond)
		}
		<-quit
		return nil
	})
	require.Equal(t, ErrTooMuchMemory, err)
}
