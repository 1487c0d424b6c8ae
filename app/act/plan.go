package act

import (
	"fmt"
	"math"
	"strings"
	"time"

	"underlamp"
	"underlamp/science/quantity"
)

// A Plan is what a lamp is to do each day.
type Plan struct {
	underlamp.Actuator
	Dimming quantity.Fraction // while it is lit
	Hours   quantity.Hours    // of light a day
	Zone    *time.Location
}

// A Mismatch says what of the acting does not fit the bench.
type Mismatch struct {
	Lamp   string
	Reason string
}

// A MismatchError is all that does not fit.
type MismatchError []Mismatch

// Error lists it.
func (e MismatchError) Error() string {
	var out []string
	for _, m := range e {
		out = append(out, fmt.Sprintf("lamp %q %s", m.Lamp, m.Reason))
	}
	return strings.Join(out, "; ")
}

// Plans are those of the lamps that are turned. What does not fit the bench gives a
// [MismatchError]: a lamp that the bench does not have, hours or dimming that nobody
// wrote, or that are outside of the limits. Nothing is clipped silently, and no lamp is
// turned by a default.
func Plans(b *underlamp.Bench, a *underlamp.Acting) ([]Plan, error) {
	var out []Plan
	var bad MismatchError
	for _, x := range a.Lamps {
		fail := func(format string, args ...any) { bad = append(bad, Mismatch{x.Lamp, fmt.Sprintf(format, args...)}) }
		var lamp *underlamp.Lamp
		for i := range b.Lamps {
			if b.Lamps[i].Name == x.Lamp {
				lamp = &b.Lamps[i]
			}
		}
		if lamp == nil {
			fail("is not on the bench; it has %s", names(b))
			continue
		}
		dim, hours := lamp.Dimming, lamp.Hours
		switch {
		case hours.IsDefault():
			fail("has no hours in the bench file: write them there, for a lamp is not turned by a default")
		case dim.IsDefault() && x.Payload != underlamp.Switch:
			fail("has no dimming in the bench file: write it there, for a lamp is not turned by a default")
		case x.Payload == underlamp.Switch && (dim.Value != 1 && !dim.IsDefault() || x.Low != 1 || x.High != 1 || x.Change != 0 || x.Safe != 0 && x.Safe != 1):
			fail("is switched and not dimmed: its dimming in the bench file and in the limits is 100 %%, its change any, and its safe state off or 100 %%")
		case hours.Value > 0 && (dim.Value < x.Low-slack || dim.Value > x.High+slack):
			fail("has the dimming %s in the bench file, outside of its limits %s to %s", percent(dim.Value), percent(x.Low), percent(x.High))
		case x.MaxHours < 24 && hours.Value+fade(x, dim.Value) > x.MaxHours+1e-9:
			fail("has %s h of light in the bench file%s, more than its limit of %s h", quantity.Number(float64(hours.Value), 3), fadeText(x, dim.Value), quantity.Number(float64(x.MaxHours), 3))
		}
		out = append(out, Plan{Actuator: x, Dimming: dim.Value, Hours: hours.Value, Zone: a.Zone})
	}
	if len(bad) > 0 {
		return nil, bad
	}
	return out, nil
}

// fade is how long it takes to turn the lamp down at the end of its light.
func fade(x underlamp.Actuator, dimming quantity.Fraction) quantity.Hours {
	if x.Change <= 0 {
		return 0
	}
	return quantity.Hours(max(dimming-x.Low, 0) / x.Change / 60)
}

func fadeText(x underlamp.Actuator, dimming quantity.Fraction) string {
	if f := fade(x, dimming); f > 0 {
		return fmt.Sprintf(" and is turned down in %s min", quantity.Number(60*float64(f), 2))
	}
	return ""
}

// slack forgives the last digits of a share.
const slack = 1e-9

func names(b *underlamp.Bench) string {
	var out []string
	for _, l := range b.Lamps {
		out = append(out, fmt.Sprintf("%q", l.Name))
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, ", ")
}

func percent(f quantity.Fraction) string { return quantity.Number(100*float64(f), 3) + " %" }

// Lit says whether the plan has the lamp lit at an instant, and the instant at which that
// changes; zero if it never does.
func (p *Plan) Lit(now time.Time) (lit bool, change time.Time) {
	switch {
	case p.Hours <= 0:
		return false, time.Time{}
	case p.Hours >= 24:
		return true, time.Time{}
	}
	last := time.Duration(math.Round(float64(p.Hours) * float64(time.Hour)))
	y, m, d := now.In(p.Zone).Date()
	// The light of yesterday may last into today; the begin of tomorrow may be the next
	// change.
	for day := -1; day <= 2; day++ {
		begin := onWall(y, m, d+day, p.On, p.Zone)
		end := begin.Add(last)
		if now.Before(begin) {
			return false, begin
		}
		if now.Before(end) {
			if next := onWall(y, m, d+day+1, p.On, p.Zone); !end.Before(next) {
				end = next.Add(last) // a day of 23 h: the light of the next day goes on
			}
			return true, end
		}
	}
	return false, time.Time{} // cannot be: of three begins one is later than now
}

// onWall is the instant at which a clock on the wall shows a time on a day: the first if
// it does twice; if it never does, the instant at which it would without the change.
func onWall(y int, m time.Month, d int, clock time.Duration, zone *time.Location) time.Time {
	utc := time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Add(clock)
	_, before := utc.Add(-15 * time.Hour).In(zone).Zone() // offsets reach from −12 to +14 h
	_, after := utc.Add(15 * time.Hour).In(zone).Zone()
	first := time.Time{}
	for _, off := range []int{before, after} {
		t := utc.Add(-time.Duration(off) * time.Second).In(zone)
		_, really := t.Zone()
		if really == off && (first.IsZero() || t.Before(first)) {
			first = t
		}
	}
	if first.IsZero() {
		return utc.Add(-time.Duration(before) * time.Second).In(zone)
	}
	return first
}
