package web

import (
	"errors"
	"html/template"
	"math"
	"net/http"
	"strconv"
	"strings"

	"underlamp/app/aim"
	"underlamp/app/light"
	"underlamp/report"
	"underlamp/science/quantity"
)

// A choice is one bench of a list.
type choice struct {
	ID, Name string
	Chosen   bool
}

// A matchForm is what a person has asked, as the form shows it again.
type matchForm struct {
	With          string // the other bench; the same for two groups of plants
	First, Second string // names of plants
	Level         string
	DLI           bool
	Highest       bool
	Heights       bool
	TwoMeters     bool
}

func readMatch(r *http.Request) (matchForm, aim.MatchAsk, error) {
	f := matchForm{With: r.FormValue("with"), First: r.FormValue("first"), Second: r.FormValue("second"), Level: r.FormValue("level"),
		DLI: r.FormValue("by") == "dli", Highest: r.FormValue("highest") != "", Heights: r.FormValue("heights") != "", TwoMeters: r.FormValue("meters") != ""}
	ask := aim.MatchAsk{DLI: f.DLI, Highest: f.Highest, Heights: f.Heights, TwoMeters: f.TwoMeters}
	ask.A.Plants, ask.B.Plants = names(f.First), names(f.Second)
	if f.Level != "" {
		v, err := strconv.ParseFloat(strings.Replace(f.Level, ",", ".", 1), 64)
		if err != nil || !(v > 0) || math.IsInf(v, 0) {
			return f, ask, errors.New("the level wanted must be a number above 0, or nothing")
		}
		ask.Level = v
	}
	return f, ask, nil
}

func names(text string) (out []string) {
	for _, s := range strings.Split(text, ",") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// match brings a bench and another one, or two groups of its plants, to one level.
func (s *Site) match(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	form, ask, err := readMatch(r)
	view := struct {
		Title, ID, Bench, Wrong string
		Form                    matchForm
		Others                  []choice
		Plants                  string
		Result, Cautions        template.HTML
	}{Title: "Two benches at one light", ID: e.id, Bench: e.bench.Name, Form: form, Cautions: report.Cautions()}
	ids, listErr := s.benches.list()
	if listErr != nil {
		s.log.Error("match", "err", listErr)
	}
	other := e
	for _, id := range ids {
		o, err := s.benches.get(id)
		if err != nil || o == nil || o.broken {
			continue
		}
		name := o.bench.Name
		if o.id == e.id {
			name = "two groups of plants on this bench"
		}
		view.Others = append(view.Others, choice{o.id, name, o.id == form.With})
		if o.id == form.With {
			other = o
		}
	}
	for i, p := range e.bench.Plants {
		if i > 0 {
			view.Plants += ", "
		}
		view.Plants += p.Name
	}
	status := http.StatusOK
	if err == nil && form.With != "" {
		view.Result, err = matchHTML(r, e, other, ask)
	}
	if err != nil {
		if r.Context().Err() != nil {
			return
		}
		status, view.Wrong = http.StatusUnprocessableEntity, err.Error()
	}
	s.page(w, status, "match.tmpl", view)
}

func matchHTML(r *http.Request, e, other *entry, ask aim.MatchAsk) (template.HTML, error) {
	if other == e && (len(ask.A.Plants) == 0 || len(ask.B.Plants) == 0) {
		return "", errors.New("one bench needs two groups of plants; name them, parted by commas")
	}
	ask.A.Model, ask.B.Model = e.model, other.model
	res, err := aim.Match(r.Context(), ask)
	if err != nil {
		return "", err
	}
	models := [2]*light.Model{e.model, other.model}
	var lit [2][2]*light.Answer
	for j := range models {
		for i, side := range [2]aim.SideAnswer{res.Before[j], res.After[j]} {
			if i == 1 && !res.Found || j == 1 && other == e {
				continue
			}
			at, err := models[j].At(side.Height)
			if err != nil {
				return "", err
			}
			lit[j][i] = at.AnswerDimmed(side.Dim, side.Hours, aimColumns)
		}
	}
	return report.MatchSection(res, models, lit), nil
}

// raise is the calendar that raises the lamps with the canopy.
func (s *Site) raise(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	u := e.bench.Units
	lengthUnit, perMetre := quantity.Length.Shown(u)
	view := struct {
		Title, ID, Bench, Wrong, LengthUnit string
		Level, Within, Step, Clearance      string
		Result, Cautions                    template.HTML
	}{Title: "Lamps that follow the plants", ID: e.id, Bench: e.bench.Name, LengthUnit: lengthUnit, Cautions: report.Cautions(),
		Level: r.FormValue("level"), Within: r.FormValue("within"), Step: r.FormValue("step"), Clearance: r.FormValue("clearance")}
	var wrong error
	number := func(what, text string, per float64) float64 {
		if text == "" {
			return 0
		}
		v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil || !(v > 0) || math.IsInf(v, 0) {
			wrong = errors.New("the " + what + " must be a number above 0, or nothing")
			return 0
		}
		return v / per
	}
	ask := aim.RaiseAsk{
		PPFD: quantity.PPFD(number("level", view.Level, 1)), Tolerance: quantity.Fraction(number("tolerance", view.Within, 100)),
		Step: quantity.Metre(number("step", view.Step, perMetre)), Clearance: quantity.Metre(number("clearance", view.Clearance, perMetre)),
	}
	status := http.StatusOK
	if wrong == nil {
		res, err := aim.Raise(r.Context(), e.model, ask)
		if wrong = err; err == nil {
			view.Result = report.RaiseSection(res)
		}
	}
	if wrong != nil {
		if r.Context().Err() != nil {
			return
		}
		status, view.Wrong = http.StatusUnprocessableEntity, wrong.Error()
	}
	s.page(w, status, "raise.tmpl", view)
}
