package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// A ParseError tells why a text is not an amount of the kind asked for.
type ParseError struct {
	Text   string // what was written
	Kind   Kind   // what was asked for
	Reason string // what is wrong with it, a clause without a full stop
}

// Error says what is wrong and what would be right, in one sentence.
func (e *ParseError) Error() string {
	return e.Brief() + "; write for example " + e.Kind.example
}

// Brief says what is wrong and leaves out what would be right, for a caller
// that prints [Kind.Example] elsewhere.
func (e *ParseError) Brief() string {
	return fmt.Sprintf("%q is not %s: %s", e.Text, e.Kind.indefinite(), e.Reason)
}

// longest is the most bytes that an amount may have. The longest honest one,
// with its unit spelled out, stays under 30.
const longest = 80

// Parse reads one amount and returns it in the unit of the kind. The text is a
// number and a unit, with or without a blank: "34 cm", "13.5in", "13 1/2 in", "72 °F",
// "212 µmol m⁻² s⁻¹". Only a share may lack its unit.
//
// A text that is no such amount gives a [*ParseError]. NaN, infinities and
// numbers beyond 10¹² are refused.
func (k Kind) Parse(text string) (float64, error) {
	fail := func(format string, args ...any) (float64, error) {
		return 0, &ParseError{Text: text, Kind: k, Reason: fmt.Sprintf(format, args...)}
	}
	s := strings.TrimSpace(text)
	if s == "" {
		return fail("nothing is written")
	}
	if len(s) > longest {
		return 0, &ParseError{Text: shorten(s), Kind: k, Reason: "it is far too long"}
	}
	digits, spelled := splitNumber(s)
	if digits == "" {
		return fail("it does not begin with a number")
	}
	n, reason := parseNumber(digits)
	if reason != "" {
		return fail("%s", reason)
	}
	if part, rest, ok := fraction(digits, spelled); ok {
		if spelled = rest; part < 0 {
			n /= -part
		} else {
			n += part
		}
	}
	spelling := normalise(spelled)
	if spelling == "" {
		if k.plain {
			return n, nil
		}
		return fail("the unit is missing (%s)", strings.Join(k.Units(), ", "))
	}
	u, ok := k.find(spelling)
	if !ok {
		for _, other := range kinds() {
			if v, found := other.find(spelling); found {
				return fail("%s measures %s", v.print, other.indefinite())
			}
		}
		return fail("the unit %q is not known here (%s)", strings.TrimSpace(spelled), strings.Join(k.Units(), ", "))
	}
	return n*u.scale + u.offset, nil
}

// fraction reads what makes a fraction of a whole number, as tapes in inches are read: of
// "13 1/2 in" the part 0.5, of "1/2 in" the divisor, as -2.
func fraction(digits, rest string) (part float64, unit string, ok bool) {
	if strings.Trim(digits, "0123456789") != "" {
		return 0, "", false
	}
	for sign, v := range map[string]float64{"½": 0.5, "¼": 0.25, "¾": 0.75} {
		if unit, ok := strings.CutPrefix(strings.TrimLeft(rest, " "), sign); ok {
			return v, unit, true
		}
	}
	whole := func(s string) (v float64, rest string) {
		d := s[:len(s)-len(strings.TrimLeft(s, "0123456789"))]
		if d == "" || len(d) > 4 {
			return 0, s
		}
		v, _ = strconv.ParseFloat(d, 64) // digits alone
		return v, s[len(d):]
	}
	if under, ok := strings.CutPrefix(rest, "/"); ok {
		v, unit := whole(under)
		return -v, unit, v > 0
	}
	top, under := whole(strings.TrimLeft(rest, " "))
	if under, ok = strings.CutPrefix(under, "/"); !ok || top == 0 || !strings.HasPrefix(rest, " ") {
		return 0, "", false
	}
	v, unit := whole(under)
	return top / v, unit, v > 0
}

