package measure

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
)

func buildUpNum(v float64) *float64 { return &v }
func buildUpBool(v bool) *bool      { return &v }

// buildUpJob is a steam room with one wall, a floor, a ceiling and a bench, all of one build-up.
func buildUpJob(layers ...jobfile.Layer) *jobfile.Job {
	return &jobfile.Job{
		Room: &jobfile.Room{
			Use:     "steam_room",
			Walls:   []jobfile.Wall{{ID: "north", WidthMM: buildUpNum(2400)}},
			Floor:   &jobfile.Floor{},
			Ceiling: &jobfile.Ceiling{},
			Benches: []jobfile.Bench{{ID: "bench", Wall: "north"}},
		},
		BuildUp: layers,
	}
}

// buildUpValue measures one thing of one subject.
func buildUpValue(t require.TestingT, job *jobfile.Job, kind, id, name string) Value {
	table := NewPlan(nil).Measure(job).Table(kind)
	require.NotNil(t, table, "no table of %s", kind)
	i := table.Find(id)
	require.GreaterOrEqual(t, i, 0, "no %s %s", kind, id)
	col := table.Column(name)
	require.NotNil(t, col, "no measure %s", name)
	return col[i]
}

func TestFacesAreAllThere(t *testing.T) {
	table := NewPlan(nil).Measure(buildUpJob()).Table("face")
	var ids []string
	for _, s := range table.Subjects {
		ids = append(ids, s.ID+" "+s.Pointer)
	}
	require.Equal(t, []string{"north /room/walls/0", "floor /room/floor", "ceiling /room/ceiling", "bench.seat /room/benches/0", "bench.riser /room/benches/0"}, ids)
}

func TestLayersOfAFace(t *testing.T) {
	whole := []jobfile.Layer{{Layer: "mesh"}, {Layer: "cement"}, {Layer: "waterproofing"}, {Layer: "tile_bed"}, {Layer: "tile"}}
	job := buildUpJob(whole...)
	job.Room.Floor.BuildUp = []jobfile.Layer{{Layer: "cement", Flexible: buildUpBool(false)}, {Layer: "lime_plaster"}}
	job.Room.Ceiling.BuildUp = []jobfile.Layer{}
	for _, c := range []struct {
		face, measure string
		want          Value
	}{
		{"north", "layers", texts([]string{"mesh", "cement", "waterproofing", "tile_bed", "tile"})},
		{"floor", "layers", texts([]string{"cement", "lime_plaster"})},
		{"ceiling", "layers", texts([]string{})},
		{"north", "mesh_present", yes(true)},
		{"floor", "mesh_present", yes(false)},
		{"ceiling", "waterproofing_present", yes(false)},
		{"north", "finish_present", yes(true)},
		{"floor", "finish_present", yes(true)},
		{"ceiling", "finish_present", yes(false)},
		{"north", "cement_flexible", unknown()},
		{"floor", "cement_flexible", yes(false)},
		{"ceiling", "cement_flexible", none()},
		{"north", "plaster_polished", none()},
		{"floor", "plaster_polished", unknown()},
		{"bench.riser", "cement_present", yes(true)},
	} {
		got := buildUpValue(t, job, "face", c.face, c.measure)
		require.True(t, c.want.Same(got), "%s of %s: %+v", c.measure, c.face, got)
	}
	job = buildUpJob()
	for _, m := range []string{"layers", "mesh_present", "cement_present", "waterproofing_present", "finish_present", "cement_flexible", "plaster_polished", "waterproofing_family",
		"waterproofing_thickness_mm", "maker_thickness_min_mm", "waterproofing_coats", "permeance_perm", "finish_mass_kg_m2", "adhesive_class", "joint_width_mm", "joint_width_needed_mm", "film_needed_mm", "film_recorded"} {
		require.Equal(t, Unknown, buildUpValue(t, job, "face", "north", m).State, "%s without a build-up", m)
	}
}

