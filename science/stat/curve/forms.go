package curve

import (
	"math"
	"slices"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/numeric"
)

// A Form is a shape of response.
type Form int

const (
	Parabola         Form = iota // b0 + b1 x + b2 x²
	Mitscherlich                 // A (1 − exp(−k (x − x0)))
	Hyperbola                    // M x/(K + x)
	ShiftedHyperbola             // M a x/(M + a x) − R
	NonRectangular               // M of the non-rectangular hyperbola with slope a and bend θ, − R
	LinearPlateau                // c + b min(x − x0, 0)
	QuadraticPlateau             // c + b min(x − x0, 0)²
)

// Forms lists them all.
var Forms = []Form{Parabola, Mitscherlich, Hyperbola, ShiftedHyperbola, NonRectangular, LinearPlateau, QuadraticPlateau}

var formNames = map[Form]string{Parabola: "parabola", Mitscherlich: "Mitscherlich", Hyperbola: "rectangular hyperbola",
	ShiftedHyperbola: "rectangular hyperbola with offset", NonRectangular: "non-rectangular hyperbola",
	LinearPlateau: "straight line to a plateau", QuadraticPlateau: "parabola to a plateau"}

// String names the form.
func (f Form) String() string { return formNames[f] }

// parameters are the names, in order.
func (f Form) parameters() []string {
	switch f {
	case Parabola:
		return []string{"b0", "b1", "b2"}
	case Mitscherlich:
		return []string{"A", "k", "x0"}
	case Hyperbola:
		return []string{"M", "K"}
	case ShiftedHyperbola:
		return []string{"M", "a", "R"}
	case NonRectangular:
		return []string{"M", "a", "theta", "R"}
	}
	return []string{"plateau", "slope", "join"}
}

// value is the curve.
func (f Form) value(x float64, p []float64) float64 {
	switch f {
	case Parabola:
		return p[0] + x*(p[1]+x*p[2])
	case Mitscherlich:
		return -p[0] * math.Expm1(-p[1]*(x-p[2]))
	case Hyperbola:
		return p[0] * x / (p[1] + x)
	case ShiftedHyperbola:
		return p[0]*p[1]*x/(p[0]+p[1]*x) - p[2]
	case NonRectangular:
		return p[0]*bend(p[1]*x/p[0], p[2]) - p[3]
	case LinearPlateau:
		return p[0] + p[1]*math.Min(x-p[2], 0)
	}
	d := math.Min(x-p[2], 0)
	return p[0] + p[1]*d*d
}

// bend is the non-rectangular hyperbola of slope 1 at 0 and height 1.
func bend(u, theta float64) float64 {
	b := u + 1
	// (b − √(b² − 4θu))/(2θ) without the difference.
	return 2 * u / (b + math.Sqrt(math.Max(0, b*b-4*theta*u)))
}

// A Response is a fitted form.
type Response struct {
	Form Form
	*Fit
	Unidentified []string       // parameters whose standard error exceeds their size; of a plateau, if its join has no upper limit
	Join         *stat.Interval // of a plateau, by profile
}

// FitForm fits a form. It refuses fewer levels than the form has parameters and one
// more, and a search that does not settle; parameters that are not identified are
// named in the answer. level is that of the limits of a join.
func FitForm(form Form, x, y []float64, level float64) (*Response, error) {
	return fitForm(form, x, y, level, 0)
}

// InBlocks fits a form with a shift for each block, the curve being that of the average
// block. Every block must hold the same doses equally often: then shifts and curve do not touch,
// and taking the blocks' means out beforehand is exact. Other layouts are refused.
func InBlocks(form Form, x, y []float64, block stat.Factor, level float64) (*Response, error) {
	if err := stat.Check(y, block); err != nil {
		return nil, err
	}
	if len(x) != len(y) {
		return nil, stat.Refuse("the "+form.String(), "there are %d doses and %d values", len(x), len(y))
	}
	held := make([]map[float64]int, len(block.Levels))
	mean := make([]float64, len(block.Levels))
	counts := block.Counts()
	var grand float64
	for i, b := range block.Of {
		if held[b] == nil {
			held[b] = map[float64]int{}
		}
		held[b][x[i]]++
		mean[b] += y[i] / float64(counts[b])
		grand += y[i] / float64(len(y))
	}
	for b := range held {
		same := len(held[b]) == len(held[0])
		for v, n := range held[0] {
			same = same && held[b][v] == n
		}
		if !same {
			return nil, stat.Refuse("the "+form.String()+" in blocks", "not every level of %s holds the same doses equally often", block.Name)
		}
	}
	z := make([]float64, len(y))
	for i, b := range block.Of {
		z[i] = y[i] - mean[b] + grand
	}
	return fitForm(form, x, z, level, len(block.Levels)-1)
}

