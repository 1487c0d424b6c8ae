package growth

import (
	"math"
	"slices"

	"underlamp/science/stat"
)

// A Subject is one individual with what was measured of it, once or again and again.
type Subject struct {
	Curve int // which of the fixed curves it follows, from 0
	Unit  int // the unit that it belongs to; a unit follows one curve
	T     []float64
	Sizes []float64
}

// A Random says which parameters scatter at random, as [Model.Parameters] counts them.
type Random struct {
	Of         []bool // nil: none
	Correlated bool   // with covariances; else independent of each other
}

func (r Random) any() bool { return slices.Contains(r.Of, true) }

// A Many is a fit of many individuals at once: a curve for each of the fixed ones, that of
// an individual whose random effects are 0.
type Many struct {
	Model
	Coef        [][]float64   // by curve
	Cov         [][][]float64 // of the coefficients of each curve
	Sigma       float64       // deviation of values about the curve of their individual
	Individuals [][]float64   // covariance of the parameters between individuals
	Units       [][]float64   // between units; 0 if they have no effects
	Effects     [][]float64   // of each subject: what its parameters have above its curve's, unit and individual together
	LogLik      float64       // of the linear model at the end (LindstromBates1990), by maximum likelihood
	AICc        float64       // +Inf if there are too few values for it
	N           int           // values
	Boundary    bool          // some random effect was estimated as 0
	Rounds      int           // of the two steps

	df    []float64 // of the limits of each curve
	wide  []float64 // what the variances of the limits are raised by
	first []float64 // time of the first and the last value of each curve
	last  []float64
}

// subject is a Subject at work.
type subject struct {
	at          int // among those handed in
	t, y        []float64
	u           vec // standardised effects
	g, s, r     mat // JᵀJ, the same without what effects take up, triangle of C
	h, sh       vec // Jᵀw
	c           float64
	curve, unit int
}

type unit struct {
	subjects []*subject
	x        vec
	g, r     mat
	h        vec
	c        float64
}

type group struct {
	units []*unit
	beta  vec
	delta vec
	b, r  mat
	scale vec
	h     vec
}

// theta is a free element of a triangle of relative deviations.
type theta struct{ level, i, j int }

type many struct {
	Model
	n      int // parameters
	total  int // values
	groups []*group
	l      [2]mat // triangles of individuals and units, relative to sigma
	free   []theta
	size   vec // scale of the elements of a row
	units  bool
	all    []*subject
	rss    float64
	logDet float64
}

// FitMany fits curves to many individuals, with random effects of individuals, and of
// units if those have any. Without random effects it is least squares: the fit for
// individuals that are measured once each. It refuses sizes that are not above 0 if the scatter is
// proportional, curves with too few values or times, and searches that do not settle.
func FitMany(m Model, subjects []Subject, individuals, units Random) (*Many, error) {
	what := "curves of growth (" + m.Form.String() + ")"
	w := &many{Model: m, n: m.count(), units: units.any()}
	for _, r := range []Random{individuals, units} {
		if len(r.Of) > w.n {
			return nil, stat.Refuse(what, "there are random effects for %d parameters and the curve has %d", len(r.Of), w.n)
		}
	}
	if err := w.gather(what, subjects); err != nil {
		return nil, err
	}
	if individuals.any() {
		again := 0
		for _, s := range w.all {
			if len(s.t) > 1 {
				again++
			}
		}
		if again < 2 {
			return nil, stat.Refuse("the scatter between individuals", "%d of them were measured more than once", again)
		}
		if len(w.all) < len(w.groups)+1 {
			return nil, stat.Refuse("the scatter between individuals", "there is one for each curve")
		}
	}
	n := 0
	for _, g := range w.groups {
		n += len(g.units)
	}
	if w.units && n < len(w.groups)+1 {
		return nil, stat.Refuse("the scatter between units", "there is one for each curve")
	}
	for level, r := range []Random{individuals, units} {
		for i, on := range r.Of {
			if !on {
				continue
			}
			for j := range i + 1 {
				if i == j || r.Correlated && r.Of[j] {
					w.free = append(w.free, theta{level, i, j})
				}
			}
		}
	}
	k := w.n*len(w.groups) + len(w.free) + 1
	if w.total < k+1 {
		return nil, stat.Refuse(what, "%d values are too few for %d parameters", w.total, k)
	}
	rounds, ok := w.fit()
	if !ok {
		return nil, stat.Refuse(what, "the search for its parameters does not settle")
	}
	return w.answer(rounds, individuals, len(subjects))
}

