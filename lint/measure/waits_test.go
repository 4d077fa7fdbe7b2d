package measure

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
)

// spanAt makes a time span; an empty text is a time that is not given. Hours are those of 2 March 2026, UTC, and on from there.
func spanAt(start, finish string) *jobfile.Span { return &jobfile.Span{Start: start, Finish: finish} }

var waitDay = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

// waitClock writes an hour count from 2 March 2026, 00:00 UTC.
func waitClock(h float64) string {
	return waitDay.Add(time.Duration(h * float64(time.Hour))).Format(time.RFC3339Nano)
}

// waitTask makes a task that is planned from one hour to another. What it is for is given as face:north or item:vent.
func waitTask(name string, from, to float64, on ...string) jobfile.Task {
	t := jobfile.Task{Task: name, Planned: spanAt(waitClock(from), waitClock(to))}
	for _, x := range on {
		if f, ok := strings.CutPrefix(x, "face:"); ok {
			t.Faces = append(t.Faces, f)
		} else {
			t.Items = append(t.Items, strings.TrimPrefix(x, "item:"))
		}
	}
	return t
}

// waitRoom is a room with the walls north and south and a floor; a vent and a rail sit on the south
// wall, a heating cable on the floor, and the generator on no face.
func waitRoom(tasks ...jobfile.Task) *jobfile.Job {
	no := false
	return &jobfile.Job{
		Room: &jobfile.Room{Walls: []jobfile.Wall{{ID: "north"}, {ID: "south"}}, Floor: &jobfile.Floor{}},
		Items: []jobfile.Item{
			{ID: "vent", Kind: "ventilation_outlet", Face: "south"},
			{ID: "rail", Kind: "fixing", Face: "south"},
			{ID: "heat", Kind: "heating_cable", Face: "floor"},
			{ID: "sensor", Kind: "temperature_sensor", Face: "north", Collar: &no},
			{ID: "generator", Kind: "steam_generator"},
		},
		Tasks: tasks,
	}
}

// waitOf works out a wait by its name for a subject: job, face:north, item:vent or the id of a task.
// waitOf leaves out where the value was decided, which hangs on the order of the list.
func waitOf(t require.TestingT, job *jobfile.Job, name, subject string) Value {
	return waitAt(t, job, name, subject).at("")
}

func waitAt(t require.TestingT, job *jobfile.Job, name, subject string) Value {
	w, ok := ParseWait(name)
	require.True(t, ok, name)
	c := newContext(job)
	if f, ok := strings.CutPrefix(subject, "face:"); ok {
		require.NotNil(t, c.Face(f))
		return w.def().get(c, &Subject{Kind: "face", ID: f, Face: c.Face(f)})
	}
	if id, ok := strings.CutPrefix(subject, "item:"); ok {
		require.NotNil(t, c.items[id])
		return w.def().get(c, &Subject{Kind: c.items[id].Kind, ID: id, Item: c.items[id]})
	}
	kind := "task"
	if subject == "job" {
		kind = "job"
	}
	for _, s := range Lookup(kind).find(c) {
		if s.ID == subject {
			return w.def().get(c, &s)
		}
	}
	require.Fail(t, "no subject "+subject)
	return Value{}
}

