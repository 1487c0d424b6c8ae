package diagnosis

import (
	"fmt"
	"math"
	"slices"
)

// A Strength says by how much a state raises the odds of a cause, or lowers them.
type Strength int

// The strengths. Those against are the negative ones.
const (
	None Strength = iota
	Slight
	Fair
	Strong
	VeryStrong
)

// ranges are the factors of a strength for a cause, by Jaeschke1994; the end of the last
// is our own.
var ranges = [...][2]float64{None: {1, 1}, Slight: {1, 2}, Fair: {2, 5}, Strong: {5, 10}, VeryStrong: {10, 40}}

var strengthNames = [...]string{None: "nothing", Slight: "slight", Fair: "fair", Strong: "strong", VeryStrong: "very strong"}

// Range is the range of factors on the odds.
func (s Strength) Range() (low, high float64) {
	if s < 0 {
		r := ranges[-s]
		return 1 / r[1], 1 / r[0]
	}
	return ranges[s][0], ranges[s][1]
}

// Factor is the geometric mean of the range.
func (s Strength) Factor() float64 {
	low, high := s.Range()
	return math.Sqrt(low * high)
}

// String is the strength as a table says it: "strong for", "slight against".
func (s Strength) String() string {
	switch {
	case s > 0:
		return strengthNames[s] + " for"
	case s < 0:
		return strengthNames[-s] + " against"
	}
	return strengthNames[None]
}

// Strengths are all of them, from very strong for to very strong against.
func Strengths() []Strength {
	return []Strength{VeryStrong, Strong, Fair, Slight, None, -Slight, -Fair, -Strong, -VeryStrong}
}

// A Frequency says how often a cause is met before anything was seen.
type Frequency int

// The frequencies.
const (
	Rare Frequency = iota
	Seldom
	Usual
	Often
)

var frequencyNames = [...]string{"rare", "seldom", "usual", "often"}

// String is the word.
func (f Frequency) String() string { return frequencyNames[f] }

// Frequencies are all of them, from the rarest.
func Frequencies() []Frequency { return []Frequency{Rare, Seldom, Usual, Often} }

// weight is the prior, not normalised: our own, no source.
func (f Frequency) weight() float64 { return [...]float64{0.25, 0.5, 1, 2}[f] }

// priorFactor is how far a prior may be off either way, with 90 %.
const priorFactor = 2

// elseWeight is the prior of something that is not in the table.
const elseWeight = 1

// Else is the key of what is not in the table.
const Else = "else"

// A Cause is something that may be wrong.
type Cause struct {
	Key     string
	Name    string // "too little calcium reaches the heart leaves"
	Often   Frequency
	Because string // how it comes about, in a sentence or two
	Hidden  bool   // no record can show it: a pest, a disease
	Ask     string // who knows more; empty: nobody is named
	Again   int    // d after a change, when it can be seen whether it helped
	Changes []Change
	Sources []string // keys of works
}

// A Change is what may be done against a cause.
type Change struct {
	Text string
	Try  string // what a forecast can be made of, in words of the caller; empty: nothing
}

// A Kind says where a finding comes from.
type Kind int

// The kinds.
const (
	Symptom Kind = iota // picked from drawings
	Answer              // of a question
	Record              // of the bench
)

var kindNames = [...]string{"symptom", "question", "record"}

// String is the word.
func (k Kind) String() string { return kindNames[k] }

// Kinds are all of them.
func Kinds() []Kind { return []Kind{Symptom, Answer, Record} }

// A Finding is one thing that may be found.
type Finding struct {
	Key    string
	Name   string // "VPD by day"
	Kind   Kind
	Ask    string // the question; empty: it cannot be asked
	Look   string // what to do to find it: "lift a plant and look at the roots"
	Unit   string // of the bounds
	States []State
	Bounds []float64 // of a record, between one state and the next, ascending; none for others
	Blur   float64   // of a record: the standard deviation of a bound, in its unit
}

// State is the index of a state; −1 if there is none of the key.
func (f *Finding) State(key string) int {
	return slices.IndexFunc(f.States, func(s State) bool { return s.Key == key })
}

// Askable says that a person can be asked.
func (f *Finding) Askable() bool { return f.Ask != "" }

