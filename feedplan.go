package underlamp

import (
	"underlamp/science/nutrients"
	"underlamp/science/quantity"
)

// A FeedPlan is how the nutrient solution of a bench is made: what it shall hold, the water, what
// is in the cupboard, the tank, and what was read of it since.
type FeedPlan struct {
	Name, Note string
	Benches    []string // bench files whose feed it is
	Units      quantity.System

	Recipe   string // name of the published recipe; empty: the grower's own
	Strength quantity.Fraction
	Target   nutrients.Target

	Water      nutrients.Solution
	WaterName  string
	WaterPH    float64 // NaN: not known
	WaterGiven bool    // an analysis is written; else pure water is assumed
	WaterKnows [nutrients.Ions]bool
	Cupboard   []nutrients.Product
	Currency   string // of the prices; empty: none
	Cheapest   bool

	Litres Given[float64] // of the tank when it is full
	Scale  Given[quantity.Gram]
	Stock  *FeedStock // nil: salts go straight into the tank

	Log []FeedEntry // in the order of time
}

// FeedStock are concentrates or dry blends.
type FeedStock struct {
	Kind   StockKind
	Factor float64 // a litre makes this many litres of feed
	Litres float64 // of each tank; of a dry blend kilograms
	C      quantity.Celsius
}

// A StockKind is how a feed is kept.
type StockKind string

// The kinds of stock.
const (
	TwoTanks StockKind = "two tanks"
	OneTank  StockKind = "one tank"
	DryMix   StockKind = "dry"
)

// A FeedEntry is one look at the tank.
type FeedEntry struct {
	nutrients.Look
	Date string // YYYY-MM-DD
	By   string
	Note string
	Line int // in the file
}

// Problem is the plan as a question to the science.
func (p *FeedPlan) Problem() *nutrients.Problem {
	return &nutrients.Problem{Target: p.Target, Water: p.Water, Products: p.Cupboard, Cheapest: p.Cheapest}
}

// Looks are the entries of the log for [nutrients.Problem.Follow].
func (p *FeedPlan) Looks() []nutrients.Look {
	var out []nutrients.Look
	for _, e := range p.Log {
		out = append(out, e.Look)
	}
	return out
}

// FeedMade is what a bench takes of a feed plan: the feed as the tank was left by the last entry of
// the log, or as it is mixed where there is none.
type FeedMade struct {
	File      string
	Calcium   Given[quantity.MilligramPerLitre]
	Ammonium  Given[quantity.MilligramPerLitre]
	Potassium Given[quantity.MilligramPerLitre]
	Magnesium Given[quantity.MilligramPerLitre]
	EC        Given[quantity.MillisiemensPerCm]
	RootTemp  *Given[quantity.Celsius] // nil: not read
}
