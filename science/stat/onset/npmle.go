package onset

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
)

// An Observation is what the rounds tell of one onset.
type Observation struct{ Last, First float64 }

// Check says what is wrong with an observation.
func (o Observation) Check() error {
	if math.IsNaN(o.Last) || math.IsNaN(o.First) || o.Last < 0 || o.Last > o.First || math.IsInf(o.Last, 0) || o.First == 0 {
		return fmt.Errorf("an onset after %g and by %g is not possible", o.Last, o.First)
	}
	return nil
}

// An NPMLE is a distribution of onset without a form.
type NPMLE struct {
	Left, Right []float64 // innermost intervals (Left, Right] that carry mass, rising
	Mass        []float64
	LogLik      float64
	Excess      float64 // largest multiplier above the number of observations, as a share: 0 at the maximum

	all []inner
}

// inner is an innermost interval with the mass it got, 0 included.
type inner struct {
	left, right float64
	exact       bool
	mass        float64
}

// end is a left or right end; the order at one time is: left of an exact time, right,
// left.
type end struct {
	at    float64
	order int
}

func (o Observation) ends() (left, right end) {
	left = end{o.Last, 1}
	if o.Last == o.First {
		left.order = -1
	}
	return left, end{o.First, 0}
}

func before(a, b end) bool { return a.at < b.at || a.at == b.at && a.order < b.order }

// FitNPMLE finds the distribution. It refuses no observations.
func FitNPMLE(obs []Observation) (*NPMLE, error) {
	if len(obs) == 0 {
		return nil, stat.Refuse("a distribution of onset", "nothing was observed")
	}
	var ends []end
	for i, o := range obs {
		if err := o.Check(); err != nil {
			return nil, fmt.Errorf("observation %d: %w", i+1, err)
		}
		l, r := o.ends()
		ends = append(ends, l, r)
	}
	slices.SortFunc(ends, func(a, b end) int {
		switch {
		case before(a, b):
			return -1
		case before(b, a):
			return 1
		}
		return 0
	})
	out := &NPMLE{}
	for i := 1; i < len(ends); i++ {
		if ends[i-1].order != 0 && ends[i].order == 0 {
			out.all = append(out.all, inner{left: ends[i-1].at, right: ends[i].at, exact: ends[i-1].order < 0})
		}
	}
	// Observations that cover the same intervals count together.
	m := len(out.all)
	type group struct {
		from, to int
		n        float64
	}
	var groups []group
	at := map[[2]int]int{}
	for _, o := range obs {
		l, r := o.ends()
		from, to := m, -1
		for j, in := range out.all {
			il, ir := in.ends()
			if !before(il, l) && !before(r, ir) {
				from, to = min(from, j), max(to, j)
			}
		}
		k := [2]int{from, to}
		g, ok := at[k]
		if !ok {
			g = len(groups)
			at[k] = g
			groups = append(groups, group{from: from, to: to})
		}
		groups[g].n++
	}
	n := float64(len(obs))
	p := make([]float64, m)
	for j := range p {
		p[j] = 1 / float64(m)
	}
	loglik := func(p []float64) float64 {
		var ll float64
		for _, g := range groups {
			var s float64
			for j := g.from; j <= g.to; j++ {
				s += p[j]
			}
			if s <= 0 {
				return math.Inf(-1)
			}
			ll += g.n * math.Log(s)
		}
		return ll
	}
	multipliers := func(p []float64) []float64 {
		out := make([]float64, m)
		for _, g := range groups {
			var s float64
			for j := g.from; j <= g.to; j++ {
				s += p[j]
			}
			for j := g.from; j <= g.to; j++ {
				out[j] += g.n / s
			}
		}
		return out
	}
	for range 50 { // a start by expectation and maximisation
		for j, d := range multipliers(p) {
			p[j] *= d / n
		}
	}
	ll := loglik(p)
	for range 500 {
		// Newton over the intervals with mass.
		for range 200 {
			var set []int
			for j, v := range p {
				if v > 0 {
					set = append(set, j)
				}
			}
			step, gain := simplexStep(p, set, func(add func(from, to int, n, s float64)) {
				for _, g := range groups {
					var s float64
					for j := g.from; j <= g.to; j++ {
						s += p[j]
					}
					add(g.from, g.to, g.n, s)
				}
			})
			reach, hit := 1.0, -1
			for i, j := range set {
				if step[i] < 0 && -p[j]/step[i] <= reach {
					reach, hit = -p[j]/step[i], j
				}
			}
			moved := false
			for scale := reach; scale > 1e-12; scale /= 2 {
				next := slices.Clone(p)
				for i, j := range set {
					next[j] = math.Max(0, p[j]+scale*step[i])
				}
				if scale == reach && hit >= 0 {
					next[hit] = 0
				}
				if l := loglik(next); l >= ll {
					p, ll, moved = next, l, true
					break
				}
			}
			if !moved && hit >= 0 && p[hit] < 1e-9 {
				// A mass that is as good as none stands in the way.
				p[hit] = 0
				moved = true
			}
			var sum float64
			for _, v := range p {
				sum += v
			}
			for j := range p {
				p[j] /= sum
			}
			ll = loglik(p)
			if !moved || gain < 1e-20 {
				break
			}
		}
		d := multipliers(p)
		worst, at := 0.0, -1
		for j := range d {
			if e := d[j]/n - 1; e > worst {
				worst, at = e, j
			}
		}
		out.Excess = worst
		if worst < 1e-9 || at < 0 {
			break
		}
		// Mass to the interval that asks for it most, as long as that raises the likelihood.
		better := false
		for e := 0.1; e > 1e-14; e /= 4 {
			next := slices.Clone(p)
			for j := range next {
				next[j] *= 1 - e
			}
			next[at] += e
			if l := loglik(next); l > ll {
				p, ll, better = next, l, true
				break
			}
		}
		if !better {
			break
		}
	}
	out.LogLik = ll
	for j := range out.all {
		out.all[j].mass = p[j]
		if p[j] > 1e-9 {
			out.Left, out.Right, out.Mass = append(out.Left, out.all[j].left), append(out.Right, out.all[j].right), append(out.Mass, p[j])
		}
	}
	return out, nil
}

