package moisture

import (
	"fmt"
	"math"

	"wetrule/lint/calc/air"
)

// USPerm is 1 US perm in kg/(s·m²·Pa), by definition 1 grain/(h·ft²·inHg) (ASTM E96, read).
const USPerm = 5.72135e-11

func convert(v, low, high float64, unit string) error {
	if v >= low && v <= high {
		return nil
	}
	return fmt.Errorf("%w: %g %s, allowed %g to %g", ErrConversion, v, unit, low, high)
}

// SdOfPerm returns the s_d in m of a permeance in US perm (10⁻⁶ to 10⁶): δ0/(perm·5.72135·10⁻¹¹). It goes both ways: SdOfPerm of an s_d is
// its perm. 0.5 perm are 7.0 m.
func SdOfPerm(perm float64) (float64, error) {
	return VapourPermeability / (perm * USPerm), convert(perm, 1e-6, 1e6, "perm")
}

// SdOfResistance returns the s_d in m of a vapour resistance by mass in s/m (1 to 10¹²) at a temperature of −50 to 100 °C: δ0·R_v·T·Z. The Swedish
// figure of 10⁶ s/m is 25 to 27 m.
func SdOfResistance(secondsPerM, tempC float64) (float64, error) {
	if err := convert(tempC, -50, 100, "°C"); err != nil {
		return 0, err
	}
	return VapourPermeability * air.VapourGasConstant * (tempC + air.KelvinOffset) * secondsPerM, convert(secondsPerM, 1, 1e12, "s/m")
}

// PressureResistance returns Z = s_d/δ0 in GPa·s·m²/kg, which is the same as MN·s/g, for an s_d of 0 to 10⁶ m. 1 m gives 5.
func PressureResistance(sdM float64) (float64, error) {
	return sdM / VapourPermeability / 1e9, convert(sdM, 0, 1e6, "m")
}

// Flow returns the vapour in g/(m²·day) that a pressure difference in Pa (−10⁶ to 10⁶) drives through an s_d in m (10⁻⁶ to 10⁶).
//
// Source: ISO 13788 (read). From 45 °C saturated to 20 °C with 50 %, 0.5 perm let through 20.8 g/(m²·day).
func Flow(sdM, differencePa float64) (float64, error) {
	if err := convert(differencePa, -1e6, 1e6, "Pa"); err != nil {
		return 0, err
	}
	return GramsPerDay(VapourPermeability * differencePa / sdM), convert(sdM, 1e-6, 1e6, "m")
}

// GramsPerDay turns kg/(m²·s) into g/(m²·day).
func GramsPerDay(kgM2S float64) float64 { return kgM2S * 1000 * 86400 }

// Climate is the air on both sides of a wall.
type Climate struct {
	InsideC, InsidePa   float64
	OutsideC, OutsidePa float64
}

// ClimateOf makes a climate from relative humidities in percent.
func ClimateOf(insideC, insidePercent, outsideC, outsidePercent float64) (Climate, error) {
	in, err := air.VapourPressure(air.ISO13788, insideC, insidePercent)
	if err != nil {
		return Climate{}, fmt.Errorf("inside: %w", err)
	}
	out, err := air.VapourPressure(air.ISO13788, outsideC, outsidePercent)
	if err != nil {
		return Climate{}, fmt.Errorf("outside: %w", err)
	}
	return Climate{insideC, in, outsideC, out}, nil
}

// Plane is an interface at which vapour condenses, or at which condensate dries.
type Plane struct {
	Interface int     // 1 lies between the first and the second layer
	RateKGM2S float64 // positive when it condenses
}

// Profile is the state of a section: at the inner surface, at all interfaces and at the outer surface.
type Profile struct {
	SdM          []float64 // from the inner surface
	TemperatureC []float64
	SaturationPa []float64
	PressurePa   []float64
	InKGM2S      float64 // vapour that enters at the inner surface; negative when it leaves there
	OutKGM2S     float64 // vapour that leaves at the outer surface
	Planes       []Plane // from the inside to the outside
}

