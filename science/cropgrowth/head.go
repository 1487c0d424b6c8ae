package cropgrowth

import (
	"math"

	"underlamp/science/quantity"
)

// Traits are the parameters of [Head]: those of the two-state model with what a
// plant under lamps needs beside them. The zero value is useless; start from
// [Lettuce].
type Traits struct {
	Parameters

	Vigour      float64 // factor on photosynthesis, calibrated
	Curvature   float64 // θ of the light response, calibrated; see [Exchange.Curved]
	PhotonYield float64 // g CO2 per µmol of absorbed photons at very high CO2

	AreaScale    float64 // leaf area of 1 g of shoot, m², at ReferenceDLI
	AreaExponent float64 // of shoot mass
	AreaLight    float64 // leaf area falls with DLI to this power
	ReferenceDLI float64 // mol m⁻² d⁻¹ at which AreaScale holds

	LAIMax float64 // leaf area index of the ground that a stand does not pass

	CrownScale    float64 // crown area of 1 m² of leaf area, m²
	CrownExponent float64

	SugarMax   float64 // X_n/X_s at which full sugar stores halve photosynthesis
	SinkBest   float64 // °C at which structure grows fastest
	CarbQuad   float64 // carboxylation resistance, s m⁻¹ °C⁻², s m⁻¹ °C⁻¹, s m⁻¹
	CarbLinear float64
	CarbBase   float64

	DryShare    float64 // dry over fresh mass of a shoot of 1 g dry
	DryExponent float64 // how the share falls with dry mass
	DryLast     float64 // dry mass in g from which the share stays: the end of the data
	DryMin      float64 // bounds of the share
	DryMax      float64

	HeightScale float64 // m of height for a shoot of 1 g fresh
}

// ParPerPhoton is the PAR energy of daylight photons in J per µmol, by which
// the light yield of VanHenten1994, found in daylight, becomes a yield per
// photon: 4.57 µmol J⁻¹.
//
// Source: ThimijanHeins1983, sun and sky, 400 to 700 nm (read second-hand).
const ParPerPhoton = 1 / 4.57

// Lettuce returns the traits that the tool forecasts lettuce with. Where each
// value comes from:
//
//   - the two-state parameters: VanHenten1994, but for the root share of plants
//     in running solution (0.08 in TalbotMonfet2024, second-hand; 0.10 here);
//   - Vigour, Curvature, GrowthMax, AreaLight and DryShare: fitted to the rows
//     marked "calibrate" of the growth cases, see package calibration and
//     docs/validation.md. The response of VanHenten1994 has curvature 0: it was
//     found in winter light, where the bend is not reached;
//   - Gamma 0.5: the low end of the 0.5 to 1 that VanHenten1994, page 59, quotes;
//   - carboxylation resistance: Sun2025, table 2 (read second-hand). That of
//     VanHenten1994 has its least at 22.5 °C whatever the CO2, which leaves no room
//     for an optimum that moves with CO2;
//   - SinkBest 30: in Frantz2004 the optimum of growth moved from 25 to 30 °C with
//     CO2 of 1200 ppm. CO2 acts on photosynthesis alone, so structure itself must
//     be able to grow fastest at 30 or above, and the 25 °C of plain air must come
//     from photosynthesis. Sun2025 puts 25, from cool greenhouses;
//   - SugarMax 0.5: VanHenten1994, page 59, saw stores up to about a quarter of dry
//     mass; Sun2025 stops photosynthesis at a fifth. Here a quarter costs a sixth;
//   - leaf area 381 cm² · (shoot g)^0.931, R² 0.96, and the crown relation:
//     WUR2021, regressions on class means;
//   - LAIMax 12: common practice, no source; it only keeps the leaf area of
//     stands that outgrow the measured plants physical, light is caught long
//     before;
//   - dry-matter share: WUR2021 gives 7.4 % · (dry g)^−0.219 in a greenhouse, where
//     the heaviest class holds 15 g dry: beyond, the share stays. Plants under lamps
//     in Carotti2021 hold less; the level is fitted to both;
//   - AreaLight has its prior from TalbotMonfet2024: leaf area per mass at 200, 400
//     and 750 µmol m⁻² s⁻¹ (452, 365, 272 cm² g⁻¹ at 24 °C) falls with the power
//     −0.38 of light; read second-hand, so its spread is wide.
func Lettuce() Traits {
	p := VanHenten()
	p.RootShare = 0.10
	p.GrowthMax, p.Gamma = 1.07e-5, 0.5
	return Traits{
		Parameters:  p,
		Vigour:      1.08,
		Curvature:   0.65,
		PhotonYield: p.LightYield * ParPerPhoton,

		AreaScale: 0.0381, AreaExponent: 0.931,
		AreaLight: 0.266, ReferenceDLI: 14,

		LAIMax: 12,

		CrownScale: 0.0918, CrownExponent: 0.402,

		SugarMax: 0.5, SinkBest: 30,
		CarbQuad: 0.315, CarbLinear: -27.35, CarbBase: 790.7,

		DryShare: 0.0627, DryExponent: -0.219, DryLast: 15, DryMin: 0.025, DryMax: 0.08,

		HeightScale: 0.026,
	}
}