func TestWaits(t *testing.T) {
	recorded := func(task jobfile.Task, s *jobfile.Span) jobfile.Task { task.Actual = s; return task }
	planned := func(name string, s *jobfile.Span) jobfile.Task { return jobfile.Task{Task: name, Planned: s} }
	for _, x := range []struct {
		what    string
		tasks   []jobfile.Task
		wait    string
		subject string
		want    Value // the note is compared too
	}{
		{"exactly the wait", []jobfile.Task{waitTask("waterproof", 0, 10), waitTask("tile", 58, 60)}, "planned_tile_after_waterproof_h", "job", number(48)},
		{"a second short is short", []jobfile.Task{waitTask("waterproof", 0, 10), planned("tile", spanAt("2026-03-04T09:59:59Z", ""))}, "planned_tile_after_waterproof_h", "job", number(47.999)},
		{"a nanosecond short is short", []jobfile.Task{waitTask("waterproof", 0, 10), planned("tile", spanAt("2026-03-02T09:59:59.999999999Z", ""))}, "planned_tile_after_waterproof_h", "job", number(-0.001)},
		{"wrong way round", []jobfile.Task{waitTask("waterproof", 0, 10), waitTask("tile", 7, 8)}, "planned_tile_after_waterproof_h", "job", number(-3)},
		{"recorded times are not planned times", []jobfile.Task{recorded(waitTask("waterproof", 0, 10), spanAt(waitClock(0), waitClock(20))), recorded(waitTask("tile", 58, 60), spanAt(waitClock(80), ""))}, "actual_tile_after_waterproof_h", "job", number(60)},
		{"planned times do not stand in for recorded ones", []jobfile.Task{waitTask("waterproof", 0, 10), waitTask("tile", 58, 60)}, "actual_tile_after_waterproof_h", "job", unknown().note("the task waterproof has no finish")},
		{"finish is tile or plaster, the earlier start", []jobfile.Task{waitTask("flood_test", 0, 10), waitTask("tile", 30, 40), waitTask("plaster", 22, 24)}, "planned_finish_after_flood_test_h", "job", number(12)},
		{"finish is tile or plaster, the later end", []jobfile.Task{waitTask("tile", 0, 10), waitTask("plaster", 0, 16), waitTask("joint", 40, 41)}, "planned_joint_after_finish_h", "job", number(24)},
		{"tile is not plaster", []jobfile.Task{waitTask("plaster", 0, 16), waitTask("joint", 40, 41)}, "planned_joint_after_tile_h", "job", unknown().note("the task tile is missing")},

		// Elapsed time is told from the offsets: on 29 March 2026 clocks in Europe go from 2:00 to 3:00.
		{"a clock change takes an hour away", []jobfile.Task{planned("tile", spanAt("", "2026-03-28T12:00:00+00:00")), planned("joint", spanAt("2026-03-29T12:00:00+01:00", ""))}, "planned_joint_after_tile_h", "job", number(23)},
		{"and in autumn it gives one", []jobfile.Task{planned("tile", spanAt("", "2026-10-24T12:00:00+01:00")), planned("joint", spanAt("2026-10-25T12:00:00+00:00", ""))}, "planned_joint_after_tile_h", "job", number(25)},
		{"offsets alone make no wait", []jobfile.Task{planned("tile", spanAt("", "2026-03-02T12:00:00+05:30")), planned("joint", spanAt("2026-03-02T06:30:00Z", ""))}, "planned_joint_after_tile_h", "job", number(0)},

		{"no first task", []jobfile.Task{waitTask("tile", 0, 1)}, "planned_tile_after_waterproof_h", "job", unknown().note("the task waterproof is missing")},
		{"no later task", []jobfile.Task{waitTask("waterproof", 0, 1)}, "planned_tile_after_waterproof_h", "job", unknown().note("the task tile is missing")},
		{"no tasks", nil, "planned_tile_after_waterproof_h", "job", unknown().note("the task waterproof is missing")},
		{"no finish", []jobfile.Task{planned("waterproof", spanAt(waitClock(0), "")), waitTask("tile", 50, 60)}, "planned_tile_after_waterproof_h", "job", unknown().note("the task waterproof has no finish")},
		{"no start", []jobfile.Task{waitTask("waterproof", 0, 1), planned("tile", spanAt("", waitClock(60)))}, "planned_tile_after_waterproof_h", "job", unknown().note("the task tile has no start")},
		{"no times at all", []jobfile.Task{{Task: "waterproof"}, {Task: "tile"}}, "planned_tile_after_waterproof_h", "job", unknown().note("the task waterproof has no finish")},
		{"one of two has no finish", []jobfile.Task{waitTask("waterproof", 0, 1), {Task: "waterproof"}, waitTask("tile", 50, 60)}, "planned_tile_after_waterproof_h", "job", unknown().note("the task waterproof has no finish")},
		{"begun after the later task, and no finish", []jobfile.Task{planned("waterproof", spanAt(waitClock(5), "")), waitTask("tile", 2, 3)}, "planned_tile_after_waterproof_h", "job", number(-3).note("at the most, as the task waterproof has no finish")},
		{"one finished too late, one without a finish", []jobfile.Task{waitTask("waterproof", 0, 6), {Task: "waterproof"}, waitTask("tile", 2, 3)}, "planned_tile_after_waterproof_h", "job", number(-4).note("at the most, as the task waterproof has no finish")},
		{"one started too early, one without a start", []jobfile.Task{waitTask("waterproof", 0, 6), waitTask("tile", 2, 3), {Task: "tile"}}, "planned_tile_after_waterproof_h", "job", number(-4).note("at the most, as the task tile has no start")},
		{"an unfinished task may still be in time", []jobfile.Task{planned("waterproof", spanAt(waitClock(5), "")), waitTask("tile", 5, 6)}, "planned_tile_after_waterproof_h", "job", unknown().note("the task waterproof has no finish")},

		{"the room serves every item", []jobfile.Task{waitTask("tile", 0, 10), waitTask("fit", 40, 41)}, "planned_fit_after_tile_h", "item:vent", number(30)},
		{"and items without a face", []jobfile.Task{waitTask("tile", 0, 10), waitTask("fit", 40, 41)}, "planned_fit_after_tile_h", "item:generator", number(30)},
		{"a face beats the room", []jobfile.Task{waitTask("tile", 0, 10), waitTask("tile", 12, 16, "face:south"), waitTask("fit", 40, 41)}, "planned_fit_after_tile_h", "item:vent", number(24)},
		{"another face does not count", []jobfile.Task{waitTask("tile", 0, 10), waitTask("tile", 12, 16, "face:north"), waitTask("fit", 40, 41)}, "planned_fit_after_tile_h", "item:vent", number(30)},
		{"an item beats its face", []jobfile.Task{waitTask("tile", 0, 10, "face:south"), waitTask("fit", 11, 12, "face:south"), waitTask("fit", 40, 41, "item:vent")}, "planned_fit_after_tile_h", "item:vent", number(30)},
		{"another item of the face does not count", []jobfile.Task{waitTask("tile", 0, 10), waitTask("fit", 20, 21), waitTask("fit", 40, 41, "item:rail")}, "planned_fit_after_tile_h", "item:vent", number(10)},
		{"item and face in one task", []jobfile.Task{waitTask("tile", 0, 10), waitTask("fit", 20, 21), waitTask("fit", 40, 41, "item:heat", "face:south")}, "planned_fit_after_tile_h", "item:vent", number(30)},
		{"the latest and the earliest of the best", []jobfile.Task{waitTask("tile", 0, 10, "face:south"), waitTask("tile", 0, 14, "face:south", "face:north"), waitTask("fit", 50, 51, "item:vent"), waitTask("fit", 44, 45, "item:vent", "item:rail")}, "planned_fit_after_tile_h", "item:vent", number(30)},
		{"only other faces are done", []jobfile.Task{waitTask("tile", 0, 10, "face:north"), waitTask("fit", 40, 41)}, "planned_fit_after_tile_h", "item:vent", unknown().note("the task tile is missing")},

		{"a face by name", []jobfile.Task{waitTask("waterproof", 0, 10), waitTask("waterproof", 0, 20, "face:floor"), waitTask("tile", 60, 70)}, "planned_tile_after_waterproof_h", "face:floor", number(40)},
		{"the room for the other faces", []jobfile.Task{waitTask("waterproof", 0, 10), waitTask("waterproof", 0, 20, "face:floor"), waitTask("tile", 60, 70)}, "planned_tile_after_waterproof_h", "face:north", number(50)},
		{"a face waits for the items on it, too", []jobfile.Task{waitTask("fit_collars", 0, 10), waitTask("fit_collars", 11, 12, "item:vent"), waitTask("waterproof", 15, 20)}, "planned_waterproof_after_fit_collars_h", "face:south", number(3)},
		{"and an early item does not hide the rest of the face", []jobfile.Task{waitTask("fit_collars", 0, 10), waitTask("fit_collars", 2, 3, "item:vent"), waitTask("waterproof", 8, 20)}, "planned_waterproof_after_fit_collars_h", "face:south", number(-2)},
		{"items elsewhere do not count", []jobfile.Task{waitTask("fit_collars", 0, 10), waitTask("fit_collars", 11, 12, "item:vent"), waitTask("waterproof", 15, 20)}, "planned_waterproof_after_fit_collars_h", "face:north", number(5)},

		{"a task: it is the first of the two", []jobfile.Task{waitTask("waterproof", 0, 10), waitTask("tile", 60, 70)}, "planned_tile_after_waterproof_h", "waterproof_1", none()},
		{"a task: something else", []jobfile.Task{waitTask("joint", 0, 10), waitTask("waterproof", 0, 10), waitTask("tile", 60, 70)}, "planned_tile_after_waterproof_h", "joint_1", none()},
		{"a task for the room", []jobfile.Task{waitTask("waterproof", 0, 10), waitTask("tile", 60, 70)}, "planned_tile_after_waterproof_h", "tile_1", number(50)},
		{"a task: its own start counts, not the earliest", []jobfile.Task{waitTask("waterproof", 0, 10), waitTask("tile", 60, 70), waitTask("tile", 90, 91)}, "planned_tile_after_waterproof_h", "tile_2", number(80)},
		{"a wall may be tiled before another is waterproof", []jobfile.Task{waitTask("waterproof", 0, 10, "face:north"), waitTask("waterproof", 70, 80, "face:south", "face:floor"), waitTask("tile", 58, 66, "face:north")}, "planned_finish_after_waterproof_h", "tile_1", number(48)},
		{"but not both walls", []jobfile.Task{waitTask("waterproof", 0, 10, "face:north"), waitTask("waterproof", 70, 80, "face:south", "face:floor"), waitTask("tile", 58, 66, "face:north", "face:south")}, "planned_finish_after_waterproof_h", "tile_1", number(-22)},
		{"the room waits for its last face", []jobfile.Task{waitTask("waterproof", 0, 10), waitTask("waterproof", 0, 20, "face:south"), waitTask("tile", 58, 66)}, "planned_finish_after_waterproof_h", "tile_1", number(38)},
		{"the room leaves out a face that another task names", []jobfile.Task{waitTask("waterproof", 0, 10), waitTask("waterproof", 0, 20, "face:south"), waitTask("tile", 58, 66), waitTask("plaster", 70, 71, "face:south")}, "planned_finish_after_waterproof_h", "tile_1", number(48)},
		{"a face that is not waterproofed", []jobfile.Task{waitTask("waterproof", 0, 10, "face:north"), waitTask("tile", 58, 66)}, "planned_finish_after_waterproof_h", "tile_1", unknown().note("the task waterproof is missing for south")},
		{"a face that is not waterproofed, and the wrong order", []jobfile.Task{waitTask("waterproof", 0, 10, "face:north"), waitTask("tile", 5, 66)}, "planned_finish_after_waterproof_h", "tile_1", number(-5).note("at the most, as the task waterproof is missing for south")},
		{"nothing is waterproofed", []jobfile.Task{waitTask("tile", 58, 66)}, "planned_finish_after_waterproof_h", "tile_1", unknown().note("the task waterproof is missing")},
		{"every face is named by another task", []jobfile.Task{waitTask("waterproof", 0, 10), waitTask("tile", 58, 66), waitTask("tile", 70, 71, "face:north", "face:south", "face:floor")}, "planned_finish_after_waterproof_h", "tile_1", number(48)},
		{"a flood test of the floor does not hold up a wall", []jobfile.Task{waitTask("flood_test", 60, 84, "face:floor"), waitTask("tile", 58, 66, "face:north")}, "planned_finish_after_flood_test_h", "tile_1", none()},
		{"it holds up the floor", []jobfile.Task{waitTask("flood_test", 60, 84, "face:floor"), waitTask("tile", 58, 66, "face:north", "face:floor")}, "planned_finish_after_flood_test_h", "tile_1", number(-26)},
		{"no flood test: the floor", []jobfile.Task{waitTask("tile", 58, 66, "face:floor")}, "planned_finish_after_flood_test_h", "tile_1", unknown().note("the task flood test is missing")},
		{"grooves are for cables", []jobfile.Task{waitTask("mesh_and_cement", 10, 20, "face:north")}, "planned_mesh_and_cement_after_cut_grooves_h", "mesh_and_cement_1", none()},
		{"a cable needs grooves", []jobfile.Task{waitTask("mesh_and_cement", 10, 20, "face:floor")}, "planned_mesh_and_cement_after_cut_grooves_h", "mesh_and_cement_1", unknown().note("the task cut grooves is missing")},
		{"an item's task counts on its face", []jobfile.Task{waitTask("cut_openings", 5, 12, "item:vent"), waitTask("mesh_and_cement", 10, 20, "face:south")}, "planned_mesh_and_cement_after_cut_openings_h", "mesh_and_cement_1", number(-2)},
		{"an item's task counts for the room", []jobfile.Task{waitTask("fit", 5, 12, "item:generator"), waitTask("first_steam", 10, 20)}, "planned_first_steam_after_fit_h", "first_steam_1", number(-2).note("at the most, as the task fit is missing for north")},
		{"a collar that is not wanted is not waited for", []jobfile.Task{waitTask("waterproof", 10, 20, "face:north")}, "planned_waterproof_after_fit_collars_h", "waterproof_1", none()},
		{"a collar that is not told of is", []jobfile.Task{waitTask("waterproof", 10, 20, "face:south")}, "planned_waterproof_after_fit_collars_h", "waterproof_1", unknown().note("the task fit collars is missing")},
		{"a task for an item", []jobfile.Task{waitTask("cut_openings", 0, 5, "item:vent"), waitTask("cut_openings", 0, 7, "item:rail"), waitTask("bond_inserts", 9, 10, "item:rail")}, "planned_bond_inserts_after_cut_openings_h", "bond_inserts_1", number(2)},
		{"a task for an item that the job does not hold", []jobfile.Task{waitTask("cut_openings", 0, 5), waitTask("bond_inserts", 9, 10, "item:ghost")}, "planned_bond_inserts_after_cut_openings_h", "bond_inserts_1", unknown().note("the task cut openings is missing")},
	} {
		t.Run(x.what, func(t *testing.T) {
			require.Equal(t, x.want, waitOf(t, waitRoom(x.tasks...), x.wait, x.subject))
		})
	}
}