func TestThicknessOfWaterproofing(t *testing.T) {
	const notGiven = -1
	for _, c := range []struct {
		source, family string
		maker          float64
		needed, plan   Value // least dry thickness, and with allowance
	}{
		{"DIN 18534-3, dispersion 0.5 mm + 25 % = 0.625 mm", "dispersion", 0.5, number(0.5), number(0.625)},
		{"DIN 18534-3, slurry 2.0 mm + 25 % = 2.5 mm", "cement_slurry", 2, number(2), number(2.5)},
		{"DIN 18534-3, resin 1.0 mm + 25 % = 1.25 mm", "reaction_resin", 1, number(1), number(1.25)},
		{"the maker's figure is larger and governs", "reaction_resin", 1.2, number(1.2), number(1.5)},
		{"the family's figure is larger and governs", "cement_slurry", 1.5, number(2), number(2.5)},
		{"the maker's figure is not given", "cement_slurry", notGiven, unknown(), unknown()},
		{"the family is not given", "", 2, unknown(), unknown()},
		{"a sheet", "sheet", 0.4, none(), none()},
		{"a board", "board", notGiven, none(), none()},
	} {
		l := jobfile.Layer{Layer: "waterproofing", Family: c.family}
		if c.maker != notGiven {
			l.MakerThicknessMinMM = buildUpNum(c.maker)
		}
		job := buildUpJob(l)
		needed, plan := buildUpValue(t, job, "face", "north", "film_needed_mm"), buildUpValue(t, job, "face", "north", "thickness_with_allowance_mm")
		require.True(t, c.needed.Same(needed), "%s: needed %+v", c.source, needed)
		require.True(t, c.plan.Same(plan), "%s: with allowance %+v", c.source, plan)
	}
}

func TestThicknessNeededIsNeverBelowEitherFigure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		family := rapid.SampledFrom([]string{"dispersion", "cement_slurry", "reaction_resin"}).Draw(t, "family")
		maker := rapid.Float64Range(0.05, 20).Draw(t, "maker")
		least, liquid := buildUpFamilyMinMM(family)
		require.True(t, liquid)
		job := buildUpJob(jobfile.Layer{Layer: "waterproofing", Family: family, MakerThicknessMinMM: &maker})
		v := buildUpValue(t, job, "face", "north", "film_needed_mm")
		require.Equal(t, Known, v.State)
		require.GreaterOrEqual(t, v.Num+0.0006, max(least, maker))
		require.True(t, math.Abs(v.Num-least) <= 0.0006 || math.Abs(v.Num-maker) <= 0.0006)
		require.Greater(t, buildUpValue(t, job, "face", "north", "thickness_with_allowance_mm").Num, v.Num)
	})
}

func TestMakerThickness(t *testing.T) {
	for _, c := range []struct {
		family string
		given  *float64
		want   Value
	}{
		{"dispersion", nil, unknown()},
		{"", nil, unknown()},
		{"sheet", nil, none()},
		{"board", nil, none()},
		{"sheet", buildUpNum(0.4), number(0.4)},
		{"cement_slurry", buildUpNum(2.4), number(2.4)},
		{"", buildUpNum(2.4), number(2.4)},
	} {
		got := buildUpValue(t, buildUpJob(jobfile.Layer{Layer: "waterproofing", Family: c.family, MakerThicknessMinMM: c.given}), "face", "north", "maker_thickness_min_mm")
		require.True(t, c.want.Same(got), "%s %v: %+v", c.family, c.given, got)
	}
}

func TestWaterproofingOfOtherRooms(t *testing.T) {
	job := buildUpJob(jobfile.Layer{Layer: "waterproofing", PermeancePerm: buildUpNum(2), SteamRoomDeclared: buildUpBool(false)})
	require.True(t, number(2).Same(buildUpValue(t, job, "face", "north", "permeance_perm")))
	require.True(t, yes(false).Same(buildUpValue(t, job, "face", "north", "declared_for_steam_rooms")))
	job.Room.Use = "wet_room"
	require.Equal(t, None, buildUpValue(t, job, "face", "north", "permeance_perm").State)
	require.Equal(t, None, buildUpValue(t, job, "face", "north", "declared_for_steam_rooms").State)
}

func TestAirThatTheFaceMeets(t *testing.T) {
	for _, c := range []struct {
		use       string
		air, ceil *float64
		face      string
		want      Value
	}{
		{"steam_room", buildUpNum(45), buildUpNum(50), "ceiling", number(50)},
		{"steam_room", buildUpNum(45), buildUpNum(50), "north", number(50)},
		{"steam_room", buildUpNum(45), buildUpNum(50), "floor", number(45)},
		{"steam_room", buildUpNum(45), buildUpNum(50), "bench.seat", number(45)},
		{"steam_room", buildUpNum(45), buildUpNum(50), "bench.riser", number(45)},
		{"steam_room", buildUpNum(45), buildUpNum(44), "ceiling", number(45)},
		{"steam_room", buildUpNum(45), nil, "ceiling", unknown()},
		{"steam_room", buildUpNum(45), nil, "floor", number(45)},
		{"steam_room", nil, buildUpNum(50), "ceiling", unknown()},
		{"wet_room", buildUpNum(24), nil, "ceiling", number(24)},
		{"wet_room", buildUpNum(24), buildUpNum(26), "north", number(26)},
	} {
		job := buildUpJob()
		job.Room.Use = c.use
		job.Climate = &jobfile.Climate{AirTemperatureC: c.air, CeilingAirTemperatureC: c.ceil}
		got := buildUpValue(t, job, "face", c.face, "air_temperature_max_c")
		require.True(t, c.want.Same(got), "%s of a %s: %+v", c.face, c.use, got)
	}
	require.Equal(t, Unknown, buildUpValue(t, buildUpJob(), "face", "floor", "air_temperature_max_c").State)
}

