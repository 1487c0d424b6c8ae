package residualfield

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Grid bounds what is not known of the field.
type Grid struct {
	MinLength, MaxLength float64 // of ℓ, m
	Off                  bool    // no field: parameters alone
}

// typicalSD is the scale of the half-normal prior of σ: lamps of one make that
// differ, cables, a dull corner make some per cent (common practice, no source).
const typicalSD = 0.05

// amplitudes and lengths are the numbers of nodes of σ and ℓ; mostWeighed is how
// many readings the grid is weighed on, leastWeight what a pair must weigh to stay.
const (
	lowestSD    = 0.005
	amplitudes  = 6 // 0.005, 0.01 … 0.16
	lengths     = 4
	mostWeighed = 120
	leastWeight = 0.005
)

// A Field is parameters and field after the readings, over the grid of kernels.
type Field struct {
	parts  []*Posterior
	weight []float64 // of each part; they add up to 1
}

// Fit weighs the kernels of a grid and conditions each on the readings.
//
// The prior is flat in ln ℓ between the bounds, half-normal of scale 0.05 in σ;
// σ runs from 0.005 to 0.16 in steps of a factor 2, so that a node of σ stands
// for a width in proportion to σ. The weight of a kernel is the marginal
// likelihood times that (RasmussenWilliams2006, section 5.2).
func Fit(d Data, g Grid) (*Field, error) {
	if g.Off {
		return FitOne(Kernel{SD: 0, Length: 1}, d)
	}
	if !(g.MinLength > 0 && g.MaxLength >= g.MinLength) {
		return nil, errors.New("the lengths of the field must be above 0, the longest not below the shortest")
	}
	some, all := d, len(d.Places) <= mostWeighed
	if !all {
		index := make([]int, mostWeighed)
		for i := range index {
			index[i] = i * len(d.Places) / mostWeighed
		}
		some = d.pick(index)
	}
	var f Field
	var logs []float64
	best := math.Inf(-1)
	var fault error
	for i := range lengths {
		length := g.MinLength * math.Pow(g.MaxLength/g.MinLength, float64(i)/(lengths-1))
		for j := range amplitudes {
			sd := lowestSD * math.Pow(2, float64(j))
			p, err := Condition(Kernel{SD: sd, Length: length}, some)
			if err != nil {
				fault = err
				continue
			}
			f.parts = append(f.parts, p)
			logs = append(logs, p.LogMarginal+math.Log(sd)-sd*sd/(2*typicalSD*typicalSD))
			best = max(best, logs[len(logs)-1])
		}
	}
	if len(f.parts) == 0 {
		return nil, fault
	}
	if !all {
		for i, p := range f.parts {
			if logs[i] == best {
				return FitOne(p.kernel, d)
			}
		}
	}
	sum := 0.0
	for i := range logs {
		logs[i] = math.Exp(logs[i] - best)
		sum += logs[i]
	}
	var out Field
	kept := 0.0
	for i, w := range logs {
		if w/sum >= leastWeight {
			out.parts, out.weight = append(out.parts, f.parts[i]), append(out.weight, w)
			kept += w
		}
	}
	for i := range out.weight {
		out.weight[i] /= kept
	}
	return &out, nil
}

// FitOne is [Fit] for one kernel that is known.
func FitOne(k Kernel, d Data) (*Field, error) {
	p, err := Condition(k, d)
	if err != nil {
		return nil, err
	}
	return &Field{[]*Posterior{p}, []float64{1}}, nil
}

// Kernel returns root mean square of σ and geometric mean of ℓ over the grid.
func (f *Field) Kernel() Kernel {
	var v, l float64
	for i, p := range f.parts {
		v += f.weight[i] * p.kernel.SD * p.kernel.SD
		l += f.weight[i] * math.Log(p.kernel.Length)
	}
	return Kernel{SD: math.Sqrt(v), Length: math.Exp(l)}
}

// Param is the expectation of the parameters.
func (f *Field) Param() []float64 {
	var out []float64
	for i, p := range f.parts {
		th := p.Param()
		if out == nil {
			out = make([]float64, len(th))
		}
		for j, v := range th {
			out[j] += f.weight[i] * v
		}
	}
	return out
}

