package lightfield

import (
	"errors"
	"fmt"
	"math"

	"underlamp/science/quantity"
)

// A Point is a place in a space, in m: x to the right, y to the back, z up from
// the planting surface.
type Point struct{ X, Y, Z float64 }

// at is the coordinate along an axis: 0 for x, 1 for y, 2 for z.
func (p Point) at(axis int) float64 {
	switch axis {
	case 0:
		return p.X
	case 1:
		return p.Y
	}
	return p.Z
}

// A Side is one of the six sides of a space.
type Side int

// The sides, in the order of [Space.Walls]. Below is the planting surface.
const (
	Left  Side = iota // x = 0
	Right             // x = Width
	Front             // y = 0
	Back              // y = Depth
	Below             // z = 0
	Above             // z = Height
)

// NumSides is the number of sides of a space.
const NumSides = 6

// String is the name of the side in lower case.
func (s Side) String() string {
	switch s {
	case Left:
		return "left"
	case Right:
		return "right"
	case Front:
		return "front"
	case Back:
		return "back"
	case Below:
		return "below"
	case Above:
		return "above"
	}
	return fmt.Sprintf("side %d", int(s))
}

// axis is the axis that the side is perpendicular to, and far says whether it
// lies at the far end of that axis.
func (s Side) axis() int { return int(s) / 2 }
func (s Side) far() bool { return int(s)%2 == 1 }

// A Wall is what one side of a space does with light: an open side lets all of
// it go, any other sends Reflectance of it back, evenly in all directions
// (Lambert). Reflectance is that for photons of 400 to 700 nm, from 0 to 1.
type Wall struct {
	Open        bool
	Reflectance quantity.Fraction // not read if Open
}

// reflectance is the share that comes back.
func (w Wall) reflectance() float64 {
	if w.Open {
		return 0
	}
	return float64(w.Reflectance)
}

// A Space is a box from 0 to Width in x, 0 to Depth in y and 0 to Height in z,
// in m, all above 0. Walls is indexed by [Side].
type Space struct {
	Width, Depth, Height float64
	Walls                [NumSides]Wall
}

// size is the length along an axis.
func (s Space) size(axis int) float64 {
	return Point{s.Width, s.Depth, s.Height}.at(axis)
}

// area of a side in m².
func (s Space) area(side Side) float64 {
	a := side.axis()
	return s.size((a+1)%3) * s.size((a+2)%3)
}

// check joins all that is wrong with a space.
func (s Space) check() error {
	var errs []error
	for _, d := range []struct {
		name string
		v    float64
	}{{"width", s.Width}, {"depth", s.Depth}, {"height", s.Height}} {
		if !(d.v > 0) || d.v > longestM {
			errs = append(errs, fmt.Errorf("the %s of the space is %v m; it must be above 0 and at most %v m", d.name, d.v, longestM))
		}
	}
	all := 1.0
	for side, w := range s.Walls {
		rho := w.reflectance()
		if !(rho >= 0 && rho <= 1) {
			errs = append(errs, fmt.Errorf("the reflectance of side %v is %v; it must be from 0 to 1", Side(side), rho))
		}
		all = min(all, rho)
	}
	if all == 1 {
		errs = append(errs, errors.New("all six sides reflect everything, so the light would grow without end; give at least one side a reflectance below 1"))
	}
	return errors.Join(errs...)
}

// longestM bounds lengths, in m: beyond it a number was most likely given in
// another unit. Common practice, no source.
const longestM = 1000

// Shape is the outline of a luminous opening.
type Shape int

// The outlines.
const (
	Rectangle Shape = iota
	Disc
)

// A Lamp is one fixture that faces straight down. Its luminous opening is a
// horizontal rectangle or disc around Centre whose every part sends out the
// same light,
//
//	I(θ) = Φ (m+1)/(2π) cos^m θ   [µmol s⁻¹ sr⁻¹]
//
// with θ from straight down, nothing upwards.
type Lamp struct {
	Centre       Point
	Shape        Shape
	Width, Depth float64      // of the opening in x and y, m; a disc has Width as diameter; 0 and 0 is a point
	Flux         quantity.PPF // Φ at full power, µmol s⁻¹
	Exponent     float64      // m, 0 to 500; see [ExponentFromBeam]
}

// largestExponent belongs to a beam of 6° at half power; no plant lamp is
// narrower.
const largestExponent = 500

