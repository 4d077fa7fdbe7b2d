package compare_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/compare"
	"wetrule/lint/jobfile"
)

func merge(t testing.TB, office, site, issue string, prefer compare.Prefer) *compare.Merged {
	t.Helper()
	var issued *jobfile.File
	if issue != "" {
		issued = load(t, "issue.yaml", issue)
	}
	m, err := compare.Merge(load(t, "office.yaml", office), load(t, "site.yaml", site), issued, []byte(office), []byte(site), prefer)
	require.NoError(t, err)
	return m
}

func why(list []*compare.Taken) []string {
	out := []string{}
	for _, t := range list {
		out = append(out, t.Part.Name()+" "+t.Field+": "+t.Why)
	}
	return out
}

const (
	before = `  - {task: insulate_tube, items: [steam_1], planned: {start: "2026-03-02T08:00:00+00:00", finish: "2026-03-02T09:00:00+00:00"}}`
	done   = `  - {task: insulate_tube, items: [steam_1], planned: {start: "2026-03-02T08:00:00+00:00", finish: "2026-03-02T09:00:00+00:00"}, actual: {start: "2026-03-02T08:00:00+00:00", finish: "2026-03-02T09:30:00+00:00"}}`
	photo  = "\nrecords:\n  - {record: photo, name: groove.jpg, item: heat}\n"
)

// TestMergeOfAnOfficeThatChangedNothing: the site's text is taken as it is, byte by byte.
func TestMergeOfAnOfficeThatChangedNothing(t *testing.T) {
	issue := clean(t)
	site := with(t, issue, before, done, outlet, "y_mm: 280 # as found")
	m := merge(t, issue, site, issue, compare.Neither)
	require.Equal(t, site, string(m.Data))
	require.Len(t, m.Taken, 3)
	require.Empty(t, m.Conflicts)
}

// TestMergeOfTwoSides: both changed other facts. The office's text changes only where the site said something.
func TestMergeOfTwoSides(t *testing.T) {
	issue := clean(t)
	office := with(t, issue, "people: 4", "people: 5 # a larger family", "\nrecords:\n", "\n# what was read\nrecords:\n")
	site := with(t, issue, before, done, outlet, "y_mm: 280", "\nrecords:\n", photo, spot, "face: ceiling, x_mm: 630, y_mm: 1250", "  hand_saw: true\n", "")
	m := merge(t, office, site, issue, compare.Neither)
	require.Empty(t, m.Conflicts)
	require.Empty(t, m.Left)
	want := with(t, office, before, done, outlet, "y_mm: 280", spot, "face: ceiling, x_mm: 630, y_mm: 1250", "  hand_saw: true\n", "",
		lines(t, office, "  - {record: cable_reading"), lines(t, office, "  - {record: cable_reading")+"  - {record: photo, name: groove.jpg, item: heat}\n")
	// The library's writer breaks one flow list otherwise.
	want = with(t, want, "materials:\n  [", "materials: [")
	require.Equal(t, want, string(m.Data))
}

func TestConflicts(t *testing.T) {
	issue := clean(t)
	office := with(t, issue, outlet, "y_mm: 270", lines(t, issue, "  - {id: drain,"), "", lines(t, issue, "  - {id: hose,"), "")
	site := with(t, issue, outlet, "y_mm: 280", "opening_diameter_mm: 110, flange_mm: 50", "opening_diameter_mm: 112, flange_mm: 50", lines(t, issue, "  - {id: hose,"), "")
	m := merge(t, office, site, issue, compare.Neither)
	require.Nil(t, m.Data)
	require.Equal(t, []string{"steam_1, steam outlet y_mm: the office says something else meanwhile", "drain, drain opening_diameter_mm: the office took it away"}, why(m.Conflicts))

	// Preferring a side settles what both changed; what is gone stays gone.
	m = merge(t, office, site, issue, compare.Site)
	require.Contains(t, string(m.Data), "y_mm: 280")
	require.Equal(t, []string{"drain, drain opening_diameter_mm: the office took it away"}, why(m.Left))
	m = merge(t, office, site, issue, compare.Office)
	require.Contains(t, string(m.Data), "y_mm: 270")
	require.Len(t, m.Left, 2)

	// The order of walls is nobody's to guess.
	a, b := lines(t, issue, "    - {id: right,"), lines(t, issue, "    - {id: left,")
	turned := with(t, issue, a, "@\n", b, a, "@\n", b)
	m = merge(t, with(t, issue, "people: 4", "people: 5"), turned, issue, compare.Site)
	require.Equal(t, []string{"room walls: the order is another on site; put it right by hand"}, why(m.Conflicts))
	require.Nil(t, m.Data)
}

// TestMergeWithoutAnIssue: only what the site alone says can be taken over.
func TestMergeWithoutAnIssue(t *testing.T) {
	office := clean(t)
	site := with(t, office, before, done, outlet, "y_mm: 280", "people: 4\n", "\n", lines(t, office, "  - {id: hose,"), "")
	m := merge(t, office, site, "", compare.Neither)
	require.Equal(t, []string{"steam_1, steam outlet y_mm: the office says something else"}, why(m.Conflicts))
	m = merge(t, office, site, "", compare.Site)
	require.Contains(t, string(m.Data), "y_mm: 280")
	require.Contains(t, string(m.Data), "people: 4", "what only the office says is kept")
	require.Contains(t, string(m.Data), "id: hose")
	require.Contains(t, string(m.Data), done)
}

