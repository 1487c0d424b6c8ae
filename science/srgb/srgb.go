package srgb

import "math"

// Linear is the linear light of an encoded value of 0 to 1 (IEC61966). Values outside go
// through the curve by its straight part or its power.
func Linear(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// Encoded is the encoded value of linear light (IEC61966), the inverse of [Linear].
func Encoded(v float64) float64 {
	if v <= 0.0031308 {
		return v * 12.92
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// Table is the linear light of each of the 256 values of a byte.
func Table() *[256]float32 {
	var t [256]float32
	for i := range t {
		t[i] = float32(Linear(float64(i) / 255))
	}
	return &t
}

// Byte is linear light as a byte, clipped to 0 and 255.
func Byte(v float64) uint8 {
	e := Encoded(v)
	switch {
	case !(e > 0): // NaN too
		return 0
	case e >= 1:
		return 255
	}
	return uint8(e*255 + 0.5)
}

// A Matrix takes three values of linear light to three others.
type Matrix [3][3]float64

// Apply is the product of the matrix with a column.
func (m Matrix) Apply(v [3]float64) (out [3]float64) {
	for i := range out {
		out[i] = m[i][0]*v[0] + m[i][1]*v[1] + m[i][2]*v[2]
	}
	return out
}

// Times is m·o: o is applied first.
func (m Matrix) Times(o Matrix) (out Matrix) {
	for i := range out {
		for j := range out[i] {
			out[i][j] = m[i][0]*o[0][j] + m[i][1]*o[1][j] + m[i][2]*o[2][j]
		}
	}
	return out
}

// Determinant of the matrix.
func (m Matrix) Determinant() float64 {
	return m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) - m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) + m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
}

// Inverse of the matrix; its entries are not finite if there is none.
func (m Matrix) Inverse() (out Matrix) {
	d := m.Determinant()
	for i := range out {
		for j := range out[i] {
			a, b := (j+1)%3, (j+2)%3
			c, e := (i+1)%3, (i+2)%3
			out[i][j] = (m[a][c]*m[b][e] - m[a][e]*m[b][c]) / d
		}
	}
	return out
}

// Identity changes nothing.
func Identity() Matrix { return Matrix{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}} }

// A Chromaticity is a colour without its luminance, in CIE 1931 xy.
type Chromaticity struct{ X, Y float64 }

// Primaries are what the three values of a picture stand for.
type Primaries struct{ Red, Green, Blue, White Chromaticity }

// Standard are the primaries of sRGB (IEC61966).
func Standard() Primaries {
	return Primaries{Chromaticity{0.64, 0.33}, Chromaticity{0.30, 0.60}, Chromaticity{0.15, 0.06}, Chromaticity{0.3127, 0.3290}}
}

// ToXYZ is the matrix from linear light of the primaries to CIE XYZ with Y = 1 for white:
// the columns are the primaries, scaled so that their sum is the white.
func (p Primaries) ToXYZ() Matrix {
	column := func(c Chromaticity) [3]float64 { return [3]float64{c.X / c.Y, 1, (1 - c.X - c.Y) / c.Y} }
	r, g, b := column(p.Red), column(p.Green), column(p.Blue)
	m := Matrix{{r[0], g[0], b[0]}, {r[1], g[1], b[1]}, {r[2], g[2], b[2]}}
	s := m.Inverse().Apply(column(p.White))
	for i := range m {
		for j := range m[i] {
			m[i][j] *= s[j]
		}
	}
	return m
}
