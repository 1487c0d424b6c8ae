package web_test

import (
	"bytes"
	"io"
	"net/http"
	"strings"
	"testing"

	"underlamp/internal/pdftest"
)

// fetch is what stands at an address, byte for byte.
func fetch(t *testing.T, address string) (*http.Response, []byte) {
	t.Helper()
	r, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return r, body
}

// Reports and sheet of a trial are had as PDF, and say what the pages say.
func TestPDF(t *testing.T) {
	s := shared(t)
	const trial = "/trial/light-levels.trial"
	if body := written(t, s.URL+trial+"/report"); !strings.Contains(body, `href="`+trial+`/report/trial.pdf"`) || !strings.Contains(body, `href="`+trial+`/report/trial-short.pdf"`) {
		t.Error("the page of reports has no links to the PDF")
	}
	for _, c := range []struct{ path, name, like, paper string }{
		{trial + "/report/trial.pdf?paper=letter", "light-levels.trial-trial.pdf", trial + "/report/trial.html", "612 x 792"},
		{trial + "/report/trial-short.pdf", "light-levels.trial-trial-short.pdf", "", "595.28 x 841.89"},
		{trial + "/sheet.pdf?start=2026-10-01&days=30", "light-levels.trial.sheet.pdf", trial + "/sheet?start=2026-10-01&days=30", "595.28 x 841.89"},
	} {
		r, pdf := fetch(t, s.URL+c.path)
		if r.StatusCode != http.StatusOK || r.Header.Get("Content-Type") != "application/pdf" || !strings.Contains(r.Header.Get("Content-Disposition"), `"`+c.name+`"`) || !bytes.HasPrefix(pdf, []byte("%PDF-")) {
			t.Errorf("%s answers %d, %v", c.path, r.StatusCode, r.Header)
			continue
		}
		if got := pdftest.Info(t, pdf, "Page size"); !strings.HasPrefix(got, c.paper) {
			t.Errorf("%s is set on %s", c.path, got)
		}
		if strings.Contains(c.path, "short") {
			if n := pdftest.Pages(t, pdf); n != 1 {
				t.Errorf("the short form has %d pages", n)
			}
		}
		if c.like != "" {
			_, page := fetch(t, s.URL+c.like)
			pdftest.Check(t, page, pdf)
		}
	}
	for path, status := range map[string]int{
		trial + "/report/trial.pdf?paper=a5":           http.StatusUnprocessableEntity,
		trial + "/report/other.pdf":                    http.StatusNotFound,
		"/trial/nobody.trial/sheet.pdf":                http.StatusNotFound,
		trial + "/sheet.pdf?days=nothing":              http.StatusUnprocessableEntity,
		trial + "/sheet.pdf?start=2026-10-01&paper=a5": http.StatusUnprocessableEntity,
	} {
		if r, _ := fetch(t, s.URL+path); r.StatusCode != status {
			t.Errorf("%s answers %d, not %d", path, r.StatusCode, status)
		}
	}
}
