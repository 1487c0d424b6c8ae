package cli

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/photo"
	"underlamp/app/trial"
	"underlamp/report"
	"underlamp/science/plantlabel"
	"underlamp/store"
)

type stripOptions struct {
	store, from, out, zone string
	plants                 []string
	width                  int
}

func newStrip(w World) *cobra.Command {
	var o stripOptions
	cmd := &cobra.Command{
		Use:   "strip BENCH|TRIAL",
		Short: "Plants through time, or treatments side by side, all at one scale and one exposure",
		Long: `strip draws what photos show: of a bench (mybench.yaml) a row for each plant, of a trial
(mytrial.trial.yaml) a row for each treatment, on each day the plant of the middle leaf
area. Days run from left to right; every picture has one scale and one exposure, by the
label beside the plant. -o says what is written: .png a picture, .gif a film that plays
wherever pictures are shown.

The photos are those of a store (--store), or of a folder that underlamp photos -o wrote
(--measured).`,
		Example: `  underlamp photos underlamp-demo/photos underlamp-demo/tier-2-middle.yaml -o underlamp-demo/measured
  underlamp strip underlamp-demo/tier-2-middle.yaml --measured underlamp-demo/measured -o underlamp-demo/strip.png
  underlamp strip underlamp-demo/tier-2-middle.yaml --measured underlamp-demo/measured --plants P8 -o underlamp-demo/p8.gif`,
		Args: arguments(1, 1, "one bench or trial"),
		RunE: func(cmd *cobra.Command, args []string) error { return runStrip(cmd, w, o, args[0]) },
	}
	f := cmd.Flags()
	storeFlag(f, &o.store, "")
	f.StringVar(&o.from, "measured", "", "a folder that underlamp photos wrote")
	renamedFlag(w, f, "from", "measured")
	f.StringSliceVar(&o.plants, "plants", nil, "these plants alone, parted by commas")
	renamedFlag(w, f, "plant", "plants")
	zoneFlag(f, &o.zone, "")
	f.IntVar(&o.width, "width", 0, "about how wide the picture may be, in pixels")
	f.StringVarP(&o.out, "output", "o", "strip.png", "write to this file; its ending is .png or .gif")
	return cmd
}

// measured is photos of plants with a way to the picture of each.
type measured struct {
	book    *photo.Book
	picture func(l *photo.Look) ([]byte, error)
}

// fromFolder reads what underlamp photos wrote into a folder.
func fromFolder(folder, bench string, b *underlamp.Bench, register photo.Register, zone *time.Location) (*measured, error) {
	f, err := os.Open(filepath.Join(folder, "photos.jsonl"))
	if err != nil {
		return nil, wrongf("the folder has no photos.jsonl: %v; underlamp photos FOLDER BENCH -o %s writes it", err, folder)
	}
	defer f.Close()
	var k photo.Kept
	var fault error
	seen := map[string]bool{}
	_, err = photo.ReadLines(f, func(r photo.Result) {
		if r.Finding == nil {
			return
		}
		doc, err := r.Finding.JSON()
		fault = errors.Join(fault, err)
		id := r.Finding.SHA256
		if !seen[id] {
			k.Photos = append(k.Photos, store.Photo{ID: id, Bench: bench, At: store.At(r.Finding.Taken)})
		}
		if !seen[id+r.Method] {
			k.Measures = append(k.Measures, store.Measure{Photo: id, Method: r.Method, Doc: doc})
		}
		seen[id], seen[id+r.Method] = true, true
	})
	if err = errors.Join(err, fault); err != nil {
		return nil, wrongf("%s: %v", folder, err)
	}
	book, faults := photo.NewBook(bench, b, k, register, zone)
	if len(faults) > 0 {
		return nil, wrongf("%s: %v", folder, errors.Join(faults...))
	}
	return &measured{book, func(l *photo.Look) ([]byte, error) {
		return os.ReadFile(filepath.Join(folder, "plant", l.Shot.Finding.SHA256[:16]+"-"+l.Picture+".jpg"))
	}}, nil
}

// fromStore reads what a store has of the photos of a bench.
func fromStore(ctx context.Context, s store.Store, bench string, b *underlamp.Bench, register photo.Register, zone *time.Location) (*measured, error) {
	rec, err := recordOf(ctx, s, bench, zone)
	if err != nil {
		return nil, err
	}
	k, err := photo.Gather(ctx, s, bench, b, rec)
	if err != nil {
		return nil, err
	}
	book, _ := photo.NewBook(bench, b, k, register, zone)
	return &measured{book, func(l *photo.Look) ([]byte, error) {
		return s.MeasurePicture(ctx, l.Shot.ID, l.Shot.Finding.Method, l.Picture)
	}}, nil
}

// load fetches the pictures of a strip.
func (m *measured) load(s *photo.Strip) {
	s.Load(func(l *photo.Look) (image.Image, error) {
		data, err := m.picture(l)
		if err != nil {
			return nil, err
		}
		return jpeg.Decode(bytes.NewReader(data))
	})
}

