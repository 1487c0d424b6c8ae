package residualfield_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"underlamp/science/residualfield"
)

// One more reading narrows by what scikit-learn 1.2.1 finds when it is refitted
// with that reading: root mean square of predict(return_std) over the targets.
// The grid has one kernel here, σ 0.04 and ℓ 0.3, so it must agree to the digits.
func TestNarrowingAgainstScikitLearn(t *testing.T) {
	f := single(t, 0.3)
	before, after := f.Narrowing(targets(false), targets(false), []float64{0.03, 0.03, 0.03, 0.03})
	same(t, "before", before, 0.02533583217904659, 1e-15)
	for c, want := range []float64{0.024766509459983873, 0.024634171989614814, 0.021916157323782794, 0.0237195731032747} {
		same(t, fmt.Sprint("after ", c), after[c], want, 1e-15)
	}
	same(t, "sd of a weighted sum", f.SumSD(targets(false), []float64{0.1, 0.4, 0.3, 0.2}), 0.014469065549252026, 1e-15)
}

// single is a field of one kernel with σ 0.04.
func single(t testing.TB, length float64) *residualfield.Field {
	t.Helper()
	f, err := residualfield.FitOne(residualfield.Kernel{SD: 0.04, Length: length}, six(false))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// The kernels are weighed by likelihood and prior: without readings σ is that of
// the half-normal prior of scale 0.05, whose root mean square is 0.05 (nodes a
// factor 2 apart: 6 %); readings that agree with the model make it small,
// readings that differ smoothly by 10 % make it large.
func TestAmplitudeFollowsReadings(t *testing.T) {
	grid := residualfield.Grid{MinLength: 0.1, MaxLength: 1.2}
	fit := func(d residualfield.Data) float64 {
		f, err := residualfield.Fit(d, grid)
		if err != nil {
			t.Fatal(err)
		}
		return f.Kernel().SD
	}
	none := fit(residualfield.Data{})
	same(t, "prior amplitude", none, 0.05, 0.003)
	quiet, loud := dense(30, 0), dense(30, 0.1)
	if a, b := fit(quiet), fit(loud); a > 0.015 || b < 0.05 {
		t.Errorf("amplitude %.3f for readings that agree, %.3f for a swing of 10 %%; prior %.3f", a, b, none)
	}
}

// dense is n readings of a smooth swing with an error of 1 %.
func dense(n int, swing float64) residualfield.Data {
	rng := rand.New(rand.NewPCG(1, 2))
	var d residualfield.Data
	for range n {
		p := at(1.2*rng.Float64(), 0.6*rng.Float64())
		d.Places = append(d.Places, p)
		d.Value = append(d.Value, swing*math.Sin(5*p.X)+0.01*rng.NormFloat64())
		d.Noise = append(d.Noise, 0.01)
	}
	return d
}

// Fields drawn from the prior of the grid are found again: the band of 90 % holds
// 90 % of the places (three standard errors of 400 fields of one place each: 4.5
// points). σ is drawn from the nodes as Fit weighs them, ℓ between the bounds.
func TestCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 7))
	inside, n := 0.0, 400
	for range n {
		var sd float64
		for { // half-normal, within the nodes
			sd = 0.05 * math.Abs(rng.NormFloat64())
			if sd > 0.0035 && sd < 0.226 {
				break
			}
		}
		k := residualfield.Kernel{SD: sd, Length: 0.1 * math.Pow(12, rng.Float64())}
		d := residualfield.Data{}
		var places []residualfield.Place
		for range 9 {
			places = append(places, at(1.2*rng.Float64(), 0.6*rng.Float64()))
		}
		truth := draw(k, places, rng)
		for i, v := range truth[:8] {
			d.Places = append(d.Places, places[i])
			d.Value = append(d.Value, v+0.03*rng.NormFloat64())
			d.Noise = append(d.Noise, 0.03)
		}
		f, err := residualfield.Fit(d, residualfield.Grid{MinLength: 0.1, MaxLength: 1.2})
		if err != nil {
			t.Fatal(err)
		}
		q := []residualfield.Target{{Place: places[8]}}
		if math.Abs(f.Mean(q[0])-truth[8]) < 1.645*f.SD(q)[0] {
			inside++
		}
	}
	share := inside / float64(n)
	t.Logf("the 90 %% band holds %.1f %%", 100*share)
	if math.Abs(share-0.9) > 0.045 {
		t.Errorf("the 90 %% band holds %.1f %%", 100*share)
	}
}

