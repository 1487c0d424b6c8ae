package web

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"underlamp"
	"underlamp/access"
	"underlamp/app/air"
	"underlamp/app/environment"
	"underlamp/report"
	"underlamp/science/fanjet"
	"underlamp/science/quantity"
)

// airNow is the air of a bench as it is, with the draws of a what-if: both sides of a
// comparison are of the same draws.
type airNow struct {
	once sync.Once
	now  *air.Answer
	err  error

	heartMu sync.Mutex
	hearts  map[string]*air.Hearts // by what was turned; few, for each costs a second
}

// mostHearts is how many comparisons over speeds and nights a bench keeps.
const mostHearts = 16

// airOf computes the air of a bench that differs from that of the entry in air and room alone.
func (e *entry) airOf(b *underlamp.Bench, day int) (*air.Answer, error) {
	if e.refused != nil {
		lit, err := e.at(b.Setting())
		if err != nil {
			return nil, err
		}
		return air.Of(b, nil, e.refused, lit.Answer(nil, 5).Mean.Value, day), nil
	}
	f, err := e.fast.Under(b, air.WhatIfDraws)
	if err != nil {
		return nil, err
	}
	return air.Of(b, f, nil, f.AtSurface, day), nil
}

// airControl is one value that a person turns.
type airControl struct {
	Name, Label, Unit     string
	Value, Min, Max, Step string
	Reach                 string // where the slider ends
	Start                 string
	Default               bool
}

// An airAsk is what a person turned, and what they ask of a fan.
type airAsk struct {
	bench    *underlamp.Bench // as turned
	changed  bool
	Controls []airControl
	Fans     []choice // where the air is blown
	Day      string
	Days     int
	day      int

	Blades, Flow, Distance, Count string
	Aim                           string
	Readings                      string
	blades                        air.Blades
}

func airText(v float64) string { return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64) }

// readAir reads the address. What is missing or nonsense is that of the bench; what is beyond
// a span is brought back, so that a slider always answers.
func readAir(e *entry, r *http.Request) airAsk {
	b := e.bench
	u := b.Units
	a := airAsk{bench: b, Days: b.Crop.Days.Value}
	for _, k := range air.Knobs() {
		is := k.Of(b)
		start, unit := k.Shown(is, u)
		low, _ := k.Shown(min(k.Low, is), u)
		high, _ := k.Shown(max(k.High, is), u)
		reach, _ := k.Shown(k.SlideTo(b), u)
		c := airControl{Name: k.Name, Label: k.Label, Unit: unit, Start: airText(start), Value: airText(start), Min: airText(low), Max: airText(high), Step: airText(k.Step), Reach: airText(reach), Default: k.IsDefault(b)}
		if v, err := number(r.FormValue(k.Name)); err == nil && airText(v) != c.Start {
			v = min(max(v, low), high)
			if turned, err := k.Turn(a.bench, min(max(k.Kept(v, u), k.Low), k.High)); err == nil {
				a.bench, c.Value, c.Default = turned, airText(v), false
			}
		}
		a.Controls = append(a.Controls, c)
	}
	aim := string(b.Air.Fan.Value)
	for _, f := range underlamp.FanAims() {
		if r.FormValue("fan") == string(f) {
			aim = string(f)
		}
	}
	if aim != string(b.Air.Fan.Value) {
		a.bench = air.Aimed(a.bench, underlamp.FanAim(aim))
		for i := range a.Controls {
			if a.Controls[i].Name == "speed" {
				v, _ := quantitySpeed(float64(a.bench.Air.Speed.Value), u)
				a.Controls[i].Value = airText(v)
			}
		}
	}
	for _, f := range underlamp.FanAims() {
		name := map[underlamp.FanAim]string{underlamp.NoFan: "no fan", underlamp.Across: "across the heads", underlamp.Down: "down onto the hearts"}[f]
		a.Fans = append(a.Fans, choice{string(f), name, string(f) == aim})
	}
	a.changed = a.bench != b
	if d, err := strconv.Atoi(r.FormValue("day")); err == nil && d >= 1 {
		a.day = min(d, a.Days)
		a.Day = strconv.Itoa(a.day)
	}
	return a
}

