package air

import (
	"math"

	"underlamp"
	"underlamp/app/outlook"
	"underlamp/science/calcium"
	"underlamp/science/headcycle"
	"underlamp/science/leafenergy"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

// A Band is a middle with the interval that holds 90 %.
type Band struct{ Low, Mid, High float64 }

// A Half is the air of the day or of the night, and the leaves in it.
type Half struct {
	Lit   bool
	Hours float64
	Air   moistair.State
	PPFD  float64 // at the top of the canopy
	VPD   Band    // of the air, kPa; the band is that of a probe
	Dew   Band    // dew point, °C; the same

	Leaf    Band // temperature of an open leaf at the top, °C
	LeafVPD Band // kPa
	Heart   float64
	// Heart is the temperature of young leaves enclosed in the head, °C: by day cooled by
	// what they evaporate, by night that of the air.

	Margin Band   // coldest leaf over the dew point, K
	Where  string // which leaf that is
}

// Which leaves are the coldest, as they are called wherever they are shown.
const (
	OpenLeaves  = "open leaves at the top"
	YoungLeaves = "young leaves in the heart"
)

// Doubts of a probe of air, one standard deviation; common practice, no source.
const (
	probeC  = 0.3  // °C
	probeRH = 0.02 // share
)

// openLeaf is the size of a lettuce leaf, m, that of Graamans2017.
const openLeaf = 0.11

// leafOf is one open leaf at the top of the canopy.
func leafOf(s moistair.State, ppfd float64, speed, stomata float64, around quantity.Celsius) quantity.Celsius {
	opening := 1.0
	if ppfd > 0 {
		opening = leafenergy.DryAirOpening(quantity.Kilopascal(s.Of(moistair.Deficiency)))
	}
	r := leafenergy.StomatalResistance(quantity.PPFD(ppfd)) / opening * stomata
	return leafenergy.Leaf{
		AirC: s.Dry, Humidity: s.Humidity(), Wind: quantity.MetrePerSecond(speed), Size: openLeaf,
		Absorbed:   leafenergy.Absorbed(ppfd*leafenergy.PARPerPhoton, 1) + leafenergy.LongWave(around),
		Conduction: leafenergy.Conductance(r, s.Dry),
	}.Solve().LeafC
}

// leafBand is the leaf with what is not known of it, each shift by itself and then in
// quadrature: the boundary layer (a factor of 1.6 between published forms, so of 1.6² in speed),
// the stomata (30 %), and the temperature of lamps and walls around it.
func leafBand(s moistair.State, ppfd, speed float64) Band {
	warm := 1.0 // K that lamps and walls may be warmer, one standard deviation; assumed
	if ppfd == 0 {
		warm = 0.5
	}
	mid := float64(leafOf(s, ppfd, speed, 1, s.Dry))
	var sq float64
	for _, x := range [...]quantity.Celsius{
		leafOf(s, ppfd, speed*2.0, 1, s.Dry),
		leafOf(s, ppfd, speed, 1.3, s.Dry),
		leafOf(s, ppfd, speed, 1, s.Dry+quantity.Celsius(warm)),
	} {
		d := float64(x) - mid
		sq += d * d
	}
	half := 1.645 * math.Sqrt(sq)
	return Band{Low: mid - half, Mid: mid, High: mid + half}
}

// probed is a measure of the air with the doubt of a probe.
func probed(s moistair.State, m moistair.Measure) Band {
	at := func(dc, dh float64) float64 {
		rh := min(max(float64(s.Humidity())+dh, 0.005), 1)
		return moistair.At(s.Dry+quantity.Celsius(dc), quantity.Fraction(rh), s.Pressure).Of(m)
	}
	mid := s.Of(m)
	byC, byH := (at(probeC, 0)-at(-probeC, 0))/2, (at(0, probeRH)-at(0, -probeRH))/2
	half := 1.645 * math.Hypot(byC, byH)
	return Band{Low: mid - half, Mid: mid, High: mid + half}
}

// half is the air of the day or the night.
func half(b *underlamp.Bench, lit bool, hours, ppfd float64) Half {
	c, h := b.Air.Day, hours
	if !lit {
		c, h, ppfd = b.Air.Night, 24-hours, 0
	}
	s := moistair.At(c.Temperature.Value, c.Humidity.Value, moistair.Pressure(b.Air.Altitude.Value))
	out := Half{Lit: lit, Hours: h, Air: s, PPFD: ppfd, VPD: probed(s, moistair.Deficiency), Dew: probed(s, moistair.DewPointC)}
	out.VPD.Low = max(out.VPD.Low, 0)
	out.Leaf = leafBand(s, ppfd, float64(b.Air.Speed.Value))
	deficit := func(leaf float64) float64 {
		return float64(moistair.LeafVPD(quantity.Celsius(leaf), s.Dry, s.Humidity()))
	}
	out.LeafVPD = Band{Low: deficit(out.Leaf.Low), Mid: deficit(out.Leaf.Mid), High: deficit(out.Leaf.High)}
	out.Heart = float64(s.Dry)
	return out
}

// heartOf is the temperature of young leaves in a head of a fresh mass by day.
func heartOf(b *underlamp.Bench, h Half, hours, fresh float64) float64 {
	tr := outlook.Central(b)
	pre := headcycle.Prepare(&tr, outlook.Environment(b, quantity.Hours(hours)))
	cond := pre.Heart(&tr.Heart)
	gamma := moistair.PsychrometricConstant(h.Air.Pressure)
	return float64(h.Air.Dry) - cond.Cooler(&tr.Heart, fresh, h.Air.Of(moistair.Deficiency)/gamma)
}

// settle finds the coldest leaf and how far it is over the dew point.
func (h *Half) settle() {
	coldest, low, high := h.Leaf.Mid, h.Leaf.Low, h.Leaf.High
	h.Where = OpenLeaves
	if h.Heart < coldest {
		d := high - h.Leaf.Mid
		coldest, low, high, h.Where = h.Heart, h.Heart-d, h.Heart+d, YoungLeaves
	}
	h.Margin = margin(Band{low, coldest, high}, h.Dew)
}

// margin is a surface less the dew point, with both doubts.
func margin(surface, dew Band) Band {
	mid := surface.Mid - dew.Mid
	half := math.Hypot((surface.High-surface.Low)/2, (dew.High-dew.Low)/2)
	return Band{Low: mid - half, Mid: mid, High: mid + half}
}

// A Crossing is lights off or lights on, when air and leaves change at different speeds.
type Crossing struct {
	Name    string
	Surface Band // the coldest leaf, °C
	Dew     Band // of the air that meets it
	Margin  Band
	Where   string // which leaf that is
	Why     string
}

// lightsOff is the evening: the air has cooled to that of the night and still holds the
// water of the day, because plants go on losing it and machines lag.
func lightsOff(b *underlamp.Bench, day, night Half) Crossing {
	s := night.Air
	s.Vapour = min(day.Air.Vapour, moistair.SaturationPressure(s.Dry))
	leaf := leafBand(s, 0, float64(b.Air.Speed.Value))
	c := Crossing{
		Name: "lights off", Surface: leaf, Dew: day.Dew, Where: OpenLeaves,
		Why: "The air has cooled to that of the night and still holds the water of the day.",
	}
	c.Margin = margin(c.Surface, c.Dew)
	return c
}

// lightsOn is the morning: hearts are still as cold as the night, and the air takes up the
// water of the day.
func lightsOn(day, night Half) Crossing {
	d := 1.645 * probeC
	cold := float64(night.Air.Dry)
	c := Crossing{
		Name: "lights on", Surface: Band{cold - d, cold, cold + d}, Dew: day.Dew, Where: YoungLeaves,
		Why: "A head of 150 g warms through in the better part of an hour; the open leaves breathe out at once.",
	}
	c.Margin = margin(c.Surface, c.Dew)
	return c
}

// A Risk is how near leaves come to dew.
type Risk string

// The risks.
const (
	Dry  Risk = "dry"
	Near Risk = "near"
	Wet  Risk = "dew"
)

// nearDew is the margin below which dew is called near, K: the usual limit of watching a
// bench; common practice, no source.
const nearDew = 1.0

// RiskOf tells a margin in a word.
func RiskOf(m Band) Risk {
	switch {
	case m.Mid <= 0:
		return Wet
	case m.Mid < nearDew || m.Low <= 0:
		return Near
	}
	return Dry
}

// A Night is what a humidity of the nights would do.
type Night struct {
	Humidity float64
	VPD      float64 // kPa
	Pressure float64 // share of the flow by root pressure that it leaves
	Flow     float64 // g of water per g dry mass of young leaves and night
	Margin   float64 // coldest leaf over the dew point, K
	Chance   float64 // of burn by the outlook; NaN if none is forecast
	Now      bool    // the humidity of the bench
}

// rootFlow is what root pressure brings on a night.
func rootFlow(b *underlamp.Bench, hours float64) (left, flow float64) {
	tr := outlook.Central(b)
	pre := headcycle.Prepare(&tr, outlook.Environment(b, quantity.Hours(hours)))
	cond := pre.Heart(&tr.Heart)
	deficit := moistair.Deficit(b.Air.Night.Temperature.Value, b.Air.Night.Humidity.Value)
	return tr.Heart.RootPressureLeft(deficit), cond.NightFlow()
}

// HeartSpeed is the speed of the air that arrives over the hearts, m/s, by the share that the
// outlook takes for the aim of the fan.
func HeartSpeed(b *underlamp.Bench) float64 {
	return float64(b.Air.Speed.Value) * calcium.HeartShare(string(b.Air.Fan.Value))
}
