package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/app/dataset"
	"underlamp/app/kept"
	"underlamp/app/round"
	"underlamp/app/trialbook"
	"underlamp/formats/aboutfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/datapackage"
	"underlamp/safefolder"
	"underlamp/store"
)

// packageOptions say what leaves and how.
type packageOptions struct {
	out, format, table string
	about, licence     string
	records, zone      string
	names              string
	raw                bool
}

func (o *packageOptions) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVarP(&o.out, "output", "o", "", "write to this file, or to a new folder")
	f.StringVar(&o.format, "format", "", "package, xlsx, parquet, json or csv (default: by the ending of --output)")
	f.StringVar(&o.table, "table", "", "write this table alone")
	f.StringVar(&o.about, "about", "", "file with title, licence, people and place (default: about.yaml beside the file, if it is there)")
	f.StringVar(&o.licence, "licence", "", "licence by its SPDX name, such as CC-BY-4.0; none: the data have none")
	f.StringVar(&o.names, "names", string(dataset.AllNames), "whose names leave: all; authors: the people of about.yaml alone; none")
	f.StringVar(&o.records, "records", "", "store with what sensors read, rounds, photos and the history of the bench")
	zoneFlag(f, &o.zone, "")
	f.BoolVar(&o.raw, "raw", false, "every reading of the sensors too, besides their hours")
}

func newTrialPackage(w World) *cobra.Command {
	var o packageOptions
	var at trialsAt
	cmd := &cobra.Command{
		Use:   "package TRIAL",
		Short: "Everything of a trial as an open package, a workbook, Parquet, JSON or CSV",
		Long: `package writes all that belongs to a trial into one file: the plan, every unit and
plant, everything that was seen, the computed light, findings, the bench as it is, and with
--records what sensors read, figures of photos and what was changed. The package is CSV with a
description of every column (Data Package, docs/data-package.md); other programs read
it, and underlamp trial findings repeats the analysis from it. Nothing is invented: what is
missing, such as a licence, is listed with how to give it. --names authors puts “person 1” and
so on in the place of those who saw, entered and changed; words are not changed, and where they
may still hold a name is said.`,
		Example: `  underlamp trial package underlamp-demo/light-levels.trial.yaml -o light-levels.zip
  underlamp trial findings light-levels.zip

  packs the demo's trial, and repeats its analysis from the package. As a workbook, and one
  table for another program:

  underlamp trial package underlamp-demo/light-levels.trial.yaml -o light-levels.xlsx
  underlamp trial package underlamp-demo/light-levels.trial.yaml --table plant_days -o plants.parquet

  to publish, without the names of those who weighed:

  underlamp trial package underlamp-demo/light-levels.trial.yaml --names authors -o light-levels-open.zip`,
		Args: oneTrial,
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.records == "" {
				o.records = at.store
			}
			return at.with(cmd, w, args[0], func(place trialbook.Place, p *trialbook.Page) error {
				if _, ok := place.(*packed); ok {
					return wrongf("%s is a package already", args[0])
				}
				ask, err := o.ask(w, place)
				if err != nil {
					return err
				}
				return o.withRecords(cmd, w, place, p.Trial.Bench, ask, func(*round.Record) (*datapackage.Package, error) {
					f, err := p.Findings(cmd.Context(), place, func(done, of int) { w.progress(part(done, of), "reading the trial: %d of %d", done, of) })
					if err != nil {
						ask.NoFindings = "There are none yet: " + err.Error() + "."
					} else if err := ask.Told(f); err != nil {
						return nil, err
					}
					return dataset.OfTrial(cmd.Context(), *ask, p)
				})
			})
		},
	}
	at.flag(cmd)
	o.flags(cmd)
	return cmd
}

func newBenchPackage(w World, address *string) *cobra.Command {
	var o packageOptions
	cmd := &cobra.Command{
		Use:   "package BENCH",
		Short: "Everything of a bench and its cycles as an open package, a workbook, Parquet, JSON or CSV",
		Long: `package writes the bench file and what it names, the light of every plant, cycles,
and with --records what people saw on their rounds, what sensors read by hour (--raw: every
reading), figures of photos and what was changed. BENCH is a bench file, or with
--store the name of a bench in the store. docs/data-package.md says what is inside.`,
		Example: `  underlamp benches package underlamp-demo/tier-2-middle.yaml -o tier-2.zip
  underlamp benches package underlamp-demo/tier-2-middle.yaml -o tier-2.xlsx`,
		Args: arguments(1, 1, "one bench"),
		RunE: func(cmd *cobra.Command, args []string) error {
			work := func(place fs.FS, file string) error {
				b, err := benchfolder.Bench(place, file)
				if err != nil {
					return &wrongError{err: fmt.Errorf("%s: %w", args[0], err)}
				}
				ask, err := o.ask(w, place)
				if err != nil {
					return err
				}
				return o.withRecords(cmd, w, place, file, ask, func(rec *round.Record) (*datapackage.Package, error) {
					return dataset.OfBench(cmd.Context(), *ask, file, b, rec)
				})
			}
			if *address == "" {
				if _, err := load(w, args[0]); err != nil { // with the places of its mistakes
					return err
				}
				return work(safefolder.New(filepath.Dir(args[0])), filepath.Base(args[0]))
			}
			if o.records == "" {
				o.records = *address
			}
			return openerOf(w, address)(cmd, false, func(s store.Store) error {
				return work(kept.NewPlace(cmd.Context(), s, time.Now), benchKey(args[0])+".yaml")
			})
		},
	}
	o.flags(cmd)
	return cmd
}

