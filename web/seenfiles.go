package web

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"underlamp/app/round"
	"underlamp/formats/cyclefile"
	"underlamp/formats/photofile"
	"underlamp/store"
)

// download sends a file that somebody saves.
func (s *Site) download(w http.ResponseWriter, r *http.Request, kind, name string, write func(*round.Record, *entry, *bytes.Buffer) error) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	rec, err := s.record(r.Context(), e.id)
	if err != nil {
		s.roundsFailed(w, r, err)
		return
	}
	var b bytes.Buffer
	if err := write(rec, e, &b); err != nil {
		s.fail(w, http.StatusUnprocessableEntity, upperFirst(err.Error())+".", "The page of what was seen has all entries.")
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", e.id+name))
	w.Header().Set("Cache-Control", "no-store")
	w.Write(b.Bytes())
}

func (s *Site) seenTable(w http.ResponseWriter, r *http.Request) {
	s.download(w, r, "text/csv; charset=utf-8", ".seen.csv", func(rec *round.Record, _ *entry, b *bytes.Buffer) error { return rec.WriteCSV(b) })
}

func (s *Site) seenExport(w http.ResponseWriter, r *http.Request) {
	s.download(w, r, "application/json", ".seen.json", func(rec *round.Record, e *entry, b *bytes.Buffer) error { return rec.WriteJSON(b, e.id) })
}

// seenCycle hands what counts on as a cycle file, without what the cycle files beside the
// bench tell already.
func (s *Site) seenCycle(w http.ResponseWriter, r *http.Request) {
	s.download(w, r, "application/yaml; charset=utf-8", ".rounds.cycle.yaml", func(rec *round.Record, e *entry, b *bytes.Buffer) error {
		c, _, err := rec.Cycle(e.bench, e.file, time.Time{})
		if err != nil {
			return err
		}
		found, _, err := s.cyclesOf(e)
		if err != nil {
			return err
		}
		for _, f := range found {
			if f.Cycle != nil {
				round.Without(c, f.Cycle)
			}
		}
		book, _, err := s.book(r.Context(), e)
		if err != nil {
			return err
		}
		book.AddMasses(c, s.zone)
		if len(c.Observations) == 0 {
			return errors.New("the cycle files beside the bench tell all of it already")
		}
		return cyclefile.Write(b, c)
	})
}

// smallSide is the longest side of the small pictures.
const smallSide = 480

// seenPhoto shows a picture without what tells where it was taken; small with ?small=1.
func (s *Site) seenPhoto(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	p, data, err := s.rounds.Photo(r.Context(), r.PathValue("photo"))
	switch {
	case errors.Is(err, store.ErrNotFound) || err == nil && p.Bench != e.id:
		s.fail(w, http.StatusNotFound, "There is no such picture of this bench.", "It may not have been sent yet.")
		return
	case err != nil:
		s.roundsFailed(w, r, err)
		return
	}
	media := p.Media
	if r.FormValue("small") != "" {
		select {
		case s.small <- struct{}{}:
		case <-r.Context().Done():
			return
		}
		small, err := photofile.Small(data, smallSide)
		<-s.small
		if err == nil {
			data, media = small, "image/jpeg"
		} else {
			data, err = photofile.Plain(data)
		}
		if err != nil {
			data = nil
		}
	} else if data, err = photofile.Plain(data); err != nil {
		data = nil
	}
	if data == nil {
		s.fail(w, http.StatusUnprocessableEntity, "The picture is damaged.", "underlamp rounds photos writes the original.")
		return
	}
	w.Header().Set("Content-Type", media)
	w.Header().Set("Content-Disposition", "inline")
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	w.Header().Set("Content-Length", strconv.Itoa(len(data)))
	w.Write(data)
}
