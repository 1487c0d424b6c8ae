package aswire

import (
	"underlamp/app/lamp"
	"underlamp/science/crops"
	"underlamp/wire"
)

// Lamps of a bench by kind.
func Lamps(all []lamp.Kind) []wire.LampKind {
	out := []wire.LampKind{}
	for _, k := range all {
		x := wire.LampKind{Name: k.Name, Facts: k.Facts, Exponent: k.Exponent, Figures: Figures(k.Figures), Colours: Figures(k.ColourFigures), Lux: k.Lux, Evidence: []wire.Evidence{}, Doubts: list(k.Doubts)}
		if k.File != nil {
			x.File = k.File.Name
		}
		if k.Colour != nil {
			x.Spectrum = k.Colour.Name
		}
		for _, n := range k.Evidence {
			x.Evidence = append(x.Evidence, wire.Evidence{Cue: n.Cue, Light: n.Light, Published: list(n.Published), Sources: list(n.Sources), Disagree: n.Disagree, Advice: n.Advice})
		}
		out = append(out, x)
	}
	return out
}

// Crop is what is published of one.
func Crop(c *crops.Crop) wire.Crop {
	out := wire.Crop{
		Name: c.Name, Species: c.Species, HeadType: c.HeadType, Botanical: c.Botanical, Also: list(c.Also), Facts: []wire.CropFact{},
		Growth: wire.CropVerdict{Supported: c.Growth.Supported, Text: c.Growth.Text, Sources: list(c.Growth.Sources)},
		Burn:   wire.CropVerdict{Supported: c.Burn.Supported, Text: c.Burn.Text, Sources: list(c.Burn.Sources)},
	}
	for _, f := range c.Facts {
		x := wire.CropFact{Name: f.Name, Status: string(f.Status), Unit: f.Unit, Outlook: f.Enters != "", Sources: list(f.Sources), Text: f.Text}
		if f.Status == crops.Number {
			value, spread := f.Value, f.Spread
			x.Value, x.Spread = &value, &spread
		}
		out.Facts = append(out.Facts, x)
	}
	return out
}
