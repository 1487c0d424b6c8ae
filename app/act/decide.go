package act

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"underlamp"
	"underlamp/science/quantity"
)

// A State is what must be remembered of a lamp between decisions. The zero value is a
// lamp that has been off.
type State struct {
	Dimming quantity.Fraction        `json:"dimming"`
	Steady  time.Duration            `json:"steady_ns"`  // since it was last switched on or off
	Light   map[string]time.Duration `json:"light_ns"`   // by day, YYYY-MM-DD
	Started bool                     `json:"started"`    // it was decided once
	Wanted  bool                     `json:"overridden"` // a person had its say last time
}

// A Tick is when a decision is taken.
type Tick struct {
	Now     time.Time     // by the clock on the wall
	Elapsed time.Duration // since the last decision; see [Elapsed]
}

// A Decision is what a lamp should be set to.
type Decision struct {
	Dimming quantity.Fraction // 0 is off
	Why     string            // a sentence
	Limited string            // which limit changed what was wanted; empty if none did
}

const (
	dwell   = time.Minute // between two switches by the plan
	over    = time.Minute // of light beyond the most hours: no two clocks agree to the second
	keepDay = 4           // days of light that are remembered
)

// Elapsed is how much time a program may count between two decisions, by a clock that
// only goes forward and by the clock on the wall. The first stands still while a computer
// sleeps, so a lead of the second of more than five minutes counts: too much light counted
// does less harm than too little.
func Elapsed(steady, wall time.Duration) time.Duration {
	steady = max(steady, 0)
	if wall > steady+5*time.Minute {
		return wall
	}
	return steady
}

// dateOf is the day of an instant, as a key.
func dateOf(t time.Time, zone *time.Location) string { return t.In(zone).Format(time.DateOnly) }

// pass lets time pass, up to now, at the dimming that was set. It returns a state of its
// own. The days are those of the clock on the wall, the light is counted by elapsed time.
func (s State) pass(elapsed time.Duration, now time.Time, zone *time.Location) State {
	light := maps.Clone(s.Light)
	if light == nil {
		light = map[string]time.Duration{}
	}
	at := now.In(zone)
	for left := elapsed; s.Dimming > 0 && left > 0 && len(light) < 100; { // 100 days: a gap of months
		y, m, d := at.Date()
		begin := onWall(y, m, d, 0, zone)
		if !at.After(begin) { // at midnight: the rest was the day before
			begin = onWall(y, m, d-1, 0, zone)
		}
		part := min(at.Sub(begin), left)
		light[dateOf(begin, zone)] += part
		left -= part
		at = begin
	}
	// Forget the days that are farthest from now; a clock may have been wrong for a while.
	for len(light) > keepDay {
		far, most := "", time.Duration(-1)
		for _, k := range slices.Sorted(maps.Keys(light)) {
			t, err := time.ParseInLocation(time.DateOnly, k, zone)
			if gap := now.Sub(t).Abs(); err != nil || gap > most {
				far, most = k, gap
			}
		}
		delete(light, far)
	}
	s.Light = light
	s.Steady += elapsed
	return s
}

// Away is the state after a time, up to now, in which nobody decided and the lamp was at a
// dimming.
func Away(s State, elapsed time.Duration, dimming quantity.Fraction, now time.Time, zone *time.Location) State {
	if (dimming > 0) != (s.Dimming > 0) {
		s.Steady = 0
	}
	s.Dimming = dimming
	return s.pass(max(elapsed, 0), now, zone)
}

// Decide decides for one lamp. An override of nil is none.
func Decide(p Plan, o *underlamp.Override, s State, t Tick) (Decision, State) {
	if !s.Started {
		s.Steady = dwell
	}
	s = s.pass(max(t.Elapsed, 0), t.Now, p.Zone)
	lit, change := p.Lit(t.Now)
	var want Decision
	if lit {
		want = Decision{Dimming: p.Dimming, Why: "The plan has it lit" + until(change, p.Zone)}
	} else {
		want = Decision{Why: "The plan has it dark" + until(change, p.Zone)}
	}
	byPerson := o != nil && (o.Until.IsZero() || t.Now.Before(o.Until))
	if byPerson {
		want = Decision{Dimming: o.Dimming, Why: "A person wants it so" + until(o.Until, p.Zone)}
		if o.Until.IsZero() {
			want.Why = "A person wants it so until they take it back."
		}
	} else if !s.Wanted && s.Steady < dwell && (want.Dimming > 0) != (s.Dimming > 0) {
		want.Dimming = s.Dimming
		want.Why = "It was switched less than a minute ago, and stays."
	}
	atOnce := byPerson && want.Dimming == 0
	if want.Dimming > 0 {
		switch {
		case want.Dimming < p.Low-slack:
			want.Limited = fmt.Sprintf("The least dimming is %s.", percent(p.Low))
			want.Dimming = p.Low
		case want.Dimming > p.High+slack:
			want.Limited = fmt.Sprintf("The most dimming is %s.", percent(p.High))
			want.Dimming = p.High
		}
	}
	// The hours of light of the day.
	most := time.Duration(float64(p.MaxHours) * float64(time.Hour))
	if p.MaxHours < 24 && s.Light[dateOf(t.Now, p.Zone)] >= most+over {
		if want.Dimming > 0 || s.Dimming > 0 {
			want.Limited = fmt.Sprintf("It has had its %s h of light today.", quantity.Number(float64(p.MaxHours), 3))
		}
		want.Dimming, atOnce = 0, true
	}
	// The rate of change.
	if p.Change > 0 && !atOnce {
		step := p.Change * quantity.Fraction(t.Elapsed.Minutes())
		target := want.Dimming
		switch {
		case target > s.Dimming+step+slack:
			from := s.Dimming
			want.Dimming = from + step
			if from == 0 { // a lit lamp has its least dimming from the start
				want.Dimming = min(max(step, p.Low), target)
			}
		case target < s.Dimming-step-slack:
			want.Dimming = s.Dimming - step
			if want.Dimming < p.Low {
				want.Dimming = min(target, p.Low)
				if target == 0 && s.Dimming > p.Low+slack {
					want.Dimming = p.Low // off comes after the least dimming, not before
				}
			}
		}
		if want.Dimming != target && want.Limited == "" {
			want.Limited = fmt.Sprintf("The dimming changes by %s a minute, towards %s.", percent(p.Change), percent(target))
		}
	}
	if (want.Dimming > 0) != (s.Dimming > 0) {
		s.Steady = 0
	}
	s.Dimming, s.Started, s.Wanted = want.Dimming, true, byPerson
	return want, s
}

// until says up to when, if that is known.
func until(t time.Time, zone *time.Location) string {
	if t.IsZero() {
		return "."
	}
	return " until " + t.In(zone).Format("15:04 on 2 January 2006") + "."
}
