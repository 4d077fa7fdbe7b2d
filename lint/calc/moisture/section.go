// Package moisture works out heat and vapour through walls: resistances and temperatures by ISO 6946, condensation inside the wall
// and its balance over a year by ISO 13788, the block method of DIN 4108-3, and the vapour resistance that a membrane needs.
//
// Thermal resistances are in m²K/W, temperatures in °C, vapour pressures in Pa, vapour resistances as s_d in m (the thickness of
// still air that lets through as little), rates in kg/(m²·s). Layers run from the inside to the outside. The methods are steady: they
// know no storage, no rain, no air that leaks through. For a steam room, which is hot and damp for hours only, they say too much
// condensate; such rooms lie outside the scope of both standards.
package moisture

import (
	"errors"
	"fmt"
	"math"

	"wetrule/lint/calc/air"
)

// The errors of this package; they come wrapped with the value and the range.
var (
	ErrLayer       = errors.New("layer out of range")
	ErrSection     = errors.New("section out of range")
	ErrClimate     = errors.New("climate out of range")
	ErrMembrane    = errors.New("no vapour resistance on the warm side is enough")
	ErrConversion  = errors.New("value out of range")
	ErrUnevenPaths = errors.New("the layers of the paths do not match")
)

const (
	// VapourPermeability is that of still air, δ0 in kg/(m·s·Pa), as ISO 13788 rounds it (read). Between 23 and 38 °C the true value
	// is 1.95 to 2.1·10⁻¹⁰, so that an s_d holds to 5 %.
	VapourPermeability = 2e-10
	// StripResistance is the largest thermal resistance of a strip into which layers are cut for ISO 13788, in m²K/W (clause 6.4.1,
	// memory). With a saturated warm face the result depends on it.
	StripResistance = 0.25
	// VapourTightSdM is the s_d from which a layer counts as vapour-tight, in m (DIN 4108-3, read).
	VapourTightSdM = 1500.0
	// AirLayerSdM is the s_d of a closed layer of air, in m (ISO 13788, memory).
	AirLayerSdM = 0.01
	// AirLayerResistance is that of a closed layer of air of 25 mm or more with heat flowing sideways, in m²K/W (ISO 6946, read).
	AirLayerResistance = 0.18
)

// Surface resistances in m²K/W with heat flowing sideways.
//
// Source: ISO 6946 (read); the one for mould is ISO 13788 and DIN 4108-3 (read).
const (
	InsideSurface  = 0.13
	OutsideSurface = 0.04
	MouldSurface   = 0.25
)

// Layer is one layer of a section.
type Layer struct {
	Name           string
	ResistanceM2KW float64 // 0 for films
	SdM            float64 // above 0
}

// Homogeneous returns a layer of one material: R = d/λ and s_d = μ·d. The thickness is in mm (0.001 to 10 000), λ in W/(m·K)
// (0.001 to 500), μ has no unit (1 to 10⁸). An s_d above 1500 m is cut down to that.
//
// Source: ISO 6946 and ISO 13788 (read).
func Homogeneous(name string, thicknessMM, lambdaWMK, mu float64) (Layer, error) {
	for _, c := range []struct {
		what         string
		v, low, high float64
	}{{"thickness in mm", thicknessMM, 0.001, 10000}, {"conductivity in W/(m·K)", lambdaWMK, 0.001, 500}, {"vapour factor μ", mu, 1, 1e8}} {
		if !(c.v >= c.low && c.v <= c.high) {
			return Layer{}, fmt.Errorf("%w: %s of %s is %g, allowed %g to %g", ErrLayer, c.what, name, c.v, c.low, c.high)
		}
	}
	d := thicknessMM / 1000
	return Layer{name, d / lambdaWMK, min(mu*d, VapourTightSdM)}, nil
}

// Film returns a layer that holds back vapour only.
func Film(name string, sdM float64) Layer { return Layer{Name: name, SdM: sdM} }

// AirLayer returns a closed layer of air of 25 mm or more.
func AirLayer(name string) Layer {
	return Layer{Name: name, ResistanceM2KW: AirLayerResistance, SdM: AirLayerSdM}
}

// Section is a wall in its layers from the inside to the outside.
type Section struct {
	Layers           []Layer
	RsiM2KW, RseM2KW float64 // surface resistances inside and outside
}

const maxLayers = 10000

