package datapackage

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"unicode/utf8"

	"underlamp/formats/tables"
)

// reading is how the cells of a column are written.
type reading struct {
	decimal, group, format string
	bare                   bool // numbers carry nothing but themselves
	yes, no                []string
}

// source is where the rows of a table come from.
type source struct {
	table    *tables.Table
	file     string
	encoding string
	dir      fs.FS
	data     json.RawMessage
	missing  []string
	how      []reading

	comma, quote rune
	comment      rune
	header, skip bool
}

func (s *source) dialect(raw json.RawMessage, at string, bad *faults) {
	if raw == nil || string(raw) == "null" {
		return
	}
	var d dialect
	if err := json.Unmarshal(raw, &d); err != nil {
		bad.add(at+".dialect", "it cannot be read: %v", err)
		return
	}
	one := func(name string, text *string, to *rune) {
		if text == nil || *text == "" {
			return
		}
		r, n := utf8.DecodeRuneInString(*text)
		if n != len(*text) || r == '\n' || r == '\r' || r == utf8.RuneError {
			bad.add(at+".dialect."+name, "%q is not one character", shortened(*text))
			return
		}
		*to = r
	}
	one("delimiter", d.Delimiter, &s.comma)
	one("quoteChar", d.Quote, &s.quote)
	one("commentChar", d.Comment, &s.comment)
	if s.quote != '"' || s.comma == '"' || s.comment == '"' || s.comma == s.comment {
		bad.add(at+".dialect", "texts are quoted by \" and parted by another character")
	}
	s.skip = d.Skip
	s.header = d.Header == nil || *d.Header
}

// rows hands over each row; faults are [*PlaceError].
func (s *source) rows(each func(row []any) error) error {
	if s.data != nil {
		return s.inline(each)
	}
	f, err := s.dir.Open(s.file)
	if err != nil {
		return &PlaceError{File: s.file, Reason: err.Error()}
	}
	defer f.Close()
	in := bufio.NewReaderSize(f, 1<<16)
	if bom, err := in.Peek(3); err == nil && bytes.Equal(bom, []byte("\uFEFF")) {
		in.Discard(3)
	}
	c := csv.NewReader(in)
	c.Comma, c.Comment, c.TrimLeadingSpace, c.ReuseRecord, c.FieldsPerRecord = s.comma, s.comment, s.skip, true, -1
	cells := make([]any, len(s.table.Columns))
	first := s.header
	for n := 0; ; {
		record, err := c.Read()
		if err == io.EOF {
			if first {
				return &PlaceError{File: s.file, Line: 1, Reason: "the table is empty; its first line has the names of the columns"}
			}
			return nil
		}
		if err != nil {
			return s.broken(err)
		}
		line, _ := c.FieldPos(0)
		if first {
			first = false
			if err := s.heading(record, line); err != nil {
				return err
			}
			continue
		}
		if n++; n > Limits.Rows {
			return &PlaceError{File: s.file, Line: line, Reason: fmt.Sprintf("the table has more than %d rows", Limits.Rows)}
		}
		if len(record) != len(cells) {
			return &PlaceError{File: s.file, Line: line, Reason: fmt.Sprintf("there are %d cells for %d columns", len(record), len(cells))}
		}
		for i, text := range record {
			cell, err := s.cell(i, text)
			if err != nil {
				line, _ := c.FieldPos(i)
				return &PlaceError{File: s.file, Line: line, Column: s.table.Columns[i].Name, Reason: err.Error()}
			}
			cells[i] = cell
		}
		if err := each(cells); err != nil {
			return err
		}
	}
}

// broken is a fault of CSV with its place.
func (s *source) broken(err error) error {
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		return &PlaceError{File: s.file, Line: parse.Line, Reason: fmt.Sprintf("character %d: %v", parse.Column, parse.Err)}
	}
	var place *PlaceError
	if errors.As(err, &place) {
		return err
	}
	return &PlaceError{File: s.file, Reason: err.Error()}
}

// heading holds the first line against the schema.
func (s *source) heading(record []string, line int) error {
	for i, c := range s.table.Columns {
		if i >= len(record) {
			return &PlaceError{File: s.file, Line: line, Column: c.Name, Reason: "the column is not there"}
		}
		if record[i] != c.Name {
			return &PlaceError{File: s.file, Line: line, Column: shortened(record[i]), Reason: fmt.Sprintf("the schema has the column %q in this place", c.Name)}
		}
	}
	if len(record) > len(s.table.Columns) {
		return &PlaceError{File: s.file, Line: line, Column: shortened(record[len(s.table.Columns)]), Reason: "the schema does not have this column"}
	}
	return nil
}

