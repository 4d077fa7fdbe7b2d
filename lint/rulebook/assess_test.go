package rulebook

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/measure"
)

// tableOf is a table with one subject. What is not given is not known.
func tableOf(k *measure.Kind, values map[string]measure.Value) *measure.Table {
	t := &measure.Table{Kind: k, Subjects: []measure.Subject{{Kind: k.Name, ID: "s"}}, Defs: k.Defs}
	for _, d := range k.Defs {
		v, given := values[d.Name]
		if !given {
			v.State = measure.Unknown
		}
		t.Columns = append(t.Columns, []measure.Value{v})
	}
	return t
}

func known(v any) measure.Value {
	out := measure.Value{State: measure.Known}
	switch v := v.(type) {
	case float64:
		out.Num = v
	case int:
		out.Num = float64(v)
	case string:
		out = out.WithText(v)
	case bool:
		out.Flag = v
	}
	return out
}

var (
	none    = measure.Value{State: measure.None}
	unknown = measure.Value{State: measure.Unknown}
)

func (t Truth) String() string { return [...]string{"false", "unsure", "true"}[t] }

// TestAssessTruthTable states what a row finds for every state of its values.
func TestAssessTruthTable(t *testing.T) {
	inf := math.Inf(1)
	const height, od, wall, material, guarded = "outlet_height_mm", "tube_od_mm", "opening_needed_mm", "tube_material", "guarded"
	type values = map[string]measure.Value
	for _, tc := range []struct {
		name    string
		row     []string // swaps of the good row
		values  values
		applies Truth
		kept    Truth
		lo, hi  float64
		margin  float64 // NaN: there is none
	}{
		{"within", nil, values{height: known(250)}, True, True, 200, inf, 50},
		{"on the limit", nil, values{height: known(200)}, True, True, 200, inf, 0},
		{"outside", nil, values{height: known(199.5)}, True, False, 200, inf, -0.5},
		{"not known", nil, values{}, True, Unsure, 200, inf, math.NaN()},
		{"does not arise", nil, values{height: none}, False, False, -inf, inf, math.NaN()},
		{"on an open limit", []string{"at_least", "above"}, values{height: known(200)}, True, False, 200, inf, 0},
		{"just above an open limit", []string{"at_least", "above"}, values{height: known(200.5)}, True, True, 200, inf, 0.5},
		{"on an open upper limit", []string{"at_least", "below"}, values{height: known(200)}, True, False, -inf, 200, 0},
		{"on an upper limit", []string{"at_least", "at_most"}, values{height: known(200)}, True, True, -inf, 200, 0},
		{"nearer the upper limit", []string{"at_least: 200", "between: [200, 300]"}, values{height: known(290)}, True, True, 200, 300, 10},
		{"above the upper limit", []string{"at_least: 200", "between: [200, 300]"}, values{height: known(302)}, True, False, 200, 300, -2},

		{"listed number", []string{"at_least: 200", "is: [200, 250]"}, values{height: known(250)}, True, True, -inf, inf, math.NaN()},
		{"number that is not listed", []string{"at_least: 200", "is: [200, 250]"}, values{height: known(225)}, True, False, -inf, inf, math.NaN()},
		{"listed number, not known", []string{"at_least: 200", "is: [200, 250]"}, values{}, True, Unsure, -inf, inf, math.NaN()},
		{"listed text", []string{height + ", allowed: {at_least: 200}", material + ", allowed: {is: [copper]}"}, values{material: known("copper")}, True, True, -inf, inf, math.NaN()},
		{"text that is not listed", []string{height + ", allowed: {at_least: 200}", material + ", allowed: {is: [copper]}"}, values{material: known("plastic")}, True, False, -inf, inf, math.NaN()},
		{"flag that is no", []string{height + ", allowed: {at_least: 200}", guarded + ", allowed: {is: [false]}"}, values{guarded: known(false)}, True, True, -inf, inf, math.NaN()},
		{"flag that is yes", []string{height + ", allowed: {at_least: 200}", guarded + ", allowed: {is: [false]}"}, values{guarded: known(true)}, True, False, -inf, inf, math.NaN()},

		{"condition holds", []string{"measure", "when: [{measure: guarded, is: [false]}], measure"}, values{height: known(100), guarded: known(false)}, True, False, 200, inf, -100},
		{"condition does not hold", []string{"measure", "when: [{measure: guarded, is: [false]}], measure"}, values{height: known(100), guarded: known(true)}, False, False, -inf, inf, math.NaN()},
		{"condition does not arise", []string{"measure", "when: [{measure: guarded, is: [false]}], measure"}, values{height: known(100), guarded: none}, False, False, -inf, inf, math.NaN()},
		{"condition not known, value outside", []string{"measure", "when: [{measure: guarded, is: [false]}], measure"}, values{height: known(100)}, Unsure, False, 200, inf, -100},
		{"condition not known, value within", []string{"measure", "when: [{measure: guarded, is: [false]}], measure"}, values{height: known(300)}, Unsure, True, 200, inf, 100},
		{"nothing known", []string{"measure", "when: [{measure: guarded, is: [false]}], measure"}, values{}, Unsure, Unsure, 200, inf, math.NaN()},
		{"one condition not known, another does not hold", []string{"measure", "when: [{measure: guarded, is: [false]}, {measure: tube_material, is: [copper]}], measure"}, values{height: known(300), material: known("plastic")}, False, False, -inf, inf, math.NaN()},
		{"condition with limits, on the lower", []string{"measure", "when: [{measure: tube_od_mm, at_least: 18, at_most: 22}], measure"}, values{height: known(300), od: known(18)}, True, True, 200, inf, 100},
		{"condition with limits, on the upper", []string{"measure", "when: [{measure: tube_od_mm, at_least: 18, at_most: 22}], measure"}, values{height: known(300), od: known(22)}, True, True, 200, inf, 100},
		{"condition with limits, outside", []string{"measure", "when: [{measure: tube_od_mm, at_least: 18, at_most: 22}], measure"}, values{height: known(300), od: known(22.001)}, False, False, -inf, inf, math.NaN()},

		{"limit that is a measure, kept", []string{"at_least: 200", "at_least_measure: opening_needed_mm"}, values{height: known(64), wall: known(64)}, True, True, 64, inf, 0},
		{"limit that is a measure, not kept", []string{"at_least: 200", "at_least_measure: opening_needed_mm"}, values{height: known(63), wall: known(64)}, True, False, 64, inf, -1},
		{"limit that is a measure, not known", []string{"at_least: 200", "at_least_measure: opening_needed_mm"}, values{height: known(63)}, True, Unsure, -inf, inf, inf},
		{"limit that is a measure, does not arise", []string{"at_least: 200", "at_least_measure: opening_needed_mm"}, values{height: known(63), wall: none}, False, False, -inf, inf, math.NaN()},
		{"outside the figure, the other limit not known", []string{"at_least: 200", "at_least: 200, at_most_measure: opening_needed_mm"}, values{height: known(63)}, True, False, 200, inf, -137},
		{"inside the figure, the other limit not known", []string{"at_least: 200", "at_least: 200, at_most_measure: opening_needed_mm"}, values{height: known(263)}, True, Unsure, 200, inf, 63},
		{"measure stricter than an open figure", []string{"at_least: 200", "above: 200, at_least_measure: opening_needed_mm"}, values{height: known(210), wall: known(210)}, True, True, 210, inf, 0},
		{"open figure stricter than the measure", []string{"at_least: 200", "above: 200, at_least_measure: opening_needed_mm"}, values{height: known(200), wall: known(200)}, True, False, 200, inf, 0},
		{"upper limit that is a measure", []string{"at_least: 200", "below: 200, at_most_measure: opening_needed_mm"}, values{height: known(151), wall: known(150)}, True, False, -inf, 150, -1},
		{"measures that leave nothing", []string{"at_least: 200", "at_least_measure: opening_needed_mm, at_most_measure: tube_od_mm"}, values{height: known(50), wall: known(64), od: known(22)}, True, False, 64, 22, -28},

		{"Rego with all it needs", []string{"allowed: {at_least: 200}", "rego: true, says: so, needs: [outlet_height_mm, tube_od_mm]"}, values{height: known(1), od: known(2)}, True, True, -inf, inf, math.NaN()},
		{"Rego without all it needs", []string{"allowed: {at_least: 200}", "rego: true, says: so, needs: [outlet_height_mm, tube_od_mm]"}, values{height: known(1)}, True, Unsure, -inf, inf, math.NaN()},
		{"Rego with a need that does not arise", []string{"allowed: {at_least: 200}", "rego: true, says: so, needs: [outlet_height_mm, tube_od_mm]"}, values{height: known(1), od: none}, True, True, -inf, inf, math.NaN()},
		{"Rego whose measure does not arise", []string{"allowed: {at_least: 200}", "rego: true, says: so, needs: [outlet_height_mm, tube_od_mm]"}, values{height: none, od: known(1)}, False, False, -inf, inf, math.NaN()},
	} {
		t.Run(tc.name, func(t *testing.T) {
			r := open(t, map[string]string{"rules/a.yaml": rules(swap(goodRow, tc.row...))}).Rules[0]
			table := tableOf(r.Kind, tc.values)
			a := r.Assess(table, 0)
			requireSummedUp(t, r, table, &a)
			require.Equal(t, tc.applies, a.Applies, "applies")
			if tc.applies != False {
				require.Equal(t, tc.kept, a.Kept, "kept")
				require.Equal(t, [2]float64{tc.lo, tc.hi}, [2]float64{a.Lo, a.Hi})
				if math.IsNaN(tc.margin) {
					require.True(t, math.IsNaN(a.Margin), a.Margin)
				} else {
					require.Equal(t, tc.margin, a.Margin)
				}
			}
		})
	}
}

