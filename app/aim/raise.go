package aim

import (
	"context"
	"fmt"
	"math"
	"time"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/science/quantity"
)

// A RaiseAsk is how the lamps shall follow the canopy.
type RaiseAsk struct {
	PPFD      quantity.PPFD     // at the top of the canopy, mean over the plants; 0: what the planting surface has now
	Tolerance quantity.Fraction // 0 means 5 %
	Step      quantity.Metre    // of the height; 0 means 2 cm
	Clearance quantity.Metre    // between canopy and lowest lamp; 0 means 5 cm
}

const (
	raiseTolerance = 0.05
	raiseStep      = 0.02  // m
	raiseClearance = 0.05  // m
	raiseDraws     = 200   // of the outlook: the height of the plants needs no more
	profileStep    = 0.02  // m between heights at which light is computed
	canopyStill    = 0.003 // m, a height that no longer changes
	canopyRounds   = 8
)

// A RaiseDay is one day of the calendar, from day 1 after transplanting.
type RaiseDay struct {
	Day    int
	Date   string         // "2026-10-06"; empty without a transplanting day
	Canopy quantity.Metre // height of the plants, median of the outlook
	Low    quantity.Metre // 5th and 95th percentile
	High   quantity.Metre
	Lamps  quantity.Metre    // mean height
	PPFD   quantity.PPFD     // at the top of the canopy
	Stay   quantity.PPFD     // there, had the lamps stayed where they hang now
	Held   bool              // within the tolerance
	Dim    quantity.Fraction // factor on the present dimming that would bring the target at this height
	Tight  bool              // the clearance, not the light, sets the height
}

// A Move is a change of height, before the light of a day.
type Move struct {
	Day  int
	Date string
	From quantity.Metre
	To   quantity.Metre
}

// A RaiseResult is a calendar for the lamps.
type RaiseResult struct {
	Ask    RaiseAsk
	Bench  *underlamp.Bench
	Target quantity.PPFD
	Moves  []Move
	Days   []RaiseDay
	Out    int            // days on which the target is missed by more than the tolerance
	Open   quantity.Metre // by how much canopy and calendar still changed one another at the end; 0 if they settled
	Limits []string
	Notes  []string
}

