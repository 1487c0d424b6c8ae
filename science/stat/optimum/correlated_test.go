package optimum_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"underlamp/science/stat/binary"
	"underlamp/science/stat/dist"
	"underlamp/science/stat/linear"
	"underlamp/science/stat/optimum"
)

// A unit that grows more may burn more: the deviations of units in gain and in loss are drawn
// with a correlation, and the curves as if they erred independently. The 90 % limits must hold
// the true best dose all the same; bounds fixed before: 0.86 to 0.94 of 1000 trials, as without.
func TestCorrelatedUnits(t *testing.T) {
	if testing.Short() {
		t.Skip("slow")
	}
	const trials, subs, units, rho = 1000, 8, 4, 0.1
	levels := []float64{8, 11, 14, 17, 20, 23}
	truth := 13.1695
	for k, corr := range []float64{-0.9, 0, 0.9} {
		r := rand.New(rand.NewPCG(77, uint64(k)))
		apart, none, no := 0, 0, 0
		var wide float64
		for i := range trials {
			var yes, n, unit []int
			var x, sq, y []float64
			for _, v := range levels {
				for range units {
					e1, e2 := r.NormFloat64(), r.NormFloat64()
					e2 = corr*e1 + math.Sqrt(1-corr*corr)*e2
					p := 1 / (1 + math.Exp(7-0.35*v))
					th := (1 - rho) / rho
					p = distuv.Beta{Alpha: p * th, Beta: (1 - p) * th}.Quantile(min(max(dist.NormalLower(e2), 1e-9), 1-1e-9))
					s := 0
					for range subs {
						if r.Float64() < p {
							s++
						}
					}
					unit = append(unit, len(unit))
					yes, n, x, sq = append(yes, s), append(n, subs), append(x, v), append(sq, v*v)
					y = append(y, 40+13*v-0.32*v*v+6*e1+14/math.Sqrt(subs)*r.NormFloat64())
				}
			}
			plain, err := binary.Logistic(binary.OnDose(yes, n, x))
			if err != nil {
				none++
				continue
			}
			f := must(plain.Clustered(unit, 2))
			m := must(linear.FitModel(y, linear.Term{linear.Of("x", x)}, linear.Term{linear.Of("x²", sq)}))
			gain := optimum.Curve{Coef: m.Coef, DF: float64(m.DF)}
			s2 := must(m.Variance())
			for a := range 3 {
				row := make([]float64, 3)
				for b := range 3 {
					ea, eb := make([]float64, 3), make([]float64, 3)
					ea[a], eb[b] = 1, 1
					row[b] = s2 * m.Covariance(ea, eb)
				}
				gain.Cov = append(gain.Cov, row)
			}
			q := optimum.Problem{Gain: gain, Loss: optimum.Curve{Coef: f.Coef, Cov: f.Cov, DF: f.DF}, Low: 8, High: 23, Draws: 300, Level: 0.9, Seed: uint64(i)}
			a := must(q.Best())
			if a.Interval.Holds(truth) {
				apart++
			}
			if a.Interval.Bounded() {
				wide, no = wide+a.Interval.Upper-a.Interval.Lower, no+1
			}
		}
		held := float64(apart) / float64(trials-none)
		t.Logf("units correlated by %+.1f: holds in %.3f, mean width %.2f; no curve in %d", corr, held, wide/float64(no), none)
		if held < 0.86 || held > 0.94 {
			t.Errorf("units correlated by %+.1f: holds in %.3f", corr, held)
		}
	}
}
