package underlamp

import "underlamp/science/quantity"

// A Trial is a question put to plants: treatments given to units at random, and what
// is to be seen. What was seen stands in a table beside it.
type Trial struct {
	Name, Note string
	Question   string
	Bench      string // name of the bench file; empty if none
	Table      string // name of the table of observations, beside the trial file
	Units      quantity.System

	Response   Response             // the primary one, chosen before the run
	Difference float64              // smallest difference worth knowing, in the unit of the response; 0: not said
	BurnLimit  quantity.Fraction    // share of plants with burn that is borne; 0: not said
	Layout     TrialLayout          // how treatments were given
	Seed       uint64               // of the randomisation
	Places     []TrialUnit          // the units, in the order of the file
	Cycles     []TrialCycle         // when each block was grown, as far as it is said
	Factors    []TrialFactor        // that treatments combine; nil: treatments are one list
	Treatments []Treatment          // in the order of the file
	Columns    map[string]string    // what the columns of imported tables are: heading → meaning
	TargetMass Given[quantity.Gram] // fresh mass whose day is asked for; 0: not said
}

// A Treatment is what is compared.
type Treatment struct {
	Name    string
	Control bool         // the present setting, against which others are compared
	DLI     quantity.DLI // what it shall be; 0 if it is no level of light
	Levels  []string     // one for each factor of the trial, in its order; nil without factors
	Note    string
}

// A TrialFactor is what treatments vary, such as PPFD or cultivar.
type TrialFactor struct {
	Name, Unit string
	Levels     []string
}

// A TrialUnit is what a treatment was given to: mostly one lamp in one cycle. The
// plants under it are subsamples, whatever their number.
type TrialUnit struct {
	Name      string
	Treatment string
	Block     string       // the cycle, or another group that holds every treatment; empty: none
	Place     string       // column of a Latin square; the place of a rotation
	Part      string       // level of the factor within the whole unit of a split plot
	Whole     string       // the whole unit, mostly the lamp in its cycle, of a split plot
	Lamp      string       // on the bench
	DLI       quantity.DLI // that its plants really got; 0: not measured
	Plants    int          // 0: not said
	Line      int
}

// A TrialCycle is when the plants of a block were grown.
type TrialCycle struct {
	Block        string                // as the units name it; empty: that of units without one
	Transplanted string                // YYYY-MM-DD; day 0
	Harvested    string                // YYYY-MM-DD; empty while it grows
	StartMass    *Given[quantity.Gram] // fresh shoot at transplanting, if it was weighed; nil: that of the bench file
	Line         int
}

// Cycle is when a block was grown; nil if the plan does not say.
func (t *Trial) Cycle(block string) *TrialCycle {
	for i := range t.Cycles {
		if t.Cycles[i].Block == block {
			return &t.Cycles[i]
		}
	}
	return nil
}

// A TrialLayout is how treatments were given to units.
type TrialLayout string

// The layouts.
const (
	CompleteLayout   TrialLayout = "complete"
	BlocksLayout     TrialLayout = "blocks"
	LatinLayout      TrialLayout = "latin square"
	SplitLayout      TrialLayout = "split plot"
	IncompleteLayout TrialLayout = "incomplete blocks" // blocks hold some of the treatments each
	AugmentedLayout  TrialLayout = "augmented"         // blocks hold all checks; the other treatments stand once
	RotationLayout   TrialLayout = "rotation"          // places go through sequences of treatments, cycle by cycle
	SystematicLayout TrialLayout = "systematic"        // by hand: no randomisation test
)

// TrialLayouts lists them.
func TrialLayouts() []TrialLayout {
	return []TrialLayout{CompleteLayout, BlocksLayout, LatinLayout, SplitLayout, IncompleteLayout, AugmentedLayout, RotationLayout, SystematicLayout}
}

// A Response is what is seen of a plant.
type Response string

// The responses, with their unit.
const (
	ResponseMass     Response = "mass"     // g, fresh shoot
	ResponseHeight   Response = "height"   // cm
	ResponseLeaves   Response = "leaves"   // count
	ResponseBurn     Response = "burn"     // 0 none, 1 seen
	ResponseSeverity Response = "severity" // 0 to MaxSeverity
	ResponseClear    Response = "clear"    // last day on which a look saw no burn
	ResponseFirst    Response = "first"    // first day on which a look saw burn
	ResponseWidth    Response = "width"    // cm, across the widest leaves
	ResponseArea     Response = "area"     // cm², of leaves as seen from above
)

// Responses lists them.
func Responses() []Response {
	return []Response{ResponseMass, ResponseHeight, ResponseLeaves, ResponseBurn, ResponseSeverity, ResponseClear, ResponseFirst, ResponseWidth, ResponseArea}
}

// Unit is the unit of the response; empty for counts and grades.
func (r Response) Unit() string {
	switch r {
	case ResponseMass:
		return "g"
	case ResponseHeight, ResponseWidth:
		return "cm"
	case ResponseArea:
		return "cm²"
	case ResponseClear, ResponseFirst:
		return "d"
	}
	return ""
}

// A TrialEntry is one line of the table of observations: one thing seen of one plant
// of a unit. Lines are never changed: a line that corrects another names it.
type TrialEntry struct {
	ID        string
	Time      string // YYYY-MM-DD, or with the time of day
	TrialUnit string
	Plant     string // within the unit
	What      Response
	Value     float64 // in the unit of the response; 0 if Missing
	Missing   string  // why there is no value; empty if there is one
	By, With  string
	Note      string
	Corrects  string // ID of the line that this one stands for
	Struck    bool   // with Corrects: the line does not count, and nothing stands for it
	Line      int
}
