package air

import (
	"fmt"
	"math"
	"time"

	"underlamp"
	"underlamp/science/calcium"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/working"
)

const level = 0.9

func band(b Band) *working.Band { return &working.Band{Low: b.Low, High: b.High, Level: level} }

// degrees are temperatures in the units of the bench.
func degrees(u quantity.System, b Band) (Band, string) {
	lo, unit := shown(quantity.Temperature, b.Low, u)
	mid, _ := shown(quantity.Temperature, b.Mid, u)
	hi, _ := shown(quantity.Temperature, b.High, u)
	return Band{lo, mid, hi}, unit
}

// differences are differences of temperature in the units of the bench.
func differences(u quantity.System, b Band) (Band, string) {
	unit, per := quantity.Temperature.Shown(u)
	return Band{b.Low * per, b.Mid * per, b.High * per}, unit
}

// airInputs are temperature and humidity of a part of the day.
func airInputs(b *underlamp.Bench, lit bool) []working.Input {
	c, at := b.Air.Day, "by day"
	if !lit {
		c, at = b.Air.Night, "by night"
	}
	return []working.Input{
		working.Of("temperature "+at, c.Temperature, quantity.Temperature, b.Units),
		working.Of("humidity "+at, c.Humidity, quantity.Share, b.Units),
	}
}

func altitudeInput(b *underlamp.Bench) working.Input {
	return working.Of("altitude", b.Air.Altitude, quantity.Altitude, b.Units)
}

// probeNote says what the bands of the air are of.
const probeNote = "The band is that of a usual probe, 0.3 °C and 2 points of humidity, one standard deviation (common practice, no source): it holds for air that is measured, not planned."

// Figures are the headline figures with their workings, in the order in which a person reads
// them.
func (a *Answer) Figures() []working.Figure {
	b := a.Bench
	u := b.Units
	var out []working.Figure
	add := func(f working.Figure) { out = append(out, f) }
	when := func(h Half) string { return map[bool]string{true: "by day", false: "by night"}[h.Lit] }
	for _, h := range []Half{a.Day, a.Night} {
		if h.Hours <= 0 {
			continue
		}
		in := airInputs(b, h.Lit)
		add(working.Figure{Name: "VPD of the air " + when(h), Value: h.VPD.Mid, Unit: "kPa", Band: band(h.VPD), Working: working.Working{
			Formula: "D = e_s(T) (1 − h), e_s = 0.6108 exp(17.27 T/(T + 237.3)) kPa", Inputs: in, Sources: []string{"Allen1998"}, Notes: []string{probeNote}}})
		leafIn := append(append([]working.Input{}, in...),
			working.Plain("PPFD at the canopy", quantity.PhotonFluxDensity.Format(h.PPFD, u, 3), "computed"),
			working.Of("air speed", b.Air.Speed, quantity.AirSpeed, u), working.Plain("size of a leaf", quantity.Length.Format(openLeaf, u, 2), "published"))
		leafWork := working.Working{
			Formula: "Q = 2 ε σ T⁴ + 2 c_p (T − T_a) g_b + λ (e_s(T) − e_a)/P · g, solved for the temperature T of one open leaf; r_s = 60 (1500 + PPFD)/(200 + PPFD) / f(D)",
			Inputs:  leafIn, Sources: []string{"Bonan2019", "Graamans2017", "Medlyn2011", "DeKauwe2015"},
			Notes: []string{"Lamps and walls are taken to be as warm as the air, within 1 °C by day and 0.5 °C by night (assumed); the boundary layer within a factor of 1.4, the stomata within 30 %.",
				"Leaves in a stand shade and cool one another: the mean of the canopy is cooler than the open leaf at its top."}}
		leaf, unit := degrees(u, h.Leaf)
		add(working.Figure{Name: "open leaf at the top " + when(h), Value: leaf.Mid, Unit: unit, Band: band(leaf), Working: leafWork})
		vpdWork := leafWork
		vpdWork.Formula = "D_leaf = e_s(T_leaf) − h e_s(T_air), with the leaf above"
		add(working.Figure{Name: "VPD of the leaf " + when(h), Value: h.LeafVPD.Mid, Unit: "kPa", Band: band(h.LeafVPD), Working: vpdWork})
		dew, unit := degrees(u, h.Dew)
		add(working.Figure{Name: "dew point " + when(h), Value: dew.Mid, Unit: unit, Band: band(dew), Working: working.Working{
			Formula: "T_d = 237.3 x/(17.27 − x), x = ln(h e_s(T)/0.6108)", Inputs: in, Sources: []string{"Allen1998"}, Notes: []string{probeNote}}})
		m, unit := differences(u, h.Margin)
		margins := working.Working{Formula: "T of the coldest leaf − dew point", Inputs: append(append([]working.Input{}, leafIn...), working.Plain("coldest", h.Where, "computed")),
			Sources: []string{"Bonan2019", "Allen1998"}, Notes: []string{"Walls, lids and pipes may be colder than any leaf."}}
		if h.Lit && a.Refused == nil {
			margins.Steps = []string{fmt.Sprintf("A closed heart has no light to warm it: its young leaves cool to %s, by (D/γ)/(s/γ + (r_s + r_a + R)/R), the balance by which the outlook holds back their water.", quantity.Temperature.Format(h.Heart, u, 3))}
		}
		add(working.Figure{Name: "coldest leaf over the dew point " + when(h), Value: m.Mid, Unit: unit, Band: band(m), Digits: 2, Working: margins})
	}
	for _, c := range a.Crossings {
		m, unit := differences(u, c.Margin)
		add(working.Figure{Name: "coldest leaf over the dew point at " + c.Name, Value: m.Mid, Unit: unit, Band: band(m), Digits: 2, Working: working.Working{
			Formula: "T of the coldest leaf − dew point of the air of the day", Inputs: append(airInputs(b, true), airInputs(b, false)...),
			Steps:   []string{c.Why, fmt.Sprintf("Coldest: %s, %s. Dew point of the day's air: %s.", c.Where, quantity.Temperature.Format(c.Surface.Mid, u, 3), quantity.Temperature.Format(c.Dew.Mid, u, 3))},
			Sources: []string{"Allen1998", "Bonan2019"}}})
	}
	if a.Refused == nil && len(a.Days) > 0 {
		out = append(out, a.roomFigures()...)
	}
	return out
}