// A Head is one lettuce plant in time.
type Head struct {
	NonStructural float64 // X_n, g per plant
	Structural    float64 // X_s, g per plant
	ground        float64 // m² per plant
	areaFactor    float64 // of leaf area, from the light it grows in

	// Leaf area and free crown when the light was last set, and the dry mass then:
	// within a day both are carried on from there, see catching. baseThrough is the
	// share of light that the crown lets through then.
	baseArea, baseCrown, baseDry, baseThrough float64

	// The last power of each kind with what it was taken of: days ask for the same
	// one several times.
	ofLight, ofMass, ofArea, ofDry memo
}

// A memo is the last power of one exponent. While the base stays it need not be
// computed again, and while it moves little it is carried on by the series: for
// a move of 2 % the error is below 1e-8.
type memo struct{ base, power float64 }

func (m *memo) pow(base, exponent float64) float64 {
	switch x := base/m.base - 1; {
	case x == 0:
	case m.base > 0 && x < 0.02 && x > -0.02:
		m.base, m.power = base, m.power*series(exponent, x)
	default:
		m.base, m.power = base, math.Pow(base, exponent)
	}
	return m.power
}

// NewHead starts a plant with a fresh shoot mass in g on its ground in m² per
// plant. Three quarters of its dry mass is structural, as in VanHenten1994,
// page 65.
func NewHead(tr *Traits, freshGrams, groundM2 float64) Head {
	dry := tr.dryOfFresh(freshGrams) / (1 - tr.RootShare)
	h := Head{NonStructural: 0.25 * dry, Structural: 0.75 * dry, ground: groundM2, areaFactor: 1}
	h.rebase(tr)
	return h
}

// rebase computes leaf area and crown anew.
func (h *Head) rebase(tr *Traits) {
	h.baseArea = h.LeafArea(tr)
	h.baseCrown = tr.CrownScale * h.ofArea.pow(h.baseArea, tr.CrownExponent)
	h.baseDry = h.NonStructural + h.Structural
	h.baseThrough = 0
	if crown := min(h.baseCrown, h.ground); crown > 0 {
		h.baseThrough = math.Exp(-tr.Extinction * h.baseArea / crown)
	}
}

// SetLight tells the plant the daily light that its leaves form in, in mol m⁻²
// d⁻¹ at the top of the canopy. Leaves are thinner, so larger for their mass,
// in dim light; the factor is kept between 0.6 and 1.6, the span of the data. It
// is called at the start of every day: Step carries leaf area and crown on from
// there.
func (h *Head) SetLight(tr *Traits, dli float64) {
	h.areaFactor = 1
	if dli > 0 {
		h.areaFactor = min(max(h.ofLight.pow(dli/tr.ReferenceDLI, -tr.AreaLight), 0.6), 1.6)
	}
	h.rebase(tr)
}

// SetGround gives the plant other ground, in m²: it has been moved. Call it
// before SetLight.
func (h *Head) SetGround(m2 float64) { h.ground = m2 }

// ShootDry is the dry mass of the shoot in g.
func (h *Head) ShootDry(tr *Traits) float64 {
	return (h.NonStructural + h.Structural) * (1 - tr.RootShare)
}

// Fresh is the fresh mass of the shoot in g.
//
//	share = clamp(s₁ · min(m, m_last)^e),  fresh = m / share   (m dry, g)
//
// Source of the relation: WUR2021; see [Lettuce].
func (h *Head) Fresh(tr *Traits) float64 {
	dry := h.ShootDry(tr)
	if dry <= 0 {
		return 0
	}
	return dry / tr.held(h.ofDry.pow(min(dry, tr.DryLast), tr.DryExponent))
}

// held is the dry share of a power of dry mass, within its bounds.
func (tr *Traits) held(power float64) float64 {
	return min(max(tr.DryShare*power, tr.DryMin), tr.DryMax)
}

func (tr *Traits) freshOfDry(dry float64) float64 {
	if dry <= 0 {
		return 0
	}
	return dry / tr.held(math.Pow(min(dry, tr.DryLast), tr.DryExponent))
}

