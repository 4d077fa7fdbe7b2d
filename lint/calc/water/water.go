// Package water works with the hardness of feed water: units and classes, the
// scale that a steam generator collects, the cycle of a softener, and blow-down.
//
// Units: hardness is the sum of calcium and magnesium in mmol/l unless a name
// says otherwise, volumes are in m³, masses in kg, conductivity in µS/cm at 20 °C.
// Numbers outside the ranges that a function names give an error that wraps
// [ErrRange]; no result is ever NaN or infinite. Results are not rounded.
package water

import (
	"errors"
	"fmt"
	"sort"
)

// ErrRange says that a number is not finite or lies outside the range of a function. The wrapping error names both.
var ErrRange = errors.New("water: out of range")

// ErrNeverSpent says that a softener never runs out: nothing flows, or there is nothing to take out.
var ErrNeverSpent = errors.New("water: the resin is never spent")

// ErrNoBlowDown says that no blow-down can hold the limit of a boiler: the feed water lies at the limit or above it.
var ErrNoBlowDown = errors.New("water: the feed water is not below the limit of the boiler")

// Molar masses in g/mol, from standard atomic weights (memory), rounded to 0.0001.
const (
	MolarMassCaCO3 = 100.0869
	MolarMassCaO   = 56.0774
	MolarMassCa    = 40.078
	MolarMassMg    = 24.305
)

// MaxHardnessMmolL is the hardest water that the package works with, in mmol/l. Sea water has about 63.
const MaxHardnessMmolL = 100

// inRange checks a number against a closed range; NaN fails it.
func inRange(what string, v, lo, hi float64) error {
	if v >= lo && v <= hi {
		return nil
	}
	return fmt.Errorf("%w: %s is %g, wanted %g to %g", ErrRange, what, v, lo, hi)
}

// Unit is a unit of hardness.
type Unit uint8

// The units of hardness, each by its definition: one German degree is 10 mg/l CaO, a French degree 10 mg/l CaCO3,
// an English (Clark) degree one grain of CaCO3 in an imperial gallon, a grain per gallon one grain in a US gallon.
// One mmol/l of calcium and magnesium is 2 meq/l.
//
// Source: the definitions (read); the factors are worked out from them.
const (
	MmolL Unit = iota
	MgLCaCO3
	GermanDegree
	FrenchDegree
	EnglishDegree
	GrainPerUSGallon
	MeqL
)

// Grains and gallons: 1 gr = 64.79891 mg, 1 US gal = 3.785411784 l, 1 imp. gal = 4.54609 l; all exact by definition.
const (
	mgPerGrain         = 64.79891
	litresPerUSGallon  = 3.785411784
	litresPerImpGallon = 4.54609
)

var units = []struct {
	symbol string
	per    float64 // of the unit in one mmol/l
}{
	MmolL:            {"mmol/l", 1},
	MgLCaCO3:         {"mg/l CaCO3", MolarMassCaCO3},
	GermanDegree:     {"°dH", MolarMassCaO / 10},
	FrenchDegree:     {"°fH", MolarMassCaCO3 / 10},
	EnglishDegree:    {"°e", MolarMassCaCO3 / (mgPerGrain / litresPerImpGallon)},
	GrainPerUSGallon: {"gpg", MolarMassCaCO3 / (mgPerGrain / litresPerUSGallon)},
	MeqL:             {"meq/l", 2},
}

// Units lists the units of hardness.
func Units() []Unit {
	out := make([]Unit, len(units))
	for i := range units {
		out[i] = Unit(i)
	}
	return out
}

// String is the symbol of the unit.
func (u Unit) String() string {
	if int(u) >= len(units) {
		return fmt.Sprintf("unit %d", uint8(u))
	}
	return units[u].symbol
}

