package watchfile_test

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"underlamp"
	"underlamp/formats/watchfile"
	"underlamp/internal/marked"
	"underlamp/science/quantity"
)

// document lays the format down.
const document = "../../docs/formats/watch.md"

func TestKeysAreDocumented(t *testing.T) { marked.Documented(t, document, watchfile.Keys()) }

func TestExample(t *testing.T) {
	w, problems, err := watchfile.Read(strings.NewReader(marked.Example(t, document)), quantity.Metric)
	if err != nil || len(problems) > 0 {
		t.Fatal(err, problems)
	}
	if w.Zone != "Europe/Berlin" || *w.Lights != (underlamp.Window{From: 6 * time.Hour, To: 22 * time.Hour}) || *w.Quiet != (underlamp.Window{From: 22 * time.Hour, To: 6*time.Hour + 30*time.Minute}) || w.Base.Value != 4 || len(w.Rules) != 8 {
		t.Fatalf("%+v", w)
	}
	by := map[underlamp.WatchKey]underlamp.WatchRule{}
	for _, r := range w.Rules {
		by[r.Key] = r
	}
	if a := by[underlamp.WatchAir]; a.Low.Value != 16 || a.High.Value != 27 || *a.Delay != 20*time.Minute || *a.Hysteresis != 0.5 || !a.Urgent {
		t.Errorf("%+v", a)
	}
	if h := by[underlamp.WatchHumidity]; h.Low != nil || math.Abs(h.High.Value-0.85) > 1e-12 || h.High.Note == "" || h.Delay != nil {
		t.Errorf("%+v", h)
	}
	if !by[underlamp.WatchCO2].Off || by[underlamp.WatchDew].Low.Value != 1.5 || by[underlamp.WatchSilent].High.Value != 1 {
		t.Errorf("%+v", by)
	}
}

// Differences in °F are smaller ones in °C: 0.9 °F is 0.5 °C (NIST SP 811, appendix B.8:
// a difference of 1 °F is one of 1/1.8 °C).
func TestDifferences(t *testing.T) {
	w, problems, err := watchfile.Read(strings.NewReader("underlamp watch: 1\nair temperature: {high: 86 °F, hysteresis: 0.9 °F}\ndew: {low: 1.8 °F}\n"), quantity.US)
	if err != nil || len(problems) > 0 {
		t.Fatal(err, problems)
	}
	if a := w.Rules[0]; math.Abs(a.High.Value-30) > 1e-12 || math.Abs(*a.Hysteresis-0.5) > 1e-12 || math.Abs(w.Rules[1].Low.Value-1) > 1e-12 {
		t.Errorf("%+v %+v", w.Rules[0], w.Rules[1])
	}
}

