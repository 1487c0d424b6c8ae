package benchfolder_test

import (
	"bytes"
	"testing"
	"testing/fstest"
	"time"

	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
)

// A shelf reads a file again when it has changed, and only then.
func TestShelf(t *testing.T) {
	text := func(name, more string) *fstest.MapFile {
		return &fstest.MapFile{Data: []byte("underlamp: 1\nname: " + name + "\nspace: {width: 1 m, depth: 60 cm, height: 50 cm}\nlamps: [{at: [50 cm, 30 cm], height: 35 cm, flux: 200 µmol/s, watts: 80 W" + more + "}]\nplants: {grid: {columns: 3, rows: 2, margin: 15 cm}}\n"), ModTime: time.Unix(1, 0)}
	}
	in := folder()
	in["a.yaml"], in["b.yml"] = text("A", ""), text("B", ", photometry: lamps/bar.ies")
	in["broken.yaml"] = &fstest.MapFile{Data: []byte("underlamp: 1\nspce: 1\n")}
	in["a.cycle.yaml"] = &fstest.MapFile{Data: []byte("underlamp cycle: 1\nbench: a.yaml\n")}
	if b, problems, err := benchfile.ReadWith(bytes.NewReader(in["b.yml"].Data), benchfolder.Files(in)); b == nil {
		t.Fatal(problems, err)
	}
	s := benchfolder.NewShelf(in)
	first, err := s.Benches()
	if err != nil || len(first) != 2 || first[0].Bench.Name != "A" || first[1].Key != "b" {
		t.Fatalf("%v, %v", first, err)
	}
	again, _ := s.Benches()
	if again[0] != first[0] || again[1] != first[1] {
		t.Error("files that stayed were read again")
	}
	in["lamps/bar.ies"].ModTime = time.Unix(9, 0)
	in["broken.yaml"] = text("C", "")
	delete(in, "a.yaml")
	third, err := s.Benches()
	if err != nil || len(third) != 2 || third[0] == first[1] || third[1].Bench.Name != "C" {
		t.Errorf("%v, %v", third, err)
	}
}

// A file of another format is no bench with mistakes.
func TestKinds(t *testing.T) {
	for text, want := range map[string]benchfolder.Kind{
		"# a bench\nunderlamp: 1\n":  benchfolder.BenchFile,
		"Underlamp  Cycle: 1\n":      benchfolder.CycleFile,
		"\ufeffunderlamp profile: 1": benchfolder.ProfileFile,
		"underlamp trial: 1\n":       benchfolder.TrialFile,
		"underlamp watch: 1\n":       benchfolder.OtherFile,
		"name: nothing\n":            benchfolder.BenchFile,
	} {
		if got := benchfolder.KindOf(fstest.MapFS{"x.yaml": {Data: []byte(text)}}, "x.yaml"); got != want {
			t.Errorf("%q is of kind %d, want %d", text, got, want)
		}
	}
}
