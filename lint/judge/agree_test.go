package judge

import (
	"context"
	"fmt"
	"math"
	"math/rand"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
	"wetrule/schema"
)

// What the policies say, with the index of cells and without it, and the plain reading of the rows are three ways to judge one job. These
// tests look for a job or a row for which they differ.

// TestFindingsAndReadingMustAgree sees that a difference is noticed at all.
func TestFindingsAndReadingMustAgree(t *testing.T) {
	row, own := &rulebook.Rule{}, &rulebook.Rule{Rego: true}
	for _, tc := range []struct {
		rule    *rulebook.Rule
		applies rulebook.Truth
		kept    rulebook.Truth
		f       found
		asked   bool
		want    verdict.Outcome
	}{
		{row, rulebook.True, rulebook.True, foundNothing, true, verdict.Conforms},
		{row, rulebook.True, rulebook.True, foundNonconforming, true, verdict.NotJudged},
		{row, rulebook.True, rulebook.True, foundUndetermined, true, verdict.NotJudged},
		{row, rulebook.True, rulebook.False, foundNonconforming, true, verdict.Nonconforming},
		{row, rulebook.True, rulebook.False, foundNonconforming, false, verdict.Nonconforming},
		{row, rulebook.True, rulebook.False, foundNothing, true, verdict.NotJudged},
		{row, rulebook.True, rulebook.False, foundUndetermined, true, verdict.NotJudged},
		{row, rulebook.True, rulebook.Unsure, foundUndetermined, true, verdict.Undetermined},
		{row, rulebook.True, rulebook.Unsure, foundNothing, true, verdict.NotJudged},
		{row, rulebook.True, rulebook.Unsure, foundNonconforming, true, verdict.NotJudged},
		{row, rulebook.True, rulebook.Unsure, foundNothing, false, verdict.NotApplicable},
		{row, rulebook.Unsure, rulebook.True, foundNothing, true, verdict.Conforms},
		{row, rulebook.Unsure, rulebook.False, foundUndetermined, true, verdict.Undetermined},
		{row, rulebook.Unsure, rulebook.False, foundNonconforming, true, verdict.NotJudged},
		{row, rulebook.Unsure, rulebook.False, foundNothing, false, verdict.NotApplicable},
		{row, rulebook.False, rulebook.False, foundNothing, true, verdict.NotApplicable},
		{row, rulebook.False, rulebook.False, foundNonconforming, true, verdict.NotJudged},
		{row, rulebook.False, rulebook.False, foundUndetermined, true, verdict.NotJudged},
		{own, rulebook.True, rulebook.True, foundNothing, true, verdict.Conforms},
		{own, rulebook.True, rulebook.True, foundNonconforming, true, verdict.Nonconforming},
		{own, rulebook.True, rulebook.Unsure, foundUndetermined, true, verdict.Undetermined},
		{own, rulebook.True, rulebook.Unsure, foundNonconforming, false, verdict.NotApplicable},
		{own, rulebook.False, rulebook.False, foundNonconforming, true, verdict.NotJudged},
	} {
		a := rulebook.Assessment{Applies: tc.applies, Kept: tc.kept}
		got, reason := outcome(a.Read(tc.rule), tc.f, tc.asked)
		require.Equal(t, tc.want.String(), got.String(), "%+v", tc)
		require.Equal(t, got == verdict.NotJudged, reason != "", "%+v", tc)
	}
}

// judgeSet judges values that have been measured, or made up.
func (e *Engine) judgeSet(t testing.TB, set *measure.Set, stage rulebook.Stage) *verdict.Review {
	t.Helper()
	r := &verdict.Review{Stage: stage, On: "2026-06-30"}
	require.NoError(t, e.judge(context.Background(), &Memory{}, r, set))
	return r
}

// both prepares an engine with the index of cells, and one without.
func both(t testing.TB, rules []*rulebook.Rule, modules []rulebook.Module) (fast, plain *Engine) {
	t.Helper()
	m := engineModule()
	fast, err := New(m.File, m.Text, rules, modules, Options{})
	require.NoError(t, err)
	plain, err = New(m.File, m.Text, rules, modules, Options{Plain: true})
	require.NoError(t, err)
	return fast, plain
}

