package live

import (
	"fmt"
	"math"
	"slices"
	"time"

	"underlamp/app/measurand"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/store/packed"
)

// checks tell what is wrong with what a sensor read, each in a sentence with what to do.
func (s *state) checks(x *sensor, now time.Time) []Check {
	if x.fault != nil {
		f := *x.fault
		f.Since = now.UTC()
		return []Check{f}
	}
	var out []Check
	if c := s.silent(x, now); c != nil {
		out = append(out, *c)
	}
	if x.series.newest.At == 0 {
		return out
	}
	if c := s.implausible(x); c != nil {
		out = append(out, *c)
	} else if c := s.jump(x, now); c != nil {
		out = append(out, *c)
	}
	if c := s.stuck(x); c != nil {
		out = append(out, *c)
	}
	if x.drift != nil {
		out = append(out, *x.drift)
	}
	return out
}

// silent: no reading for longer than its interval allows.
func (s *state) silent(x *sensor, now time.Time) *Check {
	const mend = "Look at its power, its battery and its way to this program; underlamp device list shows who may send."
	newest := x.series.newest.At
	if newest == 0 {
		if x.Every == 0 {
			return nil // entered, and nobody expects anything of it yet
		}
		return &Check{CheckSilent, "It has sent nothing for 30 h.", mend, now.Add(-time.Duration(keepFor) * time.Microsecond).UTC()}
	}
	longest := x.stale()
	if l := s.limits.by["silent"]; l.high != nil && l.high.Value > 0 {
		longest = time.Duration(l.high.Value * float64(time.Hour))
	}
	age := now.Sub(store.Time(newest))
	if age <= longest {
		return nil
	}
	text := "It has sent nothing for " + ageText(age) + "."
	if step := x.series.step(); step > 0 {
		text = fmt.Sprintf("It has sent nothing for %s; it usually sends every %s.", ageText(age), ageText(step))
	}
	return &Check{CheckSilent, text, mend, store.Time(newest)}
}

// implausible: the newest value is beyond what can be.
func (s *state) implausible(x *sensor) *Check {
	v := x.series.newest
	if v.Value >= x.m.Low && v.Value <= x.m.High {
		return nil
	}
	u := s.bench.Units
	since := v.At
	for at, in := range x.series.open {
		for i := len(in) - 1; i >= 0 && at+slotWidth > v.At-openFor && (in[i].Value < x.m.Low || in[i].Value > x.m.High); i-- {
			since = min(since, in[i].At)
		}
	}
	return &Check{CheckImplausible, fmt.Sprintf("It reads %s, and no bench can be outside %s to %s.", x.m.Text(v.Value, u), x.m.Text(x.m.Low, u), x.m.Text(x.m.High, u)),
		"Look at its cable, its unit (underlamp sensor show) and its calibration. The value counts for nothing until it is right.", store.Time(since)}
}

// jump: two readings within ten minutes, in the last hour, differ by more than can be.
func (s *state) jump(x *sensor, now time.Time) *Check {
	if x.m.Jump == 0 {
		return nil
	}
	var before packed.Sample
	var found *Check
	x.recent(store.At(now)-store.Hour, func(r packed.Sample) {
		if before.At != 0 && r.At-before.At <= 10*store.Minute && math.Abs(r.Value-before.Value) > x.m.Jump {
			u := s.bench.Units
			found = &Check{CheckJump, fmt.Sprintf("It jumped from %s to %s within %s.", x.m.Text(before.Value, u), x.m.Text(r.Value, u), ageText(time.Duration(r.At-before.At)*time.Microsecond)),
				"Look whether it was moved, touched or wetted. If nothing was done to it, its cable or plug is loose.", store.Time(r.At)}
		}
		before = r
	})
	return found
}

// recent calls take for the readings that are held from an instant on, in order.
func (s *sensor) recent(from int64, take func(packed.Sample)) {
	for i := range s.series.slots {
		for _, r := range s.series.open[s.series.slots[i].at] {
			if r.At >= from {
				take(r)
			}
		}
	}
}

// resolution is the last digit that the values of a series have, in the unit in which the
// sensor sends; 0 if they have more than four.
func (s *sensor) resolution() float64 {
	for _, r := range []float64{1, 0.1, 0.01, 0.001, 0.0001} {
		all := true
		for i := range s.series.slots {
			z := &s.series.slots[i]
			for _, v := range []float64{z.min, z.max, z.first.Value} {
				sent := s.to.Of(v)
				if c := s.calibration(z.at); c != nil && c.Gain != 0 {
					sent = sent/c.Gain + c.Offset
				}
				if math.Abs(sent/r-math.Round(sent/r)) > 1e-6*max(1, math.Abs(sent/r)) {
					all = false
				}
			}
		}
		if all {
			return math.Abs(r * s.to.Scale)
		}
	}
	return 0
}

