package trial_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/science/quantity"
)

// large makes a trial of five levels in eight cycles, 2000 plants under 40 lamps, everything seen.
func large() (*underlamp.Trial, []underlamp.TrialEntry) {
	t := &underlamp.Trial{Name: "large", Layout: underlamp.BlocksLayout, Response: underlamp.ResponseMass, Difference: 10, Seed: 1}
	r := rand.New(rand.NewPCG(5, 5))
	var entries []underlamp.TrialEntry
	for k := range 5 {
		t.Treatments = append(t.Treatments, underlamp.Treatment{Name: fmt.Sprintf("%d mol", 10+3*k), DLI: quantity.DLI(10 + 3*k), Control: k == 1})
	}
	for b := range 8 {
		for k := range 5 {
			u := underlamp.TrialUnit{Name: fmt.Sprintf("C%d-L%d", b+1, k+1), Treatment: t.Treatments[k].Name, Block: fmt.Sprintf("cycle %d", b+1), DLI: quantity.DLI(10 + 3*float64(k) + 0.3*r.NormFloat64())}
			t.Places = append(t.Places, u)
			lamp, burn := 6*r.NormFloat64(), 0.4*r.NormFloat64()
			for p := range 50 {
				add := func(what underlamp.Response, v float64) {
					entries = append(entries, underlamp.TrialEntry{ID: fmt.Sprint(len(entries)), TrialUnit: u.Name, Plant: fmt.Sprint(p), What: what, Value: v})
				}
				x := float64(u.DLI)
				add(underlamp.ResponseMass, 40+13*x-0.32*x*x+lamp+14*r.NormFloat64())
				z := -7 + 0.35*x + burn + r.ExpFloat64() - 1
				grade := 0.0
				for _, c := range []float64{0, 0.9, 1.8, 2.8, 4} {
					if z > c {
						grade++
					}
				}
				add(underlamp.ResponseSeverity, grade)
				if grade > 0 {
					add(underlamp.ResponseBurn, 1)
					first := float64(12 + 3*r.IntN(7))
					add(underlamp.ResponseClear, first-3)
					add(underlamp.ResponseFirst, first)
				} else {
					add(underlamp.ResponseBurn, 0)
					add(underlamp.ResponseClear, 30)
				}
			}
		}
	}
	return t, entries
}

// All findings of 2000 plants under 40 lamps, joint draws and all: 2 s is the budget.
func BenchmarkFindings(b *testing.B) {
	t, e := large()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := trial.Find(t, e); err != nil {
			b.Fatal(err)
		}
	}
}
