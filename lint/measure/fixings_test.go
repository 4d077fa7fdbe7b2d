package measure

import (
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

func fixingRail(face string, inserts ...jobfile.Insert) jobfile.Item {
	return jobfile.Item{ID: "rail", Kind: "fixing", Face: face, Inserts: inserts}
}

func fixingInsert(x, y, d float64) jobfile.Insert {
	return jobfile.Insert{XMM: holeMM(x), YMM: holeMM(y), DiameterMM: holeMM(d), DepthMM: holeMM(35)}
}

func fixingCable(id, face string, width *float64, runs ...[][2]float64) jobfile.Item {
	return jobfile.Item{ID: id, Kind: "heating_cable", Face: face, GrooveWidthMM: width, Runs: runs}
}

func TestCableWeb(t *testing.T) {
	// The axes are those of vectors G03 and G04 (computed, checked against an independent geometry library):
	// a point 100 mm off the line 0,0 – 400,300 – 800,300.
	line := [][2]float64{{0, 0}, {400, 300}, {800, 300}}
	tests := []struct {
		name string
		job  *jobfile.Job
		want Value
	}{
		{"G03: offsets of 42 in all", holeRoom(fixingRail("north", fixingInsert(300, 100, 60)), fixingCable("heat", "north", holeMM(24), line)), number(58)},
		{"G04: offsets of 28 in all", holeRoom(fixingRail("north", fixingInsert(860, 380, 36)), fixingCable("heat", "north", holeMM(20), line)), number(72)},
		{"drilled into the groove", holeRoom(fixingRail("north", fixingInsert(600, 300, 20)), fixingCable("heat", "north", holeMM(20), line)), number(-20)},
		{"nearest of two cables", holeRoom(fixingRail("north", fixingInsert(600, 400, 20)), fixingCable("heat", "north", holeMM(20), line), fixingCable("heat_2", "north", holeMM(20), [][2]float64{{0, 450}, {800, 450}})), number(30)},
		{"nearest of two runs", holeRoom(fixingRail("north", fixingInsert(600, 400, 20)), fixingCable("heat", "north", holeMM(20), [][2]float64{{0, 450}, {800, 450}}, line)), number(30)},
		{"cable on another face", holeRoom(fixingRail("north", fixingInsert(600, 300, 20)), fixingCable("heat", "south", holeMM(20), line)), none()},
		{"no cable", holeRoom(fixingRail("north", fixingInsert(600, 300, 20))), none()},
		{"cable on a face that is not given", holeRoom(fixingRail("north", fixingInsert(600, 300, 20)), fixingCable("heat", "", holeMM(20), line)), unknown()},
		{"cable without a groove width", holeRoom(fixingRail("north", fixingInsert(600, 300, 20)), fixingCable("heat", "north", nil, line)), unknown()},
		{"cable without runs", holeRoom(fixingRail("north", fixingInsert(600, 300, 20)), fixingCable("heat", "north", holeMM(20))), unknown()},
		{"run of one point", holeRoom(fixingRail("north", fixingInsert(600, 300, 20)), fixingCable("heat", "north", holeMM(20), [][2]float64{{1, 1}})), unknown()},
		{"one cable known, another not", holeRoom(fixingRail("north", fixingInsert(600, 400, 20)), fixingCable("heat", "north", holeMM(20), line), fixingCable("heat_2", "north", holeMM(20))), unknown()},
		{"insert without a diameter", holeRoom(fixingRail("north", jobfile.Insert{XMM: holeMM(1), YMM: holeMM(1)}), fixingCable("heat", "north", holeMM(20), line)), unknown()},
		{"face of the fixing not given", holeRoom(fixingRail("", fixingInsert(600, 300, 20)), fixingCable("heat", "north", holeMM(20), line)), unknown()},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := holeValue(t, tt.job, "insert", "rail.insert_1", "cable_web_mm")
			require.True(t, tt.want.Same(got), "got %+v, want %+v", got, tt.want)
		})
	}
	v := holeValue(t, tests[11].job, "insert", "rail.insert_1", "cable_web_mm")
	require.Equal(t, "the groove of heat_2 is not fully described; the nearest of the others is 80 mm away", v.Note())
}

func TestInsertMeasures(t *testing.T) {
	deep := fixingInsert(100, 100, 19)
	thin := holeRoom(fixingRail("north", deep, fixingInsert(100, 139, 19), fixingInsert(400, 100, 19)))
	require.Equal(t, number(15), holeValue(t, thin, "insert", "rail.insert_1", "panel_left_mm"))
	require.Equal(t, number(20), holeValue(t, thin, "insert", "rail.insert_1", "insert_web_mm"))
	require.Equal(t, number(20), holeValue(t, thin, "insert", "rail.insert_2", "insert_web_mm"))
	require.Equal(t, number(281), holeValue(t, thin, "insert", "rail.insert_3", "insert_web_mm"))

	thin.Room.Walls[0].Panel = &jobfile.Panel{ThicknessMM: holeMM(30)}
	require.Equal(t, number(-5), holeValue(t, thin, "insert", "rail.insert_1", "panel_left_mm"), "the panel of the face goes before that of the job")
	thin.Room.Walls[0].Panel = &jobfile.Panel{}
	require.Equal(t, Unknown, holeValue(t, thin, "insert", "rail.insert_1", "panel_left_mm").State)

	one := holeRoom(fixingRail("north", deep))
	require.Equal(t, None, holeValue(t, one, "insert", "rail.insert_1", "insert_web_mm").State)
	half := holeRoom(fixingRail("north", deep, jobfile.Insert{XMM: holeMM(1), YMM: holeMM(1)}))
	require.Equal(t, Unknown, holeValue(t, half, "insert", "rail.insert_1", "insert_web_mm").State)
}

func TestFixingMeasures(t *testing.T) {
	none := holeRoom(fixingRail("north"))
	require.Equal(t, Unknown, holeValue(t, none, "fixing", "rail", "insert_count").State, "a list that is not given is not an empty one")
	require.Equal(t, Unknown, holeValue(t, none, "fixing", "rail", "insert_adhesive").State)
	none.Items[0].Inserts = []jobfile.Insert{}
	require.Equal(t, number(0), holeValue(t, none, "fixing", "rail", "insert_count"))
	require.Equal(t, None, holeValue(t, none, "fixing", "rail", "insert_adhesive").State)
	none.Items[0].Inserts = []jobfile.Insert{fixingInsert(1, 1, 19)}
	none.Items[0].Adhesive = "epoxy"
	require.Equal(t, "epoxy", holeValue(t, none, "fixing", "rail", "insert_adhesive").Text())
}