// Convert turns a hardness from one unit into another. The hardness must lie within 0 to [MaxHardnessMmolL] mmol/l.
//
// Source: see [Unit] (computed from the definitions).
func Convert(v float64, from, to Unit) (float64, error) {
	if int(from) >= len(units) || int(to) >= len(units) {
		return 0, fmt.Errorf("%w: there is no %s or no %s", ErrRange, from, to)
	}
	if err := inRange("hardness in "+from.String(), v, 0, MaxHardnessMmolL*units[from].per); err != nil {
		return 0, err
	}
	return v / units[from].per * units[to].per, nil
}

// FromCaMg gives the hardness in mmol/l of water with the given calcium and magnesium in mg/l, each 0 to 4000:
// Ca/40.078 + Mg/24.305. As CaCO3 it is 2.497·Ca + 4.118·Mg mg/l.
//
// Source: molar masses (computed); the factors 2.497 and 4.118 are published (secondary).
func FromCaMg(caMgL, mgMgL float64) (float64, error) {
	for _, x := range []struct {
		what string
		v    float64
	}{{"calcium in mg/l", caMgL}, {"magnesium in mg/l", mgMgL}} {
		if err := inRange(x.what, x.v, 0, 4000); err != nil {
			return 0, err
		}
	}
	return caMgL/MolarMassCa + mgMgL/MolarMassMg, nil
}

// Class is a class of hardness in plain words.
type Class string

// The classes of hardness of the scales below.
const (
	Soft           Class = "soft"
	ModeratelyHard Class = "moderately_hard"
	Medium         Class = "medium"
	Hard           Class = "hard"
	VeryHard       Class = "very_hard"
)

// ClassWHO gives the class of a hardness in mmol/l, 0 to [MaxHardnessMmolL]: soft below 60 mg/l CaCO3, moderately hard to 120,
// hard to 180, very hard above. The United States Geological Survey has the same limits.
//
// Source: WHO, Hardness in drinking-water, 2011; USGS (secondary). The texts leave open to which class 60 and 120 belong; the harder one is taken.
func ClassWHO(mmolL float64) (Class, error) {
	mg, err := Convert(mmolL, MmolL, MgLCaCO3)
	switch {
	case err != nil:
		return "", err
	case mg < 60:
		return Soft, nil
	case mg < 120:
		return ModeratelyHard, nil
	case mg <= 180:
		return Hard, nil
	}
	return VeryHard, nil
}

// ClassWRMG gives the range of a hardness in mmol/l, 0 to [MaxHardnessMmolL]: soft below 1.5 mmol/l (8.4 °dH), medium to 2.5 (14 °dH), hard above.
//
// Source: German act on washing and cleaning agents (WRMG), § 9, 2007 (read).
func ClassWRMG(mmolL float64) (Class, error) {
	if err := inRange("hardness in mmol/l", mmolL, 0, MaxHardnessMmolL); err != nil {
		return "", err
	}
	switch {
	case mmolL < 1.5:
		return Soft, nil
	case mmolL <= 2.5:
		return Medium, nil
	}
	return Hard, nil
}

// RangeBefore2007 gives the number 1 to 4 of the German range of hardness as it was printed until 2007: below 7 °dH, to 14, to 21, above.
//
// Source: the act of 1975, as reported by others (secondary).
func RangeBefore2007(mmolL float64) (int, error) {
	d, err := Convert(mmolL, MmolL, GermanDegree)
	switch {
	case err != nil:
		return 0, err
	case d < 7:
		return 1, nil
	case d <= 14:
		return 2, nil
	case d <= 21:
		return 3, nil
	}
	return 4, nil
}

// ScaleDensityKGL is the density of solid calcium carbonate in kg/l (calcite, memory).
const ScaleDensityKGL = 2.71

// ScaleKG gives the most calcium carbonate in kg that a volume of water in m³ can leave when it is boiled away: volume · hardness · 0.1000869 kg/mol.
// Only carbonate hardness scales on boiling; with the total hardness the result is an upper bound. Volume 0 to 1e6 m³, hardness 0 to [MaxHardnessMmolL] mmol/l.
//
// Source: molar mass (computed); 17.85 g per m³ and German degree is published (secondary).
func ScaleKG(volumeM3, carbonateMmolL float64) (float64, error) {
	if err := inRange("volume in m³", volumeM3, 0, 1e6); err != nil {
		return 0, err
	}
	if err := inRange("hardness in mmol/l", carbonateMmolL, 0, MaxHardnessMmolL); err != nil {
		return 0, err
	}
	return volumeM3 * carbonateMmolL * MolarMassCaCO3 / 1000, nil
}

