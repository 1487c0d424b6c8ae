package labelfind

import (
	"math"

	"underlamp/science/pinhole"
	"underlamp/science/plantlabel"
	"underlamp/science/srgb"
)

// likeness compares a place of the photo with a mark: the correlation of what is seen at 48
// places around it with black and white quarters (−1 to 1), and how much lighter the white
// ones are, 0 to 255. j takes mm on the label to pixels.
func (g *grey) likeness(c pinhole.Point, j *[2][2]float64, radius float64) (r, contrast float64) {
	var sum, sum2, diff float64
	const n = 48
	for i, k := range spokes {
		x, y := radius*k[0], radius*k[1]
		v := g.at(c.X+j[0][0]*x+j[0][1]*y, c.Y+j[1][0]*x+j[1][1]*y)
		sum += v
		sum2 += v * v
		if i%16 < 4 || i%16 >= 8 && i%16 < 12 { // the quarters with x·y > 0 are white
			diff += v
		} else {
			diff -= v
		}
	}
	sd := math.Sqrt(max(0, sum2/n-(sum/n)*(sum/n)))
	if sd < 1 {
		return 0, 0
	}
	return diff / n / sd, 2 * diff / n
}

// spokes are places within a mark of radius 1, sixteen on each of three rings, none within
// 11° of an edge.
var spokes = func() (out [48][2]float64) {
	for i := range out {
		s, c := math.Sincos((float64(i%16) + 0.5) * math.Pi / 8)
		r := []float64{0.4, 0.62, 0.82}[i/16]
		out[i] = [2]float64{r * c, r * s}
	}
	return out
}()

// A mark is where one was found.
type mark struct {
	at       pinhole.Point
	like     float64
	contrast float64
}

// findMark looks for a mark around where it is expected, as far as reach mm.
func (g *grey) findMark(h *pinhole.Homography, m plantlabel.Point, radius, reach float64) (mark, bool) {
	p := pinhole.Point{X: m.X, Y: m.Y}
	j := h.Jacobian(p)
	c := h.Apply(p)
	scale := math.Sqrt(math.Abs(j[0][0]*j[1][1] - j[0][1]*j[1][0])) // pixels a mm
	if !(scale > 0) || !g.holds(c.X, c.Y, 0) {
		return mark{}, false
	}
	step := max(1, radius*scale/6)
	n := int(math.Ceil(reach * scale / step))
	best := mark{like: -1}
	for b := -n; b <= n; b++ {
		for a := -n; a <= n; a++ {
			q := pinhole.Point{X: c.X + float64(a)*step, Y: c.Y + float64(b)*step}
			if r, k := g.likeness(q, &j, radius); r > best.like && g.holds(q.X, q.Y, 1) {
				best = mark{q, r, k}
			}
		}
	}
	for s := step / 2; s > 0.4; s /= 2 {
		for moved := true; moved; {
			moved = false
			for _, d := range [][2]float64{{s, 0}, {-s, 0}, {0, s}, {0, -s}} {
				q := pinhole.Point{X: best.at.X + d[0], Y: best.at.Y + d[1]}
				if r, k := g.likeness(q, &j, radius); r > best.like {
					best, moved = mark{q, r, k}, true
				}
			}
		}
	}
	if best.like < 0.6 {
		return best, false
	}
	q, ok := g.saddle(best.at, &j, radius)
	if !ok {
		return best, false
	}
	best.at = q
	best.like, best.contrast = g.likeness(q, &j, radius)
	return best, best.like >= likeMark
}

// likeMark is the correlation from which a mark is taken for whole. A quarter that is
// covered leaves 0.6 to 0.75.
const likeMark = 0.85

