package lightfield

import "math"

// ParallelRectangles returns the view factor between two equal parallel
// rectangles a by b that face each other at distance c (all above 0, in one
// unit of length): the share of the light leaving one, sent out by Lambert's
// law, that falls on the other.
//
// Source: HowellCatalogue C-11.
func ParallelRectangles(a, b, c float64) float64 {
	p := func(u, v float64) float64 { return parallelCorner(u, v, c) }
	return 4 * (p(a, b) - p(a, 0) - p(0, b) + p(0, 0)) / (a * b)
}

// parallelCorner is the term from which exchange areas (area times view factor)
// of parallel rectangles at distance c add up: for corners that differ by u and
// v it enters with the sign of the corners.
//
//	P = 1/(2π) [ v√(u²+c²) atan(v/√(u²+c²)) + u√(v²+c²) atan(u/√(v²+c²)) − (c²/2) ln(u²+v²+c²) ]
//
// It is the fourfold integral of the kernel c²/(π d⁴), C-11 is the combination
// for equal rectangles (EhlertSmith1993).
func parallelCorner(u, v, c float64) float64 {
	su, sv := math.Sqrt(u*u+c*c), math.Sqrt(v*v+c*c)
	return (v*su*math.Atan(v/su) + u*sv*math.Atan(u/sv) - c*c/2*math.Log(u*u+v*v+c*c)) / (2 * math.Pi)
}

// PerpendicularRectangles returns the view factor from a horizontal rectangle
// (width w away from the edge) to a vertical one (height h) that share an edge
// of length l; all above 0, in one unit of length.
//
// Source: HowellCatalogue C-14.
func PerpendicularRectangles(l, w, h float64) float64 {
	q := func(u, y, z float64) float64 { return perpendicularCorner(u, y, z) }
	span := func(y, z float64) float64 { return 2 * (q(l, y, z) - q(0, y, z)) }
	return (span(0, h) + span(w, 0) - span(w, h) - span(0, 0)) / (l * w)
}

// perpendicularCorner is the term for perpendicular rectangles: corners differ
// by u along the common direction and lie y and z away from the line in which
// their planes meet.
//
//	Q = 1/(2π) [ u r atan(u/r) + ¼ (u² − r²) ln(u² + r²) ],  r² = y² + z²
//
// It is the fourfold integral of the kernel y z/(π d⁴) (EhlertSmith1993).
func perpendicularCorner(u, y, z float64) float64 {
	r2 := y*y + z*z
	d2 := u*u + r2
	if d2 == 0 {
		return 0
	}
	q := (u*u - r2) / 4 * math.Log(d2)
	if r2 > 0 {
		r := math.Sqrt(r2)
		q += u * r * math.Atan(u/r)
	}
	return q / (2 * math.Pi)
}

// ElementToDisc returns the view factor from a small flat element to a disc of
// radius r in a parallel plane at distance h, with the element x off the axis.
// It is the irradiance under a Lambertian disc of exitance 1.
//
//	F = ½ [1 − (h² + x² − r²)/√((h² + x² + r²)² − 4 r² x²)]
//
// On the axis it is r²/(r² + h²). At h = 0 it is 1 under the disc, 0 beside it.
//
// Source: SiegelHowell, configuration of an element parallel to a disc, from
// memory; checked by brute force in the tests.
func ElementToDisc(r, h, x float64) float64 {
	s := h*h + x*x + r*r
	root := s*s - 4*r*r*x*x
	if root <= 0 {
		return 0.5 // on the rim
	}
	// 1 − p/q = (q² − p²)/(q(q + p)) with q² − p² = 4 r² h²: no cancellation when far away.
	p, q := s-2*r*r, math.Sqrt(root)
	if p > 0 {
		return 2 * r * r * h * h / (q * (q + p))
	}
	return 0.5 * (1 - p/q)
}

// ElementToParallelRectangle returns the view factor from a small flat element
// to a rectangle in a parallel plane at distance h, which spans x1 to x2 and y1
// to y2 as seen from the foot of the element.
//
// Source: SiegelHowell, element under a corner, from memory and checked by brute
// force in the tests; other positions by adding and taking away rectangles.
func ElementToParallelRectangle(x1, x2, y1, y2, h float64) float64 {
	return parallelElement(x2, y2, h) - parallelElement(x1, y2, h) -
		parallelElement(x2, y1, h) + parallelElement(x1, y1, h)
}

// parallelElement is the view factor from an element to the rectangle 0..u by
// 0..v; odd in u and in v.
func parallelElement(u, v, h float64) float64 {
	su, sv := math.Sqrt(u*u+h*h), math.Sqrt(v*v+h*h)
	return (u/su*math.Atan(v/su) + v/sv*math.Atan(u/sv)) / (2 * math.Pi)
}

// ElementToPerpendicularRectangle returns the view factor from a small flat
// element to a rectangle in a perpendicular plane at distance x, which spans y1
// to y2 sideways and z1 to z2 above the element's own plane (z1 at least 0).
//
// Source: SiegelHowell, element at a corner, from memory and checked by brute
// force in the tests; other positions by adding and taking away rectangles.
func ElementToPerpendicularRectangle(x, y1, y2, z1, z2 float64) float64 {
	return perpendicularElement(x, y2, z1) - perpendicularElement(x, y1, z1) -
		perpendicularElement(x, y2, z2) + perpendicularElement(x, y1, z2)
}

// perpendicularElement is the view factor to the half strip 0..v sideways and
// from z upwards; odd in v.
func perpendicularElement(x, v, z float64) float64 {
	s := math.Sqrt(x*x + z*z)
	if s == 0 {
		s = math.SmallestNonzeroFloat64
		x = s
	}
	return x / s * math.Atan(v/s) / (2 * math.Pi)
}
