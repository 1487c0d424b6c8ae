package web

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/kept"
	"underlamp/app/light"
	"underlamp/draw"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/safefolder"
	"underlamp/science/quantity"
)

// Bounds of what an editor sends.
const (
	mostEdit    = 4 << 20 // bytes: a text twice, and what is to be done
	mostChanges = 400
	mostNote    = 500 // characters of who and why
)

// draftColumns is the number of columns of the light under the plan while it is arranged.
const draftColumns = 25

// stampOf tells texts apart.
func stampOf(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// textOf is the bench file of a request as it is now; it answers itself if there is none.
func (s *Site) textOf(w http.ResponseWriter, r *http.Request) (id string, text []byte) {
	id = r.PathValue("id")
	text, err := s.desk.Read(r.Context(), id)
	switch {
	case errors.Is(err, kept.ErrName) || err == nil && text == nil:
		s.fail(w, http.StatusNotFound, "There is no bench of this name.", "The benches are listed on the first page.")
		return "", nil
	case errors.Is(err, safefolder.ErrLink):
		s.fail(w, http.StatusConflict, asSentence(err.Error()), "Its pages show it all the same.")
		return "", nil
	case err != nil:
		s.log.Error("edit", "err", err)
		s.fail(w, http.StatusInternalServerError, "The bench file cannot be read.", "Look whether it is still in its folder.")
		return "", nil
	}
	return id, text
}

type editView struct {
	Title, ID       string
	Text, Base      string // the text shown, and the stamp of the one that counts
	BaseText        string // the one that counts
	From            string // where the text shown comes from, if it is not the one that counts
	Form            template.HTML
	History         bool
	By              string
	Colours         string
	Fault           string // of a save without script
	Theirs          string // what somebody else has saved meanwhile
	Problems        []editProblem
	Since, Why, Max string
	New             bool   // it has just been described
	Field           string // that somebody came for
}

// editPage shows the editor.
func (s *Site) editPage(w http.ResponseWriter, r *http.Request) {
	id, text := s.textOf(w, r)
	if text == nil {
		return
	}
	v := editView{Base: stampOf(text), BaseText: string(text), Text: string(text)}
	if at := r.FormValue("at"); at != "" {
		t, err := s.instant(at)
		if err == nil {
			var past *kept.Step
			if past, err = s.stepAt(r.Context(), id, t); err == nil && past != nil && len(past.Text) > 0 {
				v.Text, v.From = string(past.Text), when(past.From, s.zone)
			}
		}
		if err != nil {
			s.fail(w, http.StatusBadRequest, "That time cannot be read.", "Times are written 2026-11-23 or 2026-11-23T08:00.")
			return
		}
	}
	s.showEditor(w, r, http.StatusOK, id, v)
}

func (s *Site) showEditor(w http.ResponseWriter, r *http.Request, status int, id string, v editView) {
	v.ID, v.History, v.Max = id, s.desk.HasHistory(), time.Now().In(s.zone).Format("2006-01-02T15:04")
	v.Colours = strings.Join(draw.ScaleLight.Hex(10), " ")
	if c, err := r.Cookie(knownBy); err == nil && v.By == "" {
		v.By = c.Value
	}
	v.New = r.Method == http.MethodGet && r.FormValue("new") != ""
	if r.Method == http.MethodGet {
		v.Field = r.FormValue("field")
	}
	bench, problems := s.readBench([]byte(v.Text))
	v.Title = id
	if bench != nil {
		v.Title = bench.Name
	}
	v.Title += ", edit"
	v.Form = s.editForm([]byte(v.Text), bench, problems, v.Field)
	v.Problems = problemsOf(problems)
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, status, "edit.tmpl", v)
}

// readBench reads a text with the files that it names; nil with errors among the problems.
func (s *Site) readBench(text []byte) (*underlamp.Bench, benchfile.Problems) {
	b, problems, err := benchfile.ReadWith(bytes.NewReader(text), benchfolder.Files(s.benches.folder))
	if err != nil {
		return nil, benchfile.Problems{{Line: 1, Column: 1, Message: err.Error()}}
	}
	return b, problems
}

