package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/app/kept"
	"underlamp/app/notes"
	"underlamp/app/trialbook"
	"underlamp/formats/benchfolder"
	"underlamp/formats/sheet"
	"underlamp/safefolder"
	"underlamp/store"
)

// tableOptions say how a table of others is read, and whether it is kept.
type tableOptions struct {
	columns []string
	sheet   string
	heading int
	order   string // "day" or "month"
	decimal string // "comma" or "point"
	year    int
	take    bool
	yes     bool
}

func (o *tableOptions) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringArrayVar(&o.columns, "column", nil, "what a column is, such as Weight=mass; may be given several times")
	f.StringVar(&o.sheet, "sheet", "", "name of the sheet of a workbook; without it the first with anything in it")
	f.IntVar(&o.heading, "heading", 0, "row of the heading; without it the likeliest")
	f.StringVar(&o.order, "first", "", "what stands first in a date such as 03/04/2026: day or month")
	f.StringVar(&o.decimal, "decimal", "", "decimal mark where numbers leave it open: comma or point")
	f.IntVar(&o.year, "year", 0, "year of days that are written without one")
	f.BoolVar(&o.take, "take", false, "where the table differs from what is there, the table counts")
	f.BoolVar(&o.yes, "yes", false, "do it; without it, what would be done is said")
}

func (o *tableOptions) mapping() (map[string]string, error) {
	said := map[string]string{}
	for _, c := range o.columns {
		i := strings.LastIndexByte(c, '=')
		if i < 1 {
			return nil, wrongf("--column %q: write HEADING=MEANING", c)
		}
		said[c[:i]] = strings.TrimSpace(c[i+1:])
	}
	return said, nil
}

func (o *tableOptions) conventions() (sheet.Conventions, error) {
	c := sheet.Conventions{Year: o.year}
	yes, no := true, false
	switch o.order {
	case "":
	case "day":
		c.DayFirst = &yes
	case "month":
		c.DayFirst = &no
	default:
		return c, wrongf("--first is day or month, not %q", o.order)
	}
	switch o.decimal {
	case "":
	case "comma":
		c.Comma = &yes
	case "point":
		c.Comma = &no
	default:
		return c, wrongf("--decimal is comma or point, not %q", o.decimal)
	}
	if o.year != 0 && (o.year < 1970 || o.year > 2199) {
		return c, wrongf("--year %d is none between 1970 and 2199", o.year)
	}
	return c, nil
}

type importOptions struct {
	tableOptions
	into, kind, store, zone string
	day, by, height         string
	seedlings               int
	skip, json              bool
}

