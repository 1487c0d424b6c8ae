package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// Readings of light go into the bench file and out again, and a look writes nothing.
func TestImportReadings(t *testing.T) {
	dir := t.TempDir()
	bench := filepath.Join(dir, "shelf.yaml")
	text := "underlamp: 1\nname: Shelf\nspace: {width: 90 cm, depth: 60 cm, height: 45 cm}\nlamps:\n  - {name: A, at: [45 cm, 30 cm], height: 34 cm, flux: 80 µmol/s, watts: 35 W, hours: 16 h}\nplants: {grid: {columns: 3, rows: 2, margin: 15 cm}}\ncrop: {species: lettuce, transplanted: 2026-09-01}\n"
	sheet := filepath.Join(dir, "light.csv")
	for name, s := range map[string]string{bench: text, sheet: "Punkt;x (cm);y (cm);PPFD\na;15;15;160,5\nb;45;30;heller\n"} {
		if err := os.WriteFile(name, []byte(s), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	is := func() string {
		raw, err := os.ReadFile(bench)
		if err != nil {
			t.Fatal(err)
		}
		return string(raw)
	}
	code, out, errs := run(t, "", "import", sheet, "--into", bench, "--height", "5 cm")
	if code != exitDone || !strings.Contains(out, "1 new") || !strings.Contains(out, "line 3, column 4: “heller”") || is() != text {
		t.Fatalf("%d %s %s", code, out, errs)
	}
	if code, out, _ := run(t, "", "import", sheet, "--into", bench, "--height", "5 cm", "--yes"); code != exitWrong || is() != text {
		t.Fatalf("a cell that cannot be read is passed over: %d %s", code, out)
	}
	code, out, errs = run(t, "", "import", sheet, "--into", bench, "--height", "5 cm", "--yes", "--skip")
	id := regexp.MustCompile(`im[0-9a-f]{10}`).FindString(out)
	if code != exitDone || id == "" || !strings.Contains(is(), "ppfd: 160.5 µmol/m²/s") {
		t.Fatalf("%d %s %s\n%s", code, out, errs, is())
	}
	if code, out, _ := run(t, "", "import", "list", dir); code != exitDone || !strings.Contains(out, id) || !strings.Contains(out, "light.csv") {
		t.Errorf("%d %s", code, out)
	}
	if code, out, errs := run(t, "", "import", "undo", id, dir); code != exitDone || strings.Contains(is(), "160.5") {
		t.Errorf("%d %s %s\n%s", code, out, errs, is())
	}
	for _, args := range [][]string{{"import", sheet}, {"import", sheet, "--into", filepath.Join(dir, "none.yaml")}, {"import", sheet, "--into", bench, "--first", "year"}, {"import", sheet, "--into", bench, "--column", "x"}, {"import", "undo", "im0", dir}} {
		if code, out, errs := run(t, "", args...); code != exitWrong || errs == "" {
			t.Errorf("%v: %d %s %s", args, code, out, errs)
		}
	}
}