// agree demands the same verdicts of two reviews, and that every rule was judged.
func agree(t testing.TB, a, b *verdict.Review, describe func() string) {
	t.Helper()
	if a.Counts != b.Counts {
		t.Fatalf("%v with the index of cells and %v without\n%s", a.Counts, b.Counts, describe())
	}
	for i := range a.Verdicts {
		x, y := &a.Verdicts[i], &b.Verdicts[i]
		if x.Rule.ID != y.Rule.ID || x.Subject.ID != y.Subject.ID || x.Outcome != y.Outcome {
			t.Fatalf("%s of %s is %s with the index of cells and %s without\n%s", x.Rule.ID, x.Subject.ID, x.Outcome, y.Outcome, describe())
		}
		if x.Outcome == verdict.NotJudged {
			t.Fatalf("%s of %s was not judged: %s\nvalue %s, allowed %s\n%s", x.Rule.ID, x.Subject.ID, x.Reason(), x.Rule.Def.Format(*x.Value), x.Rule.AllowedText(), describe())
		}
	}
}

// coreBook opens the rulebook core with its base job.
func coreBook(t testing.TB) (*rulebook.Rulebook, *jobfile.Node) {
	t.Helper()
	fsys, ok := policies.Book("core")
	require.True(t, ok)
	b, err := rulebook.Open(fsys, "policies/core")
	require.NoError(t, err)
	base, ok, err := b.BaseJob()
	require.NoError(t, err)
	require.True(t, ok)
	return b, base
}

// figures stand close together, so that values and limits often meet exactly.
var figures = []float64{-1, 0, 0.1, 0.3, 1, 1.001, 2, 250, 1e9}

func figure(r *rand.Rand) float64 { return figures[r.Intn(len(figures))] }

// randomRow draws a row for a kind, as reading lets it through; the same measure may serve twice.
func randomRow(r *rand.Rand, id string, k *measure.Kind) *rulebook.Rule {
	pick := func(of ...measure.Type) *measure.Def {
		var defs []*measure.Def
		for _, d := range k.Defs {
			if slices.Contains(of, d.Type) {
				defs = append(defs, d)
			}
		}
		if len(defs) == 0 {
			return nil
		}
		return defs[r.Intn(len(defs))]
	}
	list := func(d *measure.Def) []any {
		switch d.Type {
		case measure.Flag:
			return []any{r.Intn(2) == 0}
		case measure.Number:
			return []any{figure(r), figure(r)}
		}
		out := []any{textOf(r, d)}
		if r.Intn(2) == 0 {
			out = append(out, textOf(r, d))
		}
		return out
	}
	perhaps := func() *float64 {
		if r.Intn(2) == 0 {
			return nil
		}
		v := figure(r)
		return &v
	}
	for {
		d := pick(measure.Number, measure.Text, measure.Flag)
		if d == nil {
			return nil
		}
		rule := &rulebook.Rule{ID: id, Title: id, AppliesTo: k.Name, Kind: k, Measure: d.Name, Def: d, Allowed: &rulebook.Allowed{}, From: rulebook.Stage(r.Intn(3))}
		a := rule.Allowed
		if d.Type != measure.Number || r.Intn(4) == 0 {
			a.Is = list(d)
		} else {
			a.AtLeast, a.AtMost, a.Above, a.Below = perhaps(), perhaps(), perhaps(), perhaps()
			if r.Intn(4) == 0 {
				a.AtLeastMeasure = pick(measure.Number).Name
			}
			if r.Intn(4) == 0 {
				a.AtMostMeasure = pick(measure.Number).Name
			}
		}
		for range r.Intn(4) {
			d := pick(measure.Number, measure.Text, measure.Flag)
			c := rulebook.Condition{Measure: d.Name}
			if d.Type == measure.Number && r.Intn(3) > 0 {
				if c.AtLeast, c.AtMost = perhaps(), perhaps(); c.AtLeast == nil && c.AtMost == nil {
					v := figure(r)
					c.AtLeast = &v
				}
			} else {
				c.Is = list(d)
			}
			rule.When = append(rule.When, c)
		}
		lo, loOpen, hi, hiOpen := a.Range()
		nothing := lo > hi || lo == hi && (loOpen || hiOpen)
		all := a.Is == nil && math.IsInf(lo, 0) && math.IsInf(hi, 0) && a.AtLeastMeasure == "" && a.AtMostMeasure == ""
		if !nothing && !all && a.AtLeastMeasure != d.Name && a.AtMostMeasure != d.Name {
			return rule
		}
	}
}

