package web

import (
	"cmp"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp"
	"underlamp/access"
	"underlamp/app/round"
	"underlamp/draw"
)

// Entries that are shown at first, and when all are asked for; the table to download has
// every one.
const (
	firstRows = 60
	mostRows  = 2000
)

// A seenRow is an entry in the table.
type seenRow struct {
	ID, When, Day, Plant, What, Text, Typed string
	By, With, Note                          string
	State                                   string // "counts", "corrected: 114 g", "struck by Ida"
	Counts                                  bool
	Doubts                                  []string
	Photo                                   string
}

// A seenPlant is what is known last of a plant.
type seenPlant struct {
	Name, Mass, Height, Width, Leaves, Burn, Began string
	Entries                                        int
}

type seenKind struct {
	Key  underlamp.Response
	Name string
}

type seenShot struct{ ID, Label string }

type choiceRow struct{ ID, Text, Who string }

type seenConflict struct {
	Plant, What, Day, New string
	Choices               []choiceRow
}

// A seenForm corrects an entry, or enters one.
type seenForm struct {
	New      string // id of what will be entered, so that sending the form twice enters once
	Of       *seenRow
	History  []seenRow // of the entry that is corrected, from the first on
	Measured bool
	Known    string
}

type seenView struct {
	Title, ID, Bench string
	Entries          int
	Conflicts        []seenConflict
	Chosen           string // plant
	Plants           []seenPlant
	Growth           template.HTML
	Rows             []seenRow
	More             int
	Shots            []seenShot
	Form             seenForm
	All              []string // names of the plants of the bench
	Kinds            []seenKind
	Data             takeAway
	Today            string
	Wrong            string
	Cycle            string // why there is none to hand on; empty: there is
	File             string
	Owner            bool
	Trials           []trialCard // whose plants stand here, for who may take over
}

// measureName is what people call a measure.
func measureName(what underlamp.Response) string {
	switch what {
	case underlamp.ResponseMass:
		return "fresh mass"
	case underlamp.ResponseSeverity:
		return "burn, grade"
	case underlamp.ResponseBurn:
		return "burn, yes or no"
	case round.Cut:
		return "cut"
	case underlamp.ResponseFirst:
		return "burn first seen"
	case underlamp.ResponseClear:
		return "last look without burn"
	}
	return string(what)
}

func newID() string {
	var b [16]byte
	rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}

func (s *Site) seenPage(w http.ResponseWriter, r *http.Request) {
	s.seen(w, r, http.StatusOK, "")
}

