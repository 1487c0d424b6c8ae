package lightfield

import (
	"errors"
	"fmt"

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
// it go, any other sends Reflectance of it back evenly in all directions
// (Lambert) and Mirror of it as a plane mirror does; the rest is swallowed. Both
// are those for photons of 400 to 700 nm, from 0 to 1, and at any angle; together
// they are at most 1.
type Wall struct {
	Open        bool
	Reflectance quantity.Fraction // not read if Open
	Mirror      quantity.Fraction // not read if Open
}

// reflectance is the share that comes back scattered.
func (w Wall) reflectance() float64 {
	if w.Open {
		return 0
	}
	return float64(w.Reflectance)
}

// mirror is the share that comes back as from a mirror.
func (w Wall) mirror() float64 {
	if w.Open {
		return 0
	}
	return float64(w.Mirror)
}

// A Panel is an opaque level rectangle inside a space, as thin as paper: a shelf
// above part of the bench, the lid of a tank. It shades, and each face sends its
// reflectance of the light back evenly in all directions. It spans X1 to X2 and Y1
// to Y2 at height Z, in m.
type Panel struct {
	X1, X2, Y1, Y2, Z float64
	Top, Bottom       quantity.Fraction // reflectance of the faces, 400 to 700 nm
}

// A Space is a box from 0 to Width in x, 0 to Depth in y and 0 to Height in z,
// in m, all above 0. Walls is indexed by [Side].
type Space struct {
	Width, Depth, Height float64
	Walls                [NumSides]Wall
	Panels               []Panel // at most 32
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
	kept := 1.0
	for side, w := range s.Walls {
		rho, m := w.reflectance(), w.mirror()
		if !(rho >= 0 && rho <= 1) {
			errs = append(errs, fmt.Errorf("the reflectance of side %v is %v; it must be from 0 to 1", Side(side), rho))
		} else if !(m >= 0 && rho+m <= 1+1e-12) {
			errs = append(errs, fmt.Errorf("side %v scatters %v and mirrors %v of the light; both must be from 0, and together at most 1", Side(side), rho, m))
		}
		kept = min(kept, rho+m)
	}
	errs = append(errs, s.checkPanels()...)
	for _, p := range s.Panels {
		kept = min(kept, float64(p.Top), float64(p.Bottom))
	}
	if kept == 1 {
		errs = append(errs, errors.New("all six sides (and the panels, if any) reflect everything, so the light would grow without end; give at least one of the six sides a reflectance below 1"))
	}
	return errors.Join(errs...)
}

// mostPanels bounds the number of panels, since every edge of one cuts the sides.
const mostPanels = 32

// checkPanels lists all that is wrong with the panels, counted from 1.
func (s Space) checkPanels() []error {
	var errs []error
	if len(s.Panels) > mostPanels {
		errs = append(errs, fmt.Errorf("the space has %d panels; it must have at most %d", len(s.Panels), mostPanels))
	}
	for i, p := range s.Panels {
		for _, d := range []struct {
			axis     string
			from, to float64
			size     float64
		}{{"x", p.X1, p.X2, s.Width}, {"y", p.Y1, p.Y2, s.Depth}} {
			if !(d.from >= -edgeM && d.to <= d.size+edgeM && d.to-d.from >= edgeM) {
				errs = append(errs, fmt.Errorf("panel %d spans %v to %v m in %s; it must lie in the space, 0 to %v m, and be at least %v m long", i+1, d.from, d.to, d.axis, d.size, edgeM))
			}
		}
		if !(p.Z >= edgeM && p.Z <= s.Height-edgeM) {
			errs = append(errs, fmt.Errorf("panel %d is at a height of %v m; it must be between bottom and top of the space, 0 and %v m; a panel that fills one of them is a side", i+1, p.Z, s.Height))
		}
		for _, rho := range []quantity.Fraction{p.Top, p.Bottom} {
			if !(rho >= 0 && rho <= 1) {
				errs = append(errs, fmt.Errorf("panel %d has a reflectance of %v; it must be from 0 to 1", i+1, float64(rho)))
			}
		}
	}
	return errs
}

// longestM bounds lengths, in m: beyond it a number was most likely given in
// another unit. Common practice, no source.
const longestM = 1000

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
