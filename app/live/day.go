package live

import (
	"math"
	"time"

	"underlamp/app/logged"
	"underlamp/app/measurand"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/working"
)

// A lightDay is the light of the day of a bench at an instant.
type lightDay struct {
	from, to time.Time // of the day
	by       string    // "rack/ppfd", "the clock": what tells
	origin   string    // "measured" where light was, else "computed"
	inputs   []working.Input

	parts []part // of it, by the plans that held; more than one where the bench was changed

	known   bool
	lit     *bool
	ratio   float64 // light now over the light of the plan; NaN if not known
	soFar   float64 // mol m⁻², mean over the plants
	hours   float64 // of light so far
	covered float64 // share of the day so far that was read
	gaps    int

	rest     float64   // h of light to come
	restFrom time.Time // when it begins; zero if that cannot be told
	restHow  string
	on       float64 // light of the rest over the light of the plan
	byFile   bool    // nothing was read that tells it
	onHow    string
}

// A part is what a plan has to do with a day.
type part struct {
	piece
	mol   float64 // mol m⁻², mean over the plants, so far
	hours float64 // of light so far
}

// soFarOf is the light of a plant so far: in each part its share of the light of the plan that
// held then. A plant that was not there then is taken for the mean.
func (l *lightDay) soFarOf(name string) float64 {
	sum := 0.0
	for _, x := range l.parts {
		share := 1.0
		for _, p := range x.plan.plants {
			if p.Name == name && x.plan.mean > 0 {
				share = float64(p.PPFD) / x.plan.mean
			}
		}
		sum += share * x.mol
	}
	return sum
}

// before is the plan that held before a piece.
func (l *lightDay) before(p piece) *plan {
	for i, x := range l.parts {
		if i > 0 && x.from == p.from {
			return l.parts[i-1].plan
		}
	}
	return p.plan
}

// planned is the light of the plans over the hours of light so far.
func (l *lightDay) planned() float64 {
	sum := 0.0
	for _, x := range l.parts {
		sum += float64(quantity.DailyLight(quantity.PPFD(x.plan.mean), quantity.Hours(x.hours)))
	}
	return sum
}

// ofDay is a value of the plans over a whole day: each counts for its part of the hours of
// light by the clock, or of the day where nobody said when the lamps burn.
func (s *state) ofDay(l *lightDay, value func(*plan) float64) float64 {
	if len(l.parts) == 1 {
		return value(s.plan)
	}
	sum, all := 0.0, 0.0
	for _, x := range l.parts {
		w := seconds(x.to - x.from)
		if s.limits.lights != nil {
			w = litBetween(*s.limits.lights, store.Time(x.from), store.Time(x.to), s.zone).Seconds()
		}
		sum, all = sum+w*value(x.plan), all+w
	}
	if all == 0 {
		return value(s.plan)
	}
	return sum / all
}

// end is the DLI by the end of the day, mean over the plants.
func (l *lightDay) end(p *plan) float64 {
	return l.soFar + float64(quantity.DailyLight(quantity.PPFD(l.on*p.mean), quantity.Hours(l.rest)))
}

func (s *state) day(now time.Time) *lightDay {
	l := &lightDay{ratio: math.NaN(), on: 1, onHow: "the light of the bench file"}
	l.from, l.to = logged.DayOf(now, s.zone)
	from, to, at := store.At(l.from), store.At(l.to), store.At(now)
	for _, p := range s.pieces(from, to) {
		l.parts = append(l.parts, part{piece: p})
	}
	elapsed := now.Sub(l.from).Seconds()
	sum := func(all []*sensor) (out []sums) {
		best := 0.0
		for _, x := range all {
			z := x.series.between(from, to, at)
			out = append(out, z)
			best = max(best, z.covered)
		}
		for i := range out { // one that read half as long as another would make the day too dark
			if out[i].covered < best/2 {
				out[i].n = 0
			}
		}
		return out
	}
	light, lamps := s.of(measurand.PPFD), s.of(measurand.Lamp)
	n := 0.0
	for i, z := range sum(light) {
		x := light[i]
		if z.n == 0 || !(x.planned > 0) {
			continue
		}
		n++
		for k := range l.parts {
			p := &l.parts[k]
			planned, _ := p.plan.at(&x.Sensor)
			if y := x.part(p, at, z, len(l.parts)); planned > 0 {
				p.mol += y.over[weighShare] * 1e-6 / planned * p.plan.mean
				p.hours += y.over[weighLit] / 3600
			}
		}
		l.hours += z.over[weighLit] / 3600
		l.covered += z.covered
		l.gaps += z.gaps
		l.name(x)
		in := working.Plain("light at "+x.Key+" so far", quantity.DailyIntegral.Format(z.over[weighShare]*1e-6, s.bench.Units, 3), "measured")
		if !x.placed {
			in.Note = "nobody said where it stands: taken for the mean plant"
		}
		l.inputs = append(l.inputs, in)
	}
	l.origin = "measured"
	if n == 0 {
		l.origin = "computed"
		for i, z := range sum(lamps) {
			if z.n == 0 {
				continue
			}
			n++
			for k := range l.parts {
				p := &l.parts[k]
				y := lamps[i].part(p, at, z, len(l.parts))
				p.mol += float64(quantity.DailyLight(quantity.PPFD(p.plan.mean*y.over[weighShare]), 1)) / 3600
				p.hours += y.over[weighLit] / 3600
			}
			l.hours += z.over[weighLit] / 3600
			l.covered += z.covered
			l.gaps += z.gaps
			l.name(lamps[i])
			l.inputs = append(l.inputs, working.Plain("lamps on at "+lamps[i].Key, quantity.Duration.Format(z.over[weighLit]/3600, s.bench.Units, 3), "measured"))
		}
	}
	switch {
	case n > 0:
		l.known = true
		l.hours, l.covered = l.hours/n, l.covered/n/max(elapsed, 1)
		for k := range l.parts {
			p := &l.parts[k]
			p.mol, p.hours = p.mol/n, p.hours/n
			l.soFar += p.mol
		}
	case s.limits.lights != nil:
		l.known, l.by = true, "the clock"
		l.hours = litBetween(*s.limits.lights, l.from, now, s.zone).Hours()
		for k := range l.parts {
			p := &l.parts[k]
			until := store.Time(min(p.to, max(at, p.from)))
			p.hours = litBetween(*s.limits.lights, store.Time(p.from), until, s.zone).Hours()
			p.mol = float64(quantity.DailyLight(quantity.PPFD(p.plan.mean), quantity.Hours(p.hours)))
			l.soFar += p.mol
		}
		in, _ := inWindow(*s.limits.lights, now, s.zone)
		l.lit, l.ratio = &in, 0
		if in {
			l.ratio = 1
		}
		l.inputs = append(l.inputs, working.Plain("lamps on", windowText(*s.limits.lights), "stated"))
	}
	l.measuredNow(s, now)
	s.rest(l, now)
	return l
}

