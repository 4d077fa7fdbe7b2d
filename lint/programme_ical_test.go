package lint

import (
	"os"
	"strings"
	"testing"
	"time"

	ics "github.com/arran4/golang-ical"
	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

// TestProgrammeAsCalendar reads the calendar of the demo with an independent parser: every dated task is there with its instants, on both
// sides of the change of the clocks in March, and each cure that is still to end and each hold point that is still to come reminds.
func TestProgrammeAsCalendar(t *testing.T) {
	data, err := os.ReadFile("../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	f, err := jobfile.Load("clean.yaml", data)
	require.NoError(t, err)
	p := programmeOf(t, Options{}, f, "")
	c, err := ics.ParseCalendar(strings.NewReader(written(t, p, "ics")))
	require.NoError(t, err)

	at := map[string][2]time.Time{}
	uids := map[string]bool{}
	cures, holds := 0, 0
	for _, e := range c.Events() {
		require.False(t, uids[e.Id()], e.Id())
		uids[e.Id()] = true
		start, err := e.GetStartAt()
		require.NoError(t, err)
		switch e.GetProperty(ics.ComponentPropertyCategories).Value {
		case "task":
			end, err := e.GetEndAt()
			require.NoError(t, err)
			at[e.GetProperty(ics.ComponentPropertySummary).Value] = [2]time.Time{start, end}
			continue
		case "cure":
			cures++
		case "hold point":
			holds++
		}
		require.NotEmpty(t, e.Alarms(), e.Id())
	}
	dated := 0
	for i := range p.Tasks {
		if k := &p.Tasks[i]; k.Dated {
			dated++
			got := at[k.Label]
			require.True(t, got[0].Equal(k.EarlyStart) && got[1].Equal(k.EarlyFinish), k.Label)
		}
	}
	require.Equal(t, dated, len(at))
	wantCures, wantHolds := 0, 0
	for _, x := range p.Cures {
		if x.At.After(p.AsOf) {
			wantCures++
		}
	}
	for _, x := range p.Points {
		if x.Sort == "hold" && x.Dated {
			wantHolds++
		}
	}
	require.Equal(t, [2]int{wantCures, wantHolds}, [2]int{cures, holds})
	require.Positive(t, cures)
	require.Positive(t, holds)

	// 29 March 2026: before it eight o'clock in London is 08:00 UTC, after it 07:00 UTC.
	require.Equal(t, "2026-03-24T08:00:00Z", at["Hang door (door)"][0].UTC().Format(time.RFC3339))
	require.Equal(t, "2026-04-20T07:00:00Z", at["First steam"][0].UTC().Format(time.RFC3339))
}
