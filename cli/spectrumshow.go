package cli

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"underlamp/draw"
	"underlamp/science/quantity"
	"underlamp/science/spectrum"
	"underlamp/working"
)

// shownBands are the bands of the table, from short waves to long.
func shownBands() []spectrum.Band {
	return []spectrum.Band{spectrum.UV, spectrum.Blue, spectrum.Green, spectrum.Red, spectrum.FarRed, spectrum.FarRedWide, spectrum.PAR, spectrum.EPAR}
}

// unitOf is the unit of photons of a light; empty for a relative one.
func unitOf(s spectrum.Spectrum) string {
	switch s.Scale() {
	case spectrum.Flux:
		return quantity.PhotonFlux.Unit()
	case spectrum.FluxDensity:
		return quantity.PhotonFluxDensity.Unit()
	}
	return ""
}

// mostRatio is where a ratio says no more than that there is hardly any far-red.
const mostRatio = 1000

// spectrumFigures are the figures of a light but for its bands.
func spectrumFigures(l *lampLight) []working.Figure {
	s := l.light
	from, to := s.Support()
	data := working.Plain("spectrum", fmt.Sprintf("%s, %s to %s nm", l.name, quantity.Number(from, 4), quantity.Number(to, 4)), "stated")
	figure := func(name string, v float64, unit, formula string, notes []string, sources ...string) working.Figure {
		return working.Figure{Name: name, Value: v, Unit: unit, Working: working.Working{Formula: formula, Inputs: []working.Input{data}, Notes: notes, Sources: sources}}
	}
	narrow, wide := s.RedFarRed()
	ratio := func(r spectrum.Ratio) float64 {
		if r.Value > mostRatio {
			return math.Inf(1)
		}
		return r.Value
	}
	c := s.Colour()
	var why []string
	if c.Why != "" {
		why = []string{c.Why}
	}
	figures := []working.Figure{
		figure("R:FR, "+narrow.Bands(), ratio(narrow), "", "∫ n dλ / ∫ n dλ over the bands", []string{"The definition with bands of 10 nm."}),
		figure("R:FR, "+wide.Bands(), ratio(wide), "", "∫ n dλ / ∫ n dλ over the bands", []string{"The definition with bands of 100 nm; the two differ up to threefold on diodes."}),
		figure("phytochrome PPE (Mancinelli 1994)", s.PPE(), "", "∫ n σ_r dλ / (∫ n σ_r dλ + ∫ n σ_fr dλ), 300 to 770 nm", []string{
			"With other cross-sections 0.03 to 0.05 more may come out: never compare across tables.",
			"A high PPE does not keep plants compact by itself: lettuce seedlings stretch under red diodes alone.",
		}, "Mancinelli1994", "Hoenecke1992"),
		figure("yield photon flux / PPF (McCree 1972)", s.YieldPhotons()/s.In(spectrum.PAR), "", "∫ n q dλ (350 to 725 nm) / ∫ n dλ (400 to 700 nm)", []string{"Leaves in weak light, one wavelength at a time; mean of growth chambers."}, "McCree1972"),
		figure("lux for each µmol/m²/s", s.LuxPerMicromole(), "lx", "683.002 ∫ e V dλ / ∫ n dλ (400 to 700 nm)", nil, "CIE018"),
		figure("photons for each lumen", s.MicromolesPerLumen(), "µmol/s/lm", "∫ n dλ (400 to 700 nm) / (683.002 ∫ e V dλ)", nil, "CIE018"),
		figure("photons for each joule of 400–700 nm", s.PARPerJoule(), "µmol/J", "∫ n dλ / ∫ e dλ, 400 to 700 nm; e = n · 119.627/λ", nil, "BIPM2019"),
		figure("most that a perfect lamp gives", float64(s.EfficacyLimit()), "µmol/J", "∫ n dλ (400 to 700 nm) / ∫ e dλ (all)", []string{"All electricity turned into this light. Radiation outside the data is not counted."}, "Kusuma2020", "ASABE2017"),
		figure("colour temperature", c.CCT, "K", "the black body nearest in u, v of 1960", why, "CIE15", "CIE11664"),
		figure("distance from white, Duv", c.Duv, "", "distance from the Planckian locus in u, v of 1960, above it positive", nil, "CIE15"),
	}
	figures[8].Digits = 4
	return figures
}

