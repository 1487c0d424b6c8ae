package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
	"underlamp/report"
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
	cmd.AddCommand(newTrialDesign(w), newTrialSheet(w), newTrialRecord(w), newTrialImport(w), newTrialFindings(w))
	return cmd
}

func oneTrial(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return &wrongError{err: fmt.Errorf("%s takes one trial file, for example: %s mine.trial.yaml", cmd.CommandPath(), cmd.CommandPath())}
	}
	return nil
}

// loadTrial reads a trial file; its mistakes are shown.
func loadTrial(w World, name string) (*underlamp.Trial, error) {
	source, err := os.ReadFile(name)
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("the trial file cannot be opened: %w; underlamp trial design writes one", err)}
	}
	t, problems, err := trialfile.Read(bytes.NewReader(source))
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
	}
	if len(problems) > 0 {
		fmt.Fprint(w.Err, problems.Render(name, source, w.Colour))
	}
	if t == nil {
		return nil, &wrongError{err: fmt.Errorf("%s has errors", name), shown: true}
	}
	return t, nil
}

// tableOf is the file of the table of a trial.
func tableOf(t *underlamp.Trial, file string) (string, error) {
	if t.Table == "" {
		return "", wrongf("%s names no table; write table: mine.trial.csv", file)
	}
	return filepath.Join(filepath.Dir(file), filepath.FromSlash(t.Table)), nil
}

// loadTable reads what was seen so far; nothing if there is no table yet.
func loadTable(t *underlamp.Trial, file string) (string, []underlamp.TrialEntry, error) {
	name, err := tableOf(t, file)
	if err != nil {
		return "", nil, err
	}
	raw, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return name, nil, nil
	}
	if err != nil {
		return "", nil, fmt.Errorf("the table cannot be read: %w", err)
	}
	all, err := trialtable.Read(raw)
	if err != nil {
		return "", nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
	}
	return name, all, nil
}

// appendTable sets entries at the end of the table.
func appendTable(name string, entries []underlamp.TrialEntry, first bool) error {
	out, err := os.OpenFile(name, os.O_CREATE|os.O_APPEND|os.O_RDWR, 0o644)
	if err != nil {
		return fmt.Errorf("the table cannot be written: %w", err)
	}
	defer out.Close()
	var b bytes.Buffer
	if info, err := out.Stat(); err == nil && info.Size() > 0 { // an editor may have left the last line open
		last := make([]byte, 1)
		if _, err := out.ReadAt(last, info.Size()-1); err == nil && last[0] != '\n' {
			b.WriteByte('\n')
		}
	}
	if err := trialtable.Append(&b, entries, first); err != nil {
		return err
	}
	if _, err := out.Write(b.Bytes()); err != nil {
		return fmt.Errorf("the table cannot be written: %w", err)
	}
	return out.Close()
}

