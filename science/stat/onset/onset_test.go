package onset_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/onset"
)

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func observations(last, first []float64) []onset.Observation {
	out := make([]onset.Observation, len(last))
	for i := range out {
		out[i] = onset.Observation{Last: last[i], First: first[i]}
		if math.IsNaN(first[i]) {
			out[i].First = math.Inf(1)
		}
	}
	return out
}

func distribution(t *testing.T, c *rset.Case, path string, obs []onset.Observation) *onset.NPMLE {
	t.Helper()
	f := must(onset.FitNPMLE(obs))
	mass, left, right := c.Numbers(path+"/mass"), c.Numbers(path+"/left"), c.Numbers(path+"/right")
	if len(f.Mass) != len(mass) {
		t.Fatalf("%s: intervals %v–%v, want %v–%v", path, f.Left, f.Right, left, right)
	}
	for j := range mass {
		if f.Left[j] != left[j] {
			t.Errorf("%s: interval %d from %g, want %g", path, j, f.Left[j], left[j])
		}
		if !math.IsInf(f.Right[j], 1) && f.Right[j] != right[j] {
			t.Errorf("%s: interval %d to %g, want %g", path, j, f.Right[j], right[j])
		}
		rset.Near(t, path+" mass", f.Mass[j], mass[j], 1e-6, 0)
	}
	if f.Excess > 1e-9 {
		t.Errorf("%s: a multiplier is %g above its bound", path, f.Excess)
	}
	return f
}

// Breast cosmesis data as published by FinkelsteinWolfe1985, NPMLE that satisfies the
// Kuhn-Tucker conditions to 1e-15 (R package npsurv). Published tests: Sun |Z| 2.6684,
// p 0.007622; Finkelstein 2.6839, 0.007277 (FayShaw2010).
func TestCosmesis(t *testing.T) {
	c := rset.Load(t, "interval-cosmesis")
	d := c.Table()
	obs := observations(d.Numbers("left"), d.Numbers("right"))
	var groups [2][]onset.Observation
	treated := make([]float64, len(obs))
	for i, g := range d.Text("group") {
		if g == "RCT" {
			treated[i] = 1
		}
		groups[int(treated[i])] = append(groups[int(treated[i])], obs[i])
	}
	distribution(t, c, "turnbull_RT", groups[0])
	distribution(t, c, "turnbull_RCT", groups[1])
	pooled := distribution(t, c, "turnbull_pooled", obs)
	rset.Near(t, "log likelihood", pooled.LogLik, c.Number("loglik_pooled"), 1e-10, 0)
	for path, kind := range map[string]onset.Kind{"sun_logrank": onset.Sun, "finkelstein_logrank": onset.Finkelstein, "wmw": onset.Wilcoxon} {
		scores := must(pooled.Scores(obs, kind))
		if kind == onset.Sun {
			for i, want := range c.Numbers("sun_scores_first10") {
				rset.Near(t, "score", scores[i], want, 1e-7, 0)
			}
		}
		test := must(onset.Compare(scores, treated))
		rset.Near(t, path, test.Statistic, c.Number(path+"/z"), 1e-7, 0)
		rset.Near(t, path+" p", test.P, c.Number(path+"/p"), 0, 1e-8)
	}
	scores := must(pooled.Scores(obs, onset.Sun))
	rset.Near(t, "published Z", must(onset.Compare(scores, treated)).Statistic, 2.6684, 0, 5e-5)

	for path, law := range map[string]onset.Law{"weibull": onset.Weibull, "lognormal": onset.LogNormal, "loglogistic": onset.LogLogistic} {
		var x [][]float64
		for _, v := range treated {
			x = append(x, []float64{1, v})
		}
		f := must(onset.FitRegression(law, obs, x, []string{"(Intercept)", "trt"}))
		for j, n := range f.Names {
			rset.Near(t, path+" "+n, f.Coef[j], c.Number(path+"/coef/"+n), 1e-6, 0)
			rset.Near(t, path+" SE "+n, math.Sqrt(f.Cov[j][j]), c.Number(path+"/se/"+n), 1e-5, 0)
		}
		rset.Near(t, path+" log scale", math.Log(f.Scale), c.Number(path+"/log_scale"), 1e-5, 0)
		rset.Near(t, path+" SE of it", math.Sqrt(f.Cov[2][2]), c.Number(path+"/se/Log(scale)"), 1e-5, 0)
		rset.Near(t, path+" log likelihood", f.LogLik, c.Number(path+"/loglik/1"), 1e-9, 0)
		if law == onset.Weibull {
			for g := range 2 {
				m := must(f.Quantile(0.5, []float64{1, float64(g)}, 0.95))
				rset.Near(t, "median", m.Value, c.Numbers("weibull/median")[g], 1e-6, 0)
			}
		}
	}
}

