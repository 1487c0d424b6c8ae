package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/aswire"
	"underlamp/app/outlook"
	"underlamp/report"
	"underlamp/science/quantity"
)

type outlookOptions struct {
	file    string
	json    bool
	working bool
	picture bool
}

func newOutlook(w World) *cobra.Command {
	var o outlookOptions
	cmd := &cobra.Command{
		Use:   "outlook FILE",
		Short: "Forecast to harvest: mass, calcium, chance of burn, electricity",
		Long: `outlook follows the crop day by day from transplanting to harvest at the setting
that the bench has: leaf area, dry and fresh mass, height, water, calcium of the
youngest leaves, the chance of inner tipburn and the day it would show, kWh and
money. Bands hold 90 % of the draws of what is uncertain. For other species than
lettuce there is no outlook; underlamp crops says why.`,
		Example: `  Will the hearts of the top tier burn before day 35 if nothing is changed?

  underlamp demo --no-serve
  underlamp outlook underlamp-demo/tier-1-top.yaml

  prints the chance of burn with the day it would first show, the mass of a head
  with its band, and the crop week by week. What the chance rests on, and curves:

  underlamp outlook --working underlamp-demo/tier-1-top.yaml
  underlamp outlook --picture underlamp-demo/tier-1-top.yaml
  underlamp outlook --json underlamp-demo/tier-1-top.yaml`,
		Args: oneFile,
		RunE: func(_ *cobra.Command, args []string) error {
			o.file = args[0]
			return runOutlook(w, o)
		},
	}
	jsonFlag(cmd.Flags(), &o.json, "")
	workingFlag(cmd.Flags(), &o.working)
	pictureFlag(cmd.Flags(), &o.picture)
	return cmd
}

func runOutlook(w World, opt outlookOptions) error {
	o, m, err := loadOutlook(w, opt.file)
	if err != nil {
		return err
	}
	f, err := o.Forecast(nil)
	if err != nil {
		return err
	}
	figures := o.Figures(f)
	if opt.json {
		return writeJSON(w, aswire.Outlook(m.Bench(), f, figures))
	}
	b := m.Bench()
	fmt.Fprintf(w.Out, "%s: outlook to day %d after transplanting, %s\n\n", b.Name, f.Days, report.Describe(b, f.Setting))
	writeFigures(w.Out, figures)
	fmt.Fprintln(w.Out)
	writeParagraph(w.Out, "  ", fmt.Sprintf("Of %d heads, %s can be expected to be sold (%s or more, no visible burn).",
		len(b.Plants), quantity.Fixed(f.Sold*float64(len(b.Plants)), 1), quantity.Mass.Format(float64(b.Crop.Saleable.Value), b.Units, 3)))
	fmt.Fprintln(w.Out)
	printCourse(w, b, f)
	if opt.picture {
		drawOutlook(w, b, f)
	}
	if opt.working {
		writeWorking(w.Out, figures)
	}
	return nil
}

// printCourse prints the weeks of the forecast.
func printCourse(w World, b *underlamp.Bench, f *outlook.Forecast) {
	lengthUnit, perMetre := quantity.Length.Shown(b.Units)
	decimals := 0
	if b.Units == quantity.US {
		decimals = 1
	}
	rows := [][]string{}
	for _, d := range f.Course {
		if d.Day%7 != 0 && d.Day != f.Days {
			continue
		}
		rows = append(rows, []string{
			fmt.Sprint(d.Day),
			quantity.Fixed(d.PPFD, 0), quantity.Fixed(d.DLI, 1),
			fmt.Sprintf("%s (%s–%s)", quantity.Fixed(d.Fresh.Mid, 0), quantity.Fixed(d.Fresh.Low, 0), quantity.Fixed(d.Fresh.High, 0)),
			quantity.Fixed(perMetre*d.Height.Mid, decimals),
			quantity.Fixed(d.Water.Mid, 0),
			quantity.Fixed(d.Supply.Mid, 2),
			quantity.Fixed(d.Calcium.Mid, 2),
			quantity.Fixed(d.Need.Mid, 2),
			quantity.Fixed(100*d.Chance, 0),
		})
	}
	writeTable(w.Out, []column{
		{"day", true}, {"PPFD", true}, {"DLI", true}, {"fresh g", true}, {"height " + lengthUnit, true}, {"water g/d", true},
		{"Ca arriving", true}, {"Ca in leaf", true}, {"need", true}, {"burnt so far %", true},
	}, rows)
	writeParagraph(w.Out, "  ", "(a plant in the mean light; the mean of all heads above is less where light is uneven. PPFD at the top of the canopy; Ca of the youngest leaves in mg per g of dry mass)")
}
