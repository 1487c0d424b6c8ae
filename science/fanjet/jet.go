package fanjet

import "math"

// Constants of a round jet far from its nozzle: the middle of Hussein1994 (5.8, 0.094) and
// PanchapakesanLumley1993 (6.06, 0.096).
const (
	decay  = 5.9
	spread = 0.095
)

// SpeedSD is the relative standard deviation of the speed that a jet has by its blades and
// distance; common practice, no source.
const SpeedSD = 0.30

// A Jet is the air of one fan.
type Jet struct {
	Diameter float64 // d of the blades, m
	Outlet   float64 // U, mean speed through them, m/s
}

// OutletOf is the mean speed through blades of a diameter in m that move a flow in m³/s.
func OutletOf(flow, diameter float64) float64 { return flow / (math.Pi / 4 * diameter * diameter) }

// Axial speed over speed of the blade tips of small fans that blow freely.
const (
	UsualAdvance = 0.15 // common practice, no source; 0.1 to 0.22 are usual
	AdvanceSD    = 0.35 // relative
)

// OutletOfTurns is the mean speed through the blades of a fan of a diameter in m at turns a
// minute: 0.15 times the speed of the tips.
func OutletOfTurns(perMinute, diameter float64) float64 {
	return UsualAdvance * math.Pi * diameter * perMinute / 60
}

// Centre is the speed on the axis at a distance x from the blades.
func (j Jet) Centre(x float64) float64 {
	if x <= decay*j.Diameter {
		return j.Outlet // the middle that nothing has reached yet
	}
	return decay * j.Outlet * j.Diameter / x
}

// Half is the distance from the axis at which the speed is half of that on it. Where the
// middle is still untouched the jet is as wide as the blades.
func (j Jet) Half(x float64) float64 { return max(spread*x, j.Diameter/2) }

// At is the speed at a distance x along the axis and r across it.
func (j Jet) At(x, r float64) float64 {
	h := r / j.Half(x)
	return j.Centre(x) * math.Exp(-math.Ln2*h*h)
}

// Over is the mean speed over a disc of a radius around the axis, at a distance x: the
// integral of [Jet.At].
func (j Jet) Over(x, radius float64) float64 {
	h := radius / j.Half(x)
	if h < 1e-6 {
		return j.Centre(x)
	}
	return j.Centre(x) * -math.Expm1(-math.Ln2*h*h) / (math.Ln2 * h * h)
}

// OutletFor is the speed through the blades that gives a speed at x and r; +Inf where the jet
// does not reach.
func OutletFor(speed, diameter, x, r float64) float64 {
	one := Jet{diameter, 1}.At(x, r)
	return speed / one
}
