package lightfield

import (
	"errors"
	"fmt"
	"math"

	"underlamp/science/quantity"
)

// Shape is the outline of a luminous opening.
type Shape int

// The outlines. A bar is a long Rectangle; an opening of no size is a point.
const (
	Rectangle Shape = iota
	Disc
	Ring // a disc with a dark disc in its middle
)

// A Distribution is how a lamp spreads its photons over the directions, as a
// photometric file gives it.
type Distribution interface {
	// Relative is the intensity per unit of the lamp's total photon flux, in
	// sr⁻¹, so that its integral over all directions is 1. Angles are in rad: gamma
	// from the lamp's axis, 0 to π (above π/2 the light leaves backwards); c around
	// the axis, −π to π, 0 along the lamp's own x and π/2 along its own y. It must
	// be safe for calls in parallel.
	Relative(c, gamma float64) float64
}

// A Lamp is one fixture. Its luminous opening is a flat rectangle, disc or ring
// around Centre whose every part sends out light in the same way: by its
// Distribution, or where there is none by
//
//	I(θ) = Φ (m+1)/(2π) cos^m θ   [µmol s⁻¹ sr⁻¹]
//
// with θ from the lamp's axis, nothing backwards.
//
// A lamp with all angles 0 faces straight down, its own x along x and its own y
// along y. To hang it otherwise it is first turned by Turn about the vertical,
// anticlockwise as seen from above (from x to y), and then tilted: its axis swings
// by Tilt from straight down towards the bearing Towards in the plan, 0° being
// along x and 90° along y. So Turn 90 and Tilt 30 towards 0 is a bar along y that
// shines down and to the right. A tilt of 90° faces sideways, one of 180° up.
type Lamp struct {
	Name         string // for messages; empty means that lamps are counted from 1
	Centre       Point
	Shape        Shape
	Width, Depth float64      // of the opening along its own x and y, m; a disc and a ring have Width as diameter; 0 and 0 is a point
	Inner        float64      // of a ring: diameter of the dark middle, m; below Width
	Flux         quantity.PPF // Φ at full power, µmol s⁻¹
	Exponent     float64      // m, 0 to 500; see [ExponentFromBeam]; not read if there is a Distribution
	Distribution Distribution // nil: the cosine law with Exponent

	Turn, Tilt, Towards quantity.Degree // Tilt from 0 to 180, the others from −360 to 360
}

// largestExponent belongs to a beam of 6° at half power; no plant lamp is
// narrower.
const largestExponent = 500

// edgeM is how far an opening may reach into a closed side, in m: a ruler is
// read to a millimetre or two.
const edgeM = 0.002

// clearM is how far an opening must be above or below a panel, in m: nearer, its
// light on the panel would be a matter of rounding.
const clearM = 0.001

// half lengths of the opening along its own x and y.
func (l Lamp) half() (a, b float64) {
	if l.Shape != Rectangle {
		return l.Width / 2, l.Width / 2
	}
	return l.Width / 2, l.Depth / 2
}

// frame returns the lamp's own x, own y and axis in the space.
func (l Lamp) frame() (x, y, axis [3]float64) {
	sin, cos := math.Sincos(l.Turn.Radians())
	x, y, axis = [3]float64{cos, sin, 0}, [3]float64{-sin, cos, 0}, [3]float64{0, 0, -1}
	if l.Tilt == 0 {
		return x, y, axis
	}
	ux, uy := math.Cos(l.Towards.Radians()), math.Sin(l.Towards.Radians())
	st, ct := math.Sincos(l.Tilt.Radians())
	tilt := func(v [3]float64) [3]float64 {
		along, down := v[0]*ux+v[1]*uy, -v[2]
		// down → cos t down + sin t u, u → cos t u − sin t down; what is across stays.
		more := along*(ct-1) + down*st
		return [3]float64{v[0] + more*ux, v[1] + more*uy, -(down*ct - along*st)}
	}
	return tilt(x), tilt(y), tilt(axis)
}

// reach is half of what the opening spans along each axis of the space.
func (l Lamp) reach() [3]float64 {
	a, b := l.half()
	x, y, _ := l.frame()
	var out [3]float64
	for i := range out {
		if l.Shape == Rectangle {
			out[i] = a*math.Abs(x[i]) + b*math.Abs(y[i])
		} else {
			out[i] = a * math.Hypot(x[i], y[i])
		}
	}
	return out
}

