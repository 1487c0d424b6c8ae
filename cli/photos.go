package cli

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/photo"
	"underlamp/app/round"
	"underlamp/demo"
	"underlamp/formats/photofile"
	"underlamp/science/plantlabel"
	"underlamp/store"
)

type photosOptions struct {
	store, out, zone, table, trial string
	json, watch, side              bool
}

func newPhotos(w World) *cobra.Command {
	var o photosOptions
	cmd := &cobra.Command{
		Use:   "photos FOLDER BENCH|TRIAL…",
		Short: "Measure the plants in a folder of photos, by the labels beside them",
		Long: `photos goes through a folder of photos (JPEG, PNG, WebP; folders in it too), finds the
labels that underlamp labels printed for the benches and trials named, and measures the
plants beside them: leaf area, width, colour, and spots that may be burn. A photo that
cannot be measured is refused with the reason and how to take it better.

With --store the photos go into the store of underlamp serve, where the page Photos of a
bench shows them. Without it, what was read is written into a folder: photos.jsonl (the
whole), photos.csv (a table), overlay/ (what was seen as plant) and plant/ (each plant at
one scale and one exposure). Originals are never changed; nothing that is written carries
where a photo was taken.

It can be stopped at any time and takes up again where it was; a photo that was read by
an earlier method is read anew, and the older figures stay. --watch goes on with what a
fixed camera puts into the folder, until it is stopped.`,
		Example: `  The demo has a folder of invented photos:

  underlamp photos underlamp-demo/photos underlamp-demo/tier-2-middle.yaml -o underlamp-demo/measured

  Into the store of the pages, for the camera of a rack that writes a photo a day:

    … photos /srv/camera mybench.yaml --store underlamp.db --watch`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) < 2 {
				return wrongf("underlamp photos takes a folder of photos and the benches or trials of their labels, for example: underlamp photos DCIM mybench.yaml -o measured")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return runPhotos(cmd, w, o, args) },
	}
	f := cmd.Flags()
	storeFlag(f, &o.store, "the photos are kept in it")
	f.StringVarP(&o.out, "output", "o", "", "write to this folder; without a store; what is there already is taken up again")
	f.StringVar(&o.table, "table", "", "also write the table to this CSV file")
	f.StringVar(&o.trial, "trial-table", "", "also write lines for the table of the trial to this CSV file; underlamp trial import takes it")
	zoneFlag(f, &o.zone, "also of cameras that do not say theirs")
	f.BoolVar(&o.watch, "watch", false, "go on with photos that come into the folder, until it is stopped")
	f.BoolVar(&o.side, "side", false, "the photos were taken from the side: height and stretch are measured in place of area")
	jsonFlag(f, &o.json, "a line for each photo")
	return cmd
}

// photoPlaces are benches and trials by the files that name them.
type photoPlaces struct {
	register photo.Register
	benches  []string // keys, in the order of the arguments
	bench    map[string]*underlamp.Bench
	trials   []string

	heights func(at time.Time) map[plantlabel.Code]photo.Tall // that rounds measured; nil without a store
}

func placesOf(w World, files []string) (*photoPlaces, error) {
	p := &photoPlaces{register: photo.Register{}, bench: map[string]*underlamp.Bench{}}
	for _, file := range files {
		labels, err := labelsOf(w, file)
		if err != nil {
			return nil, err
		}
		for _, l := range labels {
			if clash := p.register.Add(l.Subject); len(clash) > 0 {
				fmt.Fprintf(w.Err, "%s %s: its label has the code of another plant; give it another name\n", l.Subject.Bench, l.Subject.Plant)
			}
		}
		if strings.HasSuffix(file, trialEnding) {
			p.trials = append(p.trials, strings.TrimSuffix(filepath.Base(file), trialEnding))
			continue
		}
		b, err := load(w, file)
		if err != nil {
			return nil, err
		}
		p.benches = append(p.benches, benchKey(file))
		p.bench[benchKey(file)] = b
	}
	return p, nil
}

// benchOf is the bench that a photo belongs to: that of most of its labels.
func (p *photoPlaces) benchOf(f *photo.Finding) string {
	count := map[string]int{}
	best := ""
	for _, r := range f.Reads {
		b := p.register[r.Code].Bench
		if b == "" {
			continue
		}
		if count[b]++; count[b] > count[best] {
			best = b
		}
	}
	if best == "" && len(p.benches) > 0 {
		best = p.benches[0]
	}
	return best
}