func textOf(r *rand.Rand, d *measure.Def) string {
	if len(d.Values) > 0 {
		return d.Values[r.Intn(len(d.Values))]
	}
	return []string{"one", "two"}[r.Intn(2)]
}

// scramble overwrites measured values at random.
func scramble(r *rand.Rand, set *measure.Set) {
	for _, t := range set.Tables {
		for j, d := range t.Defs {
			for i := range t.Columns[j] {
				v := measure.Value{}
				switch n := r.Intn(6); {
				case n == 0:
				case n == 1:
					v.State = measure.Unknown
				case d.Type == measure.Texts:
					v = t.Columns[j][i] // lists are made in package measure only
				default:
					v = measure.Value{State: measure.Known}
					switch d.Type {
					case measure.Number:
						v.Num = figure(r)
					case measure.Flag:
						v.Flag = r.Intn(2) == 0
					case measure.Text:
						v = v.WithText(textOf(r, d))
					}
				}
				t.Columns[j][i] = v
			}
		}
	}
}

// describeRow writes a row and the values that it reads.
func describeRow(rule *rulebook.Rule, t *measure.Table) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s %s allowed %s", rule.ID, rule.AppliesTo, rule.Measure, rule.AllowedText())
	for _, c := range rule.When {
		fmt.Fprintf(&b, " when %s is %v", c.Measure, c.Is)
		if c.AtLeast != nil {
			fmt.Fprintf(&b, " from %g", *c.AtLeast)
		}
		if c.AtMost != nil {
			fmt.Fprintf(&b, " to %g", *c.AtMost)
		}
	}
	if t != nil {
		for _, m := range rule.Measures() {
			fmt.Fprintf(&b, "\n  %s", m)
			for _, v := range t.Column(m) {
				fmt.Fprintf(&b, " %s;", rule.Kind.Def(m).Format(v))
			}
		}
	}
	return b.String()
}

// TestRandomRowsOnRandomValues lays random rows of every kind on random values.
func TestRandomRowsOnRandomValues(t *testing.T) {
	_, base := coreBook(t)
	f, err := jobfile.FromNode("base", base)
	require.NoError(t, err)
	var counts [verdict.NotApplicable + 1]int
	for seed := range int64(8) {
		r := rand.New(rand.NewSource(seed))
		var rules []*rulebook.Rule
		for _, name := range measure.Names() {
			for i := range 6 {
				if rule := randomRow(r, fmt.Sprintf("%s-%d", strings.ReplaceAll(name, "_", "-"), i), measure.Lookup(name)); rule != nil {
					rules = append(rules, rule)
				}
			}
		}
		fast, plain := both(t, rules, nil)
		for range 6 {
			set := fast.plan.Measure(f.Job)
			scramble(r, set)
			stage := rulebook.Stage(r.Intn(3))
			a, b := fast.judgeSet(t, set, stage), plain.judgeSet(t, set, stage)
			agree(t, a, b, func() string {
				var bad []string
				for _, rule := range rules {
					for i := range a.Verdicts {
						if a.Verdicts[i].Rule.ID == rule.ID && (a.Verdicts[i].Outcome == verdict.NotJudged || a.Verdicts[i].Outcome != b.Verdicts[i].Outcome) {
							bad = append(bad, describeRow(rule, set.Table(rule.AppliesTo)))
							break
						}
					}
				}
				return fmt.Sprintf("seed %d\n%s", seed, strings.Join(bad, "\n"))
			})
			for o, n := range a.Counts {
				counts[o] += n
			}
		}
	}
	for _, o := range []verdict.Outcome{verdict.Conforms, verdict.Nonconforming, verdict.Undetermined, verdict.NotApplicable} {
		require.Greater(t, counts[o], 1000, "hardly any verdict is %s", o)
	}
	require.Zero(t, counts[verdict.NotJudged])
}