func printSpectrum(out io.Writer, l *lampLight) {
	s := l.light
	unit := unitOf(s)
	fmt.Fprintf(out, "%s: light by wavelength\n\n", l.name)
	cols := []column{{head: "band"}, {"nm", true}, {"of 400–700", true}}
	if unit != "" {
		cols = append(cols, column{unit, true})
	} else if l.ppfd > 0 {
		cols = append(cols, column{"µmol/m²/s", true})
	}
	var rows [][]string
	for _, b := range shownBands() {
		row := []string{b.Name, fmt.Sprintf("%g–%g", b.From, b.To), quantity.Fixed(100*s.OfPAR(b), 1) + " %"}
		// What rounds to no share is no amount either.
		amount := func(par float64) string {
			if v := s.OfPAR(b); v >= 0.0005 {
				return quantity.Number(v*par, 3)
			}
			return "0"
		}
		if unit != "" {
			row = append(row, amount(s.In(spectrum.PAR)))
		} else if l.ppfd > 0 {
			row = append(row, amount(float64(l.ppfd)))
		}
		rows = append(rows, row)
	}
	writeTable(out, cols, rows)
	fmt.Fprintf(out, "  %s %% of all photons lie within 400–700 nm\n\n", quantity.Number(100*s.PARShare(), 3))

	rows = rows[:0]
	for _, f := range spectrumFigures(l) {
		text := f.Text()
		switch {
		case math.IsInf(f.Value, 1):
			text = "over 1000, hardly any far-red"
		case math.IsNaN(f.Value) && f.Unit == "K":
			text = "none"
		}
		rows = append(rows, []string{f.Name, text})
	}
	writeTable(out, []column{{head: "figure"}, {head: "value"}}, rows)
	fmt.Fprintln(out)
	if c := s.Colour(); c.Why != "" {
		writeParagraph(out, "  ! ", "No colour temperature: "+c.Why+".")
	}
	if s.LuxMeter() == spectrum.LuxUseless {
		writeParagraph(out, "  ! ", "A lux meter is useless under this lamp: the eye hardly sees its photons. Use a quantum meter.")
	} else {
		writeParagraph(out, "  ! ", fmt.Sprintf("PPFD in µmol/m²/s is lux / %s under this lamp alone.", quantity.Number(s.LuxPerMicromole(), 3)))
	}
	if l.judgment != "" {
		mark := "  ! "
		if l.verdict == spectrum.Doubtful {
			mark = "  ! warning: "
		}
		writeParagraph(out, mark, "The label: "+l.judgment+".")
	}
	for _, n := range l.notes {
		writeParagraph(out, "  ! ", n)
	}
	printEvidence(out, l.evidence)
}

func printEvidence(out io.Writer, notes []spectrum.Note) {
	if len(notes) == 0 {
		return
	}
	fmt.Fprintln(out, "\nWhat is published about such light (facts, no verdict)")
	var keys []string
	for _, n := range notes {
		fmt.Fprintln(out)
		writeParagraph(out, "  "+n.Cue+": ", n.Light)
		for i, p := range n.Published {
			writeParagraph(out, "    - ", p+" ["+n.Sources[i]+"]")
			if !slices.Contains(keys, n.Sources[i]) {
				keys = append(keys, n.Sources[i])
			}
		}
		writeParagraph(out, "    → ", n.Advice)
	}
	fmt.Fprintln(out, "\nSources")
	for _, k := range keys {
		writeParagraph(out, "  ["+k+"] ", working.Cite(k))
	}
}

