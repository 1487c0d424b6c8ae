package loggercsv

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

var (
	// Date, then perhaps a clock, half of the day, and offset.
	stamp = regexp.MustCompile(`^(\d{1,4})([./\-])(\d{1,2})[./\-](\d{1,4})(?:(?:[T ]\s*|,\s*)(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s*([aApP]\.?[mM]\.?)?\s*(Z|UTC|GMT|[+\-−]\d{2}:?\d{2})?)?$`)
	clock = regexp.MustCompile(`^(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s*([aApP]\.?[mM]\.?)?\s*(Z|UTC|GMT|[+\-−]\d{2}:?\d{2})?$`)
	since = regexp.MustCompile(`^\d{9,10}(\.\d{1,6})?$|^\d{12,13}$|^\d{15,16}$`)
	// An offset in a heading or above it: "Date Time, GMT+01:00", "Time (UTC)".
	offsetWord = regexp.MustCompile(`(?i)\b(?:GMT|UTC)\s*([+\-−]\d{1,2}:?\d{2}|[+\-−]\d{1,2}\b)?`)
)

// looksLikeTime says that the first cell is a time, or the first is a day.
func looksLikeTime(c []string) bool {
	return len(c) > 0 && (stamp.MatchString(c[0]) || since.MatchString(c[0]))
}

// timeCells is how many cells the time takes: two where the first is a day alone and
// the second a clock.
func (t *table) timeCells() int {
	m := stamp.FindStringSubmatch(t.rows[0][0])
	if m != nil && m[5] == "" && clock.MatchString(t.rows[0][1]) {
		return 2
	}
	return 1
}

// A moment is a time as written.
type moment struct {
	a, b, c              int  // the numbers of the date in their order
	yearFirst            bool // a is the year
	hour, min, sec, nano int
	offset               *int // s east of UTC
	unix                 *time.Time
	line                 int
}

func parse(text string, line int) (moment, error) {
	m := moment{line: line}
	bad := func(what string) error {
		return &Error{Line: line, Reason: fmt.Sprintf("%q %s", text, what), Do: "mend or remove the line"}
	}
	if since.MatchString(text) {
		whole, part, _ := strings.Cut(text, ".")
		n, _ := strconv.ParseInt(whole, 10, 64)
		var at time.Time
		switch len(whole) {
		case 12, 13:
			at = time.UnixMilli(n)
		case 15, 16:
			at = time.UnixMicro(n)
		default:
			nano, _ := strconv.ParseInt((part + "000000000")[:9], 10, 64)
			at = time.Unix(n, nano)
		}
		m.unix = &at
		return m, nil
	}
	s := stamp.FindStringSubmatch(text)
	if s == nil {
		return m, bad("is no time")
	}
	num := func(x string) int { n, _ := strconv.Atoi(x); return n }
	m.a, m.b, m.c = num(s[1]), num(s[3]), num(s[4])
	switch m.yearFirst = len(s[1]) == 4; {
	case m.yearFirst && len(s[4]) > 2, !m.yearFirst && len(s[1]) > 2, !m.yearFirst && len(s[4]) != 2 && len(s[4]) != 4:
		return m, bad("is no date")
	case !m.yearFirst && len(s[4]) == 2:
		m.c += 2000
	}
	m.hour, m.min, m.sec = num(s[5]), num(s[6]), num(s[7])
	if s[8] != "" {
		m.nano = num((s[8] + "000000000")[:9])
	}
	if half := strings.ToLower(s[9]); half != "" {
		if m.hour < 1 || m.hour > 12 {
			return m, bad("is no time of a clock with halves of the day")
		}
		m.hour %= 12
		if half[0] == 'p' {
			m.hour += 12
		}
	}
	if m.hour > 24 || m.min > 59 || m.sec > 60 || m.hour == 24 && m.min+m.sec+m.nano > 0 {
		return m, bad("is no time of a clock")
	}
	if s[10] != "" {
		o := offsetOf(s[10])
		m.offset = &o
	}
	return m, nil
}

// offsetOf is the offset of "Z", "UTC", "+0200", "-3:30" or "+1" in s.
func offsetOf(s string) int {
	s = strings.Replace(s, "−", "-", 1)
	digits := strings.ReplaceAll(strings.TrimLeft(s, "+-"), ":", "")
	n, err := strconv.Atoi(digits)
	if err != nil {
		return 0
	}
	if len(digits) > 2 {
		n = n/100*3600 + n%100*60
	} else {
		n *= 3600
	}
	if strings.HasPrefix(s, "-") {
		n = -n
	}
	return n
}

