package cli

import (
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/aswire"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/formats/trialtable"
	"underlamp/science/quantity"
)

func newTrial(w World) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "trial",
		Short: "Fair trials: plan one, print its sheet, record it, read what it tells",
		Long: `trial asks plants a question so that it can be answered, and reads the answer. The
plan is one text file, what was seen a table beside it (docs/formats/trial.md). Plants
under one lamp are not repeats: the lamp in its cycle is. With --store a trial is taken
from a store that underlamp serve keeps without a folder.`,
		Example: `  What does the invented trial of the demo tell?

  underlamp demo --no-serve
  underlamp trial findings underlamp-demo/light-levels.trial.yaml

  prints the findings in plain words, then each figure with its limits.`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newTrialDesign(w), newTrialSheet(w), newTrialRecord(w), newTrialImport(w), newTrialUndo(w), newTrialFindings(w), newTrialPackage(w))
	return cmd
}

func oneTrial(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return &wrongError{err: fmt.Errorf("%s takes one trial file, for example: %s mine.trial.yaml", cmd.CommandPath(), cmd.CommandPath())}
	}
	return nil
}

func newTrialFindings(w World) *cobra.Command {
	var json, withWorking bool
	var out, bench string
	var at trialsAt
	var paper paperFlag
	cmd := &cobra.Command{
		Use:   "findings TRIAL|PACKAGE",
		Short: "What a trial, or the package of one, tells, never more than its units allow",
		Example: `  underlamp trial findings underlamp-demo/light-levels.trial.yaml --working

  prints each figure with formula, inputs and source. As a report, with every plant drawn:

  underlamp trial findings underlamp-demo/light-levels.trial.yaml -o findings.html

  To print or to send:

  underlamp trial findings underlamp-demo/light-levels.trial.yaml -o findings.pdf

  Heads that were weighed again and again: how fast they grew, and when they were ready:

  underlamp trial findings underlamp-demo/lamp-colours.trial.yaml`,
		Args: oneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			if at.store != "" && bench != "" {
				return wrongf("--outlook reads a trial from a file: leave --store out, or write the trial with underlamp benches export first")
			}
			return at.with(cmd, w, args[0], func(place trialbook.Place, p *trialbook.Page) error {
				f, err := p.Findings(cmd.Context(), place, func(done, of int) { w.progress(part(done, of), "reading the trial: %d of %d", done, of) })
				if err != nil {
					return &wrongError{err: fmt.Errorf("%s: %w", args[0], err)}
				}
				if bench != "" {
					if err := addOutlook(cmd, w, f, args[0], bench); err != nil {
						return err
					}
				}
				if out != "" {
					d, err := trialReport(cmd, w, place, p, f, args[0], nil)
					if err != nil {
						return err
					}
					if _, err := writePage(w, out, d.HTML(), paper, quantity.Metric); err != nil {
						return err
					}
					fmt.Fprintf(w.Out, "%s written\n", out)
					return nil
				}
				if json {
					return writeJSON(w, aswire.TrialFindings(f))
				}
				printFindings(w, f, withWorking)
				if hint := outlookHint(f, args[0]); hint != "" && bench == "" {
					fmt.Fprintln(w.Out)
					writeParagraph(w.Out, "  ", hint)
				}
				return nil
			})
		},
	}
	at.flag(cmd)
	jsonFlag(cmd.Flags(), &json, "")
	outputFlag(cmd.Flags(), &out, "the findings are printed as text")
	paper.flag(cmd)
	cmd.Flags().StringVar(&bench, "outlook", "", "bench file; what the trial would change in the outlook of its crop is told too (a minute or more)")
	workingFlag(cmd.Flags(), &withWorking)
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

type recordOptions struct {
	unit, plant, what, value, missing, time, by, with, note, corrects, strike string
}

func newTrialRecord(w World) *cobra.Command {
	var o recordOptions
	var at trialsAt
	cmd := &cobra.Command{
		Use:   "record TRIAL",
		Short: "Enter, correct or strike what was seen of one plant",
		Long: `record sets one line at the end of the table of a trial. Nothing is ever changed: a
correction is a new line that names the old one, and both stay. Values that can hardly
be meant are asked about and kept.`,
		Example: `  underlamp trial record underlamp-demo/light-levels.trial.yaml --unit C1-L1 --plant P9 --what mass --value "141 g" --date 2026-04-28 --by AB

  An old line is corrected with --corrects and its id, or taken out with --strike:

  underlamp trial record underlamp-demo/light-levels.trial.yaml --strike e1 --note "weighed with the pot"`,
		Args: oneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			return at.with(cmd, w, args[0], func(place trialbook.Place, p *trialbook.Page) error { return runRecord(w, place, p, args[0], o) })
		},
	}
	at.flag(cmd)
	f := cmd.Flags()
	for _, x := range []struct {
		to          *string
		name, about string
	}{
		{&o.unit, "unit", "unit of the trial, as in its file"}, {&o.plant, "plant", "name of the plant; it is one of the unit"},
		{&o.what, "what", "what was seen: mass, height, width, leaves, burn, severity, clear or first"}, {&o.value, "value", "value that was seen, such as \"141 g\", \"4.9 oz\" or yes"},
		{&o.missing, "missing", "why there is no value"}, {&o.time, "date", "day, such as 2026-04-28"}, {&o.by, "by", byUsage},
		{&o.with, "with", "the instrument"}, {&o.note, "note", noteUsage}, {&o.corrects, "corrects", "id of the line that this one stands for"}, {&o.strike, "strike", "id of a line that shall not count"},
	} {
		f.StringVar(x.to, x.name, "", x.about)
	}
	renamedFlag(w, f, "time", "date")
	return cmd
}

