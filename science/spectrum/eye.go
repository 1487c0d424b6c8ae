package spectrum

// lumensPerWatt is K_m of CIE018: 683 lm/W at 540 THz, 683.002 at the peak of
// V(λ), 555 nm in air.
const lumensPerWatt = 683.002

// Lumens returns the luminous flux: lm for a lamp in watts, lx for a surface in
// W m⁻².
//
//	Φ_v = 683.002 ∫ e(λ) V(λ) dλ
//
// Source: CIE018.
func (s Spectrum) Lumens() float64 { return lumensPerWatt * s.integral(0, 1e9, Energy, photopic()) }

// LuxPerMicromole returns the illuminance in lx of 1 µmol m⁻² s⁻¹ of photons of
// 400 to 700 nm, which is also lm per µmol s⁻¹; +Inf for light that a plant
// cannot use, NaN in the dark.
func (s Spectrum) LuxPerMicromole() float64 { return s.Lumens() / s.In(PAR) }

// MicromolesPerLumen is the inverse of [Spectrum.LuxPerMicromole]: photons of
// 400 to 700 nm for each lumen, in µmol s⁻¹ lm⁻¹. It turns a photometric file,
// which holds candela, into photons.
func (s Spectrum) MicromolesPerLumen() float64 { return s.In(PAR) / s.Lumens() }

// LuxMeterUse says how far a lux meter may be trusted under a light.
type LuxMeterUse int

// The answers.
const (
	LuxUsable  LuxMeterUse = iota // with the factor of this very light
	LuxUseless                    // most photons lie where the eye hardly sees
)

// LuxMeter tells whether a lux meter is of use under this light. An eye sees
// photons of 450 and 660 nm at about a tenth of green ones, and cheap meters are
// worst there, so under red and blue the meter reads the small rest of green.
// Below 25 lx per µmol it is called useless: common practice, no printed
// threshold.
func (s Spectrum) LuxMeter() LuxMeterUse {
	if !(s.LuxPerMicromole() >= leastLux) {
		return LuxUseless
	}
	return LuxUsable
}

// leastLux is in lx per µmol m⁻² s⁻¹. Blue and red diodes have 9 to 11, white
// lamps 50 to 90.
const leastLux = 25