// times reads all times.
func (l *Log) times(t *table, opt Options) error {
	all := make([]moment, len(t.rows))
	for i, r := range t.rows {
		text := r[0]
		if t.timeCells() == 2 {
			text += " " + r[1]
		}
		m, err := parse(text, t.lines[i])
		if err != nil {
			return err
		}
		all[i] = m
	}
	dayFirst, err := l.order(all, opt)
	if err != nil {
		return err
	}
	if err := l.offsets(t, all, opt); err != nil {
		return err
	}
	var twice, skipped int
	second := false // within the hour that comes twice: its second pass
	for i, m := range all {
		if m.unix != nil {
			l.Times = append(l.Times, m.unix.UTC())
			continue
		}
		year, month, day := m.a, m.b, m.c
		if !m.yearFirst {
			year, month, day = m.c, m.a, m.b
			if dayFirst {
				month, day = m.b, m.a
			}
		}
		zone := opt.Zone
		if m.offset != nil {
			zone = time.FixedZone("", *m.offset)
		}
		at := time.Date(year, time.Month(month), day, m.hour, m.min, m.sec, m.nano, zone)
		if check := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC); check.Day() != day || int(check.Month()) != month {
			return &Error{Line: m.line, Reason: fmt.Sprintf("%q is no day of the calendar", t.rows[i][0]), Do: "mend or remove the line"}
		}
		if m.offset == nil {
			early, late := passes(at)
			switch {
			case !early.Equal(late): // the hour comes twice
				if n := len(l.Times); n > 0 {
					last := l.Times[n-1]
					second = second && last.Before(late) && late.Sub(last) < 3*time.Hour || !early.After(last) && !late.Before(last) && last.Sub(early) < 2*time.Hour
				}
				if at = early; second {
					at = late
				}
				twice++
			case at.Hour() != m.hour%24 || at.Minute() != m.min:
				skipped++
				second = false
			default:
				second = false
			}
		}
		l.Times = append(l.Times, at.UTC())
	}
	if twice > 0 {
		l.Notes = append(l.Notes, fmt.Sprintf("Summer time ends within the table: of the hour that comes twice %d rows were put into its first or second pass by their order.", twice))
	}
	if skipped > 0 {
		l.Notes = append(l.Notes, fmt.Sprintf("%d rows have a time that the clocks of %s left out when summer time began: the logger may keep winter time all year.", skipped, opt.Zone))
	}
	return nil
}

// passes are the two instants that a clock on the wall may mean, the same if it means
// one.
func passes(at time.Time) (early, late time.Time) {
	wall := func(a, b time.Time) bool {
		return a.Hour() == b.Hour() && a.Minute() == b.Minute() && a.Second() == b.Second() && a.Day() == b.Day()
	}
	for _, d := range []time.Duration{30 * time.Minute, time.Hour, 2 * time.Hour} {
		if other := at.Add(-d); wall(other, at) {
			return other, at
		}
		if other := at.Add(d); wall(other, at) {
			return at, other
		}
	}
	return at, at
}

// order finds out whether the day or the month stands first: by a number above 12,
// else by what the text before says of the times: they ascend in small steps.
func (l *Log) order(all []moment, opt Options) (dayFirst bool, err error) {
	open, first, second := false, 0, 0
	for _, m := range all {
		if m.unix != nil || m.yearFirst {
			continue
		}
		open = true
		if m.a > 12 && first == 0 {
			first = m.line
		}
		if m.b > 12 && second == 0 {
			second = m.line
		}
	}
	switch {
	case !open:
		return false, nil
	case first > 0 && second > 0:
		return false, &Error{Line: max(first, second), Reason: fmt.Sprintf("the date cannot have the order that line %d needs", min(first, second)), Do: "mend the dates, so that all have one order"}
	case first > 0:
		return true, nil
	case second > 0:
		return false, nil
	case opt.DayFirst != nil:
		return *opt.DayFirst, nil
	}
	// Rows that go on day by day tell: the number that changes more often is the day.
	da, db := 0, 0
	for i := 1; i < len(all); i++ {
		if all[i].a != all[i-1].a {
			da++
		}
		if all[i].b != all[i-1].b {
			db++
		}
	}
	switch {
	case da > db:
		l.Notes = append(l.Notes, "In dates the day is taken to stand first: it changes more often.")
		return true, nil
	case db > da:
		l.Notes = append(l.Notes, "In dates the month is taken to stand first: it changes less often.")
		return false, nil
	case all[0].a == all[0].b && da == 0:
		return true, nil // 03/03 either way
	}
	return false, &Error{Line: all[0].line, Reason: "the dates may have the day or the month first", Do: "say which"}
}

// offsets gives the moments the offset that the heading or what is above it names,
// and fails if there is none and no zone.
func (l *Log) offsets(t *table, all []moment, opt Options) error {
	need := 0
	for i := range all {
		if all[i].unix == nil && all[i].offset == nil {
			need++
		}
	}
	if need == 0 {
		return nil
	}
	if m := offsetWord.FindStringSubmatch(strings.Join(t.heading[:t.timeCells()], " ")); m != nil {
		o := offsetOf(m[1])
		for i := range all {
			if all[i].offset == nil {
				all[i].offset = &o
			}
		}
		l.Notes = append(l.Notes, fmt.Sprintf("Times are in the zone of the heading, %s.", strings.TrimSpace(m[0])))
		return nil
	}
	if opt.Zone == nil {
		return &Error{Line: all[0].line, Reason: "the times do not say in which zone their clock runs", Do: "say which, such as Europe/Berlin"}
	}
	l.Notes = append(l.Notes, fmt.Sprintf("Times are taken as the clock of %s.", opt.Zone))
	return nil
}