// requireSummedUp demands that reading all subjects at once says of the one of a table what assessing it says.
func requireSummedUp(t require.TestingT, r *Rule, table *measure.Table, a *Assessment) {
	c, ok := r.Columns(table.Defs)
	require.True(t, ok)
	all := make([]Read, 1)
	var one Tally
	tally := c.Read(table, all)
	require.Equal(t, a.Read(r), all[0], "%+v", *a)
	one[all[0]] = 1
	require.Equal(t, one, tally)
}

// The figures stand close together, so that limits and values often meet.
var someFigures = []float64{-1, 0, 0.5, 1, 1.5, 2, 3}

func someNumber(t *rapid.T, what string) float64 { return rapid.SampledFrom(someFigures).Draw(t, what) }

// randomRow draws a row on distinct measures of a kind, with limits and conditions that are neither always nor never kept.
func randomRow(t *rapid.T, k *measure.Kind) *Rule {
	byType := map[measure.Type][]string{}
	for _, d := range k.Defs {
		if d.Type != measure.Text || len(d.Values) > 1 {
			byType[d.Type] = append(byType[d.Type], d.Name)
		}
	}
	take := func(of measure.Type) string {
		i := rapid.IntRange(0, len(byType[of])-1).Draw(t, "measure")
		name := byType[of][i]
		byType[of] = slices.Delete(slices.Clone(byType[of]), i, i+1)
		return name
	}
	listed := func(of measure.Type, name string) []any {
		switch of {
		case measure.Flag:
			return []any{rapid.Bool().Draw(t, "flag")}
		case measure.Number:
			return []any{someNumber(t, "listed"), someNumber(t, "listed")}
		}
		values := rapid.Permutation(k.Def(name).Values).Draw(t, "texts")
		var out []any
		for _, v := range values[:rapid.IntRange(1, len(values)-1).Draw(t, "how many")] {
			out = append(out, v)
		}
		return out
	}
	types := rapid.SampledFrom([]measure.Type{measure.Number, measure.Text, measure.Flag})
	perhaps := func(what string) *float64 {
		if !rapid.Bool().Draw(t, what) {
			return nil
		}
		v := someNumber(t, what)
		return &v
	}
	r := &Rule{ID: "random", AppliesTo: k.Name, Kind: k, Allowed: &Allowed{}}
	if of := types.Draw(t, "type"); of != measure.Number || rapid.IntRange(0, 3).Draw(t, "list") == 0 {
		r.Measure = take(of)
		r.Allowed.Is = listed(of, r.Measure)
	} else {
		r.Measure = take(of)
		a := r.Allowed
		if rapid.Bool().Draw(t, "between") {
			a.Between = []float64{someNumber(t, "low"), someNumber(t, "high")}
		} else {
			a.AtLeast, a.AtMost = perhaps("at least"), perhaps("at most")
		}
		a.Above, a.Below = perhaps("above"), perhaps("below")
		if rapid.Bool().Draw(t, "lower measure") {
			a.AtLeastMeasure = take(of)
		}
		if rapid.Bool().Draw(t, "upper measure") {
			a.AtMostMeasure = take(of)
		}
	}
	for range rapid.IntRange(0, 3).Draw(t, "conditions") {
		of := types.Draw(t, "type")
		c := Condition{Measure: take(of)}
		if of == measure.Number && rapid.Bool().Draw(t, "limits") {
			c.AtLeast, c.AtMost = perhaps("from"), perhaps("to")
			if c.AtLeast == nil && c.AtMost == nil {
				v := someNumber(t, "from")
				c.AtLeast = &v
			}
		} else {
			c.Is = listed(of, c.Measure)
		}
		r.When = append(r.When, c)
	}
	r.Def = k.Def(r.Measure)
	return r
}

