package headlearn

// Options of [Learn]. The zero value is usable.
type Options struct {
	Seed     uint64
	Draws    int                 // kept in the posterior; 0 means 2000
	Progress func(share float64) // called from one goroutine, rising from 0 to 1; may be nil

	workers int // goroutines, for a test; 0: one for each processor
}

// A Posterior is what was learnt.
type Posterior struct {
	Learned

	Parameters  []Parameter
	Correlation [][]float64 // of the logarithms, by the order of Parameters
	PlantSD     Quantity    // standard deviation of ln fresh mass between the plants of one crop, at the last weighing
	Fit         []Datum     // every datum beside what the posterior expects of it
	Cycles      []CycleFit  // by the order of the evidence
	Sampling    Sampling
	Warnings    []string // sentences for the reader: what does not fit, what is not sure

	evidence *model
	seed     uint64
}

// A Quantity is a distribution told by a few numbers.
type Quantity struct {
	Mean, SD                float64
	Q05, Q25, Q50, Q75, Q95 float64
}

// A Parameter is a factor on traits, before and after.
type Parameter struct {
	Key    string   // for files: "vigour"
	Name   string   // for people: "vigour"
	Traits []string // fields of headcycle.Spread that it moves

	Prior, Posterior Quantity // of the factor; 1 is the central value
	LogMean, LogSD   float64  // of its logarithm, posterior
	PriorLogSD       float64
	Shrinkage        float64 // 1 − LogSD/PriorLogSD: 0 nothing learnt, near 1 known well; may be slightly below 0
	Learned          bool    // Shrinkage is more than chance and more than a tenth

	RHat, BulkESS, TailESS float64
	MCSE                   float64 // Monte Carlo standard error of LogMean
}

// Kinds of a [Datum].
const (
	FreshMass = "fresh mass"
	DryMass   = "dry mass"
	DryShare  = "dry share" // dry over fresh mass of one weighing
	CanopyTop = "height"
	HeartBurn = "burn"
	BurnCount = "burn count"
)

// A Datum is one thing seen, beside what the posterior expects.
type Datum struct {
	Cycle, Plant int // indices in the evidence; Plant −1 for a count
	Index        int // in Weighings, Heights, Burns or Counts
	Kind         string
	Day          int
	Observed     float64 // g, m, share; 1 if burn was seen on a plant; number burnt
	Expected     float64 // median; for burn the chance that a plant shows it by then
	Low, High    float64 // 90 % of such data would lie between; NaN for the burn of one plant
	Tail         float64 // chance of a datum at least as far out, two-sided
	Misfit       bool    // farther out than the worst of so many data should be
}

// A CycleFit is how a cycle differs from what all cycles share.
type CycleFit struct {
	Name            string
	MassFactor      Quantity // its masses over those that the shared traits give
	HeartTendency   Quantity // in standard deviations between the plants of one crop; above 0 burns more
	MassZ, HeartZ   float64  // posterior mean over the standard deviation that cycles may differ by
	Misfit          bool     // it differs by more than cycles of one crop should
	Weighings, Burn int      // data that it brought
}

// Sampling says how well the draws stand for the posterior.
type Sampling struct {
	RHat                  float64 // worst of all parameters; below 1.01 is good
	BulkESS, TailESS      float64 // least of all parameters; above 400 is good
	Acceptance            float64
	Evaluations           int
	Chains, DrawsPerChain int
	Good                  bool
}
