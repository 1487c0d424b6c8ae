package optimal

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
	"underlamp/science/stat/numeric"
)

// A Model is an expected curve as information sees it.
type Model struct {
	Parameters int
	Gradient   func(x float64) []float64 // by the parameters
	Weight     func(x float64) float64   // of an observation: 1/variance; nil for 1
}

// f is the gradient times the root of the weight.
func (m Model) f(x float64) []float64 {
	g := m.Gradient(x)
	if m.Weight == nil {
		return g
	}
	w := math.Sqrt(m.Weight(x))
	out := make([]float64, len(g))
	for i := range g {
		out[i] = w * g[i]
	}
	return out
}

// A Point is a level with its share of the units.
type Point struct{ X, Share float64 }

// A Design is a set of levels with how good it is.
type Design struct {
	Points []Point // rising
	Worst  float64 // greatest sensitivity over the range; 1 proves the optimum
	// Least is a lower bound of the efficiency, from Worst.
	Least float64
}

const gridPoints = 601

func (m Model) check(low, high float64) error {
	if m.Parameters < 1 || !(high > low) || math.IsInf(high-low, 0) {
		return stat.Refuse("levels", "there is no range to place them in")
	}
	for i := range gridPoints {
		f := m.f(at(low, high, i))
		if len(f) != m.Parameters {
			return stat.Refuse("levels", "the curve has %d slopes for %d parameters", len(f), m.Parameters)
		}
		if stat.Check(f) != nil {
			return stat.Refuse("levels", "the curve has no slopes at %.4g", at(low, high, i))
		}
	}
	return nil
}

func at(low, high float64, i int) float64 {
	return low + (high-low)*float64(i)/(gridPoints-1)
}

// information is Σ share·f fᵀ.
func (m Model) information(points []Point) *mat.SymDense {
	s := mat.NewSymDense(m.Parameters, nil)
	for _, p := range points {
		f := m.f(p.X)
		s.SymRankOne(s, p.Share, mat.NewVecDense(len(f), f))
	}
	return s
}

// scaled divides parameters by their typical slope, so that none drowns in round-off; D
// and c do not depend on it.
func (m Model) scaled(low, high float64) (Model, []float64) {
	size := make([]float64, m.Parameters)
	for i := range gridPoints {
		for k, v := range m.f(at(low, high, i)) {
			size[k] = math.Max(size[k], math.Abs(v))
		}
	}
	for k := range size {
		if size[k] == 0 {
			size[k] = 1
		}
	}
	return Model{Parameters: m.Parameters, Gradient: func(x float64) []float64 {
		f := m.f(x)
		out := make([]float64, len(f))
		for k := range f {
			out[k] = f[k] / size[k]
		}
		return out
	}}, size
}

// peak climbs to the top of h near the grid point i.
func peak(h func(float64) float64, low, high float64, i int) float64 {
	a, b := at(low, high, max(0, i-1)), at(low, high, min(gridPoints-1, i+1))
	x := numeric.Least(func(x float64) float64 { return -h(x) }, a, b)
	for _, y := range []float64{a, b, at(low, high, i)} {
		if h(y) >= h(x) {
			x = y
		}
	}
	return x
}

// highest is the place of the greatest h on the range.
func highest(h func(float64) float64, low, high float64) (x, value float64) {
	best := 0
	value = math.Inf(-1)
	for i := range gridPoints {
		if v := h(at(low, high, i)); v > value {
			value, best = v, i
		}
	}
	x = peak(h, low, high, best)
	return x, h(x)
}

