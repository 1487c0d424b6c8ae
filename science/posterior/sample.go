package posterior

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"
)

// A Target is the density to draw from, in two factors.
//
// A density that has no such parts is given by any distribution that covers it as
// the prior, and as likelihood by its ratio to that prior.
type Target struct {
	Dim int

	// Prior is the logarithm of the prior density, up to a constant, −Inf outside
	// its support. It must be safe for concurrent use.
	Prior func(x []float64) float64

	// Draw writes one draw of the prior into x.
	Draw func(x []float64, rng *rand.Rand)

	// Likelihood returns a function for the logarithm of the likelihood. It is called
	// once for each goroutine, so that what it returns may keep scratch space. It is
	// only asked where the prior is above 0.
	Likelihood func() func(x []float64) float64
}

// Options of [Sample]. The zero value of every field stands for its default.
type Options struct {
	Seed      uint64
	Particles int // that carry the prior to the posterior; 0: 40 a dimension, at least 200
	Chains    int // 0: 8
	Warmup    int // steps of a chain before its draws are kept; 0: 30 a dimension, at least 200
	Draws     int // kept of a chain; 0: 500
	Thin      int // steps from one kept draw to the next; 0: 1
	Workers   int // goroutines; 0: one for each processor

	// Rounds is how often the kept part may be made. While R-hat is above [Agreed] and
	// rounds are left, the draws become the warm-up of another round, from the third on
	// with twice the steps between them. 0: 1
	Rounds int

	// Progress is told the share of the work that is done, rising from 0 to 1, from
	// one goroutine at a time. May be nil.
	Progress func(share float64)
}

// A Sampled is what [Sample] found.
type Sampled struct {
	Chains      [][][]float64 // [chain][draw][coordinate]
	Likelihoods [][]float64   // log likelihood, [chain][draw]
	Acceptance  float64       // share of the steps of the kept part that moved
	Evaluations int           // of the likelihood
	Stages      int           // tempered densities between prior and posterior
	Rounds      int           // of the kept part that were needed
	LogEvidence float64       // log of the mean likelihood over the prior, from the tempering
}

// Coordinate is one coordinate as [chain][draw], for the diagnostics.
func (s *Sampled) Coordinate(i int) [][]float64 {
	out := make([][]float64, len(s.Chains))
	for c, chain := range s.Chains {
		out[c] = make([]float64, len(chain))
		for d, x := range chain {
			out[c][d] = x[i]
		}
	}
	return out
}

// Draws are all draws, chain after chain.
func (s *Sampled) Draws() [][]float64 {
	var out [][]float64
	for _, chain := range s.Chains {
		out = append(out, chain...)
	}
	return out
}

// Constants of the method.
const (
	keepESS    = 0.5 // share of effective particles that a tempering step leaves (DelMoral2006)
	movesEach  = 3   // Metropolis steps of a particle after each tempering step
	maxStages  = 200
	snooker    = 0.1 // share of steps along the line to another state (TerBraakVrugt2008)
	wholeJump  = 0.1 // share of steps with a factor of 1, from mode to mode (TerBraakVrugt2008)
	allAtOnce  = 0.5 // share of steps that move every coordinate
	jitter     = 0.05
	blockSteps = 10 // warm-up steps between two additions to the archive
)

// Agreed is the R-hat up to which chains count as agreed (Vehtari2021 advise 1.01 for four
// chains; eight short ones pass it by chance).
const Agreed = 1.02

// ErrNowhere says that no draw of the prior has a likelihood above 0.
var ErrNowhere = errors.New("posterior: the likelihood is 0 at every draw of the prior")

// Sample draws from a target. It returns [ErrNowhere] if the likelihood is 0 all
// over the prior, and the error of ctx if that ends first. It panics if the target
// has no dimension or lacks a function.
func Sample(ctx context.Context, t Target, opt Options) (*Sampled, error) {
	if t.Dim < 1 || t.Prior == nil || t.Draw == nil || t.Likelihood == nil {
		panic("posterior: Sample: the target needs a dimension, Prior, Draw and Likelihood")
	}
	or := func(v *int, d int) {
		if *v <= 0 {
			*v = d
		}
	}
	or(&opt.Particles, max(40*t.Dim, 200))
	or(&opt.Chains, 8)
	or(&opt.Warmup, max(30*t.Dim, 200))
	or(&opt.Draws, 500)
	or(&opt.Thin, 1)
	or(&opt.Rounds, 1)
	or(&opt.Workers, runtime.GOMAXPROCS(0))
	r := &run{ctx: ctx, t: t, opt: opt}
	// About a dozen tempering steps are usual; the share of progress is corrected
	// as β rises.
	r.tempering = float64(opt.Particles * 12 * movesEach)
	r.chains = float64(opt.Chains * (opt.Warmup + opt.Draws*opt.Thin))
	r.likes = make([]func([]float64) float64, opt.Workers)
	for i := range r.likes {
		r.likes[i] = t.Likelihood()
	}
	particles, err := r.temper()
	if err != nil {
		return nil, err
	}
	return r.follow(particles)
}

