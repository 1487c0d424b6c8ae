package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"path"
	"regexp"
	"strings"
	"time"

	"underlamp/access"
	"underlamp/app/tasks"
	"underlamp/app/trialbook"
	"underlamp/report"
)

// validTrial are names of trial files without their ending.
var validTrial = regexp.MustCompile(`^[A-Za-z0-9_][A-Za-z0-9._-]{0,99}$`)

// trialCard is a trial in the list.
type trialCard struct {
	ID, Name, Question string
	State              string
	Due                string
	Wrong              string
	Counts             bool // something is recorded, so that there may be findings
}

// trialList are the trials of the folder.
func (s *Site) trialList() []trialCard {
	files, err := trialbook.Files(s.benches.folder)
	if err != nil {
		return nil // the list of benches has said it
	}
	var out []trialCard
	for _, file := range files {
		id := strings.TrimSuffix(file, path.Ext(file))
		if !validTrial.MatchString(id) {
			continue
		}
		c := trialCard{ID: id, Name: id}
		p, err := trialbook.Open(s.benches.folder, file)
		if p != nil {
			c.Name, c.Question = p.Trial.Name, p.Trial.Question
		}
		var table *trialbook.TableError
		switch {
		case errors.As(err, &table):
			c.Wrong = "The table cannot be read."
		case err != nil:
			c.Wrong = "The plan has mistakes."
		default:
			plots, _ := s.plotsOf(p)
			p.Stand(plots)
			_, state := p.Progress()
			c.State, c.Due, c.Counts = string(state), p.Next(s.today().Format(time.DateOnly)), state != trialbook.Planned
		}
		out = append(out, c)
	}
	return out
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// trialsPage lists the trials.
func (s *Site) trialsPage(w http.ResponseWriter, r *http.Request) {
	s.page(w, http.StatusOK, "trials.tmpl", struct {
		Title    string
		Trials   []trialCard
		ReadOnly bool
		may
	}{"Trials", s.trialList(), s.place == nil, mayOf(r)})
}

// may is what of a trial is for a visitor.
type may struct{ Reads, Walks, Owner bool }

func mayOf(r *http.Request) may {
	v := access.From(r.Context())
	return may{access.Readers.Has(v), access.Walkers.Has(v), access.Owners.Has(v)}
}

// trialHead is what every page of a trial shows.
type trialHead struct {
	Title, ID, Name string
	Here            string // which of the pages of the trial it is
	Bench           string
	ReadOnly        bool // nothing can be written
	Rounds          bool // those of its bench may belong to it
	may
}

func (s *Site) headOf(r *http.Request, id string, p *trialbook.Page, here string) trialHead {
	h := trialHead{Title: p.Trial.Name + ", " + here, ID: id, Name: p.Trial.Name, Here: here, ReadOnly: s.place == nil, may: mayOf(r)}
	if bench := strings.TrimSuffix(p.Trial.Bench, path.Ext(p.Trial.Bench)); validID.MatchString(bench) {
		h.Bench, h.Rounds = bench, s.rounds != nil
	}
	return h
}

// trialOf reads the trial of a request; it answers itself if that cannot be. With a table
// that cannot be read it does so too.
func (s *Site) trialOf(w http.ResponseWriter, r *http.Request) (string, *trialbook.Page) {
	id := r.PathValue("id")
	file := ""
	if validTrial.MatchString(id) {
		file = trialbook.FileNamed(s.benches.folder, id)
	}
	if file == "" {
		s.fail(w, http.StatusNotFound, "There is no trial of this name in the folder.", "The trials are listed on the page of trials.")
		return "", nil
	}
	p, err := trialbook.Open(s.benches.folder, file)
	var broken *trialbook.BrokenError
	var table *trialbook.TableError
	switch {
	case err == nil:
		plots, _ := s.plotsOf(p)
		p.Stand(plots)
		p.Bench = s.benches.set().Bench
		return id, p
	case errors.As(err, &broken):
		s.page(w, http.StatusUnprocessableEntity, "broken.tmpl", struct{ Title, Problems string }{id, broken.Error()})
	case errors.As(err, &table):
		s.page(w, http.StatusUnprocessableEntity, "broken.tmpl", struct{ Title, Problems string }{p.Trial.Name, table.Error()})
	default:
		s.log.Error("trial", "id", id, "err", err)
		s.page(w, http.StatusUnprocessableEntity, "broken.tmpl", struct{ Title, Problems string }{id, err.Error()})
	}
	return "", nil
}

// trialPage shows the findings of a trial.
func (s *Site) trialPage(w http.ResponseWriter, r *http.Request) {
	id, p := s.trialOf(w, r)
	if p == nil {
		return
	}
	view := struct {
		trialHead
		Note, Nothing      string
		Work               *workView
		Findings, Cautions template.HTML
		Data               takeAway
	}{trialHead: s.headOf(r, id, p, "findings"), Data: s.takeAwayOf(r, "/trial/"+id, "/trial/"+id), Note: p.Trial.Note, Cautions: report.Cautions()}
	status := http.StatusOK
	t, err := s.visit(s.findingsWork(id, p))
	if err != nil {
		s.fail(w, http.StatusServiceUnavailable, asSentence(err.Error()), "What runs is listed on the page of work.")
		return
	}
	switch x := quickly(r.Context(), t); x.State {
	case tasks.Failed:
		status, view.Nothing = http.StatusUnprocessableEntity, x.Err.Error()
	case tasks.Done:
		view.Findings = x.Result.(section).html
	default:
		view.Work = s.workView(r, x, false)
	}
	s.page(w, status, "trial.tmpl", view)
}

// findingsWork reads the trial as it stands. Mostly that takes a tenth of a second; grades of
// thousands of plants take longer.
func (s *Site) findingsWork(id string, p *trialbook.Page) tasks.Work {
	h := sha256.New()
	fmt.Fprintf(h, "%q %q %+v", p.File, p.Source, p.All)
	if p.Trial.Bench != "" {
		if e, err := s.benches.get(strings.TrimSuffix(p.Trial.Bench, path.Ext(p.Trial.Bench))); err == nil && e != nil {
			fmt.Fprint(h, e.version())
		}
	}
	return tasks.Work{Kind: "findings", Key: hex.EncodeToString(h.Sum(nil)), Title: "Findings of " + p.Trial.Name, Page: "/trial/" + id, Again: "/trial/" + id,
		Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
			f, err := p.Findings(ctx, s.benches.folder, func(done, of int) { t.Progress("reading the trial", float64(done)/float64(of)) })
			if err != nil {
				return nil, err
			}
			return section{html: report.FindingsSection(f)}, nil
		}}
}

// findingsDo reads the trial anew after that was stopped.
func (s *Site) findingsDo(w http.ResponseWriter, r *http.Request) {
	if id, p := s.trialOf(w, r); p != nil {
		s.begun(w, r, s.findingsWork(id, p))
	}
}

// writes says that files can be written here; it answers itself if not.
func (s *Site) writes(w http.ResponseWriter) bool {
	if s.place != nil {
		return true
	}
	s.fail(w, http.StatusForbidden, "This server only shows trials.", "underlamp trial writes into the folder; underlamp serve with a folder or a store does so from its pages.")
	return false
}

// today is the day in the zone of the site.
func (s *Site) today() time.Time { return time.Now().In(s.zone) }
