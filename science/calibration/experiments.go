package calibration

import (
	"math"

	"underlamp/science/cropgrowth"
	"underlamp/science/headcycle"
	"underlamp/science/quantity"
)

// Carotti is the trial of Carotti2021 at one PPFD and air temperature: 16 h, 29
// days after transplanting, CO2 not limiting (1200 ppm assumed), roots at air
// temperature.
func Carotti(base Experiment, ppfd, airC float64) Experiment {
	return base.With(func(x *Experiment) {
		x.PPFD, x.Hours, x.Days, x.CO2 = ppfd, 16, 29, 1200
		x.DayC, x.NightC, x.RootC = airC, airC, airC
	})
}

var carottiAirC = [4]float64{20, 24, 28, 32}

// CarottiDry is the dry shoot per incident light in g mol⁻¹, mean of the four
// air temperatures.
func CarottiDry(tr headcycle.Traits, ppfd float64, base Experiment) float64 {
	dry, _ := carottiMean(tr, ppfd, base)
	return dry
}

// CarottiFresh is the same for the fresh shoot.
func CarottiFresh(tr headcycle.Traits, ppfd float64, base Experiment) float64 {
	_, fresh := carottiMean(tr, ppfd, base)
	return fresh
}

func carottiMean(tr headcycle.Traits, ppfd float64, base Experiment) (dry, fresh float64) {
	for _, t := range carottiAirC {
		x := Carotti(base, ppfd, t)
		o := x.Run(tr)
		perMol := x.Density / x.Incident() / float64(len(carottiAirC))
		dry += o.Last.Dry * perMol
		fresh += o.Last.Fresh * perMol
	}
	return dry, fresh
}

// ErtleKubota is the burn-inducing chamber of ErtleKubota2023a and 2023b: 17.4
// mol m⁻² d⁻¹ for 28 days. "Low evaporation" is assumed to be 85 % humidity by
// day and night in still air, "fairly fast growth" 24 and 22 °C.
func ErtleKubota() Experiment {
	return Usual().With(func(x *Experiment) {
		x.PPFD, x.Hours, x.Days = float64(quantity.ConstantPPFD(17.4, 16)), 16, 28
		x.DayC, x.NightC = 24, 22
		x.DayRH, x.NightRH = 0.85, 0.85
	})
}

// A Cultivar is one cultivar of which a trial tells how it fared in the control.
type Cultivar struct {
	central headcycle.Traits
	plants  []headcycle.Traits
}

// CultivarOf finds the cultivar whose plants show the share of burnt leaves given, on
// the mean of the control treatments: its need of calcium is moved until they do. The
// plants of one crop vary less than cultivars do, see headcycle.WithinCrop. What the same
// cultivar does in another treatment is then a result of the model.
func CultivarOf(central headcycle.Traits, leaves float64, controls ...Experiment) Cultivar {
	of := func(tendency float64) Cultivar {
		tr := central
		tr.Heart.Need *= tendency
		return Cultivar{central: tr, plants: headcycle.WithinCrop().Draws(tr, cultivarPlants, crowdSeed)}
	}
	share := func(c Cultivar) float64 {
		sum := 0.0
		for _, x := range controls {
			sum += c.Watch(x).Leaves / float64(len(controls))
		}
		return sum
	}
	lo, hi := 0.3, 3.0
	for range 14 {
		mid := (lo + hi) / 2
		if share(of(mid)) < leaves {
			lo = mid
		} else {
			hi = mid
		}
	}
	return of((lo + hi) / 2)
}

const cultivarPlants = 100

// Watch runs an experiment with plants of the cultivar.
func (c Cultivar) Watch(x Experiment) Crowd { return x.Watch(c.plants) }

// Need is the need of calcium of the cultivar relative to that of other traits.
func (c Cultivar) Need(central headcycle.Traits) float64 {
	return c.central.Heart.Need / central.Heart.Need
}

// CollierTibbitts is the chamber of CollierTibbitts1984: romaine, 320 µmol over
// 16 h, 26 and 12.5 °C, by day 74 % humidity, by night as given.
func CollierTibbitts(nightRH float64) Experiment {
	return Usual().With(func(x *Experiment) {
		x.PPFD, x.Hours, x.DayC, x.NightC, x.DayRH, x.NightRH = 320, 16, 26, 12.5, 0.74, nightRH
	})
}