// CondensateKGM2S adds up what condenses at the planes; planes that dry do not count.
func (p *Profile) CondensateKGM2S() float64 {
	sum := 0.0
	for _, c := range p.Planes {
		sum += max(0, c.RateKGM2S)
	}
	return sum
}

// HumidityPercent returns the relative humidity at an interface; 0 is the inner surface.
func (p *Profile) HumidityPercent(at int) float64 {
	return 100 * p.PressurePa[at] / p.SaturationPa[at]
}

// Profile works out temperatures, vapour pressures and condensation planes of the section as it stands; ISO 13788 asks for the
// section to be Divided before. The vapour pressure over s_d is the taut string under the saturation pressures: the largest convex
// line between the pressures at both surfaces that nowhere exceeds them. Where it touches, vapour condenses at
// δ0·(slope before − slope behind).
//
// Where the air of a side has more vapour than its surface can hold, the surface itself condenses, and the string starts from the
// saturation pressure of the surface (our own convention; the standards do not look at saturated rooms).
//
// Source: ISO 13788:2012 (secondary for the string, memory for the rate).
func (s Section) Profile(c Climate) (*Profile, error) {
	p, err := s.saturation(c)
	if err != nil {
		return nil, err
	}
	p.stretch(nil)
	return p, nil
}

// saturation fills in all but the vapour pressures between the surfaces.
func (s Section) saturation(c Climate) (*Profile, error) {
	t, err := s.Temperatures(c.InsideC, c.OutsideC)
	if err != nil {
		return nil, err
	}
	for _, v := range []float64{c.InsidePa, c.OutsidePa} {
		if !(v >= 0 && v <= 1e5) {
			return nil, fmt.Errorf("%w: vapour pressure %g Pa, allowed 0 to 100000", ErrClimate, v)
		}
	}
	n := len(t)
	row := make([]float64, 3*n)
	p := &Profile{TemperatureC: t, SdM: row[:n:n], SaturationPa: row[n : 2*n : 2*n], PressurePa: row[2*n:]}
	for i := range t {
		if p.SaturationPa[i], err = air.ISO13788.Saturation(t[i]); err != nil {
			return nil, err
		}
		if i > 0 {
			p.SdM[i] = p.SdM[i-1] + s.Layers[i-1].SdM
		}
	}
	p.PressurePa[0] = min(c.InsidePa, p.SaturationPa[0])
	p.PressurePa[n-1] = min(c.OutsidePa, p.SaturationPa[n-1])
	return p, nil
}

// stretch draws the string. Interfaces that are wet from before hold it at saturation.
func (p *Profile) stretch(wet []bool) {
	last := len(p.SdM) - 1
	level := func(k int) float64 {
		if k == 0 || k == last {
			return p.PressurePa[k]
		}
		return p.SaturationPa[k]
	}
	hull := make([]int, 0, last+1)
	fixed := 0 // points of the hull up to here are held
	for k := 0; k <= last; k++ {
		for len(hull)-fixed >= 2 {
			a, b := hull[len(hull)-2], hull[len(hull)-1]
			if (level(b)-level(a))*(p.SdM[k]-p.SdM[a]) < (level(k)-level(a))*(p.SdM[b]-p.SdM[a]) {
				break
			}
			hull = hull[:len(hull)-1]
		}
		hull = append(hull, k)
		if k < last && wet != nil && wet[k] {
			fixed = len(hull) - 1
		}
	}
	rate := func(a, b int) float64 { return VapourPermeability * (level(a) - level(b)) / (p.SdM[b] - p.SdM[a]) }
	before := 0.0
	for i := 1; i < len(hull); i++ {
		a, b := hull[i-1], hull[i]
		for k := a + 1; k < b; k++ {
			p.PressurePa[k] = level(a) + (level(b)-level(a))*(p.SdM[k]-p.SdM[a])/(p.SdM[b]-p.SdM[a])
		}
		r := rate(a, b)
		if i == 1 {
			p.InKGM2S = r
		} else {
			p.PressurePa[a] = level(a)
			p.Planes = append(p.Planes, Plane{a, before - r})
		}
		before = r
	}
	p.OutKGM2S = before
}

