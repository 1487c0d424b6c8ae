package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/app/round"
	"underlamp/demo"
	"underlamp/formats/benchfolder"
	"underlamp/formats/cyclefile"
	"underlamp/formats/photofile"
	"underlamp/store"
)

type roundsOptions struct {
	store, zone  string
	plant, out   string
	until        string
	photos       bool
	json, counts bool
	original     bool
}

func newRounds(w World) *cobra.Command {
	var o roundsOptions
	cmd := &cobra.Command{
		Use:   "rounds",
		Short: "What was seen of the plants: list it, take it out and in, hand it to learning",
		Long: `rounds reads what people have entered with their phones on the page Rounds of a bench
(underlamp serve): masses, sizes, burn, notes and photos. BENCH is the bench file, or
its name without the ending. Entries are never changed; a correction is a new entry.

cycle writes what counts of the present crop as a cycle file, which learn reads. What
cycle files beside the bench file tell already is left out, so that nothing is learned
from twice; while two people disagree about a plant, no cycle is written.`,
		Example: `  The demo has invented rounds in its store once it has been served; here they are
  brought in from an export, listed, and written as a table:

  underlamp demo --no-serve
  underlamp rounds import underlamp-demo/tier-2-middle.yaml underlamp-demo/tier-2-middle.seen.json --store seen.db
  underlamp rounds list underlamp-demo/tier-2-middle.yaml --plant P8 --store seen.db
  underlamp rounds export underlamp-demo/tier-2-middle.yaml --store seen.db -o seen.csv

  What counts of the crop, for learning (until 10 November; on the last walk two people
  read different numbers, which the page of what was seen asks about):

  underlamp rounds cycle underlamp-demo/tier-2-middle.yaml --to 2026-11-10 --store seen.db -o underlamp-demo/tier-2-middle.rounds.cycle.yaml`,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	storeFlag(cmd.PersistentFlags(), &o.store, "")
	zoneFlag(cmd.PersistentFlags(), &o.zone, "")
	one := arguments(1, 1, "one bench")
	list := &cobra.Command{Use: "list BENCH", Short: "List what was seen", Args: one, RunE: func(cmd *cobra.Command, args []string) error {
		return withRecord(cmd, w, o, args[0], func(r *round.Record, bench string) error { return listRounds(w, o, r, args[0]) })
	}}
	list.Flags().StringVar(&o.plant, "plant", "", "name of the plant; others are left out")
	list.Flags().BoolVar(&o.counts, "counts", false, "leave out what was corrected or taken out")
	jsonFlag(list.Flags(), &o.json, "as export does")
	export := &cobra.Command{Use: "export BENCH", Short: "Write all entries as a table (CSV), or whole (JSON)", Args: one, RunE: func(cmd *cobra.Command, args []string) error {
		return withRecord(cmd, w, o, args[0], func(r *round.Record, bench string) error {
			var b bytes.Buffer
			write := r.WriteCSV(&b)
			if o.json {
				b.Reset()
				write = r.WriteJSON(&b, bench)
			}
			if write != nil {
				return write
			}
			return o.put(w, b.Bytes())
		})
	}}
	jsonFlag(export.Flags(), &o.json, "everything, for import into another store")
	outputFlag(export.Flags(), &o.out, "standard output")
	imports := &cobra.Command{Use: "import BENCH FILE", Short: "Take an export (JSON) into the store; what is there already stays", Args: arguments(2, 2, "a bench and an export, as underlamp rounds export --json writes it"), RunE: func(cmd *cobra.Command, args []string) error {
		return importRounds(cmd, w, o, args[0], args[1])
	}}
	photos := &cobra.Command{Use: "photos BENCH FOLDER", Example: "  underlamp rounds photos tier-2-middle photos-out --store seen.db", Short: "Write the photos into a new folder, without where they were taken", Args: arguments(2, 2, "a bench and the name of a new folder"), RunE: func(cmd *cobra.Command, args []string) error {
		return exportPhotos(cmd, w, o, args[0], args[1])
	}}
	photos.Flags().BoolVar(&o.original, "original", false, "write them as the phone sent them, with place and camera")
	cycle := &cobra.Command{Use: "cycle FILE", Short: "Write what counts of the present crop as a cycle file, for learn", Args: one, RunE: func(cmd *cobra.Command, args []string) error {
		return withRecord(cmd, w, o, args[0], func(r *round.Record, bench string) error { return cycleOfRounds(cmd, w, o, r, args[0]) })
	}}
	cycle.Flags().StringVar(&o.until, "to", "", "last day, such as 2026-11-10")
	renamedFlag(w, cycle.Flags(), "until", "to")
	cycle.Flags().BoolVar(&o.photos, "photos", false, "also masses by leaf area of photos, each with its error, marked as such")
	outputFlag(cycle.Flags(), &o.out, "standard output")
	cmd.AddCommand(list, export, imports, photos, cycle)
	return cmd
}

// put writes to the file that was asked for, or prints.
func (o roundsOptions) put(w World, data []byte) error {
	if o.out == "" {
		_, err := w.Out.Write(data)
		return err
	}
	if err := writeFile(o.out, data); err != nil {
		return err
	}
	fmt.Fprintf(w.Out, "%s written\n", o.out)
	return nil
}

// benchKey is the name of a bench in the store: that of its file without ending.
func benchKey(name string) string {
	base := filepath.Base(name)
	return strings.TrimSuffix(strings.TrimSuffix(base, ".yaml"), ".yml")
}

func (o roundsOptions) location() (*time.Location, error) {
	if o.zone == "" {
		return time.Local, nil
	}
	z, err := time.LoadLocation(o.zone)
	if err != nil {
		return nil, wrongf("the zone %q is not known; zones are called after places, such as Europe/Berlin or America/Chicago", o.zone)
	}
	return z, nil
}

// withRecord reads what was seen on a bench.
func withRecord(cmd *cobra.Command, w World, o roundsOptions, name string, work func(r *round.Record, bench string) error) error {
	zone, err := o.location()
	if err != nil {
		return err
	}
	return openerOf(w, &o.store)(cmd, false, func(s store.Store) error {
		bench := benchKey(name)
		all, err := s.Observations(cmd.Context(), bench, 0, math.MaxInt64)
		if err != nil {
			return err
		}
		entries, faults := round.ReadAll(all)
		for _, f := range faults {
			fmt.Fprintf(w.Err, "left out: %v\n", f)
		}
		if len(entries) == 0 {
			return wrongf("nothing was seen of a bench %q; the page Rounds of underlamp serve enters it", bench)
		}
		return work(round.NewRecord(entries, zone), bench)
	})
}

func listRounds(w World, o roundsOptions, r *round.Record, name string) error {
	var shown []round.Entry
	for _, e := range r.All {
		if (o.plant == "" || e.Plant == o.plant) && (!o.counts || r.Counts(&e)) {
			shown = append(shown, e)
		}
	}
	if o.json {
		return round.NewRecord(shown, r.Zone()).WriteJSON(w.Out, benchKey(name))
	}
	var rows [][]string
	for _, e := range shown {
		state := ""
		switch after := r.After(e.ID); {
		case e.Struck:
			state = "takes " + e.Corrects + " out"
		case len(after) > 0 && after[len(after)-1].Struck:
			state = "taken out"
		case len(after) > 0:
			state = "corrected: " + after[len(after)-1].Text()
		case e.Corrects != "":
			state = "correction"
		}
		text := e.Text()
		if e.Struck {
			text = ""
		}
		rows = append(rows, []string{e.At.In(r.Zone()).Format("2006-01-02 15:04"), e.Plant, string(e.What), strings.ReplaceAll(text, "\n", " "), e.By, state, e.ID})
	}
	if len(rows) == 0 {
		fmt.Fprintln(w.Out, "Nothing of it was seen.")
	} else {
		writeTable(w.Out, []column{{head: "seen"}, {head: "plant"}, {head: "what"}, {head: "value"}, {head: "who"}, {head: "state"}, {head: "id"}}, rows)
	}
	for _, c := range r.Conflicts() {
		var values []string
		for _, e := range c.Entries {
			values = append(values, e.Text())
		}
		writeParagraph(w.Err, "to be decided: ", fmt.Sprintf("%s, %s on %s: %s. The page of what was seen asks which counts.", c.Plant, c.What, c.Day.Format(time.DateOnly), strings.Join(values, " or ")))
	}
	if _, err := os.Stat(name); err == nil { // with the bench file more can be asked
		b, err := load(w, name)
		if err != nil {
			return err
		}
		for _, d := range r.Doubts(b, time.Now()) {
			if e, ok := r.Find(d.ID); ok && (o.plant == "" || e.Plant == o.plant) {
				writeParagraph(w.Err, "please look: ", fmt.Sprintf("%s, %s. %s", e.Plant, e.What, d.Text))
			}
		}
	}
	return nil
}

func importRounds(cmd *cobra.Command, w World, o roundsOptions, name, file string) error {
	raw, err := readAtMost(file, round.MaxExport)
	if err != nil {
		return err
	}
	from, entries, err := round.ReadJSON(raw)
	if err != nil {
		return wrongf("%s: %v", file, err)
	}
	bench := benchKey(name)
	return openerOf(w, &o.store)(cmd, true, func(s store.Store) error {
		had, err := s.Observations(cmd.Context(), bench, 0, math.MaxInt64)
		if err != nil {
			return err
		}
		var all []store.Observation
		for _, e := range entries {
			e.Bench = bench
			x, err := e.Observation()
			if err != nil {
				return err
			}
			all = append(all, x)
		}
		switch err := s.Observe(cmd.Context(), all); {
		case errors.Is(err, store.ErrDiffers):
			return wrongf("%s: %v: nothing was taken in", file, err)
		case err != nil:
			return err
		}
		now, err := s.Observations(cmd.Context(), bench, 0, math.MaxInt64)
		if err != nil {
			return err
		}
		fmt.Fprintf(w.Out, "%s: %d entries of %s, new %d\n", bench, len(entries), from, len(now)-len(had))
		return nil
	})
}

// readAtMost reads a file that must not be larger.
func readAtMost(file string, most int64) ([]byte, error) {
	info, err := os.Stat(file)
	if err != nil {
		return nil, wrongf("the file cannot be opened: %v", err)
	}
	if info.Size() > most {
		return nil, wrongf("%s is larger than %d MB", file, most>>20)
	}
	return os.ReadFile(file)
}

func exportPhotos(cmd *cobra.Command, w World, o roundsOptions, name, path string) error {
	return openerOf(w, &o.store)(cmd, false, func(s store.Store) error {
		photos, err := s.Photos(cmd.Context(), benchKey(name), 0, math.MaxInt64)
		if err != nil {
			return err
		}
		if len(photos) == 0 {
			return wrongf("there is no photo of a bench %q", benchKey(name))
		}
		all, err := s.Observations(cmd.Context(), benchKey(name), 0, math.MaxInt64)
		if err != nil {
			return err
		}
		entries, _ := round.ReadAll(all)
		of := map[string]round.Entry{}
		for _, e := range entries {
			if e.Photo != "" {
				of[e.Photo] = e
			}
		}
		if err := os.Mkdir(path, 0o755); err != nil {
			return wrongf("the folder cannot be made: %v; name a new one", err)
		}
		root, err := os.OpenRoot(path)
		if err != nil {
			return err
		}
		defer root.Close()
		var list bytes.Buffer
		list.WriteString("file,sha256_of_original,plant,seen\n")
		for _, p := range photos {
			_, data, err := s.Photo(cmd.Context(), p.ID)
			if err != nil {
				return err
			}
			var doc struct {
				SHA256 string `json:"sha256"`
			}
			if err := json.Unmarshal(p.Doc, &doc); err != nil {
				return fmt.Errorf("photo %s: %w", p.ID, err)
			}
			if !o.original {
				if data, err = photofile.Plain(data); err != nil {
					return fmt.Errorf("photo %s: %w", p.ID, err)
				}
			}
			file := p.ID + map[string]string{"image/png": ".png", "image/webp": ".webp"}[p.Media]
			if p.Media == "image/jpeg" {
				file += ".jpg"
			}
			if !fs.ValidPath(file) {
				return fmt.Errorf("photo %q cannot be a file", p.ID)
			}
			if err := root.WriteFile(file, data, 0o644); err != nil {
				return err
			}
			plant, seen := "", ""
			if e, ok := of[p.ID]; ok {
				plant, seen = e.Plant, e.At.Format(time.RFC3339)
			}
			fmt.Fprintf(&list, "%s,%s,%q,%s\n", file, doc.SHA256, plant, seen)
		}
		if err := root.WriteFile("photos.csv", list.Bytes(), 0o644); err != nil {
			return err
		}
		fmt.Fprintf(w.Out, "Photos written to %s: %d\n", path, len(photos))
		return nil
	})
}

func cycleOfRounds(cmd *cobra.Command, w World, o roundsOptions, r *round.Record, file string) error {
	b, err := load(w, file)
	if err != nil {
		return err
	}
	var until time.Time
	if o.until != "" {
		if until, err = time.Parse(time.DateOnly, o.until); err != nil {
			return wrongf("--to %q is no day such as 2026-11-10", o.until)
		}
	}
	c, notes, err := r.Cycle(b, filepath.Base(file), until)
	if err != nil {
		return wrongf("%v", err)
	}
	found, err := benchfolder.Cycles(os.DirFS(filepath.Dir(file)), filepath.Base(file), b)
	if err != nil {
		return err
	}
	for _, f := range found {
		if f.Cycle == nil || o.out != "" && filepath.Clean(o.out) == filepath.Join(filepath.Dir(file), f.Name) {
			continue // the file that is written anew
		}
		if n := round.Without(c, f.Cycle); n > 0 {
			notes = append(notes, fmt.Sprintf("left out: %d that %s tells already", n, f.Name))
		}
	}
	if o.photos {
		err := openerOf(w, &o.store)(cmd, false, func(s store.Store) error {
			book, err := photoBook(cmd.Context(), s, benchKey(file), b, r)
			if err != nil {
				return err
			}
			if !until.IsZero() {
				book.Until(until)
			}
			notes = append(notes, fmt.Sprintf("masses by leaf area of photos: %d", book.AddMasses(c, r.Zone())))
			return nil
		})
		if err != nil {
			return err
		}
	}
	if len(c.Observations) == 0 {
		return wrongf("the cycle files beside %s tell all of it already", file)
	}
	var out bytes.Buffer
	if err := cyclefile.Write(&out, c); err != nil {
		return err
	}
	if again, problems, err := cyclefile.Read(bytes.NewReader(out.Bytes()), b); err != nil || again == nil {
		return fmt.Errorf("what was seen makes no cycle: %v %v", err, problems)
	}
	writeParagraphs(w.Err, "", notes)
	return o.put(w, out.Bytes())
}

// demoRounds enters the invented rounds into a store.
func demoRounds(ctx context.Context, s store.Store) error {
	_, entries, err := round.ReadJSON(demo.File(demo.RoundsFile))
	if err != nil {
		return err
	}
	return round.Put(ctx, s, entries)
}
