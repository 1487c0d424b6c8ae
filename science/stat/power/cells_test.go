package power

import (
	"math"
	"math/rand/v2"
	"testing"

	"underlamp/science/stat/onset"
	"underlamp/science/stat/ranks"
)

// Scores by class are those that packages ranks and onset give one by one, which are held
// against R.
func TestScoresByClass(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	rounds := []float64{6, 9, 12, 15, 18}
	for range 50 {
		const units, subs = 6, 5
		c := newCells(units, len(rounds)+1)
		var v []float64
		var obs []onset.Observation
		for i := range units {
			for range subs {
				k := r.IntN(len(rounds) + 1)
				c.add(i, k)
				v = append(v, float64(k))
				o := onset.Observation{First: math.Inf(1)}
				if k > 0 {
					o.Last = rounds[k-1]
				}
				if k < len(rounds) {
					o.First = rounds[k]
				}
				obs = append(obs, o)
			}
		}
		f, err := onset.FitNPMLE(obs)
		if err != nil {
			t.Fatal(err)
		}
		s, err := f.Scores(obs, onset.Sun)
		if err != nil {
			t.Fatal(err)
		}
		for name, x := range map[string]struct{ got, want []float64 }{"ranks": {c.midranks(), ranks.Of(v)}, "onset": {c.logRank(), s}} {
			for j, k := range v {
				if d := x.got[int(k)] - x.want[j]; math.Abs(d) > 1e-7*(1+math.Abs(x.want[j])) {
					t.Errorf("%s: class %g has %v, one by one %v", name, k, x.got[int(k)], x.want[j])
				}
			}
		}
	}
}
