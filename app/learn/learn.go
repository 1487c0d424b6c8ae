package learn

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/app/trial"
	"underlamp/science/headlearn"
	"underlamp/science/quantity"
	"underlamp/working"
)

// What draws must keep to, for a profile to be written (Vehtari2021, section 4).
const (
	WorstRHat = 1.01
	LeastESS  = 400
)

// Draws of the learning, if nobody asks for a number: a learning that has not settled
// is done again with twice as many, at most so often.
const (
	firstDraws = 2000
	moreDraws  = 4
)

// Options are choices of [Teach]. The zero value is usable.
type Options struct {
	Draws     int    // of the forecasts; 0 means those of package outlook
	Posterior int    // kept of the posterior; 0 means as many as it takes
	Seed      uint64 // of the learning
	NoBest    bool   // leave the search for the best setting out

	Trials   []trial.Harvest // blocks of trials, learned from beside the cycles; see [Distinct]
	Progress func(doing string, share float64)
}

// A Lesson is what cycles taught of the crop of a bench.
type Lesson struct {
	Bench     *underlamp.Bench
	Cycles    []underlamp.LearnedCycle
	Posterior *headlearn.Posterior
	Told      []Told // by the order of the parameters

	Before, After         *outlook.Forecast // of the bench as it is set
	BestBefore, BestAfter *outlook.Best     // nil if they were left out
	Seen                  []Seen            // for the picture
	Odd                   []Odd
	Next                  Next
	Notes                 []string

	summary headlearn.Summary
	account *account
}

// Told says which data told a parameter: shares of all that they say about it, 0 to
// 1, first what says most.
type Told []ToldBy

// ToldBy is one kind of data.
type ToldBy struct {
	Data  string // "weighings"
	Share float64
}

// Seen is one observation for a picture over days.
type Seen struct {
	Cycle string
	Plant string
	Day   int
	Mass  float64 // g; NaN if it was not weighed
	Burnt float64 // share of heads with burn, 0 to 1; NaN if nobody looked
	Of    int     // heads that Burnt is of
	Odd   bool
}

// Odd is one observation that does not fit, or a cycle.
type Odd struct {
	Cycle, Plant, Date string
	Line               int // in the cycle file
	Says               string
}

// ErrNothing is returned where the cycles hold nothing to learn from.
var ErrNothing = errors.New("the cycles hold no weighing, height or look for burn after the day of transplanting, so there is nothing to learn from")

