package light

import "math"

// FluxSD is the relative standard deviation of the photon flux of lamp i that
// labels and readings leave open.
func (m *Model) FluxSD(i int) float64 {
	group := priorOf(m.bench).Group[i]
	for k, g := range m.fit.Groups {
		if g == group {
			return math.Sqrt(m.fit.Cov.At(k, k)) // the flux factors come first among the parameters
		}
	}
	return 0
}
