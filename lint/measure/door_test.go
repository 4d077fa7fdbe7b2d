package measure

import (
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

func TestDoorInsertReach(t *testing.T) {
	tests := []struct {
		name    string
		inserts []jobfile.Insert
		want    Value
	}{
		{"from lowest to highest, in any order", []jobfile.Insert{fixingInsert(860, 1650, 19), fixingInsert(860, 300, 19), fixingInsert(840, 1000, 19)}, number(1350)},
		{"side by side", []jobfile.Insert{fixingInsert(860, 300, 19), fixingInsert(820, 300, 19)}, number(0)},
		{"a single one", []jobfile.Insert{fixingInsert(860, 300, 19)}, none()},
		{"none", []jobfile.Insert{}, none()},
		{"not given", nil, unknown()},
		{"one without a height", []jobfile.Insert{fixingInsert(860, 300, 19), {XMM: holeMM(860)}}, unknown()},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			job := holeRoom(jobfile.Item{ID: "door", Kind: "glazed_door", Face: "south", Inserts: tt.inserts})
			got := holeValue(t, job, "glazed_door", "door", "insert_reach_mm")
			require.True(t, tt.want.Same(got), "got %+v, want %+v", got, tt.want)
		})
	}
}