// TestWaitsOfTaskTellBuildUpApart: a face that is plastered has no joints to wait for.
func TestWaitsOfTaskTellBuildUpApart(t *testing.T) {
	job := waitRoom(waitTask("seal", 30, 31))
	job.BuildUp = []jobfile.Layer{{Layer: "mesh"}, {Layer: "lime_plaster"}}
	require.Equal(t, none(), waitOf(t, job, "planned_seal_after_joint_h", "seal_1"))
	require.Equal(t, none(), waitOf(t, job, "planned_seal_after_tile_h", "seal_1"))
	require.Equal(t, Unknown, waitOf(t, job, "planned_seal_after_plaster_h", "seal_1").State)
	job.Room.Walls[0].BuildUp = []jobfile.Layer{{Layer: "tile"}}
	require.Equal(t, Unknown, waitOf(t, job, "planned_seal_after_joint_h", "seal_1").State)
	job.Joints = &jobfile.Joints{Perimeter: "profile"}
	job.Tasks = []jobfile.Task{waitTask("first_steam", 30, 31)}
	require.Equal(t, none(), waitOf(t, job, "planned_first_steam_after_seal_h", "first_steam_1"))
}

// TestFloodTestWithoutFloor: where the floor is not described, no face can be ruled out.
func TestFloodTestWithoutFloor(t *testing.T) {
	job := waitRoom(waitTask("tile", 30, 31, "face:north"))
	job.Room.Floor = nil
	require.Equal(t, Unknown, waitOf(t, job, "planned_tile_after_flood_test_h", "tile_1").State)
}