// enthalpy of saturated water in kJ/kg by temperature in °C.
//
// Source: IAPWS-IF97, region 1 (computed; the region reproduces the published check values).
var enthalpy = [][2]float64{{0, 0}, {10, 42.02}, {20, 83.92}, {40, 167.54}, {45, 188.44}, {60, 251.15}, {80, 334.95}, {100, 419.10}}

// SteamEnthalpyKJKG is the enthalpy of saturated steam at 100 °C in kJ/kg (IAPWS-IF97, computed).
const SteamEnthalpyKJKG = 2675.57

// SteamKGPerKWh gives the mass of steam of 100 °C in kg that one kWh makes from feed water of 0 to 100 °C, without losses:
// 3600 / (2675.57 − h(feed)). The enthalpy of the feed water is interpolated between tabled values, good to 0.1 %.
//
// Source: IAPWS-IF97 (computed).
func SteamKGPerKWh(feedC float64) (float64, error) {
	if err := inRange("feed temperature in °C", feedC, 0, 100); err != nil {
		return 0, err
	}
	i := max(sort.Search(len(enthalpy), func(i int) bool { return enthalpy[i][0] >= feedC }), 1)
	a, b := enthalpy[i-1], enthalpy[i]
	h := a[1] + (b[1]-a[1])*(feedC-a[0])/(b[0]-a[0])
	return 3600 / (SteamEnthalpyKJKG - h), nil
}

// OperatingCapacityEqL is what a litre of strong-acid cation resin takes up between regenerations in practice, in eq/l.
// Its total capacity is about twice as much.
//
// Source: trade practice (secondary); 1 eq/l is 50 g CaCO3 or 2.8 m³·°dH per litre.
const OperatingCapacityEqL = 1.0

// ReservePart is the part of the capacity that is kept in reserve.
//
// Source: trade practice, about 20 % (secondary).
const ReservePart = 0.2

// SaltGPerEq is the salt that a regeneration takes, in g NaCl per equivalent of capacity: from thrifty to generous.
//
// Source: from memory.
var SaltGPerEq = [2]float64{100, 200}

// Softener is the resin of a softener.
type Softener struct {
	ResinL      float64 // litres of resin, 0.1 to 10 000
	CapacityEqL float64 // operating capacity, eq/l, 0.1 to 2.5; see OperatingCapacityEqL
}

func (s Softener) check() error {
	if err := inRange("resin in l", s.ResinL, 0.1, 10000); err != nil {
		return err
	}
	return inRange("capacity in eq/l", s.CapacityEqL, 0.1, 2.5)
}

// VolumeM3 gives the volume of water in m³ that the softener takes between two regenerations:
// litres · eq/l / (2 · mmol/l). Water without hardness gives [ErrNeverSpent].
//
// Source: ion exchange balance (computed).
func (s Softener) VolumeM3(mmolL float64) (float64, error) {
	if err := s.check(); err != nil {
		return 0, err
	}
	if err := inRange("hardness in mmol/l", mmolL, 0, MaxHardnessMmolL); err != nil {
		return 0, err
	}
	if eq := 2 * mmolL; eq > 1e-9 {
		return s.ResinL * s.CapacityEqL / eq, nil
	}
	return 0, fmt.Errorf("%w: the water has no hardness", ErrNeverSpent)
}

