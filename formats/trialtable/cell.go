package trialtable

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/formats/sheet"
	"underlamp/science/calcium"
	"underlamp/science/quantity"
)

// A Said is a cell as it is kept: Typed is what [Value] reads, Value what it reads of it,
// Was the words of the cell where Typed does not hold all of them.
type Said struct {
	Typed string
	Value float64
	Was   string
}

// ErrMissing is for cells that say nothing.
var ErrMissing = errors.New("nothing is said")

// Want says what a cell of a response may hold.
func Want(what underlamp.Response) string {
	switch what {
	case underlamp.ResponseMass:
		return "a mass such as 141, 141 g or 4.97 oz"
	case underlamp.ResponseHeight, underlamp.ResponseWidth:
		return "a length such as 12, 12.5 cm or 5 in"
	case underlamp.ResponseArea:
		return "an area such as 310 cm²"
	case underlamp.ResponseLeaves:
		return "a whole number of leaves"
	case underlamp.ResponseBurn:
		return "yes, no, or a word or number for how much"
	case underlamp.ResponseSeverity:
		return fmt.Sprintf("a grade of 0 to %d, or the share of burnt leaves with %%", underlamp.MaxSeverity)
	case underlamp.ResponseClear, underlamp.ResponseFirst:
		return "a day such as 2026-10-01, or a number of days after transplanting"
	}
	return "something that was seen"
}

// Words for yes and no, and for some burn, in English, German, Dutch, French and Spanish.
var (
	yesWords = []string{"yes", "y", "true", "seen", "x", "✓", "✔", "✗", "ja", "j", "oui", "o", "si", "sí", "s", "present", "burn", "burnt", "burned", "tipburn", "+", "++", "+++"}
	noWords  = []string{"no", "n", "false", "none", "nil", "clean", "clear", "ok", "fine", "sound", "nein", "nee", "non", "keine", "kein", "keiner", "geen", "aucun", "aucune", "ninguno", "ninguna", "absent", "0", "not seen"}
	someBurn = []string{"few", "a few", "some", "little", "a little", "bit", "a bit", "slight", "light", "mild", "minor", "medium", "moderate", "many", "much", "lots", "a lot", "heavy", "severe", "strong", "bad", "all", "trace", "traces",
		"wenig", "wenige", "etwas", "leicht", "mittel", "viel", "viele", "stark", "schwach", "weinig", "enkele", "veel", "licht", "zwaar", "peu", "quelques", "un peu", "beaucoup", "leger", "léger", "fort", "poco", "pocos", "algo", "algunos", "mucho", "muchos", "leve", "fuerte"}
)

// FromCell reads what a cell of a table says of a response. column gives the unit of numbers
// that have none. It fails with [ErrMissing], or says what is wrong.
//
// Burn as yes or no takes any word or number for how much, and keeps the words; a grade takes
// a share of the leaves in %, by the bounds of package calcium. Grades of other scales are
// not converted: what a 2 of 3 is among 5 nobody can know.
func FromCell(what underlamp.Response, t *sheet.Table, c sheet.Cell, column *sheet.Column) (Said, error) {
	text := c.String()
	if c.Blank() || c.Kind == sheet.Fault || sheet.Missing(text) {
		return Said{}, ErrMissing
	}
	word := strings.ToLower(strings.TrimRight(strings.TrimSpace(text), ".!"))
	v, rest, err := t.Number(c, column.Index)
	number := err == nil
	if number && rest == "" {
		rest = column.Unit
	}
	unit := strings.ToLower(strings.TrimSuffix(rest, "."))
	switch what {
	case underlamp.ResponseBurn:
		switch {
		case c.Kind == sheet.YesNo || slices.Contains(yesWords, word) || slices.Contains(noWords, word):
			if c.Kind == sheet.YesNo && c.Value != 0 || slices.Contains(yesWords, word) {
				return Said{Typed: "yes", Value: 1}, nil
			}
			return Said{Typed: "no"}, nil
		case slices.Contains(someBurn, word):
			return Said{Typed: "yes", Value: 1, Was: text}, nil
		case number && v >= 0:
			if v == 0 {
				return Said{Typed: "no"}, nil
			}
			return Said{Typed: "yes", Value: 1, Was: without(text, "1")}, nil
		}
		return Said{}, fmt.Errorf("%q says neither that there was burn nor that there was none", text)
	case underlamp.ResponseSeverity:
		switch {
		case slices.Contains(noWords, word):
			return Said{Typed: "0"}, nil
		case number && (unit == "%" || unit == "percent" || unit == "pct" || unit == "prozent"):
			if v < 0 || v > 100 {
				return Said{}, fmt.Errorf("%q is no share of leaves", text)
			}
			g := 0
			if v > 0 {
				for g = 1; g < underlamp.MaxSeverity && v/100 >= calcium.SeverityFrom(g+1); g++ {
				}
			}
			return Said{Typed: strconv.Itoa(g), Value: float64(g), Was: quantity.Number(v, 4) + " % of the leaves"}, nil
		}
	case underlamp.ResponseClear, underlamp.ResponseFirst:
		if d, _, err := t.Date(c, column.Index); err == nil && !(number && v < 1000) {
			return Said{Typed: d.Format(time.DateOnly)}, nil
		} else if err != nil && !number {
			return Said{}, err
		}
	}
	if !number {
		if err.Error() == "it is no number" {
			return Said{}, fmt.Errorf("%q is no %s", text, what)
		}
		return Said{}, fmt.Errorf("%q: %w", text, err)
	}
	typed := strconv.FormatFloat(v, 'f', -1, 64)
	if len(typed) > 24 {
		return Said{}, fmt.Errorf("%q is no %s", text, what)
	}
	switch what {
	case underlamp.ResponseMass, underlamp.ResponseHeight, underlamp.ResponseWidth, underlamp.ResponseArea:
		if u := unitOf(unit); u != "" {
			typed += " " + u
		}
	}
	if what == underlamp.ResponseSeverity && v != math.Trunc(v) {
		return Said{}, fmt.Errorf("%q is no grade", text)
	}
	value, err := Value(what, typed)
	if err != nil {
		return Said{}, err
	}
	return Said{Typed: typed, Value: value}, nil
}

// unitOf is a unit of people as [Value] reads it; what it is not stays and is refused there.
func unitOf(unit string) string {
	switch unit {
	case "gr", "gm", "gram", "grams", "gramm", "grammes", "gramos", "gramme":
		return "g"
	case "lb", "lbs", "pound", "pounds":
		return "lb"
	case "ounces", "ounce", "ozs":
		return "oz"
	case "zoll", "inches", "inch", `"`, "”":
		return "in"
	}
	return unit
}

// without is a text, or nothing where it is one of some words anyway.
func without(text string, words ...string) string {
	if slices.Contains(words, strings.ToLower(text)) {
		return ""
	}
	return text
}
