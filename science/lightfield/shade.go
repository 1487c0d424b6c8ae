package lightfield

import "math"

// visible says whether panels leave the straight line between two places free. q
// is in the box, p there or in a copy of it. A panel is crossed in between the
// heights of the two; the place of crossing is folded back into the box.
func (r *Room) visible(p, q [3]float64) bool {
	for i := range r.panels {
		panel := &r.panels[i]
		if p[2] >= 0 && p[2] <= r.space.Height {
			if r.crosses(panel, panel.Z, p, q) {
				return false
			}
			continue
		}
		h := r.space.Height
		from, to := int(math.Floor(min(p[2], q[2])/h)), int(math.Floor(max(p[2], q[2])/h))
		for n := from; n <= to; n++ {
			z := float64(n)*h + panel.Z
			if n%2 != 0 {
				z = float64(n+1)*h - panel.Z
			}
			if r.crosses(panel, z, p, q) {
				return false
			}
		}
	}
	return true
}

// crosses says whether the line between p and q meets the panel, or a copy of it,
// at height z.
func (r *Room) crosses(panel *Panel, z float64, p, q [3]float64) bool {
	if (p[2] < z) == (q[2] < z) || p[2] == z || q[2] == z {
		return false
	}
	t := (z - p[2]) / (q[2] - p[2])
	x := fold(p[0]+t*(q[0]-p[0]), r.space.Width)
	if x < panel.X1 || x > panel.X2 {
		return false
	}
	y := fold(p[1]+t*(q[1]-p[1]), r.space.Depth)
	return y >= panel.Y1 && y <= panel.Y2
}

// fold brings a coordinate of a copy back into the box.
func fold(x, size float64) float64 {
	if x >= 0 && x <= size {
		return x
	}
	n := math.Floor(x / size)
	x -= n * size
	if math.Mod(n, 2) != 0 {
		x = size - x
	}
	return x
}

// A shade says how much of the lines between two places panels cut off.
type shade int

const (
	free shade = iota
	partly
	hidden
)

// shadeOf is the shade between two boxes, given by their least and largest
// coordinates; the second is in the space, the first there or in a copy of it.
// partly is also said where that is only possible.
//
// A line from a to b meets the height z at a + t (b − a), which grows with every
// coordinate of both, and goes one way with t. So the lines meet the plane of a
// panel within the rectangle of the extremes: a panel that this misses is not in
// the way, and one that holds it is in the way of all.
func (r *Room) shadeOf(lo, hi, toLo, toHi [3]float64) shade {
	s := &r.space
	out := free
	h := s.Height
	for i := range r.panels {
		p := &r.panels[i]
		from, to := 0, 0
		if lo[2] < 0 || hi[2] > h {
			from, to = int(math.Floor(min(lo[2], toLo[2])/h)), int(math.Floor(max(hi[2], toHi[2])/h))
		}
		for n := from; n <= to; n++ {
			z := float64(n)*h + p.Z
			if n%2 != 0 {
				z = float64(n+1)*h - p.Z
			}
			var t0, t1 float64
			switch {
			case hi[2] <= z && toHi[2] <= z || lo[2] >= z && toLo[2] >= z:
				continue
			case hi[2] < z && toLo[2] > z:
				t0, t1 = (z-hi[2])/(toHi[2]-hi[2]), (z-lo[2])/(toLo[2]-lo[2])
			case lo[2] > z && toHi[2] < z:
				t0, t1 = (lo[2]-z)/(lo[2]-toLo[2]), (hi[2]-z)/(hi[2]-toHi[2])
			default:
				t0, t1 = 0, 1
			}
			x0, x1, whole := across(lo[0], hi[0], toLo[0], toHi[0], t0, t1, s.Width)
			y0, y1, also := across(lo[1], hi[1], toLo[1], toHi[1], t0, t1, s.Depth)
			switch {
			case whole && (x1 < p.X1 || x0 > p.X2) || also && (y1 < p.Y1 || y0 > p.Y2):
			case whole && also && t1-t0 < 1 && x0 >= p.X1 && x1 <= p.X2 && y0 >= p.Y1 && y1 <= p.Y2:
				return hidden
			default:
				out = partly
			}
		}
	}
	return out
}

// across spans where lines between two spans are after shares t0 to t1 of their
// way, folded into the box; whole is false if that takes more than one copy.
func across(lo, hi, toLo, toHi, t0, t1, size float64) (from, to float64, whole bool) {
	from = min(lo+t0*(toLo-lo), lo+t1*(toLo-lo))
	to = max(hi+t0*(toHi-hi), hi+t1*(toHi-hi))
	if from >= 0 && to <= size {
		return from, to, true
	}
	n := math.Floor((from + to) / 2 / size)
	from, to = from-n*size, to-n*size
	if from < -1e-12 || to > size+1e-12 {
		return 0, 0, false
	}
	if math.Mod(n, 2) != 0 {
		from, to = size-to, size-from
	}
	return from, to, true
}

