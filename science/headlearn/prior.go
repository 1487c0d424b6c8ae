package headlearn

import "underlamp/science/headcycle"

// A Prior is what is held before any cycle was seen.
type Prior struct {
	Central headcycle.Traits
	Between headcycle.Spread // of crops and rooms: what can be learnt
	Within  headcycle.Spread // of the plants of one crop
}

// LettucePrior is the prior about central traits: the spread that headcycle
// forecasts with, parted into that between crops and that within one.
func LettucePrior(central headcycle.Traits) Prior {
	return Prior{Central: central, Between: headcycle.BetweenCrops(), Within: headcycle.WithinCrop()}
}