// IntervalDays gives the days after which the softener has to regenerate when it treats m3PerDay, 0 to 10 000, and the part reserve
// of its capacity, 0 to 0.9, is left: volume · (1 − reserve) / daily volume. Without flow it gives [ErrNeverSpent].
//
// Source: ion exchange balance (computed).
func (s Softener) IntervalDays(mmolL, m3PerDay, reserve float64) (float64, error) {
	v, err := s.VolumeM3(mmolL)
	if err != nil {
		return 0, err
	}
	if err := inRange("volume in m³ per day", m3PerDay, 0, 10000); err != nil {
		return 0, err
	}
	if err := inRange("reserve", reserve, 0, 0.9); err != nil {
		return 0, err
	}
	if m3PerDay < 1e-9 {
		return 0, fmt.Errorf("%w: no water flows", ErrNeverSpent)
	}
	return v * (1 - reserve) / m3PerDay, nil
}

// SaltKG gives the salt of one full regeneration in kg: litres · eq/l · g/eq / 1000, 50 to 400 g/eq.
//
// Source: trade practice, see [SaltGPerEq] (memory).
func (s Softener) SaltKG(gPerEq float64) (float64, error) {
	if err := s.check(); err != nil {
		return 0, err
	}
	if err := inRange("salt in g/eq", gPerEq, 50, 400); err != nil {
		return 0, err
	}
	return s.ResinL * s.CapacityEqL * gPerEq / 1000, nil
}

// BypassPart gives the part of the water that goes round the softener so that the blend has the hardness wanted: wanted / raw. Both are in the same
// unit; raw is above 0 and at least wanted.
//
// Source: mixing balance (computed).
func BypassPart(raw, wanted float64) (float64, error) {
	if err := inRange("raw hardness", raw, 1e-9, 1e6); err != nil {
		return 0, err
	}
	if err := inRange("hardness wanted", wanted, 0, raw); err != nil {
		return 0, err
	}
	return wanted / raw, nil
}

// Boiling is the water balance of a boiler in kg/h.
type Boiling struct {
	SteamKGH, BlowDownKGH, FeedKGH float64
	Cycles                         float64 // cycles of concentration: boiler / feed
	BlowDownPart                   float64 // of the feed: 1 / cycles
}

// BlowDown gives the blow-down that holds the water of a boiler at a conductivity: BD = S·F / (B − F). Steam 0 to 1e6 kg/h,
// conductivities above 0 to 50 000 µS/cm. Feed water at the limit or above it gives [ErrNoBlowDown].
//
// Source: UFC 3-240-13FN, cycles of concentration (secondary).
func BlowDown(steamKGH, feedUSCM, boilerUSCM float64) (Boiling, error) {
	if err := inRange("steam in kg/h", steamKGH, 0, 1e6); err != nil {
		return Boiling{}, err
	}
	if err := inRange("conductivity of the feed water in µS/cm", feedUSCM, 1e-3, 50000); err != nil {
		return Boiling{}, err
	}
	if err := inRange("conductivity of the boiler water in µS/cm", boilerUSCM, 1e-3, 50000); err != nil {
		return Boiling{}, err
	}
	if boilerUSCM-feedUSCM < 1e-6 {
		return Boiling{}, fmt.Errorf("%w: %g against %g µS/cm", ErrNoBlowDown, feedUSCM, boilerUSCM)
	}
	bd := steamKGH * feedUSCM / (boilerUSCM - feedUSCM)
	return Boiling{SteamKGH: steamKGH, BlowDownKGH: bd, FeedKGH: steamKGH + bd, Cycles: boilerUSCM / feedUSCM, BlowDownPart: feedUSCM / boilerUSCM}, nil
}

// Window is a range of conductivity in µS/cm, both ends allowed.
type Window struct{ LoUSCM, HiUSCM float64 }

// The windows of feed water that are usual for generators with electrodes in the water, and for generators with
// resistance heating. Electrodes need some salt to carry current; desalted water gives them none.
//
// Source: trade glossary, no standard (secondary); the maker's figure goes first.
var (
	ElectrodeWindow = Window{125, 1250}
	ElementWindow   = Window{0, 1250}
)

// Contains says whether a conductivity lies in the window.
func (w Window) Contains(uSCM float64) bool { return uSCM >= w.LoUSCM && uSCM <= w.HiUSCM }