func (w *many) gather(what string, subjects []Subject) error {
	curves := 0
	owner := map[int]int{}
	for _, s := range subjects {
		if s.Curve < 0 || s.Unit < 0 {
			return stat.Refuse(what, "an individual has no curve or no unit")
		}
		if c, ok := owner[s.Unit]; ok && c != s.Curve {
			return stat.Refuse(what, "a unit follows two curves")
		}
		owner[s.Unit] = s.Curve
		curves = max(curves, s.Curve+1)
	}
	if curves == 0 {
		return stat.Refuse(what, "there are no individuals")
	}
	if curves > len(subjects) {
		return stat.Refuse(what, "some curve has no individuals")
	}
	w.groups = make([]*group, curves)
	for i := range w.groups {
		w.groups[i] = &group{}
	}
	at := map[int]*unit{}
	for i, s := range subjects {
		if len(s.T) == 0 {
			return stat.Refuse(what, "an individual has no values")
		}
		x := &subject{at: i, t: s.T, curve: s.Curve, unit: s.Unit}
		check := Model{Scatter: w.Scatter}
		y, err := check.take(what, append([]float64{s.T[0] - 1}, s.T...), append([]float64{1}, s.Sizes...))
		if err != nil {
			return err
		}
		x.y = y[1:]
		u := at[s.Unit]
		if u == nil {
			u = &unit{}
			at[s.Unit] = u
			w.groups[s.Curve].units = append(w.groups[s.Curve].units, u)
		}
		u.subjects = append(u.subjects, x)
		w.all = append(w.all, x)
		w.total += len(s.T)
	}
	for _, g := range w.groups {
		var t, y []float64
		for _, u := range g.units {
			for _, s := range u.subjects {
				t, y = append(t, s.t...), append(y, s.y...)
			}
		}
		seen := map[float64]bool{}
		for _, x := range t {
			seen[x] = true
		}
		if len(seen) < w.n {
			return stat.Refuse(what, "a curve with %d parameters has values at %d times", w.n, len(seen))
		}
		if w.Form == Exponential && w.Scatter == Proportional {
			continue // it is linear: any start will do
		}
		// Some hundred values are enough for a start.
		if step := len(t)/240 + 1; step > 1 {
			order := make([]int, len(t))
			for i := range order {
				order[i] = i
			}
			slices.SortStableFunc(order, func(a, b int) int {
				switch {
				case t[a] < t[b]:
					return -1
				case t[a] > t[b]:
					return 1
				}
				return 0
			})
			var ts, ys []float64
			for i := 0; i < len(order); i += step {
				ts, ys = append(ts, t[order[i]]), append(ys, y[order[i]])
			}
			t, y = ts, ys
		}
		p, ok := w.start(t, y)
		if !ok {
			return stat.Refuse(what, "no such curve comes near the values")
		}
		g.beta = p
	}
	return nil
}

