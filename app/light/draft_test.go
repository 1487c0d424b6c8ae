package light_test

import (
	"math"
	"testing"

	"underlamp"
	"underlamp/app/light"
	"underlamp/demo"
	"underlamp/formats/benchfolder"
)

// The light of a draft is that of the whole answer, for a bench as it is and for one whose
// lamps are moved: with readings the lamps keep what those taught, without them it is the
// light that a new model gives.
func TestDraft(t *testing.T) {
	for _, name := range demo.Names() {
		bench, err := benchfolder.Bench(demo.Folder(), name)
		if err != nil {
			t.Fatal(err)
		}
		m, err := light.NewModelWith(bench, light.Options{Field: light.FieldOff})
		if err != nil {
			t.Fatal(err)
		}
		hold(t, m, m, bench, bench)

		bare := *bench
		bare.Readings = nil
		plain, err := light.NewModel(&bare)
		if err != nil {
			t.Fatal(err)
		}
		moved := bare
		moved.Lamps = append([]underlamp.Lamp{}, bare.Lamps...)
		moved.Lamps[0].Height -= 0.06
		moved.Lamps[0].X += 0.04
		moved.Lamps[0].Dimming = underlamp.Said(moved.Lamps[0].Dimming.Value / 2)
		moved.Space.Walls[underlamp.Right] = moved.Space.Walls[underlamp.Left]
		moved.Plants = moved.Plants[:len(moved.Plants)-2]
		again, err := light.NewModel(&moved)
		if err != nil {
			t.Fatal(err)
		}
		hold(t, plain, again, &moved, &moved)
		if d, err := m.Draft(&moved, 5); err != nil || !d.Known[0] {
			t.Errorf("%s: the flux of a lamp that was only moved is not known any more (%v)", name, err)
		}
		moved.Lamps[0].Flux.Value *= 2
		if d, err := m.Draft(&moved, 5); err != nil || d.Known[0] || math.Abs(float64(d.Flux[0]/moved.Lamps[0].Flux.Value)-1) > 0.2 {
			t.Errorf("%s: a lamp with another flux has that of the readings (%v)", name, err)
		}
	}
}

func hold(t *testing.T, of, whole *light.Model, b, as *underlamp.Bench) {
	t.Helper()
	d, err := of.Draft(b, 9)
	if err != nil {
		t.Fatal(err)
	}
	lit, err := whole.At(as.Setting().Height)
	if err != nil {
		t.Fatal(err)
	}
	a := lit.Answer(nil, 9)
	for i, p := range a.Plants {
		if math.Abs(float64(d.Plant[i]/p.PPFD)-1) > 1e-6 {
			t.Errorf("%s, plant %s: draft %g, answer %g", b.Name, p.Name, d.Plant[i], p.PPFD)
			break
		}
	}
	if math.Abs(float64(d.Mean)/a.Mean.Value-1) > 1e-6 || math.Abs(float64(d.DLI)/a.DLI.Value-1) > 1e-6 {
		t.Errorf("%s: mean %g and DLI %g, want %g and %g", b.Name, d.Mean, d.DLI, a.Mean.Value, a.DLI.Value)
	}
}

func BenchmarkDraft(b *testing.B) {
	for _, name := range demo.Names() {
		bench, err := benchfolder.Bench(demo.Folder(), name)
		if err != nil {
			b.Fatal(err)
		}
		m, err := light.NewModel(bench)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := m.Draft(bench, 25); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