// editAt is the address of the editor at a field, or at the group of a list.
func editAt(bench, field string) string {
	id := fieldID(field)
	if !strings.ContainsAny(field, ".[") {
		id = "group-" + field
	}
	return "/bench/" + bench + "/edit?field=" + url.QueryEscape(field) + "#" + id
}

type editProblem struct {
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	Path    string `json:"path"`
	Warning bool   `json:"warning"`
	Text    string `json:"text"`
}

func problemsOf(all benchfile.Problems) []editProblem {
	out := []editProblem{}
	for _, p := range all {
		if len(out) == 50 {
			break
		}
		out = append(out, editProblem{p.Line, p.Column, p.Path, p.Severity == benchfile.Warning, problemSentence(p)})
	}
	return out
}

// problemSentence is a problem without its place.
func problemSentence(p benchfile.Problem) string {
	t := p.Message
	if p.Want != "" {
		t += "; wanted: " + p.Want
	}
	if p.Suggest != "" {
		t += fmt.Sprintf("; did you mean “%s”?", p.Suggest)
	}
	return strings.ToUpper(t[:1]) + t[1:] + "."
}

// A tryRequest asks what a text would be after some changes.
type tryRequest struct {
	Text    string             `json:"text"`
	Base    string             `json:"base"` // the text that counts: what its readings taught goes with the lamps
	Changes []benchfile.Change `json:"changes"`
	Apart   bool               `json:"apart"`  // plants of a grid become a list first, so that each can be moved
	Settle  bool               `json:"settle"` // lamps have been moved: they keep what the readings taught, which go
}

// A tryAnswer is the text, and the bench that it describes.
type tryAnswer struct {
	Text     string        `json:"text"`
	Fault    string        `json:"fault,omitempty"` // why the changes could not be made
	Problems []editProblem `json:"problems"`
	Form     template.HTML `json:"form"`
	Changed  []string      `json:"changed"` // since the text that counts, in words
	Scene    *scene        `json:"scene"`   // nil while there are errors
	Light    *draftLight   `json:"light"`
	Moved    string        `json:"moved,omitempty"` // what to think of when lamps were moved
}

// decode reads a request of the script; it answers itself if that cannot be read.
func decode(w http.ResponseWriter, r *http.Request, into any) bool {
	if err := json.NewDecoder(r.Body).Decode(into); err != nil {
		status := http.StatusBadRequest
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			status = http.StatusRequestEntityTooLarge
		}
		http.Error(w, "The request cannot be read.", status)
		return false
	}
	return true
}

func answerJSON(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(v) // the visitor may have left
}

func (s *Site) editTry(w http.ResponseWriter, r *http.Request) {
	var q tryRequest
	if !decode(w, r, &q) {
		return
	}
	if len(q.Changes) > mostChanges || !validID.MatchString(r.PathValue("id")) {
		http.Error(w, "These are too many changes at once.", http.StatusBadRequest)
		return
	}
	a := tryAnswer{Text: q.Text}
	if text, err := s.changedText(q); err != nil {
		a.Fault = err.Error()
	} else {
		a.Text = string(text)
	}
	bench, problems := s.readBench([]byte(a.Text))
	a.Problems = problemsOf(problems)
	a.Form = template.HTML(s.dressed(string(s.editForm([]byte(a.Text), bench, problems, ""))))
	a.Changed, _ = benchfile.Words([]byte(q.Base), []byte(a.Text)) // a text with mistakes has none yet
	if a.Changed == nil {
		a.Changed = []string{}
	}
	if bench != nil {
		a.Scene = sceneOf([]byte(a.Text), bench)
		if model := s.draftModel(r.Context(), r.PathValue("id"), q.Base); model != nil {
			if d, err := s.draft(r.Context(), model, bench); err != nil {
				a.Fault = err.Error()
			} else if d != nil {
				a.Light = draftOf(d)
				a.Moved = movedNote(model.Bench(), bench, d)
			}
		}
	}
	answerJSON(w, http.StatusOK, a)
}

