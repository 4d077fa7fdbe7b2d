package measure

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
)

// cureTask makes a planned task that cures, at 23 °C and 50 % by its data sheet.
func cureTask(name string, from, to, cureH float64, on ...string) jobfile.Task {
	t := waitTask(name, from, to, on...)
	c, rh := 23.0, 50.0
	t.CureH, t.SiteTemperatureC, t.SiteHumidityPercent = &cureH, &c, &rh
	return t
}

// cureOf measures a task of a job by its id.
func cureOf(t require.TestingT, job *jobfile.Job, id, measure string) Value {
	table := NewPlan(nil).Measure(job).Table("cure")
	row := table.Find(id)
	require.GreaterOrEqual(t, row, 0, id)
	return table.Column(measure)[row]
}

func TestCureWait(t *testing.T) {
	drop := func(x jobfile.Task, what string) jobfile.Task {
		x.Planned = &jobfile.Span{Start: x.Planned.Start, Finish: x.Planned.Finish}
		if what == "start" {
			x.Planned.Start = ""
		} else {
			x.Planned.Finish = ""
		}
		return x
	}
	steam := jobfile.Item{ID: "steam", Kind: "steam_outlet", Face: "north"}
	for _, c := range []struct {
		name  string
		tasks []jobfile.Task
		id    string
		want  Value
	}{
		{"whole room", []jobfile.Task{cureTask("tile", 0, 8, 24), waitTask("joint", 32, 40)}, "tile_1", number(24)},
		{"a second short is less", []jobfile.Task{cureTask("tile", 0, 8, 24), waitTask("joint", 32-1.0/3600, 40)}, "tile_1", number(23.999)},
		{"the first that follows counts", []jobfile.Task{cureTask("mesh_and_cement", 0, 8, 24), waitTask("waterproof", 60, 70), waitTask("fit_collars", 40, 41)}, "mesh_and_cement_1", number(32)},
		{"begun too early", []jobfile.Task{cureTask("tile", 0, 8, 24), waitTask("joint", 6, 40)}, "tile_1", number(-2)},
		{"what began before is another round", []jobfile.Task{cureTask("waterproof", 0, 8, 24, "face:floor"), waitTask("flood_test", 60, 84), cureTask("waterproof", 90, 94, 24, "face:floor"), waitTask("flood_test", 150, 174)}, "waterproof_2", number(56)},
		{"all that follows began before", []jobfile.Task{cureTask("tile", 10, 18, 24), waitTask("joint", 5, 7)}, "tile_1", unknown()},
		{"face by face", []jobfile.Task{cureTask("tile", 0, 8, 24, "face:north"), cureTask("tile", 50, 58, 24, "face:south"), waitTask("joint", 40, 44, "face:north"), waitTask("joint", 90, 94, "face:south")}, "tile_1", number(32)},
		{"the other face", []jobfile.Task{cureTask("tile", 0, 8, 24, "face:north"), cureTask("tile", 50, 58, 24, "face:south"), waitTask("joint", 40, 44, "face:north"), waitTask("joint", 90, 94, "face:south")}, "tile_2", number(32)},
		{"the rest of the room", []jobfile.Task{cureTask("tile", 0, 8, 24), waitTask("joint", 20, 24, "face:north"), cureTask("tile", 0, 4, 24, "face:north"), waitTask("joint", 90, 94)}, "tile_1", number(82)},
		{"an item on the face", []jobfile.Task{cureTask("bond_inserts", 0, 8, 24, "face:south"), waitTask("drive_screws", 40, 41, "item:rail")}, "bond_inserts_1", number(32)},
		{"the face of the item", []jobfile.Task{cureTask("embed_cable", 0, 8, 24, "item:heat"), waitTask("mesh_and_cement", 20, 24, "face:north"), waitTask("mesh_and_cement", 50, 54, "face:floor")}, "embed_cable_1", number(42)},
		{"the room of the item", []jobfile.Task{cureTask("embed_cable", 0, 8, 24, "item:heat"), waitTask("mesh_and_cement", 50, 54)}, "embed_cable_1", number(42)},
		{"only where it has something to do", []jobfile.Task{cureTask("embed_cable", 0, 8, 24), waitTask("mesh_and_cement", 20, 24, "face:north"), waitTask("mesh_and_cement", 50, 54, "face:floor")}, "embed_cable_1", number(42)},
		{"first steam is for all", []jobfile.Task{cureTask("seal", 0, 8, 24, "face:north"), waitTask("first_steam", 500, 501)}, "seal_1", number(492)},
		{"no finish", []jobfile.Task{drop(cureTask("tile", 0, 8, 24), "finish"), waitTask("joint", 32, 40)}, "tile_1", unknown()},
		{"what follows has no start", []jobfile.Task{cureTask("tile", 0, 8, 24), drop(waitTask("joint", 32, 40), "start")}, "tile_1", unknown()},
		{"one has no start, the other is too early", []jobfile.Task{cureTask("mesh_and_cement", 0, 8, 24), drop(waitTask("fit_collars", 32, 40), "start"), waitTask("waterproof", 7, 9)}, "mesh_and_cement_1", number(-1)},
		{"one has no start, the other may not be the first", []jobfile.Task{cureTask("mesh_and_cement", 0, 8, 24), drop(waitTask("fit_collars", 32, 40), "start"), waitTask("waterproof", 50, 60)}, "mesh_and_cement_1", unknown()},
		{"nothing follows though it is due", []jobfile.Task{cureTask("tile", 0, 8, 24)}, "tile_1", unknown()},
		{"nothing has to follow", []jobfile.Task{cureTask("seal", 0, 8, 24)}, "seal_1", none()},
	} {
		job := waitRoom(c.tasks...)
		if strings.Contains(c.name, "steam") {
			job.Items = append(job.Items, steam)
		}
		got := cureOf(t, job, c.id, "planned_wait_h")
		require.True(t, got.Same(c.want), "%s: %+v", c.name, got)
	}
	got := cureOf(t, waitRoom(cureTask("tile", 0, 8, 24), waitTask("joint", 32, 40)), "tile_1", "planned_wait_h")
	require.Equal(t, "/tasks/1/planned/start", got.At())
	require.Equal(t, "until the task joint", got.Note())
	require.True(t, cureOf(t, waitRoom(cureTask("tile", 0, 8, 24), waitTask("joint", 32, 40)), "tile_1", "actual_wait_h").Same(unknown()))
	require.Nil(t, NewPlan(nil).Measure(waitRoom(waitTask("fit", 0, 1))).Table("cure"))
}

