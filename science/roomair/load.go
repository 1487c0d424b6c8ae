package roomair

import (
	"errors"
	"math"

	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

const secondsPerHour = 3600

// A Load is what an hour puts into a room.
type Load struct {
	Electric float64          // W, of all that runs in the room
	Envelope float64          // W through walls and by leaks, positive into the room
	Water    float64          // g/h that evaporate
	AirC     quantity.Celsius // of the room
}

// Latent is the heat that the water carries, W.
//
//	L = λ(T) · water / 3600
//
// Source: Harrison1963.
func (l Load) Latent() float64 { return moistair.LatentHeat(l.AirC) * l.Water / secondsPerHour }

// Sensible is the heat that warms the air, W: negative when the crop cools the room more
// than lamps and walls warm it.
func (l Load) Sensible() float64 { return l.Electric + l.Envelope - l.Latent() }

// Total is the heat that must leave, W: with the vapour or as warmth.
func (l Load) Total() float64 { return l.Electric + l.Envelope }

// An Exchange is air of the room for air from outside.
type Exchange struct{ Inside, Outside moistair.State }

// ErrNoDrier says that the air outside holds no less water than the room should.
var ErrNoDrier = errors.New("the air outside holds as much water for each kg as the room should or more: exchange of air cannot dry it")

// FlowFor is the flow, in m³/h of inside air, that carries water in g/h out.
//
//	flow = v_in · water / (1000 (W_in − W_out))
//
// [ErrNoDrier] if the air outside is no drier. Source: ASHRAE2017, balance of vapour.
func (x Exchange) FlowFor(water float64) (float64, error) {
	d := x.Inside.Ratio() - x.Outside.Ratio()
	if !(d > 1e-6) {
		return math.Inf(1), ErrNoDrier
	}
	return x.Inside.Volume() * water / 1000 / d, nil
}

// WaterOf is the water that a flow of air in m³/h carries out, g/h; negative if it brings
// water in. It is the inverse of [Exchange.FlowFor].
func (x Exchange) WaterOf(flow float64) float64 {
	return 1000 * flow / x.Inside.Volume() * (x.Inside.Ratio() - x.Outside.Ratio())
}

// HeatOf is the heat that a flow in m³/h carries out without that of the vapour, W:
// negative if the air outside is warmer.
//
//	H = flow/v_in · (1.006 + 1.86 W_out) (T_in − T_out)
func (x Exchange) HeatOf(flow float64) float64 {
	return 1000 * flow / x.Inside.Volume() / secondsPerHour * (1.006 + 1.86*x.Outside.Ratio()) * float64(x.Inside.Dry-x.Outside.Dry)
}

// Carbon dioxide.
const (
	gasConstant = 8.314462618 // J mol⁻¹ K⁻¹, exact
	molarCO2    = 44.0095     // g mol⁻¹
)

// CO2Density is the mass of carbon dioxide that one ppm is in a m³ of air, g.
//
//	m = 10⁻⁶ · 44.0095 P/(R T)
//
// At 20 °C and sea level 1.83 mg, at 25 °C 1.80 mg.
func CO2Density(t quantity.Celsius, p quantity.Kilopascal) float64 {
	return 1e-6 * molarCO2 * 1000 * float64(p) / (gasConstant * t.Kelvin())
}

// CO2Loss is the carbon dioxide that a flow in m³/h takes along, g/h: positive when the
// room holds more than the air outside.
func CO2Loss(flow float64, inside, outside quantity.PPM, t quantity.Celsius, p quantity.Kilopascal) float64 {
	return flow * float64(inside-outside) * CO2Density(t, p)
}

// CO2After is what a mass of carbon dioxide in g makes of a closed room, ppm.
func CO2After(grams, roomM3 float64, before quantity.PPM, t quantity.Celsius, p quantity.Kilopascal) quantity.PPM {
	added := grams / roomM3 / CO2Density(t, p) // ppm of the air that was there
	// What is set free pushes air out of a room that stays at its pressure.
	x := added * 1e-6
	return quantity.PPM((float64(before)*1e-6 + x) / (1 + x) * 1e6)
}

// CO2Uptake is what a crop takes from the air over a time, g, when its whole dry mass, with
// roots, grows by dry g.
//
//	CO2 = dry / 0.68
//
// c_α = 30/44, the sugar that a g of CO2 gives (VanHenten1994); dry mass is taken as sugar by
// its carbon, 40 %.
func CO2Uptake(dry float64) float64 { return dry / 0.68 }