// draft computes the light of a draft, two at a time, so that many editors leave the pages
// their share. It is nil if the visitor has asked for something else by then.
func (s *Site) draft(ctx context.Context, m *light.Model, b *underlamp.Bench) (*light.Draft, error) {
	select {
	case s.drafts <- struct{}{}:
		defer func() { <-s.drafts }()
	case <-ctx.Done():
		return nil, nil
	}
	return m.Draft(b, draftColumns)
}

// draftModel is the light of the text that counts; of a text with mistakes, or one that nobody
// has saved, it is made anew and kept for the next request.
func (s *Site) draftModel(ctx context.Context, id, base string) *light.Model {
	if e, err := s.benches.get(id); err == nil && e != nil && e.model != nil {
		if text, err := s.desk.Read(ctx, id); err == nil && string(text) == base {
			return e.model
		}
	}
	s.lastMu.Lock()
	defer s.lastMu.Unlock()
	if s.lastBase == base && s.lastModel != nil {
		return s.lastModel
	}
	b, _ := s.readBench([]byte(base))
	if b == nil {
		return nil
	}
	m, err := light.NewModel(b)
	if err != nil {
		return nil
	}
	s.lastBase, s.lastModel = base, m
	return m
}

// changedText makes the changes of a request.
func (s *Site) changedText(q tryRequest) ([]byte, error) {
	text := []byte(q.Text)
	if q.Apart || q.Settle {
		b, problems := s.readBench(text)
		if b == nil {
			return nil, fmt.Errorf("mend what is wrong first: %s", problemSentence(problems[0]))
		}
		var err error
		if q.Apart {
			if text, err = apart(text, b); err != nil {
				return nil, err
			}
		}
		if q.Settle {
			if text, err = s.settle(text, b, q.Base); err != nil {
				return nil, err
			}
		}
	}
	for i, c := range q.Changes {
		if c.Do == benchfile.Set && (strings.HasSuffix(c.Path, ".margin") || strings.HasSuffix(c.Path, ".spacing")) && strings.HasPrefix(strings.TrimSpace(c.Text), "[") {
			q.Changes[i].Do = benchfile.Put
		} else if c.Do == benchfile.Set {
			q.Changes[i] = benchfile.Say(text, c.Path, c.Text)
		}
	}
	return benchfile.Apply(text, q.Changes...)
}

// apart makes a list of the plants of a grid.
func apart(text []byte, b *underlamp.Bench) ([]byte, error) {
	grid, err := benchfile.Written(text, "plants.grid")
	if err != nil || grid[0] == "" {
		return text, err
	}
	var places []string
	for _, p := range b.Plants {
		places = append(places, fmt.Sprintf("[%s, %s]", typed(b.Units, float64(p.X)), typed(b.Units, float64(p.Y))))
	}
	return benchfile.Apply(text, benchfile.Change{Do: benchfile.Put, Path: "plants.at", Text: "[" + strings.Join(places, ", ") + "]"}, benchfile.Change{Do: benchfile.Remove, Path: "plants.grid"})
}

// typed is a length as a person would type it, to a tenth of a mm.
func typed(u quantity.System, x float64) string {
	unit, scale := "cm", 100.0
	if u == quantity.US {
		unit, scale = "in", 1/0.0254 // NIST SP 811: 1 in = 25.4 mm
	}
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", x*scale), "0"), ".") + " " + unit
}

