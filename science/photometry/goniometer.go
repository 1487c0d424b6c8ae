package photometry

import (
	"fmt"
	"math"
	"sort"

	"underlamp/science/quantity"
)

// Coordinates names how the angles of a file are laid about the lamp.
type Coordinates int

// The three types of LM63.
const (
	TypeC Coordinates = iota // half planes about the vertical axis
	TypeB                    // planes about a horizontal axis: floodlights
	TypeA                    // planes about the vertical axis, angles from the horizontal: signals
)

// String is the letter of the type.
func (c Coordinates) String() string { return [...]string{"C", "B", "A"}[c] }

// Goniometer is intensity in the angles of type A or B: H across and V up, both
// 0 along the beam axis.
//
//	type A: (sin H cos V, sin V, cos H cos V)
//	type B: (sin H, cos H sin V, cos H cos V)
//
// in the frame across, up, along the beam.
type Goniometer struct {
	Coordinates Coordinates // TypeA or TypeB
	HDeg        []float64   // ascending; from 0 if the left is the mirror image of the right
	VDeg        []float64   // ascending
	Candela     []float64   // cd: all V of the first H, then of the next
	Mirrored    bool        // HDeg begins at 0 and stands for both sides
}

// span is the range of the two angles: the one within a plane cannot pass a
// quarter, the one that numbers planes can.
func (g Goniometer) span() (maxH, maxV float64) {
	if g.Coordinates == TypeA {
		return 180, 90
	}
	return 90, 180
}

// check finds what makes the angles and values unusable.
func (g Goniometer) check() error {
	if len(g.HDeg) < 2 || len(g.VDeg) < 2 {
		return fmt.Errorf("photometry: %d horizontal and %d vertical angles, want at least 2 of each", len(g.HDeg), len(g.VDeg))
	}
	maxH, maxV := g.span()
	for _, axis := range []struct {
		name   string
		deg    []float64
		beyond float64
	}{{"horizontal", g.HDeg, maxH}, {"vertical", g.VDeg, maxV}} {
		for i, a := range axis.deg {
			if !(math.Abs(a) <= axis.beyond) {
				return fmt.Errorf("photometry: %s angle %d is %g°, want %g to %g in type %v", axis.name, i+1, a, -axis.beyond, axis.beyond, g.Coordinates)
			}
			if i > 0 && !(a > axis.deg[i-1]) {
				return fmt.Errorf("photometry: %s angle %d is %g° after %g°, want ascending", axis.name, i+1, a, axis.deg[i-1])
			}
		}
	}
	if g.Mirrored && math.Abs(g.HDeg[0]) > angleSlack {
		return fmt.Errorf("photometry: mirrored horizontal angles begin at %g°, want 0", g.HDeg[0])
	}
	for i, v := range g.Candela {
		if !(v >= 0 && v <= 1e12) {
			return fmt.Errorf("photometry: value %d is %g cd, want 0 or more", i+1, v)
		}
	}
	return nil
}

// Flux returns the light of the table in its own angles, in lm: the sum over
// cells of the mean of the four corners times the solid angle, which is
// (sin H₂ − sin H₁)(V₂ − V₁) in type B and (sin V₂ − sin V₁)(H₂ − H₁) in type A.
func (g Goniometer) Flux() float64 {
	sin := func(deg float64) float64 { return math.Sin(deg * math.Pi / 180) }
	rad := func(deg float64) float64 { return deg * math.Pi / 180 }
	sizeH, sizeV := sin, rad
	if g.Coordinates == TypeA {
		sizeH, sizeV = rad, sin
	}
	n := len(g.VDeg)
	sum := 0.0
	for i := 1; i < len(g.HDeg); i++ {
		for k := 1; k < n; k++ {
			mean := (g.Candela[(i-1)*n+k-1] + g.Candela[(i-1)*n+k] + g.Candela[i*n+k-1] + g.Candela[i*n+k]) / 4
			sum += mean * (sizeH(g.HDeg[i]) - sizeH(g.HDeg[i-1])) * (sizeV(g.VDeg[k]) - sizeV(g.VDeg[k-1]))
		}
	}
	if g.Mirrored {
		sum *= 2
	}
	return sum
}

