package layout

import (
	"fmt"
	"math/bits"
	"slices"
	"strings"

	"underlamp/science/stat"
)

// A Word is a product of factors, as an effect or a word of a defining relation: bit i is
// factor i. The word 0 is I, the mean.
type Word uint32

// Length is the number of factors in the word.
func (w Word) Length() int { return bits.OnesCount32(uint32(w)) }

// letters of factors: I is the mean.
const letters = "ABCDEFGHJKLMNOPQRSTUVWXYZ"

// String writes the word with the letters A, B, C …, I left out; I alone is the mean.
func (w Word) String() string {
	if w == 0 {
		return "I"
	}
	var b strings.Builder
	for i := range len(letters) {
		if w>>i&1 == 1 {
			b.WriteByte(letters[i])
		}
	}
	return b.String()
}

// In writes the word with the names of factors, joined by ×.
func (w Word) In(names []string) string {
	var l []string
	for i, n := range names {
		if w>>i&1 == 1 {
			l = append(l, n)
		}
	}
	if len(l) == 0 {
		return "mean"
	}
	return strings.Join(l, " × ")
}

// A Fraction is a regular fraction 2^(k−p) of the runs of k factors with two levels. Its
// first k − p factors run through all combinations; each further one is the product of
// those in its generator.
type Fraction struct {
	Factors    int
	Generators []Word // of the factors k − p, k − p + 1, …; over the first k − p factors
}

// MostFactors and MostRuns are the limits of [BestFraction].
const (
	MostFactors = 10
	MostRuns    = 32
)

// BestFraction goes through all regular fractions of 2^(factors−p) runs and returns one
// of minimum aberration: that of greatest resolution with the fewest words of that length,
// then of the next (FriesHunter1980). p = 0 is the complete factorial.
func BestFraction(factors, p int) (Fraction, error) {
	q := factors - p
	switch {
	case factors < 2 || factors > MostFactors:
		return Fraction{}, stat.Refuse("a fraction", "it takes 2 to %d factors", MostFactors)
	case p < 0 || q < 1 || factors > 1<<q-1:
		return Fraction{}, stat.Refuse("a fraction", "%d factors need at least %d runs, or effects of single factors cannot be told apart", factors, 1<<bits.Len(uint(factors)))
	case 1<<q > MostRuns && p > 0:
		return Fraction{}, stat.Refuse("a fraction", "fractions of more than %d runs are not looked for", MostRuns)
	}
	var words []Word
	for w := Word(1); w < 1<<q; w++ {
		if w.Length() > 1 {
			words = append(words, w)
		}
	}
	slices.SortStableFunc(words, func(a, b Word) int { return b.Length() - a.Length() })
	best := Fraction{Factors: factors}
	var lengths []int
	var pick func(at []Word, next int)
	pick = func(at []Word, next int) {
		if len(at) == p {
			f := Fraction{factors, at}
			if l := f.WordLengths(); lengths == nil || slices.Compare(l, lengths) < 0 {
				best.Generators, lengths = slices.Clone(at), l
			}
			return
		}
		for i := next; i < len(words); i++ {
			pick(append(at, words[i]), i+1)
		}
	}
	pick(nil, 0)
	return best, nil
}

// base is the number of factors that run through all combinations.
func (f Fraction) base() int { return f.Factors - len(f.Generators) }

// Defining returns the words that equal I, without I itself, the shortest first.
func (f Fraction) Defining() []Word {
	words := []Word{0}
	for i, g := range f.Generators {
		w := g | 1<<(f.base()+i)
		for _, x := range slices.Clone(words) {
			words = append(words, x^w)
		}
	}
	words = words[1:]
	slices.SortFunc(words, byLength)
	return words
}

func byLength(a, b Word) int {
	if d := a.Length() - b.Length(); d != 0 {
		return d
	}
	return strings.Compare(a.String(), b.String())
}

