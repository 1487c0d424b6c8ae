package air

import (
	"math"

	"underlamp"
	"underlamp/app/outlook"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/science/roomair"
)

// A Day is one day of the crop: what its light hours and its dark hours put into the room.
type Day struct {
	Day    int
	Fresh  float64 // g of a head
	Light  Load    // while the lamps are on
	Dark   Load
	Uptake float64 // CO2 that the crop takes from the air over the day, g
}

// A Load is one part of a day, of the whole bench.
type Load struct {
	Hours    float64
	Water    Band    // that the crop breathes out, g/h
	Leaks    float64 // water that leaves with the air of chinks, g/h; negative if it comes in
	Remove   Band    // water to remove: Water less Leaks, not below 0, g/h
	Add      float64 // water to add to hold the humidity, g/h; 0 if there is enough
	Electric float64 // W of lamps and the rest
	Envelope float64 // W through walls and chinks, into the room
	Latent   float64 // W that the water to remove carries
	Sensible Band    // W of warmth: negative if the room must be warmed
	Total    float64 // W: both
}

// modelSD is how far the equations of the stand lie from measured water: 15.9 g m⁻² h⁻¹ root mean
// square where 115 were measured (Graamans2017, section 5.1).
const modelSD = 15.9 / 115

// doubted widens the band of the draws by the error of the equations.
func doubted(b Band) Band {
	model := 1.645 * modelSD * b.Mid
	return Band{max(b.Mid-math.Hypot(b.Mid-b.Low, model), 0), b.Mid, b.Mid + math.Hypot(b.High-b.Mid, model)}
}

// darkShort is how far the published resistance of leaves in the dark falls short: 0.011 where
// 0.016 g m⁻² s⁻¹ was measured (Graamans2017). The upper end of the water by night is widened by it.
const darkShort = 0.016 / 0.011

// exchange is the room against the air beyond it.
func exchange(b *underlamp.Bench, in moistair.State) roomair.Exchange {
	o := b.Room.Outside
	return roomair.Exchange{Inside: in, Outside: moistair.At(o.Temperature.Value, o.Humidity.Value, in.Pressure)}
}

// leakFlow is the air that comes and goes by chinks, m³/h.
func leakFlow(b *underlamp.Bench) float64 {
	return float64(b.Room.Leak.Value) * float64(b.Room.Volume.Value)
}

// load is what a part of a day puts into the room.
func load(b *underlamp.Bench, h Half, lamps float64, water Band) Load {
	x := exchange(b, h.Air)
	flow := leakFlow(b)
	l := Load{Hours: h.Hours, Water: water, Leaks: x.WaterOf(flow), Electric: lamps + float64(b.Room.Others.Value)}
	l.Envelope = float64(b.Room.HeatLoss.Value)*float64(b.Room.Outside.Temperature.Value-h.Air.Dry) - x.HeatOf(flow)
	less := func(v float64) float64 { return max(v-l.Leaks, 0) }
	l.Remove = Band{less(water.Low), less(water.Mid), less(water.High)}
	l.Add = max(l.Leaks-water.Mid, 0)
	part := func(w float64) roomair.Load {
		return roomair.Load{Electric: l.Electric, Envelope: l.Envelope, Water: w, AirC: h.Air.Dry}
	}
	// What evaporates takes its heat from the room, whether it is removed or leaves by itself.
	l.Latent = part(l.Remove.Mid).Latent()
	l.Sensible = Band{part(water.High).Sensible(), part(water.Mid).Sensible(), part(water.Low).Sensible()}
	l.Total = l.Sensible.Mid + l.Latent
	return l
}

// course is the days of the crop by its outlook.
func course(b *underlamp.Bench, f *outlook.Forecast, day, night Half) []Day {
	lamps := 0.0 // W over the hours of light, on the mean where lamps burn for different hours
	if day.Hours > 0 {
		lamps = 1000 * float64(f.Energy.KWh) / float64(f.Days) / day.Hours
	}
	per := func(b outlook.Band, scale float64) Band { return Band{b.Low * scale, b.Mid * scale, b.High * scale} }
	out := make([]Day, len(f.Course))
	before := 0.0
	for i, d := range f.Course {
		x := Day{Day: d.Day, Fresh: d.Fresh.Mid}
		light := outlook.Band{Low: max(d.Water.Low-d.Night.Low, 0), Mid: max(d.Water.Mid-d.Night.Mid, 0), High: max(d.Water.High-d.Night.High, 0)}
		if day.Hours > 0 {
			x.Light = load(b, day, lamps, doubted(per(light, f.Heads/day.Hours)))
		}
		if night.Hours > 0 {
			w := doubted(per(d.Night, f.Heads/night.Hours))
			w.High = max(w.High, w.Mid*darkShort)
			x.Dark = load(b, night, 0, w)
		}
		grown := d.Dry.Mid - before
		if i == 0 {
			grown = 0 // what stood there on the first morning was not grown here
			if len(f.Course) > 1 {
				grown = f.Course[1].Dry.Mid - d.Dry.Mid
			}
		}
		before = d.Dry.Mid
		x.Uptake = roomair.CO2Uptake(max(grown, 0)/(1-outlook.Central(b).Growth.RootShare)) * f.Heads
		out[i] = x
	}
	return out
}

