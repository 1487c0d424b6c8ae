package lamp

import (
	"fmt"
	"math"

	"underlamp"
	"underlamp/app/light"
	"underlamp/science/lightfield"
	"underlamp/science/quantity"
	"underlamp/science/spectrum"
	"underlamp/working"
)

// A Kind is one kind of lamp over a bench, with what is known of it.
type Kind struct {
	Name  string
	Facts string // how many, opening, where they hang: one sentence
	Lamp  underlamp.Lamp

	File     *underlamp.LampFile   // nil: none
	Colour   *underlamp.LampColour // nil: none
	Exponent float64               // of the cosine law that stands for its beam without a file, readings included

	Figures       []working.Figure // photons, power, efficacy, beam
	ColourFigures []working.Figure
	Lux           string          // what a lux meter is worth under it
	Evidence      []spectrum.Note // published facts about such light
	Doubts        []string
}

// Kinds lists the lamps of a bench by kind, in the order of the bench. ppfd is the
// light at the plants, for what is published about dim light; 0 if not known.
func Kinds(m *light.Model, ppfd quantity.PPFD) []Kind {
	b := m.Bench()
	var out []Kind
	at := map[string]int{}
	count := map[string]int{}
	for i, l := range b.Lamps {
		count[l.Kind]++
		if _, known := at[l.Kind]; known {
			continue
		}
		at[l.Kind] = len(out)
		k := Kind{Name: l.Kind, Lamp: l, File: l.File, Colour: l.Colour, Exponent: m.Fit().Lamps[i].Exponent}
		k.Figures = figures(m, i)
		if l.Colour != nil {
			k.colour(b, ppfd)
		}
		out = append(out, k)
	}
	for i := range out {
		out[i].Facts = out[i].facts(count[out[i].Name], b.Units)
	}
	return out
}

func (k *Kind) colour(b *underlamp.Bench, ppfd quantity.PPFD) {
	s := k.Colour.Spectrum
	k.ColourFigures = SpectrumFigures(k.Colour.Name, s)
	for i, f := range k.ColourFigures {
		if math.IsInf(f.Value, 1) {
			k.ColourFigures[i].Name += fmt.Sprintf(" (over %d: hardly any far-red)", MostRatio)
		}
	}
	k.Lux = fmt.Sprintf("PPFD in µmol/m²/s is lux / %s under this lamp alone.", quantity.Number(s.LuxPerMicromole(), 3))
	if s.LuxMeter() == spectrum.LuxUseless {
		k.Lux = "A lux meter is useless under this lamp: the eye hardly sees its photons. Use a quantum meter."
	}
	k.Evidence = s.Notes(ppfd, b.Crop.Species.Value)
	k.Doubts = append(k.Doubts, s.Gaps()...)
	if k.Lamp.Rated.Value > 0 {
		if verdict, why := s.JudgeEfficacy(k.Lamp.Rated.Value); verdict != spectrum.Plausible {
			k.Doubts = append(k.Doubts, why+".")
		}
	}
}

// facts says in a sentence what hangs there.
func (k *Kind) facts(n int, u quantity.System) string {
	length := func(m quantity.Metre) string { return quantity.Length.Format(float64(m), u, 3) }
	o := k.Lamp.Opening
	shape := fmt.Sprintf("an opening of %s by %s", length(o.Width.Value), length(o.Depth.Value))
	switch {
	case o.Inner > 0:
		shape = fmt.Sprintf("a ring of %s, dark within %s", length(o.Width.Value), length(o.Inner))
	case o.Round:
		shape = fmt.Sprintf("a round opening of %s", length(o.Width.Value))
	}
	text := fmt.Sprintf("%d of this kind, each with %s", n, shape)
	if n == 1 {
		text = "One of this kind, with " + shape
	}
	if o.Origin == underlamp.Default {
		text += " (default)"
	}
	if p := k.Lamp.Pose; p.Tilt != 0 {
		text += fmt.Sprintf(", the first tilted by %s", quantity.Angle.Format(float64(p.Tilt), u, 3))
	}
	if k.File != nil {
		text += "; it spreads its light as " + k.File.Name + " says"
	} else {
		text += "; without a photometric file its light is taken as round about the axis"
	}
	return text + "."
}

// figures are photons, power, efficacy and beam of lamp i, the readings included.
func figures(m *light.Model, i int) []working.Figure {
	b, l, fit := m.Bench(), m.Bench().Lamps[i], m.Fit()
	flux := float64(fit.Lamps[i].Flux)
	in := working.Of("photon flux when new", l.Flux, quantity.PhotonFlux, b.Units)
	ppf := working.Figure{
		Name: "photon flux now, 400 to 700 nm", Value: flux, Unit: quantity.PhotonFlux.Unit(),
		Working: working.Working{
			Formula: "Φ = Φ when new · what age has left · what the readings say",
			Inputs: []working.Input{in, light.LeftInput(b, &l),
				working.Plain("meter readings", fmt.Sprint(len(b.Readings)), "measured")},
			Sources: []string{"ASABE2017"},
		},
	}
	if sd := m.FluxSD(i); sd > 0 {
		ppf.Band = working.Normal(flux, flux*sd, 0.9)
	}
	out := []working.Figure{ppf}
	power := working.Figure{
		Name: "power at full light", Value: float64(l.Power.Value), Unit: quantity.Power.Unit(),
		Working: working.Working{Formula: "as described", Inputs: []working.Input{working.Of("power", l.Power, quantity.Power, b.Units)}},
	}
	efficacy := working.Figure{
		Name: "photons for each joule of electricity", Value: flux / float64(l.Power.Value), Unit: quantity.PhotonEfficacy.Unit(),
		Working: working.Working{Formula: "K = Φ / P", Inputs: []working.Input{working.Plain("photon flux now", ppf.Text(), "computed"), power.Working.Inputs[0]}, Sources: []string{"ASABE2017", "Kusuma2020"}},
	}
	if ppf.Band != nil {
		efficacy.Band = &working.Band{Low: ppf.Band.Low / power.Value, High: ppf.Band.High / power.Value, Level: ppf.Band.Level}
	}
	beam := working.Figure{Name: "beam, full angle at half of the peak", Value: float64(l.Beam.Value), Unit: quantity.Angle.Unit(), Digits: 3,
		Working: working.Working{Formula: "intensity at half of the angle is half of the peak", Inputs: []working.Input{working.Of("beam", l.Beam, quantity.Angle, b.Units)}}}
	if l.File == nil && len(b.Readings) > 0 {
		beam.Value = float64(lightfield.BeamFromExponent(fit.Lamps[i].Exponent))
		beam.Working.Notes = []string{"Fitted to the readings, with the label as prior."}
	}
	return append(out, power, efficacy, beam)
}