// roomFigures are those of water, heat and CO2.
func (a *Answer) roomFigures() []working.Figure {
	b, u := a.Bench, a.Bench.Units
	d := a.Days[a.At]
	var out []working.Figure
	day := working.Plain("day of the crop", fmt.Sprint(d.Day), "chosen")
	room := []working.Input{working.Of("volume of the room", b.Room.Volume, quantity.RoomVolume, u), working.Of("changes of air by chinks", b.Room.Leak, quantity.AirChange, u),
		working.Of("temperature beyond the room", b.Room.Outside.Temperature, quantity.Temperature, u), working.Of("humidity beyond the room", b.Room.Outside.Humidity, quantity.Share, u), altitudeInput(b)}
	for _, x := range []struct {
		at string
		l  Load
		h  Half
	}{{"by day", d.Light, a.Day}, {"by night", d.Dark, a.Night}} {
		if x.h.Hours <= 0 {
			continue
		}
		in := append([]working.Input{day, working.Plain("transpiration of the bench "+x.at, quantity.Number(x.l.Water.Mid, 3)+" g/h", "computed")}, append(airInputs(b, x.h.Lit), room...)...)
		notes := []string{"Transpiration is that of the outlook, the same draws; its band also holds the error of the equations on measured stands, 14 % root mean square. Water that evaporates from wet trays and floors is not in it: in a chamber with open water that was a quarter of all (Wheeler1994)."}
		if !x.h.Lit {
			notes = append(notes, "The published resistance of leaves in the dark is too high: 0.011 is computed where 0.016 g/m²/s was measured. The upper end of the band is raised by it.")
		}
		out = append(out, working.Figure{Name: "water to remove " + x.at, Value: x.l.Remove.Mid, Unit: "g/h", Band: band(x.l.Remove), Working: working.Working{
			Formula: "transpiration − leak · (W_in − W_out)/v_in, not below 0", Inputs: in, Sources: []string{"Graamans2017", "ASHRAE2017"}, Notes: notes,
			Steps: []string{fmt.Sprintf("Chinks carry off %s g/h.", quantity.Number(x.l.Leaks, 2))}}})
		electric := working.Plain("lamps and all else that runs", quantity.Power.Format(x.l.Electric, u, 3), b.Room.Others.Origin.String())
		heat := append([]working.Input{day, electric, working.Of("heat through the walls", b.Room.HeatLoss, quantity.HeatTransfer, u)}, in[1:]...)
		why := []string{"All electricity becomes heat in the room; photosynthesis keeps about 1 % of it (Ohyama2020), which is left out."}
		if x.l.Sensible.Mid < 0 {
			why = append(why, "Below 0 the crop cools the room more than lamps and walls warm it: it must be warmed.")
		}
		out = append(out,
			working.Figure{Name: "warmth to remove " + x.at, Value: x.l.Sensible.Mid, Unit: "W", Band: band(x.l.Sensible), Working: working.Working{Formula: "P + UA (T_out − T_in) − leak warmth − λ · transpiration/3600", Inputs: heat, Sources: []string{"Graamans2017", "Ohyama2020"}, Notes: why}},
			working.Figure{Name: "heat in the water to remove " + x.at, Value: x.l.Latent, Unit: "W", Working: working.Working{Formula: "λ · water to remove/3600, λ = 2501 − 2.361 T J/g", Inputs: in, Sources: []string{"Harrison1963"}}})
	}
	perDay := working.Working{Formula: "Σ days (water by day · hours + water by night · hours)", Inputs: []working.Input{working.Plain("days", fmt.Sprint(len(a.Days)), b.Crop.Days.Origin.String())}, Sources: []string{"Graamans2017"}}
	out = append(out, working.Figure{Name: "water that the crop breathes out over the cycle", Value: a.WaterCycle.Mid, Unit: "L", Band: band(a.WaterCycle), Working: perDay})

	label := b.Room.Drier
	unit, per := quantity.WaterRemoval.Shown(u)
	worst := a.Days[a.Worst]
	f := a.Factor
	size := working.Working{
		Formula: "label = 24 · water to remove/1000 / 0.8 / f, f = (a + bT + cT² + dh + eh² + fTh) over that at the label",
		Inputs: []working.Input{working.Plain("day of the crop that asks most", fmt.Sprint(worst.Day), "computed"), working.Plain("water to remove "+a.SizeOf, quantity.Number(map[string]float64{"by day": worst.Light.Remove.Mid, "by night": worst.Dark.Remove.Mid}[a.SizeOf], 3)+" g/h", "computed"),
			working.Of("temperature of the label", label.RatedC, quantity.Temperature, u), working.Of("humidity of the label", label.RatedRel, quantity.Share, u)},
		Steps: []string{fmt.Sprintf("At this air the machine gives %s of its label (%s to %s by the two sources), for %s of its litres to the kWh.", working.Percent(f.Water.Central), working.Percent(f.Water.Low), working.Percent(f.Water.High), working.Percent(f.Energy.Central)),
			"It may run 80 % of the time, so that something is left for a wet day (common practice, no source)."},
		Sources: []string{"Winkler2011", "EnergyPlusDX", "EnergyStarDehumidifier"},
		Notes:   []string{"Labels are of 26.7 °C and 60 % (AHAM DH-1) or, in the US since 2019, of 18.3 °C: the newer label is smaller for the same machine. Many makers print another one at 30 °C and 80 %: that is the largest figure."},
	}
	if f.Beyond {
		size.Notes = append(size.Notes, "This air lies outside 18 to 32 °C and 40 to 80 %: the curves are carried on beyond what they were made for, which is a guess.")
	}
	out = append(out, working.Figure{Name: "dehumidifier that is large enough, by its label", Value: a.Size.Mid * per, Unit: unit, Band: band(Band{a.Size.Low * per, a.Size.Mid * per, a.Size.High * per}), Working: size})

	ds := a.Dose
	co2 := []working.Input{working.Of("CO2 while the lamps are on", b.Air.CO2, quantity.GasShare, u), working.Of("CO2 beyond the room", b.Room.OutsideCO2, quantity.GasShare, u), room[0], room[1]}
	out = append(out, working.Figure{Name: "CO2 that the crop takes up", Value: ds.Uptake, Unit: "g/h", Working: working.Working{
		Formula: "whole dry mass grown on the day / 0.68 / hours of light", Inputs: []working.Input{day, working.Plain("dry mass grown on the day", quantity.Number(d.Uptake*0.68, 3)+" g", "computed")}, Sources: []string{"VanHenten1994"},
		Notes: []string{"Net of what the plants breathe out over day and night. Dry mass is forecast too high in strong light, so this is too."}}})
	if ds.Enriched {
		out = append(out, working.Figure{Name: "CO2 to add while the lamps are on", Value: ds.Rate, Unit: "g/h", Working: working.Working{
			Formula: "leak · volume · (C_in − C_out) · 1.8 mg/m³ for each ppm + uptake", Inputs: co2, Steps: []string{fmt.Sprintf("Chinks lose %s g/h, the crop takes %s g/h. That is %s kg a day.", quantity.Number(ds.Leak, 3), quantity.Number(ds.Uptake, 3), quantity.Number(ds.PerDay, 3))}, Sources: []string{"OSHATableZ1", "NIOSH1994"},
			Notes: []string{"Only while air is not exchanged: exchange takes CO2 along, see the ways compared.", Caution(b, ds)}}})
	}
	return out
}

