package validation

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"underlamp/science/posterior"
	"underlamp/science/sensitivity"
)

// Learning checks what learning from a grower's cycles stands on: the diagnostics of
// draws, draws of known distributions, shares of variance with known answers.
func Learning() []Check {
	const area = "learning"
	var out []Check

	// Four chains by formula, of a common drift, so that other code makes the same ones.
	chains := make([][]float64, 4)
	for c := range chains {
		s := 0.0
		for i := range 120 {
			f := float64((i+1)*(i+2))*(math.Sqrt(5)-1)/2*float64(c+1) + float64(c)*0.37
			s = 0.8*s + f - math.Floor(f) - 0.5
			chains[c] = append(chains[c], s+float64(c)*0.05)
		}
	}
	diagnostic := func(name string, got, want float64) {
		c := near(area, name, "Vehtari2021", Independent, "", got, want, 1e-8*want)
		c.Note = "four chains of 120 draws by formula; package posterior 1.4.0 of R 4.2.2"
		out = append(out, c)
	}
	diagnostic("draws: rank-normalised split R-hat", posterior.RHat(chains), 1.07083146398027)
	diagnostic("draws: bulk effective sample size", posterior.BulkESS(chains), 62.0776457193691)
	diagnostic("draws: tail effective sample size", posterior.TailESS(chains), 127.794724679337)
	diagnostic("draws: Monte Carlo standard error of the mean", posterior.MeanMCSE(chains), 0.0607814872366284)
	diagnostic("draws: Monte Carlo standard error of the 10 % quantile", posterior.QuantileMCSE(chains, 0.1), 0.0391144533157062)

	out = append(out, conjugate(area)...)
	return append(out, shares(area)...)
}

// conjugate draws the mean of a normal whose posterior is known.
func conjugate(area string) []Check {
	target := posterior.Target{
		Dim:   1,
		Prior: func(x []float64) float64 { return -x[0] * x[0] / 8 },
		Draw:  func(x []float64, rng *rand.Rand) { x[0] = 2 * rng.NormFloat64() },
		Likelihood: func() func([]float64) float64 {
			return func(x []float64) float64 { return -5 * (1.5 - x[0]) * (1.5 - x[0]) }
		},
	}
	s, err := posterior.Sample(context.Background(), target, posterior.Options{Seed: 1, Draws: 1000})
	if err != nil {
		panic("validation: Learning: " + err.Error())
	}
	mean, precision := 15/10.25, 10.25
	chains := s.Coordinate(0)
	squares := make([][]float64, len(chains))
	var m, v float64
	for c, chain := range chains {
		for _, x := range chain {
			m += x / float64(len(chains)*len(chain))
			squares[c] = append(squares[c], (x-mean)*(x-mean))
			v += (x - mean) * (x - mean) / float64(len(chains)*len(chain))
		}
	}
	const note = "prior N(0, 2²), ten values of mean 1.5 and standard deviation 1; 8 000 draws, within four Monte Carlo standard errors"
	a := near(area, "sampler: mean of a conjugate normal", "GelmanBDA2013", Published, "", m, mean, 4*posterior.MeanMCSE(chains))
	b := near(area, "sampler: variance of a conjugate normal", "GelmanBDA2013", Published, "", v, 1/precision, 4*posterior.MeanMCSE(squares))
	a.Note, b.Note = note, note
	return []Check{a, b}
}

// shares holds the shares of variance of two functions against their formulas.
func shares(area string) []Check {
	const n = 4000
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([][]float64, 3)
	for i := range x {
		for range n {
			x[i] = append(x[i], rng.Float64())
		}
	}
	const a, b = 7.0, 0.1
	p4 := math.Pow(math.Pi, 4)
	g := []float64{0, 1, 4.5}
	sine, product := make([]float64, n), make([]float64, n)
	for j := range n {
		at := func(i int) float64 { return math.Pi * (2*x[i][j] - 1) }
		sine[j] = math.Sin(at(0)) + a*math.Pow(math.Sin(at(1)), 2) + b*math.Pow(at(2), 4)*math.Sin(at(0))
		product[j] = 1
		for i, c := range g {
			product[j] *= (math.Abs(4*x[i][j]-2) + c) / (1 + c)
		}
	}
	var out []Check
	add := func(name, function, source string, got sensitivity.Share, want float64) {
		// Four standard errors, and what cosines above the eighth hold.
		c := near(area, name, source, Published, "", got.First, want, 4*got.SE+0.005)
		c.Note = fmt.Sprintf("%s; %d draws, within four standard errors of %.3f", function, n, got.SE)
		out = append(out, c)
	}
	total := a*a/8 + b*p4/5 + b*b*p4*p4/18 + 0.5
	want := []float64{math.Pow(1+b*p4/5, 2) / 2 / total, a * a / 8 / total, 0}
	for i, s := range sensitivity.Shares(x, sine) {
		add(fmt.Sprintf("shares: input %d of the sine function", i+1), "sin x₁ + 7 sin² x₂ + 0.1 x₃⁴ sin x₁", "IshigamiHomma1990", s, want[i])
	}
	total = 1
	for _, c := range g {
		total *= 1 + 1/(3*(1+c)*(1+c))
	}
	for i, s := range sensitivity.Shares(x, product) {
		add(fmt.Sprintf("shares: input %d of the g-function", i+1), "Π (|4 x − 2| + a)/(1 + a), a = 0, 1, 4.5", "Saltelli2008", s, 1/(3*(1+g[i])*(1+g[i]))/(total-1))
	}
	return out
}
