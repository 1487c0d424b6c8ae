package datapackage_test

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"underlamp/formats/datapackage"
	"underlamp/formats/tables"
)

var created = time.Date(2026, 11, 26, 10, 30, 0, 0, time.UTC)

func ptr(x float64) *float64 { return &x }

// leaves is a package with every kind of cell.
func leaves() *datapackage.Package {
	units := &tables.Table{Name: "units", Title: "Units", About: "One row for each lamp.", Key: []string{"unit"}, Columns: []tables.Column{
		{Name: "unit", Kind: tables.Text, About: "Its name.", Required: true, Unique: true},
		{Name: "dli", Kind: tables.Number, Unit: "mol m⁻² d⁻¹", About: "Light.", Min: ptr(0)},
	}, Rows: tables.Of([][]any{{"L1", 12.5}, {"L2", nil}})}
	seen := &tables.Table{Name: "seen", Title: "Seen", About: "One row for each look.", Key: []string{"unit", "day"},
		Refs: []tables.Reference{{Columns: []string{"unit"}, Table: "units", Their: []string{"unit"}}},
		Columns: []tables.Column{
			{Name: "unit", Kind: tables.Text, About: "Its name.", Required: true},
			{Name: "day", Kind: tables.Date, About: "When.", Required: true},
			{Name: "mass", Kind: tables.Number, Unit: "g", About: "Fresh.", Min: ptr(0), Max: ptr(5000)},
			{Name: "grade", Kind: tables.Whole, About: "Of burn.", Min: ptr(0), Max: ptr(5)},
			{Name: "cut", Kind: tables.Yes, About: "Taken."},
			{Name: "at", Kind: tables.Time, About: "Entered."},
			{Name: "what", Kind: tables.Text, About: "Kind.", Enum: []string{"mass", "burn"}},
			{Name: "note", Kind: tables.Text, About: "Words."},
		}, Rows: tables.Of([][]any{
			{"L1", tables.Day{Year: 2026, Month: 10, Day: 1}, 0.1 + 0.2, int64(3), true, created.Add(123 * time.Millisecond), "mass", "=1+1, \"quoted\"\nsecond line"},
			{"L2", tables.Day{Year: 2026, Month: 10, Day: 2}, nil, nil, nil, nil, nil, nil},
			{"L2", tables.Day{Year: 2026, Month: 10, Day: 3}, 5e-324, int64(0), false, created, "burn", " Blätter – "},
		})}
	return &datapackage.Package{Name: "leaves", Title: "Leaves under two lamps", Description: "Invented.", Version: "1", Created: created,
		Licence: &datapackage.Licence{Name: "CC-BY-4.0", Title: "Creative Commons Attribution 4.0"},
		People:  []datapackage.Person{{Title: "Ida Example", Role: "author"}}, Sources: []datapackage.Source{{Title: "made up"}},
		Made:  &datapackage.Made{Program: "underlamp", Version: "0", Kind: "trial", Begin: "files/mine.trial.yaml", Seed: "18446744073709551615"},
		About: "# Leaves\n", Citation: "cff-version: 1.2.0\n",
		Missing: []datapackage.Missing{{What: "sensors", How: "name a store"}},
		Tables:  []*tables.Table{units, seen},
		Files:   []datapackage.File{{Path: "files/mine.trial.yaml", Title: "Plan", Media: "application/yaml", Data: []byte("underlamp trial: 1\n")}}}
}