// seen shows what was seen, with what is wrong about a form if it was.
func (s *Site) seen(w http.ResponseWriter, r *http.Request, status int, wrong string) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	rec, err := s.record(r.Context(), e.id)
	if err != nil {
		s.roundsFailed(w, r, err)
		return
	}
	now := time.Now()
	v := seenView{Data: s.takeAwayOf(r, "/bench/"+e.id, "/bench/"+e.id+"/seen"), Title: "What was seen: " + e.bench.Name, ID: e.id, Bench: e.bench.Name, Entries: len(rec.All), Chosen: r.FormValue("plant"), Today: now.In(s.zone).Format(time.DateOnly), Wrong: wrong, File: e.file}
	for _, k := range []underlamp.Response{underlamp.ResponseMass, underlamp.ResponseHeight, underlamp.ResponseWidth, underlamp.ResponseLeaves, underlamp.ResponseSeverity, underlamp.ResponseBurn, underlamp.ResponseFirst, round.Note, round.Cut} {
		v.Kinds = append(v.Kinds, seenKind{k, measureName(k)})
	}
	for _, p := range walk(e.bench.Plants) {
		v.All = append(v.All, p.Name)
	}
	doubts := map[string][]string{}
	for _, d := range rec.Doubts(e.bench, now) {
		doubts[d.ID] = append(doubts[d.ID], d.Text)
	}
	for _, c := range rec.Conflicts() {
		x := seenConflict{Plant: c.Plant, What: measureName(c.What), Day: c.Day.Format("2 January"), New: newID()}
		for _, o := range c.Entries {
			x.Choices = append(x.Choices, choiceRow{o.ID, o.Text(), cmp.Or(o.By, "somebody") + ", " + rec.When(&o).In(s.zone).Format("15:04")})
		}
		v.Conflicts = append(v.Conflicts, x)
	}
	if access.Owners.Has(access.From(r.Context())) {
		v.Trials, v.Owner = s.trialsOn(e), true
	}
	v.Plants = seenPlants(rec, e.bench, v.All)
	v.Growth = growth(rec, e.bench, v.Chosen)
	most := firstRows
	if r.FormValue("all") != "" {
		most = mostRows
	}
	for i := len(rec.All) - 1; i >= 0; i-- {
		o := rec.All[i]
		if v.Chosen != "" && o.Plant != v.Chosen {
			continue
		}
		if o.What == round.Photo && rec.Counts(&o) {
			v.Shots = append(v.Shots, seenShot{o.Photo, shotLabel(rec, e.bench, &o)})
		}
		if len(v.Rows) == most {
			v.More++
			continue
		}
		v.Rows = append(v.Rows, rowOf(rec, e.bench, &o, doubts[o.ID]))
	}
	slices.Reverse(v.Shots) // through time
	v.Form = seenForm{New: newID()}
	if c, err := r.Cookie(knownBy); err == nil {
		v.Form.Known = c.Value
	}
	if o, ok := rec.Find(r.FormValue("entry")); ok {
		row := rowOf(rec, e.bench, &o, doubts[o.ID])
		v.Form.Of, v.Form.Measured = &row, o.What != round.Photo && o.What != round.Cut
		v.Form.History = chain(rec, e.bench, &o, doubts)
	}
	if _, _, err := rec.Cycle(e.bench, e.file, time.Time{}); err != nil {
		v.Cycle = upperFirst(err.Error()) + "."
	}
	w.Header().Set("Cache-Control", "no-cache")
	s.page(w, status, "seen.tmpl", v)
}

// chain is everything that was entered in place of the first entry, in the order of
// entering.
func chain(rec *round.Record, b *underlamp.Bench, o *round.Entry, doubts map[string][]string) []seenRow {
	var out []seenRow
	known := map[string]bool{}
	var follow func(e round.Entry)
	follow = func(e round.Entry) {
		if known[e.ID] {
			return
		}
		known[e.ID] = true
		out = append(out, rowOf(rec, b, &e, doubts[e.ID]))
		for _, next := range rec.After(e.ID) {
			follow(next)
		}
	}
	follow(*rec.Root(o))
	return out
}

func rowOf(rec *round.Record, b *underlamp.Bench, o *round.Entry, doubts []string) seenRow {
	when := rec.When(o).In(rec.Zone())
	row := seenRow{ID: o.ID, When: when.Format("2 Jan 2006 15:04"), Plant: o.Plant, What: measureName(o.What), Text: o.Text(), By: o.By, With: o.With, Note: o.Note, Doubts: doubts, Photo: o.Photo, Counts: rec.Counts(o)}
	if o.What == round.Note {
		row.Text, row.Note = o.Note, ""
	}
	if o.Struck {
		row.Text = "taken out"
		if old, ok := rec.Find(o.Corrects); ok {
			row.Text += ": " + old.Text()
		}
	}
	if day, ok := round.DayOf(b, when); ok {
		row.Day = strconv.Itoa(day)
	}
	if v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(o.Typed, o.Unit)), 64); o.Typed != "" && (err != nil || v != o.Value) {
		row.Typed = o.Typed
	}
	if c := o.Clock; c != nil && c.State == round.ClockCorrected {
		row.Doubts = append(row.Doubts, "The clock of the phone was off by "+roughly(c.Offset)+"; the time is corrected.")
	}
	switch after := rec.After(o.ID); {
	case len(after) == 0 && o.Struck:
		row.State = "takes out"
	case len(after) == 0 && o.Corrects != "":
		row.State = "counts, a correction"
	case len(after) == 0:
		row.State = "counts"
	case after[len(after)-1].Struck:
		row.State = "taken out by " + cmp.Or(after[len(after)-1].By, "somebody")
	default:
		row.State = "corrected to " + after[len(after)-1].Text()
	}
	return row
}

