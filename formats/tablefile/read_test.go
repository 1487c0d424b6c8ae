package tablefile_test

import (
	"bytes"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"underlamp/formats/tablefile"
)

func TestRead(t *testing.T) {
	const text = `underlamp table: 1
place: rack-2
zone: Europe/Berlin
day first: yes
columns:
  - {column: "Temperatur", unit: "°C", sensor: rack-2/air}
  - {column: "Akku", sensor: none}
`
	got, problems, err := tablefile.Read(strings.NewReader(text))
	if err != nil || got == nil {
		t.Fatal(problems, err)
	}
	if got.Place != "rack-2" || got.Zone.String() != "Europe/Berlin" || !*got.DayFirst || len(got.Columns) != 2 ||
		got.Columns[0] != (tablefile.Column{Name: "Temperatur", Unit: "°C", Sensor: "rack-2/air"}) || got.Columns[1] != (tablefile.Column{Name: "Akku"}) {
		t.Errorf("%+v", got)
	}
}

// Every mistake is told with its line.
func TestProblems(t *testing.T) {
	for _, c := range []struct{ text, says string }{
		{"place: a\ncolumns: [{column: a, sensor: b}]", "line 1, column 1: error: underlamp table"},
		{"underlamp table: 1\ncolumns: [{column: a, sensor: b}]", "where such tables lie is missing"},
		{"underlamp table: 1\nplace: a", "the list of columns is missing"},
		{"underlamp table: 1\nplace: a\nzone: Mars\ncolumns: [{column: a, sensor: b}]", `"Mars" is no time zone`},
		{"underlamp table: 1\nplace: a\nzone: Local\ncolumns: [{column: a, sensor: b}]", `"Local" is no time zone`},
		{"underlamp table: 1\nplace: a\nday first: maybe\ncolumns: [{column: a, sensor: b}]", "maybe"},
		{"underlamp table: 1\nplace: a\ncolumns: [{column: a}]", "the sensor of the column is missing"},
		{"underlamp table: 1\nplace: a\ncolumns: [{sensor: a}]", "the name of the column is missing"},
		{"underlamp table: 1\nplace: a\ncolumns: [{column: a, sensor: a b}]", "cannot be the name of a sensor"},
		{"underlamp table: 1\nplace: a\ncolumns:\n  - {column: a, sensor: x}\n  - {column: b, sensor: x}", "in line 4 already"},
		{"underlamp table: 1\nplace: a\ncolumns: [{name: a, sensor: b}]", "column"},
	} {
		got, problems, err := tablefile.Read(strings.NewReader(c.text))
		if err != nil || got != nil || !strings.Contains(problems.Error(), c.says) && !strings.HasPrefix(c.says, "line 1") {
			t.Errorf("%q: %v, %v, want %q", c.text, problems, err, c.says)
		}
	}
}

// What is written is read back.
func TestWrite(t *testing.T) {
	key := rapid.StringMatching(`[A-Za-z0-9][A-Za-z0-9:./_-]{0,30}`)
	words := rapid.StringMatching(`[\pL\pN"'#:\\]([\pL\pN\pS\pP ]{0,30}[\pL\pN\pS\pP])?`)
	rapid.Check(t, func(t *rapid.T) {
		x := &tablefile.Table{Place: words.Draw(t, "place")}
		if rapid.Bool().Draw(t, "zoned") {
			x.Zone, _ = time.LoadLocation("Europe/Berlin")
		}
		if rapid.Bool().Draw(t, "days") {
			first := rapid.Bool().Draw(t, "first")
			x.DayFirst = &first
		}
		for _, k := range rapid.SliceOfNDistinct(key, 1, 5, rapid.ID[string]).Draw(t, "keys") {
			if k == "none" || rapid.IntRange(0, 4).Draw(t, "left out") == 0 {
				k = ""
			}
			c := tablefile.Column{Name: words.Draw(t, "name"), Sensor: k}
			if rapid.Bool().Draw(t, "with unit") {
				c.Unit = words.Draw(t, "unit")
			}
			x.Columns = append(x.Columns, c)
		}
		var b bytes.Buffer
		if err := tablefile.Write(&b, x); err != nil {
			t.Fatal(err)
		}
		got, problems, err := tablefile.Read(&b)
		if err != nil || got == nil {
			t.Fatal(problems, err)
		}
		if d := cmp.Diff(x, got, cmp.Comparer(func(a, b *time.Location) bool {
			return (a == nil) == (b == nil) && (a == nil || a.String() == b.String())
		})); d != "" {
			t.Fatal(d)
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add("underlamp table: 1\nplace: a\nzone: UTC\ncolumns: [{column: a, unit: b, sensor: c}]")
	f.Add("columns:\n - x")
	f.Fuzz(func(t *testing.T, text string) {
		got, problems, err := tablefile.Read(strings.NewReader(text))
		if err == nil && (got == nil) != problems.HasErrors() {
			t.Fatalf("%v, %v", got, problems)
		}
		if got != nil {
			var b bytes.Buffer
			if err := tablefile.Write(&b, got); err != nil {
				t.Fatal(err)
			}
			if again, problems, err := tablefile.Read(&b); again == nil {
				t.Fatal(problems, err, b.String())
			}
		}
	})
}

// The document of the format names every key.
func TestDocumented(t *testing.T) {
	text, err := os.ReadFile("../../docs/formats/intake.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range tablefile.Keys() {
		if !strings.Contains(string(text), k) {
			t.Errorf("docs/formats/intake.md does not name the key %q", k)
		}
	}
}
