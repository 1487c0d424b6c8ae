package live

import (
	"math"
	"slices"
	"time"

	"underlamp/app/logged"
	"underlamp/store"
	"underlamp/store/packed"
)

// A slot is a quarter of an hour of a sensor: the zones of today begin their days at
// whole quarters of UTC.
const slotWidth = 15 * store.Minute

// How much of a series is held.
const (
	openFor = 2 * store.Hour  // before the newest reading, readings are held one by one; a clock may run ahead by half of it
	keepFor = 30 * store.Hour // before now, slots are held: a day of 25 h, a spark of 24 h, and the reading before them
)

// A slot sums up the readings of a slot. It is a function of them alone, whatever the
// order in which they came, to the last bit.
type slot struct {
	at          int64 // its begin
	n           int
	min, max    float64
	sum         float64
	first, last packed.Sample
	area        float64 // Σ value · s between the readings
	over        weights // Σ weigh(value) · s between the readings
	rise        float64 // of a counter between the readings
}

// weights are what a value counts for, besides itself: see [sensor.weigh].
type weights [3]float64

func (w *weights) add(of weights, sec float64) {
	for i, v := range of {
		w[i] += sec * v
	}
}

func (s *slot) mean() float64 { return s.sum / float64(s.n) }

// rising is how far a counter went on from a to b; one that fell began again at 0.
func rising(a, b float64) float64 {
	if b < a {
		return b
	}
	return b - a
}

// seconds is a stretch of store time in s.
func seconds(us int64) float64 { return float64(us) / float64(store.Second) }

// push adds a reading later than all before. Within a slot there is no gap: a quarter of
// an hour without readings is not lost.
func (s *slot) push(r packed.Sample, weigh func(int64, float64) weights) {
	if s.n == 0 {
		s.min, s.max, s.first = r.Value, r.Value, r
	} else {
		half := seconds(r.At-s.last.At) / 2
		s.area += half * (s.last.Value + r.Value)
		s.over.add(weigh(s.at, s.last.Value), half)
		s.over.add(weigh(s.at, r.Value), half)
		s.rise += rising(s.last.Value, r.Value)
	}
	s.n++
	s.min, s.max, s.sum, s.last = min(s.min, r.Value), max(s.max, r.Value), s.sum+r.Value, r
}

// sumUp makes a slot of its readings, which are in order.
func sumUp(at int64, readings []packed.Sample, weigh func(int64, float64) weights) slot {
	s := slot{at: at}
	for _, r := range readings {
		s.push(r, weigh)
	}
	return s
}

// A series is what is held of a sensor: slots, and the readings of the newest ones. Values
// are true ones in the unit of their kind.
type series struct {
	weigh  func(at int64, v float64) weights // of a value in the slot that begins then
	every  time.Duration                     // between readings, as registered; 0 if not known
	slots  []slot                            // ascending
	open   map[int64][]packed.Sample
	newest packed.Sample // At is 0 while there is none
	from   int64         // slots that begin before are not held
}

func newSeries(every time.Duration, weigh func(int64, float64) weights) *series {
	if weigh == nil {
		weigh = func(int64, float64) weights { return weights{} }
	}
	return &series{weigh: weigh, every: every, open: map[int64][]packed.Sample{}, from: math.MinInt64}
}

func slotOf(at int64) int64 { return at - at%slotWidth }

// add takes a reading. It returns false if the slot is one whose readings are not held
// any more: it is to be read again from the store, and handed to [series.load].
func (s *series) add(r packed.Sample) (held bool) {
	at := slotOf(r.At)
	if at < s.from {
		return true // before all that is asked of
	}
	if s.sealed(at) {
		return false
	}
	in := s.open[at]
	switch i, found := slices.BinarySearchFunc(in, r.At, func(a packed.Sample, t int64) int { return compare(a.At, t) }); {
	case found:
		in[i].Value = r.Value // the later of one instant counts
	case i == len(in) && i > 0 && len(s.slots) > 0 && s.slots[len(s.slots)-1].at == at: // as most do: the newest
		s.open[at] = append(in, r)
		s.slots[len(s.slots)-1].push(r, s.weigh)
		s.newest = r
		return true
	case i == len(in):
		in = append(in, r)
	default:
		in = slices.Insert(in, i, r)
	}
	s.open[at] = in
	s.put(at, in)
	return true
}

// sealed says that the readings of a slot are not held.
func (s *series) sealed(at int64) bool {
	return s.newest.At != 0 && at+slotWidth <= slotOf(s.newest.At)-openFor
}

// load puts all readings of a slot in place of what was held of it.
func (s *series) load(at int64, readings []packed.Sample) {
	if at < s.from {
		return
	}
	if !s.sealed(at) {
		s.open[at] = slices.Clone(readings)
	}
	s.put(at, readings)
}