func randomValue(t *rapid.T, d *measure.Def) measure.Value {
	switch rapid.IntRange(0, 5).Draw(t, "state of "+d.Name) {
	case 0:
		return none
	case 1:
		return unknown
	}
	switch d.Type {
	case measure.Number:
		return known(someNumber(t, d.Name))
	case measure.Flag:
		return known(rapid.Bool().Draw(t, d.Name))
	}
	return known(rapid.SampledFrom(d.Values).Draw(t, d.Name))
}

// worlds are all that a value may turn out to be: itself, or when it is not known, values that stand for every
// other: each figure, one between any two, and one beyond them all.
func worlds(d *measure.Def, v measure.Value) []measure.Value {
	if v.State != measure.Unknown {
		return []measure.Value{v}
	}
	var out []measure.Value
	switch d.Type {
	case measure.Number:
		out = append(out, known(-1e6), known(1e6))
		for _, f := range someFigures {
			out = append(out, known(f), known(f+0.1))
		}
	case measure.Flag:
		out = append(out, known(false), known(true))
	default:
		for _, s := range d.Values {
			out = append(out, known(s))
		}
	}
	return out
}

// judgedBy reads a row with every value settled: whether the row applies, and whether it is kept.
func judgedBy(r *Rule, value func(string) measure.Value) (applies, kept bool) {
	equals := func(x any, v measure.Value) bool { return fmt.Sprint(x) == fmt.Sprint(plain(x, v)) }
	applies = value(r.Measure).State == measure.Known
	for _, c := range r.When {
		v := value(c.Measure)
		holds := v.State == measure.Known
		if c.Is != nil {
			holds = holds && slices.ContainsFunc(c.Is, func(x any) bool { return equals(x, v) })
		}
		holds = holds && !(c.AtLeast != nil && v.Num < *c.AtLeast) && !(c.AtMost != nil && v.Num > *c.AtMost)
		applies = applies && holds
	}
	v, a := value(r.Measure), r.Allowed
	if a.Is != nil {
		return applies, slices.ContainsFunc(a.Is, func(x any) bool { return equals(x, v) })
	}
	kept = true
	must := func(ok bool) { kept = kept && ok }
	if a.AtLeast != nil {
		must(v.Num >= *a.AtLeast)
	}
	if a.AtMost != nil {
		must(v.Num <= *a.AtMost)
	}
	if a.Above != nil {
		must(v.Num > *a.Above)
	}
	if a.Below != nil {
		must(v.Num < *a.Below)
	}
	if a.Between != nil {
		must(v.Num >= a.Between[0])
		must(v.Num <= a.Between[1])
	}
	if a.AtLeastMeasure != "" {
		applies = applies && value(a.AtLeastMeasure).State == measure.Known
		must(v.Num >= value(a.AtLeastMeasure).Num)
	}
	if a.AtMostMeasure != "" {
		applies = applies && value(a.AtMostMeasure).State == measure.Known
		must(v.Num <= value(a.AtMostMeasure).Num)
	}
	return applies, kept
}

