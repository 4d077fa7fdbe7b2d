package judge

import (
	"context"
	"testing"

	"github.com/open-policy-agent/opa/v1/ast"
	"github.com/open-policy-agent/opa/v1/storage"
	"github.com/stretchr/testify/require"

	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// The data of rows are made when somebody reads them, once, and are the same as those of a store that holds them from the start.
func TestLateStore(t *testing.T) {
	made := 0
	s := newLateStore(func() map[string]any {
		made++
		return map[string]any{"a": map[string]any{"b": []any{1, "x", nil}}}
	})
	txn, err := s.NewTransaction(context.Background())
	require.NoError(t, err)
	require.Zero(t, made)
	for range 2 {
		got, err := s.Read(context.Background(), txn, storage.MustParsePath("/a/b"))
		require.NoError(t, err)
		require.Zero(t, ast.MustInterfaceToValue([]any{1, "x", nil}).Compare(got.(ast.Value)))
	}
	require.Equal(t, 1, made)
	_, err = s.Read(context.Background(), txn, storage.MustParsePath("/a/c"))
	require.True(t, storage.IsNotFound(err))
}

// A review of a job does not need the data; the plain way does.
func TestDataAreMadeForThePlainWayAlone(t *testing.T) {
	core, _ := coreBook(t)
	m := engineModule()
	for _, plain := range []bool{false, true} {
		e, err := New(m.File, m.Text, core.Rules, core.Modules, Options{Plain: plain})
		require.NoError(t, err)
		made := false
		before := e.data
		e.engine.store = newLateStore(func() map[string]any { made = true; return before() })
		for name, job := range measuredJobs(t) {
			r := &verdict.Review{Stage: rulebook.AsBuilt, On: job.JudgedOn}
			require.NoError(t, e.Judge(context.Background(), r, job), name)
		}
		require.Equal(t, plain, made)
	}
}
