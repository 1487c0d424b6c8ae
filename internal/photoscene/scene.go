package photoscene

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"

	"underlamp/science/plantlabel"
	"underlamp/science/srgb"
)

// A Camera looks at a point of the table.
type Camera struct {
	Width, Height int     // pixels
	Focal         float64 // pixels
	X, Y          float64 // what it looks at, mm
	Distance      float64 // from there, mm
	Tilt, Azimuth float64 // angle from the vertical, and towards where it leans, radians
	Roll          float64 // radians
	K1            float64 // radial distortion: r·(1+K1·r²), r as a share of half the diagonal
}

// A Label lies flat, its centre at X, Y, Z.
type Label struct {
	Layout  plantlabel.Layout
	Content plantlabel.Content
	X, Y, Z float64
	Turn    float64 // radians, against the clock
	Scale   float64 // of the printer; 0: 1
	Mono    bool    // printed without colour
	Gloss   [3]float64
}

// A Leaf is a flat ellipse at a height.
type Leaf struct {
	X, Y, Z float64
	A, B    float64 // half axes, mm
	Turn    float64
	Colour  [3]float64 // linear
}

// A Shadow darkens the light over an ellipse of the table and all above it.
type Shadow struct {
	X, Y, A, B float64
	Factor     float64
}

// A Scene is what is photographed, and how.
type Scene struct {
	Camera  Camera
	Labels  []Label
	Leaves  []Leaf // later ones lie over earlier ones
	Shadows []Shadow
	Ground  [3]float64
	Grain   float64 // relative spread of the ground from place to place

	Blur     float64      // standard deviation, pixels
	Noise    float64      // standard deviation at white, in values of 0 to 255
	Vignette float64      // share of light that is lost in the corners
	Light    *srgb.Matrix // what the camera sees of linear colours; nil: all as it is
	Exposure float64      // of white paper, linear; 0: 0.8
	Samples  int          // per side of a pixel; 0: 2
	Seed     uint64
}

type vec [3]float64

