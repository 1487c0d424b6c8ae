package lightfield

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// mostNodes is the largest number of Gauss nodes along one axis of a cell; a
// cell that needs more is cut in two.
const mostNodes = 8

// deepest bounds the cutting; every cut halves one axis, so cells end at about
// 10⁻⁶ of the opening.
const deepest = 40

// rule is a Gauss-Legendre rule on −1..1 whose weights sum to 1.
type rule struct{ at, weight []float64 }

// gauss[n] is the rule of n nodes.
var gauss = func() [mostNodes + 1]rule {
	var out [mostNodes + 1]rule
	for n := 1; n <= mostNodes; n++ {
		r := rule{make([]float64, n), make([]float64, n)}
		quad.Legendre{}.FixedLocations(r.at, r.weight, -1, 1)
		for i := range r.weight {
			r.weight[i] /= 2
		}
		out[n] = r
	}
	return out
}()

// smallest is a length in m below which an opening has no width, and below
// which a receiver counts as in the plane of the opening; it keeps squares and
// powers of lengths within the range of numbers.
const smallest = 1e-9

// A source is a lamp made ready for the inner loop.
//
// The light of a part dA of the opening at distance d and height h above the
// receiver falls as
//
//	dE = I₀/A · (h/d)^m · (v·n)/d³ dA,   I₀ = Φ (m+1)/(2π)
//
// with v from receiver to lamp and n the receiver's normal. With lengths in units
// of h the kernel is (v·n) d^−2k/h², k = (m+3)/2.
type source struct {
	x, y, z  float64
	a, b     float64 // half lengths of the opening
	disc     bool
	point    bool
	exitance float64 // Φ/A; 0 for a point
	peak     float64 // I₀
	m, k     float64
	whole    int        // m if it is a small whole number, else −1
	inverse  *powers    // for d^−2k if m is not whole
	reach    [9]float64 // reach[n]²: how far an axis' relative distance must be for n nodes
	maxError float64

	cos, sin float64    // of the turn of a rectangle; 1 and 0 if it lies along x or y
	box      [3]float64 // half of what the opening spans along x, y and z
	narrow   bool       // see [Lamp.narrow]
	skew     *skew      // for lamps that are not level openings of the cosine law
	plain    *skew      // for others where panels may hide a part
}

func newSource(l Lamp, maxError float64) source {
	s := source{x: l.Centre.X, y: l.Centre.Y, z: l.Centre.Z, m: l.Exponent, k: (l.Exponent + 3) / 2, maxError: maxError, cos: 1, narrow: l.narrow()}
	if l.Distribution != nil {
		s.m, s.k = 1, 2
	}
	s.a, s.b = l.half()
	s.box = l.reach()
	if s.a < smallest {
		s.a = 0
	}
	if s.b < smallest {
		s.b = 0
	}
	if l.Shape == Rectangle {
		switch turn := math.Mod(math.Abs(float64(l.Turn)), 180); {
		case turn == 0:
		case turn == 90:
			s.a, s.b = s.b, s.a
		default:
			s.sin, s.cos = math.Sincos(l.Turn.Radians())
		}
	}
	s.disc = l.Shape == Disc
	area := 4 * s.a * s.b
	if s.disc {
		area = math.Pi * s.a * s.a
	}
	s.peak = float64(l.Flux) * (s.m + 1) / (2 * math.Pi)
	s.point = s.a == 0 && s.b == 0
	if area > 0 {
		s.exitance = float64(l.Flux) / area
	}
	s.whole = -1
	if s.m == math.Trunc(s.m) && s.m <= 12 {
		s.whole = int(s.m)
	} else {
		s.inverse = newPowers(s.k)
	}
	// Gauss-Legendre with n nodes errs by about C ρ^(−2n), where the ellipse with
	// foci at the ends of the axis and axes' sum ρ passes through the nearest
	// singularity of the kernel (Trefethen2013, theorem 19.3). Its half long axis is
	// (d₁+d₂)/2a, d₁ and d₂ being the distances from the receiver to the two ends.
	// C is the ratio for n = 1, with the largest second derivative of the kernel;
	// steep beams vary faster, on the scale h√(2/k). The estimate is for the largest
	// value of the kernel; its mean over an opening at a grazing angle is several times
	// smaller, so an eighth of the error is asked for.
	c := 4 * s.k * (2*s.k + 1) / 3
	steep := math.Sqrt(max(s.k, 2) / 2)
	for n := 1; n <= mostNodes; n++ {
		rho := math.Exp(math.Log(c/(maxError/8)) / (2 * float64(n)))
		s.reach[n] = (rho + 1/rho) / 2 * steep
	}
	if l.Tilt != 0 || l.Distribution != nil || l.Shape == Ring {
		s.skew = newSkew(l, maxError)
	}
	return s
}