func TestMatching(t *testing.T) {
	done := waitTask("tile", 50, 60, "face:south")
	done.Actual = spanAt(waitClock(55), "")
	c := newContext(waitRoom(waitTask("tile", 58, 60, "face:south"), done, waitTask("tile", 10, 11, "face:north")))
	day := func(h int) time.Time { return waitDay.Add(time.Duration(h) * time.Hour) }
	starts := func(task string, s *Subject) [2]moment {
		var g taskGroup
		found := c.timetable().of(taskNameOf(task), s, &g)
		return [2]moment{found.times[0].start, found.times[1].start}
	}
	got := starts("finish", &Subject{Face: c.Face("south")})
	require.Equal(t, [2]moment{momentOf(day(50)), momentOf(day(55))}, got)
	require.Equal(t, got, starts("finish", &Subject{Item: c.items["vent"]}))
	require.Equal(t, [2]moment{momentOf(day(10))}, starts("tile", &Subject{Face: c.Face("north")}))
	require.Zero(t, starts("tile", &Subject{Face: c.Face("floor")}))
}

// TestMomentsAreTimes: moments are ordered and subtracted as times are, over all years that a job may name.
func TestMomentsAreTimes(t *testing.T) {
	times := []time.Time{{}}
	for _, s := range []string{"1900-01-01T00:00:00Z", "1969-12-31T23:59:59.999999999Z", "1970-01-01T00:00:00Z", "2026-03-29T02:30:00+02:00", "2026-03-29T00:30:00.5Z", "2199-12-31T23:59:59Z"} {
		at, err := time.Parse(time.RFC3339, s)
		require.NoError(t, err)
		require.Equal(t, momentOf(at), momentAt(s))
		times = append(times, at)
	}
	require.Zero(t, momentOf(times[0]))
	for _, a := range times[1:] {
		require.NotZero(t, momentOf(a))
		for _, b := range times[1:] {
			require.Equal(t, a.Sub(b), momentOf(a).sub(momentOf(b)), "%s − %s", a, b)
			require.Equal(t, a.Compare(b), cmp.Compare(momentOf(a), momentOf(b)))
		}
	}
	far := time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
	require.Positive(t, momentOf(far).sub(momentOf(times[1])))
	require.Zero(t, momentAt("yesterday"))
}

