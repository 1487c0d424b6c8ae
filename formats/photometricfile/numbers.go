package photometricfile

import (
	"math"
	"strconv"
	"strings"
)

// A number is one number of the text and the line it stands in.
type number struct {
	v    float64
	line int
}

// parseNumber reads a plain decimal number: no hexadecimal, no NaN, no infinity,
// no underscores.
func parseNumber(s string) (float64, bool) {
	if s == "" || len(s) > 40 {
		return 0, false
	}
	for i := range len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9', c == '.', c == '-', c == '+', c == 'e', c == 'E':
		default:
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, false
	}
	return v, true
}

// commas says what a comma within numbers is.
type commas int

const (
	commaSeparates commas = iota
	commaIsPoint
)

// A stream is the numbers of a part of the text, one after another whatever the
// line breaks, up to the first word that is none.
type stream struct {
	all  []number
	next int
	last int    // last line of the text
	stop int    // line of the first word that is no number; 0 if there is none
	word string // that word
}

// newStream reads the numbers of lines from index from on.
func newStream(lines []string, from int, c commas) *stream {
	s := &stream{last: len(lines)}
	for i := from; i < len(lines); i++ {
		line := lines[i]
		if c == commaSeparates {
			line = strings.ReplaceAll(line, ",", " ")
		} else {
			line = strings.ReplaceAll(line, ",", ".")
		}
		for word := range strings.FieldsSeq(line) {
			v, ok := parseNumber(word)
			if !ok {
				s.stop, s.word = i+1, word
				return s
			}
			s.all = append(s.all, number{v, i + 1})
		}
	}
	return s
}

// left is how many numbers have not been taken.
func (s *stream) left() int { return len(s.all) - s.next }

// line is that of the next number, or of the end.
func (s *stream) line() int {
	if s.next < len(s.all) {
		return s.all[s.next].line
	}
	if s.stop > 0 {
		return s.stop
	}
	return s.last
}

// take returns the next n numbers, or says what stands in their way.
func (s *stream) take(n int, what string) ([]number, *Error) {
	if n > s.left() {
		return nil, s.short(n, what)
	}
	out := s.all[s.next : s.next+n]
	s.next += n
	return out, nil
}

// short says that the numbers end too soon.
func (s *stream) short(n int, what string) *Error {
	if s.stop > 0 {
		return &Error{Line: s.stop, Reason: strconv.Quote(brief(s.word)) + " is no number", Want: what}
	}
	return &Error{Line: s.last, Reason: "the file ends too soon: " + strconv.Itoa(s.left()) + " numbers are left where " + strconv.Itoa(n) + " should follow", Want: what}
}

// count turns a number into a count from least up to most.
func count(n number, what string, least, most int) (int, *Error) {
	if n.v != math.Trunc(n.v) || n.v < float64(least) || n.v > float64(most) {
		return 0, &Error{Line: n.line, Reason: "the " + what + " is " + show(n.v), Want: "a whole number from " + strconv.Itoa(least) + " to " + strconv.Itoa(most)}
	}
	return int(n.v), nil
}

func show(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// values strips the lines off numbers.
func values(n []number) []float64 {
	out := make([]float64, len(n))
	for i, x := range n {
		out[i] = x.v
	}
	return out
}

// ascending finds the first of some angles that does not ascend.
func ascending(n []number, what string) *Error {
	for i := 1; i < len(n); i++ {
		if !(n[i].v > n[i-1].v) {
			return &Error{Line: n[i].line, Reason: what + " " + strconv.Itoa(i+1) + " is " + show(n[i].v) + "° after " + show(n[i-1].v) + "°", Want: "angles that ascend; the counts of angles may be wrong"}
		}
	}
	return nil
}

// within finds the first of some angles that leaves a range.
func within(n []number, what string, low, high float64) *Error {
	for i, x := range n {
		if x.v < low || x.v > high {
			return &Error{Line: x.line, Reason: what + " " + strconv.Itoa(i+1) + " is " + show(x.v) + "°", Want: show(low) + "° to " + show(high) + "°; the counts of angles may be wrong"}
		}
	}
	return nil
}

// intensities scales values to cd. Small negative values are noise of a meter and
// become 0 with a note; large ones are refused.
func (rd *reader) intensities(raw []number, factor float64) ([]float64, *Error) {
	peak, negative := 0.0, 0
	for _, n := range raw {
		peak = math.Max(peak, n.v)
	}
	first := 0
	out := make([]float64, len(raw))
	for i, n := range raw {
		switch {
		// Half a per cent: the zero of a photometer may drift so far (common
		// practice, no source).
		case n.v < -0.005*peak || peak == 0 && n.v < 0:
			return nil, &Error{Line: n.line, Reason: "the intensity " + show(n.v) + " is below 0", Want: "0 or more"}
		case n.v < 0:
			if negative == 0 {
				first = n.line
			}
			negative++
		default:
			out[i] = n.v * factor
		}
		if out[i] > 1e12 {
			return nil, &Error{Line: n.line, Reason: "the intensity " + show(out[i]) + " cd is beyond any lamp"}
		}
	}
	if peak == 0 && len(raw) > 0 {
		return nil, &Error{Line: raw[0].line, Reason: "every intensity is 0", Want: "the intensities of a lamp that gives light"}
	}
	if negative > 0 {
		rd.note(first, "%d intensities are a little below 0 and were taken as 0", negative)
	}
	return out, nil
}
