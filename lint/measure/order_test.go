package measure

import (
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/calc/maturity"
	"wetrule/lint/jobfile"
)

// TestOrderAgreesWithWaits sees that the tasks which Order names are those whose times the waits are measured between.
func TestOrderAgreesWithWaits(t *testing.T) {
	steam := jobfile.Item{ID: "steam", Kind: "steam_outlet", Face: "north"}
	job := waitRoom()
	job.Items = append(job.Items, steam)
	job.Tasks = []jobfile.Task{
		waitTask("waterproof", 0, 8, "face:north"), waitTask("waterproof", 10, 18),
		waitTask("tile", 60, 70, "face:north"), waitTask("tile", 80, 90),
		waitTask("insert_tube", 1, 2), waitTask("fit_collars", 5, 6, "item:steam"),
	}
	set := NewPlan(nil).Measure(job)
	o := set.Order()
	tasks := set.Table("task").Subjects
	w := Wait{Kind: "task", First: "waterproof", Then: "finish"}
	for i, want := range map[int][2][]int{2: {{0}, {2}}, 3: {{1}, {3}}, 0: {nil, nil}} {
		first, then := o.Before(w, &tasks[i])
		require.Equal(t, want, [2][]int{first, then}, i)
	}
	first, then := o.Before(Wait{First: "insert_tube", Then: "fit_collars"}, &set.Table("steam_outlet").Subjects[0])
	require.Equal(t, [2][]int{{4}, {5}}, [2][]int{first, then})
	require.Equal(t, []int{2}, o.Cured(0))
	require.Equal(t, []int{3}, o.Cured(1))
	require.Empty(t, o.Cured(4))
	require.True(t, o.Same(0, 2))
	require.False(t, o.Same(1, 2))
	require.Contains(t, o.Due(), "first_steam")
	require.NotContains(t, o.Due(), "hang_door")
}

// TestOrderCure sees that what cures is told as the measures of the kind cure tell it.
func TestOrderCure(t *testing.T) {
	job := waitRoom()
	slurry := cureTask("waterproof", 0, 8, 48)
	slurry.Material = "cement slurry"
	silent := waitTask("waterproof", 0, 8)
	job.Tasks = []jobfile.Task{slurry, silent, waitTask("fit", 50, 51)}
	o := NewPlan(nil).Measure(job).Order()
	require.Equal(t, Cure{Product: maturity.Cement, Known: true, Arises: true, SheetH: 48, Given: true, ReferenceC: 23, Assumed: "the data sheet's time is taken as at 23 °C"}, o.Cure(0))
	require.False(t, o.Cure(1).Known)
	require.True(t, o.Cure(1).Arises)
	require.NotEmpty(t, o.Cure(1).Note)
	require.Equal(t, Cure{}, o.Cure(2))
}
