package measure

import (
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
)

func jobNum(v float64) *float64 { return &v }
func jobFlag(v bool) *bool      { return &v }

// jobMeasure takes one measure of the job.
func jobMeasure(t require.TestingT, job *jobfile.Job, name string) Value {
	table := NewPlan(nil).Measure(job).Table("job")
	require.NotNil(t, table)
	require.Equal(t, "job", table.Subjects[0].ID)
	require.Empty(t, table.Subjects[0].Pointer)
	require.Len(t, table.Subjects, 1)
	return table.Column(name)[0]
}

// jobPlainRoom is a room of one wall of 50 mm panels, with the given items on it.
func jobPlainRoom(items ...jobfile.Item) *jobfile.Job {
	for i := range items {
		items[i].Face = "north"
	}
	return &jobfile.Job{Room: &jobfile.Room{Walls: []jobfile.Wall{{ID: "north"}}}, Panel: &jobfile.Panel{ThicknessMM: jobNum(50)}, Items: items}
}

func jobOpening(kind string, mm float64) jobfile.Item {
	return jobfile.Item{ID: kind, Kind: kind, OpeningDiameterMM: jobNum(mm)}
}

func jobFixing(mm, deep float64) jobfile.Item {
	return jobfile.Item{ID: "rail", Kind: "fixing", Inserts: []jobfile.Insert{{DiameterMM: jobNum(mm), DepthMM: jobNum(deep)}}}
}

func TestMissingTools(t *testing.T) {
	cable := jobfile.Item{ID: "heat", Kind: "heating_cable", ExitDiameterMM: jobNum(14), GrooveWidthMM: jobNum(20)}
	for _, x := range []struct {
		what  string
		items []jobfile.Item
		tools *jobfile.Tools
		saws  Value
		bits  Value
	}{
		{"no items", nil, &jobfile.Tools{HoleSawsMM: []float64{}}, none(), none()},
		{"a generator has no hole", []jobfile.Item{{Kind: "steam_generator"}}, nil, none(), none()},
		{"an accessory on the surface", []jobfile.Item{{Kind: "accessory"}}, nil, none(), none()},
		{"an accessory let in", []jobfile.Item{jobOpening("accessory", 68)}, &jobfile.Tools{HoleSawsMM: []float64{64}}, number(1).note("68 mm"), none()},
		{"16 mm is drilled", []jobfile.Item{jobOpening("temperature_sensor", 16)}, &jobfile.Tools{HoleSawsMM: []float64{16}, BitsMM: []float64{}}, none(), number(1).note("16 mm")},
		{"17 mm is sawn", []jobfile.Item{jobOpening("temperature_sensor", 17)}, &jobfile.Tools{HoleSawsMM: []float64{}, BitsMM: []float64{17}}, number(1).note("17 mm"), none()},
		{"each size once, in order", []jobfile.Item{jobOpening("drain", 110), jobOpening("shower", 24), jobOpening("spotlight", 110), jobOpening("steam_outlet", 64), jobFixing(19, 35)},
			&jobfile.Tools{HoleSawsMM: []float64{64}}, number(3).note("19 mm, 24 mm, 110 mm"), none()},
		{"all there", []jobfile.Item{jobOpening("drain", 110), jobOpening("ventilation_outlet", 102), jobOpening("fibre_lights", 5), cable},
			&jobfile.Tools{HoleSawsMM: []float64{102, 110}, BitsMM: []float64{5, 14}}, number(0), number(0)},
		{"half a millimetre is another size", []jobfile.Item{jobOpening("drain", 110.5)}, &jobfile.Tools{HoleSawsMM: []float64{110}}, number(1).note("110.5 mm"), none()},
		{"no tool list", []jobfile.Item{jobOpening("drain", 110), jobOpening("fibre_lights", 5)}, nil, unknown(), unknown()},
		{"a tool list without saws", []jobfile.Item{jobOpening("drain", 110), jobOpening("fibre_lights", 5)}, &jobfile.Tools{BitsMM: []float64{5}}, unknown(), number(0)},
		{"a size that is not given", []jobfile.Item{jobOpening("drain", 110), {Kind: "steam_outlet"}}, &jobfile.Tools{HoleSawsMM: []float64{110}, BitsMM: []float64{}},
			unknown().note("a size that is needed is not given"), unknown().note("a size that is needed is not given")},
		{"a size that is not given, and one that is not listed", []jobfile.Item{jobOpening("drain", 110), {Kind: "steam_outlet"}}, &jobfile.Tools{HoleSawsMM: []float64{64}, BitsMM: []float64{}},
			number(1).note("110 mm"), unknown().note("a size that is needed is not given")},
		{"inserts that are not given", []jobfile.Item{{Kind: "fixing"}}, &jobfile.Tools{HoleSawsMM: []float64{19}, BitsMM: []float64{}},
			unknown().note("a size that is needed is not given"), unknown().note("a size that is needed is not given")},
		{"no inserts", []jobfile.Item{{Kind: "fixing", Inserts: []jobfile.Insert{}}}, &jobfile.Tools{HoleSawsMM: []float64{19}}, none(), none()},
	} {
		t.Run(x.what, func(t *testing.T) {
			job := jobPlainRoom(x.items...)
			job.Tools = x.tools
			require.Equal(t, x.saws, jobMeasure(t, job, "missing_saws"))
			require.Equal(t, x.bits, jobMeasure(t, job, "missing_bits"))
		})
	}
}

