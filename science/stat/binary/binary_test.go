package binary_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"underlamp/internal/rset"
	"underlamp/science/stat"
	"underlamp/science/stat/binary"
	"underlamp/science/stat/ratio"
)

func ints(v []float64) []int {
	out := make([]int, len(v))
	for i, x := range v {
		out[i] = int(x)
	}
	return out
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func endometrial(t *testing.T) (*rset.Case, binary.Data) {
	c := rset.Load(t, "firth-endometrial")
	d := c.Table()
	data := binary.Data{Names: []string{"(Intercept)", "NV", "PI", "EH"}, Yes: ints(d.Numbers("HG"))}
	for i := range data.Yes {
		data.N = append(data.N, 1)
		data.X = append(data.X, []float64{1, d.Numbers("NV")[i], d.Numbers("PI")[i], d.Numbers("EH")[i]})
	}
	return c, data
}

func penalised(t *testing.T, c *rset.Case, path string, names []string, f *binary.Penalised) {
	t.Helper()
	for j, n := range names {
		what := path + " " + n
		rset.Near(t, what, f.Coef[j], c.Number(path+"/coef/"+n), 1e-7, 1e-8)
		rset.Near(t, what+" SE", math.Sqrt(f.Cov[j][j]), c.Number(path+"/se/"+n), 1e-7, 0)
		rset.Near(t, what+" lower", f.Limits[j].Lower, c.Number(path+"/pl_lower/"+n), 1e-6, 0)
		rset.Near(t, what+" upper", f.Limits[j].Upper, c.Number(path+"/pl_upper/"+n), 1e-6, 0)
		rset.Near(t, what+" LR", f.LR[j], c.Number(path+"/lr_chisq/"+n), 1e-6, 1e-9)
		rset.Near(t, what+" p", f.P[j], c.Number(path+"/lr_p/"+n), 0, 1e-6)
	}
	rset.Near(t, path+" penalised likelihood", f.LogLik, c.Number(path+"/penalised_loglik"), 1e-9, 0)
}

// HeinzeSchemper2002, endometrial data: printed coefficients 3.775, 2.929, −0.035,
// −2.604 and limits 0.61 to 7.85 of NV; more digits by R (agrees with brglm2).
func TestFirth(t *testing.T) {
	c, data := endometrial(t)
	if s := must(data.Separated()); s != binary.Quasi {
		t.Errorf("separation %v, want quasi", s)
	}
	if _, err := binary.Logistic(data); stat.Refused(err) == nil {
		t.Errorf("maximum likelihood of separated data: %v", err)
	}
	f := must(binary.Firth(data, 0.95))
	penalised(t, c, "firth_own", data.Names, f)
	for j, want := range []float64{3.775, 2.929, -0.035, -2.604} {
		rset.Near(t, "printed", f.Coef[j], want, 0, 5e-4)
	}
	rset.Near(t, "printed limit", f.Limits[1].Lower, 0.61, 0, 5e-3)
	rset.Near(t, "printed limit", f.Limits[1].Upper, 7.85, 0, 5e-3)

	c = rset.Load(t, "firth-zero-cells")
	d := c.Table()
	yes, n := ints(d.Numbers("y")), ints(d.Numbers("n"))
	factor := binary.Data{Yes: yes, N: n, Names: []string{"(Intercept)", "f14", "f18", "f22"},
		X: [][]float64{{1, 0, 0, 0}, {1, 1, 0, 0}, {1, 0, 1, 0}, {1, 0, 0, 1}}}
	if s := must(factor.Separated()); s != binary.Quasi {
		t.Errorf("an empty cell: %v", s)
	}
	penalised(t, c, "factor_model", factor.Names, must(binary.Firth(factor, 0.95)))
	trend := binary.OnDose(yes, n, d.Numbers("dli"))
	if s := must(trend.Separated()); s != binary.Overlap {
		t.Errorf("trend: %v", s)
	}
	trend.Names = []string{"(Intercept)", "dli"}
	penalised(t, c, "trend_model", trend.Names, must(binary.Firth(trend, 0.95)))
	ml := must(binary.Logistic(trend))
	for j, row := range c.Matrix("ml_trend/values") {
		rset.Near(t, "ML", ml.Coef[j], row[0], 1e-8, 0)
		rset.Near(t, "ML SE", math.Sqrt(ml.Cov[j][j]), row[1], 1e-8, 0)
	}

	c = rset.Load(t, "firth-complete-separation")
	d = c.Table()
	yes, n = ints(d.Numbers("y")), ints(d.Numbers("n"))
	apart := binary.OnDose(yes, n, d.Numbers("dli"))
	apart.Names = []string{"(Intercept)", "dli"}
	if s := must(apart.Separated()); s != binary.Complete {
		t.Errorf("separation %v, want complete", s)
	}
	penalised(t, c, "firth", apart.Names, must(binary.Firth(apart, 0.95)))
	gap := binary.Gap(yes, n, d.Numbers("dli"))
	if gap.LastClean != 14 || gap.FirstYes != 16 || !gap.IsSeparate {
		t.Errorf("%+v", gap)
	}
}

// For one dose separation is the highest dose with a no at or below the lowest with a
// yes, or the other way round: against that rule on random counts.
func TestSeparatedByRule(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	met := map[binary.Separation]int{}
	for range 3000 {
		var yes, n []int
		var x []float64
		for k := range 2 + r.IntN(4) {
			n = append(n, 1+r.IntN(3))
			p := 0.5
			if r.Float64() < 0.7 {
				p = float64(r.IntN(2))
			}
			y := 0
			for range n[k] {
				if r.Float64() < p {
					y++
				}
			}
			yes, x = append(yes, y), append(x, float64(r.IntN(5)))
		}
		minYes, maxYes, minNo, maxNo := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		same := true
		for i, v := range x {
			if yes[i] > 0 {
				minYes, maxYes = math.Min(minYes, v), math.Max(maxYes, v)
			}
			if yes[i] < n[i] {
				minNo, maxNo = math.Min(minNo, v), math.Max(maxNo, v)
			}
			same = same && v == x[0]
		}
		want := binary.Overlap
		switch {
		case maxNo < minYes || maxYes < minNo: // also where one is missing
			want = binary.Complete
		case (maxNo <= minYes || maxYes <= minNo) && !(minYes == maxYes && minNo == maxNo):
			want = binary.Quasi
		}
		if got := must(binary.OnDose(yes, n, x).Separated()); got != want {
			t.Fatalf("%v of %v at %v: %v, want %v", yes, n, x, got, want)
		}
		met[want]++
	}
	if len(met) != 3 {
		t.Errorf("not every kind was met: %v", met)
	}
}

// Bliss (1935), beetles, R 4.2.2: coefficients, deviance, dose with Fieller limits.
func TestBeetles(t *testing.T) {
	c := rset.Load(t, "dose-beetles")
	d := c.Table()
	f := must(binary.Logistic(binary.OnDose(ints(d.Numbers("y")), ints(d.Numbers("n")), d.Numbers("logdose"))))
	for j, row := range c.Matrix("logit/values") {
		rset.Near(t, "coefficient", f.Coef[j], row[0], 1e-8, 0)
		rset.Near(t, "SE", f.Estimates(0.95)[j].SE, row[1], 1e-7, 0)
	}
	rset.Near(t, "deviance", f.Deviance, c.Number("deviances/logit"), 1e-8, 0)
	for path, v := range map[string][2]float64{"ed10_90": {0.1, 0.9}, "ed50_95": {0.5, 0.95}} {
		l := must(f.Dose(v[0], v[1]))
		rset.Near(t, "dose", l.Value, c.Number(path+"/estimate"), 1e-8, 0)
		rset.Near(t, "lower", l.Lower, c.Number(path+"/fieller/lower"), 1e-7, 0)
		rset.Near(t, "upper", l.Upper, c.Number(path+"/fieller/upper"), 1e-7, 0)
	}
	rset.Near(t, "band", f.Band(1.75, 0.95), c.Number("upper_pointwise_band_at_1.75/upper95_one_sided"), 1e-7, 0)
}

// Crowder (1978) seeds: binomial and beta-binomial (R package VGAM agrees to 1e-7).
func TestSeeds(t *testing.T) {
	c := rset.Load(t, "clustered-seeds")
	d := c.Table()
	data := binary.Data{Yes: ints(d.Numbers("r")), N: ints(d.Numbers("n")), Names: []string{"(Intercept)", "seedO73", "extractcucumber", "seedO73:extractcucumber"}}
	for i := range data.N {
		var a, b float64
		if d.Text("seed")[i] == "O73" {
			a = 1
		}
		if d.Text("extract")[i] == "cucumber" {
			b = 1
		}
		data.X = append(data.X, []float64{1, a, b, a * b})
	}
	f := must(binary.Logistic(data))
	for j, row := range c.Matrix("binomial/values") {
		rset.Near(t, "binomial", f.Coef[j], row[0], 1e-8, 0)
		rset.Near(t, "SE", math.Sqrt(f.Cov[j][j]), row[1], 1e-8, 0)
	}
	rset.Near(t, "deviance", f.Deviance, c.Number("deviance/deviance"), 1e-9, 0)
	rset.Near(t, "Pearson", f.Pearson, c.Number("deviance/pearson_chisq"), 1e-8, 0)
	b := must(binary.FitBetaBinomial(data))
	for j, n := range data.Names {
		rset.Near(t, "beta-binomial "+n, b.Coef[j], c.Number("beta_binomial/coef/"+n), 1e-6, 0)
		rset.Near(t, "its SE "+n, b.SE[j], c.Number("beta_binomial/se/"+n), 1e-5, 0)
	}
	rset.Near(t, "rho", b.Rho, c.Number("beta_binomial/rho"), 1e-5, 0)
	rset.Near(t, "log likelihood", b.LogLik, c.Number("beta_binomial/loglik"), 1e-9, 0)
}

// Dose for a chance of 20 %: covariance clustered by run and by unit (R package
// sandwich agrees to 4e-12), and the beta-binomial profile, on two synthetic trials.
func TestDose(t *testing.T) {
	for id, data := range map[string]func(*rset.Case) (yes, n []int, x []float64, run []int){
		"lamp-b-tipburn": func(c *rset.Case) ([]int, []int, []float64, []int) {
			d := c.Table()
			return ints(d.Numbers("y")), ints(d.Numbers("n")), d.Numbers("dli"), ints(d.Numbers("run"))
		},
		"lamp-a-tipburn": func(c *rset.Case) ([]int, []int, []float64, []int) {
			return ints(c.Numbers("counts/y")), ints(c.Numbers("counts/n")), c.Numbers("counts/dli"), ints(c.Numbers("counts/run"))
		},
	} {
		c := rset.Load(t, id)
		yes, n, x, run := data(c)
		f := must(binary.Logistic(binary.OnDose(yes, n, x)))
		check := func(path string, f *binary.Fit) {
			t.Helper()
			l := must(f.Dose(0.2, 0.9))
			rset.Near(t, id+path+" SE a", math.Sqrt(f.Cov[0][0]), c.Number(path+"/robust_se/a"), 1e-7, 0)
			rset.Near(t, id+path+" SE b", math.Sqrt(f.Cov[1][1]), c.Number(path+"/robust_se/b"), 1e-7, 0)
			rset.Near(t, id+path+" df", f.DF, c.Number(path+"/df"), 0, 0)
			rset.Near(t, id+path+" lower", l.Lower, c.Number(path+"/fieller/lower"), 1e-7, 0)
			rset.Near(t, id+path+" upper", l.Upper, c.Number(path+"/fieller/upper"), 1e-7, 0)
			rset.Near(t, "where the band crosses", f.Band(l.Lower, 0.95), 0.2, 1e-9, 0)
		}
		check("ed20_run_sandwich_90", must(f.Clustered(run, 1)))
		unit := make([]int, len(n))
		for i := range unit {
			unit[i] = i
		}
		check("ed20_lamp_sandwich_90", must(f.Clustered(unit, 2)))

		b := must(binary.FitBetaBinomial(binary.OnDose(yes, n, x)))
		v, i, err := b.Dose(0.2, 0.9, float64(len(n)-2))
		if err != nil {
			t.Fatal(err)
		}
		path := "ed20_beta_binomial_F_90"
		rset.Near(t, id+" log likelihood", b.LogLik, c.Number(path+"/fit/loglik"), 1e-7, 0)
		rset.Near(t, id+" dose", v, c.Number(path+"/estimate"), 1e-6, 0)
		rset.Near(t, id+" lower", i.Lower, c.Number(path+"/profile_lr/0"), 1e-5, 0)
		rset.Near(t, id+" upper", i.Upper, c.Number(path+"/profile_lr/1"), 1e-5, 0)
		if id == "lamp-a-tipburn" && !b.Boundary {
			t.Errorf("rho %g; R stops at 1e-6 on the way to 0", b.Rho)
		}

		th := must(binary.FindThreshold(yes, n, x, run, 0.2, 0.9))
		if th.State != binary.Limited || th.Clusters != "runs" || th.Second == nil {
			t.Errorf("%+v", th)
		}
		rset.Near(t, "threshold", th.Limits.Lower, c.Number("ed20_run_sandwich_90/fieller/lower"), 1e-7, 0)
	}
}

// Coverage of the default limits, 90 %, in simulated trials with correlated subsamples.
// Designs and bounds were fixed before: the limits hold in 0.87 to 0.93 of 1000 trials
// and lie above the truth in at most 0.09; with subsamples as units they must fail in the
// designs with strong correlation. R finds 0.898, 0.917, 0.901, 0.905, 0.891, 0.907,
// 0.906, 0.905.
func TestCoverage(t *testing.T) {
	if testing.Short() {
		t.Skip("slow")
	}
	wide, four := []float64{8, 11, 14, 17, 20, 23}, []float64{10, 14, 18, 22}
	five := []float64{10, 13, 16, 19, 22}
	for k, c := range []struct {
		name          string
		levels        []float64
		units, subs   int
		a, b, rho, sd float64 // sd of units on the logit instead of rho
		sdRun         float64
		byRun         bool
		chance, truth float64
		fails         bool
	}{
		{name: "P1", levels: wide, units: 4, subs: 8, a: -7, b: 0.35, rho: 0.10, chance: 0.2, truth: 16.0392, fails: true},
		{name: "P2", levels: four, units: 2, subs: 6, a: -6, b: 0.32, rho: 0.15, chance: 0.2, truth: 14.4178},
		{name: "P3", levels: wide, units: 4, subs: 8, a: -7, b: 0.35, sd: 0.6, chance: 0.1, truth: 13.3238},
		{name: "P4", levels: five, units: 3, subs: 8, a: -7.5, b: 0.38, chance: 0.2, truth: 16.0887},
		{name: "P5", levels: five, units: 3, subs: 8, a: -7.5, b: 0.38, rho: 0.25, chance: 0.2, truth: 16.0887, fails: true},
		{name: "R1", levels: wide, units: 4, subs: 8, a: -7, b: 0.35, rho: 0.05, sdRun: 0.5, byRun: true, chance: 0.2, truth: 15.8328},
		{name: "R2", levels: wide, units: 4, subs: 8, a: -7, b: 0.35, rho: 0.05, byRun: true, chance: 0.2, truth: 16.0392},
		{name: "R3", levels: four, units: 6, subs: 8, a: -7, b: 0.35, rho: 0.05, sdRun: 0.5, byRun: true, chance: 0.2, truth: 15.8328},
	} {
		r := rand.New(rand.NewPCG(77, uint64(k)))
		const trials = 1000
		hold, unsafe, naive := 0, 0, 0
		covers := func(l ratio.Limits) bool {
			in := l.Lower <= c.truth && c.truth <= l.Upper
			return l.Kind == ratio.WholeLine || in == (l.Kind == ratio.Bounded)
		}
		for range trials {
			var yes, n, run []int
			var x []float64
			for u := range c.units {
				shift := c.sdRun * r.NormFloat64()
				for _, v := range c.levels {
					p := 1 / (1 + math.Exp(-(c.a + c.b*v + shift + c.sd*r.NormFloat64())))
					if c.rho > 0 {
						k := (1 - c.rho) / c.rho
						p = distuv.Beta{Alpha: p * k, Beta: (1 - p) * k, Src: r}.Rand()
					}
					y := 0
					for range c.subs {
						if r.Float64() < p {
							y++
						}
					}
					yes, n, x, run = append(yes, y), append(n, c.subs), append(x, v), append(run, u)
				}
			}
			f, err := binary.Logistic(binary.OnDose(yes, n, x))
			if err != nil {
				// No curve: no interval, which counts as holding.
				hold++
				naive++
				continue
			}
			cluster, lost := run, 1
			if !c.byRun {
				lost = 2
				cluster = nil
				for i := range n {
					cluster = append(cluster, i)
				}
			}
			g := must(f.Clustered(cluster, lost))
			l := must(g.Dose(c.chance, 0.9))
			if covers(l) {
				hold++
			}
			if l.Kind == ratio.Bounded && l.Lower > c.truth {
				unsafe++
			}
			if covers(must(f.Dose(c.chance, 0.9))) {
				naive++
			}
		}
		got, un, nv := float64(hold)/trials, float64(unsafe)/trials, float64(naive)/trials
		t.Logf("%s: holds in %.3f, above the truth in %.3f; subsamples as units %.3f", c.name, got, un, nv)
		if got < 0.87 || got > 0.93 || un > 0.09 {
			t.Errorf("%s: holds in %.3f, above the truth in %.3f", c.name, got, un)
		}
		if c.fails && nv > 0.83 {
			t.Errorf("%s: subsamples as units hold in %.3f; a simulation that cannot show the difference tests nothing", c.name, nv)
		}
	}
}

// R 4.2.2 binom.test and prop.test without correction.
func TestShares(t *testing.T) {
	c := rset.Load(t, "ci-binomial")
	d := c.Table()
	yes, n := d.Numbers("x"), d.Numbers("n")
	for path, v := range map[string]struct {
		f     func(yes, n int, level float64) (stat.Interval, error)
		level float64
	}{"cp95": {binary.Exact, 0.95}, "cp90": {binary.Exact, 0.90}, "wilson95": {binary.Wilson, 0.95}} {
		want := c.Matrix(path + "/values")
		for i := range yes {
			got := must(v.f(int(yes[i]), int(n[i]), v.level))
			rset.Near(t, fmt.Sprintf("%s lower of %g of %g", path, yes[i], n[i]), got.Lower, want[i][0], 1e-9, 1e-12)
			rset.Near(t, fmt.Sprintf("%s upper of %g of %g", path, yes[i], n[i]), got.Upper, want[i][1], 1e-9, 1e-12)
		}
	}
	if _, err := binary.Exact(9, 8, 0.95); err == nil {
		t.Error("9 of 8")
	}
}

// States of a threshold, and what is refused.
func TestStates(t *testing.T) {
	x := []float64{10, 10, 14, 14, 18, 18, 22, 22}
	n := []int{6, 6, 6, 6, 6, 6, 6, 6}
	for want, yes := range map[binary.State][]int{
		binary.NeverSeen:  {0, 0, 0, 0, 0, 0, 0, 0},
		binary.Everywhere: {6, 6, 6, 6, 6, 6, 6, 6},
		binary.Parted:     {0, 0, 0, 0, 0, 0, 3, 6},
		binary.Falls:      {5, 4, 3, 4, 2, 2, 1, 0},
		binary.Limited:    {0, 0, 0, 1, 2, 3, 5, 6},
	} {
		th := must(binary.FindThreshold(yes, n, x, nil, 0.2, 0.9))
		if th.State != want {
			t.Errorf("%v: state %v, want %v", yes, th.State, want)
		}
	}
	few := must(binary.FindThreshold([]int{1, 2, 3}, []int{6, 6, 6}, []float64{10, 14, 18}, nil, 0.2, 0.9))
	if few.State != binary.TooFew {
		t.Errorf("%+v", few)
	}
	flat := must(binary.FindThreshold([]int{2, 3, 2, 3, 3, 2, 3, 3}, n, x, nil, 0.2, 0.9))
	if flat.State != binary.Unbounded {
		t.Errorf("a flat curve: %+v", flat)
	}
	for name, f := range map[string]func() error{
		"one dose": func() error {
			_, err := binary.FindThreshold([]int{1, 2}, []int{6, 6}, []float64{10, 10}, nil, 0.2, 0.9)
			return err
		},
		"two clusters": func() error {
			_, err := must(binary.Logistic(binary.OnDose([]int{0, 1, 2, 3}, []int{4, 4, 4, 4}, []float64{1, 2, 3, 4}))).Clustered([]int{1, 1, 2, 2}, 2)
			return err
		},
		"columns alike": func() error {
			_, err := binary.Firth(binary.Data{Yes: []int{1, 0}, N: []int{2, 2}, X: [][]float64{{1, 1}, {1, 1}}, Names: []string{"a", "b"}}, 0.95)
			return err
		},
		"single subsamples": func() error {
			_, err := binary.FitBetaBinomial(binary.OnDose([]int{0, 1, 0, 1}, []int{1, 1, 1, 1}, []float64{1, 2, 3, 4}))
			return err
		},
	} {
		if err := f(); stat.Refused(err) == nil || !strings.Contains(fmt.Sprint(err), "because") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := binary.Logistic(binary.OnDose([]int{7}, []int{6}, []float64{1})); err == nil || stat.Refused(err) != nil {
		t.Errorf("7 of 6: %v", err)
	}
}