// Caution is what must be said wherever CO2 is added.
func Caution(b *underlamp.Bench, d Dose) string {
	s := "The limit for a working day is 5 000 ppm (29 CFR 1910.1000, Table Z-1), for 15 minutes 30 000 ppm (NIOSH); 40 000 ppm is dangerous at once. An alarm at the height of the head, never a room in which people sleep, exchange of air shut off while dosing, a sign on the door."
	if d.Cylinder > 0 {
		s += fmt.Sprintf(" A bottle of 5 kg that leaks empty into this room would bring it to %s ppm.", quantity.Number(math.Round(float64(d.Cylinder)/100)*100, 3))
		if d.Cylinder > 40_000 {
			s += " That kills: keep the bottle outside."
		}
	}
	return s
}

// Sentences say in words what matters most.
func (a *Answer) Sentences() []string {
	b, u := a.Bench, a.Bench.Units
	var out []string
	worst, where, margin := Dry, "", Band{}
	consider := func(m Band, at string) {
		r := RiskOf(m)
		rank := map[Risk]int{Dry: 0, Near: 1, Wet: 2}
		if where == "" || rank[r] > rank[worst] || rank[r] == rank[worst] && m.Mid < margin.Mid {
			worst, where, margin = r, at, m
		}
	}
	if a.Day.Hours > 0 {
		consider(a.Day.Margin, "by day, "+a.Day.Where)
	}
	if a.Night.Hours > 0 {
		consider(a.Night.Margin, "by night, "+a.Night.Where)
	}
	for _, c := range a.Crossings {
		consider(c.Margin, "at "+c.Name+", "+c.Where)
	}
	near := quantity.Temperature.Difference(margin.Mid, u, 2)
	switch worst {
	case Wet:
		out = append(out, fmt.Sprintf("Dew can be expected on leaves (%s): they would be %s under the dew point.", where, quantity.Temperature.Difference(-margin.Mid, u, 2)))
	case Near:
		out = append(out, fmt.Sprintf("Leaves come near the dew point (%s): %s over it, which a probe cannot tell from dew.", where, near))
	default:
		out = append(out, fmt.Sprintf("No dew on leaves: the nearest they come (%s) is %s over the dew point.", where, near))
	}
	if a.Refused != nil || len(a.Days) == 0 {
		return out
	}
	d := a.Days[a.At]
	s := fmt.Sprintf("On day %d the bench breathes out %s g/h by day and %s g/h by night", d.Day, quantity.Number(d.Light.Water.Mid, 3), quantity.Number(d.Dark.Water.Mid, 3))
	if a.Night.Hours <= 0 {
		s = fmt.Sprintf("On day %d the bench breathes out %s g/h", d.Day, quantity.Number(d.Light.Water.Mid, 3))
	}
	if d.Light.Electric > 0 && d.Light.Total > 0 {
		s += fmt.Sprintf("; by day %s of the heat goes with the water", working.Percent(min(max(d.Light.Latent/d.Light.Total, 0), 1)))
	}
	out = append(out, s+".")
	if d.Dark.Sensible.Mid < -1 {
		out = append(out, fmt.Sprintf("By night %s W of warmth are missing, for the crop, walls and chinks cool the room: without warming or drying in it, the air gets colder and moister than planned.", quantity.Number(-d.Dark.Sensible.Mid, 2)))
	}
	if d.Light.Add > 0 || d.Dark.Add > 0 {
		out = append(out, fmt.Sprintf("Chinks dry the room more than the crop wets it: to hold the humidity, %s g/h must be added by day and %s by night.", quantity.Number(d.Light.Add, 2), quantity.Number(d.Dark.Add, 2)))
	}
	unit, per := quantity.WaterRemoval.Shown(u)
	out = append(out, fmt.Sprintf("A dehumidifier of %s %s by its label is large enough (%s to %s).", quantity.Number(a.Size.Mid*per, 2), unit, quantity.Number(a.Size.Low*per, 2), quantity.Number(a.Size.High*per, 2)))
	if a.Cheapest >= 0 {
		w := a.Ways[a.Cheapest]
		out = append(out, fmt.Sprintf("Of the ways to hold this air, %s takes the least money on that day: %s kWh and %s %s.", w.Name, quantity.Number(w.KWh(), 2), quantity.Fixed(w.Money, 2), b.Price.Value.Currency))
	}
	return out
}

