package quantity

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// Marks are what a person sets between the digits of a number. [Number] and [Fixed] print a
// decimal point and a narrow space (U+202F) between groups of three; a text that holds such
// numbers is put into the marks of a person by [Marks.Text], at the last moment before it is
// read, so that everything else in the program has one way to print.
type Marks struct {
	Decimal string // "." or ","
	Group   string // between groups of three; empty for none
}

// The marks that can be chosen.
var (
	PointMarks      = Marks{".", "\u202f"} // 12 345.6, as Number and Fixed print
	CommaMarks      = Marks{",", "\u202f"} // 12 345,6
	PointCommaMarks = Marks{".", ","}      // 12,345.6
	CommaPointMarks = Marks{",", "."}      // 12.345,6
)

// Text puts the numbers of a text into the marks. A number is what Number and Fixed print: it
// stands by itself, so that in "v1.2", "192.168.1.9", "A-1.5" and "a/1.5" nothing is changed;
// digits in groups need the narrow space between them.
func (m Marks) Text(s string) string {
	if m == PointMarks || !strings.ContainsAny(s, ".\u202f") {
		return s
	}
	var b strings.Builder
	b.Grow(len(s) + 8)
	done := 0 // what is written of s
	for i := 0; i < len(s); {
		if !digit(s, i) {
			i++
			continue
		}
		end, point, groups := number(s, i)
		if (point >= 0 || len(groups) > 0) && standsAlone(s, i, end) {
			at := i
			for _, g := range groups {
				b.WriteString(s[done:at])
				b.WriteString(s[at:g])
				b.WriteString(m.Group)
				done, at = g+len("\u202f"), g+len("\u202f")
			}
			if point >= 0 {
				b.WriteString(s[done:point])
				b.WriteString(m.Decimal)
				done = point + 1
			}
			b.WriteString(s[done:end])
			done = end
		}
		i = end
	}
	b.WriteString(s[done:])
	return b.String()
}

func digit(s string, i int) bool { return i < len(s) && s[i] >= '0' && s[i] <= '9' }

// number is where a number that begins at i ends, its point (-1 if it has none) and the narrow
// spaces between its groups.
func number(s string, i int) (end, point int, groups []int) {
	begin := i
	for digit(s, i) {
		i++
	}
	for i-begin <= 3 || len(groups) > 0 { // no more than three digits before the first space
		rest, ok := strings.CutPrefix(s[i:], "\u202f")
		if !ok || len(rest) < 3 || !digit(rest, 0) || !digit(rest, 1) || !digit(rest, 2) || digit(rest, 3) {
			break
		}
		groups = append(groups, i)
		i += len("\u202f") + 3
	}
	if i < len(s) && s[i] == '.' && digit(s, i+1) {
		point = i
		for i++; digit(s, i); i++ {
		}
		return i, point, groups
	}
	return i, -1, groups
}

// standsAlone says that nothing before or after makes something else of a number.
func standsAlone(s string, begin, end int) bool {
	before, width := utf8.DecodeLastRuneInString(s[:begin])
	switch {
	case begin == 0:
	case unicode.IsLetter(before) || unicode.IsDigit(before) || strings.ContainsRune("._/:@#=,", before):
		return false
	case before == '-': // a hyphen, not a minus: "LM-63.2"
		b, _ := utf8.DecodeLastRuneInString(s[:begin-width])
		if unicode.IsLetter(b) || unicode.IsDigit(b) {
			return false
		}
	}
	if end >= len(s) {
		return true
	}
	after, width := utf8.DecodeRuneInString(s[end:])
	switch {
	case (after == 'e' || after == 'E') && end+1 < len(s) && (s[end+1] == '+' || s[end+1] == '-'):
		return true // an exponent
	case after < utf8.RuneSelf && unicode.IsLetter(after) || after == '_' || after == '/':
		return false
	case after == '.' || after == ',' || after == '-':
		next, _ := utf8.DecodeRuneInString(s[end+width:])
		return !unicode.IsDigit(next) && (after != '.' || !unicode.IsLetter(next))
	}
	return true
}