func TestMissingCutters(t *testing.T) {
	cable := func(w *float64) jobfile.Item { return jobfile.Item{Kind: "heating_cable", GrooveWidthMM: w} }
	job := jobPlainRoom(cable(jobNum(20)), cable(jobNum(12)))
	require.Equal(t, unknown(), jobMeasure(t, job, "missing_cutters"))
	job.Tools = &jobfile.Tools{GrooveCuttersMM: []float64{20}}
	require.Equal(t, number(1).note("12 mm"), jobMeasure(t, job, "missing_cutters"))
	job.Tools.GrooveCuttersMM = []float64{12, 20}
	require.Equal(t, number(0), jobMeasure(t, job, "missing_cutters"))
	job = jobPlainRoom(jobOpening("drain", 110))
	job.Tools = &jobfile.Tools{GrooveCuttersMM: []float64{}}
	require.Equal(t, none(), jobMeasure(t, job, "missing_cutters"))
	require.Equal(t, none(), jobMeasure(t, job, "insulation_tester"))
}

// An empty list in the file says that there is nothing; a list that is left out says nothing.
func TestEmptyListsOfTheFile(t *testing.T) {
	f, err := jobfile.Load("job.yaml", []byte(`
wetrule: 1
reference: a
stage: site
judged_on: 2026-03-02
room: {use: steam_room, walls: [{id: north, width_mm: 1800}]}
panel: {thickness_mm: 50}
items:
  - {id: rail, kind: fixing, face: north, inserts: []}
  - {id: drain, kind: drain, face: north, opening_diameter_mm: 110}
tools: {hole_saws_mm: []}
safety: {ppe: []}
`))
	require.NoError(t, err)
	require.Equal(t, number(1).note("110 mm"), jobMeasure(t, f.Job, "missing_saws"))
	require.Equal(t, none(), jobMeasure(t, f.Job, "missing_bits"))
	require.Equal(t, yes(false), jobMeasure(t, f.Job, "gloves"))
	require.Equal(t, none(), jobMeasure(t, f.Job, "isocyanate_training"))
	require.Equal(t, unknown().note("no tasks are listed"), jobMeasure(t, f.Job, "missing_tasks"))
}

