package logged

import "time"

// A Standing says for how long readings stand: each for half of the way to the one before
// and to the one after. Where that one is further off than Gap, the time between was not
// read, and the reading stands for half of a Step that way.
type Standing struct{ Step, Gap time.Duration }

// Half is the time that a reading stands for towards another one, and whether there is a
// gap between them.
func (s Standing) Half(apart time.Duration) (half time.Duration, gap bool) {
	if apart > s.Gap {
		return s.Step / 2, true
	}
	return apart / 2, false
}

// DayOf is the begin of the day of an instant in a zone, and that of the next day: 23 or
// 25 h later where the clocks change. A day that has no midnight begins at its first
// instant.
func DayOf(t time.Time, zone *time.Location) (from, to time.Time) {
	y, m, d := t.In(zone).Date()
	return begin(y, m, d, zone), begin(y, m, d+1, zone)
}

func begin(y int, m time.Month, d int, zone *time.Location) time.Time {
	t := time.Date(y, m, d, 0, 0, 0, 0, zone)
	// Where the clock skips midnight, time.Date may answer with an hour of the day before.
	if _, _, day := t.Date(); day != time.Date(y, m, d, 12, 0, 0, 0, zone).Day() {
		_, end := t.ZoneBounds()
		return end
	}
	return t
}
