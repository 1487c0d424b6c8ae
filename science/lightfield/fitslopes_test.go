package lightfield_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/lightfield"
)

// The straight lines solve to the fit itself: Sᵀ N⁻¹ r = P⁻¹ θ at the mode (to the
// step at which the search stops), and (Sᵀ Spread⁻² S + P⁻¹)⁻¹ is Cov, by an
// inverse of gonum.
func TestLinearIsTheFit(t *testing.T) {
	s, lamps, prior := bench()
	f, err := lightfield.Fit(s, lamps, readingsOf(t, s, lamps, rand.New(rand.NewPCG(5, 6)), 1.04), prior)
	if err != nil {
		t.Fatal(err)
	}
	l := f.Linear()
	n := len(f.Param)
	h := mat.NewDense(n, n, nil)
	for j := range n {
		down := -f.Param[j] / (l.Prior[j] * l.Prior[j])
		h.Set(j, j, 1/(l.Prior[j]*l.Prior[j]))
		for i, r := range l.Residual {
			down += l.Slope[i][j] * r / (l.Noise[i] * l.Noise[i])
			for k := range n {
				h.Set(j, k, h.At(j, k)+l.Slope[i][j]*l.Slope[i][k]/(l.Spread[i]*l.Spread[i]))
			}
		}
		// In standard deviations of the parameter.
		if step := down * f.Cov.At(j, j) / math.Sqrt(f.Cov.At(j, j)); math.Abs(step) > 0.02 {
			t.Errorf("%s: the lines pull %.3f standard deviations away from the fit", f.ParamNames[j], step)
		}
	}
	var inverse mat.Dense
	if err := inverse.Inverse(h); err != nil {
		t.Fatal(err)
	}
	for j := range n {
		for k := range n {
			if d := inverse.At(j, k) - f.Cov.At(j, k); math.Abs(d) > 1e-9 {
				t.Errorf("Cov %d,%d: %v, want %v", j, k, f.Cov.At(j, k), inverse.At(j, k))
			}
		}
	}
	moved := f.Moved(f.Param, f.Cov)
	for i := range moved.Lamps {
		if moved.Lamps[i] != f.Lamps[i] {
			t.Errorf("lamp %d moved without cause: %+v", i, moved.Lamps[i])
		}
	}
}

// Under a point lamp of exponent m in the open the light on its axis is
// Φ (m+1)/(2π d²): ln E rises by 1 with ln Φ and by m/(m+1) with ln m; 45° aside,
// where cos is √½, by m/(m+1) + m ln √½. Differences of ± 0.02 err by 2e-4 of that.
// Raising the lamp changes nothing on the axis.
func TestSlopesOfAPointLamp(t *testing.T) {
	const m = 2.0
	lamp := lightfield.Lamp{Centre: lightfield.Point{X: 0.5, Y: 0.5, Z: 0.6}, Flux: 100, Exponent: m}
	f, err := lightfield.Fit(open(2, 1, 2), []lightfield.Lamp{lamp}, nil, lightfield.Prior{ExponentSD: 0.2})
	if err != nil {
		t.Fatal(err)
	}
	s, err := f.Slopes()
	if err != nil {
		t.Fatal(err)
	}
	for _, z := range []float64{0.6, 1.1} {
		lamps := append([]lightfield.Lamp(nil), f.Lamps...)
		lamps[0].Centre.Z = z
		at, err := s.At(lamps, []lightfield.Point{{X: 0.5, Y: 0.5}, {X: 0.5 + z, Y: 0.5}})
		if err != nil {
			t.Fatal(err)
		}
		got := at.Log([]float64{0.7})
		want := [][]float64{{1, m / (m + 1), 0}, {1, m/(m+1) + m*math.Log(math.Sqrt(0.5)), 0}}
		for i := range want {
			for j, w := range want[i] {
				if math.Abs(got[i][j]-w) > 2e-4 {
					t.Errorf("lamp at %g m, point %d: slope by %s %.5f, want %.5f", z, i, f.ParamNames[j], got[i][j], w)
				}
			}
		}
		if f.WithMeter(got)[0][2] != 1 {
			t.Error("a reading does not follow its meter")
		}
	}
}

// What a reading is expected to spread by, by hand: 2.5 % of its own, and 1 cm of
// height changes 1/d² by 2·0.01/d; information (ν+1)/(ν+3) = 5/7 (Lange, Little and
// Taylor 1989). On the axis a step aside changes nothing. The centred difference of
// 3 mm errs by (3 mm/d)², 1e-4.
func TestExpected(t *testing.T) {
	lamp := lightfield.Lamp{Centre: lightfield.Point{X: 0.5, Y: 0.5, Z: 0.5}, Flux: 100, Exponent: 1}
	field := solve(t, open(1, 1, 1), lamp)
	light := func(pts []lightfield.Point) []float64 { return field.PPFD(nil, []float64{1}, pts) }
	for _, d := range []float64{0.2, 0.3, 0.5} {
		got := lightfield.Expected([]lightfield.Point{{X: 0.5, Y: 0.5, Z: 0.5 - d}}, light)[0]
		want := math.Sqrt((0.025*0.025 + math.Pow(2*0.01/d, 2)) * 7 / 5)
		if relative(got, want) > 1e-3 {
			t.Errorf("%g m below: %v, want %v", d, got, want)
		}
	}
	if got := lightfield.Expected([]lightfield.Point{{X: 0.5, Y: 0.5, Z: 0.6}}, light)[0]; !math.IsInf(got, 1) {
		t.Errorf("in the dark: %v", got)
	}
	// 0.3 m aside and 0.3 m down under exponent 1, E ~ d²/(d²+r²)²: ln E falls by
	// 4r/(d²+r²) = 2/r a metre aside, and along d by 2/d − 4d/(d²+r²) = 0.
	got := lightfield.Expected([]lightfield.Point{{X: 0.8, Y: 0.5, Z: 0.2}}, light)[0]
	want := math.Sqrt((0.025*0.025 + math.Pow(0.01*2/0.3, 2)) * 7 / 5)
	if relative(got, want) > 2e-3 {
		t.Errorf("aside: %v, want %v", got, want)
	}
}