// A Way is one way to get rid of the water and heat of a day.
type Way struct {
	Key      string
	Name     string
	Possible bool
	Why      string // why it cannot, or what it rests on

	Flow float64 // m³/h of air exchanged while the lamps are on; 0 for machines
	Dark float64 // the same by night

	Drying  float64 // kWh a day for drying
	Cooling float64 // for cooling
	Heating float64 // for warming
	Fans    float64
	CO2     float64 // g of CO2 a day that leave the room while the lamps are on
	Money   float64 // a day: electricity and CO2
	Cycle   float64 // kWh over the cycle
	Costs   float64 // money over the cycle
}

// KWh is the electricity of a day.
func (w *Way) KWh() float64 { return w.Drying + w.Cooling + w.Heating + w.Fans }

const (
	// coilSensible is the share of its cooling by which a coil warms no water out of the air;
	// 0.7 to 0.75 for room machines; common practice, no source.
	coilSensible = 0.72
	// fanPower is that of a small exhaust fan with duct and filter, W for each m³/h; common practice,
	// no source.
	fanPower = 0.15
)

// drier is the machine of the bench, or one of the usual label that is just large enough.
func drier(b *underlamp.Bench, litres float64) roomair.Dehumidifier {
	d := b.Room.Drier
	m := roomair.Dehumidifier{Litres: float64(d.Litres.Value), PerKWh: float64(d.PerKWh.Value), RatedC: d.RatedC.Value, RatedRel: d.RatedRel.Value}
	if m.Litres <= 0 {
		m.Litres = litres
	}
	return m
}

// priceOf is that of a kWh.
func priceOf(b *underlamp.Bench) float64 { return b.Price.Value.PerKWh }

// enriched says that CO2 is added: the room should hold more than the air beyond it.
func enriched(b *underlamp.Bench) bool { return b.Air.CO2.Value > b.Room.OutsideCO2.Value+enough }

// enough is how much more than outside counts as enriched, ppm: people alone bring that.
const enough = 100

// warmed adds what holds the temperature when warmth in W is left over an hour span.
func (w *Way) warmed(b *underlamp.Bench, warmth, hours float64) {
	if warmth > 0 {
		w.Cooling += warmth * hours / 1000 / b.Room.Cooling.Value
	} else {
		w.Heating += -warmth * hours / 1000
	}
}

// byMachine dries with a dehumidifier in the room and carries the warmth off by cooling.
func byMachine(b *underlamp.Bench, d Day, halves [2]Half, size float64) Way {
	w := Way{Key: "dehumidifier", Name: "dehumidifier in the room, and cooling", Possible: true}
	m := drier(b, size)
	for i, l := range [2]Load{d.Light, d.Dark} {
		h := m.Hour(l.Remove.Mid, l.Latent, halves[i].Air.Dry, halves[i].Air.Humidity())
		if h.Duty > 1.0001 {
			w.Possible = false
			w.Why = "The machine of the bench file is too small: it would have to run more than all the time."
		}
		w.Drying += h.KWh * l.Hours
		w.warmed(b, l.Sensible.Mid+h.Heat, l.Hours)
	}
	w.lost(b, leakFlow(b), halves[0])
	w.paid(b)
	return w
}

// byCoil dries on the coil of a cooling machine, and warms again where the coil takes more
// warmth than there is.
func byCoil(b *underlamp.Bench, d Day, halves [2]Half) Way {
	w := Way{Key: "coil", Name: "cooling coil that dries, and warming again", Possible: true, Why: "A coil takes 72 % of its cooling as warmth (assumed): where less is there, the room must be warmed again."}
	for _, l := range [2]Load{d.Light, d.Dark} {
		coil := max(l.Latent/(1-coilSensible), l.Latent+l.Sensible.Mid)
		if l.Latent <= 0 && l.Sensible.Mid <= 0 {
			coil = 0
		}
		w.Cooling += coil * l.Hours / 1000 / b.Room.Cooling.Value
		if left := l.Sensible.Mid - (coil - l.Latent); left < 0 {
			w.Heating += -left * l.Hours / 1000
		}
	}
	w.lost(b, leakFlow(b), halves[0])
	w.paid(b)
	return w
}

