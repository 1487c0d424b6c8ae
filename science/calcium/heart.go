package calcium

import "math"

// Traits are what a cultivar brings, with what is common to all lettuce. Start
// from [Lettuce].
type Traits struct {
	Need    float64 // N, mg Ca per g dry mass of young leaves
	Bearing float64 // days of full want in which a share 1−1/e of the young leaves burns

	CloseMass float64 // fresh mass of a shoot at which half of its young leaves are enclosed, g

	HeartResistance float64 // of a closed heart in still air to water vapour, s m⁻¹
	HeartDraught    float64 // conductance gained by air at the heart, (m s⁻¹)/(m s⁻¹)

	Sap      float64 // X, calcium of the sap at the reference feed, mg per g of water
	RootFlow float64 // water that root pressure lifts into young leaves in 8 h of saturated air, g per g dry mass
	DryNight float64 // vapour deficit of the night at which that has fallen to 1/e, g m⁻³
	Rivals   float64 // how strongly other ions hinder the uptake of calcium; see Feed.Uptake

	GrowthMax float64 // relative growth rate of young leaves at 20 °C in a plant that lays down without limit, per day
	GrownHalf float64 // what the plant lays down at 20 °C when they grow at half of that, g of structural dry mass per m² of crown and day

	LeafRate float64 // leaves that appear per day at 20 °C
	LeafArea float64 // of young leaves, m² per g dry mass
}

// Constants of the mechanism, common to all cultivars.
const (
	q10Root      = 1.28  // of what sap flows to the heart with root temperature: the fluidity of water between 10 and 30 °C, 1.31 and 0.80 mPa s (from memory)
	stomata      = 300.0 // s m⁻¹, young leaves in the dim heart; Graamans2017 eq. 9 gives 283 at 150 µmol m⁻² s⁻¹
	youngLeaf    = 0.03  // m, size of a young leaf in the boundary layer
	stillest     = 0.01  // m s⁻¹, air never stands entirely
	ecHalf       = 4.0   // mS cm⁻¹ at which salt has halved root-pressure flow; assumed, no source
	leavesStart  = 8.0   // leaves at transplanting, common practice, no source
	startCalcium = 1.2   // mg per g, within the healthy range of BartaTibbitts1991
	youngLeaves  = 8.0   // leaves at a time that are young enough to burn; the leaves of some nine days, common practice, no source
	fullWant     = 0.45  // share of the need at which want is full: injured tissue holds 0.2 to 0.3 mg/g (BartaTibbitts1991), sound parts beside it 0.4 to 0.5
)

// warmth is how fast young leaves can grow and appear, relative to 20 °C.
//
//	q(T) = (1 + e^(−(20−15.7)/5.05)) / (1 + e^(−(T−15.7)/5.05))
//
// The relative growth rate of six cultivars up to 0.2 g, in bright light with ample
// nutrients, rose sigmoidally from 0.11 a day at 10 °C to 0.35 at 22 °C (Scaife1973).
// Those two values with a plateau of 0.45 (assumed: leaves still grew faster at 30 than
// at 25 °C in Frantz2004) give the two constants.
func warmth(t float64) float64 {
	const middle, slope = 15.7, 5.05
	return (1 + math.Exp((middle-20)/slope)) / (1 + math.Exp((middle-t)/slope))
}

// Lettuce returns the central traits. Need, Bearing, CloseMass, HeartResistance,
// HeartDraught, Sap, RootFlow and DryNight are the rounded result of
// calibration.FitHeart (a test holds them to it), each with a prior around a first
// guess. That of Sap is 16 mg of calcium per g dry mass, within the 15 to 25 recalled
// as sufficient for butterhead (from memory), over 400 g of water per g dry mass of
// whole plants. LeafRate and LeafArea are common practice, no source; Rivals is 1 by
// definition.
//
// GrowthMax and GrownHalf: seedlings of 0.2 g grow by 0.315 a day at 20 °C in bright
// light (Scaife1973, see warmth). On their crown (WUR2021) that lays down 5 g m⁻² d⁻¹,
// and there temperature still ruled growth threefold between 10 and 22 °C. So half of the
// greatest rate is put at 5 g m⁻² d⁻¹, the most at which that can be, and the rate there
// at 0.315.
//
// Head types share these traits: over ten cultivars neither head type nor
// colour explained burn (ErtleKubota2023a).
func Lettuce() Traits {
	return Traits{
		Need: 0.425, Bearing: 0.983,
		CloseMass:       193,
		HeartResistance: 767, HeartDraught: 0.0193,
		Sap: 0.0524, RootFlow: 13.2, DryNight: 1.01, Rivals: 1,
		GrowthMax: 0.63, GrownHalf: 5,
		LeafRate: 0.9, LeafArea: 0.03,
	}
}

