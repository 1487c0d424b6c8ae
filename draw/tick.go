package draw

import (
	"math"

	"underlamp/science/quantity"
)

// ticks returns round numbers within lo and hi, both included: multiples of 1,
// 2 or 5 times a power of ten, with the smallest step that gives no more than
// most numbers (most at least 2), and the decimals that print them exactly. If
// lo and hi are no numbers, or lo > hi, there are none.
func ticks(lo, hi float64, most int) (at []float64, decimals int) {
	if !finite(lo) || !finite(hi) || !finite(hi-lo) || lo > hi {
		return nil, 0
	}
	most = max(most, 2)
	s := stepFor(hi-lo, math.Max(math.Abs(lo), math.Abs(hi)), most)
	for {
		first, last := s.index(lo, math.Ceil, -1), s.index(hi, math.Floor, +1)
		if last-first < float64(most) {
			for i := first; i <= last; i++ {
				at = append(at, s.at(i))
			}
			return at, max(0, -s.power)
		}
		s = s.next()
	}
}

// Bands returns round limits that cover lo to hi in at most the number of bands given
// (at least 2), ascending, and the decimals that print them: those of the maps of this
// package, for who draws by other means. Equal lo and hi give one band; what is not
// finite gives none.
func Bands(lo, hi float64, most int) (limits []float64, decimals int) { return bands(lo, hi, most) }

// bands returns round limits that cover lo to hi in at most the number of bands
// given (at least 2), ascending, and their decimals. Equal lo and hi give one
// band.
func bands(lo, hi float64, most int) (at []float64, decimals int) {
	if !finite(lo) || !finite(hi) || !finite(hi-lo) || lo > hi {
		return nil, 0
	}
	most = max(most, 2)
	s := stepFor(hi-lo, math.Max(math.Abs(lo), math.Abs(hi)), most)
	for {
		first, last := s.index(lo, math.Floor, +1), s.index(hi, math.Ceil, -1)
		if last == first {
			last++
		}
		if last-first <= float64(most) {
			for i := first; i <= last; i++ {
				at = append(at, s.at(i))
			}
			return at, max(0, -s.power)
		}
		s = s.next()
	}
}

// A step is mantissa · 10^power, with mantissa 1, 2 or 5.
type step struct {
	mantissa float64
	power    int
}

// stepFor is a step that is certainly not too large for n numbers in a span.
// A span that is nothing against the size of its numbers counts as a share of
// them, so that a step always changes the number.
func stepFor(span, size float64, n int) step {
	span = math.Max(span, size*1e-9)
	if span == 0 {
		span = 1
	}
	power := int(math.Floor(math.Log10(span / float64(n+1))))
	return step{1, max(power, -300)}
}

func (s step) next() step {
	switch s.mantissa {
	case 1:
		s.mantissa = 2
	case 2:
		s.mantissa = 5
	default:
		s = step{1, s.power + 1}
	}
	return s
}

// at is the i-th multiple. Dividing by a power of ten keeps 3 · 0.1 at 0.3.
func (s step) at(i float64) float64 {
	if s.power < 0 {
		return i * s.mantissa / math.Pow10(-s.power)
	}
	return i * s.mantissa * math.Pow10(s.power)
}

// index is v in steps, rounded; what lies within 10⁻⁹ steps of a multiple
// counts as that multiple.
func (s step) index(v float64, round func(float64) float64, side float64) float64 {
	x := v / s.mantissa / math.Pow10(s.power)
	return round(x + side*1e-9)
}

// A ruler measures a bench: the unit that lengths are printed in, and its size.
type ruler struct {
	unit  string
	metre float64   // size of the unit in m
	steps []float64 // steps a person expects, in units, ascending
	bar   float64   // length of the scale bar, in units
}

// newRuler gives centimetres, or inches. The sizes come from package quantity.
func newRuler(sys quantity.System) ruler {
	r := ruler{unit: "cm", steps: []float64{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000}, bar: 10}
	if sys == quantity.US {
		r = ruler{unit: "in", steps: []float64{1, 2, 3, 6, 12, 24, 48, 120, 240, 600, 1200}, bar: 4}
	}
	m, err := quantity.Length.Parse("1 " + r.unit)
	if err != nil {
		panic("draw: ruler: " + err.Error())
	}
	r.metre = m
	return r
}

// ticks returns the places of ticks from 0 to a length, in m, with their labels.
// They cut the length into at most the number of parts given, unless it is
// beyond the largest step.
func (r ruler) ticks(length float64, most int) (at []float64, labels []string) {
	if !finite(length) || length <= 0 {
		return nil, nil
	}
	s := r.steps[len(r.steps)-1]
	for _, try := range r.steps {
		if length/r.metre/try <= float64(most)*(1+1e-9) {
			s = try
			break
		}
	}
	for i := 0.0; i < 100 && i*s*r.metre <= length*(1+1e-9); i++ {
		at = append(at, i*s*r.metre)
		labels = append(labels, quantity.Fixed(i*s, 0))
	}
	return at, labels
}

// print prints a length in the ruler's unit with the unit.
func (r ruler) print(m float64) string {
	if !finite(m) {
		return missing
	}
	return quantity.Number(m/r.metre, 3) + " " + r.unit
}
