package pinhole

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

var (
	labelMarks = []Point{{4, 4}, {56, 4}, {56, 31}, {4, 31}}
	labelSeen  = []Point{{812.5, 640.25}, {1105.75, 655.875}, {1088.25, 803.125}, {801.625, 790.75}}
	eightMarks = []Point{{0, 0}, {60, 0}, {60, 35}, {0, 35}, {30, 0}, {60, 17}, {30, 35}, {0, 17}}
	eightSeen  = []Point{{100.25, 99.625}, {701.25, 131.375}, {668.75, 452.875}, {121.75, 430.25}, {409.25, 116.25}, {684.125, 287.25}, {401.125, 441.375}, {111.625, 261.75}}
)

// Figures of OpenCV 4.6.0; testdata/opencv.py made them.
func TestHomographyAgainstOpenCV(t *testing.T) {
	for _, c := range []struct {
		name     string
		from, to []Point
		want     Homography
		slack    float64 // relative to the size of each entry; where both search, their stops differ
	}{
		{"four", []Point{{5, 1}, {220, 1}, {220, 411}, {5, 411}}, []Point{{375, 20}, {420, 20}, {420, 300}, {450, 290}},
			Homography{{0.31243763040914335, -2.548610481115242, 374.1758142066589}, {0.0049593274668109965, -1.1043978751499373, 20.983035471287394}, {0.0002479663733405888, -0.006068120193131529, 1}}, 1e-8},
		{"label", labelMarks, labelSeen,
			Homography{{6.096637971752245, 0.3214230794588752, 791.03040635595}, {0.5559296694963325, 6.319337243243059, 616.0606209909485}, {0.0003871083142225446, 0.0009060149352526705, 1}}, 1e-8},
		{"eight", eightMarks, eightSeen,
			Homography{{10.42943200266507, 0.8320897156423813, 102.47543411782837}, {0.651624702044514, 10.623810647864978, 97.15314073198047}, {0.0006617242047113471, 0.0025844482602912526, 1}}, 1e-5},
	} {
		h, err := Estimate(c.from, c.to)
		if err != nil {
			t.Fatal(err)
		}
		h = h.Refine(c.from, c.to)
		for i := range h {
			for j := range h[i] {
				if d := math.Abs(h[i][j] - c.want[i][j]); d > c.slack*math.Abs(c.want[i][j]) {
					t.Errorf("%s [%d][%d] = %.12g, OpenCV has %.12g", c.name, i, j, h[i][j], c.want[i][j])
				}
			}
		}
	}
}

// HartleyZisserman2004, section 2.3: a homography maps (0, 0), (1, 0), (1, 1), (0, 1) to any
// four points of which no three lie on a line; the map back is its inverse.
func TestHomographyTakesPointsOver(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := []Point{{0, 0}, {50, 0}, {50, 30}, {0, 30}}
		to := make([]Point, 4)
		for i, c := range []Point{{0, 0}, {400, 0}, {400, 300}, {0, 300}} {
			to[i] = Point{c.X + rapid.Float64Range(-80, 80).Draw(t, "x"), c.Y + rapid.Float64Range(-80, 80).Draw(t, "y")}
		}
		h, err := Estimate(from, to)
		if err != nil {
			t.Fatal(err)
		}
		back := h.Inverse()
		for i := range from {
			p := h.Apply(from[i])
			q := back.Apply(p)
			if math.Hypot(p.X-to[i].X, p.Y-to[i].Y) > 1e-6 || math.Hypot(q.X-from[i].X, q.Y-from[i].Y) > 1e-6 {
				t.Fatalf("%v came to %v and back to %v", from[i], p, q)
			}
		}
		// The Jacobian is what a small step does.
		p := Point{20, 10}
		j := h.Jacobian(p)
		const e = 1e-5
		a, b := h.Apply(Point{p.X + e, p.Y}), h.Apply(Point{p.X - e, p.Y})
		if d := math.Abs((a.X-b.X)/(2*e) - j[0][0]); d > 1e-4*(1+math.Abs(j[0][0])) {
			t.Fatalf("slope %g, want %g", j[0][0], (a.X-b.X)/(2*e))
		}
	})
}

func TestPointsThatFixNoPlane(t *testing.T) {
	for name, p := range map[string][]Point{
		"three":    {{0, 0}, {1, 0}, {0, 1}},
		"one line": {{0, 0}, {1, 0}, {2, 0}, {3, 0}},
		"one spot": {{1, 1}, {1, 1}, {1, 1}, {1, 1}},
	} {
		if _, err := Estimate(p, p); !errors.Is(err, ErrPoints) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