// Relation writes the defining relation as I = ABD = ….
func (f Fraction) Relation() string {
	l := []string{"I"}
	for _, w := range f.Defining() {
		l = append(l, w.String())
	}
	return strings.Join(l, " = ")
}

// WordLengths counts the words of the defining relation by length, from length 1 on.
func (f Fraction) WordLengths() []int {
	n := make([]int, f.Factors)
	for _, w := range f.Defining() {
		n[w.Length()-1]++
	}
	return n
}

// Resolution is the length of the shortest word of the defining relation; 0 for the
// complete factorial, which has none.
func (f Fraction) Resolution() int {
	for i, n := range f.WordLengths() {
		if n > 0 {
			return i + 1
		}
	}
	return 0
}

// Aliases returns the effects that cannot be told from one, itself left out, the
// shortest first. 0, the mean, may be among them.
func (f Fraction) Aliases(effect Word) []Word {
	var out []Word
	for _, w := range f.Defining() {
		out = append(out, effect^w)
	}
	slices.SortFunc(out, byLength)
	return out
}

// Strings groups the effects of up to order factors by what the fraction cannot tell
// apart; each effect stands in one group, the shortest first.
func (f Fraction) Strings(order int) [][]Word {
	seen := map[Word]bool{0: true}
	for _, w := range f.Defining() {
		seen[w] = true
	}
	var all []Word
	for w := Word(1); w < 1<<f.Factors; w++ {
		if w.Length() <= order {
			all = append(all, w)
		}
	}
	slices.SortFunc(all, byLength)
	var out [][]Word
	for _, w := range all {
		if seen[w] {
			continue
		}
		group := []Word{w}
		seen[w] = true
		for _, a := range f.Aliases(w) {
			if a.Length() <= order && !seen[a] {
				group = append(group, a)
			}
			seen[a] = true
		}
		out = append(out, group)
	}
	return out
}

// Runs returns the level, 0 or 1, of each factor in each run, in standard order. The
// signs flip the last factors: bit i gives the generator i the other half of the runs.
func (f Fraction) Runs(signs uint32) [][]int {
	q := f.base()
	out := make([][]int, 1<<q)
	for r := range out {
		out[r] = make([]int, f.Factors)
		for i := range q {
			out[r][i] = r >> i & 1
		}
		for i, g := range f.Generators {
			// The product of ±1 with level 1 as +1: even words begin at −1·−1 = +1.
			minus := 0
			for j := range q {
				if g>>j&1 == 1 && out[r][j] == 0 {
					minus++
				}
			}
			out[r][q+i] = 1 - minus%2
			if signs>>i&1 == 1 {
				out[r][q+i] ^= 1
			}
		}
	}
	return out
}

// Factorial returns all combinations of levels, the first factor changing slowest.
func Factorial(levels []int) ([][]int, error) {
	n := 1
	for i, l := range levels {
		if l < 2 {
			return nil, stat.Refuse("a factorial", "factor %d has one level", i+1)
		}
		if n *= l; n > 1000 {
			return nil, stat.Refuse("a factorial", "there are more than 1000 combinations")
		}
	}
	out := make([][]int, n)
	for r := range out {
		out[r] = make([]int, len(levels))
		x := r
		for i := len(levels) - 1; i >= 0; i-- {
			out[r][i] = x % levels[i]
			x /= levels[i]
		}
	}
	return out, nil
}

// Halves splits the runs of a two-level factorial into two blocks that differ in the
// interaction of all factors alone: that interaction is confounded with blocks, and
// nothing else is.
func Halves(factors int) ([2][]int, error) {
	var out [2][]int
	if factors < 2 || factors > MostFactors {
		return out, fmt.Errorf("a factorial in two blocks has 2 to %d factors, not %d", MostFactors, factors)
	}
	for r := range 1 << factors {
		half := bits.OnesCount(uint(r)) % 2
		out[half] = append(out[half], r)
	}
	return out, nil
}
