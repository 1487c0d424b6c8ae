package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/demo"
	"underlamp/report"
	"underlamp/store"
)

type demoOptions struct {
	folder  string
	noServe bool
	listen  string
}

func newDemo(w World) *cobra.Command {
	var o demoOptions
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "The whole job on an invented rack: writes it, computes it, shows it",
		Long: `demo writes the bench files of an invented rack of three tiers into a folder,
computes light, outlook and best setting, writes a report of each, and shows the
benches as pages on this machine, with a year of invented readings for one of them.
With --no-serve it stops after the reports. Files that are there already are kept as they are.`,
		Example: `  See everything before you describe anything:

  underlamp demo

  prints light, outlook and best setting of three tiers and an address to open.
  Only the files and the reports (--folder takes another place for them):

  underlamp demo --no-serve`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return runDemo(cmd, w, o) },
	}
	cmd.Flags().StringVar(&o.folder, "folder", "underlamp-demo", "write to this folder")
	cmd.Flags().BoolVar(&o.noServe, "no-serve", false, "write the reports and stop")
	cmd.Flags().StringVar(&o.listen, "listen", "127.0.0.1:0", "address and port; port 0 takes a free one")
	return cmd
}

func runDemo(cmd *cobra.Command, w World, o demoOptions) error {
	if err := os.MkdirAll(o.folder, 0o755); err != nil {
		return fmt.Errorf("the demo folder cannot be made: %w", err)
	}
	if err := writeDemo(o.folder); err != nil {
		return err
	}
	for _, name := range demo.Names() {
		file := filepath.Join(o.folder, name)
		m, err := loadModel(w, file)
		if err != nil {
			return err
		}
		d, err := reportOf(cmd.Context(), w, m, file)
		if err != nil {
			return err
		}
		if d.Head, err = headOf(file); err != nil {
			return err
		}
		if d.Around, err = around(cmd.Context(), nil, file, d.Bench, d.Light, time.Time{}, time.Time{}, false); err != nil {
			return err
		}
		out := strings.TrimSuffix(file, filepath.Ext(file)) + ".html"
		if err := writeFile(out, d.HTML()); err != nil {
			return err
		}
		fmt.Fprintf(w.Out, "%s\n", d.Bench.Name)
		writeParagraph(w.Out, "  light    ", fmt.Sprintf("%s and %s at the plants, spread %s", d.Light.Mean.Text(), d.Light.DLI.Text(), d.Light.Spread.Text()))
		writeParagraphs(w.Out, "  note     ", d.Light.Notes)
		writeParagraph(w.Out, "  outlook  ", report.OutlookSentence(d.Bench, d.Outlook))
		writeParagraph(w.Out, "  best     ", report.Verdict(d.Bench, d.Best))
		fmt.Fprintf(w.Out, "  report   %s\n\n", out)
	}
	of := func(name string) string { return filepath.Join(o.folder, filepath.FromSlash(name)) }
	fmt.Fprintf(w.Out, "A lamp of the top tier:  underlamp lamp --per-lumen white-led %s\n", of(demo.LampFile))
	fmt.Fprintf(w.Out, "The colour of its light:  underlamp spectrum --species lettuce %s\n\n", of(demo.LampSpectrum))
	if o.noServe {
		return nil
	}
	kept := filepath.Join(o.folder, storeFile)
	send, err := demoSensors(cmd.Context(), w, kept)
	if err != nil {
		return err
	}
	return w.Serve(cmd.Context(), ServeOptions{Folder: o.folder, Listen: o.listen, Store: kept, Beside: send}, func(at Serving) {
		fmt.Fprintf(w.Out, "Open %s to turn the lamps yourself. Stop with Ctrl-C.\n", at.Pages)
	})
}

// writeDemo writes the files of the demo; what is there already is kept.
func writeDemo(folder string) error {
	return errors.Join(writeDemoFiles(demo.Folder(), folder), writeDemoFiles(demo.Photos(), filepath.Join(folder, demo.PhotosFolder)))
}

func writeDemoFiles(from fs.FS, folder string) error {
	return fs.WalkDir(from, ".", func(name string, d fs.DirEntry, err error) error {
		file := filepath.Join(folder, filepath.FromSlash(name))
		switch {
		case err != nil:
			return err
		case d.IsDir():
			if err := os.MkdirAll(file, 0o755); err != nil {
				return fmt.Errorf("the demo folder cannot be made: %w", err)
			}
			return nil
		}
		if _, err := os.Stat(file); !errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		data, err := fs.ReadFile(from, name)
		if err != nil {
			return err
		}
		return writeFile(file, data)
	})
}

// demoYear is how far back the invented sensors have read.
const demoYear = 365 * 24 * time.Hour

// demoSensors enters the sensors of the demo into a store, with what they have read up
// to now, and returns what goes on reading while the pages are served.
func demoSensors(ctx context.Context, w World, path string) (func(context.Context, Take), error) {
	s, err := w.OpenStore(ctx, path)
	if err != nil {
		return nil, err
	}
	defer s.Close()
	if err := errors.Join(demoRounds(ctx, s), demoPhotos(ctx, s)); err != nil {
		return nil, err
	}
	now := time.Now().Truncate(demo.SensorEvery)
	for _, x := range demo.Sensors() {
		entered := store.Sensor{Key: x.Key, Bench: demo.SensorBench, Quantity: x.Quantity, Unit: x.Unit, Every: demo.SensorEvery, Note: x.Note}
		if x.X > 0 { // those without a place read for all of the bench
			entered.X, entered.Y, entered.Height = &x.X, &x.Y, &x.Z
		}
		id, err := s.PutSensor(ctx, entered)
		if err != nil {
			return nil, err
		}
		from := now.Add(-cmp.Or(w.demoSpan, demoYear))
		if last, err := s.Samples(ctx, id, store.At(from), store.At(now)+1); err != nil {
			return nil, err
		} else if len(last) > 0 {
			from = store.Time(last[len(last)-1].At).Add(demo.SensorEvery)
		}
		var batch []store.Reading
		for t := from; !t.After(now); t = t.Add(demo.SensorEvery) {
			batch = append(batch, store.Reading{Sensor: id, At: store.At(t), Value: x.Read(t.Local())})
		}
		if err := s.Append(ctx, batch); err != nil {
			return nil, err
		}
	}
	for {
		if n, err := s.Fold(ctx); err != nil {
			return nil, err
		} else if n == 0 {
			break
		}
	}
	fmt.Fprintf(w.Out, "The middle tier has six invented sensors, with a year of readings in %s, and four invented rounds.\n\n", path)
	return func(ctx context.Context, take Take) {
		tick := time.NewTicker(time.Minute)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case t := <-tick.C:
				for _, x := range demo.Sensors() {
					if err := take(ctx, x.Key, x.Unit, t, x.Read(t.Local())); err != nil && ctx.Err() == nil {
						fmt.Fprintf(w.Err, "An invented sensor could not send: %v\n", err)
					}
				}
			}
		}
	}, nil
}
