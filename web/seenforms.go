package web

import (
	"errors"
	"net/http"
	"strings"
	"time"

	"underlamp"
	"underlamp/app/round"
	"underlamp/store"
)

// seenEnter corrects, takes out, goes back, or enters by hand.
func (s *Site) seenEnter(w http.ResponseWriter, r *http.Request) {
	s.seenForm(w, r, func(r *http.Request, e *entry, rec *round.Record) ([]round.Entry, error) {
		x, err := rec.Change(round.Change{ID: r.FormValue("new"), By: r.FormValue("by"), Note: r.FormValue("note"), Of: r.FormValue("of"), Do: r.FormValue("do"),
			Value: r.FormValue("value"), Plant: r.FormValue("plant"), What: underlamp.Response(r.FormValue("what")), Day: r.FormValue("day")}, e.id, e.bench, time.Now())
		return []round.Entry{x}, err
	})
}

// seenDecide ends a conflict: one counts, or all are right side by side.
func (s *Site) seenDecide(w http.ResponseWriter, r *http.Request) {
	s.seenForm(w, r, func(r *http.Request, e *entry, rec *round.Record) ([]round.Entry, error) {
		return rec.Decide(round.Decide{ID: r.FormValue("new"), By: r.FormValue("by"), Of: r.Form["of"], Keep: r.FormValue("keep")}, e.id, e.bench, time.Now())
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
	if fault, ok := round.IsFault(err); ok {
		s.seen(w, r, http.StatusUnprocessableEntity, upperFirst(fault.Text)+".")
		return
	}
	if len(entries) > 0 && err == nil {
		if err = round.Put(r.Context(), s.rounds, entries); errors.Is(err, store.ErrDiffers) { // the form again: what it asked for is done
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
