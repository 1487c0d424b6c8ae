package underlamp

import "underlamp/science/headlearn"

// A Profile is what the cycles of a grower taught of one cultivar in one room:
// draws of its traits take the place of those of its species.
type Profile struct {
	File string // as the bench file names it; empty if it is not from a file
	Name string
	Note string
	Made string // YYYY-MM-DD

	Species  string
	Cultivar string
	Tendency Tendency // of the traits that the factors multiply
	Type     HeadType // the same; empty if they are those of lettuce at large
	Bench    string   // name of the bench file

	Cycles  []LearnedCycle
	Summary headlearn.Summary
	Factors []LearnedFactor // the same for reading
	Quality SamplingQuality
}

// A LearnedCycle is a cycle that a profile was learned from.
type LearnedCycle struct {
	Name         string
	Bench        string
	Transplanted string // YYYY-MM-DD
	Harvested    string // empty if it was still running
	Plants       int    // with an observation of their own
	Weighings    int
	Heights      int
	Burns        int // observations of burn on single plants
	Counts       int // of burn over the bench
}

// A LearnedFactor is one parameter before and after: factors on the central traits,
// as the ends and the middle of the interval that holds 90 %.
type LearnedFactor struct {
	Key, Name    string
	Prior, After [3]float64
	Narrowed     float64 // 1 − sd after / sd before, of the logarithm
	Learned      bool    // more than chance
}

// A SamplingQuality says how well the draws of a learning stood for the posterior.
type SamplingQuality struct {
	RHat             float64 // worst of all parameters
	BulkESS, TailESS float64 // least of all parameters
	Chains, Draws    int
}
