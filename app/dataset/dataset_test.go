package dataset_test

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"testing"
	"time"

	"underlamp/app/dataset"
	"underlamp/app/kept"
	"underlamp/app/trialbook"
	"underlamp/demo"
	"underlamp/formats/aboutfile"
	"underlamp/formats/benchfolder"
	"underlamp/formats/datapackage"
	"underlamp/formats/tables"
	"underlamp/safefolder"
	"underlamp/store"
	"underlamp/store/sqlite"
)

var update = flag.Bool("update", false, "write the lists of docs/data-package.md anew")

// The lists of the documents are those of the code.
func TestDocumentsListEveryColumn(t *testing.T) {
	const name = "../../docs/data-package.md"
	raw, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	want := string(raw)
	for mark, list := range map[string]string{"miappe": dataset.MIAPPEMarkdown(), "trial": dataset.Markdown(dataset.KindTrial), "bench": dataset.Markdown(dataset.KindBench)} {
		head, rest, ok := strings.Cut(want, "<!-- "+mark+" -->\n")
		_, tail, also := strings.Cut(rest, "<!-- end -->")
		if !ok || !also {
			t.Fatalf("docs/data-package.md lacks the marks of %s", mark)
		}
		want = head + "<!-- " + mark + " -->\n" + strings.TrimRight(list, "\n") + "\n<!-- end -->" + tail
	}
	if *update {
		if err := os.WriteFile(name, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if want != string(raw) {
		t.Error("docs/data-package.md is stale: go test ./app/dataset -update")
	}
	page, err := trialbook.Open(demo.Folder(), "light-levels.trial.yaml")
	if err != nil {
		t.Fatal(err)
	}
	beside := strings.Replace(dataset.RLines(page.Trial), `"data/`, `"light-levels/data/`, 1) // the document stands beside the folder, not in it
	if !strings.Contains(want, beside) {
		t.Error("docs/data-package.md does not have the lines for R that packages have")
	}
}

func ask(folder fs.FS) dataset.Ask {
	return dataset.Ask{Folder: folder, Program: dataset.Program{Name: "underlamp", Version: "test"}, Created: time.Date(2026, 11, 26, 10, 0, 0, 0, time.UTC)}
}

func open(t *testing.T, folder fs.FS, plan string) *trialbook.Page {
	t.Helper()
	p, err := trialbook.Open(folder, plan)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// reread is a package as somebody else gets it.
func reread(t *testing.T, p *datapackage.Package) *datapackage.Package {
	t.Helper()
	var b bytes.Buffer
	if err := dataset.Write(&b, p, dataset.FormatPackage, ""); err != nil {
		t.Fatal(err)
	}
	dir, err := datapackage.OpenZip(bytes.NewReader(b.Bytes()), int64(b.Len()))
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
	return got
}

// demoWithBench is the demo's folder with a trial that stands on the middle tier.
func demoWithBench(t *testing.T) (fs.FS, string) {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, demo.Folder()); err != nil {
		t.Fatal(err)
	}
	plan := `underlamp trial: 1
name: Two panels
question: Does the right panel do as well?
bench: tier-2-middle.yaml
table: panels.trial.csv
response: mass
layout: blocks
seed: 18446744073709551557
treatments:
  - {name: left, dli: 12 mol/m²/d, control: yes}
  - {name: right, dli: 14 mol/m²/d}
cycles:
  - {block: one, transplanted: 2026-10-01, harvested: 2026-11-05}
  - {block: two, transplanted: 2026-08-20, harvested: 2026-09-25}
units:
  - {name: U1, treatment: left, block: one, lamp: left panel}
  - {name: U2, treatment: right, block: one, lamp: right panel}
  - {name: U3, treatment: right, block: two, lamp: left panel}
  - {name: U4, treatment: left, block: two, lamp: right panel}
`
	table := "id,time,unit,plant,what,value,missing,by,with,note,corrects,struck\n" +
		"e1,2026-11-05,U1,P1,mass,4.97 oz,,AB,kitchen scale,,,\ne2,2026-11-05,U1,P1,severity,3,,AB,,,,\ne3,2026-11-05T10:00,U2,P1,mass,120.5,,AB,,,,\ne4,2026-09-25,U3,P1,mass,100,,CD,,,,\ne5,,U4,P1,mass,,died,,,,,\ne6,2026-11-06,U2,P1,mass,121.5,,CD,,scale off,e3,\n"
	for name, text := range map[string]string{"panels.trial.yaml": plan, "panels.trial.csv": table} {
		if err := os.WriteFile(dir+"/"+name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return os.DirFS(dir), "panels.trial.yaml"
}

func cell(t *testing.T, p *datapackage.Package, table, column string, row int) any {
	t.Helper()
	tab := p.Table(table)
	if tab == nil {
		t.Fatalf("there is no table %s", table)
	}
	n := 0
	var out any
	err := tab.Rows(func(r []any) error {
		if n++; n == row {
			out = r[tab.At(column)]
		}
		return nil
	})
	if err != nil || n < row {
		t.Fatal(table, column, row, n, err)
	}
	return out
}

func TestTrialOnABench(t *testing.T) {
	folder, plan := demoWithBench(t)
	a := ask(folder)
	about, problems, err := aboutfile.Read(strings.NewReader("underlamp about: 1\nlicence: CC-BY-4.0\npeople: [{name: Ida Example, role: author, affiliation: Example School}]\nsite: {country: NL}\n"))
	if err != nil || about == nil {
		t.Fatal(err, problems)
	}
	a.About = about
	made, err := dataset.OfTrial(t.Context(), a, open(t, folder, plan))
	if err != nil {
		t.Fatal(err)
	}
	p := reread(t, made)
	if p.Made.Seed != "18446744073709551557" || p.Licence.Name != "CC-BY-4.0" || len(p.People) != 1 {
		t.Errorf("%+v", p)
	}
	for _, c := range []struct {
		table, column string
		row           int
		want          any
	}{
		{"observations", "value", 1, 4.97 * 28.349523125}, // ThompsonTaylor2008
		{"observations", "time", 3, "2026-11-05T10:00"}, {"observations", "counts", 3, false}, {"observations", "counts", 6, true}, {"observations", "missing", 5, "died"}, {"observations", "value", 5, nil},
		{"units", "transplanted", 1, tables.Day{Year: 2026, Month: 10, Day: 1}}, {"units", "dli_aimed", 2, 14.0},
		{"treatments", "control", 1, true},
		{"plant_days", "date", 1, nil}, {"plant_days", "mass", 3, 4.97 * 28.349523125}, {"plant_days", "severity", 3, 3.0}, {"plant_days", "day", 3, int64(35)}, {"plant_days", "mass", 4, 121.5},
		{"changes", "event", 1, "transplanting"}, {"changes", "block", 1, "two"},
	} {
		got := cell(t, p, c.table, c.column, c.row)
		x, isNumber := got.(float64)
		if y, ok := c.want.(float64); isNumber && ok && x-y < 1e-9*y && y-x < 1e-9*y {
			continue
		}
		if got != c.want {
			t.Errorf("%s, row %d, %s: %v, want %v", c.table, c.row, c.column, got, c.want)
		}
	}
	if n, err := p.Table("plots").Count(); err != nil || n != 36 { // 18 plants in two cycles
		t.Errorf("%d places, %v", n, err)
	}
	if dli := cell(t, p, "light", "dli_as_set", 1).(float64); !(dli > 5 && dli < 25) {
		t.Errorf("light of a unit: %g", dli)
	}
	for _, f := range []string{"files/panels.trial.yaml", "files/panels.trial.csv", "files/tier-2-middle.yaml", "miappe.xlsx"} {
		if p.File(f) == nil {
			t.Errorf("%s is not in the package", f)
		}
	}
	said := fmt.Sprint(p.Missing)
	for _, want := range []string{"Contact institution", "Experimental site name", "Description of growth facility"} {
		if !strings.Contains(said, want) {
			t.Errorf("%s is not told as missing: %s", want, said)
		}
	}
	for _, not := range []string{"licence", "(country)", "Person name", "Organism"} {
		if strings.Contains(said, not) {
			t.Errorf("%s is told as missing: %s", not, said)
		}
	}
	if !strings.Contains(p.Citation, `- name: "Ida Example"`) || !strings.Contains(p.About, "underlamp trial findings .") {
		t.Errorf("%s\n%s", p.Citation, p.About)
	}
	u, err := dataset.Folder(p)
	if err != nil || len(u.Notes) > 0 {
		t.Fatal(err, u)
	}
	again := open(t, u.Folder, u.Begin)
	was := open(t, folder, plan)
	for i := range was.All {
		was.All[i].Line, again.All[i].Line = 0, 0
	}
	if fmt.Sprint(was.All) != fmt.Sprint(again.All) {
		t.Errorf("%v\n%v", was.All, again.All)
	}
	if _, err := benchfolder.Bench(u.Folder, "tier-2-middle.yaml"); err != nil {
		t.Error(err)
	}
}

// Names of people are left out of tables and files if that is asked, the same person under the
// same number everywhere, and the analysis starts again from what is left. Words are not changed:
// where they may hold a name is said.
func TestNamesAreLeftOut(t *testing.T) {
	folder, plan := demoWithBench(t)
	about, _, err := aboutfile.Read(strings.NewReader("underlamp about: 1\ndescription: weighed by cd on a scale\npeople: [{name: Ida Example, role: author}]\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, whose := range []dataset.Names{dataset.AuthorNames, dataset.NoNames} {
		a := ask(folder)
		a.About, a.Names = about, whose
		made, err := dataset.OfTrial(t.Context(), a, open(t, folder, plan))
		if err != nil {
			t.Fatal(err)
		}
		p := reread(t, made)
		for row, want := range []any{"person 1", "person 1", "person 1", "person 2", nil, "person 2"} {
			if got := cell(t, p, "observations", "by", row+1); got != want {
				t.Errorf("%s: row %d by %v, want %v", whose, row+1, got, want)
			}
		}
		table, err := fs.ReadFile(p.Dir, "files/panels.trial.csv")
		if err != nil || strings.Contains(string(table), "AB") || strings.Contains(string(table), "CD") || strings.Count(string(table), "person 1") != 3 {
			t.Errorf("%s: %v\n%s", whose, err, table)
		}
		u, err := dataset.Folder(p)
		if err != nil || len(u.Notes) > 0 {
			t.Errorf("%s: %v %v", whose, err, u)
		}
		said := fmt.Sprint(p.Missing)
		if !strings.Contains(said, "what is said of the data in about.yaml") || strings.Contains(said, "data/observations.csv") || !strings.Contains(p.About, "person 1 and so on stand for them") {
			t.Errorf("%s: %s", whose, said)
		}
		if named := len(p.People) == 1 && strings.Contains(p.Citation, "Ida Example"); named != (whose == dataset.AuthorNames) {
			t.Errorf("%s: %v %s", whose, p.People, p.Citation)
		}
		if whose == dataset.NoNames && (p.Citation != "" || !strings.Contains(said, "names were left out") || strings.Contains(p.About, "Ida")) {
			t.Errorf("%s\n%s", said, p.Citation)
		}
	}
	if len(about.People) != 1 {
		t.Error("who asked has lost the people")
	}
	// A bench: cycles as they were written, but for who saw it.
	a := ask(demo.Folder())
	a.Names = dataset.AuthorNames
	const bench = "tier-2-middle.yaml"
	b, err := benchfolder.Bench(demo.Folder(), bench)
	if err != nil {
		t.Fatal(err)
	}
	made, err := dataset.OfBench(t.Context(), a, bench, b, nil)
	if err != nil {
		t.Fatal(err)
	}
	p := reread(t, made)
	const cycle = "tier-2-middle.autumn.cycle.yaml"
	got, err := fs.ReadFile(p.Dir, "files/"+cycle)
	if err != nil {
		t.Fatal(err)
	}
	who := cell(t, p, "cycle_observations", "by", 1).(string)
	if want := strings.ReplaceAll(string(demo.File(cycle)), `by: "Ines"`, `by: "`+who+`"`); strings.Contains(string(got), "Ines") || strings.ReplaceAll(string(got), "by: "+who, `by: "`+who+`"`) != want {
		t.Errorf("the cycle is not as it was:\n%s", got)
	}
	if _, err := dataset.ParseNames("some"); err == nil {
		t.Error("some names are taken")
	}
}

// What is said of the data is written into a folder and into a store alike, and never over what
// somebody else wrote.
func TestAboutIsSaved(t *testing.T) {
	db, err := sqlite.Open(t.Context(), t.TempDir()+"/s.db")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for where, place := range map[string]trialbook.Place{"folder": safefolder.New(t.TempDir()), "store": kept.NewPlace(t.Context(), db, time.Now)} {
		if text, err := dataset.AboutText(place); text != nil || err != nil {
			t.Errorf("%s: %q, %v", where, text, err)
		}
		const first, second = "underlamp about: 1\nlicence: CC0-1.0\n", "underlamp about: 1\nlicence: CC-BY-4.0\n"
		if err := dataset.SaveAbout(place, []byte(first), nil); err != nil {
			t.Fatalf("%s: %v", where, err)
		}
		var changed *dataset.AboutChangedError
		if err := dataset.SaveAbout(place, []byte(second), nil); !errors.As(err, &changed) || string(changed.Text) != first {
			t.Errorf("%s: %v", where, err)
		}
		var wrong *dataset.AboutError
		if err := dataset.SaveAbout(place, []byte("underlamp about: 1\nlicence: all mine\n"), []byte(first)); !errors.As(err, &wrong) || !strings.Contains(err.Error(), "no name of a licence") {
			t.Errorf("%s: %v", where, err)
		}
		if err := dataset.SaveAbout(place, []byte(second), []byte(first)); err != nil {
			t.Errorf("%s: %v", where, err)
		}
		if about, err := dataset.AboutOf(place); err != nil || about.Licence != "CC-BY-4.0" {
			t.Errorf("%s: %v, %v", where, about, err)
		}
	}
}

// Without any word about the data nothing is invented.
func TestNothingIsInvented(t *testing.T) {
	made, err := dataset.OfTrial(t.Context(), ask(demo.Folder()), open(t, demo.Folder(), "lamp-colours.trial.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	p := reread(t, made)
	if p.Licence != nil || p.People != nil || p.Citation != "" {
		t.Errorf("%+v", p)
	}
	for _, want := range []string{"A licence", "Who made the data", "The bench", "What sensors read", "Person name"} {
		if !strings.Contains(fmt.Sprint(p.Missing), want) {
			t.Errorf("%q is not told as missing", want)
		}
	}
}

// Sensors of the bench of a trial: hours, days by light and dark, what was changed; readings
// of other days and other benches stay out.
func TestRecordsOfAStore(t *testing.T) {
	folder, plan := demoWithBench(t)
	ctx := context.Background()
	s, err := sqlite.Open(ctx, t.TempDir()+"/s.db")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	id := map[string]int64{}
	for _, x := range []store.Sensor{
		{Key: "mid/ppfd", Bench: "tier-2-middle", Quantity: "PPFD", Unit: "µmol/m²/s"}, {Key: "mid/air", Bench: "tier-2-middle", Quantity: "air temperature", Unit: "°F"},
		{Key: "mid/rh", Bench: "tier-2-middle", Quantity: "humidity", Unit: "%"}, {Key: "top/air", Bench: "tier-1-top", Quantity: "air temperature", Unit: "°C"},
	} {
		n, err := s.PutSensor(ctx, x)
		if err != nil {
			t.Fatal(err)
		}
		id[x.Key] = n
	}
	from := time.Date(2026, 10, 10, 0, 0, 0, 0, time.UTC)
	var all []store.Reading
	for m := 0; m < 2*24*60; m += 5 { // two days, light from 6 to 22
		at := from.Add(time.Duration(m) * time.Minute)
		ppfd, air, rh := 0.0, 64.4, 80.0 // 18 °C
		if h := at.Hour(); h >= 6 && h < 22 {
			ppfd, air, rh = 200, 71.6, 60 // 22 °C
		}
		all = append(all, store.Reading{Sensor: id["mid/ppfd"], At: store.At(at), Value: ppfd}, store.Reading{Sensor: id["mid/air"], At: store.At(at), Value: air}, store.Reading{Sensor: id["mid/rh"], At: store.At(at), Value: rh}, store.Reading{Sensor: id["top/air"], At: store.At(at), Value: 30})
	}
	all = append(all, store.Reading{Sensor: id["mid/air"], At: store.At(from.AddDate(-1, 0, 0)), Value: 50})
	if err := s.Append(ctx, all); err != nil {
		t.Fatal(err)
	}
	for i, hours := range []string{"", "# raised\n"} {
		text, err := fs.ReadFile(folder, "tier-2-middle.yaml")
		if err != nil {
			t.Fatal(err)
		}
		at := store.At(from.AddDate(0, 0, i-1))
		if _, err := s.PutBenches(ctx, []store.Version{{Bench: "tier-2-middle", From: at, Recorded: at, By: "Ida", Why: "tidy", Text: append(text, hours...)}}); err != nil {
			t.Fatal(err)
		}
	}
	a := ask(folder)
	a.Records = &dataset.Records{Store: s, Zone: time.UTC, Raw: true}
	made, err := dataset.OfTrial(ctx, a, open(t, folder, plan))
	if err != nil {
		t.Fatal(err)
	}
	p := reread(t, made)
	for table, want := range map[string]int{"sensors": 3, "sensor_hours": 3 * 48, "sensor_readings": 3 * 576, "environment": 6} {
		if n, err := p.Table(table).Count(); err != nil || n != want {
			t.Errorf("%s has %d rows, want %d, %v", table, n, want, err)
		}
	}
	// 200 µmol/m²/s over 16 h are 11.52 mol/m²/d; 22 °C and 60 % give 1.057 kPa
	// (Allen1998: e_s 2.6434 kPa at 22 °C). A day of pieces of a quarter of an hour is sharp at
	// its ends to some minutes.
	for _, c := range []struct {
		column string
		row    int
		want   float64
		within float64
	}{{"air_temperature", 1, 22, 0.05}, {"humidity", 1, 0.6, 0.002}, {"vpd", 1, 1.057, 0.005}, {"air_temperature", 2, 18, 0.05}, {"dli", 3, 11.52, 0.15}, {"light_hours", 3, 16, 0.3}} {
		x, ok := cell(t, p, "environment", c.column, c.row).(float64)
		if !ok || x < c.want-c.within || x > c.want+c.within {
			t.Errorf("environment, row %d, %s: %v, want %g ± %g", c.row, c.column, x, c.want, c.within)
		}
	}
	if mean := cell(t, p, "sensor_hours", "mean", 1).(float64); mean < 64.4-1e-9 || mean > 64.4+1e-9 {
		t.Errorf("%v", mean)
	}
	var events []string
	_ = p.Table("changes").Rows(func(r []any) error { events = append(events, fmt.Sprint(r[2], " ", r[4], " ", r[5])); return nil })
	if len(events) != 5 || !strings.Contains(strings.Join(events, "\n"), "setting only comments or the way it is written Ida") {
		t.Errorf("%q", events)
	}
}
