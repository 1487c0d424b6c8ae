package photo

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/science/plantfigure"
	"underlamp/store"
)

// A Shot is a photo with what was read in it.
type Shot struct {
	ID    string
	Taken time.Time
	Named string // the plant that whoever took it named; empty: none

	Finding *Finding   // by the newest method; nil: not read yet
	Older   []*Finding // by earlier methods, the newest first
}

// A Look is one plant in one photo.
type Look struct {
	Shot *Shot
	*Read
	Subject Subject
	Day     int // after transplanting; -1: not known

	// Brown is the share of leaf area that looks burnt, by the verdicts so far; nil: no
	// leaf area was measured.
	Brown  *Brown
	Mass   *Mass  // what the area weighs; nil: not known
	NoMass string // why it is not
}

// A Brown is what the candidates of a look come to.
type Brown struct {
	Chances              []float64 // that a person would call the spot burnt, by spot
	Said                 []*bool   // what a person said, by spot; nil: nothing
	Shares               [2]Figure // inner and outer: area of spots, weighed with their chance, over leaf area
	Open, Burnt, Refused int       // candidates by what was said
}

// A Book is the photos of a bench, by plant through time.
type Book struct {
	Bench    string
	Shots    []*Shot // in time
	Verdicts []Verdict
	Burn     plantfigure.BurnModel // after the verdicts
	Masses   *Masses               // nil: none can be told
	NoMasses string                // why there are none

	looks []Look // in time
}

// Kept is all that a store keeps of the photos of a bench.
type Kept struct {
	Photos   []store.Photo
	Measures []store.Measure
	Verdicts []store.Verdict      // on photos of all benches whose cultivar is the same
	Named    map[string]string    // id of a photo → plant that was named
	When     map[string]time.Time // id of a photo → when, as an entry says
	Weighed  []Weighed
}

// NewBook puts what is kept in order. What cannot be read is told and left out. Zone is that
// of the days; register finds what codes stand for.
func NewBook(bench string, b *underlamp.Bench, k Kept, register Register, zone *time.Location) (*Book, []error) {
	out := &Book{Bench: bench}
	var faults []error
	found := map[string][]*Finding{}
	for _, m := range k.Measures {
		f, err := ReadFinding(m.Doc)
		if err != nil {
			faults = append(faults, fmt.Errorf("photo %s: %w", m.Photo, err))
			continue
		}
		f.Method = m.Method
		found[m.Photo] = append(found[m.Photo], f)
	}
	for _, p := range k.Photos {
		s := &Shot{ID: p.ID, Taken: store.Time(p.At), Named: k.Named[p.ID]}
		if t, ok := k.When[p.ID]; ok {
			s.Taken = t
		}
		if all := found[p.ID]; len(all) > 0 {
			slices.SortStableFunc(all, func(a, b *Finding) int { return -compareMethods(a.Method, b.Method) })
			s.Finding, s.Older = all[0], all[1:]
			if !s.Finding.Taken.IsZero() {
				s.Taken = s.Finding.Taken
			}
		}
		out.Shots = append(out.Shots, s)
	}
	slices.SortStableFunc(out.Shots, func(a, b *Shot) int { return cmp.Or(a.Taken.Compare(b.Taken), cmp.Compare(a.ID, b.ID)) })
	for _, v := range k.Verdicts {
		x, err := ReadVerdict(v)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		out.Verdicts = append(out.Verdicts, x)
	}
	var err error
	if out.Burn, err = LearnBurn(out.Verdicts); err != nil {
		faults = append(faults, err)
		out.Burn = plantfigure.UsualBurn()
	}
	said := map[string]bool{}
	for _, v := range out.Verdicts {
		said[v.Photo+" "+v.Spot] = v.Burnt
	}
	start, err := time.Parse(time.DateOnly, b.Crop.Transplanted)
	dated := err == nil
	for _, s := range out.Shots {
		if s.Finding == nil {
			continue
		}
		for i := range s.Finding.Reads {
			l := Look{Shot: s, Read: &s.Finding.Reads[i], Day: -1}
			l.Subject = register[l.Code]
			if dated {
				y, m, d := s.Taken.In(zone).Date()
				l.Day = int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Sub(start).Hours() / 24)
			}
			l.Brown = brownOf(l.Read, out.Burn, s.ID, said)
			out.looks = append(out.looks, l)
		}
	}
	out.Masses, out.NoMasses = learnMasses(string(b.Crop.Species.Value), out.pairs(k.Weighed, zone))
	for i := range out.looks {
		l := &out.looks[i]
		if out.Masses != nil && l.Subject.Bench == bench && l.Refused == nil {
			l.Mass, l.NoMass = out.Masses.Mass(l.Read)
		}
	}
	return out, faults
}

