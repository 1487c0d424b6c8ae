package pairwise

import (
	"fmt"
	"math"
	"slices"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/linear"
)

// Comparisons are simultaneous estimates; P and Interval of each are adjusted.
type Comparisons struct {
	Method   string
	Critical float64 // of q for all pairs, of t against one; 0 if it differs by pair
	Pairs    []stat.Estimate
	First    []int // the level that is subtracted, by pair
	Second   []int
	Note     string // what is not exact about it; empty if nothing is
}

func enough(m linear.Means) error {
	if len(m.Levels) < 2 {
		return stat.Refuse("a comparison of "+m.Factor, "there is only one level")
	}
	return nil
}

// All compares all pairs of means by the studentised range (Tukey1953, Kramer1956).
func All(m linear.Means, level float64) (Comparisons, error) {
	c := Comparisons{Method: "Tukey-Kramer"}
	if err := enough(m); err != nil {
		return c, err
	}
	r := dist.Range{K: len(m.Levels), DF: m.DF}
	c.Critical = r.Quantile(level)
	for i := range m.Levels {
		for j := i + 1; j < len(m.Levels); j++ {
			e, err := difference(m, i, j, level)
			if err != nil {
				return c, err
			}
			e.P = r.Upper(math.Abs(e.T) * math.Sqrt2)
			half := c.Critical / math.Sqrt2 * e.SE
			e.Interval = stat.Interval{Lower: e.Value - half, Upper: e.Value + half, Level: level}
			c.Pairs, c.First, c.Second = append(c.Pairs, e), append(c.First, i), append(c.Second, j)
		}
	}
	return c, nil
}

func difference(m linear.Means, i, j int, level float64) (stat.Estimate, error) {
	k := make([]float64, len(m.Levels))
	k[j], k[i] = 1, -1
	return m.Contrast(fmt.Sprintf("%s − %s", m.Levels[j], m.Levels[i]), k, level)
}

// Against compares every mean with that of control (Dunnett1955), two-sided.
func Against(m linear.Means, control int, level float64) (Comparisons, error) {
	c := Comparisons{Method: "Dunnett"}
	if err := enough(m); err != nil {
		return c, err
	}
	if control < 0 || control >= len(m.Levels) {
		return c, fmt.Errorf("level %d of %d is no control", control, len(m.Levels))
	}
	d := dist.Dunnett{DF: m.DF}
	var others []int
	for j := range m.Levels {
		if j != control {
			others = append(others, j)
			// The share of the variance of the difference that is the control's:
			// a mean over its covariances with the other differences.
			e, err := difference(m, control, j, level)
			if err != nil {
				return c, err
			}
			c.Pairs, c.First, c.Second = append(c.Pairs, e), append(c.First, control), append(c.Second, j)
		}
	}
	cov := func(a, b int) float64 {
		return m.Cov[a][b] - m.Cov[a][control] - m.Cov[control][b] + m.Cov[control][control]
	}
	rho := func(a, b int) float64 { return cov(a, b) / math.Sqrt(cov(a, a)*cov(b, b)) }
	for i, a := range others {
		l := math.Sqrt(m.Cov[control][control] / cov(a, a))
		if n := len(others); n > 2 {
			// λ of a one-factor structure from triples: λa² = ρab ρac / ρbc.
			b, e := others[(i+1)%n], others[(i+2)%n]
			if v := rho(a, b) * rho(a, e) / rho(b, e); v > 0 && v < 1 {
				l = math.Sqrt(v)
			}
		} else if n == 2 {
			l = math.Sqrt(math.Max(0, rho(others[0], others[1])))
		}
		d.Lambda = append(d.Lambda, l)
	}
	for i, a := range others {
		for j := range i {
			if !(d.Lambda[i] < 0.999) || !(math.Abs(rho(a, others[j])-d.Lambda[i]*d.Lambda[j]) <= 1e-6) {
				c.Note = "missing cells give the comparisons a correlation that the exact integral does not take; as if they knew nothing of each other the limits are somewhat too wide"
			}
		}
	}
	if c.Note != "" {
		clear(d.Lambda) // never too narrow, whatever the correlation (Sidak1967)
	}
	c.Critical = d.Quantile(level)
	for i := range c.Pairs {
		e := &c.Pairs[i]
		e.P = d.Upper(math.Abs(e.T))
		half := c.Critical * e.SE
		e.Interval = stat.Interval{Lower: e.Value - half, Upper: e.Value + half, Level: level}
	}
	return c, nil
}

// Unequal compares all pairs of groups that scatter differently
// (GamesHowell1976). It refuses groups of one unit or without scatter.
func Unequal(values []float64, group stat.Factor, level float64) (Comparisons, error) {
	c := Comparisons{Method: "Games-Howell"}
	if err := stat.Check(values, group); err != nil {
		return c, err
	}
	k := len(group.Levels)
	if k < 2 {
		return c, stat.Refuse("a comparison of "+group.Name, "there is only one level")
	}
	mean, v, n := make([]float64, k), make([]float64, k), make([]float64, k)
	for j, g := range group.Split(values) {
		if len(g) < 2 {
			return c, stat.Refuse("the variance of "+group.Levels[j], "it has fewer than two units")
		}
		n[j] = float64(len(g))
		if len(g) < 4 {
			c.Note = "groups of fewer than four units make the limits uncertain"
		}
		for _, y := range g {
			mean[j] += y / n[j]
		}
		for _, y := range g {
			v[j] += (y - mean[j]) * (y - mean[j]) / (n[j] - 1)
		}
		if !(v[j] > 0) {
			return c, stat.Refuse("the variance of "+group.Levels[j], "all its units have the same value")
		}
	}
	for i := range k {
		for j := i + 1; j < k; j++ {
			a, b := v[i]/n[i], v[j]/n[j]
			df := (a + b) * (a + b) / (a*a/(n[i]-1) + b*b/(n[j]-1))
			e, err := linear.TEstimate(fmt.Sprintf("%s − %s", group.Levels[j], group.Levels[i]), mean[j]-mean[i], math.Sqrt(a+b), df, level)
			if err != nil {
				return c, err
			}
			r := dist.Range{K: k, DF: df}
			e.P = r.Upper(math.Abs(e.T) * math.Sqrt2)
			half := r.Quantile(level) / math.Sqrt2 * e.SE
			e.Interval = stat.Interval{Lower: e.Value - half, Upper: e.Value + half, Level: level}
			c.Pairs, c.First, c.Second = append(c.Pairs, e), append(c.First, i), append(c.Second, j)
		}
	}
	return c, nil
}

// Holm adjusts p values so that the chance of any false finding stays below the
// level (Holm1979). The order is kept.
func Holm(p []float64) []float64 {
	order := byP(p)
	out := make([]float64, len(p))
	top := 0.0
	for r, i := range order {
		top = math.Max(top, math.Min(1, float64(len(p)-r)*p[i]))
		out[i] = top
	}
	return out
}

// BenjaminiHochberg adjusts p values so that the share of false findings among the
// findings stays below the level (BenjaminiHochberg1995).
func BenjaminiHochberg(p []float64) []float64 {
	order := byP(p)
	out := make([]float64, len(p))
	low := 1.0
	for r := len(order) - 1; r >= 0; r-- {
		i := order[r]
		low = math.Min(low, float64(len(p))/float64(r+1)*p[i])
		out[i] = low
	}
	return out
}

func byP(p []float64) []int {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		}
		return 0
	})
	return order
}
