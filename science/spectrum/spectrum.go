package spectrum

import (
	"fmt"
	"math"
	"slices"
)

// A Basis says what the samples of a spectrum count.
type Basis int

// The bases.
const (
	Photons Basis = iota // quanta: µmol s⁻¹ nm⁻¹, or in proportion to it
	Energy               // power: W nm⁻¹, or in proportion to it
)

// String is "photons" or "energy".
func (b Basis) String() string {
	if b == Energy {
		return "energy"
	}
	return "photons"
}

// A Scale says whether the size of a spectrum means anything.
type Scale int

// The scales.
const (
	Relative    Scale = iota // only the shape is known
	Flux                     // of a whole lamp: µmol s⁻¹ nm⁻¹ or W nm⁻¹
	FluxDensity              // on a surface: µmol m⁻² s⁻¹ nm⁻¹ or W m⁻² nm⁻¹
)

// Wavelengths that samples may have, in nm. The limits catch micrometres,
// wavenumbers and row numbers; they say nothing about accuracy.
const (
	Shortest = 100
	Longest  = 4000
)

// Samples are a spectrum as it was measured.
type Samples struct {
	NM    []float64 // wavelengths in nm, strictly ascending, Shortest to Longest
	Value []float64 // one for each wavelength, at least 0, not all 0
	Basis Basis
	Scale Scale
}

// A SampleError names the first sample that cannot be used.
type SampleError struct {
	Index  int     // from 0; −1 if it is about all of them
	NM     float64 // wavelength at the index
	Reason string
}

// Error says which sample and why.
func (e *SampleError) Error() string {
	if e.Index < 0 {
		return "spectrum: " + e.Reason
	}
	return fmt.Sprintf("spectrum: sample %d at %g nm: %s", e.Index+1, e.NM, e.Reason)
}

// A Spectrum is light by wavelength: a sum of curves. The zero value is dark.
type Spectrum struct {
	curves []curve
	scale  Scale
}

// curve is one run of samples joined by straight lines.
type curve struct {
	nm, v    []float64
	basis    Basis
	times    float64 // factor on v
	complete bool    // a formula that goes to 0 at both ends: nothing was cut off
}

// New makes a spectrum of samples, which it copies. It panics if there are not
// as many values as wavelengths; what else is wrong gives a [*SampleError].
func New(s Samples) (Spectrum, error) {
	if len(s.NM) != len(s.Value) {
		panic("spectrum: New: not as many values as wavelengths")
	}
	fail := func(i int, reason string) (Spectrum, error) {
		e := &SampleError{Index: i, Reason: reason}
		if i >= 0 {
			e.NM = s.NM[i]
		}
		return Spectrum{}, e
	}
	if len(s.NM) < 2 {
		return fail(-1, "there are fewer than two samples")
	}
	most := 0.0
	for i, nm := range s.NM {
		v := s.Value[i]
		switch {
		case !(nm >= Shortest && nm <= Longest):
			return fail(i, fmt.Sprintf("the wavelength must be from %d to %d nm", Shortest, Longest))
		case i > 0 && nm <= s.NM[i-1]:
			return fail(i, "wavelengths must ascend")
		case math.IsNaN(v) || math.IsInf(v, 0):
			return fail(i, "the value is no number")
		case v < 0:
			return fail(i, "the value is below 0")
		case v > 1e100:
			return fail(i, "the value is beyond all measure")
		}
		most = math.Max(most, v)
	}
	if most < 1e-100 {
		return fail(-1, "there is no light at any wavelength")
	}
	return Spectrum{curves: []curve{{nm: slices.Clone(s.NM), v: slices.Clone(s.Value), basis: s.Basis, times: 1}}, scale: s.Scale}, nil
}

// Scale tells whether the size of the spectrum means anything.
func (s Spectrum) Scale() Scale { return s.scale }

// Times returns the spectrum with every value multiplied by f, which must be
// positive and finite: it panics if not.
func (s Spectrum) Times(f float64) Spectrum {
	if !(f > 0) || math.IsInf(f, 0) {
		panic("spectrum: Times: the factor must be positive")
	}
	out := Spectrum{curves: slices.Clone(s.curves), scale: s.scale}
	for i := range out.curves {
		out.curves[i].times *= f
	}
	return out
}

// At returns the spectral photon flux at a wavelength in nm, per nm.
func (s Spectrum) At(nm float64) float64 {
	sum := 0.0
	for _, c := range s.curves {
		sum += c.at(nm) * toBasis(c.basis, Photons, nm)
	}
	return sum
}

// EnergyAt returns the spectral power at a wavelength in nm, per nm.
func (s Spectrum) EnergyAt(nm float64) float64 {
	return s.At(nm) * toBasis(Photons, Energy, nm)
}

// Photons returns the photons between two wavelengths in nm: µmol s⁻¹, or
// µmol m⁻² s⁻¹, or in the unit of a relative spectrum. Samples of energy count
// as if they were watts.
//
//	N(a, b) = ∫ n(λ) dλ, from a to b
func (s Spectrum) Photons(from, to float64) float64 { return s.integral(from, to, Photons, nil) }

// Energy returns the radiant power between two wavelengths in nm: W or W m⁻².
// Samples of photons count as if they were µmol s⁻¹.
func (s Spectrum) Energy(from, to float64) float64 { return s.integral(from, to, Energy, nil) }

// Total returns all photons or all energy of the spectrum.
func (s Spectrum) Total(b Basis) float64 { return s.integral(0, math.Inf(1), b, nil) }

// Support returns the least and the greatest wavelength at which any sample
// stands; zeros for the dark.
func (s Spectrum) Support() (from, to float64) {
	if len(s.curves) == 0 {
		return 0, 0
	}
	from, to = math.Inf(1), math.Inf(-1)
	for _, c := range s.curves {
		from, to = math.Min(from, c.nm[0]), math.Max(to, c.nm[len(c.nm)-1])
	}
	return from, to
}
