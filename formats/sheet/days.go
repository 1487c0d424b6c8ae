package sheet

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// months are the names of months in English, German, Dutch, French and Spanish, without
// accents.
var months = [12]string{
	"january januar jaenner januari janvier enero", "february februar februari fevrier febrero", "march maerz marz mrz maart mars marzo mrt", "april avril abril",
	"may mai mei mayo", "june juni juin junio", "july juli juillet julio", "august augustus aout agosto", "september septembre septiembre",
	"october oktober octobre octubre", "november novembre noviembre", "december dezember decembre diciembre",
}

// monthOf reads the name of a month, or its first letters, three at least.
func monthOf(word string) (time.Month, bool) {
	w := strings.NewReplacer("ä", "a", "é", "e", "è", "e", "û", "u", "ü", "u", ".", "").Replace(strings.ToLower(word))
	if len(w) < 3 {
		return 0, false
	}
	for i, names := range months {
		for name := range strings.FieldsSeq(names) {
			if strings.HasPrefix(name, w) || w == "sept" && i == 8 {
				return time.Month(i + 1), true
			}
		}
	}
	return 0, false
}

// A dayText is a day as written.
type dayText struct {
	a, b   int // day and month in their order; b is the month where it is written as a word or the year comes first
	year   int // 0: none is written
	known  bool
	points bool // the numbers are parted by points, which puts the day first
	clock  time.Duration
	hasClk bool
}

const clockPart = `(?:(?:\s*,?\s+|T|\s*-\s*)(?:at |um |om |à )?(\d{1,2})(?:[:h.](\d{2}))?(?::(\d{2}))?\s*(?:([ap])\.?\s?m\.?|uhr|h)?(?:Z|[+\-]\d{2}:?\d{2})?)?`

const weekday = `(?:(?i:mon|tue|wed|thu|fri|sat|sun|mo|di|mi|do|fr|sa|so|lun|mar|mer|jeu|ven|sam|dim|ma|wo|za|zo|vr|vie|mie|jue|sab|dom)[a-zäöüéáíó]*\.?,?\s+)?`

var (
	isoDay     = regexp.MustCompile(`^(\d{4})([-./])(\d{1,2})[-./](\d{1,2})` + clockPart + `$`)
	numberDay  = regexp.MustCompile(`^` + weekday + `(\d{1,2})\s?([./\-])\s?(\d{1,2})(?:\s?[./\-]\s?(\d{4}|'?\d{2})?)?` + clockPart + `$`)
	wordLater  = regexp.MustCompile(`^` + weekday + `(\d{1,2})(?:st|nd|rd|th|\.|er|º)?[\s\-./]*(?:of |de )?(\p{L}{3,}\.?)[\s\-./,]*(?:de )?(\d{4}|'?\d{2})?` + clockPart + `$`)
	wordFirst  = regexp.MustCompile(`^` + weekday + `(\p{L}{3,}\.?)[\s\-./]*(\d{1,2})(?:st|nd|rd|th)?(?:[\s\-./,]+(\d{4}|'?\d{2}))?` + clockPart + `$`)
	compactDay = regexp.MustCompile(`^(20\d{2})(\d{2})(\d{2})$`)
)

func looksLikeDay(s string) bool { _, ok := dayIn(s); return ok }

