package web

import (
	"errors"
	"html/template"
	"math"
	"net/http"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/app/aim"
	"underlamp/app/light"
	"underlamp/report"
	"underlamp/science/quantity"
)

// aimColumns is the number of columns of the two small plans.
const aimColumns = 25

// An aimForm is what a person has asked, as the form shows it again.
type aimForm struct {
	Level     string
	Unit      string // ppfd or dli
	Goal      string // least, even, within
	Mean      bool   // for the mean, not for every plant
	OneDimmer bool
	Keep      bool // leave the lamps where they hang
}

// Is tells a template which choice is taken.
func (f aimForm) Is(what, word string) bool {
	return map[string]string{"unit": f.Unit, "goal": f.Goal}[what] == word
}

// readAim reads the form from the address; a form not sent yet gets the present
// mean as its level, or the target of the bench.
func readAim(r *http.Request, now, target quantity.PPFD) (aimForm, aim.Ask, error) {
	f := aimForm{Level: r.FormValue("level"), Unit: "ppfd", Goal: "least", Mean: r.FormValue("mean") != "", OneDimmer: r.FormValue("one") != "", Keep: r.FormValue("keep") != ""}
	if r.FormValue("unit") == "dli" {
		f.Unit = "dli"
	}
	if g := r.FormValue("goal"); g == "even" || g == "within" {
		f.Goal = g
	}
	ask := aim.Ask{Mean: f.Mean, OneDimmer: f.OneDimmer, KeepHeight: f.Keep}
	switch f.Goal {
	case "even":
		ask.Goal = aim.MostEven
	case "within":
		ask.Goal = aim.MostWithin
	}
	if f.Level == "" && target > 0 {
		now = target
	}
	if f.Level == "" {
		f.Level = strconv.FormatFloat(math.Round(float64(now)), 'f', -1, 64)
	}
	level, err := strconv.ParseFloat(strings.Replace(f.Level, ",", ".", 1), 64)
	if err != nil || !(level > 0) || math.IsInf(level, 0) {
		return f, ask, errors.New("the level wanted must be a number above 0")
	}
	if f.Unit == "dli" {
		ask.DLI = quantity.DLI(level)
	} else {
		ask.PPFD = quantity.PPFD(level)
	}
	return f, ask, nil
}

// aim asks for a target of light and shows before and after.
func (s *Site) aim(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	b := e.bench
	lit, err := e.at(b.Setting())
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, err.Error(), "Look at the bench file.")
		return
	}
	before := lit.Answer(nil, aimColumns)
	form, ask, err := readAim(r, quantity.PPFD(before.Mean.Value), b.Limits.Target)
	page := struct {
		Title, ID, Bench, Wrong string
		Form                    aimForm
		Result                  template.HTML
		Take                    string // address of the bench at the proposal; empty if its lamps are dimmed apart
		Found                   bool
		Cautions                template.HTML
	}{Title: "A target of light", ID: e.id, Bench: b.Name, Form: form, Cautions: report.Cautions()}
	status := http.StatusOK
	if err == nil && r.FormValue("level") != "" {
		var result *aim.Result
		var after *light.Answer
		if result, err = aim.Reach(r.Context(), e.model, ask, nil); err == nil {
			after, err = litAfter(e.model, result)
		}
		if err == nil {
			page.Found = result.Found
			page.Take = takeAddress(e.id, b, &result.After)
			page.Result = report.AimSection(e.model, result, before, after, report.Wanted(b, &result.Ask))
		}
	}
	if err != nil {
		if r.Context().Err() != nil {
			return // the visitor has left
		}
		status, page.Wrong = http.StatusUnprocessableEntity, err.Error()
	}
	s.page(w, status, "aim.tmpl", page)
}

// litAfter is the light of a proposal.
func litAfter(m *light.Model, r *aim.Result) (*light.Answer, error) {
	lit, err := m.At(r.After.Height)
	if err != nil {
		return nil, err
	}
	return lit.AnswerDimmed(r.After.Dim, r.After.Hours, aimColumns), nil
}

// takeAddress is the page of the bench at a proposal with one dimming for all.
func takeAddress(id string, b *underlamp.Bench, p *aim.Proposal) string {
	for _, d := range p.Dim {
		if d != p.Dim[0] {
			return ""
		}
	}
	_, perMetre := quantity.Length.Shown(b.Units)
	_, perShare := quantity.Share.Shown(b.Units)
	text := func(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }
	return "/bench/" + id + "?height=" + text(float64(p.Height)*perMetre) + "&dimming=" + text(float64(p.Dim[0])*perShare) + "&hours=" + text(float64(p.Hours))
}
