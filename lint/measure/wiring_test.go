package measure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
)

func wiringPtr(v float64) *float64 { return &v }

// wiringValue takes one measure of the circuit k of a job with the given items, all of them on k unless they say otherwise.
func wiringValue(k jobfile.Circuit, climate *jobfile.Climate, items []jobfile.Item, name string) Value {
	k.ID = "k"
	for i := range items {
		if items[i].Circuit == "" {
			items[i].Circuit = "k"
		}
	}
	job := &jobfile.Job{Room: &jobfile.Room{Walls: []jobfile.Wall{{ID: "north"}}, Ceiling: &jobfile.Ceiling{}}, Climate: climate, Circuits: []jobfile.Circuit{k}, Items: items}
	return wiringOf(job, name)
}

// wiringOf takes one measure of the first circuit of a job.
func wiringOf(job *jobfile.Job, name string) Value {
	t := NewPlan(nil).Measure(job).Table("circuit_run")
	return t.Column(name)[0]
}

func wiringNear(t *testing.T, want float64, tol float64, v Value) {
	t.Helper()
	require.Equal(t, Known, v.State, v.Note())
	require.InDelta(t, want, v.Num, tol)
	require.NotEmpty(t, v.Steps())
	require.Equal(t, v.Steps(), v.Steps(), "steps do not grow by being asked for")
}

var (
	wiringLED       = []jobfile.Item{{ID: "led", Kind: "led_strip", Face: "north", PowerW: wiringPtr(60)}}
	wiringGenerator = []jobfile.Item{{ID: "g", Kind: "steam_generator", Place: "outside_room", PowerKW: wiringPtr(6)}}
)

func wiringSELV(volts, mm2, ambient float64) jobfile.Circuit {
	return jobfile.Circuit{VoltageV: &volts, Current: "dc", Protection: "selv", ConductorMM2: &mm2, ConductorClass: wiringPtr(5), AmbientC: &ambient, LengthM: wiringPtr(10)}
}

// Vectors V-09 and V-10: an LED load of 60 W, 10 m one way, flexible conductors (IEC 60228 and α 0.00393; computed).
func TestWiringDropOfSELV(t *testing.T) {
	for _, x := range []struct {
		id                         string
		volts, mm2, ambientC, want float64
	}{
		{"V-09", 12, 1.5, 20, 11.08}, {"V-09", 12, 2.5, 20, 6.65}, {"V-09", 12, 4, 20, 4.125}, {"V-09", 24, 1.5, 20, 2.77}, {"V-09", 24, 2.5, 20, 1.66},
		{"V-10", 24, 1.5, 50, 3.10},
	} {
		wiringNear(t, x.want, 0.005, wiringValue(wiringSELV(x.volts, x.mm2, x.ambientC), nil, wiringLED, "drop_percent"))
	}
	k := wiringSELV(24, 1.5, 20)
	k.LengthM = wiringPtr(10.83)
	wiringNear(t, 3, 0.002, wiringValue(k, nil, wiringLED, "drop_percent")) // V-11
	k.ConductorClass = nil
	v := wiringValue(k, nil, wiringLED, "drop_percent")
	wiringNear(t, 3, 0.002, v)
	require.Contains(t, v.Note(), "taken as flexible")
	k.ConductorClass = wiringPtr(2)
	wiringNear(t, 3*12.1/13.3, 0.002, wiringValue(k, nil, wiringLED, "drop_percent"))
}

// Four lights of 20 W along the run (V-08 with 1.588 Ω per 1000 ft of 12 AWG is Ohm's law; here 2.5 mm² at 20 °C: 2·0.00798·1.6667·100 m).
func TestWiringLoadsAlongTheRun(t *testing.T) {
	var lamps []jobfile.Item
	for i, id := range []string{"a", "b", "c", "d"} {
		lamps = append(lamps, jobfile.Item{ID: id, Kind: "spotlight", Face: "ceiling", PowerW: wiringPtr(20), CableRunM: wiringPtr(float64(10 * (i + 1)))})
	}
	k := wiringSELV(12, 2.5, 20)
	k.LengthM = nil
	along := wiringValue(k, nil, lamps, "drop_percent")
	wiringNear(t, 100*2*0.00798*(20.0/12)*100/12, 0.001, along)
	require.NotContains(t, along.Note(), "far end")
	lamps[3].CableRunM = nil
	require.Equal(t, Unknown, wiringValue(k, nil, lamps, "drop_percent").State)
	k.LengthM = wiringPtr(40)
	v := wiringValue(k, nil, lamps, "drop_percent")
	require.True(t, along.Same(v))
	require.Contains(t, v.Note(), "far end")
}