func TestCureProduct(t *testing.T) {
	yes := true
	with := func(change func(*jobfile.Job)) func(*jobfile.Job) { return change }
	as := with(func(*jobfile.Job) {})
	build := func(l jobfile.Layer) func(*jobfile.Job) {
		return with(func(j *jobfile.Job) { j.BuildUp = []jobfile.Layer{l, {Layer: "tile"}} })
	}
	for _, c := range []struct {
		name, task, material string
		change               func(*jobfile.Job)
		want                 Value
	}{
		{"tile cement", "tile", "tile cement C2TE S1", as, text("cement")},
		{"dispersion", "waterproof", "Dispersion, two coats", as, text("film")},
		{"cement with dispersion sets as cement", "mesh_and_cement", "cement with polymer dispersion", as, text("cement")},
		{"silicone", "seal", "silicone XS1", as, text("sealant")},
		{"polyurethane sealant", "seal", "polyurethane sealant", as, text("sealant")},
		{"epoxy", "joint", "epoxy grout", as, text("resin")},
		{"foam", "assemble_panels", "mounting foam", as, text("polyurethane")},
		{"no word", "assemble_panels", "as supplied", as, unknown()},
		{"mesh without a word", "mesh_and_cement", "", as, text("cement")},
		{"seal without a word", "seal", "", as, text("sealant")},
		{"family", "waterproof", "", build(jobfile.Layer{Layer: "waterproofing", Family: "dispersion"}), text("film")},
		{"family of resin", "waterproof", "", build(jobfile.Layer{Layer: "waterproofing", Family: "reaction_resin"}), text("resin")},
		{"a sheet does not tell", "waterproof", "", build(jobfile.Layer{Layer: "waterproofing", Family: "sheet"}), unknown()},
		{"no family", "waterproof", "", build(jobfile.Layer{Layer: "waterproofing"}), unknown()},
		{"no waterproofing", "waterproof", "", as, unknown()},
		{"two families", "waterproof", "", with(func(j *jobfile.Job) {
			j.BuildUp = []jobfile.Layer{{Layer: "waterproofing", Family: "dispersion"}}
			j.Room.Walls[0].BuildUp = []jobfile.Layer{{Layer: "waterproofing", Family: "cement_slurry"}}
		}), unknown()},
		{"bed C", "tile", "", build(jobfile.Layer{Layer: "tile_bed", Class: "C2TE S1"}), text("cement")},
		{"bed D", "tile", "", build(jobfile.Layer{Layer: "tile_bed", Class: "D2TE"}), text("film")},
		{"bed R", "tile", "", build(jobfile.Layer{Layer: "tile_bed", Class: "R2"}), text("resin")},
		{"bed without a class", "tile", "", build(jobfile.Layer{Layer: "tile_bed"}), unknown()},
		{"bed with an odd class", "tile", "", build(jobfile.Layer{Layer: "tile_bed", Class: "X"}), unknown()},
		{"grout", "joint", "", with(func(j *jobfile.Job) {
			j.BuildUp, j.Joints = []jobfile.Layer{{Layer: "tile"}}, &jobfile.Joints{Grout: "epoxy"}
		}), text("resin")},
		{"cover", "embed_cable", "", with(func(j *jobfile.Job) { j.Items[2].Cover = &jobfile.GrooveCover{Material: "flexible_tile_cement"} }), text("cement")},
		{"no cover", "embed_cable", "", with(func(j *jobfile.Job) { j.Items[2].Cover = &jobfile.GrooveCover{Material: "none"} }), none()},
		{"cover not known", "embed_cable", "", as, unknown()},
		{"adhesive", "bond_inserts", "", with(func(j *jobfile.Job) { j.Items[1].Adhesive = "polyurethane" }), text("polyurethane")},
		{"adhesive not known", "bond_inserts", "", as, unknown()},
	} {
		task := waitTask(c.task, 0, 8)
		task.Material = c.material
		job := waitRoom(task)
		job.Room.Floor.Heated = &yes
		c.change(job)
		got := cureOf(t, job, c.task+"_1", "product")
		require.True(t, got.Same(c.want), "%s: %+v", c.name, got)
	}
}