func (in inner) ends() (left, right end) {
	left = end{in.left, 1}
	if in.exact {
		left.order = -1
	}
	return left, end{in.right, 0}
}

// simplexStep is the Newton step of Σ n ln(sum of p) over set that keeps the sum of p.
func simplexStep(p []float64, set []int, each func(add func(from, to int, n, s float64))) ([]float64, float64) {
	k := len(set)
	place := make([]int, len(p))
	for j := range place {
		place[j] = -1
	}
	for i, j := range set {
		place[j] = i
	}
	u := make([]float64, k)
	h := mat.NewSymDense(k, nil)
	each(func(from, to int, n, s float64) {
		for a := from; a <= to; a++ {
			if place[a] < 0 {
				continue
			}
			u[place[a]] += n / s
			for b := a; b <= to; b++ {
				if place[b] >= 0 {
					h.SetSym(place[a], place[b], h.At(place[a], place[b])+n/(s*s))
				}
			}
		}
	})
	for ridge := 0.0; ; ridge = math.Max(1e-12, ridge*100) {
		a := mat.NewSymDense(k, nil)
		a.CopySym(h)
		for i := range k {
			a.SetSym(i, i, a.At(i, i)*(1+ridge)+ridge)
		}
		if ridge > 1e6 {
			return make([]float64, k), 0
		}
		var chol mat.Cholesky
		if !chol.Factorize(a) {
			continue
		}
		one := make([]float64, k)
		for i := range one {
			one[i] = 1
		}
		var hu, h1 mat.VecDense
		if chol.SolveVecTo(&hu, mat.NewVecDense(k, u)) != nil {
			continue
		}
		if chol.SolveVecTo(&h1, mat.NewVecDense(k, one)) != nil {
			continue
		}
		var su, s1 float64
		for i := range k {
			su += hu.AtVec(i)
			s1 += h1.AtVec(i)
		}
		step := make([]float64, k)
		var gain float64
		for i := range k {
			step[i] = hu.AtVec(i) - su/s1*h1.AtVec(i)
			gain += step[i] * u[i]
		}
		return step, gain
	}
}

// Kind of scores.
type Kind int

const (
	Sun         Kind = iota // by the hazard of the masses (Sun1996)
	Finkelstein             // by ln S (Finkelstein1986)
	Wilcoxon                // S(Last) + S(First) − 1
)

// Scores returns a score for each observation, against the distribution: below 0 for
// late onsets, above for early ones.
func (f *NPMLE) Scores(obs []Observation, kind Kind) ([]float64, error) {
	total := len(f.all)
	after := make([]float64, total+1) // survival beyond the first k intervals
	hazard := make([]float64, total+1)
	after[0] = 1
	for k, in := range f.all {
		after[k+1] = after[k] - in.mass
		hazard[k+1] = hazard[k]
		if in.mass > 0 && after[k] > 0 {
			hazard[k+1] += in.mass / after[k]
		}
	}
	out := make([]float64, len(obs))
	for i, o := range obs {
		if err := o.Check(); err != nil {
			return nil, fmt.Errorf("observation %d: %w", i+1, err)
		}
		l, r := o.ends()
		var from, to int // intervals wholly ahead of the left end, and by the right end
		for _, in := range f.all {
			il, ir := in.ends()
			if before(il, l) {
				from++
			}
			if !before(r, ir) {
				to++
			}
		}
		sl, sr := after[from], after[to]
		if math.IsInf(o.First, 1) {
			sr = 0
		}
		if !(sl-sr > 1e-12) {
			return nil, stat.Refuse("a score", "the distribution has no mass between %g and %g", o.Last, o.First)
		}
		part := func(s float64, k int) float64 {
			if s <= 1e-12 {
				return 0
			}
			if kind == Finkelstein {
				return s * math.Log(s)
			}
			return -s * hazard[k]
		}
		if kind == Wilcoxon {
			out[i] = sl + sr - 1
		} else {
			out[i] = (part(sl, from) - part(sr, to)) / (sl - sr)
		}
	}
	return out, nil
}

// Compare tests whether scores go with a number x of each observation (0 and 1 for
// two groups), by the normal with the variance of all permutations. It takes
// observations for units: with subsamples use the means of the units instead.
func Compare(scores, x []float64) (stat.Test, error) {
	if len(scores) != len(x) {
		return stat.Test{}, fmt.Errorf("%d scores and %d values", len(scores), len(x))
	}
	if len(scores) < 2 {
		return stat.Test{}, stat.Refuse("a comparison of onsets", "there are fewer than two observations")
	}
	n := float64(len(x))
	var ms, mx float64
	for i := range x {
		ms += scores[i] / n
		mx += x[i] / n
	}
	var u, vs, vx float64
	for i := range x {
		u += scores[i] * (x[i] - mx)
		vs += (scores[i] - ms) * (scores[i] - ms)
		vx += (x[i] - mx) * (x[i] - mx)
	}
	v := vs * vx / (n - 1)
	if !(v > 0) {
		return stat.Test{}, stat.Refuse("a comparison of onsets", "all observations are alike, or there is only one group")
	}
	z := u / math.Sqrt(v)
	return stat.Test{Statistic: z, DF2: math.Inf(1), P: dist.NormalTwoSided(z)}, nil
}
