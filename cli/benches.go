package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/app/kept"
	"underlamp/formats/benchfolder"
	"underlamp/store"
)

func newBenches(w World) *cobra.Command {
	var address string
	cmd := &cobra.Command{
		Use:   "benches",
		Short: "Benches in a store: bring files in, take them out, what was so when",
		Long: `benches keeps bench files, and what lies beside them (cycle files, profiles,
photometric files, spectra, tables), in the store of underlamp serve --store. Every version
of a bench stays, with the date from which it holds; the bytes come out as they went in.

underlamp serve FOLDER --store S does the same of its own accord: a file that was
changed becomes the next version. Without a folder it shows the benches of the store.`,
		Example: `  The demo into a store, and what is in there:

  underlamp demo --no-serve
  underlamp benches import underlamp-demo --store readings.db
  underlamp benches list --store readings.db

  The lamps hung lower since Monday already, a slip that is put right; then all versions,
  the text of one of them, and everything as files again:

  underlamp benches import underlamp-demo/tier-2-middle.yaml --since 2026-11-23 --store readings.db
  underlamp benches history tier-2-middle --store readings.db
  underlamp benches show tier-2-middle --at 2026-11-23 --store readings.db > then.yaml
  underlamp benches correct tier-2-middle --number 2 --since 2026-11-20 --by Ida --why "it hung there before" --store readings.db
  underlamp benches export out --store readings.db

  Everything of a bench for others, as an open package:

  underlamp benches package tier-2-middle --store readings.db -o tier-2.zip`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return &wrongError{err: fmt.Errorf("%q is no part of benches; it has import, list, history, show, correct, export, package and remove", args[0])}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	storeFlag(cmd.PersistentFlags(), &address, "")
	open := openerOf(w, &address)
	var since, by, showAt string
	imports := &cobra.Command{Use: "import FILE|FOLDER", Short: "Bring a bench file, or all of a folder, into the store", Args: arguments(1, 1, "one file or folder"), RunE: func(cmd *cobra.Command, args []string) error {
		opt := kept.Options{Now: time.Now(), By: by}
		if since != "" {
			t, err := instant(since)
			if err != nil {
				return err
			}
			if t.After(opt.Now) {
				return &wrongError{err: fmt.Errorf("--since %s has not come yet; a bench is entered when it is so", since)}
			}
			opt.Since = t
		}
		folder, err := benchesOf(w, args[0], &opt)
		if err != nil {
			return err
		}
		return open(cmd, true, func(s store.Store) error {
			changes, skipped, err := kept.Import(cmd.Context(), s, folder, opt)
			if err != nil {
				return err
			}
			for _, c := range changes {
				if c.Bench {
					fmt.Fprintf(w.Out, "%s: version %d\n", c.Name, c.Number)
				} else {
					fmt.Fprintf(w.Out, "%s\n", c.Name)
				}
			}
			for _, name := range skipped {
				fmt.Fprintf(w.Err, "%s was left out: it is larger than %d MB, or one too many.\n", name, kept.MostBytes>>20)
			}
			if len(changes) == 0 {
				fmt.Fprintln(w.Out, "The store has all of it already.")
			}
			return nil
		})
	}}
	imports.Flags().StringVar(&since, "since", "", "since when it is so, such as 2026-11-23 or \"2026-11-23 08:00\" (default: when the file was changed)")
	byFlag(imports.Flags(), &by)
	show := &cobra.Command{Use: "show BENCH", Short: "Print the bench file that holds now, or held at a time", Args: arguments(1, 1, "the name of one bench"), RunE: func(cmd *cobra.Command, args []string) error {
		at := time.Now()
		if showAt != "" {
			t, err := instant(showAt)
			if err != nil {
				return err
			}
			at = t
		}
		return open(cmd, false, func(s store.Store) error {
			v, err := s.Bench(cmd.Context(), args[0], store.At(at))
			if errors.Is(err, store.ErrNotFound) || err == nil && len(v.Text) == 0 {
				return &wrongError{err: fmt.Errorf("there is no bench %q at that time; underlamp benches list and history show what there is", args[0])}
			} else if err != nil {
				return err
			}
			_, err = w.Out.Write(v.Text)
			return err
		})
	}}
	show.Flags().StringVar(&showAt, "at", "", "time, such as 2026-11-23 or \"2026-11-23 08:00\" (default: now)")
	var correctFrom, why string
	var version int
	correct := &cobra.Command{Use: "correct BENCH", Short: "Say that a version began earlier, or later; what was entered stays", Args: arguments(1, 1, "the name of one bench"), RunE: func(cmd *cobra.Command, args []string) error {
		if version < 1 || correctFrom == "" {
			return &wrongError{err: errors.New("say which version by its --number in benches history, and --since when it was so")}
		}
		from, err := instant(correctFrom)
		if err != nil {
			return err
		}
		return open(cmd, true, func(s store.Store) error {
			all, err := s.History(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			i := slices.IndexFunc(all, func(v store.Version) bool { return v.Number == version })
			if i < 0 {
				return &wrongError{err: fmt.Errorf("bench %q has no version %d; underlamp benches history shows them", args[0], version)}
			}
			err = kept.NewDesk(s, nil, time.Now).Correct(cmd.Context(), args[0], store.Time(all[i].From), from, by, why)
			var carry *kept.CarryError
			switch {
			case errors.As(err, &carry), errors.Is(err, store.ErrNotFound), errors.Is(err, kept.ErrPast):
				return &wrongError{err: err}
			case err != nil:
				return err
			}
			fmt.Fprintf(w.Out, "%s: what version %d brought is so since %s. What was entered stays in the history.\n", args[0], version, from.Format("2006-01-02 15:04"))
			return nil
		})
	}}
	correct.Flags().IntVar(&version, "number", 0, "number of the version, as benches history shows it")
	renamedFlag(w, correct.Flags(), "version", "number")
	correct.Flags().StringVar(&correctFrom, "since", "", "since when it is so, such as 2026-11-23 or \"2026-11-23 08:00\"")
	renamedFlag(w, correct.Flags(), "from", "since")
	byFlag(correct.Flags(), &by)
	correct.Flags().StringVar(&why, "why", "", "why it was entered otherwise")
	var asJSON bool
	list := &cobra.Command{Use: "list", Short: "List the benches", Args: cobra.NoArgs, RunE: func(cmd *cobra.Command, _ []string) error {
		return open(cmd, false, func(s store.Store) error { return listBenches(cmd.Context(), w, s, asJSON) })
	}}
	history := &cobra.Command{Use: "history BENCH", Short: "Tell what of a bench was changed when, and what was put right", Args: arguments(1, 1, "the name of one bench"), RunE: func(cmd *cobra.Command, args []string) error {
		return open(cmd, false, func(s store.Store) error {
			all, err := s.History(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			if len(all) == 0 {
				return &wrongError{err: fmt.Errorf("there is no bench %q; underlamp benches list shows what there is", args[0])}
			}
			if asJSON {
				return writeJSON(w, benchHistoryJSON(all))
			}
			writeHistory(w, all)
			return nil
		})
	}}
	for _, c := range []*cobra.Command{list, history} {
		jsonFlag(c.Flags(), &asJSON, "")
	}
	cmd.AddCommand(imports, correct, list, history, newBenchPackage(w, &address),
		show,
		&cobra.Command{Use: "export FOLDER", Short: "Write benches and files into a new folder", Args: arguments(1, 1, "the name of a new folder"), RunE: func(cmd *cobra.Command, args []string) error {
			return open(cmd, false, func(s store.Store) error { return exportBenches(cmd.Context(), w, s, args[0]) })
		}},
		&cobra.Command{Use: "remove BENCH", Example: "  underlamp benches remove tier-3-bottom --store readings.db", Short: "Say that a bench is there no more; its history stays", Args: arguments(1, 1, "the name of one bench"), RunE: func(cmd *cobra.Command, args []string) error {
			return open(cmd, false, func(s store.Store) error {
				err := kept.Remove(cmd.Context(), s, args[0], time.Now(), by)
				if errors.Is(err, store.ErrNotFound) {
					return &wrongError{err: fmt.Errorf("there is no bench %q; underlamp benches list shows what there is", args[0])}
				} else if err != nil {
					return err
				}
				fmt.Fprintf(w.Out, "%s is there no more. Its history and readings stay.\n", args[0])
				return nil
			})
		}})
	return cmd
}

// writeHistory tells the versions of a bench as they count now, and those put right.
func writeHistory(w World, all []store.Version) {
	steps, corrected := kept.Timeline(all)
	var rows [][]string
	for _, x := range steps {
		what := strings.Join(x.Changes, "; ")
		if x.Fault != "" {
			what = x.Fault
		}
		if x.Why != "" {
			what = strings.TrimPrefix(what+" ("+x.Why+")", " ")
		}
		rows = append(rows, []string{fmt.Sprint(x.Number), local(x.From), local(x.Recorded), x.By, what})
	}
	writeTable(w.Out, []column{{head: "version", right: true}, {head: "holds from"}, {head: "recorded"}, {head: "by"}, {head: "what became otherwise"}}, rows)
	if len(corrected) == 0 {
		return
	}
	fmt.Fprintln(w.Out, "\nPut right since, and kept:")
	rows = nil
	for _, c := range corrected {
		rows = append(rows, []string{fmt.Sprint(c.Number), local(c.From), local(c.Recorded), c.Version.By, fmt.Sprint(c.By.Number)})
	}
	writeTable(w.Out, []column{{head: "version", right: true}, {head: "for the time from"}, {head: "recorded"}, {head: "by"}, {head: "now counts version", right: true}}, rows)
}

// benchesOf is the folder to import from. Bench files with errors are refused, before
// anything is entered.
func benchesOf(w World, path string, opt *kept.Options) (fs.FS, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("there is nothing to import: %w", err)}
	}
	if !info.IsDir() {
		b, err := load(w, path)
		if err != nil {
			return nil, err
		}
		opt.Names = append(benchfolder.Named(b), filepath.Base(path))
		return os.DirFS(filepath.Dir(path)), nil
	}
	folder := os.DirFS(path)
	entries, err := fs.ReadDir(folder, ".")
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		if !e.IsDir() && kept.IsBench(folder, e.Name()) {
			if _, err := load(w, filepath.Join(path, e.Name())); err != nil {
				return nil, err
			}
		}
	}
	return folder, nil
}

