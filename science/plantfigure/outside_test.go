package plantfigure

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"
)

type outside struct {
	Libraries map[string]string
	Masks     []struct {
		Name          string
		Rows          []string
		Pieces4       []int
		Pieces8       []int
		SquaredInside []int32 `json:"squared_inside"`
		OpencvDeepest float64 `json:"opencv_deepest"`
		ContourArea   float64 `json:"contour_area"`
		ContourLength float64 `json:"contour_length"`
		HullArea      float64 `json:"hull_area"`
		Feret         float64
		Narrow        float64
	}
	Map struct {
		Rows         [][]float64
		Rings        int
		Area, Length float64
	}
	Otsu []struct {
		Histogram       []int
		Opencv, Skimage int
	}
}

func reference(t *testing.T) outside {
	t.Helper()
	text, err := os.ReadFile("testdata/reference.json")
	if err != nil {
		t.Fatal(err)
	}
	var o outside
	if err := json.Unmarshal(text, &o); err != nil {
		t.Fatal(err)
	}
	return o
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, outside %v", what, got, want)
	}
}

// Figures of SciPy 1.10.1, scikit-image 0.19.3 and OpenCV 4.6.0 (Debian 12) on the same
// masks; testdata/reference.py makes them. Sizes and squared distances are whole numbers
// and must agree exactly, lengths and areas of polygons to rounding.
func TestShapesAsGeneralLibraries(t *testing.T) {
	for _, m := range reference(t).Masks {
		h, w := len(m.Rows), len(m.Rows[0])
		mask := make([]bool, 0, w*h)
		share := make([]float32, 0, w*h)
		for _, row := range m.Rows {
			for _, c := range row {
				mask = append(mask, c == '#')
				share = append(share, float32(b2i(c == '#')))
			}
		}
		for _, k := range []struct {
			diagonal bool
			want     []int
		}{{false, m.Pieces4}, {true, m.Pieces8}} {
			labels, pieces := label(mask, w, h, k.diagonal)
			var got []int
			for i, p := range pieces {
				got = append(got, p.cells)
				if labels[p.first] != int32(i+1) {
					t.Errorf("%s: piece %d is not where it is said to begin", m.Name, i+1)
				}
			}
			slices.Sort(got)
			if !slices.Equal(got, k.want) {
				t.Errorf("%s, diagonal %v: pieces %v, outside %v", m.Name, k.diagonal, got, k.want)
			}
		}
		got := squaredDistance(mask, w, h, false)
		if m.SquaredInside == nil {
			if got[0] != far {
				t.Errorf("%s has no background and a distance to it", m.Name)
			}
		} else {
			if !slices.Equal(got, m.SquaredInside) {
				t.Errorf("%s: squared distances differ", m.Name)
			}
			near(t, m.Name+" deepest, OpenCV", math.Sqrt(float64(slices.Max(got))), m.OpencvDeepest, 1e-5)
		}
		rings := contours(share, w, h)
		var area, length float64
		var points []Point
		for _, r := range rings {
			area += r.area()
			length += r.length()
			points = append(points, r...)
		}
		near(t, m.Name+" area of contours", area, m.ContourArea, 1e-9)
		near(t, m.Name+" length of contours", length, m.ContourLength, 1e-9)
		hl := hull(points)
		near(t, m.Name+" area of hull", hl.area(), m.HullArea, 1e-9)
		most, least := feret(hl)
		near(t, m.Name+" Feret", most, m.Feret, 1e-9)
		near(t, m.Name+" least Feret", least, m.Narrow, 1e-9)
	}
}

// scikit-image 0.19.3, find_contours on a smooth map.
func TestContoursOfMap(t *testing.T) {
	m := reference(t).Map
	h, w := len(m.Rows), len(m.Rows[0])
	var share []float32
	for _, r := range m.Rows {
		for _, v := range r {
			share = append(share, float32(v))
		}
	}
	rings := contours(share, w, h)
	var area, length float64
	for _, r := range rings {
		area += r.area()
		length += r.length()
	}
	if len(rings) != m.Rings {
		t.Errorf("%d rings, outside %d", len(rings), m.Rings)
	}
	near(t, "area", area, m.Area, 1e-3) // single precision of the shares
	near(t, "length", length, m.Length, 1e-3)
}

// OpenCV 4.6.0 and scikit-image 0.19.3 take the first of equally good cuts; ours lies in
// the middle of them, so between the two no value occurs.
func TestOtsuAsGeneralLibraries(t *testing.T) {
	for i, o := range reference(t).Otsu {
		cut, share := otsu(o.Histogram)
		if o.Opencv != o.Skimage || cut < o.Opencv {
			t.Errorf("histogram %d: cut %d, outside %d and %d", i, cut, o.Opencv, o.Skimage)
		}
		for k := o.Opencv + 1; k <= cut; k++ {
			if o.Histogram[k] > 0 {
				t.Errorf("histogram %d: cut %d, outside %d, and %d occurs", i, cut, o.Opencv, k)
			}
		}
		if share <= 0.5 || share > 1 {
			t.Errorf("histogram %d: share of variance %v", i, share)
		}
	}
}

// Ottosson2020, table of pairs of XYZ and Oklab, to its three decimals; XYZ to linear sRGB
// with the matrix of IEC61966. And green #008000 after W3C2022 (CSS Color 4, example of
// oklab()), to its five digits.
func TestOklab(t *testing.T) {
	toRGB := func(x, y, z float64) (r, g, b float64) {
		return 3.2404542*x - 1.5371385*y - 0.4985314*z, -0.9692660*x + 1.8760108*y + 0.0415560*z, 0.0556434*x - 0.2040259*y + 1.0572252*z
	}
	for _, c := range [][6]float64{
		{0.950, 1.000, 1.089, 1.000, 0.000, 0.000},
		{1, 0, 0, 0.450, 1.236, -0.019},
		{0, 1, 0, 0.922, -0.671, 0.263},
		{0, 0, 1, 0.153, -1.415, -0.449},
	} {
		l, a, b := oklab(toRGB(c[0], c[1], c[2]))
		near(t, "L", l, c[3], 0.002) // the table's own matrices of XYZ differ in the fourth decimal
		near(t, "a", a, c[4], 0.002)
		near(t, "b", b, c[5], 0.002)
	}
	g := 0.21586 // of 128/255, W3C2022, color(srgb-linear 0 0.21586 0)
	l, a, b := oklab(0, g, 0)
	near(t, "green L", l, 0.51975, 1e-5)
	near(t, "green a", a, -0.1403, 5e-5)
	near(t, "green b", b, 0.10768, 1e-5)
}

// KarcherRichardson2003: the index is 1 for a hue of 120 degrees, no saturation and no
// brightness, and falls by a third for each that is at its other end. Worked by hand.
func TestDGCI(t *testing.T) {
	lin := func(v float64) float64 {
		if v <= 0.04045 {
			return v / 12.92
		}
		return math.Pow((v+0.055)/1.055, 2.4)
	}
	for _, c := range []struct{ r, g, b, want float64 }{
		{0, 1, 0, (1 + 0 + 0) / 3.0},              // hue 120, S 1, B 1
		{1, 1, 0, 0},                              // hue 60, S 1, B 1
		{0.25, 0.5, 0.25, (1 + 0.5 + 0.5) / 3.0},  // hue 120, S 0.5, B 0.5
		{0.45, 0.6, 0.3, (0.5 + 0.5 + 0.4) / 3.0}, // hue 90, S 0.5, B 0.6
	} {
		near(t, "DGCI", DGCI(lin(c.r), lin(c.g), lin(c.b)), c.want, 1e-9)
	}
}
