package verdict

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

const jobText = `wetrule: 1
reference: t
stage: as_built
judged_on: 2026-01-01
room:
  use: steam_room
  walls:
    - {id: north, width_mm: 2400, height_mm: 2200}
    - id: east
      width_mm: 1800
      build_up: [{layer: tile_bed, coverage_percent: 12}]
build_up: [{layer: waterproofing, service_temperature_max_c: 160}, {layer: tile_bed, coverage_percent: 9}]
circuits: [{id: lights, voltage_v: 12}]
items:
  - {id: s1, kind: steam_outlet, face: north, x_mm: 100, y_mm: 250, tube: {material: copper}}
  - {id: s2, kind: steam_outlet, face: north}
  - {id: lamp, kind: spotlight, face: north, circuit: lights}
  - {id: dark, kind: spotlight, face: north}
records:
  - {record: film_thickness, face: east, readings_mm: [2.5]}
  - {record: film_thickness, face: north, readings_mm: [2.5, 2.0]}
tasks:
  - {task: tile, planned: {start: "2026-03-20T08:00:00+00:00", finish: "2026-03-20T16:00:00+00:00"}}
  - {task: joint, planned: {start: "2026-03-20T10:00:00+00:00"}}
`

// line and column of a text in the job, whose place is that of the value.
func placeOf(text string) (line, col int) {
	i := strings.Index(jobText, text)
	if i < 0 {
		panic("not in the job: " + text)
	}
	before := jobText[:i]
	return 1 + strings.Count(before, "\n"), i - strings.LastIndex(before, "\n")
}

const rowsText = `subject: test
rules:
  - {id: height, title: T, severity: major, from: design, applies_to: steam_outlet, measure: outlet_height_mm, allowed: {at_least: 300}, why: w, remedy: r, source: {id: s, basis: practice}}
  - {id: tube, title: T, severity: minor, from: design, applies_to: steam_outlet, measure: tube_od_mm, allowed: {at_least: 18}, why: w, remedy: r, source: {id: s, basis: practice}}
  - {id: material, title: T, severity: critical, from: design, applies_to: steam_outlet, measure: tube_material, allowed: {is: [plastic]}, why: w, remedy: r, source: {id: s, basis: practice}}
  - {id: voltage, title: T, severity: major, from: design, applies_to: electrical_item, measure: voltage_v, allowed: {at_most: 6}, why: w, remedy: r, source: {id: s, basis: practice}}
  - {id: rcd, title: T, severity: observation, from: design, applies_to: electrical_item, measure: rcd_ma, allowed: {at_most: 30}, why: w, remedy: r, source: {id: s, basis: practice}}
  - {id: bed, title: T, severity: minor, from: design, applies_to: face, measure: bed_coverage_percent, allowed: {at_least: 20}, why: w, remedy: r, source: {id: s, basis: practice}}
  - {id: sheet, title: T, severity: minor, from: design, applies_to: face, measure: waterproofing_service_temperature_max_c, allowed: {at_least: 20}, why: w, remedy: r, source: {id: s, basis: practice}}
  - {id: film, title: T, severity: minor, from: design, applies_to: face, measure: film_least_mm, allowed: {at_least: 20}, why: w, remedy: r, source: {id: s, basis: practice}}
  - {id: duty, title: T, severity: critical, from: design, applies_to: room, measure: floor_fall_percent, allowed: {at_least: 2}, why: w, remedy: r, source: {id: s, basis: practice}}
sequence:
  - {id: order, title: T, severity: major, from: site, applies_to: task, first: tile, then: joint, wait_h: 24, why: w, remedy: r, source: {id: s, basis: practice}}
`

// fixture is a job that is measured, and the rules by id.
type fixture struct {
	*Review
	rules map[string]*rulebook.Rule
}

