package notes

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/round"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/store"
)

// File is the name of the file that keeps what was imported, beside the bench files.
const File = "imports.json"

const version = 1

// A Place is where bench files lie and what is beside them: a folder (underlamp/safefolder)
// or a store (underlamp/app/kept).
type Place interface {
	fs.FS
	// Change hands the bytes of a file to edit (nil if there is none) and keeps what it
	// returns in their place, lasting before it returns. Nothing is written if edit returns
	// nil or an error.
	Change(name string, edit func(was []byte) ([]byte, error)) error
	// Remove takes a file away.
	Remove(name string) error
}

// An Office takes notes in and back.
type Office struct {
	Place Place
	// Save writes a bench whose text was base; nil: readings cannot be taken in.
	Save func(ctx context.Context, bench string, text, base []byte, by, why string) error
	// Add puts files of a folder in that are not there, and says which; Drop takes files away
	// that are as they are in a folder, and says which stay. Nil: packages cannot be taken in.
	Add, Drop func(ctx context.Context, from fs.FS, by string) ([]string, error)

	Seen store.Observations // nil: what was seen of plants cannot be kept
	Zone *time.Location     // of the days
	Now  func() time.Time
}

// A Record is an import of the past.
type Record struct {
	ID    string    `json:"id" doc:"of the import"`
	At    time.Time `json:"at" doc:"when it was made"`
	By    string    `json:"by,omitempty" doc:"who made it"`
	File  string    `json:"file" doc:"as it is called"`
	Hash  string    `json:"sha256" doc:"of the file, in hexadecimal"`
	Into  string    `json:"bench" doc:"bench, as the store has it"`
	Sheet string    `json:"sheet,omitempty" doc:"of a workbook"`
	Said  Said      `json:"said" doc:"of the sheet, with what every column was taken for"`

	Rows     int         `json:"rows" doc:"below the heading"`
	New      int         `json:"new" doc:"values that were new"`
	Over     int         `json:"instead of others,omitempty" doc:"values that stand in place of others"`
	Entries  int         `json:"entries,omitempty" doc:"of rounds; their ids begin with that of the import"` // whose ids begin with that of the import
	Readings []Reading   `json:"readings,omitempty" doc:"that were put into the bench file"`
	Cycles   []CycleFile `json:"files,omitempty" doc:"files that were written: cycles, or those of a package"` // cycles, or the files of a package
	Done     bool        `json:"done" doc:"false: it was stopped midway"`
	Undone   *Undone     `json:"taken back,omitempty" doc:"who took it back; missing: nobody"`
}

// A Reading is one that an import put into a bench file.
type Reading struct {
	Name   string  `json:"name" doc:"of the reading"`
	X      float64 `json:"x_m" doc:"from the left (m)"`
	Y      float64 `json:"y_m" doc:"from the front (m)"`
	Height float64 `json:"height_m" doc:"of the sensor (m)"`
	PPFD   float64 `json:"ppfd" doc:"as read (µmol m⁻² s⁻¹)"`
}

// A CycleFile is one that an import wrote.
type CycleFile struct {
	Name string `json:"file" doc:"of the file"`
	Hash string `json:"sha256" doc:"of what was written, in hexadecimal"`
	Was  string `json:"was,omitempty" doc:"what it stood in place of; missing: nothing"`
}

// Undone says who took an import back.
type Undone struct {
	At   time.Time `json:"at" doc:"when it was taken back"`
	By   string    `json:"by,omitempty" doc:"who took it back"`
	Told []string  `json:"told,omitempty" doc:"what stays, and why"`
}

type ledger struct {
	Version int      `json:"underlamp imports"`
	Imports []Record `json:"imports"`
}

