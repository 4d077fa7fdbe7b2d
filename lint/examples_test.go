package lint

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
)

// linters under test are prepared once.
var core = func() func(t testing.TB) *Linter {
	var l *Linter
	var err error
	return func(t testing.TB) *Linter {
		if l == nil && err == nil {
			l, err = New(Options{})
		}
		require.NoError(t, err)
		return l
	}
}()

// held is a rule of a rulebook, as that rulebook makes it: one of its own, or one that it amends.
type held struct {
	book *rulebook.Rulebook
	rule *rulebook.Rule
}

// allRules lists the rules of all rulebooks that come with wetrule, with those that a rulebook amends in their amended form.
func allRules(t testing.TB) (out []held) {
	t.Helper()
	l := core(t)
	for _, name := range policies.Books() {
		layers, err := l.lay([]string{name})
		require.NoError(t, err)
		for _, b := range layers.Books {
			if b.Name != name {
				continue
			}
			for _, r := range layers.At(Latest) {
				if r.Rulebook == name || slices.ContainsFunc(b.Amends, func(m *rulebook.Amendment) bool { return m.RuleID == r.ID }) {
					out = append(out, held{b, r})
				}
			}
		}
	}
	return out
}

// worked is an example with its job and what the linter finds of it.
type worked struct {
	rulebook.Example
	rule   *rulebook.Rule
	file   *jobfile.File
	review *verdict.Review
}

// workedExamples reviews every example of every rulebook once, for all tests, by rulebook and rule.
var workedExamples = func() func(t testing.TB) map[string][]worked {
	var all map[string][]worked
	return func(t testing.TB) map[string][]worked {
		t.Helper()
		if all != nil {
			return all
		}
		l := core(t)
		coreBase, ok, err := l.Books[0].BaseJob()
		require.NoError(t, err)
		require.True(t, ok)
		out := map[string][]worked{}
		examples := map[*rulebook.Rulebook]map[string]*rulebook.Examples{}
		for _, h := range allRules(t) {
			if examples[h.book] == nil {
				if examples[h.book], err = h.book.ReadExamples(); err != nil {
					require.NoError(t, err)
				}
			}
			base, ok, err := h.book.BaseJob()
			require.NoError(t, err)
			if !ok {
				base = coreBase
			}
			x := examples[h.book][h.rule.ID]
			if x == nil {
				continue
			}
			for _, e := range x.List() {
				root, err := e.Apply(base)
				require.NoError(t, err)
				root.Members = append(root.Members, jobfile.Member{Key: "rulebooks", Value: &jobfile.Node{Kind: jobfile.List, Items: []*jobfile.Node{{Kind: jobfile.String, Text: h.book.Name}}}})
				f, err := jobfile.FromNode(fmt.Sprintf("%s:%d", e.Pos.File(), e.Pos.Line), root)
				require.NoError(t, err)
				key := h.book.Name + " " + h.rule.ID
				out[key] = append(out[key], worked{Example: e, rule: h.rule, file: f})
			}
		}
		var wg sync.WaitGroup
		jobs := make(chan *worked)
		for range runtime.GOMAXPROCS(0) {
			wg.Go(func() {
				for w := range jobs {
					var err error
					if w.review, err = l.ReviewFile(context.Background(), w.file); err != nil {
						panic(err)
					}
				}
			})
		}
		for _, list := range out {
			for i := range list {
				jobs <- &list[i]
			}
		}
		close(jobs)
		wg.Wait()
		all = out
		return all
	}
}()

// TestExamplesOfEveryRule holds every rule against its five sorts of examples, both
// ways: what must be found is found, what must not be found is not.
func TestExamplesOfEveryRule(t *testing.T) {
	all := workedExamples(t)
	for _, h := range allRules(t) {
		r := h.rule
		t.Run(h.book.Name+"/"+r.ID, func(t *testing.T) {
			seen := map[rulebook.Sort]int{}
			reached := map[string]bool{} // allowed values and limits that an example stands on exactly
			for _, w := range all[h.book.Name+" "+r.ID] {
				seen[w.Sort]++
				checkExample(t, w, reached)
			}
			for _, s := range rulebook.Sorts() {
				require.NotZero(t, seen[s], "the rule has no example of the sort %s", s)
			}
			if r.Allowed != nil {
				for _, want := range edges(r.Allowed) {
					require.True(t, reached[want], "no example at_limit stands on %s", want)
				}
			}
		})
	}
}

