package validation_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"underlamp/formats/evidencefile"
	"underlamp/science/calibration"
	"underlamp/science/headcycle"
	"underlamp/science/reference"
	"underlamp/science/validation"
)

var write = flag.Bool("write", false, "write docs/validation.md")

var all = sync.OnceValue(func() []validation.Check { return validation.All(evidencefile.Builtin()) })

// What other code computed from the same equations leaves no room for opinion.
func TestIndependentComputationsHold(t *testing.T) {
	t.Parallel()
	n := 0
	for _, c := range all() {
		if c.Purpose != validation.Independent {
			continue
		}
		n++
		if !c.Held {
			t.Errorf("%s, %s: %g, want %g to %g %s", c.Area, c.Name, c.Got, c.Low, c.High, c.Unit)
		}
	}
	if n < 60 {
		t.Errorf("%d independent computations, want at least 60", n)
	}
}

// Physics against printed tables must hold as well, but for what is known and
// explained beside it in the document.
func TestPrintedPhysicsHolds(t *testing.T) {
	t.Parallel()
	known := map[string]bool{
		"example 1: humidity ratio from a wet bulb": true, // another wet bulb
		"water for each kg of head, 250 µmol":       true, // of the plant model, not of the physics
		"set A: latent heat of a stand in the dark": true, // a misprint of the paper
	}
	for _, c := range all() {
		switch c.Area {
		case "quantities", "air", "leaf", "light", "photometry", "spectrum", "aim", "learning", "statistics":
			if !c.Held && !known[c.Name] {
				t.Errorf("%s: %g, want %g to %g %s", c.Name, c.Got, c.Low, c.High, c.Unit)
			}
		}
	}
}

// Every case of the two tables is in the report, with the purpose that the table
// gives it, and no row stands twice. Verdicts on trials are printed, not tested.
func TestEveryCaseIsReported(t *testing.T) {
	t.Parallel()
	use := map[string]string{}
	for _, name := range []string{"growth_cases", "tipburn_cases"} {
		table := reference.MustLoad(name)
		for i := range table.Rows {
			use[table.Text(i, "case")] = table.Text(i, "use")
		}
	}
	seen, names := map[string]bool{}, map[string]bool{}
	for _, c := range all() {
		if names[c.Area+c.Name] {
			t.Errorf("%s: %q stands twice", c.Area, c.Name)
		}
		names[c.Area+c.Name] = true
		if _, ok := reference.Cite(c.Source); !ok && c.Purpose != validation.Practice && (c.Source != "" || c.Note == "") {
			t.Errorf("%q: source %q is not in the bibliography", c.Name, c.Source)
		}
		want, ok := use[c.Case()]
		if !ok {
			if (c.Area == "growth" && !strings.HasPrefix(c.Name, "leaf area of")) || c.Area == "tipburn" && c.Purpose != validation.Practice {
				t.Errorf("%q is no case of the tables", c.Name)
			}
			continue
		}
		seen[c.Case()] = true
		if c.Purpose != want {
			t.Errorf("%q has the purpose %q, the table says %q", c.Name, c.Purpose, want)
		}
	}
	for name := range use {
		if !seen[name] {
			t.Errorf("case %s is not reported", name)
		}
	}
}

// The published figures in the growth rows are those of the table.
func TestGrowthTargetsAreThoseOfTheTable(t *testing.T) {
	t.Parallel()
	table := reference.MustLoad("growth_cases")
	for _, c := range validation.Growth() {
		for i := range table.Rows {
			if table.Text(i, "case") == c.Case() && table.Text(i, "kind") != "relation" && c.Kind == validation.Value && table.Float(i, "value") != c.Expected {
				t.Errorf("%s: %g, the table has %g", c.Name, c.Expected, table.Float(i, "value"))
			}
		}
	}
}

func TestCalibratedRowsAreNotCounted(t *testing.T) {
	t.Parallel()
	held, counted := validation.Summary([]validation.Check{
		{Purpose: validation.Calibrated, Held: true}, {Purpose: validation.Published, Held: true}, {Purpose: validation.Practice},
	})
	if held != 1 || counted != 2 {
		t.Errorf("%d of %d, want 1 of 2", held, counted)
	}
}

// The orders that the package comment of calcium promises, in the crowd that the
// tool forecasts with; the trials are named there. That calcium of the feed
// hardly helps is T17, which is printed and not promised here.
func TestPromisedOrders(t *testing.T) {
	t.Parallel()
	plants := calibration.Plants(headcycle.Lettuce())
	watch := func(move func(*calibration.Experiment)) calibration.Crowd {
		return calibration.ErtleKubota().With(move).Watch(plants)
	}
	base := watch(func(*calibration.Experiment) {})
	for _, c := range []struct {
		what string
		more bool
		move func(*calibration.Experiment)
	}{
		{"less light", false, func(x *calibration.Experiment) { x.PPFD *= 0.6 }},
		{"more light", true, func(x *calibration.Experiment) { x.PPFD *= 1.5 }},
		{"more CO2", true, func(x *calibration.Experiment) { x.CO2 = 1200 }},
		{"moist nights", false, func(x *calibration.Experiment) { x.NightRH = 0.96 }},
		{"dry days", false, func(x *calibration.Experiment) { x.DayRH = 0.6 }},
		{"humid days", true, func(x *calibration.Experiment) { x.DayRH = 0.95 }},
		{"air onto the heart", false, func(x *calibration.Experiment) { x.Aim, x.Speed = "down", 0.5 }},
	} {
		got := watch(c.move)
		if c.more != (got.Leaves > base.Leaves) || got.Leaves == base.Leaves {
			t.Errorf("%s: %.1f %% of leaves burn, %.1f %% without", c.what, 100*got.Leaves, 100*base.Leaves)
		}
	}
	// Not in the 85 % humidity of that chamber, which Frantz2004 did not have.
	none := calibration.Usual().With(func(x *calibration.Experiment) { x.PPFD, x.Aim, x.Speed = 1000, "down", 1 }).Watch(plants)
	if none.Chance > 0.05 {
		t.Errorf("air onto the heart at 57.6 mol leaves %.0f %% of plants with burn", 100*none.Chance)
	}
}

// docs/validation.md is what the program writes. To write it anew:
//
//	go test ./science/validation -run TestDocument -write
func TestDocument(t *testing.T) {
	if testing.Short() {
		t.Skip("the fits take some seconds")
	}
	t.Parallel()
	var first bytes.Buffer
	if err := validation.Markdown(&first, all()); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join("..", "..", "docs", "validation.md")
	if *write {
		if err := os.WriteFile(path, first.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, must := range []string{"do not hold", "DOES NOT HOLD", "VanHenten1994", "CloseMass", "Read: "} {
		if !strings.Contains(first.String(), must) {
			t.Errorf("the document lacks %q", must)
		}
	}
	have, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(have, first.Bytes()) {
		t.Error("docs/validation.md is stale; run: go test ./science/validation -run TestDocument -write")
	}
}
