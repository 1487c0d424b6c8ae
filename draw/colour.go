package draw

import "math"

// A Scale is a run of colours from little to much. Lightness changes evenly
// along every scale, so that it reads the same in grey and without red, green or
// blue cones; the colours are our own, drawn as curves in OKLCH.
type Scale int

// The scales.
const (
	ScaleLight Scale = iota // dark indigo, teal, pale yellow-green: light, more is lighter
	ScaleBurn               // neutral, amber, deep red-brown: chance of burn, more is darker
	ScaleYield              // pale sand to deep moss green: mass per kWh, more is darker
)

// Hex are n colours of the scale, from the lowest band to the highest, as #rrggbb.
func (s Scale) Hex(n int) []string {
	var out []string
	for i := range n {
		out = append(out, s.at(float64(i)/float64(max(n-1, 1))).hex())
	}
	return out
}

// lch is a colour in OKLCH: lightness 0 to 1, chroma, hue in degrees.
type lch struct{ l, c, h float64 }

// stops are the ends and the middle of each scale. Own design.
func (s Scale) stops() [3]lch {
	switch s {
	case ScaleBurn:
		return [3]lch{{0.945, 0.015, 95}, {0.665, 0.135, 62}, {0.385, 0.100, 32}}
	case ScaleYield:
		return [3]lch{{0.945, 0.028, 98}, {0.690, 0.085, 128}, {0.435, 0.080, 150}}
	default:
		return [3]lch{{0.295, 0.105, 282}, {0.620, 0.095, 205}, {0.945, 0.085, 118}}
	}
}

// rgb is a colour in sRGB, 8 bits a channel, as it is printed.
type rgb [3]uint8

// At returns the colour at t from 0 (little) to 1 (much) as "#rrggbb". t beyond
// is held at the end; NaN gives a mid grey.
func (s Scale) At(t float64) string { return s.at(t).hex() }

func (s Scale) at(t float64) rgb {
	if math.IsNaN(t) {
		return rgb{0x80, 0x80, 0x80}
	}
	t = math.Min(math.Max(t, 0), 1)
	k := s.stops()
	a, b, u := k[0], k[1], 2*t
	if t > 0.5 {
		a, b, u = k[1], k[2], 2*t-1
	}
	want := lch{a.l + u*(b.l-a.l), a.c + u*(b.c-a.c), a.h + u*(b.h-a.h)}
	// Where sRGB cannot show so much chroma, take the most that it can: lightness
	// and hue carry the meaning. The neutral colour of the same lightness always
	// exists.
	lo, hi := 0.0, want.c
	if _, ok := want.linear(); ok {
		lo = want.c
	} else {
		for range 20 {
			mid := (lo + hi) / 2
			if _, ok := (lch{want.l, mid, want.h}).linear(); ok {
				lo = mid
			} else {
				hi = mid
			}
		}
	}
	lin, _ := lch{want.l, lo, want.h}.linear()
	var out rgb
	for i, v := range lin {
		out[i] = uint8(math.Round(255 * encode(math.Min(math.Max(v, 0), 1))))
	}
	return out
}

// linear returns linear sRGB and whether it lies within the gamut, but for a
// rounding of the matrices.
func (k lch) linear() ([3]float64, bool) {
	sin, cos := math.Sincos(k.h * math.Pi / 180)
	a, b := k.c*cos, k.c*sin
	// Ottosson2020: OKLab to LMS (cube roots), then LMS to linear sRGB.
	l := k.l + 0.3963377774*a + 0.2158037573*b
	m := k.l - 0.1055613458*a - 0.0638541728*b
	s := k.l - 0.0894841775*a - 1.2914855480*b
	l, m, s = l*l*l, m*m*m, s*s*s
	out := [3]float64{
		+4.0767416621*l - 3.3077115913*m + 0.2309699292*s,
		-1.2684380046*l + 2.6097574011*m - 0.3413193965*s,
		-0.0041960863*l - 0.7034186147*m + 1.7076147010*s,
	}
	for _, v := range out {
		if v < -1e-6 || v > 1+1e-6 {
			return out, false
		}
	}
	return out, true
}

// encode is the transfer function of sRGB (IEC61966).
func encode(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// decode is the inverse of encode.
func decode(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

func (c rgb) hex() string {
	const digits = "0123456789abcdef"
	out := [7]byte{0: '#'}
	for i, v := range c {
		out[1+2*i], out[2+2*i] = digits[v>>4], digits[v&15]
	}
	return string(out[:])
}

// luminance is the relative luminance of WCAG22.
func (c rgb) luminance() float64 {
	r, g, b := decode(float64(c[0])/255), decode(float64(c[1])/255), decode(float64(c[2])/255)
	return 0.2126*r + 0.7152*g + 0.0722*b
}

// contrast is the contrast ratio of WCAG22, from 1 to 21.
func contrast(a, b rgb) float64 {
	x, y := a.luminance(), b.luminance()
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// Ink on a map is black or white, whichever stands out more: of the two, one
// always has a contrast of at least 4.58, the root of 21.
var (
	mapDark  = rgb{0x00, 0x00, 0x00}
	mapLight = rgb{0xff, 0xff, 0xff}
)

// inkOn returns the ink for text and lines on a ground.
func inkOn(ground rgb) rgb {
	if contrast(ground, mapDark) >= contrast(ground, mapLight) {
		return mapDark
	}
	return mapLight
}

// A tint gives colours to the bands of a map.
type tint struct {
	limits   []float64 // n+1 ascending limits of n bands
	decimals int       // that print the limits
	colours  []rgb     // n
}

// newTint covers the finite values with at most the number of bands given. No
// values give no bands.
func newTint(s Scale, values []float64, most int) tint {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	var t tint
	t.limits, t.decimals = bands(lo, hi, most)
	n := len(t.limits) - 1
	for i := range n {
		u := 0.5
		if n > 1 {
			u = float64(i) / float64(n-1)
		}
		t.colours = append(t.colours, s.at(u))
	}
	return t
}

// of returns the colour of the band that v falls in, held at the ends.
func (t tint) of(v float64) (rgb, bool) {
	if len(t.colours) == 0 || !finite(v) {
		return rgb{}, false
	}
	i := 0
	for i < len(t.colours)-1 && v >= t.limits[i+1] {
		i++
	}
	return t.colours[i], true
}
