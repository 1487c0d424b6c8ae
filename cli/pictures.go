package cli

import (
	"cmp"
	"fmt"

	"github.com/spf13/pflag"

	"underlamp"
	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/draw"
	"underlamp/draw/terminal"
	"underlamp/science/quantity"
)

// pictureFlag asks for pictures made of letters.
func pictureFlag(f *pflag.FlagSet, to *bool) {
	f.BoolVar(to, "picture", false, "draw it in the terminal too")
}

// widestPicture is the columns that a picture takes at most: wider ones are no clearer.
const widestPicture = 100

func (w World) pictureColumns() int { return min(w.width(), widestPicture) }

// drawLight prints the light of a bench from above.
func drawLight(w World, b *underlamp.Bench, a *light.Answer) {
	m := terminal.Map{
		Style: w.style(), Columns: w.pictureColumns(), Width: b.Space.Width, Depth: b.Space.Depth, Units: b.Units,
		Values:   draw.Grid{X: a.Map.X, Y: a.Map.Y, Values: a.Map.PPFD},
		Quantity: "PPFD", Unit: quantity.PhotonFluxDensity.Unit(), Scale: draw.ScaleLight,
		Target: cmp.Or(float64(b.Limits.Target), a.Mean.Value), Ceiling: float64(b.Limits.Ceiling),
	}
	if b.Limits.Target == 0 {
		m.TargetName = "mean at the plants"
	}
	for _, p := range a.Plants {
		m.Plants = append(m.Plants, terminal.Mark{X: p.X, Y: p.Y, Name: p.Name})
	}
	fmt.Fprint(w.Out, "\n"+m.Text())
}

// drawOutlook prints the course of mass and of the chance of burn.
func drawOutlook(w World, b *underlamp.Bench, f *outlook.Forecast) {
	unit, per := quantity.Mass.Shown(b.Units)
	mass := terminal.Curve{Style: w.style(), Columns: w.pictureColumns(), Title: "fresh mass of a head in " + unit + ", dots: 90 % of the draws", Across: "days after transplanting", From0: true}
	burn := terminal.Curve{Style: w.style(), Columns: w.pictureColumns(), Title: "chance of inner tipburn in %", Across: mass.Across, From0: true, Rows: 6}
	for _, d := range f.Course {
		mass.X = append(mass.X, float64(d.Day))
		mass.Y, mass.Low, mass.High = append(mass.Y, per*d.Fresh.Mid), append(mass.Low, per*d.Fresh.Low), append(mass.High, per*d.Fresh.High)
		burn.Y = append(burn.Y, 100*d.Chance)
	}
	burn.X = mass.X
	fmt.Fprint(w.Out, "\n"+mass.Text()+"\n"+burn.Text())
}
