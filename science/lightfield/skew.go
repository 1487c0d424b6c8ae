package lightfield

import "math"

// A skew is a lamp that has no short cut: tilted, with a distribution of its own,
// or a ring. The light of a part dA of its opening at distance d falls as
//
//	dE = Φ/A · R(c, γ) (v·n)/d³ dA
//
// with v from receiver to lamp, n the receiver's normal and R the intensity for a
// total flux of 1.
type skew struct {
	centre     [3]float64
	x, y, axis [3]float64 // the lamp's own axes in the space
	shape      Shape
	a, b       float64    // half lengths; radii of a disc or ring: b inner, a outer
	radius     float64    // of the ball around the opening
	extent     [3]float64 // half of what the opening spans along the axes of the space
	flux       float64
	m          float64
	power      *powers // cos^m γ if m is not a small whole number
	law        Distribution
	ring       bool    // a level ring of exponent 1: two discs
	one, two   float64 // [onePoint] and [twoNodes] for this lamp and error
	three      float64 // [threeNodes]
	maxError   float64
}

func newSkew(l Lamp, maxError float64) *skew {
	k := &skew{maxError: maxError, centre: [3]float64{l.Centre.X, l.Centre.Y, l.Centre.Z}, shape: l.Shape, flux: float64(l.Flux), m: l.Exponent, law: l.Distribution, extent: l.reach()}
	k.x, k.y, k.axis = l.frame()
	k.a, k.b = l.half()
	k.radius = k.a
	if l.Shape == Rectangle {
		k.radius = math.Hypot(k.a, k.b)
	} else {
		k.b = 0
		if l.Shape == Ring {
			k.b = l.Inner / 2
		}
	}
	if k.radius < smallest {
		k.radius = 0
	}
	steep := k.m
	if k.law != nil {
		steep = steepness(k.law)
	} else if k.m != math.Trunc(k.m) || k.m > 8 {
		k.power = newPowers(k.m)
	}
	more := math.Sqrt((1 + steep/4) / (1 + steepest/4.0) * max(1, 0.01/maxError))
	k.one, k.two, k.three = onePoint*more, twoNodes*more, threeNodes*more
	k.ring = l.Shape == Ring && l.Tilt == 0 && k.law == nil && k.m == 1 && k.radius > 0
	return k
}

// Distances, in half lengths of a part of an opening, from which one, two and three
// nodes of Gauss along that length will do without a look at the error. The next
// terms of their series are f″/6, f⁗/135 and f⁽⁶⁾/15750 with f = d^−(m+3): for the
// exponent [steepest] 2.5/t², 6/t⁴ and 4.6/t⁶, so 0.16 %, 0.06 % and 0.06 %. Others,
// and distributions by their [steepness], get distances by the root of 1 + m/4. What
// a bend in a distribution that is straight between angles adds is as much for two
// nodes as for three, and falls as 1/t. A smaller MaxError than 1 % asks for more by its root.
// Three nodes go unchecked in rectangles alone: the parts of discs and rings are bent.
const (
	onePoint   = 40
	twoNodes   = 10
	threeNodes = 4.4
	steepest   = 12
)

// steepness is the exponent that a distribution counts as, from 1 to [steepest]: the
// largest second derivative over 5° by its peak, which for cos^m is m, away from the
// level of the opening, where many distributions end.
func steepness(law Distribution) float64 {
	const step, planes = math.Pi / 36, 24
	peak, most := 0.0, 0.0
	at := func(c, gamma float64) float64 {
		if gamma < 0 {
			c, gamma = c+math.Pi, -gamma
		}
		return law.Relative(math.Remainder(c, 2*math.Pi), gamma)
	}
	for i := range planes {
		c := float64(i)*2*math.Pi/planes - math.Pi
		for g := 0.0; g < math.Pi; g += step {
			r := at(c, g)
			peak = max(peak, r)
			if math.Abs(g-math.Pi/2) < 2.5*step || g > math.Pi-step {
				continue
			}
			bend := math.Abs(at(c, g+step) + at(c, g-step) - 2*r)
			if sin := math.Sin(g); sin > 0.2 {
				bend = max(bend, math.Abs(at(c+step/sin, g)+at(c-step/sin, g)-2*r))
			}
			most = max(most, bend)
		}
	}
	return clamp(most/(step*step*peak), 1, steepest)
}

