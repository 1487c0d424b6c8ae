package lightfield_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"underlamp/science/lightfield"
	"underlamp/science/quantity"
)

// A tracer follows photons one by one; it shares nothing with the program but
// the description of the bench.
type tracer struct {
	s     lightfield.Space
	rng   *rand.Rand
	z     float64 // of a counting plane that photons pass through
	cells int     // of the plane, along each axis
	count []float64
	sides [6]float64
}

func (t *tracer) photon(l lightfield.Lamp, weight float64) {
	p := [3]float64{l.Centre.X, l.Centre.Y, l.Centre.Z}
	if l.Shape == lightfield.Disc {
		r := l.Width / 2 * math.Sqrt(t.rng.Float64())
		sin, cos := math.Sincos(2 * math.Pi * t.rng.Float64())
		p[0] += r * cos
		p[1] += r * sin
	} else {
		p[0] += l.Width * (t.rng.Float64() - 0.5)
		p[1] += l.Depth * (t.rng.Float64() - 0.5)
	}
	// cos θ of density (m+1) c^m.
	c := math.Pow(t.rng.Float64(), 1/(l.Exponent+1))
	sin := math.Sqrt(1 - c*c)
	sa, ca := math.Sincos(2 * math.Pi * t.rng.Float64())
	d := [3]float64{sin * ca, sin * sa, -c}
	size := [3]float64{t.s.Width, t.s.Depth, t.s.Height}
	for range 500 {
		best, axis := math.Inf(1), -1
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
		// Down through the counting plane.
		if d[2] < 0 && p[2] > t.z && p[2]+best*d[2] <= t.z {
			k := (t.z - p[2]) / d[2]
			i := int((p[0] + k*d[0]) / size[0] * float64(t.cells))
			j := int((p[1] + k*d[1]) / size[1] * float64(t.cells))
			if i >= 0 && j >= 0 && i < t.cells && j < t.cells {
				t.count[i*t.cells+j] += weight
			}
		}
		for a := range 3 {
			p[a] = math.Min(math.Max(p[a]+best*d[a], 0), size[a])
		}
		side := 2 * axis
		inward := 1.0
		if d[axis] > 0 {
			side, inward = side+1, -1
		}
		t.sides[side] += weight
		w := t.s.Walls[side]
		if w.Open || t.rng.Float64() >= float64(w.Reflectance) {
			return
		}
		c := math.Sqrt(t.rng.Float64()) // Lambert
		sin := math.Sqrt(1 - c*c)
		sa, ca := math.Sincos(2 * math.Pi * t.rng.Float64())
		d[axis], d[(axis+1)%3], d[(axis+2)%3] = inward*c, sin*ca, sin*sa
	}
}

// Six rooms at random against photons: the mean over the plane and every bright
// side within 1.5 % (with the noise of the tracer, under 0.5 %, inside), single
// cells within 1.5 % and four standard deviations of their counts.
func TestAgainstPhotons(t *testing.T) {
	const photons, cells = 600_000, 6
	for room := range 6 {
		rng := rand.New(rand.NewPCG(7, uint64(room)))
		s := lightfield.Space{Width: 0.6 + 1.4*rng.Float64(), Depth: 0.5 + rng.Float64(), Height: 0.4 + 1.2*rng.Float64()}
		for i := range s.Walls {
			s.Walls[i].Reflectance = quantity.Fraction(0.3 + 0.6*rng.Float64())
			s.Walls[i].Open = rng.Float64() < 0.2
		}
		var lamps []lightfield.Lamp
		flux := 0.0
		for k := range 3 {
			lamps = append(lamps, lightfield.Lamp{
				Centre: lightfield.Point{X: 0.2 + (s.Width-0.4)*rng.Float64(), Y: 0.2 + (s.Depth-0.4)*rng.Float64(), Z: s.Height * (0.5 + 0.45*rng.Float64())},
				Shape:  lightfield.Shape(k % 2), Width: 0.3 * rng.Float64(), Depth: 0.3 * rng.Float64(),
				Flux: quantity.PPF(30 + 100*rng.Float64()), Exponent: []float64{1, 0.7, 3.2}[k],
			})
			flux += float64(lamps[k].Flux)
		}
		tr := &tracer{s: s, rng: rng, z: 0.2 * s.Height, cells: cells, count: make([]float64, cells*cells)}
		for _, l := range lamps {
			n := int(photons * float64(l.Flux) / flux)
			for range n {
				tr.photon(l, float64(l.Flux)/float64(n))
			}
		}
		f := solve(t, s, lamps...)
		dim := []float64{1, 1, 1}
		const sub = 8 // points along a cell's edge
		e := f.PPFD(nil, dim, grid(s, cells*sub, cells*sub, tr.z))
		cell := s.Width * s.Depth / (cells * cells)
		meanGot, meanWant := 0.0, 0.0
		for i := range cells {
			for j := range cells {
				got := 0.0
				for a := range sub {
					for b := range sub {
						got += e[(i*sub+a)*cells*sub+j*sub+b] / (sub * sub)
					}
				}
				want := tr.count[i*cells+j] / cell
				noise := 1 / math.Sqrt(tr.count[i*cells+j]/flux*photons)
				if relative(got, want) > 0.015+4*noise {
					t.Errorf("room %d cell %d,%d: %.2f, photons %.2f (%.1f %%, noise %.1f %%)", room, i, j, got, want, 100*(got/want-1), 100*noise)
				}
				meanGot += got / (cells * cells)
				meanWant += want / (cells * cells)
			}
		}
		if relative(meanGot, meanWant) > 0.015 {
			t.Errorf("room %d: mean %.2f, photons %.2f", room, meanGot, meanWant)
		}
		t.Logf("room %d: mean differs by %.2f %%", room, 100*(meanGot/meanWant-1))
		area := [6]float64{s.Depth * s.Height, s.Depth * s.Height, s.Width * s.Height, s.Width * s.Height, s.Width * s.Depth, s.Width * s.Depth}
		for side, got := range f.WallIrradiance(dim) {
			want := tr.sides[side] / area[side]
			noise := 1 / math.Sqrt(tr.sides[side]/flux*photons)
			if relative(got, want) > 0.015+4*noise {
				t.Errorf("room %d side %v: %.2f, photons %.2f", room, lightfield.Side(side), got, want)
			}
		}
	}
}
