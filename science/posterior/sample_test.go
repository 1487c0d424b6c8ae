package posterior_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"underlamp/science/posterior"
)

// normalPrior is a target with a normal prior of standard deviations sd about 0.
func normalPrior(sd ...float64) posterior.Target {
	return posterior.Target{
		Dim: len(sd),
		Prior: func(x []float64) float64 {
			s := 0.0
			for i, v := range x {
				s -= v * v / (2 * sd[i] * sd[i])
			}
			return s
		},
		Draw: func(x []float64, rng *rand.Rand) {
			for i := range x {
				x[i] = sd[i] * rng.NormFloat64()
			}
		},
	}
}

func always(f func(x []float64) float64) func() func([]float64) float64 {
	return func() func([]float64) float64 { return f }
}

func sample(t *testing.T, target posterior.Target, opt posterior.Options) *posterior.Sampled {
	t.Helper()
	s, err := posterior.Sample(context.Background(), target, opt)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// holds compares the mean of f over the draws with what it must be, within four of
// its Monte Carlo standard errors, and asks for sound diagnostics.
func holds(t *testing.T, s *posterior.Sampled, what string, f func(x []float64) float64, want float64) {
	t.Helper()
	chains := make([][]float64, len(s.Chains))
	mean, n := 0.0, 0
	for c, chain := range s.Chains {
		for _, x := range chain {
			v := f(x)
			chains[c] = append(chains[c], v)
			mean += v
			n++
		}
	}
	mean /= float64(n)
	se, ess, rhat := posterior.MeanMCSE(chains), posterior.BulkESS(chains), posterior.RHat(chains)
	t.Logf("%s: %.4f ± %.4f, want %.4f; R-hat %.4f, bulk ESS %.0f of %d", what, mean, se, want, rhat, ess, n)
	if math.Abs(mean-want) > 4*se {
		t.Errorf("%s: mean %.4f, want %.4f; Monte Carlo standard error %.4f", what, mean, want, se)
	}
	if rhat > 1.05 || ess < 100 {
		t.Errorf("%s: R-hat %.3f, bulk ESS %.0f", what, rhat, ess)
	}
}

// Conjugate normal mean with known variance: prior N(0, 2²), ten observations of mean
// 1.5 and standard deviation 1. Posterior precision 1/4 + 10. The evidence is
// that of the sufficient mean, N(1.5; 0, 4 + 0.1) (GelmanBDA2013, section 2.5).
func TestConjugateNormal(t *testing.T) {
	t.Parallel()
	target := normalPrior(2)
	target.Likelihood = always(func(x []float64) float64 {
		d := (1.5 - x[0]) / math.Sqrt(0.1)
		return -d*d/2 - math.Log(math.Sqrt(2*math.Pi*0.1))
	})
	s := sample(t, target, posterior.Options{Seed: 1, Draws: 1000})
	mean := 15 / 10.25
	holds(t, s, "mean", func(x []float64) float64 { return x[0] }, mean)
	holds(t, s, "variance", func(x []float64) float64 { return (x[0] - mean) * (x[0] - mean) }, 1/10.25)
	want := -1.5*1.5/(2*4.1) - math.Log(math.Sqrt(2*math.Pi*4.1))
	if math.Abs(s.LogEvidence-want) > 0.25 {
		t.Errorf("log evidence %.3f, want %.3f", s.LogEvidence, want)
	}
}

// A normal of eight coordinates, neighbours correlated by 0.95 (an autoregression),
// scales from 0.01 to 10. The prior is far wider.
func TestCorrelatedNormal(t *testing.T) {
	t.Parallel()
	const rho, dim = 0.95, 8
	scale := make([]float64, dim)
	for i := range scale {
		scale[i] = math.Pow(10, -2+3*float64(i)/(dim-1))
	}
	wide := make([]float64, dim)
	for i := range wide {
		wide[i] = 30 * scale[i]
	}
	target := normalPrior(wide...)
	prior := target.Prior
	target.Likelihood = always(func(x []float64) float64 {
		s := -prior(x)
		for i := range x {
			z := x[i]/scale[i] - 1
			if i == 0 {
				s -= z * z / 2
				continue
			}
			before := x[i-1]/scale[i-1] - 1
			e := (z - rho*before) / math.Sqrt(1-rho*rho)
			s -= e * e / 2
		}
		return s
	})
	s := sample(t, target, posterior.Options{Seed: 2, Draws: 1000, Thin: 2})
	z := func(x []float64, i int) float64 { return x[i]/scale[i] - 1 }
	for _, i := range []int{0, 3, 7} {
		holds(t, s, "mean", func(x []float64) float64 { return z(x, i) }, 0)
		holds(t, s, "variance", func(x []float64) float64 { return z(x, i) * z(x, i) }, 1)
	}
	holds(t, s, "covariance of neighbours", func(x []float64) float64 { return z(x, 3) * z(x, 4) }, rho)
	holds(t, s, "covariance of the ends", func(x []float64) float64 { return z(x, 0) * z(x, 7) }, math.Pow(rho, 7))
}

// A banana: x₁ normal of standard deviation 1, x₂ = x₁² − 1 + 0.3 z (Haario1999 bends a
// normal in the same way). E x₂ = 0, Var x₂ = 2 + 0.09, Cov(x₁², x₂) = 2.
func TestBanana(t *testing.T) {
	t.Parallel()
	target := normalPrior(3, 5)
	prior := target.Prior
	target.Likelihood = always(func(x []float64) float64 {
		e := (x[1] - x[0]*x[0] + 1) / 0.3
		return -x[0]*x[0]/2 - e*e/2 - prior(x)
	})
	s := sample(t, target, posterior.Options{Seed: 3, Draws: 1500, Thin: 4})
	holds(t, s, "x1", func(x []float64) float64 { return x[0] }, 0)
	holds(t, s, "x1²", func(x []float64) float64 { return x[0] * x[0] }, 1)
	holds(t, s, "x2", func(x []float64) float64 { return x[1] }, 0)
	holds(t, s, "x2²", func(x []float64) float64 { return x[1] * x[1] }, 2.09)
	holds(t, s, "x1² x2", func(x []float64) float64 { return x[0] * x[0] * x[1] }, 2)
}

// A mild funnel: v normal of standard deviation 1, three coordinates normal of
// standard deviation e^(v/2) (after Neal2003, whose v has a standard deviation of 3).
func TestMildFunnel(t *testing.T) {
	t.Parallel()
	target := normalPrior(2, 4, 4, 4)
	prior := target.Prior
	target.Likelihood = always(func(x []float64) float64 {
		s := -x[0]*x[0]/2 - prior(x)
		for _, v := range x[1:] {
			s -= v*v/(2*math.Exp(x[0])) + x[0]/2
		}
		return s
	})
	s := sample(t, target, posterior.Options{Seed: 4, Draws: 1500, Thin: 6})
	holds(t, s, "v", func(x []float64) float64 { return x[0] }, 0)
	holds(t, s, "v²", func(x []float64) float64 { return x[0] * x[0] }, 1)
	holds(t, s, "x²", func(x []float64) float64 { return x[1] * x[1] }, math.Exp(0.5))
}

// Two modes, 12 standard deviations apart, one of them three times the other: the
// tempering keeps both with their shares.
func TestTwoModes(t *testing.T) {
	t.Parallel()
	target := normalPrior(5, 5)
	prior := target.Prior
	target.Likelihood = always(func(x []float64) float64 {
		bump := func(c float64) float64 { return math.Exp(-((x[0]-c)*(x[0]-c) + x[1]*x[1]) / (2 * 0.25)) }
		return math.Log(0.25*bump(-3)+0.75*bump(3)+1e-300) - prior(x)
	})
	s := sample(t, target, posterior.Options{Seed: 5, Particles: 600, Draws: 1500, Thin: 4})
	holds(t, s, "share of the greater", func(x []float64) float64 {
		if x[0] > 0 {
			return 1
		}
		return 0
	}, 0.75)
}

// The same draws on one core and on many, and other draws from another seed.
func TestDeterministic(t *testing.T) {
	t.Parallel()
	target := normalPrior(1, 1)
	target.Likelihood = always(func(x []float64) float64 { return -8 * (x[0] - x[1]) * (x[0] - x[1]) })
	opt := posterior.Options{Seed: 6, Particles: 50, Warmup: 40, Draws: 30, Workers: 1}
	one := sample(t, target, opt)
	opt.Workers = 7
	if many := sample(t, target, opt); !reflect.DeepEqual(one, many) {
		t.Error("another number of workers gave other draws")
	}
	opt.Seed = 7
	if other := sample(t, target, opt); reflect.DeepEqual(one.Chains, other.Chains) {
		t.Error("another seed gave the same draws")
	}
}

// Without data the posterior is the prior.
func TestNoData(t *testing.T) {
	t.Parallel()
	target := normalPrior(1, 3)
	target.Likelihood = always(func([]float64) float64 { return 0 })
	s := sample(t, target, posterior.Options{Seed: 8})
	holds(t, s, "x²", func(x []float64) float64 { return x[0] * x[0] }, 1)
	holds(t, s, "y²", func(x []float64) float64 { return x[1] * x[1] }, 9)
	if s.LogEvidence != 0 || s.Stages != 1 {
		t.Errorf("log evidence %g in %d stages, want 0 in 1", s.LogEvidence, s.Stages)
	}
}

// Half of the prior is impossible, and a likelihood that is no number counts as 0.
func TestImpossible(t *testing.T) {
	t.Parallel()
	target := normalPrior(1)
	target.Likelihood = always(func(x []float64) float64 {
		if x[0] < 0 {
			return math.NaN()
		}
		return 0
	})
	s := sample(t, target, posterior.Options{Seed: 9, Draws: 1000})
	holds(t, s, "half-normal", func(x []float64) float64 { return x[0] }, math.Sqrt(2/math.Pi))
	target.Likelihood = always(func([]float64) float64 { return math.Inf(-1) })
	if _, err := posterior.Sample(context.Background(), target, posterior.Options{}); !errors.Is(err, posterior.ErrNowhere) {
		t.Errorf("error %v, want ErrNowhere", err)
	}
}

// Chains that have not agreed go on: a short run of the banana in one round does not
// settle, in up to eight it does, the same on any number of cores.
func TestRounds(t *testing.T) {
	t.Parallel()
	target := normalPrior(3, 5)
	prior := target.Prior
	target.Likelihood = always(func(x []float64) float64 {
		e := (x[1] - x[0]*x[0] + 1) / 0.3
		return -x[0]*x[0]/2 - e*e/2 - prior(x)
	})
	worst := func(s *posterior.Sampled) float64 {
		return max(posterior.RHat(s.Coordinate(0)), posterior.RHat(s.Coordinate(1)))
	}
	opt := posterior.Options{Seed: 3, Particles: 40, Warmup: 20, Draws: 100}
	one := sample(t, target, opt)
	opt.Rounds = 8
	more := sample(t, target, opt)
	opt.Workers = 3
	again := sample(t, target, opt)
	t.Logf("R-hat %.3f in %d round, %.3f in %d", worst(one), one.Rounds, worst(more), more.Rounds)
	if worst(one) <= posterior.Agreed || worst(more) > posterior.Agreed || more.Rounds < 2 || more.Evaluations <= one.Evaluations {
		t.Errorf("R-hat %.3f in %d round, %.3f in %d", worst(one), one.Rounds, worst(more), more.Rounds)
	}
	if !reflect.DeepEqual(more, again) {
		t.Error("another number of workers gave other draws")
	}
}

func TestCancel(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(context.Background())
	target := normalPrior(1)
	target.Likelihood = always(func([]float64) float64 { return 0 })
	last := 0.0
	opt := posterior.Options{Draws: 1 << 30, Progress: func(share float64) {
		if share < last {
			t.Errorf("progress fell from %g to %g", last, share)
		}
		last = share
		if share > 0 {
			cancel()
		}
	}}
	if _, err := posterior.Sample(ctx, target, opt); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want that of the context", err)
	}
}

