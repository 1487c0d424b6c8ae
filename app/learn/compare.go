package learn

import (
	"context"
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/science/headcycle"
	"underlamp/science/quantity"
)

// A Comparison is a cycle, finished or running, beside what the outlook said of it: at
// transplanting, knowing only how the bench was then set (planned), and with what was changed
// since (run). Intervals hold 90 % of the draws.
type Comparison struct {
	Bench *underlamp.Bench
	Begun *underlamp.Bench // as it was set at transplanting
	Cycle *underlamp.Cycle
	Name  string
	Last  int // day of the last observation, or of harvest

	Course    []CourseDay // from day 1 to Last, of the mean plant
	Weighings []Weighing
	Means     []MeanMass // by day on which plants were weighed
	Burn      *BurnSeen  // nil: nobody looked

	PlannedKWh, RunKWh quantity.KilowattHour // of the lamps until Last
	Draws              int
	Notes              []string
}

// A CourseDay is the fresh mass and the share of heads with burn that were said of a day.
type CourseDay struct {
	Day          int
	Planned, Run outlook.Band // g
}

// A Weighing is a plant that was weighed, with what was said of that plant.
type Weighing struct {
	Plant, Date  string
	Day          int
	Mass         float64 // g
	Planned, Run outlook.Band
	Cut          bool
}

// Inside says that it lies in the band of the outlook with the changes that were made.
func (w Weighing) Inside() bool { return w.Mass >= w.Run.Low && w.Mass <= w.Run.High }

// A MeanMass is the mean of the plants that were weighed on a day.
type MeanMass struct {
	Day, Of      int
	Date         string
	Mass         float64
	Planned, Run outlook.Band // of that mean
}

// BurnSeen is inner burn at the last look at each head.
type BurnSeen struct {
	Burnt, Of    int
	Day          int          // of the last look
	Planned, Run outlook.Band // share of those heads; the middle is the mean
}

// compareDraws are those of [Compare], if nobody asks for a number.
const compareDraws = 400

