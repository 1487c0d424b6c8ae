package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/light"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/working"
)

// mapColumns is the number of columns of the light map in JSON.
const mapColumns = 49

type lightOptions struct {
	file    string
	json    bool
	working bool
}

func newLight(w World) *cobra.Command {
	var o lightOptions
	cmd := &cobra.Command{
		Use:   "light FILE",
		Short: "Light at every plant: PPFD, DLI, spread, and what the readings say",
		Long: `light computes PPFD and DLI at every plant and over the planting surface, walls
included, with standard deviations. Meter readings in the bench file correct the
lamps; a reading far off the model is named, with what could explain it.`,
		Example: `  Which plants stand dark, and does the meter agree with the map? The top tier of
  the demo has six readings:

  underlamp demo --no-serve
  underlamp light underlamp-demo/tier-1-top.yaml

  prints the mean and the spread, every plant with its share of the mean, and
  each reading beside the model. How the mean was reached, and for programs:

  underlamp light --working underlamp-demo/tier-1-top.yaml
  underlamp light --json underlamp-demo/tier-1-top.yaml`,
		Args: oneFile,
		RunE: func(_ *cobra.Command, args []string) error {
			o.file = args[0]
			return runLight(w, o)
		},
	}
	cmd.Flags().BoolVar(&o.json, "json", false, "print the figures as JSON")
	cmd.Flags().BoolVar(&o.working, "working", false, "show how each figure was reached")
	return cmd
}

func runLight(w World, o lightOptions) error {
	m, err := loadModel(w, o.file)
	if err != nil {
		return err
	}
	a, err := m.Answer(nil, mapColumns)
	if err != nil {
		return err
	}
	if o.json {
		return writeJSON(w.Out, lightJSON(m.Bench(), a))
	}
	printLight(w, m.Bench(), a)
	if o.working {
		writeWorking(w.Out, lightFigures(a))
	}
	return nil
}

func lightFigures(a *light.Answer) []working.Figure {
	return []working.Figure{a.Mean, a.DLI, a.Lowest, a.Highest, a.Spread, a.Canopy}
}

func printLight(w World, b *underlamp.Bench, a *light.Answer) {
	fmt.Fprintf(w.Out, "%s: light with the %s a day\n\n", b.Name, report.Describe(b, a.Setting))
	writeFigures(w.Out, lightFigures(a))

	fmt.Fprintln(w.Out)
	rows := [][]string{}
	for _, p := range a.Plants {
		rows = append(rows, []string{
			p.Name, quantity.Length.Format(float64(p.X), b.Units, 3), quantity.Length.Format(float64(p.Y), b.Units, 3),
			fmt.Sprintf("%s ± %s", quantity.Fixed(float64(p.PPFD), 0), quantity.Fixed(float64(p.PPFDSD), 0)),
			fmt.Sprintf("%s ± %s", quantity.Fixed(float64(p.DLI), 1), quantity.Fixed(float64(p.DLISD), 1)),
			quantity.Fixed(100*p.Share, 0) + " %",
		})
	}
	writeTable(w.Out, []column{{head: "plant"}, {"from left", true}, {"from front", true}, {"PPFD µmol/m²/s", true}, {"DLI mol/m²/d", true}, {"of mean", true}}, rows)
	fmt.Fprintln(w.Out, "  (± is one standard deviation)")

	if len(a.Readings) > 0 {
		fmt.Fprintln(w.Out)
		rows = rows[:0]
		for _, r := range a.Readings {
			mark := ""
			if r.FarOff {
				mark = "far off"
			}
			rows = append(rows, []string{r.Name, quantity.Fixed(r.Measured, 0), quantity.Fixed(r.Model, 0), working.SignedPercent(r.Measured/r.Model - 1), quantity.Fixed(r.Z, 1), mark})
		}
		writeTable(w.Out, []column{{head: "reading"}, {"measured", true}, {"model", true}, {"difference", true}, {"in sd", true}, {head: ""}}, rows)
	}
	for _, n := range a.Notes {
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "  ! ", n)
	}
}

// The JSON of the light command: field names carry the units.
type lightOut struct {
	Bench    string             `json:"bench"`
	Setting  settingOut         `json:"setting"`
	Figures  []working.Figure   `json:"figures"`
	Plants   []light.PlantLight `json:"plants"`
	Readings []readingOut       `json:"readings"`
	Map      mapOut             `json:"map"`
	Notes    []string           `json:"notes"`
}

type settingOut struct {
	HeightM float64 `json:"height_m"`
	Dimming float64 `json:"dimming"`
	Hours   float64 `json:"hours"`
}

type readingOut struct {
	Name     string   `json:"name"`
	Measured number   `json:"measured_umol_m2_s"`
	Model    number   `json:"model_umol_m2_s"`
	Z        number   `json:"z"`
	FarOff   bool     `json:"far_off"`
	Reasons  []string `json:"reasons,omitempty"`
}

type mapOut struct {
	X    []float64 `json:"x_m"`
	Y    []float64 `json:"y_m"`
	PPFD []number  `json:"ppfd_umol_m2_s"` // row by row from the front, left to right
}

func settingJSON(s underlamp.Setting) settingOut {
	return settingOut{HeightM: float64(s.Height), Dimming: float64(s.Dimming), Hours: float64(s.Hours)}
}

func lightJSON(b *underlamp.Bench, a *light.Answer) lightOut {
	out := lightOut{Bench: b.Name, Setting: settingJSON(a.Setting), Figures: lightFigures(a), Plants: a.Plants, Readings: []readingOut{}, Notes: []string{}}
	out.Notes = append(out.Notes, a.Notes...)
	for _, r := range a.Readings {
		out.Readings = append(out.Readings, readingOut{r.Name, number(r.Measured), number(r.Model), number(r.Z), r.FarOff, r.Reasons})
	}
	out.Map = mapOut{X: a.Map.X, Y: a.Map.Y}
	for _, v := range a.Map.PPFD {
		out.Map.PPFD = append(out.Map.PPFD, number(v))
	}
	return out
}
