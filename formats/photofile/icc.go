package photofile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"unicode/utf16"
)

// A profile is a colour profile of a display or camera: three curves and a matrix
// (ICC2010, annex F.3).
type profile struct {
	name   string
	curves [3][256]float64 // of a value of 8 bits, linear 0 to 1
	matrix [3][3]float64   // linear → XYZ of D50, rows X, Y, Z
}

// srgbD50 is linear sRGB → XYZ adapted to D50 after Bradford: the colorants of the sRGB profile
// (IEC 61966-2-1 with Bradford's adaptation, as in Lindbloom's tables of RGB matrices).
var srgbD50 = [3][3]float64{
	{0.4360747, 0.3850649, 0.1430804},
	{0.2225045, 0.7168786, 0.0606169},
	{0.0139322, 0.0971045, 0.7141733},
}

// readProfile reads a profile of three curves and a matrix. Others are refused with a word
// on what they are.
func readProfile(icc []byte) (*profile, error) {
	if len(icc) < 132 || string(icc[36:40]) != "acsp" {
		return nil, fmt.Errorf("it is no colour profile")
	}
	if space := string(icc[16:20]); space != "RGB " {
		return nil, fmt.Errorf("it is of the colour space %q, not RGB", space)
	}
	if pcs := string(icc[20:24]); pcs != "XYZ " {
		return nil, fmt.Errorf("it has tables in place of a matrix")
	}
	n := int64(binary.BigEndian.Uint32(icc[128:]))
	tags := map[string][]byte{}
	for i := range min(n, 200) {
		e := 132 + 12*i
		if e+12 > int64(len(icc)) {
			break
		}
		at, size := int64(binary.BigEndian.Uint32(icc[e+4:])), int64(binary.BigEndian.Uint32(icc[e+8:]))
		if at+size <= int64(len(icc)) && size >= 8 {
			tags[string(icc[e:e+4])] = icc[at : at+size]
		}
	}
	p := &profile{name: profileName(tags["desc"])}
	for c, colour := range []string{"r", "g", "b"} {
		xyz := tags[colour+"XYZ"]
		if len(xyz) < 20 || string(xyz[:4]) != "XYZ " {
			return nil, fmt.Errorf("it has no matrix")
		}
		for r := range 3 {
			p.matrix[r][c] = fixed(xyz[8+4*r:])
		}
		f, err := curve(tags[colour+"TRC"])
		if err != nil {
			return nil, err
		}
		for v := range 256 {
			if p.curves[c][v] = min(max(f(float64(v)/255), 0), 1); math.IsNaN(p.curves[c][v]) {
				return nil, errCurve // a root of what is below 0
			}
		}
	}
	return p, nil
}

var errCurve = errors.New("a curve of it cannot be read")

// fixed is a number of 15 and 16 bits (s15Fixed16Number).
func fixed(b []byte) float64 { return float64(int32(binary.BigEndian.Uint32(b))) / 65536 }

// curve reads a curve: a table, one exponent, or a formula (ICC2010, 10.5 and 10.15).
func curve(tag []byte) (func(float64) float64, error) {
	bad := errCurve
	if len(tag) < 12 {
		return nil, bad
	}
	switch string(tag[:4]) {
	case "curv":
		n := int64(binary.BigEndian.Uint32(tag[8:]))
		if 12+2*n > int64(len(tag)) {
			return nil, bad
		}
		at := func(i int64) float64 { return float64(binary.BigEndian.Uint16(tag[12+2*i:])) }
		switch n {
		case 0:
			return func(x float64) float64 { return x }, nil
		case 1:
			g := at(0) / 256
			return func(x float64) float64 { return math.Pow(x, g) }, nil
		}
		return func(x float64) float64 {
			p := x * float64(n-1)
			i := min(int64(p), n-2)
			return (at(i) + (at(i+1)-at(i))*(p-float64(i))) / 65535
		}, nil
	case "para":
		kind := binary.BigEndian.Uint16(tag[8:])
		counts := []int{1, 3, 4, 5, 7}
		if int(kind) >= len(counts) || len(tag) < 12+4*counts[kind] {
			return nil, bad
		}
		var v [7]float64
		for i := range counts[kind] {
			v[i] = fixed(tag[12+4*i:])
		}
		g, a, b, c, d, e, f := v[0], v[1], v[2], v[3], v[4], v[5], v[6]
		switch kind {
		case 0:
			return func(x float64) float64 { return math.Pow(x, g) }, nil
		case 1, 2:
			if a == 0 {
				return nil, bad
			}
			return func(x float64) float64 {
				if x >= -b/a {
					return math.Pow(a*x+b, g) + c
				}
				return c
			}, nil
		}
		return func(x float64) float64 {
			if x >= d {
				return math.Pow(a*x+b, g) + e
			}
			return c*x + f
		}, nil
	}
	return nil, bad
}

