package growth

import (
	"math"
	"testing"

	dense "gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// Slopes are those of the functions, the time to a size is where the curve has that
// size, and the rate is the slope of its logarithm: by central differences.
func TestSlopes(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		m := Model{rapid.SampledFrom(Forms).Draw(r, "form"), Scatter(rapid.IntRange(0, 1).Draw(r, "scatter"))}
		var p vec
		if m.Form == Exponential {
			p = vec{rapid.Float64Range(0.5, 3).Draw(r, "size"), rapid.Float64Range(0.02, 0.2).Draw(r, "rate")}
		} else {
			p = vec{rapid.Float64Range(3, 6).Draw(r, "size"), rapid.Float64Range(5, 40).Draw(r, "m"), rapid.Float64Range(3, 15).Draw(r, "s")}
		}
		at := rapid.Float64Range(0, 40).Draw(r, "t")
		_, d, _ := m.eval(at, p)
		_, dr := m.rate(at, p)
		big := p[0]
		if m.Scatter == Proportional {
			big = math.Exp(p[0])
		}
		size := big * rapid.Float64Range(0.05, 0.95).Draw(r, "share")
		if m.Form == Exponential {
			size = big * 3
		}
		when, dw, err := m.when(size, p)
		if err != nil {
			r.Fatal(err)
		}
		if y, _, _ := m.eval(when, p); math.Abs(m.size(y)/size-1) > 1e-9 {
			r.Fatalf("the size at the time to %g is %g", size, m.size(y))
		}
		for i := range m.count() {
			h := 1e-5 * p[i]
			up, down := p, p
			up[i] += h
			down[i] -= h
			for name, f := range map[string]struct {
				of    func(vec) float64
				slope float64
			}{
				"curve": {func(q vec) float64 { y, _, _ := m.eval(at, q); return y }, d[i]},
				"rate":  {func(q vec) float64 { v, _ := m.rate(at, q); return v }, dr[i]},
				"time":  {func(q vec) float64 { v, _, _ := m.when(size, q); return v }, dw[i]},
			} {
				want := (f.of(up) - f.of(down)) / (2 * h)
				if math.Abs(f.slope-want) > 1e-5*(math.Abs(want)+1e-3) {
					r.Fatalf("%s: slope %d is %g, by differences %g", name, i, f.slope, want)
				}
			}
		}
		const h = 1e-4
		a, _, _ := m.eval(at-h, p)
		b, _, _ := m.eval(at+h, p)
		v, _ := m.rate(at, p)
		// Below the normal numbers a size has too few digits for its logarithm.
		if want := (math.Log(m.size(b)) - math.Log(m.size(a))) / (2 * h); m.size(a) > 1e-300 && math.Abs(v-want) > 1e-5*(want+1e-2) {
			r.Fatalf("rate %g, by differences %g", v, want)
		}
	})
}

// The likelihood by blocks is that of the whole covariance of all values, and its slopes
// are those of its values.
func TestLinearModelAgainstDense(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		w := &many{Model: Model{Form: Gompertz}, n: 3, units: true}
		number := rapid.Float64Range(-1, 1)
		draw := func(name string) float64 { return number.Draw(r, name) }
		for range rapid.IntRange(1, 2).Draw(r, "curves") {
			g := &group{beta: vec{5, 20, 9}}
			for range rapid.IntRange(1, 3).Draw(r, "units") {
				u := &unit{}
				for range rapid.IntRange(1, 3).Draw(r, "plants") {
					s := &subject{}
					for k := range 6 {
						x := float64(6*k) + draw("t")
						y, _, _ := w.eval(x, g.beta)
						s.t, s.y = append(s.t, x), append(s.y, y+draw("y"))
						w.total++
					}
					u.subjects = append(u.subjects, s)
					w.all = append(w.all, s)
				}
				g.units = append(g.units, u)
			}
			w.groups = append(w.groups, g)
		}
		for level := range 2 {
			for i := range 3 {
				for j := range i + 1 {
					w.l[level][i][j] = 2 * draw("l")
				}
			}
		}
		w.touch(true)
		value, slope, ok := w.linear(true)
		if !ok {
			r.Fatal("no value")
		}
		// All at once: V = I + J L Lᵀ Jᵀ of individuals and of units.
		v := dense.NewSymDense(w.total, nil)
		x := dense.NewDense(w.total, 3*len(w.groups), nil)
		y := dense.NewVecDense(w.total, nil)
		type row struct {
			d    vec
			s    *subject
			u    *unit
			curv int
		}
		var rows []row
		for k, g := range w.groups {
			for _, u := range g.units {
				for _, s := range u.subjects {
					for i, at := range s.t {
						f, d, _ := w.eval(at, g.beta)
						y.SetVec(len(rows), s.y[i]-f)
						for c := range 3 {
							x.Set(len(rows), 3*k+c, d[c])
						}
						rows = append(rows, row{d, s, u, k})
					}
				}
			}
		}
		a, b := mulT(&w.l[0], &w.l[0], 3), mulT(&w.l[1], &w.l[1], 3)
		for i, p := range rows {
			for j := range i + 1 {
				q := rows[j]
				e := 0.0
				if i == j {
					e = 1
				}
				if p.s == q.s {
					e += dot(p.d, a.times(q.d, 3))
				}
				if p.u == q.u {
					e += dot(p.d, b.times(q.d, 3))
				}
				v.SetSym(i, j, e)
			}
		}
		var chol dense.Cholesky
		if !chol.Factorize(v) {
			r.Fatal("no triangle")
		}
		var vx dense.Dense
		if err := chol.SolveTo(&vx, x); err != nil {
			r.Skip("ill-conditioned")
		}
		var xvx dense.Dense
		xvx.Mul(x.T(), &vx)
		var xvy, beta, vy dense.VecDense
		xvy.MulVec(vx.T(), y)
		if err := beta.SolveVec(&xvx, &xvy); err != nil {
			r.Skip("ill-conditioned")
		}
		chol.SolveVecTo(&vy, y)
		rss := dense.Dot(y, &vy) - dense.Dot(&beta, &xvy)
		want := float64(w.total)*math.Log(rss) + chol.LogDet()
		if math.Abs(value-want) > 1e-7*(1+math.Abs(want)) {
			r.Fatalf("value %.12g, all at once %.12g", value, want)
		}
		for level := range 2 {
			for i := range 3 {
				for j := range i + 1 {
					const h = 1e-5
					l := w.l[level][i][j]
					w.l[level][i][j] = l + h
					up, _, _ := w.linear(false)
					w.l[level][i][j] = l - h
					down, _, _ := w.linear(false)
					w.l[level][i][j] = l
					if want := (up - down) / (2 * h); math.Abs(slope[level][i][j]-want) > 1e-4*(1+math.Abs(want)) {
						r.Fatalf("slope %d %d %d: %g, by differences %g", level, i, j, slope[level][i][j], want)
					}
				}
			}
		}
	})
}
