package cli

import (
	"bytes"
	"fmt"

	"github.com/spf13/cobra"

	"underlamp/science/validation"
)

func newValidate(w World) *cobra.Command {
	var out string
	cmd := &cobra.Command{
		Use:   "validate",
		Short: "Run every check against published figures and print what comes out",
		Long: `validate computes every outside check of the tool: what was expected, from which
source, what came out, and whether it holds. It also prints what was calibrated
on what. The table is docs/validation.md of the project. It takes some seconds.`,
		Example: `  How far is it to be trusted? Look for DOES NOT HOLD in the table:

  underlamp validate -o validation.md`,
		Args: noArguments,
		RunE: func(*cobra.Command, []string) error {
			var b bytes.Buffer
			if err := validation.Markdown(&b, validation.All()); err != nil {
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
	cmd.Flags().StringVarP(&out, "output", "o", "", "write to this file")
	return cmd
}
