package cli

import (
	"bytes"
	"fmt"

	"github.com/spf13/cobra"

	"underlamp/formats/evidencefile"
	"underlamp/science/madetrials"
	"underlamp/science/validation"
)

func newValidate(w World) *cobra.Command {
	var out string
	var asJSON bool
	made := 0
	cmd := &cobra.Command{
		Use:   "validate",
		Short: "Run every check against published figures and print what comes out",
		Long: `validate computes every outside check of the tool: what was expected, from which
source, what came out, and whether it holds. It also prints what was calibrated
on what. The table is docs/validation.md of the project. It takes some seconds.

With --made it makes trials by chance whose truth is known instead, and counts how often
the methods of findings hold what they promise, beside methods that take plants for
repeats. The table of 4 000 trials is docs/made-trials.md.`,
		Example: `  How far is it to be trusted? Look for DOES NOT HOLD in the table:

  underlamp validate -o validation.md

  Do the limits of findings hold as often as they say?

  underlamp validate --made 200 -o made-trials.md`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			var b bytes.Buffer
			if asJSON {
				if made != 0 || out != "" {
					return wrongf("--json prints the checks, without --made and -o")
				}
				return writeJSON(w, validateJSON(validation.All(evidencefile.Builtin())))
			}
			if cmd.Flags().Changed("made") {
				all, err := madetrials.All(made)
				if err != nil {
					return &wrongError{err: err}
				}
				if err := madetrials.Markdown(&b, all); err != nil {
					return err
				}
			} else if err := validation.Markdown(&b, validation.All(evidencefile.Builtin())); err != nil {
				return err
			}
			if out == "" {
				_, err := w.Out.Write(b.Bytes())
				return err
			}
			if err := writeFile(out, b.Bytes()); err != nil {
				return err
			}
			fmt.Fprintf(w.Out, "%s written\n", out)
			return nil
		},
	}
	cmd.Flags().IntVar(&made, "made", 0, "count so many made trials of each design instead of the checks")
	jsonFlag(cmd.Flags(), &asJSON, "")
	outputFlag(cmd.Flags(), &out, "standard output")
	return cmd
}
