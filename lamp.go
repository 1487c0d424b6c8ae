package underlamp

import (
	"underlamp/science/photometry"
	"underlamp/science/quantity"
	"underlamp/science/spectrum"
)

// A Lamp is one fixture at a place.
type Lamp struct {
	Name string
	Kind string // lamps of one kind share their errors: the make, or the name if none is given

	X, Y   quantity.Metre // middle of the luminous opening
	Height quantity.Metre // of the luminous opening above the planting surface
	Pose   Pose

	Opening Opening
	Beam    Given[quantity.Degree] // full angle at half of the intensity; of the file if there is one
	File    *LampFile              // how it spreads its light; nil: round and by Beam
	Colour  *LampColour            // nil: not known

	Flux   Given[quantity.PPF]      // at full power, when new
	FluxSD quantity.Fraction        // relative standard deviation of Flux; 0: by its origin
	Left   Given[quantity.Fraction] // share of the light of a new lamp that age has left
	LeftOn string                   // the day that Left was true (YYYY-MM-DD); empty if not noted
	NewOn  string                   // the day that the lamp was first lit; empty if not noted
	Fade   float64                  // loss of light for each day, 1/d, on the way to Left; 0 if not known
	Power  Given[quantity.Watt]     // drawn at full power, driver included
	Rated  Given[quantity.Efficacy] // photons per electric energy

	Dimming Given[quantity.Fraction] // what the dimmer says; 1 is full power
	Curve   []DimPoint               // what that does, ascending by Dimming; empty: light and power in proportion
	Hours   Given[quantity.Hours]    // light a day
}

// A Pose is how a lamp hangs. The zero value faces straight down with its width
// along the bench. The lamp is first turned about the vertical, anticlockwise as
// seen from above, and then tilted out of the vertical towards a bearing.
type Pose struct {
	Turn    quantity.Degree
	Tilt    quantity.Degree
	Towards quantity.Degree // bearing in the plan: 0 to the right, 90 to the back
}

// A LampFile is the photometric file of a lamp.
type LampFile struct {
	Name string // of the file
	*photometry.File
}

// A LampColour is the spectrum of a lamp.
type LampColour struct {
	Name string // of the file
	spectrum.Spectrum
}

// An Opening is the part of a lamp that gives light.
type Opening struct {
	Round  bool
	Width  Given[quantity.Metre] // x; the diameter if round
	Depth  Given[quantity.Metre] // y; not used if round
	Inner  quantity.Metre        // diameter of the dark middle of a ring; 0 if it is none
	Origin Origin
}

// A DimPoint is what one position of the dimmer does, as measured.
type DimPoint struct {
	Dimming quantity.Fraction // what the dimmer says
	Light   quantity.Fraction // share of the light at full power
	Power   quantity.Fraction // share of the power drawn at full power
}

// Light is the share of its full light that the lamp gives at a dimming. Below
// the first measured point it falls in proportion; without a curve it is the
// dimming itself.
func (l *Lamp) Light(dimming quantity.Fraction) quantity.Fraction {
	return along(l.Curve, dimming, func(p DimPoint) quantity.Fraction { return p.Light })
}

// DimmingFor is the dimming at which the lamp gives a share of its full light.
func (l *Lamp) DimmingFor(share quantity.Fraction) quantity.Fraction {
	return inverse(l.Light, share)
}

// inverse finds where a function that rises from 0 reaches a share; past its
// value at 1, or at the share itself if that is more, it ends.
func inverse(of func(quantity.Fraction) quantity.Fraction, share quantity.Fraction) quantity.Fraction {
	lo, hi := quantity.Fraction(0), max(share, 1)
	if of(hi) <= share {
		return hi
	}
	for range 50 {
		mid := (lo + hi) / 2
		if of(mid) < share {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// Draw is the power that the lamp draws at a dimming, driver included.
func (l *Lamp) Draw(dimming quantity.Fraction) quantity.Watt {
	share := along(l.Curve, dimming, func(p DimPoint) quantity.Fraction { return p.Power })
	return l.Power.Value * quantity.Watt(share)
}

// along reads a curve by straight lines from the origin through its points; the
// last line goes on.
func along(curve []DimPoint, at quantity.Fraction, of func(DimPoint) quantity.Fraction) quantity.Fraction {
	if len(curve) == 0 {
		return at
	}
	var a, b DimPoint
	for _, p := range curve {
		if b.Dimming > 0 {
			a = b
		}
		b = p
		if at <= p.Dimming {
			break
		}
	}
	if b.Dimming == a.Dimming {
		return of(b)
	}
	f := (at - a.Dimming) / (b.Dimming - a.Dimming)
	return max(of(a)+f*(of(b)-of(a)), 0)
}