// down says whether the lamp sends nothing up and its opening is level.
func (s *source) down() bool { return s.skew == nil }

// on is the direct PPFD at p on a surface whose normal points along the axis
// given, in the sense of sign.
func (s *source) on(p Point, axis int, sign float64) float64 {
	if s.skew != nil {
		return s.tilted(p, axis, sign)
	}
	if axis == 2 {
		if sign < 0 {
			return 0
		}
		return s.onHorizontal(p)
	}
	return s.onWall(p, axis, sign)
}

// tilted is the direct PPFD of a lamp that is not a level opening of the cosine
// law. All parts of a flat opening are at one height above the receiver in the lamp's
// own frame, so that tilted rectangles and discs of that law are level ones there,
// with another normal of the receiver. The rest is left to [skew.on]: other laws,
// openings that the plane of the receiver cuts, rings, and discs very near.
func (s *source) tilted(p Point, axis int, sign float64) float64 {
	k := s.skew
	if k.law != nil || k.shape == Ring || k.radius == 0 {
		return k.on(p, axis, sign)
	}
	v := [3]float64{s.x - p.X, s.y - p.Y, s.z - p.Z}
	if !(v[axis]*sign > s.box[axis]) { // NaN as well
		return k.on(p, axis, sign)
	}
	h := -(v[0]*k.axis[0] + v[1]*k.axis[1] + v[2]*k.axis[2])
	if h <= smallest {
		if math.IsNaN(h) {
			return math.NaN()
		}
		return 0
	}
	dx := (v[0]*k.x[0] + v[1]*k.x[1] + v[2]*k.x[2]) / h
	dy := (v[0]*k.y[0] + v[1]*k.y[1] + v[2]*k.y[2]) / h
	n := [3]float64{sign * k.x[axis], sign * k.y[axis], -sign * k.axis[axis]}
	if k.shape == Disc {
		if s.discNodes(k.a/h, 1, math.Hypot(dx, dy)) > mostNodes {
			return k.on(p, axis, sign)
		}
		return s.peak / (h * h) * s.discArea(dx, dy, k.a/h, n)
	}
	return s.peak / (h * h) * s.cell(dx, dy, k.a/h, k.b/h, n, deepest)
}

// kernel returns d^−2k for the squared distance d2.
func (s *source) kernel(d2 float64) float64 {
	inv := 1 / d2
	if s.whole >= 0 {
		p := inv
		if s.whole%2 == 0 {
			p = math.Sqrt(inv)
			p *= inv
			for i := 0; i < s.whole/2; i++ {
				p *= inv
			}
			return p
		}
		for i := 0; i < (s.whole+1)/2; i++ {
			p *= inv
		}
		return p
	}
	return s.inverse.of(inv)
}

