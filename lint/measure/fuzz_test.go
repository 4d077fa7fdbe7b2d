package measure_test

import (
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/jobfile/jobtest"
	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/policies"
)

// FuzzMeasure measures changed jobs: whatever the schema accepts is measured without a panic, without NaN or infinity, and twice the same.
func FuzzMeasure(f *testing.F) {
	var bases []*jobfile.Node
	for _, name := range []string{"../../policies/core/examples/base.yaml", "../../fixtures/demo/clean.yaml", "../../fixtures/demo/faults.yaml", "../../schema/starter.yaml"} {
		data, err := os.ReadFile(name)
		require.NoError(f, err)
		root, err := jobfile.Read(name, data)
		require.NoError(f, err)
		bases = append(bases, root)
	}
	fsys, _ := policies.Book("core")
	core, err := rulebook.Open(fsys, "core")
	require.NoError(f, err)
	var waits []measure.Wait
	for _, r := range core.Rules {
		for _, m := range r.Measures() {
			if w, ok := measure.ParseWait(m); ok {
				w.Kind = r.AppliesTo
				waits = append(waits, w)
			}
		}
	}
	plan := measure.NewPlan(waits, measure.WithZones(rulebook.ZoneGeometry(core.Zones)...))
	for i := range bases {
		for what := range 4 {
			f.Add(byte(i), []byte{0, 20, byte(what), 1, 1, 7, byte(what), 2})
		}
	}
	// The air that comes in through the door alone was told with one more line each time.
	f.Add(byte(2), []byte("\x00EEE\x01\x03\x01\x00\x04\x00\x01\x00"))
	f.Fuzz(func(t *testing.T, base byte, spelling []byte) {
		file, err := jobtest.Change(bases[int(base)%len(bases)], spelling)
		require.NoError(t, err)
		set := plan.Measure(file.Job)
		again := plan.Measure(file.Job)
		require.Len(t, again.Tables, len(set.Tables))
		for i, table := range set.Tables {
			other := again.Tables[i]
			require.Equal(t, table.Kind.Name, other.Kind.Name)
			require.Len(t, other.Subjects, len(table.Subjects))
			for j, d := range table.Defs {
				for k := range table.Subjects {
					v := table.Columns[j][k]
					if math.IsNaN(v.Num) || math.IsInf(v.Num, 0) || math.Abs(v.Num) > 1e15 {
						t.Fatalf("%s %s of %s is %v", table.Kind.Name, d.Name, table.Subjects[k].ID, v.Num)
					}
					if w := other.Columns[j][k]; !v.Same(w) || v.Note() != w.Note() || v.At() != w.At() {
						t.Fatalf("%s %s of %s: %+v, then %+v", table.Kind.Name, d.Name, table.Subjects[k].ID, v, w)
					}
					if once := v.Steps(); !slices.Equal(once, v.Steps()) {
						t.Fatalf("%s %s of %s is told otherwise the second time: %q", table.Kind.Name, d.Name, table.Subjects[k].ID, once)
					}
					_ = d.Format(v)
				}
			}
		}
	})
}

// TestStepsAreToldTheSameTwice asks every value of the demos twice how it was worked out: the report is written once a format.
func TestStepsAreToldTheSameTwice(t *testing.T) {
	for _, name := range []string{"../../policies/core/examples/base.yaml", "../../fixtures/demo/clean.yaml", "../../fixtures/demo/faults.yaml"} {
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		file, err := jobfile.Load(name, data)
		require.NoError(t, err)
		told := 0
		for _, table := range measure.NewPlan(nil).Measure(file.Job).Tables {
			for j, d := range table.Defs {
				for k := range table.Subjects {
					once := slices.Clone(table.Columns[j][k].Steps())
					require.Equal(t, once, table.Columns[j][k].Steps(), "%s of %s", d.Name, table.Subjects[k].ID)
					told += len(once)
				}
			}
		}
		require.Greater(t, told, 20)
	}
}
