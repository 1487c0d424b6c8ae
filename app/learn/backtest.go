package learn

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/science/forecastscore"
	"underlamp/science/headcycle"
	"underlamp/science/headlearn"
	"underlamp/science/quantity"
)

// BacktestOptions are choices of [Backtest]. The zero value is usable.
type BacktestOptions struct {
	Every     int    // days between issues; 0 means 7
	Draws     int    // of each forecast; 0 means 400
	Posterior int    // kept of each posterior; 0 means those of package headlearn
	Seed      uint64 // of the learning
	Progress  func(doing string, share float64)
}

// What the back-test takes as the end of a cycle: what was seen on the day of harvest
// or at most so many days before it.
const (
	harvestDays   = 3
	backtestDraws = 400
	backtestEvery = 7
	bandLevel     = 0.9
)

// A Trial is one finished cycle held against the outlook.
type Trial struct {
	Cycle string
	Days  int

	Heads []Head // what came
	Count *underlamp.BurnCount
	Mass  float64 // mean of the weighed heads, g; NaN if none was weighed
	Burnt float64 // share of the heads that were looked at; NaN if nobody looked

	Issues []Issue // by day
}

// A Head is what came of one head.
type Head struct {
	Plant   string
	Day     int
	Mass    float64 // g; NaN if it was not weighed
	BurnDay int     // day of the last look for burn; 0 if nobody looked
	Burnt   bool
}

// An Issue is what the outlook would have said on one day of a cycle, knowing what
// was known by then, beside the usual outlook, which learns nothing.
type Issue struct {
	Day   int
	Date  string
	Data  int // single observations that were known, of this cycle and of others
	Own   int // of them, of this cycle
	Good  bool
	Said  Said
	Usual Said // without learning, but with the same settings and the same day
}

// Said is one outlook and its scores.
type Said struct {
	Mass     outlook.Band // mean of the weighed heads, g
	Chance   float64      // mean over the heads that were looked at
	Error    float64      // Mass.Mid − what came, g
	Within   int          // weighed heads inside their own band
	Of       int
	CRPS     float64 // mean over the weighed heads, g
	Interval float64 // mean interval score over the weighed heads, g
	Brier    float64 // mean over the heads that were looked at
}

// A Score sums trials up by the day of issue or over all.
type Score struct {
	Issues   int
	AbsError float64 // mean |error| of the mean mass over what came
	Within   float64 // share of heads inside their 90 % band
	CRPS     float64
	Interval float64
	Brier    float64 // NaN if nobody looked for burn
}

// Record is the result of [Backtest].
type Record struct {
	Trials []Trial
	Said   Score // as the outlook would have been
	Usual  Score // without learning
	Notes  []string
}

// filled has the usual values where none are given.
func (o BacktestOptions) filled() BacktestOptions {
	if o.Every <= 0 {
		o.Every = backtestEvery
	}
	if o.Draws <= 0 {
		o.Draws = backtestDraws
	}
	if o.Progress == nil {
		o.Progress = func(string, float64) {}
	}
	return o
}

