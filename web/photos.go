package web

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"html/template"
	"io"
	"math"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"underlamp"
	"underlamp/app/photo"
	"underlamp/app/round"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	plot "underlamp/draw"
	"underlamp/draw/labelsheet"
	"underlamp/formats/photofile"
	"underlamp/report"
	"underlamp/science/plantlabel"
	"underlamp/science/quantity"
	"underlamp/store"
)

// registered is what labels stand for, as the folder was when it was looked at.
type registered struct {
	mu   sync.Mutex
	at   time.Time
	what photo.Register
}

// registerAge is how old what is known of the labels may be.
const registerAge = 20 * time.Second

// register finds what the labels of all benches and trials stand for.
func (s *Site) register() photo.Register {
	s.labels.mu.Lock()
	defer s.labels.mu.Unlock()
	if s.labels.what != nil && time.Since(s.labels.at) < registerAge {
		return s.labels.what
	}
	r := photo.Register{}
	ids, err := s.benches.list()
	if err != nil {
		s.log.Error("labels", "err", err)
	}
	add := func(all []photo.Label) {
		for _, l := range all {
			for _, clash := range r.Add(l.Subject) {
				s.log.Warn("two labels have one code; give the plant another name", "bench", clash.Bench, "plant", clash.Plant, "trial", clash.Trial, "unit", clash.Unit)
			}
		}
	}
	for _, id := range ids {
		if e, err := s.benches.get(id); err == nil && e != nil && e.bench != nil {
			add(photo.BenchLabels(id, e.bench))
		}
	}
	for _, c := range s.trialFiles() {
		p, err := trialbook.Open(s.benches.folder, c)
		if err != nil {
			continue
		}
		sheet, err := s.sheetOf(p.Trial, "", "")
		if err != nil {
			if sheet, err = trial.NewSheet(p.Trial, nil, trial.SheetOptions{}); err != nil {
				continue
			}
		}
		add(photo.TrialLabels(trialbook.Key(c), strings.TrimSuffix(p.Trial.Bench, path.Ext(p.Trial.Bench)), sheet))
	}
	s.labels.what, s.labels.at = r, time.Now()
	return r
}

// trialFiles are the files of trials in the folder.
func (s *Site) trialFiles() []string {
	var out []string
	for _, c := range s.trialList() {
		if file := trialbook.FileNamed(s.benches.folder, c.ID); file != "" {
			out = append(out, file)
		}
	}
	return out
}

// book is the photos of a bench.
func (s *Site) book(ctx context.Context, e *entry) (*photo.Book, *round.Record, error) {
	rec, err := s.record(ctx, e.id)
	if err != nil {
		return nil, nil, err
	}
	k, err := photo.Gather(ctx, s.rounds, e.id, e.bench, rec)
	if err != nil {
		return nil, nil, err
	}
	b, faults := photo.NewBook(e.id, e.bench, k, s.register(), s.zone)
	for _, f := range faults {
		s.log.Warn("figures of a photo cannot be read", "bench", e.id, "err", f)
	}
	return b, rec, nil
}

// fromSide is the note of a photo that was taken from the side.
const fromSide = "from the side"

// MeasurePhotos reads photos that come in, one at a time, and those that an earlier method
// read, until ctx is done.
func (s *Site) MeasurePhotos(ctx context.Context) {
	if s.rounds == nil {
		return
	}
	for {
		ids, err := s.benches.list()
		if err != nil {
			s.log.Error("photos", "err", err)
		}
		for _, id := range ids {
			if err := s.measureBench(ctx, id); err != nil && ctx.Err() == nil {
				s.log.Error("photos could not be measured; it is tried again", "bench", id, "err", err)
			}
		}
		select {
		case <-s.photoCame:
		case <-time.After(time.Minute): // photos come by other ways too
		case <-ctx.Done():
			return
		}
	}
}