// cell reads what stands in column i.
func (s *source) cell(i int, text string) (any, error) {
	c, how := &s.table.Columns[i], &s.how[i]
	if len(text) > Limits.Cell {
		return nil, fmt.Errorf("the text is longer than %d bytes", Limits.Cell)
	}
	if !utf8.ValidString(text) {
		return nil, errors.New("the text is not in UTF-8")
	}
	if slices.Contains(s.missing, text) {
		return c.Parse("")
	}
	if text == "" { // an empty text, where only other words stand for missing
		if c.Kind == tables.Text {
			return nil, nil
		}
		return nil, fmt.Errorf("an empty cell is no %s", c.Kind)
	}
	switch c.Kind {
	case tables.Number, tables.Whole:
		if how.group != "" {
			text = strings.ReplaceAll(text, how.group, "")
		}
		if how.decimal != "" && how.decimal != "." {
			text = strings.Replace(text, how.decimal, ".", 1)
		}
		if !how.bare {
			text = strings.TrimFunc(text, func(r rune) bool { return !(r >= '0' && r <= '9' || r == '-' || r == '+' || r == '.') })
		}
		if text == "" {
			return nil, fmt.Errorf("the cell holds no %s", c.Kind)
		}
	case tables.Yes:
		if how.yes != nil || how.no != nil {
			switch {
			case slices.Contains(how.yes, text):
				text = "true"
			case slices.Contains(how.no, text):
				text = "false"
			}
		}
	case tables.Time:
		if how.format == "any" && len(text) == len("2006-01-02") {
			text += "T00:00:00Z"
		}
	}
	return c.Parse(text)
}

// inline reads rows that stand in the descriptor, as objects or as lists.
func (s *source) inline(each func(row []any) error) error {
	d := json.NewDecoder(bytes.NewReader(s.data))
	d.UseNumber()
	if t, err := d.Token(); err != nil || t != json.Delim('[') {
		return &PlaceError{File: s.file, Reason: "the data are no list of rows"}
	}
	cells := make([]any, len(s.table.Columns))
	at := map[string]int{}
	for i, c := range s.table.Columns {
		at[c.Name] = i
	}
	heading := false
	for n := 1; d.More(); n++ {
		if n > Limits.Rows {
			return &PlaceError{File: s.file, Line: n, Reason: fmt.Sprintf("the table has more than %d rows", Limits.Rows)}
		}
		var raw any
		if err := d.Decode(&raw); err != nil {
			return &PlaceError{File: s.file, Line: n, Reason: err.Error()}
		}
		clear(cells)
		values := make([]any, len(cells))
		switch row := raw.(type) {
		case map[string]any:
			for name, v := range row {
				i, ok := at[name]
				if !ok {
					return &PlaceError{File: s.file, Line: n, Column: shortened(name), Reason: "the schema does not have this column"}
				}
				values[i] = v
			}
		case []any:
			if !heading { // lists begin with the names
				heading = true
				var names []string
				for _, v := range row {
					names = append(names, fmt.Sprint(v))
				}
				if err := s.heading(names, n); err != nil {
					return err
				}
				continue
			}
			if len(row) != len(cells) {
				return &PlaceError{File: s.file, Line: n, Reason: fmt.Sprintf("there are %d cells for %d columns", len(row), len(cells))}
			}
			copy(values, row)
		default:
			return &PlaceError{File: s.file, Line: n, Reason: "the row is neither an object nor a list"}
		}
		for i, v := range values {
			var err error
			switch x := v.(type) {
			case nil:
				cells[i], err = s.table.Columns[i].Parse("")
			case string:
				cells[i], err = s.cell(i, x)
			case json.Number:
				cells[i], err = s.table.Columns[i].Parse(x.String())
			case bool:
				cells[i], err = s.table.Columns[i].Parse(fmt.Sprint(x))
			default:
				err = errors.New("a list or an object is no cell")
			}
			if err != nil {
				return &PlaceError{File: s.file, Line: n, Column: s.table.Columns[i].Name, Reason: err.Error()}
			}
		}
		if err := each(cells); err != nil {
			return err
		}
	}
	return nil
}
