package underlamp

import "underlamp/science/quantity"

// Feed is the nutrient solution, as far as it carries calcium.
type Feed struct {
	Calcium  Given[quantity.MilligramPerLitre]
	EC       Given[quantity.MillisiemensPerCm]
	RootTemp Given[quantity.Celsius]
}