func dot(a, b vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func cross(a, b vec) vec {
	return vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// frame is the eye and the directions right, down and forward of the camera.
func (c Camera) frame() (eye, right, down, forward vec) {
	s, k := math.Sincos(c.Tilt)
	sa, ca := math.Sincos(c.Azimuth)
	forward = vec{-s * ca, -s * sa, -k}
	eye = vec{c.X + c.Distance*s*ca, c.Y + c.Distance*s*sa, c.Distance * k}
	// Up in the picture is the world's y as far as it can be, so that nothing turns over at tilt 0.
	up := vec{0, 1, 0}
	d := dot(up, forward)
	for i := range up {
		up[i] -= d * forward[i]
	}
	n := math.Sqrt(dot(up, up))
	for i := range up {
		up[i] /= n
	}
	right = cross(forward, up)
	sr, cr := math.Sincos(c.Roll)
	r, u := right, up
	for i := range right {
		right[i] = cr*r[i] + sr*u[i]
		down[i] = -(cr*u[i] - sr*r[i])
	}
	return eye, right, down, forward
}

// Project is where a point of the world is seen, pixels.
func (c Camera) Project(x, y, z float64) (u, v float64) {
	eye, right, down, forward := c.frame()
	p := vec{x - eye[0], y - eye[1], z - eye[2]}
	w := dot(p, forward)
	u, v = dot(p, right)/w, dot(p, down)/w
	half := math.Hypot(float64(c.Width), float64(c.Height)) / 2 / c.Focal
	k := 1 + c.K1*(u*u+v*v)/(half*half)
	return c.Focal*u*k + float64(c.Width)/2, c.Focal*v*k + float64(c.Height)/2
}

// TiltTo is the angle between the vertical and the line from a point to the camera.
func (c Camera) TiltTo(x, y, z float64) float64 {
	eye, _, _, _ := c.frame()
	return math.Atan2(math.Hypot(eye[0]-x, eye[1]-y), eye[2]-z)
}

// At is where a point of the label lies in the world.
func (l Label) At(p plantlabel.Point) (x, y, z float64) {
	k := l.Scale
	if k == 0 {
		k = 1
	}
	s, c := math.Sincos(l.Turn)
	dx, dy := (p.X-l.Layout.Width/2)*k, -(p.Y-l.Layout.Height/2)*k
	return l.X + c*dx - s*dy, l.Y + s*dx + c*dy, l.Z
}

// on is the place on the label of a place of the world.
func (l *textured) on(x, y float64) plantlabel.Point {
	k := l.Scale
	if k == 0 {
		k = 1
	}
	s, c := l.sin, l.cos
	dx, dy := x-l.X, y-l.Y
	return plantlabel.Point{X: (c*dx+s*dy)/k + l.Layout.Width/2, Y: -(c*dy-s*dx)/k + l.Layout.Height/2}
}

// Covers says that a leaf covers a place of its own height.
func (f Leaf) Covers(x, y float64) bool {
	dx, dy := x-f.X, y-f.Y
	if dx*dx+dy*dy > max(f.A*f.A, f.B*f.B) {
		return false
	}
	s, c := math.Sincos(f.Turn)
	a, b := (c*dx+s*dy)/f.A, (c*dy-s*dx)/f.B
	return a*a+b*b <= 1
}

// Area is what leaves cover together as seen from straight above at infinity, mm², on
// places of a tenth of a millimetre.
func Area(leaves []Leaf) float64 {
	const step = 0.1
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, f := range leaves {
		m := max(f.A, f.B)
		x0, y0, x1, y1 = min(x0, f.X-m), min(y0, f.Y-m), max(x1, f.X+m), max(y1, f.Y+m)
	}
	n := 0
	for y := y0 + step/2; y < y1; y += step {
		for x := x0 + step/2; x < x1; x += step {
			for _, f := range leaves {
				if f.Covers(x, y) {
					n++
					break
				}
			}
		}
	}
	return float64(n) * step * step
}

// Width is the greatest distance between two points of leaves, mm (to about 0.1 %).
func Width(leaves []Leaf) float64 {
	best := 0.0
	for i := range 720 {
		s, c := math.Sincos(float64(i) * math.Pi / 720)
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, f := range leaves {
			ft, gt := math.Sincos(f.Turn)
			// Support of an ellipse in direction (c, s).
			a, b := f.A*(gt*c+ft*s), f.B*(gt*s-ft*c)
			r, m := math.Hypot(a, b), f.X*c+f.Y*s
			lo, hi = min(lo, m-r), max(hi, m+r)
		}
		best = max(best, hi-lo)
	}
	return best
}

// Rosette is a plant of leaves that overlap, heart at x, y: n leaves of a length that
// varies, at heights up to z.
func Rosette(rng *rand.Rand, x, y, length, z float64, n int) []Leaf {
	var out []Leaf
	for i := range n {
		l := length * (0.7 + 0.3*rng.Float64()) * (1 - 0.5*float64(i)/float64(n))
		a := float64(i)*2.39996 + 0.2*rng.NormFloat64() // the golden angle
		s, c := math.Sincos(a)
		g := 0.85 + 0.3*rng.Float64()
		out = append(out, Leaf{
			X: x + c*l*0.5, Y: y + s*l*0.5, Z: z * float64(i+1) / float64(n),
			A: l * 0.52, B: l * (0.28 + 0.06*rng.Float64()), Turn: a,
			Colour: [3]float64{0.10 * g, 0.24 * g, 0.05 * g},
		})
	}
	return out
}

// textured is a label with its picture.
type textured struct {
	Label
	pix      []float32 // linear, 3 a place
	w, h     int
	sin, cos float64
}

// texels is how many places of the picture of a label stand for a millimetre.
const texels = 12

// textures are those that were drawn, by what is on them.
var textures sync.Map

func texture(l Label) textured {
	key := fmt.Sprint(l.Layout.Letter, l.Content, l.Mono)
	t, ok := textures.Load(key)
	if !ok {
		t, _ = textures.LoadOrStore(key, drawn(l))
	}
	out := t.(textured)
	out.Label = l
	out.sin, out.cos = math.Sincos(l.Turn)
	return out
}

func drawn(l Label) textured {
	d, err := l.Layout.Draw(l.Content)
	if err != nil {
		panic("photoscene: " + err.Error())
	}
	t := textured{Label: l, w: int(l.Layout.Width*texels) + 1, h: int(l.Layout.Height*texels) + 1}
	t.pix = make([]float32, 3*t.w*t.h)
	for i := range t.pix {
		t.pix[i] = 1
	}
	for _, p := range d.Polygons {
		c := p.Ink.Linear()
		if l.Mono {
			g := 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2]
			c = [3]float64{g, g, g}
		}
		for i := range c {
			c[i] = 0.03 + 0.97*c[i] // no ink is wholly black
		}
		t.fill(p.Points, c)
	}
	for _, w := range d.Words { // strokes in place of letters
		rng := rand.New(rand.NewPCG(uint64(len(w.Text)), 1))
		x := w.Room.X
		for range w.Text {
			if x+w.Size*0.4 > w.Room.X+w.Room.Width {
				break
			}
			y := w.Room.Y + w.Room.Height/2
			k := w.Size * 0.07
			t.fill(box(x, y-w.Size*0.35, k, w.Size*0.7), [3]float64{0.03, 0.03, 0.03})
			if rng.IntN(2) == 0 {
				t.fill(box(x, y-w.Size*0.35, w.Size*0.35, k), [3]float64{0.03, 0.03, 0.03})
			}
			x += w.Size * 0.55
		}
	}
	return t
}

func box(x, y, w, h float64) []plantlabel.Point {
	return []plantlabel.Point{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}
}

// fill draws a polygon with smooth edges: 4 × 4 samples a place.
func (t *textured) fill(pts []plantlabel.Point, c [3]float64) {
	const sub = 4
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range pts {
		x0, y0, x1, y1 = min(x0, p.X), min(y0, p.Y), max(x1, p.X), max(y1, p.Y)
	}
	// Each of four lines a row is inside between its crossings.
	i0, i1 := max(0, int(x0*texels)), min(t.w-1, int(x1*texels))
	n := make([]uint8, t.w)
	for j := max(0, int(y0*texels)); j <= min(t.h-1, int(y1*texels)); j++ {
		clear(n)
		for k := range sub {
			y := (float64(j) + (float64(k)+0.5)/sub) / texels
			var at []float64
			for i, a := range pts {
				b := pts[(i+1)%len(pts)]
				if (a.Y > y) != (b.Y > y) {
					at = append(at, (a.X+(y-a.Y)/(b.Y-a.Y)*(b.X-a.X))*texels*sub)
				}
			}
			slices.Sort(at)
			for e := 0; e+1 < len(at); e += 2 {
				for q := max(0, int(math.Ceil(at[e]-0.5))); q < min(sub*t.w, int(math.Ceil(at[e+1]-0.5))); q++ {
					n[q/sub]++
				}
			}
		}
		for i := i0; i <= i1; i++ {
			if n[i] > 0 {
				a := float32(n[i]) / (sub * sub)
				for k := range 3 {
					v := &t.pix[3*(j*t.w+i)+k]
					*v += a * (float32(c[k]) - *v)
				}
			}
		}
	}
}

// at is the colour of the label at a place of it; ok is false off the label.
func (t *textured) at(p plantlabel.Point) (c [3]float64, ok bool) {
	if p.X < 0 || p.Y < 0 || p.X > t.Layout.Width || p.Y > t.Layout.Height {
		return c, false
	}
	x, y := p.X*texels-0.5, p.Y*texels-0.5
	i, j := int(max(0, x)), int(max(0, y))
	i, j = min(i, t.w-2), min(j, t.h-2)
	a, b := min(1, max(0, x-float64(i))), min(1, max(0, y-float64(j)))
	o := 3 * (j*t.w + i)
	for k := range c {
		v := (1-b)*((1-a)*float64(t.pix[o+k])+a*float64(t.pix[o+3+k])) + b*((1-a)*float64(t.pix[o+3*t.w+k])+a*float64(t.pix[o+3*t.w+3+k]))
		c[k] = v + t.Gloss[k]
	}
	return c, true
}

// Render takes the photo.
func (s Scene) Render() *image.RGBA {
	w, h := s.Camera.Width, s.Camera.Height
	samples := s.Samples
	if samples == 0 {
		samples = 2
	}
	exposure := s.Exposure
	if exposure == 0 {
		exposure = 0.8
	}
	var labels []textured
	for _, l := range s.Labels {
		labels = append(labels, texture(l))
	}
	leaves := prepare(s.Leaves)
	eye, right, down, forward := s.Camera.frame()
	half := math.Hypot(float64(w), float64(h)) / 2 / s.Camera.Focal
	pix := make([]float32, 3*w*h)
	rows(h, func(y int) {
		for x := range w {
			var sum [3]float64
			ground := 1.0 // one value of the grain a pixel
			for k := range samples * samples {
				u := (float64(x) + (float64(k%samples)+0.5)/float64(samples) - float64(w)/2) / s.Camera.Focal
				v := (float64(y) + (float64(k/samples)+0.5)/float64(samples) - float64(h)/2) / s.Camera.Focal
				if s.Camera.K1 != 0 { // undo the distortion by fixed points
					ud, vd := u, v
					for range 5 {
						f := 1 + s.Camera.K1*(u*u+v*v)/(half*half)
						u, v = ud/f, vd/f
					}
				}
				var ray vec
				for i := range ray {
					ray[i] = forward[i] + u*right[i] + v*down[i]
				}
				c, bare := s.look(eye, ray, labels, leaves, k == 0, &ground)
				if bare { // no edge is near: one sample tells all
					sum = scaled(c, float64(samples*samples))
					break
				}
				for i := range sum {
					sum[i] += c[i]
				}
			}
			n := float64(samples * samples)
			dx, dy := (float64(x)+0.5-float64(w)/2)/s.Camera.Focal/half, (float64(y)+0.5-float64(h)/2)/s.Camera.Focal/half
			fall := (1 - s.Vignette*(dx*dx+dy*dy)) * exposure / n
			if s.Light != nil {
				sum = s.Light.Apply(sum)
			}
			for i := range sum {
				pix[3*(y*w+x)+i] = float32(sum[i] * fall)
			}
		}
	})
	if s.Blur > 0 {
		blur(pix, w, h, s.Blur)
	}
	var encoded [1 << 15]float64 // a step at the dark end is a tenth of a byte
	for i := range encoded {
		encoded[i] = 255 * srgb.Encoded((float64(i)+0.5)/float64(len(encoded)-1))
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	rows(h, func(y int) {
		rng := rand.New(rand.NewPCG(s.Seed, uint64(y)))
		for x := range w {
			o := y*w + x
			for i := range 3 {
				e := encoded[int(min(1, max(0, pix[3*o+i]))*float32(len(encoded)-1))]
				if s.Noise > 0 {
					e += s.Noise * rng.NormFloat64()
				}
				out.Pix[4*o+i] = uint8(min(255, max(0, e+0.5)))
			}
			out.Pix[4*o+3] = 255
		}
	})
	return out
}

// crown is the leaves, with what makes asking them quick.
type crown struct {
	leaves       []Leaf
	turn         [][2]float64
	low, high    float64
	x, y, radius float64 // of a cylinder around all
}

func prepare(leaves []Leaf) crown {
	c := crown{leaves: leaves, low: math.Inf(1), high: math.Inf(-1)}
	for _, f := range leaves {
		s, k := math.Sincos(f.Turn)
		c.turn = append(c.turn, [2]float64{s, k})
		c.low, c.high = min(c.low, f.Z), max(c.high, f.Z)
		c.x += f.X / float64(len(leaves))
		c.y += f.Y / float64(len(leaves))
	}
	for _, f := range leaves {
		c.radius = max(c.radius, math.Hypot(f.X-c.x, f.Y-c.y)+max(f.A, f.B))
	}
	return c
}

// near says that a ray could meet a leaf: at neither height is it farther off than the
// cylinder and its own way between the heights.
func (c *crown) near(lx, ly, hx, hy float64) bool {
	return len(c.leaves) > 0 && sqr((lx+hx)/2-c.x)+sqr((ly+hy)/2-c.y) <= sqr(c.radius+2+(math.Abs(lx-hx)+math.Abs(ly-hy))/2)
}

// look is the colour that a ray meets; bare says that nothing but ground is near.
func (s *Scene) look(eye, ray vec, labels []textured, leaves crown, fresh bool, ground *float64) (c [3]float64, bare bool) {
	at := func(z float64) (x, y float64) {
		t := (z - eye[2]) / ray[2]
		return eye[0] + t*ray[0], eye[1] + t*ray[1]
	}
	if ray[2] >= -1e-6 {
		return s.Ground, true
	}
	bare = true
	light := 1.0
	gx, gy := at(0)
	for _, d := range s.Shadows {
		a, b := (gx-d.X)/d.A, (gy-d.Y)/d.B
		r := math.Sqrt(a*a + b*b)
		light *= d.Factor + (1-d.Factor)*min(1, max(0, (r-0.85)/0.3))
	}
	lx, ly := at(leaves.low)
	hx, hy := at(leaves.high)
	if leaves.near(lx, ly, hx, hy) {
		bare = false
		for i := len(leaves.leaves) - 1; i >= 0; i-- {
			f, t := &leaves.leaves[i], &leaves.turn[i]
			x, y := at(f.Z)
			dx, dy := x-f.X, y-f.Y
			a, b := (t[1]*dx+t[0]*dy)/f.A, (t[1]*dy-t[0]*dx)/f.B
			if a*a+b*b <= 1 {
				return scaled(f.Colour, light), false
			}
		}
	}
	for i := range labels {
		l := &labels[i]
		x, y := at(l.Z)
		if d := math.Abs(x-l.X) + math.Abs(y-l.Y); d > 1.5*(l.Layout.Width+l.Layout.Height) {
			continue
		}
		bare = false
		if c, ok := l.at(l.on(x, y)); ok {
			return scaled(c, light), false
		}
	}
	if s.Grain > 0 && fresh {
		*ground = 1 + s.Grain*(grain(gx/7, gy/7)+0.5*grain(gx/2.3, gy/2.3))
	}
	return scaled(s.Ground, light**ground), bare
}

func scaled(c [3]float64, k float64) [3]float64 { return [3]float64{c[0] * k, c[1] * k, c[2] * k} }

// grain is smooth noise of −1 to 1 over the plane.
func grain(x, y float64) float64 {
	i, j := math.Floor(x), math.Floor(y)
	at := func(a, b float64) float64 {
		n := uint64(int64(a))*0x9E3779B97F4A7C15 ^ uint64(int64(b))*0xC2B2AE3D27D4EB4F
		n ^= n >> 31
		n *= 0xBF58476D1CE4E5B9
		n ^= n >> 29
		return float64(n>>11)/(1<<52) - 1
	}
	a, b := x-i, y-j
	a, b = a*a*(3-2*a), b*b*(3-2*b)
	return (1-b)*((1-a)*at(i, j)+a*at(i+1, j)) + b*((1-a)*at(i, j+1)+a*at(i+1, j+1))
}

// blur is a Gaussian one, row by row and then column by column.
func blur(pix []float32, w, h int, sd float64) {
	r := int(math.Ceil(3.5 * sd))
	k := make([]float32, 2*r+1)
	sum := 0.0
	for i := range k {
		sum += math.Exp(-0.5 * math.Pow(float64(i-r)/sd, 2))
	}
	for i := range k {
		k[i] = float32(math.Exp(-0.5*math.Pow(float64(i-r)/sd, 2)) / sum)
	}
	tmp := make([]float32, len(pix))
	rows(h, func(y int) {
		for x := range w {
			for c := range 3 {
				v := float32(0)
				for i, f := range k {
					v += f * pix[3*(y*w+min(w-1, max(0, x+i-r)))+c]
				}
				tmp[3*(y*w+x)+c] = v
			}
		}
	})
	rows(h, func(y int) {
		for x := range w {
			for c := range 3 {
				v := float32(0)
				for i, f := range k {
					v += f * tmp[3*(min(h-1, max(0, y+i-r))*w+x)+c]
				}
				pix[3*(y*w+x)+c] = v
			}
		}
	})
}

// rows calls f for each row, on all processors.
func rows(h int, f func(y int)) {
	n := runtime.GOMAXPROCS(0)
	var wait sync.WaitGroup
	for i := range n {
		wait.Go(func() {
			for y := i; y < h; y += n {
				f(y)
			}
		})
	}
	wait.Wait()
}

func sqr(v float64) float64 { return v * v }
