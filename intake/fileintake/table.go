package fileintake

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path"
	"regexp"
	"strings"
	"time"

	"underlamp/formats/loggercsv"
	"underlamp/formats/tablefile"
	"underlamp/store"
)

// KindTable is the kind of the documents that say which column is which sensor.
const KindTable = "table"

// headBytes is how much of a file is read to know its heading.
const headBytes = 64 << 10

// table reads a text by what is known of its heading, which is entered if it is new. It
// returns the name of the document too, with its version.
func (w *Watch) table(ctx context.Context, name string, text []byte) (*loggercsv.Log, *tablefile.Table, string, error) {
	fail := func(place string, err error) (*loggercsv.Log, *tablefile.Table, string, error) {
		if bad, ok := errors.AsType[*loggercsv.Error](err); ok {
			return nil, nil, "", &tableError{place: place, reason: bad.Error()}
		}
		return nil, nil, "", err
	}
	place := placeOf(name)
	// The heading first: what is known of it may say by whose clock to read the rest.
	head := text[:min(len(text), headBytes)]
	if whole := wholeLines(head); len(head) < len(text) && whole > 0 {
		head = head[:whole]
	}
	yes := true
	log, err := loggercsv.Read(bytes.NewReader(head), loggercsv.Options{Zone: time.UTC, DayFirst: &yes})
	if err != nil {
		return fail(place, err)
	}
	key := place + " " + headingMark(log.Heading)
	opt := loggercsv.Options{Zone: w.opt.Zone, DayFirst: w.opt.DayFirst}
	d, err := w.keep.Document(ctx, KindTable, key)
	isNew := errors.Is(err, store.ErrNotFound)
	if err != nil && !isNew {
		return fail(place, err)
	}
	var known *tablefile.Table
	if !isNew {
		t, problems, err := tablefile.Read(bytes.NewReader(d.Text))
		if err != nil || t == nil {
			if err == nil {
				err = problems
			}
			return nil, nil, "", &tableError{place: place, reason: fmt.Sprintf("the description of the table, %s %q, cannot be used: %v", KindTable, key, err)}
		}
		if known = t; t.Zone != nil {
			opt.Zone = t.Zone
		}
		if t.DayFirst != nil {
			opt.DayFirst = t.DayFirst
		}
	}
	if log, err = loggercsv.Read(bytes.NewReader(text), opt); err != nil {
		return fail(place, err)
	}
	t := guess(place, log, known)
	if known == nil || len(t.Columns) > len(known.Columns) {
		var b bytes.Buffer
		if err := tablefile.Write(&b, t); err != nil {
			return fail(place, err)
		}
		if again, problems, err := tablefile.Read(bytes.NewReader(b.Bytes())); err != nil || again == nil {
			return nil, nil, "", &tableError{place: place, reason: fmt.Sprintf("the names of its columns cannot be used: %v", problems)}
		}
		d = store.Document{Kind: KindTable, Name: key, Recorded: store.At(w.opt.Now()), Text: b.Bytes()}
		if err := w.keep.PutDocument(ctx, d); err != nil {
			return fail(place, err)
		}
		w.opt.Log.Info("the columns of a table were given to sensors by their names", "file", name, "document", key)
	}
	return log, t, key + " " + sum(d.Text)[:8], nil
}

// number is what loggers and browsers add to the name of a file: a day, a time, a copy.
var number = regexp.MustCompile(`([ _.\-]*(\d{4,}[\d\-_.: T]*|\d{1,2}[.\-]\d{1,2}[.\-]\d{2,4}|\(\d+\)))+$`)

// placeOf is where a table was read: the folder in which it lies, or its name without
// the day or count at its end.
func placeOf(name string) string {
	if dir := path.Dir(name); dir != "." {
		return strings.Trim(slug(dir, true), "/")
	}
	stem := strings.TrimSuffix(name, path.Ext(name))
	if s := slug(number.ReplaceAllString(stem, ""), false); s != "" {
		return s
	}
	return "logger"
}

// slug brings a text to the characters that the name of a sensor may have; empty if
// nothing is left.
func slug(text string, strokes bool) string {
	var b strings.Builder
	for _, c := range text {
		switch {
		case c >= 'A' && c <= 'Z', c >= 'a' && c <= 'z', c >= '0' && c <= '9', c == '/' && strokes:
			b.WriteRune(c)
		case c == '_' || c == '.' || c == ':':
			b.WriteRune(c)
		case !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	s := strings.Trim(b.String(), "-_.:")
	return s[:min(len(s), 80)]
}

// headingMark tells one heading from another.
func headingMark(heading []string) string {
	h := sha256.Sum256([]byte(strings.Join(heading, "\x1f")))
	return hex.EncodeToString(h[:4])
}

// guess gives each column a sensor: as it is known, or else by the name of the column.
func guess(place string, log *loggercsv.Log, known *tablefile.Table) *tablefile.Table {
	t := &tablefile.Table{Place: place}
	taken := map[string]bool{}
	if known != nil {
		t.Place, t.Zone, t.DayFirst = known.Place, known.Zone, known.DayFirst
		t.Columns = append(t.Columns, known.Columns...)
		for _, c := range known.Columns {
			taken[c.Sensor] = true
		}
	}
	for _, c := range columns(log) {
		if _, ok := find(t, c.Name, c.Unit); ok {
			continue
		}
		base := slug(c.Name, false)
		if base == "" {
			base = "column"
		}
		key := t.Place + "/" + base
		for n := 2; taken[key]; n++ {
			key = fmt.Sprintf("%s/%s-%d", t.Place, base, n)
		}
		taken[key] = true
		t.Columns = append(t.Columns, tablefile.Column{Name: c.Name, Unit: c.Unit, Sensor: key})
	}
	return t
}

// columns are those of a table, each with a name of its own.
func columns(log *loggercsv.Log) []loggercsv.Column {
	out := make([]loggercsv.Column, len(log.Columns))
	times := map[[2]string]int{}
	for i, c := range log.Columns {
		k := [2]string{c.Name, c.Unit}
		if times[k]++; times[k] > 1 {
			c.Name = fmt.Sprintf("%s (%d)", c.Name, times[k])
		}
		out[i] = c
	}
	return out
}

// find is the description of a column.
func find(t *tablefile.Table, name, unit string) (tablefile.Column, bool) {
	for _, c := range t.Columns {
		if c.Name == name && c.Unit == unit {
			return c, true
		}
	}
	return tablefile.Column{}, false
}

// pick are the columns of a table that go to a sensor.
func pick(log *loggercsv.Log, t *tablefile.Table) []column {
	var out []column
	for _, c := range columns(log) {
		if x, ok := find(t, c.Name, c.Unit); ok && x.Sensor != "" {
			out = append(out, column{values: c.Values, sensor: x.Sensor, unit: c.Unit})
		}
	}
	return out
}