// Sentences say what the comparison over speeds and nights shows.
func (h *Hearts) Sentences(b *underlamp.Bench) []string {
	u := b.Units
	out := []string{fmt.Sprintf("With air as it is the outlook gives a chance of burn of %s; your limit is %s (%d draws here, so within a few points).", ChanceText(h.Now), working.Percent(h.Limit), h.Draws)}
	for k, aim := range h.Aims {
		where := map[underlamp.FanAim]string{underlamp.Across: "across the heads", underlamp.Down: "down onto the hearts"}[aim]
		switch v := h.Need[k]; {
		case math.IsNaN(v):
			out = append(out, fmt.Sprintf("Air blown %s does not keep the limit at any speed tried, up to %s: turn light, hours or humidity.", where, quantity.AirSpeed.Format(triedSpeeds[len(triedSpeeds)-1], u, 2)))
		case v == 0:
			out = append(out, fmt.Sprintf("Air blown %s keeps the limit at every speed tried.", where))
		default:
			out = append(out, fmt.Sprintf("Air blown %s keeps the limit from about %s among the plants on (%s over the hearts).", where, quantity.AirSpeed.Format(v, u, 2), quantity.AirSpeed.Format(v*calcium.HeartShare(string(aim)), u, 2)))
		}
	}
	first, last := h.Nights[0], h.Nights[len(h.Nights)-1]
	out = append(out, fmt.Sprintf("Nights of %s leave %s of the root pressure of saturated air, and a chance of burn of %s. Nights of %s leave %s, and a chance of %s: moist nights feed the hearts, but leaves come within %s of dew.",
		working.Percent(first.Humidity), working.Percent(first.Pressure), ChanceText(first.Chance), working.Percent(last.Humidity), working.Percent(last.Pressure), ChanceText(last.Chance), quantity.Temperature.Difference(last.Margin, u, 2)))
	return out
}

