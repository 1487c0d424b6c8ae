package benchfile

import (
	"strconv"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

var (
	volumeSpan  = handwritten.Span{Min: 0.02, Max: 1e6}
	leakSpan    = handwritten.Span{Min: 0, Max: 200}
	lossSpan    = handwritten.Span{Min: 0, Max: 1e5}
	othersSpan  = handwritten.Span{Min: 0, Max: 1e6}
	outsideSpan = handwritten.Span{Min: -40, Max: 50}
	removeSpan  = handwritten.Span{Min: 0.1, Max: 1e5}
	dryingSpan  = handwritten.Span{Min: 0.1, Max: 20}
	labelSpan   = handwritten.Span{Min: 5, Max: 40}
	coolingSpan = handwritten.Span{Min: 0.2, Max: 20}
)

// Conditions of the label of a dehumidifier that does not say them: AHAM DH-1, which older
// machines are rated by and most makers still print first.
const (
	usualLabelC   = 26.7
	usualLabelRel = 0.60
	usualPerKWh   = 1.6
)

// room reads where the bench stands. Its usual volume is the space of the bench: enough to
// compute with, and marked as nobody's word.
func (r *reader) room(v handwritten.Value, b *underlamp.Bench) underlamp.Room {
	f, _ := r.Mapping(v, "room")
	const guess = "common practice, no source"
	space := float64(b.Space.Width) * float64(b.Space.Depth) * float64(b.Space.Height)
	room := underlamp.Room{
		Volume:   handwritten.Given(r.Reader, f.Get("volume"), quantity.RoomVolume, volumeSpan, underlamp.Assumed(quantity.CubicMetre(max(space, volumeSpan.Min)), "the space of the bench alone; say the volume of the room")),
		Leak:     handwritten.Given(r.Reader, f.Get("leak"), quantity.AirChange, leakSpan, underlamp.Assumed[quantity.PerHour](0.5, "a room with its door shut; "+guess)),
		HeatLoss: handwritten.Given(r.Reader, f.Get("heat loss"), quantity.HeatTransfer, lossSpan, underlamp.Assumed[quantity.WattPerKelvin](0, "nobody said; no heat through walls is counted")),
		Others:   handwritten.Given(r.Reader, f.Get("other power"), quantity.Power, othersSpan, underlamp.Assumed[quantity.Watt](0, "nobody said; nothing but the lamps is counted")),
	}
	out, _ := r.Mapping(f.Get("outside"), "room.outside")
	const beyond = "air beyond the room, the mean of a temperate year; " + guess
	room.Outside = underlamp.Climate{
		Temperature: handwritten.Given(r.Reader, out.Get("temperature"), quantity.Temperature, outsideSpan, underlamp.Assumed[quantity.Celsius](12, beyond)),
		Humidity:    handwritten.Given(r.Reader, out.Get("humidity"), quantity.Share, humiditySpan, underlamp.Assumed[quantity.Fraction](0.75, beyond)),
	}
	room.OutsideCO2 = handwritten.Given(r.Reader, out.Get("co2"), quantity.GasShare, co2Span, underlamp.Assumed[quantity.PPM](420, "outdoor air of these years; from memory"))

	d, _ := r.Mapping(f.Get("dehumidifier"), "room.dehumidifier")
	const label = "label of AHAM DH-1: 80 °F and 60 %"
	room.Drier = underlamp.Drier{
		Litres:   handwritten.Given(r.Reader, d.Get("removes"), quantity.WaterRemoval, removeSpan, underlamp.Assumed[quantity.LitrePerDay](0, "no machine was named")),
		PerKWh:   handwritten.Given(r.Reader, d.Get("efficiency"), quantity.DryingEfficiency, dryingSpan, underlamp.Assumed[quantity.LitrePerKWh](usualPerKWh, "the least that is asked in the US of machines of 12 to 24 L/d")),
		RatedC:   handwritten.Given(r.Reader, d.Get("temperature"), quantity.Temperature, labelSpan, underlamp.Assumed[quantity.Celsius](usualLabelC, label)),
		RatedRel: handwritten.Given(r.Reader, d.Get("humidity"), quantity.Share, humiditySpan, underlamp.Assumed[quantity.Fraction](usualLabelRel, label)),
	}
	room.Cooling = underlamp.Assumed(3.0, "heat carried off for each kWh of a cooling machine; "+guess)
	if x, ok := r.plain(f.Get("cooling"), coolingSpan, "a number such as 3: heat carried off over electricity"); ok {
		room.Cooling = underlamp.Said(x)
	}
	room.CO2Price = underlamp.Assumed(0.0, "nobody said what CO2 costs")
	if price := f.Get("co2 price"); price.Written() {
		if x, _, ok := r.rate(price, b, "for example 2.50 EUR/kg", "the price of CO2", underlamp.PerKg); ok {
			room.CO2Price = underlamp.Said(x)
		}
	}
	return room
}

// plain reads a number that has no unit.
func (r *reader) plain(v handwritten.Value, s handwritten.Span, want string) (float64, bool) {
	if !v.Written() {
		return 0, false
	}
	text, ok := r.Words(v, handwritten.MaxName)
	if !ok {
		return 0, false
	}
	x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || !s.Holds(x) {
		r.Errorf(v, want, "%q is no number from %g to %g", text, s.Min, s.Max)
		return 0, false
	}
	return x, true
}
