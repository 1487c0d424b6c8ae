package aim

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The calendar against every sequence of heights that never falls.
func TestCalendarAgainstAllWays(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n, days := rapid.IntRange(1, 4).Draw(t, "heights"), rapid.IntRange(1, 5).Draw(t, "days")
		list := make([]float64, n)
		ppfd := make([][]float64, n)
		free := make([][]bool, n)
		for i := range n {
			list[i] = 0.2 + 0.02*float64(i)
			for range days {
				ppfd[i] = append(ppfd[i], float64(rapid.IntRange(150, 250).Draw(t, "ppfd")))
				free[i] = append(free[i], rapid.IntRange(0, 5).Draw(t, "clear") > 0)
			}
		}
		clear := func(i, d int) bool { return free[i][d] }
		type cost struct{ miss, moves, off float64 }
		of := func(way []int) (c cost, ok bool) {
			for d, i := range way {
				if !clear(i, d) || d > 0 && i < way[d-1] {
					return c, false
				}
				off := math.Abs(ppfd[i][d]/200 - 1)
				c.miss += math.Round(1000 * max(off-0.1, 0))
				c.off += off
				if d > 0 && i != way[d-1] {
					c.moves++
				}
			}
			return c, true
		}
		best, any := cost{miss: math.Inf(1)}, false
		for code := range int(math.Pow(float64(n), float64(days))) {
			way := make([]int, days)
			for d, c := 0, code; d < days; d, c = d+1, c/n {
				way[d] = c % n
			}
			if c, ok := of(way); ok && (c.miss < best.miss || c.miss == best.miss && (c.moves < best.moves || c.moves == best.moves && c.off < best.off)) {
				best, any = c, true
			}
		}
		way, ok := calendar(list, days, ppfd, 200, 0.1, clear)
		if ok != any {
			t.Fatalf("found %v, there is one: %v", ok, any)
		}
		if !ok {
			return
		}
		c, held := of(way)
		if !held || c.miss != best.miss || c.moves != best.moves || math.Abs(c.off-best.off) > 1e-9 {
			t.Fatalf("%v costs %+v, the best %+v", way, c, best)
		}
	})
}

// Quantiles of the normal distribution, as printed in every table.
func TestNormal(t *testing.T) {
	t.Parallel()
	for _, v := range [][2]float64{{0, 0.5}, {1, 0.84134}, {1.281552, 0.9}, {1.644854, 0.95}, {-1.959964, 0.025}} {
		if math.Abs(normalCDF(v[0])-v[1]) > 1e-5 || math.Abs(normalQuantile(v[1])-v[0]) > 1e-4 {
			t.Errorf("%g: %g and %g, want %g", v[0], normalCDF(v[0]), normalQuantile(v[1]), v[1])
		}
	}
	// A level believed to be 100 with 5 %: the chance of being under 100·exp(−0.05) is Φ(−1).
	if p := chanceUnder(100, 100*math.Exp(-0.05), 0.05); math.Abs(p-0.158655) > 1e-6 {
		t.Errorf("%g", p)
	}
	if chanceUnder(0, 1, 0.1) != 1 || chanceUnder(2, 1, 0) != 0 || chanceUnder(1, 2, 0) != 1 {
		t.Error("without doubt the chance is 0 or 1")
	}
}