// More tools never make more sizes missing, and listing what the note names leaves nothing missing.
func TestMissingSizes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.Map(rapid.IntRange(1, 40), func(i int) float64 { return float64(i) / 2 })
		needed := rapid.SliceOfN(size, 1, 8).Draw(t, "needed")
		listed := rapid.SliceOfN(size, 0, 8).Draw(t, "listed")
		v := jobMissingSizes(needed, false, listed)
		require.Equal(t, Known, v.State)
		more := jobMissingSizes(needed, false, append(slices.Clone(listed), size.Draw(t, "more")))
		require.LessOrEqual(t, more.Num, v.Num)
		require.Equal(t, number(0), jobMissingSizes(needed, false, append(slices.Clone(listed), needed...)))
		// What is not known makes nothing better.
		if w := jobMissingSizes(needed, true, listed); w.State == Known {
			require.Equal(t, v, w)
			require.Positive(t, w.Num)
		} else {
			require.Zero(t, v.Num)
		}
	})
}

func TestHandSaw(t *testing.T) {
	drain := jobOpening("drain", 110)
	for _, x := range []struct {
		what  string
		items []jobfile.Item
		panel *float64
		reach *float64
		saw   *bool
		want  Value
	}{
		{"nothing is sawn", []jobfile.Item{jobOpening("fibre_lights", 5)}, jobNum(50), jobNum(40), nil, none()},
		{"it reaches through exactly", []jobfile.Item{drain}, jobNum(50), jobNum(50), jobFlag(false), none()},
		{"a millimetre short, none listed", []jobfile.Item{drain}, jobNum(50), jobNum(49), jobFlag(false), yes(false)},
		{"a millimetre short, listed", []jobfile.Item{drain}, jobNum(50), jobNum(49), jobFlag(true), yes(true)},
		{"a millimetre short, not told", []jobfile.Item{drain}, jobNum(50), jobNum(49), nil, unknown()},
		{"reach not given, none listed", []jobfile.Item{drain}, jobNum(50), nil, jobFlag(false), unknown()},
		{"reach not given, listed", []jobfile.Item{drain}, jobNum(50), nil, jobFlag(true), yes(true)},
		{"thickness not given", []jobfile.Item{drain}, nil, jobNum(49), jobFlag(false), unknown()},
		{"a blind hole within reach", []jobfile.Item{jobFixing(19, 35)}, jobNum(50), jobNum(35), jobFlag(false), none()},
		{"a blind hole out of reach", []jobfile.Item{jobFixing(19, 36)}, jobNum(50), jobNum(35), jobFlag(false), yes(false)},
		{"a blind hole of unknown depth", []jobfile.Item{{Kind: "fixing", Inserts: []jobfile.Insert{{DiameterMM: jobNum(19)}}}}, jobNum(50), jobNum(60), jobFlag(false), unknown()},
		{"one too deep, one not known", []jobfile.Item{drain, {Kind: "fixing"}}, jobNum(50), jobNum(49), jobFlag(false), yes(false)},
		{"a hole of unknown size", []jobfile.Item{{Kind: "spotlight"}}, jobNum(50), jobNum(60), jobFlag(false), unknown()},
	} {
		t.Run(x.what, func(t *testing.T) {
			job := jobPlainRoom(x.items...)
			job.Panel.ThicknessMM = x.panel
			job.Tools = &jobfile.Tools{SawReachMM: x.reach, HandSaw: x.saw}
			require.Equal(t, x.want, jobMeasure(t, job, "hand_saw"))
		})
	}
	t.Run("the face's own panel counts", func(t *testing.T) {
		job := jobPlainRoom(drain)
		job.Room.Walls[0].Panel = &jobfile.Panel{ThicknessMM: jobNum(80)}
		job.Tools = &jobfile.Tools{SawReachMM: jobNum(60), HandSaw: jobFlag(false)}
		require.Equal(t, yes(false), jobMeasure(t, job, "hand_saw"))
	})
	t.Run("no tool list", func(t *testing.T) {
		require.Equal(t, unknown(), jobMeasure(t, jobPlainRoom(drain), "hand_saw"))
	})
}

