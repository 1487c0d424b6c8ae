package anova

import (
	"math"
	"slices"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/linear"
)

// A Line is a row of a table of variance.
type Line struct {
	Name    string
	DF      int
	SS, MS  float64
	Test    stat.Test
	Refused *stat.Refusal // why there is no test
}

// An Analysis is a table of variance with the means of the treatment.
type Analysis struct {
	Lines []Line // the treatment is the last one
	Error Line
	Means linear.Means
	Fit   *linear.Fit // residuals, leverage; nil for a split plot
	Weak  string      // why the test should not be leant on; empty if it may
}

// Treatment returns the line of the treatment.
func (a *Analysis) Treatment() Line { return a.Lines[len(a.Lines)-1] }

func line(r linear.Row, variance float64, df int) Line {
	l := Line{Name: r.Name, DF: r.DF, SS: r.SS}
	if r.DF > 0 {
		l.MS = r.SS / float64(r.DF)
	}
	t, err := linear.FTest(r, variance, df)
	l.Test, l.Refused = t, stat.Refused(err)
	return l
}

func weak(df int) string {
	if df < 3 {
		return "fewer than three degrees of freedom are left for the error"
	}
	return ""
}

// atLeastTwo refuses factors with a single level.
func atLeastTwo(f stat.Factor) error {
	if len(f.Levels) < 2 {
		return stat.Refuse("a comparison of "+f.Name, "there is only one level")
	}
	for k, n := range f.Counts() {
		if n == 0 {
			return stat.Refuse("a comparison of "+f.Name, "level %q has no units", f.Levels[k])
		}
	}
	return nil
}

// OneWay analyses units in groups. Sums are taken about the first value and the
// means, so that values that agree in their leading digits lose none of the rest.
// Groups of one unit each are refused.
func OneWay(values []float64, group stat.Factor) (*Analysis, error) {
	if err := stat.Check(values, group); err != nil {
		return nil, err
	}
	if err := atLeastTwo(group); err != nil {
		return nil, err
	}
	n, k := len(values), len(group.Levels)
	if n == k {
		return nil, stat.Refuse("a test between the levels of "+group.Name, "each has one unit, so levels and units cannot be told apart")
	}
	first := values[0]
	counts := group.Counts()
	mean := make([]float64, k)
	var grand float64
	for i, v := range values {
		mean[group.Of[i]] += (v - first) / float64(counts[group.Of[i]])
		grand += (v - first) / float64(n)
	}
	// Once more, for what the first pass lost.
	fix := make([]float64, k)
	var fixGrand float64
	for i, v := range values {
		fix[group.Of[i]] += (v - first - mean[group.Of[i]]) / float64(counts[group.Of[i]])
		fixGrand += (v - first - grand) / float64(n)
	}
	grand += fixGrand
	var between, within float64
	for j := range mean {
		mean[j] += fix[j]
		between += float64(counts[j]) * (mean[j] - grand) * (mean[j] - grand)
	}
	for i, v := range values {
		d := v - first - mean[group.Of[i]]
		within += d * d
	}
	df := n - k
	s2 := within / float64(df)
	a := &Analysis{Error: Line{Name: "error", DF: df, SS: within, MS: s2}, Weak: weak(df)}
	a.Lines = []Line{line(linear.Row{Name: group.Name, DF: k - 1, SS: between}, s2, df)}
	m := linear.Means{Factor: group.Name, Levels: group.Levels, N: counts, DF: float64(df)}
	for j := range mean {
		m.Value = append(m.Value, first+mean[j])
		row := make([]float64, k)
		row[j] = s2 / float64(counts[j])
		m.Cov = append(m.Cov, row)
	}
	a.Means = m
	var err error
	a.Fit, err = linear.FitModel(values, linear.Term{linear.By(group)})
	return a, err
}

// Blocks analyses a randomised complete block layout; cells may be missing, and
// then every line is tested with the others kept.
func Blocks(values []float64, treatment, block stat.Factor) (*Analysis, error) {
	return additive(values, treatment, block)
}

// Latin analyses a Latin square: each treatment once in each row and column.
func Latin(values []float64, treatment, row, column stat.Factor) (*Analysis, error) {
	return additive(values, treatment, row, column)
}