func TestMassOfTheFinish(t *testing.T) {
	bed, tile, plaster := "tile_bed", "tile", "lime_plaster"
	layer := func(name string, kg ...float64) jobfile.Layer {
		l := jobfile.Layer{Layer: name}
		if len(kg) > 0 {
			l.MassKGM2 = &kg[0]
		}
		return l
	}
	for _, c := range []struct {
		name   string
		layers []jobfile.Layer
		want   Value
	}{
		{"BS 5385-1: tile 18 + bed 5 + grout 0.5 = 23.5", []jobfile.Layer{layer("cement", 4.5), layer("waterproofing", 3.5), layer(bed, 5), layer(tile, 18)}, number(23.5)},
		{"exactly the guide figure", []jobfile.Layer{layer(bed, 5), layer(tile, 54.5)}, number(60)},
		{"plaster has no grout", []jobfile.Layer{layer(plaster, 16)}, number(16)},
		{"no mass of the tile", []jobfile.Layer{layer(bed, 5), layer(tile)}, unknown()},
		{"no mass of the bed", []jobfile.Layer{layer(bed), layer(tile, 18)}, unknown()},
		{"no bed", []jobfile.Layer{layer(tile, 18)}, unknown()},
		{"no mass of the plaster", []jobfile.Layer{layer(plaster)}, unknown()},
		{"no finish", []jobfile.Layer{layer(bed, 5)}, none()},
	} {
		got := buildUpValue(t, buildUpJob(c.layers...), "face", "north", "finish_mass_kg_m2")
		require.True(t, c.want.Same(got), "%s: %+v", c.name, got)
	}
	require.Contains(t, buildUpValue(t, buildUpJob(layer(bed, 5), layer(tile, 18)), "face", "north", "finish_mass_kg_m2").Note(), "grout")
}

func TestClassesOfAdhesive(t *testing.T) {
	for _, c := range []struct {
		printed, class string
		deformable     Value
	}{
		{"C2TE S1", "C2", yes(true)},
		{"C2 TE S2", "C2", yes(true)},
		{"c2tes1", "C2", yes(true)},
		{"C2-S1-TE", "C2", yes(true)},
		{"C2FTE P1", "C2", yes(false)},
		{"C2", "C2", yes(false)},
		{"C1T", "C1", yes(false)},
		{"C1 S1", "C1", yes(true)},
		{"D2TE", "D2", none()},
		{"R2 T", "R2", none()},
		{"R1", "R1", none()},
	} {
		job := buildUpJob(jobfile.Layer{Layer: "tile_bed", Class: c.printed})
		require.True(t, text(c.class).Same(buildUpValue(t, job, "face", "north", "adhesive_class")), c.printed)
		require.True(t, c.deformable.Same(buildUpValue(t, job, "face", "north", "adhesive_deformable")), c.printed)
	}
	for _, printed := range []string{"C3", "C", "2TE", "S1", "flexible", "C2X", "C2TE S3", "CG2"} {
		job := buildUpJob(jobfile.Layer{Layer: "tile_bed", Class: printed})
		for _, m := range []string{"adhesive_class", "adhesive_deformable"} {
			v := buildUpValue(t, job, "face", "north", m)
			require.Equal(t, Unknown, v.State, "%s of %q", m, printed)
			require.Contains(t, v.Note(), fmt.Sprintf("%q", printed))
		}
	}
	require.Empty(t, buildUpValue(t, buildUpJob(jobfile.Layer{Layer: "tile_bed"}), "face", "north", "adhesive_class").Note())
}

