package lint

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
)

// TestDemoFiguresByHand holds what is measured of the demo against figures worked out by hand; the working stands in the fixture.
func TestDemoFiguresByHand(t *testing.T) {
	data, err := os.ReadFile("../fixtures/working/clean.yaml")
	require.NoError(t, err)
	root, err := jobfile.Read("working", data)
	require.NoError(t, err)
	var f struct {
		Figures []struct {
			Kind    string  `json:"kind"`
			Subject string  `json:"subject"`
			Measure string  `json:"measure"`
			ByHand  float64 `json:"by_hand"`
			Within  float64 `json:"within"`
			Working string  `json:"working"`
		} `json:"figures"`
	}
	require.NoError(t, jobfile.Decode(root, &f))
	require.GreaterOrEqual(t, len(f.Figures), 20)
	r, _ := demo(t, "clean.yaml")
	for _, x := range f.Figures {
		require.NotEmpty(t, x.Working)
		table := r.Set.Table(x.Kind)
		require.NotNil(t, table, x.Kind)
		i := table.Find(x.Subject)
		require.GreaterOrEqual(t, i, 0, "%s %s", x.Kind, x.Subject)
		col := table.Column(x.Measure)
		require.NotNil(t, col, "%s.%s", x.Kind, x.Measure)
		require.Equal(t, measure.Known, col[i].State, "%s.%s", x.Kind, x.Measure)
		require.InDelta(t, x.ByHand, col[i].Num, x.Within, "%s.%s of %s: %s", x.Kind, x.Measure, x.Subject, x.Working)
	}
}
