package lightfield

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/quantity"
)

// A Reading is one reading of a quantum meter held level and facing up.
type Reading struct {
	Name    string
	At      Point // of the sensor
	PPFD    quantity.PPFD
	Dimming []float64 // of each lamp while reading, 0 is off, 1 is Flux; from 0 to 5, above 1 where the lamp was brighter than it is now
	PlaceSD float64   // standard deviation of each coordinate, m; 0 means 0.01
	OwnSD   float64   // relative standard deviation of this reading alone; 0 means 0.025
}

// A Prior is what is known before the readings.
type Prior struct {
	FluxSD        []float64 // relative standard deviation of each lamp's flux; nil means 0.15 for all
	Group         []int     // lamps with one number share one flux factor and one exponent factor; nil gives each lamp its own
	ExponentSD    float64   // standard deviation of the logarithm of the exponent; 0 keeps it fixed
	ReflectanceSD float64   // standard deviation of a common shift of logit(reflectance); 0 keeps it fixed
	MirrorSD      float64   // standard deviation of a common shift of logit(share of the reflectance that is mirrored); 0 keeps it fixed
	MeterSD       float64   // relative scale error common to all readings; 0 means 0.05
}

// Defaults where a field is 0: the spread of a label, a ruler and a hand
// (common practice, no source), and the scale error of a quantum sensor
// (SensorMakers: 5 % calibration; 2 to 3 % for directional response).
const (
	defaultFluxSD  = 0.15
	defaultPlaceSD = 0.01
	defaultOwnSD   = 0.025
	defaultMeterSD = 0.05
)

// A ReadingResult holds one reading against the fitted model.
type ReadingResult struct {
	Name     string
	Measured float64  // PPFD
	Model    float64  // PPFD that the fitted lamps give there, as this meter would read it
	Residual float64  // ln(Measured/Model)
	SD       float64  // what Residual may spread by: the reading's own error and its place
	Z        float64  // Residual/SD
	FarOff   bool     // |Z| > 3
	Reasons  []string // what could explain it, sentences without full stop, lengths in metric units; empty unless FarOff

	noted, fits float64 // height of the sensor, and the one at which the reading would fit
	ruler       int     // which of Reasons says so; 0 if none
}

// Fitted is what labels and readings say together.
type Fitted struct {
	Lamps       []Lamp // with fitted flux and exponent
	Space       Space  // with fitted reflectances
	FluxFactor  []float64
	Exponent    []float64 // factor on the exponent, by group as FluxFactor
	Groups      []int     // the group numbers of FluxFactor and Exponent, ascending
	Reflectance [NumSides]quantity.Fraction
	MeterFactor float64 // how much the meter reads too high

	ParamNames []string
	Param      []float64     // ln flux factor and ln exponent factor by group, logit shifts of reflectance and mirrored share, ln meter factor; fixed ones are left out
	Cov        *mat.SymDense // of Param

	Readings []ReadingResult
	Notes    []string // doubts about the answer, for people

	layout layout
	base   problem
	near   vicinity
}

// Fit finds the lamps and reflectances that agree best with the readings and
// with what was known before, and says how sure they are.
//
// The logarithm of a reading is the logarithm of the model at its place, plus
// the meter's scale error, plus an error with Student's t distribution of 4
// degrees of freedom, so that a wrong reading does not drag the lamps along. Its
// scale is √(OwnSD² + |∇ln E|² PlaceSD²). What was known enters as normal
// pseudo-readings. The fit is by iteratively reweighted Levenberg-Marquardt from
// several starts (LangeLittleTaylor1989); the covariance is the inverse of the
// reweighted information.
//
// Without readings the answer is the prior. Readings that are zero, negative or
// out of reach of the lamps that were on, and all faults of space and lamps,
// come back in one joined error.
func Fit(space Space, lamps []Lamp, readings []Reading, prior Prior) (*Fitted, error) {
	if err := errors.Join(space.check(), checkLamps(space, lamps), checkReadings(len(lamps), readings), checkPrior(len(lamps), prior)); err != nil {
		return nil, err
	}
	p := problem{space: space, lamps: append([]Lamp(nil), lamps...), prior: prior}
	p.readings = fillReadings(readings)
	lay := p.layout()
	table, err := p.tabulate(lay)
	if err != nil {
		return nil, err
	}
	if err := p.reachable(table); err != nil {
		return nil, err
	}
	best := p.search(lay, table)
	f := &Fitted{layout: lay, base: p, Param: best.theta, ParamNames: lay.names(), Cov: best.cov, near: best.near}
	f.apply()
	if err := f.judge(best.sd); err != nil {
		return nil, err
	}
	f.note()
	return f, nil
}

