package plantfigure

import (
	"math"
	"sync"
)

// oklab takes linear light with the primaries of sRGB to Oklab: lightness 0 to 1, a
// toward red, b toward yellow.
//
// Source: Ottosson2020, the matrices of 2021-01-25.
func oklab(r, g, b float64) (l, a, bb float64) {
	x := math.Cbrt(0.4122214708*r + 0.5363325363*g + 0.0514459929*b)
	y := math.Cbrt(0.2119034982*r + 0.6806995451*g + 0.1073969566*b)
	z := math.Cbrt(0.0883024619*r + 0.2817188376*g + 0.6299787005*b)
	return 0.2104542553*x + 0.7936177850*y - 0.0040720468*z,
		1.9779984951*x - 2.4285922050*y + 0.4505937099*z,
		0.0259040371*x + 0.7827717662*y - 0.8086757660*z
}

// A tint is what is left of a colour when its brightness is taken out: a/L and b/L of
// Oklab, which do not change when all of the light is made weaker, for every one of L,
// a and b goes with the cube root of the light. So a leaf keeps its tint in a shadow.
type tint struct {
	saturation float64 // length of (a/L, b/L)
	hue        float64 // its angle in degrees, -180 to 180: 29 red, 110 yellow, 142 green
}

func tintOf(r, g, b float64) tint {
	l, a, bb := oklab(r, g, b)
	if l <= 0 {
		return tint{}
	}
	return tint{math.Hypot(a, bb) / l, math.Atan2(bb, a) * 180 / math.Pi}
}

// Hues of Oklab, in degrees, between which a colour is that of a leaf. Where they are
// rests on colours of leaves and of what lies under them in print and on screens: common
// practice, no source. A colour between two numbers counts in part.
const (
	greenFrom, greenFull = 88.0, 105.0 // from tan over yellow to yellow-green
	greenEnd, greenNone  = 170.0, 190.0
	redFrom, redFull     = -75.0, -45.0 // purple
	redEnd, redNone      = 25.0, 42.0   // brown begins
	yellowFrom, yellowTo = 85.0, 109.0  // a leaf that has lost its green; pure yellow is 110
	yellowSaturation     = 0.12         // paler is the heart of a head
	brownFrom, brownTo   = 38.0, 90.0
)

func ramp(x, none, full float64) float64 {
	return math.Min(1, math.Max(0, (x-none)/(full-none)))
}

// leafHue is how much a hue is that of a leaf, 0 to 1.
func leafHue(h float64) float64 {
	if h > 60 || h < redFrom {
		return math.Min(ramp(h, greenFrom, greenFull), ramp(h, greenNone, greenEnd))
	}
	return math.Min(ramp(h, redFrom, redFull), ramp(h, redNone, redEnd))
}

// A palette holds leafiness and tint of every chromaticity, so that a pixel costs a
// division and a look-up. Leafiness is saturation times leafHue, in steps of 1/leafSteps.
type palette struct {
	leaf            [paletteSide * paletteSide]uint8
	hue, saturation [paletteSide * paletteSide]float32
	bin             [paletteSide * paletteSide]uint16 // see binOf
}

const (
	paletteSide = 512
	leafSteps   = 500.0 // 255 is a saturation of 0.51; leaves have 0.1 to 0.35
)

var thePalette = sync.OnceValue(newPalette)

func newPalette() *palette {
	p := &palette{}
	for j := range paletteSide {
		for i := range paletteSide - j {
			r, g := (float64(i)+0.5)/paletteSide, (float64(j)+0.5)/paletteSide
			t := tintOf(r, g, math.Max(0, 1-r-g))
			p.hue[j*paletteSide+i], p.saturation[j*paletteSide+i] = float32(t.hue), float32(t.saturation)
			p.bin[j*paletteSide+i] = uint16(binOf(t))
			p.leaf[j*paletteSide+i] = uint8(math.Min(255, t.saturation*leafHue(t.hue)*leafSteps+0.5))
		}
	}
	return p
}

// at is the place of a linear colour in the tables; that of black is that of blue, which
// is nothing's.
func (p *palette) at(r, g, b float32) int {
	r, g, b = max(r, 0), max(g, 0), max(b, 0)
	sum := r + g + b
	if sum <= 0 {
		return 0
	}
	k := paletteSide / sum
	i, j := min(int(r*k), paletteSide-1), min(int(g*k), paletteSide-1)
	return j*paletteSide + i
}

// tint is that of a linear colour, to about 2 degrees of hue in leaves.
func (p *palette) tint(r, g, b float32) tint {
	k := p.at(r, g, b)
	return tint{float64(p.saturation[k]), float64(p.hue[k])}
}

// luminance is Y of linear sRGB (IEC61966).
func luminance(r, g, b float32) float32 { return 0.2126*r + 0.7152*g + 0.0722*b }

// encoded is the value of a linear one on a screen, 0 to 1 (IEC61966).
func encoded(v float64) float64 {
	v = math.Min(1, math.Max(0, v))
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// DGCI is the dark green colour index of a linear colour, from 0 (yellow, bright) to 1
// (dark green): the mean of (H − 60°)/60°, 1 − S and 1 − B of hue, saturation and
// brightness on a screen, each held between 0 and 1.
//
// Source: KarcherRichardson2003, where it goes with nitrogen of turf.
func DGCI(r, g, b float64) float64 {
	r, g, b = encoded(r), encoded(g), encoded(b)
	top, low := max(r, g, b), min(r, g, b)
	if top <= 0 {
		return math.NaN()
	}
	hue := 60.0
	if d := top - low; d > 0 {
		switch top {
		case r:
			hue = 60 * (g - b) / d
		case g:
			hue = 60 * (2 + (b-r)/d)
		default:
			hue = 60 * (4 + (r-g)/d)
		}
	}
	return (ramp(hue, 60, 120) + 1 - (top-low)/top + 1 - top) / 3
}
