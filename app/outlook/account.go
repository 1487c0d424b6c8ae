package outlook

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/science/energycost"
	"underlamp/science/headcost"
	"underlamp/science/quantity"
	"underlamp/working"
)

// An Account is what a cycle costs and earns, in the currency of the bench.
type Account struct {
	Currency    string
	Electricity float64 // of the lamps
	Besides     float64 // the costs of the bench file
	Costs       float64 // both
	PerSold     float64 // costs for each head sold; +Inf if none is

	Priced bool // the bench file says what heads sell for; else what follows is NaN
	Income Band // of the cycle; Mid is the mean over the draws
	Margin Band // income less costs

	AreaDays float64 // m² of bench times days
}

// PerAreaDay is a margin or a mass of the cycle for each m² of bench and day.
func (a Account) PerAreaDay(v float64) float64 { return v / a.AreaDays }

// account fills in electricity and money of a forecast.
func (o *Outlook) account(b *underlamp.Bench, f *Forecast) {
	f.Energy = energyOf(b, f)
	f.PerKWh = o.perKWh(f)
	heads := f.Heads
	terms := termsOf(b)
	a := Account{Currency: b.Price.Value.Currency, Electricity: f.Energy.Money, PerSold: math.Inf(1)}
	area := float64(b.Space.Width) * float64(b.Space.Depth)
	a.AreaDays = area * float64(f.Days)
	a.Besides = terms.Costs(heads, area, float64(f.Days))
	a.Costs = a.Electricity + a.Besides
	if f.Sold > 0 {
		a.PerSold = a.Costs / (f.Sold * heads)
	}
	nan := math.NaN()
	a.Income, a.Margin = Band{nan, nan, nan}, Band{nan, nan, nan}
	if a.Priced = len(terms.Sale) > 0; a.Priced {
		income := column(f.draws, func(d drawResult) float64 { return d.income * heads })
		mean := 0.0
		for _, v := range income {
			mean += v / float64(len(income))
		}
		a.Income = BandOf(income)
		a.Income.Mid = mean
		a.Margin = Band{a.Income.Low - a.Costs, mean - a.Costs, a.Income.High - a.Costs}
	}
	f.Account = a
}

// Mass that sells, for what it takes.

// PerDay is saleable g of the bench for each day of the cycle.
func (f *Forecast) PerDay() float64 { return f.Saleable / float64(f.Days) }

// PerAreaDay is saleable g for each m² of bench and day.
func (f *Forecast) PerAreaDay() float64 { return f.Account.PerAreaDay(f.Saleable) }

// termsOf are the costs and prices of a bench.
func termsOf(b *underlamp.Bench) headcost.Terms {
	var t headcost.Terms
	for _, c := range b.Money.Costs {
		switch c.Per {
		case underlamp.PerHead:
			t.PerHead += c.Amount
		case underlamp.PerCycle:
			t.PerCycle += c.Amount
		case underlamp.PerAreaDay:
			t.PerM2Day += c.Amount
		}
	}
	for _, s := range b.Money.Sale {
		step := headcost.Step{From: float64(s.From)}
		if s.Per == underlamp.PerKg {
			step.PerKg = s.Amount
		} else {
			step.PerHead = s.Amount
		}
		t.Sale = append(t.Sale, step)
	}
	return t
}

// priceOf prices the electricity of a cycle. Under a tariff each lamp burns when
// its hours cost least in one stretch, so that the dark period stays whole; that
// is what a timer can do, and the working says so.
func priceOf(b *underlamp.Bench, f *Forecast, e *Energy) {
	if b.Money.Tariff == nil {
		e.PerHour = b.Price.Value.PerKWh
		e.Money = energycost.Money(e.KWh, b.Price.Value)
		return
	}
	placed := map[quantity.Hours]energycost.Placing{}
	for i := range b.Lamps {
		l := &b.Lamps[i]
		h := l.Hours.Value
		p, ok := placed[h]
		if !ok {
			var err error
			if p, err = (energycost.LightDay{Tariff: *b.Money.Tariff, Hours: h}).Place(); err != nil {
				p = energycost.Placing{PerHour: b.Price.Value.PerKWh} // hours that cannot be placed are 0 or 24: the mean
			}
			placed[h] = p
		}
		kwh := energycost.LampEnergy(l.Draw(l.Dimming.Value), h, float64(f.Days))
		e.Money += energycost.Money(kwh, quantity.Price{PerKWh: p.PerHour})
		e.Light = p.Light
	}
	if len(placed) > 1 {
		e.Light = nil
	}
	if e.KWh > 0 {
		e.PerHour = e.Money / float64(e.KWh)
	}
}

