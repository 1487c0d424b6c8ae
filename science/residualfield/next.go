package residualfield

import "math"

// Narrowing returns the root mean square of the standard deviations of the
// targets as it is, and as it would be after one more reading at each candidate.
// What the reading would say does not matter for that:
//
//	var' = var − cov(target, candidate)² / (var(candidate) + noise²)
//
// The best candidate is the A-optimal next reading (ChalonerVerdinelli1995).
// noise has one standard deviation for each candidate. The kernels keep their
// weights, which one reading changes little.
func (f *Field) Narrowing(targets, candidates []Target, noise []float64) (before float64, after []float64) {
	if len(candidates) != len(noise) {
		panic("residualfield: Field.Narrowing: a noise for each candidate is needed")
	}
	after = make([]float64, len(candidates))
	if len(targets) == 0 {
		return 0, after
	}
	n := float64(len(targets))
	for _, sd := range f.SD(targets) {
		before += sd * sd / n
	}
	for i, p := range f.parts {
		known := make([][]float64, len(targets))
		for k, t := range targets {
			known[k] = p.known(t)
		}
		for c, q := range candidates {
			kq := p.known(q)
			v := p.cov(q, q) - dot(kq, kq) + noise[c]*noise[c]
			if !(v > 0) {
				continue
			}
			sum := 0.0
			for k, t := range targets {
				shared := p.cov(t, q) - dot(known[k], kq)
				sum += shared * shared
			}
			after[c] += f.weight[i] * sum / v / n
		}
	}
	for c := range after {
		after[c] = math.Sqrt(max(before-after[c], 0))
	}
	return math.Sqrt(before), after
}
