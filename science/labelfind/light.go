package labelfind

import (
	"image"
	"image/color"
	"math"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/pinhole"
	"underlamp/science/plantlabel"
	"underlamp/science/srgb"
)

// A Light is what the patches of a label tell of the light of the photo and of how the
// camera recorded it.
type Light struct {
	// White is what was recorded of white paper, as linear light of 0 to 1.
	White [3]float64

	// Matrix takes recorded linear light to that in which white paper is 1: gains for the
	// three values, and between the colours where the patches were printed in colour.
	Matrix srgb.Matrix

	Coloured bool // the patches have colours, and Matrix was found from them
	Purple   bool // no green in the light: red and blue differ, green tells nothing
	Clipped  bool // white paper is brighter than the photo can hold
	Dark     bool // white paper is so dark that noise rules

	Uneven   float64 // how much the light changes over the label, largest over least, less 1
	Residual float64 // root mean square of what the patches are off after correction, 1 is white; NaN without colours
	Noise    float64 // standard deviation of recorded light of white paper, relative, one pixel
}

// seen is the mean linear light over a part of a label, how it spreads, and the share of
// pixels at the upper end of a value.
type seen struct {
	mean    [3]float64
	sd      float64 // of the second value
	clipped float64
}

// look averages the middle of a rectangle of the label: the part of it that stays when a
// share is taken off on each side.
func look(m image.Image, h *pinhole.Homography, r plantlabel.Rect, off float64) (seen, bool) {
	j := h.Jacobian(pinhole.Point{X: r.X + r.Width/2, Y: r.Y + r.Height/2})
	scale := math.Sqrt(math.Abs(j[0][0]*j[1][1] - j[0][1]*j[1][0]))
	n := func(mm float64) int { return min(14, max(3, int(mm*(1-2*off)*scale))) }
	nx, ny := n(r.Width), n(r.Height)
	b := m.Bounds()
	var out seen
	var sum2 float64
	for y := range ny {
		for x := range nx {
			p := h.Apply(pinhole.Point{
				X: r.X + r.Width*(off+(1-2*off)*(float64(x)+0.5)/float64(nx)),
				Y: r.Y + r.Height*(off+(1-2*off)*(float64(y)+0.5)/float64(ny))})
			at := image.Pt(b.Min.X+int(math.Floor(p.X)), b.Min.Y+int(math.Floor(p.Y)))
			if !at.In(b) {
				return out, false
			}
			c := rgb(m, at.X, at.Y)
			top := false
			for i, v := range c {
				out.mean[i] += float64(linearBytes[v])
				top = top || v >= 254
			}
			if top {
				out.clipped++
			}
			l := float64(linearBytes[c[1]])
			sum2 += l * l
		}
	}
	k := float64(nx * ny)
	for i := range out.mean {
		out.mean[i] /= k
	}
	out.sd = math.Sqrt(max(0, sum2/k-out.mean[1]*out.mean[1]))
	out.clipped /= k
	return out, true
}

// rgb is one pixel.
func rgb(m image.Image, x, y int) [3]uint8 {
	switch m := m.(type) {
	case *image.YCbCr:
		c := m.COffset(x, y)
		r, g, b := color.YCbCrToRGB(m.Y[m.YOffset(x, y)], m.Cb[c], m.Cr[c])
		return [3]uint8{r, g, b}
	case *image.RGBA:
		o := m.PixOffset(x, y)
		return [3]uint8(m.Pix[o : o+3])
	case *image.NRGBA:
		o := m.PixOffset(x, y)
		return [3]uint8(m.Pix[o : o+3])
	}
	r, g, b, _ := m.At(x, y).RGBA()
	return [3]uint8{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8)}
}

// Limits of light (common practice, no source).
const (
	darkest     = 0.03 // recorded light of white paper below which a photo is too dark: a byte of 48
	clippedPart = 0.3  // share of the pixels of white paper at the upper end
	colourless  = 0.25 // of the nominal contrast between colours, below which a print has none
)

