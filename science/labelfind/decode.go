package labelfind

import (
	"math"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"

	"underlamp/science/pinhole"
	"underlamp/science/plantlabel"
)

// modules is a QR code as it was read, row by row; true is dark.
type modules [plantlabel.Modules][plantlabel.Modules]bool

// sample reads the modules at the places where a homography from modules to pixels puts
// their centres. Dark is what is below the middle of dark and light nearby; contrast is how
// far these are apart, 0 to 255.
func (g *grey) sample(h *pinhole.Homography) (out modules, contrast float64, ok bool) {
	const n = plantlabel.Modules
	var v [n][n]float64
	for y := range n {
		for x := range n {
			p := h.Apply(pinhole.Point{X: float64(x) + 0.5, Y: float64(y) + 0.5})
			if !g.holds(p.X, p.Y, 1) {
				return out, 0, false
			}
			// The mean of five places in the module, against noise.
			a := h.Apply(pinhole.Point{X: float64(x) + 0.25, Y: float64(y) + 0.25})
			b := h.Apply(pinhole.Point{X: float64(x) + 0.75, Y: float64(y) + 0.75})
			c := h.Apply(pinhole.Point{X: float64(x) + 0.25, Y: float64(y) + 0.75})
			d := h.Apply(pinhole.Point{X: float64(x) + 0.75, Y: float64(y) + 0.25})
			v[y][x] = (2*g.at(p.X, p.Y) + g.at(a.X, a.Y) + g.at(b.X, b.Y) + g.at(c.X, c.Y) + g.at(d.X, d.Y)) / 6
		}
	}
	// The least and the greatest of the modules within four of each: a shadow may lie across.
	lo0, hi0 := math.Inf(1), math.Inf(-1)
	for y := range n {
		for x := range n {
			lo0, hi0 = min(lo0, v[y][x]), max(hi0, v[y][x])
		}
	}
	for y := range n {
		for x := range n {
			lo, hi := math.Inf(1), math.Inf(-1)
			for j := max(0, y-4); j <= min(n-1, y+4); j++ {
				for i := max(0, x-4); i <= min(n-1, x+4); i++ {
					lo, hi = min(lo, v[j][i]), max(hi, v[j][i])
				}
			}
			if hi-lo < (hi0-lo0)/4 {
				lo, hi = lo0, hi0
			}
			out[y][x] = v[y][x] < (lo+hi)/2
		}
	}
	return out, hi0 - lo0, true
}

// fixed says what share of the modules that are the same in every code of version 1 (the
// three eyes with their margins, and the timing) are as they must be.
func (m *modules) fixed() float64 {
	good, all := 0, 0
	look := func(x, y int, want bool) {
		all++
		if m[y][x] == want {
			good++
		}
	}
	const n = plantlabel.Modules
	for _, o := range [][2]int{{0, 0}, {n - 7, 0}, {0, n - 7}} {
		for j := range 7 {
			for i := range 7 {
				d := max(max(3-i, i-3), max(3-j, j-3))
				look(o[0]+i, o[1]+j, d != 2)
			}
		}
	}
	for i := 8; i < n-8; i++ {
		look(i, 6, i%2 == 0)
		look(6, i, i%2 == 0)
	}
	return float64(good) / float64(all)
}

// read decodes the modules. unread says that they could not be corrected; a code that reads
// but is no label's gives foreign.
func (m *modules) read() (l plantlabel.Layout, c plantlabel.Code, state reading) {
	bits, err := gozxing.NewSquareBitMatrix(plantlabel.Modules)
	if err != nil {
		return l, c, unread
	}
	for y := range m {
		for x := range m[y] {
			if m[y][x] {
				bits.Set(x, y)
			}
		}
	}
	r, err := decoder.NewDecoder().DecodeWithoutHint(bits)
	if err != nil {
		return l, c, unread
	}
	l, c, err = plantlabel.ParsePayload(r.GetText())
	if err != nil {
		return l, c, foreign
	}
	return l, c, decoded
}

type reading int

const (
	unread reading = iota
	foreign
	decoded
)

// agrees says what share of the modules are those of a code.
func (m *modules) agrees(l plantlabel.Layout, c plantlabel.Code) float64 {
	want, err := l.Modules(c)
	if err != nil {
		return 0
	}
	n := 0
	for y := range m {
		for x := range m[y] {
			if m[y][x] == want[y][x] {
				n++
			}
		}
	}
	return float64(n) / (plantlabel.Modules * plantlabel.Modules)
}

// attempts tries a triple of eyes: as a parallelogram, then with the fourth corner moved by
// up to a module and a half, as a near camera that leans would see it.
func (g *grey) attempts(t corner) (h pinhole.Homography, l plantlabel.Layout, c plantlabel.Code, state reading, looksLike float64) {
	bx, by := t.topRight.x+t.bottomLeft.x-t.topLeft.x, t.topRight.y+t.bottomLeft.y-t.topLeft.y
	const e, f = 3.5, plantlabel.Modules - 3.5
	ux, uy := (t.topRight.x-t.topLeft.x)/14, (t.topRight.y-t.topLeft.y)/14
	vx, vy := (t.bottomLeft.x-t.topLeft.x)/14, (t.bottomLeft.y-t.topLeft.y)/14
	from := []pinhole.Point{{X: e, Y: e}, {X: f, Y: e}, {X: f, Y: f}, {X: e, Y: f}}
	for _, s := range spiral {
		to := []pinhole.Point{{X: t.topLeft.x, Y: t.topLeft.y}, {X: t.topRight.x, Y: t.topRight.y},
			{X: bx + s[0]*ux + s[1]*vx, Y: by + s[0]*uy + s[1]*vy}, {X: t.bottomLeft.x, Y: t.bottomLeft.y}}
		k, err := pinhole.Estimate(from, to)
		if err != nil {
			return h, l, c, unread, 0
		}
		m, contrast, ok := g.sample(&k)
		if !ok || contrast < 12 {
			return h, l, c, unread, looksLike
		}
		like := m.fixed()
		looksLike = max(looksLike, like)
		if like < 0.8 {
			return h, l, c, unread, looksLike
		}
		if l, c, state := m.read(); state == foreign || state == decoded && m.agrees(l, c) > 0.9 {
			return k, l, c, state, looksLike
		}
	}
	return h, l, c, unread, looksLike
}

// spiral are shifts of the fourth corner in modules, from the centre outwards.
var spiral = func() (out [][2]float64) {
	for _, r := range []float64{0, 0.5, 1, 1.5} {
		for a := -r; a <= r; a += 0.5 {
			for b := -r; b <= r; b += 0.5 {
				if max(math.Abs(a), math.Abs(b)) == r {
					out = append(out, [2]float64{a, b})
				}
			}
		}
	}
	return out
}()
