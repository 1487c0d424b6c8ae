package lightaim_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"underlamp/science/lightaim"
)

// fault gathers what a check finds.
type fault struct{ list []string }

func (f *fault) Helper() {}

func (f *fault) Errorf(format string, args ...any) {
	f.list = append(f.list, fmt.Sprintf(format, args...))
}

// Long benches of equal lamps in even rows: many ties, many rows that say the same.
// Every answer carries its proof, none is given up.
func TestLongBenches(t *testing.T) {
	t.Parallel()
	g := rand.New(rand.NewPCG(3, 5))
	for run := range 60 {
		lamps, plants := 2+g.IntN(24), 10+g.IntN(190)
		resp := shelf(lamps, plants)
		l := lightaim.Linear{Cost: make([]float64, lamps), Low: make([]float64, lamps), High: make([]float64, lamps)}
		q := lightaim.Quadratic{Low: l.Low, High: l.High, Near: make([]float64, lamps), Ridge: 1e-7}
		for k := range lamps {
			l.Cost[k], l.Low[k], l.High[k] = 50, 0.1, 1
			if run%3 == 0 {
				l.Cost[k] += float64(g.IntN(3))
			}
		}
		least := 0.0
		for i := range plants {
			r := lightaim.Row{Coef: make([]float64, lamps), High: inf}
			sum := 0.0
			for k := range lamps {
				r.Coef[k] = resp[k*plants+i]
				sum += r.Coef[k]
			}
			if i == 0 {
				least = sum * (0.3 + 0.8*g.Float64())
			}
			r.Low = least
			if run%4 == 0 {
				r.High = least * (1.1 + g.Float64())
			}
			l.Rows = append(l.Rows, r)
			j := make([]float64, lamps)
			for k := range j {
				j[k] = r.Coef[k] / least
			}
			q.J, q.To = append(q.J, j), append(q.To, 1)
		}
		if run%2 == 0 {
			q.Rows = append(q.Rows, lightaim.Row{Coef: l.Cost, Low: -inf, High: 50 * float64(lamps) * (0.2 + 0.5*g.Float64())})
		}
		var f fault
		r := l.Solve()
		checkLinear(&f, &l, r)
		s := q.Solve()
		checkQuadratic(&f, &q, s)
		if r.Status == lightaim.Stuck || len(f.list) > 0 {
			t.Errorf("%d lamps, %d plants: %v in %d pivots, %v in %d steps: %v", lamps, plants, r.Status, r.Pivots, s.Status, s.Steps, f.list)
		}
	}
}