// measureBench reads the photos of a bench that are to be read.
func (s *Site) measureBench(ctx context.Context, id string) error {
	e, err := s.benches.get(id)
	if err != nil || e == nil || e.bench == nil {
		return err
	}
	rec, err := s.record(ctx, id)
	if err != nil {
		return err
	}
	k, err := photo.Gather(ctx, s.rounds, id, e.bench, rec)
	if err != nil {
		return err
	}
	register := s.register()
	side := map[string]bool{}
	for _, x := range rec.Standing() {
		side[x.Photo] = side[x.Photo] || x.What == round.Photo && x.Note == fromSide
	}
	for _, p := range slices.Backward(k.Photos) { // the newest first: somebody waits for it
		if ctx.Err() != nil {
			return nil
		}
		if !photo.Stale(p.ID, k.Measures, photo.Method) {
			continue
		}
		when, named := k.When[p.ID]
		if !named && time.Since(store.Time(p.Recorded)) < 20*time.Second && strings.Contains(string(p.Doc), `"phone"`) {
			continue // the entry that names it is on its way
		}
		_, data, err := s.rounds.Photo(ctx, p.ID)
		if err != nil {
			return err
		}
		if !named {
			when = store.Time(p.At)
		}
		select {
		case s.small <- struct{}{}: // one large picture in memory at a time
		case <-ctx.Done():
			return nil
		}
		f, made, err := photo.Measure(data, photo.Ask{Zone: s.zone, Else: when, ElseFrom: "rounds", Side: side[p.ID], Heights: photo.HeightsOf(rec, id, register)})
		<-s.small
		if err != nil { // it was taken when less was asked of photos
			f = &photo.Finding{Method: photo.Method, Refused: &photo.Refusal{Reason: "unreadable", Because: upperFirst(err.Error()) + "."}}
		}
		doc, err := f.JSON()
		if err != nil {
			return err
		}
		if err := s.rounds.PutMeasure(ctx, store.Measure{Photo: p.ID, Method: photo.Method, Recorded: store.At(time.Now()), Doc: doc, Pictures: made}); err != nil {
			return err
		}
	}
	return nil
}

// A photoPlant is one plant on the page of photos.
type photoPlant struct {
	Name, Picture, Day, Area, Width, Mass, Burn, Photo string
	Photos                                             int
}

type photoCard struct{ ID, Label, Text, Why, Advice string }

// photosView is the page of photos.
type photosView struct {
	Title, ID, Bench string
	Plants           []photoPlant
	Refused          []photoCard
	Waiting          int
	Photos           int
	Chosen           string
	Growth           template.HTML
	Cards            []photoCard
	NoMasses         string
	Pairs            int
	Curve            bool
	Doubtful         []string
	Sizes, Sheets    []paper
	Open             int // candidates that nobody has looked at
	Query            template.URL
}

// A paper is a size of label or sheet, as the form sends it and as a person reads it.
type paper struct{ Value, Text string }

// sheetText says what paper it is.
func sheetText(f labelsheet.Format) string {
	if f.Cut {
		return f.Page.Name + ", plain paper to cut"
	}
	return fmt.Sprintf("%s, labels of %g × %g mm", f.Page.Name, f.Width, f.Height)
}

