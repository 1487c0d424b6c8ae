package cli

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"underlamp"
	"underlamp/app/aswire"
	"underlamp/demo"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// layouts are small trials of every layout, with masses and burn made by chance.
func layouts() []*underlamp.Trial {
	levels := func(n int) (out []underlamp.Treatment) {
		for i := range n {
			out = append(out, underlamp.Treatment{Name: fmt.Sprint(10+4*i, " mol"), DLI: quantity.DLI(10 + 4*i), Control: i == 0})
		}
		return out
	}
	base := func(l underlamp.TrialLayout, n int) *underlamp.Trial {
		return &underlamp.Trial{Name: "Trial, " + string(l), Question: "Does it matter?", Response: underlamp.ResponseMass, Difference: 12, Layout: l, Seed: 18446744073709551557, Treatments: levels(n), Columns: map[string]string{}}
	}
	unit := func(t *underlamp.Trial, treatment int, u underlamp.TrialUnit) {
		u.Name, u.Treatment, u.Plants = fmt.Sprint("U", len(t.Places)+1), t.Treatments[treatment].Name, 4
		t.Places = append(t.Places, u)
	}
	var out []*underlamp.Trial
	for _, l := range []underlamp.TrialLayout{underlamp.CompleteLayout, underlamp.SystematicLayout, underlamp.BlocksLayout} {
		t := base(l, 3)
		for b := range 4 {
			for k := range 3 {
				u := underlamp.TrialUnit{Lamp: fmt.Sprint("lamp ", k+1)}
				if l == underlamp.BlocksLayout {
					u.Block = fmt.Sprint("cycle ", b+1)
				}
				unit(t, k, u)
			}
		}
		out = append(out, t)
	}
	for _, l := range []underlamp.TrialLayout{underlamp.LatinLayout, underlamp.RotationLayout} {
		t := base(l, 3)
		for b := range 3 {
			for k := range 3 {
				unit(t, (b+k)%3, underlamp.TrialUnit{Block: fmt.Sprint("cycle ", b+1), Place: fmt.Sprint("lamp ", k+1)})
			}
		}
		out = append(out, t)
	}
	split := base(underlamp.SplitLayout, 2)
	for b := range 3 {
		for k := range 2 {
			for _, part := range []string{"green", "red"} {
				unit(split, k, underlamp.TrialUnit{Block: fmt.Sprint("cycle ", b+1), Whole: fmt.Sprintf("W%d-%d", b+1, k+1), Part: part})
			}
		}
	}
	incomplete := base(underlamp.IncompleteLayout, 4)
	for b, pair := range [][2]int{{0, 1}, {2, 3}, {0, 2}, {1, 3}, {0, 3}, {1, 2}} {
		for _, k := range pair {
			unit(incomplete, k, underlamp.TrialUnit{Block: fmt.Sprint("cycle ", b+1)})
		}
	}
	augmented := base(underlamp.AugmentedLayout, 8)
	for b := range 3 {
		for _, k := range []int{0, 1, 2 + 2*b, 3 + 2*b} {
			unit(augmented, k, underlamp.TrialUnit{Block: fmt.Sprint("cycle ", b+1)})
		}
	}
	factorial := base(underlamp.BlocksLayout, 0)
	factorial.Name = "Trial, factors"
	factorial.Factors = []underlamp.TrialFactor{{Name: "hours", Unit: "h", Levels: []string{"14", "18"}}, {Name: "cultivar", Levels: []string{"green", "red"}}}
	for _, h := range factorial.Factors[0].Levels {
		for _, c := range factorial.Factors[1].Levels {
			factorial.Treatments = append(factorial.Treatments, underlamp.Treatment{Name: h + " h, " + c, Levels: []string{h, c}})
		}
	}
	for b := range 3 {
		for k := range 4 {
			unit(factorial, k, underlamp.TrialUnit{Block: fmt.Sprint("cycle ", b+1)})
		}
	}
	return append(out, split, incomplete, augmented, factorial)
}

