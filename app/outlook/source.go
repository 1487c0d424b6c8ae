package outlook

import (
	"fmt"

	"underlamp"
	"underlamp/science/headcycle"
	"underlamp/science/headlearn"
	"underlamp/science/quantity"
)

// A Source draws possible plants of a crop: what is usual for the species, or what
// was learned. The same seed gives the same plants.
type Source interface {
	Traits(n int, seed uint64) []headcycle.Traits
}

// usual draws plants from what is published of a species.
type usual struct {
	central headcycle.Traits
	spread  headcycle.Spread
}

// Traits draws n plants.
func (u usual) Traits(n int, seed uint64) []headcycle.Traits {
	return u.spread.Draws(u.central, n, seed)
}

// Usual is the source of a bench about whose crop nothing was learned.
func Usual(b *underlamp.Bench) Source {
	return usual{central(b), widened(b, headcycle.LettuceSpread())}
}

// Prior is what is held of the crop of a bench before any of its cycles was seen.
func Prior(b *underlamp.Bench) headlearn.Prior {
	p := headlearn.LettucePrior(central(b))
	p.Between = widened(b, p.Between)
	return p
}

// SourceOf is the source of a bench: its profile, or [Usual].
func SourceOf(b *underlamp.Bench) (Source, error) {
	p := b.Crop.Profile
	if p == nil {
		return Usual(b), nil
	}
	learned, err := headlearn.FromSummary(p.Summary, Prior(b))
	if err != nil {
		return nil, fmt.Errorf("the profile %s cannot be used: %w; let underlamp learn write it anew", p.File, err)
	}
	return learned, nil
}

// Environment is the air and feed of a bench at a length of day, as the plants of
// the outlook meet them.
func Environment(b *underlamp.Bench, day quantity.Hours) headcycle.Environment {
	return environment(b, day)
}

// Start is how the plants of a bench begin.
func Start(b *underlamp.Bench) headcycle.Start { return start(b) }

// Profile takes a profile of light by height apart that package light gave for
// [Levels] of [LevelSpacing].
func Profile(both []float64) headcycle.Profile { return profileOf(both) }

// The heights at which the light over the canopy is computed: [Levels] of them, in
// steps of [LevelSpacing] m from the planting surface.
const (
	Levels       = levelCount
	LevelSpacing = levelSpacing
)
