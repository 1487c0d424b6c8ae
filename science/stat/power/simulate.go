package power

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/stat/distuv"

	"underlamp/science/stat"
	"underlamp/science/stat/layout"
	"underlamp/science/stat/onset"
	"underlamp/science/stat/ranks"
)

// Runs says how a power is simulated.
type Runs struct {
	Trials   int
	Seed     uint64
	Alpha    float64        // level of the test, 0.05
	Progress func(done int) // called now and then from one of several goroutines; may be nil
}

// A Simulated power.
type Simulated struct {
	Chance  float64 // share of the trials with p at or below alpha
	SE      float64 // of the simulation
	Trials  int
	Refused int // trials that gave no test, such as all units alike; they count as not found
}

// Simulate runs a trial many times and counts p values at or below alpha. A trial that returns a
// refusal counts as not found; any other error ends it, and so does the context. trial is
// called from several goroutines, each time with a stream of its own: the result depends on
// the seed alone.
func Simulate(ctx context.Context, runs Runs, trial func(*rand.Rand) (p float64, err error)) (Simulated, error) {
	if runs.Trials < 1 {
		return Simulated{}, stat.Refuse("a simulated power", "there are no trials")
	}
	if !(runs.Alpha > 0 && runs.Alpha < 1) {
		return Simulated{}, stat.Refuse("a simulated power", "the level of the test is not between 0 and 1")
	}
	workers := min(runtime.GOMAXPROCS(0), runs.Trials)
	found, refused := make([]int, workers), make([]int, workers)
	errs := make([]error, workers)
	var wait sync.WaitGroup
	var done atomic.Int64
	for w := range workers {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := w; i < runs.Trials; i += workers {
				if errs[w] = ctx.Err(); errs[w] != nil {
					return
				}
				p, err := trial(rand.New(rand.NewPCG(runs.Seed, uint64(i))))
				switch {
				case stat.Refused(err) != nil:
					refused[w]++
				case err != nil:
					errs[w] = err
					return
				case p <= runs.Alpha:
					found[w]++
				}
				if n := done.Add(1); runs.Progress != nil && n%100 == 0 {
					runs.Progress(int(n))
				}
			}
		}()
	}
	wait.Wait()
	s := Simulated{Trials: runs.Trials}
	k := 0
	for w := range workers {
		if errs[w] != nil {
			return Simulated{}, errs[w]
		}
		k += found[w]
		s.Refused += refused[w]
	}
	s.Chance = float64(k) / float64(runs.Trials)
	// Agresti and Coull's plus four, so that none found is not known for sure.
	p := (float64(k) + 2) / (float64(runs.Trials) + 4)
	s.SE = math.Sqrt(p * (1 - p) / float64(runs.Trials))
	return s, nil
}

// test returns what tests the values of units: F, or the randomisation test of the layout.
func (p Plan) test(exact bool) (func(y []float64) (float64, error), error) {
	f, err := p.frame()
	if err != nil {
		return nil, err
	}
	if !exact {
		return f.p, nil
	}
	s := layout.Free(p.Treatment)
	switch len(p.Nuisance) {
	case 0:
	case 1:
		s = layout.Within(p.Treatment, p.Nuisance[0])
	default:
		return nil, stat.Refuse("power", "the randomisation test of rows and columns is not simulated")
	}
	if _, _, err := s.Layouts(); err != nil {
		return nil, err
	}
	return func(y []float64) (float64, error) {
		r, err := s.Test(y, 1)
		return r.P, err
	}, nil
}

// A Counted trial has a yes-or-no outcome on subsamples.
type Counted struct {
	Plan
	Chances []float64 // of yes at each level
	Subs    int       // subsamples per unit
	Rho     float64   // correlation of two subsamples of one unit, 0 to below 1
	Exact   bool      // test by randomisation instead of F on the shares
	Groups            // shift the logit of the chance
}