// dryOfFresh inverts freshOfDry by a few Newton steps in the logarithm.
func (tr *Traits) dryOfFresh(fresh float64) float64 {
	if fresh <= 0 {
		return 0
	}
	dry := fresh * 0.06
	for range 30 {
		got := tr.freshOfDry(dry)
		next := dry * math.Pow(fresh/got, 0.9)
		if math.Abs(next-dry) < 1e-12*dry {
			break
		}
		dry = next
	}
	return dry
}

// LeafArea is the leaf area of the plant in m².
//
//	A₀ = a · m^b · f(DLI)   (m the dry shoot, g)
//	A  = A₀ / (1 + (A₀/(L ground))⁴)^¼
//
// with L the LAIMax of the stand. Source: WUR2021 for a and b;
// TalbotMonfet2024 for the light.
func (h *Head) LeafArea(tr *Traits) float64 {
	free := h.areaFactor * tr.AreaScale * h.ofMass.pow(h.ShootDry(tr), tr.AreaExponent)
	full := free / (tr.LAIMax * h.ground)
	return free / math.Sqrt(math.Sqrt(1+full*full*full*full))
}

// Crown is the ground that the plant shades, in m²: its free crown, at most its
// own ground.
//
//	crown = c · A^d   (A leaf area, m²)
//
// Source: WUR2021, mean diameters of six size classes.
func (h *Head) Crown(tr *Traits) float64 {
	return min(tr.CrownScale*h.ofArea.pow(h.LeafArea(tr), tr.CrownExponent), h.ground)
}

// AtDayStart returns leaf area and crown as they were when the light was last
// set, without computing them again.
func (h *Head) AtDayStart() (leafArea, crown float64) {
	return h.baseArea, min(h.baseCrown, h.ground)
}

// Cover is the share of the ground that is shaded.
func (h *Head) Cover(tr *Traits) float64 { return h.Crown(tr) / h.ground }

// LAI is the leaf area index over the whole ground.
func (h *Head) LAI(tr *Traits) float64 { return h.LeafArea(tr) / h.ground }

// Height is the height of the plant in m: it grows with the cube root of its
// fresh mass, and a plant in dim light stretches.
//
//	h = s · fresh^(1/3) · (200/PPFD)^0.2 below 200 µmol m⁻² s⁻¹
//
// Common practice, no source: a butterhead of 150 g stands about 14 cm high.
// The outlook varies it by a fifth either way.
func Height(tr *Traits, freshGrams float64, e quantity.PPFD) float64 {
	h := tr.HeightScale * math.Cbrt(freshGrams)
	if e > 0 && e < 200 {
		h *= min(math.Pow(200/float64(e), 0.2), 1.5)
	}
	return h
}

// Gain is what one step brought.
type Gain struct {
	Assimilated float64 // gross, g CH2O per plant
	Grown       float64 // structural mass, g per plant
	Dry         float64 // net change of total dry mass, g per plant
}

// Exchange computes what air decides about a head: as
// [Parameters.Exchange], but with the carboxylation resistance and the warmth of
// growth of the traits.
//
//	1/g_car = c₁ T² + c₂ T + c₃
//	r_gr ∝ Q10^((T′−20)/10),  T′ = T up to the best temperature, as far below it beyond
//
// Outside 5 to 40 °C photosynthesis is 0, as in VanHenten1994. Source: Sun2025.
func (tr *Traits) Exchange(co2 quantity.PPM, t quantity.Celsius) Exchange {
	temp := float64(t)
	carb := 0.0
	if temp >= 5 && temp <= 40 {
		carb = 1 / (tr.CarbQuad*temp*temp + tr.CarbLinear*temp + tr.CarbBase)
	}
	felt := temp
	if temp > tr.SinkBest {
		felt = 2*tr.SinkBest - temp
	}
	return tr.Parameters.exchange(co2, t, carb, math.Pow(tr.Q10Growth, (felt-20)/10))
}

// Tolerance is the error that one step within [Head.Step] may make, as a share
// of dry mass. Over a cycle the sum stays below half a percent (held by a test
// against steps of a minute, for seedlings of 0.02 g as well).
const Tolerance = 5e-4

// longest is the longest step in seconds that is tried.
const longest = 8 * 3600.0

