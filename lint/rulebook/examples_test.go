package rulebook

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/policies"
)

const baseText = `wetrule: 1
circuits:
  - {id: lights, voltage_v: 12, source: driver}
  - {id: mains, voltage_v: 230}
items:
  - {id: steam_1, kind: steam_outlet, y_mm: 250, generator: generator, tube: {material: copper, od_mm: 22}}
  - {id: generator, kind: steam_generator, circuit: mains}
  - {id: heat, kind: heating_cable, runs: [[1, 2], [3, 4]]}
  - {id: sensor, kind: heating_sensor, cable: heat}
  - {id: stars, kind: fibre_lights, illuminator: driver}
  - {id: driver, kind: light_source}
build_up:
  - {layer: mesh, mass_g_m2: 160}
  - {layer: tile, thickness_mm: 9}
tasks:
  - {task: lay_cable, items: [heat]}
  - {task: fit, items: [heat, steam_1], faces: [north]}
  - {task: tile}
records:
  - {record: cable_reading, item: heat, when: laid}
  - {record: film_thickness, face: north}
rulebooks: [house, regions/gb]
`

func yamlNode(t testing.TB, text string) *jobfile.Node {
	t.Helper()
	n, err := jobfile.Read("changes.yaml", []byte(text))
	require.NoError(t, err)
	return n
}

// jsonOf writes a tree so that two can be compared.
func jsonOf(t testing.TB, n *jobfile.Node) string {
	t.Helper()
	b, err := json.MarshalIndent(n.Value(), "", " ")
	require.NoError(t, err)
	return string(b)
}

// at pointers of the base job, "" where there is nothing.
func valueAt(t testing.TB, root *jobfile.Node, pointer string) string {
	t.Helper()
	n := root.At(pointer)
	if n == nil {
		return ""
	}
	b, err := json.Marshal(n.Value())
	require.NoError(t, err)
	return string(b)
}

func TestApplyFollowsEveryFormOfPath(t *testing.T) {
	for changes, want := range map[string]string{ // pointer = JSON value; empty: nothing there
		"{steam_1.y_mm: 199}":                                "/items/0/y_mm=199",
		"{steam_1.tube.od_mm: 28}":                           "/items/0/tube/od_mm=28",
		"{steam_1.tube.od_mm: null}":                         "/items/0/tube={\"material\":\"copper\"}",
		"{steam_1.tube: null}":                               "/items/0/tube=",
		"{steam_1.guarded: true}":                            "/items/0/guarded=true",
		"{generator.tube.material: copper}":                  "/items/1/tube={\"material\":\"copper\"}", // made on the way
		"{heat.runs.1.0: 7}":                                 "/items/2/runs=[[1,2],[7,4]]",
		"{heat.runs.0: null}":                                "/items/2/runs=[[3,4]]",
		"{heat.runs.+: [5, 6]}":                              "/items/2/runs=[[1,2],[3,4],[5,6]]",
		"{steam_1.inserts.+: {x_mm: 1}}":                     "/items/0/inserts=[{\"x_mm\":1}]", // a list is made on the way
		"{/items/0/y_mm: 1}":                                 "/items/0/y_mm=1",
		"{/items/steam_1/y_mm: 1}":                           "/items/0/y_mm=1",
		"{/items/+: {id: new}}":                              "/items/6={\"id\":\"new\"}",
		"{/items/generator: {id: other}}":                    "/items/1={\"id\":\"other\"}",
		"{/build_up/tile/thickness_mm: 12}":                  "/build_up/1/thickness_mm=12",
		"{/build_up/mesh: null}":                             "/build_up=[{\"layer\":\"tile\",\"thickness_mm\":9}]",
		"{/tasks/tile/planned/start: x}":                     "/tasks/2/planned={\"start\":\"x\"}",
		"{/records/film_thickness/face: south}":              "/records/1/face=\"south\"",
		"{/circuits/lights/voltage_v: 24}":                   "/circuits/0/voltage_v=24",
		"{/wetrule: null}":                                   "/wetrule=",
		"{/title: T}":                                        "/title=\"T\"",
		"{/room/walls/+: {id: north}}":                       "/room/walls=[{\"id\":\"north\"}]",
		"{/notes/a~1b: 1}":                                   "/notes/a~1b=1",
		"{/notes/a~0b: 1}":                                   "/notes/a~0b=1",
		"{/rulebooks/1: firm}":                               "/rulebooks=[\"house\",\"firm\"]",
		"{steam_1.y_mm: 1, steam_1.x_mm: 2}":                 "/items/0/x_mm=2",
		"{steam_1.tube: null, steam_1.tube.od_mm: 18}":       "/items/0/tube={\"od_mm\":18}", // in the order as written
		"{/items/+: {id: last}, last.y_mm: 3}":               "/items/6={\"id\":\"last\",\"y_mm\":3}",
		"{/items/generator/id: boiler, boiler.power_kw: 6}":  "/items/1/power_kw=6",
		"{/items/5: null, /circuits/lights/source: steam_1}": "/circuits/0/source=\"steam_1\"",
	} {
		t.Run(changes, func(t *testing.T) {
			base := yamlNode(t, baseText)
			before := jsonOf(t, base)
			root, err := Example{Changes: yamlNode(t, changes)}.Apply(base)
			require.NoError(t, err)
			pointer, value, _ := strings.Cut(want, "=")
			require.Equal(t, value, valueAt(t, root, pointer))
			require.Equal(t, before, jsonOf(t, base), "the base job was changed")
		})
	}
}