func newImport(w World) *cobra.Command {
	var o importOptions
	cmd := &cobra.Command{
		Use:   "import FILE --into BENCH",
		Short: "Take notes of before in: plants, finished crops, readings of light; list, undo",
		Long: `import reads a sheet that somebody has kept (CSV, XLSX or ODS, with headings of any
name) and shows what it would keep: what is new, what is there already, what is in
conflict, and which cells cannot be read. With --yes it keeps that, all or nothing, and
records it, so that undo takes it back.

BENCH is a bench file. Rows of plants go to what was seen on rounds (name the store with
--store), finished crops to cycle files that learn reads, readings of light into the bench
file. With a trial file as BENCH the table is one of that trial, as in trial import. A data
package of a trial or a bench (a zip file) goes into the folder that --into names. With
--store and no such file BENCH is the name of a bench in the store.

What the columns are is proposed with the reason, changed with --column HEADING=MEANING,
and remembered for the next sheet with the same headings. docs/import.md describes it.

Other things come in by: rounds import (an export of rounds), benches import (bench files),
store import (an archive of a whole store), logged and serve --tables (data loggers).`,
		Example: `  An invented diary of plants, into a store that has the rounds of the demo. First a look;
  one cell cannot be read, and is left out when the rest is kept:

  underlamp demo --no-serve
  underlamp rounds import underlamp-demo/tier-2-middle.yaml underlamp-demo/tier-2-middle.seen.json --store notes.db
  underlamp import underlamp-demo/tier-2-middle.diary.csv --into underlamp-demo/tier-2-middle.yaml --store notes.db
  underlamp import underlamp-demo/tier-2-middle.diary.csv --into underlamp-demo/tier-2-middle.yaml --store notes.db --skip --yes

  What was taken in, by which it can be taken back with underlamp import undo:

  underlamp import list underlamp-demo`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return &wrongError{err: fmt.Errorf("%s takes one file, for example: %s diary.xlsx --into mybench.yaml", cmd.CommandPath(), cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.into == "" {
				return wrongf("say with --into which bench file, or which trial file, %s is of", args[0])
			}
			return takeNotes(cmd, w, o, args[0])
		},
	}
	o.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.into, "into", "", "the bench file, or the trial file")
	f.StringVar(&o.kind, "as", "", "what the rows are: plants, cycles or readings (default: as the columns say)")
	f.StringVar(&o.day, "day", "", "day of rows that do not say it, such as 2026-10-01")
	f.StringVar(&o.by, "by", "", also(byUsage, "of rows that do not say it, and who imports"))
	f.StringVar(&o.height, "height", "", "how high over the planting surface, such as \"5 cm\"; of readings that do not say it")
	f.IntVar(&o.seedlings, "seedling-days", 0, "days from sowing to transplanting, of crops that do not say when they were transplanted")
	f.BoolVar(&o.skip, "skip", false, "leave out cells that cannot be read, and keep the rest")
	jsonFlag(f, &o.json, "")
	storeFlag(cmd.PersistentFlags(), &o.store, "")
	zoneFlag(cmd.PersistentFlags(), &o.zone, "")
	var by string
	list := &cobra.Command{Use: "list [FOLDER]", Short: "What was imported beside the bench files of a folder, or in a store", Args: arguments(0, 1, "one folder"), RunE: func(cmd *cobra.Command, args []string) error {
		return withOffice(cmd, w, o, folderOf(args, o), false, func(office *notes.Office) error { return listImports(w, office, o.json) })
	}}
	jsonFlag(list.Flags(), &o.json, "")
	undo := &cobra.Command{Use: "undo IMPORT [FOLDER]", Example: "  underlamp import undo 1 --store readings.db", Short: "Take an import back; what somebody has corrected since stays, and is told", Args: arguments(1, 2, "the id of an import, as underlamp import list shows it"), RunE: func(cmd *cobra.Command, args []string) error {
		return withOffice(cmd, w, o, folderOf(args[1:], o), false, func(office *notes.Office) error {
			r, err := office.Undo(cmd.Context(), args[0], by)
			if err != nil {
				return wrongf("%v", err)
			}
			fmt.Fprintf(w.Out, "%s of %s is taken back.\n", r.ID, r.File)
			writeParagraphs(w.Out, "  stays: ", r.Undone.Told)
			return nil
		})
	}}
	byFlag(undo.Flags(), &by)
	cmd.AddCommand(list, undo)
	return cmd
}

// folderOf is the folder of a command; empty for the store alone.
func folderOf(args []string, o importOptions) string {
	switch {
	case len(args) > 0:
		return args[0]
	case o.store != "":
		return ""
	}
	return "."
}

// withOffice opens where benches lie: a folder, a store, or both.
func withOffice(cmd *cobra.Command, w World, o importOptions, folder string, make bool, do func(office *notes.Office) error) error {
	zone, err := roundsOptions{zone: o.zone}.location()
	if err != nil {
		return err
	}
	office := &notes.Office{Zone: zone, Now: time.Now}
	var f *safefolder.Folder
	if folder != "" {
		if f, err = safefolder.Open(folder); err != nil {
			return wrongf("the folder cannot be opened: %v", err)
		}
		office.Place = f
	}
	work := func(s store.Store) error {
		var keep kept.Store
		if s != nil {
			office.Seen, keep = s, s
		}
		if f == nil {
			office.Place = kept.NewPlace(cmd.Context(), s, time.Now)
		}
		desk := kept.NewDesk(keep, f, time.Now)
		office.Add, office.Drop = desk.AddFiles, desk.RemoveFiles
		office.Save = func(ctx context.Context, bench string, text, base []byte, by, why string) error {
			return desk.Save(ctx, kept.Save{Bench: bench, Text: text, Base: base, By: by, Why: why})
		}
		return do(office)
	}
	if o.store == "" {
		return work(nil)
	}
	return openerOf(w, &o.store)(cmd, make && folder != "", work)
}