// Air is the air of one cycle of day and night, as the heart meets it.
type Air struct {
	DayDeficit   float64 // of water vapour in the air while lamps are on, g m⁻³
	NightDeficit float64 // while they are off
	DayC         float64 // °C
	NightC       float64
	HeartSpeed   float64 // of the air that arrives over the heart, m s⁻¹
	Opening      float64 // of stomata by day, see leafenergy.DryAirOpening; 0 means 1
	Cooling      float64 // s/γ by day: the slope of the saturation curve over the psychrometric constant
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
	sap          float64 // X of this feed, mg per g of water
	nightFlow    float64 // g of water per g dry mass and night
	light, dark  phase
	leavesPerDay float64 // that appear
	dayDraw      float64 // g of water per m² of leaf in the light hours, for each s m⁻¹ of conductance
	leaf         float64 // s m⁻¹, stomata
	layer        float64 // s m⁻¹, boundary layer
	held         float64 // 1 + s/γ
	draught      float64 // m s⁻¹ of conductance that moving air adds in the heart
}

// A phase is the light or the dark hours of a day.
type phase struct {
	days float64 // length
	max  float64 // greatest relative growth rate of young leaves, per day
	half float64 // what the plant lays down at half of that, g m⁻² d⁻¹
}

// rate is the relative growth rate of young leaves in a phase in which the plant lays
// down g per m² of crown.
func (p *phase) rate(g float64) float64 {
	if p.days <= 0 {
		return 0
	}
	perDay := min(max(g/p.days, 0), math.MaxFloat64/2) // a phase may be next to no time
	return max(p.max*perDay/(perDay+p.half), leastGrowth)
}

const leastGrowth = 0.01 // per day; a leaf never stands entirely

