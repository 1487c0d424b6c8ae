package spectrum

import "math"

// Limits of a step of [Spectrum.Resample] in nm.
const (
	leastStep = 0.05
	mostStep  = 100
)

// Resample returns the spectrum as photons at multiples of step nm, from the
// last one below its light to the first one above, and loses none: each sample
// is the mean of the photons about it, weighed by a triangle of two steps, and
// the triangles add to 1 everywhere. So the photons of the result are exactly
// those of the spectrum, and none moves farther than two steps: one to its sample,
// and one as the curve spreads the sample again. A narrow line is broadened, never
// missed, which reading the curve at the new wavelengths would do.
//
//	n_i = ∫ n(λ) φ_i(λ) dλ / ∫ φ_i(λ) dλ
//
// It panics for a step outside 0.05 to 100 nm.
func (s Spectrum) Resample(step float64) Spectrum {
	if !(step >= leastStep && step <= mostStep) {
		panic("spectrum: Resample: the step must be from 0.05 to 100 nm")
	}
	if len(s.curves) == 0 {
		return s
	}
	from, to := s.Support()
	first, last := int(math.Floor(from/step+1e-9)), int(math.Ceil(to/step-1e-9))
	if last == first {
		last++
	}
	c := curve{basis: Photons, times: 1, complete: true}
	for _, old := range s.curves {
		c.complete = c.complete && old.complete
	}
	for k := first; k <= last; k++ {
		x := float64(k) * step
		// Half a triangle at the ends.
		t := table{nm: []float64{x - step, x, x + step}, w: []float64{0, 1, 0}}
		area := step
		switch k {
		case first:
			t, area = table{nm: []float64{x, x + step}, w: []float64{1, 0}}, step/2
		case last:
			t, area = table{nm: []float64{x - step, x}, w: []float64{0, 1}}, step/2
		}
		c.nm = append(c.nm, x)
		c.v = append(c.v, s.integral(x-step, x+step, Photons, &t)/area)
	}
	return Spectrum{curves: []curve{c}, scale: s.scale}
}

// Bins returns the photons between neighbouring edges, ascending in nm: one
// fewer than edges. Together they are the photons from the first edge to the
// last.
func (s Spectrum) Bins(edges []float64) []float64 {
	var out []float64
	for i := 1; i < len(edges); i++ {
		out = append(out, s.Photons(edges[i-1], edges[i]))
	}
	return out
}
