package logged

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp/app/measurand"
)

// A Column is one series of the logger.
type Column struct {
	Name   string
	Unit   string    // as written; may be empty
	Values []float64 // NaN where nothing was read
}

// A Role is what a column reads.
type Role string

// The roles.
const (
	Temperature Role = "temperature"
	Humidity    Role = "humidity"
	Light       Role = "light"
	CO2         Role = "co2"
	Nothing     Role = "nothing" // on purpose
)

// Roles lists what a column may read.
func Roles() []Role { return []Role{Temperature, Humidity, Light, CO2, Nothing} }

// reads is what is known of the quantity of a role.
func (r Role) reads() measurand.Measurand {
	m, _ := measurand.Of(map[Role]measurand.Quantity{Temperature: measurand.AirTemperature, Humidity: measurand.Humidity, Light: measurand.PPFD, CO2: measurand.CO2}[r])
	return m
}

// usual is the unit that is taken where none is written.
func (r Role) usual() string { return r.reads().Kind.Units()[0] }

// words by which columns are called, in lower case.
var words = []struct {
	role Role
	is   []string
}{
	{Humidity, []string{"humid", "rh", "r.h.", "feuchte", "hygro", "luftf", "humed", "vocht"}},
	{Light, []string{"ppfd", "par", "quantum", "photon", "light"}},
	{CO2, []string{"co2", "co₂", "carbon dioxide"}},
	{Temperature, []string{"temp", "luft", "air", "°c", "°f"}},
}

// A Use is how a column was understood.
type Use struct {
	Column string `doc:"heading of the column"`
	Role   Role   `doc:"what it is taken for"`
	Unit   string `doc:"of its values"`
	Why    string `doc:"how that was found"` // "by its unit", "by its name", "as said"
}

// A ColumnError says which column cannot be read, and what to do.
type ColumnError struct{ Column, Reason string }

// Error is the fault in words.
func (e *ColumnError) Error() string { return fmt.Sprintf("column %q %s", e.Column, e.Reason) }

// roleOf finds out what a column reads; "" if it cannot be told.
func roleOf(c Column, as map[string]Role) (role Role, why string) {
	if r, ok := as[c.Name]; ok {
		return r, "as said"
	}
	if c.Unit != "" && !strings.ContainsAny(c.Unit, "%") {
		for _, r := range []Role{Temperature, Light, CO2} {
			if _, ok := r.reads().Kind.Conversion(c.Unit); ok {
				return r, "by its unit"
			}
		}
	}
	name := strings.ToLower(c.Name)
	for _, w := range words {
		for _, word := range w.is {
			if i := strings.Index(name, word); i >= 0 && (len(word) > 3 || alone(name, i, len(word))) {
				return w.role, "by its name"
			}
		}
	}
	return "", ""
}

// alone says that no letter stands beside a short word.
func alone(s string, i, n int) bool {
	letter := func(b byte) bool { return b >= 'a' && b <= 'z' }
	return (i == 0 || !letter(s[i-1])) && (i+n == len(s) || !letter(s[i+n]))
}

// convert gives the values in the base unit of the role.
func convert(c Column, role Role) ([]float64, string, error) {
	unit := c.Unit
	if unit == "" {
		unit = role.usual()
	}
	to, ok := role.reads().Kind.Conversion(unit)
	if !ok {
		return nil, "", &ColumnError{c.Name, fmt.Sprintf("has the unit %q, which is none of %s; name another reading of it", unit, role)}
	}
	out := make([]float64, len(c.Values))
	for i, v := range c.Values {
		out[i] = to.Base(v)
	}
	low, high := role.reads().Low, role.reads().High
	if bad := slices.IndexFunc(out, func(v float64) bool { return v < low || v > high }); bad >= 0 {
		hint := ""
		if role == Temperature && c.Unit == "" {
			hint = "; if it is in °F, its heading must say so"
		}
		return nil, "", &ColumnError{c.Name, fmt.Sprintf("holds %g %s in row %d, which no sensor of %s reads%s", c.Values[bad], unit, bad+1, role, hint)}
	}
	if role == Humidity { // a sensor in wet air may show 101 %
		for i := range out {
			out[i] = math.Min(out[i], 1)
		}
	}
	return out, cmp.Or(role.reads().Kind.Printed(unit), unit), nil
}
