package lightaim

// A Row is one linear condition: Low ≤ Σ Coef·x ≤ High. Low may be −Inf and High
// +Inf; equal ends make an equation.
type Row struct {
	Coef      []float64
	Low, High float64
}

// A Linear is a linear program,
//
//	minimise Σ Cost·x  with  Low ≤ x ≤ High  and every Row held.
//
// Bounds of x may be infinite.
type Linear struct {
	Cost      []float64
	Low, High []float64
	Rows      []Row
}

// A Status tells how a program ended.
type Status int

// The ends of a program.
const (
	Optimal    Status = iota
	Infeasible        // no x holds all conditions
	Unbounded         // the value falls without end
	Stuck             // the limit of iterations was reached: an error of rounding
)

// String names the status.
func (s Status) String() string {
	return [...]string{"optimal", "infeasible", "unbounded", "stuck"}[s]
}

// A LinearResult is the answer to a Linear.
type LinearResult struct {
	Status Status
	X      []float64
	Value  float64

	// Prices, by which anybody can check that X is best: Cost = Σ Price·Coef over
	// the rows + Reduced. A price above 0 belongs to a row at its Low, one below 0
	// to a row at its High; Reduced says the same of the bounds of x. If the
	// program is infeasible they prove it: Σ Price·Coef + Reduced = 0, yet Price
	// and Reduced times the bounds they belong to add up to Violation.
	Price   []float64
	Reduced []float64

	Violation float64 // sum by which rows are missed, each relative to its largest coefficient; 0 unless infeasible
	Pivots    int
}

// Tolerances of the simplex, for rows scaled to a largest coefficient of 1.
const (
	feasible    = 1e-9
	improving   = 1e-9
	leastPivot  = 1e-9
	rebuildEach = 60 // pivots
	stallAfter  = 40 // pivots without progress, then the rule that cannot cycle
)

// Solve solves the program by the bounded simplex method in dictionary form:
// every row is a variable with bounds of its own, so no slack is added and the
// dictionary has as many columns as there are unknowns. Phase 1 lessens the sum
// of violations. The largest gradient enters; after a stall the smallest index
// does (Bland1977), which cannot cycle. The dictionary is built anew from the
// rows every 60 pivots and before the answer is believed.
//
// A Low above its High makes the program infeasible, without prices. Lengths that
// differ panic.
//
// Source: Chvatal1983, chapters 2, 3 and 8; Bland1977.
func (l *Linear) Solve() LinearResult {
	n, m := len(l.Cost), len(l.Rows)
	if len(l.Low) != n || len(l.High) != n {
		panic("lightaim: Linear.Solve: lengths of Cost, Low and High differ")
	}
	for j := range n {
		if l.Low[j] > l.High[j] {
			return LinearResult{Status: Infeasible, X: clone(l.Low), Price: make([]float64, m), Reduced: make([]float64, n), Violation: l.Low[j] - l.High[j]}
		}
	}
	for _, r := range l.Rows {
		if r.Low > r.High {
			return LinearResult{Status: Infeasible, X: clone(l.Low), Price: make([]float64, m), Reduced: make([]float64, n), Violation: r.Low - r.High}
		}
	}
	s := newSimplex(l)
	limit := 200 + 50*(n+m)
	status := s.run(true, limit)
	if status == Optimal {
		status = s.run(false, limit)
	}
	return s.result(status)
}
