package outlook

import (
	"errors"
	"runtime"
	"slices"
	"sync"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/calcium"
	"underlamp/science/headcycle"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

// seed of all draws: see the package comment.
const seed = 20

// Levels of height at which the light over the canopy is computed.
const (
	levelSpacing = 0.03 // m
	levelCount   = 14
)

// maxClasses is the number of light classes that plants are taken together in.
const maxClasses = 6

// A class is plants of about equal light.
type class struct {
	profile headcycle.Profile // mean of its plants
	share   float64           // of all plants
}

// classesOf sorts plants by their light and cuts them into at most n classes of
// equal number.
func classesOf(profiles [][]float64, n int) []class {
	order := make([]int, len(profiles))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case profiles[a][0] < profiles[b][0]:
			return -1
		case profiles[a][0] > profiles[b][0]:
			return 1
		}
		return 0
	})
	k := min(n, len(order))
	out := make([]class, 0, k)
	for c := range k {
		members := order[c*len(order)/k : (c+1)*len(order)/k]
		mean := make([]float64, len(profiles[0]))
		for _, i := range members {
			for z, v := range profiles[i] {
				mean[z] += v / float64(len(members))
			}
		}
		out = append(out, class{
			profile: profileOf(mean),
			share:   float64(len(members)) / float64(len(order)),
		})
	}
	return out
}

// tendencyFactor is what a tendency does to the need of calcium.
//
// Assumed, no source for the figures: about one standard deviation of the need
// over cultivars either way.
func tendencyFactor(t underlamp.Tendency) float64 {
	switch t {
	case underlamp.Tolerant:
		return 0.85
	case underlamp.Prone:
		return 1.18
	}
	return 1
}

// central are the traits of the bench's crop: those of lettuce with what is
// published of its head type.
func central(b *underlamp.Bench) headcycle.Traits {
	tr := headcycle.Lettuce()
	for _, f := range factors(b) {
		f.trait.Multiply(&tr, f.Value)
		if f.Enters == "DryShare" {
			// The heart closes at the dry mass at which lettuce's does: burn must not
			// move with the head type, which did not explain it (ErtleKubota2023a).
			tr.Heart.CloseMass /= f.Value
		}
	}
	tr.Heart.Need *= tendencyFactor(b.Crop.Tendency.Value)
	return tr
}

// environment is the air and feed of the bench at a length of day.
func environment(b *underlamp.Bench, day quantity.Hours) headcycle.Environment {
	return headcycle.Environment{
		Hours: day, CO2: b.Air.CO2.Value,
		DayC: b.Air.Day.Temperature.Value, NightC: b.Air.Night.Temperature.Value,
		DayRH: b.Air.Day.Humidity.Value, NightRH: b.Air.Night.Humidity.Value,
		Speed: b.Air.Speed.Value, HeartShare: calcium.HeartShare(string(b.Air.Fan.Value)),
		Pressure: moistair.Pressure(b.Air.Altitude.Value),
		Feed: calcium.Feed{
			CalciumMgL: float64(b.Feed.Calcium.Value), AmmoniumMgL: float64(b.Feed.Ammonium.Value), PotassiumMgL: float64(b.Feed.Potassium.Value),
			MagnesiumMgL: float64(b.Feed.Magnesium.Value), EC: float64(b.Feed.EC.Value), RootC: float64(b.Feed.RootTemp.Value),
		},
	}
}

// start is how the bench's plants begin. The ground of a plant is the planting
// surface shared out, at most 0.09 m²: a lone plant does not own the shelf.
func start(b *underlamp.Bench) headcycle.Start {
	ground := float64(b.Space.Width) * float64(b.Space.Depth) / float64(max(1, len(b.Plants)))
	s := headcycle.Start{FreshGrams: float64(b.Crop.StartMass.Value), GroundM2: min(ground, 0.09)}
	for _, stand := range b.Crop.Spacing {
		s.Before = append(s.Before, headcycle.Stand{Until: stand.Until, GroundM2: 1 / stand.Density})
	}
	return s
}

// An ensemble is the draws of a forecast.
type ensemble struct {
	traits []headcycle.Traits
	light  []float64 // factor on all PPFD, from the uncertainty of the light level
}

func newEnsemble(m *light.Model, n int, from Source) ensemble {
	return ensemble{traits: from.Traits(n, seed), light: LightFactors(m, n)}
}

// errNoPlants cannot come from a bench file, whose reader refuses it.
var errNoPlants = errors.New("the bench has no plants, so there is nothing to forecast")

// parallel runs f(i) for i in 0..n-1 on all processors. Results go by index, so
// the order of running does not show.
func parallel(n int, f func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := w; i < n; i += workers {
				f(i)
			}
		}()
	}
	wg.Wait()
}

// profileOf takes apart what [light.Lit.ClosingProfilesAt] gives for a plant.
func profileOf(both []float64) headcycle.Profile {
	p := headcycle.Profile{Spacing: levelSpacing, Levels: both[:levelCount]}
	if len(both) > levelCount {
		p.Closed = both[levelCount:]
	}
	return p
}

// scaled is a profile times a factor, written into dst.
func scaled(dst []float64, p headcycle.Profile, f float64) headcycle.Profile {
	dst = dst[:0]
	for _, v := range p.Levels {
		dst = append(dst, v*f)
	}
	for _, v := range p.Closed {
		dst = append(dst, v*f)
	}
	out := headcycle.Profile{Spacing: p.Spacing, Levels: dst[:len(p.Levels)]}
	if len(p.Closed) > 0 {
		out.Closed = dst[len(p.Levels):]
	}
	return out
}
