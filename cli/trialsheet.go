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
	"underlamp/app/trialbook"
	"underlamp/formats/icalendar"
	"underlamp/report"
	"underlamp/science/quantity"
)

type sheetOptions struct {
	out, start, bench, calendar string
	days, gap                   int
	text                        bool
	light                       trial.LightOptions
	paper                       paperFlag
}

func newTrialSheet(w World) *cobra.Command {
	var o sheetOptions
	var at trialsAt
	cmd := &cobra.Command{
		Use:   "sheet TRIAL",
		Short: "The layout on the bench, the jobs by day and lines to write on, as a page to print",
		Long: `sheet writes what one needs to run a trial as one HTML file to print on A4: the layout,
drawn on the bench with the light that each unit gets, the dimming of each lamp, guards,
jobs by day, lines to write on with the code of every plant, and labels to cut. The bench
is that of the plan, beside it. --calendar writes the jobs for other programs too.`,
		Example: `  underlamp trial sheet underlamp-demo/light-levels.trial.yaml -o underlamp-demo/sheet.html
  underlamp trial sheet underlamp-demo/light-levels.trial.yaml -o underlamp-demo/sheet.pdf

  A plan with a bench is drawn to scale, and its jobs go into a calendar (iCalendar):

  underlamp trial design --level "12 mol/m²/d" --level "15 mol/m²/d" --bench underlamp-demo/tier-2-middle.yaml --cycles 6 --difference "15 g" -o underlamp-demo/two-levels.trial.yaml
  underlamp trial sheet underlamp-demo/two-levels.trial.yaml --start 2026-10-01 --days 32 --calendar underlamp-demo/two-levels.ics`,
		Args: oneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			return at.with(cmd, w, args[0], func(place trialbook.Place, p *trialbook.Page) error { return runSheet(w, &at, place, p, args[0], o) })
		},
	}
	at.flag(cmd)
	f := cmd.Flags()
	f.StringVar(&o.start, "start", "", "day of the first transplanting, such as 2026-10-01; where the plan says none; without it days are counted")
	f.IntVar(&o.days, "days", 35, "days of a cycle; where the plan says none")
	f.IntVar(&o.gap, "gap", 1, "days from a harvest to the next transplanting, where the plan says none")
	f.StringVar(&o.bench, "bench", "", "bench file; in place of that of the plan")
	f.StringVar(&o.calendar, "calendar", "", "also write the jobs as a calendar to this iCalendar file")
	f.BoolVar(&o.text, "text", false, "print it as text instead of writing an HTML file")
	f.BoolVar(&o.light.KeepEdge, "count-edge", false, "count plants at the edge of the planting")
	outputFlag(f, &o.out, "the name of the trial with .html")
	o.paper.flag(cmd)
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

func runSheet(w World, at *trialsAt, place trialbook.Place, p *trialbook.Page, file string, o sheetOptions) error {
	t := p.Trial
	l, err := at.light(w, place, t, file, o.bench, o.light)
	if err != nil {
		return err
	}
	s, err := trial.NewSheet(t, l, trial.SheetOptions{Start: o.start, Days: o.days, Gap: o.gap})
	if err != nil {
		return wrongf("%v", err)
	}
	if o.calendar != "" {
		c, err := trialbook.Calendar(s, time.Now())
		if err != nil {
			return wrongf("%v", err)
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
		if _, err := writePage(w, o.out, report.TrialSheet(s), o.paper, quantity.Metric); err != nil {
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
