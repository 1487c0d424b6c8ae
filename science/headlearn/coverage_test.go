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
)

// go test ./science/headlearn -run Coverage -crops 60 -coverage-to docs/learning-coverage.md
var (
	crops      = flag.Int("crops", 3, "made crops of the coverage test")
	coverageTo = flag.String("coverage-to", "", "file that the table of the coverage test is written to")
)

// Made crops are learnt and their true factors looked up in the posterior: nine of ten
// must lie within its 90 % interval. The crops are grown with the full model, plant by
// plant, with all traits varied, so a fault of the short cuts of the likelihood shows
// here. The bounds are three binomial standard errors about 0.9, set before the
// run; parameters are taken together, since one alone has few trials.
func TestCoverage(t *testing.T) {
	if testing.Short() {
		t.Skip("takes about 8 s")
	}
	t.Parallel()
	n := *crops
	type row struct {
		inside            int
		square, shrinkage float64
	}
	var keys []string
	rows := map[string]*row{}
	inside, all, bad, misfits, data := 0, 0, 0, 0, 0
	for k := range n {
		m := simulate(rand.New(rand.NewPCG(uint64(k), 4242)), plan{cycles: 2, plants: 8, ppfd: 150 + 20*float64(k%4), burns: true})
		p := learn(t, m.evidence, Options{Seed: uint64(k), Draws: 800})
		for _, d := range p.Fit {
			data++
			if d.Misfit {
				misfits++
			}
		}
		if p.Sampling.RHat > 1.05 {
			bad++
		}
		for i, a := range p.Parameters {
			if a.Shrinkage == 0 {
				continue // not sampled
			}
			truth := m.spread
			if i < len(m.logs) {
				truth = m.logs[i]
			}
			r := rows[a.Key]
			if r == nil {
				r = &row{}
				rows[a.Key] = r
				keys = append(keys, a.Key)
			}
			all++
			if f := math.Exp(truth); f >= a.Posterior.Q05 && f <= a.Posterior.Q95 {
				r.inside++
				inside++
			}
			z := (truth - a.LogMean) / a.LogSD
			r.square += z * z / float64(n)
			r.shrinkage += a.Shrinkage / float64(n)
		}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# Coverage of what is learnt\n\nWritten by `go test ./science/headlearn -run Coverage -crops %d -coverage-to docs/learning-coverage.md`. %d made crops, each of two cycles of eight plants\n", n, n)
	fmt.Fprintf(&b, "(weighings on day 18 of half of them and on day 35 of all, a quarter dried, burn looked for every third day), grown plant by plant with the full model and all traits\nvaried, then learnt. A 90 %% interval should hold nine truths of ten; the root mean square of (truth − mean)/sd should be 1. Shrinkage is 1 − sd after/sd before.\n\n")
	fmt.Fprintf(&b, "| parameter | truths within the 90 %% interval | rms of (truth − mean)/sd | mean shrinkage |\n|---|---|---|---|\n")
	for _, k := range keys {
		r := rows[k]
		fmt.Fprintf(&b, "| %s | %d of %d | %.2f | %.2f |\n", k, r.inside, n, math.Sqrt(r.square), r.shrinkage)
	}
	fmt.Fprintf(&b, "| all | %d of %d (%.1f %%) | | |\n\n%d of %d data were called a misfit though none was made wrong. R-hat above 1.05 in %d of %d runs.\n", inside, all, 100*float64(inside)/float64(all), misfits, data, bad, n)
	t.Log("\n" + b.String())
	if *coverageTo != "" {
		if err := os.WriteFile(*coverageTo, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	share := float64(inside) / float64(all)
	// Truths of one crop hang together: its parameters count as a third of their number.
	se := math.Sqrt(0.9 * 0.1 / (float64(all) / 3))
	if math.Abs(share-0.9) > 3*se {
		t.Errorf("%.1f %% of truths within their 90 %% interval; more than three standard errors (%.1f) from 90", 100*share, 300*se)
	}
	if bad > n/20 {
		t.Errorf("R-hat above 1.05 in %d of %d runs", bad, n)
	}
	if !slices.Contains(keys, "vigour") || rows["vigour"].shrinkage < 0.3 {
		t.Error("vigour was not learnt")
	}
}