// photosPage lists the photos of a bench by plant, with their strip.
func (s *Site) photosPage(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	b, _, err := s.book(r.Context(), e)
	if err != nil {
		s.roundsFailed(w, r, err)
		return
	}
	v := photosView{Title: "Photos: " + e.bench.Name, ID: e.id, Bench: e.bench.Name, Photos: len(b.Shots), Chosen: r.FormValue("plant"), NoMasses: b.NoMasses}
	if b.Masses != nil {
		v.Pairs, v.Curve = len(b.Masses.Pairs), true
		for _, p := range b.Masses.Doubtful {
			v.Doubtful = append(v.Doubtful, fmt.Sprintf("%s on %s weighed %.3g g with a leaf area of %.3g cm², which does not fit the others: look whether the label or the number is right.", p.Plant, p.Day, p.Grams, p.Area.Value))
		}
	}
	for _, l := range plantlabel.Layouts() {
		v.Sizes = append(v.Sizes, paper{l.Name, fmt.Sprintf("%s, %g × %g mm", l.Name, l.Width, l.Height)})
		for _, f := range labelsheet.Formats(l) {
			if !slices.ContainsFunc(v.Sheets, func(c paper) bool { return c.Value == f.Name }) {
				v.Sheets = append(v.Sheets, paper{f.Name, sheetText(f)})
			}
		}
	}
	plants := b.Plants()
	if v.Chosen != "" && !slices.Contains(plants, v.Chosen) {
		v.Chosen = ""
	}
	for _, p := range walk(e.bench.Plants) {
		if !slices.Contains(plants, p.Name) {
			continue
		}
		x := photoPlant{Name: p.Name, Area: "–", Width: "–", Mass: "–", Burn: "–"}
		for _, l := range b.Looks(p.Name) {
			if l.Refused != nil {
				continue
			}
			x.Photos++
			x.Photo = l.Shot.ID
			x.Day = dayText(l, s.zone)
			if l.Picture != "" {
				x.Picture = pictureURL(e.id, l)
			}
			if f, ok := l.Figure(photo.Area); ok {
				x.Area = f.Text()
			}
			if f, ok := l.Figure(photo.Width); ok {
				x.Width = f.Text()
			}
			if l.Mass != nil {
				x.Mass = fmt.Sprintf("%s (%s to %s) g", quantity.Number(l.Mass.Grams, 2), quantity.Number(l.Mass.Low, 2), quantity.Number(l.Mass.High, 2))
			}
			if l.Brown != nil {
				x.Burn = spotsText(l.Brown)
				v.Open += l.Brown.Open
			}
		}
		v.Plants = append(v.Plants, x)
	}
	for _, t := range slices.Backward(b.Shots) {
		switch {
		case t.Finding == nil:
			v.Waiting++
		case t.Finding.Refused != nil:
			v.Refused = append(v.Refused, photoCard{ID: t.ID, Label: shotText(t, s.zone), Why: t.Finding.Refused.Because, Advice: t.Finding.Refused.Advice})
		}
	}
	for _, l := range slices.Backward(b.All()) {
		if l.Refused != nil {
			v.Refused = append(v.Refused, photoCard{ID: l.Shot.ID, Label: cmp.Or(l.Subject.Plant, l.Subject.Unit, l.Code.Readable()) + ", " + shotText(l.Shot, s.zone), Why: l.Refused.Because, Advice: l.Refused.Advice})
		}
	}
	v.Refused = v.Refused[:min(len(v.Refused), 40)]
	for _, l := range slices.Backward(b.Looks(v.Chosen)) {
		if v.Chosen == "" || l.Refused != nil {
			continue
		}
		text := ""
		if f, ok := l.Figure(photo.Area); ok {
			text = f.Text()
		} else if f, ok := l.Figure(photo.Height); ok {
			text = f.Text() + " high"
		}
		v.Cards = append(v.Cards, photoCard{ID: l.Shot.ID, Label: dayText(l, s.zone), Text: text})
	}
	v.Growth = areaGrowth(b, e.bench, v.Chosen)
	if v.Chosen != "" {
		v.Query = template.URL(url.Values{"plant": {v.Chosen}}.Encode())
	}
	w.Header().Set("Cache-Control", "no-cache")
	s.page(w, http.StatusOK, "photos.tmpl", v)
}

func pictureURL(bench string, l photo.Look) string {
	return "/bench/" + bench + "/photos/" + l.Shot.ID + "/" + l.Picture + ".jpg"
}

