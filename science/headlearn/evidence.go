package headlearn

import (
	"underlamp/science/calcium"
	"underlamp/science/headcycle"
)

// Evidence is what was seen in the cycles of one cultivar in one room.
type Evidence struct {
	Cycles []Cycle
}

// A Cycle is one crop: all plants were transplanted on one day.
type Cycle struct {
	Name string
	Days int // days followed: at least the day of its last observation

	Stages []Stage         // by day; the first from day 0
	Start  headcycle.Start // of every plant

	// StartSD is how well the start mass is known, as the standard deviation of its
	// logarithm: 0.05 for one that was weighed, 0.3 for one that was assumed.
	StartSD float64

	Plants []Plant
	Counts []Count

	// Series names cycles that follow each other in the same air from the same start, in
	// about the same lights, such as the blocks of a trial: they are computed together, in
	// the lights of all of them. Cycles whose air or start differ are computed each by itself
	// whatever it says; so are those without a series.
	Series string
}

// A Stage is the air and feed from a day on, until the next stage begins.
type Stage struct {
	FromDay     int // the first day that it holds for, from 0: the day that begins with transplanting
	Environment headcycle.Environment
}

// A Plant is what was seen of one plant, or of the mean of several in equal light.
type Plant struct {
	Name  string
	Light []headcycle.Profile // one a stage of the cycle
	Of    int                 // number of plants that this is the mean of; 0 means 1

	// SharedSD is the standard deviation of the logarithm that all plants of a mean share
	// beyond what their cycle shares, such as that of their lamp or shelf; 0: none. It does
	// not fall with their number.
	SharedSD float64

	Weighings []Weighing
	Heights   []Height
	Burns     []Burn
}

// A Weighing is a mass of a shoot, cut or living.
type Weighing struct {
	Day        int
	FreshGrams float64 // 0: not weighed
	DryGrams   float64 // 0: not dried
	ErrorGrams float64 // standard deviation of the scale; 0: 1 g, and 0.01 g for dry mass (assumed)
}

// A Height is that of a canopy over the planting surface.
type Height struct {
	Day         int
	Metres      float64
	ErrorMetres float64 // standard deviation; 0: 5 mm (assumed)
}

// A Burn is what was seen of inner tipburn on one plant and day: that the burnt
// leaves lay between two bounds. Make one with [Sound], [Seen], [BurntLeaves],
// [BurntShare] or [Severity].
type Burn struct {
	Day       int
	Low, High Extent // at least, and less than
}

// An Extent of burn is a number of leaves and a share of all leaves, whichever is
// more: an Extent of 1 leaf is the first that is seen.
type Extent struct {
	Leaves float64
	Share  float64 // 0 to 1
}

// A Count is how many of a number of plants had inner tipburn on a day. Plants that
// have a record of their own must not be counted again.
type Count struct {
	Day       int
	Burnt, Of int
	Light     []headcycle.Profile // mean of those plants, one a stage; nil: mean of all plants of the cycle

	// Weight is what each plant of the count tells, from 0 to 1: less than 1 where they share
	// more than their cycle, such as a lamp. With a correlation ρ within n plants it is
	// 1/(1 + (n−1)ρ), the inverse of the design effect. 0 means 1.
	Weight float64
}

// Sound says that no burn was seen on a day.
func Sound(day int) Burn { return Burn{Day: day, High: Extent{Leaves: 1}} }

// Seen says that burn was seen on a day, on however many leaves.
func Seen(day int) Burn { return Burn{Day: day, Low: Extent{Leaves: 1}, High: all} }

// all is more than any plant can show.
var all = Extent{Leaves: 1e9, Share: 2}

// BurntLeaves says how many leaves were burnt. 0 is [Sound].
func BurntLeaves(day, burnt int) Burn {
	if burnt <= 0 {
		return Sound(day)
	}
	return Burn{Day: day, Low: Extent{Leaves: max(float64(burnt)-0.5, 1)}, High: Extent{Leaves: float64(burnt) + 0.5}}
}

// BurntShare says which share of all leaves was burnt, from 0 to 1, counted or as it is
// judged by eye: within a factor of 1.25 either way (assumed). 0 is [Sound].
func BurntShare(day int, share float64) Burn {
	if share <= 0 {
		return Sound(day)
	}
	return Burn{Day: day, Low: Extent{Leaves: 1, Share: share / 1.25}, High: Extent{Leaves: 1.5, Share: share * 1.25}}
}

// MaxSeverity is the highest class of [Severity].
const MaxSeverity = 5

// Severity says burn by the grades of calcium.Heart.Severity: 0 none, 1 a leaf or two,
// 2 to 5 from 5, 15, 30 and 50 % of the leaves. Grades outside 0 to 5 are taken as the
// nearest.
func Severity(day, grade int) Burn {
	grade = min(max(grade, 0), MaxSeverity)
	from := func(g int) Extent {
		switch {
		case g <= 0:
			return Extent{}
		case g > MaxSeverity:
			return all
		}
		return Extent{Leaves: 1, Share: calcium.SeverityFrom(g)}
	}
	return Burn{Day: day, Low: from(grade), High: from(grade + 1)}
}
