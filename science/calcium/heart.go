package calcium

import "math"

// Traits are what a cultivar brings, with what is common to all lettuce. Start
// from [Lettuce].
type Traits struct {
	Need    float64 // N, mg Ca per g dry mass of young leaves
	Bearing float64 // days of full want in which a share 1−1/e of the young leaves burns

	CloseMass  float64 // fresh mass of a shoot at which half of its young leaves are enclosed, g
	CloseSlope float64 // how fast they close around that mass

	HeartResistance float64 // of a closed heart in still air to water vapour, s m⁻¹
	HeartDraught    float64 // conductance gained by air at the heart, (m s⁻¹)/(m s⁻¹)

	Sap      float64 // X, calcium of the sap at the reference feed, mg per g of water
	RootFlow float64 // water that root pressure lifts into young leaves in 8 h of saturated air, g per g dry mass
	DryNight float64 // vapour deficit of the night at which that has fallen to 1/e, g m⁻³

	GrowthMax  float64 // relative growth rate of young leaves at 20 °C with sugar without limit, per day
	SourceHalf float64 // assimilation at which half of that is reached, g CH2O per m² of crown and day

	LeafRate float64 // leaves that appear per day at 20 °C
	LeafArea float64 // of young leaves, m² per g dry mass
}

// Constants of the mechanism, common to all cultivars.
const (
	q10Growth    = 1.6   // of young leaves; that of VanHenten1994 for whole plants
	q10Uptake    = 1.6   // of calcium uptake with root temperature; assumed equal to that of growth, no source
	stomata      = 300.0 // s m⁻¹, young leaves in the dim heart; Graamans2017 eq. 9 gives 283 at 150 µmol m⁻² s⁻¹
	youngLeaf    = 0.03  // m, size of a young leaf in the boundary layer
	stillest     = 0.01  // m s⁻¹, air never stands entirely
	feedHalf     = 5.0   // mg L⁻¹, calcium in the feed at which uptake is half of its most; see below
	feedRef      = 100.0 // mg L⁻¹
	ecHalf       = 4.0   // mS cm⁻¹ at which salt has halved root-pressure flow; assumed, no source
	leavesStart  = 8.0   // leaves at transplanting, common practice, no source
	startCalcium = 1.2   // mg per g, within the healthy range of BartaTibbitts1991
	youngLeaves  = 8.0   // leaves at a time that are young enough to burn; the leaves of some nine days, common practice, no source
)

// feedHalf: in flowing solution the growth of most species gains nothing above
// 0.1 mmol of calcium per litre (LoneraganSnowball1969, from memory), 4 mg/L; 5 is
// taken. It is small against every feed, so more calcium in it hardly helps.

// Lettuce returns the central traits. CloseMass, HeartResistance, Bearing, Need
// and DryNight are the rounded result of calibration.FitHeart (a test holds them
// to it). The rest was assumed before the fit and has no source of its own: Sap
// from 10 mg of calcium per g dry mass and 400 g of water per g dry mass of
// whole plants; LeafRate common practice; CloseSlope so that a heart closes
// while the plant grows from 0.65 to 1.55 times CloseMass.
//
// SourceHalf is large because a plant's dry mass is laid down in its young
// leaves: what they grow must follow what the plant assimilates. At 26 g m⁻² d⁻¹
// a change of a tenth in assimilation changes their growth by 8 %; GrowthMax
// then puts it at a quarter a day.
//
// Head types share these traits: over ten cultivars neither head type nor
// colour explained burn (ErtleKubota2023a).
func Lettuce() Traits {
	return Traits{
		Need: 0.455, Bearing: 1.01,
		CloseMass: 152, CloseSlope: 5,
		HeartResistance: 3340, HeartDraught: 0.006,
		Sap: 0.025, RootFlow: 10, DryNight: 0.791,
		GrowthMax: 1.2, SourceHalf: 100,
		LeafRate: 0.9, LeafArea: 0.03,
	}
}

// A Feed is what the roots stand in.
type Feed struct {
	CalciumMgL float64
	EC         float64 // mS cm⁻¹
	RootC      float64 // temperature of the solution, °C
}

// Air is the air of one cycle of day and night, as the heart meets it.
type Air struct {
	DayDeficit   float64 // of water vapour in the air while lamps are on, g m⁻³
	NightDeficit float64 // while they are off
	DayC         float64 // °C
	NightC       float64
	HeartSpeed   float64 // of the air that arrives over the heart, m s⁻¹
	LightHours   float64
}

// HeartShare is the share of the free air speed that arrives over the heart,
// by where the fan blows.
//
// Assumed, no source for the figures: air blown onto the heart keeps its speed;
// air blown across passes mostly over the heads; without a fan it is still.
// That downward air works better is reported from trials (OptimIA2023,
// second-hand).
func HeartShare(aim string) float64 {
	switch aim {
	case "down":
		return 1
	case "across":
		return 0.25
	}
	return 0.15
}

// Conditions are what feed and air alone decide. They are computed once for a
// cycle and used for every day.
type Conditions struct {
	sap       float64 // X of this feed, mg per g of water
	nightFlow float64 // g of water per g dry mass and night
	warmth    float64 // q, the factor of temperature on growth and on leaf appearance
	deficit   float64 // g m⁻³ by day
	hours     float64
	boundary  float64 // s m⁻¹ at the heart
	draught   float64 // m s⁻¹ of conductance that moving air adds in the heart
}

