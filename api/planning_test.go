package api_test

import (
	"flag"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"underlamp/wire"
)

// leave keeps a field of an answer for later steps.
func leave(name, path string) func(*world, answer) {
	return func(w *world, a answer) {
		w.mu.Lock()
		defer w.mu.Unlock()
		w.names[name] = fmt.Sprint(a.get(w, path))
	}
}

// leaveTag keeps the ETag of an answer.
func leaveTag(name string) func(*world, answer) {
	return func(w *world, a answer) {
		w.mu.Lock()
		defer w.mu.Unlock()
		w.names[name] = a.head.Get("ETag")
	}
}

// planningSteps walk through benches, light, outlook and sensors.
func planningSteps() []step {
	wait := map[string]string{"Prefer": "wait=30"}
	const bench, sensor = "/benches/tier-1-top", "/sensors/middle%2Fair"
	return []step{
		{op: "getServer", path: "/", want: `"who":"this machine"`},
		{op: "getDescription", path: "/openapi.json", want: `"openapi": "3.1.0"`},
		{op: "listBenches", path: "/benches", want: `"id":"tier-1-top"`},
		{op: "getBench", path: bench, want: `"height_m":0.34`, keep: leaveTag("tag")},
		{op: "getBenchFile", path: bench + "/file", want: "# An invented bench", keep: func(w *world, a answer) {
			w.names["file"] = string(a.body)
			if a.head.Get("ETag") != w.names["tag"] {
				w.Error("a bench and its file have two versions")
			}
		}},
		{op: "patchBench", path: bench, body: wire.BenchPatch{Hours: new(15.0)}, status: 428},
		{op: "patchBench", path: bench, body: wire.BenchPatch{Hours: new(15.0)}, head: map[string]string{"If-Match": `"other"`}, status: 412},
		{op: "patchBench", path: bench, body: wire.BenchPatch{Hours: new(25.0)}, head: map[string]string{"If-Match": "{tag}"}, status: 422, want: `"pointer":"/hours"`},
		{op: "patchBench", path: bench, body: wire.BenchPatch{Changes: []wire.BenchChange{{Do: "set", Path: "lamps[9].height", Text: "3 cm"}}}, head: map[string]string{"If-Match": "{tag}"}, status: 422},
		{op: "patchBench", path: bench, body: wire.BenchPatch{Hours: new(15.0), Changes: []wire.BenchChange{{Do: "set", Path: "note", Text: "by the API"}}, Why: "shorter days"}, head: map[string]string{"If-Match": "{tag}"}, want: `"hours":15`, keep: leaveTag("tag2")},
		{op: "getLight", path: bench + "/light", want: `"ppfd_umol_m2_s"`},
		{op: "getLight", path: bench + "/light?height_m=0.4&hours=12&field=off&columns=9&target_umol_m2_s=200", want: `"hours":12`},
		{op: "getLight", path: bench + "/light?height_m=4", status: 422, want: `"pointer":"#height_m"`},
		{op: "getLight", path: bench + "/light", head: map[string]string{"Accept": "text/csv"}, want: "plant,x_m,y_m,ppfd_umol_m2_s"},
		{op: "getLamps", path: bench + "/lamps", want: "Hollin bar 42"},
		{op: "getOutlook", path: bench + "/outlook", want: `"chance_of_burn"`},
		{op: "getOutlook", path: bench + "/outlook?dimming=0.6", want: `"dimming":0.6`},
		{op: "getOutlook", path: bench + "/outlook", head: map[string]string{"Accept": "text/csv;q=1, application/json;q=0.5"}, want: "day,ppfd_umol_m2_s"},
		{op: "aim", path: bench + "/aim", body: wire.AimAsk{PPFD: 150, KeepHeight: true, OneDimmer: true}, want: `"found":true`},
		{op: "aim", path: bench + "/aim", body: wire.AimAsk{}, status: 422, want: "one of them"},
		{op: "match", path: bench + "/match", body: wire.MatchAsk{With: "tier-2-middle"}, want: `"matched_by":"PPFD"`},
		{op: "match", path: bench + "/match", body: wire.MatchAsk{}, status: 422, want: "two groups"},
		{op: "match", path: bench + "/match", body: wire.MatchAsk{With: "nobody"}, status: 422, want: "/with"},
		{op: "beginBest", path: bench + "/best", want: `"kind":"best setting"`, keep: leave("best", "id")},
		{op: "stopTask", path: "/tasks/{best}"},
		{op: "beginPlan", path: bench + "/plan?for=day", want: "saleable mass per day", keep: leave("plan", "id")},
		{op: "stopTask", path: "/tasks/{plan}"},
		{op: "listCrops", path: "/crops", want: `"name":"butterhead"`},
		{op: "getCrop", path: "/crops/spinach", want: `"supported":false`},
		{op: "getCrop", path: "/crops/gorse", status: 404},
		{op: "putBenchFile", path: bench + "/file?why=back", body: "{file}", kind: "application/yaml", head: map[string]string{"If-Match": "{tag}"}, status: 412},
		{op: "putBenchFile", path: bench + "/file?why=back", body: "{file}", kind: "application/yaml", head: map[string]string{"If-Match": "{tag2}"}, want: `"hours":16`},
		{op: "putBenchFile", path: bench + "/file", body: "underlamp: 1\n", kind: "application/yaml", head: map[string]string{"If-Match": "*"}, status: 422, want: "line 1"},
		{op: "putBenchFile", path: bench + "/file", body: "{}", kind: "application/json", head: map[string]string{"If-Match": "*"}, status: 415},
		{op: "checkBenchFile", path: "/benches/check", body: wire.BenchText{Text: "underlamp: 1\nname: x\nspase: {}\n"}, want: `"usable":false`},
		{op: "listBenchVersions", path: bench + "/versions", want: "shorter days", keep: func(w *world, a answer) {
			n := len(a.get(w, "items").([]any))
			w.names["begin"] = fmt.Sprint(a.get(w, fmt.Sprintf("items.%d.from", n-1)))
		}},
		{op: "correctBenchVersion", path: bench + "/versions/corrections", body: `{"begin":"2001-01-01T00:00:00Z","from":"{begin}"}`, status: 404},
		{op: "correctBenchVersion", path: bench + "/versions/corrections", body: `{"begin":"{begin}","from":"{earlier}","why":"it was so earlier"}`},
		{op: "createBench", path: "/benches", body: wire.NewBench{Name: "Shelf by the window", Space: "100 x 50 x 40 cm", Lamps: "2, 40 W, 30 cm"}, head: map[string]string{"Idempotency-Key": "k1"}, want: `"id":"shelf-by-the-window"`},
		{op: "createBench", path: "/benches", body: wire.NewBench{Name: "Shelf by the window", Space: "100 x 50 x 40 cm", Lamps: "2, 40 W, 30 cm"}, head: map[string]string{"Idempotency-Key": "k1"}, want: `"id":"shelf-by-the-window"`, keep: func(w *world, a answer) {
			if a.head.Get("Idempotent-Replayed") != "true" || a.head.Get("Location") != "/api/v1/benches/shelf-by-the-window" {
				w.Errorf("sent again: %v", a.head)
			}
		}},
		{op: "createBench", path: "/benches", body: wire.NewBench{Name: "Other"}, head: map[string]string{"Idempotency-Key": "k1"}, status: 422, want: "another request"},
		{op: "createBench", path: "/benches", body: wire.NewBench{ID: "tier-1-top", Name: "Other"}, status: 409},
		{op: "createBench", path: "/benches", body: wire.NewBench{Name: "Other", Space: "wide", Fan: "up"}, status: 422, want: `"pointer":"/space"`},
		{op: "patchBench", path: "/benches/shelf-by-the-window", body: wire.BenchPatch{Changes: []wire.BenchChange{{Do: "set", Path: "crop.days", Text: "12"}}}, head: map[string]string{"If-Match": "*"}, want: `"days":12`},
		{op: "raise", path: "/benches/shelf-by-the-window" + "/raise", body: wire.RaiseAsk{}, want: `"days":[{`},
		{op: "beginSettingsMap", path: "/benches/shelf-by-the-window" + "/settings-map", head: wait, want: `"state":"done"`},
		{op: "beginDoubts", path: "/benches/shelf-by-the-window" + "/doubts", head: wait, want: `"state":"done"`, keep: leave("task", "id")},
		{op: "listTasks", path: "/tasks", want: "Doubts of the outlook"},
		{op: "getTask", path: "/tasks/{task}", want: `"what_would_narrow_it"`},
		{op: "watchTask", path: "/tasks/{task}/events", want: "event: task\ndata: {"},
		{op: "removeDemo", path: "/demo"},
		{op: "addDemo", path: "/demo", want: "tier-1-top.yaml"},
		{op: "getBoard", path: "/benches/tier-2-middle/live", want: `"key":"vpd"`},
		{op: "getChart", path: "/benches/tier-2-middle/live/chart?sensor=middle/air&pieces=24", want: `"readings":`},
		{op: "getChart", path: "/benches/tier-2-middle/live/chart", status: 400, want: `"pointer":"#sensor"`},
		{op: "listMessages", path: "/messages", want: "middle/co2", keep: leave("message", "items.0.id")},
		{op: "listMessages", path: "/messages?from=2020-01-01&bench=tier-2-middle&limit=1"},
		{op: "acknowledgeMessage", path: "/messages/{message}/acknowledgement", body: wire.Acknowledgement{By: "Ida"}},
		{op: "acknowledgeMessage", path: "/messages/999999/acknowledgement", body: wire.Acknowledgement{}, status: 404},
		{op: "listSensors", path: "/sensors", want: `"key":"middle/air"`},
		{op: "getSensor", path: sensor, want: `"quantity":"air temperature"`},
		{op: "getSensor", path: "/sensors/none", status: 404},
		{op: "describeSensor", path: "/sensors/shelf%2Fair", body: wire.SensorChange{Quantity: new("air temperature"), Unit: new("Cel"), Bench: new("tier-1-top"), X: new(0.3), Y: new(0.3), Every: new(60.0)}, want: `"key":"shelf/air"`},
		{op: "describeSensor", path: sensor, body: wire.SensorChange{Quantity: new("mood")}, status: 422},
		{op: "describeSensor", path: sensor, body: wire.SensorChange{Bench: new("nobody")}, status: 422, want: "/bench"},
		{op: "calibrateSensor", path: sensor + "/calibrations", body: wire.NewCalibration{Pairs: []wire.CalibrationPair{{Read: 20, True: 20.4}}, By: "Ida"}, want: `"by":"Ida"`},
		{op: "calibrateSensor", path: sensor + "/calibrations", body: wire.NewCalibration{}, status: 422},
		{op: "listReadings", path: sensor + "/readings?limit=3", want: `"next":"/api/v1/sensors/middle%2Fair/readings?cursor=`},
		{op: "listReadings", path: sensor + "/readings?limit=3", head: map[string]string{"Accept": "text/csv"}, want: "at,sent,true"},
	}
}