// plain is the member of a value that has the type of x.
func plain(x any, v measure.Value) any {
	switch x.(type) {
	case string:
		return v.Text()
	case bool:
		return v.Flag
	}
	return v.Num
}

// TestAssessAgreesWithEveryPossibleJob holds the three-valued reading against a naive one: it settles every value that is not known in
// every way, judges each of these jobs in plain two-valued logic, and sees whether they all agree.
func TestAssessAgreesWithEveryPossibleJob(t *testing.T) {
	seen := map[[2]Truth]int{}
	for range 10 {
		assessAgrees(t, seen)
	}
	for _, applies := range []Truth{True, Unsure} {
		for _, kept := range []Truth{True, Unsure, False} {
			require.NotZero(t, seen[[2]Truth{applies, kept}], "no row that applies %s and is kept %s", applies, kept)
		}
	}
	require.NotZero(t, seen[[2]Truth{False, False}])
}

func assessAgrees(t *testing.T, seen map[[2]Truth]int) {
	rapid.Check(t, func(t *rapid.T) {
		k := measure.Lookup("electrical_item")
		r := randomRow(t, k)
		if refused(r) {
			t.Skip("refused when it is read")
		}
		values := map[string]measure.Value{}
		for _, m := range r.Measures() {
			values[m] = randomValue(t, k.Def(m))
		}
		table := tableOf(k, values)
		a := r.Assess(table, 0)
		requireSummedUp(t, r, table, &a)

		// Of a condition only its own outcome matters, so the worlds of each measure are walked for the conditions one by one,
		// and together for the value and its limits.
		var applies, kept []bool
		settled := map[string]measure.Value{}
		value := func(name string) measure.Value {
			if v, ok := settled[name]; ok {
				return v
			}
			return values[name]
		}
		var walk func(names []string)
		walk = func(names []string) {
			if len(names) == 0 {
				x, y := judgedBy(r, value)
				applies, kept = append(applies, x), append(kept, y)
				return
			}
			for _, w := range worlds(k.Def(names[0]), values[names[0]]) {
				settled[names[0]] = w
				walk(names[1:])
			}
		}
		var names []string
		for _, m := range r.Measures() {
			if values[m].State == measure.Unknown {
				names = append(names, m)
			}
		}
		if len(names) > 3 {
			t.Skip("too many possible jobs")
		}
		walk(names)

		require.Equal(t, allAgree(applies), a.Applies, "applies")
		seen[[2]Truth{a.Applies, a.Kept}]++
		if a.Applies == False {
			return
		}
		want := allAgree(kept)
		v := values[r.Measure]
		if v.State == measure.Unknown {
			want = Unsure // even where limits that are measures leave no value allowed: nobody has measured it
		}
		require.Equal(t, want, a.Kept, "kept")
		if r.Allowed.Is == nil && v.State == measure.Known && !math.IsInf(a.Margin, 0) {
			require.Equal(t, a.Kept == False && a.Margin < 0, a.Margin < 0, "a negative margin means outside")
			require.Equal(t, math.Min(v.Num-a.Lo, a.Hi-v.Num), a.Margin)
		}
	})
}