// Prepare computes the conditions of a feed and air.
//
//	X       = Sap · u(Ca)/u(100) · Q10^((T_root−20)/10),  u(Ca) = Ca/(Ca+20)
//	w_night = RootFlow · (night h)/8 · exp(−deficit/DryNight)
//	          · s(EC)/s(1.4),  s(EC) = 1/(1+(EC/4)²)
func (tr *Traits) Prepare(f Feed, a Air) Conditions {
	night := 24 - a.LightHours
	uptake := func(ca float64) float64 { return ca / (ca + feedHalf) }
	salt := func(ec float64) float64 { return 1 / (1 + (ec/ecHalf)*(ec/ecHalf)) }
	speed := max(a.HeartSpeed, stillest)
	meanC := (a.DayC*a.LightHours + a.NightC*night) / 24
	return Conditions{
		sap:       tr.Sap * uptake(f.CalciumMgL) / uptake(feedRef) * math.Pow(q10Uptake, (f.RootC-20)/10),
		nightFlow: tr.RootFlow * night / 8 * math.Exp(-max(a.NightDeficit, 0)/tr.DryNight) * salt(f.EC) / salt(1.4),
		warmth:    math.Pow(q10Growth, (meanC-20)/10),
		deficit:   max(a.DayDeficit, 0),
		hours:     a.LightHours,
		boundary:  350 * math.Sqrt(youngLeaf/speed), // Graamans2017 eq. 10, one leaf
		draught:   tr.HeartDraught * speed,
	}
}

// A Heart is the calcium state of the young leaves of one plant.
type Heart struct {
	Concentration float64 // c, mg per g dry mass
	Want          float64 // full want summed so far, days
	Leaves        float64 // leaves of the plant
	Burnt         float64 // leaves with burn
	young         float64 // young leaves without burn
	day           float64 // days since transplanting
	seen          float64 // day of the first visible burn; 0 before
}

// NewHeart starts a heart at transplanting, well supplied.
func NewHeart() Heart {
	return Heart{Concentration: startCalcium, Leaves: leavesStart, young: youngLeaves}
}

// BurnDay is the day, counted from transplanting, on which burn is first seen;
// ok is false while there is none.
func (h *Heart) BurnDay() (day float64, ok bool) { return h.seen, h.seen > 0 }

// BurntShare is the share of all leaves that show burn.
func (h *Heart) BurntShare() float64 { return h.Burnt / h.Leaves }

// A Flow is what one day did to the young leaves.
type Flow struct {
	Supply   float64 // calcium that arrives for each gram of new young leaf, mg g⁻¹
	Growth   float64 // relative growth rate of young leaves, per day
	Enclosed float64 // share of the young leaves that the heart encloses, 0 to 1
	Water    float64 // water through young leaves, g per g dry mass and day
}

// Day carries the heart through one day.
//
//	e = 1/(1 + (M_close/M)^n)                    enclosed share, M the fresh shoot in g
//	R = 1/(1/(e R_heart) + k u)                  path through the heart, s m⁻¹
//	w_day = D / (r_s + r_a + R) · t · A          D the vapour deficit, A leaf area per mass
//	r = r_max q S/(S + q S½)                     S the assimilation, g CH2O per m² of crown and day; q = Q10^((T−20)/10)
//	burnt = young (1 − exp(−want/Bearing))       want = 1 − c/N, of the young leaves not yet burnt
//
// So what young leaves can grow rises with warmth, but not what sugar lets them
// grow. Burn is first seen when one whole leaf shows it. New leaves join the
// young ones as they appear, and as many grow out of danger.
//
// areaFactor is that of the plant's leaf area in its light; leaves are thinner
// in dim light, so larger for their mass. The balance of the package comment is
// then solved exactly over the day.
func (h *Heart) Day(tr *Traits, c *Conditions, freshGrams, assimilated, areaFactor float64) Flow {
	var f Flow
	f.Enclosed = 1 / (1 + math.Pow(tr.CloseMass/max(freshGrams, 1e-6), tr.CloseSlope))
	path := 0.0
	if closed := f.Enclosed * tr.HeartResistance; closed > 0 {
		path = 1 / (1/closed + c.draught)
	}
	const secondsPerHour = 3600
	dayWater := c.deficit / (stomata + c.boundary + path) * c.hours * secondsPerHour * tr.LeafArea * areaFactor
	f.Water = dayWater + c.nightFlow
	f.Growth = max(tr.GrowthMax*c.warmth*assimilated/(assimilated+tr.SourceHalf*c.warmth), 0.01)
	f.Supply = c.sap * f.Water / f.Growth

	// Exact over one day of constant rates.
	left := math.Exp(-f.Growth)
	before := h.Concentration
	h.Concentration = f.Supply + (before-f.Supply)*left

	h.day++
	grown := tr.LeafRate * c.warmth
	h.Leaves += grown
	h.young += grown * (1 - h.young/youngLeaves)
	want := min(max(1-h.Concentration/tr.Need, 0), 1)
	if want == 0 {
		return f
	}
	h.Want += want
	burn := h.young * (1 - math.Exp(-want/tr.Bearing))
	h.young -= burn
	h.Burnt += burn
	if h.seen == 0 && h.Burnt >= 1 {
		// The moment within the day at which the sum reached one leaf.
		h.seen = h.day - (h.Burnt-1)/burn
	}
	return f
}

// Sap is the calcium of the sap under these conditions, mg per g of water.
func (c *Conditions) Sap() float64 { return c.sap }