// Prepare computes the conditions of a feed and air.
//
//	X       = Sap · u(feed)/u(usual feed) · Q10^((T_root−20)/10)          [Feed.Uptake]
//	w_night = RootFlow · (night h)/8 · exp(−deficit/DryNight)
//	          · Q10^((T_root−20)/10) · s(EC)/s(1.4),  s(EC) = 1/(1+(EC/4)²)
//
// opening is how far stomata open in the air of the day, see
// leafenergy.DryAirOpening.
func (tr *Traits) Prepare(f Feed, a Air) Conditions {
	hours := min(max(a.LightHours, 0), 24)
	night := 24 - hours
	salt := func(ec float64) float64 { return 1 / (1 + (ec/ecHalf)*(ec/ecHalf)) }
	roots := math.Pow(q10Root, (f.RootC-20)/10)
	speed := max(a.HeartSpeed, stillest)
	opening := a.Opening
	if opening <= 0 {
		opening = 1
	}
	day, dark := warmth(a.DayC), warmth(a.NightC)
	const secondsPerHour = 3600
	return Conditions{
		sap:          tr.Sap * f.Uptake(tr.Rivals) / UsualFeed().Uptake(tr.Rivals) * roots,
		nightFlow:    tr.RootFlow * night / 8 * tr.RootPressureLeft(a.NightDeficit) * salt(f.EC) / salt(1.4),
		light:        phase{days: hours / 24, max: tr.GrowthMax * day, half: tr.GrownHalf * day},
		dark:         phase{days: night / 24, max: tr.GrowthMax * dark, half: tr.GrownHalf * dark},
		leavesPerDay: tr.LeafRate * (day*hours + dark*night) / 24,
		dayDraw:      max(a.DayDeficit, 0) * hours * secondsPerHour * tr.LeafArea,
		leaf:         stomata / opening,
		layer:        350 * math.Sqrt(youngLeaf/speed), // Graamans2017 eq. 10, one leaf
		held:         1 + max(a.Cooling, 0),
		draught:      tr.HeartDraught * speed,
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
	Growth   float64 // relative growth rate of young leaves over the day, per day
	Enclosed float64 // share of the young leaves that the heart encloses, 0 to 1
	Water    float64 // water through young leaves, g per g dry mass and day
}

// Laid is the structural dry mass that the plant lays down in the light and in the
// dark hours of a day, g per m² of crown.
type Laid struct{ Light, Dark float64 }

// Day carries the heart through one day, the light hours first.
//
//	e = 1/(1 + (M_close/M)⁵)                     enclosed share, M the fresh shoot in g
//	R = 1/(1/(e R_heart) + k u)                  path through the heart, s m⁻¹
//	w_day = D / (r_s + r_a + (1 + s/γ) R) · t · A   D the vapour deficit, A leaf area per mass
//	r = r_max q g/(g + q G½)                     g laid down per m² of crown and day; q the warmth
//	want = (1 − c/N)/(1 − 0.45), 0 to 1
//	burnt = young (1 − exp(−want/Bearing))       of the young leaves not yet burnt
//
// So what young leaves can grow rises with warmth, but not what the plant lets them
// grow. A heart closes while the plant grows from 0.65 to 1.55 times M_close. Burn is
// first seen when one whole leaf shows it. New leaves join the young ones as they
// appear, and as many grow out of danger.
//
// areaFactor is that of the plant's leaf area in its light; leaves are thinner
// in dim light, so larger for their mass. The balance of the package comment is
// solved exactly over the light and over the dark hours, with constant rates in each.
func (h *Heart) Day(tr *Traits, c *Conditions, freshGrams float64, laid Laid, areaFactor float64) Flow {
	var f Flow
	path, enclosed := c.path(tr, freshGrams)
	f.Enclosed = enclosed
	dayWater := c.dayDraw / (c.leaf + c.layer + c.held*path) * areaFactor
	byDay, byNight := c.light.rate(laid.Light)*c.light.days, c.dark.rate(laid.Dark)*c.dark.days
	f.Water = dayWater + c.nightFlow
	f.Growth = byDay + byNight
	f.Supply = c.sap * f.Water / f.Growth

	if byDay > 0 {
		h.Concentration = toward(h.Concentration, c.sap*dayWater/byDay, byDay)
	}
	if byNight > 0 {
		h.Concentration = toward(h.Concentration, c.sap*c.nightFlow/byNight, byNight)
	}

	h.day++
	h.Leaves += c.leavesPerDay
	h.young += c.leavesPerDay * (1 - h.young/youngLeaves)
	want := min(max(1-h.Concentration/tr.Need, 0)/(1-fullWant), 1)
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

// toward is the exact solution of dc/dt = r (supply − c) after the growth r t.
func toward(c, supply, growth float64) float64 { return supply + (c-supply)*math.Exp(-growth) }

// NightFlow is the water that root pressure lifts into young leaves, g per g of dry mass
// and night.
func (c *Conditions) NightFlow() float64 { return c.nightFlow }

// RootPressureLeft is the share of the flow by root pressure in saturated air that a night of
// a vapour deficit in g m⁻³ leaves: exp(−deficit/DryNight).
func (tr *Traits) RootPressureLeft(nightDeficit float64) float64 {
	return math.Exp(-max(nightDeficit, 0) / tr.DryNight)
}

// path is that of vapour through the heart of a head, s m⁻¹, and the share of the young
// leaves that it encloses.
func (c *Conditions) path(tr *Traits, freshGrams float64) (path, enclosed float64) {
	x := max(freshGrams, 1e-6) / tr.CloseMass
	x5 := x * x * x * x * x
	enclosed = x5 / (1 + x5)
	if closed := enclosed * tr.HeartResistance; closed > 0 {
		path = closed / (1 + closed*c.draught)
	}
	return path, enclosed
}

// Cooler is by how much the young leaves of a head of a fresh mass are cooler than the air by
// day, in K, when the air lacks drynessK = D/γ, the vapour pressure deficit over the
// psychrometric constant.
//
//	ΔT = (D/γ) / (s/γ + (r_s + r_a + R)/R)
//
// It is the same balance that holds back the water of a closed heart (package comment): what
// they evaporate takes its heat through the path R. A head that is open has no R, and the
// balance says nothing of its leaves: 0.
func (c *Conditions) Cooler(tr *Traits, freshGrams, drynessK float64) float64 {
	path, _ := c.path(tr, freshGrams)
	if path <= 0 {
		return 0
	}
	return max(drynessK, 0) / (c.held - 1 + (c.leaf+c.layer+path)/path)
}

// Sap is the calcium of the sap under these conditions, mg per g of water.
func (c *Conditions) Sap() float64 { return c.sap }

// severityBounds are the shares of burnt leaves from which the grades 2 to 5 begin.
var severityBounds = [...]float64{0.05, 0.15, 0.30, 0.50}

// SeverityFrom is the share of burnt leaves from which a grade of [Heart.Severity] from 2
// to 5 begins; 0 for the grades below, 1 above.
func SeverityFrom(grade int) float64 {
	switch i := grade - 2; {
	case i < 0:
		return 0
	case i < len(severityBounds):
		return severityBounds[i]
	}
	return 1
}

// Severity grades burn from 0 to 5 by the share of leaves that show it.
//
//	0  none to be seen (less than one whole leaf)
//	1  under 5 % of leaves: a leaf or two
//	2  5 to 15 %: to be trimmed
//	3  15 to 30 %
//	4  30 to 50 %
//	5  half of the leaves and more
//
// Scores of 0 to 5 are usual in trials, but no published wording of one could be read:
// these bounds are the project's own. The worst of ten cultivars had 41 % of leaves with
// burn (ErtleKubota2023a), which is grade 4.
func (h *Heart) Severity() int {
	if h.seen == 0 {
		return 0
	}
	share, grade := h.BurntShare(), 1
	for _, from := range severityBounds {
		if share >= from {
			grade++
		}
	}
	return grade
}
