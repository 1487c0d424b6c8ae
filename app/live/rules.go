package live

import (
	"fmt"
	"math"
	"slices"
	"time"

	"underlamp"
	"underlamp/app/measurand"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/store/packed"
)

// A verdict is what a rule says at an instant. Rules look at readings alone, and at
// whether they have been told: any server comes to the same.
type verdict struct {
	rule   string
	holds  bool
	unsure bool // what would tell is not known now: what is open stays open
	since  time.Time
	text   string
	mend   string
	urgent bool
}

// told says whether a message of a rule is open.
type told func(rule string) bool

// judge asks all rules of a bench.
func (s *state) judge(now time.Time, l *lightDay, told told) []verdict {
	var out []verdict
	add := func(v ...verdict) { out = append(out, v...) }
	add(s.danger(now)...)
	add(s.dliRules(now, l, told)...)
	add(s.darkRule(now)...)
	add(s.lampRules(now)...)
	joint := s.joint(now)
	add(s.vpdRules(now, joint, told)...)
	add(s.dewRule(now, joint, told)...)
	for _, r := range ranges {
		add(s.rangeRules(r, now, told)...)
	}
	add(s.sensorRules(now)...)
	return out
}

// danger: carbon dioxide over the limit of a working day. It has no switch.
func (s *state) danger(now time.Time) []verdict {
	all := s.of(measurand.CO2)
	if len(all) == 0 {
		return nil
	}
	v := verdict{rule: "CO2 danger", urgent: true, unsure: true}
	for _, x := range all {
		n := x.series.newest
		if n.At == 0 || now.Sub(store.Time(n.At)) > x.stale() {
			continue
		}
		v.unsure = false
		if n.Value > WorkdayCO2 {
			v.holds, v.since = true, store.Time(run(x, now, func(v float64) bool { return v > WorkdayCO2 }))
			v.text = fmt.Sprintf("CO2 is at %s (%s): more than the %s of a working day (OSHA, 29 CFR 1910.1000, table Z-1).", quantity.GasShare.Format(n.Value, s.bench.Units, 3), x.Key, quantity.GasShare.Format(WorkdayCO2, s.bench.Units, 4))
			v.mend = "Leave the room, shut the supply of CO2 from outside, and air. Nobody goes in before a meter of their own says that it is safe."
		}
	}
	return []verdict{v}
}

// run is since when the values of a sensor, back from the newest, meet a condition that
// has one bound. A gap ends it. The newest is expected to meet it.
func run(x *sensor, now time.Time, is func(v float64) bool) (since int64) {
	z := x.series
	since = z.newest.At
	gap := int64(z.standing().Gap / time.Microsecond)
	last := since
	for i := len(z.slots) - 1; i >= 0; i-- {
		y := &z.slots[i]
		if last-y.last.At > gap {
			return since
		}
		if in := z.open[y.at]; in != nil {
			for k := len(in) - 1; k >= 0; k-- {
				if !is(in[k].Value) || last-in[k].At > gap {
					return since
				}
				since, last = in[k].At, in[k].At
			}
			continue
		}
		if !is(y.min) || !is(y.max) {
			return since
		}
		since, last = y.first.At, y.first.At
	}
	return since
}

// clockText is a time of the clock, with its day if it is not near.
func clockText(t, now time.Time, zone *time.Location) string {
	if t.Sub(now).Abs() > 16*time.Hour {
		return t.In(zone).Format("2006-01-02 15:04")
	}
	return t.In(zone).Format("15:04")
}