// ask is what to pack, as far as the options say it.
func (o *packageOptions) ask(w World, place fs.FS) (*dataset.Ask, error) {
	if o.out == "" {
		return nil, wrongf("say where to write: -o mine.zip, mine.xlsx, mine.json, or the name of a new folder")
	}
	f, err := o.formatOf() // before anything that takes long
	if err != nil {
		return nil, err
	}
	if ext := filepath.Ext(o.out); o.table == "" && (ext == ".csv" || ext == ".parquet") {
		return nil, wrongf("%s is one table: say which with --table, such as --table plant_days, or write all into a .zip with --format %s", o.out, f)
	}
	if ext := strings.ToLower(filepath.Ext(o.out)); slices.Contains([]string{".xls", ".ods", ".doc", ".docx", ".pdf", ".html", ".txt", ".tsv", ".xml"}, ext) {
		return nil, wrongf("%s: there is no package as %s; end the name in .zip, .xlsx, .parquet, .json or .csv, or name a new folder", o.out, ext)
	}
	if o.isFolder(f) {
		if _, err := os.Stat(o.out); err == nil {
			return nil, wrongf("%s is there already; name a new folder, or a file that ends with .zip", o.out)
		}
	}
	a := &dataset.Ask{Folder: place, Program: dataset.Program{Name: "underlamp", Version: version}, Created: time.Now().UTC().Truncate(time.Second)}
	name, source, err := o.aboutText(place)
	if err != nil {
		return nil, err
	}
	if source != nil {
		about, problems, err := aboutfile.Read(bytes.NewReader(source))
		if err != nil {
			return nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
		}
		if len(problems) > 0 {
			fmt.Fprint(w.Err, problems.Render(name, source, false))
		}
		if about == nil {
			return nil, &wrongError{err: fmt.Errorf("%s has errors", name), shown: true}
		}
		a.About = about
	}
	if a.Names, err = dataset.ParseNames(o.names); err != nil {
		return nil, wrongf("--names: %v", err)
	}
	if o.licence != "" {
		if a.About == nil {
			a.About = &aboutfile.About{}
		}
		a.About.Licence = o.licence
	}
	return a, nil
}

// aboutText is what is said of the data; nil if nothing is.
func (o *packageOptions) aboutText(place fs.FS) (string, []byte, error) {
	if o.about != "" {
		text, err := os.ReadFile(o.about)
		if err != nil {
			return "", nil, wrongf("--about: %v", err)
		}
		return o.about, text, nil
	}
	text, err := fs.ReadFile(place, aboutfile.Name)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil, nil
	}
	return aboutfile.Name, text, err
}

// withRecords makes the package with what a store keeps of a bench, if one is named, and
// writes it while the store is open.
func (o *packageOptions) withRecords(cmd *cobra.Command, w World, place fs.FS, bench string, ask *dataset.Ask, make func(rec *round.Record) (*datapackage.Package, error)) error {
	if o.records == "" {
		p, err := make(nil)
		if err != nil {
			return &wrongError{err: err}
		}
		return o.write(w, p)
	}
	zone, err := roundsOptions{zone: o.zone}.location()
	if err != nil {
		return err
	}
	return openerOf(w, &o.records)(cmd, false, func(s store.Store) error {
		ask.Records = &dataset.Records{Store: s, Zone: zone, Raw: o.raw}
		var rec *round.Record
		if bench != "" {
			key := benchKey(path.Base(bench))
			if rec, err = recordOf(cmd.Context(), s, key, zone); err != nil {
				return err
			}
			if b, err := benchfolder.Bench(place, bench); err == nil {
				if ask.Records.Book, err = photoBook(cmd.Context(), s, key, b, rec); err != nil {
					return err
				}
			}
		}
		p, err := make(rec)
		if err != nil {
			return &wrongError{err: err}
		}
		return o.write(w, p)
	})
}

// formatOf is the format that is meant.
func (o *packageOptions) formatOf() (dataset.Format, error) {
	if o.format != "" {
		f := dataset.Format(o.format)
		if !slices.Contains(dataset.Formats(), f) {
			return "", wrongf("--format %q: there are package, xlsx, parquet, json and csv", o.format)
		}
		return f, nil
	}
	switch e := strings.ToLower(filepath.Ext(o.out)); e {
	case ".xlsx", ".json", ".parquet", ".csv":
		return dataset.Format(e[1:]), nil
	}
	return dataset.FormatPackage, nil
}