func quantitySpeed(v float64, u quantity.System) (float64, string) {
	unit, per := quantity.AirSpeed.Shown(u)
	return v * per, unit
}

// number reads one as people type it, with a comma or a point.
func number(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, errors.New("no number")
	}
	return v, nil
}

// nowAir is the air of the bench as it is, kept for the day on which most water must go.
func (e *entry) nowAir(day int) (*air.Answer, error) {
	if day != 0 {
		return e.airOf(e.bench, day)
	}
	e.air.once.Do(func() { e.air.now, e.air.err = e.airOf(e.bench, 0) })
	return e.air.now, e.air.err
}

// airHTML is the first section of the page.
func (e *entry) airHTML(a airAsk) (template.HTML, error) {
	now, err := e.nowAir(a.day)
	if err != nil {
		return "", err
	}
	if !a.changed {
		return report.AirSection(now, nil), nil
	}
	then, err := e.airOf(a.bench, a.day)
	if err != nil {
		return "", err
	}
	return report.AirSection(now, then), nil
}

// heartsOf asks the outlook over air speeds and nights.
func (e *entry) heartsOf(ctx context.Context, a airAsk) (*air.Hearts, error) {
	x := a.bench.Air
	key := fmt.Sprint(x.Day.Temperature.Value, x.Day.Humidity.Value, x.Night.Temperature.Value, x.Night.Humidity.Value, x.Speed.Value, x.Fan.Value, x.CO2.Value, x.Altitude.Value)
	e.air.heartMu.Lock()
	defer e.air.heartMu.Unlock()
	if h := e.air.hearts[key]; h != nil {
		return h, nil
	}
	h, err := air.HeartsOf(ctx, a.bench, e.fast, 0)
	if err != nil {
		return nil, err
	}
	if e.air.hearts == nil || len(e.air.hearts) >= mostHearts {
		e.air.hearts = map[string]*air.Hearts{}
	}
	e.air.hearts[key] = h
	return h, nil
}

// airPage shows the air of a bench.
func (s *Site) airPage(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	a := readAir(e, r)
	main, err := e.airHTML(a)
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, err.Error(), "Look at the bench file.")
		return
	}
	view := struct {
		Title, ID, Bench string
		airAsk
		Changed       bool
		Main          template.HTML
		Hearts        template.HTML
		Recorded      []string
		Blown, Survey []string
		Wrong         string
		Refused       bool
		LengthUnit    string
		FlowUnit      string
		SpeedUnit     string
		Cautions      template.HTML
		Ask           string // address of the page with the comparison over the hearts
		Edit          string // address of the fields of room and altitude; empty: not here, or not for the visitor
	}{Title: "Air of " + e.bench.Name, ID: e.id, Bench: e.bench.Name, Changed: a.changed, Main: main, Refused: e.refused != nil, Cautions: report.Cautions()}
	u := e.bench.Units
	view.LengthUnit, _ = quantity.Length.Shown(u)
	view.FlowUnit, _ = quantity.AirFlow.Shown(u)
	view.SpeedUnit, _ = quantity.AirSpeed.Shown(u)
	view.airAsk = a
	view.Edit = s.pagesOfBench(r, e.id)(environment.EditPage, "room")
	q := r.URL.Query()
	q.Set("hearts", "1")
	view.Ask = "/bench/" + e.id + "/air?" + q.Encode() + "#hearts"
	var hearts *air.Hearts
	if r.FormValue("hearts") != "" && e.refused == nil {
		if hearts, err = e.heartsOf(r.Context(), a); err != nil {
			if r.Context().Err() != nil {
				return
			}
			s.log.Error("air", "err", err)
		} else {
			view.Hearts = report.HeartsSection(a.bench, hearts)
		}
	}
	status := http.StatusOK
	if wrong := view.readFan(r, e.bench); wrong != nil {
		status, view.Wrong = http.StatusUnprocessableEntity, wrong.Error()
	} else if view.Blades != "" {
		if blown, err := air.Blow(a.bench, view.airAsk.blades); err != nil {
			status, view.Wrong = http.StatusUnprocessableEntity, err.Error()
		} else {
			if hearts == nil && e.refused == nil {
				hearts, _ = e.heartsOf(r.Context(), a) // without it the fan is still told
			}
			view.Blown = air.BlownSentences(a.bench, blown, hearts)
		}
	}
	if view.Readings = strings.TrimSpace(r.FormValue("readings")); view.Readings != "" {
		readings, err := air.ParseReadings(view.Readings)
		if err == nil {
			var survey fanjet.Survey
			if survey, err = fanjet.SurveyOf(readings); err == nil {
				view.Survey = air.SurveySentences(survey, u)
			}
		}
		if err != nil {
			status, view.Wrong = http.StatusUnprocessableEntity, err.Error()
		}
	}
	if s.live != nil && access.Members.Has(access.From(r.Context())) {
		switch record, err := air.Recorded(r.Context(), s.live, e.bench, e.id, time.Now()); {
		case err != nil:
			s.log.Error("air", "err", err) // the rest of the page does not need it
		case record != nil:
			view.Recorded = air.RecordSentences(e.bench, record, s.zoneNow())
		}
	}
	s.page(w, status, "air.tmpl", view)
}