func zipped(t testing.TB, p *datapackage.Package) []byte {
	t.Helper()
	var b bytes.Buffer
	z := datapackage.NewZip(&b, created)
	if err := datapackage.Write(z, p); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func rowsOf(t *tables.Table) (out [][]any, err error) {
	err = t.Rows(func(row []any) error { out = append(out, append([]any{}, row...)); return nil })
	return out, err
}

func same(t testing.TB, got, want *datapackage.Package) {
	t.Helper()
	if len(got.Tables) != len(want.Tables) {
		t.Fatalf("%d tables, want %d", len(got.Tables), len(want.Tables))
	}
	for i, w := range want.Tables {
		g := got.Tables[i]
		a, err := rowsOf(g)
		if err != nil {
			t.Fatal(err)
		}
		b, _ := rowsOf(w)
		if d := cmp.Diff(b, a); d != "" {
			t.Errorf("%s: %s", w.Name, d)
		}
		gc, wc := *g, *w
		gc.Rows, wc.Rows = nil, nil
		if d := cmp.Diff(wc, gc); d != "" {
			t.Errorf("%s: %s", w.Name, d)
		}
	}
}

func TestWrittenIsRead(t *testing.T) {
	p := leaves()
	raw := zipped(t, p)
	if again := zipped(t, leaves()); !bytes.Equal(raw, again) {
		t.Error("the same content gives other bytes")
	}
	dir, err := datapackage.OpenZip(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	got, err := datapackage.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := got.Verify(); err != nil {
		t.Fatal(err)
	}
	same(t, got, p)
	if d := cmp.Diff([]any{p.Name, p.Title, p.Description, p.Version, p.Created, p.Licence, p.People, p.Sources, p.Made, p.About, p.Citation, p.Missing},
		[]any{got.Name, got.Title, got.Description, got.Version, got.Created, got.Licence, got.People, got.Sources, got.Made, got.About, got.Citation, got.Missing}); d != "" {
		t.Error(d)
	}
	data, err := got.File("files/mine.trial.yaml").Read()
	if err != nil || string(data) != "underlamp trial: 1\n" {
		t.Errorf("%q, %v", data, err)
	}
	var b bytes.Buffer
	if err := datapackage.WriteJSON(&b, p); err != nil {
		t.Fatal(err)
	}
	if !json.Valid(b.Bytes()) {
		t.Fatalf("no JSON: %s", b.String())
	}
	one, err := datapackage.ReadJSON(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	same(t, one, p)
}

// Any finite number and any text comes back to the last bit.
func TestCellsSurvive(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		x := rapid.Float64().Draw(rt, "x")
		text := rapid.String().Draw(rt, "text")
		n := rapid.Int64().Draw(rt, "n")
		rows := [][]any{{tables.TextOf(text), tables.NumberOf(x), n}}
		p := &datapackage.Package{Name: "p", Tables: []*tables.Table{{Name: "t", About: "x", Columns: []tables.Column{
			{Name: "text", Kind: tables.Text, About: "x"}, {Name: "x", Kind: tables.Number, About: "x"}, {Name: "n", Kind: tables.Whole, About: "x"}}, Rows: tables.Of(rows)}}}
		raw := zipped(t, p)
		dir, err := datapackage.OpenZip(bytes.NewReader(raw), int64(len(raw)))
		if err != nil {
			rt.Fatal(err)
		}
		got, err := datapackage.Read(dir)
		if err != nil {
			rt.Fatal(err)
		}
		back, err := rowsOf(got.Tables[0])
		if err != nil {
			rt.Fatal(err)
		}
		if d := cmp.Diff(rows, back); d != "" {
			rt.Fatal(d)
		}
		if y, ok := back[0][1].(float64); ok && math.Float64bits(y) != math.Float64bits(x) {
			rt.Fatalf("%g became %g", x, y)
		}
	})
}

const plain = `{"name":"x","resources":[{"name":"t","path":"data/t.csv","profile":"tabular-data-resource","schema":{"fields":[{"name":"id","type":"string"},{"name":"n","type":"number","constraints":{"minimum":0}}],"primaryKey":"id","foreignKeys":[{"fields":"n","reference":{"resource":"","fields":"n"}}]}}]}`

func TestFaultsHaveAPlace(t *testing.T) {
	for _, c := range []struct{ name, descriptor, csv, want string }{
		{"not JSON", "{\n\"name\": }", "", "datapackage.json, line 2: it cannot be read"},
		{"wrong kind", "{\n\"resources\": 3}", "", `datapackage.json, line 2, column "resources"`},
		{"nothing in it", `{"name":"x"}`, "", "lists no tables"},
		{"leads out", `{"resources":[{"name":"a","path":"../../secret"}]}`, "", "leads out of the package"},
		{"another machine's path", `{"resources":[{"name":"a","path":"C:\\x.csv"}]}`, "", "leads out of the package"},
		{"network", `{"resources":[{"name":"a","path":"https://example.org/x.csv"}]}`, "", "nothing is fetched"},
		{"file not there", `{"resources":[{"name":"a","path":"b.csv"}]}`, "", `there is no file "b.csv"`},
		{"two of a name", `{"resources":[{"name":"a","path":"data/t.csv"},{"name":"a","path":"data/t.csv"}]}`, "", "another resource is called"},
		{"no number", plain, "id,n\na,1\nb,x\n", `data/t.csv, line 3, column "n": "x" is no number`},
		{"below", plain, "id,n\na,-1\n", `line 2, column "n": -1 is outside`},
		{"too few", plain, "id,n\na\n", "line 2: there are 1 cells for 2 columns"},
		{"heading", plain, "id,m\n", `line 1, column "m": the schema has the column "n"`},
		{"heading missing", plain, "id\n", `column "n": the column is not there`},
		{"empty", plain, "", "the table is empty"},
		{"quotes", plain, "id,n\n\"a,1\n", "data/t.csv, line 2"},
		{"key twice", plain, "id,n\na,1\na,1\n", "row 2: the key a stands twice"},
		{"key missing", plain, "id,n\n,1\n", "row 1: a part of the key"},
		{"infinite", plain, "id,n\na,Inf\n", `"Inf" is no number`},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := fstest.MapFS{datapackage.Descriptor: {Data: []byte(c.descriptor)}, "data/t.csv": {Data: []byte(c.csv)}}
			p, err := datapackage.Read(dir)
			if err == nil {
				err = p.Verify()
			}
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

func TestChangedFilesAreTold(t *testing.T) {
	raw := zipped(t, leaves())
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	dir := fstest.MapFS{}
	for _, f := range z.File {
		data, err := fs.ReadFile(z, f.Name)
		if err != nil {
			t.Fatal(err)
		}
		dir[f.Name] = &fstest.MapFile{Data: data}
	}
	dir["data/units.csv"].Data = bytes.Replace(dir["data/units.csv"].Data, []byte("12.5"), []byte("12.6"), 1)
	dir["files/mine.trial.yaml"].Data = append(dir["files/mine.trial.yaml"].Data, '\n')
	p, err := datapackage.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	err = p.Verify()
	for _, want := range []string{"data/units.csv: its hash is not that", "files/mine.trial.yaml: it has 20 bytes"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v lacks %q", err, want)
		}
	}
	dir["data/seen.csv"].Data = bytes.Replace(dir["data/seen.csv"].Data, []byte("L2,2026-10-02"), []byte("L9,2026-10-02"), 1)
	p, err = datapackage.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Verify(); err == nil || !strings.Contains(err.Error(), `of the table "units" does not have L9`) {
		t.Error(err)
	}
}

func TestZipsThatDoHarm(t *testing.T) {
	make := func(fill func(z *zip.Writer)) []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		fill(z)
		z.Close()
		return b.Bytes()
	}
	file := func(name string) []byte {
		return make(func(z *zip.Writer) { w, _ := z.Create(name); io.WriteString(w, "x") })
	}
	for _, c := range []struct {
		name, want string
		raw        []byte
	}{
		{"up", "leads out", file("../x")}, {"absolute", "leads out", file("/etc/x")}, {"other machine", "leads out", file(`a\b`)}, {"drive", "leads out", file("c:x")},
		{"no zip", "no zip file", []byte("PK")},
		{"two that are one", "two files of this name", make(func(z *zip.Writer) { z.Create("a"); z.Create("A") })},
		{"link", "neither a file", make(func(z *zip.Writer) {
			h := &zip.FileHeader{Name: "l"}
			h.SetMode(fs.ModeSymlink | 0o777)
			z.CreateHeader(h)
		})},
		{"bomb", "when unpacked", make(func(z *zip.Writer) {
			for i := range 3 {
				z.CreateRaw(&zip.FileHeader{Name: fmt.Sprint(i), UncompressedSize64: 1 << 30, CompressedSize64: 0})
			}
		})},
		{"many", "more than", make(func(z *zip.Writer) {
			for i := range 10_001 {
				z.CreateRaw(&zip.FileHeader{Name: fmt.Sprint(i)})
			}
		})},
	} {
		if _, err := datapackage.OpenZip(bytes.NewReader(c.raw), int64(len(c.raw))); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", c.name, err, c.want)
		}
	}
	// A file that unpacks to more than it says.
	honest := make(func(z *zip.Writer) {
		w, _ := z.Create(datapackage.Descriptor)
		w.Write(bytes.Repeat([]byte(" "), 1<<20))
	})
	lies := bytes.Clone(honest)
	central := bytes.LastIndex(lies, []byte("PK\x01\x02"))
	copy(lies[central+24:], []byte{0, 0x10, 0, 0}) // the size when unpacked, in the directory
	dir, err := datapackage.OpenZip(bytes.NewReader(lies), int64(len(lies)))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := datapackage.Read(dir); !errors.Is(err, zip.ErrFormat) {
		t.Errorf("got %v", err)
	}
}

