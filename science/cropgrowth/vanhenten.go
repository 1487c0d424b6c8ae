package cropgrowth

import (
	"math"

	"underlamp/science/quantity"
)

// Parameters of the two-state model, in the symbols of VanHenten1994.
type Parameters struct {
	Alpha      float64 // c_α, g CH2O per g CO2
	Beta       float64 // c_β, yield of growth, g structural per g CH2O
	GrowthMax  float64 // c_gr,max, saturation growth rate at 20 °C, s⁻¹
	Gamma      float64 // c_γ, growth rate coefficient
	Q10Growth  float64
	RespShoot  float64 // c_resp,sht at 25 °C, s⁻¹
	RespRoot   float64 // c_resp,rt at 25 °C, s⁻¹
	Q10Resp    float64
	RootShare  float64 // c_τ, root mass over total mass
	Extinction float64 // c_K
	LeafRatio  float64 // c_lar, m² leaf per g structural shoot
	CO2Density float64 // c_ω, g m⁻³ per ppm
	Compensate float64 // c_Γ, CO2 compensation point at 20 °C, ppm
	Q10Comp    float64
	LightYield float64 // c_ε, g CO2 per J of PAR at very high CO2
	Boundary   float64 // g_bnd, conductance for CO2, m s⁻¹
	Stomata    float64 // g_stm, conductance for CO2, m s⁻¹
	Carb1      float64 // c_car,1, m s⁻¹ °C⁻²
	Carb2      float64 // c_car,2, m s⁻¹ °C⁻¹
	Carb3      float64 // c_car,3, m s⁻¹
}

// VanHenten returns the parameters printed in VanHenten1994, pages 58 to 62.
//
// The paper's sentence on the two maintenance coefficients swaps root and
// shoot: 3.47e-7 s⁻¹ (0.03 per day) belongs to the shoot. Its text puts the
// optimum of the carboxylation conductance at 17.5 °C; the printed coefficients
// put it at 22.5 °C and are used as printed. A second paper of 1994 by the same
// author carries another, consistent set (boundary 0.004 m/s, roots 0.07);
// mixing them gives nonsense.
func VanHenten() Parameters {
	return Parameters{
		Alpha: 0.68, Beta: 0.8,
		GrowthMax: 5e-6, Gamma: 1, Q10Growth: 1.6,
		RespShoot: 3.47e-7, RespRoot: 1.16e-7, Q10Resp: 2,
		RootShare: 0.15, Extinction: 0.9, LeafRatio: 0.075,
		CO2Density: 1.83e-3, Compensate: 40, Q10Comp: 2,
		LightYield: 17e-6,
		Boundary:   0.007, Stomata: 0.005,
		Carb1: -1.32e-5, Carb2: 5.94e-4, Carb3: -2.64e-3,
	}
}

// An Exchange is what the air alone decides about photosynthesis, growth and
// respiration. It is computed once for every climate and used for every step.
type Exchange struct {
	yield float64 // ε, g CO2 per J of absorbed PAR
	dark  float64 // ω g (C − Γ), the ceiling of photosynthesis without light limit, g CO2 m⁻² s⁻¹
	grow  float64 // c_gr,max Q10^((T−20)/10), s⁻¹
	maint float64 // respiration per g structural mass, g CH2O s⁻¹
}

// Exchange computes the exchange coefficients of the parameters at a CO2 share
// and a temperature.
//
//	Γ = c_Γ Q10^((T−20)/10),  ε = c_ε (C−Γ)/(C+2Γ)
//	1/g = 1/g_bnd + 1/g_stm + 1/g_car,  g_car = c1 T² + c2 T + c3
//
// Outside 5 to 40 °C, where g_car is not above 0, and at CO2 below Γ,
// photosynthesis is 0. Source: VanHenten1994, equations 4 to 12.
func (p Parameters) Exchange(co2 quantity.PPM, t quantity.Celsius) Exchange {
	temp := float64(t)
	return p.exchange(co2, t, p.Carb1*temp*temp+p.Carb2*temp+p.Carb3, math.Pow(p.Q10Growth, (temp-20)/10))
}