// A state is a point with the logarithms of both factors of its density.
type state struct {
	x           []float64
	prior, like float64
}

func (s state) clone() state {
	return state{append([]float64(nil), s.x...), s.prior, s.like}
}

// density is the log of the tempered density; a factor of 0 stays 0 at β = 0.
func (s state) density(beta float64) float64 {
	if math.IsInf(s.prior, -1) || math.IsInf(s.like, -1) {
		return math.Inf(-1)
	}
	return s.prior + beta*s.like
}

type run struct {
	ctx   context.Context
	t     Target
	opt   Options
	likes []func([]float64) float64 // by worker

	tempering, chains float64 // expected evaluations, for the progress

	evaluations atomic.Int64
	stages      int
	evidence    float64
}

// Streams of random numbers: one for each purpose, stage and index.
func (r *run) stream(purpose, stage, index int) *rand.Rand {
	return rand.New(rand.NewPCG(r.opt.Seed, uint64(purpose)<<56|uint64(stage)<<32|uint64(index)))
}

const (
	ofStart = iota + 1
	ofResampling
	ofMoves
	ofChoice
	ofChains
)

// parallel runs f(worker, i) for i in 0..n-1; it stops early when the context ends.
func (r *run) parallel(n int, f func(worker, i int)) error {
	var next atomic.Int64
	var wg sync.WaitGroup
	for w := range min(r.opt.Workers, n) {
		wg.Go(func() {
			for r.ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				f(w, i)
			}
		})
	}
	wg.Wait()
	return r.ctx.Err()
}

func (r *run) progress(share float64) {
	if r.opt.Progress != nil {
		r.opt.Progress(min(max(share, 0), 1))
	}
}

// at evaluates a point.
func (r *run) at(worker int, x []float64) state {
	s := state{x: x, prior: r.t.Prior(x), like: math.Inf(-1)}
	if math.IsNaN(s.prior) {
		s.prior = math.Inf(-1)
	}
	if math.IsInf(s.prior, -1) {
		return s
	}
	r.evaluations.Add(1)
	s.like = r.likes[worker](x)
	if math.IsNaN(s.like) {
		s.like = math.Inf(-1)
	}
	return s
}

// temper carries draws of the prior to the posterior.
func (r *run) temper() ([]state, error) {
	n := r.opt.Particles
	now := make([]state, n)
	err := r.parallel(n, func(w, i int) {
		x := make([]float64, r.t.Dim)
		r.t.Draw(x, r.stream(ofStart, 0, i))
		now[i] = r.at(w, x)
	})
	if err != nil {
		return nil, err
	}
	share := r.tempering / (r.tempering + r.chains)
	beta := 0.0
	for beta < 1 {
		r.stages++
		if r.stages > maxStages {
			return nil, fmt.Errorf("posterior: after %d tempering steps the likelihood counts only to the power of %.3g; it is too rough for this prior", maxStages, beta)
		}
		next, weights, logMean, ok := nextBeta(now, beta)
		if !ok {
			return nil, ErrNowhere
		}
		r.evidence += logMean
		now = resample(now, weights, r.stream(ofResampling, r.stages, 0))
		beta = next
		// The population before the moves is what all of them step along.
		frozen := make([][]float64, n)
		for i := range now {
			frozen[i] = now[i].x
		}
		moved := make([]state, n)
		err := r.parallel(n, func(w, i int) {
			rng := r.stream(ofMoves, r.stages, i)
			s := now[i].clone()
			for range movesEach {
				s, _, _ = r.step(w, s, beta, frozen, nil, rng)
			}
			moved[i] = s
		})
		if err != nil {
			return nil, err
		}
		now = moved
		// β rises about geometrically from 0.001.
		r.progress(share * math.Min(1, (3+math.Log10(max(beta, 1e-3)))/3))
	}
	return now, nil
}