// D finds the levels from low to high that tell all parameters together best.
func (m Model) D(low, high float64) (*Design, error) {
	if err := m.check(low, high); err != nil {
		return nil, err
	}
	s, _ := m.scaled(low, high)
	k := m.Parameters
	var points []Point
	for i := range 2*k + 1 {
		points = append(points, Point{low + (high-low)*float64(i)/float64(2*k), 1 / float64(2*k+1)})
	}
	width := (high - low) * 1e-3
	value := logDet(s, points)
	if math.IsInf(value, -1) {
		return nil, stat.Refuse("levels", "the parameters of the expected curve cannot be told apart in this range")
	}
	better := func(next []Point) bool {
		if v := logDet(s, next); v > value {
			points, value = next, v
			return true
		}
		return false
	}
	worst := math.Inf(1)
	for range 400 {
		inv, ok := invert(s.information(points))
		if !ok {
			return nil, stat.Refuse("levels", "the parameters of the expected curve cannot be told apart in this range")
		}
		d := func(x float64) float64 { return quadratic(inv, s.f(x)) / float64(k) }
		x, top := highest(d, low, high)
		if worst = top; top < 1+1e-12 {
			break
		}
		before := value
		// Exchange with the point that helps least, by the best step.
		least, from := math.Inf(1), 0
		for i, p := range points {
			if v := d(p.X); v < least {
				least, from = v, i
			}
		}
		f, g := s.f(x), s.f(points[from].X)
		dx, dg, cross := quadratic(inv, f), quadratic(inv, g), bilinear(inv, f, g)
		step := points[from].Share
		if q := 2 * (dx*dg - cross*cross); q > 0 {
			step = math.Min(step, (dx-dg)/q)
		}
		next := slices.Clone(points)
		next[from].Share -= step
		next = append(next, Point{x, step})
		if !better(merged(next, width)) {
			better(merged(next, 1e-12*(high-low)))
		}
		// Shares by the multiplicative rule, which never lowers the determinant.
		for range 20 {
			inv, ok := invert(s.information(points))
			if !ok {
				break
			}
			next := slices.Clone(points)
			for i := range next {
				next[i].Share *= quadratic(inv, s.f(next[i].X)) / float64(k)
			}
			if !better(merged(slices.DeleteFunc(next, func(p Point) bool { return p.Share < 1e-9 }), 1e-12*(high-low))) {
				break
			}
		}
		// Each point moves to where it helps most.
		for i := 0; i < len(points); i++ {
			moved := func(x float64) []Point {
				next := slices.Clone(points)
				next[i].X = x
				return next
			}
			a, b := math.Max(low, points[i].X-2*width), math.Min(high, points[i].X+2*width)
			best := numeric.Least(func(x float64) float64 { return -logDet(s, moved(x)) }, a, b)
			for _, x := range []float64{best, a, b} {
				better(moved(x))
			}
		}
		better(merged(slices.Clone(points), width))
		if value-before < 1e-13 && worst < 1+1e-5 {
			break // the rest is round-off
		}
	}
	// Points that lie together tell the same.
	if next := merged(slices.Clone(points), width); logDet(s, next) > value-1e-8 {
		points = next
	}
	// Where the curve is flat several levels tell the same; one is enough.
	for i := 0; i < len(points); i++ {
		for j := range points {
			next := slices.Clone(points)
			next[j].Share += next[i].Share
			if i != j && logDet(s, slices.Delete(next, i, i+1)) > value-1e-9 {
				points[j].Share += points[i].Share
				points = slices.Delete(points, i, i+1)
				i--
				break
			}
		}
	}
	return &Design{Points: points, Worst: worst, Least: 1 / worst}, nil
}

// logDet is −∞ where the points do not tell all parameters.
func logDet(m Model, points []Point) float64 {
	var ch mat.Cholesky
	if !ch.Factorize(m.information(points)) || ch.Cond() > 1e14 {
		return math.Inf(-1)
	}
	return ch.LogDet()
}

// merged joins points that lie together, rising.
func merged(points []Point, width float64) []Point {
	slices.SortFunc(points, func(a, b Point) int {
		switch {
		case a.X < b.X:
			return -1
		case a.X > b.X:
			return 1
		}
		return 0
	})
	var out []Point
	for _, p := range points {
		if p.Share <= 0 {
			continue
		}
		if n := len(out); n > 0 && p.X-out[n-1].X < width {
			q := &out[n-1]
			q.X = (q.X*q.Share + p.X*p.Share) / (q.Share + p.Share)
			q.Share += p.Share
			continue
		}
		out = append(out, p)
	}
	sum := 0.0
	for _, p := range out {
		sum += p.Share
	}
	for i := range out {
		out[i].Share /= sum
	}
	return out
}

// C finds the levels that tell the linear function cᵀθ of the parameters best: for a
// function h of them, c is its gradient at the prior. The levels may be fewer than the
// parameters; then nothing else can be told from them.
func (m Model) C(c []float64, low, high float64) (*Design, error) {
	if err := m.check(low, high); err != nil {
		return nil, err
	}
	k := m.Parameters
	if len(c) != k || stat.Check(c) != nil {
		return nil, stat.Refuse("levels", "what is to be told has not one slope for each parameter")
	}
	s, size := m.scaled(low, high)
	goal := make([]float64, k)
	for i := range c {
		goal[i] = c[i] / size[i]
	}
	// Any k independent points to begin with: each the one that the others explain least.
	var xs []float64
	var basis [][]float64
	for range k {
		rest := func(x float64) float64 {
			f := s.f(x)
			for _, q := range basis {
				d := 0.0
				for i := range f {
					d += q[i] * f[i]
				}
				for i := range f {
					f[i] -= d * q[i]
				}
			}
			n := 0.0
			for _, v := range f {
				n += v * v
			}
			return n
		}
		x, v := highest(rest, low, high)
		if v < 1e-18 {
			return nil, stat.Refuse("levels", "the parameters of the expected curve cannot be told apart in this range")
		}
		xs = append(xs, x)
		f := s.f(x)
		for range 2 {
			for _, q := range basis {
				d := 0.0
				for i := range f {
					d += q[i] * f[i]
				}
				for i := range f {
					f[i] -= d * q[i]
				}
			}
		}
		n := 0.0
		for _, v := range f {
			n += v * v
		}
		for i := range f {
			f[i] /= math.Sqrt(n)
		}
		basis = append(basis, f)
	}
	u := mat.NewVecDense(k, nil)
	var worst float64
	for range 500 {
		b := mat.NewDense(k, k, nil)
		for j, x := range xs {
			b.SetCol(j, s.f(x))
		}
		var lu mat.LU
		lu.Factorize(b)
		if lu.Cond() > 1e13 || lu.SolveVecTo(u, false, mat.NewVecDense(k, goal)) != nil {
			return nil, stat.Refuse("levels", "the search lost its way; narrow the range")
		}
		sign := mat.NewVecDense(k, nil)
		for i := range k {
			sign.SetVec(i, math.Copysign(1, u.AtVec(i)))
		}
		y := mat.NewVecDense(k, nil)
		if lu.SolveVecTo(y, true, sign) != nil {
			break
		}
		x, top := highest(func(x float64) float64 {
			v := 0.0
			for i, f := range s.f(x) {
				v += y.AtVec(i) * f
			}
			return math.Abs(v)
		}, low, high)
		if worst = top; top <= 1+1e-12 {
			break
		}
		f := s.f(x)
		v := 0.0
		for i := range f {
			v += y.AtVec(i) * f[i]
		}
		d := mat.NewVecDense(k, nil)
		if lu.SolveVecTo(d, false, mat.NewVecDense(k, f)) != nil {
			break
		}
		out, ratio := -1, math.Inf(1)
		for i := range k {
			fall := d.AtVec(i) * sign.AtVec(i) * math.Copysign(1, v)
			if fall > 1e-12 {
				if q := math.Abs(u.AtVec(i)) / fall; q < ratio {
					out, ratio = i, q
				}
			}
		}
		if out < 0 {
			break
		}
		xs[out] = x
	}
	var points []Point
	sum := 0.0
	for i := range k {
		sum += math.Abs(u.AtVec(i))
	}
	if sum == 0 {
		return nil, stat.Refuse("levels", "what is to be told does not depend on the parameters")
	}
	for i, x := range xs {
		if w := math.Abs(u.AtVec(i)) / sum; w > 1e-6 {
			points = append(points, Point{x, w})
		}
	}
	return &Design{Points: merged(points, (high-low)*1e-3), Worst: worst, Least: 1 / (worst * worst)}, nil
}