func runRecord(w World, place trialbook.Place, p *trialbook.Page, file string, o recordOptions) error {
	said := trialbook.Said{Unit: o.unit, Plant: o.plant, What: underlamp.Response(o.what), Value: o.value, Missing: o.missing, Time: o.time, By: o.by, With: o.with, Note: o.note, Corrects: o.corrects}
	if o.strike != "" {
		said.Corrects, said.Strike = o.strike, true
	}
	kept, err := trialbook.Record(place, p, []trialbook.Said{said}, time.Now())
	var faults trialbook.FieldErrors
	if errors.As(err, &faults) {
		var s []string
		for _, f := range faults {
			flag := f.Field // of the page; the options that fill it are called otherwise
			switch {
			case flag == "time":
				flag = "date"
			case flag == "corrects" && o.strike != "":
				flag = "strike"
			}
			s = append(s, "--"+flag+": "+f.Reason)
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
	var o tableOptions
	var at trialsAt
	cmd := &cobra.Command{
		Use:   "import TRIAL TABLE",
		Short: "Take a table (CSV, XLSX or ODS) in, after a look at what that would do",
		Long: `import reads a table with one plant a row and shows what it would keep; with --yes it
sets that at the end of the trial's own table. Headings that it does not know are told
with --column HEADING=MEANING: unit, plant, time, by, with, note, nothing, or what was
seen (mass, height, width, leaves, burn, severity, clear, first). They are remembered in the
trial file. Values that the table holds already are left out; of those that differ the
trial's stay, or with --take those of the table. underlamp import takes sheets of benches in.`,
		Example: `  underlamp trial import underlamp-demo/light-levels.trial.yaml underlamp-demo/light-levels.harvest5.csv --column "Lamp code=unit" --column "Head=plant" --column "Weight=mass"

  shows what would be kept; the same with --yes keeps it.`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 2 {
				return &wrongError{err: fmt.Errorf("%s takes a trial file and a table", cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return at.with(cmd, w, args[0], func(place trialbook.Place, p *trialbook.Page) error {
				return runImport(w, place, p, args[0], args[1], o)
			})
		},
	}
	at.flag(cmd)
	o.flags(cmd)
	return cmd
}

func runImport(w World, place trialbook.Place, p *trialbook.Page, file, table string, o tableOptions) error {
	said, err := o.mapping()
	if err != nil {
		return err
	}
	conv, err := o.conventions()
	if err != nil {
		return err
	}
	raw, err := readAtMost(table, trialbook.MostBytes)
	if err != nil {
		return err
	}
	t, err := trialtable.Open(raw, o.sheet, o.heading, conv)
	if err != nil {
		return wrongf("%s: %v", table, err)
	}
	say := trialbook.Saying{Columns: said, Take: o.take}
	d, err := trialbook.Prepare(p, t, say, time.Now())
	if err == nil && o.yes {
		d, err = trialbook.Import(place, p, t, say, time.Now())
	}
	if err != nil {
		return wrongf("%s: %v", table, err)
	}
	fmt.Fprintf(w.Out, "%s: %d new values, %d there already, %d empty cells", table, len(d.New), d.Duplicates, d.Missing)
	if n := len(d.Conflicts); n > 0 {
		fmt.Fprintf(w.Out, ", %d in conflict", n)
	}
	fmt.Fprintln(w.Out)
	for _, h := range d.Ignored {
		fmt.Fprintf(w.Out, "  the column %q is left out\n", h)
	}
	writeParagraphs(w.Out, "  note: ", d.Notes)
	var rows [][]string
	for _, e := range d.New[:min(5, len(d.New))] {
		rows = append(rows, []string{e.ID, e.Time, e.TrialUnit, e.Plant, string(e.What), strings.TrimSpace(quantity.Number(e.Value, 4) + " " + e.What.Unit())})
	}
	if len(rows) > 0 {
		writeTable(w.Out, []column{{head: "id"}, {head: "time"}, {head: "unit"}, {head: "plant"}, {head: "what"}, {"value", true}}, rows)
	}
	for _, x := range d.Conflicts {
		stays := "the trial's stays; --take takes the table's"
		if o.take {
			stays = "the table's is taken"
		}
		writeParagraph(w.Out, "  in conflict: ", fmt.Sprintf("%s: unit %s, plant %s, %s is %s in the trial (%s) and %s in the table; %s.", x.Place, x.Says.TrialUnit, x.Says.Plant, x.Says.What, trialbook.SaidOf(x.Has), x.Has.ID, trialbook.SaidOf(x.Says), stays))
	}
	writeParagraphs(w.Out, "  please look: ", d.Doubts)
	switch {
	case !o.yes:
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
	var at trialsAt
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
		RunE: func(cmd *cobra.Command, args []string) error {
			return at.with(cmd, w, args[0], func(place trialbook.Place, p *trialbook.Page) error {
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
			})
		},
	}
	at.flag(cmd)
	byFlag(cmd.Flags(), &by)
	return cmd
}
