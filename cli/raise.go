package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"underlamp/app/aim"
	"underlamp/app/aswire"
	"underlamp/report"
	"underlamp/science/quantity"
)

type raiseOptions struct {
	file                            string
	target, within, step, clearance string
	json                            bool
	picture                         string
}

func newRaise(w World) *cobra.Command {
	var o raiseOptions
	cmd := &cobra.Command{
		Use:   "raise FILE",
		Short: "A calendar that raises the lamps as the plants grow",
		Long: `raise says on which day to raise the lamps, and how high, so that the light at the
top of the growing canopy stays at the target and the lamps keep their clearance.
The height of the plants by day comes from the outlook. With a transplanting day in
the bench file the calendar has dates, else it counts days.`,
		Example: `  When do the lamps of the demo's middle tier go up, and by how much?

  underlamp demo --no-serve
  underlamp raise underlamp-demo/tier-2-middle.yaml
  underlamp raise underlamp-demo/tier-2-middle.yaml --target "220 µmol/m²/s" --within "5 %" --step "2 cm"`,
		Args: oneFile,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runRaise(cmd, w, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.target, "target", "", "PPFD wanted, for example \"180 µmol/m²/s\"; the mean at the top of the canopy (default: what the planting surface has now)")
	f.StringVar(&o.within, "within", "", "tolerance as a share (default 5 %); how far the light may stray from the target")
	f.StringVar(&o.step, "step", "", "step by which the lamps can be raised (default 2 cm)")
	f.StringVar(&o.clearance, "clearance", "", "least distance between plants and lamps (default 5 cm)")
	jsonFlag(f, &o.json, "")
	htmlFlag(f, &o.picture)
	renamedFlag(w, f, "picture", "html")
	return cmd
}

func runRaise(cmd *cobra.Command, w World, o raiseOptions) error {
	var r amounts
	a := aim.RaiseAsk{
		PPFD: quantity.PPFD(r.read("target", o.target, quantity.PhotonFluxDensity)), Tolerance: quantity.Fraction(r.read("within", o.within, quantity.Share)),
		Step: quantity.Metre(r.read("step", o.step, quantity.Length)), Clearance: quantity.Metre(r.read("clearance", o.clearance, quantity.Length)),
	}
	if r.err != nil {
		return r.err
	}
	m, err := loadModel(w, o.file)
	if err != nil {
		return err
	}
	res, err := aim.Raise(cmd.Context(), m, a)
	if err != nil {
		return asked(err)
	}
	if o.picture != "" {
		if err := writeFile(o.picture, report.RaisePage(res)); err != nil {
			return err
		}
	}
	if o.json {
		return writeJSON(w, aswire.Raise(res))
	}
	printRaise(w, res)
	return nil
}

func printRaise(w World, r *aim.RaiseResult) {
	b := r.Bench
	fmt.Fprintf(w.Out, "%s: %s at the top of the canopy, within %s\n\n", b.Name,
		quantity.PhotonFluxDensity.Format(float64(r.Target), b.Units, 3), quantity.Share.Format(float64(r.Ask.Tolerance), b.Units, 3))
	if len(r.Moves) == 0 {
		fmt.Fprintf(w.Out, "  The lamps stay at %s.\n", length(b, r.Days[0].Lamps))
	}
	rows := [][]string{}
	for _, m := range r.Moves {
		d := r.Days[m.Day-r.Days[0].Day]
		rows = append(rows, []string{fmt.Sprint(m.Day), m.Date, length(b, m.From), length(b, m.To), length(b, d.Canopy)})
	}
	if len(rows) > 0 {
		fmt.Fprintln(w.Out, "When to move the lamps")
		writeTable(w.Out, []column{{"day", true}, {head: "date"}, {"from", true}, {"to", true}, {"plants", true}}, rows)
	}
	fmt.Fprintln(w.Out, "\nDay by day")
	rows = rows[:0]
	last := len(r.Days) - 1
	for i, d := range r.Days {
		moved := i > 0 && d.Lamps != r.Days[i-1].Lamps
		if i%7 != 0 && i != last && !moved && (i == 0 || d.Held == r.Days[i-1].Held) {
			continue // once a week, and whenever something changes
		}
		dim := ""
		if !d.Held {
			dim = quantity.Number(100*float64(d.Dim), 2) + " %"
		}
		rows = append(rows, []string{fmt.Sprint(d.Day), d.Date, fmt.Sprintf("%s (%s to %s)", length(b, d.Canopy), length(b, d.Low), length(b, d.High)), length(b, d.Lamps),
			quantity.Fixed(float64(d.PPFD), 0), quantity.Fixed(float64(d.Stay), 0), dim})
	}
	writeTable(w.Out, []column{{"day", true}, {head: "date"}, {head: "plants (90 % band)"}, {"lamps at", true}, {"PPFD", true}, {"if left", true}, {"dim to", true}}, rows)
	fmt.Fprintln(w.Out, "\nWhat limits")
	writeParagraphs(w.Out, "  ", r.Limits)
	fmt.Fprintln(w.Out)
	writeParagraphs(w.Out, "  ! ", r.Notes)
}
