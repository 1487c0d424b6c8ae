package web_test

import (
	"bytes"
	"context"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"underlamp/app/dataset"
	"underlamp/app/trialbook"
	"underlamp/demo"
)

var hidden = regexp.MustCompile(`<input type="hidden" name="([^"]*)" value="([^"]*)">`)

// keepForm is what the button Keep sends.
func keepForm(page string) url.Values {
	_, form, _ := strings.Cut(page, `class="once">`)
	form, _, _ = strings.Cut(form, "</form>")
	v := url.Values{}
	for _, m := range hidden.FindAllStringSubmatch(form, -1) {
		v.Add(html.UnescapeString(m[1]), html.UnescapeString(m[2]))
	}
	return v
}

// A diary is looked at, a conflict decided, what cannot be read left out, the rest kept, shown
// on the page of what was seen, and taken back.
func TestNotesOnThePage(t *testing.T) {
	s, _ := everything(t)
	root, into := s.URL, demo.SensorBench
	status, to := sendInto(t, root+"/import", into, "../../etc/diary <b>.csv", demo.File("tier-2-middle.diary.csv"))
	if status != 303 || !strings.HasPrefix(to, "/import/") {
		t.Fatalf("%d %s", status, to)
	}
	status, _, page := get(t, root+to)
	for _, want := range []string{"11 new, 1 there already, 1 in conflict, 1 that cannot be read", "diary &lt;b&gt;.csv", "ca. 130", "line 8, column 3", "Nothing can be kept yet"} {
		if status != 200 || !strings.Contains(page, want) {
			t.Errorf("%d: %q is not on the page", status, want)
		}
	}
	if strings.Contains(page, "Keep 11") {
		t.Error("it can be kept although a cell cannot be read")
	}
	to += "&skip=1&counts=" + url.QueryEscape("line 8, column 3") + "&by=Ida"
	_, _, page = get(t, root+to)
	if !strings.Contains(page, "Keep 12") || !strings.Contains(page, "instead of 242 g") {
		t.Fatalf("the conflict is not decided:\n%s", page)
	}
	path, _, _ := strings.Cut(to, "?")
	status, went := postForm(t, root+path, keepForm(page))
	if status != 303 || !strings.Contains(went, "kept=im") {
		t.Fatalf("%d %s", status, went)
	}
	_, _, page = get(t, root+went)
	if !strings.Contains(page, "Kept: what was seen of plants, 12 new, 1 instead of others") || !strings.Contains(page, "Take it back") {
		t.Errorf("%s", page)
	}
	if _, _, seen := get(t, root+"/bench/"+into+"/seen?plant=P8"); !strings.Contains(seen, "corrected to 236 g") {
		t.Error("what was kept is not among what was seen")
	}
	if status, again := postForm(t, root+path, keepForm(page)); status != http.StatusGone {
		t.Errorf("without a bench: %d %s", status, again)
	}
	// The same again brings nothing.
	_, to2 := sendInto(t, root+"/import", into, "diary.csv", demo.File("tier-2-middle.diary.csv"))
	_, _, again := get(t, root+to2)
	if !strings.Contains(again, "0 new, 13 there already, 0 in conflict") || !strings.Contains(again, "As in the import of") {
		t.Error("the same again is not known")
	}
	id := regexp.MustCompile(`kept=(im[0-9a-f]+)`).FindStringSubmatch(went)[1]
	if status, went := postForm(t, root+"/import/undo", url.Values{"import": {id}, "by": {"Ida"}}); status != 303 || !strings.Contains(went, "undone="+id) {
		t.Errorf("%d %s", status, went)
	}
	if _, _, seen := get(t, root+"/bench/"+into+"/seen?plant=P8"); !strings.Contains(seen, "242 g") || strings.Contains(seen, "counts</td><td>236") {
		t.Error("what was there does not count again")
	}
	if status, _ := postForm(t, root+"/import/undo", url.Values{"import": {id}}); status != 422 {
		t.Errorf("taken back twice: %d", status)
	}
	for name, c := range map[string]struct {
		into   string
		raw    []byte
		status int
	}{
		"nobody.csv": {"nobody", []byte("plant,mass\nP1,3\n"), 422},
		"photo.xlsx": {into, []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"), 422},
		"empty.csv":  {into, nil, 422},
		"old.xls":    {into, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\x00\x00\x00"), 422},
		"head.csv":   {into, []byte("plant,mass\n"), 422},
	} {
		if status, page := sendInto(t, root+"/import", c.into, name, c.raw); status != c.status {
			t.Errorf("%s: %d %s", name, status, page)
		}
	}
	// A data package brings its files, and is refused where others of other content are in the way.
	packed := packageOf(t)
	status, to = sendInto(t, root+"/import", into, "p.zip", packed)
	if _, _, page := get(t, root+to); status != 303 || !strings.Contains(page, "0 new files, 3 there already") {
		t.Errorf("%d\n%s", status, page)
	}
	// A sheet of a trial goes to the page of the trial.
	if status, to := sendInto(t, root+"/import", "trial:light-levels.trial", "harvest.csv", demo.File("light-levels.harvest5.csv")); status != 303 || !strings.HasPrefix(to, "/trial/light-levels.trial/import/") {
		t.Errorf("%d %s", status, to)
	}
}

// Readings of light and finished crops come in by the same page.
func TestReadingsAndCropsOnThePage(t *testing.T) {
	s, _ := everything(t)
	root, into := s.URL, demo.SensorBench
	for name, c := range map[string]struct{ text, say, want, keep string }{
		"light.csv": {"at plant;PPFD (umol/m2/s)\nP1;150\nP2;171,5\n", "&height=5+cm&day=2026-11-20", "2 new", "readings of light"},
		"crops.csv": {"Sown;Harvest;Heads;Total (kg)\n1.3.2026;5.5.2026;18;2,7\n", "&seedlings=14", "18 heads of 150 g", "finished crops"},
	} {
		_, to := sendInto(t, root+"/import", into, name, []byte(c.text))
		_, _, page := get(t, root+to)
		if !strings.Contains(page, "say how") {
			t.Errorf("%s: it is not asked", name)
		}
		_, _, page = get(t, root+to+c.say)
		if !strings.Contains(page, c.want) {
			t.Fatalf("%s\n%s", name, page)
		}
		path, _, _ := strings.Cut(to, "?")
		status, went := postForm(t, root+path, keepForm(page))
		if status != 303 || !strings.Contains(went, "kept=im") {
			t.Fatalf("%s: %d %s", name, status, went)
		}
		if _, _, page := get(t, root+went); !strings.Contains(page, c.keep) {
			t.Errorf("%s\n%s", name, page)
		}
		id := regexp.MustCompile(`kept=(im[0-9a-f]+)`).FindStringSubmatch(went)[1]
		if status, _ := postForm(t, root+"/import/undo", url.Values{"import": {id}}); status != 303 {
			t.Errorf("%s: %d", name, status)
		}
	}
}

func packageOf(t *testing.T) []byte {
	t.Helper()
	p, err := trialbook.Open(demo.Folder(), "light-levels.trial.yaml")
	if err != nil {
		t.Fatal(err)
	}
	pack, err := dataset.OfTrial(context.Background(), dataset.Ask{Folder: demo.Folder(), Created: time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC), Program: dataset.Program{Name: "underlamp", Version: "test"}}, p)
	if err != nil {
		t.Fatal(err)
	}
	var raw bytes.Buffer
	if err := dataset.Write(&raw, pack, dataset.FormatPackage, ""); err != nil {
		t.Fatal(err)
	}
	return raw.Bytes()
}
