package allometry

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/reference"
	"underlamp/science/stat"
)

// usual is a plant of an area whose height and width are just usual, so that only the area
// tells its mass.
func usual(area float64) Seen {
	return Seen{Area: area, Height: usualHeight * math.Sqrt(area), Width: math.Sqrt(400 * area / (math.Pi * usualRound))}
}

type predicted struct{ Area, Median, Q05, Q95 float64 }

func fixture(t *testing.T) (o struct {
	Area, Grams  []float64
	Level        float64
	LevelSD      float64 `json:"level_sd"`
	Exponent     float64
	ExponentSD   float64 `json:"exponent_sd"`
	Predicted    []predicted
	LeastSquares struct {
		Slope     float64
		Predicted []predicted
	} `json:"least_squares"`
}) {
	t.Helper()
	text, err := os.ReadFile("testdata/reference.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &o); err != nil {
		t.Fatal(err)
	}
	return o
}

func weighed(area, grams []float64) []Weighed {
	var out []Weighed
	for i := range area {
		out = append(out, Weighed{Seen: usual(area[i]), Grams: grams[i], GramsSD: 1e-9})
	}
	return out
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, outside %v", what, got, want)
	}
}

// The posterior summed over a grid with the densities of SciPy 1.10.1, and 200 000 draws of
// the mass; testdata/reference.py. Tolerances: a tenth of a step of the grid, and four
// standard errors of the quantiles of the draws (1.5 %).
func TestLearnAsBruteForce(t *testing.T) {
	o := fixture(t)
	c, err := Lettuce().Learn(weighed(o.Area, o.Grams))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "level", c.Mean[0], o.Level, 0.001)
	near(t, "exponent", c.Mean[1], o.Exponent, 0.0015)
	for _, p := range o.Predicted {
		m, err := c.Mass(usual(p.Area), 0.9)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "median", m.Grams/p.Median, 1, 0.005)
		near(t, "5 %", m.Lower/p.Q05, 1, 0.015)
		near(t, "95 %", m.Upper/p.Q95, 1, 0.015)
	}
}

// A prior that says nothing gives least squares and its prediction intervals: linregress
// and t of SciPy 1.10.1.
func TestNoPriorIsLeastSquares(t *testing.T) {
	o := fixture(t)
	c := Lettuce()
	for i := range terms {
		for j := range terms {
			c.Precision[i][j] = 0
		}
		c.Precision[i][i] = 1e-9
		if i > 1 {
			c.Precision[i][i] = 1e9 // no exponents of height and compactness
		}
	}
	c.Freedom, c.Sum = 1e-9, 1e-9 // the two coefficients take their degrees of freedom below
	c, err := c.Learn(weighed(o.Area, o.Grams))
	if err != nil {
		t.Fatal(err)
	}
	c.Freedom -= 2
	near(t, "slope", c.Mean[1], o.LeastSquares.Slope, 1e-6)
	for _, p := range o.LeastSquares.Predicted {
		m, err := c.Mass(usual(p.Area), 0.9)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "median", m.Grams, p.Median, 1e-4)
		near(t, "5 %", m.Lower, p.Q05, 1e-4)
		near(t, "95 %", m.Upper, p.Q95, 1e-4)
	}
}

// WUR2021: plants in classes of mass with the mean width of each. The class of 50 to 100 g
// set the level; the others are held against the band of 90 %, with the filling of the
// crown that is assumed there.
func TestClasses(t *testing.T) {
	table := reference.MustLoad("wur2021_lettuce_size_classes")
	for i := range table.Rows {
		from, to, d := table.Float(i, "fresh_from_g"), table.Float(i, "fresh_to_g"), table.Float(i, "mean_diameter_cm")
		if from < 15 {
			continue
		}
		m, err := Lettuce().Mass(Seen{Area: 0.75 * math.Pi / 4 * d * d, AreaSD: 0.1 * math.Pi / 4 * d * d}, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		mid := math.Sqrt(from * to)
		t.Logf("%g to %g g: %.0f g (%.0f to %.0f)", from, to, m.Grams, m.Lower, m.Upper)
		if mid < m.Lower || mid > m.Upper {
			t.Errorf("class of %g to %g g: %.0f to %.0f g", from, to, m.Lower, m.Upper)
		}
	}
}

// Cultivars drawn from the prior: bands of 90 % hold the mass of the next plant in 90 % of
// cases, whatever number was weighed before, for plants with and without a height.
func TestBandsHold(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 8))
	for _, n := range []int{0, 3, 12} {
		held, of, width := 0, 0, 0.0
		for range 500 {
			variance := 0.0
			for range 6 {
				z := rng.NormFloat64()
				variance += z * z
			}
			variance = plantWeight * plantVar / variance
			prior := Lettuce()
			var b [terms]float64
			for i := range b {
				b[i] = prior.Mean[i] + rng.NormFloat64()*math.Sqrt(variance/prior.Precision[i][i])
			}
			plant := func() Weighed {
				area := 150 * math.Exp(rng.Float64()*math.Log(4))
				h, r := heightSD*rng.NormFloat64(), roundSD*rng.NormFloat64()
				w := Weighed{Seen: Seen{Area: area, Height: usualHeight * math.Sqrt(area) * math.Exp(h), Width: math.Sqrt(400 * area / (math.Pi * usualRound * math.Exp(r)))}}
				w.Grams = math.Exp(b[0] + b[1]*math.Log(area/standArea) + b[2]*h + b[3]*r + math.Sqrt(variance)*rng.NormFloat64())
				if rng.IntN(2) == 0 {
					w.Height = 0
				}
				if rng.IntN(2) == 0 {
					w.Width = 0
				}
				return w
			}
			var plants []Weighed
			for range n {
				plants = append(plants, plant())
			}
			c, err := prior.Learn(plants)
			if err != nil {
				t.Fatal(err)
			}
			next := plant()
			m, err := c.Mass(next.Seen, 0.9)
			if err != nil {
				t.Fatal(err)
			}
			of++
			width += math.Log(m.Upper / m.Lower)
			if next.Grams >= m.Lower && next.Grams <= m.Upper {
				held++
			}
		}
		share := float64(held) / float64(of)
		t.Logf("%d weighed: %.1f %% held, limits a factor %.2f apart", n, 100*share, math.Exp(width/float64(of)))
		if share < 0.86 || share > 0.94 { // three standard errors
			t.Errorf("%d weighed: bands of 90 %% hold %.1f %%", n, 100*share)
		}
	}
}

