package stat_test

import (
	"fmt"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/stat"
	"underlamp/science/stat/anova"
	"underlamp/science/stat/binary"
	"underlamp/science/stat/curve"
	"underlamp/science/stat/layout"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/mixed"
	"underlamp/science/stat/onset"
	"underlamp/science/stat/ordinal"
	"underlamp/science/stat/pairwise"
	"underlamp/science/stat/power"
	"underlamp/science/stat/ranks"
)

// hasNaN looks for a NaN in the exported parts of an answer.
func hasNaN(v reflect.Value, path string) string {
	switch v.Kind() {
	case reflect.Float64:
		if math.IsNaN(v.Float()) {
			return path
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			return hasNaN(v.Elem(), path)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				if p := hasNaN(v.Field(i), path+"."+v.Type().Field(i).Name); p != "" {
					return p
				}
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if p := hasNaN(v.Index(i), fmt.Sprintf("%s[%d]", path, i)); p != "" {
				return p
			}
		}
	}
	return ""
}

// answers fails if an answer holds a NaN, or if an error is neither nil nor a refusal.
func answers(r *rapid.T, what string, answer any, err error) {
	if err != nil {
		if stat.Refused(err) == nil {
			r.Fatalf("%s: not a refusal: %v", what, err)
		}
		return
	}
	if p := hasNaN(reflect.ValueOf(answer), what); p != "" {
		r.Fatalf("%s is NaN", p)
	}
}

// values draws values as trials go wrong: all the same, two values, huge and alike,
// tiny, ordinary.
func values(r *rapid.T, n int) []float64 {
	base, size := 0.0, 1.0
	switch rapid.IntRange(0, 5).Draw(r, "kind") {
	case 0:
		size = 0
		base = 150
	case 1:
		base, size = 1e9, 1
	case 2:
		size = 1e-9
	case 3:
		size = 1e9
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = base + size*float64(rapid.IntRange(-4, 4).Draw(r, "value"))
	}
	return out
}

func labels(r *rapid.T, name string, n, most int) stat.Factor {
	l := make([]string, n)
	for i := range l {
		l[i] = fmt.Sprint(rapid.IntRange(1, most).Draw(r, name))
	}
	return stat.NewFactor(name, l)
}

// Whatever small trial comes, every answer is a number or a sentence that says why there
// is none.
func TestNeverNaN(t *testing.T) {
	if testing.Short() {
		t.Skip("slow")
	}
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(1, 14).Draw(r, "units")
		y := values(r, n)
		light, run, unit := labels(r, "light", n, 4), labels(r, "run", n, 3), labels(r, "unit", n, 6)

		a, err := anova.OneWay(y, light)
		answers(r, "one-way", a, err)
		if err == nil {
			all, err := pairwise.All(a.Means, 0.95)
			answers(r, "all pairs", all, err)
			one, err := pairwise.Against(a.Means, 0, 0.95)
			answers(r, "against one", one, err)
			res, cook := a.Fit.Studentised()
			answers(r, "residuals", [][]float64{res, cook}, nil)
		}
		b, err := anova.Blocks(y, light, run)
		answers(r, "blocks", b, err)
		if err == nil {
			one, err := pairwise.Against(b.Means, 0, 0.95)
			answers(r, "against one in blocks", one, err)
		}
		l, err := anova.Latin(y, light, run, unit)
		answers(r, "square", l, err)
		s, err := anova.SplitPlot(y, light, run, unit, nil)
		answers(r, "split plot", s, err)
		u, err := anova.UnitMeans(y, unit, nil)
		answers(r, "unit means", u, err)
		w, err := anova.Welch(y, light)
		answers(r, "Welch", w, err)
		bf, err := anova.BrownForsythe(y, light)
		answers(r, "Brown-Forsythe", bf, err)
		half := n / 2
		for _, pooled := range []bool{true, false} {
			d, err := anova.Difference("d", y[:half], y[half:], pooled, 0.9)
			answers(r, "difference", d, err)
		}
		d, err := anova.Paired("d", y[:half], y[half:2*half], 0.9)
		answers(r, "paired", d, err)
		e, err := anova.Equivalent(d, 1, 0.05)
		answers(r, "equivalent", e, err)
		gh, err := pairwise.Unequal(y, light, 0.95)
		answers(r, "Games-Howell", gh, err)
		for _, f := range []func() (stat.Test, error){
			func() (stat.Test, error) { return ranks.KruskalWallis(y, light) },
			func() (stat.Test, error) { return ranks.Friedman(y, light, run) },
			func() (stat.Test, error) { return ranks.Jonckheere(y, light) },
		} {
			k, err := f()
			answers(r, "ranks", k, err)
		}
		p, err := ranks.Superiority("p", y[:half], y[half:], 0.9)
		answers(r, "superiority", p, err)
		for _, s := range []layout.Scheme{layout.Free(light), layout.Within(light, run), layout.Square(light, run, unit)} {
			if ls, _, err := s.Layouts(); err == nil && ls > 1e5 {
				continue // slow, and nothing more can go wrong
			}
			k, err := s.Test(y, 1)
			answers(r, "randomisation", k, err)
		}
		m, err := mixed.FitModel(y, []linear.Term{{linear.By(light)}}, unit)
		answers(r, "mixed", m, err)
		if err == nil {
			k, err := m.Term(0, &light)
			answers(r, "mixed test", k, err)
			v, err := m.Estimate("mean", m.Vector(nil), 0.9)
			answers(r, "mixed mean", v, err)
			mm, err := m.Means(light)
			answers(r, "mixed means", mm, err)
		}
		pw, err := power.Nested{Means: y, Units: half, Subs: n, SDUnit: math.Abs(y[0]), SDSub: 1, Alpha: 0.05}.F()
		answers(r, "power", pw, err)
	})
}