func TestClassesOfJoints(t *testing.T) {
	for _, c := range []struct {
		measure string
		joints  jobfile.Joints
		want    Value
	}{
		{"grout_class", jobfile.Joints{GroutClass: "CG2 WA"}, text("CG2")},
		{"grout_class", jobfile.Joints{GroutClass: "cg1f"}, text("CG1")},
		{"grout_class", jobfile.Joints{GroutClass: "RG"}, text("RG")},
		{"grout_class", jobfile.Joints{GroutClass: "RG2"}, unknown()},
		{"grout_class", jobfile.Joints{GroutClass: "CG"}, unknown()},
		{"grout_class", jobfile.Joints{}, unknown()},
		{"sealant_class", jobfile.Joints{SealantClass: "XS1"}, text("XS")},
		{"sealant_class", jobfile.Joints{SealantClass: "XS"}, text("XS")},
		{"sealant_class", jobfile.Joints{SealantClass: "S 3", Perimeter: "sealant"}, text("S")},
		{"sealant_class", jobfile.Joints{SealantClass: "XS4"}, unknown()},
		{"sealant_class", jobfile.Joints{SealantClass: "XS1", Perimeter: "grout"}, none()},
		{"sealant_class", jobfile.Joints{Perimeter: "sealant"}, unknown()},
	} {
		job := buildUpJob(jobfile.Layer{Layer: "tile"})
		job.Joints = &c.joints
		got := buildUpValue(t, job, "face", "north", c.measure)
		require.True(t, c.want.Same(got), "%s of %+v: %+v", c.measure, c.joints, got)
	}
	job := buildUpJob(jobfile.Layer{Layer: "lime_plaster"})
	for _, m := range []string{"joint_width_mm", "joint_width_needed_mm", "movement_joint_spacing_mm", "plane_change", "sealant_class", "grout_class"} {
		require.Equal(t, None, buildUpValue(t, job, "face", "north", m).State, "%s of plaster", m)
	}
}

// Source of the figures: BS 5385-1:2018, width of joints (read).
func TestJointWidthNeeded(t *testing.T) {
	for _, c := range []struct{ length, width, mm float64 }{
		{10, 10, 2},
		{300, 300, 2},  // 0.09 m²
		{600, 166, 2},  // 0.0996 m², side of just 600 mm
		{250, 400, 3},  // just 0.1 m², sides the other way round
		{601, 100, 3},  // over 600 mm
		{1200, 800, 3}, // 0.96 m²
		{1200, 1200, 3},
		{1201, 100, 3},
		{2999, 100, 3},
		{3000, 1000, 5},
	} {
		l := jobfile.Layer{Layer: "tile", LengthMM: &c.length, WidthMM: &c.width}
		v := buildUpValue(t, buildUpJob(l), "face", "floor", "joint_width_needed_mm")
		require.True(t, number(c.mm).Same(v), "%v × %v: %+v", c.length, c.width, v)
		require.Equal(t, c.mm == 3 && (max(c.length, c.width) > 1200 || c.length*c.width > 1e6), v.Note() != "", "%v × %v: %q", c.length, c.width, v.Note())
	}
	require.Equal(t, Unknown, buildUpValue(t, buildUpJob(jobfile.Layer{Layer: "tile", LengthMM: buildUpNum(300)}), "face", "floor", "joint_width_needed_mm").State)
}

func TestBarefootClass(t *testing.T) {
	job := buildUpJob(jobfile.Layer{Layer: "tile", BarefootClass: "B"})
	require.True(t, text("B").Same(buildUpValue(t, job, "face", "floor", "barefoot_class")))
	for _, face := range []string{"north", "ceiling", "bench.seat", "bench.riser"} {
		require.Equal(t, None, buildUpValue(t, job, "face", face, "barefoot_class").State, face)
	}
	v := buildUpValue(t, buildUpJob(jobfile.Layer{Layer: "lime_plaster"}), "face", "floor", "barefoot_class")
	require.Equal(t, Unknown, v.State)
	require.NotEmpty(t, v.Note())
	require.Equal(t, None, buildUpValue(t, buildUpJob(jobfile.Layer{Layer: "mesh"}), "face", "floor", "barefoot_class").State)
}