// nextBeta is the greatest β that leaves half of the effective particles, the
// weights that it gives, and the log of their mean.
func nextBeta(now []state, beta float64) (next float64, weights []float64, logMean float64, ok bool) {
	weights = make([]float64, len(now))
	most := math.Inf(-1)
	for _, s := range now {
		if !math.IsInf(s.prior, -1) {
			most = max(most, s.like)
		}
	}
	if math.IsInf(most, -1) {
		return 0, nil, 0, false
	}
	ess := func(next float64) float64 {
		var sum, squares float64
		for i, s := range now {
			weights[i] = 0
			if !math.IsInf(s.density(1), -1) {
				weights[i] = math.Exp((next - beta) * (s.like - most))
			}
			sum += weights[i]
			squares += weights[i] * weights[i]
		}
		logMean = math.Log(sum/float64(len(now))) + (next-beta)*most
		return sum * sum / squares / float64(len(now))
	}
	// Particles of likelihood 0 have weight 0 at every β: half of what is left counts.
	want := keepESS * min(ess(beta), 1)
	if ess(1) >= want {
		return 1, weights, logMean, true
	}
	lo, hi := beta, 1.0
	for range 60 {
		if mid := (lo + hi) / 2; ess(mid) >= want {
			lo = mid
		} else {
			hi = mid
		}
	}
	if lo == beta {
		lo = hi // never stand still
	}
	ess(lo)
	return lo, weights, logMean, true
}

// resample draws particles by weight, systematically: each comes ⌊w⌋ or ⌈w⌉ times.
func resample(now []state, weights []float64, rng *rand.Rand) []state {
	sum := 0.0
	for _, w := range weights {
		sum += w
	}
	out := make([]state, 0, len(now))
	step := sum / float64(len(now))
	at, i, below := rng.Float64()*step, 0, weights[0]
	for range now {
		for at >= below && i < len(now)-1 {
			i++
			below += weights[i]
		}
		out = append(out, now[i])
		at += step
	}
	return out
}

// step is one Metropolis step at β along the states of an archive, or to a draw of the
// cloud around them if there is one.
func (r *run) step(worker int, s state, beta float64, archive [][]float64, around *cloud, rng *rand.Rand) (_ state, moved bool, jumped bool) {
	d := r.t.Dim
	y := make([]float64, d)
	logRatio := 0.0
	n := len(archive)
	if around != nil && rng.Float64() < around.share {
		jumped = true
		around.jump(y, s.x, rng)
		logRatio = around.logDensity(s.x) - around.logDensity(y)
	} else if d > 1 && rng.Float64() < snooker {
		// Along the line through z by the difference of two others, projected on it
		// (TerBraakVrugt2008, equations 5 and 6).
		z, a, b := archive[rng.IntN(n)], archive[rng.IntN(n)], archive[rng.IntN(n)]
		var dist, along float64
		for i := range d {
			line := s.x[i] - z[i]
			dist += line * line
			along += line * (a[i] - b[i])
		}
		if dist == 0 {
			return s, false, false
		}
		gamma := 1.2 + rng.Float64()
		after := 0.0
		for i := range d {
			line := s.x[i] - z[i]
			y[i] = s.x[i] + gamma*along/dist*line
			after += (y[i] - z[i]) * (y[i] - z[i])
		}
		logRatio = float64(d-1) / 2 * math.Log(after/dist)
	} else {
		copy(y, s.x)
		pairs := 1 + rng.IntN(2)
		whole := rng.Float64() < allAtOnce || d == 1
		share := rng.Float64()
		moving := 0
		chosen := make([]bool, d)
		for i := range chosen {
			if whole || rng.Float64() < share {
				chosen[i] = true
				moving++
			}
		}
		if moving == 0 {
			chosen[rng.IntN(d)] = true
			moving = 1
		}
		gamma := 2.38 / math.Sqrt(2*float64(pairs)*float64(moving))
		if rng.Float64() < wholeJump {
			gamma = 1
		}
		gamma *= 1 + jitter*(2*rng.Float64()-1)
		for range pairs {
			a, b := archive[rng.IntN(n)], archive[rng.IntN(n)]
			for i := range y {
				if chosen[i] {
					y[i] += gamma * (a[i] - b[i])
				}
			}
		}
		// A little noise in proportion to one further difference lets the chain leave
		// the lattice of the archive; it is symmetric.
		a, b := archive[rng.IntN(n)], archive[rng.IntN(n)]
		for i := range y {
			if chosen[i] {
				y[i] += 0.01 * math.Abs(a[i]-b[i]) * rng.NormFloat64()
			}
		}
	}
	proposal := r.at(worker, y)
	logRatio += proposal.density(beta) - s.density(beta)
	if math.IsInf(s.density(beta), -1) && !math.IsInf(proposal.density(beta), -1) {
		return proposal, true, jumped
	}
	if math.Log(1-rng.Float64()) < logRatio {
		return proposal, true, jumped
	}
	return s, false, jumped
}