// A WinterCrop is a greenhouse crop of VanHenten1994. Its light was printed as a
// figure only. The course is taken as half-sine days whose peak and length run
// linearly from the first to the last day at 52° north, and its level is set so
// that the published model, with the published parameters, gives the result that
// the paper printed for it. So the measured mass, which judges, does not enter.
type WinterCrop struct {
	FirstPeak, LastPeak   float64 // W m⁻² of PAR, before the level is set
	FirstHours, LastHours float64
	Days                  int
	StartDry              float64 // g per plant, root and shoot
	PrintedModel          float64 // g per plant at the end, VanHenten1994, figure 3
}

// WinterNorden is experiment 2 (January to March), WinterBerlo experiment 1
// (October to December).
func WinterNorden() WinterCrop {
	return WinterCrop{FirstPeak: 35, LastPeak: 90, FirstHours: 8.5, LastHours: 11.9, Days: 56, StartDry: 0.04, PrintedModel: 9.9}
}

// WinterBerlo is experiment 1 of VanHenten1994.
func WinterBerlo() WinterCrop {
	return WinterCrop{FirstPeak: 60, LastPeak: 27, FirstHours: 10.6, LastHours: 7.7, Days: 61, StartDry: 0.15, PrintedModel: 6.8}
}

// Climate of both crops: day at least 14 °C (17 assumed), night 10 °C, CO2 up to
// 750 ppm by day (600 assumed), 18 plants per m².
const (
	winterDayC, winterNightC     = 17, 10
	winterDayCO2, winterNightCO2 = 600, 400
	winterDensity                = 18
	winterSlices                 = 24 // of each day and night
)

func (w WinterCrop) day(d int, level float64) (peak, hours float64) {
	x := float64(d) / float64(w.Days-1)
	return level * (w.FirstPeak + (w.LastPeak-w.FirstPeak)*x), w.FirstHours + (w.LastHours-w.FirstHours)*x
}

// level is the factor on the light under which the published model gives the
// published result.
func (w WinterCrop) level() float64 {
	p := cropgrowth.VanHenten()
	day, night := p.Exchange(winterDayCO2, winterDayC), p.Exchange(winterNightCO2, winterNightC)
	run := func(level float64) float64 {
		c := cropgrowth.Canopy{NonStructural: 0.25 * w.StartDry * winterDensity, Structural: 0.75 * w.StartDry * winterDensity}
		step := func(e cropgrowth.Exchange, par, seconds float64) {
			dn, ds := p.Rates(c, e, par)
			c.NonStructural += dn * seconds
			c.Structural += ds * seconds
		}
		for d := range w.Days {
			peak, hours := w.day(d, level)
			for i := range winterSlices {
				step(day, peak*halfSine(i), hours*3600/winterSlices)
			}
			for range winterSlices {
				step(night, 0, (24-hours)*3600/winterSlices)
			}
		}
		return c.Total() / winterDensity
	}
	lo, hi := 0.05, 4.0
	for range 50 {
		mid := (lo + hi) / 2
		if run(mid) < w.PrintedModel {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

func halfSine(i int) float64 { return math.Sin(math.Pi * (float64(i) + 0.5) / winterSlices) }

// A WinterDay is the mean plant of a winter crop at the end of a day.
type WinterDay struct {
	Dry      float64 // root and shoot, g
	LeafArea float64 // m²
}

// WinterCourse follows a winter crop with the traits given; element d is day d+1.
func WinterCourse(tr headcycle.Traits, w WinterCrop) []WinterDay {
	level := w.level()
	g := &tr.Growth
	shoot := w.StartDry * (1 - g.RootShare)
	head := cropgrowth.NewHead(g, shoot/g.DryMax, 1.0/winterDensity)
	day, night := g.Exchange(winterDayCO2, winterDayC), g.Exchange(winterNightCO2, winterNightC)
	course := make([]WinterDay, w.Days)
	for d := range course {
		peak, hours := w.day(d, level)
		mean := peak * 2 / math.Pi / cropgrowth.ParPerPhoton
		head.SetLight(g, float64(quantity.DailyLight(quantity.PPFD(mean), quantity.Hours(hours))))
		for i := range winterSlices {
			head.Step(g, &day, peak*halfSine(i)/cropgrowth.ParPerPhoton, hours*3600/winterSlices)
		}
		head.Step(g, &night, 0, (24-hours)*3600)
		course[d] = WinterDay{Dry: head.ShootDry(g) / (1 - g.RootShare), LeafArea: head.LeafArea(g)}
	}
	return course
}

// Winter is the total dry mass (root and shoot) in g per plant that the traits
// give for a winter crop.
func Winter(tr headcycle.Traits, w WinterCrop) float64 {
	return WinterCourse(tr, w)[w.Days-1].Dry
}
