package aim

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/science/energycost"
	"underlamp/science/lightaim"
	"underlamp/science/quantity"
)

// A Goal is what the dimming is chosen for.
type Goal int

// The goals.
const (
	LeastElectricity Goal = iota // every plant (or the share, or the mean asked for) has the target
	MostEven                     // the mean has the target, and plants are as near to it as can be
	MostWithin                   // as many plants as can be within Tolerance of the target
)

// String names the goal.
func (g Goal) String() string {
	return [...]string{"least electricity", "most even", "most plants within"}[g]
}

// An Ask is what the grower wants. Either PPFD or DLI is above 0.
type Ask struct {
	PPFD quantity.PPFD
	DLI  quantity.DLI
	Goal Goal

	Mean      bool              // the target is for the mean over the plants, not for each
	Share     quantity.Fraction // of the plants that must have it; 0 is all
	AtMost    quantity.PPFD     // for every plant; 0 is no limit
	Tolerance quantity.Fraction // of MostWithin; 0 means 10 %
	Sure      quantity.Fraction // chance of reaching the target, for the doubt about the level; 0 means one half

	Hours      quantity.Hours // of light a day; 0 means: those of the bench for PPFD, free within its limits for DLI
	FreeHours  bool           // search the hours for PPFD too: shorter days, less electricity and less DLI
	KeepHeight bool           // leave the lamps where they hang
	Canopy     quantity.Metre // height at which the light is wanted
	Clearance  quantity.Metre // between canopy and the lowest lamp, at least

	OneDimmer bool              // all lamps hang on one dimmer
	MayBeOff  bool              // lamps may be switched off
	Step      quantity.Fraction // of the dimmers; 0 means 5 %, Stepless none
	Stepless  bool
	Power     []lightaim.Curve // of each lamp; nil means in proportion to the dimming

	Tariff *energycost.Tariff // nil: that of the bench, or its price at all hours
	Dark   quantity.Hours     // whole dark period at least; 0: what the longest day of the limits leaves
	From   int                // quarters of the day between which light is allowed; equal: all day
	To     int
	Broken bool // light may come in stretches

	LampsFrom, LampsTo int // search this many lamps, hung evenly in rows; 0: those that hang there
}

// An AskError says what is wrong with an Ask, in a sentence for the grower.
type AskError struct{ Reason string }

// Error is the reason.
func (e *AskError) Error() string { return e.Reason }

func refuse(format string, args ...any) error { return &AskError{fmt.Sprintf(format, args...)} }

// Steps of the search, as in app/outlook: a grower turns a dimmer by 5 %, a timer
// by half an hour and a chain by 1 cm.
const (
	dimStep    = 0.05
	heightStep = 0.01
	hourStep   = 0.5
	layoutStep = 0.02 // heights while layouts are searched

	defaultTolerance = 0.1
	maxLamps         = 40
	outerNodes       = 150 // of branch and bound for each setting
)

// check refuses what makes no sense and fills in what was left open.
func (a *Ask) check(b *underlamp.Bench) error {
	given := func(v, lo, hi float64) bool { return v >= lo && v <= hi } // false for NaN
	switch {
	case len(b.Lamps) == 0:
		return refuse("the bench has no lamps")
	case len(b.Plants) == 0:
		return refuse("the bench has no plants to light")
	case (a.PPFD != 0) == (a.DLI != 0):
		return refuse("a target is either a PPFD or a DLI, and one of them must be given")
	case a.PPFD != 0 && !given(float64(a.PPFD), 1, 5000):
		return refuse("a target of %s is out of range (1 to 5000 µmol/m²/s)", quantity.PhotonFluxDensity.Format(float64(a.PPFD), b.Units, 4))
	case a.DLI != 0 && !given(float64(a.DLI), 0.1, 200):
		return refuse("a target of %s is out of range (0.1 to 200 mol/m²/d)", quantity.DailyIntegral.Format(float64(a.DLI), b.Units, 4))
	case !given(float64(a.Share), 0, 1):
		return refuse("a share of plants must lie between 0 and 100 %%")
	case a.Mean && a.Share > 0:
		return refuse("the target is either for the mean or for a share of the plants")
	case a.AtMost != 0 && !given(float64(a.AtMost), 1, 5000):
		return refuse("a greatest PPFD of %s is out of range", quantity.PhotonFluxDensity.Format(float64(a.AtMost), b.Units, 4))
	case !given(float64(a.Tolerance), 0, 0.9):
		return refuse("a tolerance must lie between 0 and 90 %%")
	case a.Sure != 0 && !given(float64(a.Sure), 0.5, 0.999):
		return refuse("a chance of reaching the target must lie between 50 and 99.9 %%")
	case !given(float64(a.Hours), 0, 24):
		return refuse("hours of light must lie between 0 and 24 h")
	case !given(float64(a.Step), 0, 0.5):
		return refuse("a step of the dimmers must lie between 0 and 50 %%")
	case !given(float64(a.Canopy), 0, float64(b.Space.Height)):
		return refuse("a canopy of %s does not fit into a space %s high", quantity.Length.Format(float64(a.Canopy), b.Units, 3), quantity.Length.Format(float64(b.Space.Height), b.Units, 3))
	case !given(float64(a.Clearance), 0, 5):
		return refuse("a clearance must lie between 0 and 5 m")
	case !given(float64(a.Dark), 0, 24):
		return refuse("a dark period must lie between 0 and 24 h")
	case a.LampsFrom < 0 || a.LampsTo < a.LampsFrom || a.LampsTo > maxLamps || a.LampsTo > 0 && a.LampsFrom == 0:
		return refuse("the number of lamps to try must lie between 1 and %d", maxLamps)
	case a.Power != nil && len(a.Power) != len(b.Lamps):
		return refuse("%d power curves for %d lamps", len(a.Power), len(b.Lamps))
	case a.Power != nil && a.LampsTo > 0:
		return refuse("power curves of single lamps and a search for their number cannot go together")
	}
	if a.Tolerance == 0 {
		a.Tolerance = defaultTolerance
	}
	if a.Sure == 0 {
		a.Sure = 0.5
	}
	if a.Step == 0 && !a.Stepless {
		a.Step = dimStep
	}
	if a.Stepless {
		a.Step = 0
	}
	if a.Dark == 0 {
		a.Dark = 24 - max(b.Limits.MaxHours.Value, a.Hours)
	}
	return nil
}

// target is the PPFD that each plant should have with so many hours of light, the
// margin for the doubt about the level included.
func (a *Ask) target(hours, sd float64) float64 {
	t := float64(a.PPFD)
	if a.DLI > 0 {
		t = float64(quantity.ConstantPPFD(a.DLI, quantity.Hours(hours)))
	}
	return t * math.Exp(sd*normalQuantile(float64(a.Sure)))
}

// normalQuantile is z with Φ(z) = p.
func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// normalCDF is Φ.
func normalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// chanceUnder is the chance that a level believed to be v, with relative standard
// deviation sd in the logarithm, is under want: Φ(ln(want/v)/sd).
func chanceUnder(v, want, sd float64) float64 {
	switch {
	case v <= 0:
		return 1
	case sd <= 0 && v < want:
		return 1
	case sd <= 0:
		return 0
	}
	return normalCDF(math.Log(want/v) / sd)
}
