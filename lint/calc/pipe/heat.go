package pipe

import (
	"errors"
	"fmt"
	"math"
)

// Figures for those who have no better ones: a conductivity in W/(m·K), and emissivities.
//
// Source: conductivity of copper, common tables (read); emissivities from memory.
const (
	CopperConductivity   = 380.0
	InsulationEmissivity = 0.93 // elastomer, plastic, paint
	BareCopperEmissivity = 0.2  // a tube as it comes, lightly tarnished
)

// MaxInsulationMM is the thickest ring that is reckoned with.
const MaxInsulationMM = 500.0

const (
	boltzmann     = 5.670374e-8 // W/(m²·K⁴)
	kelvin        = 273.15
	surfaceTolK   = 1e-9
	damping       = 0.5
	iterationsMax = 200
	// thicknessTolMM is how closely a thickness is solved.
	thicknessTolMM = 1e-7
	// turbulentM3K is D³·Δθ or H³·Δθ above which the stream of air beside a pipe is turbulent.
	turbulentM3K = 10
)

// Layer is one ring round a tube.
type Layer struct{ ThicknessMM, ConductivityWMK float64 }

// Cylinder is a tube with what is round it. BoreMM is the diameter inside; the
// layers follow from there outwards, the wall of the tube itself first.
type Cylinder struct {
	BoreMM        float64
	InnerFilmWM2K float64 // between the medium and the tube; 0 leaves it out, as is usual for condensing steam
	Layers        []Layer
}

// Tube returns the cylinder of a tube without insulation.
func Tube(s Size, conductivityWMK float64) Cylinder {
	return Cylinder{BoreMM: s.BoreMM(), Layers: []Layer{{s.WallMM, conductivityWMK}}}
}

// With returns the cylinder with one more layer outside.
func (c Cylinder) With(l Layer) Cylinder {
	c.Layers = append(append(make([]Layer, 0, len(c.Layers)+1), c.Layers...), l)
	return c
}

// OuterMM returns the outside diameter in mm.
func (c Cylinder) OuterMM() float64 {
	d := c.BoreMM
	for _, l := range c.Layers {
		d += 2 * l.ThicknessMM
	}
	return d
}

// Check reports what makes a cylinder unusable.
func (c Cylinder) Check() error {
	errs := []error{checkDiameter("bore", c.BoreMM), checkDiameter("outside diameter", c.OuterMM())}
	if c.InnerFilmWM2K != 0 {
		errs = append(errs, within("inner film", c.InnerFilmWM2K, 0.1, 1e6, "W/(m²·K)"))
	}
	for _, l := range c.Layers {
		errs = append(errs, within("thickness of a layer", l.ThicknessMM, 0, MaxInsulationMM, "mm"), checkConductivity(l.ConductivityWMK))
	}
	return errors.Join(errs...)
}

// Outside is the air that a surface gives its heat to, at −200 to 1000 °C.
type Outside struct {
	AirC       float64
	FilmWM2K   float64 // a fixed surface coefficient; 0 has it worked out for still air indoors
	Emissivity float64 // 0.02 to 1, for still air
	HeightM    float64 // height of a standing pipe; 0 for one that lies
}

// Check reports what makes the outside unusable.
func (o Outside) Check() error {
	errs := []error{checkTemperature("air temperature", o.AirC)}
	if o.FilmWM2K != 0 {
		return errors.Join(append(errs, within("surface coefficient", o.FilmWM2K, 0.1, 1e6, "W/(m²·K)"))...)
	}
	if o.HeightM != 0 {
		errs = append(errs, within("height", o.HeightM, 0.01, 100, "m"))
	}
	return errors.Join(append(errs, within("emissivity", o.Emissivity, 0.02, 1, ""))...)
}

// Film returns the surface coefficient h_se in W/(m²·K) of a pipe of an outside
// diameter in mm whose surface has a temperature in °C: the fixed one, or
// radiation and free convection in still air,
//
//	h_r  = ε·σ·(T_s⁴ − T_a⁴)/(T_s − T_a)
//	h_cv = 1.25·(Δθ/D)^¼ lying, while D³·Δθ ≤ 10 m³K; else 1.21·Δθ^⅓
//	h_cv = 1.32·(Δθ/H)^¼ standing, while H³·Δθ ≤ 10 m³K; else 1.74·Δθ^⅓
//
// Source: ISO 12241 (its coefficients of convection from memory).
func (o Outside) Film(diameterMM, surfaceC float64) (float64, error) {
	if err := errors.Join(o.Check(), checkDiameter("outside diameter", diameterMM), checkTemperature("surface temperature", surfaceC)); err != nil {
		return 0, err
	}
	return o.film(diameterMM/1000, surfaceC), nil
}

