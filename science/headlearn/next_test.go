package headlearn

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"underlamp/science/headcycle"
	"underlamp/science/posterior"
)

// go test ./science/headlearn -run NextCycle -crops 40 -next-to docs/learning-next-cycle.md
var nextTo = flag.String("next-to", "", "file that the table of the next cycle is written to")

// What was learnt from two cycles forecasts the third of the same made crop better
// than the prior does: bands that hold as many plants are narrower, and what burns
// is foreseen better.
func TestNextCycle(t *testing.T) {
	if testing.Short() {
		t.Skip("takes about 8 s")
	}
	t.Parallel()
	n := *crops
	type score struct{ inside, width, miss, brier float64 }
	var before, after score
	plants, looked := 0.0, 0.0
	for k := range n {
		m := simulate(rand.New(rand.NewPCG(uint64(k), 99)), plan{cycles: 3, plants: 8, ppfd: 150 + 20*float64(k%4), burns: true})
		past, next := Evidence{Cycles: m.evidence.Cycles[:2]}, m.evidence.Cycles[2]
		p := learn(t, past, Options{Seed: uint64(k), Draws: 800})
		const draws = 300
		for _, side := range []struct {
			traits []headcycle.Traits
			to     *score
		}{{headcycle.LettuceSpread().Draws(headcycle.Lettuce(), draws, 1), &before}, {p.Traits(draws, 1), &after}} {
			prepared := make([]headcycle.Prepared, draws)
			for i := range prepared {
				prepared[i] = headcycle.Prepare(&side.traits[i], next.Stages[0].Environment)
			}
			for _, plant := range next.Plants {
				masses := make([]float64, draws)
				const day = 23
				seen := 0.0
				for _, b := range plant.Burns {
					if b.Low != (Extent{}) && b.Day <= day {
						seen = 1
					}
				}
				chance := 0.0
				for i := range masses {
					out := headcycle.Run(&side.traits[i], &prepared[i], plant.Light[0], next.Start, next.Days, nil, nil)
					masses[i] = math.Log(out.Last.Fresh)
					chance += phi((day-out.BurnDay)/burnDays) / draws
				}
				slices.Sort(masses)
				got := math.Log(plant.Weighings[len(plant.Weighings)-1].FreshGrams)
				lo, hi := posterior.Quantile(masses, 0.05), posterior.Quantile(masses, 0.95)
				if got >= lo && got <= hi {
					side.to.inside++
				}
				side.to.width += hi - lo
				side.to.miss += math.Abs(got - posterior.Quantile(masses, 0.5))
				side.to.brier += (chance - seen) * (chance - seen)
			}
		}
		plants += float64(len(next.Plants))
		looked++
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# The cycle after\n\nWritten by `go test ./science/headlearn -run NextCycle -crops %d -next-to docs/learning-next-cycle.md`. Two cycles of eight plants of %d made crops were learnt; the third\nof the same crop, with a cycle effect and plants of its own, was then forecast with and without what was learnt.\n\n", n, n)
	fmt.Fprintf(&b, "| forecast with | plants within the 90 %% band of fresh mass | width of that band (ratio of its ends) | mean error of the median | Brier score of burn seen by day 23 |\n|---|---|---|---|---|\n")
	for _, s := range []struct {
		name string
		score
	}{{"the usual spread", before}, {"what was learnt", after}} {
		fmt.Fprintf(&b, "| %s | %.0f %% | %.2f | %.0f %% | %.3f |\n", s.name, 100*s.inside/plants, math.Exp(s.width/plants), 100*s.miss/plants, s.brier/plants)
	}
	fmt.Fprintf(&b, "\nA Brier score is the mean square of the chance minus 1 for a plant that burnt, minus 0 for one that did not: 0 is perfect, 0.25 a coin.\n")
	t.Log("\n" + b.String())
	if *nextTo != "" {
		if err := os.WriteFile(*nextTo, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if after.width >= before.width || after.miss >= before.miss {
		t.Errorf("band %.3f after %.3f, error %.3f after %.3f: nothing was gained", after.width/plants, before.width/plants, after.miss/plants, before.miss/plants)
	}
	// Plants of one crop share its effect: 48 plants of 6 crops count as about 12.
	if se := math.Sqrt(0.09 / (2 * looked)); after.inside/plants < 0.9-3*se {
		t.Errorf("%.0f %% of plants within the 90 %% band", 100*after.inside/plants)
	}
}