// stuck: the same value for longer than its quantity and its resolution allow, while
// others of the bench moved. A light sensor is stuck if it stays lit while lamps or other
// light sensors go off, or longer than any day of the bench.
func (s *state) stuck(x *sensor) *Check {
	slots := x.series.slots
	last := x.series.newest.Value
	i := len(slots)
	for i > 0 && slots[i-1].min == last && slots[i-1].max == last {
		i--
	}
	if i == len(slots) {
		return nil
	}
	since := slots[i].first.At
	held := time.Duration(x.series.newest.At-since) * time.Microsecond
	allowed := x.m.Still
	if x.m.Quantity == measurand.PPFD {
		if last == 0 {
			return nil // dark is dark
		}
		if allowed = time.Duration((s.plan.day + 1) * float64(time.Hour)); s.othersDark(x, since) {
			allowed = 0
		}
	} else if allowed == 0 {
		return nil
	} else {
		moved, any := s.othersMoved(x, since)
		switch {
		case !any:
			allowed *= 2 // nothing to hold it against
		case !moved:
			return nil // the room itself stands still
		}
	}
	if held <= allowed || x.series.newest.At-slots[i].at < 2*slotWidth {
		return nil
	}
	return &Check{CheckStuck, fmt.Sprintf("It has read the very same, %s, for %s.", x.m.Text(last, s.bench.Units), ageText(held)),
		"Breathe on it or shade it: if the value does not move, start it anew or replace it.", store.Time(since)}
}

// othersMoved says whether other sensors of temperature, humidity or CO2 moved since an
// instant by more than twice what this one can tell.
func (s *state) othersMoved(x *sensor, since int64) (moved, any bool) {
	limit := 2 * x.resolution()
	for _, y := range s.sensors {
		if y == x || y.fault != nil || y.m.Kind.Name() != x.m.Kind.Name() && y.m.Quantity != measurand.AirTemperature {
			continue
		}
		least, most, n := math.Inf(1), math.Inf(-1), 0
		for i := range y.series.slots {
			if z := &y.series.slots[i]; z.at >= slotOf(since) {
				least, most, n = min(least, z.min), max(most, z.max), n+z.n
			}
		}
		if n < 2 {
			continue
		}
		any = true
		// A share and a temperature: half a degree moves the humidity by 2 % and more.
		if d := most - least; y.m.Kind.Name() == x.m.Kind.Name() && d > limit || y.m.Kind.Name() != x.m.Kind.Name() && d > 1 {
			moved = true
		}
	}
	return moved, any
}

// othersDark says whether a lamp or another light sensor was both on and off since an
// instant.
func (s *state) othersDark(x *sensor, since int64) bool {
	for _, y := range s.sensors {
		if y == x || y.fault != nil || y.m.Quantity != measurand.PPFD && y.m.Quantity != measurand.Lamp {
			continue
		}
		on, off := false, false
		for i := range y.series.slots {
			if z := &y.series.slots[i]; z.at > since {
				on, off = on || y.on(z.max), off || !y.on(z.min)
			}
		}
		if on && off {
			return true
		}
	}
	return false
}

// Bounds of what is called drift.
const (
	driftDays  = 90   // that are looked at
	driftWeek  = 7    // days whose median is compared
	driftShare = 0.08 // of the light: common practice, no source; quantum sensors are good to 5 %
)

// drift compares the light that a sensor read in the last week with that of its first
// week since its calibration (at most 90 days back), against the other light sensors of
// the bench if there are any. levels are the upper levels of sensors by day, in true values.
func drift(x *sensor, others []*sensor, levels map[*sensor]map[int64]float64, now time.Time) *Check {
	first, last := week(x, others, levels, false), week(x, others, levels, true)
	if math.IsNaN(first) || math.IsNaN(last) || math.Abs(last/first-1) <= driftShare {
		return nil
	}
	way := "less"
	if last > first {
		way = "more"
	}
	against, mend := "than at first, under lamps that nobody dimmed as far as this program knows", "Clean it, compare it with another meter, and enter what you find: underlamp sensor calibrate "+x.Key+" --pair \"read true\". If the other meter agrees, the lamps have changed: put a reading into the bench file."
	if len(others) > 0 {
		against, mend = "than at first beside the other light sensors of the bench", "Clean it, compare it with another meter, and enter what you find: underlamp sensor calibrate "+x.Key+" --pair \"read true\"."
	}
	return &Check{CheckDrift, fmt.Sprintf("It reads %s %% %s %s.", quantity.Fixed(100*math.Abs(last/first-1), 0), way, against), mend, now.UTC()}
}

// week is the median ratio of the first or the last seven days that a sensor has.
func week(x *sensor, others []*sensor, levels map[*sensor]map[int64]float64, newest bool) float64 {
	var days []int64
	ratio := map[int64]float64{}
	for day, v := range levels[x] {
		against, n := 0.0, 0
		for _, y := range others {
			if w, ok := levels[y][day]; ok && w > 0 && y.planned > 0 {
				against += w / y.planned
				n++
			}
		}
		if len(others) > 0 && n < len(others) {
			continue // a day on which one is missing compares with something else
		}
		ratio[day] = v
		if n > 0 {
			ratio[day] = v / (against / float64(n))
		}
		days = append(days, day)
	}
	if len(days) < 2*driftWeek {
		return math.NaN()
	}
	slices.Sort(days)
	if newest {
		days = days[len(days)-driftWeek:]
	} else {
		days = days[:driftWeek]
	}
	var v []float64
	for _, d := range days {
		v = append(v, ratio[d])
	}
	slices.Sort(v)
	return v[len(v)/2] // of seven
}
