package live

import (
	"time"

	"underlamp"
	"underlamp/science/quantity"
)

// litBetween is how much of a stretch of time lies in a window of the clock of a zone.
// Where the clocks change inside the window it is an hour more or less.
func litBetween(w underlamp.Window, from, to time.Time, zone *time.Location) time.Duration {
	var sum time.Duration
	for t := from.In(zone).AddDate(0, 0, -1); ; t = t.AddDate(0, 0, 1) {
		on, off := windowOn(w, t, zone)
		if !on.Before(to) {
			return sum
		}
		if on.Before(from) {
			on = from
		}
		if off.After(to) {
			off = to
		}
		sum += max(off.Sub(on), 0)
	}
}

// windowOn is the window that begins on the day of an instant.
func windowOn(w underlamp.Window, t time.Time, zone *time.Location) (on, off time.Time) {
	y, m, d := t.In(zone).Date()
	at := func(d int, clock time.Duration) time.Time {
		return time.Date(y, m, d, int(clock/time.Hour), int(clock/time.Minute)%60, 0, 0, zone)
	}
	on, off = at(d, w.From), at(d, w.To)
	if w.From >= w.To {
		off = at(d+1, w.To)
	}
	return on, off
}

// inWindow says whether a window holds an instant, and since when it does or does not.
func inWindow(w underlamp.Window, t time.Time, zone *time.Location) (in bool, since time.Time) {
	for back := 0; back < 3; back++ {
		on, off := windowOn(w, t.In(zone).AddDate(0, 0, -back), zone)
		switch {
		case !t.Before(off):
			return false, off
		case !t.Before(on):
			return true, on
		}
	}
	return false, t
}

// nextOn is the next begin of a window after an instant.
func nextOn(w underlamp.Window, t time.Time, zone *time.Location) time.Time {
	for ahead := 0; ; ahead++ {
		if on, _ := windowOn(w, t.In(zone).AddDate(0, 0, ahead), zone); on.After(t) {
			return on
		}
	}
}

// ageText is how long ago something was.
func ageText(d time.Duration) string {
	switch {
	case d < time.Minute:
		return quantity.Fixed(max(d.Seconds(), 0), 0) + " s"
	case d < 2*time.Hour:
		return quantity.Fixed(d.Minutes(), 0) + " min"
	case d < 48*time.Hour:
		return quantity.Fixed(d.Hours(), 0) + " h"
	}
	return quantity.Fixed(d.Hours()/24, 0) + " d"
}
