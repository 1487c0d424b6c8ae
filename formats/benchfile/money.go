package benchfile

import (
	"fmt"
	"slices"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/energycost"
	"underlamp/science/quantity"
)

const (
	mostCosts = 30
	mostSteps = 20
)

// price reads what electricity costs: one price, or a tariff by the time of day.
func (r *reader) price(v handwritten.Value, b *underlamp.Bench) underlamp.Given[quantity.Price] {
	usual := underlamp.Assumed(quantity.Price{PerKWh: 0.30, Currency: "EUR"}, "no price was given; 0.30 EUR/kWh only shows the order of size; common practice, no source")
	inner, origin, note, ok := r.Said(v)
	if !ok || !inner.Written() {
		return usual
	}
	const want = "for example 0.31 EUR/kWh, or 07:00-23:00 0.34 EUR/kWh, 23:00-07:00 0.19 EUR/kWh"
	r.Takes(inner, handwritten.Form{Is: handwritten.FreeForm, Want: want})
	r.Usually(v, "0.30 EUR/kWh (%s)", usual.Note)
	text, ok := r.Raw(inner, want)
	if !ok {
		return usual
	}
	if strings.Contains(text, ":") {
		t, err := energycost.ParseTariff(text)
		switch {
		case err != nil:
			r.Errorf(inner, want, "%s", firstClauses(err))
			return usual
		case t.Currency == "":
			r.Errorf(inner, want, "the tariff does not name its currency")
			return usual
		}
		mean := 0.0
		for _, p := range t.PerKWh {
			mean += p / energycost.Quarters
		}
		if mean > mostPricePerKWh {
			r.Errorf(inner, want, "%s on the mean is far more than electricity costs", quantity.Price{PerKWh: mean, Currency: t.Currency})
			return usual
		}
		b.Money.Tariff = &t
		return underlamp.Given[quantity.Price]{Value: quantity.Price{PerKWh: mean, Currency: t.Currency}, Origin: origin, Note: note}
	}
	p, err := quantity.ParsePrice(text)
	if err != nil {
		r.Errorf(inner, want, "%s", firstClauses(err))
		return usual
	}
	if p.PerKWh > mostPricePerKWh {
		r.Errorf(inner, want, "%s is far more than electricity costs", p)
		return usual
	}
	return underlamp.Given[quantity.Price]{Value: p, Origin: origin, Note: note}
}

// bases are how a person may write what an amount is counted by.
var bases = map[string]underlamp.Basis{
	"head": underlamp.PerHead, "plant": underlamp.PerHead, "cycle": underlamp.PerCycle, "crop": underlamp.PerCycle,
	"m²/d": underlamp.PerAreaDay, "m2/d": underlamp.PerAreaDay, "m²/day": underlamp.PerAreaDay, "m2/day": underlamp.PerAreaDay,
	"kg": underlamp.PerKg,
}

// rate reads an amount of money by one of the bases allowed, in the currency of
// the electricity. A price of electricity that nobody wrote takes the currency of
// the first amount that somebody did.
func (r *reader) rate(v handwritten.Value, b *underlamp.Bench, want, what string, allowed ...underlamp.Basis) (float64, underlamp.Basis, bool) {
	if !v.Written() {
		r.Missing(v, want, what)
		return 0, "", false
	}
	text, ok := r.Scalar(v, want)
	if !ok {
		return 0, "", false
	}
	m, err := quantity.ParseRate(text)
	if err != nil {
		r.Errorf(v, want, "%s", firstClauses(err))
		return 0, "", false
	}
	basis, known := bases[strings.ToLower(strings.Join(strings.Fields(m.Per), ""))]
	if !known || !slices.Contains(allowed, basis) {
		words := make([]string, len(allowed))
		for i, a := range allowed {
			words[i] = "/" + string(a)
		}
		r.Errorf(v, want, "%q is not counted by %s", handwritten.Shortened(text), strings.Join(words, " or "))
		return 0, "", false
	}
	if now := b.Price.Value.Currency; m.Currency != now {
		if !b.Price.IsDefault() || len(b.Money.Costs)+len(b.Money.Sale) > 0 {
			r.Errorf(v, "all money in one currency, "+now, "this is in %s", m.Currency)
			return 0, "", false
		}
		b.Price.Value.Currency = m.Currency
	}
	return m.Amount, basis, true
}

// costs reads what a cycle costs besides electricity.
func (r *reader) costs(v handwritten.Value, b *underlamp.Bench) {
	const want = "costs: [{for: seed and plug, rate: 0.06 EUR/head}, {for: rent, rate: 0.05 EUR/m²/d}]"
	items, ok := r.List(v, want, mostCosts, "costs")
	if !ok {
		return
	}
	for i, item := range items {
		f, ok := r.Mapping(item, "costs[]")
		if !ok {
			continue
		}
		c := underlamp.Cost{For: fmt.Sprintf("cost %d", i+1)}
		if name, ok := r.Words(f.Get("for"), handwritten.MaxName); ok {
			c.For = name
		}
		if c.Amount, c.Per, ok = r.rate(f.Get("rate"), b, "for example 0.06 EUR/head, 3 EUR/cycle or 0.05 EUR/m²/d", "the rate of the cost", underlamp.PerHead, underlamp.PerCycle, underlamp.PerAreaDay); ok {
			b.Money.Costs = append(b.Money.Costs, c)
		}
	}
}

// sale reads what heads sell for.
func (r *reader) sale(v handwritten.Value, b *underlamp.Bench) {
	const want = "sale: [{from: 120 g, price: 0.90 EUR/head}, {from: 180 g, price: 1.20 EUR/head}]"
	items, ok := r.List(v, want, mostSteps, "steps of the price")
	if !ok {
		return
	}
	for _, item := range items {
		f, ok := r.Mapping(item, "sale[]")
		if !ok {
			continue
		}
		s := underlamp.SaleStep{From: b.Crop.Saleable.Value}
		from := f.Get("from")
		if from.Written() {
			g, ok := r.Amount(from, quantity.Mass, saleableSpan)
			if !ok {
				continue
			}
			s.From = quantity.Gram(g)
		}
		var read bool
		if s.Amount, s.Per, read = r.rate(f.Get("price"), b, "for example 0.90 EUR/head or 7.50 EUR/kg", "the price", underlamp.PerHead, underlamp.PerKg); !read {
			continue
		}
		if n := len(b.Money.Sale); n > 0 && s.From <= b.Money.Sale[n-1].From {
			at := from
			if !at.Written() {
				at = item
			}
			r.Errorf(at, "more than "+r.Show(quantity.Mass, float64(b.Money.Sale[n-1].From)), "the steps of the price stand from the lightest head to the heaviest, each once")
			continue
		}
		b.Money.Sale = append(b.Money.Sale, s)
	}
	if n := len(b.Money.Sale); n > 0 && b.Crop.Saleable.IsDefault() {
		b.Crop.Saleable = underlamp.Given[quantity.Gram]{Value: b.Money.Sale[0].From, Origin: underlamp.Computed, Note: "the lightest head that has a price"}
	} else if n > 0 && b.Money.Sale[0].From > b.Crop.Saleable.Value {
		r.Warnf(items[0], "from: "+r.Show(quantity.Mass, float64(b.Crop.Saleable.Value)), "heads from %s up count as saleable, but below %s no price is given: they bring nothing",
			r.Show(quantity.Mass, float64(b.Crop.Saleable.Value)), r.Show(quantity.Mass, float64(b.Money.Sale[0].From)))
	}
}
