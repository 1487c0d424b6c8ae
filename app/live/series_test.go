package live

import (
	"cmp"
	"math"
	"slices"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"

	"underlamp"
	"underlamp/app/logged"
	"underlamp/store"
	"underlamp/store/packed"
)

func weighTest(_ int64, v float64) weights { return weights{max(v-4, 0), max(v, 0), b2f(v > 5)} }

func b2f(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// raw is what the store would keep: every instant once, the later arrival counts.
type raw map[int64]float64

func (r raw) between(from, to int64) []packed.Sample {
	var out []packed.Sample
	for at, v := range r {
		if at >= from && at < to {
			out = append(out, packed.Sample{At: at, Value: v})
		}
	}
	slices.SortFunc(out, func(a, b packed.Sample) int { return cmp.Compare(a.At, b.At) })
	return out
}

// plainSums computes from sorted readings what a series sums up, by the rule of package
// logged alone and without slots.
func plainSums(all []packed.Sample, from, to, now int64, stand logged.Standing) sums {
	out := sums{min: math.Inf(1), max: math.Inf(-1)}
	for i, r := range all {
		weight := 0.0
		if i > 0 {
			h, _ := stand.Half(time.Duration(r.At-all[i-1].At) * time.Microsecond)
			weight += h.Seconds()
		} else {
			weight += stand.Step.Seconds() / 2
		}
		if i < len(all)-1 {
			h, _ := stand.Half(time.Duration(all[i+1].At-r.At) * time.Microsecond)
			weight += h.Seconds()
		} else {
			weight += min(stand.Step.Seconds()/2, max(float64(now-r.At)/1e6, 0))
		}
		if i > 0 {
			a, b := max(all[i-1].At, from), min(r.At, to)
			d := r.Value - all[i-1].Value
			if d < 0 {
				d = r.Value
			}
			out.rise += d * float64(max(b-a, 0)) / float64(r.At-all[i-1].At)
		}
		if r.At < from || r.At >= to {
			continue
		}
		out.n++
		out.min, out.max = min(out.min, r.Value), max(out.max, r.Value)
		out.covered += weight
		out.area += weight * r.Value
		out.over.add(weighTest(0, r.Value), weight)
	}
	return out
}

// Whatever the order in which readings come (late by minutes or by a day, doubled,
// corrected, by a clock that runs ahead), and whatever day of whatever zone it is, the sums
// that are held equal to the last bit those of a series that is made anew from all
// readings in order; and these are those of the plain rule to rounding.
func TestIncrementalEqualsBatch(t *testing.T) {
	zones := []*time.Location{time.UTC}
	for _, name := range []string{"Europe/Berlin", "America/St_Johns", "Asia/Kathmandu", "Australia/Lord_Howe", "America/Havana", "Africa/Cairo"} {
		z, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		zones = append(zones, z)
	}
	days := []time.Time{ // among them days on which clocks change
		time.Date(2026, 3, 29, 12, 0, 0, 0, time.UTC), time.Date(2026, 10, 25, 12, 0, 0, 0, time.UTC), time.Date(2026, 3, 8, 12, 0, 0, 0, time.UTC),
		time.Date(2026, 11, 1, 12, 0, 0, 0, time.UTC), time.Date(2026, 4, 5, 12, 0, 0, 0, time.UTC), time.Date(2026, 4, 24, 12, 0, 0, 0, time.UTC), time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC),
	}
	rapid.Check(t, func(t *rapid.T) {
		zone := rapid.SampledFrom(zones).Draw(t, "zone")
		noon := rapid.SampledFrom(days).Draw(t, "day")
		step := rapid.SampledFrom([]time.Duration{20 * time.Second, time.Minute, 7 * time.Minute, 40 * time.Minute, 2 * time.Hour}).Draw(t, "step")
		every := rapid.SampledFrom([]time.Duration{0, step}).Draw(t, "registered")
		begin := noon.Add(-time.Duration(rapid.IntRange(1, 30).Draw(t, "hours before")) * time.Hour)
		end := noon.Add(time.Duration(rapid.IntRange(0, 14).Draw(t, "hours after")) * time.Hour)
		// What happened, in the order of time.
		type arrival struct {
			at, came int64
			v        float64
		}
		var come []arrival
		n := 0
		for at := begin; at.Before(end) && n < 2500; n++ {
			v := math.Round(rapid.Float64Range(-2, 40).Draw(t, "value")*10) / 10
			late := time.Duration(0)
			switch rapid.IntRange(0, 30).Draw(t, "late") {
			case 0:
				late = time.Duration(rapid.IntRange(1, 200).Draw(t, "minutes")) * time.Minute
			case 1:
				late = time.Duration(rapid.IntRange(1, 30).Draw(t, "hours")) * time.Hour
			case 2:
				late = -time.Duration(rapid.IntRange(1, 50).Draw(t, "ahead")) * time.Minute
			case 3: // sent again, corrected
				come = append(come, arrival{store.At(at), store.At(at) + int64(rapid.IntRange(0, 100).Draw(t, "again"))*store.Minute, v + 1})
			}
			come = append(come, arrival{store.At(at), store.At(at) + late.Microseconds(), v})
			gap := 1
			if rapid.IntRange(0, 60).Draw(t, "gap") == 0 {
				gap = rapid.IntRange(2, 80).Draw(t, "of")
			}
			at = at.Add(time.Duration(gap)*step + time.Duration(rapid.IntRange(-2, 2).Draw(t, "jitter"))*time.Second)
		}
		slices.SortStableFunc(come, func(a, b arrival) int { return cmp.Compare(a.came, b.came) })
		keep := raw{}
		held := newSeries(every, weighTest)
		for i, a := range come {
			keep[a.at] = a.v
			if !held.add(packed.Sample{At: a.at, Value: a.v}) {
				at := slotOf(a.at)
				held.load(at, keep.between(at, at+slotWidth))
			}
			if i%50 == 0 {
				held.forget(min(a.came, store.At(end)))
			}
		}
		now := store.At(end)
		held.forget(now)
		anew := newSeries(every, weighTest)
		anew.forget(now)
		window := keep.between(slotOf(now-keepFor), math.MaxInt64)
		anew.fill(window)
		from, to := logged.DayOf(end.Add(-time.Second), zone)
		got, want := held.between(store.At(from), store.At(to), now), anew.between(store.At(from), store.At(to), now)
		if held.step() != anew.step() || got != want || !slices.Equal(held.slots, anew.slots) || held.newest != anew.newest {
			t.Fatalf("of %d readings held\n%+v, anew\n%+v", len(keep), got, want)
		}
		if to.Sub(from) < 23*time.Hour || to.Sub(from) > 25*time.Hour {
			t.Fatalf("the day lasts %v", to.Sub(from))
		}
		plain := plainSums(window, store.At(from), store.At(to), now, anew.standing())
		same := func(what string, a, b float64) {
			if math.Abs(a-b) > 1e-9*max(1, math.Abs(a), math.Abs(b)) && !(math.IsInf(a, 0) && a == b) {
				t.Fatalf("%s: %v by slots, %v by readings", what, a, b)
			}
		}
		if want.n != plain.n {
			t.Fatalf("%d readings, want %d", want.n, plain.n)
		}
		same("least", want.min, plain.min)
		same("most", want.max, plain.max)
		same("covered", want.covered, plain.covered)
		same("area", want.area, plain.area)
		for k := range plain.over {
			same("over", want.over[k], plain.over[k])
		}
		same("rise", want.rise, plain.rise)
	})
}

