package spectrum

import (
	"math"
	"sort"

	"underlamp/science/energycost"
)

// perJoule is h c N_A in µmol⁻¹ J nm: photons of λ nm carry perJoule/λ J/µmol.
// BIPM2019: 119.6265658.
const perJoule = energycost.PhotonEnergyConstant * 1e3

// toBasis is the factor that turns an amount at a wavelength from one basis into
// another: photons = energy · λ/119.627.
func toBasis(from, to Basis, nm float64) float64 {
	switch {
	case from == to:
		return 1
	case to == Photons:
		return nm / perJoule
	default:
		return perJoule / nm
	}
}

// at is the value of a curve at a wavelength, 0 outside of it.
func (c curve) at(nm float64) float64 {
	last := len(c.nm) - 1
	if !(nm >= c.nm[0] && nm <= c.nm[last]) {
		return 0
	}
	i := min(sort.Search(last, func(k int) bool { return c.nm[k+1] > nm }), last-1)
	return c.times * line(c.nm[i], c.v[i], c.nm[i+1], c.v[i+1], nm)
}

func line(x0, y0, x1, y1, x float64) float64 { return y0 + (y1-y0)*(x-x0)/(x1-x0) }

// A table weighs wavelengths: rows joined by straight lines, 0 outside.
type table struct{ nm, w []float64 }

// integral sums the spectrum, turned into a basis and weighed by a table (nil
// weighs all alike), between two wavelengths.
func (s Spectrum) integral(from, to float64, b Basis, w *table) float64 {
	sum := 0.0
	for _, c := range s.curves {
		sum += c.integral(from, to, b, w)
	}
	return sum
}

// longestStep bounds a step of integration in nm. Within a step the integrand is
// a product of at most three straight lines, for which Simpson's rule is exact,
// or holds 1/λ, whose error over 10 nm is below 10⁻⁷ from 300 nm on.
const longestStep = 10

func (c curve) integral(from, to float64, b Basis, w *table) float64 {
	last := len(c.nm) - 1
	from, to = math.Max(from, c.nm[0]), math.Min(to, c.nm[last])
	if w != nil {
		from, to = math.Max(from, w.nm[0]), math.Min(to, w.nm[len(w.nm)-1])
	}
	if !(from < to) {
		return 0
	}
	i := min(sort.Search(last, func(k int) bool { return c.nm[k+1] > from }), last-1)
	j := 0
	if w != nil {
		j = min(sort.Search(len(w.nm)-1, func(k int) bool { return w.nm[k+1] > from }), len(w.nm)-2)
	}
	f := func(x float64) float64 {
		y := line(c.nm[i], c.v[i], c.nm[i+1], c.v[i+1], x)
		if c.basis != b {
			y *= toBasis(c.basis, b, x)
		}
		if w != nil {
			y *= line(w.nm[j], w.w[j], w.nm[j+1], w.w[j+1], x)
		}
		return y
	}
	sum := 0.0
	for x := from; x < to; {
		next := math.Min(math.Min(c.nm[i+1], to), x+longestStep)
		if w != nil {
			next = math.Min(next, w.nm[j+1])
		}
		// Simpson's rule.
		sum += (next - x) / 6 * (f(x) + 4*f((x+next)/2) + f(next))
		x = next
		if x >= c.nm[i+1] && i < last-1 {
			i++
		}
		if w != nil && x >= w.nm[j+1] && j < len(w.nm)-2 {
			j++
		}
	}
	return c.times * sum
}