func spotsText(b *photo.Brown) string {
	switch {
	case b.Open+b.Burnt+b.Refused == 0:
		return "no spots"
	case b.Open > 0 && b.Burnt > 0:
		return fmt.Sprintf("burnt %d, to be looked at %d", b.Burnt, b.Open)
	case b.Open > 0:
		return fmt.Sprintf("to be looked at %d", b.Open)
	case b.Burnt > 0:
		return fmt.Sprintf("burnt %d", b.Burnt)
	}
	return "none burnt"
}

func dayText(l photo.Look, zone *time.Location) string {
	t := l.Shot.Taken.In(zone).Format("2 Jan 15:04")
	if l.Day >= 0 {
		return fmt.Sprintf("day %d, %s", l.Day, t)
	}
	return t
}

func shotText(t *photo.Shot, zone *time.Location) string {
	text := t.Taken.In(zone).Format("2 Jan 2006 15:04")
	if t.Named != "" {
		text = t.Named + ", " + text
	}
	return text
}

// areaGrowth draws leaf areas by day; empty with too few.
func areaGrowth(b *photo.Book, bench *underlamp.Bench, plant string) template.HTML {
	var dots []plot.Dot
	var rows [][]string
	last := 0.0
	for _, l := range b.Looks(plant) {
		f, ok := l.Figure(photo.Area)
		if !ok || l.Refused != nil || l.Day < 0 || l.Day > 400 {
			continue
		}
		dots = append(dots, plot.Dot{X: float64(l.Day), Y: f.Value})
		rows = append(rows, []string{strconv.Itoa(l.Day), l.Subject.Plant, f.Text()})
		last = max(last, float64(l.Day))
	}
	if len(dots) < 2 || last == 0 {
		return ""
	}
	name := "Leaf area by day"
	if plant != "" {
		name += ", plant " + plant
	}
	return template.HTML(plot.Fit(plot.Frame{ID: "area", Title: name, Units: bench.Units}, func(f plot.Frame) plot.Picture {
		p := plot.Lines{Frame: f, X: []float64{0, math.Ceil(last) + 1}, XName: "day after transplanting", Panels: []plot.Panel{{Name: "Leaf area seen from above", Unit: "cm²", Zero: true, Points: []plot.Points{{Name: "from photos", At: dots}}}}}.Draw()
		p.Table = plot.Table{Caption: name, Head: []string{"Day", "Plant", "Leaf area"}, Rows: rows}
		return p
	}))
}

// A spotView is a candidate of burn, to be confirmed or rejected.
type spotView struct {
	ID, Where, Chance, Said, New string
	URL                          string
}

type lookView struct {
	Name    string
	Figures template.HTML
	Refused *photo.Refusal
	Doubts  []string
	Spots   []spotView
}

type olderView struct {
	Method string
	Rows   [][2]string
}

