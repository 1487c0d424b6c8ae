package residualfield_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/residualfield"
)

// The six readings of the reference computation: ln(reading/model) on a shelf of
// 1.2 by 0.6 m.
func six(slopes bool) residualfield.Data {
	d := residualfield.Data{
		Value: []float64{0.05, -0.02, 0.03, -0.01, -0.06, 0.02},
		Noise: []float64{0.025, 0.03, 0.028, 0.03, 0.04, 0.035},
	}
	for _, p := range [][2]float64{{0.1, 0.1}, {0.3, 0.3}, {0.6, 0.3}, {0.9, 0.3}, {1.1, 0.1}, {0.6, 0.5}} {
		d.Places = append(d.Places, at(p[0], p[1]))
		if slopes {
			d.Slope = append(d.Slope, []float64{1, p[0] - 0.6})
		}
	}
	if slopes {
		d.Prior = []float64{0.15, 0.2}
	}
	return d
}

func at(x, y float64) residualfield.Place {
	return residualfield.Place{X: x, Y: y, Mix: []float64{1}}
}

func targets(slopes bool) []residualfield.Target {
	var out []residualfield.Target
	for _, p := range [][2]float64{{0.2, 0.2}, {0.6, 0.3}, {1.1, 0.5}, {0.85, 0.12}} {
		t := residualfield.Target{Place: at(p[0], p[1])}
		if slopes {
			t.Slope = []float64{1, p[0] - 0.6}
		}
		out = append(out, t)
	}
	return out
}

func condition(t testing.TB, k residualfield.Kernel, d residualfield.Data) *residualfield.Posterior {
	t.Helper()
	p, err := residualfield.Condition(k, d)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func same(t testing.TB, name string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.12g, want %.12g", name, got, want)
	}
}

// scikit-learn 1.2.1 (Debian 12): GaussianProcessRegressor(ConstantKernel(0.04²) ·
// RBF(0.3), alpha=noise², optimizer=None), predict with standard deviation and
// covariance, log_marginal_likelihood_value_. Half of the last printed digit.
func TestAgainstScikitLearn(t *testing.T) {
	p := condition(t, residualfield.Kernel{SD: 0.04, Length: 0.3}, six(false))
	same(t, "log marginal likelihood", p.LogMarginal, 10.715442212122, 1e-11)
	mean := []float64{0.018214719692, 0.01279497316, -0.008761066712, -0.009256792542}
	sd := []float64{0.019455073006, 0.019119842874, 0.033879051462, 0.025995368505}
	for i, target := range targets(false) {
		same(t, "mean", p.Mean(target), mean[i], 1e-12)
		same(t, "sd", p.SD(target), sd[i], 1e-12)
	}
	same(t, "covariance", p.Cov(targets(false)[0], targets(false)[1]), 5.08683722624e-05, 1e-15)
}

// Field and two parameters together: covariance by rbf_kernel and linear_kernel
// of scikit-learn 1.2.1, solved densely by numpy 1.24.2.
func TestParametersAgainstNumpy(t *testing.T) {
	p := condition(t, residualfield.Kernel{SD: 0.04, Length: 0.3}, six(true))
	same(t, "log marginal likelihood", p.LogMarginal, 8.680128768483, 1e-11)
	mean := []float64{0.022603095042, 0.01303553401, -0.034686142556, -0.011149366504}
	sd := []float64{0.020066709931, 0.019283166604, 0.044201897026, 0.026964623176}
	for i, target := range targets(true) {
		same(t, "mean", p.Mean(target), mean[i], 1e-12)
		same(t, "sd", p.SD(target), sd[i], 1e-12)
	}
	for j, want := range []float64{0.002120570421, -0.079472006808} {
		same(t, "parameter", p.Param()[j], want, 1e-12)
	}
}

// Without error the field goes through the readings, and knows them.
func TestExactWithoutNoise(t *testing.T) {
	d := six(false)
	d.Noise = make([]float64, len(d.Value))
	p := condition(t, residualfield.Kernel{SD: 0.04, Length: 0.2}, d)
	for i, place := range d.Places {
		target := residualfield.Target{Place: place}
		same(t, "mean", p.Mean(target), d.Value[i], 1e-9)
		same(t, "sd", p.SD(target), 0, 1e-6) // √ of a difference of 1e-16
	}
	d.Places[1] = d.Places[0]
	if _, err := residualfield.Condition(residualfield.Kernel{SD: 0.04, Length: 0.2}, d); err == nil {
		t.Error("two readings of one place without error gave no error")
	}
	d.Value[0] = math.NaN()
	if _, err := residualfield.Condition(residualfield.Kernel{SD: 0.04, Length: 0.2}, d); err == nil {
		t.Error("NaN gave no error")
	}
}

// Laws: far from all readings the prior comes back, in plan, in height and under
// other lamps; a reading never widens anything; covariance is symmetric; mirrored
// readings give mirrored fields.
func TestLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "n")
		f := func(lo, hi float64, name string) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		k := residualfield.Kernel{SD: f(0.005, 0.2, "sd"), Length: f(0.05, 1, "length")}
		var d, mirrored residualfield.Data
		for range n {
			p := residualfield.Place{X: f(0, 2, "x"), Y: f(0, 1, "y"), Depth: f(-1, 0, "depth"), Mix: []float64{1, 0}}
			d.Places = append(d.Places, p)
			d.Value = append(d.Value, f(-0.3, 0.3, "value"))
			d.Noise = append(d.Noise, f(0.005, 0.1, "noise"))
			p.X = 2 - p.X
			mirrored.Places = append(mirrored.Places, p)
		}
		mirrored.Value, mirrored.Noise = d.Value, d.Noise
		p, err := residualfield.Condition(k, d)
		if err != nil {
			t.Fatal(err)
		}
		m, err := residualfield.Condition(k, mirrored)
		if err != nil {
			t.Fatal(err)
		}
		a := residualfield.Target{Place: residualfield.Place{X: f(0, 2, "ax"), Y: f(0, 1, "ay"), Depth: f(-1, 0, "ad"), Mix: []float64{1, 0}}}
		b := residualfield.Target{Place: residualfield.Place{X: f(0, 2, "bx"), Y: f(0, 1, "by"), Depth: f(-1, 0, "bd"), Mix: []float64{0.6, 0.8}}}
		if sd := p.SD(a); sd > k.SD*(1+1e-9) {
			t.Errorf("sd %v above the prior %v", sd, k.SD)
		}
		if u, v := p.Cov(a, b), p.Cov(b, a); math.Abs(u-v) > 1e-12 {
			t.Errorf("covariance %v and %v", u, v)
		}
		am := a
		am.Place.X = 2 - am.Place.X
		if u, v := p.Mean(a), m.Mean(am); math.Abs(u-v) > 1e-9 {
			t.Errorf("mirrored: %v and %v", u, v)
		}
		for name, far := range map[string]residualfield.Place{
			"plan":   {X: 2 + 12*k.Length, Mix: []float64{1, 0}},
			"height": {Depth: -12, Mix: []float64{1, 0}},
			"lamps":  {Mix: []float64{0, 1}},
		} {
			q := residualfield.Target{Place: far}
			if math.Abs(p.Mean(q)) > 1e-9 || math.Abs(p.SD(q)-k.SD) > 1e-9 {
				t.Errorf("far in %s: %v ± %v, want 0 ± %v", name, p.Mean(q), p.SD(q), k.SD)
			}
		}
	})
}
