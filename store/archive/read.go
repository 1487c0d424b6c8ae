package archive

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"underlamp/store"
	"underlamp/store/packed"
)

// ErrDamaged is wrapped where an archive is not as it was written.
var ErrDamaged = errors.New("the archive was cut or changed, or is none; take another copy of it")

// Bounds of what is read into memory at once.
const (
	mostManifest = 64 << 20
	mostLine     = 64 << 20
	mostFile     = store.MaxPhoto
	mostNumber   = 64 // bytes of a line of readings
)

// An Archive is one that is whole.
type Archive struct {
	Manifest Manifest
	files    map[string]*zip.File
}

// Open reads an archive and holds every part to its length and SHA-256. One that was cut
// or changed is refused with [ErrDamaged].
func Open(from io.ReaderAt, size int64) (*Archive, error) {
	r, err := zip.NewReader(from, size)
	if err != nil {
		return nil, fmt.Errorf("%w (%w)", ErrDamaged, err)
	}
	a := &Archive{files: map[string]*zip.File{}}
	for _, f := range r.File {
		if a.files[f.Name] != nil {
			return nil, fmt.Errorf("%s is in it twice: %w", f.Name, ErrDamaged)
		}
		a.files[f.Name] = f
	}
	f := a.files[manifestName]
	if f == nil {
		return nil, fmt.Errorf("there is no %s: %w", manifestName, ErrDamaged)
	}
	data, err := readAll(f, mostManifest)
	if err != nil {
		return nil, err
	}
	d := json.NewDecoder(bytes.NewReader(data))
	if err := d.Decode(&a.Manifest); err != nil {
		return nil, fmt.Errorf("%s cannot be read (%w): %w", manifestName, err, ErrDamaged)
	}
	switch {
	case a.Manifest.Format != format:
		return nil, fmt.Errorf("%s is of %q: %w", manifestName, a.Manifest.Format, ErrDamaged)
	case a.Manifest.Layout != layout:
		return nil, fmt.Errorf("the archive is of layout %d, which this version does not know (it reads %d); a newer underlamp wrote it", a.Manifest.Layout, layout)
	case len(a.Manifest.Parts)+1 != len(r.File):
		return nil, fmt.Errorf("it has %d parts, and the manifest lists %d: %w", len(r.File)-1, len(a.Manifest.Parts), ErrDamaged)
	}
	seen := map[string]bool{}
	for _, p := range a.Manifest.Parts {
		f := a.files[p.Name]
		if f == nil || seen[p.Name] {
			return nil, fmt.Errorf("%s is missing, or listed twice: %w", p.Name, ErrDamaged)
		}
		seen[p.Name] = true
		in, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("%s (%w): %w", p.Name, err, ErrDamaged)
		}
		sum := sha256.New()
		n, err := io.Copy(sum, in)
		in.Close()
		if err != nil || n != p.Bytes || hex.EncodeToString(sum.Sum(nil)) != p.SHA256 {
			return nil, fmt.Errorf("%s is not what was written: %w", p.Name, ErrDamaged)
		}
	}
	return a, nil
}

func readAll(f *zip.File, most int64) ([]byte, error) {
	in, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("%s (%w): %w", f.Name, err, ErrDamaged)
	}
	defer in.Close()
	data, err := io.ReadAll(io.LimitReader(in, most+1))
	if err != nil {
		return nil, fmt.Errorf("%s (%w): %w", f.Name, err, ErrDamaged)
	}
	if int64(len(data)) > most {
		return nil, fmt.Errorf("%s is larger than %d MiB", f.Name, most>>20)
	}
	return data, nil
}

// Import fills an empty store, all or nothing.
func (a *Archive) Import(ctx context.Context, to store.Store) error {
	return to.Load(ctx, func(sink store.Sink) error { return a.fill(sink, to.Tables()) })
}

// fill hands the parts over.
func (a *Archive) fill(sink store.Sink, tables []store.Table) error {
	for _, p := range a.Manifest.Parts {
		name, ok := strings.CutSuffix(p.Name, ".jsonl")
		known := slices.ContainsFunc(tables, func(t store.Table) bool { return t.Name == name })
		if ok && !known && p.Rows > 0 {
			return fmt.Errorf("the archive holds %s, which this version does not know; a newer underlamp wrote it", p.Name)
		}
	}
	for _, t := range tables {
		if f := a.files[t.Name+".jsonl"]; f != nil { // an older archive may lack it
			if err := a.rows(sink, t, f); err != nil {
				return err
			}
		}
	}
	for _, p := range a.Manifest.Parts {
		f := a.files[p.Name]
		if sensor, ok := sensorOf(p.Name, "readings"); ok {
			if err := readings(sink, sensor, f); err != nil {
				return err
			}
		} else if sensor, ok := sensorOf(p.Name, "forgotten"); ok {
			if err := forgotten(sink, sensor, f); err != nil {
				return err
			}
		}
	}
	return nil
}

// sensorOf is the sensor of a part readings/7.csv.
func sensorOf(name, folder string) (int64, bool) {
	s, ok := strings.CutPrefix(name, folder+"/")
	s, csv := strings.CutSuffix(s, ".csv")
	if !ok || !csv {
		return 0, false
	}
	id, err := strconv.ParseInt(s, 10, 64)
	return id, err == nil && id > 0 && strconv.FormatInt(id, 10) == s
}