// settle writes into the lamps what the readings taught of them, and takes the readings out:
// they were taken with the lamps where they hung before.
func (s *Site) settle(text []byte, b *underlamp.Bench, base string) ([]byte, error) {
	was, _ := s.readBench([]byte(base))
	if was == nil || len(was.Readings) == 0 {
		return text, nil
	}
	m, err := light.NewModel(was)
	if err != nil {
		return nil, err
	}
	d, err := m.Draft(b, 2)
	if err != nil {
		return nil, err
	}
	names := was.Readings[0].Name
	if n := len(was.Readings); n > 1 {
		names += " to " + was.Readings[n-1].Name
	}
	var changes []benchfile.Change
	for i, l := range b.Lamps {
		if !d.Known[i] {
			continue
		}
		at := fmt.Sprintf("lamps[%d]", i)
		note := "by readings " + names + ", taken before the lamps were moved"
		before, err := benchfile.Written(text, at+".flux", at+".efficacy", at+".watts")
		if err != nil {
			return nil, err
		}
		if before[0] != "" {
			note += "; on the label " + before[0]
		}
		if before[1] != "" && before[2] != "" { // flux, watts and efficacy would contradict one another
			note += "; on the label " + before[1]
			changes = append(changes, benchfile.Change{Do: benchfile.Remove, Path: at + ".efficacy"})
		}
		flux := float64(d.Flux[i]) / float64(l.LeftAt(b.Day()))
		quoted, err := json.Marshal(note)
		if err != nil {
			return nil, err
		}
		changes = append(changes, benchfile.Change{Do: benchfile.Put, Path: at + ".flux", Text: fmt.Sprintf("{value: %.4g µmol/s, from: measured, note: %s}", flux, quoted)})
	}
	if n, err := benchfile.Items(text, "readings"); err == nil && n > 0 {
		changes = append(changes, benchfile.Change{Do: benchfile.Remove, Path: "readings"})
	}
	return benchfile.Apply(text, changes...)
}

// movedNote says what to think of when lamps hang elsewhere than when the readings were
// taken; it is empty where that does not matter.
func movedNote(was, is *underlamp.Bench, d *light.Draft) string {
	if len(is.Readings) == 0 || len(was.Readings) == 0 {
		return ""
	}
	moved := false
	for i, l := range is.Lamps {
		for _, o := range was.Lamps {
			if o.Name == l.Name && d.Known[i] && (o.X != l.X || o.Y != l.Y || o.Height != l.Height || o.Pose != l.Pose) {
				moved = true
			}
		}
	}
	if !moved {
		return ""
	}
	return fmt.Sprintf("The readings (%d) were taken with the lamps where they hung before. If the lamps were moved, let them keep what the readings taught, and take the readings out: they stay in the history. If only the description was wrong, leave the readings as they are.", len(is.Readings))
}

// A scene is the bench to scale, in m.
type scene struct {
	Width    float64      `json:"w"`
	Depth    float64      `json:"d"`
	Height   float64      `json:"h"`
	US       bool         `json:"us"`
	Lamps    []sceneThing `json:"lamps"`
	Plants   []sceneThing `json:"plants"`
	Readings []sceneThing `json:"readings"`
	Grid     bool         `json:"grid"`
	Open     [6]bool      `json:"open"`
}

// A sceneThing is a thing in it, with where its place is written.
type sceneThing struct {
	Name  string    `json:"name"`
	Path  [3]string `json:"path"` // of x, y and z; empty where it cannot be moved so
	Unit  [3]string `json:"unit"` // in which they are typed
	X     float64   `json:"x"`
	Y     float64   `json:"y"`
	Z     float64   `json:"z"`
	Wide  float64   `json:"wide,omitempty"`
	Deep  float64   `json:"deep,omitempty"`
	Round bool      `json:"round,omitempty"`
	Turn  float64   `json:"turn,omitempty"`
}