// TestMergeMakesWhatIsMissing: lists and maps that the office does not have yet.
func TestMergeMakesWhatIsMissing(t *testing.T) {
	const issue = "wetrule: 1\nreference: r\nstage: site\njudged_on: 2026-03-02\nroom:\n  use: steam_room\n  walls: [{id: n, width_mm: 2000}]\n"
	site := issue + "  floor: {fall_percent: 2}\nrecords: [{record: photo, name: a.jpg}, {record: photo, name: b.jpg}]\ntools: {hole_saws_mm: [68]}\n"
	office := with(t, issue, "reference: r", "reference: r2")
	m := merge(t, office, site, issue, compare.Neither)
	require.Equal(t, `wetrule: 1
reference: r2
stage: site
judged_on: 2026-03-02
room:
  use: steam_room
  walls: [{id: n, width_mm: 2000}]
  floor: {fall_percent: 2}
records:
  - {record: photo, name: a.jpg}
  - {record: photo, name: b.jpg}
tools: {hole_saws_mm: [68]}
`, string(m.Data))

	// The same in JSON.
	json := `{"wetrule": 1, "reference": "r2", "stage": "site", "judged_on": "2026-03-02", "room": {"use": "steam_room", "walls": [{"id": "n", "width_mm": 2000}]}}`
	f, err := jobfile.Load("office.json", []byte(json))
	require.NoError(t, err)
	got, err := compare.Merge(f, load(t, "site.yaml", site), load(t, "issue.yaml", issue), []byte(json), []byte(site), compare.Neither)
	require.NoError(t, err)
	back, err := jobfile.Load("office.json", got.Data)
	require.NoError(t, err)
	require.True(t, compare.Same(back.Root, load(t, "m.yaml", string(m.Data)).Root))
}

// TestMergeTakesAllAndNothingElse: whatever numbers two sides change, the merged job says what each of them changed, and where both
// changed the same it is a conflict.
func TestMergeTakesAllAndNothingElse(t *testing.T) {
	text := clean(t)
	root := load(t, "a.yaml", text).Root
	fields := []string{"/items/0/x_mm", "/items/0/y_mm", "/items/0/tube/od_mm", "/items/2/watts_per_m", "/items/9/x_mm", "/room/people", "/panel/thickness_mm", "/build_up/1/thickness_mm", "/circuits/0/length_m", "/tools/saw_reach_mm", "/room/walls/1/width_mm"}
	rapid.Check(t, func(rt *rapid.T) {
		draw := func(name string) map[string]float64 {
			return rapid.MapOfN(rapid.SampledFrom(fields), rapid.Float64Range(21, 30), 0, 4).Draw(rt, name)
		}
		edited := func(set map[string]float64) string {
			var edits []jobfile.Edit
			for _, f := range fields {
				if v, ok := set[f]; ok {
					edits = append(edits, jobfile.Edit{Pointer: f, Value: &jobfile.Node{Kind: jobfile.Number, Num: float64(int(v*10)) / 10}})
				}
			}
			data, err := jobfile.Rewrite("a.yaml", []byte(text), edits)
			require.NoError(rt, err)
			return string(data)
		}
		a, b := draw("office"), draw("site")
		office, site := edited(a), edited(b)
		officeRoot, siteRoot := mustRead(rt, office), mustRead(rt, site)
		m, err := compare.Merge(&jobfile.File{Name: "a.yaml", Root: officeRoot}, &jobfile.File{Name: "b.yaml", Root: siteRoot}, &jobfile.File{Name: "i.yaml", Root: root}, []byte(office), []byte(site), compare.Neither)
		require.NoError(rt, err)
		conflicts := 0
		for _, f := range fields {
			x, y, z := officeRoot.At(f), siteRoot.At(f), root.At(f)
			if !compare.Same(x, z) && !compare.Same(y, z) && !compare.Same(x, y) {
				conflicts++
			}
		}
		require.Len(rt, m.Conflicts, conflicts)
		if conflicts > 0 {
			require.Nil(rt, m.Data)
			return
		}
		merged := mustRead(rt, string(m.Data))
		for _, f := range fields {
			want := officeRoot.At(f)
			if !compare.Same(siteRoot.At(f), root.At(f)) {
				want = siteRoot.At(f)
			}
			require.True(rt, compare.Same(want, merged.At(f)), f)
		}
		require.LessOrEqual(rt, len(compare.Jobs(root, merged)), len(a)+len(b))
	})
}

func mustRead(t require.TestingT, text string) *jobfile.Node {
	n, err := jobfile.Read("a.yaml", []byte(text))
	require.NoError(t, err)
	return n
}

// TestHostileTextStaysText: what a site writes into a note never becomes more than a note.
func TestHostileTextStaysText(t *testing.T) {
	issue := clean(t)
	for _, text := range []string{"a: b", "# no comment", "- x", "*a", "&a b", "!tag", "2026-03-02", "yes", "null", "~", "0x1f", "1_000", "'", `"`, "a\nb", "{", "]", "\u2028x"[3:], "@", "`", "%", "é ñ 🌧", " lead", "trail ", ": ", "<<", "=", "."} {
		edits := []jobfile.Edit{{Pointer: "/note", Value: jobfile.NewText(text)}, {Pointer: "/items/0/note", Value: jobfile.NewText(text)}}
		data, err := jobfile.Rewrite("a.yaml", []byte(issue), edits)
		require.NoError(t, err, text)
		f, err := jobfile.Load("a.yaml", data)
		require.NoError(t, err, text)
		require.Equal(t, text, f.Job.Note)
		require.Equal(t, text, f.Job.Items[0].Note)
		require.Equal(t, strings.Count(issue, "- {id:"), strings.Count(string(data), "- {id:"))
	}
}