// draw makes values of a field by conditioning one place on the next.
func draw(k residualfield.Kernel, places []residualfield.Place, rng *rand.Rand) []float64 {
	var d residualfield.Data
	for _, p := range places {
		post, err := residualfield.Condition(k, d)
		v := 0.0
		if err == nil {
			q := residualfield.Target{Place: p}
			v = post.Mean(q) + post.SD(q)*rng.NormFloat64()
		}
		d.Places, d.Value, d.Noise = append(d.Places, p), append(d.Value, v), append(d.Noise, 1e-4)
	}
	return d.Value
}

// Correction is Mean of the field alone, at many places at once.
func TestCorrectionIsTheMean(t *testing.T) {
	f, err := residualfield.Fit(six(true), residualfield.Grid{MinLength: 0.1, MaxLength: 1.2})
	if err != nil {
		t.Fatal(err)
	}
	x, y := []float64{0.1, 0.5, 1.9}, []float64{0.5, 0.2, 0.3}
	place := residualfield.Place{Depth: -0.2, Mix: []float64{1}}
	for i, got := range f.Correction(nil, place, x, y) {
		place.X, place.Y = x[i], y[i]
		same(t, "correction", got, f.Mean(residualfield.Target{Place: place}), 1e-14)
	}
}

// A switched-off field leaves the parameters alone: one parameter of prior 0.15
// and six readings of slope 1 give the precision-weighted mean.
func TestOff(t *testing.T) {
	d := six(false)
	d.Prior = []float64{0.15}
	sum, weight := 0.0, 1/(0.15*0.15)
	for i, v := range d.Value {
		d.Slope = append(d.Slope, []float64{1})
		w := 1 / (d.Noise[i] * d.Noise[i])
		sum, weight = sum+w*v, weight+w
	}
	f, err := residualfield.Fit(d, residualfield.Grid{Off: true})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "parameter", f.Param()[0], sum/weight, 1e-12)
	same(t, "variance", f.ParamCov().At(0, 0), 1/weight, 1e-12)
	for _, v := range f.Correction(nil, at(0, 0), []float64{0.1}, []float64{0.1}) {
		same(t, "correction", v, 0, 0)
	}
}

// Many readings: the best kernel alone, from a sample, and still the truth.
func TestManyReadings(t *testing.T) {
	f, err := residualfield.Fit(dense(300, 0.1), residualfield.Grid{MinLength: 0.1, MaxLength: 1.2})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []float64{0.2, 0.6, 1} {
		same(t, "field", f.Mean(residualfield.Target{Place: at(x, 0.3)}), 0.1*math.Sin(5*x), 0.01)
	}
	if _, err := residualfield.Fit(dense(5, 0), residualfield.Grid{MinLength: 0}); err == nil {
		t.Error("a length of 0 gave no error")
	}
}

// A grower read six places of a shelf. One corner read 5 % more than lamps and
// walls explain, another 6 % less; the field believes a part of each.
func ExampleFit() {
	field, err := residualfield.Fit(six(false), residualfield.Grid{MinLength: 0.1, MaxLength: 1.2})
	if err != nil {
		panic(err)
	}
	for _, x := range []float64{0.15, 0.6, 1.05} {
		q := residualfield.Target{Place: at(x, 0.15)}
		fmt.Printf("%.2f m from the left: %+.0f %%\n", x, 100*math.Expm1(field.Mean(q)))
	}
	// Output:
	// 0.15 m from the left: +2 %
	// 0.60 m from the left: +1 %
	// 1.05 m from the left: -1 %
}

func BenchmarkFit(b *testing.B) {
	for _, n := range []int{6, 30, 120} {
		d := dense(n, 0.05)
		b.Run(fmt.Sprint(n, " readings"), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := residualfield.Fit(d, residualfield.Grid{MinLength: 0.1, MaxLength: 1.2}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkCorrection(b *testing.B) {
	f, err := residualfield.Fit(dense(30, 0.05), residualfield.Grid{MinLength: 0.1, MaxLength: 1.2})
	if err != nil {
		b.Fatal(err)
	}
	x, y, dst := make([]float64, 700), make([]float64, 700), make([]float64, 700)
	for i := range x {
		x[i], y[i] = 1.2*float64(i%35)/35, 0.6*float64(i/35)/20
	}
	b.Run("700 places", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			f.Correction(dst, at(0, 0), x, y)
		}
	})
}