func sceneOf(text []byte, b *underlamp.Bench) *scene {
	sc := &scene{Width: float64(b.Space.Width), Depth: float64(b.Space.Depth), Height: float64(b.Space.Height), US: b.Units == quantity.US, Lamps: []sceneThing{}, Plants: []sceneThing{}, Readings: []sceneThing{}}
	for i, w := range b.Space.Walls {
		sc.Open[i] = w.Open
	}
	place := func(base string, thing *sceneThing, height bool) {
		thing.Path = [3]string{base + ".at[0]", base + ".at[1]", ""}
		if height {
			thing.Path[2] = base + ".height"
		}
	}
	for i, l := range b.Lamps {
		t := sceneThing{Name: l.Name, X: float64(l.X), Y: float64(l.Y), Z: float64(l.Height), Wide: float64(l.Opening.Width.Value), Deep: float64(l.Opening.Depth.Value), Round: l.Opening.Round, Turn: float64(l.Pose.Turn)}
		place(fmt.Sprintf("lamps[%d]", i), &t, true)
		sc.Lamps = append(sc.Lamps, t)
	}
	n, _ := benchfile.Items(text, "plants.at")
	sc.Grid = n == 0
	for i, p := range b.Plants {
		t := sceneThing{Name: p.Name, X: float64(p.X), Y: float64(p.Y), Z: float64(p.Height)}
		t.Path = [3]string{fmt.Sprintf("plants.at[%d][0]", i), fmt.Sprintf("plants.at[%d][1]", i), ""}
		sc.Plants = append(sc.Plants, t)
	}
	for i, m := range b.Readings {
		t := sceneThing{Name: m.Name, X: float64(m.X), Y: float64(m.Y), Z: float64(m.Height)}
		place(fmt.Sprintf("readings[%d]", i), &t, true)
		sc.Readings = append(sc.Readings, t)
	}
	// Where each is written, and in which unit.
	all := []*sceneThing{}
	for _, list := range [][]sceneThing{sc.Lamps, sc.Plants, sc.Readings} {
		for i := range list {
			all = append(all, &list[i])
		}
	}
	var paths []string
	for _, t := range all {
		paths = append(paths, t.Path[0], strings.Replace(t.Path[0], "][0]", "].at[0]", 1), t.Path[1], strings.Replace(t.Path[1], "][1]", "].at[1]", 1), cmp.Or(t.Path[2], "name"))
	}
	at, err := benchfile.Written(text, paths...)
	if err != nil {
		return sc
	}
	for i, t := range all {
		w := at[5*i : 5*i+5]
		if w[0] == "" && w[1] != "" { // a plant with a name
			t.Path[0], t.Path[1], w[0], w[2] = paths[5*i+1], paths[5*i+3], w[1], w[3]
		}
		t.Unit = [3]string{unitOf(w[0], b.Units), unitOf(w[2], b.Units), unitOf(w[4], b.Units)}
	}
	return sc
}

// unitOf is the unit that a length was typed in: cm or in.
func unitOf(text string, u quantity.System) string {
	switch {
	case strings.Contains(text, "in") || strings.ContainsAny(text, `"″'′`) || strings.Contains(text, "ft"):
		return "in"
	case strings.Contains(text, "m"):
		return "cm"
	case u == quantity.US:
		return "in"
	}
	return "cm"
}

// draftLight is the light for the picture.
type draftLight struct {
	Columns int     `json:"nx"`
	Rows    int     `json:"ny"`
	Values  []int   `json:"v"` // µmol m⁻² s⁻¹, rounded, from the front left, X fastest
	Plants  []int   `json:"plants"`
	Mean    string  `json:"mean"`
	DLI     string  `json:"dli"`
	Low     int     `json:"low"`
	High    int     `json:"high"`
	Even    float64 `json:"even"` // least plant over the mean
}

func draftOf(d *light.Draft) *draftLight {
	out := &draftLight{Columns: len(d.X), Rows: len(d.Y), Low: math.MaxInt, Mean: quantity.PhotonFluxDensity.Format(float64(d.Mean), quantity.Metric, 3), DLI: quantity.DailyIntegral.Format(float64(d.DLI), quantity.Metric, 3)}
	for _, v := range d.PPFD {
		out.Values = append(out.Values, int(math.Round(float64(v))))
	}
	for _, v := range d.Plant {
		p := int(math.Round(float64(v)))
		out.Plants = append(out.Plants, p)
		out.Low, out.High = min(out.Low, p), max(out.High, p)
	}
	return out
}

