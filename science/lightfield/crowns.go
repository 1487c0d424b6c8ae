package lightfield

import "math"

// A Crown is the crown of a plant as what stands in the way of light: an upright
// cylinder from the planting surface to its height, through which nothing passes and
// which sends nothing back. Lengths in m.
type Crown struct {
	X, Y, Radius, Height float64
}

// An opening is looked at from behind crowns in places along each way, so many that
// they lie at most crownStep of the height of the lamp over the point apart. The
// share seen is good to about a quarter of a step.
const (
	fewCrownSteps  = 24
	mostCrownSteps = 64
	crownStep      = 0.1
)

func crownSteps(length, rise float64) int {
	return int(clamp(math.Ceil(length/(crownStep*rise)), fewCrownSteps, mostCrownSteps))
}

// Left is the share of the light of [Field.PPFD] at each point that crowns leave,
// 0 to 1. A crown that does not reach above a point takes nothing from it, so the
// crown of the plant at whose top a point lies may be among them. It is an upper
// bound of what neighbours take: leaves let through and send back about a tenth of
// what they get, and light that comes by way of mirrors or from the scattering sides
// is followed on its last stretch only, from the side to the point; that from copies
// in mirrors counts as shaded like that of the sides. A point without light gets 1.
func (f *Field) Left(dimming []float64, pts []Point, crowns []Crown) []float64 {
	r := f.room
	out := make([]float64, len(pts))
	samples := make([]*skew, len(f.lamps))
	for k, l := range f.lamps {
		samples[k] = newSkew(l, r.opt.MaxError)
	}
	b := f.columns(dimming).b
	inParallel(len(pts), 4, func(from, to int) {
		factors, scratch := make([]float64, len(r.patches)), []float64(nil)
		near := make([]Crown, 0, len(crowns))
		for i := from; i < to; i++ {
			p := pts[i]
			near = near[:0]
			for _, c := range crowns {
				if c.Height > p.Z+1e-9 {
					near = append(near, c)
				}
			}
			out[i] = 1
			if len(near) == 0 {
				continue
			}
			all, left := 0.0, 0.0
			for k, s := range samples {
				if dimming[k] == 0 {
					continue
				}
				e := dimming[k] * r.lit(&f.sources[k], [3]float64{p.X, p.Y, p.Z}, 2, 1, shadeSteps)
				all += e
				left += e * s.seenPast(p, near)
			}
			if b != nil {
				r.gather(factors, p, &scratch)
				e, seen := 0.0, 0.0
				for j, g := range factors {
					if g == 0 {
						continue
					}
					e += g * b.At(j, 0)
					if pastCrowns(p, r.rects[j].centre, near) {
						seen += g * b.At(j, 0)
					}
				}
				rest := f.PPFD(nil, dimming, pts[i:i+1])[0] - all // with what comes by mirrors
				all += rest
				if e > 0 {
					left += rest * seen / e
				}
			}
			if all > 0 {
				out[i] = min(left/all, 1)
			}
		}
	})
	return out
}

// seenPast is the share of the light of an opening at p that crowns let by.
func (k *skew) seenPast(p Point, crowns []Crown) float64 {
	n, m, rise := 1, 1, k.centre[2]-p.Z
	switch {
	case k.radius == 0:
	case k.shape == Rectangle:
		n, m = crownSteps(2*k.a, rise), crownSteps(2*k.b, rise)
	default:
		n, m = crownSteps(k.a-k.b, rise), crownSteps(2*math.Pi*k.a, rise)
	}
	all, seen := 0.0, 0.0
	for i := range n {
		for j := range m {
			q := k.at((float64(i)+0.5)/float64(n), (float64(j)+0.5)/float64(m))
			e := k.from(q, p, 2, 1)
			all += e
			if e > 0 && pastCrowns(p, q, crowns) {
				seen += e
			}
		}
	}
	if all == 0 {
		return 1
	}
	return seen / all
}

// pastCrowns says whether the straight way up from p to q misses all crowns.
func pastCrowns(p Point, q [3]float64, crowns []Crown) bool {
	rise := q[2] - p.Z
	if rise <= 0 {
		return true // below the plane of the point: it gives it no light
	}
	dx, dy := q[0]-p.X, q[1]-p.Y
	for _, c := range crowns {
		// The part of the way below the top of the crown.
		t := min((c.Height-p.Z)/rise, 1)
		ux, uy := t*dx, t*dy
		vx, vy := c.X-p.X, c.Y-p.Y
		along := 0.0
		if d2 := ux*ux + uy*uy; d2 > 0 {
			along = clamp((ux*vx+uy*vy)/d2, 0, 1)
		}
		if math.Hypot(vx-along*ux, vy-along*uy) < c.Radius {
			return false
		}
	}
	return true
}