// dliRules: the DLI of the day will pass the ceiling, or miss the target.
func (s *state) dliRules(now time.Time, l *lightDay, told told) []verdict {
	x := s.limits.by[underlamp.WatchDLI]
	if x.off || l.by == "the clock" {
		return nil // without a sensor it says only what the bench file says
	}
	var out []verdict
	u := s.bench.Units
	unsure := !l.known || l.byFile // what the file alone says is no news
	if x.high != nil {
		v := verdict{rule: "DLI high", unsure: unsure, since: now.UTC()}
		share := s.plan.highest / s.plan.mean
		soFar := l.soFarOf(s.plan.brightest)
		end := soFar + (l.end(s.plan)-l.soFar)*share
		limit := x.high.Value
		if told(v.rule) {
			limit -= x.hysteresis
		}
		if !v.unsure && end > limit {
			v.holds = true
			plant := "the brightest plant"
			if s.plan.brightest != "" {
				plant += ", " + s.plan.brightest + ","
			}
			perHour := float64(quantity.DailyLight(quantity.PPFD(l.on*s.plan.highest), 1))
			switch left := (x.high.Value - soFar) / perHour; {
			case soFar >= x.high.Value:
				v.text = fmt.Sprintf("The DLI of %s has passed the ceiling of %s.", plant, x.text(x.high.Value, u))
			case !l.restFrom.IsZero() && left >= 0 && left <= l.rest:
				v.text = fmt.Sprintf("The DLI of %s will pass the ceiling of %s at %s.", plant, x.text(x.high.Value, u), clockText(l.restFrom.Add(time.Duration(left*float64(time.Hour))), now, s.zone))
			default:
				v.text = fmt.Sprintf("The DLI of %s will pass the ceiling of %s today.", plant, x.text(x.high.Value, u))
			}
			v.mend = "Dim the lamps or end their day earlier."
		}
		out = append(out, v)
	}
	if x.low != nil {
		v := verdict{rule: "DLI low", unsure: unsure || l.covered < 0.9, since: now.UTC()}
		limit := x.low.Value
		if told(v.rule) {
			limit += x.hysteresis
		}
		if end := l.end(s.plan); !v.unsure && end < limit {
			v.holds = true
			v.text = fmt.Sprintf("The DLI of today will be %s, and miss %s.", x.text(end, u), x.text(x.low.Value, u))
			v.mend = "Light for longer or brighter, and look whether a lamp is off, dirty or moved."
		}
		out = append(out, v)
	}
	return out
}

// lightSensors are those that tell light from dark, light before lamps.
func (s *state) lightSensors() []*sensor {
	if all := s.of(measurand.PPFD); len(all) > 0 {
		return all
	}
	return s.of(measurand.Lamp)
}

// darkRule: no dark period in the last 24 hours.
func (s *state) darkRule(now time.Time) []verdict {
	x := s.limits.by[underlamp.WatchDark]
	all := s.lightSensors()
	if x.off || x.low == nil || len(all) == 0 {
		return nil
	}
	v := verdict{rule: "dark", unsure: true, since: now.Add(-24 * time.Hour).UTC()}
	at, best := store.At(now), 0.0
	for _, y := range all {
		if y.series.between(slotOf(at-store.Day), at, at).covered < 0.9*86400 {
			continue
		}
		v.unsure = false
		longest, dark := 0.0, 0.0
		for i := range y.series.slots {
			z := &y.series.slots[i]
			if z.at < slotOf(at-store.Day) {
				continue
			}
			if y.on(z.max) {
				dark = 0
				continue
			}
			dark += seconds(slotWidth) / 3600
			longest = max(longest, dark)
		}
		best = max(best, longest)
	}
	if !v.unsure && best < x.low.Value {
		v.holds = true
		v.text = fmt.Sprintf("The last 24 hours had no dark period of %s; the longest was %s.", x.text(x.low.Value, s.bench.Units), quantity.Duration.Format(best, s.bench.Units, 2))
		v.mend = "Look at the timer of the lamps, and for other light that reaches the bench at night."
	}
	return []verdict{v}
}

