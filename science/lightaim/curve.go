package lightaim

import (
	"fmt"
	"math"
	"slices"
)

// A Curve is the power that a lamp draws at a dimming: linear between points, of
// which Dim ascends. It need not be convex nor begin at 0 W.
type Curve struct {
	Dim  []float64 // 0 to 1
	Watt []float64 // at least 0
}

// Proportional is a lamp that draws watt at full power and in proportion below.
func Proportional(watt float64) Curve {
	return Curve{Dim: []float64{0, 1}, Watt: []float64{0, watt}}
}

// At is the power at a dimming; outside the points it is that of the nearest.
func (c Curve) At(dim float64) float64 {
	last := len(c.Dim) - 1
	if dim <= c.Dim[0] {
		return c.Watt[0]
	}
	for i := 1; i <= last; i++ {
		if dim <= c.Dim[i] {
			f := (dim - c.Dim[i-1]) / (c.Dim[i] - c.Dim[i-1])
			return c.Watt[i-1]*(1-f) + c.Watt[i]*f
		}
	}
	return c.Watt[last]
}

// check says what is wrong with a curve that must reach from lower to upper.
func (c Curve) check(lower, upper float64) error {
	if len(c.Dim) == 0 || len(c.Dim) != len(c.Watt) {
		return fmt.Errorf("its power curve has %d dimmings and %d powers, want as many and at least one", len(c.Dim), len(c.Watt))
	}
	for i, d := range c.Dim {
		if !(d >= 0 && d <= 1) || !(c.Watt[i] >= 0) || math.IsInf(c.Watt[i], 0) {
			return fmt.Errorf("point %d of its power curve is %g at %g W, want 0 to 1 and at least 0 W", i+1, d, c.Watt[i])
		}
		if i > 0 && d <= c.Dim[i-1] {
			return fmt.Errorf("the dimmings of its power curve do not ascend at point %d", i+1)
		}
	}
	const slack = 1e-9
	if c.Dim[0] > lower+slack || c.Dim[len(c.Dim)-1] < upper-slack {
		return fmt.Errorf("its power curve reaches from %g to %g, want %g to %g", c.Dim[0], c.Dim[len(c.Dim)-1], lower, upper)
	}
	return nil
}

// plus adds two curves over the dimmings of both.
func (c Curve) plus(d Curve) Curve {
	at := append(clone(c.Dim), d.Dim...)
	slices.Sort(at)
	at = slices.Compact(at)
	out := Curve{Dim: at}
	for _, x := range at {
		out.Watt = append(out.Watt, c.At(x)+d.At(x))
	}
	return out
}

// lowerHull are those of the points (ascending in x) that their convex hull
// touches from below.
func lowerHull(x, y []float64) (hx, hy []float64) {
	for i := range x {
		for n := len(hx); n >= 2; n = len(hx) {
			// The middle point goes if it is not below the line past it.
			if (hy[n-1]-hy[n-2])*(x[i]-hx[n-2]) < (y[i]-hy[n-2])*(hx[n-1]-hx[n-2]) {
				break
			}
			hx, hy = hx[:n-1], hy[:n-1]
		}
		hx, hy = append(hx, x[i]), append(hy, y[i])
	}
	return hx, hy
}