// onHorizontal is the direct PPFD at p on a surface that faces up. At and above
// the plane of the opening it is 0.
func (s *source) onHorizontal(p Point) float64 {
	if s.skew != nil {
		return s.tilted(p, 2, 1)
	}
	h := s.z - p.Z
	if !(h > smallest) {
		if math.IsNaN(h) {
			return math.NaN()
		}
		return 0
	}
	dx, dy := s.x-p.X, s.y-p.Y
	if s.sin != 0 {
		dx, dy = dx*s.cos+dy*s.sin, dy*s.cos-dx*s.sin
	}
	switch {
	case s.point:
		return s.peak / (h * h) * s.kernel((dx*dx+dy*dy)/(h*h)+1)
	case s.disc && s.m == 1:
		return s.exitance * ElementToDisc(s.a, h, math.Sqrt(dx*dx+dy*dy))
	case s.disc:
		return s.discOnHorizontal(h, math.Sqrt(dx*dx+dy*dy))
	}
	nx, ny := s.nodes(dx, dy, h, s.a, s.b)
	if s.m == 1 {
		if nx*ny > 16 && s.a > 0 && s.b > 0 {
			return s.exitance * ElementToParallelRectangle(dx-s.a, dx+s.a, dy-s.b, dy+s.b, h)
		}
		if nx <= mostNodes && ny <= mostNodes {
			h2, sum := h*h, 0.0
			gx, gy := &gauss[nx], &gauss[ny]
			for i, t := range gx.at {
				u := dx + s.a*t
				q := u*u + h2
				part := 0.0
				for j, t := range gy.at {
					v := dy + s.b*t
					d2 := q + v*v
					part += gy.weight[j] / (d2 * d2)
				}
				sum += gx.weight[i] * part
			}
			return s.peak * h2 * sum
		}
	}
	return s.peak / (h * h) * s.cell(dx/h, dy/h, s.a/h, s.b/h, [3]float64{0, 0, 1}, deepest)
}

// onWall is the direct PPFD at p on a vertical surface whose normal points along
// the axis given (0 for x, 1 for y), in the sense of sign.
func (s *source) onWall(p Point, axis int, sign float64) float64 {
	h := s.z - p.Z
	if h <= smallest {
		return 0
	}
	dx, dy := (s.x-p.X)/h, (s.y-p.Y)/h
	var n [3]float64
	n[axis] = sign
	if s.sin != 0 {
		dx, dy = dx*s.cos+dy*s.sin, dy*s.cos-dx*s.sin
		n[0], n[1] = n[0]*s.cos+n[1]*s.sin, n[1]*s.cos-n[0]*s.sin
	}
	if s.point {
		return s.peak / (h * h) * max(0, n[0]*dx+n[1]*dy) * s.kernel(dx*dx+dy*dy+1)
	}
	if s.disc {
		return s.peak / (h * h) * s.discArea(dx, dy, s.a/h, n)
	}
	return s.peak / (h * h) * s.cell(dx, dy, s.a/h, s.b/h, n, 16)
}

// nodes tells how many Gauss nodes each axis of a cell needs, mostNodes+1
// meaning that it must be cut. The cell is centred dx, dy from the receiver and
// h above it, with half lengths a and b.
func (s *source) nodes(dx, dy, h, a, b float64) (nx, ny int) {
	outX, outY := max(0, math.Abs(dx)-a), max(0, math.Abs(dy)-b)
	h2 := h * h
	nx, ny = 1, 1
	if a > 0 {
		q := h2 + outY*outY
		r := (math.Sqrt(q+(dx-a)*(dx-a)) + math.Sqrt(q+(dx+a)*(dx+a))) / (2 * a)
		for nx <= mostNodes && r < s.reach[nx] {
			nx++
		}
	}
	if b > 0 {
		q := h2 + outX*outX
		r := (math.Sqrt(q+(dy-b)*(dy-b)) + math.Sqrt(q+(dy+b)*(dy+b))) / (2 * b)
		for ny <= mostNodes && r < s.reach[ny] {
			ny++
		}
	}
	return nx, ny
}

// cell returns the mean of (v·n) d^−2k over a rectangular cell, cutting it until
// Gauss nodes suffice. Lengths are in units of the height of the opening above
// the receiver.
func (s *source) cell(dx, dy, a, b float64, n [3]float64, depth int) float64 {
	nx, ny := s.nodes(dx, dy, 1, a, b)
	if depth > 0 {
		if nx > mostNodes && (nx >= ny && a >= b || ny <= mostNodes) {
			return (s.cell(dx-a/2, dy, a/2, b, n, depth-1) + s.cell(dx+a/2, dy, a/2, b, n, depth-1)) / 2
		}
		if ny > mostNodes {
			return (s.cell(dx, dy-b/2, a, b/2, n, depth-1) + s.cell(dx, dy+b/2, a, b/2, n, depth-1)) / 2
		}
	}
	gx, gy := &gauss[min(nx, mostNodes)], &gauss[min(ny, mostNodes)]
	sum := 0.0
	for i, t := range gx.at {
		u := dx + a*t
		q := u*u + 1
		base := n[0]*u + n[2]
		part := 0.0
		for j, t := range gy.at {
			v := dy + b*t
			if facing := base + n[1]*v; facing > 0 {
				part += gy.weight[j] * facing * s.kernel(q+v*v)
			}
		}
		sum += gx.weight[i] * part
	}
	return sum
}