// A day of 23 hours that is lit all through has 23 hours of light, one of 25 has 25; and a
// window over the change of clocks is an hour shorter or longer.
func TestDaysOfOtherLengths(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for day, want := range map[string]float64{"2026-03-29": 23, "2026-10-25": 25, "2026-06-01": 24} {
		noon, err := time.ParseInLocation("2006-01-02 15", day+" 12", zone)
		if err != nil {
			t.Fatal(err)
		}
		from, to := logged.DayOf(noon, zone)
		s := newSeries(0, weighTest)
		for at := from.Add(-2 * time.Hour); at.Before(to.Add(time.Hour)); at = at.Add(time.Minute) {
			s.add(packed.Sample{At: store.At(at), Value: 10})
		}
		z := s.between(store.At(from), store.At(to), store.At(to))
		if math.Abs(z.over[2]/3600-want) > 1e-9 || math.Abs(z.covered/3600-want) > 1e-9 {
			t.Errorf("%s has %g h of light, want %g", day, z.over[2]/3600, want)
		}
		night := underlamp.Window{From: 22 * time.Hour, To: 6 * time.Hour}
		lit := litBetween(night, from.Add(-2*time.Hour), noon, zone).Hours() // from 22:00 of the day before
		if math.Abs(lit-(8+want-24)) > 1e-9 {
			t.Errorf("the night before %s has %g h, want %g", day, lit, 8+want-24)
		}
	}
}

// A counter that starts anew goes on from 0, and of its rise over midnight each day gets
// the part by its time.
func TestCounter(t *testing.T) {
	s := newSeries(time.Hour, nil)
	day := store.At(time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC))
	for _, r := range []packed.Sample{{At: day - store.Hour/2, Value: 100}, {At: day + store.Hour/2, Value: 102}, {At: day + 3*store.Hour/2, Value: 103}, {At: day + 5*store.Hour/2, Value: 0.5}, {At: day + 7*store.Hour/2, Value: 2}} {
		s.add(r)
	}
	if got := s.between(day, day+store.Day, day+4*store.Hour).rise; got != 1+1+0.5+1.5 {
		t.Errorf("the day counts %g, want 4", got)
	}
}

func BenchmarkTake(b *testing.B) {
	for _, step := range []time.Duration{time.Second, 10 * time.Second, time.Minute} {
		b.Run("every "+step.String(), func(b *testing.B) {
			b.ReportAllocs()
			s := newSeries(step, weighTest)
			at := int64(1_780_000_000) * store.Second
			for b.Loop() {
				s.add(packed.Sample{At: at, Value: 21.5})
				at += step.Microseconds()
				if at%store.Hour == 0 {
					s.forget(at)
				}
			}
		})
	}
}
