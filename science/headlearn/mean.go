package headlearn

import "underlamp/science/headcycle"

// Mean are the traits of the mean plant of the crops that are thought of, at
// logarithms of the factors in the order of Posterior.Parameters; what no parameter
// moves stays central. It panics if there are fewer logarithms than parameters that
// move traits.
func (l *Learned) Mean(logs []float64) headcycle.Traits { return l.frame.at(logs[:len(l.frame.axes)]) }

// Errors beside those of instruments and the spread of plants, for whoever weighs
// evidence beside this package. Assumed, no source.
const (
	PathFresh  = pathFresh  // of ln fresh mass, a plant's own path between two weighings
	PathHeight = pathHeight // of ln height
	Slip       = slip       // chance that what is written of a plant's burn is wrong
)
