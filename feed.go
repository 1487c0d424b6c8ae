package underlamp

import "underlamp/science/quantity"

// Feed is the nutrient solution, as far as it decides how roots take up calcium.
type Feed struct {
	Calcium   Given[quantity.MilligramPerLitre]
	Ammonium  Given[quantity.MilligramPerLitre] // nitrogen in the form of ammonium, NH4-N
	Potassium Given[quantity.MilligramPerLitre]
	Magnesium Given[quantity.MilligramPerLitre]
	EC        Given[quantity.MillisiemensPerCm]
	RootTemp  Given[quantity.Celsius]
	From      string // file of the feed plan that gives what is not written; empty: none
}