// Groups are units that share a shift drawn in each trial, whether or not the analysis
// takes it out.
type Groups struct {
	Of []int   // the group of each unit; nil for none
	SD float64 // of the shift
}

// shifts draws one for each unit.
func (g Groups) shifts(r *rand.Rand, n int) []float64 {
	out := make([]float64, n)
	if g.Of == nil || g.SD == 0 {
		return out
	}
	drawn := map[int]float64{}
	for i, k := range g.Of {
		s, ok := drawn[k]
		if !ok {
			s = g.SD * r.NormFloat64()
			drawn[k] = s
		}
		out[i] = s
	}
	return out
}

func (g Groups) check(units int) error {
	if g.Of != nil && len(g.Of) != units || !(g.SD >= 0) {
		return stat.Refuse("power", "the groups do not fit the units")
	}
	return nil
}

// Simulate draws beta-binomial counts, takes the share of each unit, and tests between the
// levels.
func (d Counted) Simulate(ctx context.Context, runs Runs) (Simulated, error) {
	what := "power"
	if len(d.Chances) != len(d.Treatment.Levels) || d.Subs < 1 {
		return Simulated{}, stat.Refuse(what, "it takes a chance for each level, and subsamples")
	}
	if !(d.Rho >= 0 && d.Rho < 1) {
		return Simulated{}, stat.Refuse(what, "the correlation within units is not from 0 to below 1")
	}
	for _, p := range d.Chances {
		if !(p >= 0 && p <= 1) {
			return Simulated{}, stat.Refuse(what, "a chance is not from 0 to 1")
		}
	}
	if err := d.Groups.check(len(d.Treatment.Of)); err != nil {
		return Simulated{}, err
	}
	test, err := d.test(d.Exact)
	if err != nil {
		return Simulated{}, err
	}
	return Simulate(ctx, runs, func(r *rand.Rand) (float64, error) {
		y := make([]float64, len(d.Treatment.Of))
		shift := d.shifts(r, len(y))
		for i, l := range d.Treatment.Of {
			p := d.Chances[l]
			if shift[i] != 0 && p > 0 && p < 1 {
				p = 1 / (1 + (1-p)/p*math.Exp(-shift[i]))
			}
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
		return test(y)
	})
}

// A Graded trial has an outcome in ordered classes on subsamples, by proportional odds:
// a subsample of level k in unit j is in the class that counts the cuts below
// Shift[k] + SDUnit·z + logistic noise.
type Graded struct {
	Plan
	Shift  []float64 // of the logit, by level
	Cuts   []float64 // rising
	SDUnit float64   // between units, on the logit
	Subs   int
	Exact  bool
	Groups // shift the logit
}

// Simulate draws classes, takes the mean midrank of each unit, and tests between the levels.
func (d Graded) Simulate(ctx context.Context, runs Runs) (Simulated, error) {
	if len(d.Shift) != len(d.Treatment.Levels) || d.Subs < 1 || len(d.Cuts) < 1 || !(d.SDUnit >= 0) {
		return Simulated{}, stat.Refuse("power", "it takes a shift for each level, cuts between the classes, a scatter between units, and subsamples")
	}
	for i, c := range d.Cuts {
		if i > 0 && !(c > d.Cuts[i-1]) {
			return Simulated{}, stat.Refuse("power", "the cuts between the classes do not rise")
		}
	}
	if err := d.Groups.check(len(d.Treatment.Of)); err != nil {
		return Simulated{}, err
	}
	test, err := d.test(d.Exact)
	if err != nil {
		return Simulated{}, err
	}
	return Simulate(ctx, runs, func(r *rand.Rand) (float64, error) {
		n := len(d.Treatment.Of)
		v := make([]float64, 0, n*d.Subs)
		shift := d.shifts(r, n)
		for i, l := range d.Treatment.Of {
			u := d.Shift[l] + shift[i] + d.SDUnit*r.NormFloat64()
			for range d.Subs {
				q := r.Float64()
				z, class := u+math.Log(q/(1-q)), 0
				for class < len(d.Cuts) && d.Cuts[class] < z {
					class++
				}
				v = append(v, float64(class))
			}
		}
		return test(unitMeans(ranks.Of(v), d.Subs))
	})
}

// unitMeans averages subsamples that stand together.
func unitMeans(v []float64, subs int) []float64 {
	y := make([]float64, len(v)/subs)
	for i, x := range v {
		y[i/subs] += x / float64(subs)
	}
	return y
}

// A Timed trial asks when something begins that is seen at rounds only: Weibull times with
// a shift of the logarithm for each unit.
type Timed struct {
	Plan
	Scale  []float64 // of the Weibull law by level: time by which 63 % have begun
	Shape  float64
	SDUnit float64   // between units, of ln time
	Rounds []float64 // times of looking, rising; what has not begun at the last is never seen
	Subs   int
	Exact  bool
	Groups // shift ln time
}

// Simulate draws times, keeps what the rounds see of them, takes the mean log-rank score
// of each unit (Sun1996), and tests between the levels.
func (d Timed) Simulate(ctx context.Context, runs Runs) (Simulated, error) {
	if len(d.Scale) != len(d.Treatment.Levels) || d.Subs < 1 || len(d.Rounds) < 1 || !(d.Shape > 0) || !(d.SDUnit >= 0) {
		return Simulated{}, stat.Refuse("power", "it takes a time for each level, a shape, rounds, a scatter between units, and subsamples")
	}
	for _, s := range d.Scale {
		if !(s > 0) {
			return Simulated{}, stat.Refuse("power", "a time is not above 0")
		}
	}
	for i, t := range d.Rounds {
		if !(t > 0) || i > 0 && !(t > d.Rounds[i-1]) {
			return Simulated{}, stat.Refuse("power", "the rounds do not rise from above 0")
		}
	}
	if err := d.Groups.check(len(d.Treatment.Of)); err != nil {
		return Simulated{}, err
	}
	test, err := d.test(d.Exact)
	if err != nil {
		return Simulated{}, err
	}
	return Simulate(ctx, runs, func(r *rand.Rand) (float64, error) {
		var obs []onset.Observation
		seen := false
		shift := d.shifts(r, len(d.Treatment.Of))
		for i, l := range d.Treatment.Of {
			scale := d.Scale[l] * math.Exp(shift[i]+d.SDUnit*r.NormFloat64())
			for range d.Subs {
				t := scale * math.Pow(r.ExpFloat64(), 1/d.Shape)
				o := onset.Observation{First: math.Inf(1)}
				for _, look := range d.Rounds {
					if t <= look {
						o.First, seen = look, true
						break
					}
					o.Last = look
				}
				obs = append(obs, o)
			}
		}
		if !seen {
			return 0, stat.Refuse("a test", "nothing was seen at any round")
		}
		f, err := onset.FitNPMLE(obs)
		if err != nil {
			return 0, err
		}
		s, err := f.Scores(obs, onset.Sun)
		if err != nil {
			return 0, err
		}
		return test(unitMeans(s, d.Subs))
	})
}

// Least finds, between low and high, the smallest effect whose simulated power reaches the
// goal: simulate must answer with the same seed for every effect, so that its answers rise
// together. It refuses if the power stays below the goal at high.
func Least(goal, low, high float64, simulate func(effect float64) (Simulated, error)) (float64, error) {
	top, err := simulate(high)
	if err != nil {
		return 0, err
	}
	if top.Chance < goal {
		return 0, stat.Refuse("the smallest effect that is found", "even the largest that there can be is found too seldom")
	}
	for range 7 {
		mid := (low + high) / 2
		s, err := simulate(mid)
		if err != nil {
			return 0, err
		}
		if s.Chance >= goal {
			high = mid
		} else {
			low = mid
		}
	}
	return high, nil
}