// checkLamps joins all that is wrong with lamps in a space. Lamps are counted
// from 1.
func checkLamps(s Space, lamps []Lamp) error {
	var errs []error
	for i, l := range lamps {
		for _, err := range l.check(s) {
			errs = append(errs, fmt.Errorf("lamp %d: %w", i+1, err))
		}
	}
	return errors.Join(errs...)
}

// check joins all that is wrong with lamps in the room. Lamps are counted from 1.
func (r *Room) check(lamps []Lamp) error {
	var errs []error
	for i, l := range lamps {
		for _, err := range r.checkLamp(l) {
			errs = append(errs, fmt.Errorf("lamp %d: %w", i+1, err))
		}
	}
	return errors.Join(errs...)
}

func (r *Room) checkLamp(l Lamp) []error {
	errs := l.check(r.space)
	if r.wideErr != nil && !l.narrow() {
		errs = append(errs, fmt.Errorf("it shines sideways, and %w", r.wideErr))
	}
	return errs
}

// narrow says whether the lamp sends no more sideways than a level Lambert lamp.
func (l Lamp) narrow() bool {
	return l.Tilt == 0 && l.Distribution == nil && l.Shape != Ring && l.Exponent >= 1
}

func (l Lamp) check(s Space) []error {
	var errs []error
	fail := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	if flux := float64(l.Flux); !(flux >= 0) || math.IsInf(flux, 1) {
		fail("the photon flux is %v µmol/s; it must be a number from 0", flux)
	}
	if l.Distribution == nil && !(l.Exponent >= 0 && l.Exponent <= largestExponent) {
		fail("the beam exponent is %v; it must be from 0 to %v", l.Exponent, largestExponent)
	}
	if l.Shape < Rectangle || l.Shape > Ring {
		fail("the shape %d is not known", int(l.Shape))
	}
	if !(l.Tilt >= 0 && l.Tilt <= 180) || !(math.Abs(float64(l.Turn)) <= 360) || !(math.Abs(float64(l.Towards)) <= 360) {
		fail("it is turned by %v° and tilted by %v° towards %v°; a tilt is from 0° to 180°, the others from −360° to 360°", float64(l.Turn), float64(l.Tilt), float64(l.Towards))
		return errs
	}
	if !(l.Width >= 0 && l.Width <= longestM) || !(l.Depth >= 0 && l.Depth <= longestM) {
		fail("the luminous opening is %v m by %v m; lengths must be from 0 to %v m", l.Width, l.Depth, longestM)
		return errs
	}
	if l.Shape == Ring && !(l.Inner >= 0 && l.Inner < l.Width) {
		fail("the ring is %v m wide and its dark middle %v m; the middle must be from 0 and below the width", l.Width, l.Inner)
		return errs
	}
	if l.Distribution != nil {
		if err := checkDistribution(l.Distribution); err != nil {
			errs = append(errs, err)
		}
	}
	halves := l.reach()
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
	for i, p := range s.Panels {
		low, high := l.Centre.Z-halves[2], l.Centre.Z+halves[2]
		over := func(c, half, from, to float64) bool { return c+half > from+edgeM && c-half < to-edgeM }
		if low-clearM < p.Z && high+clearM > p.Z && over(l.Centre.X, halves[0], p.X1, p.X2) && over(l.Centre.Y, halves[1], p.Y1, p.Y2) {
			fail("the luminous opening touches panel %d at a height of %v m; hang the lamp at least a millimetre above or below it", i+1, p.Z)
		}
	}
	return errs
}

// distributionError is how far the integral of a distribution may be from 1:
// tables of a photometric file in steps of 5° add up to a per cent or two.
const distributionError = 0.05

// checkDistribution integrates a distribution by midpoints of 1° and 5°.
func checkDistribution(d Distribution) error {
	sum := 0.0
	const zones, planes = 180, 72
	for i := range zones {
		gamma := (float64(i) + 0.5) * math.Pi / zones
		part := 0.0
		for j := range planes {
			v := d.Relative(((float64(j)+0.5)/planes*2-1)*math.Pi, gamma)
			if !(v >= 0) || math.IsInf(v, 1) {
				return fmt.Errorf("the distribution is %v per sr at %.1f° from the axis; it must be a number from 0", v, gamma*180/math.Pi)
			}
			part += v
		}
		sum += part / planes * 2 * math.Pi * (math.Cos(gamma-math.Pi/zones/2) - math.Cos(gamma+math.Pi/zones/2))
	}
	if math.Abs(sum-1) > distributionError {
		return fmt.Errorf("the distribution adds up to %.3g over all directions; it must be intensity for a total photon flux of 1, so add up to 1", sum)
	}
	return nil
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