// counts are what a run came to.
type photoCounts struct{ photos, plants, refused, bad, again int }

func (c *photoCounts) add(r photo.Result) {
	switch {
	case r.Again:
		c.again++
	case r.Finding == nil:
		c.bad++
	default:
		c.photos++
		measured := 0
		for _, x := range r.Finding.Reads {
			if x.Refused == nil {
				measured++
			}
		}
		c.plants += measured
		if measured == 0 {
			c.refused++
		}
	}
}

func runPhotos(cmd *cobra.Command, w World, o photosOptions, args []string) error {
	zone, err := roundsOptions{zone: o.zone}.location()
	if err != nil {
		return err
	}
	switch {
	case o.store == "" && o.out == "":
		return wrongf("say where to write: -o FOLDER, or --store with the store of underlamp serve")
	case o.store != "" && o.out != "":
		return wrongf("--store keeps what was read, and -o writes it into a folder; choose one")
	}
	if info, err := os.Stat(args[0]); err != nil || !info.IsDir() {
		return wrongf("%s is no folder that can be opened", args[0])
	}
	places, err := placesOf(w, args[1:])
	if err != nil {
		return err
	}
	if o.trial != "" && len(places.trials) != 1 {
		return wrongf("--trial-table needs one trial among the files named")
	}
	var c photoCounts
	job := &photo.FolderJob{Folder: os.DirFS(args[0])}
	job.Look = func(data []byte, info fs.FileInfo) (*photo.Finding, []store.NamedPicture, error) {
		return photo.Measure(data, photo.Ask{Zone: zone, Else: info.ModTime(), ElseFrom: "file", Side: o.side, Heights: places.heights})
	}
	job.Tell = func(p photo.Progress) {
		c.add(p.Last)
		if o.json {
			if b, err := photo.LineOf(p.Last); err == nil {
				w.Out.Write(b)
			}
		}
		w.progress(part(p.Done, p.Of), "photos: %d of %d", p.Done, p.Of)
	}
	run := func(keep func(ctx context.Context, r photo.Result) error, done func(m photo.Mark) bool) error {
		job.Keep, job.Done = keep, done
		if o.watch {
			w.news("watching %s; stop with Ctrl-C\n", args[0])
			return job.Watch(cmd.Context())
		}
		return job.Run(cmd.Context())
	}
	if o.out != "" {
		err = intoFolder(w, o, places, zone, run)
	} else {
		err = openerOf(w, &o.store)(cmd, true, func(s store.Store) error { return intoStore(cmd.Context(), w, o, s, args[0], places, zone, run) })
	}
	if !o.json {
		fmt.Fprintf(w.Out, "photos read: %d, plants measured: %d, photos in which none was: %d", c.photos, c.plants, c.refused)
		if c.bad > 0 {
			fmt.Fprintf(w.Out, ", files that are no photos: %d", c.bad)
		}
		if c.again > 0 {
			fmt.Fprintf(w.Out, ", known from another file: %d", c.again)
		}
		fmt.Fprintln(w.Out)
	}
	return err
}

type photoRun func(keep func(ctx context.Context, r photo.Result) error, done func(m photo.Mark) bool) error

