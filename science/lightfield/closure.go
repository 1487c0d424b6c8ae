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
	// What falls on surfaces without patches, by their blocks.
	lost := make([]float64, n)
	inParallel(n, 8, func(from, to int) {
		for i := from; i < to; i++ {
			for on := range r.surfaces {
				if s := &r.surfaces[on]; s.first < 0 {
					lost[i] += r.leaving(s) * r.onBlocks(i, on)
				}
			}
		}
	})
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

// onBlocks is the exchange in m² of a patch with a whole surface, all copies.
func (r *Room) onBlocks(i, on int) float64 {
	s := &r.surfaces[on]
	sum := 0.0
	blocks := r.blocksOf(on)
	for k, img := range r.images[:r.near] {
		if k == 0 && r.patches[i].on == on {
			continue
		}
		from := r.rects[i].seen(&r.space, img.n)
		for b := range blocks {
			if blocks[b].area > 0 {
				sum += img.weight * r.between(&from, &blocks[b].rect, gaussPair[:])
			}
		}
	}
	if r.far != nil {
		mine := r.blockOf(r.patches[i])
		for b := s.blocks; b < s.blocks+len(blocks); b++ {
			sum += r.far[mine*len(r.blocks)+b] * r.areas[i] / r.blocks[mine].area
		}
	}
	return sum
}
