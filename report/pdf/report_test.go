package pdf_test

import (
	"bytes"
	"context"
	"testing"

	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/demo"
	"underlamp/internal/pdftest"
	"underlamp/report"
	"underlamp/report/pdf"
)

// set makes a PDF, twice: the same input gives the same bytes.
func set(t testing.TB, page []byte, o pdf.Options) ([]byte, pdf.Result) {
	t.Helper()
	var b, again bytes.Buffer
	res, err := pdf.Write(&b, page, o)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := pdf.Write(&again, page, o); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("the second time other bytes come out: %v", err)
	}
	return b.Bytes(), res
}

// findings is the report of a trial of the demo, and sheet its sheet.
func findings(t testing.TB, file string) []byte {
	t.Helper()
	p, err := trialbook.Open(demo.Folder(), file)
	if err != nil {
		t.Fatal(err)
	}
	f, err := p.Findings(context.Background(), demo.Folder(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return (&report.TrialDocument{Findings: f, Head: report.Head{Written: "2026-10-04", Version: "0.0.0-test"}}).HTML()
}

func sheet(t testing.TB, file string) []byte {
	t.Helper()
	p, err := trialbook.Open(demo.Folder(), file)
	if err != nil {
		t.Fatal(err)
	}
	s, err := trial.NewSheet(p.Trial, nil, trial.SheetOptions{Start: "2026-10-01", Days: 30, Gap: 1})
	if err != nil {
		t.Fatal(err)
	}
	return report.TrialSheet(s)
}

// Every word of findings and sheet stands in the PDF in order, tagged as the HTML
// has it, by the judgement of qpdf and poppler. The reports of benches are looked at
// in package report, where they are computed anyway.
func TestTrials(t *testing.T) {
	for name, page := range map[string][]byte{
		"findings": findings(t, "light-levels.trial.yaml"),
		"sheet":    sheet(t, "light-levels.trial.yaml"),
	} {
		t.Run(name, func(t *testing.T) {
			for _, paper := range []pdf.Paper{pdf.A4, pdf.Letter} {
				file, res := set(t, page, pdf.Options{Paper: paper, Written: "2026-10-04", Version: "0.0.0-test"})
				if len(res.Says()) > 0 {
					t.Errorf("what the PDF lacks: %q", res.Says())
				}
				pdftest.Check(t, page, file)
				if paper == pdf.A4 && name == "sheet" {
					pdftest.CheckReading(t, page, file)
				}
			}
		})
	}
}