// intoFolder keeps what was read in a folder. The list grows by a line a photo, which is on
// the disk before the next one is begun; the tables are written from it at the end.
func intoFolder(w World, o photosOptions, places *photoPlaces, zone *time.Location, run photoRun) error {
	for _, sub := range []string{"", "overlay", "plant"} {
		if err := os.MkdirAll(filepath.Join(o.out, sub), 0o755); err != nil {
			return wrongf("the folder cannot be made: %v", err)
		}
	}
	name := filepath.Join(o.out, "photos.jsonl")
	list, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return wrongf("the list cannot be opened: %v", err)
	}
	defer list.Close()
	marks := map[string]photo.Mark{}
	sums := map[string]string{} // SHA-256 → file
	whole, err := photo.ReadLines(list, func(r photo.Result) {
		marks[r.File] = r.Mark
		if r.Finding != nil && r.Method == photo.Method {
			sums[r.Finding.SHA256] = r.File
		}
	})
	if err != nil {
		return wrongf("%s: %v", name, err)
	}
	if err := list.Truncate(whole); err != nil { // what a killed run left of its last line
		return err
	}
	if _, err := list.Seek(whole, io.SeekStart); err != nil {
		return err
	}
	keep := func(_ context.Context, r photo.Result) error {
		if r.Finding != nil {
			if first := sums[r.Finding.SHA256]; first != "" && first != r.File {
				r.Again = true
			}
			sums[r.Finding.SHA256] = r.File
		}
		for _, p := range r.Made {
			to := filepath.Join(o.out, "overlay", r.Finding.SHA256[:16]+".jpg")
			if p.Name != photo.Overlay {
				to = filepath.Join(o.out, "plant", r.Finding.SHA256[:16]+"-"+p.Name+".jpg")
			}
			if err := writeFile(to, p.Data); err != nil {
				return err
			}
		}
		b, err := photo.LineOf(r)
		if err != nil {
			return err
		}
		if _, err := list.Write(b); err != nil {
			return fmt.Errorf("%s cannot be written: %w", name, err)
		}
		return list.Sync()
	}
	done := func(m photo.Mark) bool { return marks[m.File] == m }
	err = run(keep, done)
	tables := func() error {
		if o.table == "" {
			o.table = filepath.Join(o.out, "photos.csv")
		}
		if _, err := list.Seek(0, io.SeekStart); err != nil {
			return err
		}
		// Of a file that was read by several methods, or changed, the last line counts.
		last := map[string]photo.Mark{}
		if _, err := photo.ReadLines(list, func(r photo.Result) { last[r.File] = r.Mark }); err != nil {
			return err
		}
		if _, err := list.Seek(0, io.SeekStart); err != nil {
			return err
		}
		return writeTables(w, o, places, zone, func(each func(name string, f *photo.Finding, problem string)) error {
			_, err := photo.ReadLines(list, func(r photo.Result) {
				if last[r.File] == r.Mark {
					each(r.File, r.Finding, r.Problem)
				}
			})
			return err
		})
	}
	return errors.Join(err, tables())
}

