package cli

import (
	"fmt"
	"strings"

	"underlamp/app/trial"
	"underlamp/science/quantity"
	"underlamp/working"
)

// printLightCheck prints the light of the units of a trial, block by block.
func printLightCheck(w World, l *trial.TrialLight) {
	fmt.Fprintln(w.Out, "\nThe light of the units, by the field of the bench:")
	for _, b := range l.Blocks {
		var rows [][]string
		for _, u := range b.Units {
			aim, miss := "", ""
			if u.Aim > 0 {
				aim, miss = quantity.Number(float64(u.Aim), 3), trial.MissText(u)
			}
			var guards []string
			for _, p := range u.Guards() {
				guards = append(guards, p.Name)
			}
			rows = append(rows, []string{u.Unit, u.Lamp, aim, quantity.Number(float64(u.Now), 3), working.Percent(float64(u.Dimming)), quantity.Number(float64(u.Got), 3), quantity.Fixed(float64(u.GotPPFD), 0), miss,
				working.Percent(u.SpreadBefore), working.Percent(u.Spread), strings.Join(guards, " ")})
		}
		writeTable(w.Out, []column{{head: b.Block}, {head: "lamp"}, {"aim mol/m²/d", true}, {"now", true}, {"dim to", true}, {"gets", true}, {"µmol/m²/s", true}, {"off by", true}, {"spread now", true}, {"then", true}, {head: "guards, not counted"}}, rows)
		writeParagraphs(w.Out, "  - ", b.Says)
	}
	writeParagraphs(w.Out, "  - ", l.Says)
	if len(l.Confounds) == 0 {
		return
	}
	fmt.Fprintln(w.Out, "\nWhat goes along with the treatments:")
	var rows [][]string
	for _, c := range l.Confounds {
		word := ""
		if c.Strong {
			word = "strong"
		}
		rows = append(rows, []string{c.Figure.Name, quantity.Fixed(c.Figure.Value, 2), quantity.Fixed(c.Chance, 2), word})
	}
	writeTable(w.Out, []column{{head: "association, −1 to 1"}, {"here", true}, {"a draw gives", true}, {head: ""}}, rows)
}
