package mixed

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
	"underlamp/science/stat/linear"
)

// A Component is a variance component.
type Component struct {
	Name     string
	Variance float64
	Effects  []float64 // predicted shift of each level of its factor; nil for the residual
}

// A Fit is a fitted mixed model.
type Fit struct {
	Components []Component // in the order given; the residual is the last
	Coef       []float64   // fixed effects, coded as in [linear.Fit]
	Deviance   float64     // −2 restricted log likelihood
	Boundary   []string    // components estimated as 0
	Iterations int

	lin  *linear.Fit
	kept []int // columns of the fixed part that are in
	m    *model
	s    *state
}

// model holds the sums over values.
type model struct {
	n, p, q int
	start   []int // of each random factor among the q columns, and the end
	zz      *mat.SymDense
	xx      *mat.SymDense
	zx      *mat.Dense
	zy      *mat.VecDense
	yy      float64
	names   []string
}

// state is everything at one set of variances.
type state struct {
	v        []float64 // variances, residual last
	phi      *mat.SymDense
	beta     *mat.VecDense
	w        *mat.VecDense // Zᵀ P y
	pm       []*mat.SymDense
	qm       [][]*mat.Dense
	score    []float64
	info     *mat.SymDense
	deviance float64
}

// FitModel fits fixed terms and random factors by restricted maximum likelihood. It
// refuses layouts in which the components cannot be told apart.
func FitModel(values []float64, fixed []linear.Term, random ...stat.Factor) (*Fit, error) {
	if err := stat.Check(values, random...); err != nil {
		return nil, err
	}
	what := "a mixed model"
	if len(random) == 0 {
		return nil, stat.Refuse(what, "there are no random factors; it is an ordinary linear model")
	}
	lin, err := linear.FitModel(values, fixed...)
	if err != nil {
		return nil, err
	}
	f := &Fit{lin: lin}
	var x [][]float64
	for j, c := range lin.Columns() {
		if !lin.Aliased[j] {
			f.kept = append(f.kept, j)
			x = append(x, c)
		}
	}
	n, p := len(values), len(x)
	if n-p < len(random)+1 {
		return nil, stat.Refuse(what, "%d values are too few for %d fixed effects and %d variances", n, p, len(random)+1)
	}
	if !(lin.RSS > 0) {
		return nil, stat.Refuse(what, "the values do not differ at all within groups")
	}
	for _, r := range random {
		if len(r.Levels) >= n {
			return nil, stat.Refuse(what, "every level of %s has a single value, so its scatter is the residual's", r.Name)
		}
		if len(r.Levels) < 2 {
			return nil, stat.Refuse(what, "%s has one level", r.Name)
		}
	}
	f.m = sums(lin, values, x, random)
	if err := f.fit(lin.RSS / float64(n-p)); err != nil {
		return nil, err
	}
	f.Coef = append([]float64(nil), lin.Coef...)
	for k, j := range f.kept {
		f.Coef[j] += f.s.beta.AtVec(k)
	}
	for k, name := range f.m.names {
		c := Component{Name: name, Variance: f.s.v[k]}
		for i := f.m.start[k]; i < f.m.start[k+1]; i++ {
			c.Effects = append(c.Effects, c.Variance*f.s.w.AtVec(i))
		}
		f.Components = append(f.Components, c)
		if c.Variance == 0 {
			f.Boundary = append(f.Boundary, name)
		}
	}
	f.Components = append(f.Components, Component{Name: "residual", Variance: f.s.v[len(random)]})
	f.Deviance = f.s.deviance
	return f, nil
}