func (s *series) put(at int64, readings []packed.Sample) {
	i, found := slices.BinarySearchFunc(s.slots, at, func(a slot, t int64) int { return compare(a.at, t) })
	switch {
	case len(readings) == 0 && found:
		s.slots = slices.Delete(s.slots, i, i+1)
	case len(readings) == 0:
	case found:
		s.slots[i] = sumUp(at, readings, s.weigh)
	default:
		s.slots = slices.Insert(s.slots, i, sumUp(at, readings, s.weigh))
	}
	if n := len(readings); n > 0 && readings[n-1].At >= s.newest.At {
		s.newest = readings[n-1]
		for at := range s.open {
			if s.sealed(at) {
				delete(s.open, at)
			}
		}
	}
}

// fill takes readings in order, as the store gives them.
func (s *series) fill(readings []packed.Sample) {
	for i := 0; i < len(readings); {
		at, j := slotOf(readings[i].At), i
		for j < len(readings) && slotOf(readings[j].At) == at {
			j++
		}
		s.load(at, readings[i:j])
		i = j
	}
}

// forget drops what is older than is asked of at an instant, so that the same is held as
// a new series would hold.
func (s *series) forget(now int64) {
	s.from = max(s.from, slotOf(now-keepFor))
	i := 0
	for i < len(s.slots) && s.slots[i].at < s.from {
		i++
	}
	if i == 0 {
		return
	}
	s.slots = slices.Delete(s.slots, 0, i)
	for at := range s.open {
		if at < s.from {
			delete(s.open, at)
		}
	}
	if len(s.slots) == 0 {
		s.newest = packed.Sample{}
	}
}

func compare(a, b int64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// step is the usual time between readings: as registered, else the median over the slots;
// 0 if there are too few readings to tell.
func (s *series) step() time.Duration {
	if s.every > 0 {
		return s.every
	}
	var within, between []int64
	for i := range s.slots {
		x := &s.slots[i]
		if x.n > 1 {
			within = append(within, (x.last.At-x.first.At)/int64(x.n-1))
		}
		if i > 0 {
			between = append(between, x.first.At-s.slots[i-1].last.At)
		}
	}
	if len(within) == 0 {
		within = between
	}
	if len(within) == 0 {
		return 0
	}
	slices.Sort(within)
	return time.Duration(within[len(within)/2]) * time.Microsecond
}

// standing is how long readings stand: a gap is of more than three steps and of more than
// a slot.
func (s *series) standing() logged.Standing {
	step := s.step()
	return logged.Standing{Step: step, Gap: max(3*step, time.Duration(slotWidth)*time.Microsecond)}
}

// sums are what readings of a stretch of time sum up to, each for the time that it stands
// for.
type sums struct {
	n        int
	min, max float64
	covered  float64 // s
	area     float64 // Σ value · s
	over     weights // Σ weigh(value) · s
	rise     float64 // of a counter
	gaps     int
}

// between sums up from an instant to before another, both at whole slots, as it is known
// at now.
func (s *series) between(from, to, now int64) sums {
	stand := s.standing()
	out := sums{min: math.Inf(1), max: math.Inf(-1)}
	add := func(at int64, v, sec float64) {
		out.covered += sec
		out.area += sec * v
		out.over.add(s.weigh(at, v), sec)
	}
	half := func(apart int64) (float64, bool) {
		h, gap := stand.Half(time.Duration(apart) * time.Microsecond)
		return h.Seconds(), gap
	}
	for i := range s.slots {
		x := &s.slots[i]
		in := x.at >= from && x.at < to
		if i > 0 {
			before := &s.slots[i-1]
			was := before.at >= from && before.at < to
			apart := x.first.At - before.last.At
			h, gap := half(apart)
			if was {
				add(before.at, before.last.Value, h)
			}
			if in {
				add(x.at, x.first.Value, h)
			}
			if was && in && gap {
				out.gaps++
			}
			if was || in { // of the rise over a boundary the part by its time
				a, b := max(before.last.At, from), min(x.first.At, to)
				out.rise += rising(before.last.Value, x.first.Value) * float64(max(b-a, 0)) / float64(apart)
			}
		} else if in {
			add(x.at, x.first.Value, stand.Step.Seconds()/2)
		}
		if !in {
			continue
		}
		out.n += x.n
		out.min, out.max = min(out.min, x.min), max(out.max, x.max)
		out.covered += seconds(x.last.At - x.first.At)
		out.area += x.area
		out.over.add(x.over, 1)
		out.rise += x.rise
		if i == len(s.slots)-1 {
			add(x.at, x.last.Value, min(stand.Step.Seconds()/2, max(seconds(now-x.last.At), 0)))
		}
	}
	return out
}