// Step carries the plant through seconds of constant light (PPFD at the top of
// the canopy) and air. Steps within are as long as [Tolerance] allows: the pair
// of Bogacki and Shampine of orders 3 and 2 (BogackiShampine1989), whose
// difference is the error of a step. Sugars never fall below 0: a plant that
// starves stops growing.
func (h *Head) Step(tr *Traits, e *Exchange, ppfd, seconds float64) Gain {
	full := 0.0
	if ppfd > 0 {
		// The yield of the exchange is per joule; photons enter with the energy of daylight photons.
		full = tr.Alpha * tr.Vigour * e.Curved(ppfd*tr.PhotonYield/tr.LightYield, tr.Curvature)
	}
	n, s := h.NonStructural, h.Structural
	n0, s0 := n, s
	assimilated := 0.0
	try := min(seconds, longest)
	g1, dn1, ds1 := h.rates(tr, e, full, n, s)
	for left := seconds; left > 0; {
		dt := min(try, left)
		g2, dn2, ds2 := h.rates(tr, e, full, max(n+dt/2*dn1, 0), s+dt/2*ds1)
		g3, dn3, ds3 := h.rates(tr, e, full, max(n+0.75*dt*dn2, 0), s+0.75*dt*ds2)
		endN, endS := n+dt/9*(2*dn1+3*dn2+4*dn3), s+dt/9*(2*ds1+3*ds2+4*ds3)
		g4, dn4, ds4 := h.rates(tr, e, full, max(endN, 0), endS)
		wrong := dt / 72 * (math.Abs(-5*dn1+6*dn2+8*dn3-9*dn4) + math.Abs(-5*ds1+6*ds2+8*ds3-9*ds4))
		wrong = max(wrong, -endN) // sugars that run out within the step
		if allowed := Tolerance * (n + s); wrong > allowed && dt > shortest {
			// The error goes with the third power of the step.
			try = max(dt*min(0.9*math.Cbrt(allowed/wrong), 0.7), shortest)
			continue
		}
		assimilated += dt / 9 * (2*g1 + 3*g2 + 4*g3)
		n, s = max(endN, 0), endS
		g1, dn1, ds1 = g4, dn4, ds4
		left -= dt
		if wrong < Tolerance/8*(n+s) {
			try = min(2*dt, longest)
		}
	}
	h.NonStructural, h.Structural = n, s
	return Gain{Assimilated: assimilated, Grown: s - s0, Dry: n + s - n0 - s0}
}

// shortest is the shortest step in seconds: below, the error is taken as it is.
const shortest = 60.0

// catching is the ground, in m², whose light a plant of the dry mass catches
// whole.
func (h *Head) catching(tr *Traits, dry float64) float64 {
	if h.baseDry <= 0 || dry <= 0 || h.baseCrown <= 0 {
		return 0
	}
	// Powers and exponentials are dear: within a day the relations are carried on
	// by their series in the growth x since the day's start. Up to x = 0.5, and a
	// change of 0.3 in the exponent of the light let through, the error is below 0.3 %;
	// beyond, the relations are computed themselves.
	x := dry/h.baseDry - 1
	if x > 0.5 || x < -0.5 {
		grown := Head{NonStructural: dry, ground: h.ground, areaFactor: h.areaFactor}
		area := grown.LeafArea(tr)
		crown := min(tr.CrownScale*math.Pow(area, tr.CrownExponent), h.ground)
		return crown * (1 - math.Exp(-tr.Extinction*area/crown))
	}
	area := h.baseArea * series(tr.AreaExponent, x)
	crown := min(h.baseCrown*series(tr.AreaExponent*tr.CrownExponent, x), h.ground)
	more := tr.Extinction * (area/crown - h.baseArea/min(h.baseCrown, h.ground))
	if more > 0.3 || more < -0.3 {
		return crown * (1 - math.Exp(-tr.Extinction*area/crown))
	}
	return crown * (1 - h.baseThrough*(1-more*(1-more/2*(1-more/3))))
}

// series is (1+x)^b to the third power of x.
func series(b, x float64) float64 { return 1 + b*x*(1+(b-1)/2*x*(1+(b-2)/3*x)) }

// rates is the gross uptake of a plant of n and s, and the change of both.
//
//	gross = f · caught ground / (1 + (X_n/(κ X_s))⁴),  κ the SugarMax
//	dX_n/dt = gross − maintenance · X_s − r_gr X_s/c_β
func (h *Head) rates(tr *Traits, e *Exchange, full, n, s float64) (gross, dn, ds float64) {
	if s <= 0 {
		return 0, 0, 0
	}
	if full > 0 {
		q := n / (tr.SugarMax * s)
		q *= q
		gross = full * h.catching(tr, n+s) / (1 + q*q)
	}
	grow := e.grow * n / (tr.Gamma*s + n) * s
	return gross, gross - e.maint*s - grow/tr.Beta, grow
}

// AreaFactor is the factor on leaf area of the light that the leaves form in,
// see [Head.SetLight].
func (h *Head) AreaFactor() float64 { return h.areaFactor }