func newTrialFindings(w World) *cobra.Command {
	var json, withWorking bool
	var out string
	cmd := &cobra.Command{
		Use:   "findings TRIAL",
		Short: "What a trial tells, never more than its units allow",
		Example: `  underlamp trial findings underlamp-demo/light-levels.trial.yaml --working

  prints each figure with formula, inputs and source. As a page, with every plant drawn:

  underlamp trial findings underlamp-demo/light-levels.trial.yaml -o findings.html`,
		Args: oneTrial,
		RunE: func(_ *cobra.Command, args []string) error {
			t, err := loadTrial(w, args[0])
			if err != nil {
				return err
			}
			_, all, err := loadTable(t, args[0])
			if err != nil {
				return err
			}
			standing := trialtable.Standing(all)
			f, err := trial.Find(t, standing)
			if err != nil {
				return &wrongError{err: fmt.Errorf("%s: %w", args[0], err)}
			}
			f.Notes = append(f.Notes, trialtable.Doubts(standing)...)
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
			return nil
		},
	}
	cmd.Flags().BoolVar(&json, "json", false, "print the findings as JSON")
	cmd.Flags().StringVarP(&out, "output", "o", "", "write them as an HTML file")
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
		writeParagraphs(w.Out, "  - ", p.Says)
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
	type partOut struct {
		Title   string           `json:"title"`
		Says    []string         `json:"says"`
		Figures []working.Figure `json:"figures"`
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
		out.Parts = append(out.Parts, partOut{p.Title, p.Says, p.Figures})
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
	t, err := loadTrial(w, file)
	if err != nil {
		return err
	}
	name, all, err := loadTable(t, file)
	if err != nil {
		return err
	}
	e := underlamp.TrialEntry{ID: trialtable.NextID(all), Time: o.time, TrialUnit: o.unit, Plant: o.plant, What: underlamp.Response(o.what), Missing: o.missing, By: o.by, With: o.with, Note: o.note, Corrects: o.corrects}
	if o.strike != "" {
		e.Corrects, e.Struck = o.strike, true
	}
	if e.Corrects != "" { // unit, plant and what need not be said again
		found := false
		for _, old := range all {
			if old.ID == e.Corrects {
				found = true
				if e.TrialUnit == "" {
					e.TrialUnit = old.TrialUnit
				}
				if e.Plant == "" {
					e.Plant = old.Plant
				}
				if e.What == "" {
					e.What = old.What
				}
				if e.Time == "" {
					e.Time = old.Time
				}
			}
		}
		if !found {
			return wrongf("the table has no line %q", e.Corrects)
		}
	}
	if err := knownUnit(t, e.TrialUnit); err != nil {
		return err
	}
	if !e.Struck && e.Missing == "" {
		if e.Value, err = trialtable.Value(e.What, o.value); err != nil {
			return wrongf("--value: %v", err)
		}
	}
	var check bytes.Buffer
	if err := trialtable.Append(&check, append(append([]underlamp.TrialEntry{}, all...), e), true); err != nil {
		return err
	}
	again, err := trialtable.Read(check.Bytes())
	if err != nil {
		return wrongf("%v", err)
	}
	if err := appendTable(name, []underlamp.TrialEntry{e}, all == nil); err != nil {
		return err
	}
	fmt.Fprintf(w.Out, "%s: line %s kept\n", name, e.ID)
	for _, s := range trialtable.Doubts(trialtable.Standing(again)) {
		if strings.HasPrefix(s, e.ID+" ") {
			writeParagraph(w.Err, "please look: ", s)
		}
	}
	return nil
}

func knownUnit(t *underlamp.Trial, unit string) error {
	var names []string
	for _, u := range t.Places {
		if u.Name == unit {
			return nil
		}
		names = append(names, u.Name)
	}
	return wrongf("the trial has no unit %q; it has %s", unit, strings.Join(names[:min(8, len(names))], ", "))
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
	t, err := loadTrial(w, file)
	if err != nil {
		return err
	}
	name, all, err := loadTable(t, file)
	if err != nil {
		return err
	}
	new := false
	for _, c := range columns {
		h, is, ok := strings.Cut(c, "=")
		if !ok {
			return wrongf("--column %q: write HEADING=MEANING", c)
		}
		new = new || t.Columns[h] != is
		t.Columns[h] = is
	}
	in, err := os.Open(table)
	if err != nil {
		return wrongf("the table cannot be opened: %v", err)
	}
	defer in.Close()
	raw, err := io.ReadAll(io.LimitReader(in, 16<<20))
	if err != nil {
		return err
	}
	p, err := trialtable.Import(raw, t.Columns, all)
	if err != nil {
		return wrongf("%s: %v", table, err)
	}
	for _, e := range p.New {
		if err := knownUnit(t, e.TrialUnit); err != nil {
			return err
		}
	}
	fmt.Fprintf(w.Out, "%s: %d new values, %d there already, %d empty cells\n", table, len(p.New), p.Duplicates, p.Missing)
	for _, h := range p.Ignored {
		fmt.Fprintf(w.Out, "  the column %q is left out\n", h)
	}
	var rows [][]string
	for _, e := range p.New[:min(5, len(p.New))] {
		rows = append(rows, []string{e.ID, e.Time, e.TrialUnit, e.Plant, string(e.What), strings.TrimSpace(quantity.Number(e.Value, 4) + " " + e.What.Unit())})
	}
	if len(rows) > 0 {
		writeTable(w.Out, []column{{head: "id"}, {head: "time"}, {head: "unit"}, {head: "plant"}, {head: "what"}, {"value", true}}, rows)
	}
	both := append(append([]underlamp.TrialEntry{}, all...), p.New...)
	writeParagraphs(w.Out, "  please look: ", trialtable.Doubts(trialtable.Standing(both)))
	if !yes {
		fmt.Fprintln(w.Out, "Nothing is kept yet; --yes keeps it.")
		return nil
	}
	if len(p.New) > 0 {
		if err := appendTable(name, p.New, all == nil); err != nil {
			return err
		}
	}
	if new {
		if err := rememberColumns(file, t); err != nil {
			return err
		}
	}
	fmt.Fprintf(w.Out, "%s: kept\n", name)
	return nil
}

// rememberColumns sets the mapping into the trial file and leaves the rest of it as a
// person wrote it: the part columns is the last of the file.
func rememberColumns(file string, t *underlamp.Trial) error {
	source, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	var whole bytes.Buffer
	if err := trialfile.Write(&whole, t); err != nil {
		return err
	}
	const mark = "\n# What the columns of imported tables are.\n"
	_, part, _ := strings.Cut(whole.String(), mark)
	before, _, had := strings.Cut(string(source), mark)
	if !had && strings.Contains(string(source), "\ncolumns:") {
		return wrongf("%s has a part columns of its own; write the headings into it", file)
	}
	text := strings.TrimRight(before, "\n") + "\n" + mark + part
	if _, problems, err := trialfile.Read(strings.NewReader(text)); err != nil || problems.HasErrors() {
		return fmt.Errorf("the columns cannot be set into %s: %v %v", file, err, problems)
	}
	return writeFile(file, []byte(text))
}