func TestApplyRefusesWhatLeadsNowhere(t *testing.T) {
	for changes, want := range map[string]string{
		"{steam_2.y_mm: 1}":                 `changes.yaml:1:2: steam_2.y_mm: there is no element "steam_2"`,
		"{steam_2: null}":                   `changes.yaml:1:2: steam_2: there is no element "steam_2"`,
		"{steam_1.x_mm: null}":              `changes.yaml:1:2: steam_1.x_mm: there is no "x_mm" to take away`,
		"{generator.tube.od_mm: null}":      `changes.yaml:1:2: generator.tube.od_mm: there is no "od_mm" to take away`,
		"{/titel: null}":                    `changes.yaml:1:2: /titel: there is no "titel" to take away`,
		"{steam_1.y_mm.x: 1}":               `changes.yaml:1:2: steam_1.y_mm.x: "x" lies inside a plain value`,
		"{heat.runs.7: [1, 2]}":             `changes.yaml:1:2: heat.runs.7: there is no element "7"`,
		"{heat.runs.01: [1, 2]}":            `changes.yaml:1:2: heat.runs.01: there is no element "01"`,
		"{heat.runs.-1: [1, 2]}":            `changes.yaml:1:2: heat.runs.-1: there is no element "-1"`,
		"{/items/+: null}":                  `changes.yaml:1:2: /items/+: there is no element "+"`,
		"{/items/+/id: x}":                  `changes.yaml:1:2: /items/+/id: there is no element "+"`,
		"{'': 1}":                           `changes.yaml:1:2: : there is no element ""`,
		"{steam_1.y_mm: 1, /tasks/none: 1}": `changes.yaml:1:19: /tasks/none: there is no element "none"`,
	} {
		t.Run(changes, func(t *testing.T) {
			root, err := Example{Changes: yamlNode(t, changes)}.Apply(yamlNode(t, baseText))
			require.EqualError(t, err, want)
			require.Nil(t, root)
			var ps jobfile.Problems
			require.ErrorAs(t, err, &ps)
		})
	}
	// A mistake in what all examples change is told too.
	_, err := Example{With: yamlNode(t, "{nobody: null}"), Changes: yamlNode(t, "{steam_1.y_mm: 1}")}.Apply(yamlNode(t, baseText))
	require.EqualError(t, err, `changes.yaml:1:2: nobody: there is no element "nobody"`)
}

func TestApplyMakesTheCommonChangesFirst(t *testing.T) {
	e := Example{With: yamlNode(t, "{steam_1.y_mm: 1, steam_1.x_mm: 1}"), Changes: yamlNode(t, "{steam_1.y_mm: 2}")}
	root, err := e.Apply(yamlNode(t, baseText))
	require.NoError(t, err)
	require.Equal(t, []string{"1", "2"}, []string{valueAt(t, root, "/items/0/x_mm"), valueAt(t, root, "/items/0/y_mm")})
	root, err = Example{}.Apply(yamlNode(t, baseText))
	require.NoError(t, err)
	require.Equal(t, jsonOf(t, yamlNode(t, baseText)), jsonOf(t, root))
}

// A change goes into one job only: values that examples share are copied.
func TestAppliedJobsShareNothing(t *testing.T) {
	e := Example{Changes: yamlNode(t, "{steam_1.tube: {od_mm: 1}, /items/+: {id: new, y_mm: 1}}")}
	base := yamlNode(t, baseText)
	one, err := e.Apply(base)
	require.NoError(t, err)
	one.At("/items/0/tube/od_mm").Num = 99
	one.At("/items/6/y_mm").Num = 99
	one.At("/items/1/id").Text = "spoilt"
	two, err := e.Apply(base)
	require.NoError(t, err)
	require.Equal(t, []string{"1", "1", `"generator"`}, []string{valueAt(t, two, "/items/0/tube/od_mm"), valueAt(t, two, "/items/6/y_mm"), valueAt(t, two, "/items/1/id")})
}