// discOnHorizontal is the light of a disc with any exponent at height h above
// the receiver and x to the side. In polar coordinates about the receiver's
// foot the radial integral is elementary, which leaves one around the rim,
//
//	E = M/(2π) ∮ G(ρ²)/ρ² (r² − x r cos α) dα,   G = 1 − (h²/(h²+ρ²))^((m+1)/2)
//
// with ρ² = x² + r² − 2 x r cos α. Equal steps in α converge exponentially. From
// outside the disc the 1 of G integrates to nothing and is dropped, so that no
// light is lost to rounding at grazing angles.
func (s *source) discOnHorizontal(h, x float64) float64 {
	if s.discNodes(s.a, h, x) <= 6 {
		return s.peak / (h * h) * s.discArea(x/h, 0, s.a/h, [3]float64{0, 0, 1})
	}
	// The number of steps starts from what the nearest zero of h² + ρ² asks for and
	// doubles until the light stands still.
	r := s.a
	n := 2
	if x > 0 {
		cosh := (h*h*min(1, 2/s.k) + x*x + r*r) / (2 * x * r)
		n = min(100, 2+int(math.Log(8*s.k/s.maxError)/(2*math.Acosh(max(cosh, 1+1e-9)))))
	}
	e := s.rim(h, x, n)
	for n < 2000 {
		n *= 2
		finer := s.rim(h, x, n)
		if math.Abs(finer-e) <= s.maxError/4*math.Abs(finer) {
			return finer
		}
		e = finer
	}
	return max(e, 0)
}

// rim is the integral of [source.discOnHorizontal] with n steps around half of
// the rim, the other half being its mirror image.
func (s *source) rim(h, x float64, n int) float64 {
	r := s.a
	h2, half := h*h, (s.m+1)/2
	outside := x > 1.1*r
	sum := 0.0
	for i := range n {
		c := math.Cos((float64(i) + 0.5) * math.Pi / float64(n))
		rho2 := x*x + r*r - 2*x*r*c
		var g float64
		if outside {
			g = -math.Exp(-half*math.Log1p(rho2/h2)) / rho2
		} else if rho2 < 1e-12*h2 {
			g = half / h2
		} else {
			g = -math.Expm1(-half*math.Log1p(rho2/h2)) / rho2
		}
		sum += (r*r - x*r*c) * g
	}
	return s.exitance * sum / float64(n)
}

// discNodes is how many Gauss nodes in the squared radius a disc of radius r needs
// for a receiver h below its plane and x off its axis; mostNodes+1 means too near.
func (s *source) discNodes(r, h, x float64) int {
	out := max(0, x-r)
	q := math.Sqrt(1 + (h*h+out*out)/(r*r))
	n := 1
	for n <= mostNodes && q < s.reach[n] {
		n++
	}
	return n
}

// discArea returns the mean of (v·n) d^−2k over a disc, by Gauss nodes in the
// squared radius and equal steps of angle. Lengths are in units of the height.
func (s *source) discArea(dx, dy, r float64, n [3]float64) float64 {
	nr := s.discNodes(r, 1, math.Hypot(dx, dy))
	steps := 2*nr + 2
	if nr > mostNodes {
		nr, steps = mostNodes, 48
	}
	sum := 0.0
	for i, t := range gauss[nr].at {
		rr := r * math.Sqrt((1+t)/2)
		part := 0.0
		for j := range steps {
			sin, cos := math.Sincos(2 * math.Pi * (float64(j) + 0.5) / float64(steps))
			u, v := dx+rr*cos, dy+rr*sin
			if facing := n[0]*u + n[1]*v + n[2]; facing > 0 {
				part += facing * s.kernel(u*u+v*v+1)
			}
		}
		sum += gauss[nr].weight[i] * part / float64(steps)
	}
	return sum
}