// editMerge makes the changes of one person in the text of another.
func (s *Site) editMerge(w http.ResponseWriter, r *http.Request) {
	var q struct{ Mine, Base, Theirs string }
	if !decode(w, r, &q) {
		return
	}
	var a struct {
		Text   string   `json:"text"`
		Fault  string   `json:"fault,omitempty"`
		Mine   []string `json:"mine"`
		Theirs []string `json:"theirs"`
	}
	a.Mine, _ = benchfile.Words([]byte(q.Base), []byte(q.Mine))
	a.Theirs, _ = benchfile.Words([]byte(q.Base), []byte(q.Theirs))
	text, err := benchfile.Carry([]byte(q.Theirs), []byte(q.Base), []byte(q.Mine))
	if err != nil {
		a.Fault = err.Error()
	}
	a.Text = string(text)
	answerJSON(w, http.StatusOK, a)
}

// A saveRequest writes a text.
type saveRequest struct {
	Text, Base string // Base is the text that was changed
	From       string
	By, Why    string
}

// editSave writes a bench, asked by the script or by a form.
func (s *Site) editSave(w http.ResponseWriter, r *http.Request) {
	id, now := s.textOf(w, r)
	if now == nil {
		return
	}
	script := strings.HasPrefix(r.Header.Get("Content-Type"), "application/json")
	var q saveRequest
	if script {
		if !decode(w, r, &q) {
			return
		}
	} else {
		if err := r.ParseForm(); err != nil {
			s.fail(w, http.StatusBadRequest, "The form cannot be read.", "Go back and try again.")
			return
		}
		unix := func(name string) string { return lineEnds(r.PostFormValue(name), string(now)) }
		q = saveRequest{Text: unix("text"), Base: unix("base"), From: r.PostFormValue("from"), By: r.PostFormValue("by"), Why: r.PostFormValue("why")}
		// Fields beside the text count where they differ from it.
		changes := typedChanges(r.PostForm, []byte(q.Text), benchfile.Written)
		text, err := s.changedText(tryRequest{Text: q.Text, Changes: changes})
		if err != nil {
			s.showEditor(w, r, http.StatusUnprocessableEntity, id, editView{Text: q.Text, BaseText: q.Base, Base: stampOf([]byte(q.Base)), Fault: err.Error(), By: q.By, Why: q.Why, Since: q.From})
			return
		}
		q.Text = string(text)
		if do := r.PostFormValue("do"); do != "" {
			s.editPressed(w, r, id, q, do)
			return
		}
	}
	status, fault, theirs := s.save(r.Context(), w, id, q)
	switch {
	case script && status == http.StatusOK:
		answerJSON(w, status, map[string]string{"to": "/bench/" + id, "base": stampOf([]byte(q.Text))})
	case script:
		answerJSON(w, status, map[string]any{"fault": fault, "theirs": theirs})
	case status == http.StatusOK:
		http.Redirect(w, r, "/bench/"+id, http.StatusSeeOther)
	default:
		v := editView{Text: q.Text, BaseText: q.Base, Base: stampOf([]byte(q.Base)), Fault: fault, By: q.By, Why: q.Why, Since: q.From}
		if theirs != nil {
			v.Theirs, v.BaseText, v.Base = *theirs, *theirs, stampOf([]byte(*theirs))
		}
		s.showEditor(w, r, status, id, v)
	}
}

