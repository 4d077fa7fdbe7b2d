package lint

import (
	"bytes"
	"context"
	"io/fs"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/jobfile/jobtest"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
)

// bases are jobs to be changed.
func bases(t testing.TB) []*jobfile.Node {
	t.Helper()
	var out []*jobfile.Node
	for _, name := range append(demos(t), "../policies/core/examples/base.yaml") {
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		root, err := jobfile.Read(name, data)
		require.NoError(t, err)
		out = append(out, root)
	}
	return out
}

// FuzzLeaves reads arbitrary bytes as leaves and lays them over a review: nothing is conceded but what does not conform, each verdict by one
// leave that holds on the day, and every other leave for a rule of the review is told as a fault or is of another job.
func FuzzLeaves(f *testing.F) {
	for _, s := range []string{
		leaveOf(goodLeave), leaveOf(goodLeave + ", job: t"), leaveOf(goodLeave) + "  - {" + goodLeave + "}\n",
		leaveOf("rule: steam-outlet-guarded, item: s, leave: deviation_permit, reason: r, by: [a, b], issued: 2026-06-01, until: 2026-06-30, value: false"),
		leaveOf(strings.Replace(goodLeave, "down_to: 150", "up_to: 1e3, down_to: -0", 1)), leaveOf(strings.Replace(goodLeave, "item: s", "item: blank", 1)),
	} {
		f.Add([]byte(s))
	}
	l := core(f)
	job, err := jobfile.Load("job.yaml", []byte(lowJob))
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, data []byte) {
		side, err := parseLeaves("leaves.yaml", data)
		if err != nil {
			var ps jobfile.Problems
			require.ErrorAs(t, err, &ps)
			for _, p := range ps {
				require.Equal(t, "leaves.yaml", p.File)
				require.NotEmpty(t, p.Message)
			}
			return
		}
		r, err := l.ReviewFile(context.Background(), job)
		require.NoError(t, err)
		ready, err := l.prepare(nil, r.On)
		require.NoError(t, err)
		r.ApplyLeaves(side.name, side.leaves, ready.known, ready.engine.Judges)
		conceded := map[*jobfile.Leave]bool{}
		for i := range r.Verdicts {
			v := &r.Verdicts[i]
			if v.Leave() == nil {
				continue
			}
			require.Equal(t, verdict.Nonconforming, v.Outcome)
			require.LessOrEqual(t, v.Leave().Issued, r.On)
			require.GreaterOrEqual(t, v.Leave().Until, r.On)
			require.NotEmpty(t, v.Leave().By)
			require.False(t, conceded[v.Leave()])
			conceded[v.Leave()] = true
		}
		faulty := map[*jobfile.Leave]bool{}
		for _, x := range r.Faults {
			require.NotEmpty(t, x.Text)
			require.Positive(t, x.Place.Line)
			require.False(t, conceded[x.Leave], "conceded and at fault: %s", x.Text)
			faulty[x.Leave] = true
		}
		for i := range side.leaves {
			lv := &side.leaves[i]
			twice := false // an equal leave that holds speaks for this one
			for other := range conceded {
				twice = twice || ready.known[other.Rule] == ready.known[lv.Rule] && other.Item == lv.Item
			}
			require.True(t, conceded[lv] || faulty[lv] || twice || lv.Job != "" && lv.Job != r.Reference, "nothing is said of a leave: %+v", lv)
		}
	})
}

