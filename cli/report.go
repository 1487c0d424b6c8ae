package cli

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/aswire"
	"underlamp/app/environment"
	"underlamp/app/learn"
	"underlamp/app/light"
	"underlamp/app/round"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/formats/benchfolder"
	"underlamp/formats/cyclefile"
	"underlamp/formats/watchfile"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/wire"
)

type reportOptions struct {
	file, store string
	out         string
	json        bool
	short       bool
	rounds      bool
	pdf         bool
	paper       paperFlag

	cycles []string
}

func newReport(w World) *cobra.Command {
	var o reportOptions
	cmd := &cobra.Command{
		Use:   "report FILE",
		Short: "A report of a bench, a cycle or a trial that others can check, as one HTML file or PDF",
		Long: `report writes one HTML file that needs nothing else, in the order of a short paper: a
summary in plain words, question, bench and method, environment as guidelines for
growth rooms ask for it with a list of what is missing, results with every point,
findings with their intervals, limits, photos, cautions; then every working, the
sources, and what makes the report again.

FILE is a bench file, a cycle file (what the outlook said, what came, and the
difference), or the plan of a trial. With --store sensors, photos and what was seen on
rounds are taken from there. --short writes one page with one picture and three numbers.
With --pdf, or a name that ends in .pdf, it is a PDF to print or to send: text that can be
searched and read aloud, bookmarks, pictures as vectors. With --json it prints the figures
of a bench instead and writes no file.`,
		Example: `  A page to send to the others who share the rack:

  underlamp demo --no-serve
  underlamp report underlamp-demo/tier-1-top.yaml -o top-tier.html

  Open top-tier.html in a browser, or print it: on paper the workings are unfolded. One
  page to pin to the wall:

  underlamp report underlamp-demo/tier-1-top.yaml --short -o top-tier-short.html

  As a PDF, on A4 unless the bench is in US units:

  underlamp report underlamp-demo/tier-3-bottom.yaml -o bottom-tier.pdf --paper letter

  What came of a crop beside what was said of it, and what a trial shows:

  underlamp report underlamp-demo/tier-2-middle.autumn.cycle.yaml -o autumn.html
  underlamp report underlamp-demo/light-levels.trial.yaml -o light-levels.html

  The figures of a bench for a program:

  underlamp report --json underlamp-demo/tier-1-top.yaml`,
		Args: oneFile,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runReport(cmd, w, o)
		},
	}
	f := cmd.Flags()
	outputFlag(f, &o.out, "the name of FILE with .html, or with .pdf")
	f.BoolVar(&o.pdf, "pdf", false, "write a PDF")
	o.paper.flag(cmd)
	f.BoolVar(&o.short, "short", false, "one page: one picture and three numbers")
	storeFlag(f, &o.store, "sensors and photos of the bench are taken from it")
	f.BoolVar(&o.rounds, "seen", false, "with --store and a bench: report the cycle that was seen on rounds")
	jsonFlag(f, &o.json, "and write no file")
	f.StringArrayVar(&o.cycles, "cycle", nil, "learn from this cycle file and add what it taught; may be given several times")
	return cmd
}

func runReport(cmd *cobra.Command, w World, o reportOptions) error {
	if o.rounds && o.store == "" {
		return wrongf("--seen needs --store: the file or database that underlamp serve keeps")
	}
	if o.json && o.short {
		return wrongf("--json prints all figures; leave --short out")
	}
	if o.pdf && o.out != "" && !isPDF(o.out) {
		return wrongf("--pdf writes a PDF, and %s is the name of none: end it in .pdf, or leave --pdf out", o.out)
	}
	if e := strings.ToLower(filepath.Ext(o.out)); !o.pdf && e != "" && e != ".html" && e != ".htm" && e != ".pdf" {
		return wrongf("%s: a report is a page (.html) or a PDF (.pdf), not %s", o.out, e)
	}
	if o.paper.name != "" && !o.pdf && !isPDF(o.out) { // before a minute of computing
		return wrongf("--paper is for a PDF: add --pdf, or give a name that ends in .pdf")
	}
	if _, err := o.paper.of(quantity.Metric); err != nil {
		return err
	}
	if o.store == "" {
		return reportFile(cmd, w, o, nil)
	}
	return openerOf(w, &o.store)(cmd, false, func(s store.Store) error { return reportFile(cmd, w, o, s) })
}