// TestPlainMoments: a time that is read in the short way is the one that package time reads, and what package time does not take has no short way.
func TestPlainMoments(t *testing.T) {
	try := func(t require.TestingT, s string) bool {
		got, ok := plainMoment(s)
		at, err := time.Parse(time.RFC3339, s)
		if ok {
			require.NoError(t, err, s)
			require.Equal(t, momentOf(at), got, s)
		}
		return ok
	}
	for day := time.Date(1699, 12, 25, 0, 0, 0, 0, time.UTC); day.Year() < 2202; day = day.AddDate(0, 0, 1) {
		require.Equal(t, day.Year() >= 1700 && day.Year() <= 2200, try(t, day.Format(time.RFC3339)))
	}
	for _, s := range []string{"2024-02-29T23:59:59Z", "2026-03-29T02:30:00+02:00", "2026-03-29T02:30:00-11:45", "2026-01-01T00:00:00+23:59"} {
		require.True(t, try(t, s), s)
	}
	for _, s := range []string{"", "2026-02-29T00:00:00Z", "2100-02-29T00:00:00Z", "2026-04-31T00:00:00Z", "2026-13-01T00:00:00Z", "2026-01-01T24:00:00Z", "2026-01-01T00:60:00Z", "2026-01-01T00:00:60Z",
		"2026-01-01T00:00:00+24:00", "2026-01-01T00:00:00+01:60", "2026-01-01T00:00:00.5Z", "2026-01-01 00:00:00Z", "2026-01-01T00:00:00+0100", "2026-01-01T00:00:00Z+01:00", "2026-01-01T00:00:00z"} {
		require.False(t, try(t, s), s)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := []byte(rapid.SampledFrom([]string{"2026-03-02T08:00:00+01:00", "1999-12-31T23:59:59Z", "2000-02-29T00:00:00-05:30"}).Draw(t, "time"))
		for range rapid.IntRange(0, 4).Draw(t, "slips") {
			s[rapid.IntRange(0, len(s)-1).Draw(t, "at")] = rapid.SampledFrom([]byte("0123456789-+:TZ .,é")).Draw(t, "byte")
		}
		try(t, string(s))
	})
}