func additive(values []float64, treatment stat.Factor, nuisance ...stat.Factor) (*Analysis, error) {
	if err := stat.Check(values, append([]stat.Factor{treatment}, nuisance...)...); err != nil {
		return nil, err
	}
	if err := atLeastTwo(treatment); err != nil {
		return nil, err
	}
	var terms []linear.Term
	for _, f := range nuisance {
		terms = append(terms, linear.Term{linear.By(f)})
	}
	terms = append(terms, linear.Term{linear.By(treatment)})
	f, err := linear.FitModel(values, terms...)
	if err != nil {
		return nil, err
	}
	s2, err := f.Variance()
	if err != nil {
		return nil, err
	}
	a := &Analysis{Error: Line{Name: "error", DF: f.DF, SS: f.RSS, MS: s2}, Fit: f, Weak: weak(f.DF)}
	for t := range terms {
		row, test, err := f.Drop(t)
		l := Line{Name: row.Name, DF: row.DF, SS: row.SS, Test: test, Refused: stat.Refused(err)}
		if row.DF > 0 {
			l.MS = row.SS / float64(row.DF)
		}
		if err != nil && l.Refused == nil {
			return nil, err
		}
		a.Lines = append(a.Lines, l)
	}
	a.Means, err = f.Means(treatment)
	return a, err
}

// RelativeEfficiency says how many times as many units a completely randomised
// layout would have needed for the same precision: of a complete block analysis,
// from its block and error lines (GomezGomez1984, section 2.2).
func RelativeEfficiency(a *Analysis) float64 {
	b, e := a.Lines[0], a.Error
	r, t := float64(b.DF+1), float64(a.Treatment().DF+1)
	return ((r-1)*b.MS + r*(t-1)*e.MS) / ((r*t - 1) * e.MS)
}

// A SplitPlotAnalysis has two errors: the whole units' and, within them, the parts'.
type SplitPlotAnalysis struct {
	Block      *Line // nil without blocks
	Whole      Line  // the factor assigned to whole units
	WholeError Line
	Part       Line // the factor within them
	Cross      Line
	PartError  Line
	WholeMeans linear.Means
	PartMeans  linear.Means
	Weak       string // of the whole units' stratum

	WholeFit *linear.Fit // of the whole units' means, in the order of the unit's levels
	PartFit  *linear.Fit // of the parts within their units
}

