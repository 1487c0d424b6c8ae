package linear

import (
	"fmt"
	"math"
	"strings"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
)

// A Variable is what a term is made of: a factor, or numbers.
type Variable struct {
	factor *stat.Factor
	name   string
	values []float64
}

// By is a factor as a variable.
func By(f stat.Factor) Variable { return Variable{factor: &f, name: f.Name} }

// Of is a covariate as a variable, one number per unit.
func Of(name string, values []float64) Variable { return Variable{name: name, values: values} }

// A Term is a product of variables; with one variable it is its main effect.
type Term []Variable

// Name writes the term as "a:b".
func (t Term) Name() string {
	names := make([]string, len(t))
	for i, v := range t {
		names[i] = v.name
	}
	return strings.Join(names, ":")
}

// columns returns the coded columns of a variable for each unit.
func (v Variable) columns() [][]float64 {
	if v.factor == nil {
		return [][]float64{v.values}
	}
	var out [][]float64
	for k := 1; k < len(v.factor.Levels); k++ {
		c := make([]float64, len(v.factor.Of))
		for i, l := range v.factor.Of {
			if l == k {
				c[i] = 1
			}
		}
		out = append(out, c)
	}
	return out
}

// codes returns what the columns of a variable are in the reference mix, or at a
// level of the factor that is asked about.
func (v Variable) codes(at map[string]int) []float64 {
	if v.factor == nil {
		var sum float64
		for _, x := range v.values {
			sum += x
		}
		return []float64{sum / float64(len(v.values))}
	}
	out := make([]float64, len(v.factor.Levels)-1)
	if k, ok := at[v.name]; ok {
		if k > 0 {
			out[k-1] = 1
		}
		return out
	}
	for i := range out {
		out[i] = 1 / float64(len(v.factor.Levels))
	}
	return out
}

func product(a, b [][]float64) [][]float64 {
	var out [][]float64
	for _, y := range b {
		for _, x := range a {
			c := make([]float64, len(x))
			for i := range c {
				c[i] = x[i] * y[i]
			}
			out = append(out, c)
		}
	}
	return out
}

// A Fit is a fitted linear model.
type Fit struct {
	N         int
	Coef      []float64 // intercept first; 0 for a column that was left out
	Aliased   []bool
	Residuals []float64
	Fitted    []float64
	Leverage  []float64
	RSS       float64 // residual sum of squares
	DF        int     // residual degrees of freedom
	Rows      []Row   // sequential sums of squares, in the order of the terms

	y       []float64
	terms   []Term
	starts  []int // first column of each term
	columns int
	x       [][]float64
	inverse [][]float64         // of XᵀX over the columns that are in
	depends map[int][]dependsOn // what a left-out column is made of
}

type dependsOn struct {
	column int
	times  float64
}

// A Row is a line of an analysis of variance.
type Row struct {
	Name string
	DF   int
	SS   float64
}