// Teach learns from cycles on the bench of a light model.
func Teach(ctx context.Context, m *light.Model, cycles []*underlamp.Cycle, opt Options) (*Lesson, error) {
	if opt.Progress == nil {
		opt.Progress = func(string, float64) {}
	}
	b := m.Bench()
	if err := outlook.Supported(b); err != nil {
		return nil, err
	}
	r := newRoom(m)
	a, err := r.account(whole(cycles))
	if err != nil {
		return nil, err
	}
	kept, twice := Distinct(cycles, opt.Trials)
	if err := r.addHarvests(a, kept); err != nil {
		return nil, err
	}
	a.notes = append(a.notes, twice...)
	if len(a.cycles) == 0 {
		return nil, ErrNothing
	}
	l := &Lesson{Bench: b, Cycles: a.learnedCycles(), account: a, Notes: a.notes}
	plain := *b
	plain.Crop.Profile = nil
	prior := outlook.Prior(&plain)
	draws, tries := opt.Posterior, 1
	if draws <= 0 {
		draws, tries = firstDraws, moreDraws
	}
	for try := range tries {
		from := 0.7 * float64(try) / float64(tries)
		l.Posterior, err = headlearn.Learn(ctx, a.evidence, prior, headlearn.Options{Seed: opt.Seed, Draws: draws << try,
			Progress: func(s float64) { opt.Progress("learning from the cycles", from+0.7*s/float64(tries)) }})
		if err != nil {
			return nil, err
		}
		if ok, _ := l.Good(); ok {
			break // else again, with twice as many draws
		}
	}
	l.summary = l.Posterior.Summary()
	learned, err := headlearn.FromSummary(l.summary, prior)
	if err != nil {
		return nil, fmt.Errorf("what was learned cannot be kept: %w", err)
	}
	before, err := outlook.NewFrom(m, opt.Draws, outlook.Usual(&plain))
	if err != nil {
		return nil, err
	}
	after, err := outlook.NewFrom(m, opt.Draws, learned)
	if err != nil {
		return nil, err
	}
	opt.Progress("the outlook before and after", 0.7)
	if l.Before, err = before.Forecast(nil); err != nil {
		return nil, err
	}
	if l.After, err = after.Forecast(nil); err != nil {
		return nil, err
	}
	if !opt.NoBest {
		for i, part := range []struct {
			o  *outlook.Outlook
			to **outlook.Best
		}{{before, &l.BestBefore}, {after, &l.BestAfter}} {
			best, err := part.o.Best(ctx, func(done, of int) {
				opt.Progress("the best setting before and after", 0.72+0.1*(float64(i)+float64(done)/float64(max(of, 1))))
			})
			if err != nil {
				return nil, err
			}
			*part.to = best
		}
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	opt.Progress("which data told what", 0.93)
	l.Told = r.told(a, prior, l.Posterior)
	l.Odd = l.odd()
	l.Seen = l.seen()
	opt.Progress("the observation that would tell most", 0.96)
	l.Next = r.next(prior, l)
	l.Notes = append(l.Notes, l.Posterior.Warnings...)
	opt.Progress("done", 1)
	return l, nil
}

// Good says that the draws stand for the posterior well enough to be kept; if not,
// why is a sentence.
func (l *Lesson) Good() (ok bool, why string) {
	s := l.Posterior.Sampling
	if s.Good && s.RHat <= WorstRHat && s.BulkESS >= LeastESS && s.TailESS >= LeastESS {
		return true, ""
	}
	return false, fmt.Sprintf("the draws do not stand for the posterior well enough: R-hat %.3f (at most %.2f), effective sizes %.0f and %.0f (at least %d); ask for more draws",
		s.RHat, WorstRHat, s.BulkESS, s.TailESS, LeastESS)
}

// Profile is what a file keeps. It is refused where the draws are not good.
func (l *Lesson) Profile(name, made string) (*underlamp.Profile, error) {
	if ok, why := l.Good(); !ok {
		return nil, fmt.Errorf("no profile is written: %s", why)
	}
	if name == "" {
		name = l.Bench.Name
		if l.Bench.Crop.Cultivar != "" {
			name = l.Bench.Crop.Cultivar + " on " + l.Bench.Name
		}
	}
	s := l.Posterior.Sampling
	plain := *l.Bench
	plain.Crop.Profile = nil // the factors are on what is usual for the head type
	p := &underlamp.Profile{
		Name: name, Made: made, Species: l.Bench.Crop.Species.Value, Cultivar: l.Bench.Crop.Cultivar, Tendency: l.Bench.Crop.Tendency.Value, Type: outlook.TraitType(&plain),
		Cycles: l.Cycles, Summary: l.summary,
		Quality: underlamp.SamplingQuality{RHat: s.RHat, BulkESS: s.BulkESS, TailESS: s.TailESS, Chains: s.Chains, Draws: s.Chains * s.DrawsPerChain},
	}
	if len(l.Cycles) > 0 {
		p.Bench = l.Cycles[0].Bench
	}
	for _, x := range l.Posterior.Parameters {
		p.Factors = append(p.Factors, underlamp.LearnedFactor{
			Key: x.Key, Name: Plain(x).Name, Prior: rounded(x.Prior), After: rounded(x.Posterior),
			Narrowed: math.Round(1000*x.Shrinkage) / 1000, Learned: x.Learned,
		})
	}
	return p, nil
}

// rounded are the ends and the middle of an interval to four digits, for people.
func rounded(q headlearn.Quantity) [3]float64 {
	round := func(x float64) float64 {
		if x == 0 || math.IsInf(x, 0) || math.IsNaN(x) {
			return x
		}
		scale := math.Pow(10, 3-math.Floor(math.Log10(math.Abs(x))))
		return math.Round(x*scale) / scale
	}
	return [3]float64{round(q.Q05), round(q.Q50), round(q.Q95)}
}

// witness is the observation that a datum of the posterior stands for.
func (a *account) witness(d headlearn.Datum) seen {
	switch d.Kind {
	case headlearn.BurnCount:
		return a.counts[d.Cycle][d.Index]
	case headlearn.CanopyTop:
		return a.heights[d.Cycle][d.Plant][d.Index]
	case headlearn.HeartBurn:
		return a.burns[d.Cycle][d.Plant][d.Index]
	}
	return a.weighings[d.Cycle][d.Plant][d.Index]
}

// odd lists what does not fit.
func (l *Lesson) odd() []Odd {
	var out []Odd
	u := l.Bench.Units
	for _, d := range l.Posterior.Fit {
		if !d.Misfit {
			continue
		}
		w := l.account.witness(d)
		odd := Odd{Cycle: Name(w.cycle), Plant: w.o.Plant, Date: w.o.Date, Line: w.o.Line}
		switch d.Kind {
		case headlearn.HeartBurn:
			switch {
			case !w.o.Burn.Seen():
				odd.Says = fmt.Sprintf("no burn was seen, though %s of such plants would show it by day %d", working.Percent(d.Expected), d.Day)
			case d.Expected < 0.5:
				odd.Says = fmt.Sprintf("burn was seen, though only %s of such plants would show it by day %d", working.Percent(d.Expected), d.Day)
			default:
				odd.Says = fmt.Sprintf("burn was to be expected by day %d, but to another extent", d.Day)
			}
		case headlearn.BurnCount:
			heads := "heads"
			if d.Observed == 1 {
				heads = "head"
			}
			odd.Says = fmt.Sprintf("%.0f %s with burn; %s to %s were to be expected", d.Observed, heads, quantity.Fixed(d.Low, 0), quantity.Fixed(d.High, 0))
		case headlearn.CanopyTop:
			odd.Says = fmt.Sprintf("%s high; %s to %s was to be expected", quantity.Length.Format(d.Observed, u, 3), quantity.Length.Format(d.Low, u, 3), quantity.Length.Format(d.High, u, 3))
		default:
			odd.Says = fmt.Sprintf("%s; %s to %s was to be expected", quantity.Mass.Format(d.Observed, u, 3), quantity.Mass.Format(d.Low, u, 3), quantity.Mass.Format(d.High, u, 3))
		}
		out = append(out, odd)
	}
	for i, c := range l.Posterior.Cycles {
		if c.Misfit {
			out = append(out, Odd{Cycle: c.Name, Says: fmt.Sprintf("the whole cycle differs from the others by more than cycles of one crop should: its masses are %s times theirs (%s to %s). Look whether lamps, feed or seedlings were as the file says",
				quantity.Number(c.MassFactor.Q50, 2), quantity.Number(c.MassFactor.Q05, 2), quantity.Number(c.MassFactor.Q95, 2)), Date: l.account.cycles[i].Transplanted})
		}
	}
	return out
}

// seen lists the observations for a picture, doubtful ones marked.
func (l *Lesson) seen() []Seen {
	type key struct {
		cycle, line, day int
		plant            string
	}
	odd := map[key]bool{}
	for _, d := range l.Posterior.Fit {
		if d.Misfit {
			o := l.account.witness(d).o
			odd[key{d.Cycle, o.Line, o.Day, o.Plant}] = true
		}
	}
	var out []Seen
	for i, c := range l.account.cycles {
		looked := map[int][2]int{} // by day: burnt, of
		for _, o := range c.Observations {
			if o.Mass != nil {
				out = append(out, Seen{Cycle: Name(c), Plant: o.Plant, Day: o.Day, Mass: float64(*o.Mass), Burnt: math.NaN(), Odd: odd[key{i, o.Line, o.Day, o.Plant}]})
			}
			if o.Burn != nil {
				n := looked[o.Day]
				n[1]++
				if o.Burn.Seen() {
					n[0]++
				}
				looked[o.Day] = n
			}
			if o.Count != nil {
				out = append(out, Seen{Cycle: Name(c), Plant: o.Plant, Day: o.Day, Mass: math.NaN(), Burnt: float64(o.Count.Burnt) / float64(o.Count.Of), Of: o.Count.Of, Odd: odd[key{i, o.Line, o.Day, o.Plant}]})
			}
		}
		var days []int
		for d := range looked {
			days = append(days, d)
		}
		slices.Sort(days)
		for _, d := range days {
			n := looked[d]
			out = append(out, Seen{Cycle: Name(c), Day: d, Mass: math.NaN(), Burnt: float64(n[0]) / float64(n[1]), Of: n[1]})
		}
	}
	return out
}

// Summary says in one or two sentences what was learned.
func (l *Lesson) Summary() string {
	var from []string
	for _, c := range l.Cycles {
		from = append(from, fmt.Sprintf("%s (%s of %d plants)", c.Name, describe(c), c.Plants))
	}
	s := fmt.Sprintf("Learned from %s.", strings.Join(from, "; "))
	var learned []string
	for _, p := range l.Posterior.Parameters {
		if p.Learned {
			learned = append(learned, Plain(p).Short)
		}
	}
	if len(learned) == 0 {
		return s + " They taught nothing that chance would not have: the outlook stays as it was."
	}
	return s + " Known better now: " + strings.Join(learned, ", ") + "."
}
