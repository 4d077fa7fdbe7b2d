package measure

import (
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

// electricalValue measures one thing of one item of a job.
func electricalValue(t *testing.T, j *jobfile.Job, kind, id, name string) Value {
	t.Helper()
	table := NewPlan(nil, WithZones(zoneCore(t)...)).Measure(j).Table(kind)
	require.NotNil(t, table, kind)
	i := table.Find(id)
	require.GreaterOrEqual(t, i, 0, id)
	col := table.Column(name)
	require.NotNil(t, col, name)
	return col[i]
}

func TestElectricalItems(t *testing.T) {
	j := zoneJob("steam_room")
	j.Items = nil
	for _, kind := range ItemKinds {
		j.Items = append(j.Items, jobfile.Item{ID: kind, Kind: kind})
	}
	j.Items = append(j.Items,
		jobfile.Item{ID: "fan", Kind: "ventilation_outlet", Fan: zoneFlag(true)},
		jobfile.Item{ID: "no_fan", Kind: "ventilation_outlet", Fan: zoneFlag(false), Circuit: "mains"},
		jobfile.Item{ID: "perhaps_fan", Kind: "ventilation_outlet", Circuit: "mains"})
	var got []string
	for _, s := range electricalItems(newContext(j)) {
		got = append(got, s.ID)
	}
	require.Equal(t, []string{"accessory", "heating_cable", "heating_sensor", "led_strip", "light_source", "spotlight", "steam_generator", "temperature_sensor", "fan", "perhaps_fan"}, got)
}

func TestElectricalCircuitFacts(t *testing.T) {
	j := zoneJob("steam_room")
	j.Circuits = []jobfile.Circuit{
		{ID: "mains", VoltageV: zoneMM(230), Current: "ac", Protection: "ads", RcdMA: zoneMM(0)},
		{ID: "low", VoltageV: zoneMM(12), Current: "dc", Protection: "selv", RcdMA: zoneMM(300)},
		{ID: "earthed", VoltageV: zoneMM(24), Current: "ac", Protection: "pelv", RcdMA: zoneMM(0)},
		{ID: "bare"},
	}
	j.Items = []jobfile.Item{
		{ID: "a", Kind: "spotlight", Circuit: "mains"}, {ID: "b", Kind: "spotlight", Circuit: "low"}, {ID: "c", Kind: "spotlight", Circuit: "bare"},
		{ID: "d", Kind: "spotlight"}, {ID: "e", Kind: "spotlight", Circuit: "nowhere"},
		{ID: "f", Kind: "spotlight", Circuit: "earthed"},
	}
	at := func(id, name string) Value { return electricalValue(t, j, "electrical_item", id, name) }
	require.Equal(t, number(0), at("a", "rcd_ma"), "0 is a fact")
	require.Equal(t, number(230), at("a", "voltage_v"))
	require.Equal(t, "ac", at("a", "current").Text())
	require.Equal(t, None, at("b", "rcd_ma").State, "SELV needs no RCD")
	require.Equal(t, None, at("f", "rcd_ma").State, "nor does PELV")
	require.Equal(t, "selv", at("b", "protection").Text())
	for _, id := range []string{"c", "d", "e"} {
		for _, name := range []string{"protection", "current", "voltage_v", "rcd_ma"} {
			require.Equal(t, Unknown, at(id, name).State, "%s %s", id, name)
		}
	}
}

func TestElectricalIPMeasures(t *testing.T) {
	const unknown, none = -2.0, -1.0
	for _, x := range []struct {
		kind, mark                       string
		solids, splash, jets, immersion  float64
		readable                         State
		ok                               bool
		cableSolids, cableImmersionDigit float64
	}{
		{"spotlight", "IP65/IP67", 6, 4, 5, 7, Known, true, 6, 7},
		{"led_strip", "IP67", 6, unknown, 0, 7, Known, true, 6, 7},
		{"spotlight", "IPX4", unknown, 4, 0, 0, Known, true, unknown, 0},
		{"spotlight", "IP6X", 6, unknown, unknown, unknown, Known, true, 6, unknown},
		{"spotlight", "IPX-7", unknown, unknown, unknown, unknown, Known, false, unknown, unknown},
		{"spotlight", "", unknown, unknown, unknown, unknown, Unknown, false, unknown, unknown},
		{"temperature_sensor", "IP54", 5, 4, 0, 0, Known, true, none, none},
		{"heating_sensor", "", none, none, none, none, None, false, none, none},
	} {
		j := zoneJob("steam_room")
		j.Items = []jobfile.Item{{ID: "it", Kind: x.kind, IPMark: x.mark}}
		if electricalHasCableMark(&j.Items[0]) {
			j.Items[0].CableIPMark = x.mark
		}
		at := func(name string) Value { return electricalValue(t, j, "electrical_item", "it", name) }
		for name, want := range map[string]float64{"ip_solids_digit": x.solids, "ip_splash_digit": x.splash, "ip_jets_digit": x.jets, "ip_immersion_digit": x.immersion,
			"cable_ip_solids_digit": x.cableSolids, "cable_ip_immersion_digit": x.cableImmersionDigit} {
			v := at(name)
			switch want {
			case unknown:
				require.Equal(t, Unknown, v.State, "%s %s %s", x.kind, x.mark, name)
			case none:
				require.Equal(t, None, v.State, "%s %s %s", x.kind, x.mark, name)
			default:
				require.Equal(t, Known, v.State, "%s %s %s", x.kind, x.mark, name)
				require.Equal(t, want, v.Num, "%s %s %s", x.kind, x.mark, name)
			}
		}
		v := at("ip_mark_readable")
		require.Equal(t, x.readable, v.State, "%s %s", x.kind, x.mark)
		require.Equal(t, x.ok, v.Flag, "%s %s", x.kind, x.mark)
		if v.State == Known && !v.Flag {
			require.Contains(t, v.Note(), "hyphen")
		}
	}
}

func TestElectricalIPMarkOutside(t *testing.T) {
	j := zoneJob("steam_room")
	j.Items = []jobfile.Item{
		{ID: "a", Kind: "light_source", Place: "outside_room"},
		{ID: "b", Kind: "light_source", Place: "outside_room", IPMark: "IP 20"},
		{ID: "c", Kind: "light_source", Place: "behind_panel"},
		{ID: "d", Kind: "light_source"},
	}
	at := func(id string) Value { return electricalValue(t, j, "electrical_item", id, "ip_mark_readable") }
	require.Equal(t, None, at("a").State)
	require.Equal(t, Known, at("b").State)
	require.False(t, at("b").Flag)
	require.Equal(t, Unknown, at("c").State)
	require.Equal(t, Unknown, at("d").State)
}

func TestElectricalHosed(t *testing.T) {
	yesP, noP := zoneFlag(true), zoneFlag(false)
	for _, x := range []struct {
		hosed *bool
		item  jobfile.Item
		want  Value
	}{
		{yesP, jobfile.Item{Kind: "spotlight"}, yes(true)},
		{noP, jobfile.Item{Kind: "spotlight"}, yes(false)},
		{nil, jobfile.Item{Kind: "spotlight"}, unknown()},
		{nil, jobfile.Item{Kind: "heating_cable"}, yes(false)},
		{yesP, jobfile.Item{Kind: "heating_sensor"}, yes(false)},
		{yesP, jobfile.Item{Kind: "accessory", Place: "behind_panel"}, yes(false)},
		{nil, jobfile.Item{Kind: "accessory", Place: "outside_room"}, yes(false)},
		{yesP, jobfile.Item{Kind: "accessory"}, unknown()},
		{noP, jobfile.Item{Kind: "accessory"}, yes(false)},
		{yesP, jobfile.Item{Kind: "steam_generator", Place: "in_room"}, yes(true)},
	} {
		j := zoneJob("steam_room")
		j.Room.HosedDown = x.hosed
		require.Equal(t, x.want, electricalHosed(newContext(j), &x.item), "%+v", x)
	}
}

func TestElectricalLocalAir(t *testing.T) {
	both := &jobfile.Climate{AirTemperatureC: zoneMM(45), CeilingAirTemperatureC: zoneMM(52)}
	air := &jobfile.Climate{AirTemperatureC: zoneMM(45)}
	top := &jobfile.Climate{CeilingAirTemperatureC: zoneMM(52)}
	for _, x := range []struct {
		name    string
		climate *jobfile.Climate
		item    jobfile.Item
		want    float64
		state   State
		note    bool
	}{
		{"wall", both, zoneSpot("north", 600, 1000), 45, Known, false},
		{"ceiling", both, zoneSpot("ceiling", 600, 100), 52, Known, false},
		{"ceiling, only seat height given", air, zoneSpot("ceiling", 600, 100), 50, Known, true},
		{"ceiling, only the ceiling given", top, zoneSpot("ceiling", 600, 100), 52, Known, false},
		{"wall, only the ceiling given", top, zoneSpot("north", 600, 1000), 0, Unknown, false},
		{"no climate", nil, zoneSpot("ceiling", 600, 100), 0, Unknown, false},
		{"empty climate", &jobfile.Climate{}, zoneSpot("ceiling", 600, 100), 0, Unknown, false},
		{"no face", both, jobfile.Item{Kind: "spotlight"}, 0, Unknown, false},
		{"generator in the room", both, jobfile.Item{Kind: "steam_generator", Place: "in_room"}, 45, Known, false},
		{"generator outside", both, jobfile.Item{Kind: "steam_generator", Place: "outside_room"}, 0, None, false},
		{"box behind a panel", nil, jobfile.Item{Kind: "accessory", Place: "behind_panel"}, 0, None, false},
		{"place not given", both, jobfile.Item{Kind: "accessory"}, 0, Unknown, false},
	} {
		j := zoneJob("steam_room")
		j.Climate = x.climate
		v := electricalLocalAir(newContext(j), &x.item)
		require.Equal(t, x.state, v.State, x.name)
		require.Equal(t, x.want, v.Num, x.name)
		require.Equal(t, x.note, v.Note() != "", x.name)
	}
}

// V-12 and V-15 (computed): 60 m of 10 W/m, whole and cut. V-17: 32 m of 10 W/m at 230 V draw 1.391 A.
func TestElectricalHeatingPower(t *testing.T) {
	for _, x := range []struct {
		supplied, cut float64
		place         string
		want          float64
	}{
		{60, 0, "", 600},
		{60, 6, "cut_off", 666.7},
		{60, 10, "cut_off", 720},
		{60, 30, "cut_off", 1200},
		{60, 6, "in_groove", 600},
		{32, 0, "in_groove", 320},
	} {
		w, ok := electricalHeatingPower(&jobfile.Item{WattsPerM: zoneMM(10), SuppliedLengthM: zoneMM(x.supplied), SurplusPlace: x.place, SurplusLengthM: zoneMM(x.cut)})
		require.True(t, ok)
		require.InDelta(t, x.want, w, 0.1)
	}
	for _, it := range []jobfile.Item{
		{SuppliedLengthM: zoneMM(60)},
		{WattsPerM: zoneMM(10)},
		{WattsPerM: zoneMM(10), SuppliedLengthM: zoneMM(60), SurplusPlace: "cut_off"},
		{WattsPerM: zoneMM(10), SuppliedLengthM: zoneMM(60), SurplusPlace: "cut_off", SurplusLengthM: zoneMM(60)},
		{WattsPerM: zoneMM(10), SuppliedLengthM: zoneMM(60), SurplusPlace: "cut_off", SurplusLengthM: zoneMM(61)},
	} {
		_, ok := electricalHeatingPower(&it)
		require.False(t, ok)
	}
}

func TestElectricalHeatingCurrent(t *testing.T) {
	cable := func(id, circuit string, length *float64) jobfile.Item {
		return jobfile.Item{ID: id, Kind: "heating_cable", Circuit: circuit, WattsPerM: zoneMM(10), SuppliedLengthM: length}
	}
	j := zoneJob("steam_room")
	j.Circuits = []jobfile.Circuit{{ID: "one", VoltageV: zoneMM(230), BreakerA: zoneMM(10)}, {ID: "two", VoltageV: zoneMM(230)}, {ID: "lost", VoltageV: zoneMM(230)}, {ID: "dead"}, {ID: "lights", VoltageV: zoneMM(12)}}
	j.Items = []jobfile.Item{cable("a", "one", zoneMM(32)), cable("b", "two", zoneMM(60)), cable("c", "two", zoneMM(32)), cable("d", "lost", zoneMM(60)), cable("e", "lost", nil), cable("f", "dead", zoneMM(60)),
		cable("g", "", zoneMM(60)), {ID: "h", Kind: "led_strip", Circuit: "lights"}}
	at := func(id string) Value { return electricalValue(t, j, "circuit", id, "heating_current_a") }
	require.InDelta(t, 1.391, at("one").Num, 0.0005)
	require.InDelta(t, 4.0, at("two").Num, 0.0005) // (600 + 320) / 230
	require.Equal(t, Unknown, at("lost").State, "one of two cables is not known")
	require.Equal(t, Unknown, at("dead").State)
	require.Equal(t, None, at("lights").State)
	require.Equal(t, number(10), electricalValue(t, j, "circuit", "one", "breaker_a"))
	require.Equal(t, Unknown, electricalValue(t, j, "circuit", "two", "breaker_a").State)
}

func TestShowerOutletHeights(t *testing.T) {
	for _, x := range []struct {
		face        string
		y           *float64
		height, top float64
		state       State
	}{
		{"north", zoneMM(2100), 2100, 2250, Known},
		{"north", zoneMM(2250), 2250, 2250, Known},
		{"north", zoneMM(2400), 2400, 2400, Known},
		{"ceiling", zoneMM(100), 2600, 2600, Known},
		{"north", nil, 0, 0, Unknown},
		{"", zoneMM(2100), 0, 0, Unknown},
	} {
		j := zoneJob("wet_room")
		j.Items[0].Face, j.Items[0].YMM = x.face, x.y
		h, top := electricalValue(t, j, "shower", "shower", "outlet_height_mm"), electricalValue(t, j, "shower", "shower", "zone_1_top_mm")
		require.Equal(t, x.state, h.State)
		require.Equal(t, x.height, h.Num)
		require.Equal(t, x.state, top.State)
		require.Equal(t, x.top, top.Num)
	}
}

func TestElectricalMeasuresOfABareJob(t *testing.T) {
	j := &jobfile.Job{Room: &jobfile.Room{}}
	for _, kind := range electricalKinds {
		j.Items = append(j.Items, jobfile.Item{ID: kind, Kind: kind, Circuit: "c"})
	}
	j.Items = append(j.Items, jobfile.Item{ID: "shower", Kind: "shower"})
	j.Circuits = []jobfile.Circuit{{ID: "c"}}
	for _, kind := range []string{"electrical_item", "circuit", "accessory", "shower"} {
		table := NewPlan(nil, WithZones(zoneCore(t)...)).Measure(j).Table(kind)
		for k, d := range table.Defs {
			for i, v := range table.Columns[k] {
				if v.State == Known {
					require.Contains(t, []string{"item_kind", "in_location", "embedded", "hosed"}, d.Name, "%s of %s is known from nothing", d.Name, table.Subjects[i].ID)
				}
			}
		}
	}
}
