package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/photo"
	"underlamp/app/round"
	"underlamp/formats/photofile"
	"underlamp/science/quantity"
	"underlamp/store"
)

// Rounds keep what was seen of plants; a store does.
type Rounds interface {
	store.Observations
	store.Photos
	store.Measures
}

// roundsPolicy is that of the other pages, with pictures that are still in the phone, and
// the worker and manifest that let the page start without network.
const roundsPolicy = policy + "; worker-src 'self'; manifest-src 'self'"

// withBlobs lets a page show pictures out of the phone's own database.
func withBlobs(p string) string {
	return strings.Replace(p, "img-src 'self'", "img-src 'self' blob:", 1)
}

// record reads what was seen on a bench.
func (s *Site) record(ctx context.Context, bench string) (*round.Record, error) {
	rec, faults, err := round.Load(ctx, s.rounds, bench, s.zone)
	for _, f := range faults {
		s.log.Warn("an observation cannot be read", "bench", bench, "err", f)
	}
	return rec, err
}

// roundsFailed answers where the store does not.
func (s *Site) roundsFailed(w http.ResponseWriter, r *http.Request, err error) {
	if r.Context().Err() != nil {
		return
	}
	s.log.Error("rounds", "err", err)
	s.fail(w, http.StatusServiceUnavailable, "What was seen cannot be read now.", "Load the page again in a while. If it stays so, underlamp doctor says why.")
}

// roundsPage is the page to walk with.
func (s *Site) roundsPage(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	w.Header().Set("Content-Security-Policy", withBlobs(roundsPolicy))
	w.Header().Set("Cache-Control", "no-cache")
	length, _ := quantity.Length.Shown(e.bench.Units)
	s.page(w, http.StatusOK, "rounds.tmpl", struct {
		Title, ID, Bench, Zone string
		Plan                   benchPlan
		Grades                 []burnGrade
		Length                 string // unit that lengths are typed in, at first
		Assets                 string
	}{"Rounds: " + e.bench.Name, e.id, e.bench.Name, zoneName(s.zone), roundsPlanOf(e.bench), burnGrades(), length, strings.Join(s.roundsAssets(), " ")})
}

// zoneName is the name of a zone for a browser; empty for that of this machine.
func zoneName(z *time.Location) string {
	if z == time.Local {
		return ""
	}
	return z.String()
}

// lastSeen is a value as the page shows it beside the field.
type lastSeen struct {
	ID    string `json:"id"`
	Text  string `json:"text"`
	At    int64  `json:"at_ms"`
	By    string `json:"by,omitempty"`
	Phone string `json:"phone,omitempty"`
}

type lastAnswer struct {
	Now       int64                                      `json:"now_ms"`
	Plants    map[string]map[underlamp.Response]lastSeen `json:"plants"`
	Conflicts int                                        `json:"conflicts"`
}

// roundsLast tells the last value of every plant.
func (s *Site) roundsLast(w http.ResponseWriter, r *http.Request) {
	id, _, ok := s.benchOf(w, r)
	if !ok {
		return
	}
	rec, err := s.record(r.Context(), id)
	if err != nil {
		s.say(w, http.StatusServiceUnavailable, map[string]string{"why": "What was seen cannot be read now."})
		return
	}
	a := lastAnswer{Now: time.Now().UnixMilli(), Plants: map[string]map[underlamp.Response]lastSeen{}, Conflicts: len(rec.Conflicts())}
	for _, e := range rec.Standing() {
		if e.Missing != "" {
			continue
		}
		if a.Plants[e.Plant] == nil {
			a.Plants[e.Plant] = map[underlamp.Response]lastSeen{}
		}
		l := lastSeen{ID: e.ID, Text: e.Text(), At: rec.When(&e).UnixMilli(), By: e.By}
		if e.Clock != nil {
			l.Phone = e.Clock.Phone
		}
		a.Plants[e.Plant][e.What] = l
	}
	s.say(w, http.StatusOK, a)
}

// benchOf finds the bench that a phone sends to. A bench file with mistakes takes what was
// seen all the same: the bench is nil then.
func (s *Site) benchOf(w http.ResponseWriter, r *http.Request) (string, *underlamp.Bench, bool) {
	e, err := s.benches.get(r.PathValue("id"))
	switch {
	case err != nil:
		s.log.Error("bench", "err", err)
		s.say(w, http.StatusServiceUnavailable, map[string]string{"why": "The bench file cannot be read now."})
		return "", nil, false
	case e == nil:
		s.say(w, http.StatusNotFound, map[string]string{"why": "There is no bench of this name any more."})
		return "", nil, false
	}
	return e.id, e.bench, true
}

// say answers with JSON.
func (s *Site) say(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	if err := json.NewEncoder(w).Encode(v); err != nil {
		s.log.Debug("answer", "err", err)
	}
}

type doubted struct {
	ID    string `json:"id"`
	Plant string `json:"plant"`
	Text  string `json:"text"`
}

type sendAnswer struct {
	Now     int64           `json:"now_ms"`
	Kept    []string        `json:"kept"`
	Refused []round.Refusal `json:"refused"`
	Doubts  []doubted       `json:"doubts"`
}

