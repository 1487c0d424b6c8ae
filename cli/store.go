package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/store"
	"underlamp/store/archive"
	"underlamp/store/retention"
)

// A backer copies itself while it is in use, in the form of its engine.
type backer interface {
	Backup(ctx context.Context, path string) error
}

func newStore(w World) *cobra.Command {
	var address string
	cmd := &cobra.Command{
		Use:   "store",
		Short: "Look after what is kept: copies, checks, how long readings stay",
		Long: `store looks after the file or database that underlamp serve --store keeps everything
in. All of it may be done while the server runs, apart from restore and import, which
fill a store that is new.

backup makes a copy of a file as a file, and of a database as an archive. export makes
an archive of either: a ZIP of open parts (CSV and JSON lines), with the SHA-256 of each,
that import puts into an empty store of the other kind too:

    underlamp store export all.zip --store readings.db
    underlamp store import all.zip --store postgres://grower@host/underlamp`,
		Example: `  A copy, and whether it is whole:

  underlamp device add rack-logger --store readings.db
  underlamp store backup copy.db --store readings.db
  underlamp store verify --store copy.db
  underlamp store restore copy.db --store again.db

  Everything as open parts, and back into another store:

  underlamp store export all.zip --store readings.db
  underlamp store import all.zip --store moved.db
  underlamp store size --store moved.db

  Readings of light stay for 90 days and all others for two years; sums by hour stay
  always. The server does it; forget does it at once:

  underlamp store keep 730d --store readings.db
  underlamp store keep 90d --quantity PPFD --store readings.db
  underlamp store keep --store readings.db
  underlamp store forget --before 2026-01-01 --store readings.db`,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	storeFlag(cmd.PersistentFlags(), &address, "")
	open := openerOf(w, &address)
	var asJSON bool
	size := &cobra.Command{Use: "size", Short: "How much is kept, by sensor", Args: noArguments, RunE: func(cmd *cobra.Command, _ []string) error {
		return open(cmd, false, func(s store.Store) error { return w.size(cmd.Context(), s, asJSON) })
	}}
	jsonFlag(size.Flags(), &asJSON, "")
	cmd.AddCommand(
		&cobra.Command{Use: "backup TO", Short: "Copy the store while it is in use", Args: arguments(1, 1, "the file to write"), RunE: func(cmd *cobra.Command, args []string) error {
			return open(cmd, false, func(s store.Store) error { return w.backup(cmd.Context(), s, args[0]) })
		}},
		&cobra.Command{Use: "restore FROM", Short: "Make a new store of a copy or an archive", Args: arguments(1, 1, "the copy to read"), RunE: func(cmd *cobra.Command, args []string) error {
			if isArchive(args[0]) {
				return w.importFrom(cmd, open, args[0])
			}
			return w.restore(cmd, args[0], address)
		}},
		&cobra.Command{Use: "verify [ARCHIVE]", Short: "Read all of a store, or of an archive, and say what does not agree", Args: cobra.MaximumNArgs(1), RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				return w.checkArchive(args[0])
			}
			return open(cmd, false, func(s store.Store) error {
				faults, err := s.Verify(cmd.Context())
				if err != nil {
					return err
				}
				return w.faults(faults)
			})
		}},
		&cobra.Command{Use: "export FILE", Short: "Write everything into one archive of open parts", Args: arguments(1, 1, "the archive to write"), RunE: func(cmd *cobra.Command, args []string) error {
			return open(cmd, false, func(s store.Store) error { return w.export(cmd.Context(), s, args[0]) })
		}},
		&cobra.Command{Use: "import FILE", Short: "Fill an empty store from an archive", Args: arguments(1, 1, "the archive to read"), RunE: func(cmd *cobra.Command, args []string) error {
			return w.importFrom(cmd, open, args[0])
		}},
		newKeep(w, open), newForget(w, open),
		size,
	)
	return cmd
}

// backup copies a store that is a file as it is, and any other as an archive.
func (w World) backup(ctx context.Context, s store.Store, to string) error {
	b, ok := s.(backer)
	if !ok {
		return w.export(ctx, s, to)
	}
	if _, err := os.Lstat(to); err == nil {
		return &wrongError{err: fmt.Errorf("%s is there already; name a new file", to)}
	}
	if err := b.Backup(ctx, to); err != nil {
		return err
	}
	info, err := os.Stat(to)
	if err != nil {
		return err
	}
	fmt.Fprintf(w.Out, "%s is a copy of the store, %s. Keep it on another disk.\n", to, bytesText(info.Size()))
	return nil
}

