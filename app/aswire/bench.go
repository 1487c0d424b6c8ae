package aswire

import (
	"underlamp"
	"underlamp/science/quantity"
	"underlamp/wire"
)

// Card is a bench in a list.
func Card(id string, b *underlamp.Bench) wire.BenchCard {
	return wire.BenchCard{ID: id, Name: b.Name, Species: b.Crop.Species.Value, Type: string(b.Crop.Type.Value), Cultivar: b.Crop.Cultivar, Plants: len(b.Plants), Lamps: len(b.Lamps)}
}

// Bench is one as it is described, but for its document.
func Bench(id string, b *underlamp.Bench, remarks string) wire.Bench {
	set := b.Setting()
	from := b.Origins(set)
	out := wire.Bench{
		BenchCard: Card(id, b), Units: "metric", Setting: Setting(set), Remarks: remarks,
		Space:   wire.Space{Width: float64(b.Space.Width), Depth: float64(b.Space.Depth), Height: float64(b.Space.Height)},
		Origins: wire.SettingOrigins{Dimming: from.Dimming.String(), Hours: from.Hours.String()}, LampList: []wire.BenchLamp{}, Places: []wire.BenchPlant{}, Readings: []wire.MeterReading{},
		Limits: wire.BenchLimits{Burn: float64(b.Limits.Burn.Value), Target: float64(b.Limits.Target)}, Days: b.Crop.Days.Value,
	}
	if b.Units == quantity.US {
		out.Units = "us"
	}
	for _, l := range b.Lamps {
		out.LampList = append(out.LampList, wire.BenchLamp{Name: l.Name, Kind: l.Kind, X: float64(l.X), Y: float64(l.Y), Height: float64(l.Height), Dimming: float64(l.Dimming.Value), Power: float64(l.Power.Value), Flux: float64(l.Flux.Value)})
	}
	for _, p := range b.Plants {
		out.Places = append(out.Places, wire.BenchPlant{Name: p.Name, X: float64(p.X), Y: float64(p.Y)})
	}
	for _, r := range b.Readings {
		out.Readings = append(out.Readings, wire.MeterReading{Name: r.Name, X: float64(r.X), Y: float64(r.Y), Z: float64(r.Height), PPFD: float64(r.PPFD)})
	}
	return out
}