// SplitPlot analyses one value per whole unit and level of part: whole was
// assigned to units, part varies within each. block may be nil. Every unit must
// hold every level of part once, and blocks must hold every level of whole equally
// often; other layouts are refused and need a mixed model.
func SplitPlot(values []float64, whole, part, unit stat.Factor, block *stat.Factor) (*SplitPlotAnalysis, error) {
	all := []stat.Factor{whole, part, unit}
	if block != nil {
		all = append(all, *block)
	}
	if err := stat.Check(values, all...); err != nil {
		return nil, err
	}
	if err := atLeastTwo(whole); err != nil {
		return nil, err
	}
	if err := atLeastTwo(part); err != nil {
		return nil, err
	}
	s := len(part.Levels)
	uneven := stat.Refuse("an exact split-plot analysis", "not every unit holds every level of %s once; a mixed model can take it", part.Name)
	units := len(unit.Levels)
	ofWhole, ofBlock := make([]int, units), make([]int, units)
	seen := make([]map[int]bool, units)
	mean := make([]float64, units)
	for i, u := range unit.Of {
		if seen[u] == nil {
			seen[u] = map[int]bool{}
			ofWhole[u] = whole.Of[i]
			if block != nil {
				ofBlock[u] = block.Of[i]
			}
		}
		if seen[u][part.Of[i]] {
			return nil, uneven
		}
		if ofWhole[u] != whole.Of[i] || block != nil && ofBlock[u] != block.Of[i] {
			return nil, stat.Refuse("a split-plot analysis", "unit %q has more than one level of %s or more than one block", unit.Levels[u], whole.Name)
		}
		seen[u][part.Of[i]] = true
		mean[u] += values[i] / float64(s)
	}
	for _, m := range seen {
		if len(m) != s {
			return nil, uneven
		}
	}
	wf := stat.Factor{Name: whole.Name, Levels: whole.Levels, Of: ofWhole}
	var upper *Analysis
	var err error
	out := &SplitPlotAnalysis{}
	if block != nil {
		bf := stat.Factor{Name: block.Name, Levels: block.Levels, Of: ofBlock}
		cells := map[[2]int]int{}
		for u := range ofWhole {
			cells[[2]int{ofWhole[u], ofBlock[u]}]++
		}
		r := units / (len(whole.Levels) * len(block.Levels))
		for w := range whole.Levels {
			for b := range block.Levels {
				if cells[[2]int{w, b}] != r || r == 0 {
					return nil, stat.Refuse("an exact split-plot analysis", "not every block holds every level of %s equally often; a mixed model can take it", whole.Name)
				}
			}
		}
		upper, err = Blocks(mean, wf, bf)
	} else {
		upper, err = OneWay(mean, wf)
	}
	if err != nil {
		return nil, err
	}
	// Sums of squares are those of single parts.
	scale := func(l Line) Line {
		l.SS *= float64(s)
		l.MS *= float64(s)
		return l
	}
	out.Whole, out.WholeError, out.Weak = scale(upper.Treatment()), scale(upper.Error), upper.Weak
	if block != nil {
		b := scale(upper.Lines[0])
		out.Block = &b
	}
	lower, err := linear.FitModel(values, linear.Term{linear.By(unit)}, linear.Term{linear.By(part)}, linear.Term{linear.By(whole), linear.By(part)})
	if err != nil {
		return nil, err
	}
	s2, err := lower.Variance()
	if err != nil {
		return nil, err
	}
	out.Part, out.Cross = line(lower.Rows[1], s2, lower.DF), line(lower.Rows[2], s2, lower.DF)
	out.PartError = Line{Name: "error within units", DF: lower.DF, SS: lower.RSS, MS: s2}
	out.WholeMeans, out.WholeFit, out.PartFit = upper.Means, upper.Fit, lower
	pm := linear.Means{Factor: part.Name, Levels: part.Levels, N: part.Counts(), DF: float64(lower.DF)}
	// Differences between parts are free of the units; the means themselves are
	// given the same variance, so that differences come out right.
	for k := range part.Levels {
		var sum float64
		for i, l := range part.Of {
			if l == k {
				sum += values[i] / float64(pm.N[k])
			}
		}
		pm.Value = append(pm.Value, sum)
		row := make([]float64, s)
		row[k] = s2 / float64(pm.N[k])
		pm.Cov = append(pm.Cov, row)
	}
	out.PartMeans = pm
	return out, nil
}

// Units are the means of subsamples by unit.
type Units struct {
	Mean   []float64
	N      []int
	First  []int // index of the first subsample of each unit, to look up its factors
	Uneven bool  // the largest holds more than twice the subsamples of the smallest: a mixed model weighs them better

	Between, Within float64 // components of variance by the analysis of variance; 0 if negative
	ICC             float64 // share of the variance that lies between units
}

// UnitMeans averages subsamples within units. What groups the units were assigned to is
// given by group (nil for one group), so that the components of variance
// leave it out.
func UnitMeans(values []float64, unit stat.Factor, group *stat.Factor) (Units, error) {
	if err := stat.Check(values, unit); err != nil {
		return Units{}, err
	}
	k := len(unit.Levels)
	u := Units{Mean: make([]float64, k), N: unit.Counts(), First: make([]int, k)}
	for j := range u.First {
		u.First[j] = -1
	}
	for i, l := range unit.Of {
		u.Mean[l] += values[i] / float64(u.N[l])
		if u.First[l] < 0 {
			u.First[l] = i
		}
	}
	small, large := math.MaxInt, 0
	for j, n := range u.N {
		if n == 0 {
			return Units{}, stat.Refuse("the mean of a unit", "unit %q has no values", unit.Levels[j])
		}
		small, large = min(small, n), max(large, n)
	}
	u.Uneven = large > 2*small
	var within float64
	for i, l := range unit.Of {
		d := values[i] - u.Mean[l]
		within += d * d
	}
	df := len(values) - k
	if df < 1 {
		return u, nil
	}
	u.Within = within / float64(df)
	of := make([]int, k)
	groups := 1
	if group != nil {
		groups = len(group.Levels)
		for j := range of {
			of[j] = group.Of[u.First[j]]
		}
	}
	if k-groups < 1 {
		return u, nil
	}
	// Expected mean square between units within groups, unequal numbers.
	total, squares, sum := make([]float64, groups), make([]float64, groups), make([]float64, groups)
	for j := range of {
		n := float64(u.N[j])
		total[of[j]] += n
		squares[of[j]] += n * n
		sum[of[j]] += n * u.Mean[j]
	}
	var ss, n0 float64
	for j := range of {
		d := u.Mean[j] - sum[of[j]]/total[of[j]]
		ss += float64(u.N[j]) * d * d
	}
	n0 = float64(len(values))
	for g := range total {
		if total[g] > 0 {
			n0 -= squares[g] / total[g]
		}
	}
	n0 /= float64(k - groups)
	u.Between = math.Max(0, (ss/float64(k-groups)-u.Within)/n0)
	if u.Between+u.Within > 0 {
		u.ICC = u.Between / (u.Between + u.Within)
	}
	return u, nil
}