// Backtest says for each finished cycle what the outlook would have said every few
// days, learning from what was known by then: earlier observations of this cycle and
// of the others, by date. What was set after the day of issue was not known; the
// day of harvest is taken as planned.
func Backtest(ctx context.Context, m *light.Model, cycles []*underlamp.Cycle, opt BacktestOptions) (*Record, error) {
	opt = opt.filled()
	if err := outlook.Supported(m.Bench()); err != nil {
		return nil, err
	}
	plain := *m.Bench()
	plain.Crop.Profile = nil
	r := newRoom(m)
	rec := &Record{}
	var tested []*underlamp.Cycle
	issues := 0
	for _, c := range cycles {
		if c.Days == 0 {
			rec.Notes = append(rec.Notes, fmt.Sprintf("The cycle %s has no day of harvest; it is learned from, not tested.", Name(c)))
			continue
		}
		if heads, count := ends(c); len(heads) == 0 && count == nil {
			rec.Notes = append(rec.Notes, fmt.Sprintf("The cycle %s has no observation in the last %d days before harvest, so there is nothing to hold the outlook against.", Name(c), harvestDays))
			continue
		}
		tested = append(tested, c)
		issues += (c.Days-1)/opt.Every + 1
	}
	if len(tested) == 0 {
		return nil, fmt.Errorf("no cycle can be tested: a finished cycle with a weighing or a look for burn at harvest is needed. %s", join(rec.Notes))
	}
	done := 0
	for _, c := range tested {
		t, err := r.trial(ctx, c, cycles, outlook.Prior(&plain), outlook.Usual(&plain), opt, func(share float64) {
			opt.Progress("the outlook of each day", (float64(done)+share)/float64(issues))
		}, &done)
		if err != nil {
			return nil, fmt.Errorf("cycle %s: %w", Name(c), err)
		}
		rec.Trials = append(rec.Trials, *t)
	}
	rec.Said = score(rec.Trials, func(i Issue) Said { return i.Said })
	rec.Usual = score(rec.Trials, func(i Issue) Said { return i.Usual })
	for _, t := range rec.Trials {
		for _, i := range t.Issues {
			if !i.Good {
				rec.Notes = append(rec.Notes, fmt.Sprintf("The learning of %s, day %d, is rough: few draws agree with what had been seen.", t.Cycle, i.Day))
			}
		}
	}
	return rec, nil
}

func join(notes []string) string {
	s := ""
	for _, n := range notes {
		s += n + " "
	}
	return s
}

// ends is what came of a cycle: the last weighing and the last look for burn of each
// head, and the last count over the bench.
func ends(c *underlamp.Cycle) ([]Head, *underlamp.BurnCount) {
	from := max(1, c.Days-harvestDays)
	var heads []Head
	var count *underlamp.BurnCount
	find := func(plant string) *Head {
		i := slices.IndexFunc(heads, func(h Head) bool { return h.Plant == plant })
		if i < 0 {
			heads = append(heads, Head{Plant: plant, Mass: math.NaN()})
			i = len(heads) - 1
		}
		return &heads[i]
	}
	for _, o := range c.Observations {
		if o.Day < from {
			continue
		}
		if o.Mass != nil && o.Heads == 0 { // a mean of several is nobody's forecast
			h := find(o.Plant)
			h.Mass, h.Day = float64(*o.Mass), o.Day
		}
		if o.Burn != nil {
			h := find(o.Plant)
			h.Burnt, h.BurnDay = o.Burn.Seen(), o.Day
		}
		if o.Count != nil {
			count = o.Count
		}
	}
	return slices.DeleteFunc(heads, func(h Head) bool { return math.IsNaN(h.Mass) && h.BurnDay == 0 }), count
}

