package web

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/access"
	"underlamp/app/trialbook"
	"underlamp/science/quantity"
)

// mostRecord bounds what one plant is said of.
const mostRecord = 32 << 10

// A seenField is one thing that can be seen of a plant.
type seenField struct {
	What            underlamp.Response
	Label, Hint     string
	Kind            string // amount, yesno, grade, count
	Value, Measure  string
	Missing         string
	Measures        []string
	Choices         []formOption
	Wrong, WrongWhy string
	Doubts          []string
}

// Is tells the template which choice is taken.
func (f seenField) Is(v string) bool { return f.Value == v }

var seenLabels = map[underlamp.Response][2]string{
	underlamp.ResponseMass:     {"Fresh mass", ""},
	underlamp.ResponseHeight:   {"Height", ""},
	underlamp.ResponseLeaves:   {"Leaves", "how many"},
	underlamp.ResponseBurn:     {"Burn on inner leaves", ""},
	underlamp.ResponseSeverity: {"How much burn", "0 none, 1 below 5 % of the leaves, 2 from 5 %, 3 from 15 %, 4 from 30 %, 5 from 50 %"},
	underlamp.ResponseWidth:    {"Width", "across the widest leaves"},
	underlamp.ResponseArea:     {"Leaf area", "seen from above, as photos tell it"},
	underlamp.ResponseClear:    {"Last day without burn", "day of the cycle on which a look saw none"},
	underlamp.ResponseFirst:    {"First day with burn", "day of the cycle on which a look saw it"},
}

type chip struct {
	Name, Text, URL string
	Done, Here      bool
}

type chipGroup struct {
	Name string
	Open bool
	All  []chip
}

type lineView struct {
	ID, What, Said, When, By, Note string
	Struck                         bool
	Before                         []string // what it stands for, newest first
	CorrectURL                     string
	Key                            string
}

type keptView struct {
	Text, Where, CorrectURL string
	Doubts                  []string
}

type recordView struct {
	trialHead
	units          quantity.System // of who reads
	State, Due     string
	Groups         []chipGroup
	Unit, Plant    string
	Guard          string // why the plant does not count
	FromRounds     string // what of the rounds is not in the trial yet
	Plants         []chip
	First, More    []seenField
	MoreOpen       bool
	When, Clock    string
	By, With, Note string
	Wrong          map[string]string
	Top            string
	Key            string
	Lines          []lineView
	Kept           []keptView
	Correct, Was   string
	Next           string
	Hidden         [][2]string
	PlainURL       string
}

// keep are the parameters of the page that go along from plant to plant.
var along = []string{"date", "clock", "by", "with", "mass-measure", "height-measure"}

func recordURL(id string, v url.Values, more ...string) string {
	q := url.Values{}
	for _, k := range along {
		if x := v.Get(k); x != "" {
			q.Set(k, x)
		}
	}
	for i := 0; i+1 < len(more); i += 2 {
		if more[i+1] != "" {
			q.Set(more[i], more[i+1])
		}
	}
	u := "/trial/" + id + "/record"
	if e := q.Encode(); e != "" {
		u += "?" + e
	}
	return u
}

// newKey names one saying.
func newKey() string { return "w" + strings.ToLower(rand.Text()[:11]) }

// trialRecord is the page that takes what is seen of one plant.
func (s *Site) trialRecord(w http.ResponseWriter, r *http.Request) {
	id, p := s.trialOf(w, r)
	if p == nil {
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, http.StatusOK, "trialrecord.tmpl", s.recordView(r, id, p, r.URL.Query(), nil))
}