// byAir exchanges air for that beyond the room.
func byAir(b *underlamp.Bench, d Day, halves [2]Half) Way {
	w := Way{Key: "exchange", Name: "exchange of air", Possible: true}
	for i, l := range [2]Load{d.Light, d.Dark} {
		if l.Remove.Mid <= 0 {
			w.warmed(b, l.Sensible.Mid, l.Hours)
			continue
		}
		x := exchange(b, halves[i].Air)
		flow, err := x.FlowFor(l.Remove.Mid)
		if err != nil {
			w.Possible = false
			w.Why = map[bool]string{true: "By day ", false: "By night "}[halves[i].Lit] + err.Error() + "."
			return w
		}
		if halves[i].Lit {
			w.Flow = flow
		} else {
			w.Dark = flow
		}
		w.Fans += fanPower * flow * l.Hours / 1000
		w.warmed(b, l.Sensible.Mid-x.HeatOf(flow), l.Hours)
	}
	w.lost(b, w.Flow+leakFlow(b), halves[0])
	w.paid(b)
	return w
}

// lost adds the CO2 that a flow takes along by day.
func (w *Way) lost(b *underlamp.Bench, flow float64, day Half) {
	if enriched(b) {
		w.CO2 = roomair.CO2Loss(flow, b.Air.CO2.Value, b.Room.OutsideCO2.Value, day.Air.Dry, day.Air.Pressure) * day.Hours
	}
}

func (w *Way) paid(b *underlamp.Bench) {
	w.Money = w.KWh()*priceOf(b) + w.CO2/1000*b.Room.CO2Price.Value
}

// waysOf compares the ways on a day and over the cycle.
func waysOf(b *underlamp.Bench, days []Day, at int, halves [2]Half, size float64) []Way {
	all := func(d Day) []Way {
		return []Way{byMachine(b, d, halves, size), byCoil(b, d, halves), byAir(b, d, halves)}
	}
	out := all(days[at])
	for _, d := range days {
		for i, w := range all(d) {
			if !w.Possible {
				out[i].Possible, out[i].Why = false, w.Why
			}
			out[i].Cycle += w.KWh()
			out[i].Costs += w.Money
		}
	}
	for i := range out {
		if !out[i].Possible {
			out[i].Cycle, out[i].Costs = math.NaN(), math.NaN()
		}
	}
	return out
}

// A Dose is the carbon dioxide that holds a setpoint while the lamps are on.
type Dose struct {
	Enriched bool
	Inside   quantity.PPM
	Outside  quantity.PPM
	Leak     float64 // g/h lost by chinks
	Uptake   float64 // g/h that the crop takes
	Rate     float64 // g/h: both
	PerDay   float64 // kg
	Money    float64 // a day; 0 if nobody said what it costs
	Fill     float64 // g that bring the closed room up once
	Cylinder quantity.PPM
	// Cylinder is what 5 kg set free in the closed room would make of its air; 0 if nobody said
	// how large the room is.
}

// cylinder is a small gas bottle, g.
const cylinder = 5000

func doseOf(b *underlamp.Bench, day Half, uptakePerDay float64) Dose {
	d := Dose{Inside: b.Air.CO2.Value, Outside: b.Room.OutsideCO2.Value, Enriched: enriched(b)}
	volume := float64(b.Room.Volume.Value)
	if !b.Room.Volume.IsDefault() {
		d.Cylinder = roomair.CO2After(cylinder, volume, d.Outside, day.Air.Dry, day.Air.Pressure)
	}
	if day.Hours > 0 {
		d.Uptake = uptakePerDay / day.Hours
	}
	if !d.Enriched {
		return d
	}
	d.Leak = roomair.CO2Loss(leakFlow(b), d.Inside, d.Outside, day.Air.Dry, day.Air.Pressure)
	d.Rate = d.Leak + d.Uptake
	d.PerDay = d.Rate * day.Hours / 1000
	d.Money = d.PerDay * b.Room.CO2Price.Value
	d.Fill = volume * float64(d.Inside-d.Outside) * roomair.CO2Density(day.Air.Dry, day.Air.Pressure)
	return d
}