// TestCoreOnRandomValues lays the rows that come with wetrule on random values. Rules in Rego of its own read lists,
// which stay as measured.
func TestCoreOnRandomValues(t *testing.T) {
	b, base := coreBook(t)
	f, err := jobfile.FromNode("base", base)
	require.NoError(t, err)
	fast, plain := both(t, b.Rules, b.Modules)
	for seed := range int64(30) {
		r := rand.New(rand.NewSource(seed))
		set := fast.plan.Measure(f.Job)
		scramble(r, set)
		stage := rulebook.Stage(r.Intn(3))
		agree(t, fast.judgeSet(t, set, stage), plain.judgeSet(t, set, stage), func() string { return fmt.Sprintf("seed %d", seed) })
	}
}

// mutator changes jobs at random places, mostly into jobs that can still be read.
type mutator struct {
	*rand.Rand
	enums map[string][]string // what the schema allows, by key
	log   []string
}

func newMutator(t testing.TB, seed int64) *mutator {
	m := &mutator{Rand: rand.New(rand.NewSource(seed)), enums: map[string][]string{}}
	root, err := jobfile.Read("job.schema.json", schema.Bytes("job.schema.json"))
	require.NoError(t, err)
	var walk func(key string, n *jobfile.Node)
	walk = func(key string, n *jobfile.Node) {
		if values := n.Get("enum"); values != nil {
			for _, v := range values.Items() {
				if v.Kind == jobfile.String && !slices.Contains(m.enums[key], v.Text) {
					m.enums[key] = append(m.enums[key], v.Text)
				}
			}
		}
		for _, member := range n.Members() {
			switch member.Key {
			case "properties", "$defs":
				for _, p := range member.Value.Members() {
					walk(p.Key, p.Value)
				}
			case "items":
				walk(key, member.Value)
			}
		}
	}
	walk("", root)
	require.Greater(t, len(m.enums), 20)
	return m
}

// spot is one value of a job with the way to it.
type spot struct {
	key    string
	path   string
	parent *jobfile.Node
	i      int // among the members or items of the parent
}

func (s spot) node() *jobfile.Node {
	if s.parent.Kind == jobfile.Map {
		return s.parent.Members()[s.i].Value
	}
	return s.parent.Items()[s.i]
}

func spots(key, path string, n *jobfile.Node) (out []spot) {
	for i, m := range n.Members() {
		p := path + "/" + m.Key
		out = append(append(out, spot{m.Key, p, n, i}), spots(m.Key, p, m.Value)...)
	}
	for i, x := range n.Items() {
		p := fmt.Sprintf("%s/%d", path, i)
		out = append(append(out, spot{key, p, n, i}), spots(key, p, x)...)
	}
	return out
}

