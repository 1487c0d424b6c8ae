package lightfield

import "math"

// A view is a patch as it stands to the box from every copy that matters.
type view struct{ narrow, wide []rect }

// viewOf is the view of a patch. It uses the memory of another view.
func (r *Room) viewOf(p patch, old view) view {
	rc := r.rectOf(p)
	see := func(dst []rect, images []image) []rect {
		for _, img := range images {
			dst = append(dst, rc.seen(&r.space, img.n))
		}
		return dst
	}
	return view{see(old.narrow[:0], r.images), see(old.wide[:0], r.wide)}
}

// onPatches writes the direct light of one lamp on the patches given, as means
// over each patch in PPFD. The part of a patch above the lamp is dark.
func (r *Room) onPatches(dst []float64, s *source, patches []patch) {
	var v view
	for i, p := range patches {
		v = r.viewOf(p, v)
		dst[i] = r.onPatch(s, &v)
	}
}

// onPatch is what a patch gets straight from a lamp and by way of mirrors alone.
func (r *Room) onPatch(s *source, v *view) float64 {
	var sum [1]float64
	onPatchIn([]*Room{r}, sum[:], s, v)
	return sum[0]
}

// onPatchIn is [Room.onPatch] for rooms whose copies differ by their weights alone.
func onPatchIn(rooms []*Room, sums []float64, s *source, v *view) {
	r, rects := rooms[0], v.wide
	if s.narrow {
		rects = v.narrow
	}
	clear(sums)
	for i, img := range r.imagesFor(s) {
		e := r.onRect(s, rects[i], img.ring)
		if e == 0 {
			continue
		}
		for j, room := range rooms {
			sums[j] += room.imagesFor(s)[i].weight * e
		}
	}
}

// imagesFor are the copies of the box that matter for a lamp.
func (r *Room) imagesFor(s *source) []image {
	if s.narrow {
		return r.images
	}
	return r.wide
}

// onRect is the mean light of a lamp on a rectangle in the box or, with ring above
// 0, in a copy of it.
func (r *Room) onRect(s *source, rc rect, ring int) float64 {
	share := 1.0
	if s.down() {
		// Above the opening it is dark.
		if rc.axis == 2 && (rc.sign < 0 || rc.lo[2] >= s.z) {
			return 0
		}
		if rc.axis != 2 {
			top := min(rc.hi[2], s.z)
			if top <= rc.lo[2] {
				return 0
			}
			share = (top - rc.lo[2]) / (rc.hi[2] - rc.lo[2])
			rc.hi[2] = top
		}
	}
	lo, hi := s.bounds()
	// The lamp must be in front.
	if rc.sign > 0 && hi[rc.axis] <= rc.lo[rc.axis] || rc.sign < 0 && lo[rc.axis] >= rc.lo[rc.axis] {
		return 0
	}
	steps := 0 // of the opening and of the rectangle, where panels hide a part
	if !r.uniform() {
		switch r.shadeOf(rc.lo, rc.hi, lo, hi) {
		case hidden:
			return 0
		case partly:
			steps = shadeSteps / 2
			if ring > 0 {
				steps /= 2
			}
		}
	}
	return share * r.meanOver(s, rc.lo, rc.hi, rc.axis, rc.sign, steps, -1)
}

// depth is how often a rectangle may be cut for a lamp: down to the distance
// between the two, or on a side that the lamp faces a quarter of the narrow way of a
// large opening, over which the light is even but for its edge.
func (r *Room) depth(s *source, rcLo, rcHi [3]float64, axis int) int {
	const usual, most = 6, 26
	lo, hi := s.bounds()
	d, long := 0.0, 0.0
	for a := range 3 {
		gap := max(0, rcLo[a]-hi[a], lo[a]-rcHi[a])
		d += gap * gap
		long = max(long, rcHi[a]-rcLo[a])
	}
	scale := max(math.Sqrt(d), long*1e-2)
	if !s.down() || axis == 2 {
		wide := s.box[0] + s.box[1] + s.box[2] - max(s.box[0], s.box[1], s.box[2]) - min(s.box[0], s.box[1], s.box[2])
		scale = max(scale, wide/2)
	}
	return min(max(usual, 2*int(math.Ceil(math.Log2(long/scale)))+2), most)
}

// meanOver is the mean direct light of a lamp over a rectangle on a side, by
// Gauss nodes; a rectangle too near to the lamp for that is cut, as often as depth
// says, or [Room.depth] if that is below 0.
func (r *Room) meanOver(s *source, lo, hi [3]float64, a int, sign float64, steps, depth int) float64 {
	b, c := (a+1)%3, (a+2)%3
	// The distance from the opening sets the scale on which the light changes.
	gap := func(axis int, at, half float64) float64 {
		return max(0, lo[axis]-at-half, at-half-hi[axis])
	}
	gx, gy, gz := gap(0, s.x, s.box[0]), gap(1, s.y, s.box[1]), gap(2, s.z, s.box[2])
	d := math.Sqrt(gx*gx + gy*gy + gz*gz)
	need := func(axis int) int {
		half := (hi[axis] - lo[axis]) / 2
		// Rounded, so that lamps in mirrored places get the same nodes where places
		// and sizes are round numbers and the ratio falls on one of the limits.
		ratio := float64(float32(d / half))
		switch {
		case ratio > 12:
			return 1
		case ratio > 4.5:
			return 2
		case ratio > 2.2:
			return 3
		case ratio > 1.2:
			return 4
		}
		return 9
	}
	nb, nc := need(b), need(c)
	if steps > 0 { // the edge of a shadow may cross it
		nb, nc = max(nb, min(steps, 4)), max(nc, min(steps, 4))
	}
	if depth < 0 && max(nb, nc) > 4 {
		depth = r.depth(s, lo, hi, a)
	}
	if depth > 0 && max(nb, nc) > 4 {
		axis := b
		if nb <= 4 || nc > 4 && float32(hi[c]-lo[c]) > float32(hi[b]-lo[b]) {
			axis = c
		}
		mid := (lo[axis] + hi[axis]) / 2
		loFar, hiNear := lo, hi
		loFar[axis], hiNear[axis] = mid, mid
		return (r.meanOver(s, lo, hiNear, a, sign, steps, depth-1) + r.meanOver(s, loFar, hi, a, sign, steps, depth-1)) / 2
	}
	gb, gc := &gauss[min(nb, 4)], &gauss[min(nc, 4)]
	sum := 0.0
	at := lo
	for i, t := range gb.at {
		at[b] = lo[b] + (hi[b]-lo[b])*(1+t)/2
		for j, t := range gc.at {
			at[c] = lo[c] + (hi[c]-lo[c])*(1+t)/2
			sum += gb.weight[i] * gc.weight[j] * r.lit(s, at, a, sign, steps)
		}
	}
	return sum
}