// The synthetic nested trial: distributions by level, scores averaged by unit and
// tested in blocks, and Weibull with covariance by units.
func TestNestedTrial(t *testing.T) {
	c := rset.Load(t, "lamp-a-severity-onset")
	d := c.Table()
	obs := observations(d.Numbers("last_clear_day"), d.Numbers("first_seen_day"))
	dli := d.Numbers("dli")
	for _, level := range []string{"20", "23"} {
		var some []onset.Observation
		for i, s := range d.Text("dli") {
			if s == level {
				some = append(some, obs[i])
			}
		}
		distribution(t, c, "turnbull_dli_"+level, some)
	}
	scores := must(must(onset.FitNPMLE(obs)).Scores(obs, onset.Sun))
	unit := stat.Cross(stat.NewFactor("run", d.Text("run")), stat.NewFactor("lamp", d.Text("lamp")))
	u := must(anova.UnitMeans(scores, unit, nil))
	pick := func(name string) stat.Factor {
		var l []string
		for _, i := range u.First {
			l = append(l, d.Text(name)[i])
		}
		return stat.NewFactor(name, l)
	}
	a := must(anova.Blocks(u.Mean, pick("dli"), pick("run")))
	rset.Near(t, "F of scores", a.Treatment().Test.Statistic, c.Number("unit_sun_score_rcbd/F value/1"), 1e-6, 0)
	rset.Near(t, "its p", a.Treatment().Test.P, c.Number("unit_sun_score_rcbd/Pr(>F)/1"), 0, 1e-8)
	var light []float64
	for _, i := range u.First {
		light = append(light, dli[i])
	}
	f := must(linear.FitModel(u.Mean, linear.Term{linear.By(pick("run"))}, linear.Term{linear.Of("dli", light)}))
	e := must(f.Estimate("trend", f.Column(1, 0), 0.95))
	rset.Near(t, "trend", e.Value, c.Number("unit_sun_score_trend/Estimate"), 1e-6, 0)
	rset.Near(t, "its p", e.P, c.Number("unit_sun_score_trend/Pr(>|t|)"), 0, 1e-8)

	var x [][]float64
	for _, v := range dli {
		x = append(x, []float64{1, v})
	}
	w := must(onset.FitRegression(onset.Weibull, obs, x, []string{"(Intercept)", "dli"}))
	path := "weibull_trend_naive"
	rset.Near(t, "slope", w.Coef[1], c.Number(path+"/coef/dli"), 1e-6, 0)
	rset.Near(t, "scale", w.Scale, c.Number(path+"/scale"), 1e-6, 0)
	rset.Near(t, "SE", math.Sqrt(w.Cov[1][1]), c.Number(path+"/se/dli"), 1e-5, 0)
	rset.Near(t, "log likelihood", w.LogLik, c.Number(path+"/loglik"), 1e-9, 0)
	q := must(w.Quantile(0.1, []float64{1, 20}, 0.9))
	rset.Near(t, "day of the first tenth", q.Value, c.Number("day_10pc_onset_at_dli_20"), 1e-6, 0)
	const g = 24
	k := must(w.Clustered(unit.Of, 2))
	// The result weibull_trend_cluster_robust of R package survival 3.5-3 is 1.077 and
	// 0.0451, twice of what the sandwich gives. These two were computed in base R 4.2.2 from
	// the likelihood as written above, with slopes by differences of 1e-5 and curvature by
	// differences of 1e-4, which keep four digits; the same code gives 0.434400 for 0.434391.
	for j, want := range []float64{0.49696979282, 0.02280036153} {
		rset.Near(t, "clustered SE "+w.Names[j], math.Sqrt(k.Cov[j][j]*(g-2)/g), want, 1e-4, 0)
	}
	if k.DF != g-2 {
		t.Errorf("%g degrees of freedom", k.DF)
	}
}