// ParseRange reads two amounts, "20 cm to 45 cm", in which the first may leave
// its unit to the second: "20 to 45 cm", "20..45 cm", "10–18 h". It returns
// them in the unit of the kind. The second must not be below the first.
func (k Kind) ParseRange(text string) (low, high float64, err error) {
	fail := func(reason string) (float64, float64, error) {
		return 0, 0, &ParseError{Text: shorten(text), Kind: k, Reason: reason}
	}
	if len(text) > 2*longest {
		return fail("it is far too long")
	}
	var left, right string
	for _, sep := range []string{" to ", "..", "–", "—"} {
		if a, b, ok := strings.Cut(text, sep); ok {
			left, right = strings.TrimSpace(a), strings.TrimSpace(b)
			break
		}
	}
	if left == "" || right == "" {
		return fail("a range needs two amounts with \"to\" between them")
	}
	if high, err = k.Parse(right); err != nil {
		return 0, 0, err
	}
	if digits, spelled := splitNumber(left); digits != "" && strings.TrimSpace(spelled) == "" {
		_, unitOfRight := splitNumber(right)
		left = digits + " " + strings.TrimSpace(unitOfRight)
	}
	if low, err = k.Parse(left); err != nil {
		return 0, 0, err
	}
	if low > high {
		return fail("the first amount is above the second")
	}
	return low, high, nil
}

// splitNumber cuts s where the number ends.
func splitNumber(s string) (digits, rest string) {
	i := 0
	for i < len(s) {
		c := s[i]
		if c >= '0' && c <= '9' || c == '.' || c == ',' || (i == 0 && (c == '-' || c == '+')) {
			i++
			continue
		}
		// An exponent: 1e3, but not the e of a unit.
		if (c == 'e' || c == 'E') && i > 0 && i+1 < len(s) && (isDigit(s[i+1]) || ((s[i+1] == '-' || s[i+1] == '+') && i+2 < len(s) && isDigit(s[i+2]))) {
			i += 2
			continue
		}
		break
	}
	if strings.HasPrefix(s, "−") && i == 0 { // U+2212, the printed minus
		d, r := splitNumber(s[len("−"):])
		if d == "" {
			return "", s
		}
		return "-" + d, r
	}
	// "20..45" must not swallow the dots of a range.
	if j := strings.Index(s[:i], ".."); j >= 0 {
		i = j
	}
	return s[:i], s[i:]
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// parseNumber reads a decimal number; reason is empty when it is one.
func parseNumber(digits string) (n float64, reason string) {
	if strings.Count(digits, ",") > 0 {
		if strings.Count(digits, ",") > 1 || strings.Contains(digits, ".") {
			return 0, "thousands separators are not read"
		}
		if whole, frac, _ := strings.Cut(strings.TrimLeft(digits, "+-"), ","); len(frac) == 3 && len(whole) <= 3 && strings.Trim(whole, "0") != "" {
			return 0, fmt.Sprintf("%s could be %s%s or %s.%s; write it without a comma", digits, whole, frac, whole, frac)
		}
		digits = strings.Replace(digits, ",", ".", 1)
	}
	n, err := strconv.ParseFloat(digits, 64)
	if err != nil || math.IsNaN(n) || math.IsInf(n, 0) {
		return 0, fmt.Sprintf("%q is no number", digits)
	}
	if math.Abs(n) > 1e12 {
		return 0, "the number is far too large"
	}
	return n, ""
}

// normalise brings the many spellings of a unit to one: lower case, u for the
// micro sign, plain digits for superscripts, no blanks, dots or carets.
func normalise(s string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(strings.TrimSpace(s)) {
		switch r {
		case ' ', '\t', '\u00a0', '\u202f', '·', '⋅', '*', '^':
		case 'µ', 'μ':
			b.WriteByte('u')
		case '⁰':
			b.WriteByte('0')
		case '¹':
			b.WriteByte('1')
		case '²':
			b.WriteByte('2')
		case '³':
			b.WriteByte('3')
		case '⁻', '−':
			b.WriteByte('-')
		case 'º', '˚':
			b.WriteRune('°')
		case '″', '”':
			b.WriteByte('"')
		case '′', '’':
			b.WriteByte('\'')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

func shorten(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}

// ParseDifference reads a difference of two amounts of the kind, such as a margin: one of
// 1.8 °F is one of 1 °C.
func (k Kind) ParseDifference(text string) (float64, error) {
	v, err := k.Parse(text)
	if err != nil {
		return 0, err
	}
	_, spelled := splitNumber(strings.TrimSpace(text))
	u, _ := k.Conversion(spelled)
	return v - u.Offset, nil
}
