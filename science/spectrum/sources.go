package spectrum

import (
	"fmt"
	"math"
)

// radiation is c₂ = h c/k in nm K, as CIE15 rounds it.
const radiation = 1.4388e7

// Planck returns the light of a black body of a temperature from 500 to 100 000
// K, 300 to 830 nm in steps of 1 nm, as relative energy that is 100 at 560 nm.
// It panics beyond these temperatures.
//
//	e(λ) ∝ λ⁻⁵ / (exp(c₂/(λ T)) − 1), c₂ = 1.4388·10⁷ nm K
func Planck(kelvin float64) Spectrum {
	if !(kelvin >= 500 && kelvin <= 1e5) {
		panic("spectrum: Planck: the temperature must be from 500 to 100000 K")
	}
	return blackBody(radiation / kelvin)
}

// IlluminantA returns CIE standard illuminant A, an incandescent lamp of 2856 K,
// 300 to 830 nm, by the formula of CIE11664, which still has the c₂ of 1931:
//
//	S(λ) = 100 (560/λ)⁵ (exp(1.435·10⁷/(2848·560)) − 1)/(exp(1.435·10⁷/(2848 λ)) − 1)
func IlluminantA() Spectrum { return blackBody(1.435e7 / 2848) }

func blackBody(over float64) Spectrum {
	return formula(300, 830, 1, func(nm float64) float64 {
		return 100 * math.Pow(560/nm, 5) * math.Expm1(over/560) / math.Expm1(over/nm)
	})
}

// formula samples relative energy.
func formula(from, to, step float64, f func(nm float64) float64) Spectrum {
	n := int(math.Round((to-from)/step)) + 1
	c := curve{nm: make([]float64, n), v: make([]float64, n), basis: Energy, times: 1}
	for i := range n {
		c.nm[i] = from + float64(i)*step
		c.v[i] = f(c.nm[i])
	}
	return Spectrum{curves: []curve{c}}
}

// Daylight returns daylight of a correlated colour temperature from 4000 to
// 25 000 K, 300 to 830 nm in steps of 5 nm, as relative energy that is 100 at
// 560 nm: S0 + M1 S1 + M2 S2, M1 and M2 rounded to three decimals as the
// standard asks. It panics beyond these temperatures. [DaylightD65] is the
// temperature of illuminant D65.
//
// Source: CIE15, section 4.1.2.
func Daylight(kelvin float64) Spectrum {
	if !(kelvin >= 4000 && kelvin <= 25000) {
		panic("spectrum: Daylight: the temperature must be from 4000 to 25000 K")
	}
	// CIE15 eq. 4.5 and 4.6: the chromaticity of daylight.
	t := kelvin
	x := -4.6070e9/(t*t*t) + 2.9678e6/(t*t) + 0.09911e3/t + 0.244063
	if t > 7000 {
		x = -2.0064e9/(t*t*t) + 1.9018e6/(t*t) + 0.24748e3/t + 0.237040
	}
	y := -3*x*x + 2.870*x - 0.275
	// CIE15 eq. 4.4.
	d := 0.0241 + 0.2562*x - 0.7341*y
	m1 := math.Round(1000*(-1.3515-1.7703*x+5.9114*y)/d) / 1000
	m2 := math.Round(1000*(0.0300-31.4424*x+30.0717*y)/d) / 1000
	s := components()
	i := 0
	return formula(300, 830, 5, func(float64) float64 {
		v := s[0].w[i] + m1*s[1].w[i] + m2*s[2].w[i]
		i++
		return math.Max(0, v)
	})
}

// DaylightD65 is the correlated colour temperature of illuminant D65 in K: 6500
// on the scale of 1931, 6504 on that of today.
const DaylightD65 = 6500 * 1.4388 / 1.4380

// Limits of [LED] in nm.
const (
	minPeak, maxPeak   = 250, 1100
	minWidth, maxWidth = 2, 250
)

// LED returns the light of a diode with its peak and its full width at half
// maximum in nm, as relative energy: a Gaussian curve of wavelength, out to 3
// widths.
//
//	e(λ) ∝ exp(−4 ln 2 ((λ − peak)/width)²)
//
// Real diodes have longer tails, the red ones toward the blue; where 1 % of the
// light matters (R:FR of a red lamp) use a measured curve. A peak outside 250 to
// 1100 nm or a width outside 2 to 250 nm is an error.
func LED(peak, width float64) (Spectrum, error) {
	if !(peak >= minPeak && peak <= maxPeak) {
		return Spectrum{}, fmt.Errorf("a peak of %g nm: it must be from %d to %d nm", peak, minPeak, maxPeak)
	}
	if !(width >= minWidth && width <= maxWidth) {
		return Spectrum{}, fmt.Errorf("a width of %g nm: the full width at half maximum must be from %d to %d nm (10 to 40 nm are usual)", width, minWidth, maxWidth)
	}
	const half = 240 // steps on each side
	c := curve{basis: Energy, times: 1, complete: true}
	for i := -half; i <= half; i++ {
		d := 3 * float64(i) / half
		nm := peak + d*width
		if nm < Shortest {
			continue
		}
		c.nm = append(c.nm, nm)
		c.v = append(c.v, math.Exp(-4*math.Ln2*d*d))
	}
	return Spectrum{curves: []curve{c}}, nil
}

// Line returns light of one wavelength in nm, as relative photons: a triangle of
// 0.1 nm at its foot. It panics outside 150 to 3900 nm.
func Line(nm float64) Spectrum {
	if !(nm >= 150 && nm <= 3900) {
		panic("spectrum: Line: the wavelength must be from 150 to 3900 nm")
	}
	return Spectrum{curves: []curve{{nm: []float64{nm - 0.05, nm, nm + 0.05}, v: []float64{0, 20, 0}, basis: Photons, times: 1, complete: true}}}
}

// A Part is one component of a mixed light.
type Part struct {
	Spectrum Spectrum
	Share    float64 // of the photons or of the energy, in proportion to those of the other parts
}

// Mix returns the light of parts whose shares count photons or energy, over all
// wavelengths of a part. The result is relative: 1 together, in the basis given.
// Parts with a share of 0 are left out; a negative share, or none above 0, is an
// error. A part that is dark panics.
func Mix(b Basis, parts ...Part) (Spectrum, error) {
	sum := 0.0
	for i, p := range parts {
		if !(p.Share >= 0) || math.IsInf(p.Share, 0) {
			return Spectrum{}, fmt.Errorf("part %d has a share of %g: it must be 0 or more", i+1, p.Share)
		}
		sum += p.Share
	}
	if !(sum > 0) || math.IsInf(sum, 0) {
		return Spectrum{}, fmt.Errorf("no part has a share above 0")
	}
	var out Spectrum
	for _, p := range parts {
		if p.Share == 0 {
			continue
		}
		total := p.Spectrum.Total(b)
		if !(total > 0) {
			panic("spectrum: Mix: a part is dark")
		}
		out.curves = append(out.curves, p.Spectrum.Times(p.Share/sum/total).curves...)
	}
	return out, nil
}
