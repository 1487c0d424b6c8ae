package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What a stranger typed, and what the program says to it.
func TestStumbles(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	bench := at("tent.yaml")
	if code, _, errs := run(t, "100 x 100 x 180 cm\n4 lamps, 65 W, 50 cm\n16 lettuce\n", "new", "-o", bench); code != 0 {
		t.Fatal(errs)
	}
	if b, err := os.ReadFile(bench); err != nil || !strings.Contains(string(b), "# type: butterhead   # default") {
		t.Errorf("a type that nobody gave is written as if somebody had: %v", err)
	}
	feedFile := at("my.feed.yaml")
	if code, _, errs := run(t, "", "feed", "new", "-o", feedFile); code != 0 {
		t.Fatal(errs)
	}
	if _, out, errs := run(t, "", "feed", "mix", feedFile); errs != "" || strings.Contains(out, "% off") {
		t.Errorf("the first feed file misses its own recipe: %s%s", out, errs)
	}
	refuses(t, "not .docx", "report", bench, "-o", at("tent.docx"))
	refuses(t, "more than the tank of the file holds", "feed", "correct", feedFile, "--volume", "7000 L", "--ec", "1.9 mS/cm")
	refuses(t, "--ph", "feed", "correct", feedFile, "--volume", "70 L", "--ph", "66")
	refuses(t, "white, ", "trouble", bench, "--symptom", "slow", "--answer", "roots=blue")
	refuses(t, "there are ", "trouble", bench, "--symptom", "slow", "--answer", "foo=blue")
	refuses(t, "inner-burn", "trouble", bench, "--outcome", "nope", "--cause", "bla")
	refuses(t, "--hours", "trial", "design", "--level", "200 µmol/m²/s", "--level", "250 µmol/m²/s", "--lamps", "4", "--difference", "20 g")
	if _, out, errs := run(t, "", "trial", "design", "--level", "200 µmol/m²/s", "--level", "250 µmol/m²/s", "--hours", "16 h", "--lamps", "4", "--cycles", "3", "--difference", "20 g"); !strings.Contains(out, "14.4 mol") {
		t.Errorf("levels as PPFD: %s%s", out, errs)
	}
	if _, _, errs := run(t, "", "trial", "design", "--level", "10", "--level", "1000", "--lamps", "4", "--difference", "20 g"); strings.Contains(errs, "at least two") {
		t.Errorf("two were given, one of them wrong: %s", errs)
	}
	if _, _, errs := run(t, "", "watch", strings.TrimSuffix(bench, ".yaml"), "--store", at("s.db")); errs == "" {
		t.Error("a store that is not there is no error")
	}
	refuses(t, "write 65 %", "air", "--temperature", "24 °C", "--humidity", "65")
	plan := at("two.trial.yaml")
	if code, _, errs := run(t, "", "trial", "design", "--level", "10", "--level", "14", "--lamps", "4", "--cycles", "3", "--difference", "20 g", "-o", plan); code != 0 {
		t.Fatal(errs)
	}
	refuses(t, "no package as .docx", "trial", "package", plan, "-o", at("two.docx"))
	record := []string{"trial", "record", plan, "--unit", "C1-L1", "--plant", "P1", "--date", "2026-04-28", "--what"}
	refuses(t, "--date: ", "trial", "record", plan, "--unit", "C1-L1", "--plant", "P1", "--what", "mass", "--value", "141 g", "--date", "28.4.2026")
	refuses(t, "--strike: ", "trial", "record", plan, "--strike", "e77")
	refuses(t, "yes or no", append(record, "burn", "--value", "maybe")...)
	refuses(t, "that is mass, ", append(record, "weight", "--value", "141 g")...)
	refuses(t, "and 4 more", "trial", "record", plan, "--unit", "C9-L9", "--plant", "P1", "--date", "2026-04-28", "--what", "mass", "--value", "141 g")
	refuses(t, "--dli", "aim", bench, "--target", "15 mol/m²/d")

	for name, c := range map[string]struct{ in, says string }{
		"the input ends after a wrong answer": {"100 x 100 x 180 cm\n4, 65 W, 50 cm\n16 cabbage\n", "question 3"},
		"a lamp above the ceiling":            {"100 x 100 x 40 cm\n4, 65 W, 50 cm\n", "over the planting surface"},
		"a slip in the type":                  {"100 x 100 x 180 cm\n4, 65 W, 50 cm\n16 romain\n", `did you mean "romaine"`},
	} {
		file := at(strings.ReplaceAll(name, " ", "-") + ".yaml")
		if code, _, errs := run(t, c.in, "new", "-o", file); code != 2 || !strings.Contains(errs, c.says) {
			t.Errorf("%s: code %d, %s", name, code, errs)
		}
		if _, err := os.Stat(file); err == nil {
			t.Errorf("%s: a file was written", name)
		}
	}
}
