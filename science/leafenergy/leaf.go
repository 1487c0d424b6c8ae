package leafenergy

import (
	"math"

	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

// Constants of the leaf, all from Bonan2019, supplemental program 10.2. Programs of
// later chapters of that work carry others (1005 and 1846 for the heats of air
// and vapour): they are not mixed here.
const (
	stefanBoltzmann = 5.67e-8 // W m⁻² K⁻⁴
	emissivity      = 0.98
	gasConstant     = 8.31447  // J mol⁻¹ K⁻¹
	gravity         = 9.80616  // m s⁻²
	seaLevel        = 101325   // Pa
	freezing        = 273.15   // K
	molarAirDry     = 0.028966 // kg mol⁻¹
	molarWater      = 0.018016
	heatDryAir      = 1004.64 // J kg⁻¹ K⁻¹
	heatVapour      = 1810.0
	diffusivityMo   = 13.3e-6 // kinematic viscosity at 0 °C, m² s⁻¹
	diffusivityHeat = 18.9e-6
	diffusivityVap  = 21.8e-6
	diffusivityExp  = 1.81
	unevenLeaf      = 1.5 // factor on forced convection for leaves in the wind
)

// A Leaf is one leaf in air.
type Leaf struct {
	AirC       quantity.Celsius
	Humidity   quantity.Fraction
	Absorbed   float64 // short and long wave on both sides, W per m² of leaf
	Wind       quantity.MetrePerSecond
	Size       quantity.Metre // characteristic dimension
	Conduction float64        // stomatal conductance to water vapour, one side, mol m⁻² s⁻¹
}

// LeafState is the result of the balance of a leaf, W per m² of leaf.
type LeafState struct {
	LeafC    quantity.Celsius
	Emitted  float64 // long wave from both sides
	Sensible float64 // from both sides
	Latent   float64 // from the side with stomata
	HeatG    float64 // boundary-layer conductance for heat, one side, mol m⁻² s⁻¹
	VapourG  float64 // for vapour
}

// LongWave is the long-wave radiation that both sides of a leaf take up from surroundings of
// one temperature, W per m² of leaf: 2 ε σ T⁴.
func LongWave(around quantity.Celsius) float64 {
	t := around.Kelvin()
	return 2 * emissivity * stefanBoltzmann * t * t * t * t
}

// Conductance turns a resistance to vapour in s m⁻¹ into a conductance in mol m⁻² s⁻¹ at sea
// level: P/(R T r).
func Conductance(resistance float64, t quantity.Celsius) float64 {
	return seaLevel / (gasConstant * t.Kelvin() * resistance)
}

// Solve finds the temperature at which the leaf loses what it absorbs.
//
//	Q_abs = 2 ε σ T⁴ + 2 c_p (T−T_a) g_bh + λ (e*(T) − e_a)/P · g
//
// with g the stomatal and boundary-layer conductances in series and the boundary
// layer by forced and free convection,
//
//	Nu = 1.5 max(0.66 Pr^0.33 Re^0.5, 0.036 Pr^0.33 Re^0.8) + 0.54 (Gr Pr)^0.25
//
// by bisection between 60 K below and above the air. Source: Bonan2019, chapter
// 10, equations 10.5 to 10.42.
func (l Leaf) Solve() LeafState {
	lo, hi := float64(l.AirC)-60, float64(l.AirC)+60
	for hi-lo > 1e-7 {
		mid := (lo + hi) / 2
		if s := l.at(mid); s.Emitted+s.Sensible+s.Latent < l.Absorbed {
			lo = mid
		} else {
			hi = mid
		}
	}
	return l.at((lo + hi) / 2)
}

// at is the state if the leaf had the temperature leafC.
func (l Leaf) at(leafC float64) LeafState {
	airK, leafK := l.AirC.Kelvin(), leafC+freezing
	ea := saturation(float64(l.AirC)) * float64(l.Humidity) // Pa
	density := seaLevel / (gasConstant * airK)              // mol m⁻³
	mass := density * molarAirDry * (1 - (1-molarWater/molarAirDry)*ea/seaLevel)
	moist := mass / density                                                           // kg mol⁻¹
	q := (molarWater / molarAirDry) * ea / (seaLevel - (1-molarWater/molarAirDry)*ea) // kg kg⁻¹
	cp := heatDryAir * (1 + (heatVapour/heatDryAir-1)*q) * moist                      // J mol⁻¹ K⁻¹
	scale := math.Pow(airK/freezing, diffusivityExp)                                  // Bonan2019, eq. 10.33
	mo, dh, dv := diffusivityMo*scale, diffusivityHeat*scale, diffusivityVap*scale    // m² s⁻¹
	size, u := float64(l.Size), float64(l.Wind)                                       // m, m s⁻¹
	re, pr, sc := u*size/mo, mo/dh, mo/dv                                             // dimensionless
	gr := gravity * size * size * size * math.Max(leafK-airK, 0) / (airK * mo * mo)   // dimensionless
	forced := func(p float64) float64 {                                               // laminar or turbulent, the larger
		return unevenLeaf * math.Max(0.66*math.Pow(p, 0.33)*math.Sqrt(re), 0.036*math.Pow(p, 0.33)*math.Pow(re, 0.8))
	}
	free := func(p float64) float64 { return 0.54 * math.Pow(p, 0.25) * math.Pow(gr, 0.25) }
	heat := density * dh / size * (forced(pr) + free(pr))
	vapour := density * dv / size * (forced(sc) + free(sc))
	series := 0.0
	if l.Conduction > 0 {
		series = 1 / (1/l.Conduction + 1/vapour)
	}
	lambda := (2501.6 - 2.3773*float64(l.AirC)) * 1000 * molarWater // J mol⁻¹
	return LeafState{
		LeafC:    quantity.Celsius(leafC),
		Emitted:  2 * emissivity * stefanBoltzmann * leafK * leafK * leafK * leafK,
		Sensible: 2 * cp * (leafK - airK) * heat,
		Latent:   lambda / seaLevel * (saturation(leafC) - ea) * series,
		HeatG:    heat, VapourG: vapour,
	}
}

// saturation is the saturation pressure in Pa.
func saturation(c float64) float64 {
	return 1000 * float64(moistair.SaturationPressure(quantity.Celsius(c)))
}