func readLedger(raw []byte) (*ledger, error) {
	l := &ledger{Version: version}
	if len(bytes.TrimSpace(raw)) == 0 {
		return l, nil
	}
	if err := json.Unmarshal(raw, l); err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", File, err)
	}
	if l.Version != version {
		return nil, fmt.Errorf("%s is of version %d, this program reads %d", File, l.Version, version)
	}
	return l, nil
}

// Records are the imports so far, the oldest first.
func (o *Office) Records() ([]Record, error) {
	raw, err := readFile(o.Place, File)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	l, err := readLedger(raw)
	if err != nil {
		return nil, err
	}
	return l.Imports, nil
}

func readFile(folder fs.FS, name string) ([]byte, error) {
	f, err := folder.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	raw, err := io.ReadAll(io.LimitReader(f, 16<<20+1))
	if err == nil && len(raw) > 16<<20 {
		err = fmt.Errorf("%s is larger than 16 MiB", name)
	}
	return raw, err
}

func (o *Office) change(edit func(l *ledger) error) error {
	return o.Place.Change(File, func(was []byte) ([]byte, error) {
		l, err := readLedger(was)
		if err != nil {
			return nil, err
		}
		if err := edit(l); err != nil {
			return nil, err
		}
		text, err := json.MarshalIndent(l, "", " ")
		return append(text, '\n'), err
	})
}

func (o *Office) zone() *time.Location {
	if o.Zone == nil {
		return time.Local
	}
	return o.Zone
}

// bench reads the bench of a file, and its text.
func (o *Office) bench(file string) (*underlamp.Bench, []byte, error) {
	raw, err := readFile(o.Place, file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, fmt.Errorf("there is no bench file %s; underlamp new writes one", file)
	} else if err != nil {
		return nil, nil, fmt.Errorf("the bench cannot be read: %w", err)
	}
	b, problems, err := benchfile.ReadWith(bytes.NewReader(raw), benchfolder.Files(o.Place))
	if err == nil && b == nil {
		err = fmt.Errorf("%s has mistakes: %s", file, firstProblem(problems.Error(), nil))
	}
	return b, raw, err
}

func key(file string) string {
	return strings.TrimSuffix(strings.TrimSuffix(file, ".yaml"), ".yml")
}

// Look says what taking a file in would do; nothing is written. benchFile is the name of the
// bench file in the place.
func (o *Office) Look(ctx context.Context, file string, raw []byte, benchFile string, said Said) (*Draft, error) {
	past, err := o.Records()
	if err != nil {
		return nil, err
	}
	return o.look(ctx, file, raw, benchFile, said, past, "im0000000000")
}

func (o *Office) look(ctx context.Context, file string, raw []byte, benchFile string, said Said, past []Record, id string) (*Draft, error) {
	b, text, err := o.bench(benchFile)
	if err != nil {
		return nil, err
	}
	d, t, err := open(file, raw, b, said, past)
	if err != nil {
		return nil, err
	}
	d.Into = key(benchFile)
	switch d.Kind {
	case Cycles:
		return d, d.cyclesOf(t, b, benchFile, o.Place)
	case Readings:
		return d, d.readings(t, b, text, o.Place)
	case Plants:
		var all []round.Entry
		if o.Seen != nil {
			if all, err = o.known(ctx, d.Into); err != nil {
				return nil, err
			}
		} else {
			d.Asked = append(d.Asked, "What was seen of plants is kept in a store, and there is none here: name it with --store.")
		}
		return d, d.plants(t, b, all, round.NewRecord(all, o.zone()), o.Now(), id)
	}
	return nil, fmt.Errorf("%q is none of plants, cycles and readings", d.Kind)
}

var (
	imported  = regexp.MustCompile(`^im[0-9a-f]{10}-\d+$`)
	takenBack = regexp.MustCompile(`^un[0-9a-f]{10}-\d+$`)
)