// trial tests one cycle.
func (r *room) trial(ctx context.Context, c *underlamp.Cycle, all []*underlamp.Cycle, prior headlearn.Prior, usual outlook.Source, opt BacktestOptions, progress func(float64), done *int) (*Trial, error) {
	t := &Trial{Cycle: Name(c), Days: c.Days, Mass: math.NaN(), Burnt: math.NaN()}
	t.Heads, t.Count = ends(c)
	var masses, burnt []float64
	for _, h := range t.Heads {
		if !math.IsNaN(h.Mass) {
			masses = append(masses, h.Mass)
		}
		if h.BurnDay > 0 {
			burnt = append(burnt, map[bool]float64{true: 1}[h.Burnt])
		}
	}
	if len(masses) > 0 {
		t.Mass = average(masses)
	}
	switch {
	case len(burnt) > 0:
		t.Burnt = average(burnt)
	case t.Count != nil:
		t.Burnt = float64(t.Count.Burnt) / float64(t.Count.Of)
	}
	start, err := time.Parse(time.DateOnly, c.Transplanted)
	if err != nil {
		return nil, err // the reader of cycle files refuses such a day
	}
	began, _ := r.start(c)
	usualFactors := outlook.LightFactors(r.m, opt.Draws)
	factors := outlook.LightFactors(r.m, crops)
	var others struct { // what the other cycles had taught, until they told more
		data  int
		means []headcycle.Traits
		good  bool
	}
	others.data, others.good = -1, true
	for day := 0; day < c.Days; day += opt.Every {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		today := start.AddDate(0, 0, day)
		var facts []known
		for _, other := range all {
			from, err := time.Parse(time.DateOnly, other.Transplanted)
			if other == c || err != nil || from.After(today) {
				continue
			}
			facts = append(facts, known{other, min(int(today.Sub(from).Hours()/24), other.LastDay())})
		}
		elsewhere, err := r.account(facts)
		if err != nil {
			return nil, err
		}
		here, err := r.account([]known{{c, day}})
		if err != nil {
			return nil, err
		}
		issue := Issue{Day: day, Date: today.Format(time.DateOnly), Own: here.data()}
		issue.Data = issue.Own + elsewhere.data()
		if n := elsewhere.data(); n != others.data {
			others.data, others.good = n, true
			others.means = prior.Between.Draws(prior.Central, crops, outlook.Seed)
			if n > 0 {
				post, err := headlearn.Learn(ctx, elsewhere.evidence, prior, headlearn.Options{Seed: opt.Seed, Draws: opt.Posterior, Progress: progress})
				if err != nil {
					return nil, err
				}
				alone := prior
				alone.Within = headcycle.Spread{}
				crop, err := headlearn.FromSummary(post.Summary(), alone)
				if err != nil {
					return nil, err
				}
				others.means, others.good = crop.Traits(crops, outlook.Seed), post.Sampling.Good
			}
		}
		var own *headlearn.Cycle
		if len(here.evidence.Cycles) > 0 {
			own = &here.evidence.Cycles[0]
		}
		stages, err := r.stages(c, day)
		if err != nil {
			return nil, err
		}
		issue.Usual = r.say(usual.Traits(opt.Draws, outlook.Seed), usualFactors, stages, began, t)
		issue.Said, issue.Good = issue.Usual, true
		if issue.Data == 0 {
			t.Issues = append(t.Issues, issue)
			*done++
			continue
		}
		agreeing := r.condition(others.means, factors, prior.Within, own, stages, opt.Draws)
		issue.Good = others.good && agreeing.agreed >= leastAgreed
		issue.Said = r.say(agreeing.plants(prior.Within), agreeing.factors, stages, began, t)
		t.Issues = append(t.Issues, issue)
		*done++
		progress(0)
	}
	return t, nil
}

// data counts the single observations of an account.
func (a *account) data() int {
	n := 0
	for _, l := range a.learnedCycles() {
		n += l.Weighings + l.Heights + l.Burns + l.Counts
	}
	return n
}

