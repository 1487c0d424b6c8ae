package energycost

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"underlamp/science/quantity"
)

// Quarters is the number of quarter hours of a day: light is switched to the
// quarter.
const Quarters = 96

// A Tariff is the price of a kilowatt-hour in each quarter hour of the day, from
// midnight. It is the same every day: weekends and the day on which clocks change
// are left out.
type Tariff struct {
	PerKWh   [Quarters]float64
	Currency string // as written; empty if the text named none
}

// Flat is a tariff of one price.
func Flat(p quantity.Price) Tariff {
	t := Tariff{Currency: p.Currency}
	for i := range t.PerKWh {
		t.PerKWh[i] = p.PerKWh
	}
	return t
}

// Varies says that the price depends on the time.
func (t Tariff) Varies() bool {
	for _, p := range t.PerKWh {
		if p != t.PerKWh[0] {
			return true
		}
	}
	return false
}

// maxTariff bounds the text of a tariff.
const maxTariff = 4096

// A TariffError tells what is wrong with the text of a tariff.
type TariffError struct {
	Part   string // the part of the text
	Reason string // a clause without a full stop
}

// tariffExample is shown with every error.
const tariffExample = "07:00-23:00 0.34, 23:00-07:00 0.19"

// Error says what is wrong and gives an example.
func (e *TariffError) Error() string {
	at := ""
	if e.Part != "" {
		at = fmt.Sprintf("%q: ", e.Part)
	}
	return "tariff: " + at + e.Reason + "; an example: " + tariffExample
}

// ParseTariff reads the price by the time of day: entries parted by commas, each
// a time of day from and to and the price of a kilowatt-hour, for example
//
//	07:00-23:00 0.34, 23:00-07:00 0.19
//
// An entry may run over midnight; together they must cover the day once. Times
// are full quarter hours, a price has a decimal point and may carry its currency
// ("0.34 EUR/kWh"), the same in every entry. A [*TariffError] says what is wrong.
func ParseTariff(text string) (Tariff, error) {
	var t Tariff
	fail := func(part, format string, args ...any) (Tariff, error) {
		if len(part) > 60 {
			part = part[:60]
		}
		return Tariff{}, &TariffError{Part: strings.ToValidUTF8(part, "?"), Reason: fmt.Sprintf(format, args...)}
	}
	if len(text) > maxTariff {
		return fail("", "the text has %d bytes, want at most %d", len(text), maxTariff)
	}
	var by [Quarters]string // the entry that set each quarter
	for i, part := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' }) {
		part = strings.TrimSpace(part)
		if part == "" {
			continue
		}
		span, price, ok := cutSpan(part)
		if !ok {
			if _, err := strconv.ParseFloat(part, 64); err == nil && i > 0 {
				return fail(part, "a comma parts the entries; write the price with a decimal point")
			}
			return fail(part, "this is no time from and to with a price")
		}
		from, err := clock(span[0])
		if err != "" {
			return fail(part, "%s", err)
		}
		to, err := clock(span[1])
		if err != "" {
			return fail(part, "%s", err)
		}
		if from == Quarters {
			from = 0
		}
		p, currency, err := tariffPrice(price)
		if err != "" {
			return fail(part, "%s", err)
		}
		if currency != "" {
			if t.Currency != "" && t.Currency != currency {
				return fail(part, "the currency is %s here and %s before", currency, t.Currency)
			}
			t.Currency = currency
		}
		n := to - from
		if n <= 0 {
			n += Quarters // over midnight; from and to alike is the whole day
		}
		for k := range n {
			q := (from + k) % Quarters
			if by[q] != "" {
				return fail(part, "%s has a price already, from %q", Clock(q), by[q])
			}
			by[q], t.PerKWh[q] = part, p
		}
	}
	for q, b := range by {
		if b == "" {
			end := q
			for end < Quarters && by[end] == "" {
				end++
			}
			return fail("", "%s to %s has no price", Clock(q), Clock(end))
		}
	}
	return t, nil
}

// cutSpan parts "07:00-23:00 0.34" into its times and the price.
func cutSpan(s string) (span [2]string, price string, ok bool) {
	s = strings.NewReplacer("–", "-", "—", "-", " to ", "-").Replace(s)
	from, rest, ok := strings.Cut(s, "-")
	if !ok {
		return span, "", false
	}
	rest = strings.TrimSpace(rest)
	at := strings.IndexFunc(rest, func(r rune) bool { return r == ' ' || r == '\t' })
	if at < 0 {
		return [2]string{strings.TrimSpace(from), rest}, "", true
	}
	return [2]string{strings.TrimSpace(from), rest[:at]}, strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(rest[at:]), "at ")), true
}

// clock reads a time of day to the quarter; 24:00 is Quarters.
func clock(s string) (quarter int, wrong string) {
	h, m, two := strings.Cut(s, ":")
	hour, err := strconv.Atoi(h)
	minute := 0
	if two && err == nil {
		minute, err = strconv.Atoi(m)
	}
	switch {
	case err != nil || len(h) > 2 || two && len(m) != 2 || hour < 0 || hour > 24 || minute < 0 || minute > 59 || hour == 24 && minute > 0:
		return 0, fmt.Sprintf("%q is no time of day (00:00 to 24:00)", s)
	case minute%15 != 0:
		return 0, fmt.Sprintf("%s is no full quarter hour", s)
	}
	return hour*4 + minute/15, ""
}

// tariffPrice reads the price of an entry.
func tariffPrice(s string) (perKWh float64, currency, wrong string) {
	if s == "" {
		return 0, "", "the price is missing"
	}
	if v, err := strconv.ParseFloat(s, 64); err == nil {
		switch {
		case v < 0:
			return 0, "", "a price below 0 cannot be planned with"
		case math.IsNaN(v) || v > 1e6:
			return 0, "", "the price is out of range"
		}
		return v, "", ""
	}
	p, err := quantity.ParsePrice(s)
	if err != nil {
		return 0, "", fmt.Sprintf("the price cannot be read: %v", err)
	}
	return p.PerKWh, p.Currency, ""
}

// Clock prints a quarter hour of the day: 28 is "07:00", 96 is "24:00".
func Clock(quarter int) string {
	return fmt.Sprintf("%02d:%02d", quarter/4, quarter%4*15)
}

// String writes the tariff as ParseTariff reads it.
func (t Tariff) String() string {
	var parts []string
	write := func(from, to int) {
		price := strconv.FormatFloat(t.PerKWh[from%Quarters], 'f', -1, 64)
		if t.Currency != "" {
			price = quantity.Price{PerKWh: t.PerKWh[from%Quarters], Currency: t.Currency}.String()
		}
		parts = append(parts, fmt.Sprintf("%s-%s %s", Clock(from%Quarters), Clock((to-1)%Quarters+1), price))
	}
	first := -1
	for q := range Quarters {
		if t.PerKWh[q] != t.PerKWh[(q+Quarters-1)%Quarters] {
			first = q
			break
		}
	}
	if first < 0 {
		write(0, Quarters)
		return parts[0]
	}
	from := first
	for k := 1; k <= Quarters; k++ {
		if q := first + k; k == Quarters || t.PerKWh[q%Quarters] != t.PerKWh[from%Quarters] {
			write(from, q)
			from = q
		}
	}
	return strings.Join(parts, ", ")
}

// ParseClock reads a time of day, "18:00", to the quarter hour: 72. 24:00 is 96.
func ParseClock(text string) (quarter int, err error) {
	q, wrong := clock(strings.TrimSpace(text))
	if wrong != "" {
		return 0, errors.New(wrong)
	}
	return q, nil
}