// exchange is that of a carboxylation conductance in m s⁻¹ and a factor on the
// growth rate at 20 °C.
func (p *Parameters) exchange(co2 quantity.PPM, t quantity.Celsius, carb, warmth float64) Exchange {
	c, temp := float64(co2), float64(t)
	gammaPPM := p.Compensate * math.Pow(p.Q10Comp, (temp-20)/10)
	e := Exchange{
		grow:  p.GrowthMax * warmth,
		maint: (p.RespShoot*(1-p.RootShare) + p.RespRoot*p.RootShare) * math.Pow(p.Q10Resp, (temp-25)/10),
	}
	if c <= gammaPPM || carb <= 0 {
		return e
	}
	g := 1 / (1/p.Boundary + 1/p.Stomata + 1/carb)
	e.yield = p.LightYield * (c - gammaPPM) / (c + 2*gammaPPM)
	e.dark = g * p.CO2Density * (c - gammaPPM)
	return e
}

// Photosynthesis returns the gross uptake of a canopy that catches all light,
//
//	f_max = ε I · ω g (C−Γ) / (ε I + ω g (C−Γ))   [g CO2 m⁻² s⁻¹]
//
// with I the PAR in W m⁻². Source: VanHenten1994, equation 7.
func (e Exchange) Photosynthesis(parWattsPerM2 float64) float64 {
	lit := e.yield * parWattsPerM2
	if lit <= 0 || e.dark <= 0 {
		return 0
	}
	return lit * e.dark / (lit + e.dark)
}

// Curved returns the same uptake with a sharper bend between weak light, where
// photons limit, and strong light, where CO2 does: the root f below both limits of
//
//	θ f² − (L + D) f + L D = 0,  L = ε I, D = ω g (C−Γ)   [g CO2 m⁻² s⁻¹]
//
// At curvature θ = 0 it is [Exchange.Photosynthesis], at 1 the lesser of L and D;
// θ must lie between. Source: the non-rectangular hyperbola in which leaf models
// take the smaller of two limits, Bonan2019, chapter 11 (from memory).
func (e Exchange) Curved(parWattsPerM2, curvature float64) float64 {
	lit := e.yield * parWattsPerM2
	if lit <= 0 || e.dark <= 0 {
		return 0
	}
	sum := lit + e.dark
	// The root written so that it holds at θ = 0 as well.
	return 2 * lit * e.dark / (sum + math.Sqrt(sum*sum-4*curvature*lit*e.dark))
}

// A Canopy is the state of the two-state model, in g per m² of ground.
type Canopy struct {
	NonStructural float64 // X_n: sugars and starch
	Structural    float64 // X_s
}

// Total is the dry mass of roots and shoots in g m⁻².
func (c Canopy) Total() float64 { return c.NonStructural + c.Structural }

// Rates returns the time derivatives of the two states in g m⁻² s⁻¹ under PAR
// I in W m⁻².
//
//	dX_n/dt = c_α f_phot − r_gr X_s − f_resp − ((1−c_β)/c_β) r_gr X_s
//	dX_s/dt = r_gr X_s
//	f_phot  = (1 − exp(−c_K c_lar (1−c_τ) X_s)) f_max
//	r_gr    = c_gr,max X_n/(c_γ X_s + X_n) Q10^((T−20)/10)
//
// Source: VanHenten1994, equations 1 to 6.
func (p Parameters) Rates(c Canopy, e Exchange, parWattsPerM2 float64) (dNonStructural, dStructural float64) {
	caught := 1 - math.Exp(-p.Extinction*p.LeafRatio*(1-p.RootShare)*c.Structural)
	grow := e.grow * c.NonStructural / (p.Gamma*c.Structural + c.NonStructural) * c.Structural
	return p.Alpha*caught*e.Photosynthesis(parWattsPerM2) - e.maint*c.Structural - grow/p.Beta, grow
}
