package dist_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/internal/rset"
	"underlamp/science/stat/dist"
)

// The exact integral of a reference computation whose results agree with SciPy to
// 3e-13 (R 4.2.2; see notes in the file). R's own ptukey is not the reference.
func TestRange(t *testing.T) {
	c := rset.Load(t, "dist-ptukey")
	d := c.Table()
	q, k, df := d.Numbers("q"), d.Numbers("k"), d.Numbers("df")
	for i, want := range c.Numbers("upper_tail") {
		got := dist.Range{K: int(k[i]), DF: df[i]}.Upper(q[i])
		rset.Near(t, fmt.Sprintf("q %g, k %g, df %g", q[i], k[i], df[i]), got, want, 0, 1e-11)
	}
	c = rset.Load(t, "dist-qtukey")
	d = c.Table()
	p, k, df := d.Numbers("p"), d.Numbers("k"), d.Numbers("df")
	for i, want := range c.Numbers("qtukey_exact") {
		got := dist.Range{K: int(k[i]), DF: df[i]}.Quantile(p[i])
		rset.Near(t, fmt.Sprintf("p %g, k %g, df %g", p[i], k[i], df[i]), got, want, 1e-9, 0)
	}
}

// Two groups: the range is √2 times |t|, exactly.
func TestRangeOfTwoIsT(t *testing.T) {
	for _, df := range []float64{1, 1.3, 2, 3, 5, 7.7, 12, 40, math.Inf(1)} {
		for _, q := range []float64{0.01, 0.5, 2, 5, 14, 60} {
			got := dist.Range{K: 2, DF: df}.Upper(q)
			rset.Near(t, fmt.Sprintf("df %g, q %g", df, q), got, dist.TTwoSided(q/math.Sqrt2, df), 0, 2e-13)
		}
	}
}

// R 4.2.2: 2*pt(-x/sqrt(2), df), printed with 17 digits.
func TestManyDegreesOfFreedom(t *testing.T) {
	for _, c := range []struct{ q, df, want float64 }{
		{0.01, 200000, 0.99435815823251006},
		{2, 200000, 0.15730076370156293},
		{0.01, 300, 0.99436285091010546},
	} {
		rset.Near(t, "range", dist.Range{K: 2, DF: c.df}.Upper(c.q), c.want, 0, 2e-13)
		rset.Near(t, "t", dist.TTwoSided(c.q/math.Sqrt2, c.df), c.want, 0, 2e-13)
	}
}

// Dunnett (1955) by deterministic integration in R 4.2.2, equal groups.
func TestDunnett(t *testing.T) {
	c := rset.Load(t, "dist-qdunnett")
	d := c.Table()
	k, df, p := d.Numbers("k"), d.Numbers("df"), d.Numbers("p")
	one := c.Numbers("one_sided")
	for i, want := range c.Numbers("two_sided") {
		others := make([]int, int(k[i]))
		for j := range others {
			others[j] = 7
		}
		q := dist.NewDunnett(7, others, df[i])
		rset.Near(t, fmt.Sprintf("two-sided p %g, k %g, df %g", p[i], k[i], df[i]), q.Quantile(p[i]), want, 1e-9, 0)
		q.OneSided = true
		rset.Near(t, fmt.Sprintf("one-sided p %g, k %g, df %g", p[i], k[i], df[i]), q.Quantile(p[i]), one[i], 1e-9, 0)
	}
}

// R 4.2.2: pf and pt with ncp.
func TestNoncentral(t *testing.T) {
	c := rset.Load(t, "dist-noncentral-f")
	d := c.Table()
	d1, d2, ncp, alpha := d.Numbers("df1"), d.Numbers("df2"), d.Numbers("ncp"), d.Numbers("alpha")
	crit := c.Numbers("f_crit")
	for i, want := range c.Numbers("power") {
		f := dist.FQuantile(1-alpha[i], d1[i], d2[i])
		rset.Near(t, "critical F", f, crit[i], 1e-11, 0)
		n := dist.NoncentralF{D1: d1[i], D2: d2[i], Lambda: ncp[i]}
		rset.Near(t, fmt.Sprintf("power %g %g %g", d1[i], d2[i], ncp[i]), n.Upper(f), want, 0, 2e-9)
		if want < 1-1e-6 {
			rset.Near(t, "and back", n.Quantile(1-n.Upper(f)), f, 1e-7, 0)
		}
	}
	c = rset.Load(t, "dist-noncentral-t")
	d = c.Table()
	x, df, delta := d.Numbers("t"), d.Numbers("df"), d.Numbers("ncp")
	for i, want := range c.Numbers("cdf") {
		n := dist.NoncentralT{DF: df[i], Delta: delta[i]}
		rset.Near(t, fmt.Sprintf("t %g, df %g, delta %g", x[i], df[i], delta[i]), n.Lower(x[i]), want, 0, 1e-9)
		rset.Near(t, "both tails", n.Lower(x[i])+n.Upper(x[i]), 1, 0, 1e-13)
	}
}

