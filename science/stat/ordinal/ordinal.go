// Package ordinal fits grades in classes that have an order: proportional odds over
// cumulative logits (McCullagh1980), with a likelihood-ratio test of proportionality.
//
// # Conventions
//
//   - Classes are 0 to K − 1; P(class ≤ k) = expit(θₖ − xβ), so a coefficient above 0
//     means higher classes. There is no intercept among the columns.
//   - [FitModel] takes rows as independent. Subsamples of one unit are not: test on
//     midranks averaged over each unit (packages ranks, anova, layout), and take
//     coefficients from [FitRandom], with a shift of each unit, for show.
//   - Classes with few subsamples are merged from the top first: [MergeTop].
package ordinal

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/numeric"
)

// Data are graded rows.
type Data struct {
	Class  []int
	Weight []float64   // how many rows each stands for; nil is one
	X      [][]float64 // columns of each row
	Names  []string
	Free   []bool // columns whose effect may differ by threshold; nil is none
}

// A Fit is a fitted model.
type Fit struct {
	Names     []string
	Threshold []float64 // at the reference, K − 1
	Coef      []float64 // NaN-free: a free column has its effect on the first threshold
	Cov       [][]float64
	LogLik    float64
	params    int
	d         Data
	classes   int
}

// MergeTop returns the class that each class becomes when classes with fewer than least
// subsamples are merged, from the highest down, each into the one below it. The
// lowest class, which is none of it, stays by itself: too few above it join
// upward.
func MergeTop(counts []int, least int) []int {
	to := make([]int, len(counts))
	sum, group := 0, 0 // groups from the top
	for k := len(counts) - 1; k >= 1; k-- {
		to[k] = group
		if sum += counts[k]; sum >= least {
			group++
			sum = 0
		}
	}
	last := group - 1
	if group == 0 {
		last = 0
	}
	for k := 1; k < len(to); k++ {
		to[k] = last - min(to[k], last) + 1
	}
	return to
}

func (d Data) classes() (int, error) {
	if len(d.Class) == 0 {
		return 0, stat.Refuse("a model of grades", "there are no rows")
	}
	if len(d.X) != len(d.Class) || d.Weight != nil && len(d.Weight) != len(d.Class) || d.Free != nil && len(d.Free) != len(d.Names) {
		return 0, fmt.Errorf("%d classes, %d rows and %d names do not match", len(d.Class), len(d.X), len(d.Names))
	}
	k := 0
	for i, c := range d.Class {
		if c < 0 || len(d.X[i]) != len(d.Names) {
			return 0, fmt.Errorf("row %d has class %d and %d columns", i+1, c, len(d.X[i]))
		}
		if err := stat.Check(d.X[i]); err != nil {
			return 0, fmt.Errorf("row %d: %w", i+1, err)
		}
		k = max(k, c+1)
	}
	count := make([]float64, k)
	for i, c := range d.Class {
		count[c] += d.weight(i)
	}
	for c, n := range count {
		if n == 0 {
			return 0, stat.Refuse("a model of grades", "nothing was graded %d; merge it with a neighbour", c)
		}
	}
	if k < 2 {
		return 0, stat.Refuse("a model of grades", "all grades are the same")
	}
	return k, nil
}

func (d Data) weight(i int) float64 {
	if d.Weight == nil {
		return 1
	}
	return d.Weight[i]
}

// FitModel fits by maximum likelihood. It refuses data in which a column parts the
// classes, for which there is no maximum.
func FitModel(d Data) (*Fit, error) { return fit(d, true) }

