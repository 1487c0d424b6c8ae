package ratio_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/ratio"
)

// vertex fits y on run and a parabola and returns the limits of its vertex.
func vertex(t *testing.T, y, x []float64, block *stat.Factor, level float64) ratio.Limits {
	t.Helper()
	sq := make([]float64, len(x))
	for i, v := range x {
		sq[i] = v * v
	}
	var terms []linear.Term
	if block != nil {
		terms = append(terms, linear.Term{linear.By(*block)})
	}
	terms = append(terms, linear.Term{linear.Of("x", x)}, linear.Term{linear.Of("x²", sq)})
	f, err := linear.FitModel(y, terms...)
	if err != nil {
		t.Fatal(err)
	}
	a, b := f.Column(len(terms)-2, 0), f.Column(len(terms)-1, 0)
	s2, err := f.Variance()
	if err != nil {
		t.Fatal(err)
	}
	b1, _ := f.Value(a)
	b2, _ := f.Value(b)
	l, err := ratio.Vertex(b1, b2, s2*f.Covariance(a, a), s2*f.Covariance(a, b), s2*f.Covariance(b, b), dist.TQuantile((1+level)/2, float64(f.DF)), level)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// R 4.2.2 by the quadratic formula, own code, on lamp means of the synthetic trial.
func TestVertex(t *testing.T) {
	c := rset.Load(t, "lamp-a-mass")
	d := c.Table()
	var y, x []float64
	var run []string
	// Means by unit, in the order of the data.
	sum, n := map[string]float64{}, map[string]float64{}
	var order []string
	dli, rn := map[string]float64{}, map[string]string{}
	for i, m := range d.Numbers("fresh_mass_g") {
		k := d.Text("run")[i] + ":" + d.Text("lamp")[i]
		if n[k] == 0 {
			order = append(order, k)
			dli[k], rn[k] = d.Numbers("dli")[i], d.Text("run")[i]
		}
		sum[k] += m
		n[k]++
	}
	for _, k := range order {
		y, x, run = append(y, sum[k]/n[k]), append(x, dli[k]), append(run, rn[k])
	}
	block := stat.NewFactor("run", run)
	for path, level := range map[string]float64{"optimum_fieller_90": 0.90, "optimum_fieller_95": 0.95} {
		l := vertex(t, y, x, &block, level)
		if l.Kind != ratio.Bounded {
			t.Fatalf("%+v", l)
		}
		rset.Near(t, "vertex", l.Value, c.Number(path+"/estimate"), 1e-9, 0)
		rset.Near(t, "g", l.G, c.Number(path+"/g"), 1e-8, 0)
		rset.Near(t, "lower", l.Lower, c.Number(path+"/lower"), 1e-8, 0)
		rset.Near(t, "upper", l.Upper, c.Number(path+"/upper"), 1e-8, 0)
	}
}

// ToothGrowth of R: with vitamin C the curvature may be 0, and the set is two rays.
func TestRays(t *testing.T) {
	c := rset.Load(t, "vertex-toothgrowth")
	d := c.Table()
	for path, level := range map[string]float64{"OJ_95": 0.95, "OJ_90": 0.90, "VC_95": 0.95} {
		var y, x []float64
		for i, s := range d.Text("supp") {
			if s == path[:2] {
				y, x = append(y, d.Numbers("len")[i]), append(x, d.Numbers("dose")[i])
			}
		}
		l := vertex(t, y, x, nil, level)
		rset.Near(t, path+" g", l.G, c.Number(path+"/g"), 1e-8, 0)
		rset.Near(t, path+" lower", l.Lower, c.Number(path+"/lower"), 1e-7, 0)
		rset.Near(t, path+" upper", l.Upper, c.Number(path+"/upper"), 1e-7, 0)
		if rays := l.Kind == ratio.TwoRays; rays != (path == "VC_95") {
			t.Errorf("%s: kind %v", path, l.Kind)
		}
	}
}

// The limits are those of a test: at each of them numerator − x·denominator is
// exactly t standard errors from 0, whatever the shape.
func TestLimitsAreTheTest(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	kinds := map[ratio.Kind]int{}
	for range 500 {
		num, den := r.NormFloat64(), r.NormFloat64()
		a, b := math.Exp(r.NormFloat64()), math.Exp(r.NormFloat64())
		c := (2*r.Float64() - 1) * math.Sqrt(a*b)
		l, err := ratio.Fieller(num, den, a, c, b, 1, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		kinds[l.Kind]++
		if l.Kind == ratio.WholeLine {
			if _, err := l.Interval(); stat.Refused(err) == nil {
				t.Error("the whole line is no interval")
			}
			continue
		}
		for _, x := range []float64{l.Lower, l.Upper} {
			z2 := (num - x*den) * (num - x*den) / (a - 2*x*c + x*x*b)
			if math.Abs(z2-1) > 1e-6 {
				t.Errorf("%+v: %g", l, z2)
			}
		}
		if in := l.Lower <= l.Value && l.Value <= l.Upper; in != (l.Kind == ratio.Bounded) {
			t.Errorf("value on the wrong side: %+v", l)
		}
	}
	if len(kinds) != 3 {
		t.Errorf("not every shape was met: %v", kinds)
	}
}

// For a true parabola and normal means the coverage is exactly the level
// (plan by simulation: design with levels 8 to 23, four runs, unit SD 6 and plant SD 14
// of 8 plants; optimum 20.3125). 4000 trials, 4 standard errors.
func TestCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	const trials = 4000
	hit := 0
	for range trials {
		var y, x []float64
		var run []string
		for k := range 4 {
			shift := 8 * r.NormFloat64()
			for _, v := range []float64{8, 11, 14, 17, 20, 23} {
				x, run = append(x, v), append(run, string(rune('a'+k)))
				y = append(y, 40+13*v-0.32*v*v+shift+6*r.NormFloat64()+14/math.Sqrt(8)*r.NormFloat64())
			}
		}
		block := stat.NewFactor("run", run)
		l := vertex(t, y, x, &block, 0.90)
		in := l.Lower <= 20.3125 && 20.3125 <= l.Upper
		if l.Kind == ratio.WholeLine || in == (l.Kind == ratio.Bounded) {
			hit++
		}
	}
	if got := float64(hit) / trials; math.Abs(got-0.90) > 4*math.Sqrt(0.09/trials) {
		t.Errorf("limits hold in %.3f of trials", got)
	}
}
