package steam

import (
	"errors"
	"fmt"

	"wetrule/lint/calc/air"
)

// Layer is one layer of a face. A layer of known mass may be given with 1 mm
// and that mass as its density where only the heat that it stores counts.
type Layer struct {
	ThicknessMM     float64 // 0.001 to 5000
	DensityKGM3     float64 // 0.5 to 25000
	HeatJKGK        float64 // specific heat, 50 to 5000
	ConductivityWMK float64 // 0.001 to 1000
}

func (l Layer) checkStore() error {
	return errors.Join(within("thickness of a layer", l.ThicknessMM, 0.001, 5000, "mm"), within("density", l.DensityKGM3, 0.5, 25000, "kg/m³"), within("specific heat", l.HeatJKGK, 50, 5000, "J/(kg·K)"))
}

// StoreJM2K returns the heat that layers store for each kelvin, in J/(m²·K): Σ d·ρ·c.
//
// Source: physics (computed). Check value: tile 8 mm (2300, 840) on adhesive 4 mm (1800, 1000) stores 22 656 J/(m²·K).
func StoreJM2K(layers ...Layer) (float64, error) {
	sum := 0.0
	for _, l := range layers {
		if err := l.checkStore(); err != nil {
			return 0, err
		}
		sum += l.ThicknessMM / 1000 * l.DensityKGM3 * l.HeatJKGK
	}
	return sum, nil
}

// Transmittance returns U in W/(m²·K) of layers between two surface resistances
// of 0 to 10 m²·K/W: 1/(R_si + Σ d/λ + R_se). At least one resistance must be above 0.
//
// Source: ISO 6946 (read). Check values: tile 8 mm (1.3), adhesive 4 mm (1.0)
// and 50 mm of foam (0.034) between 0.13 and 0.13 give 0.57447; 10 mm of glass
// gives 3.7037.
func Transmittance(rsi, rse float64, layers ...Layer) (float64, error) {
	if err := errors.Join(within("inner surface resistance", rsi, 0, 10, "m²·K/W"), within("outer surface resistance", rse, 0, 10, "m²·K/W")); err != nil {
		return 0, err
	}
	r := rsi + rse
	for _, l := range layers {
		if err := errors.Join(within("thickness of a layer", l.ThicknessMM, 0.001, 5000, "mm"), within("conductivity", l.ConductivityWMK, 0.001, 1000, "W/(m·K)")); err != nil {
			return 0, err
		}
		r += l.ThicknessMM / 1000 / l.ConductivityWMK
	}
	if r <= 0 {
		return 0, fmt.Errorf("%w: nothing resists the heat", ErrRange)
	}
	return 1 / r, nil
}

// State is moist air, for each kg of dry air in it.
type State struct {
	TemperatureC  float64
	HumidityRatio float64 // kg of water
	EnthalpyKJKG  float64
	VolumeM3KG    float64
}

// StateAt returns the state of air of −50 to 90 °C and 0 to 100 % relative humidity at sea level.
//
// Source: ASHRAE Handbook Fundamentals 2017, chapter 1 (secondary).
func StateAt(tempC, humidityPercent float64) (State, error) {
	if err := within("air temperature", tempC, -50, 90, "°C"); err != nil {
		return State{}, err
	}
	p, err := air.VapourPressure(air.ASHRAE, tempC, humidityPercent)
	if err != nil {
		return State{}, fmt.Errorf("%w: %w", ErrRange, err)
	}
	s := State{TemperatureC: tempC}
	if s.HumidityRatio, err = air.HumidityRatio(p, air.StandardPressurePa); err != nil {
		return State{}, err
	}
	if s.EnthalpyKJKG, err = air.Enthalpy(tempC, s.HumidityRatio); err != nil {
		return State{}, err
	}
	s.VolumeM3KG, err = air.SpecificVolume(tempC, s.HumidityRatio, air.StandardPressurePa)
	return s, err
}