// Raise makes the calendar: the lamps are only ever raised, in steps, so that the
// mean PPFD at the top of the canopy stays within the tolerance of the target and
// the clearance is kept. Of all such calendars it is the one that misses the
// tolerance least, then has the fewest moves, then is nearest to the target; found
// exactly, by dynamic programming over days and heights.
func Raise(ctx context.Context, m *light.Model, a RaiseAsk) (*RaiseResult, error) {
	b := m.Bench()
	if err := a.check(b); err != nil {
		return nil, err
	}
	if err := outlook.Supported(b); err != nil {
		return nil, err // the canopy of the species is not known
	}
	o, err := outlook.New(m, raiseDraws)
	if err != nil {
		return nil, refuse("%v", err)
	}
	f, err := o.Forecast(nil)
	if err != nil {
		return nil, refuse("%v", err)
	}
	r := &RaiseResult{Ask: a, Bench: b}
	days := len(f.Course)
	canopy := make([]outlook.Band, days)
	for d, c := range f.Course {
		canopy[d] = c.Height
	}
	list := outlook.Grid(float64(b.Limits.MinHeight.Value), float64(b.Limits.MaxHeight.Value), float64(a.Step))
	weights, _ := light.DayWeights(b)
	lowest := 0.0 // how far the lowest lamp hangs below the mean
	now := float64(b.Setting().Height)
	for _, l := range b.Lamps {
		lowest = max(lowest, now-float64(l.Height))
	}
	known := map[float64]func(z float64) float64{}
	at := func(h float64) (func(z float64) float64, error) {
		if light, ok := known[h]; ok {
			return light, nil
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		lit, err := m.At(quantity.Metre(h))
		if err != nil {
			return nil, refuse("%v", err)
		}
		// Plants that follow the light may grow somewhat taller than those of the present setting.
		known[h] = meanProfile(lit, weights, 1.5*canopy[days-1].Mid)
		return known[h], nil
	}
	stay, err := at(now)
	if err != nil {
		return nil, err
	}
	r.Target = a.PPFD
	if r.Target == 0 {
		r.Target = quantity.PPFD(stay(0))
	}
	// The plants grow in the light that the calendar gives, and the calendar follows
	// the plants: both are found in turn until neither changes.
	var way []int
	ppfd := make([][]float64, len(list)) // by height and day
	clear := func(i, d int) bool { return list[i]-lowest >= canopy[d].Mid+float64(a.Clearance)-1e-9 }
	for round := 1; ; round++ {
		for i, h := range list {
			light, err := at(h)
			if err != nil {
				return nil, err
			}
			ppfd[i] = ppfd[i][:0]
			for _, c := range canopy {
				ppfd[i] = append(ppfd[i], light(c.Mid))
			}
		}
		var ok bool
		if way, ok = calendar(list, days, ppfd, float64(r.Target), float64(a.Tolerance), clear); !ok {
			h := canopy[days-1].Mid
			return nil, refuse("the plants grow to about %s; with a clearance of %s the lamps would have to hang at %s, and the limits of the bench end at %s",
				quantity.Length.Format(h, b.Units, 2), quantity.Length.Format(float64(a.Clearance), b.Units, 2), quantity.Length.Format(h+float64(a.Clearance)+lowest, b.Units, 3), quantity.Length.Format(list[len(list)-1], b.Units, 3))
		}
		top := make([]float64, days)
		for d, i := range way {
			top[d] = ppfd[i][d]
		}
		next := o.CanopyUnder(top)
		moved := 0.0
		for d := range next {
			moved = max(moved, math.Abs(next[d].Mid-canopy[d].Mid))
		}
		if moved <= canopyStill {
			break
		}
		if round == canopyRounds {
			r.Open = quantity.Metre(moved)
			break
		}
		canopy = next
	}
	start, dated := time.Time{}, false
	if t, err := time.Parse(time.DateOnly, b.Crop.Transplanted); err == nil {
		start, dated = t, true
	}
	from := now
	for d, i := range way {
		c := canopy[d]
		x := RaiseDay{
			Day: d + 1, Canopy: quantity.Metre(c.Mid), Low: quantity.Metre(c.Low), High: quantity.Metre(c.High),
			Lamps: quantity.Metre(list[i]), PPFD: quantity.PPFD(ppfd[i][d]), Stay: quantity.PPFD(stay(c.Mid)),
			Dim: quantity.Fraction(float64(r.Target) / ppfd[i][d]),
		}
		x.Held = math.Abs(float64(x.PPFD/r.Target)-1) <= float64(a.Tolerance)+1e-9
		x.Tight = i == 0 || !clear(i-1, d)
		if dated {
			// Day 1 is the day after transplanting.
			x.Date = start.AddDate(0, 0, x.Day).Format(time.DateOnly)
		}
		if !x.Held {
			r.Out++
		}
		if math.Abs(list[i]-from) > 1e-9 {
			r.Moves = append(r.Moves, Move{Day: x.Day, Date: x.Date, From: quantity.Metre(from), To: x.Lamps})
			from = list[i]
		}
		r.Days = append(r.Days, x)
	}
	r.say(list)
	return r, nil
}

func (a *RaiseAsk) check(b *underlamp.Bench) error {
	switch {
	case len(b.Lamps) == 0 || len(b.Plants) == 0:
		return refuse("the bench has no lamps or no plants")
	case a.PPFD != 0 && !(a.PPFD >= 1 && a.PPFD <= 5000):
		return refuse("a target of %g µmol/m²/s is out of range (1 to 5000)", float64(a.PPFD))
	case !(a.Tolerance >= 0 && a.Tolerance <= 0.5):
		return refuse("a tolerance must lie between 0 and 50 %%")
	case a.Step != 0 && !(a.Step >= 0.005 && a.Step <= 0.5):
		return refuse("a step of the height must lie between 0.5 and 50 cm")
	case !(a.Clearance >= 0 && a.Clearance <= 1):
		return refuse("a clearance must lie between 0 and 1 m")
	}
	if a.Tolerance == 0 {
		a.Tolerance = raiseTolerance
	}
	if a.Step == 0 {
		a.Step = raiseStep
	}
	if a.Clearance == 0 {
		a.Clearance = raiseClearance
	}
	return nil
}

// meanProfile is the mean PPFD over the plants by height up to top. Between the
// heights computed its logarithm is straight, which is off by 0.4 % at 15 cm from a
// small lamp.
func meanProfile(lit *light.Lit, weights []float64, top float64) func(z float64) float64 {
	levels := int(math.Ceil(top/profileStep)) + 2
	profiles := lit.ProfilesAt(weights, profileStep, levels)
	mean := make([]float64, levels)
	for _, p := range profiles {
		for z, v := range p {
			mean[z] += v / float64(len(profiles))
		}
	}
	return func(z float64) float64 {
		i := min(max(int(z/profileStep), 0), levels-2)
		f := min(max(z/profileStep-float64(i), 0), 1)
		return math.Exp(math.Log(mean[i])*(1-f) + math.Log(mean[i+1])*f)
	}
}

// calendar picks the index of a height for each day, never falling: least is, in
// this order, the sum of what the tolerance is missed by (in thousandths, so that
// rounding does not decide), the number of moves, the sum of distances from the
// target. ok is false if the clearance cannot be kept.
func calendar(list []float64, days int, ppfd [][]float64, target, tolerance float64, clear func(i, d int) bool) (way []int, ok bool) {
	type cost struct{ miss, moves, off float64 }
	less := func(a, b cost) bool {
		switch {
		case a.miss != b.miss:
			return a.miss < b.miss
		case a.moves != b.moves:
			return a.moves < b.moves
		}
		return a.off < b.off-1e-12
	}
	none := cost{miss: math.Inf(1)}
	n := len(list)
	best := make([]cost, n)
	from := make([][]int, days)
	for d := range days {
		next := make([]cost, n)
		from[d] = make([]int, n)
		for i := range n {
			next[i] = none
			if !clear(i, d) {
				continue
			}
			off := math.Abs(ppfd[i][d]/target - 1)
			day := cost{miss: math.Round(1000 * max(off-tolerance, 0)), off: off}
			for j := 0; j <= i; j++ {
				c := day
				if d > 0 {
					if math.IsInf(best[j].miss, 1) {
						continue
					}
					c.miss += best[j].miss
					c.off += best[j].off
					c.moves = best[j].moves
					if j != i {
						c.moves++
					}
				} else if j != i {
					continue
				}
				if less(c, next[i]) {
					next[i], from[d][i] = c, j
				}
			}
		}
		best = next
	}
	at := 0
	for i := range n {
		if less(best[i], best[at]) {
			at = i
		}
	}
	if math.IsInf(best[at].miss, 1) {
		return nil, false
	}
	way = make([]int, days)
	for d := days - 1; d >= 0; d-- {
		way[d] = at
		at = from[d][at]
	}
	return way, true
}

// say puts into sentences what the calendar cannot do.
func (r *RaiseResult) say(list []float64) {
	u := r.Bench.Units
	say := func(format string, args ...any) { r.Limits = append(r.Limits, fmt.Sprintf(format, args...)) }
	var first, bright, dark int
	worst := 1.0
	for _, d := range r.Days {
		if d.Held {
			continue
		}
		if first == 0 {
			first = d.Day
		}
		if d.PPFD > r.Target {
			bright++
			worst = min(worst, float64(d.Dim))
		} else {
			dark++
			worst = max(worst, float64(d.Dim))
		}
	}
	switch {
	case r.Out == 0:
		say("The light at the top of the canopy stays within %s of %s to harvest.", percent(float64(r.Ask.Tolerance)), quantity.PhotonFluxDensity.Format(float64(r.Target), u, 3))
	case bright > 0 && float64(r.Days[len(r.Days)-1].Lamps) > list[len(list)-1]-1e-9:
		say("From day %d the limit of the lamp height (%s) leaves the canopy too bright: dim the lamps to as little as %s of what they burn at now, day by day as in the table.", first, quantity.Length.Format(list[len(list)-1], u, 3), percent(worst))
	case bright > 0:
		say("On %d days, from day %d, the canopy is too bright at every height that is allowed: dim the lamps as in the table.", bright, first)
	}
	if dark > 0 {
		say("On %d days the canopy has too little light even with the lamps as low as limits and clearance allow; %s of the present dimming would bring the target.", dark, percent(worst))
	}
	r.Notes = append(r.Notes,
		"The height of the plants is the outlook in the light of this calendar: it is a forecast, and its band is in the table. Raise by the plants where they differ from the calendar.",
		fmt.Sprintf("Keep %s between the plants and the lowest lamp, and what the maker of the lamps asks for if that is more.", quantity.Length.Format(float64(r.Ask.Clearance), u, 2)))
	if r.Open > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("Calendar and plants did not settle: the plants of the last round differ from those of the table by up to %s.", quantity.Length.Format(float64(r.Open), u, 2)))
	}
	if r.Bench.Crop.Transplanted == "" {
		r.Notes = append(r.Notes, "The bench has no transplanting day, so days are counted from it.")
	}
}