func TestParseWait(t *testing.T) {
	for _, first := range Tasks {
		for _, then := range Tasks {
			for _, actual := range []bool{false, true} {
				w := Wait{First: first, Then: then, Actual: actual}
				got, ok := ParseWait(w.Name())
				itself := first == then || first == "finish" && (then == "tile" || then == "plaster") || then == "finish" && (first == "tile" || first == "plaster")
				require.Equal(t, !itself, ok, w.Name())
				require.Equal(t, w, got)
			}
		}
	}
	for _, name := range []string{"", "_h", "planned_tile_after_waterproof", "tile_after_waterproof_h", "planned_tile_after_h", "planned_tile_after_paint_h", "planned_waterproof_h", "actually_tile_after_waterproof_h", "actual_planned_tile_after_waterproof_h"} {
		_, ok := ParseWait(name)
		require.False(t, ok, name)
	}
}

func TestWaitsAreKnownToKinds(t *testing.T) {
	for _, kind := range []string{"job", "task", "steam_outlet"} {
		d := Lookup(kind).Def("actual_tile_after_waterproof_h")
		require.NotNil(t, d, kind)
		require.Equal(t, "h", d.Unit)
		require.Equal(t, kind, d.Kind)
		require.Contains(t, d.Needs, "/tasks")
	}
	require.Equal(t, "actual.start", Lookup("task").Def("actual_tile_after_waterproof_h").Needs[0])
	require.Equal(t, "planned.start", Lookup("task").Def("planned_tile_after_waterproof_h").Needs[0])
	require.Nil(t, Lookup("job").Def("planned_tile_after_tile_h"))
}

// waitTaskGen draws a task with any scope and any times, whole hours.
func waitTaskGen(names ...string) *rapid.Generator[jobfile.Task] {
	return rapid.Custom(func(t *rapid.T) jobfile.Task {
		from := rapid.IntRange(0, 100).Draw(t, "from")
		to := from + rapid.IntRange(0, 30).Draw(t, "hours")
		task := waitTask(rapid.SampledFrom(names).Draw(t, "name"), float64(from), float64(to),
			slices.Concat(
				rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"face:north", "face:south", "face:floor"}), 0, 3, rapid.ID).Draw(t, "faces"),
				rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"item:vent", "item:rail", "item:heat", "item:sensor", "item:generator"}), 0, 2, rapid.ID).Draw(t, "items"))...)
		switch rapid.IntRange(0, 9).Draw(t, "lacks") {
		case 0:
			task.Planned.Finish = ""
		case 1:
			task.Planned.Start = ""
		case 2:
			task.Planned = nil
		}
		return task
	})
}