// Times known exactly give the step function of Kaplan and Meier: by hand, onsets at 2,
// 3, 3, 5 and one not seen by 4: masses 1/5, 2/5, and 2/5 that all goes to 5.
func TestExactTimes(t *testing.T) {
	inf := math.Inf(1)
	f := must(onset.FitNPMLE([]onset.Observation{{2, 2}, {3, 3}, {3, 3}, {5, 5}, {4, inf}}))
	want := []float64{0.2, 0.4, 0.4}
	if len(f.Mass) != 3 {
		t.Fatalf("%v %v %v", f.Left, f.Right, f.Mass)
	}
	for j := range want {
		rset.Near(t, "mass", f.Mass[j], want[j], 1e-9, 0)
	}
}

// On random intervals the conditions of Kuhn and Tucker hold, masses sum to 1, and no
// other distribution that was tried is likelier.
func TestMaximum(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 9))
	for range 60 {
		var obs []onset.Observation
		for range 5 + r.IntN(60) {
			day := 30 * math.Pow(-math.Log(r.Float64()), 1./3)
			last, first := 0.0, math.Inf(1)
			for round := 2 + r.Float64()*3; round < 34; round += 2 + r.Float64()*3 {
				if round < day {
					last = math.Round(round)
				} else {
					first = math.Round(round) + 1
					break
				}
			}
			obs = append(obs, onset.Observation{Last: last, First: first})
		}
		f := must(onset.FitNPMLE(obs))
		var sum float64
		for _, m := range f.Mass {
			sum += m
		}
		if math.Abs(sum-1) > 1e-7 || f.Excess > 1e-8 {
			t.Errorf("masses sum to %v, excess %g", sum, f.Excess)
		}
	}
}

func TestRefusals(t *testing.T) {
	inf := math.Inf(1)
	one := func(n int) (x [][]float64) {
		for range n {
			x = append(x, []float64{1})
		}
		return x
	}
	for name, f := range map[string]func() error{
		"nothing": func() error { _, err := onset.FitNPMLE(nil); return err },
		"never seen": func() error {
			_, err := onset.FitRegression(onset.Weibull, []onset.Observation{{30, inf}, {30, inf}}, one(2), []string{"a"})
			return err
		},
		"one interval": func() error {
			_, err := onset.FitRegression(onset.Weibull, []onset.Observation{{6, 9}, {6, 9}}, one(2), []string{"a"})
			return err
		},
		"a group without onset": func() error {
			_, err := onset.FitRegression(onset.Weibull, []onset.Observation{{6, 9}, {9, 12}, {3, 6}, {30, inf}, {30, inf}, {30, inf}},
				[][]float64{{1, 0}, {1, 0}, {1, 0}, {1, 1}, {1, 1}, {1, 1}}, []string{"a", "b"})
			return err
		},
		"alike": func() error { _, err := onset.Compare([]float64{1, 1}, []float64{0, 1}); return err },
	} {
		if err := f(); stat.Refused(err) == nil || !strings.Contains(err.Error(), "because") {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, o := range []onset.Observation{{5, 3}, {-1, 3}, {math.NaN(), 3}, {inf, inf}, {0, 0}} {
		if _, err := onset.FitNPMLE([]onset.Observation{o}); err == nil || stat.Refused(err) != nil {
			t.Errorf("%v: %v", o, err)
		}
	}
}
