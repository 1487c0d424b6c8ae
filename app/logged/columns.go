package logged

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp/science/quantity"
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

func (r Role) kind() quantity.Kind {
	switch r {
	case Temperature:
		return quantity.Temperature
	case Humidity:
		return quantity.Share
	case Light:
		return quantity.PhotonFluxDensity
	}
	return quantity.GasShare
}

// usual is the unit that is taken where none is written.
func (r Role) usual() string {
	return map[Role]string{Temperature: "°C", Humidity: "%", Light: "µmol/m²/s", CO2: "ppm"}[r]
}

// span is what a sensor of the role can have read, in base units: beyond it the column
// is taken for something else, or in another unit.
func (r Role) span() (low, high float64) {
	switch r {
	case Temperature:
		return -20, 60
	case Humidity:
		return 0, 1.05
	case Light:
		return -20, 5000
	}
	return 0, 20000
}

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
	Column string
	Role   Role
	Unit   string
	Why    string // "by its unit", "by its name", "as said"
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
			if _, err := r.kind().Parse("1 " + c.Unit); err == nil {
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
	zero, err := role.kind().Parse("0 " + unit)
	if err != nil {
		return nil, "", &ColumnError{c.Name, fmt.Sprintf("has the unit %q, which is none of %s; name another reading of it", unit, role)}
	}
	one, err := role.kind().Parse("1 " + unit)
	if err != nil {
		return nil, "", &ColumnError{c.Name, fmt.Sprintf("has the unit %q, which is none of %s", unit, role)}
	}
	out := make([]float64, len(c.Values))
	for i, v := range c.Values {
		out[i] = zero + v*(one-zero)
	}
	low, high := role.span()
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
	return out, unit, nil
}