// lampRules: lamps off when they should be on, and on when off; and a lamp that says it
// burns in the dark.
func (s *state) lampRules(now time.Time) []verdict {
	x := s.limits.by[underlamp.WatchLamp]
	if x.off {
		return nil
	}
	var out []verdict
	var fresh []*sensor
	for _, y := range s.lightSensors() {
		if y.usable(now) {
			fresh = append(fresh, y)
		}
	}
	if w := s.limits.lights; w != nil && len(s.lightSensors()) > 0 {
		off, on := verdict{rule: "lamp off", unsure: len(fresh) == 0}, verdict{rule: "lamp on", unsure: len(fresh) == 0}
		should, since := inWindow(*w, now, s.zone)
		burns, from := false, int64(0)
		for _, y := range fresh {
			is := y.on(y.series.newest.Value)
			burns = burns || is
			from = max(from, run(y, now, func(v float64) bool { return y.on(v) == is }))
		}
		if t := store.Time(from); t.After(since) {
			since = t
		}
		if len(fresh) > 0 && burns != should && now.Sub(since) >= x.delay {
			v := &off
			text := "The lamps are off since %s, and should be on (" + windowText(*w) + ")."
			v.mend = "Look at plug, breaker and timer. Do not open a lamp or its driver."
			if burns {
				v = &on
				text = "The lamps are on since %s, and should be off (they should be on " + windowText(*w) + ")."
				v.mend = "Look at the timer, and for other light that reaches the sensor."
			}
			v.holds, v.since, v.text = true, since.UTC(), fmt.Sprintf(text, clockText(since, now, s.zone))
		}
		out = append(out, off, on)
	}
	light, lamps := s.of(measurand.PPFD), s.of(measurand.Lamp)
	if len(light) > 0 && len(lamps) > 0 {
		v := verdict{rule: "lamp dark", unsure: true}
		_, lightNow := s.now(measurand.PPFD, now)
		_, lampsNow := s.now(measurand.Lamp, now)
		if len(lightNow) == len(light) && len(lampsNow) > 0 {
			v.unsure = false
			since := int64(math.MinInt64)
			dark, on := true, false
			for _, y := range lightNow {
				if dark = dark && !y.on(y.series.newest.Value); dark {
					since = max(since, run(y, now, func(v float64) bool { return !y.on(v) }))
				}
			}
			for _, y := range lampsNow {
				if y.on(y.series.newest.Value) {
					on = true
					since = max(since, run(y, now, y.on))
				}
			}
			if dark && on && now.Sub(store.Time(since)) >= x.delay {
				v.holds, v.since = true, store.Time(since)
				v.text = fmt.Sprintf("The lamps say that they are on, and it is dark at the light sensor since %s.", clockText(v.since, now, s.zone))
				v.mend = "Look whether the lamps burn and whether the sensor is covered."
			}
		}
		out = append(out, v)
	}
	return out
}

// A jointSlot is a quarter of an hour of the air.
type jointSlot struct {
	at       int64
	temp, rh float64
	cold     float64 // the colder of air and leaf
	lit      bool
	told     bool // whether lamps were on is known
}

// joint are the quarters of an hour that have temperature and humidity, ascending. The
// deficit of means of so short a time is that of the readings to a hundredth of a kPa.
func (s *state) joint(now time.Time) []jointSlot {
	type sum struct{ t, rh, cold, n, nrh, lit, dark float64 }
	by := map[int64]*sum{}
	var order []int64
	for _, x := range s.of(measurand.AirTemperature) {
		for i := range x.series.slots {
			z := &x.series.slots[i]
			if z.min < x.m.Low || z.max > x.m.High {
				continue
			}
			if by[z.at] == nil {
				by[z.at] = &sum{cold: math.Inf(1)}
				order = append(order, z.at)
			}
			y := by[z.at]
			y.t, y.n = y.t+z.mean(), y.n+1
		}
	}
	each := func(q measurand.Quantity, take func(y *sum, x *sensor, z *slot)) {
		for _, x := range s.of(q) {
			for i := range x.series.slots {
				z := &x.series.slots[i]
				if y := by[z.at]; y != nil && z.min >= x.m.Low && z.max <= x.m.High {
					take(y, x, z)
				}
			}
		}
	}
	each(measurand.Humidity, func(y *sum, _ *sensor, z *slot) { y.rh, y.nrh = y.rh+min(z.mean(), 1), y.nrh+1 })
	each(measurand.LeafTemperature, func(y *sum, _ *sensor, z *slot) { y.cold = min(y.cold, z.mean()) })
	for _, q := range []measurand.Quantity{measurand.PPFD, measurand.Lamp} {
		each(q, func(y *sum, x *sensor, z *slot) {
			if x.on(z.mean()) {
				y.lit++
			} else {
				y.dark++
			}
		})
	}
	slices.Sort(order)
	var out []jointSlot
	for _, at := range order {
		y := by[at]
		if y.nrh == 0 {
			continue
		}
		j := jointSlot{at: at, temp: y.t / y.n, rh: y.rh / y.nrh}
		j.cold = min(y.cold, j.temp)
		switch {
		case y.lit+y.dark > 0:
			j.lit, j.told = y.lit >= y.dark, true
		case s.limits.lights != nil:
			j.lit, _ = inWindow(*s.limits.lights, store.Time(at+slotWidth/2), s.zone)
			j.told = true
		}
		out = append(out, j)
	}
	return out
}

