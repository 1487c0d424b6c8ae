package workbook_test

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"io"
	"io/fs"
	"strings"
	"testing"
	"time"

	"underlamp/formats/tables"
	"underlamp/formats/workbook"
)

func table(rows ...[]any) *tables.Table {
	return &tables.Table{Name: "things", Title: "Things: all/of them, with a name that is too long", About: "x", Columns: []tables.Column{{Name: "text", Title: "A text", Kind: tables.Text, About: "x"}, {Name: "day", Kind: tables.Date, About: "x"}, {Name: "n", Kind: tables.Whole, About: "x"}}, Rows: tables.Of(rows)}
}

// Every part is XML, names of sheets are those that programs take, texts stay texts. That the
// values are read back is held by tools/datacheck, with readers of others.
func TestParts(t *testing.T) {
	b := workbook.Book{Title: "A & B", Created: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC), About: [][2]string{{"x", "y"}}, Headings: true, Fields: true,
		Tables: []*tables.Table{table([]any{"=1+1 <&> \v _x0041_", tables.Day{Year: 2026, Month: 11, Day: 26}, int64(1 << 60)}, []any{nil, tables.Day{Year: 1899, Month: 1, Day: 1}, nil}), table()}}
	var out, again bytes.Buffer
	if err := workbook.Write(&out, b); err != nil {
		t.Fatal(err)
	}
	if err := workbook.Write(&again, b); err != nil || !bytes.Equal(out.Bytes(), again.Bytes()) {
		t.Error("the same content gives other bytes", err)
	}
	z, err := zip.NewReader(bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]string{}
	for _, f := range z.File {
		text, err := fs.ReadFile(z, f.Name)
		if err != nil {
			t.Fatal(err)
		}
		all[f.Name] = string(text)
		for d := xml.NewDecoder(bytes.NewReader(text)); ; {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", f.Name, err)
			}
		}
	}
	for _, want := range []string{`name="Things- all-of them, with a nam"`, `name="Things- all-of them, with a 2"`, `name="fields"`} {
		if !strings.Contains(all["xl/workbook.xml"], want) {
			t.Errorf("%s lacks %s", all["xl/workbook.xml"], want)
		}
	}
	// 26 November 2026 is day 46352 of sheets (Gregorian calendar, day 1 is 1 January 1900 and
	// 29 February 1900 is counted, ECMA-376).
	for _, want := range []string{`=1+1 &lt;&amp;&gt; _x000B_ _x005F_x0041_`, `<v>46352</v>`, `>1152921504606846976<`, `>1899-01-01<`, `A text`, `state="frozen"`} {
		if !strings.Contains(all["xl/worksheets/sheet2.xml"], want) {
			t.Errorf("the sheet lacks %s: %s", want, all["xl/worksheets/sheet2.xml"])
		}
	}
	if strings.Contains(out.String(), "<f>") {
		t.Error("there is a formula")
	}
}

func TestLimitsAreTold(t *testing.T) {
	for want, rows := range map[string]*tables.Table{
		"a text is longer than a sheet can hold": table([]any{strings.Repeat("x", 32_768), nil, nil}),
		"has more rows than a sheet can hold": {Name: "t", About: "x", Columns: []tables.Column{{Name: "a", Kind: tables.Text, About: "x"}}, Rows: func(each func([]any) error) error {
			for range 1_048_576 {
				if err := each([]any{nil}); err != nil {
					return err
				}
			}
			return nil
		}},
	} {
		if err := workbook.Write(io.Discard, workbook.Book{Tables: []*tables.Table{rows}}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

func BenchmarkWrite(b *testing.B) {
	rows := make([][]any, 10_000)
	for i := range rows {
		rows[i] = []any{"L1", tables.Day{Year: 2026, Month: 1, Day: 1 + i%28}, int64(i)}
	}
	t := table(rows...)
	b.ReportAllocs()
	for b.Loop() {
		if err := workbook.Write(io.Discard, workbook.Book{Tables: []*tables.Table{t}}); err != nil {
			b.Fatal(err)
		}
	}
}
