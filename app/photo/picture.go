package photo

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"

	scaling "golang.org/x/image/draw"

	"underlamp/science/pinhole"
	"underlamp/science/plantfigure"
	"underlamp/science/plantphoto"
	"underlamp/science/srgb"
)

// portraitScale is mm a pixel of the plants' own pictures: leaf veins are still seen, and a
// head has some 60 kB.
const portraitScale = 0.5

// mostPortrait bounds a plant's own picture, pixels a side.
const mostPortrait = 1200

// paper is how bright white paper is in the plants' own pictures: the exposure of all.
const paper = 0.9

// light is linear light as a byte of sRGB, in steps of less than one.
var light = func() (t [8193]uint8) {
	for i := range t {
		t[i] = srgb.Byte(float64(i) / float64(len(t)-1))
	}
	return t
}()

// portrait is a plant alone, its crown in the middle, in the light and scale of its label.
func portrait(p *plantfigure.Picture, t *plantfigure.Top) ([]byte, error) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, r := range t.Outline {
		for _, q := range r {
			x0, y0, x1, y1 = min(x0, q.X), min(y0, q.Y), max(x1, q.X), max(y1, q.Y)
		}
	}
	side := (max(x1-x0, y1-y0)*1.15)*p.PerPixel + 6 // mm
	n := min(mostPortrait, max(8, int(math.Ceil(side/portraitScale))))
	cx, cy := (x0+x1)/2, (y0+y1)/2
	k := portraitScale / p.PerPixel
	out := image.NewRGBA(image.Rect(0, 0, n, n))
	steps := max(1, int(math.Ceil(k)))
	for v := range n {
		for u := range n {
			var sum [3]float64
			count := 0.0
			for b := range steps {
				for a := range steps {
					x := int(math.Floor(cx + (float64(u)-float64(n)/2+(float64(a)+0.5)/float64(steps))*k))
					y := int(math.Floor(cy + (float64(v)-float64(n)/2+(float64(b)+0.5)/float64(steps))*k))
					if x < 0 || y < 0 || x >= p.Width || y >= p.Height || p.Seen != nil && !p.Seen[y*p.Width+x] {
						continue
					}
					at := 3 * (y*p.Width + x)
					for c := range 3 {
						sum[c] += float64(p.Pix[at+c])
					}
					count++
				}
			}
			at := out.PixOffset(u, v)
			out.Pix[at+3] = 255
			for c := range 3 {
				if count == 0 {
					out.Pix[at+c] = 238
					continue
				}
				out.Pix[at+c] = light[int(min(max(paper*sum[c]/count, 0), 1)*float64(len(light)-1)+0.5)]
			}
		}
	}
	var b bytes.Buffer
	err := jpeg.Encode(&b, out, &jpeg.Options{Quality: 86})
	return b.Bytes(), err
}

// overlaySide is the longer side of an overlay, pixels.
const overlaySide = 1600

// The colours of an overlay. Outlines are light with a dark edge, so that they show on
// leaves, paper and soil, and the kinds differ for every eye.
var (
	inkPlant   = color.RGBA{0, 229, 255, 255}
	inkLabel   = color.RGBA{255, 255, 255, 255}
	inkRefused = color.RGBA{255, 140, 0, 255}
	inkSpot    = color.RGBA{255, 64, 208, 255}
	inkEdge    = color.RGBA{0, 0, 0, 255}
)

// overlay is the photo, smaller, with outlines of labels, plants and candidates of burn.
func overlay(m *image.RGBA, plants []plantphoto.Plant) ([]byte, error) {
	b := m.Bounds()
	k := min(1, overlaySide/float64(max(b.Dx(), b.Dy())))
	out := image.NewRGBA(image.Rect(0, 0, max(1, int(float64(b.Dx())*k)), max(1, int(float64(b.Dy())*k))))
	scaling.ApproxBiLinear.Scale(out, out.Rect, m, b, scaling.Src, nil)
	ring := func(r plantfigure.Ring, ink color.RGBA, thick float64) {
		for _, pass := range []struct {
			ink   color.RGBA
			thick float64
		}{{inkEdge, thick + 2}, {ink, thick}} {
			for i, q := range r {
				p := r[(i+1)%len(r)]
				stroke(out, q.X*k, q.Y*k, p.X*k, p.Y*k, pass.thick, pass.ink)
			}
		}
	}
	corners := func(c [4]pinhole.Point) plantfigure.Ring {
		var r plantfigure.Ring
		for _, q := range c {
			r = append(r, plantfigure.Point(q))
		}
		return r
	}
	for i := range plants {
		p := &plants[i]
		ink := inkLabel
		if p.Refused != nil {
			ink = inkRefused
		}
		ring(corners(p.Label.Corners), ink, 2)
		for _, r := range p.Outline() {
			ring(r, inkPlant, 2)
		}
		if p.Top != nil {
			for _, s := range p.Top.Spots {
				ring(p.InPhoto(s.Outline), inkSpot, 1.5)
			}
		}
	}
	var buf bytes.Buffer
	err := jpeg.Encode(&buf, out, &jpeg.Options{Quality: 82})
	return buf.Bytes(), err
}

// stroke draws a line of a thickness, its ends round.
func stroke(to *image.RGBA, x0, y0, x1, y1, thick float64, ink color.RGBA) {
	r := thick / 2
	box := image.Rect(int(min(x0, x1)-r-1), int(min(y0, y1)-r-1), int(max(x0, x1)+r+2), int(max(y0, y1)+r+2)).Intersect(to.Rect)
	dx, dy := x1-x0, y1-y0
	long := dx*dx + dy*dy
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			px, py := float64(x)+0.5-x0, float64(y)+0.5-y0
			t := 0.0
			if long > 0 {
				t = min(max((px*dx+py*dy)/long, 0), 1)
			}
			if math.Hypot(px-t*dx, py-t*dy) <= r {
				to.SetRGBA(x, y, ink)
			}
		}
	}
}