func seenOf(t *underlamp.Trial, seed uint64) (out []underlamp.TrialEntry) {
	r := rand.New(rand.NewPCG(seed, 1))
	add := func(e underlamp.TrialEntry) {
		e.ID = fmt.Sprint("e", len(out)+1)
		out = append(out, e)
	}
	for i, u := range t.Places {
		lamp := 5 * r.NormFloat64()
		for k := range 4 {
			mass := 120 + 3*float64(i%4) + lamp + 10*r.NormFloat64()
			e := underlamp.TrialEntry{Time: "2026-05-01", TrialUnit: u.Name, Plant: fmt.Sprint("P", k+1), By: "AB"}
			e.What, e.Value = underlamp.ResponseMass, mass
			add(e)
			e.What, e.Value = underlamp.ResponseBurn, float64(r.IntN(2))
			add(e)
		}
	}
	out[0].Note = "first, with \"quotes\"\nand a second line"
	add(underlamp.TrialEntry{Time: "2026-05-02T09:30", TrialUnit: t.Places[0].Name, Plant: "P1", What: underlamp.ResponseMass, Value: 131.25, Corrects: "e1", By: "CD", Note: "scale was off"})
	add(underlamp.TrialEntry{Time: "2026-05-01", TrialUnit: t.Places[1].Name, Plant: "P9", What: underlamp.ResponseMass, Missing: "lost"})
	return out
}