func measured(t testing.TB) *fixture {
	t.Helper()
	b, err := rulebook.Open(fstest.MapFS{
		"rulebook.yaml": {Data: []byte("rulebook: test\ntitle: T\nedition: '1'\n")},
		"sources.yaml":  {Data: []byte("sources: [{id: s, kind: common_practice, title: Practice}]\n")},
		"rules/a.yaml":  {Data: []byte(rowsText)},
	}, "test")
	require.NoError(t, err)
	f, err := jobfile.Load("job.yaml", []byte(jobText))
	require.NoError(t, err)
	x := &fixture{Review: &Review{File: f.Name, Root: f.Root}, rules: map[string]*rulebook.Rule{}}
	var waits []measure.Wait
	for _, r := range b.Rules {
		x.rules[r.ID] = r
		if w, ok := measure.ParseWait(r.Measure); ok {
			w.Kind = r.AppliesTo
			waits = append(waits, w)
		}
	}
	x.Set = measure.NewPlan(waits).Measure(f.Job)
	return x
}

// verdict makes a verdict of a rule and a subject as judging would.
func (x *fixture) verdict(t testing.TB, rule, subject string) Verdict {
	t.Helper()
	r := x.rules[rule]
	require.NotNil(t, r, rule)
	table := x.Set.Table(r.AppliesTo)
	i := table.Find(subject)
	require.GreaterOrEqual(t, i, 0, subject)
	a := r.Assess(table, i)
	v := Verdict{Rule: r, Subject: &table.Subjects[i], Value: &table.Column(r.Measure)[i]}
	v.SetMore(&More{Lo: a.Lo, Hi: a.Hi})
	switch {
	case a.Applies == rulebook.False:
		v.Outcome = NotApplicable
	case a.Kept == rulebook.Unsure:
		v.Outcome = Undetermined
	case a.Kept == rulebook.False:
		v.Outcome = Nonconforming
	}
	return v
}

func number(x float64) measure.Value { return measure.Value{State: measure.Known, Num: x} }

func TestOutcomes(t *testing.T) {
	require.Equal(t, []string{"conforms", "nonconforming", "undetermined", "not_in_force", "not_judged", "not_applicable"}, Outcomes())
	Outcomes()[0] = "spoilt"
	finding := map[Outcome]bool{Nonconforming: true, Undetermined: true, NotJudged: true}
	for o := Conforms; o <= NotApplicable; o++ {
		require.Equal(t, Outcomes()[o], o.String())
		require.Equal(t, finding[o], (&Verdict{Outcome: o}).Finding(), o)
	}
	far := math.Inf(1)
	for _, c := range []struct {
		value  measure.Value
		lo, hi float64
		want   float64
	}{
		{number(5), 5, far, 0}, {number(5), 8, far, -3}, {number(5), 1, 7, 2}, {number(5), -far, 4.9, -0.1}, {number(5), -far, far, far},
		{number(5), far, far, -far}, {measure.Value{State: measure.Unknown}, 1, 2, math.NaN()}, {measure.Value{}, 1, 2, math.NaN()},
	} {
		v := Verdict{Rule: &rulebook.Rule{}, Value: &c.value}
		v.SetMore(&More{Lo: c.lo, Hi: c.hi})
		if math.IsNaN(c.want) {
			require.True(t, math.IsNaN(v.Margin()))
		} else {
			require.Equal(t, c.want, v.Margin())
		}
		require.Equal(t, isFinite(c.want), v.HasMargin(), c)
	}
	require.True(t, (&Review{}).Judged())
	require.False(t, (&Review{Problems: jobfile.Problems{{Message: "x"}}}).Judged())
	r := &Review{}
	r.Counts[NotJudged] = 1
	require.False(t, r.Judged())
}

