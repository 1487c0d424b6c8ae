package headlearn

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"underlamp/science/posterior"
)

// Learn finds what the evidence says about the traits. An empty evidence gives the
// prior. The answer depends on the evidence, the prior and the seed alone, not on
// the number of cores.
//
// Learn returns an error that names the cycle and plant if a datum cannot be, and
// the error of ctx if that ends first.
func Learn(ctx context.Context, ev Evidence, prior Prior, opt Options) (*Posterior, error) {
	m, err := compile(ev, prior)
	if err != nil {
		return nil, err
	}
	if opt.Draws <= 0 {
		opt.Draws = 2000
	}
	p := &Posterior{Learned: Learned{frame: m.frame}, evidence: m, seed: opt.Seed}
	dim := len(m.active)
	if m.weighed {
		dim++
	}
	if dim == 0 {
		p.draws = p.fromPrior(opt.Draws, nil)
		p.Sampling = Sampling{RHat: 1, BulkESS: float64(opt.Draws), TailESS: float64(opt.Draws), Acceptance: 1, Chains: 1, DrawsPerChain: opt.Draws, Good: true}
		p.summarise(nil)
		if opt.Progress != nil {
			opt.Progress(1)
		}
		return p, nil
	}
	const chains, thin = 8, 6
	sampled, err := posterior.Sample(ctx, m.target(dim), posterior.Options{
		Seed: opt.Seed, Chains: chains, Draws: (opt.Draws + chains - 1) / chains, Thin: thin,
		Particles: 240, Warmup: 300, Workers: opt.workers, Progress: opt.Progress,
	})
	if err != nil {
		return nil, fmt.Errorf("headlearn: %w", err)
	}
	p.draws = p.fromPrior(0, sampled.Draws())
	p.Sampling = Sampling{
		RHat: 1, BulkESS: math.Inf(1), TailESS: math.Inf(1), Acceptance: sampled.Acceptance, Evaluations: sampled.Evaluations,
		Chains: chains, DrawsPerChain: len(sampled.Chains[0]),
	}
	p.summarise(sampled)
	if err := p.judge(ctx); err != nil {
		return nil, err
	}
	return p, nil
}

// farthest is how far a parameter may go, in standard deviations of its prior.
const farthest = 5

// target is the posterior in coordinates of standard deviations of the prior.
func (m *model) target(dim int) posterior.Target {
	return posterior.Target{
		Dim: dim,
		Prior: func(x []float64) float64 {
			s := 0.0
			for _, z := range x {
				if math.Abs(z) > farthest {
					return math.Inf(-1)
				}
				s -= z * z / 2
			}
			return s
		},
		Draw: func(x []float64, rng *rand.Rand) {
			for i := range x {
				x[i] = min(max(rng.NormFloat64(), -farthest), farthest)
			}
		},
		Likelihood: func() func([]float64) float64 {
			w := m.worker()
			p := point{logs: make([]float64, len(m.axes))}
			return func(x []float64) float64 {
				m.place(x, &p)
				return w.logLikelihood(p)
			}
		},
	}
}

// place turns coordinates into a point.
func (m *model) place(x []float64, p *point) {
	for i, k := range m.active {
		p.logs[k] = x[i] * m.axes[k].sd
	}
	if len(x) > len(m.active) {
		p.spread = x[len(m.active)] * plantSpreadSD
	}
}

// fromPrior turns draws of the sampler into draws of all parameters: those that the
// evidence does not speak of are drawn from the prior.
func (p *Posterior) fromPrior(n int, sampled [][]float64) [][]float64 {
	m := p.evidence
	n = max(n, len(sampled))
	rng := rand.New(rand.NewPCG(p.seed, 0x70_72_69_6f_72))
	out := make([][]float64, n)
	for d := range out {
		x := make([]float64, len(m.axes)+1)
		for k := range m.axes {
			x[k] = rng.NormFloat64() * m.axes[k].sd
		}
		x[len(m.axes)] = rng.NormFloat64() * plantSpreadSD
		if sampled != nil {
			at := point{logs: x[:len(m.axes)], spread: x[len(m.axes)]}
			m.place(sampled[d], &at)
			x[len(m.axes)] = at.spread
		}
		out[d] = x
	}
	return out
}

