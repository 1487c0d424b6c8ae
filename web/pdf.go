package web

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"time"

	"underlamp/report"
	"underlamp/report/pdf"
	"underlamp/science/quantity"
)

// sendPDF answers with a page as PDF, its numbers in the marks that are set. It takes a fifth of
// a second for the longest. The paper is that of the units, or what paper= says.
func (s *Site) sendPDF(w http.ResponseWriter, r *http.Request, name string, page []byte, units quantity.System) {
	text, err := s.asPDF(name, page, units, r.FormValue("paper"))
	if errors.Is(err, errPaper) {
		s.fail(w, http.StatusUnprocessableEntity, asSentence(upperFirst(err.Error())), "Leave paper= out of the address for the usual one.")
		return
	}
	if err != nil {
		s.log.Error("pdf", "err", err)
		s.fail(w, http.StatusUnprocessableEntity, asSentence(upperFirst(err.Error())), "The page itself can be opened and printed.")
		return
	}
	h := w.Header()
	h.Set("Content-Type", "application/pdf")
	h.Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", name))
	h.Set("Cache-Control", "no-store")
	w.Write(text)
}

// errPaper says that there is no such paper.
var errPaper = errors.New("this paper is not known here")

// asPDF is a page as PDF, on paper of that name; empty: the usual one of the units.
func (s *Site) asPDF(name string, page []byte, units quantity.System, paper string) ([]byte, error) {
	on := pdf.A4
	if units == quantity.US {
		on = pdf.Letter
	}
	if paper != "" {
		var err error
		if on, err = pdf.PaperOf(paper); err != nil {
			return nil, fmt.Errorf("%w: %w", errPaper, err)
		}
	}
	day := s.today()
	var b bytes.Buffer
	made, err := pdf.Write(&b, inMarks(page, s.benches.set().Marks()), pdf.Options{Paper: on, Written: day.Format(time.DateOnly), Version: s.version,
		Created: time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, time.UTC)})
	if err != nil {
		return nil, err
	}
	for _, says := range made.Says() {
		s.log.Warn("pdf", "file", name, "lacks", says)
	}
	return b.Bytes(), nil
}

// sheetPDF is the sheet of a trial as PDF.
func (s *Site) sheetPDF(w http.ResponseWriter, r *http.Request) {
	id, p := s.trialOf(w, r)
	if p == nil {
		return
	}
	sheet, err := s.sheetOf(p.Trial, r.FormValue("start"), r.FormValue("days"))
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, asSentence(err.Error()), "Go back and mend it.")
		return
	}
	s.sendPDF(w, r, id+".sheet.pdf", report.TrialSheet(sheet), s.benches.set().System(quantity.Metric))
}
