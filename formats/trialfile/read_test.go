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

func FuzzRead(f *testing.F) {
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
