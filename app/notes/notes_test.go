package notes_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"underlamp/app/kept"
	"underlamp/app/notes"
	"underlamp/safefolder"
	"underlamp/store/sqlite"
)

// bench is an invented bench with six plants in two rows.
const bench = `underlamp: 1
name: Test shelf
units: metric
space: {width: 90 cm, depth: 60 cm, height: 45 cm}
lamps:
  - {name: A, at: [45 cm, 30 cm], height: 34 cm, flux: 80 µmol/s, watts: 35 W, hours: 16 h}
plants:
  at: [[15 cm, 15 cm], [45 cm, 15 cm], [75 cm, 15 cm], [15 cm, 45 cm], [45 cm, 45 cm], [75 cm, 45 cm]]
crop: {species: lettuce, cultivar: Testa, transplanted: 2026-09-01, days: 90}
readings:
  - {name: R1, at: [45 cm, 30 cm], height: 5 cm, ppfd: 190 µmol/m²/s}
`

const file = "shelf.yaml"

var now = time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)

func office(t testing.TB) *notes.Office {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, file), []byte(bench), 0o644); err != nil {
		t.Fatal(err)
	}
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	f := safefolder.New(dir)
	desk := kept.NewDesk(s, f, func() time.Time { return now })
	return &notes.Office{Place: f, Seen: s, Zone: time.UTC, Now: func() time.Time { return now },
		Save: func(ctx context.Context, bench string, text, base []byte, by, why string) error {
			return desk.Save(ctx, kept.Save{Bench: bench, Text: text, Base: base, By: by, Why: why})
		}}
}

func items(d *notes.Draft) []string {
	var out []string
	for _, i := range d.New {
		s := strings.Join([]string{i.Place, i.About, i.What, i.Text, i.Day}, " | ")
		if i.Note != "" {
			s += " | " + i.Note
		}
		out = append(out, s)
	}
	return out
}

func faults(d *notes.Draft) []string {
	var out []string
	for _, f := range d.Faults {
		out = append(out, f.Place+" | "+f.Says)
	}
	return out
}

