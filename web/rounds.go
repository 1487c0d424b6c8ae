package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/round"
	"underlamp/formats/photofile"
	"underlamp/science/quantity"
	"underlamp/store"
)

// Rounds keep what was seen of plants; a store does.
type Rounds interface {
	store.Observations
	store.Photos
}

// roundsPolicy is that of the other pages, with pictures that are still in the phone, and
// the worker and manifest that let the page start without network.
const roundsPolicy = policy + "; worker-src 'self'; manifest-src 'self'"

// withBlobs lets a page show pictures out of the phone's own database.
func withBlobs(p string) string {
	return strings.Replace(p, "img-src 'self'", "img-src 'self' blob:", 1)
}

// forEver is a time after every observation.
const forEver = math.MaxInt64

// record reads what was seen on a bench.
func (s *Site) record(ctx context.Context, bench string) (*round.Record, error) {
	all, err := s.rounds.Observations(ctx, bench, 0, forEver)
	if err != nil {
		return nil, err
	}
	entries, faults := round.ReadAll(all)
	for _, f := range faults {
		s.log.Warn("an observation cannot be read", "bench", bench, "err", f)
	}
	return round.NewRecord(entries, s.zone), nil
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

type refusal struct {
	ID  string `json:"id"`
	Why string `json:"why"`
}

type doubted struct {
	ID    string `json:"id"`
	Plant string `json:"plant"`
	Text  string `json:"text"`
}

type sendAnswer struct {
	Now     int64     `json:"now_ms"`
	Kept    []string  `json:"kept"`
	Refused []refusal `json:"refused"`
	Doubts  []doubted `json:"doubts"`
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
	if b == nil {
		b = &underlamp.Bench{}
	}
	a := sendAnswer{Now: received.UnixMilli(), Kept: []string{}, Refused: []refusal{}, Doubts: []doubted{}}
	var entries []round.Entry
	for i := range p.Entries {
		e, err := p.Enter(i, id, b, received)
		if err != nil {
			a.Refused = append(a.Refused, refusal{p.Entries[i].ID, err.Error()})
			continue
		}
		entries = append(entries, e)
	}
	kept, refused, err := s.observe(r.Context(), entries)
	if err != nil {
		if r.Context().Err() == nil {
			s.log.Error("rounds", "err", err)
			s.say(w, http.StatusServiceUnavailable, map[string]string{"why": "It cannot be kept now; it stays in the phone and is sent again."})
		}
		return
	}
	a.Kept, a.Refused = append(a.Kept, kept...), append(a.Refused, refused...)
	if rec, err := s.record(r.Context(), id); err == nil {
		for _, d := range rec.Doubts(b, received) {
			if e, ok := rec.Find(d.ID); ok && slices.Contains(a.Kept, d.ID) {
				a.Doubts = append(a.Doubts, doubted{d.ID, e.Plant, d.Text})
			}
		}
	}
	s.say(w, http.StatusOK, a)
}

// observe keeps entries. Where an id comes again, it is asked what was kept under it: the
// same entry sent twice is kept, another one is refused, and the rest goes in.
func (s *Site) observe(ctx context.Context, entries []round.Entry) (kept []string, refused []refusal, err error) {
	if len(entries) == 0 {
		return nil, nil, nil
	}
	put := func(es []round.Entry) error {
		var all []store.Observation
		for _, e := range es {
			o, err := e.Observation()
			if err != nil {
				return err
			}
			all = append(all, o)
		}
		return s.rounds.Observe(ctx, all)
	}
	ids := func(es []round.Entry) (out []string) {
		for _, e := range es {
			out = append(out, e.ID)
		}
		return out
	}
	err = put(entries)
	if err == nil {
		return ids(entries), nil, nil
	}
	if !errors.Is(err, store.ErrDiffers) {
		return nil, nil, err
	}
	rec, err := s.record(ctx, entries[0].Bench)
	if err != nil {
		return nil, nil, err
	}
	for _, e := range entries {
		if was, ok := rec.Find(e.ID); ok && was.SameAs(&e) {
			kept = append(kept, e.ID)
			continue
		}
		switch err := put([]round.Entry{e}); {
		case err == nil:
			kept = append(kept, e.ID)
		case errors.Is(err, store.ErrDiffers):
			refused = append(refused, refusal{e.ID, "something else is kept under this id"})
		default:
			return nil, nil, err
		}
	}
	return kept, refused, nil
}

// photoDoc is what is kept beside a picture.
type photoDoc struct {
	Version int    `json:"underlamp photo"`
	Phone   string `json:"phone,omitempty"`
	SHA256  string `json:"sha256"`
	Width   int    `json:"width"`
	Height  int    `json:"height"`
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
	info, err := photofile.Check(data)
	if err != nil {
		s.say(w, http.StatusUnprocessableEntity, map[string]string{"why": upperFirst(err.Error()) + "."})
		return
	}
	doc, err := json.Marshal(photoDoc{1, phone, info.SHA256, info.Width, info.Height})
	if err != nil {
		panic("web: " + err.Error())
	}
	now := time.Now()
	// When it was taken stands in the entry that names it: here it is when it came.
	err = s.rounds.PutPhoto(r.Context(), store.Photo{ID: id, Bench: bench, At: store.At(now), Recorded: store.At(now), Media: info.Media, Doc: doc}, data)
	if errors.Is(err, store.ErrDiffers) {
		was, old, found := s.rounds.Photo(r.Context(), id)
		if found == nil && was.Bench == bench && string(old) == string(data) {
			err = nil // sent again
		} else if found == nil {
			s.say(w, http.StatusConflict, map[string]string{"why": "Another picture is kept under this id."})
			return
		}
	}
	if err != nil {
		if r.Context().Err() == nil {
			s.log.Error("photo", "err", err)
			s.say(w, http.StatusServiceUnavailable, map[string]string{"why": "The picture cannot be kept now; it stays in the phone and is sent again."})
		}
		return
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
	for _, name := range []string{"pages.css", "rounds.css", "pages.js", "rounds.js", "roundstore.js", "mark.svg", "icon-192.png"} {
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