// Simulation-based calibration (Talts2018): truths drawn from the prior, data from the
// truths; the rank of a truth among the draws of its posterior must be uniform. A
// mean and a logarithm of a standard deviation, five observations. The chi-square
// of ten bins must stay below its 99.9 % point, 27.9 (two coordinates).
func TestSimulationBasedCalibration(t *testing.T) {
	t.Parallel()
	trials, draws := 300, 99
	if testing.Short() {
		trials = 100
	}
	const bins = 10
	counts := [2][bins]float64{}
	for k := range trials {
		rng := rand.New(rand.NewPCG(uint64(k), 77))
		target := normalPrior(1, 0.5)
		truth := make([]float64, 2)
		target.Draw(truth, rng)
		data := make([]float64, 5)
		for i := range data {
			data[i] = truth[0] + math.Exp(truth[1])*rng.NormFloat64()
		}
		target.Likelihood = always(func(x []float64) float64 {
			s := 0.0
			for _, y := range data {
				d := (y - x[0]) * math.Exp(-x[1])
				s -= d*d/2 + x[1]
			}
			return s
		})
		// One chain each, thinned so that draws are nearly independent.
		s := sample(t, target, posterior.Options{Seed: uint64(k), Particles: 100, Chains: 1, Warmup: 100, Draws: draws, Thin: 12})
		for i := range counts {
			rank := 0
			for _, x := range s.Chains[0] {
				if x[i] < truth[i] {
					rank++
				}
			}
			counts[i][rank*bins/(draws+1)]++
		}
	}
	for i, c := range counts {
		chi := 0.0
		for _, n := range c {
			e := float64(trials) / bins
			chi += (n - e) * (n - e) / e
		}
		t.Logf("coordinate %d: ranks %v, chi-square %.1f on %d", i, c, chi, bins-1)
		if chi > 27.9 {
			t.Errorf("coordinate %d: ranks are not uniform: %v, chi-square %.1f", i, c, chi)
		}
	}
}

func BenchmarkSample8(b *testing.B) {
	target := normalPrior(1, 1, 1, 1, 1, 1, 1, 1)
	target.Likelihood = always(func(x []float64) float64 { return -50 * (x[0] - x[1]) * (x[0] - x[1]) })
	b.ReportAllocs()
	for b.Loop() {
		if _, err := posterior.Sample(context.Background(), target, posterior.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
