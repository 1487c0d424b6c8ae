package plantfigure

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// A BurnModel is what makes a spot look burnt: a logistic curve of its [Features] whose
// coefficients are known to a covariance. It can be kept as JSON, by cultivar.
type BurnModel struct {
	Mean       []float64   `json:"mean"`       // intercept, then one a feature in their order
	Covariance [][]float64 `json:"covariance"` // of the same
	Verdicts   int         `json:"verdicts"`   // how many a person gave; 0: the prior
}

const coefficients = 6

func (f Features) row() [coefficients]float64 {
	return [coefficients]float64{1, f.Brown, f.Contrast, f.Size, f.Inner, f.Border}
}

func (f Features) finite() bool {
	for _, v := range f.row() {
		if math.IsNaN(v) || math.Abs(v) > 100 {
			return false
		}
	}
	return true
}

// UsualBurn is the model before any verdict: brown and dark spots, rather in the heart, are
// likely burnt. Common practice, no source; so its standard deviations are wide, and a few
// dozen verdicts outweigh it.
func UsualBurn() BurnModel {
	m := BurnModel{Mean: []float64{-2.5, 3, 1.2, 0, 0.7, 0}}
	for i, sd := range [coefficients]float64{1.5, 1.5, 0.8, 0.4, 0.7, 1} {
		row := make([]float64, coefficients)
		row[i] = sd * sd
		m.Covariance = append(m.Covariance, row)
	}
	return m
}

// check says what is wrong with a model that was read from somewhere.
func (m BurnModel) check() (*mat.SymDense, error) {
	if len(m.Mean) != coefficients || len(m.Covariance) != coefficients {
		return nil, fmt.Errorf("a model of burnt spots has %d coefficients with their covariance, this one %d and %d", coefficients, len(m.Mean), len(m.Covariance))
	}
	s := mat.NewSymDense(coefficients, nil)
	for i, row := range m.Covariance {
		if len(row) != coefficients {
			return nil, fmt.Errorf("row %d of the covariance of burnt spots has %d numbers instead of %d", i+1, len(row), coefficients)
		}
		if math.IsNaN(m.Mean[i]) || math.IsInf(m.Mean[i], 0) {
			return nil, errors.New("a coefficient of burnt spots is no number")
		}
		for j := range i + 1 {
			if math.Abs(row[j]-m.Covariance[j][i]) > 1e-9*(1+math.Abs(row[j])) {
				return nil, errors.New("the covariance of burnt spots is not symmetric")
			}
			s.SetSym(i, j, row[j])
		}
	}
	return s, nil
}