// With an item that is taken away goes whatever names it, and nothing else.
func TestTakingAnItemAwayForgetsIt(t *testing.T) {
	apply := func(changes string) *jobfile.Node {
		root, err := Example{Changes: yamlNode(t, changes)}.Apply(yamlNode(t, baseText))
		require.NoError(t, err)
		return root
	}
	for _, changes := range []string{"{heat: null}", "{/items/heat: null}", "{/items/2: null}"} {
		root := apply(changes)
		require.Equal(t, `[{"face":"north","record":"film_thickness"}]`, valueAt(t, root, "/records"), changes)
		require.Equal(t, `[{"faces":["north"],"items":["steam_1"],"task":"fit"},{"task":"tile"}]`, valueAt(t, root, "/tasks"), changes)
		require.Equal(t, `{"id":"sensor","kind":"heating_sensor"}`, valueAt(t, root, "/items/2"), changes)
		require.NotContains(t, jsonOf(t, root), `"heat"`, changes)
	}
	root := apply("{driver: null}")
	require.Equal(t, `{"id":"lights","voltage_v":12}`, valueAt(t, root, "/circuits/0"))
	require.Equal(t, `{"id":"stars","kind":"fibre_lights"}`, valueAt(t, root, "/items/4"))
	root = apply("{generator: null}")
	require.Empty(t, valueAt(t, root, "/items/0/generator"))
	require.NotContains(t, jsonOf(t, root), `"generator"`)

	// Taking away something else, or putting something else in its place, forgets nothing.
	for _, changes := range []string{"{/circuits/mains: null}", "{/build_up/tile: null}", "{/tasks/tile: null}", "{/items/heat: {id: heat, kind: spotlight}}"} {
		root := apply(changes)
		require.Equal(t, `["heat"]`, valueAt(t, root, "/tasks/0/items"), changes)
		require.Equal(t, `"heat"`, valueAt(t, root, "/records/0/item"), changes)
	}
	// A job without lists that could name it.
	root, err := Example{Changes: yamlNode(t, "{a: null}")}.Apply(yamlNode(t, "items: [{id: a}, {id: b}]\n"))
	require.NoError(t, err)
	require.Equal(t, `[{"id":"b"}]`, valueAt(t, root, "/items"))
}

func TestExamplesAreListedBySortAndSayWhatTheyChange(t *testing.T) {
	b := open(t, map[string]string{
		"examples/base.yaml": "not: an example file\n",
		"examples/a.yaml": `examples:
  - rule: height
    subject: s1
    with: {steam_1.x_mm: 1}
    missing: [{steam_1.y_mm: null}]
    not_applicable: {steam_1: null}
    at_limit: []
    nonconforming: [{steam_1.y_mm: 199}, {steam_1.tube: {od_mm: 22, runs: [[1, 2.50], [x]]}, steam_1.guarded: false}]
    conforming: {}
`})
	all, err := b.ReadExamples()
	require.NoError(t, err)
	require.Len(t, all, 1)
	x := all["height"]
	var got []string
	for _, e := range x.List() {
		require.Equal(t, "s1", e.Subject)
		require.Same(t, x.With, e.With)
		require.Equal(t, "house/examples/a.yaml", e.Pos.File())
		got = append(got, fmt.Sprintf("%d %s: %s", e.Pos.Line, e.Sort, e))
	}
	require.Equal(t, []string{
		"9 conforming: the base job as it is",
		"8 nonconforming: steam_1.y_mm: 199",
		"8 nonconforming: steam_1.tube: {od_mm: 22, runs: [[1, 2.50], [x]]}, steam_1.guarded: false",
		"6 not_applicable: steam_1: taken away",
		"5 missing: steam_1.y_mm: taken away",
	}, got)
	require.Equal(t, "the base job as it is", Example{}.String())
	require.Equal(t, []Sort{"conforming", "nonconforming", "at_limit", "not_applicable", "missing"}, Sorts())
}

