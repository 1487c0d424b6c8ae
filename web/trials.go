package web

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"net/http"
	"path"
	"regexp"
	"strings"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/formats/benchfolder"
	"underlamp/formats/trialfile"
	"underlamp/formats/trialtable"
	"underlamp/report"
)

// validTrial are names of trial files without their ending.
var validTrial = regexp.MustCompile(`^[A-Za-z0-9_][A-Za-z0-9._-]{0,99}$`)

// trialCard is a trial in the list.
type trialCard struct{ ID, Name, Question string }

// trialList are the trials of the folder.
func (s *Site) trialList() []trialCard {
	entries, err := fs.ReadDir(s.benches.folder, ".")
	if err != nil {
		return nil // the list of benches has said it
	}
	var out []trialCard
	for _, e := range entries {
		id := strings.TrimSuffix(e.Name(), path.Ext(e.Name()))
		if e.IsDir() || !benchfolder.IsYAML(e.Name()) || !validTrial.MatchString(id) || benchfolder.KindOf(s.benches.folder, e.Name()) != benchfolder.TrialFile {
			continue
		}
		c := trialCard{ID: id, Name: id}
		if source, err := s.readFile(e.Name()); err == nil {
			if t, _, err := trialfile.Read(bytes.NewReader(source)); err == nil && t != nil {
				c.Name, c.Question = t.Name, t.Question
			}
		}
		out = append(out, c)
	}
	return out
}

// most bytes of a table of observations.
const maxTable = 16 << 20

func (s *Site) readFile(name string) ([]byte, error) {
	f, err := s.benches.folder.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxTable))
}

// trialPage shows the findings of a trial.
func (s *Site) trialPage(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	var source []byte
	if validTrial.MatchString(id) {
		for _, ext := range endings {
			if benchfolder.KindOf(s.benches.folder, id+ext) == benchfolder.TrialFile {
				source, _ = s.readFile(id + ext)
			}
		}
	}
	if source == nil {
		s.fail(w, http.StatusNotFound, "There is no trial of this name in the folder.", "The trials are listed on the first page.")
		return
	}
	t, problems, err := trialfile.Read(bytes.NewReader(source))
	if err != nil || t == nil {
		text := problems.Render(id+".yaml", source, false)
		if err != nil {
			text = err.Error()
		}
		s.page(w, http.StatusUnprocessableEntity, "broken.tmpl", struct{ Title, Problems string }{id, text})
		return
	}
	section, err := s.findings(t)
	if err != nil {
		s.fail(w, http.StatusUnprocessableEntity, "The trial tells nothing yet: "+err.Error()+".", "underlamp trial record enters what was seen, and underlamp trial import takes a table in.")
		return
	}
	s.page(w, http.StatusOK, "trial.tmpl", struct {
		Title, Note, Bench string
		Findings, Cautions template.HTML
	}{t.Name, t.Note, strings.TrimSuffix(t.Bench, path.Ext(t.Bench)), section, report.Cautions()})
}

func (s *Site) findings(t *underlamp.Trial) (template.HTML, error) {
	if t.Table == "" || !fs.ValidPath(t.Table) {
		return "", fmt.Errorf("the trial file names no table beside it")
	}
	raw, err := s.readFile(t.Table)
	if err != nil {
		return "", fmt.Errorf("there is no table %s yet", t.Table)
	}
	all, err := trialtable.Read(raw)
	if err != nil {
		return "", fmt.Errorf("%s: %w", t.Table, err)
	}
	standing := trialtable.Standing(all)
	var terms trial.Terms
	var doubt string
	if t.Bench != "" {
		b, err := benchfolder.Bench(s.benches.folder, t.Bench)
		if err == nil {
			terms, err = trial.TermsOf(b)
		}
		if err != nil {
			doubt = fmt.Sprintf("Electricity and prices of the bench cannot be taken: %v.", err)
		}
	}
	f, err := trial.FindPriced(t, standing, terms, nil)
	if err != nil {
		return "", err
	}
	f.Notes = append(f.Notes, trialtable.Doubts(standing)...)
	if doubt != "" {
		f.Notes = append(f.Notes, doubt)
	}
	return report.FindingsSection(f), nil
}