// lines calls take for every line of a part, without its end.
func lines(f *zip.File, most int, take func(line []byte) error) error {
	in, err := f.Open()
	if err != nil {
		return err
	}
	defer in.Close()
	s := bufio.NewScanner(in)
	s.Buffer(make([]byte, 0, 1<<16), max(most, 1<<16))
	n := 0
	for s.Scan() {
		n++
		if len(s.Bytes()) > most {
			return fmt.Errorf("%s, line %d is longer than %d bytes", f.Name, n, most)
		}
		if err := take(s.Bytes()); err != nil {
			return fmt.Errorf("%s, line %d: %w", f.Name, n, err)
		}
	}
	if err := s.Err(); err != nil {
		return fmt.Errorf("%s, line %d: %w", f.Name, n+1, err)
	}
	return nil
}

func (a *Archive) rows(sink store.Sink, t store.Table, f *zip.File) error {
	return lines(f, mostLine, func(line []byte) error {
		var entry map[string]json.RawMessage
		if err := json.Unmarshal(line, &entry); err != nil {
			return err
		}
		values := make([]any, len(t.Columns))
		for i, c := range t.Columns {
			raw, ok := entry[c.Name]
			if !ok && c.Later {
				values[i] = map[store.Kind]any{store.Integer: int64(0), store.Text: "", store.Bytes: []byte{}, store.File: []byte{}}[c.Kind]
				continue
			}
			if !ok {
				return fmt.Errorf("%s is missing", c.Name)
			}
			v, err := a.value(c.Kind, raw)
			if err != nil {
				return fmt.Errorf("%s: %w", c.Name, err)
			}
			values[i] = v
			delete(entry, c.Name)
		}
		for name := range entry {
			return fmt.Errorf("%s is not known to this version; a newer underlamp wrote the archive", name)
		}
		return sink.Row(t, values)
	})
}

// value reads one.
func (a *Archive) value(kind store.Kind, raw json.RawMessage) (any, error) {
	switch kind {
	case store.Integer:
		return strconv.ParseInt(string(raw), 10, 64)
	case store.Text:
		var s string
		err := json.Unmarshal(raw, &s)
		return s, err
	}
	var s string
	if json.Unmarshal(raw, &s) == nil && kind == store.Bytes {
		return []byte(s), nil
	}
	var other struct{ Base64, Part *string }
	if err := json.Unmarshal(raw, &other); err != nil {
		return nil, err
	}
	switch {
	case kind == store.Bytes && other.Base64 != nil:
		return base64.StdEncoding.DecodeString(*other.Base64)
	case kind == store.File && other.Part != nil:
		f := a.files[*other.Part]
		if f == nil {
			return nil, fmt.Errorf("there is no part %q", *other.Part)
		}
		return readAll(f, mostFile)
	}
	return nil, errors.New("it is neither text nor base64 nor the name of a part")
}

func readings(sink store.Sink, sensor int64, f *zip.File) error {
	var hour []packed.Sample
	var begin int64
	last := int64(-1)
	head := true
	err := lines(f, mostNumber, func(line []byte) error {
		if head {
			head = false
			return wants(line, readingsHead)
		}
		i := bytes.IndexByte(line, ',')
		if i < 0 {
			return fmt.Errorf("%q is no reading", line)
		}
		at, err := strconv.ParseInt(string(line[:i]), 10, 64)
		if err != nil {
			return err
		}
		v, err := strconv.ParseFloat(string(line[i+1:]), 64)
		switch {
		case err != nil:
			return err
		case math.IsNaN(v) || math.IsInf(v, 0):
			return fmt.Errorf("%g is no value", v)
		case at <= last:
			return fmt.Errorf("%d does not come after %d", at, last)
		case len(hour) >= packed.Most:
			return fmt.Errorf("there are more than %d readings in an hour", packed.Most)
		}
		last = at
		if len(hour) > 0 && at >= begin+store.Hour {
			if err := sink.Hour(sensor, store.Bucket{}, hour); err != nil {
				return err
			}
			hour = hour[:0]
		}
		if len(hour) == 0 {
			begin = at - at%store.Hour
		}
		hour = append(hour, packed.Sample{At: at, Value: v})
		return nil
	})
	if err != nil || len(hour) == 0 {
		return err
	}
	return sink.Hour(sensor, store.Bucket{}, hour)
}

func wants(line []byte, head string) error {
	if want := strings.TrimSuffix(head, "\n"); string(line) != want {
		return fmt.Errorf("%q stands where %q should", line, want)
	}
	return nil
}

func forgotten(sink store.Sink, sensor int64, f *zip.File) error {
	head := true
	return lines(f, 256, func(line []byte) error {
		if head {
			head = false
			return wants(line, forgottenHead)
		}
		cells := strings.Split(string(line), ",")
		if len(cells) != 7 {
			return fmt.Errorf("%d values stand where 7 should", len(cells))
		}
		var b store.Bucket
		var err error
		if b.From, err = strconv.ParseInt(cells[0], 10, 64); err != nil {
			return err
		}
		if b.N, err = strconv.ParseInt(cells[1], 10, 64); err != nil {
			return err
		}
		if b.N < 1 || b.From < 0 || b.From%store.Hour != 0 {
			return errors.New("this is no hour")
		}
		for i, to := range []*float64{&b.Min, &b.Max, &b.Sum, &b.First, &b.Last} {
			if *to, err = strconv.ParseFloat(cells[i+2], 64); err != nil {
				return err
			}
			if math.IsNaN(*to) || math.IsInf(*to, 0) && i != 2 {
				return fmt.Errorf("%g is no value", *to)
			}
		}
		return sink.Hour(sensor, b, nil)
	})
}
