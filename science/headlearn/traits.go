package headlearn

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/headcycle"
)

// Learned is knowledge of a cultivar in a room, of which traits can be drawn.
type Learned struct {
	frame frame
	draws [][]float64 // ln factors of the axes, then of the spread of plants

	// From a summary: normal with this mean and factor of the covariance.
	mean   []float64
	factor *mat.TriDense
}

// Traits draws n plants of one coming crop each: what was learnt, a cycle of its
// own, and a plant within it. They take the place of headcycle.Spread.Draws; the
// same seed gives the same plants.
func (l *Learned) Traits(n int, seed uint64) []headcycle.Traits {
	rng := rand.New(rand.NewPCG(seed, 0x6c_65_61_72_6e))
	out := make([]headcycle.Traits, n)
	var order []int
	for i := range out {
		if len(l.draws) > 0 && i%len(l.draws) == 0 {
			order = rng.Perm(len(l.draws))
		}
		out[i] = l.plant(l.draw(order, i, rng), rng)
	}
	return out
}

// draw is one draw of the ln factors.
func (l *Learned) draw(order []int, i int, rng *rand.Rand) []float64 {
	if len(l.draws) > 0 {
		return l.draws[order[i%len(order)]]
	}
	z := make([]float64, len(l.mean))
	x := slices.Clone(l.mean)
	for j := range z {
		z[j] = bounded(rng)
	}
	for j := range x {
		for k := range j + 1 {
			x[j] += l.factor.At(j, k) * z[k]
		}
	}
	return x
}

// bounded is a standard normal number within three standard deviations, as those of
// headcycle.Spread.Draw are.
func bounded(rng *rand.Rand) float64 { return min(max(rng.NormFloat64(), -3), 3) }

// spreadOfMass are the traits whose spread within a crop the spread of plants scales.
var spreadOfMass = []string{"Vigour", "AreaScale", "DryShare"}

// plant draws one plant at ln factors of the axes.
func (l *Learned) plant(x []float64, rng *rand.Rand) headcycle.Traits {
	f := &l.frame
	t := f.central
	logs := make([]float64, len(f.traits))
	for i := range logs {
		logs[i] = f.kept[i] * bounded(rng)
	}
	// Conditional on the factors of the groups: what the draw of the prior has of a
	// factor is replaced, what is across it stays.
	for k, a := range f.axes {
		has := 0.0
		for j, m := range a.members {
			has += m.weight * logs[a.traits[j]]
		}
		for j := range a.members {
			logs[a.traits[j]] += a.shift[j] * (x[k] - has)
		}
	}
	spread := spreadFactor(x[len(f.axes)])
	for i, trait := range f.traits {
		within := f.within[i]
		if slices.Contains(spreadOfMass, trait.Name) {
			within *= spread
		}
		trait.Multiply(&t, math.Exp(logs[i]+f.cycle[i]*bounded(rng)+within*bounded(rng)))
	}
	return t
}

// A Summary is a posterior in a few numbers, to be kept in a file. The draws that
// come from it are normal in the logarithms of the factors.
type Summary struct {
	Method     int         // version of the method and its parameters
	Keys       []string    // of the parameters, see Parameter.Key
	Mean       []float64   // of the logarithms of the factors
	Covariance [][]float64 // of the same
	PriorSD    []float64   // of the same, before any evidence
	Cycles     int
	Plants     int
	Data       int // single observations
	Seed       uint64
}

// Summary returns the posterior in a few numbers.
func (p *Posterior) Summary() Summary {
	s := Summary{Method: Method, Cycles: len(p.evidence.cycles), Plants: p.evidence.plants, Data: p.evidence.data, Seed: p.seed}
	for a, pa := range p.Parameters {
		s.Keys = append(s.Keys, pa.Key)
		s.Mean = append(s.Mean, pa.LogMean)
		s.PriorSD = append(s.PriorSD, pa.PriorLogSD)
		row := make([]float64, len(p.Parameters))
		for b, pb := range p.Parameters {
			row[b] = p.Correlation[a][b] * pa.LogSD * pb.LogSD
		}
		s.Covariance = append(s.Covariance, row)
	}
	return s
}

// FromSummary returns the knowledge that a summary kept. The prior gives the
// central traits and what no evidence speaks of.
//
// It returns an error if the summary is of another method, is not complete, or its
// covariance is none.
func FromSummary(s Summary, prior Prior) (*Learned, error) {
	f := newFrame(prior)
	var keys []string
	for _, a := range f.axes {
		keys = append(keys, a.key)
	}
	keys = append(keys, plantSpreadKey)
	if s.Method != Method {
		return nil, fmt.Errorf("what was learnt is of method %d, this program has method %d: learn again from the cycles", s.Method, Method)
	}
	if !slices.Equal(s.Keys, keys) {
		return nil, fmt.Errorf("what was learnt has the parameters %v, this program has %v: learn again from the cycles", s.Keys, keys)
	}
	n := len(keys)
	if len(s.Mean) != n || len(s.Covariance) != n {
		return nil, fmt.Errorf("what was learnt has %d means and %d rows of covariance for %d parameters", len(s.Mean), len(s.Covariance), n)
	}
	cov := mat.NewSymDense(n, nil)
	for i, row := range s.Covariance {
		if len(row) != n || !finite(row...) || !finite(s.Mean[i]) || math.Abs(s.Mean[i]) > 10 {
			return nil, fmt.Errorf("the mean or the covariance of %s is no number, or beyond any crop", keys[i])
		}
		for j := range i + 1 {
			if d := math.Abs(row[j] - s.Covariance[j][i]); d > 1e-6*(math.Abs(row[j])+1e-6) {
				return nil, fmt.Errorf("the covariances of %s and %s differ", keys[i], keys[j])
			}
			cov.SetSym(i, j, row[j])
		}
		if row[i] < 0 || row[i] > 10 {
			return nil, fmt.Errorf("the variance of %s is %g; it must lie between 0 and 10", keys[i], row[i])
		}
		cov.SetSym(i, i, row[i]+1e-12) // digits that a file cut off
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		return nil, fmt.Errorf("the covariance of what was learnt is none: it has a direction of variance below 0")
	}
	l := &Learned{frame: f, mean: slices.Clone(s.Mean), factor: mat.NewTriDense(n, mat.Lower, nil)}
	chol.LTo(l.factor)
	return l, nil
}