// saddle is the point where the edges of a mark meet: that whose lines to the places around
// it are square to the slopes of light there (least squares, weighed by the slopes), so that
// neither blur nor perspective moves it.
func (g *grey) saddle(c pinhole.Point, j *[2][2]float64, radius float64) (pinhole.Point, bool) {
	det := j[0][0]*j[1][1] - j[0][1]*j[1][0]
	scale := math.Sqrt(math.Abs(det))
	reach := 0.72 * radius
	// Half of the window's size in pixels, along each axis of the photo.
	wx, wy := reach*math.Hypot(j[0][0], j[0][1]), reach*math.Hypot(j[1][0], j[1][1])
	step := max(1, radius*scale/14)
	start := c
	for range 20 {
		var xx, xy, yy, bx, by float64
		for v := -wy; v <= wy; v += step {
			for u := -wx; u <= wx; u += step {
				mx, my := (j[1][1]*u-j[0][1]*v)/det, (j[0][0]*v-j[1][0]*u)/det // mm
				d2 := (mx*mx + my*my) / (reach * reach)
				if d2 > 1 {
					continue
				}
				x, y := c.X+u, c.Y+v
				gx := (g.at(x+step, y) - g.at(x-step, y)) + 0.5*(g.at(x+step, y+step)-g.at(x-step, y+step)+g.at(x+step, y-step)-g.at(x-step, y-step))
				gy := (g.at(x, y+step) - g.at(x, y-step)) + 0.5*(g.at(x+step, y+step)-g.at(x+step, y-step)+g.at(x-step, y+step)-g.at(x-step, y-step))
				w := 1 - d2
				gxx, gxy, gyy := w*gx*gx, w*gx*gy, w*gy*gy
				xx += gxx
				xy += gxy
				yy += gyy
				bx += gxx*u + gxy*v
				by += gxy*u + gyy*v
			}
		}
		d := xx*yy - xy*xy
		if !(d > 1e-6*(xx+yy)*(xx+yy)) {
			return c, false
		}
		du, dv := (yy*bx-xy*by)/d, (xx*by-xy*bx)/d
		c.X += du
		c.Y += dv
		if math.Hypot(c.X-start.X, c.Y-start.Y) > 0.5*radius*scale {
			return c, false
		}
		if math.Hypot(du, dv) < 0.005 {
			break
		}
	}
	return c, true
}

// linearBytes is the linear light of bytes, 0 to 1.
var linearBytes = srgb.Table()

// blurs is the blur of the four edges of a mark as the standard deviation of a Gaussian,
// pixels, across each edge: the one whose error function lies nearest to the light across it
// in least squares.
func (g *grey) blurs(c pinhole.Point, j *[2][2]float64, radius float64) (out []float64) {
	for e := range 4 {
		s, k := math.Sincos(float64(e) * math.Pi / 2)
		along, across := [2]float64{k, s}, [2]float64{-s, k}
		px := math.Hypot(j[0][0]*across[0]+j[0][1]*across[1], j[1][0]*across[0]+j[1][1]*across[1])
		// What lies square to the edge in the photo is shorter where the axes are not square.
		ex, ey := j[0][0]*along[0]+j[0][1]*along[1], j[1][0]*along[0]+j[1][1]*along[1]
		sin := math.Abs(j[0][0]*j[1][1]-j[0][1]*j[1][0]) / (px * math.Hypot(ex, ey))
		var t, v []float64
		for i := -16; i <= 16; i++ {
			d := 0.42 * radius * float64(i) / 16
			sum := 0.0
			for _, rho := range []float64{0.45, 0.5, 0.55, 0.6, 0.65} {
				x, y := radius*rho*along[0]+d*across[0], radius*rho*along[1]+d*across[1]
				q := g.at(c.X+j[0][0]*x+j[0][1]*y, c.Y+j[1][0]*x+j[1][1]*y)
				lo := int(q)
				a := q - float64(lo)
				sum += float64(linearBytes[lo])*(1-a) + float64(linearBytes[min(255, lo+1)])*a
			}
			t, v = append(t, d*px*sin), append(v, sum/5)
		}
		best, at := math.Inf(1), 0.0
		for sd := 0.25; sd < 0.5*radius*px; sd *= 1.06 {
			var n, a, aa, b, ab, bb float64
			for i := range t {
				w := math.Erf(t[i] / (sd * math.Sqrt2))
				n++
				a += w
				aa += w * w
				b += v[i]
				ab += w * v[i]
				bb += v[i] * v[i]
			}
			d := n*aa - a*a
			slope, level := (n*ab-a*b)/d, (aa*b-a*ab)/d
			if r := bb - slope*ab - level*b; r < best {
				best, at = r, sd
			}
		}
		out = append(out, at)
	}
	return out
}