// edgeM is how far an opening may reach into a closed side, in m: a ruler is
// read to a millimetre or two.
const edgeM = 0.002

// half lengths of the opening in x and y.
func (l Lamp) half() (a, b float64) {
	if l.Shape == Disc {
		return l.Width / 2, l.Width / 2
	}
	return l.Width / 2, l.Depth / 2
}

// checkLamps joins all that is wrong with lamps in a space. Lamps are counted
// from 1.
func checkLamps(s Space, lamps []Lamp) error {
	var errs []error
	for i, l := range lamps {
		fail := func(format string, args ...any) {
			errs = append(errs, fmt.Errorf("lamp %d: %s", i+1, fmt.Sprintf(format, args...)))
		}
		if flux := float64(l.Flux); !(flux >= 0) || math.IsInf(flux, 1) {
			fail("the photon flux is %v µmol/s; it must be a number from 0", flux)
		}
		if !(l.Exponent >= 0 && l.Exponent <= largestExponent) {
			fail("the beam exponent is %v; it must be from 0 to %v", l.Exponent, largestExponent)
		}
		if l.Shape != Rectangle && l.Shape != Disc {
			fail("the shape %d is not known", int(l.Shape))
		}
		if !(l.Width >= 0 && l.Width <= longestM) || !(l.Depth >= 0 && l.Depth <= longestM) {
			fail("the luminous opening is %v m by %v m; lengths must be from 0 to %v m", l.Width, l.Depth, longestM)
			continue
		}
		a, b := l.half()
		halves := [3]float64{a, b, 0}
		for axis, name := range []string{"x", "y", "z"} {
			c, size := l.Centre.at(axis), s.size(axis)
			if !(c >= 0 && c <= size) || axis == 2 && c == 0 {
				fail("%s is %v m, outside the space, which reaches from 0 to %v m", name, c, size)
				continue
			}
			near, far := s.Walls[2*axis], s.Walls[2*axis+1]
			if !near.Open && c-halves[axis] < -edgeM || !far.Open && c+halves[axis] > size+edgeM {
				fail("the luminous opening reaches through a closed side in %s: it spans %.4g to %.4g m in a space of 0 to %.4g m; move the lamp, or correct its size", name, c-halves[axis], c+halves[axis], size)
			}
		}
	}
	return errors.Join(errs...)
}

// ExponentFromBeam returns the exponent m of a lamp whose intensity falls to
// half at the half of the full beam angle given.
//
//	m = ln ½ / ln cos(full/2)
//
// 120° gives 1, a Lambertian lamp. The angle must be above 0° and below 180°;
// beams so narrow that m would pass 500 (about 6°) are refused as well.
func ExponentFromBeam(full quantity.Degree) (float64, error) {
	if !(full > 0 && full < 180) {
		return 0, fmt.Errorf("a beam angle of %v° is not possible; it must be above 0° and below 180°", float64(full))
	}
	m := -math.Ln2 / math.Log(math.Cos(full.Radians()/2))
	if m > largestExponent {
		return 0, fmt.Errorf("a beam angle of %v° is too narrow for this model; it must be at least 6.1°", float64(full))
	}
	return m, nil
}

// BeamFromExponent is the inverse of [ExponentFromBeam]: the full angle between
// the directions of half intensity. Exponent 0 gives 180°.
func BeamFromExponent(m float64) quantity.Degree {
	// cos(full/2) = 2^(-1/m)
	return quantity.Degree(2 * math.Acos(math.Exp2(-1/m)) * 180 / math.Pi)
}

// Options steer the effort. The zero value is good for growing spaces.
type Options struct {
	MaxError float64 // largest relative error of the direct light by splitting a luminous opening; 0 means 0.01
	Patches  int     // about how many patches the reflecting sides are cut into; 0 means 600
}

func (o Options) fill() (Options, error) {
	if o.MaxError == 0 {
		o.MaxError = 0.01
	}
	if o.Patches == 0 {
		o.Patches = 600
	}
	if !(o.MaxError >= 1e-6 && o.MaxError <= 0.2) {
		return o, fmt.Errorf("the largest error is %v; it must be from 0.000001 to 0.2", o.MaxError)
	}
	if o.Patches < 24 || o.Patches > 5000 {
		return o, fmt.Errorf("the number of patches is %d; it must be from 24 to 5000", o.Patches)
	}
	return o, nil
}