func sums(lin *linear.Fit, y []float64, x [][]float64, random []stat.Factor) *model {
	m := &model{n: len(y), p: len(x)}
	for _, r := range random {
		m.start = append(m.start, m.q)
		m.q += len(r.Levels)
		m.names = append(m.names, r.Name)
	}
	m.start = append(m.start, m.q)
	m.zz, m.xx = mat.NewSymDense(m.q, nil), mat.NewSymDense(m.p, nil)
	m.zx = mat.NewDense(m.q, m.p, nil)
	m.zy = mat.NewVecDense(m.q, nil)
	zx, zz, zy := m.zx.RawMatrix(), m.zz.RawSymmetric(), m.zy.RawVector()
	for i := range y {
		// Residuals of the ordinary fit stand in for y: they differ by fixed effects, keep
		// their digits, and have no sums over the fixed columns.
		r := lin.Residuals[i]
		m.yy += r * r
		for k, fk := range random {
			a := m.start[k] + fk.Of[i]
			zy.Data[a] += r
			row := zx.Data[a*zx.Stride : a*zx.Stride+m.p]
			for j := range x {
				row[j] += x[j][i]
			}
			for l := k; l < len(random); l++ {
				zz.Data[a*zz.Stride+m.start[l]+random[l].Of[i]]++
			}
		}
	}
	for a := range x {
		for b := a; b < len(x); b++ {
			var s float64
			for i := range y {
				s += x[a][i] * x[b][i]
			}
			m.xx.SetSym(a, b, s)
		}
	}
	return m
}

