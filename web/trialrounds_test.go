package web_test

import (
	"context"
	"fmt"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"underlamp/app/kept"
	"underlamp/demo"
	"underlamp/safefolder"
	"underlamp/store/sqlite"
	"underlamp/web"
)

// trialOnBench is a trial of the bench that rounds walk by.
func trialOnBench() string {
	return fmt.Sprintf(`underlamp trial: 1
name: Two panels
bench: %s.yaml
table: panels.trial.csv
response: mass
layout: blocks
seed: 1
treatments:
  - {name: low}
  - {name: high}
cycles:
  - {block: one, transplanted: %s}
units:
  - {name: A1, treatment: low, block: one, lamp: left panel, plants: 9}
  - {name: A2, treatment: high, block: one, lamp: right panel, plants: 9}
`, roundBench, time.Now().UTC().AddDate(0, 0, -30).Format(time.DateOnly))
}

// What a phone has sent is shown on the page of the trial, taken over with a button, stands
// in its record and its findings, in a folder and in a store alone; guards are not due.
func TestRoundsIntoATrial(t *testing.T) {
	for _, where := range []string{"folder", "store"} {
		t.Run(where, func(t *testing.T) {
			ctx := context.Background()
			s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "store.db"))
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { s.Close() })
			o := web.Options{Hosts: []string{"127.0.0.1"}, Rounds: s, Zone: time.UTC}
			if where == "folder" {
				dir := folder(t)
				o.Folder, o.Trials = os.DirFS(dir), safefolder.New(dir)
			} else {
				if _, _, err := kept.Import(ctx, s, demo.Folder(), kept.Options{Now: time.Now(), Since: time.Now().Add(-time.Hour)}); err != nil {
					t.Fatal(err)
				}
				place := kept.NewPlace(ctx, s, time.Now)
				o.Folder, o.Trials = place, place
			}
			if err := o.Trials.Change("panels.trial.yaml", func([]byte) ([]byte, error) { return []byte(trialOnBench()), nil }); err != nil {
				t.Fatal(err)
			}
			site := httptest.NewServer(web.New(o).Handler())
			t.Cleanup(site.Close)
			at := site.URL + "/trial/panels.trial"
			_, _, record := get(t, at+"/record?unit=A1")
			due := regexp.MustCompile(`0 of (\d+)`).FindStringSubmatch(record)
			if due == nil || due[1] == "9" || !strings.Contains(record, "guard") {
				t.Errorf("guards are due: %v", due)
			}

			if _, _, page := get(t, at+"/rounds"); !strings.Contains(page, "nothing was seen on rounds yet") {
				t.Errorf("before any round: %s", page)
			}
			// Every plant of the bench, so that some count.
			var sent []string
			for i := range 18 {
				sent = append(sent, fmt.Sprintf(`"id":"entry-%04d","plant":"P%d","what":"mass","typed":"%d g","by":"Jon"`, i, i+1, 100+i))
			}
			if status, answer := postRaw(t, site.URL+"/bench/"+roundBench+"/rounds/send", "application/json", []byte(packetOf("phone-aaaa", 0, sent...))); status != 200 {
				t.Fatal(status, answer)
			}
			if _, _, page := get(t, at+"/record"); !strings.Contains(page, "values of the rounds of the bench can be taken over") {
				t.Error("the record does not tell of the rounds")
			}
			if _, _, page := get(t, site.URL+"/bench/"+roundBench+"/seen"); !strings.Contains(page, `href="/trial/panels.trial/rounds"`) {
				t.Error("what was seen does not tell of the trial")
			}
			_, _, page := get(t, at+"/rounds")
			seen := regexp.MustCompile(`name="seen" value="([0-9a-f]+)"`).FindStringSubmatch(page)
			rows := strings.Count(page, "Fresh mass")
			if seen == nil || rows == 0 || rows == 18 || !strings.Contains(page, "guard plants, which do not count") {
				t.Fatalf("%d rows: %s", rows, page)
			}
			if status, page := postForm(t, at+"/rounds", url.Values{"seen": {seen[1]}}); status != 422 || !strings.Contains(page, "Write who takes them over.") {
				t.Errorf("without a name: %d", status)
			}
			if status, page := postForm(t, at+"/rounds", url.Values{"seen": {"00"}, "by": {"Ida"}}); status != 409 || !strings.Contains(page, "have changed since this was shown") {
				t.Errorf("what was not shown: %d", status)
			}
			status, to := postForm(t, at+"/rounds", url.Values{"seen": {seen[1]}, "by": {"Ida"}})
			if status != 303 || to != fmt.Sprintf("/trial/panels.trial/rounds?taken=%d", rows) {
				t.Fatalf("%d %s", status, to)
			}
			if _, _, page := get(t, site.URL+to); !strings.Contains(page, "were written into the table") || !strings.Contains(page, fmt.Sprintf("the %d values of the rounds", rows)) {
				t.Errorf("after it: %s", page)
			}
			if _, _, page := get(t, at); !strings.Contains(page, fmt.Sprintf("Where the %d values are from: %d from the rounds of the bench", rows, rows)) {
				t.Errorf("findings: %s", page)
			}
			if _, _, page := get(t, site.URL+"/trials"); !strings.Contains(page, "Every plant has its mass") {
				t.Error("the trial is not done though every plant that counts has its value")
			}
		})
	}
}
