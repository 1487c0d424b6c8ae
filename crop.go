package underlamp

import "underlamp/science/quantity"

// A Crop is what grows: species, head type, cultivar, days, and what the grower
// wants of it.
type Crop struct {
	Species  Given[string]   // "lettuce"
	Type     Given[HeadType] // empty for species other than lettuce
	Cultivar string          // as the grower calls it; free text

	Tendency Given[Tendency] // to inner tipburn
	Profile  *Profile        // what cycles taught of this cultivar here; nil: nothing

	Transplanted string               // date as written; empty if not noted
	Days         Given[int]           // from transplanting to harvest
	Spacing      []Stand              // how the plants stand before they have their places; may be empty
	StartMass    Given[quantity.Gram] // fresh mass of a shoot at transplanting
	Saleable     Given[quantity.Gram] // fresh mass that a head must have to be sold
}

// A Stand is plants at one distance until a day. Growers set plants close while
// they are small and move them apart; after the last stand they have the places
// of the plan.
type Stand struct {
	Until   int     // last day after transplanting, 1 or more; rising over a list
	Density float64 // plants m⁻²; not rising over a list
}

// A HeadType is the habit of a lettuce.
type HeadType string

// The head types that a bench file may name. What data tell them apart is in package
// crops; they share the rest, as package calcium says why. Other species have none.
const (
	Butterhead HeadType = "butterhead"
	Crisphead  HeadType = "crisphead"
	Romaine    HeadType = "romaine"
	Leaf       HeadType = "leaf"
	Oakleaf    HeadType = "oakleaf"
)

// HeadTypes lists the head types in the order a person is shown them.
func HeadTypes() []HeadType { return []HeadType{Butterhead, Crisphead, Romaine, Leaf, Oakleaf} }

// A Tendency is how prone a cultivar is to inner tipburn, as the grower or the
// seed house puts it.
type Tendency string

// The tendencies.
const (
	Tolerant Tendency = "tolerant"
	Usual    Tendency = "usual"
	Prone    Tendency = "prone"
)

// Tendencies lists the tendencies from the hardiest.
func Tendencies() []Tendency { return []Tendency{Tolerant, Usual, Prone} }
