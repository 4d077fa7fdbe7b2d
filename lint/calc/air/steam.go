package air

import (
	"fmt"
	"math"
)

// The industrial formulation of 1997 for water and steam. The numbers are those of IAPWS R7-97(2012), tables 2, 10, 11 and 34;
// that they are right is shown by the check values of its tables 5, 15, 35 and 36.

// steamGasConstant is in kJ/(kg·K) (IAPWS R7-97, equation 1).
const steamGasConstant = 0.461526

// region4 are the coefficients n1 to n10 of table 34.
var region4 = [10]float64{
	1167.0521452767, -724213.16703206, -17.073846940092, 12020.82470247, -3232555.0322333,
	14.91510861353, -4823.2657361591, 405113.40542057, -0.23855557567849, 650.17534844798,
}

// saturationIF97 takes K and returns MPa (equation 30).
func saturationIF97(t float64) float64 {
	n := &region4
	v := t + n[8]/(t-n[9])
	a := v*v + n[0]*v + n[1]
	b := n[2]*v*v + n[3]*v + n[4]
	c := n[5]*v*v + n[6]*v + n[7]
	return math.Pow(2*c/(-b+math.Sqrt(b*b-4*a*c)), 4)
}

// saturationTemperatureIF97 takes MPa and returns K (equation 31).
func saturationTemperatureIF97(p float64) float64 {
	n := &region4
	b := math.Sqrt(math.Sqrt(p))
	e := b*b + n[2]*b + n[5]
	f := n[0]*b*b + n[3]*b + n[6]
	g := n[1]*b*b + n[4]*b + n[7]
	d := 2 * g / (-f - math.Sqrt(f*f-4*e*g))
	s := n[9] + d
	return (s - math.Sqrt(s*s-4*(n[8]+n[9]*d))) / 2
}

// term is one term n·π^I·τ^J of a row.
type term struct {
	i, j int
	n    float64
}

// region1 is table 2: γ = Σ n·(7.1 − π)^I·(τ − 1.222)^J with π = p/16.53 MPa and τ = 1386 K/T.
var region1 = [34]term{
	{0, -2, 0.14632971213167}, {0, -1, -0.84548187169114}, {0, 0, -3.756360367204}, {0, 1, 3.3855169168385},
	{0, 2, -0.95791963387872}, {0, 3, 0.15772038513228}, {0, 4, -0.016616417199501}, {0, 5, 0.81214629983568e-3},
	{1, -9, 0.28319080123804e-3}, {1, -7, -0.60706301565874e-3}, {1, -1, -0.018990068218419}, {1, 0, -0.032529748770505},
	{1, 1, -0.021841717175414}, {1, 3, -0.5283835796993e-4}, {2, -3, -0.47184321073267e-3}, {2, 0, -0.30001780793026e-3},
	{2, 1, 0.47661393906987e-4}, {2, 3, -0.44141845330846e-5}, {2, 17, -0.72694996297594e-15}, {3, -4, -0.31679644845054e-4},
	{3, 0, -0.28270797985312e-5}, {3, 6, -0.85205128120103e-9}, {4, -5, -0.22425281908e-5}, {4, -2, -0.65171222895601e-6},
	{4, 10, -0.14341729937924e-12}, {5, -8, -0.40516996860117e-6}, {8, -11, -0.12734301741641e-8}, {8, -6, -0.17424871230634e-9},
	{21, -29, -0.68762131295531e-18}, {23, -31, 0.14478307828521e-19}, {29, -38, 0.26335781662795e-22}, {30, -39, -0.11947622640071e-22},
	{31, -40, 0.18228094581404e-23}, {32, -41, -0.93537087292458e-25},
}

// region2Ideal is table 10: γ° = ln π + Σ n·τ^J with π = p/1 MPa and τ = 540 K/T.
var region2Ideal = [9]term{
	{0, 0, -9.6927686500217}, {0, 1, 10.086655968018}, {0, -5, -0.005608791128302}, {0, -4, 0.071452738081455}, {0, -3, -0.40710498223928},
	{0, -2, 1.4240819171444}, {0, -1, -4.383951131945}, {0, 2, -0.28408632460772}, {0, 3, 0.021268463753307},
}

