// Package headcost answers what a cycle of heads costs besides its electricity,
// and what it earns. The outlook uses it for costs, income and margin.
//
// # Conventions
//
// All amounts are in one currency. Masses are fresh, in g. Income is added up
// over the heads one by one, because a price that steps with the mass makes the
// price of the mean head another thing than the mean price of the heads.
//
// # What is left out
//
// Taxes, interest, what unsold heads are still good for.
package headcost

import "sort"

// Terms are what a cycle costs besides electricity, and what heads sell for.
type Terms struct {
	PerHead  float64 // seed, substrate, feed, labour of each head, sold or not
	PerCycle float64
	PerM2Day float64 // rent and the like, for each m² of bench and day

	Sale []Step // in any order; none: nothing is known of the income
}

// A Step is what a head of at least a mass sells for.
type Step struct {
	From    float64 // g
	PerHead float64
	PerKg   float64 // beside or instead of PerHead
}

// Costs are those of a cycle of so many heads on so many m² over so many days:
//
//	heads · PerHead + PerCycle + m² · days · PerM2Day
func (t *Terms) Costs(heads, m2, days float64) float64 {
	return heads*t.PerHead + t.PerCycle + m2*days*t.PerM2Day
}

// Price is what one head of a fresh mass sells for: that of the highest step it
// reaches, and 0 below the lowest.
func (t *Terms) Price(fresh float64) float64 {
	best := -1
	for i, s := range t.Sale {
		if fresh >= s.From && (best < 0 || s.From > t.Sale[best].From) {
			best = i
		}
	}
	if best < 0 {
		return 0
	}
	return t.Sale[best].PerHead + t.Sale[best].PerKg*fresh/1000
}

// Sorted returns the steps from the lightest head.
func (t *Terms) Sorted() []Step {
	s := append([]Step(nil), t.Sale...)
	sort.SliceStable(s, func(i, j int) bool { return s[i].From < s[j].From })
	return s
}