// Sort says which term of the balance a part belongs to.
type Sort uint8

// The sorts of parts.
const (
	Lining  Sort = iota // lined with foam, towards a heated place
	Outside             // lined with foam, towards the open air, the ground or a cold room
	Glass
	sorts
)

// Part is a part of what encloses the room.
type Part struct {
	Sort      Sort
	AreaM2    float64 // 0 to 1e5
	StoreJM2K float64 // heat stored on the warm side, 0 to 1e7
	RiseK     float64 // by which the store warms up, 0 to 200
	UWM2K     float64 // 0 to 1000
	BehindC   float64 // temperature on the other side, −60 to 100
}

// Room is a steam room to be heated.
type Room struct {
	VolumeM3   float64 // of air, 0.01 to 1e5
	Start, End State   // of the air
	Supply     State   // of the air that comes in
	AirM3H     float64 // that comes in, at its own volume, 0 to 1e6
	Parts      []Part
}

// Balance holds the terms of the heat that a room takes.
type Balance struct {
	AirKG    float64 // dry air in the room
	WaterKG  float64 // that the air takes up
	AirKJ    float64 // to warm and moisten the air
	StoreKJ  [sorts]float64
	LossW    [sorts]float64 // through the parts, once warm
	VentW    float64        // to warm and moisten the air that comes in
	VentKGH  float64        // water that it takes up
	SteamKJK float64        // heat that a kg of steam gives
}

// Stored is the heat to warm everything up once, in kJ.
func (b Balance) Stored() float64 {
	sum := b.AirKJ
	for _, kj := range b.StoreKJ {
		sum += kj
	}
	return sum
}

// Losses are the steady losses once warm, in W.
func (b Balance) Losses() float64 {
	sum := b.VentW
	for _, w := range b.LossW {
		sum += w
	}
	return sum
}

// Balance works out the terms. The dry air that is in the room at the start
// stays in it; what the linings store counts in full, and foam stores nothing.
//
//	m_da = V/v(start); E_air = m_da·(h_end − h_start); E = A·Σ(d·ρ·c)·Δθ
//	P = U·A·(θ_end − θ_behind); P_vent = V̇/v(supply)·(h_end − h_supply)
//
// A part that is warmer behind than the room, and supply air that is richer than
// the room's, give heat and count negative. The room ends warmer than it starts.
//
// Source: energy balance with ASHRAE's moist air (computed). Check values: 6.6 m³
// from 20 °C/50 % to 45 °C/100 % take 1373.4 kJ and 0.4539 kg of water; one
// change of this air an hour takes 381.5 W.
func (r Room) Balance() (Balance, error) {
	var errs []error
	check := func(err error) {
		if err != nil {
			errs = append(errs, err)
		}
	}
	check(within("volume", r.VolumeM3, 0.01, 1e5, "m³"))
	check(within("supply air", r.AirM3H, 0, 1e6, "m³/h"))
	for _, s := range [...]*State{&r.Start, &r.End, &r.Supply} {
		check(within("air temperature", s.TemperatureC, -50, 90, "°C"))
		check(within("humidity ratio", s.HumidityRatio, 0, 10, "kg/kg"))
		check(within("enthalpy", s.EnthalpyKJKG, -100, 1e4, "kJ/kg"))
		check(within("volume of air", s.VolumeM3KG, 0.1, 100, "m³/kg"))
	}
	check(within("rise of the air", r.End.TemperatureC-r.Start.TemperatureC, 0, 140, "K"))
	for i := range r.Parts {
		p := &r.Parts[i]
		check(within("area", p.AreaM2, 0, 1e5, "m²"))
		check(within("store", p.StoreJM2K, 0, 1e7, "J/(m²·K)"))
		check(within("rise", p.RiseK, 0, 200, "K"))
		check(within("transmittance", p.UWM2K, 0, 1000, "W/(m²·K)"))
		check(within("temperature behind", p.BehindC, -60, 100, "°C"))
		check(within("sort", float64(p.Sort), 0, float64(sorts)-1, ""))
	}
	heat, err := HeatKJKG(r.End.TemperatureC)
	check(err)
	if err := errors.Join(errs...); err != nil {
		return Balance{}, err
	}
	b := Balance{SteamKJK: heat, AirKG: r.VolumeM3 / r.Start.VolumeM3KG}
	b.WaterKG = b.AirKG * (r.End.HumidityRatio - r.Start.HumidityRatio)
	b.AirKJ = b.AirKG * (r.End.EnthalpyKJKG - r.Start.EnthalpyKJKG)
	flow := r.AirM3H / r.Supply.VolumeM3KG // kg/h
	b.VentW = flow / 3.6 * (r.End.EnthalpyKJKG - r.Supply.EnthalpyKJKG)
	b.VentKGH = flow * (r.End.HumidityRatio - r.Supply.HumidityRatio)
	for _, p := range r.Parts {
		b.StoreKJ[p.Sort] += p.AreaM2 * p.StoreJM2K * p.RiseK / 1000
		b.LossW[p.Sort] += p.UWM2K * p.AreaM2 * (r.End.TemperatureC - p.BehindC)
	}
	return b, nil
}

