package aswire

import (
	"underlamp"
	"underlamp/app/light"
	"underlamp/wire"
)

// Setting of the lamps.
func Setting(s underlamp.Setting) wire.Setting {
	return wire.Setting{HeightM: float64(s.Height), Dimming: float64(s.Dimming), Hours: float64(s.Hours)}
}

// Light of a bench at a setting; next may be nil.
func Light(b *underlamp.Bench, a *light.Answer, next *light.NextReading) wire.Light {
	out := wire.Light{Bench: b.Name, Setting: Setting(a.Setting), Figures: Figures(a.Figures()), Plants: []wire.PlantLight{}, Readings: []wire.LightReading{}, Notes: []string{}}
	out.Notes = append(out.Notes, a.Notes...)
	for _, p := range a.Plants {
		x := wire.PlantLight{Name: p.Name, X: float64(p.X), Y: float64(p.Y), PPFD: wire.Number(p.PPFD), PPFDSD: wire.Number(p.PPFDSD), DLI: wire.Number(p.DLI), DLISD: wire.Number(p.DLISD), Share: wire.Number(p.Share)}
		if t := p.Top; t != nil {
			x.Top = &wire.TopLight{Height: wire.Number(t.Height), PPFD: wire.Number(t.PPFD), Taken: wire.Number(t.Taken)}
		}
		out.Plants = append(out.Plants, x)
	}
	for i, r := range a.Readings {
		out.Readings = append(out.Readings, wire.LightReading{Name: r.Name, Measured: wire.Number(r.Measured), Model: wire.Number(r.Model), End: wire.Number(a.Field.Readings[i]), Z: wire.Number(r.Z), FarOff: r.FarOff, Reasons: r.Reasons})
	}
	f := a.Field
	out.Field = wire.LightField{Used: f.Used, Why: f.Why, Usable: f.Usable, SD: wire.Number(f.SD), LengthM: wire.Number(f.Length), Before: wire.Number(f.Before), Plants: wire.Numbers(f.Plants), Map: wire.Numbers(f.Map)}
	if n := next; n != nil {
		out.Next = &wire.NextReading{XM: wire.Number(n.X), YM: wire.Number(n.Y), ZM: wire.Number(n.Height), Expect: wire.Number(n.Expect), Before: wire.Number(n.Before), After: wire.Number(n.After), Gain: Figure(n.Gain)}
	}
	out.Map = wire.LightMap{X: list(a.Map.X), Y: list(a.Map.Y), PPFD: wire.Numbers(a.Map.PPFD)}
	return out
}
