package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/report"
	"underlamp/safefolder"
	"underlamp/science/quantity"
	"underlamp/working"
)

func newTrial(w World) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "trial",
		Short: "Fair trials: plan one, print its sheet, record it, read what it tells",
		Long: `trial asks plants a question so that it can be answered, and reads the answer. The
plan is one text file, what was seen a table beside it (docs/formats/trial.md). Plants
under one lamp are not repeats: the lamp in its cycle is.`,
		Example: `  What does the invented trial of the demo tell?

  underlamp demo --no-serve
  underlamp trial findings underlamp-demo/light-levels.trial.yaml

  prints the findings in plain words, then each figure with its limits.`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newTrialDesign(w), newTrialSheet(w), newTrialRecord(w), newTrialImport(w), newTrialUndo(w), newTrialFindings(w))
	return cmd
}

func oneTrial(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return &wrongError{err: fmt.Errorf("%s takes one trial file, for example: %s mine.trial.yaml", cmd.CommandPath(), cmd.CommandPath())}
	}
	return nil
}

// openTrial reads a trial with what was seen so far; its mistakes are shown.
func openTrial(w World, name string) (trialbook.Place, *trialbook.Page, error) {
	place := safefolder.New(filepath.Dir(name))
	p, err := trialbook.Open(place, filepath.Base(name))
	var broken *trialbook.BrokenError
	var table *trialbook.TableError
	switch {
	case errors.As(err, &broken):
		fmt.Fprint(w.Err, broken.Problems.Render(name, broken.Source, w.Colour))
		return nil, nil, &wrongError{err: fmt.Errorf("%s has errors", name), shown: true}
	case errors.As(err, &table):
		return nil, nil, &wrongError{err: err}
	case errors.Is(err, fs.ErrNotExist):
		return nil, nil, &wrongError{err: fmt.Errorf("the trial file cannot be opened: %w; underlamp trial design writes one", err)}
	case err != nil:
		return nil, nil, &wrongError{err: err}
	}
	if len(p.Problems) > 0 {
		fmt.Fprint(w.Err, p.Problems.Render(name, p.Source, w.Colour))
	}
	return place, p, nil
}

