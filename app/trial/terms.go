package trial

import (
	"fmt"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/energycost"
	"underlamp/science/headcost"
	"underlamp/science/quantity"
	"underlamp/working"
)

// Terms are what light costs and heads bring. The zero value knows nothing of either.
type Terms struct {
	KWhPerMol float64                         // of electricity a head over its cycle, for each mol m⁻² d⁻¹ of DLI; 0: not known
	Price     underlamp.Given[quantity.Price] // of a kWh
	Sale      headcost.Terms                  // what heads sell for; without steps: not known
	Inputs    []working.Input                 // where all of it is from
}

// TermsOf takes them from a bench as its file has it: its lamps, their light on the plants,
// days to harvest and prices. That the light of another level costs in proportion is taken
// for granted, as with dimmed lamps.
func TermsOf(b *underlamp.Bench) (Terms, error) {
	m, err := light.NewModel(b)
	if err != nil {
		return Terms{}, err
	}
	a, err := m.Answer(nil, 9)
	if err != nil {
		return Terms{}, err
	}
	heads := float64(len(a.Plants))
	if heads == 0 || !(a.DLI.Value > 0) || b.Crop.Days.Value < 1 {
		return Terms{}, fmt.Errorf("the bench has no plants, no light or no day of harvest")
	}
	var kwh float64
	for _, l := range b.Lamps {
		kwh += float64(energycost.LampEnergy(l.Draw(l.Dimming.Value), l.Hours.Value, float64(b.Crop.Days.Value)))
	}
	t := Terms{KWhPerMol: kwh / heads / a.DLI.Value, Price: b.Price}
	t.Inputs = []working.Input{
		working.Plain("electricity of the bench in a cycle", quantity.Number(kwh, 3)+" kWh", underlamp.Computed.String()),
		working.Plain("heads on the bench", fmt.Sprint(len(a.Plants)), underlamp.Stated.String()),
		working.Plain("light on the bench", quantity.Number(a.DLI.Value, 3)+" "+dliUnit, underlamp.Computed.String()),
		{Name: "days to harvest", Value: fmt.Sprint(b.Crop.Days.Value), Origin: b.Crop.Days.Origin.String(), Note: b.Crop.Days.Note},
		{Name: "price of electricity", Value: b.Price.Value.String(), Origin: b.Price.Origin.String(), Note: b.Price.Note},
	}
	for _, l := range b.Lamps[:min(1, len(b.Lamps))] {
		t.Inputs = append(t.Inputs, working.Input{Name: "power of lamp " + l.Name, Value: quantity.Number(float64(l.Power.Value), 3) + " W", Origin: l.Power.Origin.String(), Note: l.Power.Note})
	}
	for _, s := range b.Money.Sale {
		step := headcost.Step{From: float64(s.From)}
		if s.Per == underlamp.PerKg {
			step.PerKg = s.Amount
		} else {
			step.PerHead = s.Amount
		}
		t.Sale.Sale = append(t.Sale.Sale, step)
		t.Inputs = append(t.Inputs, working.Plain(fmt.Sprintf("a head from %.4g g sells for", float64(s.From)), fmt.Sprintf("%.4g %s/%s", s.Amount, b.Price.Value.Currency, s.Per), underlamp.Stated.String()))
	}
	return t, nil
}