// edges lists what examples at the limit must stand on: each limit, or each allowed value.
func edges(a *rulebook.Allowed) (out []string) {
	for _, v := range a.Is {
		out = append(out, fmt.Sprint(v))
	}
	lo, _, hi, _ := a.Range()
	if !math.IsInf(lo, 0) {
		out = append(out, "lower limit")
	}
	if !math.IsInf(hi, 0) {
		out = append(out, "upper limit")
	}
	if a.AtLeastMeasure != "" {
		out = append(out, "lower limit")
	}
	if a.AtMostMeasure != "" {
		out = append(out, "upper limit")
	}
	return out
}

func checkExample(t *testing.T, w worked, reached map[string]bool) {
	t.Helper()
	r, e, rev := w.rule, w.Example, w.review
	where := fmt.Sprintf("%s:%d (%s: %s)", e.Pos.File(), e.Pos.Line, e.Sort, e)
	var mine []verdict.Verdict
	for _, v := range rev.Verdicts {
		require.NotEqual(t, verdict.NotJudged, v.Outcome, "%s: %s of %s: %s", where, v.Rule.ID, v.Subject.ID, v.Reason)
		if v.Rule.ID == r.ID && (e.Subject == "" || v.Subject.ID == e.Subject) {
			mine = append(mine, v)
		}
	}
	describe := func() string {
		var b strings.Builder
		for _, v := range mine {
			fmt.Fprintf(&b, "\n  %s %s: measured %s, allowed %s, margin %v", v.Subject.ID, v.Outcome, r.Def.Format(v.Value), r.AllowedText(), v.Margin)
		}
		return b.String()
	}
	all := func(want verdict.Outcome) {
		require.NotEmpty(t, mine, "%s: the rule says nothing", where)
		for _, v := range mine {
			require.Equal(t, want.String(), v.Outcome.String(), "%s%s", where, describe())
		}
	}
	some := func(want verdict.Outcome) {
		for _, v := range mine {
			if v.Outcome == want {
				return
			}
		}
		require.Fail(t, "no verdict is "+want.String(), "%s%s", where, describe())
	}
	switch e.Sort {
	case rulebook.ExConforming:
		all(verdict.Conforms)
	case rulebook.ExNonconforming:
		some(verdict.Nonconforming)
	case rulebook.ExMissing:
		some(verdict.Undetermined)
	case rulebook.ExNotApplicable:
		require.Empty(t, mine, "%s: the rule speaks%s", where, describe())
	case rulebook.ExAtLimit:
		all(verdict.Conforms)
		if r.Rego {
			return
		}
		on := false
		for _, v := range mine {
			if len(r.Allowed.Is) > 0 {
				switch r.Def.Type {
				case measure.Number:
					reached[fmt.Sprint(v.Value.Num)] = true
				case measure.Flag:
					reached[fmt.Sprint(v.Value.Flag)] = true
				default:
					reached[v.Value.Text] = true
				}
				on = true
				continue
			}
			_, loOpen, _, hiOpen := r.Allowed.Range()
			if near := step(r.Def.Unit); v.Value.Num == v.Lo || loOpen && v.Value.Num-v.Lo <= near {
				reached["lower limit"], on = true, true
			} else if v.Value.Num == v.Hi || hiOpen && v.Hi-v.Value.Num <= near {
				reached["upper limit"], on = true, true
			}
			if v.Lo == v.Hi {
				reached["lower limit"], reached["upper limit"] = true, true
			}
		}
		require.True(t, on, "%s: no subject is at the limit%s", where, describe())
	}
}

// step is the change of a limit that some example must notice.
func step(unit string) float64 {
	switch unit {
	case "percent", "mmol/l", "m²", "mm²", "N/mm²", "perm", "g/(m²·d)":
		return 0.1
	case "W/m²K":
		return 0.01
	}
	return 1
}