func newTrialFindings(w World) *cobra.Command {
	var json, withWorking bool
	var out, bench string
	cmd := &cobra.Command{
		Use:   "findings TRIAL",
		Short: "What a trial tells, never more than its units allow",
		Example: `  underlamp trial findings underlamp-demo/light-levels.trial.yaml --working

  prints each figure with formula, inputs and source. As a page, with every plant drawn:

  underlamp trial findings underlamp-demo/light-levels.trial.yaml -o findings.html

  Heads that were weighed again and again: how fast they grew, and when they were ready:

  underlamp trial findings underlamp-demo/lamp-colours.trial.yaml`,
		Args: oneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			_, p, err := openTrial(w, args[0])
			if err != nil {
				return err
			}
			f, err := p.Findings(os.DirFS(filepath.Dir(args[0])), func(done, of int) { w.progress(done == of, "reading the trial: %d of %d", done, of) })
			if err != nil {
				return &wrongError{err: fmt.Errorf("%s: %w", args[0], err)}
			}
			if bench != "" {
				if err := addOutlook(cmd, w, f, args[0], bench); err != nil {
					return err
				}
			}
			if out != "" {
				if err := writeFile(out, report.FindingsPage(f, time.Now().Format(time.DateOnly))); err != nil {
					return err
				}
				fmt.Fprintf(w.Out, "%s written\n", out)
				return nil
			}
			if json {
				return writeJSON(w.Out, findingsJSON(f))
			}
			printFindings(w, f, withWorking)
			if hint := outlookHint(f, args[0]); hint != "" && bench == "" {
				fmt.Fprintln(w.Out)
				writeParagraph(w.Out, "  ", hint)
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&json, "json", false, "print the findings as JSON")
	cmd.Flags().StringVarP(&out, "output", "o", "", "write them as an HTML file")
	cmd.Flags().StringVar(&bench, "outlook", "", "bench file: say what the trial would change in the outlook of its crop (a minute or more)")
	cmd.Flags().BoolVar(&withWorking, "working", false, "show how each figure was reached")
	return cmd
}

func printFindings(w World, f *trial.Findings, withWorking bool) {
	fmt.Fprintf(w.Out, "%s\n", f.Trial.Name)
	if f.Trial.Question != "" {
		writeParagraph(w.Out, "  ", f.Trial.Question)
	}
	fmt.Fprintln(w.Out)
	writeParagraphs(w.Out, "  - ", f.Summary)
	fmt.Fprintln(w.Out)
	var rows [][]string
	for _, u := range f.Units {
		dose := ""
		if u.Dose > 0 {
			dose = quantity.Number(u.Dose, 3)
		}
		rows = append(rows, []string{u.Name, u.Treatment, u.Block, dose, fmt.Sprint(u.N), quantity.Number(u.Mean, 4)})
	}
	writeTable(w.Out, []column{{head: "unit"}, {head: "treatment"}, {head: "block"}, {"mol/m²/d", true}, {"plants", true}, {"mean", true}}, rows)
	if len(f.Lines) > 0 {
		fmt.Fprintln(w.Out)
		rows = nil
		for _, l := range f.Lines {
			test, p := "", ""
			if l.Tested {
				test, p = quantity.Number(l.F, 3), quantity.Number(l.P, 2)
			}
			rows = append(rows, []string{l.Name, fmt.Sprint(l.DF), quantity.Number(l.SS, 4), quantity.Number(l.MS, 4), test, p})
		}
		writeTable(w.Out, []column{{head: "variance"}, {"df", true}, {"sum of squares", true}, {"mean square", true}, {"F", true}, {"p", true}}, rows)
	}
	for _, p := range f.Parts {
		fmt.Fprintf(w.Out, "\n%s\n", p.Title)
		writeFigures(w.Out, p.Figures)
		if len(p.Tests) > 0 {
			rows = nil
			for _, x := range p.Tests {
				if x.Why != "" {
					rows = append(rows, []string{x.What, "", "", "", x.Why})
					continue
				}
				rows = append(rows, []string{x.What, quantity.Number(x.F, 3), fmt.Sprintf("%.0f, %.0f", x.DF1, x.DF2), quantity.Number(x.P, 2), quantity.Number(x.Adjusted, 2)})
			}
			writeTable(w.Out, []column{{head: "  test"}, {"F", true}, {"df", true}, {"p", true}, {head: "p after Holm"}}, rows)
		}
		writeParagraphs(w.Out, "  - ", p.Rest())
	}
	if len(f.Notes) > 0 {
		fmt.Fprintln(w.Out)
		writeParagraphs(w.Out, "  note: ", f.Notes)
	}
	if withWorking {
		writeWorking(w.Out, f.Figures())
	}
}

type findingsUnitOut struct {
	Name      string `json:"unit"`
	Treatment string `json:"treatment"`
	Block     string `json:"block,omitempty"`
	Dose      number `json:"dli_mol_m2_d,omitempty"`
	Plants    int    `json:"plants"`
	Mean      number `json:"mean"`
}

type findingsLineOut struct {
	Name string `json:"line"`
	DF   int    `json:"df"`
	SS   number `json:"ss"`
	F    number `json:"f,omitempty"`
	P    number `json:"p,omitempty"`
	Why  string `json:"no_test_because,omitempty"`
}

func findingsJSON(f *trial.Findings) any {
	type testOut struct {
		What     string `json:"what"`
		F        number `json:"f,omitempty"`
		DF1      number `json:"df1,omitempty"`
		DF2      number `json:"df2,omitempty"`
		P        number `json:"p,omitempty"`
		Adjusted number `json:"p_adjusted,omitempty"`
		Why      string `json:"no_test_because,omitempty"`
	}
	type partOut struct {
		Title   string           `json:"title"`
		Says    []string         `json:"says"`
		Figures []working.Figure `json:"figures"`
		Tests   []testOut        `json:"tests,omitempty"`
	}
	out := struct {
		Trial   string            `json:"trial"`
		Summary []string          `json:"summary"`
		Units   []findingsUnitOut `json:"units"`
		Lines   []findingsLineOut `json:"variance"`
		Parts   []partOut         `json:"parts"`
		Notes   []string          `json:"notes"`
	}{Trial: f.Trial.Name, Summary: f.Summary, Notes: f.Notes}
	for _, u := range f.Units {
		out.Units = append(out.Units, findingsUnitOut{u.Name, u.Treatment, u.Block, number(u.Dose), u.N, number(u.Mean)})
	}
	for _, l := range f.Lines {
		out.Lines = append(out.Lines, findingsLineOut{l.Name, l.DF, number(l.SS), number(l.F), number(l.P), l.Why})
	}
	for _, p := range f.Parts {
		x := partOut{Title: p.Title, Says: p.Says, Figures: p.Figures}
		for _, t := range p.Tests {
			x.Tests = append(x.Tests, testOut{t.What, number(t.F), number(t.DF1), number(t.DF2), number(t.P), number(t.Adjusted), t.Why})
		}
		out.Parts = append(out.Parts, x)
	}
	return out
}

type recordOptions struct {
	unit, plant, what, value, missing, time, by, with, note, corrects, strike string
}

func newTrialRecord(w World) *cobra.Command {
	var o recordOptions
	cmd := &cobra.Command{
		Use:   "record TRIAL",
		Short: "Enter, correct or strike what was seen of one plant",
		Long: `record sets one line at the end of the table of a trial. Nothing is ever changed: a
correction is a new line that names the old one, and both stay. Values that can hardly
be meant are asked about and kept.`,
		Example: `  underlamp trial record underlamp-demo/light-levels.trial.yaml --unit C1-L1 --plant P9 --what mass --value "141 g" --time 2026-04-28 --by AB

  An old line is corrected with --corrects and its id, or taken out with --strike:

  underlamp trial record underlamp-demo/light-levels.trial.yaml --strike e1 --note "weighed with the pot"`,
		Args: oneTrial,
		RunE: func(_ *cobra.Command, args []string) error { return runRecord(w, args[0], o) },
	}
	f := cmd.Flags()
	for _, x := range []struct {
		to          *string
		name, about string
	}{
		{&o.unit, "unit", "the unit, as in the trial file"}, {&o.plant, "plant", "the plant within the unit"},
		{&o.what, "what", "mass, height, width, leaves, burn, severity, clear or first"}, {&o.value, "value", "what was seen, such as 141 g, 4.9 oz or yes"},
		{&o.missing, "missing", "why there is no value"}, {&o.time, "time", "the day, such as 2026-04-28"}, {&o.by, "by", "who saw it"},
		{&o.with, "with", "the instrument"}, {&o.note, "note", "a note"}, {&o.corrects, "corrects", "id of the line that this one stands for"}, {&o.strike, "strike", "id of a line that shall not count"},
	} {
		f.StringVar(x.to, x.name, "", x.about)
	}
	return cmd
}

func runRecord(w World, file string, o recordOptions) error {
	place, p, err := openTrial(w, file)
	if err != nil {
		return err
	}
	said := trialbook.Said{Unit: o.unit, Plant: o.plant, What: underlamp.Response(o.what), Value: o.value, Missing: o.missing, Time: o.time, By: o.by, With: o.with, Note: o.note, Corrects: o.corrects}
	if o.strike != "" {
		said.Corrects, said.Strike = o.strike, true
	}
	kept, err := trialbook.Record(place, p, []trialbook.Said{said}, time.Now())
	var faults trialbook.FieldErrors
	if errors.As(err, &faults) {
		var s []string
		for _, f := range faults {
			s = append(s, "--"+f.Field+": "+f.Reason)
		}
		return wrongf("%s", strings.Join(s, "\n"))
	}
	if err != nil {
		return wrongf("%s: %v", file, err)
	}
	fmt.Fprintf(w.Out, "%s: line %s kept\n", filepath.Join(filepath.Dir(file), filepath.FromSlash(p.Trial.Table)), kept[0].Entry.ID)
	writeParagraphs(w.Err, "please look: ", kept[0].Doubts)
	return nil
}

func newTrialImport(w World) *cobra.Command {
	var columns []string
	var yes bool
	cmd := &cobra.Command{
		Use:   "import TRIAL TABLE",
		Short: "Take a table (CSV or XLSX) in, after a look at what that would do",
		Long: `import reads a table with one plant a row and shows what it would keep; with --yes it
sets that at the end of the trial's own table. Headings that it does not know are told
with --column HEADING=MEANING: unit, plant, time, by, with, note, nothing, or what was
seen (mass, height, width, leaves, burn, severity, clear, first). They are remembered in the
trial file. Values that the table holds already are left out.`,
		Example: `  underlamp trial import underlamp-demo/light-levels.trial.yaml underlamp-demo/light-levels.harvest5.csv --column "Lamp code=unit" --column "Head=plant" --column "Weight=mass"

  shows what would be kept; the same with --yes keeps it.`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 2 {
				return &wrongError{err: fmt.Errorf("%s takes a trial file and a table", cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error { return runImport(w, args[0], args[1], columns, yes) },
	}
	cmd.Flags().StringArrayVar(&columns, "column", nil, "what a column is, such as Weight=mass; may be given several times")
	cmd.Flags().BoolVar(&yes, "yes", false, "keep it")
	return cmd
}

func runImport(w World, file, table string, columns []string, yes bool) error {
	place, p, err := openTrial(w, file)
	if err != nil {
		return err
	}
	said := map[string]string{}
	for _, c := range columns {
		h, is, ok := strings.Cut(c, "=")
		if !ok {
			return wrongf("--column %q: write HEADING=MEANING", c)
		}
		said[h] = is
	}
	in, err := os.Open(table)
	if err != nil {
		return wrongf("the table cannot be opened: %v", err)
	}
	defer in.Close()
	raw, err := io.ReadAll(io.LimitReader(in, trialbook.MostBytes))
	if err != nil {
		return err
	}
	d, err := trialbook.Prepare(p, raw, said, time.Now())
	if err == nil && yes {
		d, err = trialbook.Import(place, p, raw, said, time.Now())
	}
	if err != nil {
		return wrongf("%s: %v", table, err)
	}
	fmt.Fprintf(w.Out, "%s: %d new values, %d there already, %d empty cells\n", table, len(d.New), d.Duplicates, d.Missing)
	for _, h := range d.Ignored {
		fmt.Fprintf(w.Out, "  the column %q is left out\n", h)
	}
	var rows [][]string
	for _, e := range d.New[:min(5, len(d.New))] {
		rows = append(rows, []string{e.ID, e.Time, e.TrialUnit, e.Plant, string(e.What), strings.TrimSpace(quantity.Number(e.Value, 4) + " " + e.What.Unit())})
	}
	if len(rows) > 0 {
		writeTable(w.Out, []column{{head: "id"}, {head: "time"}, {head: "unit"}, {head: "plant"}, {head: "what"}, {"value", true}}, rows)
	}
	writeParagraphs(w.Out, "  please look: ", d.Doubts)
	switch {
	case !yes:
		fmt.Fprintln(w.Out, "Nothing is kept yet; --yes keeps it.")
	case len(d.New) == 0:
		fmt.Fprintln(w.Out, "Nothing new to keep.")
	default:
		fmt.Fprintf(w.Out, "%s: kept as import %d; underlamp trial undo %s %d takes it back\n", filepath.Join(filepath.Dir(file), filepath.FromSlash(p.Trial.Table)), d.Number, file, d.Number)
	}
	return nil
}

func newTrialUndo(w World) *cobra.Command {
	var by string
	cmd := &cobra.Command{
		Use:   "undo TRIAL [NUMBER]",
		Short: "Take an import back; without a number, list the imports",
		Long: `undo strikes what an import brought, as far as nobody has corrected it since. The lines
stay in the table, and the same table can be imported again.`,
		Example: `  underlamp trial undo underlamp-demo/light-levels.trial.yaml

  lists the imports; their number takes one back.`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 && len(args) != 2 {
				return &wrongError{err: fmt.Errorf("%s takes a trial file and the number of an import", cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			place, p, err := openTrial(w, args[0])
			if err != nil {
				return err
			}
			if len(args) == 1 {
				var rows [][]string
				for _, i := range p.Imports() {
					rows = append(rows, []string{fmt.Sprint(i.Number), fmt.Sprint(i.Brought), fmt.Sprint(i.Standing), fmt.Sprint(i.Changed)})
				}
				if len(rows) == 0 {
					fmt.Fprintln(w.Out, "No table was imported yet.")
					return nil
				}
				writeTable(w.Out, []column{{"import", true}, {"values", true}, {"that count", true}, {"changed by hand", true}}, rows)
				return nil
			}
			number, err := strconv.Atoi(args[1])
			if err != nil {
				return wrongf("%q is no number of an import", args[1])
			}
			n, err := trialbook.Undo(place, p, number, by, time.Now())
			if err != nil {
				return wrongf("%s: %v", args[0], err)
			}
			fmt.Fprintf(w.Out, "import %d: %d values struck out\n", number, n)
			return nil
		},
	}
	cmd.Flags().StringVar(&by, "by", "", "who takes it back")
	return cmd
}
