package headlearn

import "underlamp/science/headcycle"

// Mean are the traits of the mean plant of the crops that are thought of, at
// logarithms of the factors in the order of Posterior.Parameters; what no parameter
// moves stays central. It panics if there are fewer logarithms than parameters that
// move traits.
func (l *Learned) Mean(logs []float64) headcycle.Traits { return l.frame.at(logs[:len(l.frame.axes)]) }
