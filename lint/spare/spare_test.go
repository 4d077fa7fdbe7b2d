package spare

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Whatever is cut is zero, and belongs to one only, whether it was allocated or used before.
func TestRoom(t *testing.T) {
	const most = 100
	rapid.Check(t, func(t *rapid.T) {
		var r Room[*int]
		for range rapid.IntRange(1, 10).Draw(t, "jobs") {
			var parts [][]*int
			for _, n := range rapid.SliceOfN(rapid.IntRange(0, 60), 0, 5).Draw(t, "parts") {
				part := r.Cut(n)
				require.Len(t, part, n)
				for i := range part {
					require.Nil(t, part[i])
					part[i] = new(len(parts))
				}
				require.Equal(t, n, len(append(part, nil))-1)
				parts = append(parts, part)
			}
			for k, part := range parts {
				for i := range part {
					require.Equal(t, k, *part[i])
				}
			}
			r.Clear(most)
			require.LessOrEqual(t, len(r.all), most)
			for _, p := range r.all {
				require.Nil(t, p) // nothing is held
			}
		}
	})
}

func TestRoomAllocatesNoMoreOnceItIsLargeEnough(t *testing.T) {
	var r Room[int]
	job := func() {
		r.Cut(30)
		r.Cut(50)
		r.Clear(1000)
	}
	job()
	require.Zero(t, testing.AllocsPerRun(10, job))
}
