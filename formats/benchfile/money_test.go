package benchfile_test

import (
	"strings"
	"testing"

	"underlamp"
	"underlamp/formats/benchfile"
)

// A tariff, costs and the steps of a price, as they are written.
func TestMoney(t *testing.T) {
	t.Parallel()
	b := read(t, bench+`
electricity: 07:00-23:00 0.34 EUR/kWh, 23:00-07:00 0.19 EUR/kWh
costs:
  - {for: seed and plug, rate: 0.06 EUR/head}
  - {rate: 3 EUR per cycle}
  - {for: rent, rate: 0.05 EUR/m2/day}
sale: [{from: 120 g, price: 0.90 EUR/head}, {from: 6 oz, price: 7.50 EUR/kg}]
`)
	m := b.Money
	if m.Tariff == nil || m.Tariff.PerKWh[0] != 0.19 || m.Tariff.PerKWh[40] != 0.34 {
		t.Fatalf("tariff %v", m.Tariff)
	}
	// 16 h at 0.34 and 8 h at 0.19 are 0.29 on the mean.
	if p := b.Price.Value.PerKWh; p < 0.29-1e-12 || p > 0.29+1e-12 || b.Price.IsDefault() {
		t.Errorf("mean price %g", p)
	}
	want := []underlamp.Cost{{For: "seed and plug", Amount: 0.06, Per: underlamp.PerHead}, {For: "cost 2", Amount: 3, Per: underlamp.PerCycle}, {For: "rent", Amount: 0.05, Per: underlamp.PerAreaDay}}
	for i, c := range want {
		if m.Costs[i] != c {
			t.Errorf("cost %d: %+v, want %+v", i, m.Costs[i], c)
		}
	}
	if len(m.Sale) != 2 || m.Sale[1].Per != underlamp.PerKg || m.Sale[1].From < 170 || m.Sale[1].From > 170.1 { // 6 · 28.3495 g
		t.Errorf("sale %+v", m.Sale)
	}
	// Nobody said what is saleable: the lightest head that has a price.
	if b.Crop.Saleable.Value != 120 || b.Crop.Saleable.IsDefault() {
		t.Errorf("saleable %+v", b.Crop.Saleable)
	}
}

// A price of electricity that nobody wrote takes the currency of the rest.
func TestMoneyOfAnotherCurrency(t *testing.T) {
	t.Parallel()
	b := read(t, bench+"costs: [{for: seed, rate: $0.05/head}]\n")
	if c := b.Price.Value.Currency; c != "$" || !b.Price.IsDefault() {
		t.Errorf("currency %q", c)
	}
}

func TestMoneyMistakes(t *testing.T) {
	t.Parallel()
	for text, says := range map[string]string{
		"electricity: 07:00-23:00 0.34 EUR/kWh\n":                                                        "has no price",
		"electricity: 07:00-25:00 0.34 EUR/kWh, 01:00-07:00 0.2 EUR/kWh\n":                               "25:00",
		"electricity: 07:00-23:00 0.34 EUR/kWh, 22:00-07:00 0.19 EUR/kWh\n":                              "22:00",
		"electricity: 07:00-23:00 0.34, 23:00-07:00 0.19\n":                                              "does not name its currency",
		"electricity: 07:00-23:00 0.34 EUR/kWh, 23:00-07:00 0.19 CHF/kWh\n":                              "CHF",
		"costs: [{for: seed, rate: 0.05 EUR}]\n":                                                         "per what",
		"costs: [{for: seed, rate: -1 EUR/head}]\n":                                                      "0",
		"costs: [{for: seed, rate: 0.05 EUR/kg}]\n":                                                      "is not counted by",
		"costs: [{for: seed}]\n":                                                                         "is missing",
		"electricity: 0.3 EUR/kWh\ncosts: [{for: seed, rate: 0.05 CHF/head}]\n":                          "in CHF",
		"costs: [{for: seed, rate: 0.05 CHF/head}]\nsale: [{price: 1 EUR/head}]\n":                       "in EUR",
		"sale: [{from: 150 g, price: 1 EUR/head}, {from: 120 g, price: 2 EUR/head}]\n":                   "from the lightest",
		"sale: [{from: 120 g, price: 1 EUR/cycle}]\n":                                                    "is not counted by",
		"crop: {saleable: 100 g}\nsale: [{from: 120 g, price: 1 EUR/head}]\nelectricity: 0.3 EUR/kWhh\n": "per kWh",
	} {
		_, problems, err := benchfile.Read(strings.NewReader(bench + "\n" + text))
		if err != nil || !problems.HasErrors() || !strings.Contains(problems.Error(), says) {
			t.Errorf("%s: %v, want a problem that says %q", text, problems, says)
		}
	}
}