func TestIsocyanateTraining(t *testing.T) {
	glued := func(adhesive string) jobfile.Item { f := jobFixing(19, 35); f.Adhesive = adhesive; return f }
	for _, x := range []struct {
		what     string
		items    []jobfile.Item
		material string
		trained  *bool
		want     Value
	}{
		{"no adhesive", nil, "", jobFlag(false), none()},
		{"another adhesive", []jobfile.Item{glued("epoxy")}, "epoxy putty", jobFlag(false), none()},
		{"polyurethane", []jobfile.Item{glued("polyurethane")}, "", jobFlag(false), yes(false)},
		{"polyurethane, trained", []jobfile.Item{glued("polyurethane")}, "", jobFlag(true), yes(true)},
		{"polyurethane, not told", []jobfile.Item{glued("polyurethane")}, "", nil, unknown()},
		{"by the material of a task", nil, "Polyurethane foam, one part", jobFlag(false), yes(false)},
		{"by its short name", nil, "1K-PU foam", jobFlag(false), yes(false)},
		{"a word that holds the letters", nil, "purple putty", jobFlag(false), none()},
		{"adhesive not told", []jobfile.Item{glued("")}, "", jobFlag(false), unknown().note("which adhesive holds the inserts is not given")},
		{"adhesive not told, trained", []jobfile.Item{glued("")}, "", jobFlag(true), yes(true)},
	} {
		t.Run(x.what, func(t *testing.T) {
			job := jobPlainRoom(x.items...)
			job.Tasks = []jobfile.Task{{Task: "bond_inserts", Material: x.material}}
			job.Safety = &jobfile.Safety{IsocyanateTraining: x.trained}
			require.Equal(t, x.want, jobMeasure(t, job, "isocyanate_training"))
		})
	}
}

func TestSafetyThatDoesNotArise(t *testing.T) {
	job := jobPlainRoom()
	for _, name := range []string{"gloves", "eye_protection", "isolation_plan", "missing_tasks", "isocyanate_training"} {
		require.Equal(t, none(), jobMeasure(t, job, name), name)
	}
	require.Equal(t, unknown(), jobMeasure(t, job, "dust_control"), "the build-up is not told")
	job.Circuits = []jobfile.Circuit{{ID: "lights"}}
	require.Equal(t, unknown(), jobMeasure(t, job, "isolation_plan"))
	job.BuildUp = []jobfile.Layer{{Layer: "mesh"}}
	require.Equal(t, none(), jobMeasure(t, job, "dust_control"))
	require.Equal(t, unknown(), jobMeasure(t, job, "gloves"))
	job.BuildUp = []jobfile.Layer{{Layer: "cement"}}
	job.Safety = &jobfile.Safety{DustControl: "none"}
	require.Equal(t, text("none"), jobMeasure(t, job, "dust_control"))
}

func TestMissingTasks(t *testing.T) {
	job := jobPlainRoom()
	job.BuildUp = []jobfile.Layer{{Layer: "mesh"}, {Layer: "cement"}, {Layer: "waterproofing"}, {Layer: "lime_plaster"}}
	job.Joints = &jobfile.Joints{Perimeter: "open"}
	for _, name := range []string{"assemble_panels", "mesh_and_cement", "waterproof", "plaster"} {
		require.NotEqual(t, number(0), jobMeasure(t, job, "missing_tasks"))
		job.Tasks = append(job.Tasks, jobfile.Task{Task: name})
	}
	require.Equal(t, number(1).note("flood test"), jobMeasure(t, job, "missing_tasks"))
	job.Tasks = append(job.Tasks, jobfile.Task{Task: "flood_test"})
	require.Equal(t, number(0), jobMeasure(t, job, "missing_tasks"))
	job.Items = []jobfile.Item{{ID: "out", Kind: "steam_outlet", Face: "north"}}
	require.Equal(t, number(5).note("cut openings, insulate tube, insert tube, fit collars, first steam"), jobMeasure(t, job, "missing_tasks"))
	job.Items = []jobfile.Item{{ID: "heat", Kind: "heating_cable", Face: "north"}}
	require.Equal(t, number(4).note("cut grooves, lay cable, embed cable, restart heating"), jobMeasure(t, job, "missing_tasks"))
}