// photoPage is one photo: what was seen in it, its figures, its candidates.
func (s *Site) photoPage(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	b, _, err := s.book(r.Context(), e)
	if err != nil {
		s.roundsFailed(w, r, err)
		return
	}
	t, ok := b.Shot(r.PathValue("photo"))
	if !ok {
		s.fail(w, http.StatusNotFound, "There is no such photo of this bench.", "It may not have been sent yet.")
		return
	}
	v := struct {
		Title, ID, Bench, Photo, When, From, SHA string
		Plain, Waiting, Overlay                  bool
		Refused                                  *photo.Refusal
		Notes                                    []string
		Looks                                    []lookView
		Older                                    []olderView
		Known, Method, Verdicts                  string
		Before, After                            string
	}{Title: "Photo: " + shotText(t, s.zone), ID: e.id, Bench: e.bench.Name, Photo: t.ID, When: t.Taken.In(s.zone).Format("Monday 2 January 2006, 15:04"), Plain: r.FormValue("plain") != "", Waiting: t.Finding == nil}
	if c, err := r.Cookie(knownBy); err == nil {
		v.Known = c.Value
	}
	if n := len(b.Verdicts); n > 0 {
		v.Verdicts = plural(n, "verdict")
	}
	if t.Finding != nil {
		v.Refused, v.Notes, v.From, v.SHA, v.Method = t.Finding.Refused, t.Finding.Notes, t.Finding.From, t.Finding.SHA256, t.Finding.Method
		v.Overlay = len(t.Finding.Reads) > 0
	}
	for _, l := range b.Of(t.ID) {
		x := lookView{Name: "label " + l.Code.Readable() + ", which no bench or trial here has", Refused: l.Refused, Doubts: l.Doubts}
		switch {
		case l.Subject.Trial != "":
			x.Name = l.Subject.Unit + " of the trial " + l.Subject.Trial
		case l.Subject.Plant != "" && l.Subject.Bench == e.id:
			x.Name = "Plant " + l.Subject.Plant
		case l.Subject.Plant != "":
			x.Name = "Plant " + l.Subject.Plant + " of " + l.Subject.Bench
		}
		if t.Named != "" && l.Subject.Plant != "" && l.Subject.Plant != t.Named && len(b.Of(t.ID)) == 1 {
			x.Doubts = append([]string{fmt.Sprintf("On the round it was named %s; its label says %s. The label counts.", t.Named, l.Subject.Plant)}, x.Doubts...)
		}
		if figures := l.Figures(); len(figures) > 0 {
			x.Figures = report.FiguresSection(figures)
		}
		for i, p := range l.Spots {
			q := spotView{ID: p.ID, New: newID(), Where: map[bool]string{true: "inner zone", false: "outer zone"}[p.Inner] + fmt.Sprintf(", %.0f mm²", p.Area), URL: "/bench/" + e.id + "/photos/" + t.ID + "/spot.jpg?spot=" + url.QueryEscape(p.ID)}
			if l.Brown != nil {
				q.Chance = fmt.Sprintf("%.0f %%", 100*l.Brown.Chances[i])
				if y := l.Brown.Said[i]; y != nil {
					q.Said = map[bool]string{true: "burnt", false: "not burnt"}[*y]
				}
			}
			x.Spots = append(x.Spots, q)
		}
		v.Looks = append(v.Looks, x)
	}
	for _, f := range t.Older {
		o := olderView{Method: f.Method}
		for _, rd := range f.Reads {
			for _, g := range rd.Figures {
				o.Rows = append(o.Rows, [2]string{string(rd.Code) + ", " + photo.FigureName(g.What), g.Text()})
			}
		}
		v.Older = append(v.Older, o)
	}
	i := slices.Index(b.Shots, t)
	if i > 0 {
		v.Before = b.Shots[i-1].ID
	}
	if i+1 < len(b.Shots) {
		v.After = b.Shots[i+1].ID
	}
	w.Header().Set("Cache-Control", "no-cache")
	s.page(w, http.StatusOK, "photo.tmpl", v)
}

