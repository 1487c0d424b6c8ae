package srgb

import (
	"math"
	"testing"
)

// The curve at the values of IEC 61966-2-1, and back.
func TestCurve(t *testing.T) {
	// The two pieces meet within the rounding of the standard's constants.
	if d := math.Abs(0.04045/12.92 - math.Pow((0.04045+0.055)/1.055, 2.4)); d > 1e-7 {
		t.Errorf("the pieces of the curve part by %g", d)
	}
	for i := range 256 {
		if got := Byte(Linear(float64(i) / 255)); got != uint8(i) {
			t.Errorf("byte %d comes back as %d", i, got)
		}
	}
	// Middle grey of 18.4187 % (CIE L* = 50) is 118.9 to 119 of 255 (from memory; the
	// luminance is exact: Y = ((50+16)/116)³).
	if got := 255 * Encoded(math.Pow(66.0/116, 3)); math.Abs(got-118.9) > 0.1 {
		t.Errorf("L* 50 is %.2f of 255, want 118.9", got)
	}
	if Byte(math.NaN()) != 0 || Byte(-1) != 0 || Byte(2) != 255 {
		t.Error("values outside are not clipped")
	}
}

// IEC 61966-2-1 prints the matrix from CIE XYZ to linear sRGB with four decimals, and its
// inverse.
func TestMatrixOfTheStandard(t *testing.T) {
	to := Standard().ToXYZ()
	want := Matrix{{0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}}
	back := Matrix{{3.2406, -1.5372, -0.4986}, {-0.9689, 1.8758, 0.0415}, {0.0557, -0.2040, 1.0570}}
	inverse := to.Inverse()
	for i := range want {
		for j := range want[i] {
			if math.Abs(to[i][j]-want[i][j]) > 0.00006 {
				t.Errorf("to XYZ [%d][%d] = %.5f, want %.4f", i, j, to[i][j], want[i][j])
			}
			// The standard inverted its rounded matrix, which moves the fourth decimal.
			if math.Abs(inverse[i][j]-back[i][j]) > 0.0005 {
				t.Errorf("from XYZ [%d][%d] = %.5f, want %.4f", i, j, inverse[i][j], back[i][j])
			}
		}
	}
	one := to.Times(inverse)
	for i := range one {
		for j := range one[i] {
			if math.Abs(one[i][j]-Identity()[i][j]) > 1e-12 {
				t.Errorf("matrix times inverse [%d][%d] = %g", i, j, one[i][j])
			}
		}
	}
}