// ParamCov is the covariance of the parameters; nil if there are none.
func (f *Field) ParamCov() *mat.SymDense {
	mean := f.Param()
	n := len(mean)
	if n == 0 {
		return nil
	}
	cov := mat.NewSymDense(n, nil)
	for i, p := range f.parts {
		known := make([][]float64, n)
		th := p.Param()
		for j := range n {
			slope := make([]float64, n)
			slope[j] = 1
			known[j] = p.known(Target{Place: nowhere(p.data), Slope: slope})
		}
		for j := range n {
			for k := j; k < n; k++ {
				v := (th[j]-mean[j])*(th[k]-mean[k]) - dot(known[j], known[k])
				if j == k {
					v += p.data.Prior[j] * p.data.Prior[j]
				}
				cov.SetSym(j, k, cov.At(j, k)+f.weight[i]*v)
			}
		}
	}
	return cov
}

// nowhere is a place that the field does not reach.
func nowhere(d Data) Place {
	var p Place
	if len(d.Places) > 0 {
		p.Mix = make([]float64, len(d.Places[0].Mix))
	}
	return p
}

// Correction is the expectation of the field alone at places that share depth
// and mix, as a logarithm: exp of it is the factor on the model's light. It
// writes to dst, which must be as long as x and y, or allocates if dst is nil.
func (f *Field) Correction(dst []float64, at Place, x, y []float64) []float64 {
	if len(x) != len(y) || dst != nil && len(dst) != len(x) {
		panic("residualfield: Field.Correction: lengths differ")
	}
	if dst == nil {
		dst = make([]float64, len(x))
	}
	clear(dst)
	places := f.parts[0].data.Places
	pull := make([]float64, len(places))
	for from := 0; from < len(f.parts); {
		// Kernels of one length stand together and share the distances.
		length := f.parts[from].kernel.Length
		clear(pull)
		to := from
		for ; to < len(f.parts) && f.parts[to].kernel.Length == length; to++ {
			p := f.parts[to]
			for i, a := range p.alpha {
				pull[i] += f.weight[to] * p.kernel.SD * p.kernel.SD * a
			}
		}
		from = to
		k := Kernel{Length: length}
		for i := range pull {
			if pull[i] != 0 {
				pull[i] *= carried(at, places[i])
			}
			if pull[i] == 0 {
				continue
			}
			for j := range dst {
				dst[j] += pull[i] * k.plan(x[j]-places[i].X, y[j]-places[i].Y)
			}
		}
	}
	return dst
}

// Mean is the expectation of a target.
func (f *Field) Mean(t Target) float64 {
	sum := 0.0
	for i, p := range f.parts {
		sum += f.weight[i] * p.Mean(t)
	}
	return sum
}

// SD returns the standard deviation of each target, with what the choice of the
// kernel adds.
func (f *Field) SD(targets []Target) []float64 {
	out := make([]float64, len(targets))
	for k, t := range targets {
		mean := f.Mean(t)
		v := 0.0
		for i, p := range f.parts {
			sd, off := p.SD(t), p.Mean(t)-mean
			v += f.weight[i] * (sd*sd + off*off)
		}
		out[k] = math.Sqrt(v)
	}
	return out
}

// SumSD returns the standard deviation of a weighted sum of targets: what they
// err by together counts in full, what each errs by alone averages out.
func (f *Field) SumSD(targets []Target, weight []float64) float64 {
	if len(targets) != len(weight) {
		panic("residualfield: Field.SumSD: a weight for each target is needed")
	}
	variance, mean := 0.0, 0.0
	means := make([]float64, len(f.parts))
	for i, p := range f.parts {
		for k, t := range targets {
			means[i] += weight[k] * p.Mean(t)
		}
		mean += f.weight[i] * means[i]
	}
	for i, p := range f.parts {
		var known []float64
		v := 0.0
		slope := make([]float64, len(p.data.Prior))
		for k, t := range targets {
			part := p.known(t)
			if known == nil {
				known = make([]float64, len(part))
			}
			for j, x := range part {
				known[j] += weight[k] * x
			}
			for j := range slope {
				if t.Slope != nil {
					slope[j] += weight[k] * t.Slope[j]
				}
			}
			v += weight[k] * weight[k] * p.kernel.Cov(t.Place, t.Place)
			for l := range k {
				v += 2 * weight[k] * weight[l] * p.kernel.Cov(t.Place, targets[l].Place)
			}
		}
		for j, s := range slope {
			v += s * s * p.data.Prior[j] * p.data.Prior[j]
		}
		off := means[i] - mean
		variance += f.weight[i] * (max(v-dot(known, known), 0) + off*off)
	}
	return math.Sqrt(variance)
}
