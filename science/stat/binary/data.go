package binary

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"underlamp/science/stat"
)

// Data are counts by unit with the columns of a model.
type Data struct {
	Yes, N []int
	X      [][]float64 // X[i] are the columns of unit i, with 1 for the intercept
	Names  []string    // of the columns
	Offset []float64   // added to the logit of each unit; nil is 0
}

// OnDose is the model a + b·dose.
func OnDose(yes, n []int, dose []float64) Data {
	d := Data{Yes: yes, N: n, Names: []string{"intercept", "dose"}}
	for _, x := range dose {
		d.X = append(d.X, []float64{1, x})
	}
	return d
}

func (d Data) check() error {
	if len(d.Yes) != len(d.N) || len(d.X) != len(d.N) || d.Offset != nil && len(d.Offset) != len(d.N) {
		return fmt.Errorf("%d counts, %d sizes and %d rows do not match", len(d.Yes), len(d.N), len(d.X))
	}
	if len(d.X) == 0 {
		return stat.Refuse("a fit", "there are no units")
	}
	for i, x := range d.X {
		if len(x) != len(d.Names) {
			return fmt.Errorf("row %d has %d columns and there are %d names", i+1, len(x), len(d.Names))
		}
		if d.Yes[i] < 0 || d.Yes[i] > d.N[i] || d.N[i] < 1 {
			return fmt.Errorf("row %d counts %d of %d", i+1, d.Yes[i], d.N[i])
		}
		if err := stat.Check(x); err != nil {
			return fmt.Errorf("row %d: %w", i+1, err)
		}
	}
	return nil
}

func (d Data) offset(i int) float64 {
	if d.Offset == nil {
		return 0
	}
	return d.Offset[i]
}

func (d Data) eta(i int, b []float64) float64 {
	e := d.offset(i)
	for j, x := range d.X[i] {
		e += x * b[j]
	}
	return e
}

func expit(e float64) float64 {
	if e >= 0 {
		return 1 / (1 + math.Exp(-e))
	}
	z := math.Exp(e)
	return z / (1 + z)
}

func logit(p float64) float64 { return math.Log(p) - math.Log1p(-p) }

// softplus is ln(1 + eᵉ).
func softplus(e float64) float64 {
	if e > 0 {
		return e + math.Log1p(math.Exp(-e))
	}
	return math.Log1p(math.Exp(e))
}

func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// A Separation says whether the columns part yes from no.
type Separation int

const (
	Overlap  Separation = iota // neither: ordinary likelihood has its maximum
	Quasi                      // but for ties
	Complete                   // wholly
)

// Separated tells whether some combination of the columns parts yes from no.
func (d Data) Separated() (Separation, error) {
	if err := d.check(); err != nil {
		return Overlap, err
	}
	p := len(d.Names)
	// Columns to a common size.
	size := make([]float64, p)
	for _, x := range d.X {
		for j, v := range x {
			size[j] = math.Max(size[j], math.Abs(v))
		}
	}
	var rows [][]float64
	seen := map[string]bool{}
	for i, x := range d.X {
		for _, sign := range []float64{1, -1} {
			if sign > 0 && d.Yes[i] == 0 || sign < 0 && d.Yes[i] == d.N[i] {
				continue
			}
			r := make([]float64, p)
			for j := range r {
				if size[j] > 0 {
					r[j] = sign * x[j] / size[j]
				}
			}
			if key := fmt.Sprint(r); !seen[key] {
				seen[key] = true
				rows = append(rows, r)
			}
		}
	}
	// Overlap just if Σ λ row = 0 with all λ ≥ 1, that is Σ μ row = −Σ row with μ ≥ 0.
	sum := make([]float64, p)
	for _, r := range rows {
		for j, v := range r {
			sum[j] -= v
		}
	}
	if residual(rows, sum) < 1e-8*float64(len(rows)) {
		return Overlap, nil
	}
	// Complete just if no λ ≥ 0 with Σ λ = 1 has Σ λ row = 0.
	wide := make([][]float64, len(rows))
	for i, r := range rows {
		wide[i] = append(append([]float64(nil), r...), 1)
	}
	if residual(wide, append(make([]float64, p), 1)) > 1e-8 {
		return Complete, nil
	}
	return Quasi, nil
}

// residual is the least |Σ μ row − target| over μ ≥ 0, by the active-set method of
// LawsonHanson1974.
func residual(rows [][]float64, target []float64) float64 {
	m, p := len(rows), len(target)
	mu := make([]float64, m)
	in := make([]bool, m)
	rest := append([]float64(nil), target...)
	update := func() {
		copy(rest, target)
		for i, v := range mu {
			if v != 0 {
				for j, x := range rows[i] {
					rest[j] -= v * x
				}
			}
		}
	}
	for range 10*m + 50 {
		best, at := 1e-12, -1
		for i, r := range rows {
			if in[i] {
				continue
			}
			var g float64
			for j, x := range r {
				g += x * rest[j]
			}
			if g > best {
				best, at = g, i
			}
		}
		if at < 0 {
			break
		}
		in[at] = true
		for {
			var set []int
			for i := range in {
				if in[i] {
					set = append(set, i)
				}
			}
			if len(set) == 0 {
				break
			}
			a := mat.NewDense(p, len(set), nil)
			for k, i := range set {
				for j, x := range rows[i] {
					a.Set(j, k, x)
				}
			}
			z, ok := leastSquares(a, target)
			if !ok {
				// The newest depends on the others; it adds nothing.
				in[at] = false
				mu[at] = 0
				break
			}
			step, ok := 1.0, true
			for k, i := range set {
				if z[k] <= 0 {
					ok = false
					if d := mu[i] - z[k]; d > 0 {
						step = math.Min(step, mu[i]/d)
					} else {
						step = 0
					}
				}
			}
			for k, i := range set {
				mu[i] += step * (z[k] - mu[i])
				if !ok && mu[i] <= 1e-14 {
					mu[i], in[i] = 0, false
				}
			}
			if ok {
				break
			}
		}
		update()
	}
	update()
	var s float64
	for _, v := range rest {
		s += v * v
	}
	return math.Sqrt(s)
}

func leastSquares(a *mat.Dense, b []float64) ([]float64, bool) {
	r, c := a.Dims()
	if c > r {
		return nil, false
	}
	var qr mat.QR
	qr.Factorize(a)
	if qr.Cond() > 1e12 {
		return nil, false
	}
	var x mat.VecDense
	if err := qr.SolveVecTo(&x, false, mat.NewVecDense(len(b), b)); err != nil {
		return nil, false
	}
	return x.RawVector().Data, true
}