// refused says whether reading would refuse a random row: it allows all or nothing, or a condition never holds.
func refused(r *Rule) bool {
	for _, c := range r.When {
		if c.AtLeast != nil && c.AtMost != nil && *c.AtLeast > *c.AtMost {
			return true
		}
	}
	lo, loOpen, hi, hiOpen := r.Allowed.Range()
	all := math.IsInf(lo, 0) && math.IsInf(hi, 0) && r.Allowed.Is == nil && r.Allowed.AtLeastMeasure == "" && r.Allowed.AtMostMeasure == ""
	return all || lo > hi || lo == hi && (loOpen || hiOpen)
}

func allAgree(all []bool) Truth {
	switch {
	case !slices.Contains(all, false):
		return True
	case !slices.Contains(all, true):
		return False
	}
	return Unsure
}

// A reading that served another row before reads as a new one.
func TestReadingServesManyRows(t *testing.T) {
	var used Reading
	rapid.Check(t, func(t *rapid.T) {
		k := measure.Lookup("electrical_item")
		r := randomRow(t, k)
		values := map[string]measure.Value{}
		for _, m := range r.Measures() {
			values[m] = randomValue(t, k.Def(m))
		}
		table := tableOf(k, values)
		used.Lay(r, table)
		require.Equal(t, fmt.Sprint(r.Assess(table, 0)), fmt.Sprint(used.Assess(0)))
	})
}
