package headcycle

import (
	"math"
	"math/rand/v2"
	"reflect"
)

// A Spread is how far each uncertain trait may lie from its central value, as
// the standard deviation of its logarithm (about the relative standard
// deviation). One draw of [LettuceSpread] is one plant of one possible cultivar;
// [BetweenCrops] and [WithinCrop] part the two.
type Spread struct {
	Vigour          float64
	GrowthMax       float64
	Respiration     float64
	AreaScale       float64
	AreaLight       float64
	DryShare        float64
	Stretch         float64
	Compact         float64
	Need            float64
	Bearing         float64
	CloseMass       float64
	HeartResistance float64
	Sap             float64
	RootFlow        float64
	DryNight        float64
	YoungGrowth     float64
	Rivals          float64
}

// LettuceSpread returns the spread that the tool forecasts with.
//
//   - Vigour 0.20: dry mass per incident mol is 0.55 g on the mean of 53
//     plant-factory studies (Jin2023) and 1.01 g in the study that calibrates
//     (Carotti2021); half of that gap in the logarithm, less what CO2 explains.
//   - GrowthMax 0.4: the fit lies a factor of two above VanHenten1994, and six above
//     Sun2025, whose sink has another form; it tells most on seedlings.
//   - AreaScale 0.08, DryShare 0.10: between the varieties and sources of
//     [cropgrowth.Lettuce]. AreaLight 0.4: read second-hand.
//   - Respiration 0.15: 0.72 to 0.80 for the growth yield is quoted in
//     VanHenten1994, page 59, and maintenance is known no better.
//   - Need 0.25: between the sound and the injured leaves of BartaTibbitts1991.
//   - Rivals 0.7, a factor of two either way: no constant was found for lettuce. It moves
//     nothing in a common feed, where uptake is the reference.
//   - Compact 0.20: see compactPPFD. Stretch 0.20: common practice, no source.
//   - The others: assumed in proportion, no source; all of the heart are then
//     multiplied by [HeartSpread], which is fitted to the spread of first burn
//     and of burnt leaves over ten cultivars in ErtleKubota2023a, see
//     docs/validation.md.
func LettuceSpread() Spread {
	return Spread{
		Vigour: 0.20, GrowthMax: 0.4, Respiration: 0.15, AreaScale: 0.08, AreaLight: 0.4, DryShare: 0.10, Stretch: 0.20, Compact: 0.20,
		Need: 0.25, Bearing: 0.30, CloseMass: 0.25, HeartResistance: 0.40, Sap: 0.15, RootFlow: 0.35, DryNight: 0.30, YoungGrowth: 0.12, Rivals: 0.7,
	}.Heart(HeartSpread)
}

// OneTrial returns the spread of plants and cultivars within one trial. Most of
// the spread in vigour lies between studies (climate, lamps, seed, care) and does
// not part plants that grew side by side: 0.08 is taken within a trial (assumed,
// no source).
func OneTrial() Spread {
	s := LettuceSpread()
	s.Vigour = 0.08
	return s
}

// HeartSpread is the factor on the spread of the heart's traits, fitted in
// package calibration.
const HeartSpread = 0.375

// Heart returns the spread with every trait of the heart multiplied by f.
func (s Spread) Heart(f float64) Spread {
	s.Need *= f
	s.Bearing *= f
	s.CloseMass *= f
	s.HeartResistance *= f
	s.Sap *= f
	s.RootFlow *= f
	s.DryNight *= f
	s.YoungGrowth *= f
	return s
}

// Widened returns the spread with that of one trait, named as in [UncertainTraits],
// made wider by an independent doubt of standard deviation sd of the logarithm. A
// name that is none panics: it is a mistake of the program.
func (s Spread) Widened(trait string, sd float64) Spread {
	f := reflect.ValueOf(&s).Elem().FieldByName(trait)
	if !f.IsValid() {
		panic("headcycle: Widened: no trait has the name " + trait)
	}
	f.SetFloat(math.Hypot(f.Float(), sd))
	return s
}

// Draw returns the traits of one random plant around the central ones. Draws
// are log-normal and bounded at three standard deviations.
func (s Spread) Draw(central Traits, rng *rand.Rand) Traits {
	t := central
	for _, trait := range uncertain {
		trait.Multiply(&t, math.Exp(trait.SD(s)*min(max(rng.NormFloat64(), -3), 3)))
	}
	return t
}

// Draws returns n draws from a seed. The same seed gives the same plants, so
// two settings compared with them differ by the setting alone.
func (s Spread) Draws(central Traits, n int, seed uint64) []Traits {
	rng := rand.New(rand.NewPCG(seed, 0x75_6e_64_65_72))
	out := make([]Traits, n)
	for i := range out {
		out[i] = s.Draw(central, rng)
	}
	return out
}

// Normals returns n standard normal numbers from a seed, bounded at three
// standard deviations, for a quantity that is drawn beside the traits.
func Normals(n int, seed uint64) []float64 {
	rng := rand.New(rand.NewPCG(seed, 0x6c_61_6d_70))
	out := make([]float64, n)
	for i := range out {
		out[i] = min(max(rng.NormFloat64(), -3), 3)
	}
	return out
}