// Each text is wrong where the mark stands.
func TestProblems(t *testing.T) {
	const head = "underlamp watch: 1\n"
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"no version":           {"«lights: 06:00-22:00\n", []string{"the version of the format is missing"}},
		"later version":        {"underlamp watch: «7\n", []string{"version 7"}},
		"unknown key":          {head + "«humdity: {high: 85 %}\n", []string{`did you mean "humidity"`}},
		"another word":         {head + "«temperature: {high: 27 °C}\n", []string{`did you mean "air temperature"`}},
		"unknown key of rule":  {head + "humidity: {«max: 85 %}\n", []string{`did you mean "high"`}},
		"no zone":              {head + "zone: «Europe/Nowhere\n", []string{"is no time zone"}},
		"the machine's zone":   {head + "zone: «Local\n", []string{"is no time zone"}},
		"no window":            {head + "lights: «16 h\n", []string{"is no part of a day|06:00-22:00"}},
		"an hour that is none": {head + "lights: «06:00-25:00\n", []string{"is no part of a day"}},
		"an empty window":      {head + "quiet: «06:00-06:00\n", []string{"is no part of a day"}},
		"another unit":         {head + "humidity: {high: «85 °C}\n", []string{"temperature"}},
		"no unit":              {head + "vpd: {low: «0.4}\n", []string{"the unit is missing"}},
		"too much CO2":         {head + "co2: {high: «9000 ppm}\n", []string{"more than the most"}},
		"low above high":       {head + "air temperature: {low: 27 °C, high: «16 °C}\n", []string{"is not above the low one"}},
		"a side it has not":    {head + "dew: {high: «2 °C}\n", []string{"dew has no high limit"}},
		"no limit at all":      {head + "sensor: {low: «2 h}\n", []string{"sensor has no low limit"}},
		"neither on nor off":   {head + "lamp: «perhaps\n", []string{`"perhaps" is not known`}},
		"a day of delay":       {head + "lamp: {delay: «30 h}\n", []string{"more than the most"}},
		"endless":              {head + "silent: {high: «.inf}\n", []string{"is not a time"}},
		"negative hysteresis":  {head + "humidity: {hysteresis: «-2 %}\n", []string{"does not fit"}},
		"hysteresis of none":   {head + "lamp: {hysteresis: «1 h}\n", []string{"could come back from"}},
		"urgent perhaps":       {head + "humidity: {urgent: «perhaps}\n", []string{`"perhaps" is not known`}},
		"all at once":          {head + "lights: «x\nquiet: «y\nhumidity: «z\n", []string{"part of a day", "part of a day", "not known"}},
	} {
		t.Run(name, func(t *testing.T) {
			text, places := marked.Unmark(c.text)
			w, problems, err := watchfile.Read(strings.NewReader(text), quantity.Metric)
			if err != nil || w != nil {
				t.Fatalf("read %+v, %v", w, err)
			}
			marked.Problems(t, problems, places, c.want)
		})
	}
}

// What is read is written back the same, and no text ends the program or is reported
// outside itself.
func FuzzRead(f *testing.F) {
	f.Add(marked.Example(f, document))
	f.Add("underlamp watch: 1\nunits: us\ndew: {low: 1.8 °F}\nsensor: off\nlights: 18:00–10:00\n")
	f.Add("underlamp watch: 1\r\nzone: \"a\\nb\"\r\nbase: {value: 40 °F, from: measured}")
	f.Add("underlamp watch: 1\nhumidity: {high: 0.85, note: x}\nph: {low: 5.5, high: 6.5 pH, delay: 90 min}\nquiet: 22:00-24:00\n")
	f.Fuzz(func(t *testing.T, text string) {
		w, problems, err := watchfile.Read(strings.NewReader(text), quantity.Metric)
		if err != nil {
			return
		}
		marked.Sane(t, []byte(text), w != nil, problems)
		if w == nil {
			return
		}
		var b bytes.Buffer
		if err := watchfile.Write(&b, w); err != nil {
			t.Fatal(err)
		}
		again, problems, err := watchfile.Read(&b, quantity.Metric)
		if err != nil || again == nil {
			t.Fatalf("written back: %v %v\n%s", err, problems, b.String())
		}
		kept := w.Rules[:0:0]
		for _, r := range w.Rules { // {} says nothing
			if r != (underlamp.WatchRule{Key: r.Key}) {
				kept = append(kept, r)
			}
		}
		w.Rules = kept
		if d := cmp.Diff(w, again, cmpopts.EquateApprox(1e-12, 1e-12), cmpopts.EquateEmpty()); d != "" {
			t.Fatalf("read and written back:\n%s", d)
		}
	})
}

// Lamps from six to ten at night burn for 16 hours.
func ExampleRead() {
	w, _, _ := watchfile.Read(strings.NewReader("underlamp watch: 1\nlights: 06:00-22:00\nhumidity: {high: 85 %}\n"), quantity.Metric)
	fmt.Println(w.Lights.Length().Hours(), "h", w.Rules[0].Key, w.Rules[0].High.Value)
	// Output: 16 h humidity 0.85
}