// Chance is the chance that a person calls a spot burnt, with its standard deviation
// from what is not known of the coefficients: mean and spread of the logistic curve over
// the normal distribution of its argument, summed at 41 places.
func (m BurnModel) Chance(f Features) (p, sd float64) {
	x := f.row()
	mu, v := 0.0, 0.0
	for i := range x {
		mu += m.Mean[i] * x[i]
		for j := range x {
			v += x[i] * m.Covariance[i][j] * x[j]
		}
	}
	s := math.Sqrt(max(0, v))
	var w, first, second float64
	for k := -20; k <= 20; k++ {
		z := float64(k) / 4
		weight := math.Exp(-z * z / 2)
		q := logistic(mu + s*z)
		w += weight
		first += weight * q
		second += weight * q * q
	}
	first, second = first/w, second/w
	return first, math.Sqrt(max(0, second-first*first))
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// Threshold is how brown a spot must be, as [Features.Brown], to be called burnt with a
// chance of one half, its other features being as given; and the standard deviation of
// that (delta method). Both are NaN if brown is not known to make a spot burnt.
func (m BurnModel) Threshold(at Features) (brown, sd float64) {
	b := m.Mean[1]
	if b <= 0 || b*b < m.Covariance[1][1] {
		return math.NaN(), math.NaN()
	}
	at.Brown = 0
	x := at.row()
	a := 0.0
	for i := range x {
		a += m.Mean[i] * x[i]
	}
	brown = -a / b
	x[1] = brown // the gradient of the threshold is -x/b
	v := 0.0
	for i := range x {
		for j := range x {
			v += x[i] * m.Covariance[i][j] * x[j]
		}
	}
	return brown, math.Sqrt(v) / b
}

// LearnBurn is the model after verdicts, from a prior: the greatest of the posterior of a
// logistic regression with a normal prior, and the covariance of the normal
// distribution that has its curvature there (Laplace approximation). The prior is to be
// that before all verdicts, and verdicts all that there are: a verdict that was changed
// then leaves nothing behind. Errors are those of the prior, and of features that are no numbers.
//
// Source: SpiegelhalterLauritzen1990, section 4, for the approximation.
func LearnBurn(prior BurnModel, verdicts []Verdict) (BurnModel, error) {
	if prior.Mean == nil && prior.Covariance == nil {
		prior = UsualBurn()
	}
	cov, err := prior.check()
	if err != nil {
		return BurnModel{}, err
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		return BurnModel{}, errors.New("the covariance of burnt spots is not positive definite")
	}
	var precision mat.SymDense
	if err := chol.InverseTo(&precision); err != nil {
		return BurnModel{}, errors.New("the covariance of burnt spots is nearly singular")
	}
	for i, v := range verdicts {
		if !v.Seen.finite() {
			return BurnModel{}, fmt.Errorf("verdict %d has a feature that is no number", i+1)
		}
	}
	// value, gradient and curvature of minus the logarithm of the posterior
	value := func(b []float64) float64 {
		s := 0.0
		for i := range b {
			for j := range b {
				s += (b[i] - prior.Mean[i]) * precision.At(i, j) * (b[j] - prior.Mean[j]) / 2
			}
		}
		for _, v := range verdicts {
			x := v.Seen.row()
			eta := 0.0
			for i := range b {
				eta += b[i] * x[i]
			}
			if v.Burnt {
				eta = -eta
			}
			s += math.Max(eta, 0) + math.Log1p(math.Exp(-math.Abs(eta)))
		}
		return s
	}
	curvature := func(b []float64, grad []float64) *mat.SymDense {
		h := mat.NewSymDense(coefficients, nil)
		h.CopySym(&precision)
		for i := range b {
			for j := range b {
				grad[i] += precision.At(i, j) * (b[j] - prior.Mean[j])
			}
		}
		for _, v := range verdicts {
			x := v.Seen.row()
			eta := 0.0
			for i := range b {
				eta += b[i] * x[i]
			}
			p := logistic(eta)
			y := 0.0
			if v.Burnt {
				y = 1
			}
			for i := range x {
				grad[i] += (p - y) * x[i]
				for j := range i + 1 {
					h.SetSym(i, j, h.At(i, j)+p*(1-p)*x[i]*x[j])
				}
			}
		}
		return h
	}
	b := append([]float64(nil), prior.Mean...)
	now := value(b)
	for range 100 { // convex: Newton steps, halved where they are too long
		grad := make([]float64, coefficients)
		h := curvature(b, grad)
		if !chol.Factorize(h) {
			return BurnModel{}, errors.New("the verdicts on burnt spots cannot be learned from: their curvature is not positive")
		}
		var step mat.VecDense
		if err := chol.SolveVecTo(&step, mat.NewVecDense(coefficients, grad)); err != nil {
			return BurnModel{}, errors.New("the verdicts on burnt spots cannot be learned from: their curvature is nearly singular")
		}
		size, moved := 1.0, false
		for range 40 {
			try := make([]float64, coefficients)
			for i := range b {
				try[i] = b[i] - size*step.AtVec(i)
			}
			if v := value(try); v <= now {
				moved = now-v > 1e-13*(1+math.Abs(now))
				b, now = try, v
				break
			}
			size /= 2
		}
		if !moved {
			break
		}
	}
	h := curvature(b, make([]float64, coefficients))
	var inverse mat.SymDense
	if !chol.Factorize(h) || chol.InverseTo(&inverse) != nil {
		return BurnModel{}, errors.New("the verdicts on burnt spots cannot be learned from: their curvature is not positive")
	}
	out := BurnModel{Mean: b, Verdicts: len(verdicts)}
	for i := range coefficients {
		row := make([]float64, coefficients)
		for j := range row {
			row[j] = inverse.At(i, j)
		}
		out.Covariance = append(out.Covariance, row)
	}
	return out, nil
}