// TestPlaceAndMissing holds where verdicts point and what they say is missing.
func TestPlaceAndMissing(t *testing.T) {
	x := measured(t)
	for _, tc := range []struct {
		rule, subject string
		outcome       Outcome
		pointer, at   string // at is the text that begins there
		endCol        int    // beyond the column; 0: the value goes on
		missing       string
	}{
		// The value that was judged.
		{"height", "s1", Nonconforming, "/items/0/y_mm", "250, tube", 3, ""},
		{"material", "s1", Nonconforming, "/items/0/tube/material", "copper", 6, ""},
		{"voltage", "lamp", Nonconforming, "/circuits/0/voltage_v", "12}]\nitems", 2, ""},
		// The nearest parent that exists, when it is missing.
		{"height", "s2", Undetermined, "/items/1", "{id: s2", 0, "y_mm"},
		{"tube", "s1", Undetermined, "/items/0/tube", "{material", 0, "tube.od_mm"},
		{"tube", "s2", Undetermined, "/items/1", "{id: s2", 0, "tube.od_mm"},
		{"rcd", "lamp", Undetermined, "/circuits/0", "{id: lights", 0, "/circuits/lights/rcd_ma"},
		{"voltage", "dark", Undetermined, "/items/3", "{id: dark", 0, "circuit"},
		{"duty", "room", Undetermined, "/room", "use: steam_room", 0, "floor.fall_percent"},
		// What a face says for itself stands in place of what the job says.
		{"bed", "north", Nonconforming, "/build_up/1/coverage_percent", "9}]", 1, ""},
		{"bed", "east", Nonconforming, "/room/walls/1/build_up/0/coverage_percent", "12}]\nbuild_up", 2, ""},
		{"sheet", "north", Conforms, "/build_up/0/service_temperature_max_c", "160", 3, ""},
		// Of several records the one of the subject.
		{"film", "north", Nonconforming, "/records/1/readings_mm", "[2.5, 2.0]", 0, ""},
		{"film", "east", Nonconforming, "/records/0/readings_mm", "[2.5]}", 0, ""},
		// The start that comes too early.
		{"order", "joint_1", Nonconforming, "/tasks/1/planned/start", `"2026-03-20T10`, 27, ""},
	} {
		t.Run(tc.rule+" "+tc.subject, func(t *testing.T) {
			v := x.verdict(t, tc.rule, tc.subject)
			require.Equal(t, tc.outcome.String(), v.Outcome.String())
			line, col := placeOf(tc.at)
			want := Place{Pointer: tc.pointer, Line: line, Col: col}
			if tc.endCol > 0 {
				want.EndCol = col + tc.endCol
			}
			require.Equal(t, want, v.Place(x.Root))
			if tc.outcome == Undetermined {
				fields, absent := x.Missing(&v)
				require.Equal(t, tc.missing, strings.Join(fields, " "))
				require.True(t, absent)
			}
		})
	}
}

// What is missing of all that a rule needs: only what its measures that are not known lack.
func TestMissing(t *testing.T) {
	x := measured(t)
	subject := &measure.Subject{Kind: "steam_outlet", ID: "s2", Pointer: "/items/1", Pos: x.Root.At("/items/1")}
	kind := measure.Lookup("steam_outlet")
	v := Verdict{Rule: &rulebook.Rule{ID: "r", AppliesTo: "steam_outlet", Kind: kind, Measure: "tube_od_mm", Def: kind.Def("tube_od_mm"), When: []rulebook.Condition{{Measure: "outlet_height_mm"}, {Measure: "guarded"}}}, Subject: subject, Value: &measure.Value{State: measure.Unknown}, Outcome: Undetermined}
	fields, absent := x.Missing(&v)
	require.True(t, absent)
	require.Equal(t, []string{"tube.od_mm", "y_mm", "guarded"}, fields)
	require.Equal(t, fields, v.Missing(x.Root))

	// A measure that is known lacks nothing; one that the set does not have is not known.
	subject.ID, subject.Pointer, subject.Pos = "s1", "/items/0", x.Root.At("/items/0")
	fields, absent = x.Missing(&v)
	require.True(t, absent)
	require.Equal(t, []string{"tube.od_mm", "guarded"}, fields)

	// When the job gives all of it and it still is not enough, all of it is listed.
	v.Rule = &rulebook.Rule{ID: "r", AppliesTo: "task", Kind: measure.Lookup("task"), Measure: "planned_joint_after_tile_h"}
	v.Subject = &measure.Subject{Kind: "task", ID: "joint", Pointer: "/tasks/1", Pos: x.Root.At("/tasks/1")}
	r := Review{Root: x.Root}
	fields, absent = r.Missing(&v)
	require.False(t, absent)
	require.Equal(t, []string{"planned.start", "/tasks"}, fields)
}