// The analysis from a package prints the same as from the files, byte for byte: text with
// workings, JSON, and the page; from the zip file and from the folder; for the trials of the
// demo and for a trial of every layout.
func TestFindingsOfAPackageAreTheSame(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.CopyFS("rack", demo.Folder()); err != nil {
		t.Fatal(err)
	}
	plans := []string{"light-levels.trial.yaml", "lamp-colours.trial.yaml"}
	for i, x := range layouts() {
		name := fmt.Sprintf("layout-%d.trial", i)
		x.Table = name + ".csv"
		if i == 2 { // with what electricity costs on a bench
			x.Bench = "tier-2-middle.yaml"
		}
		var plan, table bytes.Buffer
		if err := trialfile.Write(&plan, x); err != nil {
			t.Fatal(err)
		}
		if err := trialtable.Append(&table, seenOf(x, uint64(i)), true); err != nil {
			t.Fatal(err)
		}
		raw := table.Bytes()
		if i == 1 { // as a spreadsheet of another country leaves it
			raw = bytes.ReplaceAll(bytes.ReplaceAll(raw, []byte(","), []byte(";")), []byte("\n"), []byte("\r\n"))
			raw = append([]byte("\uFEFF"), raw...)
		}
		for file, data := range map[string][]byte{name + ".yaml": plan.Bytes(), name + ".csv": raw} {
			if err := os.WriteFile(filepath.Join("rack", file), data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		plans = append(plans, name+".yaml")
	}
	t.Chdir("rack")
	for _, plan := range plans {
		if testing.Short() && strings.HasPrefix(plan, "lamp") {
			continue // heads that were weighed again and again: growth curves take seconds
		}
		t.Run(plan, func(t *testing.T) {
			base := strings.TrimSuffix(plan, ".yaml")
			packages := []string{base + ".zip"}
			if strings.HasPrefix(plan, "light") {
				packages = append(packages, base+"-folder")
			}
			want := allFindings(t, plan)
			for _, to := range packages {
				mustRun(t, "trial", "package", plan, "-o", to)
				for how, got := range allFindings(t, to) {
					if got != want[how] {
						t.Errorf("%s of %s differs:\n%s", how, to, firstDifference(want[how], got))
					}
				}
			}
		})
	}
	// The command itself, once.
	for _, how := range []string{"--json", "--working"} {
		a := mustRun(t, "trial", "findings", "light-levels.trial.yaml", how)
		b := mustRun(t, "trial", "findings", "light-levels.trial.zip", how)
		if a, b = withoutHint(a), withoutHint(b); a != b {
			t.Error(firstDifference(a, b))
		}
	}
}

// allFindings is what the command prints of a trial, in every way, worked out once.
func allFindings(t *testing.T, name string) map[string]string {
	t.Helper()
	var errs bytes.Buffer
	w := World{Out: &bytes.Buffer{}, Err: &errs}
	place, p, err := openTrial(w, name)
	if err != nil {
		t.Fatal(err, errs.String())
	}
	f, err := p.Findings(context.Background(), place, nil)
	if err != nil {
		t.Fatal(err)
	}
	var text, data bytes.Buffer
	w.Out = &text
	printFindings(w, f, true)
	w.Out = &data
	if err := writeJSON(w, aswire.TrialFindings(f)); err != nil {
		t.Fatal(err)
	}
	return map[string]string{"text": text.String(), "JSON": data.String(), "page": string((&report.TrialDocument{Head: report.Head{Written: "2026-11-26"}, Findings: f}).HTML()), "notes": errs.String()}
}

// withoutHint leaves out the last paragraph, which says what the person typed.
func withoutHint(s string) string {
	head, _, _ := strings.Cut(s, "The outlook can learn from it:")
	return head
}

func firstDifference(a, b string) string {
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	return fmt.Sprintf("want …%q\ngot  …%q", a[max(0, i-60):min(len(a), i+120)], b[max(0, i-60):min(len(b), i+120)])
}

func mustRun(t *testing.T, args ...string) string {
	t.Helper()
	out, errs, code := runWithStore(args...)
	if code != 0 {
		t.Fatalf("%v ends with %d: %s%s", args, code, out, errs)
	}
	return out
}

func runWithStore(args ...string) (string, string, int) {
	var out, errs bytes.Buffer
	w := World{Out: &out, Err: &errs, OpenStore: func(ctx context.Context, address string) (store.Store, error) { return sqlite.Open(ctx, address) }}
	code := Run(context.Background(), w, args)
	return out.String(), errs.String(), code
}

// What is changed in a package, or wrong, is told.
func TestPackagesThatWereChanged(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.CopyFS("rack", demo.Folder()); err != nil {
		t.Fatal(err)
	}
	mustRun(t, "trial", "package", "rack/light-levels.trial.yaml", "-o", "p")
	table := filepath.Join("p", "data", "observations.csv")
	raw, err := os.ReadFile(table)
	if err != nil {
		t.Fatal(err)
	}
	write := func(text string) {
		if err := os.WriteFile(table, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	lines := strings.SplitAfter(string(raw), "\n")
	cells := strings.Split(lines[1], ",")
	cells[6] = "99.5"
	write(lines[0] + strings.Join(cells, ",") + strings.Join(lines[2:], ""))
	_, errs, code := runWithStore("trial", "findings", "p")
	if code != 0 || !strings.Contains(errs, "it was changed after it was packed") || !strings.Contains(errs, "what stands in data/ counts") {
		t.Errorf("%d: %s", code, errs)
	}
	cells[6] = "heavy"
	write(lines[0] + strings.Join(cells, ",") + strings.Join(lines[2:], ""))
	_, errs, code = runWithStore("trial", "findings", "p")
	if code != 2 || !strings.Contains(errs, `data/observations.csv, line 2, column "value": "heavy" is no number`) {
		t.Errorf("%d: %s", code, errs)
	}
	if _, errs, code := runWithStore("trial", "record", "p", "--unit", "C1-L1", "--plant", "P1", "--what", "leaves", "--value", "3", "--time", "2026-04-28"); code != 2 || !strings.Contains(errs, "line 2") {
		t.Errorf("%d: %s", code, errs)
	}
	write(string(raw))
	if _, errs, code := runWithStore("trial", "record", "p", "--unit", "C1-L1", "--plant", "P1", "--what", "leaves", "--value", "3", "--time", "2026-04-28"); code != 2 || !strings.Contains(errs, "read only") {
		t.Errorf("%d: %s", code, errs)
	}
}

// Every way of saying it wrong is answered by what to do.
func TestPackageIsAskedWrongly(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.CopyFS("rack", demo.Folder()); err != nil {
		t.Fatal(err)
	}
	trial := []string{"trial", "package", "rack/light-levels.trial.yaml"}
	if err := os.WriteFile("about.yaml", []byte("underlamp about: 1\nlicence: all mine\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		more []string
		want string
	}{
		{nil, "say where to write"}, {[]string{"-o", "x.csv"}, "is one table: say which"}, {[]string{"-o", "x.zip", "--format", "pdf"}, "there are package, xlsx"},
		{[]string{"-o", "x.csv", "--table", "nothing"}, `there is no table "nothing"; there are treatments, units`}, {[]string{"-o", "rack"}, "is there already; name a new folder"},
		{[]string{"-o", "x.zip", "--about", "about.yaml"}, "no name of a licence"}, {[]string{"-o", "x.zip", "--records", "none.db"}, "the store cannot be opened"},
		{[]string{"-o", "x.zip", "--names", "some"}, "--names: \"some\" is none of all, authors and none"},
	} {
		_, errs, code := runWithStore(append(trial, c.more...)...)
		if code != 2 || !strings.Contains(errs, c.want) {
			t.Errorf("%v: %d, %s, want %q", c.more, code, errs, c.want)
		}
	}
	if left, _ := filepath.Glob("x*"); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// A bench with rounds, from a folder and from a store.
func TestBenchPackage(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.CopyFS("rack", demo.Folder()); err != nil {
		t.Fatal(err)
	}
	mustRun(t, "benches", "import", "rack", "--store", "s.db")
	mustRun(t, "rounds", "import", "rack/tier-2-middle.yaml", "rack/tier-2-middle.seen.json", "--store", "s.db")
	mustRun(t, "benches", "package", "tier-2-middle", "--store", "s.db", "-o", "store.json")
	mustRun(t, "benches", "package", "rack/tier-2-middle.yaml", "--records", "s.db", "-o", "folder.json", "--licence", "CC0-1.0")
	tablesIn := func(name string) map[string]int {
		var doc struct {
			Licences  []map[string]string `json:"licenses"`
			Resources []struct {
				Name string
				Data []any
			}
		}
		raw, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(raw, &doc); err != nil {
			t.Fatal(err)
		}
		out := map[string]int{"licences": len(doc.Licences)}
		for _, r := range doc.Resources {
			out[r.Name] = len(r.Data)
		}
		return out
	}
	a, b := tablesIn("store.json"), tablesIn("folder.json")
	if a["licences"] != 0 || b["licences"] != 1 {
		t.Errorf("licences: %d and %d", a["licences"], b["licences"])
	}
	delete(a, "licences")
	delete(b, "licences")
	if fmt.Sprint(a) != fmt.Sprint(b) || a["rounds"] < 50 || a["plants"] == 0 || a["cycle_observations"] == 0 {
		t.Errorf("%v, %v", a, b)
	}
	// The rounds come back, into a store that a look does not make.
	mustRun(t, "benches", "package", "rack/tier-2-middle.yaml", "--records", "s.db", "-o", "whole.zip")
	if err := os.Mkdir("back", 0o755); err != nil {
		t.Fatal(err)
	}
	if out := mustRun(t, "import", "whole.zip", "--into", "back", "--store", "back/b.db"); !strings.Contains(out, fmt.Sprintf("rounds: %d new, 0 there", a["rounds"])) {
		t.Errorf("%s", out)
	}
	if left, _ := os.ReadDir("back"); len(left) > 0 {
		t.Errorf("a look has made %v", left)
	}
	mustRun(t, "import", "whole.zip", "--into", "back", "--store", "back/b.db", "--yes")
	listed := func(bench, store string) string { // without the ids, which are those of the import
		var rows []string
		table := csv.NewReader(strings.NewReader(mustRun(t, "rounds", "export", bench, "--store", store, "--zone", "UTC")))
		for {
			row, err := table.Read()
			if err != nil {
				return strings.Join(rows, "\n")
			}
			if row[10] != "" {
				row[10] = "another entry"
			}
			rows = append(rows, fmt.Sprintf("%q", row[1:]))
		}
	}
	if was, is := listed("rack/tier-2-middle.yaml", "s.db"), listed("back/tier-2-middle.yaml", "back/b.db"); was != is || len(was) < 1000 {
		t.Errorf("the list of the rounds was\n%s\nand is\n%s", was, is)
	}
	if _, errs, code := runWithStore("trial", "findings", "store.json"); code != 2 {
		t.Errorf("%d: %s", code, errs)
	}
	mustRun(t, "benches", "package", "rack/tier-2-middle.yaml", "-o", "bench.zip")
	if _, errs, code := runWithStore("trial", "findings", "bench.zip"); code != 2 || !strings.Contains(errs, "the package of a bench") {
		t.Errorf("%d: %s", code, errs)
	}
}
