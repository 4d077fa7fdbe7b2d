package steam

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var (
	tile     = Layer{8, 2300, 840, 1.3}
	adhesive = Layer{4, 1800, 1000, 1.0}
	foam     = Layer{50, 35, 1450, 0.034}
	glass8   = Layer{8, 2500, 750, 1.0}
	glass10  = Layer{10, 2500, 750, 1.0}
)

func state(t require.TestingT, c, rh float64) State {
	s, err := StateAt(c, rh)
	require.NoError(t, err)
	return s
}

// exampleRoom is the room of the vectors E3 to E8: 2.0 × 1.5 × 2.2 m, tile on 50 mm of foam, 1.6 m² of glass, one air
// change an hour. The vectors give 309.6 kJ to the glass, which is a rise of 12.9 K.
func exampleRoom(t require.TestingT) Room {
	store, err := StoreJM2K(tile, adhesive)
	require.NoError(t, err)
	u, err := Transmittance(0.13, 0.13, tile, adhesive, foam)
	require.NoError(t, err)
	glassStore, err := StoreJM2K(glass8)
	require.NoError(t, err)
	ug, err := Transmittance(0.13, 0.13, glass8)
	require.NoError(t, err)
	return Room{VolumeM3: 6.6, Start: state(t, 20, 50), End: state(t, 45, 100), Supply: state(t, 20, 50), AirM3H: 6.6, Parts: []Part{
		{Lining, 19.8, store, 25, u, 20},
		{Glass, 1.6, glassStore, 12.9, ug, 20},
	}}
}

func balance(t require.TestingT, r Room) Balance {
	b, err := r.Balance()
	require.NoError(t, err)
	return b
}

// P4 (computed, agrees with an independent library).
func TestState(t *testing.T) {
	s := state(t, 45, 100)
	require.InDelta(t, 0.065042, s.HumidityRatio, 1e-6)
	require.InDelta(t, 213.385, s.EnthalpyKJKG, 0.001)
	require.InDelta(t, 0.99554, s.VolumeM3KG, 1e-5)
	s = state(t, 20, 50)
	require.InDelta(t, 0.007262, s.HumidityRatio, 1e-6)
	require.InDelta(t, 38.552, s.EnthalpyKJKG, 0.001)
	require.InDelta(t, 0.84016, s.VolumeM3KG, 1e-5)
	for _, x := range [][2]float64{{-51, 50}, {91, 50}, {20, -1}, {20, 101}, {math.NaN(), 50}, {20, math.NaN()}} {
		_, err := StateAt(x[0], x[1])
		require.ErrorIs(t, err, ErrRange)
	}
}

// E4, U5, U7 (computed) and the stores of five linings for 25 K in kWh/m² (computed).
func TestLayers(t *testing.T) {
	store, err := StoreJM2K(tile, adhesive)
	require.NoError(t, err)
	require.InDelta(t, 22656, store, 0.5, "E4")
	require.InDelta(t, 11214.7, 19.8*store*25/1000, 0.1, "E4")
	for _, c := range []struct {
		name   string
		kwh    float64
		layers []Layer
	}{
		{"5 mm acrylic", 0.060, []Layer{{5, 1180, 1460, 0.2}}},
		{"tile on foam", 0.157, []Layer{tile, adhesive}},
		{"tile on 30 mm of mortar", 0.482, []Layer{tile, {30, 1800, 1000, 1}}},
		{"granite on mortar", 0.514, []Layer{{20, 2800, 1000, 2.8}, {10, 1800, 1000, 1}}},
		{"tile on masonry, 60 mm of it active", 0.857, []Layer{tile, {60, 1800, 1000, 0.77}}},
	} {
		store, err := StoreJM2K(c.layers...)
		require.NoError(t, err)
		require.InDelta(t, c.kwh, store*25/3.6e6, 0.001, c.name)
	}
	u, err := Transmittance(0.13, 0.13, tile, adhesive, foam)
	require.NoError(t, err)
	require.InDelta(t, 0.57447, u, 1e-5, "U5")
	u, err = Transmittance(0.13, 0.13, glass10)
	require.NoError(t, err)
	require.InDelta(t, 3.7037, u, 1e-4, "U7")
	require.InDelta(t, 92.59, u*25, 0.01, "U7")
	require.InDelta(t, 32.96, 45-0.13*u*25, 0.01, "U7")
	for _, l := range []Layer{{0, 1, 100, 1}, {1, 0, 100, 1}, {1, 1, 0, 1}, {math.NaN(), 1, 100, 1}} {
		_, err := StoreJM2K(l)
		require.ErrorIs(t, err, ErrRange)
	}
	for _, l := range []Layer{{0, 1, 100, 1}, {1, 1, 100, 0}, {math.NaN(), 1, 100, 1}} {
		_, err := Transmittance(0.13, 0.13, l)
		require.ErrorIs(t, err, ErrRange)
	}
	for _, x := range [][2]float64{{0, 0}, {-1, 2}, {math.NaN(), 0.1}} {
		_, err := Transmittance(x[0], x[1])
		require.ErrorIs(t, err, ErrRange)
	}
}

