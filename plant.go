package underlamp

import "underlamp/science/quantity"

// A Plant is one position with one plant.
type Plant struct {
	Name string
	X, Y quantity.Metre
	// Height is how tall the plant stands now, over the planting surface; 0 where
	// nobody said.
	Height quantity.Metre
}
