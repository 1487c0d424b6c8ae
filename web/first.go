package web

import (
	"bytes"
	"errors"
	"io/fs"
	"net/http"
	"net/url"
	"strings"

	"underlamp"
	"underlamp/demo"
	"underlamp/formats/benchfile"
	"underlamp/safefolder"
	"underlamp/science/quantity"
)

// firstView is what the first page offers besides benches.
type firstView struct {
	Empty bool
	Demo  bool     // benches of the demo are there, and can be taken away
	Stay  []string // files of the demo that were changed and so have stayed when it was taken away
}

// first is nil where benches are only shown.
func (s *Site) first(r *http.Request, benches int) *firstView {
	if s.desk == nil {
		return nil
	}
	v := &firstView{Empty: benches == 0}
	for _, name := range strings.Split(r.URL.Query().Get("stay"), ",") {
		if info, err := fs.Stat(demo.Folder(), name); err == nil && !info.IsDir() { // nothing else that an address says
			v.Stay = append(v.Stay, name)
		}
	}
	for _, name := range demo.Names() {
		if is, err := fs.ReadFile(s.benches.folder, name); err == nil && bytes.Equal(is, demo.File(name)) {
			v.Demo = true
		}
	}
	return v
}

// A question is one of the five for a new bench.
type question struct {
	Key, Label, Example, Value, Wrong, Assumed string
	Options                                    []string
}

type newView struct {
	Title     string
	Name      string
	US        bool
	Questions []question
	Fault     string
}

func (s *Site) questions(us bool, given func(string) string) []question {
	price := "0.31 EUR/kWh"
	if c := s.benches.set().Currency; c != "" {
		price = "0.31 " + c + "/kWh, or 0.31"
	}
	space, height := "120 x 60 x 45 cm", "32 cm"
	assumed := "120 x 60 x 45 cm"
	if us {
		space, height, assumed = "48 x 24 x 18 in", "13 in", "47 x 24 x 18 in"
	}
	return []question{
		{Key: "space", Label: "Space: width x depth x height, from the planting surface to what is above", Example: space, Assumed: assumed, Value: given("space")},
		{Key: "lamps", Label: "Lamps: how many, watts or photon flux of each, height above the planting surface", Example: "2, 48 W, " + height, Assumed: "2 of 40 W", Value: given("lamps")},
		{Key: "plants", Label: "Plants: how many, and what type", Example: "18 butterhead", Assumed: "18 butterhead", Options: words(underlamp.HeadTypes()), Value: given("plants")},
		{Key: "fan", Label: "Fan: none, across the heads, or down onto the hearts", Example: "across", Assumed: "none", Value: given("fan")},
		{Key: "price", Label: "Electricity: price", Example: price, Assumed: "0.30 EUR/kWh", Value: given("price")},
	}
}

func (s *Site) newPage(w http.ResponseWriter, r *http.Request) {
	us := s.benches.set().System(quantity.Metric) == quantity.US
	if said := r.FormValue("units"); said != "" {
		us = said == "us"
	}
	s.page(w, http.StatusOK, "new.tmpl", newView{Title: "Describe a bench", US: us, Questions: s.questions(us, r.FormValue), Name: r.FormValue("name")})
}

// newSave writes a bench of the answers, as underlamp new does.
func (s *Site) newSave(w http.ResponseWriter, r *http.Request) {
	us := r.PostFormValue("units") == "us"
	v := newView{Title: "Describe a bench", US: us, Questions: s.questions(us, r.PostFormValue), Name: strings.TrimSpace(r.PostFormValue("name"))}
	a := benchfile.Answers{Name: v.Name}
	if us {
		a.Units = quantity.US
	}
	wrong := false
	for i := range v.Questions {
		q := &v.Questions[i]
		if strings.TrimSpace(q.Value) == "" {
			continue // assumed, and marked so
		}
		var err error
		switch q.Key {
		case "space":
			a.Space, err = benchfile.ParseSpace(q.Value)
		case "lamps":
			a.Lamps, err = benchfile.ParseLamps(q.Value)
		case "plants":
			a.Plants, err = benchfile.ParsePlants(q.Value)
		case "fan":
			a.Fan, err = benchfile.ParseFan(q.Value)
		case "price":
			var p quantity.Price
			if p, err = s.priceTyped(q.Value); err == nil {
				a.Price = &p
			}
		}
		if err != nil {
			q.Wrong, wrong = upper(err.Error())+".", true
		}
	}
	var text bytes.Buffer
	if !wrong {
		if err := benchfile.Write(&text, a); err != nil {
			var problems benchfile.Problems
			v.Fault, wrong = upper(err.Error())+".", true
			if errors.As(err, &problems) {
				v.Fault = "These answers describe no bench: " + problemSentence(problems[0])
			}
		}
	}
	if wrong {
		s.page(w, http.StatusUnprocessableEntity, "new.tmpl", v)
		return
	}
	wish := v.Name
	if wish == "" {
		wish = "my bench"
	}
	id, err := s.desk.Free(r.Context(), wish)
	if err == nil {
		err = s.desk.Create(r.Context(), id, text.Bytes(), "", "described on the first page")
	}
	if errors.Is(err, safefolder.ErrThere) {
		v.Fault = "A bench of this name has just come. Give yours another."
		s.page(w, http.StatusConflict, "new.tmpl", v)
		return
	} else if err != nil {
		s.log.Error("new", "err", err)
		v.Fault = "It could not be written: " + err.Error() + "."
		s.page(w, http.StatusInternalServerError, "new.tmpl", v)
		return
	}
	http.Redirect(w, r, "/bench/"+id+"/edit?new=1", http.StatusSeeOther)
}

// priceTyped reads a price of electricity; what is typed without a currency is in the one that
// is set for the pages.
func (s *Site) priceTyped(text string) (quantity.Price, error) {
	p, err := quantity.ParsePrice(text)
	if c := s.benches.set().Currency; err != nil && c != "" {
		number := strings.TrimSpace(strings.TrimSuffix(strings.ReplaceAll(text, " ", ""), "/kWh"))
		if bare, other := quantity.ParsePrice(number + " " + c + "/kWh"); other == nil {
			return bare, nil
		}
	}
	return p, err
}

// demoAdd puts the benches of the demo beside those that are there.
func (s *Site) demoAdd(w http.ResponseWriter, r *http.Request) {
	if _, err := s.desk.AddFiles(r.Context(), demo.Folder(), "demo"); err != nil {
		s.log.Error("demo", "err", err)
		s.fail(w, http.StatusInternalServerError, "The demo could not be written: "+err.Error()+".", "Look whether the folder can be written to.")
		return
	}
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// demoRemove takes them away again, but for what somebody has changed.
func (s *Site) demoRemove(w http.ResponseWriter, r *http.Request) {
	stay, err := s.desk.RemoveFiles(r.Context(), demo.Folder(), "demo")
	if err != nil {
		s.log.Error("demo", "err", err)
		s.fail(w, http.StatusInternalServerError, "The demo could not be taken away: "+err.Error()+".", "Look whether the folder can be written to.")
		return
	}
	to := "/"
	if len(stay) > 0 {
		to += "?stay=" + url.QueryEscape(strings.Join(stay, ","))
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}