func TestReleaseSigned(t *testing.T) {
	const before, end, between, begun, after = "2026-03-17T08:59:59Z", "2026-03-17T09:00:00Z", "2026-03-17T12:00:00Z", "2026-03-18T08:00:00Z", "2026-03-18T08:00:01Z"
	sign := func(what, when string) jobfile.Record {
		return jobfile.Record{Record: "signature", For: what, At: when}
	}
	flood := jobfile.Task{Task: "flood_test", Actual: spanAt("", end)}
	tile := jobfile.Task{Task: "tile", Actual: spanAt(begun, "")}
	for _, x := range []struct {
		what    string
		tasks   []jobfile.Task
		records []jobfile.Record
		want    Value
	}{
		{"in time", []jobfile.Task{flood, tile}, []jobfile.Record{sign("release for tiling", between)}, yes(true)},
		{"at the end of the test", []jobfile.Task{flood, tile}, []jobfile.Record{sign("Release for Tiling", end)}, yes(true)},
		{"at the first tile", []jobfile.Task{flood, tile}, []jobfile.Record{sign("release: plaster and tiles", begun)}, yes(true)},
		{"the same moment elsewhere", []jobfile.Task{flood, tile}, []jobfile.Record{sign("tiling", "2026-03-17T10:00:00+01:00")}, yes(true)},
		{"too early", []jobfile.Task{flood, tile}, []jobfile.Record{sign("tiling", before)}, yes(false).note("signed before the flood test was over")},
		{"too late", []jobfile.Task{flood, tile}, []jobfile.Record{sign("tiling", after)}, yes(false).note("signed after the finish was begun")},
		{"tiling not begun", []jobfile.Task{flood, {Task: "tile"}}, []jobfile.Record{sign("tiling", after)}, yes(true)},
		{"too early, and again in time", []jobfile.Task{flood, tile}, []jobfile.Record{sign("tiling", before), sign("tiling", between)}, yes(true)},
		{"without a time, and again in time", []jobfile.Task{flood, tile}, []jobfile.Record{sign("tiling", ""), sign("tiling", between)}, yes(true)},
		{"without a time", []jobfile.Task{flood, tile}, []jobfile.Record{sign("tiling", "")}, unknown().note("the signature has no time")},
		{"for something else", []jobfile.Task{flood, tile}, []jobfile.Record{sign("delivery of tiles", between)}, unknown().note("no such signature is recorded")},
		{"no record", []jobfile.Task{flood, tile}, nil, unknown().note("no such signature is recorded")},
		{"no test", []jobfile.Task{tile}, []jobfile.Record{sign("tiling", between)}, unknown().note("when the flood test was over is not given")},
		{"the record of the test tells its end", []jobfile.Task{tile}, []jobfile.Record{sign("tiling", before), {Record: "flood_test", Finish: end}}, yes(false).note("signed before the flood test was over")},
		{"planned times do not count", []jobfile.Task{{Task: "flood_test", Planned: spanAt("", end)}, tile}, []jobfile.Record{sign("tiling", between)}, unknown().note("when the flood test was over is not given")},
	} {
		t.Run(x.what, func(t *testing.T) {
			job := jobPlainRoom()
			job.Tasks, job.Records = x.tasks, x.records
			require.Equal(t, x.want, jobMeasure(t, job, "release_for_tiling_signed"))
		})
	}
	job := jobPlainRoom()
	job.BuildUp = []jobfile.Layer{{Layer: "waterproofing"}}
	require.Equal(t, none(), jobMeasure(t, job, "release_for_tiling_signed"))
	job.Tasks = []jobfile.Task{tile}
	require.Equal(t, Unknown, jobMeasure(t, job, "release_for_tiling_signed").State)
}

