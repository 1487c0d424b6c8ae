package sheet_test

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"pgregory.net/rapid"

	"underlamp/formats/sheet"
)

type expected struct {
	Rows     [][]any           `json:"rows"`
	From1900 map[string]string `json:"from1900"`
	From1904 map[string]string `json:"from1904"`
}

func wanted(t testing.TB) expected {
	t.Helper()
	raw, err := os.ReadFile("testdata/expected.json")
	if err != nil {
		t.Fatal(err)
	}
	var e expected
	if err := json.Unmarshal(raw, &e); err != nil {
		t.Fatal(err)
	}
	return e
}

func file(t testing.TB, name string) []byte {
	t.Helper()
	raw, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// Workbooks that openpyxl, XlsxWriter and Gnumeric wrote hold what testdata/make.py put in.
func TestOtherPrograms(t *testing.T) {
	want := wanted(t).Rows
	for _, name := range []string{"openpyxl.xlsx", "openpyxl-1904.xlsx", "xlsxwriter.xlsx", "xlsxwriter-1904.xlsx", "gnumeric.xlsx", "gnumeric.ods"} {
		b, err := sheet.Read(file(t, name), sheet.Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		s, err := b.Sheet("")
		if err != nil || s.Name != "Harvest" {
			t.Errorf("%s: %v %v", name, s, err)
			continue
		}
		rows := map[int]sheet.Row{}
		for _, r := range s.Rows {
			rows[r.N] = r
		}
		for i, row := range want {
			for j, v := range row {
				c := rows[i+1].At(j)
				place := name + " " + s.Place(i+1, j)
				switch v := v.(type) {
				case float64:
					x := c.Value
					if c.Kind != sheet.Number || math.Abs(x-v) > 1e-15*math.Abs(v) {
						t.Errorf("%s: %+v, want %v", place, c, v)
					}
					if j == 4 && !c.Percent {
						t.Errorf("%s is no percentage", place)
					}
				case string:
					got := c.String()
					if strings.Contains(name, "1904") && strings.HasPrefix(v, "1900") {
						v = ""
					}
					if j == 6 && c.Merged {
						continue
					}
					if strings.HasPrefix(name, "gnumeric") { // it writes only what XML can hold, and one line a paragraph
						got, v = strings.Join(strings.Fields(got), " "), strings.Join(strings.Fields(v), " ")
					}
					if name == "gnumeric.ods" { // its reader of XLSX leaves _x005F_ as it is
						v = strings.Replace(v, "_x000D_", "_x005F_x000D_", 1)
					}
					if got != v {
						t.Errorf("%s: %q, want %q", place, got, v)
					}
				}
			}
		}
	}
}

// What openpyxl makes of serial numbers (openpyxl.utils.datetime.from_excel) in both epochs.
func TestSerials(t *testing.T) {
	e := wanted(t)
	for from1904, list := range map[bool]map[string]string{false: e.From1900, true: e.From1904} {
		for serial, want := range list {
			v, err := strconv.ParseFloat(serial, 64)
			if err != nil {
				t.Fatal(err)
			}
			day, ok := sheet.SerialDay(v, from1904)
			if got := (sheet.Cell{Kind: sheet.Day, Value: day}).String(); !ok || got != want {
				t.Errorf("%s, 1904 %v: %s %v, want %s", serial, from1904, got, ok, want)
			}
		}
	}
	// ECMA-376 Part 1, §18.17.4.1: in the 1900 system serial 60 stands for 29 February 1900,
	// which the Gregorian calendar does not have.
	for _, v := range []float64{60, 60.5, 0, -1, 2_958_466, math.NaN(), math.Inf(1)} {
		if d, ok := sheet.SerialDay(v, false); ok {
			t.Errorf("%v is day %v", v, d)
		}
	}
}

// What is odd about a workbook is told.
func TestOdd(t *testing.T) {
	for name, want := range map[string][]string{
		"openpyxl.xlsx":        {"Row 5 is hidden", "Column D is hidden", "a formula has no stored result", "Merged cells: 2"},
		"xlsxwriter.xlsx":      {"stored results of formulas are read in rows 4 to 5", "1900-02-29"},
		"openpyxl-1904.xlsx":   {"Row 5 is hidden"},
		"xlsxwriter-1904.xlsx": {"stored results"},
		"gnumeric.ods":         {"stored results of formulas are read in rows 4 to 5"},
	} {
		b, err := sheet.Read(file(t, name), sheet.Options{})
		if err != nil {
			t.Fatal(err)
		}
		notes := strings.Join(b.Sheets[0].Notes, " ")
		for _, w := range want {
			if !strings.Contains(notes, w) {
				t.Errorf("%s: %q, want %q", name, notes, w)
			}
		}
		if told := strings.Contains(strings.Join(b.Notes, " "), "1904"); told != strings.Contains(name, "1904") {
			t.Errorf("%s: notes %v", name, b.Notes)
		}
		if strings.HasPrefix(name, "openpyxl") && !b.Sheets[1].Hidden {
			t.Errorf("%s: the second sheet is not hidden", name)
		}
		for _, r := range b.Sheets[0].Rows {
			if r.N == 5 && r.At(7).Kind != sheet.Fault {
				t.Errorf("%s: H5 is %+v", name, r.At(7))
			}
			if r.N == 8 && name == "openpyxl.xlsx" && r.At(6).Text != "" {
				t.Errorf("%s: %+v is merged down from an empty cell", name, r.At(6))
			}
		}
	}
}

// A table of text reads the same in every dress.
func TestDresses(t *testing.T) {
	rows := [][]string{{"Plant", "Größe (cm)", "Note"}, {"P1", "12,5", "a; \"b\"\nc"}, {"P2", "7", "…"}}
	text := func(sep rune) string {
		var b strings.Builder
		w := csv.NewWriter(&b)
		w.Comma = sep
		w.WriteAll(rows)
		return b.String()
	}
	wide := func(s string, big bool) []byte {
		var b []byte
		for _, u := range append([]uint16{0xfeff}, utf16.Encode([]rune(s))...) {
			if big {
				b = append(b, byte(u>>8), byte(u))
			} else {
				b = append(b, byte(u), byte(u>>8))
			}
		}
		return b
	}
	windows := []byte(strings.NewReplacer("ö", "\xf6", "ß", "\xdf", "…", "\x85").Replace(text(';')))
	for name, raw := range map[string][]byte{
		"semicolons": []byte(text(';')), "commas": []byte(text(',')), "tabs": []byte(text('\t')), "bars": []byte(text('|')),
		"byte-order mark": []byte("\ufeff" + text(';')), "CRLF": []byte(strings.ReplaceAll(text(';'), "\n", "\r\n")), "CR": []byte(strings.ReplaceAll(text(';'), "\n", "\r")),
		"UTF-16": wide(text('\t'), false), "UTF-16 BE": wide(text('\t'), true), "Windows-1252": windows, "sep=": []byte("sep=;\r\n" + text(';')), "no last end": []byte(strings.TrimSuffix(text(';'), "\n")),
	} {
		b, err := sheet.Read(raw, sheet.Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		s := b.Sheets[0]
		if len(s.Rows) != 3 {
			t.Errorf("%s: %d rows", name, len(s.Rows))
			continue
		}
		for i, r := range s.Rows {
			for j, want := range rows[i] {
				if got := r.At(j).String(); got != want {
					t.Errorf("%s: %q, want %q", name, got, want)
				}
			}
		}
		line := 4
		if name == "sep=" {
			line = 5
		}
		if got := s.Place(s.Rows[2].N, 1); got != fmt.Sprintf("line %d, column 2", line) {
			t.Errorf("%s: the last row is at %s", name, got)
		}
	}
}

// Days in the manners in which people write them. The expected days are written by hand.
func TestDays(t *testing.T) {
	yes, no := true, false
	for _, c := range []struct {
		text string
		conv sheet.Conventions
		want string // or what the error holds
	}{
		{"2026-10-03", sheet.Conventions{}, "2026-10-03"},
		{"2026/10/3", sheet.Conventions{}, "2026-10-03"},
		{"20261003", sheet.Conventions{}, "2026-10-03"},
		{"3.10.2026", sheet.Conventions{}, "2026-10-03"},
		{"03.10.26", sheet.Conventions{}, "2026-10-03"},
		{"Sa., 3.10.2026 14:30", sheet.Conventions{}, "2026-10-03 14:30"},
		{"3 Oct 2026", sheet.Conventions{}, "2026-10-03"},
		{"3rd of October 2026", sheet.Conventions{}, "2026-10-03"},
		{"Oct 3, 2026", sheet.Conventions{}, "2026-10-03"},
		{"October 3 2026 at 2 pm", sheet.Conventions{}, "2026-10-03 14:00"},
		{"3. Oktober 2026", sheet.Conventions{}, "2026-10-03"},
		{"3 okt. 2026", sheet.Conventions{}, "2026-10-03"},
		{"3 octobre 2026", sheet.Conventions{}, "2026-10-03"},
		{"3 de octubre de 2026", sheet.Conventions{}, "2026-10-03"},
		{"1er mars 2026", sheet.Conventions{}, "2026-03-01"},
		{"5. März 26", sheet.Conventions{}, "2026-03-05"},
		{"3-Oct-26", sheet.Conventions{}, "2026-10-03"},
		{"10/3/2026", sheet.Conventions{DayFirst: &no}, "2026-10-03"},
		{"10/3/2026", sheet.Conventions{DayFirst: &yes}, "2026-03-10"},
		{"10/3/2026", sheet.Conventions{}, "Mar 10 or Oct 3"},
		{"13/3/2026", sheet.Conventions{}, "2026-03-13"},
		{"3/13/2026", sheet.Conventions{}, "2026-03-13"},
		{"3/3/26", sheet.Conventions{}, "2026-03-03"},
		{"3 Oct", sheet.Conventions{}, "which year"},
		{"3.10.", sheet.Conventions{Year: 2026}, "2026-10-03"},
		{"3 Oct", sheet.Conventions{Year: 2026}, "2026-10-03"},
		{"46298", sheet.Conventions{}, "2026-10-03"},
		{"30.2.2026", sheet.Conventions{}, "has no day 30"},
		{"29.2.2028", sheet.Conventions{}, "2028-02-29"},
		{"week 7", sheet.Conventions{}, "no day"},
		{"12 heads", sheet.Conventions{}, "no day"},
		{"3/4", sheet.Conventions{}, "or"},
		{"2026-13-01", sheet.Conventions{}, "no day"},
	} {
		b, err := sheet.Read([]byte("day;x\n"+c.text+";1\n"), sheet.Options{})
		if err != nil {
			t.Fatal(err)
		}
		tab, err := b.Sheets[0].Table(1, c.conv)
		if err != nil {
			t.Fatal(err)
		}
		d, clock, err := tab.Date(tab.Rows[0].At(0), 0)
		got := d.Format(time.DateOnly)
		if clock {
			got = d.Format("2006-01-02 15:04")
		}
		if err != nil {
			got = err.Error()
		}
		if err == nil && got != c.want || err != nil && !strings.Contains(got, c.want) {
			t.Errorf("%q: %s, want %s", c.text, got, c.want)
		}
	}
}

// One day that can be meant one way only decides for its column.
func TestDayOrderOfColumn(t *testing.T) {
	for text, want := range map[string]string{"3/4/2026\n13/4/2026": "2026-04-03", "3/4/2026\n4/13/2026": "2026-03-04", "3/4/2026\n13/4/2026\n4/13/2026": "both orders"} {
		b, err := sheet.Read([]byte("day;x\n"+strings.ReplaceAll(text, "\n", ";1\n")+";1\n"), sheet.Options{})
		if err != nil {
			t.Fatal(err)
		}
		tab, err := b.Sheets[0].Table(1, sheet.Conventions{})
		if err != nil {
			t.Fatal(err)
		}
		d, _, err := tab.Date(tab.Rows[0].At(0), 0)
		if err != nil && !strings.Contains(err.Error(), want) || err == nil && d.Format(time.DateOnly) != want {
			t.Errorf("%q: %v %v, want %s", text, d, err, want)
		}
	}
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		cells, rest string // the first is asked for
		want        float64
		fails       string
	}{
		{"12,5", "g", 12.5, ""}, {"1.250,5", "", 1250.5, ""}, {"1,250.5", "", 1250.5, ""}, {"1'250", "", 1250, ""}, {"12.5", "", 12.5, ""},
		{"1,250", "", 0, "1250 or 1.250"}, {"1,250|2,5", "", 1.25, ""}, {"1,250|2.5", "", 1250, ""}, {"1.250|2,5", "", 1250, ""}, {"1.250", "", 1.25, ""},
		{"−3", "", -3, ""}, {"4.97", "oz", 4.97, ""}, {"1e3", "", 1000, ""}, {"0,125|3", "", 0.125, ""}, {"fine", "", 0, "no number"}, {"3 of 18", "", 0, "no number"},
		{"12", "%", 12, ""}, {"1 234,5", "", 1234.5, ""},
	} {
		text := "x;y\n"
		for i, s := range strings.Split(c.cells, "|") {
			if i == 0 {
				s = strings.TrimSpace(s + " " + c.rest)
			}
			text += s + ";z\n"
		}
		b, err := sheet.Read([]byte(text), sheet.Options{})
		if err != nil {
			t.Fatal(err)
		}
		tab, err := b.Sheets[0].Table(1, sheet.Conventions{})
		if err != nil {
			t.Fatal(err)
		}
		v, rest, err := tab.Number(tab.Rows[0].At(0), 0)
		switch {
		case c.fails != "" && (err == nil || !strings.Contains(err.Error(), c.fails)):
			t.Errorf("%s: %v %v, want %s", c.cells, v, err, c.fails)
		case c.fails == "" && (err != nil || v != c.want || rest != c.rest):
			t.Errorf("%s: %v %q %v, want %v", c.cells, v, rest, err, c.want)
		}
	}
}

func TestHeadings(t *testing.T) {
	for text, want := range map[string]struct {
		row   int
		names string
	}{
		"Harvest 2026\n\nPlant;Weight (g);cut, on;height_cm;Gewicht in g\nP1;12;2026-03-01;7;3\n":       {3, "Plant|,Weight|g,cut, on|,height|cm,Gewicht|g"},
		"Plant;Weight;Height\n;(g);(cm)\nP1;12;7\nP2;13;8\n":                                            {1, "Plant|,Weight|g,Height|cm"},
		"P1;12;2026-03-01\nP2;13;2026-03-02\n":                                                          {0, "column 1|,column 2|,column 3|"},
		"notes of the cellar;;\nplease do not sort;;\nplant;mass;note\n1;120;\n2;133;pale\n3;99;fine\n": {3, "plant|,mass|,note|"},
	} {
		b, err := sheet.Read([]byte(text), sheet.Options{})
		if err != nil {
			t.Fatal(err)
		}
		rows := b.Sheets[0].HeadingRows()
		if rows[0] != want.row {
			t.Errorf("%q: headings %v, want %d", text, rows, want.row)
			continue
		}
		tab, err := b.Sheets[0].Table(rows[0], sheet.Conventions{})
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, c := range tab.Columns {
			n := c.Name
			if n == "" {
				n = c.Heading
			}
			names = append(names, n+"|"+c.Unit)
		}
		if got := strings.Join(names, ","); got != want.names {
			t.Errorf("%q: %s, want %s", text, got, want.names)
		}
	}
}

// Faults say where and what to do.
func TestFaults(t *testing.T) {
	packed := func(parts ...string) []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for i := 0; i < len(parts); i += 2 {
			w, err := z.Create(parts[i])
			if err != nil {
				t.Fatal(err)
			}
			w.Write([]byte(parts[i+1]))
		}
		z.Close()
		return b.Bytes()
	}
	for name, c := range map[string]struct {
		raw  []byte
		opt  sheet.Options
		want string
	}{
		"empty":        {nil, sheet.Options{}, "no cell"},
		"blanks":       {[]byte(" \n,,\n , \n"), sheet.Options{}, "no cell"},
		"picture":      {[]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"), sheet.Options{}, "save the table as"},
		"older":        {[]byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1rest"), sheet.Options{}, "save it as XLSX"},
		"open quote":   {[]byte("a;b\n1;\"two\n3;4\n"), sheet.Options{}, "line 2, column 2: a quote is opened"},
		"archive":      {packed("readme.txt", "hello"), sheet.Options{}, "no workbook"},
		"torn":         {[]byte("PK\x03\x04torn"), sheet.Options{}, "cannot be unpacked"},
		"bomb":         {packed("xl/workbook.xml", strings.Repeat(" ", 3<<20)+"<workbook/>"), sheet.Options{MaxUnpacked: 1 << 20}, "larger than 1 MiB when unpacked"},
		"no sheet":     {packed("xl/workbook.xml", "<workbook/>"), sheet.Options{}, "no sheet that can be read"},
		"letter":       {packed("content.xml", `<o:document-content xmlns:o="urn:oasis:names:tc:opendocument:xmlns:office:1.0"><o:text/></o:document-content>`), sheet.Options{}, "no workbook"},
		"damaged":      {packed("content.xml", `<a><table name="x"><table-row><table-cell>`), sheet.Options{}, "damaged"},
		"wide":         {[]byte(strings.Repeat("x;", 600) + "\n"), sheet.Options{}, "more than 500 columns"},
		"lots of text": {[]byte("a;b\n" + strings.Repeat("x", 200_000) + ";1\n"), sheet.Options{}, "characters"},
	} {
		b, err := sheet.Read(c.raw, c.opt)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v %v, want %q", name, b, err, c.want)
		}
		if _, ok := errors.AsType[*sheet.Error](err); err != nil && !ok && !errors.Is(err, sheet.ErrNoRows) {
			t.Errorf("%s: %T", name, err)
		}
	}
}

// Whatever rows are written as text are read again.
func TestWrittenAndRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(2, 5).Draw(t, "width")
		cell := rapid.OneOf(rapid.StringMatching(`[a-z0-9 ,;"|.äµ-]{0,8}`), rapid.StringMatching(`[a-z]{1,3}\n[a-z"]{1,3}`), rapid.Just(""))
		var rows [][]string
		for range rapid.IntRange(1, 6).Draw(t, "rows") {
			row := []string{"x" + rapid.StringMatching(`[a-z]{1,4}`).Draw(t, "first")}
			for range width - 1 {
				row = append(row, strings.TrimSpace(cell.Draw(t, "cell")))
			}
			rows = append(rows, row)
		}
		sep := rapid.SampledFrom([]rune{',', ';', '\t', '|'}).Draw(t, "separator")
		var b strings.Builder
		w := csv.NewWriter(&b)
		w.Comma = sep
		w.UseCRLF = rapid.Bool().Draw(t, "CRLF")
		w.WriteAll(rows)
		text := "sep=" + string(sep) + "\n" + b.String()
		if sep == '\t' { // no line can say it
			return
		}
		got, _, err := sheet.TextRows([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		if !slices.EqualFunc(got, rows, func(a, b []string) bool { return slices.Equal(a, b) }) {
			t.Fatalf("%q\n%q\n%q", text, got, rows)
		}
	})
}

// Numbers and days that are written into a workbook are read again.
func FuzzRead(f *testing.F) {
	for _, name := range []string{"openpyxl.xlsx", "xlsxwriter.xlsx", "gnumeric.ods"} {
		f.Add(file(f, name))
	}
	f.Add([]byte("Plant;Weight (g);day\nP1;12,5;3.10.2026\n"))
	f.Add([]byte("a,b\n\"1,5\",\"x\ny\"\n"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		b, err := sheet.Read(raw, sheet.Options{MaxUnpacked: 4 << 20})
		if err != nil {
			if _, ok := errors.AsType[*sheet.Error](err); !ok && !errors.Is(err, sheet.ErrNoRows) {
				t.Fatalf("%T %v", err, err)
			}
			return
		}
		for _, s := range b.Sheets {
			for _, h := range s.HeadingRows() {
				tab, err := s.Table(h, sheet.Conventions{})
				if err != nil {
					t.Fatal(err)
				}
				for _, r := range tab.Rows {
					for _, c := range tab.Columns {
						x := r.At(c.Index)
						if v, _, err := tab.Number(x, c.Index); err == nil && math.IsNaN(v) {
							t.Fatalf("%q is no number", x.Text)
						}
						if d, _, err := tab.Date(x, c.Index); err == nil && (d.Year() < 1970 || d.Year() > 2199) {
							t.Fatalf("%q is %v", x.Text, d)
						}
						tab.Plain(x, c.Index)
					}
				}
			}
		}
	})
}

func manyRows(n int) []byte {
	var b bytes.Buffer
	b.WriteString("plant;day;mass (g);note\n")
	for i := range n {
		fmt.Fprintf(&b, "P%d;%02d.10.2026;%d,5;fine\n", i%40, 1+i%28, 100+i%50)
	}
	return b.Bytes()
}

// A million rows are read.
func BenchmarkMillionRows(b *testing.B) {
	raw := manyRows(1_000_000)
	b.SetBytes(int64(len(raw)))
	b.ReportAllocs()
	for b.Loop() {
		book, err := sheet.Read(raw, sheet.Options{})
		if err != nil || len(book.Sheets[0].Rows) != 1_000_001 {
			b.Fatal(err)
		}
		if _, err := book.Sheets[0].Table(1, sheet.Conventions{}); err != nil {
			b.Fatal(err)
		}
	}
}
