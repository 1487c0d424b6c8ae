// Package settings keeps what people set for the pages as a whole, as a document of the
// store: units, marks of numbers, currency, and the zone of the days. What is not set follows the bench files and the
// machine.
package settings

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/store"
)

// Units that can be set.
const (
	AsFiles = ""       // as each bench file says
	Metric  = "metric" // cm, °C
	US      = "us"     // in, °F; masses stay in g
)

// Marks of numbers that can be set, called after how they write one.
const (
	Point      = "" // 12 345.6
	Comma      = "12 345,6"
	PointComma = "12,345.6"
	CommaPoint = "12.345,6"
)

// Settings are what is set; the zero value sets nothing.
type Settings struct {
	Units    string `json:"units,omitempty"`
	Zone     string `json:"zone,omitempty"`     // such as Europe/Berlin; empty: that of the machine
	Numbers  string `json:"numbers,omitempty"`  // one of the marks above
	Currency string `json:"currency,omitempty"` // a code or sign such as EUR; empty: that of each bench file

	// Rates are how much of the currency one of another is, as somebody set it: {"USD": 0.92}.
	// Money in a currency without a rate is shown in its own: nobody here knows the rate of the day.
	Rates map[string]float64 `json:"rates,omitempty"`
}

// Marks are what is set between the digits of numbers.
func (s Settings) Marks() quantity.Marks {
	switch s.Numbers {
	case Comma:
		return quantity.CommaMarks
	case PointComma:
		return quantity.PointCommaMarks
	case CommaPoint:
		return quantity.CommaPointMarks
	}
	return quantity.PointMarks
}

// Rate is how much of the currency that is set one of a bench's own is; false if money stays in
// its own currency.
func (s Settings) Rate(own string) (float64, bool) {
	if s.Currency == "" || s.Currency == own {
		return 0, false
	}
	rate, ok := s.Rates[own]
	return rate, ok
}

// Bench puts a bench into what is set: its units, and its money where a rate is known. It
// changes the bench, which must have been read for the pages alone.
func (s Settings) Bench(b *underlamp.Bench) {
	b.Units = s.System(b.Units)
	rate, ok := s.Rate(b.Price.Value.Currency)
	if !ok {
		return
	}
	note := fmt.Sprintf("%s at %s %s for 1 %s, as set on the page of settings", b.Price.Value, quantity.Number(rate, 6), s.Currency, b.Price.Value.Currency)
	if b.Price.Note != "" {
		note = b.Price.Note + "; " + note
	}
	b.Price.Note = note
	b.Price.Value = quantity.Price{PerKWh: rate * b.Price.Value.PerKWh, Currency: s.Currency}
	if t := b.Money.Tariff; t != nil {
		other := *t
		other.Currency = s.Currency
		for i := range other.PerKWh {
			other.PerKWh[i] *= rate
		}
		b.Money.Tariff = &other
	}
	b.Money.Costs = slices.Clone(b.Money.Costs)
	for i := range b.Money.Costs {
		b.Money.Costs[i].Amount *= rate
	}
	b.Money.Sale = slices.Clone(b.Money.Sale)
	for i := range b.Money.Sale {
		b.Money.Sale[i].Amount *= rate
	}
}

// Stamp tells settings apart that show a bench differently.
func (s Settings) Stamp() string { return s.Units + "\n" + s.Currency + "\n" + s.RatesText() }

// RatesText is the rates as they are typed, one a line: "1 USD = 0.92 EUR".
func (s Settings) RatesText() string {
	var lines []string
	for _, own := range slices.Sorted(maps.Keys(s.Rates)) {
		lines = append(lines, fmt.Sprintf("1 %s = %s %s", own, strconv.FormatFloat(s.Rates[own], 'f', -1, 64), s.Currency))
	}
	return strings.Join(lines, "\n")
}

// mostRates bounds the rates.
const mostRates = 20

// ParseRates reads rates as people type them, one a line, "1 USD = 0.92 EUR" in either decimal
// mark; the currency must be the one that is set.
func ParseRates(text, currency string) (map[string]float64, error) {
	var out map[string]float64
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		fail := func(why string) error {
			return &Wrong{fmt.Sprintf("the rate %.40q cannot be read: %s; write for example 1 USD = 0.92 EUR, one a line", line, why)}
		}
		left, right, ok := strings.Cut(line, "=")
		if !ok {
			return nil, fail("there is no = in it")
		}
		one, err := quantity.ParseRate(strings.TrimSpace(left) + "/rate")
		if err != nil {
			return nil, fail("before the = stands no amount of money")
		}
		of, err := quantity.ParseRate(strings.TrimSpace(right) + "/rate")
		if err != nil {
			return nil, fail("after the = stands no amount of money")
		}
		switch {
		case of.Currency != currency:
			return nil, fail(fmt.Sprintf("the currency that is set is %q", currency))
		case one.Currency == of.Currency:
			return nil, fail("both are one currency")
		case !(one.Amount > 0) || !(of.Amount > 0) || of.Amount/one.Amount > mostRate || of.Amount/one.Amount < 1/mostRate:
			return nil, fail("both amounts must be above 0, and none a million times the other")
		case len(out) >= mostRates:
			return nil, fail("there are more than 20")
		}
		if out == nil {
			out = map[string]float64{}
		}
		if _, twice := out[one.Currency]; twice {
			return nil, fail(one.Currency + " has a rate already")
		}
		out[one.Currency] = of.Amount / one.Amount
	}
	return out, nil
}

