package handwritten

import (
	"slices"
	"strings"
)

// keysOf are the keys of a section. It panics on a name that the grammar does
// not have.
func (r *Reader) keysOf(name string) []string {
	for _, s := range r.Grammar.Sections {
		if s.Name == name {
			return s.Keys
		}
	}
	panic("handwritten: Mapping: no section " + name)
}

// Normal brings the spellings of a key to one: "Start_mass" is "start mass".
func Normal(key string) string {
	key = strings.NewReplacer("_", " ", "-", " ").Replace(strings.ToLower(key))
	return strings.Join(strings.Fields(key), " ")
}

// suggest finds the key that was probably meant: another word for it, then the
// nearest spelling; empty if none is near.
func (r *Reader) suggest(key string, known []string) string {
	key = Normal(key)
	if also := r.Grammar.Also[key]; slices.Contains(known, also) {
		return also
	}
	return Nearest(key, known)
}

// elsewhere names the part of the file in which the key would be right.
func (r *Reader) elsewhere(key string) string {
	for _, s := range r.Grammar.Sections {
		if s.Name != "" && !r.Grammar.Home[s.Name] && slices.Contains(s.Keys, Normal(key)) {
			return s.Name
		}
	}
	return ""
}

// Nearest finds the word with the fewest edits, at most one for every three
// letters; empty if none is that near. Of equals the first counts.
func Nearest(word string, words []string) string {
	best, found := len([]rune(word))/3+1, ""
	if len(word) > 40 {
		return ""
	}
	for _, w := range words {
		if d := edits(word, Normal(w)); d < best || d == best && found == "" && d <= max(1, len([]rune(word))/3) {
			best, found = d, w
		}
	}
	return found
}

// edits counts the fewest insertions, deletions, replacements and swaps of
// neighbours that turn a into b (optimal string alignment).
func edits(a, b string) int {
	x, y := []rune(a), []rune(b)
	before, row := make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(x); i++ {
		next := make([]int, len(y)+1)
		next[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			next[j] = min(row[j]+1, next[j-1]+1, row[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				next[j] = min(next[j], before[j-2]+1)
			}
		}
		before, row = row, next
	}
	return row[len(y)]
}
