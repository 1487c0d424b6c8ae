package spectrum

import (
	"fmt"
	"strconv"
	"strings"
)

// mostParts bounds what a person writes.
const mostParts = 20

// ParseParts reads diodes as a person writes them, peak:width:share one after
// another: "450:20:15, 660:18:85". Peak and full width at half maximum are in
// nm; shares count photons or energy, as the caller of [Mix] says. The error
// says which part is wrong and why.
func ParseParts(text string) ([]Part, error) {
	fields := strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' || r == ';' })
	if len(fields) == 0 {
		return nil, fmt.Errorf("no diode is given: write peak:width:share, for example 450:20:15, 660:18:85")
	}
	if len(fields) > mostParts {
		return nil, fmt.Errorf("%d diodes are given: at most %d", len(fields), mostParts)
	}
	var out []Part
	for _, f := range fields {
		fail := func(format string, args ...any) error {
			return fmt.Errorf("%.40q: %s; write peak:width:share in nm, nm and %%, for example 660:18:85", f, fmt.Sprintf(format, args...))
		}
		numbers := strings.Split(f, ":")
		if len(numbers) != 3 {
			return nil, fail("%d figures between colons", len(numbers))
		}
		var v [3]float64
		for i, n := range numbers {
			var err error
			if v[i], err = strconv.ParseFloat(strings.TrimSuffix(strings.TrimSuffix(n, "%"), "nm"), 64); err != nil {
				return nil, fail("%.20q is no number", n)
			}
		}
		s, err := LED(v[0], v[1])
		if err != nil {
			return nil, fail("%v", err)
		}
		if !(v[2] > 0 && v[2] <= 1e6) {
			return nil, fail("a share of %g: it must be above 0", v[2])
		}
		out = append(out, Part{Spectrum: s, Share: v[2]})
	}
	return out, nil
}