// quantity tells draws by a few numbers.
func quantity(draws []float64) Quantity {
	s := slices.Clone(draws)
	slices.Sort(s)
	mean, sd := meanSD(s)
	return Quantity{
		Mean: mean, SD: sd,
		Q05: posterior.Quantile(s, 0.05), Q25: posterior.Quantile(s, 0.25), Q50: posterior.Quantile(s, 0.5),
		Q75: posterior.Quantile(s, 0.75), Q95: posterior.Quantile(s, 0.95),
	}
}

func meanSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	return mean, math.Sqrt(sd)
}

// logNormal is the quantity of a factor whose logarithm is normal about 0.
func logNormal(sd float64) Quantity {
	at := func(z float64) float64 { return math.Exp(sd * z) }
	const z75, z95 = 0.6744897501960817, 1.6448536269514722
	mean := math.Exp(sd * sd / 2)
	return Quantity{
		Mean: mean, SD: mean * math.Sqrt(math.Expm1(sd*sd)),
		Q05: at(-z95), Q25: at(-z75), Q50: 1, Q75: at(z75), Q95: at(z95),
	}
}

// summarise fills the parameters from the draws; sampled is nil if nothing was
// sampled.
func (p *Posterior) summarise(sampled *posterior.Sampled) {
	m := p.evidence
	n := len(m.axes) + 1
	columns := make([][]float64, n)
	for k := range columns {
		for _, d := range p.draws {
			columns[k] = append(columns[k], d[k])
		}
	}
	coordinate := map[int]int{} // of an axis among the sampled
	for i, k := range m.active {
		coordinate[k] = i
	}
	if m.weighed {
		coordinate[len(m.axes)] = len(m.active)
	}
	for k, column := range columns {
		param := Parameter{Key: plantSpreadKey, Name: "spread between plants", PriorLogSD: plantSpreadSD}
		if k < len(m.axes) {
			a := m.axes[k]
			param = Parameter{Key: a.key, Name: a.name, PriorLogSD: a.sd}
			for _, i := range a.traits {
				param.Traits = append(param.Traits, m.traits[i].Name)
			}
		}
		param.Prior = logNormal(param.PriorLogSD)
		i, seen := coordinate[k]
		if !seen || sampled == nil {
			param.Posterior, param.LogSD = param.Prior, param.PriorLogSD
			param.RHat, param.BulkESS, param.TailESS = 1, float64(len(p.draws)), float64(len(p.draws))
			param.MCSE = 0
			p.Parameters = append(p.Parameters, param)
			continue
		}
		factors := make([]float64, len(column))
		for j, v := range column {
			factors[j] = math.Exp(v)
		}
		param.Posterior = quantity(factors)
		param.LogMean, param.LogSD = meanSD(column)
		chains := sampled.Coordinate(i)
		param.RHat, param.BulkESS, param.TailESS = posterior.RHat(chains), posterior.BulkESS(chains), posterior.TailESS(chains)
		param.MCSE = posterior.MeanMCSE(chains) * param.PriorLogSD
		param.Shrinkage = 1 - param.LogSD/param.PriorLogSD
		// The standard deviation of n draws is known to 1/√(2n) of itself.
		param.Learned = param.Shrinkage > max(0.1, 3/math.Sqrt(2*param.BulkESS))
		p.Sampling.RHat = max(p.Sampling.RHat, param.RHat)
		p.Sampling.BulkESS = min(p.Sampling.BulkESS, param.BulkESS)
		p.Sampling.TailESS = min(p.Sampling.TailESS, param.TailESS)
		p.Parameters = append(p.Parameters, param)
	}
	if sampled != nil {
		s := &p.Sampling
		s.Good = s.RHat < 1.02 && s.BulkESS >= 400 && s.TailESS >= 300
		if !s.Good {
			p.Warnings = append(p.Warnings, fmt.Sprintf("The draws do not agree well enough (R-hat %.3f, effective draws %.0f in the middle, %.0f in the tails): take the bands as rough, or learn again with more draws.", s.RHat, s.BulkESS, s.TailESS))
		}
	}
	p.Correlation = make([][]float64, n)
	for a := range n {
		p.Correlation[a] = make([]float64, n)
		for b := range n {
			p.Correlation[a][b] = correlation(columns[a], columns[b])
		}
		p.Correlation[a][a] = 1
	}
}

func correlation(a, b []float64) float64 {
	ma, sa := meanSD(a)
	mb, sb := meanSD(b)
	if sa == 0 || sb == 0 {
		return 0
	}
	s := 0.0
	for i := range a {
		s += (a[i] - ma) * (b[i] - mb) / float64(len(a)-1)
	}
	return s / sa / sb
}
