package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/outlook"
	"underlamp/report"
	"underlamp/science/sensitivity"
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
	cmd.Flags().BoolVar(&o.json, "json", false, "print the figures as JSON")
	cmd.Flags().BoolVar(&o.all, "all", false, "list also what hardly matters")
	return cmd
}

func runDoubt(cmd *cobra.Command, w World, opt doubtOptions) error {
	o, m, err := loadOutlook(w, opt.file)
	if err != nil {
		return err
	}
	d, err := o.Doubts(cmd.Context())
	if err != nil {
		return err
	}
	if opt.json {
		return writeJSON(w.Out, doubtsJSON(m.Bench(), d))
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

type doubtsOut struct {
	Bench   string     `json:"bench"`
	Draws   int        `json:"draws"`
	Mass    bandOut    `json:"fresh_g"`
	Alone   bandOut    `json:"fresh_g_with_the_description_taken_at_its_word"`
	Burn    number     `json:"chance_of_burn_of_the_mean_plant"`
	Matters []doubtOut `json:"doubts"`
}

type doubtOut struct {
	Name     string   `json:"name"`
	Known    string   `json:"known"`
	Act      string   `json:"what_would_narrow_it"`
	Mass     shareOut `json:"of_mass"`
	Burn     shareOut `json:"of_burn"`
	MassGain *number  `json:"mass_gain,omitempty"`
	BurnGain *number  `json:"burn_gain,omitempty"`
}

// shareOut is absent where the share is not known.
type shareOut struct {
	Share *number `json:"share,omitempty"`
	SE    *number `json:"standard_error,omitempty"`
}

func shareJSON(s sensitivity.Share) shareOut { return shareOut{known(s.Value), known(s.SE)} }

func known(v float64) *number {
	if v != v {
		return nil
	}
	n := number(v)
	return &n
}

func doubtsJSON(b *underlamp.Bench, d *outlook.Doubts) doubtsOut {
	out := doubtsOut{Bench: b.Name, Draws: d.Draws, Mass: band(d.Mass), Alone: band(d.Alone), Burn: number(d.Burn), Matters: []doubtOut{}}
	for _, x := range d.Items {
		out.Matters = append(out.Matters, doubtOut{x.Name, x.Known, x.Act, shareJSON(x.Mass), shareJSON(x.Burn), known(x.MassGain), known(x.BurnGain)})
	}
	return out
}
