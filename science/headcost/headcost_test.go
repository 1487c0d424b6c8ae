package headcost_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/headcost"
)

// By hand: 18 heads at 0.42, 3.00 for the cycle and 0.72 m² for 35 days at 0.05
// are 7.56 + 3.00 + 1.26 = 11.82.
func TestCosts(t *testing.T) {
	t.Parallel()
	terms := headcost.Terms{PerHead: 0.42, PerCycle: 3, PerM2Day: 0.05}
	if got := terms.Costs(18, 0.72, 35); math.Abs(got-11.82) > 1e-12 {
		t.Errorf("%g, want 11.82", got)
	}
}

// A head pays the price of the step it reaches; the edge belongs to the step.
func TestPrice(t *testing.T) {
	t.Parallel()
	terms := headcost.Terms{Sale: []headcost.Step{{From: 180, PerHead: 1.2}, {From: 120, PerHead: 0.9}, {From: 300, PerKg: 6}}}
	for _, c := range []struct{ g, want float64 }{{0, 0}, {119.9, 0}, {120, 0.9}, {179, 0.9}, {180, 1.2}, {299, 1.2}, {300, 1.8}, {500, 3}} {
		if got := terms.Price(c.g); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("a head of %g g sells for %g, want %g", c.g, got, c.want)
		}
	}
	if (&headcost.Terms{}).Price(200) != 0 {
		t.Error("without a price a head sells for something")
	}
}

// The order of the steps does not matter; twice the prices are twice the money.
func TestTermsProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "steps")
		a := headcost.Terms{PerHead: 1, PerCycle: 2, PerM2Day: 3}
		for i := range n {
			a.Sale = append(a.Sale, headcost.Step{From: float64(50*i) + rapid.Float64Range(0, 40).Draw(t, "from"), PerHead: rapid.Float64Range(0, 5).Draw(t, "head"), PerKg: rapid.Float64Range(0, 9).Draw(t, "kg")})
		}
		b := a
		b.Sale = slices.Clone(a.Sale)
		slices.Reverse(b.Sale)
		double := headcost.Terms{PerHead: 2, PerCycle: 4, PerM2Day: 6}
		for _, s := range a.Sale {
			double.Sale = append(double.Sale, headcost.Step{From: s.From, PerHead: 2 * s.PerHead, PerKg: 2 * s.PerKg})
		}
		g := rapid.Float64Range(0, 400).Draw(t, "g")
		if a.Price(g) != b.Price(g) {
			t.Fatalf("the order of the steps changes the price of %g g", g)
		}
		if math.Abs(double.Price(g)-2*a.Price(g)) > 1e-9 || math.Abs(double.Costs(7, 0.5, 30)-2*a.Costs(7, 0.5, 30)) > 1e-9 {
			t.Fatal("twice the prices are not twice the money")
		}
	})
}

// What does a shelf of 18 heads of 150 g earn?
func ExampleTerms_Price() {
	t := headcost.Terms{Sale: []headcost.Step{{From: 120, PerHead: 0.9}, {From: 180, PerHead: 1.2}}}
	fmt.Printf("%.2f\n", 18*t.Price(150))
	// Output: 16.20
}
