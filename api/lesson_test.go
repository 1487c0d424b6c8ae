package api_test

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"underlamp"
	"underlamp/app/aswire"
	"underlamp/app/learn"
	"underlamp/app/light"
	"underlamp/demo"
	"underlamp/formats/benchfolder"
)

// What is learned is as the description says. A lesson of the API takes a minute; this one draws
// less, and its figures are not looked at.
func TestLessonIsAsDescribed(t *testing.T) {
	if !*slow {
		return // package learn tests what is learned; here only how it is written
	}
	w := newWorld(t)
	b, err := benchfolder.Bench(demo.Folder(), "tier-2-middle.yaml")
	if err != nil {
		t.Fatal(err)
	}
	m, err := light.NewModel(b)
	if err != nil {
		t.Fatal(err)
	}
	found, err := benchfolder.Cycles(demo.Folder(), "tier-2-middle.yaml", b)
	if err != nil {
		t.Fatal(err)
	}
	var cycles []*underlamp.Cycle
	for _, f := range found[:1] {
		cycles = append(cycles, f.Cycle)
	}
	l, err := learn.Teach(t.Context(), m, cycles, learn.Options{Posterior: 100, Draws: 50, NoBest: true})
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(aswire.Lesson(l, nil))
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if err := w.doc.schema(t, "/components/schemas/Lesson").Validate(v); err != nil {
		t.Error(err)
	}
}
