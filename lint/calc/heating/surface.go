package heating

import "math"

// Surface says which way a heated surface faces.
type Surface int

// The surfaces.
const (
	Upward   Surface = iota // floors and seats: heat rises from them
	Upright                 // walls and risers
	Downward                // ceilings
)

// Figures of the basic characteristic of heated surfaces.
//
// Source: EN 1264-2 and ISO 11855-2 (secondary; made for water systems, the surface itself does not
// know what heats it).
const (
	FloorFactor   = 8.92 // W/(m²·K^1.1)
	FloorExponent = 1.1
	WallFactor    = 8.0 // W/(m²·K)
	CeilingFactor = 6.0 // W/(m²·K)
)

// Limits of surface temperatures in °C.
//
// Source: EN 1264-2: occupied areas 29, bathrooms 33 (secondary), edge zones 35 (from memory). IEC 60364-7-753, 753.423 note: 35 for
// floors that people walk on (secondary). ISO 13732-1, contact for 8 h or more: 43 (from memory); the standard is not for
// contact of more than a tenth of the skin, so seats stay below.
const (
	OccupiedFloorC = 29.0
	BathFloorC     = 33.0
	WalkedFloorC   = 35.0
	LongContactC   = 43.0
)

const (
	maxRiseK = 1000.0
	maxQWM2  = 1e5
)

// FluxWM2 returns the heat flow in W/m² from a surface that is riseK in K (0 to 1000) warmer than the room:
// upward 8.92·Δθ^1.1, upright 8·Δθ, downward 6·Δθ.
//
// Source: EN 1264-2, ISO 11855-2 (secondary). Published checks: 9 K give 100 W/m², 15 K give 175 W/m².
func FluxWM2(s Surface, riseK float64) (float64, error) {
	if err := within("temperature rise in K", riseK, 0, maxRiseK); err != nil {
		return 0, err
	}
	switch s {
	case Upward:
		return FloorFactor * math.Pow(riseK, FloorExponent), nil
	case Upright:
		return WallFactor * riseK, nil
	case Downward:
		return CeilingFactor * riseK, nil
	}
	return 0, within("surface", float64(s), float64(Upward), float64(Downward))
}

// RiseK returns by how many K a surface that gives off q in W/m² (0 to 100 000) is warmer than the room, the inverse
// of [FluxWM2].
func RiseK(s Surface, q float64) (float64, error) {
	if err := within("heat flow in W/m²", q, 0, maxQWM2); err != nil {
		return 0, err
	}
	switch s {
	case Upward:
		return math.Pow(q/FloorFactor, 1/FloorExponent), nil
	case Upright:
		return q / WallFactor, nil
	case Downward:
		return q / CeilingFactor, nil
	}
	return 0, within("surface", float64(s), float64(Upward), float64(Downward))
}

// SurfaceC returns the temperature in °C of a surface that gives off q in W/m² into a room of roomC in °C (−50 to 150), in the
// steady state: all heat is taken to leave through the surface, as with foam behind the cable.
func SurfaceC(s Surface, roomC, q float64) (float64, error) {
	if err := within("room temperature in °C", roomC, -50, 150); err != nil {
		return 0, err
	}
	rise, err := RiseK(s, q)
	return roomC + rise, err
}

// ControlledC returns the temperature in °C that a surface keeps in the steady state when a control switches the heating off at
// limitC: the uncontrolled one, no higher than the limit, and no lower than the room.
func ControlledC(roomC, uncontrolledC, limitC float64) (float64, error) {
	for _, v := range []float64{roomC, uncontrolledC, limitC} {
		if err := within("temperature in °C", v, -50, 2000); err != nil {
			return 0, err
		}
	}
	return max(roomC, min(uncontrolledC, limitC)), nil
}

// RampKPerDay is how fast a tiled surface is warmed up for the first time, in K a day.
//
// Source: BS 5385-3, practice (secondary).
const RampKPerDay = 5.0

// RampDays returns how many days the first heat-up from fromC to toC in °C takes at a ramp in K a day (0.1 to 100); a part of
// a step takes a whole day. It is 0 when there is nothing to warm up. Temperatures are −50 to 150 °C.
//
// Source: BS 5385-3, at most 5 K a day (secondary).
func RampDays(fromC, toC, rampKPerDay float64) (int, error) {
	for _, v := range []float64{fromC, toC} {
		if err := within("temperature in °C", v, -50, 150); err != nil {
			return 0, err
		}
	}
	if err := within("ramp in K a day", rampKPerDay, 0.1, 100); err != nil {
		return 0, err
	}
	return int(math.Ceil(max(0, toC-fromC)/rampKPerDay - 1e-9)), nil
}