// spectrumPicture draws a light as photons at every nm.
func spectrumPicture(l *lampLight) draw.Picture {
	r := l.light.Resample(1)
	from, to := r.Support()
	from, to = math.Max(from, 300), math.Min(to, 900)
	p := draw.Spectrum{Frame: draw.Frame{ID: "spectrum"}, Name: l.name}
	if u := unitOf(l.light); u != "" {
		p.Unit = u + " for each nm"
	}
	top := 0.0
	for nm := math.Min(from, 380); nm <= math.Max(to, 800); nm++ {
		v := r.At(nm)
		top = math.Max(top, v)
		p.NM, p.Photons = append(p.NM, nm), append(p.Photons, v)
	}
	if p.Unit == "" && top > 0 {
		for i := range p.Photons {
			p.Photons[i] /= top // the peak is 1
		}
	}
	for _, b := range []spectrum.Band{spectrum.UV, spectrum.Blue, spectrum.Green, spectrum.Red, spectrum.FarRedWide} {
		p.Bands = append(p.Bands, draw.SpectrumBand{Name: b.Name, From: math.Max(b.From, p.NM[0]), To: b.To, Share: l.light.OfPAR(b)})
	}
	return p.Draw()
}

// The JSON of the spectrum command.
type spectrumOut struct {
	Name     string           `json:"name"`
	PPFD     *number          `json:"ppfd_umol_m2_s"`
	Bands    []lightBandOut   `json:"bands"`
	Figures  []spectrumFigOut `json:"figures"`
	Efficacy *efficacyOut     `json:"efficacy,omitempty"`
	LuxMeter string           `json:"lux_meter"`
	Notes    []string         `json:"notes"`
	Evidence []evidenceOut    `json:"evidence"`
}

type lightBandOut struct {
	Name   string `json:"name"`
	From   number `json:"from_nm"`
	To     number `json:"to_nm"`
	Share  number `json:"share_of_400_700"`
	Amount number `json:"photons"`
	Unit   string `json:"unit,omitempty"`
}

type spectrumFigOut struct {
	Name    string          `json:"name"`
	Value   number          `json:"value"` // null: not known, or over 1000 for a ratio
	Unit    string          `json:"unit,omitempty"`
	Working working.Working `json:"working"`
}

type efficacyOut struct {
	Claim   number `json:"claim_umol_J"`
	Verdict string `json:"verdict"`
	Reason  string `json:"reason"`
}

type evidenceOut struct {
	Cue       string   `json:"cue"`
	Light     string   `json:"light"`
	Published []string `json:"published"`
	Sources   []string `json:"sources"`
	Disagree  bool     `json:"sources_disagree"`
	Advice    string   `json:"advice"`
}

func spectrumJSON(l *lampLight) spectrumOut {
	out := spectrumOut{Name: l.name, LuxMeter: "usable", Notes: append([]string{}, l.notes...), Evidence: []evidenceOut{}}
	if l.ppfd > 0 {
		v := number(l.ppfd)
		out.PPFD = &v
	}
	for _, b := range shownBands() {
		out.Bands = append(out.Bands, lightBandOut{b.Name, number(b.From), number(b.To), number(l.light.OfPAR(b)), number(l.light.In(b)), unitOf(l.light)})
	}
	for _, f := range spectrumFigures(l) {
		out.Figures = append(out.Figures, spectrumFigOut{f.Name, number(f.Value), f.Unit, f.Working})
	}
	if l.claim > 0 {
		out.Efficacy = &efficacyOut{number(l.claim), [...]string{"plausible", "doubtful", "impossible"}[l.verdict], l.judgment}
	}
	if l.light.LuxMeter() == spectrum.LuxUseless {
		out.LuxMeter = "useless"
	}
	for _, n := range l.evidence {
		out.Evidence = append(out.Evidence, evidenceOut{n.Cue, n.Light, n.Published, n.Sources, n.Disagree, strings.TrimSpace(n.Advice)})
	}
	return out
}