// known are the entries of a bench without those that were taken back.
func (o *Office) known(ctx context.Context, bench string) ([]round.Entry, error) {
	obs, err := o.Seen.Observations(ctx, bench, 0, math.MaxInt64)
	if err != nil {
		return nil, err
	}
	all, _ := round.ReadAll(obs)
	back := map[string]bool{}
	for _, e := range all {
		if takenBack.MatchString(e.ID) {
			if back[e.Corrects] = true; e.Struck {
				back[e.ID] = true
			}
		}
	}
	out := slices.DeleteFunc(all, func(e round.Entry) bool { return back[e.ID] })
	for i := range out { // what stands for an entry that was taken back begins a chain of its own
		if back[out[i].Corrects] {
			out[i].Corrects = ""
		}
	}
	return out, nil
}

// ErrNotReady says that a draft cannot be taken in as it is.
var ErrNotReady = errors.New("nothing was kept")

// Take takes in what [Office.Look] shows, all or nothing, and records it.
func (o *Office) Take(ctx context.Context, file string, raw []byte, benchFile string, said Said, by string) (*Draft, *Record, error) {
	past, err := o.Records()
	if err != nil {
		return nil, nil, err
	}
	id := newImport(raw)
	d, err := o.look(ctx, file, raw, benchFile, said, past, id)
	if err != nil {
		return nil, nil, err
	}
	switch {
	case len(d.Asked) > 0:
		return d, nil, fmt.Errorf("%w: %s", ErrNotReady, d.Asked[0])
	case len(d.New) == 0 && (said.Skip || len(d.Faults) == 0):
		return d, nil, nil
	case !d.Ready():
		return d, nil, fmt.Errorf("%w: cells that cannot be read: %d; mend them, or say that they are left out", ErrNotReady, d.FaultCount())
	case d.Kind == Readings && o.Save == nil:
		return d, nil, fmt.Errorf("%w: the bench cannot be written here", ErrNotReady)
	}
	d.Said.Kind, d.Said.Columns = d.Kind, d.mapping()
	r := Record{ID: id, At: o.Now().UTC().Truncate(time.Second), By: strings.TrimSpace(by), File: file, Hash: d.Hash, Into: d.Into, Sheet: d.Sheet, Said: d.Said, Rows: d.Rows, New: len(d.New), Entries: len(d.entries)}
	for _, i := range d.New {
		if i.Over != "" {
			r.Over++
		}
	}
	for _, c := range d.cycles {
		r.Cycles = append(r.Cycles, CycleFile{c.name, hashOf(c.text), string(c.was)})
	}
	if d.text != nil {
		b, _, err := benchfile.ReadWith(bytes.NewReader(d.text), benchfolder.Files(o.Place))
		if err != nil || b == nil {
			return d, nil, fmt.Errorf("the bench cannot be read with the readings: %w", err)
		}
		for _, x := range b.Readings {
			if slices.Contains(d.names, x.Name) {
				r.Readings = append(r.Readings, Reading{x.Name, float64(x.X), float64(x.Y), float64(x.Height), float64(x.PPFD)})
			}
		}
	}
	if err := o.begin(r, len(past)); err != nil {
		return d, nil, err
	}
	if err := o.write(ctx, d, by); err != nil {
		return d, nil, errors.Join(fmt.Errorf("%w: %w", ErrNotReady, err), o.forget(id))
	}
	r.Done = true
	return d, &r, o.finish(id)
}

// newImport is an id for an import.
func newImport(raw []byte) string {
	var nonce [8]byte
	rand.Read(nonce[:]) // never fails
	sum := sha256.Sum256(append(nonce[:], raw...))
	return "im" + hex.EncodeToString(sum[:5])
}

// begin records an import that is about to be written; past is how many were known.
func (o *Office) begin(r Record, past int) error {
	return o.change(func(l *ledger) error {
		if len(l.Imports) != past {
			return fmt.Errorf("%w: another import was taken meanwhile; look again", ErrNotReady)
		}
		l.Imports = append(l.Imports, r)
		return nil
	})
}

