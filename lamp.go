package underlamp

import "underlamp/science/quantity"

// A Lamp is one fixture at a place, facing down.
type Lamp struct {
	Name string
	Kind string // lamps of one kind share their errors: the make, or the name if none is given

	X, Y   quantity.Metre // middle of the luminous opening
	Height quantity.Metre // of the luminous opening above the planting surface

	Opening Opening
	Beam    Given[quantity.Degree]   // full angle at half of the intensity
	Flux    Given[quantity.PPF]      // at full power
	Power   Given[quantity.Watt]     // drawn at full power, driver included
	Rated   Given[quantity.Efficacy] // photons per electric energy
	Dimming Given[quantity.Fraction] // 1 is full power
	Hours   Given[quantity.Hours]    // light a day
}

// An Opening is the part of a lamp that gives light.
type Opening struct {
	Round  bool
	Width  Given[quantity.Metre] // x; the diameter if round
	Depth  Given[quantity.Metre] // y; not used if round
	Origin Origin
}
