package lightfield

import "math"

// A powers raises numbers to one fixed exponent that is not whole. Beam
// exponents seldom are, and the inner loop has no time for exp and log: the
// mantissa's power is interpolated in a table, that of the power of two is
// looked up. The relative error stays below 1.2·10⁻⁷, that of the chord of x^f
// over a step of 1/512: f(1−f)/8 · 512⁻².
type powers struct {
	whole    int     // of the exponent
	fraction float64 // of the exponent, 0 to 1
	mantissa [mantissaSteps + 1]float64
	binary   [2 * binaryReach]float64
}

const (
	mantissaBits  = 9
	mantissaSteps = 1 << mantissaBits
	binaryReach   = 64 // numbers from 2⁻⁶⁴ to 2⁶⁴ go through the table
)

func newPowers(exponent float64) *powers {
	p := &powers{whole: int(exponent), fraction: exponent - math.Trunc(exponent)}
	for i := range p.mantissa {
		p.mantissa[i] = math.Pow(1+float64(i)/mantissaSteps, p.fraction)
	}
	for i := range p.binary {
		p.binary[i] = math.Exp2(float64(i-binaryReach) * p.fraction)
	}
	return p
}

// of returns x to the exponent; x must be above 0.
func (p *powers) of(x float64) float64 {
	bits := math.Float64bits(x)
	e := int(bits>>52) - 1023 + binaryReach
	if uint(e) >= uint(len(p.binary)) || p.whole > 24 {
		return math.Pow(x, float64(p.whole)+p.fraction)
	}
	// The bits after the exponent: first the index, then the way to the next entry.
	i := int(bits>>(52-mantissaBits)) & (mantissaSteps - 1)
	t := float64(bits&(1<<(52-mantissaBits)-1)) * (1.0 / (1 << (52 - mantissaBits)))
	m := &p.mantissa
	v := (m[i] + t*(m[i+1]-m[i])) * p.binary[e]
	for range p.whole {
		v *= x
	}
	return v
}