// moneyFigures are the figures of money with their workings. Costs and income
// appear where the bench file speaks of them.
func (o *Outlook) moneyFigures(b *underlamp.Bench, f *Forecast, kwh working.Input) []working.Figure {
	a, cur := f.Account, f.Account.Currency
	amount := func(v float64) string { return quantity.Fixed(v, 2) + " " + cur }
	electric := working.Working{
		Formula: "money = kWh · price",
		Inputs:  []working.Input{kwh, working.Plain("price", b.Price.Value.String(), b.Price.Origin.String())},
		Notes:   []string{"Lamps only. Fans, pumps, heating, cooling and drying of the air are not in it."},
	}
	if t := b.Money.Tariff; t != nil {
		electric.Formula = "money = Σ quarters of an hour lit · power · price"
		electric.Inputs = []working.Input{kwh, working.Plain("tariff", t.String(), b.Price.Origin.String()), working.Plain("mean price while the lamps burn", amount(f.Energy.PerHour)+"/kWh", "computed")}
		if len(f.Energy.Light) > 0 {
			words := make([]string, len(f.Energy.Light))
			for i, s := range f.Energy.Light {
				words[i] = s.String()
			}
			electric.Notes = append(electric.Notes, "The lamps are taken to burn when it costs least in one stretch, "+strings.Join(words, " and ")+", so that the dark period stays whole. The tariff is taken as the same every day.")
		} else {
			electric.Notes = append(electric.Notes, "Each lamp is taken to burn when its hours cost least in one stretch. The tariff is taken as the same every day.")
		}
	}
	figs := []working.Figure{{Name: "cost of the electricity", Value: a.Electricity, Unit: cur, Money: true, Working: electric}}
	if len(b.Money.Costs) == 0 && !a.Priced {
		return figs
	}
	heads := f.Heads
	costs := working.Working{
		Formula: "electricity + heads · costs per head + costs per cycle + m² · days · costs per m² and day",
		Inputs: []working.Input{working.Plain("electricity", amount(a.Electricity), "computed"), working.Plain("heads planted", quantity.Number(heads, 3), "stated"),
			working.Plain("bench", quantity.Number(a.AreaDays/float64(f.Days), 3)+" m²", "stated"), working.Plain("days", fmt.Sprint(f.Days), b.Crop.Days.Origin.String())},
	}
	for _, c := range b.Money.Costs {
		costs.Inputs = append(costs.Inputs, working.Plain(c.For, fmt.Sprintf("%s %s/%s", quantity.Number(c.Amount, 4), cur, c.Per), "stated"))
	}
	costs.Notes = []string{"Only what the bench file names is in it. " + notNamed(b)}
	figs = append(figs, working.Figure{Name: "costs of the cycle", Value: a.Costs, Unit: cur, Money: true, Working: costs})
	if !math.IsInf(a.PerSold, 1) {
		perSold := costs
		perSold.Formula = "costs of the cycle / heads sold"
		perSold.Inputs = append(slices.Clone(costs.Inputs), working.Plain("heads sold", quantity.Fixed(f.Sold*heads, 1), "computed"))
		figs = append(figs, working.Figure{Name: "costs of a head sold", Value: a.PerSold, Unit: cur, Money: true, Working: perSold})
	}
	if !a.Priced {
		return figs
	}
	income := working.Working{
		Formula: "Σ heads sold · price of the step that the head reaches",
		Inputs:  []working.Input{working.Plain("heads sold", quantity.Fixed(f.Sold*heads, 1), "computed")},
		Steps:   []string{"Mean over the draws, head by head; the band is that of one draw, in which all plants share the traits of one possible cultivar."},
	}
	for _, s := range b.Money.Sale {
		income.Inputs = append(income.Inputs, working.Plain("from "+quantity.Mass.Format(float64(s.From), b.Units, 3), fmt.Sprintf("%s %s/%s", quantity.Number(s.Amount, 4), cur, s.Per), "stated"))
	}
	margin := working.Working{
		Formula: "income − costs",
		Inputs:  []working.Input{working.Plain("income", amount(a.Income.Mid), "computed"), working.Plain("costs", amount(a.Costs), "computed")},
		Steps:   income.Steps, Notes: costs.Notes,
	}
	area := margin
	area.Formula = "(income − costs) / (m² · days)"
	area.Inputs = append(slices.Clone(margin.Inputs), costs.Inputs[2], costs.Inputs[3])
	scale := func(x Band) Band {
		return Band{a.PerAreaDay(x.Low), a.PerAreaDay(x.Mid), a.PerAreaDay(x.High)}
	}
	return append(figs,
		banded("income of the cycle", a.Income, cur, income),
		banded("margin of the cycle", a.Margin, cur, margin),
		banded("margin for each m² and day", scale(a.Margin), cur, area))
}

// notNamed lists usual costs that the bench file does not speak of.
func notNamed(b *underlamp.Bench) string {
	var said strings.Builder
	for _, c := range b.Money.Costs {
		said.WriteString(strings.ToLower(c.For) + " ")
	}
	var missing []string
	for _, w := range []string{"seed", "feed", "labour", "packing", "rent"} {
		if !strings.Contains(said.String(), w) && !(w == "labour" && strings.Contains(said.String(), "labor")) {
			missing = append(missing, w)
		}
	}
	if len(missing) == 0 {
		return "Taxes and interest are not."
	}
	return "Nothing is said of " + strings.Join(missing, ", ") + "."
}