// Of is how far a value belongs to each state: bounds are blurred, for no plant knows them
// to the digit, and so is the value, whose standard deviation is sd.
func (f *Finding) Of(v, sd float64) []float64 {
	out := make([]float64, len(f.States))
	s := math.Hypot(f.Blur, sd)
	below := func(bound float64) float64 {
		if s == 0 {
			if v < bound {
				return 1
			}
			return 0
		}
		return 0.5 * math.Erfc((v-bound)/(s*math.Sqrt2))
	}
	last := 0.0
	for i := range out {
		p := 1.0
		if i < len(f.Bounds) {
			p = below(f.Bounds[i])
		}
		out[i] = max(p-last, 0)
		last = max(p, last)
	}
	return out
}

// A State is one of the ways in which a finding can be.
type State struct {
	Key   string
	Name  string  // "brown and slimy"
	Share float64 // of all troubled benches; over the states of a finding 1
	Rows  []Row
}

// A Row says what a state tells of a cause.
type Row struct {
	Cause    string // key
	Strength Strength
	Why      string   // in a few words
	Sources  []string // keys of works; empty: common practice, no source
}

// A Table is all that is known.
type Table struct {
	Causes   []Cause
	Findings []Finding
}

// Cause finds a cause by its key; nil if there is none.
func (t *Table) Cause(key string) *Cause {
	i := slices.IndexFunc(t.Causes, func(c Cause) bool { return c.Key == key })
	if i < 0 {
		return nil
	}
	return &t.Causes[i]
}

// Finding finds a finding by its key; nil if there is none.
func (t *Table) Finding(key string) *Finding {
	i := slices.IndexFunc(t.Findings, func(f Finding) bool { return f.Key == key })
	if i < 0 {
		return nil
	}
	return &t.Findings[i]
}

// Rows counts the rows.
func (t *Table) Rows() int {
	n := 0
	for _, f := range t.Findings {
		for _, s := range f.States {
			n += len(s.Rows)
		}
	}
	return n
}

// Check says what does not fit in a table, in a sentence; nil if all does.
func (t *Table) Check() error {
	if len(t.Causes) == 0 || len(t.Findings) == 0 {
		return fmt.Errorf("a table needs causes and findings")
	}
	seen := map[string]bool{Else: true}
	for _, c := range t.Causes {
		if c.Key == "" || seen[c.Key] {
			return fmt.Errorf("cause %q has no key of its own", c.Name)
		}
		seen[c.Key] = true
	}
	found := map[string]bool{}
	for _, f := range t.Findings {
		if f.Key == "" || found[f.Key] {
			return fmt.Errorf("finding %q has no key of its own", f.Name)
		}
		found[f.Key] = true
		if len(f.States) < 2 {
			return fmt.Errorf("%s has %d states, and needs two", f.Key, len(f.States))
		}
		if n := len(f.Bounds); n != 0 && n != len(f.States)-1 || !slices.IsSorted(f.Bounds) {
			return fmt.Errorf("%s has %d bounds for %d states; between two states lies one, and they rise", f.Key, n, len(f.States))
		}
		if f.Kind == Record && len(f.Bounds) == 0 && !f.Askable() && f.Look == "" {
			return fmt.Errorf("%s is a record without bounds", f.Key)
		}
		sum := 0.0
		states := map[string]bool{}
		for _, s := range f.States {
			if s.Key == "" || states[s.Key] {
				return fmt.Errorf("%s has a state %q without a key of its own", f.Key, s.Name)
			}
			states[s.Key] = true
			if !(s.Share > 0 && s.Share < 1) {
				return fmt.Errorf("%s: the share of %s is %g; it lies between 0 and 1", f.Key, s.Key, s.Share)
			}
			sum += s.Share
			rows := map[string]bool{}
			for _, r := range s.Rows {
				if t.Cause(r.Cause) == nil {
					return fmt.Errorf("%s, %s: there is no cause %q", f.Key, s.Key, r.Cause)
				}
				if rows[r.Cause] {
					return fmt.Errorf("%s, %s: %s stands twice", f.Key, s.Key, r.Cause)
				}
				rows[r.Cause] = true
			}
		}
		if math.Abs(sum-1) > 1e-6 {
			return fmt.Errorf("the shares of %s add up to %g, not to 1", f.Key, sum)
		}
	}
	return nil
}
