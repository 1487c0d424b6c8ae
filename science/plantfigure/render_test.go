package plantfigure

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

// A scene is a rosette rendered with what is true of it. Leaves are drawn over one another at
// `over` × `over` points a pixel; the truth is counted there. Colours are those of
// published sRGB swatches by eye, nothing measured: the scenes test geometry and the
// reasoning about colour, not the colours of real plants.
type scene struct {
	w, h   int
	mm     float64
	leaves int
	length float64 // mm of the longest leaf
	width  float64 // over length
	ruffle float64 // of the margin, over length
	lobes  float64
	colour [3]uint8 // sRGB of old leaves
	heart  [3]uint8
	red    float64 // share of a leaf from its tip that is red
	ground string
	burnt  int // spots on the margins of inner leaves
	yellow int // lowest leaves that are yellow
	shine  int
	shadow float64
	algae  bool
	grade  float64 // light falls across the picture by this share
	cast   [3]float64
	noise  float64
	blur   float64 // px
	jpeg   int
	at     Point // mm from the middle
	seed   uint64
	second bool // another rosette beside it
	gap    float64
}

// The photo has photo × photo pixels for each of the picture on the plane, and is drawn at
// over × over points for each of the plane's.
const (
	photo = 2
	over  = 2 * photo
)

type rendered struct {
	*Picture
	share       []float32 // truth of every pixel
	area        float64   // cm²
	feret       float64   // mm
	burnt       []Point   // pixels, centres of burnt spots that are seen
	burntMM     []float64 // mm² of each that is seen
	burntAll    float64   // share of leaf area
	yellow, red float64
	seed        Point
	other       Point
}

// Tables of the curve of sRGB (IEC61966), for a million pixels a scene.
var linear = func() (out [256]float64) {
	for i := range out {
		if x := float64(i) / 255; x <= 0.04045 {
			out[i] = x / 12.92
		} else {
			out[i] = math.Pow((x+0.055)/1.055, 2.4)
		}
	}
	return out
}()

var onScreen = func() (out [16385]uint8) {
	for i := range out {
		out[i] = uint8(255*encoded(float64(i)/16384) + 0.5)
	}
	return out
}()

func lin(c [3]uint8) [3]float64 { return [3]float64{linear[c[0]], linear[c[1]], linear[c[2]]} }

func shown(v float64) uint8 { return onScreen[int(16384*math.Min(1, math.Max(0, v))+0.5)] }

var grounds = map[string][][3]uint8{
	"white tray": {{236, 237, 234}, {228, 230, 229}},
	"black tray": {{32, 32, 34}, {44, 44, 45}},
	"grey bench": {{128, 128, 126}, {140, 140, 140}},
	"coir":       {{92, 66, 44}, {60, 42, 28}},
	"peat":       {{52, 42, 36}, {34, 28, 25}},
	"rock wool":  {{186, 178, 152}, {170, 160, 132}},
	"wood":       {{176, 138, 96}, {160, 122, 82}},
}

// noiseField is smooth noise of mean 0 and about unit spread.
func noiseField(rng *rand.Rand, w, h, step int) func(x, y float64) float64 {
	gw, gh := w/step+3, h/step+3
	v := make([]float64, gw*gh)
	for i := range v {
		v[i] = rng.NormFloat64() * 1.5
	}
	return func(x, y float64) float64 {
		x, y = x/float64(step), y/float64(step)
		i, j := int(x), int(y)
		fx, fy := x-float64(i), y-float64(j)
		fx, fy = fx*fx*(3-2*fx), fy*fy*(3-2*fy)
		a := v[j*gw+i]*(1-fx) + v[j*gw+i+1]*fx
		b := v[(j+1)*gw+i]*(1-fx) + v[(j+1)*gw+i+1]*fx
		return a*(1-fy) + b*fy
	}
}