func fitForm(form Form, x, y []float64, level float64, lost int) (*Response, error) {
	names := form.parameters()
	p := len(names)
	levels := map[float64]bool{}
	for _, v := range x {
		levels[v] = true
	}
	what := "the " + form.String()
	if len(levels) <= p {
		return nil, stat.Refuse(what, "%d levels are too few for its %d parameters", len(levels), p)
	}
	if len(x) != len(y) {
		return nil, stat.Refuse(what, "there are %d doses and %d values", len(x), len(y))
	}
	if err := stat.Check(append(append([]float64(nil), x...), y...)); err != nil {
		return nil, err
	}
	if slices.Min(y) == slices.Max(y) {
		return nil, stat.Refuse(what, "all values are the same")
	}
	if form == LinearPlateau || form == QuadraticPlateau {
		return plateau(form, x, y, level, lost)
	}
	lo, hi := slices.Min(x), slices.Max(x)
	var starts [][]float64
	add := func(s []float64) {
		for _, v := range s {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return
			}
		}
		starts = append(starts, s)
	}
	grid := func(a, b float64, n int) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = a * math.Pow(b/a, float64(i)/float64(n-1))
		}
		return out
	}
	var lower, upper []float64
	switch form {
	case Parabola:
		c, _, ok := solve(x, y, func(v float64) []float64 { return []float64{1, v, v * v} })
		if ok {
			add(c)
		}
	case Mitscherlich:
		for _, k := range grid(0.05/(hi-lo), 60/(hi-lo), 40) {
			if c, _, ok := solve(x, y, func(v float64) []float64 { return []float64{1, math.Exp(-k * (v - lo))} }); ok && -c[1]/c[0] > 0 {
				add([]float64{c[0], k, lo + math.Log(-c[1]/c[0])/k})
			}
		}
	case Hyperbola:
		lower, upper = []float64{math.Inf(-1), 0}, []float64{math.Inf(1), math.Inf(1)}
		if lo < 0 {
			return nil, stat.Refuse(what, "a dose is below 0")
		}
		for _, k := range grid(hi/1000, hi*100, 60) {
			if c, _, ok := solve(x, y, func(v float64) []float64 { return []float64{v / (k + v)} }); ok {
				add([]float64{c[0], k})
			}
		}
	case ShiftedHyperbola:
		if lo < 0 {
			return nil, stat.Refuse(what, "a dose is below 0")
		}
		for _, k := range grid(hi/1000, hi*100, 60) {
			if c, _, ok := solve(x, y, func(v float64) []float64 { return []float64{v / (k + v), 1} }); ok {
				add([]float64{c[0], c[0] / k, -c[1]})
			}
		}
	case NonRectangular:
		if lo < 0 {
			return nil, stat.Refuse(what, "a dose is below 0")
		}
		lower = []float64{math.Inf(-1), math.Inf(-1), 1e-3, math.Inf(-1)}
		upper = []float64{math.Inf(1), math.Inf(1), 0.9999, math.Inf(1)}
		for _, theta := range []float64{0.1, 0.4, 0.7, 0.85, 0.95, 0.99} {
			for _, k := range grid(hi/1000, hi*10, 30) {
				if c, _, ok := solve(x, y, func(v float64) []float64 { return []float64{bend(v/k, theta), 1} }); ok {
					add([]float64{c[0], c[0] / k, theta, -c[1]})
				}
			}
		}
	}
	// The best few starts.
	sum := func(s []float64) float64 {
		var t float64
		for i, v := range x {
			d := y[i] - form.value(v, s)
			t += d * d
		}
		if math.IsNaN(t) {
			return math.Inf(1)
		}
		return t
	}
	slices.SortStableFunc(starts, func(a, b []float64) int {
		switch sa, sb := sum(a), sum(b); {
		case sa < sb:
			return -1
		case sa > sb:
			return 1
		}
		return 0
	})
	var best *Fit
	var last error = stat.Refuse(what, "no curve of this form lies near the values")
	for _, s := range starts[:min(5, len(starts))] {
		f, err := least(form.value, names, x, y, s, lower, upper, lost)
		if err != nil {
			last = err
			continue
		}
		if best == nil || f.RSS < best.RSS {
			best = f
		}
	}
	if best == nil {
		if r := stat.Refused(last); r != nil {
			return nil, stat.Refuse(what, "%s", r.Because)
		}
		return nil, last
	}
	out := &Response{Form: form, Fit: best}
	for k, b := range best.Coef {
		atEnd := lower != nil && b <= lower[k] || upper != nil && b >= upper[k]
		if form != Parabola && (atEnd || math.Sqrt(best.Cov[k][k]) > math.Abs(b)) {
			out.Unidentified = append(out.Unidentified, names[k])
		}
	}
	return out, nil
}