// Readings in pieces are all readings, each once.
func readingsInPieces(t *testing.T, w *world) {
	const at = "/sensors/middle%2Fair/readings"
	whole := w.ask(t, step{op: "listReadings", path: at + "?limit=10000"}).get(t, "items").([]any)
	var pieces []any
	for path := at + "?limit=37"; path != ""; {
		a := w.ask(t, step{op: "listReadings", path: path})
		pieces = append(pieces, a.get(t, "items").([]any)...)
		next, _ := a.get(t, "next").(string)
		path = strings.TrimPrefix(next, "/api/v1")
	}
	seen := map[string]bool{}
	for _, x := range pieces {
		at := x.(map[string]any)["at"].(string)
		if seen[at] {
			t.Fatalf("%s came twice", at)
		}
		seen[at] = true
	}
	if len(whole) < 100 || len(whole) != len(pieces) {
		t.Errorf("%d and %d", len(whole), len(pieces))
	}
	years := w.ask(t, step{op: "listReadings", path: at + "?from=2001-01-01"})
	if next, _ := years.get(t, "next").(string); next == "" || years.status != http.StatusOK {
		t.Errorf("years are read at once")
	}
}

// slow looks at what takes long.
var slow = flag.Bool("slow", false, "wait for a best setting and a plan, and look at what they give")

// What takes long gives what it says, on a small bench.
func TestLongWork(t *testing.T) {
	if !*slow {
		return // package outlook tests what is searched; here only how it is written
	}
	w := newWorld(t)
	for _, path := range []string{"/benches/tier-3-bottom/best", "/benches/tier-3-bottom/plan?for=electricity"} {
		op := map[bool]string{true: "beginBest", false: "beginPlan"}[strings.HasSuffix(path, "best")]
		a := w.ask(t, step{op: op, path: path})
		for a.get(t, "state") != "done" {
			if s := a.get(t, "state"); s == "failed" || s == "stopped" {
				t.Fatalf("%s", a.body)
			}
			a = w.ask(t, step{op: "getTask", path: "/tasks/" + a.get(t, "id").(string), head: map[string]string{"Prefer": "wait=30"}})
		}
		if a.get(t, "result.searched") == nil && a.get(t, "result.found") == nil {
			t.Errorf("%.500s", a.body)
		}
	}
}