// roundsSend takes what a phone has entered. What it answers as kept is on the disk; what
// it refuses stays in the phone, with the reason.
func (s *Site) roundsSend(w http.ResponseWriter, r *http.Request) {
	received := time.Now()
	id, b, ok := s.benchOf(w, r)
	if !ok {
		return
	}
	raw, err := io.ReadAll(r.Body)
	if err != nil {
		s.say(w, http.StatusRequestEntityTooLarge, map[string]string{"why": fmt.Sprintf("A packet has at most %d kB.", round.MaxPacket>>10)})
		return
	}
	p, err := round.ReadPacket(raw)
	if err != nil {
		s.say(w, http.StatusBadRequest, map[string]string{"why": "This is no packet of rounds: " + err.Error() + "."})
		return
	}
	a := sendAnswer{Now: received.UnixMilli(), Kept: []string{}, Refused: []round.Refusal{}, Doubts: []doubted{}}
	kept, refused, err := p.Receive(r.Context(), s.rounds, id, b, received)
	if err != nil {
		if r.Context().Err() == nil {
			s.log.Error("rounds", "err", err)
			s.say(w, http.StatusServiceUnavailable, map[string]string{"why": "It cannot be kept now; it stays in the phone and is sent again."})
		}
		return
	}
	a.Kept, a.Refused = append(a.Kept, kept...), append(a.Refused, refused...)
	if b == nil {
		b = &underlamp.Bench{}
	}
	if rec, err := s.record(r.Context(), id); err == nil {
		for _, d := range rec.Doubts(b, received) {
			if e, ok := rec.Find(d.ID); ok && slices.Contains(a.Kept, d.ID) {
				a.Doubts = append(a.Doubts, doubted{d.ID, e.Plant, d.Text})
			}
		}
	}
	s.say(w, http.StatusOK, a)
}

// roundsPhoto takes a picture as its bytes. The original is kept as it is.
func (s *Site) roundsPhoto(w http.ResponseWriter, r *http.Request) {
	bench, _, ok := s.benchOf(w, r)
	if !ok {
		return
	}
	id, phone := r.URL.Query().Get("id"), r.URL.Query().Get("phone")
	if !round.ValidID(id) || !round.ValidID(phone) {
		s.say(w, http.StatusBadRequest, map[string]string{"why": "The picture or the phone has no id."})
		return
	}
	data, err := io.ReadAll(r.Body)
	if err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			s.say(w, http.StatusRequestEntityTooLarge, map[string]string{"why": fmt.Sprintf("The picture has more than %d MB: choose a smaller size in the camera.", photofile.MaxBytes>>20)})
		}
		return // or the phone has gone
	}
	now := time.Now()
	err = photo.Receive(r.Context(), s.rounds, bench, id, phone, data, now)
	var fault *photo.Fault
	switch {
	case errors.As(err, &fault):
		status := http.StatusUnprocessableEntity
		if fault.Other {
			status = http.StatusConflict
		}
		s.say(w, status, map[string]string{"why": upperFirst(fault.Text) + "."})
		return
	case err != nil:
		if r.Context().Err() == nil {
			s.log.Error("photo", "err", err)
			s.say(w, http.StatusServiceUnavailable, map[string]string{"why": "The picture cannot be kept now; it stays in the phone and is sent again."})
		}
		return
	}
	select {
	case s.photoCame <- struct{}{}:
	default:
	}
	s.say(w, http.StatusOK, map[string]any{"kept": id, "now_ms": now.UnixMilli()})
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// roundsAssets are the static files that the rounds need without network.
func (s *Site) roundsAssets() []string {
	var out []string
	for _, name := range []string{"pages.css", "rounds.css", "pages.js", "work.js", "rounds.js", "roundstore.js", "mark.svg", "icon-192.png"} {
		out = append(out, s.urls[name])
	}
	return out
}

// roundsWorker is the service worker. It lies at the root, so that it may serve the rounds
// of every bench, and is asked for anew each time.
func (s *Site) roundsWorker(w http.ResponseWriter, _ *http.Request) {
	assets, err := json.Marshal(s.roundsAssets())
	if err != nil {
		panic("web: " + err.Error())
	}
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	fmt.Fprintf(w, "const assets = %s;\n", assets)
	w.Write(s.worker)
}

// roundsManifest lets a phone install the rounds of a bench.
func (s *Site) roundsManifest(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	at := "/bench/" + e.id + "/rounds"
	type icon struct {
		Src     string `json:"src"`
		Sizes   string `json:"sizes"`
		Type    string `json:"type"`
		Purpose string `json:"purpose,omitempty"`
	}
	w.Header().Set("Content-Type", "application/manifest+json")
	w.Header().Set("Cache-Control", "no-cache")
	if err := json.NewEncoder(w).Encode(map[string]any{
		"id": at, "start_url": at, "scope": at, "name": "Rounds: " + e.bench.Name, "short_name": "Rounds", "display": "standalone",
		"background_color": "#14181d", "theme_color": "#14181d",
		"icons": []icon{{s.urls["mark.svg"], "any", "image/svg+xml", ""}, {s.urls["icon-192.png"], "192x192", "image/png", "any"}, {s.urls["icon-512.png"], "512x512", "image/png", "maskable"}},
	}); err != nil {
		s.log.Debug("manifest", "err", err)
	}
}