// solve is linear least squares on a few columns of x; rss is the sum of squares left.
func solve(x, y []float64, basis func(float64) []float64) (c []float64, rss float64, ok bool) {
	// Columns as covariates; package linear has an intercept of its own, so a basis that
	// holds 1 gives it up.
	first := basis(x[0])
	one := -1
	var terms []linear.Term
	cols := make([][]float64, len(first))
	for k := range first {
		cols[k] = make([]float64, len(x))
		same := true
		for i, v := range x {
			cols[k][i] = basis(v)[k]
			same = same && cols[k][i] == 1
		}
		if same {
			one = k
		}
	}
	if one < 0 {
		// One column through the origin.
		var a, b float64
		for i := range x {
			a += cols[0][i] * y[i]
			b += cols[0][i] * cols[0][i]
		}
		if len(first) != 1 || b == 0 {
			return nil, 0, false
		}
		q := a / b
		for i := range x {
			d := y[i] - q*cols[0][i]
			rss += d * d
		}
		return []float64{q}, rss, true
	}
	for k := range cols {
		if k != one {
			terms = append(terms, linear.Term{linear.Of("x", cols[k])})
		}
	}
	f, err := linear.FitModel(y, terms...)
	if err != nil {
		return nil, 0, false
	}
	c = make([]float64, len(first))
	c[one] = f.Coef[0]
	j := 1
	for k := range cols {
		if k != one {
			if f.Aliased[j] {
				return nil, 0, false
			}
			c[k] = f.Coef[j]
			j++
		}
	}
	return c, f.RSS, true
}

// plateau fits a rise to a plateau by the join: for a fixed join it is linear.
func plateau(form Form, x, y []float64, level float64, lost int) (*Response, error) {
	power := 1.0
	if form == QuadraticPlateau {
		power = 2
	}
	lo, hi := slices.Min(x), slices.Max(x)
	width := hi - lo
	at := func(join float64) ([]float64, float64, bool) {
		return solve(x, y, func(v float64) []float64 { return []float64{1, math.Pow(math.Min(v-join, 0), power)} })
	}
	sse := func(join float64) float64 {
		_, s, ok := at(join)
		if !ok {
			return math.Inf(1)
		}
		return s
	}
	const steps = 400
	best, from := math.Inf(1), 0
	point := func(i int) float64 { return lo + width*(0.02+0.98*float64(i)/steps) }
	for i := range steps + 1 {
		if s := sse(point(i)); s < best {
			best, from = s, i
		}
	}
	join := numeric.Least(sse, point(max(0, from-1)), point(min(steps, from+1)))
	c, s, ok := at(join)
	if !ok {
		return nil, stat.Refuse("the "+form.String(), "no join lies between the levels")
	}
	n := len(x)
	df := n - 3 - lost
	if df < 1 {
		return nil, stat.Refuse("the "+form.String(), "%d values are too few for %d parameters", n, 3+lost)
	}
	fit := &Fit{Names: form.parameters(), Coef: []float64{c[0], c[1], join}, RSS: s, N: n, DF: df, AICc: aicc(n, 3+lost, s), f: form.value, x: x, y: y}
	// For show: the covariance with the join let go, as far as the slopes tell it.
	if full, err := least(form.value, fit.Names, x, y, fit.Coef, nil, nil, lost); err == nil && math.Abs(full.RSS-s) <= 1e-6*s {
		fit.Cov = full.Cov
	} else {
		fit.Cov = [][]float64{make([]float64, 3), make([]float64, 3), make([]float64, 3)}
	}
	out := &Response{Form: form, Fit: fit}
	crit := s * (1 + dist.FQuantile(level, 1, float64(df))/float64(df))
	over := func(v float64) float64 {
		if q := sse(v); !math.IsInf(q, 0) {
			return q - crit
		}
		return 1e300
	}
	limit := func(sign float64, far float64) float64 {
		in := join
		for v := join; math.Abs(v-join) < far; {
			v += sign * width / steps
			if over(v) > 0 {
				return numeric.Edge(over, in, v)
			}
			in = v
		}
		return math.Inf(int(sign))
	}
	out.Join = &stat.Interval{Lower: limit(-1, 3*width), Upper: limit(1, 20*width), Level: level}
	if math.IsInf(out.Join.Upper, 1) {
		// The values rise to the end: they show no plateau.
		out.Unidentified = append(out.Unidentified, "plateau", "join")
	}
	return out, nil
}