// part is what a sensor sums up to in a part of a day; whole is that of the day.
func (x *sensor) part(p *part, now int64, whole sums, parts int) sums {
	if parts == 1 {
		return whole
	}
	return x.series.between(p.from, p.to, now)
}

func (l *lightDay) name(x *sensor) {
	if l.by != "" {
		l.by += ", "
	}
	l.by += x.Key
}

// measuredNow sets the ratio and whether lamps burn by what sensors read now. The ratio
// is that of least squares over the light sensors.
func (l *lightDay) measuredNow(s *state, now time.Time) {
	var up, down float64
	_, light := s.now(measurand.PPFD, now)
	for _, x := range light {
		up += max(x.series.newest.Value, 0) * x.planned
		down += x.planned * x.planned
		l.burn(x)
	}
	if down > 0 {
		l.ratio = up / down
		return
	}
	dimming, lamps := s.now(measurand.Lamp, now)
	if len(lamps) == 0 {
		return
	}
	l.ratio = lamps[0].series.weigh(slotOf(store.At(now)), dimming)[weighShare]
	for _, x := range lamps {
		l.burn(x)
	}
}

func (l *lightDay) burn(x *sensor) {
	on := x.on(x.series.newest.Value) || l.lit != nil && *l.lit && l.by != "the clock"
	l.lit = &on
}

// nearlyAll is the share of the hours of a bench file after which lamps that are off are
// taken to be done for the day.
const nearlyAll = 0.9

// rest says how much light is to come.
func (s *state) rest(l *lightDay, now time.Time) {
	left := l.to.Sub(now).Hours()
	if w := s.limits.lights; w != nil {
		l.rest = litBetween(*w, now, l.to, s.zone).Hours()
		l.restHow = "hours by the clock, " + windowText(*w)
		if in, _ := inWindow(*w, now, s.zone); in && l.lit != nil && !*l.lit {
			// They should be on and are not: nobody knows when they will be.
		} else if in {
			l.restFrom = now
		} else if on := nextOn(*w, now, s.zone); on.Before(l.to) {
			l.restFrom = on
		}
	} else {
		l.rest = min(max(s.plan.day-l.hours, 0), left)
		l.restHow = "the hours of the bench file that are left (" + s.plan.origin + ")"
		if l.lit != nil && !*l.lit && l.hours >= nearlyAll*s.plan.day {
			l.rest, l.restHow = 0, "the lamps are off, and have burnt for the hours of the bench file"
		}
		if l.lit != nil && *l.lit {
			l.restFrom = now
		}
	}
	const enough = 0.25 // h of light that tell how bright the rest will be
	switch {
	case l.lit != nil && *l.lit && l.origin == "measured" && s.lately(now) > 0:
		l.on, l.onHow = s.lately(now), "as bright as in the last half hour"
	case l.origin == "measured" && l.hours >= enough && l.planned() > 0:
		l.on = l.soFar / l.planned()
		l.onHow = "as bright as today so far"
	case l.lit != nil && *l.lit && l.ratio > 0:
		l.on, l.onHow = l.ratio, "dimmed as now"
	default:
		on := s.lastDay(now)
		if l.byFile = !(on > 0); !l.byFile {
			l.on, l.onHow = on, "as bright as in the last 24 h"
		}
	}
}

// lately is the light of the last half hour over that of the plan; NaN without.
func (s *state) lately(now time.Time) float64 {
	var up, down float64
	for _, x := range s.of(measurand.PPFD) {
		if v := x.lately(now); v > 0 {
			up, down = up+v*x.planned, down+x.planned*x.planned
		}
	}
	return up / down
}

// lastDay is the light of the last 24 hours, while there was some, over that of the plan;
// NaN without a light sensor.
func (s *state) lastDay(now time.Time) float64 {
	sum, n := 0.0, 0.0
	at := store.At(now)
	for _, x := range s.of(measurand.PPFD) {
		lit, share := 0.0, 0.0
		for _, p := range s.pieces(slotOf(at-store.Day), slotOf(at)+slotWidth) {
			if planned, _ := p.plan.at(&x.Sensor); planned > 0 {
				z := x.series.between(p.from, p.to, at)
				lit, share = lit+z.over[weighLit], share+z.over[weighShare]/planned
			}
		}
		if lit > 900 {
			sum, n = sum+share/lit, n+1
		}
	}
	return sum / n
}
