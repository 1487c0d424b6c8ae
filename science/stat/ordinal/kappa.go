package ordinal

import (
	"fmt"
	"math"

	"underlamp/science/stat"
	"underlamp/science/stat/dist"
)

// A Weighting says how much a disagreement by several classes counts.
type Weighting int

const (
	Equal     Weighting = iota // any disagreement the same
	Linear                     // by the number of classes
	Quadratic                  // by its square
)

// Kappa measures how far two scorers agree beyond chance, with the large-sample error
// of Fleiss1969: table[i][j] is how often the first said i and the second j. It
// refuses where both always said the same one class.
func Kappa(table [][]float64, w Weighting, level float64) (stat.Estimate, error) {
	k := len(table)
	var n float64
	for _, row := range table {
		if len(row) != k {
			return stat.Estimate{}, fmt.Errorf("a table of agreement is square, not %d by %d", k, len(row))
		}
		for _, v := range row {
			if v < 0 || math.IsNaN(v) || math.IsInf(v, 0) {
				return stat.Estimate{}, fmt.Errorf("a count is %g", v)
			}
			n += v
		}
	}
	if k < 2 || n < 2 {
		return stat.Estimate{}, stat.Refuse("agreement", "there are fewer than two classes or two scored things")
	}
	weight := func(i, j int) float64 {
		d := math.Abs(float64(i-j)) / float64(k-1)
		switch {
		case w == Linear:
			return 1 - d
		case w == Quadratic:
			return 1 - d*d
		case i == j:
			return 1
		}
		return 0
	}
	r, c := make([]float64, k), make([]float64, k)
	for i := range k {
		for j := range k {
			r[i] += table[i][j] / n
			c[j] += table[i][j] / n
		}
	}
	var po, pe float64
	wi, wj := make([]float64, k), make([]float64, k)
	for i := range k {
		for j := range k {
			v := weight(i, j)
			po += v * table[i][j] / n
			pe += v * r[i] * c[j]
			wi[i] += v * c[j]
			wj[j] += v * r[i]
		}
	}
	if !(1-pe > 1e-12) {
		return stat.Estimate{}, stat.Refuse("agreement", "both always named the same class, so chance agrees as well")
	}
	kappa := (po - pe) / (1 - pe)
	var s float64
	for i := range k {
		for j := range k {
			d := weight(i, j) - (wi[i]+wj[j])*(1-kappa)
			s += table[i][j] / n * d * d
		}
	}
	d := kappa - pe*(1-kappa)
	se := math.Sqrt(math.Max(0, (s-d*d)/(n*(1-pe)*(1-pe))))
	z := dist.NormalQuantile((1 + level) / 2)
	out := stat.Estimate{Name: "kappa", Value: kappa, SE: se, DF: math.Inf(1),
		Interval: stat.Interval{Lower: math.Max(-1, kappa-z*se), Upper: math.Min(1, kappa+z*se), Level: level}}
	if se > 0 {
		out.T = kappa / se
		out.P = dist.NormalTwoSided(out.T)
	}
	return out, nil
}
