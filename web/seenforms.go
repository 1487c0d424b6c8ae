package web

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/round"
	"underlamp/store"
)

// A formFault is what is wrong with a form, in words of a person.
type formFault struct{ text string }

func (f *formFault) Error() string { return f.text }

// enterForm makes the entries that a form asks for.
func (s *Site) enterForm(r *http.Request, e *entry, rec *round.Record) ([]round.Entry, error) {
	now := time.Now()
	id, by := r.FormValue("new"), strings.TrimSpace(r.FormValue("by"))
	note := strings.TrimSpace(r.FormValue("note"))
	if by == "" {
		return nil, &formFault{"Write who says so."}
	}
	of := r.FormValue("of")
	if of == "" { // a new one
		at := now
		if d := r.FormValue("day"); d != "" && d != now.In(s.zone).Format(time.DateOnly) {
			t, err := time.ParseInLocation(time.DateOnly, d, s.zone)
			if err != nil {
				return nil, &formFault{fmt.Sprintf("%q is no day such as 2026-10-01.", d)}
			}
			at = t.Add(12 * time.Hour) // the hour is not known
		}
		x, err := round.New(id, e.id, at, now, round.Seen{Plant: r.FormValue("plant"), What: underlamp.Response(r.FormValue("what")), Typed: r.FormValue("value"), By: by, Note: note}, "", e.bench)
		return []round.Entry{x}, faultOf(err)
	}
	old, ok := rec.Find(of)
	if !ok {
		return nil, &formFault{"The entry that is to be corrected is not there."}
	}
	if len(rec.After(of)) > 0 {
		if was, ok := rec.Find(id); !ok || was.Corrects != of { // not this form, sent twice
			return nil, &formFault{"Somebody has corrected this entry in the meantime: look again, and correct what counts now."}
		}
	}
	switch r.FormValue("do") {
	case "strike":
		x, err := round.Strike(id, old, now, by, note)
		return []round.Entry{x}, faultOf(err)
	case "back":
		was, ok := rec.Find(old.Corrects)
		if !ok {
			return nil, &formFault{"There is nothing before this entry to go back to."}
		}
		if was.Struck {
			return nil, &formFault{"What stood before was taken out; take this one out too, or correct it."}
		}
		seen := was.Seen
		seen.Clock, seen.By, seen.Beside = nil, by, nil
		if note != "" && was.What != round.Note {
			seen.Note = note
		}
		x, err := round.New(id, e.id, now, now, seen, of, e.bench)
		return []round.Entry{x}, faultOf(err)
	}
	seen := old.Seen
	seen.Clock, seen.By, seen.Note, seen.Typed, seen.Missing = nil, by, note, r.FormValue("value"), ""
	if old.What == round.Note {
		seen.Note, seen.Typed = r.FormValue("value"), ""
	}
	x, err := round.New(id, e.id, now, now, seen, of, e.bench)
	return []round.Entry{x}, faultOf(err)
}

func faultOf(err error) error {
	if err == nil {
		return nil
	}
	return &formFault{upperFirst(err.Error()) + "."}
}

// seenEnter corrects, takes out, goes back, or enters by hand.
func (s *Site) seenEnter(w http.ResponseWriter, r *http.Request) {
	s.seenForm(w, r, s.enterForm)
}

// seenDecide ends a conflict: one counts, or all are right side by side.
func (s *Site) seenDecide(w http.ResponseWriter, r *http.Request) {
	s.seenForm(w, r, func(r *http.Request, e *entry, rec *round.Record) ([]round.Entry, error) {
		now := time.Now()
		by, keep, id := strings.TrimSpace(r.FormValue("by")), r.FormValue("keep"), r.FormValue("new")
		if by == "" {
			return nil, &formFault{"Write who decides."}
		}
		for _, c := range rec.Conflicts() {
			at := slices.IndexFunc(c.Entries, func(o round.Entry) bool { return slices.Contains(r.Form["of"], o.ID) })
			if at < 0 {
				continue
			}
			var ids []string
			for _, o := range c.Entries {
				ids = append(ids, o.ID)
			}
			if !slices.Equal(slices.Sorted(slices.Values(ids)), slices.Sorted(slices.Values(r.Form["of"]))) {
				return nil, &formFault{"More was seen of this plant in the meantime: look again."}
			}
			var out []round.Entry
			if keep == "all" {
				// Each is put beside all before it.
				for i, o := range c.Entries[1:] {
					seen := o.Seen
					seen.Clock, seen.Beside = nil, ids[:i+1]
					seen.Note = strings.TrimSpace(seen.Note + " Right beside the other, says " + by + ".")
					x, err := round.New(fmt.Sprintf("%s-%d", id, i), e.id, now, now, seen, o.ID, e.bench)
					if err != nil {
						return nil, faultOf(err)
					}
					out = append(out, x)
				}
				return out, nil
			}
			if !slices.Contains(ids, keep) {
				return nil, &formFault{"Choose which one counts."}
			}
			for i, o := range c.Entries {
				if o.ID == keep {
					continue
				}
				x, err := round.Strike(fmt.Sprintf("%s-%d", id, i), o, now, by, "the other counts")
				if err != nil {
					return nil, faultOf(err)
				}
				out = append(out, x)
			}
			return out, nil
		}
		return nil, nil // decided already
	})
}

func (s *Site) seenForm(w http.ResponseWriter, r *http.Request, do func(*http.Request, *entry, *round.Record) ([]round.Entry, error)) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	if err := r.ParseForm(); err != nil {
		s.fail(w, http.StatusBadRequest, "The form is too large or broken.", "Go back and try again.")
		return
	}
	rec, err := s.record(r.Context(), e.id)
	if err != nil {
		s.roundsFailed(w, r, err)
		return
	}
	entries, err := do(r, e, rec)
	var fault *formFault
	if errors.As(err, &fault) {
		s.seen(w, r, http.StatusUnprocessableEntity, fault.text)
		return
	}
	if len(entries) > 0 && err == nil {
		var all []store.Observation
		for _, x := range entries {
			o, fault := x.Observation()
			if err = fault; err != nil {
				break
			}
			all = append(all, o)
		}
		if err == nil {
			err = s.rounds.Observe(r.Context(), all)
		}
		if errors.Is(err, store.ErrDiffers) { // the form again: what it asked for is done
			err = nil
		}
	}
	if err != nil {
		s.roundsFailed(w, r, err)
		return
	}
	if by := strings.TrimSpace(r.FormValue("by")); !strings.ContainsAny(by, `";\,`) && isASCII(by) {
		http.SetCookie(w, &http.Cookie{Name: knownBy, Value: by, Path: "/", MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	}
	to := "/bench/" + e.id + "/seen"
	if len(entries) > 0 && r.FormValue("keep") == "" {
		to += "?entry=" + entries[0].ID + "#entry"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}