// compareMethods puts "plantphoto 2" before "plantphoto 10".
func compareMethods(a, b string) int {
	number := func(s string) (string, float64) {
		i := strings.LastIndexByte(s, ' ')
		var v float64
		if _, err := fmt.Sscan(s[i+1:], &v); i < 0 || err != nil {
			return s, 0
		}
		return s[:i], v
	}
	an, av := number(a)
	bn, bv := number(b)
	if an != bn {
		return cmp.Compare(an, bn)
	}
	return cmp.Compare(av, bv)
}

// brownOf weighs the candidates of a look.
func brownOf(r *Read, m plantfigure.BurnModel, photo string, said map[string]bool) *Brown {
	area, ok := r.Figure(Area)
	if !ok || area.Value <= 0 {
		return nil
	}
	b := &Brown{}
	var sum, vary [2]float64
	for _, s := range r.Spots {
		p, sd := m.Chance(s.Seen)
		if v, ok := said[photo+" "+s.ID]; ok {
			b.Said = append(b.Said, &v)
			p, sd = 0, 0
			if v {
				p = 1
				b.Burnt++
			} else {
				b.Refused++
			}
		} else {
			b.Said = append(b.Said, nil)
			b.Open++
		}
		b.Chances = append(b.Chances, p)
		zone := 1
		if s.Inner {
			zone = 0
		}
		share := s.Area / 100 / area.Value
		sum[zone] += p * share
		vary[zone] += share * share * (p*(1-p) + sd*sd)
	}
	for z, q := range []Quantity{BrownInner, BrownOuter} {
		b.Shares[z] = Figure{What: q, Value: sum[z], SD: math.Hypot(math.Sqrt(vary[z]), sum[z]*area.SD/area.Value)}
	}
	return b
}

// Looks are those of a plant in time; of all plants if the name is empty. Those of the
// same bench alone.
func (b *Book) Looks(plant string) []Look {
	var out []Look
	for _, l := range b.looks {
		if l.Subject.Bench == b.Bench && (plant == "" || l.Subject.Plant == plant) {
			out = append(out, l)
		}
	}
	return out
}

// All are the looks of every label in time, those of other benches and unknown ones too.
func (b *Book) All() []Look { return slices.Clone(b.looks) }

// Shot finds a photo.
func (b *Book) Shot(id string) (*Shot, bool) {
	i := slices.IndexFunc(b.Shots, func(s *Shot) bool { return s.ID == id })
	if i < 0 {
		return nil, false
	}
	return b.Shots[i], true
}

// Of are the looks in one photo.
func (b *Book) Of(id string) []Look {
	var out []Look
	for _, l := range b.looks {
		if l.Shot.ID == id {
			out = append(out, l)
		}
	}
	return out
}

// Plants are the names of plants of the bench that were measured, in the order of names.
func (b *Book) Plants() []string {
	var out []string
	for _, l := range b.Looks("") {
		if l.Refused == nil && !slices.Contains(out, l.Subject.Plant) {
			out = append(out, l.Subject.Plant)
		}
	}
	return out
}

// Stale says that a photo is to be read by a method: it was not read yet, or by an earlier
// one alone.
func Stale(photo string, measures []store.Measure, method string) bool {
	return !slices.ContainsFunc(measures, func(m store.Measure) bool { return m.Photo == photo && m.Method == method })
}

// Until leaves out looks of later days.
func (b *Book) Until(day time.Time) {
	end := day.AddDate(0, 0, 1)
	b.looks = slices.DeleteFunc(b.looks, func(l Look) bool { return !l.Shot.Taken.Before(end) })
}