// A noncentrality of a million and more: near the sum just below, and at once.
func TestHugeNoncentrality(t *testing.T) {
	for _, d := range [][2]float64{{1, 4}, {3, 12}, {5, 200}} {
		for _, z := range []float64{-2, -0.5, 0, 1, 3} {
			f := math.Pow(math.Sqrt(1e6+d[0]-1)+z*10, 2) / d[0]
			sum := dist.NoncentralF{D1: d[0], D2: d[1], Lambda: 1e6}.Upper(f)
			rset.Near(t, fmt.Sprint(d, z), dist.NoncentralF{D1: d[0], D2: d[1], Lambda: 1e6 * (1 + 1e-12)}.Upper(f), sum, 0, 1e-5)
		}
	}
	if p := (dist.NoncentralF{D1: 3, D2: 8, Lambda: 1e19}).Upper(4); p != 1 {
		t.Errorf("%v", p)
	}
}

// Noncentral t squared is noncentral F with one degree of freedom: two methods that
// share no code.
func TestNoncentralTSquaredIsF(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		df := rapid.Float64Range(1, 80).Draw(r, "df")
		delta := rapid.Float64Range(-6, 6).Draw(r, "delta")
		x := rapid.Float64Range(0.01, 9).Draw(r, "x")
		n := dist.NoncentralT{DF: df, Delta: delta}
		f := dist.NoncentralF{D1: 1, D2: df, Lambda: delta * delta}
		if a, b := n.Upper(x)+n.Lower(-x), f.Upper(x*x); math.Abs(a-b) > 5e-13 {
			r.Fatalf("%.15g and %.15g", a, b)
		}
	})
}

// R 4.2.2: qnorm, qt, qchisq, qf, qbeta.
func TestQuantiles(t *testing.T) {
	c := rset.Load(t, "dist-quantiles")
	p := c.Table().Numbers("p")
	for name, q := range map[string]func(float64) float64{
		"normal":    dist.NormalQuantile,
		"t_1":       func(p float64) float64 { return dist.TQuantile(p, 1) },
		"t_2":       func(p float64) float64 { return dist.TQuantile(p, 2) },
		"t_4":       func(p float64) float64 { return dist.TQuantile(p, 4) },
		"t_3.7":     func(p float64) float64 { return dist.TQuantile(p, 3.7) },
		"t_20":      func(p float64) float64 { return dist.TQuantile(p, 20) },
		"chisq_1":   func(p float64) float64 { return dist.ChiSquareQuantile(p, 1) },
		"chisq_5":   func(p float64) float64 { return dist.ChiSquareQuantile(p, 5) },
		"f_3_8":     func(p float64) float64 { return dist.FQuantile(p, 3, 8) },
		"f_2.5_6.3": func(p float64) float64 { return dist.FQuantile(p, 2.5, 6.3) },
		"beta_2_7":  func(p float64) float64 { return dist.BetaQuantile(p, 2, 7) },
	} {
		for i, want := range c.Numbers(name) {
			rset.Near(t, fmt.Sprintf("%s at %g", name, p[i]), q(p[i]), want, 1e-9, 1e-12)
		}
	}
}

func BenchmarkRangeQuantile(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		dist.Range{K: 6, DF: 18}.Quantile(0.95)
	}
}

func BenchmarkDunnettQuantile(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		dist.NewDunnett(4, []int{4, 4, 4, 4, 4}, 18).Quantile(0.95)
	}
}
