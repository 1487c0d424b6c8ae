package web

import (
	"bytes"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/access"
	"underlamp/app/feed"
	"underlamp/app/feedbook"
	"underlamp/formats/feedfile"
	"underlamp/report"
	"underlamp/science/nutrients"
	"underlamp/science/quantity"
)

// mostFeed bounds a feed file that is written on a page.
const mostFeed = feedbook.MostBytes

type feedTick struct {
	Name    string
	Chosen  bool
	Holds   string
	Caution string
}

type feedView struct {
	Title, ID, Bench string
	File             string
	Others           []choice // other feeds of the folder that name the bench
	ReadOnly         bool
	Owner, Writes    bool
	Wrong, Broken    string

	Mix, Correct, Drift, Cautions template.HTML
	Recipes                       []choice
	Strength, Volume              string
	Cheapest, Priced, Stock       bool
	WhatIf                        bool
	Connected                     bool
	Outlook                       string // what the outlook of the bench uses

	Now                   map[string]string // the form of the log
	Kept                  string
	Products              string
	Today                 string
	Text, Stamp           string // of the file
	Substances            []feedTick
	NewRecipe, NewVolume  string
	NewWater, Metal, Acid string
}

// feedOf finds bench and feed file of a request; name is empty where there is none. It answers
// itself where there is no bench.
func (s *Site) feedOf(w http.ResponseWriter, r *http.Request) (e *entry, name string, all []string) {
	if e = s.find(w, r); e == nil {
		return nil, "", nil
	}
	all, err := feedbook.Files(s.benches.folder, e.id, e.file, e.bench)
	if err != nil {
		s.log.Error("feed", "err", err)
		s.fail(w, http.StatusInternalServerError, "The folder cannot be read.", "Look whether it is still there.")
		return nil, "", nil
	}
	name = r.FormValue("file")
	if !slices.Contains(all, name) {
		name = ""
		if len(all) > 0 {
			name = all[0]
		}
	}
	return e, name, all
}

// feedPage is the page Feed of a bench.
func (s *Site) feedPage(w http.ResponseWriter, r *http.Request) {
	e, name, all := s.feedOf(w, r)
	if e == nil {
		return
	}
	s.showFeed(w, r, http.StatusOK, e, name, all, r.URL.Query(), "")
}

func (s *Site) showFeed(w http.ResponseWriter, r *http.Request, status int, e *entry, name string, all []string, q url.Values, wrong string) {
	who := access.From(r.Context())
	v := &feedView{Title: "Feed of " + e.bench.Name, ID: e.id, Bench: e.bench.Name, File: name, ReadOnly: s.place == nil, Wrong: wrong, Owner: access.Owners.Has(who), Writes: access.Walkers.Has(who),
		Today: s.today().Format(time.DateOnly), Now: map[string]string{}, Kept: q.Get("kept"), Cautions: report.Cautions(), Connected: e.bench.Feed.From != "" && e.bench.Feed.From == name}
	f := e.bench.Feed
	v.Outlook = fmt.Sprintf("calcium %s (%s), EC %s (%s)", quantity.Concentration.Format(float64(f.Calcium.Value), e.bench.Units, 3), f.Calcium.Origin, quantity.Conductivity.Format(float64(f.EC.Value), e.bench.Units, 3), f.EC.Origin)
	for _, x := range all {
		v.Others = append(v.Others, choice{x, x, x == name})
	}
	if name == "" {
		v.begin(q)
		s.page(w, status, "feed.tmpl", v)
		return
	}
	text, err := feedbook.Text(s.benches.folder, name)
	if err != nil {
		s.log.Error("feed", "err", err)
		s.fail(w, http.StatusNotFound, "The feed file cannot be read.", "Look whether it is still beside the bench file.")
		return
	}
	v.Text, v.Stamp = string(text), feedbook.Stamp(text)
	if typed := q.Get("text"); typed != "" {
		v.Text = typed
	}
	p, problems, err := feedfile.Read(bytes.NewReader(text))
	if err != nil || p == nil {
		v.Broken = problems.Render(name, text, false)
		if err != nil {
			v.Broken = err.Error()
		}
		s.page(w, max(status, http.StatusUnprocessableEntity), "feed.tmpl", v)
		return
	}
	if p.Units == quantity.Metric {
		p.Units = e.bench.Units
	}
	if err := v.whatIf(p, q); err != nil && v.Wrong == "" {
		status, v.Wrong = http.StatusUnprocessableEntity, err.Error()
	}
	a := feed.Mix(p)
	v.Mix = report.FeedSection(a)
	v.Priced, v.Stock = p.Problem().Priced(), p.Stock != nil
	if ask, ok, err := (feedbook.Read{Volume: q.Get("now-volume"), EC: q.Get("now-ec"), PH: q.Get("now-ph"), Ions: q.Get("now-ions")}).Ask(p); err != nil {
		status, v.Wrong = http.StatusUnprocessableEntity, err.Error()
	} else if ok {
		v.Correct = report.CorrectSection(feed.Correct(p, ask))
	}
	for _, k := range []string{"date", "volume", "ec", "ph", "temperature", "ions", "water", "added", "by", "note", "new", "now-volume", "now-ec", "now-ph", "now-ions"} {
		v.Now[k] = q.Get(k)
	}
	if v.Now["date"] == "" {
		v.Now["date"] = v.Today
	}
	if v.Now["by"] == "" && !who.Here {
		v.Now["by"] = who.Person
	}
	var names []string
	for _, x := range p.Cupboard {
		names = append(names, x.Name)
	}
	v.Products = strings.Join(names, ", ")
	ph := p.Target.PH
	v.Drift = report.DriftSection(p, feed.Drift(p), a.Mix.Reading.EC, ph)
	s.page(w, status, "feed.tmpl", v)
}