func TestCureNeeded(t *testing.T) {
	f := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		name, material string
		change         func(*jobfile.Task)
		want           Value
	}{
		{"at the data sheet's temperature", "cement", func(*jobfile.Task) {}, number(24)},
		{"V9", "cement", func(x *jobfile.Task) { x.SiteTemperatureC = f(8) }, number(67.882)},
		{"V8, data sheet at 20 °C", "cement", func(x *jobfile.Task) { x.SiteTemperatureC, x.CureAtC = f(5), f(20) }, number(67.882)},
		{"V7, data sheet at 20 °C", "cement", func(x *jobfile.Task) { x.SiteTemperatureC, x.CureAtC = f(10), f(20) }, number(48)},
		{"warm: the data sheet holds", "cement", func(x *jobfile.Task) { x.SiteTemperatureC = f(33) }, number(24)},
		{"below 5 °C", "cement", func(x *jobfile.Task) { x.SiteTemperatureC = f(4.999) }, unknown()},
		{"V15 film", "dispersion", func(x *jobfile.Task) { x.CureH, x.SiteTemperatureC, x.SiteHumidityPercent = f(2), f(10), f(80) }, number(11.439)},
		{"film in saturated air", "dispersion", func(x *jobfile.Task) { x.SiteHumidityPercent = f(100) }, unknown()},
		{"film, humidity not known", "dispersion", func(x *jobfile.Task) { x.SiteHumidityPercent = nil }, unknown()},
		{"cement, humidity not known", "cement", func(x *jobfile.Task) { x.SiteHumidityPercent = nil }, number(24)},
		{"sealant in dry air", "silicone", func(x *jobfile.Task) { x.SiteHumidityPercent = f(25) }, number(48)},
		{"no temperature", "cement", func(x *jobfile.Task) { x.SiteTemperatureC = nil }, unknown()},
		{"no data sheet", "cement", func(x *jobfile.Task) { x.CureH = nil }, unknown()},
		{"product not known", "paste", func(*jobfile.Task) {}, unknown()},
		{"temperature out of range", "cement", func(x *jobfile.Task) { x.SiteTemperatureC = f(1e6) }, unknown()},
		{"nought hours", "cement", func(x *jobfile.Task) { x.CureH = f(0) }, number(0)},
	} {
		task := cureTask("assemble_panels", 0, 8, 24)
		task.Material = c.material
		c.change(&task)
		got := cureOf(t, waitRoom(task), "assemble_panels_1", "needed_h")
		require.True(t, got.Same(c.want), "%s: %+v", c.name, got)
	}
	task := cureTask("tile", 0, 8, 24)
	task.Material, task.SiteTemperatureC = "cement", f(13)
	got := cureOf(t, waitRoom(task), "tile_1", "needed_h")
	require.Equal(t, "the data sheet's time is taken as at 23 °C", got.Note())
	require.Contains(t, strings.Join(got.Steps(), "\n"), "24 h at 23 °C × 2.000 = 48.0 h")
	task.CureAtC = f(23)
	require.Empty(t, cureOf(t, waitRoom(task), "tile_1", "needed_h").Note())
}