func fillReadings(readings []Reading) []Reading {
	out := append([]Reading(nil), readings...)
	for i := range out {
		if out[i].PlaceSD == 0 {
			out[i].PlaceSD = defaultPlaceSD
		}
		if out[i].OwnSD == 0 {
			out[i].OwnSD = defaultOwnSD
		}
	}
	return out
}

func checkReadings(lamps int, readings []Reading) error {
	var errs []error
	for i, r := range readings {
		fail := func(format string, args ...any) {
			errs = append(errs, fmt.Errorf("reading %s: %s", nameOf(r, i), fmt.Sprintf(format, args...)))
		}
		if v := float64(r.PPFD); !(v > 0) || math.IsInf(v, 1) {
			fail("the PPFD is %v µmol/m²/s; it must be above 0; leave out readings in the dark", v)
		}
		for axis, name := range []string{"x", "y", "z"} {
			if v := r.At.at(axis); math.IsNaN(v) || math.Abs(v) > longestM {
				fail("%s is %v m; a place in the space is needed", name, v)
			}
		}
		if !(r.PlaceSD >= 0 && r.PlaceSD <= 1) {
			fail("the spread of the place is %v m; it must be from 0 to 1", r.PlaceSD)
		}
		if !(r.OwnSD >= 0 && r.OwnSD <= 1) {
			fail("the relative spread is %v; it must be from 0 to 1", r.OwnSD)
		}
		if len(r.Dimming) != lamps {
			fail("it has %d dimmings for %d lamps; one for each lamp is needed", len(r.Dimming), lamps)
		}
		for k, d := range r.Dimming {
			if !(d >= 0 && d <= 5) {
				fail("the dimming of lamp %d is %v; it must be from 0 to 5", k+1, d)
			}
		}
	}
	return errors.Join(errs...)
}

func nameOf(r Reading, i int) string {
	if r.Name == "" {
		return fmt.Sprint(i + 1)
	}
	return fmt.Sprintf("%q", r.Name)
}

func checkPrior(lamps int, p Prior) error {
	var errs []error
	if p.FluxSD != nil && len(p.FluxSD) != lamps {
		errs = append(errs, fmt.Errorf("the prior has %d flux spreads for %d lamps", len(p.FluxSD), lamps))
	}
	if p.Group != nil && len(p.Group) != lamps {
		errs = append(errs, fmt.Errorf("the prior has %d group numbers for %d lamps", len(p.Group), lamps))
	}
	for i, v := range p.FluxSD {
		if !(v > 0 && v <= 3) {
			errs = append(errs, fmt.Errorf("the flux spread of lamp %d is %v; it must be above 0 and at most 3", i+1, v))
		}
	}
	for _, c := range []struct {
		name    string
		v, most float64
	}{{"beam exponent", p.ExponentSD, 1}, {"reflectance", p.ReflectanceSD, 3}, {"mirrored share", p.MirrorSD, 3}, {"meter", p.MeterSD, 1}} {
		if !(c.v >= 0 && c.v <= c.most) {
			errs = append(errs, fmt.Errorf("the prior spread of the %s is %v; it must be from 0 to %v", c.name, c.v, c.most))
		}
	}
	return errors.Join(errs...)
}

// apply writes the parameters into lamps and space.
func (f *Fitted) apply() {
	lay, th := f.layout, f.Param
	f.Groups = lay.groups
	f.Lamps, f.Space = f.base.at(lay, th)
	for g := range lay.groups {
		f.FluxFactor = append(f.FluxFactor, math.Exp(th[g]))
		f.Exponent = append(f.Exponent, math.Exp(lay.exponent(th, g)))
	}
	for side, w := range f.Space.Walls {
		f.Reflectance[side] = quantity.Fraction(w.reflectance())
	}
	f.MeterFactor = math.Exp(th[lay.meter()])
}