func invert(s *mat.SymDense) (*mat.SymDense, bool) {
	var ch mat.Cholesky
	if !ch.Factorize(s) || ch.Cond() > 1e14 {
		return nil, false
	}
	var inv mat.SymDense
	if ch.InverseTo(&inv) != nil {
		return nil, false
	}
	return &inv, true
}

func quadratic(a *mat.SymDense, f []float64) float64 { return bilinear(a, f, f) }

func bilinear(a *mat.SymDense, f, g []float64) float64 {
	var s float64
	for i, x := range f {
		for j, y := range g {
			s += x * a.At(i, j) * y
		}
	}
	return s
}

// DEfficiency compares points with the D-optimal design on the range: the share of the
// units with which the optimal design would tell as much. 0 if the points do not tell all
// parameters.
func (m Model) DEfficiency(points []Point, low, high float64) (float64, error) {
	best, err := m.D(low, high)
	if err != nil {
		return 0, err
	}
	s, _ := m.scaled(low, high)
	a, b := s.information(points), s.information(best.Points)
	var ca, cb mat.Cholesky
	if !cb.Factorize(b) {
		return 0, stat.Refuse("the efficiency of levels", "the optimal levels tell nothing")
	}
	if !ca.Factorize(a) || ca.Cond() > 1e14 {
		return 0, nil
	}
	return math.Exp((ca.LogDet() - cb.LogDet()) / float64(m.Parameters)), nil
}

// CVariance is the variance of cᵀθ from n units shared as the points say, in units of the
// variance of one; infinite if the points do not tell it.
func (m Model) CVariance(c []float64, points []Point, n float64) float64 {
	inv, ok := invert(m.information(points))
	if !ok {
		return math.Inf(1)
	}
	return quadratic(inv, c) / n
}

// Units shares n units among the points in whole numbers, each at least once, so that the
// shares are kept as well as they can be: the efficient rounding of PukelsheimRieder1992.
func (d *Design) Units(n int) ([]int, error) {
	l := len(d.Points)
	if n < l {
		return nil, stat.Refuse("levels for whole units", "%d units are fewer than the %d levels", n, l)
	}
	out := make([]int, l)
	total := 0
	for i, p := range d.Points {
		out[i] = int(math.Ceil((float64(n) - float64(l)/2) * p.Share * (1 - 1e-12)))
		out[i] = max(1, out[i])
		total += out[i]
	}
	for total != n {
		pick, best := -1, math.Inf(1)
		for i, p := range d.Points {
			q := float64(out[i]) / p.Share
			if total > n {
				if out[i] == 1 {
					continue
				}
				q = -float64(out[i]-1) / p.Share
			}
			if q < best {
				best, pick = q, i
			}
		}
		if total > n {
			out[pick]--
			total--
		} else {
			out[pick]++
			total++
		}
	}
	return out, nil
}

// Logistic is the curve of a chance that rises with x: logit p = a + b x, one
// observation a yes or no.
func Logistic(a, b float64) Model {
	return Model{Parameters: 2, Gradient: func(x float64) []float64 { return []float64{1, x} },
		Weight: func(x float64) float64 {
			p := 1 / (1 + math.Exp(-(a + b*x)))
			return p * (1 - p)
		}}
}