// NeededSd returns the s_d in m that a layer (0 is the innermost) needs so that nothing condenses on its cold side, all else
// being as it is: the largest of s_d,out·(p_si − p_sat)/(p_sat − p_se) less the s_d of the other layers, over all interfaces
// beyond the layer; at least 0. Cut the section into strips first. The error is ErrMembrane when vapour from the cold side condenses, which no layer on
// the warm side helps against.
//
// Source: ISO 13788, turned round (computed).
func (s Section) NeededSd(c Climate, layer int) (float64, error) {
	if layer < 0 || layer >= len(s.Layers) {
		return 0, fmt.Errorf("%w: no layer %d", ErrSection, layer)
	}
	p, err := s.saturation(c)
	if err != nil {
		return 0, err
	}
	return s.NeededSdOf(p, layer)
}

// NeededSdOf is NeededSd for the climate of a profile of the section, with a layer that the section has.
func (s Section) NeededSdOf(p *Profile, layer int) (float64, error) {
	last := len(s.Layers)
	pi, pe := p.PressurePa[0], p.PressurePa[last]
	need := 0.0
	for k := layer + 1; k < last; k++ {
		sat := p.SaturationPa[k]
		if sat >= pi && sat >= pe {
			continue
		}
		if sat <= pe {
			return 0, fmt.Errorf("%w: the air outside holds %.0f Pa, the interface behind %s saturates at %.0f Pa", ErrMembrane, pe, s.Layers[k-1].Name, sat)
		}
		others := p.SdM[k] - s.Layers[layer].SdM
		need = max(need, (p.SdM[last]-p.SdM[k])*(pi-sat)/(sat-pe)-others)
	}
	return need, nil
}

// Month is one month of a balance.
type Month struct {
	Name    string
	Days    float64 // above 0 to 366
	Climate Climate
}

// MonthBalance is what a month leaves.
type MonthBalance struct {
	Name       string
	ChangeKGM2 float64 // in the month
	StoredKGM2 float64 // at its end
}

// Annual is the balance of a year.
type Annual struct {
	Months      []MonthBalance // from the month in which condensation begins
	PeakKGM2    float64        // the largest content
	PeakMonth   string
	ResidueKGM2 float64 // what is left after the last month; with more than 0 the wall gets wetter from year to year
	DryMonth    string  // the month in which the condensate is gone; empty when there is none or it stays
	AllYear     bool    // it condenses in every month
}

// Balance keeps account of condensate over the months of a year, in any number, by cycles from a month that condenses after one that
// does not. While an interface is wet it is held at saturation and may dry; its content is never below 0. Cut the section
// into strips first.
//
// Source: ISO 13788:2012 (read for the principle). The examples of its annex were not seen.
func (s Section) Balance(months []Month) (*Annual, error) {
	n := len(months)
	if n == 0 || n > 400 {
		return nil, fmt.Errorf("%w: %d months, allowed 1 to 400", ErrClimate, n)
	}
	dry := make([]*Profile, n)
	for i, m := range months {
		if !(m.Days > 0 && m.Days <= 366) {
			return nil, fmt.Errorf("%w: %s has %g days, allowed above 0 to 366", ErrClimate, m.Name, m.Days)
		}
		p, err := s.Profile(m.Climate)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", m.Name, err)
		}
		dry[i] = p
	}
	wets := func(i int) bool { return len(dry[(i+n)%n].Planes) > 0 }
	start, condenses := 0, false
	for i := range n {
		if wets(i) {
			condenses = true
			if !wets(i - 1) {
				start = i
				break
			}
		}
	}
	out := &Annual{Months: make([]MonthBalance, 0, n), AllYear: condenses && wets(start-1)}
	stored, wet := make([]float64, len(s.Layers)+1), make([]bool, len(s.Layers)+1)
	for i := range n {
		m := months[(start+i)%n]
		p, err := s.saturation(m.Climate)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", m.Name, err)
		}
		p.stretch(wet)
		before, after := 0.0, 0.0
		for _, v := range stored {
			before += v
		}
		for _, plane := range p.Planes {
			stored[plane.Interface] = max(0, stored[plane.Interface]+plane.RateKGM2S*m.Days*86400)
		}
		for k, v := range stored {
			wet[k] = v > 0
			after += v
		}
		if out.Months = append(out.Months, MonthBalance{m.Name, after - before, after}); after > out.PeakKGM2 {
			out.PeakKGM2, out.PeakMonth, out.DryMonth = after, m.Name, ""
		}
		if after == 0 && before > 0 {
			out.DryMonth = m.Name
		}
		out.ResidueKGM2 = after
	}
	return out, nil
}

