package trialfile_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"underlamp"
	"underlamp/demo"
	"underlamp/formats/trialfile"
	"underlamp/science/quantity"
)

// What is written is read back alike.
func TestRoundTrip(t *testing.T) {
	first, problems, err := trialfile.Read(bytes.NewReader(demo.File("light-levels.trial.yaml")))
	if err != nil || len(problems) > 0 {
		t.Fatal(problems, err)
	}
	first.Columns["Lamp code"] = "unit"
	mass := underlamp.Given[quantity.Gram]{Value: 1.25, Origin: underlamp.Measured, Note: "mean of ten"}
	first.Cycles[0].StartMass = &mass
	first.Cycles[1].StartMass = &underlamp.Given[quantity.Gram]{Value: 1.5, Origin: underlamp.Stated}
	first.Cycles[3].Harvested = ""
	first.TargetMass = underlamp.Said(quantity.Gram(137.5))
	var b bytes.Buffer
	if err := trialfile.Write(&b, first); err != nil {
		t.Fatal(err)
	}
	again, problems, err := trialfile.Read(&b)
	if err != nil || len(problems) > 0 {
		t.Fatal(problems, err)
	}
	for _, x := range []*underlamp.Trial{first, again} {
		for i := range x.Places {
			x.Places[i].Line = 0
		}
		for i := range x.Cycles {
			x.Cycles[i].Line = 0
		}
	}
	if d := cmp.Diff(first, again); d != "" {
		t.Error(d)
	}
}

// Mistakes are told with their place, all in one run.
func TestMistakes(t *testing.T) {
	const text = `underlamp trial: 1
response: mass
layout: blocks
seed: -3
treatments:
  - {name: dim, control: yes}
  - {name: bright, control: yes}
cycles:
  - {block: one, transplanted: 2026-03-01, harvested: 2026-02-01}
  - {block: one, transplanted: 2026-02-30}
  - {block: ome}
units:
  - {name: A, treatment: dimm, block: one}
  - {name: A, treatment: bright}
lampz: 3
`
	got, problems, err := trialfile.Read(strings.NewReader(text))
	if err != nil || got != nil {
		t.Fatal(got, err)
	}
	all := problems.Error()
	for _, want := range []string{`"-3" is no seed`, "another control", `no treatment is called "dimm"`, "called \"A\" too", "the block of the unit", "lampz", "does not follow transplanting", "has its days in line", `no unit is of the block "ome"`, "the day of transplanting"} {
		if !strings.Contains(all, want) {
			t.Errorf("nothing says %q in\n%s", want, all)
		}
	}
	for _, p := range problems {
		if p.Line == 0 || p.Column == 0 {
			t.Errorf("no place: %v", p)
		}
	}
}

const factorial = `underlamp trial: 1
response: mass
difference: 15 g
layout: incomplete blocks
seed: 7
factors:
  - {name: light, unit: mol/m²/d, levels: [12, 15]}
  - {name: cultivar, levels: [green, "red"]}
treatments:
  - {name: a, dli: 12 mol/m²/d, levels: [12, green]}
  - {name: b, dli: 12 mol/m²/d, levels: [12, red]}
  - {name: c, dli: 15 mol/m²/d, levels: [15, green], control: yes}
units:
  - {name: C1-L1, treatment: a, block: cycle 01}
  - {name: C1-L2, treatment: b, block: cycle 01}
  - {name: C2-L1, treatment: c, block: cycle 02}
`

// Factors and their levels are read and written back alike.
func TestFactors(t *testing.T) {
	first, problems, err := trialfile.Read(strings.NewReader(factorial))
	if err != nil || first == nil {
		t.Fatal(problems, err)
	}
	if len(first.Factors) != 2 || first.Factors[0].Unit != "mol/m²/d" || first.Treatments[2].Levels[0] != "15" || first.Treatments[2].Levels[1] != "green" {
		t.Fatalf("%+v %+v", first.Factors, first.Treatments)
	}
	var b bytes.Buffer
	if err := trialfile.Write(&b, first); err != nil {
		t.Fatal(err)
	}
	again, problems, err := trialfile.Read(&b)
	if err != nil || len(problems) > 0 {
		t.Fatal(problems, err)
	}
	for _, x := range []*underlamp.Trial{first, again} {
		for i := range x.Places {
			x.Places[i].Line = 0
		}
	}
	if d := cmp.Diff(first, again); d != "" {
		t.Error(d)
	}
}

// What is wrong with factors, and what a layout needs, is told with its place.
func TestFactorMistakes(t *testing.T) {
	for from, wants := range map[[2]string]string{
		{"levels: [12, 15]", "levels: [12]"}:              "fewer than two levels",
		{"levels: [12, 15]", "levels: [12, 12]"}:          "stands twice",
		{"{name: cultivar,", "{name: light,"}:             `another factor "light"`,
		{"levels: [12, green]", "levels: [12]"}:           "there are 1 levels and 2 factors",
		{"levels: [12, green]", "levels: [13, green]"}:    `"13" is no level of light`,
		{"levels: [12, red]", "levels: [12, green]"}:      "has the same levels",
		{", levels: [12, red]", ""}:                       "the levels of the treatment",
		{"treatment: a, block: cycle 01", "treatment: a"}: "the block of the unit",
	} {
		text := strings.Replace(factorial, from[0], from[1], 1)
		got, problems, err := trialfile.Read(strings.NewReader(text))
		if err != nil || got != nil || !strings.Contains(problems.Error(), wants) {
			t.Errorf("%q for %q: nothing says %q in\n%v %v", from[1], from[0], wants, problems, err)
		}
		for _, p := range problems {
			if p.Line == 0 {
				t.Errorf("no place: %v", p)
			}
		}
	}
	for _, l := range []string{"augmented", "rotation"} {
		text := strings.Replace(strings.Replace(factorial, "incomplete blocks", l, 1), ", block: cycle 02", "", 1)
		if got, problems, _ := trialfile.Read(strings.NewReader(text)); got != nil || !problems.HasErrors() {
			t.Errorf("%s without a block: %v", l, problems)
		}
	}
}

// One lamp has one crop at a time: blocks that overlap under it are doubted, not refused.
func TestOverlap(t *testing.T) {
	text := strings.Replace(string(demo.File("light-levels.trial.yaml")), "2026-04-30", "2026-04-20", 1)
	got, problems, err := trialfile.Read(strings.NewReader(text))
	if err != nil || got == nil || len(problems) != 1 || !strings.Contains(problems[0].Message, `"cycle 01" and "cycle 02" overlap`) {
		t.Errorf("%v %v %v", got != nil, problems, err)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(factorial))
	f.Add(demo.File("light-levels.trial.yaml"))
	f.Add([]byte("underlamp trial: 1\ntreatments: [{name: a}]\nunits: {a: b}\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		got, problems, err := trialfile.Read(bytes.NewReader(text))
		if err == nil && (got == nil) != problems.HasErrors() {
			t.Fatalf("trial %v, problems %v", got, problems)
		}
		if got == nil {
			return
		}
		var b bytes.Buffer
		if err := trialfile.Write(&b, got); err != nil {
			t.Fatal(err)
		}
	})
}
