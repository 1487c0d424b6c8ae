package calibration

import (
	"math"

	"underlamp/science/calcium"
	"underlamp/science/headcycle"
	"underlamp/science/quantity"
)

// An Experiment is the conditions of one treatment.
type Experiment struct {
	PPFD                           float64 // µmol m⁻² s⁻¹
	Hours                          float64
	DayC                           float64
	NightC                         float64
	RootC                          float64 // of the solution; 0 means the mean of day and night
	DayRH                          float64 // 0 to 1
	NightRH                        float64
	CO2                            float64 // ppm
	Speed                          float64 // m s⁻¹
	Aim                            string  // of the fan: none, across, down
	Calcium                        float64 // of the feed, mg L⁻¹
	Ammonium, Potassium, Magnesium float64 // of the feed, mg L⁻¹
	EC                             float64 // mS cm⁻¹
	Density                        float64 // plants m⁻²
	StartG                         float64 // fresh shoot, g
	Days                           int
	Dim                            func(day int) float64 // factor on PPFD; nil means 1
	Tendency                       float64               // factor on the need of calcium; 0 means 1
}

// Usual is the assumption for everything that an abstract does not print.
func Usual() Experiment {
	return Experiment{
		PPFD: 250, Hours: 16, DayC: 22, NightC: 20, DayRH: 0.65, NightRH: 0.75, CO2: 450, Speed: 0.1, Aim: "none",
		Calcium: 100, Ammonium: 13, Potassium: 210, Magnesium: 24, EC: 1.4, Density: 25, StartG: 1.5, Days: 35,
	}
}

// With returns the experiment changed by f.
func (x Experiment) With(f func(*Experiment)) Experiment { f(&x); return x }

func (x Experiment) environment() headcycle.Environment {
	root := x.RootC
	if root == 0 {
		root = (x.DayC*x.Hours + x.NightC*(24-x.Hours)) / 24
	}
	return headcycle.Environment{
		Hours: quantity.Hours(x.Hours), CO2: quantity.PPM(x.CO2),
		DayC: quantity.Celsius(x.DayC), NightC: quantity.Celsius(x.NightC),
		DayRH: quantity.Fraction(x.DayRH), NightRH: quantity.Fraction(x.NightRH),
		Speed: quantity.MetrePerSecond(x.Speed), HeartShare: calcium.HeartShare(x.Aim),
		Feed: calcium.Feed{CalciumMgL: x.Calcium, AmmoniumMgL: x.Ammonium, PotassiumMgL: x.Potassium, MagnesiumMgL: x.Magnesium, EC: x.EC, RootC: root},
	}
}

// Run follows one plant with the traits given through the experiment.
func (x Experiment) Run(tr headcycle.Traits) headcycle.Outcome {
	if x.Tendency != 0 {
		tr.Heart.Need *= x.Tendency
	}
	pre := headcycle.Prepare(&tr, x.environment())
	var dim []float64
	if x.Dim != nil {
		dim = make([]float64, x.Days)
		for d := range dim {
			dim[d] = x.Dim(d)
		}
	}
	return headcycle.Run(&tr, &pre, headcycle.Flat(quantity.PPFD(x.PPFD)), headcycle.Start{FreshGrams: x.StartG, GroundM2: 1 / x.Density}, x.Days, dim, nil)
}

// Incident is the light of the whole experiment in mol m⁻².
func (x Experiment) Incident() float64 {
	sum := 0.0
	for d := range x.Days {
		f := 1.0
		if x.Dim != nil {
			f = x.Dim(d)
		}
		sum += f * float64(quantity.DailyLight(quantity.PPFD(x.PPFD), quantity.Hours(x.Hours)))
	}
	return sum
}

// A Crowd is what many plants did under one experiment.
type Crowd struct {
	Chance  float64 // share of plants with visible burn at harvest
	Onset   float64 // mean day of first burn among the burnt; NaN if none
	OnsetSD float64
	Leaves  float64 // mean share of leaves with burn
	Low     float64 // that share at the 6th and the 94th percentile of plants
	High    float64
	Calcium float64 // mean of young leaves at harvest, mg per g
	Uptake  float64 // mean calcium taken up, mg per plant
	Fresh   float64 // mean, g
	Dry     float64 // mean shoot, g
	Growth  float64 // mean relative growth rate of young leaves at harvest, per day
}

// Watch runs the experiment with every plant given.
func (x Experiment) Watch(plants []headcycle.Traits) Crowd {
	var c Crowd
	n := float64(len(plants))
	var onsets []float64
	leaves := make([]float64, 0, len(plants))
	for _, p := range plants {
		o := x.Run(p)
		if !math.IsInf(o.BurnDay, 1) {
			onsets = append(onsets, o.BurnDay)
		}
		leaves = append(leaves, o.Burnt)
		c.Leaves += o.Burnt / n
		c.Calcium += o.Last.Calcium / n
		c.Uptake += o.Uptake / n
		c.Fresh += o.Last.Fresh / n
		c.Dry += o.Last.Dry / n
		c.Growth += o.Last.Growth / n
	}
	c.Chance = float64(len(onsets)) / n
	c.Onset, c.OnsetSD = meanSD(onsets)
	c.Low, c.High = percentile(leaves, 0.06), percentile(leaves, 0.94)
	return c
}