// Block is the climate of the block method: one long damp spell and one long dry one.
type Block struct {
	Damp        Climate
	DampSeconds float64
	// In the dry spell both sides hold one vapour pressure and the plane another.
	DryPa, DryPlanePa, DrySeconds float64
	RsiM2KW                       float64
	MaxKGM2                       float64 // the most that may condense
}

// BlockWall is the climate for the outside walls of dwellings: 20 °C with 1168 Pa (50 %) and −5 °C with 321 Pa (80 %) for 90 days, then 90 days
// with 1200 Pa on both sides and 1700 Pa at the plane; R_si 0.25; at most 1 kg/m².
//
// Source: DIN 4108-3:2014 (read; the 1700 Pa are from memory). Layers that cannot take up water may hold 0.5 kg/m² only
// (memory). The method is for heated dwellings and the like without humidification; a steam room in use lies outside it.
var BlockWall = Block{Climate{20, 1168, -5, 321}, 90 * 86400, 1200, 1700, 90 * 86400, MouldSurface, 1.0}

// BlockResult is what the block method finds.
type BlockResult struct {
	Profile         *Profile
	CondensateKGM2  []float64 // at each plane of the profile
	TotalKGM2       float64
	EvaporationKGM2 float64 // what can dry in the dry spell; 0 without a plane
}

// BlockMethod works out condensate and drying of the section, whose inner surface resistance is that of the block. It does not cut
// layers into strips. Several planes dry as one region: to the inside from the first, to the outside from the last.
//
// Source: DIN 4108-3, M_ev = δ0·t·[(p_s − p_i)/s_d,in + (p_s − p_e)/s_d,out] (read).
func (s Section) BlockMethod(b Block) (*BlockResult, error) {
	for _, v := range []float64{b.DampSeconds, b.DrySeconds, b.DryPa, b.DryPlanePa} {
		if !(v >= 0 && !math.IsInf(v, 0)) {
			return nil, fmt.Errorf("%w: %g in the spells of the block, allowed 0 and more", ErrClimate, v)
		}
	}
	s.RsiM2KW = b.RsiM2KW
	p, err := s.Profile(b.Damp)
	if err != nil {
		return nil, err
	}
	r := &BlockResult{Profile: p, CondensateKGM2: make([]float64, len(p.Planes))}
	for i, c := range p.Planes {
		r.CondensateKGM2[i] = c.RateKGM2S * b.DampSeconds
		r.TotalKGM2 += r.CondensateKGM2[i]
	}
	if n := len(p.Planes); n > 0 {
		in, out := p.SdM[p.Planes[0].Interface], p.SdM[len(p.SdM)-1]-p.SdM[p.Planes[n-1].Interface]
		r.EvaporationKGM2 = VapourPermeability * b.DrySeconds * (b.DryPlanePa - b.DryPa) * (1/in + 1/out)
	}
	return r, nil
}