// restore makes a store in a file of a copy of one.
func (w World) restore(cmd *cobra.Command, from, to string) error {
	switch {
	case to == "":
		return &wrongError{err: fmt.Errorf("%s needs --store: the new file", cmd.CommandPath())}
	case strings.Contains(to, "://"):
		return &wrongError{err: fmt.Errorf("%s is the copy of a file, and a database takes an archive: restore the copy into a file, export that, and import the archive", from)}
	}
	for _, name := range []string{to, to + "-wal"} {
		if _, err := os.Lstat(name); err == nil {
			return &wrongError{err: fmt.Errorf("%s is there already, and restore overwrites nothing; stop the server, move it away with its -wal and -shm, and try again", name)}
		}
	}
	in, err := os.Open(from)
	if err != nil {
		return &wrongError{err: fmt.Errorf("the copy cannot be opened: %w", err)}
	}
	defer in.Close()
	part := to + ".part"
	defer func() {
		for _, end := range []string{"", "-wal", "-shm"} {
			os.Remove(part + end)
		}
	}()
	if err := copyFile(part, in); err != nil {
		return err
	}
	s, err := w.OpenStore(cmd.Context(), part)
	if err != nil {
		return &wrongError{err: fmt.Errorf("%s is no copy of a store: %w", from, err)}
	}
	faults, err := s.Verify(cmd.Context())
	if err := errors.Join(err, s.Close()); err != nil {
		return err
	}
	if len(faults) > 0 {
		w.faults(faults)
		return fmt.Errorf("%s is damaged, and was not restored; take an earlier copy", from)
	}
	if err := os.Rename(part, to); err != nil {
		return err
	}
	fmt.Fprintf(w.Out, "%s is a store again, and agrees with itself.\n", to)
	return nil
}

// copyFile writes a file that is on the disk when it returns.
func copyFile(to string, from io.Reader) error {
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", to, err)
	}
	_, err = io.Copy(out, from)
	if err := errors.Join(err, out.Sync(), out.Close()); err != nil {
		return fmt.Errorf("%s cannot be written: %w", to, err)
	}
	return nil
}

// isArchive tells an archive by its first bytes.
func isArchive(name string) bool {
	f, err := os.Open(name)
	if err != nil {
		return false
	}
	defer f.Close()
	var head [4]byte
	_, err = io.ReadFull(f, head[:])
	return err == nil && bytes.Equal(head[:], []byte("PK\x03\x04"))
}

// export writes beside the aim first, so that an archive that is there is whole.
func (w World) export(ctx context.Context, s store.Store, to string) error {
	if _, err := os.Lstat(to); err == nil {
		return &wrongError{err: fmt.Errorf("%s is there already; name a new file", to)}
	}
	part := to + ".part"
	out, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", part, err)
	}
	m, err := archive.Export(ctx, s, out, time.Now())
	if err == nil {
		err = out.Sync()
	}
	if err := errors.Join(err, out.Close()); err != nil {
		os.Remove(part)
		return err
	}
	if err := os.Rename(part, to); err != nil {
		return err
	}
	info, err := os.Stat(to)
	if err != nil {
		return err
	}
	fmt.Fprintf(w.Out, "%s holds all of the store: %s in %d parts, %s.\n", to, count(int(m.Readings()), "reading"), len(m.Parts), bytesText(info.Size()))
	return nil
}

// importFrom looks at the archive before it makes a store.
func (w World) importFrom(cmd *cobra.Command, open opener, from string) error {
	in, a, err := openArchive(from)
	if err != nil {
		return err
	}
	defer in.Close()
	return open(cmd, true, func(s store.Store) error {
		err := a.Import(cmd.Context(), s)
		switch {
		case errors.Is(err, store.ErrNotEmpty):
			return &wrongError{err: fmt.Errorf("%w, and nothing was entered; name a new file or an empty database", err)}
		case err != nil:
			return fmt.Errorf("%w; nothing was entered", err)
		}
		fmt.Fprintf(w.Out, "The store holds what %s holds: %s, written %s.\n", from, count(int(a.Manifest.Readings()), "reading"), a.Manifest.Written)
		return nil
	})
}