// A walk is the chains on their way.
type walk struct {
	*run
	at      []state
	rngs    []*rand.Rand
	archive [][]float64 // what the steps go along
	around  *cloud      // nil until there is one
	tried   []int       // jumps within the cloud, by chain
	taken   []int
	moved   []int
}

// advance carries every chain on by some steps.
func (w *walk) advance(steps int) error {
	return w.parallel(len(w.at), func(worker, c int) {
		for range steps {
			var moved, jumped bool
			w.at[c], moved, jumped = w.step(worker, w.at[c], 1, w.archive, w.around, w.rngs[c])
			if jumped {
				w.tried[c]++
			}
			if moved {
				w.moved[c]++
				if jumped {
					w.taken[c]++
				}
			}
		}
	})
}

// settle fits the cloud to the archive and decides how often to jump, by how often
// jumps were taken so far.
func (w *walk) settle() {
	if n := sum(w.tried); n > 0 {
		w.around = newCloud(w.archive, min(max(cloudFactor*float64(sum(w.taken))/float64(n), cloudLeast), cloudMost))
	}
	clear(w.tried)
	clear(w.taken)
	clear(w.moved)
}

// follow runs the chains.
func (r *run) follow(particles []state) (*Sampled, error) {
	chains, opt := r.opt.Chains, r.opt
	w := &walk{
		run: r, at: make([]state, chains), rngs: make([]*rand.Rand, chains),
		tried: make([]int, chains), taken: make([]int, chains), moved: make([]int, chains),
	}
	for _, p := range particles {
		w.archive = append(w.archive, p.x)
	}
	choice := r.stream(ofChoice, 0, 0)
	for c := range w.at {
		w.at[c] = particles[choice.IntN(len(particles))].clone()
		w.rngs[c] = r.stream(ofChains, 0, c)
	}
	told := r.tempering / (r.tempering + r.chains) // progress so far
	for done := 0; done < opt.Warmup; {
		steps := min(blockSteps, opt.Warmup-done)
		if w.around == nil && 2*done >= opt.Warmup {
			w.around = newCloud(w.archive, cloudTrial)
		}
		if err := w.advance(steps); err != nil {
			return nil, err
		}
		for _, s := range w.at {
			w.archive = append(w.archive, s.x)
		}
		done += steps
		r.progress(told + (1-told)*0.2*float64(done)/float64(opt.Warmup))
	}
	told += (1 - told) * 0.2
	for round := 1; ; round++ {
		w.settle()
		// Progress leaves room for the rounds that may come.
		to := 1.0
		if round < opt.Rounds {
			to = told + (1-told)*0.7
		}
		out, err := w.keep(opt.Thin<<max(round-2, 0), func(share float64) { r.progress(told + (to-told)*share) })
		if err != nil {
			return nil, err
		}
		if round >= opt.Rounds || out.worst() <= Agreed {
			out.Rounds, out.Evaluations = round, int(r.evaluations.Load())
			r.progress(1)
			return out, nil
		}
		told = to
		for _, chain := range out.Chains {
			w.archive = append(w.archive, chain...)
		}
	}
}

// keep keeps draws of chains that step along what is frozen.
func (w *walk) keep(thin int, progress func(share float64)) (*Sampled, error) {
	chains, draws := len(w.at), w.opt.Draws
	out := &Sampled{Chains: make([][][]float64, chains), Likelihoods: make([][]float64, chains), Stages: w.stages, LogEvidence: w.evidence}
	for done := range draws {
		if err := w.advance(thin); err != nil {
			return nil, err
		}
		for c, s := range w.at {
			out.Chains[c] = append(out.Chains[c], append([]float64(nil), s.x...))
			out.Likelihoods[c] = append(out.Likelihoods[c], s.like)
		}
		progress(float64(done+1) / float64(draws))
	}
	out.Acceptance = float64(sum(w.moved)) / float64(chains*draws*thin)
	return out, nil
}

// worst is the greatest R-hat of all coordinates; 1 if there are too few draws to say.
func (s *Sampled) worst() float64 {
	worst := 1.0
	for i := range s.Chains[0][0] {
		if r := RHat(s.Coordinate(i)); r > worst {
			worst = r
		}
	}
	return worst
}

func sum(x []int) (s int) {
	for _, v := range x {
		s += v
	}
	return s
}
