package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
)

// System is the system of units that a person wants to read.
type System int

// The two systems. In US, lengths print in inches, temperatures in °F, masses
// in ounces; light, power and time print the same in both.
const (
	Metric System = iota
	US
)

// Format prints a value (in the unit of the kind) with the number of
// significant digits given, and its unit: Length.Format(0.34, Metric, 2) is
// "34 cm". A length prints in cm below 2 m. NaN prints as "not known".
func (k Kind) Format(v float64, sys System, digits int) string {
	if math.IsNaN(v) {
		return "not known"
	}
	u := k.shown(v, sys)
	text := Number((v-u.offset)/u.scale, digits)
	switch u.print {
	case "":
		return text
	case "°":
		return text + u.print
	}
	return text + " " + u.print
}

// Difference prints a difference of two amounts of the kind (in its unit), such
// as an uncertainty: a difference of 1 °C is one of 1.8 °F, and shares differ by
// points.
func (k Kind) Difference(v float64, sys System, digits int) string {
	if k.name == Share.name {
		return Number(100*v, digits) + " points"
	}
	u := k.shown(v, sys)
	return Number(v/u.scale, digits) + " " + u.print
}

// shown is the unit that v prints in.
func (k Kind) shown(v float64, sys System) unit {
	if sys == US {
		for _, u := range k.units {
			if u.us {
				return u
			}
		}
	}
	if k.name == Length.name && math.Abs(v) < 2 {
		if u, ok := k.find("cm"); ok {
			return u
		}
	}
	return k.units[0]
}

// Number prints v with the number of significant digits given, without
// exponent for sizes from 10⁻⁴ to below 10¹⁰, with a thin space between groups of three from
// five digits on and the printed minus. Whole digits before the point are never
// rounded away: Number(1234, 2) is "1234".
func Number(v float64, digits int) string {
	switch {
	case math.IsNaN(v):
		return "not known"
	case math.IsInf(v, 1):
		return "∞"
	case math.IsInf(v, -1):
		return "−∞"
	}
	if v == 0 {
		return "0"
	}
	mag := int(math.Floor(math.Log10(math.Abs(v))))
	if mag < -4 || mag > 9 {
		s := strconv.FormatFloat(math.Abs(v), 'g', digits, 64)
		if v < 0 {
			s = "−" + s
		}
		return s
	}
	s := strconv.FormatFloat(v, 'f', max(0, digits-1-mag), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	neg := strings.HasPrefix(s, "-")
	s = strings.TrimPrefix(s, "-")
	whole, frac, hasFrac := strings.Cut(s, ".")
	if len(whole) > 4 {
		var parts []string
		for len(whole) > 3 {
			parts = append([]string{whole[len(whole)-3:]}, parts...)
			whole = whole[:len(whole)-3]
		}
		whole = strings.Join(append([]string{whole}, parts...), "\u202f")
	}
	if hasFrac {
		whole += "." + frac
	}
	if neg && strings.Trim(whole, "0.\u202f") != "" {
		whole = "−" + whole
	}
	return whole
}

// Fixed prints v with exactly the decimals given and the printed minus. What
// rounds to zero has no sign.
func Fixed(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Number(v, 1)
	}
	s := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	if v < 0 && strings.Trim(s, "0.") != "" {
		s = "−" + s
	}
	return s
}

// A Price is what a kilowatt-hour costs.
type Price struct {
	PerKWh   float64 // in the currency, at least 0
	Currency string  // a code or sign as the person wrote it: "EUR", "$"
}

// ParsePrice reads "0.31 EUR/kWh", "$0.16/kWh" or "0.16 $ per kWh". The
// currency is one to eight bytes of letters and currency signs.
func ParsePrice(text string) (Price, error) {
	r, reason := parseRate(text)
	if reason == noPer || reason == "" && normalise(r.Per) != "kwh" {
		reason = "it must be per kWh"
	}
	if reason != "" {
		return Price{}, fmt.Errorf("%q is not a price of electricity: %s; write for example 0.31 EUR/kWh", shorten(text), reason)
	}
	return Price{PerKWh: r.Amount, Currency: r.Currency}, nil
}

// A Rate is an amount of money for something: "0.06 EUR/head".
type Rate struct {
	Amount   float64 // in the currency, at least 0
	Currency string  // a code or sign as the person wrote it: "EUR", "$"
	Per      string  // what it is for, as written: "head", "m²/d"
}

// ParseRate reads "0.06 EUR/head", "$12/cycle" or "0.04 EUR per m²/d". What it is
// for is left to the caller.
func ParseRate(text string) (Rate, error) {
	r, reason := parseRate(text)
	if reason != "" {
		return Rate{}, fmt.Errorf("%q is not an amount of money for something: %s; write for example 0.06 EUR/head", shorten(text), reason)
	}
	return r, nil
}

const noPer = "it does not say per what"

func parseRate(text string) (r Rate, reason string) {
	if len(text) > longest {
		return r, "it is far too long"
	}
	s, per, ok := strings.Cut(strings.TrimSpace(text), "/")
	if !ok {
		s, per, ok = strings.Cut(s, " per ")
	}
	r.Per = strings.TrimSpace(per)
	if !ok || r.Per == "" {
		return r, noPer
	}
	s = strings.TrimSpace(s)
	var sign string
	for _, c := range []string{"$", "€", "£"} {
		if rest, found := strings.CutPrefix(s, c); found {
			sign, s = c, strings.TrimSpace(rest)
		}
	}
	digits, currency := splitNumber(s)
	if digits == "" {
		return r, "it does not begin with a number"
	}
	if r.Amount, reason = parseNumber(digits); reason != "" {
		return r, reason
	}
	currency = strings.TrimSpace(currency)
	if sign != "" && currency != "" {
		return r, "it names two currencies"
	}
	r.Currency = sign + currency
	switch {
	case r.Currency == "":
		return r, "the currency is missing"
	// Only letters and currency signs: the text goes to terminals and pages.
	case len(r.Currency) > 8 || strings.ContainsFunc(r.Currency, func(c rune) bool {
		return !unicode.IsLetter(c) && !unicode.Is(unicode.Sc, c)
	}):
		return r, "the currency is not a code or sign such as EUR or $"
	case r.Amount < 0 || r.Amount > 1e6:
		return r, "the amount must be from 0 to 1000000"
	}
	return r, ""
}

// String prints the price as it is written in a bench file, with every digit,
// so that ParsePrice reads the same price again.
func (p Price) String() string {
	return strconv.FormatFloat(p.PerKWh, 'f', -1, 64) + " " + p.Currency + "/kWh"
}

// Money prints an amount of the price's currency with two decimals.
func (p Price) Money(v float64) string { return Fixed(v, 2) + " " + p.Currency }

// Shown says in which unit a control shows amounts of this kind (for a length
// always cm or in), and how many of that unit make one of the kept unit.
// Temperatures, which have an offset too, are not for this.
func (k Kind) Shown(sys System) (unit string, perKept float64) {
	u := k.shown(0, sys)
	return u.print, 1 / u.scale
}