func (s Section) check() error {
	if len(s.Layers) == 0 || len(s.Layers) > maxLayers {
		return fmt.Errorf("%w: %d layers, allowed 1 to %d", ErrSection, len(s.Layers), maxLayers)
	}
	for _, r := range []float64{s.RsiM2KW, s.RseM2KW} {
		if !(r >= 0 && r <= 100) {
			return fmt.Errorf("%w: surface resistance %g m²K/W, allowed 0 to 100", ErrSection, r)
		}
	}
	total := s.RsiM2KW + s.RseM2KW
	for _, l := range s.Layers {
		if !(l.ResistanceM2KW >= 0 && l.ResistanceM2KW <= 1000) {
			return fmt.Errorf("%w: %s has %g m²K/W, allowed 0 to 1000", ErrLayer, l.Name, l.ResistanceM2KW)
		}
		if !(l.SdM > 0 && l.SdM <= 1e6) {
			return fmt.Errorf("%w: %s has an s_d of %g m, allowed above 0 to 1000000", ErrLayer, l.Name, l.SdM)
		}
		total += l.ResistanceM2KW
	}
	if total <= 0 {
		return fmt.Errorf("%w: it has no thermal resistance", ErrSection)
	}
	return nil
}

// Resistance returns R_T = R_si + Σ d/λ + R_se in m²K/W.
//
// Source: ISO 6946 (read).
func (s Section) Resistance() (float64, error) {
	if err := s.check(); err != nil {
		return 0, err
	}
	return s.resistance(), nil
}

func (s Section) resistance() float64 {
	r := s.RsiM2KW + s.RseM2KW
	for _, l := range s.Layers {
		r += l.ResistanceM2KW
	}
	return r
}

// UValue returns U = 1/R_T in W/(m²·K), not rounded.
//
// Source: ISO 6946 (read).
func (s Section) UValue() (float64, error) {
	r, err := s.Resistance()
	return 1 / r, err
}

// Temperatures returns the temperatures in °C from the inner surface over all interfaces to the outer surface, one more than
// there are layers: θ_n = θ_i − (θ_i − θ_e)·(R_si + ΣR up to n)/R_T. Air temperatures are −50 to 100 °C.
//
// Source: ISO 13788 (read).
func (s Section) Temperatures(insideC, outsideC float64) ([]float64, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	for _, t := range []float64{insideC, outsideC} {
		if !(t >= -50 && t <= 100) {
			return nil, fmt.Errorf("%w: %g °C, allowed -50 to 100", ErrClimate, t)
		}
	}
	return s.temperatures(insideC, outsideC), nil
}

func (s Section) temperatures(insideC, outsideC float64) []float64 {
	drop := (insideC - outsideC) / s.resistance()
	out := make([]float64, len(s.Layers)+1)
	r := s.RsiM2KW
	out[0] = insideC - drop*r
	for i, l := range s.Layers {
		r += l.ResistanceM2KW
		out[i+1] = insideC - drop*r
	}
	return out
}

// Divided returns the section with every layer cut into the fewest equal strips of at most a thermal resistance in m²K/W (0.001
// and more). Strips keep the name of their layer. ISO 13788 asks for StripResistance.
func (s Section) Divided(maxM2KW float64) (Section, error) {
	if err := s.check(); err != nil {
		return Section{}, err
	}
	if !(maxM2KW >= 0.001) {
		return Section{}, fmt.Errorf("%w: strips of %g m²K/W, allowed 0.001 and more", ErrSection, maxM2KW)
	}
	out := Section{RsiM2KW: s.RsiM2KW, RseM2KW: s.RseM2KW, Layers: make([]Layer, 0, len(s.Layers))}
	for _, l := range s.Layers {
		n := max(1, math.Ceil(l.ResistanceM2KW/maxM2KW-1e-9))
		if n > maxLayers || len(out.Layers)+int(n) > maxLayers {
			return Section{}, fmt.Errorf("%w: more than %d strips", ErrSection, maxLayers)
		}
		for range int(n) {
			out.Layers = append(out.Layers, Layer{l.Name, l.ResistanceM2KW / n, l.SdM / n})
		}
	}
	return out, nil
}

// SurfaceFactor returns f_Rsi = (θ_si − θ_e)/(θ_i − θ_e) = 1 − R_si/R_T, without a unit.
//
// Source: ISO 13788 (read).
func (s Section) SurfaceFactor() (float64, error) {
	r, err := s.Resistance()
	if err != nil {
		return 0, err
	}
	return 1 - s.RsiM2KW/r, nil
}