var waitTaskLists = rapid.SliceOfN(waitTaskGen("waterproof", "tile", "plaster", "flood_test", "fit_collars"), 0, 7)

var waitNames = rapid.SampledFrom([]string{"planned_finish_after_waterproof_h", "planned_tile_after_flood_test_h", "planned_waterproof_after_fit_collars_h", "planned_plaster_after_tile_h"})

// waitSubjects lists all subjects that a wait can be asked for.
func waitSubjects(job *jobfile.Job) []string {
	out := []string{"job", "face:north", "face:south", "face:floor"}
	for _, it := range job.Items {
		out = append(out, "item:"+it.ID)
	}
	count := map[string]int{}
	for _, task := range job.Tasks {
		count[task.Task]++
		out = append(out, fmt.Sprintf("%s_%d", task.Task, count[task.Task]))
	}
	return out
}

// The order in which tasks are listed changes nothing.
func TestWaitsDoNotHangOnTheOrderOfTheList(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tasks := waitTaskLists.Draw(t, "tasks")
		name := waitNames.Draw(t, "wait")
		turned := slices.Clone(tasks)
		slices.Reverse(turned)
		a, b := waitRoom(tasks...), waitRoom(turned...)
		for _, s := range []string{"job", "face:north", "face:south", "face:floor", "item:vent", "item:rail", "item:heat", "item:generator"} {
			require.Equal(t, waitOf(t, a, name, s), waitOf(t, b, name, s), s)
		}
	})
}

// Writing the same moments with other offsets changes nothing, and moving everything by the same time neither.
func TestWaitsAreElapsedTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tasks := waitTaskLists.Draw(t, "tasks")
		name := waitNames.Draw(t, "wait")
		shift := time.Duration(rapid.IntRange(-100000, 100000).Draw(t, "shift")) * time.Minute
		moved := make([]jobfile.Task, len(tasks))
		for i, task := range tasks {
			zone := time.FixedZone("", rapid.IntRange(-14*60, 14*60).Draw(t, "offset")*60)
			move := func(s string) string {
				if s == "" {
					return ""
				}
				m, err := time.Parse(time.RFC3339, s)
				require.NoError(t, err)
				return m.Add(shift).In(zone).Format(time.RFC3339)
			}
			moved[i] = task
			if task.Planned != nil {
				moved[i].Planned = spanAt(move(task.Planned.Start), move(task.Planned.Finish))
			}
		}
		a, b := waitRoom(tasks...), waitRoom(moved...)
		for _, s := range waitSubjects(a) {
			require.Equal(t, waitOf(t, a, name, s), waitOf(t, b, name, s), s)
		}
	})
}

// The recorded wait is to recorded times what the planned wait is to planned times.
func TestPlannedAndRecordedWaitsAreAlike(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tasks := waitTaskLists.Draw(t, "tasks")
		name := waitNames.Draw(t, "wait")
		done := slices.Clone(tasks)
		for i := range done {
			done[i].Planned, done[i].Actual = nil, done[i].Planned
		}
		a, b := waitRoom(tasks...), waitRoom(done...)
		for _, s := range waitSubjects(a) {
			require.Equal(t, waitOf(t, a, name, s), waitOf(t, b, strings.Replace(name, "planned_", "actual_", 1), s), s)
		}
	})
}

// Taking a time away leaves the value as it is, or makes it Unknown, or leaves a wait below zero that is the most it can be.
func TestTakingTimesAwayNeverHelps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tasks := rapid.SliceOfN(waitTaskGen("waterproof", "tile", "flood_test"), 1, 6).Draw(t, "tasks")
		name := waitNames.Draw(t, "wait")
		k := rapid.IntRange(0, len(tasks)-1).Draw(t, "which")
		less := slices.Clone(tasks)
		if p := less[k].Planned; p != nil {
			if rapid.Bool().Draw(t, "start") {
				less[k].Planned = spanAt("", p.Finish)
			} else {
				less[k].Planned = spanAt(p.Start, "")
			}
		}
		a, b := waitRoom(tasks...), waitRoom(less...)
		for _, s := range waitSubjects(a) {
			full, part := waitOf(t, a, name, s), waitOf(t, b, name, s)
			switch {
			case full.State == None:
				require.Equal(t, None, part.State, s)
			case part.State == Known && part.Note() == "":
				require.True(t, full.Same(part), "%s: %v, then %v", s, full, part)
			case part.State == Known:
				require.Less(t, part.Num, 0.0, s)
				if full.State == Known && full.Note() == "" {
					require.LessOrEqual(t, full.Num, part.Num, s)
				}
			}
		}
	})
}