// dayIn reads a day of text.
func dayIn(s string) (dayText, bool) {
	if !mayBeDay(s) {
		return dayText{}, false
	}
	s = strings.Join(strings.Fields(s), " ")
	if len(s) < 3 || len(s) > 60 || !strings.ContainsAny(s, "0123456789") {
		return dayText{}, false
	}
	num := func(x string) int { n, _ := strconv.Atoi(strings.TrimPrefix(x, "'")); return n }
	year := func(x string) int {
		n := num(x)
		if x != "" && n < 100 {
			n += 2000
		}
		return n
	}
	d := dayText{}
	var clock []string
	if m := isoDay.FindStringSubmatch(s); m != nil {
		d.year, d.b, d.a, d.known, clock = num(m[1]), num(m[3]), num(m[4]), true, m[5:9]
	} else if m := compactDay.FindStringSubmatch(s); m != nil {
		d.year, d.b, d.a, d.known = num(m[1]), num(m[2]), num(m[3]), true
	} else if m := numberDay.FindStringSubmatch(s); m != nil {
		d.a, d.b, d.year, d.points, clock = num(m[1]), num(m[3]), year(m[4]), m[2] == ".", m[5:9]
		if m[4] == "" && (!d.points || !strings.HasSuffix(strings.TrimSpace(s), ".")) {
			// 3/10 may be a share, 3.10 a number, 10-12 a span; 3.10. is a day.
			if m[2] != "/" || clock[0] != "" {
				return d, false
			}
		}
	} else if m := wordLater.FindStringSubmatch(s); m != nil {
		mon, ok := monthOf(m[2])
		if !ok {
			return d, false
		}
		d.a, d.b, d.year, d.known, clock = num(m[1]), int(mon), year(m[3]), true, m[4:8]
	} else if m := wordFirst.FindStringSubmatch(s); m != nil {
		mon, ok := monthOf(m[1])
		if !ok {
			return d, false
		}
		d.a, d.b, d.year, d.known, clock = num(m[2]), int(mon), year(m[3]), true, m[4:8]
	} else {
		return d, false
	}
	if len(clock) == 4 && clock[0] != "" {
		h, mi, se := num(clock[0]), num(clock[1]), num(clock[2])
		if half := strings.ToLower(clock[3]); half != "" {
			if h < 1 || h > 12 {
				return d, false
			}
			if h %= 12; half == "p" {
				h += 12
			}
		}
		if h > 23 || mi > 59 || se > 59 {
			return d, false
		}
		d.hasClk, d.clock = true, time.Duration(h)*time.Hour+time.Duration(mi)*time.Minute+time.Duration(se)*time.Second
	}
	if !d.known && (d.a > 31 || d.b > 31 || d.a == 0 || d.b == 0 || d.a > 12 && d.b > 12) || d.known && (d.a == 0 || d.a > 31 || d.b == 0 || d.b > 12) {
		return d, false
	}
	return d, true
}

// mayBeDay turns away most of what is no day, before the patterns are tried.
func mayBeDay(s string) bool {
	digits, parts, letters := 0, 0, 0
	for i := range len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			digits++
		case c == '.' || c == '/' || c == '-':
			parts++
		case c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= 0x80:
			letters++
		}
	}
	return digits > 0 && len(s) <= 80 && (letters >= 3 || parts >= 2 || digits == 8 && len(s) == 8 || parts == 1 && strings.Contains(s, "/"))
}

// order says whether the day must come first ('d'), the month ('m'), it is written out or by
// points ('k'), it does not matter ('='), or either may ('?').
func (d dayText) order() byte {
	switch {
	case d.known || d.points:
		return 'k'
	case d.a > 12:
		return 'd'
	case d.b > 12:
		return 'm'
	case d.a == d.b:
		return '='
	}
	return '?'
}

// time makes a day of it.
func (d dayText) time(dayFirst *bool, usual int) (time.Time, bool, error) {
	day, month := d.a, d.b
	switch d.order() {
	case 'm':
		day, month = d.b, d.a
	case '?':
		if dayFirst == nil {
			return time.Time{}, false, fmt.Errorf("it may be %s or %s: %w", time.Month(d.b).String()[:3]+" "+strconv.Itoa(d.a), time.Month(d.a).String()[:3]+" "+strconv.Itoa(d.b), ErrOrder)
		}
		if !*dayFirst {
			day, month = d.b, d.a
		}
	case 'k':
		if d.points && !d.known && d.b > 12 { // 10.13.2026
			day, month = d.b, d.a
		}
	}
	year := d.year
	if year == 0 {
		if year = usual; year == 0 {
			return time.Time{}, false, ErrYear
		}
	}
	t := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	if t.Day() != day || year < 1970 || year > 2199 {
		return time.Time{}, false, fmt.Errorf("%w: %s has no day %d", ErrNoDay, time.Month(month), day)
	}
	return t.Add(d.clock), d.hasClk, nil
}