// Without a tree, or a place of the subject, nothing breaks.
func TestPlaceWithoutATree(t *testing.T) {
	x := measured(t)
	for _, rule := range []string{"height", "bed", "rcd", "order"} {
		v := Verdict{Rule: x.rules[rule], Subject: &measure.Subject{Kind: x.rules[rule].AppliesTo, ID: "nobody", Pointer: "/items/9"}, Value: &measure.Value{State: measure.Unknown}, Outcome: Undetermined}
		require.Equal(t, Place{Pointer: "/items/9"}, v.Place(nil), rule)
		require.NotEmpty(t, v.Missing(nil), rule)
		r := Review{Verdicts: []Verdict{v}}
		require.Len(t, r.Groups(), 1)
	}
}

func TestFingerprint(t *testing.T) {
	x := measured(t)
	v := x.verdict(t, "height", "s1")
	print := v.Fingerprint("job.yaml")
	require.Regexp(t, "^[0-9a-f]{32}$", print)

	// Neither the value nor the outcome nor the place is a part of it.
	same := v
	same.Outcome, same.Value = Undetermined, &measure.Value{}
	same.Change(func(m *More) { m.Lo, m.Reason = 7, "x" })
	moved := *v.Subject
	moved.Pointer, moved.Pos = "/items/7", nil
	same.Subject = &moved
	require.Equal(t, print, same.Fingerprint("job.yaml"))

	// Rule, file, and kind and id of the subject are, each for itself.
	seen := map[string]string{print: "itself"}
	differs := func(what, p string) {
		require.NotContains(t, seen, p, "%s", what)
		seen[p] = what
	}
	differs("file", v.Fingerprint("other.yaml"))
	other := x.verdict(t, "tube", "s1")
	differs("rule", other.Fingerprint("job.yaml"))
	other = x.verdict(t, "height", "s2")
	differs("subject", other.Fingerprint("job.yaml"))
	moved.Kind = "item"
	differs("kind", same.Fingerprint("job.yaml"))
	// Parts do not run into one another.
	differs("parts", (&Verdict{Rule: &rulebook.Rule{ID: "heightjob.yaml"}, Subject: v.Subject}).Fingerprint(""))
}

// Findings come in order of place, rule and subject, whatever the order of the verdicts.
func TestOrderOfFindings(t *testing.T) {
	x := measured(t)
	want := []string{"duty room", "bed east", "bed north", "bed north2", "rcd lamp", "voltage lamp", "height s1", "tube s1", "material s1", "height s2", "material s2", "tube s2", "rcd dark", "voltage dark", "film east", "film north", "order joint_1"}
	var all []Verdict
	for _, name := range want {
		rule, subject, _ := strings.Cut(name, " ")
		v := x.verdict(t, rule, strings.Replace(subject, "north2", "north", 1))
		if subject == "north2" { // at the same place by the same rule
			twin := *v.Subject
			twin.ID = subject
			v.Subject = &twin
		}
		require.True(t, v.Finding(), name)
		all = append(all, v)
	}
	quiet := x.verdict(t, "sheet", "north")
	require.Equal(t, Conforms, quiet.Outcome)
	for shift := range all {
		x.Verdicts = append(append([]Verdict{quiet}, all[shift:]...), all[:shift]...)
		if shift%2 == 1 {
			for i, j := 0, len(x.Verdicts)-1; i < j; i, j = i+1, j-1 {
				x.Verdicts[i], x.Verdicts[j] = x.Verdicts[j], x.Verdicts[i]
			}
		}
		var got []string
		for _, v := range x.Findings() {
			got = append(got, v.Rule.ID+" "+v.Subject.ID)
		}
		require.Equal(t, want, got, "shift %d", shift)
	}
}

