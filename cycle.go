package underlamp

import "underlamp/science/quantity"

// A Cycle is one crop on one bench, as it was done: running, or finished with a
// harvest.
type Cycle struct {
	Name     string // as a person calls it: "Autumn, top tier"
	Note     string
	Bench    string // name of the bench file
	Cultivar string // if it is not that of the bench file
	Units    quantity.System

	Transplanted string // YYYY-MM-DD; day 0
	Harvested    string // empty while the cycle runs
	Days         int    // from transplanting to harvest; 0 while it runs

	StartMass *Given[quantity.Gram] // fresh shoot at transplanting, if it was weighed; nil: that of the bench file

	Changes      []Change      // by day
	Observations []Observation // those that count, by day
	Withdrawn    []Observation // corrected by another, or struck out
}

// LastDay is the last day of which the cycle tells something: that of harvest, or
// of the last observation or change.
func (c *Cycle) LastDay() int {
	last := c.Days
	for _, o := range c.Observations {
		last = max(last, o.Day)
	}
	for _, ch := range c.Changes {
		last = max(last, ch.Day)
	}
	return last
}

// An Observation is what somebody saw of one plant, or counted over the bench, on
// one day. The day counts from transplanting: an observation of day 14 is of a
// plant that has stood under the lamps for 14 days.
type Observation struct {
	Name  string
	Date  string // YYYY-MM-DD
	Day   int
	Plant string // empty for a count over the bench, and for a mean of its heads
	Heads int    // number of heads that Mass is the mean of; 0: it is of Plant

	Mass   *quantity.Gram  // fresh shoot
	Height *quantity.Metre // above the planting surface
	Leaves *int
	Burn   *Burn
	Count  *BurnCount
	Cut    bool // the plant was taken; nothing is seen of it afterwards

	MassError   quantity.Gram  // standard deviation of the instrument; 0: not said
	HeightError quantity.Metre // the same for lengths

	By, With, Note string
	Line           int // in the cycle file, for messages
}

// A Burn is what was seen of inner tipburn on one plant: a number of leaves, a
// severity, or only that there was some.
type Burn struct {
	Leaves   int  // burnt leaves
	Severity int  // 0 to MaxSeverity
	Scored   bool // by severity, not by counting leaves
	Some     bool // seen, but not how much
}

// Seen says that there was any.
func (b Burn) Seen() bool { return b.Leaves > 0 || b.Severity > 0 || b.Some }

// MaxSeverity is the highest severity of a burn, by the grades of package calcium: 0
// none seen, 1 less than 5 % of the leaves, 2 from 5 %, 3 from 15 %, 4 from 30 %, 5 from
// 50 %. The bounds are our own, no source.
const MaxSeverity = 5

// A BurnCount is how many heads of those looked at had inner tipburn.
type BurnCount struct{ Burnt, Of int }

// A Change is what was set anew on one day, and holds from that day on. What is
// nil stays.
type Change struct {
	Date string // YYYY-MM-DD
	Day  int    // from transplanting; the light of this day is the first that it holds for
	Note string
	Line int

	Height  *Given[quantity.Metre]    // mean of the lamps
	Dimming *Given[quantity.Fraction] // of every lamp
	Hours   *Given[quantity.Hours]    // of every lamp

	Fan                              *Given[FanAim]
	Speed                            *Given[quantity.MetrePerSecond]
	CO2                              *Given[quantity.PPM]
	DayTemperature, NightTemperature *Given[quantity.Celsius]
	DayHumidity, NightHumidity       *Given[quantity.Fraction]

	Calcium, Ammonium, Potassium, Magnesium *Given[quantity.MilligramPerLitre]
	EC                                      *Given[quantity.MillisiemensPerCm]
	RootTemp                                *Given[quantity.Celsius]
}

// After returns a copy of the bench after a change. Lamps that hung at different
// heights keep their differences.
func (b *Bench) After(c Change) *Bench {
	s := b.Setting()
	put(&s.Height, c.Height)
	put(&s.Dimming, c.Dimming)
	put(&s.Hours, c.Hours)
	out := *b
	if c.Height != nil || c.Dimming != nil || c.Hours != nil {
		turned := b.With(s)
		out.Lamps = turned.Lamps
		for i := range out.Lamps { // what was not turned stays apart from lamp to lamp
			if c.Dimming == nil {
				out.Lamps[i].Dimming = b.Lamps[i].Dimming
			}
			if c.Hours == nil {
				out.Lamps[i].Hours = b.Lamps[i].Hours
			}
		}
	}
	a := &out.Air
	replace(&a.Fan, c.Fan)
	replace(&a.Speed, c.Speed)
	if c.Fan != nil && c.Speed == nil && b.Air.Speed.IsDefault() {
		a.Speed = UsualSpeed(c.Fan.Value)
	}
	replace(&a.CO2, c.CO2)
	replace(&a.Day.Temperature, c.DayTemperature)
	replace(&a.Night.Temperature, c.NightTemperature)
	replace(&a.Day.Humidity, c.DayHumidity)
	replace(&a.Night.Humidity, c.NightHumidity)
	f := &out.Feed
	if c.EC != nil && f.EC.Value > 0 { // ions that nobody gave go with the EC
		for _, ion := range []*Given[quantity.MilligramPerLitre]{&f.Ammonium, &f.Potassium, &f.Magnesium} {
			if ion.IsDefault() {
				ion.Value *= quantity.MilligramPerLitre(c.EC.Value / f.EC.Value)
			}
		}
	}
	replace(&f.EC, c.EC)
	replace(&f.Calcium, c.Calcium)
	replace(&f.Ammonium, c.Ammonium)
	replace(&f.Potassium, c.Potassium)
	replace(&f.Magnesium, c.Magnesium)
	if f.RootTemp.IsDefault() { // nobody gave it: as warm as the air
		f.RootTemp.Value += out.meanAir() - b.meanAir()
	}
	replace(&f.RootTemp, c.RootTemp)
	return &out
}

// meanAir is the temperature of the air over day and night.
func (b *Bench) meanAir() quantity.Celsius {
	light := quantity.Celsius(b.Setting().Hours / 24)
	return light*b.Air.Day.Temperature.Value + (1-light)*b.Air.Night.Temperature.Value
}

// UsualSpeed is the air speed among the plants when nobody gave it.
func UsualSpeed(fan FanAim) Given[quantity.MetrePerSecond] {
	if fan == NoFan {
		return Assumed[quantity.MetrePerSecond](0.1, "a room without a fan; common practice, no source")
	}
	return Assumed[quantity.MetrePerSecond](0.3, "a fan on the plants; common practice, no source")
}

func put[T any](to *T, from *Given[T]) {
	if from != nil {
		*to = from.Value
	}
}

func replace[T any](to *Given[T], from *Given[T]) {
	if from != nil {
		*to = *from
	}
}