// readFan reads what is asked of a fan.
func (a *airAsk) readFan(r *http.Request, b *underlamp.Bench) error {
	a.Blades, a.Flow, a.Distance, a.Count, a.Aim = r.FormValue("blades"), r.FormValue("flow"), r.FormValue("distance"), r.FormValue("fans"), r.FormValue("aim")
	if a.Blades == "" && a.Flow == "" && a.Distance == "" {
		return nil
	}
	_, perMetre := quantity.Length.Shown(b.Units)
	_, perFlow := quantity.AirFlow.Shown(b.Units)
	read := func(what, text string) (float64, error) {
		v, err := number(text)
		if err != nil || !(v > 0) {
			return 0, fmt.Errorf("the %s must be a number above 0", what)
		}
		return v, nil
	}
	d, err1 := read("diameter of the blades", a.Blades)
	q, err2 := read("flow of the fan", a.Flow)
	x, err3 := read("distance to the heads", a.Distance)
	if err := errors.Join(err1, err2, err3); err != nil {
		return errors.New(strings.ReplaceAll(err.Error(), "\n", "; "))
	}
	a.blades = air.Blades{Diameter: quantity.Metre(d / perMetre), Flow: q / perFlow, Distance: quantity.Metre(x / perMetre), Aim: underlamp.Down, Count: 1}
	if a.Aim == string(underlamp.Across) {
		a.blades.Aim = underlamp.Across
	}
	if n, err := strconv.Atoi(a.Count); err == nil {
		a.blades.Count = n
	}
	return nil
}

// airPart is the first section by itself, for the script.
func (s *Site) airPart(w http.ResponseWriter, r *http.Request) {
	s.part(w, r, func(e *entry, _ *underlamp.Setting) (template.HTML, error) { return e.airHTML(readAir(e, r)) })
}

// airHearts is the section over speeds and nights by itself.
func (s *Site) airHearts(w http.ResponseWriter, r *http.Request) {
	s.part(w, r, func(e *entry, _ *underlamp.Setting) (template.HTML, error) {
		if e.refused != nil {
			return report.Unasked(e.refused), nil
		}
		a := readAir(e, r)
		h, err := e.heartsOf(r.Context(), a)
		if err != nil {
			return "", err
		}
		return report.HeartsSection(a.bench, h), nil
	})
}
