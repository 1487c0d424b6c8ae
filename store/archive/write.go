package archive

import (
	"archive/zip"
	"bufio"
	"bytes"
	"compress/flate"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"io"
	"strconv"
	"time"
	"unicode/utf8"

	"underlamp/store"
	"underlamp/store/packed"
)

// format and layout tell the file from others and from later ones.
const (
	format = "underlamp archive"
	layout = 1
)

const manifestName = "manifest.json"

const (
	readingsHead  = "at_us,value\n"
	forgottenHead = "hour_us,n,min,max,sum,first,last\n"
)

// A Part is one of the archive.
type Part struct {
	Name   string `json:"name"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
	Rows   int64  `json:"rows"` // entries, readings or sums; 1 for other parts
}

// A Manifest says what an archive holds.
type Manifest struct {
	Format  string `json:"format"`
	Layout  int    `json:"layout"`
	Written string `json:"written"` // RFC 3339
	Parts   []Part `json:"parts"`
}

// Readings is how many readings the archive holds.
func (m Manifest) Readings() int64 {
	n := int64(0)
	for _, p := range m.Parts {
		if _, ok := sensorOf(p.Name, "readings"); ok {
			n += p.Rows
		}
	}
	return n
}

const readme = `All of a store of underlamp, as it was when manifest.json was written.

sensor.jsonl and other .jsonl   entries, a JSON object a line; doc is what was entered
readings/ID.csv                 what sensor ID read (id in sensor.jsonl): microseconds since
                                1970-01-01 UTC, and the value as it was sent
forgotten/ID.csv                sums of the hours whose readings were forgotten on purpose
photo/                          photos, named by photo.jsonl
measure_picture/                what was drawn of them, named by measure_picture.jsonl
manifest.json                   length and SHA-256 of every part

Bytes that are no text stand as {"base64": "..."}. device.jsonl holds hashes of tokens and
no tokens. underlamp store import puts all of it into an empty store.
`

// Export writes all of a store at one instant. The store may be in use.
func Export(ctx context.Context, from store.Store, to io.Writer, now time.Time) (Manifest, error) {
	for {
		n, err := from.Fold(ctx)
		if err != nil {
			return Manifest{}, err
		}
		if n == 0 {
			break
		}
	}
	w := &writer{zip: zip.NewWriter(to), now: now, m: Manifest{Format: format, Layout: layout, Written: now.UTC().Format(time.RFC3339)}}
	w.zip.RegisterCompressor(zip.Deflate, func(out io.Writer) (io.WriteCloser, error) { return flate.NewWriter(out, flate.BestSpeed) })
	err := w.text("README.txt", []byte(readme))
	if err == nil {
		err = from.Dump(ctx, w)
	}
	if err == nil {
		err = w.end(from.Tables())
	}
	if err != nil {
		return Manifest{}, fmt.Errorf("export: %w", err)
	}
	return w.m, nil
}

// A writer is the sink that makes the parts.
type writer struct {
	zip  *zip.Writer
	now  time.Time
	m    Manifest
	seen map[string]bool

	part *Part // that is being written; nil for none
	sum  hash.Hash
	out  *bufio.Writer
	size *counter

	table     string        // whose rows come now
	aside     *bytes.Buffer // its lines, where parts of its own stand between them
	asideRows int64
	sensor    int64
	forgotten bytes.Buffer // sums of the sensor
	lost      int64
	line      []byte
}

type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return len(p), nil
}

func (w *writer) begin(name string) error {
	if err := w.close(); err != nil {
		return err
	}
	f, err := w.zip.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: w.now.UTC()})
	if err != nil {
		return err
	}
	if w.seen == nil {
		w.seen = map[string]bool{}
	}
	w.seen[name] = true
	w.part, w.sum, w.size = &Part{Name: name}, sha256.New(), &counter{}
	w.out = bufio.NewWriterSize(io.MultiWriter(f, w.sum, w.size), 1<<16)
	return nil
}

func (w *writer) close() error {
	if w.part == nil {
		return nil
	}
	if err := w.out.Flush(); err != nil {
		return err
	}
	w.part.Bytes, w.part.SHA256 = w.size.n, hex.EncodeToString(w.sum.Sum(nil))
	w.m.Parts = append(w.m.Parts, *w.part)
	w.part = nil
	return nil
}

// text writes a whole part.
func (w *writer) text(name string, data []byte) error {
	if err := w.begin(name); err != nil {
		return err
	}
	w.part.Rows = 1
	if _, err := w.out.Write(data); err != nil {
		return err
	}
	return w.close()
}

// endTable closes the part of a table.
func (w *writer) endTable() error {
	if w.aside != nil {
		if err := w.begin(w.table + ".jsonl"); err != nil {
			return err
		}
		w.part.Rows = w.asideRows
		if _, err := w.aside.WriteTo(w.out); err != nil {
			return err
		}
		w.aside, w.asideRows = nil, 0
	}
	return w.close()
}

// Row writes an entry.
func (w *writer) Row(t store.Table, values []any) error {
	if w.table != t.Name {
		if err := w.endTable(); err != nil {
			return err
		}
		w.table = t.Name
		for _, c := range t.Columns {
			if c.Kind == store.File {
				w.aside = &bytes.Buffer{}
			}
		}
		if w.aside == nil {
			if err := w.begin(t.Name + ".jsonl"); err != nil {
				return err
			}
		}
	}
	w.line = append(w.line[:0], '{')
	for i, c := range t.Columns {
		var v any
		switch b, isBytes := values[i].([]byte); {
		case c.Kind == store.File:
			name := fmt.Sprintf("%s/%06d.bin", t.Name, w.asideRows+1)
			if err := w.text(name, b); err != nil {
				return err
			}
			v = map[string]string{"part": name}
		case !isBytes:
			v = values[i]
		case utf8.Valid(b):
			v = string(b)
		default:
			v = map[string]string{"base64": base64.StdEncoding.EncodeToString(b)}
		}
		if s, ok := values[i].(string); ok && !utf8.ValidString(s) {
			return fmt.Errorf("table %s: %s is no UTF-8: %q", t.Name, c.Name, s)
		}
		if i > 0 {
			w.line = append(w.line, ',')
		}
		w.line = append(strconv.AppendQuote(w.line, c.Name), ':')
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		if err := e.Encode(v); err != nil {
			return err
		}
		w.line = append(w.line, bytes.TrimRight(b.Bytes(), "\n")...)
	}
	w.line = append(w.line, "}\n"...)
	if w.aside != nil {
		w.aside.Write(w.line)
		w.asideRows++
		return nil
	}
	w.part.Rows++
	_, err := w.out.Write(w.line)
	return err
}

func (w *writer) endSensor() error {
	if err := w.close(); err != nil {
		return err
	}
	if w.lost == 0 {
		return nil
	}
	if err := w.begin(fmt.Sprintf("forgotten/%d.csv", w.sensor)); err != nil {
		return err
	}
	w.part.Rows = w.lost
	if _, err := w.out.WriteString(forgottenHead); err != nil {
		return err
	}
	if _, err := w.forgotten.WriteTo(w.out); err != nil {
		return err
	}
	w.lost = 0
	w.forgotten.Reset()
	return w.close()
}

// Hour writes readings.
func (w *writer) Hour(sensor int64, b store.Bucket, samples []packed.Sample) error {
	if w.sensor == 0 {
		if err := w.endTable(); err != nil {
			return err
		}
	}
	if w.sensor != sensor {
		if err := w.endSensor(); err != nil {
			return err
		}
		w.sensor = sensor
	}
	if len(samples) == 0 {
		w.line = strconv.AppendInt(w.line[:0], b.From, 10)
		w.line = strconv.AppendInt(append(w.line, ','), b.N, 10)
		for _, v := range [5]float64{b.Min, b.Max, b.Sum, b.First, b.Last} {
			w.line = strconv.AppendFloat(append(w.line, ','), v, 'g', -1, 64)
		}
		w.forgotten.Write(append(w.line, '\n'))
		w.lost++
		return nil
	}
	if w.part == nil {
		if err := w.begin(fmt.Sprintf("readings/%d.csv", sensor)); err != nil {
			return err
		}
		if _, err := w.out.WriteString(readingsHead); err != nil {
			return err
		}
	}
	w.part.Rows += int64(len(samples))
	for _, s := range samples {
		w.line = strconv.AppendInt(w.line[:0], s.At, 10)
		w.line = strconv.AppendFloat(append(w.line, ','), s.Value, 'g', -1, 64)
		if _, err := w.out.Write(append(w.line, '\n')); err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) end(tables []store.Table) error {
	if err := w.endTable(); err != nil {
		return err
	}
	if err := w.endSensor(); err != nil {
		return err
	}
	for _, t := range tables { // an empty table is there and empty
		if !w.seen[t.Name+".jsonl"] {
			if err := w.begin(t.Name + ".jsonl"); err != nil {
				return err
			}
		}
	}
	if err := w.close(); err != nil {
		return err
	}
	data, err := json.MarshalIndent(w.m, "", "  ")
	if err != nil {
		return err
	}
	f, err := w.zip.CreateHeader(&zip.FileHeader{Name: manifestName, Method: zip.Deflate, Modified: w.now.UTC()})
	if err != nil {
		return err
	}
	if _, err := f.Write(append(data, '\n')); err != nil {
		return err
	}
	return w.zip.Close()
}