// change makes one change.
func (m *mutator) change(root *jobfile.Node) {
	all := spots("", "", root)
	s := all[m.Intn(len(all))]
	n := s.node()
	says := func(what string, args ...any) { m.log = append(m.log, s.path+" "+fmt.Sprintf(what, args...)) }
	number := func(v float64) {
		n.Num = v
		n.Text = measure.FormatNumber(v)
		says("becomes %s", n.Text)
	}
	switch choice := m.Intn(10); {
	case choice < 3: // a fact goes
		says("goes")
		if s.parent.Kind == jobfile.Map {
			s.parent.SetMembers(slices.Delete(s.parent.Members(), s.i, s.i+1))
		} else {
			s.parent.SetItems(slices.Delete(s.parent.Items(), s.i, s.i+1))
		}
	case n.Kind == jobfile.Number:
		switch m.Intn(5) {
		case 0:
			number(0)
		case 1:
			number(n.Num + 1)
		case 2:
			number(n.Num - 0.001)
		case 3:
			number(measureRound(n.Num * []float64{0.1, 0.5, 1.5, 10}[m.Intn(4)]))
		case 4:
			number(-n.Num)
		}
	case n.Kind == jobfile.Bool:
		n.Bool = !n.Bool
		n.Text = fmt.Sprint(n.Bool)
		says("becomes %s", n.Text)
	case n.Kind == jobfile.String:
		// Another allowed word, or a word that stands under this key elsewhere: another face, item, time.
		words := slices.Clone(m.enums[s.key])
		for _, other := range all {
			if o := other.node(); other.key == s.key && o.Kind == jobfile.String {
				words = append(words, o.Text)
			}
		}
		n.Text = words[m.Intn(len(words))]
		says("becomes %s", n.Text)
	case s.parent.Kind == jobfile.List && m.Intn(2) == 0: // an element comes twice, or elsewhere
		says("comes twice")
		c := n.Clone()
		if id := c.Get("id"); id != nil {
			id.Text = fmt.Sprintf("%s_%d", id.Text, m.Intn(1000))
		}
		s.parent.SetItems(slices.Insert(s.parent.Items(), m.Intn(len(s.parent.Items())+1), c))
	case s.parent.Kind == jobfile.List:
		says("is moved")
		items := s.parent.Items()
		k := m.Intn(len(items))
		items[s.i], items[k] = items[k], items[s.i]
	}
}

func measureRound(v float64) float64 { return math.Round(v*1000) / 1000 }

// TestRandomJobs changes the job of the examples at random and reviews what can still be read.
func TestRandomJobs(t *testing.T) {
	b, base := coreBook(t)
	fast, plain := both(t, b.Rules, b.Modules)
	const jobs = 320
	judged, tried := 0, 0
	var counts [verdict.NotApplicable + 1]int
	outcomes := map[string]map[verdict.Outcome]bool{}
	m := newMutator(t, 1)
	for judged < jobs {
		tried++
		require.Less(t, tried, 20*jobs, "hardly any changed job can be read")
		root := base.Clone()
		m.log = nil
		for range 1 + m.Intn(8) {
			before := root.Clone()
			m.change(root)
			if _, err := jobfile.FromNode("job", root); err != nil {
				root = before // so that changes do not lead ever further away from a job
				m.log = m.log[:max(len(m.log)-1, 0)]
			}
		}
		if len(m.log) == 0 {
			continue
		}
		f, err := jobfile.FromNode("job", root)
		require.NoError(t, err)
		judged++
		stage := rulebook.Stage(m.Intn(3))
		var reviews [2]*verdict.Review
		for i, e := range []*Engine{fast, plain} {
			reviews[i] = &verdict.Review{File: "job", Root: f.Root, Stage: stage, On: f.Job.JudgedOn}
			require.NoError(t, e.Judge(context.Background(), reviews[i], f.Job))
		}
		agree(t, reviews[0], reviews[1], func() string { return fmt.Sprintf("stage %s\n%s", stage, strings.Join(m.log, "\n")) })
		for i := range reviews[0].Verdicts {
			v := &reviews[0].Verdicts[i]
			if outcomes[v.Rule.ID] == nil {
				outcomes[v.Rule.ID] = map[verdict.Outcome]bool{}
			}
			outcomes[v.Rule.ID][v.Outcome] = true
			require.False(t, math.IsNaN(v.Value.Num) || math.IsInf(v.Value.Num, 0), "%s of %s\n%s", v.Rule.ID, v.Subject.ID, strings.Join(m.log, "\n"))
		}
		for o, n := range reviews[0].Counts {
			counts[o] += n
		}
	}
	require.Zero(t, counts[verdict.NotJudged])
	require.Greater(t, counts[verdict.Nonconforming], jobs)
	require.Greater(t, counts[verdict.Undetermined], jobs)
	var several []string
	for id, o := range outcomes {
		if len(o) > 1 {
			several = append(several, id)
		}
	}
	sort.Strings(several)
	require.Greater(t, len(several), len(b.Rules)/2, "the changes reach few rules: %v", several)
	t.Logf("%d jobs of %d could be read; verdicts %v; %d of %d rules gave different outcomes", judged, tried, counts, len(several), len(b.Rules))
}
