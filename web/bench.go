package web

import (
	"context"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/access"
	"underlamp/app/outlook"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/working"
)

// mapColumns is the number of columns of the light map on a page.
const mapColumns = 37

// list shows a card for each bench.
func (s *Site) list(w http.ResponseWriter, r *http.Request) {
	type card struct {
		ID, Name, Crop, Wrong          string
		PPFD, DLI, Chance, Mass, Limit string
		Risky                          bool
		Refused                        bool // no outlook of the species
		Now                            *nowCard
	}
	ids, err := s.benches.list()
	if err != nil {
		s.log.Error("list", "err", err)
		s.fail(w, http.StatusInternalServerError, "The folder of benches cannot be read.", "Look at the folder that underlamp serve was started with.")
		return
	}
	var cards []card
	for _, id := range ids {
		e, err := s.benches.get(id)
		if err != nil || e == nil {
			cards = append(cards, card{ID: id, Name: id, Wrong: "The file cannot be read."})
			continue
		}
		if e.broken {
			cards = append(cards, card{ID: id, Name: id, Wrong: "The bench file has mistakes."})
			continue
		}
		b := e.bench
		lit, err := e.at(b.Setting())
		if err != nil {
			cards = append(cards, card{ID: id, Name: b.Name, Wrong: err.Error()})
			continue
		}
		a := lit.Answer(nil, 5)
		c := card{ID: id, Name: b.Name, PPFD: a.Mean.Text(), DLI: a.DLI.Text(), Limit: working.Percent(float64(b.Limits.Burn.Value)), Refused: e.refused != nil}
		c.Crop = fmt.Sprintf("%d × %s", len(b.Plants), strings.TrimSpace(string(b.Crop.Type.Value)+" "+b.Crop.Species.Value))
		if b.Crop.Cultivar != "" {
			c.Crop += ", " + b.Crop.Cultivar
		}
		if f, _, err := e.forecast(nil); err == nil {
			c.Chance, c.Risky = working.Percent(f.Chance), f.Chance > float64(b.Limits.Burn.Value)
			c.Mass = fmt.Sprintf("%s g (%s to %s)", quantity.Fixed(f.Fresh.Mid, 0), quantity.Fixed(f.Fresh.Low, 0), quantity.Fixed(f.Fresh.High, 0))
		}
		c.Now = s.nowCard(r.Context(), id)
		cards = append(cards, c)
	}
	v := access.From(r.Context())
	view := struct {
		Title        string
		Cards        []card
		Trials       []trialCard
		You          *access.Visitor // who came in by a code
		Reads, Owner bool
		Rounds       bool       // of who is asking
		First        *firstView // for who may write
	}{Title: "Benches", Cards: cards, Reads: access.Readers.Has(v), Owner: access.Owners.Has(v), Rounds: s.rounds != nil && access.Walkers.Has(v)}
	if !v.Here && v.Role != "" {
		view.You = &v
	}
	if view.Owner {
		view.First = s.first(r, len(cards))
	}
	if view.Reads {
		view.Trials = s.trialList()
	}
	s.page(w, http.StatusOK, "list.tmpl", view)
}

// find reads the bench of a request and answers itself if there is none.
func (s *Site) find(w http.ResponseWriter, r *http.Request) *entry {
	e, err := s.benches.get(r.PathValue("id"))
	switch {
	case err != nil:
		s.log.Error("bench", "err", err)
		s.fail(w, http.StatusInternalServerError, "The bench file cannot be read.", "Look whether it is still in its folder.")
		return nil
	case e == nil:
		s.fail(w, http.StatusNotFound, "There is no bench of this name in the folder.", "The benches are listed on the first page.")
		return nil
	case e.broken:
		s.page(w, http.StatusUnprocessableEntity, "broken.tmpl", struct{ Title, Problems string }{e.id, e.problems})
		return nil
	}
	if at := r.FormValue("at"); at != "" && s.desk != nil {
		if e = s.pastOf(w, r, e, at); e == nil {
			return nil
		}
	}
	if r.FormValue("field") == "off" {
		off, err := e.withoutField()
		if err != nil {
			s.fail(w, http.StatusUnprocessableEntity, err.Error(), "Look at the bench file.")
			return nil
		}
		return off
	}
	return e
}