// FuzzSnapshot reads arbitrary bytes as a snapshot: what is accepted compares, tightens and is written so that it reads back the same.
func FuzzSnapshot(f *testing.F) {
	l := core(f)
	var reviews []*verdict.Review
	for _, text := range []string{lowJob, strings.Replace(lowJob, "y_mm: 150", "y_mm: 160", 1)} {
		r, err := l.Review(context.Background(), "job.yaml", []byte(text))
		require.NoError(f, err)
		reviews = append(reviews, r)
		var b bytes.Buffer
		require.NoError(f, verdict.Take(reviews[len(reviews)-1:]).Write(&b))
		f.Add(b.Bytes())
	}
	for _, s := range []string{`{"snapshot": 1, "findings": []}`, `{"snapshot": 1, "findings": [null]}`, `{"snapshot": 1} {}`, `{"snapshot": 1, "findings": [{"fingerprint": "x", "margin": -1e308}]}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := verdict.ReadSnapshot("s.json", data)
		if err != nil {
			require.Contains(t, err.Error(), "s.json is")
			return
		}
		for _, r := range reviews {
			for i := range r.Verdicts {
				r.Verdicts[i].Change(func(m *verdict.More) { m.Known = nil })
			}
			p := s.Compare([]*verdict.Review{r})
			tight := s.Tighten(p)
			require.LessOrEqual(t, len(tight.Findings), len(s.Findings))
			require.LessOrEqual(t, p.Known+len(p.Gone), len(s.Findings))
			var once, twice bytes.Buffer
			require.NoError(t, tight.Write(&once))
			again, err := verdict.ReadSnapshot("s.json", once.Bytes())
			require.NoError(t, err)
			require.NoError(t, again.Write(&twice))
			require.Equal(t, once.String(), twice.String())
			// What is tightened does not get looser by being compared once more.
			for i := range r.Verdicts {
				r.Verdicts[i].Change(func(m *verdict.More) { m.Known = nil })
			}
			next := again.Compare([]*verdict.Review{r})
			require.Empty(t, next.Better)
			require.Empty(t, next.Gone)
			require.Equal(t, p.Worse, next.Worse)
		}
	})
}

// FuzzRulebook opens arbitrary folders as a rulebook, lays it over core and reviews a job by it. It never panics, a refusal is told,
// and what is accepted judges or says that it could not.
func FuzzRulebook(f *testing.F) {
	files, err := NewRulebook("house", "firm", "")
	require.NoError(f, err)
	archive := func(change ...string) string {
		var b strings.Builder
		for _, name := range keysOf(files) {
			if len(change) == 0 || name != change[0] {
				b.WriteString("-- " + name + "\n" + files[name])
			}
		}
		for i := 0; i+1 < len(change); i += 2 {
			b.WriteString("-- " + change[i] + "\n" + change[i+1])
		}
		return b.String()
	}
	seeds := []string{archive()}
	seeds = append(seeds, archive("rego/own.rego", "package wetrule.rules\n\nfindings contains [\"own\", input.steam_outlet.id[i], v] if {\n\tsome i, v in input.steam_outlet.outlet_height_mm\n\tv < 200\n}\n"))
	fsys, _ := policies.Book("core")
	zones, err := fs.ReadFile(fsys, "zones.yaml")
	require.NoError(f, err)
	seeds = append(seeds, archive("zones.yaml", regexp.MustCompile(`(source: *\{id:|source:\s+id:) *[a-z0-9-]+`).ReplaceAllString(string(zones), "source: {id: house-book")))
	seeds = append(seeds, archive("rules/house.yaml", "subject: house\namendments:\n  - {rule: steam-outlet-height, change: loosen, title: T, allowed: {at_least: 20}, reason: firm, source: {id: house-book, basis: read}}\n  - {rule: steam-outlet-guarded, change: off, reason: r}\n", "examples/house.yaml", "examples: []\n"))
	seeds = append(seeds, archive("rules/own.yaml", "subject: own\nrules:\n  - {id: own, title: Own, severity: minor, from: design, applies_to: steam_outlet, measure: outlet_height_mm, rego: true, says: so, needs: [outlet_height_mm], why: w, remedy: r, source: {id: house-book, basis: read}}\n",
		"rego/own.rego", "package wetrule.rules\n\nfindings contains [\"own\", input.steam_outlet.id[i], v] if {\n\tsome i, v in input.steam_outlet.outlet_height_mm\n\tv < 200\n}\n"))
	job := []byte(heightJob)
	for _, seed := range seeds {
		_, err := rulebook.Open(folderOf(seed), "house")
		require.NoError(f, err)
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		m := folderOf(text)
		for name := range m { // a file cannot be a folder too
			for other := range m {
				if strings.HasPrefix(other, name+"/") {
					return
				}
			}
		}
		b, err := rulebook.Open(m, "house")
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		_, _ = b.ReadExamples()
		_, _, _ = b.BaseJob()
		l, err := New(Options{Books: []*rulebook.Rulebook{b}})
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		r, err := l.Review(context.Background(), "job.yaml", job)
		require.NoError(t, err)
		if len(r.Problems) > 0 {
			return
		}
		for i := range r.Verdicts {
			if v := &r.Verdicts[i]; v.Rule.Rulebook == "core" && !v.Rule.Rego {
				require.False(t, v.Outcome == verdict.NotJudged && v.Reason() == "", v.Rule.ID)
			}
		}
	})
}

// folderOf makes a folder of a text in which each file begins with a line of two dashes and its name.
func folderOf(text string) fstest.MapFS {
	m := fstest.MapFS{}
	for _, part := range strings.Split("\n"+text, "\n-- ")[1:] {
		name, data, _ := strings.Cut(part, "\n")
		if fs.ValidPath(name) && name != "." && len(m) < 30 {
			m[name] = &fstest.MapFile{Data: []byte(data + "\n")}
		}
	}
	return m
}

func keysOf(m map[string]string) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// FuzzRoute proposes routes of cables in changed jobs: a proposal is runs that the job takes.
func FuzzRoute(f *testing.F) {
	all := bases(f)
	for i := range all {
		f.Add(byte(i), []byte{})
		f.Add(byte(i), []byte{0, 9, 1, 2, 1, 44, 3, 4})
	}
	f.Fuzz(func(t *testing.T, base byte, spelling []byte) {
		file, err := jobtest.Change(all[int(base)%len(all)], spelling)
		require.NoError(t, err)
		for i := range file.Job.Items {
			it := &file.Job.Items[i]
			if it.Kind != "heating_cable" {
				continue
			}
			text, err := ProposeRoute(file, it.ID)
			if err != nil {
				require.NotEmpty(t, err.Error())
				continue
			}
			runs, err := jobfile.Read("runs.yaml", []byte(text))
			require.NoError(t, err, text)
			require.NotNil(t, runs.Get("runs"), text)
			root := file.Root.Clone()
			item := root.Get("items").Items()[i]
			at := -1
			for k := range item.Members() {
				if item.Members()[k].Key == "runs" {
					at = k
				}
			}
			if at < 0 {
				item.SetMembers(append(item.Members(), jobfile.Member{Key: "runs"}))
				at = len(item.Members()) - 1
			}
			item.Members()[at].Value = runs.Get("runs")
			_, err = jobfile.FromNode("job.yaml", root)
			require.NoError(t, err, text)
		}
	})
}