// What others write: another separator, their own words for missing, a schema in a file, the
// data in a folder of the zip.
func TestPackagesOfOthers(t *testing.T) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range map[string]string{
		"deep/datapackage.json": `{"name":"x","licenses":[{"name":"ODC-PDDL-1.0"}],"resources":[{"name":"t","path":["t.csv"],"dialect":{"delimiter":";"},"schema":"s.json","encoding":"UTF-8"},{"name":"readme","path":"r.txt"}]}`,
		"deep/s.json":           `{"missingValues":["NA","-"],"fields":[{"name":"Größe","type":"number","decimalChar":",","groupChar":".","bareNumber":false},{"name":"ok","type":"boolean","trueValues":["ja"],"falseValues":["nein"]},{"name":"when","type":"date","format":"any"},{"name":"y","type":"year"}]}`,
		"deep/t.csv":            "\uFEFFGröße;ok;when;y\r\n1.234,5 g;ja;2026-10-01;2026\r\nNA;nein;-;NA\r\n",
		"deep/r.txt":            "hello",
	} {
		w, _ := z.Create(name)
		io.WriteString(w, text)
	}
	z.Close()
	dir, err := datapackage.OpenZip(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	p, err := datapackage.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := rowsOf(p.Table("t"))
	if err != nil {
		t.Fatal(err)
	}
	want := [][]any{{1234.5, true, tables.Day{Year: 2026, Month: 10, Day: 1}, int64(2026)}, {nil, false, nil, nil}}
	if d := cmp.Diff(want, rows); d != "" {
		t.Error(d)
	}
	if text, err := p.File("r.txt").Read(); err != nil || string(text) != "hello" {
		t.Errorf("%q, %v", text, err)
	}
}

