package cli

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"underlamp/app/aswire"
	"underlamp/app/lamp"
	"underlamp/science/quantity"
	"underlamp/science/spectrum"
	"underlamp/wire"
	"underlamp/working"
)

// shownBands are the bands of the table, from short waves to long.
func shownBands() []spectrum.Band {
	return []spectrum.Band{spectrum.UV, spectrum.Blue, spectrum.Green, spectrum.Red, spectrum.FarRed, spectrum.FarRedWide, spectrum.PAR, spectrum.EPAR}
}

func printSpectrum(out io.Writer, l *lampLight) {
	s := l.light
	unit := lamp.Unit(s)
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
	for _, f := range lamp.SpectrumFigures(l.name, l.light) {
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
	writeParagraphs(out, "  ! ", l.notes)
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

// The JSON of the spectrum command.
type spectrumOut struct {
	Name     string           `json:"name" doc:"of the spectrum"`
	PPFD     *number          `json:"ppfd_umol_m2_s" doc:"of the spectrum (µmol m⁻² s⁻¹); null: it is relative"`
	Bands    []lightBandOut   `json:"bands" doc:"photons by range of wavelengths"`
	Figures  []spectrumFigOut `json:"figures" doc:"of the colour, with working"`
	Efficacy *efficacyOut     `json:"efficacy,omitempty" doc:"what is claimed of the lamp beside what physics allows; missing: nothing is claimed"`
	LuxMeter string           `json:"lux_meter" doc:"of such light it is usable or useless"`
	Notes    []string         `json:"notes" doc:"what to know of it, in sentences"`
	Evidence []evidenceOut    `json:"evidence" doc:"what is published of such light"`
}

type lightBandOut struct {
	Name   string `json:"name" doc:"of the range"`
	From   number `json:"from_nm" doc:"shortest wavelength (nm)"`
	To     number `json:"to_nm" doc:"longest wavelength (nm)"`
	Share  number `json:"share_of_400_700" doc:"of the photons from 400 to 700 nm"`
	Amount number `json:"photons" doc:"photons in the range, in the unit"`
	Unit   string `json:"unit,omitempty" doc:"of the photons; missing if the spectrum is relative"`
}

type spectrumFigOut struct {
	Name    string       `json:"name" doc:"of the figure, in words"`
	Value   number       `json:"value" doc:"in the unit; null: not known, or a ratio over 1000"` // null: not known, or over 1000 for a ratio
	Unit    string       `json:"unit,omitempty" doc:"of the value; empty for a ratio"`
	Working wire.Working `json:"working" doc:"how it was reached"`
}

type efficacyOut struct {
	Claim   number `json:"claim_umol_J" doc:"photons for each joule of electricity (µmol/J)"`
	Verdict string `json:"verdict" doc:"whether it can be"`
	Reason  string `json:"reason" doc:"why, in words"`
}

type evidenceOut struct {
	Cue       string   `json:"cue" doc:"what of the light it is about"`
	Light     string   `json:"light" doc:"this light by that"`
	Published []string `json:"published" doc:"what was found, in sentences"`
	Sources   []string `json:"sources" doc:"keys of the bibliography"`
	Disagree  bool     `json:"sources_disagree" doc:"sources find different things"`
	Advice    string   `json:"advice" doc:"what follows for a grower"`
}

func spectrumJSON(l *lampLight) spectrumOut {
	out := spectrumOut{Name: l.name, LuxMeter: "usable", Notes: append([]string{}, l.notes...), Evidence: []evidenceOut{}}
	if l.ppfd > 0 {
		v := number(l.ppfd)
		out.PPFD = &v
	}
	for _, b := range shownBands() {
		out.Bands = append(out.Bands, lightBandOut{b.Name, number(b.From), number(b.To), number(l.light.OfPAR(b)), number(l.light.In(b)), lamp.Unit(l.light)})
	}
	for _, f := range lamp.SpectrumFigures(l.name, l.light) {
		out.Figures = append(out.Figures, spectrumFigOut{f.Name, number(f.Value), f.Unit, aswire.Figure(f).Working})
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