// treatmentsOf are the looks at the plants of a trial by treatment, in the order of the plan.
func treatmentsOf(looks []photo.Look, key string, s *trial.Sheet) []photo.StripGroup {
	var out []photo.StripGroup
	of := map[plantlabel.Code]string{}
	for _, b := range s.Blocks {
		for _, u := range b.Units {
			if !slices.ContainsFunc(out, func(g photo.StripGroup) bool { return g.Name == u.Treatment }) {
				out = append(out, photo.StripGroup{Name: u.Treatment})
			}
			for _, p := range u.Plants {
				if p.Guard == "" {
					of[photo.CodeOf(photo.Subject{Trial: key, Unit: p.Code})] = u.Treatment
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b photo.StripGroup) int { return cmp.Compare(a.Name, b.Name) })
	for _, l := range looks {
		for i := range out {
			if t, ok := of[l.Code]; ok && out[i].Name == t {
				out[i].Looks = append(out[i].Looks, l)
			}
		}
	}
	return out
}

func runStrip(cmd *cobra.Command, w World, o stripOptions, file string) error {
	zone, err := roundsOptions{zone: o.zone}.location()
	if err != nil {
		return err
	}
	film := strings.HasSuffix(strings.ToLower(o.out), ".gif")
	if !film && !strings.HasSuffix(strings.ToLower(o.out), ".png") {
		return wrongf("%s: a strip is written as .png or .gif", o.out)
	}
	if (o.store == "") == (o.from == "") {
		return wrongf("say where the photos are: --store with the store of underlamp serve, or --measured with a folder that underlamp photos wrote")
	}
	labels, err := labelsOf(w, file)
	if err != nil {
		return err
	}
	register := photo.Register{}
	for _, l := range labels {
		register.Add(l.Subject)
	}
	var sheet *trial.Sheet
	title, key, benchFile := "", "", file
	if strings.HasSuffix(file, trialEnding) {
		_, p, err := openTrial(w, file)
		if err != nil {
			return err
		}
		if sheet, err = trial.NewSheet(p.Trial, nil, trial.SheetOptions{}); err != nil {
			return wrongf("%v", err)
		}
		title, key = p.Trial.Name, strings.TrimSuffix(filepath.Base(file), trialEnding)
		benchFile = filepath.Join(filepath.Dir(file), filepath.FromSlash(p.Trial.Bench))
		if p.Trial.Bench == "" {
			benchFile = ""
		}
	}
	b := &underlamp.Bench{}
	if benchFile != "" {
		if b, err = load(w, benchFile); err != nil {
			return err
		}
	}
	draw := func(m *measured) error {
		var strip *photo.Strip
		var err error
		if sheet != nil {
			strip, err = photo.StripBy(title, treatmentsOf(m.book.All(), key, sheet), zone)
		} else {
			plants := o.plants
			if len(plants) == 0 {
				plants = m.book.Plants()
			}
			strip, err = photo.StripOf(b.Name, m.book.Looks(""), plants, zone)
		}
		if err != nil {
			return wrongf("%v", err)
		}
		m.load(strip)
		var data []byte
		if film {
			data, err = strip.GIF(o.width)
		} else {
			data, err = strip.PNG(o.width)
		}
		if err != nil {
			return wrongf("%v", err)
		}
		if err := writeFile(o.out, data); err != nil {
			return err
		}
		fmt.Fprintf(w.Out, "%s: rows %d, days %d, %d kB\n", o.out, len(strip.Rows), len(strip.Columns), (len(data)+999)/1000)
		return nil
	}
	if o.from != "" {
		m, err := fromFolder(o.from, benchKey(benchFile), b, register, zone)
		if err != nil {
			return err
		}
		return draw(m)
	}
	return openerOf(w, &o.store)(cmd, false, func(s store.Store) error {
		m, err := fromStore(cmd.Context(), s, benchKey(benchFile), b, register, zone)
		if err != nil {
			return err
		}
		return draw(m)
	})
}

// stripsFor are the strips of a report, of photos from a time to another (zero: of any); none if
// nothing was measured in photos.
func stripsFor(ctx context.Context, s store.Store, bench string, b *underlamp.Bench, from, to time.Time, zone *time.Location) ([]report.Strip, error) {
	register := photo.Register{}
	for _, l := range photo.BenchLabels(bench, b) {
		register.Add(l.Subject)
	}
	m, err := fromStore(ctx, s, bench, b, register, zone)
	if err != nil {
		return nil, err
	}
	plants := m.book.Plants()
	strip, err := photo.StripOf(b.Name, photo.Within(m.book.Looks(""), from, to), plants[:min(len(plants), photo.ReportRows)], zone)
	if err != nil {
		return nil, nil // nothing to show
	}
	m.load(strip)
	data, err := strip.JPEG(1100)
	if err != nil {
		return nil, nil
	}
	return []report.Strip{{Title: "Plants through time", Says: strip.Says(), JPEG: data}}, nil
}