func openArchive(name string) (*os.File, *archive.Archive, error) {
	in, err := os.Open(name)
	if err != nil {
		return nil, nil, &wrongError{err: fmt.Errorf("the archive cannot be opened: %w", err)}
	}
	info, err := in.Stat()
	if err != nil {
		return nil, nil, errors.Join(err, in.Close())
	}
	a, err := archive.Open(in, info.Size())
	if err != nil {
		in.Close()
		return nil, nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
	}
	return in, a, nil
}

func (w World) checkArchive(name string) error {
	in, a, err := openArchive(name)
	if err != nil {
		return err
	}
	m := a.Manifest
	fmt.Fprintf(w.Out, "%s is as it was written on %s: %s in %d parts.\n", name, m.Written, count(int(m.Readings()), "reading"), len(m.Parts))
	return in.Close()
}

// faults shows what is wrong with a store, and fails if anything is.
func (w World) faults(faults []store.Fault) error {
	if len(faults) == 0 {
		fmt.Fprintln(w.Out, "Everything agrees.")
		return nil
	}
	for _, f := range faults {
		fmt.Fprintf(w.Out, "%s\n", f.Where)
		writeParagraph(w.Out, "  what  ", f.What)
		writeParagraph(w.Out, "  do    ", f.Mend)
	}
	return fmt.Errorf("the store has %s", count(len(faults), "fault"))
}

func newKeep(w World, open opener) *cobra.Command {
	var r retention.Rule
	var quantity, sensor string
	cmd := &cobra.Command{Use: "keep [DAYS]", Short: "How long readings stay: 90d, always, or none to take a rule away; alone it lists the rules",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return &wrongError{err: fmt.Errorf("%s takes one time, for example 90d", cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			switch r.Scope = retention.All; {
			case quantity != "" && sensor != "":
				return &wrongError{err: errors.New("a rule is for a quantity or for a sensor")}
			case quantity != "":
				r.Scope, r.Name = retention.Quantity, quantity
			case sensor != "":
				r.Scope, r.Name = retention.Sensor, sensor
			}
			return open(cmd, false, func(s store.Store) error {
				if len(args) == 0 {
					return w.rules(cmd.Context(), s)
				}
				if args[0] == "none" {
					err := retention.Drop(cmd.Context(), s, r)
					if errors.Is(err, store.ErrNotFound) {
						return &wrongError{err: errors.New("there is no such rule; underlamp store keep lists them")}
					}
					return err
				}
				if args[0] != "always" {
					n, err := strconv.Atoi(strings.TrimSuffix(args[0], "d"))
					if err != nil || n < 1 || n > retention.Longest {
						return &wrongError{err: fmt.Errorf("%q is no time to keep readings for; say days, for example 90d, or always, or none", args[0])}
					}
					r.Days = n
				}
				if err := retention.Put(cmd.Context(), s, r, time.Now()); err != nil {
					return err
				}
				fmt.Fprintf(w.Out, "%s. Sums by hour stay.\n", r)
				return nil
			})
		}}
	cmd.Flags().StringVar(&quantity, "quantity", "", "sensors of this quantity alone, for example PPFD")
	cmd.Flags().StringVar(&sensor, "sensor", "", "this sensor alone")
	return cmd
}

func (w World) rules(ctx context.Context, s store.Store) error {
	rules, err := retention.Rules(ctx, s)
	if err != nil {
		return err
	}
	if len(rules) == 0 {
		fmt.Fprintln(w.Out, "There is no rule: all readings are kept.")
	}
	for _, r := range rules {
		fmt.Fprintln(w.Out, r)
	}
	return nil
}

func newForget(w World, open opener) *cobra.Command {
	var before, quantity, sensor string
	var yes bool
	cmd := &cobra.Command{Use: "forget", Short: "Drop readings before a day now; their sums by hour stay", Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			day, err := time.Parse(time.DateOnly, before)
			if err != nil {
				return &wrongError{err: fmt.Errorf("%s needs --before, a day in UTC, for example --before 2026-01-01", cmd.CommandPath())}
			}
			return open(cmd, false, func(s store.Store) error {
				return w.forget(cmd.Context(), s, store.At(day), yes, func(x store.Sensor) bool {
					return (sensor == "" || x.Key == sensor) && (quantity == "" || x.Quantity == quantity)
				})
			})
		}}
	cmd.Flags().StringVar(&before, "before", "", "day in UTC, such as 2026-01-01, before which readings go")
	cmd.Flags().StringVar(&quantity, "quantity", "", "sensors of this quantity alone, for example PPFD")
	cmd.Flags().StringVar(&sensor, "sensor", "", "this sensor alone")
	cmd.Flags().BoolVar(&yes, "yes", false, "do it; without it, what would be done is said")
	return cmd
}

