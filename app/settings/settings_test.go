package settings_test

import (
	"context"
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"underlamp"
	"underlamp/app/settings"
	"underlamp/science/energycost"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/store/sqlite"
)

func TestKeeper(t *testing.T) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	k := settings.New(s)
	if got, err := k.Now(ctx); err != nil || !reflect.DeepEqual(got, settings.Settings{}) || got.Location() != nil || got.System(quantity.US) != quantity.US {
		t.Errorf("%+v, %v", got, err)
	}
	want := settings.Settings{Units: settings.US, Zone: "America/Chicago", Numbers: settings.Comma, Currency: "EUR", Rates: map[string]float64{"USD": 0.92}}
	if err := k.Put(ctx, want); err != nil {
		t.Fatal(err)
	}
	for _, from := range []*settings.Keeper{k, settings.New(s)} {
		got, err := from.Now(ctx)
		if err != nil || !reflect.DeepEqual(got, want) || got.System(quantity.Metric) != quantity.US || got.Location().String() != "America/Chicago" {
			t.Errorf("%+v, %v", got, err)
		}
	}
	for _, bad := range []settings.Settings{{Units: "imperial"}, {Zone: "Mars/Olympus"}, {Zone: "../../etc/passwd"}, {Numbers: "1,2"}, {Currency: "<b>"}, {Currency: "12"}, {Rates: map[string]float64{"USD": 1}}, {Currency: "EUR", Rates: map[string]float64{"USD": 0}}, {Currency: "EUR", Rates: map[string]float64{"EUR": 1}}, {Zone: "Local"}, {Zone: strings.Repeat("x", 100)}} {
		if err := k.Put(ctx, bad); err == nil {
			t.Errorf("%+v was set", bad)
		}
	}
	// A document that another version wrote is told, and what was set last holds.
	if err := s.PutDocument(ctx, store.Document{Kind: "settings", Name: "pages", Recorded: store.At(time.Now()), Text: []byte(`{"colour":"green"}`)}); err != nil {
		t.Fatal(err)
	}
	if _, err := settings.New(s).Now(ctx); err == nil || !strings.Contains(err.Error(), "colour") {
		t.Errorf("%v", err)
	}
}

// Money is put into the currency that is set where its rate is known, all of it alike, and the
// price says how; the bench that was read is not another's.
func TestMoney(t *testing.T) {
	tariff := energycost.Tariff{Currency: "$"}
	tariff.PerKWh[3] = 0.5
	read := func() *underlamp.Bench {
		b := &underlamp.Bench{Price: underlamp.Given[quantity.Price]{Value: quantity.Price{PerKWh: 0.25, Currency: "$"}}}
		b.Money = underlamp.Money{Tariff: &tariff, Costs: []underlamp.Cost{{For: "seed", Amount: 0.1}}, Sale: []underlamp.SaleStep{{Amount: 2}}}
		return b
	}
	rates, err := settings.ParseRates("\n 2 $ = 1,80 EUR \n1 GBP=1.2 EUR", "EUR")
	if err != nil || len(rates) != 2 || rates["$"] != 0.9 || rates["GBP"] != 1.2 {
		t.Fatalf("%v, %v", rates, err)
	}
	set := settings.Settings{Currency: "EUR", Rates: rates}
	if again, err := settings.ParseRates(set.RatesText(), "EUR"); err != nil || !reflect.DeepEqual(again, rates) {
		t.Errorf("%q: %v, %v", set.RatesText(), again, err)
	}
	b := read()
	set.Bench(b)
	if p := b.Price; p.Value != (quantity.Price{PerKWh: 0.225, Currency: "EUR"}) || !strings.Contains(p.Note, "0.25 $/kWh at 0.9 EUR for 1 $") {
		t.Errorf("%+v", p)
	}
	if m := b.Money; m.Tariff.PerKWh[3] != 0.45 || m.Tariff.Currency != "EUR" || math.Abs(m.Costs[0].Amount-0.09) > 1e-12 || m.Sale[0].Amount != 1.8 || tariff.PerKWh[3] != 0.5 {
		t.Errorf("%+v", m)
	}
	b = read()
	settings.Settings{Currency: "CHF"}.Bench(b)
	if b.Price.Value.Currency != "$" || b.Price.Note != "" {
		t.Errorf("%+v", b.Price)
	}
	for _, bad := range []string{"1 USD", "USD = EUR", "1 USD = 0.9 CHF", "1 EUR = 1 EUR", "0 USD = 1 EUR", "1 USD = 1 EUR\n1 USD = 2 EUR", "1 USD = 999999999 EUR"} {
		if got, err := settings.ParseRates(bad, "EUR"); err == nil {
			t.Errorf("%q gives %v", bad, got)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{`{}`, `{"units":"us","zone":"Europe/Berlin"}`, `{"numbers":"12.345,6","currency":"EUR","rates":{"$":0.92}}`, `{} {}`, `null`, `{"zone":"../x"}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := settings.Parse(text)
		if err == nil && (s.Zone != "" && s.Location() == nil || strings.Contains(s.Zone, "..")) {
			t.Fatalf("%q gives %+v", text, s)
		}
	})
}