func TestWiringMains(t *testing.T) {
	k := jobfile.Circuit{VoltageV: wiringPtr(230), Current: "ac", Protection: "ads", ConductorMM2: wiringPtr(6), LengthM: wiringPtr(40), BreakerA: wiringPtr(32), Insulation: "pvc", Method: "B2", Phases: wiringPtr(1)}
	wiringNear(t, 26.09, 0.005, wiringValue(k, nil, wiringGenerator, "design_current_a")) // V-19
	wiringNear(t, 38, 0, wiringValue(k, nil, wiringGenerator, "iz_a"))                    // V-19
	k.AmbientC = wiringPtr(40)
	wiringNear(t, 33.06, 0.001, wiringValue(k, nil, wiringGenerator, "iz_a")) // V-20
	k.Method = "C"
	wiringNear(t, 40.02, 0.001, wiringValue(k, nil, wiringGenerator, "iz_a")) // V-20
	k.InInsulationMM = wiringPtr(600)
	wiringNear(t, 20.01, 0.001, wiringValue(k, nil, wiringGenerator, "iz_a")) // half of method C

	// V-06: 5 kW over 40 m.
	five := []jobfile.Item{{ID: "g", Kind: "steam_generator", Place: "outside_room", PowerKW: wiringPtr(5)}}
	wiringNear(t, 2.84, 0.01, wiringValue(k, nil, five, "drop_percent"))
	k.ConductorMM2 = wiringPtr(2.5)
	wiringNear(t, 6.81, 0.01, wiringValue(k, nil, five, "drop_percent"))

	// Three phases: 12.99 A at 9 kW and 400 V, and 100·0.0225/2.5·40·12.99/230.94 of drop.
	k.Phases, k.VoltageV = wiringPtr(3), wiringPtr(400)
	nine := []jobfile.Item{{ID: "g", Kind: "steam_generator", Place: "outside_room", PowerKW: wiringPtr(9)}}
	wiringNear(t, 12.990, 0.001, wiringValue(k, nil, nine, "design_current_a"))
	v := wiringValue(k, nil, nine, "drop_percent")
	wiringNear(t, 100*0.0225/2.5*40*12.9904/230.940, 0.001, v)
	require.Contains(t, v.Note(), "balanced")
	k.InInsulationMM, k.AmbientC = nil, wiringPtr(30)
	v = wiringValue(k, nil, nine, "iz_a")
	wiringNear(t, 24, 0, v)
	require.Contains(t, v.Note(), "none is given")
	k.Method = "E"
	require.Contains(t, wiringValue(k, nil, nine, "iz_a").Note(), "from memory")
	k.Phases = nil
	require.Equal(t, Unknown, wiringValue(k, nil, nine, "design_current_a").State, "400 V without phases")
	k.VoltageV = wiringPtr(250)
	require.Contains(t, wiringValue(k, nil, nine, "design_current_a").Note(), "single-phase")
}

func TestWiringPowerFactor(t *testing.T) {
	k := jobfile.Circuit{VoltageV: wiringPtr(230), Current: "ac", Phases: wiringPtr(1)}
	heat := jobfile.Item{ID: "h", Kind: "heating_cable", Face: "north", WattsPerM: wiringPtr(10), SuppliedLengthM: wiringPtr(30)}
	fan := jobfile.Item{ID: "f", Kind: "ventilation_outlet", Face: "north", PowerW: wiringPtr(400)}
	v := wiringValue(k, nil, []jobfile.Item{heat, fan}, "design_current_a")
	wiringNear(t, math.Hypot(700, 300)/230, 0.001, v) // 0.8 leaves 300 var of the fan
	require.Contains(t, v.Note(), "0.8")
	require.Empty(t, wiringValue(k, nil, []jobfile.Item{heat}, "design_current_a").Note())
	k.PowerFactor = wiringPtr(1)
	v = wiringValue(k, nil, []jobfile.Item{heat, fan}, "design_current_a")
	wiringNear(t, 700.0/230, 0.001, v)
	require.Empty(t, v.Note())
}

