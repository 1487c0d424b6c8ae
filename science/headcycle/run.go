package headcycle

import (
	"math"

	"underlamp/science/calcium"
	"underlamp/science/cropgrowth"
	"underlamp/science/leafenergy"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

// A Profile is the PPFD at a plant by height above the planting surface, at
// equal distances from 0: Levels[i] at i·Spacing m, in µmol m⁻² s⁻¹. Between
// levels it is linear, above the last it stays.
//
// Closed is the same under a closed canopy, which sends back less light than a
// bare planting surface; nil if that makes no difference.
type Profile struct {
	Spacing float64
	Levels  []float64
	Closed  []float64
}

// Flat is a profile that does not change with height.
func Flat(e quantity.PPFD) Profile { return Profile{Spacing: 1, Levels: []float64{float64(e)}} }

// Under is the PPFD at a height in m while plants shade a share of the planting
// surface. Light between the two states goes with that share, as the light that
// the surface sends back does to first order.
func (p Profile) Under(height, cover float64) float64 {
	bare := p.At(height)
	if p.Closed == nil {
		return bare
	}
	closed := Profile{Spacing: p.Spacing, Levels: p.Closed}.At(height)
	return bare + (closed-bare)*min(max(cover, 0), 1)
}

// At is the PPFD at a height in m over a bare planting surface.
func (p Profile) At(height float64) float64 {
	n := len(p.Levels)
	if n == 0 {
		return 0
	}
	at := max(height, 0) / p.Spacing
	i := int(at)
	if i >= n-1 {
		return p.Levels[n-1]
	}
	f := at - float64(i)
	return p.Levels[i]*(1-f) + p.Levels[i+1]*f
}

// An Environment is the air and feed of a whole cycle.
type Environment struct {
	Hours      quantity.Hours // light a day
	CO2        quantity.PPM
	DayC       quantity.Celsius
	NightC     quantity.Celsius
	DayRH      quantity.Fraction
	NightRH    quantity.Fraction
	Speed      quantity.MetrePerSecond // free air among the plants
	HeartShare float64                 // of it that arrives over the heart, see calcium.HeartShare
	Feed       calcium.Feed
	Pressure   quantity.Kilopascal // of the air; 0 means that of the sea
}

// pressure is that of the air.
func (e *Environment) pressure() quantity.Kilopascal {
	if e.Pressure <= 0 {
		return seaLevel
	}
	return e.Pressure
}

// A Start is how and where the plant begins.
type Start struct {
	FreshGrams float64 // fresh shoot at transplanting
	GroundM2   float64 // ground of one plant at its last place
	Before     []Stand // where it stands before, in the order of days; nil if it is never moved
}

// A Stand is ground that a plant has until a day.
type Stand struct {
	Until    int // last day, counted from 1
	GroundM2 float64
}

// Ground is the ground of one plant on day d, counted from 1.
func (s *Start) Ground(d int) float64 {
	for _, b := range s.Before {
		if d <= b.Until {
			return b.GroundM2
		}
	}
	return s.GroundM2
}

// MeanGround is the ground of one plant over the days 1 to days, on the mean: that
// whose light it was offered.
func (s *Start) MeanGround(days int) float64 {
	sum := 0.0
	for d := 1; d <= days; d++ {
		sum += s.Ground(d)
	}
	return sum / float64(days)
}

// Traits are all parameters of a head.
type Traits struct {
	Growth  cropgrowth.Traits
	Heart   calcium.Traits
	Stretch float64 // factor on height
	Compact float64 // PPFD at the canopy below which heads stay loose or twist, µmol m⁻² s⁻¹
}

// compactPPFD is the central PPFD below which a head stays loose. Butterhead
// under 188 µmol m⁻² s⁻¹ of lamps gave twisted, unsaleable heads though their mass
// was good, and 310 gave the best (Voutsinos2021); 150 was the least light of
// trials that report normal butterheads (Sago2016). So 150 is taken with a wide
// spread, which puts 188 inside it; no study gives the threshold itself.
const compactPPFD = 150

// Lettuce returns the central traits.
func Lettuce() Traits {
	return Traits{Growth: cropgrowth.Lettuce(), Heart: calcium.Lettuce(), Stretch: 1, Compact: compactPPFD}
}

// A Day is the state of a head at the end of a day.
type Day struct {
	PPFD     float64 // at the top of the canopy, µmol m⁻² s⁻¹
	Fresh    float64 // g
	Dry      float64 // shoot, g
	LeafArea float64 // m²
	Crown    float64 // m²
	Height   float64 // m
	Water    float64 // transpired this day, g per plant
	Night    float64 // of it in the dark, g per plant
	Calcium  float64 // of young leaves, mg per g dry
	Supply   float64 // mg that arrive per g of new young leaf
	Enclosed float64 // share of young leaves in the closed heart
	Growth   float64 // of young leaves, per day
}

// An Outcome is what a whole cycle brought.
type Outcome struct {
	Last    Day
	Water   float64 // g per plant, whole cycle
	Light   float64 // mol m⁻² at the top of the canopy, whole cycle
	PPFD    float64 // mean at the top of the canopy over the second half of the cycle, µmol m⁻² s⁻¹
	Loose   bool    // too dim to make a compact head
	BurnDay float64 // day on which burn is first seen; +Inf if never
	Burnt   float64 // share of leaves with burn at harvest
	Grade   int     // severity of it, 0 to 5, see calcium.Heart.Severity
	Uptake  float64 // calcium that the sap carried into the plant, mg
}

// Prepared is an environment with all that it alone decides.
type Prepared struct {
	env        Environment
	day, night cropgrowth.Exchange
	heart      calcium.Conditions
	around     calcium.Air          // what the heart meets
	opening    float64              // of stomata in the air of the day
	open, shut leafenergy.CanopyAir // air by day and by night
}

const seaLevel = 101.3 // kPa

// Prepare computes what an environment decides for the traits. It is cheap, but
// a run of many settings shares it.
func Prepare(tr *Traits, env Environment) Prepared {
	opening := leafenergy.DryAirOpening(moistair.VPD(env.DayC, env.DayRH))
	p := Prepared{
		opening: opening,
		env:     env,
		day:     tr.Growth.Exchange(env.CO2, env.DayC),
		night:   tr.Growth.Exchange(env.CO2, env.NightC),
		open:    leafenergy.NewCanopyAir(env.DayC, env.DayRH),
		shut:    leafenergy.NewCanopyAir(env.NightC, env.NightRH),
		around: calcium.Air{
			DayDeficit:   moistair.Deficit(env.DayC, env.DayRH),
			NightDeficit: moistair.Deficit(env.NightC, env.NightRH),
			DayC:         float64(env.DayC), NightC: float64(env.NightC),
			HeartSpeed: float64(env.Speed) * env.HeartShare,
			LightHours: min(max(float64(env.Hours), 0), 24),
			Opening:    opening,
			Cooling:    moistair.SaturationSlope(env.DayC) / moistair.PsychrometricConstant(env.pressure()),
		},
	}
	p.heart = p.Heart(&tr.Heart)
	return p
}

// Heart is what feed and air decide for the heart of other traits than those that
// the environment was prepared for.
func (p *Prepared) Heart(tr *calcium.Traits) calcium.Conditions {
	return tr.Prepare(p.env.Feed, p.around)
}

// canopyWater is the transpiration in light and in the dark, in g per m² of
// crown and second. The resistance of the air is that of the leaves over the
// crown, capped at that of a stand of LAI 3: leaves below do not meet more air.
func canopyWater(pre *Prepared, ppfd, leafArea, crown float64) (light, dark float64) {
	lai := min(leafArea/crown, 3)
	air := leafenergy.AerodynamicResistance(pre.env.Speed, max(lai, 1))
	light = pre.open.Solve(leafenergy.Stand{
		Absorbed: leafenergy.Absorbed(ppfd*leafenergy.PARPerPhoton, 1), LAI: lai,
		Stomata: leafenergy.StomatalResistance(quantity.PPFD(ppfd)) / pre.opening, Air: air,
	}).Transpiration
	dark = pre.shut.Solve(leafenergy.Stand{LAI: lai, Stomata: leafenergy.StomatalResistance(0), Air: air}).Transpiration
	return light, dark
}

// Run follows a head for the days given. The light of day d (from 0) is the
// profile times dim[d]; a nil dim means 1 on every day. If course is not nil it
// must have room for days and receives the state of each; Run allocates
// nothing.
//
// Run panics if dim or course is given with another length than days.
func Run(tr *Traits, pre *Prepared, light Profile, start Start, days int, dim []float64, course []Day) Outcome {
	return Follow(tr, []Stage{{Prepared: pre, Light: light}}, start, days, dim, course)
}

// Follow is [Run] through stages of other air, feed or light. It panics if there is
// no stage or the first does not begin on day 0.
func Follow(tr *Traits, stages []Stage, start Start, days int, dim []float64, course []Day) Outcome {
	if dim != nil && len(dim) != days || course != nil && len(course) != days {
		panic("headcycle: Run: dim and course must have one entry a day")
	}
	plant := newGrowing(tr, stages, start)
	heart := calcium.NewHeart()
	out := Outcome{BurnDay: math.Inf(1)}
	for d := range days {
		scale := 1.0
		if dim != nil {
			scale = dim[d]
		}
		pre := plant.day(tr, d, scale)
		grown := &plant.grown
		flow := heart.Day(&tr.Heart, &pre.heart, grown.Fresh, grown.Laid, grown.AreaFactor)

		hours := plant.hours
		dayFlux, nightFlux := canopyWater(pre, plant.ppfd, plant.leafArea, plant.crown)
		dark := nightFlux * (24 - hours) * 3600 * plant.crown
		water := dayFlux*hours*3600*plant.crown + dark
		out.Water += water
		out.Uptake += water * pre.heart.Sap()
		out.Light += plant.dli
		if d >= days/2 {
			out.PPFD += plant.ppfd / float64(days-days/2)
		}
		if course != nil || d == days-1 {
			out.Last = Day{
				PPFD: plant.ppfd, Fresh: grown.Fresh, Dry: grown.Dry, LeafArea: plant.head.LeafArea(&tr.Growth),
				Crown: plant.head.Crown(&tr.Growth), Height: grown.Height, Water: water, Night: dark,
				Calcium: heart.Concentration, Supply: flow.Supply, Enclosed: flow.Enclosed, Growth: flow.Growth,
			}
		}
		if course != nil {
			course[d] = out.Last
		}
	}
	if day, ok := heart.BurnDay(); ok {
		out.BurnDay = day
	}
	out.Burnt, out.Grade = heart.BurntShare(), heart.Severity()
	out.Loose = out.PPFD < tr.Compact
	return out
}