// A control is one of the three that a person turns.
type control struct {
	Name, Label, Unit   string
	Value               string
	Scale               float64 // how many of the shown unit make one of the kept
	Min, Max, Step      string
	Default             bool   // nobody gave the value
	Start               string // as the bench has it
	value, lowest, most float64
}

// setting reads the setting from the address. What is missing or nonsense is
// that of the bench; what is beyond the space or the day is brought back. The
// returned setting is nil when all is as the bench has it.
func (e *entry) setting(r *http.Request) (*underlamp.Setting, []control) {
	b := e.bench
	now := b.Setting()
	unit, perMetre := quantity.Length.Shown(b.Units)
	low, top := heightRange(b)
	controls := []control{
		{Name: "height", Label: "Lamp height", Unit: unit, lowest: float64(low), most: float64(top), value: float64(now.Height)},
		{Name: "dimming", Label: "Dimming", Unit: "%", lowest: 0.05, most: 1, value: float64(now.Dimming)},
		{Name: "hours", Label: "Hours of light", Unit: "h", lowest: 1, most: 24, value: float64(now.Hours)},
	}
	_, perShare := quantity.Share.Shown(b.Units)
	scale := []float64{perMetre, perShare, 1}
	steps := []float64{heightStep, 1, 0.25}
	kinds := []quantity.Kind{quantity.Length, quantity.Share, quantity.Duration}
	from := b.Origins(now)
	controls[1].Default, controls[2].Default = from.Dimming == underlamp.Default, from.Hours == underlamp.Default
	changed := false
	for i := range controls {
		c := &controls[i]
		text := func(v float64) string { return strconv.FormatFloat(math.Round(v*scale[i]*100)/100, 'f', -1, 64) }
		c.Start = text(c.value)
		if v, ok := typedIn(r.FormValue(c.Name), kinds[i], scale[i]); ok {
			v = min(max(v, c.lowest), c.most)
			if math.Abs(v-c.value) > 1e-6 {
				changed = true
				c.value, c.Default = v, false
			}
		}
		c.Scale = scale[i]
		c.Value, c.Min, c.Max, c.Step = text(c.value), text(c.lowest), text(c.most), strconv.FormatFloat(steps[i], 'f', -1, 64)
	}
	if !changed {
		return nil, controls
	}
	return &underlamp.Setting{
		Height:  quantity.Metre(controls[0].value),
		Dimming: quantity.Fraction(controls[1].value),
		Hours:   quantity.Hours(controls[2].value),
	}, controls
}

// typedIn reads what somebody typed into a field that shows its unit: a number of that unit in
// either decimal mark, or an amount with a unit of its own. It is false for anything else.
func typedIn(text string, k quantity.Kind, perKept float64) (float64, bool) {
	if len(text) > 40 {
		return 0, false
	}
	if v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64); err == nil {
		return v / perKept, !math.IsNaN(v)
	}
	v, err := k.Parse(text)
	return v, err == nil
}

func (e *entry) lightHTML(change *underlamp.Setting) (template.HTML, error) {
	s := e.bench.Setting()
	if change != nil {
		s = *change
	}
	lit, err := e.at(s)
	if err != nil {
		return "", err
	}
	return report.LightSection(e.bench, e.model, lit.Answer(change, mapColumns), e.nextReading()), nil
}

func (e *entry) outlookHTML(change *underlamp.Setting) (template.HTML, error) {
	if e.refused != nil {
		return report.RefusalSection(e.refused), nil
	}
	f, figures, err := e.forecast(change)
	if err != nil {
		return "", err
	}
	return report.OutlookSection(e.bench, f, figures) + template.HTML("<h3>Working</h3>") + report.WorkingSection(figures), nil
}

// A fieldSwitch turns the map through the readings on and off.
type fieldSwitch struct {
	Off     bool
	Address string // of this page with the switch turned
}

// fieldSwitchOf is nil where the readings are too few for a map through them.
func fieldSwitchOf(e *entry, r *http.Request) *fieldSwitch {
	if len(e.bench.Readings) < 4 {
		return nil
	}
	q := r.URL.Query()
	q.Del("field")
	if !e.fieldOff {
		q.Set("field", "off")
	}
	return &fieldSwitch{e.fieldOff, "/bench/" + e.id + "?" + q.Encode() + "#light"}
}