func (s scene) render() *rendered {
	if s.w == 0 {
		s.w, s.h = 300, 300
	}
	if s.mm == 0 {
		s.mm = 0.66
	}
	if s.width == 0 {
		s.width = 0.55
	}
	if s.cast == [3]float64{} {
		s.cast = [3]float64{1, 1, 1}
	}
	rng := rand.New(rand.NewPCG(s.seed, 77))
	W, H := s.w*over, s.h*over
	per := s.mm / over // mm of a point
	n := W * H
	owner := make([]int16, n)    // leaf on top, 0 ground
	along := make([]float32, n)  // along the leaf 0..1
	across := make([]float32, n) // -1..1
	dark := make([]float32, n)
	for i := range dark {
		dark[i] = 1
	}
	type leafKind struct {
		colour, tip [3]float64
		shade       float64
	}
	kinds := []leafKind{{}}
	r := &rendered{}
	plant := func(centre Point, plantNo int) {
		for k := range s.leaves {
			f := float64(k) / math.Max(1, float64(s.leaves-1)) // 0 oldest, 1 youngest
			L := s.length * (1 - 0.8*f) * (0.92 + 0.16*rng.Float64())
			angle := 2.399963*float64(k) + 0.2*rng.NormFloat64()
			c := lin(s.colour)
			hc := lin(s.heart)
			if s.heart == [3]uint8{} {
				hc = c
			}
			for i := range c {
				c[i] += (hc[i] - c[i]) * f * f
			}
			if k < s.yellow {
				c = lin([3]uint8{206, 186, 70})
			}
			tip := c
			if s.red > 0 {
				tip = lin([3]uint8{96, 34, 52})
			}
			kinds = append(kinds, leafKind{c, tip, 0.85 + 0.3*rng.Float64()})
			id := int16(len(kinds) - 1)
			phase, phase2 := 6.28*rng.Float64(), 6.28*rng.Float64()
			const steps = 2000
			half := make([]float64, steps+1) // half width along the leaf, over L
			for i := range half {
				t := float64(i) / steps
				half[i] = s.width / 2 * math.Pow(math.Sin(math.Pi*math.Pow(t, 0.75)), 0.8) * (1 + s.lobes*math.Sin(9*math.Pi*t+phase))
				half[i] += s.ruffle * math.Sin(40*t+phase2) * math.Min(1, 4*t*(1-t))
			}
			sin, cos := math.Sin(angle), math.Cos(angle)
			reach := L * 1.15
			x0, x1 := int((centre.X-reach)/per), int((centre.X+reach)/per)
			y0, y1 := int((centre.Y-reach)/per), int((centre.Y+reach)/per)
			shift := int(2.5 / per * (0.4 + f))
			for pass := range 2 {
				if pass == 0 && s.shadow == 0 {
					continue
				}
				for y := max(0, y0); y < min(H, y1); y++ {
					for x := max(0, x0); x < min(W, x1); x++ {
						px, py := (float64(x)+0.5)*per-centre.X, (float64(y)+0.5)*per-centre.Y
						if pass == 0 {
							px, py = px-float64(shift)*per, py-float64(shift)*per
						}
						u, v := (px*cos+py*sin)/L, (-px*sin+py*cos)/L
						if u < 0 || u > 1 {
							continue
						}
						hw := half[int(u*steps)]
						if hw <= 0 || math.Abs(v) > hw {
							continue
						}
						i := y*W + x
						if pass == 0 {
							dark[i] = float32(1 - s.shadow)
						} else {
							owner[i], along[i], across[i] = id, float32(u), float32(v/hw)
							dark[i] = 1
						}
					}
				}
			}
		}
		_ = plantNo
	}
	middle := Point{float64(s.w) * s.mm / 2, float64(s.h) * s.mm / 2}
	centre := Point{middle.X + s.at.X, middle.Y + s.at.Y}
	r.seed = Point{centre.X / s.mm, centre.Y / s.mm}
	plant(centre, 1)
	first := int16(len(kinds) - 1)
	if s.second {
		c2 := Point{centre.X + s.gap, centre.Y}
		r.other = Point{c2.X / s.mm, c2.Y / s.mm}
		plant(c2, 2)
	}
	// burnt spots: discs on the margins of young leaves
	type disc struct{ x, y, r float64 }
	var discs []disc
	for tries := 0; len(discs) < s.burnt && tries < 100000; tries++ {
		i := rng.IntN(n)
		if owner[i] == 0 || owner[i] > first || int(owner[i]) < s.leaves/2 || math.Abs(float64(across[i])) < 0.6 || along[i] < 0.5 {
			continue
		}
		discs = append(discs, disc{float64(i%W) * per, float64(i/W) * per, 1.2 + 1.5*rng.Float64()})
	}
	r.burntMM = make([]float64, len(discs))
	for _, d := range discs {
		r.burnt = append(r.burnt, Point{d.x / s.mm, d.y / s.mm})
	}
	var shines []disc
	for tries := 0; len(shines) < s.shine && tries < 100000; tries++ {
		i := rng.IntN(n)
		if owner[i] != 0 {
			shines = append(shines, disc{float64(i%W) * per, float64(i/W) * per, 0.8 + 1.6*rng.Float64()})
		}
	}
	fine, coarse := noiseField(rng, W, H, 5), noiseField(rng, W, H, 40)
	ground := grounds[s.ground]
	if ground == nil {
		ground = grounds["grey bench"]
	}
	ga, gb := lin(ground[0]), lin(ground[1])
	brown, dead := lin([3]uint8{118, 80, 42}), lin([3]uint8{64, 44, 30})
	algae := lin([3]uint8{66, 74, 40})
	pw, ph := s.w*photo, s.h*photo
	pix := make([]float64, 3*pw*ph)
	r.share = make([]float32, s.w*s.h)
	cells, burntCells, yellowCells, redCells := 0, 0, 0, 0
	var rim []Point
	for y := range H {
		for x := range W {
			i := y*W + x
			var c [3]float64
			t := 0.5 + 0.25*coarse(float64(x), float64(y)) + 0.2*fine(float64(x), float64(y))
			t = math.Min(1, math.Max(0, t))
			id := owner[i]
			px, py := float64(x)*per, float64(y)*per
			o := y/over*s.w + x/over
			if id == 0 {
				for k := range c {
					c[k] = (ga[k] + (gb[k]-ga[k])*t) * float64(dark[i])
				}
				if s.algae && math.Hypot(px-centre.X, py-centre.Y) < s.length*0.8 && coarse(float64(y), float64(x)) > 0 {
					for k := range c {
						c[k] = algae[k] * (0.7 + 0.6*t) * float64(dark[i])
					}
				}
			} else {
				kind := kinds[id]
				mine := id <= first
				u, v := float64(along[i]), math.Abs(float64(across[i]))
				c = kind.colour
				isRed := false
				if s.red > 0 {
					m := ramp(u+0.25*(v-0.5)+0.08*coarse(float64(x), float64(y)), 1-s.red-0.12, 1-s.red+0.12)
					for k := range c {
						c[k] += (kind.tip[k] - c[k]) * m
					}
					isRed = m > 0.5
				}
				lightness := kind.shade * (0.8 + 0.35*u - 0.12*v*v) * (1 + 0.10*fine(float64(x), float64(y)))
				if v < 0.05 { // midrib
					lightness *= 1.25
					c[2] *= 1.5
				}
				for k := range c {
					c[k] *= math.Max(0.1, lightness) * float64(dark[i])
				}
				isBurnt := false
				for j, d := range discs {
					if q := math.Hypot(px-d.x, py-d.y) / d.r; q < 1 {
						for k := range c {
							c[k] = (brown[k] + (dead[k]-brown[k])*ramp(q, 0.7, 0.2)) * (0.85 + 0.3*t)
						}
						isBurnt = true
						if mine {
							r.burntMM[j] += per * per
						}
						break
					}
				}
				for _, d := range shines {
					if q := math.Hypot(px-d.x, py-d.y) / d.r; q < 1 {
						for k := range c {
							c[k] += 1.1 * (1 - q*q)
						}
					}
				}
				if mine {
					r.share[o]++
					cells++
					if isBurnt {
						burntCells++
					} else if int(id) <= s.yellow {
						yellowCells++
					} else if isRed {
						redCells++
					}
					if x > 0 && x < W-1 && y > 0 && y < H-1 && (owner[i-1] == 0 || owner[i+1] == 0 || owner[i-W] == 0 || owner[i+W] == 0) {
						rim = append(rim, Point{px + per/2, py + per/2})
					}
				}
			}
			fall := 1 - s.grade*float64(x)/float64(W)
			q := y/(over/photo)*pw + x/(over/photo)
			for k := range c {
				pix[3*q+k] += c[k] * fall * s.cast[k] * photo * photo / (over * over)
			}
		}
	}
	for i := range r.share {
		r.share[i] /= over * over
	}
	r.area = float64(cells) * per * per / 100
	r.burntAll = float64(burntCells) / float64(max(1, cells))
	r.yellow = float64(yellowCells) / float64(max(1, cells))
	r.red = float64(redCells) / float64(max(1, cells))
	r.feret, _ = feret(hull(rim))
	if s.blur > 0 {
		pix = gaussian(pix, pw, ph, s.blur*photo)
	}
	for i := range pix {
		pix[i] += rng.NormFloat64() * s.noise * math.Sqrt(0.02+math.Max(0, pix[i]))
	}
	if s.jpeg > 0 {
		pix = throughJPEG(pix, pw, ph, s.jpeg)
	}
	r.Picture = &Picture{Width: s.w, Height: s.h, PerPixel: s.mm, Pix: make([]float32, 3*s.w*s.h), Corrected: true, Blur: s.blur}
	for y := range ph {
		for x := range pw {
			for k := range 3 {
				r.Pix[3*(y/photo*s.w+x/photo)+k] += float32(pix[3*(y*pw+x)+k] / (photo * photo))
			}
		}
	}
	return r
}

