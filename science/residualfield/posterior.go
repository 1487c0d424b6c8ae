package residualfield

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Data is what the readings say and what was known before. All series have one
// element a reading; P is the number of parameters, which may be 0.
type Data struct {
	Places []Place
	Value  []float64   // y, ln(reading/model at parameters 0)
	Noise  []float64   // standard deviation that decides how much the reading pulls
	Spread []float64   // standard deviation that decides how much it narrows; nil means Noise
	Slope  [][]float64 // ∂y/∂parameter, P each
	Prior  []float64   // standard deviation of each parameter about 0, P elements
}

func (d Data) check() {
	n := len(d.Places)
	if len(d.Value) != n || len(d.Noise) != n || (d.Spread != nil && len(d.Spread) != n) || len(d.Slope) != n && len(d.Prior) > 0 {
		panic("residualfield: Data: series of different length")
	}
	for i := range d.Slope {
		if len(d.Slope[i]) != len(d.Prior) {
			panic("residualfield: Data: a slope for each parameter is needed")
		}
	}
}

// pick keeps the readings of the given indices.
func (d Data) pick(index []int) Data {
	out := Data{Prior: d.Prior}
	for _, i := range index {
		out.Places = append(out.Places, d.Places[i])
		out.Value = append(out.Value, d.Value[i])
		out.Noise = append(out.Noise, d.Noise[i])
		if d.Slope != nil {
			out.Slope = append(out.Slope, d.Slope[i])
		}
		if d.Spread != nil {
			out.Spread = append(out.Spread, d.Spread[i])
		}
	}
	return out
}

// A Target is a value that is asked for: slope·parameters + field at the place.
// Slope may be nil for the field alone.
type Target struct {
	Place Place
	Slope []float64
}

// A Posterior is parameters and field after the readings, for one kernel.
type Posterior struct {
	LogMarginal float64 // ln p(y) of RasmussenWilliams2006, equation 2.30

	kernel Kernel
	data   Data
	alpha  []float64 // C⁻¹ y
	lower  *mat.TriDense
}

// errSingular says that two readings without error contradict or repeat.
var errSingular = errors.New("the readings cannot be told apart: two of one place without error of their own")

// Condition finds field and parameters from the readings.
//
//	C = S P Sᵀ + K + N,  α = C⁻¹ y,  ln p(y) = −½ yᵀα − Σ ln Lᵢᵢ − n/2 ln 2π
//
// (RasmussenWilliams2006, algorithm 2.1 with section 2.7.) Values that are not
// finite, and readings that make C singular, come back as an error.
func Condition(k Kernel, d Data) (*Posterior, error) {
	d.check()
	p := &Posterior{kernel: k, data: d}
	n := len(d.Places)
	for i, v := range d.Value {
		if math.IsNaN(v) || math.IsInf(v, 0) || !(d.Noise[i] >= 0) {
			return nil, fmt.Errorf("value %d is %v with a spread of %v; both must be finite", i+1, v, d.Noise[i])
		}
	}
	if n == 0 {
		return p, nil
	}
	cov := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			cov.SetSym(i, j, p.cov(p.reading(i), p.reading(j)))
		}
	}
	chol, ok := factorise(cov, d.Noise)
	if !ok {
		return nil, errSingular
	}
	var alpha mat.VecDense
	y := mat.NewVecDense(n, d.Value)
	if err := chol.SolveVecTo(&alpha, y); err != nil {
		if _, near := err.(mat.Condition); !near {
			return nil, err
		}
	}
	p.alpha = alpha.RawVector().Data
	p.LogMarginal = -0.5*mat.Dot(y, &alpha) - 0.5*chol.LogDet() - 0.5*float64(n)*math.Log(2*math.Pi)
	if d.Spread != nil {
		if chol, ok = factorise(cov, d.Spread); !ok {
			return nil, errSingular
		}
	}
	p.lower = mat.NewTriDense(n, mat.Lower, nil)
	chol.LTo(p.lower)
	return p, nil
}

func factorise(cov *mat.SymDense, sd []float64) (*mat.Cholesky, bool) {
	n := cov.SymmetricDim()
	c := mat.NewSymDense(n, nil)
	c.CopySym(cov)
	for i, s := range sd {
		c.SetSym(i, i, c.At(i, i)+s*s)
	}
	var chol mat.Cholesky
	return &chol, chol.Factorize(c)
}

func (p *Posterior) reading(i int) Target {
	t := Target{Place: p.data.Places[i]}
	if len(p.data.Prior) > 0 {
		t.Slope = p.data.Slope[i]
	}
	return t
}

// cov is the covariance before the readings of two targets.
func (p *Posterior) cov(a, b Target) float64 {
	v := p.kernel.Cov(a.Place, b.Place)
	if a.Slope != nil && b.Slope != nil {
		for j, sd := range p.data.Prior {
			v += a.Slope[j] * sd * sd * b.Slope[j]
		}
	}
	return v
}

// Mean is the expectation of a target.
func (p *Posterior) Mean(t Target) float64 {
	sum := 0.0
	for i, a := range p.alpha {
		sum += a * p.cov(t, p.reading(i))
	}
	return sum
}

// Param is the expectation of the parameters, P Sᵀ α.
func (p *Posterior) Param() []float64 {
	out := make([]float64, len(p.data.Prior))
	for j, sd := range p.data.Prior {
		for i, a := range p.alpha {
			out[j] += sd * sd * p.data.Slope[i][j] * a
		}
	}
	return out
}

// known is L⁻¹ times the covariance of a target with the readings: what the
// readings tell of it. The products of two are what they take off a covariance.
func (p *Posterior) known(t Target) []float64 {
	n := len(p.alpha)
	if n == 0 {
		return nil
	}
	v := make([]float64, n)
	for i := range v {
		v[i] = p.cov(t, p.reading(i))
	}
	// Forward substitution: L v = c.
	for i := range v {
		row := p.lower.RawTriangular().Data[i*p.lower.RawTriangular().Stride:]
		s := v[i]
		for j := range i {
			s -= row[j] * v[j]
		}
		v[i] = s / row[i]
	}
	return v
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

// SD is the standard deviation of a target after the readings.
func (p *Posterior) SD(t Target) float64 {
	v := p.known(t)
	return math.Sqrt(max(p.cov(t, t)-dot(v, v), 0))
}

// Cov is the covariance of two targets after the readings.
func (p *Posterior) Cov(a, b Target) float64 {
	return p.cov(a, b) - dot(p.known(a), p.known(b))
}
