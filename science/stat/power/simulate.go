package power

import (
	"math"
	"math/rand/v2"
	"runtime"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"

	"underlamp/science/stat"
	"underlamp/science/stat/layout"
)

// A Simulated power.
type Simulated struct {
	Chance  float64 // share of the trials with p at or below alpha
	SE      float64 // of the simulation
	Trials  int
	Refused int // trials that gave no test, such as all units alike; they count as not found
}

// Simulate runs a trial many times and counts p values at or below alpha. A trial that returns a
// refusal counts as not found; any other error ends it. trial is called from several
// goroutines.
func Simulate(trials int, seed uint64, trial func(*rand.Rand) (p float64, err error), alpha float64) (Simulated, error) {
	if trials < 1 {
		return Simulated{}, stat.Refuse("a simulated power", "there are no trials")
	}
	workers := min(runtime.GOMAXPROCS(0), trials)
	found, refused := make([]int, workers), make([]int, workers)
	errs := make([]error, workers)
	var wait sync.WaitGroup
	for w := range workers {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := w; i < trials; i += workers {
				p, err := trial(rand.New(rand.NewPCG(seed, uint64(i))))
				switch {
				case stat.Refused(err) != nil:
					refused[w]++
				case err != nil:
					errs[w] = err
					return
				case p <= alpha:
					found[w]++
				}
			}
		}()
	}
	wait.Wait()
	s := Simulated{Trials: trials}
	k := 0
	for w := range workers {
		if errs[w] != nil {
			return Simulated{}, errs[w]
		}
		k += found[w]
		s.Refused += refused[w]
	}
	s.Chance = float64(k) / float64(trials)
	// Agresti and Coull's plus four, so that none found is not known for sure.
	p := (float64(k) + 2) / (float64(trials) + 4)
	s.SE = math.Sqrt(p * (1 - p) / float64(trials))
	return s, nil
}

// A Counted trial has a yes-or-no outcome on subsamples.
type Counted struct {
	Chances []float64 // of yes at each level
	Units   int       // per level
	Subs    int       // subsamples per unit
	Rho     float64   // correlation of two subsamples of one unit, 0 to below 1
	Blocks  bool      // units come in complete blocks
	Exact   bool      // test by randomisation instead of F on the shares
	Alpha   float64
}

// Simulate draws beta-binomial counts, takes the share of each unit, and tests
// between the levels.
func (d Counted) Simulate(trials int, seed uint64) (Simulated, error) {
	what := "power"
	if len(d.Chances) < 2 || d.Units < 2 || d.Subs < 1 {
		return Simulated{}, stat.Refuse(what, "it takes two levels with two units each; with one unit level and unit cannot be told apart")
	}
	if d.Rho < 0 || d.Rho >= 1 {
		return Simulated{}, stat.Refuse(what, "the correlation within units is not from 0 to below 1")
	}
	for _, p := range d.Chances {
		if !(p >= 0 && p <= 1) {
			return Simulated{}, stat.Refuse(what, "a chance is not from 0 to 1")
		}
	}
	treatment, block := grid(len(d.Chances), d.Units)
	return Simulate(trials, seed, func(r *rand.Rand) (float64, error) {
		y := make([]float64, len(treatment.Of))
		for i, l := range treatment.Of {
			p := d.Chances[l]
			if d.Rho > 0 && p > 0 && p < 1 {
				k := (1 - d.Rho) / d.Rho
				p = distuv.Beta{Alpha: p * k, Beta: (1 - p) * k, Src: r}.Rand()
			}
			n := 0
			for range d.Subs {
				if r.Float64() < p {
					n++
				}
			}
			y[i] = float64(n) / float64(d.Subs)
		}
		if d.Exact {
			s := layout.Free(treatment)
			if d.Blocks {
				s = layout.Within(treatment, block)
			}
			res, err := s.Test(y, 1)
			return res.P, err
		}
		return onUnits(y, treatment, block, d.Blocks)
	}, d.Alpha)
}
