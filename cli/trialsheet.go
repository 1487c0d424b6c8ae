package cli

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/formats/icalendar"
	"underlamp/report"
)

type sheetOptions struct {
	out, start, bench, calendar string
	days, gap                   int
	text                        bool
	light                       trial.LightOptions
}

func newTrialSheet(w World) *cobra.Command {
	var o sheetOptions
	cmd := &cobra.Command{
		Use:   "sheet TRIAL",
		Short: "The layout on the bench, the jobs by day and lines to write on, as a page to print",
		Long: `sheet writes what one needs to run a trial as one HTML file to print on A4: the layout,
drawn on the bench with the light that each unit gets, the dimming of each lamp, guards,
jobs by day, lines to write on with the code of every plant, and labels to cut. The bench
is that of the plan, beside it. --calendar writes the jobs for other programs too.`,
		Example: `  underlamp trial sheet underlamp-demo/light-levels.trial.yaml -o underlamp-demo/sheet.html

  A plan with a bench is drawn to scale, and its jobs go into a calendar (iCalendar):

  underlamp trial design --level "12 mol/m²/d" --level "15 mol/m²/d" --bench underlamp-demo/tier-2-middle.yaml --cycles 6 --difference "15 g" -o underlamp-demo/two-levels.trial.yaml
  underlamp trial sheet underlamp-demo/two-levels.trial.yaml --start 2026-10-01 --days 32 --calendar underlamp-demo/two-levels.ics`,
		Args: oneTrial,
		RunE: func(_ *cobra.Command, args []string) error { return runSheet(w, args[0], o) },
	}
	f := cmd.Flags()
	f.StringVar(&o.start, "start", "", "day of the first transplanting, such as 2026-10-01, where the plan says none; without it days are counted")
	f.IntVar(&o.days, "days", 35, "days of a cycle, where the plan says none")
	f.IntVar(&o.gap, "gap", 1, "days from a harvest to the next transplanting, where the plan says none")
	f.StringVar(&o.bench, "bench", "", "bench file, instead of that of the plan")
	f.StringVar(&o.calendar, "calendar", "", "also write the jobs as a calendar (iCalendar, .ics) to this file")
	f.BoolVar(&o.text, "text", false, "print it as text instead of writing an HTML file")
	f.BoolVar(&o.light.KeepEdge, "count-edge", false, "count plants at the edge of the planting")
	f.StringVarP(&o.out, "output", "o", "", "write it to this file")
	return cmd
}

// lightOf is the light of a trial on its bench; nil if it has none. named is the bench file
// of a flag, from where one stands; that of the plan lies beside it.
func lightOf(w World, t *underlamp.Trial, file, named string, opt trial.LightOptions) (*trial.TrialLight, error) {
	if named == "" {
		if t.Bench == "" {
			return nil, nil
		}
		named = filepath.Join(filepath.Dir(file), filepath.FromSlash(t.Bench))
	}
	m, err := loadModel(w, named)
	if err != nil {
		return nil, err
	}
	l, err := trial.CheckLight(m, t, opt)
	if err != nil {
		return nil, &wrongError{err: err}
	}
	return l, nil
}

func runSheet(w World, file string, o sheetOptions) error {
	_, p, err := openTrial(w, file)
	if err != nil {
		return err
	}
	t := p.Trial
	l, err := lightOf(w, t, file, o.bench, o.light)
	if err != nil {
		return err
	}
	s, err := trial.NewSheet(t, l, trial.SheetOptions{Start: o.start, Days: o.days, Gap: o.gap})
	if err != nil {
		return wrongf("%v", err)
	}
	if o.calendar != "" {
		if !s.Dated {
			return wrongf("a calendar needs days: give --start 2026-10-01, or write the cycles with their days into the plan")
		}
		c := icalendar.Calendar{Name: t.Name, Stamp: time.Now()}
		for _, j := range s.Jobs {
			c.Jobs = append(c.Jobs, icalendar.Job{ID: j.ID(t), Date: j.Date, Title: strings.TrimPrefix(j.Block+": "+j.Title, ": "), Details: j.Text()})
		}
		var b bytes.Buffer
		if err := icalendar.Write(&b, c); err != nil {
			return err
		}
		if err := writeFile(o.calendar, b.Bytes()); err != nil {
			return err
		}
	}
	if o.text {
		printSheet(w, s)
	} else {
		if o.out == "" {
			o.out = strings.TrimSuffix(file, filepath.Ext(file)) + ".sheet.html"
		}
		if err := writeFile(o.out, report.TrialSheet(s)); err != nil {
			return err
		}
		fmt.Fprintf(w.Out, "%s: the sheet\n", o.out)
	}
	if o.calendar != "" {
		fmt.Fprintf(w.Out, "%s: %d jobs as a calendar\n", o.calendar, len(s.Jobs))
	}
	return nil
}

// printSheet prints the sheet as text: layout, light, jobs, codes.
func printSheet(w World, s *trial.Sheet) {
	fmt.Fprintf(w.Out, "%s\n", s.Trial.Name)
	if s.Trial.Question != "" {
		writeParagraph(w.Out, "  ", s.Trial.Question)
	}
	fmt.Fprintln(w.Out)
	printLayout(w, s.Trial)
	if s.Light != nil {
		printLightCheck(w, s.Light)
	}
	fmt.Fprintln(w.Out, "\nJobs:")
	var rows [][]string
	for _, j := range s.Jobs {
		day := j.Date
		if day == "" {
			day = fmt.Sprintf("day %d", j.Day)
		}
		rows = append(rows, []string{day, j.Block, fmt.Sprint(j.Of), j.Title, j.Set})
	}
	writeTable(w.Out, []column{{head: "when"}, {head: "block"}, {"its day", true}, {head: "job"}, {head: ""}}, rows)
	for _, x := range s.Ways() {
		writeParagraph(w.Out, "  - ", x[0]+": "+x[1])
	}
	fmt.Fprintln(w.Out, "\nIn this order, drawn; write a reason where nothing can be read:")
	rows = nil
	for _, b := range s.Blocks {
		for _, u := range b.Units {
			for _, p := range u.Plants {
				note := p.Name
				if p.Guard != "" {
					note = strings.TrimSpace(note + " guard: " + p.Guard)
				}
				rows = append(rows, []string{p.Code, p.Part, note, "............", "............"})
			}
		}
	}
	writeTable(w.Out, []column{{head: "code"}, {head: "part"}, {head: "plant of the bench"}, {head: string(s.Trial.Response)}, {head: "burn"}}, rows)
}