// NeededSurface returns the least temperature of an inner surface in °C at which the air there has no more than a relative humidity,
// and the surface factor that it needs, for room air in °C and percent, outside air in °C below that of the room, and a humidity at the surface
// of 1 to 100 % (mould: 80 for several days, ISO 13788, read).
//
// Source: ISO 13788 (read): 20 °C with 50 % and −5 °C outside need 12.6 °C and a factor of 0.70.
func NeededSurface(insideC, humidityPercent, outsideC, surfacePercent float64) (surfaceC, factor float64, err error) {
	if !(surfacePercent >= 1 && surfacePercent <= 100) {
		return 0, 0, fmt.Errorf("%w: %g %% at the surface, allowed 1 to 100", ErrClimate, surfacePercent)
	}
	if !(outsideC >= -50 && outsideC < insideC) {
		return 0, 0, fmt.Errorf("%w: %g °C outside, allowed -50 to below %g", ErrClimate, outsideC, insideC)
	}
	p, err := air.VapourPressure(air.ISO13788, insideC, humidityPercent)
	if err != nil {
		return 0, 0, err
	}
	if surfaceC, err = air.ISO13788.DewPoint(p / (surfacePercent / 100)); err != nil {
		return 0, 0, err
	}
	return surfaceC, (surfaceC - outsideC) / (insideC - outsideC), nil
}

// Path is one of several ways side by side through a wall, such as the timber and the wool of a frame.
type Path struct {
	Share           float64   // of the area, above 0; all shares make 1
	ResistancesM2KW []float64 // of each layer from the inside to the outside, all above 0
}

// Combined is the result of the combined method.
type Combined struct {
	UpperM2KW, LowerM2KW float64
	ResistanceM2KW       float64 // their mean
	UValueWM2K           float64
}

// MaxLimitRatio is the largest ratio of the upper to the lower limit at which the combined method may be used (ISO 6946, memory).
const MaxLimitRatio = 1.5

// CombineResistances returns the resistance of a wall whose layers are not of one material throughout: the mean of
// R_upper = 1/Σ(f/R_path) and R_lower = R_si + Σ_layers 1/Σ(f/R) + R_se.
//
// Source: ISO 6946:2017, 6.7.2 (secondary).
func CombineResistances(rsiM2KW, rseM2KW float64, paths []Path) (Combined, error) {
	if len(paths) == 0 || len(paths[0].ResistancesM2KW) == 0 {
		return Combined{}, fmt.Errorf("%w: there is none", ErrUnevenPaths)
	}
	for _, r := range []float64{rsiM2KW, rseM2KW} {
		if !(r >= 0 && r <= 100) {
			return Combined{}, fmt.Errorf("%w: surface resistance %g m²K/W, allowed 0 to 100", ErrSection, r)
		}
	}
	n := len(paths[0].ResistancesM2KW)
	shares, upper := 0.0, 0.0
	layers := make([]float64, n)
	for _, p := range paths {
		if len(p.ResistancesM2KW) != n {
			return Combined{}, fmt.Errorf("%w: %d and %d layers", ErrUnevenPaths, n, len(p.ResistancesM2KW))
		}
		if !(p.Share > 0 && p.Share <= 1) {
			return Combined{}, fmt.Errorf("%w: share %g, allowed above 0 to 1", ErrUnevenPaths, p.Share)
		}
		shares += p.Share
		r := rsiM2KW + rseM2KW
		for i, v := range p.ResistancesM2KW {
			if !(v > 0 && v <= 1000) {
				return Combined{}, fmt.Errorf("%w: %g m²K/W, allowed above 0 to 1000", ErrLayer, v)
			}
			r += v
			layers[i] += p.Share / v
		}
		upper += p.Share / r
	}
	if math.Abs(shares-1) > 1e-6 {
		return Combined{}, fmt.Errorf("%w: the shares make %g, not 1", ErrUnevenPaths, shares)
	}
	c := Combined{UpperM2KW: 1 / upper, LowerM2KW: rsiM2KW + rseM2KW}
	for _, g := range layers {
		c.LowerM2KW += 1 / g
	}
	if c.UpperM2KW > MaxLimitRatio*c.LowerM2KW {
		return Combined{}, fmt.Errorf("%w: the limits %.3f and %.3f m²K/W lie too far apart for the method", ErrSection, c.UpperM2KW, c.LowerM2KW)
	}
	c.ResistanceM2KW = (c.UpperM2KW + c.LowerM2KW) / 2
	c.UValueWM2K = 1 / c.ResistanceM2KW
	return c, nil
}