// finish records that all of an import is written.
func (o *Office) finish(id string) error {
	return o.change(func(l *ledger) error {
		for i := range l.Imports {
			if l.Imports[i].ID == id {
				l.Imports[i].Done = true
			}
		}
		return nil
	})
}

// forget takes the record of an import away of which nothing was written.
func (o *Office) forget(id string) error {
	return o.change(func(l *ledger) error {
		l.Imports = slices.DeleteFunc(l.Imports, func(x Record) bool { return x.ID == id })
		return nil
	})
}

func hashOf(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// write keeps a draft. What it fails with has written nothing.
func (o *Office) write(ctx context.Context, d *Draft, by string) error {
	switch d.Kind {
	case Plants:
		var all []store.Observation
		for i := range d.entries {
			x, err := d.entries[i].Observation()
			if err != nil {
				return err
			}
			all = append(all, x)
		}
		return o.Seen.Observe(ctx, all)
	case Readings:
		return o.Save(ctx, d.Into, d.text, d.base, by, "readings of "+d.File)
	}
	for i, c := range d.cycles {
		err := o.Place.Change(c.name, func(was []byte) ([]byte, error) {
			if !bytes.Equal(was, c.was) {
				return nil, fmt.Errorf("%s was changed meanwhile; look again", c.name)
			}
			return c.text, nil
		})
		if err != nil {
			for _, done := range d.cycles[:i] {
				err = errors.Join(err, o.restore(done.name, hashOf(done.text), done.was))
			}
			return err
		}
	}
	return nil
}

var errChanged = errors.New("it was changed since")

// restore puts a file back to what it was, if it still is what an import wrote.
func (o *Office) restore(name, hash string, was []byte) error {
	raw, err := readFile(o.Place, name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil // it is gone, or was never written
	case err != nil:
		return err
	case bytes.Equal(raw, was):
		return nil
	case hashOf(raw) != hash:
		return errChanged
	case len(was) == 0:
		return o.Place.Remove(name)
	}
	return o.Place.Change(name, func(is []byte) ([]byte, error) {
		if hashOf(is) != hash {
			return nil, errChanged
		}
		return was, nil
	})
}

// Undo takes an import back, and says what stays since somebody has changed it. One that was
// stopped midway is taken back as far as it came.
func (o *Office) Undo(ctx context.Context, id, by string) (*Record, error) {
	past, err := o.Records()
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(past, func(r Record) bool { return r.ID == id })
	switch {
	case i < 0:
		return nil, fmt.Errorf("there is no import %q", id)
	case past[i].Undone != nil:
		return nil, fmt.Errorf("the import %s was taken back on %s already", id, past[i].Undone.At.In(o.zone()).Format(time.DateOnly))
	}
	r := past[i]
	u := &Undone{At: o.Now().UTC().Truncate(time.Second), By: strings.TrimSpace(by)}
	switch r.Said.Kind {
	case Plants:
		err = o.undoSeen(ctx, &r, r.Into, u)
	case Readings:
		err = o.undoReadings(ctx, &r, u)
	case Package:
		err = o.undoPackage(ctx, &r, u)
	default:
		for _, c := range r.Cycles {
			back := o.restore(c.Name, c.Hash, []byte(c.Was))
			if errors.Is(back, errChanged) {
				u.Told = append(u.Told, fmt.Sprintf("%s was changed since, and stays", c.Name))
			} else if back != nil {
				err = errors.Join(err, fmt.Errorf("%s: %w", c.Name, back))
			}
		}
	}
	if err != nil {
		return nil, err
	}
	r.Undone = u
	return &r, o.change(func(l *ledger) error {
		for i := range l.Imports {
			if l.Imports[i].ID == id {
				l.Imports[i].Undone = u
			}
		}
		return nil
	})
}

// undoSeen strikes what an import entered of a bench. What it stood in place of counts again.
func (o *Office) undoSeen(ctx context.Context, r *Record, bench string, u *Undone) error {
	if o.Seen == nil {
		return errors.New("what was seen of plants is in a store, and there is none here: name it with --store")
	}
	obs, err := o.Seen.Observations(ctx, bench, 0, math.MaxInt64)
	if err != nil {
		return err
	}
	all, _ := round.ReadAll(obs)
	rec := round.NewRecord(all, o.zone())
	var strikes []store.Observation
	ofThis := func(id string) bool { return imported.MatchString(id) && strings.HasPrefix(id, r.ID+"-") }
	for _, e := range all {
		if !ofThis(e.ID) {
			continue
		}
		after := slices.DeleteFunc(rec.After(e.ID), func(x round.Entry) bool { return ofThis(x.ID) }) // packages bring corrections too
		if len(after) > 0 {
			if last := after[len(after)-1]; !takenBack.MatchString(last.ID) {
				who := last.By
				if who == "" {
					who = "somebody"
				}
				u.Told = append(u.Told, fmt.Sprintf("%s, %s of %s: %s has corrected it since, and that stays", e.Plant, e.What, rec.Day(&e).Format(time.DateOnly), who))
			}
			continue
		}
		id := "un" + strings.TrimPrefix(e.ID, "im")
		s, err := round.Strike(id, e, o.Now(), u.By, "import "+r.ID+" of "+r.File+" taken back")
		if err != nil {
			return err
		}
		if was, ok := rec.Find(e.Corrects); ok && !ofThis(was.ID) { // it stood for another value, which counts again
			seen := was.Seen
			seen.By, seen.Note, seen.Clock, seen.Beside = u.By, s.Note+"; as before", nil, nil
			s = round.Entry{ID: id, Bench: e.Bench, At: e.At, Recorded: s.Recorded, Corrects: e.ID, Seen: seen}
		}
		x, err := s.Observation()
		if err != nil {
			return err
		}
		strikes = append(strikes, x)
	}
	if len(strikes) == 0 {
		return nil
	}
	return o.Seen.Observe(ctx, strikes)
}

// undoReadings takes the readings of an import out of the bench file.
func (o *Office) undoReadings(ctx context.Context, r *Record, u *Undone) error {
	file := r.Into + ".yaml"
	if _, err := fs.Stat(o.Place, file); err != nil {
		file = r.Into + ".yml"
	}
	b, text, err := o.bench(file)
	if err != nil {
		return err
	}
	var changes []benchfile.Change
	for _, x := range r.Readings {
		i := slices.IndexFunc(b.Readings, func(y underlamp.Reading) bool { return y.Name == x.Name })
		switch {
		case i < 0:
			if r.Done {
				u.Told = append(u.Told, fmt.Sprintf("the reading %s is not there any more", x.Name))
			}
		case !near(float64(b.Readings[i].X), x.X) || !near(float64(b.Readings[i].Y), x.Y) || !near(float64(b.Readings[i].Height), x.Height) || !near(float64(b.Readings[i].PPFD), x.PPFD):
			u.Told = append(u.Told, fmt.Sprintf("the reading %s was changed since, and stays", x.Name))
		default:
			changes = append(changes, benchfile.Change{Do: benchfile.Remove, Path: fmt.Sprintf("readings[%q]", x.Name)})
		}
	}
	if len(changes) == 0 {
		return nil
	}
	after, err := benchfile.Apply(text, changes...)
	if err != nil {
		return fmt.Errorf("the readings cannot be taken out of the bench file: %w", err)
	}
	if again, problems, err := benchfile.ReadWith(bytes.NewReader(after), benchfolder.Files(o.Place)); err != nil || again == nil {
		return fmt.Errorf("without these readings the bench would not be one: %s", firstProblem(problems.Error(), err))
	}
	return o.Save(ctx, r.Into, after, text, u.By, "import "+r.ID+" taken back")
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a)) }