// recordView is the page as it stands, with what somebody typed; faults are shown beside
// their fields.
func (s *Site) recordView(r *http.Request, id string, p *trialbook.Page, f url.Values, faults trialbook.FieldErrors) *recordView {
	v := &recordView{trialHead: s.headOf(r, id, p, "record"), units: s.benches.set().System(quantity.Metric), Unit: f.Get("unit"), Plant: f.Get("plant"), When: f.Get("date"), Clock: f.Get("clock"), By: f.Get("by"), With: f.Get("with"), Note: f.Get("note"), Key: newKey(), Wrong: map[string]string{}}
	units, state := p.Progress()
	v.State, v.Due = string(state), p.Next(s.today().Format(time.DateOnly))
	if who := access.From(r.Context()); v.By == "" && !who.Here {
		v.By = who.Person
	}
	if v.When == "" {
		v.When = s.today().Format(time.DateOnly)
	}
	v.keptOf(id, p, f)
	for _, x := range faults {
		switch x.Field {
		case "value", "missing": // beside their fields
		case "key", "corrects", "unit", "plant", "what":
			v.Top = asSentence(x.Reason)
		default:
			if v.Wrong[x.Field] == "" {
				v.Wrong[x.Field] = asSentence(x.Reason)
			}
		}
	}
	var here *trialbook.UnitProgress
	for i, u := range units {
		if u.Unit.Name == v.Unit {
			here = &units[i]
		}
	}
	v.groups(id, f, units, here)
	if here == nil {
		v.Unit, v.Plant = "", ""
		v.FromRounds = s.waitingRounds(r, p)
		return v
	}
	codes := here.Plants
	if v.Plant != "" && !slices.ContainsFunc(codes, func(x trialbook.PlantProgress) bool { return x.Code == v.Plant }) {
		codes = append(slices.Clone(codes), trialbook.PlantProgress{Code: v.Plant})
	}
	for _, x := range codes {
		c := chip{Name: x.Code, URL: recordURL(id, f, "unit", v.Unit, "plant", x.Code), Done: x.Seen || x.Absent || x.Guard != "", Here: x.Code == v.Plant}
		switch {
		case x.Seen:
			c.Text = "✓"
		case x.Absent:
			c.Text = "none"
		case x.Guard != "":
			c.Text = "guard"
		}
		if c.Here {
			v.Guard = x.Guard
		}
		v.Plants = append(v.Plants, c)
	}
	for _, k := range along {
		if x := f.Get(k); x != "" {
			v.Hidden = append(v.Hidden, [2]string{k, x})
		}
	}
	if v.Plant == "" {
		return v
	}
	v.Next = nextPlant(*here, v.Plant)
	v.lines(id, p, f)
	v.PlainURL = recordURL(id, f, "unit", v.Unit, "plant", v.Plant)
	v.fields(p, f, faults)
	return v
}

// waitingRounds says how much of the rounds is not in the trial yet.
func (s *Site) waitingRounds(r *http.Request, p *trialbook.Page) string {
	w, err := s.walked(r, p)
	if err != nil || w == nil {
		return ""
	}
	t, err := trialbook.Take(p, *w, nil, "", s.today())
	if err != nil || len(t.Moves)+len(t.Clashes) == 0 {
		return ""
	}
	text := plural(len(t.Moves), "value") + " of the rounds of the bench can be taken over"
	if n := len(t.Clashes); n > 0 {
		text += ", and " + plural(n, "plant") + " in which both say something else"
	}
	return text + "."
}

// groups are the units, block by block; the block at work is open.
func (v *recordView) groups(id string, f url.Values, units []trialbook.UnitProgress, here *trialbook.UnitProgress) {
	opened := false
	for _, u := range units {
		name := u.Unit.Block
		if name == "" {
			name = "units"
		}
		if len(v.Groups) == 0 || v.Groups[len(v.Groups)-1].Name != name {
			v.Groups = append(v.Groups, chipGroup{Name: name})
		}
		g := &v.Groups[len(v.Groups)-1]
		g.All = append(g.All, chip{Name: u.Unit.Name, Text: fmt.Sprintf("%d of %d", u.Seen+u.Absent, u.Due()), URL: recordURL(id, f, "unit", u.Unit.Name), Done: u.Done(), Here: here != nil && u.Unit.Name == here.Unit.Name})
		if here != nil && u.Unit.Name == here.Unit.Name {
			g.Open, opened = true, true
		}
	}
	for i := range v.Groups {
		if !opened && slices.ContainsFunc(v.Groups[i].All, func(c chip) bool { return !c.Done }) {
			v.Groups[i].Open, opened = true, true
		}
	}
}

// nextPlant is the plant after this one that has no primary response yet.
func nextPlant(u trialbook.UnitProgress, plant string) string {
	at := slices.IndexFunc(u.Plants, func(x trialbook.PlantProgress) bool { return x.Code == plant })
	for i := range u.Plants {
		x := u.Plants[(at+1+i)%len(u.Plants)]
		if x.Code != plant && !x.Seen && !x.Absent && x.Guard == "" {
			return x.Code
		}
	}
	return ""
}

// keptOf shows what was just kept, as the table has it.
func (v *recordView) keptOf(id string, p *trialbook.Page, f url.Values) {
	for _, want := range strings.Split(f.Get("kept"), ",") {
		i := slices.IndexFunc(p.All, func(e underlamp.TrialEntry) bool { return e.ID == want })
		if want == "" || i < 0 || len(v.Kept) > 10 {
			continue
		}
		e := p.All[i]
		k := keptView{Text: labelOf(e.What) + " " + trialbook.SaidIn(v.units, e), Where: e.TrialUnit + ", " + e.Plant}
		if e.Struck {
			k.Text = labelOf(e.What) + ": " + e.Corrects + " is struck out"
		} else {
			if e.Note != "" {
				k.Text += " (" + e.Note + ")"
			}
			k.CorrectURL = recordURL(id, f, "unit", e.TrialUnit, "plant", e.Plant, "correct", e.ID)
		}
		for _, d := range p.DoubtsOf(e) {
			k.Doubts = append(k.Doubts, afterName(d))
		}
		v.Kept = append(v.Kept, k)
	}
}