func TestFilmReadings(t *testing.T) {
	slurry := jobfile.Layer{Layer: "waterproofing", Family: "cement_slurry"}
	begun := &jobfile.Span{Start: "2026-03-18T08:00:00+00:00"}
	films := func(face string, mm ...float64) jobfile.Record {
		return jobfile.Record{Record: "film_thickness", Face: face, ReadingsMM: mm}
	}
	for _, c := range []struct {
		name            string
		layer           jobfile.Layer
		records         []jobfile.Record
		tasks           []jobfile.Task
		recorded, least Value
	}{
		{"readings in two records", slurry, []jobfile.Record{films("north", 2.6, 2.5), films("floor", 0.1), films("north", 2.4, 2.7)}, nil, yes(true), number(2.4)},
		{"none, and nothing begun", slurry, nil, nil, unknown(), none()},
		{"none, tiling planned", slurry, nil, []jobfile.Task{{Task: "tile", Planned: begun}}, unknown(), none()},
		{"none, tiling begun", slurry, []jobfile.Record{films("floor", 2.5)}, []jobfile.Task{{Task: "tile", Actual: begun}}, yes(false), none()},
		{"none, plastering begun", slurry, nil, []jobfile.Task{{Task: "plaster", Actual: begun}}, yes(false), none()},
		{"none, tiling begun elsewhere", slurry, nil, []jobfile.Task{{Task: "tile", Faces: []string{"floor"}, Actual: begun}}, unknown(), none()},
		{"none, tiling of this face begun", slurry, nil, []jobfile.Task{{Task: "tile", Faces: []string{"north"}, Actual: begun}}, yes(false), none()},
		{"a sheet", jobfile.Layer{Layer: "waterproofing", Family: "sheet"}, nil, []jobfile.Task{{Task: "tile", Actual: begun}}, none(), none()},
		{"family not given", jobfile.Layer{Layer: "waterproofing"}, []jobfile.Record{films("north", 2)}, nil, unknown(), number(2)},
	} {
		job := buildUpJob(c.layer)
		job.Records, job.Tasks = c.records, c.tasks
		recorded, least := buildUpValue(t, job, "face", "north", "film_recorded"), buildUpValue(t, job, "face", "north", "film_least_mm")
		require.True(t, c.recorded.Same(recorded), "%s: recorded %+v", c.name, recorded)
		require.True(t, c.least.Same(least), "%s: least %+v", c.name, least)
	}
}

func TestFloodTest(t *testing.T) {
	flood := func(start, finish string, loss, pan *float64) jobfile.Record {
		return jobfile.Record{Record: "flood_test", Start: start, Finish: finish, DepthMM: buildUpNum(50), LevelLossMM: loss, EvaporationMM: pan}
	}
	const d16, d17, d18 = "2026-03-16T09:00:00+00:00", "2026-03-17T09:00:00+00:00", "2026-03-18T09:00:00+00:00"
	for _, c := range []struct {
		name                        string
		records                     []jobfile.Record
		performed, held, loss, deep Value
	}{
		{"level 50.0 to 48.2 mm, pan lost 1.7 mm: leak 0.1 mm", []jobfile.Record{flood(d16, d17, buildUpNum(1.8), buildUpNum(1.7))}, yes(true), number(24), number(0.1), number(50)},
		{"across a change of offset", []jobfile.Record{flood(d16, "2026-03-17T10:00:00+01:00", buildUpNum(0), buildUpNum(0))}, yes(true), number(24), number(0), number(50)},
		{"no control pan", []jobfile.Record{flood(d16, d17, buildUpNum(1.8), nil)}, yes(true), number(24), unknown(), number(50)},
		{"no finish", []jobfile.Record{flood(d16, "", nil, buildUpNum(0))}, yes(true), unknown(), unknown(), number(50)},
		{"the later of two counts, wherever it stands", []jobfile.Record{flood(d17, d18, buildUpNum(0.5), buildUpNum(0.5)), flood(d16, d17, buildUpNum(9), buildUpNum(0))}, yes(true), number(24), number(0), number(50)},
		{"two, and one does not say when", []jobfile.Record{flood("", "", buildUpNum(0), buildUpNum(0)), flood(d16, d17, buildUpNum(9), buildUpNum(0))}, yes(true), unknown(), unknown(), unknown()},
		{"none", nil, unknown(), none(), none(), none()},
	} {
		job := buildUpJob()
		job.Records = c.records
		for m, want := range map[string]Value{"performed": c.performed, "held_h": c.held, "leak_loss_mm": c.loss, "depth_mm": c.deep} {
			got := buildUpValue(t, job, "flood_test", "flood_test", m)
			require.True(t, want.Same(got), "%s: %s %+v", c.name, m, got)
		}
	}
	job := buildUpJob()
	require.Equal(t, "/room/floor", NewPlan(nil).Measure(job).Table("flood_test").Subjects[0].Pointer)
	job.Records = []jobfile.Record{{Record: "signature"}, {Record: "flood_test"}}
	require.Equal(t, "/records/1", NewPlan(nil).Measure(job).Table("flood_test").Subjects[0].Pointer)
	job.Records, job.Tasks = nil, []jobfile.Task{{Task: "tile", Actual: &jobfile.Span{Start: d18}}}
	require.True(t, yes(false).Same(buildUpValue(t, job, "flood_test", "flood_test", "performed")))
	job.Tasks[0].Faces = []string{"north"}
	require.Equal(t, Unknown, buildUpValue(t, job, "flood_test", "flood_test", "performed").State)
	job.Room.Floor = nil
	require.Nil(t, NewPlan(nil).Measure(job).Table("flood_test"))
}