// FitModel fits values by the terms. It returns an error for bad input, and no
// refusal: a fit without residual degrees of freedom still has coefficients.
func FitModel(values []float64, terms ...Term) (*Fit, error) {
	if err := stat.Check(values); err != nil {
		return nil, err
	}
	if len(values) == 0 {
		return nil, stat.Refuse("a fit", "there are no values")
	}
	n := len(values)
	f := &Fit{N: n, y: values, terms: terms, depends: map[int][]dependsOn{}}
	ones := make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	x := [][]float64{ones}
	for _, t := range terms {
		f.starts = append(f.starts, len(x))
		var cols [][]float64
		for j, v := range t {
			if v.factor != nil {
				if err := stat.Check(values, *v.factor); err != nil {
					return nil, err
				}
			} else if len(v.values) != n {
				return nil, fmt.Errorf("covariate %q has %d values for %d units", v.name, len(v.values), n)
			} else if err := stat.Check(v.values); err != nil {
				return nil, fmt.Errorf("covariate %q: %w", v.name, err)
			}
			if j == 0 {
				cols = v.columns()
			} else {
				cols = product(cols, v.columns())
			}
		}
		x = append(x, cols...)
	}
	f.columns, f.x = len(x), x
	f.Aliased = make([]bool, len(x))
	f.Coef = make([]float64, len(x))

	first := values[0]
	rest := make([]float64, n)
	for i, v := range values {
		rest[i] = v - first
	}
	var q [][]float64
	var in []int
	r := make([][]float64, 0, len(x)) // rows of R by column order of in
	var effects []float64
	ssAt := make([]float64, len(x))
	for j, col := range x {
		c := append([]float64(nil), col...)
		// The intercept comes out first, so the size to compare with is the spread.
		size := norm(c)
		proj := make([]float64, len(q))
		for pass := range 2 {
			for k := range q {
				d := dot(q[k], c)
				proj[k] += d
				axpy(c, -d, q[k])
			}
			_ = pass
		}
		left := norm(c)
		if left <= 1e-9*size || size == 0 {
			f.Aliased[j] = true
			// x_j = Σ proj q, so in terms of columns: solve R b = proj.
			b := backSolve(r, proj)
			for k, v := range b {
				if math.Abs(v) > 1e-9 {
					f.depends[j] = append(f.depends[j], dependsOn{in[k], v})
				}
			}
			continue
		}
		for i := range c {
			c[i] /= left
		}
		for k := range r {
			r[k] = append(r[k], proj[k])
		}
		last := make([]float64, len(q)+1)
		last[len(q)] = left
		r = append(r, last)
		q = append(q, c)
		in = append(in, j)
		e := dot(c, rest)
		axpy(rest, -e, c)
		// Once more, for the digits.
		e2 := dot(c, rest)
		axpy(rest, -e2, c)
		e += e2
		effects = append(effects, e)
		ssAt[j] = e * e
	}
	b := backSolve(r, effects)
	for k, j := range in {
		f.Coef[j] = b[k]
	}
	f.Coef[0] += first
	f.DF = n - len(in)
	f.Residuals = rest
	f.Fitted = make([]float64, n)
	f.Leverage = make([]float64, n)
	for i := range rest {
		f.RSS += rest[i] * rest[i]
		f.Fitted[i] = values[i] - rest[i]
		for k := range q {
			f.Leverage[i] += q[k][i] * q[k][i]
		}
	}
	for t, s := range f.starts {
		end := f.columns
		if t+1 < len(f.starts) {
			end = f.starts[t+1]
		}
		row := Row{Name: terms[t].Name()}
		for j := s; j < end; j++ {
			if !f.Aliased[j] {
				row.DF++
				row.SS += ssAt[j]
			}
		}
		f.Rows = append(f.Rows, row)
	}
	// Inverse of XᵀX is R⁻¹R⁻ᵀ.
	m := len(in)
	ri := make([][]float64, m)
	for k := range m {
		e := make([]float64, m)
		e[k] = 1
		ri[k] = backSolve(r, e) // column k of R⁻¹
	}
	f.inverse = make([][]float64, f.columns)
	for j := range f.inverse {
		f.inverse[j] = make([]float64, f.columns)
	}
	for a := range m {
		for c := range m {
			var s float64
			for k := range m {
				s += ri[k][a] * ri[k][c]
			}
			f.inverse[in[a]][in[c]] = s
		}
	}
	return f, nil
}

// backSolve solves the upper triangle R b = v, R given by rows that begin at
// column 0.
func backSolve(r [][]float64, v []float64) []float64 {
	n := len(r)
	b := make([]float64, n)
	for i := n - 1; i >= 0; i-- {
		s := v[i]
		for k := i + 1; k < n; k++ {
			s -= r[i][k] * b[k]
		}
		b[i] = s / r[i][i]
	}
	return b
}