// afterName is a doubt without the line that it is about.
func afterName(d string) string {
	if _, rest, ok := strings.Cut(d, "): "); ok {
		return asSentence(rest)
	}
	return d
}

func labelOf(r underlamp.Response) string { return seenLabels[r][0] }

func (v *recordView) lines(id string, p *trialbook.Page, f url.Values) {
	for _, l := range p.History(v.Unit, v.Plant) {
		e := l[0]
		x := lineView{ID: e.ID, What: labelOf(e.What), Said: trialbook.SaidIn(v.units, e), When: e.Time, By: strings.Trim(e.By+", "+e.With, ", "), Note: e.Note, Struck: e.Struck, Key: newKey()}
		for _, o := range l[1:] {
			was := trialbook.SaidIn(v.units, o)
			if o.By != "" {
				was += ", " + o.By
			}
			if o.Note != "" {
				was += ", " + o.Note
			}
			x.Before = append(x.Before, was+" ("+o.ID+")")
		}
		if !e.Struck {
			x.CorrectURL = recordURL(id, f, "unit", v.Unit, "plant", v.Plant, "correct", e.ID)
		}
		v.Lines = append(v.Lines, x)
	}
}

// fields are what can be said of the plant, the primary response first.
func (v *recordView) fields(p *trialbook.Page, f url.Values, faults trialbook.FieldErrors) {
	only := underlamp.Response("")
	if id := f.Get("correct"); id != "" {
		for _, e := range p.Standing() {
			if e.ID == id && e.TrialUnit == v.Unit && e.Plant == v.Plant {
				v.Correct, v.Was, only = id, labelOf(e.What)+" "+trialbook.SaidIn(v.units, e), e.What
				if !f.Has("date") || f.Get("key") == "" {
					if e.Time != "" {
						v.When, v.Clock = e.Time[:10], ""
					}
				}
			}
		}
		if v.Correct == "" && len(faults) == 0 {
			v.Top = "The line " + id + " counts no more, so it cannot be corrected. The list below shows what stands for it."
		}
	}
	order := []underlamp.Response{p.Trial.Response}
	for _, r := range []underlamp.Response{underlamp.ResponseMass, underlamp.ResponseBurn, underlamp.ResponseSeverity, underlamp.ResponseHeight, underlamp.ResponseLeaves, underlamp.ResponseClear, underlamp.ResponseFirst} {
		if !slices.Contains(order, r) {
			order = append(order, r)
		}
	}
	if only != "" {
		order = []underlamp.Response{only}
	}
	for i, r := range order {
		name := string(r)
		x := seenField{What: r, Label: seenLabels[r][0], Hint: seenLabels[r][1], Kind: "count", Value: f.Get(name), Missing: f.Get(name + "-missing"), Measure: f.Get(name + "-measure"), Measures: trialbook.Measures(r)}
		switch r {
		case underlamp.ResponseMass, underlamp.ResponseHeight:
			x.Kind = "amount"
			if r == underlamp.ResponseHeight && x.Measure == "" {
				x.Measure, _ = quantity.Length.Shown(v.units)
			}
		case underlamp.ResponseBurn:
			x.Kind, x.Choices = "choice", []formOption{{"", "not looked"}, {"no", "no"}, {"yes", "yes"}}
		case underlamp.ResponseSeverity:
			x.Kind, x.Choices = "choice", []formOption{{"", "not looked"}}
			for g := range underlamp.MaxSeverity + 1 {
				x.Choices = append(x.Choices, formOption{fmt.Sprint(g), fmt.Sprint(g)})
			}
		}
		if i == 0 || i == 1 && r == underlamp.ResponseBurn {
			v.First = append(v.First, x)
		} else {
			v.More = append(v.More, x)
			v.MoreOpen = v.MoreOpen || x.Value != "" || x.Missing != ""
		}
	}
	said := saidOf(f)
	for _, x := range faults {
		what := order[0]
		if x.Index < len(said) {
			what = said[x.Index].What
		}
		for _, list := range [][]seenField{v.First, v.More} {
			i := slices.IndexFunc(list, func(o seenField) bool { return o.What == what })
			switch {
			case i < 0:
			case x.Field == "value":
				list[i].Wrong = asSentence(x.Reason)
			case x.Field == "missing":
				list[i].WrongWhy = asSentence(x.Reason)
			}
		}
	}
}

