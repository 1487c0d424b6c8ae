package outlook

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/headcycle"
	"underlamp/science/quantity"
	"underlamp/science/sensitivity"
)

// Doubts tell what the outlook is unsure of and what to measure next.
type Doubts struct {
	Items []Doubt // the most rewarding first
	Draws int
	Mass  Band    // fresh mass at harvest with the doubt about the description in it, g
	Alone Band    // the same with the description taken at its word
	Burn  float64 // chance of burn of the mean plant, with that doubt in it
}

// A Doubt is one thing that is not known exactly, with the part of the variance
// of the outlook that rests on it.
type Doubt struct {
	Name  string // "humidity at night"
	Known string // "75 % (default), taken as good to 10 points"
	Act   string // what would narrow it: "read a hygrometer ..."

	Mass sensitivity.Share // of the variance of the logarithm of fresh mass
	Burn sensitivity.Share // of the variance of burn or no burn

	// What acting would take away: the share less what is left of it afterwards, 0 to 1.
	MassGain, BurnGain float64
}

// Gain is what acting on the doubt would take from the variance of mass or of
// burn, whichever is more.
func (d Doubt) Gain() float64 { return max(zero(d.MassGain), zero(d.BurnGain)) }

func zero(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}

// How well a value of the description is known, by where it came from, as a
// standard deviation. Common practice, no source: a default is a guess at a
// room, a stated value a household instrument read now and then, a measured one
// a good instrument at the plants.
type goodTo struct {
	byDefault, stated, measured float64
	ratio                       bool // of the logarithm, about the relative standard deviation
}

func (g goodTo) of(o underlamp.Origin) float64 {
	switch o {
	case underlamp.Default:
		return g.byDefault
	case underlamp.Measured, underlamp.Fitted:
		return g.measured
	}
	return g.stated
}

var (
	temperatureGoodTo = goodTo{2, 1, 0.4, false}         // °C
	humidityGoodTo    = goodTo{0.10, 0.05, 0.025, false} // of relative humidity
	co2GoodTo         = goodTo{0.25, 0.12, 0.05, true}
	speedGoodTo       = goodTo{0.6, 0.35, 0.15, true}
	feedGoodTo        = goodTo{0.3, 0.15, 0.05, true}
	massGoodTo        = goodTo{0.4, 0.2, 0.08, true}
)

// doubtDraws are enough to tell shares of a twentieth from chance.
const doubtDraws = 2000

// A described value is one of the bench description that the mean plant feels.
type described struct {
	name, known, act string
	sd, after        float64 // now, and once it has been measured
	ratio            bool
	turn             func(env *headcycle.Environment, st *headcycle.Start, by func(float64) float64)
}

