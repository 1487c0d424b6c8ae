package stat

import (
	"fmt"
	"math"
)

// A Factor sorts units into levels.
type Factor struct {
	Name   string
	Levels []string
	Of     []int // the level of each unit, an index into Levels
}

// NewFactor sorts units by their labels. Levels stand in the order of their first
// unit.
func NewFactor(name string, labels []string) Factor {
	f := Factor{Name: name, Of: make([]int, len(labels))}
	seen := map[string]int{}
	for i, l := range labels {
		k, ok := seen[l]
		if !ok {
			k = len(f.Levels)
			seen[l] = k
			f.Levels = append(f.Levels, l)
		}
		f.Of[i] = k
	}
	return f
}

// Counts returns the number of units in each level.
func (f Factor) Counts() []int {
	n := make([]int, len(f.Levels))
	for _, k := range f.Of {
		n[k]++
	}
	return n
}

// Split returns the values of each level, in the order of the units.
func (f Factor) Split(values []float64) [][]float64 {
	out := make([][]float64, len(f.Levels))
	for i, k := range f.Of {
		out[k] = append(out[k], values[i])
	}
	return out
}

// Cross returns the factor whose levels are the pairs of levels that occur,
// written "a:b".
func Cross(a, b Factor) Factor {
	labels := make([]string, len(a.Of))
	for i := range labels {
		labels[i] = a.Levels[a.Of[i]] + ":" + b.Levels[b.Of[i]]
	}
	return NewFactor(a.Name+":"+b.Name, labels)
}

// Check says what is wrong with values and factors that are handed in together:
// different lengths, a value that is no number, a level that does not exist. It
// is an error of the caller and not a [*Refusal].
func Check(values []float64, factors ...Factor) error {
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("value %d is not a finite number; leave missing units out", i+1)
		}
	}
	for _, f := range factors {
		if len(f.Of) != len(values) {
			return fmt.Errorf("factor %q has %d units and there are %d values", f.Name, len(f.Of), len(values))
		}
		for i, k := range f.Of {
			if k < 0 || k >= len(f.Levels) {
				return fmt.Errorf("factor %q puts unit %d into level %d of %d", f.Name, i+1, k, len(f.Levels))
			}
		}
	}
	return nil
}
