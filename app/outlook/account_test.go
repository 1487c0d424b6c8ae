package outlook

import (
	"math"
	"testing"

	"underlamp"
	"underlamp/science/energycost"
)

// The account adds up, from the figures of the forecast by hand: a price per kg
// without a step is the saleable mass times the price, and a tariff of two prices
// puts a day of 8 h into the cheap hours whole.
func TestAccount(t *testing.T) {
	t.Parallel()
	tariff, err := energycost.ParseTariff("07:00-23:00 0.40 EUR/kWh, 23:00-07:00 0.10 EUR/kWh")
	if err != nil {
		t.Fatal(err)
	}
	o := prepared(t, "tier-2-middle.yaml", 200, func(b *underlamp.Bench) {
		b.Money = underlamp.Money{Tariff: &tariff,
			Costs: []underlamp.Cost{{For: "seed", Amount: 0.1, Per: underlamp.PerHead}, {For: "care", Amount: 2, Per: underlamp.PerCycle}, {For: "rent", Amount: 0.05, Per: underlamp.PerAreaDay}},
			Sale:  []underlamp.SaleStep{{From: b.Crop.Saleable.Value, Amount: 8, Per: underlamp.PerKg}}}
		for i := range b.Lamps {
			b.Lamps[i].Hours = underlamp.Said(b.Lamps[i].Hours.Value / 2)
		}
	})
	f := forecast(t, o, nil)
	if want := 0.1 * float64(f.Energy.KWh); math.Abs(f.Account.Electricity-want) > 1e-9 {
		t.Errorf("8 h at the cheap price cost %g, want %g", f.Account.Electricity, want)
	}
	if len(f.Energy.Light) != 1 || f.Energy.Light[0].String() != "23:00 to 07:00" {
		t.Errorf("light at %v", f.Energy.Light)
	}
	// 18 heads, 1.2 m by 0.6 m, 32 days.
	besides := 18*0.1 + 2 + 0.72*32*0.05
	if math.Abs(f.Account.Besides-besides) > 1e-9 || math.Abs(f.Account.Costs-besides-f.Account.Electricity) > 1e-9 {
		t.Errorf("costs %g of which besides %g, want %g", f.Account.Costs, f.Account.Besides, besides)
	}
	if want := f.Saleable / 1000 * 8; math.Abs(f.Account.Income.Mid-want) > 1e-9*want {
		t.Errorf("income %g, want %g", f.Account.Income.Mid, want)
	}
	if want := f.Account.Income.Mid - f.Account.Costs; math.Abs(f.Account.Margin.Mid-want) > 1e-9 {
		t.Errorf("margin %g, want %g", f.Account.Margin.Mid, want)
	}
	// g per day and per m² and day.
	if math.Abs(f.PerDay()*32-f.Saleable) > 1e-9 || math.Abs(f.PerAreaDay()*0.72*32-f.Saleable) > 1e-9 {
		t.Errorf("%g g/d, %g g/m²/d of %g g", f.PerDay(), f.PerAreaDay(), f.Saleable)
	}
}

// What was not said is in no figure.
func TestAccountWithoutPrices(t *testing.T) {
	t.Parallel()
	o := prepared(t, "tier-1-top.yaml", 100, nil)
	f := forecast(t, o, nil)
	if f.Account.Priced || !math.IsNaN(f.Account.Margin.Mid) || f.Account.Besides != 0 {
		t.Errorf("%+v", f.Account)
	}
	for _, x := range o.Figures(f) {
		if x.Name == "margin of the cycle" || x.Name == "costs of the cycle" {
			t.Errorf("%s is shown though nothing was said of it", x.Name)
		}
	}
}