// photoPicture shows what was made of a photo: its overlay, or one of its plants alone.
func (s *Site) photoPicture(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	name, ok := strings.CutSuffix(r.PathValue("name"), ".jpg")
	var data []byte
	var err error
	if name == "spot" {
		data, err = photo.MadeSpot(r.Context(), s.rounds, e.id, r.PathValue("photo"), r.FormValue("spot"))
	} else {
		data, err = photo.Made(r.Context(), s.rounds, e.id, r.PathValue("photo"), name)
	}
	switch {
	case !ok || errors.Is(err, store.ErrNotFound):
		s.fail(w, http.StatusNotFound, "There is no such picture of this bench.", "The photo may not have been measured yet.")
		return
	case err != nil:
		s.roundsFailed(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("Content-Disposition", "inline")
	w.Header().Set("Cache-Control", "private, max-age=3600")
	w.Write(data)
}

// photoVerdict takes what a person says of a candidate.
func (s *Site) photoVerdict(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	b, _, err := s.book(r.Context(), e)
	if err != nil {
		s.roundsFailed(w, r, err)
		return
	}
	id, by, say := r.PathValue("photo"), strings.TrimSpace(r.FormValue("by")), r.FormValue("say")
	if say != "burnt" && say != "sound" {
		s.fail(w, http.StatusBadRequest, "The verdict is not whole.", "Go back, and choose burnt or not burnt.")
		return
	}
	err = b.Say(r.Context(), s.rounds, photo.Verdict{ID: r.FormValue("new"), Photo: id, By: by, Recorded: time.Now(), Spot: r.FormValue("spot"), Burnt: say == "burnt", Cultivar: e.bench.Crop.Cultivar})
	var fault *photo.Fault
	switch {
	case errors.As(err, &fault):
		s.fail(w, http.StatusBadRequest, "The verdict is not whole.", "Go back: "+fault.Text+".")
	case errors.Is(err, store.ErrNotFound):
		s.fail(w, http.StatusNotFound, "There is no such spot in this photo.", "It may have been measured anew: look at it again.")
	case err != nil:
		s.roundsFailed(w, r, err)
	default:
		http.SetCookie(w, &http.Cookie{Name: knownBy, Value: by, Path: "/", MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteStrictMode})
		http.Redirect(w, r, "/bench/"+e.id+"/photos/"+id+"#spots", http.StatusSeeOther)
	}
}

// photoStrip draws plants through time, as a picture or a film.
func (s *Site) photoStrip(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	b, _, err := s.book(r.Context(), e)
	if err != nil {
		s.roundsFailed(w, r, err)
		return
	}
	strip, err := b.Strip(r.Context(), s.rounds, e.bench.Name, r.Form["plant"], s.zone)
	if err != nil {
		s.fail(w, http.StatusNotFound, upperFirst(err.Error())+".", "Take photos with the labels beside the plants.")
		return
	}
	kind, data := "image/png", []byte(nil)
	select {
	case s.small <- struct{}{}:
	case <-r.Context().Done():
		return
	}
	if strings.HasSuffix(r.URL.Path, ".gif") {
		kind = "image/gif"
		data, err = strip.GIF(0)
	} else if width, _ := strconv.Atoi(r.FormValue("width")); strings.HasSuffix(r.URL.Path, ".jpg") {
		kind = "image/jpeg"
		data, err = strip.JPEG(min(max(width, 0), 4000))
	} else {
		data, err = strip.PNG(min(max(width, 0), 4000))
	}
	<-s.small
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, upperFirst(err.Error())+".", "")
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "private, no-cache")
	w.Write(data)
}

// photoTable hands over all figures as a table.
func (s *Site) photoTable(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	b, _, err := s.book(r.Context(), e)
	if err != nil {
		s.roundsFailed(w, r, err)
		return
	}
	var buf bytes.Buffer
	if err := b.WriteCSV(&buf, s.register(), s.zone); err != nil {
		s.roundsFailed(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", e.id+".photos.csv"))
	w.Header().Set("Cache-Control", "no-store")
	w.Write(buf.Bytes())
}

// labelsPDF prints the labels of a bench.
func (s *Site) labelsPDF(w http.ResponseWriter, r *http.Request) {
	if e := s.find(w, r); e != nil {
		s.printLabels(w, r, e.id, photo.BenchLabels(e.id, e.bench))
	}
}

// trialLabels prints the labels of a trial.
func (s *Site) trialLabels(w http.ResponseWriter, r *http.Request) {
	id, p := s.trialOf(w, r)
	if p == nil {
		return
	}
	sheet, err := s.sheetOf(p.Trial, "", "")
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, asSentence(err.Error()), "Mend the bench of the trial.")
		return
	}
	s.printLabels(w, r, id, photo.TrialLabels(strings.TrimSuffix(id, ".trial"), strings.TrimSuffix(p.Trial.Bench, path.Ext(p.Trial.Bench)), sheet))
}

