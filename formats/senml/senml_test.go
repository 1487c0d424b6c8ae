package senml_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"underlamp/formats/senml"
)

var now = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// The examples of Jennings2018, sections 5.1.1 to 5.1.4, as remembered; the resolved
// times are those that the last of them prints.
func TestExamplesOfTheStandard(t *testing.T) {
	one, err := senml.Read([]byte(`[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]`), now)
	if err != nil || len(one.Records) != 1 || one.Records[0] != (senml.Record{Name: "urn:dev:ow:10e2073a01080063", Unit: "Cel", At: now, Value: 23.1}) {
		t.Errorf("%+v, %v", one, err)
	}
	two, err := senml.Read([]byte(`[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]`), now)
	if err != nil || len(two.Records) != 2 || two.Records[1].Name != "urn:dev:ow:10e2073a01080063:current" || two.Records[1].Unit != "A" {
		t.Errorf("%+v, %v", two, err)
	}
	many, err := senml.Read([]byte(`[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
		{"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","t":-3,"v":1.4},{"n":"current","t":-2,"v":1.5},{"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]`), now)
	if err != nil || len(many.Records) != 7 {
		t.Fatal(many, err)
	}
	for i, want := range []float64{1.276020076001e+09, 1.276020071001e+09, 1.276020072001e+09, 1.276020073001e+09, 1.276020074001e+09, 1.276020075001e+09, 1.276020076001e+09} {
		if got := float64(many.Records[i].At.UnixMicro()) / 1e6; math.Abs(got-want) > 1e-6 {
			t.Errorf("record %d at %.6f, want %.6f", i+1, got, want)
		}
	}
	if many.Records[0].Unit != "V" || many.Records[1].Unit != "A" {
		t.Errorf("units %q, %q", many.Records[0].Unit, many.Records[1].Unit)
	}
}

func TestRules(t *testing.T) {
	p, err := senml.Read([]byte(`[{"bn":"rack/","bv":20,"bu":"Cel"},{"n":"a","v":1.5},{"n":"b","t":-60,"v":2},{"n":"c","vs":"open"},{"n":"d","vb":true},{"n":"e","t":30,"v":0,"x":7}]`), now)
	if err != nil || p.Skipped != 2 || len(p.Records) != 3 {
		t.Fatalf("%+v, %v", p, err)
	}
	if p.Records[0].Value != 21.5 || !p.Records[1].At.Equal(now.Add(-time.Minute)) || !p.Records[2].At.Equal(now.Add(30*time.Second)) || p.Records[2].Unit != "Cel" {
		t.Errorf("%+v", p.Records)
	}
	for text, want := range map[string]string{
		``:                                   "list of records",
		`{"n":"a","v":1}`:                    "list of records",
		`[{"n":"a","v":1}`:                   "does not end",
		`[{"n":"a","v":1}] x`:                "follows the list",
		`[{"n":"a","v":"1"}]`:                `record 1: "v" is a string, and takes a number`,
		`[{"v":1}]`:                          "no name",
		`[{"n":" a","v":1}]`:                 "characters besides",
		`[{"n":"a","v":1,"vs":"x"}]`:         "more than one value",
		`[{"n":"a","v":1,"must_":1}]`:        "must be understood",
		`[{"bver":11,"n":"a","v":1}]`:        "version 11",
		`[{"n":"a","v":1,"t":1e300}]`:        "beyond all measure",
		`[{"n":"a","v":1e999}]`:              `record 1: "v": 1e999 is beyond what is read`,
		`[{"bv":1.7e308,"n":"a","v":1e308}]`: "beyond all measure",
		`[1]`:                                "record 1: number stands where an object belongs",
		"[{\"n\":\"" + strings.Repeat("a", 201) + `","v":1}]`: "longer than 200",
	} {
		if p, err := senml.Read([]byte(text), now); err == nil || !strings.Contains(err.Error(), want) || p != nil {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(`[{"bn":"rack/","bt":1.276020076001e+09,"n":"a","v":1.5},{"n":"b","t":-60,"v":2}]`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := senml.Read(data, now)
		if err != nil {
			if p != nil {
				t.Error("half a pack")
			}
			return
		}
		for _, r := range p.Records {
			if r.Name == "" || math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
				t.Errorf("%+v", r)
			}
		}
	})
}
