package lamp_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"underlamp/app/lamp"
	"underlamp/app/light"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
)

func kinds(t *testing.T, source string) []lamp.Kind {
	t.Helper()
	b, problems, err := benchfile.ReadWith(strings.NewReader(source), benchfolder.Files(demo.Folder()))
	if err != nil || problems.HasErrors() {
		t.Fatalf("%v %v", err, problems)
	}
	m, err := light.NewModel(b)
	if err != nil {
		t.Fatal(err)
	}
	return lamp.Kinds(m, 180)
}

// Lamps of one kind are shown once; power and label are those of the bench, age
// takes its share of the light.
func TestKinds(t *testing.T) {
	const bench = `
underlamp: 1
space: {width: 1 m, depth: 60 cm, height: 60 cm}
lamps:
  - {kind: bar, at: [30 cm, 30 cm], height: 40 cm, opening: {width: 50 cm, depth: 4 cm}, flux: 100 µmol/s, watts: 40 W, beam: 100°, ageing: 90 %}
  - {kind: bar, at: [70 cm, 30 cm], height: 40 cm, opening: {width: 50 cm, depth: 4 cm}, flux: 100 µmol/s, watts: 40 W, beam: 100°, ageing: 90 %}
  - {kind: ring, at: [50 cm, 30 cm], height: 50 cm, opening: {diameter: 20 cm, inner diameter: 12 cm}, flux: 30 µmol/s, watts: 12 W}
plants: {at: [[50 cm, 30 cm]]}
`
	ks := kinds(t, bench)
	if len(ks) != 2 || ks[0].Name != "bar" || ks[1].Name != "ring" {
		t.Fatalf("%d kinds: %+v", len(ks), ks)
	}
	figure := func(k lamp.Kind, i int, want float64) {
		t.Helper()
		if f := k.Figures[i]; math.Abs(f.Value-want) > 1e-6*want {
			t.Errorf("%s of %s: %g, want %g", f.Name, k.Name, f.Value, want)
		}
	}
	figure(ks[0], 0, 90)   // 100 µmol/s, 90 % left
	figure(ks[0], 1, 40)   // W
	figure(ks[0], 2, 2.25) // 90/40
	figure(ks[0], 3, 100)  // °
	if b := ks[0].Figures[0].Band; b == nil || !(b.Low < 90 && b.High > 90) {
		t.Errorf("band %v around 90", b)
	}
	for _, want := range []string{"2 of this kind", "round about the axis"} {
		if !strings.Contains(ks[0].Facts, want) {
			t.Errorf("%q does not say %q", ks[0].Facts, want)
		}
	}
	if !strings.Contains(ks[1].Facts, "ring of 20 cm, dark within 12 cm") || ks[1].Colour != nil {
		t.Errorf("%q", ks[1].Facts)
	}
}

// The lamp of the demo has a file and a spectrum: its colour and what is published
// about such light come with it.
func TestKindWithFiles(t *testing.T) {
	ks := kinds(t, string(bytes.TrimSpace(demo.File("tier-1-top.yaml"))))
	if len(ks) != 1 || ks[0].File == nil || ks[0].Colour == nil {
		t.Fatalf("%+v", ks)
	}
	if len(ks[0].ColourFigures) < 8 || !strings.Contains(ks[0].Lux, "lux /") || len(ks[0].Evidence) == 0 {
		t.Errorf("%d figures of colour, %q, %d notes", len(ks[0].ColourFigures), ks[0].Lux, len(ks[0].Evidence))
	}
}