func (s *Site) printLabels(w http.ResponseWriter, r *http.Request, name string, labels []photo.Label) {
	pdf, err := labelSheet(r, labels)
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, upperFirst(err.Error())+".", "Go back and choose another size or sheet.")
		return
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", name+".labels.pdf"))
	w.Header().Set("Cache-Control", "private, no-cache")
	w.Write(pdf)
}

func labelSheet(r *http.Request, labels []photo.Label) ([]byte, error) {
	skip, err := strconv.Atoi(cmp.Or(r.FormValue("skip"), "0"))
	if err != nil {
		return nil, errors.New("the labels that are used already are a whole number")
	}
	return photo.PrintLabels(photo.LabelPrint{Size: r.FormValue("size"), Sheet: r.FormValue("sheet"), Scale: r.FormValue("scale"), Check: r.FormValue("check") != "", Skip: skip}, labels)
}

// roundsLabel reads a photo of a label and tells which plant it is; nothing is kept.
func (s *Site) roundsLabel(w http.ResponseWriter, r *http.Request) {
	id, _, ok := s.benchOf(w, r)
	if !ok {
		return
	}
	data, err := io.ReadAll(r.Body)
	if err != nil {
		s.say(w, http.StatusRequestEntityTooLarge, map[string]string{"why": fmt.Sprintf("The picture has more than %d MB.", photofile.MaxBytes>>20)})
		return
	}
	select {
	case s.small <- struct{}{}:
	case <-r.Context().Done():
		return
	}
	codes, refused, err := photo.Identify(data)
	<-s.small
	switch {
	case err != nil:
		s.say(w, http.StatusUnprocessableEntity, map[string]string{"why": upperFirst(err.Error()) + "."})
		return
	case refused != nil:
		s.say(w, http.StatusUnprocessableEntity, map[string]string{"why": refused.Text()})
		return
	}
	s.sayPlant(w, id, codes)
}

// roundsCode tells which plant the text of a label's QR code stands for, which a browser read.
func (s *Site) roundsCode(w http.ResponseWriter, r *http.Request) {
	id, _, ok := s.benchOf(w, r)
	if !ok {
		return
	}
	text := r.FormValue("text")
	_, code, err := plantlabel.ParsePayload(text)
	if err != nil { // typed by a person
		if code, err = plantlabel.ParseCode(text); err != nil {
			s.say(w, http.StatusUnprocessableEntity, map[string]string{"why": "This is no code of a plant's label."})
			return
		}
	}
	s.sayPlant(w, id, []plantlabel.Code{code})
}

func (s *Site) sayPlant(w http.ResponseWriter, bench string, codes []plantlabel.Code) {
	plant, code, why := s.register().PlantOf(bench, codes...)
	if plant == "" {
		s.say(w, http.StatusNotFound, map[string]string{"why": upperFirst(why) + "."})
		return
	}
	s.say(w, http.StatusOK, map[string]any{"plant": plant, "code": code})
}

// roundsPhotoState tells what became of a photo that a phone sent.
func (s *Site) roundsPhotoState(w http.ResponseWriter, r *http.Request) {
	e, err := s.benches.get(r.PathValue("id"))
	if err != nil || e == nil || e.bench == nil {
		s.say(w, http.StatusNotFound, map[string]string{"why": "There is no bench of this name any more."})
		return
	}
	b, _, err := s.book(r.Context(), e)
	if err != nil {
		s.say(w, http.StatusServiceUnavailable, map[string]string{"why": "The photos cannot be read now."})
		return
	}
	id := r.FormValue("photo")
	state := b.State(id)
	if state == photo.Waiting {
		s.say(w, http.StatusOK, map[string]any{"state": state})
		return
	}
	s.say(w, http.StatusOK, map[string]any{"state": state, "text": b.Says(id), "url": "/bench/" + e.id + "/photos/" + id})
}
