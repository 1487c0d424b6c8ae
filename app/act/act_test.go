package act_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"underlamp"
	"underlamp/app/act"
	"underlamp/science/quantity"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func plan(z *time.Location, on time.Duration, hours quantity.Hours) act.Plan {
	return act.Plan{
		Actuator: underlamp.Actuator{Lamp: "bar", On: on, Low: 0.2, High: 0.9, MaxHours: 24},
		Dimming:  0.6, Hours: hours, Zone: z,
	}
}

func at(t testing.TB, text string) time.Time {
	t.Helper()
	x, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// When the light begins and ends: over midnight, and on days when the clocks change. The
// changes are those of the law: in Berlin 29 March 2026 2:00 to 3:00 and 25 October 2026
// 3:00 to 2:00; in Lord Howe by half an hour, 4 October 2026 2:00 to 2:30 (IANA time zone
// database); each end is its begin and the hours, counted by hand.
func TestLit(t *testing.T) {
	berlin, howe := zone(t, "Europe/Berlin"), zone(t, "Australia/Lord_Howe")
	for _, c := range []struct {
		name       string
		zone       *time.Location
		on         time.Duration
		hours      quantity.Hours
		begin, end string
	}{
		{"a usual day", berlin, 6 * time.Hour, 16, "2026-11-26T06:00:00+01:00", "2026-11-26T22:00:00+01:00"},
		{"over midnight", berlin, 20 * time.Hour, 16, "2026-11-26T20:00:00+01:00", "2026-11-27T12:00:00+01:00"},
		{"from midnight", berlin, 0, 12.5, "2026-11-26T00:00:00+01:00", "2026-11-26T12:30:00+01:00"},
		{"over the hour that is left out", berlin, 20 * time.Hour, 16, "2026-03-28T20:00:00+01:00", "2026-03-29T13:00:00+02:00"},
		{"over the hour that comes twice", berlin, 20 * time.Hour, 16, "2026-10-24T20:00:00+02:00", "2026-10-25T11:00:00+01:00"},
		{"after the clocks went forward", berlin, 4 * time.Hour, 16, "2026-03-29T04:00:00+02:00", "2026-03-29T20:00:00+02:00"},
		{"after the clocks went back", berlin, 4 * time.Hour, 16, "2026-10-25T04:00:00+01:00", "2026-10-25T20:00:00+01:00"},
		{"in the hour that is left out", berlin, 150 * time.Minute, 10, "2026-03-29T03:30:00+02:00", "2026-03-29T13:30:00+02:00"},
		{"in the hour that comes twice", berlin, 150 * time.Minute, 10, "2026-10-25T02:30:00+02:00", "2026-10-25T11:30:00+01:00"},
		{"where half an hour is left out", howe, 1 * time.Hour, 10, "2026-10-04T01:00:00+10:30", "2026-10-04T11:30:00+11:00"},
	} {
		p := plan(c.zone, c.on, c.hours)
		begin, end := at(t, c.begin), at(t, c.end)
		for _, x := range []struct {
			at     time.Time
			lit    bool
			change time.Time
		}{
			{begin.Add(-time.Second), false, begin}, {begin, true, end}, {begin.Add(time.Hour), true, end}, {end.Add(-time.Nanosecond), true, end}, {end, false, time.Time{}},
		} {
			lit, change := p.Lit(x.at)
			if lit != x.lit || !x.change.IsZero() && !change.Equal(x.change) {
				t.Errorf("%s, %s: %v until %s, want %v until %s", c.name, x.at, lit, change, x.lit, x.change)
			}
		}
	}
	p := plan(berlin, 6*time.Hour, 24)
	if lit, change := p.Lit(at(t, "2026-10-25T05:30:00+01:00")); !lit || !change.IsZero() {
		t.Error("24 h a day are always")
	}
	p.Hours = 0
	if lit, _ := p.Lit(at(t, "2026-10-25T05:30:00+01:00")); lit {
		t.Error("no hours are never")
	}
}

// Over a year the plan is lit its hours a day, whatever the clocks do.
func TestYear(t *testing.T) {
	for _, name := range []string{"Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "UTC"} {
		z := zone(t, name)
		for _, on := range []time.Duration{0, 2*time.Hour + 10*time.Minute, 6 * time.Hour, 23 * time.Hour} {
			p := plan(z, on, 16)
			begin := time.Date(2026, 1, 15, 12, 0, 0, 0, z)
			end := time.Date(2027, 1, 15, 12, 0, 0, 0, z)
			var sum time.Duration
			for now := begin; now.Before(end); {
				lit, change := p.Lit(now)
				if change.After(end) {
					change = end
				}
				if !change.After(now) {
					t.Fatalf("%s does not go on at %s", name, now)
				}
				if lit {
					sum += change.Sub(now)
				}
				now = change
			}
			if sum != 365*16*time.Hour {
				t.Errorf("%s, on at %v: %v h in 365 days, want %d", name, on, sum.Hours(), 365*16)
			}
		}
	}
}

// A lamp in the hands of Decide, with a clock on the wall and one that only goes forward.
type lamp struct {
	p    act.Plan
	o    *underlamp.Override
	s    act.State
	wall time.Time
}

func (l *lamp) step(d time.Duration) act.Decision {
	l.wall = l.wall.Add(d)
	var out act.Decision
	out, l.s = act.Decide(l.p, l.o, l.s, act.Tick{Now: l.wall, Elapsed: d})
	return out
}

// run steps so long and returns how long the lamp was lit.
func (l *lamp) run(d, step time.Duration) (lit time.Duration) {
	for ; d > 0; d -= step {
		if l.s.Dimming > 0 {
			lit += step
		}
		l.step(step)
	}
	return lit
}

func TestPlanAndPerson(t *testing.T) {
	z := zone(t, "Europe/Berlin")
	l := &lamp{p: plan(z, 6*time.Hour, 16), wall: time.Date(2026, 11, 26, 5, 0, 0, 0, z)}
	if d := l.step(0); d.Dimming != 0 || !strings.Contains(d.Why, "dark until 06:00 on 26 November 2026") {
		t.Errorf("%+v", d)
	}
	if d := l.step(time.Hour); d.Dimming != 0.6 || !strings.Contains(d.Why, "lit until 22:00") {
		t.Errorf("%+v", d)
	}
	l.o = &underlamp.Override{Dimming: 0.3, Until: l.wall.Add(2 * time.Hour)}
	if d := l.step(time.Minute); d.Dimming != 0.3 || !strings.Contains(d.Why, "A person wants it so until 08:00") {
		t.Errorf("%+v", d)
	}
	if d := l.step(2 * time.Hour); d.Dimming != 0.6 {
		t.Errorf("after its time: %+v", d)
	}
	l.o = &underlamp.Override{Dimming: 0}
	if d := l.step(time.Second); d.Dimming != 0 || !strings.Contains(d.Why, "take it back") {
		t.Errorf("%+v", d)
	}
	if d := l.step(30 * time.Hour); d.Dimming != 0 {
		t.Errorf("an override without a time ends: %+v", d)
	}
	l.o = nil
	if d := l.step(time.Second); d.Dimming != 0.6 {
		t.Errorf("taken back: %+v", d)
	}
	// Limits hold for a person too.
	l.o = &underlamp.Override{Dimming: 1}
	if d := l.step(time.Second); d.Dimming != 0.9 || !strings.Contains(d.Limited, "90 %") {
		t.Errorf("%+v", d)
	}
	l.o = &underlamp.Override{Dimming: 0.05}
	if d := l.step(time.Second); d.Dimming != 0.2 || !strings.Contains(d.Limited, "20 %") {
		t.Errorf("%+v", d)
	}
}

// No day has more light than the limit, whoever wants it, and whatever the clock does.
func TestMostHours(t *testing.T) {
	z := zone(t, "Europe/Berlin")
	l := &lamp{p: plan(z, 6*time.Hour, 16), wall: time.Date(2026, 11, 26, 0, 0, 0, 0, z)}
	l.p.MaxHours = 16
	// The plan that uses the limit up is not cut, day after day.
	if lit := l.run(72*time.Hour, 10*time.Second); lit != 48*time.Hour {
		t.Errorf("%v of light in three days of 16 h", lit)
	}
	l.o = &underlamp.Override{Dimming: 0.5}
	if lit := l.run(24*time.Hour, 10*time.Second); lit < 16*time.Hour || lit > 16*time.Hour+2*time.Minute {
		t.Errorf("%v of light by a person, the limit is 16 h", lit)
	}
	if d := l.step(time.Nanosecond); d.Dimming == 0 {
		t.Errorf("a new day: %+v", d)
	}
	l.o = nil
	// The clock goes back an hour at noon: no more light than the limit.
	l = &lamp{p: l.p, wall: time.Date(2026, 11, 28, 0, 0, 0, 0, z)}
	lit := l.run(12*time.Hour, 10*time.Second)
	l.wall = l.wall.Add(-time.Hour)
	lit += l.run(13*time.Hour-time.Second, 10*time.Second)
	if lit < 16*time.Hour || lit > 16*time.Hour+2*time.Minute {
		t.Errorf("%v of light on a day whose clock was set back, the limit is 16 h", lit)
	}
	// Back over midnight: yesterday's light is not forgotten.
	l = &lamp{p: plan(z, 0, 24), wall: time.Date(2026, 11, 28, 0, 0, 0, 0, z)}
	l.p.MaxHours = 16
	l.run(24*time.Hour+10*time.Minute, 10*time.Second)
	l.wall = l.wall.Add(-time.Hour)
	if d := l.step(10 * time.Second); d.Dimming != 0 || !strings.Contains(d.Limited, "16 h of light today") {
		t.Errorf("%+v", d)
	}
}

// A clock that is set back by seconds at the hour of the light does not flicker.
func TestNoFlicker(t *testing.T) {
	z := zone(t, "Europe/Berlin")
	l := &lamp{p: plan(z, 6*time.Hour, 16), wall: time.Date(2026, 11, 26, 5, 59, 50, 0, z)}
	l.step(time.Second)
	if d := l.step(10 * time.Second); d.Dimming == 0 {
		t.Fatalf("%+v", d)
	}
	l.wall = l.wall.Add(-5 * time.Second)
	if d := l.step(time.Second); d.Dimming == 0 {
		t.Errorf("%+v", d)
	}
	// A person is not made to wait.
	l.o = &underlamp.Override{Dimming: 0}
	if d := l.step(time.Second); d.Dimming != 0 {
		t.Errorf("%+v", d)
	}
}

// By the rate, in steps: up from the least dimming, down to it and then off; off for a
// person at once.
func TestChange(t *testing.T) {
	z := zone(t, "UTC")
	l := &lamp{p: plan(z, 6*time.Hour, 16), wall: time.Date(2026, 11, 26, 5, 59, 0, 0, z)}
	l.p.Change = 0.1
	l.step(0)
	var got []float64
	for range 6 {
		got = append(got, math.Round(1000*float64(l.step(time.Minute).Dimming))/1000)
	}
	want := []float64{0.2, 0.3, 0.4, 0.5, 0.6, 0.6}
	for i := range want {
		if got[i] != want[i] {
			t.Fatalf("%v, want %v", got, want)
		}
	}
	l.wall = time.Date(2026, 11, 26, 21, 59, 0, 0, z)
	got = nil
	for range 6 {
		got = append(got, math.Round(1000*float64(l.step(time.Minute).Dimming))/1000)
	}
	want = []float64{0.5, 0.4, 0.3, 0.2, 0, 0}
	for i := range want {
		if got[i] != want[i] {
			t.Fatalf("%v, want %v", got, want)
		}
	}
	l.o = &underlamp.Override{Dimming: 0.9}
	l.run(10*time.Minute, time.Minute)
	if l.s.Dimming != 0.9 {
		t.Errorf("%g", float64(l.s.Dimming))
	}
	l.o = &underlamp.Override{Dimming: 0}
	if d := l.step(time.Second); d.Dimming != 0 {
		t.Errorf("%+v", d)
	}
}

func TestElapsed(t *testing.T) {
	for _, c := range [][3]time.Duration{
		{10 * time.Second, 10 * time.Second, 10 * time.Second},
		{10 * time.Second, -time.Hour, 10 * time.Second},      // set back
		{10 * time.Second, 4 * time.Minute, 10 * time.Second}, // put right
		{10 * time.Second, 8 * time.Hour, 8 * time.Hour},      // slept
		{-1, 0, 0},
	} {
		if got := act.Elapsed(c[0], c[1]); got != c[2] {
			t.Errorf("%v, %v: %v, want %v", c[0], c[1], got, c[2])
		}
	}
}

// The program was away while the lamp was lit: that counts, split at midnight.
func TestAway(t *testing.T) {
	z := zone(t, "UTC")
	now := time.Date(2026, 11, 27, 3, 0, 0, 0, z)
	s := act.Away(act.State{Dimming: 0}, 5*time.Hour, 0.3, now, z)
	if s.Light["2026-11-26"] != 2*time.Hour || s.Light["2026-11-27"] != 3*time.Hour || s.Dimming != 0.3 {
		t.Errorf("%+v", s)
	}
	if s := act.Away(act.State{Dimming: 0.5}, 5*time.Hour, 0, now, z); len(s.Light) != 0 {
		t.Errorf("%+v", s)
	}
	if s := act.Away(act.State{Dimming: 0.5}, 10_000*time.Hour, 0.5, now, z); len(s.Light) > 4 || s.Light["2026-11-26"] != 24*time.Hour {
		t.Errorf("%+v", s)
	}
}

// Whatever a person, a clock and a scheduler do, the limits hold.
func TestLimitsHold(t *testing.T) {
	z := zone(t, "Europe/Berlin")
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(0.05, 0.5).Draw(t, "low")
		high := rapid.Float64Range(low, 1).Draw(t, "high")
		most := rapid.Float64Range(1, 20).Draw(t, "hours at most")
		p := act.Plan{
			Actuator: underlamp.Actuator{
				On: time.Duration(rapid.IntRange(0, 1439).Draw(t, "on")) * time.Minute, Low: quantity.Fraction(low), High: quantity.Fraction(high),
				MaxHours: quantity.Hours(most), Change: quantity.Fraction(rapid.SampledFrom([]float64{0, 0.01, 0.1}).Draw(t, "change")),
			},
			Dimming: quantity.Fraction(rapid.Float64Range(low, high).Draw(t, "dimming")), Hours: quantity.Hours(rapid.Float64Range(0, most).Draw(t, "hours")), Zone: z,
		}
		wall := time.Date(2026, 10, 24, rapid.IntRange(0, 23).Draw(t, "hour"), 0, 0, 0, z) // a day before the clocks go back
		var s act.State
		var o *underlamp.Override
		days := map[string]time.Duration{}
		longest, setBack := time.Duration(0), false
		for range rapid.IntRange(1, 300).Draw(t, "ticks") {
			step := time.Duration(rapid.IntRange(1, 1200).Draw(t, "seconds")) * time.Second
			longest = max(longest, step)
			wall = wall.Add(step)
			switch rapid.IntRange(0, 30).Draw(t, "event") {
			case 0:
				setBack = true
				wall = wall.Add(-time.Duration(rapid.IntRange(0, 7200).Draw(t, "set back")) * time.Second)
			case 1:
				o = &underlamp.Override{Dimming: quantity.Fraction(rapid.Float64Range(0, 1).Draw(t, "wanted"))}
				if rapid.Bool().Draw(t, "for a while") {
					o.Until = wall.Add(time.Hour)
				}
			case 2:
				o = nil
			}
			was := s.Dimming
			if was > 0 { // the light since the last decision, by the day of this one
				begin := time.Date(wall.Year(), wall.Month(), wall.Day(), 0, 0, 0, 0, z)
				today := min(wall.Sub(begin), step)
				days[wall.Format(time.DateOnly)] += today
				days[begin.Add(-time.Hour).Format(time.DateOnly)] += step - today
			}
			var d act.Decision
			d, s = act.Decide(p, o, s, act.Tick{Now: wall, Elapsed: step})
			if d.Dimming != 0 && (float64(d.Dimming) < low-1e-6 || float64(d.Dimming) > high+1e-6) {
				t.Fatalf("%+v is outside of %g to %g", d, low, high)
			}
			if up := float64(d.Dimming - was); p.Change > 0 && up > math.Max(float64(p.Change)*step.Minutes(), map[bool]float64{true: low}[was == 0])+1e-6 {
				t.Fatalf("%g up in %v", up, step)
			}
			limit := time.Duration(most*float64(time.Hour)) + time.Minute
			if days[wall.Format(time.DateOnly)] >= limit && d.Dimming > 0 {
				t.Fatalf("lit though the %g h of the day are used up: %v, %v", most, days, s.Light)
			}
			for k, lit := range days { // a clock set back over midnight adds to a day that is over
				if !setBack && lit > limit+longest {
					t.Fatalf("%v of light on %s, the limit is %g h", lit, k, most)
				}
			}
			if o == nil && d.Dimming > 0 && was == 0 {
				if lit, _ := p.Lit(wall); !lit {
					t.Fatalf("lit by the plan while it is dark: %+v", d)
				}
			}
		}
	})
}