// doubtHTML shares out the doubt of the outlook at the setting of the bench.
func (e *entry) doubtHTML(ctx context.Context) (template.HTML, error) {
	if e.refused != nil {
		return report.Unasked(e.refused), nil
	}
	d, err := e.doubtsOf(ctx)
	if err != nil {
		return "", err
	}
	return report.DoubtSection(e.bench, d), nil
}

// doubtsOf are those of a bench with an outlook, computed once.
func (e *entry) doubtsOf(ctx context.Context) (*outlook.Doubts, error) {
	e.doubtMu.Lock()
	defer e.doubtMu.Unlock()
	if e.doubts == nil {
		d, err := e.whole.Doubts(ctx)
		if err != nil {
			return nil, err
		}
		e.doubts = d
	}
	return e.doubts, nil
}

// bench shows one bench with its controls.
func (s *Site) bench(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	change, controls := e.setting(r)
	light, err := e.lightHTML(change)
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, err.Error(), "Choose another lamp height.")
		return
	}
	outlook, err := e.outlookHTML(change)
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, err.Error(), "Choose another setting.")
		return
	}
	best := template.HTML("")
	if e.refused != nil {
		best = report.Unasked(e.refused)
	} else if r.FormValue("best") != "" { // without script: asked for by a link
		best = s.bestHTML(r, e)
	}
	doubt := template.HTML("")
	if r.FormValue("doubt") != "" || e.refused != nil {
		if doubt, err = e.doubtHTML(r.Context()); err != nil {
			s.log.Error("doubt", "err", err)
		}
	}
	learning, err := s.learnView(r, e)
	if err != nil {
		s.log.Error("learn", "err", err) // the rest of the page does not need it
	}
	s.page(w, http.StatusOK, "bench.tmpl", struct {
		Title, ID, Note, Problems string
		Controls                  []control
		Changed                   bool
		Light, Outlook            template.HTML
		Doubt, Best               template.HTML
		Field                     *fieldSwitch
		Facts                     [][2]string
		Cautions                  template.HTML
		Learning                  learnView
		Live, Rounds              bool
		Desk                      bool
		At, Then                  string
	}{e.bench.Name, e.id, e.bench.Note, e.problems, controls, change != nil, light, outlook, doubt, best, fieldSwitchOf(e, r), report.BenchRows(e.bench), report.Cautions(), learning, s.live != nil, s.rounds != nil, s.desk != nil && access.Owners.Has(access.From(r.Context())), e.asked, e.then})
}

// part sends one section by itself, for the script.
func (s *Site) part(w http.ResponseWriter, r *http.Request, make func(*entry, *underlamp.Setting) (template.HTML, error)) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	change, _ := e.setting(r)
	html, err := make(e, change)
	if err != nil {
		if r.Context().Err() != nil {
			return // the visitor has asked for something else by now
		}
		s.log.Error("part", "err", err)
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	fmt.Fprint(w, string(html))
}

func (s *Site) lightPart(w http.ResponseWriter, r *http.Request) {
	s.part(w, r, func(e *entry, c *underlamp.Setting) (template.HTML, error) { return e.lightHTML(c) })
}

func (s *Site) outlookPart(w http.ResponseWriter, r *http.Request) {
	s.part(w, r, func(e *entry, c *underlamp.Setting) (template.HTML, error) {
		html, err := e.outlookHTML(c)
		if err == nil && c != nil && c.Height != e.bench.Setting().Height {
			e.lookAhead(*c) // light and outlook of this setting stand: the person looks at them
		}
		return html, err
	})
}

func (s *Site) bestPart(w http.ResponseWriter, r *http.Request) {
	s.part(w, r, func(e *entry, _ *underlamp.Setting) (template.HTML, error) {
		if e.refused != nil {
			return report.Unasked(e.refused), nil
		}
		return s.bestHTML(r, e), nil
	})
}

func (s *Site) doubtPart(w http.ResponseWriter, r *http.Request) {
	s.part(w, r, func(e *entry, _ *underlamp.Setting) (template.HTML, error) { return e.doubtHTML(r.Context()) })
}