func TestWiringLoads(t *testing.T) {
	yes, no := true, false
	for name, x := range map[string]struct {
		it           jobfile.Item
		watts        float64
		draws, known bool
	}{
		"generator":            {jobfile.Item{Kind: "steam_generator", PowerKW: wiringPtr(6)}, 6000, true, true},
		"generator, open":      {jobfile.Item{Kind: "steam_generator"}, 0, true, false},
		"cable":                {jobfile.Item{Kind: "heating_cable", WattsPerM: wiringPtr(10), SuppliedLengthM: wiringPtr(60)}, 600, true, true},
		"cut cable (V-15)":     {jobfile.Item{Kind: "heating_cable", WattsPerM: wiringPtr(10), SuppliedLengthM: wiringPtr(60), SurplusPlace: "cut_off", SurplusLengthM: wiringPtr(10)}, 720, true, true},
		"cable, open":          {jobfile.Item{Kind: "heating_cable", WattsPerM: wiringPtr(10)}, 0, true, false},
		"strip":                {jobfile.Item{Kind: "led_strip", PowerW: wiringPtr(20)}, 20, true, true},
		"spotlight, open":      {jobfile.Item{Kind: "spotlight"}, 0, true, false},
		"driver":               {jobfile.Item{Kind: "light_source", PowerW: wiringPtr(36), OutputW: wiringPtr(30)}, 36, true, true},
		"outlet without a fan": {jobfile.Item{Kind: "ventilation_outlet", Fan: &no}, 0, false, false},
		"outlet with a fan":    {jobfile.Item{Kind: "ventilation_outlet", Fan: &yes}, 0, true, false},
		"outlet, open":         {jobfile.Item{Kind: "ventilation_outlet"}, 0, true, false},
		"switch":               {jobfile.Item{Kind: "accessory", Role: "switch"}, 0, false, false},
		"control with power":   {jobfile.Item{Kind: "accessory", Role: "control", PowerW: wiringPtr(4)}, 4, true, true},
		"socket":               {jobfile.Item{Kind: "accessory", Role: "socket"}, 0, true, false},
		"accessory, open":      {jobfile.Item{Kind: "accessory"}, 0, true, false},
		"sensor":               {jobfile.Item{Kind: "temperature_sensor"}, 0, false, false},
	} {
		l, draws := wiringLoadOf(&x.it)
		require.Equal(t, x.draws, draws, name)
		require.Equal(t, x.known, l.known, name)
		require.InDelta(t, x.watts, l.watts, 1e-9, name)
	}
}

func TestWiringAmbient(t *testing.T) {
	climate := &jobfile.Climate{AirTemperatureC: wiringPtr(45), CeilingAirTemperatureC: wiringPtr(50)}
	out := jobfile.Item{ID: "o", Kind: "light_source", Place: "outside_room"}
	behind := jobfile.Item{ID: "b", Kind: "light_source", Place: "behind_panel"}
	wall := jobfile.Item{ID: "w", Kind: "spotlight", Face: "north"}
	ceiling := jobfile.Item{ID: "c", Kind: "spotlight", Face: "ceiling"}
	lost := jobfile.Item{ID: "l", Kind: "light_source"}
	for name, x := range map[string]struct {
		given   *float64
		climate *jobfile.Climate
		items   []jobfile.Item
		want    Value
	}{
		"given":                {wiringPtr(38), nil, []jobfile.Item{lost}, number(38)},
		"outside":              {nil, nil, []jobfile.Item{out}, number(30)},
		"nothing on it":        {nil, climate, nil, number(30)},
		"on a wall":            {nil, climate, []jobfile.Item{out, wall}, number(45)},
		"on the ceiling":       {nil, climate, []jobfile.Item{ceiling, wall}, number(50)},
		"behind a panel":       {nil, climate, []jobfile.Item{behind}, number(45)},
		"behind, air not said": {nil, nil, []jobfile.Item{behind}, unknown()},
		"air not said":         {nil, nil, []jobfile.Item{wall}, unknown()},
		"place not said":       {nil, climate, []jobfile.Item{lost}, unknown()},
		"a cool room":          {nil, &jobfile.Climate{AirTemperatureC: wiringPtr(24)}, []jobfile.Item{wall}, number(30)},
	} {
		v := wiringValue(jobfile.Circuit{AmbientC: x.given}, x.climate, x.items, "ambient_c")
		require.True(t, x.want.Same(v), "%s: %v", name, v)
		if x.given == nil && v.State == Known {
			require.Contains(t, v.Note(), "taken", name)
		}
	}
}

