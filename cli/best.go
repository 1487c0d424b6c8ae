package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/aswire"
	"underlamp/app/outlook"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/working"
)

type bestOptions struct {
	file string
	json bool
}

func newBest(w World) *cobra.Command {
	var o bestOptions
	cmd := &cobra.Command{
		Use:   "best FILE",
		Short: "The setting with the most saleable mass per kWh under your limit of burn",
		Long: `best searches lamp height, dimming and hours within the limits of the bench for
the setting that gives the most saleable mass per kWh while the chance of inner
tipburn stays under the limit of the grower. It names the runners-up, what limits,
and what a fan, drier or moister nights or fewer hours would do.`,
		Example: `  The top tier burns. How low may the lamps hang, how far dimmed and how long
  lit, to sell the most for a kWh with at most 10 % of the heads burnt?

  underlamp demo --no-serve
  underlamp best underlamp-demo/tier-1-top.yaml

  prints the setting of now, the best and the runners-up side by side, what limits
  them, and what a fan or other nights would do. A stricter limit stands in the
  file, as limits: {burn: 5 %}.

  underlamp best --json underlamp-demo/tier-1-top.yaml`,
		Args: oneFile,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runBest(cmd, w, o)
		},
	}
	jsonFlag(cmd.Flags(), &o.json, "")
	return cmd
}

func runBest(cmd *cobra.Command, w World, opt bestOptions) error {
	o, m, err := loadOutlook(w, opt.file)
	if err != nil {
		return err
	}
	best, err := bestOf(cmd.Context(), w, o, opt.file)
	if err != nil {
		return err
	}
	if opt.json {
		return writeJSON(w, aswire.Best(m.Bench(), best))
	}
	printBest(w, m.Bench(), best)
	return nil
}

// progressTo shows how far a search is, if somebody is watching.
func progressTo(w World) func(done, of int) {
	return func(done, of int) { w.progress(part(done, of), "searching: %d of %d", done, of) }
}

func printBest(w World, b *underlamp.Bench, r *outlook.Best) {
	fmt.Fprintf(w.Out, "%s: best setting under a chance of burn of %s\n\n", b.Name, quantity.Share.Format(float64(b.Limits.Burn.Value), b.Units, 3))
	rows := [][]string{settingRow(b, "now", r.Now.Setting, r.NowPPFD, r.Now.PerKWh.Mid, r.Now.Chance, r.Now.Fresh.Mid, r.Now.Sold)}
	if r.Found {
		rows = append(rows, settingRow(b, "best", r.Best.Setting, r.BestPPFD, r.Best.PerKWh.Mid, r.Best.Chance, r.Best.Fresh.Mid, r.Best.Sold))
		for i, c := range r.RunnerUps {
			rows = append(rows, settingRow(b, fmt.Sprintf("next %d", i+1), c.Setting, c.PPFD, c.PerKWh, c.Chance, c.Fresh, c.Sold))
		}
	} else {
		c := r.Nearest
		rows = append(rows, settingRow(b, "nearest", c.Setting, c.PPFD, c.PerKWh, c.Chance, c.Fresh, c.Sold))
	}
	writeTable(w.Out, []column{{head: ""}, {"height", true}, {"dimming", true}, {"hours", true}, {"PPFD", true}, {"DLI", true},
		{"saleable g/kWh", true}, {"chance of burn", true}, {"fresh g", true}, {"heads sold", true}}, rows)
	if r.Found {
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "  ", fmt.Sprintf("The band of the best is %s to %s g/kWh, of its heads %s to %s g (90 %%). %d settings were computed on few draws; those shown with all.",
			quantity.Number(r.Best.PerKWh.Low, 3), quantity.Number(r.Best.PerKWh.High, 3),
			quantity.Fixed(r.Best.Fresh.Low, 0), quantity.Fixed(r.Best.Fresh.High, 0), r.Searched))
	}
	fmt.Fprintln(w.Out, "\nWhat limits")
	writeParagraphs(w.Out, "  ", r.Limits)
	fmt.Fprintln(w.Out, "\nWhat else would help, at the setting of now")
	rows = rows[:0]
	for _, x := range r.WhatIfs {
		rows = append(rows, []string{x.Name, working.Percent(x.Chance),
			fmt.Sprintf("%s (%s to %s)", working.Signed(x.Points.Mid, 0), working.Signed(x.Points.Low, 0), working.Signed(x.Points.High, 0)),
			working.SignedPercent(x.Fresh), working.Signed(x.PerKWh, 1), x.Judgment})
	}
	writeTable(w.Out, []column{{head: "change"}, {"chance of burn", true}, {"points", true}, {"fresh mass", true}, {"g/kWh", true}, {head: ""}}, rows)
	if s := report.FanSentence(b, r.Fan); s != "" {
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "  ", s)
	}
}

func settingRow(b *underlamp.Bench, name string, s underlamp.Setting, ppfd, perKWh, chance, fresh, sold float64) []string {
	return []string{
		name, quantity.Length.Format(float64(s.Height), b.Units, 3), quantity.Fixed(100*float64(s.Dimming), 0) + " %",
		quantity.Duration.Format(float64(s.Hours), b.Units, 3), quantity.Fixed(ppfd, 0),
		quantity.Fixed(float64(quantity.DailyLight(quantity.PPFD(ppfd), s.Hours)), 1),
		quantity.Fixed(perKWh, 1), working.Percent(chance), quantity.Fixed(fresh, 0), working.Percent(sold),
	}
}
