package underlamp

import "underlamp/science/quantity"

// A Plant is one position with one plant.
type Plant struct {
	Name string
	X, Y quantity.Metre
}