// region2Residual is table 11: γʳ = Σ n·π^I·(τ − 0.5)^J.
var region2Residual = [43]term{
	{1, 0, -0.0017731742473213}, {1, 1, -0.017834862292358}, {1, 2, -0.045996013696365}, {1, 3, -0.057581259083432},
	{1, 6, -0.05032527872793}, {2, 1, -0.33032641670203e-4}, {2, 2, -0.18948987516315e-3}, {2, 4, -0.0039392777243355},
	{2, 7, -0.043797295650573}, {2, 36, -0.26674547914087e-4}, {3, 0, 0.20481737692309e-7}, {3, 1, 0.43870667284435e-6},
	{3, 3, -0.3227767723857e-4}, {3, 6, -0.0015033924542148}, {3, 35, -0.040668253562649}, {4, 1, -0.78847309559367e-9},
	{4, 2, 0.12790717852285e-7}, {4, 3, 0.48225372718507e-6}, {5, 7, 0.22922076337661e-5}, {6, 3, -0.16714766451061e-10},
	{6, 16, -0.0021171472321355}, {6, 35, -23.895741934104}, {7, 0, -0.5905956432427e-17}, {7, 11, -0.12621808899101e-5},
	{7, 25, -0.038946842435739}, {8, 8, 0.11256211360459e-10}, {8, 36, -8.2311340897998}, {9, 13, 0.19809712802088e-7},
	{10, 4, 0.10406965210174e-18}, {10, 10, -0.10234747095929e-12}, {10, 14, -0.10018179379511e-8}, {16, 29, -0.80882908646985e-10},
	{16, 50, 0.10693031879409}, {18, 57, -0.33662250574171}, {20, 20, 0.89185845355421e-24}, {20, 35, 0.30629316876232e-12},
	{20, 48, -0.42002467698208e-5}, {21, 21, -0.59056029685639e-25}, {22, 53, 0.37826947613457e-5}, {23, 39, -0.12768608934681e-14},
	{24, 26, 0.73087610595061e-28}, {24, 40, 0.55414715350778e-16}, {24, 58, -0.9436970724121e-6},
}

// pow is x to a whole power, by squaring.
func pow(x float64, n int) float64 {
	if n < 0 {
		x, n = 1/x, -n
	}
	r := 1.0
	for ; n > 0; n >>= 1 {
		if n&1 == 1 {
			r *= x
		}
		x *= x
	}
	return r
}

// powers fills p with the powers of x from 0 on, by the products that pow makes, so that they are the same to the last bit.
func powers(p []float64, x float64) {
	p[0] = 1
	for n, top := 1, 1; n < len(p); n++ {
		if n == 2*top {
			top, x = n, x*x
		}
		p[n] = p[n-top] * x
	}
}

// State is one state of water or steam.
type State struct {
	VolumeM3KG        float64 // m³/kg
	EnthalpyKJKG      float64 // kJ/kg, zero for water at the triple point
	HeatCapacityKJKGK float64 // kJ/(kg·K) at constant pressure
	TemperatureC, Pa  float64
}

const (
	region13C      = 350.0 // °C, the hot end of region 1
	region2HighC   = 800.0 // °C, the hot end of region 2
	highestPa      = 100e6 // of regions 1 and 2
	saturationEdge = 1e-9  // share of the pressure that counts as on the saturation line
	lowestPa       = 1e-3  // below, steam is an ideal gas and nothing is to be worked out
)

// Water returns the properties of liquid water (region 1), from 0 to 350 °C and from the saturation pressure to 100 MPa.
//
// Source: IAPWS R7-97(2012), equation 7 and table 3 (reproduced by its table 5).
func Water(tempC, pa float64) (State, error) {
	if err := within(ErrTemperature, tempC, 0, region13C, "°C (water)"); err != nil {
		return State{}, err
	}
	sat := saturationIF97(tempC+KelvinOffset) * 1e6
	if err := within(ErrPressure, pa, sat*(1-saturationEdge), highestPa, "Pa (water)"); err != nil {
		return State{}, err
	}
	t := tempC + KelvinOffset
	pi, tau := pa/16.53e6, 1386/t
	var gp, gt, gtt float64
	x, y := 7.1-pi, tau-1.222
	var xs [33]float64 // up to the largest powers of region1
	var ys [18]float64
	var under [42]float64 // 1/y
	powers(xs[:], x)
	powers(ys[:], y)
	powers(under[:], 1/y)
	for k := range region1 {
		c := &region1[k]
		px, py := c.n*xs[c.i], 0.0
		if c.j < 0 {
			py = under[-c.j]
		} else {
			py = ys[c.j]
		}
		if c.i != 0 {
			gp -= px / x * float64(c.i) * py
		}
		gt += px * float64(c.j) * py / y
		gtt += px * float64(c.j*(c.j-1)) * py / (y * y)
	}
	return state(tempC, pa, pi, tau, gp, gt, gtt), nil
}

