package posterior_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/posterior"
)

func readCSV(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func numbers(t *testing.T, fields []string) []float64 {
	t.Helper()
	out := make([]float64, len(fields))
	for i, s := range fields {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = v
	}
	return out
}

// R 4.2.2, package posterior 1.4.0 (Debian r-cran-posterior), on the same chains:
// testdata/diagnose.R. It prints 12 digits.
func TestDiagnosticsAgreeWithR(t *testing.T) {
	t.Parallel()
	chains := map[string][][]float64{}
	for _, row := range readCSV(t, "testdata/chains.csv")[1:] {
		chains[row[0]] = append(chains[row[0]], numbers(t, strings.Fields(row[2])))
	}
	expected := readCSV(t, "testdata/expected.csv")
	if len(expected) != 11 {
		t.Fatalf("%d rows expected, want 10 and a head", len(expected))
	}
	for _, row := range expected[1:] {
		x := chains[row[0]]
		got := []float64{
			posterior.RHat(x), posterior.BulkESS(x), posterior.TailESS(x), posterior.QuantileESS(x, 0.1),
			posterior.MeanMCSE(x), posterior.QuantileMCSE(x, 0.1), posterior.QuantileMCSE(x, 0.5),
		}
		for i, want := range numbers(t, row[1:]) {
			if math.Abs(got[i]-want) > 1e-9*math.Abs(want) {
				t.Errorf("%s: %s = %.12g, R has %.12g", row[0], expected[0][i+1], got[i], want)
			}
		}
	}
}

// Ranks do not change under a rising transformation, so neither do R-hat and the bulk
// sample size by ranks; folding does.
func TestRanksOnly(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		chains := rapid.SliceOfN(rapid.SliceOfN(rapid.Float64Range(-5, 5), 20, 20), 2, 4).Draw(t, "chains")
		stretched := make([][]float64, len(chains))
		for c := range chains {
			for _, v := range chains[c] {
				stretched[c] = append(stretched[c], v*v*v+10*v)
			}
		}
		a, b := posterior.BulkESS(chains), posterior.BulkESS(stretched)
		if math.IsNaN(a) != math.IsNaN(b) || math.Abs(a-b) > 1e-9*math.Abs(a) {
			t.Fatalf("bulk ESS %g became %g", a, b)
		}
	})
}

func TestNothingToDiagnose(t *testing.T) {
	t.Parallel()
	for name, chains := range map[string][][]float64{
		"no chain": nil, "eleven draws": {{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}}, "all equal": {make([]float64, 20), make([]float64, 20)},
		"not a number": {{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, math.NaN()}}, "infinite": {{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, math.Inf(1)}},
	} {
		if got := []float64{posterior.RHat(chains), posterior.BulkESS(chains), posterior.TailESS(chains), posterior.MeanMCSE(chains), posterior.QuantileMCSE(chains, 0.5)}; !allNaN(got) {
			t.Errorf("%s: %v, want NaN", name, got)
		}
	}
}

func allNaN(x []float64) bool {
	for _, v := range x {
		if !math.IsNaN(v) {
			return false
		}
	}
	return true
}
