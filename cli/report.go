package cli

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/app/learn"
	"underlamp/report"
)

type reportOptions struct {
	file string
	out  string
	json bool

	cycles []string
}

func newReport(w World) *cobra.Command {
	var o reportOptions
	cmd := &cobra.Command{
		Use:   "report FILE",
		Short: "One HTML file with the light map, the curves, the best setting, and all workings",
		Long: `report writes one HTML file that needs nothing else: the plan of the bench as a
heat map to scale, growth and calcium curves, the settings map, the table behind
each picture, the working of every headline figure, and the cautions. With --json
it prints the figures behind it instead and writes no file.`,
		Example: `  A page to send to the others who share the rack:

  underlamp demo --no-serve
  underlamp report underlamp-demo/tier-1-top.yaml -o top-tier.html

  Open top-tier.html in a browser, or print it: on paper the workings are
  unfolded. The same figures for a program:

  underlamp report --json underlamp-demo/tier-1-top.yaml`,
		Args: oneFile,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runReport(cmd, w, o)
		},
	}
	cmd.Flags().StringVarP(&o.out, "output", "o", "", "write to this file (default: the name of the bench file with .html)")
	cmd.Flags().BoolVar(&o.json, "json", false, "print the figures as JSON and write no file")
	cmd.Flags().StringArrayVar(&o.cycles, "cycle", nil, "learn from this cycle file and add what it taught (may be given several times)")
	return cmd
}

func runReport(cmd *cobra.Command, w World, o reportOptions) error {
	m, cycles, err := loadCycles(w, o.file, o.cycles)
	if err != nil {
		return err
	}
	d, err := report.Compute(cmd.Context(), m, time.Now().Format(time.DateOnly), progressTo(w))
	if err != nil {
		return err
	}
	d.Version = version
	if len(cycles) > 0 {
		if d.Lesson, err = learn.Teach(cmd.Context(), m, cycles, learn.Options{Progress: doing(w)}); err != nil {
			return err
		}
	}
	if o.json {
		next, err := m.NextReading()
		if err != nil {
			next = nil // in the dark there is no place to read
		}
		if d.Refused != nil {
			return writeJSON(w.Out, struct {
				Light   lightOut `json:"light"`
				Refused string   `json:"outlook_refused"`
			}{lightJSON(d.Bench, d.Light, next), d.Refused.Error()})
		}
		return writeJSON(w.Out, struct {
			Light   lightOut   `json:"light"`
			Outlook outlookOut `json:"outlook"`
			Best    bestOut    `json:"best"`
			Learn   *learnOut  `json:"learn,omitempty"`
		}{lightJSON(d.Bench, d.Light, next), outlookJSON(d.Bench, d.Outlook, d.Figures), bestJSON(d.Bench, d.Best), lessonJSON(d.Lesson)})
	}
	var b bytes.Buffer
	if err := d.Write(&b); err != nil {
		return err
	}
	name := o.out
	if name == "" {
		name = "report.html"
		if o.file != "-" {
			name = strings.TrimSuffix(o.file, filepath.Ext(o.file)) + ".html"
		}
	}
	if err := writeFile(name, b.Bytes()); err != nil {
		return err
	}
	fmt.Fprintf(w.Out, "%s: %d kB\n", name, (b.Len()+999)/1000)
	return nil
}