// at is the place of the opening with parameters u and v, each 0 to 1, that cut
// it into equal areas.
func (k *skew) at(u, v float64) [3]float64 {
	var x, y float64
	if k.shape == Rectangle {
		x, y = k.a*(2*u-1), k.b*(2*v-1)
	} else {
		r := math.Sqrt(k.b*k.b + (k.a*k.a-k.b*k.b)*u)
		sin, cos := math.Sincos(2 * math.Pi * v)
		x, y = r*cos, r*sin
	}
	return [3]float64{
		k.centre[0] + x*k.x[0] + y*k.y[0],
		k.centre[1] + x*k.x[1] + y*k.y[1],
		k.centre[2] + x*k.x[2] + y*k.y[2],
	}
}

// from is the light of a point at q with all of the flux on a surface at p, whose
// normal is along the axis given.
func (k *skew) from(q [3]float64, p Point, axis int, sign float64) float64 {
	v := [3]float64{q[0] - p.X, q[1] - p.Y, q[2] - p.Z}
	facing := v[axis] * sign
	if !(facing > 0) {
		return 0
	}
	d2 := v[0]*v[0] + v[1]*v[1] + v[2]*v[2]
	d := math.Sqrt(d2)
	cos := -(v[0]*k.axis[0] + v[1]*k.axis[1] + v[2]*k.axis[2]) / d
	var rel float64
	switch {
	case k.law != nil:
		x, y := -(v[0]*k.x[0] + v[1]*k.x[1] + v[2]*k.x[2]), -(v[0]*k.y[0] + v[1]*k.y[1] + v[2]*k.y[2])
		c := 0.0
		if x*x+y*y > 1e-24*d2 {
			c = quickAtan2(y, x)
		}
		rel = k.law.Relative(c, quickAcos(cos))
	case cos <= 1e-12:
		return 0
	case k.power != nil:
		rel = (k.m + 1) / (2 * math.Pi) * k.power.of(cos)
	default:
		rel = (k.m + 1) / (2 * math.Pi)
		for range int(k.m) {
			rel *= cos
		}
	}
	return k.flux * rel * facing / (d2 * d)
}

// on is the direct PPFD at p. The opening is cut into parts that are small for
// their distance, or of which two rules of Gauss agree to a share of maxError of
// the whole.
func (k *skew) on(p Point, axis int, sign float64) float64 {
	if math.IsNaN(p.X) || math.IsNaN(p.Y) || math.IsNaN(p.Z) {
		return math.NaN()
	}
	off := [3]float64{k.centre[0] - p.X, k.centre[1] - p.Y, k.centre[2] - p.Z}
	if off[axis]*sign <= -k.radius {
		return 0
	}
	if k.law == nil && off[0]*k.axis[0]+off[1]*k.axis[1]+off[2]*k.axis[2] >= 0 {
		return 0 // behind the opening, which is flat
	}
	d := math.Sqrt(off[0]*off[0] + off[1]*off[1] + off[2]*off[2])
	if d >= k.one*k.radius {
		return k.from(k.centre, p, axis, sign)
	}
	if k.ring && axis == 2 {
		if sign < 0 {
			return 0
		}
		r, h := math.Hypot(off[0], off[1]), off[2]
		return k.flux / (math.Pi * (k.a*k.a - k.b*k.b)) * (ElementToDisc(k.a, h, r) - ElementToDisc(k.b, h, r))
	}
	q := cubature{k: k, p: p, axis: axis, sign: sign, flat: math.Abs(off[axis]) > k.extent[axis]}
	if k.shape != Rectangle && q.flat && d >= k.two*k.radius/2 {
		return q.rounds()
	}
	return q.whole()
}

// A cubature integrates the light of one opening at one place.
type cubature struct {
	k    *skew
	p    Point
	axis int
	sign float64
	flat bool // the opening is in front of the receiver as a whole
}

// A cell is a part of the opening by its parameters, with its light by the finer
// rule.
type cell struct {
	u0, u1, v0, v1 float64
	light          float64
	off            float64 // what the coarser rule differs by; 0 if it need not be asked
}

func (c *cell) share() float64 { return (c.u1 - c.u0) * (c.v1 - c.v0) }

