package tables

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"io"
	"time"
)

// WriteCSV writes the rows below a line of column names: UTF-8, commas, LF.
func (t *Table) WriteCSV(w io.Writer) error {
	if err := t.Check(); err != nil {
		return err
	}
	c := csv.NewWriter(w)
	line := make([]string, len(t.Columns))
	for i, col := range t.Columns {
		line[i] = col.Name
	}
	if err := c.Write(line); err != nil {
		return err
	}
	err := t.Each(func(row []any) error {
		for i, cell := range row {
			line[i] = Print(cell)
		}
		return c.Write(line)
	})
	if err != nil {
		return err
	}
	c.Flush()
	return c.Error()
}

// WriteRows writes the rows as a JSON array of objects, one a line, keys in the order of
// the columns.
func (t *Table) WriteRows(w io.Writer) error {
	if err := t.Check(); err != nil {
		return err
	}
	b := bufio.NewWriter(w)
	names := make([][]byte, len(t.Columns))
	for i, c := range t.Columns {
		n, err := json.Marshal(c.Name)
		if err != nil {
			return err
		}
		names[i] = n
	}
	b.WriteByte('[')
	first := true
	err := t.Each(func(row []any) error {
		if !first {
			b.WriteByte(',')
		}
		first = false
		b.WriteString("\n{")
		for i, cell := range row {
			if i > 0 {
				b.WriteByte(',')
			}
			b.Write(names[i])
			b.WriteByte(':')
			if err := writeCell(b, cell); err != nil {
				return err
			}
		}
		return b.WriteByte('}')
	})
	if err != nil {
		return err
	}
	b.WriteString("\n]")
	return b.Flush()
}

func writeCell(b *bufio.Writer, cell any) error {
	switch cell.(type) {
	case nil:
		b.WriteString("null")
	case float64, int64, bool: // as in CSV: the same digits
		b.WriteString(Print(cell))
	case string, Day, time.Time:
		text, err := json.Marshal(Print(cell))
		if err != nil {
			return err
		}
		b.Write(text)
	}
	return nil
}