func bench() *underlamp.Bench {
	return &underlamp.Bench{Lamps: []underlamp.Lamp{
		{Name: "left", Dimming: underlamp.Said[quantity.Fraction](0.6), Hours: underlamp.Said[quantity.Hours](16)},
		{Name: "right", Dimming: underlamp.Said[quantity.Fraction](1), Hours: underlamp.Said[quantity.Hours](16)},
		{Name: "assumed", Dimming: underlamp.Assumed[quantity.Fraction](1, "full"), Hours: underlamp.Assumed[quantity.Hours](16, "usual")},
	}}
}

// What does not fit the bench is said, for all lamps at once, and nothing is turned.
func TestPlans(t *testing.T) {
	good := underlamp.Actuator{Lamp: "left", Low: 0.2, High: 0.9, MaxHours: 18}
	got, err := act.Plans(bench(), &underlamp.Acting{Zone: time.UTC, Lamps: []underlamp.Actuator{
		good, {Lamp: "right", Payload: underlamp.Switch, Low: 1, High: 1, MaxHours: 16},
	}})
	if err != nil || len(got) != 2 || got[0].Dimming != 0.6 || got[1].Hours != 16 {
		t.Fatalf("%+v, %v", got, err)
	}
	change := func(f func(*underlamp.Actuator)) underlamp.Actuator {
		x := good
		f(&x)
		return x
	}
	for says, x := range map[string]underlamp.Actuator{
		`is not on the bench; it has "left"`: change(func(a *underlamp.Actuator) { a.Lamp = "middle" }),
		"no hours in the bench file":         change(func(a *underlamp.Actuator) { a.Lamp = "assumed" }),
		"outside of its limits":              change(func(a *underlamp.Actuator) { a.High = 0.5 }),
		"more than its limit of 12 h":        change(func(a *underlamp.Actuator) { a.MaxHours = 12 }),
		"turned down in 40 min":              change(func(a *underlamp.Actuator) { a.MaxHours, a.Change = 16.5, 0.01 }),
		"is switched and not dimmed":         change(func(a *underlamp.Actuator) { a.Payload = underlamp.Switch }),
	} {
		got, err := act.Plans(bench(), &underlamp.Acting{Zone: time.UTC, Lamps: []underlamp.Actuator{good, x}})
		if err == nil || got != nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v, want %q", err, says)
		}
	}
}