func takeNotes(cmd *cobra.Command, w World, o importOptions, file string) error {
	said, err := o.mapping()
	if err != nil {
		return err
	}
	conv, err := o.conventions()
	if err != nil {
		return err
	}
	folder, name := filepath.Dir(o.into), filepath.Base(o.into)
	_, err = os.Stat(o.into)
	switch {
	case err == nil && benchfolder.KindOf(os.DirFS(folder), name) == benchfolder.TrialFile:
		at := trialsAt{}
		return at.with(cmd, w, o.into, func(place trialbook.Place, p *trialbook.Page) error {
			return runImport(w, place, p, o.into, file, o.tableOptions)
		})
	case errors.Is(err, fs.ErrNotExist) && o.store != "":
		folder = ""
		if !benchfolder.IsYAML(name) {
			name += ".yaml"
		}
	case err != nil:
		return wrongf("%s cannot be opened: %v", o.into, err)
	}
	raw, err := readAtMost(file, sheet.MaxBytes)
	if err != nil {
		return err
	}
	make := o.yes
	if _, err := os.Stat(o.store); !o.yes && o.store != "" && folder != "" && !strings.Contains(o.store, "://") && errors.Is(err, fs.ErrNotExist) {
		// What would be kept in a store that --yes will make is seen in an empty one.
		empty, err := os.MkdirTemp("", "underlamp")
		if err != nil {
			return err
		}
		defer os.RemoveAll(empty)
		o.store, make = filepath.Join(empty, "look.db"), true
	}
	if notes.IsPackage(raw) {
		if info, err := os.Stat(o.into); err == nil && info.IsDir() {
			folder = o.into
		}
		return withOffice(cmd, w, o, folder, make, func(office *notes.Office) error { return takePackage(cmd, w, o, office, file, raw) })
	}
	return withOffice(cmd, w, o, folder, make, func(office *notes.Office) error {
		if folder == "" && benchfolder.KindOf(office.Place, name) == benchfolder.TrialFile {
			at := trialsAt{store: o.store}
			return at.with(cmd, w, name, func(place trialbook.Place, p *trialbook.Page) error {
				return runImport(w, place, p, name, file, o.tableOptions)
			})
		}
		s := notes.Said{Kind: notes.Kind(o.kind), Sheet: o.sheet, Heading: o.heading, Columns: said, Day: o.day, By: o.by, Height: o.height, Seedlings: o.seedlings, DayFirst: conv.DayFirst, Comma: conv.Comma, Year: conv.Year, Skip: o.skip, Take: o.take}
		base := filepath.Base(file)
		if !o.yes {
			d, err := office.Look(cmd.Context(), base, raw, name, s)
			if err != nil {
				return wrongf("%s: %v", file, err)
			}
			return showDraft(w, o, d, nil)
		}
		d, r, err := office.Take(cmd.Context(), base, raw, name, s, o.by)
		if err != nil && d == nil {
			return wrongf("%s: %v", file, err)
		}
		if err != nil {
			if shown := showDraft(w, o, d, nil); shown != nil {
				return shown
			}
			return wrongf("%s: %v", file, err)
		}
		return showDraft(w, o, d, r)
	})
}