func (o Outside) film(diameterM, surfaceC float64) float64 {
	if o.FilmWM2K != 0 {
		return o.FilmWM2K
	}
	dt := math.Abs(surfaceC - o.AirC)
	ts, ta := surfaceC+kelvin, o.AirC+kelvin
	radiation := o.Emissivity * boltzmann * (ts*ts + ta*ta) * (ts + ta)
	size, quiet, wild := diameterM, 1.25, 1.21
	if o.HeightM != 0 {
		size, quiet, wild = o.HeightM, 1.32, 1.74
	}
	if size*size*size*dt <= turbulentM3K {
		return radiation + quiet*math.Pow(dt/size, 0.25)
	}
	return radiation + wild*math.Cbrt(dt)
}

// HeatFlow is what leaves one metre of pipe, with the resistances in m·K/W that it meets.
type HeatFlow struct {
	WPerM      float64 // from the medium to the air; negative when the pipe is the colder one
	SurfaceC   float64
	FilmWM2K   float64
	InnerMKW   float64   // between medium and tube
	LayersMKW  []float64 // ring by ring
	OuterMKW   float64   // between surface and air
	Iterations int       // 0 when the film was fixed
}

// HeatFlow returns the steady heat flow per metre of pipe and the temperature
// of its surface, for a medium in °C:
//
//	q = (θ_i − θ_a)/[1/(h_i·π·D_i) + Σ ln(D_k+1/D_k)/(2π·λ_k) + 1/(h_se·π·D_e)]
//	θ_se = θ_a + q/(h_se·π·D_e)
//
// In still air h_se hangs on θ_se. Both are found by repetition, each time going
// half the way to the new value. Where the formula of h_se jumps no value may
// fit; then the place is halved in on.
//
// Source: ISO 12241, cylinder equation (read). Check values: 22 × 1 mm at
// 100 °C, air 20 °C, 13 mm of 0.040 W/mK give 20.828 W/m and 35.347 °C with h_se
// 9, and 21.51 W/m and 33.23 °C in still air (computed).
func (c Cylinder) HeatFlow(mediumC float64, out Outside) (HeatFlow, error) {
	if err := errors.Join(c.Check(), out.Check(), checkTemperature("temperature of the medium", mediumC)); err != nil {
		return HeatFlow{}, err
	}
	f := HeatFlow{LayersMKW: make([]float64, len(c.Layers))}
	inside := c.inside(&f)
	diameter := c.OuterMM() / 1000
	// next is where the surface comes to lie with the film of a surface at s.
	next := func(s float64) float64 {
		f.FilmWM2K = out.film(diameter, s)
		f.OuterMKW = 1 / (f.FilmWM2K * math.Pi * diameter)
		f.WPerM = (mediumC - out.AirC) / (inside + f.OuterMKW)
		f.SurfaceC = out.AirC + f.WPerM*f.OuterMKW
		return f.SurfaceC
	}
	if out.FilmWM2K != 0 {
		next(out.AirC)
		return f, nil
	}
	s := (mediumC + out.AirC) / 2
	for f.Iterations = 1; f.Iterations <= iterationsMax; f.Iterations++ {
		step := next(s) - s
		if math.Abs(step) <= surfaceTolK {
			return f, nil
		}
		s += damping * step
	}
	// next falls as s rises away from the air, so it crosses s once, at the latest in a jump.
	near, far := out.AirC, mediumC
	for range iterationsMax {
		s = (near + far) / 2
		if (next(s)-s)*(mediumC-out.AirC) > 0 {
			near = s
		} else {
			far = s
		}
	}
	// The film lies between its values on both sides of the jump: what the inside lets through decides.
	f.SurfaceC, f.WPerM = s, (mediumC-s)/inside
	f.OuterMKW = (s - out.AirC) / f.WPerM
	f.FilmWM2K = 1 / (f.OuterMKW * math.Pi * diameter)
	return f, nil
}

// inside sums up the resistances between the medium and the surface, and notes each.
func (c Cylinder) inside(f *HeatFlow) float64 {
	sum, d := 0.0, c.BoreMM
	if c.InnerFilmWM2K != 0 {
		f.InnerMKW = 1 / (c.InnerFilmWM2K * math.Pi * d / 1000)
		sum = f.InnerMKW
	}
	for i, l := range c.Layers {
		f.LayersMKW[i] = math.Log((d+2*l.ThicknessMM)/d) / (2 * math.Pi * l.ConductivityWMK)
		sum += f.LayersMKW[i]
		d += 2 * l.ThicknessMM
	}
	return sum
}