// whatIf changes the plan as the address asks, and shows it in the form.
func (v *feedView) whatIf(p *underlamp.FeedPlan, q url.Values) (err error) {
	w := feedbook.WhatIf{Recipe: q.Get("recipe"), Strength: q.Get("strength"), Volume: q.Get("tank"), Mix: q.Get("mix"), NoStock: q.Get("stock") == "no"}
	for _, r := range nutrients.Recipes() {
		v.Recipes = append(v.Recipes, choice{r.Name, r.Name, r.Name == w.Recipe || w.Recipe == "" && r.Name == p.Recipe})
	}
	v.Strength, v.Volume, v.Cheapest = w.Strength, w.Volume, w.Mix == "cheapest" || w.Mix == "" && p.Cheapest
	v.WhatIf, err = w.Apply(p)
	if v.Volume == "" {
		v.Volume = quantity.Volume.Format(p.Litres.Value, p.Units, 4)
	}
	if v.Strength == "" {
		v.Strength = quantity.Number(100*float64(p.Strength), 3)
	}
	return err
}

// begin fills the form for a first feed.
func (v *feedView) begin(q url.Values) {
	chosen := q["product"]
	usual := []string{"potassium nitrate", "monopotassium phosphate", "magnesium sulfate heptahydrate", "iron DTPA"}
	if len(chosen) == 0 {
		chosen = usual
	}
	for _, s := range nutrients.Substances() {
		if s.Tank == nutrients.NoTank {
			continue
		}
		var holds []string
		for i := range nutrients.Ions {
			if s.PerMol[i] > 0 {
				holds = append(holds, i.String())
			}
		}
		v.Substances = append(v.Substances, feedTick{s.Name, slices.Contains(chosen, s.Name), strings.Join(holds, ", "), s.Caution})
	}
	v.NewRecipe = q.Get("recipe")
	for _, r := range nutrients.Recipes() {
		v.Recipes = append(v.Recipes, choice{r.Name, r.Name, r.Name == v.NewRecipe})
	}
	v.NewVolume, v.NewWater, v.Metal, v.Acid = q.Get("tank"), q.Get("water"), q.Get("metal"), q.Get("acid")
}

// feedNew writes a first feed beside the bench.
func (s *Site) feedNew(w http.ResponseWriter, r *http.Request) {
	e, name, all := s.feedOf(w, r)
	if e == nil {
		return
	}
	if s.place == nil {
		s.fail(w, http.StatusConflict, "This server has nowhere to write.", "Start it on a folder, or write the file by hand: underlamp feed new.")
		return
	}
	q := r.PostForm
	a := feedfile.Answers{Name: "Feed of " + e.bench.Name, Benches: []string{e.file}, Recipe: q.Get("recipe"), Litres: q.Get("tank"), Products: q["product"], Metal: q.Get("metal"), Strength: q.Get("acid")}
	if _, err := strconv.ParseFloat(strings.Replace(a.Litres, ",", ".", 1), 64); err == nil {
		a.Litres += " L"
	}
	for line := range strings.Lines(q.Get("water")) {
		if line = strings.TrimSpace(line); line != "" {
			a.Water = append(a.Water, line)
		}
	}
	err := feedbook.Begin(s.place, e.id+".feed.yaml", a)
	if err != nil {
		status := http.StatusUnprocessableEntity
		if errors.Is(err, feedbook.ErrThere) {
			status = http.StatusConflict
		}
		s.showFeed(w, r, status, e, name, all, q, feedbook.Plain(err))
		return
	}
	http.Redirect(w, r, "/bench/"+e.id+"/feed", http.StatusSeeOther)
}

// feedSave writes the feed file as it was typed.
func (s *Site) feedSave(w http.ResponseWriter, r *http.Request) {
	e, name, all := s.feedOf(w, r)
	if e == nil {
		return
	}
	if s.place == nil || name == "" {
		s.fail(w, http.StatusConflict, "There is no feed file that can be written.", "Start the server on a folder.")
		return
	}
	text := strings.ReplaceAll(r.PostForm.Get("text"), "\r\n", "\n")
	err := feedbook.Save(s.place, name, []byte(text), r.PostForm.Get("was"))
	if err != nil {
		q := r.URL.Query()
		q.Set("text", text)
		s.showFeed(w, r, http.StatusUnprocessableEntity, e, name, all, q, err.Error())
		return
	}
	http.Redirect(w, r, "/bench/"+e.id+"/feed?file="+url.QueryEscape(name), http.StatusSeeOther)
}

// feedLog adds what was read of the tank to the log.
func (s *Site) feedLog(w http.ResponseWriter, r *http.Request) {
	e, name, all := s.feedOf(w, r)
	if e == nil {
		return
	}
	if s.place == nil || name == "" {
		s.fail(w, http.StatusConflict, "There is no feed file that can be written.", "Start the server on a folder, and make a feed first.")
		return
	}
	q := r.PostForm
	err := feedbook.Log(s.place, name, feedbook.Logged{Date: q.Get("date"), New: q.Get("new") != "", Volume: q.Get("volume"), EC: q.Get("ec"), PH: q.Get("ph"), Temperature: q.Get("temperature"), Water: q.Get("water"),
		Ions: q.Get("ions"), Added: q.Get("added"), By: q.Get("by"), Note: q.Get("note")})
	if err != nil {
		s.showFeed(w, r, http.StatusUnprocessableEntity, e, name, all, q, feedbook.Plain(err))
		return
	}
	http.Redirect(w, r, "/bench/"+e.id+"/feed?file="+url.QueryEscape(name)+"&kept="+url.QueryEscape(q.Get("date"))+"#correct", http.StatusSeeOther)
}
