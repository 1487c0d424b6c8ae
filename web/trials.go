package web

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"path"
	"regexp"
	"strings"
	"time"

	"underlamp/access"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/formats/benchfolder"
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
			units, state := p.Progress()
			c.State, c.Due, c.Counts = string(state), s.due(p, units, state), state != trialbook.Planned
		}
		out = append(out, c)
	}
	return out
}

// due says what is to be done next: by the calendar if the plan has one, and by what is
// missing.
func (s *Site) due(p *trialbook.Page, units []trialbook.UnitProgress, state trialbook.State) string {
	text := missing(p, units, state)
	today := s.today().Format(time.DateOnly)
	j, ok := trial.NextJob(p.Trial, today)
	if !ok || state == trialbook.Done {
		return text
	}
	when := "on " + j.Date
	if j.Date == today {
		when = "today"
	}
	if j.Block != "" {
		when += ", " + j.Block
	}
	return fmt.Sprintf("Next by the calendar: %s, %s. %s", lower(j.Title), when, text)
}

func lower(s string) string { return strings.ToLower(s[:1]) + s[1:] }

// missing says how far the recording is.
func missing(p *trialbook.Page, units []trialbook.UnitProgress, state trialbook.State) string {
	what := string(p.Trial.Response)
	switch state {
	case trialbook.Planned:
		return "Nothing is recorded yet. Set the lamps as the plan says, then record what you see."
	case trialbook.Done:
		return "Every plant has its " + what + ". Read the findings."
	}
	var open []string
	lack, block := 0, ""
	for _, u := range units {
		if u.Done() {
			continue
		}
		if block == "" && u.Unit.Block != "" {
			block = u.Unit.Block
		}
		if u.Unit.Block != block {
			continue
		}
		lack += len(u.Plants) - u.Seen - u.Absent
		open = append(open, u.Unit.Name)
	}
	where := ""
	if block != "" {
		where = block + ": "
	}
	list := strings.Join(open[:min(4, len(open))], ", ")
	if len(open) > 4 {
		list += " and others"
	}
	return fmt.Sprintf("%s%s is missing of %s (%s).", where, what, plural(lack, "plant"), list)
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
	may
}

func (s *Site) headOf(r *http.Request, id string, p *trialbook.Page, here string) trialHead {
	h := trialHead{Title: p.Trial.Name + ", " + here, ID: id, Name: p.Trial.Name, Here: here, ReadOnly: s.place == nil, may: mayOf(r)}
	if bench := strings.TrimSuffix(p.Trial.Bench, path.Ext(p.Trial.Bench)); validID.MatchString(bench) {
		h.Bench = bench
	}
	return h
}

// trialOf reads the trial of a request; it answers itself if that cannot be. With a table
// that cannot be read it does so too.
func (s *Site) trialOf(w http.ResponseWriter, r *http.Request) (string, *trialbook.Page) {
	id := r.PathValue("id")
	file := ""
	if validTrial.MatchString(id) {
		for _, ext := range endings {
			if file == "" && benchfolder.KindOf(s.benches.folder, id+ext) == benchfolder.TrialFile {
				file = id + ext
			}
		}
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
		Findings, Cautions template.HTML
	}{trialHead: s.headOf(r, id, p, "findings"), Note: p.Trial.Note, Cautions: report.Cautions()}
	status := http.StatusOK
	if f, err := p.Findings(s.benches.folder, nil); err != nil {
		status, view.Nothing = http.StatusUnprocessableEntity, err.Error()
	} else {
		view.Findings = report.FindingsSection(f)
	}
	s.page(w, status, "trial.tmpl", view)
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
