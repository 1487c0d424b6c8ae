package mixed

import (
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/linear"
)

// adjusted holds what tests of fixed effects need.
type adjusted struct {
	w   *mat.SymDense // covariance of the variance components
	cov *mat.SymDense // adjusted covariance of the fixed effects
}

func (f *Fit) adjust() (*adjusted, error) {
	if len(f.Boundary) > 0 {
		return nil, stat.Refuse("a test by this mixed model", "the variance between levels of %s is estimated as 0; the analysis of the means of the units is to be used instead", strings.Join(f.Boundary, " and of "))
	}
	s := f.s
	k := len(s.v)
	var chol mat.Cholesky
	if !chol.Factorize(s.info) {
		return nil, stat.Refuse("a test by this mixed model", "its variances are not determined by the layout")
	}
	a := &adjusted{w: mat.NewSymDense(k, nil), cov: mat.NewSymDense(f.m.p, nil)}
	if err := chol.InverseTo(a.w); err != nil {
		return nil, stat.Refuse("a test by this mixed model", "its variances are not determined by the layout")
	}
	p := f.m.p
	sum := mat.NewDense(p, p, nil)
	for i := range k {
		for j := range k {
			var pf, pfp, e mat.Dense
			pf.Mul(s.pm[i], s.phi)
			pfp.Mul(&pf, s.pm[j])
			e.Sub(s.qm[i][j], &pfp)
			e.Scale(a.w.At(i, j), &e)
			sum.Add(sum, &e)
		}
	}
	var half, lambda mat.Dense
	half.Mul(s.phi, sum)
	lambda.Mul(&half, s.phi)
	for i := range p {
		for j := i; j < p; j++ {
			a.cov.SetSym(i, j, s.phi.At(i, j)+lambda.At(i, j)+lambda.At(j, i))
		}
	}
	return a, nil
}

// rows takes linear functions to the columns that are in, after asking whether the
// layout determines them.
func (f *Fit) rows(ls [][]float64) (*mat.Dense, error) {
	l := mat.NewDense(len(ls), f.m.p, nil)
	for i, v := range ls {
		if _, err := f.lin.Value(v); err != nil {
			return nil, err
		}
		for k, j := range f.kept {
			l.Set(i, k, v[j])
		}
	}
	return l, nil
}

// Vector is [linear.Fit.Vector] of the fixed part.
func (f *Fit) Vector(at map[string]int) []float64 { return f.lin.Vector(at) }

// value is a linear function of the fixed effects.
func (f *Fit) value(l []float64) float64 {
	var v float64
	for j, x := range l {
		v += x * f.Coef[j]
	}
	return v
}

// Hypothesis tests that all the linear functions are 0, by F of KenwardRoger1997. It
// refuses at the boundary.
func (f *Fit) Hypothesis(ls ...[]float64) (stat.Test, error) {
	if len(ls) == 0 {
		return stat.Test{}, stat.Refuse("a test", "there is only one level")
	}
	l, err := f.rows(ls)
	if err != nil {
		return stat.Test{}, err
	}
	a, err := f.adjust()
	if err != nil {
		return stat.Test{}, err
	}
	r, _ := l.Dims()
	ell := float64(r)
	v := mat.NewVecDense(r, nil)
	for i := range ls {
		v.SetVec(i, f.value(ls[i]))
	}
	singular := stat.Refuse("this test", "the functions that it tests depend on each other")
	quad := func(c mat.Symmetric) (*mat.SymDense, *mat.Cholesky, bool) {
		var lc, lcl mat.Dense
		lc.Mul(l, c)
		lcl.Mul(&lc, l.T())
		s := mat.NewSymDense(r, nil)
		for i := range r {
			for j := i; j < r; j++ {
				s.SetSym(i, j, (lcl.At(i, j)+lcl.At(j, i))/2)
			}
		}
		var chol mat.Cholesky
		ok := chol.Factorize(s)
		return s, &chol, ok
	}
	_, plain, ok := quad(f.s.phi)
	if !ok {
		return stat.Test{}, singular
	}
	var inv mat.SymDense
	if err := plain.InverseTo(&inv); err != nil {
		return stat.Test{}, singular
	}
	var li, theta mat.Dense
	li.Mul(l.T(), &inv)
	theta.Mul(&li, l)
	k := len(f.s.v)
	tf := make([]*mat.Dense, k) // Θ Φ P Φ
	for i := range tf {
		var a1, a2 mat.Dense
		a1.Mul(&theta, f.s.phi)
		a2.Mul(&a1, f.s.pm[i])
		tf[i] = mat.NewDense(f.m.p, f.m.p, nil)
		tf[i].Mul(&a2, f.s.phi)
	}
	var a1, a2 float64
	for i := range k {
		for j := range k {
			var e mat.Dense
			e.Mul(tf[i], tf[j])
			a1 += a.w.At(i, j) * mat.Trace(tf[i]) * mat.Trace(tf[j])
			a2 += a.w.At(i, j) * mat.Trace(&e)
		}
	}
	b := (a1 + 6*a2) / (2 * ell)
	g := ((ell+1)*a1 - (ell+4)*a2) / ((ell + 2) * a2)
	den := 3*ell + 2*(1-g)
	c1, c2, c3 := g/den, (ell-g)/den, (ell+2-g)/den
	es := 1 / (1 - a2/ell)
	vs := 2 / ell * (1 + c1*b) / ((1 - c2*b) * (1 - c2*b) * (1 - c3*b))
	rho := vs / (2 * es * es)
	df := 4 + (ell+2)/(ell*rho-1)
	lambda := df / (es * (df - 2))
	_, adj, ok := quad(a.cov)
	if !ok || !(df > 0) || math.IsInf(df, 0) || !(lambda > 0) {
		return stat.Test{}, stat.Refuse("this test", "too few groups are left for its degrees of freedom")
	}
	var x mat.VecDense
	if err := adj.SolveVecTo(&x, v); err != nil {
		return stat.Test{}, singular
	}
	fs := lambda / ell * mat.Dot(v, &x)
	return stat.Test{Statistic: fs, DF1: ell, DF2: df, P: dist.FUpper(fs, ell, df)}, nil
}