// FuzzRead: a table that is read and written again is read the same; nothing panics, and
// every fault of a cell has its place.
func FuzzRead(f *testing.F) {
	f.Add(plain, "id,n\na,1\nb,2.5\n")
	f.Add(`{"name":"x","resources":[{"name":"t","path":"data/t.csv","dialect":{"delimiter":";"},"schema":{"fields":[{"name":"a"},{"name":"b","type":"date"},{"name":"c","type":"datetime"},{"name":"d","type":"boolean"},{"name":"e","type":"integer"}],"missingValues":["-"]}}]}`, "a;b;c;d;e\nx;2026-10-01;2026-10-01T08:00:00Z;true;3\n-;-;-;-;-\n")
	f.Add(`{"name":"x","resources":[{"name":"t","data":[{"a":1},{"a":"x"}],"schema":{"fields":[{"name":"a"}]}}]}`, "")
	f.Fuzz(func(t *testing.T, descriptor, csv string) {
		dir := fstest.MapFS{datapackage.Descriptor: {Data: []byte(descriptor)}, "data/t.csv": {Data: []byte(csv)}}
		p, err := datapackage.Read(dir)
		if err != nil {
			return
		}
		_ = p.Verify()
		for _, tab := range p.Tables {
			rows, err := rowsOf(tab)
			if err != nil {
				var place *datapackage.PlaceError
				if !errors.As(err, &place) || place.File == "" {
					t.Fatalf("without a place: %v", err)
				}
				continue
			}
			tab.Refs, tab.Key = nil, nil
			for i := range tab.Columns {
				tab.Columns[i].About = "x"
			}
			if tab.Check() != nil || len(tab.Columns) < 2 {
				continue
			}
			again := &datapackage.Package{Name: "x", Tables: []*tables.Table{tab}}
			var b bytes.Buffer
			z := datapackage.NewZip(&b, created)
			if err := datapackage.Write(z, again); err != nil {
				t.Fatalf("what was read cannot be written: %v", err)
			}
			z.Close()
			d, err := datapackage.OpenZip(bytes.NewReader(b.Bytes()), int64(b.Len()))
			if err != nil {
				t.Fatal(err)
			}
			got, err := datapackage.Read(d)
			if err != nil {
				t.Fatal(err)
			}
			back, err := rowsOf(got.Tables[0])
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(rows, back); diff != "" {
				t.Fatal(diff)
			}
		}
	})
}

// FuzzZip: whatever the bytes are, a zip file is refused or is a package or is none.
func FuzzZip(f *testing.F) {
	f.Add(zipped(f, leaves()))
	f.Fuzz(func(t *testing.T, raw []byte) {
		dir, err := datapackage.OpenZip(bytes.NewReader(raw), int64(len(raw)))
		if err != nil {
			return
		}
		if p, err := datapackage.Read(dir); err == nil {
			_ = p.Verify()
		}
	})
}