// reportFile reports what a file describes; s may be nil.
func reportFile(cmd *cobra.Command, w World, o reportOptions, s store.Store) error {
	kind := benchfolder.BenchFile
	if o.file != "-" {
		kind = benchfolder.KindOf(os.DirFS(filepath.Dir(o.file)), filepath.Base(o.file))
	}
	if kind != benchfolder.BenchFile && (o.json || o.rounds || len(o.cycles) > 0) {
		return wrongf("--json, --seen and --cycle are for bench files; %s is another file", o.file)
	}
	switch kind {
	case benchfolder.TrialFile:
		place, p, err := openTrial(w, o.file)
		if err != nil {
			return err
		}
		f, err := p.Findings(cmd.Context(), place, func(done, of int) { w.progress(part(done, of), "reading the trial: %d of %d", done, of) })
		if err != nil {
			return &wrongError{err: fmt.Errorf("%s: %w", o.file, err)}
		}
		d, err := trialReport(cmd, w, place, p, f, o.file, s)
		if err != nil {
			return err
		}
		units := quantity.Metric
		if d.Bench != nil {
			units = d.Bench.Units
		}
		return writeReport(w, o, d, units)
	case benchfolder.CycleFile:
		source, err := readInput(w, o.file)
		if err != nil {
			return err
		}
		bench := cyclefile.BenchOf(bytes.NewReader(source))
		if bench == "" {
			return wrongf("%s does not say which bench it is of; write bench: mine.yaml", o.file)
		}
		o.file, o.cycles = filepath.Join(filepath.Dir(o.file), bench), []string{o.file}
		m, cycles, err := loadCycles(w, o.file, o.cycles)
		if err != nil {
			return err
		}
		return cycleReport(cmd, w, o, m, cycles[0], s)
	case benchfolder.BenchFile:
		return benchReport(cmd, w, o, s)
	}
	return wrongf("%s is no bench, cycle or trial, and there is no report of it", o.file)
}

func benchReport(cmd *cobra.Command, w World, o reportOptions, s store.Store) error {
	m, cycles, err := loadCycles(w, o.file, o.cycles)
	if err != nil {
		return err
	}
	if o.rounds {
		seen, err := s.Observations(cmd.Context(), benchKey(o.file), 0, math.MaxInt64)
		if err != nil {
			return err
		}
		entries, faults := round.ReadAll(seen)
		for _, f := range faults {
			fmt.Fprintf(w.Err, "left out: %v\n", f)
		}
		c, notes, err := round.NewRecord(entries, time.Local).Cycle(m.Bench(), filepath.Base(o.file), time.Time{})
		if err != nil {
			return wrongf("%v", err)
		}
		for _, n := range notes {
			fmt.Fprintln(w.Err, n)
		}
		return cycleReport(cmd, w, o, m, c, s)
	}
	d, err := reportOf(cmd.Context(), w, m, o.file)
	if err != nil {
		return err
	}
	if d.Head, err = headOf(append([]string{o.file}, o.cycles...)...); err != nil {
		return err
	}
	from, to, grows := environment.Crop(d.Bench, time.Now(), time.Local)
	if d.Around, err = around(cmd.Context(), s, o.file, d.Bench, d.Light, from, to, grows); err != nil {
		return err
	}
	if s != nil {
		if d.Strips, err = stripsFor(cmd.Context(), s, benchKey(o.file), d.Bench, time.Time{}, time.Time{}, time.Local); err != nil {
			return err
		}
	}
	if len(cycles) > 0 {
		if d.Lesson, err = learn.Teach(cmd.Context(), m, cycles, learn.Options{Progress: doing(w)}); err != nil {
			return err
		}
	}
	if o.json {
		return reportJSON(w, m, d)
	}
	return writeReport(w, o, d, d.Bench.Units)
}

