package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
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
// exponent for values between 10⁻⁴ and 10⁹, with a thin space between groups of three from
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
		return strconv.FormatFloat(v, 'g', digits, 64)
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

// Fixed prints v with exactly the decimals given and the printed minus.
func Fixed(v float64, decimals int) string {
	if math.IsNaN(v) {
		return "not known"
	}
	return strings.Replace(fmt.Sprintf("%.*f", decimals, v), "-", "−", 1)
}

// A Price is what a kilowatt-hour costs.
type Price struct {
	PerKWh   float64 // in the currency, at least 0
	Currency string  // a code or sign as the person wrote it: "EUR", "$"
}

// ParsePrice reads "0.31 EUR/kWh", "$0.16/kWh" or "0.16 $ per kWh".
func ParsePrice(text string) (Price, error) {
	fail := func(reason string) (Price, error) {
		return Price{}, fmt.Errorf("%q is not a price of electricity: %s; write for example 0.31 EUR/kWh", shorten(text), reason)
	}
	s := strings.TrimSpace(text)
	head, tail, ok := strings.Cut(strings.ReplaceAll(strings.ToLower(s), " per ", "/"), "/")
	if !ok || normalise(tail) != "kwh" {
		return fail("it must be per kWh")
	}
	s = strings.TrimSpace(s[:len(head)])
	var sign string
	for _, c := range []string{"$", "€", "£"} {
		if rest, found := strings.CutPrefix(s, c); found {
			sign, s = c, strings.TrimSpace(rest)
		}
	}
	digits, currency := splitNumber(s)
	n, reason := parseNumber(digits)
	if reason != "" {
		return fail("it does not begin with a number")
	}
	currency = strings.TrimSpace(currency)
	if sign != "" && currency != "" {
		return fail("it names two currencies")
	}
	currency = sign + currency
	if currency == "" || len(currency) > 8 || strings.ContainsAny(currency, "0123456789/<>&\"'") {
		return fail("the currency is missing")
	}
	if n < 0 || n > 1e6 {
		return fail("the amount must be 0 or more")
	}
	return Price{PerKWh: n, Currency: currency}, nil
}

// String prints the price as it is written in a bench file.
func (p Price) String() string { return fmt.Sprintf("%s %s/kWh", Number(p.PerKWh, 4), p.Currency) }

// Money prints an amount of the price's currency with two decimals.
func (p Price) Money(v float64) string { return Fixed(v, 2) + " " + p.Currency }