func (w World) forget(ctx context.Context, s store.Store, before int64, yes bool, mine func(store.Sensor) bool) error {
	sensors, err := s.Sensors(ctx)
	if err != nil {
		return err
	}
	sensors = slices.DeleteFunc(sensors, func(x store.Sensor) bool { return !mine(x) })
	if len(sensors) == 0 {
		fmt.Fprintln(w.Out, "No sensor is meant by that; nothing was forgotten.")
		return nil
	}
	if !yes {
		for _, x := range sensors {
			fmt.Fprintf(w.Out, "%s: readings before %s would go.\n", x.Key, store.Time(before).Format(time.DateOnly))
		}
		fmt.Fprintln(w.Out, "This cannot be undone. Make a backup first, then say it again with --yes.")
		return nil
	}
	was, err := s.Size(ctx)
	if err != nil {
		return err
	}
	for _, x := range sensors {
		if err := s.Forget(ctx, x.ID, before); err != nil {
			return err
		}
	}
	is, err := s.Size(ctx)
	if err != nil {
		return err
	}
	lost := int64(0)
	for _, x := range is.Sensors {
		lost += x.Forgotten
	}
	for _, x := range was.Sensors {
		lost -= x.Forgotten
	}
	fmt.Fprintf(w.Out, "Readings forgotten: %d. Their sums by hour stay, and new readings take their room in the file.\n", lost)
	return nil
}

func (w World) size(ctx context.Context, s store.Store, asJSON bool) error {
	size, err := s.Size(ctx)
	if err != nil {
		return err
	}
	sensors, err := s.Sensors(ctx)
	if err != nil {
		return err
	}
	keys := map[int64]string{}
	for _, x := range sensors {
		keys[x.ID] = x.Key
	}
	if asJSON {
		out := sizeOut{Bytes: size.Bytes, Sensors: []sensorSizeOut{}, Tables: []tableSizeOut{}}
		for _, x := range size.Sensors {
			out.Sensors = append(out.Sensors, sensorSizeOut{keys[x.ID], x.Readings, x.Forgotten, x.Bytes, store.Time(x.First).UTC(), store.Time(x.Last).UTC()})
		}
		for _, t := range size.Tables {
			out.Tables = append(out.Tables, tableSizeOut{t.Name, t.Rows})
		}
		return writeJSON(w, out)
	}
	var rows [][]string
	n, b := int64(0), int64(0)
	for _, x := range size.Sensors {
		n, b = n+x.Readings, b+x.Bytes
		key := keys[x.ID]
		if key == "" {
			key = fmt.Sprintf("sensor %d, not entered", x.ID)
		}
		rows = append(rows, []string{key, strconv.FormatInt(x.Readings, 10), strconv.FormatInt(x.Forgotten, 10), bytesText(x.Bytes),
			store.Time(x.First).Format(time.DateOnly), store.Time(x.Last).Format(time.DateOnly)})
	}
	fmt.Fprintf(w.Out, "The store takes %s.\n", bytesText(size.Bytes))
	for _, t := range size.Tables {
		fmt.Fprintf(w.Out, "  %-12s %d\n", t.Name, t.Rows)
	}
	if n > 0 {
		fmt.Fprintf(w.Out, "%s, %.1f bytes each.\n", count(int(n), "reading"), float64(b)/float64(n))
	} else {
		fmt.Fprintln(w.Out, "No packed readings.")
	}
	if size.Waiting > 0 {
		fmt.Fprintf(w.Out, "Not packed yet: %s.\n", count(int(size.Waiting), "reading"))
	}
	if len(rows) > 0 {
		fmt.Fprintln(w.Out)
		writeTable(w.Out, []column{{head: "sensor"}, {head: "readings", right: true}, {head: "sums alone", right: true}, {head: "size", right: true}, {head: "from"}, {head: "to"}}, rows)
	}
	return nil
}

// bytesText is a size that people read.
func bytesText(n int64) string {
	switch f := float64(n); {
	case n < 10_000:
		return fmt.Sprintf("%d bytes", n)
	case n < 10_000_000:
		return fmt.Sprintf("%.0f kB", f/1e3)
	case n < 10_000_000_000:
		return fmt.Sprintf("%.0f MB", f/1e6)
	}
	return fmt.Sprintf("%.1f GB", float64(n)/1e9)
}