// vpdRules: the deficit is outside its band for hours of the time with light.
func (s *state) vpdRules(now time.Time, joint []jointSlot, told told) []verdict {
	x := s.limits.by[underlamp.WatchVPD]
	if x.off || len(s.of(measurand.AirTemperature)) == 0 || len(s.of(measurand.Humidity)) == 0 {
		return nil
	}
	low, high := verdict{rule: "VPD low", unsure: true}, verdict{rule: "VPD high", unsure: true}
	n := len(joint)
	if n == 0 || store.At(now)-joint[n-1].at > slotWidth+store.Hour/2 || joint[n-1].told && !joint[n-1].lit {
		return []verdict{low, high} // at night the day's verdict stays
	}
	value := func(j jointSlot) float64 {
		return float64(moistair.VPD(quantity.Celsius(j.temp), quantity.Fraction(j.rh)))
	}
	judge := func(v *verdict, out func(float64) bool, side string, mend string, limit float64) {
		v.unsure = false
		hours, sum, count := 0.0, 0.0, 0.0
		for i := n - 1; i >= 0; i-- {
			if joint[i].told && !joint[i].lit {
				continue
			}
			d := value(joint[i])
			if !out(d) {
				break
			}
			hours += seconds(slotWidth) / 3600
			sum, count = sum+d, count+1
			v.since = store.Time(joint[i].at)
		}
		if v.holds = count > 0 && (told(v.rule) || hours >= x.delay.Hours()); v.holds {
			when := "in the time with light"
			if !joint[n-1].told {
				when = "by day and night, for nothing tells when the lamps burn"
			}
			v.text = fmt.Sprintf("The vapour pressure deficit has been %s %s for %s %s; its mean was %s.", side, x.text(limit, s.bench.Units), quantity.Duration.Format(hours, s.bench.Units, 3), when, x.text(sum/count, s.bench.Units))
			v.mend = mend
		}
	}
	if x.low != nil {
		judge(&low, func(d float64) bool { b, _ := x.outside(d, told("VPD low"), false); return b }, "below", "Leaves lose little water, and calcium comes with it: dry or warm the air, or move it across the heads.", x.low.Value)
	}
	if x.high != nil {
		judge(&high, func(d float64) bool { _, b := x.outside(d, false, told("VPD high")); return b }, "above", "Moisten or cool the air, and look that the roots have water.", x.high.Value)
	}
	return []verdict{low, high}
}

// dewRule: a surface comes near to the dew point.
func (s *state) dewRule(now time.Time, joint []jointSlot, told told) []verdict {
	x := s.limits.by[underlamp.WatchDew]
	if x.off || x.low == nil || len(s.of(measurand.AirTemperature)) == 0 || len(s.of(measurand.Humidity)) == 0 {
		return nil
	}
	v := verdict{rule: "dew", unsure: true}
	dew, cold, what := s.dew(now)
	if math.IsNaN(dew) {
		return []verdict{v}
	}
	v.unsure = false
	out := func(margin float64) bool { b, _ := x.outside(margin, told("dew"), false); return b }
	if !out(cold - dew) {
		return []verdict{v}
	}
	v.since = now.UTC()
	for i := len(joint) - 1; i >= 0; i-- {
		j := joint[i]
		e := moistair.VapourPressure(quantity.Celsius(j.temp), quantity.Fraction(j.rh))
		if !out(j.cold - float64(moistair.DewPoint(e))) {
			break
		}
		v.since = store.Time(j.at)
	}
	if v.holds = told("dew") || now.Sub(v.since) >= x.delay; v.holds {
		v.text = fmt.Sprintf("Dew is near: %s is %s over the dew point of %s.", what, x.text(cold-dew, s.bench.Units), quantity.Temperature.Format(dew, s.bench.Units, 3))
		v.mend = "Move the air, dry it, or warm it a little; colder walls and pipes are wet before the leaves are. Keep water away from mains."
	}
	return []verdict{v}
}

// A rangeRule holds a quantity to two limits.
type rangeRule struct {
	key       underlamp.WatchKey
	of        measurand.Quantity
	name      string // as a sentence begins
	low, high string // what to do
}