// E3, E5, E6 (computed).
func TestBalanceTerms(t *testing.T) {
	b := balance(t, exampleRoom(t))
	require.InDelta(t, 7.8557, b.AirKG, 0.0002, "E3")
	require.InDelta(t, 0.05778, b.WaterKG/b.AirKG, 1e-5, "E3")
	require.InDelta(t, 0.4539, b.WaterKG, 0.0002, "E3")
	require.InDelta(t, 1373.4, b.AirKJ, 0.3, "E3")
	require.InDelta(t, 11214.7, b.StoreKJ[Lining], 0.1, "E4")
	require.InDelta(t, 309.6, b.StoreKJ[Glass], 0.01)
	require.InDelta(t, 284.36, b.LossW[Lining], 0.02, "E5")
	require.InDelta(t, 149.25, b.LossW[Glass], 0.02, "E5")
	require.Zero(t, b.LossW[Outside])
	require.InDelta(t, 381.5, b.VentW, 0.1, "E6")
	require.InDelta(t, 0.4539, b.VentKGH, 0.0002, "E6")
	more := exampleRoom(t)
	more.AirM3H = 20
	b = balance(t, more)
	require.InDelta(t, 1156.1, b.VentW, 0.2, "E6")
	require.InDelta(t, 1.3755, b.VentKGH, 0.0005, "E6")
}

// E7, E8 (computed).
func TestLoads(t *testing.T) {
	b := balance(t, exampleRoom(t))
	for _, c := range []struct{ minutes, room, kgh, el float64 }{{20, 11.156, 16.147, 11.812}, {30, 7.573, 10.962, 8.019}} {
		l, err := b.HeatUp(c.minutes)
		require.NoError(t, err)
		require.InDelta(t, c.room, l.RoomKW, 0.002, "E7")
		require.InDelta(t, c.kgh, l.KGH, 0.003, "E7")
		kw, err := l.PowerKW(10, 1)
		require.NoError(t, err)
		require.InDelta(t, c.el, kw, 0.003, "E7")
		minutes, ok, err := b.HeatUpMinutes(l.RoomKW)
		require.NoError(t, err)
		require.True(t, ok)
		require.InDelta(t, c.minutes, minutes, 1e-9)
	}
	l, err := b.Hold()
	require.NoError(t, err)
	require.InDelta(t, 815.1, l.RoomKW*1000, 0.2, "E8")
	require.InDelta(t, 1.18, l.KGH, 0.001, "E8")
	_, ok, err := b.HeatUpMinutes(0.4)
	require.NoError(t, err)
	require.False(t, ok, "half of the losses takes more")
	for _, m := range []float64{0, 1441, math.NaN()} {
		_, err := b.HeatUp(m)
		require.ErrorIs(t, err, ErrRange)
		_, _, err = b.HeatUpMinutes(m - m - 1)
		require.ErrorIs(t, err, ErrRange)
	}
	_, err = l.PowerKW(200, 1)
	require.ErrorIs(t, err, ErrRange)
	_, err = Balance{}.Hold()
	require.ErrorIs(t, err, ErrRange)
}

func TestBalanceNeedsUsableInput(t *testing.T) {
	for name, change := range map[string]func(*Room){
		"no volume": func(r *Room) { r.VolumeM3 = 0 }, "NaN volume": func(r *Room) { r.VolumeM3 = math.NaN() }, "no start": func(r *Room) { r.Start = State{} },
		"colder at the end": func(r *Room) { r.Start, r.End = r.End, r.Start }, "negative air": func(r *Room) { r.AirM3H = -1 }, "no supply": func(r *Room) { r.Supply = State{} },
		"negative area": func(r *Room) { r.Parts[0].AreaM2 = -1 }, "NaN store": func(r *Room) { r.Parts[0].StoreJM2K = math.NaN() }, "negative rise": func(r *Room) { r.Parts[0].RiseK = -1 },
		"negative U": func(r *Room) { r.Parts[0].UWM2K = -1 }, "cold behind": func(r *Room) { r.Parts[0].BehindC = -300 }, "no sort": func(r *Room) { r.Parts[0].Sort = 9 },
	} {
		r := exampleRoom(t)
		change(&r)
		_, err := r.Balance()
		require.ErrorIs(t, err, ErrRange, name)
	}
}

func TestLoadsGrowWithTheRoom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := exampleRoom(t)
		r.VolumeM3 = rapid.Float64Range(1, 100).Draw(t, "volume")
		r.Parts[0].AreaM2 = rapid.Float64Range(1, 200).Draw(t, "area")
		r.AirM3H = rapid.Float64Range(0, 100).Draw(t, "air")
		minutes := rapid.Float64Range(5, 120).Draw(t, "minutes")
		at := func(r Room, minutes float64) (float64, float64) {
			b := balance(t, r)
			l, err := b.HeatUp(minutes)
			require.NoError(t, err)
			h, err := b.Hold()
			require.NoError(t, err)
			return l.RoomKW, h.RoomKW
		}
		up, hold := at(r, minutes)
		longer, _ := at(r, minutes*1.1)
		require.Less(t, longer, up)
		for _, change := range []func(*Room){func(r *Room) { r.VolumeM3 *= 1.1 }, func(r *Room) { r.Parts[0].AreaM2 *= 1.1 }, func(r *Room) { r.AirM3H += 1 },
			func(r *Room) { r.Parts = append(r.Parts, Part{Outside, 1, 1000, 25, 0.5, -5}) }, func(r *Room) { r.Parts = append(r.Parts, Part{Glass, 1, 1000, 12, 3.7, 20}) }} {
			more := r
			more.Parts = append([]Part(nil), r.Parts...)
			change(&more)
			u, h := at(more, minutes)
			require.Greater(t, u, up)
			require.GreaterOrEqual(t, h, hold)
		}
	})
}

func BenchmarkBalance(b *testing.B) {
	r := exampleRoom(b)
	for b.Loop() {
		if _, err := r.Balance(); err != nil {
			b.Fatal(err)
		}
	}
}
