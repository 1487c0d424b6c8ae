package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"underlamp/report"
)

func newTrialSheet(w World) *cobra.Command {
	var out, start string
	var days int
	cmd := &cobra.Command{
		Use:   "sheet TRIAL",
		Short: "The layout, the jobs by day and lines to write on, as a page to print",
		Example: `  underlamp trial sheet underlamp-demo/light-levels.trial.yaml --start 2026-10-01 --days 32 -o underlamp-demo/sheet.html

  writes one HTML file: layout, calendar, and a line for every plant with its code.`,
		Args: oneTrial,
		RunE: func(_ *cobra.Command, args []string) error {
			t, err := loadTrial(w, args[0])
			if err != nil {
				return err
			}
			if out == "" {
				out = strings.TrimSuffix(args[0], filepath.Ext(args[0])) + ".sheet.html"
			}
			page, err := report.TrialSheet(t, start, days)
			if err != nil {
				return wrongf("%v", err)
			}
			if err := writeFile(out, page); err != nil {
				return err
			}
			if _, err := os.Stat(out); err != nil {
				return err
			}
			fmt.Fprintf(w.Out, "%s: the sheet\n", out)
			return nil
		},
	}
	cmd.Flags().StringVar(&start, "start", "", "day of the first transplanting, such as 2026-10-01; without it days are counted")
	cmd.Flags().IntVar(&days, "days", 35, "days of a cycle")
	cmd.Flags().StringVarP(&out, "output", "o", "", "write it to this file")
	return cmd
}
