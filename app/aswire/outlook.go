package aswire

import (
	"underlamp"
	"underlamp/app/outlook"
	"underlamp/wire"
	"underlamp/working"
)

// Outlook of a bench, with its figures.
func Outlook(b *underlamp.Bench, f *outlook.Forecast, figures []working.Figure) wire.Outlook {
	out := wire.Outlook{Bench: b.Name, Setting: Setting(f.Setting), Days: f.Days, Figures: Figures(figures), Sold: wire.Number(f.Sold), Course: []wire.OutlookDay{}}
	for _, d := range f.Course {
		out.Course = append(out.Course, wire.OutlookDay{
			Day: d.Day, PPFD: wire.Number(d.PPFD), DLI: wire.Number(d.DLI), Fresh: band(d.Fresh), Dry: band(d.Dry), LeafArea: band(d.LeafArea),
			Height: band(d.Height), Water: band(d.Water), Supply: band(d.Supply), Calcium: band(d.Calcium), Need: band(d.Need), Chance: wire.Number(d.Chance),
		})
	}
	return out
}

// Map is a settings map.
func Map(b *underlamp.Bench, m *outlook.SettingsMap) wire.SettingsMap {
	return wire.SettingsMap{Bench: b.Name, HeightM: float64(m.Height), PPFD: list(m.PPFD), Hours: list(m.Hours), Chance: wire.Numbers(m.Chance), PerKWh: wire.Numbers(m.PerKWh), Fresh: wire.Numbers(m.Fresh),
		NowPPFD: m.NowPPFD, NowHours: m.NowHours, MinPPFD: m.MinPPFD, MaxPPFD: m.MaxPPFD}
}