// profileName is what a profile calls itself; empty if it does not.
func profileName(desc []byte) string {
	switch {
	case len(desc) > 12 && string(desc[:4]) == "desc":
		n := int64(binary.BigEndian.Uint32(desc[8:]))
		if n > 1 && 12+n <= int64(len(desc)) {
			return plainWords(string(desc[12 : 12+n-1]))
		}
	case len(desc) > 28 && string(desc[:4]) == "mluc":
		size, at := int64(binary.BigEndian.Uint32(desc[20:])), int64(binary.BigEndian.Uint32(desc[24:]))
		if at+size <= int64(len(desc)) && size < 200 {
			var u []uint16
			for i := int64(0); i+1 < size; i += 2 {
				u = append(u, binary.BigEndian.Uint16(desc[at+i:]))
			}
			return plainWords(string(utf16.Decode(u)))
		}
	}
	return ""
}

func plainWords(s string) string {
	var out []rune
	for _, c := range s {
		if c >= ' ' && c < 127 && len(out) < 60 {
			out = append(out, c)
		}
	}
	return string(out)
}

// A conversion brings pixels to sRGB.
type conversion struct {
	curves [3][256]float32
	matrix [3][3]float32 // linear → linear sRGB
	back   [4097]uint8   // linear sRGB → 8 bits
}

// toSRGB makes the conversion of a profile; nil if it is sRGB already, within half a step of 8
// bits.
func (p *profile) toSRGB() *conversion {
	c := &conversion{}
	inverse, ok := inverted(srgbD50)
	if !ok {
		panic("photofile: the matrix of sRGB")
	}
	same := true
	for i := range 3 {
		for j := range 3 {
			v := 0.0
			for k := range 3 {
				v += inverse[i][k] * p.matrix[k][j]
			}
			c.matrix[i][j] = float32(v)
			want := 0.0
			if i == j {
				want = 1
			}
			same = same && math.Abs(v-want) < 0.002
		}
	}
	for i := range 3 {
		for v := range 256 {
			c.curves[i][v] = float32(p.curves[i][v])
			same = same && math.Abs(255*encoded(p.curves[i][v])-float64(v)) < 0.5
		}
	}
	if same {
		return nil
	}
	for i := range c.back {
		c.back[i] = uint8(math.Round(255 * encoded(float64(i)/float64(len(c.back)-1))))
	}
	return c
}

// row converts pixels of four bytes.
func (c *conversion) row(pix []byte) {
	for i := 0; i+3 < len(pix); i += 4 {
		r, g, b := c.curves[0][pix[i]], c.curves[1][pix[i+1]], c.curves[2][pix[i+2]]
		for k := range 3 {
			m := &c.matrix[k]
			v := m[0]*r + m[1]*g + m[2]*b
			pix[i+k] = c.back[int(min(max(v, 0), 1)*4096+0.5)]
		}
	}
}

// encoded is the curve of sRGB (IEC 61966-2-1): linear → value, both 0 to 1.
func encoded(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// inverted is the inverse of a matrix.
func inverted(m [3][3]float64) (out [3][3]float64, ok bool) {
	minor := func(r, c int) float64 {
		r1, r2, c1, c2 := (r+1)%3, (r+2)%3, (c+1)%3, (c+2)%3
		return m[r1][c1]*m[r2][c2] - m[r1][c2]*m[r2][c1]
	}
	det := m[0][0]*minor(0, 0) + m[0][1]*minor(0, 1) + m[0][2]*minor(0, 2)
	if det == 0 {
		return out, false
	}
	for r := range 3 {
		for c := range 3 {
			out[c][r] = minor(r, c) / det
		}
	}
	return out, true
}