// Load is what a room takes from the generator.
type Load struct {
	RoomKW float64 // into the room
	KGH    float64 // as steam
}

// PowerKW returns the electrical power that makes the steam of the load, in kW:
// kg/h ÷ yield. See [YieldKGHPerKW] for the ranges.
func (l Load) PowerKW(feedC, efficiency float64) (float64, error) {
	y, err := YieldKGHPerKW(feedC, efficiency)
	if err != nil {
		return 0, err
	}
	return l.KGH / y, nil
}

func (b Balance) load(kw float64) Load {
	kw = max(kw, 0)
	return Load{RoomKW: kw, KGH: kw * 3600 / b.SteamKJK}
}

// HeatUp returns the load for warming up within 1 to 1440 minutes: the stored
// heat over the time, and half of the losses, which grow from nothing meanwhile.
//
// Source: energy balance (computed; half of the losses is a convention). Check
// values: the room of 6.6 m³ takes 11.156 kW in 20 minutes and 7.573 kW in 30.
func (b Balance) HeatUp(minutes float64) (Load, error) {
	if err := errors.Join(within("time", minutes, 1, 1440, "min"), b.check()); err != nil {
		return Load{}, err
	}
	return b.load(b.Stored()/(minutes*60) + b.Losses()/2/1000), nil
}

// HeatUpMinutes returns the time in minutes in which a generator that brings so
// many kW (above 0 up to 1000) into the room warms it up, the inverse of HeatUp.
// ok is false when half of the losses take all of it.
func (b Balance) HeatUpMinutes(roomKW float64) (minutes float64, ok bool, err error) {
	if err := errors.Join(within("power", roomKW, 1e-6, 1000, "kW"), b.check()); err != nil {
		return 0, false, err
	}
	left := roomKW - b.Losses()/2/1000
	if left <= 0 {
		return 0, false, nil
	}
	return b.Stored() / left / 60, true, nil
}

// Hold returns the load of a room that is warm: its losses.
//
// Source: energy balance (computed). Check value: the room of 6.6 m³ takes 815.1 W and 1.18 kg/h.
func (b Balance) Hold() (Load, error) {
	if err := b.check(); err != nil {
		return Load{}, err
	}
	return b.load(b.Losses() / 1000), nil
}

func (b Balance) check() error {
	return errors.Join(within("heat of steam", b.SteamKJK, 1000, 3000, "kJ/kg"), within("stored heat", b.Stored(), -1e12, 1e12, "kJ"), within("losses", b.Losses(), -1e12, 1e12, "W"))
}
