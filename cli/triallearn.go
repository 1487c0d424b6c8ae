package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"underlamp/app/learn"
	"underlamp/app/trial"
)

// addOutlook adds to findings what the trial would change in the outlook of a bench.
func addOutlook(cmd *cobra.Command, w World, f *trial.Findings, file, bench string) error {
	m, err := loadModel(w, bench)
	if err != nil {
		return err
	}
	harvests, err := loadHarvests(w, m.Bench(), bench, []string{file})
	if err != nil {
		return err
	}
	const draws = 1000 // a look beside the findings; learn itself goes on until the draws settle
	l, err := learn.Teach(cmd.Context(), m, nil, learn.Options{Trials: harvests, NoBest: true, Posterior: draws, Progress: doing(w)})
	if err != nil {
		return err
	}
	f.Parts = append(f.Parts, l.Part())
	return nil
}

// outlookHint says how the outlook learns from a trial; empty if its plan gives no days.
func outlookHint(f *trial.Findings, file string) string {
	if len(f.Trial.Cycles) == 0 {
		return ""
	}
	bench := f.Trial.Bench
	if bench == "" {
		bench = "BENCH"
	}
	return fmt.Sprintf("The outlook can learn from it: underlamp learn %s --trial %s -o mine.profile.yaml; --outlook %s says here what would change.", bench, file, bench)
}
