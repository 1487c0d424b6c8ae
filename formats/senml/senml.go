// Package senml reads Sensor Measurement Lists in JSON, the open standard in which
// sensors send what they read: Jennings2018 (RFC 8428).
//
// Base values are put into every record, times that are told relative to now become
// instants, and what is no number (texts, truth values, data) is left out and counted.
// A pack is read whole or refused.
//
// # Sources
//
//   - Jennings2018: C. Jennings, Z. Shelby, J. Arkko, A. Keränen, C. Bormann (2018),
//     Sensor Measurement Lists (SenML), RFC 8428, sections 4.1 to 4.6.
package senml

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"strings"
	"time"
)

// Limits of a pack.
const (
	MaxBytes   = 4 << 20
	MaxRecords = 100_000
	version    = 10
)

// A Record is one reading.
type Record struct {
	Name  string
	Unit  string // of the registry, such as Cel, %RH; empty if none was said
	At    time.Time
	Value float64
}

// A Pack is what was sent at once.
type Pack struct {
	Records []Record
	Skipped int // records without a number
}

// raw is a record as sent.
type raw struct {
	BaseName  *string          `json:"bn"`
	BaseTime  *float64         `json:"bt"`
	BaseUnit  *string          `json:"bu"`
	BaseValue *float64         `json:"bv"`
	BaseSum   *float64         `json:"bs"`
	Version   *int             `json:"bver"`
	Name      string           `json:"n"`
	Unit      *string          `json:"u"`
	Value     *float64         `json:"v"`
	Text      *string          `json:"vs"`
	Truth     *bool            `json:"vb"`
	Data      *string          `json:"vd"`
	Sum       *float64         `json:"s"`
	Time      float64          `json:"t"`
	Update    *json.RawMessage `json:"ut"`
}

// absolute is the least time that counts from 1970; smaller ones count from now
// (Jennings2018, section 4.5.3).
const absolute = 1 << 28

// Read reads a pack that arrived at an instant.
func Read(data []byte, now time.Time) (*Pack, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("the pack is larger than %d MiB", MaxBytes>>20)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	if t, err := dec.Token(); err != nil || t != json.Delim('[') {
		return nil, errors.New("a pack is a list of records: [{\"n\":\"rack/air\",\"u\":\"Cel\",\"v\":21.4}]")
	}
	p := &Pack{}
	var base raw
	for n := 1; dec.More(); n++ {
		if n > MaxRecords {
			return nil, fmt.Errorf("there are more than %d records", MaxRecords)
		}
		var whole json.RawMessage
		if err := dec.Decode(&whole); err != nil {
			return nil, fmt.Errorf("record %d is no JSON: %w", n, err)
		}
		var r raw
		if err := json.Unmarshal(whole, &r); err != nil {
			return nil, fmt.Errorf("record %d: %w", n, plainly(err))
		}
		if err := understood(whole); err != nil {
			return nil, fmt.Errorf("record %d: %w", n, err)
		}
		if r.Version != nil && *r.Version > version {
			return nil, fmt.Errorf("record %d is of version %d; %d is known", n, *r.Version, version)
		}
		base.take(r)
		out, ok, err := resolve(base, r, now)
		if err != nil {
			return nil, fmt.Errorf("record %d: %w", n, err)
		}
		if ok {
			p.Records = append(p.Records, out)
		} else if r.Text != nil || r.Truth != nil || r.Data != nil || r.Sum != nil {
			p.Skipped++
		}
	}
	if _, err := dec.Token(); err != nil {
		return nil, fmt.Errorf("the list does not end: %w", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, errors.New("something follows the list")
	}
	return p, nil
}

// understood fails for a label that must be understood and is not: one that ends in
// "_" (section 4.4).
func understood(whole json.RawMessage) error {
	var labels map[string]json.RawMessage
	if err := json.Unmarshal(whole, &labels); err != nil {
		return err
	}
	for l := range labels {
		if strings.HasSuffix(l, "_") {
			return fmt.Errorf("the label %q must be understood and is not", l)
		}
	}
	return nil
}

// take keeps the base values of a record for those that follow.
func (b *raw) take(r raw) {
	if r.BaseName != nil {
		b.BaseName = r.BaseName
	}
	if r.BaseTime != nil {
		b.BaseTime = r.BaseTime
	}
	if r.BaseUnit != nil {
		b.BaseUnit = r.BaseUnit
	}
	if r.BaseValue != nil {
		b.BaseValue = r.BaseValue
	}
}

// resolve makes a record stand by itself; false if it has no number.
func resolve(base, r raw, now time.Time) (Record, bool, error) {
	out := Record{Name: deref(base.BaseName) + r.Name, Unit: deref(base.BaseUnit)}
	if r.Unit != nil {
		out.Unit = *r.Unit
	}
	kinds := 0
	for _, has := range []bool{r.Value != nil, r.Text != nil, r.Truth != nil, r.Data != nil} {
		if has {
			kinds++
		}
	}
	switch {
	case kinds > 1:
		return out, false, errors.New("it has more than one value")
	case r.Value == nil && (kinds > 0 || base.BaseValue == nil || r.Name == "" && r.BaseName != nil):
		return out, false, nil // a text, or base values alone
	}
	if err := named(out.Name); err != nil {
		return out, false, err
	}
	if r.Value != nil {
		out.Value = *r.Value
	}
	if base.BaseValue != nil {
		out.Value += *base.BaseValue
	}
	s := r.Time
	if base.BaseTime != nil {
		s += *base.BaseTime
	}
	if math.IsInf(out.Value, 0) || math.Abs(s) > 253402300799 {
		return out, false, errors.New("its value or time is beyond all measure")
	}
	whole, part := math.Modf(s)
	d := time.Duration(math.Round(part*1e6)) * time.Microsecond
	if s >= absolute {
		out.At = time.Unix(int64(whole), 0).Add(d).UTC()
	} else {
		out.At = now.Add(time.Duration(whole)*time.Second + d).UTC()
	}
	return out, true, nil
}

func deref(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

// named holds a name to the characters of section 4.5.1.
func named(name string) error {
	if name == "" {
		return errors.New("it has no name")
	}
	if len(name) > 200 {
		return errors.New("its name is longer than 200 characters")
	}
	for i, c := range []byte(name) {
		letter := c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c >= '0' && c <= '9'
		if !letter && (i == 0 || !strings.ContainsRune("-:./_", rune(c))) {
			return fmt.Errorf("the name %q has characters besides A to Z, a to z, 0 to 9 and -:./_, or does not begin with one of the first", name)
		}
	}
	return nil
}

// plainly says of a field of the wrong kind what belongs there, for whoever writes the device.
func plainly(err error) error {
	var kind *json.UnmarshalTypeError
	if !errors.As(err, &kind) {
		return err
	}
	want := "a text"
	switch kind.Type.Kind() {
	case reflect.Float64, reflect.Int:
		want = "a number with a point for decimals, without quotes"
	case reflect.Bool:
		want = "true or false"
	case reflect.Struct:
		return fmt.Errorf("%s stands where an object belongs: {\"n\":\"rack/air\",\"u\":\"Cel\",\"v\":21.4}", kind.Value)
	}
	if n, ok := strings.CutPrefix(kind.Value, "number "); ok {
		return fmt.Errorf("%q: %s is beyond what is read; it takes %s", kind.Field, n, want)
	}
	return fmt.Errorf("%q is a %s, and takes %s", kind.Field, kind.Value, want)
}