// takePackage takes a data package in, or shows what that would do.
func takePackage(cmd *cobra.Command, w World, o importOptions, office *notes.Office, file string, raw []byte) error {
	base := filepath.Base(file)
	d, err := office.LookPackage(cmd.Context(), base, raw)
	var r *notes.Record
	if err == nil && o.yes {
		d, r, err = office.TakePackage(cmd.Context(), base, raw, o.by)
	}
	if err != nil {
		return wrongf("%s: %v", file, err)
	}
	if o.json {
		all := func(s []string) []string { return append([]string{}, s...) }
		return writeJSON(w, packageOut{base, d.Hash, d.Title, d.Kind, d.Begin, all(d.New), all(d.Same), all(d.Conflicts), d.Entries, d.SameEntries, all(d.Notes), d.Ready(), r})
	}
	fmt.Fprintf(w.Out, "%s: %s, a package of a %s that begins with %s\n%s new, %d there already, %d there with another content\n", base, d.Title, d.Kind, d.Begin, count(len(d.New), "file"), len(d.Same), len(d.Conflicts))
	if d.Entries+d.SameEntries > 0 {
		fmt.Fprintf(w.Out, "Of what was seen on rounds: %d new, %d there already\n", d.Entries, d.SameEntries)
	}
	writeParagraphs(w.Out, "  new: ", d.New)
	writeParagraphs(w.Out, "  in conflict: ", d.Conflicts)
	writeParagraphs(w.Out, "  note: ", d.Notes)
	switch {
	case r != nil:
		fmt.Fprintf(w.Out, "Kept as import %s; underlamp import undo %s takes it back.\n", r.ID, r.ID)
	case len(d.Conflicts) > 0:
		fmt.Fprintln(w.Out, "It cannot be kept beside files of other content: take it into an empty folder.")
	case !d.Ready():
		fmt.Fprintln(w.Out, "There is nothing new to keep.")
	default:
		fmt.Fprintln(w.Out, "Nothing is kept yet; --yes keeps it.")
	}
	return nil
}

const mostPrinted = 40 // lines of a list

// showDraft prints what an import would do, or has done.
func showDraft(w World, o importOptions, d *notes.Draft, r *notes.Record) error {
	if o.json {
		return writeJSON(w, importOut{*d, r})
	}
	where := d.File
	if d.Sheet != "" {
		where += ", sheet " + d.Sheet
	}
	fmt.Fprintf(w.Out, "%s: %s (%s), %s\n\n", where, d.Kind.Says(), d.KindWhy, count(d.Rows, "row"))
	var rows [][]string
	for _, c := range d.Columns {
		sample := ""
		if len(c.Sample) > 0 {
			sample = c.Sample[0]
		}
		rows = append(rows, []string{c.Heading, c.Is, oneLine(sample, 24), oneLine(c.Why, 90)})
	}
	writeTable(w.Out, []column{{head: "column"}, {head: "is"}, {head: "such as"}, {head: "why"}}, rows)
	fmt.Fprintf(w.Out, "\n%d new, %d there already, %d in conflict, %s that cannot be read, %d empty, %s left out\n", len(d.New), d.Same, len(d.Conflicts), count(d.FaultCount(), "cell"), d.Empty, count(len(d.Left), "row"))
	rows = nil
	for _, i := range d.New[:min(len(d.New), mostPrinted)] {
		over := i.Note
		if i.Over != "" {
			over = strings.TrimSpace("instead of " + i.Over + " " + over)
		}
		rows = append(rows, []string{i.Place, i.About, i.What, i.Text, i.Day, oneLine(over, 60)})
	}
	if len(rows) > 0 {
		fmt.Fprintln(w.Out)
		writeTable(w.Out, []column{{head: "new at"}, {head: "of"}, {head: "what"}, {head: "value"}, {head: "day"}, {head: "note"}}, rows)
		if n := len(d.New) - mostPrinted; n > 0 {
			fmt.Fprintf(w.Out, "and %d more\n", n)
		}
	}
	list := func(prefix string, all []string) {
		writeParagraphs(w.Out, prefix, all[:min(len(all), mostPrinted)])
		if n := len(all) - mostPrinted; n > 0 {
			fmt.Fprintf(w.Out, "%sand %d more\n", prefix, n)
		}
	}
	var lines []string
	for _, c := range d.Conflicts {
		stays := "what is there stays; --take takes the sheet's"
		if c.Take {
			stays = "the sheet's is taken"
		}
		lines = append(lines, fmt.Sprintf("%s: %s, %s, %s is %s here and %s in the sheet; %s.", c.Place, c.About, c.What, c.Day, c.Has, c.Says, stays))
	}
	list("  in conflict: ", lines)
	lines = nil
	for _, f := range d.Faults {
		says := fmt.Sprintf("“%s” in the column “%s”", f.Says, f.Heading)
		switch {
		case f.Says == "" && f.Heading == "":
			says = "it lacks something"
		case f.Says == "":
			says = fmt.Sprintf("the column “%s” is empty", f.Heading)
		case f.Heading == "":
			says = f.Says
		}
		lines = append(lines, fmt.Sprintf("%s: %s; wanted: %s", f.Place, says, f.Want))
	}
	list("  cannot be read: ", lines)
	list("  left out: ", d.Left)
	list("  note: ", d.Notes)
	list("  please look: ", d.Doubts)
	list("  to be said: ", d.Asked)
	switch {
	case r != nil:
		fmt.Fprintf(w.Out, "Kept as import %s; underlamp import undo %s takes it back.\n", r.ID, r.ID)
	case len(d.Asked) > 0:
	case len(d.New) == 0:
		fmt.Fprintln(w.Out, "There is nothing new to keep.")
	case o.yes:
	case !d.Ready():
		fmt.Fprintln(w.Out, "Nothing is kept yet. Mend what cannot be read, or leave it out with --skip; --yes keeps the rest.")
	default:
		fmt.Fprintln(w.Out, "Nothing is kept yet; --yes keeps it.")
	}
	return nil
}

