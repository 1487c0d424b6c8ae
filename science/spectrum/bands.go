package spectrum

import (
	"fmt"
	"math"
)

// A Band is a range of wavelengths with its name.
type Band struct {
	Name     string
	From, To float64 // nm
}

// String is "blue 400–500 nm".
func (b Band) String() string { return fmt.Sprintf("%s %g–%g nm", b.Name, b.From, b.To) }

// The bands. ASABE2017: photosynthetic 400 to 700 nm, far-red 700 to 800 nm,
// ultraviolet 100 to 400 nm. Zhen2021: ePAR and its far-red end at 750 nm. Blue,
// green and red are the thirds of 400 to 700 nm, common practice.
var (
	UV     = Band{"UV", Shortest, 400}
	Blue   = Band{"blue", 400, 500}
	Green  = Band{"green", 500, 600}
	Red    = Band{"red", 600, 700}
	FarRed = Band{"far-red", 700, 750}
	// FarRedWide is the far-red of ASABE2017.
	FarRedWide = Band{"far-red", 700, 800}
	PAR        = Band{"PAR", 400, 700}
	EPAR       = Band{"ePAR", 400, 750}
)

// In returns the photons in a band, see [Spectrum.Photons].
func (s Spectrum) In(b Band) float64 { return s.Photons(b.From, b.To) }

// OfPAR returns the photons in a band as a share of those of 400 to 700 nm,
// which are 1 together; NaN if there are none of those.
func (s Spectrum) OfPAR(b Band) float64 {
	par := s.In(PAR)
	if par == 0 {
		return math.NaN()
	}
	return s.In(b) / par
}

// PARShare returns the photons of 400 to 700 nm as a share of all photons that
// the data hold.
func (s Spectrum) PARShare() float64 { return s.In(PAR) / s.Total(Photons) }

// A Ratio is one quantity of photons to another, with the bands that it means.
type Ratio struct {
	Over, Under Band
	Value       float64 // NaN if the data do not reach the bands; +Inf with no photons under
}

// Bands prints the two bands: "655–665 : 725–735 nm".
func (r Ratio) Bands() string {
	return fmt.Sprintf("%g–%g : %g–%g nm", r.Over.From, r.Over.To, r.Under.From, r.Under.To)
}

// RedFarRed returns both ratios of red to far-red photons in use: of bands of 10
// nm about 660 and 730 nm, and of bands of 100 nm on both sides of 700 nm. On
// lamps of few peaks they can differ threefold.
//
// The narrow one is NaN if the data end within its bands; the wide one is NaN if
// less than half of a band is covered, and too high if less than all of it is:
// see [Spectrum.Gaps].
func (s Spectrum) RedFarRed() (narrow, wide Ratio) {
	narrow = s.ratio(Band{"red", 655, 665}, Band{"far-red", 725, 735}, 1)
	wide = s.ratio(Red, FarRedWide, 0.5)
	return narrow, wide
}

// ratio divides bands of which at least a share must be covered by the data.
func (s Spectrum) ratio(over, under Band, covered float64) Ratio {
	r := Ratio{Over: over, Under: under, Value: math.NaN()}
	if s.covers(over) < covered || s.covers(under) < covered {
		return r
	}
	a, b := s.In(over), s.In(under)
	switch {
	case b > 0:
		r.Value = a / b
	case a > 0:
		r.Value = math.Inf(1)
	}
	return r
}