// plainWait is the wait of a task, read off the words of the rule: for each face that the task is for,
// and without sums made beforehand. Only for tasks without items, and first tasks that are due everywhere.
func plainWait(job *jobfile.Job, k int, first, then string) (hours float64, ok bool) {
	forFace := func(name, face string) (out []int) {
		for _, named := range []bool{true, false} {
			for i, task := range job.Tasks {
				if is(task.Task, name) && (named && slices.Contains(task.Faces, face) || !named && len(task.Faces) == 0) {
					out = append(out, i)
				}
			}
			if len(out) > 0 {
				return out
			}
		}
		return nil
	}
	start, err := time.Parse(time.RFC3339, job.Tasks[k].Planned.Start)
	ok = err == nil
	hours = 1e9
	any := false
	for _, face := range []string{"north", "south", "floor"} {
		if !slices.Contains(forFace(then, face), k) {
			continue
		}
		any = true
		firsts := forFace(first, face)
		ok = ok && len(firsts) > 0
		for _, i := range firsts {
			finish, err := time.Parse(time.RFC3339, job.Tasks[i].Planned.Finish)
			ok = ok && err == nil
			hours = min(hours, start.Sub(finish).Hours())
		}
	}
	return hours, ok && any
}

func TestWaitOfTaskAgainstPlainReading(t *testing.T) {
	known := 0
	rapid.Check(t, func(t *rapid.T) {
		tasks := rapid.SliceOfN(waitTaskGen("waterproof", "tile", "plaster"), 1, 7).Draw(t, "tasks")
		for i := range tasks {
			tasks[i].Items = nil
			if tasks[i].Planned == nil {
				tasks[i].Planned = spanAt("", "")
			}
		}
		job := waitRoom(tasks...)
		count := map[string]int{}
		for k, task := range tasks {
			count[task.Task]++
			if task.Task == "waterproof" {
				continue
			}
			v := waitOf(t, job, "planned_finish_after_waterproof_h", fmt.Sprintf("%s_%d", task.Task, count[task.Task]))
			if want, ok := plainWait(job, k, "waterproof", "finish"); ok {
				known++
				require.Equal(t, number(want), v)
			} else if v.State == Known && v.Note() == "" {
				// Other tasks name every face: the task is held against all of them.
				require.Empty(t, task.Faces)
			}
		}
	})
	require.Positive(t, known)
}

func TestWaitPointsAtTheStartThatCameTooEarly(t *testing.T) {
	tile := jobfile.Task{Task: "tile", Planned: spanAt("2026-03-09T08:00:00Z", "2026-03-10T16:00:00Z")}
	late := jobfile.Task{Task: "joint", Planned: spanAt("2026-03-12T08:00:00Z", "")}
	early := jobfile.Task{Task: "joint", Planned: spanAt("2026-03-10T08:00:00Z", "")}
	v := waitAt(t, waitRoom(tile, late, early), "planned_joint_after_tile_h", "job")
	require.Equal(t, -8.0, v.Num)
	require.Equal(t, "/tasks/2/planned/start", v.At())
}

// A reader tells the same times as momentAt does, whatever it has read before.
func TestTimesAreReadOneAfterTheOther(t *testing.T) {
	var texts []string
	for _, day := range []string{"2026-03-02", "2026-03-03", "2024-02-29", "2026-02-29", "1600-01-01", "2026-3-002"} {
		for _, clock := range []string{"T08:00:00", "T23:59:59", "T24:00:00", "T19:60:00", "T00:00:60", "T2:000:00", "t08:00:00", "T0a:00:00", "T08:00:00.5", "T00:00:00"} {
			for _, offset := range []string{"Z", "+01:00", "-09:30", "+24:00", ""} {
				texts = append(texts, day+clock+offset)
			}
		}
	}
	texts = append(texts, "", "2026", "T08:00:00Z")
	r := rand.New(rand.NewPCG(1, 2))
	var reader timeReader
	read := func(s string) { require.Equal(t, momentAt(s), reader.moment(s), s) }
	for _, s := range texts {
		read(s)
	}
	for range 5000 {
		read(texts[r.IntN(len(texts))])
	}
}