// lit is the light of a lamp at p, which may be in a copy of the box, on a surface
// along an axis, less what panels shade. An opening that is hidden in part is looked
// at in steps × steps places where its shadow is not a rectangle.
func (r *Room) lit(s *source, p [3]float64, axis int, sign float64, steps int) float64 {
	at := Point{p[0], p[1], p[2]}
	if len(r.panels) == 0 || math.IsNaN(p[0]) || math.IsNaN(p[1]) || math.IsNaN(p[2]) {
		return s.on(at, axis, sign)
	}
	lo, hi := s.bounds()
	switch r.shadeOf(p, p, lo, hi) {
	case free:
		return s.on(at, axis, sign)
	case hidden:
		return 0
	}
	if s.point || s.skew != nil && s.skew.radius == 0 {
		if !r.visible(p, [3]float64{s.x, s.y, s.z}) {
			return 0
		}
		return s.on(at, axis, sign)
	}
	whole := s.on(at, axis, sign)
	if whole == 0 {
		return 0
	}
	if s.skew == nil && !s.disc && s.sin == 0 {
		return r.litByRectangle(s, p, axis, sign, whole)
	}
	// The share that is seen, by the light of single places of the opening.
	k := s.skew
	if k == nil {
		k = s.plain
	}
	n := max(steps, 2)
	all, seen := 0.0, 0.0
	for i := range n {
		for j := range n {
			q := k.at((float64(i)+0.5)/float64(n), (float64(j)+0.5)/float64(n))
			e := k.from(q, at, axis, sign)
			all += e
			if e > 0 && r.visible(p, q) {
				seen += e
			}
		}
	}
	if all == 0 {
		return 0
	}
	return whole * seen / all
}

// shadeSteps is the number of places along each way of an opening that is seen in
// part: the share seen is good to about a quarter of a step, 2 %.
const shadeSteps = 12

// bounds is the box around the opening.
func (s *source) bounds() (lo, hi [3]float64) {
	c := [3]float64{s.x, s.y, s.z}
	for a := range 3 {
		lo[a], hi[a] = c[a]-s.box[a], c[a]+s.box[a]
	}
	return lo, hi
}

// litByRectangle is [Room.lit] for a level rectangle along the axes. What a level
// panel hides of a level plane is again a rectangle: the panel enlarged from p. The
// opening less these is a handful of rectangles, each integrated as a lamp of its
// own, so that the edge of the shadow is exact.
func (r *Room) litByRectangle(s *source, p [3]float64, axis int, sign, whole float64) float64 {
	free := []span{{s.x - s.a, s.x + s.a, s.y - s.b, s.y + s.b}}
	cut := false
	w, d, h := r.space.Width, r.space.Depth, r.space.Height
	for i := range r.panels {
		panel := &r.panels[i]
		for nz := int(math.Floor(p[2] / h)); nz <= 0; nz++ {
			z := float64(nz)*h + panel.Z
			if nz%2 != 0 {
				z = float64(nz+1)*h - panel.Z
			}
			if !(z > p[2] && z < s.z) {
				continue
			}
			grow := (s.z - p[2]) / (z - p[2])
			for nx := min(0, int(math.Floor(p[0]/w))); nx <= max(0, int(math.Floor(p[0]/w))); nx++ {
				x1, x2 := copied(panel.X1, panel.X2, nx, w)
				for ny := min(0, int(math.Floor(p[1]/d))); ny <= max(0, int(math.Floor(p[1]/d))); ny++ {
					y1, y2 := copied(panel.Y1, panel.Y2, ny, d)
					shadow := span{p[0] + (x1-p[0])*grow, p[0] + (x2-p[0])*grow, p[1] + (y1-p[1])*grow, p[1] + (y2-p[1])*grow}
					var hit bool
					free, hit = without(free, shadow)
					cut = cut || hit
				}
			}
		}
	}
	if !cut {
		return whole
	}
	sum := 0.0
	for _, f := range free {
		part := *s
		part.x, part.y = (f.x1+f.x2)/2, (f.y1+f.y2)/2
		part.a, part.b = (f.x2-f.x1)/2, (f.y2-f.y1)/2
		share := 1.0
		if s.a > 0 {
			share *= part.a / s.a
		}
		if s.b > 0 {
			share *= part.b / s.b
		}
		part.peak *= share
		sum += part.on(Point{p[0], p[1], p[2]}, axis, sign)
	}
	return sum
}

// copied is the span x1 to x2 in copy n of a box of the size given.
func copied(x1, x2 float64, n int, size float64) (float64, float64) {
	if n%2 == 0 {
		return x1 + float64(n)*size, x2 + float64(n)*size
	}
	return float64(n+1)*size - x2, float64(n+1)*size - x1
}

// A span is a level rectangle.
type span struct{ x1, x2, y1, y2 float64 }

// without takes a rectangle away from others; hit says whether anything went.
func without(from []span, s span) (out []span, hit bool) {
	for _, f := range from {
		x1, x2 := max(f.x1, s.x1), min(f.x2, s.x2)
		y1, y2 := max(f.y1, s.y1), min(f.y2, s.y2)
		if x1 > x2 || y1 > y2 || x1 == x2 && f.x1 < f.x2 || y1 == y2 && f.y1 < f.y2 {
			out = append(out, f)
			continue
		}
		hit = true
		if f.x1 < x1 {
			out = append(out, span{f.x1, x1, f.y1, f.y2})
		}
		if x2 < f.x2 {
			out = append(out, span{x2, f.x2, f.y1, f.y2})
		}
		if f.y1 < y1 {
			out = append(out, span{x1, x2, f.y1, y1})
		}
		if y2 < f.y2 {
			out = append(out, span{x1, x2, y2, f.y2})
		}
	}
	return out, hit
}