// touch sets up the linear model that touches the curves where they are, and returns
// the sum of squares there; ok is false where there is no curve.
func (w *many) touch(slopes bool) (sum float64, ok bool) {
	n := w.n
	for _, g := range w.groups {
		for _, u := range g.units {
			v := w.l[1].times(u.x, n)
			if w.units {
				sum += dot(u.x, u.x)
			}
			for _, s := range u.subjects {
				b := w.l[0].times(s.u, n)
				p := g.beta
				for i := range n {
					b[i] += v[i]
					p[i] += b[i]
				}
				sum += dot(s.u, s.u)
				if slopes {
					s.g, s.h, s.c = mat{}, vec{}, 0
				}
				for k, t := range s.t {
					y, d, ok := w.eval(t, p)
					if !ok {
						return math.Inf(1), false
					}
					r := s.y[k] - y
					sum += r * r
					if !slopes {
						continue
					}
					z := r + dot(d, b)
					s.c += z * z
					for i := range n {
						s.h[i] += d[i] * z
						for j := range n {
							s.g[i][j] += d[i] * d[j]
						}
					}
				}
			}
		}
	}
	return sum, !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

// reduce takes effects with the triangle l out of a system.
func reduce(g *mat, h vec, c float64, l *mat, n int) (r, s mat, sh vec, sc, logDet float64, ok bool) {
	gl := mul(g, l, n)
	a := tMul(l, &gl, n)
	for i := range n {
		a[i][i]++
	}
	r, ok = cholesky(a, n)
	if !ok {
		return
	}
	lh := l.tTimes(h, n)
	z := r.solve(lh, n)
	sh, s, sc = h, *g, c-dot(lh, z)
	// y = R⁻¹ (G L)ᵀ by rows.
	var y mat
	for i := range n {
		for j := range n {
			v := gl[j][i]
			for k := range i {
				v -= r[i][k] * y[k][j]
			}
			y[i][j] = v / r[i][i]
		}
	}
	for i := range n {
		for j := range n {
			for k := range n {
				s[i][j] -= y[k][i] * y[k][j]
			}
		}
		for j := range n {
			sh[i] -= gl[i][j] * z[j]
		}
	}
	return r, s, sh, sc, r.logDet(n), true
}

// linear solves the linear model for the triangles of now: shifts of the curves,
// effects, sum of squares and determinant. With gradient it returns the slope of
// N ln(rss) + ln det by the triangles.
func (w *many) linear(gradient bool) (value float64, d [2]mat, ok bool) {
	n := w.n
	w.rss, w.logDet = 0, 0
	for _, g := range w.groups {
		g.b, g.h = mat{}, vec{}
		var c float64
		for _, u := range g.units {
			u.g, u.h, u.c = mat{}, vec{}, 0
			for _, s := range u.subjects {
				var sc, ld float64
				var good bool
				s.r, s.s, s.sh, sc, ld, good = reduce(&s.g, s.h, s.c, &w.l[0], n)
				if !good {
					return math.Inf(1), d, false
				}
				w.logDet += ld
				u.c += sc
				for i := range n {
					u.h[i] += s.sh[i]
					for j := range n {
						u.g[i][j] += s.s[i][j]
					}
				}
			}
			ug, uh, uc := u.g, u.h, u.c
			if w.units {
				var ld float64
				var good bool
				u.r, ug, uh, uc, ld, good = reduce(&u.g, u.h, u.c, &w.l[1], n)
				if !good {
					return math.Inf(1), d, false
				}
				w.logDet += ld
			}
			c += uc
			for i := range n {
				g.h[i] += uh[i]
				for j := range n {
					g.b[i][j] += ug[i][j]
				}
			}
		}
		// To one size, so that the triangle keeps its digits.
		var a mat
		var h vec
		for i := range n {
			g.scale[i] = math.Sqrt(g.b[i][i])
			if !(g.scale[i] > 0) {
				return math.Inf(1), d, false
			}
			h[i] = g.h[i] / g.scale[i]
		}
		for i := range n {
			for j := range n {
				a[i][j] = g.b[i][j] / g.scale[i] / g.scale[j]
			}
		}
		var good bool
		if g.r, good = cholesky(a, n); !good {
			return math.Inf(1), d, false
		}
		x := g.r.solve(h, n)
		for i := range n {
			g.delta[i] = x[i] / g.scale[i]
		}
		w.rss += c - dot(h, x)
	}
	if !(w.rss > 0) {
		return math.Inf(-1), d, w.rss == 0
	}
	value = float64(w.total)*math.Log(w.rss) + w.logDet
	f := 2 * float64(w.total) / w.rss
	for _, g := range w.groups {
		for _, u := range g.units {
			var v vec
			var x vec
			var p mat
			if w.units {
				rest := u.h
				gd := u.g.times(g.delta, n)
				for i := range n {
					rest[i] -= gd[i]
				}
				x = u.r.solve(w.l[1].tTimes(rest, n), n)
				v = w.l[1].times(x, n)
				u.x = x
				if gradient {
					inv := u.r.inverse(n)
					lc := mul(&w.l[1], &inv, n)
					glc := mul(&u.g, &lc, n)
					p = mulT(&lc, &w.l[1], n)
					for i := range n {
						for j := range n {
							d[1][i][j] += 2 * glc[i][j]
						}
					}
				}
			}
			at := g.delta
			for i := range n {
				at[i] += v[i]
			}
			var sum vec
			for _, s := range u.subjects {
				rest := s.h
				ga := s.g.times(at, n)
				for i := range n {
					rest[i] -= ga[i]
				}
				s.u = s.r.solve(w.l[0].tTimes(rest, n), n)
				if !gradient {
					continue
				}
				e := w.l[0].times(s.u, n)
				ge := s.g.times(e, n)
				for i := range n {
					rest[i] -= ge[i]
					sum[i] += rest[i]
				}
				inv := s.r.inverse(n)
				lc := mul(&w.l[0], &inv, n)
				glc := mul(&s.g, &lc, n)
				var under mat
				if w.units {
					sp := mul(&s.s, &p, n)
					sps := mul(&sp, &s.s, n)
					under = mul(&sps, &w.l[0], n)
				}
				for i := range n {
					for j := range n {
						d[0][i][j] += 2*glc[i][j] - 2*under[i][j] - f*rest[i]*s.u[j]
					}
				}
			}
			if gradient && w.units {
				for i := range n {
					for j := range n {
						d[1][i][j] -= f * sum[i] * x[j]
					}
				}
			}
		}
	}
	return value, d, true
}

// curves fits curves and effects for the triangles of now, by Gauss and Newton.
func (w *many) curves() bool {
	sum, ok := w.touch(true)
	if !ok {
		return false
	}
	before := make([]vec, len(w.groups))
	var us []vec
	for range 100 {
		us = us[:0]
		var xs []vec
		for i, g := range w.groups {
			before[i] = g.beta
			for _, u := range g.units {
				xs = append(xs, u.x)
				for _, s := range u.subjects {
					us = append(us, s.u)
				}
			}
		}
		if _, _, ok := w.linear(false); !ok {
			return false
		}
		type full struct{ u, x []vec }
		var to full
		for _, g := range w.groups {
			for _, u := range g.units {
				to.x = append(to.x, u.x)
				for _, s := range u.subjects {
					to.u = append(to.u, s.u)
				}
			}
		}
		place := func(step float64) {
			iu, ix := 0, 0
			for k, g := range w.groups {
				for i := range w.n {
					g.beta[i] = before[k][i] + step*g.delta[i]
				}
				for _, u := range g.units {
					for i := range w.n {
						u.x[i] = xs[ix][i] + step*(to.x[ix][i]-xs[ix][i])
					}
					ix++
					for _, s := range u.subjects {
						for i := range w.n {
							s.u[i] = us[iu][i] + step*(to.u[iu][i]-us[iu][i])
						}
						iu++
					}
				}
			}
		}
		step, moved := 1.0, false
		for range 40 {
			place(step)
			if s, ok := w.touch(false); ok && s <= sum*(1+1e-13) {
				gain := sum - s
				sum, moved = s, true
				if gain <= 1e-13*sum && step == 1 {
					_, ok := w.touch(true)
					return ok
				}
				break
			}
			step /= 2
		}
		if !moved {
			// No step lowers it: as near as float64 tells.
			place(0)
			_, ok := w.touch(true)
			return ok && step < 1e-8
		}
		if _, ok := w.touch(true); !ok {
			return false
		}
	}
	return false
}

func (w *many) triangles(x []float64) {
	for k, th := range w.free {
		w.l[th.level][th.i][th.j] = x[k] * w.size[th.i]
	}
}

// variances fits the triangles to the linear model.
func (w *many) variances(x []float64, h *[][]float64) ([]float64, bool) {
	f := func(x []float64) (float64, []float64, bool) {
		w.triangles(x)
		v, d, ok := w.linear(true)
		g := make([]float64, len(x))
		for k, th := range w.free {
			g[k] = d[th.level][th.i][th.j] * w.size[th.i]
		}
		return v, g, ok && !math.IsInf(v, 0)
	}
	return descend(f, x, h)
}

// fit alternates the two steps until nothing moves.
func (w *many) fit() (rounds int, ok bool) {
	if len(w.free) == 0 {
		if !w.curves() {
			return 0, false
		}
		v, _, ok := w.linear(false)
		return 1, ok && !math.IsInf(v, 0)
	}
	// Relative deviations to begin with: about what an individual's values tell.
	if _, ok := w.touch(true); !ok {
		return 0, false
	}
	var mean vec
	for _, s := range w.all {
		for i := range w.n {
			mean[i] += s.g[i][i] / float64(len(w.all))
		}
	}
	for i := range w.n {
		if !(mean[i] > 0) {
			return 0, false
		}
		w.size[i] = 1 / math.Sqrt(mean[i])
	}
	x := make([]float64, len(w.free))
	for k, th := range w.free {
		if th.i == th.j {
			x[k] = 1
		}
	}
	w.triangles(x)
	var h [][]float64
	for rounds = 1; rounds <= 400; rounds++ {
		if !w.curves() {
			return rounds, false
		}
		before := append([]float64(nil), x...)
		if x, ok = w.variances(x, &h); !ok {
			return rounds, false
		}
		w.triangles(x)
		v, _, good := w.linear(false)
		if !good || math.IsInf(v, 0) {
			return rounds, false
		}
		var move float64
		for k := range x {
			move = math.Max(move, math.Abs(math.Abs(x[k])-math.Abs(before[k]))/(1e-3+math.Abs(x[k])))
		}
		sigma := math.Sqrt(w.rss / float64(w.total))
		for _, g := range w.groups {
			for i := range w.n {
				move = math.Max(move, math.Abs(g.delta[i])*g.scale[i]/sigma)
				g.beta[i] += g.delta[i]
			}
		}
		if move < 1e-7 {
			// Stand on the linear model's own answer, whose likelihood is told.
			return rounds, true
		}
	}
	return rounds, false
}

func (w *many) answer(rounds int, individuals Random, subjects int) (*Many, error) {
	n := w.n
	out := &Many{Model: w.Model, N: w.total, Rounds: rounds, Effects: make([][]float64, subjects)}
	nn := float64(w.total)
	s2 := w.rss / nn
	out.Sigma = math.Sqrt(s2)
	out.LogLik = -0.5 * (nn + nn*math.Log(2*math.Pi*s2) + w.logDet)
	k := float64(n*len(w.groups) + len(w.free) + 1)
	out.AICc = math.Inf(1)
	if nn-k-1 > 0 {
		out.AICc = -2*out.LogLik + 2*k + 2*k*(k+1)/(nn-k-1)
	}
	cov := [2][][]float64{}
	for level := range cov {
		c := mulT(&w.l[level], &w.l[level], n)
		for i := range n {
			row := make([]float64, n)
			for j := range n {
				row[j] = s2 * c[i][j]
			}
			cov[level] = append(cov[level], row)
		}
	}
	out.Individuals, out.Units = cov[0], cov[1]
	for _, th := range w.free {
		if th.i == th.j && math.Abs(w.l[th.level][th.i][th.i]) < 1e-3*w.size[th.i] {
			out.Boundary = true
		}
	}
	for _, g := range w.groups {
		inv := g.r.inverse(n)
		var c [][]float64
		for i := range n {
			row := make([]float64, n)
			for j := range n {
				row[j] = s2 * inv[i][j] / g.scale[i] / g.scale[j]
			}
			c = append(c, row)
		}
		out.Coef, out.Cov = append(out.Coef, append([]float64(nil), g.beta[:n]...)), append(out.Cov, c)
		first, last := math.Inf(1), math.Inf(-1)
		df, values := 0, 0
		wide := 0.0
		for _, u := range g.units {
			v := w.l[1].times(u.x, n)
			for _, s := range u.subjects {
				b := w.l[0].times(s.u, n)
				e := make([]float64, n)
				for i := range n {
					e[i] = b[i] + v[i]
				}
				out.Effects[s.at] = e
				a, z := span(s.t)
				first, last = math.Min(first, a), math.Max(last, z)
				df++
				values += len(s.t)
			}
		}
		// Limits lean on what repeats: units, else individuals, else values. Likelihood divides
		// by their number where the degrees of freedom belong.
		switch {
		case w.units:
			df = len(g.units) - 1
			wide = float64(df+1) / float64(df)
		case individuals.any():
			df--
			wide = float64(df+1) / float64(df)
		default:
			df = values - n
			wide = nn / (nn - float64(n*len(w.groups)))
		}
		out.df, out.wide = append(out.df, float64(df)), append(out.wide, wide)
		out.first, out.last = append(out.first, first), append(out.last, last)
	}
	return out, nil
}

func (m *Many) point(k int) (p vec, c mat) {
	copy(p[:], m.Coef[k])
	for i := range m.Cov[k] {
		copy(c[i][:], m.Cov[k][i])
	}
	return p, c
}

// estimate adds limits of t with the degrees of freedom of units, if those have effects,
// else of individuals; its variance is raised by number over degrees of freedom. Without
// any the limits are infinite.
func (m *Many) estimate(k int, name string, v float64, d vec, level float64) stat.Estimate {
	_, c := m.point(k)
	e := stat.Estimate{Name: name, Value: v, SE: math.Sqrt(math.Max(0, quad(d, c))), DF: m.df[k]}
	if e.DF >= 1 {
		e.SE *= math.Sqrt(m.wide[k])
	} else {
		e.Interval = stat.Interval{Lower: math.Inf(-1), Upper: math.Inf(1), Level: level}
		return e
	}
	return limited(e, level)
}

// Size is the size on curve k at a time: of an individual whose effects are 0.
func (m *Many) Size(k int, t, level float64) stat.Estimate {
	p, _ := m.point(k)
	y, d, ok := m.eval(t, p)
	if !ok {
		y = math.Inf(-1)
	}
	return m.back(m.estimate(k, "size", y, d, level))
}

// Rate is the relative growth rate on curve k at a time.
func (m *Many) Rate(k int, t, level float64) stat.Estimate {
	p, _ := m.point(k)
	r, d := m.rate(t, p)
	return m.estimate(k, "relative growth rate", r, d, level)
}

// TimeTo is the time at which curve k reaches a size, with limits by delta. It refuses
// sizes that it does not reach.
func (m *Many) TimeTo(k int, size, level float64) (stat.Estimate, error) {
	p, _ := m.point(k)
	t, d, err := m.when(size, p)
	if err != nil {
		return stat.Estimate{}, err
	}
	return m.estimate(k, timeTo(size), t, d, level), nil
}

// widest is how many times the limits of an asymptote may lie from it before it counts as
// not identified; common practice, no source.
const widest = 2

// Asymptote is where curve k levels off, with limits by delta on the logarithm. It refuses
// exponentials, curves that have not passed their steepest point, and asymptotes whose
// limits lie further than a factor of two off.
func (m *Many) Asymptote(k int, level float64) (stat.Estimate, error) {
	what := "where growth levels off"
	if m.Form == Exponential {
		return stat.Estimate{}, stat.Refuse(what, "the curve is an exponential, which never does")
	}
	p, c := m.point(k)
	if p[1] >= m.last[k] {
		return stat.Estimate{}, stat.Refuse(what, "the curve has not passed its steepest point")
	}
	if m.df[k] < 1 {
		return stat.Estimate{}, stat.Refuse(what, "there are too few repeats for limits")
	}
	se := math.Sqrt(math.Max(0, c[0][0]) * m.wide[k])
	a := p[0]
	if m.Scatter == Constant {
		if !(a > 0) {
			return stat.Estimate{}, stat.Refuse(what, "it is not above 0")
		}
		a, se = math.Log(a), se/a
	}
	q := quantile(level, m.df[k]) * se
	if q > math.Log(widest) {
		return stat.Estimate{}, stat.Refuse(what, "the values leave it open")
	}
	return stat.Estimate{Name: "asymptote", Value: math.Exp(a), SE: se * math.Exp(a), DF: m.df[k],
		Interval: stat.Interval{Lower: math.Exp(a - q), Upper: math.Exp(a + q), Level: level}}, nil
}