func gaussian(pix []float64, w, h int, sigma float64) []float64 {
	n := int(3*sigma) + 1
	k := make([]float64, 2*n+1)
	sum := 0.0
	for i := range k {
		k[i] = math.Exp(-math.Pow(float64(i-n)/sigma, 2) / 2)
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	for _, horizontal := range []bool{true, false} {
		out := make([]float64, len(pix))
		for y := range h {
			for x := range w {
				for j, f := range k {
					a, b := x, y
					if horizontal {
						a = min(w-1, max(0, x+j-n))
					} else {
						b = min(h-1, max(0, y+j-n))
					}
					for c := range 3 {
						out[3*(y*w+x)+c] += f * pix[3*(b*w+a)+c]
					}
				}
			}
		}
		pix = out
	}
	return pix
}

func toImage(pix []float64, w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range w * h {
		m.SetRGBA(i%w, i/w, color.RGBA{shown(pix[3*i]), shown(pix[3*i+1]), shown(pix[3*i+2]), 255})
	}
	return m
}

// throughJPEG is what a phone's file does to a picture: 8 bits, clipped, 4:2:0, blocks.
func throughJPEG(pix []float64, w, h, quality int) []float64 {
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, toImage(pix, w, h), &jpeg.Options{Quality: quality}); err != nil {
		panic(err)
	}
	m, err := jpeg.Decode(&buf)
	if err != nil {
		panic(err)
	}
	out := make([]float64, len(pix))
	for i := range w * h {
		y := m.(*image.YCbCr)
		j := y.COffset(i%w, i/w)
		r, g, b := color.YCbCrToRGB(y.Y[y.YOffset(i%w, i/w)], y.Cb[j], y.Cr[j])
		c := lin([3]uint8{r, g, b})
		copy(out[3*i:], c[:])
	}
	return out
}

// show writes a picture with outlines, where UNDERLAMP_SHOW names a folder, to be looked at.
func (r *rendered) show(t *testing.T, name string, rings []Ring, spots []Spot) {
	dir := os.Getenv("UNDERLAMP_SHOW")
	if dir == "" {
		return
	}
	pix := make([]float64, len(r.Pix))
	for i, v := range r.Pix {
		pix[i] = float64(v)
	}
	m := toImage(pix, r.Width, r.Height)
	line := func(ring Ring, c color.RGBA) {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			n := int(math.Hypot(b.X-a.X, b.Y-a.Y)*2) + 1
			for k := range n {
				f := float64(k) / float64(n)
				m.SetRGBA(int(a.X+(b.X-a.X)*f), int(a.Y+(b.Y-a.Y)*f), c)
			}
		}
	}
	for _, ring := range rings {
		line(ring, color.RGBA{255, 0, 255, 255})
	}
	for _, s := range spots {
		line(s.Outline, color.RGBA{255, uint8(255 * (1 - s.Chance)), 0, 255})
	}
	var buf bytes.Buffer
	if err := png.Encode(&buf, m); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(dir+"/"+name+".png", buf.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}