func TestRefusesOutside(t *testing.T) {
	c := Lettuce()
	for _, area := range []float64{20, 900} {
		if _, err := c.Mass(Seen{Area: area}, 0.9); stat.Refused(err) == nil {
			t.Errorf("%g cm²: %v", area, err)
		}
	}
	c, err := c.Learn([]Weighed{{Seen: Seen{Area: 20}, Grams: 1.5}, {Seen: Seen{Area: 60}, Grams: 6}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Mass(Seen{Area: 20}, 0.9); err != nil {
		t.Error(err)
	}
	for _, s := range []Seen{{}, {Area: math.NaN()}, {Area: 200, Height: -1}, {Area: 200, Width: math.Inf(1)}} {
		if _, err := c.Mass(s, 0.9); err == nil {
			t.Errorf("%+v was taken", s)
		}
	}
	if _, err := c.Learn([]Weighed{{Seen: Seen{Area: 200}}}); err == nil {
		t.Error("a plant without mass was learned from")
	}
	if _, err := (Curve{}).Mass(Seen{Area: 200}, 0.9); err == nil {
		t.Error("no curve told a mass")
	}
}

// Plants in any order and in any parts teach the same; JSON keeps a curve; and another
// cultivar is less sure.
func TestLearnInParts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 10).Draw(t, "n")
		var plants []Weighed
		for range n {
			plants = append(plants, Weighed{Seen: usual(rapid.Float64Range(30, 800).Draw(t, "area")), Grams: rapid.Float64Range(1, 400).Draw(t, "g"), GramsSD: 0.5})
		}
		k := rapid.IntRange(0, n).Draw(t, "k")
		all, err := Lettuce().Learn(plants)
		if err != nil {
			t.Fatal(err)
		}
		part, err := Lettuce().Learn(plants[k:])
		if err != nil {
			t.Fatal(err)
		}
		if part, err = part.Learn(plants[:k]); err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(part)
		if err != nil {
			t.Fatal(err)
		}
		var back Curve
		if err := json.Unmarshal(text, &back); err != nil {
			t.Fatal(err)
		}
		a, err1 := all.Mass(usual(300), 0.9)
		b, err2 := back.Mass(usual(300), 0.9)
		if err1 != nil || err2 != nil || math.Abs(a.Lower/b.Lower-1) > 1e-6 || math.Abs(a.Upper/b.Upper-1) > 1e-6 {
			t.Fatalf("%v %v, %v %v", a, err1, b, err2)
		}
		other, err := all.ForAnother()
		if err != nil {
			t.Fatal(err)
		}
		if o, err := other.Mass(usual(300), 0.9); err != nil || o.CurveSD <= a.CurveSD || math.Abs(o.LogMean-a.LogMean) > 1e-9 {
			t.Fatalf("another cultivar: %v, %v", o, err)
		}
	})
}

func TestDoubtful(t *testing.T) {
	o := fixture(t)
	plants := weighed(o.Area, o.Grams)
	if d, err := Lettuce().Doubtful(plants); err != nil || len(d) > 0 {
		t.Errorf("%v, %v", d, err)
	}
	plants[4].Grams *= 10 // a slip of the pen
	if d, err := Lettuce().Doubtful(plants); err != nil || len(d) != 1 || d[4] < 3 {
		t.Errorf("%v, %v", d, err)
	}
}

func BenchmarkLearn100(b *testing.B) {
	var plants []Weighed
	for i := range 100 {
		plants = append(plants, Weighed{Seen: usual(150 + 4*float64(i)), Grams: 30 + float64(i)})
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Lettuce().Learn(plants); err != nil {
			b.Fatal(err)
		}
	}
}
