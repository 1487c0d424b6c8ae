package underlamp

import (
	"underlamp/science/energycost"
	"underlamp/science/quantity"
)

// Money is what a bench costs and earns, as far as the grower said it. All of it
// is in one currency, that of the electricity. What was not said is not in any
// sum.
type Money struct {
	Tariff *energycost.Tariff // price of electricity by the time of day; nil: Bench.Price at all hours
	Costs  []Cost             // besides electricity
	Sale   []SaleStep         // what heads sell for, from the lightest; empty: not said
}

// A Cost is one of those besides electricity.
type Cost struct {
	For    string // "seed and plug"
	Amount float64
	Per    Basis // PerHead, PerCycle or PerAreaDay
}

// A SaleStep is what a head of at least a fresh mass sells for.
type SaleStep struct {
	From   quantity.Gram
	Amount float64
	Per    Basis // PerHead or PerKg
}

// A Basis says what an amount of money is counted by.
type Basis string

// The bases.
const (
	PerHead    Basis = "head"  // every head that was planted, or of a sale every head sold
	PerCycle   Basis = "cycle" // from transplanting to harvest
	PerAreaDay Basis = "m²/d"  // each m² of the bench and day
	PerKg      Basis = "kg"    // fresh mass sold
)