// whole is the light of the opening, cut by the distances and then where two rules
// differ.
func (q *cubature) whole() float64 {
	var store [32]cell
	cells := store[:0]
	if q.k.shape == Rectangle {
		cells = q.first(cells, cell{u1: 1, v1: 1}, 7)
	} else {
		for i := range 4 {
			cells = q.first(cells, cell{u1: 1, v0: float64(i) / 4, v1: float64(i+1) / 4}, 6)
		}
	}
	// All that the rules differ by may together be a third of the error allowed: the
	// finer one is several times better than that. Cells with more than their part
	// are cut.
	for range deepest {
		light, off := 0.0, 0.0
		for i := range cells {
			light += cells[i].light
			off += cells[i].off
		}
		allowed := light * q.k.maxError / 3
		if off <= allowed {
			return light
		}
		for i, n := 0, len(cells); i < n; i++ {
			if cells[i].off > allowed/float64(n) {
				x, y := q.halves(cells[i])
				q.measure(&x)
				q.measure(&y)
				cells[i] = x
				cells = append(cells, y)
			}
		}
	}
	light := 0.0
	for i := range cells {
		light += cells[i].light
	}
	return light
}

// first cuts a cell until it is a small part of the opening or far for its size.
func (q *cubature) first(cells []cell, c cell, depth int) []cell {
	t, s := q.distances(&c)
	if depth > 0 && (c.share() >= 0.3 && min(t, s) < q.k.two || min(t, s) < 0.5) {
		x, y := q.halves(c)
		return q.first(q.first(cells, x, depth-1), y, depth-1)
	}
	q.measure(&c)
	return append(cells, c)
}

// distances are how far the middle of a cell is from the receiver, in half lengths
// of the cell along u and v.
func (q *cubature) distances(c *cell) (t, s float64) {
	k := q.k
	m := k.at((c.u0+c.u1)/2, (c.v0+c.v1)/2)
	x, y, z := m[0]-q.p.X, m[1]-q.p.Y, m[2]-q.p.Z
	d := math.Sqrt(x*x + y*y + z*z)
	a, b := q.lengths(c)
	return d / max(a, smallest), d / max(b, smallest)
}

// lengths are the half lengths of a cell along u and v, in m.
func (q *cubature) lengths(c *cell) (a, b float64) {
	k := q.k
	if k.shape == Rectangle {
		return k.a * (c.u1 - c.u0), k.b * (c.v1 - c.v0)
	}
	in, out := k.b*k.b, k.a*k.a-k.b*k.b
	return (math.Sqrt(in+out*c.u1) - math.Sqrt(in+out*c.u0)) / 2, math.Pi * math.Sqrt(in+out*c.u1) * (c.v1 - c.v0)
}

// halves cuts a cell across its longer way.
func (q *cubature) halves(c cell) (x, y cell) {
	x, y = c, c
	if a, b := q.lengths(&c); a >= b {
		m := (c.u0 + c.u1) / 2
		x.u1, y.u0 = m, m
	} else {
		m := (c.v0 + c.v1) / 2
		x.v1, y.v0 = m, m
	}
	return x, y
}

// measure is the light of a cell by as many nodes as its distances ask for.
func (q *cubature) measure(c *cell) {
	t, s := q.distances(c)
	nu, nv := q.nodes(t), q.nodes(s)
	c.light = c.share() * q.gauss(c, nu, nv)
	c.off = 0
	if (nu > 2 || nv > 2) && !(q.flat && min(t, s) >= q.k.three && q.k.shape == Rectangle) {
		c.off = math.Abs(c.light - c.share()*q.gauss(c, min(nu, 2), min(nv, 2)))
	}
}

// nodes is 1 or 2 where that will do, else 3, of which [cubature.measure] looks at the error
// where they are near.
func (q *cubature) nodes(t float64) int {
	switch {
	case !q.flat:
		return 3
	case t >= q.k.one:
		return 1
	case t >= q.k.two:
		return 2
	}
	return 3
}

// gauss is the mean over a cell by nu × nv nodes.
func (q *cubature) gauss(c *cell, nu, nv int) float64 {
	gu, gv := &gauss[nu], &gauss[nv]
	sum := 0.0
	for i, s := range gu.at {
		u := c.u0 + (c.u1-c.u0)*(1+s)/2
		part := 0.0
		for j, t := range gv.at {
			part += gv.weight[j] * q.k.from(q.k.at(u, c.v0+(c.v1-c.v0)*(1+t)/2), q.p, q.axis, q.sign)
		}
		sum += gu.weight[i] * part
	}
	return sum
}

// rounds is the mean over a disc or ring by two nodes in the squared radius and
// six equal steps of angle.
func (q *cubature) rounds() float64 {
	sum := 0.0
	for i, t := range gauss[2].at {
		for j := range 6 {
			sum += gauss[2].weight[i] / 6 * q.k.from(q.k.at((1+t)/2, (float64(j)+0.5)/6), q.p, q.axis, q.sign)
		}
	}
	return sum
}