func dot(a, b []float64) float64 {
	var s float64
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

func axpy(y []float64, a float64, x []float64) {
	for i := range y {
		y[i] += a * x[i]
	}
}

func norm(a []float64) float64 { return math.Sqrt(dot(a, a)) }

// Variance returns the residual mean square, or a refusal without residual degrees
// of freedom.
func (f *Fit) Variance() (float64, error) {
	if f.DF < 1 {
		return 0, stat.Refuse("the error", "%d units leave no degrees of freedom beside %d coefficients", f.N, f.N-f.DF)
	}
	return f.RSS / float64(f.DF), nil
}

// Value returns the linear function l of the coefficients (see [Fit.Vector] and
// [Fit.Column]), or a refusal if the layout does not determine it.
func (f *Fit) Value(l []float64) (float64, error) {
	for j, deps := range f.depends {
		want := 0.0
		for _, d := range deps {
			want += d.times * l[d.column]
		}
		if math.Abs(want-l[j]) > 1e-7*(1+math.Abs(l[j])) {
			return 0, stat.Refuse("this combination of levels", "some of its cells have no units")
		}
	}
	for j := range l {
		if f.Aliased[j] && f.depends[j] == nil && l[j] != 0 {
			return 0, stat.Refuse("this combination of levels", "some of its cells have no units")
		}
	}
	return dot(l, f.Coef), nil
}

// Covariance returns aᵀ(XᵀX)⁻¹b: times the residual mean square it is the
// covariance of two linear functions.
func (f *Fit) Covariance(a, b []float64) float64 {
	var s float64
	for i, x := range a {
		if x != 0 {
			s += x * dot(f.inverse[i], b)
		}
	}
	return s
}

// Estimate returns a linear function with t limits of the given level.
func (f *Fit) Estimate(name string, l []float64, level float64) (stat.Estimate, error) {
	v, err := f.Value(l)
	if err != nil {
		return stat.Estimate{}, err
	}
	s2, err := f.Variance()
	if err != nil {
		return stat.Estimate{}, err
	}
	return TEstimate(name, v, math.Sqrt(s2*f.Covariance(l, l)), float64(f.DF), level)
}

// TEstimate makes an estimate with t limits. It refuses where the standard error is
// 0, for no test exists without scatter.
func TEstimate(name string, value, se, df, level float64) (stat.Estimate, error) {
	if !(se > 0) {
		return stat.Estimate{}, stat.Refuse("the error of "+name, "the units do not differ at all within groups")
	}
	t := value / se
	half := dist.TQuantile((1+level)/2, df) * se
	return stat.Estimate{Name: name, Value: value, SE: se, DF: df, T: t, P: dist.TTwoSided(t, df),
		Interval: stat.Interval{Lower: value - half, Upper: value + half, Level: level}}, nil
}

// Vector returns the linear function that is the mean at the given levels of
// factors, everything else at the reference mix.
func (f *Fit) Vector(at map[string]int) []float64 {
	l := make([]float64, 0, f.columns)
	l = append(l, 1)
	for _, t := range f.terms {
		codes := []float64{1}
		for j, v := range t {
			c := v.codes(at)
			if j == 0 {
				codes = c
				continue
			}
			var next []float64
			for _, y := range c {
				for _, x := range codes {
					next = append(next, x*y)
				}
			}
			codes = next
		}
		l = append(l, codes...)
	}
	return l
}

// Column returns the linear function that is one coefficient: column k of term t.
func (f *Fit) Column(t, k int) []float64 {
	l := make([]float64, f.columns)
	l[f.starts[t]+k] = 1
	return l
}

// Width returns the number of columns of a term.
func (f *Fit) Width(t int) int {
	if t+1 < len(f.starts) {
		return f.starts[t+1] - f.starts[t]
	}
	return f.columns - f.starts[t]
}

// Columns returns the coded columns of the model, intercept first; those that are
// Aliased are there too. The caller must not change them.
func (f *Fit) Columns() [][]float64 { return f.x }

// Drop tests a term by leaving it out, all others kept.
func (f *Fit) Drop(term int) (Row, stat.Test, error) {
	s2, err := f.Variance()
	if err != nil {
		return Row{}, stat.Test{}, err
	}
	var others []Term
	for i, t := range f.terms {
		if i != term {
			others = append(others, t)
		}
	}
	g, err := FitModel(f.y, others...)
	if err != nil {
		return Row{}, stat.Test{}, err
	}
	row := Row{Name: f.terms[term].Name(), DF: g.DF - f.DF, SS: g.RSS - f.RSS}
	if row.DF == 0 {
		return row, stat.Test{}, stat.Refuse("a test of "+row.Name, "it cannot be told apart from the other terms in this layout")
	}
	test, err := FTest(row, s2, f.DF)
	return row, test, err
}

// FTest tests a line against an error variance.
func FTest(row Row, variance float64, df int) (stat.Test, error) {
	if row.DF < 1 {
		return stat.Test{}, stat.Refuse("a test of "+row.Name, "it has one level or cannot be told apart from what is already in the model")
	}
	if !(variance > 0) {
		return stat.Test{}, stat.Refuse("a test of "+row.Name, "the units do not differ at all within groups")
	}
	f := row.SS / float64(row.DF) / variance
	return stat.Test{Statistic: f, DF1: float64(row.DF), DF2: float64(df), P: dist.FUpper(f, float64(row.DF), float64(df))}, nil
}

// LackOfFit tests a model against one that holds it.
func LackOfFit(small, large *Fit) (stat.Test, error) {
	s2, err := large.Variance()
	if err != nil {
		return stat.Test{}, err
	}
	return FTest(Row{"lack of fit", small.DF - large.DF, small.RSS - large.RSS}, s2, large.DF)
}

// Studentised returns residuals divided by their standard error without the unit
// itself, and Cook's distances. A unit that its group rests on alone has 0 in both.
func (f *Fit) Studentised() (residuals, cook []float64) {
	residuals, cook = make([]float64, f.N), make([]float64, f.N)
	p := float64(f.N - f.DF)
	for i, r := range f.Residuals {
		free := 1 - f.Leverage[i]
		if free < 1e-10 || f.DF < 2 || f.RSS == 0 {
			continue
		}
		s2 := f.RSS / float64(f.DF)
		cook[i] = r * r / (p * s2) * f.Leverage[i] / (free * free)
		without := (f.RSS - r*r/free) / float64(f.DF-1)
		if without > 0 {
			residuals[i] = r / math.Sqrt(without*free)
		}
	}
	return residuals, cook
}