// writeTables writes the tables that were asked for from findings that come one by one.
func writeTables(w World, o photosOptions, places *photoPlaces, zone *time.Location, all func(each func(name string, f *photo.Finding, problem string)) error) error {
	if o.table == "" && o.trial == "" {
		return nil
	}
	var b bytes.Buffer
	t := photo.NewTable(&b, zone)
	var rows []underlamp.TrialEntry
	err := all(func(name string, f *photo.Finding, problem string) {
		t.Add(name, f, problem, places.register)
		if f == nil || o.trial == "" {
			return
		}
		s := &photo.Shot{Taken: f.Taken, Finding: f}
		for i := range f.Reads {
			rows = append(rows, photo.TrialRows([]photo.Look{{Shot: s, Read: &f.Reads[i], Subject: places.register[f.Reads[i].Code]}}, places.trials[0], zone)...)
		}
	})
	if err != nil {
		return err
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if o.table != "" {
		if err := writeFile(o.table, b.Bytes()); err != nil {
			return err
		}
		w.news("%s written\n", o.table)
	}
	if o.trial != "" {
		slices.SortStableFunc(rows, func(a, b underlamp.TrialEntry) int { return cmp.Compare(a.Time, b.Time) })
		var b bytes.Buffer
		if err := photo.WriteTrialRows(&b, rows); err != nil {
			return err
		}
		if err := writeFile(o.trial, b.Bytes()); err != nil {
			return err
		}
		w.news("%s written: lines %d\n", o.trial, len(rows))
	}
	return nil
}

// kindFolder are the documents that say which files of a folder were gone through.
const kindFolder = "photo folder"

// marksSaved is after how many photos the list of those gone through is saved: a run that is
// killed reads so many again and finds that it knows them.
const marksSaved = 25

// intoStore keeps photos and what was read in a store.
func intoStore(ctx context.Context, w World, o photosOptions, s store.Store, folder string, places *photoPlaces, zone *time.Location, run photoRun) error {
	if len(places.benches) == 0 {
		return wrongf("with --store name a bench: photos are kept by bench")
	}
	folder, err := filepath.Abs(folder)
	if err != nil {
		return err
	}
	marks := map[string]photo.Mark{}
	switch d, err := s.Document(ctx, kindFolder, folder); {
	case err == nil:
		if json.Unmarshal(d.Text, &marks) != nil {
			marks = map[string]photo.Mark{} // as if it were new: known photos are recognised
		}
	case !errors.Is(err, store.ErrNotFound):
		return err
	}
	var tall []func(at time.Time) map[plantlabel.Code]photo.Tall
	for _, bench := range places.benches {
		rec, err := recordOf(ctx, s, bench, zone)
		if err != nil {
			return err
		}
		tall = append(tall, photo.HeightsOf(rec, bench, places.register))
	}
	places.heights = func(at time.Time) map[plantlabel.Code]photo.Tall {
		out := map[plantlabel.Code]photo.Tall{}
		for _, t := range tall {
			maps.Copy(out, t(at))
		}
		return out
	}
	save := func(ctx context.Context) error {
		text, err := json.Marshal(marks)
		if err != nil {
			return err
		}
		return s.PutDocument(ctx, store.Document{Kind: kindFolder, Name: folder, Recorded: store.At(time.Now()), Text: text})
	}
	unsaved := 0
	keep := func(ctx context.Context, r photo.Result) error {
		if r.Finding != nil {
			info, err := photofile.Check(r.Data)
			if err != nil {
				return err
			}
			kept := photo.Photo(places.benchOf(r.Finding), r.Data, info, r.Finding.Taken, time.Now(), filepath.Base(r.File))
			if err := photo.Put(ctx, s, kept, r.Data); err != nil {
				return err
			}
			doc, err := r.Finding.JSON()
			if err != nil {
				return err
			}
			if err := s.PutMeasure(ctx, store.Measure{Photo: kept.ID, Method: r.Method, Recorded: store.At(time.Now()), Doc: doc, Pictures: r.Made}); err != nil {
				return err
			}
		}
		marks[r.File] = r.Mark
		if unsaved++; unsaved >= marksSaved {
			unsaved = 0
			return save(ctx)
		}
		return nil
	}
	err = run(keep, func(m photo.Mark) bool { return marks[m.File] == m })
	err = errors.Join(err, save(context.WithoutCancel(ctx)))
	return errors.Join(err, writeTables(w, o, places, zone, func(each func(name string, f *photo.Finding, problem string)) error {
		for _, bench := range places.benches {
			rec, err := recordOf(ctx, s, bench, zone)
			if err != nil {
				return err
			}
			k, err := photo.Gather(ctx, s, bench, places.bench[bench], rec)
			if err != nil {
				return err
			}
			book, faults := photo.NewBook(bench, places.bench[bench], k, places.register, zone)
			for _, f := range faults {
				fmt.Fprintf(w.Err, "left out: %v\n", f)
			}
			for _, x := range book.Shots {
				if x.Finding != nil {
					each(x.ID, x.Finding, "")
				}
			}
		}
		return nil
	}))
}

// demoPhotos enters the invented photos into a store; the pages measure them.
func demoPhotos(ctx context.Context, s store.Store) error {
	return fs.WalkDir(demo.Photos(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := fs.ReadFile(demo.Photos(), name)
		if err != nil {
			return err
		}
		info, err := photofile.Check(data)
		if err != nil {
			return err
		}
		taken, _ := info.Shot.Taken(time.UTC)
		return photo.Put(ctx, s, photo.Photo(demo.SensorBench, data, info, taken, time.Now(), name), data)
	})
}

// recordOf is what was seen on a bench.
func recordOf(ctx context.Context, s store.Store, bench string, zone *time.Location) (*round.Record, error) {
	all, err := s.Observations(ctx, bench, 0, math.MaxInt64)
	if err != nil {
		return nil, err
	}
	entries, _ := round.ReadAll(all) // what cannot be read is told by rounds
	return round.NewRecord(entries, zone), nil
}

// photoBook is the photos of a bench in a store.
func photoBook(ctx context.Context, s store.Store, bench string, b *underlamp.Bench, rec *round.Record) (*photo.Book, error) {
	k, err := photo.Gather(ctx, s, bench, b, rec)
	if err != nil {
		return nil, err
	}
	register := photo.Register{}
	for _, l := range photo.BenchLabels(bench, b) {
		register.Add(l.Subject)
	}
	book, _ := photo.NewBook(bench, b, k, register, rec.Zone())
	return book, nil
}