// TestEveryLimitIsHeldByAnExample shifts each limit of each row by one step, and takes away each allowed
// value, and demands that an example notices.
func TestEveryLimitIsHeldByAnExample(t *testing.T) {
	n := 0
	for _, list := range workedExamples(t) {
		r := list[0].rule
		if r.Allowed == nil {
			continue
		}
		for _, m := range mutants(r) {
			n++
			noticed := false
			for _, w := range list {
				noticed = noticed || !fits(m.rule, w.Example, w.review.Set)
			}
			require.True(t, noticed, "%s: no example notices that %s", r.ID, m.what)
		}
	}
	require.Greater(t, n, 100)
}

type mutant struct {
	what string
	rule *rulebook.Rule
}

func mutants(r *rulebook.Rule) (out []mutant) {
	with := func(what string, change func(*rulebook.Allowed)) {
		a := *r.Allowed
		if a.Between != nil {
			lo, hi := a.Between[0], a.Between[1]
			a.AtLeast, a.AtMost, a.Between = &lo, &hi, nil
		}
		change(&a)
		c := *r
		c.Allowed = &a
		out = append(out, mutant{what, &c})
	}
	shift := func(p *float64, by float64) *float64 { v := *p + by; return &v }
	by := step(r.Def.Unit)
	for _, d := range []float64{-by, by} {
		name := fmt.Sprintf("%+g %s", d, r.Def.Unit)
		if r.Allowed.AtLeast != nil || r.Allowed.Between != nil {
			with("the lower limit is shifted by "+name, func(a *rulebook.Allowed) { a.AtLeast = shift(a.AtLeast, d) })
		}
		if r.Allowed.AtMost != nil || r.Allowed.Between != nil {
			with("the upper limit is shifted by "+name, func(a *rulebook.Allowed) { a.AtMost = shift(a.AtMost, d) })
		}
		if r.Allowed.Above != nil {
			with("the open lower limit is shifted by "+name, func(a *rulebook.Allowed) { a.Above = shift(a.Above, d) })
		}
		if r.Allowed.Below != nil {
			with("the open upper limit is shifted by "+name, func(a *rulebook.Allowed) { a.Below = shift(a.Below, d) })
		}
	}
	for i := range r.Allowed.Is {
		with(fmt.Sprintf("the value %v is taken away", r.Allowed.Is[i]), func(a *rulebook.Allowed) {
			a.Is = append(append([]any{}, a.Is[:i]...), a.Is[i+1:]...)
			if len(a.Is) == 0 {
				a.Is = []any{"no value at all"}
			}
		})
	}
	return out
}

// fits says whether a row finds of an example what the example says.
func fits(r *rulebook.Rule, e rulebook.Example, set *measure.Set) bool {
	t := set.Table(r.AppliesTo)
	bad, ok, unsure := 0, 0, 0
	if t != nil {
		for i := range t.Subjects {
			if e.Subject != "" && t.Subjects[i].ID != e.Subject {
				continue
			}
			switch a := r.Assess(t, i); {
			case a.Applies == rulebook.False:
			case a.Applies == rulebook.True && a.Kept == rulebook.False:
				bad++
			case a.Kept != rulebook.True:
				unsure++
			default:
				ok++
			}
		}
	}
	switch e.Sort {
	case rulebook.ExConforming, rulebook.ExAtLimit:
		return bad+unsure == 0 && ok > 0
	case rulebook.ExNonconforming:
		return bad > 0
	case rulebook.ExMissing:
		return unsure > 0
	}
	return bad+ok+unsure == 0
}

// TestBaseJobIsInOrder keeps the job that the examples change free of findings.
func TestBaseJobIsInOrder(t *testing.T) {
	l := core(t)
	fsys, _ := policies.Book("core")
	b, err := rulebook.Open(fsys, "policies/core")
	require.NoError(t, err)
	base, _, err := b.BaseJob()
	require.NoError(t, err)
	f, err := jobfile.FromNode("base", base)
	require.NoError(t, err)
	rev, err := l.ReviewFile(context.Background(), f)
	require.NoError(t, err)
	for _, v := range rev.Findings() {
		t.Errorf("%s of %s is %s: measured %s, allowed %s %s (lacks %v)", v.Rule.ID, v.Subject.ID, v.Outcome, v.Rule.Def.Format(v.Value), v.Rule.AllowedText(), v.Reason, v.Missing(rev.Root))
	}
}
