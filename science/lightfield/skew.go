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
	a, b       float64 // half lengths; radii of a disc or ring: b inner, a outer
	radius     float64 // of the ball around the opening
	flux       float64
	m          float64
	power      *powers // cos^m γ if m is not a small whole number
	law        Distribution
	ring       bool    // a level ring of exponent 1: two discs
	far, mid   float64 // distances from which one node and one rule will do
}

func newSkew(l Lamp) *skew {
	k := &skew{centre: [3]float64{l.Centre.X, l.Centre.Y, l.Centre.Z}, shape: l.Shape, flux: float64(l.Flux), m: l.Exponent, law: l.Distribution}
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
		steep = steepest
	} else if k.m != math.Trunc(k.m) || k.m > 8 {
		k.power = newPowers(k.m)
	}
	k.far = nearBy * math.Sqrt(1+steep/4) * k.radius
	k.mid = k.far * ruleBy / nearBy
	k.ring = l.Shape == Ring && l.Tilt == 0 && k.law == nil && k.m == 1 && k.radius > 0
	return k
}

// nearBy is how many radii away a round part of an opening counts as a point: the
// next term of the series is of the order of (radius/d)², 0.1 %, times a factor that
// grows with the exponent. A distribution from a file counts as one of exponent
// steepest. From ruleBy radii one rule of three nodes an axis will do.
const (
	nearBy   = 30
	ruleBy   = 4.5
	steepest = 12
)

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

// on is the direct PPFD at p. The opening is cut until two rules of Gauss agree
// on every part of it, to a share of maxError of the whole.
func (k *skew) on(p Point, axis int, sign float64, maxError float64) float64 {
	if math.IsNaN(p.X) || math.IsNaN(p.Y) || math.IsNaN(p.Z) {
		return math.NaN()
	}
	off := [3]float64{k.centre[0] - p.X, k.centre[1] - p.Y, k.centre[2] - p.Z}
	if off[axis]*sign <= -k.radius {
		return 0
	}
	d := math.Sqrt(off[0]*off[0] + off[1]*off[1] + off[2]*off[2])
	if k.law == nil && off[0]*k.axis[0]+off[1]*k.axis[1]+off[2]*k.axis[2] >= 0 {
		return 0 // behind the opening, which is flat
	}
	if d >= k.far {
		return k.from(k.centre, p, axis, sign)
	}
	if k.ring && axis == 2 {
		if sign < 0 {
			return 0
		}
		r, h := math.Hypot(off[0], off[1]), off[2]
		return k.flux / (math.Pi * (k.a*k.a - k.b*k.b)) * (ElementToDisc(k.a, h, r) - ElementToDisc(k.b, h, r))
	}
	q := cubature{k: k, p: p, axis: axis, sign: sign}
	if d >= k.mid && math.Abs(off[axis]) > k.radius {
		if k.shape == Rectangle {
			return q.gauss(0, 1, 0, 1, 3)
		}
		return q.rounds()
	}
	cells := 1
	if k.shape != Rectangle {
		cells = 4
	}
	for i := range cells {
		q.want += q.gauss(0, 1, float64(i)/float64(cells), float64(i+1)/float64(cells), 4) / float64(cells)
	}
	q.want *= maxError / 12
	sum := 0.0
	for i := range cells {
		sum += q.cell(0, 1, float64(i)/float64(cells), float64(i+1)/float64(cells), 9)
	}
	return sum
}

// A cubature integrates the light of one opening at one place.
type cubature struct {
	k    *skew
	p    Point
	axis int
	sign float64
	want float64 // error that any one cell may have
}

// gauss is the mean over a cell by n × n nodes.
func (q *cubature) gauss(u0, u1, v0, v1 float64, n int) float64 {
	g := &gauss[n]
	sum := 0.0
	for i, s := range g.at {
		part := 0.0
		for j, t := range g.at {
			part += g.weight[j] * q.k.from(q.k.at(u0+(u1-u0)*(1+s)/2, v0+(v1-v0)*(1+t)/2), q.p, q.axis, q.sign)
		}
		sum += g.weight[i] * part
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

// cell is the light of a cell, cut until the rules of 2 and 3 nodes agree: in two
// across its length if it is long, which does not count as a level, else in four.
func (q *cubature) cell(u0, u1, v0, v1 float64, depth int) float64 {
	share := (u1 - u0) * (v1 - v0)
	fine := q.gauss(u0, u1, v0, v1, 3)
	if depth == 0 {
		return share * fine
	}
	if coarse := q.gauss(u0, u1, v0, v1, 2); share*math.Abs(fine-coarse) <= q.want && share < 0.3 {
		return share * fine
	}
	um, vm := (u0+u1)/2, (v0+v1)/2
	if q.k.shape == Rectangle {
		const long = 2
		switch across, along := q.k.a*(u1-u0), q.k.b*(v1-v0); {
		case across > long*along:
			return q.cell(u0, um, v0, v1, depth) + q.cell(um, u1, v0, v1, depth)
		case along > long*across:
			return q.cell(u0, u1, v0, vm, depth) + q.cell(u0, u1, vm, v1, depth)
		}
	}
	return q.cell(u0, um, v0, vm, depth-1) + q.cell(u0, um, vm, v1, depth-1) +
		q.cell(um, u1, v0, vm, depth-1) + q.cell(um, u1, vm, v1, depth-1)
}