// A Candidate is a form in a comparison.
type Candidate struct {
	Form     Form
	Response *Response
	Refused  *stat.Refusal
	Delta    float64 // AICc above the best
	Weight   float64 // of Akaike, over the candidates that count
	Counts   bool    // identified, with an AICc
	Near     bool    // within four units of the best
}

// Compare fits the forms and orders them by AICc. Forms that are refused or not
// identified stand last and have no weight.
func Compare(x, y []float64, level float64, forms ...Form) ([]Candidate, error) {
	return compare(x, y, func(f Form) (*Response, error) { return FitForm(f, x, y, level) }, forms)
}

// CompareInBlocks is the same with a shift for each block, see [InBlocks].
func CompareInBlocks(x, y []float64, block stat.Factor, level float64, forms ...Form) ([]Candidate, error) {
	return compare(x, y, func(f Form) (*Response, error) { return InBlocks(f, x, y, block, level) }, forms)
}

func compare(x, y []float64, fit func(Form) (*Response, error), forms []Form) ([]Candidate, error) {
	if err := stat.Check(append(append([]float64(nil), x...), y...)); err != nil {
		return nil, err
	}
	var out []Candidate
	best := math.Inf(1)
	for _, f := range forms {
		c := Candidate{Form: f}
		r, err := fit(f)
		if err != nil {
			if c.Refused = stat.Refused(err); c.Refused == nil {
				return nil, err
			}
		} else {
			c.Response = r
			switch {
			case len(r.Unidentified) > 0:
				c.Refused = stat.Refuse("the "+f.String(), "its parameters are not identified at these doses")
			case math.IsInf(r.AICc, 0):
				c.Refused = stat.Refuse("a comparison with the "+f.String(), "there are too few values for its criterion")
			default:
				c.Counts = true
				best = math.Min(best, r.AICc)
			}
		}
		out = append(out, c)
	}
	var sum float64
	for i := range out {
		if c := &out[i]; c.Counts {
			c.Delta = c.Response.AICc - best
			c.Near = c.Delta <= 4
			c.Weight = math.Exp(-c.Delta / 2)
			sum += c.Weight
		}
	}
	for i := range out {
		if out[i].Counts {
			out[i].Weight /= sum
		}
	}
	slices.SortStableFunc(out, func(a, b Candidate) int {
		switch {
		case a.Counts != b.Counts:
			if a.Counts {
				return -1
			}
			return 1
		case a.Delta < b.Delta:
			return -1
		case a.Delta > b.Delta:
			return 1
		}
		return 0
	})
	return out, nil
}

// Parameters are the names of the parameters of a form, in order.
func (f Form) Parameters() []string { return f.parameters() }

// At is the form at x with given parameters.
func (f Form) At(x float64, p []float64) float64 { return f.value(x, p) }

// Slopes are the derivatives of the form by its parameters at x, by differences; at the
// join of a plateau, those from below.
func (f Form) Slopes(x float64, p []float64) []float64 {
	out := make([]float64, len(p))
	for k := range p {
		h := 1e-5 * math.Max(math.Abs(p[k]), 1e-3)
		up, down := slices.Clone(p), slices.Clone(p)
		up[k] += h
		down[k] -= h
		switch f {
		case LinearPlateau, QuadraticPlateau:
			// Linear in the first two; the join has a kink, so it is written out.
			d := math.Min(x-p[2], 0)
			if f == LinearPlateau {
				out[0], out[1] = 1, d
				if x <= p[2] {
					out[2] = -p[1]
				}
			} else {
				out[0], out[1], out[2] = 1, d*d, -2*p[1]*d
			}
			return out
		}
		out[k] = (f.value(x, up) - f.value(x, down)) / (2 * h)
	}
	return out
}
