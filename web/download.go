package web

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"underlamp/app/dataset"
	"underlamp/formats/aboutfile"
	"underlamp/formats/datapackage"
)

// trialPackage sends everything of a trial as an open package.
func (s *Site) trialPackage(w http.ResponseWriter, r *http.Request) {
	s.trialData(w, r, dataset.FormatPackage)
}

// trialTables sends the tables of a trial as a workbook.
func (s *Site) trialTables(w http.ResponseWriter, r *http.Request) {
	s.trialData(w, r, dataset.FormatXLSX)
}

func (s *Site) trialData(w http.ResponseWriter, r *http.Request, f dataset.Format) {
	id, p := s.trialOf(w, r)
	if p == nil {
		return
	}
	p.Bench = nil // what is set for those who look does not leave
	ask := s.askFor(w, r)
	if ask == nil {
		return
	}
	if found, err := p.Findings(r.Context(), s.benches.folder, nil); err != nil {
		ask.NoFindings = "There are none yet: " + err.Error() + "."
	} else if err := ask.Told(found); err != nil {
		s.fail(w, http.StatusInternalServerError, "The findings cannot be written.", "The log of the server says why.")
		s.log.Error("findings", "trial", id, "err", err)
		return
	}
	if bench := strings.TrimSuffix(strings.TrimSuffix(p.Trial.Bench, ".yaml"), ".yml"); bench != "" && ask.Records != nil {
		if e, err := s.benches.get(bench); err == nil && e != nil && e.bench != nil {
			if ask.Records.Book, _, err = s.book(r.Context(), e); err != nil {
				s.roundsFailed(w, r, err)
				return
			}
		}
	}
	made, err := dataset.OfTrial(r.Context(), *ask, p)
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, asSentence(err.Error()), "The trial is as it was.")
		return
	}
	s.send(w, r, id, made, f)
}

// benchPackage sends everything of a bench as an open package.
func (s *Site) benchPackage(w http.ResponseWriter, r *http.Request) {
	s.benchData(w, r, dataset.FormatPackage)
}

// benchTables sends the tables of a bench as a workbook.
func (s *Site) benchTables(w http.ResponseWriter, r *http.Request) {
	s.benchData(w, r, dataset.FormatXLSX)
}

func (s *Site) benchData(w http.ResponseWriter, r *http.Request, f dataset.Format) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	ask := s.askFor(w, r)
	if ask == nil {
		return
	}
	book, rec, err := s.book(r.Context(), e)
	if err != nil {
		s.roundsFailed(w, r, err)
		return
	}
	if ask.Records != nil {
		ask.Records.Book = book
	}
	made, err := dataset.OfBench(r.Context(), *ask, e.file, e.bench, rec)
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, asSentence(err.Error()), "The bench is as it was.")
		return
	}
	s.send(w, r, e.id, made, f)
}

// askFor is [Site.askOf] for what a visitor asks; it answers itself where that cannot be.
func (s *Site) askFor(w http.ResponseWriter, r *http.Request) *dataset.Ask {
	ask, err := s.askOf()
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, asSentence(err.Error()), "Correct "+aboutfile.Name+" on the page of what is said of the data, or in the folder, and load this address again.")
		return nil
	}
	if ask.Names, err = dataset.ParseNames(r.FormValue("names")); err != nil {
		s.fail(w, http.StatusBadRequest, asSentence(err.Error()), "Go back and choose whose names leave.")
		return nil
	}
	return ask
}

// askOf is what is packed of anything here: with what is said of the data, and the records
// of the store.
func (s *Site) askOf() (*dataset.Ask, error) {
	a := &dataset.Ask{Folder: s.benches.folder, Program: dataset.Program{Name: "underlamp", Version: s.version}, Created: time.Now().UTC().Truncate(time.Second)}
	var err error
	if a.About, err = dataset.AboutOf(s.benches.folder); err != nil {
		return nil, err
	}
	if s.data != nil {
		a.Records = &dataset.Records{Store: s.data, Zone: s.zone}
	}
	return a, nil
}

// send streams a package as a file that somebody saves: hours of years of sensors are not
// held in memory. What fails on the way ends the connection, so that nobody takes a part for
// the whole.
func (s *Site) send(w http.ResponseWriter, r *http.Request, name string, p *datapackage.Package, f dataset.Format) {
	w.Header().Set("Content-Type", f.Media(false))
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name+f.Ending(false)))
	w.Header().Set("Cache-Control", "no-store")
	if err := dataset.Write(w, p, f, ""); err != nil {
		s.log.Error("download", "name", name, "err", err)
		panic(http.ErrAbortHandler)
	}
}
