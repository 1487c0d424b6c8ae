package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/aswire"
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
	picture bool
	field   string
	target  string
	ceiling string
}

// model turns the options into those of the light.
func (o lightOptions) model() (light.Options, error) {
	var out light.Options
	switch o.field {
	case "auto":
	case "on":
		out.Field = light.FieldOn
	case "off":
		out.Field = light.FieldOff
	default:
		return out, &wrongError{err: fmt.Errorf("--field %s: auto, on or off is expected", o.field)}
	}
	for _, c := range []struct {
		name, text string
		dst        *quantity.PPFD
	}{{"target", o.target, &out.Target}, {"ceiling", o.ceiling, &out.Ceiling}} {
		if c.text == "" {
			continue
		}
		v, err := quantity.PhotonFluxDensity.Parse(c.text)
		if err == nil && !(v > 0 && v <= 5000) {
			err = fmt.Errorf("%q is out of range; above 0 and at most 5000 µmol/m²/s is expected", c.text)
		}
		if err != nil {
			return out, &wrongError{err: fmt.Errorf("--%s: %w", c.name, err)}
		}
		*c.dst = quantity.PPFD(v)
	}
	return out, nil
}

func newLight(w World) *cobra.Command {
	var o lightOptions
	cmd := &cobra.Command{
		Use:   "light FILE",
		Short: "Light at every plant: PPFD, DLI, spread, and what the readings say",
		Long: `light computes PPFD and DLI at every plant and over the planting surface, walls
included, with standard deviations. Meter readings in the bench file correct the
lamps; a reading far off the model is named, with what could explain it. What
lamps and walls leave of four readings or more is carried to their surroundings
(the residual field). At the end stands where one more reading would tell most.`,
		Example: `  Which plants stand dark, and does the meter agree with the map? The top tier of
  the demo has six readings:

  underlamp demo --no-serve
  underlamp light underlamp-demo/tier-1-top.yaml

  prints the mean and the spread, every plant with its share of the mean, and
  each reading beside the model. How the mean was reached, the map, and for programs:

  underlamp light --working underlamp-demo/tier-1-top.yaml
  underlamp light --picture underlamp-demo/tier-1-top.yaml
  underlamp light --json underlamp-demo/tier-1-top.yaml`,
		Args: oneFile,
		RunE: func(_ *cobra.Command, args []string) error {
			o.file = args[0]
			return runLight(w, o)
		},
	}
	jsonFlag(cmd.Flags(), &o.json, "")
	workingFlag(cmd.Flags(), &o.working)
	pictureFlag(cmd.Flags(), &o.picture)
	cmd.Flags().StringVar(&o.field, "field", "auto", "residual field of the readings: auto, on or off")
	cmd.Flags().StringVar(&o.target, "target", "", "PPFD wanted, for example \"180 µmol/m²/s\" (default: the mean of the shelf)")
	cmd.Flags().StringVar(&o.ceiling, "ceiling", "", "PPFD that no plant should exceed, for example \"250 µmol/m²/s\"")
	return cmd
}

func runLight(w World, o lightOptions) error {
	opt, err := o.model()
	if err != nil {
		return err
	}
	m, err := loadModelWith(w, o.file, opt)
	if err != nil {
		return err
	}
	lit, err := m.At(m.Bench().Setting().Height)
	if err != nil {
		return err
	}
	a := lit.Answer(nil, mapColumns)
	next, err := lit.NextReading()
	if err != nil {
		next = nil // in the dark there is no place to read
	}
	if o.json {
		return writeJSON(w, aswire.Light(m.Bench(), a, next))
	}
	printLight(w, m.Bench(), a)
	if o.picture {
		drawLight(w, m.Bench(), a)
	}
	figures := a.Figures()
	if next != nil {
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "  ", next.Sentence(m.Bench().Units))
		figures = append(figures, next.Gain)
	}
	if o.working {
		writeWorking(w.Out, figures)
	}
	return nil
}

func printLight(w World, b *underlamp.Bench, a *light.Answer) {
	fmt.Fprintf(w.Out, "%s: light with the %s a day\n\n", b.Name, report.Describe(b, a.Setting))
	writeFigures(w.Out, a.Figures())

	fmt.Fprintln(w.Out)
	rows := [][]string{}
	head := []column{{head: "plant"}, {"from left", true}, {"from front", true}, {"PPFD µmol/m²/s", true}, {"DLI mol/m²/d", true}, {"of mean", true}}
	if a.Shade != nil {
		head = append(head, column{"height", true}, column{"at its top", true}, column{"taken by neighbours", true})
	}
	for _, p := range a.Plants {
		row := []string{
			p.Name, quantity.Length.Format(float64(p.X), b.Units, 3), quantity.Length.Format(float64(p.Y), b.Units, 3),
			fmt.Sprintf("%s ± %s", quantity.Fixed(float64(p.PPFD), 0), quantity.Fixed(float64(p.PPFDSD), 0)),
			fmt.Sprintf("%s ± %s", quantity.Fixed(float64(p.DLI), 1), quantity.Fixed(float64(p.DLISD), 1)),
			quantity.Fixed(100*p.Share, 0) + " %",
		}
		if a.Shade != nil {
			row = append(row, report.TopCells(b, p)...)
		}
		rows = append(rows, row)
	}
	writeTable(w.Out, head, rows)
	fmt.Fprintln(w.Out, "  (± is one standard deviation)")

	if len(a.Readings) > 0 {
		fmt.Fprintln(w.Out)
		rows = rows[:0]
		for i, r := range a.Readings {
			mark := ""
			if r.FarOff {
				mark = "far off"
			}
			rows = append(rows, []string{r.Name, quantity.Fixed(r.Measured, 0), quantity.Fixed(r.Model, 0), working.SignedPercent(r.Measured/r.Model - 1), quantity.Fixed(r.Z, 1), quantity.Fixed(float64(a.Field.Readings[i]), 0), mark})
		}
		writeTable(w.Out, []column{{head: "reading"}, {"measured", true}, {"lamps and walls", true}, {"difference", true}, {"in sd", true}, {"with field", true}, {head: ""}}, rows)
		writeParagraph(w.Out, "  ", a.Field.Why)
	}
	for _, n := range a.Notes {
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "  ! ", n)
	}
}