// Compare holds a cycle against the outlook of the bench. A bench whose profile was learned of
// this very cycle is taken without it, which is noted: a forecast is not held against what it
// was made of.
func Compare(ctx context.Context, m *light.Model, c *underlamp.Cycle, draws int) (*Comparison, error) {
	b := m.Bench()
	if err := outlook.Supported(b); err != nil {
		return nil, err
	}
	if draws <= 0 {
		draws = compareDraws
	}
	out := &Comparison{Bench: b, Cycle: c, Name: Name(c), Last: c.LastDay(), Draws: draws}
	if out.Last < 1 {
		return nil, fmt.Errorf("the cycle %s tells nothing after the day of transplanting", Name(c))
	}
	var from outlook.Source
	var err error
	if p := b.Crop.Profile; p != nil && slices.ContainsFunc(p.Cycles, func(l underlamp.LearnedCycle) bool { return l.Transplanted == c.Transplanted }) {
		plain := *b
		plain.Crop.Profile = nil
		from = outlook.Usual(&plain)
		out.Notes = append(out.Notes, fmt.Sprintf("The profile %s was learned of this cycle too, so the outlook beside it is that of plants as usual.", p.Name))
	} else if from, err = outlook.SourceOf(b); err != nil {
		return nil, err
	}
	r := newRoom(m)
	start, _ := r.start(c)
	traits, factors := from.Traits(draws, outlook.Seed), outlook.LightFactors(m, draws)
	planned, err := r.stages(c, 0)
	if err != nil {
		return nil, err
	}
	run, err := r.stages(c, out.Last)
	if err != nil {
		return nil, err
	}
	out.Begun = planned[0].bench
	out.PlannedKWh, out.RunKWh = energyOf(planned, out.Last), energyOf(run, out.Last)

	var plants []string // that something is known of
	add := func(name string) {
		if _, known := r.index[name]; known && !slices.Contains(plants, name) {
			plants = append(plants, name)
		}
	}
	for _, o := range c.Observations {
		if o.Mass != nil || o.Burn != nil {
			add(o.Plant)
		}
	}
	said := func(stages []stage) saidOf {
		stands := []outlook.Stand{r.meanStand(stages, start, out.Last)}
		for _, p := range plants {
			stands = append(stands, r.stand(stages, r.index[p], start, out.Last))
		}
		stands = append(stands, r.classStands(stages, start, out.Last)...)
		outcomes, course := outlook.Follow(traits, factors, stands, true)
		return saidOf{outcomes, course, 1 + len(plants)}
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	atFirst := said(planned)
	asRun := atFirst
	if len(run) > 1 || len(c.Changes) > 0 {
		asRun = said(run)
	}
	for d := 1; d <= out.Last; d++ {
		out.Course = append(out.Course, CourseDay{Day: d, Planned: atFirst.mass(d, 0), Run: asRun.mass(d, 0)})
	}
	byDay := map[int][]int{} // stands
	for _, o := range c.Observations {
		i := slices.Index(plants, o.Plant)
		if o.Mass == nil || i < 0 || o.Day < 1 {
			continue
		}
		out.Weighings = append(out.Weighings, Weighing{o.Plant, o.Date, o.Day, float64(*o.Mass), atFirst.mass(o.Day, 1+i), asRun.mass(o.Day, 1+i), o.Cut})
		byDay[o.Day] = append(byDay[o.Day], 1+i)
	}
	for _, w := range out.Weighings {
		i := slices.IndexFunc(out.Means, func(x MeanMass) bool { return x.Day == w.Day })
		if i < 0 {
			i = len(out.Means)
			out.Means = append(out.Means, MeanMass{Day: w.Day, Date: w.Date, Planned: atFirst.mass(w.Day, byDay[w.Day]...), Run: asRun.mass(w.Day, byDay[w.Day]...)})
		}
		out.Means[i].Of++
		out.Means[i].Mass += w.Mass / float64(len(byDay[w.Day]))
	}
	out.burn(c, plants, atFirst, asRun)
	return out, nil
}

// saidOf are draws of an outlook: stand 0 is the mean plant, then the plants, then classes of
// equal light of all plants.
type saidOf struct {
	outcomes [][]headcycle.Outcome
	course   [][][]headcycle.Day
	classes  int
}

// mass is the band of the mean of stands on a day.
func (s saidOf) mass(day int, stands ...int) outlook.Band {
	v := make([]float64, len(s.course))
	for i := range v {
		for _, k := range stands {
			v[i] += s.course[i][k][day-1].Fresh / float64(len(stands))
		}
	}
	return outlook.BandOf(v)
}

// burnt is the share of stands that burn by their day; the middle of the band is the mean.
func (s saidOf) burnt(stands []int, days []int) outlook.Band {
	v, mean := make([]float64, len(s.outcomes)), 0.0
	for i := range v {
		for n, k := range stands {
			if s.outcomes[i][k].BurnDay <= float64(days[n]) {
				v[i] += 1 / float64(len(stands))
			}
		}
		mean += v[i] / float64(len(v))
	}
	b := outlook.BandOf(v)
	b.Mid = mean
	return b
}

// burn takes the last look at each head; a head that burnt once stays burnt. Where heads were
// counted over the bench and none was looked at by itself, the last count.
func (out *Comparison) burn(c *underlamp.Cycle, plants []string, atFirst, asRun saidOf) {
	last, burnt := map[string]int{}, map[string]bool{}
	for _, o := range c.Observations {
		if o.Burn == nil || o.Day < 1 {
			continue
		}
		last[o.Plant] = max(last[o.Plant], o.Day)
		burnt[o.Plant] = burnt[o.Plant] || o.Burn.Seen()
	}
	var stands, days []int
	s := &BurnSeen{}
	for i, p := range plants {
		if d := last[p]; d > 0 {
			stands, days = append(stands, 1+i), append(days, d)
			s.Of++
			s.Day = max(s.Day, d)
			if burnt[p] {
				s.Burnt++
			}
		}
	}
	o, count, ok := lastCount(known{c, out.Last})
	switch {
	case s.Of > 0:
	case ok && o.Day > 0:
		s.Burnt, s.Of, s.Day = count.Burnt, count.Of, o.Day
		for k := atFirst.classes; k < len(atFirst.outcomes[0]); k++ {
			stands, days = append(stands, k), append(days, o.Day)
		}
	default:
		return
	}
	s.Planned, s.Run = atFirst.burnt(stands, days), asRun.burnt(stands, days)
	out.Burn = s
}

// energyOf is the electricity of the lamps through stages until a day.
func energyOf(stages []stage, days int) quantity.KilowattHour {
	var sum quantity.KilowattHour
	for i, s := range stages {
		until := days
		if i+1 < len(stages) {
			until = min(days, stages[i+1].from)
		}
		for _, l := range s.bench.Lamps {
			sum += quantity.EnergyOf(l.Draw(l.Dimming.Value), l.Hours.Value) * quantity.KilowattHour(max(until-s.from, 0))
		}
	}
	return sum
}

// Final is the mean mass on the last day on which plants were weighed; false if none was.
func (out *Comparison) Final() (MeanMass, bool) {
	best := -1
	for i, x := range out.Means {
		if best < 0 || x.Day > out.Means[best].Day {
			best = i
		}
	}
	if best < 0 {
		return MeanMass{Mass: math.NaN()}, false
	}
	return out.Means[best], true
}

// Within counts the weighings that lie in the band of their plant.
func (out *Comparison) Within() (inside, of int) {
	for _, w := range out.Weighings {
		if w.Inside() {
			inside++
		}
	}
	return inside, len(out.Weighings)
}