// The same for counts, grades and onsets.
func TestNeverNaNInCounts(t *testing.T) {
	if testing.Short() {
		t.Skip("slow")
	}
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(r, "units")
		var yes, size, run, unit []int
		var dose []float64
		var obs []onset.Observation
		var x [][]float64
		grades := ordinal.Data{Names: []string{"dose"}}
		extreme := rapid.IntRange(0, 3).Draw(r, "extreme")
		for i := range n {
			k := rapid.IntRange(1, 8).Draw(r, "size")
			y := rapid.IntRange(0, k).Draw(r, "yes")
			switch extreme {
			case 0:
				y = 0
			case 1:
				y = k
			}
			yes, size = append(yes, y), append(size, k)
			dose = append(dose, float64(rapid.IntRange(8, 12).Draw(r, "dose")))
			run, unit = append(run, i%3), append(unit, i/2)
			last := float64(rapid.IntRange(0, 10).Draw(r, "last"))
			first := math.Inf(1)
			if rapid.Bool().Draw(r, "seen") && extreme != 2 {
				first = last + float64(rapid.IntRange(1, 5).Draw(r, "wait"))
			}
			obs = append(obs, onset.Observation{Last: last, First: first})
			x = append(x, []float64{1, dose[i]})
			grades.Class = append(grades.Class, rapid.IntRange(0, 3).Draw(r, "grade"))
			grades.X = append(grades.X, []float64{dose[i]})
		}
		th, err := binary.FindThreshold(yes, size, dose, run, 0.2, 0.9)
		answers(r, "threshold", th, err)
		d := binary.OnDose(yes, size, dose)
		f, err := binary.Logistic(d)
		answers(r, "logistic", f, err)
		if err == nil {
			l, err := f.Dose(0.2, 0.9)
			answers(r, "dose", l, err)
			answers(r, "estimates", f.Estimates(0.9), nil)
		}
		p, err := binary.Firth(d, 0.9)
		answers(r, "Firth", p, err)
		b, err := binary.FitBetaBinomial(d)
		answers(r, "beta-binomial", b, err)
		np, err := onset.FitNPMLE(obs)
		answers(r, "onset", np, err)
		if err == nil {
			for _, k := range []onset.Kind{onset.Sun, onset.Finkelstein, onset.Wilcoxon} {
				s, err := np.Scores(obs, k)
				answers(r, "scores", s, err)
				if err == nil {
					c, err := onset.Compare(s, dose)
					answers(r, "compare", c, err)
				}
			}
		}
		for _, law := range []onset.Law{onset.Weibull, onset.LogNormal, onset.LogLogistic} {
			w, err := onset.FitRegression(law, obs, x, []string{"a", "b"})
			answers(r, "regression", w, err)
			if err == nil {
				q, err := w.Quantile(0.1, []float64{1, 9}, 0.9)
				answers(r, "quantile", q, err)
				c, err := w.Clustered(unit, 2)
				answers(r, "clustered", c, err)
			}
		}
		g, err := ordinal.FitModel(grades)
		answers(r, "grades", g, err)
		if err == nil {
			answers(r, "chances", g.Chances([]float64{9}), nil)
			k, err := g.Proportional(0)
			answers(r, "proportional", k, err)
		}
		h, err := ordinal.FitRandom(grades, unit, 3)
		answers(r, "grades by unit", h, err)
	})
}

// And for curves.
func TestNeverNaNInCurves(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(r, "units")
		y := values(r, n)
		x := make([]float64, n)
		for i := range x {
			x[i] = float64(rapid.IntRange(0, 6).Draw(r, "dose")) * 3
		}
		c, err := curve.Compare(x, y, 0.9, curve.Forms...)
		answers(r, "curves", c, err)
	})
}
