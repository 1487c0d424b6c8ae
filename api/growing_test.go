package api_test

import (
	"bytes"
	"context"
	"image"
	"image/jpeg"
	"io/fs"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"underlamp/demo"
)

// panels is a trial of the bench that the rounds of the demo walk by.
const panels = `underlamp trial: 1
name: Two panels
bench: tier-2-middle.yaml
table: panels.trial.csv
response: mass
layout: blocks
seed: 1
treatments:
  - {name: low}
  - {name: high}
cycles:
  - {block: one, transplanted: 2026-10-15}
units:
  - {name: A1, treatment: low, block: one, lamp: left panel, plants: 9}
  - {name: A2, treatment: high, block: one, lamp: right panel, plants: 9}
`

var aQuestion = map[string]any{"name": "Fan or none", "factor": "fan", "treatments": []string{"fan on", "fan off"}, "control": "fan off", "response": "mass", "difference": "15 g", "lamps": 4, "plants": 6, "cycles": 3, "seed": 7}

// all of several checks of an answer.
func both(all ...func(*world, answer)) func(*world, answer) {
	return func(w *world, a answer) {
		for _, f := range all {
			f(w, a)
		}
	}
}

// measured waits until the photo that was sent has been measured.
func measured(w *world, _ answer) {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	defer cancel()
	done := make(chan struct{})
	go func() { w.site.MeasurePhotos(ctx); close(done) }()
	for ctx.Err() == nil {
		a := w.ask(w, step{op: "getPhoto", path: "/benches/tier-2-middle/photos/apitest-photo-1"})
		if a.get(w, "state") != "waiting" {
			spots := a.get(w, "looks.0.spots").([]any)
			if len(spots) == 0 {
				w.Fatal("the photo of the demo has no spot to be judged")
			}
			leave("spot", "looks.0.spots.0.id")(w, a)
			leave("picture", "looks.0.picture")(w, a)
			cancel()
			<-done
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	w.Fatal("the photo was not measured")
}

// tag keeps the tag of an answer for later steps.
func tag(name string) func(*world, answer) {
	return func(w *world, a answer) {
		w.mu.Lock()
		defer w.mu.Unlock()
		w.names[name] = a.head.Get("ETag")
	}
}

// fetched keeps the body of an answer, for a step that sends it back.
var fetched []byte

// Tables of another make, as somebody keeps notes.
const notes = "Lamp code,Head,Weight\nC1-L1,P20,151.2 g\nC1-L1,P21,5.2 oz\n"

// A diary of plants, as somebody keeps one.
const diary = "Date,Plant,Weight (g)\n2026-11-03,P1,61\n2026-11-03,P3,64\n"

// packageOut is a package as it came, to be sent back.
var packageOut []byte

// A photo of the demo with spots that may be burn, and whose plant it is of.
const (
	spotted      = "2026-11-02-P8.jpg"
	spottedPlant = "P8"
)

// letIn lets a browser in with the code of an invitation.
func letIn(w *world, a answer) {
	_, v, err := w.door.Redeem(context.Background(), a.get(w, "code").(string), netip.MustParseAddr("192.0.2.7"), "phone")
	if err != nil {
		w.Fatal(err)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.names["session"] = v.Session
}

// growingSteps walk through trials, rounds, photos, feed, air, trouble, people and settings.
func growingSteps() []step {
	const bench = "/benches/tier-2-middle"
	picture, err := fs.ReadFile(demo.Photos(), spotted)
	if err != nil {
		panic(err)
	}
	packet := map[string]any{"underlamp rounds": 1, "phone": "apitest-phone", "now_ms": time.Now().UnixMilli(), "entries": []any{
		map[string]any{"id": "apitest-entry-1", "plant": "P2", "what": "mass", "typed": "71.5 g", "typed_ms": time.Now().UnixMilli(), "by": "Ida"},
		map[string]any{"id": "apitest-entry-2", "plant": "P2", "what": "mass", "typed": "a lot", "typed_ms": time.Now().UnixMilli()},
	}}
	return []step{
		// Trials.
		{op: "listTrials", path: "/trials?limit=1", want: `"id":"lamp-colours.trial"`, keep: func(w *world, _ answer) {
			// A report without an outlook takes no time.
			kale := strings.NewReplacer("species: lettuce", "species: kale", "  type: butterhead\n", "").Replace(string(demo.File("tier-3-bottom.yaml")))
			for name, text := range map[string]string{"panels.trial.yaml": panels, "kale.yaml": kale} {
				if err := os.WriteFile(filepath.Join(w.dir, name), []byte(text), 0o644); err != nil {
					w.Fatal(err)
				}
			}
		}},
		{op: "beginProposals", path: "/trials/proposals", body: aQuestion, head: map[string]string{"Prefer": "wait=30", "Idempotency-Key": "layouts"}, want: `"error_df"`, keep: leave("drawn", "result.proposals.0.fingerprint")},
		{op: "createTrial", path: "/trials", body: func(w *world) any { return map[string]any{"question": aQuestion, "fingerprint": w.names["drawn"]} }, head: map[string]string{"Idempotency-Key": "take"}, want: `"id":"fan-or-none.trial"`},
		{op: "createTrial", path: "/trials", body: map[string]any{"question": aQuestion, "fingerprint": "0000"}, status: 409, want: "/fingerprint"},
		{op: "getTrial", path: "/trials/light-levels.trial", want: `"response":"mass","response_unit":"g","difference":12,"layout":"blocks","seed":4711`},
		{op: "getTrialFile", path: "/trials/light-levels.trial/file", want: "seed: 4711"},
		{op: "getTrialTable", path: "/trials/light-levels.trial/table", want: "e1,2026-04-28,C1-L1,P1,mass,158.5"},
		{op: "getTrialLayout", path: "/trials/panels.trial/layout", want: `"dli_mol_m2_d"`},
		{op: "listTrialJobs", path: "/trials/fan-or-none.trial/jobs?start=2026-12-01", want: `"date":"2026-12-01"`},
		{op: "getTrialCalendar", path: "/trials/fan-or-none.trial/jobs.ics?start=2026-12-01", want: "BEGIN:VCALENDAR\r\nVERSION:2.0"},
		{op: "getTrialCalendar", path: "/trials/fan-or-none.trial/jobs.ics", status: 422, want: "first transplanting"},
		{op: "getTrialSheet", path: "/trials/light-levels.trial/sheet", want: "<!doctype html>"},
		{op: "getTrialLabels", path: "/trials/light-levels.trial/labels.pdf?size=small", want: "%PDF-"},
		{op: "beginFindings", path: "/trials/light-levels.trial/findings", head: map[string]string{"Prefer": "wait=30"}, want: `"variance":[{"line"`},
		{op: "getTrialReport", path: "/trials/light-levels.trial/report", want: "Light levels, Tarn Copper"},
		{op: "getTrialReport", path: "/trials/light-levels.trial/report?form=short", head: map[string]string{"Accept": "application/pdf"}, want: "%PDF-"},
		{op: "getTrialReport", path: "/trials/none.trial/report", status: 404},
		{op: "listTrialRecords", path: "/trials/light-levels.trial/records?unit=C1-L1&what=mass&limit=2", want: `"id":"e1","time":"2026-04-28","unit":"C1-L1","plant":"P1","what":"mass","value":158.5,"measure":"g"`},
		{op: "recordTrial", path: "/trials/fan-or-none.trial/records", body: records("apitest1", "C1-L1", "141 g"), want: `"value":141,"measure":"g"`, keep: leave("line", "kept.0.record.id")},
		{op: "recordTrial", path: "/trials/fan-or-none.trial/records", body: records("apitest1", "C1-L1", "141 g"), want: `"again":true`},
		{op: "recordTrial", path: "/trials/fan-or-none.trial/records", body: records("apitest1", "C1-L1", "142 g"), status: 409, want: `"pointer":"/records/0/key"`},
		{op: "recordTrial", path: "/trials/fan-or-none.trial/records", body: records("apitest2", "nowhere", "142 g"), status: 422, want: `"pointer":"/records/0/unit"`},
		{op: "lookAtRecord", path: "/trials/fan-or-none.trial/records/look", body: records("apitest3", "C1-L1", "5 oz"), want: `read as 5 oz`},
		{op: "putTrialDay", path: "/trials/fan-or-none.trial/records/C1-L1/P2/2026-11-20", body: map[string]any{"values": map[string]string{"mass": "138 g", "burn": "no"}}, want: `"value":138`},
		{op: "putTrialDay", path: "/trials/fan-or-none.trial/records/C1-L1/P2/2026-11-20", body: map[string]any{"values": map[string]string{"mass": "138 g"}}, want: `"again":true`},
		{op: "putTrialDay", path: "/trials/fan-or-none.trial/records/C1-L1/P2/2026-11-20", body: map[string]any{"values": map[string]string{"mass": "128 g"}}, status: 409, want: `/values/mass`},
		{op: "putTrialDay", path: "/trials/fan-or-none.trial/records/C1-L1/P2/2026-11-20", body: map[string]any{"values": map[string]string{"mass": "128 g"}, "replace": true}, want: `"value":128`},
		{op: "getTrialTaking", path: "/trials/panels.trial/rounds", want: `"moves":[{`, keep: leave("taking", "fingerprint")},
		{op: "takeOverRounds", path: "/trials/panels.trial/rounds", body: func(w *world) any { return map[string]any{"fingerprint": "0", "by": "Ida"} }, status: 409, want: "have changed"},
		{op: "takeOverRounds", path: "/trials/panels.trial/rounds", body: func(w *world) any { return map[string]any{"fingerprint": w.names["taking"], "by": "Ida"} }, want: `"lines":`},
		{op: "sendTrialTable", path: "/trials/light-levels.trial/uploads?file=notes.csv", body: notes, kind: "text/csv", want: `"wrong":`, keep: leave("upload", "upload")},
		{op: "previewTrialImport", path: "/trials/light-levels.trial/uploads/{upload}?column=Lamp+code%3Dunit&column=Head%3Dplant&column=Weight%3Dmass", want: `"new":2`},
		{op: "previewTrialImport", path: "/trials/light-levels.trial/uploads/none", status: 410, want: "Send it once more"},
		{op: "importTrialTable", path: "/trials/light-levels.trial/imports", body: func(w *world) any {
			return map[string]any{"upload": w.names["upload"], "columns": map[string]string{"Lamp code": "unit", "Head": "plant", "Weight": "mass"}}
		}, want: `"new":2`, keep: leave("import", "import")},
		{op: "listTrialImports", path: "/trials/light-levels.trial/imports", want: `"brought":2,"standing":2`},
		{op: "undoTrialImport", path: "/trials/light-levels.trial/imports/{import}", want: `"struck":2`},
		{op: "undoTrialImport", path: "/trials/light-levels.trial/imports/77", status: 404, want: "no import 77"},
		{op: "getTrial", path: "/trials/none", status: 404, want: "no trial"},
		{op: "getTrial", path: "/trials/..%2Fetc", status: 404, want: "no trial"},

		// Rounds.
		{op: "listEntries", path: bench + "/rounds/entries?plant=P15&what=mass", want: `"text":"68 g"`},
		{op: "listEntries", path: bench + "/rounds/entries?limit=3&newest_first=true&counts=true", want: `"next":"/api/v1/benches`},
		{op: "getEntry", path: bench + "/rounds/entries/demo-round-1015", want: `"corrected_by":["demo-round-1015"]`},
		{op: "getEntry", path: bench + "/rounds/entries/demo-none", status: 404, want: "no such entry"},
		{op: "listRoundPlants", path: bench + "/rounds/plants", want: `"undecided":["mass"]`},
		{op: "sendPacket", path: bench + "/rounds/packets", body: packet, want: `"kept":["apitest-entry-1"],"refused":[{"id":"apitest-entry-2"`},
		{op: "sendPacket", path: bench + "/rounds/packets", body: packet, want: `"kept":["apitest-entry-1"]`},
		{op: "sendPacket", path: bench + "/rounds/packets", body: map[string]any{"underlamp rounds": 2, "phone": "apitest-phone", "now_ms": 0, "entries": []any{}}, status: 422, want: "at most 1"},
		{op: "enterEntry", path: bench + "/rounds/entries", body: map[string]any{"id": "apitest-entry-3", "plant": "P3", "what": "height", "value": "11 cm", "by": "Ida"}, want: `"value":11`},
		{op: "enterEntry", path: bench + "/rounds/entries", body: map[string]any{"id": "apitest-entry-3", "plant": "P3", "what": "height", "value": "12 cm", "by": "Ida"}, status: 409, want: "/id"},
		{op: "enterEntry", path: bench + "/rounds/entries", body: map[string]any{"plant": "P3", "what": "height", "value": "tall", "by": "Ida"}, status: 422},
		{op: "correctEntry", path: bench + "/rounds/entries/apitest-entry-3/corrections", body: map[string]any{"id": "apitest-entry-4", "do": "correct", "value": "12 cm", "by": "Ida"}, want: `"corrects":"apitest-entry-3"`},
		{op: "correctEntry", path: bench + "/rounds/entries/apitest-entry-3/corrections", body: map[string]any{"do": "strike", "by": "Malte"}, status: 409, want: "in the meantime"},
		{op: "listConflicts", path: bench + "/rounds/conflicts", want: `"plant":"P18","what":"mass","day":"2026-11-12"`},
		{op: "decideConflict", path: bench + "/rounds/decisions", body: map[string]any{"of": []string{"demo-round-1068", "demo-round-1071"}, "keep": "all", "by": "Ida"}, status: 409, want: "in the meantime"},
		{op: "decideConflict", path: bench + "/rounds/decisions", body: map[string]any{"id": "apitest-decide", "of": []string{"demo-round-1068", "demo-round-1070"}, "keep": "demo-round-1070", "by": "Ida"}, want: `"struck":true`},
		{op: "exportRounds", path: bench + "/rounds/export", want: `"underlamp rounds export": 1`},
		{op: "getRoundTable", path: bench + "/rounds/table", want: "demo-round-1000"},
		{op: "getRoundCycle", path: bench + "/rounds/cycle", want: "underlamp cycle: 1"},

		// Photos. An entry names the picture, so that it is measured at once.
		{op: "sendPacket", path: bench + "/rounds/packets", body: map[string]any{"underlamp rounds": 1, "phone": "apitest-phone", "now_ms": time.Now().UnixMilli(), "entries": []any{
			map[string]any{"id": "apitest-entry-9", "plant": spottedPlant, "what": "photo", "photo": "apitest-photo-1", "typed_ms": time.Now().UnixMilli()}}}, want: `"kept":["apitest-entry-9"]`},
		{op: "sendPhoto", path: bench + "/photos?id=apitest-photo-1&phone=apitest-phone", body: picture, kind: "image/jpeg", want: `"state":"waiting"`, keep: measured},
		{op: "sendPhoto", path: bench + "/photos?id=apitest-photo-1&phone=apitest-phone", body: otherPicture(), kind: "image/jpeg", status: 409, want: "Another picture"},
		{op: "sendPhoto", path: bench + "/photos?id=apitest-photo-2&phone=apitest-phone", body: "no picture", kind: "image/jpeg", status: 422},
		{op: "sendPhoto", path: bench + "/photos", body: picture, kind: "image/jpeg", status: 400, want: `"pointer":"#id"`},
		{op: "listPhotos", path: bench + "/photos?state=measured", want: `"state":"measured"`},
		{op: "getPhoto", path: bench + "/photos/apitest-photo-1", want: `"what":"area"`},
		{op: "getPhoto", path: bench + "/photos/none", status: 404, want: "no such photo"},
		{op: "getPhotoPicture", path: bench + "/photos/apitest-photo-1/picture?small=true", want: "\xff\xd8"},
		{op: "getPhotoPicture", path: "/benches/tier-1-top/photos/apitest-photo-1/picture", status: 404, want: "of this bench"},
		{op: "getPhotoMade", path: bench + "/photos/apitest-photo-1/made/overlay", want: "\xff\xd8"},
		{op: "getPhotoMade", path: bench + "/photos/apitest-photo-1/made/{picture}", want: "\xff\xd8"},
		{op: "judgeSpot", path: bench + "/photos/apitest-photo-1/verdicts", body: func(w *world) any { return map[string]any{"spot": w.names["spot"], "burnt": true, "by": "Ida"} }, want: `"burnt":true`},
		{op: "judgeSpot", path: bench + "/photos/apitest-photo-1/verdicts", body: map[string]any{"spot": "none", "burnt": true, "by": "Ida"}, status: 404, want: "no such spot"},
		{op: "getPhotoStrip", path: bench + "/photos/strip?width=300", want: "\x89PNG"},
		{op: "getPhotoTable", path: bench + "/photos/table", want: "apitest-photo-1"},
		{op: "getLabels", path: bench + "/labels.pdf", want: "%PDF-"},
		{op: "getLabels", path: bench + "/labels.pdf?size=huge", status: 422},
		{op: "readLabel", path: bench + "/labels/read", body: picture, kind: "image/jpeg", want: `"plant":"` + spottedPlant + `"`, keep: leave("code", "code")},
		{op: "findLabel", path: bench + "/labels/plant?text={code}", want: `"plant":"` + spottedPlant + `"`},
		{op: "findLabel", path: bench + "/labels/plant?text=%21%21", status: 422, want: "#text"},

		// Feed.
		{op: "listRecipes", path: "/feed/recipes", want: `"name":"lettuce of 2014"`},
		{op: "listSubstances", path: "/feed/substances", want: `"name":"potassium nitrate"`},
		{op: "listFeedFiles", path: bench + "/feed/files", want: `"rack.feed.yaml"`},
		{op: "getFeed", path: bench + "/feed", want: `"what_if":false`},
		{op: "getFeed", path: bench + "/feed?recipe=Steiner+universal&strength=80&volume_l=40&stock=false", want: `"recipe":"Steiner universal"`},
		{op: "getFeed", path: bench + "/feed?file=other.feed.yaml", status: 404, want: "no feed file"},
		{op: "getFeedCorrection", path: bench + "/feed/correction?volume_l=90&ec_ms_cm=1.9&ph=6.6", want: `"do":["`},
		{op: "getFeedCorrection", path: bench + "/feed/correction?ions=gold+3", status: 422},
		{op: "getFeedLog", path: bench + "/feed/log", want: `"date":"2026-11-18"`},
		{op: "addFeedLog", path: bench + "/feed/log", body: map[string]any{"date": "2026-11-22", "volume_l": 93, "ec_ms_cm": 1.5, "ph": 6.3, "water_l": 27, "added": []any{map[string]any{"product": "potassium nitrate", "amount": 12, "unit": "g"}}, "by": "Ida"}, want: `"date":"2026-11-22"`},
		{op: "addFeedLog", path: bench + "/feed/log", body: map[string]any{"added": []any{map[string]any{"product": "gold", "amount": 1, "unit": "g"}}}, status: 422, want: "cupboard"},
		{op: "getFeedFile", path: bench + "/feed/file", want: "underlamp feed: 1", keep: both(tag("feed"), func(_ *world, a answer) { fetched = a.body })},
		{op: "putFeedFile", path: bench + "/feed/file", body: func(*world) any { return append(slices.Clone(fetched), "\n# looked at\n"...) }, kind: "application/yaml", head: map[string]string{"If-Match": "{feed}"}, want: "rack.feed.yaml"},
		{op: "putFeedFile", path: bench + "/feed/file", body: func(*world) any { return fetched }, kind: "application/yaml", head: map[string]string{"If-Match": "{feed}"}, status: 412, want: "Nothing was written"},
		{op: "putFeedFile", path: bench + "/feed/file", body: "underlamp feed: 1\n", kind: "application/yaml", head: map[string]string{"If-Match": "*"}, status: 422},
		{op: "putFeedFile", path: bench + "/feed/file", body: "x", kind: "application/yaml", status: 428},
		{op: "beginFeed", path: bench + "/feed", body: map[string]any{"recipe": "lettuce of 2014", "volume": "80 L", "products": []string{"potassium nitrate", "monopotassium phosphate", "magnesium sulfate heptahydrate"}}, want: "tier-2-middle.feed.yaml"},
		{op: "beginFeed", path: bench + "/feed", body: map[string]any{"recipe": "lettuce of 2014", "volume": "80 L", "products": []string{"potassium nitrate"}}, status: 409, want: "already"},

		// Air.
		{op: "getAir", path: bench + "/air", want: `"what_if":false`},
		{op: "getAir", path: bench + "/air?night_humidity_percent=70&fan=down&day=20", want: `"what_if":true,"day_shown":20`},
		{op: "getAir", path: bench + "/air?night_humidity_percent=170", status: 400, want: "at most 99 %"},
		{op: "beginHearts", path: bench + "/air/hearts", head: map[string]string{"Prefer": "wait=30"}, want: `"needed_down_m_s"`},
		{op: "getFan", path: bench + "/air/fan?diameter_m=0.12&flow_m3_h=90&distance_m=0.4", want: `"mean_m_s"`},
		{op: "getFan", path: bench + "/air/fan?diameter_m=0.12&distance_m=0.4", status: 422, want: "flow"},
		{op: "surveyAir", path: bench + "/air/survey", body: map[string]any{"readings": []any{map[string]any{"speed_m_s": 0.3}, map[string]any{"speed_m_s": 0.5}}}, want: `"readings":2`},
		{op: "getAirRecord", path: bench + "/air/recorded", want: `"hours":`},

		// Trouble.
		{op: "listSymptoms", path: "/trouble/symptoms", want: `"key":"inner-leaf-burn"`},
		{op: "assessTrouble", path: bench + "/trouble/assess", body: map[string]any{"symptoms": []string{"inner-leaf-burn"}}, want: `"causes":[{"key"`},
		{op: "assessTrouble", path: bench + "/trouble/assess", body: map[string]any{"symptoms": []string{"nonsense"}}, status: 422},
		{op: "openCase", path: bench + "/trouble/cases", body: map[string]any{"symptoms": []string{"inner-leaf-burn"}, "by": "Ida"}, want: `"open":true`, keep: leave("case", "id")},
		{op: "listCases", path: bench + "/trouble/cases?open=true", want: `"by":"Ida"`},
		{op: "getCase", path: bench + "/trouble/cases/{case}", want: `"open":true`},
		{op: "getCase", path: bench + "/trouble/cases/none", status: 404, want: "no such case"},
		{op: "concludeCase", path: bench + "/trouble/cases/{case}/outcomes", body: map[string]any{"cause": "else", "helped": "no", "by": "Ida"}, want: `"open":false`},
		{op: "concludeCase", path: bench + "/trouble/cases/{case}/outcomes", body: map[string]any{"cause": "nonsense"}, status: 422, want: "/cause"},

		// Learning. The lesson takes a minute; that it runs and can be stopped is looked at here.
		{op: "listCycles", path: bench + "/cycles", want: `"used":true`},
		{op: "beginLesson", path: bench + "/lesson", want: `"kind":"learning"`, keep: leave("lesson", "id")},
		{op: "stopTask", path: "/tasks/{lesson}", want: `"kind":"learning"`},
		{op: "beginLesson", path: "/benches/tier-1-top/lesson", status: 422, want: "nothing to learn from"},

		{op: "getReport", path: "/benches/kale/report", want: "<!doctype html>"},
		{op: "listReports", path: "/benches/kale/reports", want: `{"of":"bench"`},
		{op: "getReport", path: "/benches/kale/report?form=short&paper=letter", head: map[string]string{"Accept": "application/pdf"}, want: "%PDF-"},
		{op: "getReport", path: "/benches/kale/report?of=summer", status: 404, want: "/benches/kale/reports lists them"},
		{op: "getReport", path: "/benches/kale/report?paper=a3", status: 400, want: `"pointer":"#paper"`},
		{op: "listReports", path: "/benches/nobody/reports", status: 404},
		{op: "getTrialSheet", path: "/trials/light-levels.trial/sheet?paper=letter", head: map[string]string{"Accept": "application/pdf"}, want: "%PDF-"},
		{op: "getTrialSheet", path: "/trials/light-levels.trial/sheet", head: map[string]string{"Accept": "text/csv"}, status: 406},

		// Data packages, out and in.
		{op: "getTrialPackage", path: "/trials/light-levels.trial/package.zip", want: "datapackage.json", keep: func(_ *world, a answer) { packageOut = a.body }},
		{op: "getTrialPackage", path: "/trials/none.trial/package.zip", status: 404},
		{op: "getTrialPackage", path: "/trials/light-levels.trial/package.zip?names=authors", want: "datapackage.json"},
		{op: "getTrialPackage", path: "/trials/light-levels.trial/package.zip?names=some", status: 400},
		{op: "getAbout", path: "/about", want: "underlamp about: 1", keep: tag("about")},
		{op: "putAbout", path: "/about", body: "underlamp about: 1\nlicence: CC-BY-4.0\n", kind: "application/yaml", head: map[string]string{"If-Match": "{about}"}, want: "about.yaml"},
		{op: "putAbout", path: "/about", body: "underlamp about: 1\n", kind: "application/yaml", head: map[string]string{"If-Match": "{about}"}, status: 412, want: "Nothing was written"},
		{op: "putAbout", path: "/about", body: "underlamp about: 1\nlicence: all mine\n", kind: "application/yaml", head: map[string]string{"If-Match": "*"}, status: 422, want: "no name of a licence"},
		{op: "putAbout", path: "/about", body: "x", kind: "application/yaml", status: 428},
		{op: "getTrialWorkbook", path: "/trials/panels.trial/tables.xlsx", want: "xl/workbook.xml"},
		{op: "getTrialWorkbook", path: "/trials/none.trial/tables.xlsx", status: 404},
		{op: "getBenchPackage", path: bench + "/package.zip", want: "datapackage.json"},
		{op: "getBenchPackage", path: "/benches/nobody/package.zip", status: 404},
		{op: "getBenchWorkbook", path: bench + "/tables.xlsx", want: "xl/workbook.xml"},
		{op: "getBenchWorkbook", path: "/benches/nobody/tables.xlsx", status: 404},
		{op: "sendPackage", path: "/packages/uploads?file=trial.zip", body: func(*world) any { return packageOut }, kind: "application/zip", want: `"light-levels.trial.yaml"`, keep: leave("package", "upload")},
		{op: "sendPackage", path: "/packages/uploads?file=trial.zip", body: "no package", kind: "application/zip", status: 422},
		{op: "previewPackage", path: "/packages/uploads/{package}", want: `"there_already":[`},
		{op: "previewPackage", path: "/packages/uploads/none", status: 410},
		{op: "takePackage", path: "/packages", body: `{"upload":"{package}","by":"Ida"}`, status: 200, want: `"new":0`},
		{op: "takePackage", path: "/packages", body: `{"upload":"none"}`, status: 410},
		{op: "getTrialPackage", path: "/trials/panels.trial/package.zip", keep: func(w *world, a answer) {
			packageOut = a.body
			for _, name := range []string{"panels.trial.yaml", "panels.trial.csv"} { // another place, that has no such trial
				if err := os.Remove(filepath.Join(w.dir, name)); err != nil {
					w.Fatal(err)
				}
			}
		}},
		{op: "sendPackage", path: "/packages/uploads?file=panels.zip", body: func(*world) any { return packageOut }, kind: "application/zip", want: `"ready":true`, keep: leave("package", "upload")},
		{op: "takePackage", path: "/packages", body: `{"upload":"{package}","by":"Ida"}`, want: `"import":"im`, keep: leave("taken", "import")},
		{op: "getTrial", path: "/trials/panels.trial", want: `"name":"Two panels"`},
		{op: "undoImport", path: "/imports/{taken}", want: `"kind":"package"`},
		{op: "getTrial", path: "/trials/panels.trial", status: 404},

		// Notes of a bench.
		{op: "sendNotes", path: bench + "/uploads?file=diary.csv", body: diary, kind: "text/csv", want: `"kind":"plants"`, keep: leave("diary", "upload")},
		{op: "sendNotes", path: bench + "/uploads", body: "\x00\x01", kind: "text/csv", status: 422},
		{op: "sendNotes", path: "/benches/nobody/uploads", body: diary, kind: "text/csv", status: 404},
		{op: "previewNotes", path: bench + "/uploads/{diary}?column=Weight+%28g%29%3Dmass&by=Ida", want: `"new":2`},
		{op: "previewNotes", path: bench + "/uploads/{diary}?column=Nothing%3Dmass", want: `"wrong":"The sheet has no column`},
		{op: "previewNotes", path: bench + "/uploads/{diary}?column=Weight", status: 422, want: "#column"},
		{op: "previewNotes", path: bench + "/uploads/none", status: 410},
		{op: "takeNotes", path: bench + "/imports", body: `{"upload":"{diary}","columns":{"Weight (g)":"mood"}}`, status: 422, want: "The preview says what is in the way"},
		{op: "takeNotes", path: bench + "/imports", body: `{"upload":"{diary}","by":"Ida"}`, head: map[string]string{"Idempotency-Key": "diary"}, want: `"new":2`, keep: leave("taken", "import")},
		{op: "takeNotes", path: bench + "/imports", body: `{"upload":"{diary}","by":"Ida"}`, head: map[string]string{"Idempotency-Key": "diary"}, want: `"new":2`, keep: func(w *world, a answer) {
			if a.head.Get("Idempotent-Replayed") != "true" {
				w.Errorf("sent again: %v", a.head)
			}
		}},
		{op: "takeNotes", path: bench + "/imports", body: `{"upload":"{diary}","by":"Ida"}`, status: 200, want: `"there_already":2`},
		{op: "takeNotes", path: bench + "/imports", body: `{"upload":"none"}`, status: 410},
		{op: "listImports", path: "/imports", want: `"file":"diary.csv"`},
		{op: "undoImport", path: "/imports/{taken}?by=Ida", want: `"taken_back":"`},
		{op: "undoImport", path: "/imports/{taken}", status: 409, want: "taken back already"},
		{op: "undoImport", path: "/imports/none", status: 404},

		// People and settings.
		{op: "getSettings", path: "/settings", want: "{", keep: tag("settings")},
		{op: "putSettings", path: "/settings", body: map[string]any{"numbers": "12 345,6"}, head: map[string]string{"If-Match": "{settings}"}, want: `"numbers":"12 345,6"`},
		{op: "putSettings", path: "/settings", body: map[string]any{}, head: map[string]string{"If-Match": "{settings}"}, status: 412, want: "Nothing was written"},
		{op: "putSettings", path: "/settings", body: map[string]any{"zone": "Nowhere/At_all"}, head: map[string]string{"If-Match": "*"}, status: 422},
		{op: "putSettings", path: "/settings", body: map[string]any{}, status: 428},
		{op: "invite", path: "/people/invitations", body: map[string]any{"person": "Ida", "role": "helper"}, want: `"code":"`, keep: letIn},
		{op: "invite", path: "/people/invitations", body: map[string]any{"person": "Malte", "role": "viewer"}, want: "/pair#"},
		{op: "invite", path: "/people/invitations", body: map[string]any{"person": "Ida", "role": "king"}, status: 422, want: "/role"},
		{op: "getPeople", path: "/people", want: `"person":"Ida","role":"helper"`},
		{op: "endSession", path: "/people/sessions/{session}"},
		{op: "endSession", path: "/people/sessions/none", status: 404, want: "no such session"},
		{op: "removePerson", path: "/people/Malte", want: `"ended":1`},
		{op: "removePerson", path: "/people/Nobody", status: 404, want: "Nobody of this name"},
		{op: "makeBackup", path: "/settings/backup", want: "PK\x03\x04"},
		{op: "getCertificate", path: "/server/certificate", want: `"fingerprint":"`},
		{op: "getCertificateFile", path: "/server/certificate.crt", want: "made up"},
	}
}

func records(key, unit, value string) map[string]any {
	return map[string]any{"records": []any{map[string]any{"key": key, "unit": unit, "plant": "P1", "what": "mass", "value": value, "time": "2026-11-20", "by": "Ida"}}}
}

// otherPicture is a picture of nothing.
func otherPicture() []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 64)), nil); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// An authority is made up.
type authority struct{}

func (authority) DER() []byte         { return []byte("made up") }
func (authority) Name() string        { return "underlamp of a cellar" }
func (authority) Fingerprint() string { return "00:11:22" }
func (authority) Ends() time.Time     { return time.Date(2036, 1, 1, 0, 0, 0, 0, time.UTC) }
