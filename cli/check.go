package cli

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"underlamp/app/light"
	"underlamp/science/quantity"
)

func newCheck(w World) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check FILE",
		Short: "Find every mistake in a bench file at once",
		Long: `check reads a bench file and reports all its mistakes at once, each with line and
column, what was expected, and the nearest right key. Warnings do not stop
anything. If the file is in order it says what was read and which values are
defaults.`,
		Example: `  You hung the lamps lower and changed the file. Is it still in order, and what
  does the tool assume because you have not said it?

  underlamp new --no-questions -o mybench.yaml
  underlamp check mybench.yaml

  prints the size, the number of lamps, plants and readings, and a table of
  everything that is assumed, each with its reason.`,
		Args: oneFile,
		RunE: func(_ *cobra.Command, args []string) error {
			b, problems, err := loadWhole(w, args[0])
			if asJSON && (err == nil || len(problems) > 0) {
				err = errors.Join(writeJSON(w, checkJSON(args[0], b, problems)), err)
			}
			if err != nil {
				return err
			}
			if _, err := light.NewModel(b); err != nil {
				return &wrongError{err: err}
			}
			if asJSON {
				return nil
			}
			fmt.Fprintf(w.Out, "%s is in order: %q, %s × %s × %s, %s, %s, %s.\n", args[0], b.Name,
				quantity.Length.Format(float64(b.Space.Width), b.Units, 3), quantity.Length.Format(float64(b.Space.Depth), b.Units, 3),
				quantity.Length.Format(float64(b.Space.Height), b.Units, 3),
				count(len(b.Lamps), "lamp"), count(len(b.Plants), "plant"), count(len(b.Readings), "reading"))
			rows := defaultsOf(b)
			if len(rows) == 0 {
				return nil
			}
			fmt.Fprintln(w.Out, "\nNot given, so assumed:")
			writeTable(w.Out, []column{{head: "what"}, {head: "value"}, {head: "why"}}, rows)
			return nil
		},
	}
	jsonFlag(cmd.Flags(), &asJSON, "mistakes too")
	return cmd
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