// Web turns the table into a web about the beam axis: the lamp is taken to face
// down, V runs up into C0, H into C90. Between its angles the intensity is taken
// linearly in both; outside them there is no light. The web has the step of the
// table, from half a degree to 2.5°, so a beam that is cut off within one step is
// smeared over one.
//
// Errors are those of [NewWeb], for angles H and V. It panics if the values are
// not as many as H times V.
func (g Goniometer) Web() (*Web, error) {
	if len(g.Candela) != len(g.HDeg)*len(g.VDeg) {
		panic("photometry: Goniometer: values are not H times V")
	}
	if err := g.check(); err != nil {
		return nil, err
	}
	step := 2.5
	for _, deg := range [][]float64{g.HDeg, g.VDeg} {
		for i := 1; i < len(deg); i++ {
			step = math.Min(step, deg[i]-deg[i-1])
		}
	}
	step = 90 / math.Ceil(90/math.Max(step, 0.5))
	far := 90.0
	if math.Max(math.Max(-g.HDeg[0], g.HDeg[len(g.HDeg)-1]), math.Max(-g.VDeg[0], g.VDeg[len(g.VDeg)-1])) > 90+angleSlack {
		far = 180
	}
	var t Table
	for i := 0; float64(i)*step <= far+angleSlack; i++ {
		t.GammasDeg = append(t.GammasDeg, math.Min(float64(i)*step, far))
	}
	const planes = 144
	for i := range planes {
		t.PlanesDeg = append(t.PlanesDeg, 360*float64(i)/planes)
	}
	for _, c := range t.PlanesDeg {
		for _, gamma := range t.GammasDeg {
			t.Candela = append(t.Candela, g.toward(quantity.Degree(c), quantity.Degree(gamma)))
		}
	}
	return NewWeb(t)
}

// toward is the intensity in a direction given in type C.
func (g Goniometer) toward(c, gamma quantity.Degree) float64 {
	sinC, cosC := math.Sincos(c.Radians())
	sinG, cosG := math.Sincos(gamma.Radians())
	across, up, along := sinG*sinC, sinG*cosC, cosG
	unit := func(v float64) float64 { return math.Min(math.Max(v, -1), 1) }
	var h, v float64
	if g.Coordinates == TypeA {
		h, v = math.Atan2(across, along), math.Asin(unit(up))
	} else {
		h, v = math.Asin(unit(across)), math.Atan2(up, along)
	}
	h, v = h*180/math.Pi, v*180/math.Pi
	if g.Mirrored {
		h = math.Abs(h)
	}
	i, s, ok := inside(g.HDeg, h)
	k, t, good := inside(g.VDeg, v)
	if !ok || !good {
		return 0
	}
	n := len(g.VDeg)
	low := g.Candela[i*n+k] + t*(g.Candela[i*n+k+1]-g.Candela[i*n+k])
	high := g.Candela[(i+1)*n+k] + t*(g.Candela[(i+1)*n+k+1]-g.Candela[(i+1)*n+k])
	return low + s*(high-low)
}

// inside finds the interval of ascending angles that holds a, and the share of
// the way through it.
func inside(deg []float64, a float64) (i int, t float64, ok bool) {
	const slack = 1e-6 // the rounding of asin at the pole
	n := len(deg)
	if a < deg[0]-slack || a > deg[n-1]+slack {
		return 0, 0, false
	}
	i = min(max(sort.SearchFloat64s(deg, a)-1, 0), n-2)
	return i, math.Min(math.Max((a-deg[i])/(deg[i+1]-deg[i]), 0), 1), true
}