// Doubts runs the mean plant with everything uncertain at once, the traits of
// the crop, the light, and the values of the description within what their
// origin lets one trust, and shares out the variance.
func (o *Outlook) Doubts(ctx context.Context) (*Doubts, error) {
	b := o.b
	lit, err := o.m.At(b.Setting().Height)
	if err != nil {
		return nil, err
	}
	dim, day := light.DayWeights(b)
	mean := meanClass(classesOf(lit.ClosingProfilesAt(dim, levelSpacing, levelCount), maxClasses))
	ens := newEnsemble(o.m, doubtDraws, o.from)
	env, st, days := environment(b, day), start(b), b.Crop.Days.Value
	values := describedValues(b)

	moved := make([][]float64, len(values)) // by value, then draw
	rng := rand.New(rand.NewPCG(seed, 0x64_6f_75_62_74))
	for v := range values {
		moved[v] = make([]float64, doubtDraws)
		for i := range moved[v] {
			moved[v][i] = min(max(rng.NormFloat64(), -3), 3)
		}
	}
	mass, alone, burn := make([]float64, doubtDraws), make([]float64, doubtDraws), make([]float64, doubtDraws)
	parallel(doubtDraws, func(i int) {
		if ctx.Err() != nil {
			return
		}
		tr := &ens.traits[i]
		e, s := env, st
		for v, d := range values {
			z := moved[v][i] * d.sd
			d.turn(&e, &s, func(now float64) float64 {
				if d.ratio {
					return now * math.Exp(z)
				}
				return now + z
			})
		}
		buf := make([]float64, 0, 2*levelCount)
		lit := scaled(buf, mean, ens.light[i])
		said := headcycle.Prepare(tr, env)
		alone[i] = headcycle.Run(tr, &said, lit, st, days, nil, nil).Last.Fresh
		pre := headcycle.Prepare(tr, e)
		out := headcycle.Run(tr, &pre, lit, s, days, nil, nil)
		mass[i] = out.Last.Fresh
		if !math.IsInf(out.BurnDay, 1) {
			burn[i] = 1
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}

	d := &Doubts{Draws: doubtDraws}
	logMass := make([]float64, doubtDraws)
	for i := range mass {
		logMass[i] = math.Log(mass[i])
		d.Burn += burn[i] / doubtDraws
	}
	share := func(x []float64) (m, k sensitivity.Share) { return sensitivity.Of(x, logMass), sensitivity.Of(x, burn) }
	for v, w := range values {
		item := Doubt{Name: w.name, Known: w.known, Act: w.act}
		item.Mass, item.Burn = share(moved[v])
		item.gains(left(w.after, w.sd))
		d.Items = append(d.Items, item)
	}
	lightItem := lightDoubt(o.m)
	lightItem.Mass, lightItem.Burn = share(ens.light)
	lightItem.gains(left(light.MeterSD, o.m.LevelSD()))
	d.Items = append(d.Items, lightItem)
	x := make([]float64, doubtDraws)
	for _, g := range traitGroups() {
		item := Doubt{Name: g.name, Known: g.known, Act: g.act}
		for _, t := range g.traits {
			for i := range ens.traits {
				x[i] = t.get(&ens.traits[i])
			}
			m, k := share(x)
			r := left(t.within, spreadOf(x))
			item.Mass, item.MassGain = plus(item.Mass, m), item.MassGain+m.Value*(1-r)
			item.Burn, item.BurnGain = plus(item.Burn, k), item.BurnGain+k.Value*(1-r)
		}
		d.Items = append(d.Items, item)
	}
	slices.SortStableFunc(d.Items, func(a, b Doubt) int {
		switch {
		case a.Gain() > b.Gain():
			return -1
		case a.Gain() < b.Gain():
			return 1
		}
		return 0
	})
	d.Mass, d.Alone = BandOf(mass), BandOf(alone)
	return d, nil
}

// left is the part of a variance that remains when a standard deviation falls
// from now to after.
func left(after, now float64) float64 {
	if !(now > 0) || after >= now {
		return 1
	}
	return after * after / (now * now)
}

func (d *Doubt) gains(left float64) {
	d.MassGain, d.BurnGain = d.Mass.Value*(1-left), d.Burn.Value*(1-left)
}

// plus adds the shares of independent inputs.
func plus(a, b sensitivity.Share) sensitivity.Share {
	return sensitivity.Share{Value: a.Value + b.Value, SE: math.Hypot(a.SE, b.SE)}
}

// spreadOf is the standard deviation of the logarithm.
func spreadOf(v []float64) float64 {
	var sum, sq float64
	for _, x := range v {
		l := math.Log(x)
		sum += l
		sq += l * l
	}
	n := float64(len(v))
	return math.Sqrt(max(sq/n-sum*sum/n/n, 0))
}

// lightDoubt is the level of the light.
func lightDoubt(m *light.Model) Doubt {
	d := Doubt{Name: "level of the light"}
	sd := quantity.Number(100*m.LevelSD(), 2) + " %"
	if n := len(m.Bench().Readings); n > 0 {
		d.Known = fmt.Sprintf("%s, taken as good to %s", count(n, "reading"), sd)
		d.Act = "compare the meter with another one; more readings narrow the map, not the meter"
	} else {
		d.Known = "from the labels of the lamps, taken as good to " + sd
		d.Act = "take four readings with a quantum meter and put them into the bench file"
	}
	return d
}

func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// describedValues are the values of the description that a cycle feels.
func describedValues(b *underlamp.Bench) []described {
	u := b.Units
	var out []described
	add := func(name, act, value string, o underlamp.Origin, g goodTo, scale quantity.Kind, turn func(*headcycle.Environment, *headcycle.Start, func(float64) float64)) {
		sd := g.of(o)
		good := quantity.Number(100*sd, 2) + " %"
		if !g.ratio {
			good = scale.Difference(sd, u, 2)
		}
		out = append(out, described{
			name: name, act: act, known: fmt.Sprintf("%s (%s), taken as good to %s", value, o, good),
			sd: sd, after: min(g.measured, sd), ratio: g.ratio, turn: turn,
		})
	}
	type env = headcycle.Environment
	type begin = headcycle.Start
	type by = func(float64) float64
	temperature := func(name, act string, g underlamp.Given[quantity.Celsius], turn func(*env, *begin, by)) {
		add(name, act, quantity.Temperature.Format(float64(g.Value), u, 3), g.Origin, temperatureGoodTo, quantity.Temperature, turn)
	}
	humidity := func(name, act string, g underlamp.Given[quantity.Fraction], turn func(*env, *begin, by)) {
		add(name, act, quantity.Share.Format(float64(g.Value), u, 3), g.Origin, humidityGoodTo, quantity.Share, turn)
	}
	wet := func(v float64) quantity.Fraction { return quantity.Fraction(min(max(v, 0.2), 0.995)) }

	temperature("temperature by day", "read a shaded thermometer among the heads while the lamps are on", b.Air.Day.Temperature,
		func(e *env, _ *begin, f by) { e.DayC = quantity.Celsius(f(float64(e.DayC))) })
	temperature("temperature by night", "read a thermometer among the heads before the lamps come on", b.Air.Night.Temperature,
		func(e *env, _ *begin, f by) { e.NightC = quantity.Celsius(f(float64(e.NightC))) })
	temperature("temperature of the feed", "hold a thermometer into the feed", b.Feed.RootTemp,
		func(e *env, _ *begin, f by) { e.Feed.RootC = f(e.Feed.RootC) })
	humidity("humidity by day", "read a hygrometer among the heads while the lamps are on; check it over wet salt", b.Air.Day.Humidity,
		func(e *env, _ *begin, f by) { e.DayRH = wet(f(float64(e.DayRH))) })
	humidity("humidity by night", "leave a logging hygrometer among the heads for some nights; check it over wet salt", b.Air.Night.Humidity,
		func(e *env, _ *begin, f by) { e.NightRH = wet(f(float64(e.NightRH))) })
	add("CO2", "put a CO2 meter beside the heads, away from your breath", quantity.GasShare.Format(float64(b.Air.CO2.Value), u, 3), b.Air.CO2.Origin, co2GoodTo, quantity.GasShare,
		func(e *env, _ *begin, f by) { e.CO2 = quantity.PPM(f(float64(e.CO2))) })
	add("air speed among the heads", "hold an anemometer over the hearts at several plants", quantity.AirSpeed.Format(float64(b.Air.Speed.Value), u, 2), b.Air.Speed.Origin, speedGoodTo, quantity.AirSpeed,
		func(e *env, _ *begin, f by) { e.Speed = quantity.MetrePerSecond(f(float64(e.Speed))) })
	add("calcium in the feed", "have the feed analysed, or work it out from water and salts", quantity.Concentration.Format(float64(b.Feed.Calcium.Value), u, 3), b.Feed.Calcium.Origin, feedGoodTo, quantity.Concentration,
		func(e *env, _ *begin, f by) { e.Feed.CalciumMgL = f(e.Feed.CalciumMgL) })
	add("EC of the feed", "hold a calibrated EC meter into the feed", quantity.Conductivity.Format(float64(b.Feed.EC.Value), u, 3), b.Feed.EC.Origin, feedGoodTo, quantity.Conductivity,
		func(e *env, _ *begin, f by) { e.Feed.EC = f(e.Feed.EC) })
	add("mass at transplanting", "weigh ten transplants", quantity.Mass.Format(float64(b.Crop.StartMass.Value), u, 2), b.Crop.StartMass.Origin, massGoodTo, quantity.Mass,
		func(_ *env, s *begin, f by) { s.FreshGrams = f(s.FreshGrams) })
	return out
}

// A traitGroup is traits of the crop that one and the same observation narrows.
type traitGroup struct {
	name, known, act string
	traits           []groupTrait
}

// A groupTrait is one trait with the spread of its logarithm over the plants of one
// crop, which no record of the crop takes away.
type groupTrait struct {
	get    func(*headcycle.Traits) float64
	within float64
}

func traitGroups() []traitGroup {
	w := headcycle.WithinCrop()
	const known = "what published trials leave open"
	return []traitGroup{
		{"how fast this crop grows here", known, "weigh some heads of a finished cycle and learn from it", []groupTrait{
			{func(t *headcycle.Traits) float64 { return t.Growth.Vigour }, w.Vigour},
			{func(t *headcycle.Traits) float64 { return t.Growth.RespShoot }, w.Respiration},
			{func(t *headcycle.Traits) float64 { return t.Growth.AreaScale }, w.AreaScale},
			{func(t *headcycle.Traits) float64 { return t.Growth.AreaLight }, w.AreaLight},
		}},
		{"water in the heads", known, "weigh some heads fresh, and again when dried at 70 °C", []groupTrait{
			{func(t *headcycle.Traits) float64 { return t.Growth.DryShare }, w.DryShare},
		}},
		{"calcium and the hearts of this cultivar", known, "note on every round which heads show burn, and learn from it", []groupTrait{
			{func(t *headcycle.Traits) float64 { return t.Heart.Need }, w.Need},
			{func(t *headcycle.Traits) float64 { return t.Heart.Bearing }, w.Bearing},
			{func(t *headcycle.Traits) float64 { return t.Heart.CloseMass }, w.CloseMass},
			{func(t *headcycle.Traits) float64 { return t.Heart.HeartResistance }, w.HeartResistance},
			{func(t *headcycle.Traits) float64 { return t.Heart.Sap }, w.Sap},
			{func(t *headcycle.Traits) float64 { return t.Heart.RootFlow }, w.RootFlow},
			{func(t *headcycle.Traits) float64 { return t.Heart.DryNight }, w.DryNight},
			{func(t *headcycle.Traits) float64 { return t.Heart.GrowthMax }, w.YoungGrowth},
		}},
	}
}

// Matters says that acting on the doubt would take a noticeable part of the
// variance away, and that this is more than chance.
func (d Doubt) Matters() bool {
	return zero(d.MassGain) > max(leastGain, 2*zero(d.Mass.SE)) || zero(d.BurnGain) > max(leastGain, 2*zero(d.Burn.SE))
}

// leastGain is the part of a variance that is worth a measurement. Common
// practice, no source: a twentieth narrows a band by a fortieth.
const leastGain = 0.03