// describeGroups writes groups as "outcome: rules / subjects / what is missing".
func describeGroups(r *Review) (out []string) {
	for _, g := range r.Groups() {
		var rules []string
		for _, rule := range g.Rules() {
			rules = append(rules, rule.ID)
		}
		line := fmt.Sprintf("%s: %s / %s", g.Findings[0].Outcome, strings.Join(rules, " "), strings.Join(g.Subjects(), " "))
		if len(g.Missing) > 0 {
			line += " / " + strings.Join(g.Missing, " ")
		}
		out = append(out, line)
	}
	return out
}

func TestGroups(t *testing.T) {
	x := measured(t)
	twin := func(v Verdict, id string) Verdict {
		s := *v.Subject
		s.ID = id
		v.Subject = &s
		return v
	}
	bed, rcd, voltage := x.verdict(t, "bed", "north"), x.verdict(t, "rcd", "lamp"), x.verdict(t, "voltage", "dark")
	noted := twin(bed, "noted")
	eight := number(8)
	noted.Value = &eight
	stricter := twin(bed, "stricter")
	stricter.Change(func(m *More) { m.Lo = 21 })
	broken := twin(bed, "broken")
	broken.Outcome = NotJudged
	broken.Change(func(m *More) { m.Reason = "crash" })

	// One default of the job that several faces share; another value, another limit and another outcome stand apart.
	x.Verdicts = []Verdict{bed, twin(bed, "south"), noted, stricter, broken, twin(broken, "broken2")}
	require.Equal(t, []string{"not_judged: bed / broken broken2", "nonconforming: bed / north south", "nonconforming: bed / noted", "nonconforming: bed / stricter"}, describeGroups(x.Review))
	require.Equal(t, x.Groups()[0].Place, x.Groups()[0].Findings[0].Place(x.Root))

	// One gap that leaves several rules open; the rule of the gravest finding comes first.
	grave := voltage
	rule := *voltage.Rule
	rule.ID, rule.Severity = "zz-grave", rulebook.Critical
	grave.Rule = &rule
	light := x.verdict(t, "rcd", "dark")
	x.Verdicts = []Verdict{light, voltage, grave, rcd}
	require.Equal(t, []string{"undetermined: rcd / lamp / /circuits/lights/rcd_ma", "undetermined: zz-grave voltage rcd / dark / circuit"}, describeGroups(x.Review))
	require.True(t, x.Groups()[1].Absent)

	// A gap of a subject is its own, even where two lack the same field; one of the job is everybody's.
	x.Verdicts = []Verdict{x.verdict(t, "height", "s2"), x.verdict(t, "tube", "s2"), x.verdict(t, "tube", "s1"), rcd, twin(rcd, "lamp2")}
	require.Equal(t, []string{"undetermined: rcd / lamp lamp2 / /circuits/lights/rcd_ma", "undetermined: tube / s1 / tube.od_mm", "undetermined: height / s2 / y_mm", "undetermined: tube / s2 / tube.od_mm"}, describeGroups(x.Review))

	// All findings of a rule stand together, those of the graver rule first, and each finding is in one group.
	x.Verdicts = []Verdict{twin(light, "dark"), grave, twin(grave, "dark"), light, voltage}
	groups := x.Groups()
	n := 0
	for _, g := range groups {
		n += len(g.Findings)
	}
	require.Equal(t, len(x.Verdicts), n)
	require.Equal(t, []string{"undetermined: zz-grave voltage rcd / dark / circuit"}, describeGroups(x.Review))

	x.Verdicts = nil
	require.Empty(t, x.Groups())
	require.Empty(t, x.Findings())
}
