package roomair

import (
	"math"

	"underlamp/science/quantity"
)

// A Dehumidifier is a machine that dries the air of the room it stands in, by its label.
type Dehumidifier struct {
	Litres   float64 // of water a day, running all the time, at the condition of the label
	PerKWh   float64 // litres for each kWh there
	RatedC   quantity.Celsius
	RatedRel quantity.Fraction // humidity of the label
}

// Old and new conditions of labels, by the test procedures of one country.
const (
	WarmLabelC  = 26.7 // °C, AHAM DH-1: 80 °F, wet bulb 69.6 °F
	CoolLabelC  = 18.3 // °C, 65 °F, since 2019 for portable machines (EnergyStarDehumidifier)
	LabelHumid  = 0.60
	UsualPerKWh = 1.6 // litres for each kWh: least asked of a machine of 12 to 24 L/d (DOEDehumidifier)
)

// A curve is a + bT + cT² + dh + eh² + fTh, T in °C and h in per cent.
type curve [6]float64

func (k *curve) at(t, h float64) float64 {
	return k[0] + k[1]*t + k[2]*t*t + k[3]*h + k[4]*h*h + k[5]*t*h
}

// The two pairs of curves. Both are told relative to 26.7 °C and 60 %, and are normalised to it
// here: the second gives 0.98 there.
var (
	waterCurves = [2]curve{
		{-1.162525707, 0.02271469, -0.000113208, 0.021110538, -0.0000693034, 0.000378843},                    // Winkler2011
		{-2.724878664080, 0.100711983591, -0.000990538285, 0.050053043874, -0.000203629282, -0.000341750531}, // EnergyPlusDX
	}
	energyCurves = [2]curve{
		{-1.902154518, 0.063466565, -0.000622839, 0.039540407, -0.000125637, -0.000176722},
		{-2.388319068955, 0.093047739452, -0.001369700327, 0.066533716758, -0.000343198063, -0.000562490295},
	}
)

// A Factor is how much of its best known condition a machine gives, by the two sources.
type Factor struct {
	Central   float64 // Winkler2011
	Low, High float64 // of both, widened by a tenth for what machines differ
}

// widened is how far machines lie from a curve, as a share; common practice, no source.
const widened = 0.1

// least is a floor: below it a machine does next to nothing.
const least = 0.02

func factor(curves *[2]curve, t, h, ratedC, ratedH float64) Factor {
	var v [2]float64
	for i := range curves {
		v[i] = max(curves[i].at(t, h), least) / max(curves[i].at(ratedC, ratedH), least)
	}
	return Factor{Central: v[0], Low: (1 - widened) * min(v[0], v[1]), High: (1 + widened) * max(v[0], v[1])}
}

// At is the machine at the air of a room.
type At struct {
	Water  Factor // on Litres
	Energy Factor // on PerKWh
	// Beyond says that the air lies outside 18 to 32 °C and 40 to 80 %, over which the
	// machines were tested or the curves are given: a guess.
	Beyond bool
}

// At tells how the rating of the label falls (or rises) at other air.
//
//	litres = label · f(T, h)/f(T_label, h_label),  f = a + bT + cT² + dh + eh² + fTh
//
// Source: Winkler2011, with the spread to EnergyPlusDX.
func (d Dehumidifier) At(t quantity.Celsius, rh quantity.Fraction) At {
	h, rated := 100*float64(rh), 100*float64(d.RatedRel)
	return At{
		Water:  factor(&waterCurves, float64(t), h, float64(d.RatedC), rated),
		Energy: factor(&energyCurves, float64(t), h, float64(d.RatedC), rated),
		Beyond: t < 18 || t > 32.3 || h < 40 || h > 80,
	}
}

// Hour is what a machine does in an hour in which it takes out water in g/h.
type Hour struct {
	Duty float64 // share of the hour that it runs; above 1 it is too small
	KWh  float64 // electricity
	Heat float64 // W that it adds as warmth: the heat of the water and its own electricity
}

// Hour runs the machine for water in g/h, with latent W in it. A machine that is too small
// runs all the time and takes out what it can; Duty tells.
func (d Dehumidifier) Hour(water, latent float64, t quantity.Celsius, rh quantity.Fraction) Hour {
	at := d.At(t, rh)
	most := d.Litres * at.Water.Central * 1000 / 24 // g/h
	if water <= 0 {
		return Hour{}
	}
	duty := water / most
	share := 1.0
	if duty > 1 {
		share = 1 / duty
	}
	kwh := water * share / 1000 / (d.PerKWh * at.Energy.Central)
	return Hour{Duty: duty, KWh: kwh, Heat: latent*share + 1000*kwh}
}

// SizeFor is the label that a machine needs to take out water in g/h from the air of a room
// when it may run a share of the time, in litres a day at the label's condition.
func (d Dehumidifier) SizeFor(water, share float64, t quantity.Celsius, rh quantity.Fraction) (litres float64, low, high float64) {
	at := d.At(t, rh)
	need := water * 24 / 1000 / share
	return need / at.Water.Central, need / at.Water.High, need / math.Max(at.Water.Low, least)
}