var ranges = []rangeRule{
	{underlamp.WatchAir, measurand.AirTemperature, "The air", "Look at heating and doors.", "Look at ventilation and cooling; dim the lamps if nothing else cools."},
	{underlamp.WatchLeaf, measurand.LeafTemperature, "The leaf", "Look at heating and doors.", "Raise or dim the lamps, move the air, and look that the roots have water."},
	{underlamp.WatchHumidity, measurand.Humidity, "The humidity", "Moisten the air, or ventilate less.", "Ventilate or dry the air, and move it through the heads."},
	{underlamp.WatchCO2, measurand.CO2, "CO2", "Look at the supply, or ventilate more.", "Look at the supply, and ventilate."},
	{underlamp.WatchSolution, measurand.SolutionTemperature, "The solution", "Warm the solution, or insulate the tank.", "Cool or shade the tank: warm water holds little oxygen."},
	{underlamp.WatchEC, measurand.EC, "The EC", "Add feed, in small steps.", "Add water, in small steps."},
	{underlamp.WatchPH, measurand.PH, "The pH", "Look at the alkalinity of the water and the ammonium of the feed.", "Correct with acid as its label says: goggles and gloves, acid into water and never the reverse."},
}

func (s *state) rangeRules(r rangeRule, now time.Time, told told) []verdict {
	x := s.limits.by[r.key]
	all := s.of(r.of)
	if x.off || len(all) == 0 {
		return nil
	}
	var out []verdict
	_, fresh := s.now(r.of, now)
	for _, side := range []struct {
		word, mend string
		limit      *underlamp.Given[float64]
		high       bool
	}{{"low", r.low, x.low, false}, {"high", r.high, x.high, true}} {
		if side.limit == nil {
			continue
		}
		v := verdict{rule: string(r.key) + " " + side.word, unsure: len(fresh) == 0, urgent: x.urgent}
		is := told(v.rule)
		beyond := func(value float64) bool {
			low, high := x.outside(value, is, is)
			return side.high && high || !side.high && low
		}
		worst := math.NaN()
		for _, y := range fresh {
			n := y.series.newest.Value
			if !beyond(n) {
				continue
			}
			since := store.Time(run(y, now, beyond))
			if !is && now.Sub(since) < x.delay {
				continue
			}
			if v.holds && (n > worst) != side.high {
				continue
			}
			worst, v.holds, v.since = n, true, since
			than := "below"
			if side.high {
				than = "above"
			}
			v.text = fmt.Sprintf("%s is at %s (%s): %s %s since %s.", r.name, x.text(n, s.bench.Units), y.Key, than, x.text(side.limit.Value, s.bench.Units), clockText(since, now, s.zone))
			v.mend = side.mend
		}
		out = append(out, v)
	}
	return out
}

// sensorRules: what is wrong with sensors.
func (s *state) sensorRules(now time.Time) []verdict {
	var out []verdict
	for _, x := range s.sensors {
		is := map[CheckKind]Check{}
		for _, c := range s.checks(x, now) {
			is[c.Kind] = c
		}
		for _, k := range []CheckKind{CheckUnit, CheckSilent, CheckImplausible, CheckStuck, CheckJump, CheckDrift} {
			key := underlamp.WatchSensor
			if k == CheckSilent {
				key = underlamp.WatchSilent
			}
			l := s.limits.by[key]
			if l.off {
				continue
			}
			v := verdict{rule: string(k) + " " + x.Key, urgent: l.urgent}
			if c, ok := is[k]; ok && k == CheckSilent && x.series.newest.At == 0 {
				v.unsure = true // it may never have sent: what was told stays, and nobody is told anew
			} else if ok {
				v.holds, v.since, v.mend = true, c.Since, c.Mend
				v.text = fmt.Sprintf("Sensor %s: %s", x.Key, c.Text)
			}
			out = append(out, v)
		}
	}
	return out
}

// lately is the mean of what a sensor read while lamps were on in the last half hour; NaN
// if they were not.
func (s *sensor) lately(now time.Time) float64 {
	sum, n := 0.0, 0.0
	s.recent(store.At(now)-store.Hour/2, func(r packed.Sample) {
		if s.on(r.Value) && r.Value <= s.m.High {
			sum, n = sum+r.Value, n+1
		}
	})
	return sum / n
}
