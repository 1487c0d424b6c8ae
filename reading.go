package underlamp

import "underlamp/science/quantity"

// A Reading is one meter reading of light.
type Reading struct {
	Name   string
	X, Y   quantity.Metre
	Height quantity.Metre // of the sensor above the planting surface
	PPFD   quantity.PPFD

	Lamps   []string // names of the lamps that were on; empty means all
	Dimming Given[quantity.Fraction]
	When    string // date as written; empty if not noted
	Line    int    // in the bench file, for messages; 0 if there is none
}
