package lint

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
	"wetrule/lint/jobfile/jobtest"
	"wetrule/lint/verdict"
)

// TestPlacesAgree holds the quick way of finding places against the plain one, for the demo and other jobs and for odd changes of them.
func TestPlacesAgree(t *testing.T) {
	l, all := core(t), bases(t)
	check := func(t require.TestingT, f *jobfile.File) (distinct int) {
		r, err := l.ReviewFile(context.Background(), f)
		require.NoError(t, err)
		seen := map[verdict.Place]bool{}
		var places verdict.Places
		// In order of rule, as reports go through them, and the other way round.
		for _, step := range []int{1, -1} {
			places.Reset(r.Root)
			for k := range r.Verdicts {
				v := r.Verdicts[(k*step+len(r.Verdicts))%len(r.Verdicts)]
				for _, v.Outcome = range []verdict.Outcome{v.Outcome, verdict.Conforms, verdict.Undetermined} {
					pointer, node := places.Append([]byte("before"), &v)
					got := verdict.Place{Pointer: string(pointer[len("before"):])}
					if node != nil {
						got.Line, got.Col, got.EndCol = int(node.Line), int(node.Col), int(node.EndCol)
					}
					if want := v.Place(r.Root); got != want {
						require.Equal(t, want, got, "%s of %s", v.Rule.ID, v.Subject.ID)
					}
					seen[got] = true
				}
			}
		}
		return len(seen)
	}
	reference, err := jobfile.Load("job.yaml", referenceJob(40))
	require.NoError(t, err)
	require.Greater(t, check(t, reference), 500)
	for _, base := range all {
		f, err := jobtest.Change(base, nil)
		require.NoError(t, err)
		check(t, f)
	}
	rapid.Check(t, func(t *rapid.T) {
		base := rapid.SampledFrom(all).Draw(t, "base")
		f, err := jobtest.Change(base, rapid.SliceOfN(rapid.Byte(), 0, 4*jobtest.MaxChanges).Draw(t, "spelling"))
		require.NoError(t, err)
		check(t, f)
	})
}