// xlsx are workbooks of testdata/make.py.
func read(t testing.TB, name string) []byte {
	t.Helper()
	raw, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// Twelve sheets of invented notes, messy on purpose, with what they say written by hand.
func TestTwelveSheets(t *testing.T) {
	yes, no := true, false
	for _, c := range []struct {
		name, text string
		book       string // instead of text: a file of testdata
		said       notes.Said
		kind       notes.Kind
		want       []string
		faults     []string
		left       int
		says       []string // in the notes, doubts or left rows
	}{
		{name: "1 German, decimal commas, title above, totals below", text: "Ernte Regal oben;;;;\n\nPflanze;Datum;Gewicht (g);Innenbrand;Bemerkung\nP1;12.10.2026;141,5;nein;schön\nP2;12.10.2026;98;wenig;\n3;12.10.2026;1.020,25;ja;Kopf fest\nSumme;;1259,75;;\n",
			kind: notes.Plants, left: 1, says: []string{"decimal comma", "begins with “Summe”", "Plants are called by their numbers"},
			want: []string{
				"line 4, column 3 | P1 | mass | 141.5 g | 2026-10-12 | schön", "line 4, column 4 | P1 | burn | none | 2026-10-12",
				"line 5, column 3 | P2 | mass | 98 g | 2026-10-12", "line 5, column 4 | P2 | burn | seen | 2026-10-12 | written as “wenig”",
				"line 6, column 3 | P3 | mass | 1020 g | 2026-10-12 | Kopf fest", "line 6, column 4 | P3 | burn | seen | 2026-10-12",
			}},
		{name: "2 ounces in the heading and in cells, month first by one cell", text: "plant,date,weight (oz),leaves\nP1,10/3/2026,4.97,21\nP2,10/13/2026,5 oz,20\nP3,10/13/2026,141 g,n/a\n",
			kind: notes.Plants,
			want: []string{"line 2, column 3 | P1 | mass | 140.9 g | 2026-10-03", "line 2, column 4 | P1 | leaves | 21 | 2026-10-03", "line 3, column 3 | P2 | mass | 141.7 g | 2026-10-13", "line 3, column 4 | P2 | leaves | 20 | 2026-10-13", "line 4, column 3 | P3 | mass | 141 g | 2026-10-13"}},
		{name: "a day to come", text: "plant,date,weight (g)\nP1,2026-11-26,10\nP2,2026-11-27,12\n",
			kind: notes.Plants, want: []string{"line 2, column 3 | P1 | mass | 10 g | 2026-11-26"}, faults: []string{"line 3, column 2 | 2026-11-27"}},
		{name: "3 day and month either way", text: "plant,date,weight\nP1,3/4/2026,10\nP2,5/4/2026,12\n",
			kind: notes.Plants, faults: []string{"line 2, column 2 | 3/4/2026", "line 3, column 2 | 5/4/2026"}},
		{name: "3b the same, told", text: "plant,date,weight\nP1,3/4/2026,10\nP2,5/4/2026,12\n", said: notes.Said{DayFirst: &yes},
			kind: notes.Plants, says: []string{"before the present crop"}, want: []string{"line 2, column 3 | P1 | mass | 10 g | 2026-04-03", "line 3, column 3 | P2 | mass | 12 g | 2026-04-05"}},
		{name: "4 a day for each block, and a day written once", text: "Plant;g\n3 Oct 2026;\n1;20\n2;21,5\n10 Oct 2026;\n1;44\n2;dead\n",
			kind: notes.Plants, left: 2, says: []string{"a day alone"},
			want: []string{"line 3, column 2 | P1 | mass | 20 g | 2026-10-03", "line 4, column 2 | P2 | mass | 21.5 g | 2026-10-03", "line 6, column 2 | P1 | mass | 44 g | 2026-10-10", "line 7, column 2 | P2 | mass | missing: dead | 2026-10-10"}},
		{name: "5 a column for each day", text: "Plant,weight 3 Oct 2026 (g),weight 10 Oct 2026 (g),note\nP1,20,44,\nP2,21,,slug\nP4,,,gone\n",
			kind: notes.Plants,
			want: []string{"line 2, column 2 | P1 | mass | 20 g | 2026-10-03", "line 2, column 3 | P1 | mass | 44 g | 2026-10-10", "line 3, column 2 | P2 | mass | 21 g | 2026-10-03 | slug", "line 4, column 4 | P4 | note | gone | 2026-10-10"}},
		{name: "6 burn as 0 to 3, percent, words; unknown plants", text: "plant;day;tipburn (0-3);burn grade;inner burn\nP1;2026-10-12;0;0 %;no\nP2;2026-10-12;2;4 %;few\nP9;2026-10-12;3;60 %;yes\nP3;2026-10-12;1;12,5 %;maybe\n",
			said: notes.Said{Columns: map[string]string{"inner burn": "nothing"}}, kind: notes.Plants, faults: []string{"line 4, column 1 | P9"},
			want: []string{"line 2, column 3 | P1 | burn | none | 2026-10-12", "line 2, column 4 | P1 | severity | grade 0 | 2026-10-12 | written as “0 % of the leaves”", "line 3, column 3 | P2 | burn | seen | 2026-10-12 | written as “2”", "line 3, column 4 | P2 | severity | grade 1 | 2026-10-12 | written as “4 % of the leaves”",
				"line 5, column 3 | P3 | burn | seen | 2026-10-12", "line 5, column 4 | P3 | severity | grade 2 | 2026-10-12 | written as “12.5 % of the leaves”"}},
		{name: "7 units in a row of their own, cells with signs of faults", text: "plant\tday\theight\twidth\n\t\t(in)\t(cm)\nP1\t2026-10-12\t5\t22,5\nP2\t2026-10-12\t#N/A\t21\nP3\t2026-10-12\tabout 5\t20\n",
			kind: notes.Plants, faults: []string{"line 5, column 3 | about 5"}, says: []string{"The units stand in line 2"},
			want: []string{"line 3, column 3 | P1 | height | 12.7 cm | 2026-10-12", "line 3, column 4 | P1 | width | 22.5 cm | 2026-10-12", "line 4, column 4 | P2 | width | 21 cm | 2026-10-12", "line 5, column 4 | P3 | width | 20 cm | 2026-10-12"}},
		{name: "8 a long table in French, two values of one day", text: "plante;jour;mesure;valeur\nP1;12/10/2026;poids;141\nP1;13/10/2026;hauteur;12,5 cm\nP1;13/10/2026;hauteur;13 cm\nP1;13/10/2026;couleur;vert\n",
			kind: notes.Plants, faults: []string{"line 4, column 4 | 13 cm", "line 5, column 3 | couleur"},
			want: []string{"line 2, column 4 | P1 | mass | 141 g | 2026-10-12", "line 3, column 4 | P1 | height | 12.5 cm | 2026-10-13"}},
		{name: "9 finished crops", text: "Crop;Variety;Sown;Planted out;Harvest;Heads;Total (kg);Tipburn;kWh;Remarks\nSpring;Testa;1.2.2026;14.2.2026;20.3.2026;6;0,9;none;31,5;\nSummer;Fria;2.5.2026;16.5.2026;18.6.2026;5;800 g;2;28;door open\nAutumn;Testa;1.7.2026;14.7.2026;16.8.2026;6;0,84;1 of 6;30;\nNow;Testa;20.8.2026;1.9.2026;;;;;;\n",
			kind: notes.Cycles, left: 1, says: []string{"not finished"},
			want: []string{"line 2 | Spring | finished crop | harvested 2026-03-20, 6 heads of 150 g, burn in 0 of 6 | 2026-02-14 | Sown on 2026-02-01. 6 heads weighed 900 g together. Electricity: 31.5 kWh.",
				"line 3 | Summer Fria | finished crop | harvested 2026-06-18, 5 heads of 160 g, burn in 2 of 5 | 2026-05-16 | Sown on 2026-05-02. 5 heads weighed 800 g together. Electricity: 28 kWh. door open",
				"line 4 | Autumn | finished crop | harvested 2026-08-16, 6 heads of 140 g, burn in 1 of 6 | 2026-07-14 | Sown on 2026-07-01. 6 heads weighed 840 g together. Electricity: 30 kWh."}},
		{name: "10 readings of light by place and by plant", text: "point,from left (cm),from front (cm),at plant,PPFD (umol/m2/s),date\na,15,15,,160,1 Sep 2026\nb,,,P5,188.5,1 Sep 2026\nc,45,30,,190,\nd,,,,170,1 Sep 2026\n", said: notes.Said{Height: "5 cm"},
			kind: notes.Readings, faults: []string{"line 5 | "},
			want: []string{"line 2, column 5 | a | PPFD | 160 µmol/m²/s at 15 cm, 15 cm, height 5 cm | 2026-09-01", "line 3, column 5 | b | PPFD | 188.5 µmol/m²/s at 45 cm, 45 cm, height 5 cm | 2026-09-01"}},
		{name: "11 a workbook: merged days, hidden rows, formulas, a second sheet", book: "diary.xlsx",
			kind: notes.Plants, says: []string{"Merged cells", "is hidden", "formula", "several sheets"}, left: 1,
			want: []string{"B4 | P1 | mass | 120 g | 2026-10-05", "C4 | P1 | height | 11.5 cm | 2026-10-05", "B5 | P2 | mass | 131 g | 2026-10-05", "C5 | P2 | height | 12 cm | 2026-10-05", "B6 | P3 | mass | 99.5 g | 2026-10-05", "B7 | P1 | mass | 150 g | 2026-10-12", "C7 | P1 | height | 13 cm | 2026-10-12", "B8 | P2 | mass | 162.5 g | 2026-10-12"}},
		{name: "12 an OpenDocument table counted from 1904, days as numbers", book: "diary.ods", said: notes.Said{Sheet: "Old"},
			kind: notes.Plants,
			want: []string{"B2 | P4 | mass | 77 g | 2026-09-28", "C2 | P4 | leaves | 14 | 2026-09-28", "B3 | P5 | mass | 81 g | 2026-09-29", "C3 | P5 | leaves | 15 | 2026-09-29"}},
		{name: "no year", text: "plant;day;g\nP1;3 Oct;20\nP2;4.10.;21\n", kind: notes.Plants, faults: []string{"line 2, column 2 | 3 Oct", "line 3, column 2 | 4.10."}},
		{name: "no year, told", text: "plant;day;g\nP1;3 Oct;20\nP2;4.10.;21\n", said: notes.Said{Year: 2026, Comma: &no}, kind: notes.Plants, want: []string{"line 2, column 3 | P1 | mass | 20 g | 2026-10-03", "line 3, column 3 | P2 | mass | 21 g | 2026-10-04"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := office(t)
			raw, name := []byte(c.text), "notes.csv"
			if c.book != "" {
				raw, name = read(t, c.book), c.book
			}
			d, err := o.Look(context.Background(), name, raw, file, c.said)
			if err != nil {
				t.Fatal(err)
			}
			if d.Kind != c.kind {
				t.Errorf("kind %s (%s), want %s", d.Kind, d.KindWhy, c.kind)
			}
			if got := items(d); !slices.Equal(got, c.want) {
				t.Errorf("new:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
			if got := faults(d); !slices.Equal(got, c.faults) {
				t.Errorf("faults %q, want %q", got, c.faults)
			}
			if len(d.Left) != c.left || len(d.Asked) > 0 || len(d.Conflicts) > 0 {
				t.Errorf("left %q, asked %q, conflicts %v", d.Left, d.Asked, d.Conflicts)
			}
			told := strings.Join(slices.Concat(d.Notes, d.Doubts, d.Left), " ")
			for _, s := range c.says {
				if !strings.Contains(told, s) {
					t.Errorf("%q is not told: %s", s, told)
				}
			}
			if t.Failed() {
				for _, col := range d.Columns {
					fmt.Printf("%+v\n", col)
				}
			}
			// A look has written nothing; a real run does what the look showed; the same again
			// brings nothing; taken back, it can be taken again.
			if r, err := o.Records(); err != nil || len(r) > 0 {
				t.Fatalf("a look has written: %v, %v", r, err)
			}
			c.said.Skip = true
			taken, rec, err := o.Take(context.Background(), name, raw, file, c.said, "Ida")
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(items(taken), items(d)) {
				t.Errorf("taken:\n%s", strings.Join(items(taken), "\n"))
			}
			again, none, err := o.Take(context.Background(), name, raw, file, c.said, "Ida")
			if err != nil || none != nil || len(again.New) > 0 || again.Same < len(d.New) || len(again.Conflicts) > 0 {
				t.Fatalf("the same again: %v, new %q, same %d of %d, conflicts %v", err, items(again), again.Same, len(d.New), again.Conflicts)
			}
			if rec == nil {
				return
			}
			back, err := o.Undo(context.Background(), rec.ID, "Ida")
			if err != nil || len(back.Undone.Told) > 0 {
				t.Fatalf("%v %+v", err, back)
			}
			if d, err := o.Look(context.Background(), name, raw, file, c.said); err != nil || len(d.New) != len(taken.New) {
				t.Errorf("after it was taken back: %v, %d new of %d", err, len(d.New), len(taken.New))
			}
			if _, err := o.Undo(context.Background(), rec.ID, "Ida"); err == nil {
				t.Error("taken back twice")
			}
		})
	}
}