func (o *packageOptions) write(w World, p *datapackage.Package) error {
	f, err := o.formatOf()
	if err != nil {
		return err
	}
	if o.isFolder(f) {
		err = writePackageFolder(o.out, p)
	} else {
		err = writeFileBy(o.out, func(to io.Writer) error { return dataset.Write(to, p, f, o.table) })
	}
	var none *dataset.NoTableError
	if errors.As(err, &none) {
		return &wrongError{err: err}
	}
	if err != nil {
		return err
	}
	rows := 0
	for _, t := range p.Tables {
		n, err := t.Count()
		if err != nil {
			return err
		}
		if rows += n; o.table == t.Name {
			fmt.Fprintf(w.Out, "%s written: %s, %s\n", o.out, t.Name, count(n, "row"))
			return nil
		}
	}
	fmt.Fprintf(w.Out, "%s written: %s, %s, %s\n", o.out, count(len(p.Tables), "table"), count(rows, "row"), count(len(p.Files), "file"))
	for _, m := range p.Missing {
		writeParagraph(w.Out, "  not given: ", m.What+" "+m.How)
	}
	return nil
}

// isFolder says that a package is written as a folder.
func (o *packageOptions) isFolder(f dataset.Format) bool {
	return f == dataset.FormatPackage && filepath.Ext(o.out) != ".zip"
}

// writeFileBy writes a whole file or nothing, as it comes: it may be larger than memory.
func writeFileBy(name string, fill func(w io.Writer) error) error {
	tmp := name + ".part"
	f, err := os.Create(tmp)
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", name, err)
	}
	err = errors.Join(fill(f), f.Close())
	if err == nil {
		err = os.Rename(tmp, name)
	}
	if err != nil {
		os.Remove(tmp)
		var none *dataset.NoTableError
		if errors.As(err, &none) {
			return err
		}
		return fmt.Errorf("%s cannot be written: %w", name, err)
	}
	return nil
}

// writePackageFolder writes a package as a folder that is not there yet.
func writePackageFolder(name string, p *datapackage.Package) error {
	if err := os.Mkdir(name, 0o755); err != nil {
		return wrongf("the folder cannot be made: %v; name a new one, or a file that ends with .zip", err)
	}
	root, err := os.OpenRoot(name)
	if err != nil {
		return err
	}
	defer root.Close()
	to := &diskFolder{root: root}
	if err := errors.Join(datapackage.Write(to, p), to.close()); err != nil {
		return fmt.Errorf("not all of it was written to %s: %w", name, err)
	}
	return nil
}

// diskFolder writes files below a folder, and nowhere else.
type diskFolder struct {
	root *os.Root
	now  *os.File
}

func (d *diskFolder) close() error {
	if d.now == nil {
		return nil
	}
	err := d.now.Close()
	d.now = nil
	return err
}

// Create begins a file.
func (d *diskFolder) Create(name string) (io.Writer, error) {
	if err := d.close(); err != nil {
		return nil, err
	}
	if dir := path.Dir(name); dir != "." {
		if err := d.root.MkdirAll(dir, 0o755); err != nil {
			return nil, err
		}
	}
	f, err := d.root.Create(name)
	d.now = f
	return f, err
}

// packed is the folder of a package: it is read and not written.
type packed struct{ fs.FS }

// Change refuses.
func (p *packed) Change(string, func([]byte) ([]byte, error)) error {
	return errors.New("a package is read only; unpack it and change the files under files/")
}

// looksPacked says that a name is that of a package: a zip file, a package in one JSON file,
// or a folder with a descriptor.
func looksPacked(name string) bool {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".zip":
		return true
	case ".yaml", ".yml":
		return false
	}
	_, err := os.Stat(filepath.Join(name, datapackage.Descriptor))
	return err == nil
}

// openPackage reads a package, and gives what is in it as a folder to work with.
func openPackage(w World, name string) (*dataset.Unpacked, error) {
	p, err := readPackage(name)
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
	}
	u, err := dataset.Folder(p)
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("%s: %w", name, err)}
	}
	for _, n := range u.Notes {
		fmt.Fprintf(w.Err, "note: %s\n", n)
	}
	return u, nil
}

// readPackage reads a folder or a zip file as a package.
func readPackage(name string) (*datapackage.Package, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, fmt.Errorf("the package cannot be opened: %w", err)
	}
	if info.IsDir() {
		root, err := os.OpenRoot(name) // no link leads out of it
		if err != nil {
			return nil, err
		}
		return datapackage.Read(root.FS())
	}
	if info.Size() > datapackage.Limits.Zip {
		return nil, fmt.Errorf("the package is larger than %d MiB", datapackage.Limits.Zip>>20)
	}
	raw, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("the package cannot be opened: %w", err)
	}
	dir, err := datapackage.OpenZip(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		return nil, err
	}
	return datapackage.Read(dir)
}