// InsulationForSurface returns the least thickness in mm of insulation of a
// conductivity in W/(m·K) round a tube that keeps its surface at or below a
// limit in °C (at or above it, for a tube that is colder than the air). It is 0
// when the tube needs none. ErrUnreachable: the limit is no warmer than the air,
// or more than [MaxInsulationMM] would be needed.
//
// The bare tube is reckoned with the emissivity given for the insulation.
//
// At the wanted thickness the surface has the limit's temperature θ, so the film there is known and nothing has to be found by repetition inside:
//
//	h_se(θ, D)·π·D·(θ − θ_a)·[1/(h_i·π·D_i) + Σ ln(D_k+1/D_k)/(2π·λ_k)] = θ_i − θ
//
// Source: ISO 12241, cylinder equation solved for the outside diameter D (computed).
// Check values: in air of 25 °C with 0.040 W/mK 43 °C takes 7.4 mm round 15 × 1 tube and 9.0 mm round 35 × 1.2.
func InsulationForSurface(tube Cylinder, conductivityWMK, mediumC, limitC float64, out Outside) (float64, error) {
	if err := errors.Join(checkConductivity(conductivityWMK), checkTemperature("limit", limitC), tube.Check(), out.Check(), checkTemperature("temperature of the medium", mediumC)); err != nil {
		return 0, err
	}
	sign := 1.0
	if mediumC < out.AirC {
		sign = -1
	}
	bare := tube.inside(&HeatFlow{LayersMKW: make([]float64, len(tube.Layers))})
	// spare is how much more heat, in K of the drop inside, leaves a surface at the limit than reaches it; it grows with the thickness.
	spare := func(mm float64) float64 {
		d := tube.OuterMM() + 2*mm
		inside := bare + math.Log(d/(d-2*mm))/(2*math.Pi*conductivityWMK)
		return sign * ((limitC-out.AirC)*out.film(d/1000, limitC)*math.Pi*d/1000*inside - (mediumC - limitC))
	}
	lo, hi := 0.0, maxInsulation(tube)
	under, over := spare(lo), spare(hi)
	switch {
	case under >= 0:
		return 0, nil
	case over < 0:
		return 0, unreachable(fmt.Sprintf("a surface of %g °C", limitC), hi)
	}
	// False position; an end that stays put twice counts half (Illinois), so that both close in, on a jump of the film as well.
	for stayed := 0; hi-lo > thicknessTolMM; {
		mm := (lo*over - hi*under) / (over - under)
		switch s := spare(mm); {
		case math.Abs(s) <= surfaceTolK || mm <= lo || mm >= hi:
			return mm, nil
		case s < 0:
			if lo, under, stayed = mm, s, max(stayed, 0)+1; stayed > 1 {
				over /= 2
			}
		default:
			if hi, over, stayed = mm, s, min(stayed, 0)-1; stayed < -1 {
				under /= 2
			}
		}
	}
	return hi, nil
}

// InsulationForHeatFlow returns the least thickness in mm of insulation of a
// conductivity in W/(m·K) that keeps the heat flow, either way, at or below a limit in
// W/m above 0. It is 0 when the tube needs none.
//
// Source: ISO 12241, cylinder equation solved for the thickness by halving
// (computed). A flow that first grows with the thickness, below the critical
// radius, is no hindrance: it crosses the limit once.
func InsulationForHeatFlow(tube Cylinder, conductivityWMK, mediumC, limitWPerM float64, out Outside) (float64, error) {
	if err := errors.Join(checkConductivity(conductivityWMK), within("limit", limitWPerM, 1e-6, 1e9, "W/m")); err != nil {
		return 0, err
	}
	return least(tube, conductivityWMK, mediumC, out, fmt.Sprintf("a heat flow of %g W/m", limitWPerM), func(f HeatFlow) bool { return math.Abs(f.WPerM) <= limitWPerM })
}

// least halves in on the thickness from which on ok holds, to thicknessTolMM.
func least(tube Cylinder, conductivity, mediumC float64, out Outside, what string, ok func(HeatFlow) bool) (float64, error) {
	holds := func(mm float64) (bool, error) {
		f, err := tube.With(Layer{mm, conductivity}).HeatFlow(mediumC, out)
		return err == nil && ok(f), err
	}
	if yes, err := holds(0); err != nil || yes {
		return 0, err
	}
	lo, hi := 0.0, maxInsulation(tube)
	if yes, err := holds(hi); err != nil {
		return 0, err
	} else if !yes {
		return 0, unreachable(what, hi)
	}
	for hi-lo > thicknessTolMM {
		mid := (lo + hi) / 2
		yes, err := holds(mid)
		if err != nil {
			return 0, err
		}
		if yes {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi, nil
}

func maxInsulation(tube Cylinder) float64 {
	return math.Min(MaxInsulationMM, (2000-tube.OuterMM())/2)
}

func unreachable(what string, mm float64) error {
	return fmt.Errorf("%w: %s, even with %g mm of insulation", ErrUnreachable, what, mm)
}

// CriticalRadiusMM returns the radius in mm below which more insulation lets
// more heat through: λ/h_se, with λ in W/(m·K) and h_se in W/(m²·K).
//
// Source: textbook relation (computed). Check value: 0.055 W/mK and 5 W/m²K give 11 mm.
func CriticalRadiusMM(conductivityWMK, filmWM2K float64) (float64, error) {
	if err := errors.Join(checkConductivity(conductivityWMK), within("surface coefficient", filmWM2K, 0.1, 1e6, "W/(m²·K)")); err != nil {
		return 0, err
	}
	return conductivityWMK / filmWM2K * 1000, nil
}