// at computes everything at variances v; ok is false if they are impossible.
func (m *model) at(v []float64, full bool) (*state, bool) {
	k := len(v) - 1
	ve := v[k]
	if !(ve > 0) {
		return nil, false
	}
	s := &state{v: append([]float64(nil), v...)}
	sd := make([]float64, m.q)
	for c := range k {
		for i := m.start[c]; i < m.start[c+1]; i++ {
			sd[i] = math.Sqrt(v[c])
		}
	}
	// H = S (ve I + S C S)⁻¹ S
	inner := mat.NewSymDense(m.q, nil)
	for i := range m.q {
		for j := i; j < m.q; j++ {
			e := sd[i] * sd[j] * m.zz.At(i, j)
			if i == j {
				e += ve
			}
			inner.SetSym(i, j, e)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(inner) {
		return nil, false
	}
	logV := chol.LogDet() + float64(m.n-m.q)*math.Log(ve)
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		return nil, false
	}
	h := mat.NewSymDense(m.q, nil)
	for i := range m.q {
		for j := i; j < m.q; j++ {
			h.SetSym(i, j, sd[i]*sd[j]*inv.At(i, j))
		}
	}
	// D = (I − C H)/ve turns Zᵀ into ZᵀV⁻¹.
	d := mat.NewDense(m.q, m.q, nil)
	d.Mul(m.zz, h)
	for i := range m.q {
		for j := range m.q {
			e := -d.At(i, j)
			if i == j {
				e++
			}
			d.Set(i, j, e/ve)
		}
	}
	var hzx mat.Dense
	hzx.Mul(h, m.zx)
	var xzhzx mat.Dense
	xzhzx.Mul(m.zx.T(), &hzx)
	xvx := mat.NewSymDense(m.p, nil)
	for i := range m.p {
		for j := i; j < m.p; j++ {
			xvx.SetSym(i, j, (m.xx.At(i, j)-(xzhzx.At(i, j)+xzhzx.At(j, i))/2)/ve)
		}
	}
	var cx mat.Cholesky
	if !cx.Factorize(xvx) {
		return nil, false
	}
	s.phi = mat.NewSymDense(m.p, nil)
	if err := cx.InverseTo(s.phi); err != nil {
		return nil, false
	}
	xvy := mat.NewVecDense(m.p, nil)
	xvy.MulVec(hzx.T(), m.zy)
	for i := range m.p {
		xvy.SetVec(i, -xvy.AtVec(i)/ve)
	}
	s.beta = mat.NewVecDense(m.p, nil)
	s.beta.MulVec(s.phi, xvy)
	hzy := mat.NewVecDense(m.q, nil)
	hzy.MulVec(h, m.zy)
	yvy := (m.yy - mat.Dot(m.zy, hzy)) / ve
	ypy := yvy - mat.Dot(s.beta, xvy)
	s.deviance = float64(m.n-m.p)*math.Log(2*math.Pi) + logV + cx.LogDet() + ypy
	if math.IsNaN(s.deviance) || !full {
		return s, !math.IsNaN(s.deviance)
	}

	zr := mat.NewVecDense(m.q, nil)
	zr.MulVec(m.zx, s.beta)
	zr.SubVec(m.zy, zr)
	s.w = mat.NewVecDense(m.q, nil)
	s.w.MulVec(d, zr)
	b := mat.NewDense(m.q, m.p, nil)
	b.Mul(d, m.zx)
	t := mat.NewDense(m.q, m.q, nil)
	t.Mul(d, m.zz)

	// Sums by component; the residual from V = Σ v Vk + ve I.
	tr := make([]float64, k+1)
	tt := make([][]float64, k+1)
	yk := make([]float64, k+1)
	s.pm = make([]*mat.SymDense, k+1)
	s.qm = make([][]*mat.Dense, k+1)
	for c := range k + 1 {
		tt[c] = make([]float64, k+1)
		s.qm[c] = make([]*mat.Dense, k+1)
	}
	part := func(c int) *mat.Dense { return b.Slice(m.start[c], m.start[c+1], 0, m.p).(*mat.Dense) }
	for c := range k {
		for i := m.start[c]; i < m.start[c+1]; i++ {
			tr[c] += t.At(i, i)
			yk[c] += s.w.AtVec(i) * s.w.AtVec(i)
		}
		s.pm[c] = mat.NewSymDense(m.p, nil)
		s.pm[c].SymOuterK(1, part(c).T())
		for l := range k {
			tcl := t.Slice(m.start[c], m.start[c+1], m.start[l], m.start[l+1])
			nc, nl := tcl.Dims()
			for i := range nc {
				for j := range nl {
					tt[c][l] += tcl.At(i, j) * tcl.At(i, j)
				}
			}
			var tb, q mat.Dense
			tb.Mul(tcl, part(l))
			q.Mul(part(c).T(), &tb)
			s.qm[c][l] = &q
		}
	}
	tr[k] = float64(m.n)
	yk[k] = ypy
	s.pm[k] = mat.NewSymDense(m.p, nil)
	s.pm[k].CopySym(xvx)
	for c := range k {
		tr[k] -= v[c] * tr[c]
		yk[k] -= v[c] * yk[c]
		for i := range m.p {
			for j := i; j < m.p; j++ {
				s.pm[k].SetSym(i, j, s.pm[k].At(i, j)-v[c]*s.pm[c].At(i, j))
			}
		}
	}
	tr[k] /= ve
	yk[k] /= ve
	for i := range m.p {
		for j := i; j < m.p; j++ {
			s.pm[k].SetSym(i, j, s.pm[k].At(i, j)/ve)
		}
	}
	less := func(from mat.Matrix, of func(l int) mat.Matrix) *mat.Dense {
		out := mat.DenseCopyOf(from)
		for l := range k {
			var e mat.Dense
			e.Scale(v[l], of(l))
			out.Sub(out, &e)
		}
		out.Scale(1/ve, out)
		return out
	}
	for c := range k {
		e := tr[c]
		for l := range k {
			e -= v[l] * tt[c][l]
		}
		tt[c][k] = e / ve
		tt[k][c] = tt[c][k]
		s.qm[c][k] = less(s.pm[c], func(l int) mat.Matrix { return s.qm[c][l] })
		s.qm[k][c] = mat.DenseCopyOf(s.qm[c][k].T())
	}
	e := tr[k]
	for l := range k {
		e -= v[l] * tt[l][k]
	}
	tt[k][k] = e / ve
	s.qm[k][k] = less(s.pm[k], func(l int) mat.Matrix { return s.qm[l][k] })

	pp := make([]*mat.Dense, k+1) // Φ P
	for c := range pp {
		pp[c] = mat.NewDense(m.p, m.p, nil)
		pp[c].Mul(s.phi, s.pm[c])
	}
	s.score = make([]float64, k+1)
	s.info = mat.NewSymDense(k+1, nil)
	for c := range k + 1 {
		s.score[c] = (yk[c] - tr[c] + mat.Trace(pp[c])) / 2
		for l := c; l <= k; l++ {
			var a, g mat.Dense
			a.Mul(s.phi, s.qm[c][l])
			g.Mul(pp[c], pp[l])
			s.info.SetSym(c, l, (tt[c][l]-2*mat.Trace(&a)+mat.Trace(&g))/2)
		}
	}
	return s, true
}

// fit climbs the restricted likelihood.
func (f *Fit) fit(total float64) error {
	m := f.m
	k := len(m.names)
	v := make([]float64, k+1)
	for c := range v {
		v[c] = total / float64(k+1)
	}
	s, ok := m.at(v, true)
	if !ok {
		return stat.Refuse("a mixed model", "the layout does not determine its variances")
	}
	for f.Iterations = 1; f.Iterations <= 200; f.Iterations++ {
		var free []int
		for c := range v {
			if v[c] > 0 || s.score[c] > 0 {
				free = append(free, c)
			}
		}
		step, ok := solve(s.info, s.score, free)
		if !ok {
			return stat.Refuse("the variances of the random factors", "two of them group the values alike in this layout")
		}
		better := false
		var next *state
		for scale := 1.0; scale > 1e-10; scale /= 2 {
			trial := append([]float64(nil), v...)
			for i, c := range free {
				trial[c] = v[c] + scale*step[i]
				if trial[c] < 0 {
					trial[c] = 0
					if c == k {
						trial[c] = v[c] / 10
					}
				}
			}
			if light, ok := m.at(trial, false); ok && light.deviance <= s.deviance+1e-12*math.Abs(s.deviance) {
				v = trial
				next, _ = m.at(v, true)
				better = true
				break
			}
		}
		if !better {
			break
		}
		var change float64
		for c := range v {
			change = math.Max(change, math.Abs(v[c]-s.v[c])/total)
		}
		s = next
		if change < 1e-12 {
			break
		}
	}
	// A variance that is nothing beside the residual is 0 if that is no worse.
	for c := range k {
		if v[c] > 0 && v[c] < 1e-7*v[k] {
			trial := append([]float64(nil), v...)
			trial[c] = 0
			if z, ok := m.at(trial, true); ok && z.deviance <= s.deviance+1e-9 {
				v, s = trial, z
			}
		}
	}
	f.s = s
	return nil
}

// solve returns the scoring step of the free components.
func solve(info *mat.SymDense, score []float64, free []int) ([]float64, bool) {
	n := len(free)
	a, b := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i, c := range free {
		b.SetVec(i, score[c])
		for j := i; j < n; j++ {
			a.SetSym(i, j, info.At(c, free[j]))
		}
	}
	// Scaled to a unit diagonal, so that the condition is that of the layout.
	d := make([]float64, n)
	for i := range d {
		if !(a.At(i, i) > 0) {
			return nil, false
		}
		d[i] = 1 / math.Sqrt(a.At(i, i))
	}
	for i := range n {
		for j := i; j < n; j++ {
			a.SetSym(i, j, a.At(i, j)*d[i]*d[j])
		}
		b.SetVec(i, b.AtVec(i)*d[i])
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) || chol.Cond() > 1e12 {
		return nil, false
	}
	var x mat.VecDense
	if err := chol.SolveVecTo(&x, b); err != nil {
		return nil, false
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = x.AtVec(i) * d[i]
	}
	return out, true
}
