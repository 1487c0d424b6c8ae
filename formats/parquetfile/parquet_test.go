package parquetfile_test

import (
	"bytes"
	"encoding/binary"
	"io"
	"testing"
	"time"

	"underlamp/formats/parquetfile"
	"underlamp/formats/tables"
)

func table(n int) *tables.Table {
	return &tables.Table{Name: "t", Title: "T", About: "x", Columns: []tables.Column{{Name: "a", Kind: tables.Text, About: "x"}, {Name: "b", Kind: tables.Number, Unit: "g", About: "x", Required: true}, {Name: "c", Kind: tables.Yes, About: "x"}, {Name: "d", Kind: tables.Time, About: "x"}},
		Rows: func(each func([]any) error) error {
			for i := range n {
				row := []any{"ä", float64(i) / 3, i%3 == 0, time.Unix(int64(i), 0)}
				if i%2 == 0 {
					row[0], row[2] = nil, nil
				}
				if err := each(row); err != nil {
					return err
				}
			}
			return nil
		}}
}

// The frame of the file: magic at both ends, the length of the footer, metadata in it, and the
// same bytes each time; without rows, and with more than one group. That the values are read
// back is held by tools/datacheck, with readers of others.
func TestFrame(t *testing.T) {
	for _, n := range []int{0, 1, 70_000} {
		var out, again bytes.Buffer
		if err := parquetfile.Write(&out, table(n), "underlamp version test", parquetfile.Pair{Key: "k", Value: "v"}); err != nil {
			t.Fatal(err)
		}
		if err := parquetfile.Write(&again, table(n), "underlamp version test", parquetfile.Pair{Key: "k", Value: "v"}); err != nil || !bytes.Equal(out.Bytes(), again.Bytes()) {
			t.Error("the same content gives other bytes", err)
		}
		raw := out.Bytes()
		footer := int(binary.LittleEndian.Uint32(raw[len(raw)-8:]))
		if string(raw[:4]) != "PAR1" || string(raw[len(raw)-4:]) != "PAR1" || footer > len(raw)-12 {
			t.Fatalf("%d rows: no frame", n)
		}
		for _, want := range []string{"unit.b", "description.a", "underlamp version test"} {
			if !bytes.Contains(raw[len(raw)-8-footer:], []byte(want)) {
				t.Errorf("the footer lacks %q", want)
			}
		}
	}
}

func BenchmarkWrite(b *testing.B) {
	t := table(100_000)
	b.ReportAllocs()
	for b.Loop() {
		if err := parquetfile.Write(io.Discard, t, "b"); err != nil {
			b.Fatal(err)
		}
	}
}
