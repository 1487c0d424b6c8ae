package fileintake

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"

	"underlamp/formats/loggercsv"
	"underlamp/intake"
	"underlamp/store"
	"underlamp/store/packed"
)

// Samples is what is asked of the store to know what is there already.
type Samples interface {
	Sensor(ctx context.Context, key string) (store.Sensor, error)
	Samples(ctx context.Context, sensor, from, to int64) ([]packed.Sample, error)
}

// kindProgress is the kind of the documents that say what was read up to where.
const kindProgress = "table file"

// A progress is what was taken of a file.
type progress struct {
	Size  int64  `json:"size"` // of the file when it was read
	Mod   int64  `json:"modified_ns"`
	Bytes int64  `json:"bytes"`  // of it that were taken, whole lines
	Hash  string `json:"sha256"` // of these bytes
	Rows  int    `json:"rows"`   // in them
	Table string `json:"table"`  // the document by which they were taken
}

func (w *Watch) load(ctx context.Context, name string) (*progress, error) {
	d, err := w.keep.Document(ctx, kindProgress, name)
	if errors.Is(err, store.ErrNotFound) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	var p progress
	if json.Unmarshal(d.Text, &p) != nil {
		return nil, nil // as if it were new: what is known is recognised
	}
	return &p, nil
}

func (w *Watch) save(ctx context.Context, name string, p *progress) error {
	text, err := json.Marshal(p)
	if err != nil {
		return err
	}
	return w.keep.PutDocument(ctx, store.Document{Kind: kindProgress, Name: name, Recorded: store.At(w.opt.Now()), Text: text})
}

// errMoved says that a file changed while it was read; the next look sees it.
var errMoved = errors.New("the file changed while it was read")

// A tableError is why a table cannot be taken.
type tableError struct {
	place, reason string
	halfWritten   bool // the last line was left out, and may mend it
	passing       bool // it may be otherwise at the next look
}

func (e *tableError) Error() string { return e.reason }

// most is how many rows are compared and taken at once.
const most = 20_000

// read takes what is new in a file; quiet says that nobody has written to it for long.
func (w *Watch) read(ctx context.Context, name string, x *sight, quiet bool) error {
	data, err := fs.ReadFile(limited{w.folder}, name)
	if err != nil {
		return &tableError{reason: fmt.Sprintf("the file cannot be read: %v", err), passing: true}
	}
	if info, err := fs.Stat(w.folder, name); err != nil || info.Size() != x.size || !info.ModTime().Equal(x.mod) || int64(len(data)) != min(x.size, loggercsv.MaxBytes+1) {
		return errMoved
	}
	whole := wholeLines(data)
	half := whole < len(data)
	text := data[:whole]
	if quiet {
		text = data
	}
	log, table, doc, err := w.table(ctx, name, text)
	if bad, ok := errors.AsType[*tableError](err); ok {
		bad.halfWritten = half && !quiet
		return bad
	} else if err != nil {
		return err
	}
	// Where does what was not taken before begin?
	begin := 0
	if p := x.saved; p != nil && p.Table == doc && p.Bytes <= int64(whole) && p.Rows <= len(log.Times) && p.Hash == sum(data[:p.Bytes]) {
		begin = p.Rows
	}
	f := File{Path: name, Read: true, At: w.opt.Now(), Place: table.Place, Rows: len(log.Times), Notes: log.Notes}
	series := pick(log, table)
	// All of it or nothing: what cannot be is found before anything is kept.
	for at := begin; at < len(log.Times); at += most {
		err := w.in.Check(readings(log, series, at, min(at+most, len(log.Times))))
		if bad, ok := errors.AsType[*intake.RefusedError](err); ok {
			return &tableError{place: table.Place, reason: fmt.Sprintf("a reading of %q %s; nothing of the file was kept", bad.Sensor, bad.Reason)}
		}
	}
	for at := begin; at < len(log.Times); at += most {
		if err := w.take(ctx, readings(log, series, at, min(at+most, len(log.Times))), &f); err != nil {
			return err
		}
	}
	rows := len(log.Times)
	if quiet && half { // the last line was taken, and is looked at again
		rows--
	}
	x.saved = &progress{Size: x.size, Mod: x.mod.UnixNano(), Bytes: int64(whole), Hash: sum(data[:whole]), Rows: rows, Table: doc}
	if err := w.save(ctx, name, x.saved); err != nil {
		return err
	}
	x.done, x.tail = true, half && !quiet
	w.mu.Lock()
	w.files[name] = f
	w.mu.Unlock()
	w.opt.Log.Info("a table was read", "file", name, "rows", f.Rows, "new", f.New, "changed", f.Changed, "known", f.Known)
	return nil
}

// limited reads no more of a file than a table may have.
type limited struct{ fs.FS }

// ReadFile reads a file up to one byte more than a table may have.
func (l limited) ReadFile(name string) ([]byte, error) {
	f, err := l.FS.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, loggercsv.MaxBytes+1))
}

func sum(data []byte) string {
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:])
}

// wholeLines is how many bytes are lines with their end. In UTF-16 the end has two.
func wholeLines(data []byte) int {
	i := bytes.LastIndexByte(data, '\n')
	if i < 0 {
		if i = bytes.LastIndexByte(data, '\r'); i < 0 {
			return 0
		}
	}
	i++
	if i < len(data) && data[i] == 0 && i%2 == 1 {
		i++ // little end first
	}
	return i
}

// A column of the table that goes to a sensor.
type column struct {
	values       []float64
	sensor, unit string
}

// readings are those of some rows; empty cells are left out.
func readings(log *loggercsv.Log, series []column, from, to int) []intake.Reading {
	out := make([]intake.Reading, 0, (to-from)*len(series))
	for i := from; i < to; i++ {
		for _, c := range series {
			if !math.IsNaN(c.values[i]) {
				out = append(out, intake.Reading{Sensor: c.sensor, Unit: c.unit, At: log.Times[i], Value: c.values[i]})
			}
		}
	}
	return out
}

// take keeps those readings that the store does not have.
func (w *Watch) take(ctx context.Context, all []intake.Reading, f *File) error {
	type span struct{ from, to int64 }
	spans := map[string]*span{}
	for _, r := range all {
		at := store.At(r.At)
		if s := spans[r.Sensor]; s == nil {
			spans[r.Sensor] = &span{at, at}
		} else {
			s.from, s.to = min(s.from, at), max(s.to, at)
		}
	}
	there := map[string]map[int64]float64{}
	for key, s := range spans {
		sensor, err := w.keep.Sensor(ctx, key)
		if errors.Is(err, store.ErrNotFound) {
			continue
		} else if err != nil {
			return err
		}
		old, err := w.keep.Samples(ctx, sensor.ID, s.from, s.to+1)
		if err != nil {
			return err
		}
		at := make(map[int64]float64, len(old))
		for _, o := range old {
			at[o.At] = o.Value
		}
		there[key] = at
	}
	var send []intake.Reading
	var added, changed, known int
	for _, r := range all {
		old, ok := there[r.Sensor][store.At(r.At)]
		switch {
		case ok && old == r.Value:
			known++
			continue
		case ok:
			changed++
		default:
			added++
		}
		send = append(send, r)
	}
	if err := w.in.Take(ctx, send); err != nil {
		return err
	}
	f.New, f.Changed, f.Known = f.New+added, f.Changed+changed, f.Known+known
	return nil
}