// ChanceText prints a chance of burn that few draws tell: none of them is not never.
func ChanceText(v float64) string {
	if v == 0 {
		return "under 1 %"
	}
	return working.Percent(v)
}

// SpeedNote says where the shares over the heart come from.
const SpeedNote = "What of the air arrives over a heart is assumed: all of it blown down, a quarter blown across, 15 % without a fan. Air blown onto the hearts removed burn at 57.6 mol/m²/d (Frantz2004); that downward air works better than level air is reported from trials (OptimIA2023, second-hand). The chance is the outlook's, whose level may be off by a half of itself either way."

// NightNote says what the nights rest on.
const NightNote = "Root pressure by night: nights that let cabbage guttate gave no tipburn (Palzkill1976); night humidity from 95 to 90 % cost lettuce a third of its young leaves' calcium (CollierTibbitts1984, second-hand); above 95 % 3 to 50 % of plants burnt instead of 60 to 100 % (Vanhassel2015). The curve itself was fitted."

// RecordSentences say what recorded hours show of dew, in a zone of time.
func RecordSentences(b *underlamp.Bench, r *Record, zone *time.Location) []string {
	u := b.Units
	n := len(r.Hours)
	hours := func(n int) string {
		if n == 1 {
			return "1 hour"
		}
		return fmt.Sprintf("%d hours", n)
	}
	how := "leaves computed from the air, taken in the dark where no light was read"
	if r.Leaves {
		how = "with the leaf sensor where it read"
	}
	out := []string{
		fmt.Sprintf("In %s read from %s to %s (%s): %s with leaves at or under the dew point, %s less than %s over it.", hours(n), r.From.In(zone).Format("2 January"), r.To.In(zone).Format("2 January"), how, hours(r.Wet), hours(r.Near), quantity.Temperature.Difference(nearDew, u, 2)),
		fmt.Sprintf("Nearest on %s: %s over the dew point, at %s and %s.", r.Worst.At.In(zone).Format("2 January, 15:04"), quantity.Temperature.Difference(r.Worst.Margin, u, 2), quantity.Temperature.Format(r.Worst.AirC, u, 3), working.Percent(r.Worst.RH)),
	}
	if r.Light && !math.IsNaN(r.VPDDay) && !math.IsNaN(r.VPDDark) {
		out = append(out, fmt.Sprintf("VPD of the air: %s kPa with light, %s kPa without, means of the hours; the bench file has %s and %s.", quantity.Fixed(r.VPDDay, 2), quantity.Fixed(r.VPDDark, 2),
			quantity.Fixed(float64(moistair.VPD(b.Air.Day.Temperature.Value, b.Air.Day.Humidity.Value)), 2), quantity.Fixed(float64(moistair.VPD(b.Air.Night.Temperature.Value, b.Air.Night.Humidity.Value)), 2)))
	}
	return append(out, "Means of hours: a dip of minutes, as when lamps go off, is hidden in them.")
}