func TestCureSheetKeptAndSteamAge(t *testing.T) {
	f := func(v float64) *float64 { return &v }
	joint := cureTask("joint", 0, 8, 24)
	joint.Material = "cement grout"
	job := func(change func(*jobfile.Task), steamAt float64) *jobfile.Job {
		j := joint
		change(&j)
		r := waitRoom(j, waitTask("seal", 32, 34), waitTask("first_steam", steamAt, steamAt+8))
		r.Items = append(r.Items, jobfile.Item{ID: "steam", Kind: "steam_outlet", Face: "north"})
		return r
	}
	as := func(*jobfile.Task) {}
	for _, c := range []struct {
		name, measure string
		job           *jobfile.Job
		want          Value
	}{
		{"kept at the limit", "planned_data_sheet_kept", job(as, 400), yes(true)},
		{"not kept", "planned_data_sheet_kept", job(func(x *jobfile.Task) { x.CureH = f(24.001) }, 400), yes(false)},
		{"no data sheet", "planned_data_sheet_kept", job(func(x *jobfile.Task) { x.CureH = nil }, 400), none()},
		{"nothing recorded", "actual_data_sheet_kept", job(as, 400), none()},
		{"14 days at 23 °C", "planned_steam_age_h", job(as, 344), number(336)},
		// V14: 14 days at 23 °C are 30.0 days at 12 °C.
		{"V14", "planned_steam_age_h", job(func(x *jobfile.Task) { x.SiteTemperatureC = f(12) }, 8+30.0*24), number(335.892)},
		{"warmth gives no more age", "planned_steam_age_h", job(func(x *jobfile.Task) { x.SiteTemperatureC = f(30) }, 344), number(336)},
		{"below 5 °C nothing ages", "planned_steam_age_h", job(func(x *jobfile.Task) { x.SiteTemperatureC = f(4) }, 344), number(0)},
		{"steam before the jointing is over", "planned_steam_age_h", job(as, 4), number(0)},
		{"no temperature", "planned_steam_age_h", job(func(x *jobfile.Task) { x.SiteTemperatureC = nil }, 344), unknown()},
		{"nothing recorded of steam", "actual_steam_age_h", job(as, 344), unknown()},
		{"coldest is the site", "coldest_c", job(as, 344), number(23)},
		{"coldest is the night", "coldest_c", job(func(x *jobfile.Task) { x.SiteTemperatureMinC = f(6) }, 344), number(6)},
		{"night alone", "coldest_c", job(func(x *jobfile.Task) { x.SiteTemperatureC, x.SiteTemperatureMinC = nil, f(6) }, 344), number(6)},
		{"site colder than the night", "coldest_c", job(func(x *jobfile.Task) { x.SiteTemperatureC, x.SiteTemperatureMinC = f(4), f(6) }, 344), number(4)},
		{"no temperature at all", "coldest_c", job(func(x *jobfile.Task) { x.SiteTemperatureC = nil }, 344), unknown()},
		{"humidity of cement", "film_humidity_percent", job(as, 344), none()},
		{"humidity of a film", "film_humidity_percent", job(func(x *jobfile.Task) { x.Material = "dispersion" }, 344), number(50)},
	} {
		got := cureOf(t, c.job, "joint_1", c.measure)
		require.True(t, got.Same(c.want), "%s: %+v", c.name, got)
	}
	require.True(t, cureOf(t, waitRoom(joint, waitTask("first_steam", 400, 401)), "joint_1", "planned_steam_age_h").Same(none()), "a room without steam")
	require.True(t, cureOf(t, waitRoom(cureTask("tile", 0, 8, 24)), "tile_1", "planned_steam_age_h").Same(none()))
}

// TestCureWaitIsThatOfTheWaits holds the wait against the waits of the order of work, which look from the later task backwards: where one task of each name
// is there and the order is right, both find the same.
func TestCureWaitIsThatOfTheWaits(t *testing.T) {
	scopes := [][]string{nil, {"face:north"}, {"face:south"}, {"face:floor"}, {"face:north", "face:floor"}}
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.SampledFrom(scopes).Draw(t, "tile"), rapid.SampledFrom(scopes).Draw(t, "joint")
		gap := rapid.Float64Range(-7, 100).Draw(t, "gap")
		job := waitRoom(cureTask("tile", 0, 8, 24, a...), waitTask("joint", 8+gap, 200, b...))
		got := cureOf(t, job, "tile_1", "planned_wait_h")
		back := waitOf(t, job, "planned_joint_after_tile_h", "joint_1")
		if got.State == Known && back.State == Known {
			require.Equal(t, back.Num, got.Num)
		}
		if got.State != Known {
			require.NotEqual(t, Known, back.State, "the waits find it, so it must be found here")
		}
	})
}

func BenchmarkCureOfManyTasks(b *testing.B) {
	var tasks []jobfile.Task
	for i := range 1000 {
		at := float64(i * 100)
		tasks = append(tasks, cureTask("tile", at, at+8, 24, "face:north"), waitTask("joint", at+40, at+48, "face:north"))
	}
	job := waitRoom(tasks...)
	for b.Loop() {
		NewPlan(nil).Measure(job)
	}
}