// mostRate bounds a rate, up and down.
const mostRate = 1e6

// System is the units to show, for a bench whose file says them.
func (s Settings) System(file quantity.System) quantity.System {
	switch s.Units {
	case Metric:
		return quantity.Metric
	case US:
		return quantity.US
	}
	return file
}

// Location is the zone of the days; nil if none is set.
func (s Settings) Location() *time.Location {
	if s.Zone == "" {
		return nil
	}
	z, err := time.LoadLocation(s.Zone)
	if err != nil {
		return nil // it was checked when it was set; the data of zones may have changed
	}
	return z
}

// Wrong is what cannot be set.
type Wrong struct{ Text string }

// Error is the sentence.
func (e *Wrong) Error() string { return e.Text }

func unknownZone(zone string) error {
	return &Wrong{fmt.Sprintf("the zone %.40q is not known; zones are called after places, such as Europe/Berlin or America/Chicago", zone)}
}

// check says what cannot be set.
func (s Settings) check() error {
	switch s.Units {
	case AsFiles, Metric, US:
	default:
		return &Wrong{fmt.Sprintf("%.20q are no units that can be set; there are metric and us", s.Units)}
	}
	switch s.Numbers {
	case Point, Comma, PointComma, CommaPoint:
	default:
		return &Wrong{fmt.Sprintf("numbers cannot be written as %.20q; there are 12 345.6 (nothing set), %s, %s and %s", s.Numbers, Comma, PointComma, CommaPoint)}
	}
	if s.Currency != "" {
		if p, err := quantity.ParseRate("1 " + s.Currency + "/rate"); err != nil || p.Currency != s.Currency {
			return &Wrong{fmt.Sprintf("the currency %.20q is no code or sign such as EUR or $", s.Currency)}
		}
	}
	if len(s.Rates) > 0 && s.Currency == "" {
		return &Wrong{"there are rates, and no currency to put money into; say which"}
	}
	if len(s.Rates) > mostRates {
		return &Wrong{"there are more than 20 rates"}
	}
	for own, rate := range s.Rates {
		if p, err := quantity.ParseRate("1 " + own + "/rate"); err != nil || p.Currency != own || own == s.Currency || !(rate >= 1/mostRate && rate <= mostRate) {
			return &Wrong{fmt.Sprintf("the rate of %.20q cannot be set", own)}
		}
	}
	if len(s.Zone) > 64 || s.Zone == "Local" {
		return unknownZone(s.Zone)
	}
	if _, err := time.LoadLocation(s.Zone); err != nil {
		return unknownZone(s.Zone)
	}
	return nil
}

// maxText bounds a document of settings.
const maxText = 1 << 12

// Parse reads a document. Words that this version does not know are an error: they would be
// lost when it is written again.
func Parse(text []byte) (Settings, error) {
	var s Settings
	if len(text) > maxText {
		return s, errors.New("the settings are too long")
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&s); err != nil {
		return Settings{}, fmt.Errorf("the settings cannot be read: %w", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return Settings{}, errors.New("something follows the settings")
	}
	if err := s.check(); err != nil {
		return Settings{}, err
	}
	return s, nil
}

// The document.
const (
	kind = "settings"
	name = "pages"
)

// fresh is how long what was read counts: other servers of the store may set as well.
const fresh = 5 * time.Second

// A Keeper keeps the settings in a store. It is safe for many goroutines.
type Keeper struct {
	docs store.Documents
	now  func() time.Time

	mu   sync.Mutex
	last Settings
	read time.Time
	err  error
}

// New keeps settings in a store.
func New(docs store.Documents) *Keeper { return &Keeper{docs: docs, now: time.Now} }

// Now is what is set. If it cannot be read it is what was set last, with the error.
func (k *Keeper) Now(ctx context.Context) (Settings, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if now := k.now(); k.read.IsZero() || now.Sub(k.read) >= fresh || now.Before(k.read) {
		s, err := k.load(ctx)
		if ctx.Err() != nil {
			return k.last, nil // the visitor has left; that tells nothing of the store
		}
		if k.read, k.err = now, err; err == nil {
			k.last = s
		}
	}
	return k.last, k.err
}

func (k *Keeper) load(ctx context.Context) (Settings, error) {
	d, err := k.docs.Document(ctx, kind, name)
	if errors.Is(err, store.ErrNotFound) {
		return Settings{}, nil
	}
	if err != nil {
		return Settings{}, err
	}
	return Parse(d.Text)
}

// Put sets.
func (k *Keeper) Put(ctx context.Context, s Settings) error {
	if err := s.check(); err != nil {
		return err
	}
	text, err := json.Marshal(s)
	if err != nil {
		return err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if err := k.docs.PutDocument(ctx, store.Document{Kind: kind, Name: name, Recorded: store.At(k.now()), Text: text}); err != nil {
		return err
	}
	k.last, k.read, k.err = s, k.now(), nil
	return nil
}
