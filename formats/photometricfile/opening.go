package photometricfile

import (
	"math"

	"underlamp/science/photometry"
	"underlamp/science/quantity"
)

// metresPerFoot is exact (international foot).
const metresPerFoot = 0.3048

// opening reads the luminous shape from the signs of width, length and height.
// The codes changed in 1995 and in 2002, and files mix them, so all are read;
// where two years disagree, the version decides. A magnitude is a whole
// extent, a diameter and no radius.
func (rd *reader) opening(v version, unit number, dims []number) photometry.Opening {
	w, l, h := dims[0].v, dims[1].v, dims[2].v
	scale := 1.0
	switch {
	case unit.v == 1:
		scale = metresPerFoot
	case unit.v == 2 || w == 0 && l == 0 && h == 0:
	default:
		rd.note(unit.line, "the unit of lengths is %s, neither 1 (feet) nor 2 (metres); metres were taken", show(unit.v))
	}
	o := photometry.Opening{
		AlongC0:  quantity.Metre(math.Abs(l) * scale),
		AlongC90: quantity.Metre(math.Abs(w) * scale),
		Height:   quantity.Metre(math.Abs(h) * scale),
	}
	shape, round, listed := shapeOf(v, w, l, h)
	o.Shape = shape
	if !listed {
		rd.note(dims[0].line, "the signs of width, length and height (%s, %s, %s) stand for no shape; a %v of these extents was taken", show(w), show(l), show(h), shape)
	}
	// A round shape may give its diameter once.
	switch round {
	case roundFlat:
		d := max(o.AlongC0, o.AlongC90)
		o.AlongC0, o.AlongC90 = d, d
	case roundAll:
		d := max(o.AlongC0, o.AlongC90, o.Height)
		o.AlongC0, o.AlongC90, o.Height = d, d, d
	case lying:
		// The diameter is the height; the side that is 0 is as wide.
		if o.AlongC0 == 0 {
			o.AlongC0 = o.Height
		}
		if o.AlongC90 == 0 {
			o.AlongC90 = o.Height
		}
	}
	return o
}

// roundness says which extents of a shape are one diameter.
type roundness int

const (
	asGiven   roundness = iota
	roundFlat           // across and along
	roundAll            // all three
	lying               // the height and the side that is 0
)

// shapeOf tells the shape from the signs. listed is false for signs that no
// version gives a meaning.
func shapeOf(v version, w, l, h float64) (s photometry.Shape, r roundness, listed bool) {
	sign := func(x float64) byte {
		switch {
		case x < 0:
			return '-'
		case x > 0:
			return '+'
		}
		return '0'
	}
	later := v >= v2002
	switch string([]byte{sign(w), sign(l), sign(h)}) {
	case "000":
		return photometry.PointShape, asGiven, true
	case "++0":
		return photometry.RectangleShape, asGiven, true
	case "+00", "0+0": // a line
		return photometry.RectangleShape, asGiven, true
	case "+++", "0++", "+0+", "00+":
		return photometry.BoxShape, asGiven, true
	case "-00", "0-0":
		return photometry.DiscShape, roundFlat, true
	case "--0":
		if w == l {
			return photometry.DiscShape, roundFlat, true
		}
		return photometry.EllipseShape, asGiven, true
	case "-+0", "+-0":
		return photometry.EllipseShape, asGiven, v <= v1995 && w < 0
	case "-0+", "0-+":
		return photometry.CylinderShape, roundFlat, true
	case "--+":
		if w == l {
			return photometry.CylinderShape, roundFlat, true
		}
		return photometry.EllipticCylinderShape, asGiven, true
	case "-++", "+-+":
		if v <= v1991 && w < 0 {
			return photometry.EllipsoidShape, asGiven, true
		}
		return photometry.EllipticCylinderShape, asGiven, v == v1995 && w < 0
	case "---":
		if w == l && l == h {
			return photometry.SphereShape, roundAll, true
		}
		return photometry.EllipsoidShape, asGiven, true
	case "-0-":
		if later {
			return photometry.UprightDiscShape, asGiven, true
		}
		return photometry.SphereShape, roundAll, true
	case "0--":
		return photometry.UprightDiscShape, asGiven, later
	case "0+-", "+0-":
		return photometry.LyingCylinderShape, lying, true
	case "-+-":
		if later && w == h {
			return photometry.LyingCylinderShape, asGiven, true
		}
		return photometry.EllipsoidShape, asGiven, v == v1995
	case "+--":
		if later && l == h {
			return photometry.LyingCylinderShape, asGiven, true
		}
		return photometry.EllipsoidShape, asGiven, v == v1995
	case "++-":
		return photometry.BoxShape, asGiven, false
	}
	return photometry.BoxShape, asGiven, false // "00-"
}