// Steam returns the properties of steam (region 2), from 0 to 800 °C, from 0.001 Pa to the saturation pressure or, above 350 °C, to
// the edge of region 3, at most 100 MPa.
//
// Source: IAPWS R7-97(2012), equations 15 to 17 and table 12 (reproduced by its table 15).
func Steam(tempC, pa float64) (State, error) {
	if err := within(ErrTemperature, tempC, 0, region2HighC, "°C (steam)"); err != nil {
		return State{}, err
	}
	t := tempC + KelvinOffset
	top := min(highestPa, 1e6*(348.05185628969+t*(-1.1671859879975+1.0192970039326e-3*t))) // equation 5
	if tempC <= region13C {
		top = saturationIF97(t) * 1e6
	}
	if err := within(ErrPressure, pa, lowestPa, top*(1+saturationEdge), "Pa (steam)"); err != nil {
		return State{}, err
	}
	pi, tau := pa/1e6, 540/t
	gp, gt, gtt := 1/pi, 0.0, 0.0
	for _, c := range region2Ideal {
		p := c.n * pow(tau, c.j)
		gt += p * float64(c.j) / tau
		gtt += p * float64(c.j*(c.j-1)) / (tau * tau)
	}
	y := tau - 0.5
	for _, c := range region2Residual {
		px := c.n * pow(pi, c.i)
		gp += px / pi * float64(c.i) * pow(y, c.j)
		if c.j >= 1 {
			gt += px * float64(c.j) * pow(y, c.j-1)
		}
		if c.j >= 2 {
			gtt += px * float64(c.j*(c.j-1)) * pow(y, c.j-2)
		}
	}
	return state(tempC, pa, pi, tau, gp, gt, gtt), nil
}

func state(tempC, pa, pi, tau, gp, gt, gtt float64) State {
	t := tempC + KelvinOffset
	return State{
		TemperatureC: tempC, Pa: pa,
		VolumeM3KG:        pi * gp * steamGasConstant * 1000 * t / pa,
		EnthalpyKJKG:      tau * gt * steamGasConstant * t,
		HeatCapacityKJKGK: -tau * tau * gtt * steamGasConstant,
	}
}

// Saturated holds water and steam side by side on the saturation line.
type Saturated struct {
	TemperatureC float64
	Pa           float64
	WaterM3KG    float64 // v_f
	SteamM3KG    float64 // v_g
	WaterKJKG    float64 // h_f
	SteamKJKG    float64 // h_g
	// EvaporationKJKG is h_g − h_f, the heat that a kg of water takes to become steam.
	EvaporationKJKG float64
}

// SaturatedAt returns the properties on the saturation line at 0 to 350 °C. At 45 °C h_fg is 2394.0 kJ/kg, at 100 °C 2256.5.
//
// Source: IAPWS R7-97(2012), regions 1, 2 and 4.
func SaturatedAt(tempC float64) (Saturated, error) {
	f, err := SaturatedWaterAt(tempC)
	if err != nil {
		return Saturated{}, err
	}
	pa := f.Pa
	g, err := Steam(tempC, pa)
	if err != nil {
		return Saturated{}, fmt.Errorf("saturated steam: %w", err)
	}
	return Saturated{tempC, pa, f.VolumeM3KG, g.VolumeM3KG, f.EnthalpyKJKG, g.EnthalpyKJKG, g.EnthalpyKJKG - f.EnthalpyKJKG}, nil
}

// SaturatedWaterAt returns the properties of liquid water on the saturation line at 0 to 350 °C.
//
// Source: IAPWS R7-97(2012), regions 1 and 4.
func SaturatedWaterAt(tempC float64) (State, error) {
	if err := within(ErrTemperature, tempC, 0, region13C, "°C (saturated steam)"); err != nil {
		return State{}, err
	}
	f, err := Water(tempC, saturationIF97(tempC+KelvinOffset)*1e6)
	if err != nil {
		return State{}, fmt.Errorf("saturated water: %w", err)
	}
	return f, nil
}

// SaturatedAtPressure is SaturatedAt for a pressure in Pa. At 101 325 Pa water boils at 99.974 °C.
func SaturatedAtPressure(pa float64) (Saturated, error) {
	t, err := IF97.DewPoint(pa)
	if err != nil {
		return Saturated{}, err
	}
	// The backward equation comes back to 0 °C within a millionth of a kelvin only.
	return SaturatedAt(max(t, 0))
}