// saidOf are the things that a form says, in a fixed order.
func saidOf(f url.Values) []trialbook.Said {
	when := f.Get("date")
	if c := f.Get("clock"); c != "" && when != "" {
		when += " " + c
	}
	var out []trialbook.Said
	for _, r := range underlamp.Responses() {
		name := string(r)
		x := trialbook.Said{Key: f.Get("key"), Unit: f.Get("unit"), Plant: f.Get("plant"), What: r, Value: strings.TrimSpace(f.Get(name)), Measure: f.Get(name + "-measure"), Missing: strings.TrimSpace(f.Get(name + "-missing")), Time: when, By: f.Get("by"), With: f.Get("with"), Note: f.Get("note"), Corrects: f.Get("correct")}
		if x.Measure != "" && !slices.Contains(trialbook.Measures(r), x.Measure) {
			x.Measure = ""
		}
		if x.Value != "" || x.Missing != "" {
			out = append(out, x)
		}
	}
	return out
}

// trialRecordDo enters what was said of a plant. It answers a script with where to go, and
// others by going there.
func (s *Site) trialRecordDo(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostRecord)
	if err := r.ParseForm(); err != nil {
		s.fail(w, http.StatusRequestEntityTooLarge, "That is too much for one plant.", "A note has room for 1000 characters; go back and shorten it.")
		return
	}
	id, p := s.trialOf(w, r)
	if p == nil || !s.writes(w) {
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	f := r.PostForm
	said := saidOf(f)
	if strike := f.Get("strike"); strike != "" {
		said = []trialbook.Said{{Key: f.Get("key"), Corrects: strike, Strike: true, Time: s.today().Format(time.DateOnly), By: f.Get("by"), Note: f.Get("why")}}
		if strings.TrimSpace(f.Get("why")) == "" {
			said[0].Note = "struck out on the page"
		}
	}
	var kept []trialbook.Kept
	var err error
	switch {
	case f.Get("key") == "":
		err = trialbook.FieldErrors{{Field: "key", Reason: "the page sent no key; load it again"}}
	case len(said) == 0:
		err = trialbook.FieldErrors{{Field: "value", Reason: "write what was seen, or why nothing could be"}}
	default:
		kept, err = trialbook.Record(s.place, p, said, s.today())
	}
	var faults trialbook.FieldErrors
	switch {
	case errors.As(err, &faults):
		status := http.StatusUnprocessableEntity
		if slices.ContainsFunc(faults, func(x *trialbook.FieldError) bool { return x.Field == "key" || x.Field == "corrects" }) {
			status = http.StatusConflict
		}
		s.page(w, status, "trialrecord.tmpl", s.recordView(r, id, p, f, faults))
		return
	case err != nil:
		s.log.Error("record", "trial", id, "err", err)
		v := s.recordView(r, id, p, f, nil)
		v.Top = "Nothing was kept: " + err.Error() + ". What you typed stands below; try again."
		s.page(w, http.StatusServiceUnavailable, "trialrecord.tmpl", v)
		return
	}
	var ids []string
	for _, k := range kept {
		ids = append(ids, k.Entry.ID)
	}
	e := kept[0].Entry
	next := e.Plant
	if f.Get("correct") == "" && f.Get("strike") == "" {
		units, _ := p.Progress()
		for _, u := range units {
			if u.Unit.Name == e.TrialUnit {
				next = nextPlant(u, e.Plant)
			}
		}
	}
	to := recordURL(id, f, "unit", e.TrialUnit, "plant", next, "kept", strings.Join(ids, ","))
	if strings.Contains(r.Header.Get("Accept"), "application/json") {
		w.Header().Set("Content-Type", "application/json")
		json.NewEncoder(w).Encode(struct {
			Kept []string `json:"kept"`
			Go   string   `json:"go"`
		}{ids, to})
		return
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// trialLook says what a value means and what can hardly be meant of it, before it is kept.
func (s *Site) trialLook(w http.ResponseWriter, r *http.Request) {
	id, p := s.trialOf(w, r)
	if p == nil || id == "" {
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Type", "application/json")
	out := struct {
		Means  string   `json:"means"`
		Wrong  string   `json:"wrong"`
		Doubts []string `json:"doubts"`
	}{Doubts: []string{}}
	f := r.URL.Query()
	f.Set("key", "look00")
	for _, said := range saidOf(f) {
		if string(said.What) != f.Get("what") {
			continue
		}
		e, doubts, err := trialbook.Look(p, said, s.today())
		var faults trialbook.FieldErrors
		if errors.As(err, &faults) {
			for _, x := range faults {
				if x.Field == "value" || x.Field == "missing" {
					out.Wrong = asSentence(x.Reason)
				}
			}
		}
		if err == nil && strings.HasPrefix(e.Note, "read as") {
			out.Means = "That is " + quantity.Number(e.Value, 4) + " " + e.What.Unit() + "; both are kept."
		}
		for _, d := range doubts {
			out.Doubts = append(out.Doubts, afterName(d))
		}
	}
	json.NewEncoder(w).Encode(out)
}