// editPressed adds to a list or takes something away, asked by a form without script. Nothing is
// saved.
func (s *Site) editPressed(w http.ResponseWriter, r *http.Request, id string, q saveRequest, do string) {
	v := editView{Text: q.Text, BaseText: q.Base, Base: stampOf([]byte(q.Base)), By: q.By, Why: q.Why, Since: q.From}
	bench, problems := s.readBench([]byte(q.Text))
	status := http.StatusUnprocessableEntity
	if c, ok := pressed(do, benchGroups([]byte(q.Text), bench, problems, "")); !ok {
		v.Fault = "There is nothing of this name to add or to take away."
	} else if text, err := benchfile.Apply([]byte(q.Text), c); err != nil {
		v.Fault = upper(err.Error()) + "."
	} else {
		status, v.Text, v.Field = http.StatusOK, string(text), c.Path
	}
	s.showEditor(w, r, status, id, v)
}

// lineEnds makes the line ends of a form those of a file.
func lineEnds(text, file string) string {
	text = strings.ReplaceAll(text, "\r\n", "\n")
	if strings.Contains(file, "\r\n") {
		text = strings.ReplaceAll(text, "\n", "\r\n")
	}
	if strings.HasPrefix(file, "\ufeff") && !strings.HasPrefix(text, "\ufeff") {
		text = "\ufeff" + text
	}
	return text
}

// save writes a text that describes a bench. Theirs is what somebody else has written.
func (s *Site) save(ctx context.Context, w http.ResponseWriter, id string, q saveRequest) (status int, fault string, theirs *string) {
	if len(q.By) > mostNote || len(q.Why) > mostNote || strings.ContainsAny(q.By+q.Why, "\r\n\x00") {
		return http.StatusBadRequest, "Who and why are one line each, and short.", nil
	}
	b, problems := s.readBench([]byte(q.Text))
	if b == nil {
		p := problems[0]
		for _, x := range problems {
			if x.Severity == benchfile.Error {
				p = x
				break
			}
		}
		return http.StatusUnprocessableEntity, fmt.Sprintf("Line %d, column %d: %s", p.Line, p.Column, problemSentence(p)), nil
	}
	var from time.Time
	if q.From != "" {
		t, err := s.instant(q.From)
		if err != nil {
			return http.StatusUnprocessableEntity, "The time from which it is so cannot be read. Write it as 2026-11-23T08:00.", nil
		}
		from = t
		if !s.desk.HasHistory() {
			return http.StatusUnprocessableEntity, "No history is kept here, so a bench can only be changed from now on.", nil
		}
	}
	err := s.desk.Save(ctx, kept.Save{Bench: id, Text: []byte(q.Text), Base: []byte(q.Base), From: from, By: strings.TrimSpace(q.By), Why: strings.TrimSpace(q.Why)})
	var changed *safefolder.ChangedError
	switch {
	case errors.As(err, &changed):
		text := string(changed.Text)
		return http.StatusConflict, "Somebody has changed this bench since you opened it. Nothing was written.", &text
	case err != nil:
		s.log.Error("save", "bench", id, "err", err)
		if errors.Is(err, safefolder.ErrLink) { // it has become one since the page was opened
			return http.StatusConflict, asSentence(err.Error()), nil
		}
		var carry *kept.CarryError
		if errors.As(err, &carry) || errors.Is(err, kept.ErrPast) {
			return http.StatusUnprocessableEntity, upper(err.Error()) + ".", nil
		}
		return http.StatusInternalServerError, "It could not be written: " + err.Error() + ".", nil
	}
	s.remember(w, q.By)
	return http.StatusOK, "", nil
}

// remember keeps who it was, so that the name need not be typed again.
func (s *Site) remember(w http.ResponseWriter, by string) {
	by = strings.TrimSpace(by)
	if by != "" && len(by) <= 80 && isASCII(by) && !strings.ContainsAny(by, `";\,`) {
		http.SetCookie(w, &http.Cookie{Name: knownBy, Value: by, Path: "/", MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	}
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// instant reads a time by the clock of the site.
func (s *Site) instant(text string) (time.Time, error) {
	for _, layout := range []string{time.DateOnly, "2006-01-02T15:04", "2006-01-02T15:04:05", "2006-01-02 15:04", time.RFC3339Nano} {
		if t, err := time.ParseInLocation(layout, strings.TrimSpace(text), s.zone); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is no time", text)
}
