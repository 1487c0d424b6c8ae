package web

import (
	"html/template"
	"net/http"

	"underlamp/app/lamp"
	"underlamp/report"
	"underlamp/science/quantity"
)

// lamps shows the lamps of a bench by kind: light by angle, light by wavelength.
func (s *Site) lamps(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	lit, err := e.at(e.bench.Setting())
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, err.Error(), "Look at the bench file.")
		return
	}
	kinds := lamp.Kinds(e.model, quantity.PPFD(lit.Answer(nil, 5).Mean.Value))
	s.page(w, http.StatusOK, "lamps.tmpl", struct {
		Title, ID, Bench string
		Lamps, Cautions  template.HTML
	}{"Lamps of " + e.bench.Name, e.id, e.bench.Name, report.LampsSection(e.bench, kinds), report.Cautions()})
}