func TestTasksAreSubjects(t *testing.T) {
	job := jobPlainRoom()
	job.Tasks = []jobfile.Task{{Task: "tile", SiteTemperatureC: jobNum(12)}, {Task: "fit", SiteTemperatureC: jobNum(2)}, {Task: "tile"}, {Task: "tile", SiteTemperatureC: jobNum(-3.25)}}
	table := NewPlan(nil).Measure(job).Table("task")
	var ids, pointers []string
	for _, s := range table.Subjects {
		ids, pointers = append(ids, s.ID), append(pointers, s.Pointer)
	}
	require.Equal(t, []string{"tile_1", "fit_1", "tile_2", "tile_3"}, ids)
	require.Equal(t, []string{"/tasks/0", "/tasks/1", "/tasks/2", "/tasks/3"}, pointers)
	require.Equal(t, []Value{number(12), none(), unknown(), number(-3.25)}, table.Column("site_temperature_c"))
	require.Nil(t, NewPlan(nil).Measure(jobPlainRoom()).Table("task"))
}

func TestGroutOfTask(t *testing.T) {
	wall := func(id, grout string, layers ...string) jobfile.Wall {
		w := jobfile.Wall{ID: id}
		if grout != "" {
			w.Joints = &jobfile.Joints{Grout: grout}
		}
		for _, l := range layers {
			w.BuildUp = append(w.BuildUp, jobfile.Layer{Layer: l})
		}
		return w
	}
	for _, x := range []struct {
		what  string
		walls []jobfile.Wall
		task  jobfile.Task
		want  Value
	}{
		{"epoxy everywhere", []jobfile.Wall{wall("a", "epoxy"), wall("b", "epoxy")}, jobfile.Task{}, text("epoxy")},
		{"cement somewhere", []jobfile.Wall{wall("a", "epoxy"), wall("b", "cement")}, jobfile.Task{}, text("cement")},
		{"cement, and some not told", []jobfile.Wall{wall("a", ""), wall("b", "cement")}, jobfile.Task{}, text("cement")},
		{"epoxy, and some not told", []jobfile.Wall{wall("a", ""), wall("b", "epoxy")}, jobfile.Task{}, unknown()},
		{"plaster has no joints", []jobfile.Wall{wall("a", "cement", "lime_plaster"), wall("b", "epoxy", "tile")}, jobfile.Task{}, text("epoxy")},
		{"only plaster", []jobfile.Wall{wall("a", "", "lime_plaster")}, jobfile.Task{}, none()},
		{"the faces that it names", []jobfile.Wall{wall("a", "epoxy"), wall("b", "cement")}, jobfile.Task{Faces: []string{"a"}}, text("epoxy")},
		{"the face of an item that it names", []jobfile.Wall{wall("a", "epoxy"), wall("b", "cement")}, jobfile.Task{Items: []string{"vent", "ghost"}}, text("epoxy")},
	} {
		t.Run(x.what, func(t *testing.T) {
			x.task.Task = "first_steam"
			job := &jobfile.Job{Room: &jobfile.Room{Walls: x.walls}, Items: []jobfile.Item{{ID: "vent", Kind: "ventilation_outlet", Face: "a"}}, Tasks: []jobfile.Task{x.task}}
			require.Equal(t, x.want, NewPlan(nil).Measure(job).Table("task").Column("grout")[0])
		})
	}
}

// TestWordsOfTexts holds the search for words against one by package strings.
func TestWordsOfTexts(t *testing.T) {
	words := []string{"cement", "pu", "epoxy", "harz", "füller", "k"}
	rapid.Check(t, func(t *rapid.T) {
		text := ""
		for range rapid.IntRange(0, 6).Draw(t, "pieces") {
			text += rapid.SampledFrom([]string{"cement", "Cement", "PU", "cements", "epoxy", "Füller", "FÜLLER", "Harz", " ", "-", "2", "_", "\u212a", "@", "[", "\xff"}).Draw(t, "piece")
		}
		want := -1
		for _, w := range strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) }) {
			if i := slices.Index(words, w); i >= 0 && (want < 0 || i < want) {
				want = i
			}
		}
		require.Equal(t, want, firstWord(text, words), "%q", text)
	})
}