// say makes the outlook of every head of a trial and scores it.
func (r *room) say(traits []headcycle.Traits, factors []float64, stages []stage, start headcycle.Start, t *Trial) Said {
	var stands []outlook.Stand
	for _, h := range t.Heads {
		stands = append(stands, r.stand(stages, r.index[h.Plant], start, max(h.Day, h.BurnDay)))
	}
	if len(t.Heads) == 0 { // only a count
		stands = append(stands, r.classStands(stages, start, t.Days)...)
	}
	outcomes, course := outlook.Follow(traits, factors, stands, true)
	n := len(traits)
	s := Said{Error: math.NaN(), CRPS: math.NaN(), Interval: math.NaN(), Brier: math.NaN(), Chance: math.NaN(), Mass: outlook.Band{Low: math.NaN(), Mid: math.NaN(), High: math.NaN()}}
	mean := make([]float64, n)
	var crps, interval, brier, chances []float64
	for k, h := range t.Heads {
		if !math.IsNaN(h.Mass) {
			draws := make([]float64, n)
			for i := range draws {
				draws[i] = course[i][k][h.Day-1].Fresh
				mean[i] += draws[i]
			}
			b := outlook.BandOf(draws)
			s.Of++
			if h.Mass >= b.Low && h.Mass <= b.High {
				s.Within++
			}
			crps = append(crps, forecastscore.CRPS(draws, h.Mass))
			interval = append(interval, forecastscore.Interval(b.Low, b.High, bandLevel, h.Mass))
		}
		if h.BurnDay > 0 {
			chance := burntBy(outcomes, k, h.BurnDay)
			chances = append(chances, chance)
			brier = append(brier, forecastscore.Brier(chance, h.Burnt))
		}
	}
	if s.Of > 0 {
		for i := range mean {
			mean[i] /= float64(s.Of)
		}
		s.Mass = outlook.BandOf(mean)
		s.Error = s.Mass.Mid - t.Mass
		s.CRPS, s.Interval = average(crps), average(interval)
	}
	switch {
	case len(brier) > 0:
		s.Chance, s.Brier = average(chances), average(brier)
	case len(t.Heads) == 0 && t.Count != nil:
		s.Chance = 0
		for k := range stands {
			s.Chance += burntBy(outcomes, k, t.Days) / float64(len(stands))
		}
		share := float64(t.Count.Burnt) / float64(t.Count.Of)
		s.Brier = share*forecastscore.Brier(s.Chance, true) + (1-share)*forecastscore.Brier(s.Chance, false)
	}
	return s
}

// burntBy is the share of draws of a stand that burn by a day.
func burntBy(outcomes [][]headcycle.Outcome, stand, day int) float64 {
	n := 0.0
	for i := range outcomes {
		if outcomes[i][stand].BurnDay <= float64(day) {
			n++
		}
	}
	return n / float64(len(outcomes))
}

// score sums up.
func score(trials []Trial, of func(Issue) Said) Score {
	var s Score
	var abs, crps, interval, brier []float64
	within, heads := 0, 0
	for _, t := range trials {
		for _, i := range t.Issues {
			x := of(i)
			s.Issues++
			if x.Of > 0 {
				abs = append(abs, math.Abs(x.Error)/t.Mass)
				crps, interval = append(crps, x.CRPS), append(interval, x.Interval)
				within += x.Within
				heads += x.Of
			}
			if !math.IsNaN(x.Brier) {
				brier = append(brier, x.Brier)
			}
		}
	}
	mean := func(x []float64) float64 {
		if len(x) == 0 {
			return math.NaN()
		}
		return average(x)
	}
	s.AbsError, s.CRPS, s.Interval, s.Brier = mean(abs), mean(crps), mean(interval), mean(brier)
	s.Within = math.NaN()
	if heads > 0 {
		s.Within = float64(within) / float64(heads)
	}
	return s
}

// Sentence says how well the outlook would have done.
func (r *Record) Sentence() string {
	a, u := r.Said, r.Usual
	s := fmt.Sprintf("Over %d outlooks of %d %s", a.Issues, len(r.Trials), map[bool]string{true: "cycle", false: "cycles"}[len(r.Trials) == 1])
	if !math.IsNaN(a.AbsError) {
		s += fmt.Sprintf(" the mean mass was off by %s of what came (%s without learning), and %s of the weighed heads lay inside their 90 %% band (%s without)",
			percent(a.AbsError), percent(u.AbsError), percent(a.Within), percent(u.Within))
	}
	if !math.IsNaN(a.Brier) {
		if !math.IsNaN(a.AbsError) {
			s += ";"
		}
		s += fmt.Sprintf(" the Brier score of burn was %s (%s without)", quantity.Fixed(a.Brier, 2), quantity.Fixed(u.Brier, 2))
	}
	return s + "."
}

func percent(x float64) string { return quantity.Fixed(100*x, 0) + " %" }
