package curve

import (
	"math"
	"slices"

	"underlamp/science/stat"
	"underlamp/science/stat/linear"
)

// InBlocks fits a form with a shift for each block, the curve being that of the average
// block. Where every block holds the same doses equally often, shifts and curve do not touch,
// and the blocks' means are taken out beforehand, which is exact; otherwise the shifts are
// parameters of the search.
func InBlocks(form Form, x, y []float64, block stat.Factor, level float64) (*Response, error) {
	if err := stat.Check(y, block); err != nil {
		return nil, err
	}
	if len(x) != len(y) {
		return nil, stat.Refuse("the "+form.String(), "there are %d doses and %d values", len(x), len(y))
	}
	if len(block.Levels) < 2 {
		return fitForm(form, x, y, level, 0)
	}
	if !even(x, block) {
		return uneven(form, x, y, block, level)
	}
	mean := make([]float64, len(block.Levels))
	counts := block.Counts()
	var grand float64
	for i, b := range block.Of {
		mean[b] += y[i] / float64(counts[b])
		grand += y[i] / float64(len(y))
	}
	z := make([]float64, len(y))
	for i, b := range block.Of {
		z[i] = y[i] - mean[b] + grand
	}
	return fitForm(form, x, z, level, len(block.Levels)-1)
}

// even tells whether all blocks hold the same doses equally often.
func even(x []float64, block stat.Factor) bool {
	held := make([]map[float64]int, len(block.Levels))
	for i, b := range block.Of {
		if held[b] == nil {
			held[b] = map[float64]int{}
		}
		held[b][x[i]]++
	}
	for b := range held {
		if len(held[b]) != len(held[0]) {
			return false
		}
		for v, n := range held[0] {
			if held[b][v] != n {
				return false
			}
		}
	}
	return true
}

// uneven fits curve and shifts together, from the curve of the values without the shifts that
// they have about a parabola.
func uneven(form Form, x, y []float64, block stat.Factor, level float64) (*Response, error) {
	what := "the " + form.String()
	if slices.Contains(block.Counts(), 0) {
		return nil, stat.Refuse(what, "a level of %s has no units", block.Name)
	}
	shift, err := shifts(x, y, block)
	if err != nil {
		return nil, err
	}
	z := slices.Clone(y)
	for i, b := range block.Of {
		z[i] -= shift[b]
	}
	r, err := fitForm(form, x, z, level, 0)
	if err != nil {
		return nil, err
	}
	if len(y)-len(r.Coef)-len(shift)+1 < 1 {
		return nil, stat.Refuse(what, "%d values are too few for %d parameters", len(y), len(r.Coef)+len(shift)-1)
	}
	if form.plateaus() {
		return plateau(form, x, y, level, 0, &block)
	}
	fit, err := leastInBlocks(form.value, r.Names, x, y, block, append(slices.Clone(r.Coef), shift[:len(shift)-1]...), r.lower, r.upper)
	if err != nil {
		return nil, err
	}
	return identify(form, fit), nil
}

// shifts are those of the blocks about a parabola; they add up to 0.
func shifts(x, y []float64, block stat.Factor) ([]float64, error) {
	square := make([]float64, len(x))
	for i, v := range x {
		square[i] = v * v
	}
	f, err := linear.FitModel(y, linear.Term{linear.By(block)}, linear.Term{linear.Of("x", x)}, linear.Term{linear.Of("x²", square)})
	if err != nil {
		return nil, err
	}
	out := make([]float64, len(block.Levels))
	var all float64
	for b := range out {
		if out[b], err = f.Value(f.Vector(map[string]int{block.Name: b})); err != nil {
			return nil, err
		}
		all += out[b] / float64(len(out))
	}
	for b := range out {
		out[b] -= all
	}
	return out, nil
}

// leastInBlocks is least with shifts that add up to 0. start may hold the first of them
// behind the parameters.
func leastInBlocks(f Function, names []string, x, y []float64, block stat.Factor, start, lower, upper []float64) (*Fit, error) {
	p, b := len(names), len(block.Levels)
	from := make([]float64, p+b-1)
	copy(from, start)
	index := make([]float64, len(x))
	for i := range index {
		index[i] = float64(i)
	}
	g := func(i float64, q []float64) float64 {
		k := int(i)
		v := f(x[k], q[:p])
		if l := block.Of[k]; l < b-1 {
			return v + q[p+l]
		}
		for _, s := range q[p:] {
			v -= s
		}
		return v
	}
	wide := func(v []float64, end float64) []float64 {
		if v == nil {
			return nil
		}
		out := slices.Clone(v)
		for range b - 1 {
			out = append(out, end)
		}
		return out
	}
	whole, err := least(g, names, index, y, from, wide(lower, math.Inf(-1)), wide(upper, math.Inf(1)), 0)
	if err != nil {
		return nil, err
	}
	out := &Fit{Names: names, Coef: whole.Coef[:p:p], RSS: whole.RSS, N: whole.N, DF: whole.DF, AICc: whole.AICc, f: f, x: x, y: y, lower: lower, upper: upper, whole: whole, block: &block}
	for k := range p {
		out.Cov = append(out.Cov, whole.Cov[k][:p:p])
	}
	return out, nil
}

// solveInBlocks is linear least squares on one column with a shift for each block: the height
// of the average block and the slope.
func solveInBlocks(x, y []float64, block stat.Factor, basis func(float64) float64) (c []float64, rss float64, ok bool) {
	col := make([]float64, len(x))
	var mean float64
	for i, v := range x {
		col[i] = basis(v)
		mean += col[i] / float64(len(x))
	}
	f, err := linear.FitModel(y, linear.Term{linear.By(block)}, linear.Term{linear.Of("x", col)})
	if err != nil {
		return nil, 0, false
	}
	slope, err := f.Value(f.Column(1, 0))
	if err != nil || f.Aliased[len(f.Aliased)-1] {
		return nil, 0, false
	}
	height, err := f.Value(f.Vector(nil))
	if err != nil {
		return nil, 0, false
	}
	return []float64{height - slope*mean, slope}, f.RSS, true
}
