package outlook

import (
	"math"
	"slices"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/energycost"
	"underlamp/science/headcycle"
	"underlamp/science/leafenergy"
	"underlamp/science/marginburn"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

// Draws of a forecast that is shown to a person.
const Draws = 1000

// A Forecast is what one setting brings to harvest.
type Forecast struct {
	Setting underlamp.Setting
	Day     quantity.Hours // the light day
	Days    int            // to harvest
	Heads   float64        // planted on the bench

	AtSurface float64 // mean PPFD at the planting surface over the light day

	Course []DayBand // one entry a day, from day 1 after transplanting

	Fresh    Band // fresh mass of a head at harvest, mean over the bench, g
	Dry      Band // dry shoot, g
	Height   Band // m
	LeafArea Band // m² per plant
	LAI      float64
	Water    Band // per head to harvest, L

	Chance     float64 // of visible inner burn at harvest, mean over plants
	ChanceSE   float64 // standard error of that mean from the number of draws
	ChanceLow  float64 // of the class with the least light
	ChanceHigh float64 // of the class with the most light
	FirstBurn  Band    // day of first burn among heads that burn; NaN where fewer than 1 % do
	Burnt      float64 // mean share of leaves with burn
	Severity   Band    // of burn over plants and draws, grades 0 to 5; the middle is the mean

	Margins marginburn.Risk // of burnt outer margins, by salt and dry air

	Loose float64 // share of heads that dim light leaves loose or twisted
	Light float64 // share of heads below the smallest saleable mass
	Sold  float64 // share of heads that are saleable: heavy enough, compact, no visible burn

	Energy  Energy
	Account Account

	Saleable float64 // saleable fresh mass of the whole bench, g, mean of the draws
	PerKWh   Band    // saleable g per kWh

	draws []drawResult
}

// A Band is a median with the interval that holds 90 % of the draws.
type Band struct{ Low, Mid, High float64 }

// DayBand is one day of the course, as the mean plant sees it.
type DayBand struct {
	Day      int
	PPFD     float64 // at the top of the canopy, mean of the draws
	DLI      float64
	Fresh    Band // g
	Dry      Band // g
	LeafArea Band // m²
	Height   Band // m
	Water    Band // g per plant and day
	Night    Band // of it in the dark
	Calcium  Band // of young leaves, mg per g dry
	Supply   Band // mg that arrive per g of new young leaf
	Need     Band // mg per g of new young leaf below which it suffers
	Chance   float64
}

// Energy is the electricity of a cycle.
type Energy struct {
	Power   quantity.Watt         // drawn at the setting while the lamps are on
	KWh     quantity.KilowattHour // whole cycle
	PerHead quantity.KilowattHour
	Money   float64              // whole cycle, in the currency of the price
	PerHour float64              // mean price of a kWh while the lamps burn
	Light   []energycost.Stretch // when the lamps had best burn; nil without a tariff, or where lamps burn for different hours
	PerKg   float64              // money per kg of saleable mass; +Inf if nothing is saleable
	Fresh   float64              // g of fresh mass, saleable or not, per kWh
}

// drawResult is the mean over the classes of one draw.
type drawResult struct {
	fresh, saleable, sold, chance float64
	income                        float64 // of the mean plant
}

// An Outlook answers questions about one bench: it holds the light model and
// the draws, so that many settings share them.
type Outlook struct {
	m    *light.Model
	b    *underlamp.Bench
	from Source
	ens  ensemble

	hanging *hangingLight // found when somebody turns the air alone
}

// New prepares the outlook of a bench with n draws; 0 means [Draws]. The plants are
// drawn from its profile, if it has one.
func New(m *light.Model, n int) (*Outlook, error) {
	from, err := SourceOf(m.Bench())
	if err != nil {
		return nil, err
	}
	return NewFrom(m, n, from)
}

// NewFrom is [New] with plants from another source.
//
// Its error is a [*NotSupported] for species whose growth is not known.
func NewFrom(m *light.Model, n int, from Source) (*Outlook, error) {
	if err := Supported(m.Bench()); err != nil {
		return nil, err
	}
	if len(m.Bench().Plants) == 0 {
		return nil, errNoPlants
	}
	if n <= 0 {
		n = Draws
	}
	return &Outlook{m: m, b: m.Bench(), from: from, ens: newEnsemble(m, n, from), hanging: &hangingLight{}}, nil
}

// Forecast computes what a setting brings; nil asks for that of the bench.
func (o *Outlook) Forecast(change *underlamp.Setting) (*Forecast, error) {
	b := o.b
	if change != nil {
		b = b.With(*change)
	}
	s := b.Setting()
	lit, err := o.m.At(s.Height)
	if err != nil {
		return nil, err
	}
	var profiles [][]float64
	day := s.Hours
	if change == nil {
		profiles, day = lit.ClosingProfilesNow(levelSpacing, levelCount)
	} else {
		profiles = lit.ClosingProfiles(levelSpacing, levelCount)
		share := float64(b.LightAt(s.Dimming))
		for _, p := range profiles {
			for z := range p {
				p[z] *= share
			}
		}
	}
	classes := classesOf(profiles, maxClasses)
	f := o.run(b, standOf(b), classes, environment(b, day), o.ens, true)
	f.AtSurface = meanClass(classes).Levels[0]
	f.Setting, f.Day, f.Margins = s, day, margins(b)
	o.account(b, f)
	return f, nil
}

// ForecastPlan computes what a plan brings, with all draws.
func (o *Outlook) ForecastPlan(p Plan) (*Forecast, error) {
	b := o.applied(p)
	lit, err := o.m.At(p.Height)
	if err != nil {
		return nil, err
	}
	profiles := lit.ClosingProfiles(levelSpacing, levelCount)
	share := float64(b.LightAt(p.Dimming))
	for _, profile := range profiles {
		for z := range profile {
			profile[z] *= share
		}
	}
	classes := classesOf(profiles, maxClasses)
	f := o.run(b, stand{o.begin(p), o.heads(p)}, classes, environment(b, p.Hours), o.ens, true)
	f.AtSurface = meanClass(classes).Levels[0]
	f.Setting, f.Day, f.Margins = p.Setting, p.Hours, margins(b)
	o.account(b, f)
	return f, nil
}

// A stand is how the plants begin and how many there are.
type stand struct {
	start headcycle.Start
	heads float64
}

func standOf(b *underlamp.Bench) stand { return stand{start(b), float64(len(b.Plants))} }

// run carries the ensemble through the cycle in every class.
func (o *Outlook) run(b *underlamp.Bench, who stand, classes []class, env headcycle.Environment, ens ensemble, withCourse bool) *Forecast {
	days := b.Crop.Days.Value
	st := who.start
	n, k := len(ens.traits), len(classes)
	outcomes := make([]headcycle.Outcome, n*k)
	var courses []headcycle.Day // of the mean plant, by draw
	mean := meanClass(classes)
	if withCourse {
		courses = make([]headcycle.Day, n*days)
	}
	meanOutcome := make([]headcycle.Outcome, n)
	parallel(n, func(i int) {
		tr := &ens.traits[i]
		pre := headcycle.Prepare(tr, env)
		buf := make([]float64, 0, 2*levelCount)
		for c, cl := range classes {
			outcomes[i*k+c] = headcycle.Run(tr, &pre, scaled(buf, cl.profile, ens.light[i]), st, days, nil, nil)
		}
		if withCourse {
			meanOutcome[i] = headcycle.Run(tr, &pre, scaled(buf, mean, ens.light[i]), st, days, nil, courses[i*days:(i+1)*days])
		}
	})

	terms := termsOf(b)
	f := &Forecast{Days: days, Heads: who.heads, draws: make([]drawResult, n)}
	burnDays := []float64{}
	chance := make([]float64, k)
	leaves := 0.0
	var grades [6]float64 // share of plants by severity
	for i := range n {
		d := &f.draws[i]
		for c, cl := range classes {
			out := &outcomes[i*k+c]
			d.fresh += cl.share * out.Last.Fresh
			if out.Loose {
				f.Loose += cl.share / float64(n)
			}
			if out.Last.Fresh < float64(b.Crop.Saleable.Value) {
				f.Light += cl.share / float64(n)
			}
			leaves += cl.share * out.Burnt / float64(n)
			grades[out.Grade] += cl.share / float64(n)
			if !math.IsInf(out.BurnDay, 1) {
				burnDays = append(burnDays, out.BurnDay)
				chance[c] += 1 / float64(n)
				d.chance += cl.share
			} else if out.Last.Fresh >= float64(b.Crop.Saleable.Value) && !out.Loose {
				d.saleable += cl.share * out.Last.Fresh
				d.sold += cl.share
				d.income += cl.share * terms.Price(out.Last.Fresh)
			}
		}
	}
	f.Burnt, f.Severity = leaves, severityOf(grades)
	var sum, sq float64
	for _, d := range f.draws {
		f.Sold += d.sold / float64(n)
		f.Saleable += d.saleable / float64(n) * f.Heads
		sum += d.chance
		sq += d.chance * d.chance
	}
	f.Chance = sum / float64(n)
	f.ChanceSE = math.Sqrt(max(sq/float64(n)-f.Chance*f.Chance, 0) / float64(n))
	f.ChanceLow, f.ChanceHigh = chance[0], chance[k-1]
	f.FirstBurn = Band{math.NaN(), math.NaN(), math.NaN()}
	if float64(len(burnDays)) >= 0.01*float64(n*k) {
		f.FirstBurn = BandOf(burnDays)
	}
	f.Fresh = BandOf(column(f.draws, func(d drawResult) float64 { return d.fresh }))
	if withCourse {
		o.fillCourse(f, b, env, st, ens, courses, meanOutcome, burnDays, float64(n*k))
	}
	return f
}

// severityOf is the mean grade with the grades between which 90 % of the plants lie.
func severityOf(share [6]float64) Band {
	b := Band{Low: -1, High: -1}
	below := 0.0
	for g, s := range share {
		b.Mid += float64(g) * s
		below += s
		if b.Low < 0 && below > 0.05 {
			b.Low = float64(g)
		}
		if b.High < 0 && below >= 0.95-1e-9 {
			b.High = float64(g)
		}
	}
	return b
}

// margins is the risk of burnt outer margins on a bench.
func margins(b *underlamp.Bench) marginburn.Risk {
	day := b.Air.Day
	vpd := moistair.VPD(day.Temperature.Value, day.Humidity.Value)
	return marginburn.Of(float64(b.Feed.EC.Value), float64(vpd), func(kPa float64) float64 {
		return leafenergy.DryAirOpening(quantity.Kilopascal(kPa))
	})
}

func (o *Outlook) fillCourse(f *Forecast, b *underlamp.Bench, env headcycle.Environment, st headcycle.Start, ens ensemble, courses []headcycle.Day, ends []headcycle.Outcome, burnDays []float64, runs float64) {
	n, days := len(ens.traits), f.Days
	slices.Sort(burnDays)
	needs := make([]float64, n)
	for i := range needs {
		needs[i] = ens.traits[i].Heart.Need
	}
	need := BandOf(needs)
	buf := make([]float64, n)
	at := func(d int, pick func(*headcycle.Day) float64) Band {
		for i := range n {
			buf[i] = pick(&courses[i*days+d])
		}
		return BandOf(buf)
	}
	for d := range days {
		e := 0.0
		for i := range n {
			e += courses[i*days+d].PPFD / float64(n)
		}
		burnt, _ := slices.BinarySearch(burnDays, float64(d+1)+1e-9)
		f.Course = append(f.Course, DayBand{
			Day: d + 1, PPFD: e, DLI: float64(quantity.DailyLight(quantity.PPFD(e), env.Hours)),
			Fresh:    at(d, func(c *headcycle.Day) float64 { return c.Fresh }),
			Dry:      at(d, func(c *headcycle.Day) float64 { return c.Dry }),
			LeafArea: at(d, func(c *headcycle.Day) float64 { return c.LeafArea }),
			Height:   at(d, func(c *headcycle.Day) float64 { return c.Height }),
			Water:    at(d, func(c *headcycle.Day) float64 { return c.Water }),
			Night:    at(d, func(c *headcycle.Day) float64 { return c.Night }),
			Calcium:  at(d, func(c *headcycle.Day) float64 { return c.Calcium }),
			Supply:   at(d, func(c *headcycle.Day) float64 { return c.Supply }),
			Need:     need,
			Chance:   float64(burnt) / runs,
		})
	}
	last := f.Course[days-1]
	f.Dry, f.Height, f.LeafArea = last.Dry, last.Height, last.LeafArea
	f.LAI = f.LeafArea.Mid / st.GroundM2
	for i := range n {
		buf[i] = ends[i].Water / 1000
	}
	f.Water = BandOf(buf)
}

// meanClass is the mean plant.
func meanClass(classes []class) headcycle.Profile {
	one := classes[0].profile
	both := make([]float64, len(one.Levels)+len(one.Closed))
	for _, c := range classes {
		for z, v := range c.profile.Levels {
			both[z] += c.share * v
		}
		for z, v := range c.profile.Closed {
			both[levelCount+z] += c.share * v
		}
	}
	return profileOf(both)
}

// energyOf adds up the electricity of a cycle.
func energyOf(b *underlamp.Bench, f *Forecast) Energy {
	var e Energy
	for _, l := range b.Lamps {
		p := l.Draw(l.Dimming.Value)
		e.Power += p
		e.KWh += energycost.LampEnergy(p, l.Hours.Value, float64(f.Days))
	}
	e.PerHead = e.KWh / quantity.KilowattHour(f.Heads)
	priceOf(b, f, &e)
	if e.KWh > 0 {
		total := 0.0
		for _, d := range f.draws {
			total += d.fresh / float64(len(f.draws)) * f.Heads
		}
		e.Fresh = total / float64(e.KWh)
	}
	e.PerKg = math.Inf(1)
	if f.Saleable > 0 {
		e.PerKg = e.Money / (f.Saleable / 1000)
	}
	return e
}

// perKWh is the band of saleable mass per kWh over the draws, its middle the
// mean: a grower's yield is a sum over heads.
func (o *Outlook) perKWh(f *Forecast) Band {
	kwh := float64(f.Energy.KWh)
	if kwh <= 0 {
		return Band{math.NaN(), math.NaN(), math.NaN()}
	}
	per := column(f.draws, func(d drawResult) float64 { return d.saleable * f.Heads / kwh })
	b := BandOf(per)
	b.Mid = f.Saleable / kwh
	return b
}

func column(d []drawResult, pick func(drawResult) float64) []float64 {
	out := make([]float64, len(d))
	for i, v := range d {
		out[i] = pick(v)
	}
	return out
}

// BandOf is the median and the 5th and 95th percentile. It sorts v.
func BandOf(v []float64) Band {
	slices.Sort(v)
	q := func(p float64) float64 {
		at := p * float64(len(v)-1)
		i := int(at)
		if i+1 >= len(v) {
			return v[len(v)-1]
		}
		return v[i] + (at-float64(i))*(v[i+1]-v[i])
	}
	return Band{Low: q(0.05), Mid: q(0.5), High: q(0.95)}
}