func TestWiringStates(t *testing.T) {
	full := func() jobfile.Circuit {
		return jobfile.Circuit{VoltageV: wiringPtr(230), Current: "ac", Protection: "ads", Phases: wiringPtr(1), ConductorMM2: wiringPtr(1.5), LengthM: wiringPtr(5), BreakerA: wiringPtr(10), Device: "breaker", Insulation: "pvc", Method: "A2", RcdMA: wiringPtr(30), BondingOhm: wiringPtr(1)}
	}
	sensor := []jobfile.Item{{ID: "s", Kind: "temperature_sensor", Face: "north"}}
	for name, x := range map[string]struct {
		change  func(*jobfile.Circuit)
		items   []jobfile.Item
		measure string
		want    State
	}{
		"nothing names it":               {nil, nil, "design_current_a", Unknown},
		"only a sensor":                  {nil, sensor, "design_current_a", None},
		"only a sensor, drop":            {nil, sensor, "drop_percent", None},
		"only a sensor, use":             {nil, sensor, "use", None},
		"nothing, use":                   {nil, nil, "use", Unknown},
		"power open":                     {nil, []jobfile.Item{{ID: "x", Kind: "spotlight", Face: "north"}}, "load_w", Unknown},
		"no kind of current":             {func(k *jobfile.Circuit) { k.Current = "" }, wiringGenerator, "design_current_a", Unknown},
		"no voltage":                     {func(k *jobfile.Circuit) { k.VoltageV = nil }, wiringGenerator, "design_current_a", Unknown},
		"no cross-section":               {func(k *jobfile.Circuit) { k.ConductorMM2 = nil }, wiringGenerator, "drop_percent", Unknown},
		"odd cross-section, AC":          {func(k *jobfile.Circuit) { k.ConductorMM2 = wiringPtr(2) }, wiringGenerator, "drop_percent", Known},
		"odd cross-section, DC":          {func(k *jobfile.Circuit) { k.ConductorMM2, k.Current = wiringPtr(2), "dc" }, wiringGenerator, "drop_percent", Unknown},
		"odd cross-section, Iz":          {func(k *jobfile.Circuit) { k.ConductorMM2 = wiringPtr(2) }, wiringGenerator, "iz_a", Unknown},
		"strange class":                  {func(k *jobfile.Circuit) { k.ConductorClass, k.Current = wiringPtr(3), "dc" }, wiringGenerator, "drop_percent", Unknown},
		"no protection":                  {func(k *jobfile.Circuit) { k.Protection = "" }, wiringGenerator, "extra_low", Unknown},
		"breaker of SELV":                {func(k *jobfile.Circuit) { k.Protection, k.BreakerA = "selv", nil }, sensor, "breaker_a", None},
		"breaker given for SELV":         {func(k *jobfile.Circuit) { k.Protection = "selv" }, sensor, "breaker_a", Known},
		"breaker of FELV":                {func(k *jobfile.Circuit) { k.Protection, k.BreakerA = "felv", nil }, sensor, "breaker_a", Unknown},
		"breaker, protection not said":   {func(k *jobfile.Circuit) { k.Protection, k.BreakerA = "", nil }, sensor, "breaker_a", Unknown},
		"device of SELV":                 {func(k *jobfile.Circuit) { k.Protection, k.BreakerA = "selv", nil }, sensor, "device", None},
		"trip without device":            {func(k *jobfile.Circuit) { k.Device = "" }, sensor, "trip_a", Unknown},
		"odd rating without device":      {func(k *jobfile.Circuit) { k.Device, k.BreakerA = "", wiringPtr(15) }, sensor, "breaker_listed", Unknown},
		"fuse":                           {func(k *jobfile.Circuit) { k.Device = "fuse" }, sensor, "breaker_listed", None},
		"bonding not given":              {func(k *jobfile.Circuit) { k.BondingOhm = nil }, sensor, "bonding_ohm", None},
		"bonding without RCD":            {func(k *jobfile.Circuit) { k.RcdMA = wiringPtr(0) }, sensor, "bonding_allowed_ohm", None},
		"bonding, RCD not said":          {func(k *jobfile.Circuit) { k.RcdMA = nil }, sensor, "bonding_allowed_ohm", Unknown},
		"insulated, nothing on it":       {nil, nil, "insulated", Unknown},
		"insulated, sensor in the room":  {nil, sensor, "insulated", Unknown},
		"insulated, generator outside":   {nil, wiringGenerator, "insulated", None},
		"source unknown to the job":      {func(k *jobfile.Circuit) { k.Source = "nobody" }, wiringLED, "fed_w", Unknown},
		"lamps on SELV, source not said": {func(k *jobfile.Circuit) { k.Protection = "selv" }, wiringLED, "fed_w", Unknown},
		"lamps, protection not said":     {func(k *jobfile.Circuit) { k.Protection = "" }, wiringLED, "fed_w", Unknown},
		"lamps on the mains":             {nil, wiringLED, "fed_w", None},
		"air below the table":            {func(k *jobfile.Circuit) { k.AmbientC = wiringPtr(-5) }, wiringGenerator, "iz_a", Known},
		"air beyond the table":           {func(k *jobfile.Circuit) { k.AmbientC = wiringPtr(61) }, wiringGenerator, "iz_a", Unknown},
	} {
		k := full()
		if x.change != nil {
			x.change(&k)
		}
		require.Equal(t, x.want, wiringValue(k, nil, append([]jobfile.Item{}, x.items...), x.measure).State, name)
	}
	v := wiringValue(full(), nil, []jobfile.Item{{ID: "a", Kind: "temperature_sensor"}, {ID: "x", Kind: "spotlight"}}, "load_w")
	require.Equal(t, "/items/1", v.At(), "the finding points at the item without its power")
}