func listBenches(ctx context.Context, w World, s store.Store, asJSON bool) error {
	names, err := s.Benches(ctx)
	if err != nil {
		return err
	}
	var rows [][]string
	out := benchesOut{Benches: []benchVersionOut{}}
	for _, name := range names {
		v, err := s.Bench(ctx, name, store.At(time.Now()))
		if errors.Is(err, store.ErrNotFound) || err == nil && len(v.Text) == 0 {
			continue
		} else if err != nil {
			return err
		}
		rows = append(rows, []string{name, fmt.Sprint(v.Number), local(v.From)})
		out.Benches = append(out.Benches, benchVersionOut{name, v.Number, store.Time(v.From).UTC()})
	}
	if asJSON {
		return writeJSON(w, out)
	}
	if len(rows) == 0 {
		fmt.Fprintln(w.Out, "No bench is kept. underlamp benches import FOLDER brings them in.")
		return nil
	}
	writeTable(w.Out, []column{{head: "bench"}, {head: "version", right: true}, {head: "holds from"}}, rows)
	return nil
}

// exportBenches writes into a folder that is not there yet, so that nothing is
// overwritten.
func exportBenches(ctx context.Context, w World, s store.Store, path string) error {
	if err := os.Mkdir(path, 0o755); err != nil {
		return &wrongError{err: fmt.Errorf("the folder cannot be made: %w; name a new one", err)}
	}
	root, err := os.OpenRoot(path)
	if err != nil {
		return err
	}
	defer root.Close()
	n := 0
	err = kept.Export(ctx, s, time.Now(), func(name string, text []byte, changed time.Time) error {
		n++
		if dir := filepath.Dir(name); dir != "." {
			if err := root.MkdirAll(dir, 0o755); err != nil {
				return err
			}
		}
		if err := root.WriteFile(name, text, 0o644); err != nil {
			return err
		}
		return root.Chtimes(name, changed, changed)
	})
	if err != nil {
		return fmt.Errorf("not all of it was written to %s: %w", path, err)
	}
	fmt.Fprintf(w.Out, "Files written to %s: %d\n", path, n)
	return nil
}

// instant reads a day or a minute by the clock of this machine.
func instant(text string) (time.Time, error) {
	for _, layout := range []string{time.DateOnly, "2006-01-02 15:04", "2006-01-02T15:04", time.RFC3339} {
		if t, err := time.ParseInLocation(layout, strings.TrimSpace(text), time.Local); err == nil {
			return t, nil
		}
	}
	return time.Time{}, &wrongError{err: fmt.Errorf("%q is no date; write 2026-11-23 or \"2026-11-23 08:00\"", text)}
}

// local prints an instant of a store by the clock of this machine.
func local(at int64) string { return store.Time(at).Local().Format("2006-01-02 15:04") }
