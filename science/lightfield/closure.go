package lightfield

import "math"

// close makes the exchange of light keep it. All that a patch sends out ends on
// some side or panel that does not mirror it further, so with the mirror share s of
// the sides
//
//	Σ_j (1 − s_j) A_i F_ij = A_i
//
// over all surfaces. Seen through mirrors and past panels the exchange is good to a
// per mille or two, but bright sides pass light on twenty times and every time the
// error comes in; so rows and columns are scaled alike, a few times, until the sums
// are right. In a plain room they are, by exact view factors.
func (r *Room) close() {
	n := len(r.patches)
	r.passing = make([]float64, n)
	for i := range r.passing {
		r.passing[i] = 1
	}
	if n == 0 || r.uniform() && len(r.images) == 1 {
		return
	}
	// What falls on surfaces without patches, by their cells.
	lost := make([]float64, n)
	for on := range r.surfaces {
		s := &r.surfaces[on]
		if s.first >= 0 {
			continue
		}
		cells := r.patchesOf(on)
		rows := make([]float64, len(cells)*n)
		inParallel(len(cells), 8, func(from, to int) {
			for k := from; k < to; k++ {
				rc := r.rectOf(cells[k])
				r.exchangeRow(rows[k*n:(k+1)*n], cells[k], &rc)
			}
		})
		for k := range cells {
			for i, v := range rows[k*n : (k+1)*n] {
				lost[i] += r.leaving(s) * v
			}
		}
	}
	raw := r.exchange.RawSymmetric()
	at := func(i, j int) *float64 { return &raw.Data[min(i, j)*raw.Stride+max(i, j)] }
	keep := make([]float64, n)
	for j, p := range r.patches {
		keep[j] = r.leaving(&r.surfaces[p.on])
	}
	factor := make([]float64, n)
	for range 4 {
		for i := range n {
			sum := lost[i]
			for j := range n {
				sum += keep[j] * *at(i, j)
			}
			factor[i] = 1
			if sum > 0 {
				factor[i] = math.Sqrt(r.areas[i] / sum)
			}
		}
		for i := range n {
			for j := i; j < n; j++ {
				raw.Data[i*raw.Stride+j] *= factor[i] * factor[j]
			}
			lost[i] *= factor[i] * factor[i]
			r.passing[i] *= factor[i] * factor[i]
		}
	}
}

// leaving is the share of what falls on a surface that it does not mirror.
func (r *Room) leaving(s *surface) float64 {
	if s.side < 0 {
		return 1
	}
	return 1 - r.space.Walls[s.side].mirror()
}