func TestWiringDriver(t *testing.T) {
	job := &jobfile.Job{
		Room:     &jobfile.Room{},
		Circuits: []jobfile.Circuit{{ID: "one", Protection: "selv", Source: "driver"}, {ID: "two", Protection: "selv", Source: "driver"}, {ID: "mains", Protection: "ads"}},
		Items: []jobfile.Item{
			{ID: "a", Kind: "led_strip", Circuit: "one", PowerW: wiringPtr(20)}, {ID: "b", Kind: "spotlight", Circuit: "two", PowerW: wiringPtr(6)},
			{ID: "driver", Kind: "light_source", Circuit: "mains", PowerW: wiringPtr(36), OutputW: wiringPtr(30)},
		},
	}
	require.True(t, number(26).Same(wiringOf(job, "fed_w")))
	require.True(t, number(30).Same(wiringOf(job, "driver_output_w")))
	job.Items[1].PowerW = nil
	v := wiringOf(job, "fed_w")
	require.Equal(t, Unknown, v.State)
	require.Equal(t, "/items/1", v.At())
	job.Items[2].Kind = "steam_generator"
	require.Equal(t, None, wiringOf(job, "fed_w").State)
}

// Whatever the circuit, a longer, thinner or hotter run never looks better.
func TestWiringIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := jobfile.Circuit{
			VoltageV: wiringPtr(rapid.SampledFrom([]float64{12, 24, 230, 400}).Draw(t, "V")), Current: rapid.SampledFrom([]string{"ac", "dc"}).Draw(t, "current"), Phases: wiringPtr(rapid.SampledFrom([]float64{1, 3}).Draw(t, "phases")),
			ConductorMM2: wiringPtr(rapid.SampledFrom([]float64{1.5, 2.5, 4, 6, 10}).Draw(t, "mm²")), Method: rapid.SampledFrom([]string{"A1", "A2", "B1", "B2", "C", "E"}).Draw(t, "method"), Insulation: rapid.SampledFrom([]string{"pvc", "xlpe"}).Draw(t, "insulation"),
			AmbientC: wiringPtr(rapid.Float64Range(-10, 60).Draw(t, "°C")), LengthM: wiringPtr(rapid.Float64Range(1, 100).Draw(t, "m")),
		}
		items := []jobfile.Item{{ID: "x", Kind: "spotlight", PowerW: wiringPtr(rapid.Float64Range(0, 3000).Draw(t, "W"))}}
		num := func(k jobfile.Circuit, name string) float64 {
			v := wiringValue(k, nil, items, name)
			if v.State != Known {
				t.Fatalf("%s: %v %s", name, v.State, v.Note())
			}
			return v.Num
		}
		longer, thicker, hotter := k, k, k
		longer.LengthM = wiringPtr(*k.LengthM * rapid.Float64Range(1, 3).Draw(t, "longer"))
		thicker.ConductorMM2 = wiringPtr(16)
		hotter.AmbientC = wiringPtr(rapid.Float64Range(*k.AmbientC, 60).Draw(t, "hotter"))
		if num(longer, "drop_percent") < num(k, "drop_percent") || num(thicker, "drop_percent") > num(k, "drop_percent") || num(hotter, "drop_percent") < num(k, "drop_percent") {
			t.Fatal("the voltage drop is not monotone")
		}
		if num(thicker, "iz_a") < num(k, "iz_a") || num(hotter, "iz_a") > num(k, "iz_a") {
			t.Fatal("the capacity is not monotone")
		}
	})
}