// Welch tests groups whose variances may differ (Welch1951). It refuses groups of
// one unit and groups without scatter.
func Welch(values []float64, group stat.Factor) (stat.Test, error) {
	if err := stat.Check(values, group); err != nil {
		return stat.Test{}, err
	}
	if err := atLeastTwo(group); err != nil {
		return stat.Test{}, err
	}
	k := float64(len(group.Levels))
	var sw, sm float64
	type part struct{ w, m, n float64 }
	var parts []part
	for j, g := range group.Split(values) {
		m, v, err := meanVariance(group.Levels[j], g)
		if err != nil {
			return stat.Test{}, err
		}
		w := float64(len(g)) / v
		parts = append(parts, part{w, m, float64(len(g))})
		sw += w
		sm += w * m
	}
	m := sm / sw
	var a, b float64
	for _, p := range parts {
		a += p.w * (p.m - m) * (p.m - m) / (k - 1)
		b += (1 - p.w/sw) * (1 - p.w/sw) / (p.n - 1)
	}
	f := a / (1 + 2*(k-2)/(k*k-1)*b)
	df := (k*k - 1) / (3 * b)
	return stat.Test{Statistic: f, DF1: k - 1, DF2: df, P: dist.FUpper(f, k-1, df)}, nil
}

// meanVariance refuses fewer than two values and no scatter.
func meanVariance(name string, g []float64) (mean, variance float64, err error) {
	if len(g) < 2 {
		return 0, 0, stat.Refuse("the variance of "+name, "it has fewer than two units")
	}
	for _, v := range g {
		mean += (v - g[0]) / float64(len(g))
	}
	mean += g[0]
	for _, v := range g {
		variance += (v - mean) * (v - mean) / float64(len(g)-1)
	}
	if !(variance > 0) {
		return 0, 0, stat.Refuse("the variance of "+name, "all its units have the same value")
	}
	return mean, variance, nil
}

// BrownForsythe tests whether groups scatter alike: the analysis of variance of
// the distances from the medians (BrownForsythe1974). It is for show and never a
// gate before another test. Groups of two have both distances alike whatever they hold, so
// a layout without a larger group is refused.
func BrownForsythe(values []float64, group stat.Factor) (stat.Test, error) {
	if err := stat.Check(values, group); err != nil {
		return stat.Test{}, err
	}
	if err := atLeastTwo(group); err != nil {
		return stat.Test{}, err
	}
	if slices.Max(group.Counts()) < 3 {
		return stat.Test{}, stat.Refuse("whether groups scatter alike", "no group has three units")
	}
	medians := make([]float64, len(group.Levels))
	for j, g := range group.Split(values) {
		medians[j] = median(g)
	}
	z := make([]float64, len(values))
	for i, v := range values {
		z[i] = math.Abs(v - medians[group.Of[i]])
	}
	a, err := OneWay(z, group)
	if err != nil {
		return stat.Test{}, err
	}
	if t := a.Treatment(); t.Refused != nil {
		return stat.Test{}, t.Refused
	}
	return a.Treatment().Test, nil
}