// Term tests a term of the fixed part: of a factor, that its adjusted means are
// equal; of an interaction or covariate, that all its coefficients are 0. So a main
// effect is tested over an even mix of what it interacts with.
func (f *Fit) Term(term int, factor *stat.Factor) (stat.Test, error) {
	if factor != nil {
		base := f.lin.Vector(map[string]int{factor.Name: 0})
		var ls [][]float64
		for k := 1; k < len(factor.Levels); k++ {
			v := f.lin.Vector(map[string]int{factor.Name: k})
			for i := range v {
				v[i] -= base[i]
			}
			ls = append(ls, v)
		}
		return f.Hypothesis(ls...)
	}
	var ls [][]float64
	for k := range f.lin.Width(term) {
		ls = append(ls, f.lin.Column(term, k))
	}
	return f.Hypothesis(ls...)
}

// Estimate returns a linear function of the fixed effects with the adjusted
// standard error and t limits; it refuses at the boundary.
func (f *Fit) Estimate(name string, l []float64, level float64) (stat.Estimate, error) {
	t, err := f.Hypothesis(l)
	if err != nil {
		return stat.Estimate{}, err
	}
	row, err := f.rows([][]float64{l})
	if err != nil {
		return stat.Estimate{}, err
	}
	a, err := f.adjust()
	if err != nil {
		return stat.Estimate{}, err
	}
	v := row.RowView(0)
	return linear.TEstimate(name, f.value(l), math.Sqrt(mat.Inner(v, a.cov, v)), t.DF2, level)
}

// Means returns the adjusted means of a factor with adjusted covariance, for
// comparisons. DF is that of the first difference of two means.
func (f *Fit) Means(factor stat.Factor) (linear.Means, error) {
	m := linear.Means{Factor: factor.Name, Levels: factor.Levels, N: factor.Counts()}
	a, err := f.adjust()
	if err != nil {
		return m, err
	}
	var ls [][]float64
	for k := range factor.Levels {
		ls = append(ls, f.lin.Vector(map[string]int{factor.Name: k}))
		m.Value = append(m.Value, f.value(ls[k]))
	}
	l, err := f.rows(ls)
	if err != nil {
		return m, err
	}
	var lc, lcl mat.Dense
	lc.Mul(l, a.cov)
	lcl.Mul(&lc, l.T())
	for i := range ls {
		row := make([]float64, len(ls))
		for j := range row {
			row[j] = (lcl.At(i, j) + lcl.At(j, i)) / 2
		}
		m.Cov = append(m.Cov, row)
	}
	if len(ls) > 1 {
		d := make([]float64, len(ls[0]))
		for i := range d {
			d[i] = ls[1][i] - ls[0][i]
		}
		t, err := f.Hypothesis(d)
		if err != nil {
			return m, err
		}
		m.DF = t.DF2
	}
	return m, nil
}