// oneLine shortens a text to so many characters of one line.
func oneLine(s string, most int) string {
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

func listImports(w World, office *notes.Office, json bool) error {
	all, err := office.Records()
	if err != nil {
		return err
	}
	if json {
		return writeJSON(w, importsOut{append([]notes.Record{}, all...)})
	}
	if len(all) == 0 {
		fmt.Fprintln(w.Out, "Nothing was imported here yet.")
		return nil
	}
	var rows [][]string
	for i := len(all) - 1; i >= 0; i-- {
		r := all[i]
		state := "kept"
		switch {
		case r.Undone != nil:
			state = "taken back on " + r.Undone.At.In(office.Zone).Format(time.DateOnly)
		case !r.Done:
			state = "stopped midway: take it back, and in again"
		}
		rows = append(rows, []string{r.ID, r.At.In(office.Zone).Format("2006-01-02 15:04"), r.File, r.Into, string(r.Said.Kind), fmt.Sprint(r.New), r.By, state})
	}
	writeTable(w.Out, []column{{head: "import"}, {head: "when"}, {head: "file"}, {head: "bench"}, {head: "of"}, {"new", true}, {head: "who"}, {head: "state"}}, rows)
	return nil
}

// importOut is what an import would do, or has done.
type importOut struct {
	notes.Draft
	Kept *notes.Record `json:",omitempty" doc:"the record of the import, once it is kept"`
}

// packageOut is what taking a data package in would do, or has done.
type packageOut struct {
	File        string        `json:"file" doc:"as it is called"`
	Hash        string        `json:"sha256" doc:"of its bytes, in hexadecimal"`
	Title       string        `json:"title" doc:"of the package"`
	Kind        string        `json:"kind" doc:"what it is of: trial or bench"`
	Begin       string        `json:"begin" doc:"the file to begin with"`
	New         []string      `json:"new" doc:"files that would be kept"`
	Same        []string      `json:"there_already" doc:"files that are there as they are"`
	Conflicts   []string      `json:"conflicts" doc:"files that are there with another content; nothing is kept then"`
	Entries     int           `json:"entries" doc:"of rounds, that would be kept in the store"`
	SameEntries int           `json:"entries_there_already" doc:"of rounds, that are there"`
	Notes       []string      `json:"notes" doc:"what a person should know"`
	Ready       bool          `json:"ready" doc:"there is something to keep, and nothing in the way"`
	Kept        *notes.Record `json:"kept,omitempty" doc:"the record of the import, once it is kept"`
}

// importsOut is the imports of a folder or a store.
type importsOut struct {
	Imports []notes.Record `json:"imports" doc:"in order of time"`
}