// fit takes, if not strict, a likelihood that only nears its bound: for a test by its
// value alone.
func fit(d Data, strict bool) (*Fit, error) {
	k, err := d.classes()
	if err != nil {
		return nil, err
	}
	m := k - 1
	// Parameters: thresholds, then for each column one effect or m of them.
	at := make([]int, len(d.Names))
	params := m
	for j := range d.Names {
		at[j] = params
		if d.Free != nil && d.Free[j] {
			params += m
		} else {
			params++
		}
	}
	// row of η for threshold c.
	fill := func(c int, x []float64, g []float64) {
		clear(g)
		g[c] = 1
		for j, v := range x {
			if d.Free != nil && d.Free[j] {
				g[at[j]+c] = -v
			} else {
				g[at[j]] = -v
			}
		}
	}
	up, down := make([]float64, params), make([]float64, params)
	f := func(q []float64) (float64, []float64, *mat.SymDense, bool) {
		u, h := make([]float64, params), mat.NewSymDense(params, nil)
		hr := h.RawSymmetric()
		var ll float64
		for i, c := range d.Class {
			w := d.weight(i)
			if w == 0 {
				continue
			}
			e := func(g []float64) float64 {
				var s float64
				for a, v := range g {
					s += v * q[a]
				}
				return s
			}
			pu, fu, du := 1.0, 0.0, 0.0
			pd, fd, dd := 0.0, 0.0, 0.0
			clear(up)
			clear(down)
			if c < m {
				fill(c, d.X[i], up)
				pu, fu, du = logistic(e(up))
			}
			if c > 0 {
				fill(c-1, d.X[i], down)
				pd, fd, dd = logistic(e(down))
			}
			p := pu - pd
			if !(p > 0) {
				return 0, nil, nil, false
			}
			ll += w * math.Log(p)
			for a := range params {
				ga := (fu*up[a] - fd*down[a]) / p
				u[a] += w * ga
				if up[a] == 0 && down[a] == 0 {
					continue
				}
				for b := a; b < params; b++ {
					gb := (fu*up[b] - fd*down[b]) / p
					hr.Data[a*hr.Stride+b] += w * ((du*up[a]*up[b]-dd*down[a]*down[b])/p - ga*gb)
				}
			}
		}
		return ll, u, h, true
	}
	start := make([]float64, params)
	var total, below float64
	count := make([]float64, k)
	for i, c := range d.Class {
		count[c] += d.weight(i)
		total += d.weight(i)
	}
	for c := range m {
		below += count[c]
		start[c] = math.Log(below / (total - below))
	}
	q, ll, h, ok := numeric.Climb(f, start)
	cov, inv := numeric.Inverse(h)
	what := "a model of grades"
	if !ok || strict && !inv {
		return nil, stat.Refuse(what, "its likelihood has no maximum: a column parts the classes, or columns depend on each other")
	}
	for a := range cov {
		if strict && cov[a][a] > 1e6 {
			return nil, stat.Refuse(what, "a column parts the classes, so its effect may be as large as one likes")
		}
	}
	out := &Fit{Names: d.Names, Threshold: q[:m], Cov: cov, LogLik: ll, params: params, d: d, classes: k}
	for j := range d.Names {
		out.Coef = append(out.Coef, q[at[j]])
	}
	return out, nil
}

// logistic returns F, f and f′.
func logistic(e float64) (p, f, df float64) {
	if e >= 0 {
		z := math.Exp(-e)
		p = 1 / (1 + z)
		f = z / ((1 + z) * (1 + z))
	} else {
		z := math.Exp(e)
		p = z / (1 + z)
		f = z / ((1 + z) * (1 + z))
	}
	return p, f, f * (1 - 2*p)
}

// Estimates returns the coefficients with normal limits, as if rows were units; not for a
// model with free columns.
func (f *Fit) Estimates(level float64) []stat.Estimate {
	z := dist.NormalQuantile((1 + level) / 2)
	var out []stat.Estimate
	for j, b := range f.Coef {
		se := math.Sqrt(f.Cov[len(f.Threshold)+j][len(f.Threshold)+j])
		out = append(out, stat.Estimate{Name: f.Names[j], Value: b, SE: se, DF: math.Inf(1), T: b / se, P: dist.NormalTwoSided(b / se),
			Interval: stat.Interval{Lower: b - z*se, Upper: b + z*se, Level: level}})
	}
	return out
}

// Chances returns the chance of each class at a row of columns; not for a model with
// free columns.
func (f *Fit) Chances(x []float64) []float64 {
	var e float64
	for j, v := range x {
		e += v * f.Coef[j]
	}
	out := make([]float64, f.classes)
	last := 0.0
	for c, t := range f.Threshold {
		p, _, _ := logistic(t - e)
		out[c] = p - last
		last = p
	}
	out[f.classes-1] = 1 - last
	return out
}

// Against tests a model against a larger one by the likelihood ratio, as if rows were
// units.
func (f *Fit) Against(large *Fit) (stat.Test, error) {
	df := float64(large.params - f.params)
	if df < 1 {
		return stat.Test{}, fmt.Errorf("the larger model has no more parameters")
	}
	lr := math.Max(0, 2*(large.LogLik-f.LogLik))
	return stat.Test{Statistic: lr, DF1: df, P: dist.ChiSquareUpper(lr, df)}, nil
}

// Proportional tests whether the columns named by index act alike on every threshold. It refuses
// two classes.
func (f *Fit) Proportional(columns ...int) (stat.Test, error) {
	if f.classes < 3 {
		return stat.Test{}, stat.Refuse("a test of proportional odds", "there are only two classes")
	}
	d := f.d
	d.Free = make([]bool, len(d.Names))
	for _, j := range columns {
		d.Free[j] = true
	}
	// Where a class does not occur at a level, a threshold of the larger model runs off;
	// its likelihood still has a bound.
	large, err := fit(d, false)
	if err != nil {
		return stat.Test{}, err
	}
	return f.Against(large)
}
