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
	cmd.Flags().StringVar(&o.field, "field", "auto", "residual field of the readings: auto, on or off")
	cmd.Flags().StringVar(&o.target, "target", "", "PPFD that the shelf should have (default: its mean)")
	cmd.Flags().StringVar(&o.ceiling, "ceiling", "", "PPFD that no plant should exceed")
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
		return writeJSON(w.Out, lightJSON(m.Bench(), a, next))
	}
	printLight(w, m.Bench(), a)
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

// The JSON of the light command: field names carry the units.
type lightOut struct {
	Bench    string             `json:"bench"`
	Setting  settingOut         `json:"setting"`
	Figures  []working.Figure   `json:"figures"`
	Plants   []light.PlantLight `json:"plants"`
	Readings []readingOut       `json:"readings"`
	Map      mapOut             `json:"map"`
	Field    fieldOut           `json:"residual_field"`
	Next     *nextOut           `json:"next_reading"` // null if no place is lit
	Notes    []string           `json:"notes"`
}

type fieldOut struct {
	Used    bool     `json:"used"`
	Why     string   `json:"why"`
	Usable  int      `json:"usable_readings"`
	SD      number   `json:"relative_sd"` // before the readings
	LengthM number   `json:"length_m"`
	Before  number   `json:"mean_ppfd_before_umol_m2_s"`
	Plants  []number `json:"factor_on_plants"`
	Map     []number `json:"factor_on_map,omitempty"` // in the order of the map
}

type nextOut struct {
	XM     number         `json:"x_m"`
	YM     number         `json:"y_m"`
	ZM     number         `json:"z_m"`
	Expect number         `json:"expect_umol_m2_s"`
	Before number         `json:"relative_sd_before"`
	After  number         `json:"relative_sd_after"`
	Gain   working.Figure `json:"figure"`
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
	End      number   `json:"with_field_umol_m2_s"`
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

func lightJSON(b *underlamp.Bench, a *light.Answer, next *light.NextReading) lightOut {
	out := lightOut{Bench: b.Name, Setting: settingJSON(a.Setting), Figures: a.Figures(), Plants: a.Plants, Readings: []readingOut{}, Notes: []string{}}
	out.Notes = append(out.Notes, a.Notes...)
	for i, r := range a.Readings {
		out.Readings = append(out.Readings, readingOut{r.Name, number(r.Measured), number(r.Model), number(a.Field.Readings[i]), number(r.Z), r.FarOff, r.Reasons})
	}
	f := a.Field
	out.Field = fieldOut{f.Used, f.Why, f.Usable, number(f.SD), number(f.Length), number(f.Before), numbers(f.Plants), numbers(f.Map)}
	if n := next; n != nil {
		out.Next = &nextOut{number(n.X), number(n.Y), number(n.Height), number(n.Expect), number(n.Before), number(n.After), n.Gain}
	}
	out.Map = mapOut{X: a.Map.X, Y: a.Map.Y, PPFD: numbers(a.Map.PPFD)}
	return out
}

func numbers(values []float64) []number {
	var out []number
	for _, v := range values {
		out = append(out, number(v))
	}
	return out
}
