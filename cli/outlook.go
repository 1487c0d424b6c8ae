package cli

import (
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/outlook"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/working"
)

type outlookOptions struct {
	file    string
	json    bool
	working bool
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
  with its band, and the crop week by week. What the chance rests on:

  underlamp outlook --working underlamp-demo/tier-1-top.yaml
  underlamp outlook --json underlamp-demo/tier-1-top.yaml`,
		Args: oneFile,
		RunE: func(_ *cobra.Command, args []string) error {
			o.file = args[0]
			return runOutlook(w, o)
		},
	}
	cmd.Flags().BoolVar(&o.json, "json", false, "print the figures as JSON")
	cmd.Flags().BoolVar(&o.working, "working", false, "show how each figure was reached")
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
		return writeJSON(w.Out, outlookJSON(m.Bench(), f, figures))
	}
	b := m.Bench()
	fmt.Fprintf(w.Out, "%s: outlook to day %d after transplanting, %s\n\n", b.Name, f.Days, report.Describe(b, f.Setting))
	writeFigures(w.Out, figures)
	fmt.Fprintln(w.Out)
	writeParagraph(w.Out, "  ", fmt.Sprintf("Of %d heads, %s can be expected to be sold (%s or more, no visible burn).",
		len(b.Plants), quantity.Fixed(f.Sold*float64(len(b.Plants)), 1), quantity.Mass.Format(float64(b.Crop.Saleable.Value), b.Units, 3)))
	fmt.Fprintln(w.Out)
	printCourse(w, b, f)
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
	writeParagraph(w.Out, "  ", "(mean plant; PPFD at the top of the canopy; Ca of the youngest leaves in mg per g of dry mass)")
}

type outlookOut struct {
	Bench   string           `json:"bench"`
	Setting settingOut       `json:"setting"`
	Days    int              `json:"days"`
	Figures []working.Figure `json:"figures"`
	Sold    number           `json:"share_of_heads_sold"`
	Course  []dayOut         `json:"course"`
}

type bandOut struct {
	Low  number `json:"low"`
	Mid  number `json:"mid"`
	High number `json:"high"`
}

type dayOut struct {
	Day      int     `json:"day"`
	PPFD     number  `json:"ppfd_umol_m2_s"`
	DLI      number  `json:"dli_mol_m2_d"`
	Fresh    bandOut `json:"fresh_g"`
	Dry      bandOut `json:"dry_g"`
	LeafArea bandOut `json:"leaf_area_m2"`
	Height   bandOut `json:"height_m"`
	Water    bandOut `json:"water_g_d"`
	Supply   bandOut `json:"calcium_supply_mg_g"`
	Calcium  bandOut `json:"calcium_mg_g"`
	Need     bandOut `json:"calcium_need_mg_g"`
	Chance   number  `json:"chance_of_burn"`
}

func band(b outlook.Band) bandOut { return bandOut{number(b.Low), number(b.Mid), number(b.High)} }

func outlookJSON(b *underlamp.Bench, f *outlook.Forecast, figures []working.Figure) outlookOut {
	out := outlookOut{Bench: b.Name, Setting: settingJSON(f.Setting), Days: f.Days, Sold: number(f.Sold), Course: []dayOut{}}
	for _, x := range figures {
		if math.IsNaN(x.Value) {
			continue // a day of first burn where none burn is absent, not a number
		}
		out.Figures = append(out.Figures, x)
	}
	for _, d := range f.Course {
		out.Course = append(out.Course, dayOut{
			Day: d.Day, PPFD: number(d.PPFD), DLI: number(d.DLI), Fresh: band(d.Fresh), Dry: band(d.Dry), LeafArea: band(d.LeafArea),
			Height: band(d.Height), Water: band(d.Water), Supply: band(d.Supply), Calcium: band(d.Calcium), Need: band(d.Need), Chance: number(d.Chance),
		})
	}
	return out
}