func reportJSON(w World, m *light.Model, d *report.Document) error {
	next, err := m.NextReading()
	if err != nil {
		next = nil // in the dark there is no place to read
	}
	if d.Refused != nil {
		return writeJSON(w, reportOut{Light: aswire.Light(d.Bench, d.Light, next), Refused: d.Refused.Error()})
	}
	forecast, best := aswire.Outlook(d.Bench, d.Outlook, d.Figures), aswire.Best(d.Bench, d.Best)
	return writeJSON(w, reportOut{Light: aswire.Light(d.Bench, d.Light, next), Outlook: &forecast, Best: &best, Learn: lessonJSON(d.Lesson)})
}

// cycleReport reports what came of a cycle; o.file is its bench.
func cycleReport(cmd *cobra.Command, w World, o reportOptions, m *light.Model, c *underlamp.Cycle, s store.Store) error {
	ctx := cmd.Context()
	x, err := learn.Compare(ctx, m, c, 0)
	if err != nil {
		return &wrongError{err: err}
	}
	d := &report.CycleDocument{Comparison: x}
	if d.Head, err = headOf(append([]string{o.file}, o.cycles...)...); err != nil {
		return err
	}
	d.Command = "underlamp report " + filepath.Base(o.file) + " --seen --store …"
	if len(o.cycles) > 0 {
		d.Command = "underlamp report " + filepath.Base(o.cycles[0])
	}
	from, err := time.ParseInLocation(time.DateOnly, c.Transplanted, time.Local)
	if err != nil {
		return err
	}
	to := from.AddDate(0, 0, x.Last+1)
	begun := x.Begun.Setting()
	a, err := m.Answer(&begun, 9)
	if err != nil {
		return err
	}
	if d.Around, err = around(ctx, s, o.file, x.Begun, a, from, to, true); err != nil {
		return err
	}
	if s != nil {
		if d.Strips, err = stripsFor(ctx, s, benchKey(o.file), m.Bench(), from, to, time.Local); err != nil {
			return err
		}
		kWh, by, ok, err := environment.Metered(ctx, s, benchKey(o.file), from, to)
		if err != nil {
			return err
		}
		if ok {
			d.Metered, d.MeteredBy = &kWh, by
		}
	}
	if o.out == "" && len(o.cycles) > 0 {
		o.file = o.cycles[0]
	}
	return writeReport(w, o, d, m.Bench().Units)
}

// trialReport is a trial with the bench that it names, and what is known of that.
func trialReport(cmd *cobra.Command, w World, place trialbook.Place, p *trialbook.Page, f *trial.Findings, file string, s store.Store) (*report.TrialDocument, error) {
	t := p.Trial
	d := &report.TrialDocument{Findings: f, Head: report.Head{Written: time.Now().Format(time.DateOnly), Version: version, Command: "underlamp report " + filepath.Base(file)}}
	d.Inputs = []report.Input{report.Hashed(p.File, p.Source)}
	if raw, err := fs.ReadFile(place, t.Table); err == nil {
		d.Inputs = append(d.Inputs, report.Hashed(t.Table, raw))
	}
	if t.Bench == "" {
		return d, nil
	}
	b, err := benchfolder.Bench(place, t.Bench)
	if err != nil {
		return d, nil // the findings say that the bench cannot be read
	}
	d.Bench = b
	if raw, err := fs.ReadFile(place, t.Bench); err == nil {
		d.Inputs = append(d.Inputs, report.Hashed(t.Bench, raw))
	}
	m, err := light.NewModel(b)
	if err != nil {
		return nil, &wrongError{err: err}
	}
	if l, err := trial.CheckLight(m, t, trial.LightOptions{}); err == nil {
		d.Light = l // else the plan names lamps that the bench does not have, and the layout stays a table
	}
	a, err := m.Answer(nil, 9)
	if err != nil {
		return nil, &wrongError{err: err}
	}
	from, to, ok := trialTime(t)
	if s != nil && ok {
		if d.Strips, err = stripsFor(cmd.Context(), s, benchKey(t.Bench), b, from, to, time.Local); err != nil {
			return nil, err
		}
	}
	d.Around, err = around(cmd.Context(), s, filepath.Join(filepath.Dir(file), t.Bench), b, a, from, to, ok)
	return d, err
}

