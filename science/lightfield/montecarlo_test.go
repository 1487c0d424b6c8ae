package lightfield_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// More photons for a closer look: go test -run Photons ./science/lightfield -photons 20000000
var photons = flag.Int("photons", 500_000, "photons for each room of TestAgainstPhotons, up to three times as many where that is too noisy")

// A tracer follows photons one by one; it shares nothing with the program but
// the description of the bench. A photon meets the nearest side or panel and is
// there mirrored, scattered by Lambert's law or swallowed, by lot.
//
// Such photons alone leave the shade of a panel to a few. What reaches the counting
// plane from a lamp or from where a photon is scattered is therefore estimated at
// once. From lamps many probes go out, that stop where they would be scattered. From
// a place of scattering every cell gets what it may be expected to, straight and from
// [tracer.near] on (next-event estimation), and a few probes count what is nearer
// or comes by way of mirrors. Each way to a cell is counted once. What arrives on
// the sides is counted from the probes of the lamps and from photons once scattered.
type tracer struct {
	s     lightfield.Space
	rng   *rand.Rand
	z     float64 // of a counting plane that photons pass through
	cells int     // of the plane, along each axis
	near  float64 // from where a scattered photon's way to a cell is expected, not probed
	count []float64
	sides [6]float64
	faces []float64 // of the panels: top, underside, top, ...
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// start is where and in which direction a photon leaves a lamp, from four numbers
// of 0 to 1, and its weight. turned are the lamp's own axes as [axes] has them.
func start(l lightfield.Lamp, turned [3][3]float64, u [4]float64) (p, d [3]float64, weight float64) {
	var x, y float64
	switch l.Shape {
	case lightfield.Rectangle:
		x, y = l.Width*(u[0]-0.5), l.Depth*(u[1]-0.5)
	default:
		inner := 0.0
		if l.Shape == lightfield.Ring {
			inner = l.Inner / 2
		}
		r := math.Sqrt(inner*inner + (l.Width*l.Width/4-inner*inner)*u[0])
		sin, cos := math.Sincos(2 * math.Pi * u[1])
		x, y = r*cos, r*sin
	}
	c := 2*math.Pi*u[2] - math.Pi
	var cos float64
	if l.Distribution == nil {
		cos, weight = math.Pow(u[3], 1/(l.Exponent+1)), 1 // of density (m+1) cos^m
	} else {
		cos = 2*u[3] - 1
		weight = 4 * math.Pi * l.Distribution.Relative(c, math.Acos(cos))
	}
	sin := math.Sqrt(1 - cos*cos)
	sc, cc := math.Sincos(c)
	dx, dy, dz := sin*cc, sin*sc, -cos
	for i := range 3 {
		p[i] = x*turned[0][i] + y*turned[1][i]
		d[i] = dx*turned[0][i] + dy*turned[1][i] + dz*turned[2][i]
	}
	return [3]float64{p[0] + l.Centre.X, p[1] + l.Centre.Y, p[2] + l.Centre.Z}, d, weight
}

// axes are where a lamp's own x, y and z point to. Its angles rotate them as documented:
// first about the vertical, then about the level line across the bearing (Rodrigues' formula).
func axes(l lightfield.Lamp) [3][3]float64 {
	out := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	rotate := func(axis [3]float64, degrees float64) {
		s, c := math.Sincos(degrees * math.Pi / 180)
		for k := range out {
			v := &out[k]
			along := dot(axis, *v)
			cross := [3]float64{axis[1]*v[2] - axis[2]*v[1], axis[2]*v[0] - axis[0]*v[2], axis[0]*v[1] - axis[1]*v[0]}
			for i := range v {
				v[i] = v[i]*c + cross[i]*s + axis[i]*along*(1-c)
			}
		}
	}
	rotate([3]float64{0, 0, 1}, float64(l.Turn))
	sb, cb := math.Sincos(float64(l.Towards) * math.Pi / 180)
	rotate([3]float64{sb, -cb, 0}, float64(l.Tilt)) // turns −z towards (cb, sb)
	return out
}

// Probes for each photon that a lamp sends out, and for each scattering.
const (
	lampProbes    = 8
	scatterProbes = 6
)

// expected adds to every cell what a photon scattered at p, on a surface across an
// axis that faces inward, brings straight there: cos·cos/(π d²) times the cell's area,
// at a place of the cell by lot.
func (t *tracer) expected(p [3]float64, axis int, inward, weight float64) {
	if p[2] <= t.z || axis == 2 && inward > 0 {
		return
	}
	u, v := t.rng.Float64(), t.rng.Float64()
	w, d := t.s.Width/float64(t.cells), t.s.Depth/float64(t.cells)
	down := p[2] - t.z
	for i := range t.cells {
		dx := (float64(i)+u)*w - p[0]
		for j := range t.cells {
			dy := (float64(j)+v)*d - p[1]
			cos := down
			switch axis {
			case 0:
				cos = dx * inward
			case 1:
				cos = dy * inward
			}
			d2 := dx*dx + dy*dy + down*down
			if cos <= 0 || d2 < t.near*t.near {
				continue
			}
			free := true
			for k := range t.s.Panels {
				if q := &t.s.Panels[k]; q.Z > t.z && q.Z < p[2] {
					share := (p[2] - q.Z) / down
					x, y := p[0]+share*dx, p[1]+share*dy
					free = free && (x < q.X1 || x > q.X2 || y < q.Y1 || y > q.Y2)
				}
			}
			if free {
				t.count[i*t.cells+j] += weight * cos * down / (math.Pi * d2 * d2) * w * d
			}
		}
	}
}

// hit is how far it is from p in direction d to the nearest side or panel: the
// axis across which it lies, and the face of a panel or −1.
func (t *tracer) hit(p, d [3]float64) (best float64, axis, face int) {
	size := [3]float64{t.s.Width, t.s.Depth, t.s.Height}
	best, axis, face = math.Inf(1), -1, -1
	for a := range 3 {
		k := math.Inf(1)
		if d[a] > 0 {
			k = (size[a] - p[a]) / d[a]
		} else if d[a] < 0 {
			k = -p[a] / d[a]
		}
		if k < best {
			best, axis = k, a
		}
	}
	for i, q := range t.s.Panels {
		k := (q.Z - p[2]) / d[2]
		if !(k > 1e-12 && k < best) {
			continue
		}
		if x, y := p[0]+k*d[0], p[1]+k*d[1]; x >= q.X1 && x <= q.X2 && y >= q.Y1 && y <= q.Y2 {
			best, axis, face = k, 2, 2*i
			if d[2] > 0 {
				face++
			}
		}
	}
	return best, axis, face
}

// along moves p on, into the box.
func (t *tracer) along(p, d [3]float64, k float64) [3]float64 {
	size := [3]float64{t.s.Width, t.s.Depth, t.s.Height}
	for a := range 3 {
		p[a] = min(max(p[a]+k*d[a], 0), size[a])
	}
	return p
}

// sideOf is the side that is met across an axis.
func sideOf(d [3]float64, axis int) int {
	if d[axis] > 0 {
		return 2*axis + 1
	}
	return 2 * axis
}

// probe counts crossings of the plane, by way of mirrors too, until it meets what
// does not mirror: all of them, or those nearer than near while it goes straight. Weak
// probes end by lot.
func (t *tracer) probe(p, d [3]float64, weight float64, scattered bool) {
	least, fromLamp := weight/20, !scattered
	for {
		best, axis, face := t.hit(p, d)
		if fromLamp {
			t.arrive(d, axis, face, weight)
		}
		if k := (t.z - p[2]) / d[2]; d[2] < 0 && p[2] > t.z && k <= best && (!scattered || k < t.near) {
			i := int((p[0] + k*d[0]) / t.s.Width * float64(t.cells))
			j := int((p[1] + k*d[1]) / t.s.Depth * float64(t.cells))
			if i >= 0 && j >= 0 && i < t.cells && j < t.cells {
				t.count[i*t.cells+j] += weight
			}
		}
		if face >= 0 {
			return
		}
		wall := t.s.Walls[sideOf(d, axis)]
		if wall.Open || wall.Mirror == 0 {
			return
		}
		if weight *= float64(wall.Mirror); weight < least {
			if t.rng.Float64() < 0.5 {
				return
			}
			weight *= 2
		}
		p = t.along(p, d, best)
		d[axis], scattered = -d[axis], false
	}
}

// arrive counts light on a side or the face of a panel.
func (t *tracer) arrive(d [3]float64, axis, face int, weight float64) {
	if face >= 0 {
		t.faces[face] += weight
	} else {
		t.sides[sideOf(d, axis)] += weight
	}
}

// lambert is a direction away from a surface by Lambert's law.
func (t *tracer) lambert(axis int, inward float64) (d [3]float64) {
	c := math.Sqrt(t.rng.Float64())
	sin := math.Sqrt(1 - c*c)
	sa, ca := math.Sincos(2 * math.Pi * t.rng.Float64())
	d[axis], d[(axis+1)%3], d[(axis+2)%3] = inward*c, sin*ca, sin*sa
	return d
}

// photon follows one from a lamp. What arrives before it is scattered is left to the
// probes.
func (t *tracer) photon(p, d [3]float64, weight float64) {
	scattered := false
	for range 5000 {
		best, axis, face := t.hit(p, d)
		if scattered {
			t.arrive(d, axis, face, weight)
		}
		p = t.along(p, d, best)
		inward := -1.0
		if d[axis] < 0 {
			inward = 1
		}
		var mirror, scatter float64
		if face >= 0 {
			q := t.s.Panels[face/2]
			p[2] = q.Z
			scatter = float64(q.Top)
			if face%2 == 1 {
				scatter = float64(q.Bottom)
			}
		} else {
			if w := t.s.Walls[sideOf(d, axis)]; !w.Open {
				mirror, scatter = float64(w.Mirror), float64(w.Reflectance)
			}
		}
		lot := t.rng.Float64()
		switch {
		case lot < mirror:
			d[axis] = -d[axis]
		case lot < mirror+scatter:
			d, scattered = t.lambert(axis, inward), true
			t.expected(p, axis, inward, weight)
			for range scatterProbes {
				t.probe(p, t.lambert(axis, inward), weight/scatterProbes, true)
			}
		default:
			return
		}
	}
}

// batwing sends most of its light aside, more along its own x than its own y:
// (2/π) cos γ sin² γ (1 + ½ cos 2c), whose integral is 1.
type batwing struct{}

func (batwing) Relative(c, gamma float64) float64 {
	sin, cos := math.Sincos(gamma)
	return 2 / math.Pi * max(0, cos) * sin * sin * (1 + math.Cos(2*c)/2)
}

// upAndDown sends 0.7 forwards and 0.3 backwards, each by Lambert's law.
type upAndDown struct{}

func (upAndDown) Relative(_, gamma float64) float64 {
	if cos := math.Cos(gamma); cos > 0 {
		return 0.7 / math.Pi * cos
	} else {
		return -0.3 / math.Pi * cos
	}
}

// table is a distribution as a file gives it: straight between angles 15° apart.
// cos² γ at the angles, with the total of the straight pieces.
type table struct{ total float64 }

func newTable() table {
	sum := 0.0
	for i := range 9000 {
		g := (float64(i) + 0.5) / 9000 * math.Pi / 2
		sum += table{1}.Relative(0, g) * 2 * math.Pi * math.Sin(g) * math.Pi / 2 / 9000
	}
	return table{sum}
}

func (t table) Relative(_, gamma float64) float64 {
	const step = math.Pi / 12
	i := math.Floor(gamma / step)
	at := func(i float64) float64 { return math.Pow(max(0, math.Cos(i*step)), 2) }
	if i >= 6 {
		return 0
	}
	share := gamma/step - i
	return (at(i)*(1-share) + at(i+1)*share) / t.total
}

// A scene is one room of the test.
type scene struct {
	s     lightfield.Space
	lamps []lightfield.Lamp
	z     float64
}

// anyScene draws a room: some sides open, some mirrors, some both; up to two
// panels; three lamps of any shape, angle and distribution that hang free.
func anyScene(seed uint64) scene {
	rng := rand.New(rand.NewPCG(11, seed))
	laws := []lightfield.Distribution{batwing{}, upAndDown{}, newTable()}
	for {
		var c scene
		c.s = lightfield.Space{Width: 0.6 + 1.4*rng.Float64(), Depth: 0.5 + rng.Float64(), Height: 0.5 + 1.1*rng.Float64()}
		c.z = 0.2 * c.s.Height
		for i := range c.s.Walls {
			w := &c.s.Walls[i]
			w.Open = rng.Float64() < 0.15
			total := 0.3 + 0.6*rng.Float64()
			mirror := 0.0
			if rng.Float64() < 0.45 {
				mirror = 0.3 + 0.7*rng.Float64()
			}
			if i == int(lightfield.Below) {
				total *= 0.4
			}
			w.Mirror, w.Reflectance = quantity.Fraction(total*mirror), quantity.Fraction(total*(1-mirror))
		}
		for range int(3 * rng.Float64()) {
			x, y := rng.Float64()*0.7, rng.Float64()*0.7
			p := lightfield.Panel{
				X1: c.s.Width * x, X2: c.s.Width * min(1, x+0.2+0.4*rng.Float64()),
				Y1: c.s.Depth * y, Y2: c.s.Depth * min(1, y+0.2+0.4*rng.Float64()),
				Z:   c.s.Height * (0.35 + 0.5*rng.Float64()),
				Top: quantity.Fraction(0.8 * rng.Float64()), Bottom: quantity.Fraction(0.8 * rng.Float64()),
			}
			if rng.Float64() < 0.4 {
				p.X1 = 0
			}
			c.s.Panels = append(c.s.Panels, p)
		}
		for range 3 {
			l := lightfield.Lamp{
				Centre: lightfield.Point{X: c.s.Width * (0.1 + 0.8*rng.Float64()), Y: c.s.Depth * (0.1 + 0.8*rng.Float64()), Z: c.s.Height * (0.5 + 0.45*rng.Float64())},
				Shape:  lightfield.Shape(3 * rng.Float64()), Width: 0.5 * rng.Float64(), Depth: 0.2 * rng.Float64(),
				Flux: quantity.PPF(30 + 100*rng.Float64()), Exponent: []float64{1, 0.7, 3.2, 8}[int(4*rng.Float64())],
				Turn: quantity.Degree(180 * rng.Float64()),
			}
			if rng.Float64() < 0.5 {
				l.Turn = 0
			}
			l.Inner = l.Width * 0.9 * rng.Float64()
			if rng.Float64() < 0.5 {
				l.Tilt, l.Towards = quantity.Degree(60*rng.Float64()), quantity.Degree(360*rng.Float64())
			}
			if rng.Float64() < 0.5 {
				l.Distribution = laws[int(3*rng.Float64())]
			}
			c.lamps = append(c.lamps, l)
		}
		// Hang free also of open sides: the tracer has no outside.
		closed := c.s
		for i := range closed.Walls {
			closed.Walls[i] = lightfield.Wall{}
		}
		if _, err := lightfield.Solve(closed, c.lamps, lightfield.Options{Patches: 24, MaxError: 0.2}); err == nil {
			return c
		}
	}
}

// Ten rooms at random (twenty with -whole) against photons: mirrors, panels, tilted lamps,
// distributions. The mean over the plane must agree to 1 %, every cell of 5 × 5 to
// 3 % of its light, the light on every side to 1.5 % and that on every face of a
// panel to 1.5 % of its own or 0.1 % of what the lamps send (two panels a few
// centimetres apart are finer than the patches). The noise of the tracer is known
// from the spread of its batches; photons are followed until that of the mean is
// below 0.2 % and that of every cell below 0.6 %, or three times as many are. The bounds
// are strict; only in cells darker than a tenth of the mean, on sides and on faces
// three times the noise is allowed on top where it is above 0.6 %.
//
// What is seen: cells without panels agree to 1.5 %, those in the shade of one to 2.2 %,
// with noise in both. The darkest of all, 7 % of the mean of its plane under the shelf of
// room 14, is 3.6 ± 1.6 % too bright, and some 5 % by finer and finer patches: the error
// is the program's, and with many more photons this cell would fail.
func TestAgainstPhotons(t *testing.T) {
	rooms := uint64(10)
	if *whole {
		rooms = 20
	}
	if testing.Short() {
		rooms = 3 // with the race detector, which is asked for the goroutines and not for the light
	}
	for seed := range rooms {
		t.Run(fmt.Sprint("room ", seed), func(t *testing.T) {
			t.Parallel()
			againstPhotons(t, anyScene(seed), seed)
		})
	}
}

func againstPhotons(t *testing.T, c scene, seed uint64) {
	const cells, batches = 5, 25
	flux := 0.0
	for _, l := range c.lamps {
		flux += float64(l.Flux)
	}
	values := cells*cells + 6 + 2*len(c.s.Panels)
	sum, square := make([]float64, values+1), make([]float64, values+1)
	near := math.Sqrt(c.s.Width*c.s.Depth) / cells / 2
	done := 0.0
	noise := func(i int) float64 {
		mean := sum[i] / done
		return math.Sqrt(max(0, square[i]/done-mean*mean)/(done-1)) / mean
	}
	noisy := func() bool {
		worst := noise(values) * 3
		for i := range cells * cells {
			worst = max(worst, noise(i))
		}
		return worst > 0.006
	}
	for b := uint64(0); b < batches || b < 3*batches && noisy(); b++ {
		rng := rand.New(rand.NewPCG(seed, b))
		tr := &tracer{s: c.s, rng: rng, z: c.z, cells: cells, near: near, count: make([]float64, cells*cells), faces: make([]float64, 2*len(c.s.Panels))}
		for _, l := range c.lamps {
			n := int(float64(*photons) / batches * float64(l.Flux) / flux)
			// Starts are spread evenly: a lattice of irrational steps (powers of the root of
			// x⁵ = x + 1), shifted at random in every batch.
			var u, step [4]float64
			g := 1.0
			for i := range u {
				g /= 1.1673039782614187
				u[i], step[i] = rng.Float64(), g
			}
			turned := axes(l)
			for i := range n * lampProbes {
				for i := range u {
					u[i] += step[i]
					u[i] -= math.Floor(u[i])
				}
				p, d, w := start(l, turned, u)
				if w == 0 {
					continue
				}
				tr.probe(p, d, w*float64(l.Flux)/float64(n*lampProbes), false)
				if i%lampProbes == 0 {
					tr.photon(p, d, w*float64(l.Flux)/float64(n))
				}
			}
		}
		mean := 0.0
		for _, v := range tr.count {
			mean += v
		}
		for i, v := range append(append(append(tr.count, tr.sides[:]...), tr.faces...), mean) {
			sum[i] += v
			square[i] += v * v
		}
		done++
	}

	f := solve(t, c.s, c.lamps...)
	dim := []float64{1, 1, 1}
	const sub = 6 // points along a cell's edge
	e := f.PPFD(nil, dim, grid(c.s, cells*sub, cells*sub, c.z))
	area := c.s.Width * c.s.Depth
	got := make([]float64, values+1)
	for i, v := range e {
		x, y := i/(cells*sub)/sub, i%(cells*sub)/sub
		got[x*cells+y] += v * area / float64(len(e))
		got[values] += v * area / float64(len(e))
	}
	areas := [6]float64{c.s.Depth * c.s.Height, c.s.Depth * c.s.Height, c.s.Width * c.s.Height, c.s.Width * c.s.Height, area, area}
	for side, v := range f.WallIrradiance(dim) {
		got[cells*cells+side] = v * areas[side]
	}
	top, bottom := f.PanelIrradiance(dim)
	for i, p := range c.s.Panels {
		a := (p.X2 - p.X1) * (p.Y2 - p.Y1)
		got[cells*cells+6+2*i], got[cells*cells+7+2*i] = top[i]*a, bottom[i]*a
	}

	worst, worstNoise := 0.0, 0.0
	for i := range got {
		want := sum[i] / done
		if want == 0 && got[i] < 1e-4*flux {
			continue
		}
		bound, name := 0.03*want, fmt.Sprintf("cell %d,%d", i/cells, i%cells)
		switch {
		case i == values:
			bound, name = 0.01*want, "mean"
		case i >= cells*cells+6:
			bound, name = max(0.015*want, 0.001*flux), fmt.Sprint("panel face ", i-cells*cells-6)
		case i >= cells*cells:
			bound, name = 0.015*want, fmt.Sprint("side ", lightfield.Side(i-cells*cells))
		default:
			worst, worstNoise = max(worst, relative(got[i], want)), max(worstNoise, noise(i))
		}
		dark := i >= cells*cells && i < values || want < 0.1*sum[values]/done/(cells*cells)
		if dark && noise(i) > 0.006 {
			bound += 3 * noise(i) * want
		}
		if !(math.Abs(got[i]-want) <= bound) {
			t.Errorf("%s: %.3f µmol/s, photons %.3f (%+.2f %%, noise %.2f %%)", name, got[i], want, 100*(got[i]/want-1), 100*noise(i))
		}
	}
	t.Logf("mean %+.2f %% (noise %.2f %%), worst cell %.2f %% (noise up to %.2f %%), %d panels, %.0f batches", 100*(got[values]*done/sum[values]-1), 100*noise(values), 100*worst, 100*worstNoise, len(c.s.Panels), done)
	if noise(values) > 0.0025 {
		t.Errorf("the noise of the mean, %.2f %%, is too large to judge by", 100*noise(values))
	}
}
