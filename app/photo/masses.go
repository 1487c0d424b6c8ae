package photo

import (
	"fmt"
	"math"
	"slices"
	"time"

	"underlamp"
	"underlamp/science/allometry"
	"underlamp/science/quantity"
)

// A Weighed is a plant that was weighed.
type Weighed struct {
	Plant string
	At    time.Time
	Grams float64
}

// A Pair is a plant whose area was read and that was weighed on the same day.
type Pair struct {
	Plant string
	Day   string // YYYY-MM-DD
	Area  Figure
	Grams float64

	seen allometry.Seen
}

// A Mass is what a leaf area weighs.
type Mass struct {
	Grams     float64 // median
	Low, High float64 // of 90 %
	SD        float64 // as a weighing's error
	Shared    float64 // share of the spread of its logarithm that photos of one cultivar have in common
}

// pairs are the areas of plants that were weighed on the same day, the photo of the day that
// is nearest to the weighing.
func (b *Book) pairs(weighed []Weighed, zone *time.Location) []Pair {
	var out []Pair
	for _, w := range weighed {
		if !(w.Grams > 0) {
			continue
		}
		day := w.At.In(zone).Format(time.DateOnly)
		var best *Look
		for i := range b.looks {
			l := &b.looks[i]
			if l.Subject.Bench != b.Bench || l.Subject.Plant != w.Plant || l.Shot.Taken.In(zone).Format(time.DateOnly) != day {
				continue
			}
			if _, ok := l.Figure(Area); !ok || l.Refused != nil {
				continue
			}
			if best == nil || l.Shot.Taken.Sub(w.At).Abs() < best.Shot.Taken.Sub(w.At).Abs() {
				best = l
			}
		}
		if best == nil {
			continue
		}
		a, _ := best.Figure(Area)
		seen, ok := seenOf(best.Read)
		if ok && !slices.ContainsFunc(out, func(p Pair) bool { return p.Plant == w.Plant && p.Day == day }) {
			out = append(out, Pair{w.Plant, day, a, w.Grams, seen})
		}
	}
	return out
}

// Masses is what areas weigh, learned from pairs.
type Masses struct {
	Pairs    []Pair
	Curve    allometry.Curve
	Doubtful []Pair // weighed plants that do not fit what the others tell
}

// learnMasses learns from pairs, from what is published of lettuce on; other species have no
// curve. why says why there is none.
func learnMasses(species string, pairs []Pair) (m *Masses, why string) {
	if species != "lettuce" {
		return nil, "Leaf areas are told as masses for lettuce alone: of other species nothing was found to begin with."
	}
	var all []allometry.Weighed
	for _, p := range pairs {
		all = append(all, allometry.Weighed{Seen: p.seen, Grams: p.Grams})
	}
	c, err := allometry.Lettuce().Learn(all)
	if err != nil {
		return nil, "What areas weigh could not be learned: " + err.Error() + "."
	}
	m = &Masses{Pairs: pairs, Curve: c}
	if odd, err := allometry.Lettuce().Doubtful(all); err == nil {
		for i, p := range pairs {
			if _, ok := odd[i]; ok {
				m.Doubtful = append(m.Doubtful, p)
			}
		}
	}
	return m, ""
}

// seenOf is what a look tells that masses hang on.
func seenOf(r *Read) (allometry.Seen, bool) {
	a, ok := r.Figure(Area)
	if !ok || !(a.Value > 0) {
		return allometry.Seen{}, false
	}
	s := allometry.Seen{Area: a.Value, AreaSD: a.SD}
	if w, ok := r.Figure(Width); ok {
		s.Width = 10 * w.Value
	}
	return s, true
}

// Mass tells what a look weighs; nil with the reason if that cannot be told.
func (m *Masses) Mass(r *Read) (*Mass, string) {
	s, ok := seenOf(r)
	if !ok {
		return nil, ""
	}
	x, err := m.Curve.Mass(s, 0.9)
	if err != nil {
		return nil, err.Error()
	}
	return &Mass{Grams: x.Grams, Low: x.Lower, High: x.Upper, SD: x.ErrorGrams(), Shared: x.CurveSD / x.LogSD}, ""
}

// masses between which one from a photo stands in a cycle, days: those of one plant share the
// error of the curve, and more often would be taken for more than they tell.
const cycleEvery = 4

// AddMasses puts masses by area into the record of a crop, for learning: of each plant one in
// four days, never on a day on which it was weighed or within two days of it, nor after it was cut.
// Each carries its standard deviation as its instrument's, and says that it is from a
// photo. It returns how many.
func (b *Book) AddMasses(c *underlamp.Cycle, zone *time.Location) int {
	start, err := time.Parse(time.DateOnly, c.Transplanted)
	if err != nil {
		return 0
	}
	weighed := map[string][]int{}
	cut := map[string]int{}
	for _, o := range c.Observations {
		if o.Mass != nil {
			weighed[o.Plant] = append(weighed[o.Plant], o.Day)
		}
		if o.Cut {
			cut[o.Plant] = o.Day
		}
	}
	n := 0
	last := map[string]int{}
	for _, l := range b.Looks("") {
		if l.Refused != nil || l.Mass == nil || l.Day <= 0 || l.Subject.Plant == "" {
			continue
		}
		p := l.Subject.Plant
		if day, gone := cut[p]; gone && l.Day > day {
			continue
		}
		if slices.ContainsFunc(weighed[p], func(d int) bool { return d-l.Day < 3 && l.Day-d < 3 }) {
			continue
		}
		if day, seen := last[p]; seen && l.Day-day < cycleEvery {
			continue
		}
		last[p] = l.Day
		grams := quantity.Gram(twoFigures(l.Mass.Grams))
		sd := quantity.Gram(twoFigures(l.Mass.SD))
		c.Observations = append(c.Observations, underlamp.Observation{
			Name: fmt.Sprintf("photo-%.12s-%s", l.Shot.Finding.SHA256, l.Code), Plant: p, Day: l.Day, Date: start.AddDate(0, 0, l.Day).Format(time.DateOnly),
			Mass: &grams, MassError: sd, With: fmt.Sprintf("photo, ± %g g", float64(sd)), Note: "by its leaf area, " + l.Shot.Finding.Method,
		})
		n++
	}
	slices.SortStableFunc(c.Observations, func(a, b underlamp.Observation) int { return a.Day - b.Day })
	return n
}

// twoFigures leaves two figures.
func twoFigures(v float64) float64 {
	if !(v > 0) {
		return 0
	}
	k := math.Pow(10, math.Floor(math.Log10(v))-1)
	return math.Round(v/k) * k
}