// trialTime is from the first transplanting to the last harvest.
func trialTime(t *underlamp.Trial) (from, to time.Time, ok bool) {
	for _, c := range t.Cycles {
		a, errA := time.ParseInLocation(time.DateOnly, c.Transplanted, time.Local)
		b, errB := time.ParseInLocation(time.DateOnly, c.Harvested, time.Local)
		if errA != nil || errB != nil {
			continue
		}
		if !ok || a.Before(from) {
			from = a
		}
		if !ok || b.After(to) {
			to = b
		}
		ok = true
	}
	return from, to, ok
}

// headOf says of a report when, by which program and of which files it was made.
func headOf(names ...string) (report.Head, error) {
	h := report.Head{Written: time.Now().Format(time.DateOnly), Version: version}
	for _, name := range names {
		if name == "-" {
			continue
		}
		raw, err := os.ReadFile(name)
		if err != nil {
			return h, err
		}
		h.Inputs = append(h.Inputs, report.Hashed(filepath.Base(name), raw))
	}
	if len(h.Inputs) > 0 {
		h.Command = "underlamp report " + h.Inputs[0].Name
	}
	return h, nil
}

// around is the environment of a bench over a time, from its file, the feed beside it, and the
// sensors of a store, which may be nil.
func around(ctx context.Context, s store.Store, file string, b *underlamp.Bench, a *light.Answer, from, to time.Time, grew bool) (*environment.Table, error) {
	k := environment.Known{Bench: b, Light: a}
	if grew {
		k.From, k.To = from.Format(time.DateOnly), to.Format(time.DateOnly)
	}
	if file != "-" {
		k.Feed = benchfolder.FeedOf(os.DirFS(filepath.Dir(file)), filepath.Base(file), b)
	}
	if s != nil && grew {
		var err error
		if k.Log, err = environment.Gather(ctx, s, benchKey(file), b, from, to, func(b *underlamp.Bench, text []byte) (*underlamp.Watch, error) { return watchfile.Parse(text, b.Units) }, time.Local); err != nil {
			return nil, err
		}
	}
	return environment.Of(k), nil
}

// writeReport writes the whole report, or the short one.
func writeReport(w World, o reportOptions, p report.Paper, units quantity.System) error {
	text, ending := p.HTML, ".html"
	if o.pdf {
		ending = ".pdf"
	}
	if o.short {
		text, ending = p.Short, ".short"+ending
	}
	name := o.out
	if name == "" {
		name = "report" + ending
		if o.file != "-" {
			name = strings.TrimSuffix(o.file, filepath.Ext(o.file)) + ending
		}
	}
	n, err := writePage(w, name, text(), o.paper, units)
	if err != nil {
		return err
	}
	fmt.Fprintf(w.Out, "%s: %d kB\n", name, (n+999)/1000)
	return nil
}

// reportOut is the figures of a report.
type reportOut struct {
	Light   wire.Light    `json:"light" doc:"as underlamp light gives it"`
	Outlook *wire.Outlook `json:"outlook,omitempty" doc:"as underlamp outlook gives it; null: it was not asked for"`
	Best    *wire.Best    `json:"best,omitempty" doc:"as underlamp best gives it; null: it was not asked for"`
	Learn   *learnOut     `json:"learn,omitempty" doc:"what the cycles of --cycle taught"`
	Refused string        `json:"outlook_refused,omitempty" doc:"why there is no outlook"`
}
