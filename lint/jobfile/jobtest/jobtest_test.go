package jobtest

import (
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/schema"
)

// TestChangesAreJobs sees that changed jobs are accepted, that they differ from one another, that the base stays as it is, and that a
// spelling always makes the same job.
func TestChangesAreJobs(t *testing.T) {
	base, err := jobfile.Read("starter.yaml", schema.Starter)
	require.NoError(t, err)
	before := base.Value()
	rng := rand.New(rand.NewSource(1))
	seen := map[string]bool{}
	kept := 0
	for range 200 {
		spelling := make([]byte, 4*rng.Intn(10))
		rng.Read(spelling)
		f, err := Change(base, spelling)
		require.NoError(t, err)
		again, err := Change(base, spelling)
		require.NoError(t, err)
		require.Equal(t, f.Root.Value(), again.Root.Value())
		if !seen[string(spelling)] {
			seen[string(spelling)] = true
			if !sameTree(base.Value(), f.Root.Value()) {
				kept++
			}
		}
	}
	require.Greater(t, kept, 140)
	require.Equal(t, before, base.Value())
}

func sameTree(a, b any) bool {
	switch a := a.(type) {
	case map[string]any:
		m, ok := b.(map[string]any)
		if !ok || len(a) != len(m) {
			return false
		}
		for k := range a {
			if !sameTree(a[k], m[k]) {
				return false
			}
		}
		return true
	case []any:
		l, ok := b.([]any)
		if !ok || len(a) != len(l) {
			return false
		}
		for i := range a {
			if !sameTree(a[i], l[i]) {
				return false
			}
		}
		return true
	}
	return a == b
}

// TestHostileTextsAreAllowed keeps the list to texts that a job file may hold.
func TestHostileTextsAreAllowed(t *testing.T) {
	base, err := jobfile.Read("starter.yaml", schema.Starter)
	require.NoError(t, err)
	for _, text := range Hostile {
		root := base.Clone()
		root.SetMembers(append(root.Members(), jobfile.Member{Key: "note", Value: jobfile.NewText(text)}))
		f, err := jobfile.FromNode("job.yaml", root)
		require.NoError(t, err)
		require.NotNil(t, f.Job)
	}
}

func TestBaseThatIsNoJob(t *testing.T) {
	_, err := Change(&jobfile.Node{Kind: jobfile.Map}, nil)
	require.Error(t, err)
}
