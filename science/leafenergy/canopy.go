package leafenergy

import (
	"math"

	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

// Constants of the stand, Graamans2017.
const (
	airHeat       = 1206.0 // ρ c_p, J m⁻³ K⁻¹ at about 20 °C
	latent        = 2450.0 // λ, J g⁻¹
	leafLength    = 0.11   // l, m, mean diameter of lettuce leaves
	reflectance   = 0.06   // of a stand in PAR; the paper gives 0.05 to 0.08
	darkStomata   = 450.0  // r_s in the dark, s m⁻¹; too high, see the package comment
	PARPerPhoton  = 0.2    // J µmol⁻¹ of lamp light; its table 1 gives 1/4.88 to 1/5.05
	stillestSpeed = 0.01   // m s⁻¹; equation 10 has no limit at rest
)

// StomatalResistance returns the resistance of the stomata of lettuce in light.
//
//	r_s = 60 (1500 + PPFD)/(200 + PPFD)   [s m⁻¹]
//
// At PPFD 0 it is 450, the value the paper uses in the dark. Source:
// Graamans2017, equation 9.
func StomatalResistance(e quantity.PPFD) float64 {
	return 60 * (1500 + float64(e)) / (200 + float64(e))
}

// AerodynamicResistance returns the resistance between the leaves of a stand and
// the air.
//
//	r_a = 350 √(l/u) / LAI   [s m⁻¹]
//
// u is the free air speed; below 1 cm/s it is taken as 1 cm/s. Source:
// Graamans2017, equation 10 (after Fuchs 1993).
func AerodynamicResistance(u quantity.MetrePerSecond, lai float64) float64 {
	return 350 * math.Sqrt(leafLength/max(float64(u), stillestSpeed)) / lai
}

// A Stand is what the energy balance of a stand is computed from.
type Stand struct {
	Absorbed float64 // R_net, radiation absorbed per m² of ground, W
	LAI      float64 // leaf area index of the ground that the stand covers
	Stomata  float64 // r_s, s m⁻¹
	Air      float64 // r_a, s m⁻¹
}

// Absorbed returns the PAR that a stand keeps per m² of ground, in W.
//
//	R_net = (1 − ρ) I cover
//
// Source: Graamans2017, equation 8.
func Absorbed(parWattsPerM2, cover float64) float64 { return (1 - reflectance) * parWattsPerM2 * cover }

// CanopyAir is air with what the balance needs of it, computed once.
type CanopyAir struct {
	airC    float64
	vapour  float64 // χ_a, g m⁻³
	holding float64 // χ*(T_air), g m⁻³
	slope   float64 // dχ*/dT at air temperature, g m⁻³ K⁻¹
}

// NewCanopyAir prepares air of a temperature and relative humidity.
func NewCanopyAir(t quantity.Celsius, rh quantity.Fraction) CanopyAir {
	const h = 0.01
	full := saturated(t)
	return CanopyAir{airC: float64(t), vapour: float64(rh) * full, holding: full, slope: (saturated(t+h) - saturated(t-h)) / (2 * h)}
}

// saturated is the water vapour of saturated air, χ*, in g m⁻³.
func saturated(t quantity.Celsius) float64 {
	return moistair.AbsoluteHumidity(moistair.SaturationPressure(t), t)
}

// Fluxes are the result of the balance of a stand, per m² of ground.
type Fluxes struct {
	Sensible      float64 // H, W m⁻²; negative when the stand cools the air
	Latent        float64 // λE, W m⁻²
	Transpiration float64 // g m⁻² s⁻¹
	Warmer        float64 // temperature of the stand minus that of the air, K
}

// Solve finds the temperature at which the stand loses what it absorbs.
//
//	R_net = H + λE,  H = LAI ρ c_p ΔT/r_a,  λE = LAI λ (χ*(T_a+ΔT) − χ_a)/(r_s + r_a)
//
// Two steps of Newton's method take the saturation curve with its slope and
// curvature at air temperature (the curvature from e_s ∝ exp), a third takes the
// curve itself: ΔT is then within 0.001 K for |ΔT| under 3 K and within 0.01 K
// under 5 K (held by a test against bisection). The sum of the fluxes is the radiation absorbed. Without
// leaves all fluxes are 0. Source: Graamans2017, equations 4 to 6; the paper's
// equation 7 linearises the curve.
func (a CanopyAir) Solve(s Stand) Fluxes {
	if s.LAI <= 0 {
		return Fluxes{}
	}
	heat := s.LAI * airHeat / s.Air
	water := s.LAI * latent / (s.Stomata + s.Air)
	dry := a.holding - a.vapour            // χ*(T_a) − χ_a
	curve := a.slope * a.slope / a.holding // that of an exponential
	d := 0.0
	for range 2 {
		f := s.Absorbed - heat*d - water*(dry+a.slope*d+curve*d*d/2)
		d += f / (heat + water*(a.slope+curve*d))
	}
	gap := saturated(quantity.Celsius(a.airC+d)) - a.vapour
	d += (s.Absorbed - heat*d - water*gap) / (heat + water*(a.slope+curve*d))
	l := s.Absorbed - heat*d
	return Fluxes{Sensible: heat * d, Latent: l, Transpiration: l / latent, Warmer: d}
}