func TestReadExamplesReportsEveryProblem(t *testing.T) {
	const one = "examples: [{rule: height, conforming: {}}]\n"
	for name, tc := range map[string]struct {
		files map[string]string
		want  string
	}{
		"unknown rule":    {map[string]string{"examples/a.yaml": "examples: [{rule: hight}]\n"}, `house/examples/a.yaml:1:19: there is no rule "hight"; did you mean "height"?`},
		"given twice":     {map[string]string{"examples/a.yaml": one, "examples/b.yaml": one}, `house/examples/b.yaml:1:19: examples of "height" are given twice; first at house/examples/a.yaml:1`},
		"no changes":      {map[string]string{"examples/a.yaml": "examples: [{rule: height, missing: [{}, 3, [], null]}]\n"}, "house/examples/a.yaml:1:41: an example is a set of changes, not a number\nhouse/examples/a.yaml:1:44: an example is a set of changes, not a list\nhouse/examples/a.yaml:1:48: an example is a set of changes, not nothing"},
		"bad YAML":        {map[string]string{"examples/a.yaml": "examples: *x\n"}, "house/examples/a.yaml:1:11: "},
		"unknown sort":    {map[string]string{"examples/a.yaml": "examples: [{rule: height, conformign: {}}]\n"}, `house/examples/a.yaml:1:27: examples[0]: unknown key "conformign"; did you mean "conforming"?`},
		"text for a job":  {map[string]string{"examples/a.yaml": "examples: [{rule: height, missing: all}]\n"}, "house/examples/a.yaml:1:36: examples[0].missing: "},
		"not read":        {map[string]string{"examples/a.yml": one, "examples/c.yaml": one}, "house/examples/a.yml: is not read: the files in examples end in .yaml"},
		"of all files":    {map[string]string{"examples/a.yaml": "examples: 3\n", "examples/b.yaml": "examples: [{rule: xxxx}]\n"}, "house/examples/a.yaml:1:11: examples: \nhouse/examples/b.yaml:1:19: there is no rule \"xxxx\""},
		"rule of another": {map[string]string{"examples/a.yaml": "examples: [{rule: zzzzzzzzz}]\n"}, `house/examples/a.yaml:1:19: there is no rule "zzzzzzzzz"`},
	} {
		t.Run(name, func(t *testing.T) {
			all, err := open(t, tc.files).ReadExamples()
			require.Nil(t, all)
			var ps jobfile.Problems
			require.ErrorAs(t, err, &ps)
			got, want := strings.Split(ps.Error(), "\n"), strings.Split(tc.want, "\n")
			require.Len(t, got, len(want), ps.Error())
			for i := range want {
				require.True(t, strings.HasPrefix(got[i], want[i]), "got  %s\nwant %s", got[i], want[i])
			}
		})
	}
	all, err := open(t, nil).ReadExamples()
	require.NoError(t, err)
	require.Empty(t, all)
}

func TestBaseJob(t *testing.T) {
	root, ok, err := open(t, nil).BaseJob()
	require.NoError(t, err)
	require.False(t, ok)
	require.Nil(t, root)
	root, ok, err = open(t, map[string]string{"examples/base.yaml": baseText}).BaseJob()
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, "house/examples/base.yaml", root.File())
	_, ok, err = open(t, map[string]string{"examples/base.yaml": "a: *x\n"}).BaseJob()
	require.ErrorContains(t, err, "house/examples/base.yaml:1:4")
	require.False(t, ok)
	b, err := Open(brokenFS{book(map[string]string{"examples/base.yaml": baseText}), "examples/base.yaml"}, "house")
	require.NoError(t, err)
	_, ok, err = b.BaseJob()
	require.EqualError(t, err, "house/examples/base.yaml: cannot be read: the disk is broken")
	require.False(t, ok)
}

// Since the base job is in order, an example that shows a fault or a gap must change it.
func TestChangesOfTheExamplesChangeSomething(t *testing.T) {
	fsys, ok := policies.Book("core")
	require.True(t, ok)
	b, err := Open(fsys, "policies/core")
	require.NoError(t, err)
	base, ok, err := b.BaseJob()
	require.NoError(t, err)
	require.True(t, ok)
	all, err := b.ReadExamples()
	require.NoError(t, err)
	n := 0
	for _, r := range b.Rules {
		x := all[r.ID]
		require.NotNil(t, x, r.ID)
		for _, e := range x.List() {
			n++
			root, err := e.Apply(base)
			require.NoError(t, err)
			if e.Sort == ExNonconforming || e.Sort == ExMissing {
				require.NotEqual(t, base.Value(), root.Value(), "%s:%d", e.Pos.File(), e.Pos.Line)
			}
		}
	}
	require.Greater(t, n, 5*len(b.Rules)-1)
}
