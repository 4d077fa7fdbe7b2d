package lint

import (
	"context"
	"fmt"
	"runtime"
	"slices"
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
				root.SetMembers(append(root.Members(), jobfile.Member{Key: "rulebooks", Value: jobfile.NewList(jobfile.NewText(h.book.Name))}))
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
				require.Empty(t, holds(r, w.Example, w.review, reached), "%s:%d (%s)", w.Pos.File(), w.Pos.Line, w.Example)
			}
			require.Empty(t, lacks(r, seen, reached))
		})
	}
}

// TestRulesStandUpToMutation shifts every limit of every row by one step, turns every comparison round, takes away every allowed value and drops every condition, and
// demands that an example notices each.
func TestRulesStandUpToMutation(t *testing.T) {
	n := 0
	var alive []string
	for _, list := range workedExamples(t) {
		var examples []rulebook.Example
		var sets []*measure.Set
		for _, w := range list {
			examples, sets = append(examples, w.Example), append(sets, w.review.Set)
		}
		left, all := survivors(list[0].rule, examples, sets)
		n += all
		for _, what := range left {
			alive = append(alive, list[0].rule.ID+": no example notices that "+what)
		}
	}
	slices.Sort(alive)
	t.Logf("%d of %d mutants are noticed", n-len(alive), n)
	require.Empty(t, alive)
	require.Greater(t, n, 500)
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
		t.Errorf("%s of %s is %s: measured %s, allowed %s %s (lacks %v)", v.Rule.ID, v.Subject.ID, v.Outcome, v.Rule.Def.Format(*v.Value), v.Rule.AllowedText(), v.Reason(), v.Missing(rev.Root))
	}
}
