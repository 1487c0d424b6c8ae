package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"underlamp/app/aswire"
	"underlamp/app/outlook"
	"underlamp/report"
)

type doubtOptions struct {
	file string
	json bool
	all  bool
}

func newDoubt(w World) *cobra.Command {
	var o doubtOptions
	cmd := &cobra.Command{
		Use:   "doubt FILE",
		Short: "What the outlook is least sure of, and what to measure next",
		Long: `doubt runs the outlook with everything uncertain at once: the crop, the light, and
the values of the bench file, a default within a wide margin, a stated value within a
narrower one, a measured one ("from: measured") within that of a good instrument. It
shares out the doubt in the mass of a head and in whether hearts burn, and says
which measurement would take most of it away.`,
		Example: `  What is worth measuring first on the demo's bottom tier?

  underlamp demo --no-serve
  underlamp doubt underlamp-demo/tier-3-bottom.yaml

  prints the things in the order in which knowing them would help most, with the
  share of the doubt that hangs on each and how to narrow it.`,
		Args: oneFile,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runDoubt(cmd, w, o)
		},
	}
	jsonFlag(cmd.Flags(), &o.json, "")
	cmd.Flags().BoolVar(&o.all, "all", false, "list also what hardly matters")
	return cmd
}

func runDoubt(cmd *cobra.Command, w World, opt doubtOptions) error {
	o, m, err := loadOutlook(w, opt.file)
	if err != nil {
		return err
	}
	d, err := remembered(w, "doubt", opt.file, func() (*outlook.Doubts, error) { return o.Doubts(cmd.Context()) })
	if err != nil {
		return err
	}
	if opt.json {
		return writeJSON(w, aswire.Doubts(m.Bench(), d))
	}
	b := m.Bench()
	fmt.Fprintf(w.Out, "%s: what the outlook is least sure of\n\n", b.Name)
	writeParagraphs(w.Out, "  ", report.DoubtSentences(b, d))
	fmt.Fprintln(w.Out)
	rows := [][]string{}
	rest := 0
	for _, x := range d.Items {
		if !opt.all && !x.Matters() {
			rest++
			continue
		}
		rows = append(rows, []string{x.Name, report.ShareText(x.Mass), report.ShareText(x.Burn), report.GainText(x.MassGain), report.GainText(x.BurnGain), x.Known})
	}
	writeTable(w.Out, []column{{head: "what"}, {"of mass", true}, {"of burn", true}, {"mass would gain", true}, {"burn would gain", true}, {head: "known"}}, rows)
	fmt.Fprintln(w.Out)
	for i, x := range d.Items {
		if i >= 3 || !x.Matters() {
			break
		}
		writeParagraph(w.Out, fmt.Sprintf("  %d. ", i+1), x.Name+": "+x.Act+".")
	}
	if rest > 0 {
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "  ", fmt.Sprintf("%d more hardly matter here; --all lists them.", rest))
	}
	return nil
}