// roughly is a stretch of time in words.
func roughly(ms int64) string {
	d := (time.Duration(ms) * time.Millisecond).Abs()
	switch {
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case d < 48*time.Hour:
		return fmt.Sprintf("%.0f h", d.Hours())
	}
	return fmt.Sprintf("%.0f days", d.Hours()/24)
}

func shotLabel(rec *round.Record, b *underlamp.Bench, o *round.Entry) string {
	when := rec.When(o).In(rec.Zone())
	label := "Plant " + o.Plant + ", " + when.Format("2 January 15:04")
	if day, ok := round.DayOf(b, when); ok {
		label += fmt.Sprintf(", day %d", day)
	}
	return label
}

func seenPlants(rec *round.Record, b *underlamp.Bench, names []string) []seenPlant {
	n := map[string]int{}
	for _, o := range rec.All {
		if n[o.Plant]++; !slices.Contains(names, o.Plant) {
			names = append(names, o.Plant)
		}
	}
	type key struct {
		plant string
		what  underlamp.Response
	}
	open := map[key]bool{}
	for _, c := range rec.Conflicts() {
		open[key{c.Plant, c.What}] = true
	}
	last := map[string]map[underlamp.Response]round.Entry{}
	for _, o := range rec.Standing() {
		if last[o.Plant] == nil {
			last[o.Plant] = map[underlamp.Response]round.Entry{}
		}
		if o.Missing == "" {
			last[o.Plant][o.What] = o
		}
	}
	var out []seenPlant
	for _, name := range names {
		if n[name] == 0 {
			continue
		}
		of := func(what underlamp.Response) string {
			o, ok := last[name][what]
			if !ok {
				return "–"
			}
			if open[key{name, what}] {
				return o.Text() + ", undecided"
			}
			return o.Text()
		}
		p := seenPlant{Name: name, Mass: of(underlamp.ResponseMass), Height: of(underlamp.ResponseHeight), Width: of(underlamp.ResponseWidth), Leaves: of(underlamp.ResponseLeaves), Burn: of(underlamp.ResponseSeverity), Entries: n[name], Began: "–"}
		if p.Burn == "–" {
			p.Burn = of(underlamp.ResponseBurn)
		}
		switch burn := rec.BurnOf(name, b); {
		case !burn.First.IsZero() && !burn.Clear.IsZero():
			p.Began = "after " + burn.Clear.Format("2 Jan") + ", by " + burn.First.Format("2 Jan")
		case !burn.First.IsZero():
			p.Began = "by " + burn.First.Format("2 Jan")
		}
		out = append(out, p)
	}
	return out
}

// growth draws the masses that count by day after transplanting; empty with too few.
func growth(rec *round.Record, b *underlamp.Bench, plant string) template.HTML {
	var dots []draw.Dot
	rows := [][]string{}
	last := 0.0
	for _, o := range rec.Standing() {
		day, ok := round.DayOf(b, rec.When(&o).In(rec.Zone()))
		if o.What != underlamp.ResponseMass || o.Missing != "" || !ok || day < 0 || day > 400 || plant != "" && o.Plant != plant {
			continue
		}
		dots = append(dots, draw.Dot{X: float64(day), Y: o.Value})
		rows = append(rows, []string{strconv.Itoa(day), o.Plant, o.Text()})
		last = max(last, float64(day))
	}
	if len(dots) < 2 || last == 0 {
		return ""
	}
	name := "Fresh mass by day"
	if plant != "" {
		name += ", plant " + plant
	}
	return template.HTML(draw.Fit(draw.Frame{ID: "growth", Title: name, Units: b.Units}, func(f draw.Frame) draw.Picture {
		p := draw.Lines{Frame: f, X: []float64{0, math.Ceil(last) + 1}, XName: "day after transplanting", Panels: []draw.Panel{{Name: "Fresh mass of a plant", Unit: "g", Zero: true, Points: []draw.Points{{Name: "weighed", At: dots}}}}}.Draw()
		p.Table = draw.Table{Caption: name, Head: []string{"Day", "Plant", "Fresh mass"}, Rows: rows}
		return p
	}))
}