// readLight reads the patches.
func readLight(m image.Image, h *pinhole.Homography, l plantlabel.Layout) (Light, bool) {
	var out Light
	module := l.QR.Width / plantlabel.Modules
	// Light over the label: a plane through ln(white), fitted to bare paper.
	var rows, logs []float64
	var clip, sd, level float64
	n := 0
	for _, w := range l.White {
		s, ok := look(m, h, plantlabel.Rect{X: w.X - module/2, Y: w.Y - module/2, Width: module, Height: module}, 0)
		if !ok || !(s.mean[1] > 0) {
			continue
		}
		n++
		clip += s.clipped
		sd += s.sd
		level += s.mean[1]
		rows = append(rows, 1, w.X-l.Width/2, w.Y-l.Height/2)
		logs = append(logs, math.Log((s.mean[0]+s.mean[1]+s.mean[2])/3))
	}
	if n < 6 {
		return out, false
	}
	slope := [3]float64{}
	a := mat.NewDense(n, 3, rows)
	var x mat.VecDense
	if err := x.SolveVec(a, mat.NewVecDense(n, logs)); err == nil {
		slope = [3]float64{x.AtVec(0), x.AtVec(1), x.AtVec(2)}
	}
	span := math.Abs(slope[1])*l.Width + math.Abs(slope[2])*l.Height
	out.Uneven = math.Exp(span) - 1
	out.Noise = sd / level

	// The patches, with the slope of the light taken out.
	var got, want [][3]float64
	for _, p := range l.Patches {
		s, ok := look(m, h, p.Rect, 0.22)
		if !ok {
			return out, false
		}
		k := math.Exp(-(slope[1]*(p.X+p.Width/2-l.Width/2) + slope[2]*(p.Y+p.Height/2-l.Height/2)))
		for i := range s.mean {
			s.mean[i] *= k
		}
		if p.Name == "white" {
			clip += s.clipped * float64(n) // as much as all others
			out.White = s.mean
		}
		got, want = append(got, s.mean), append(want, p.Ink.Linear())
	}
	out.Clipped = clip/(2*float64(n)) > clippedPart
	if !(min(out.White[0], out.White[1], out.White[2]) > 0) {
		out.Dark = true
		return out, true
	}
	out.Dark = max(out.White[0], out.White[1], out.White[2]) < darkest

	// Balance: the greys and white together, each by how light it is; where white is at the
	// upper end, the greys alone.
	var gain [3]float64
	for c := range 3 {
		var num, den float64
		for i, p := range l.Patches {
			if !p.Ink.Neutral() || p.Name == "black" || p.Name == "white" && out.Clipped {
				continue
			}
			w := 1.0
			if p.Name == "white" {
				w = 4 // paper is what it is; inks are what a printer makes of them
			}
			mean := (got[i][0]/out.White[0] + got[i][1]/out.White[1] + got[i][2]/out.White[2]) / 3
			num += w * mean * got[i][c] / out.White[c] * mean
			den += w * mean * got[i][c] / out.White[c] * got[i][c] / out.White[c]
		}
		gain[c] = num / den / out.White[c]
	}
	for i := range got {
		for c := range 3 {
			got[i][c] *= gain[c]
		}
	}
	out.Matrix = srgb.Matrix{{gain[0], 0, 0}, {0, gain[1], 0}, {0, 0, gain[2]}}

	// Contrast between colours along two directions, against the nominal one.
	axis := func(f func([3]float64) float64) float64 {
		var num, den float64
		for i, p := range l.Patches {
			if !p.Ink.Neutral() {
				num += f(got[i]) * f(want[i])
				den += f(want[i]) * f(want[i])
			}
		}
		return num / den
	}
	green := axis(func(v [3]float64) float64 { return v[1] - (v[0]+v[2])/2 })
	redBlue := axis(func(v [3]float64) float64 { return v[0] - v[2] })
	cast := out.White[1] / math.Sqrt(out.White[0]*out.White[2])
	out.Purple = redBlue > colourless && green < colourless || cast < 0.35
	out.Coloured = !out.Purple && redBlue > colourless && green > colourless
	out.Residual = math.NaN()
	if out.Coloured {
		mix, rms := colourMatrix(got, want)
		out.Residual = rms
		out.Matrix = mix.Times(out.Matrix)
	}
	return out, true
}

// colourMatrix is the matrix near to one that changes nothing which takes what was seen to
// what was printed, in least squares, and leaves white and greys: its rows add to 1. Spreads
// of inks (0.03 and a tenth) and of cameras (0.25 an entry) are common practice, no source.
func colourMatrix(got, want [][3]float64) (srgb.Matrix, float64) {
	out := srgb.Identity()
	for r := range 3 {
		// Row r: out_r = g_r + a (g_p − g_r) + b (g_q − g_r) with the two others p and q.
		p, q := (r+1)%3, (r+2)%3
		const prior = 1 / (0.25 * 0.25)
		aa, bb, ab, ya, yb := prior, prior, 0.0, 0.0, 0.0
		for i := range got {
			sd := 0.03 + 0.1*want[i][r]
			u, v, y := (got[i][p]-got[i][r])/sd, (got[i][q]-got[i][r])/sd, (want[i][r]-got[i][r])/sd
			aa += u * u
			bb += v * v
			ab += u * v
			ya += u * y
			yb += v * y
		}
		d := aa*bb - ab*ab
		a, b := (ya*bb-yb*ab)/d, (yb*aa-ya*ab)/d
		out[r][r], out[r][p], out[r][q] = 1-a-b, a, b
	}
	sum := 0.0
	for i := range got {
		v := out.Apply(got[i])
		for c := range v {
			sum += (v[c] - want[i][c]) * (v[c] - want[i][c]) / float64(3*len(got))
		}
	}
	return out, math.Sqrt(sum)
}
